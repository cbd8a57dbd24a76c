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
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from math import cos, isfinite, pi, sin

import numpy as np

from ..arrays import Array
from ..assumption import Assumed
from ..errors import ModelError
from .flexibility import FLEX_DAMPING_HZ, Flex, Flexibility
from .lateral import GROUND, Carried, Joint, LateralModel, Tyre
from .rider import LeaningRider, RiderBehind
from .whipple import RigidBody, WhippleBicycle, lump

CAUTION = (
    "The shimmy figures compare variants of a bicycle; they are no promise that it runs steadily, and no substitute "
    "for a careful test ride by a qualified person. Tyres, wheels and rider are assumed values where the sheet does "
    "not state them."
)
# where the search for the wobble mode starts; weave and the rider's own motions lie below, bending of fork and wheels
# above
WOBBLE_BAND_HZ = (
    3.0,
    15.0,
)
PICK_SPEED = 10.0  # m/s: the wobble is near its worst there and stands apart from bags that sway
STEP = 0.1  # m/s between two looks while a mode is followed


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


@dataclass(frozen=True)
class SpeedMap:
    """Eigenvalues against speed and the wobble mode in them.

    speeds (k,) m/s; eigenvalues (k, n) 1/s; wobble (k,) the followed eigenvalue, NaN where there is no
    such oscillation (a rigid frame without tyre slip has none).
    """

    bicycle: ShimmyBicycle
    speeds: Array
    eigenvalues: Array
    wobble: Array

    @property
    def frequency_hz(self) -> Array:
        """(k,) damped frequency of the wobble."""
        return np.asarray(np.abs(self.wobble.imag) / (2 * pi))

    @property
    def damping_ratio(self) -> Array:
        """(k,) of the wobble; below zero it grows by itself."""
        return np.asarray(-self.wobble.real / np.abs(self.wobble))

    @property
    def least_damped(self) -> tuple[float, float]:
        """(speed m/s, damping ratio) where the wobble is damped least; NaN without a wobble."""
        if np.all(np.isnan(self.damping_ratio)):
            return np.nan, np.nan
        k = int(np.nanargmin(self.damping_ratio))
        return float(self.speeds[k]), float(self.damping_ratio[k])

    @property
    def growing(self) -> tuple[float, float] | None:
        """Slowest and fastest of the speeds looked at where the wobble grows; None where it never does."""
        bad = self.speeds[self.damping_ratio < 0]
        if bad.size:
            return (float(bad.min()), float(bad.max()))
        return None


def speed_map(bicycle: ShimmyBicycle, speeds: Sequence[float] | Array) -> SpeedMap:
    """Eigenvalues at each speed (m/s) and the wobble, followed in small steps from `PICK_SPEED`.

    Raises
    ------
    ModelError
        For speeds that are not one or more numbers above zero.
    """
    at = np.asarray(speeds, dtype=float)
    if at.ndim != 1 or not at.size or not np.all(np.isfinite(at)) or np.any(at <= 0):
        raise ModelError(f"speeds {speeds}: one or more positive numbers in m/s are needed")
    eigenvalues = np.array([bicycle.eigenvalues(v) for v in at])
    wobble = np.full(at.shape, complex(np.nan, np.nan))
    start = _pick_wobble(bicycle, PICK_SPEED)
    if start is not None:
        # Upwards and downwards from the speed at which it was picked.
        for side in (at >= PICK_SPEED, at < PICK_SPEED):
            wobble[side] = _follow(bicycle, start, at[side])
    return SpeedMap(bicycle, at, eigenvalues, wobble)


def wobble_root(bicycle: ShimmyBicycle, v: float) -> complex:
    """The wobble's eigenvalue 1/s at one speed m/s, found there and not followed; NaN where there is none."""
    found = _pick_wobble(bicycle, v)
    if found is None:
        return complex(np.nan, np.nan)
    return found[0]


def _pick_wobble(bicycle: ShimmyBicycle, v: float) -> tuple[complex, Array] | None:
    """Of the oscillations in the band at a speed that steer more than they lean, the one that shows most.

    How much of the bar's motion after a blow to it is in a mode, is its share of the steering rate (participation
    factor, from memory: Perez-Arriaga et al. 1982), and how long it lasts the reciprocal of its decay.
    """
    values, shapes = np.linalg.eig(bicycle.state_matrix(v))
    # The state leaves sideways and yaw out: straight running has no marked place or heading.
    names = bicycle.model.names[2:]
    steer = np.abs(shapes[names.index("steer")])
    leaning = [names.index(name) for name in bicycle.leaning]
    leans = np.max(np.abs(shapes[leaning]), axis=0)
    low, high = WOBBLE_BAND_HZ
    hz = values.imag / (2 * pi)
    rows = np.flatnonzero((hz >= low) & (hz <= high) & (steer > leans))
    if not rows.size:
        return None
    rate = bicycle.steering_rate
    share = np.abs(shapes[rate] * np.linalg.inv(shapes)[:, rate])
    k = rows[np.argmax(share[rows] / np.abs(values[rows].real))]
    return complex(values[k]), shapes[:, k]


def _follow(bicycle: ShimmyBicycle, start: tuple[complex, Array], speeds: Array) -> Array:
    """The mode at each speed, reached from `PICK_SPEED` in steps of at most STEP by the most alike shape."""
    out = np.empty(speeds.shape, dtype=complex)
    value, shape = start
    here = PICK_SPEED
    # Outwards from where it was picked: each speed starts at the one before it.
    order = np.argsort(np.abs(speeds - PICK_SPEED))
    for k in order:
        for v in np.linspace(here, speeds[k], int(np.ceil(abs(speeds[k] - here) / STEP)) + 1)[1:]:
            value, shape = _most_alike(bicycle.state_matrix(v), value, shape)
        here = speeds[k]
        # A root on the real axis is no oscillation any more.
        if value.imag > 0:
            out[k] = value
        else:
            out[k] = complex(np.nan, np.nan)
    return out


def _most_alike(matrix: Array, value: complex, shape: Array) -> tuple[complex, Array]:
    """The eigenpair nearest in shape (modal assurance, rows scaled alike) and in value."""
    values, shapes = np.linalg.eig(matrix)
    # By the shape itself: slides, turns and their rates are of different size.
    scale = 1 / np.maximum(np.abs(shape), 1e-3 * np.max(np.abs(shape)))
    a = shape * scale
    b = shapes * scale[:, None]
    alike = np.abs(a.conj() @ b) ** 2 / (np.vdot(a, a).real * np.sum(np.abs(b) ** 2, axis=0))
    k = int(np.argmax(alike - np.abs(values - value) / abs(value)))
    return complex(values[k]), shapes[:, k]


@dataclass(frozen=True)
class ShimmyStudy:
    """A reference bicycle and variants of it over the same speeds."""

    reference: SpeedMap
    variants: Mapping[str, SpeedMap] = field(default_factory=dict)
    caution: str = CAUTION

    def rows(self) -> list[dict[str, float | str | None]]:
        """One row per bicycle: wobble frequency at its least damped speed, that damping and its change."""
        base = self.reference.least_damped[1]
        return [
            _row("as given", self.reference, base),
            *(_row(n, m, base) for n, m in self.variants.items()),
        ]


def _row(name: str, seen: SpeedMap, base: float) -> dict[str, float | str | None]:
    speed, damping = seen.least_damped
    growing = seen.growing
    none = np.isnan(damping)
    if none:
        frequency = None
    else:
        frequency = float(seen.frequency_hz[list(seen.speeds).index(speed)])
    return {
        "variant": name,
        "frequency_hz": frequency,
        "damping_ratio": None if none else damping,
        "at_speed_m_s": None if none else speed,
        "damping_change": None if none else damping - base,
        "grows_from_m_s": growing[0] if growing else None,
        "grows_to_m_s": growing[1] if growing else None,
    }


def shimmy_study(
    bicycle: ShimmyBicycle,
    speeds: Sequence[float] | Array,
    variations: Mapping[str, ShimmyBicycle] | None = None,
) -> ShimmyStudy:
    """Follow the wobble of a bicycle and of named variants (default: `standard_variations`) over speeds, m/s."""
    changed: Mapping[str, ShimmyBicycle]
    if variations is None:
        changed = standard_variations(bicycle)
    else:
        changed = variations
    return ShimmyStudy(
        speed_map(bicycle, speeds), {name: speed_map(b, speeds) for name, b in changed.items()}
    )


def standard_variations(bicycle: ShimmyBicycle) -> dict[str, ShimmyBicycle]:
    """One change at a time: head stiffness, trail, front luggage, tyres, hands, rider, each with its size in the name.

    More trail here moves the steering axis forward and leaves wheels and masses where they are.
    """
    rigid = bicycle.rigid
    changed = {
        "trail +10 mm": replace(bicycle, rigid=replace(rigid, trail=rigid.trail + 0.010)),
        "trail -10 mm": replace(bicycle, rigid=replace(rigid, trail=rigid.trail - 0.010)),
        "3 kg more at the front assembly's centre": with_front_load(bicycle, 3.0),
        "light hands (1 N·m·s/rad)": replace(
            bicycle, steering_damping=bicycle.steering_damping + 1.0
        ),
    }
    if bicycle.head is not None:
        changed["head 20 % stiffer"] = replace(bicycle, head=bicycle.head.scaled(1.2))
        changed["head 20 % softer"] = replace(bicycle, head=bicycle.head.scaled(0.8))
    if bicycle.tyres is not None:
        for label, factor in (("stiffer", 1.25), ("softer", 0.8)):
            tyres = tuple(replace(t, cornering=t.cornering * factor) for t in bicycle.tyres)
            changed[f"tyres {label} sideways (x {factor:g})"] = replace(
                bicycle, tyres=(tyres[0], tyres[1])
            )
    if bicycle.rider is not None:
        changed["rider's body damping doubled"] = replace(
            bicycle, rider=replace(bicycle.rider, damping=2 * bicycle.rider.damping)
        )
    return changed


def with_front_load(
    bicycle: ShimmyBicycle,
    mass: float,
    at: tuple[float, float] | None = None,
    gyration: float = 0.12,
) -> ShimmyBicycle:
    """The bicycle with `mass` kg more on what steers, at (x, z) m, with a radius of gyration m (assumed)."""
    front = bicycle.rigid.front_assembly
    if at is None:
        x = front.x
        z = front.z
    else:
        x, z = at
    load = RigidBody(mass, x, z, mass * gyration**2, mass * gyration**2)
    return replace(bicycle, rigid=replace(bicycle.rigid, front_assembly=lump(front, load)))
