"""Random drawings of frames that are no plain diamond: the tests' draughtsman draws the diamond, this adds the rest.

    drawn = plan_drawing("mixte", k)
    drawn.placed.drawing(), drawn.frame.dimensions, drawn.tubes

None of droptrail's drawing code is used; the truth is where the tubes were put.
"""

from dataclasses import dataclass, replace
from math import hypot

import numpy as np
from droptrail.converters.drawings.linework.plane import Vec
from helpers_habits import (
    DrawnFrame,
    Habit,
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

KINDS = ("mixte", "brace", "second_top_tube", "step_through")
LINES = (
    Habit(),
    Habit(lines="outline"),
    Habit(lines="both"),
    Habit(lines="outline", broken_edges=True),
    Habit(lines="outline", fork="raked"),
    Habit(lines="pieces"),
)


@dataclass(frozen=True)
class Further:
    """A tube beyond the diamond: its ends in mm from the bottom bracket, and how far up the hosts they lie, mm."""

    name: str
    p: Vec
    q: Vec
    on: tuple[float, float]
    diameter: float


@dataclass(frozen=True)
class PlanDrawing:
    frame: DrawnFrame
    tubes: tuple[Further, ...]
    placed: Placed


def plan_drawing(kind: str, k: int) -> PlanDrawing:
    """Drawing number k of a kind of frame, anywhere on the sheet, facing any way."""
    rng = np.random.default_rng([sum(map(ord, kind)), k])
    habit = LINES[k % len(LINES)]
    while True:
        frame = random_drawn_frame(rng)
        tubes = _tubes(kind, frame, rng)
        if tubes:
            break
    # the draughtsman opens edges where the top tube would be; of a mixte only the laterals' own are open
    sheet = draw(frame, replace(habit, broken_edges=habit.broken_edges and kind != "mixte"), rng)
    if kind == "mixte":
        sheet.items = [item for item in sheet.items if item.part != "top_tube"]
    for tube in tubes:
        _draw_tube(sheet, tube, frame, habit, kind)
    placed = place(
        sheet,
        turn=float(rng.choice([0.0, rng.uniform(-180, 180)])),
        mirrored=bool(rng.random() < 0.3),
        scale=float(rng.choice([1.0, 1 / 25.4])),
        header=None,
        offset=(rng.uniform(-1e3, 1e3), rng.uniform(-1e3, 1e3)),
    )
    return PlanDrawing(frame, tubes, placed)


def _tubes(kind: str, frame: DrawnFrame, rng: np.random.Generator) -> tuple[Further, ...]:
    """The further tubes of such a frame; none where they would not fit into it."""
    d = frame.dimensions
    ends = tube_ends(d)
    seat = _unit(*ends["seat_tube"])
    down = _unit(*ends["down_tube"])
    length = hypot(*ends["down_tube"][1])
    axis = _unit(d.head_tube_top, d.head_tube_bottom)
    if kind == "mixte":
        below = rng.uniform(0.2, 0.6) * d.head_tube
        od = rng.uniform(14.0, 19.0)
        return (Further("lateral", _go(d.head_tube_top, axis, below), d.rear_axle, (below, 0), od),)
    if kind == "second_top_tube":
        up = d.top_tube_on_seat_tube - rng.uniform(80.0, 200.0)
        below = d.top_tube_below_head_top + rng.uniform(35.0, 70.0)
        if up < 120.0 or d.head_tube - below - d.down_tube_above_head_bottom < 35.0:
            return ()
        p = _go((0, 0), seat, up)
        q = _go(d.head_tube_top, axis, below)
        return (Further("second_top_tube", p, q, (up, below), rng.uniform(22.0, 28.6)),)
    up = rng.uniform(0.35, 0.6) * d.top_tube_on_seat_tube
    out = rng.uniform(0.3, 0.7) * length
    p = _go((0, 0), seat, up)
    q = _go((0, 0), down, out)
    if kind == "step_through" and d.top_tube_on_seat_tube > 0.75 * d.seat_tube:
        return ()
    return (Further("brace", p, q, (up, out), rng.uniform(16.0, 22.0)),)


def _draw_tube(sheet: Sheet, t: Further, frame: DrawnFrame, habit: Habit, kind: str) -> None:
    ends = tube_ends(frame.dimensions)
    od = frame.diameters
    if habit.lines != "outline":
        sheet.line(t.p, t.q, t.name)
    if habit.lines not in ("outline", "both"):
        return
    head = _edges(*ends["head_tube"], od["head_tube"])
    seat = _edges(*ends["seat_tube"], od["seat_tube"])
    down = _edges(*ends["down_tube"], od["down_tube"])
    for p, q in _edges(t.p, t.q, t.diameter):
        u = _unit(p, q)
        if kind == "mixte":
            start = _cross(p, u, head[0][0], _unit(*head[0]))
            end = _go(q, u, -34.0)
            if habit.broken_edges:
                # laterals that pass the seat tube behind it: their edges are left open there
                for side, (a, b) in ((1, (start, None)), (0, (None, end))):
                    at = _cross(p, u, seat[side][0], _unit(*seat[side]))
                    sheet.line(a or at, b or at, t.name)
                continue
        else:
            start = _cross(p, u, seat[1][0], _unit(*seat[1]))
            host = head[0] if kind == "second_top_tube" else down[0]
            end = _cross(p, u, host[0], _unit(*host))
        sheet.line(start, end, t.name)
