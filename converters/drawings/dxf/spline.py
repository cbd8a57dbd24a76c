"""SPLINE records to points: rational and plain B-splines on their true parameter range, or fit points only.

Points are spread over each knot span by how far the control polygon turns there, so that a straight spline costs a few
points and a full circle gets one per degree.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from ....model.arrays import run_of
from ....model.errors import InputError
from .budget import check_vertices
from .tags import DAMAGED, Record

Points = NDArray[np.float64]
MIN_PER_SPAN = 4  # straight pieces of a span, however flat it is
MAX_PIECES = 200_000  # per spline, before its spans get fewer pieces each
MAX_DEGREE = 25  # programs stop at 11 to 25


def spline_points(record: Record, step: float) -> Points:
    """Points (k, 3) on the spline, first and last exact. Raises InputError when its numbers do not fit together."""
    control = _points(record, 10)
    if len(control):
        degree = record.integer(71, 3)
        knots = np.array(record.all(40))
        weights = np.array(record.all(41))
        _check(record, control, degree, knots, weights)
        return _evaluate(
            control, degree, knots, weights if len(weights) else np.ones(len(control)), step
        )
    return _through(record, step)


def fit_points(record: Record) -> Points:
    """Points (k, 3) the curve was laid through, none when the file does not keep them."""
    return _points(record, 11)


def _points(record: Record, code: int) -> Points:
    # z may be absent altogether in flat splines, but not for some points only
    x, y, z = (np.array(record.all(c)) for c in (code, code + 10, code + 20))
    if len(x) != len(y) or len(z) not in (0, len(x)):
        raise InputError(
            f"{record.place()} has {len(x)} x, {len(y)} y and {len(z)} z values. {DAMAGED}"
        )
    return np.column_stack([x, y, z if len(z) else np.zeros(len(x))]).reshape(-1, 3)


def _check(record: Record, control: Points, degree: int, knots: Points, weights: Points) -> None:
    if not 1 <= degree <= min(MAX_DEGREE, len(control) - 1):
        raise InputError(
            f"{record.place()} has degree {degree} with {len(control)} control points. {DAMAGED}"
        )
    # the knot rule of every B-spline; falling knots would give a curve without sense
    if len(knots) != len(control) + degree + 1 or (np.diff(knots) < 0.0).any():
        want = len(control) + degree + 1
        raise InputError(
            f"{record.place()} has {len(knots)} knots instead of {want} rising ones. {DAMAGED}"
        )
    if knots[degree] >= knots[len(control)]:
        raise InputError(f"{record.place()} has a knot range of zero length. {DAMAGED}")
    if len(weights) and (len(weights) != len(control) or (weights <= 0.0).any()):
        raise InputError(
            f"{record.place()} has weights that do not fit its control points. {DAMAGED}"
        )


def _evaluate(control: Points, degree: int, knots: Points, weights: Points, step: float) -> Points:
    """Homogeneous B-spline (Piegl and Tiller, The NURBS Book, eq. 4.5) at parameters spread by the turning angle."""
    from scipy.interpolate import BSpline

    # weights make it rational: only so can a spline be an exact circle
    homogeneous = np.column_stack([control * weights[:, None], weights])
    t = _parameters(control, degree, knots, step)
    values = BSpline(knots, homogeneous, degree)(t)
    points: Points = values[:, :3] / values[:, 3:]
    if (
        knots[1] == knots[degree]
    ):  # clamped: the curve starts and ends at its end control points, bit for bit
        points[0] = control[0]
    if knots[-2] == knots[len(control)]:
        points[-1] = control[-1]
    return points


def _parameters(control: Points, degree: int, knots: Points, step: float) -> Points:
    """Parameters from knot[degree] to knot[n], each span divided by the turning of its own control points."""
    # turning at the points before the i-th
    before = np.concatenate([[0.0, 0.0], np.cumsum(_turning(control))])
    spans = np.arange(degree, len(control))
    # repeated knots make spans of no length, which need no pieces
    spans = spans[knots[spans + 1] > knots[spans]]
    counts = _counts(before[spans] - before[spans - degree + 1], step)
    inner = _divided(knots[spans], knots[spans + 1], counts)
    parameters: Points = np.append(inner, knots[len(control)])
    return parameters


def _turning(polygon: Points) -> Points:
    """Angle between neighbouring legs at each inner point of a polygon, radians."""
    legs = np.diff(polygon, axis=0)
    cross = np.linalg.norm(np.cross(legs[:-1], legs[1:]), axis=1)
    angles: Points = np.arctan2(cross, np.einsum("ij,ij->i", legs[:-1], legs[1:]))
    return angles


def _counts(turning: Points, step: float) -> NDArray[np.int64]:
    """Pieces per span: one per step of turning, fewer when there are very many spans."""
    most = max(MIN_PER_SPAN, MAX_PIECES // max(len(turning), 1))
    pieces = np.clip(np.ceil(turning / step), MIN_PER_SPAN, most).astype(np.int64)
    check_vertices(int(pieces.sum()))
    return pieces


def _divided(starts: Points, ends: Points, counts: NDArray[np.int64]) -> Points:
    """Each interval start..end cut into its count of equal pieces; the starts of all pieces."""
    part = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
    pieces: Points = np.repeat(starts, counts) + part * np.repeat((ends - starts) / counts, counts)
    return pieces


def _through(record: Record, step: float) -> Points:
    """Fit points only: the cubic spline over chord length that CAD programs draw, natural or with stated tangents."""
    given = fit_points(record)
    moved = np.concatenate([[True], np.diff(given, axis=0).any(axis=1)])[: len(given)]
    # a point given twice would make two equal parameters, which no spline can pass
    fit: Points = given[moved]
    if len(fit) < 3:
        return fit
    from scipy.interpolate import CubicSpline

    t = run_of(fit)
    turning = np.concatenate([[0.0], _turning(fit), [0.0]])
    counts = _counts(turning[:-1] + turning[1:], step)
    parameters = np.append(_divided(t[:-1], t[1:], counts), t[-1])
    points: Points = np.asarray(CubicSpline(t, fit, bc_type=_ends(record))(parameters))
    # ends are what members are measured by, so they are not left to rounding
    points[0] = fit[0]
    points[-1] = fit[-1]
    return points


def _ends(record: Record) -> Any:
    """End conditions: a stated unit tangent (groups 12, 13) or none, which means no curvature there."""
    return tuple(_end(record, code) for code in (12, 13))


def _end(record: Record, code: int) -> tuple[int, Points]:
    if code in record.first:
        tangent = np.array(record.point(code))
    else:
        tangent = np.zeros(3)
    length = float(np.linalg.norm(tangent))
    if length == 0.0:
        return 2, tangent  # second derivative 0
    unit: Points = tangent / length
    return 1, unit  # first derivative
