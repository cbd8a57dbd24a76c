"""`droptrail check`: drawing against sheet, closure, solve, cross-check, one verdict."""

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..converters.showing.result_json import provenance
from . import show
from .options import case_options, input_argument, json_option, read, reading_options

if TYPE_CHECKING:
    from ..validation.check import Check


@click.command("check")
@input_argument
@reading_options
@case_options
@json_option
def command(source: Path, as_json: bool, names: tuple[str, ...], **how: Any) -> int:
    """Check a DRAWING against its --sheet, solve the frame, cross-check the numbers, give one verdict."""
    from ..validation.check import check

    reading = read(source, **how)
    done = check(reading, names, how["tolerance_mm"], how["tolerance_deg"])
    if as_json:
        show.print_json(check_json(done))
    else:
        _print(done)
    return int(done.verdict == "fail" or show.serious(done.findings))


def check_json(done: "Check") -> dict[str, Any]:
    """The check as one object with stable keys."""
    return {
        "verdict": done.verdict,
        "reasons": list(done.reasons),
        "dimensions": [asdict(row) for row in done.dimensions],
        "closure": [row.as_dict() for row in done.closure],
        "clearances": [asdict(gap) for gap in done.clearances],
        "stiffness": {
            name: {
                m.name: {"value": result.stiffness[m.name], "unit": m.stiffness_unit}
                for m in result.case.measures
            }
            for name, result in done.analysis.results.items()
        },
        "cross_check": {
            name: done.cross[name].largest if name in done.cross else None
            for name in done.analysis.results
        },
        "provenance": provenance(done.reading, done.analysis.model),
        "findings": [finding.as_dict() for finding in done.findings],
        "assumed": list(done.analysis.assumed),
    }


def _print(done: "Check") -> None:
    from ..converters.showing.tables.frame import closure_table, room_table
    from ..validation.tables import cross_table, dimension_table
    from .solve import print_results

    if done.dimensions:
        show.shown(dimension_table(done.dimensions))
    if done.closure:
        show.shown(closure_table(done.closure))
    if done.clearances:
        show.shown(room_table(done.clearances))
    print_results(done.analysis)
    if done.cross:
        show.shown(cross_table(done.cross, {}))
    show.findings(done.findings)
    show.assumed(done.analysis.assumed)
    print(show.CAUTION)
    doubts = sum(finding.severity == "warning" for finding in done.findings)
    but = f", but {doubts} {'warning stands' if doubts == 1 else 'warnings stand'} above: read before you cut"
    print(
        f"\nVerdict: {done.verdict.upper()}{but if doubts else ''}"
        + "".join(f"\n  - {reason}" for reason in done.reasons)
    )
