"""Circles however drawn: fitted ones against the circle they were drawn from, and what is no circle."""

from math import cos, pi

import numpy as np
import pytest
from droptrail.converters.drawings.drawing import Curve
from droptrail.converters.drawings.linework import rounds as r
from droptrail.converters.drawings.linework.rounds import Round, find_rounds, with_traced, wobble

AT = (30.0, -7.0)


def on_circle(*turns: float, radius: float = 100.0, at=AT) -> np.ndarray:
    """Points on a circle, places in full turns."""
    angles = 2 * pi * np.array(turns)
    return np.column_stack((at[0] + radius * np.cos(angles), at[1] + radius * np.sin(angles)))


def arc(start: float, share: float, radius: float = 100.0, at=AT, count: int = 60) -> Curve:
    points = on_circle(*np.linspace(start, start + share, count), radius=radius, at=at)
    return Curve("arc", points, centre=at, radius=radius)


def ring(count: int, radius: float = 100.0, at=AT, pushed: float = 0.0, kind="polyline") -> Curve:
    """A closed polygon, every fourth vertex pushed out."""
    points = on_circle(*np.arange(count) / count, radius=radius, at=at)
    points[::4] += pushed * (points[::4] - at) / radius
    return Curve(kind, np.vstack((points, points[:1])), closed=True)


# --- fits -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(4))
def test_the_circle_that_points_were_drawn_on_is_found(seed):
    """Far from the origin and over a short arc as well; the error is none."""
    rng = np.random.default_rng(seed)
    at = tuple(rng.uniform(-1e4, 1e4, 2))
    radius = rng.uniform(5.0, 900.0)
    points = on_circle(*rng.uniform(0.2, 0.45, 12), radius=radius, at=at)
    centre, found, error = r.fit_circle(points)
    assert centre == pytest.approx(at, rel=1e-9, abs=1e-6)
    assert found == pytest.approx(radius, rel=1e-8)
    assert error < 1e-7 * radius


def test_the_fit_is_least_in_the_squares_of_distances():
    """Half of a circle pushed out by d in every second place: radius r + d/2, error d/2."""
    turns = np.arange(40) / 40
    points = on_circle(*turns)
    points[::2] += 0.5 * (points[::2] - AT) / 100.0
    centre, radius, error = r.fit_circle(points)
    assert centre == pytest.approx(AT, abs=1e-9)
    assert (radius, error) == (pytest.approx(100.25), pytest.approx(0.25))


def test_points_on_a_line_or_in_one_place_are_no_circle():
    assert r.fit_circle(np.zeros((5, 2))) == ((0.0, 0.0), 0.0, np.inf)
    straight = np.column_stack((np.arange(9.0), np.zeros(9)))
    _, radius, error = r.fit_circle(straight)
    assert radius > 1e3 or error > 1.0


@pytest.mark.parametrize("start", [0.0, 0.3, 0.45, 0.9])
@pytest.mark.parametrize("share", [0.05, 0.4, 0.75, 1.0])
def test_the_share_of_the_turn_that_is_drawn(start, share):
    """Wherever it begins: an arc across the direction of 180 degrees does not go all round."""
    points = on_circle(*np.linspace(start, start + share, 50))
    assert r.coverage(points, AT) == pytest.approx(share)
    assert r.coverage(on_circle(*np.linspace(0.0, 1.5, 90)), AT) == 1.0


def test_sides_of_a_polygon_lie_inside_its_circle():
    """By the sagitta r (1 - cos(pi/n))."""
    (found,) = find_rounds([ring(24)])
    assert found.inside == pytest.approx(100.0 * (1 - cos(pi / 24)))
    (exact,) = find_rounds([Curve("circle", on_circle(*np.arange(9) / 8), centre=AT, radius=100.0)])
    assert (exact.inside, exact.error, exact.coverage) == (0.0, 0.0, 1.0)


@pytest.mark.parametrize(
    ("count", "pushed", "kind", "found"),
    [
        (16, 1.5, "polyline", 0),  # error 0.011 of the radius, and no hand-drawn circle
        (16, 0.7, "polyline", 1),  # 0.005
        (24, 1.5, "polyline", 1),  # as a builder clicks over a scan
        (24, 1.8, "polyline", 0),
        (24, 1.5, "spline", 0),
    ],
)
def test_how_far_vertices_may_stray(count, pushed, kind, found):
    assert len(find_rounds([ring(count, pushed=pushed, kind=kind)])) == found


@pytest.mark.parametrize(("share", "found"), [(0.45, False), (0.55, True)])
def test_half_a_circle_in_arcs_shows_a_wheel(share, found):
    halves = [arc(0.1, share / 2), arc(0.4, share / 2)]
    assert bool(find_rounds(halves)) is found
    fitted = [Curve("spline", a.points) for a in halves]
    assert bool(find_rounds(fitted)) is found
    # less will do for arcs as such where it is asked for, for nothing else
    assert find_rounds(halves, least=0.15)
    assert bool(find_rounds(fitted, least=0.15)) is found


def test_a_band_along_an_arc_is_no_circle_although_it_is_closed():
    turns = np.linspace(0.0, 0.5, 30)
    band = np.vstack((on_circle(*turns), on_circle(*turns[::-1], radius=100.2)))
    closed = Curve("polyline", np.vstack((band, band[:1])), closed=True)
    assert find_rounds([closed]) == []


@pytest.mark.parametrize(("apart", "count"), [(0.39, 1), (0.41, 0)])
def test_arcs_of_one_centre_and_radius_make_one_circle(apart, count):
    """Within 0.4 % of the radius; each alone shows less than half a circle."""
    beside = arc(0.5, 0.3, at=(AT[0] + apart, AT[1]))
    assert len(find_rounds([arc(0.0, 0.3), beside])) == count
    smaller = arc(0.5, 0.3, radius=100.0 - apart)
    assert len(find_rounds([arc(0.0, 0.3), smaller])) == count


def test_put_together_arcs_show_what_they_show_together():
    (found,) = find_rounds([arc(0.0, 0.3), arc(0.5, 0.25)])
    assert found.coverage == pytest.approx(0.55)
    assert found.curves == (0, 1)
    assert (found.centre, found.radius, found.error) == (AT, 100.0, 0.0)
    (twice,) = find_rounds([arc(0.0, 0.6), arc(0.0, 0.6)])
    assert twice.coverage == 1.0
    # a centre that is a little off: the circle through their ends and middles instead
    (fitted,) = find_rounds([arc(0.0, 0.3), arc(0.5, 0.3, at=(AT[0] + 0.3, AT[1]))])
    assert fitted.error > 0.0
    assert AT[0] < fitted.centre[0] < AT[0] + 0.3


@pytest.mark.parametrize(("off", "copies"), [(0.009, 1), (0.011, 0)])
def test_a_circle_drawn_twice_is_one_with_a_copy(off, copies):
    def circle(radius, at):
        return Curve("circle", on_circle(*np.arange(9) / 8), centre=at, radius=radius)

    for second in (circle(100.0 - off, AT), circle(100.0, (AT[0], AT[1] + off))):
        found = find_rounds([circle(100.0, AT), second])
        assert len(found) == 2 - copies
        assert found[0].copies == ((1,) if copies else ())


def test_copies_are_found_wherever_they_lie():
    """Two hundred circles at random places, each drawn again within a share of its radius of 0.9e-4."""
    rng = np.random.default_rng(4)
    circles = []
    for k in range(200):
        radius = rng.uniform(5.0, 400.0)
        at = rng.uniform(-2e3, 2e3, 2)
        step = rng.uniform(-1.0, 1.0, 2)
        beside = at + 0.9e-4 * radius * step / np.hypot(*step)
        circles.append(Round(tuple(at), radius, 0.0, 1.0, (k,)))
        circles.append(
            Round(tuple(beside), radius * (1.0 - rng.uniform(0.0, 0.9e-4)), 0.0, 1.0, (1000 + k,))
        )
    kept = r._without_copies(sorted(circles, key=lambda c: -c.radius))
    assert sorted(c.curves[0] for c in kept) == list(range(200))
    assert all(c.copies == (1000 + c.curves[0],) for c in kept)


@pytest.mark.parametrize(("count", "found"), [(6, 0), (9, 1), (40, 1)])
def test_short_lines_end_to_end_make_a_circle(count, found):
    ends = on_circle(*np.arange(count + 1) / count)
    ends[-1] = ends[0]
    lines = [Curve("line", ends[[k, k + 1]]) for k in range(count)]
    got = find_rounds(lines)
    assert len(got) == found
    if found:
        assert sorted(got[0].curves) == list(range(count))
        assert got[0].radius == pytest.approx(100.0)
    open_ended = lines[: round(0.45 * count)]
    assert find_rounds(open_ended) == []


def test_a_spline_laid_through_points_of_a_circle_is_that_circle():
    """Between its points it bulges, by up to 3 % of the radius."""
    fit = on_circle(*np.arange(9) / 8)

    def spline(bulge: float, through=fit) -> Curve:
        turns = np.linspace(0.0, 1.0, 65)
        out = 100.0 + bulge * np.sin(8 * pi * turns) ** 2
        points = np.array(AT) + (on_circle(*turns) - AT) * out[:, None] / 100.0
        return Curve("spline", points, fit=through)

    for bulge, found in ((2.9, 1), (3.1, 0)):
        assert len(find_rounds([spline(bulge)])) == found
    (got,) = find_rounds([spline(2.0)])
    assert got.radius == pytest.approx(100.0)
    assert got.error == pytest.approx(2.0, rel=0.02)
    assert (
        find_rounds([spline(2.0, fit[[0, 2, 4, 6]])]) == []
    )  # four points lie near a circle by chance
    for stray, found in ((0.05, 1), (0.5, 0)):
        strayed = fit.copy()
        strayed[2] += (0.0, stray)
        assert len(find_rounds([spline(2.0, strayed)])) == found


# --- traced drawings ----------------------------------------------------------------------------------------


def drawn(radius: float, error: float, coverage: float = 1.0, curves=(0,)) -> Round:
    return Round(AT, radius, error, coverage, curves)


def test_the_wobble_of_a_traced_drawing_is_a_little_more_than_its_wheels():
    assert wobble([drawn(340.0, 1.0), drawn(330.0, 2.0)]) == pytest.approx(2.4)
    assert wobble([drawn(340.0, 1.0), drawn(330.0, 2.0), drawn(20.0, 9.0)]) == pytest.approx(2.4)
    assert wobble([drawn(340.0, 0.0), drawn(330.0, 2.0)]) == 0.0
    assert wobble([drawn(340.0, 0.169), drawn(330.0, 2.0)]) == 0.0  # 0.0005 of the radius
    assert wobble([drawn(340.0, 0.171), drawn(330.0, 2.0)]) > 0.0
    assert wobble([drawn(340.0, 2.0)]) == 0.0
    # circles of several curves, and open ones, are no wheels clicked over a scan
    assert wobble([drawn(340.0, 2.0), drawn(330.0, 2.0, 0.9)]) == 0.0
    assert wobble([drawn(340.0, 2.0), drawn(330.0, 2.0, curves=(1, 2))]) == 0.0


def test_small_loops_of_a_traced_drawing_are_circles():
    small = ring(12, radius=6.0, pushed=0.5)
    wheels = [drawn(340.0, 1.0), drawn(330.0, 1.0)]
    assert with_traced([small], wheels, 0.0) == wheels
    found = with_traced([ring(12, 340.0), small], wheels, 1.2)
    assert found[:2] == wheels
    assert (found[2].curves, found[2].coverage) == ((1,), 1.0)
    assert found[2].radius == pytest.approx(6.0, abs=0.3)
    # smaller than four times the wobble, or straying by more, it may be anything
    assert len(with_traced([small, small], wheels, 1.6)) == 2
    assert len(with_traced([small, small], wheels, 0.1)) == 2
    half = Curve("polyline", on_circle(*np.linspace(0.0, 0.5, 12), radius=6.0), closed=True)
    assert len(with_traced([small, half], wheels, 1.2)) == 2


def test_of_thousands_of_open_arcs_the_largest_are_looked_at(monkeypatch):
    monkeypatch.setattr(r, "ARC_BUDGET", 3)
    small = [arc(0.0, 0.3, radius=10.0 + k, at=(50.0 * k, 0.0)) for k in range(4)]
    large = [arc(0.0, 0.3), arc(0.5, 0.3)]
    assert r._looked_at([*small, *large]) == [3, 4, 5]
    assert len(find_rounds([*small, *large])) == 1
    monkeypatch.undo()
    many = [arc(0.0, 0.3, radius=10.0 + k, count=3) for k in range(601)]
    assert r._looked_at(many) == list(range(1, 601))
    monkeypatch.setattr(r, "ARC_BUDGET", 3)
    # one whose ends are near each other shows nearly all of its circle, and does not count
    whole = arc(0.0, 0.975, radius=5.0)
    assert r._looked_at([*small, whole, *large]) == [3, 4, 5, 6]
    # the ends are 2 sin(pi gap) of the radius apart, 0.2 at a gap of 3.2 %
    nearly = [arc(0.0, share, radius=200.0) for share in (0.969, 0.967)]
    assert r._looked_at([*large, *large, *nearly]) == [0, 1, 4, 5]
    assert r._looked_at([*large, *large, nearly[0]]) == [0, 1, 2, 4]
