"""Outlines of a frame's tubes in the side view: edges from tube to tube, caps, mitre curves, headset and dropouts."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from math import atan2, cos, degrees, pi, sin

import numpy as np

from ....model.arrays import Array, run_of
from ....model.errors import ModelError
from ....model.frame.bicycle import Bicycle
from ....model.frame.frame_mitres import frame_mitres
from ....model.frame.layout import joints_in_space, lay_out
from ....model.frame.mitre import Mitre
from ....model.geometry.dimensions import FrameDimensions, Point
from ....model.tubes.plan import SHELL as BB_SHELL
from ....model.tubes.plan import TubeRole
from ....model.tubes.tube import Tube
from .outline import TIP, Silhouette, Stop, edges, offset_path, path_edges, shell_radius
from .paper import Paper, Xy

DROPOUT_RADIUS = 11.0
WALL_OF_HEADSET = 2.0  # the lower headset is drawn that much wider than the head tube, each side


@dataclass(frozen=True)
class DrawnTube:
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
            return Silhouette.of(self.tube, *map(as_point, self.path))
        middles = (self.path[1:] + self.path[:-1]) / 2
        k = int(np.linalg.norm(middles - np.array(point), axis=1).argmin())
        run = run_of(self.path)
        ends = self.tube.heights(run[-1], run[k : k + 2]) / 2
        start, end = map(as_point, self.path[k : k + 2])
        return Silhouette(start, end, float(ends[0]), float(ends[1]))


def as_point(xy: Array) -> Point:
    return Point(float(xy[0]), float(xy[1]))


def draw_strokes(paper: Paper, layer: str, points: Array) -> None:
    """A line where it is straight, which other programs can dimension; else a polyline."""
    if len(points) == 2:
        paper.line(layer, as_point(points[0]), as_point(points[1]))
    else:
        paper.polyline(layer, points)


def draw_outlines(
    paper: Paper, bicycle: Bicycle, drawn: Mapping[str, DrawnTube], blade: Array
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


def further_shells(bicycle: Bicycle) -> Iterator[Point]:
    """Middles of the shells beside the first, of those who ride behind."""
    joints = joints_in_space(bicycle)
    for part in bicycle.plan.parts:
        at = joints[part.along[len(part.along) // 2]]
        if part.like == BB_SHELL and at is not None:
            yield Point(at[0], at[1])


def _stops(tube: DrawnTube, tubes: Mapping[str, DrawnTube], shell: float) -> tuple[Stop, Stop]:
    """What a tube's start and end are cut to."""
    role = tube.role
    return (
        _stop(tube, 0, role.mitred_start, tubes, shell),
        _stop(tube, 1, role.mitred_end, tubes, shell),
    )


def _stop(
    tube: DrawnTube,
    end: int,
    neighbours: tuple[str, ...],
    tubes: Mapping[str, DrawnTube],
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


def _straight_outline(paper: Paper, layer: str, drawn: DrawnTube, stops: tuple[Stop, Stop]) -> None:
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


def _bent_outline(paper: Paper, layer: str, drawn: DrawnTube, stops: tuple[Stop, Stop]) -> None:
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


def draw_mitre_curves(paper: Paper, bicycle: Bicycle) -> None:
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


def _tip(drawn: DrawnTube) -> Array:
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
