"""The roots of a bicycle over speed: the wobble followed, its least damping, what changes move it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import pi

import numpy as np

from ..arrays import Array
from ..errors import ModelError
from .shimmy import ShimmyBicycle
from .whipple import RigidBody, lump

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
