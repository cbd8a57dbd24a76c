"""Which strokes could be which member, in one pose: wide windows per member, single lines and pairs of edges.

All lengths here are rough millimetres in the bicycle's axes (rear axle at the origin, x forward, y up), good to
some 15 % until the units are settled; the windows are wide enough for that and for every frame in the trade.
A CANDIDATE is a straight centre-line, a middle line between two EDGES of a tube, or a bent line.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import product
from math import hypot

import numpy as np
from numpy.typing import NDArray

from .recognise_evidence import Evidence
from .recognise_pieces import Bent
from .recognise_pose import Pose
from .recognise_strokes import Strokes

Array = NDArray[np.float64]
Vec = tuple[float, float]

TUBE = (9.0, 80.0)  # mm between the two edges of a tube
PARALLEL = 0.25  # mm by which edges may diverge over their overlap and still count as parallel
TAPER = 0.065  # rad; a blade's or stay's edges converge less than this
LEAST_EDGE = 8.0  # mm; shorter strokes are no part of an edge
PER_SLOT = 60  # candidates kept per member, longest first; a bicycle has a handful


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """p, q: lower or rear end first. strokes: one for a line, those of both edges for a tube.

    bents: curved runs it is drawn with (and then perhaps strokes that continue them); only its ends p and q
    count. edges: each edge's two ends, nearest p first.
    """

    p: Vec
    q: Vec
    strokes: tuple[int, ...] = ()
    bents: tuple[int, ...] = ()
    diameter: float | None = None
    edges: tuple[tuple[Vec, Vec], ...] = ()
    bonus: float = 0.0
    length: float = field(init=False)
    u: Vec = field(init=False)

    def __post_init__(self) -> None:
        length = hypot(self.q[0] - self.p[0], self.q[1] - self.p[1]) or 1e-12
        object.__setattr__(self, "length", length)
        object.__setattr__(self, "u", ((self.q[0] - self.p[0]) / length, (self.q[1] - self.p[1]) / length))

    @property
    def is_tube(self) -> bool:
        return bool(self.edges)

    def lateral(self, at: Vec) -> float:
        """Signed distance of a point from the line, left of p -> q positive."""
        return self.u[0] * (at[1] - self.p[1]) - self.u[1] * (at[0] - self.p[0])

    def along(self, at: Vec) -> float:
        """Distance along the line from p to the foot of the point."""
        return self.u[0] * (at[0] - self.p[0]) + self.u[1] * (at[1] - self.p[1])

    def at(self, distance: float) -> Vec:
        return (self.p[0] + distance * self.u[0], self.p[1] + distance * self.u[1])

    def reversed(self) -> "Candidate":
        edges = tuple((b, a) for a, b in self.edges)
        return Candidate(self.q, self.p, self.strokes, self.bents, self.diameter, edges, self.bonus)

    def moved(self, move: Callable[[Vec], Vec], scale: float) -> "Candidate":
        """The same in other axes; `scale` is the length ratio new to old."""
        edges = tuple((move(a), move(b)) for a, b in self.edges)
        width = None if self.diameter is None else self.diameter * scale
        return Candidate(move(self.p), move(self.q), self.strokes, self.bents, width, edges, self.bonus)


def crossing(a: Candidate, b: Candidate) -> Vec | None:
    """Where two lines (extended) cross; None when nearly parallel."""
    det = a.u[0] * b.u[1] - a.u[1] * b.u[0]
    if abs(det) < 0.02:
        return None
    dx, dy = b.p[0] - a.p[0], b.p[1] - a.p[1]
    return a.at((dx * b.u[1] - dy * b.u[0]) / det)


@dataclass(frozen=True, eq=False)
class View:
    """The drawing's strokes and bents in one pose; `front` is the front axle."""

    pose: Pose
    strokes: Strokes
    bents: Sequence[Bent]
    evidence: Evidence
    owner: NDArray[np.int64]
    front: Vec
    ends: Array
    bent_ends: Array
    mid: Array
    length: Array
    chains: tuple["Chain", ...]

    def curves_of(self, strokes: Sequence[int]) -> list[int]:
        return [int(self.owner[k]) for s in strokes for k in self.strokes.pieces[s]]


def view(pose: Pose, strokes: Strokes, bents: Sequence[Bent], evidence: Evidence, owner: NDArray[np.int64],
         front: Vec) -> View:
    ends = pose.apply_all(strokes.ends.reshape(-1, 2, 2)).reshape(-1, 4)
    tips = np.array([[b.points[0], b.points[-1]] for b in bents], float).reshape(-1, 2, 2)
    length = np.hypot(ends[:, 2] - ends[:, 0], ends[:, 3] - ends[:, 1])
    bent_ends = pose.apply_all(tips).reshape(-1, 4)
    return View(pose, strokes, bents, evidence, owner, pose.apply(front), ends, bent_ends,
                (ends[:, :2] + ends[:, 2:]) / 2, length, chains(ends, length, bent_ends))


CHAINED = 0.5  # mm; a curve and a straight whose ends are this near continue each other
CHAIN_BUDGET = 60  # curved runs considered, longest first
LEAST_BENT = 25.0  # mm between the ends of a curved run


@dataclass(frozen=True)
class Chain:
    """A path of touching runs with at least one curve: its two ends and what it is made of."""

    p: Vec
    q: Vec
    strokes: tuple[int, ...]
    bents: tuple[int, ...]


def chains(ends: Array, length: Array, bent_ends: Array) -> tuple[Chain, ...]:
    """Every path of touching runs through a curve, up to two further runs on either side of it."""
    if not len(bent_ends):
        return ()
    chord = np.hypot(bent_ends[:, 2] - bent_ends[:, 0], bent_ends[:, 3] - bent_ends[:, 1])
    picked = [k for k in np.argsort(-chord)[:CHAIN_BUDGET].tolist() if chord[k] >= LEAST_BENT]
    tips = np.vstack((bent_ends[picked].reshape(-1, 2), ends.reshape(-1, 2)))
    runs = [("b", k) for k in picked] + [("s", k) for k in range(len(ends))]
    allowed = np.concatenate((np.ones(2 * len(picked), bool), np.repeat(length >= 15.0, 2)))
    found: dict[frozenset[int], Chain] = {}
    for n in range(len(picked)):
        for back, ahead in product(_walks(2 * n, tips, allowed), _walks(2 * n + 1, tips, allowed)):
            members = list(dict.fromkeys(k // 2 for k in (*back[::-1], *ahead)))
            if len(members) == len(back) + len(ahead) - 1:
                (px, py), (qx, qy) = tips[back[-1]].tolist(), tips[ahead[-1]].tolist()
                found.setdefault(frozenset(members), Chain(
                    (px, py), (qx, qy), tuple(runs[m][1] for m in members if runs[m][0] == "s"),
                    tuple(runs[m][1] for m in members if runs[m][0] == "b")))
    return tuple(found.values())


def _walks(first: int, tips: Array, allowed: NDArray[np.bool_]) -> list[tuple[int, ...]]:
    """Walks out of a curve's end `first` and on through touching runs: the ends they leave through."""
    out: list[tuple[int, ...]] = [(first,)]
    for path in out:
        if len(path) == 3:
            break
        near = allowed & (np.hypot(*(tips - tips[path[-1]]).T) <= CHAINED)
        used = {k // 2 for k in path}
        out += [(*path, k ^ 1) for k in np.flatnonzero(near).tolist() if k // 2 not in used]
    return out[:12]


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
    Slot("seat_tube", (89.0, 138.0), (0.08, 0.80, -290, 330), (-0.25, 0.70, 120, 1400), 110),
    Slot("down_tube", (12.0, 78.0), (0.10, 0.85, -290, 330), (0.42, 1.02, 60, 950), 180),
    Slot("top_tube", (-22.0, 60.0), (-0.15, 0.75, 60, 950), (0.40, 1.10, 150, 1100), 170),
    Slot("chainstay", (-45.0, 45.0), (-0.14, 0.14, -130, 130), (0.15, 0.72, -290, 290), 120, True),
    Slot("seatstay", (15.0, 110.0), (-0.14, 0.14, -130, 130), (-0.12, 0.60, 90, 900), 120, True),
    # The whole line is looked at here (it may run from above the stem to the ground); its stretches are sorted out later.
    Slot("head_tube", (92.0, 134.0), (0.40, 1.75, -900, 900), (0.10, 1.00, 120, 1700), 35),
)
REAR_REACH = 36.0  # mm; a stay's line, or the edge of its outline, passes the rear axle nearer than this


def slot_candidates(v: View, slot: Slot) -> list[Candidate]:
    """Lines, middle lines of edge pairs, and bent lines that fit the window, best first by length."""
    picked, turned = _inside(v, slot)
    order = np.argsort(-v.length[picked])[:PER_SLOT]
    picked, turned = picked[order], turned[order]
    lines = []
    for k, flip in zip(picked.tolist(), turned.tolist(), strict=True):
        bonus = v.evidence.bonus(slot.name, v.curves_of((k,)))
        if bonus is not None:
            x0, y0, x1, y1 = v.ends[k].tolist()
            p, q = ((x1, y1), (x0, y0)) if flip else ((x0, y0), (x1, y1))
            lines.append(Candidate(p, q, (k,), bonus=bonus))
    tubes = edge_pairs(v, lines, slot.name)
    bents = _bent_lines(v, slot) if slot.name not in ("head_tube", "seat_tube") else []
    return lines + tubes + bents


def _inside(v: View, slot: Slot) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Strokes within the window, and whether each has to be turned round to run p -> q."""
    e = v.ends
    good = np.zeros(len(e), bool)
    turned = np.zeros(len(e), bool)
    for flip in (False, True):
        p, q = (e[:, 2:], e[:, :2]) if flip else (e[:, :2], e[:, 2:])
        fits = (v.length >= slot.least) & _angled(q - p, slot.angle) & _boxed(p, slot.p_box, v.front[0])
        fits &= _boxed(q, slot.q_box, v.front[0])
        if slot.through_rear:
            d = q - p
            fits &= np.abs(p[:, 0] * d[:, 1] - p[:, 1] * d[:, 0]) <= REAR_REACH * np.maximum(v.length, 1e-9)
        good |= fits
        turned |= fits & flip
    picked = np.flatnonzero(good)
    return picked, turned[picked]


def _angled(direction: Array, window: tuple[float, float]) -> NDArray[np.bool_]:
    angle = np.degrees(np.arctan2(direction[:, 1], direction[:, 0]))
    inside: NDArray[np.bool_] = (angle >= window[0]) & (angle <= window[1])
    return inside


def _boxed(at: Array, box: tuple[float, float, float, float], wheelbase: float) -> NDArray[np.bool_]:
    x, y = at[:, 0] / wheelbase, at[:, 1]
    inside: NDArray[np.bool_] = (x >= box[0]) & (x <= box[1]) & (y >= box[2]) & (y <= box[3])
    return inside


def _bent_lines(v: View, slot: Slot) -> list[Candidate]:
    """Chains with a curve in them, and pairs of chains that run side by side as the edges of a curved tube."""
    out: list[Candidate] = []
    for chain in v.chains:
        for p, q in ((chain.p, chain.q), (chain.q, chain.p)):
            if _fits(v, slot, p, q):
                bonus = v.evidence.bonus(slot.name, [*v.curves_of(chain.strokes), *(v.bents[k].owner for k in chain.bents)])
                if bonus is not None:
                    out.append(Candidate(p, q, chain.strokes, chain.bents, bonus=bonus))
    return out + [t for n, a in enumerate(out) for b in out[n + 1 :] if (t := _bent_tube(a, b)) is not None]


def _fits(v: View, slot: Slot, p: Vec, q: Vec) -> bool:
    tail, tip = np.array([p]), np.array([q])
    return bool(hypot(q[0] - p[0], q[1] - p[1]) >= slot.least and _angled(tip - tail, slot.angle)[0]
                and _boxed(tail, slot.p_box, v.front[0])[0] and _boxed(tip, slot.q_box, v.front[0])[0])


def _bent_tube(a: Candidate, b: Candidate) -> Candidate | None:
    """The curve midway between two curved edges; None when they do not run side by side."""
    start, end = hypot(a.p[0] - b.p[0], a.p[1] - b.p[1]), hypot(a.q[0] - b.q[0], a.q[1] - b.q[1])
    if not (4.0 <= start <= 60.0 and 8.0 <= end <= 60.0) or set(a.bents) & set(b.bents):
        return None
    if a.lateral(b.p) * a.lateral(b.q) <= 0:
        return None
    wide = max(abs(a.lateral(b.p)), abs(a.lateral(b.q)))
    if not TUBE[0] <= wide <= TUBE[1]:
        return None
    p, q = _halfway(a.p, b.p), _halfway(a.q, b.q)
    return Candidate(p, q, a.strokes + b.strokes, a.bents + b.bents, wide, ((a.p, a.q), (b.p, b.q)), a.bonus)


def _halfway(a: Vec, b: Vec) -> Vec:
    return ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)


# --- two edges -> one tube ------------------------------------------------------------------------------


def edge_pairs(v: View, lines: Sequence[Candidate], slot: str) -> list[Candidate]:
    """Middle lines between each line and what runs beside it at one distance (in one piece or several)."""
    tubes: list[Candidate] = []
    seen: set[tuple[frozenset[int], frozenset[int]]] = set()
    for anchor in lines:
        for strokes, distance in _beside(v, anchor):
            key = (frozenset(anchor.strokes), frozenset(strokes))
            if key[::-1] in seen or key in seen:
                continue
            seen.add(key)
            tubes.append(_tube(v, anchor, strokes, distance))
    for n, a in enumerate(lines):
        tubes += [t for b in lines[n + 1 :] if (t := _tapered(a, b, v)) is not None]
    allowed = []
    for tube in tubes:
        bonus = v.evidence.bonus(slot, v.curves_of(tube.strokes))
        if bonus is not None:
            allowed.append(tube)
    return sorted(allowed, key=lambda t: -t.length)[:PER_SLOT]


def _beside(v: View, anchor: Candidate) -> list[tuple[tuple[int, ...], float]]:
    """Groups of strokes parallel to the anchor at one distance, with that signed distance."""
    rel = v.ends.reshape(-1, 2, 2) - np.array(anchor.p)
    side = anchor.u[0] * rel[..., 1] - anchor.u[1] * rel[..., 0]
    along = anchor.u[0] * rel[..., 0] + anchor.u[1] * rel[..., 1]
    distance = side.mean(axis=1)
    fits = (np.abs(side[:, 0] - side[:, 1]) <= PARALLEL) & (v.length >= LEAST_EDGE)
    fits &= (np.abs(distance) >= TUBE[0]) & (np.abs(distance) <= TUBE[1])
    fits &= (along.max(axis=1) >= 0.0) & (along.min(axis=1) <= anchor.length)
    index = np.flatnonzero(fits)
    index = index[np.argsort(distance[index])]
    groups: list[list[int]] = []
    for k in index.tolist():
        if groups and distance[k] - distance[groups[-1][-1]] <= PARALLEL:
            groups[-1].append(k)
        else:
            groups.append([k])
    out = []
    for group in groups:
        inked = np.clip(along[group], 0.0, anchor.length)
        shared = float(np.abs(inked[:, 1] - inked[:, 0]).sum())
        if shared >= 0.3 * min(anchor.length, float(v.length[group].sum())) and shared >= 0.25 * anchor.length:
            out.append((tuple(group), float(distance[group].mean())))
    return out


def _tube(v: View, anchor: Candidate, strokes: tuple[int, ...], distance: float) -> Candidate:
    """Tube between an anchor edge and a parallel other edge of one or several strokes."""
    others = v.ends[list(strokes)].reshape(-1, 2)
    along = (others - np.array(anchor.p)) @ np.array(anchor.u)
    lo, hi = others[int(along.argmin())], others[int(along.argmax())]
    other = ((float(lo[0]), float(lo[1])), (float(hi[0]), float(hi[1])))
    middle = _middle((anchor.p, anchor.q), other) if along.max() - along.min() > 0.5 * anchor.length else None
    if middle is None:  # a few short stubs: the long edge's direction is the better one
        shift = (-anchor.u[1] * distance / 2, anchor.u[0] * distance / 2)
        middle = ((anchor.p[0] + shift[0], anchor.p[1] + shift[1]), (anchor.q[0] + shift[0], anchor.q[1] + shift[1]))
    return Candidate(*middle, (*anchor.strokes, *strokes), diameter=abs(distance),
                     edges=((anchor.p, anchor.q), other), bonus=anchor.bonus)


def _tapered(a: Candidate, b: Candidate, v: View) -> Candidate | None:
    """Tube between two edges that converge, as a blade's or a stay's do; None when they do not belong together."""
    turn = a.u[0] * b.u[1] - a.u[1] * b.u[0]
    if not abs(turn) < TAPER or a.u[0] * b.u[0] + a.u[1] * b.u[1] < 0:
        return None
    first, last = a.lateral(b.p), a.lateral(b.q)
    if first * last <= 0 or abs(first - last) <= PARALLEL:
        return None
    t0, t1 = a.along(b.p), a.along(b.q)
    shared = min(t1, a.length) - max(t0, 0.0)
    wide = max(abs(first), abs(last))
    if shared < 0.6 * max(a.length, b.length) or not TUBE[0] <= wide <= TUBE[1] or min(abs(first), abs(last)) < 4.0:
        return None
    middle = _middle((a.p, a.q), (b.p, b.q))
    if middle is None:
        return None
    return Candidate(*middle, a.strokes + b.strokes, diameter=wide, edges=((a.p, a.q), (b.p, b.q)), bonus=a.bonus)


def _middle(a: tuple[Vec, Vec], b: tuple[Vec, Vec]) -> tuple[Vec, Vec] | None:
    """The line every point of which is equally far from two edges (their bisector), over both edges' extent."""
    (ap, aq), (bp, bq) = a, b
    la, lb = hypot(aq[0] - ap[0], aq[1] - ap[1]), hypot(bq[0] - bp[0], bq[1] - bp[1])
    if not la or not lb:
        return None
    au, bu = ((aq[0] - ap[0]) / la, (aq[1] - ap[1]) / la), ((bq[0] - bp[0]) / lb, (bq[1] - bp[1]) / lb)
    ux, uy = au[0] + bu[0], au[1] + bu[1]
    size = hypot(ux, uy)
    if size < 1.0:
        return None
    ux, uy = ux / size, uy / size
    # From the middle of edge a straight across the bisector's direction to edge b; halfway lies on the bisector.
    mx, my = (ap[0] + aq[0]) / 2, (ap[1] + aq[1]) / 2
    across = -uy * bu[1] - ux * bu[0]
    gap = ((bp[0] - mx) * bu[1] - (bp[1] - my) * bu[0]) / across
    cx, cy = mx - uy * gap / 2, my + ux * gap / 2
    along = [ux * (p[0] - cx) + uy * (p[1] - cy) for p in (ap, aq, bp, bq)]
    lo, hi = min(along), max(along)
    return (cx + lo * ux, cy + lo * uy), (cx + hi * ux, cy + hi * uy)
