"""Ways of drawing that neither helpers_habits nor helpers_sheets know, one to a sheet, placed by lot.

    frame, placed = odd_sheet("silhouette", np.random.default_rng(3))
    placed.dxf("R12")

`ODDITIES` names them; a docstring says what the draughtsman does.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import cos, hypot, radians, sin

import numpy as np
import shapely
from helpers_habits import (
    DrawnFrame,
    Habit,
    Item,
    Placed,
    Sheet,
    _edges,
    _go,
    _unit,
    draw,
    place,
    random_drawn_frame,
    tube_ends,
)


@dataclass(frozen=True)
class Odd:
    """A sheet, and how it lies on the paper where that is part of the habit."""

    frame: DrawnFrame
    sheet: Sheet
    turn: float | None = None
    layers: str = ""


def odd_sheet(name: str, rng: np.random.Generator) -> tuple[DrawnFrame, Placed]:
    """One of ODDITIES, in mm or inches, turned by quarters or anyhow, facing either way, anywhere."""
    odd = ODDITIES[name](rng)
    turns = [0.0, 0.0, 90.0, -90.0, float(rng.uniform(-180.0, 180.0))]
    unit = int(rng.choice([4, 4, 1]))
    placed = place(
        odd.sheet,
        turn=float(rng.choice(turns)) if odd.turn is None else odd.turn,
        mirrored=bool(rng.random() < 0.3),
        scale={4: 1.0, 1: 1 / 25.4}[unit],
        offset=(float(rng.uniform(-2e3, 2e3)), float(rng.uniform(-2e3, 2e3))),
        layers=odd.layers or str(rng.choice(["zero", "parts"])),
        header=unit,
    )
    return odd.frame, placed


def _drawn(rng: np.random.Generator, lines: str = "outline", *forks: str) -> Odd:
    """A frame with room for a headset in outline or centre-lines, with rims or without."""
    while True:
        frame = random_drawn_frame(rng)
        if frame.dimensions.head_tube >= 85.0:
            break
    stack = float(rng.uniform(8.0, 16.0))
    frame = replace(frame, dimensions=replace(frame.dimensions, lower_stack=stack))
    habit = Habit(
        rims=bool(rng.random() < 0.6),
        axle_marks=str(rng.choice(["circle", "cross"])),
        lines=lines,
        fork=str(rng.choice(forks or ("oblique", "raked"))),
    )
    return Odd(frame, draw(frame, habit, rng))


def _without(odd: Odd, *parts: str) -> Sheet:
    odd.sheet.items[:] = [i for i in odd.sheet.items if i.part not in parts]
    return odd.sheet


def _length(item: Item) -> float:
    p, q = item.points[0], item.points[-1]
    return hypot(q[0] - p[0], q[1] - p[1])


def _bare_rear(rng: np.random.Generator) -> Odd:
    """Front triangle and fork in outline, the stays as centre-lines."""
    odd = _drawn(rng)
    sheet = _without(odd, "chainstay", "seatstay")
    linetype = str(rng.choice(["", "CENTER"]))
    for name in ("chainstay", "seatstay"):
        sheet.line(*tube_ends(odd.frame.dimensions)[name], name, linetype)
    return odd


def _bare_front(rng: np.random.Generator) -> Odd:
    """Stays, fork and head tube in outline, the three long tubes as centre-lines."""
    odd = _drawn(rng)
    names = ("top_tube", "down_tube", "seat_tube")
    sheet = _without(odd, *names)
    for name in names:
        sheet.line(*tube_ends(odd.frame.dimensions)[name], name)
    return odd


def _hidden_ends(rng: np.random.Generator) -> Odd:
    """Every tube's edges run on in dashes inside its neighbours, up to their middles."""
    odd = _drawn(rng)
    for name in ("top_tube", "down_tube", "seatstay", "chainstay"):
        own = [i for i in odd.sheet.items if i.part == name and i.kind == "line"]
        for a, b in _edges(*tube_ends(odd.frame.dimensions)[name], odd.frame.diameters[name]):
            u = _unit(a, b)
            for item in own:
                p, q = item.points
                beside = u[0] * (p[1] - a[1]) - u[1] * (p[0] - a[0])
                if abs(beside) < 1e-6 and _length(item) > 60.0:
                    odd.sheet.line(q, b, name, "HIDDEN")
                    if not name.endswith("stay"):
                        odd.sheet.line(a, p, name, "HIDDEN")
    return odd


def _fork_detail(rng: np.random.Generator) -> Odd:
    """Head tube and fork once more in front of the bicycle at another scale, upright or not, with the tyre or not."""
    odd = _drawn(rng)
    d = odd.frame.dimensions
    size = float(rng.choice([0.5, 1.0, 2.0]))
    gap = float(rng.uniform(200.0, 500.0)) * max(1.0, size)
    far = (d.front_axle.x + d.wheel_radius_front + gap, 300.0)
    turn = radians(float(rng.choice([0.0, d.head_angle - 90.0])))

    def move(at: tuple[float, float]) -> tuple[float, float]:
        x, y = size * (at[0] - d.fork_crown.x), size * (at[1] - d.fork_crown.y)
        return (far[0] + x * cos(turn) - y * sin(turn), far[1] + x * sin(turn) + y * cos(turn))

    for item in [i for i in odd.sheet.items if i.part in ("fork", "head_tube")]:
        points = tuple(move(p) for p in item.points)
        odd.sheet.items.append(
            replace(item, points=points, radius=size * item.radius, part="detail")
        )
    odd.sheet.circle(move(d.front_axle), 5.0 * size, "detail")
    if rng.random() < 0.5:
        odd.sheet.circle(move(d.front_axle), d.wheel_radius_front * size, "detail")
    return odd


def _silhouette(rng: np.random.Generator) -> Odd:
    """The frame as one contour and the holes in it, as for cutting it out; wheels and fork beside that."""
    odd = _drawn(rng)
    d, od = odd.frame.dimensions, odd.frame.diameters
    tubes = [shapely.Point(0.0, 0.0).buffer(od["bb_shell"] / 2, 64)]
    for name, (p, q) in tube_ends(d).items():
        (a, b), (c, e) = _edges(p, q, od[name])
        tubes.append(shapely.Polygon([a, b, e, c]))
    sheet = _without(odd, *tube_ends(d))
    whole = shapely.union_all(tubes)
    for part in shapely.get_parts(whole):
        for ring in (part.exterior, *part.interiors):
            sheet.polyline([(x, y) for x, y in ring.coords[:-1]], "contour", closed=True)
    return odd


def _two_sizes(rng: np.random.Generator) -> Odd:
    """A larger or smaller size over the frame, from the same shell and rear wheel, dashed or on a layer of its own."""
    odd = _drawn(rng, str(rng.choice(["outline", "centre"])))
    d = odd.frame.dimensions
    more = float(rng.choice([-40.0, 40.0]))
    other = replace(
        d,
        seat_tube=d.seat_tube + more,
        top_tube_on_seat_tube=d.top_tube_on_seat_tube + more,
        head_tube=d.head_tube + (0.6 * more if d.head_tube + 0.6 * more > 80.0 else 24.0),
        reach=d.reach + 0.5 * more,
    )
    drawn = draw(replace(odd.frame, dimensions=other), Habit(lines="outline"), rng)
    dashed = bool(rng.random() < 0.5)
    names = (*tube_ends(d), "fork", "wheel_front")
    for item in [i for i in drawn.items if i.part in names and i.part != "chainstay"]:
        own = replace(item, linetype="DASHED") if dashed else replace(item, part="SIZE_L")
        odd.sheet.items.append(own)
    return replace(odd, layers="parts")


def _dash_dotted_wheels(rng: np.random.Generator) -> Odd:
    """Tyres and rims as centre-lines, and the ground below them."""
    odd = _drawn(rng, str(rng.choice(["outline", "centre"])))
    odd.sheet.items[:] = [
        replace(i, linetype="CENTER") if i.kind == "circle" and i.radius > 150.0 else i
        for i in odd.sheet.items
    ]
    low = odd.frame.dimensions.ground_y
    odd.sheet.line((-900.0, low), (1200.0, low), "ground")
    return odd


def _open_tubes(rng: np.random.Generator) -> Odd:
    """Head and seat tube by their two edges alone, without a face at any end."""
    odd = _drawn(rng)
    odd.sheet.items[:] = [
        i
        for i in odd.sheet.items
        if i.part not in ("head_tube", "seat_tube") or i.kind != "line" or _length(i) >= 60.0
    ]
    return odd


def _tube_upright(rng: np.random.Generator) -> Odd:
    """The paper turned so that the seat tube or the head tube stands upright, or square on its side."""
    odd = _drawn(rng, str(rng.choice(["outline", "centre", "both"])))
    d = odd.frame.dimensions
    angle = float(rng.choice([d.seat_angle, d.head_angle]))
    return replace(odd, turn=float(rng.choice([90.0 - angle, angle - 90.0, angle])))


def _sketch(rng: np.random.Generator) -> Odd:
    """Centre-lines and tyres, no shell, no mark of an axle."""
    odd = _drawn(rng, "centre", "oblique", "axis_offset", "raked")
    odd.sheet.items[:] = [i for i in odd.sheet.items if i.kind != "circle" or i.radius > 100.0]
    return odd


def _overlong_stays(rng: np.random.Generator) -> Odd:
    """Stays as closed boxes that run on over the shell and over the seat tube."""
    odd = _drawn(rng)
    sheet = _without(odd, "chainstay", "seatstay")
    for name in ("chainstay", "seatstay"):
        p, q = tube_ends(odd.frame.dimensions)[name]
        u = _unit(p, q)
        (a, b), (c, e) = _edges(_go(p, u, 25.0), _go(q, u, 18.0), odd.frame.diameters[name])
        sheet.polyline([a, b, e, c], name, closed=True)
    return odd


def _cockpit(rng: np.random.Generator) -> Odd:
    """Quill, stem, bar, seatpost and saddle in outline, in line with their tubes."""
    odd = _drawn(rng)
    d, sheet = odd.frame.dimensions, odd.sheet
    ahead = (1.0, 0.1)
    for off in (-11.1, 11.1):
        foot = _go(d.head_tube_top, d.axis_up, 0.0, off)
        head = _go(d.head_tube_top, d.axis_up, 60.0, off)
        sheet.line(foot, head, "stem")
        sheet.line(head, _go(head, ahead, 110.0), "stem")
    for off in (-15.0, 15.0):
        low, high = (_go(d.head_tube_top, d.axis_up, t, off) for t in (0.0, 14.0))
        sheet.line(low, high, "stem")
    sheet.line(*(_go(d.head_tube_top, d.axis_up, 14.0, off) for off in (-15.0, 15.0)), "stem")
    sheet.circle(_go(_go(d.head_tube_top, d.axis_up, 70.0), ahead, 125.0), 15.9, "stem")
    for off in (-13.6, 13.6):
        low, high = (_go(d.seat_tube_top, d.seat_up, t, off) for t in (0.0, 160.0))
        sheet.line(low, high, "post")
    corners = [(160.0, -80.0), (160.0, 90.0), (190.0, 110.0), (185.0, -100.0)]
    sheet.polyline([_go(d.seat_tube_top, d.seat_up, *c) for c in corners], "saddle", closed=True)
    return odd


def _brakes(rng: np.random.Generator) -> Odd:
    """Rotors, cables along the tubes, stays of a mudguard, a lamp."""
    odd = _drawn(rng)
    d, sheet = odd.frame.dimensions, odd.sheet
    for axle in (d.rear_axle, d.front_axle):
        for radius in (80.0, 70.0, 22.0):
            sheet.circle(axle, radius, "disc")
    for name in ("down_tube", "top_tube", "chainstay"):
        p, q = tube_ends(d)[name]
        off = odd.frame.diameters[name] / 2 + float(rng.uniform(1.5, 4.0))
        sheet.line(_go(p, _unit(p, q), 40.0, off), _go(q, _unit(p, q), -30.0, off), "cable")
    for turn in (105.0, 125.0):
        out = (cos(radians(turn)), sin(radians(turn)))
        sheet.line(d.rear_axle, _go(d.rear_axle, out, d.wheel_radius_rear + 14.0), "guard")
    sheet.circle((d.fork_crown.x + 60.0, d.fork_crown.y + 30.0), 28.0, "lamp")
    return odd


ODDITIES: dict[str, Callable[[np.random.Generator], Odd]] = {
    "bare rear": _bare_rear,
    "bare front": _bare_front,
    "hidden ends": _hidden_ends,
    "fork detail": _fork_detail,
    "silhouette": _silhouette,
    "two sizes": _two_sizes,
    "dash-dotted wheels": _dash_dotted_wheels,
    "open tubes": _open_tubes,
    "tube upright": _tube_upright,
    "sketch": _sketch,
    "overlong stays": _overlong_stays,
    "cockpit": _cockpit,
    "brakes": _brakes,
}
