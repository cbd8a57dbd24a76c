"""The report's tables for choosing tubes: what 10 g buy on each tube, and variants beside the reference."""

from collections.abc import Sequence

from ...converters.showing.choice.compare_table import tables
from ...converters.showing.report.page import PageBlock
from ...converters.showing.words import number, signed
from ...model.choice.compare import Comparison
from ...model.choice.workshop_rules import Rules, new_faults
from ...model.findings import Finding
from ...model.mechanics.result import Result
from ...model.postprocess.sensitivity import Sensitivity, ranking
from ...model.words import spoken
from .blocks import load

BEST = 6  # rows of a ranking


def ranking_block(result: Result, rows: Sequence[Sensitivity]) -> PageBlock | None:
    """The best uses of weight for the first stiffness of a case; None where the case measures no stiffness."""
    measure = next((m for m in result.case.measures if result.stiffness[m.name] is not None), None)
    if measure is None:
        return None
    best = ranking(rows, result.case.name, measure.name)[:BEST]
    if not best:
        return None
    cells = [(*_more(row), f"{signed(row.percent_per_10g, 2)} %") for row in best]
    return PageBlock(
        f"Best use of weight: {measure.title or spoken(measure.name)}, under {load(measure)}",
        ("change", "stiffness", "mass", "for 10 g"),
        cells,
        ("change",),
    )


def _more(row: Sensitivity) -> tuple[str, str, str]:
    """A workshop step of one size, what it does to the stiffness, what it weighs."""
    if row.parameter == "diameter":
        step = 1.0
    else:
        step = 0.1
    return (
        f"{spoken(row.tube)}, {row.parameter} +{step:g} mm",
        f"{signed(step * row.stiffness_percent_per_mm, 2)} %",
        f"{signed(1000 * step * row.mass_per_mm, 1)} g",
    )


def comparison_blocks(comparison: Comparison) -> list[PageBlock]:
    """The masses, then one table per load case, with what loads and holds each."""
    return [
        PageBlock(
            title,
            heads,
            [[_cell(value) for value in row] for row in rows],
            [head for head in heads if head in ("variant", "changes")],
            notes=note,
        )
        for title, heads, rows, note in tables(comparison)
    ]


def rule_faults(comparison: Comparison) -> list[Finding]:
    """Rules of the workshop that a variant breaks and the bicycle as it stands does not."""
    present = comparison.reference.bicycle
    return [
        fault
        for row in comparison.rows[1:]
        for fault in new_faults(Rules(), present, row.bicycle, row.name)
    ]


def _cell(value: object) -> str:
    if isinstance(value, float) or value is None:
        return number(value)
    return str(value)
