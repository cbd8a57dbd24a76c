"""Random drawings of other plans, each with its fit sheet: what stands where is known from where it was put.

    drawn = plan_sheet("raised_chainstays", k)
    drawn.write(folder)                  # folder/raised_chainstays_7.dxf and .csv
    drawn.csv(off={"chainstays on seat tube": 15.0})   # the same sheet with slips of so many mm

Lines as outlines, centre-lines or both, with whatever else stands on a workshop's paper, at random. None of droptrail's
own geometry of plans is used: where a tube runs is worked out here from the diamond's joints.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import atan2, cos, degrees, hypot, sin
from pathlib import Path

import numpy as np
from droptrail.converters.drawings.linework.plane import Vec
from helpers_habits import (
    EXTRAS,
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
from helpers_sheets import HEADS, THINGS, _drop, _guards

LINES = (
    Habit(),
    Habit(lines="outline"),
    Habit(lines="both"),
    Habit(lines="outline", fork="raked"),
    Habit(lines="pieces"),
    Habit(fork="raked"),
)
CLUTTER = ("rack", "cranks", "bottle", "bars", "saddle", "spokes", "rings", "title", "second_view")
STACK = (
    35.0  # mm from the head tube's top to the stem, stated in the sheet, and taken where none is
)
SIZES = {"top tube": 28.6, "down tube": 31.8, "seatstay": 16.0, "chainstay": 19.0}


@dataclass
class Told:
    """What the sheet says of a frame beyond its side view: rows of items, cells of the column bend, and what of it can
    be seen in a side view: item or tube -> mm."""

    items: dict[str, float] = field(default_factory=dict)
    bends: dict[str, str] = field(default_factory=dict)
    seen: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()

    @property
    def skip(self) -> tuple[str, ...]:
        """Fields of the side view that the drawing does not show as a diamond does."""
        fields = (label.replace("head tube top", "head top") for label in self.left_out)
        return tuple(label.replace(" ", "_") for label in fields)


@dataclass(frozen=True)
class PlanSheet:
    """A drawing with its truth. tubes : those of the plan that the drawing must be held against."""

    kind: str
    number: int
    frame: DrawnFrame
    told: Told
    placed: Placed
    clutter: tuple[str, ...]

    @property
    def plan(self) -> str:
        return KINDS[self.kind].plan

    @property
    def tubes(self) -> tuple[str, ...]:
        return KINDS[self.kind].tubes

    def csv(self, off: Mapping[str, float] | None = None) -> str:
        """The fit sheet; `off` adds slips to single rows, mm."""
        rows = {"plan": self.plan, **_rows(self.frame, self.told.left_out), **self.told.items}
        for label, by in (off or {}).items():
            rows[label] = float(rows[label]) + by
        lines = [
            "item,value,unit",
            *(f"{label},{_cell(value)},{_unit_of(label)}" for label, value in rows.items()),
        ]
        if self.told.bends:
            lines += ["", "tube,outside diameter,wall,bend"]
            lines += [
                f"{tube},{SIZES[tube]},0.8,{_quoted(bend)}"
                for tube, bend in self.told.bends.items()
            ]
        return "\n".join(lines) + "\n"

    def write(self, folder: Path, off: Mapping[str, float] | None = None) -> tuple[Path, Path]:
        """The drawing and its sheet as files."""
        name = f"{self.kind}_{self.number}"
        drawing = folder / f"{name}.dxf"
        sheet = folder / f"{name}.csv"
        if not drawing.exists():
            drawing.write_text(self.placed.dxf().dumps(), encoding="utf-8")
        sheet.write_text(self.csv(off), encoding="utf-8")
        return drawing, sheet


def _cell(value: float | str) -> str:
    return value if isinstance(value, str) else f"{value:.4f}"


def _quoted(text: str) -> str:
    return f'"{text}"' if "," in text else text


def _unit_of(label: str) -> str:
    if label == "plan":
        return ""
    return "deg" if "angle" in label else "mm"


def _rows(frame: DrawnFrame, left_out: Sequence[str]) -> dict[str, float]:
    d = frame.dimensions
    rows = {
        "reach": d.reach,
        "head angle": d.head_angle,
        "seat angle": d.seat_angle,
        "bottom bracket drop": d.bb_drop,
        "chainstay": d.chainstay,
        "head tube length": d.head_tube,
        "lower headset stack": d.lower_stack,
        "fork length along axis": d.fork_length,
        "fork offset": d.fork_offset,
        "front wheel radius": d.wheel_radius_front,
        "rear wheel radius": d.wheel_radius_rear,
        "seat tube length": d.seat_tube,
        "top tube on seat tube": d.top_tube_on_seat_tube,
        "top tube below head tube top": d.top_tube_below_head_top,
        "down tube above head tube bottom": d.down_tube_above_head_bottom,
        "seatstay below top tube": d.seatstay_below_top_tube,
        "upper stack": STACK,
    }
    return {label: value for label, value in rows.items() if label not in left_out}


# --- curves -----------------------------------------------------------------------------------------------------
Line = tuple[Vec, Vec]


def _arc(p: Vec, q: Vec, sagitta: float) -> tuple[Vec, float]:
    """Centre and radius of the arc from p to q that bows by `sagitta` to the left of the way there."""
    half = hypot(q[0] - p[0], q[1] - p[1]) / 2
    radius = (half**2 + sagitta**2) / (2 * abs(sagitta))
    side = 1.0 if sagitta > 0 else -1.0
    middle = ((p[0] + q[0]) / 2, (p[1] + q[1]) / 2)
    return _go(middle, _unit(p, q), 0.0, -side * (radius - abs(sagitta))), radius


def _arc_points(p: Vec, q: Vec, sagitta: float, by: float = 0.0, past: float = 0.0) -> list[Vec]:
    """Points of that arc, moved `by` to the left and run on by `past` at both ends."""
    centre, radius = _arc(p, q, sagitta)
    a, b = (atan2(e[1] - centre[1], e[0] - centre[0]) for e in (p, q))
    turn = (b - a + np.pi) % (2 * np.pi) - np.pi
    more = np.copysign(past / radius, turn)
    # to the left of an arc that turns left lies its centre
    size = radius - by if turn > 0 else radius + by
    angles = np.linspace(a - more, a + turn + more, 241)
    return [(centre[0] + size * cos(t), centre[1] + size * sin(t)) for t in angles]


def _smooth(p: Vec, q: Vec, through: Sequence[tuple[float, float]]) -> list[Vec]:
    """Points of a smooth curve from p to q through (share, mm to the left): a cubic spline without bending at ends."""
    from scipy.interpolate import CubicSpline

    shares = [0.0, *(s for s, _ in through), 1.0]
    offs = [0.0, *(o for _, o in through), 0.0]
    length = hypot(q[0] - p[0], q[1] - p[1])
    curve = CubicSpline(shares, offs, bc_type="natural")
    u = _unit(p, q)
    return [_go(p, u, float(s) * length, float(curve(s))) for s in np.linspace(0.0, 1.0, 121)]


def _beside(points: Sequence[Vec], by: float) -> list[Vec]:
    run = np.array(points)
    tangent = np.gradient(run, axis=0)
    tangent /= np.hypot(*tangent.T)[:, None]
    normal = np.column_stack((-tangent[:, 1], tangent[:, 0]))
    return [(float(x), float(y)) for x, y in run + by * normal]


def _cut(points: Sequence[Vec], line: Line | None, keep_last: bool) -> list[Vec]:
    """A run cut off where it crosses an edge's line; the part that holds its last or first point is kept."""
    if line is None:
        return list(points)
    u = _unit(*line)
    run = list(points) if keep_last else list(points)[::-1]
    far = [u[0] * (y - line[0][1]) - u[1] * (x - line[0][0]) for x, y in run]
    for k in range(len(run) - 1, 0, -1):
        if far[k] * far[k - 1] <= 0 and far[k] != far[k - 1]:
            share = far[k] / (far[k] - far[k - 1])
            at = tuple(a + share * (b - a) for a, b in zip(run[k], run[k - 1], strict=True))
            run = [at, *run[k:]]
            break
    return run if keep_last else run[::-1]


@dataclass(frozen=True)
class Drawing:
    """What a kind draws on: the sheet so far, the frame, how lines are drawn, the lot."""

    sheet: Sheet
    frame: DrawnFrame
    habit: Habit
    rng: np.random.Generator

    def edge(self, tube: str, side: int) -> Line:
        """Left (0) or right (1) edge of a straight tube of the diamond, seen from its start."""
        return _edges(*tube_ends(self.frame.dimensions)[tube], self.frame.diameters[tube])[side]

    def straight(
        self, p: Vec, q: Vec, diameter: float, cuts: tuple[Line | float | None, Line | float | None]
    ) -> None:
        """A straight tube; `cuts` : the edges it ends at, or how short of its end it is drawn, mm."""
        if self.habit.lines != "outline":
            self.centre([p, q])
        if self.habit.lines not in ("outline", "both"):
            return
        for a, b in _edges(p, q, diameter):
            self.sheet.line(_ended(a, b, cuts[0]), _ended(b, a, cuts[1]), "further")

    def centre(self, points: Sequence[Vec]) -> None:
        linetype = "CENTER" if self.habit.lines == "both" else ""
        pieces = self.habit.lines == "pieces" and _length((points[0], points[-1])) > 60.0
        if len(points) == 2 and pieces:
            p, q = points
            middle = _go(
                p, _unit(p, q), float(self.rng.uniform(0.3, 0.7)) * hypot(q[0] - p[0], q[1] - p[1])
            )
            self.sheet.line(p, middle, "further")
            self.sheet.line(middle, q, "further")
        elif len(points) == 2:
            self.sheet.line(*points, "further", linetype)
        else:
            self.sheet.polyline(list(points), "further")

    def bowed(
        self, p: Vec, q: Vec, sagitta: float, diameter: float, cuts: tuple[Line | None, Line | None]
    ) -> None:
        """A tube bent to an arc."""
        if self.habit.lines != "outline":
            self._round(_arc_points(p, q, sagitta), _arc(p, q, sagitta))
        if self.habit.lines in ("outline", "both"):
            for by in (diameter / 2, -diameter / 2):
                run = _arc_points(p, q, sagitta, by, past=25.0)
                run = _cut(_cut(run, cuts[0], keep_last=True), cuts[1], keep_last=False)
                centre, _ = _arc(p, q, sagitta)
                radius = hypot(run[0][0] - centre[0], run[0][1] - centre[1])
                self._round(run, (centre, radius))

    def _round(self, run: Sequence[Vec], circle: tuple[Vec, float]) -> None:
        centre, radius = circle
        a, b = (degrees(atan2(e[1] - centre[1], e[0] - centre[0])) for e in (run[0], run[-1]))
        m = degrees(atan2(run[len(run) // 2][1] - centre[1], run[len(run) // 2][0] - centre[0]))
        if (m - a) % 360.0 > (b - a) % 360.0:
            a, b = b, a
        self.sheet.arc(centre, radius, a, b, "further")

    def smooth(
        self,
        p: Vec,
        q: Vec,
        through: Sequence[tuple[float, float]],
        diameter: float,
        short: tuple[float, float],
    ) -> None:
        """A tube that runs smoothly through points; `short` : mm of its outline that are not drawn at its ends."""
        run = _smooth(p, q, through)
        if self.habit.lines != "outline":
            self.centre(run)
        if self.habit.lines in ("outline", "both"):
            length = hypot(q[0] - p[0], q[1] - p[1])
            first = int(short[0] / length * 120)
            last = 121 - int(short[1] / length * 120)
            for by in (diameter / 2, -diameter / 2):
                self.sheet.polyline(_beside(run, by)[first:last], "further")


def _ended(end: Vec, other: Vec, cut: Line | float | None) -> Vec:
    if cut is None:
        return end
    u = _unit(end, other)
    if isinstance(cut, float):
        return _go(end, u, cut)
    return _cross(end, u, cut[0], _unit(*cut))


# --- the kinds ----------------------------------------------------------------------------------------------------
def _along(line: Line, mm: float) -> Vec:
    return _go(line[0], _unit(*line), mm)


def _length(line: Line) -> float:
    return hypot(line[1][0] - line[0][0], line[1][1] - line[0][1])


def _twin(on: Drawing) -> Told:
    return Told({"top tube spacing": float(on.rng.uniform(22.0, 40.0))})


def _mast(on: Drawing) -> Told:
    return Told()


def _twin_laterals(on: Drawing) -> Told:
    d = on.frame.dimensions
    down = float(on.rng.uniform(0.2, 0.6)) * d.head_tube
    _drop(on.sheet, "top_tube")
    on.straight(
        d.head_tube_top.along(d.axis_up, -down),
        d.rear_axle,
        float(on.rng.uniform(13.0, 18.0)),
        (on.edge("head_tube", 0), 32.0),
    )
    return Told(
        {
            "laterals below head tube top": down,
            "lateral spacing at the head tube": 40.0,
            "seatstays below seat tube top": d.seat_tube
            - d.top_tube_on_seat_tube
            + d.seatstay_below_top_tube,
        },
        seen=("laterals below head tube top",),
        left_out=(
            "top tube on seat tube",
            "top tube below head tube top",
            "seatstay below top tube",
        ),
    )


def _second_top_tube(on: Drawing) -> Told | None:
    d = on.frame.dimensions
    up = d.top_tube_on_seat_tube - float(on.rng.uniform(80.0, 200.0))
    down = d.top_tube_below_head_top + float(on.rng.uniform(35.0, 70.0))
    if up < 120.0 or d.head_tube - down - d.down_tube_above_head_bottom < 35.0:
        return None
    on.straight(
        d.bottom_bracket.along(d.seat_up, up),
        d.head_tube_top.along(d.axis_up, -down),
        float(on.rng.uniform(22.0, 28.6)),
        (on.edge("seat_tube", 1), on.edge("head_tube", 0)),
    )
    label = "second top tube on seat tube"
    return Told({label: up, "second top tube below head tube top": down}, seen=(label,))


def _single_lateral(on: Drawing) -> Told:
    d = on.frame.dimensions
    up = d.top_tube_on_seat_tube
    foot = d.bottom_bracket.along(d.seat_up, up)
    on.straight(
        foot, d.rear_axle, float(on.rng.uniform(12.0, 16.0)), (on.edge("seat_tube", 0), 32.0)
    )
    below = d.seat_tube - up + d.seatstay_below_top_tube
    return Told(
        {
            "laterals below head tube top": d.top_tube_below_head_top,
            "lateral on seat tube": up,
            "lateral stay spacing at the seat tube": 30.0,
            "lateral stay bow": 12.0,
            "seatstays below seat tube top": below,
        },
        seen=("laterals below head tube top", "lateral on seat tube"),
        left_out=(
            "top tube on seat tube",
            "top tube below head tube top",
            "seatstay below top tube",
        ),
    )


def _low_curved(on: Drawing) -> Told:
    d = on.frame.dimensions
    sagitta = -float(on.rng.uniform(12.0, 70.0))
    _curved(on, "top_tube", sagitta)
    below = d.seat_tube - d.top_tube_on_seat_tube + d.seatstay_below_top_tube
    return Told(
        {"top tube sagitta": sagitta, "seatstays below seat tube top": below},
        seen=("top tube sagitta",),
        left_out=("seatstay below top tube",),
    )


def _low_twin(on: Drawing) -> Told:
    told = _low_curved(on)
    told.items["top tube spacing"] = float(on.rng.uniform(22.0, 40.0))
    return told


def _curved(on: Drawing, tube: str, sagitta: float) -> None:
    """One main tube drawn as an arc instead of straight."""
    _drop(on.sheet, tube)
    p, q = tube_ends(on.frame.dimensions)[tube]
    if tube == "top_tube":
        start = on.edge("seat_tube", 1)
    else:
        # square across the tube, where it leaves the shell
        u = _unit(p, q)
        at = _go(p, u, on.frame.diameters["bb_shell"] / 2)
        start = (at, _go(at, u, 0.0, 1.0))
    on.bowed(p, q, sagitta, on.frame.diameters[tube], (start, on.edge("head_tube", 0)))


def _bent_main(tube: str) -> Callable[[Drawing], Told]:
    def drawn(on: Drawing) -> Told:
        sagitta = float(on.rng.choice([-1.0, 1.0]) * on.rng.uniform(10.0, 45.0))
        p, q = tube_ends(on.frame.dimensions)[tube]
        stands = abs(q[1] - p[1]) > abs(q[0] - p[0])
        _curved(on, tube, sagitta)
        # a plus is up, and forward on a tube that stands, which is to the right of the way up
        sign = -1.0 if stands else 1.0
        bend = f"sagitta {sign * sagitta:.4f}"
        if on.rng.random() < 0.4:
            _, radius = _arc(p, q, sagitta)
            bend = f"radius {np.copysign(radius, sign * sagitta):.4f}"
        return Told(bends={tube.replace("_", " "): bend})

    return drawn


def _bent_stays(tube: str, most: float) -> Callable[[Drawing], Told]:
    """Stays drawn S-bent or dropped: smooth through one point or two."""

    def drawn(on: Drawing) -> Told:
        axle, node = tube_ends(on.frame.dimensions)[tube]
        down = -float(on.rng.uniform(0.4, 1.0)) * most
        through = [(float(on.rng.uniform(0.3, 0.5)), down)]
        if on.rng.random() < 0.5:
            through.append((float(on.rng.uniform(0.7, 0.8)), -0.5 * down))
        _drop(on.sheet, tube)
        # in the sheet a stay runs from the frame to the axle, "up" being away from the ground: left of the way back
        ends = (node, axle)
        stands = abs(axle[1] - node[1]) > abs(axle[0] - node[0])
        left = [(share, up if stands else -up) for share, up in through]
        shell = (
            on.frame.diameters["bb_shell"] / 2
            if tube == "chainstay"
            else on.frame.diameters["seat_tube"] / 2
        )
        on.smooth(*ends, left, on.frame.diameters[tube], (shell, 32.0))
        words = ", ".join(f"{share:.4f} up {up:.4f}" for share, up in through)
        return Told(bends={tube: f"via {words}"})

    return drawn


def _on_top_tube(on: Drawing) -> Told:
    d = on.frame.dimensions
    out = float(on.rng.uniform(40.0, 160.0))
    _drop(on.sheet, "seatstay")
    foot = _along(tube_ends(d)["top_tube"], out)
    on.straight(d.rear_axle, foot, on.frame.diameters["seatstay"], (32.0, on.edge("top_tube", 1)))
    label = "seatstays on top tube"
    return Told({label: out}, seen=(label,), left_out=("seatstay below top tube",))


def _split(on: Drawing) -> Told | None:
    d = on.frame.dimensions
    out = float(on.rng.uniform(60.0, 170.0))
    node = d.seat_tube_seatstay_node
    while True:
        foot = _along(tube_ends(d)["top_tube"], out)
        u = _unit(d.rear_axle, foot)
        rel = (node[0] - d.rear_axle[0], node[1] - d.rear_axle[1])
        # nearer, the two pairs of stays would cover one another in the side view
        if abs(u[0] * rel[1] - u[1] * rel[0]) > on.frame.diameters["seatstay"] + 12.0:
            break
        out += 20.0
        if out > 380.0:
            return None
    on.straight(d.rear_axle, foot, on.frame.diameters["seatstay"], (32.0, on.edge("top_tube", 1)))
    label = "upper stays on top tube"
    return Told({label: out}, seen=(label,))


def _mono(on: Drawing) -> Told:
    d = on.frame.dimensions
    down = float(on.rng.uniform(45.0, 110.0))
    axle, node = tube_ends(d)["seatstay"]
    _drop(on.sheet, "seatstay")
    wishbone = _along((node, axle), down)
    on.straight(node, wishbone, float(on.rng.uniform(19.0, 25.4)), (on.edge("seat_tube", 0), None))
    on.straight(wishbone, axle, on.frame.diameters["seatstay"], (None, 32.0))
    return Told({"wishbone from seat tube": down, "seatstay spacing at the wishbone": 40.0})


def _raised(on: Drawing) -> Told:
    d = on.frame.dimensions
    up = float(on.rng.uniform(70.0, 0.55 * d.seat_tube))
    _drop(on.sheet, "chainstay")
    foot = d.bottom_bracket.along(d.seat_up, up)
    on.straight(d.rear_axle, foot, on.frame.diameters["chainstay"], (32.0, on.edge("seat_tube", 0)))
    label = "chainstays on seat tube"
    return Told(
        {label: up, "raised chainstay spacing": 30.0, "raised chainstay bow": 14.0}, seen=(label,)
    )


def _head(how: str) -> Callable[[Drawing], Told]:
    def drawn(on: Drawing) -> Told:
        if on.habit.lines in ("outline", "both"):
            HEADS[how](on.sheet, on.frame)
            if on.habit.lines == "both":
                on.sheet.line(*tube_ends(on.frame.dimensions)["head_tube"], "head_tube", "CENTER")
        return Told()

    return drawn


def _plain(on: Drawing) -> Told:
    return Told()


def _unicrown(on: Drawing) -> Told:
    """Blades that begin at the steerer: in the outline a rounded top instead of a crown's face."""
    if on.habit.lines in ("outline", "both"):
        d = on.frame.dimensions
        half = on.frame.diameters["fork_blade"] / 2
        on.sheet.arc(
            _go(d.fork_crown, d.axis_up, -half),
            half,
            d.head_angle * -1 + 90.0,
            270.0 - d.head_angle,
            "fork",
        )
    return Told({"unicrown shoulder": 27.0})


def _segmented(on: Drawing) -> Told:
    d = on.frame.dimensions
    drop = float(on.rng.uniform(15.0, 45.0))
    _drop(on.sheet, "fork")
    low = d.fork_crown.along(d.axis_up, -drop)
    wide = on.frame.diameters["fork_blade"]
    on.straight(d.fork_crown, low, wide + 5.0, (None, None))
    on.straight(low, d.front_axle, wide - 2.0, (None, 17.0))
    if on.habit.lines in ("outline", "both"):
        for at, half in ((d.fork_crown, wide / 2 + 2.5), (low, wide / 2 + 2.5)):
            on.sheet.line(_go(at, d.axis_up, 0.0, half), _go(at, d.axis_up, 0.0, -half), "fork")
    label = "fork shoulder below crown race"
    return Told({label: drop}, seen=(label,))


def _truss(on: Drawing) -> Told:
    d = on.frame.dimensions
    below = float(on.rng.uniform(5.0, 25.0))
    top = d.head_tube_top.along(d.axis_up, STACK - below)
    on.straight(top, d.front_axle, float(on.rng.uniform(10.0, 14.0)), (None, 17.0))
    label = "truss struts below stem"
    return Told({label: below, "truss strut spacing at the steerer": 62.0}, seen=(label,))


@dataclass(frozen=True)
class Kind:
    """How a plan is drawn. tubes : of the plan, held against the drawing. fits : whether a frame suits it. never : ways
    of lines in which it is not drawn."""

    plan: str
    draw: Callable[[Drawing], Told | None]
    tubes: tuple[str, ...] = ()
    fits: Callable[[DrawnFrame, np.random.Generator], DrawnFrame | None] = lambda frame, rng: frame
    forks: tuple[str, ...] = ("oblique", "raked")
    never: tuple[str, ...] = ()


def _with(frame: DrawnFrame, **changes: float) -> DrawnFrame:
    return replace(frame, dimensions=replace(frame.dimensions, **changes))


def _low(frame: DrawnFrame, rng: np.random.Generator) -> DrawnFrame | None:
    """The top tube low on the seat tube, the seatstays high."""
    d = frame.dimensions
    on = float(rng.uniform(0.42, 0.68)) * d.seat_tube
    high = d.seat_tube - float(rng.uniform(12.0, 60.0))
    out = _with(frame, top_tube_on_seat_tube=on, seatstay_below_top_tube=on - high)
    t, h = out.dimensions.seat_tube_top_tube_node, out.dimensions.top_tube_head_node
    slope = degrees(atan2(h.y - t.y, h.x - t.x))
    return out if 10.0 < slope < 48.0 and on > 160.0 else None


def _high(frame: DrawnFrame, rng: np.random.Generator) -> DrawnFrame | None:
    """An ordinary frame: the top tube near the seat tube's end."""
    d = frame.dimensions
    return frame if d.seat_tube - d.top_tube_on_seat_tube < 61.0 else None


def _masted(frame: DrawnFrame, rng: np.random.Generator) -> DrawnFrame | None:
    ordinary = _high(frame, rng)
    return ordinary and _with(
        ordinary, seat_tube=ordinary.dimensions.seat_tube + float(rng.uniform(90.0, 200.0))
    )


def _tapered(frame: DrawnFrame, rng: np.random.Generator) -> DrawnFrame | None:
    return replace(
        frame, diameters={**frame.diameters, "head_tube": float(rng.uniform(36.0, 46.0))}
    )


def _wide_head(frame: DrawnFrame, rng: np.random.Generator) -> DrawnFrame | None:
    return replace(frame, diameters={**frame.diameters, "head_tube": 44.0})


def _with_headset(frame: DrawnFrame, rng: np.random.Generator) -> DrawnFrame | None:
    """Such forks go with a headset outside the head tube."""
    return _with(frame, lower_stack=float(rng.uniform(8.0, 16.0)))


KINDS: dict[str, Kind] = {
    "twin_top_tubes": Kind("twin_top_tubes", _twin, fits=_high),
    # in pieces the draughtsman would cut the seat tube where a top tube would be, as nobody does without one
    "mixte": Kind("mixte", _twin_laterals, ("lateral",), _high, never=("pieces",)),
    "second_top_tube": Kind("second_top_tube", _second_top_tube, ("second_top_tube",), _high),
    "mixte_single": Kind("mixte_single", _single_lateral, ("lateral", "lateral_stay"), _low),
    "step_through": Kind("step_through", _low_curved, ("top_tube",), _low),
    "step_through_twin": Kind("step_through_twin", _low_twin, ("top_tube",), _low),
    "curved_top_tube": Kind("diamond", _bent_main("top_tube"), ("top_tube",), _high),
    "curved_down_tube": Kind("diamond", _bent_main("down_tube"), ("down_tube",), _high),
    "bent_seatstays": Kind("diamond", _bent_stays("seatstay", 22.0), ("seatstay",), _high),
    "dropped_chainstays": Kind("diamond", _bent_stays("chainstay", 30.0), ("chainstay",), _high),
    "stays_on_top_tube": Kind("stays_on_top_tube", _on_top_tube, ("seatstay",), _high),
    "split_seatstays": Kind("split_seatstays", _split, ("upper_stay",), _high),
    "mono_stay": Kind("mono_stay", _mono, fits=_high),
    "raised_chainstays": Kind("raised_chainstays", _raised, ("chainstay",), _high),
    "seat_mast": Kind("seat_mast", _mast, fits=_masted),
    "tapered_head": Kind("diamond", _head("tapered"), fits=_tapered),
    "head_44": Kind("diamond", _plain, fits=_wide_head),
    "unicrown_fork": Kind("unicrown_fork", _unicrown),
    "segmented_fork": Kind(
        "segmented_fork", _segmented, ("fork_shoulder",), _with_headset, forks=("oblique",)
    ),
    "truss_fork": Kind("truss_fork", _truss, ("truss_strut",)),
}


def drawn_by(
    way: Kind, habit: Habit, rng: np.random.Generator
) -> tuple[DrawnFrame, Told, Sheet] | None:
    """A frame of a kind, what its sheet says, and the view of it as drawn; None where the lot gave no such frame."""
    frame = way.fits(random_drawn_frame(rng), rng)
    if frame is None or habit.lines in way.never:
        return None
    sheet = draw(frame, habit, rng)
    told = way.draw(Drawing(sheet, frame, habit, rng))
    return None if told is None else (frame, told, sheet)


def plan_sheet(kind: str, k: int, seed: int = 1) -> PlanSheet:
    """Drawing number k of a kind, anywhere on the paper, facing any way."""
    rng = np.random.default_rng([seed, sum(map(ord, kind)), k])
    way = KINDS[kind]
    habit = LINES[k % len(LINES)]
    if habit.fork not in way.forks:
        habit = replace(habit, fork=way.forks[0])
    if habit.lines in way.never:
        habit = replace(habit, lines=Habit().lines)
    told = None
    while told is None:
        frame = way.fits(random_drawn_frame(rng), rng)
        if frame is None:
            continue
        drawn = replace(
            habit,
            rims=bool(rng.random() < 0.5),
            axle_marks=str(rng.choice(["circle", "cross"])),
        )
        sheet = draw(frame, drawn, rng)
        told = way.draw(Drawing(sheet, frame, drawn, rng))
    clutter = tuple(name for name in CLUTTER if rng.random() < 0.3)
    for name in clutter:
        (THINGS.get(name) or EXTRAS[name])(sheet, frame, rng)
    if rng.random() < 0.4:
        _guards(sheet, frame, str(rng.choice(["one", "two", "band"])), rng)
        clutter = (*clutter, "guards")
    if rng.random() < 0.3:
        EXTRAS["dimensions"](sheet, frame, rng)
        clutter = (*clutter, "dimensions")
    placed = place(
        sheet,
        turn=float(rng.choice([0.0, 0.0, rng.uniform(-180, 180)])),
        mirrored=bool(rng.random() < 0.3),
        offset=(float(rng.uniform(-1e3, 1e3)), float(rng.uniform(-1e3, 1e3))),
        layers=str(rng.choice(["zero", "words", "words"])),
    )
    return PlanSheet(kind, k, frame, told, placed, clutter)
