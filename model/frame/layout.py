"""From the side view to joints in space: stays splayed to the hub, blades to the front hub, bars and saddle.

Axes: origin at the bottom bracket centre, x forward, y up, z to the rider's right (the drive side); mm.
A JOINT is a named point. A MEMBER is one tube between joints, given by its centre-line path.
"""

import itertools
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..arrays import Array, Xyz, run_of
from ..columns import dist, of_all, one_of, points_of, tuples_of
from ..errors import ModelError
from ..geometry.dimensions import Point
from ..geometry.joints import joints_outside
from ..tubes.bends import bent_path
from ..tubes.known_plans import DIAMOND
from ..tubes.places import EACH, Along, Amount, AtJoint, Between, Free, Place, sized
from ..tubes.plan import FramePlan, TubeRole
from ..words import spoken
from .bicycle import Bicycle
from .centre_lines import (
    bowed,
    distance_along,
    meeting,
    off_piece,
    point_at,
    raked,
    signed_distance,
)

SIDES = (("right", 1.0), ("left", -1.0))
LEAST_LENGTH = 1.0  # mm; what is shorter is no tube


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

    @cached_property
    def length(self) -> float:
        """Centre-line length, mm."""
        return sum(dist(a, b) for a, b in itertools.pairwise(self.path))

    @property
    def bent(self) -> bool:
        """Whether the centre-line is more than one straight piece."""
        return len(self.path) > 2

    def tangent(self, end: int) -> Array:
        """Unit vector away from the start (0) or the end (-1), along the tube there."""
        path = np.array(self.path if end == 0 else self.path[::-1])
        one = path[1] - path[0]
        if not self.bent:
            return np.asarray(one / np.linalg.norm(one))
        two = path[2] - path[1]
        lengths = np.linalg.norm([one, two], axis=1)
        # A chord points along the tube at its own middle: from two chords on to the end, exact for an arc.
        slope = (two / lengths[1] - one / lengths[0]) / (lengths.sum() / 2)
        tangent = one / lengths[0] - slope * lengths[0] / 2
        return np.asarray(tangent / np.linalg.norm(tangent))

    def distance_from(self, point: Array) -> float:
        """How far a point lies from the centre-line, mm."""
        start, end, _ = self.piece_at(point)
        return float(off_piece(point, start, end))

    def piece_at(self, point: Array) -> tuple[Array, Array, float]:
        """(start, end, distance of its start along the tube) of the straight piece nearest to a point: of a straight
        tube all of it."""
        path = np.array(self.path)
        pieces = np.diff(path, axis=0)
        shares = np.einsum("ij,ij->i", point - path[:-1], pieces) / (pieces**2).sum(axis=1)
        off = path[:-1] + np.clip(shares, 0, 1)[:, None] * pieces - point
        k = int(np.linalg.norm(off, axis=1).argmin())
        return path[k], path[k + 1], float(run_of(path)[k])


@dataclass(frozen=True)
class FrameLayout:
    """All joints in space and the tubes between them. Joints that fall on one point of a tube share a node:
    `same_as` maps the second name to the first. plan : the one it was laid out by."""

    joints: Mapping[str, Xyz]
    members: tuple[Member, ...]
    same_as: Mapping[str, str]
    plan: FramePlan = DIAMOND

    def node(self, joint: str) -> str:
        """Name of the analysis node at a joint."""
        return self.same_as.get(joint, joint)

    def standing_at(self, tube: str, side: str, joint: Array) -> Member:
        """The tube, or the one of a pair, that passes a joint; between both, that of the side.

        A tube of the builder's own may stand on the right one of a pair only, whatever its own side.
        """

        def order(member: Member) -> tuple[float, bool]:
            off = member.distance_from(joint)
            return round(off, 6), member.name != f"{tube}_{side}"

        return min((member for member in self.members if member.tube == tube), key=order)


def joints_in_space(bicycle: Bicycle) -> dict[str, Xyz | None]:
    """Every joint of a bicycle; None where the dimensions do not hold it."""
    return _Placing(bicycle).joints()


def _named_joints(bicycle: Bicycle, points: Mapping[str, Point | None]) -> dict[str, Xyz | None]:
    """The joints that dimensions and fittings place by themselves. points : those of the dimensions."""
    d = bicycle.dimensions
    f = bicycle.fittings
    top = d.head_tube_top
    axle = d.rear_axle
    front = points["front_axle"]
    # the stem's height is measured along the steering axis, its reach is level
    stem = top.along(d.axis_up, f.upper_stack)
    bar = stem.along((1.0, 0.0), f.stem_length)
    joints: dict[str, Xyz | None] = {
        "saddle": _flat(d.bottom_bracket.along(d.seat_up, f.saddle_height)),
        # where the bearings sit: the steerer turns in the head tube there and shares its places
        "steerer_upper": _flat(top),
        "steerer_lower": _flat(points["head_tube_bottom"]),
        "stem_clamp": _flat(stem),
        "bar_centre": _flat(bar),
        "rear_contact": (axle.x, axle.y - d.wheel_radius_rear, 0.0),
        "front_contact": _flat(front and front.along((0.0, -1.0), d.wheel_radius_front)),
    }
    for side, sign in SIDES:
        joints |= {
            f"shell_{side}": (0.0, 0.0, sign * f.bb_shell_width / 2),
            f"chainstay_shell_{side}": (0.0, 0.0, sign * f.chainstay_spacing / 2),
            f"rear_dropout_{side}": _flat(axle, sign * f.rear_hub_spacing / 2),
            f"seatstay_top_{side}": None,  # beside the seatstays' joint, wherever the plan places that
            f"crown_{side}": _flat(points["fork_crown"], sign * f.blade_spacing / 2),
            f"front_dropout_{side}": _flat(front, sign * f.front_hub_spacing / 2),
            f"bar_{side}": _flat(bar, sign * f.bar_width / 2),
        }
    return joints


class _Placing:
    """Joints and centre-lines of one bicycle, each worked out when something asks for it."""

    def __init__(self, bicycle: Bicycle) -> None:
        self.bicycle = bicycle
        self.sizes = bicycle.placed
        points = bicycle.dimensions.points()
        self.known: dict[str, Xyz | None] = {name: _flat(point) for name, point in points.items()}
        self.paths: dict[str, tuple[Xyz, ...] | None] = {}
        self.open: list[str] = []  # what is being worked out, to notice a ring
        self.placed: dict[str, tuple[Place, str]] = {}
        named = _named_joints(bicycle, points)
        # In a fixed order: those of the dimensions, those of the fittings, those of the plan.
        self.order = dict.fromkeys((*self.known, *named))
        self._list("seatstay_top", Free("seat_tube_seatstay_node", apart="seatstay_spacing"))
        self.placed.pop("seatstay_top", None)
        for joint, place in bicycle.plan.joints:
            self._list(joint, place)
        # What the plan places itself is not taken from dimensions and fittings.
        given = {**self.known, **named}
        self.known = {name: xyz for name, xyz in given.items() if name not in self.placed}
        for role in bicycle.roles:
            for end, place in enumerate(role.ends):
                if not isinstance(place, AtJoint):
                    self._list(role.node_on(end), place)

    def _list(self, joint: str, place: Place) -> None:
        """Where to look for a joint; a place apart has its middle and both sides, one on a pair both sides."""
        on_pair = isinstance(place, Along) and place.side == EACH
        if not on_pair:
            self.placed[joint] = (place, "")
        if place.pair:
            for side, _ in SIDES:
                self.placed[f"{joint}_{side}"] = (place, side)

    def joints(self) -> dict[str, Xyz | None]:
        """Every joint."""
        return {name: self.joint(name) for name in (self.order | dict.fromkeys(self.placed))}

    def joint(self, name: str) -> Xyz | None:
        """Where a joint is; None where the dimensions do not say. Raises ModelError for one that nobody places."""
        if name not in self.known:
            if name not in self.placed:
                raise ModelError(self._no_joint(name))
            if name in self.open:
                ring = ", ".join(spoken(one) for one in self.open[self.open.index(name) :])
                raise ModelError(
                    f"these places depend on one another: {ring}; place one of them by a joint"
                )
            self.open.append(name)
            place, side = self.placed[name]
            self.known[name] = self._at(place, side)
            self.open.pop()
        return self.known[name]

    def _no_joint(self, name: str) -> str:
        """What to say of a joint that nobody places: who asks for it, and what there is."""
        plan = self.bicycle.plan
        asking = [role.label for role in self.bicycle.roles if name in role.named_joints]
        who = f"the {asking[0]}: " if asking else ""
        known = ", ".join(self.order | dict.fromkeys(self.placed)).replace("_", " ")
        return (
            f"{who}there is no joint called '{name.replace('_', ' ')}' in plan {plan.name}; a place on a tube is a "
            "share or mm, such as 'seat tube 0.45' or 'down tube 180 mm', and joints are: "
            f"{known}"
        )

    def size(self, amount: Amount) -> float:
        """A number of a place in mm, or as a share. Raises ModelError for an item that nobody knows."""
        try:
            return sized(amount, self.sizes)
        except KeyError as error:
            known = ", ".join(f"{{{item}}}" for item in self.sizes)
            raise ModelError(
                f"'{{{error.args[0]}}}' is no size that places a tube in plan {self.bicycle.plan.name}; "
                f"write a number in mm, or one of: {known}"
            ) from None

    def _at(self, place: Place, side: str) -> Xyz | None:
        if isinstance(place, AtJoint):
            return self.joint(place.name.format(side=side))
        found = self._middle(place, side)
        off = dict(SIDES).get(side, 0.0) * self.size(place.apart) / 2
        if found is None or not off:
            return found
        x, y, z = found
        return (x, y, z + off)

    def _middle(self, place: Along | Between | Free, side: str) -> Xyz | None:
        """The place without its distance apart."""
        if isinstance(place, Free):
            base = self.joint(place.joint)
            if base is None:
                return None
            return (base[0] + self.size(place.x), base[1] + self.size(place.y), base[2])
        if isinstance(place, Between):
            start = self.joint(place.first)
            end = self.joint(place.second)
            if start is None or end is None:
                return None
            if dist(start, end) < LEAST_LENGTH:
                raise ModelError(
                    f"'{place.words.replace('_', ' ')}': the two are one place, and nothing lies between; name two "
                    "joints that stand apart"
                )
            return self._on((start, end), place)
        path = self.path(place.host.format(side=side))
        if path is None:
            return None
        if place.crossing:
            return self._crossing(place, path, side)
        return self._on(path, place)

    def _on(self, path: Sequence[Xyz], place: Along | Between) -> Xyz:
        """A point along a centre-line. Before the start and beyond the end it goes on straight."""
        s = self.size(place.at)
        points = points_of(path)
        run = run_of(points)
        length = one_of(run[..., -1])
        # a share of the way, so that the joint stays on the tube when the frame is drawn anew
        if place.unit == "share":
            s *= length
        if place.from_end:
            s = length - s
        return tuples_of(point_at(points, run, of_all(s)[..., None]))[0]

    def _crossing(self, place: Along, path: Sequence[Xyz], side: str) -> Xyz | None:
        """Where the tube passes another in the side view."""
        role = self.bicycle.plan.role(place.crossing)
        other = self.path(role.members[0])
        if other is None:
            return None
        found = meeting(path, other)
        if found is None:
            raise ModelError(
                f"the {spoken(place.tube)} does not pass the {spoken(place.crossing)} in the side view; check where "
                "both begin and end"
            )
        k, share = found
        x, y, z = (a + (b - a) * share for a, b in zip(path[k], path[k + 1], strict=True))
        return (x, y, z)

    def path(self, member: str) -> tuple[Xyz, ...] | None:
        """The centre-line of a member; None where one of its ends is not placed."""
        if member not in self.paths:
            role, side = self._role_and_side(member)
            start = self.joint(role.joint(0, side))
            end = self.joint(role.joint(1, side))
            if start is None or end is None:
                self.paths[member] = None
            elif dist(start, end) < LEAST_LENGTH:
                raise ModelError(
                    f"the {spoken(member)} starts and ends at one place, {start[0]:.1f} mm forward and {start[1]:.1f} "
                    "mm up from the bottom bracket, so it has no length; move one of its ends"
                )
            else:
                self.paths[member] = self._run_between(role, side, start, end)
        return self.paths[member]

    def _role_and_side(self, member: str) -> tuple[TubeRole, str]:
        plan = self.bicycle.plan
        if plan.get(member) is not None:
            return plan.role(member), ""
        tube, _, side = member.rpartition("_")
        return plan.role(tube), side

    def _run_between(self, role: TubeRole, side: str, start: Xyz, end: Xyz) -> tuple[Xyz, ...]:
        fittings = self.bicycle.fittings
        sign = dict(SIDES).get(side, 1.0)
        if role.bend is not None:
            try:
                return bent_path(role.bend, start, end, sign, self.size)
            except ModelError as error:
                raise ModelError(f"{role.label}: {error}") from error
        if role.shape == "bowed":
            return bowed(start, end, sign, fittings.stay_curve)
        if role.shape == "raked":
            up = self.bicycle.dimensions.axis_up
            return raked(start, end, up, fittings.blade_straight)
        return (start, end)


def _flat(point: Point | None, z: float = 0.0) -> Xyz | None:
    if point is None:
        return None
    return (point.x, point.y, z)


def side_paths(bicycle: Bicycle) -> dict[str, tuple[Xyz, ...] | None]:
    """Tube -> its centre-line as the side view shows it, of a pair the right one; None where it is not placed.

    Stays bowed outwards and blades that the fittings bend are told by their ends.
    """
    placing = _Placing(bicycle)
    paths = {}
    for role in bicycle.roles:
        path = placing.path(role.members[0])
        if path is not None and role.bend is None:
            path = (path[0], path[-1])
        paths[role.name] = path
    return paths


def unplaceable(bicycle: Bicycle, tubes: Iterable[str]) -> Iterator[tuple[str, ModelError]]:
    """Those of some tubes whose ends or bends cannot be, each with why."""
    placing = _Placing(bicycle)
    for tube in tubes:
        try:
            placing.path(bicycle.plan.role(tube).members[0])
        except ModelError as error:
            yield tube, error


def lay_out(bicycle: Bicycle) -> FrameLayout:
    """Joints and members of a bicycle.

    Raises
    ------
    ModelError
        When the dimensions do not place a tube, or put a joint beyond a tube's end; the message names the items.
    """
    placing = _Placing(bicycle)
    # what is missing comes before what is beyond an end: it is the commoner slip
    joints = _complete(placing.joints(), bicycle)
    # a tube that starts in the air would be meshed all the same
    if beyond := joints_outside(bicycle.dimensions):
        raise ModelError("; ".join(beyond))
    met = _met_on(bicycle)
    members = [_member(role, joints, placing, met) for role in bicycle.roles if not role.paired]
    for side, _ in SIDES:
        pairs = [role for role in bicycle.roles if role.paired]
        members += [_member(role, joints, placing, met, side) for role in pairs]
    return FrameLayout(joints, tuple(members), _shared_nodes(joints, members), bicycle.plan)


def _complete(joints: Mapping[str, Xyz | None], bicycle: Bicycle) -> dict[str, Xyz]:
    """The joints that are placed. Raises ModelError where one is missing that a tube of the frame needs."""
    placed = {name: xyz for name, xyz in joints.items() if xyz is not None}
    # The usual frame places all: who needs which joint is asked only where one is missing.
    if len(placed) == len(joints):
        return placed
    needed = {joint for role in bicycle.roles for joint in role.via}
    for role in bicycle.roles:
        needed |= {role.joint(end, side) for end in (0, 1) for side, _ in SIDES}
    # In the order of the joints, and what follows from one that is missing with it.
    every = [name for name in joints if name not in placed]
    missing = [name for name in every if name in needed]
    if missing:
        words = ", ".join(spoken(name) for name in every)
        raise ModelError(
            f"these points are not placed by the input: {words}; state {_what_places(missing)}"
        )
    return placed


# Joint -> what a sheet says to place it.
_SAID_BY = {
    "seat_tube_top": "the seat tube length",
    "seat_tube_top_tube_node": "where the top tube meets the seat tube",
    "seat_tube_seatstay_node": "where the seatstays meet it",
    "top_tube_head_node": "where the top tube meets the head tube",
    "down_tube_head_node": "where the down tube meets the head tube",
}


def _what_places(missing: Sequence[str]) -> str:
    """What to state. Of a diamond that places nothing yet, in one sentence."""
    said = [words for joint, words in _SAID_BY.items() if joint in missing]
    if len(said) == len(_SAID_BY):
        return (
            "the seat tube length, where the top tube and seatstays meet it and where top and down tube meet the "
            "head tube"
        )
    return ", ".join(said) or "the places of the tubes that run there"


def _met_on(bicycle: Bicycle) -> dict[str, list[str]]:
    """Member -> joints between its ends: its own, then those of tubes placed along it, then those of the plan."""
    met: dict[str, list[str]] = {}
    for role in bicycle.roles:
        for member in role.members:
            met[member] = list(role.via)
    placed = [
        (place, other.node_on(end), other, end)
        for other in bicycle.roles
        for end, place in enumerate(other.ends)
        if isinstance(place, Along)
    ]
    for place, node, other, end in placed:
        for side, _ in SIDES:
            # Beside it the point on its axis carries both sides.
            joint = other.joint(end, side) if place.side == EACH else node
            met.setdefault(place.host.format(side=side), []).append(joint)
    for node, of_plan in bicycle.plan.joints:
        # Where right and left stand apart, their middle is no joint of the tube.
        if isinstance(of_plan, Along) and not of_plan.apart:
            for side, _ in SIDES:
                joint = f"{node}_{side}" if of_plan.side == EACH else node
                met.setdefault(of_plan.host.format(side=side), []).append(joint)
    return met


def _member(
    role: TubeRole,
    joints: Mapping[str, Xyz],
    placing: _Placing,
    met: Mapping[str, Sequence[str]],
    side: str = "",
) -> Member:
    name = f"{role.name}_{side}" if side else role.name
    start = role.joint(0, side)
    end = role.joint(1, side)
    path = placing.path(name)
    assert path is not None  # its ends are placed
    via = [joint for joint in dict.fromkeys(met[name]) if joint in joints]
    # the mesh runs from end to end and needs its nodes in that order
    ordered = sorted(
        (joint for joint in via if joint not in (start, end)),
        key=lambda joint: distance_along(path, joints[joint]),
    )
    member = Member(name, role.name, start, end, path, tuple(ordered))
    _check_on_tube(member, joints)
    return member


def _check_on_tube(member: Member, joints: Mapping[str, Xyz]) -> None:
    """A joint must lie between the tube's ends, not beyond them."""
    for joint in member.joints:
        at = signed_distance(member.path, joints[joint])
        # a millionth of a mm of rounding is no joint beyond the end
        if not -1e-6 <= at <= member.length + 1e-6:
            tube = spoken(member.name)
            off = f"{at - member.length:.1f} mm beyond the end"
            if at < 0:
                off = f"{-at:.1f} mm before the start"
            raise ModelError(
                f"{joint.replace('_', ' ')} lies {off} of the {tube}, which is {member.length:.1f} mm long; check both"
            )


def _shared_nodes(joints: Mapping[str, Xyz], members: list[Member]) -> dict[str, str]:
    """Joints of one tube that lie on one point: later name -> first name."""
    same: dict[str, str] = {}
    for member in members:
        names = (member.start, *member.joints, member.end)
        for k, name in enumerate(names):
            for earlier in names[:k]:
                if dist(joints[name], joints[earlier]) < 1e-6:
                    # to the first of them all: a chain of names would leave two nodes at one point
                    same.setdefault(name, same.get(earlier, earlier))
                    break
    return same
