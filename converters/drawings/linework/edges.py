"""Two edges become one tube: middle line and outside diameter.

An EDGE is one side of a tube: all strokes on one line, with openings where other tubes run into it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import hypot

import numpy as np
from numpy.typing import NDArray

from ....model.arrays import Array
from .lines import Candidate
from .plane import Vec
from .strokes import LEADING
from .view import View

TUBE = (9.0, 80.0)  # mm between the two edges of a tube
PARALLEL = 0.25  # mm by which edges may diverge over their overlap and still count as parallel
TAPER = 0.065  # rad; a blade's or stay's edges converge less than this
ON_EDGE = 0.15  # mm; strokes this near one line are one edge
OPENING = 110.0  # mm; widest opening in an edge: another tube runs into it there
LEAST_EDGE = 2.5  # mm; shorter strokes are no part of an edge
ONE_BOX = 0.1  # points for two edges that are sides of one polyline
# Points against a pair that is no tube: another edge between the two, a wall line beside one of them (it is the
# inner one), or lines on both sides as far away as a tube is wide (the pair is the gap between two tubes).
MIXED = -0.3
INNER = -0.35
WALL = (0.3, 4.5)  # mm between the outer and the inner line of a wall
SHADING = 5  # lines along a pair of edges
LIKE = 0.02  # rad between a tube and the lines that compete with its edges
CONVERGING = -0.15  # edges of a main tube that are not parallel
OWN_MIDDLE = 1.2  # mm; a line this near the middle is the tube's own centre-line
CONE = 0.15  # rad between the edges of a tapered head tube: 60 to 44 mm over 110
COMPETES = 200.0  # mm beside a tube within which lines compete with its edges
LONGEST_EDGE = (
    900.0  # mm beyond a line's end that more of the same edge is looked for; a top tube has 600
)
MOST_TUBES = 60  # kept per member, longest first
# share of a pair's length along which a line has to run beside it to count against it
ALONGSIDE = 0.5
# A pair that is the gap between two tubes: how far out their far edges are looked for, and how alike they stand.
# times the pair's width, and mm more: the two tubes need not be as wide as the gap
GAP_REACH = (1.6, 12.0)
GAP_EVEN = 4.0  # mm between the distances of the far edges
ENDS_BEYOND = 20.0  # mm past the anchor's ends at which an edge may still lie
SHARED = 0.25  # share of the anchor along which the other edge is drawn
# or, where other tubes open most of it, pieces of it from end to end, and how little of it has to be drawn
SPREAD = 0.6
LEAST_INK = 0.05
MOST_CAPPED = 4  # tubes by their square ends alone, of one edge
STUBS = 0.5  # of the longer edge; a shorter one gives no direction of its own
TAPER_SHARED = 0.6  # share of the longer edge along which converging edges run side by side
TAPER_TIP = 4.0  # mm between them at the thin end, at least: a spoke or a crossing has no tip


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
        beside = _beside(v, anchor)
        open_sides = _capped(v, anchor)
        for _, drawn in beside:
            open_sides = [c for c in open_sides if abs(c[1] - drawn) > 2 * PARALLEL]
        for other, distance in beside + open_sides:
            key = frozenset((*anchor.strokes, *other.strokes))
            if key not in seen:
                seen.add(key)
                whole = len(set(v.curves_of(tuple(key)))) == 1  # a box drawn as one closed polyline
                tubes.append(
                    _tube(anchor, other, distance, line.bonus + (ONE_BOX if whole else 0.0))
                )
    steepest = CONE if slot == "head_tube" else TAPER
    for n, a in enumerate(lines):
        tapered = [t for b in lines[n + 1 :] if (t := _tapered(a, b, steepest)) is not None]
        if slot in ("top_tube", "down_tube", "seat_tube"):
            tapered = [replace(t, bonus=t.bonus + CONVERGING) for t in tapered]
        tubes += tapered
    if v.evidence.roles:
        tubes = [t for t in tubes if v.evidence.bonus(slot, v.curves_of(t.strokes)) is not None]
    longest = sorted(_largest(tubes), key=lambda t: -t.length)[:MOST_TUBES]
    return [
        replace(t, bonus=t.bonus + _against(v, t, slot) + _by_other_edge(v, t, slot))
        for t in longest
    ]


def _by_other_edge(v: View, t: Candidate, slot: str) -> float:
    """What the worse of the two edges' layers and line types says beyond the first one's; of each edge its best."""
    best: dict[bool, float] = {}
    for k in t.strokes:
        x, y = v.mid[k].tolist()
        side = t.lateral((x, y)) > 0
        points = max(v.evidence.points(slot, i) for i in v.curves_of((k,)))
        best[side] = max(points, best.get(side, points))
    return min(best.values()) - v.evidence.points(slot, v.curves_of(t.strokes)[0])


def _against(v: View, t: Candidate, slot: str) -> float:
    """Points against a pair by the lines that run along with it."""
    near = v.about(t.p, t.q, 0.0, COMPETES)
    near = near[~np.isin(near, t.strokes)]
    rel = v.ends[near].reshape(-1, 2, 2) - np.array(t.p)
    side = t.u[0] * rel[..., 1] - t.u[1] * rel[..., 0]
    along = t.u[0] * rel[..., 0] + t.u[1] * rel[..., 1]
    shared = np.minimum(along.max(axis=1), t.length) - np.maximum(along.min(axis=1), 0.0)
    beside = (np.abs(side[:, 0] - side[:, 1]) <= LIKE * v.length[near]) & (
        shared >= ALONGSIDE * t.length
    )
    for n in np.flatnonzero(beside).tolist():
        (first, *_) = v.strokes.pieces[near[n]]
        beside[n] = not v.evidence.elsewhere(int(v.owner[first]))
    off = side[beside].mean(axis=1)
    half = (t.diameter or 0.0) / 2
    points = 0.0
    shaded = (
        len(off) >= SHADING
    )  # lines of light and shade along a tube: the outermost two are its edges
    between = (np.abs(off) > OWN_MIDDLE) & (np.abs(off) < half - WALL[1])
    # a pair of lines about the middle is a steerer or a seatpost inside the tube
    lone = [x for x in off[between].tolist() if np.abs(off + x).min() > 2 * PARALLEL]
    if slot not in ("head_tube", "seat_tube"):
        lone = off[between].tolist()
    if lone and not shaded:
        points += MIXED
    wall = np.abs(off) - half
    if ((wall >= WALL[0]) & (wall <= (TUBE[0] if shaded else WALL[1]))).any():
        points += INNER
    gap = 2 * half
    outside = off[(wall >= TUBE[0]) & (wall <= GAP_REACH[0] * gap + GAP_REACH[1])]
    if any(np.abs(outside + x).min() <= GAP_EVEN for x in outside.tolist()):
        points += MIXED
    return points


def _largest(tubes: list[Candidate]) -> list[Candidate]:
    """Without tubes whose strokes are all part of another one: that one has the whole edges."""
    sets = [frozenset(t.strokes) for t in tubes]
    largest = []
    for tube, own in zip(tubes, sets, strict=True):
        if not any(own < other for other in sets):
            largest.append(tube)
    return largest


def _edge(v: View, line: Candidate) -> Edge:
    """A line and every further stroke on it, across openings of up to OPENING."""
    near = v.about(line.p, line.q, LONGEST_EDGE, ON_EDGE)
    side, along = _placed(v, near, line.p, line.u)
    on = near[(np.abs(side).max(axis=1) <= ON_EDGE) & (v.length[near] >= LEAST_EDGE)]
    if len(on) <= 1:
        return Edge(line.p, line.q, line.strokes, line.length)
    own = line.strokes[0]
    kept = _contiguous(on[np.argsort(along[on].min(axis=1))].tolist(), along, own)
    return _whole_edge(v, tuple(kept), along)


def _placed(v: View, near: NDArray[np.int64], p: Vec, u: Vec) -> tuple[Array, Array]:
    """Of each stroke in `near` how far its ends lie beside a line, and how far along it: (k, 2) and, by the strokes'
    own numbers, (n, 2)."""
    rel = v.ends[near].reshape(-1, 2, 2) - np.array(p)
    along = np.zeros((len(v.ends), 2))
    along[near] = u[0] * rel[..., 0] + u[1] * rel[..., 1]
    return u[0] * rel[..., 1] - u[1] * rel[..., 0], along


def _contiguous(order: list[int], along: Array, own: int) -> list[int]:
    """The run of strokes, in order along the line, that holds `own` and has no opening wider than OPENING."""
    run: list[int] = []
    reach = 0.0
    for k in order:
        if run and float(along[k].min()) - reach > OPENING:
            if own in run:
                break
            run = []
        if run:
            reach = max(reach, float(along[k].max()))
        else:
            reach = float(along[k].max())
        run.append(k)
    return run


def _whole_edge(v: View, strokes: tuple[int, ...], along: Array) -> Edge:
    index = list(strokes)
    points = v.ends[index].reshape(-1, 2)
    where = along[index].ravel()
    ends = points[[int(where.argmin()), int(where.argmax())]]
    lead = index[int(v.length[index].argmax())]
    if v.length[lead] >= LEADING * float(np.ptp(where)):
        a, b = v.ends[lead].reshape(2, 2)
        u = (b - a) / v.length[lead]
        ends = a + ((ends - a) @ u)[:, None] * u
    (px, py), (qx, qy) = ends.tolist()
    return Edge((px, py), (qx, qy), strokes, float(v.length[index].sum()))


def _beside(v: View, anchor: Edge) -> list[tuple[Edge, float]]:
    """Edges parallel to the anchor, each at one distance, with that signed distance."""
    size = anchor.length
    u = ((anchor.q[0] - anchor.p[0]) / size, (anchor.q[1] - anchor.p[1]) / size)
    near = v.about(anchor.p, anchor.q, ENDS_BEYOND, TUBE[1])
    side, along = _placed(v, near, anchor.p, u)
    here = side.mean(axis=1)
    fits = (np.abs(side[:, 0] - side[:, 1]) <= PARALLEL) & (v.length[near] >= LEAST_EDGE)
    fits &= (np.abs(here) >= TUBE[0]) & (np.abs(here) <= TUBE[1])
    fits &= (along[near].max(axis=1) >= -ENDS_BEYOND) & (
        along[near].min(axis=1) <= size + ENDS_BEYOND
    )
    index = near[fits]
    distance = np.zeros(len(v.ends))
    distance[near] = here
    out = []
    groups = _grouped(index[np.argsort(distance[index])].tolist(), distance)
    for group in (run for g in groups for run in _runs(g, along)):
        inked = np.clip(along[group], 0.0, size)
        shared = float(np.abs(inked[:, 1] - inked[:, 0]).sum())
        from_end_to_end = float(np.ptp(inked)) >= SPREAD * size and shared >= LEAST_INK * size
        if shared >= SHARED * size or from_end_to_end:
            out.append((_whole_edge(v, tuple(group), along), float(distance[group].mean())))
    return out


def _runs(group: list[int], along: Array) -> list[list[int]]:
    """A group cut where an opening is wider than another tube: what lies beyond is another part."""
    runs: list[list[int]] = []
    reach = 0.0
    for k in sorted(group, key=lambda k: float(along[k].min())):
        if not runs or float(along[k].min()) - reach > OPENING:
            runs.append([])
            reach = float(along[k].max())
        runs[-1].append(k)
        reach = max(reach, float(along[k].max()))
    return runs


def _capped(v: View, anchor: Edge) -> list[tuple[Edge, float]]:
    """The other side of a tube whose edge is wholly open, by the square cap lines at both ends of this one."""
    size = anchor.length
    ux = (anchor.q[0] - anchor.p[0]) / size
    uy = (anchor.q[1] - anchor.p[1]) / size
    near = v.about(anchor.p, anchor.q, PARALLEL, TUBE[1])
    rel = v.ends[near].reshape(-1, 2, 2) - np.array(anchor.p)
    side = ux * rel[..., 1] - uy * rel[..., 0]
    along = ux * rel[..., 0] + uy * rel[..., 1]
    square = (np.abs(along[:, 0] - along[:, 1]) <= PARALLEL) & (
        np.abs(side).min(axis=1) <= PARALLEL
    )
    wide = np.where(np.abs(side[:, 0]) > np.abs(side[:, 1]), side[:, 0], side[:, 1])
    square &= (np.abs(wide) >= TUBE[0]) & (np.abs(wide) <= TUBE[1])
    low = np.flatnonzero(square & (np.abs(along.mean(axis=1)) <= PARALLEL))
    high = np.flatnonzero(square & (np.abs(along.mean(axis=1) - size) <= PARALLEL))
    out = []
    for a, b in ((int(a), int(b)) for a in low for b in high if abs(wide[a] - wide[b]) <= PARALLEL):
        shift = float(wide[a] + wide[b]) / 2
        p, q = ((e[0] - uy * shift, e[1] + ux * shift) for e in (anchor.p, anchor.q))
        out.append((Edge(p, q, (int(near[a]), int(near[b])), 0.0), shift))
    return out[:MOST_CAPPED]


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
    if min(a.length, b.length) > STUBS * max(a.length, b.length):
        middle = _middle((a.p, a.q), (b.p, b.q))
        if middle is not None:
            return Candidate(
                *middle,
                a.strokes + b.strokes,
                diameter=abs(distance),
                edges=((a.p, a.q), (b.p, b.q)),
                bonus=bonus,
            )
    if a.length >= b.length:
        lead = a
        sign = 1.0
    else:
        lead = b
        sign = -1.0
    ux = (lead.q[0] - lead.p[0]) / lead.length
    uy = (lead.q[1] - lead.p[1]) / lead.length
    sx = -uy * sign * distance / 2
    sy = ux * sign * distance / 2
    return Candidate(
        (lead.p[0] + sx, lead.p[1] + sy),
        (lead.q[0] + sx, lead.q[1] + sy),
        a.strokes + b.strokes,
        diameter=abs(distance),
        edges=((a.p, a.q), (b.p, b.q)),
        bonus=bonus,
    )


def _tapered(a: Candidate, b: Candidate, steepest: float) -> Candidate | None:
    """Tube between two edges that converge, as a blade's or a stay's do; None when they do not belong together."""
    turn = a.u[0] * b.u[1] - a.u[1] * b.u[0]
    if not abs(turn) < steepest or a.u[0] * b.u[0] + a.u[1] * b.u[1] < 0:
        return None
    first = a.lateral(b.p)
    last = a.lateral(b.q)
    if first * last <= 0 or abs(first - last) <= PARALLEL:
        return None
    t0 = a.along(b.p)
    t1 = a.along(b.q)
    shared = min(t1, a.length) - max(t0, 0.0)
    wide = max(abs(first), abs(last))
    if (
        shared < TAPER_SHARED * max(a.length, b.length)
        or not TUBE[0] <= wide <= TUBE[1]
        or min(abs(first), abs(last)) < TAPER_TIP
    ):
        return None
    middle = _middle((a.p, a.q), (b.p, b.q))
    if middle is None:
        return None
    return Candidate(
        *middle, a.strokes + b.strokes, diameter=wide, edges=((a.p, a.q), (b.p, b.q)), bonus=a.bonus
    )


def _middle(a: tuple[Vec, Vec], b: tuple[Vec, Vec]) -> tuple[Vec, Vec] | None:
    """The line every point of which is equally far from two edges (their bisector), over both edges' extent."""
    ap, aq = a
    bp, bq = b
    la = hypot(aq[0] - ap[0], aq[1] - ap[1])
    lb = hypot(bq[0] - bp[0], bq[1] - bp[1])
    if not la or not lb:
        return None
    au = ((aq[0] - ap[0]) / la, (aq[1] - ap[1]) / la)
    bu = ((bq[0] - bp[0]) / lb, (bq[1] - bp[1]) / lb)
    ux = au[0] + bu[0]
    uy = au[1] + bu[1]
    size = hypot(ux, uy)
    # the sum of two unit vectors: below 1 they are more than 120 degrees apart
    if size < 1.0:
        return None
    ux = ux / size
    uy = uy / size
    # From the middle of edge a straight across the bisector's direction to edge b; halfway lies on the bisector.
    mx = (ap[0] + aq[0]) / 2
    my = (ap[1] + aq[1]) / 2
    across = -uy * bu[1] - ux * bu[0]
    gap = ((bp[0] - mx) * bu[1] - (bp[1] - my) * bu[0]) / across
    cx = mx - uy * gap / 2
    cy = my + ux * gap / 2
    along = [ux * (p[0] - cx) + uy * (p[1] - cy) for p in (ap, aq, bp, bq)]
    lo = min(along)
    hi = max(along)
    return (cx + lo * ux, cy + lo * uy), (cx + hi * ux, cy + hi * uy)
