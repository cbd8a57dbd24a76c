"""Predicted against measured, and which single assumption would explain the difference, how far it would have to go.

The distance is chi² = sum of ((predicted - measured) / doubt of the reading)². For each lever by itself the value
with the least chi² is sought (Gauss-Newton on the model itself, never on an interpolation); the prediction stays as it
was. A prediction's own doubt is what every lever does within its usual range, taken as independent: root of the sum of
squares.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..arrays import Array
from .predict import Lever, World, levers
from .readings import BenchReading

STEPS = 4  # of Gauss-Newton
AGREE = 2.0  # joint doubts apart up to which both agree
EXPLAINS = 0.75  # share of chi² that a lever must take away to be said to explain it


@dataclass(frozen=True)
class Compared:
    """One reading beside its prediction, with both doubts, in the reading's unit."""

    reading: BenchReading
    predicted: float
    doubt: float
    unit: str

    @property
    def ratio(self) -> float:
        return self.reading.value / self.predicted

    @property
    def apart(self) -> float:
        """How many joint doubts measured and predicted are apart."""
        joint = float(np.hypot(self.doubt, self.reading.doubt))
        return abs(self.reading.value - self.predicted) / joint

    @property
    def agrees(self) -> bool:
        return self.apart <= AGREE


@dataclass(frozen=True)
class Explanation:
    """What one lever would have to be. share : of chi² that it would take away, 0 to 1."""

    lever: Lever
    value: float
    share: float

    @property
    def is_usual(self) -> bool:
        return self.lever.is_usual(self.value)

    @property
    def words(self) -> str:
        """How far it would have to go, and whether that is usual."""
        if self.value in self.lever.limits:
            far = "at the end of what is looked at"
        elif self.is_usual:
            far = "within what is usual"
        else:
            far = "more than is usual"
        gone = f"would take away {100 * self.share:.0f} % of it"
        return f"{self.lever.words(self.value)} {gone}; {far}: {self.lever.source}"


@dataclass(frozen=True)
class AllCompared:
    """All readings compared. chi2 : of the predictions as they stand. explanations : best first."""

    rows: tuple[Compared, ...]
    chi2: float
    explanations: tuple[Explanation, ...]

    @property
    def differs(self) -> bool:
        """Whether the readings' own doubts leave a difference to be explained."""
        return self.chi2 > AGREE**2 * len(self.rows)

    @property
    def best(self) -> Explanation | None:
        """The lever that explains most, None where nothing differs or none explains enough."""
        if not self.differs or not self.explanations:
            return None
        first = self.explanations[0]
        if first.share < EXPLAINS:
            return None
        return first


def compared(world: World, given: Sequence[BenchReading]) -> AllCompared:
    """Hold every reading against the model. Raises ModelError for a reading that names no rig, measure or tube."""
    named = [world.named(one) for one in given]
    readings = [one for one, _ in named]
    base = world.predicted(readings)
    value = np.array([one.value for one in readings])
    doubt = np.array([one.doubt for one in readings])
    squares = np.zeros(len(readings))
    explanations = []
    for lever in levers(world.bicycle):
        # 0 is the sheet as it stands and moves nothing.
        edges = [edge for edge in lever.usual if edge]
        moved = [np.abs(_at(world, lever, edge, readings) - base) for edge in edges]
        # The larger of both edges; levers count as independent, so squares add.
        squares += np.max(moved, axis=0) ** 2
        explanations.append(_explained(world, lever, readings, base, value, doubt))
    rows = tuple(
        Compared(one, float(base[k]), float(np.sqrt(squares[k])), unit)
        for k, (one, unit) in enumerate(named)
    )
    chi2 = float(np.sum(((base - value) / doubt) ** 2))
    # Rounded, so that levers that explain as much keep one order everywhere.
    ranked = sorted(explanations, key=lambda one: (-round(one.share, 6), one.lever.key))
    return AllCompared(rows, chi2, tuple(ranked))


def _at(world: World, lever: Lever, value: float, readings: Sequence[BenchReading]) -> Array:
    changed = World(world.bicycle, world.cases_of, {**world.changed, lever.key: value})
    return changed.predicted(readings)


def _explained(
    world: World,
    lever: Lever,
    readings: Sequence[BenchReading],
    base: Array,
    value: Array,
    doubt: Array,
) -> Explanation:
    """The lever's best value by itself, each step worked out on the model."""
    least = float(np.sum(((base - value) / doubt) ** 2))
    whole = least
    best = 0.0
    x = 0.0
    here = base
    for _ in range(STEPS):
        ahead = _at(world, lever, x + lever.step, readings)
        slope = (ahead - here) / lever.step / doubt
        steep = float(slope @ slope)
        # A lever that moves no reading explains none.
        if steep < 1e-18:
            break
        step = float(slope @ ((value - here) / doubt)) / steep
        x = float(np.clip(x + step, *lever.limits))
        here = _at(world, lever, x, readings)
        now = float(np.sum(((here - value) / doubt) ** 2))
        # A step may overshoot where the model curves: the best value seen counts.
        if now < least:
            best = x
            least = now
        if abs(step) < 1e-3 * lever.step:
            break
    if whole:
        share = 1 - least / whole
    else:
        share = 0.0
    return Explanation(lever, best, share)
