"""Whether a figure keeps a limit, said once: the last bits of a number decide nothing.

A figure that was worked out carries rounding of some 1e-13 of the sizes that went into it, and which digits come out
last depends on the kernel that the linear algebra library picks for the processor. So every comparison that turns a
verdict allows a billionth of the figure's own size, far above any rounding and far below anything a builder can
measure, and every order by size is an order of rounded sizes.
"""

from math import floor, log10
from typing import overload

import numpy as np
from numpy.typing import NDArray

from .arrays import Array

RELATIVE = 1e-9  # of the larger of limit and scale
DIGITS = 8  # digits kept by `settled`, one less than `RELATIVE` allows


@overload
def at_least(value: float, limit: float, scale: float = 0.0) -> bool: ...
@overload
def at_least(value: Array, limit: float, scale: float = 0.0) -> NDArray[np.bool_]: ...
def at_least(value: float | Array, limit: float, scale: float = 0.0) -> bool | NDArray[np.bool_]:
    """Whether a value reaches a limit, or misses it by no more than rounding.

    Parameters
    ----------
    value : number or array; NaN never reaches anything.
    limit : may be infinite.
    scale : size of the numbers that the value was worked out from, where that is more than the limit itself: a
        difference of two lengths of 600 mm is uncertain by rounding of 600 mm, not of the millimetre between them.
    """
    reached = value >= limit - _allowance(limit, scale)
    return reached if isinstance(value, np.ndarray) else bool(reached)


@overload
def at_most(value: float, limit: float, scale: float = 0.0) -> bool: ...
@overload
def at_most(value: Array, limit: float, scale: float = 0.0) -> NDArray[np.bool_]: ...
def at_most(value: float | Array, limit: float, scale: float = 0.0) -> bool | NDArray[np.bool_]:
    """Whether a value does not exceed a limit by more than rounding; parameters as in `at_least`."""
    kept = value <= limit + _allowance(limit, scale)
    return kept if isinstance(value, np.ndarray) else bool(kept)


def within(difference: float, tolerance: float, scale: float = 0.0) -> bool:
    """Whether a difference, of either sign, keeps a tolerance; parameters as in `at_least`."""
    return at_most(abs(difference), tolerance, scale)


def settled(value: float) -> float:
    """A value rounded to the digits that cannot be rounding, for orders by size: equal things then stay equal.

    Left and right of a pair, or two variants that are the same frame, keep the order in which they stand.
    """
    if not np.isfinite(value) or value == 0.0:
        return value
    return round(value, DIGITS - 1 - floor(log10(abs(value))))


def first_largest(values: Array, axis: int | None = None) -> NDArray[np.intp]:
    """Number of the largest value along an axis (of all of them without one); among equals the first.

    Two ends of tubes that meet, or the two sides of a tube, have equal figures but for rounding: which of them is
    named must not hang on it. Where a NaN is among them the first is named.
    """
    largest = np.max(values, axis=axis, keepdims=True)
    equal = values >= largest - RELATIVE * np.abs(largest)
    return np.asarray(np.argmax(equal, axis=axis))


def _allowance(limit: float, scale: float) -> float:
    if np.isinf(limit):
        return 0.0
    return RELATIVE * max(abs(limit), abs(scale))
