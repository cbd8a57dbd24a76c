"""The side view by a second construction: lines met and circles cut in plain vectors, written without the formulas.

Outside facts: the trade's definitions of each number (see the README); Meijaard et al. 2007 benchmark geometry and the
identities of Moore 2012 are checked in test_closure. The numbers by hand are worked out in the tests.
"""

from dataclasses import FrozenInstanceError, replace
from math import acos, atan2, cos, degrees, hypot, isfinite, nan, radians, sin

import numpy as np
import pytest
from droptrail.model.errors import ModelError
from droptrail.model.geometry.dimensions import FrameDimensions, Point
from droptrail.model.geometry.quantities import QUANTITIES
from droptrail.model.geometry.statements import FIELDS, label
from helpers_bicycle import tourer_dimensions
from hypothesis import given, settings
from hypothesis import strategies as st

D = tourer_dimensions()
UNEQUAL = replace(
    D, wheel_radius_front=310.0, wheel_radius_rear=343.0, bb_drop=55.0, head_angle=70.5
)
frames = st.builds(
    lambda reach, head, seat, drop, stay, ht, fork, rake, front, rear: replace(
        D,
        reach=reach,
        head_angle=head,
        seat_angle=seat,
        bb_drop=drop,
        chainstay=stay,
        head_tube=ht,
        fork_length=fork,
        fork_offset=rake,
        wheel_radius_front=front,
        wheel_radius_rear=rear,
    ),
    st.floats(300, 450),
    st.floats(65, 76),
    st.floats(68, 78),
    st.floats(-20, 90),
    st.floats(380, 500),
    st.floats(90, 240),
    st.floats(330, 480),
    st.floats(20, 80),
    st.floats(230, 380),
    st.floats(230, 380),
)


def line_meets_level(point, direction, y):
    """Where a line comes to a height."""
    return point[0] + direction[0] * (y - point[1]) / direction[1]


def angle_at_the_rear(lower, upper) -> float:
    """Angle of a tube from the horizontal, measured at the rear, from two of its points."""
    return degrees(acos((lower.x - upper.x) / hypot(upper.x - lower.x, upper.y - lower.y)))


# --- construction -------------------------------------------------------------------------------------------------
@settings(deadline=None, max_examples=60)
@given(frame=frames)
def test_every_stated_length_and_angle_is_found_again_between_the_points(frame: FrameDimensions):
    p = frame.points()
    bb, top, bottom, crown = (
        p[n] for n in ("bottom_bracket", "head_tube_top", "head_tube_bottom", "fork_crown")
    )
    rear, front, foot = p["rear_axle"], p["front_axle"], p["fork_offset_foot"]
    assert bb == (0.0, 0.0)
    assert top.x == pytest.approx(frame.reach, abs=1e-12)
    assert rear.distance(bb) == pytest.approx(frame.chainstay)
    assert rear.x < 0
    assert rear.y == frame.bb_drop
    assert top.distance(bottom) == pytest.approx(frame.head_tube)
    assert bottom.distance(crown) == pytest.approx(frame.lower_stack)
    assert crown.distance(foot) == pytest.approx(frame.fork_length)
    assert foot.distance(front) == pytest.approx(abs(frame.fork_offset))
    for upper in (top, bottom, crown):
        assert angle_at_the_rear(foot, upper) == pytest.approx(frame.head_angle)
    assert np.dot(np.subtract(front, foot), np.subtract(top, foot)) == pytest.approx(0, abs=1e-6)
    assert front.x > foot.x  # offset to the front
    assert rear.y - frame.wheel_radius_rear == pytest.approx(
        front.y - frame.wheel_radius_front
    )  # one flat ground
    assert angle_at_the_rear(bb, p["seat_tube_top"]) == pytest.approx(frame.seat_angle)


@settings(deadline=None, max_examples=60)
@given(frame=frames)
def test_derived_numbers_are_what_their_names_say(frame: FrameDimensions):
    p, d = frame.points(), frame.derived()
    top, foot, front, rear = (
        p[n] for n in ("head_tube_top", "fork_offset_foot", "front_axle", "rear_axle")
    )
    ground = rear.y - frame.wheel_radius_rear
    up = np.subtract(top, foot) / top.distance(foot)
    axis_on_ground = np.array([line_meets_level(foot, up, ground), ground])
    contact = np.array([front.x, ground])
    assert d["trail"] == pytest.approx(
        axis_on_ground[0] - contact[0], abs=1e-9
    )  # contact behind the axis: positive
    behind = contact - axis_on_ground
    lever = behind[0] * up[1] - behind[1] * up[0]
    assert d["mechanical_trail"] == pytest.approx(-lever, abs=1e-9)
    assert d["wheel_flop"] == pytest.approx(-lever * cos(radians(frame.head_angle)), abs=1e-9)
    assert d["wheelbase"] == pytest.approx(contact[0] - rear.x)
    assert d["front_center"] == pytest.approx(np.hypot(*front))
    assert d["front_center_horizontal"] == front.x
    assert d["chainstay_horizontal"] == pytest.approx(-rear.x)
    assert (d["bb_height"], d["ground_y"]) == (pytest.approx(-ground), pytest.approx(ground))
    seat = p["seat_tube_top"]
    assert d["effective_top_tube"] == pytest.approx(top.x - line_meets_level((0, 0), seat, top.y))
    assert d["stack"] == top.y
    assert d["axle_to_crown_straight"] == pytest.approx(front.distance(p["fork_crown"]))
    assert d["fork_length_along_axis"] == frame.fork_length


@settings(deadline=None, max_examples=30)
@given(frame=frames)
def test_tubes_between_their_joints(frame: FrameDimensions):
    p, d = frame.points(), frame.derived()
    seat_end, head_end = p["seat_tube_top_tube_node"], p["top_tube_head_node"]
    assert seat_end.distance(Point(0, 0)) == pytest.approx(frame.top_tube_on_seat_tube)
    assert p["seat_tube_top"].distance(Point(0, 0)) == pytest.approx(frame.seat_tube)
    assert p["seat_tube_seatstay_node"].distance(seat_end) == pytest.approx(
        frame.seatstay_below_top_tube
    )
    assert p["seat_tube_seatstay_node"].y < seat_end.y
    assert head_end.distance(p["head_tube_top"]) == pytest.approx(frame.top_tube_below_head_top)
    assert p["down_tube_head_node"].distance(p["head_tube_bottom"]) == pytest.approx(
        frame.down_tube_above_head_bottom
    )
    assert head_end.y < p["head_tube_top"].y
    assert p["down_tube_head_node"].y > p["head_tube_bottom"].y
    assert d["top_tube_cc"] == pytest.approx(np.hypot(*np.subtract(head_end, seat_end)))
    assert d["down_tube_cc"] == pytest.approx(np.hypot(*p["down_tube_head_node"]))
    assert d["seatstay_cc"] == pytest.approx(p["seat_tube_seatstay_node"].distance(p["rear_axle"]))
    assert d["top_tube_slope_deg"] == pytest.approx(
        degrees(atan2(head_end.y - seat_end.y, head_end.x - seat_end.x))
    )
    assert d["standover"] == pytest.approx((seat_end.y + head_end.y) / 2 + d["bb_height"])


def test_the_tourer_by_hand():
    """452 chainstay and 76 drop: 452² - 76² = 198 528; the rest step by step on paper with H = 71.8 degrees."""
    h = radians(71.8)
    assert D.rear_axle == (pytest.approx(-(198_528**0.5)), 76.0)
    assert D.ground_y == 76.0 - 348.0
    assert D.axis_up == (pytest.approx(-cos(h)), pytest.approx(sin(h)))
    assert D.axis_forward == (pytest.approx(sin(h)), pytest.approx(cos(h)))
    assert D.stack == pytest.approx(76 - 50 * cos(h) + (389 + 13 + 158) * sin(h))
    assert D.trail == pytest.approx(61.78, abs=0.005)
    assert D.derived()["wheel_flop"] == pytest.approx(61.782 * sin(h) * cos(h), abs=1e-3)


def test_unequal_wheels_put_the_axles_at_different_heights():
    assert UNEQUAL.front_axle.y == pytest.approx(55.0 - 343.0 + 310.0)
    assert UNEQUAL.rear_axle.y == 55.0
    assert UNEQUAL.trail == pytest.approx((310 * cos(radians(70.5)) - 50) / sin(radians(70.5)))


def test_what_the_input_does_not_hold_is_none():
    """Each of the last five alone takes exactly what hangs on it."""
    hangs = {
        "seat_tube": set(),
        "top_tube_on_seat_tube": {"top_tube_slope_deg", "top_tube_cc", "standover", "seatstay_cc"},
        "top_tube_below_head_top": {"top_tube_slope_deg", "top_tube_cc", "standover"},
        "down_tube_above_head_bottom": {"down_tube_cc"},
        "seatstay_below_top_tube": {"seatstay_cc"},
    }
    points = {
        "seat_tube": {"seat_tube_top"},
        "top_tube_on_seat_tube": {"seat_tube_top_tube_node", "seat_tube_seatstay_node"},
        "top_tube_below_head_top": {"top_tube_head_node"},
        "down_tube_above_head_bottom": {"down_tube_head_node"},
        "seatstay_below_top_tube": {"seat_tube_seatstay_node"},
    }
    for name, expected in hangs.items():
        bare = replace(D, **{name: None})
        assert {k for k, v in bare.derived().items() if v is None} == expected
        assert {k for k, v in bare.points().items() if v is None} == points[name]
    assert all(isfinite(v) for v in D.derived().values())


def test_points_along_and_between():
    assert Point(1.0, 2.0).along((0.6, -0.8), 10.0) == (7.0, -6.0)
    assert Point(1.0, 2.0).distance(Point(4.0, 6.0)) == 5.0


LIMITS = {name: QUANTITIES[name].believable for name in FIELDS}


# --- refusals -----------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("name", LIMITS)
def test_each_item_beyond_its_range_is_refused_by_name(name):
    low, high = LIMITS[name]
    words = rf"^{label(name)} is .*, expected {low:g} to {high:g} (mm|degrees); check the value and"
    for value in (low - 0.001, high + 0.001, nan, float("inf")):
        with pytest.raises(ModelError, match=words):
            replace(D, **{name: value})


@pytest.mark.parametrize("name", FIELDS)
def test_only_the_last_five_may_be_missing(name):
    placing = (
        "seat_tube",
        "top_tube_on_seat_tube",
        "top_tube_below_head_top",
        "down_tube_above_head_bottom",
        "seatstay_below_top_tube",
    )
    if name in placing:
        assert getattr(replace(D, **{name: None}), name) is None
    else:
        with pytest.raises(ModelError, match=f"{label(name)} is not stated"):
            replace(D, **{name: None})


def test_the_believable_ranges_have_not_moved():
    """Regression: wide on purpose, from a child's 12-inch bicycle to a long-john (common practice, no source)."""
    assert LIMITS == {
        "reach": (150, 700),
        "head_angle": (50, 85),
        "seat_angle": (50, 88),
        "bb_drop": (-120, 150),
        "chainstay": (250, 700),
        "head_tube": (50, 400),
        "lower_stack": (0, 80),
        "fork_length": (200, 650),
        "fork_offset": (-30, 150),
        "wheel_radius_front": (120, 420),
        "wheel_radius_rear": (120, 420),
        "seat_tube": (150, 800),
        "top_tube_on_seat_tube": (120, 800),
        "top_tube_below_head_top": (0, 300),
        "down_tube_above_head_bottom": (0, 300),
        "seatstay_below_top_tube": (-450, 400),
    }


def test_an_item_behind_a_missing_one_is_checked_too():
    with pytest.raises(ModelError, match="seatstay below top tube is 900"):
        replace(D, seat_tube=None, top_tube_on_seat_tube=None, seatstay_below_top_tube=900.0)


def test_dimensions_cannot_be_changed_behind_the_back_of_what_was_derived():
    with pytest.raises(FrozenInstanceError):
        D.reach = 400.0


def test_the_ends_of_a_range_are_believed():
    for name, (low, high) in LIMITS.items():
        for value in (low, high):
            assert getattr(replace(D, **{name: value}), name) == value


def test_a_chainstay_no_longer_than_the_drop_cannot_be(monkeypatch):
    short = replace(QUANTITIES["chainstay"], believable=(10.0, 700.0))
    monkeypatch.setitem(QUANTITIES, "chainstay", short)
    for drop in (76.0, -76.0):
        with pytest.raises(
            ModelError,
            match=r"chainstay length 76 mm is not longer than the bottom bracket drop -?76 mm",
        ):
            replace(D, chainstay=76.0, bb_drop=drop)
    assert replace(D, chainstay=76.5).rear_axle.x < 0
