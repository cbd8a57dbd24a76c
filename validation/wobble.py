"""The wobble model held against what lies outside it: limits, smaller models, closed forms, time, energy.

Everything is worked out anew for the validation page; `lines` are its figures. Tables beside published
studies and the trade: `wobble_tables`.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import pi, sqrt

import numpy as np

from ..model.arrays import Array
from ..model.frame.bicycle import Bicycle
from ..model.frame.riding import settled_riding
from ..model.stability.flexibility import Flex, Flexibility
from ..model.stability.hands import Need, SetUp, hands_need
from ..model.stability.lateral import LateralModel
from ..model.stability.shimmy import ShimmyBicycle
from ..model.stability.shimmy_setup import RIGID_RIDER
from ..model.stability.whipple import WhippleBicycle, lump
from .caster import Caster
from .published import Line
from .wobble_in_time import energy_over_a_period, from_decay, wobble_start

SPEED = 8.0  # m/s, where most bicycles need most
BENCHMARK_2007 = "Meijaard et al. 2007, appendix A (from memory, met above)"


# --- one mode -----------------------------------------------------------------------------------------------------


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
