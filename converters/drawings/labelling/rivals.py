"""Two readings of one drawing: whether they differ, on which member, and the doubt that is told of them."""

from collections.abc import Sequence
from math import hypot

from ..linework.lines import Candidate
from ..linework.rounds import Round
from .doubt import (
    Doubt,
    member_doubt,
    taken_as,
)
from .search import Labelling, share

MARGIN = 0.9  # points; a different reading of the same bicycle nearer than this is a doubt to be settled by hand
# share of the best score at which a reading on other wheels is a second bicycle
OTHER_BICYCLE = 0.75
# mm; guesses of the bottom bracket nearer than this are settled by its witnesses later
SAME_SHELL = 12.0
LOWER_STACK = 35.0  # mm; a longer line below the head tube is a piece of it
AT_CROWN = 2.5  # mm between the lower headset's line and the crown
STEERER_THINNER = 2.0  # mm by which a steerer's outline is narrower than its head tube's, at least
DIFFERENT = 0.7  # mm; readings that agree within this are one
ALONG_TUBE = 0.01  # sine of the angle at which a line still runs along inside a tube
INSIDE_TUBE = 0.55  # tube diameters from its middle: its edges, and a little for their lines' width
THIN = 0.75  # share of a tube's diameter below which another outline within it is an edge with a centre-line
EDGE_OF_TUBE = 0.6  # tube diameters from its middle within which such an outline lies


def stack_below(head: Labelling, longer: Labelling) -> bool:
    """`longer` takes as head tube what `head` does and, below it, a short line that begins at the crown."""
    more = set(longer.span.pieces) - set(head.span.pieces)
    return (
        bool(more)
        and set(head.span.pieces) < set(longer.span.pieces)
        and head.fork is not None
        and head.span.high == longer.span.high
        and 0.0 < head.span.low - longer.span.low <= LOWER_STACK
        and abs(longer.span.low - head.fork.crown) <= AT_CROWN
    )


def concentric(a: Labelling, b: Labelling) -> bool:
    """Two outlines about one axis, as of a steerer in its head tube."""
    return (
        a.axis.is_tube
        and b.axis.is_tube
        and max(abs(a.axis.lateral(b.axis.p)), abs(a.axis.lateral(b.axis.q))) <= DIFFERENT
    )


def differs(a: Labelling, b: Labelling) -> bool:
    """Another bicycle, or the same one with another bottom bracket, seat tube, steering axis or head tube."""
    if a.rear is not b.rear or a.front is not b.front or a.view is not b.view:
        return True
    if not b.span.whole:
        return False  # a stretch between mere vertices of one polyline is no reading of its own
    seat_a = a.members["seat_tube"]
    seat_b = b.members["seat_tube"]
    assert seat_a is not None
    assert seat_b is not None
    if part_of(seat_b, seat_a) or part_of(b.axis, a.axis):
        return False  # one edge of the same tube
    if hypot(a.bb[0] - b.bb[0], a.bb[1] - b.bb[1]) > SAME_SHELL:
        return True
    if max(abs(seat_a.lateral(seat_b.p)), abs(seat_a.lateral(seat_b.q))) > DIFFERENT:
        return True
    if _inside(b.axis, a.axis):
        return False  # a steerer, or one of its lines with another's
    if max(abs(a.axis.lateral(b.axis.at(s))) for s in (b.span.low, b.span.high)) > DIFFERENT:
        return True
    if concentric(a, b) and (b.axis.diameter or 0.0) < (a.axis.diameter or 0.0) - STEERER_THINNER:
        return False  # a steerer inside the head tube
    if a.axis.is_tube and b.axis.is_tube:
        return False  # one axis: where the head tube ends on it is settled later, with everything drawn along it
    if a.axis.is_tube != b.axis.is_tube:
        return False  # one head tube as outline and as centre-line: the outline says where it ends
    if stack_below(a, b):
        return False  # with the lower headset's line
    if a.fork is not None and set(b.span.pieces) - set(a.span.pieces) <= set(a.fork.pieces):
        return False  # head tube and fork on one line: the fork's piece is fork
    low, high = (a.axis.along(b.axis.at(s)) for s in (b.span.low, b.span.high))
    within = low >= a.span.low - DIFFERENT and high <= a.span.high + DIFFERENT
    return not within  # pieces of the head tube are not another head tube


def _inside(line: Candidate, tube: Candidate) -> bool:
    """A line that runs along inside a tube's outline."""
    return (
        tube.is_tube
        and abs(tube.u[0] * line.u[1] - tube.u[1] * line.u[0]) <= ALONG_TUBE
        and max(abs(tube.lateral(line.p)), abs(tube.lateral(line.q)))
        <= INSIDE_TUBE * (tube.diameter or 0.0)
    )


def part_of(part: Candidate, tube: Candidate) -> bool:
    """An edge of a tube, or an edge and the centre-line of it, read as a tube of its own."""
    if not tube.is_tube or tube.diameter is None or part.strokes == tube.strokes:
        return False
    thin = part.is_tube and (part.diameter or 0.0) < THIN * tube.diameter
    if not thin and not set(part.strokes) & set(tube.strokes):
        return False
    return max(abs(tube.lateral(part.p)), abs(tube.lateral(part.q))) <= EDGE_OF_TUBE * tube.diameter


def second(best: Labelling, others: Sequence[Labelling], rounds: Sequence[Round]) -> Doubt | None:
    """A reading too close to the best: another bicycle, or the same one with other lines."""
    for other in sorted(others, key=lambda r: -r.score):
        same_wheels = {id(best.rear), id(best.front)} == {id(other.rear), id(other.front)}
        # the same frame with another circle as one of its wheels is no second bicycle
        if _one_bracket(best, other) and (best.rear is other.rear or best.front is other.front):
            same_wheels = True
        if not same_wheels and other.score >= OTHER_BICYCLE * best.score:
            return _two_bicycles(best, other)
        if same_wheels and other.score >= best.score - MARGIN:
            return _doubt(best, other, rounds)
    return None


def _one_bracket(a: Labelling, b: Labelling) -> bool:
    """Whether two readings have their bottom bracket at one place of the drawing."""
    p, q = (r.view.pose.back(r.bb) for r in (a, b))
    return hypot(p[0] - q[0], p[1] - q[1]) * a.view.pose.scale <= SAME_SHELL


def _two_bicycles(best: Labelling, other: Labelling) -> Doubt:
    ways = []
    for reading in (best, other):
        ways.append({w: taken_as(reading, w) for w in ("wheel_front", "wheel_rear")})
    return Doubt(
        "two bicycles can be read in this drawing, one with its bottom bracket at "
        f"{_place(best)}, one at {_place(other)} (scores {share(best):.0%} and {share(other):.0%})",
        "leave one in the file",
        tuple(ways),
    )


def _place(reading: Labelling) -> str:
    x, y = (round(value, 3) + 0.0 for value in reading.view.pose.back(reading.bb))
    return f"({x:.5g}, {y:.5g})"


def _doubt(best: Labelling, other: Labelling, rounds: Sequence[Round]) -> Doubt:
    """Names the member the two readings disagree on, with the curves to pick from."""
    member = disputed(best, other)[0]
    if member != "bb_shell":
        return member_doubt(member, best, other, (share(best), share(other)))
    near = SAME_SHELL / 4 / best.view.pose.scale
    circles = []
    for x, y in (best.view.pose.back(best.bb), other.view.pose.back(other.bb)):
        circles.append([r for r in rounds if hypot(r.centre[0] - x, r.centre[1] - y) <= near])
    return Doubt(
        f"two places of the bottom bracket are equally good: {_place(best)} and {_place(other)}",
        "delete the circle not meant"
        if all(circles)
        else "correct the lines that miss its circle"
        if any(circles)
        else "draw its circle",
        tuple({"bb_shell": held[0].curves} for held in circles if held),
    )


def disputed(best: Labelling, other: Labelling) -> tuple[str, Candidate, Candidate]:
    """The first member on which two readings differ, with the line that each takes for it."""
    seat_a = best.members["seat_tube"]
    seat_b = other.members["seat_tube"]
    assert seat_a is not None
    assert seat_b is not None
    if seat_a.strokes != seat_b.strokes:
        return "seat_tube", seat_a, seat_b
    if best.axis is not other.axis or best.span.pieces != other.span.pieces:
        return "head_tube", best.axis, other.axis
    return "bb_shell", best.axis, other.axis
