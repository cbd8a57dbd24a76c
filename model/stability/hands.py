"""The damping that the hands must supply for steadiness: one figure of merit of the wobble, N*m*s/rad.

A damper c between bar and rider's upper body adds the torque -c r to the equations, r the rate at which the bar turns
against him. With g(s) the rate r per unit torque at the bar, the characteristic equation becomes 1 + c g(s) = 0
(a change of rank one): a pair of roots stands on the imaginary axis exactly where g(i w) is real, and there
c = -1 / g(i w). As c grows past it the pair becomes steady where Im g falls through zero, since d lambda / dc =
1 / (c^2 g'(lambda)). THE NEED at a speed is the largest such c in the wobble's band: with less, a wobble grows.

Where nothing grows by itself the need is below zero: what the bicycle has TO SPARE, to first order. With the residue
r_k of g at its root k, d lambda_k / dc = -r_k at c = 0, so that the root would turn neutral at c = Re lambda_k / Re
r_k; of the wobble's roots the one with least to spare is told. Derived here, no source; held by the eigenvalues in the
tests.

The arms' mass and stiffness are in the bicycle; their damping is what is asked for.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from math import pi

import numpy as np
from scipy.optimize import brentq

from ..arrays import Array
from ..errors import ModelError
from ..frame.bicycle import G_ACCEL, Bicycle, PartMasses
from ..frame.layout import lay_out
from ..frame.mesh import mesh
from ..frame.riding import RIDING, settled_riding
from ..frame.tube_mass import mass_table
from .flexibility import Flex, Flexibility
from .rack_give import rack_gives
from .shared_mass import Pieces, tube_pieces
from .shimmy import ShimmyBicycle
from .shimmy_flex import fork_give, frame_give
from .shimmy_setup import Hold, bicycle_parameters
from .whipple import RigidBody

NEED_BAND_HZ = (2.5, 15.0)
SPARE_FROM_HZ = 3.5  # below, weave and the rider's own motions: they die, and are not the wobble's
HANDS_END = (
    100.0  # N*m*s/rad; no hands damp more, and a bar that this leaves as it was does not move
)
SPARE = -20.0  # N*m*s/rad; more to spare than this is not told apart
_GRID_HZ = 0.1  # between two looks for a real g
_HALVINGS = 16  # of the interval that holds a crossing, before a straight line is taken
_WIDTHS = 20.0  # growth rates to each side of a root that grows, within which a g is looked for
_PER_ROOT = 801  # looks there
SPEEDS = tuple(np.arange(3.0, 20.01, 1.0))
BAND_SPEEDS = (4.0, 6.0, 8.0, 10.0, 13.0, 17.0)  # coarser, for the many samples of a band
SAMPLES = 200
ASKED = Hold(damping=False)  # hands on the bar, their damping asked for
Part = Flex | Flexibility | None


@dataclass(frozen=True)
class Need:
    """What the hands must supply, N*m*s/rad, at each speed m/s, and the wobble's frequency there; (k,) each."""

    speeds: Array
    damping: Array
    hz: Array

    @property
    def worst(self) -> int:
        """Number of the speed where most is needed."""
        return int(np.argmax(self.damping))

    @property
    def most(self) -> float:
        """The need at the worst speed; below zero that much is to spare at every speed."""
        return float(self.damping[self.worst])

    @property
    def at(self) -> float:
        """The worst speed, m/s."""
        return float(self.speeds[self.worst])


def hands_need(
    bicycle: ShimmyBicycle, speeds: Sequence[float] | Array = SPEEDS, strict: bool = True
) -> Need:
    """The need of a bicycle at each speed; its own damping of the arms is left out of it.

    More to spare than `SPARE` is told as that.

    strict : False takes that of every speed too, as one draw of many may have it.

    Raises
    ------
    ModelError
        Without tyres that slip, without a speed above zero, where something grows that no damping at the bar stops, and
        (strict) where the bar has no motion to be damped at any speed.
    """
    at = np.asarray(speeds, dtype=float)
    if bicycle.tyres is None:
        raise ModelError(
            "what the hands must supply needs tyres that slip; a rigid rolling wheel has no wobble"
        )
    if at.ndim != 1 or not at.size or not np.all(np.isfinite(at) & (at > 0)):
        raise ModelError(f"speeds {speeds}: one or more positive numbers in m/s are needed")
    # Their damping is what is asked for, so none may be in it already.
    free = replace(bicycle, steering_damping=0.0)
    model = free.model
    states = model.tyre_states(at, bicycle.tyres)
    joints = len(model.joints)
    # The state is joints after yaw, then all rates, then the tyres' forces.
    rates = slice(joints - 2, 2 * joints - 2)
    push = np.zeros(states.shape[1])
    # A unit torque at the bar as the accelerations it makes.
    push[rates] = np.linalg.solve(model.mass, free.hands)
    seen = np.zeros(states.shape[1])
    seen[rates] = free.hands
    bar = _Bar.of(states, push, seen)
    asked, asked_hz = bar.asked()
    spare, spare_hz = bar.spare()
    grows = asked > 0
    if strict and not grows.any() and HANDS_END * bar.answer < 1:
        low, high = NEED_BAND_HZ
        raise ModelError(
            f"between {low:g} and {high:g} Hz the bar of this bicycle has no motion that hands could damp; check "
            "head stiffness, tyres and the arms' stiffness"
        )
    for k in np.flatnonzero(~grows):
        slowly = bar.asked_close_to_roots(int(k))
        if slowly is None:
            _refuse_growth(states[k], at[k])
        else:
            grows[k] = True
            asked[k], asked_hz[k] = slowly
    return Need(at, np.where(grows, asked, spare), np.where(grows, asked_hz, spare_hz))


def _refuse_growth(state: Array, v: float) -> None:
    """Raise ModelError where a root in the band grows: no damping at the bar has turned it."""
    values = np.linalg.eigvals(state)
    low, high = (2 * pi * hz for hz in NEED_BAND_HZ)
    if np.any(values.real[(values.imag > low) & (values.imag < high)] > 0):
        raise ModelError(
            f"at {v:g} m/s something swings ever farther whatever the hands damp; check the racks' give, head "
            "stiffness and tyres"
        )


@dataclass(frozen=True)
class _Bar:
    """How the bar answers a torque at each of k speeds: g(s) = sum of residues / (s - values), both (k, m)."""

    values: Array
    residues: Array

    @classmethod
    def of(cls, states: Array, push: Array, seen: Array) -> "_Bar":
        """From states (k, m, m), a unit torque as it drives them, and the bar's rate in them."""
        values, shapes = np.linalg.eig(states)
        # By modes each further frequency costs a sum and no solve.
        modal = np.linalg.solve(
            shapes, np.broadcast_to(push.astype(complex), values.shape)[..., None]
        )
        return cls(values, (seen @ shapes) * modal[..., 0])

    @cached_property
    def hz(self) -> Array:
        low, high = NEED_BAND_HZ
        return np.linspace(low, high, round((high - low) / _GRID_HZ) + 1)

    @cached_property
    def rates(self) -> Array:
        """(k, frequencies) g."""
        steps = 2j * pi * self.hz[None, :, None] - self.values[:, None, :]
        return np.asarray(np.sum(self.residues[:, None, :] / steps, axis=2))

    @property
    def answer(self) -> float:
        """The largest rate per torque in the band at any speed."""
        return float(np.max(np.abs(self.rates)))

    def asked(self) -> tuple[Array, Array]:
        """(k,) largest c where a pair turns steady, -inf where there is none; and its frequency."""
        g = self.rates
        # Where it falls through zero, more damping makes the pair steady.
        row, column = np.nonzero((g.imag[:, :-1] > 0) & (g.imag[:, 1:] <= 0))
        f, rate = _narrowed(
            self.residues[row], self.values[row], self.hz[column], self.hz[column + 1]
        )
        c = -1 / rate
        out = np.full(len(g), -np.inf)
        at = np.full(len(g), np.nan)
        # Largest last, so that it stays.
        order = np.argsort(c)
        out[row[order]] = c[order]
        at[row[order]] = f[order]
        return out, at

    def asked_close_to_roots(self, k: int) -> tuple[float, float] | None:
        """The same at one speed, for a root that grows so slowly that it turns steady between two frequencies of the
        grid: looked for within some widths of the root. None where nothing grows, or no damping turns it."""
        low, high = NEED_BAND_HZ
        own = self.values[k].imag / (2 * pi)
        growing = np.flatnonzero((self.values[k].real > 0) & (own > low) & (own < high))
        found: list[tuple[float, float]] = []
        for root in growing:
            width = self.values[k, root].real / (2 * pi)
            hz = own[root] + width * np.linspace(-_WIDTHS, _WIDTHS, _PER_ROOT)
            g = np.sum(self.residues[k] / (2j * pi * hz[:, None] - self.values[k]), axis=1)
            column = np.flatnonzero((g.imag[:-1] > 0) & (g.imag[1:] <= 0))
            rows = np.full(len(column), k)
            f, rate = _narrowed(self.residues[rows], self.values[rows], hz[column], hz[column + 1])
            found += zip(-1 / rate, f, strict=True)
        most, hz_there = max(found, default=(-np.inf, np.nan))
        if most > 0:
            return float(most), float(hz_there)
        return None

    def spare(self) -> tuple[Array, Array]:
        """(k,) what the wobble's root with least to spare has, below zero, not under `SPARE`; and its frequency."""
        hz = self.values.imag / (2 * pi)
        wobbles = (hz >= SPARE_FROM_HZ) & (hz <= NEED_BAND_HZ[1]) & (self.residues.real > 0)
        spare = np.full(hz.shape, -np.inf)
        spare[wobbles] = self.values.real[wobbles] / self.residues.real[wobbles]
        k = np.argmax(spare, axis=1)[:, None]
        least = np.take_along_axis(spare, k, axis=1)[:, 0]
        at = np.where(least > SPARE, np.take_along_axis(hz, k, axis=1)[:, 0], np.nan)
        return np.maximum(least, SPARE), at


def _narrowed(residues: Array, values: Array, low: Array, high: Array) -> tuple[Array, Array]:
    """Frequency and Re g where Im g falls through zero between two frequencies."""

    def g(f: Array) -> Array:
        return np.asarray(np.sum(residues / (2j * pi * f[:, None] - values), axis=1))

    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        above = g(middle).imag > 0
        low = np.where(above, middle, low)
        high = np.where(above, high, middle)
    first = g(low).imag
    between = low + (high - low) * first / (first - g(high).imag)
    return between, g(between).real


# --- what moves it -------------------------------------------------------------------------------------------------
@dataclass(frozen=True)
class Band:
    """The need at its worst speed over `SAMPLES` draws of everything that nobody stated, N*m*s/rad."""

    samples: Array

    @property
    def middle(self) -> float:
        return float(np.median(self.samples))

    @property
    def low(self) -> float:
        """Nine in ten lie above."""
        return float(np.quantile(self.samples, 0.1))

    @property
    def high(self) -> float:
        """Nine in ten lie below."""
        return float(np.quantile(self.samples, 0.9))

    def lower_than(self, other: "Band") -> float:
        """Share of the draws in which this bicycle needs less than the other under the same draw."""
        return float(np.mean(self.samples < other.samples))


def draws(
    stated: Mapping[str, float], count: int = SAMPLES, seed: int = 1
) -> list[dict[str, float]]:
    """`count` sets of riding values: each unstated one from a triangle over its range, peak at the usual value.

    The same seed gives the same sets, so that two bicycles are compared under the same ones.
    """
    rng = np.random.default_rng(seed)
    # Drawn for the stated ones too: stating one leaves the draws of the others as they were.
    columns = {
        key: rng.triangular(value.low, value.usual, value.high, count)
        for key, value in RIDING.items()
    }
    sets = []
    for k in range(count):
        sets.append({key: stated.get(key, float(column[k])) for key, column in columns.items()})
    return sets


@dataclass(frozen=True)
class SetUp:
    """A bicycle as it is ridden, with the flexibility of its frame and fork, and a change of its shimmy model.

    fixed : riding values that this set-up has whatever is drawn.
    """

    bicycle: Bicycle
    head: Part
    fork: Part
    change: Callable[[ShimmyBicycle], ShimmyBicycle] | None = None
    masses: PartMasses | None = None
    fixed: Mapping[str, float] = field(default_factory=dict)

    @classmethod
    def of(cls, bicycle: Bicycle) -> "SetUp":
        """With frame and fork condensed from the beam model, the rider aboard."""
        bicycle = bicycle.as_ridden
        return cls(bicycle, frame_give(bicycle), fork_give(bicycle), fixed=rack_gives(bicycle))

    @cached_property
    def tubes(self) -> Pieces:
        """The pieces of frame and fork: the same however it is ridden."""
        return tube_pieces(self.bicycle)

    def model(self, values: Mapping[str, float], hold: Hold = ASKED) -> ShimmyBicycle:
        """The shimmy model under these riding values."""
        taken = {**values, **self.fixed}
        made = bicycle_parameters(
            self.bicycle, self.masses, self.head, self.fork, hold, taken, self.tubes
        )
        if self.change is not None:
            return self.change(made)
        return made

    def need(self, speeds: Sequence[float] | Array = SPEEDS) -> Need:
        """What the hands must supply with every unstated value at its usual one."""
        return hands_need(self.model(settled_riding(self.bicycle.riding)), speeds)

    def band(self, sets: Sequence[Mapping[str, float]]) -> Band:
        """The most that the hands must supply, under each set of riding values (`draws`)."""
        needs = [hands_need(self.model(values), BAND_SPEEDS, strict=False) for values in sets]
        return Band(np.array([need.most for need in needs]))


LOAD = 5.0  # kg of the variations' front load
LOAD_GYRATION = 0.12  # m, a bag's
FIRM = 1.0  # mm that a firm rack gives sideways under the weight of its bags (common practice, no source)
SOFT = 15.0  # mm, a rack whose bags sway about as fast as bicycles wobble
GIVES = (FIRM, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0, 14.0, 16.0, 18.0, 20.0, 22.0, 25.0)  # mm looked at


def variations(usual: SetUp) -> dict[str, SetUp]:
    """One change at a time, each with its size in its name.

    More trail moves the steering axis forward and leaves wheels and masses where they are.
    """

    def moved(millimetres: float) -> SetUp:
        def change(made: ShimmyBicycle) -> ShimmyBicycle:
            return replace(
                made, rigid=replace(made.rigid, trail=made.rigid.trail + millimetres / 1000)
            )

        return replace(usual, change=change)

    def high(made: ShimmyBicycle) -> ShimmyBicycle:
        inertia = LOAD * LOAD_GYRATION**2
        front = made.rigid.front_assembly
        load = RigidBody(LOAD, front.x, front.z, inertia, inertia)
        return replace(made, pieces=(*made.pieces, ("steer", load)))

    loads = usual.bicycle.loads
    heavier = replace(loads, rider_mass=loads.rider_mass + 10)
    packed = replace(loads, rear_luggage=loads.rear_luggage + 10)
    more = loads.front_luggage + LOAD
    changed = {
        "trail +10 mm": moved(10),
        "trail -10 mm": moved(-10),
        f"{LOAD:g} kg more in the front bags, rack firm (gives {FIRM:g} mm)": with_front_bags(
            usual, more, FIRM
        ),
        f"{LOAD:g} kg more in the front bags, rack soft (gives {SOFT:g} mm)": with_front_bags(
            usual, more, SOFT
        ),
        f"{LOAD:g} kg high, at the bar's centre of mass": replace(usual, change=high),
        "10 kg more on the rear rack": replace(usual, bicycle=replace(usual.bicycle, loads=packed)),
        f"{usual.bicycle.plan.riders[0].name} 10 kg heavier": replace(
            usual, bicycle=replace(usual.bicycle, loads=heavier)
        ),
    }
    for rider, mass in usual.bicycle.aboard[1:]:
        placing = {**usual.bicycle.placing, rider.mass: mass + 10}
        changed[f"{rider.name} 10 kg heavier"] = replace(
            usual, bicycle=replace(usual.bicycle, placing=placing)
        )
    for words, factor in (("20 % stiffer", 1.2), ("20 % softer", 0.8)):
        if usual.head is not None:
            changed[f"frame {words}"] = replace(usual, head=usual.head.scaled(factor))
        if usual.fork is not None:
            changed[f"fork {words}"] = replace(usual, fork=usual.fork.scaled(factor))
    for words, factor in (("stiffer", 1.25), ("softer", 0.8)):
        changed[f"tyres {words} sideways (x {factor:g})"] = replace(
            usual, change=_tyres_times(factor)
        )
    return changed


def with_front_bags(usual: SetUp, mass: float, give: float) -> SetUp:
    """With `mass` kg in all in front, on a rack that gives so many mm sideways under the weight of its bags."""
    loads = replace(usual.bicycle.loads, front_luggage=mass)
    bicycle = replace(usual.bicycle, loads=loads)
    return replace(usual, bicycle=bicycle, fixed={**usual.fixed, "front_rack_give": give})


@dataclass(frozen=True)
class RackLimit:
    """How far a front rack may give before its bags ask more of the hands than no bags at all.

    mass : kg of the bags looked at. none : the need without bags in front, N*m*s/rad. needs : with them, on racks that
    give each of `GIVES` mm. limit : mm, the least give at which they ask more than no bags; 0 where they do so however
    firm the rack is, None where they never do.
    """

    mass: float
    none: float
    needs: tuple[float, ...]
    limit: float | None

    @property
    def firm(self) -> float:
        """The need on a firm rack."""
        return self.needs[0]

    @property
    def worst(self) -> tuple[float, float]:
        """(mm, need) of the worst of `GIVES`."""
        k = int(np.argmax(self.needs))
        return GIVES[k], self.needs[k]


def sway_hz(give: float) -> float:
    """Frequency of bags that their own weight, pulled sideways, moves by so many mm: sqrt(g / give) / 2 pi."""
    return float((1000 * G_ACCEL / give) ** 0.5 / (2 * pi))


def rack_limit(usual: SetUp, mass: float | None = None) -> RackLimit:
    """Where front bags turn from calming to harming. mass : kg; default what the sheet has in front, else `LOAD`."""
    values = settled_riding(usual.bicycle.riding)
    carried = mass or usual.bicycle.loads.front_luggage or LOAD

    def need(setup: SetUp) -> float:
        return hands_need(setup.model(values), BAND_SPEEDS).most

    def over(give: float) -> float:
        return need(with_front_bags(usual, carried, give)) - none

    none = need(with_front_bags(usual, 0.0, FIRM))
    more = [over(give) for give in GIVES]
    return RackLimit(carried, none, tuple(none + m for m in more), _first_above(over, more))


def _first_above(over: Callable[[float], float], more: Sequence[float]) -> float | None:
    """The least give, mm, at which `over` rises above nought; `more` is what it is at each of `GIVES`."""
    if more[0] >= 0:
        return 0.0
    for k, value in enumerate(more):
        if value > 0:
            return float(brentq(over, GIVES[k - 1], GIVES[k], xtol=0.05))
    return None


def _tyres_times(factor: float) -> Callable[[ShimmyBicycle], ShimmyBicycle]:
    def change(made: ShimmyBicycle) -> ShimmyBicycle:
        if made.tyres is None:
            return made
        rear, front = (replace(tyre, cornering=tyre.cornering * factor) for tyre in made.tyres)
        return replace(made, tyres=(rear, front))

    return change


LARGER = 3.2  # mm, from one trade size of tube to the next (1/8 in; common practice, no source)


@dataclass(frozen=True)
class TubeStep:
    """A tube one trade size larger: g it adds (left and right of a pair), and the bicycle with it."""

    tube: str
    grams: float
    setup: SetUp


def tube_steps(usual: SetUp) -> tuple[TubeStep, ...]:
    """Every tube one trade size larger with the same walls, one at a time."""
    bicycle = usual.bicycle
    layout = lay_out(bicycle)
    before = mass_table(mesh(bicycle, layout=layout), layout).grams
    steps = []
    for tube in bicycle.tubes:
        tubes = dict(bicycle.tubes) | {tube: bicycle.tubes[tube].scaled(LARGER, 0.0)}
        changed = replace(bicycle, tubes=tubes)
        after = mass_table(mesh(changed), lay_out(changed)).grams
        added = sum(after.values()) - sum(before.values())
        steps.append(TubeStep(tube, added, SetUp.of(changed)))
    return tuple(steps)


# --- the whole study ---------------------------------------------------------------------------------------------
