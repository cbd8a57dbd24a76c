"""A smooth surface through joints of the study, with its own error bar.

Kriging with a trend (Rasmussen & Williams, Gaussian Processes for Machine Learning, 2006, ch. 2; from
memory): a covariance of the features and their squares, for the trend, plus one that dies away with distance, for what
the trend leaves. Its reach and the joints' own scatter are those of the least leave-one-out error, which follows
without a refit (O. Dubrule, Mathematical Geology 15 (1983) 687, from memory).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from ..arrays import Array

_TREND = 0.1  # variance of each term's slope, both standardised: hardly a bound
_LEFT = (
    0.3  # what the trend leaves, of a logarithm: its standard deviation before any joint is known
)
_REACHES = (3.0, 4.0, 8.0, 12.0)  # of the standardised features
# Pairs of reach and the joints' own scatter, for numbers that joints have smoothly, and for those they have roughly.
TRIED = tuple(product(_REACHES, (0.002, 0.01, 0.03)))
TRIED_ROUGHLY = tuple(product(_REACHES, (0.02, 0.1, 0.4)))


@dataclass(frozen=True, eq=False)
class Surface:
    """Targets (blocks, k) over features.

    standard : (n, f) features of the study's joints, standardised by middle and spread (f,), which is the smaller the
    livelier a feature is. columns : (n, terms)
    those of its trend, by term_middle and term_spread. weights : (blocks, n, k). level : (blocks, k). reach : of the
    covariance. scatter : of the joints' own. error : of the surface, as its measure counts it.
    """

    middle: Array
    spread: Array
    standard: Array
    term_middle: Array
    term_spread: Array
    columns: Array
    level: Array
    weights: Array
    reach: float
    scatter: float
    error: float

    def at(self, features: Array) -> Array:
        """(blocks, k) numbers at one shape's features (f,)."""
        standard = (features[None] - self.middle) / self.spread
        columns = (terms(features[None]) - self.term_middle) / self.term_spread
        near = _covariance(standard, self.standard, columns, self.columns, self.reach)
        return np.asarray(self.level + (near @ self.weights)[:, 0])


def fit(
    features: Array,
    targets: Array,
    measure: Callable[[Array], float],
    lively: Sequence[float] | float = 1.0,
    tried: Sequence[tuple[float, float]] = TRIED,
) -> Surface:
    """The surface through targets (n, blocks, k) at features (n, f).

    measure : what counts as error, of what is missed of each row by the surface without it, (n, blocks, k).
    lively : of each feature, so many times shorter is its reach than the common one. tried : pairs of reach and
    scatter, of which that of the least error is taken.
    """
    _, middle, spread = _standardised(features)
    spread = spread / np.asarray(lively)
    standard = (features - middle) / spread
    columns, term_middle, term_spread = _standardised(terms(features))
    level = targets.mean(axis=0)
    best: tuple[float, Array, float, float] | None = None
    apart = _squares_apart(standard, standard)
    trend = _TREND * columns @ columns.T
    for reach, scatter in tried:
        alike = trend + _dying(apart, reach)
        weights, missed = left_out(alike + scatter**2 * np.eye(len(alike)), targets - level)
        error = measure(missed)
        if best is None or error < best[0]:
            best = (error, weights, reach, scatter)
    assert best is not None  # there is always a pair
    error, weights, reach, scatter = best
    return Surface(
        middle,
        spread,
        standard,
        term_middle,
        term_spread,
        columns,
        level,
        np.moveaxis(weights, 0, 1),
        reach,
        scatter,
        error,
    )


def left_out(covariance: Array, targets: Array) -> tuple[Array, Array]:
    """(n, blocks, k) weights of the joints, and what the surface without each misses of it."""
    inverse = np.linalg.inv(covariance)
    weights = np.tensordot(inverse, targets, axes=1)
    return weights, weights / np.diag(inverse)[:, None, None]


def terms(features: Array) -> Array:
    """(n, terms) the features and their squares."""
    return np.hstack([features, features**2])


def relative(missed: Array, share: Array | float = 1.0) -> float:
    """Relative error of the worse block where the first number of each is a logarithm: its root mean square.

    share (n, blocks) : of what that number stands for, when it is the error of a part of it that counts.
    """
    off = np.expm1(np.abs(missed[:, :, 0])) / share
    return float(np.sqrt(np.mean(off**2, axis=0)).max())


def scattered(missed: Array) -> float:
    """Root mean square of what is missed."""
    return float(np.sqrt(np.mean(missed**2)))


def _covariance(one: Array, other: Array, columns: Array, others: Array, reach: float) -> Array:
    return np.asarray(_dying(_squares_apart(one, other), reach) + _TREND * columns @ others.T)


def _squares_apart(one: Array, other: Array) -> Array:
    return np.asarray(((one[:, None] - other[None]) ** 2).sum(axis=2))


def _dying(squares_apart: Array, reach: float) -> Array:
    return np.asarray(_LEFT**2 * np.exp(-0.5 * squares_apart / reach**2))


def _standardised(values: Array) -> tuple[Array, Array, Array]:
    """Columns less their mean over their spread; a column of one value becomes nought."""
    middle = values.mean(axis=0)
    spread = values.std(axis=0)
    spread[spread < 1e-9] = np.inf
    return (values - middle) / spread, middle, spread
