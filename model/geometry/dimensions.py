"""The side view of a frame as a sufficient set of dimensions, and every joint and derived number in it.

Axes: origin at the bottom bracket centre, x forward, y up. Lengths mm, angles degrees from the
horizontal measured at the rear. Directions used below: up the steering axis ``a = (-cos H, sin H)``,
forward across it ``n = (sin H, cos H)``; the front axle lies `fork_offset` along ``n`` from the axis.
"""

from dataclasses import dataclass, field, fields
from functools import cached_property
from math import atan2, tan
from typing import NamedTuple

from ..columns import cos, degrees, hypot, radians, sin, sqrt
from ..errors import ModelError
from .quantities import QUANTITIES, Quantity

_HIGHEST_HALF = 100.0  # mm


class Point(NamedTuple):
    """A point of the side view, mm."""

    x: float
    y: float

    def along(self, direction: tuple[float, float], distance: float) -> "Point":
        return Point(self.x + distance * direction[0], self.y + distance * direction[1])

    def distance(self, other: "Point") -> float:
        return hypot(self.x - other.x, self.y - other.y)


class Given(NamedTuple):
    """What a side view's numbers rest on that is no dimension of its own, mm: half the top tube's height at its middle,
    which a standover is counted to; the bottom bracket whose chain drives the wheel, from the first one; the arc that
    the top tube is bent to, sagitta and radius, one of them or neither, upwards above nought."""

    top_tube_half: float = 0.0
    rear_bracket: Point = Point(0.0, 0.0)
    top_tube_arc: tuple[float, float] = (0.0, 0.0)


NOTHING_GIVEN = Given()


class _Steered(NamedTuple):
    """The points on the steering axis, those of the tubes on the head tube, and the front axle."""

    front_axle: Point
    head_tube_top: Point
    head_tube_bottom: Point
    fork_crown: Point
    fork_offset_foot: Point
    top_tube_head_node: Point | None
    down_tube_head_node: Point | None


@dataclass(frozen=True)
class FrameDimensions:
    """A sufficient, contradiction-free set; everything else is derived.

    reach, bb_drop, chainstay, head_tube, lower_stack, fork_length (ALONG the steering axis, crown race to
    the foot of the perpendicular from the front axle), fork_offset, wheel radii (loaded, tyre outside): mm.
    head_angle, seat_angle: degrees. bb_drop is below the REAR axle. lower_stack: bottom of head tube to
    crown race. The last five place the tubes and are None where the input does not hold them:
    seat_tube (bottom bracket centre to seat tube top), top_tube_on_seat_tube (bottom bracket centre to the
    top tube's centre-line on the seat tube), top_tube_below_head_top and down_tube_above_head_bottom
    (along the head tube), seatstay_below_top_tube (along the seat tube).

    given holds what is no dimension of the centre-lines, and takes no part in comparing two frames. Its top_tube_half
    makes `standover` the height that the rider feels; at 0 it is the centre-line's. Its rear_bracket is the bracket
    that chainstays run from, which on a frame for several riders stands behind the origin; bb_drop is the first
    bracket's everywhere.
    """

    reach: float
    head_angle: float
    seat_angle: float
    bb_drop: float
    chainstay: float
    head_tube: float
    lower_stack: float
    fork_length: float
    fork_offset: float
    wheel_radius_front: float
    wheel_radius_rear: float
    seat_tube: float | None = None
    top_tube_on_seat_tube: float | None = None
    top_tube_below_head_top: float | None = None
    down_tube_above_head_bottom: float | None = None
    seatstay_below_top_tube: float | None = None
    given: Given = field(default=NOTHING_GIVEN, compare=False)

    def __post_init__(self) -> None:
        for one in fields(self):
            value = getattr(self, one.name)
            if not one.compare or (value is None and one.default is None):
                continue
            _believe(QUANTITIES[one.name], value)
        half = self.given.top_tube_half
        if not 0.0 <= half <= _HIGHEST_HALF:
            raise ModelError(
                f"half the top tube's height is {half:g} mm, expected 0 to {_HIGHEST_HALF:g} mm; check the tube's "
                "diameter and its unit"
            )
        drop = self.bb_drop - self.rear_bracket.y
        if self.chainstay <= abs(drop):
            # the rear axle lies at sqrt(chainstay^2 - drop^2) behind its bracket
            raise ModelError(
                f"chainstay length {self.chainstay:g} mm is not longer than the bottom bracket drop "
                f"{drop:g} mm; check both"
            )

    # --- directions -----------------------------------------------------------------------------------
    @cached_property
    def axis_up(self) -> tuple[float, float]:
        """Unit vector up the steering axis."""
        return (-cos(radians(self.head_angle)), sin(radians(self.head_angle)))

    @property
    def axis_forward(self) -> tuple[float, float]:
        """Unit vector forward, perpendicular to the steering axis."""
        return (sin(radians(self.head_angle)), cos(radians(self.head_angle)))

    @cached_property
    def seat_up(self) -> tuple[float, float]:
        """Unit vector up the seat tube."""
        return (-cos(radians(self.seat_angle)), sin(radians(self.seat_angle)))

    # --- points ---------------------------------------------------------------------------------------
    @property
    def bottom_bracket(self) -> Point:
        return Point(0.0, 0.0)

    @property
    def rear_bracket(self) -> Point:
        """The bracket that the chainstays run from."""
        return self.given.rear_bracket

    @property
    def rear_axle(self) -> Point:
        # the chainstay is measured straight, the drop is its vertical leg
        x, y = self.rear_bracket
        return Point(x - sqrt(self.chainstay**2 - (self.bb_drop - y) ** 2), self.bb_drop)

    @property
    def ground_y(self) -> float:
        return self.bb_drop - self.wheel_radius_rear

    @property
    def stack(self) -> float:
        """Height of the head tube top above the bottom bracket: axle height, offset and lengths up the axis."""
        h = radians(self.head_angle)
        # wheels of different size stand on one ground, so the front axle may lie higher or lower
        axle_y = self.ground_y + self.wheel_radius_front
        return (
            axle_y
            - self.fork_offset * cos(h)
            + (self.fork_length + self.lower_stack + self.head_tube) * sin(h)
        )

    @property
    def head_tube_top(self) -> Point:
        return Point(self.reach, self.stack)

    @property
    def head_tube_bottom(self) -> Point:
        return self._steered.head_tube_bottom

    @property
    def fork_crown(self) -> Point:
        """The crown race on the steering axis."""
        return self._steered.fork_crown

    @property
    def fork_offset_foot(self) -> Point:
        """Foot of the perpendicular from the front axle onto the steering axis."""
        return self._steered.fork_offset_foot

    @property
    def front_axle(self) -> Point:
        return self._steered.front_axle

    @cached_property
    def _steered(self) -> "_Steered":
        # All in one go from the top down: whoever lays a bicycle out needs every one of them.
        up = self.axis_up
        top = self.head_tube_top
        bottom = top.along(up, -self.head_tube)
        crown = bottom.along(up, -self.lower_stack)
        foot = crown.along(up, -self.fork_length)
        axle = foot.along(self.axis_forward, self.fork_offset)
        below = self.top_tube_below_head_top
        above = self.down_tube_above_head_bottom
        return _Steered(
            axle,
            top,
            bottom,
            crown,
            foot,
            None if below is None else top.along(up, -below),
            None if above is None else bottom.along(up, above),
        )

    @property
    def seat_tube_top(self) -> Point | None:
        if self.seat_tube is None:
            return None
        return self.bottom_bracket.along(self.seat_up, self.seat_tube)

    @property
    def seat_tube_top_tube_node(self) -> Point | None:
        at = self.top_tube_on_seat_tube
        if at is None:
            return None
        return self.bottom_bracket.along(self.seat_up, at)

    @property
    def seat_tube_seatstay_node(self) -> Point | None:
        at = self.top_tube_on_seat_tube
        below = self.seatstay_below_top_tube
        if at is None or below is None:
            return None
        return self.bottom_bracket.along(self.seat_up, at - below)

    @property
    def top_tube_head_node(self) -> Point | None:
        return self._steered.top_tube_head_node

    @property
    def down_tube_head_node(self) -> Point | None:
        return self._steered.down_tube_head_node

    # --- derived numbers --------------------------------------------------------------------------------
    @property
    def trail(self) -> float:
        """Ground trail with the loaded front wheel radius, mm."""
        return trail_of(self.head_angle, self.fork_offset, self.wheel_radius_front)

    def derived(self) -> dict[str, float | None]:
        """Every derived number the trade asks for, mm and degrees; None where the input does not hold it."""
        h = radians(self.head_angle)
        front = self.front_axle
        rear = self.rear_axle
        tt = self.seat_tube_top_tube_node
        head = self.top_tube_head_node
        dt = self.down_tube_head_node
        ss = self.seat_tube_seatstay_node
        if tt is None or head is None:
            slope = None
        else:
            slope = degrees(atan2(head.y - tt.y, head.x - tt.x))
        return {
            "stack": self.stack,
            "trail": self.trail,
            "mechanical_trail": self.trail * sin(h),
            # how far the head sinks in a small turn of the bar, per radian (common practice, no
            # source)
            "wheel_flop": self.trail * sin(h) * cos(h),
            "wheelbase": front.x - rear.x,
            "front_center": hypot(front.x, front.y),
            "front_center_horizontal": front.x,
            "chainstay_horizontal": self.rear_bracket.x - rear.x,
            "bb_height": -self.ground_y,
            "ground_y": self.ground_y,
            # level from the head tube's top to the seat tube's line, whether or not a tube lies
            # there
            "effective_top_tube": self.reach + self.stack / tan(radians(self.seat_angle)),
            "top_tube_slope_deg": slope,
            "top_tube_cc": None if tt is None or head is None else tt.distance(head),
            "down_tube_cc": None if dt is None else self.bottom_bracket.distance(dt),
            "seatstay_cc": None if ss is None else rear.distance(ss),
            "axle_to_crown_straight": hypot(self.fork_length, self.fork_offset),
            "fork_length_along_axis": self.fork_length,
            "standover": None
            if tt is None or head is None
            else _standover(tt, head, self.ground_y, self.given),
        }

    def points(self) -> dict[str, Point | None]:
        """Every named point of the side view."""
        steered = self._steered
        return {
            "bottom_bracket": self.bottom_bracket,
            "rear_axle": self.rear_axle,
            "front_axle": steered.front_axle,
            "head_tube_top": steered.head_tube_top,
            "head_tube_bottom": steered.head_tube_bottom,
            "fork_crown": steered.fork_crown,
            "fork_offset_foot": steered.fork_offset_foot,
            "seat_tube_top": self.seat_tube_top,
            "seat_tube_top_tube_node": self.seat_tube_top_tube_node,
            "seat_tube_seatstay_node": self.seat_tube_seatstay_node,
            "top_tube_head_node": steered.top_tube_head_node,
            "down_tube_head_node": steered.down_tube_head_node,
        }


def _believe(quantity: Quantity, value: float | None) -> None:
    if value is None:
        shown = "not stated"
    elif quantity.believes(value):
        return
    else:
        shown = f"{value:.6g}"
    raise ModelError(
        f"{quantity.label} is {shown}, {quantity.expected()}; check the value and its unit"
    )


def trail_of(head_angle: float, fork_offset: float, wheel_radius: float) -> float:
    """(R cos H - offset) / sin H, mm (Moore 2012, eq. Trail); also for angles no bicycle has."""
    h = radians(head_angle)
    return (wheel_radius * cos(h) - fork_offset) / sin(h)


def _standover(seat_node: Point, head_node: Point, ground_y: float, given: Given) -> float:
    """Height of the top tube's upper side above the ground at its middle (common practice, no source).

    Square to a sloping tube the upper side lies `half` from the centre-line, so straight up it is half / cos(slope). Of
    an arc it is where the plumb line through the middle of the chord meets the circle of the upper side.
    """
    half = given.top_tube_half
    run = head_node.x - seat_node.x
    length = seat_node.distance(head_node)
    middle = (seat_node.y + head_node.y) / 2 - ground_y
    # A tube that stands upright has no upper side.
    if not run:
        return middle
    level = abs(run) / length
    sagitta = _sagitta(given.top_tube_arc, length)
    if not sagitta:
        return middle + half / level
    radius = (length**2 + 4 * sagitta**2) / (8 * abs(sagitta))
    # The centre of the arc from its chord; bowed down it lies above, and the upper side is the inner one.
    centre = radius - abs(sagitta)
    if sagitta > 0:
        side = radius + half
    else:
        side = radius - half
    bow = sqrt(side**2 - centre**2 * (1 - level**2)) - centre * level
    if sagitta > 0:
        return middle + bow
    return middle - bow


def _sagitta(arc: tuple[float, float], chord: float) -> float:
    """Of an arc told by sagitta or radius; nought where it is straight, or the radius too small for the chord."""
    sagitta, radius = arc
    if sagitta or not radius or 2 * abs(radius) <= chord:
        return sagitta
    rise = abs(radius) - sqrt(radius**2 - chord**2 / 4)
    if radius > 0:
        return rise
    return -rise
