"""The bicycle sunk into its suspension fork: it turns as a whole about the rear axle until the front wheel stands.

The frame is stiff and the wheels keep their size, so all that changes are the angles, what is measured level or
upright, and the fork's length along the steering axis, which is shorter by the sag.
"""

from dataclasses import replace
from math import cos, degrees, radians, sin

from ..errors import ModelError
from .dimensions import FrameDimensions, Point

STEEPEST = 15.0  # degrees the bicycle turns at most, either way


def sunk(d: FrameDimensions, sag: float) -> FrameDimensions:
    """The dimensions with the fork `sag` mm shorter along the steering axis; below zero: longer.

    Raises
    ------
    ModelError
        When the fork would be left without length, or the bicycle does not come to stand.
    """
    if sag == 0:
        return d
    if sag >= d.fork_length - 100:
        raise ModelError(
            f"sag {sag:g} mm: the fork is {d.fork_length:.0f} mm long along the axis, so at most "
            f"{d.fork_length - 100:.0f} mm can be had; check both"
        )
    from scipy.optimize import brentq

    def too_high(turn: float) -> float:
        """How far the head tube's top lies above where the fork would have it, mm."""
        angle = radians(d.head_angle) + turn
        axle = _drop_turned(d, turn) - d.wheel_radius_rear + d.wheel_radius_front
        along = d.fork_length - sag + d.lower_stack + d.head_tube
        return _stack_turned(d, turn) - (axle - d.fork_offset * cos(angle) + along * sin(angle))

    low = radians(-STEEPEST)
    high = radians(STEEPEST)
    if too_high(low) * too_high(high) > 0:
        raise ModelError(
            f"sag {sag:g} mm turns the bicycle by more than {STEEPEST:g} degrees; check the sag"
        )
    return _turned(d, sag, float(brentq(too_high, low, high, xtol=1e-12)))


def _turned(d: FrameDimensions, sag: float, turn: float) -> FrameDimensions:
    """The frame turned about the rear axle by `turn` rad, nose down, on a fork shorter by the sag."""
    back = d.rear_axle
    reach = d.reach * cos(turn) + d.stack * sin(turn)
    x, y = d.rear_bracket
    bracket = Point(x * cos(turn) + y * sin(turn), y * cos(turn) - x * sin(turn))
    return replace(
        d,
        reach=reach,
        head_angle=d.head_angle + degrees(turn),
        seat_angle=d.seat_angle + degrees(turn),
        bb_drop=_drop_turned(d, turn),
        chainstay=back.distance(d.rear_bracket),
        fork_length=d.fork_length - sag,
        given=d.given._replace(rear_bracket=bracket),
    )


def _drop_turned(d: FrameDimensions, turn: float) -> float:
    back = d.rear_axle
    return back.y * cos(turn) - back.x * sin(turn)


def _stack_turned(d: FrameDimensions, turn: float) -> float:
    return d.stack * cos(turn) - d.reach * sin(turn)
