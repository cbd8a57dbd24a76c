"""What a builder sets on the jig and measures on the table, from the bottom bracket: points, angles, distances.

Plane figures are the side view's: x forward, y up, mm; angles in degrees. All are centre-lines and centres of joints;
of a pair the drive side stands for both.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import atan2, degrees, hypot

import numpy as np

from ..tubes.plan import SHELL
from ..words import spoken
from .bicycle import Bicycle
from .centre_lines import distance_along
from .frame_mitres import CutLength, cut_lengths, square_lengths
from .layout import FrameLayout, Member, lay_out
from .mitre import Mitre

# In the order in which a jig is set: the rear end, up the seat tube, down the head tube, out to the front.
POINTS = (
    "rear_axle",
    "seat_tube_top_tube_node",
    "seat_tube_seatstay_node",
    "seat_tube_top",
    "top_tube_head_node",
    "down_tube_head_node",
    "head_tube_top",
    "head_tube_bottom",
    "fork_crown",
    "front_axle",
)
OTHER_SIDE = "_left"


@dataclass(frozen=True)
class JigPoint:
    """One point of the side view. height : over the ground; distance : straight from the bottom bracket's centre."""

    point: str
    x: float
    y: float
    distance: float
    height: float


@dataclass(frozen=True)
class Slope:
    """How a tube lies, degrees: from the horizontal, 0 to 90; to which side it rises; out of the plane of the frame."""

    tube: str
    angle: float
    rises: str
    splay: float


@dataclass(frozen=True)
class Meeting:
    """Two tubes at a joint: the angle between their axes, degrees, and how far these pass one another, mm."""

    tube: str
    neighbour: str
    angle: float
    offset: float


@dataclass(frozen=True)
class OnTube:
    """Where a joint lies on a tube, mm along it from its lower end, which is named."""

    tube: str
    joint: str
    distance: float
    measured_from: str


@dataclass(frozen=True)
class JigSheet:
    """Everything for the jig. widths : place -> mm across the frame. square : tube -> mm, sawn without a mitre."""

    settings: tuple[JigPoint, ...]
    slopes: tuple[Slope, ...]
    meetings: tuple[Meeting, ...]
    on_tubes: tuple[OnTube, ...]
    widths: tuple[tuple[str, float], ...]
    cuts: tuple[CutLength, ...]
    square: tuple[tuple[str, float], ...]


def jig_sheet(bicycle: Bicycle, mitres: tuple[Mitre, ...]) -> JigSheet:
    """The settings of one frame with its mitres, those of `frame_mitres`.

    Raises
    ------
    ModelError
        When the bicycle does not place all its tubes.
    """
    layout = lay_out(bicycle)
    met = [m for m in mitres if m.coverage and not m.member.endswith(OTHER_SIDE)]
    meetings = [
        Meeting(mitre.member, cut.neighbour, cut.acute, abs(cut.offset))
        for mitre in met
        for cut in mitre.cuts
    ]
    members = [m for m in layout.members if not m.name.endswith(OTHER_SIDE)]
    cuts = [cut for cut in cut_lengths(mitres) if not cut.member.endswith(OTHER_SIDE)]
    return JigSheet(
        tuple(_settings(bicycle, layout)),
        tuple(_slope(member) for member in members),
        tuple(meetings),
        tuple(_on_tubes(layout, members)),
        tuple(_widths(bicycle, layout)),
        tuple(cuts),
        tuple(square_lengths(bicycle).items()),
    )


def _settings(bicycle: Bicycle, layout: FrameLayout) -> Iterator[JigPoint]:
    ground = bicycle.dimensions.ground_y
    for name in POINTS:
        if name in layout.joints:
            x, y, _ = layout.joints[name]
            yield JigPoint(name, x, y, hypot(x, y), y - ground)


def _slope(member: Member) -> Slope:
    along = np.array(member.path[-1]) - np.array(member.path[0])
    # Counted upwards, whichever way the tube's row runs.
    if along[1] < 0:
        along = -along
    # Level within rounding; otherwise a level tube would rise somewhere.
    if abs(along[1]) < 1e-9:
        rises = "level"
    elif along[0] > 0:
        rises = "forward"
    else:
        rises = "rearward"
    flat = hypot(along[0], along[1])
    if flat < 1e-6:
        # Straight across the frame it has no rise to speak of.
        along[1] = 0.0
    return Slope(
        member.name,
        degrees(atan2(along[1], abs(along[0]))),
        rises,
        degrees(atan2(abs(along[2]), flat)),
    )


def _on_tubes(layout: FrameLayout, members: list[Member]) -> Iterator[OnTube]:
    for member in members:
        low = member.start
        # A builder measures from the lower end, which is where the jig holds.
        if layout.joints[member.end][1] < layout.joints[member.start][1]:
            low = member.end
        path = member.path if low == member.start else member.path[::-1]
        for joint in member.joints:
            distance = distance_along(path, layout.joints[joint])
            yield OnTube(member.name, joint, distance, low)


def _widths(bicycle: Bicycle, layout: FrameLayout) -> Iterator[tuple[str, float]]:
    fittings = bicycle.fittings
    yield "rear dropouts, inside to inside", fittings.rear_hub_spacing
    yield "front dropouts, inside to inside", fittings.front_hub_spacing
    yield "bottom bracket shell", fittings.bb_shell_width
    for role in bicycle.roles:
        # Blades are set in the fork's own jig.
        if not role.paired or role.in_fork:
            continue
        where = "at their start"
        if role.mitred_start:
            where = f"at the {_short(role.mitred_start[0])}"
        apart = 2 * abs(layout.joints[role.joint(0, "right")][2])
        if apart:
            yield f"{role.label} {where}, centre to centre", apart


def _short(neighbour: str) -> str:
    return "shell" if neighbour == SHELL else spoken(neighbour)
