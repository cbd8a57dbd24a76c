"""Customs of a workshop on top of a full sheet: what else stands on the paper, and of which entities it is made.

    frame, how, placed = custom_sheet(rng)       # a sheet of helpers_sheets with customs by lot, on its paper
    placed.dxf("R2000")

`how.missing` names what the draughtsman did not draw: such a sheet may be refused, never read wrong.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise
from math import cos, hypot, pi, sin

import numpy as np
from helpers_habits import DrawnFrame, Item, Placed, Sheet, _go, _quarter, _unit, place, tube_ends
from helpers_sheets import Full, random_sheet

MAKES = ("lines", "lines", "lines", "splines", "broken", "doubled", "polylines")
UNITS = {4: 1.0, 1: 1 / 25.4, 5: 0.1}  # $INSUNITS: drawing units per mm
MISSING = ("chainstay", "seatstay", "top_tube", "down_tube", "wheel_front", "fork", "seat_tube")


@dataclass(frozen=True)
class Customs:
    """One sheet's customs; `full` is what helpers_sheets drew."""

    full: Full
    things: tuple[str, ...]
    make: str
    gaps: float
    unit: int
    missing: str
    turn: float
    mirrored: bool
    flipped: bool
    digits: int | None


def custom_sheet(rng: np.random.Generator) -> tuple[DrawnFrame, Customs, Placed]:
    """A full sheet, some customs added, some lines of it made otherwise, somewhere on the paper."""
    frame, full, sheet = random_sheet(rng)
    unit = int(rng.choice([4, 4, 4, 4, 1, 5]))
    how = Customs(
        full=full,
        things=tuple(t for t in CUSTOMS if rng.random() < 0.3),
        make=str(rng.choice(MAKES)),
        gaps=float(rng.choice([0.0, 0.0, 0.05, 0.3])),
        unit=unit,
        missing=str(rng.choice(MISSING)) if rng.random() < 0.1 else "",
        turn=float(rng.choice([0.0, 0.0, 0.0, 90.0, -90.0, 180.0, rng.uniform(-180.0, 180.0)])),
        mirrored=bool(rng.random() < 0.3),
        flipped=bool(rng.random() < 0.1),
        digits={4: (None, 3, 2), 1: (None, 5), 5: (None, 4)}[unit][int(rng.integers(2))],
    )
    for thing in how.things:
        CUSTOMS[thing](sheet, frame, rng)
    sheet.items[:] = [i for i in sheet.items if i.part != how.missing]
    if how.gaps:
        sheet.items[:] = [_gapped(i, how, rng) for i in sheet.items]
    sheet.items[:] = [made for i in sheet.items for made in MAKE[how.make](i, rng)]
    offset = (float(rng.uniform(-3e3, 3e3)), float(rng.uniform(-3e3, 3e3)))
    placed = place(
        sheet,
        turn=how.turn,
        mirrored=how.mirrored,
        flipped=how.flipped and how.turn == 0.0,
        scale=UNITS[unit],
        offset=offset,
        digits=how.digits,
        layers=full.layers,
        header=unit,
    )
    return frame, how, placed


# --- how a line is made -----------------------------------------------------------------------------------


def _gapped(item: Item, how: Customs, rng: np.random.Generator) -> Item:
    """Ends moved along their line by less than a millimetre; those that alone mark a length are left."""
    bare = how.full.lines != "outline" and item.part in ("head_tube", "seat_tube", "fork")
    if item.kind != "line" or bare:
        return item
    p, q = item.points
    u = _unit(p, q)
    a, b = (float(rng.uniform(-how.gaps, how.gaps)) for _ in range(2))
    return replace(item, points=(_go(p, u, a), _go(q, u, b)))


def _as_is(item: Item, rng: np.random.Generator) -> list[Item]:
    return [item]


def _as_splines(item: Item, rng: np.random.Generator) -> list[Item]:
    """Lines and circles as cubic splines, as drawing programs of illustrators write them."""
    if item.kind == "line":
        p, q = item.points
        inner = [tuple(a + t * (b - a) for a, b in zip(p, q, strict=True)) for t in (1 / 3, 2 / 3)]
        return [replace(item, kind="spline", points=(p, *inner, q))]
    if item.kind == "circle":
        c = item.points[0]
        return [
            replace(item, kind="spline", points=tuple(_quarter(c, item.radius, k * pi / 2, pi / 2)))
            for k in range(4)
        ]
    return [item]


def _as_broken(item: Item, rng: np.random.Generator) -> list[Item]:
    """Long lines in pieces that touch."""
    if item.kind != "line" or rng.random() < 0.4:
        return [item]
    p, q = item.points
    size = hypot(q[0] - p[0], q[1] - p[1])
    if size < 60.0:
        return [item]
    cuts = sorted(rng.uniform(0.1, 0.9, int(rng.integers(1, 4))) * size)
    stops = [p, *(_go(p, _unit(p, q), float(c)) for c in cuts), q]
    return [replace(item, points=(a, b)) for a, b in pairwise(stops)]


def _as_doubled(item: Item, rng: np.random.Generator) -> list[Item]:
    """Some lines once more on top, whole or in part, some by a hair beside."""
    if item.kind not in ("line", "circle") or rng.random() < 0.6:
        return [item]
    if item.kind == "circle":
        return [item, item]
    p, q = item.points
    if rng.random() < 0.5:
        return [item, replace(item, points=(q, p))]
    size = hypot(q[0] - p[0], q[1] - p[1])
    a, b = sorted(rng.uniform(0.0, 1.0, 2) * size)
    by = float(rng.choice([0.0, 0.02]))
    u = _unit(p, q)
    return [item, replace(item, points=(_go(p, u, float(a), by), _go(p, u, float(b), by)))]


def _as_polylines(item: Item, rng: np.random.Generator) -> list[Item]:
    """Each line a polyline with a vertex more somewhere."""
    if item.kind != "line":
        return [item]
    p, q = item.points
    size = hypot(q[0] - p[0], q[1] - p[1])
    middle = _go(p, _unit(p, q), float(rng.uniform(0.2, 0.8)) * size)
    return [replace(item, kind="polyline", points=(p, middle, q))]


MAKE: dict[str, Callable[[Item, np.random.Generator], list[Item]]] = {
    "lines": _as_is,
    "splines": _as_splines,
    "broken": _as_broken,
    "doubled": _as_doubled,
    "polylines": _as_polylines,
}


# --- what else stands on the paper ---------------------------------------------------------------------------


def _box(frame: DrawnFrame) -> tuple[float, float, float, float]:
    """Left, right, low, high of the bicycle."""
    d = frame.dimensions
    left = d.rear_axle.x - d.wheel_radius_rear
    right = d.front_axle.x + d.wheel_radius_front
    return left, right, d.ground_y, max(d.seat_tube_top.y, d.head_tube_top.y) + 200.0


def _border(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    """Two frames about the sheet, with marks of the zones between them."""
    left, right, low, high = _box(frame)
    for by in (160.0, 190.0):
        corners = [
            (left - by, low - by), (right + by, low - by), (right + by, high + by), (left - by, high + by)
        ]  # fmt: skip
        sheet.polyline(corners, "title", closed=True)
    for x in np.linspace(left - 160.0, right + 160.0, 9)[1:-1].tolist():
        sheet.line((x, low - 190.0), (x, low - 160.0), "title")
        sheet.line((x, high + 160.0), (x, high + 190.0), "title")


def _table(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    """A parts list: a grid of lines beside or below the bicycle."""
    left, right, low, _ = _box(frame)
    x, y = (right + 60.0, low) if rng.random() < 0.5 else (left, low - 260.0)
    rows, wide = int(rng.integers(5, 14)), 320.0
    for k in range(rows + 1):
        sheet.line((x, y + 16.0 * k), (x + wide, y + 16.0 * k), "title")
    for by in (0.0, 40.0, 200.0, 260.0, wide):
        sheet.line((x + by, y), (x + by, y + 16.0 * rows), "title")


def _balloons(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    """Numbered circles, a leader from each to the middle of a tube."""
    _, _, _, high = _box(frame)
    for k, (p, q) in enumerate(tube_ends(frame.dimensions).values()):
        share = float(rng.uniform(0.3, 0.7))
        at = (p[0] + share * (q[0] - p[0]), p[1] + share * (q[1] - p[1]))
        centre = (-400.0 + 180.0 * k, high + 60.0)
        u = _unit(centre, at)
        sheet.circle(centre, 14.0, "balloon")
        sheet.line(_go(centre, u, 14.0), at, "balloon")


def _dropouts(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    """Plates about the axles with slots, eyelets and holes that save weight."""
    d = frame.dimensions
    for axle, to in ((d.rear_axle, (1.0, 0.3)), (d.front_axle, (-0.3, 1.0))):
        u = _unit((0.0, 0.0), to)
        plate = [
            _go(axle, u, a, b) for a, b in ((-14, -18), (40, -14), (46, 12), (10, 30), (-14, 20))
        ]
        sheet.polyline(plate, "dropout", closed=True)
        for along, left, r in ((28.0, 4.0, 3.2), (16.0, 18.0, 2.6), (34.0, -6.0, 4.5), (20.0, -12.0, 2.6)):  # fmt: skip
            sheet.circle(_go(axle, u, along, left), r, "dropout")
        for by in (-5.0, 5.0):
            sheet.line(_go(axle, u, 0.0, by), _go(axle, u, -14.0, by), "dropout")


def _gears(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    """Chainrings with bolts, sprockets, a derailleur's pulleys, the chain."""
    d = frame.dimensions
    rings = sorted(rng.uniform(48.0, 108.0, int(rng.integers(1, 4))).tolist())
    for r in rings:
        sheet.circle((0.0, 0.0), r, "crank")
    for k in range(5):
        at = (38.0 * cos(2 * pi * k / 5), 38.0 * sin(2 * pi * k / 5))
        sheet.circle(at, 4.0, "crank")
    for r in np.linspace(22.0, 58.0, int(rng.integers(3, 9))).tolist():
        sheet.circle(d.rear_axle, r, "components")
    for along, down in ((14.0, 55.0), (30.0, 105.0)):
        sheet.circle((d.rear_axle.x + along, d.rear_axle.y - down), 21.0, "components")
    for s in (-1.0, 1.0):
        sheet.line((0.0, s * rings[-1]), (d.rear_axle.x, d.rear_axle.y + s * 22.0), "components")


def _section(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    """Section lines at 45 degrees between the head tube's walls, and an inner wall on either side."""
    d = frame.dimensions
    half = frame.diameters["head_tube"] / 2
    for t in np.arange(6.0, d.head_tube - 6.0, 4.0).tolist():
        for s in (1.0, -1.0):
            a = _go(d.head_tube_bottom, d.axis_up, t, s * half)
            b = _go(d.head_tube_bottom, d.axis_up, t + 2.0, s * (half - 2.0))
            sheet.line(a, b, "hatch")


def _datum(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    """Long thin lines through the nodes, as on a setting-out: level and upright through axles and shell."""
    d = frame.dimensions
    left, right, low, high = _box(frame)
    for y in (0.0, d.rear_axle.y, d.ground_y):
        sheet.line((left - 80.0, y), (right + 80.0, y), "axis", "CENTER")
    for x in (d.rear_axle.x, 0.0, d.front_axle.x):
        sheet.line((x, low - 60.0), (x, high + 40.0), "axis", "CENTER")


def _chains(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    """Chains of dimensions below the ground, exploded: extension lines from the nodes, ticks, dimension lines."""
    d = frame.dimensions
    low = d.ground_y - 90.0
    places = [tuple(n) for n in (d.rear_axle, d.bottom_bracket, d.head_tube_top, d.front_axle)]
    for x, y in places:
        sheet.line((x, y - 8.0), (x, low - 6.0), "dimensions")
        sheet.line((x - 3.0, low - 3.0), (x + 3.0, low + 3.0), "dimensions")
    for a, b in pairwise(places):
        sheet.line((a[0], low), (b[0], low), "dimensions")
    right = _box(frame)[1] + 70.0
    for x, y in places:
        sheet.line((x + 8.0, y), (right + 6.0, y), "dimensions")
    sheet.line((right, 0.0), (right, places[2][1]), "dimensions")


def _plan(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    """The stays from above, below the side view: hub, tyre, both chainstays, shell."""
    d = frame.dimensions
    y = d.ground_y - 420.0
    for s in (-1.0, 1.0):
        for by in (-9.0, 9.0):
            sheet.line((d.rear_axle.x, y + s * 66.0 + by), (0.0, y + s * 30.0 + by), "second_view")
        hub, tyre = d.rear_axle.x + s * 6.0, y + s * 18.0
        sheet.line((hub, y - 70.0), (hub, y + 70.0), "second_view")
        sheet.line((d.rear_axle.x - 330.0, tyre), (d.rear_axle.x + 330.0, tyre), "second_view")
        sheet.line((s * 20.0, y - 34.0), (s * 20.0, y + 34.0), "second_view")


def _jig(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    """The jig about the frame: its beam, posts, the cones in the head tube's ends."""
    d = frame.dimensions
    low = d.ground_y + 20.0
    left, right = d.rear_axle.x - 60.0, d.front_axle.x - 60.0
    for by in (0.0, 80.0):
        sheet.line((left, low + by), (right, low + by), "jig")
    for x in (d.rear_axle.x, 0.0, d.head_tube_bottom.x):
        for s in (-25.0, 25.0):
            sheet.line((x + s, low + 80.0), (x + s, -40.0), "jig")
    half = frame.diameters["head_tube"] / 2
    for at, way in ((0.0, -1.0), (d.head_tube, 1.0)):
        apex = _go(d.head_tube_bottom, d.axis_up, at - way * 14.0)
        for s in (-1.0, 1.0):
            sheet.line(_go(d.head_tube_bottom, d.axis_up, at + way * 9.0, s * (half + 6.0)), apex, "jig")  # fmt: skip
        sheet.line(
            _go(d.head_tube_bottom, d.axis_up, at + way * 9.0, half + 6.0),
            _go(d.head_tube_bottom, d.axis_up, at + way * 9.0, -half - 6.0),
            "jig",
        )


def _lettering(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    """Words as strokes: beside every tube along it, and in rows below."""
    for p, q in tube_ends(frame.dimensions).values():
        u = _unit(p, q)
        start = _go(p, u, float(rng.uniform(30.0, 80.0)), float(rng.uniform(40.0, 70.0)))
        for k in range(int(rng.integers(3, 9))):
            at = _go(start, u, 11.0 * k)
            for _ in range(4):
                a, b = rng.uniform(0.0, 9.0, 2), rng.uniform(0.0, 9.0, 2)
                sheet.line(_go(at, u, *a), _go(at, u, *b), "text")


def _fit(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    """The rider's fit: saddle height, reach to the bar, knee over pedal, as single lines from node to node."""
    d = frame.dimensions
    saddle = _go(d.seat_tube_top, d.seat_up, 190.0)
    bar = (d.head_tube_top.x + 70.0, d.head_tube_top.y + 70.0)
    sheet.line((0.0, 0.0), saddle, "dimensions")
    sheet.line(saddle, bar, "dimensions")
    sheet.line((0.0, 0.0), bar, "dimensions")
    sheet.line((0.0, 0.0), (0.0, d.stack), "dimensions")
    sheet.line((0.0, d.stack), (d.reach, d.stack), "dimensions")
    sheet.line(tuple(d.front_axle), (0.0, 0.0), "dimensions")


def _ghost(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    """The frame before this one, dashed, some way beside it."""
    by = (float(rng.uniform(-30.0, 30.0)), float(rng.uniform(12.0, 35.0)))
    old = [i for i in sheet.items if i.kind == "line" and i.part in ("top_tube", "seat_tube")]
    for item in old:
        moved = tuple((x + by[0], y + by[1]) for x, y in item.points)
        sheet.items.append(replace(item, points=moved, part="old", linetype="DASHED"))


def _swing(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    """The front wheel's swing against the toe, and clearances: arcs and dashed circles about axles and shell."""
    d = frame.dimensions
    sheet.items.append(Item("circle", ((0.0, 0.0),), "dimensions", 172.5, linetype="DASHED"))
    sheet.arc((0.0, 0.0), 172.5 + 100.0, -30.0, 40.0, "dimensions")
    sheet.arc(d.rear_axle, d.chainstay, -40.0, 20.0, "dimensions")
    sheet.arc(d.front_axle, hypot(d.front_axle.x, d.front_axle.y), 160.0, 200.0, "dimensions")


CUSTOMS: dict[str, Callable[[Sheet, DrawnFrame, np.random.Generator], None]] = {
    "border": _border,
    "table": _table,
    "balloons": _balloons,
    "dropouts": _dropouts,
    "gears": _gears,
    "section": _section,
    "datum": _datum,
    "chains": _chains,
    "plan": _plan,
    "jig": _jig,
    "lettering": _lettering,
    "fit": _fit,
    "ghost": _ghost,
    "swing": _swing,
}
