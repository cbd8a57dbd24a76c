"""From the builder's bicycle to the shimmy model: geometry exact, masses conserved, assumptions listed."""

from dataclasses import replace
from math import pi, radians

import numpy as np
import pytest
from droptrail.model.assumption import Assumed
from droptrail.model.errors import ModelError
from droptrail.model.frame.bicycle import Bicycle, Fittings, Loads, PartMasses
from droptrail.model.geometry.dimensions import FrameDimensions
from droptrail.model.stability.shimmy import Flex, speed_map
from droptrail.model.stability.shimmy_setup import RiderBody, bicycle_parameters, road_axes
from droptrail.model.stability.whipple import lump

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
    assert total == pytest.approx(80 + 4 + 10 + 1.6 + 2.0 + 2 + 0.9 + 1.1 + 2.5 + 0.6, rel=1e-12)
    assert bicycle.rigid.front_assembly.mass == pytest.approx(0.9 + 1.1 + 4, rel=1e-12)


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
    assert front == pytest.approx(80 * 9.81 * lever / (d.front_axle.x - d.rear_axle.x), rel=1e-5)


def test_leaning_splits_the_rider_without_loss() -> None:
    fixed, leaning = bicycle_parameters(TOURER), bicycle_parameters(TOURER, leaning=True)
    assert leaning.rider is not None
    joined = lump(leaning.rigid.rear_body, leaning.rider.body)
    np.testing.assert_allclose(
        [joined.mass, joined.x, joined.z, joined.Ixx, joined.Izz, joined.Ixz],
        [getattr(fixed.rigid.rear_body, f) for f in ("mass", "x", "z", "Ixx", "Izz", "Ixz")],
        rtol=1e-12,
    )


def test_lean_frequency_and_damping_are_the_stated_ones() -> None:
    """A rider on a bicycle held upright by a huge mass: s = omega (-zeta +- i sqrt(1 - zeta^2))."""
    leaning = bicycle_parameters(TOURER, leaning=True)
    heavy = replace(leaning.rigid.rear_body, mass=1e9, Ixx=1e9, Izz=1e9, Ixz=0.0)
    held = replace(
        leaning, rigid=replace(leaning.rigid, rear_body=heavy), tyres=None, steering_stiffness=1e12
    )
    omega, zeta = 2 * pi * 1.5, 0.3
    expected = omega * (-zeta + 1j * np.sqrt(1 - zeta**2))
    assert np.min(np.abs(held.eigenvalues(0.0) - expected)) < 1e-4 * omega


def test_assumptions_are_all_listed() -> None:
    listed = " ".join(map(str, bicycle_parameters(TOURER, leaning=True).assumed))
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
        "leans",
        "brake force none",
    ):
        assert word in listed
    assert "fixed to the frame" in " ".join(map(str, bicycle_parameters(TOURER).assumed))


def test_luggage_on_the_fork_moves_mass_forward_and_down() -> None:
    bare = replace(TOURER, loads=replace(TOURER.loads, front_luggage=0.0))
    loaded, empty = (
        bicycle_parameters(TOURER).rigid.front_assembly,
        bicycle_parameters(bare).rigid.front_assembly,
    )
    assert loaded.x > empty.x
    assert loaded.z > empty.z
    assert loaded.Izz > empty.Izz


def test_a_tourer_wobbles_in_the_published_band() -> None:
    """PLAUSIBILITY, published band 4-10 Hz: a usual head stiffness of 70 N·m/degree (from memory: 60-120)."""
    top, bottom = TOURER.dimensions.head_tube_top, TOURER.dimensions.head_tube_bottom
    middle = road_axes(TOURER.dimensions, (top.x + bottom.x) / 2, (top.y + bottom.y) / 2)
    bicycle = bicycle_parameters(TOURER, head=Flex(middle, 1 / (70 * 180 / pi)))
    seen = speed_map(bicycle, np.arange(4.0, 16.1, 2.0))
    assert 4 < seen.frequency_hz.min() < seen.frequency_hz.max() < 10


def test_a_rider_too_compact_to_split_is_refused() -> None:
    with pytest.raises(ModelError, match="inertia"):
        bicycle_parameters(TOURER, leaning=True, body=RiderBody(leaning_above_saddle=900.0))
