"""Which statements define a frame, and the frame they define: the search under `model.geometry.closure`.

The geometry itself lives in `FrameDimensions` alone. Its sensitivities, taken numerically, say which
statements are independent (pivoted in order of preference), and Newton's method on the same functions
finds the fields that are not stated. So there is no second copy of any formula. Lengths and angles are
weighed alike when 1 mm stands beside 0.1 degree.
"""

from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property
from itertools import product

import numpy as np

from ..arrays import Array
from ..errors import ModelError
from .dimensions import NOTHING_GIVEN, FrameDimensions, Given
from .quantities import QUANTITIES
from .statements import FIELDS, PREFERENCE, by_unit, label, quantities, unit

# A statement that moves its best free field by less than a quarter of its own change defines it only where
# nothing better does; by less than a twentieth, never: 1 mm of reading error would then move a field 20 mm.
WELL = 0.25
BARELY = 0.05
NEGLIGIBLE = 1e-6  # sensitivities below this are the noise of the differences

# Where the search for unstated fields starts.
TYPICAL = {name: row.typical for name, row in QUANTITIES.items() if row.typical is not None}


class _Trial(FrameDimensions):
    """A point on the way to the solution: it may lie outside the believable range."""

    def __post_init__(self) -> None:
        pass


def _weights(names: Iterable[str]) -> Array:
    return np.array([by_unit(name, mm=1.0, deg=0.1) for name in names])


_FIELD_WEIGHT = _weights(FIELDS)
_ALL_WEIGHT = _weights(PREFERENCE)


def _evaluate(point: Array, given: Given) -> Array:
    """Every quantity at a point of field values; NaN where no such frame can be drawn."""
    try:
        values = quantities(_Trial(**dict(zip(FIELDS, point.tolist(), strict=True)), given=given))
    # a root of a negative number or a tangent of nought: no such frame, and Newton must step back
    except (ValueError, ZeroDivisionError):
        return np.full(len(PREFERENCE), np.nan)
    return np.array(list(values.values()), dtype=float)


def sensitivities(point: Array, given: Given = NOTHING_GIVEN) -> Array:
    """d quantity / d field at `point`, weighed, by central differences: one row per name in `PREFERENCE`."""
    # a thousandth of a mm: rounding and curvature are then about equally small
    steps = np.diag(1e-3 * _FIELD_WEIGHT)
    columns = [
        (_evaluate(point + step, given) - _evaluate(point - step, given)) / 2e-3 for step in steps
    ]
    return np.asarray(np.array(columns).T / _ALL_WEIGHT[:, None])


def as_point(dimensions: FrameDimensions) -> Array:
    """The field values as a vector; typical values stand in for those not held."""
    return np.array(
        [TYPICAL[n] if getattr(dimensions, n) is None else getattr(dimensions, n) for n in FIELDS]
    )


def independent(rows: Array, tiers: Sequence[tuple[Sequence[int], float]]) -> list[int]:
    """Greedy choice of independent rows: each (order, least pivot) tier in turn, Gram-Schmidt with pivots."""
    chosen: list[int] = []
    basis = np.empty((0, rows.shape[1]))
    for order, least in tiers:
        for i in order:
            # what this statement says beyond those chosen before it
            rest = rows[i] - basis.T @ (basis @ rows[i])
            if i not in chosen and np.linalg.norm(rest) > least:
                chosen.append(i)
                basis = np.vstack([basis, rest / np.linalg.norm(rest)])
    return chosen


def free_fields(rows: Array) -> list[str]:
    """Fields that equations with these rows of sensitivities leave free to move."""
    # directions that no equation feels are the ones the fields may still move in
    _, singular, vt = np.linalg.svd(rows, full_matrices=True)
    null = vt[int(np.sum(singular > NEGLIGIBLE)) :]
    return [
        name
        for name, loose in zip(FIELDS, np.linalg.norm(null, axis=0), strict=True)
        if loose > NEGLIGIBLE
    ]


class ClosureProblem:
    """Statements (and defaults, best first, for what they leave open) as equations for the fields.

    `names` are the equations chosen, `free` the fields they leave open, `unknown` the positions of the
    fields no equation gives directly, `given` as `FrameDimensions` has it.
    """

    def __init__(
        self,
        statements: Mapping[str, float],
        defaults: Mapping[str, float],
        given: Given = NOTHING_GIVEN,
    ) -> None:
        self.statements = statements
        self.given = given
        self.values = {**defaults, **statements}
        # the nearer the start, the surer Newton arrives at the frame that was meant
        self.start = np.array([self.values.get(name, TYPICAL[name]) for name in FIELDS])
        self.rows = sensitivities(self.start, given)
        stated = [i for i, name in enumerate(PREFERENCE) if name in statements]
        spare = [PREFERENCE.index(name) for name in defaults if name not in statements]
        # statements before defaults, well posed before barely posed
        self.chosen = independent(self.rows, [(stated, WELL), (stated, BARELY), (spare, BARELY)])
        self.names = tuple(PREFERENCE[i] for i in self.chosen)
        self.unknown = [k for k, name in enumerate(FIELDS) if name not in self.names]
        self._indirect = [i for i in self.chosen if PREFERENCE[i] not in FIELDS]
        self._wanted = np.array([self.values[PREFERENCE[i]] for i in self._indirect])

    @cached_property
    def free(self) -> list[str]:
        return free_fields(self.rows[self.chosen])

    def gains(self, point: Array) -> Array:
        """d field / d chosen equation at `point`, weighed."""
        return np.asarray(np.linalg.pinv(sensitivities(point, self.given)[self.chosen]))

    # --- solving --------------------------------------------------------------------------------------
    def the_frame(self, start: Array | None = None) -> FrameDimensions:
        """The one believable frame; searched from `start` only, or from starts over the whole range.

        Raises
        ------
        ModelError
            When no frame fits, two different frames fit, or one fits with an unbelievable field.
        """
        # one start cannot tell that a second frame has the same values
        found = self._solutions(self._starts() if start is None else [start])
        possible = [point for point in found if not self._outside(point)]
        if len(possible) == 1:
            held = zip(FIELDS, possible[0].tolist(), strict=True)
            fixed = {name: value for name, value in held if name not in self.free}
            return FrameDimensions(**fixed, given=self.given)
        if possible:
            raise ModelError(self._two_frames(*possible[:2]))
        if found:
            raise ModelError(self._outside(found[0]))
        culprits = " and ".join(label(PREFERENCE[i]) for i in self._indirect)
        raise ModelError(
            f"no frame has all the stated values: {culprits} cannot be met together with the other "
            "items; check these first"
        )

    def _starts(self) -> list[Array]:
        """The usual start, then the unknown fields near both ends of their range, in turn: either side of a fold."""
        starts = [self.start]
        # not at the very ends, where a triangle closes and slopes are infinite
        for shares in product((0.03, 0.97), repeat=2) if self._indirect else ():
            point = self.start.copy()
            for turn, k in enumerate(self.unknown):
                low, high = QUANTITIES[FIELDS[k]].believable
                point[k] = low + shares[turn % 2] * (high - low)
            starts.append(point)
        return starts

    def _solutions(self, starts: Sequence[Array]) -> list[Array]:
        """Every different point Newton's method arrives at."""
        fixed = [k for k, name in enumerate(FIELDS) if name not in self.free]
        found: list[Array] = []
        for start in starts:
            point = self._newton(start)
            # two starts that end within a micron found one frame, not two
            if point is not None and all(
                np.abs(point - other)[fixed].max() > 1e-3 for other in found
            ):
                found.append(point)
        return found

    def _newton(self, point: Array) -> Array | None:
        """Newton's method with step halving; None where it does not arrive.

        Written out because scipy.optimize takes half a second to import and stops short of the last digits.
        """
        error = self._residual(point)
        for _ in range(60 if self._indirect else 0):
            slopes = sensitivities(point, self.given)[np.ix_(self._indirect, self.unknown)]
            # at the edge of what can be drawn the differences reach beyond it
            if not (np.isfinite(slopes).all() and np.isfinite(error).all()):
                return None
            step = np.zeros(len(FIELDS))
            # least squares, because near a fold the equations are nearly dependent
            step[self.unknown] = np.linalg.lstsq(slopes, -error, rcond=None)[0]
            better = self._halved(point, step * _FIELD_WEIGHT, error)
            if better is None:
                break
            point = better
            error = self._residual(better)
        # in weighed units: far below what any ruler or drawing shows
        if np.linalg.norm(error) < 1e-8:
            return point
        return None

    def _residual(self, point: Array) -> Array:
        return np.asarray(
            (_evaluate(point, self.given)[self._indirect] - self._wanted)
            / _ALL_WEIGHT[self._indirect]
        )

    def _halved(self, point: Array, step: Array, error: Array) -> Array | None:
        """The first of point + step, + step/2, ... that lowers the residual; None when none does."""
        # a full step may jump across a fold to no frame at all
        for halving in range(12):
            trial = np.asarray(point + step / 2**halving)
            if np.linalg.norm(self._residual(trial)) < np.linalg.norm(error):
                return trial
        return None

    # --- refusals in words ----------------------------------------------------------------------------
    def _outside(self, point: Array) -> str:
        """Which worked-out field of a solution cannot be; '' when all can."""
        for k in self.unknown:
            name = FIELDS[k]
            row = QUANTITIES[name]
            # a field that nothing fixes has a typical value, which says nothing of the sheet
            if name not in self.free and not row.believes(point[k]):
                behind = zip(self.names, self.gains(point)[k], strict=True)
                items = ", ".join(label(n) for n, gain in behind if abs(gain) > NEGLIGIBLE)
                return (
                    f"{row.label} would have to be {point[k]:.1f} {row.unit_words}, {row.expected()}; "
                    f"it follows from {items}: check these"
                )
        return ""

    def _two_frames(self, one: Array, other: Array) -> str:
        apart = np.abs(one - other) / _FIELD_WEIGHT
        k = max(
            (k for k in self.unknown if FIELDS[k] not in self.free), key=lambda k: float(apart[k])
        )
        return (
            f"two different frames have these values: {label(FIELDS[k])} {one[k]:.1f} or {other[k]:.1f} "
            f"{unit(FIELDS[k])}; state {label(FIELDS[k])}"
        )
