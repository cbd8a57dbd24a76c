"""Room for heels and chain beside the tubes that run otherwise than a plain diamond's: raised, split and bent stays,
laterals, struts and racks.

A heel is a block behind the pedal's axle that goes round with it, the foot level; the chain two straight runs between
chainring and sprocket on one chainline. All sizes are common practice, no source.
"""

from collections.abc import Iterator

import numpy as np

from ..arrays import Array
from ..columns import points_of
from ..tubes.known_plans import DIAMOND
from ..tubes.plan import TubeRole
from .bicycle import Bicycle
from .centre_lines import off_piece
from .cutting import MemberPath
from .layout import FrameLayout, Member

HEEL_BEHIND = 200.0  # mm from the pedal's axle to the back of the heel
HEEL_LONG = 100.0  # mm of the shoe from there forwards that is as wide as a heel
HEEL_HIGH = 80.0  # mm from the pedal's axle up to the ankle
HEEL_HALF = 35.0  # mm from the pedal's middle to the inner side of the heel
HEEL_GAP = 10.0  # mm wanted
CHAIN_HALF = 4.5  # mm, half a chain's height, and about half its width
CHAIN_GAP = 3.0  # mm wanted; a chain swings
FAR = 30.0  # mm; what is farther off is not listed
STEPS = 400  # points along a tube
ROUND = 120  # places of the pedal


def beside_feet_and_chain(
    bicycle: Bicycle, layout: FrameLayout
) -> Iterator[tuple[str, float, float]]:
    """(between what, gap in mm, gap wanted) of every tube that runs otherwise than a diamond's and comes near."""
    members = {member.name: member for member in layout.members}
    for role in bicycle.roles:
        if role.name not in bicycle.tubes or role.in_fork or _as_on_a_diamond(role):
            continue
        # The right one of a pair is on the chain's side, and heels are alike on both.
        points, half = _along(bicycle, members[role.members[0]])
        if role.paired:
            yield from _near("heel", role, heel_gap(bicycle, layout, points, half), HEEL_GAP)
        yield from _near("chain", role, chain_gap(bicycle, layout, points, half), CHAIN_GAP)


def _near(
    what: str, role: TubeRole, gap: float, wanted: float
) -> Iterator[tuple[str, float, float]]:
    if gap < FAR:
        yield f"{what} to {role.label}", gap, wanted


def _as_on_a_diamond(role: TubeRole) -> bool:
    plain = DIAMOND.get(role.name)
    return plain is not None and (plain.ends, plain.bend) == (role.ends, role.bend)


def _along(bicycle: Bicycle, member: Member) -> tuple[Array, Array]:
    """Points of a tube's middle line and half its width there, mm."""
    path = MemberPath.of(member)
    along = np.linspace(0.0, path.length, STEPS)
    widths = bicycle.tubes[member.tube].widths(path.length, along)
    return points_of(path.at(along.tolist())), np.asarray(widths) / 2


def heel_gap(bicycle: Bicycle, layout: FrameLayout, points: Array, half: Array) -> float:
    """From the inner side of any rider's heel to a tube beside it, mm; infinite where no heel comes by."""
    fit = bicycle.fittings
    turn = np.linspace(0.0, 2 * np.pi, ROUND, endpoint=False)
    pedal = fit.crank_length * np.column_stack([np.cos(turn), np.sin(turn)])
    gaps = fit.pedal_offset - HEEL_HALF - np.abs(points[:, 2]) - half
    least = np.inf
    for rider in bicycle.plan.riders:
        bracket = np.array(layout.joints[rider.bracket])
        behind = points[:, None, :2] - bracket[:2] - pedal
        long = (behind[..., 0] >= -HEEL_BEHIND) & (behind[..., 0] <= HEEL_LONG - HEEL_BEHIND)
        high = (behind[..., 1] >= 0.0) & (behind[..., 1] <= HEEL_HIGH)
        passed = (long & high).any(axis=1)
        least = min(least, float(gaps[passed].min(initial=np.inf)))
    return least


def chain_gap(bicycle: Bicycle, layout: FrameLayout, points: Array, half: Array) -> float:
    """From either run of the chain that drives the wheel to a tube's surface, mm."""
    fit = bicycle.fittings
    bracket = np.array(layout.joints[bicycle.plan.riders[-1].bracket])
    axle = np.array(layout.joints["rear_axle"])
    least = np.inf
    for side in (1.0, -1.0):
        ring = bracket + np.array([0.0, side * fit.chainring_radius, fit.chainline])
        sprocket = axle + np.array([0.0, side * fit.sprocket_radius, fit.chainline])
        least = min(least, float((off_piece(points, ring, sprocket) - half).min()))
    return least - CHAIN_HALF
