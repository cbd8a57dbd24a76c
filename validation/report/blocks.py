"""The report's tables of drawing, tubes, load cases, stress and evidence: text cells with sensible digits."""

from collections.abc import Mapping, Sequence
from typing import Any

from ...converters.drawings.sideview.explain import explain, left_out_summary
from ...converters.drawings.sideview.recognise import SideView
from ...converters.inputs import Reading
from ...converters.showing.frame_tables import closure_table
from ...converters.showing.report.drawing import side_view_figure
from ...converters.showing.report.page import DrawingPart, PageBlock, Tile
from ...converters.showing.report.stills import still, still_words
from ...converters.showing.tables import Cell, Table
from ...converters.showing.words import DASH, load_words, number
from ...model.frame.bicycle import Bicycle
from ...model.frame.clearance import Clearance
from ...model.frame.layout import FrameLayout
from ...model.frame.tube_mass import MASS_WORDS, MassTable
from ...model.geometry.closure import ClosureRow
from ...model.geometry.dimensions import FrameDimensions
from ...model.geometry.statements import label, unit
from ...model.mechanics.frame_model import Measure
from ...model.mechanics.result import Result
from ...model.postprocess.ride_feel import ride_feel
from ...model.postprocess.stress import StressTable
from ...model.words import spoken
from ..check import Check
from ..drawing_check import DimensionRow
from ..tables import cross_table, dimension_table, presented

NEGLIGIBLE = 5e-4  # mm or degrees: below it a movement is shown as zero


def amount(value: float | None) -> str:
    """A measured movement: rounding noise is zero."""
    if value is not None and abs(value) < NEGLIGIBLE:
        return "0"
    return number(value)


def stress_words(value: float | None, units: bool) -> str:
    """A stress: no beam model is good to more digits; a model file's unit is not known."""
    if value is None:
        return DASH
    return f"{value:.{0 if value >= 100 else 1}f} {'MPa' if units else ''}".rstrip()


def percent(share: float, digits: int = 0) -> str:
    return f"{100 * share:.{digits}f} %"


def room_block(room: Sequence[Clearance]) -> PageBlock:
    """Gaps for tyres, steerer and feet."""
    return PageBlock(
        "Room for tyres, steerer and feet",
        ("between", "gap, mm", "wanted, mm", "enough"),
        [
            (
                gap.name,
                f"{gap.gap:.1f}",
                f"{gap.wanted:g}",
                "yes" if gap.enough else "no",
            )
            for gap in room
        ],
        ("between", "enough"),
        [gap.enough or None for gap in room],
        notes="Straight, round stays and blades are taken; a dimple or a bend makes room. The toe gap is not "
        "asked where the foot is held to the pedal.",
    )


def table_block(title: str, table: Table, notes: str = "") -> PageBlock:
    """A table of numbers as the page shows it; a last column that says what is within marks the rows."""
    judged = table.heads[-1].startswith("within")
    marks: Sequence[bool | None]
    if judged:
        marks = [row[-1] if isinstance(row[-1], bool) else None for row in table.rows]
    else:
        marks = ()
    texts = [
        head
        for k, head in enumerate(table.heads)
        if any(isinstance(row[k], str | bool) for row in table.rows)
    ]
    rows = [[_cell(cell) for cell in row] for row in presented(table)]
    if judged:
        rows = [row if row[-1] != DASH else [*row[:-1], "not stated"] for row in rows]
    return PageBlock(title, table.heads, rows, texts, marks, notes)


def _cell(cell: Cell) -> str:
    if isinstance(cell, bool):
        if cell:
            return "yes"
        return "no"
    if cell is None or isinstance(cell, float):
        return number(cell)
    return str(cell)


# --- drawing and sheet ------------------------------------------------------------------------------------------
def drawing_part(
    reading: Reading, dimensions: Sequence[DimensionRow] = (), closure: Sequence[ClosureRow] = ()
) -> DrawingPart | None:
    """The side view with its tables; None for a model file."""
    if reading.model is not None:
        return None
    figure = side_view_figure(reading.dimensions, reading.view, reading.bicycle)
    if dimensions:
        tables = [
            table_block(
                "Drawing against sheet", dimension_table(dimensions), _precision_words(reading.view)
            )
        ]
    else:
        tables = [_geometry(reading.dimensions, reading.view)]
    if closure:
        tables.append(table_block("What the sheet says twice", closure_table(closure)))
    if reading.view is None:
        lines = None
    else:
        lines = _lines(reading.view)
    return DrawingPart(figure, reading.view is not None, tables, lines)


def _precision_words(view: SideView | None) -> str:
    if view is None:
        return ""
    fine = view.precision
    return (
        f"The drawing fixes trail to ±{max(fine.trail, 0.01):.2f} mm and drop to ±{max(fine.drop, 0.01):.2f} mm by "
        "its own digits and gaps."
    )


def _geometry(d: FrameDimensions, view: SideView | None) -> PageBlock:
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
        ("fork_length", d.fork_length),
        ("wheelbase", derived["wheelbase"]),
        ("effective_top_tube", derived["effective_top_tube"]),
        ("bb_height", derived["bb_height"]),
    ]
    return PageBlock(
        "Geometry",
        ("item", "value", "unit"),
        [(label(name), number(value), unit(name)) for name, value in rows],
        ("item", "unit"),
        notes=_precision_words(view),
    )


def _lines(view: SideView) -> PageBlock:
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
    columns = ("taken as", "how", "drawn as", "layer", "entity")
    return PageBlock("How every line was taken", columns, rows, columns)


def tube_table(
    bicycle: Bicycle, layout: FrameLayout, masses: MassTable, drawn: Mapping[str, float | None]
) -> PageBlock:
    """The tube set with lengths and masses; beside it the outside diameters that the drawing shows."""
    lengths: dict[str, list[float]] = {}
    for member in layout.members:
        lengths.setdefault(member.tube, []).append(member.length)
    shown = any(drawn.get(tube) for tube in lengths)
    rows = []
    for tube, runs in lengths.items():
        t = bicycle.tubes[tube]
        if len(runs) > 1:
            pair = "2 × "
        else:
            pair = ""
        butts = "/".join(f"{b:g}" for b in t.butts) or DASH
        rows.append(
            (
                spoken(tube),
                t.label,
                *((_drawn(drawn.get(tube)),) if shown else ()),
                butts,
                t.material.name,
                pair + number(runs[0]),
                f"{1000 * masses.by_tube[tube].kg:.0f}",
            )
        )
    columns = (
        "tube",
        "size, mm",
        *(("drawn, mm",) if shown else ()),
        "butts, mm",
        "material",
        "length, mm",
        "mass, g",
    )
    total = f"Frame tubes {1000 * masses.frame.kg:.0f} g, fork tubes {1000 * masses.fork.kg:.0f} g: {MASS_WORDS}."
    return PageBlock(
        "Tubes", columns, rows, ("tube", "size, mm", "butts, mm", "material"), notes=total
    )


def _drawn(diameter: float | None) -> str:
    if diameter is None:
        return DASH
    return f"{diameter:.1f}"


# --- load cases -------------------------------------------------------------------------------------------------
def tiles(done: Check, masses: MassTable | None) -> list[Tile]:
    """The numbers to see first: trail, drop, the first stiffness of every load case, mass."""
    out = []
    if done.reading.model is None:
        d = done.reading.dimensions
        out += [
            Tile(label("trail").capitalize(), f"{number(d.trail)} mm"),
            Tile(label("bb_drop").capitalize(), f"{number(d.bb_drop)} mm"),
        ]
    for result in done.analysis.results.values():
        measure = next(
            (m for m in result.case.measures if result.stiffness[m.name] is not None), None
        )
        if measure is not None:
            out.append(
                Tile(
                    result.case.title or spoken(result.case.name),
                    f"{number(result.stiffness[measure.name])} {measure.stiffness_unit}",
                    f"{measure.title or spoken(measure.name)}, under {load(measure)}",
                )
            )
    if masses is not None:
        out.append(
            Tile(
                "Tubes of frame and fork",
                f"{1000 * (masses.frame.kg + masses.fork.kg):.0f} g",
                f"frame {1000 * masses.frame.kg:.0f} g, fork {1000 * masses.fork.kg:.0f} g",
            )
        )
    return out


def load(measure: Measure) -> str:
    """The load a stiffness stands against, with its unit."""
    return load_words(measure.reference, measure.unit == "deg")


def case_block(result: Result, scene: Mapping[str, Any], case: Mapping[str, Any]) -> PageBlock:
    """What moves under a load case and how stiff that is, with a picture of loads, supports and shape."""
    rows = [
        (
            m.title or spoken(m.name),
            _stiffness(result, m),
            load(m),
            f"{amount(result.measured[m.name])} {m.unit}",
        )
        for m in result.case.measures
    ] or _largest(result)
    if result.case.source:
        source = f" Source of the set-up: {result.case.source}."
    else:
        source = ""
    if result.case.notes:
        notes = f"Loads and supports: {result.case.notes}.{source}"
    else:
        notes = ""
    return PageBlock(
        result.case.title or spoken(result.case.name),
        ("measured", "stiffness", "under", "moves"),
        rows,
        ("measured",),
        notes=notes,
        figure=still(scene, case),
        figure_words=still_words(case),
    )


def _largest(result: Result) -> list[tuple[str, str, str, str]]:
    """For a model file without named measures: where it moves most, in the file's own unit."""
    node, size = result.largest_movement
    return [(f"largest movement, node {node}", DASH, DASH, number(size))]


def _stiffness(result: Result, m: Measure) -> str:
    value = result.stiffness[m.name]
    if value is None or abs(result.measured[m.name]) < NEGLIGIBLE:
        return DASH
    return f"{number(value)} {m.stiffness_unit}"


def ride_blocks(results: Mapping[str, Result], layout: FrameLayout | None) -> list[PageBlock]:
    """What the seated rider feels give: tyres, wheels, fork, frame, each with its share."""
    if layout is None or "seated" not in results:
        return []
    felt = ride_feel(results["seated"], layout)
    rows = [(give.component, f"{number(give.sink)} mm", percent(give.share)) for give in felt.gives]
    notes = (
        f"Mean sink under {number(felt.weight)} N: {number(felt.total)} mm. The head tube top sinks "
        f"{number(felt.front_end)} mm by fork and frame, each tyre {felt.tyre_sag:g} mm. Values: {felt.notes}."
    )
    return [
        PageBlock(
            "What gives under the rider", ("part", "sinks", "share"), rows, ("part",), notes=notes
        )
    ]


def stress_block(result: Result, table: StressTable, units: bool) -> PageBlock | None:
    """Peak of every tube in one case, the most used first, the joint caution below."""
    if not table.rows:
        return None
    rows = [
        (
            spoken(row.place.member),
            stress_words(row.von_mises, units),
            row.place.words,
            stress_words(row.yield_strength, units),
            DASH if row.utilisation is None else percent(row.utilisation, 1),
        )
        for row in table.rows
    ]
    return PageBlock(
        result.case.title or spoken(result.case.name),
        ("tube", "highest stress", "where", "yield of the material", "of yield"),
        rows,
        ("tube", "where"),
        notes=table.caution,
    )


# --- evidence ---------------------------------------------------------------------------------------------------
def evidence_block(results: Mapping[str, Result]) -> PageBlock:
    """What every solution carries: residual, balances, condition."""
    rows = [
        (
            r.case.title or spoken(name),
            f"{r.residual:.0e}",
            f"{r.force_balance:.0e}",
            f"{r.moment_balance:.0e}",
            f"{r.condition:.0e}",
        )
        for name, r in results.items()
    ]
    return PageBlock(
        "Each solution against its own equations",
        ("load case", "residual", "forces in balance", "moments in balance", "condition number"),
        rows,
        ("load case",),
        notes="Residual and balances are relative to the largest load; 1e-8 or less is sound.",
    )


def cross_block(done: Check) -> PageBlock | None:
    """Largest relative differences from OpenSees."""
    if not done.cross:
        return None
    results = done.analysis.results
    titles = {name: results[name].case.title or spoken(name) for name in done.cross}
    return table_block(
        "Solved again by OpenSees: same mesh, loads and supports",
        cross_table(done.cross, titles),
        "Largest difference, relative to the largest value of its kind in the case.",
    )
