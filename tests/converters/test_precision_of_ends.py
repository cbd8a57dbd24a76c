"""How finely ends were written: by decimals, by digits, or on a workshop's grid; and what of it reaches the ±."""

import numpy as np
import pytest
from droptrail.converters.drawings.drawing import Curve
from droptrail.converters.drawings.sideview.precision import grid, resolution
from droptrail.converters.drawings.sideview.recognise import recognise
from helpers_habits import Habit, draw, place, random_drawn_frame

INCH = 25.4


def polylines(points: np.ndarray) -> list[Curve]:
    return [Curve("polyline", own) for own in points]


def random_lines(count: int = 40, vertices: int = 2, seed: int = 5) -> np.ndarray:
    return np.random.default_rng(seed).uniform(-900.0, 900.0, (count, vertices, 2))


@pytest.mark.parametrize("decimals", range(6))
def test_numbers_of_some_decimals_have_that_step(decimals):
    written = polylines(np.round(random_lines(), decimals))
    assert resolution(written) == pytest.approx(10.0**-decimals)


@pytest.mark.parametrize("digits", [4, 5, 6])
def test_numbers_of_some_digits_have_the_step_of_the_largest(digits):
    """880 in five digits is 880.00, a step of 0.01."""
    lines = random_lines()
    lines[0, 0] = (880.0, 7.0)
    written = np.vectorize(lambda x: float(f"{x:.{digits}g}"))(lines)
    # small ones keep more decimals than a fixed number of them would leave
    written *= np.where(np.arange(len(written)) % 2, 1.0, 1e-3)[:, None, None]
    again = np.vectorize(lambda x: float(f"{x:.{digits}g}"))(written)
    assert resolution(polylines(again)) == pytest.approx(10.0 ** (3 - digits))


def test_full_numbers_have_no_step_and_worked_out_curves_do_not_count():
    assert resolution(polylines(random_lines())) == 0.0
    typed = polylines(np.round(random_lines(), 2))
    few = polylines(random_lines(vertices=8))
    many = polylines(random_lines(vertices=9))
    assert resolution(typed + many) == pytest.approx(0.01)
    assert resolution(typed + few) == 0.0
    assert resolution(many) == 0.0


@pytest.mark.parametrize("step", [5.0, 1.0, 0.5, INCH / 4, INCH / 16, INCH / 64])
@pytest.mark.parametrize("unit", [1.0, INCH])
def test_a_grid_is_found_wherever_it_begins_and_in_the_drawing_s_own_unit(step, unit):
    on_grid = np.round(random_lines() / step) * step + (3.21, -7.7)
    assert grid(polylines(on_grid / unit), unit) == pytest.approx(step / unit)


def test_four_curves_make_a_grid_and_three_do_not():
    on_grid = np.round(random_lines(4))
    assert grid(polylines(on_grid), 1.0) == pytest.approx(1.0)
    assert grid(polylines(on_grid[:3]), 1.0) == 0.0
    assert grid(polylines(random_lines()), 1.0) == 0.0


def test_a_gap_away_from_the_steering_axis_leaves_the_trail_alone():
    frame = random_drawn_frame(np.random.default_rng(2), "700C")
    clean = draw(frame, Habit(), np.random.default_rng(1))
    exact = recognise(place(clean).drawing()).precision
    gapped = draw(frame, Habit(), np.random.default_rng(1))
    for k, item in enumerate(gapped.items):
        if item.part == "down_tube":
            (x, y), far = item.points
            step = 1.5 / np.hypot(far[0] - x, far[1] - y)
            near = (x + step * (far[0] - x), y + step * (far[1] - y))
            gapped.items[k] = type(item)(item.kind, (near, far), item.part)
    seen = recognise(place(gapped).drawing()).precision
    assert seen.snapped == pytest.approx(1.5, abs=1e-6)
    assert seen.trail == pytest.approx(exact.trail, abs=1e-6)
