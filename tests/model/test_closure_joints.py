"""A joint beyond the end of the tube it sits on is an error of the sheet and a refusal of the layout."""

from dataclasses import replace

import pytest
from droptrail.model.errors import ModelError
from droptrail.model.geometry.closure import solve_dimensions
from droptrail.model.geometry.dimensions import FrameDimensions
from droptrail.model.geometry.joints import joints_outside
from droptrail.model.geometry.statements import FIELDS
from helpers_side_view import frames, truth_dimensions
from hypothesis import given, settings
from hypothesis import strategies as st

SOUND = truth_dimensions("01")


def outside(**changed: float) -> tuple[str, ...]:
    return joints_outside(replace(SOUND, **changed))


def test_a_sound_frame_has_none() -> None:
    assert outside() == ()
    assert joints_outside(FrameDimensions(*(getattr(SOUND, n) for n in FIELDS[:11]))) == ()
    assert outside(top_tube_on_seat_tube=SOUND.seat_tube, seatstay_below_top_tube=0.0) == ()


@pytest.mark.parametrize(
    ("name", "by", "words"),
    [
        (
            "top_tube_on_seat_tube",
            "seat_tube",
            "the top tube joins the seat tube 61 mm above its top end; check seat tube "
            "length and top tube on seat tube",
        ),
        (
            "down_tube_above_head_bottom",
            "head_tube",
            "the down tube joins the head tube 61 mm above its upper end; check "
            "head tube length and down tube above head tube bottom",
        ),
        (
            "top_tube_below_head_top",
            "head_tube",
            "the top tube joins the head tube 61 mm below its lower end; check head "
            "tube length and top tube below head tube top",
        ),
    ],
)
def test_each_joint_is_named_with_how_far_it_is_off(name: str, by: str, words: str) -> None:
    changed = {name: getattr(SOUND, by) + 60.8, "seatstay_below_top_tube": 100.0}
    assert outside(**changed) == (words,)


def test_seatstays_above_the_top_and_below_the_bottom_bracket() -> None:
    (high,) = outside(seatstay_below_top_tube=SOUND.top_tube_on_seat_tube - SOUND.seat_tube - 4.25)
    assert high.startswith(
        "the seatstays join the seat tube 4.2 mm above its top end; check seat tube length, "
    )
    (low,) = outside(top_tube_on_seat_tube=150.0, seatstay_below_top_tube=170.0)
    assert "20 mm below the bottom bracket" in low


@settings(max_examples=60, deadline=None)
@given(
    frame=frames,
    name=st.sampled_from(["top_tube_on_seat_tube", "down_tube_above_head_bottom"]),
    by=st.floats(-60.0, 60.0).filter(lambda d: abs(d) > 1e-3),
)
def test_the_points_of_the_side_view_say_the_same(
    frame: FrameDimensions, name: str, by: float
) -> None:
    """Held against the joint's distance from both ends of the tube: beyond an end they do not add up to its length."""
    tube = "seat_tube" if name == "top_tube_on_seat_tube" else "head_tube"
    try:
        d = replace(frame, **{name: getattr(frame, tube) + by, "seatstay_below_top_tube": 70.0})
    except ModelError:
        return
    joint, low, high = (
        (d.seat_tube_top_tube_node, d.bottom_bracket, d.seat_tube_top)
        if tube == "seat_tube"
        else (d.down_tube_head_node, d.head_tube_bottom, d.head_tube_top)
    )
    beyond = joint.distance(low) + joint.distance(high) > low.distance(high) + 1e-6
    assert bool(joints_outside(d)) == beyond == (by > 0)


def test_the_closure_of_a_sheet_calls_it_an_error() -> None:
    stated = {name: getattr(SOUND, name) for name in FIELDS}
    stated |= {"top_tube_on_seat_tube": SOUND.seat_tube + 10.0, "seatstay_below_top_tube": 100.0}
    found = solve_dimensions(stated).findings
    assert [(f.code, f.severity) for f in found] == [("closure-joint-outside", "error")]
    assert "joins the seat tube 10 mm above its top end" in found[0].message
