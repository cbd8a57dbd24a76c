"""The report's tables of the accuracy audit: error bars of every figure, and closed forms solved on the spot."""

from ...converters.analysis import case_maker
from ...converters.showing.report.page import PageBlock
from ...converters.showing.words import number, signed
from ...model.errors import FrameError
from ..audit import Audit, audit
from ..check import Check
from ..tables import mesh_words, order_words


def audit_blocks(done: Check) -> tuple[PageBlock, ...]:
    """The audit of the load cases, without the lots, which take longest; says so where it cannot be made."""
    bicycle = done.reading.bicycle
    if bicycle is None or done.reading.model is not None:
        return ()
    try:
        made = audit(
            bicycle,
            case_maker(done.reading, tuple(case.name for case in done.analysis.cases)),
            count=0,
        )
    except FrameError as error:
        return (
            PageBlock(
                "Accuracy audit",
                ("audit", "why"),
                [("could not be made", str(error))],
                ("audit", "why"),
            ),
        )
    titles = {case.name: case.title or case.name for case in done.analysis.cases}
    return _figures(made, titles), _ladder(made)


def _figures(made: Audit, titles: dict[str, str]) -> PageBlock:
    rows = [
        (
            f"{titles[row.case]}: {row.title}",
            f"{number(row.value)} {row.unit}",
            f"±{mesh_words(row)} %",
            order_words(row),
            f"{signed(row.without_shear)} %",
            f"{signed(row.rigid_zones)} %",
            f"±{row.drawing_linear:.2f} %",
        )
        for row in made.figures
    ]
    reciprocity = max(evidence.reciprocity for evidence in made.evidence)
    notes = (
        "Mesh: error bar from halving every element twice (Richardson); order is how fast it falls, a dash where "
        "the error is too small to tell. Without shear and with rigid joints: the change when that assumption is "
        "swapped. Drawing: 95 % of frames drawn and jigged "
        f"within ±0.5 mm and ±0.1 degree lie within this. Reciprocity of loads: to {reciprocity:.0e}."
    )
    return PageBlock(
        "How far each figure could be off",
        ("figure", "value", "mesh", "order", "without shear", "rigid joints", "drawing"),
        rows,
        ("figure",),
        notes=notes,
    )


def _ladder(made: Audit) -> PageBlock:
    rows = [
        (
            rung.name,
            rung.formula,
            f"{number(rung.expected)} {rung.unit}",
            f"{number(rung.got)} {rung.unit}",
            f"{rung.error:.0e}",
            "yes" if rung.ok else "no",
        )
        for rung in made.rungs
    ]
    notes = " ".join(f"{rung.name}: {rung.why}." for rung in made.rungs if rung.why)
    return PageBlock(
        "Closed forms, solved on the spot by the same program",
        ("case", "formula", "expected", "got", "error", "within"),
        rows,
        ("case", "formula", "within"),
        [rung.ok for rung in made.rungs],
        notes,
    )
