"""The flexible bicycle: its limits, its identities, and an independent derivation of its stiffness and mass.

Published here: the rigid limit (Meijaard et al. 2007, see test_whipple). Plausibility only: shimmy at 4-10 Hz
(friendlywiki "Speed wobble"), frequency nearly independent of speed and onset very sensitive to the frame's
torsional stiffness (Tomiati, Colombo & Magnani 2019, abstract). Everything else checks the model against itself
or against exact kinematics written separately in this file.
"""

from collections.abc import Callable
from dataclasses import replace
from math import cos, pi, sin

import numpy as np
import pytest
from droptrail.model.arrays import Array
from droptrail.model.errors import ModelError
from droptrail.model.stability.flexibility import Flex, Flexibility
from droptrail.model.stability.lateral import Carried, Joint, LateralModel, Tyre
from droptrail.model.stability.rider import LeaningRider
from droptrail.model.stability.shimmy import ShimmyBicycle
from droptrail.model.stability.speed_map import (
    shimmy_study,
    speed_map,
    standard_variations,
    with_front_load,
)
from droptrail.model.stability.whipple import BENCHMARK, RigidBody, Wheel, lump
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import fsolve
from scipy.spatial.transform import Rotation

POINT = (0.85, -0.8)
RIGID = ShimmyBicycle(BENCHMARK, tyres=None)
SLIPPING = ShimmyBicycle(BENCHMARK, head=Flex(POINT, 1 / 4000))
RIDER = LeaningRider(RigidBody(40, 0.3, -1.2, 3, 1, 0.2), 0.95, 900.0, 40.0)
FULL = ShimmyBicycle(
    BENCHMARK,
    Flex(POINT, 1 / 4000, 4e-6, 2e-5),
    Flexibility(
        (
            Joint("fork slide", None),
            Joint("fork twist", (sin(pi / 10), cos(pi / 10)), (1.02, -0.35)),
        ),
        np.array([[1e-5, 1e-5], [1e-5, 1 / 3000]]),
    ),
    rider=RIDER,
    pieces=(("head", RigidBody(1.0, 0.8, -0.8, 0.01, 0.01, 0.002)),),
    wheel_tilt=(9000.0, 8000.0),
    steering_damping=0.7,
    steering_stiffness=2.0,
)


def sorted_values(values: Array) -> Array:
    return values[np.lexsort((np.round(values.imag, 6), np.round(values.real, 6)))]


# --- limits -------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("v", range(11))
def test_rigid_frame_without_slip_is_the_benchmark(v: int) -> None:
    mass, damp, stiff = RIGID.model.rolling(v)
    paper = BENCHMARK.matrices
    np.testing.assert_allclose(mass, paper.M, rtol=0, atol=1e-12)
    np.testing.assert_allclose(damp, v * paper.C1, rtol=0, atol=1e-11)
    np.testing.assert_allclose(stiff, paper.g * paper.K0 + v**2 * paper.K2, rtol=0, atol=1e-10)
    np.testing.assert_allclose(
        RIGID.eigenvalues(v), BENCHMARK.eigenvalues(v), rtol=1e-10, atol=1e-10
    )


@settings(deadline=None, max_examples=25)
@given(
    st.floats(0.9, 1.3),
    st.floats(-0.05, 0.15),
    st.floats(0.05, 0.6),
    st.floats(0.2, 0.4),
    st.floats(0, 12),
)
def test_rigid_limit_for_other_bicycles(
    wheelbase: float, trail: float, tilt: float, radius: float, v: float
) -> None:
    bicycle = replace(
        BENCHMARK,
        wheelbase=wheelbase,
        trail=trail,
        tilt=tilt,
        front_wheel=Wheel(radius, 2, 0.1, 0.18),
    )
    _, damp, stiff = ShimmyBicycle(bicycle, tyres=None).model.rolling(v)
    paper = bicycle.matrices
    np.testing.assert_allclose(damp, v * paper.C1, rtol=0, atol=1e-10)
    np.testing.assert_allclose(stiff, paper.g * paper.K0 + v**2 * paper.K2, rtol=0, atol=1e-9)


def error_in_rigid_modes(bicycle: ShimmyBicycle, v: float) -> float:
    """Largest relative distance from a benchmark eigenvalue to the nearest of this bicycle's."""
    values = bicycle.eigenvalues(v)
    return max(np.min(np.abs(values - exact)) / abs(exact) for exact in BENCHMARK.eigenvalues(v))


@pytest.mark.parametrize(
    "stiff",
    [
        lambda f: ShimmyBicycle(BENCHMARK, head=Flex(POINT, 1 / (4000 * f)), tyres=None),
        lambda f: ShimmyBicycle(BENCHMARK, fork=Flex(POINT, 1 / (4000 * f), 1e-5 / f), tyres=None),
        lambda f: ShimmyBicycle(BENCHMARK, tyres=(Tyre(10 * f, 0.5, 0.1, 0.0, 0.0),) * 2),
        lambda f: ShimmyBicycle(
            BENCHMARK,
            head=Flex(POINT, 1 / (4000 * f)),
            tyres=(Tyre(10 * f, 0.5, 0.1, 0.0, 0.0),) * 2,
        ),
    ],
    ids=["head", "fork", "tyres", "head and tyres"],
)
@pytest.mark.parametrize("v", [2.0, 5.0, 8.0])
def test_stiffening_converges_to_the_benchmark_at_first_order(
    stiff: Callable[[float], ShimmyBicycle], v: float
) -> None:
    """Error falls tenfold with tenfold stiffness (it is linear in the compliance) and ends below 1e-6."""
    errors = [error_in_rigid_modes(stiff(10.0**k), v) for k in (3, 4, 5, 6)]
    orders = np.log10(np.array(errors[:-1]) / np.array(errors[1:]))
    np.testing.assert_allclose(orders[:2], 1.0, atol=0.05)
    assert errors[-1] < 1e-6


def test_a_locked_lean_of_the_rider_is_a_rigid_rider() -> None:
    body = RIDER.body
    rigid = ShimmyBicycle(BENCHMARK, rider=replace(RIDER, stiffness=1e12))
    for v in (2.0, 8.0):
        joined = ShimmyBicycle(replace(BENCHMARK, rear_body=lump(BENCHMARK.rear_body, body)))
        slow = [value for value in rigid.eigenvalues(v) if abs(value) < 1e4]
        np.testing.assert_allclose(
            sorted_values(np.array(slow)), sorted_values(joined.eigenvalues(v)), rtol=1e-5
        )


def test_a_hinge_seen_from_another_point() -> None:
    """A plain hinge is the same part as slide + turn + coupling taken at another point of the frame's plane.

    Without gravity: a slide is straight, so the drop of the other point on its arc (turn^2 / 2) is left out, a
    difference of weight x lever against the stiffness, under 0.4 % of an eigenvalue here.
    """
    tilt, turn, other = BENCHMARK.tilt, 1 / 4000, (0.80, -0.95)
    moved = -sin(tilt) * (other[0] - POINT[0]) - cos(tilt) * (
        other[1] - POINT[1]
    )  # sideways per turn there
    same = Flex(other, turn, turn * moved**2 + 1e-11, turn * moved)
    weightless = replace(SLIPPING, rigid=replace(BENCHMARK, g=1e-12), tyres=None)
    for v in (3.0, 12.0):
        plain, seen = weightless.eigenvalues(v), replace(weightless, head=same).eigenvalues(v)
        for value in plain[np.abs(plain) > 1e-3]:
            assert np.min(np.abs(seen - value)) < 1e-6 * abs(value)
    wrong = replace(same, coupling=-same.coupling)
    assert min(np.abs(replace(weightless, head=wrong).eigenvalues(3.0) - plain[0])) > 1e-2
    slipping = replace(SLIPPING, tyres=(Tyre(loss_factor=0.0),) * 2)
    for value in slipping.eigenvalues(12.0):
        assert np.min(np.abs(replace(slipping, head=same).eigenvalues(12.0) - value)) < 4e-3 * abs(
            value
        )


# --- exact kinematics, written on its own ----------------------------------------------------------------------
def chain(model: LateralModel, body: Carried, q: Array) -> list[tuple[Array, Array, Array]]:
    """(rotation, point, shift) of every joint the body rides on, outermost first, for finite joint angles."""
    names = ("sideways", "yaw", "lean", *body.joints)
    steps = []
    for joint, value in zip(model.joints, q, strict=True):
        if joint.name not in names:
            continue
        if joint.axis is None:
            steps.append((np.eye(3), np.zeros(3), np.array([0.0, value, 0.0])))
        else:
            axis = np.array([joint.axis[0], 0.0, joint.axis[1]])
            steps.append(
                (
                    Rotation.from_rotvec(axis * value).as_matrix(),
                    np.array([joint.point[0], 0.0, joint.point[1]]),
                    np.zeros(3),
                )
            )
    return steps


def placed(model: LateralModel, body: Carried, q: Array) -> tuple[Array, Array]:
    """Exact position of the centre of mass and rotation of the body."""
    position, turned = np.array([body.centre[0], 0.0, body.centre[1]]), np.eye(3)
    for rotation, point, shift in reversed(chain(model, body, q)):
        position = rotation @ (position - point) + point + shift
        turned = rotation @ turned
    return position, turned


def lowest(model: LateralModel, wheel: Carried, q: Array, pitch: float) -> float:
    """Height z (down) of the wheel's lowest point after a pitch of the whole bicycle."""
    assert isinstance(wheel.body, Wheel)
    centre, turned = placed(model, wheel, q)
    tip = Rotation.from_rotvec([0, pitch, 0]).as_matrix()
    axle = tip @ turned @ np.array([0, 1.0, 0])
    return float((tip @ centre)[2] + wheel.body.radius * np.sqrt(1 - axle[2] ** 2))


def exact_potential(bicycle: ShimmyBicycle, q: Array) -> float:
    """Energy of weight and springs with both wheels set on the road by heave and pitch, solved exactly."""
    model = bicycle.model
    rear, front = model.wheels

    def gaps(x: Array) -> list[float]:
        return [lowest(model, rear, q, x[1]) + x[0], lowest(model, front, q, x[1]) + x[0]]

    heave, pitch = fsolve(gaps, [0.0, 0.0], xtol=1e-14)
    tip = Rotation.from_rotvec([0, pitch, 0]).as_matrix()
    weight = sum(b.mass * ((tip @ placed(model, b, q)[0])[2] + heave) for b in model.bodies)
    stiffness = np.zeros((len(q), len(q)))
    for (a, b), value in model.stiffness.items():
        stiffness[model.names.index(a), model.names.index(b)] = value
    return float(-model.gravity * weight + q @ stiffness @ q / 2)


@pytest.mark.parametrize("bicycle", [SLIPPING, FULL], ids=["head hinge", "everything"])
def test_stiffness_is_the_curvature_of_the_exact_energy(bicycle: ShimmyBicycle) -> None:
    """Independent of the second-order heights in `lateral`: finite rotations, contact solved, differenced."""
    n, h = len(bicycle.model.joints), 1e-3
    units = np.eye(n) * h
    got = np.array(
        [
            [
                (
                    exact_potential(bicycle, a + b)
                    - exact_potential(bicycle, a - b)
                    - exact_potential(bicycle, b - a)
                    + exact_potential(bicycle, -a - b)
                )
                / (4 * h * h)
                for b in units
            ]
            for a in units
        ]
    )
    expected = bicycle.model.potential
    np.testing.assert_allclose(got, expected, rtol=2e-5, atol=2e-3)
    assert np.abs(expected - np.diag(np.diag(expected))).max() > 100  # the couplings are not empty


def test_mass_is_that_of_the_exact_motion() -> None:
    """Kinetic energy of single and paired unit rates from differenced exact positions and rotations."""
    model, h = FULL.model, 1e-6
    n = len(model.joints)

    def energy(rate: Array) -> float:
        total = 0.0
        for body in model.bodies:
            (p1, r1), (p0, r0) = placed(model, body, rate * h), placed(model, body, -rate * h)
            velocity = (p1 - p0) / (2 * h)
            spin = Rotation.from_matrix(r1 @ r0.T).as_rotvec() / (2 * h)
            xx, xz, zz = body.inertia
            inertia = np.array([[xx, 0, xz], [0, 0, 0], [xz, 0, zz]])
            total += body.mass * velocity @ velocity / 2 + spin @ inertia @ spin / 2
        return float(total)

    units = np.eye(n)
    got = np.array([[(energy(a + b) - energy(a - b)) / 2 for b in units] for a in units])
    np.testing.assert_allclose(got, model.mass, rtol=1e-6, atol=1e-7)


# --- identities -------------------------------------------------------------------------------------------------
def test_matrices_are_symmetric_and_the_gyroscopic_one_is_skew() -> None:
    model = FULL.model
    np.testing.assert_allclose(model.mass, model.mass.T, atol=1e-12)
    np.testing.assert_allclose(model.potential, model.potential.T, atol=1e-9)
    np.testing.assert_allclose(model.gyroscopic, -model.gyroscopic.T, atol=1e-15)
    assert np.linalg.eigvalsh(model.mass).min() > 0
    assert np.abs(model.gyroscopic).max() > 0.1


def without_losses(bicycle: ShimmyBicycle) -> ShimmyBicycle:
    lossless = [
        None if f is None else replace(f, damping_ratio=0.0) for f in (bicycle.head, bicycle.fork)
    ]
    rider = None if bicycle.rider is None else replace(bicycle.rider, damping=0.0)
    tyre = Tyre(camber=0.0, pneumatic_trail=0.0, loss_factor=0.0)
    return replace(
        bicycle,
        head=lossless[0],
        fork=lossless[1],
        rider=rider,
        tyres=(tyre, tyre),
        steering_damping=0.0,
    )


def test_standing_still_without_losses_keeps_its_energy() -> None:
    """At v = 0 the tyres are springs: squares of the eigenvalues are real, values come in pairs + and -."""
    values = without_losses(FULL).eigenvalues(0.0)
    moving = values[np.abs(values) > 1e-3]
    np.testing.assert_allclose((moving**2).imag, 0.0, atol=1e-5 * np.abs(moving).max() ** 2)
    for value in moving:
        assert np.min(np.abs(moving + value)) < 1e-6 * abs(value) + 1e-6
    with_loss = FULL.eigenvalues(0.0)
    assert max(abs((with_loss**2).imag)) > 10


@settings(deadline=None, max_examples=20)
@given(seed=st.integers(0, 10**6), v=st.floats(0, 20))
def test_energy_changes_only_by_the_work_of_tyres_and_dampers(seed: int, v: float) -> None:
    """dE/dt = side force x sideways velocity of the contact + twist - dampers, at any state and speed."""
    model, tyres = FULL.model, FULL.tyres
    assert tyres is not None
    n = len(model.joints)
    q = n - 2
    x = np.random.default_rng(seed).normal(size=q + n + 2)
    rate = FULL.state_matrix(v) @ x
    joints, u = np.concatenate([[0, 0], x[:q]]), x[q : q + n]
    # carcass spring, and the damper beside it
    slip_force = x[q + n :] + np.array([t.loss_time for t in tyres]) * rate[q + n :]
    acceleration = (
        rate[q : q + n] + v * np.eye(n)[0] * u[1]
    )  # in fixed axes, seen at the instant the heading is zero
    gained = u @ model.mass @ acceleration + joints @ model.potential @ u
    work = -u @ model.dampers @ u
    for k, wheel in enumerate(model.wheels):
        at = model.contact_rows(wheel)
        camber = tyres[k].camber * model.wheel_loads[k] * (at.tx @ joints)
        work += (slip_force[k] + camber) * (at.s @ u) - tyres[k].pneumatic_trail * slip_force[k] * (
            at.tz @ u
        )
    assert gained == pytest.approx(work, rel=1e-9, abs=1e-6)


def test_a_rolling_tyre_settles_to_its_steady_side_force() -> None:
    """Held at a steady side slip the force is -cornering x load x slip angle, reached as exp(-distance / sigma)."""
    v, model = 5.0, SLIPPING.model
    tyre = Tyre(cornering=12.0, relaxation=0.25)
    state = model.tyre_state(v, (tyre, tyre))
    n = len(model.joints)
    row, sideways, force = state[-1], n - 2, state.shape[0] - 1
    slip_angle = 0.01
    steady = -row[sideways] * slip_angle * v / row[force]
    assert steady == pytest.approx(-12.0 * model.wheel_loads[1] * slip_angle, rel=1e-12)
    assert -row[force] * 0.25 == pytest.approx(v, rel=1e-12)


def test_wheel_loads_carry_the_weight() -> None:
    rear, front = FULL.model.wheel_loads
    weight = sum(b.mass for b in FULL.model.bodies) * 9.81
    assert rear + front == pytest.approx(weight, rel=1e-12)
    ahead = replace(FULL, rigid=replace(FULL.rigid, rear_body=replace(FULL.rigid.rear_body, x=0.5)))
    assert ahead.model.wheel_loads[1] - front == pytest.approx(85 * 9.81 * 0.2 / 1.02, rel=1e-9)


# --- the wobble --------------------------------------------------------------------------------------------------
SPEEDS = np.arange(2.0, 20.1, 1.0)


def test_wobble_is_followed_without_a_jump() -> None:
    seen = speed_map(SLIPPING, np.arange(1.0, 20.05, 0.25))
    assert np.all(np.isfinite(seen.frequency_hz))
    assert np.abs(np.diff(seen.wobble)).max() < 3.0  # rad/s per quarter m/s
    for k, v in enumerate(seen.speeds):
        assert np.min(np.abs(SLIPPING.eigenvalues(v) - seen.wobble[k])) < 1e-8 * abs(seen.wobble[k])


def test_order_of_the_speeds_does_not_matter() -> None:
    mixed = speed_map(SLIPPING, [12.0, 1.5, 7.0])
    np.testing.assert_allclose(
        mixed.wobble, speed_map(SLIPPING, [1.5, 7.0, 12.0]).wobble[[2, 0, 1]], rtol=1e-9
    )


def test_plausible_band_of_shimmy() -> None:
    """PLAUSIBILITY, published band 4-10 Hz, frequency nearly independent of speed; not a proof."""
    seen = speed_map(SLIPPING, np.arange(5.0, 18.1, 1.0))
    assert seen.frequency_hz.min() > 4
    assert seen.frequency_hz.max() < 10
    assert seen.frequency_hz.max() / seen.frequency_hz.min() < 1.3


def test_onset_is_sensitive_to_the_frame() -> None:
    """PLAUSIBILITY (Tomiati et al. 2019): a softer head lowers frequency and damping, a stiff one runs steady."""
    seen = [
        speed_map(replace(SLIPPING, head=Flex(POINT, 1 / k)), SPEEDS)
        for k in (1500, 3000, 6000, 20000)
    ]
    damping = [m.least_damped[1] for m in seen]
    assert np.all(np.diff(damping) > 0.02)
    assert seen[0].growing is not None
    assert seen[-1].growing is None
    assert np.all(np.diff([m.frequency_hz[3] for m in seen]) > 0.5)


def test_hands_on_the_bar_damp_it() -> None:
    free = speed_map(SLIPPING, SPEEDS)
    held = speed_map(replace(SLIPPING, steering_damping=1.0), SPEEDS)
    assert np.all(held.damping_ratio > free.damping_ratio + 0.02)


def test_a_rigid_bicycle_without_slip_has_no_wobble() -> None:
    seen = speed_map(RIGID, [3.0, 6.0])
    assert np.all(np.isnan(seen.frequency_hz))
    assert np.isnan(seen.least_damped[1])
    assert seen.growing is None


def test_study_lists_each_change_against_the_bicycle_as_given() -> None:
    study = shimmy_study(replace(SLIPPING, rider=RIDER), [4.0, 8.0, 12.0])
    rows = {row["variant"]: row for row in study.rows()}
    for word in ("trail +10", "trail -10", "3 kg", "hands", "stiffer", "softer", "tyres", "rider"):
        assert any(word in str(name) for name in rows), word
    assert rows["as given"]["damping_change"] == 0
    assert (
        rows["head 20 % stiffer"]["damping_change"] > 0 > rows["head 20 % softer"]["damping_change"]
    )  # type: ignore[operator]


def test_each_standard_variation_changes_the_bicycle() -> None:
    base = replace(SLIPPING, rider=RIDER)
    before = base.eigenvalues(8.0)
    changed = standard_variations(base)
    assert len(changed) >= 9
    for name, bicycle in changed.items():
        assert np.abs(np.poly(bicycle.eigenvalues(8.0)) / np.poly(before) - 1).max() > 1e-4, name


def test_front_load_adds_mass_where_it_is_put() -> None:
    heavy = with_front_load(SLIPPING, 5.0, at=(1.1, -0.9))
    front, before = heavy.rigid.front_assembly, BENCHMARK.front_assembly
    assert front.mass == pytest.approx(9.0)
    assert front.x == pytest.approx((4 * before.x + 5 * 1.1) / 9)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        (lambda: Flex(POINT, 0.0), "positive turn"),
        (lambda: Flex(POINT, 1e-4, 1e-6, 1e-3), "coupling"),
        (lambda: Tyre(cornering=float("inf")), "leave the tyre out"),
        (lambda: Tyre(relaxation=0.0), "relaxation 0"),
        (lambda: Tyre(camber=float("nan")), "must be numbers"),
        (lambda: replace(RIDER, damping=-1.0), "rider"),
        (lambda: speed_map(SLIPPING, [0.0, 5.0]), "positive numbers in m/s"),
        (lambda: LateralModel(FULL.model.joints[1:], FULL.model.bodies), "ground joints"),
    ],
)
def test_impossible_values_are_named(wrong: Callable[[], object], words: str) -> None:
    with pytest.raises(ModelError, match=words):
        wrong()


def test_frequency_of_a_hinge_by_hand() -> None:
    """Bicycle held by huge masses: the front assembly swings on its hinge at sqrt(k / I) / 2 pi (v = 0).

    Rear body of 1e9 kg, no gravity, steering held by a huge spring, tyres soft: one degree of freedom left.
    """
    heavy = RigidBody(1e9, 0.3, -0.9, 1e9, 1e9, 0.0)
    rigid = replace(BENCHMARK, rear_body=heavy, g=1e-12)
    bicycle = ShimmyBicycle(
        rigid, Flex(POINT, 1 / 4000, damping_ratio=0.0), steering_stiffness=1e12
    )
    across = np.array([cos(rigid.tilt), 0, -sin(rigid.tilt)])
    inertia = 0.0
    wheel = RigidBody(3.0, 1.02, -0.35, 0.1405, 0.1405)
    for body in (rigid.front_assembly, wheel):
        arm = np.cross(across, [body.x - POINT[0], 0, body.z - POINT[1]])[1]
        tensor = np.array([[body.Ixx, 0, body.Ixz], [0, 0, 0], [body.Ixz, 0, body.Izz]])
        inertia += body.mass * arm**2 + across @ tensor @ across
    values = bicycle.eigenvalues(0.0)
    assert np.min(np.abs(values - 1j * np.sqrt(4000 / inertia))) < 1e-5 * np.sqrt(4000 / inertia)
    assert 2 < np.sqrt(4000 / inertia) / (2 * pi) < 20
