"""The report's tables of the accuracy audit: error bars of every figure, and closed forms solved on the spot."""

from ...converters.analysis import case_maker
from ...converters.showing.choice.held_table import held_audit_table
from ...converters.showing.table import Amount, Column, Kind, Row, Table
from ...model.errors import FrameError
from ..audit import Audit, audit
from ..audit_wobble import audit_wobble, wobble_audit_tables
from ..check import Check
from ..tables import joint_table, mesh_words, order_words


def audit_blocks(done: Check) -> tuple[Table, ...]:
    """The audit of the load cases, without the lots, which take longest; says so where it cannot be made."""
    bicycle = done.reading.bicycle
    # A model file has neither a drawing nor tubes to vary.
    if bicycle is None or done.reading.model is not None:
        return ()
    # Without lots, which take longest; the linear spread is shown.
    try:
        made = audit(
            bicycle,
            # By name: every changed bicycle of the audit gets the cases made for it.
            case_maker(done.reading, tuple(case.name for case in done.analysis.cases)),
            count=0,
        )
    except FrameError as error:
        columns = (Column("audit", "audit"), Column("why", "why"))
        return (Table("audit", "Accuracy audit", columns, [("could not be made", str(error))]),)
    titles = {case.name: case.title or case.name for case in done.analysis.cases}
    wobble = audit_wobble(bicycle)
    return (
        _figures(made, titles),
        held_audit_table(made.held),
        joint_table(made),
        *(() if wobble is None else wobble_audit_tables(wobble)),
        _ladder(made),
    )


def _figures(made: Audit, titles: dict[str, str]) -> Table:
    rows: list[Row] = [
        (
            f"{titles[row.case]}: {row.title}",
            Amount(row.value, row.unit),
            mesh_words(row),
            order_words(row),
            row.without_shear,
            row.rigid_zones,
            row.drawing_linear,
        )
        for row in made.figures
    ]
    # The worst of all cases speaks for all.
    reciprocity = max(evidence.reciprocity for evidence in made.evidence)
    notes = (
        "Mesh: error bar from halving every element twice (Richardson); order is how fast it falls, a dash where "
        "the error is too small to tell. Without shear and with rigid joints: the change when that assumption is "
        "swapped. Drawing: 95 % of frames drawn and jigged "
        f"within ±0.5 mm and ±0.1 degree lie within this. Reciprocity of loads: to {reciprocity:.0e}."
    )
    return Table("audit", "How far each figure could be off", _FIGURES, rows, notes)


_FIGURES = (
    Column("figure", "figure"),
    Column("value", "value", Kind.NUMBER, varying=True),
    Column("mesh", "mesh", unit="± %"),
    Column("order", "order"),
    Column("without_shear", "without shear", Kind.NUMBER, "%", digits=2, signed=True),
    Column("rigid_zones", "rigid joints", Kind.NUMBER, "%", digits=2, signed=True),
    Column("drawing", "drawing", Kind.NUMBER, "± %", digits=2),
)
_LADDER = (
    Column("case", "case"),
    Column("formula", "formula"),
    Column("expected", "expected", Kind.NUMBER, varying=True),
    Column("got", "got", Kind.NUMBER, varying=True),
    Column("error", "error", Kind.ERROR),
    Column("within", "within", Kind.VERDICT),
)


def _ladder(made: Audit) -> Table:
    rows: list[Row] = [
        (
            rung.name,
            rung.formula,
            Amount(rung.expected, rung.unit),
            Amount(rung.got, rung.unit),
            rung.error,
            rung.ok,
        )
        for rung in made.rungs
    ]
    notes = " ".join(f"{rung.name}: {rung.why}." for rung in made.rungs if rung.why)
    title = "Closed forms, solved on the spot by the same program"
    return Table("ladder", title, _LADDER, rows, notes)
