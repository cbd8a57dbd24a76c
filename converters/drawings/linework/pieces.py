"""Drawn curves cut into what a frame is made of: straight pieces and smoothly bent pieces.

Vocabulary: a STRAIGHT is one straight run of a curve; a BENT is one smoothly curved run; a CORNER is a
vertex where a curve turns by more than `CORNER` and is cut. Everything is still in drawing units.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from math import radians

import numpy as np
from numpy.typing import NDArray

from ....model.arrays import Array
from ..drawing import Curve
from .places import places
from .walks import vertices_along, walks

# a vertex turning more than this ends a run; a drawn curve turns less per vertex
CORNER = radians(20.0)
# sagitta over chord below which a run is a straight line (0.1 mm on a 500 mm tube)
STRAIGHTNESS = 2e-4
# sagitta over chord, and count, from which lines end to end are a curve in pieces
CURVED = 5e-3
LEAST_LINES = 6
TURNS = 3e-3  # radians at a vertex; a curve's are more
MOST_STRAIGHT = 0.5  # share of a curve's vertices that turn less
LEAST_OF_ARC = 5  # vertices of an arc that turns little from one to the next
STEADY = 15.0  # a traced line is longer than its wobble by this
TURNS_BACK = 0.98  # of its extent; a run whose ends lie nearer turns back: a loop
REPEATED = 1e-9  # share of a curve's size; vertices nearer than this are one
NO_LENGTH = "has no length"
# a segment this much longer than its neighbours is a straight beside a curve
LONG_SHARE = 0.12
LONG_TIMES = 4.0


@dataclass(frozen=True, eq=False)
class Bent:
    """A smoothly curved run: `points` (k, 2), the curve it comes from, or the many lines it was drawn with."""

    points: Array
    owners: tuple[int, ...]

    @property
    def owner(self) -> int:
        return self.owners[0]


@dataclass(frozen=True, eq=False)
class Pieces:
    """All pieces of a drawing.

    ends : (n, 4) straight pieces as x0, y0, x1, y1. owner : (n,) index of the curve each comes from.
    breaks : straight piece -> inner vertices lying on it, (k, 2). bents : curved runs.
    dropped : curve index -> why nothing of it is used.
    """

    ends: Array
    owner: NDArray[np.int64]
    breaks: dict[int, Array]
    bents: tuple[Bent, ...]
    dropped: dict[int, str]

    @cached_property
    def tips(self) -> Array:
        """First and last vertex of every curved run, (m, 2, 2); together, as a drawing may hold thousands."""
        both = [b.points[[0, -1]] for b in self.bents]
        return np.array(both, float).reshape(-1, 2, 2)


def cut(curves: Sequence[Curve], skip: frozenset[int] = frozenset(), wobble: float = 0.0) -> Pieces:
    """Cut every curve into straight and bent runs; `skip` holds curves already taken (wheels, marks); `wobble`: how
    far the lines of a traced drawing stray, drawing units."""
    dropped = {
        i: "construction line without end"
        for i, c in enumerate(curves)
        if c.construction and i not in skip
    }
    rest = [i for i in range(len(curves)) if i not in skip and i not in dropped]
    plain = [i for i in rest if len(curves[i].points) == 2]
    table = np.array([curves[i].points for i in plain], float).reshape(-1, 4)
    length = np.hypot(table[:, 2] - table[:, 0], table[:, 3] - table[:, 1])
    dropped.update({plain[k]: NO_LENGTH for k in np.flatnonzero(length == 0.0).tolist()})
    ends: list[Array] = []
    owner: list[int] = []
    breaks: dict[int, Array] = {}
    walked = list(_curved_walks(table))
    bents = []
    for rows, points in walked:
        bents.append(Bent(points, tuple(plain[k] for k in rows)))
    straight = length > 0.0
    straight[[k for rows, _ in walked for k in rows]] = False
    first = int(straight.sum())
    longer = [i for i in rest if len(curves[i].points) != 2]
    one_arc = _are_one_arc([curves[i] for i in longer])
    for index, is_one_arc in zip(longer, one_arc, strict=True):
        if not wobble and is_one_arc:
            bents.append(Bent(curves[index].points, (index,)))
            continue
        points = _distinct(curves[index].points)
        if len(points) < 2:
            dropped[index] = NO_LENGTH
            continue
        traced = _traced(points, wobble)
        if len(points) == 2:
            straights = [points]
            curved: list[Array] = []
        elif traced is not None:
            straights = [traced]
            curved = []
        else:
            straights, curved = _runs(points, curves[index].kind == "polyline")
        for run in straights:
            if len(run) > 2:
                breaks[first + len(ends)] = run[1:-1]
            ends.append(run[[0, -1]].reshape(4))
            owner.append(index)
        bents.extend(Bent(run, (index,)) for run in curved)
    table = np.vstack((table[straight], np.array(ends, float).reshape(-1, 4)))
    kept = np.array(plain, np.int64)[straight]
    return Pieces(
        table, np.concatenate((kept, np.array(owner, np.int64))), breaks, tuple(bents), dropped
    )


def _are_one_arc(curves: Sequence[Curve]) -> list[bool]:
    """Arcs as such are one curved run unless next to straight: nothing in them need be looked for."""
    is_arc = [c.kind == "arc" and len(c.points) >= LEAST_OF_ARC for c in curves]
    start, middle, end = places(curves).transpose(1, 2, 0)
    chord = end - start
    to_middle = middle - start
    off = np.abs(to_middle[0] * chord[1] - to_middle[1] * chord[0])
    bends = off > 2 * STRAIGHTNESS * np.hypot(*chord) ** 2
    together: list[bool] = (np.array(is_arc, bool) & bends).tolist()
    return together


def _curved_walks(lines: Array) -> Iterator[tuple[list[int], Array]]:
    """Rows of lines (n, 4) that touch end to end and together make a smooth curve, with its vertices.

    They were one curve before a program cut it up, so their ends are the same to the last bit.
    """
    if not len(lines):
        return
    node = np.unique(lines.reshape(-1, 2), axis=0, return_inverse=True)[1].reshape(-1, 2)
    for walk in walks(node):
        if len(walk) < LEAST_LINES:
            continue
        points = vertices_along(list(lines[walk].reshape(-1, 2, 2)))
        drawn = np.hypot(*np.diff(points, axis=0).T)
        long = (drawn >= LONG_SHARE * drawn.sum()) & (drawn >= LONG_TIMES * np.median(drawn))
        cuts = np.flatnonzero(np.abs(turning(points)) > CORNER) + 1
        stops = sorted(
            {
                0,
                len(walk),
                *cuts.tolist(),
                *(m for k in np.flatnonzero(long).tolist() for m in (k, k + 1)),
            }
        )
        for a, b in pairwise(stops):
            run = points[a : b + 1]
            # straight lines in pieces with a bend between them turn at the bend alone
            turns = (np.abs(turning(run)) > TURNS).mean() if b - a >= LEAST_LINES else 0.0
            if turns > MOST_STRAIGHT and sagitta(run) > CURVED * np.hypot(*(run[-1] - run[0])):
                yield walk[a:b], run


def _traced(points: Array, wobble: float) -> Array | None:
    """The line through the vertices of a run that strays no more than `wobble` from it (least squares)."""
    centre = points.mean(axis=0)
    rel = points - centre
    along = np.linalg.svd(rel, full_matrices=False)[2][0] if wobble else np.zeros(2)
    if not wobble or (rel[-1] - rel[0]) @ along == 0.0:
        return None
    across = rel[:, 0] * along[1] - rel[:, 1] * along[0]
    t = rel @ along
    if np.abs(across).max() > wobble or np.ptp(t) < STEADY * wobble:
        return None
    if abs(t[-1] - t[0]) < TURNS_BACK * np.ptp(t):
        return None
    ends: Array = centre + np.outer(t[[0, -1]], along)
    return ends


def _distinct(points: Array) -> Array:
    """Vertices without repeats (nearer than REPEATED)."""
    step = np.hypot(*np.diff(points, axis=0).T)
    keep = np.concatenate(
        ([True], step > REPEATED * max(float(np.ptp(points, axis=0).max(initial=0.0)), 1e-300))
    )
    kept: Array = points[keep]
    return kept


def turning(points: Array) -> Array:
    """Signed turning angle at each inner vertex, radians, (k - 2,)."""
    step = np.diff(points, axis=0)
    a = step[:-1]
    b = step[1:]
    turn: Array = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1))
    return turn


def _runs(points: Array, mixed: bool) -> tuple[list[Array], list[Array]]:
    """Straight and curved runs; `mixed`: a curve that may hold straight parts between curved ones."""
    corners = np.flatnonzero(np.abs(turning(points)) > CORNER) + 1
    cuts = [0, *corners.tolist(), len(points) - 1]
    straights: list[Array] = []
    curved: list[Array] = []
    for first, last in pairwise(cuts):
        _sort_run(points[first : last + 1], mixed, straights, curved)
    return straights, curved


def _sort_run(run: Array, mixed: bool, straights: list[Array], curved: list[Array]) -> None:
    """One run between corners: a straight, a curve, or straights with curves between (a raked blade)."""
    size = float(np.hypot(*(run[-1] - run[0])))
    if sagitta(run) <= STRAIGHTNESS * size:
        straights.append(run)
        return
    if not mixed:
        curved.append(run)
        return
    kept = _simplified(run, STRAIGHTNESS / 2 * max(size, float(np.ptp(run, axis=0).max())))
    if len(kept) <= 3:
        straights += [run[a : b + 1] for a, b in pairwise(kept)]
        return
    drawn = np.hypot(*np.diff(run, axis=0).T)
    long = (drawn >= LONG_SHARE * drawn.sum()) & (drawn >= LONG_TIMES * np.median(drawn))
    start = 0
    for k, is_long in enumerate([*long.tolist(), True]):
        if is_long and k > start:
            (curved if k - start >= 2 else straights).append(run[start : k + 1])
        if is_long and k < len(long):
            straights.append(run[k : k + 2])
            start = k + 1


def sagitta(run: Array) -> float:
    """Greatest distance of the vertices from the chord."""
    chord = run[-1] - run[0]
    length = float(np.hypot(*chord))
    rel = run - run[0]
    if length == 0.0:
        return float(np.hypot(*rel.T).max())
    return float(np.abs(rel[:, 0] * chord[1] - rel[:, 1] * chord[0]).max()) / length


def _simplified(run: Array, tolerance: float) -> list[int]:
    """Indices that keep the run within `tolerance` (Douglas and Peucker 1973)."""
    keep = {0, len(run) - 1}
    stack = [(0, len(run) - 1)]
    while stack:
        i, j = stack.pop()
        if j - i < 2:
            continue
        chord = run[j] - run[i]
        rel = run[i + 1 : j] - run[i]
        length = float(np.hypot(*chord))
        if length:
            off = np.abs(rel[:, 0] * chord[1] - rel[:, 1] * chord[0]) / length
        else:
            off = np.hypot(*rel.T)
        k = int(off.argmax())
        if off[k] > tolerance:
            keep.add(i + 1 + k)
            stack += [(i, i + 1 + k), (i + 1 + k, j)]
    return sorted(keep)
