"""Last bits decide nothing: comparisons and orders that stay when every figure moves by rounding."""

import math

import numpy as np
import pytest
from droptrail.model.choice.search_chunk import Limits
from droptrail.model.decide import RELATIVE, at_least, at_most, first_largest, settled, within
from droptrail.model.frame.clearance import Clearance
from droptrail.model.geometry.closure import ClosureRow
from hypothesis import given
from hypothesis import strategies as st

SIZES = st.floats(1e-3, 1e6)
TRAP = (511.33, 510.33, 512.33)
ROUNDING = st.floats(-1e-11, 1e-11)


@given(SIZES, ROUNDING)
def test_rounding_breaks_no_limit(size, off):
    """Whatever a processor's kernel does to the last digits, a figure keeps a limit that it equals."""
    shaken = size * (1 + off)
    assert at_least(shaken, size)
    assert at_most(shaken, size)
    assert within(shaken - size, 0.0, size)


@given(SIZES, st.floats(1e-8, 0.5))
def test_what_can_be_measured_does(size, off):
    assert not at_least(size * (1 - off), size)
    assert not at_most(size * (1 + off), size)
    assert not within(size * off, size * off / 2, size)


def test_the_sign_of_a_difference_does_not_matter():
    """A sheet off by 1 mm up and one off by 1 mm down both keep a tolerance of 1 mm, though the last bits differ."""
    stated, below, above = TRAP
    assert abs(stated - below) <= 1.0 < abs(stated - above)  # the trap itself
    assert within(stated - below, 1.0, stated)
    assert within(stated - above, 1.0, stated)
    assert ClosureRow("stack", stated, below, 1.0).ok
    assert ClosureRow("stack", stated, above, 1.0).ok
    assert not ClosureRow("stack", stated, above + 0.01, 1.0).ok


@pytest.mark.parametrize("value", [math.nan, -math.inf])
def test_what_is_no_number_reaches_nothing(value):
    assert not at_least(value, 1.0)
    assert not at_most(-value, 1.0)


def test_limits_without_an_end():
    assert at_least(-1e300, -math.inf)
    assert at_most(1e300, math.inf)
    assert at_least(math.inf, 5.0)


def test_arrays_are_decided_one_by_one():
    limit = Limits(0, 50.0, math.inf, scale=50.0)
    figures = np.array([[50.0 * (1 - 1e-12), 50.0, 49.999, math.nan]])
    assert limit.broken(figures).tolist() == [False, False, True, True]


def test_a_gap_of_just_what_is_wanted_is_enough():
    assert Clearance("tyre", 6.0 * (1 - 1e-12), 6.0).finding is None
    assert Clearance("tyre", 5.99, 6.0).finding is not None
    touching = Clearance("tyre", -1e-13, 6.0).finding
    assert touching is not None
    assert touching.code == "clearance-small"  # they touch, they do not run into one another


@given(SIZES, ROUNDING)
def test_equal_things_keep_their_order(size, off):
    """Rounding may still straddle a boundary of the rounded sizes: then they differ by one step and no more."""
    apart = abs(settled(size * (1 + off)) - settled(size))
    assert apart <= 2e-7 * size


def test_a_pair_stays_in_the_order_in_which_it_stands():
    left, right = 0.1 + 0.2, 0.3
    assert left != right
    assert sorted(["left", "right"], key={"left": settled(left), "right": settled(right)}.get) == [
        "left",
        "right",
    ]
    assert settled(left) == settled(right)
    assert settled(-0.0) == 0.0
    assert settled(math.inf) == math.inf


def test_the_allowance_is_above_rounding_and_below_any_gauge():
    """Double precision rounds at 2.2e-16, a solve of this size leaves some 1e-12; a dial gauge reads 1e-3."""
    assert 1e-11 < RELATIVE < 1e-6


@given(SIZES, ROUNDING, ROUNDING)
def test_of_equal_figures_the_first_is_named(size, one, other):
    values = np.array([0.5 * size, size * (1 + one), size * (1 + other), -size])
    assert int(first_largest(values)) == 1
    assert first_largest(np.array([values, values[::-1]]), axis=1).tolist() == [1, 1]
    assert int(first_largest(np.array([size, size * 1.001]))) == 1


def test_the_largest_of_negative_and_of_unknown_figures():
    assert int(first_largest(np.array([-3.0, -1.0, -1.0]))) == 1
    assert int(first_largest(np.array([1.0, math.nan, 2.0]))) == 0
