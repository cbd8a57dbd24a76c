"""Tables that stand in the terminal, in the report and in the spreadsheets alike: built once, numbers still numbers."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from math import isfinite
from typing import Any

from ..converters.showing.tables import Cell, Table
from ..converters.showing.words import DASH, signed
from ..model.decide import first_largest, settled
from ..model.geometry.statements import label
from ..model.vibration.cadence import FrequencyGap, Pedalled
from .audit import FigureAudit
from .drawing_check import DimensionRow
from .opensees.agreement import CrossCheck

ORDERLY = (
    0.05  # percent of mesh error below which rounding and mixed signs hide the order of convergence
)
SWING_CAUTION = (
    "Swings are for comparing frames, not for looking up: the rider is dead weight here, a real one gives "
    "with arms and legs, and the damping is assumed. At half the damping a resonance is twice as high."
)


_PRESENTED: Mapping[str, Callable[[Any], str]] = {
    **dict.fromkeys(("drawing", "sheet", "stated", "implied by the rest"), "{:.2f}".format),
    "difference": signed,
    "tolerance": "{:g}".format,
    **dict.fromkeys(("displacements", "reactions", "end forces"), "{:.0e}".format),
    **dict.fromkeys(("largest swing mm", "times the slow push"), "{:.1f}".format),
}


def presented(table: Table) -> list[list[Cell]]:
    """Rows to be read: as many digits as each kind of number deserves, differences with their sign."""
    return [
        [
            cell if (shown := _PRESENTED.get(head)) is None or cell is None else shown(cell)
            for head, cell in zip(table.heads, row, strict=True)
        ]
        for row in table.rows
    ]


# --- geometry -----------------------------------------------------------------------------------------------------
def dimension_table(rows: Iterable[DimensionRow]) -> Table:
    """The drawing against its sheet."""
    return Table(
        "drawing against sheet",
        ("item", "drawing", "sheet", "difference", "tolerance", "unit", "within"),
        [
            (label(r.item), r.drawing, r.sheet, r.difference, r.tolerance, r.unit, r.ok)
            for r in rows
        ],
    )


# --- evidence -----------------------------------------------------------------------------------------------------
def cross_table(cross: Mapping[str, CrossCheck], titles: Mapping[str, str]) -> Table:
    """Largest relative differences from the second solver; of a case not compared, why. titles : case -> its title."""
    heads = ("load case", "displacements", "reactions", "end forces", "within 1e-8")
    return Table(
        "second solver",
        heads,
        [(titles.get(name, name), *_differences(c)) for name, c in cross.items()],
    )


def _differences(cross: CrossCheck) -> Sequence[Cell]:
    if cross.reason is not None:
        return None, None, None, f"not compared: {cross.reason}"
    return cross.displacements, cross.reactions, cross.end_forces, cross.ok


def mesh_words(row: FigureAudit) -> str:
    """The mesh's error bar in percent."""
    if row.mesh_error < 0.001:
        return "<0.001"
    return f"{row.mesh_error:.3f}"


def order_words(row: FigureAudit) -> str:
    """The observed order of convergence; a dash where the error is too small to tell one."""
    if row.mesh_error < 1e-6:
        return "exact"
    if row.order is None or row.mesh_error < ORDERLY:
        return DASH
    return f"{row.order:.1f}"


# --- vibration ----------------------------------------------------------------------------------------------------
def nearest_pushes(gaps: Iterable[FrequencyGap]) -> dict[int, FrequencyGap]:
    """Mode number -> the gap to the push of pedalling it is nearest to."""
    return {gap.mode: gap for gap in sorted(gaps, key=lambda gap: -settled(abs(gap.percent)))}


def gap_words(gap: FrequencyGap | None) -> tuple[str, str]:
    """Which push, and how far from it."""
    if gap is None:
        return DASH, DASH
    push = f"{gap.push}, {gap.order} per turn"
    if gap.percent:
        return (push, f"{gap.percent:+.0f} %")
    return (f"{push}, at {gap.meets_rpm:.0f} rpm", "meets it")


def response_table(moved: Pedalled) -> Table:
    """Largest motion over the cadence range, and how much larger than under a slow push."""
    rows: list[Sequence[Cell]] = []
    for place, amplitude in moved.amplitude.items():
        for axis, way in ((1, "up and down"), (2, "sideways")):
            worst = int(first_largest(amplitude[:, axis]))
            more = float(moved.amplification[place][worst, axis])
            rows.append(
                (
                    f"{place}, {way}",
                    float(amplitude[worst, axis]),
                    round(float(moved.cadences[worst])),
                    more if isfinite(more) else None,
                )
            )
    return Table(
        "steady pedalling", ("place", "largest swing mm", "at rpm", "times the slow push"), rows
    )
