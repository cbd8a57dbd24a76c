"""Room for tyres and feet: what a tyre must not touch, worked out in space on the frame as it is laid out.

A tyre is a torus: rim line at R - w/2, section w (its width, where the sheet states it); without a width only the gaps
in the frame's middle plane are known. Stays and blades are straight or curved as `layout` runs them, round, without
the dimple or the crimp that many builders give them at the tyre. The least gap is asked for by ISO 4210-2 (6 mm
between tyre and frame, 100 mm from pedal axle to front tyre; both FROM MEMORY).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import cos, hypot, radians, sin

import numpy as np

from ..arrays import Array, Xyz
from ..columns import points_of
from ..decide import at_least
from ..errors import ModelError
from ..findings import Finding, Severity
from ..geometry.dimensions import FrameDimensions, Point
from ..tubes.plan import TubeRole, Wheel
from ..words import spoken
from .bicycle import Bicycle
from .centre_lines import off_piece
from .cutting import MemberPath
from .feet import beside_feet_and_chain
from .layout import Member, lay_out, side_paths
from .rider_room import rooms_behind

TYRE_GAP = 6.0  # mm, ISO 4210-2, from memory
TOE_GAP = 100.0  # mm, pedal axle to front tyre, ISO 4210-2, from memory; not asked where the foot is held to the pedal
STEERER_ROOM = 0.5  # mm all round (common practice, no source)
CROWN_ROOM = 15.0  # mm between tyre and crown race: a crown is some 15 to 30 mm high (common practice, no source)
WHEELS: tuple[Wheel, ...] = ("rear", "front")
STEPS = 400  # points along a tube, and positions of the turned wheel
TURNED = 60.0  # degrees of steering looked at for the toe


@dataclass(frozen=True)
class Clearance:
    """One gap, mm; negative where two things would be in one place.

    wanted : what it should at least be. sure : whether it is as laid out here, no bend or dimple making room. tight :
    what a gap is that is there but smaller than wanted: a warning, or a word where riders live with it.
    otherwise : what makes room where it is not sure.
    """

    name: str
    gap: float
    wanted: float
    sure: bool = True
    tight: Severity = "warning"
    otherwise: str = "spread or dimple the tubes, or state their spacing"

    @property
    def enough(self) -> bool:
        return at_least(self.gap, self.wanted)

    @property
    def finding(self) -> Finding | None:
        """An error where they surely touch, a warning where bending or spreading may still help or where it is tight
        (a word, where riders live with that); None where there is room."""
        if self.enough:
            return None
        collides = not at_least(self.gap, 0.0, self.wanted)
        if collides and self.sure:
            return Finding(
                "clearance-none",
                "error",
                f"{self.name}: there is no room, the two run {-self.gap:.1f} mm "
                "into one another; check the sizes and angles of both",
            )
        if collides:
            return Finding(
                "clearance-none",
                "warning",
                f"{self.name}: no room, {-self.gap:.1f} mm too little as laid out here; {self.otherwise}",
            )
        return Finding(
            "clearance-small",
            self.tight,
            f"{self.name}: {self.gap:.1f} mm, {self.wanted:g} mm are wanted; make room, or be sure that "
            "it will do",
        )


def clearances(bicycle: Bicycle) -> tuple[Clearance, ...]:
    """Every gap that the input fixes; those that need what it does not hold are left out."""
    return tuple(_gaps(bicycle))


def clearance_findings(bicycle: Bicycle) -> tuple[Finding, ...]:
    return tuple(found for one in clearances(bicycle) if (found := one.finding) is not None)


def _gaps(bicycle: Bicycle) -> Iterator[Clearance]:
    d = bicycle.dimensions
    for wheel in WHEELS:
        yield from _in_the_plane(bicycle, wheel)
    # Straight from the axle to the crown race, whatever the rake does in between.
    room = hypot(d.fork_length, d.fork_offset) - d.wheel_radius_front
    yield Clearance("front tyre to crown race", room, CROWN_ROOM)
    yield from _beside_the_tyres(bicycle)
    yield from _feet_and_chain(bicycle)
    for role in bicycle.roles:
        # Only a tube that turns inside another has a bore to fit.
        if role.inside and {role.name, role.inside} <= set(bicycle.tubes):
            yield _bore(bicycle, role)
    for words, gap, wanted in rooms_behind(bicycle):
        yield Clearance(
            words, gap, wanted, False, "info", "move saddle or bars, or the brackets apart"
        )
    # Small frames have it and are ridden: the foot meets the tyre only where one steers at walking pace.
    yield Clearance(
        "pedal axle to front tyre, steering turned",
        toe_gap(bicycle),
        TOE_GAP,
        sure=False,
        tight="info",
    )


def _wheel(bicycle: Bicycle, wheel: Wheel) -> tuple[Point, float, float | None]:
    """Axle, radius and tyre width, None where not known."""
    d = bicycle.dimensions
    front, rear = bicycle.tyre_widths
    if wheel == "rear":
        return d.rear_axle, d.wheel_radius_rear, rear
    return d.front_axle, d.wheel_radius_front, front


def _in_the_plane(bicycle: Bicycle, wheel: Wheel) -> Iterator[Clearance]:
    """Tubes of the middle plane before a tyre."""
    paths = side_paths(bicycle)
    axle, radius, _ = _wheel(bicycle, wheel)
    for role in bicycle.roles:
        path = paths[role.name]
        tube = bicycle.tubes.get(role.name)
        if role.paired or wheel not in role.tyres or path is None or tube is None:
            continue
        if not _in_plane(path):
            continue
        points = np.array(path)[:, :2]
        at = np.array(axle)
        gap = float(min(off_piece(at, a, b) for a, b in pairwise(points))) - radius
        # The wider end all along: rather too little room is told than too much.
        half = max(tube.od_start, tube.od_end) / 2
        yield Clearance(f"{wheel} tyre to {role.label}", gap - half, TYRE_GAP)


def _in_plane(path: Sequence[Xyz]) -> bool:
    """Whether a centre-line stays in the middle plane."""
    return all(abs(z) < 1e-6 for _, _, z in path)


def _bore(bicycle: Bicycle, role: TubeRole) -> Clearance:
    """Room all round a tube that turns inside another."""
    outer = bicycle.tubes[role.inside]
    inner = bicycle.tubes[role.name]
    # At its tightest: smaller end, thickest wall.
    bore = min(outer.od_start, outer.od_end) - 2 * max(outer.walls)
    gap = (bore - max(inner.od_start, inner.od_end)) / 2
    return Clearance(f"{role.label} in the {spoken(role.inside)}, all round", gap, STEERER_ROOM)


def _beside_the_tyres(bicycle: Bicycle) -> Iterator[Clearance]:
    """Pairs, and single tubes that leave the middle plane, beside tyres of known width.

    A stay that touches may still be dimpled, so that is not sure.
    """
    try:
        members = {member.name: member for member in lay_out(bicycle).members}
    # A frame that cannot be laid out has no stays in space; its middle plane is still known.
    except ModelError:
        return
    for wheel in WHEELS:
        axle, radius, width = _wheel(bicycle, wheel)
        for role in bicycle.roles:
            member = members[role.members[0]]
            if wheel not in role.tyres or width is None or role.name not in bicycle.tubes:
                continue
            if not role.paired and _in_plane(member.path):
                continue
            gap = _beside(bicycle, member, axle, radius, width)
            yield Clearance(f"{wheel} tyre to {role.label}", gap, TYRE_GAP, sure=False)


def _feet_and_chain(bicycle: Bicycle) -> Iterator[Clearance]:
    """Stays may be spread or bent, and a heel be held straighter, so nothing of it is sure."""
    try:
        layout = lay_out(bicycle)
    except ModelError:
        # as for the tyres
        return
    for name, gap, wanted in beside_feet_and_chain(bicycle, layout):
        yield Clearance(name, gap, wanted, sure=False)


def _beside(bicycle: Bicycle, member: Member, axle: Point, radius: float, width: float) -> float:
    """Least distance between a tube's surface and the tyre's, mm."""
    tube = bicycle.tubes[member.tube]
    path = MemberPath.of(member)
    along = np.linspace(0.0, path.length, STEPS)
    points = points_of(path.at(along.tolist()))
    half = tube.widths(path.length, along) / 2
    from_axle = np.hypot(points[:, 0] - axle.x, points[:, 1] - axle.y)
    # The tyre is a torus: from the line along the middle of its section.
    from_rim = from_axle - (radius - width / 2)
    gaps = np.hypot(from_rim, points[:, 2]) - width / 2 - half
    # Through the middle plane a tube passes outside the wheel, and not between its spokes.
    z = points[:, 2]
    crosses = np.flatnonzero(z[:-1] * z[1:] <= 0)
    through = from_axle[crosses] - radius - half[crosses]
    return float(np.concatenate([gaps, through]).min())


def toe_gap(bicycle: Bicycle) -> float:
    """From the axle of a pedal that stands level in front, straight forward to where the steered front tyre comes, mm.

    The tyre is taken as its outer circle, turned about the steering axis up to TURNED degrees; where it passes the
    pedal's distance from the middle, the rearmost place counts.
    """
    d = bicycle.dimensions
    f = bicycle.fittings
    rearmost = np.inf
    for points in _turned_wheels(d):
        beside = points[:, 2] - f.pedal_offset
        # Between these two points the tyre passes the pedal's distance from the middle.
        crossed = np.flatnonzero(beside[:-1] * beside[1:] <= 0)
        share = beside[crossed] / (beside[crossed] - beside[crossed + 1])
        x = points[crossed, 0] + share * (points[crossed + 1, 0] - points[crossed, 0])
        rearmost = min(rearmost, float(x.min(initial=np.inf)))
    if not np.isfinite(rearmost):
        # A wheel that never comes so far out is counted as it stands straight ahead.
        ahead = d.front_axle.x - d.wheel_radius_front
    else:
        ahead = rearmost
    return ahead - f.crank_length


def _turned_wheels(d: FrameDimensions) -> Iterator[Array]:
    """(k, 3) outer circle of the front tyre at every steering angle, to the pedal's side at the back."""
    h = radians(d.head_angle)
    round_ = np.linspace(0, 2 * np.pi, STEPS + 1)
    axis = np.array([-cos(h), sin(h), 0.0])
    foot = np.array([*d.fork_crown, 0.0])
    circle = (
        np.column_stack(
            [
                d.front_axle.x + d.wheel_radius_front * np.cos(round_),
                d.front_axle.y + d.wheel_radius_front * np.sin(round_),
                np.zeros(STEPS + 1),
            ]
        )
        - foot
    )
    # Rodrigues: what lies along the steering axis stays, the rest turns about it.
    along = np.outer(circle @ axis, axis)
    for turn in np.radians(np.linspace(0.0, TURNED, 61)):
        yield foot + along + np.cos(turn) * (circle - along) + np.sin(turn) * np.cross(axis, circle)
