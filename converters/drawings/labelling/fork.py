"""The fork: from its crown on the steering axis to the front axle, in every way builders draw it.

Ways, in search order: a path of touching lines and curves that ends at the axle (straight blade, raked blade,
axis and offset line); a straight centre-line that overruns its ends; two edges of a straight blade; two edges of
a curved one, known by their symmetric upper ends; a line on the steering axis alone; legs beside the axis below
a crown across it.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ....model.arrays import Array
from ..linework.edges import edge_pairs
from ..linework.lines import Candidate, crossing
from ..linework.plane import Vec
from ..linework.view import View
from .score import exactness, reaching, usual

AXLE_REACH = 36.0  # mm; a path's end this near the front axle is taken as meant for it
PAST = 9.0  # mm; a blade's line that runs on past the axis by less ends there
TOUCH = 3.0  # mm; ends this near touch
LENGTH = (150.0, 720.0)  # mm along the axis from the axle's foot to the crown
LEAST_BLADE = 90.0  # mm that a blade's edge runs down from the crown before its next piece
ALIKE = 0.25  # difference of slope against the axis between a blade's two edges
PATH_LINKS = 5  # runs of a path at the most: axis, two bends of a raked blade and what joins them
ROUNDABOUT = (
    1.4  # of the distance between its ends that a path runs, at most; axis and offset line run 1.2
)
STEP_BUDGET = 400  # links tried per axis; a blade has five at most
CROWN_SPREAD = (10.0, 90.0)  # mm between the two edges of the blade at the crown
EDGE_OFF = (4.0, 50.0)  # mm from the axis to the upper end of a blade's edge
SAME_HEIGHT = 12.0  # mm along the axis between the upper ends of two edges: a crown slopes little
LOPSIDED = 3.0  # mm by which one of them may stand farther from the axis than the other
LESS_THAN_LINE = 1.0  # mm that a stretch of an edge is shorter than its line, or it is the line
MOST_TIPS = 40  # such ends compared, each with each
OFF_AXIS = 8.0  # mm from the axis at which a path's upper end still means the crown
OVERSHOOT = 25.0  # mm; a straight blade ends no farther beyond the axis: it would be a down tube
BLADE_LINES = 12  # lines between axle and axis tried as blades, longest first
PASSES = 34.0  # mm beside the front axle that a straight blade's line passes it: a raked tip bridges them
STARTS = 130.0  # mm from the front axle to where such a line starts
ENDS = 70.0  # mm beside the axis where it ends: an edge of a wide crown
ON_AXIS = 0.5  # mm; a stretch this near the axis is drawn on it
LEAST_SHOULDER = 3.0  # mm of such a stretch that is named as the fork's by hand
LEAST_STRETCH = 60.0  # mm of such a stretch, and how far it may run below the axle's foot
MOST_STRETCHES = 20  # such lines looked at
AT_FOOT = 4.0  # mm about the axle's foot in which a stretch of the axis ends as it should
RAKE = 220.0  # mm above the foot from which it says nothing: the raked part is never longer

# Where links of a path may lie: from the wheel's rear to before it, never far below the ground or above the bars.
LEAST_LINK = 6.0  # mm; shorter ones are strokes of letters and hatching
LINK_X = (0.35, 1.2)  # wheelbases before the rear axle
LINK_Y = (-150.0, 1000.0)  # mm above the rear axle

# Legs beside the axis.
LEG_LEANS = 0.15  # share of a leg's length by which it may lean against the axis
LEG_BESIDE = 130.0  # mm from the axis to a leg's outside
LEG_END = 140.0  # mm from the front axle to a leg's lower end
PARALLEL = 0.02  # difference of slope against the axis between a leg's sides
LEG_WIDE = 8.0  # mm between them, at least
MOST_LEGS = 4  # edges of two legs
ACROSS = 0.012  # share of its length by which a crown line may lean from square
CROWN_HALF = 9.0  # mm that it reaches out to each side, at least
CROWN_WIDE = 110.0  # mm of it in all, at most
CROWN_UNEVEN = 8.0  # mm that it may reach farther out on one side
MOST_CROWNS = 12  # lowest first; the higher ones are bridges and bearings

# Points; a fork that fits in every way earns 2.
PER_LINK = 0.02  # off for each further link of a path: of two paths the simpler one is meant
PER_GAP = 0.01  # off for each mm of gap between links
LEADS_ON = 0.03  # off for a path that begins on the axis itself: a further link and a little
STRAIGHT = 0.6  # a straight blade at all, a little less than a path that ends at the axle
OUTLINED = 0.25  # two edges confirm each other
MISSES_END = 0.4  # what is left of a straight blade's points when neither end is where it should be
EDGES_FIT = 0.9  # two edges whose middle lies on the axis: less than a line that does
EDGES = 0.6  # two edges alike at all
AXIS_ALONE = 0.7  # a stretch of the axis with nothing that leads on to the axle
AXIS_TO_FOOT = 0.5  # it ends where the offset line would begin
LEGS = 1.0  # legs with a crown line: half marks, the axle is not asked
PER_HEIGHT = 1e-4  # off for each mm of a crown line's height: settles ties, lowest first


@dataclass(frozen=True, slots=True, eq=False)
class Fork:
    """One way to read the fork. crown: distance along the axis candidate; start: the drawn end there, if any.

    end: the drawn end at the axle, if any; line: the straight blade, if it is one; joints: gaps between touching
    runs; pieces: those of its first stroke that are fork, when head tube and fork share a line; points: 0 to 2.
    """

    kind: str
    crown: float
    points: float
    strokes: tuple[int, ...] = ()
    bents: tuple[int, ...] = ()
    start: Vec | None = None
    end: Vec | None = None
    line: Candidate | None = None
    joints: tuple[float, ...] = ()
    pieces: tuple[int, ...] = ()


class ForkLinks:
    """Ends of the strokes and bents about the front wheel, for walking from end to end."""

    def __init__(self, v: View) -> None:
        e = v.ends
        w = v.front[0]
        near = (
            (v.length >= LEAST_LINK)
            & (v.mid[:, 0] > LINK_X[0] * w)
            & (v.mid[:, 0] < LINK_X[1] * w)
            & (v.mid[:, 1] > LINK_Y[0])
        )
        near &= v.mid[:, 1] < LINK_Y[1]
        index = np.flatnonzero(near)
        allowed = index.tolist()
        if v.evidence.roles:
            allowed = [
                k for k in allowed if v.evidence.bonus("fork", v.curves_of((k,))) is not None
            ]
        tips = v.bent_ends.reshape(-1, 2, 2)
        around = (tips[..., 0] > LINK_X[0] * w) & (tips[..., 0] < LINK_X[1] * w)
        around &= (tips[..., 1] > LINK_Y[0]) & (tips[..., 1] < LINK_Y[1])
        bents = [
            k
            for k in np.flatnonzero(around.any(axis=1)).tolist()
            if v.evidence.bonus("fork", v.bents[k].owners) is not None
        ]
        straight = [("s", k) for k in allowed]
        self.names = straight + [("b", k) for k in bents]
        table = np.vstack((e[allowed].reshape(-1, 4), v.bent_ends[bents].reshape(-1, 4)))
        self.ends: Array = table.reshape(-1, 2, 2)
        self.stretches = _stretches(v, allowed)

    def touching(self, at: Vec, within: float) -> Iterator[tuple[int, int, float]]:
        """Link, which of its ends, and the distance, for every end near a point; nearest first."""
        if not len(self.ends):
            return
        apart = np.hypot(self.ends[..., 0] - at[0], self.ends[..., 1] - at[1])
        hits = np.argwhere(apart <= within)
        for link, side in sorted(hits.tolist(), key=lambda h: float(apart[h[0], h[1]])):
            yield link, side, float(apart[link, side])

    def end(self, link: int, side: int) -> Vec:
        x, y = self.ends[link, side].tolist()
        return (x, y)


def _stretches(v: View, strokes: Sequence[int]) -> tuple[list[int], Array]:
    """Single stretches of lines drawn in pieces, as a blade's edge that happens to run on in a steerer's: the stroke of
    each, and its ends."""
    owners = []
    ends = []
    for k in strokes:
        if len(v.strokes.pieces[k]) == 1:
            continue
        p, q = v.ends[k].reshape(2, 2)
        size = float(np.hypot(*(q - p)))
        for span in v.strokes.spans(k):
            a, b = (t * v.pose.scale for t in (span.start, span.end))
            if span.whole and LEAST_BLADE <= b - a < size - LESS_THAN_LINE:
                owners.append(k)
                ends.append((p + a / size * (q - p), p + b / size * (q - p)))
    return owners, np.array(ends, float).reshape(-1, 2, 2)


def forks(v: View, axis: Candidate, links: ForkLinks) -> list[Fork]:
    """Every reading of the fork for one steering axis (its p -> q runs upwards), best first."""
    foot = axis.along(v.front)
    window = (foot + LENGTH[0], foot + LENGTH[1])
    found = [
        *_paths(v, axis, links, window),
        *_straight(v, axis, window),
        *_edges(axis, links, window),
        *_on_axis(v, axis, links, window, foot),
    ]
    found += _legs(v, axis, window)
    straight = {frozenset(f.strokes) for f in found if f.kind == "tube"}
    found = [
        f for f in found if f.kind != "edges" or f.bents or frozenset(f.strokes) not in straight
    ]
    picked = v.evidence.named("fork")
    if picked:
        # what was named line by line is meant as a whole: the shoulder of a segmented fork and its blade
        held = [len(picked & set(_curves(v, f))) for f in found]
        found = [f for f, count in zip(found, held, strict=True) if count == max(held)]
    return sorted(found, key=lambda f: -f.points)


def _curves(v: View, fork: Fork) -> list[int]:
    bents = [i for k in fork.bents for i in v.bents[k].owners]
    if not fork.pieces:
        return [*v.curves_of(fork.strokes), *bents]
    # of a line shared with the head tube only the pieces that are fork
    pieces = [int(v.owner[k]) for k in fork.pieces]
    return [*pieces, *v.curves_of(fork.strokes[1:]), *bents]


def _legs(v: View, axis: Candidate, window: tuple[float, float]) -> Iterator[Fork]:
    """A fork whose legs stand beside the axis (a suspension fork): its crown is a line square across the axis."""
    ends = v.ends[v.fore].reshape(-1, 2, 2)
    length = v.length[v.fore]
    rel = ends - np.array(axis.p)
    side = axis.u[0] * rel[..., 1] - axis.u[1] * rel[..., 0]
    along = axis.u[0] * rel[..., 0] + axis.u[1] * rel[..., 1]
    lean = np.abs(side[:, 0] - side[:, 1])
    far = np.hypot(ends[..., 0] - v.front[0], ends[..., 1] - v.front[1]).min(axis=1)
    legs = (length >= LEAST_BLADE) & (lean <= LEG_LEANS * length) & (far <= LEG_END)
    legs &= np.abs(side).max(axis=1) <= LEG_BESIDE
    legs &= _side_by_side(side, along, legs)
    if legs.sum() < 2:
        return
    square = np.abs(along[:, 0] - along[:, 1]) <= ACROSS * length
    square &= (side.min(axis=1) <= -CROWN_HALF) & (side.max(axis=1) >= CROWN_HALF)
    square &= length <= CROWN_WIDE
    square &= np.abs(side.sum(axis=1)) <= CROWN_UNEVEN
    at = along.mean(axis=1)
    square &= (at >= window[0]) & (at <= window[1])
    strokes = tuple(v.fore[legs].tolist())[:MOST_LEGS]
    for crown in sorted(at[square].tolist())[:MOST_CROWNS]:
        yield Fork("legs", crown, LEGS - PER_HEIGHT * (crown - window[0]), strokes)


def _side_by_side(side: Array, along: Array, able: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Of the able lines those that run along another one, parallel to it: spokes end at one axle but run apart."""
    index = np.flatnonzero(able)
    low = along[index].min(axis=1)
    high = along[index].max(axis=1)
    slope = (side[index, 1] - side[index, 0]) / (along[index, 1] - along[index, 0])
    middle = side[index].mean(axis=1)
    shared = np.minimum(high[:, None], high) - np.maximum(low[:, None], low)
    pair = shared >= LEAST_BLADE
    pair &= np.abs(slope[:, None] - slope) <= PARALLEL
    pair &= np.abs(middle[:, None] - middle) >= LEG_WIDE
    out = np.zeros(len(able), bool)
    out[index] = pair.any(axis=1)
    return out


def _paths(
    v: View, axis: Candidate, links: ForkLinks, window: tuple[float, float]
) -> Iterator[Fork]:
    budget = [STEP_BUDGET]
    for link, side, miss in links.touching(v.front, AXLE_REACH):
        for route, joints in _routes(links, link, side, budget):
            fork = _path_fork(axis, links, route, joints, miss, window)
            if fork is not None:
                yield fork


def _routes(
    links: ForkLinks, link: int, side: int, budget: list[int]
) -> Iterator[tuple[list[tuple[int, int]], tuple[float, ...]]]:
    """Routes of touching links from the axle upwards: [(link, side it is entered at)], gaps between them."""
    stack: list[tuple[list[tuple[int, int]], tuple[float, ...]]] = [([(link, side)], ())]
    while stack and budget[0] > 0:
        budget[0] -= 1
        route, joints = stack.pop()
        yield route, joints
        if len(route) == PATH_LINKS:
            continue
        tip = links.end(route[-1][0], 1 - route[-1][1])
        used = {k for k, _ in route}
        for following, at, gap in links.touching(tip, TOUCH):
            if following not in used:
                stack.append(([*route, (following, at)], (*joints, gap)))


def _path_fork(
    axis: Candidate,
    links: ForkLinks,
    route: list[tuple[int, int]],
    joints: tuple[float, ...],
    miss: float,
    window: tuple[float, float],
) -> Fork | None:
    first = route[0]
    last = route[-1]
    start = links.end(last[0], 1 - last[1])
    end = links.end(*first)
    crown = axis.along(start)
    off = abs(axis.lateral(start))
    if not window[0] <= crown <= window[1] or off > OFF_AXIS:
        return None
    steps = [np.hypot(*(links.ends[k, 1] - links.ends[k, 0])) for k, _ in route]
    # dimension lines may lead from the axle to the head tube as well, by way of the bottom bracket
    if sum(steps) > ROUNDABOUT * np.hypot(end[0] - start[0], end[1] - start[1]):
        return None
    names = [links.names[k] for k, _ in route]
    strokes = tuple(k for kind, k in names if kind == "s")
    bents = tuple(k for kind, k in names if kind == "b")
    if len(route) == 1 and strokes:
        blade = Candidate(end, start, strokes)
    else:
        blade = None
    points = exactness(miss) + exactness(off) - PER_LINK * (len(route) - 1) - PER_GAP * sum(joints)
    return Fork("path", crown, points, strokes, bents, start, end, blade, joints)


def _straight(v: View, axis: Candidate, window: tuple[float, float]) -> Iterator[Fork]:
    """Centre-lines that overrun or stop short, and blades drawn as two straight edges."""
    lines = _blade_lines(v, axis)
    for line in lines + edge_pairs(v, lines, "fork"):
        at = crossing(axis, line)
        if at is None:
            continue
        crown = axis.along(at)
        if line.is_tube:
            top = cut_by(axis, tuple(e[1] for e in line.edges))
            if top is None:
                crown = crown
            else:
                crown = top
        if not window[0] <= crown <= window[1] or abs(axis.lateral(line.q)) > OVERSHOOT:
            continue
        to_axle = float(np.hypot(line.p[0] - v.front[0], line.p[1] - v.front[1]))
        if not line.is_tube and to_axle <= AXLE_REACH and line.length - line.along(at) < PAST:
            continue  # its ends are meant for axle and crown: a path
        reach = reaching(line.along(v.front)) * reaching(line.length - line.along(at))
        points = (
            exactness(line.lateral(v.front)) + STRAIGHT + (OUTLINED if line.is_tube else 0.0)
        ) * (MISSES_END + (1.0 - MISSES_END) * reach)
        yield Fork(
            "tube" if line.is_tube else "line",
            crown,
            points + line.bonus,
            line.strokes,
            (),
            None,
            None,
            line,
        )


def _blade_lines(v: View, axis: Candidate) -> list[Candidate]:
    """Straight lines from about the front axle up to about the axis, p at the axle."""
    lines = []
    e = v.ends[v.fore]
    length = v.length[v.fore]
    front = np.array(v.front)
    low = np.where((e[:, 1] <= e[:, 3])[:, None], e[:, :2], e[:, 2:])
    high = np.where((e[:, 1] <= e[:, 3])[:, None], e[:, 2:], e[:, :2])
    side = (high - low) / np.maximum(length, 1e-9)[:, None]
    passing = (
        np.abs(side[:, 0] * (front[1] - low[:, 1]) - side[:, 1] * (front[0] - low[:, 0])) <= PASSES
    )
    near = np.hypot(*(low - front).T) <= STARTS
    top = axis.u[0] * (high[:, 1] - axis.p[1]) - axis.u[1] * (high[:, 0] - axis.p[0])
    picked = np.flatnonzero(passing & near & (np.abs(top) <= ENDS) & (length >= LENGTH[0]))
    for n in picked[np.argsort(-length[picked])][:BLADE_LINES].tolist():
        k = int(v.fore[n])
        bonus = v.evidence.bonus("fork", v.curves_of((k,)))
        if bonus is not None:
            px, py = low[n].tolist()
            qx, qy = high[n].tolist()
            lines.append(Candidate((px, py), (qx, qy), (k,), bonus=bonus))
    return lines


def cut_by(axis: Candidate, ends: tuple[Vec, ...]) -> float | None:
    """Where the line between two edges' ends crosses the axis (distance along it); None when it does not."""
    (ax, ay), (bx, by) = ends
    a = axis.lateral((ax, ay))
    b = axis.lateral((bx, by))
    if a * b >= 0:
        return None
    share = a / (a - b)
    return axis.along((ax + share * (bx - ax), ay + share * (by - ay)))


def _edges(axis: Candidate, links: ForkLinks, window: tuple[float, float]) -> Iterator[Fork]:
    """Two blade edges, straight or curved, known by upper ends that lie symmetric about the axis."""
    tips: list[tuple[float, float, int, Vec, Vec]] = []
    owners, parts = links.stretches
    names = links.names + [("s", k) for k in owners]
    ends = np.concatenate((links.ends, parts))
    rel = ends - np.array(axis.p)
    along = axis.u[0] * rel[..., 0] + axis.u[1] * rel[..., 1]
    beside = np.abs(axis.u[0] * rel[..., 1] - axis.u[1] * rel[..., 0])
    # at thousands of links most are dropped together
    able = (along >= window[0]) & (along <= window[1]) & (beside <= EDGE_OFF[1])
    for link in np.flatnonzero(able.any(axis=1)).tolist():
        for side in (0, 1):
            tip: Vec = tuple(ends[link, side].tolist())
            other: Vec = tuple(ends[link, 1 - side].tolist())
            t = axis.along(tip)
            off = axis.lateral(tip)
            down = t - axis.along(other)
            if (
                window[0] <= t <= window[1]
                and EDGE_OFF[0] <= abs(off) <= EDGE_OFF[1]
                and down >= LEAST_BLADE
            ):
                tips.append((t, off, link, tip, (axis.lateral(other) - off, down)))
    for n, (t, off, link, tip, run) in enumerate(tips[:MOST_TIPS]):
        for s, off2, link2, tip2, run2 in tips[n + 1 : MOST_TIPS]:
            alike = abs(run[0] / run[1] - run2[0] / run2[1]) <= ALIKE
            level = abs(t - s) <= SAME_HEIGHT and abs(off + off2) <= LOPSIDED
            if off * off2 < 0 and level and alike:
                crown = cut_by(axis, (tip, tip2))
                if crown is not None and CROWN_SPREAD[0] <= abs(off - off2) <= CROWN_SPREAD[1]:
                    held = [names[k] for k in (link, link2)]
                    strokes = tuple(k for kind, k in held if kind == "s")
                    bents = tuple(k for kind, k in held if kind == "b")
                    points = EDGES_FIT * exactness((off + off2) / 2) + EDGES
                    yield Fork("edges", crown, points, strokes, bents)


def _on_axis(
    v: View, axis: Candidate, links: ForkLinks, window: tuple[float, float], foot: float
) -> Iterator[Fork]:
    """Stretches drawn on the steering axis itself, below the head tube, and what leads on from them to the axle."""
    rel = v.ends[v.fore].reshape(-1, 2, 2) - np.array(axis.p)
    off = np.abs(axis.u[0] * rel[..., 1] - axis.u[1] * rel[..., 0]).max(axis=1)
    picked = v.evidence.named("fork")
    long = v.length[v.fore] >= (LEAST_SHOULDER if picked else LEAST_STRETCH)
    for k in v.fore[(off <= ON_AXIS) & long][:MOST_STRETCHES].tolist():
        # a short stretch may be the shoulder of a segmented fork, on one line with the head tube: asked for by hand
        shoulders = [
            span
            for span in v.strokes.spans(k)
            if picked.issuperset(v.owner[list(span.pieces)].tolist())
        ]
        if not _may_be_fork(v, k) and not shoulders:
            continue
        base, tip = (axis.along((float(x), float(y))) for x, y in v.ends[k].reshape(2, 2))
        if tip > base:
            turn = 1.0
        else:
            turn = -1.0
        for span in v.strokes.spans(k):
            a, b = sorted(base + turn * v.pose.scale * t for t in (span.start, span.end))
            least = LEAST_SHOULDER if picked and span in shoulders else LEAST_STRETCH
            if not (window[0] <= b <= window[1] and b - a >= least and a >= foot - LEAST_STRETCH):
                continue
            onward = _onward(v, links, axis.at(a), k)
            if onward is not None:
                link, end, miss, gap = onward
                kind, index = links.names[link]
                yield Fork(
                    "path",
                    b,
                    exactness(miss) + exactness(0.0) - LEADS_ON - PER_GAP * gap,
                    (k, index) if kind == "s" else (k,),
                    (index,) if kind == "b" else (),
                    axis.at(b),
                    end,
                    None,
                    (gap,),
                    span.pieces,
                )
            else:
                points = AXIS_ALONE + AXIS_TO_FOOT * usual(
                    a, foot - LEAST_STRETCH, foot - AT_FOOT, foot + AT_FOOT, foot + RAKE
                )
                yield Fork(
                    "axis", b, points, (k,), start=axis.at(b), joints=(a,), pieces=span.pieces
                )


def _may_be_fork(v: View, stroke: int) -> bool:
    """A line on the axis that the user did not name as something else; what is named as the head tube may run on as
    the fork."""
    rest = [i for i in v.curves_of((stroke,)) if v.evidence.roles.get(i) != "head_tube"]
    if not rest:
        return not v.evidence.claimed("fork")
    return v.evidence.bonus("fork", rest) is not None


def _onward(v: View, links: ForkLinks, at: Vec, own: int) -> tuple[int, Vec, float, float] | None:
    """A link from the end of the stretch on the axis to the front axle: (link, its end there, miss, gap)."""
    for link, side, gap in links.touching(at, TOUCH):
        end = links.end(link, 1 - side)
        miss = float(np.hypot(end[0] - v.front[0], end[1] - v.front[1]))
        if links.names[link] != ("s", own) and miss <= AXLE_REACH:
            return link, end, miss, gap
    return None
