"""One knob turned: what was to stay stays, what was to follow follows, nothing else moves; goals by closed form."""

from dataclasses import replace
from math import cos, radians, sin

import pytest
from droptrail.model.choice.sights import find_sight, front_share, seek, sights
from droptrail.model.errors import ModelError
from droptrail.model.frame.bicycle import G_ACCEL
from droptrail.model.geometry.knobs import FOLLOWERS, moved
from droptrail.model.geometry.statements import FIELDS, label, quantities
from helpers_bicycle import tourer
from helpers_side_view import frames
from hypothesis import assume, given, settings
from hypothesis import strategies as st

FRAME = tourer().dimensions


def test_a_field_changed_alone_moves_no_other_field():
    now = moved(FRAME, {"fork_offset": 55.0}).dimensions
    assert now == replace(FRAME, fork_offset=55.0)


def test_the_trail_stays_and_the_offset_follows():
    """offset = R cos H - trail sin H, from the trail of Moore 2012 turned round."""
    result = moved(FRAME, {"head_angle": 73.0}, keep=["trail"])
    h = radians(73.0)
    offset = FRAME.wheel_radius_front * cos(h) - FRAME.trail * sin(h)
    assert result.dimensions.trail == pytest.approx(FRAME.trail, abs=1e-9)
    assert result.dimensions.fork_offset == pytest.approx(offset, abs=1e-9)
    assert [name for name, _, _ in result.followed] == ["fork_offset"]
    assert "fork offset follows: 50.00 ->" in str(result)


def test_stack_and_reach_stay_with_other_tyres():
    """A front tyre 5 mm larger lifts the front axle by 5 mm; the head tube gives 5 / sin H."""
    changes = {"wheel_radius_front": FRAME.wheel_radius_front + 5.0}
    now = moved(FRAME, changes, keep=["stack", "reach"]).dimensions
    assert (now.stack, now.reach) == pytest.approx((FRAME.stack, FRAME.reach), abs=1e-9)
    lost = FRAME.head_tube - now.head_tube
    assert lost == pytest.approx(5.0 / sin(radians(FRAME.head_angle)), abs=1e-9)


def test_the_head_angle_follows_where_it_is_asked_to():
    now = moved(
        FRAME,
        {"wheel_radius_front": 353.0, "wheel_radius_rear": 353.0},
        keep=["trail"],
        follow=["head_angle"],
    ).dimensions
    assert now.trail == pytest.approx(FRAME.trail, abs=1e-9)
    assert now.fork_offset == FRAME.fork_offset
    assert now.head_angle != FRAME.head_angle


@settings(deadline=None, max_examples=40)
@given(frame=frames, kept=st.sampled_from(sorted(FOLLOWERS)), field=st.sampled_from(FIELDS))
def test_whatever_is_kept_stays_and_only_what_follows_moves(frame, kept, field):
    held = quantities(frame)
    assume(held[kept] is not None and held[field] is not None)
    try:
        result = moved(frame, {field: held[field] * 1.004}, keep=[kept])
    except ModelError:
        return  # a refusal is always allowed, a silent miss never
    now = quantities(result.dimensions)
    assert now[kept] == pytest.approx(held[kept], abs=1e-6)
    assert now[field] == pytest.approx(held[field] * 1.004, abs=1e-9)
    follower = next(name for name in FOLLOWERS[kept] if name != field)
    others = [name for name in FIELDS if name not in (field, follower) and held[name] is not None]
    assert [now[name] for name in others] == pytest.approx([held[n] for n in others], abs=1e-6)


@pytest.mark.parametrize(
    ("changes", "keep", "follow", "words"),
    [
        ({"fork_offset": 55, "head_angle": 73}, ["trail"], [], "everything that could follow"),
        ({"head_angle": 73}, ["trail"], ["seat_angle"], "cannot be had together"),
        ({"head_angle": 73}, ["trail"], ["stack"], "worked out from other dimensions"),
        ({"head_angle": 73}, ["trail"], ["head_angle"], "is itself set or kept"),
        ({"head_angle": 73}, [], ["fork_offset"], "has nothing to follow"),
        ({"head_angle": 12}, [], [], "expected 50 to 85"),
        ({"trail": 250}, [], [], "expected -30 to 150"),
    ],
)
def test_what_cannot_be_is_refused_with_the_next_step(changes, keep, follow, words):
    with pytest.raises(ModelError, match=words):
        moved(FRAME, changes, keep, follow)


# --- what is seen without solving -----------------------------------------------------------------------------------
def test_the_weight_on_the_front_wheel_is_that_of_the_moments():
    """Bags at the front hang half at the axle, half at the crown; weight times lever over wheelbase is on the wheel."""
    bicycle = tourer()
    weight = find_sight(bicycle, "front_weight").of
    front = replace(bicycle, loads=replace(bicycle.loads, front_luggage=20.0))
    rear = replace(bicycle, loads=replace(bicycle.loads, rear_luggage=20.0))
    crown = (FRAME.fork_crown.x - FRAME.rear_axle.x) / (FRAME.front_axle.x - FRAME.rear_axle.x)
    added = 20 * G_ACCEL * (0.5 + 0.5 * crown)
    assert weight(front) - weight(bicycle) == pytest.approx(added, rel=1e-9)
    assert 0 < weight(rear) - weight(bicycle) < 0.1 * 20 * G_ACCEL
    # a rider whose centre moves back by x takes m g x / wheelbase off it
    back = replace(bicycle, loads=replace(bicycle.loads, saddle_share=0.65, pedal_share=0.15))
    assert weight(back) < weight(bicycle)
    assert 25 < front_share(bicycle) < 55


def test_every_sight_has_one_key_and_a_number():
    known = sights(tourer())
    assert len({one.key for one in known}) == len(known) > 15
    assert all(one.of(tourer()) == one.of(tourer()) for one in known)
    with pytest.raises(ModelError, match="known: trail"):
        find_sight(tourer(), "tail")


def test_a_goal_is_found_where_the_closed_form_says():
    bicycle = tourer()
    trail = find_sight(bicycle, "trail").of

    def make(offset):
        return replace(bicycle, dimensions=moved(FRAME, {"fork_offset": offset}).dimensions)

    found, _ = seek(make, trail, 60.0, (-30.0, 150.0), FRAME.fork_offset)
    h = radians(FRAME.head_angle)
    assert found == pytest.approx(FRAME.wheel_radius_front * cos(h) - 60.0 * sin(h), abs=1e-9)
    none, (least, most) = seek(make, trail, 500.0, (-30.0, 150.0), FRAME.fork_offset)
    assert none is None
    assert least < trail(bicycle) < most


@pytest.mark.parametrize(
    ("name", "value"),
    [("chainstay", 1.0), ("chainstay", 1e9), ("head_angle", -5.0), ("fork_offset", 1e300)],
)
def test_a_value_no_bicycle_has_is_refused_by_name(name, value):
    with pytest.raises(ModelError, match="expected") as refused:
        moved(tourer().dimensions, {name: value, "seat_angle": 73.0})
    assert label(name) in str(refused.value)
