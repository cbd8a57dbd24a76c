"""Room for those who ride behind somebody: knees, bars and reach, and the lengths a builder sets the frame up by.

The leg is two links, from the hip to the ankle, while the crank goes round. Its size follows from the saddle's height,
as nobody states a stature: inside leg = height of the saddle's top / 0.883 (a rule of the trade), thigh and shank 0.245
and 0.246 of the stature, which is the inside leg / 0.47 (body segments). All of it FROM MEMORY; other legs on that
saddle have their knees elsewhere, so no gap here is sure.
"""

from collections.abc import Iterator, Mapping
from itertools import pairwise
from math import hypot

import numpy as np

from ..arrays import Array
from ..geometry.dimensions import Point
from ..tubes.plan import Rider
from ..words import spoken
from .bicycle import Bicycle
from .centre_lines import off_piece
from .layout import joints_in_space

INSIDE_LEG = 0.883  # height of the saddle's top over it
STATURE = 0.47  # inside leg over it
# of the stature
THIGH = 0.245
SHANK = 0.246
# mm (common practice, no source, as all below)
SADDLE_TOP = 50.0  # above its clamp
HIP = (20.0, 80.0)  # the hip joint, ahead of and above the saddle clamp
ANKLE = (-110.0, 100.0)  # behind and above the pedal axle
KNEE = 60.0  # from the knee's joint to the front of the kneecap
SADDLE_BEHIND = 140.0  # the saddle's rear end behind its clamp
POST = 18.0  # half a seat tube
KNEE_ROOM = 30.0
HAND_ROOM = 30.0  # between a bar and the saddle in front
BAR = 16.0  # half a grip
LEAST_REACH = 450.0  # from a saddle to its rider's bar, level
STEPS = 180  # of a turn of the crank


def rooms_behind(bicycle: Bicycle) -> Iterator[tuple[str, float, float]]:
    """(words, gap, wanted), mm, of everybody who rides behind another."""
    if not bicycle.plan.followers:
        return
    joints = joints_in_space(bicycle)
    for fore, rider in pairwise(bicycle.plan.riders):
        names = (fore.bracket, fore.saddle, rider.saddle, f"{rider.bars}_right", rider.bracket)
        places = [joints[name] for name in names]
        if any(place is None for place in places):
            continue
        foot, ahead, saddle, bar, bracket = (
            np.array(place[:2]) for place in places if place is not None
        )
        knee = _knees(bicycle, saddle, bracket) + np.array((KNEE, 0.0))
        behind = ahead - np.array((SADDLE_BEHIND, 0.0))
        under_saddle = off_piece(knee, behind, ahead).min()
        gap = float(min(under_saddle, off_piece(knee, foot, ahead).min() - POST))
        yield f"{rider.name}'s knees to the {fore.name}'s saddle and seat tube", gap, KNEE_ROOM
        under = float(off_piece(bar, behind, ahead)) - BAR
        yield f"{rider.name}'s bars to the {fore.name}'s saddle", under, HAND_ROOM
        yield f"{rider.name}'s saddle to his bars, level", float(bar[0] - saddle[0]), LEAST_REACH


def _knees(bicycle: Bicycle, saddle: Array, bracket: Array) -> Array:
    """(STEPS, 2) where the knee's joint is while the crank goes round, mm; straight where the leg does not reach."""
    stature = (float(np.hypot(*(saddle - bracket))) + SADDLE_TOP) / INSIDE_LEG / STATURE
    thigh = THIGH * stature
    shank = SHANK * stature
    turn = np.linspace(0.0, 2 * np.pi, STEPS, endpoint=False)
    crank = bicycle.fittings.crank_length
    pedal = bracket + crank * np.column_stack([np.cos(turn), np.sin(turn)])
    hip = saddle + np.array(HIP)
    way = pedal + np.array(ANKLE) - hip
    far = np.hypot(*way.T)
    along = (far**2 + thigh**2 - shank**2) / (2 * far)
    out = np.sqrt(np.maximum(thigh**2 - along**2, 0.0))
    unit = way / far[:, None]
    # the knee bends forward: to the left of the way down
    forward = np.column_stack([-unit[:, 1], unit[:, 0]])
    knees: Array = hip + along[:, None] * unit + out[:, None] * forward
    return knees


def brackets(bicycle: Bicycle) -> tuple[Point, ...]:
    """The brackets of all who ride, from front to rear."""
    joints = joints_in_space(bicycle)
    placed = [joints[rider.bracket] for rider in bicycle.plan.riders]
    return tuple(Point(*at[:2]) for at in placed if at is not None)


def lengths_behind(bicycle: Bicycle) -> Mapping[str, float]:
    """Words -> mm: from bracket to bracket, and between the saddles of neighbours, level."""
    joints = joints_in_space(bicycle)
    found: dict[str, float] = {}
    for fore, rider in pairwise(bicycle.plan.riders):
        found |= _lengths(joints, fore, rider)
    return found


def _lengths(
    joints: Mapping[str, tuple[float, float, float] | None], fore: Rider, rider: Rider
) -> dict[str, float]:
    found = {}
    one = joints[fore.bracket]
    other = joints[rider.bracket]
    if one is not None and other is not None:
        apart = hypot(one[0] - other[0], one[1] - other[1])
        found[f"{spoken(rider.bracket)} to {spoken(fore.bracket)}"] = apart
    ahead = joints[fore.saddle]
    saddle = joints[rider.saddle]
    if ahead is not None and saddle is not None:
        found[f"{rider.name}'s saddle behind the {fore.name}'s, level"] = ahead[0] - saddle[0]
    return found
