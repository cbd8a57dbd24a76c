"""Centre-lines of tubes as points: lengths along them, points on them, where two cross, and the usual curves.

Arrays of points (..., k, 3) hold one line, or one for each of many bicycles.
"""

import itertools
from collections.abc import Sequence
from math import inf

import numpy as np

from ..arrays import Array, Xyz, run_of
from ..columns import atan, cos, dist, hypot, of_all, one_of, points_of, sin, tuples_of
from ..errors import ModelError

CURVE_PIECES = 12  # straight pieces a curved blade or stay is divided into


def point_at(path: Array, run: Array, s: Array) -> Array:
    """(..., m, 3) points of centre-lines (..., k, 3) at distances s (..., m); beyond an end they go on straight."""
    before = (run[..., None, :] < s[..., None]).sum(axis=-1) - 1
    k = np.clip(before, 0, run.shape[-1] - 2)
    low = np.take_along_axis(run, k, axis=-1)
    high = np.take_along_axis(run, k + 1, axis=-1)
    share = (s - low) / (high - low)
    start = np.take_along_axis(path, k[..., None], axis=-2)
    end = np.take_along_axis(path, k[..., None] + 1, axis=-2)
    return np.asarray(start + (end - start) * share[..., None])


def meeting(one: Sequence[Xyz], other: Sequence[Xyz]) -> tuple[int, float] | None:
    """(piece of `one`, share of it) where two polylines cross in the side view; None where they do not."""
    for k, (a, b) in enumerate(itertools.pairwise(one)):
        for c, d in itertools.pairwise(other):
            here, there = _shares_at_crossing(a, b, c, d)
            if -1e-9 <= here <= 1 + 1e-9 and -1e-9 <= there <= 1 + 1e-9:
                return k, here
    return None


def _shares_at_crossing(a: Xyz, b: Xyz, c: Xyz, d: Xyz) -> tuple[float, float]:
    """At which share of a to b and of c to d their lines cross in the side view; where they are parallel nowhere."""
    along = (b[0] - a[0], b[1] - a[1])
    back = (c[0] - d[0], c[1] - d[1])
    apart = (c[0] - a[0], c[1] - a[1])
    turn = along[0] * back[1] - along[1] * back[0]
    if abs(turn) < 1e-9:
        return (-inf, -inf)
    here = (apart[0] * back[1] - apart[1] * back[0]) / turn
    there = (along[0] * apart[1] - along[1] * apart[0]) / turn
    return (here, there)


def distance_along(line: Sequence[Xyz], place: Xyz) -> float:
    """How far from its start a point lies on a centre-line, mm; beyond an end it goes on straight."""
    if len(line) == 2:
        return dist(place, line[0])
    path = points_of(line)
    point = points_of([place])
    starts = path[..., :-1, :]
    pieces = np.diff(path, axis=-2)
    lengths = np.linalg.norm(pieces, axis=-1)
    shares = np.einsum("...ij,...ij->...i", point - starts, pieces) / lengths**2
    inside = np.clip(shares, 0, 1)
    inside[..., 0] = np.minimum(shares[..., 0], 1.0)
    inside[..., -1] = np.maximum(shares[..., -1], 0.0)
    off = np.linalg.norm(starts + inside[..., None] * pieces - point, axis=-1)
    nearest = off.argmin(axis=-1)[..., None]
    at = run_of(path)[..., :-1] + inside * lengths
    return one_of(np.take_along_axis(at, nearest, axis=-1)[..., 0])


def off_piece(points: Array, start: Array, end: Array) -> Array:
    """How far points (..., d) lie from the straight piece between two others (d,), mm."""
    piece = end - start
    share = np.clip((points - start) @ piece / (piece @ piece), 0.0, 1.0)
    return np.asarray(np.linalg.norm(points - start - share[..., None] * piece, axis=-1))


def tightest_bend(path: Array) -> tuple[float, float]:
    """(least radius, distance from the start where it is) of a centre-line: of the circles through each three points
    that follow one another, R = a b c / 4 F (any handbook of geometry); infinite where straight."""
    # a bend of nought is drawn as its two ends
    if len(path) < 3:
        return inf, 0.0
    before = path[:-2]
    here = path[1:-1]
    after = path[2:]
    sides = [np.linalg.norm(side, axis=1) for side in (here - before, after - here, after - before)]
    twice = np.linalg.norm(np.cross(here - before, after - here), axis=1)
    with np.errstate(divide="ignore"):
        radii = np.prod(sides, axis=0) / (2 * twice)
    k = int(radii.argmin())
    return float(radii[k]), float(run_of(path)[k + 1])


def signed_distance(line: Sequence[Xyz], place: Xyz) -> float:
    """As `distance_along`, below zero before the start."""
    if len(line) > 2:
        return distance_along(line, place)
    start, end = line
    # Onto the line's direction.
    along = sum((e - s) * (p - s) for s, e, p in zip(start, end, place, strict=True))
    return along / dist(start, end)


def bowed(start: Xyz, end: Xyz, sign: float, sagitta: float) -> tuple[Xyz, ...]:
    """Straight, or bent outwards by `sagitta` in the middle, as a parabola."""
    if sagitta <= 0:
        return (start, end)
    t = np.linspace(0, 1, CURVE_PIECES + 1)[:, None]
    line = points_of([start]) * (1 - t) + points_of([end]) * t
    # 4 t (1 - t) is nought at both ends and one in the middle
    out = sign * 4 * of_all(sagitta)[..., None] * (t * (1 - t))[:, 0]
    line, out = np.broadcast_arrays(line, out[..., None])
    return tuples_of(line + out * (0.0, 0.0, 1.0))


def raked(start: Xyz, end: Xyz, axis_up: tuple[float, float], straight: float) -> tuple[Xyz, ...]:
    """Straight from crown to axle, or parallel to the steering axis for `straight` mm and then a circular arc,
    tangent to it, that ends at the axle (the usual raked blade)."""
    if straight <= 0:
        return (start, end)
    # The straight part runs down along the steering axis.
    down = (-axis_up[0], -axis_up[1])
    plane = points_of(_arc_to((start[0], start[1]), down, (end[0], end[1]), straight))
    run = run_of(plane)
    # the blades spread evenly along the run, as a bent tube lies between crown and dropout
    z = of_all(start[2])[..., None] + of_all(end[2] - start[2])[..., None] * run / run[..., -1:]
    return tuples_of(np.concatenate([plane, z[..., None]], axis=-1))


_Flat = tuple[float, float]


def _arc_to(start: _Flat, direction: _Flat, end: _Flat, straight: float) -> list[_Flat]:
    """Points: `straight` along `direction`, then an arc tangent to it through `end`."""
    bend = (start[0] + straight * direction[0], start[1] + straight * direction[1])
    to_end = (end[0] - bend[0], end[1] - bend[1])
    along = to_end[0] * direction[0] + to_end[1] * direction[1]
    across = (to_end[0] - along * direction[0], to_end[1] - along * direction[1])
    rise = hypot(*across)
    if along <= rise or rise < 1e-9:  # an arc of more than a quarter turn is not a fork blade
        raise ModelError(
            f"the straight part of the fork blade, {straight:g} mm, leaves no room for the curve; "
            "shorten it"
        )
    # circle through both points with the given tangent at the first (chord and sagitta)
    radius = (along**2 + rise**2) / (2 * rise)
    # below a right angle: along is more than the rise
    angle = 2 * atan(rise / along)
    points = [start]
    for k in range(CURVE_PIECES + 1):
        turn = angle * (k / CURVE_PIECES)
        on = radius * sin(turn)
        off = radius * (1 - cos(turn)) / rise
        points.append(
            (
                bend[0] + on * direction[0] + off * across[0],
                bend[1] + on * direction[1] + off * across[1],
            )
        )
    return points
