"""One number of many bicycles where a single bicycle has one: the same lines of code lay out one or a thousand.

A COLUMN (`Many`) stands where a float stands. Arithmetic works on all of its numbers at once; a comparison, and with
it every branch, has to come out alike for all of them, and raises `Parted` with the groups that agree where it does
not. So what is worked out in columns has taken, for each bicycle, the very steps that it takes for that one alone.
What can only deal with plain floats raises `ScalarNeeded`; whoever made the columns then goes on one by one.
"""

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import fields, is_dataclass
from types import MappingProxyType
from typing import Any, NoReturn, TypeVar, cast

import numpy as np

from .arrays import Array, Xyz

T = TypeVar("T")


class ScalarNeeded(TypeError):
    """A column was handed to what can deal with plain numbers alone."""


class Parted(Exception):
    """Not all of a column go one way. groups : the places in the column of those that do."""

    def __init__(self, groups: Sequence[Sequence[int]]) -> None:
        super().__init__(f"{len(groups)} ways to go")
        self.groups = groups


class Several:
    """What differs from bicycle to bicycle and is no number: nothing in it may be looked at as if it were one."""

    def __init__(self, each: Sequence[Any]) -> None:
        self.each = each

    def __getattr__(self, name: str) -> NoReturn:
        raise ScalarNeeded(name)


class Many:
    """values : (n,) the number of each bicycle."""

    __slots__ = ("values",)

    def __init__(self, values: Array) -> None:
        self.values = values

    def __array_ufunc__(self, ufunc: Any, method: str, *inputs: Any, **options: Any) -> Any:
        # A function of numpy that is asked for one number; an array beside a column would mix up their axes.
        if method != "__call__" or options:
            raise ScalarNeeded(ufunc.__name__)
        found = ufunc(*map(_values, inputs))
        return _agreed(found) if found.dtype == bool else Many(found)

    def __add__(self, other: Any) -> "Many":
        return Many(self.values + _values(other))

    def __sub__(self, other: Any) -> "Many":
        return Many(self.values - _values(other))

    def __mul__(self, other: Any) -> "Many":
        return Many(self.values * _values(other))

    def __truediv__(self, other: Any) -> "Many":
        return Many(self.values / _values(other))

    def __pow__(self, other: Any) -> "Many":
        return Many(self.values ** _values(other))

    def __radd__(self, other: Any) -> "Many":
        return Many(_values(other) + self.values)

    def __rsub__(self, other: Any) -> "Many":
        return Many(_values(other) - self.values)

    def __rmul__(self, other: Any) -> "Many":
        return Many(_values(other) * self.values)

    def __rtruediv__(self, other: Any) -> "Many":
        return Many(_values(other) / self.values)

    def __neg__(self) -> "Many":
        return Many(-self.values)

    def __abs__(self) -> "Many":
        return Many(np.abs(self.values))

    def __round__(self, digits: int = 0) -> "Many":
        return Many(self.values.round(digits))

    def __ceil__(self) -> int:
        return int(_alike(np.ceil(self.values).tolist()))

    def __lt__(self, other: Any) -> bool:
        return _agreed(self.values < _values(other))

    def __le__(self, other: Any) -> bool:
        return _agreed(self.values <= _values(other))

    def __gt__(self, other: Any) -> bool:
        return _agreed(self.values > _values(other))

    def __ge__(self, other: Any) -> bool:
        return _agreed(self.values >= _values(other))

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Many | float | int):
            return False
        return _agreed(self.values == _values(other))

    def __hash__(self) -> int:
        # Adding nought makes one of the two noughts of a float.
        return hash((self.values + 0.0).tobytes())

    def __bool__(self) -> bool:
        return _agreed(self.values != 0.0)

    def __float__(self) -> NoReturn:
        raise ScalarNeeded("a column is no plain number")

    def __array__(self, *kind: Any, **options: Any) -> NoReturn:
        # An array of columns would be one of objects, which half of numpy knows nothing of.
        raise ScalarNeeded("a column is no number of an array")

    def __format__(self, how: str) -> str:
        # Words are for one bicycle; those of a column are never shown.
        return format(float(self.values[0]), how)


def _values(number: Any) -> Any:
    if isinstance(number, Many):
        return number.values
    if isinstance(number, np.ndarray) and number.ndim:
        raise ScalarNeeded("an array beside a column")
    return number


def _agreed(truths: Any) -> bool:
    """What all of them say."""
    if truths.all():
        return True
    if not truths.any():
        return False
    raise Parted((np.flatnonzero(truths).tolist(), np.flatnonzero(~truths).tolist()))


def _alike(things: Sequence[Any]) -> Any:
    """What all of them are."""
    groups: dict[Any, list[int]] = {}
    for place, thing in enumerate(things):
        groups.setdefault(thing, []).append(place)
    if len(groups) > 1:
        raise Parted(list(groups.values()))
    return things[0]


# --- the functions of `math`, of columns too --------------------------------------------------------------------
def _of_both(
    plain: Callable[[float], float], many: Callable[[Array], Array]
) -> Callable[[float], float]:
    def function(x: float) -> float:
        try:
            return plain(x)
        except ScalarNeeded:
            return one_of(many(of_all(x)))

    return function


sin = _of_both(math.sin, np.sin)
cos = _of_both(math.cos, np.cos)
atan = _of_both(math.atan, np.arctan)
sqrt = _of_both(math.sqrt, np.sqrt)
radians = _of_both(math.radians, np.radians)
degrees = _of_both(math.degrees, np.degrees)


def hypot(x: float, y: float, z: float = 0.0) -> float:
    """Length of a vector."""
    try:
        return math.hypot(x, y, z)
    except ScalarNeeded:
        return sqrt(x * x + y * y + z * z)


def dist(a: Xyz, b: Xyz) -> float:
    """Distance of two points."""
    try:
        return math.dist(a, b)
    except ScalarNeeded:
        return hypot(a[0] - b[0], a[1] - b[1], a[2] - b[2])


def number(x: float) -> float:
    """A plain float of any number, and a column as it is."""
    try:
        return float(x)
    except ScalarNeeded:
        return x


# --- columns and arrays -----------------------------------------------------------------------------------------
def of_all(x: float) -> Array:
    """() or (n,) the numbers of a float or a column."""
    try:
        return np.asarray(x, dtype=float)
    except ScalarNeeded:
        return cast(Array, _values(x))


def one_of(values: Array) -> float:
    """A float or a column of the numbers () or (n,)."""
    if values.ndim:
        return cast(float, Many(values))
    return float(values)


def points_of(points: Sequence[Sequence[float]]) -> Array:
    """(k, 3) points as an array, or (n, k, 3) where some of their numbers are columns."""
    try:
        return np.array(points, dtype=float)
    except ScalarNeeded:
        rows = [np.stack(np.broadcast_arrays(*map(of_all, point)), axis=-1) for point in points]
        return np.stack(np.broadcast_arrays(*rows), axis=-2)


def tuples_of(points: Array) -> tuple[Xyz, ...]:
    """Points (k, 3) or (n, k, 3) as tuples of floats or of columns."""
    if points.ndim == 2:
        return tuple((float(x), float(y), float(z)) for x, y, z in points)
    found = []
    for point in np.moveaxis(points, 0, -1):
        x, y, z = map(one_of, point)
        found.append((x, y, z))
    return tuple(found)


def stacked(things: Sequence[T], whole: tuple[type, ...] = (), words: Collection[str] = ()) -> T:
    """Values of one kind as one, with a column wherever their numbers differ. Raises Parted where something else does.

    whole : types that are not looked into: where they differ, `Several` stands for them. words : fields that say
    nothing but words; the first one's are taken. What a dataclass checks of itself is not asked again: each of them
    has been made before.
    """
    first = things[0]
    if all(thing is first for thing in things):
        return first
    if _alike([_kind(thing) for thing in things]) is float:
        values = np.array(things, dtype=float)
        if (values == values[0]).all():
            return first
        return cast(T, Many(values))
    if isinstance(first, whole):
        return cast(T, Several(things))
    return cast(T, _stacked_parts(things, whole, words))


def _kind(thing: object) -> type:
    if isinstance(thing, float | int) and not isinstance(thing, bool):
        return float
    return type(thing)


def _stacked_parts(things: Sequence[Any], whole: tuple[type, ...], words: Collection[str]) -> Any:
    first = things[0]
    if isinstance(first, Mapping):
        _alike([tuple(row) for row in things])
        columns = {}
        for key in first:
            columns[key] = stacked([row[key] for row in things], whole, words)
        return MappingProxyType(columns)
    if isinstance(first, tuple):
        _alike([len(row) for row in things])
        parts = [stacked(column, whole, words) for column in zip(*things, strict=True)]
        # one with names keeps them
        return first._make(parts) if hasattr(first, "_make") else tuple(parts)
    if not is_dataclass(first):
        return _alike(things)
    found = object.__new__(type(first))
    for field in fields(first):
        one = getattr(first, field.name)
        if field.name not in words:
            one = stacked([getattr(thing, field.name) for thing in things], whole, words)
        object.__setattr__(found, field.name, one)
    return found
