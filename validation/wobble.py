"""The wobble model held against what lies outside it: limits, closed forms, time, energy.

Everything is worked out anew for the validation page; `lines` are its figures. Tables beside published
studies and the trade: `wobble_tables`.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from math import log, pi, sqrt

import numpy as np
from scipy.integrate import solve_ivp, trapezoid

from ..model.arrays import Array
from ..model.frame.bicycle import Bicycle
from ..model.frame.riding import settled_riding
from ..model.stability.hands import Need, SetUp, hands_need
from ..model.stability.lateral import Joint, LateralModel, Tyre
from ..model.stability.shimmy import Flex, Flexibility, ShimmyBicycle
from ..model.stability.shimmy_setup import RIGID_RIDER
from ..model.stability.whipple import RigidBody, Wheel, WhippleBicycle, lump
from .published import Line

SPEED = 8.0  # m/s, where most bicycles need most
BENCHMARK_2007 = "Meijaard et al. 2007, appendix A (from memory, met above)"


# --- the same physics once more, force by force --------------------------------------------------------------------
def equations(bicycle: ShimmyBicycle, v: float) -> Callable[[float, Array], Array]:
    """d/dt of (joints after yaw, rates, sideways deflections of the two carcasses), from forces and not from matrices.

    Unlike the state matrix this carries each tyre's deflection e, with de/dt = slip velocity - v e / sigma and the
    force k e + d de/dt, and puts every force in by itself. Tyres that slip are needed.
    """
    model = bicycle.model
    n = len(model.joints)
    contacts = [model.contact_rows(w) for w in model.wheels]
    tyres = bicycle.tyres or ()
    inverse = np.linalg.inv(model.mass)

    def rate(_: float, x: Array) -> Array:
        q = np.concatenate([[0.0, 0.0], x[: n - 2]])
        u = x[n - 2 : 2 * n - 2]
        e = x[2 * n - 2 :]
        force = -model.potential @ q - model.dampers @ u
        de = np.empty(2)
        for k, (at, tyre) in enumerate(zip(contacts, tyres, strict=True)):
            load = model.wheel_loads[k]
            # The wheel's own heading against the bicycle's; yaw of the whole slips nothing.
            heading = at.tz[2:] @ q[2:]
            slip = at.s @ u - v * heading
            de[k] = slip - v * e[k] / tyre.relaxation
            side = _side_force(tyre, load, e[k], de[k])
            force += at.s * (side + tyre.camber * load * (at.tx @ q)) - at.tz * (
                tyre.pneumatic_trail * side
            )
        # Gyroscopic moments, and the turning of the axes along which sideways is counted.
        force -= v * model.gyroscopic @ u + v * u[1] * model.mass[:, 0]
        return np.concatenate([u[2:], inverse @ force, de])

    return rate


def _side_force(tyre: Tyre, load: float, deflection: float, rate: float) -> float:
    stiffness = tyre.cornering * load / tyre.relaxation
    return -stiffness * (deflection + tyre.loss_time * rate)


def wobble_start(bicycle: ShimmyBicycle, v: float) -> tuple[complex, Array]:
    """The root in the wobble's band that grows most, and its shape as the state of `equations`."""
    values, shapes = np.linalg.eig(bicycle.state_matrix(v))
    hz = values.imag / (2 * pi)
    # slower ones weave, quicker ones are the frame alone
    k = max(np.flatnonzero((hz > 2.5) & (hz < 15)), key=lambda i: float(values[i].real))
    start = shapes[:, k].copy()
    # The state matrix carries the carcass spring's force, the equations its deflection.
    stiff = [
        tyre.cornering * load / tyre.relaxation
        for tyre, load in zip(bicycle.tyres or (), bicycle.model.wheel_loads, strict=True)
    ]
    start[-2:] /= -np.array(stiff)
    return complex(values[k]), start


def from_decay(bicycle: ShimmyBicycle, v: float, periods: int = 6) -> tuple[float, float]:
    """(growth 1/s, Hz) of the wobble read off a time integration, as one reads them off a record of a ride.

    The growth from the logarithm of successive peaks of the steering angle, the frequency from the times between them.
    """
    root, start = wobble_start(bicycle, v)
    period = 2 * pi / root.imag
    # fine enough for the parabola through the three points about a peak
    times = np.linspace(0, periods * period, 400 * periods + 1)
    solved = solve_ivp(
        equations(bicycle, v), (0, times[-1]), start.real, "Radau", times, rtol=1e-8, atol=1e-11
    )
    steer = solved.y[bicycle.model.names.index("steer") - 2]
    at, height = _peaks(times, np.abs(steer))
    # Two peaks a period: one to either side.
    growth = log(height[-1] / height[0]) / (at[-1] - at[0])
    hz = (len(at) - 1) / 2 / (at[-1] - at[0])
    return growth, hz


def _peaks(times: Array, values: Array) -> tuple[Array, Array]:
    """Times and heights of inner maxima, each from the parabola through three points."""
    k = np.flatnonzero((values[1:-1] > values[:-2]) & (values[1:-1] >= values[2:])) + 1
    below = values[k - 1]
    middle = values[k]
    above = values[k + 1]
    curve = below - 2 * middle + above
    shift = (below - above) / 2 / curve
    return times[k] + shift * (times[1] - times[0]), middle - curve * shift**2 / 2


def energy_over_a_period(bicycle: ShimmyBicycle, v: float) -> tuple[float, float]:
    """(work of tyres, dampers and axes that turn, gain of kinetic and elastic energy) over one period of the wobble.

    Started in the wobble's shape with its steering at 0.02 rad; joule. The gain is a difference of states, the work a
    quadrature of every power along the way.
    """
    model = bicycle.model
    n = len(model.joints)
    root, start = wobble_start(bicycle, v)
    steer = start[model.names.index("steer") - 2]
    # the size changes nothing in linear equations, but keeps the joules readable
    first = (0.02 * start / steer).real
    period = 2 * pi / root.imag
    times = np.linspace(0, period, 2001)
    rate = equations(bicycle, v)
    solved = solve_ivp(rate, (0, period), first, "Radau", times, rtol=1e-9, atol=1e-13)
    powers = [_power(bicycle, v, x, rate(0.0, x)) for x in solved.y.T]
    energy = []
    for x in (solved.y[:, 0], solved.y[:, -1]):
        # where it is on the road and where it heads store nothing
        q = np.concatenate([[0.0, 0.0], x[: n - 2]])
        u = x[n - 2 : 2 * n - 2]
        energy.append(float(u @ model.mass @ u / 2 + q @ model.potential @ q / 2))
    return float(trapezoid(powers, times)), energy[1] - energy[0]


def _power(bicycle: ShimmyBicycle, v: float, x: Array, rate: Array) -> float:
    model = bicycle.model
    n = len(model.joints)
    q = np.concatenate([[0.0, 0.0], x[: n - 2]])
    u = x[n - 2 : 2 * n - 2]
    # dampers take, whichever way they are moved
    done = -u @ model.dampers @ u
    for k, (wheel, tyre) in enumerate(zip(model.wheels, bicycle.tyres or (), strict=True)):
        at = model.contact_rows(wheel)
        load = model.wheel_loads[k]
        side = _side_force(tyre, load, x[2 * n - 2 + k], rate[2 * n - 2 + k])
        camber = tyre.camber * load * (at.tx @ q)
        done += (side + camber) * (at.s @ u) - tyre.pneumatic_trail * side * (at.tz @ u)
    # Sideways is counted along a turning axis: v times yaw rate is its change, and does work.
    return float(done - v * u[1] * (model.mass[0] @ u))


@dataclass(frozen=True)
class Swing:
    """One mode: root 1/s and shape as the state of the state matrix, steering at 1 rad."""

    bicycle: ShimmyBicycle
    root: complex
    shape: Array

    @property
    def yaw(self) -> float:
        """Of the whole bicycle, over the steering."""
        joints = len(self.bicycle.model.joints)
        return float(abs(self.shape[joints - 1] / self.root))

    @property
    def tyre_powers(self) -> tuple[float, float]:
        """What rear and front tyre feed in, mean over a period, W per rad^2 of steering; below zero they swallow."""
        model = self.bicycle.model
        n = len(model.joints)
        q = np.concatenate([[0.0, 0.0], self.shape[: n - 2]])
        u = self.shape[n - 2 : 2 * n - 2]
        found = []
        for k, (wheel, tyre) in enumerate(zip(model.wheels, self.bicycle.tyres or (), strict=True)):
            at = model.contact_rows(wheel)
            side = self.shape[2 * n - 2 + k] * (1 + self.root * tyre.loss_time)
            camber = tyre.camber * model.wheel_loads[k] * (at.tx @ q)
            force = (side + camber) * np.conj(at.s @ u)
            turning = tyre.pneumatic_trail * side * np.conj(at.tz @ u)
            found.append(float((force - turning).real / 2))
        return found[0], found[1]


def swinging(bicycle: ShimmyBicycle, damping: float, v: float, hz: float) -> Swing:
    """The mode at a speed and frequency, with hands that damp so much."""
    damped = replace(bicycle, steering_damping=damping)
    values, shapes = np.linalg.eig(damped.state_matrix(v))
    k = int(np.argmin(np.abs(values - _root(bicycle, damping, v, hz))))
    steer = damped.model.names.index("steer") - 2
    return Swing(damped, complex(values[k]), shapes[:, k] / shapes[steer, k])


# --- smaller models ------------------------------------------------------------------------------------------------
def without_lag(bicycle: ShimmyBicycle, v: float) -> Array:
    """Roots of the model in which side slip makes its force at once: no tyre states, F = -C (slip velocity / v)."""
    model = bicycle.model
    tyres = bicycle.tyres or ()
    slip, turn = model.slip_rows
    loads = np.array(model.wheel_loads)
    contacts = [model.contact_rows(w) for w in model.wheels]
    lean = np.array([at.tx for at in contacts])
    yaw = np.array([at.tz for at in contacts])
    lever = np.array([tyre.pneumatic_trail for tyre in tyres])
    push = slip.T - yaw.T * lever
    cornering = np.diag([tyre.cornering for tyre in tyres] * loads)
    camber = np.diag([tyre.camber for tyre in tyres] * loads)
    stiff = model.potential - slip.T @ camber @ lean - push @ cornering @ turn
    damp = model.dampers + v * (model.gyroscopic + model.mass @ model.heading)
    # without a lag the side slip is a speed over a speed, so tyres damp less the faster it goes
    damp = damp + push @ cornering @ slip / v
    n = len(model.joints)
    lower = np.linalg.solve(model.mass, np.hstack([-stiff[:, 2:], -damp]))
    upper = np.hstack([np.zeros((n - 2, n)), np.eye(n - 2)])
    return np.asarray(np.linalg.eigvals(np.vstack([upper, lower])))


def without_joint(model: LateralModel, name: str) -> LateralModel:
    """The model in which one joint cannot move."""
    bodies = []
    for body in model.bodies:
        bodies.append(replace(body, joints=tuple(one for one in body.joints if one != name)))
    joints = tuple(joint for joint in model.joints if joint.name != name)
    # springs and dampers couple pairs of joints: what a fixed joint shares in does no work
    stiffness = {pair: value for pair, value in model.stiffness.items() if name not in pair}
    damping = {pair: value for pair, value in model.damping.items() if name not in pair}
    return LateralModel(joints, tuple(bodies), stiffness, damping, model.gravity)


def all_stiff(usual: SetUp) -> tuple[ShimmyBicycle, WhippleBicycle]:
    """A builder's bicycle in which nothing gives and no wheel slips, and the 2007 bicycle of its lumped bodies."""
    made = replace(usual, head=None, fork=None).model({**RIDING_USUAL, **usual.fixed}, RIGID_RIDER)
    bags = [piece for rack in made.racks for piece in rack.bodies]
    pieces = (*made.pieces, *bags)
    stiff = replace(made, racks=(), pieces=pieces, wheel_tilt=(None, None), tyres=None)
    steering = [body for place, body in pieces if place in ("steer", "fork")]
    others = [body for place, body in pieces if place not in ("steer", "fork")]
    whipple = replace(
        made.rigid,
        rear_body=lump(made.rigid.rear_body, *others),
        front_assembly=lump(made.rigid.front_assembly, *steering),
    )
    return stiff, whipple


RIDING_USUAL = settled_riding({})


@dataclass(frozen=True)
class Caster:
    """A rolling wheel that cannot slip, on an upright pivot that gives sideways: the textbook's shimmy.

    trail m, stiffness of the pivot N/m, mass kg of what steers, behind m: its centre of mass behind the pivot (ahead:
    below zero), gyration m about its centre of mass, pivot_mass kg that the pivot carries along.

    With y the pivot's sideways movement, t the wheel's angle and no slip, y' = a t' + v t; moments about the contact:

        (a M - m b) y" + (I - m a b) t" + c t' + k a y = 0,  M all mass that moves sideways, I about the pivot,

    a cubic in s, whose pair of roots turns steady (Routh) at c = v (I / a - m b), with omega^2 = k a^2 /
    (a^2 M - 2 a b m + I).
    Den Hartog, Mechanical Vibrations, 4th ed. 1956, has this caster (from memory); the algebra is done here.
    """

    trail: float = 0.06
    stiffness: float = 4.0e4
    mass: float = 6.0
    behind: float = 0.02
    gyration: float = 0.15
    pivot_mass: float = 8.0

    @property
    def inertia(self) -> float:
        """About the pivot, kg m^2."""
        return self.mass * (self.gyration**2 + self.behind**2)

    def damping(self, v: float) -> float:
        """What holds it steady, N*m*s/rad."""
        return v * (self.inertia / self.trail - self.mass * self.behind)

    @property
    def hz(self) -> float:
        """At the limit of steadiness."""
        a = self.trail
        moved = a**2 * (self.mass + self.pivot_mass)
        moved += self.inertia - 2 * a * self.behind * self.mass
        return float(sqrt(self.stiffness * a**2 / moved) / (2 * pi))

    @property
    def bicycle(self) -> ShimmyBicycle:
        """The same as a limit of the wobble model: a rear body that cannot move, a head that slides, hard tyres."""
        base = 1.0
        pivot = base + self.trail
        steering = RigidBody(
            self.mass, pivot - self.behind, -0.3, 1e-9, self.mass * self.gyration**2
        )
        heavy = RigidBody(1e7, 0.0, -0.8, 1e9, 1e9)
        carried = RigidBody(self.pivot_mass, pivot, -0.5, 0.0, 0.0)
        slide = Flexibility((Joint("head slide", None),), np.array([[1 / self.stiffness]]), 0.0)
        hard = Tyre(
            cornering=1e7, camber=0.0, relaxation=1e-3, pneumatic_trail=0.0, loss_factor=0.0
        )
        massless = Wheel(0.34, 1e-9, 1e-9, 1e-9)
        rigid = WhippleBicycle(base, self.trail, 0.0, massless, heavy, steering, massless)
        return ShimmyBicycle(rigid, slide, None, (("head", carried),), tyres=(hard, hard))

    def slipping(self, cornering: float, relaxation: float) -> ShimmyBicycle:
        """That limit with a front tyre that slips: side force N per radian, relaxation length m."""
        hard = self.bicycle
        load = hard.model.wheel_loads[1]
        soft = Tyre(cornering / load, 0.0, relaxation, 0.0, 0.0)
        assert hard.tyres is not None
        return replace(hard, tyres=(hard.tyres[0], soft))

    def roots(self, v: float, cornering: float, relaxation: float) -> Array:
        """Roots 1/s of the caster with such a tyre, from its own five equations.

        With the side force F at the contact, s the relaxation length and C the cornering stiffness:

            M y" - m b t" + k y = F,   I t" - m b y" = -a F,   s F' + v F = -C (y' - a t' - v t)
        """
        m = self.mass
        b = self.behind
        a = self.trail
        moved = np.array([[m + self.pivot_mass, -m * b], [-m * b, self.inertia]])
        # over y, t, y', t', F
        forces = np.array([[-self.stiffness, 0, 0, 0, 1.0], [0, 0, 0, 0, -a]])
        slip = np.array([0, -v, 1.0, -a, 0])
        tyre = -cornering * slip / relaxation
        tyre[4] -= v / relaxation
        rates = np.eye(5)[2:4]
        return np.linalg.eigvals(np.vstack([rates, np.linalg.solve(moved, forces), tyre]))


# --- the figures ---------------------------------------------------------------------------------------------------
def lines(bicycle: Bicycle) -> Iterator[Line]:
    """Every check of the chapter, solved on the spot for a bicycle."""
    usual = SetUp.of(bicycle)
    values = settled_riding(bicycle.riding)
    made = usual.model(values)
    yield from _rigid_limits(usual)
    yield from _small_models(made)
    yield from _locked_rider(made)
    yield from _casters()
    yield from _slipping_casters()
    yield from _in_time(made)
    # Half as stiff it needs hands; as it stands it has to spare.
    soft = replace(usual, head=_half(usual.head)).model(values)
    for words, one in (("frame half as stiff", soft), ("as it stands", made)):
        need = hands_need(one, (SPEED,))
        yield Line(
            f"damping asked for, {words}, N·m·s/rad",
            "eigenvalues of the whole system, which the need never looks at",
            found_again(one, need),
            need.most,
            1e-4,
        )
        root = _root(one, max(need.most, 0.0), SPEED, float(need.hz[0]))
        yield Line(
            f"frequency asked for, {words}, Hz",
            "the same",
            root.imag / (2 * pi),
            float(need.hz[0]),
            1e-4,
        )


def _half(part: Flex | Flexibility | None) -> Flex | Flexibility | None:
    if part is None:
        return None
    return part.scaled(0.5)


_FROM_THERE = 1e-4  # N*m*s/rad, between two eigenvalues whose difference tells what damping does


def found_again(bicycle: ShimmyBicycle, need: Need) -> float:
    """The most that the hands must supply, from eigenvalues at its speed and frequency.

    Where hands are needed, there with all they must supply and a little more; else with none and a little: the damping
    at which the root would neither grow nor die, along its tangent.
    """
    c = max(need.most, 0.0)
    hz = float(need.hz[need.worst])
    here = _root(bicycle, c, need.at, hz).real
    there = _root(bicycle, c + _FROM_THERE, need.at, hz).real
    return c - here * _FROM_THERE / (there - here)


def _root(bicycle: ShimmyBicycle, damping: float, v: float, hz: float) -> complex:
    """The root nearest to a steady oscillation of a frequency."""
    values = replace(bicycle, steering_damping=damping).eigenvalues(v)
    swings = values[np.abs(values.imag / (2 * pi * hz) - 1) < 0.05]
    return complex(swings[np.argmax(swings.real)])


def _rigid_limits(usual: SetUp) -> Iterator[Line]:
    stiff, whipple = all_stiff(usual)
    for v in (3.0, 6.0, 9.0):
        got = stiff.eigenvalues(v)
        expected = whipple.eigenvalues(v)
        yield Line(
            f"all stiff, no slip, {v:g} m/s: fastest root, 1/s",
            BENCHMARK_2007,
            float(expected[0].real),
            float(got[0].real),
            1e-8 * abs(expected[0]),
        )
        yield Line(
            f"all stiff, no slip, {v:g} m/s: largest difference of the four roots, 1/s",
            BENCHMARK_2007,
            0.0,
            float(np.max(np.abs(got - expected))),
            1e-7,
        )


def _small_models(made: ShimmyBicycle) -> Iterator[Line]:
    quick = tuple(replace(tyre, relaxation=1e-7, loss_factor=0.0) for tyre in made.tyres or ())
    at_once = replace(made, tyres=(quick[0], quick[1]))
    yield from _same_root(
        "no tyre lag", "steady side force, no tyre states", at_once, without_lag(at_once, SPEED)
    )
    held = replace(made, rider=None, steering_damping=1e9)
    assert made.tyres is not None
    without = without_joint(replace(made, rider=None).model, "steer")
    small = np.asarray(np.linalg.eigvals(without.tyre_state(SPEED, made.tyres)))
    yield from _same_root("hands that hold fast", "no steering joint", held, small)


def _same_root(
    what: str, source: str, full: ShimmyBicycle, small: Array, near: float = 2 * pi * 5
) -> Iterator[Line]:
    """The slow oscillation of the smaller model beside the full model's nearest root."""
    swinging = small[(small.imag > 2 * pi) & (np.abs(small) < 200)]
    expected = swinging[np.argmin(np.abs(np.abs(swinging) - near))]
    values = full.eigenvalues(SPEED)
    got = values[np.argmin(np.abs(values - expected))]
    for part, one, other in (
        ("growth, 1/s", expected.real, got.real),
        ("1/s round", expected.imag, got.imag),
    ):
        yield Line(f"{what}: {part}", source, float(one), float(other), 1e-3 * abs(expected))


def _locked_rider(made: ShimmyBicycle) -> Iterator[Line]:
    """A hip too stiff to lean, a spine too stiff to twist: the body moves without that joint."""
    rider = made.rider
    if rider is None or rider.twist is None:
        return
    straight = replace(rider, stiffness=1e9)
    square = replace(rider, twist=replace(rider.twist, stiffness=1e9))
    assert made.tyres is not None
    for what, joint, stiff in (
        ("rider's hip locked", "rider lean", straight),
        ("rider's spine locked", "rider twist", square),
    ):
        # The arms act against the upper body; what it cannot do is not in the smaller model either.
        without = without_joint(made.model, joint)
        small = np.asarray(np.linalg.eigvals(without.tyre_state(SPEED, made.tyres)))
        yield from _same_root(what, f"no joint '{joint}'", replace(made, rider=stiff), small)


def _casters() -> Iterator[Line]:
    source = "caster with a pivot that gives, Den Hartog 1956 (from memory), algebra here"
    for words, caster in (
        ("centre of mass at the pivot", Caster(behind=0.0)),
        ("20 mm behind it", Caster()),
        ("40 mm ahead of it", Caster(behind=-0.04)),
        ("twice the inertia", Caster(gyration=0.15 * sqrt(2.0))),
    ):
        for v in (4.0, 10.0):
            need = hands_need(caster.bicycle, (v,))
            expected = caster.damping(v)
            yield Line(
                f"caster, {words}, {v:g} m/s: needed, N·m·s/rad",
                source,
                expected,
                float(need.damping[0]),
                2e-4 * abs(expected),
            )
        yield Line(f"caster, {words}: Hz", source, caster.hz, float(need.hz[0]), 2e-4 * caster.hz)


def _slipping_casters() -> Iterator[Line]:
    """The point where a wobble begins: steering on a pivot that gives, and a tyre that builds its force up."""
    caster = Caster()
    source = "caster with a tyre, five equations of its own, algebra here"
    for cornering, relaxation in ((4000.0, 0.1), (4000.0, 0.25), (1500.0, 0.1)):
        tyre = f"{cornering:g} N/rad, {1000 * relaxation:g} mm"
        for v in (4.0, 10.0):
            small = caster.roots(v, cornering, relaxation)
            expected = small[np.argmax(small.imag)]
            values = caster.slipping(cornering, relaxation).eigenvalues(v)
            got = values[np.argmin(np.abs(values - expected))]
            for part, one, other in (
                ("growth, 1/s", expected.real, got.real),
                ("Hz", expected.imag / (2 * pi), got.imag / (2 * pi)),
            ):
                yield Line(
                    f"caster with a tyre of {tyre}, {v:g} m/s: {part}",
                    source,
                    float(one),
                    float(other),
                    1e-3 * abs(float(one)),
                )


def _in_time(made: ShimmyBicycle) -> Iterator[Line]:
    for damping in (0.0, 2.0):
        one = replace(made, steering_damping=damping)
        root, _ = wobble_start(one, SPEED)
        growth, hz = from_decay(one, SPEED)
        said = f"arms that damp {damping:g} N·m·s/rad"
        yield Line(
            f"root from the decay in time, {said}: growth, 1/s",
            "eigenvalue of the state matrix",
            root.real,
            growth,
            5e-3,
        )
        yield Line(
            f"root from the decay in time, {said}: Hz",
            "eigenvalue of the state matrix",
            root.imag / (2 * pi),
            hz,
            1e-3,
        )
        work, gain = energy_over_a_period(one, SPEED)
        yield Line(
            f"energy over one period, {said}: gained, J",
            "work of tyres and dampers, by quadrature",
            work,
            gain,
            1e-4 * abs(work),
        )
