"""Where a node is when several drawn things mark it: the place most of them agree on, the rest told as astray."""

from math import cos, radians, sin

import numpy as np
import pytest
from droptrail.converters.drawings.labelling.nodes import Witness, settle


def circle(x: float, y: float, rank: int = 2, curve: int = 0) -> Witness:
    return Witness(f"circle at {x}, {y}", (x, y), rank=rank, curves=(curve,) if curve else ())


def ray(at: tuple[float, float], degrees: float, ended: bool = True, curve: int = 0) -> Witness:
    """A line in a direction, that ends at `at` or only passes it."""
    direction = (cos(radians(degrees)), sin(radians(degrees)))
    return Witness(f"line at {degrees}", at, direction, ended, curves=(curve,) if curve else ())


def test_a_point_misses_by_its_distance_and_a_line_by_what_lies_across():
    assert circle(30.0, -40.0).miss((0.0, 0.0)) == pytest.approx(50.0)
    assert circle(30.0, -40.0).miss((60.0, -80.0)) == pytest.approx(50.0)
    line = ray((10.0, 5.0), 90.0)
    assert line.miss((13.0, 900.0)) == pytest.approx(3.0)
    assert line.gap((13.0, 9.0)) == pytest.approx(4.0)  # it stops short
    assert line.gap((13.0, 2.0)) == pytest.approx(-3.0)  # it runs past
    assert ray((10.0, 5.0), 90.0, ended=False).gap((13.0, 9.0)) == 0.0


def test_a_line_that_ends_says_two_things_and_one_that_passes_one():
    here = (10.0, 5.0)
    assert ray(here, 30.0).statements(here, 0.1) == 2
    assert ray(here, 30.0, ended=False).statements(here, 0.1) == 1
    beyond = (10.0 + cos(radians(30.0)), 5.0 + sin(radians(30.0)))
    assert ray(here, 30.0).statements(beyond, 0.1) == 1
    assert ray(here, 30.0).statements((10.0, 6.0), 0.1) == 0
    # as it is made where nothing else is said: a line that ends
    assert Witness("line", here, (1.0, 0.0)).statements(here, 0.1) == 2


def test_most_agree_and_the_rest_is_astray():
    stray = circle(17.0, 5.0)
    node = settle("axle", [circle(10.0, 5.0), stray, ray((10.0, 5.0), 20.0)], 0.05)
    assert node.at == (10.0, 5.0)
    assert node.confirmed
    assert node.astray == ((stray, pytest.approx(7.0)),)
    assert node.spread == pytest.approx(0.0, abs=1e-12)


def test_two_that_agree_closely_outweigh_one_that_agrees_loosely():
    tight = [circle(10.0, 5.0, rank=2), circle(10.001, 5.0, rank=3)]
    loose = circle(10.4, 5.0, rank=1)
    node = settle("axle", [loose, *tight], 1.0)
    assert node.at == (10.0, 5.0)
    assert node.within == pytest.approx(0.04)
    assert [w for w, _ in node.astray] == [loose]


def test_of_places_that_agree_the_best_marked_one_is_used():
    node = settle("axle", [circle(10.02, 5.0, rank=2), circle(10.0, 5.0, rank=1)], 1.0)
    assert node.at == (10.0, 5.0)


@pytest.mark.parametrize(("apart", "agree"), [(2.9, True), (3.2, False)])
def test_no_tolerance_makes_things_agree_that_are_far_apart(apart, agree):
    node = settle("axle", [circle(10.0, 5.0, rank=1), circle(10.0 + apart, 5.0)], 1.0)
    assert node.at == (10.0, 5.0)
    assert node.confirmed is agree
    assert bool(node.astray) is not agree


def test_without_agreement_the_best_marked_place_counts_and_not_the_leftmost():
    node = settle("axle", [circle(1.0, 5.0, rank=2), circle(90.0, 5.0, rank=1)], 0.05)
    assert node.at == (90.0, 5.0)
    assert not node.confirmed


def test_a_loose_tolerance_is_tried_last():
    """Fifteen times the tolerance apart: agreed at its fortyfold, which a drawing in whole millimetres needs."""
    node = settle("axle", [circle(10.0, 5.0, rank=1), circle(10.75, 5.0)], 0.05)
    assert node.confirmed
    assert node.within == pytest.approx(2.0)
    nearer = settle("axle", [circle(10.0, 5.0, rank=1), circle(10.48, 5.0)], 0.05)
    assert nearer.within == pytest.approx(0.5)


def test_lines_alone_mark_the_place_where_they_cross():
    passing = [ray((0.0, 7.0), 0.0, ended=False), ray((4.0, 0.0), 60.0, ended=False)]
    node = settle("bottom bracket", passing, 0.05)
    assert node.at == pytest.approx((4.0 + 7.0 / (3.0**0.5), 7.0))
    assert not node.confirmed  # two lines cross somewhere whatever they are
    third = ray((node.at[0], -50.0), 90.0, ended=False)
    assert settle("bottom bracket", [*passing, third], 0.05).confirmed


@pytest.mark.parametrize(("degrees", "says"), [(8.0, False), (9.5, True)])
def test_lines_that_cross_flat_say_little(degrees, says):
    lines = [ray((0.0, 0.0), 0.0, ended=False), ray((50.0, 3.0), degrees, ended=False)]
    assert (settle("bottom bracket", lines, 0.05) is not None) is says


def test_lines_of_one_polyline_speak_with_one_voice():
    own = [ray((10.0, 5.0), 20.0, curve=7), ray((10.0, 5.0), 80.0, curve=7)]
    assert not settle("axle", own, 0.05).confirmed
    other = ray((10.0, 5.0), 80.0, curve=8)
    assert settle("axle", [own[0], other], 0.05).confirmed


@pytest.mark.parametrize("seed", range(3))
def test_two_lines_cross_where_they_were_drawn_through(seed):
    """In no special direction; the better marked place, if any, is not asked."""
    rng = np.random.default_rng(seed)
    through = tuple(rng.uniform(-500.0, 500.0, 2))
    lines = []
    for degrees in (rng.uniform(20.0, 70.0), rng.uniform(100.0, 160.0)):
        away = rng.uniform(50.0, 300.0)
        at = (
            through[0] - away * cos(radians(degrees)),
            through[1] - away * sin(radians(degrees)),
        )
        lines.append(ray(at, degrees, ended=False))
    assert settle("bottom bracket", lines, 0.05).at == pytest.approx(through)
