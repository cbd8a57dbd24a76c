"""Full workshop sheets at random: the draughtsman of helpers_habits with everything a whole bicycle brings along.

    frame, sheet = random_sheet(rng)             # everything by lot
    sheet = draw_sheet(frame, Full(crown="box", cups="wide"), rng)

Everything is drawn in the bicycle's own millimetres; place() of helpers_habits puts it on the paper.
"""

import itertools
from dataclasses import dataclass, replace
from math import cos, hypot, radians, sin

import numpy as np
from droptrail.converters.drawings.linework.plane import Vec
from helpers_habits import (
    EXTRAS,
    DrawnFrame,
    Habit,
    Sheet,
    _cross,
    _edges,
    _go,
    _unit,
    draw,
    random_drawn_frame,
    tube_ends,
)


@dataclass(frozen=True)
class Full:
    """What a sheet shows besides the frame; the defaults show nothing."""

    lines: str = "outline"  # outline centre surface
    fork: str = "oblique"  # oblique raked
    crown: str = ""  # box lines sloping round
    crown_height: float = 0.0
    cups: str = ""  # flush wide
    spacers: bool = False
    steerer: str = ""  # hidden drawn
    head: str = ""  # tapered ringed waisted
    guards: str = ""  # one two band
    bend: str = ""  # top_tube down_tube
    twin: bool = False
    things: tuple[str, ...] = ()
    layers: str = "zero"


def random_full(rng: np.random.Generator) -> Full:
    def one(*choices: str) -> str:
        return str(rng.choice(choices))

    lines = one("outline", "outline", "outline", "centre", "surface")
    outline = lines == "outline"
    return Full(
        lines=lines,
        fork=one("oblique", "oblique", "raked"),
        crown=one("", "", "box", "lines", "sloping", "round") if outline else "",
        crown_height=float(rng.uniform(8.0, 40.0)),
        cups=one("", "flush", "wide", "wide") if outline else "",
        spacers=bool(rng.random() < 0.4),
        steerer=one("", "", "hidden", "drawn"),
        head=one("", "", "tapered", "ringed", "waisted") if outline else "",
        guards=one("", "", "one", "two", "band"),
        bend=one("", "", "", "top_tube", "down_tube"),
        twin=bool(outline and rng.random() < 0.1),
        things=tuple(t for t in THINGS if rng.random() < 0.3),
        layers=one("zero", "words", "words"),
    )


def random_sheet(rng: np.random.Generator) -> tuple[DrawnFrame, Full, Sheet]:
    """A frame with room for a headset, and its sheet."""
    while True:
        frame = random_drawn_frame(rng)
        if frame.dimensions.head_tube >= 85.0:
            break
    dimensions = replace(frame.dimensions, lower_stack=float(rng.uniform(8.0, 16.0)))
    frame = replace(frame, dimensions=dimensions)
    how = random_full(rng)
    if how.crown and frame.dimensions.fork_length < frame.dimensions.wheel_radius_front + 50.0:
        how = replace(how, crown="")
    return frame, how, draw_sheet(frame, how, rng)


def draw_sheet(frame: DrawnFrame, how: Full, rng: np.random.Generator) -> Sheet:
    d = frame.dimensions
    low = how.crown_height if how.crown else 0.0
    shown = replace(d, fork_length=d.fork_length - low, lower_stack=d.lower_stack + low)
    habit = Habit(
        rims=bool(rng.random() < 0.6),
        axle_marks=str(rng.choice(["circle", "cross"])),
        lines="outline" if how.lines == "outline" else "centre",
        fork=how.fork,
        broken_edges=bool(how.head == "" and rng.random() < 0.2),
    )
    sheet = draw(replace(frame, dimensions=shown), habit, rng)
    if how.lines == "surface":
        _to_surfaces(sheet, frame)
    if how.bend:
        _bent(sheet, frame, how)
    if how.twin:
        _twin(sheet, frame)
    if how.head:
        HEADS[how.head](sheet, frame)
    if how.crown:
        CROWNS[how.crown](sheet, frame, low)
    if how.cups:
        _cups(sheet, frame, how, rng)
    if how.steerer:
        _steerer(sheet, frame, how.steerer)
    if how.guards:
        _guards(sheet, frame, how.guards, rng)
    for thing in how.things:
        THINGS[thing](sheet, frame, rng)
    return sheet


def _drop(sheet: Sheet, part: str) -> None:
    sheet.items[:] = [i for i in sheet.items if i.part != part]


def _at(frame: DrawnFrame, along: float, left: float) -> Vec:
    """A point beside the steering axis: mm above the head tube's lower end, mm to the left seen upwards."""
    d = frame.dimensions
    return _go(d.head_tube_bottom, d.axis_up, along, left)


def _box(sheet: Sheet, frame: DrawnFrame, span: Vec, half: float, part: str) -> None:
    corners = [
        _at(frame, t, s)
        for t, s in zip((*span, *span[::-1]), (-half, -half, half, half), strict=False)
    ]
    sheet.polyline([corners[0], corners[1], corners[2], corners[3]], part, closed=True)


# --- the steering assembly ------------------------------------------------------------------------------


def _crown_lines(sheet: Sheet, frame: DrawnFrame, height: float, part: str = "fork") -> None:
    high = -frame.dimensions.lower_stack
    half = frame.diameters["fork_blade"] / 2 + 4.0
    a, b = _at(frame, high, half), _at(frame, high, -half)
    c, e = _at(frame, high - height, -half), _at(frame, high - height, half)
    for p, q in ((a, b), (b, c), (c, e), (e, a)):
        sheet.line(p, q, part)


def _crown_box(sheet: Sheet, frame: DrawnFrame, height: float) -> None:
    high = -frame.dimensions.lower_stack
    _box(sheet, frame, (high, high - height), frame.diameters["fork_blade"] / 2 + 4.0, "fork")


def _crown_sloping(sheet: Sheet, frame: DrawnFrame, height: float) -> None:
    high = -frame.dimensions.lower_stack
    top, low = frame.diameters["head_tube"] / 2 - 3.0, frame.diameters["fork_blade"] / 2 + 8.0
    sheet.polyline(
        [
            _at(frame, high, top),
            _at(frame, high, -top),
            _at(frame, high - height, -low),
            _at(frame, high - height, low),
        ],
        "fork",
        closed=True,
    )


def _crown_round(sheet: Sheet, frame: DrawnFrame, height: float) -> None:
    """A flat race with rounded shoulders down to the blades."""
    high = -frame.dimensions.lower_stack
    half = frame.diameters["fork_blade"] / 2 + 3.0
    sheet.polyline(
        [
            _at(frame, high, half),
            _at(frame, high, -half),
            _at(frame, high - height, -half),
            _at(frame, high - height, half),
        ],
        "fork",
        bulges=(0.0, 0.25, 0.0, 0.25),
        closed=True,
    )


CROWNS = {
    "box": _crown_box,
    "lines": _crown_lines,
    "sloping": _crown_sloping,
    "round": _crown_round,
}


def _cups(sheet: Sheet, frame: DrawnFrame, how: Full, rng: np.random.Generator) -> None:
    d = frame.dimensions
    half = frame.diameters["head_tube"] / 2
    more = 0.0 if how.cups == "flush" else float(rng.uniform(1.5, 5.0))
    upper = float(rng.uniform(9.0, 20.0))
    if how.head == "tapered":
        _box(sheet, frame, (-d.lower_stack, 0.0), half + 6.0 + more, "headset")
    else:
        _box(sheet, frame, (-d.lower_stack, 0.0), half + more, "headset")
    _box(sheet, frame, (d.head_tube, d.head_tube + upper), half + more, "headset")
    if how.spacers:
        start = d.head_tube + upper
        for _ in range(int(rng.integers(1, 4))):
            thick = float(rng.uniform(3.0, 10.0))
            _box(sheet, frame, (start, start + thick), half, "headset")
            start += thick


def _steerer(sheet: Sheet, frame: DrawnFrame, how: str) -> None:
    d = frame.dimensions
    for s in (-14.3, 14.3):
        sheet.line(
            _at(frame, -d.lower_stack, s),
            _at(frame, d.head_tube + 70.0, s),
            "headset",
            "HIDDEN" if how == "hidden" else "",
        )


def _head_tapered(sheet: Sheet, frame: DrawnFrame) -> None:
    _drop(sheet, "head_tube")
    half = frame.diameters["head_tube"] / 2
    size = frame.dimensions.head_tube
    corners = [(0.0, half + 6.0), (size, half), (size, -half), (0.0, -half - 6.0)]
    sheet.polyline([_at(frame, t, s) for t, s in corners], "head_tube", closed=True)


def _head_waisted(sheet: Sheet, frame: DrawnFrame) -> None:
    """Two steps: wide ends, a narrower middle, sloping shoulders between, one loop."""
    _drop(sheet, "head_tube")
    half = frame.diameters["head_tube"] / 2
    size = frame.dimensions.head_tube
    side = [(0.0, half), (12.0, half), (18.0, half - 2.5), (size - 18.0, half - 2.5)]
    side += [(size - 12.0, half), (size, half)]
    corners = side + [(t, -s) for t, s in side[::-1]]
    sheet.polyline([_at(frame, t, s) for t, s in corners], "head_tube", closed=True)


def _head_ringed(sheet: Sheet, frame: DrawnFrame) -> None:
    """Reinforcing rings at both ends, each line a piece of its own."""
    _drop(sheet, "head_tube")
    half = frame.diameters["head_tube"] / 2
    size = frame.dimensions.head_tube
    for s in (-1.0, 1.0):
        side = [(0.0, half + 2.0), (13.0, half + 2.0), (13.0, half), (size - 13.0, half)]
        side += [(size - 13.0, half + 2.0), (size, half + 2.0)]
        for (t, x), (t2, x2) in itertools.pairwise(side):
            sheet.line(_at(frame, t, s * x), _at(frame, t2, s * x2), "head_tube")
    for t in (0.0, 13.0, size - 13.0, size):
        sheet.line(_at(frame, t, -half - 2.0), _at(frame, t, half + 2.0), "head_tube")


HEADS = {"tapered": _head_tapered, "waisted": _head_waisted, "ringed": _head_ringed}


# --- tubes ----------------------------------------------------------------------------------------------


def _to_surfaces(sheet: Sheet, frame: DrawnFrame) -> None:
    """Top tube and down tube end at the surface of the tube they run into."""
    od = frame.diameters
    ends = {
        "top_tube": (od["seat_tube"] / 2, od["head_tube"] / 2),
        "down_tube": (0.0, od["head_tube"] / 2),
        "seatstay": (0.0, od["seat_tube"] / 2),
    }
    for k, item in enumerate(sheet.items):
        if item.kind == "line" and item.part in ends:
            p, q = item.points
            u = _unit(p, q)
            a, b = ends[item.part]
            sheet.items[k] = replace(item, points=(_go(p, u, 1.04 * a), _go(q, u, -1.04 * b)))


def _bent(sheet: Sheet, frame: DrawnFrame, how: Full) -> None:
    """A tube with one bend of some 6 degrees near the head tube."""
    name = how.bend
    p, q = tube_ends(frame.dimensions)[name]
    u = _unit(p, q)
    size = hypot(q[0] - p[0], q[1] - p[1])
    corner = _go(p, u, 0.75 * size, -0.02 * size)
    _drop(sheet, name)
    if how.lines != "outline":
        short = 0.0
        if how.lines == "surface":
            short = 0.52 * frame.diameters["head_tube"]
        sheet.line(p, corner, name)
        sheet.line(corner, _go(q, _unit(q, corner), short), name)
        return
    head = _edges(*tube_ends(frame.dimensions)["head_tube"], frame.diameters["head_tube"])[0]
    seat = _edges(*tube_ends(frame.dimensions)["seat_tube"], frame.diameters["seat_tube"])[1]
    first = _edges(p, corner, frame.diameters[name])
    last = _edges(corner, q, frame.diameters[name])
    for (a, b), (c, e) in zip(first, last, strict=True):
        at = _cross(a, _unit(a, b), c, _unit(c, e))
        start = _go(a, _unit(a, b), 24.0)
        if name == "top_tube":
            start = _cross(a, _unit(a, b), seat[0], _unit(*seat))
        sheet.line(start, at, name)
        sheet.line(at, _cross(c, _unit(c, e), head[0], _unit(*head)), name)


def _twin(sheet: Sheet, frame: DrawnFrame) -> None:
    """A second top tube some way below the first, trimmed by eye."""
    own = [i for i in sheet.items if i.part == "top_tube" and i.kind == "line"]
    by = 1.6 * frame.diameters["top_tube"]
    for item in own:
        u = _unit(*item.points)
        moved = tuple(_go(p, u, 0.0, -by) for p in item.points)
        sheet.items.append(replace(item, points=moved))


# --- everything else on the sheet -------------------------------------------------------------------------


def _guards(sheet: Sheet, frame: DrawnFrame, how: str, rng: np.random.Generator) -> None:
    d = frame.dimensions
    for axle, radius, part in (
        (d.rear_axle, d.wheel_radius_rear, "guard"),
        (d.front_axle, d.wheel_radius_front, "guard"),
    ):
        out = radius + float(rng.uniform(10.0, 18.0))
        start = float(rng.uniform(20.0, 60.0))
        turn = float(rng.uniform(100.0, 230.0))
        if how == "band":
            points = [
                _go(axle, (1.0, 0.0), r * cos(radians(a)), r * sin(radians(a)))
                for r, angles in (
                    (out, np.linspace(start, start + turn, 60)),
                    (out + 3.0, np.linspace(start + turn, start, 60)),
                )
                for a in angles
            ]
            sheet.polyline(points, part, closed=True)
            continue
        sheet.arc(axle, out, start, start + turn, part)
        if how == "two":
            sheet.arc(axle, out + 3.0, start, start + turn, part)


def _rack(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    d = frame.dimensions
    top = d.rear_axle.y + d.wheel_radius_rear + 40.0
    for y in (top, top + 10.0):
        sheet.line((d.rear_axle.x - 180.0, y), (d.rear_axle.x + 150.0, y), "rack")
    for x in (-120.0, -20.0, 60.0):
        for by in (-5.0, 5.0):
            foot = (d.rear_axle.x + by, d.rear_axle.y + 18.0)
            sheet.line(foot, (d.rear_axle.x + x + by, top), "rack")


def _cranks(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    turn = float(rng.uniform(-60.0, 60.0))
    u = (cos(radians(turn)), sin(radians(turn)))
    for s in (1.0, -1.0):
        for by in (-9.0, 9.0):
            sheet.line(_go((0.0, 0.0), u, s * 22.0, by), _go((0.0, 0.0), u, s * 160.0, by), "crank")
        sheet.circle(_go((0.0, 0.0), u, s * 172.0), 12.0, "crank")
    sheet.circle((0.0, 0.0), float(rng.uniform(70.0, 110.0)), "crank")


def _bag(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    """A bag inside the main triangle, its sides along the tubes."""
    ends = tube_ends(frame.dimensions)
    seat, head = ends["seat_tube"], ends["top_tube"][1]
    inner = float(rng.uniform(18.0, 30.0))
    centre = ((seat[0][0] + head[0]) / 2 - 40.0, (ends["top_tube"][0][1] + seat[0][1]) / 2 + 40.0)
    corners = []
    for p in (ends["top_tube"][0], head, ends["down_tube"][1], _go((0, 0), (0.6, 0.8), 150.0)):
        u = _unit(p, centre)
        corners.append(_go(p, u, 2.0 * inner))
    sheet.polyline(corners, "bag", closed=True)


def _bottle(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    p, q = tube_ends(frame.dimensions)["down_tube"]
    u = _unit(p, q)
    gap = frame.diameters["down_tube"] / 2 + 8.0
    base = _go(p, u, 170.0, gap)
    sheet.polyline(
        [base, _go(base, u, 200.0), _go(base, u, 200.0, 74.0), _go(base, u, 0.0, 74.0)],
        "bottle",
        closed=True,
    )


def _lugs(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    half = frame.diameters["head_tube"] / 2 + 1.5
    d = frame.dimensions
    for at in (8.0, d.down_tube_above_head_bottom + 26.0, d.head_tube - 8.0):
        sheet.line(_at(frame, at, -half), _at(frame, at, half), "lug")


def _axes(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    """Chain-dotted axes that run on past the tubes."""
    for name in ("top_tube", "down_tube"):
        p, q = tube_ends(frame.dimensions)[name]
        u = _unit(p, q)
        past = float(rng.uniform(20.0, 60.0))
        sheet.line(_go(p, u, -past), _go(q, u, past), "axis", "CENTER")


def _bars(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    d = frame.dimensions
    top = d.head_tube + 45.0
    for by in (-15.0, 15.0):
        sheet.line(_at(frame, top + by, 3.0), _at(frame, top + by + 8.0, -95.0), "stem")
    sheet.circle(_at(frame, top + 8.0, -110.0), 15.9, "stem")


def _saddle(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    d = frame.dimensions
    for s in (-13.6, 13.6):
        sheet.line(
            _go(d.seat_tube_top, d.seat_up, 0.0, s),
            _go(d.seat_tube_top, d.seat_up, 150.0, s),
            "seatpost",
        )
    top = _go(d.seat_tube_top, d.seat_up, 190.0)
    sheet.spline(
        [(top[0] - 140, top[1] + 8), (top[0] - 40, top[1] + 30), (top[0] + 60, top[1] + 5),
         (top[0] + 140, top[1])],
        "saddle",
    )  # fmt: skip


def _reduced(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    """The same view once more at 1:4."""
    by = 2.2 * frame.dimensions.front_axle.x + 500.0
    small = []
    for i in sheet.items:
        points = tuple((by + 0.25 * x, 300.0 + 0.25 * y) for x, y in i.points)
        small.append(replace(i, points=points, radius=0.25 * i.radius))
    sheet.items += small


def _walls(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    """Inner walls of the top tube and down tube as hidden lines."""
    for name in ("top_tube", "down_tube"):
        p, q = tube_ends(frame.dimensions)[name]
        u = _unit(p, q)
        size = hypot(q[0] - p[0], q[1] - p[1])
        for s in (-1.0, 1.0):
            off = s * (frame.diameters[name] / 2 - 0.9)
            sheet.line(_go(p, u, 40.0, off), _go(p, u, size - 40.0, off), "hatch", "HIDDEN")


THINGS = {
    "rack": _rack,
    "cranks": _cranks,
    "bag": _bag,
    "bottle": _bottle,
    "lugs": _lugs,
    "axes": _axes,
    "bars": _bars,
    "saddle": _saddle,
    "walls": _walls,
    "reduced": _reduced,
    **{name: EXTRAS[name] for name in ("spokes", "rings", "title", "second_view", "rider")},
}

WORDS = {
    "seat_tube": "FRAME",
    "down_tube": "FRAME",
    "top_tube": "FRAME",
    "head_tube": "FRAME",
    "chainstay": "FRAME",
    "seatstay": "FRAME",
    "fork": "Gabel",
    "wheel_rear": "Laufräder",
    "wheel_front": "Laufräder",
    "bb_shell": "FRAME",
    "further": "FRAME",
    "headset": "Jeu de direction",
    "guard": "Parafanghi",
    "rack": "Gepäckträger",
    "crank": "Bielas",
    "bag": "Sacoche",
    "bottle": "Borraccia",
    "lug": "Muffen",
    "axis": "Assi",
    "stem": "Vorbau",
    "seatpost": "Sattelstütze",
    "saddle": "Selle",
    "hatch": "Schraffur",
    "components": "Equipement",
    "title": "Cartiglio",
    "second_view": "Ansichten",
    "rider": "Fahrer",
}
