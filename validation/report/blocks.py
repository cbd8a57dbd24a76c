"""The report's tables of drawing, tubes, load cases, stress and evidence: tables and pictures."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from ...converters.drawings.sideview.explain import explain, left_out_summary
from ...converters.drawings.sideview.side_view import SideView
from ...converters.inputs import Reading
from ...converters.showing.choice.held_table import held_table
from ...converters.showing.report.drawing import side_view_figure
from ...converters.showing.report.page import CaseBlock, DrawingPart, Tile
from ...converters.showing.report.rig import rig
from ...converters.showing.report.stills import BuiltFrame, still, still_words
from ...converters.showing.table import Column, Kind, Row, Table
from ...converters.showing.tables.frame import GRAMS, closure_table, mass_words
from ...converters.showing.tables.results import (
    case_title,
    measure_title,
    ride_table,
    said_load,
    stiffness_table,
    stress_rows,
)
from ...converters.showing.words import DASH, number
from ...model.choice.held import Held
from ...model.frame.bicycle import Bicycle
from ...model.frame.layout import FrameLayout
from ...model.frame.tube_mass import MASS_WORDS, MassTable
from ...model.geometry.closure import ClosureRow
from ...model.geometry.dimensions import FrameDimensions
from ...model.geometry.statements import label, unit
from ...model.mechanics.result import Result
from ...model.postprocess.stress import StressTable
from ...model.words import spoken
from ..check import Check
from ..drawing_check import DimensionRow
from ..tables import cross_table, dimension_table


# --- drawing and sheet ------------------------------------------------------------------------------------------
def drawing_part(
    reading: Reading, dimensions: Sequence[DimensionRow] = (), closure: Sequence[ClosureRow] = ()
) -> DrawingPart | None:
    """The side view with its tables; None for a model file."""
    # A model file has no side view.
    if reading.model is not None:
        return None
    figure = side_view_figure(reading.dimensions, reading.view, reading.bicycle)
    # With a sheet the comparison says the drawing's geometry too.
    if dimensions:
        # How finely the drawing was drawn stands beside what is judged by it.
        tables = [replace(dimension_table(dimensions), notes=_precision_words(reading.view))]
    else:
        tables = [_geometry(reading.dimensions, reading.view)]
    if closure:
        tables.append(closure_table(closure))
    if reading.view is None:
        lines = None
    else:
        lines = _lines(reading.view)
    return DrawingPart(figure, reading.view is not None, tables, lines)


def _precision_words(view: SideView | None) -> str:
    if view is None:
        return ""
    fine = view.precision
    # Below a hundredth of a mm the figure would claim more than is printed.
    return (
        f"The drawing fixes trail to ±{max(fine.trail, 0.01):.2f} mm and drop to ±{max(fine.drop, 0.01):.2f} mm by "
        "its own digits and gaps."
    )


def _geometry(d: FrameDimensions, view: SideView | None) -> Table:
    derived = d.derived()
    rows = [
        ("trail", d.trail),
        ("bb_drop", d.bb_drop),
        ("fork_offset", d.fork_offset),
        ("head_angle", d.head_angle),
        ("seat_angle", d.seat_angle),
        ("stack", d.stack),
        ("reach", d.reach),
        ("chainstay", d.chainstay),
        ("head_tube", d.head_tube),
        ("axle_to_crown_straight", derived["axle_to_crown_straight"]),
        ("wheelbase", derived["wheelbase"]),
        ("effective_top_tube", derived["effective_top_tube"]),
        ("bb_height", derived["bb_height"]),
    ]
    columns = (
        Column("item", "item"),
        Column("value", "value", Kind.NUMBER),
        Column("unit", "unit"),
    )
    said = [(label(name), value, unit(name)) for name, value in rows]
    return Table("geometry", "Geometry", columns, said, _precision_words(view))


def _lines(view: SideView) -> Table:
    """How every line of the drawing was taken; lines left out for the same reason share a row."""
    rows = [
        (row.taken_as, row.how, row.kind, row.layer, row.handle or DASH)
        for row in explain(view)
        if row.taken_as != "left out"
    ]
    rows += [
        ("left out", how, "", "", f"{count} line{'s' if count > 1 else ''}")
        for how, count in left_out_summary(view)
    ]
    heads = ("taken as", "how", "drawn as", "layer", "entity")
    columns = [Column(head.replace(" ", "_"), head, missing="") for head in heads]
    return Table("lines", "How every line was taken", columns, rows)


def tube_table(
    bicycle: Bicycle, layout: FrameLayout, masses: MassTable, drawn: Mapping[str, float | None]
) -> Table:
    """The tube set with lengths and masses; beside it the outside diameters that the drawing shows."""
    lengths: dict[str, list[float]] = {}
    # Both members of a pair stand under their one tube.
    for member in layout.members:
        lengths.setdefault(member.tube, []).append(member.length)
    rows: list[Row] = []
    for tube, runs in lengths.items():
        t = bicycle.tubes[tube]
        butts = "/".join(f"{b:g}" for b in t.butts)
        grams = GRAMS * masses.by_tube[tube].kg
        shown = drawn.get(tube)
        # The two pieces of a pair are alike: the first speaks for both.
        rows.append(
            (spoken(tube), t.label, shown, butts, t.material.name, len(runs), runs[0], grams)
        )
    columns: Sequence[Column] = _TUBES
    if not any(drawn.get(tube) for tube in lengths):
        # nothing was drawn: a column of dashes says nothing
        columns = tuple(replace(c, files_only=c.key == "drawn") for c in _TUBES)
    total = f"Tubes of {mass_words(masses)}: {MASS_WORDS}."
    return Table("tubes", "Tubes", columns, rows, total)


_TUBES = (
    Column("tube", "tube"),
    Column("size", "size", unit="mm"),
    Column("drawn", "drawn", Kind.NUMBER, "mm", digits=1),
    Column("butts", "butts", unit="mm"),
    Column("material", "material"),
    Column("pieces", "pieces", Kind.NUMBER, digits=0),
    Column("length", "length of one", Kind.NUMBER, "mm", digits=1),
    Column("mass", "mass", Kind.NUMBER, "g", digits=0),
)


# --- load cases -------------------------------------------------------------------------------------------------
def tiles(done: Check, masses: MassTable | None) -> list[Tile]:
    """The numbers to see first: trail, drop, the first stiffness of every load case, mass."""
    out = []
    if done.reading.model is None:
        d = done.reading.dimensions
        wanted = {row.item: row.sheet for row in done.dimensions if row.sheet is not None}
        for item in ("trail", "bb_drop"):
            note = ""
            if item in wanted:
                note = f"wanted {wanted[item]:.2f}"
            out.append(Tile(label(item).capitalize(), f"{getattr(d, item):.2f} mm", note))
    for result in done.analysis.results.values():
        measure = result.leading
        if measure is not None:
            out.append(
                Tile(
                    case_title(result),
                    f"{number(result.stiffness[measure.name])} {measure.stiffness_unit}",
                    f"{measure_title(measure)}, under {said_load(measure)}",
                )
            )
    if masses is not None:
        together = f"{GRAMS * (masses.frame.kg + masses.fork.kg):.0f} g"
        out.append(Tile("Tubes of frame and fork", together, mass_words(masses)))
    return out


def case_block(
    result: Result,
    frame: BuiltFrame,
    case: Mapping[str, Any],
    held: Held | None = None,
    units: bool = True,
) -> CaseBlock:
    """What moves under a load case and how stiff that is, with a picture of the shape and one of the rig.

    units : False for a file in any consistent set.
    """
    other_ways = None
    if held is not None:
        other_ways = held_table(held)
    return CaseBlock(
        stiffness_table(result),
        still(frame.scene, case, built_frame=frame),
        still_words(case),
        rig(result.model, result.case, frame.scene, frame, units),
        other_ways,
    )


def ride_tables(results: Mapping[str, Result], layout: FrameLayout | None) -> list[Table]:
    """What the seated rider feels give, where he sits in one of the cases."""
    # What the rider feels is worked out for the seated rider alone.
    if layout is None or "seated" not in results:
        return []
    return [ride_table(results["seated"], layout)]


def stress_tables(solved: Iterable[tuple[Result, StressTable]], units: bool) -> list[Table]:
    """Peak of every tube in each case; none where no wall is known."""
    return [
        replace(stress_rows(result, stress, units), title=case_title(result))
        for result, stress in solved
        if stress.rows
    ]


def cross_tables(done: Check) -> list[Table]:
    """Largest relative differences from OpenSees, where it was there."""
    # Why there was no second solver stands in the headline.
    if not done.cross:
        return []
    titles = {name: case_title(done.analysis.results[name]) for name in done.cross}
    return [cross_table(done.cross, titles)]
