"""What the served page shows of a bench: the report's sections, the tube table, what a correction did."""

from collections.abc import Sequence
from typing import Any

from ..converters.showing.report.page import (
    ReportFacts,
    render_block,
    render_part,
    render_report,
    render_results,
)
from ..converters.showing.result_json import as_dicts
from ..converters.showing.table import (
    GAP_DIGITS,
    SIDE_VIEW_DIGITS,
    Amount,
    Column,
    Kind,
    Row,
    Table,
)
from ..converters.showing.tables.frame import GRAMS
from ..converters.showing.tables.results import case_title, measure_title, said_load
from ..model.frame.layout import lay_out
from ..model.frame.tube_mass import mass_table
from ..model.geometry.statements import label, quantities, unit
from ..model.mechanics.result import Result
from .check import Check
from .report.audit import audit_blocks
from .report.beside import vibrating, wobbling
from .report.blocks import drawing_part
from .report.facts import Beside, gravity, report_facts
from .workbench import Bench, differences, material_names, tube_texts
from .workbench_knobs import knobs_of

MODES = 10
MOVED = (
    "trail",
    "wheel_flop",
    "bb_drop",
    "stack",
    "reach",
    "wheelbase",
    "front_center",
    "standover",
)
_Figure = tuple[str, Amount]  # what, how much


def page(bench: Bench, original: Bench, full: bool) -> dict[str, Any]:
    """Everything the page needs for one bench; `full` adds vibration to what is shown at once.

    original : the bench as it was read, which changes are held against.
    """
    bicycle = bench.reading.bicycle
    done = bench.check
    if bicycle is None or done is None:
        return {"sections": _drawing_alone(bench), "tubes": None, "source": bench.reading.source}
    facts = facts_of(bench, full)
    return {
        "name": bicycle.name or original.reading.source,
        "source": facts.source,
        "verdict": facts.verdict,
        "sections": render_results(facts),
        "drawing": facts.drawing_data,
        "tubes": tube_texts(bicycle),
        "knobs": as_dicts(knobs_of(bicycle)),
        "sheet": None if original.sheet is None else original.sheet.name,
        "differences": as_dicts(differences(original)),
        "materials": material_names(bicycle),
        "changes": "".join(map(render_block, change_blocks(done, original.check or done))),
    }


def facts_of(
    bench: Bench, full: bool, audit: tuple[Table, ...] = (), printed: bool = False
) -> ReportFacts:
    """The facts of a checked bench. printed : with the pictures that a report has for paper."""
    assert bench.check is not None
    # Modes and other ways to hold take solves of their own; the quick page does without, and they follow behind.
    vibration, plot = vibrating(bench.check, MODES if full else 0)
    return report_facts(
        bench.check,
        Beside(
            vibration,
            plot,
            audit=audit,
            wobble=wobbling(bench.check, full),
            held=full,
            printed=printed,
        ),
    )


def report_file(bench: Bench) -> bytes:
    """The self-contained report of a bench, accuracy audit included."""
    assert bench.check is not None
    return render_report(facts_of(bench, True, audit_blocks(bench.check), printed=True)).encode()


def _drawing_alone(bench: Bench) -> dict[str, str]:
    """What a drawing without a sheet tells: how it was taken, its numbers, and every doubt about them."""
    reading = bench.reading
    found = [finding.as_dict() for finding in sorted(reading.findings, key=gravity)]
    return {
        "verdict": render_part("findings", found),
        "drawing": render_part("drawn", drawing_part(reading)),
    }


def change_blocks(now: Check, before: Check) -> list[Table]:
    """Side view, masses and every stiffness as read and now, with the change; a table for each load case."""
    blocks = [_changes("Mass", _masses(now), _masses(before), 0)]
    shown = _side_view(now)
    room = _room(now)
    if shown != _side_view(before) or room != _room(before):
        blocks.append(_changes("Side view", shown, _side_view(before), SIDE_VIEW_DIGITS))
        blocks.append(_changes("Room", room, _room(before), GAP_DIGITS))
    for name, result in now.analysis.results.items():
        rows = _stiffnesses(result)
        if rows:
            # Luggage brings a case of its own, but none with a stiffness: these are on both sides.
            were = _stiffnesses(before.analysis.results[name])
            blocks.append(_changes(case_title(result), rows, were))
    return blocks


def _changes(
    title: str, now: Sequence[_Figure], before: Sequence[_Figure], digits: int | None = None
) -> Table:
    columns = (
        Column("figure", title),
        Column("before", "as read", Kind.NUMBER, digits=digits, varying=True),
        Column("now", "now", Kind.NUMBER, digits=digits, varying=True),
        Column("change", "change", Kind.PERCENT, digits=1, signed=True),
    )
    rows: list[Row] = []
    for (what, value), (_, was) in zip(now, before, strict=True):
        change = None
        # Nothing before, or 0: no percents of that.
        if was.value and value.value is not None:
            change = value.value / was.value - 1
        rows.append((what, was, value, change))
    return Table("changes", title, columns, rows)


def _side_view(done: Check) -> list[_Figure]:
    """What a builder asks of the side view."""
    held = quantities(done.reading.need_bicycle().dimensions)
    return [(label(name), Amount(held[name], unit(name))) for name in MOVED]


def _room(done: Check) -> list[_Figure]:
    """The smallest room for a tyre and for the foot."""
    return [(gap.name, Amount(gap.gap, "mm")) for gap in done.clearances]


def _masses(done: Check) -> list[_Figure]:
    masses = mass_table(done.analysis.model, lay_out(done.reading.need_bicycle()))
    return [
        ("frame tubes", Amount(GRAMS * masses.frame.kg, "g")),
        ("fork tubes", Amount(GRAMS * masses.fork.kg, "g")),
    ]


def _stiffnesses(result: Result) -> list[_Figure]:
    return [
        (
            f"{measure_title(m)} ({said_load(m)})",
            Amount(result.stiffness[m.name], m.stiffness_unit),
        )
        for m in result.case.measures
        if m.reference is not None
    ]
