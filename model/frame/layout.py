"""From the side view to joints in space: stays splayed to the hub, blades to the front hub, bars and saddle.

Axes: origin at the bottom bracket centre, x forward, y up, z to the rider's right (the drive side); mm.
A JOINT is a named point. A MEMBER is one tube between joints, given by its centre-line path.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..arrays import Array, Xyz
from ..errors import ModelError
from ..geometry.dimensions import FrameDimensions, Point
from ..geometry.joints import joints_outside
from ..tubes.plan import Along, TubeRole, present, role_of
from ..words import spoken
from .bicycle import Bicycle, Fittings

SIDES = (("right", 1.0), ("left", -1.0))
CURVE_PIECES = 12  # straight pieces a curved blade or stay is divided into


@dataclass(frozen=True)
class Member:
    """One tube. `tube` names its entry in the tube table; `path` (k, 3) runs from `start` to `end`.

    `joints` are further joints on the centre-line, in the order they are met.
    """

    name: str
    tube: str
    start: str
    end: str
    path: tuple[Xyz, ...]
    joints: tuple[str, ...] = ()

    @property
    def length(self) -> float:
        """Centre-line length, mm."""
        return float(np.linalg.norm(np.diff(np.array(self.path), axis=0), axis=1).sum())


@dataclass(frozen=True)
class FrameLayout:
    """All joints in space and the tubes between them. Joints that fall on one point of a tube share a node:
    `same_as` maps the second name to the first."""

    joints: Mapping[str, Xyz]
    members: tuple[Member, ...]
    same_as: Mapping[str, str]

    def node(self, joint: str) -> str:
        """Name of the analysis node at a joint."""
        return self.same_as.get(joint, joint)


def joints_in_space(
    d: FrameDimensions, f: Fittings, tubes: Collection[str] = ()
) -> dict[str, Xyz | None]:
    """Every joint of a frame with these tubes; None where the dimensions do not hold it."""
    joints: dict[str, Xyz | None] = {name: _flat(point) for name, point in d.points().items()}
    stay_top = d.seat_tube_seatstay_node
    axle = d.rear_axle
    # the stem's height is measured along the steering axis, its reach is level
    stem = d.head_tube_top.along(d.axis_up, f.upper_stack)
    bar = stem.along((1.0, 0.0), f.stem_length)
    joints |= {
        "saddle": _flat(d.bottom_bracket.along(d.seat_up, f.saddle_height)),
        # where the bearings sit: the steerer turns in the head tube there and shares its places
        "steerer_upper": _flat(d.head_tube_top),
        "steerer_lower": _flat(d.head_tube_bottom),
        "stem_clamp": _flat(stem),
        "bar_centre": _flat(bar),
        "rear_contact": (axle.x, axle.y - d.wheel_radius_rear, 0.0),
        "front_contact": (d.front_axle.x, d.front_axle.y - d.wheel_radius_front, 0.0),
    }
    for side, sign in SIDES:
        joints |= {
            f"shell_{side}": (0.0, 0.0, sign * f.bb_shell_width / 2),
            f"chainstay_shell_{side}": (0.0, 0.0, sign * f.chainstay_spacing / 2),
            f"rear_dropout_{side}": _flat(axle, sign * f.rear_hub_spacing / 2),
            f"seatstay_top_{side}": _flat(stay_top, sign * f.seatstay_spacing / 2),
            f"crown_{side}": _flat(d.fork_crown, sign * f.blade_spacing / 2),
            f"front_dropout_{side}": _flat(d.front_axle, sign * f.front_hub_spacing / 2),
            f"bar_{side}": _flat(bar, sign * f.bar_width / 2),
        }
    for role in present(tubes):
        for place in role.ends:
            if isinstance(place, Along):
                joints |= _joints_along(role, place, joints)
    return joints


def _joints_along(
    role: TubeRole, place: Along, joints: Mapping[str, Xyz | None]
) -> dict[str, Xyz | None]:
    """The joint on the other tube's axis, and those beside it of a pair that stands aside."""
    host = role_of(place.tube)
    start = joints[host.joint(0)]
    end = joints[host.joint(1)]
    node = role.node_on(place)
    sides = [(f"{node}_{side}", sign) for side, sign in SIDES if place.aside]
    # Without both ends of its host there is no share of a way to go.
    if start is None or end is None:
        return dict.fromkeys((node, *(name for name, _ in sides)))
    # a share of the way, so that the joint stays on the tube when the frame is drawn anew
    x, y, z = (a + (b - a) * place.share for a, b in zip(start, end, strict=True))
    placed: dict[str, Xyz | None] = {node: (x, y, z)}
    for name, sign in sides:
        placed[name] = (x, y, z + sign * place.aside)
    return placed


def _flat(point: Point | None, z: float = 0.0) -> Xyz | None:
    if point is None:
        return None
    return (point.x, point.y, z)


def lay_out(bicycle: Bicycle) -> FrameLayout:
    """Joints and members of a bicycle.

    Raises
    ------
    ModelError
        When the dimensions do not place a tube, or put a joint beyond a tube's end; the message names the items.
    """
    # what is missing comes before what is beyond an end: it is the commoner slip
    joints = _complete(joints_in_space(bicycle.dimensions, bicycle.fittings, bicycle.tubes))
    # a tube that starts in the air would be meshed all the same
    if beyond := joints_outside(bicycle.dimensions):
        raise ModelError("; ".join(beyond))
    roles = present(bicycle.tubes)
    members = [
        _member(role, joints, bicycle, _met_on(role, roles)) for role in roles if not role.paired
    ]
    for side, _ in SIDES:
        members += [_member(role, joints, bicycle, (), side) for role in roles if role.paired]
    return FrameLayout(joints, tuple(members), _shared_nodes(joints, members))


def _complete(joints: Mapping[str, Xyz | None]) -> dict[str, Xyz]:
    missing = [name for name, xyz in joints.items() if xyz is None]
    if missing:
        words = ", ".join(spoken(name) for name in missing)
        raise ModelError(
            f"these points are not placed by the input: {words}; state the seat tube length, where the "
            "top tube and seatstays meet it and where top and down tube meet the head tube"
        )
    return {name: xyz for name, xyz in joints.items() if xyz is not None}


def _met_on(role: TubeRole, roles: Sequence[TubeRole]) -> tuple[str, ...]:
    """Joints between the tube's ends: its own, then those of tubes placed along it."""
    found = list(role.via)
    for other in roles:
        for place in other.ends:
            if isinstance(place, Along) and place.tube == role.name:
                found.append(other.node_on(place))
    return tuple(found)


def _member(
    role: TubeRole,
    joints: Mapping[str, Xyz],
    bicycle: Bicycle,
    via: tuple[str, ...],
    side: str = "",
) -> Member:
    start = role.joint(0, side)
    end = role.joint(1, side)
    # the mesh runs from end to end and needs its nodes in that order
    ordered = sorted(
        via, key=lambda joint: float(np.linalg.norm(np.subtract(joints[joint], joints[start])))
    )
    if role.shape == "bowed":
        path = _bowed(joints[start], joints[end], dict(SIDES)[side], bicycle.fittings.stay_curve)
    elif role.shape == "raked":
        up = np.array([*bicycle.dimensions.axis_up, 0.0])
        path = _raked(joints[start], joints[end], up, bicycle.fittings.blade_straight)
    else:
        path = (joints[start], joints[end])
    name = f"{role.name}_{side}" if side else role.name
    member = Member(name, role.name, start, end, path, tuple(ordered))
    _check_on_tube(member, joints)
    return member


def _check_on_tube(member: Member, joints: Mapping[str, Xyz]) -> None:
    """A joint must lie between the tube's ends, not beyond them."""
    start = np.array(member.path[0])
    end = np.array(member.path[-1])
    axis = (end - start) / member.length
    for joint in member.joints:
        at = float((np.array(joints[joint]) - start) @ axis)
        # a millionth of a mm of rounding is no joint beyond the end
        if not -1e-6 <= at <= member.length + 1e-6:
            tube = spoken(member.name)
            raise ModelError(
                f"{joint.replace('_', ' ')} lies {max(-at, at - member.length):.1f} mm beyond the end "
                f"of the {tube}, which is {member.length:.1f} mm long; check both"
            )


def _bowed(start: Xyz, end: Xyz, sign: float, sagitta: float) -> tuple[Xyz, ...]:
    """Straight, or bent outwards by `sagitta` in the middle, as a parabola."""
    if sagitta <= 0:
        return (start, end)
    t = np.linspace(0, 1, CURVE_PIECES + 1)[:, None]
    line = np.array(start) * (1 - t) + np.array(end) * t
    # 4 t (1 - t) is nought at both ends and one in the middle
    line[:, 2] += sign * 4 * sagitta * (t * (1 - t))[:, 0]
    return _tuples(line)


def _raked(start: Xyz, end: Xyz, axis_up: Array, straight: float) -> tuple[Xyz, ...]:
    """Straight from crown to axle, or parallel to the steering axis for `straight` mm and then a circular arc,
    tangent to it, that ends at the axle (the usual raked blade)."""
    if straight <= 0:
        return (start, end)
    top = np.array(start)
    tip = np.array(end)
    # The straight part runs down along the steering axis.
    plane = _arc_to(np.array([top[0], top[1]]), -axis_up[:2], np.array([tip[0], tip[1]]), straight)
    run = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(plane, axis=0), axis=1))])
    # the blades spread evenly along the run, as a bent tube lies between crown and dropout
    z = top[2] + (tip[2] - top[2]) * run / run[-1]
    return _tuples(np.column_stack([plane, z]))


def _arc_to(start: Array, direction: Array, end: Array, straight: float) -> Array:
    """(k, 2) points: `straight` along `direction`, then an arc tangent to it through `end`."""
    bend = start + straight * direction
    to_end = end - bend
    along = float(to_end @ direction)
    across = to_end - (to_end @ direction) * direction
    rise = float(np.linalg.norm(across))
    if along <= rise or rise < 1e-9:  # an arc of more than a quarter turn is not a fork blade
        raise ModelError(
            f"the straight part of the fork blade, {straight:g} mm, leaves no room for the curve; "
            "shorten it"
        )
    # circle through both points with the given tangent at the first (chord and sagitta)
    radius = (along**2 + rise**2) / (2 * rise)
    angle = 2 * np.arctan2(rise, along)
    turn = np.linspace(0, angle, CURVE_PIECES + 1)[:, None]
    arc = bend + radius * (np.sin(turn) * direction + (1 - np.cos(turn)) * across / rise)
    return np.vstack([start, arc])


def _tuples(points: Array) -> tuple[Xyz, ...]:
    return tuple((float(x), float(y), float(z)) for x, y, z in points)


def _shared_nodes(joints: Mapping[str, Xyz], members: list[Member]) -> dict[str, str]:
    """Joints of one tube that lie on one point: later name -> first name."""
    same: dict[str, str] = {}
    for member in members:
        names = (member.start, *member.joints, member.end)
        for k, name in enumerate(names):
            for earlier in names[:k]:
                if np.linalg.norm(np.subtract(joints[name], joints[earlier])) < 1e-6:
                    # to the first of them all: a chain of names would leave two nodes at one point
                    same.setdefault(name, same.get(earlier, earlier))
                    break
    return same
