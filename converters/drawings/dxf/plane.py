"""Does the drawing lie in the XY plane, and how far do endless lines reach?

A tube seen at an angle is projected too short, so a drawing with tilted curves is refused. Curves level in themselves
but drawn at different heights (a stray elevation) project true and only earn a finding.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from ....model.errors import InputError
from ....model.findings import Finding
from ..drawing import Curve
from .budget import MAX_COORDINATE
from .tags import Record

Points = NDArray[np.float64]
TILT = 1e-3  # of the drawing's size: a curve rising more than this would be measured short
LEVEL = 1e-9  # of the drawing's size: heights that count as the same
MARGIN = 0.05  # of the drawing's size: construction lines reach this far beyond it


@dataclass
class Spatial:
    """All points in space with the records they came from, to be judged together (fast, however many there are)."""

    points: list[Points] = field(default_factory=list)
    records: list[Record] = field(default_factory=list)
    level: list[bool] = field(default_factory=list)

    def add(self, points: Points, record: Record, level: bool) -> None:
        """level: the curve is expected to lie in the XY plane (construction lines may point anywhere)."""
        self.points.append(points)
        self.records.append(record)
        self.level.append(level)

    def check_range(self) -> None:
        """Raises InputError naming the first object beyond MAX_COORDINATE (or not a number after all)."""
        low, high = self._limits()
        # written so that NaN compares false and is refused too
        within = (np.maximum(-low, high) <= MAX_COORDINATE).all(axis=1)
        if not within.all():
            place = self.records[int(np.argmin(within))].place()
            raise InputError(
                f"{place} lies beyond {MAX_COORDINATE:g} drawing units. Check or delete it."
            )

    def check_heights(self) -> Iterator[Finding]:
        """Findings on curves at different heights. Raises InputError when curves are tilted out of the XY plane."""
        low, high = self._limits()
        if not any(self.level):
            return
        low = low[self.level]
        high = high[self.level]
        bottom = low.min(axis=0)
        top = high.max(axis=0)
        # a drawing in the XZ plane has hardly any size in XY; its height then counts
        size = max(float(np.hypot(*(top - bottom)[:2])), float((top - bottom)[2]))
        # a curve's own rise shortens it in projection; its height above zero does not
        rise = high[:, 2] - low[:, 2]
        if rise.max() > TILT * size:
            raise InputError(self._tilted(rise, int((rise > TILT * size).sum())))
        if top[2] - bottom[2] > LEVEL * size:
            text = f"the curves lie at heights z from {bottom[2]:.6g} to {top[2]:.6g}; they were projected onto XY."
            yield Finding(
                "dxf-heights", "warning", text + " Flatten the drawing if this was not meant."
            )

    def _tilted(self, rise: Points, count: int) -> str:
        records = [record for record, level in zip(self.records, self.level, strict=True) if level]
        worst = records[int(np.argmax(rise))].place()
        return (
            f"is not in the XY plane: {count} of {len(rise)} curves rise in z, {worst} by {rise.max():.6g} units. "
            "Turn the side view into the top view (XY), flatten it and export again."
        )

    def _limits(self) -> tuple[Points, Points]:
        """Lowest and highest x, y, z of each curve."""
        if not self.points:
            return np.zeros((0, 3)), np.zeros((0, 3))
        stacked = np.concatenate(self.points)
        # reduceat takes the first row of each curve in the stack
        starts = np.cumsum([0, *(len(points) for points in self.points[:-1])])
        low: Points = np.minimum.reduceat(stacked, starts)
        high: Points = np.maximum.reduceat(stacked, starts)
        return low, high


def extent(curves: Iterable[Curve]) -> tuple[Points, Points]:
    """Lower left and upper right corner of all points."""
    points = [curve.points for curve in curves]
    lows = np.array([p.min(axis=0) for p in points])
    highs = np.array([p.max(axis=0) for p in points])
    return lows.min(axis=0), highs.max(axis=0)


def cut_endless(endless: Sequence[tuple[Curve, str]], curves: Sequence[Curve]) -> Iterator[Curve]:
    """Construction lines ('both' ways endless or 'one') cut to the extent of the drawing; those outside vanish."""
    if not endless or not curves:
        return
    low, high = extent(curves)
    # a construction line must cross the lines at the drawing's edge, not end on them
    margin = MARGIN * float(np.hypot(*(high - low)))
    for curve, reach in endless:
        ends = _cut(curve.points, reach, low - margin, high + margin)
        if ends is not None:
            yield replace(curve, points=ends)


def _cut(points: Points, reach: str, low: Points, high: Points) -> Points | None:
    """Clip base + t * direction to a box (slabs); t from minus infinity or 0 to infinity."""
    base = points[0]
    direction = points[1] - points[0]
    size = float(np.hypot(*direction))
    if size == 0.0:
        return None
    direction = direction / size
    if reach == "both":
        first = -np.inf
    else:
        first = 0.0
    last = np.inf
    for axis in (0, 1):
        # parallel to these two sides: inside them everywhere or nowhere
        if direction[axis] == 0.0:
            if not low[axis] <= base[axis] <= high[axis]:
                return None
            continue
        t = sorted(
            (
                (low[axis] - base[axis]) / direction[axis],
                (high[axis] - base[axis]) / direction[axis],
            )
        )
        first = max(first, t[0])
        last = min(last, t[1])
    if first < last:
        return np.array([base + first * direction, base + last * direction])
    return None
