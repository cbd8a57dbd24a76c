"""Straight pieces put together into strokes: all pieces lying end to end (or on top of each other) on one line.

Vocabulary: a STROKE is one straight line of the drawing, however many pieces it is drawn with; a SPAN is a
stretch of it between two natural ends: one piece, or pieces that follow each other; a CLASH is two pieces on
one line that overlap without one covering the other, as when a line was copied and pushed along itself.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ....model.arrays import Array
from .pairs import MOST_TOGETHER, check_count, overlapping
from .pieces import Pieces
from .plane import Vec

# mm longest dash, mm widest space, least count of a dashed line drawn in pieces
DASH = 60.0
SPACE = 22.0
DASHES = 5
WIDE_SPACE = 1.8  # over the usual space of a dashed line: another line begins there
DASH_BUDGET = 10_000  # short pieces looked at for dashed lines
GAP = 2.5  # mm; pieces this near end to end are one line (gaps and overshoots of hand-set ends)
LATERAL = 0.15  # mm; pieces this near sideways are on one line
STRAYS = 0.6  # mm off the line of the longest piece from which a long one is on another line
LEADING = 0.6  # share of a line from which its longest piece alone gives its direction
STUB = 0.1  # of a piece's own length that it may lie beside a line: a stub gives no direction
ONE_SPAN = 0.02  # of GAP; stretches whose ends differ by less are one
MOST_VERTICES = 8  # inner vertices of one straight run that may end a member
MOST_COMPARED = 40  # pieces on one line held against each other for copies
COPY = 0.01  # share by which the lengths of a line and its copy differ
PUSHED = 0.02  # of GAP that a copy has to be pushed along to be told
MOST_PUSHED = 0.2  # of its length; what lies farther along is a line of its own
MOST_SPANS = 24  # stretches considered on one line


@dataclass(frozen=True)
class Span:
    """Stretch of a stroke, distances from its start; whole: both ends are ends of pieces, not mere vertices."""

    start: float
    end: float
    pieces: tuple[int, ...]
    whole: bool = True


@dataclass(frozen=True, eq=False)
class Strokes:
    """ends : (m, 4) in drawing units; pieces : stroke -> its pieces; single pieces have no entry in `spans`.

    clashes : stroke -> (piece, piece, how far their ends differ).
    """

    ends: Array
    pieces: tuple[tuple[int, ...], ...]
    table: dict[int, tuple[Span, ...]]
    clashes: dict[int, tuple[int, int, float]]

    def within(self, places: Sequence[Vec]) -> NDArray[np.int64]:
        """The strokes, in their order, whose extent meets that of some places in the drawing."""
        import shapely

        xs, ys = zip(*places, strict=True)
        return np.sort(self._tree.query(shapely.box(min(xs), min(ys), max(xs), max(ys))))

    @cached_property
    def _tree(self) -> Any:
        """One for all poses: what is asked for is turned into the drawing, not the drawing into each pose."""
        import shapely

        return shapely.STRtree(shapely.linestrings(self.ends.reshape(-1, 2, 2)))

    def spans(self, stroke: int) -> tuple[Span, ...]:
        known = self.table.get(stroke)
        if known is not None:
            return known
        x0, y0, x1, y1 = self.ends[stroke]
        return (Span(0.0, float(np.hypot(x1 - x0, y1 - y0)), self.pieces[stroke]),)


def gather(pieces: Pieces, mm: float) -> Strokes:
    """Strokes of a drawing; `mm` is the length of one millimetre in drawing units (a rough value will do)."""
    groups = [
        part for g in _components(pieces.ends, mm) for part in _straightened(pieces.ends, g, mm)
    ]
    ends = []
    members = []
    table: dict[int, tuple[Span, ...]] = {}
    clashes: dict[int, tuple[int, int, float]] = {}
    for k, group in enumerate(groups):
        members.append(tuple(group))
        if len(group) == 1 and group[0] not in pieces.breaks:
            ends.append(pieces.ends[group[0]])
            continue
        whole, spans, clash = _assembled(
            pieces, group, GAP * mm, dashed=_dashed(pieces.ends[group], mm)
        )
        ends.append(whole)
        table[k] = spans
        if clash is not None:
            clashes[k] = clash
    return Strokes(np.array(ends, float).reshape(-1, 4), tuple(members), table, clashes)


def _components(ends: Array, mm: float) -> list[list[int]]:
    """Pieces grouped by line: near end to end or overlapping, and collinear; dashes across their spaces."""
    if len(ends) < 2:
        return [[k] for k in range(len(ends))]
    i, j = _neighbours(ends, GAP * mm, LATERAL * mm)
    # only dashes may bridge the wider spaces; long lines would swallow their neighbours
    short = np.flatnonzero(np.hypot(ends[:, 2] - ends[:, 0], ends[:, 3] - ends[:, 1]) <= DASH * mm)[
        :DASH_BUDGET
    ]
    a, b = _neighbours(ends[short], SPACE * mm, LATERAL * mm)
    runs = [g for g in _united(len(short), a.tolist(), b.tolist()) if len(g) >= DASHES]
    links = [(int(short[g[0]]), int(short[k])) for g in runs for k in g[1:]]
    one = [*i.tolist(), *(p for p, _ in links)]
    other = [*j.tolist(), *(q for _, q in links)]
    return _united(len(ends), one, other)


def _straightened(ends: Array, group: list[int], mm: float) -> list[list[int]]:
    """A group without the long pieces that leave the line of its longest one: a short one between two lines, such as
    the cross of an axle, lies on both. Those taken out are groups of their own."""
    if len(group) < 3:
        return [group]
    held = np.array(group)
    table = ends[held]
    run = table[:, 2:] - table[:, :2]
    length = np.hypot(run[:, 0], run[:, 1])
    long = length > DASH * mm
    if long.sum() < 2:
        return [group]
    lead = int(length.argmax())
    u = run[lead] / length[lead]
    rel = table.reshape(-1, 2, 2) - table[lead, :2]
    off = np.abs(u[0] * rel[..., 1] - u[1] * rel[..., 0]).max(axis=1)
    strays = long & (off > STRAYS * mm)
    if not strays.any():
        return [group]
    out = held[strays]
    parts = [held[~strays].tolist()]
    for rest in _components(ends[out], mm):
        parts += _straightened(ends, out[rest].tolist(), mm)
    return parts


def _dashed(ends: Array, mm: float) -> bool:
    """A line of many short pieces: its pieces' ends mean nothing."""
    return len(ends) >= DASHES and bool(
        (np.hypot(ends[:, 2] - ends[:, 0], ends[:, 3] - ends[:, 1]) <= DASH * mm).all()
    )


def _neighbours(
    ends: Array, gap: float, lateral: float
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Pairs of pieces on one line with at most `gap` between them."""
    none = np.empty(0, np.int64)
    if len(ends) < 2:
        return none, none
    found = [(none, none)]
    together = 0
    low = np.minimum(ends[:, :2], ends[:, 2:])
    high = np.maximum(ends[:, :2], ends[:, 2:])
    run = ends[:, 2:] - ends[:, :2]
    length = np.hypot(run[:, 0], run[:, 1])
    for i, j in overlapping(low, high, gap):
        # the look-up gives each pair both ways round, and each piece with itself
        once = i < j
        i = i[once]
        j = j[once]
        # most pairs cross at an angle; the full test is for the few that run the same way
        alike = _same_way(run[i], run[j], length[i], length[j], lateral)
        i = i[alike]
        j = j[alike]
        same = _collinear(ends, i, j, gap, lateral)
        found.append((i[same], j[same]))
        together += int(same.sum())
        check_count(together, MOST_TOGETHER, len(ends))
    firsts, seconds = zip(*found, strict=True)
    return np.concatenate(firsts), np.concatenate(seconds)


def _same_way(
    first: Array, second: Array, long_first: Array, long_second: Array, lateral: float
) -> NDArray[np.bool_]:
    """False where no line can hold both runs (n, 2): one would stray sideways by more than `lateral` at either end."""
    across = np.abs(first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0])
    # sine of the angle times the shorter length is how far that one strays along itself
    strays = across / np.maximum(long_first, long_second)
    result: NDArray[np.bool_] = strays <= 2 * lateral * (1 + 1e-9)
    return result


def _collinear(
    ends: Array, i: NDArray[np.int64], j: NDArray[np.int64], gap: float, lateral: float
) -> NDArray[np.bool_]:
    """True where the shorter piece's ends lie on the longer piece's line and near its stretch."""
    length = np.hypot(ends[:, 2] - ends[:, 0], ends[:, 3] - ends[:, 1])
    longer = np.where(length[i] >= length[j], i, j)
    shorter = np.where(length[i] >= length[j], j, i)
    base = ends[longer, :2]
    direction = (ends[longer, 2:] - ends[longer, :2]) / length[longer, None]
    rel = ends[shorter].reshape(-1, 2, 2) - base[:, None, :]
    off = np.abs(rel[..., 0] * direction[:, None, 1] - rel[..., 1] * direction[:, None, 0]).max(
        axis=1
    )
    along = (rel * direction[:, None, :]).sum(axis=2)
    near = (along.max(axis=1) >= -gap) & (along.min(axis=1) <= length[longer] + gap)
    result: NDArray[np.bool_] = near & (off <= np.minimum(lateral, STUB * length[shorter]))
    return result


def _united(count: int, i: Sequence[int], j: Sequence[int]) -> list[list[int]]:
    parent = list(range(count))

    def root(k: int) -> int:
        while parent[k] != k:
            parent[k] = parent[parent[k]]
            k = parent[k]
        return k

    for a, b in zip(i, j, strict=True):
        # union by root, so that chains of touching pieces need one pass
        parent[root(b)] = root(a)
    groups: dict[int, list[int]] = {}
    for k in range(count):
        groups.setdefault(root(k), []).append(k)
    return list(groups.values())


def _assembled(
    pieces: Pieces, group: list[int], gap: float, dashed: bool
) -> tuple[Array, tuple[Span, ...], tuple[int, int, float] | None]:
    """The whole line of a group, its spans and its worst clash."""
    table = pieces.ends[group]
    length = np.hypot(table[:, 2] - table[:, 0], table[:, 3] - table[:, 1])
    # the longest piece knows the direction best
    lead = table[int(length.argmax())]
    direction = (lead[2:] - lead[:2]) / length.max()
    along = np.column_stack(
        ((table[:, :2] - lead[:2]) @ direction, (table[:, 2:] - lead[:2]) @ direction)
    )
    points = table.reshape(-1, 2)
    first = int(along.argmin())
    last = int(along.argmax())
    tips = points[[first, last]]
    if length.max() >= LEADING * float(np.ptp(along)):
        tips = lead[:2] + ((tips - lead[:2]) @ direction)[:, None] * direction
    whole = tips.ravel()
    along = np.sort(along, axis=1) - along.min()
    if dashed:
        return whole, _dashed_spans(along, group), None
    intervals = sorted((float(a), float(b), k) for (a, b), k in zip(along, group, strict=True))
    spans = _spans(intervals, gap) + _vertex_spans(pieces, group, whole)
    return whole, _without_repeats(spans, ONE_SPAN * gap), _clash(intervals, gap)


def _dashed_spans(along: Array, group: list[int]) -> tuple[Span, ...]:
    """The whole line, and its stretches between spaces wider than the usual one."""
    order = np.argsort(along[:, 0]).tolist()
    spaces = [float(along[b, 0] - along[a, 1]) for a, b in pairwise(order)]
    # median: one wide space must not widen what counts as usual
    usual = float(np.median(spaces))
    cuts = [k + 1 for k, s in enumerate(spaces) if s > WIDE_SPACE * max(usual, 0.0) > 0.0]
    spans = [Span(0.0, float(along.max()), tuple(group))]
    for a, b in pairwise([0, *cuts, len(order)]):
        held = order[a:b]
        if cuts:
            ends = along[held]
            pieces = tuple(group[k] for k in held)
            spans.append(Span(float(ends[:, 0].min()), float(ends[:, 1].max()), pieces))
    return tuple(spans)


def _without_repeats(spans: list[Span], tolerance: float) -> tuple[Span, ...]:
    kept: dict[tuple[int, int], Span] = {}
    for s in spans:
        kept.setdefault((round(s.start / tolerance), round(s.end / tolerance)), s)
    return tuple(kept.values())[:MOST_SPANS]


def _spans(intervals: list[tuple[float, float, int]], gap: float) -> list[Span]:
    """Every piece, and every run of pieces that follow one another end to start."""
    spans = [Span(a, b, (k,)) for a, b, k in intervals]
    grown = list(spans)
    while grown and len(spans) < MOST_SPANS:
        grown = [
            Span(s.start, b, (*s.pieces, k))
            for s in grown
            for a, b, k in intervals
            if abs(a - s.end) <= gap and b > s.end + gap and k not in s.pieces
        ]
        spans += grown
    return spans


def _vertex_spans(pieces: Pieces, group: list[int], whole: Array) -> list[Span]:
    """Stretches between vertices inside one polyline: weaker, for a line that runs on past a member's end."""
    direction = (whole[2:] - whole[:2]) / np.hypot(*(whole[2:] - whole[:2]))
    spans = []
    for k in group:
        if k in pieces.breaks:
            points = np.vstack((pieces.ends[k].reshape(2, 2), pieces.breaks[k]))
            at = np.unique((points - whole[:2]) @ direction)
            if len(at) <= MOST_VERTICES:
                spans += [
                    Span(float(a), float(b), (k,), whole=False)
                    for n, a in enumerate(at)
                    for b in at[n + 1 :]
                    if (a, b) != (at[0], at[-1])
                ]
    return spans


def _clash(intervals: list[tuple[float, float, int]], gap: float) -> tuple[int, int, float] | None:
    worst: tuple[int, int, float] | None = None
    for n, (a0, a1, i) in enumerate(intervals[:MOST_COMPARED]):
        for b0, b1, j in intervals[n + 1 : MOST_COMPARED]:
            overlap = min(a1, b1) - max(a0, b0)
            shift = min(abs(a0 - b0), abs(a1 - b1))
            # like length and pushed along: two lines that merely overlap are no copies
            copy = abs((a1 - a0) - (b1 - b0)) <= COPY * (a1 - a0)
            if (
                copy
                and overlap > gap
                and PUSHED * gap < shift <= MOST_PUSHED * (a1 - a0)
                and (worst is None or shift > worst[2])
            ):
                worst = (i, j, shift)
    return worst
