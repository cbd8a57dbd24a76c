"""Columns stand where floats stand: the same arithmetic, one way for all, and never a wrong axis.

Plain floats, one by one, are the reference throughout.
"""

import math
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import pytest
from droptrail.model import columns
from droptrail.model.columns import (
    Many,
    Parted,
    ScalarNeeded,
    Several,
    of_all,
    points_of,
    stacked,
    tuples_of,
)
from hypothesis import given
from hypothesis import strategies as st

SIZES = st.floats(0.01, 1e3)
LISTS = st.lists(st.tuples(SIZES, SIZES), min_size=1, max_size=5)


def formula(a, b):
    """Every operation that a column knows, with plain numbers on either side."""
    slope = columns.atan(b / (1.0 + a)) + columns.sin(columns.radians(a)) * 2.0
    length = columns.hypot(a, b, 3.0) - columns.dist((a, 0.0, b), (0.0, b, 1.0))
    rest = columns.sqrt(a**2 + b) / 7 + 1 / a - columns.degrees(columns.cos(b))
    return 5.0 - abs(-slope) + 2 * length + round(rest, 3)


@given(LISTS)
def test_a_column_is_worked_on_as_each_of_its_numbers(pairs):
    a, b = (Many(np.array(values)) for values in zip(*pairs, strict=True))
    wanted = [formula(*pair) for pair in pairs]
    np.testing.assert_allclose(of_all(formula(a, b)), wanted, rtol=1e-12, atol=1e-9)


@pytest.mark.parametrize(
    "asked",
    [
        lambda x: x < 2.0,
        lambda x: x <= 1.5,
        lambda x: x >= 2.5,
        lambda x: x == 1.0,
        lambda x: bool(x - 1.0),
        lambda x: max(x, 2.0),
        lambda x: sorted([x, 2.0]),
        math.ceil,
    ],
)
def test_what_does_not_go_one_way_is_parted_into_those_that_do(asked):
    mixed = np.array([1.0, 3.0, 1.0])
    with pytest.raises(Parted) as parted:
        asked(Many(mixed))
    assert sorted(map(list, parted.value.groups)) == [[0, 2], [1]]
    for group in parted.value.groups:
        # Each group goes the way that its numbers go one by one.
        answer = asked(Many(mixed[list(group)]))
        wanted = asked(float(mixed[group[0]]))
        if isinstance(wanted, bool | int):
            assert answer == wanted


@pytest.mark.parametrize(
    "taken",
    [
        float,
        math.tan,
        np.array,
        lambda x: np.array([x, 1.0]),
        lambda x: np.array([1.0, 2.0, 3.0]) * x,
        lambda x: x * np.array([1.0, 2.0, 3.0]),
        lambda x: x < np.array([1.0, 2.0, 3.0]),
        lambda x: np.linalg.norm([x, x]),
        lambda x: np.add.reduce(x),
    ],
)
def test_what_deals_with_plain_numbers_alone_is_told_so(taken):
    """A column of three beside an array of three would else be taken for a point."""
    with pytest.raises(ScalarNeeded):
        taken(Many(np.array([1.0, 2.0, 3.0])))


def test_functions_of_numpy_that_are_asked_for_one_number_work_on_all():
    found = np.radians(Many(np.array([90.0, 180.0])))
    assert isinstance(found, Many)
    assert found.values.tolist() == [math.pi / 2, math.pi]
    # numpy's own floats on the left
    assert of_all(np.float64(2.0) * Many(np.array([1.0, 2.0]))).tolist() == [2.0, 4.0]


def test_equal_columns_are_one_key():
    one = Many(np.array([0.0, 2.0]))
    assert {one: "there"}[Many(np.array([-0.0, 2.0]))] == "there"
    assert one != "text"


def test_points_become_arrays_and_come_back():
    column = Many(np.array([1.0, 2.0]))
    points = [(0.0, column, 5.0), (column, 1.0, 6.0)]
    array = points_of(points)
    assert array.tolist() == [[[0, 1, 5], [1, 1, 6]], [[0, 2, 5], [2, 1, 6]]]
    for point, again in zip(points, tuples_of(array), strict=True):
        for number, same in zip(point, again, strict=True):
            assert (of_all(same) == of_all(number)).all()
    plain = points_of([(0.0, 1.0, 2.0)])
    assert tuples_of(plain) == ((0.0, 1.0, 2.0),)


@dataclass(frozen=True)
class Kept:
    size: float


@dataclass(frozen=True)
class Thing:
    name: str
    size: float
    kind: str
    parts: MappingProxyType[str, tuple[float | None, ...]]
    kept: Kept = Kept(1.0)


def thing(name="one", size=1.0, kind="steel", part=2.0, kept=1.0) -> Thing:
    return Thing(name, size, kind, MappingProxyType({"a": (part, None)}), Kept(kept))


def test_values_are_stacked_number_by_number():
    things = [thing("one", 1.0, part=2), thing("two", np.float64(1.0), part=4.5, kept=2.0)]
    found = stacked(things, whole=(Kept,), words=("name",))
    assert (found.name, found.size, found.kind) == ("one", 1.0, "steel")
    assert of_all(found.parts["a"][0]).tolist() == [2.0, 4.5]
    assert isinstance(found.kept, Several)
    with pytest.raises(ScalarNeeded):
        found.kept.size  # noqa: B018


@pytest.mark.parametrize(
    "other",
    [
        thing(kind="titanium"),
        Thing("one", 1.0, "steel", MappingProxyType({"b": (2.0, None)})),
        Thing("one", 1.0, "steel", MappingProxyType({"a": (2.0,)})),
        Thing("one", 1.0, "steel", MappingProxyType({"a": (2.0, 1.0)})),
    ],
)
def test_values_that_differ_in_more_than_numbers_are_parted(other):
    with pytest.raises(Parted) as parted:
        stacked([thing(), other, thing(size=3.0)])
    assert sorted(map(list, parted.value.groups)) == [[0, 2], [1]]
