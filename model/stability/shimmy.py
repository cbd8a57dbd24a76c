"""Shimmy: the bicycle with a frame that gives, tyres that slip sideways, a rider who leans and holds the bar.

The rigid bicycle of `whipple` with, each optional:
* a frame that gives between what the rider sits on and the rear axle, the bottom bracket and the head, and a fork
  that bends and twists (`Flexibility`, condensed from the beam model in `shimmy_flex`), or a plain hinge (`Flex`) after
  the published shimmy models (Ploechl, Edelmann, Angrosch & Ott 2012, Vehicle System Dynamics 50, "On the wobble mode
  of a bicycle"; from memory);
* wheels that tilt on their spokes; tyres with side slip, camber thrust, relaxation length and a carcass that swallows
  work (`lateral.Tyre`);
* bags that sway sideways on their racks;
* riders, each of whom leans on a spring and damper at the hip and twists on one in the spine (the freedoms of De
  Lorenzo's rider, read in moorepants/dissertation, extensions.rst), with arms as spring and damper between his bar and
  his upper body.

THIS COMPARES VARIANTS OF A BICYCLE. It is linear, knows no gust, pothole, play or tyre wear, and takes the
rider from assumed numbers: a damping above zero is no promise that a real bicycle will not shimmy.
Units SI, axes as in `whipple`.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import cos, isfinite, pi, sin

import numpy as np

from ..arrays import Array
from ..assumption import Assumed
from ..errors import ModelError
from .flexibility import FLEX_DAMPING_HZ, Flex, Flexibility
from .lateral import GROUND, Carried, Joint, LateralModel, Tyre
from .rider import LeaningRider, RiderBehind
from .whipple import RigidBody, WhippleBicycle

Place = str  # "saddle", "rear", "pedals", "head", "steer", "fork", or a place of a rider behind the first


@dataclass(frozen=True)
class Rack:
    """Bags that slide sideways as one, on a spring and damper, against what they hang on.

    name : of the joint. bodies : (where it hangs, body). give : m that the bags' own weight, pulled sideways, moves
    them. damping_ratio : of the bags on a rack that is held.
    """

    name: str
    bodies: tuple[tuple[Place, RigidBody], ...]
    give: float
    damping_ratio: float

    def __post_init__(self) -> None:
        if not (isfinite(self.give) and self.give > 0 and self.damping_ratio >= 0):
            raise ModelError(
                f"{self.name}: a give of {self.give} m and a damping ratio of {self.damping_ratio}; a rack that gives "
                "nothing is left out, its bags are then part of what they hang on"
            )

    @property
    def mass(self) -> float:
        return sum(body.mass for _, body in self.bodies)

    def spring(self, gravity: float) -> tuple[float, float]:
        """Stiffness N/m and damping N*s/m."""
        stiffness = self.mass * gravity / self.give
        critical = 2 * (stiffness * self.mass) ** 0.5
        return stiffness, self.damping_ratio * critical


@dataclass(frozen=True)
class ShimmyBicycle:
    """The bicycle of a shimmy study.

    rigid : its rear body is what moves with the saddle, the rider in it unless `rider` holds him. head : what the
    frame gives; fork : what the fork gives. pieces : (where it rides, body) of what is taken OUT of the rear body or
    the front assembly. wheel_tilt : stiffness N*m/rad of the rear and front rim against tilting on the hub, None: a
    stiff wheel. tyres : rear, front; None: wheels that cannot slip. steering_stiffness N*m/rad, steering_damping
    N*m*s/rad: the arms, between the bar and the rider's upper body; their mass is one of the pieces. racks : bags that
    sway. assumed : what was not given. behind : who rides behind that rider.
    """

    rigid: WhippleBicycle
    head: Flex | Flexibility | None = None
    fork: Flex | Flexibility | None = None
    pieces: tuple[tuple[Place, RigidBody], ...] = ()
    wheel_tilt: tuple[float | None, float | None] = (None, None)
    tyres: tuple[Tyre, Tyre] | None = (Tyre(), Tyre())
    rider: LeaningRider | None = None
    steering_damping: float = 0.0
    steering_stiffness: float = 0.0
    racks: tuple[Rack, ...] = ()
    assumed: tuple[Assumed, ...] = ()
    behind: tuple[RiderBehind, ...] = ()

    @property
    def leaning(self) -> tuple[str, ...]:
        """Names of the joints that lean: the bicycle's and each rider's."""
        riders = [one.rider for one in self.behind]
        if self.rider is not None:
            riders = [self.rider, *riders]
        return ("lean", *(rider.joints[0].name for rider in riders))

    @cached_property
    def model(self) -> LateralModel:
        """Joints and bodies: saddle - frame - head - steering - fork - wheel; saddle - rear axle - wheel; the rider."""
        rigid = self.rigid
        frame = self._joints(self._gives[0])
        fork = self._joints(self._gives[1])
        tilts = self._tilts
        rider = self._rider_joints
        steering = (self._steering,)
        # What rides on what: each piece hangs on all joints between it and the saddle; on a stiff frame on none.
        on: dict[Place, tuple[str, ...]] = defaultdict(tuple)
        for joint in frame:
            on[_place(joint)] += (joint.name,)
        on["steer"] = (*on["head"], "steer")
        on["fork"] = (*on["steer"], *_named(fork, "fork"))
        bodies = [
            Carried(rigid.rear_wheel, (*on["rear"], *_named(tilts, "rear"))),
            # What the rider sits on is the reference: it rides on no joint of the frame.
            Carried(rigid.rear_body),
            Carried(rigid.front_assembly, on["steer"]),
            *(Carried(body, on[place]) for place, body in self.pieces),
        ]
        if self.rider is not None:
            bodies.append(Carried(self.rider.body, _names(rider)))
        behind: tuple[Joint, ...] = ()
        for one in self.behind:
            bodies.append(Carried(one.rider.body, (*on[one.saddle], *_names(one.rider.joints))))
            behind += one.rider.joints
        for rack in self.racks:
            bodies += [Carried(body, (*on[place], rack.name)) for place, body in rack.bodies]
        front = (*on["fork"], *_named(tilts, "front"))
        bodies.append(Carried(rigid.front_wheel, front, rigid.wheelbase))
        stiffness, damping = self._springs
        # A parent before its children, as an earlier joint tilts the axis of a later one.
        racks = tuple(Joint(rack.name, None) for rack in self.racks)
        joints = GROUND + rider + frame + behind + steering + fork + tilts + racks
        return LateralModel(joints, tuple(bodies), stiffness, damping, rigid.g)

    @property
    def hands(self) -> Array:
        """(n,) how far the bar turns against the rider's upper body, per joint of the model: where the arms act."""
        names = self.model.names
        row = np.zeros(len(names))
        for name, value in self._arms_turn.items():
            row[names.index(name)] = value
        return row

    @property
    def _arms_turn(self) -> dict[str, float]:
        # An upper body that leans or twists turns about the slanting steering axis by its share of either.
        return {**self._turns((self._steering,), 1.0), **self._turns(self._rider_joints, -1.0)}

    def _turns(self, joints: Sequence[Joint], sign: float) -> dict[str, float]:
        """What each joint turns its pieces about an axis as slanted as the steering axis."""
        along, down = self._steering.axis or (0.0, 0.0)
        turns = {}
        for joint in joints:
            if joint.axis is not None:
                turns[joint.name] = sign * (joint.axis[0] * along + joint.axis[1] * down)
        return turns

    def _behind_turn(self, one: RiderBehind) -> dict[str, float]:
        """How far the bar of a rider behind turns against his upper body, per joint."""
        frame = self._joints(self._gives[0])
        bar = [joint for joint in frame if _place(joint) == one.bar]
        seat = [joint for joint in frame if _place(joint) == one.saddle]
        return {**self._turns(bar, 1.0), **self._turns((*seat, *one.rider.joints), -1.0)}

    @property
    def _steering(self) -> Joint:
        tilt = self.rigid.tilt
        # The steering axis meets the ground a trail ahead of the front contact.
        return Joint(
            "steer", (sin(tilt), cos(tilt)), (self.rigid.wheelbase + self.rigid.trail, 0.0)
        )

    @property
    def _rider_joints(self) -> tuple[Joint, ...]:
        if self.rider is None:
            return ()
        return self.rider.joints

    @cached_property
    def _gives(self) -> tuple[Flexibility | None, Flexibility | None]:
        # forward and up, square to the steering axis
        across = (cos(self.rigid.tilt), -sin(self.rigid.tilt))
        found: list[Flexibility | None] = []
        for name, part in (("head", self.head), ("fork", self.fork)):
            if isinstance(part, Flex):
                found.append(part.give(name, across))
            else:
                found.append(part)
        return found[0], found[1]

    @staticmethod
    def _joints(give: Flexibility | None) -> tuple[Joint, ...]:
        if give is None:
            return ()
        return give.joints

    @property
    def _tilts(self) -> tuple[Joint, ...]:
        """A rim tilts on its hub about the fore-aft line through the axle."""
        rigid = self.rigid
        axles = ((0.0, rigid.rear_wheel.radius), (rigid.wheelbase, rigid.front_wheel.radius))
        return tuple(
            Joint(f"{end} tilt", (1.0, 0.0), (x, -radius))
            for end, (x, radius), stiffness in zip(
                ("rear", "front"), axles, self.wheel_tilt, strict=True
            )
            if stiffness is not None
        )

    @property
    def _springs(self) -> tuple[dict[tuple[str, str], float], dict[tuple[str, str], float]]:
        stiffness: dict[tuple[str, str], float] = defaultdict(float)
        damping: dict[tuple[str, str], float] = defaultdict(float)
        arms = [(self._arms_turn, self.steering_stiffness, self.steering_damping)]
        riders = [] if self.rider is None else [self.rider]
        for behind in self.behind:
            arms.append((self._behind_turn(behind), behind.stiffness, behind.damping))
            riders.append(behind.rider)
        for turns, spring, damper in arms:
            # One spring on a turn that several joints make together: it couples them.
            for one, first in turns.items():
                for other, second in turns.items():
                    stiffness[one, other] += spring * first * second
                    damping[one, other] += damper * first * second
        for rider in riders:
            for name, spring, damper in rider.springs:
                stiffness[name, name] += spring
                damping[name, name] += damper
        for joint, value in zip(
            self._tilts, [k for k in self.wheel_tilt if k is not None], strict=True
        ):
            stiffness[joint.name, joint.name] += value
        for rack in self.racks:
            at = (rack.name, rack.name)
            stiffness[at], damping[at] = rack.spring(self.rigid.g)
        for give in self._gives:
            if give is not None:
                self._add(give, stiffness, damping)
        return dict(stiffness), dict(damping)

    @staticmethod
    def _add(
        give: Flexibility,
        stiffness: dict[tuple[str, str], float],
        damping: dict[tuple[str, str], float],
    ) -> None:
        # c = 2 zeta k / omega: in proportion to stiffness, with the ratio meant at this frequency.
        time = give.damping_ratio / (pi * FLEX_DAMPING_HZ)
        for i, one in enumerate(give.joints):
            for j, other in enumerate(give.joints):
                value = float(give.stiffness[i, j])
                stiffness[one.name, other.name] += value
                damping[one.name, other.name] += time * value

    def state_matrix(self, v: float) -> Array:
        """State matrix at forward speed v m/s; the joints after yaw come first, then the rates."""
        if self.tyres is None:
            return self.model.rolling_state(v)
        return self.model.tyre_state(v, self.tyres)

    @property
    def steering_rate(self) -> int:
        """Where the steering's rate stands in the state."""
        names = self.model.names
        after_yaw = len(names) - 2
        # Wheels that cannot slip leave sideways and yaw out of the rates as well.
        skipped = 2 if self.tyres is None else 0
        return after_yaw + names.index("steer") - skipped

    def eigenvalues(self, v: float) -> Array:
        """Complex eigenvalues 1/s by rising real part."""
        values = np.linalg.eigvals(self.state_matrix(v))
        return np.asarray(values[np.lexsort((values.imag, values.real))])


def _place(joint: Joint) -> Place:
    """Whose joint it is: ``head slide`` is one of "head"."""
    return joint.name.split()[0]


def _names(joints: Sequence[Joint]) -> tuple[str, ...]:
    return tuple(joint.name for joint in joints)


def _named(joints: Sequence[Joint], place: Place) -> tuple[str, ...]:
    """Names of the joints of a place."""
    return tuple(joint.name for joint in joints if _place(joint) == place)
