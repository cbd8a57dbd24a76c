"""How a sheet comes onto paper: the tests' draughtsman with the entities and habits of CAD programs.

    frame, how, path = finished_sheet(rng, folder)      # everything by lot, written as DXF by ezdxf
    write(sheet, frame, Finish(wheels="donut", tubes="solid"), path, rng)

`Finish` says how wheels and tubes are drawn, what hides, on which grid, what stands there in words.
"""

from dataclasses import dataclass
from math import cos, sin
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
from droptrail.converters.drawings.linework.plane import Vec
from helpers_habits import DrawnFrame, Habit, Item, Sheet, _edges, _go, _unit, draw, tube_ends

SOLIDS = ("solid", "trace", "hatch", "3dface")
TUBES = ("lines", "lines", *SOLIDS, "mline", "wide")
WHEELS = ("circle", "circle", "donut", "ring", "half", "quarter")
HIDES = ("", "", "wipeout", "frozen", "not plotted", "viewport")
SIXTEENTH = 25.4 / 16.0


@dataclass(frozen=True)
class Finish:
    """The defaults are lines and circles, nothing hidden, no words."""

    wheels: str = "circle"
    tubes: str = "lines"
    hides: str = ""
    stretched: float = 0.0  # share by which the sheet's y is too long
    step: float = 0.0  # mm: every point on a grid of this
    wobble: float = 0.0  # mm: traced by hand
    words: str = ""  # true wrong
    inches: bool = False


def random_finish(rng: np.random.Generator) -> Finish:
    def one(choices: tuple[str, ...]) -> str:
        return str(rng.choice(choices))

    return Finish(
        wheels=one(WHEELS),
        tubes=one(TUBES),
        hides=one(HIDES),
        words=one(("", "true")),
        inches=bool(rng.random() < 0.3),
    )


def plain_sheet(frame: DrawnFrame, how: Finish, rng: np.random.Generator) -> Sheet:
    """The frame alone: outlines closed where they will be filled, else centre-lines or outlines."""
    if how.tubes in (*SOLIDS, "mline", "wide"):
        lines = "boxes" if how.tubes in SOLIDS else "centre"
    else:
        lines = str(rng.choice(["centre", "outline"]))
    return draw(frame, Habit(lines=lines), rng)


def write(
    sheet: Sheet, frame: DrawnFrame, how: Finish, path: Path, rng: np.random.Generator
) -> Path:
    """The sheet as a DXF file of this finish."""
    doc = ezdxf.new("R2010", units=1 if how.inches else 4)
    paper = _Paper(doc, frame, how, rng)
    for name in ("TUBES", "WHEELS", "OTHER"):
        doc.layers.add(name)
    if how.hides:
        HIDDEN[how.hides](paper)
    for item in sheet.items:
        paper.draw(item)
    if how.words:
        _words(paper, wrong=how.words == "wrong")
    doc.saveas(path)
    return path


class _Paper:
    """The model space, in the drawing's unit, with the sheet's grid, stretch and wobble."""

    def __init__(self, doc: Any, frame: DrawnFrame, how: Finish, rng: np.random.Generator) -> None:
        self.doc, self.frame, self.how, self.rng = doc, frame, how, rng
        self.space = doc.modelspace()
        self.unit = 25.4 if how.inches else 1.0

    def at(self, p: Vec) -> Vec:
        x, y = p[0], p[1] * (1.0 + self.how.stretched)
        if self.how.step:
            x, y = (round(v / self.how.step) * self.how.step for v in (x, y))
        return (x / self.unit, y / self.unit)

    def size(self, mm: float) -> float:
        step = self.how.step
        return (round(mm / step) * step if step else mm) / self.unit

    def draw(self, item: Item) -> None:
        layer = {"layer": "WHEELS" if item.part.startswith("wheel") else "TUBES"}
        if item.kind == "circle" and item.part.startswith("wheel") and item.radius > 100.0:
            self._wheel(item, layer)
        elif item.kind == "circle":
            self._circle(item, layer)
        elif item.kind == "polyline" and item.closed and self.how.tubes in SOLIDS:
            self._filled([self.at(p) for p in item.points], layer)
        elif item.kind == "line" and self.how.tubes in ("mline", "wide"):
            self._thick(item, layer)
        elif self.how.wobble:
            self._traced(item, layer)
        elif item.kind == "line":
            self.space.add_line(*(self.at(p) for p in item.points), dxfattribs=layer)
        else:
            self.space.add_lwpolyline(
                [self.at(p) for p in item.points], close=item.closed, dxfattribs=layer
            )

    def _circle(self, item: Item, layer: dict[str, str]) -> None:
        centre, radius = self.at(item.points[0]), self.size(item.radius)
        if self.how.stretched:
            self._ellipse(centre, radius, layer)
        else:
            self.space.add_circle(centre, radius, dxfattribs=layer)

    def _ellipse(self, centre: Vec, radius: float, layer: dict[str, str]) -> None:
        more = 1.0 + self.how.stretched
        major = (0.0, radius * more) if more > 1.0 else (radius, 0.0)
        ratio = min(more, 1.0 / more)
        self.space.add_ellipse(centre, major, ratio, dxfattribs=layer)

    def _wheel(self, item: Item, layer: dict[str, str]) -> None:
        centre, r = self.at(item.points[0]), self.size(item.radius)
        how = self.how.wheels
        if self.how.stretched:
            self._ellipse(centre, r, layer)
        elif self.how.wobble:
            self._traced(item, layer)
        elif how == "donut":
            tyre = 32.0 / self.unit
            p, q = (centre[0] - r + tyre / 2, centre[1]), (centre[0] + r - tyre / 2, centre[1])
            self.space.add_lwpolyline(
                [(*p, tyre, tyre, 1.0), (*q, tyre, tyre, 1.0)], close=True, dxfattribs=layer
            )
        elif how == "ring":
            hatch = self.space.add_hatch(color=8, dxfattribs=layer)
            for radius in (r, r - 30.0 / self.unit):
                hatch.paths.add_edge_path().add_arc(centre, radius, 0.0, 360.0)
        elif how in ("half", "quarter"):
            start = float(self.rng.uniform(180.0, 220.0))
            turn = 190.0 if how == "half" else float(self.rng.uniform(62.0, 110.0))
            self.space.add_arc(centre, r, start, start + turn, dxfattribs=layer)
        else:
            self.space.add_circle(centre, r, dxfattribs=layer)

    def _filled(self, corners: list[Vec], layer: dict[str, str]) -> None:
        a, b, c, d = corners
        how = self.how.tubes
        if how == "solid":
            self.space.add_solid([a, b, d, c], dxfattribs=layer)
        elif how == "trace":
            self.space.add_trace([a, b, d, c], dxfattribs=layer)
        elif how == "3dface":
            self.space.add_3dface([a, b, c, d], dxfattribs=layer)
        else:
            hatch = self.space.add_hatch(color=5, dxfattribs=layer)
            hatch.paths.add_polyline_path(corners, is_closed=True)

    def _thick(self, item: Item, layer: dict[str, str]) -> None:
        name = "fork_blade" if item.part == "fork" else item.part
        wide = self.frame.diameters.get(name, 0.0) / self.unit
        ends = [self.at(p) for p in item.points]
        if not wide:
            self.space.add_line(*ends, dxfattribs=layer)
        elif self.how.tubes == "wide":
            self.space.add_lwpolyline([(*p, wide, wide) for p in ends], dxfattribs=layer)
        else:
            self.space.add_mline(
                ends, dxfattribs={**layer, "scale_factor": wide, "justification": 1}
            )

    def _traced(self, item: Item, layer: dict[str, str]) -> None:
        """A vertex each 60 mm, none nearer to the truth than a hand gets."""
        if item.kind == "circle":
            c, r = item.points[0], item.radius
            turns = np.radians(np.arange(0.0, 360.0, 10.0))
            points = [(c[0] + r * cos(t), c[1] + r * sin(t)) for t in turns]
        else:
            p, q = item.points[0], item.points[-1]
            count = max(int(np.hypot(q[0] - p[0], q[1] - p[1]) / 60.0), 1)
            points = [
                _go(p, _unit(p, q), k / count * np.hypot(q[0] - p[0], q[1] - p[1]))
                for k in range(count + 1)
            ]
        by = self.how.wobble
        moved = [
            self.at((p[0] + self.rng.uniform(-by, by), p[1] + self.rng.uniform(-by, by)))
            for p in points
        ]
        self.space.add_lwpolyline(moved, close=item.kind == "circle", dxfattribs=layer)


# --- what hides, and what is hidden -------------------------------------------------------------------------


def _misleading(paper: _Paper, layer: str) -> None:
    """Lines that would spoil the reading: the frame's steering axis and tyres once more, elsewhere."""
    attribs = {"layer": layer}
    d = paper.frame.dimensions
    for axle, radius in ((d.rear_axle, d.wheel_radius_rear), (d.front_axle, d.wheel_radius_front)):
        paper.space.add_circle(paper.at(axle), (radius + 7.0) / paper.unit, dxfattribs=attribs)
    for name in ("head_tube", "seat_tube", "down_tube"):
        p, q = tube_ends(d)[name]
        for edge in _edges(p, q, 70.0):
            paper.space.add_line(*(paper.at(e) for e in edge), dxfattribs=attribs)


def _wipeout(paper: _Paper) -> None:
    """An earlier drawing of another frame, covered; the new one is drawn over the cover."""
    _misleading(paper, "OTHER")
    corners = [paper.at(p) for p in ((-1500.0, -900.0), (1700.0, 1500.0))]
    paper.space.add_wipeout(corners)


def _frozen(paper: _Paper) -> None:
    paper.doc.layers.get("OTHER").freeze()
    _misleading(paper, "OTHER")


def _not_plotted(paper: _Paper) -> None:
    paper.doc.layers.get("OTHER").dxf.plot = 0
    _misleading(paper, "OTHER")


def _in_viewport(paper: _Paper) -> None:
    _misleading(paper, "OTHER")
    sheet = paper.doc.paperspace()
    port = sheet.add_viewport((200, 150), (400, 300), (0, 0), 1800)
    port.frozen_layers = ["OTHER"]


HIDDEN = {
    "wipeout": _wipeout,
    "frozen": _frozen,
    "not plotted": _not_plotted,
    "viewport": _in_viewport,
}


# --- words ---------------------------------------------------------------------------------------------------

SAID = {
    "head_angle": ("HEAD ANGLE {}", "Lenkwinkel: {}°", "Angle de direction = {}"),
    "chainstay": ("CHAINSTAY {}", "Kettenstrebe {} mm", "Vainas: {}"),
    "bb_drop": ("BB DROP {}", "Tretlagerabsenkung {}"),
}


def _words(paper: _Paper, wrong: bool) -> None:
    d = paper.frame.dimensions
    low = d.ground_y - 200.0
    told = str(paper.rng.choice(list(SAID)))
    for k, (name, forms) in enumerate(SAID.items()):
        value = getattr(d, name)
        if wrong and name == told:
            value += 6.0
        inch = paper.unit if "angle" not in name else 1.0
        text = str(paper.rng.choice(forms)).replace(" mm", "").format(f"{value / inch:.2f}")
        paper.space.add_text(
            text, height=20.0 / paper.unit, dxfattribs={"layer": "OTHER"}
        ).set_placement(paper.at((900.0, low - 40.0 * k)))
