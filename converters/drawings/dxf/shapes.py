"""One entity record -> its shape in space, before any block placement.

Shapes are 3-D here, because extrusions and block transformations are: whether the result lies in the XY plane is judged
after placement. Angles in radians, lengths in drawing units. Formulas: DXF reference (group codes, object coordinate
system by the arbitrary axis algorithm), bulge = tan(sweep / 4).
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ....model.errors import InputError
from ..drawing import Kind
from .budget import check_vertices
from .tags import DAMAGED, Record

Points = NDArray[np.float64]
UPRIGHT = (0.0, 0.0, 1.0)  # direction of what lies in the XY plane
FULL_TURN = 2.0 * math.pi
# radians: a sweep this close to a full turn is one (angles written with five digits)
SAME_ANGLE = 1e-5
ROUNDING = 1e-9  # steps, or share of a ratio, that come from the arithmetic alone
HAIRPIN = 0.2  # square of the sum of two unit normals: at sharper corners a mitre is cut
ONE_WIDTH = 1e-6  # share by which the widths of a polyline may differ and still be one
CLOSED = 1  # flag on group 70 of polylines
SPLINE_FRAME = 16  # flag on group 70 of a vertex that only steers a curve
POLYLINE_3D = 8  # flag on group 70 of polylines
MESHES = 16 | 64
# width over extent from which a polyline is a band with two edges, not a pen's stroke
LEAST_BAND = 0.012


@dataclass(frozen=True, eq=False)
class Shape:
    """A curve in space. endless: 'both' for XLINE, 'one' for RAY; points then hold base and base + direction.

    fit: points a spline is said to pass through, (k, 3), none for most.
    """

    kind: Kind
    points: Points  # (k, 3)
    centre: tuple[float, float, float] | None = None
    radius: float | None = None
    closed: bool = False
    endless: str = ""
    fit: Points | None = None


class EmptyShape(Exception):
    """The record is sound but draws nothing (radius 0, a polyline of one point): left out with a note."""


def shape_of(record: Record, step: float) -> Shape:
    """The shape of a curve record, arcs flattened in steps of at most `step` radians.

    Raises InputError for damaged records, EmptyShape for those that draw nothing.
    """
    return MAKERS[record.kind](record, step)


# -- object coordinates ------------------------------------------------------------------------------


def extrusion(record: Record) -> tuple[float, float, float]:
    """Direction on groups 210, 220, 230, scaled to a largest component of 1; (0, 0, 1) when absent."""
    if 210 not in record.first and 230 not in record.first:
        return UPRIGHT
    x = record.number(210, 0.0)
    y = record.number(220, 0.0)
    z = record.number(230, 1.0)
    # scaled first: the square of a very large component would overflow
    size = max(abs(x), abs(y), abs(z))
    if size:
        return (x / size, y / size, z / size)
    return UPRIGHT


def to_world(record: Record, points: Points) -> Points:
    """Object coordinates (k, 3) to world coordinates by the record's extrusion direction."""
    normal = extrusion(record)
    # by far the most common: the points stay as written, bit for bit
    if normal == UPRIGHT:
        return points
    from ezdxf.math import OCS

    ocs = OCS(normal)
    axes = np.array([tuple(axis) for axis in (ocs.ux, ocs.uy, ocs.uz)])
    world: Points = points @ axes
    return world


def _point_to_world(
    record: Record, point: tuple[float, float, float]
) -> tuple[float, float, float]:
    if extrusion(record) == UPRIGHT:
        return point
    x, y, z = to_world(record, np.array([point], dtype=float))[0]
    return float(x), float(y), float(z)


# -- straight ----------------------------------------------------------------------------------------


def _line(record: Record, step: float) -> Shape:
    """LINE stands in world coordinates whatever its extrusion."""
    return Shape("line", np.array([record.point(10), record.point(11)]))


def _endless(record: Record, step: float) -> Shape:
    base = np.array(record.point(10))
    direction = np.array(record.point(11))
    if not direction.any():
        raise EmptyShape
    return Shape(
        "line",
        np.array([base, base + direction]),
        endless="both" if record.kind == "XLINE" else "one",
    )


# -- round -------------------------------------------------------------------------------------------


def _sweep_steps(sweep: float, step: float) -> int:
    # rounding must not add a step to a sweep that is a whole number of steps
    return max(math.ceil(abs(sweep) / step - ROUNDING), 2)


@lru_cache(maxsize=4096)
def _shares(steps: int) -> Points:
    """Where the vertices of a sweep stand, 0 to 1; read only, as arcs of as many steps share it."""
    shares = np.linspace(0.0, 1.0, steps + 1)
    shares.flags.writeable = False
    return shares


def _circle(record: Record, step: float) -> Shape:
    return _round(record, 0.0, FULL_TURN, step)


def _arc(record: Record, step: float) -> Shape:
    """Counter-clockwise from start to end in object coordinates."""
    start = math.radians(record.number(50) % 360.0)
    end = math.radians(record.number(51) % 360.0)
    sweep = end - start
    # an arc from 350 to 10 degrees runs through 0; equal angles mean a full turn
    return _round(record, start, sweep if sweep > 0.0 else sweep + FULL_TURN, step)


def _round(record: Record, start: float, sweep: float, step: float) -> Shape:
    radius = record.number(40)
    if radius <= 0.0:
        raise EmptyShape
    centre = record.point(10)
    angles = start + sweep * _shares(_sweep_steps(sweep, step))
    points = np.empty((len(angles), 3))
    points[:, 0] = centre[0] + radius * np.cos(angles)
    points[:, 1] = centre[1] + radius * np.sin(angles)
    points[:, 2] = centre[2]
    full = FULL_TURN - sweep < SAME_ANGLE
    # sin(2 pi) is not 0: the ends must meet exactly to count as closed
    if full:
        points[-1] = points[0]
    if full:
        kind: Kind = "circle"
    else:
        kind = "arc"
    return Shape(kind, to_world(record, points), _point_to_world(record, centre), radius, full)


def _ellipse(record: Record, step: float) -> Shape:
    """Centre and major axis in world coordinates; a ratio of 1 is a true circle or arc."""
    centre = np.array(record.point(10))
    major = np.array(record.point(11))
    ratio = record.number(40)
    length = float(np.linalg.norm(major))
    if length == 0.0 or ratio == 0.0:
        raise EmptyShape
    normal = np.array(extrusion(record))
    # the minor axis is not in the file: square to normal and major axis, ratio times as long
    minor = np.cross(normal / np.linalg.norm(normal), major) * ratio
    start = record.number(41, 0.0) % FULL_TURN
    sweep = record.number(42, FULL_TURN) - record.number(41, 0.0)
    full = sweep == 0.0 or abs(sweep) > FULL_TURN - SAME_ANGLE
    if full:
        sweep = FULL_TURN
    else:
        sweep = sweep % FULL_TURN
    return round_shape(centre, major, minor, (start, sweep), step)


def round_shape(
    centre: Points, major: Points, minor: Points, turn: tuple[float, float], step: float
) -> Shape:
    """An ellipse, or a part of one, by its half axes; `turn`: where it starts and how far it goes, radians."""
    start, sweep = turn
    full = sweep >= FULL_TURN
    t = start + sweep * _shares(_sweep_steps(sweep, step))
    points = centre + np.outer(np.cos(t), major) + np.outer(np.sin(t), minor)
    if full:
        points[-1] = points[0]
    # a circle may be written as an ellipse of ratio 1; a wheel is to stay exact
    size = float(np.linalg.norm(major))
    if abs(float(np.linalg.norm(minor)) / size - 1.0) > ROUNDING:
        return Shape("ellipse", points, closed=full)
    x, y, z = map(float, centre)
    return Shape("circle" if full else "arc", points, (x, y, z), size, full)


# -- polylines ---------------------------------------------------------------------------------------


def _lwpolyline(record: Record, step: float) -> Shape:
    xs: list[bytes] = []
    ys: list[bytes] = []
    bulges: list[bytes] = []
    for code, value in record.groups():
        if code == 10:
            xs.append(value)
            # a bulge is written only where a vertex has one; 0 keeps the two lists in step
            bulges.append(b"0")
        elif code == 20:
            ys.append(value)
        elif code == 42 and bulges:
            bulges[-1] = value
    if len(xs) != len(ys):
        raise InputError(f"{record.place()} has {len(xs)} x but {len(ys)} y values. {DAMAGED}")
    flat = np.column_stack([record.numbers(xs), record.numbers(ys)]).reshape(-1, 2)
    return _bulged(record, flat, np.array(record.numbers(bulges)), record.number(38, 0.0), step)


def _polyline(record: Record, step: float) -> Shape:
    """POLYLINE of R12: vertices are records of their own; the control frame of a fitted spline is not drawn."""
    flags = record.integer(70)
    # the frame of control points stands among the vertices but is not shown
    drawn = [vertex for vertex in record.children if not vertex.integer(70) & SPLINE_FRAME]
    vertices = np.array([vertex.point(10) for vertex in drawn]).reshape(-1, 3)
    if flags & POLYLINE_3D:
        return _chain(vertices, bool(flags & CLOSED))
    bulges = np.array([vertex.number(42, 0.0) for vertex in drawn])
    return _bulged(record, vertices[:, :2], bulges, record.number(30, 0.0), step)


def is_mesh(record: Record) -> bool:
    """POLYLINE is also the record of 3-D meshes, which are no curves."""
    return record.kind == "POLYLINE" and bool(record.integer(70) & MESHES)


def band_width(record: Record) -> float:
    """The one width a polyline is drawn with along its whole length (43, or 40 and 41 of every vertex); else 0."""
    if record.kind == "LWPOLYLINE" and 43 in record.first:
        return max(record.number(43, 0.0), 0.0)
    if record.kind == "LWPOLYLINE":
        widths = [*record.all(40), *record.all(41)]
    elif record.children:
        # vertices without widths of their own take those of the polyline
        own = (record.number(40, 0.0), record.number(41, 0.0))
        widths = [v.number(code, own[code == 41]) for v in record.children for code in (40, 41)]
    else:
        widths = []
    if not widths or max(widths) - min(widths) > ONE_WIDTH * max(widths):
        return 0.0
    return max(widths[0], 0.0)


def outlines(record: Record, shape: Shape) -> list[Shape]:
    """The outlines of a polyline drawn as a band: two loops of a closed one, else one loop about it.

    A pen's width is no band: it is small against what it draws.
    """
    if record.kind not in ("LWPOLYLINE", "POLYLINE") or shape.kind != "polyline":
        return [shape]
    width = band_width(record)
    extent = float(np.ptp(shape.points[:, :2], axis=0).max())
    # a thick pen is a matter of printing; a band stands for a tube's two edges
    if not width > LEAST_BAND * extent:
        return [shape]
    left, right = (_beside(shape.points, s * width / 2.0, shape.closed) for s in (1.0, -1.0))
    if shape.closed:
        return [_chain(left, False), _chain(right, False)]
    return [_chain(np.vstack([left, right[::-1]]), True)]


def _beside(points: Points, by: float, closed: bool) -> Points:
    """A chain moved to its left by `by`, its corners mitred."""
    step = np.diff(points[:, :2], axis=0)
    length = np.hypot(step[:, 0], step[:, 1])
    # a doubled vertex has no direction to move sideways from
    kept = np.flatnonzero(length > 0.0)
    vertices = points[np.append(kept, len(points) - 1)]
    normal = np.column_stack([-step[kept, 1], step[kept, 0]]) / length[kept][:, None]
    before = np.vstack([normal[-1:] if closed else normal[:1], normal])
    after = np.vstack([normal, normal[:1] if closed else normal[-1:]])
    both = before + after
    scale = np.maximum((both**2).sum(axis=1), HAIRPIN)
    out = vertices.copy()
    # 2 n / |n|^2 is the mitre for the sum n of two unit normals
    out[:, :2] += 2.0 * by * both / scale[:, None]
    moved: Points = out
    return moved


def _bulged(record: Record, flat: Points, bulges: Points, elevation: float, step: float) -> Shape:
    closed = bool(record.integer(70) & CLOSED)
    # straight polylines keep their own vertices and cost nothing
    if len(flat) > 1 and bulges.any():
        flat = bulge_points(flat, bulges, closed, step)
        closed = False  # the first point stands at the end already
    points = np.column_stack([flat, np.full(len(flat), elevation)])
    return _chain(to_world(record, points), closed)


def _chain(points: Points, closed: bool) -> Shape:
    if len(points) < 2:
        raise EmptyShape
    if closed:
        points = np.vstack([points, points[:1]])
    return Shape("polyline", points, closed=bool((points[0] == points[-1]).all()))


def bulge_points(vertices: Points, bulges: Points, closed: bool, step: float) -> Points:
    """Flatten a chain (k, 2) of straight and bulged segments; vertices stay bit for bit, ends included.

    bulge = tan(sweep / 4), positive to the left (counter-clockwise), so the centre lies at
    (1 / bulge - bulge) / 4 times the chord, square to it, from its middle.
    """
    if closed:
        ends = np.vstack([vertices[1:], vertices[:1]])
    else:
        ends = vertices[1:]
    starts = vertices[: len(ends)]
    bulges = bulges[: len(ends)]
    sweep = 4 * np.arctan(bulges)
    counts = np.maximum(np.ceil(np.abs(sweep) / step - ROUNDING), 1).astype(int)
    # before the arrays are made, not after they have filled the memory
    check_vertices(int(counts.sum()))
    segment = np.repeat(np.arange(len(ends)), counts)
    k = np.arange(len(segment)) - np.repeat(np.cumsum(counts) - counts, counts)
    bulge = np.where(counts == 1, 1.0, bulges)  # their centres are not needed
    chord = ends - starts
    to_centre = ((1.0 / bulge - bulge) / 4.0)[:, None] * np.column_stack(
        [-chord[:, 1], chord[:, 0]]
    )
    centres = (starts + ends) / 2.0 + to_centre
    angle = sweep[segment] * k / counts[segment]
    arm = (starts - centres)[segment]
    turned = np.column_stack(
        [
            np.cos(angle) * arm[:, 0] - np.sin(angle) * arm[:, 1],
            np.sin(angle) * arm[:, 0] + np.cos(angle) * arm[:, 1],
        ]
    )
    # a piece's first point is the drawn vertex itself, free of rounding by the turning
    points = np.where((k == 0)[:, None], starts[segment], centres[segment] + turned)
    return np.vstack([points, ends[-1:]])


def _spline(record: Record, step: float) -> Shape:
    from .spline import fit_points, spline_points

    points = spline_points(record, step)
    fit = fit_points(record)
    if len(points) < 2:
        raise EmptyShape
    closed = bool((points[0] == points[-1]).all())
    return Shape("spline", points, closed=closed, fit=fit if len(fit) else None)


def multi_line(record: Record) -> list[Shape]:
    """MLINE: the parallel lines of its style, each vertex moved along its mitre (group 13) by the first number
    that the vertex holds for the line (group 41)."""
    at: list[list[float]] = []
    mitres: list[list[float]] = []
    offsets: list[list[float]] = []
    waiting = False
    for code, value in record.groups():
        if code in (11, 13):
            (at if code == 11 else mitres).append([*record.numbers([value]), 0.0, 0.0])
            if code == 11:
                offsets.append([])
        elif code in (21, 31) and at:
            at[-1][code // 10 - 1] = record.numbers([value])[0]
        elif code in (23, 33) and mitres:
            mitres[-1][code // 10 - 1] = record.numbers([value])[0]
        elif code == 74:
            waiting = True
        elif code == 41 and waiting and offsets:
            offsets[-1].append(record.numbers([value])[0])
            waiting = False
    count = min((len(o) for o in offsets), default=0)
    if len(at) < 2 or len(mitres) != len(at) or not count:
        raise EmptyShape
    closed = bool(record.integer(71) & 2)
    vertices = np.array(at)
    # vertices of one multi-line may hold different numbers of offsets: only lines all of them have
    moves = np.array([o[:count] for o in offsets])
    along = np.array(mitres)
    return [_chain(vertices + moves[:, k, None] * along, closed) for k in range(count)]


MAKERS: dict[str, Callable[[Record, float], Shape]] = {
    "LINE": _line,
    "XLINE": _endless,
    "RAY": _endless,
    "CIRCLE": _circle,
    "ARC": _arc,
    "ELLIPSE": _ellipse,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
    "SPLINE": _spline,
}
