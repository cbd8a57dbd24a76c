"""Where places go in a wobble: against the lateral model's own rows, finite rotations and the condensed joints."""

from dataclasses import replace

import numpy as np
import pytest
from droptrail.model.frame.bicycle import Loads
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.frame.riding import settled_riding
from droptrail.model.stability.hands import SetUp
from droptrail.model.stability.shimmy_setup import HANDS_OFF, RIGID_RIDER
from droptrail.model.stability.speed_map import speed_map
from droptrail.model.stability.wobble_shape import (
    amplitudes,
    followed,
    moving_frame,
    moving_riders,
    moving_wheels,
)
from helpers_bicycle import tourer
from scipy.spatial.transform import Rotation

BICYCLE = tourer(loads=Loads(rider_mass=80))
USUAL = SetUp.of(BICYCLE)
MADE = USUAL.model(settled_riding({}), HANDS_OFF)
MODEL = mesh(BICYCLE)
FRAME = moving_frame(BICYCLE, MODEL, MADE)
NAMES = MADE.model.names


def by(joint: str, node: str) -> np.ndarray:
    return FRAME.by[NAMES.index(joint), MODEL.node_index[node]]


def test_the_contacts_move_sideways_as_the_lateral_model_says() -> None:
    """The mesh's own wheel contacts against `contact_rows`, joint by joint; tilts of rims have no node."""
    for wheel, node in zip(MADE.model.wheels, ("rear_contact", "front_contact"), strict=True):
        expected = 1000 * MADE.model.contact_rows(wheel).s
        got = FRAME.by[:, MODEL.node_index[node], 2]
        for k, name in enumerate(NAMES):
            if not name.endswith("tilt"):
                assert got[k] == pytest.approx(expected[k], abs=1e-6 * 1000), name


def test_places_turn_as_finite_rotations_do() -> None:
    """The bar's right end, turned by a small steering angle about the steering axis in space."""
    d = BICYCLE.dimensions
    layout = lay_out(BICYCLE)
    top = np.array([d.head_tube_top.x, d.head_tube_top.y, 0.0])
    up = np.array([*d.axis_up, 0.0])
    angle = 1e-5
    end = np.array(layout.joints["bar_right"])
    # positive steering turns to the right: about the axis pointing down
    turned = top + Rotation.from_rotvec(-angle * up).apply(end - top)
    np.testing.assert_allclose(by("steer", "bar_right"), (turned - end) / angle, atol=1e-2)
    ground = np.array([0.0, d.ground_y, 0.0])
    lean = Rotation.from_rotvec([angle, 0, 0]).apply(end - ground) + ground
    np.testing.assert_allclose(by("lean", "bar_right"), (lean - end) / angle, atol=1e-2)
    assert (
        by("yaw", "bar_right")[0] < 0
    )  # the right end goes back as the bicycle heads to the right


def test_the_frame_bends_so_that_its_kept_motions_are_one_at_a_time() -> None:
    """The condensed joints are met exactly: 1 m of slide or 1 rad of turn, nothing of the others."""
    length = BICYCLE.dimensions.head_tube
    top = FRAME.by[:, MODEL.node_index["head_tube_top"], 2]
    bottom = FRAME.by[:, MODEL.node_index["head_tube_bottom"], 2]
    for name, slide, turn in (
        ("head slide", 1000.0, 0.0),
        ("head turn", 0.0, 1.0),
        ("rear yaw", 0.0, 0.0),
    ):
        k = NAMES.index(name)
        assert (top[k] + bottom[k]) / 2 == pytest.approx(slide, abs=1e-6)
        assert (top[k] - bottom[k]) / length == pytest.approx(turn, abs=1e-9)
    np.testing.assert_allclose(by("pedals slide", "bottom_bracket"), [0, 0, 1000], atol=1e-6)
    np.testing.assert_allclose(by("head slide", "saddle"), 0.0, atol=1e-9)


def test_the_fork_bends_with_its_axle_and_not_with_the_bar() -> None:
    np.testing.assert_allclose(by("fork slide", "front_axle")[2], 1000.0, atol=1e-6)
    # between its bearings the steerer bends, and tilts the bar a little
    assert 1 < np.abs(by("fork slide", "bar_left")).max() < 40
    assert abs(by("fork slide", "bar_centre")[2]) < 5
    np.testing.assert_allclose(by("fork slide", "seat_tube_top"), 0.0)
    assert 0 < by("fork slide", "fork_crown")[2] < 500


def test_wheels_and_rider_ride_on_what_carries_them() -> None:
    rear, front = moving_wheels(BICYCLE, MADE)
    steer = NAMES.index("steer")
    assert not rear.by[steer].any()
    assert np.abs(front.by[steer]).max() > 200
    lowest = int(np.argmin(front.places[:, 1]))
    expected = 1000 * MADE.model.contact_rows(MADE.model.wheels[1]).s
    np.testing.assert_allclose(front.by[:, lowest, 2], expected, rtol=0.02, atol=8.0)
    (rider,) = moving_riders(BICYCLE, MADE)
    assert rider is not None
    lean = NAMES.index("rider lean")
    np.testing.assert_allclose(rider.trunk.by[lean, 0], 0.0, atol=1e-6)  # the hip stays
    height = rider.trunk.places[1, 1] - rider.trunk.places[0, 1]
    assert rider.trunk.by[lean, 1, 2] == pytest.approx(height, rel=1e-9)
    # the hand goes with the bar, but for the little that the steerer bends
    stiff = [k for k, name in enumerate(NAMES) if not name.startswith("fork")]
    hand = rider.arms[1].by[stiff, 1]
    np.testing.assert_allclose(hand, FRAME.by[stiff, MODEL.node_index["bar_right"]], atol=1e-6)
    assert not [*moving_riders(BICYCLE, USUAL.model(settled_riding({}), RIGID_RIDER))]


def test_in_space_a_rolling_wheel_follows_its_heading() -> None:
    """Without slip the contact's sideways speed is v times the wheel's heading: checks sideways and yaw."""
    v = 7.0
    stiff = tuple(
        replace(t, cornering=3e4, camber=0.0, pneumatic_trail=0.0, loss_factor=0.0)
        for t in MADE.tyres or ()
    )
    made = replace(MADE, tyres=(stiff[0], stiff[1]))
    values = made.eigenvalues(v)
    root = values[np.argmin(np.abs(values - (-8 + 25j)))]
    shape = amplitudes(made, v, complex(root))
    for wheel in made.model.wheels:
        at = made.model.contact_rows(wheel)
        assert root * (at.s @ shape) == pytest.approx(v * (at.tz @ shape), abs=0.02 * v)


def test_steering_is_one_and_every_speed_has_its_shape() -> None:
    seen = speed_map(MADE, (4.0, 8.0, 12.0))
    shapes = followed(seen)
    for shape in shapes:
        assert shape is not None
        assert shape[NAMES.index("steer")] == pytest.approx(1.0)
        assert 0.2 < abs(shape[NAMES.index("yaw")]) < 1.0
    assert not np.allclose(shapes[0], shapes[2], rtol=0.05)
