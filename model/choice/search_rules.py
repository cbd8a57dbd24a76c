"""Workshop rules applied to a grid of options: what is dropped at once, and which pairs exclude one another."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..errors import FrameError, ModelError
from ..findings import Finding
from ..frame.bicycle import Bicycle
from ..frame.layout import lay_out
from ..tubes.tube import Tube
from .workshop_rules import Depths, Rules, mitre_depths, pair_faults, paired, tube_faults

Choices = Mapping[str, tuple[Tube, ...]]


@dataclass(frozen=True, eq=False)
class Allowed:
    """The options that are left. dropped : one finding per option taken out, with the reason.

    excluded : (tube, neighbour) -> (options, neighbour's options) true where the two do not go together.
    """

    choices: Choices
    dropped: tuple[Finding, ...]
    excluded: Mapping[tuple[str, str], np.ndarray]


def apply_rules(
    bicycle: Bicycle, choices: Mapping[str, Sequence[Tube]], rules: Rules | None
) -> Allowed:
    """Drop options that break a rule by themselves or against a tube that is not varied; find excluding pairs.

    Options whose butts do not fit the tube's length are always dropped. `rules` None: only that.

    Raises
    ------
    ModelError
        When a tube keeps no option; the message gives the reasons.
    """
    # An option named twice would be counted and listed twice.
    fitting = {tube: tuple(dict.fromkeys(tubes)) for tube, tubes in choices.items()}
    dropped: list[Finding] = []
    for tube, tubes in fitting.items():
        short = [_too_short(bicycle, tube, option) for option in tubes]
        fitting[tube] = _kept(tube, tubes, dropped, short)
    if rules is None:
        return Allowed(fitting, tuple(dropped), {})
    # First what a tube breaks by itself: fewer options are then held against one another.
    for tube, tubes in fitting.items():
        own_faults = [tube_faults(rules, bicycle.plan.role(tube), option) for option in tubes]
        fitting[tube] = _kept(tube, tubes, dropped, own_faults)
    pairs = _Pairs(bicycle, rules)
    for a, b in paired(bicycle):
        for tube, fixed in ((a, b), (b, a)):
            # Against a neighbour that stays as it is, an option is either in or out.
            if tube in fitting and fixed not in fitting:
                faults = [pairs.faults(a, b, {tube: option}) for option in fitting[tube]]
                fitting[tube] = _kept(tube, fitting[tube], dropped, faults)
    excluded = {}
    for a, b in paired(bicycle):
        if a in fitting and b in fitting:
            together = pairs.matrix(a, b, fitting)
            # A pair of tubes that always goes together is not a limit.
            if together.any():
                excluded[a, b] = together
    return Allowed(fitting, tuple(dropped), excluded)


def _kept(
    tube: str,
    options: tuple[Tube, ...],
    dropped: list[Finding],
    faults: Sequence[Sequence[Finding]],
) -> tuple[Tube, ...]:
    """Options without a fault; the first fault of each other one is noted."""
    # One reason is enough to leave an option out.
    reasons = [found[0] for found in faults if found]
    dropped += reasons
    kept = tuple(option for option, found in zip(options, faults, strict=True) if not found)
    if options and not kept:
        raise ModelError(
            f"{tube.replace('_', ' ')}: no option is left. {reasons[0].message}"
            + (f" (and {len(reasons) - 1} more)" if len(reasons) > 1 else "")
        )
    return kept


def _too_short(bicycle: Bicycle, name: str, tube: Tube) -> list[Finding]:
    """A finding when the butts of an option do not fit the tube's length."""
    for member in lay_out(bicycle).members:
        if member.tube == name:
            try:
                tube.wall_profile(member.length)
            except FrameError as error:
                return [
                    Finding(
                        "option-too-short", "warning", f"{name.replace('_', ' ')}: {error}", name
                    )
                ]
    return []


class _Pairs:
    """Faults of two tubes against one another; mitres are worked out once per pair of sizes."""

    def __init__(self, bicycle: Bicycle, rules: Rules) -> None:
        self.bicycle = bicycle
        self.rules = rules
        self.depths: dict[tuple[object, ...], Depths] = {}

    def faults(self, name: str, neighbour: str, tubes: Mapping[str, Tube]) -> list[Finding]:
        bicycle = replace(self.bicycle, tubes={**self.bicycle.tubes, **tubes})
        # Mitres depend on outside sizes only; walls and materials share them.
        sizes = tuple(
            (name, t.od_start, t.od_end, t.oval_width, t.width_end, t.straight, t.corner)
            for name, t in bicycle.tubes.items()
        )
        if sizes not in self.depths:
            self.depths[sizes] = mitre_depths(bicycle)
        return pair_faults(self.rules, bicycle, name, neighbour, self.depths[sizes])

    def matrix(self, name: str, neighbour: str, choices: Choices) -> np.ndarray:
        out = np.zeros((len(choices[name]), len(choices[neighbour])), dtype=bool)
        for row, a in enumerate(choices[name]):
            for column, b in enumerate(choices[neighbour]):
                out[row, column] = bool(self.faults(name, neighbour, {name: a, neighbour: b}))
        return out
