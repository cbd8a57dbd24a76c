"""Draws a bicycle as DXF: side view at 1:1 as a builder dimensions it, fork from the front, stays from above.

Origin at the bottom bracket, front to the right (seen from the drive side), mm. Centre-lines lie on layers of the
trade's names with full double precision, outlines on NAME_OUTLINE; the other views stand well apart on layers
of their own.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import atan2, cos, degrees, hypot, pi, sin
from pathlib import Path
from typing import Literal

import numpy as np

from ....model.arrays import Array, run_of
from ....model.errors import ModelError
from ....model.findings import Finding
from ....model.frame.bicycle import Bicycle
from ....model.frame.frame_mitres import frame_mitres
from ....model.frame.layout import joints_in_space, lay_out, side_paths
from ....model.frame.mitre import Mitre
from ....model.geometry.dimensions import FrameDimensions, Point
from ....model.tubes.known_plans import further_ones
from ....model.tubes.plan import SHELL as BB_SHELL
from ....model.tubes.plan import TubeRole, not_handled
from ....model.tubes.tube import Tube
from .dimensions import dimension_side_view, title_block
from .dxf_paper import DxfPaper
from .outline import TIP, Silhouette, Stop, edges, offset_path, path_edges, shell_radius
from .paper import Paper, Xy, layer_of
from .plot import lay_out_plot
from .views import front_view, in_front_view, in_stays_view, stays_view

View = Literal["side", "front", "top"]
AXLE_RADIUS = 5.0  # mark of an axle
DROPOUT_RADIUS = 11.0
CENTRE_MARK = 3.0  # half the length of its strokes
WALL_OF_HEADSET = 2.0  # the lower headset is drawn that much wider than the head tube, each side


def draw_frame(
    bicycle: Bicycle,
    path: str | Path,
    views: Sequence[View] = ("side", "front", "top"),
    *,
    version: str = "R2010",
    bead_seats: tuple[float | None, float | None] = (None, None),
    plot: str | None = None,
    force: bool = False,
) -> tuple[Finding, ...]:
    """Write the drawing of a bicycle.

    Parameters
    ----------
    views : any of side, front (fork square to the steering axis) and top (stays in their own planes).
    version : R12, R2000, R2004, R2007, R2010, R2013 or R2018.
    bead_seats : bead seat diameters front and rear, mm; the rim is drawn where it is known.
    plot : size of sheet, one of `plot.SHEETS`, to lay the views out on in the paper space; None for the model alone.
    force : replace an existing file.

    Returns
    -------
    What the drawing leaves out or takes for granted.

    Raises
    ------
    InputError
        When the file cannot be written or the version is unknown. An existing file stays whole.
    """
    # the version is refused here, before anything is worked out
    paper = DxfPaper(version)
    findings: list[Finding] = []
    if "side" in views:
        findings += side_view(paper, bicycle, bead_seats)
        dimension_side_view(paper, bicycle.dimensions, bicycle)
        if plot is None:
            title_block(paper, bicycle)
        else:
            title_block(paper, bicycle, "scale at the foot of the sheet")
    # the side view alone needs only the dimensions, so the others may fail by themselves
    for view, draw in (("front", front_view), ("top", stays_view)):
        if view in views:
            try:
                draw(paper, bicycle)
            # a drawing without one view is better than none; the finding says what is missing
            except ModelError as error:
                findings.append(
                    Finding(
                        "draw-view-left-out",
                        "warning",
                        f"the {view} view is left out: {error}",
                        view,
                    )
                )
    if {"front", "top"} & set(views):
        what = "the front and top views do not show"
        shown = {role.name for role in (*in_front_view(bicycle), *in_stays_view(bicycle))}
        # Of a tube in the middle plane the side view tells all.
        beyond = [role for role in further_ones(bicycle.roles) if role.paired]
        end_on = {tube.role.name for tube in _drawn_tubes(bicycle).values() if tube.end_on}
        for role in beyond:
            if role.name in end_on:
                findings.append(_seen_from_the_end(role))
            elif role.name not in shown:
                findings.append(not_handled(role, what))
    # last: the sheets are laid out round what has been drawn
    if plot is not None:
        findings += lay_out_plot(paper, plot, bicycle.name or "frame")
    paper.save(path, force)
    return tuple(findings)


def _seen_from_the_end(role: TubeRole) -> Finding:
    return Finding(
        "tube-not-handled",
        "info",
        f"the side view shows the {role.label} from the end, and no other view does; their lengths and cuts stand with "
        "jig and mitre",
        role.name,
    )


def side_view(
    paper: Paper, bicycle: Bicycle, bead_seats: tuple[float | None, float | None]
) -> list[Finding]:
    """Centre-lines, outlines, wheels and ground."""
    d = bicycle.dimensions
    placed = _drawn_tubes(bicycle)
    tubes = {layer: tube for layer, tube in placed.items() if not tube.end_on}
    for layer, tube in placed.items():
        if tube.end_on:
            _end_on(paper, layer, tube)
    for layer, tube in tubes.items():
        # the fork's centre-line may be bent and is drawn by itself
        if layer != "FORK" or tube.role.bend is not None:
            _strokes(paper, layer, tube.path)
    top = _point(tubes["FORK"].path[0]) if "FORK" in tubes else d.fork_crown
    blade = _blade(d, top, bicycle.fittings.blade_straight)
    if "FORK" in tubes and tubes["FORK"].role.bend is not None:
        blade = tubes["FORK"].path
    elif bicycle.suspension is not None:
        # a given part: its axis and its offset are all that is known of it
        paper.line("FORK", d.fork_crown, d.fork_offset_foot)
        paper.line("FORK", d.fork_offset_foot, d.front_axle)
    else:
        # the same test as for the outline: where no arc fits, both are straight
        straight = bicycle.fittings.blade_straight if len(blade) > 2 else 0.0
        _blade_centre_line(paper, d, top, straight)
    _wheels(paper, d, bead_seats)
    for middle in (d.bottom_bracket, *_further_shells(bicycle)):
        paper.circle("BB_SHELL", middle, shell_radius(bicycle))
    _outlines(paper, bicycle, tubes, blade)
    _mitre_curves(paper, bicycle)
    return _what_is_missing(bicycle, placed)


def _end_on(paper: Paper, layer: str, tube: "_DrawnTube") -> None:
    """What runs straight across: a centre mark and the circle of its outline."""
    x, y = _point(tube.path[0])
    paper.line(layer, (x - CENTRE_MARK, y), (x + CENTRE_MARK, y))
    paper.line(layer, (x, y - CENTRE_MARK), (x, y + CENTRE_MARK))
    if tube.tube is not None:
        paper.circle(f"{layer}_OUTLINE", Point(x, y), tube.tube.od_start / 2)


@dataclass(frozen=True)
class _DrawnTube:
    """A tube as the side view shows it: (k, 2) centre-line, and the tube, None where the table has none."""

    role: TubeRole
    path: Array
    tube: Tube | None

    @property
    def straight(self) -> bool:
        return len(self.path) == 2

    @property
    def end_on(self) -> bool:
        """Whether it runs straight across the frame, so that the side view sees it end on."""
        return self.straight and bool(np.linalg.norm(self.path[1] - self.path[0]) < 1e-6)

    def near(self, point: Xy) -> Silhouette:
        """The straight tube that it is there: all of it, or the piece of a bend nearest to a point."""
        assert self.tube is not None
        if self.straight:
            return Silhouette.of(self.tube, *map(_point, self.path))
        middles = (self.path[1:] + self.path[:-1]) / 2
        k = int(np.linalg.norm(middles - np.array(point), axis=1).argmin())
        run = run_of(self.path)
        ends = self.tube.heights(run[-1], run[k : k + 2]) / 2
        start, end = map(_point, self.path[k : k + 2])
        return Silhouette(start, end, float(ends[0]), float(ends[1]))


def _point(xy: Array) -> Point:
    return Point(float(xy[0]), float(xy[1]))


def _strokes(paper: Paper, layer: str, points: Array) -> None:
    """A line where it is straight, which other programs can dimension; else a polyline."""
    if len(points) == 2:
        paper.line(layer, _point(points[0]), _point(points[1]))
    else:
        paper.polyline(layer, points)


def _drawn_tubes(bicycle: Bicycle) -> dict[str, _DrawnTube]:
    """Layer -> tube, of those that the dimensions place and that show from the side. The fork runs from crown race to
    axle, as a straight blade, unless its plan bends it."""
    found = {}
    for name, path in side_paths(bicycle).items():
        role = bicycle.plan.role(name)
        # the right one of a pair stands for both, as it is seen from the drive side
        if path is not None and not role.inside:
            line = np.array(path)[:, :2]
            found[layer_of(role)] = _DrawnTube(role, line, bicycle.tubes.get(name))
    return found


def _what_is_missing(bicycle: Bicycle, tubes: Mapping[str, _DrawnTube]) -> list[Finding]:
    found = []
    # a stated shell is drawn as it is; the workshop's is told
    if "bb_shell" not in bicycle.parts:
        found.append(
            Finding(
                "draw-shell-assumed",
                "info",
                f"the bottom bracket shell is drawn {2 * shell_radius(bicycle):g} mm across "
                "(workshop value); mitre to the shell you have",
                "BB_SHELL",
            )
        )
    for layer in (layer_of(role) for role in bicycle.roles if not role.inside):
        if layer in tubes:
            continue
        found.append(
            Finding(
                "draw-tube-not-placed",
                "warning",
                f"the {_words(layer)} is not drawn: the input does not "
                "say where it meets its neighbours",
                layer,
            )
        )
    for layer, tube in tubes.items():
        if tube.tube is None:
            found.append(
                Finding(
                    "draw-no-diameter",
                    "warning",
                    f"the {_words(layer)} is drawn as a centre-line only: "
                    "the tube table has no outside diameter for it",
                    layer,
                )
            )
    return found


def _words(layer: str) -> str:
    return layer.lower().replace("_", " ")


# --- wheels and fork ----------------------------------------------------------------------------------------


def _wheels(
    paper: Paper, d: FrameDimensions, bead_seats: tuple[float | None, float | None]
) -> None:
    wheels = (
        ("WHEEL_FRONT", d.front_axle, d.wheel_radius_front, bead_seats[0]),
        ("WHEEL_REAR", d.rear_axle, d.wheel_radius_rear, bead_seats[1]),
    )
    for layer, axle, radius, bead in wheels:
        paper.circle(layer, axle, radius)
        paper.circle("AXLE", axle, AXLE_RADIUS)
        # only a fit sheet knows the rim; a drawing has the tyre
        if bead is not None:
            paper.circle("RIM", axle, bead / 2)
    paper.line(
        "GROUND",
        (d.rear_axle.x - d.wheel_radius_rear, d.ground_y),
        (d.front_axle.x + d.wheel_radius_front, d.ground_y),
    )


def _blade_centre_line(paper: Paper, d: FrameDimensions, top: Point, straight: float) -> None:
    if not straight:
        # a straight blade, or one whose rake begins at its upper end
        paper.line("FORK", top, d.front_axle)
        return
    # the arc begins tangent to the steering axis, where the straight part ends
    bend = top.along(d.axis_up, -straight)
    paper.line("FORK", top, bend)
    along = _below(d, top) - straight
    rise = d.fork_offset
    # circle through both ends and tangent at the first: r = (l² + h²) / 2h
    radius = (along**2 + rise**2) / (2 * abs(rise))
    centre = bend.along(d.axis_forward, radius if rise > 0 else -radius)
    angles = [degrees(atan2(p.y - centre.y, p.x - centre.x)) for p in (bend, d.front_axle)]
    # DXF arcs run anticlockwise, so a rake to the rear swaps the ends
    paper.arc("FORK", centre, radius, *(angles if rise > 0 else reversed(angles)))


def _below(d: FrameDimensions, top: Point) -> float:
    """How far down the steering axis the foot of the offset lies from a place on it, mm."""
    foot = d.fork_offset_foot
    return hypot(top.x - foot.x, top.y - foot.y)


def _blade(d: FrameDimensions, top: Point, straight: float) -> Array:
    """(k, 2) centre-line of the blade from `top` on the steering axis: two points, or straight down the axis and round
    an arc to the axle."""
    along = _below(d, top) - straight
    rise = d.fork_offset
    if not straight or along <= 0 or abs(rise) < 1e-9:
        # no room for an arc, or nothing to bend
        return np.array([top, d.front_axle])
    bend = np.array(top.along(d.axis_up, -straight))
    # 33 points: chords within a few hundredths of a millimetre of the arc
    turn = np.linspace(0, 2 * atan2(abs(rise), along), 33)[:, None]
    radius = (along**2 + rise**2) / (2 * abs(rise))
    down = -np.array(d.axis_up)
    across = np.sign(rise) * np.array(d.axis_forward)
    return np.vstack([top, bend + radius * (np.sin(turn) * down + (1 - np.cos(turn)) * across)])


# --- outlines -----------------------------------------------------------------------------------------------


def _outlines(
    paper: Paper, bicycle: Bicycle, drawn: Mapping[str, _DrawnTube], blade: Array
) -> None:
    # without a diameter there is a centre-line and no outline
    tubes = {layer: tube for layer, tube in drawn.items() if tube.tube is not None}
    by_name = {tube.role.name: tube for tube in tubes.values()}
    for layer, tube in tubes.items():
        if layer != "FORK":
            stops = _stops(tube, by_name, shell_radius(bicycle))
            if tube.straight:
                _straight_outline(paper, layer, tube, stops)
            else:
                _bent_outline(paper, layer, tube, stops)
    head = tubes.get("HEAD_TUBE")
    _headset(paper, bicycle.dimensions, None if head is None else head.near(head.path[-1]))
    tips = [_tip(tube) for tube in tubes.values() if tube.role.joint(1) == "rear_dropout_"]
    # a dropout needs at least one stay that ends on it
    if tips:
        _dropout(paper, bicycle.dimensions.rear_axle, tips)
    if "FORK" in tubes:
        _blade_outline(paper, bicycle, blade)


def _further_shells(bicycle: Bicycle) -> Iterator[Point]:
    """Middles of the shells beside the first, of those who ride behind."""
    joints = joints_in_space(bicycle)
    for part in bicycle.plan.parts:
        at = joints[part.along[len(part.along) // 2]]
        if part.like == BB_SHELL and at is not None:
            yield Point(at[0], at[1])


def _stops(tube: _DrawnTube, tubes: Mapping[str, _DrawnTube], shell: float) -> tuple[Stop, Stop]:
    """What a tube's start and end are cut to."""
    role = tube.role
    return (
        _stop(tube, 0, role.mitred_start, tubes, shell),
        _stop(tube, 1, role.mitred_end, tubes, shell),
    )


def _stop(
    tube: _DrawnTube,
    end: int,
    neighbours: tuple[str, ...],
    tubes: Mapping[str, _DrawnTube],
    shell: float,
) -> Stop:
    """Beside a neighbour nothing cuts it; at a hub the dropout takes over; else what it is mitred to."""
    role = tube.role
    # seatstays that pass beside the seat tube are capped there, not mitred
    if role.tied_to(end):
        return Stop()
    if "dropout" in role.joint(end):
        return Stop(distance=TIP)
    joint = tube.path[-end]
    # the shell is a circle in the side view, the tubes beside it are lines
    if neighbours[:1] == (BB_SHELL,):
        met = [tubes[name].near(joint) for name in neighbours[1:] if name in tubes]
        return Stop(tuple(met), shell, foot=(float(joint[0]), float(joint[1])))
    first = [tubes[name].near(joint) for name in neighbours[:1] if name in tubes]
    return Stop(tuple(first))


def _straight_outline(
    paper: Paper, layer: str, drawn: _DrawnTube, stops: tuple[Stop, Stop]
) -> None:
    tube = drawn.near(drawn.path[0])
    sides = edges(tube, *stops)
    for points in sides.values():
        for begin, finish in pairwise(points):
            paper.line(f"{layer}_OUTLINE", begin, finish)
    role = drawn.role
    # an end that is not mitred is sawn square
    if "end" not in role.mitred and len(sides) == 2:
        paper.line(f"{layer}_OUTLINE", sides[1][-1], sides[-1][-1])
    if "start" not in role.mitred and len(sides) == 2:
        paper.line(f"{layer}_OUTLINE", sides[1][0], sides[-1][0])
    _cap(paper, layer, role, tube)


def _bent_outline(paper: Paper, layer: str, drawn: _DrawnTube, stops: tuple[Stop, Stop]) -> None:
    """Both edges of a bent tube, each cut where its end piece meets the neighbour."""
    assert drawn.tube is not None
    run = run_of(drawn.path)
    first = drawn.near(drawn.path[0])
    last = drawn.near(drawn.path[-1])
    sides = {}
    for side in (1, -1):
        begin = stops[0].at(first, side)
        finish = run[-1] - stops[1].at(last.reversed(), -side)
        stations = np.concatenate([[begin], run[(run > begin) & (run < finish)], [finish]])
        points = np.column_stack([np.interp(stations, run, drawn.path[:, k]) for k in (0, 1)])
        radii = drawn.tube.heights(run[-1], stations) / 2
        sides[side] = offset_path(points, radii, side)
        paper.polyline(f"{layer}_OUTLINE", sides[side])
    for end, k in (("start", 0), ("end", -1)):
        if end not in drawn.role.mitred:
            paper.line(f"{layer}_OUTLINE", sides[1][k], sides[-1][k])
    _cap(paper, layer, drawn.role, first)


def _cap(paper: Paper, layer: str, role: TubeRole, first: Silhouette) -> None:
    """A half circle where a tube begins beside its neighbour."""
    if role.tied_to(0):
        x, y = first.left
        towards = degrees(atan2(y, x))
        paper.arc(f"{layer}_OUTLINE", first.start, first.r_start, towards, towards + 180)


def _mitre_curves(paper: Paper, bicycle: Bicycle) -> None:
    """The drive side's half of each mitre in the frame's plane, as it shows from the side."""
    # paired tubes meet beside the plane, where their curve does not show
    shown = [role.name for role in bicycle.roles if role.mitred_end and not role.paired]
    try:
        mitres = [m for m in frame_mitres(bicycle) if m.member in shown]
        paths = {m.name: np.array(m.path)[:, :2] for m in lay_out(bicycle).members}
    except ModelError:
        return  # a tube that is not placed or has no diameter is a finding already
    for mitre in mitres:
        path = paths[mitre.member]
        # a cross piece of a rack is seen end on: its mitre shows from no side
        if np.allclose(path[0], path[-1]):
            continue
        curve = _visible_curve(mitre, path)
        # fewer than three points are no curve, as where tubes hardly meet
        if len(curve) > 2:
            paper.polyline(f"{mitre.member.upper()}_OUTLINE", curve)


def _visible_curve(mitre: Mitre, path: Array) -> Array:
    # beside the joint: a bent tube is cut along its end's own direction
    if mitre.at_end == "start":
        joint = path[0]
        other = path[1]
    else:
        joint = path[-1]
        other = path[-2]
    away = (other - joint) / np.linalg.norm(other - joint)
    upwards = np.array([-away[1], away[0]]) * np.sign(away[0])  # template angle 0 is the top
    if mitre.marks[1] == "drive side":
        drive = 1
    else:
        drive = -1
    # half the circumference: the other half lies behind
    phi = drive * np.linspace(0, pi, 25)
    s = mitre.outer(phi)
    # where the tube misses its neighbour there is no line to draw
    keep = np.isfinite(s)
    return np.asarray(
        joint + s[keep, None] * away + mitre.radius * np.cos(phi[keep])[:, None] * upwards,
        dtype=float,
    )


def _headset(paper: Paper, d: FrameDimensions, head: Silhouette | None) -> None:
    # below a millimetre there is nothing to draw, as with a bearing inside the head tube
    if head is None or d.lower_stack < 1.0:
        return
    half = head.r_end + WALL_OF_HEADSET
    corners = [
        p.along(d.axis_forward, side * half)
        for p, side in (
            (d.head_tube_bottom, 1),
            (d.head_tube_bottom, -1),
            (d.fork_crown, -1),
            (d.fork_crown, 1),
        )
    ]
    paper.polyline("HEADSET", corners, closed=True)


def _tip(drawn: _DrawnTube) -> Array:
    # a stay's outline ends TIP before the axle, where the plate takes over
    tube = drawn.near(drawn.path[-1])
    return np.array([tube.edge(side, tube.length - TIP) for side in (1, -1)])


def _dropout(paper: Paper, axle: Point, tips: list[Array]) -> None:
    """A plate round the axle that takes in the ends of the stays: their convex hull."""
    from shapely import MultiPoint

    ring = [
        axle.along((cos(a), sin(a)), DROPOUT_RADIUS)
        for a in np.linspace(0, 2 * pi, 24, endpoint=False)
    ]
    hull = MultiPoint([tuple(p) for p in (*ring, *np.vstack(tips))]).convex_hull
    paper.polyline("DROPOUT", list(hull.exterior.coords)[:-1], closed=True)


def _blade_outline(paper: Paper, bicycle: Bicycle, blade: Array) -> None:
    d = bicycle.dimensions
    tube = bicycle.tubes["fork_blade"]
    sides = path_edges(blade, tube)
    for side in sides:
        # a straight edge stays a line, which other programs can dimension
        if len(side) == 2:
            paper.line("FORK_OUTLINE", *side)
        else:
            paper.polyline("FORK_OUTLINE", side)
    for k in (0, -1):
        paper.line("FORK_OUTLINE", sides[0][k], sides[1][k])
    _dropout(paper, d.front_axle, [np.array([side[-1] for side in sides])])
