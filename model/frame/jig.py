"""What a builder sets on the jig and measures on the table, from the bottom bracket: points, angles, distances.

Plane figures are the side view's: x forward, y up, mm; angles in degrees. All are centre-lines and centres of joints.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import acos, atan2, degrees, hypot

import numpy as np

from ..tubes.plan import SHELL, present, role_of
from ..words import spoken
from .bicycle import Bicycle
from .frame_mitres import CutLength, cut_lengths, frame_mitres, square_lengths
from .layout import FrameLayout, Member, lay_out

# The points in the order in which a jig is set: the shell first, then what is clamped.
POINTS = (
    "rear_axle",
    "seat_tube_top_node",
    "seat_tube_seatstay_node",
    "seat_tube_top",
    "top_tube_head_node",
    "down_tube_head_node",
    "head_tube_top",
    "head_tube_bottom",
    "fork_crown",
    "front_axle",
)


@dataclass(frozen=True)
class Setting:
    """One point of the side view. height : over the ground; distance : straight from the bottom bracket's centre."""

    point: str
    x: float
    y: float
    distance: float
    height: float


@dataclass(frozen=True)
class Slope:
    """A tube's angle from the horizontal in the side view, 0 to 180 degrees, measured at the rear as the trade does;
    and how far it stands out of the plane of the frame, degrees."""

    tube: str
    angle: float
    splay: float


@dataclass(frozen=True)
class Meeting:
    """Two tubes at a joint: the angle between their axes in space and how far these pass one another, mm."""

    tube: str
    neighbour: str
    angle: float
    offset: float


@dataclass(frozen=True)
class OnTube:
    """Where a joint lies on a tube, mm along the tube from its named end."""

    tube: str
    measured_from: str
    joint: str
    distance: float


@dataclass(frozen=True)
class Width:
    """A width across the frame, mm."""

    place: str
    value: float


@dataclass(frozen=True)
class JigSheet:
    """Everything for the jig; of a pair the drive side stands for both."""

    settings: tuple[Setting, ...]
    slopes: tuple[Slope, ...]
    meetings: tuple[Meeting, ...]
    on_tubes: tuple[OnTube, ...]
    widths: tuple[Width, ...]
    cuts: tuple[CutLength, ...]
    square: tuple[tuple[str, float], ...]


def jig_sheet(bicycle: Bicycle, shell_diameter: float) -> JigSheet:
    """The settings of one frame. Raises ModelError where the bicycle does not place its tubes."""
    layout = lay_out(bicycle)
    mitres = frame_mitres(bicycle, shell_diameter)
    members = [m for m in layout.members if not m.name.endswith("_left")]
    meetings = tuple(
        Meeting(m.member, cut.neighbour, cut.acute, abs(cut.offset))
        for m in mitres
        if m.coverage and not m.member.endswith("_left")
        for cut in m.cuts
    )
    cuts = tuple(cut for cut in cut_lengths(mitres) if not cut.member.endswith("_left"))
    return JigSheet(
        tuple(_settings(bicycle, layout)),
        tuple(_slope(member) for member in members),
        meetings,
        tuple(_on_tubes(layout, members)),
        _widths(bicycle),
        cuts,
        tuple(square_lengths(bicycle).items()),
    )


def _settings(bicycle: Bicycle, layout: FrameLayout) -> Iterator[Setting]:
    ground = bicycle.dimensions.ground_y
    for name in POINTS:
        at = _middle(layout, name)
        if at is not None:
            x = float(at[0])
            y = float(at[1])
            yield Setting(name, x, y, hypot(x, y), y - ground)


def _middle(layout: FrameLayout, name: str) -> "np.ndarray | None":
    held = layout.joints.get(name)
    if held is None:
        return None
    return np.array(held)


def _slope(member: Member) -> Slope:
    start = np.array(member.path[0])
    along = np.array(member.path[-1]) - start
    if along[1] < 0:  # read upwards, as head and seat angle are
        along = -along
    flat = hypot(along[0], along[1])
    angle = degrees(atan2(along[1], -along[0]))
    return Slope(member.name, angle, degrees(atan2(abs(along[2]), flat)))
