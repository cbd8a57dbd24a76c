"""What the served page shows of a bench: the report's sections, the tube table, what a correction did."""

from collections.abc import Sequence
from typing import Any

from ..converters.showing.report.page import (
    PageBlock,
    ReportFacts,
    render_block,
    render_part,
    render_report,
    render_results,
)
from ..converters.showing.words import number, signed
from ..model.frame.layout import lay_out
from ..model.frame.tube_mass import mass_table
from ..model.mechanics.result import Result
from ..model.words import spoken
from .check import Check
from .report.audit import audit_blocks
from .report.beside import vibrating
from .report.blocks import drawing_part, load
from .report.facts import Beside, gravity, report_facts
from .workbench import Bench, material_names, tube_texts

MODES = 10
_Figure = tuple[str, str, float]  # what, unit, value


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
        "materials": material_names(bicycle),
        "changes": "".join(map(render_block, change_blocks(done, original.check or done))),
    }


def facts_of(bench: Bench, full: bool, audit: tuple[PageBlock, ...] = ()) -> ReportFacts:
    """The facts of a checked bench."""
    assert bench.check is not None
    vibration, plot = vibrating(bench.check, MODES if full else 0)
    return report_facts(bench.check, Beside(vibration, plot, audit=audit))


def report_file(bench: Bench) -> bytes:
    """The self-contained report of a bench, accuracy audit included."""
    assert bench.check is not None
    return render_report(facts_of(bench, True, audit_blocks(bench.check))).encode()


def _drawing_alone(bench: Bench) -> dict[str, str]:
    """What a drawing without a sheet tells: how it was taken, its numbers, and every doubt about them."""
    reading = bench.reading
    found = [finding.as_dict() for finding in sorted(reading.findings, key=gravity)]
    return {
        "verdict": render_part("findings", found),
        "drawing": render_part("drawn", drawing_part(reading)),
    }


def change_blocks(now: Check, before: Check) -> list[PageBlock]:
    """Masses and every stiffness as read and now, with the change in percent; a table for each load case."""
    blocks = [_changes("Mass", _masses(now), _masses(before))]
    for name, result in now.analysis.results.items():
        rows, were = (_stiffnesses(done.analysis.results[name]) for done in (now, before))
        if rows:
            blocks.append(_changes(result.case.title or spoken(name), rows, were))
    return blocks


def _changes(title: str, now: Sequence[_Figure], before: Sequence[_Figure]) -> PageBlock:
    rows = []
    for (what, unit, value), (_, _, was) in zip(now, before, strict=True):
        if was:
            change = f"{signed(100 * (value / was - 1), 1)} %"
        else:
            change = "–"
        rows.append((what, f"{number(was)} {unit}", f"{number(value)} {unit}", change))
    return PageBlock(title, (title, "as read", "now", "change"), rows, (title,))


def _masses(done: Check) -> list[_Figure]:
    masses = mass_table(done.analysis.model, lay_out(done.reading.need_bicycle()))
    return [
        ("frame tubes", "g", 1000 * masses.frame.kg),
        ("fork tubes", "g", 1000 * masses.fork.kg),
    ]


def _stiffnesses(result: Result) -> list[_Figure]:
    return [
        (f"{m.title or spoken(m.name)} ({load(m)})", m.stiffness_unit, value)
        for m in result.case.measures
        if (value := result.stiffness[m.name]) is not None
    ]
