"""Room for tyres and feet: the gaps against other ways of working them out, and the words for what is too tight."""

from dataclasses import replace

import numpy as np
import pytest
from droptrail.model.frame.clearance import Clearance, clearance_findings, clearances, toe_gap
from helpers_bicycle import tourer
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

BIKE = replace(tourer(), tyre_widths=(37.0, 37.0))


def gap(bicycle, name):
    return next(one.gap for one in clearances(bicycle) if one.name == name)


def test_rear_tyre_to_seat_tube_is_the_foot_of_a_perpendicular():
    d = BIKE.dimensions
    up = np.array(d.seat_up)
    across = abs(up[0] * d.rear_axle.y - up[1] * d.rear_axle.x)  # cross product with a unit vector
    assert gap(BIKE, "rear tyre to seat tube") == pytest.approx(
        across - BIKE.tubes["seat_tube"].od_start / 2 - d.wheel_radius_rear, abs=1e-9
    )


def test_beside_parallel_blades_the_gap_is_a_sum_of_widths():
    """Blades parallel to the wheel: half the spacing less half a blade less half a tyre, wherever the blade passes."""
    wide = replace(
        BIKE, fittings=replace(BIKE.fittings, blade_spacing=100.0, front_hub_spacing=100.0)
    )
    od = min(BIKE.tubes["fork_blade"].od_start, BIKE.tubes["fork_blade"].od_end)
    thick = replace(
        wide,
        tubes={
            **wide.tubes,
            "fork_blade": replace(BIKE.tubes["fork_blade"], od_start=od, od_end=od),
        },
    )
    assert gap(thick, "front tyre to fork blades") == pytest.approx(50 - od / 2 - 37 / 2, abs=1e-3)


@settings(deadline=None, max_examples=25)
@given(head=st.floats(66, 76), offset=st.floats(30, 65), crank=st.floats(155, 180))
def test_toe_gap_against_another_way_of_turning_the_wheel(head, offset, crank):
    bicycle = replace(
        BIKE,
        dimensions=replace(BIKE.dimensions, head_angle=head, fork_offset=offset),
        fittings=replace(BIKE.fittings, crank_length=crank),
    )
    d, z = bicycle.dimensions, bicycle.fittings.pedal_offset
    about = np.linspace(0, 2 * np.pi, 20_001)
    wheel = np.column_stack(
        [
            d.front_axle.x + d.wheel_radius_front * np.cos(about),
            d.front_axle.y + d.wheel_radius_front * np.sin(about),
            0 * about,
        ]
    )
    axis, foot = np.array([*d.axis_up, 0.0]), np.array([*d.head_tube_top, 0.0])
    seen = []
    for angle in np.radians(np.arange(20, 61, 1.0)):
        turned = Rotation.from_rotvec(angle * axis).apply(wheel - foot) + foot
        seen += [turned[np.abs(turned[:, 2] - z) < 0.2, 0].min(initial=np.inf)]
    assert toe_gap(bicycle) == pytest.approx(min(seen) - crank, abs=0.5)


def test_a_short_chainstay_runs_the_tyre_into_the_seat_tube():
    short = replace(BIKE, dimensions=replace(BIKE.dimensions, chainstay=365.0))
    assert [
        (f.code, f.severity) for f in clearance_findings(short) if "seat tube" in f.message
    ] == [("clearance-none", "error")]


def test_a_fat_tyre_is_told_but_may_still_be_made_room_for():
    fat = replace(BIKE, tyre_widths=(61.0, 61.0))
    assert {
        (f.code, f.severity)
        for f in clearance_findings(fat)
        if "blades" in f.message or "stays" in f.message
    } == {("clearance-none", "warning")}


def test_a_steerer_wider_than_the_bore_is_an_error():
    steerer = replace(BIKE.tubes["steerer"], od_start=34.9, od_end=34.9)
    thick = replace(BIKE, tubes={**BIKE.tubes, "steerer": steerer})
    bore = BIKE.tubes["head_tube"].od_start - 2 * max(BIKE.tubes["head_tube"].walls)
    assert gap(thick, "steerer in the head tube, all round") == pytest.approx((bore - 34.9) / 2)
    assert "error" in {f.severity for f in clearance_findings(thick)}


def test_without_tyre_widths_only_the_middle_plane_is_judged():
    names = {one.name for one in clearances(tourer())}
    assert "rear tyre to seat tube" in names
    assert not any("stays" in name or "blades" in name for name in names)


@pytest.mark.parametrize(("size", "severity"), [(7.0, None), (3.0, "warning"), (-1.0, "error")])
def test_words_follow_the_gap(size, severity):
    found = Clearance("a to b", size, 6.0).finding
    assert (found.severity if found else None) == severity
