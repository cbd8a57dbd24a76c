"""What marks the nodes of a drawing, and where tubes end: each told by what was drawn, on frames of known truth."""

from dataclasses import replace
from math import hypot
from types import SimpleNamespace

import numpy as np
import pytest
from droptrail.converters.drawings.labelling.measure import Measured
from droptrail.converters.drawings.labelling.nodes import Node, Witness
from droptrail.converters.drawings.labelling.witnesses import lateral_noise, site_witnesses
from droptrail.converters.drawings.linework.pose import Pose
from droptrail.converters.drawings.linework.rounds import Round
from droptrail.converters.drawings.sideview import recognise as door
from helpers_habits import DrawnFrame, Habit, Sheet, draw, place, random_drawn_frame

FRAMES = [random_drawn_frame(np.random.default_rng(seed), "700C") for seed in (0, 2, 3)]


@pytest.fixture
def measured(monkeypatch):
    """What a sheet measures as; `turned` about, as a drawing may lie."""
    taken: list[Measured] = []
    plain = door.measure

    def measure(*given):
        taken.append(plain(*given))
        return taken[-1]

    def of(sheet: Sheet, **how) -> Measured:
        door.recognise(place(sheet, **how).drawing())
        return taken[-1]

    monkeypatch.setattr(door, "measure", measure)
    return of


def sheet_of(frame: DrawnFrame, **habit) -> Sheet:
    return draw(frame, Habit(**habit), np.random.default_rng(1))


def towards(p, q, by):
    """The point `by` mm from p towards q."""
    length = hypot(q[0] - p[0], q[1] - p[1])
    return (p[0] + (q[0] - p[0]) * by / length, p[1] + (q[1] - p[1]) * by / length)


def moved_end(sheet: Sheet, part: str, end: int, by: float) -> None:
    """One end of a member's line drawn short by so many mm."""
    (k,) = [k for k, item in enumerate(sheet.items) if item.part == part]
    points = list(sheet.items[k].points)
    points[end] = towards(points[end], points[1 - end], by)
    sheet.items[k] = replace(sheet.items[k], points=tuple(points))


# --- axles and bottom bracket ---------------------------------------------------------------------------------


@pytest.mark.parametrize("mark", ["circle", "cross"])
@pytest.mark.parametrize("turn", [0.0, 33.0])
def test_the_mark_of_an_axle_speaks_for_it(measured, mark, turn):
    name = {"circle": "the circle of radius 5 mm", "cross": "the axle's cross"}[mark]
    m = measured(sheet_of(FRAMES[0], axle_marks=mark), turn=turn)
    for node in (m.rear, m.front):
        assert name in {w.name for w in node.agreeing}


def test_a_small_circle_at_the_axle_marks_it_and_one_beside_it_does_not(measured):
    frame = FRAMES[0]
    d = frame.dimensions
    for beside, marks in ((0.0, True), (6.0, False)):
        sheet = sheet_of(frame, axle_marks="none")
        for axle in (d.rear_axle, d.front_axle):
            sheet.circle((axle.x + beside, axle.y), 3.0, "eyelet")
        m = measured(sheet)
        names = {w.name for node in (m.rear, m.front) for w in node.agreeing}
        astray = {w.name for node in (m.rear, m.front) for w, _ in node.astray}
        assert ("the circle of radius 3 mm" in names) is marks
        assert "the circle of radius 3 mm" not in astray


def test_no_cross_is_made_of_lines_that_are_not_each_other_s_middle(measured):
    frame = FRAMES[0]
    at = frame.dimensions.rear_axle
    sheet = sheet_of(frame, axle_marks="none")
    sheet.line((at.x - 12.0, at.y), (at.x + 12.0, at.y), "mark")
    sheet.line((at.x, at.y), (at.x, at.y + 24.0), "mark")
    assert "the axle's cross" not in {w.name for w in measured(sheet).rear.agreeing}


@pytest.mark.parametrize(
    ("radius", "name"),
    [
        (14.5, "the circle of radius 14.5 mm"),
        (15.0, "the bottom bracket circle"),
        (32.0, "the bottom bracket circle"),
        (33.0, "the circle of radius 33 mm"),
    ],
)
def test_a_circle_of_a_shell_s_size_is_the_bottom_bracket_s(measured, radius, name):
    """13.5 to 32 mm radius: shells from 30 to 60 mm outside (common practice, no source)."""
    sheet = sheet_of(FRAMES[0], bb_mark=False)
    sheet.circle((0.0, 0.0), radius, "bb_shell")
    assert name in {w.name for w in measured(sheet).bb.agreeing}


@pytest.mark.parametrize(
    ("part", "end"), [("seat_tube", 0), ("down_tube", 0), ("chainstay", 1)], ids=lambda x: str(x)
)
def test_a_member_that_stops_short_of_the_bottom_bracket_leaves_a_gap(measured, part, end):
    sheet = sheet_of(FRAMES[0])
    moved_end(sheet, part, end, 5.0)
    m = measured(sheet)
    (witness,) = [w for w in m.bb.agreeing if w.name == f"the {part.replace('_', ' ')}"]
    assert witness.gap(m.bb.at) == pytest.approx(5.0, abs=1e-6)


# --- the fork's upper end, and the seat tube's --------------------------------------------------------------


@pytest.mark.parametrize("frame", FRAMES)
def test_a_blade_drawn_a_little_short_of_the_axis_is_run_on_to_it(measured, frame):
    whole = measured(sheet_of(frame))
    assert whole.crown_gap == 0.0
    assert whole.crown_by == "the fork's upper end"
    sheet = sheet_of(frame)
    (blade,) = [item for item in sheet.items if item.part == "fork"]
    upper = int(blade.points[1][1] > blade.points[0][1])
    moved_end(sheet, "fork", upper, 2.0)
    m = measured(sheet)
    assert m.crown_by == "where the fork's line crosses the axis"
    assert m.dimensions.fork_length == pytest.approx(frame.dimensions.fork_length, abs=1e-6)
    assert m.crown_gap == pytest.approx(2.0, abs=1e-6)


def test_a_blade_that_ends_well_short_ends_where_it_was_drawn(measured):
    """Its crossing is flat: run on by 8 mm it would land anywhere; the miss across is told."""
    sheet = sheet_of(FRAMES[0])
    (blade,) = [item for item in sheet.items if item.part == "fork"]
    moved_end(sheet, "fork", int(blade.points[1][1] > blade.points[0][1]), 8.0)
    m = measured(sheet)
    assert m.crown_by == "the fork's upper end"
    assert m.crown_miss > 0.5


@pytest.mark.parametrize("frame", FRAMES)
@pytest.mark.parametrize("downwards", [False, True])
@pytest.mark.parametrize("post", [False, True])
def test_the_seat_tube_ends_where_its_own_line_ends(measured, frame, downwards, post):
    """A seatpost drawn on along the same axis is no seat tube, whichever way either is drawn."""
    d = frame.dimensions
    sheet = sheet_of(frame)
    if post:
        ends = (d.seat_tube_top, towards(d.seat_tube_top, d.bottom_bracket, -90.0))
        sheet.line(*(ends[::-1] if downwards else ends), "seatpost")
    if downwards:
        sheet.items = [
            replace(item, points=item.points[::-1]) if item.part == "seat_tube" else item
            for item in sheet.items
        ]
    assert measured(sheet).dimensions.seat_tube == pytest.approx(d.seat_tube, abs=1e-6)


# --- circles about a wheel, and lines beside a node -----------------------------------------------------------


@pytest.mark.parametrize(
    ("radius", "beside", "coverage", "speaks"),
    [
        (3.0, 1.9, 1.0, True),
        (3.0, 2.1, 1.0, False),  # an eyelet of the dropout
        (4.1, 2.1, 1.0, True),
        (30.0, 29.0, 1.0, True),
        (30.0, 31.0, 1.0, False),  # it does not hold the axle
        (345.0, 0.0, 0.5, False),  # a mudguard's arc
        (320.0, 0.0, 0.5, True),
        (345.0, 0.0, 1.0, True),
    ],
)
def test_which_circles_about_a_wheel_speak_for_its_axle(radius, beside, coverage, speaks):
    """Drawn at one to two, forward of the wheel's centre at (500, 340) or behind it."""
    pose = Pose((500.0, 340.0), 2.0, 0.0, 0.0, 2.0)
    tyre = Round((500.0, 340.0), 340.0 / 2, 0.0, 1.0, (0,))
    for drawn in ((500.0 + beside / 2, 340.0), (500.0, 340.0 - beside / 2)):
        other = Round(drawn, radius / 2, 0.0, coverage, (1,))
        site = SimpleNamespace(centre=(500.0, 340.0), rounds=[tyre, other], tyre=tyre)
        found = site_witnesses(site, pose)
        assert [w.name for w in found[:1]] == ["the wheel's circle"]
        assert [w.name for w in found[1:]] == [f"the circle of radius {radius:.4g} mm"] * speaks
        assert [w.at for w in found[1:]] == [pytest.approx(pose.apply(drawn))] * speaks


def test_lines_that_pass_a_node_by_little_tell_how_far_a_drawing_disagrees_with_itself():
    def passing(by: float) -> Witness:
        return Witness("a line", (40.0, by), (1.0, 0.0), ended=False)

    mark = Witness("a circle", (0.3, 0.4))
    rear = Node("rear axle", (0.0, 0.0), (passing(0.1), mark), ((passing(1.4), 1.4),), 0.05)
    bb = Node("bottom bracket", (0.0, 0.0), (passing(-0.2),), ((passing(1.6), 1.6),), 0.05)
    assert lateral_noise(rear, bb) == pytest.approx([0.1, 1.4, 0.2])
