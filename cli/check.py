"""`droptrail check`: drawing against sheet, closure, solve, cross-check, one verdict."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from . import show
from .options import case_options, input_argument, json_option, read, reading_options

if TYPE_CHECKING:
    from ..validation.check import Check


@click.command("check")
@input_argument
@reading_options
@case_options
@click.option(
    "--full",
    is_flag=True,
    help="Print every table, load case, note and assumption before the answer.",
)
@json_option
def command(source: Path, as_json: bool, full: bool, names: tuple[str, ...], **how: Any) -> int:
    """Check a DRAWING against its --sheet, solve the frame, cross-check the numbers, give one verdict.

    Prints what needs attention, then the answer in at most eight lines; --full prints the rest before it.
    """
    from ..validation.check import check

    reading = read(source, **how)
    done = check(reading, names, how["tolerance_mm"], how["tolerance_deg"])
    if as_json:
        show.print_json(check_json(done))
    elif full:
        _print_all(done)
    else:
        _print_short(done)
    # nobody's fault when the second solver is missing, yet not the same as a pass: exit code 4
    return show.exit_code(done.findings, done.verdict == "fail", done.not_crossed is None)


def check_json(done: "Check") -> dict[str, Any]:
    """The check as one object with stable keys."""
    from ..converters.showing.result_json import as_dicts, stamped, stiffness_json

    analysis = done.analysis
    stiffness = {name: stiffness_json(result) for name, result in analysis.results.items()}
    # the largest of all kinds of difference, so that one number answers for a case
    largest = {name: cross.largest for name, cross in done.cross.items()}
    # a case that was not compared is null, so that nobody takes it for agreement
    crossed = {name: largest.get(name) for name in analysis.results}
    body = {
        "verdict": done.verdict,
        "reasons": list(done.reasons),
        "dimensions": as_dicts(done.dimensions),
        "closure": [row.as_dict() for row in done.closure],
        "clearances": as_dicts(done.clearances),
        "stiffness": stiffness,
        "cross_check": crossed,
    }
    return stamped(done.reading, body, done.findings, analysis.assumed, analysis.model)


def _print_short(done: "Check") -> None:
    """What differs, and every finding that needs attention; then the answer."""
    from ..validation.tables import dimension_table

    # rows without a counterpart (ok is None) are no difference
    off = [row for row in done.dimensions if row.ok is False]
    if off:
        show.shown(dimension_table(off), "Drawing against sheet: what differs")
    # info asks nothing of the builder; in the short form it would bury what does
    show.findings(finding for finding in done.findings if finding.severity != "info")
    _print_answer(done)


def _print_all(done: "Check") -> None:
    from ..converters.showing.tables.frame import closure_table, room_table, sag_table
    from ..validation.tables import cross_table, dimension_table
    from .solve import print_results

    if done.dimensions:
        show.shown(dimension_table(done.dimensions))
    if done.closure:
        show.shown(closure_table(done.closure))
    if done.clearances:
        show.shown(room_table(done.clearances))
    bicycle = done.reading.bicycle
    if bicycle is not None and bicycle.suspension is not None:
        show.shown(sag_table(bicycle.suspension, bicycle.dimensions))
    print_results(done.analysis)
    if done.cross:
        # no reasons are given here: the answer block says why a case was not crossed
        show.shown(cross_table(done.cross, {}))
    show.findings(done.findings)
    show.assumed(done.analysis.assumed)
    # after the tables, right above the answer, where the eye ends
    if done.reasons:
        print("Why it fails:" + "".join(f"\n  - {reason}" for reason in done.reasons))
    _print_answer(done)


def _print_answer(done: "Check") -> None:
    from ..validation.answer_block import answer_block

    show.caution()
    print()
    for line in answer_block(done, verdict_words(done)):
        print(line)


def verdict_words(done: "Check") -> str:
    """The verdict with what stands beside it: warnings, and a cross-check that was not available."""
    # a missing cross-check is told in its own words below, gaps in those of the answer block
    told = ("no-cross-check", "clearance-small", "clearance-none")
    warnings = [f for f in done.findings if f.severity == "warning" and f.code not in told]
    words = done.verdict.upper()
    if len(warnings) == 1:
        words += ", but 1 warning stands above: read before you cut"
    elif warnings:
        words += f", but {len(warnings)} warnings stand above: read before you cut"
    # stands in the verdict itself: the line that people copy
    if done.not_crossed is not None:
        words += f"; {show.ONLY_UNCROSSED}"
    return words
