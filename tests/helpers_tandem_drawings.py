"""Random drawings of tandems: the tests' draughtsman draws a single bicycle for either rider, and what joins them.

    drawn = tandem_drawing(k)
    drawn.placed.drawing(), drawn.dimensions, drawn.places

None of droptrail's drawing code is used; the truth is where the tubes were put.
"""

from dataclasses import dataclass, replace
from math import cos, hypot, radians, sin

import numpy as np
from droptrail.converters.drawings.linework.plane import Vec
from droptrail.model.geometry.dimensions import FrameDimensions, Given, Point
from helpers_habits import (
    DrawnFrame,
    Habit,
    Item,
    Placed,
    Sheet,
    _cross,
    _edges,
    _go,
    _unit,
    draw,
    place,
    random_drawn_frame,
    tube_ends,
)

REAR = ("wheel_rear", "chainstay", "seatstay", "seat_tube", "bb_shell")
# Tubes of the plan, and the sheet's items for where they end.
ITEMS = {
    "stoker_top_tube": (
        "stoker_top_tube_on_stoker_seat_tube",
        "stoker_top_tube_on_captain_seat_tube",
    ),
    "lateral": ("lateral_on_captain_seat_tube",),
}


@dataclass(frozen=True)
class TandemDrawing:
    """dimensions : of the tandem. places : the plan's items that the drawing shows, mm."""

    dimensions: FrameDimensions
    places: dict[str, float]
    placed: Placed
    habit: Habit


def random_habit(rng: np.random.Generator) -> Habit:
    """One of the ways in which a side view is drawn, each habit by chance."""
    lines = str(rng.choice(["centre", "outline", "both", "pieces", "polyline", "chain"]))
    centre = lines not in ("outline", "both")
    return Habit(
        wheels=str(
            rng.choice(
                ["circle", "arcs", "spline", "polygon", "short_lines"], p=[0.6, 0.1, 0.1, 0.1, 0.1]
            )
        ),
        rims=bool(rng.random() < 0.4),
        axle_marks=str(rng.choice(["circle", "cross", "none"])),
        bb_mark=bool(rng.random() < 0.8),
        lines=lines,
        gaps=float(rng.choice([0.0, 0.0, 0.3])),
        overrun=float(rng.choice([0.0, 0.0, 12.0])) if lines == "centre" else 0.0,
        fork=str(rng.choice(["oblique", "raked", "axis_offset"])),
        stays=str(rng.choice(["straight", "straight", "arc", "bulge"])) if centre else "straight",
        extras=tuple(e for e in ("title", "seatpost") if rng.random() < 0.3),
        layers=str(rng.choice(["zero", "en", "de"])),
    )


def tandem_drawing(k: int, habit: Habit | None = None) -> TandemDrawing:
    """Drawing number k, anywhere on the sheet, facing any way."""
    rng = np.random.default_rng([2026, 18, k])
    habit = habit or random_habit(rng)
    while True:
        frame = random_drawn_frame(rng, str(rng.choice(["700C", "650B", "26"])))
        d = frame.dimensions
        boom = rng.uniform(640.0, 760.0)
        rise = float(rng.choice([0.0, 0.0, rng.uniform(-20.0, 20.0)]))
        stoker = _stoker(frame, rise, rng)
        places = _places(d, stoker.dimensions, boom, rise, rng)
        if places is not None:
            break
    # where the captain's seat tube is cut into pieces another tube joins it: there the stoker's top tube
    cut = d.top_tube_on_seat_tube - places["stoker_top_tube_on_captain_seat_tube"]
    frame = replace(frame, dimensions=replace(d, seatstay_below_top_tube=cut))
    # a chain of tubes runs through both brackets, and is drawn below
    single = replace(habit, lines="centre") if habit.lines == "chain" else habit
    sheet = draw(frame, single, rng)
    rear = draw(stoker, replace(single, extras=()), rng)
    move = (-boom, rise)
    kept = [
        item for item in sheet.items if item.part not in ("wheel_rear", "chainstay", "seatstay")
    ]
    sheet.items = kept + [_shifted(item, move) for item in rear.items if item.part in REAR]
    _join(sheet, frame, stoker, places, habit)
    if habit.lines == "chain":
        _chain(sheet, frame, stoker, move)
    order = rng.permutation(len(sheet.items))
    sheet.items = [sheet.items[int(n)] for n in order]
    placed = place(
        sheet,
        turn=float(rng.choice([0.0, rng.uniform(-180, 180)])),
        mirrored=bool(rng.random() < 0.3),
        scale=float(rng.choice([1.0, 1 / 25.4])),
        header=None,
        offset=(rng.uniform(-1e3, 1e3), rng.uniform(-1e3, 1e3)),
        layers=habit.layers,
    )
    dimensions = replace(
        d,
        chainstay=stoker.dimensions.chainstay,
        seatstay_below_top_tube=None,
        given=Given(0.0, Point(-boom, rise)),
    )
    return TandemDrawing(dimensions, places, placed, habit)


def _stoker(frame: DrawnFrame, rise: float, rng: np.random.Generator) -> DrawnFrame:
    """The stoker's half as a single bicycle on the same wheel: a lower frame with stays of its own."""
    d = frame.dimensions
    seat = d.seat_tube - rng.uniform(0.0, 90.0)
    own = replace(
        d,
        bb_drop=d.bb_drop - rise,
        seat_angle=d.seat_angle + rng.uniform(-1.5, 1.5),
        chainstay=rng.uniform(425.0, 480.0),
        seat_tube=seat,
        top_tube_on_seat_tube=seat - rng.uniform(15.0, 40.0),
        seatstay_below_top_tube=rng.uniform(0.0, 30.0),
    )
    # the fork belongs to the captain's half
    return replace(frame, dimensions=own)


def _places(
    captain: FrameDimensions,
    stoker: FrameDimensions,
    boom: float,
    rise: float,
    rng: np.random.Generator,
) -> dict[str, float] | None:
    """The plan's items; None where the tubes would run into each other."""
    top = stoker.seat_tube
    up = radians(stoker.seat_angle)
    low = captain.top_tube_on_seat_tube - rng.uniform(20.0, 60.0)
    found = {
        "boom_length": boom,
        "boom_rise": rise,
        "stoker_seat_behind": top * cos(up),
        "stoker_seat_height": top * sin(up),
        "stoker_top_tube_on_stoker_seat_tube": top - rng.uniform(30.0, 60.0),
        "stoker_top_tube_on_captain_seat_tube": low,
        "lateral_on_captain_seat_tube": rng.uniform(0.3, 0.55) * low,
        "seatstay_below_stoker_seat_top": top
        - stoker.top_tube_on_seat_tube
        + stoker.seatstay_below_top_tube,
    }
    room = (
        found["lateral_on_captain_seat_tube"] > 130.0
        and low - found["lateral_on_captain_seat_tube"] > 110.0
    )
    wheel = stoker.chainstay - captain.wheel_radius_rear > 40.0
    return found if room and wheel and top > 330.0 else None


def _shifted(item: Item, move: Vec) -> Item:
    return replace(item, points=tuple((x + move[0], y + move[1]) for x, y in item.points))


def _join(
    sheet: Sheet, frame: DrawnFrame, stoker: DrawnFrame, places: dict[str, float], habit: Habit
) -> None:
    """Boom, stoker's top tube, lateral and its part before the captain's seat tube."""
    d = frame.dimensions
    at = (-places["boom_length"], places["boom_rise"])
    captain_up = d.seat_up
    stoker_up = stoker.dimensions.seat_up
    node = _go((0.0, 0.0), captain_up, places["lateral_on_captain_seat_tube"])
    ends = {
        "boom_tube": (at, (0.0, 0.0)),
        "stoker_top_tube": (
            _go(at, stoker_up, places["stoker_top_tube_on_stoker_seat_tube"]),
            _go((0.0, 0.0), captain_up, places["stoker_top_tube_on_captain_seat_tube"]),
        ),
        "lateral": (at, node),
        "front_lateral": (node, d.down_tube_head_node),
    }
    widths = {"boom_tube": 38.0, "stoker_top_tube": 31.8, "lateral": 28.6, "front_lateral": 28.6}
    hosts = _hosts(frame, stoker, at)
    for name, (p, q) in ends.items():
        if habit.lines == "pieces":
            middle = _go(p, _unit(p, q), 0.4 * hypot(q[0] - p[0], q[1] - p[1]))
            sheet.line(p, middle, name)
            sheet.line(middle, q, name)
        elif habit.lines != "outline":
            sheet.line(p, q, name, "CENTER" if habit.lines == "both" else "")
        if habit.lines in ("outline", "both"):
            _outline(sheet, name, (p, q), widths[name], hosts)


def _chain(sheet: Sheet, frame: DrawnFrame, stoker: DrawnFrame, at: Vec) -> None:
    """Chainstay, boom and down tube as one line."""
    axle = stoker.dimensions.rear_axle
    chained = ("chainstay", "boom_tube", "down_tube")
    sheet.items = [item for item in sheet.items if item.part not in chained]
    corners = [
        (axle.x + at[0], axle.y + at[1]),
        at,
        (0.0, 0.0),
        frame.dimensions.down_tube_head_node,
    ]
    sheet.polyline(corners, "chainstay")


def _hosts(frame: DrawnFrame, stoker: DrawnFrame, at: Vec) -> dict[str, list[tuple[Vec, Vec]]]:
    """Edges of what the tubes between end at: the stoker's seat tube (front), the captain's (rear, front), the head."""
    ends = tube_ends(frame.dimensions)
    captain = _edges(*ends["seat_tube"], frame.diameters["seat_tube"])
    head = _edges(*ends["head_tube"], frame.diameters["head_tube"])
    own = _edges(*tube_ends(stoker.dimensions)["seat_tube"], frame.diameters["seat_tube"])
    moved = [tuple((x + at[0], y + at[1]) for x, y in edge) for edge in own]
    return {"stoker": moved, "captain": captain, "head": head}


def _outline(
    sheet: Sheet,
    name: str,
    ends: tuple[Vec, Vec],
    width: float,
    hosts: dict[str, list[tuple[Vec, Vec]]],
) -> None:
    """Two edges from host to host; at a shell they end some way outside it."""
    p, q = ends
    met = {
        "boom_tube": (None, None),
        "stoker_top_tube": (_front(hosts["stoker"]), _rear(hosts["captain"])),
        "lateral": (_front(hosts["stoker"]), _rear(hosts["captain"])),
        "front_lateral": (_front(hosts["captain"]), _rear(hosts["head"])),
    }[name]
    for a, b in _edges(p, q, width):
        u = _unit(a, b)
        start = _go(a, u, 6.0) if met[0] is None else _cross(a, u, met[0][0], _unit(*met[0]))
        end = _go(b, u, -6.0) if met[1] is None else _cross(b, u, met[1][0], _unit(*met[1]))
        sheet.line(start, end, name)


def _front(edges: list[tuple[Vec, Vec]]) -> tuple[Vec, Vec]:
    return max(edges, key=lambda edge: edge[0][0] + edge[1][0])


def _rear(edges: list[tuple[Vec, Vec]]) -> tuple[Vec, Vec]:
    return min(edges, key=lambda edge: edge[0][0] + edge[1][0])
