"""Random drawings of other plans as strangers write them: their programs' entities, layers in five languages, units,
scales, blocks, real dimensions, filled tubes, whatever parts stand about the frame.

    drawn = strange_sheet("mixte", k)
    drawn.write(folder)                  # folder/mixte_7.dxf and .csv

What stands where is known from helpers_plan_sheets, which puts the tubes; nothing of droptrail's own drawing is used.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
from droptrail.converters.drawings.linework.plane import Vec
from helpers_customs import CUSTOMS, MAKE
from helpers_habits import EXTRAS, LAYERS, Habit, Item, Placed, _edges, place, tube_ends
from helpers_plan_sheets import KINDS, PlanSheet, drawn_by
from helpers_sheets import THINGS, WORDS, _guards

LINES = ("outline", "outline", "centre", "both", "pieces", "polyline")
PARTS = ("rack", "cranks", "bottle", "bars", "saddle", "spokes", "rings", "title", "second_view")
MAKES = ("lines", "lines", "lines", "splines", "broken", "doubled", "polylines")
CURVES = ("polyline", "polyline", "spline", "coarse")
UNITS = {4: 1.0, 1: 1 / 25.4, 5: 0.1, 6: 0.001}
SCALES = (1.0, 1.0, 1.0, 1.0, 0.5, 0.2, 0.1)
# The further tubes' layer, by language of the others.
FURTHER = {
    "en": ("Laterals", "BRACE", "extra tubes", "Frame", "Lower top tube"),
    "de": ("Seitenrohre", "Verstrebung", "Zusatzrohr", "Rahmen", "Unterzug"),
    "fr": ("Tubes latéraux", "Renfort", "cadre"),
    "es": ("Tubos laterales", "Refuerzo", "cuadro"),
    "it": ("Tubi laterali", "Rinforzo", "telaio"),
}
# What is drawn bent or moved is still the tube it is.
OWN = {
    "curved_top_tube": "top_tube", "step_through": "top_tube", "step_through_twin": "top_tube",
    "curved_down_tube": "down_tube", "bent_seatstays": "seatstay", "dropped_chainstays": "chainstay",
    "stays_on_top_tube": "seatstay", "mono_stay": "seatstay", "raised_chainstays": "chainstay",
    "segmented_fork": "fork", "truss_fork": "fork",
}  # fmt: skip


@dataclass(frozen=True)
class Way:
    """How a stranger works: how lines and curves are made, on which layers, in which unit and at which scale, and what
    of a program's own entities stands there. said : whether the file's header names the unit."""

    make: str
    curves: str
    language: str
    unit: int
    said: bool
    scale: float
    turn: float
    mirrored: bool
    block: str
    hatched: bool
    dimensions: bool
    overridden: bool
    things: tuple[str, ...]


@dataclass(frozen=True)
class StrangeSheet(PlanSheet):
    way: Way
    habit: Habit

    def write(self, folder: Path, off: Any = None) -> tuple[Path, Path]:
        name = f"{self.kind}_{self.number}"
        drawing = folder / f"{name}.dxf"
        sheet = folder / f"{name}.csv"
        sheet.write_text(self.csv(off), encoding="utf-8")
        if not drawing.exists():
            _Writer(self).save(drawing)
        return drawing, sheet


def strange_sheet(kind: str, k: int, seed: int = 1) -> StrangeSheet:
    """Drawing number k of a kind."""
    rng = np.random.default_rng([seed, 77, sum(map(ord, kind)), k])
    way = KINDS[kind]
    drawn = None
    while drawn is None:
        habit = Habit(
            lines=str(rng.choice(LINES)),
            fork=str(rng.choice(way.forks)),
            rims=bool(rng.random() < 0.5),
            axle_marks=str(rng.choice(["circle", "cross"])),
            wheels=str(rng.choice(["circle", "circle", "arcs", "spline"])),
            bb_mark=bool(rng.random() < 0.85),
        )
        drawn = drawn_by(way, habit, rng)
    frame, told, sheet = drawn
    clutter = [name for name in PARTS if rng.random() < 0.25]
    for name in clutter:
        (THINGS.get(name) or EXTRAS[name])(sheet, frame, rng)
    if rng.random() < 0.35:
        _guards(sheet, frame, str(rng.choice(["one", "two", "band"])), rng)
        clutter.append("guards")
    for name in CUSTOMS:
        if rng.random() < 0.12:
            CUSTOMS[name](sheet, frame, rng)
            clutter.append(name)
    how = _way(rng, tuple(clutter))
    sheet.items[:] = [made for i in sheet.items for made in MAKE[how.make](i, rng)]
    placed = place(
        sheet,
        turn=how.turn,
        mirrored=how.mirrored,
        scale=UNITS[how.unit] * how.scale,
        offset=(float(rng.uniform(-1e3, 1e3)), float(rng.uniform(-1e3, 1e3))),
        header=how.unit,
    )
    return StrangeSheet(kind, k, frame, told, placed, tuple(clutter), how, habit)


def _way(rng: np.random.Generator, things: tuple[str, ...]) -> Way:
    scale = float(rng.choice(SCALES))
    unit = int(rng.choice([4, 4, 4, 1, 5])) if scale == 1.0 else 4
    return Way(
        make=str(rng.choice(MAKES)),
        curves=str(rng.choice(CURVES)),
        language=str(rng.choice(["zero", "zero", "words", "en", "de", "fr", "es", "it"])),
        unit=unit,
        said=bool(rng.random() < 0.85),
        scale=scale,
        turn=float(rng.choice([0.0, 0.0, 0.0, 0.0, 90.0, rng.uniform(-180.0, 180.0)])),
        mirrored=bool(rng.random() < 0.35),
        block=str(rng.choice(["", "", "all", "frame", "wheels"])),
        hatched=bool(rng.random() < 0.2),
        dimensions=bool(rng.random() < 0.45),
        overridden=bool(rng.random() < 0.3),
        things=things,
    )


class _Writer:
    """One sheet in the entities of a CAD program."""

    def __init__(self, drawn: StrangeSheet) -> None:
        self.drawn = drawn
        self.way = drawn.way
        self.rng = np.random.default_rng([drawn.number, 5])
        self.doc: Any = ezdxf.new("R2010", units=self.way.unit if self.way.said else 0, setup=True)
        self.per_mm = UNITS[self.way.unit] * self.way.scale
        further = FURTHER.get(self.way.language, ("0",))
        self.further = str(self.rng.choice(further))

    def layer(self, item: Item) -> str:
        part = item.part
        if part == "further":
            part = OWN.get(self.drawn.kind, part)
        if self.way.language == "zero":
            return "0"
        if self.way.language == "words":
            return WORDS.get(part, part)
        if part == "further":
            return self.further
        return LAYERS[self.way.language].get(part, WORDS.get(part, part))

    def save(self, path: Path) -> None:
        space = self.doc.modelspace()
        for item in self.drawn.placed.items:
            self.emit(self.target(space, item), item)
        for name in self.blocks:
            space.add_blockref(name, (0, 0))
        for words, at in self.drawn.placed.notes:
            space.add_text(words, height=10 * self.per_mm).set_placement(at)
        if self.way.scale != 1.0:
            n = round(1 / self.way.scale)
            space.add_text(
                f"M 1:{n}" if self.rng.random() < 0.5 else f"Scale 1:{n}", height=8 * self.per_mm
            )
        if self.way.hatched and self.has_circles:
            self.hatches(space)
        if self.way.dimensions and self.has_circles:
            self.dimensions(space)
        self.doc.saveas(path)

    blocks: tuple[str, ...] = ()

    @property
    def has_circles(self) -> bool:
        """Whether the wheels stand there as circles, by which dimensions find their places."""
        found = {i.part for i in self.drawn.placed.items if i.kind == "circle"}
        return {"wheel_rear", "wheel_front"} <= found

    def target(self, space: Any, item: Item) -> Any:
        wheel = item.part.startswith("wheel")
        name = ""
        if self.way.block == "all" or (self.way.block == "wheels" and wheel):
            name = "VIEW"
        elif self.way.block == "frame" and not wheel:
            name = "FRAME"
        if not name:
            return space
        if name not in self.blocks:
            self.doc.blocks.new(name)
            self.blocks = (*self.blocks, name)
        return self.doc.blocks.get(name)

    def emit(self, to: Any, item: Item) -> None:
        attribs: dict[str, Any] = {"layer": self.layer(item)}
        if item.linetype:
            attribs["linetype"] = item.linetype
        points = [(float(x), float(y)) for x, y in item.points]
        if item.kind == "line":
            to.add_line(*points, dxfattribs=attribs)
        elif item.kind == "circle":
            to.add_circle(points[0], item.radius, dxfattribs=attribs)
        elif item.kind == "arc":
            self.arc(to, item, attribs)
        elif item.kind == "spline":
            to.add_open_spline(points, degree=3, dxfattribs=attribs)
        elif len(points) > 40 and not item.closed:
            self.curve(to, points, attribs)
        else:
            bulges = item.bulges or (0.0,) * len(points)
            vertices = [(*p, b) for p, b in zip(points, bulges, strict=False)]
            to.add_lwpolyline(vertices, format="xyb", close=item.closed, dxfattribs=attribs)

    def arc(self, to: Any, item: Item, attribs: dict[str, Any]) -> None:
        """An arc as such, as a bulge of a polyline, or through points."""
        if self.way.curves == "polyline":
            to.add_arc(item.points[0], item.radius, item.start, item.end, dxfattribs=attribs)
            return
        centre = np.array(item.points[0])
        turn = np.radians((item.end - item.start) % 360.0)
        if self.way.curves == "coarse" and turn < 3.0:
            ends = [
                centre + item.radius * np.array([np.cos(a), np.sin(a)])
                for a in np.radians([item.start, item.end])
            ]
            bulge = float(np.tan(turn / 4))
            to.add_lwpolyline(
                [(*ends[0], bulge), (*ends[1], 0.0)], format="xyb", dxfattribs=attribs
            )
            return
        angles = np.radians(item.start) + np.linspace(0.0, turn, 13)
        through = centre + item.radius * np.column_stack((np.cos(angles), np.sin(angles)))
        self.through(to, through, attribs)

    def curve(self, to: Any, points: Sequence[Vec], attribs: dict[str, Any]) -> None:
        run = np.array(points)
        if self.way.curves == "spline":
            keep = np.linspace(0, len(run) - 1, 15).round().astype(int)
            self.through(to, run[keep], attribs)
        elif self.way.curves == "coarse":
            keep = np.linspace(0, len(run) - 1, 31).round().astype(int)
            to.add_lwpolyline([tuple(p) for p in run[keep].tolist()], dxfattribs=attribs)
        else:
            to.add_lwpolyline(points, dxfattribs=attribs)

    @staticmethod
    def through(to: Any, through: Any, attribs: dict[str, Any]) -> None:
        to.add_cad_spline_control_frame([tuple(p) for p in through.tolist()], dxfattribs=attribs)

    def put(self, p: Vec) -> Vec:
        """A place of the bicycle on the paper."""
        return _moved(self.drawn.placed, self.drawn, p)

    def hatches(self, space: Any) -> None:
        """Main tubes filled between their edges."""
        frame = self.drawn.frame
        for name in ("seat_tube", "down_tube", "head_tube"):
            p, q = tube_ends(frame.dimensions)[name]
            (a, b), (c, d) = _edges(p, q, frame.diameters[name])
            hatch = space.add_hatch(
                color=8, dxfattribs={"layer": "HATCH" if self.rng.random() < 0.5 else "0"}
            )
            if self.rng.random() < 0.5:
                hatch.set_pattern_fill("ANSI31", scale=4 * self.per_mm)
            hatch.paths.add_polyline_path([self.put(x) for x in (a, b, d, c)], is_closed=True)

    def dimensions(self, space: Any) -> None:
        """Real dimensions: linear, aligned, angular; some with their text typed over."""
        d = self.drawn.frame.dimensions
        style = {
            "dimtxt": 12 * self.per_mm,
            "dimasz": 8 * self.per_mm,
            "dimlfac": 1 / self.way.scale,
        }
        layer = {"layer": str(self.rng.choice(["0", "Bemaßung", "DIM", "cotes"]))}
        rear, front, bb = tuple(d.rear_axle), tuple(d.front_axle), (0.0, 0.0)
        for p, q, off in (
            (rear, front, 480.0),
            (rear, bb, 60.0),
            (bb, tuple(d.seat_tube_top), 90.0),
            (bb, front, 90.0),
        ):
            text = f"{hypot(q[0] - p[0], q[1] - p[1]):.0f}" if self.way.overridden else "<>"
            dim = space.add_aligned_dim(
                p1=self.put(p),
                p2=self.put(q),
                distance=off * self.per_mm,
                text=text,
                override=style,
                dxfattribs=layer,
            )
            dim.render()
        top, foot = tuple(d.head_tube_top), tuple(d.fork_offset_foot)
        level = (foot[0] - 200.0, foot[1])
        dim = space.add_angular_dim_3p(
            base=self.put((foot[0] - 120.0, foot[1] + 120.0)), center=self.put(foot), p1=self.put(top),
            p2=self.put(level), override=style, dxfattribs=layer,
        )  # fmt: skip
        dim.render()
        dim = space.add_linear_dim(
            base=self.put((0.0, top[1] + 150.0)), p1=self.put(bb), p2=self.put(top),
            angle=self.way.turn, override=style, dxfattribs=layer,
        )  # fmt: skip
        dim.render()


def _moved(placed: Placed, drawn: StrangeSheet, p: Vec) -> Vec:
    """Where a place of the bicycle came to lie: by the rear axle's and the front axle's circles on the paper."""
    wheels = {}
    for item in placed.items:
        if item.part.startswith("wheel") and item.kind == "circle":
            wheels.setdefault(item.part, item.points[0])
    d = drawn.frame.dimensions
    if len(wheels) < 2:
        return (0.0, 0.0)
    a, b = np.array(wheels["wheel_rear"]), np.array(wheels["wheel_front"])
    u = (b - a) / (d.front_axle.x - d.rear_axle.x)
    # level axles are rare: the bicycle's own x and y
    rise = (d.front_axle.y - d.rear_axle.y) / (d.front_axle.x - d.rear_axle.x)
    left = np.array([-u[1], u[0]]) * (-1.0 if drawn.way.mirrored else 1.0)
    x_axis = (u - rise * left) / (1 + rise**2)
    y_axis = np.array([-x_axis[1], x_axis[0]]) * (-1.0 if drawn.way.mirrored else 1.0)
    at = a + (p[0] - d.rear_axle.x) * x_axis + (p[1] - d.rear_axle.y) * y_axis
    return (float(at[0]), float(at[1]))
