"""Room for those who ride behind: legs as two links, gaps by hand, what the side view's table lists."""

from dataclasses import replace
from functools import cache
from math import hypot
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from droptrail.converters.files.drafting.frame import draw_frame
from droptrail.converters.files.fitsheet.starter import plan_starter, write_starter_sheet
from droptrail.converters.inputs import ReadOptions, read_input
from droptrail.model.frame import rider_room
from droptrail.model.frame.bicycle import Bicycle
from droptrail.model.frame.clearance import clearance_findings, clearances
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.rider_room import lengths_behind, rooms_behind
from droptrail.model.tubes.known_plans import DIAMOND, PLANS
from shapely import LineString, Point


@cache
def tandem() -> Bicycle:
    return plan_starter(PLANS["tandem"])


def changed(**items: float) -> Bicycle:
    return replace(tandem(), placing={**tandem().placing, **items})


def rooms(bicycle: Bicycle) -> list[float]:
    return [gap for _, gap, _ in rooms_behind(bicycle)]


def test_the_leg_is_two_links_that_bend_forward() -> None:
    """700 mm up to the clamp, 750 to the saddle's top: an inside leg of 849 mm, a stature of 1807, thigh 443, shank
    445, all round the crank."""
    joints = lay_out(tandem()).joints
    saddle, bracket = (np.array(joints[f"stoker_{name}"][:2]) for name in ("saddle", "bracket"))
    knees = rider_room._knees(tandem(), saddle, bracket)
    hip = saddle + np.array([20.0, 80.0])
    assert np.hypot(*(knees - hip).T) == pytest.approx(750 / 0.883 / 0.47 * 0.245, rel=1e-9)
    turn = np.linspace(0.0, 2 * np.pi, len(knees), endpoint=False)
    pedal = bracket + 170.0 * np.column_stack([np.cos(turn), np.sin(turn)])
    ankle = pedal + np.array([-110.0, 100.0])
    assert np.hypot(*(knees - ankle).T) == pytest.approx(750 / 0.883 / 0.47 * 0.246, rel=1e-9)
    # ahead of the line from hip to ankle, and never straight at a usual saddle height
    way = ankle - hip
    across = way[:, 0] * (knees - hip)[:, 1] - way[:, 1] * (knees - hip)[:, 0]
    assert (across / np.hypot(*way.T)).min() > 50.0


def test_the_knees_gap_is_that_of_a_geometry_library() -> None:
    """Knees by intersecting two circles, gaps by distances of lines, both in shapely."""
    joints = lay_out(tandem()).joints
    at = {name: np.array(joints[name][:2]) for name in ("saddle", "bottom_bracket")}
    saddle, bracket = (np.array(joints[f"stoker_{name}"][:2]) for name in ("saddle", "bracket"))
    rear = LineString([at["saddle"] - np.array((140.0, 0.0)), at["saddle"]])
    seat = LineString([at["bottom_bracket"], at["saddle"]]).buffer(18.0, quad_segs=64)
    stature = 750 / 0.883 / 0.47
    hip = Point(saddle + np.array((20.0, 80.0))).buffer(0.245 * stature, quad_segs=4096).boundary
    gaps = []
    for turn in np.linspace(0.0, 2 * np.pi, 180, endpoint=False):
        pedal = bracket + 170.0 * np.array([np.cos(turn), np.sin(turn)])
        ankle = (
            Point(pedal + np.array((-110.0, 100.0)))
            .buffer(0.246 * stature, quad_segs=4096)
            .boundary
        )
        # the one farther ahead: knees bend forward
        knee = max(hip.intersection(ankle).geoms, key=lambda point: point.x)
        front = Point(knee.x + 60.0, knee.y)
        gaps.append(min(front.distance(rear), front.distance(seat)))
    assert rooms(tandem())[0] == pytest.approx(min(gaps), abs=0.05)


def test_a_longer_boom_makes_room_for_the_knees_and_the_reach() -> None:
    """The stoker moves back as a whole, his bar stays on the captain's seat tube."""
    usual = rooms(tandem())
    longer = rooms(changed(boom_length=720.0))
    assert 5.0 < longer[0] - usual[0] <= 30.0
    assert longer[1] == pytest.approx(usual[1])
    assert longer[2] - usual[2] == pytest.approx(30.0)


def test_a_bar_under_the_saddle_by_hand() -> None:
    """The captain's saddle clamp 740 mm up a seat tube of 72.5 degrees, its rear end 140 mm behind; the stoker's bar
    60 mm behind the seat tube's top at 560 mm and 120 mm above; half a grip 16 mm."""
    up = np.array([-np.cos(np.radians(72.5)), np.sin(np.radians(72.5))])
    clamp = 740.0 * up
    bar = 560.0 * up + np.array([-60.0, 120.0])
    # below the saddle's straight line, between its ends
    assert clamp[0] - 140.0 < bar[0] < clamp[0]
    assert rooms(tandem())[1] == pytest.approx(clamp[1] - bar[1] - 16.0)


def test_too_little_room_is_told_with_what_to_do() -> None:
    assert not [f for f in clearance_findings(tandem()) if "stoker" in f.message]
    near = changed(stoker_seat_behind=-60.0, boom_length=520.0)
    told = {f.message for f in clearance_findings(near) if "knees" in f.message}
    assert len(told) == 1
    said = told.pop()
    assert "stoker's knees to the captain's saddle and seat tube" in said
    low = changed(stoker_bar_rise=160.0)
    assert any(
        "stoker's bars to the captain's saddle" in f.message for f in clearance_findings(low)
    )
    assert not [one for one in clearances(plan_starter(DIAMOND)) if "knees" in one.name]


def test_lengths_between_riders() -> None:
    risen = changed(boom_rise=40.0)
    lengths = lengths_behind(risen)
    assert lengths["stoker bracket to bottom bracket"] == pytest.approx(hypot(690.0, 40.0))
    joints = lay_out(risen).joints
    behind = joints["saddle"][0] - joints["stoker_saddle"][0]
    assert lengths["stoker's saddle behind the captain's, level"] == pytest.approx(behind)


# --- the drawing's table ---------------------------------------------------------------------------------------------


def test_the_drawing_lists_the_plans_sizes_and_they_are_read_back(tmp_path: Path) -> None:
    """Item and number stand in a row; another number typed over it is told with both."""
    draw_frame(tandem(), tmp_path / "t.dxf")
    drawing = ezdxf.readfile(tmp_path / "t.dxf")
    texts = [*drawing.modelspace().query("TEXT")]
    listed = {"boom length", "stoker saddle height", "lateral on captain seat tube"}
    assert listed | {"stoker bracket to bottom bracket"} <= {one.dxf.text for one in texts}
    (boom,) = (one for one in texts if one.dxf.text == "boom length")
    row = [one for one in texts if abs(one.dxf.insert.y - boom.dxf.insert.y) < 1e-6]
    number = next(one for one in row if one.dxf.insert.x > boom.dxf.insert.x)
    assert number.dxf.text == "690.0 mm"
    sheet = tmp_path / "t.csv"
    write_starter_sheet(sheet, plan=PLANS["tandem"])
    for options, given in ((ReadOptions(), sheet), (ReadOptions(plan="tandem"), None)):
        right = read_input(tmp_path / "t.dxf", given, options)
        assert "side-note-differs" not in {f.code for f in right.findings}
    number.dxf.text = "700.0 mm"
    drawing.saveas(tmp_path / "wrong.dxf")
    for options, given in ((ReadOptions(), sheet), (ReadOptions(plan="tandem"), None)):
        wrong = read_input(tmp_path / "wrong.dxf", given, options)
        told = [str(f.message) for f in wrong.findings if f.code == "side-note-differs"]
        assert len(told) == 1
        assert "boom length" in told[0]
        assert "700" in told[0]
        assert "690" in told[0]
