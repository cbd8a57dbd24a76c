"""Random frames drawn with random habits: the tests' own draughtsman, for drawings nobody tuned the reader to.

    frame = random_drawn_frame(rng)              # dimensions and tube diameters
    sheet = draw(frame, Habit(lines="outline", fork="raked"), rng)
    placed = place(sheet, rng, mirrored=True, turn=33.0)
    placed.drawing()                             # plain curves, or
    placed.dxf("R2000")                          # the same as DXF text (tests/helpers_dxf.py)

Everything is drawn in the bicycle's own millimetres and moved at the end.
"""

from dataclasses import dataclass, field, replace
from itertools import pairwise
from math import atan2, cos, degrees, hypot, pi, radians, sin, tan

import numpy as np
from droptrail.converters.drawings.drawing import Curve, Drawing, Note
from droptrail.converters.drawings.linework.plane import Vec
from droptrail.model.errors import ModelError
from droptrail.model.geometry.dimensions import FrameDimensions
from helpers_dxf import DxfText

WHEELS = {
    "700C": (335.0, 370.0, 311.0),
    "650B": (320.0, 355.0, 292.0),
    "26": (310.0, 340.0, 279.5),
    "20": (225.0, 262.0, 203.0),
}
DROP = {"700C": (50.0, 85.0), "650B": (40.0, 70.0), "26": (15.0, 50.0), "20": (-45.0, 15.0)}


@dataclass(frozen=True)
class DrawnFrame:
    """A frame and what a drawing of it shows besides its dimensions, mm."""

    dimensions: FrameDimensions
    diameters: dict[str, float]
    rims: tuple[float, float]
    kind: str = ""


def random_drawn_frame(rng: np.random.Generator, kind: str | None = None) -> DrawnFrame:
    """A plausible frame of one of the wheel sizes; 20-inch ones have wheels of different size."""
    while True:
        name = kind or str(rng.choice(list(WHEELS)))
        frame = _try_frame(rng, name)
        if frame is not None:
            return frame


def _try_frame(rng: np.random.Generator, name: str) -> DrawnFrame | None:
    low, high, rim = WHEELS[name]
    rear = rng.uniform(low, high)
    front = rng.uniform(low, high) if name == "20" or rng.random() < 0.15 else rear
    head_angle = rng.uniform(60.0, 75.0)
    head = rng.uniform(70.0, 220.0)
    below, above = rng.uniform(10.0, 45.0), rng.uniform(10.0, 45.0)
    seat_tube = rng.uniform(330.0, 600.0)
    step_through = rng.random() < 0.2
    on_seat = (
        seat_tube * rng.uniform(0.5, 0.7) if step_through else seat_tube - rng.uniform(5.0, 60.0)
    )
    values = {
        "reach": rng.uniform(330.0, 470.0),
        "head_angle": head_angle,
        "seat_angle": rng.uniform(68.0, 77.0),
        "bb_drop": rng.uniform(*DROP[name]),
        "chainstay": rng.uniform(395.0, 480.0),
        "head_tube": head,
        "lower_stack": float(rng.choice([0.0, 1.5, rng.uniform(5.0, 30.0)])),
        "fork_length": front + rng.uniform(28.0, 95.0),
        "fork_offset": rng.uniform(30.0, 75.0),
        "wheel_radius_front": front,
        "wheel_radius_rear": rear,
        "seat_tube": seat_tube,
        "top_tube_on_seat_tube": on_seat,
        "top_tube_below_head_top": below,
        "down_tube_above_head_bottom": above,
        "seatstay_below_top_tube": -rng.uniform(0.0, 60.0)
        if step_through
        else rng.uniform(0.0, 60.0),
    }
    try:
        d = FrameDimensions(**values)
    except ModelError:
        return None
    diameters = {
        "head_tube": rng.uniform(34, 50),
        "top_tube": rng.uniform(25, 38),
        "down_tube": rng.uniform(28, 44),
        "seat_tube": rng.uniform(26, 36),
        "chainstay": rng.uniform(16, 24),
        "seatstay": rng.uniform(12, 19),
        "fork_blade": rng.uniform(22, 32),
        "bb_shell": rng.uniform(38, 46),
    }
    return DrawnFrame(d, diameters, (rim, rim), name) if _drawable(d, diameters) else None


def _drawable(d: FrameDimensions, od: dict[str, float]) -> bool:
    """Tubes do not run into each other or into a wheel, and the frame looks like one."""
    tt, dt, head = d.seat_tube_top_tube_node, d.down_tube_head_node, d.top_tube_head_node
    apart = d.head_tube - d.top_tube_below_head_top - d.down_tube_above_head_bottom
    slope = degrees(atan2(head.y - tt.y, head.x - tt.x))
    down = degrees(atan2(dt.y, dt.x))
    clear = hypot(d.front_axle.x, d.front_axle.y) - d.wheel_radius_front
    stays = hypot(d.rear_axle.x, d.rear_axle.y) - d.wheel_radius_rear
    return (
        apart > 0.6 * (od["top_tube"] + od["down_tube"])
        and -8 < slope < 38
        and 28 < down < 62
        and clear > 140
        and stays > 25
        and d.front_axle.x - d.rear_axle.x > d.wheel_radius_front + d.wheel_radius_rear + 40
        and d.seat_tube_seatstay_node.y > d.rear_axle.y + 100
    )


# --- the sheet --------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Item:
    """One drawn thing: line/polyline (points, bulges), circle or arc (centre, radius, angles), spline (control)."""

    kind: str
    points: tuple[Vec, ...]
    part: str
    radius: float = 0.0
    start: float = 0.0
    end: float = 360.0
    bulges: tuple[float, ...] = ()
    closed: bool = False
    linetype: str = ""


@dataclass
class Sheet:
    """What has been drawn so far, in mm of the bicycle's axes; `part` says what each item is meant as."""

    items: list[Item] = field(default_factory=list)
    notes: list[tuple[str, Vec]] = field(default_factory=list)

    def line(self, p: Vec, q: Vec, part: str, linetype: str = "") -> None:
        self.items.append(Item("line", (tuple(p), tuple(q)), part, linetype=linetype))

    def polyline(
        self, points: list[Vec], part: str, bulges: tuple[float, ...] = (), closed: bool = False
    ) -> None:
        self.items.append(
            Item("polyline", tuple(tuple(p) for p in points), part, bulges=bulges, closed=closed)
        )

    def circle(self, centre: Vec, radius: float, part: str) -> None:
        self.items.append(Item("circle", (tuple(centre),), part, radius))

    def arc(self, centre: Vec, radius: float, start: float, end: float, part: str) -> None:
        self.items.append(Item("arc", (tuple(centre),), part, radius, start, end))

    def spline(self, control: list[Vec], part: str) -> None:
        self.items.append(Item("spline", tuple(tuple(p) for p in control), part))


@dataclass(frozen=True)
class Habit:
    """How the draughtsman works. Every field is one habit; the defaults are the clean, plain ones."""

    wheels: str = "circle"  # circle arcs spline polygon short_lines
    rims: bool = False
    axle_marks: str = "circle"  # circle cross none
    bb_mark: bool = True
    lines: str = "centre"  # centre outline boxes both chain loop pieces polyline
    broken_edges: bool = False
    gaps: float = 0.0  # ends move by up to this along their line
    jitter: float = 0.0  # ends move by up to this in any direction
    overrun: float = 0.0  # centre-lines run on past their nodes by about this
    fork: str = "oblique"  # oblique axis_offset raked curve chained
    stays: str = "straight"  # straight arc bulge
    repeated: bool = False  # some lines drawn twice
    extras: tuple[
        str, ...
    ] = ()  # construction second_view rider title rings spokes dimensions seatpost fillets
    layers: str = "zero"  # zero en de fr es it


def draw(frame: DrawnFrame, habit: Habit, rng: np.random.Generator) -> Sheet:
    """The side view as someone with this habit would draw it."""
    sheet = Sheet()
    _wheels(sheet, frame, habit, rng)
    if habit.lines in ("outline", "both"):
        _outlines(sheet, frame, habit)
    if habit.lines == "boxes":
        _boxes(sheet, frame)
    elif habit.lines != "outline":
        _centre_lines(sheet, frame, habit, rng)
    for extra in habit.extras:
        EXTRAS[extra](sheet, frame, rng)
    if habit.repeated:
        again = [i for i in sheet.items if i.kind == "line"]
        sheet.items += [
            again[int(k)] for k in rng.choice(len(again), min(3, len(again)), replace=False)
        ]
    return sheet


def _unit(p: Vec, q: Vec) -> Vec:
    length = hypot(q[0] - p[0], q[1] - p[1])
    return ((q[0] - p[0]) / length, (q[1] - p[1]) / length)


def _go(p: Vec, u: Vec, along: float, left: float = 0.0) -> Vec:
    return (p[0] + along * u[0] - left * u[1], p[1] + along * u[1] + left * u[0])


# --- wheels ---------------------------------------------------------------------------------------------


def _wheels(sheet: Sheet, frame: DrawnFrame, habit: Habit, rng: np.random.Generator) -> None:
    d = frame.dimensions
    for name, axle, radius, rim in (
        ("wheel_rear", d.rear_axle, d.wheel_radius_rear, frame.rims[1]),
        ("wheel_front", d.front_axle, d.wheel_radius_front, frame.rims[0]),
    ):
        _round(sheet, axle, radius, habit.wheels, name, rng)
        if habit.rims:
            _round(sheet, axle, min(rim, radius - 18.0), habit.wheels, name, rng)
        if habit.axle_marks == "circle":
            sheet.circle(axle, 5.0, name)
        elif habit.axle_marks == "cross":
            sheet.line(_go(axle, (1.0, 0.0), -12.0), _go(axle, (1.0, 0.0), 12.0), name)
            sheet.line(_go(axle, (0.0, 1.0), -12.0), _go(axle, (0.0, 1.0), 12.0), name)
    if habit.bb_mark:
        sheet.circle((0.0, 0.0), frame.diameters["bb_shell"] / 2, "bb_shell")


def _round(sheet: Sheet, c: Vec, r: float, how: str, part: str, rng: np.random.Generator) -> None:
    turn = rng.uniform(0.0, 90.0)
    if how == "circle":
        sheet.circle(c, r, part)
    elif how == "arcs":
        for k in range(4):
            sheet.arc(c, r, turn + 90 * k, turn + 90 * (k + 1), part)
    elif how == "spline":
        for k in range(4):
            sheet.spline(_quarter(c, r, radians(turn + 90 * k), pi / 2), part)
    else:
        n = int(rng.integers(48, 120))
        corners = [
            _go(c, (1.0, 0.0), r * cos(2 * pi * k / n + turn), r * sin(2 * pi * k / n + turn))
            for k in range(n)
        ]
        if how == "polygon":
            sheet.polyline(corners, part, closed=True)
        else:
            for a, b in zip(corners, corners[1:] + corners[:1], strict=True):
                sheet.line(a, b, part)


def _quarter(c: Vec, r: float, start: float, turn: float) -> list[Vec]:
    """Control points of the cubic that stands for a circular arc (as drawing programs write it)."""
    k = 4 / 3 * tan(turn / 4)
    a, b = start, start + turn
    p, q = (c[0] + r * cos(a), c[1] + r * sin(a)), (c[0] + r * cos(b), c[1] + r * sin(b))
    return [
        p,
        (p[0] - k * r * sin(a), p[1] + k * r * cos(a)),
        (q[0] + k * r * sin(b), q[1] - k * r * cos(b)),
        q,
    ]


# --- centre-lines ---------------------------------------------------------------------------------------


def tube_ends(d: FrameDimensions) -> dict[str, tuple[Vec, Vec]]:
    return {
        "seat_tube": (d.bottom_bracket, d.seat_tube_top),
        "down_tube": (d.bottom_bracket, d.down_tube_head_node),
        "top_tube": (d.seat_tube_top_tube_node, d.top_tube_head_node),
        "chainstay": (d.rear_axle, d.bottom_bracket),
        "seatstay": (d.rear_axle, d.seat_tube_seatstay_node),
        "head_tube": (d.head_tube_bottom, d.head_tube_top),
    }


def _centre_lines(sheet: Sheet, frame: DrawnFrame, habit: Habit, rng: np.random.Generator) -> None:
    d = frame.dimensions
    ends = tube_ends(d)
    curved = {"seatstay"} if habit.stays != "straight" else set()
    chains = {"chain": {"chainstay", "down_tube"}, "loop": {"down_tube", "top_tube", "seat_tube"}}
    chained = chains.get(habit.lines, set())
    for name, (p, q) in ends.items():
        if name in curved or name in chained or (name == "head_tube" and habit.fork == "chained"):
            continue
        if name != "head_tube" or habit.lines == "both":
            p, q = _sloppy(p, q, habit, rng, name)
        _straight(sheet, p, q, name, habit, rng, d)
    if habit.lines == "chain":
        sheet.polyline([ends["chainstay"][0], (0.0, 0.0), ends["down_tube"][1]], "chainstay")
    elif (
        habit.lines == "loop"
    ):  # the main triangle as one closed polyline, the seat tube's stub apart
        corners = [
            (0.0, 0.0),
            d.seat_tube_top_tube_node,
            d.top_tube_head_node,
            d.down_tube_head_node,
        ]
        sheet.polyline(corners, "down_tube", closed=True)
        sheet.line(d.seat_tube_top_tube_node, d.seat_tube_top, "seat_tube")
    if curved:
        _curved_stay(sheet, *ends["seatstay"], habit)
    FORKS[habit.fork](sheet, d, habit, rng)


def _sloppy(p: Vec, q: Vec, habit: Habit, rng: np.random.Generator, name: str) -> tuple[Vec, Vec]:
    """Ends moved along the line: a gap or overshoot, or run on past the node as centre-lines are."""
    u = _unit(p, q)
    a, b = (rng.uniform(-habit.gaps, habit.gaps) for _ in range(2))
    if habit.overrun:
        a, b = (habit.overrun * rng.uniform(0.6, 1.4) for _ in range(2))
    if name == "seat_tube" and habit.lines != "both":
        b = 0.0
    return _jittered(_go(p, u, -a), habit, rng), _jittered(_go(q, u, b), habit, rng)


def _jittered(p: Vec, habit: Habit, rng: np.random.Generator) -> Vec:
    r, t = habit.jitter * rng.random(), rng.uniform(0, 2 * pi)
    return (p[0] + r * cos(t), p[1] + r * sin(t))


def _straight(
    sheet: Sheet,
    p: Vec,
    q: Vec,
    name: str,
    habit: Habit,
    rng: np.random.Generator,
    d: FrameDimensions,
) -> None:
    linetype = "CENTER" if habit.lines == "both" else ""
    if habit.lines == "polyline":
        middle = _go(p, _unit(p, q), hypot(q[0] - p[0], q[1] - p[1]) * rng.uniform(0.2, 0.8))
        sheet.polyline([p, middle, q], name)
    elif habit.lines == "pieces":
        cuts = {
            "seat_tube": (d.seat_tube_seatstay_node, d.seat_tube_top_tube_node),
            "head_tube": (d.down_tube_head_node, d.top_tube_head_node),
        }.get(name, ())
        cuts = cuts or (_go(p, _unit(p, q), 0.4 * hypot(q[0] - p[0], q[1] - p[1])),)
        stops = sorted([p, *cuts, q], key=lambda s: hypot(s[0] - p[0], s[1] - p[1]))
        for a, b in pairwise(stops):
            if hypot(b[0] - a[0], b[1] - a[1]) > 1.0:
                sheet.line(a, b, name)
    else:
        sheet.line(p, q, name, linetype)


def _curved_stay(sheet: Sheet, p: Vec, q: Vec, habit: Habit) -> None:
    sagitta = 14.0
    if habit.stays == "bulge":
        sheet.polyline(
            [p, q], "seatstay", bulges=(2 * sagitta / hypot(q[0] - p[0], q[1] - p[1]), 0.0)
        )
        return
    half = hypot(q[0] - p[0], q[1] - p[1]) / 2
    radius = (half**2 + sagitta**2) / (2 * sagitta)
    middle, u = ((p[0] + q[0]) / 2, (p[1] + q[1]) / 2), _unit(p, q)
    centre = _go(middle, u, 0.0, radius - sagitta)
    angles = [degrees(atan2(e[1] - centre[1], e[0] - centre[0])) for e in (p, q)]
    sheet.arc(centre, radius, angles[0], angles[1], "seatstay")


# --- forks ----------------------------------------------------------------------------------------------


def _fork_oblique(sheet: Sheet, d: FrameDimensions, habit: Habit, rng: np.random.Generator) -> None:
    p, q = d.front_axle, d.fork_crown
    u = _unit(p, q)
    a, b = (rng.uniform(-habit.gaps, habit.gaps) for _ in range(2))
    if habit.overrun:
        a, b = (habit.overrun * rng.uniform(0.6, 1.4) for _ in range(2))
    p, q = _jittered(_go(p, u, -a), habit, rng), _jittered(_go(q, u, b), habit, rng)
    sheet.line(p, q, "fork", "CENTER" if habit.lines == "both" else "")


def _fork_axis(sheet: Sheet, d: FrameDimensions, habit: Habit, rng: np.random.Generator) -> None:
    sheet.line(d.fork_crown, d.fork_offset_foot, "fork")
    sheet.line(d.fork_offset_foot, d.front_axle, "fork")


def _raked(d: FrameDimensions) -> tuple[Vec, Vec, Vec, float]:
    """Straight part from the crown, then an arc tangent to the axis that ends at the axle."""
    drop = min(170.0, 0.45 * d.fork_length)
    bend = d.fork_offset_foot.along(d.axis_up, drop)
    radius = (drop**2 + d.fork_offset**2) / (2 * d.fork_offset)
    return d.fork_crown, bend, d.front_axle, radius


def _fork_raked(sheet: Sheet, d: FrameDimensions, habit: Habit, rng: np.random.Generator) -> None:
    crown, bend, axle, radius = _raked(d)
    chord = hypot(axle[0] - bend[0], axle[1] - bend[1])
    half_turn = np.arcsin(chord / (2 * radius))
    if rng.random() < 0.5:  # the blade bends forward: to the left of downwards
        sheet.polyline([crown, bend, axle], "fork", bulges=(0.0, tan(half_turn / 2), 0.0))
        return
    sheet.line(crown, bend, "fork")
    centre = (bend[0] + radius * d.axis_forward[0], bend[1] + radius * d.axis_forward[1])
    angles = [degrees(atan2(e[1] - centre[1], e[0] - centre[0])) for e in (bend, axle)]
    sheet.arc(centre, radius, angles[0], angles[1], "fork")


def _fork_curve(sheet: Sheet, d: FrameDimensions, habit: Habit, rng: np.random.Generator) -> None:
    crown, foot = d.fork_crown, d.fork_offset_foot
    sheet.spline(
        [
            crown,
            crown.along(d.axis_up, -0.45 * d.fork_length),
            foot.along(d.axis_up, 0.2 * d.fork_length),
            d.front_axle,
        ],
        "fork",
    )


def _fork_chained(sheet: Sheet, d: FrameDimensions, habit: Habit, rng: np.random.Generator) -> None:
    """Head tube and fork as one polyline: the fork begins where the head tube ends only if there is no stack."""
    if d.lower_stack == 0.0:
        sheet.polyline([d.head_tube_top, d.head_tube_bottom, d.front_axle], "head_tube")
    else:
        sheet.line(d.head_tube_bottom, d.head_tube_top, "head_tube")
        sheet.polyline([d.fork_crown, d.front_axle], "fork")


FORKS = {
    "oblique": _fork_oblique,
    "axis_offset": _fork_axis,
    "raked": _fork_raked,
    "curve": _fork_curve,
    "chained": _fork_chained,
}


# --- outlines -------------------------------------------------------------------------------------------


def _cross(p: Vec, u: Vec, q: Vec, v: Vec) -> Vec:
    det = u[0] * v[1] - u[1] * v[0]
    return _go(p, u, ((q[0] - p[0]) * v[1] - (q[1] - p[1]) * v[0]) / det)


def _edges(p: Vec, q: Vec, diameter: float) -> tuple[tuple[Vec, Vec], tuple[Vec, Vec]]:
    """Left and right edge of a tube from p to q."""
    u = _unit(p, q)
    return tuple(
        (_go(p, u, 0.0, s * diameter / 2), _go(q, u, 0.0, s * diameter / 2)) for s in (1, -1)
    )


def _outlines(sheet: Sheet, frame: DrawnFrame, habit: Habit) -> None:
    d, od = frame.dimensions, frame.diameters
    ends = tube_ends(d)
    seat, head = (
        _edges(*ends["seat_tube"], od["seat_tube"]),
        _edges(*ends["head_tube"], od["head_tube"]),
    )
    top = _trimmed(_edges(*ends["top_tube"], od["top_tube"]), seat[1], head[0])
    down = _trimmed(
        _edges(*ends["down_tube"], od["down_tube"]), None, head[0], shell=od["bb_shell"] / 2
    )
    chain = _trimmed(
        _edges(*ends["chainstay"], od["chainstay"]),
        None,
        None,
        short=34.0,
        shell=od["bb_shell"] / 2,
        shell_at_end=True,
    )
    stay = _trimmed(_edges(*ends["seatstay"], od["seatstay"]), None, seat[0], short=30.0)
    seat = tuple((_go(p, _unit(p, q), 0.9 * od["bb_shell"] / 2), q) for p, q in seat)
    _edge_pair(sheet, "seat_tube", seat, habit, {0: (stay,), 1: (top,)}, cap=(False, True))
    _edge_pair(sheet, "head_tube", head, habit, {0: (top, down)}, cap=(True, True))
    for name, pair, cap in (
        ("top_tube", top, (False, False)),
        ("down_tube", down, (False, False)),
        ("chainstay", chain, (True, False)),
        ("seatstay", stay, (True, False)),
    ):
        _edge_pair(sheet, name, pair, habit, {}, cap)
    _fork_outline(sheet, d, od["fork_blade"], habit)


def _trimmed(edges, start, end, short: float = 0.0, shell: float = 0.0, shell_at_end: bool = False):
    """Edges cut by the edge lines they run into, at a dropout, or at the shell's circle."""
    out = []
    for p, q in edges:
        u = _unit(p, q)
        p = _go(p, u, short) if short else p
        if start is not None:
            p = _cross(p, u, start[0], _unit(*start))
        if end is not None:
            q = _cross(p, u, end[0], _unit(*end))
        if shell:
            off = -u[0] * p[1] + u[1] * p[0]
            foot = -(p[0] * u[0] + p[1] * u[1])
            half = (shell**2 - min(off**2, shell**2)) ** 0.5
            p, q = (p, _go(p, u, foot - half)) if shell_at_end else (_go(p, u, foot + half), q)
        out.append((p, q))
    return tuple(out)


def _edge_pair(
    sheet: Sheet, name: str, pair, habit: Habit, meets: dict, cap: tuple[bool, bool]
) -> None:
    for side, (p, q) in enumerate(pair):
        if habit.broken_edges and side in meets:
            _broken(sheet, name, p, q, meets[side])
        else:
            sheet.line(p, q, name)
    for end, drawn in enumerate(cap):
        if drawn:
            sheet.line(pair[0][end], pair[1][end], name)


def _broken(sheet: Sheet, name: str, p: Vec, q: Vec, joining) -> None:
    """An edge left open where other tubes run into it, between the two edges of each."""
    u = _unit(p, q)
    length = hypot(q[0] - p[0], q[1] - p[1])
    openings = []
    for tube in joining:
        on = [
            u[0] * (e[0] - p[0]) + u[1] * (e[1] - p[1])
            for edge in tube
            for e in edge
            if abs(u[0] * (e[1] - p[1]) - u[1] * (e[0] - p[0])) < 1e-6
        ]
        openings.append((min(on), max(on)))
    at = 0.0
    for low, high in [*sorted(openings), (length, length)]:
        if low - at > 0.5:
            sheet.line(_go(p, u, at), _go(p, u, min(low, length)), name)
        at = max(at, high)


def _boxes(sheet: Sheet, frame: DrawnFrame) -> None:
    """Every tube as a closed rectangle from node to node, nothing trimmed."""
    d = frame.dimensions
    ends = tube_ends(d) | {"fork": (d.front_axle, d.fork_crown)}
    for name, (p, q) in ends.items():
        (a, b), (c, e) = _edges(p, q, frame.diameters["fork_blade" if name == "fork" else name])
        sheet.polyline([a, b, e, c], name, closed=True)


def _fork_outline(sheet: Sheet, d: FrameDimensions, diameter: float, habit: Habit) -> None:
    """Tapered blade: straight from crown to axle, or raked, open at a tip short of the axle."""
    if habit.fork in ("raked", "curve"):
        _raked_outline(sheet, d, diameter)
        return
    u = _unit(d.fork_crown, d.front_axle)
    tip = _go(d.front_axle, u, -17.0)
    tops, tips = [], []
    for s in (1, -1):
        low = _go(tip, u, 0.0, s * 7.0)
        top = _go(d.fork_crown, u, 0.0, s * diameter / 2)
        high = _cross(top, _unit(low, top), d.fork_crown, d.axis_forward)
        tops.append(high)
        tips.append(low)
        sheet.line(high, low, "fork")
    sheet.line(tops[0], tops[1], "fork")
    sheet.line(tips[0], tips[1], "fork")


def _raked_outline(sheet: Sheet, d: FrameDimensions, diameter: float) -> None:
    crown, bend, axle, radius = _raked(d)
    n = d.axis_forward
    centre = (bend[0] + radius * n[0], bend[1] + radius * n[1])
    angles = [degrees(atan2(e[1] - centre[1], e[0] - centre[0])) for e in (bend, axle)]
    for s in (1, -1):
        shift = s * diameter / 2
        sheet.line(_go(crown, n, shift), _go(bend, n, shift), "fork")
        sheet.arc(centre, radius - shift, angles[0], angles[1] - 4.0, "fork")
    sheet.line(_go(crown, n, -diameter / 2), _go(crown, n, diameter / 2), "fork")


# --- what else is on the sheet ---------------------------------------------------------------------------


def _construction(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    d = frame.dimensions
    foot = d.head_tube_top.along(d.axis_up, 50.0)
    ground = (foot.y - d.ground_y) / d.axis_up[1]
    sheet.line(foot, foot.along(d.axis_up, -ground), "construction")
    sheet.line(d.fork_offset_foot, d.front_axle, "construction")
    sheet.line((-900.0, d.ground_y), (1000.0, d.ground_y), "construction")
    sheet.line(d.rear_axle, d.front_axle, "construction")


def _second_view(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    d = frame.dimensions
    x = d.front_axle.x + 500.0
    for s in (-21.0, 21.0):
        sheet.line(
            (x + s, d.ground_y + 20),
            (x + s, d.ground_y + 2 * d.wheel_radius_front - 20),
            "second_view",
        )
        sheet.line((x + s, d.head_tube_bottom.y), (x + s, d.head_tube_top.y), "second_view")
        sheet.line((x + 1.8 * s, d.fork_crown.y), (x + 2.5 * s, d.front_axle.y), "second_view")
    sheet.arc((x, d.ground_y + 20), 21.0, 180.0, 360.0, "second_view")
    sheet.circle((x, 0.0), 20.0, "second_view")


def _rider(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    d = frame.dimensions
    hip, hand = (
        (d.seat_tube_top.x - 60.0, d.seat_tube_top.y + 330.0),
        (d.head_tube_top.x + 90, d.head_tube_top.y + 60),
    )
    shoulder = (hip[0] + 380.0, hip[1] + 380.0)
    sheet.polyline([hip, shoulder, hand], "rider")
    sheet.polyline([hip, (hip[0] + 400.0, hip[1] - 150.0), (150.0, -60.0)], "rider")
    sheet.circle((shoulder[0] + 90.0, shoulder[1] + 160.0), 112.0, "rider")


def _title(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    low, left = frame.dimensions.ground_y - 320.0, -900.0
    for inset in (0.0, 30.0):
        sheet.polyline(
            [
                (left + inset, low + inset),
                (1300 - inset, low + inset),
                (1300 - inset, 1300 - inset),
                (left + inset, 1300 - inset),
            ],
            "title",
            closed=True,
        )
    for k in range(4):
        sheet.line((500.0, low + 30 + 50 * k), (1270.0, low + 30 + 50 * k), "title")
    sheet.notes.append(("Zeichnung 12, erfundenes Rad", (520.0, low + 60.0)))


def _rings(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    d = frame.dimensions
    sheet.circle((0.0, 0.0), 94.0, "components")
    sheet.circle((0.0, 0.0), 12.0, "components")
    for axle, radii in ((d.rear_axle, (46.0, 80.0)), (d.front_axle, (80.0, 19.0))):
        for r in radii:
            sheet.circle(axle, r, "components")
    sheet.line((0.0, 0.0), (134.0, -105.0), "components")
    sheet.circle((134.0, -105.0), 7.0, "components")
    sheet.line((12.0, 93.0), (d.rear_axle.x + 5.0, d.rear_axle.y + 46.0), "components")
    sheet.line((-12.0, -93.0), (d.rear_axle.x - 5.0, d.rear_axle.y - 46.0), "components")


def _spokes(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    d = frame.dimensions
    for axle, rim in ((d.rear_axle, frame.rims[1]), (d.front_axle, frame.rims[0])):
        turn = rng.uniform(0, 1)
        for k in range(32):
            u = (cos(2 * pi * k / 32 + turn), sin(2 * pi * k / 32 + turn))
            sheet.line(_go(axle, u, 24.0), _go(axle, u, rim), "components")


def _dimensions(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    """Dimensions exploded to lines: extension lines and a dimension line beside the chainstay and head tube."""
    ends = tube_ends(frame.dimensions)
    for name, side in (("chainstay", -70.0), ("head_tube", -95.0), ("seat_tube", 110.0)):
        p, q = ends[name]
        u = _unit(p, q)
        sheet.line(_go(p, u, 0.0, side), _go(q, u, 0.0, side), "dimensions")
        for end in (p, q):
            sheet.line(_go(end, u, 0.0, 0.1 * side), _go(end, u, 0.0, 1.08 * side), "dimensions")


def _seatpost(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    d = frame.dimensions
    saddle = d.seat_tube_top.along(d.seat_up, 180.0)
    sheet.line(d.seat_tube_top, saddle, "components")
    sheet.line((saddle.x - 120.0, saddle.y), (saddle.x + 150.0, saddle.y - 5.0), "components")
    sheet.line(
        d.head_tube_top.along(d.axis_up, 35.0),
        d.head_tube_top.along(d.axis_up, 35.0).along((0.97, 0.24), 95.0),
        "components",
    )


def _clearance(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    """Mudguards: dashed circles outside the tyres."""
    d = frame.dimensions
    for axle, radius in ((d.rear_axle, d.wheel_radius_rear), (d.front_axle, d.wheel_radius_front)):
        sheet.items.append(
            Item("circle", (tuple(axle),), "components", radius + 9.0, linetype="DASHED")
        )


def _clutter(sheet: Sheet, frame: DrawnFrame, rng: np.random.Generator) -> None:
    """Bosses, eyelets, cable stops, a dropout, a name on the down tube as short strokes."""
    d = frame.dimensions
    ends = tube_ends(d)
    for name, at in (
        ("down_tube", 0.4),
        ("down_tube", 0.5),
        ("seat_tube", 0.35),
        ("seatstay", 0.7),
    ):
        p, q = ends[name]
        sheet.circle((p[0] + at * (q[0] - p[0]), p[1] + at * (q[1] - p[1])), 3.0, "components")
    for axle in (d.rear_axle, d.front_axle):
        sheet.circle((axle.x + 9.0, axle.y + 14.0), 2.5, "components")
    sheet.polyline(
        [
            (d.rear_axle.x - 12, d.rear_axle.y - 22),
            (d.rear_axle.x + 30, d.rear_axle.y - 8),
            (d.rear_axle.x + 22, d.rear_axle.y + 28),
            (d.rear_axle.x - 10, d.rear_axle.y + 14),
        ],
        "components",
        closed=True,
    )
    for _ in range(60):
        p = (rng.uniform(60.0, 330.0), rng.uniform(60.0, 380.0))
        sheet.line(p, (p[0] + rng.uniform(-9, 9), p[1] + rng.uniform(-9, 9)), "text")


EXTRAS = {
    "clearance": _clearance,
    "clutter": _clutter,
    "construction": _construction,
    "second_view": _second_view,
    "rider": _rider,
    "title": _title,
    "rings": _rings,
    "spokes": _spokes,
    "dimensions": _dimensions,
    "seatpost": _seatpost,
}

LAYERS = {
    "en": {
        "seat_tube": "Seat tube",
        "down_tube": "DownTube",
        "top_tube": "TOP_TUBE",
        "head_tube": "head tube",
        "chainstay": "Chainstays",
        "seatstay": "seat-stay",
        "fork": "Fork",
        "wheel_rear": "Rear wheel",
        "wheel_front": "Front wheel",
        "bb_shell": "Bottom bracket",
    },
    "de": {
        "seat_tube": "Sitzrohr",
        "down_tube": "Unterrohr",
        "top_tube": "Oberrohr",
        "head_tube": "Steuerrohr",
        "chainstay": "Kettenstrebe",
        "seatstay": "Sitzstrebe",
        "fork": "Gabel",
        "wheel_rear": "Laufräder",
        "wheel_front": "Laufräder",
        "bb_shell": "Tretlager",
    },
    "fr": {
        "seat_tube": "Tube de selle",
        "down_tube": "tube diagonal",
        "top_tube": "tube supérieur",
        "head_tube": "tube de direction",
        "chainstay": "bases",
        "seatstay": "haubans",
        "fork": "Fourche",
        "wheel_rear": "Roues",
        "wheel_front": "Roues",
        "bb_shell": "Boîtier",
    },
    "es": {
        "seat_tube": "Tubo de sillín",
        "down_tube": "tubo diagonal",
        "top_tube": "tubo superior",
        "head_tube": "tubo de dirección",
        "chainstay": "vainas",
        "seatstay": "tirantes",
        "fork": "Horquilla",
        "wheel_rear": "Ruedas",
        "wheel_front": "Ruedas",
        "bb_shell": "pedalier",
    },
    "it": {
        "seat_tube": "piantone",
        "down_tube": "tubo obliquo",
        "top_tube": "tubo orizzontale",
        "head_tube": "tubo sterzo",
        "chainstay": "foderi bassi",
        "seatstay": "pendenti",
        "fork": "Forcella",
        "wheel_rear": "Ruote",
        "wheel_front": "Ruote",
        "bb_shell": "Movimento centrale",
    },
}


# --- on the paper -----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Placed:
    """A sheet moved to its place: drawing = offset + scale * turn * mirror * bike."""

    items: tuple[Item, ...]
    notes: tuple[tuple[str, Vec], ...]
    scale: float
    header: int | None
    layers: str
    digits: int | None

    def layer_of(self, item: Item) -> str:
        if self.layers == "words":
            from helpers_sheets import WORDS

            return WORDS.get(item.part, item.part)
        return LAYERS.get(self.layers, {}).get(
            item.part, "0" if self.layers == "zero" else item.part
        )

    def drawing(self) -> Drawing:
        """Plain curves, as the reader would hand them over."""
        curves = tuple(
            _curve(item, self.layer_of(item), f"{k + 16:X}") for k, item in enumerate(self.items)
        )
        header = {1: 25.4, 4: 1.0, 5: 10.0}.get(self.header)
        return Drawing(curves, tuple(Note(t, at) for t, at in self.notes), header_unit=header)

    def dxf(self, version: str = "R2000") -> DxfText:
        """The same as DXF text; see DxfText.write."""
        text = DxfText(version, insunits=self.header)
        for k, item in enumerate(self.items):
            common = {"layer": self.layer_of(item), "linetype": item.linetype}
            _emit(text, item, {**common, "handle": f"{k + 256:X}"}, version)
        for words, at in self.notes:
            text.text(words, at, 10.0)
        return text


def place(
    sheet: Sheet,
    turn: float = 0.0,
    mirrored: bool = False,
    flipped: bool = False,
    scale: float = 1.0,
    offset: Vec = (0.0, 0.0),
    digits: int | None = None,
    layers: str = "zero",
    header: int | None = 4,
) -> Placed:
    """Move the sheet: mirror x, flip y, turn (degrees), scale (drawing units per mm), shift; round to digits."""
    c, s = scale * cos(radians(turn)), scale * sin(radians(turn))
    mx, my = -1.0 if mirrored else 1.0, -1.0 if flipped else 1.0

    def move(p: Vec) -> Vec:
        x, y = mx * p[0], my * p[1]
        out = (c * x - s * y + offset[0], s * x + c * y + offset[1])
        return out if digits is None else (round(out[0], digits), round(out[1], digits))

    reversing = (mx < 0) != (my < 0)
    items = tuple(_moved(i, move, scale, reversing) for i in sheet.items)
    return Placed(
        items, tuple((t, move(at)) for t, at in sheet.notes), scale, header, layers, digits
    )


def _moved(item: Item, move, scale: float, reversing: bool) -> Item:
    points = tuple(move(p) for p in item.points)
    if item.kind == "arc":
        c = item.points[0]
        tips = [
            move((c[0] + item.radius * cos(radians(a)), c[1] + item.radius * sin(radians(a))))
            for a in (item.start, item.end)
        ]
        a, b = (
            degrees(atan2(t[1] - points[0][1], t[0] - points[0][0]))
            for t in (tips[::-1] if reversing else tips)
        )
        return replace(item, points=points, radius=item.radius * scale, start=a, end=b)
    bulges = tuple(-b for b in item.bulges) if reversing else item.bulges
    return replace(item, points=points, radius=item.radius * scale, bulges=bulges)


def _curve(item: Item, layer: str, handle: str) -> Curve:
    common = {"layer": layer, "handle": handle, "linetype": item.linetype}
    if item.kind in ("circle", "arc"):
        points = _arc_points(item.points[0], item.radius, radians(item.start), radians(item.end))
        round_ = item.kind == "circle"
        return Curve(
            item.kind, points, centre=item.points[0], radius=item.radius, closed=round_, **common
        )
    if item.kind == "spline":
        return Curve("spline", _cubic(item.points), **common)
    if item.kind == "polyline":
        points = list(item.points) + ([item.points[0]] if item.closed else [])
        if any(item.bulges):
            points = _bulged(points, item.bulges)
        return Curve("polyline", np.array(points, float), closed=item.closed, **common)
    return Curve("line", np.array(item.points, float), **common)


def _arc_points(c: Vec, r: float, a: float, b: float) -> np.ndarray:
    while b <= a:
        b += 2 * pi
    t = np.linspace(a, b, max(9, int((b - a) / 0.02)))
    return np.column_stack((c[0] + r * np.cos(t), c[1] + r * np.sin(t)))


def _cubic(control: tuple[Vec, ...]) -> np.ndarray:
    p = np.array(control)
    t = np.linspace(0.0, 1.0, 129)[:, None]
    return (
        (1 - t) ** 3 * p[0] + 3 * t * (1 - t) ** 2 * p[1] + 3 * t**2 * (1 - t) * p[2] + t**3 * p[3]
    )


def _bulged(points: list[Vec], bulges: tuple[float, ...]) -> list[Vec]:
    out = [points[0]]
    for p, q, bulge in zip(points[:-1], points[1:], bulges, strict=False):
        if bulge:
            out += _bulge_points(p, q, bulge)
        out.append(q)
    return out


def _bulge_points(p: Vec, q: Vec, bulge: float) -> list[Vec]:
    """Inner points of the arc from p to q whose tangent of a quarter of the turn is `bulge`."""
    turn = 4 * np.arctan(bulge)
    chord = hypot(q[0] - p[0], q[1] - p[1])
    radius = chord / (2 * sin(turn / 2))
    u = _unit(p, q)
    centre = _go(((p[0] + q[0]) / 2, (p[1] + q[1]) / 2), u, 0.0, radius * cos(turn / 2))
    a = atan2(p[1] - centre[1], p[0] - centre[0])
    return [
        (
            centre[0] + abs(radius) * cos(a + turn * k / 64),
            centre[1] + abs(radius) * sin(a + turn * k / 64),
        )
        for k in range(1, 64)
    ]


def _emit(text: DxfText, item: Item, common: dict, version: str) -> None:
    if item.kind == "line":
        text.line(*item.points, **common)
    elif item.kind == "circle":
        text.circle(item.points[0], item.radius, **common)
    elif item.kind == "arc":
        text.arc(item.points[0], item.radius, item.start % 360.0, item.end % 360.0, **common)
    elif item.kind == "spline" and version != "R12":
        text.spline(item.points, **common)
    elif item.kind == "spline":
        text.polyline([tuple(p) for p in _cubic(item.points)], **common)
    else:
        bulges = item.bulges or (0.0,) * len(item.points)
        vertices = [(*p, b) for p, b in zip(item.points, bulges, strict=False)]
        (text.polyline if version == "R12" else text.lwpolyline)(
            vertices, closed=item.closed, **common
        )
