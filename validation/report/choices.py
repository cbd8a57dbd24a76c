"""The report's tables for choosing tubes: what 10 g buy on each tube, and variants beside the reference."""

from collections.abc import Sequence

from ...converters.showing.table import Column, Kind, Row, Table
from ...converters.showing.tables.results import measure_title, said_load
from ...model.choice.compare import Comparison
from ...model.choice.variant_faults import variant_faults
from ...model.choice.workshop_rules import Rules
from ...model.findings import Finding
from ...model.mechanics.result import Result
from ...model.postprocess.sensitivity import Sensitivity, ranking
from ...model.words import spoken

BEST = 6  # rows of a ranking


def ranking_block(result: Result, rows: Sequence[Sensitivity]) -> Table | None:
    """The best uses of weight for the first stiffness of a case; None where the case measures no stiffness."""
    measure = result.leading
    if measure is None:
        return None
    best = ranking(rows, result.case.name, measure.name)[:BEST]
    if not best:
        return None
    title = f"Best use of weight: {measure_title(measure)}, under {said_load(measure)}"
    return Table("best use of weight", title, _RANKING, [_step(row) for row in best])


_RANKING = (
    Column("change", "change"),
    Column("stiffness", "stiffness", Kind.NUMBER, "%", digits=2, signed=True),
    Column("mass", "mass", Kind.NUMBER, "g", digits=1, signed=True),
    Column("for_10_g", "for 10 g", Kind.NUMBER, "%", digits=2, signed=True),
)


def _step(row: Sensitivity) -> Row:
    """A workshop step of one size, what it does to the stiffness, what it weighs, what 10 g of it buy."""
    if row.parameter == "diameter":
        # Steps that a builder can buy: a mm of diameter, a tenth of a mm of wall.
        step = 1.0
    else:
        step = 0.1
    return (
        f"{spoken(row.tube)}, {row.parameter} +{step:g} mm",
        step * row.stiffness_percent_per_mm,
        1000 * step * row.mass_per_mm,
        row.percent_per_10g,
    )


def rule_faults(comparison: Comparison) -> list[Finding]:
    """Rules of the workshop and gaps that a variant breaks and the bicycle as it stands does not."""
    # Row 0 is the bicycle as it stands: its faults are told elsewhere.
    rows = [(row.name, row.bicycle) for row in comparison.rows[1:]]
    return variant_faults(Rules(), comparison.reference.bicycle, rows)
