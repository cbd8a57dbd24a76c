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
from .recognise_pieces import Bent, Pieces
from .recognise_pose import Pose
from .recognise_strokes import Strokes

Array = NDArray[np.float64]
Vec = tuple[float, float]

TUBE = (9.0, 80.0)  # mm between the two edges of a tube
PARALLEL = 0.25  # mm by which edges may diverge over their overlap and still count as parallel
TAPER = 0.065  # rad; a blade's or stay's edges converge less than this
ON_EDGE = 0.15  # mm; strokes this near one line are one edge
OPENING = 110.0  # mm; widest opening in an edge: another tube runs into it there
LEAST_EDGE = 2.5  # mm; shorter strokes are no part of an edge
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
    pieces: Array
    front: Vec
    ends: Array
    bent_ends: Array
    mid: Array
    length: Array
    chains: tuple["Chain", ...]

    def curves_of(self, strokes: Sequence[int]) -> list[int]:
        return [int(self.owner[k]) for s in strokes for k in self.strokes.pieces[s]]


def view(pose: Pose, strokes: Strokes, pieces: Pieces, evidence: Evidence, front: Vec) -> View:
    bents = pieces.bents
    ends = pose.apply_all(strokes.ends.reshape(-1, 2, 2)).reshape(-1, 4)
    curved = [pose.apply_all(b.points) for b in bents]
    length = np.hypot(ends[:, 2] - ends[:, 0], ends[:, 3] - ends[:, 1])
    bent_ends = np.array([b[[0, -1]] for b in curved], float).reshape(-1, 4)
    return View(pose, strokes, bents, evidence, pieces.owner, pieces.ends, pose.apply(front), ends, bent_ends,
                (ends[:, :2] + ends[:, 2:]) / 2, length, chains(ends, length, curved))


CHAINED = 0.5  # mm; a curve and a straight whose ends are this near continue each other
SMOOTH = 0.94  # cosine of the greatest turn (20 degrees) where runs continue each other
CHAIN_BUDGET = 60  # curved runs considered, longest first
LEAST_BENT = 25.0  # mm between the ends of a curved run


@dataclass(frozen=True)
class Chain:
    """A path of touching runs with at least one curve: its two ends and what it is made of."""

    p: Vec
    q: Vec
    strokes: tuple[int, ...]
    bents: tuple[int, ...]


def chains(ends: Array, length: Array, bents: Sequence[Array]) -> tuple[Chain, ...]:
    """Every smooth path of touching runs through a curve, up to two further runs on either side of it.

    `bents` : the curved runs' vertices, in the same axes as the strokes' `ends`.
    """
    if not bents:
        return ()
    chord = np.array([np.hypot(*(b[-1] - b[0])) for b in bents])
    picked = [k for k in np.argsort(-chord)[:CHAIN_BUDGET].tolist() if chord[k] >= LEAST_BENT]
    strokes = np.flatnonzero(length >= 15.0)
    runs = [("b", k) for k in picked] + [("s", k) for k in strokes.tolist()]
    tips = np.vstack([bents[k][[0, -1]] for k in picked] + [ends[strokes].reshape(-1, 2)])
    out = np.vstack([_leaving(bents[k]) for k in picked] + [_leaving_lines(ends[strokes])])
    found: dict[frozenset[int], Chain] = {}
    for n in range(len(picked)):
        for back, ahead in product(_walks(2 * n, tips, out), _walks(2 * n + 1, tips, out)):
            members = list(dict.fromkeys(k // 2 for k in (*back[::-1], *ahead)))
            if len(members) == len(back) + len(ahead) - 1:
                (px, py), (qx, qy) = tips[back[-1]].tolist(), tips[ahead[-1]].tolist()
                found.setdefault(frozenset(members), Chain(
                    (px, py), (qx, qy), tuple(runs[m][1] for m in members if runs[m][0] == "s"),
                    tuple(runs[m][1] for m in members if runs[m][0] == "b")))
    return tuple(found.values())


def _leaving(points: Array) -> Array:
    """Unit directions in which a curved run leaves its first and its last end, (2, 2)."""
    d = np.vstack((points[0] - points[1], points[-1] - points[-2]))
    unit: Array = d / np.hypot(*d.T)[:, None]
    return unit


def _leaving_lines(ends: Array) -> Array:
    d = (ends[:, 2:] - ends[:, :2]) / np.maximum(np.hypot(*(ends[:, 2:] - ends[:, :2]).T), 1e-12)[:, None]
    both: Array = np.stack((-d, d), axis=1).reshape(-1, 2)
    return both


def _walks(first: int, tips: Array, out: Array) -> list[tuple[int, ...]]:
    """Smooth walks out of a curve's end `first` and on through touching runs: the ends they leave through."""
    found: list[tuple[int, ...]] = [(first,)]
    for path in found:
        if len(path) == 3 or len(found) > 12:
            break
        here = path[-1]
        near = (np.hypot(*(tips - tips[here]).T) <= CHAINED) & (out @ out[here] <= -SMOOTH)
        used = {k // 2 for k in path}
        found += [(*path, k ^ 1) for k in np.flatnonzero(near).tolist() if k // 2 not in used]
    return found


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


@dataclass(frozen=True, slots=True, eq=False)
class Edge:
    """One side of a tube: the strokes on one line, with openings where other tubes run into it."""

    p: Vec
    q: Vec
    strokes: tuple[int, ...]
    ink: float

    @property
    def length(self) -> float:
        return hypot(self.q[0] - self.p[0], self.q[1] - self.p[1])


def edge_pairs(v: View, lines: Sequence[Candidate], slot: str) -> list[Candidate]:
    """Middle lines between two edges, each in one piece or in several with openings between."""
    tubes: list[Candidate] = []
    seen: set[frozenset[int]] = set()
    for line in lines:
        anchor = _edge(v, line)
        for other, distance in _beside(v, anchor):
            key = frozenset((*anchor.strokes, *other.strokes))
            if key not in seen:
                seen.add(key)
                tubes.append(_tube(anchor, other, distance, line.bonus))
    for n, a in enumerate(lines):
        tubes += [t for b in lines[n + 1 :] if (t := _tapered(a, b)) is not None]
    if v.evidence.roles:
        tubes = [t for t in tubes if v.evidence.bonus(slot, v.curves_of(t.strokes)) is not None]
    return sorted(_largest(tubes), key=lambda t: -t.length)[:PER_SLOT]


def _largest(tubes: list[Candidate]) -> list[Candidate]:
    """Without tubes whose strokes are all part of another one: that one has the whole edges."""
    sets = [frozenset(t.strokes) for t in tubes]
    return [t for t, own in zip(tubes, sets, strict=True) if not any(own < other for other in sets)]


def _edge(v: View, line: Candidate) -> Edge:
    """A line and every further stroke on it, across openings of up to OPENING."""
    rel = v.ends.reshape(-1, 2, 2) - np.array(line.p)
    side = np.abs(line.u[0] * rel[..., 1] - line.u[1] * rel[..., 0]).max(axis=1)
    along = line.u[0] * rel[..., 0] + line.u[1] * rel[..., 1]
    on = np.flatnonzero((side <= ON_EDGE) & (v.length >= LEAST_EDGE))
    if len(on) <= 1:
        return Edge(line.p, line.q, line.strokes, line.length)
    own = line.strokes[0]
    kept = _contiguous(on[np.argsort(along[on].min(axis=1))].tolist(), along, own)
    return _whole_edge(v, tuple(kept), along, line)


def _contiguous(order: list[int], along: Array, own: int) -> list[int]:
    """The run of strokes, in order along the line, that holds `own` and has no opening wider than OPENING."""
    run: list[int] = []
    reach = 0.0
    for k in order:
        if run and float(along[k].min()) - reach > OPENING:
            if own in run:
                break
            run = []
        reach = max(reach, float(along[k].max())) if run else float(along[k].max())
        run.append(k)
    return run


def _whole_edge(v: View, strokes: tuple[int, ...], along: Array, line: Candidate) -> Edge:
    index = list(strokes)
    points, where = v.ends[index].reshape(-1, 2), along[index].ravel()
    (px, py), (qx, qy) = points[int(where.argmin())].tolist(), points[int(where.argmax())].tolist()
    return Edge((px, py), (qx, qy), strokes, float(v.length[index].sum()))


def _beside(v: View, anchor: Edge) -> list[tuple[Edge, float]]:
    """Edges parallel to the anchor, each at one distance, with that signed distance."""
    size = anchor.length
    ux, uy = (anchor.q[0] - anchor.p[0]) / size, (anchor.q[1] - anchor.p[1]) / size
    rel = v.ends.reshape(-1, 2, 2) - np.array(anchor.p)
    side = ux * rel[..., 1] - uy * rel[..., 0]
    along = ux * rel[..., 0] + uy * rel[..., 1]
    distance = side.mean(axis=1)
    fits = (np.abs(side[:, 0] - side[:, 1]) <= PARALLEL) & (v.length >= LEAST_EDGE)
    fits &= (np.abs(distance) >= TUBE[0]) & (np.abs(distance) <= TUBE[1])
    fits &= (along.max(axis=1) >= -20.0) & (along.min(axis=1) <= size + 20.0)
    index = np.flatnonzero(fits)
    out = []
    for group in _grouped(index[np.argsort(distance[index])].tolist(), distance):
        inked = np.clip(along[group], 0.0, size)
        shared = float(np.abs(inked[:, 1] - inked[:, 0]).sum())
        if shared >= 0.25 * size:
            line = Candidate(anchor.p, anchor.q)
            out.append((_whole_edge(v, tuple(group), along, line), float(distance[group].mean())))
    return out


def _grouped(order: list[int], distance: Array) -> list[list[int]]:
    """Strokes sorted by distance, cut into groups of one distance."""
    groups: list[list[int]] = []
    for k in order:
        if groups and distance[k] - distance[groups[-1][-1]] <= PARALLEL:
            groups[-1].append(k)
        else:
            groups.append([k])
    return groups


def _tube(a: Edge, b: Edge, distance: float, bonus: float) -> Candidate:
    """Tube between two parallel edges. A few short stubs give no direction: then the longer edge's is used."""
    if min(a.length, b.length) > 0.5 * max(a.length, b.length):
        middle = _middle((a.p, a.q), (b.p, b.q))
        if middle is not None:
            return Candidate(*middle, a.strokes + b.strokes, diameter=abs(distance), edges=((a.p, a.q), (b.p, b.q)),
                             bonus=bonus)
    lead, sign = (a, 1.0) if a.length >= b.length else (b, -1.0)
    ux, uy = (lead.q[0] - lead.p[0]) / lead.length, (lead.q[1] - lead.p[1]) / lead.length
    sx, sy = -uy * sign * distance / 2, ux * sign * distance / 2
    return Candidate((lead.p[0] + sx, lead.p[1] + sy), (lead.q[0] + sx, lead.q[1] + sy), a.strokes + b.strokes,
                     diameter=abs(distance), edges=((a.p, a.q), (b.p, b.q)), bonus=bonus)


def _tapered(a: Candidate, b: Candidate) -> Candidate | None:
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
