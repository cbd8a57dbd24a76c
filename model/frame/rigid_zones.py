"""How far a tube lies inside the tubes it meets: the zones that are taken as rigid, or in which a joint's give lies."""

from collections.abc import Mapping

import numpy as np

from ..errors import ModelError
from ..tubes.plan import SHELL
from ..tubes.tube import size_at
from ..words import spoken
from .bicycle import Bicycle
from .cutting import (
    SHARED,
)
from .cutting import MeshOptions as MeshOptions  # its usual home
from .layout import FrameLayout, Member


def refuse_lost_joints(
    member: Member, length: float, stops: Mapping[str, float], start: float, end: float
) -> None:
    """A rigid zone must not swallow another joint of its tube, nor the whole tube."""
    if what := _swallowed(length, stops, start, end):
        raise ModelError(
            f"{spoken(member.name)}: rigid zones of {start:.0f} and {end:.0f} mm at its ends take in {what}; solve "
            "without rigid zones, or check the joint's place"
        )


def refuse_swallowed(
    member: Member, length: float, stops: Mapping[str, float], start: float, end: float
) -> None:
    """No other tube can end where a tube lies inside the one that it is joined to."""
    if what := _swallowed(length, stops, start, end):
        raise ModelError(
            f"{spoken(member.name)}: {start:.0f} mm of its start and {end:.0f} mm of its end lie inside the tubes "
            f"it is joined to, and that takes in {what}; check the places of its joints, or take this tube's joint "
            "as rigid"
        )


def _swallowed(length: float, stops: Mapping[str, float], start: float, end: float) -> str:
    """What lies within so much of a tube's start and end; nothing is an empty text."""
    if start + end >= length - 1.0:
        return "the whole tube"
    for joint, s in stops.items():
        if SHARED < s < start - SHARED or length - end + SHARED < s < length - SHARED:
            return f"the joint {joint.replace('_', ' ')}"
    return ""


def rigid_zone_lengths(
    layout: FrameLayout, bicycle: Bicycle, member: Member
) -> tuple[float, float]:
    """Length of a tube's start and end inside the tube it meets: r / sin(angle), mm; 0 where it meets none.

    r is half the neighbour's outside diameter at the joint, in the plane of the frame. A tube that runs through
    keeps its full length; the seatstays stand beside the seat tube, not in it; the dropouts and the fork crown,
    whose race is its top, add nothing.
    """
    role = bicycle.plan.role(member.tube)
    start = _zone(layout, bicycle, member, 0, role.mitred_start)
    end = _zone(layout, bicycle, member, -1, role.mitred_end)
    return start, end


def _zone(
    layout: FrameLayout, bicycle: Bicycle, member: Member, at: int, neighbours: tuple[str, ...]
) -> float:
    if not neighbours or bicycle.plan.role(member.tube).tied_to(at):
        return 0.0
    if neighbours[0] == SHELL:
        return bicycle.part("bb_shell").od / 2
    return _inside(layout, bicycle, member, at, neighbours[0])


def _inside(
    layout: FrameLayout, bicycle: Bicycle, member: Member, at: int, neighbour: str
) -> float:
    """How far one end (0 start, -1 end) of a tube lies inside the neighbour."""
    side = member.name.removeprefix(f"{member.tube}_")
    joint = np.array(member.path[at])
    other = layout.standing_at(neighbour, side, joint)
    # Beside the joint: the first piece of a curved tube tells how it runs into it.
    next_to = np.array(member.path[1 if at == 0 else -2])
    axis = next_to - joint
    first, last, run = other.piece_at(joint)
    line = last - first
    sine = np.linalg.norm(np.cross(axis, line)) / np.linalg.norm(axis) / np.linalg.norm(line)
    along = run + float(np.linalg.norm(joint - first))
    return float(size_at(bicycle.tubes[other.tube], other.length, along)[0] / 2 / sine)
