"""The drawing seen in one pose: strokes and curved runs in the bicycle's axes, and smooth chains of them.

A CHAIN is a path of touching runs, at least one of them curved, that never turns sharply: a curved stay or blade.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product

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
    """The drawing's strokes and bents in one pose; `front` is the front axle; `curved`: the bents, posed."""

    pose: Pose
    strokes: Strokes
    bents: Sequence[Bent]
    evidence: Evidence
    owner: NDArray[np.int64]
    pieces: Array
    front: Vec
    ends: Array
    bent_ends: Array
    mid: Array
    length: Array
    curved: Sequence[Array]

    @cached_property
    def chains(self) -> tuple[Chain, ...]:
        """Smooth paths through curves; worked out only where a pose shows a head and a seat tube."""
        return chains(self.ends, self.length, self.curved)

    def curves_of(self, strokes: Sequence[int]) -> list[int]:
        return [int(self.owner[k]) for s in strokes for k in self.strokes.pieces[s]]


def view(pose: Pose, strokes: Strokes, pieces: Pieces, evidence: Evidence, front: Vec) -> View:
    """The strokes and curved runs of a drawing, laid level by `pose`. `front` : the front axle as drawn."""
    bents = pieces.bents
    ends = pose.apply_all(strokes.ends.reshape(-1, 2, 2)).reshape(-1, 4)
    length = np.hypot(ends[:, 2] - ends[:, 0], ends[:, 3] - ends[:, 1])
    curved = _turned(pose, bents)
    bent_ends = np.array([(*b[0], *b[-1]) for b in curved], float).reshape(-1, 4)
    return View(
        pose,
        strokes,
        bents,
        evidence,
        pieces.owner,
        pieces.ends,
        pose.apply(front),
        ends,
        bent_ends,
        (ends[:, :2] + ends[:, 2:]) / 2,
        length,
        curved,
    )


def _turned(pose: Pose, bents: Sequence[Bent]) -> Sequence[Array]:
    """The curved runs' vertices in the bicycle's axes; all at once, because a drawing may hold thousands of runs."""
    if not bents:
        return ()
    stops = np.cumsum([len(b.points) for b in bents])
    moved = pose.apply_all(np.concatenate([b.points for b in bents]))
    return np.split(moved, stops[:-1])


def chains(ends: Array, length: Array, bents: Sequence[Array]) -> tuple[Chain, ...]:
    """Every smooth path of touching runs through a curve, up to LINKS_BESIDE further runs on either side of it.

    `bents` : the curved runs' vertices, in the same axes as the strokes' `ends`.
    """
    if not bents:
        return ()
    chord = np.array([np.hypot(*(b[-1] - b[0])) for b in bents])
    picked = [k for k in np.argsort(-chord)[:CHAIN_BUDGET].tolist() if chord[k] >= LEAST_BENT]
    strokes = np.flatnonzero(length >= LEAST_STRAIGHT)
    runs = [("b", k) for k in picked]
    runs += [("s", k) for k in strokes.tolist()]
    tips = np.vstack([bents[k][[0, -1]] for k in picked] + [ends[strokes].reshape(-1, 2)])
    out = np.vstack([_leaving(bents[k]) for k in picked] + [_leaving_lines(ends[strokes])])
    found: dict[frozenset[int], Chain] = {}
    for n in range(len(picked)):
        for back, ahead in product(_walks(2 * n, tips, out), _walks(2 * n + 1, tips, out)):
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


def _walks(first: int, tips: Array, out: Array) -> list[tuple[int, ...]]:
    """Smooth walks out of a curve's end `first` and on through touching runs: the ends they leave through."""
    found: list[tuple[int, ...]] = [(first,)]
    for path in found:
        if len(path) == 1 + LINKS_BESIDE or len(found) > MOST_WALKS:
            break
        here = path[-1]
        near = (np.hypot(*(tips - tips[here]).T) <= CHAINED) & (out @ out[here] <= -SMOOTH)
        used = {k // 2 for k in path}
        found += [(*path, k ^ 1) for k in np.flatnonzero(near).tolist() if k // 2 not in used]
    return found
