"""A frame for several riders told from a single bicycle: seat tubes one behind the other, their feet joined by tubes.

All limits are in wheel radii, because the rough scale of a pose is taken from the wheelbase of a single bicycle.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from math import hypot

import numpy as np
from numpy.typing import NDArray

from ....model.arrays import Array
from ..linework.evidence import Evidence
from ..linework.lines import Candidate, crossing
from ..linework.pieces import Pieces
from ..linework.plane import Vec
from ..linework.pose import Site, find_sites, poses, wheel_pairs
from ..linework.rounds import Round
from ..linework.strokes import gather
from ..linework.view import View, view

LEAN = (93.0, 128.0)  # degrees of a seat tube upwards from forward
# a seat tube's and the joining tube's least length; a chainstay is some 1.3
LEAST_SEAT = 0.7
LEAST_BOOM = 1.5
FOOT = 0.16  # the joining tube's end to the seat tube's foot: both end at the shell where edges are drawn
AXLE_HEIGHT = 0.55  # a foot's height above or below the rear axle
OFF_AXLE = 0.25  # a foot nearer to an axle is a fork's or stay's
# degrees
LEVEL = 25.0
PARALLEL = 12.0
MOST = 60  # lines of each kind looked at, longest first
# wheelbase over the sum of the radii: least, and most of a single bicycle and for each who rides behind
WHEELS_APART = (1.6, 2.5, 1.1)
MOST_PAIRS = 12  # pairs of wheels tried, largest first
MOST_RIDERS = 6  # seat tubes looked for in a row
# edges of one tube
WIDE = (0.04, 0.16)
EDGES_ALIKE = 0.5  # of the longer edge that the shorter has at least
MIDDLE = 0.006  # a line so near the middle of two edges is their centre-line
SLANT = 0.03  # sine of the angle between lines of one tube
SHELL = 0.1  # a circle about a bracket lies so near where the lines cross


@dataclass(frozen=True, eq=False)
class Row:
    """The seat tubes of a frame for several riders in a drawing, from front to rear. brackets : where they stand; ups :
    unit vectors up them; seats : their curves; booms : those of the tube between each and the one behind it. rear,
    front : the axles. All in drawing units. mirrored : as of a `Pose`; radii : of rear and front wheel."""

    brackets: tuple[Vec, ...]
    ups: tuple[Vec, ...]
    seats: tuple[tuple[int, ...], ...]
    booms: tuple[tuple[int, ...], ...]
    rear: Vec
    front: Vec
    radii: tuple[float, float]
    mirrored: bool


@dataclass(frozen=True)
class RowNames:
    """What picks call the tubes looked for: seat tubes behind the first, and the tube in front of each."""

    seats: tuple[str, ...] = ()
    booms: tuple[str, ...] = ()


def find_row(
    rounds: Sequence[Round], pieces: Pieces, evidence: Evidence, named: RowNames
) -> Row | None:
    """The seat tubes of a drawing; None where no second one with its bracket is found."""
    least, single, each = WHEELS_APART
    apart = (least, single + each * len(named.seats))
    for pair in wheel_pairs(find_sites(rounds, evidence.unlikely), apart)[:MOST_PAIRS]:
        size = 1.0 / next(poses(pair))[2].scale
        strokes = gather(pieces, size)
        for rear, front, pose in poses(pair):
            v = view(pose, strokes, pieces, evidence, front.centre)
            links = seat_tubes(v, front, named)
            if links:
                return _row(v, rear, front, links, rounds)
    return None


def _row(v: View, rear: Site, front: Site, links: Sequence["Link"], rounds: Sequence[Round]) -> Row:
    radius = front.tyre.radius * v.pose.scale
    # of a seat tube between two others each link may have taken another edge: one stands for both
    strokes = [links[0].front, *(link.rear for link in links)]
    seats = [_middle(v, k, radius) for k in strokes]
    booms = [_middle(v, link.boom, radius) for link in links]
    circles = [v.pose.apply(r.centre) for r in rounds if r.radius < SHELL * front.tyre.radius]
    back = v.pose.back
    places = []
    ups = []
    for seat, boom in zip(seats, [booms[0], *booms], strict=True):
        at = crossing(seat, boom) or seat.p
        near = [c for c in circles if hypot(c[0] - at[0], c[1] - at[1]) <= SHELL * radius]
        places.append(back(min(near, key=lambda c: abs(seat.lateral(c)), default=at)))
        foot = back(seat.p)
        top = back(seat.q)
        long = hypot(top[0] - foot[0], top[1] - foot[1])
        ups.append(((top[0] - foot[0]) / long, (top[1] - foot[1]) / long))
    seat_curves = [tuple(v.curves_of(seat.strokes)) for seat in seats]
    boom_curves = [tuple(v.curves_of(boom.strokes)) for boom in booms]
    return Row(
        tuple(places),
        tuple(ups),
        tuple(seat_curves),
        tuple(boom_curves),
        rear.centre,
        front.centre,
        (rear.tyre.radius, front.tyre.radius),
        v.pose.mirrored,
    )


def _middle(v: View, stroke: int, radius: float) -> Candidate:
    """The centre-line of the tube that a stroke is an edge or the centre-line of, its lower or rear end first; its
    strokes are those of edges and centre-line."""
    line = _line(v, stroke)
    across = _lateral(v, line)
    lean = np.abs(across[:, 1] - across[:, 0]) / np.maximum(v.length, 1e-12)
    along = _along(v, line)
    beside = (lean <= SLANT) & (np.minimum(v.length, line.length) >= EDGES_ALIKE * line.length)
    beside &= (along.min(axis=1) < line.length) & (along.max(axis=1) > 0)
    off = across.mean(axis=1)
    beside &= np.abs(off) <= WIDE[1] * radius
    others = [k for k in np.flatnonzero(beside).tolist() if k != stroke]
    least = WIDE[0] * radius / 2
    for one, other in product(others, others):
        # edges to either side: the line itself is the centre-line
        if (
            off[one] <= -least < least <= off[other]
            and abs(off[one] + off[other]) <= 2 * MIDDLE * radius
        ):
            return Candidate(line.p, line.q, (stroke, one, other), diameter=off[other] - off[one])
    edges = [k for k in others if abs(off[k]) >= WIDE[0] * radius]
    if not edges:
        return line
    edges.sort(key=lambda k: float(np.abs(along[k] - np.sort((0.0, line.length))).sum()))
    # first one with a line in the middle: of a wide tube that line itself is far enough off to be taken as an edge
    for edge in edges:
        middle = [k for k in others if abs(off[k] - off[edge] / 2) <= MIDDLE * radius]
        if middle:
            drawn = _line(v, middle[0])
            return Candidate(drawn.p, drawn.q, (stroke, edge, middle[0]), diameter=abs(off[edge]))
    edge = edges[0]
    twin = _line(v, edge)
    p = ((line.p[0] + twin.p[0]) / 2, (line.p[1] + twin.p[1]) / 2)
    q = ((line.q[0] + twin.q[0]) / 2, (line.q[1] + twin.q[1]) / 2)
    return Candidate(
        p, q, (stroke, edge), diameter=abs(off[edge]), edges=((line.p, line.q), (twin.p, twin.q))
    )


def _line(v: View, stroke: int) -> Candidate:
    """Its lower end first, of one that is rather level its rear end."""
    x0, y0, x1, y1 = v.ends[stroke].tolist()
    steep = abs(y1 - y0) > abs(x1 - x0)
    if (y0 > y1) if steep else (x0 > x1):
        return Candidate((x1, y1), (x0, y0), (stroke,))
    return Candidate((x0, y0), (x1, y1), (stroke,))


def _lateral(v: View, line: Candidate) -> Array:
    rel = v.ends.reshape(-1, 2, 2) - np.array(line.p)
    across: Array = line.u[0] * rel[..., 1] - line.u[1] * rel[..., 0]
    return across


def _along(v: View, line: Candidate) -> Array:
    rel = v.ends.reshape(-1, 2, 2) - np.array(line.p)
    along: Array = np.sort(rel @ np.array(line.u), axis=1)
    return along


@dataclass(frozen=True)
class Link:
    """Strokes of two seat tubes and of the tube between their feet."""

    rear: int
    front: int
    boom: int


def seat_tubes(v: View, front: Site, named: RowNames = RowNames()) -> tuple[Link, ...]:
    """The longest row of seat tubes, from front to rear; none for a single bicycle."""
    links = list(_links(v, front, named))
    radius = front.tyre.radius * v.pose.scale
    longest: tuple[Link, ...] = ()
    for link in links:
        row = _extended((link,), links, v, radius)
        if len(row) > len(longest):
            longest = row
    return longest


def _extended(
    row: tuple[Link, ...], links: Sequence[Link], v: View, radius: float
) -> tuple[Link, ...]:
    """The row with what stands behind its last seat tube and before its first."""
    while len(row) < MOST_RIDERS:
        behind = [one for one in links if _same_foot(v, one.front, row[-1].rear, radius)]
        before = [one for one in links if _same_foot(v, one.rear, row[0].front, radius)]
        if behind:
            row = (*row, behind[0])
        elif before:
            row = (before[0], *row)
        else:
            break
    return row


def _same_foot(v: View, one: int, other: int, radius: float) -> bool:
    """Whether two strokes may be edges or centre-line of one seat tube."""
    first, second = (_line(v, k).p for k in (one, other))
    return hypot(first[0] - second[0], first[1] - second[1]) <= FOOT * radius


def _links(v: View, front: Site, named: RowNames) -> Iterator[Link]:
    """Every pair of neighbouring seat tubes, that of the longest joining tube first."""
    seats_picked = _picked(v, named.seats)
    booms_picked = _picked(v, named.booms)
    radius = front.tyre.radius * v.pose.scale
    low = np.where((v.ends[:, 1] <= v.ends[:, 3])[:, None], v.ends[:, :2], v.ends[:, 2:])
    high = v.ends[:, :2] + v.ends[:, 2:] - low
    angle = np.degrees(np.arctan2(high[:, 1] - low[:, 1], high[:, 0] - low[:, 0]))
    from_axle = np.minimum(np.hypot(*low.T), np.hypot(*(low - np.array(v.front)).T))
    seats = _longest(
        v,
        (angle >= LEAN[0])
        & (angle <= LEAN[1])
        & (v.length >= LEAST_SEAT * radius)
        & (from_axle >= OFF_AXLE * radius)
        & (np.abs(low[:, 1]) <= AXLE_HEIGHT * radius),
    )
    flat = np.minimum(angle, 180.0 - angle)
    booms = (flat <= LEVEL) & (v.length >= LEAST_BOOM * radius)
    for boom in _longest(v, booms_picked if booms_picked.any() else booms).tolist():
        ends = v.ends[boom].reshape(2, 2)
        back, fore = ends[np.argsort(ends[:, 0])]
        at_back = seats[np.hypot(*(low[seats] - back).T) <= FOOT * radius]
        if seats_picked.any():
            # what is picked is taken even where the two do not quite meet, if there is one only
            at_back = _longest(v, seats_picked)
            if len(named.seats) > 1:
                at_back = at_back[np.hypot(*(low[at_back] - back).T) <= FOOT * radius]
        at_fore = seats[np.hypot(*(low[seats] - fore).T) <= FOOT * radius]
        found = (
            Link(one, other, boom)
            for one, other in product(at_back.tolist(), at_fore.tolist())
            if abs(angle[one] - angle[other]) <= PARALLEL
        )
        first = next(found, None)
        if first is not None:
            yield first


def _picked(v: View, names: Sequence[str]) -> NDArray[np.bool_]:
    """The strokes that the user named so."""
    held = {i for name in names for i in v.evidence.named(name)}
    return np.array([not held.isdisjoint(v.curves_of((k,))) for k in range(len(v.ends))], bool)


def _longest(v: View, which: NDArray[np.bool_]) -> NDArray[np.int64]:
    index = np.flatnonzero(which)
    return index[np.argsort(-v.length[index])][:MOST]
