"""What is turned is drawn alike on both sides of its axis: rings, cups and steerer tell the true axis of a head tube.

Vocabulary: the BALANCE of an axis is the share of the lines along it that have a mirror image on its other side.
"""

from collections.abc import Sequence

import numpy as np

from ..linework.lines import Candidate
from ..linework.view import View
from .search import Labelling

NEAR = (6.0, 45.0)  # mm from the axis; what belongs to a headset
BEYOND = 60.0  # mm past the head tube's ends
LEAST = 4.0  # mm; shorter lines are rounding and chamfers
PARALLEL = 0.006  # sine of the greatest angle between lines along one axis
IMAGE = 0.15  # mm by which a mirror image may be off
OVERLAP = 0.6  # share of its length that has an image beside it
BESIDE = 6.0  # mm between axes that pair the edges of one head tube otherwise
BETTER = 0.25  # balance by which another axis is taken instead


def balance(v: View, axis: Candidate) -> float:
    """Share of the lines along an axis, by length, that are mirrored on its other side; 0 to 1."""
    u = np.array(axis.u)
    rel = v.ends.reshape(-1, 2, 2) - np.array(axis.p)
    along = rel @ u
    across = u[0] * rel[..., 1] - u[1] * rel[..., 0]
    off = across.mean(axis=1)
    low = along.min(axis=1)
    high = along.max(axis=1)
    beside = (
        (np.abs(across[:, 0] - across[:, 1]) <= PARALLEL * v.length)
        & (np.abs(off) >= NEAR[0])
        & (np.abs(off) <= NEAR[1])
        & (v.length >= LEAST)
        & (low >= -BEYOND)
        & (high <= axis.length + BEYOND)
    )
    off = off[beside]
    low = low[beside]
    high = high[beside]
    total = float((high - low).sum())
    # nothing beside the axis is no evidence against it
    if not total:
        return 1.0
    shared = np.minimum(high[:, None], high) - np.maximum(low[:, None], low)
    image = (np.abs(off[:, None] + off) <= IMAGE) & (shared > 0.0)
    covered = np.minimum((shared * image).sum(axis=1), high - low)
    mirrored = covered >= OVERLAP * (high - low)
    return float((high - low)[mirrored].sum()) / total


def balanced(best: Labelling, readings: Sequence[Labelling]) -> Labelling:
    """The reading whose head tube pairs its lines so that both sides are alike, where the best one does not."""
    if not best.axis.is_tube or best.view.evidence.claimed("head_tube"):
        return best
    held = balance(best.view, best.axis)
    if held >= 1.0 - BETTER:
        return best
    known = {id(best.axis): held}
    found = best
    for r in sorted(readings, key=lambda r: -r.score):
        if id(r.axis) in known or not _same_tube(best.axis, r.axis):
            continue
        # many readings share one axis object; its balance is worked out once
        known[id(r.axis)] = balance(r.view, r.axis)
        if known[id(r.axis)] > known[id(found.axis)] + BETTER:
            found = r
    return found


def _same_tube(a: Candidate, b: Candidate) -> bool:
    """Another pairing of edges about nearly the same axis."""
    return b.is_tube and max(abs(a.lateral(b.p)), abs(a.lateral(b.q))) <= BESIDE
