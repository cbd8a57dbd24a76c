"""Shimmy: the bicycle with a frame that gives at the head, tyres that slip sideways and a rider who may move.

The rigid bicycle of `whipple` with, each optional:
* the head (and the front wheel in its fork) held elastically: a turn about an axis square to the steering
  axis, and a sideways slide, after the frame torsion and fork bending of the published shimmy models (Ploechl,
  Edelmann, Angrosch & Ott 2012, Vehicle System Dynamics 50, "On the wobble mode of a bicycle"; from memory);
* tyres with side slip, camber thrust and relaxation length (`lateral.Tyre`);
* a rider who leans on a spring and damper, and hands on the bar as spring and damper on the steering.

THIS COMPARES VARIANTS OF A BICYCLE. It is linear, knows no gust, pothole, play or tyre wear, and takes the
rider from assumed numbers: a damping above zero is no promise that a real bicycle will not shimmy.
Units SI, axes as in `whipple`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from math import cos, isfinite, pi, sin

import numpy as np

from ..arrays import Array
from ..assumption import Assumed
from ..errors import ModelError
from .lateral import GROUND, Carried, Joint, LateralModel, Tyre
from .whipple import RigidBody, WhippleBicycle, lump

CAUTION = (
    "With the rider fixed to the frame and no hands on the bar most bicycles come out growing here, also those "
    "that ride well: read the change from one set-up to the next, not the sign. The shimmy figures compare "
    "variants of a bicycle; they are no promise that it runs steadily. Tyres and rider are assumed values."
)
# where the search for the wobble mode starts; weave and rider lean lie below
WOBBLE_BAND_HZ = (
    2.0,
    25.0,
)
PICK_SPEED = 3.0  # m/s: weave and capsize are slow there, so the wobble stands apart
STEP = 0.1  # m/s between two looks while a mode is followed
FLEX_DAMPING_HZ = 7.0  # frequency at which `Flex.damping_ratio` is meant


@dataclass(frozen=True)
class Flex:
    """What a part gives at a point (x, z) m of the frame's plane when the rest is held.

    turn : rad per N*m, about the axis square to the steering axis. sideways : m per N. coupling : rad per N
    (= m per N*m), positive when a push to the right turns it as a moment about the forward-up axis does.
    Sideways 0 is a plain hinge. damping_ratio : of the part's own material and joints, assumed, near 7 Hz.
    """

    point: tuple[float, float]
    turn: float
    sideways: float = 0.0
    coupling: float = 0.0
    damping_ratio: float = 0.01

    def __post_init__(self) -> None:
        numbers = (*self.point, self.turn, self.sideways, self.coupling, self.damping_ratio)
        if (
            not all(isfinite(n) for n in numbers)
            or self.turn <= 0
            or self.sideways < 0
            or self.damping_ratio < 0
        ):
            raise ModelError(
                f"flexibility turn {self.turn} rad/Nm, sideways {self.sideways} m/N: a positive turn "
                "and no negative numbers are needed; for a rigid part leave it out"
            )
        if self.coupling**2 > self.turn * self.sideways:
            raise ModelError(
                f"flexibility: coupling {self.coupling:g} is larger than turn and sideways allow"
            )

    @property
    def turn_stiffness(self) -> float:
        """N*m/rad with the slide free."""
        return 1 / self.turn

    @property
    def matrix(self) -> Array:
        """(2, 2) stiffness over (slide, turn), or (1, 1) for a plain hinge."""
        if not self.sideways:
            return np.array([[1 / self.turn]])
        return np.asarray(
            np.linalg.inv([[self.sideways, self.coupling], [self.coupling, self.turn]]), dtype=float
        )

    def scaled(self, factor: float) -> "Flex":
        """The same part with every stiffness `factor` times as large."""
        return replace(
            self,
            turn=self.turn / factor,
            sideways=self.sideways / factor,
            coupling=self.coupling / factor,
        )


@dataclass(frozen=True)
class LeaningRider:
    """A rider's body who leans about a fore-aft line `height` m above the road, N*m/rad and N*m*s/rad."""

    body: RigidBody
    height: float
    stiffness: float
    damping: float

    def __post_init__(self) -> None:
        if not all(isfinite(n) and n >= 0 for n in (self.height, self.stiffness, self.damping)):
            raise ModelError("rider: height, stiffness and damping must be numbers of zero or more")


@dataclass(frozen=True)
class ShimmyBicycle:
    """The bicycle of a shimmy study.

    rigid : its rear body includes the rider unless `rider` holds him. head_part : the piece of the frame that
    moves with the head, taken OUT of the rear body. tyres : rear, front; None: wheels that cannot slip.
    steering_damping N*m*s/rad, steering_stiffness N*m/rad: hands, headset. assumed : what was not given.
    """

    rigid: WhippleBicycle
    head: Flex | None = None
    fork: Flex | None = None
    head_part: RigidBody | None = None
    tyres: tuple[Tyre, Tyre] | None = (Tyre(), Tyre())
    rider: LeaningRider | None = None
    steering_damping: float = 0.0
    steering_stiffness: float = 0.0
    assumed: tuple[Assumed, ...] = ()

    @cached_property
    def model(self) -> LateralModel:
        """Joints and bodies: rear frame - head spring - steering - fork spring - front wheel; rear frame - rider."""
        rigid = self.rigid
        steer = (self._steering,)
        rider: tuple[Joint, ...]
        if self.rider is None:
            rider = ()
        else:
            rider = (Joint("rider lean", (1.0, 0.0), (0.0, -self.rider.height)),)
        head = self._flex_joints("head", self.head)
        fork = self._flex_joints("fork", self.fork)
        # Each body hangs on all joints between it and the rear frame.
        on_head = tuple(joint.name for joint in head)
        on_steer = (*on_head, *(joint.name for joint in steer))
        on_fork = (*on_steer, *(joint.name for joint in fork))
        bodies = [
            Carried(rigid.rear_wheel),
            Carried(rigid.rear_body),
            Carried(rigid.front_assembly, on_steer),
        ]
        bodies += [] if self.head_part is None else [Carried(self.head_part, on_head)]
        bodies += [] if self.rider is None else [Carried(self.rider.body, ("rider lean",))]
        bodies.append(Carried(rigid.front_wheel, on_fork, rigid.wheelbase))
        stiffness, damping = self._springs
        return LateralModel(
            GROUND + rider + head + steer + fork, tuple(bodies), stiffness, damping, rigid.g
        )

    @property
    def _steering(self) -> Joint:
        tilt = self.rigid.tilt
        return Joint(
            "steer", (sin(tilt), cos(tilt)), (self.rigid.wheelbase + self.rigid.trail, 0.0)
        )

    def _flex_joints(self, name: str, flex: Flex | None) -> tuple[Joint, ...]:
        if flex is None:
            return ()
        # forward and up, square to the steering axis
        across = (
            cos(self.rigid.tilt),
            -sin(self.rigid.tilt),
        )
        slide: tuple[Joint, ...]
        if flex.sideways:
            slide = (Joint(f"{name} slide", None),)
        else:
            slide = ()
        return (*slide, Joint(f"{name} turn", across, flex.point))

    @property
    def _springs(self) -> tuple[dict[tuple[str, str], float], dict[tuple[str, str], float]]:
        stiffness = {("steer", "steer"): self.steering_stiffness}
        damping = {("steer", "steer"): self.steering_damping}
        if self.rider is not None:
            stiffness["rider lean", "rider lean"] = self.rider.stiffness
            damping["rider lean", "rider lean"] = self.rider.damping
        for name, flex in (("head", self.head), ("fork", self.fork)):
            if flex is not None:
                joints = [j.name for j in self._flex_joints(name, flex)]
                entries = {
                    (a, b): float(flex.matrix[i, j])
                    for i, a in enumerate(joints)
                    for j, b in enumerate(joints)
                }
                stiffness |= entries
                time = flex.damping_ratio / (pi * FLEX_DAMPING_HZ)
                damping |= {pair: time * value for pair, value in entries.items()}
        return stiffness, damping

    def state_matrix(self, v: float) -> Array:
        """State matrix at forward speed v m/s; the joints after yaw come first, then the rates."""
        if self.tyres is None:
            return self.model.rolling_state(v)
        return self.model.tyre_state(v, self.tyres)

    def eigenvalues(self, v: float) -> Array:
        """Complex eigenvalues 1/s by rising real part."""
        values = np.linalg.eigvals(self.state_matrix(v))
        return np.asarray(values[np.lexsort((values.imag, values.real))])


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
    start = _pick_wobble(bicycle)
    if start is not None:
        for side in (at >= PICK_SPEED, at < PICK_SPEED):
            wobble[side] = _follow(bicycle, start, at[side])
    return SpeedMap(bicycle, at, eigenvalues, wobble)


def _pick_wobble(bicycle: ShimmyBicycle) -> tuple[complex, Array] | None:
    """The slowest oscillation in the band at `PICK_SPEED` that steers more than it leans, rider's lean included."""
    values, shapes = np.linalg.eig(bicycle.state_matrix(PICK_SPEED))
    names = bicycle.model.names[2:]
    steer = np.abs(shapes[names.index("steer")])
    leans = np.max(np.abs(shapes[[k for k, name in enumerate(names) if "lean" in name]]), axis=0)
    low, high = WOBBLE_BAND_HZ
    hz = values.imag / (2 * pi)
    rows = np.flatnonzero((hz >= low) & (hz <= high) & (steer > leans))
    if not rows.size:
        return None
    k = rows[np.argmin(hz[rows])]
    return complex(values[k]), shapes[:, k]


def _follow(bicycle: ShimmyBicycle, start: tuple[complex, Array], speeds: Array) -> Array:
    """The mode at each speed, reached from `PICK_SPEED` in steps of at most STEP by the most alike shape."""
    out, (value, shape), here = np.empty(speeds.shape, dtype=complex), start, PICK_SPEED
    order = np.argsort(np.abs(speeds - PICK_SPEED))
    for k in order:
        for v in np.linspace(here, speeds[k], int(np.ceil(abs(speeds[k] - here) / STEP)) + 1)[1:]:
            value, shape = _most_alike(bicycle.state_matrix(v), value, shape)
        here = speeds[k]
        if value.imag > 0:
            out[k] = value
        else:
            out[k] = complex(np.nan, np.nan)
    return out


def _most_alike(matrix: Array, value: complex, shape: Array) -> tuple[complex, Array]:
    """The eigenpair nearest in shape (modal assurance, rows scaled alike) and in value."""
    values, shapes = np.linalg.eig(matrix)
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
        x, z = (front.x, front.z)
    else:
        x, z = at
    load = RigidBody(mass, x, z, mass * gyration**2, mass * gyration**2)
    return replace(bicycle, rigid=replace(bicycle.rigid, front_assembly=lump(front, load)))
