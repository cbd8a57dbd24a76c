"""Curves cut into straight and curved runs: each with what it was made of, and the limits between the two."""

from math import radians, tan

import numpy as np
import pytest
from droptrail.converters.drawings.drawing import Curve
from droptrail.converters.drawings.linework import pieces as p
from droptrail.converters.drawings.linework.pieces import cut


def polyline(*points, kind: str = "polyline") -> Curve:
    return Curve(kind, np.array(points, float))


def bow(rise: float, count: int = 41, chord: float = 100.0) -> np.ndarray:
    """A flat parabola of that sagitta."""
    t = np.linspace(0.0, 1.0, count)
    return np.column_stack((chord * t, 4.0 * rise * t * (1.0 - t)))


def arc(radius: float, turn: float, count: int = 9) -> Curve:
    a = np.linspace(0.0, radians(turn), count)
    points = np.column_stack((radius * np.cos(a), radius * np.sin(a)))
    return Curve("arc", points, centre=(0.0, 0.0), radius=radius)


# --- measures -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("turn", [-170.0, -90.0, -20.0, 0.0, 45.0, 135.0])
def test_turning_is_signed_and_to_the_left(turn):
    a = radians(30.0)
    b = a + radians(turn)
    points = np.array([(5.0, 5.0), (5.0 + 3 * np.cos(a), 5.0 + 3 * np.sin(a))])
    tip = points[1] + 7 * np.array((np.cos(b), np.sin(b)))
    assert p.turning(np.vstack((points, tip))) == pytest.approx([radians(turn)])


def test_sagitta_is_across_the_chord_whatever_its_direction():
    turned = bow(3.0) @ np.array([[0.6, 0.8], [-0.8, 0.6]]) + (40.0, -9.0)
    assert p.sagitta(turned) == pytest.approx(3.0)
    loop = np.array([(1.0, 1.0), (4.0, 5.0), (1.0, 1.0)])
    assert p.sagitta(loop) == pytest.approx(5.0)


def test_vertices_that_repeat_are_one():
    points = np.array([(0.0, 0.0), (0.0, 0.0), (50.0, 0.0), (50.0, 4e-8), (50.0, 30.0)])
    assert p._distinct(points).tolist() == [[0.0, 0.0], [50.0, 0.0], [50.0, 30.0]]
    apart = np.array([(0.0, 0.0), (50.0, 0.0), (50.0, 6e-8)])
    assert len(p._distinct(apart)) == 3


def test_few_vertices_keep_a_run_within_a_tolerance():
    """Of a step 30 high three corners and the ends; within 20 of a bow of 30 its top."""
    step = np.array([(0, 0), (10, 0), (20, 0), (20, 30), (30, 30), (40, 30)], float)
    assert p._simplified(step, 0.1) == [0, 2, 3, 5]
    assert p._simplified(bow(30.0), 20.0) == [0, 20, 40]
    assert p._simplified(bow(30.0), 30.1) == [0, 40]
    closed = np.array([(0, 0), (10, 0), (10, 10), (0, 10), (0, 0)], float)
    assert p._simplified(closed, 0.1) == [0, 1, 2, 3, 4]


# --- runs ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("turn", "count"), [(19.0, 0), (21.0, 2), (-21.0, 2)])
def test_a_curve_is_cut_at_a_corner(turn, count):
    """Two bowed runs that meet at an angle: one curve, or two."""
    first = bow(4.0)
    leaving = np.arctan2(*(first[-1] - first[-2])[::-1])
    a = radians(turn) + leaving - np.arctan2(*(first[1] - first[0])[::-1])
    second = first @ np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]]) + first[-1]
    found = cut([Curve("spline", np.vstack((first, second[1:])))])
    assert len(found.bents) == (count or 1)
    assert len(found.ends) == 0


@pytest.mark.parametrize(("rise", "straight"), [(0.0195, True), (0.0205, False)])
def test_what_bows_by_a_fifth_of_a_thousandth_is_straight(rise, straight):
    found = cut([Curve("spline", bow(rise))])
    assert len(found.ends) == int(straight)
    assert len(found.bents) == int(not straight)
    if straight:
        assert found.ends.tolist() == [pytest.approx([0.0, 0.0, 100.0, 0.0])]
        assert found.breaks[0].tolist() == bow(rise)[1:-1].tolist()
    assert found.owner.tolist() == [0] * int(straight)


@pytest.mark.parametrize(("turn", "straight"), [(0.09, True), (0.20, False)])
def test_an_arc_is_one_curve_unless_it_is_next_to_straight(turn, straight):
    """Sagitta over chord of an arc is tan(turn/4)/2; 0.0002 at 0.092 degrees."""
    assert (0.5 * tan(radians(turn) / 4) <= 2e-4) is straight
    found = cut([arc(1000.0, turn)])
    assert (len(found.ends), len(found.bents)) == (int(straight), int(not straight))


def test_an_arc_of_wide_turns_is_still_one_curve_and_a_coarse_one_is_looked_into():
    assert len(cut([arc(50.0, 170.0, 5)]).bents) == 1
    assert len(cut([arc(50.0, 170.0, 4)]).ends) == 3  # turns of 57 degrees: corners
    # wherever it lies
    near = arc(50.0, 170.0, 5)
    far = Curve("arc", near.points + np.array((1e4, -2e4)), centre=(1e4, -2e4), radius=50.0)
    assert len(cut([far]).bents) == 1


def test_a_long_straight_in_a_polyline_is_one_beside_its_curves():
    """A raked blade: 300 straight, then a bow of twenty short sides."""
    a = np.linspace(0.0, radians(30.0), 21)
    tip = np.column_stack((300.0 + 120.0 * np.sin(a), 120.0 * (1.0 - np.cos(a))))
    blade = np.vstack(([(0.0, 0.0)], tip))
    found = cut([Curve("polyline", blade)])
    assert found.ends.tolist() == [pytest.approx([0.0, 0.0, 300.0, 0.0])]
    (bent,) = found.bents
    assert bent.points.tolist() == tip.tolist()
    assert found.tips.tolist() == [[tip[0].tolist(), tip[-1].tolist()]]
    between = np.vstack((blade[::-1], -blade[1:]))
    (one, other) = (len(cut([Curve("polyline", between)]).bents), len(found.bents))
    assert (one, other) == (2, 1)
    # a spline bends all along, whatever its vertices
    assert len(cut([Curve("spline", blade)]).ends) == 0


@pytest.mark.parametrize(("times", "straights"), [(3.9, 0), (4.1, 1)])
def test_a_straight_is_four_times_as_long_as_its_neighbours(times, straights):
    a = np.linspace(0.0, radians(60.0), 13)
    side = 2 * 100.0 * np.sin(radians(2.5))
    tip = np.column_stack((100.0 * np.sin(a), 100.0 * (1.0 - np.cos(a))))
    curve = np.vstack(([(-times * side, 0.0)], tip))
    assert len(cut([Curve("polyline", curve)]).ends) == straights


def test_a_polyline_with_one_flat_kink_is_two_straights():
    found = cut([polyline((0, 0), (100, 0), (200, 10))])
    assert found.ends.tolist() == [[0, 0, 100, 0], [100, 0, 200, 10]]
    assert found.owner.tolist() == [0, 0]


# --- lines end to end ---------------------------------------------------------------------------------------


def chain(points: np.ndarray) -> list[Curve]:
    return [Curve("line", points[[k, k + 1]]) for k in range(len(points) - 1)]


@pytest.mark.parametrize(("count", "bents"), [(5, 0), (6, 1)])
def test_six_lines_end_to_end_make_a_curve(count, bents):
    found = cut(chain(bow(5.0, count + 1)))
    assert len(found.bents) == bents
    assert len(found.ends) == (0 if bents else count)
    if bents:
        assert sorted(found.bents[0].owners) == list(range(count))


@pytest.mark.parametrize(("rise", "bents"), [(0.49, 0), (0.51, 1)])
def test_lines_end_to_end_that_bow_less_are_lines(rise, bents):
    """By 0.5 % of the chord."""
    assert len(cut(chain(bow(rise, 11))).bents) == bents


def test_corners_and_long_lines_end_a_curve_of_lines():
    two = np.vstack((bow(5.0, 9), bow(5.0, 9)[1:] @ np.array([[0, 1], [-1, 0]]) + (100.0, 0.0)))
    found = cut(chain(two))
    assert [len(b.points) for b in found.bents] == [9, 9]
    a = np.linspace(0.0, radians(60.0), 13)
    tip = np.column_stack((100.0 * np.sin(a), 100.0 * (1.0 - np.cos(a))))
    raked = cut(chain(np.vstack(([(-200.0, 0.0)], tip))))
    assert raked.ends.tolist() == [[-200.0, 0.0, 0.0, 0.0]]
    assert [len(b.points) for b in raked.bents] == [13]


# --- what is left out, and traced lines -------------------------------------------------------------------


def test_what_has_no_length_or_no_end_is_told():
    endless = Curve("line", np.array([(0.0, 0.0), (1.0, 0.0)]), construction=True)
    speck = polyline((3, 3), (3, 3), (3, 3))
    found = cut([endless, polyline((1, 1), (1, 1)), speck, polyline((0, 0), (9, 0))])
    assert found.dropped == {
        0: "construction line without end",
        1: "has no length",
        2: "has no length",
    }
    assert found.owner.tolist() == [3]
    assert cut([polyline((0, 0), (0.4, 0.3))]).ends.tolist() == [[0.0, 0.0, 0.4, 0.3]]
    taken = cut([endless, polyline((0, 0), (9, 0))], skip=frozenset({0, 1}))
    assert (taken.dropped, len(taken.ends)) == ({}, 0)


def test_breaks_are_counted_after_the_plain_lines():
    found = cut(
        [polyline((0, 0), (5, 0), (10, 0)), polyline((0, 3), (9, 3)), polyline((0, 6), (9, 6))]
    )
    assert found.owner.tolist() == [1, 2, 0]
    assert {k: v.tolist() for k, v in found.breaks.items()} == {2: [[5.0, 0.0]]}


def wavy(length: float, stray: float, count: int = 9) -> np.ndarray:
    x = np.linspace(0.0, length, count)
    return np.column_stack((x, stray * np.resize([1.0, -1.0], count)))


def test_a_traced_line_is_the_line_through_its_vertices():
    points = wavy(400.0, 0.5, 10) @ np.array([[0.6, 0.8], [-0.8, 0.6]])
    (p0, p1) = p._traced(points, 1.0)
    along = (p1 - p0) / np.hypot(*(p1 - p0))
    assert np.hypot(*(p1 - p0)) == pytest.approx(400.0, abs=0.01)
    # least squares: the mean lies on it, and it leans by less than the strays over its length
    across = np.array((-along[1], along[0]))
    assert (points.mean(axis=0) - p0) @ across == pytest.approx(0.0, abs=1e-9)
    assert abs(across @ (0.6, 0.8)) < 0.5 / 400.0


@pytest.mark.parametrize(
    ("points", "wobble", "is_line"),
    [
        (wavy(400.0, 0.5), 0.0, False),
        (wavy(400.0, 0.99), 1.2, True),
        (wavy(400.0, 1.3), 1.2, False),
        (wavy(15.5, 0.5), 1.0, True),
        (wavy(14.5, 0.5), 1.0, False),
        (np.array([(0, 0), (100, 0.1), (98.5, 0.0)]), 1.0, True),
        (np.array([(0, 0), (100, 0.1), (97.0, 0.0)]), 1.0, False),  # it turns back
        (np.array([(0, 0), (100, 0.1), (0.0, 0.0)]), 1.0, False),
    ],
)
def test_what_a_traced_line_is(points, wobble, is_line):
    assert (p._traced(points, wobble) is not None) is is_line
