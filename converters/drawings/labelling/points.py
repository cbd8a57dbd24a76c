"""What single members earn: how well one meets the nodes and the tubes that it belongs to, and how usual it is."""

from collections.abc import Set
from dataclasses import dataclass
from math import atan2, degrees, hypot

from ..linework.lines import Candidate, crossing
from ..linework.plane import Vec
from . import weights as w
from .score import LOOSE, NEVER_REACHED, exactness, reaching, usual


@dataclass(frozen=True, eq=False)
class StrokeSpan:
    """Stretch of the steering axis taken as the head tube, distances along the axis candidate, lower first."""

    low: float
    high: float
    whole: bool
    pieces: tuple[int, ...]


def edge_alone(seat: Candidate, axis: Candidate, edges: Set[int]) -> float:
    """Points against one edge of an outline as the seat tube's centre-line, beside a head tube in outline."""
    if not axis.is_tube or seat.is_tube or not set(seat.strokes) & edges:
        return 0.0
    return w.EDGE_ALONE


def lean(c: Candidate) -> float:
    """Degrees of a line from backwards, as seat and head angles are stated."""
    return 180.0 - degrees(atan2(c.u[1], c.u[0]))


def seat_points(c: Candidate, bb: Vec) -> float:
    angle = lean(c)
    return (
        w.SEAT_ON_BB * exactness(c.lateral(bb))
        + w.SEAT_REACHES * reaching(c.along(bb))
        + c.bonus
        + w.SEAT_LEANS * usual(angle, *w.SEAT_ANGLE)
    )


def down_points(c: Candidate, bb: Vec) -> float:
    if c.bents:
        off = hypot(c.p[0] - bb[0], c.p[1] - bb[1])
    else:
        off = abs(c.first.lateral(bb))
    if off >= LOOSE:
        return 0.0
    return w.DOWN_ON_BB * exactness(off) + w.DOWN_REACHES * reaching(c.first.along(bb)) + c.bonus


def chain_points(c: Candidate, bb: Vec) -> float:
    if c.bents:
        far = hypot(c.q[0] - bb[0], c.q[1] - bb[1])
        ends = w.STAY_END * (exactness(hypot(*c.p)) + exactness(far))
        if c.is_tube and far < w.SHELL_REACH:
            # its edges end at dropout and shell
            reached = reaching(hypot(*c.p)) + reaching(far)
            return max(ends, w.STAY_TUBE_END * reached) + w.BENT_STAY + c.bonus
        if far >= LOOSE:
            return 0.0
        return ends + w.BENT_STAY + c.bonus
    rear = c.first
    fore = c.last
    if abs(fore.lateral(bb)) >= LOOSE or fore.along(bb) - fore.length >= NEVER_REACHED:
        return 0.0
    ends = exactness(rear.lateral((0.0, 0.0))) + exactness(fore.lateral(bb))
    return (
        w.STAY_END * ends
        + w.CHAIN_REACHES
        * (reaching(rear.along((0.0, 0.0))) + reaching(fore.length - fore.along(bb)))
        + c.bonus
    )


def stay_points(c: Candidate, seat: Candidate) -> float:
    if not joins_high(c, seat):
        return 0.0
    if c.bents:
        rear = w.STAY_END * exactness(hypot(*c.p))
        if c.is_tube:  # its edges end at the dropout
            rear = max(rear, w.STAY_TUBE_END * reaching(hypot(*c.p)))
        return rear + w.BENT_STAY + w.STAY_MEETS * meeting(c, seat) + c.bonus
    low = c.first
    rear = w.STAY_END * exactness(low.lateral((0.0, 0.0))) + w.STAY_REACHES * reaching(
        low.along((0.0, 0.0))
    )
    return rear + w.STAY_MEETS * meeting(c, seat) + c.bonus


def meeting(c: Candidate, tube: Candidate) -> float:
    """How well c's far end meets another tube's line: lies on it, or would with its drawn gap or overrun."""
    off = abs(tube.lateral(c.q))
    if c.bents:
        return max(exactness(off), w.TUBE_END * reaching(off) if c.is_tube else 0.0)
    c = c.last
    at = crossing(c, tube)
    if at is None:
        return 0.0
    past = c.length - c.along(at)
    # a crossing so far beyond the other tube's ends is none
    if not -w.FAR_BEYOND <= tube.along(at) <= tube.length + w.FAR_BEYOND:
        return 0.0
    inside = usual(
        tube.along(at),
        -w.FAR_FROM_TUBE,
        -w.NEAR_TUBE,
        tube.length + w.NEAR_TUBE,
        tube.length + w.FAR_FROM_TUBE,
    )
    if c.is_tube:  # edges end at the other tube's edge, never beyond its middle
        fit = w.TUBE_END * reaching(past) * (1.0 if past <= w.PAST_MIDDLE else w.PAST_MIDDLE_LEFT)
    elif (
        w.A_SLIP < abs(past) < w.MOST_OVERRUN
    ):  # runs on past its node, or ends at the other tube's surface
        fit = w.OVERRUN * reaching(past)
    else:
        fit = w.ALONG * reaching(past) + (1.0 - w.ALONG) * exactness(off)
    return fit * (w.OFF_THE_TUBE + (1.0 - w.OFF_THE_TUBE) * inside)


def joins_high(c: Candidate, seat: Candidate) -> bool:
    at: tuple[float, float] | None
    if c.bents:
        at = c.q
    else:
        at = crossing(c.last, seat)
    return at is not None and seat.along(at) >= w.LEAST_JUNCTION


def top_points(t: Candidate, seat: Candidate, axis: Candidate) -> float:
    back = t.reversed()
    if not joins_high(back, seat):
        return 0.0
    return w.TOP_MEETS * meeting(back, seat) + w.TOP_MEETS * meeting(t, axis) + t.bonus


def junction_points(
    tube: Candidate | None, axis: Candidate, span: StrokeSpan, upper: bool
) -> float:
    """Points for a junction a usual distance inside the head tube's end."""
    if tube is None:
        return 0.0
    if tube.bents:
        at = axis.along(tube.q)
    else:
        at = None
    if at is None:
        meets = crossing(tube.last, axis)
        if meets is None:
            return 0.0
        at = axis.along(meets)
    if upper:
        inside = span.high - at
    else:
        inside = at - span.low
    return w.JOINS_INSIDE * usual(inside, *w.INSIDE)


def joins_outside(tube: Candidate | None, axis: Candidate, span: StrokeSpan) -> bool:
    """Whether a tube would meet the steering axis beyond the head tube's ends."""
    if tube is None:
        return False
    meets = tube.q if tube.bents else crossing(tube.last, axis)
    if meets is None:
        return False
    beyond = w.BEYOND_WALLS if axis.is_tube else w.BEYOND
    return not span.low - beyond <= axis.along(meets) <= span.high + beyond


def head_points(axis: Candidate, span: StrokeSpan, front: Vec) -> float:
    angle = lean(axis)
    offset = -axis.lateral(front)
    return (
        w.HEAD_LEANS * usual(angle, *w.HEAD_ANGLE)
        + w.HEAD_LONG * usual(span.high - span.low, *w.HEAD_LENGTH)
        + w.HEAD_OFFSET * usual(offset, *w.OFFSET)
        + (w.HEAD_WHOLE if span.whole else 0.0)
        + (w.HEAD_WIDE * usual(axis.diameter or 0.0, *w.HEAD_DIAMETER) if axis.is_tube else 0.0)
    )


def stack_points(stack: float) -> float:
    return w.STACKED * usual(stack, *w.STACK)
