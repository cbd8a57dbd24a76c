"""Which lines could be which member, in one pose: a wide window per member.

All lengths here are rough millimetres in the bicycle's axes (rear axle at the origin, x forward, y up), good to
some 15 % until the units are settled; the windows are wide enough for that and for every frame in the trade.
"""

from dataclasses import dataclass, replace
from math import hypot

import numpy as np
from numpy.typing import NDArray

from ....model.arrays import Array
from ..linework.capped import tubes_between_faces
from ..linework.edges import TUBE, edge_pairs
from ..linework.lines import Candidate
from ..linework.linked import linked
from ..linework.plane import Vec
from ..linework.view import View

# share of a line drawn with several pieces; a stretch this long of it may be the member alone
MOST_OF_LINE = 0.5
LESS_THAN_LINE = 1.0  # mm that such a stretch has to be shorter than the line, or it is the line
# mm between the lower ends of a curved tube's two edges: a blade's tip is thin
BENT_LOW = (4.0, 60.0)
BENT_HIGH = (8.0, 60.0)  # mm between their upper ends
PER_SLOT = 60  # lines kept per member, longest first; a bicycle has a handful


@dataclass(frozen=True)
class Slot:
    """Window of a member. Angles in degrees of the direction p -> q from forward; p and q boxes in W = front
    axle's x for x and millimetres for y: (x least, x most, y least, y most)."""

    name: str
    angle: tuple[float, float]
    p_box: tuple[float, float, float, float]
    q_box: tuple[float, float, float, float]
    least: float
    through_rear: bool = False


SLOTS = (
    Slot("seat_tube", (91.0, 138.0), (0.08, 0.80, -290, 330), (-0.25, 0.70, 120, 1400), 110),
    Slot("down_tube", (12.0, 78.0), (0.10, 0.85, -290, 330), (0.42, 1.02, 60, 950), 180),
    Slot("top_tube", (-22.0, 60.0), (-0.15, 0.75, 60, 950), (0.40, 1.10, 150, 1100), 170),
    Slot("chainstay", (-45.0, 45.0), (-0.14, 0.14, -130, 130), (0.15, 0.72, -290, 290), 120, True),
    Slot("seatstay", (15.0, 110.0), (-0.14, 0.14, -130, 130), (-0.12, 0.60, 90, 900), 120, True),
    # The whole line is looked at here (perhaps from above the stem to the ground), its stretches later.
    Slot("head_tube", (92.0, 134.0), (0.40, 1.75, -900, 900), (0.10, 1.00, 120, 1700), 35),
)
REAR_REACH = 36.0  # mm; a stay's line, or the edge of its outline, passes the rear axle nearer


def slot_candidates(v: View, slot: Slot) -> list[Candidate]:
    """Lines, middle lines of edge pairs, and bent lines that fit the window, best first by length."""
    picked, turned = _inside(v, slot)
    order = np.argsort(-v.length[picked])[:PER_SLOT]
    picked = picked[order]
    turned = turned[order]
    lines = []
    for k, flip in zip(picked.tolist(), turned.tolist(), strict=True):
        bonus = v.evidence.bonus(slot.name, v.curves_of((k,)))
        if bonus is not None:
            x0, y0, x1, y1 = v.ends[k].tolist()
            if flip:
                p = (x1, y1)
                q = (x0, y0)
            else:
                p = (x0, y0)
                q = (x1, y1)
            lines.append(Candidate(p, q, (k,), bonus=bonus))
    tubes = edge_pairs(v, lines, slot.name)
    if slot.name == "head_tube":
        tubes += [
            replace(t, bonus=bonus)
            for t in tubes_between_faces(v, tubes)
            if (bonus := v.evidence.bonus(slot.name, v.curves_of(t.strokes))) is not None
            and _fits(v, slot, t.p, t.q)
        ]
    else:
        lines += [s for line in lines for s in _stretches(v, line)]
    tubes = _as_picked(v, slot.name, tubes)
    if slot.name not in ("head_tube", "seat_tube"):
        bents = _bent_lines(v, slot) + _linked_lines(v, slot)
    else:
        bents = []
    return lines + tubes + bents


def _stretches(v: View, line: Candidate) -> list[Candidate]:
    """Single pieces of a line drawn with several: a centre-line may run on over a member, past both its ends."""
    (stroke,) = line.strokes
    out = []
    for span in v.strokes.spans(stroke):
        size = (span.end - span.start) * v.pose.scale
        if not span.whole or not MOST_OF_LINE * line.length <= size < line.length - LESS_THAN_LINE:
            continue
        x0, y0 = v.ends[stroke, :2].tolist()
        base = line.along((x0, y0))
        turn = v.pose.scale if base < line.length / 2 else -v.pose.scale
        low, high = sorted((base + turn * span.start, base + turn * span.end))
        out.append(Candidate(line.at(low), line.at(high), line.strokes, bonus=line.bonus))
    return out


def _as_picked(v: View, name: str, tubes: list[Candidate]) -> list[Candidate]:
    """Where both edges of a tube were picked, no tube of one of them and another line."""
    picked = v.evidence.named(name)
    return [t for t in tubes if picked and picked.issuperset(v.curves_of(t.strokes))] or tubes


def _inside(v: View, slot: Slot) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Strokes within the window, and whether each has to be turned round to run p -> q."""
    e = v.ends
    good = np.zeros(len(e), bool)
    turned = np.zeros(len(e), bool)
    for flip in (False, True):
        if flip:
            p = e[:, 2:]
            q = e[:, :2]
        else:
            p = e[:, :2]
            q = e[:, 2:]
        fits = (
            (v.length >= slot.least)
            & _angled(q - p, slot.angle)
            & _boxed(p, slot.p_box, v.front[0])
        )
        fits &= _boxed(q, slot.q_box, v.front[0])
        if slot.through_rear:
            d = q - p
            fits &= np.abs(p[:, 0] * d[:, 1] - p[:, 1] * d[:, 0]) <= REAR_REACH * np.maximum(
                v.length, 1e-9
            )
        good |= fits
        turned |= fits & flip
    picked = np.flatnonzero(good)
    return picked, turned[picked]


def _angled(direction: Array, window: tuple[float, float]) -> NDArray[np.bool_]:
    angle = np.degrees(np.arctan2(direction[:, 1], direction[:, 0]))
    inside: NDArray[np.bool_] = (angle >= window[0]) & (angle <= window[1])
    return inside


def _boxed(
    at: Array, box: tuple[float, float, float, float], wheelbase: float
) -> NDArray[np.bool_]:
    x = at[:, 0] / wheelbase
    y = at[:, 1]
    inside: NDArray[np.bool_] = (x >= box[0]) & (x <= box[1]) & (y >= box[2]) & (y <= box[3])
    return inside


def _linked_lines(v: View, slot: Slot) -> list[Candidate]:
    """Tubes with a bend, as far as the user's word allows them here."""
    found = linked(v, lambda p, q: _fits(v, slot, p, q))
    weighed = [(c, v.evidence.bonus(slot.name, v.curves_of(c.strokes))) for c in found]
    return [replace(c, bonus=c.bonus + bonus) for c, bonus in weighed if bonus is not None]


def _bent_lines(v: View, slot: Slot) -> list[Candidate]:
    """Chains with a curve in them, and pairs of chains that run side by side as the edges of a curved tube."""
    out: list[Candidate] = []
    for chain in v.chains:
        for p, q in ((chain.p, chain.q), (chain.q, chain.p)):
            if _fits(v, slot, p, q):
                owners = [
                    *v.curves_of(chain.strokes),
                    *(i for k in chain.bents for i in v.bents[k].owners),
                ]
                bonus = v.evidence.bonus(slot.name, owners)
                if bonus is not None:
                    out.append(Candidate(p, q, chain.strokes, chain.bents, bonus=bonus))
    return out + [
        t for n, a in enumerate(out) for b in out[n + 1 :] if (t := _bent_tube(a, b)) is not None
    ]


def _fits(v: View, slot: Slot, p: Vec, q: Vec) -> bool:
    tail = np.array([p])
    tip = np.array([q])
    return bool(
        hypot(q[0] - p[0], q[1] - p[1]) >= slot.least
        and _angled(tip - tail, slot.angle)[0]
        and _boxed(tail, slot.p_box, v.front[0])[0]
        and _boxed(tip, slot.q_box, v.front[0])[0]
    )


def _bent_tube(a: Candidate, b: Candidate) -> Candidate | None:
    """The curve midway between two curved edges; None when they do not run side by side."""
    start = hypot(a.p[0] - b.p[0], a.p[1] - b.p[1])
    end = hypot(a.q[0] - b.q[0], a.q[1] - b.q[1])
    side_by_side = BENT_LOW[0] <= start <= BENT_LOW[1] and BENT_HIGH[0] <= end <= BENT_HIGH[1]
    if not side_by_side or set(a.bents) & set(b.bents):
        return None
    if a.lateral(b.p) * a.lateral(b.q) <= 0:
        return None
    wide = max(abs(a.lateral(b.p)), abs(a.lateral(b.q)))
    if not TUBE[0] <= wide <= TUBE[1]:
        return None
    p = _halfway(a.p, b.p)
    q = _halfway(a.q, b.q)
    return Candidate(
        p, q, a.strokes + b.strokes, a.bents + b.bents, wide, ((a.p, a.q), (b.p, b.q)), a.bonus
    )


def _halfway(a: Vec, b: Vec) -> Vec:
    return ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
