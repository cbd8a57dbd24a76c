"""The jig sheet against the frame's dimensions and the joints in space, worked out here a second way."""

from dataclasses import replace
from math import acos, atan2, degrees, hypot, radians, sin

import numpy as np
import pytest
from droptrail.model.frame.frame_mitres import frame_mitres
from droptrail.model.frame.jig import jig_sheet
from droptrail.model.frame.layout import lay_out
from helpers_bicycle import tourer
from helpers_drawn import BICYCLE

BICYCLES = {"tourer": tourer(), "drawn": BICYCLE}


def sheet_of(bicycle):
    return jig_sheet(bicycle, frame_mitres(bicycle, 40.0))


@pytest.fixture(params=BICYCLES)
def bicycle(request):
    return BICYCLES[request.param]


def test_points_are_the_dimensions_of_the_sheet(bicycle):
    d = bicycle.dimensions
    at = {setting.point: setting for setting in sheet_of(bicycle).settings}
    assert at["rear_axle"].y == pytest.approx(d.bb_drop)
    assert at["rear_axle"].distance == pytest.approx(d.chainstay)
    assert (at["head_tube_top"].x, at["head_tube_top"].y) == pytest.approx((d.reach, d.stack))
    assert at["seat_tube_top"].distance == pytest.approx(d.seat_tube)
    down = at["head_tube_top"].y - at["head_tube_bottom"].y
    assert down == pytest.approx(d.head_tube * sin(radians(d.head_angle)))
    for point in at.values():
        assert point.distance == pytest.approx(hypot(point.x, point.y))
        assert point.height - point.y == pytest.approx(d.wheel_radius_rear - d.bb_drop)


def test_slopes_are_the_angles_of_the_sheet(bicycle):
    d = bicycle.dimensions
    slopes = {slope.tube: slope for slope in sheet_of(bicycle).slopes}
    assert (slopes["head_tube"].angle, slopes["head_tube"].rises) == (
        pytest.approx(d.head_angle),
        "rearward",
    )
    assert slopes["seat_tube"].angle == pytest.approx(d.seat_angle)
    assert (slopes["down_tube"].rises, slopes["down_tube"].splay) == ("forward", 0.0)
    assert not any(name.endswith("_left") for name in slopes)
    f = bicycle.fittings
    half = (f.rear_hub_spacing - f.chainstay_spacing) / 2
    assert slopes["chainstay_right"].splay == pytest.approx(
        degrees(atan2(half, d.chainstay)), abs=0.02
    )


def test_a_level_tube_rises_to_no_side():
    frame = tourer()
    d = frame.dimensions
    # the seat-tube joint as high as the head-tube joint
    height = d.stack - d.top_tube_below_head_top * sin(radians(d.head_angle))
    level = replace(d, top_tube_on_seat_tube=height / sin(radians(d.seat_angle)), seat_tube=600.0)
    slopes = {s.tube: s for s in sheet_of(replace(frame, dimensions=level)).slopes}
    assert slopes["top_tube"].rises == "level"
    assert slopes["top_tube"].angle == pytest.approx(0.0, abs=1e-9)


def test_angles_between_tubes_are_those_of_their_joints_in_space(bicycle):
    layout = lay_out(bicycle)
    paths = {m.name: np.array(m.path) for m in layout.members}
    meetings = sheet_of(bicycle).meetings
    assert len(meetings) >= 7
    for meeting in meetings:
        tube = paths[meeting.tube][-1] - paths[meeting.tube][0]
        if meeting.neighbour == "bb_shell":
            other = np.array([0.0, 0.0, 1.0])
        else:
            other = paths[meeting.neighbour][-1] - paths[meeting.neighbour][0]
        lean = abs(tube @ other) / np.linalg.norm(tube) / np.linalg.norm(other)
        assert meeting.angle == pytest.approx(degrees(acos(min(lean, 1.0))), abs=1e-6)


def test_the_seatstay_stands_beside_the_seat_tube():
    frame = tourer()
    (meeting,) = (m for m in sheet_of(frame).meetings if m.tube == "seatstay_right")
    assert meeting.offset == pytest.approx(frame.fittings.seatstay_spacing / 2, rel=0.02)


def test_joints_are_measured_from_the_lower_end(bicycle):
    d = bicycle.dimensions
    on = {(o.tube, o.joint): o for o in sheet_of(bicycle).on_tubes}
    lower = on["head_tube", "down_tube_head_node"]
    assert (lower.distance, lower.measured_from) == (
        pytest.approx(d.down_tube_above_head_bottom),
        "head_tube_bottom",
    )
    upper = on["head_tube", "top_tube_head_node"]
    assert upper.distance == pytest.approx(d.head_tube - d.top_tube_below_head_top)
    seat = on["seat_tube", "seat_tube_top_tube_node"]
    assert (seat.distance, seat.measured_from) == (
        pytest.approx(d.top_tube_on_seat_tube),
        "bottom_bracket",
    )
    assert on["steerer", "steerer_lower"].distance == pytest.approx(d.lower_stack)


def test_every_tube_is_sawn_one_way_or_the_other(bicycle):
    sheet = sheet_of(bicycle)
    mitred = {cut.member.removesuffix("_right") for cut in sheet.cuts}
    square = {tube for tube, _ in sheet.square}
    assert mitred | square == set(bicycle.tubes)
    assert not mitred & square
