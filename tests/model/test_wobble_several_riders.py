"""The wobble with several riders: limits, closed forms, energy; weight on the wheels by moments."""

from copy import copy
from dataclasses import replace
from functools import cache
from math import cos, sin

import numpy as np
import pytest
from droptrail.converters.files.fitsheet.starter import plan_starter
from droptrail.model.cases.tools import CLAMPED, steering_lock
from droptrail.model.choice.sights import front_weight, sights
from droptrail.model.frame.bicycle import Bicycle
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.frame.riding import RIDING, settled_riding
from droptrail.model.mechanics.frame_model import NodeMass
from droptrail.model.stability.hands import SetUp
from droptrail.model.stability.hands_study import hands_study
from droptrail.model.stability.rider import RiderBehind
from droptrail.model.stability.shimmy import ShimmyBicycle
from droptrail.model.stability.shimmy_flex import frame_fields, frame_give
from droptrail.model.stability.shimmy_setup import HANDS_OFF, RIGID_RIDER
from droptrail.model.stability.speed_map import wobble_root
from droptrail.model.stability.wobble_shape import moving_riders
from droptrail.model.tubes.known_plans import DIAMOND, PLANS
from droptrail.model.vibration.modes import Dynamics
from droptrail.validation.wobble_in_time import energy_over_a_period, from_decay, wobble_start

G = 9.81  # N/kg, as the library counts
USUAL = settled_riding({})


@cache
def tandem() -> Bicycle:
    return plan_starter(PLANS["tandem"])


def with_mass(kilograms: float) -> Bicycle:
    return replace(tandem(), placing={**tandem().placing, "stoker_mass": kilograms})


@cache
def setup() -> SetUp:
    return SetUp.of(tandem())


def test_without_a_mass_the_second_rider_is_gone() -> None:
    """A rider of next to no mass asks of the hands what an empty saddle does (his arms slack, which would still tie
    saddle to bar). And where saddle, cranks, bar and tubes there weigh next to nothing as well, it is what the same
    frame asks whose plan has one rider alone."""
    speeds = (6.0, 10.0, 14.0)

    def slack(made: ShimmyBicycle) -> ShimmyBicycle:
        (behind,) = made.behind
        return replace(made, behind=(replace(behind, stiffness=0.0, damping=0.0),))

    light = replace(SetUp.of(with_mass(1e-6)), change=slack).need(speeds)
    empty = SetUp.of(with_mass(0.0)).need(speeds)
    np.testing.assert_allclose(light.damping, empty.damping, rtol=1e-5)
    np.testing.assert_allclose(light.hz, empty.hz, rtol=1e-5)

    def ghost(made: ShimmyBicycle) -> ShimmyBicycle:
        pieces = []
        for place, body in made.pieces:
            size = 1e-6 if place.startswith("stoker") else 1.0
            inertia = {axis: size * getattr(body, axis) for axis in ("Ixx", "Izz", "Ixz")}
            pieces.append((place, replace(body, mass=size * body.mass, **inertia)))
        return replace(made, pieces=tuple(pieces))

    gone = replace(SetUp.of(with_mass(0.0)), change=ghost).need(speeds)
    single = copy(tandem())
    # past the constructor, which would hang the chainstay on the only bracket left
    object.__setattr__(single, "plan", replace(single.plan, riders=single.plan.riders[:1]))
    assert lay_out(single).joints["rear_axle"] == lay_out(tandem()).joints["rear_axle"]
    one = SetUp.of(single)
    tubes = tuple(piece for piece in setup().tubes if not piece[0].startswith("stoker"))
    vars(one)["tubes"] = tubes
    alone = one.need(speeds)
    np.testing.assert_allclose(gone.damping, alone.damping, rtol=1e-4)
    np.testing.assert_allclose(gone.hz, alone.hz, rtol=1e-4)
    # and with him it is another bicycle
    both = setup().need(speeds)
    assert np.abs(both.hz / empty.hz - 1).min() > 0.1


def test_lumps_behind_swing_as_on_the_beams() -> None:
    """Lumps on saddle, bracket and bar of the stoker, the captain's saddle clamped, the tubes without mass: the beam
    mesh's own modes, solved by another piece of code on all its freedoms, have the same frequencies."""
    bicycle = tandem()
    model = mesh(bicycle)
    give = frame_give(bicycle, model)
    rider = bicycle.plan.riders[1]
    half = lay_out(bicycle).joints["stoker_bar_right"][2] / 1000
    lumps = {rider.saddle: (30.0, 1.2, 0.8), rider.bracket: (15.0, 0.5, 0.3)}
    bodies = dict(lumps)
    # two halves of 4 kg at the ends of the bar
    bodies[rider.bars] = (4.0, 4.0 * half**2, 4.0 * half**2)
    order = [joint.name for joint in give.joints]
    mine = [k for k, name in enumerate(order) if name.split()[0] in bodies]
    inertia = np.zeros(len(mine))
    for n, k in enumerate(mine):
        place, way = order[k].split()
        mass, lean, yaw = bodies[place]
        inertia[n] = {"slide": mass, "lean": lean, "yaw": yaw}[way]
    periods = np.linalg.eigvals(give.flexibility[np.ix_(mine, mine)] * inertia)
    hz = np.sort(1 / (2 * np.pi * np.sqrt(periods.real)))

    massless = [
        replace(one, material=replace(one.material, rho=one.material.rho * 1e-12))
        for one in model.elements
    ]
    # tonne and mm; about x (lean), y (yaw), z
    masses = [
        NodeMass(node, m * 1e-3, (lean * 1e3, yaw * 1e3, 1e-3))
        for node, (m, lean, yaw) in lumps.items()
    ]
    masses += [NodeMass(f"{rider.bars}_{side}", 2e-3) for side in ("right", "left")]
    bare = replace(model, elements=tuple(massless), masses=tuple(masses))
    held = {"saddle": CLAMPED}
    lock = (steering_lock(bicycle, lay_out(bicycle)),)
    found = Dynamics.of(bare, held, lock).modes(14).frequencies_hz
    for want in hz[:6]:
        assert np.abs(found / want - 1).min() < 1e-4, (want, found)


def halves(made: ShimmyBicycle) -> ShimmyBicycle:
    """The same bicycle with its rider as two of half the mass, stiffness and damping on one saddle."""
    whole = made.rider
    assert whole is not None
    assert whole.twist is not None
    body = whole.body
    half = replace(
        whole,
        body=replace(
            body, mass=body.mass / 2, Ixx=body.Ixx / 2, Izz=body.Izz / 2, Ixz=body.Ixz / 2
        ),
        stiffness=whole.stiffness / 2,
        damping=whole.damping / 2,
        twist=replace(
            whole.twist, stiffness=whole.twist.stiffness / 2, damping=whole.twist.damping / 2
        ),
    )
    other = replace(half, name="second")
    # the saddle is what everything moves against; hands off, no arms
    return replace(made, rider=half, behind=(RiderBehind(other, "saddle", "saddle", 0.0, 0.0),))


@pytest.mark.parametrize("v", [4.0, 9.0])
def test_two_of_half_the_mass_in_one_place_are_one(v: float) -> None:
    """Every root of one rider is one of two halves; what is left over are the halves against each other, which leave
    the bicycle at rest: two coupled equations of one half by hand."""
    made = SetUp.of(plan_starter(DIAMOND)).model(USUAL, HANDS_OFF)
    one = made.eigenvalues(v)
    two = [*halves(made).eigenvalues(v)]
    for root in one:
        k = int(np.argmin(np.abs(np.array(two) - root)))
        assert two[k] == pytest.approx(root, rel=1e-6, abs=1e-6)
        del two[k]
    rider = halves(made).rider
    assert rider is not None
    assert rider.twist is not None
    b = rider.body
    above = -b.z - rider.height
    ahead = b.x - rider.twist.x
    mass = np.array(
        [
            [b.Ixx + b.mass * above**2, b.Ixz + b.mass * above * ahead],
            [b.Ixz + b.mass * above * ahead, b.Izz + b.mass * ahead**2],
        ]
    )
    # the leaning body is a pendulum upside down; twisted while it leans, what is ahead of the spine sinks or rises
    falls = b.mass * G * np.array([[above, ahead], [ahead, 0.0]])
    stiffness = np.diag([rider.stiffness, rider.twist.stiffness]) - falls
    damping = np.diag([rider.damping, rider.twist.damping])
    state = np.block(
        [
            [np.zeros((2, 2)), np.eye(2)],
            [-np.linalg.solve(mass, stiffness), -np.linalg.solve(mass, damping)],
        ]
    )
    by_hand = np.linalg.eigvals(state)
    assert len(two) == 4
    for root in by_hand:
        assert np.abs(np.array(two) - root).min() < 1e-6 * abs(root)


def test_arms_of_a_rider_behind_turn_about_the_slanted_line() -> None:
    """One spring on (bar - saddle - trunk) about (sin t, cos t): its matrix is the outer product of that row."""
    made = setup().model(USUAL, HANDS_OFF)
    (behind,) = made.behind
    slack = replace(made, behind=(replace(behind, stiffness=0.0),))
    names = made.model.names
    found = made.model.potential - slack.model.potential
    t = made.rigid.tilt
    row = np.zeros(len(names))
    for name, share in {
        "stoker_bar lean": sin(t),
        "stoker_bar yaw": cos(t),
        "stoker_saddle lean": -sin(t),
        "stoker_saddle yaw": -cos(t),
        "stoker lean": -sin(t),
        "stoker twist": -cos(t),
    }.items():
        row[names.index(name)] = share
    expected = RIDING["arms_stiffness"].usual * np.outer(row, row)
    np.testing.assert_allclose(found, expected, atol=1e-6 * behind.stiffness)


@pytest.mark.parametrize("v", [5.0, 12.0])
def test_a_trunk_too_stiff_to_move_is_one_with_his_own_saddle(v: float) -> None:
    """Hip and spine locked, the arms slack: the smaller model, in which his body is a piece on his saddle."""
    made = setup().model(USUAL, HANDS_OFF)
    (behind,) = made.behind
    rider = behind.rider
    assert rider.twist is not None
    locked = replace(
        rider,
        stiffness=1e8,
        damping=0.0,
        twist=replace(rider.twist, stiffness=1e8, damping=0.0),
    )
    stiff = replace(behind, rider=locked, stiffness=0.0, damping=0.0)
    full = replace(made, behind=(stiff,))
    small = replace(made, behind=(), pieces=(*made.pieces, (behind.saddle, rider.body)))
    assert wobble_root(full, v) == pytest.approx(wobble_root(small, v), rel=1e-4)
    # on the first saddle it would be another bicycle
    ahead = replace(made, behind=(), pieces=(*made.pieces, ("saddle", rider.body)))
    assert abs(wobble_root(ahead, v) / wobble_root(small, v) - 1) > 0.01


def test_each_kept_motion_is_one_of_the_beams() -> None:
    """1 m or 1 rad of a joint moves saddle, bracket and bar of the stoker so, and every other place not at all."""
    bicycle = tandem()
    model = mesh(bicycle)
    fields = frame_fields(bicycle, model)
    joints = [joint.name for joint in frame_give(bicycle, model).joints]
    layout = lay_out(bicycle)
    half = layout.joints["stoker_bar_right"][2]
    at = model.node_index
    for k, name in enumerate(joints):
        right = fields[k][at["stoker_bar_right"]]
        left = fields[k][at["stoker_bar_left"]]
        seat = fields[k][at["stoker_saddle"]]
        bracket = fields[k][at["stoker_bracket"]]
        slides = {"stoker_saddle": seat[2], "stoker_bracket": bracket[2]}
        slides["stoker_bar"] = (right[2] + left[2]) / 2
        for place, moved in slides.items():
            assert moved == pytest.approx(1000.0 * (name == f"{place} slide"), abs=1e-5)
        # to the right of the middle a yaw goes back, a lean down
        assert (right - left)[0] == pytest.approx(-2 * half * (name == "stoker_bar yaw"), abs=1e-5)
        assert (right - left)[1] == pytest.approx(-2 * half * (name == "stoker_bar lean"), abs=1e-5)
        assert fields[k][at["saddle"]] == pytest.approx([0.0, 0.0, 0.0], abs=1e-9)


@pytest.mark.parametrize("damping", [0.0, 2.0])
def test_energy_and_decay_in_time(damping: float) -> None:
    """Work of tyres and dampers over a period is the gain of energy; the decay read off a record is the root's."""
    made = replace(setup().model(USUAL), steering_damping=damping)
    work, gain = energy_over_a_period(made, 8.0)
    assert work == pytest.approx(gain, rel=1e-4)
    root, _ = wobble_start(made, 8.0)
    growth, hz = from_decay(made, 8.0)
    assert hz == pytest.approx(root.imag / (2 * np.pi), rel=1e-3)
    assert growth == pytest.approx(root.real, rel=1e-2)


def test_weight_on_the_wheels_by_moments() -> None:
    """A kilogram of a rider weighs on the front wheel with the lever of his mean contact point over the wheelbase: 0.55
    on the saddle, 0.20 on the bars, 0.25 on the pedals, places by trigonometry from the sheet's numbers."""
    bicycle = tandem()
    d = bicycle.dimensions
    rear = -(690.0 + np.sqrt(450.0**2 - 75.0**2))
    front = d.front_axle.x
    seat = np.array([-150.0, 477.0]) / np.hypot(150.0, 477.0)
    shares = np.array([0.55, 0.20, 0.25])
    stoker = (
        -690.0 + 700.0 * seat[0],
        -560.0 * np.cos(np.radians(72.5)) - 60.0,
        -690.0,
    )
    captain = (
        -740.0 * np.cos(np.radians(72.5)),
        384.0 - 35.0 * np.cos(np.radians(71.5)) + 90.0,
        0.0,
    )
    each = front_weight(with_mass(70.0)) - front_weight(with_mass(0.0))
    assert each == pytest.approx(70.0 * G * (shares @ stoker - rear) / (front - rear), rel=1e-9)
    heavier = replace(bicycle, loads=replace(bicycle.loads, rider_mass=92.0))
    more = front_weight(heavier) - front_weight(bicycle)
    assert more == pytest.approx(10.0 * G * (shares @ captain - rear) / (front - rear), rel=1e-9)
    assert {"front_weight", "front_share"} <= {sight.key for sight in sights(bicycle)}


def test_all_that_is_aboard_is_on_the_wheels() -> None:
    """However stiff the riders are taken: both, both saddles, cranks and bars, the tubes as their table says."""
    loads = [setup().model(USUAL, hold).model.wheel_loads for hold in (HANDS_OFF, RIGID_RIDER)]
    np.testing.assert_allclose(loads[0], loads[1], rtol=1e-9)
    masses = tandem().part_masses
    twice = masses.saddle_with_post + masses.bar_and_stem + masses.drivetrain
    tubes = sum(body.mass for _, body in setup().tubes)
    wheels = tandem().loads.wheel_mass_rear + tandem().loads.wheel_mass_front
    whole = 82.0 + 70.0 + 2 * twice + masses.levers + tubes + wheels
    assert sum(loads[0]) == pytest.approx(G * whole, rel=1e-9)


def test_the_study_names_everybody_and_what_is_taken_of_him() -> None:
    study = hands_study(tandem(), (6.0, 10.0), count=0)
    named = [change.name for change in study.changes]
    assert {"captain 10 kg heavier", "stoker 10 kg heavier"} <= {*named}
    assert len({round(change.need.most, 6) for change in study.changes}) > 8
    said = " ".join(map(str, setup().model(USUAL).assumed))
    assert "stoker's hands" in said
    assert "stoker's body" in said


def test_both_riders_are_in_the_picture() -> None:
    """The trunk of each stands on his own saddle, his hands on his own bar."""
    made = setup().model(USUAL, HANDS_OFF)
    joints = lay_out(tandem()).joints
    captain, stoker = moving_riders(tandem(), made)
    for who, rider in (("", captain), ("stoker_", stoker)):
        assert rider.trunk.places[0] == pytest.approx(joints[f"{who}saddle"])
        assert rider.arms[1].places[1] == pytest.approx(joints[f"{who}bar_right"])
    # a stoker who leans moves his own head alone
    k = made.model.names.index("stoker lean")
    assert np.abs(stoker.head.by[k]).max() > 100.0
    assert not captain.head.by[k].any()
