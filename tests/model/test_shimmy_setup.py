"""From the builder's bicycle to the shimmy model: geometry exact, masses conserved, assumptions listed."""

from dataclasses import replace
from math import pi, radians

import numpy as np
import pytest
from droptrail.model.assumption import Assumed
from droptrail.model.errors import ModelError
from droptrail.model.frame.bicycle import Bicycle, Fittings, Loads, PartMasses
from droptrail.model.frame.riding import RIDING
from droptrail.model.geometry.dimensions import FrameDimensions
from droptrail.model.stability.flexibility import Flex, Flexibility
from droptrail.model.stability.lateral import Joint
from droptrail.model.stability.shimmy_setup import (
    HANDS_OFF,
    RIGID_RIDER,
    bicycle_parameters,
    road_axes,
)
from droptrail.model.stability.speed_map import speed_map
from droptrail.model.stability.whipple import lump

PLACES = ("rear", "pedals", "head", "steer", "fork")
TOURER = Bicycle(
    FrameDimensions(
        reach=385,
        head_angle=72,
        seat_angle=73,
        bb_drop=70,
        chainstay=445,
        head_tube=160,
        lower_stack=12,
        fork_length=385,
        fork_offset=52,
        wheel_radius_front=343,
        wheel_radius_rear=343,
        seat_tube=560,
    ),
    tubes={},
    fittings=Fittings(saddle_height=740),
    loads=Loads(rider_mass=80, front_luggage=4, rear_luggage=10),
    assumed=(Assumed("build", "saddle_height", "saddle height", 740, "mm"),),
)


def test_geometry_is_taken_over_exactly() -> None:
    rigid, d = bicycle_parameters(TOURER).rigid, TOURER.dimensions
    derived = d.derived()
    assert rigid.wheelbase * 1000 == pytest.approx(derived["wheelbase"], rel=1e-12)
    assert rigid.trail * 1000 == pytest.approx(d.trail, rel=1e-12)
    assert rigid.tilt == pytest.approx(pi / 2 - radians(72), rel=1e-12)
    assert (rigid.front_wheel.radius, rigid.rear_wheel.radius) == (0.343, 0.343)


def test_every_kilogram_is_in_it_once() -> None:
    masses = PartMasses(
        frame=2, fork=0.9, bar_and_stem=0.7, levers=0.4, drivetrain=2.5, saddle=0.25, seat_post=0.35
    )
    bicycle = bicycle_parameters(TOURER, masses)
    total = sum(b.mass for b in bicycle.model.bodies)
    at = {place: sum(b.mass for p, b in bicycle.pieces if p == place) for place in PLACES}
    assert total == pytest.approx(80 + 4 + 10 + 1.6 + 2.0 + 2 + 0.9 + 1.1 + 2.5 + 0.6, rel=1e-12)
    # half the fork turns with the bar, the rest rides at the blades' ends
    assert bicycle.rigid.front_assembly.mass == pytest.approx(1.1, rel=1e-12)
    assert at["fork"] == pytest.approx(0.45, rel=1e-12)
    bags = {rack.name: dict(rack.bodies) for rack in bicycle.racks}
    assert bags["front bags"]["steer"].mass == bags["front bags"]["fork"].mass == 2
    assert bags["rear bags"]["saddle"].mass == 2.5
    assert bags["rear bags"]["rear"].mass == 7.5
    assert at["steer"] == pytest.approx(0.45 + 0.028 * 80, rel=1e-12)
    assert at["pedals"] > 0.12 * 80 + 2.5
    assert 0 < at["rear"] < 2
    assert 0 < at["head"] < 2


def test_wheel_loads_split_the_rider_by_his_shares() -> None:
    """Rider alone (all else weightless): the front wheel carries shares x distances / wheelbase."""
    light = PartMasses(*(1e-6,) * 7)
    loads = Loads(rider_mass=80, wheel_mass_front=1e-6, wheel_mass_rear=1e-6)
    bicycle = replace(TOURER, loads=loads)
    d, f = bicycle.dimensions, bicycle.fittings
    saddle = d.bottom_bracket.along(d.seat_up, f.saddle_height)
    bar = d.head_tube_top.along(d.axis_up, f.upper_stack).along((1.0, 0.0), f.stem_length)
    lever = 0.55 * saddle.x + 0.20 * bar.x + 0.25 * 0.0 - d.rear_axle.x
    front = bicycle_parameters(bicycle, light).model.wheel_loads[1]
    # the hands, feet and trunk are apart, and still carry over the mean of the points he rests on
    assert front == pytest.approx(80 * 9.81 * lever / (d.front_axle.x - d.rear_axle.x), rel=1e-5)


def test_leaning_splits_the_rider_without_loss() -> None:
    fixed = bicycle_parameters(TOURER, hold=RIGID_RIDER)
    leaning = bicycle_parameters(TOURER, hold=HANDS_OFF)
    assert leaning.rider is not None
    joined = lump(leaning.rigid.rear_body, leaning.rider.body)
    np.testing.assert_allclose(
        [joined.mass, joined.x, joined.z, joined.Ixx, joined.Izz, joined.Ixz],
        [getattr(fixed.rigid.rear_body, f) for f in ("mass", "x", "z", "Ixx", "Izz", "Ixz")],
        rtol=1e-12,
    )


def test_hip_and_spine_are_the_stated_ones() -> None:
    """A rider on a bicycle held upright by a huge mass: M q" + C q' + K q = 0 for lean and twist about the saddle.

    With the body's centre of mass h above and d ahead of the saddle, leaning swings it by h and twisting by d, and a
    twisted body that leans falls on to its side: K12 = -m g d.
    """
    stated = {
        "hip_stiffness": 800.0,
        "hip_damping": 40.0,
        "twist_stiffness": 90.0,
        "twist_damping": 6.0,
    }
    leaning = bicycle_parameters(TOURER, hold=HANDS_OFF, riding=stated)
    heavy = replace(leaning.rigid.rear_body, mass=1e9, Ixx=1e9, Izz=1e9, Ixz=0.0)
    held = replace(
        leaning,
        rigid=replace(leaning.rigid, rear_body=heavy),
        tyres=None,
        pieces=(),
    ).model
    # the bar wedged against the frame, which no rider can do
    held = replace(held, stiffness={**held.stiffness, ("steer", "steer"): 1e12})
    assert leaning.rider is not None
    upper = leaning.rider.body
    d = TOURER.dimensions
    saddle = d.bottom_bracket.along(d.seat_up, TOURER.fittings.saddle_height)
    ahead = upper.x - (saddle.x - d.rear_axle.x) / 1000
    above = -upper.z - (saddle.y - d.ground_y) / 1000
    assert above > 0.15
    assert ahead > 0.05
    m = upper.mass
    mixed = upper.Ixz + m * above * ahead
    mass = np.array([[upper.Ixx + m * above**2, mixed], [mixed, upper.Izz + m * ahead**2]])
    falls = -m * 9.81 * ahead
    stiff = np.array([[800.0 - m * 9.81 * above, falls], [falls, 90.0]])
    lower = np.linalg.solve(mass, np.hstack([-stiff, -np.diag([40.0, 6.0])]))
    values = held.rolling_state(0.0)
    ours = np.linalg.eigvals(values)
    for root in np.linalg.eigvals(np.vstack([np.hstack([np.zeros((2, 2)), np.eye(2)]), lower])):
        assert np.min(np.abs(ours - root)) < 1e-3 * abs(root)


def test_rider_in_pieces_keeps_his_centre_of_mass() -> None:
    """His pieces' masses times their places: the stated height, and the load shares' place (all else weightless)."""
    light = PartMasses(*(1e-9,) * 7)
    loads = Loads(rider_mass=80, wheel_mass_front=1e-9, wheel_mass_rear=1e-9)
    bicycle = replace(TOURER, loads=loads)
    model = bicycle_parameters(bicycle, light).model
    mass = sum(b.mass for b in model.bodies)
    height = -sum(b.mass * b.centre[1] for b in model.bodies) / mass
    d = bicycle.dimensions
    saddle = d.bottom_bracket.along(d.seat_up, 740).y - d.ground_y
    assert mass == pytest.approx(80, rel=1e-6)
    assert height * 1000 == pytest.approx(saddle + 100, rel=1e-6)


def test_riding_values_reach_the_model() -> None:
    """Each stated value changes the equations; a forgotten one would leave every coefficient as it was."""
    head, fork = (
        Flexibility((Joint(f"{name} turn", (0.95, -0.3), (0.9, -0.8)),), np.array([[1 / 4000]]))
        for name in ("head", "fork")
    )
    before = bicycle_parameters(TOURER, head=head, fork=fork).state_matrix(6.0)
    for key, value in RIDING.items():
        changed = bicycle_parameters(TOURER, head=head, fork=fork, riding={key: value.high * 1.01})
        assert np.abs(changed.state_matrix(6.0) - before).max() > 1e-6, key


def test_assumptions_are_all_listed() -> None:
    listed = " ".join(map(str, bicycle_parameters(TOURER).assumed))
    for word in (
        "saddle height",
        "frame 2.2",
        "fork 0.8",
        "levers 1.2",
        "drivetrain",
        "saddle with post 0.7",
        "wheel inertia",
        "rider",
        "bags",
        "shared out",
        "brake force none",
        *(value.words for value in RIDING.values()),
    ):
        assert word in listed
    assert "range 0.12 to 0.35" in listed


def test_what_the_sheet_states_is_not_assumed() -> None:
    stated = replace(TOURER, riding={"tyre_relaxation": 80.0})
    model = bicycle_parameters(stated)
    assert RIDING["tyre_relaxation"].words not in " ".join(map(str, model.assumed))
    assert model.tyres is not None
    assert model.tyres[0].relaxation == 0.08


@pytest.mark.parametrize(
    ("riding", "words"),
    [
        ({"tyre_grip": 1.0}, "no value of riding; known: tyre_cornering"),
        ({"tyre_loss": -0.1}, "loss factor .* is -0.1"),
        ({"hip_stiffness": float("nan")}, "hip .* is nan"),
    ],
)
def test_riding_values_that_cannot_be(riding: dict[str, float], words: str) -> None:
    with pytest.raises(ModelError, match=words):
        replace(TOURER, riding=riding)


def test_front_bags_load_the_front_wheel_by_their_lever() -> None:
    """Moments about the rear contact: half the bags at the crown, half at the front axle."""
    d = TOURER.dimensions
    bare = replace(TOURER, loads=replace(TOURER.loads, front_luggage=0.0))
    loaded, empty = (bicycle_parameters(one).model.wheel_loads[1] for one in (TOURER, bare))
    levers = [(at.x - d.rear_axle.x) for at in (d.fork_crown, d.front_axle)]
    share = sum(levers) / 2 / (d.front_axle.x - d.rear_axle.x)
    assert loaded - empty == pytest.approx(4 * 9.81 * share, rel=1e-12)


@pytest.mark.parametrize("aside", [0.0, 170.0])
def test_two_bags_beside_the_wheel_turn_about_it_at_their_distance(aside: float) -> None:
    """Steiner: two point-like halves of radius of gyration k at a distance a have m (k^2 + a^2)."""
    bicycle = bicycle_parameters(replace(TOURER, riding={"bags_aside": aside}))
    body = dict(bicycle.racks[0].bodies)["fork"]
    halves = 2 * 1.0 * (0.12**2 + (aside / 1000) ** 2)
    assert body.Izz == body.Ixx == pytest.approx(halves, rel=1e-12)


def test_without_bags_no_rack_is_assumed() -> None:
    empty = replace(TOURER, loads=replace(TOURER.loads, front_luggage=0.0, rear_luggage=0.0))
    keys = {one.key for one in bicycle_parameters(empty).assumed}
    racks = {"bags_aside", "front_rack_give", "rear_rack_give", "rack_damping"}
    assert not bicycle_parameters(empty).racks
    assert not keys & racks
    assert racks <= {one.key for one in bicycle_parameters(TOURER).assumed}


def test_a_stated_side_stiffness_makes_the_relaxation_length() -> None:
    """Relaxation length = cornering stiffness / side stiffness (read: Dell'Orto et al. 2023, abstract)."""
    stated = replace(TOURER, loads=replace(TOURER.loads, tyre_side_stiffness=90.0))
    made = bicycle_parameters(stated)
    assert made.tyres is not None
    for tyre, load in zip(made.tyres, made.model.wheel_loads, strict=True):
        at_rest = tyre.cornering * load / tyre.relaxation
        assert at_rest == pytest.approx(90.0e3, rel=1e-9)
    both = replace(stated, riding={"tyre_relaxation": 120.0})
    held = bicycle_parameters(both).tyres
    assert held is not None
    assert held[0].relaxation == 0.12


def test_a_tourer_wobbles_in_the_published_band() -> None:
    """PLAUSIBILITY, published band 4-10 Hz: a usual head stiffness of 70 N·m/degree (from memory: 60-120)."""
    top, bottom = TOURER.dimensions.head_tube_top, TOURER.dimensions.head_tube_bottom
    middle = road_axes(TOURER.dimensions, (top.x + bottom.x) / 2, (top.y + bottom.y) / 2)
    head = Flex(middle, 1 / (70 * 180 / pi))
    bicycle = bicycle_parameters(replace(TOURER, loads=Loads()), head=head, hold=HANDS_OFF)
    seen = speed_map(bicycle, np.arange(4.0, 16.1, 2.0))
    assert 4 < seen.frequency_hz.min() < seen.frequency_hz.max() < 10


def test_shares_that_leave_no_rider_for_the_saddle_are_refused() -> None:
    with pytest.raises(ModelError, match="leave no rider for the saddle"):
        bicycle_parameters(TOURER, riding={"leaning_share": 0.95})
    with pytest.raises(ModelError, match="leave no rider for the saddle"):
        bicycle_parameters(TOURER, riding={"hands_share": 0.7})
