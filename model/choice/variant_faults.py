"""What variants bring that the bicycle as it stands does not have: faults of the bench, slips, gaps too small.

Many variants share one fault, such as the top tube that is wider than its seat tube: it is told once, with their names.
"""

from collections.abc import Sequence
from dataclasses import replace

from ..errors import FrameError
from ..findings import Finding
from ..frame.bicycle import Bicycle
from ..frame.clearance import clearances
from .workshop_rules import Rules, faults_and_slips

NAMED = 3  # variants that are told of one fault; of more, how many


def variant_faults(
    rules: Rules, present: Bicycle, variants: Sequence[tuple[str, Bicycle]]
) -> list[Finding]:
    """Faults, slips and gaps that the present bicycle does not have already, each once with its variants' names.

    variants : name and bicycle of each.
    """
    told: dict[Finding, list[str]] = {}
    old = {(fault.code, fault.where) for fault in _faults(rules, present)}
    for name, bicycle in variants:
        for fault in _faults(rules, bicycle):
            # what the builder has already is his choice; only what the variant brings is news
            if (fault.code, fault.where) not in old:
                told.setdefault(fault, []).append(name)
    return [_named(fault, names) for fault, names in told.items()]


def _faults(rules: Rules, bicycle: Bicycle) -> list[Finding]:
    return [*faults_and_slips(rules, bicycle), *_gaps(bicycle)]


def _gaps(bicycle: Bicycle) -> list[Finding]:
    """Gaps that are too small, each with its name as the place."""
    try:
        room = clearances(bicycle)
    # a variant that cannot be laid out has no room to tell of, and is refused where it is solved
    except FrameError:
        return []
    found = []
    for gap in room:
        fault = gap.finding
        if fault is not None:
            found.append(replace(fault, where=gap.name))
    return found


def _named(fault: Finding, names: Sequence[str]) -> Finding:
    if len(names) == 1:
        message = f"{names[0]}: {fault.message}"
    else:
        first = "; ".join(names[:NAMED])
        more = f"; and {len(names) - NAMED} more" if len(names) > NAMED else ""
        message = f"{len(names)} variants ({first}{more}): {fault.message}"
    return replace(fault, message=message)
