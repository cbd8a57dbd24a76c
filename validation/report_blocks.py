"""The report's tables of drawing, tubes, load cases, stress and evidence: text cells with sensible digits."""

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from converters.report import Block, Tile
from converters.report_stills import still, still_words
from converters.words import number, signed
from model.bicycle import Bicycle
from model.frame_model import Measure
from model.layout import FrameLayout
from model.result import Result
from model.statements import label
from model.stress import StressTable
from model.tube_mass import MASS_WORDS, MassTable

from .check import Check

NEGLIGIBLE = 5e-4  # mm or degrees: below it a movement is shown as zero


def words(name: str) -> str:
    return name.replace("_", " ")


def amount(value: float | None) -> str:
    """A measured movement: rounding noise is zero."""
    return "0" if value is not None and abs(value) < NEGLIGIBLE else number(value)


def megapascal(value: float) -> str:
    """A stress: no beam model is good to more digits."""
    return f"{value:.{0 if value >= 100 else 1}f} MPa"


def percent(share: float, digits: int = 0) -> str:
    return f"{100 * share:.{digits}f} %"


# --- drawing and sheet ------------------------------------------------------------------------------------------
def dimension_tables(done: Check) -> list[Block]:
    """Drawing against sheet, what the sheet says twice; the bare geometry where there is nothing to compare."""
    blocks = []
    if done.dimensions:
        blocks.append(Block(
            "Drawing against sheet", ("item", "drawing", "sheet", "difference", "tolerance", "unit", "within"),
            [(label(row.item), number(row.drawing), number(row.sheet), signed(row.difference), f"±{row.tolerance:g}",
              row.unit, _within(row.ok)) for row in done.dimensions],
            ("item", "unit", "within"), [row.ok for row in done.dimensions], _precision_words(done)))
    elif done.reading.model is None:
        blocks.append(_geometry_block(done))
    if done.closure:
        blocks.append(Block(
            "What the sheet says twice", ("item", "stated", "implied by the rest", "difference", "unit", "within"),
            [(label(row.item), number(row.stated), number(row.implied), signed(row.difference), row.unit,
              _within(row.ok)) for row in done.closure],
            ("item", "unit", "within"), [row.ok for row in done.closure]))
    return blocks


def _within(ok: bool | None) -> str:
    return "not stated" if ok is None else "yes" if ok else "no"


def _precision_words(done: Check) -> str:
    if done.reading.view is None:
        return ""
    fine = done.reading.view.precision
    return (f"The drawing fixes trail to ±{max(fine.trail, 0.01):.2f} mm and drop to ±{max(fine.drop, 0.01):.2f} mm by "
            "its own digits and gaps.")


def _geometry_block(done: Check) -> Block:
    d = done.reading.dimensions
    rows = [("trail", d.trail, "mm"), ("bottom bracket drop", d.bb_drop, "mm"), ("fork offset", d.fork_offset, "mm"),
            ("head angle", d.head_angle, "deg"), ("seat angle", d.seat_angle, "deg"), ("stack", d.stack, "mm"),
            ("reach", d.reach, "mm"), ("chainstay", d.chainstay, "mm"), ("head tube", d.head_tube, "mm"),
            ("wheelbase", d.derived()["wheelbase"], "mm"),
            ("effective top tube", d.derived()["effective_top_tube"], "mm")]
    return Block("Geometry", ("item", "value", "unit"), [(n, number(v), u) for n, v, u in rows], ("item", "unit"))


def lines_block(done: Check) -> Block | None:
    """How every line of the drawing was taken; lines left aside for the same reason share a row."""
    view = done.reading.view
    if view is None:
        return None
    rows = [(words(t.member), t.how, t.layer, t.handle or "–") for t in view.labels if t.member]
    aside: dict[tuple[str, str], int] = {}
    for taken in view.labels:
        if not taken.member:
            aside[taken.how, taken.layer] = aside.get((taken.how, taken.layer), 0) + 1
    rows += [("left aside", how, layer, f"{count} lines" if count > 1 else "1 line")
             for (how, layer), count in sorted(aside.items(), key=lambda item: -item[1])[:40]]
    columns = ("taken as", "how", "layer", "entity")
    return Block("How every line was taken", columns, rows, columns)


def tube_table(bicycle: Bicycle, layout: FrameLayout, masses: MassTable,
               drawn: Mapping[str, float | None]) -> Block:
    """The tube set with lengths and masses; beside it the outside diameters that the drawing shows."""
    lengths: dict[str, list[float]] = {}
    for member in layout.members:
        lengths.setdefault(member.tube, []).append(member.length)
    shown = any(drawn.get(tube) for tube in lengths)
    rows = []
    for tube, runs in lengths.items():
        t = bicycle.tubes[tube]
        pair = "2 × " if len(runs) > 1 else ""
        butts = "/".join(f"{b:g}" for b in t.butts) or "–"
        rows.append((words(tube), t.label, *((_drawn(drawn.get(tube)),) if shown else ()), butts, t.material.name,
                     pair + number(runs[0]), f"{1000 * masses.by_tube[tube].kg:.0f}"))
    columns = ("tube", "size, mm", *(("drawn, mm",) if shown else ()), "butts, mm", "material", "length, mm", "mass, g")
    total = (f"Frame tubes {1000 * masses.frame.kg:.0f} g, fork tubes {1000 * masses.fork.kg:.0f} g: {MASS_WORDS}.")
    return Block("Tubes", columns, rows, ("tube", "size, mm", "butts, mm", "material"), notes=total)


def _drawn(diameter: float | None) -> str:
    return "–" if diameter is None else f"{diameter:.1f}"


# --- load cases -------------------------------------------------------------------------------------------------
def tiles(done: Check, masses: MassTable | None) -> list[Tile]:
    """The numbers to see first: trail, drop, the first stiffness of every load case, mass."""
    out = []
    if done.reading.model is None:
        d = done.reading.dimensions
        out += [Tile("Trail", f"{number(d.trail)} mm"), Tile("Bottom bracket drop", f"{number(d.bb_drop)} mm")]
    for result in done.analysis.results.values():
        measure = next((m for m in result.case.measures if result.stiffness[m.name] is not None), None)
        if measure is not None:
            out.append(Tile(result.case.title or words(result.case.name),
                            f"{number(result.stiffness[measure.name])} {measure.stiffness_unit}",
                            f"{measure.title or words(measure.name)}, under {load(measure)}"))
    if masses is not None:
        out.append(Tile("Tubes of frame and fork", f"{1000 * (masses.frame.kg + masses.fork.kg):.0f} g",
                        f"frame {1000 * masses.frame.kg:.0f} g, fork {1000 * masses.fork.kg:.0f} g"))
    return out


def load(measure: Measure) -> str:
    """The load a stiffness stands against, with its unit."""
    if measure.reference is None:
        return "–"
    size = abs(measure.reference)
    return f"{number(size)} N" if measure.unit == "mm" else f"{number(size / 1000)} N·m"


def case_block(result: Result, scene: Mapping[str, Any], case: Mapping[str, Any]) -> Block:
    """What moves under a load case and how stiff that is, with a picture of loads, supports and shape."""
    rows = [(m.title or words(m.name), f"{amount(result.measured[m.name])} {m.unit}", load(m),
             _stiffness(result, m)) for m in result.case.measures] or _largest(result)
    source = f" Source of the set-up: {result.case.source}." if result.case.source else ""
    notes = f"Loads and supports: {result.case.notes}.{source}" if result.case.notes else ""
    return Block(result.case.title or words(result.case.name), ("measured", "moves", "under", "stiffness"), rows,
                 ("measured",), notes=notes, figure=still(scene, case), figure_words=still_words(scene, case))


def _largest(result: Result) -> list[tuple[str, str, str, str]]:
    """For a model file without named measures: where it moves most, in the file's own unit."""
    size = np.linalg.norm(result.u[:, :3], axis=1)
    node = list(result.model.nodes)[int(size.argmax())]
    return [(f"largest movement, node {node}", number(float(size.max())), "–", "–")]


def _stiffness(result: Result, m: Measure) -> str:
    value = result.stiffness[m.name]
    return "–" if value is None or abs(result.measured[m.name]) < NEGLIGIBLE else f"{number(value)} {m.stiffness_unit}"


def stress_block(result: Result, table: StressTable) -> Block | None:
    """Peak of every tube in one case, the most used first, the joint caution below."""
    if not table.rows:
        return None
    rows = [(words(row.place.member), megapascal(row.von_mises), row.place.words,
             "–" if row.yield_strength is None else megapascal(row.yield_strength),
             "–" if row.utilisation is None else percent(row.utilisation, 1)) for row in table.rows]
    return Block(result.case.title or words(result.case.name),
                 ("tube", "highest stress", "where", "yield of the material", "of yield"), rows, ("tube", "where"),
                 notes=table.caution)


# --- evidence ---------------------------------------------------------------------------------------------------
def evidence_block(results: Mapping[str, Result]) -> Block:
    """What every solution carries: residual, balances, condition."""
    rows = [(r.case.title or words(name), f"{r.residual:.0e}", f"{r.force_balance:.0e}", f"{r.moment_balance:.0e}",
             f"{r.condition:.0e}") for name, r in results.items()]
    return Block("Each solution against its own equations",
                 ("load case", "residual", "forces in balance", "moments in balance", "condition number"), rows,
                 ("load case",), notes="Residual and balances are relative to the largest load; 1e-8 or less is sound.")


def cross_block(done: Check) -> Block | None:
    """Largest relative differences from OpenSees."""
    if not done.cross:
        return None
    results = done.analysis.results
    rows = [(results[name].case.title or words(name), *_differences(cross)) for name, cross in done.cross.items()]
    return Block("Solved again by OpenSees: same mesh, loads and supports",
                 ("load case", "displacements", "reactions", "end forces", "within 1e-8"), rows,
                 ("load case", "within 1e-8"), [c.ok for c in done.cross.values()],
                 notes="Largest difference, relative to the largest value of its kind in the case.")


def _differences(cross: Any) -> Iterator[str]:
    if cross.reason is not None:
        yield from ("–", "–", "–", f"not compared: {cross.reason}")
        return
    yield from (f"{value:.0e}" for value in (cross.displacements, cross.reactions, cross.end_forces))
    yield "yes" if cross.ok else "no"
