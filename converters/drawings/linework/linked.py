"""Tubes drawn with a bend: straight links that follow one another at a slight angle, singly or as two edges."""

from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise, product
from math import atan2, degrees

import numpy as np
from numpy.typing import NDArray

from ....model.arrays import Array
from .lines import Candidate, crossing
from .plane import Vec
from .view import View

LEAST_LINK = 28.0  # mm
TOGETHER = 0.6  # mm between two links' ends
TURN = (0.9, 40.0)  # degrees at the bend
MOST_LINKS = 3  # straight parts of a tube with bends
MOST_TOGETHER = 40  # ends at one place; more are a fan or a hatch, no bend of a tube
MOST_STROKES = 300  # longest first
WIDE = (9.0, 80.0)  # mm between two bent edges
LIKE = 0.02  # rad; lines this near parallel compete
ALIKE = 0.004  # rad between the links of two edges
EVEN = 1.0  # mm by which the distance may differ from link to link
LEAST_PART = 45.0  # mm of an edge of one of its pieces
LIKE_LENGTH = (0.75, 1.34)  # of one edge's piece over the other's: the inside of a bend is shorter
# Shares of a pair's width, from one edge to the other: what lies from and to these is another edge within it ...
WITHIN = (0.08, 0.92)
MIDDLE = 0.5  # share of the way from one edge to the other
ABOUT_MIDDLE = 0.04  # ... unless it lies this near the middle: the tube's own centre-line
GAP_EVEN = 4.0  # mm; edges as far outside on both sides, within this, make the pair the gap between two tubes
GAP_FAR = 2.0  # widths of the pair beyond it that they are looked for
# tube widths from the crossing of the middles at which the edges of a mitred bend may end
MITRED = 0.8
SHIFT = 0.35  # of an edge's length by which the other may be pushed along it
MOST_EDGES = 160  # strokes held against each other, longest first
MOST_PARTS = 200  # pairs of them kept
EACH_LINK = -0.1  # points, so that one straight line is taken before a path as good
MAY_BE_GAP = -0.4  # points of a pair that may be the gap between two tubes
MOST = 24  # paths of each kind, longest first


def linked(v: View, fits: Callable[[Vec, Vec], bool]) -> list[Candidate]:
    """Paths of links from p to q for which `fits(p, q)`, then the middles of pairs of them."""
    return _paths(v, fits)[:MOST] + _tube_paths(v, fits)[:MOST]


def _paths(v: View, fits: Callable[[Vec, Vec], bool]) -> list[Candidate]:
    index, ends, onward = _links(v)
    found: dict[frozenset[int], Candidate] = {}
    for start in range(2 * len(index)):
        # a path leaves its first link by end `start`
        todo: list[tuple[int, ...]] = [(start,)]
        while todo:
            path = todo.pop()
            if len(path) > 1:
                points = [_at(ends, path[0] ^ 1), *(_at(ends, e ^ 1) for e in path[1:])]
                points.append(_at(ends, path[-1]))
                strokes = tuple(int(index[e // 2]) for e in path)
                if fits(points[0], points[-1]):
                    found.setdefault(frozenset(strokes), _path(points, strokes))
            if len(path) < MOST_LINKS:
                held = {e // 2 for e in path}
                todo += [(*path, e) for e in onward.get(path[-1], ()) if e // 2 not in held]
    return sorted(found.values(), key=lambda c: -c.length)


@lru_cache(maxsize=2)
def _links(v: View) -> tuple[NDArray[np.int64], Array, dict[int, list[int]]]:
    """The strokes looked at, their ends, and which ends lead on to which; the same for every member of a pose."""
    index = np.flatnonzero(v.length >= LEAST_LINK)
    index = index[np.argsort(-v.length[index])][:MOST_STROKES]
    ends: Array = v.ends[index].reshape(-1, 2, 2)
    return index, ends, _onward(ends) if len(index) > 1 else {}


def _at(ends: np.ndarray, end: int) -> Vec:
    x, y = ends[end // 2, end % 2].tolist()
    return (x, y)


def _onward(ends: np.ndarray) -> dict[int, list[int]]:
    """End a path arrives at -> ends it leaves the next link by. End 2k is link k's first, 2k + 1 its second."""
    tips = ends.reshape(-1, 2)
    step = ends[:, 1] - ends[:, 0]
    unit = step / np.hypot(*step.T)[:, None]
    out = np.stack((-unit, unit), axis=1).reshape(-1, 2)  # leaving the link through this end
    # sorted by x, so that ends near one another are found without trying all pairs
    order = np.argsort(tips[:, 0], kind="stable")
    x = tips[order, 0]
    table: dict[int, list[int]] = {}
    crowd = np.searchsorted(x, x + TOGETHER, side="right") - np.arange(len(x))
    if crowd.max(initial=0) > MOST_TOGETHER:
        # hatch lines would make paths without number
        order = order[crowd <= MOST_TOGETHER]
        x = tips[order, 0]
    for n, end in enumerate(order.tolist()):
        stop = int(np.searchsorted(x, x[n] + TOGETHER, side="right"))
        for other in order[n + 1 : stop].tolist():
            if other // 2 == end // 2 or abs(tips[other, 1] - tips[end, 1]) > TOGETHER:
                continue
            turn = np.degrees(np.arccos(np.clip(-(out[end] @ out[other]), -1.0, 1.0)))
            if TURN[0] <= turn <= TURN[1]:
                table.setdefault(end, []).append(other ^ 1)
                table.setdefault(other, []).append(end ^ 1)
    return table


def _path(points: list[Vec], strokes: tuple[int, ...]) -> Candidate:
    links = tuple(pairwise(points))
    bonus = EACH_LINK * (len(links) - 1)
    return Candidate(points[0], points[-1], strokes, bonus=bonus, links=links)


def _tube_paths(v: View, fits: Callable[[Vec, Vec], bool]) -> list[Candidate]:
    """Two pieces of one tube, each drawn as two edges, that meet at an angle."""
    parts = _parts(v)
    out = []
    for n, a in enumerate(parts):
        for b in parts[n + 1 :]:
            if abs((a.diameter or 0.0) - (b.diameter or 0.0)) > EVEN or set(a.strokes) & set(
                b.strokes
            ):
                continue
            for one, other in product((a, a.reversed()), (b, b.reversed())):
                path = _joined(one, other)
                if path is None:
                    continue
                turned = (path, path.reversed())
                out += [c for c in turned if fits(c.p, c.q)]
    return sorted(out, key=lambda c: -c.length)


@lru_cache(maxsize=2)
def _parts(v: View) -> list[Candidate]:
    """Pairs of parallel strokes of like length, side by side."""
    index = np.flatnonzero(v.length >= LEAST_PART)
    index = index[np.argsort(-v.length[index])][: 2 * MOST_EDGES]
    # an older version in dashes lies within the tube and beside it
    index = np.array([k for k in index.tolist() if _may_be_edge(v, k)][:MOST_EDGES], np.int64)
    if len(index) < 2:
        return []
    ends = v.ends[index]
    length = v.length[index]
    step = (ends[:, 2:] - ends[:, :2]) / length[:, None]
    turn = np.abs(step[:, None, 0] * step[None, :, 1] - step[:, None, 1] * step[None, :, 0])
    mid = (ends[:, :2] + ends[:, 2:]) / 2
    rel = mid[None] - mid[:, None]
    off = np.abs(step[:, None, 0] * rel[..., 1] - step[:, None, 1] * rel[..., 0])
    along = np.abs((step[:, None] * rel).sum(axis=2))
    ratio = length[:, None] / length[None]
    near = (
        (turn <= ALIKE) & (off >= WIDE[0]) & (off <= WIDE[1]) & (along <= SHIFT * length[:, None])
    )
    near &= (ratio >= LIKE_LENGTH[0]) & (ratio <= LIKE_LENGTH[1])
    signed = step[:, None, 0] * rel[..., 1] - step[:, None, 1] * rel[..., 0]
    beside = (turn <= LIKE) & (along <= SHIFT * length[:, None])
    parts: list[Candidate] = []
    for i, j in np.argwhere(near).tolist():
        points = _alone(signed[i], beside[i], turn[i] <= 2 * ALIKE, i, j) if i < j else None
        if points is not None and len(parts) < MOST_PARTS:
            parts.append(replace(_part(v, int(index[i]), int(index[j])), bonus=points))
    return parts


def _may_be_edge(v: View, stroke: int) -> bool:
    curves = v.curves_of((stroke,))
    return any(i in v.evidence.roles or not v.evidence.elsewhere(i) for i in curves)


def _alone(
    off: np.ndarray, beside: np.ndarray, parallel: np.ndarray, i: int, j: int
) -> float | None:
    """Points of a pair by the lines beside it: None with another edge between the two, less with edges as far outside
    on both sides, which make it the gap between two tubes, or a tube with a bag's side along it."""
    wide = off[j]
    share = off / wide
    others = beside.copy()
    others[[i, j]] = False
    # a bag's side that crosses an edge is none
    inside = others & parallel & (share > WITHIN[0]) & (share < WITHIN[1])
    inside &= np.abs(share - MIDDLE) > ABOUT_MIDDLE
    above = share[others & (share > 1.0)] - 1.0
    below = -share[others & (share < 0.0)]
    gap = any(abs(x - y) * abs(wide) <= GAP_EVEN and x < GAP_FAR for x in above for y in below)
    if inside.any():
        return None
    return MAY_BE_GAP * gap


def _part(v: View, one: int, other: int) -> Candidate:
    p, q = v.ends[one].reshape(2, 2)
    r, s = v.ends[other].reshape(2, 2)
    # edges may be drawn in opposite senses
    if (q - p) @ (s - r) < 0:
        r, s = s, r
    u = (q - p) / np.hypot(*(q - p))
    off = float(abs(u[0] * (r - p)[1] - u[1] * (r - p)[0]))
    middle = ((p + r) / 2, (q + s) / 2)
    tips = [(float(x), float(y)) for x, y in (*middle, p, q, r, s)]
    edges = ((tips[2], tips[3]), (tips[4], tips[5]))
    return Candidate(tips[0], tips[1], (one, other), diameter=off, edges=edges)


def _joined(a: Candidate, b: Candidate) -> Candidate | None:
    """The path that runs up a and on along b; None when b does not go on where a ends."""
    turn = degrees(atan2(a.u[0] * b.u[1] - a.u[1] * b.u[0], a.u[0] * b.u[0] + a.u[1] * b.u[1]))
    if not TURN[0] <= abs(turn) <= TURN[1]:
        return None
    at = crossing(a, b)
    reach = (a.diameter or 0.0) * MITRED
    if at is None or abs(a.along(at) - a.length) > reach or abs(b.along(at)) > reach:
        return None
    return Candidate(
        a.p,
        b.q,
        a.strokes + b.strokes,
        diameter=a.diameter,
        edges=tuple((e[0], f[1]) for e, f in zip(a.edges, b.edges, strict=True)),
        bonus=EACH_LINK + min(a.bonus, b.bonus),
        links=((a.p, at), (at, b.q)),
    )
