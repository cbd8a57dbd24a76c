"""What a block's clipping hides, held against a general geometry library, and closed cases by hand."""

import numpy as np
import pytest
from droptrail.converters.drawings.dxf.clip import Clip, shown_runs
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Polygon

SQUARE = Clip(np.array([(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)]), np.eye(4))
NOTCHED = Clip(
    np.array([(0, 0), (10, 0), (10, 10), (6, 10), (6, 4), (4, 4), (4, 10), (0, 10)], float),
    np.eye(4),
)


def chain(*points):
    return np.array([(*p, 0.0) for p in points], float)


def ends(runs):
    return [[tuple(np.round(p[:2], 9)) for p in run] for run in runs]


@pytest.mark.parametrize(
    ("points", "shown"),
    [
        (((2, 5), (8, 5)), [[(2, 5), (8, 5)]]),
        (((5, 5), (15, 5)), [[(5, 5), (10, 5)]]),  # cut at one end: two points again
        (((-5, 5), (15, 5)), [[(0, 5), (10, 5)]]),  # right through: the part within is shown
        (((-5, 15), (15, 15)), []),
        (((5, 5), (15, 5), (15, 8), (5, 8)), [[(5, 5), (10, 5)], [(10, 8), (5, 8)]]),
    ],
)
def test_a_square_window(points, shown):
    assert ends(shown_runs(chain(*points), [SQUARE])) == shown


def test_a_notch_hides_the_middle_of_a_line_whose_ends_are_shown():
    assert ends(shown_runs(chain((2, 8), (8, 8)), [NOTCHED])) == [
        [(2, 8), (4, 8)],
        [(6, 8), (8, 8)],
    ]


def test_an_unhidden_chain_comes_back_as_it_is():
    points = chain((1.1, 2.3), (7.7, 3.1), (4.2, 9.9))
    (run,) = shown_runs(points, [SQUARE])
    assert np.array_equal(run, points)


@settings(max_examples=200, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_the_length_shown_is_the_length_within(seed):
    rng = np.random.default_rng(seed)
    angles = np.sort(rng.uniform(0, 2 * np.pi, rng.integers(3, 9)))
    polygon = rng.uniform(2, 10, len(angles))[:, None] * np.column_stack(
        [np.cos(angles), np.sin(angles)]
    )
    area = Polygon(polygon)
    if not area.is_valid:
        return
    points = np.column_stack([rng.uniform(-12, 12, (5, 2)), np.zeros(5)])
    runs = shown_runs(points, [Clip(polygon, np.eye(4))])
    length = sum(float(np.hypot(*np.diff(run[:, :2], axis=0).T).sum()) for run in runs)
    assert length == pytest.approx(LineString(points[:, :2]).intersection(area).length, abs=1e-7)
