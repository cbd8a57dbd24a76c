"""The drawing seen in one pose: strokes and curved runs in the bicycle's axes, and smooth chains of them.

A CHAIN is a path of touching runs, at least one of them curved, that never turns sharply: a curved stay or blade.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product
from math import hypot

import numpy as np
from numpy.typing import NDArray

from ....model.arrays import Array
from .evidence import Evidence
from .pieces import Bent, Pieces
from .plane import Vec
from .pose import Pose
from .strokes import Strokes

CHAINED = 0.5  # mm; a curve and a straight whose ends are this near continue each other
SMOOTH = 0.94  # cosine of the greatest turn (20 degrees) where runs continue each other
CHAIN_BUDGET = 60  # curved runs considered, longest first
LEAST_STRAIGHT = 15.0  # mm of a straight that continues a curved run
LINKS_BESIDE = 2  # further runs on either side of a curve
MOST_WALKS = 12  # ways on from one end of a curve
# x in wheelbases, y in mm: the box about front wheel, fork and stem; wide, as the scale is rough yet
FORE = (0.25, 1.6, -450.0, 1400.0)
FEW_STROKES = 1500  # up to so many a look-up costs more than it saves
LEAST_LINE = 1e-6  # mm; no direction in less
LEAST_BENT = 25.0  # mm between the ends of a curved run


@dataclass(frozen=True)
class Chain:
    """A path of touching runs with at least one curve: its two ends and what it is made of."""

    p: Vec
    q: Vec
    strokes: tuple[int, ...]
    bents: tuple[int, ...]


@dataclass(frozen=True, eq=False)
class View:
    """The drawing's strokes and bents in one pose; `front` is the front axle.

    What only a promising pose needs is worked out when it is asked for: most of the poses tried are none.
    """

    pose: Pose
    strokes: Strokes
    drawn: Pieces
    evidence: Evidence
    front: Vec
    ends: Array
    mid: Array
    length: Array

    @property
    def bents(self) -> Sequence[Bent]:
        return self.drawn.bents

    @property
    def owner(self) -> NDArray[np.int64]:
        return self.drawn.owner

    @property
    def pieces(self) -> Array:
        return self.drawn.ends

    @cached_property
    def bent_ends(self) -> Array:
        """First and last vertex of every curved run, (m, 4)."""
        return self.pose.apply_all(self.drawn.tips).reshape(-1, 4)

    @cached_property
    def chains(self) -> tuple[Chain, ...]:
        """Smooth paths through curves."""
        chord = np.hypot(*(self.bent_ends[:, 2:] - self.bent_ends[:, :2]).T)
        longest = np.argsort(-chord)[:CHAIN_BUDGET].tolist()
        picked = [k for k in longest if chord[k] >= LEAST_BENT]
        curved = {k: self.pose.apply_all(self.bents[k].points) for k in picked}
        return chains(self.ends, self.length, curved)

    @cached_property
    def fore(self) -> NDArray[np.int64]:
        """The strokes about the front wheel and above it, where a fork may be."""
        low = np.minimum(self.ends[:, :2], self.ends[:, 2:])
        high = np.maximum(self.ends[:, :2], self.ends[:, 2:])
        x = self.front[0]
        near = (high[:, 0] > FORE[0] * x) & (low[:, 0] < FORE[1] * x)
        near &= (high[:, 1] > FORE[2]) & (low[:, 1] < FORE[3])
        return np.flatnonzero(near)

    def about(self, p: Vec, q: Vec, beyond: float, beside: float) -> NDArray[np.int64]:
        """The strokes, in their order, that come near a line: at least those within a strip about it, `beyond` mm
        longer and `beside` to either side."""
        if len(self.ends) <= FEW_STROKES:
            return np.arange(len(self.ends))
        size = max(hypot(q[0] - p[0], q[1] - p[1]), LEAST_LINE)
        ux = (q[0] - p[0]) / size
        uy = (q[1] - p[1]) / size
        corners = []
        for (x, y), along in ((p, -beyond), (q, beyond)):
            for off in (-beside, beside):
                place = (x + along * ux - off * uy, y + along * uy + off * ux)
                corners.append(self.pose.back(place))
        return self.strokes.within(corners)

    def curves_of(self, strokes: Sequence[int]) -> list[int]:
        return [int(self.owner[k]) for s in strokes for k in self.strokes.pieces[s]]


def view(pose: Pose, strokes: Strokes, pieces: Pieces, evidence: Evidence, front: Vec) -> View:
    """The strokes and curved runs of a drawing, laid level by `pose`. `front` : the front axle as drawn."""
    ends = pose.apply_all(strokes.ends.reshape(-1, 2, 2)).reshape(-1, 4)
    length = np.hypot(ends[:, 2] - ends[:, 0], ends[:, 3] - ends[:, 1])
    middle = (ends[:, :2] + ends[:, 2:]) / 2
    return View(pose, strokes, pieces, evidence, pose.apply(front), ends, middle, length)


def chains(ends: Array, length: Array, bents: Mapping[int, Array]) -> tuple[Chain, ...]:
    """Every smooth path of touching runs through a curve, up to LINKS_BESIDE further runs on either side of it.

    `bents` : the curved runs' vertices by their number, longest first, in the same axes as the strokes' `ends`.
    """
    if not bents:
        return ()
    picked = list(bents)
    strokes = np.flatnonzero(length >= LEAST_STRAIGHT)
    runs = [("b", k) for k in picked]
    runs += [("s", k) for k in strokes.tolist()]
    tips = np.vstack([bents[k][[0, -1]] for k in picked] + [ends[strokes].reshape(-1, 2)])
    out = np.vstack([_leaving(bents[k]) for k in picked] + [_leaving_lines(ends[strokes])])
    order = np.argsort(tips[:, 0])
    ends_by_x = _Sorted(tips, out, order, tips[order, 0])
    found: dict[frozenset[int], Chain] = {}
    for n in range(len(picked)):
        for back, ahead in product(_walks(2 * n, ends_by_x), _walks(2 * n + 1, ends_by_x)):
            members = list(dict.fromkeys(k // 2 for k in (*back[::-1], *ahead)))
            if len(members) == len(back) + len(ahead) - 1:
                px, py = tips[back[-1]].tolist()
                qx, qy = tips[ahead[-1]].tolist()
                straight = tuple(runs[m][1] for m in members if runs[m][0] == "s")
                curved = tuple(runs[m][1] for m in members if runs[m][0] == "b")
                chain = Chain((px, py), (qx, qy), straight, curved)
                # the same chain is met again from each of its curves
                found.setdefault(frozenset(members), chain)
    return tuple(found.values())


def _leaving(points: Array) -> Array:
    """Unit directions in which a curved run leaves its first and its last end, (2, 2)."""
    d = np.vstack((points[0] - points[1], points[-1] - points[-2]))
    unit: Array = d / np.hypot(*d.T)[:, None]
    return unit


def _leaving_lines(ends: Array) -> Array:
    d = (ends[:, 2:] - ends[:, :2]) / np.maximum(np.hypot(*(ends[:, 2:] - ends[:, :2]).T), 1e-12)[
        :, None
    ]
    both: Array = np.stack((-d, d), axis=1).reshape(-1, 2)
    return both


@dataclass(frozen=True, eq=False)
class _Sorted:
    """Ends of runs and the directions in which they leave them, with their order from left to right."""

    tips: Array
    out: Array
    order: NDArray[np.int64]
    xs: Array

    def touching(self, end: int) -> list[int]:
        """The ends near one, whose runs go on smoothly from there."""
        x = self.tips[end, 0]
        low, high = np.searchsorted(self.xs, (x - CHAINED, x + CHAINED))
        some = self.order[low : high + 1]
        near = np.hypot(*(self.tips[some] - self.tips[end]).T) <= CHAINED
        near &= self.out[some] @ self.out[end] <= -SMOOTH
        return sorted(some[near].tolist())


def _walks(first: int, ends: _Sorted) -> list[tuple[int, ...]]:
    """Smooth walks out of a curve's end `first` and on through touching runs: the ends they leave through."""
    found: list[tuple[int, ...]] = [(first,)]
    for path in found:
        if len(path) == 1 + LINKS_BESIDE or len(found) > MOST_WALKS:
            break
        used = {k // 2 for k in path}
        found += [(*path, k ^ 1) for k in ends.touching(path[-1]) if k // 2 not in used]
    return found
