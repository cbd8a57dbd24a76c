"""The ways a fork is drawn, each as a few lines about an upright steering axis: where its crown is, and its points.

The axis runs up the y axis from (0, 0); the front axle is 45 mm before it. Lengths in mm are made up; the limits are
what the trade builds (common practice, no source).
"""

import itertools
from math import hypot

import numpy as np
import pytest
from droptrail.converters.drawings.drawing import Curve
from droptrail.converters.drawings.labelling import fork as f
from droptrail.converters.drawings.labelling.score import exactness, reaching
from droptrail.converters.drawings.linework.evidence import settled
from droptrail.converters.drawings.linework.lines import Candidate
from droptrail.converters.drawings.linework.pieces import cut
from droptrail.converters.drawings.linework.pose import Pose
from droptrail.converters.drawings.linework.strokes import gather
from droptrail.converters.drawings.linework.view import view

BASE = 1000.0  # wheelbase; the axis stands at the front
AXIS = Candidate((955.0, 0.0), (955.0, 800.0), (99,))
FRONT = (BASE, 0.0)
TOP = 400.0


def seen(*lines, curves=()):
    drawn = [Curve("line", np.array(points, float)) for points in lines]
    drawn += [Curve("spline", np.array(points, float)) for points in curves]
    pieces = cut(drawn)
    pose = Pose((0.0, 0.0), 1.0, 0.0, 0.0, 1.0)
    return view(pose, gather(pieces, 1.0), pieces, settled(drawn, None, None), FRONT)


def ways(*lines, kind: str, curves=()) -> list[f.Fork]:
    v = seen(*lines, curves=curves)
    return [way for way in f.forks(v, AXIS, f.ForkLinks(v)) if way.kind == kind]


def on(up: float, beside: float = 0.0):
    """A place by its height and how far it lies before the axis."""
    return (955.0 + beside, up)


# --- one path to the axle -----------------------------------------------------------------------------------


def test_a_straight_blade_to_the_axis_earns_all_points():
    (way, *_) = ways((FRONT, on(TOP)), kind="path")
    assert (way.crown, way.points) == (TOP, pytest.approx(2.0))
    assert (way.start, way.end) == (on(TOP), FRONT)
    assert (way.line.p, way.line.q) == (FRONT, on(TOP))


@pytest.mark.parametrize(("up", "fits"), [(149.0, 0), (151.0, 1), (719.0, 1), (721.0, 0)])
def test_a_fork_is_as_long_as_forks_are(up, fits):
    assert len(ways((FRONT, on(up)), kind="path")) == fits


@pytest.mark.parametrize(("off", "fits"), [(7.9, 1), (8.1, 0)])
def test_its_upper_end_lies_near_the_axis(off, fits):
    found = ways((FRONT, on(TOP, off)), kind="path")
    assert len(found) == fits
    for way in found:
        assert way.points == pytest.approx(1.0 + exactness(off))


@pytest.mark.parametrize(("off", "fits"), [(35.9, 1), (36.1, 0)])
def test_its_lower_end_lies_near_the_axle(off, fits):
    found = ways(((BASE, off), on(TOP)), kind="path")
    assert len(found) == fits
    for way in found:
        assert way.points == pytest.approx(1.0 + exactness(off))


@pytest.mark.parametrize(("gap", "joined"), [(0.0, True), (2.9, True), (3.1, False)])
def test_links_of_a_path_touch(gap, joined):
    """Axis and offset line: a link more costs 0.02, each millimetre of gap 0.01."""
    lines = (FRONT, on(0.0, gap)), (on(0.0), on(TOP))
    found = [w for w in ways(*lines, kind="path") if w.joints == pytest.approx((gap,))]
    assert bool(found) is joined
    if joined:
        best = max(w.points for w in found)
        assert best == pytest.approx(2.0 - 0.02 - 0.01 * gap)
        assert found[0].line is None


def test_of_five_links_a_path_is_one_and_of_six_none():
    corners = [FRONT, on(60, 30), on(120, 45), on(200, 20), on(280, 30), on(340, 3), on(TOP, -4)]
    chain = list(itertools.pairwise(corners))
    for drawn in (chain[:5], chain):
        (way,) = ways(*drawn, kind="path")
        assert (way.crown, len(way.strokes)) == (340.0, 5)
        assert way.points == pytest.approx(1.0 + exactness(3.0) - 4 * 0.02)


def test_a_raked_blade_is_a_curve():
    t = np.linspace(0.0, 1.0, 40)
    raked = np.column_stack((BASE - 45.0 * t**0.5, TOP * t))
    (way,) = ways(kind="path", curves=[raked])
    assert (way.strokes, way.bents, way.crown) == ((), (0,), TOP)
    assert way.line is None
    assert way.points == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("line", "counts"),
    [
        (((951.0, 0.0), (951.0, 5.9)), 0),
        (((951.0, 0.0), (951.0, 6.1)), 1),
        (((345.0, 0.0), (345.0, 90.0)), 0),
        (((355.0, 0.0), (355.0, 90.0)), 1),
        (((1195.0, 0.0), (1195.0, 90.0)), 1),
        (((1205.0, 0.0), (1205.0, 90.0)), 0),
        (((951.0, -159.5), (951.0, -141.5)), 0),
        (((951.0, -158.0), (951.0, -140.0)), 1),
        (((951.0, 990.0), (951.0, 1008.0)), 1),
        (((951.0, 993.0), (951.0, 1009.0)), 0),
    ],
)
def test_where_links_of_a_path_may_lie(line, counts):
    assert len(f.ForkLinks(seen(line)).names) == counts


@pytest.mark.parametrize(
    ("x", "y", "counts"), [(951, 0, 1), (200, 0, 0), (1300, 0, 0), (951, 2000, 0)]
)
def test_where_curves_of_a_path_may_lie(x, y, counts):
    raked = np.array([(x + 0.01 * t * t, y + t) for t in range(60)])
    assert len(f.ForkLinks(seen(curves=[raked])).names) == counts


def test_a_line_named_something_else_is_no_link():
    v = seen((FRONT, on(TOP)), (on(0.0), on(300.0)))
    assert len(f.ForkLinks(v).names) == 2
    v.evidence.roles[0] = "seat_tube"
    assert f.ForkLinks(v).names == [("s", 1)]


# --- straight lines and outlines --------------------------------------------------------------------------


def test_a_line_that_runs_on_past_the_axis_ends_where_it_crosses():
    """By 10 mm along it: 0.6 points for a blade at all, 1 for passing the axle, less for the overrun."""
    slope = TOP / 45.0
    size = hypot(45.0, TOP)
    tip = on(TOP + 10.0 * TOP / size, -10.0 * 45.0 / size)
    (way,) = ways((FRONT, tip), kind="line")
    assert slope > 0.0
    assert way.crown == pytest.approx(TOP)
    assert way.points == pytest.approx(1.6 * (0.4 + 0.6 * reaching(0.0) * reaching(10.0)))
    near = on(TOP + 8.0 * TOP / size, -8.0 * 45.0 / size)
    assert ways((FRONT, near), kind="line") == []  # its ends are meant: a path


@pytest.mark.parametrize(("off", "fits"), [(24.0, 1), (26.0, 0)])
def test_a_blade_does_not_run_far_beyond_the_axis(off, fits):
    low = (BASE, 0.0)
    tip = on(TOP + TOP * off / 45.0, -off)
    assert len(ways((low, tip), kind="line")) == fits


@pytest.mark.parametrize(("misses", "fits"), [(33.0, 1), (35.0, 0)])
def test_a_blade_s_line_passes_near_the_axle(misses, fits):
    upright = ((BASE - misses, 60.0), (BASE - misses + 0.01, TOP))
    assert len(f._blade_lines(seen(upright), AXIS)) == fits


@pytest.mark.parametrize(("start", "fits"), [(129.0, 1), (131.0, 0)])
def test_a_blade_s_line_begins_near_the_axle(start, fits):
    lines = f._blade_lines(seen(((BASE, start), (BASE, 500.0))), AXIS)
    assert len(lines) == fits
    turned = f._blade_lines(seen(((BASE, 500.0), (BASE, start))), AXIS)
    assert [c.p for c in turned] == [(BASE, start)] * fits


@pytest.mark.parametrize(("off", "fits"), [(69.0, 1), (71.0, 0)])
def test_a_blade_s_line_ends_near_the_axis(off, fits):
    lines = f._blade_lines(seen(((BASE, 0.0), on(TOP, off))), AXIS)
    assert len(lines) == fits


def test_two_straight_edges_are_a_blade_and_its_crown_between_their_ends():
    edges = ((BASE - 12.0, 0.0), on(TOP - 2.0, -14.0)), ((BASE + 12.0, 0.0), on(TOP + 2.0, 14.0))
    (way, *_) = ways(*edges, kind="tube")
    assert way.crown == pytest.approx(TOP)
    assert way.line.is_tube
    miss = exactness(way.line.lateral(FRONT))
    assert miss > 0.5
    reach = reaching(way.line.along(FRONT))
    over = way.line.length - way.line.along(on(TOP))
    expected = (miss + 0.6 + 0.25) * (0.4 + 0.6 * reach * reaching(over)) + way.line.bonus
    assert way.points == pytest.approx(expected, abs=0.02)
    assert ways(*edges, kind="edges") == []  # the same two lines once


# --- upper ends beside the axis ---------------------------------------------------------------------------


def curved(off: float, top: float, low: float = 60.0) -> np.ndarray:
    """A raked edge that ends so far beside the axis."""
    t = np.linspace(0.0, 1.0, 40)
    return np.column_stack((955.0 + off + 45.0 * (1 - t) ** 2, low + (top - low) * t))


def pair(ahead: float, behind: float, top: float = TOP, other: float = TOP, low: float = 60.0):
    found = ways(kind="edges", curves=[curved(ahead, top, low), curved(-behind, other, low)])
    return found[0] if found else None


def test_two_raked_edges_are_known_by_their_upper_ends():
    way = pair(14.0, 14.0)
    assert (way.crown, way.points) == (pytest.approx(TOP), pytest.approx(1.5))
    assert way.bents == (0, 1)
    drawn = [curved(14.0, TOP)[::-1], curved(-14.0, TOP)]
    for edges in (drawn, drawn[::-1]):
        assert ways(kind="edges", curves=edges)[0].points == pytest.approx(1.5)
    lopsided = pair(15.0, 13.0, TOP + 4.0, TOP - 4.0)
    # the crown's line crosses the axis 13/28 of the way from the lower end
    assert lopsided.crown == pytest.approx(TOP - 4.0 + 8.0 * 13.0 / 28.0)
    assert lopsided.points == pytest.approx(0.6 + 0.9 * exactness(1.0))


@pytest.mark.parametrize(
    ("given", "fits"),
    [
        ({"ahead": 14.0, "behind": 11.1}, True),
        ({"ahead": 14.0, "behind": 10.9}, False),
        ({"ahead": 14.0, "behind": 14.0, "other": TOP - 11.9}, True),
        ({"ahead": 14.0, "behind": 14.0, "other": TOP - 12.1}, False),
        ({"ahead": 5.1, "behind": 5.1}, True),
        ({"ahead": 4.9, "behind": 4.9}, False),
        ({"ahead": 6.6, "behind": 4.1}, True),
        ({"ahead": 6.6, "behind": 3.8}, False),
        ({"ahead": 44.9, "behind": 44.9}, True),
        ({"ahead": 45.1, "behind": 45.1}, False),
        ({"ahead": 14.0, "behind": 14.0, "low": 309.0}, True),
        ({"ahead": 14.0, "behind": 14.0, "low": 311.0}, False),
        ({"ahead": 14.0, "behind": -14.0}, False),
    ],
)
def test_which_upper_ends_belong_together(given, fits):
    assert (pair(**given) is not None) is fits


def test_where_a_line_between_two_ends_crosses_the_axis():
    assert f.cut_by(AXIS, (on(100.0, -10.0), on(140.0, 30.0))) == pytest.approx(110.0)
    assert f.cut_by(AXIS, (on(100.0, 10.0), on(140.0, 30.0))) is None
    assert f.cut_by(AXIS, (on(100.0, 0.0), on(140.0, 30.0))) is None


# --- a stretch of the axis ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("low", "points"),
    [(0.0, 1.2), (3.9, 1.2), (-3.9, 1.2), (112.0, 0.95), (-32.0, 0.95), (221.0, 0.7)],
)
def test_a_stretch_of_the_axis_alone_ends_at_the_axle_s_foot(low, points):
    (way,) = ways((on(low), on(TOP)), kind="axis")
    assert (way.crown, way.start) == (pytest.approx(TOP), pytest.approx(on(TOP)))
    assert way.points == pytest.approx(points, abs=1e-9)


@pytest.mark.parametrize(
    ("low", "high", "off", "fits"),
    [
        (-59.0, TOP, 0.0, 1),
        (-61.0, TOP, 0.0, 0),
        (300.0, 360.0, 0.0, 1),
        (300.0, 359.0, 0.0, 0),
        (0.0, 149.0, 0.0, 0),
        (0.0, 721.0, 0.0, 0),
        (0.0, TOP, 0.4, 1),
        (0.0, TOP, 0.6, 0),
    ],
)
def test_which_stretch_of_the_axis_is_a_fork(low, high, off, fits):
    assert len(ways((on(low, off), on(high, off)), kind="axis")) == fits


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("gap", [0.0, 2.0])
def test_a_stretch_of_the_axis_that_a_tip_leads_on_from(turned, gap):
    stretch = (on(120.0), on(TOP))
    tip = (on(120.0 - gap), FRONT)
    lines = (stretch[::-1] if turned else stretch), (tip[::-1] if turned else tip)
    found = [w for w in ways(*lines, kind="path") if w.pieces]
    (way,) = found
    assert (way.crown, way.end) == (pytest.approx(TOP), FRONT)
    assert way.points == pytest.approx(2.0 - 0.03 - 0.01 * gap)
    assert set(way.strokes) == {0, 1}
    assert ways(*lines, kind="axis") == []


# --- legs beside the axis -----------------------------------------------------------------------------------


def legs(top=((-30.0, TOP), (30.0, TOP)), foot: float = 0.0, lean: float = 0.0, count: int = 2):
    sides = [(on(foot, s * 25.0), on(foot + 350.0, s * 25.0 + lean)) for s in (-1, 1)][:count]
    return ways(*sides, tuple(on(up, off) for off, up in top), kind="legs")


def test_legs_below_a_line_square_across_the_axis():
    (way,) = legs()
    assert way.crown == pytest.approx(TOP)
    assert way.points == pytest.approx(1.0 - 1e-4 * (TOP - 150.0))
    assert len(way.strokes) == 2


def test_of_more_lines_than_two_legs_have_four_are_taken():
    sides = [(on(0.0, off), on(350.0, off)) for off in (-40.0, -25.0, -12.0, 12.0, 25.0, 40.0)]
    (way,) = ways(*sides, (on(TOP, -30.0), on(TOP, 30.0)), kind="legs")
    assert len(way.strokes) == 4


@pytest.mark.parametrize(
    ("given", "fits"),
    [
        ({"count": 1}, False),
        ({"lean": 52.0}, True),
        ({"lean": 54.0}, False),  # 0.15 of its length
        ({"foot": 120.0}, True),
        ({"foot": 123.0}, False),  # 140 mm from the axle, of the farther leg
        ({"top": ((-30.0, TOP), (30.0, TOP + 0.7))}, True),
        ({"top": ((-30.0, TOP), (30.0, TOP + 0.8))}, False),
        ({"top": ((-8.0, TOP), (9.5, TOP))}, False),
        ({"top": ((-9.5, TOP), (8.0, TOP))}, False),
        ({"top": ((-9.5, TOP), (9.5, TOP))}, True),
        ({"top": ((-56.0, TOP), (55.0, TOP))}, False),
        ({"top": ((-54.0, TOP), (55.0, TOP))}, True),
        ({"top": ((-30.0, TOP), (37.0, TOP))}, True),
        ({"top": ((-30.0, TOP), (39.0, TOP))}, False),
        ({"top": ((-30.0, 720.0), (30.0, 720.0))}, True),
        ({"top": ((-30.0, 721.0), (30.0, 721.0))}, False),
    ],
)
def test_what_makes_a_fork_with_legs(given, fits):
    assert bool(legs(**given)) is fits


def test_a_way_round_by_other_lines_is_no_path():
    """A dimension's lines lead from the axle to the head tube too: four times as long as the way there."""
    corners = (FRONT, (400.0, 0.0), (400.0, 300.0), on(TOP))
    assert ways(*itertools.pairwise(corners), kind="path") == []
    direct = (FRONT, (990.0, 60.0), on(TOP))
    assert len(ways(*itertools.pairwise(direct), kind="path")) == 1
