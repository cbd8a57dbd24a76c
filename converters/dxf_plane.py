"""Does the drawing lie in the XY plane, and how far do endless lines reach?

A tube seen at an angle is projected too short, so a drawing with tilted curves is refused. Curves level in themselves
but drawn at different heights (a stray elevation) project true and only earn a finding.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from model.errors import InputError
from model.findings import Finding

from .drawing import Curve
from .dxf_place import Placed

Height = tuple[float, float, Placed]  # lowest and highest z of a curve, and the record it came from
Points = NDArray[np.float64]
TILT = 1e-3  # of the drawing's size: a curve rising more than this would be measured short
LEVEL = 1e-9  # of the drawing's size: heights that count as the same
MARGIN = 0.05  # of the drawing's size: construction lines reach this far beyond it


def check_heights(heights: Sequence[Height], curves: Sequence[Curve]) -> Iterator[Finding]:
    """Findings on curves at different heights. Raises InputError when curves are tilted out of the XY plane."""
    if not heights:
        return
    low, high = np.array([h[0] for h in heights]), np.array([h[1] for h in heights])
    corner, opposite = extent(curves)
    size = max(float(np.hypot(*(opposite - corner))), float(high.max() - low.min()))
    rise = high - low
    tilted = int((rise > TILT * size).sum())
    if tilted:
        worst = heights[int(np.argmax(rise))][2].record.place()
        raise InputError(
            f"is not in the XY plane: {tilted} of {len(rise)} curves rise in z, {worst} by {rise.max():.6g} units. "
            "Turn the side view into the top view (XY), flatten it and export again."
        )
    if high.max() - low.min() > LEVEL * size:
        text = f"the curves lie at heights z from {low.min():.6g} to {high.max():.6g}; they were projected onto XY."
        yield Finding("dxf-heights", "warning", text + " Flatten the drawing if this was not meant.")


def extent(curves: Iterable[Curve]) -> tuple[Points, Points]:
    """Lower left and upper right corner of all points."""
    points = [curve.points for curve in curves]
    lows, highs = np.array([p.min(axis=0) for p in points]), np.array([p.max(axis=0) for p in points])
    return lows.min(axis=0), highs.max(axis=0)


def cut_endless(endless: Sequence[tuple[Curve, str]], curves: Sequence[Curve]) -> Iterator[Curve]:
    """Construction lines ('both' ways endless or 'one') cut to the extent of the drawing; those outside vanish."""
    if not endless or not curves:
        return
    low, high = extent(curves)
    margin = MARGIN * float(np.hypot(*(high - low)))
    for curve, reach in endless:
        ends = _cut(curve.points, reach, low - margin, high + margin)
        if ends is not None:
            yield replace(curve, points=ends)


def _cut(points: Points, reach: str, low: Points, high: Points) -> Points | None:
    """Clip base + t * direction to a box (slabs); t from minus infinity or 0 to infinity."""
    base, direction = points[0], points[1] - points[0]
    size = float(np.hypot(*direction))
    if size == 0.0:
        return None
    direction = direction / size
    first, last = (-np.inf if reach == "both" else 0.0), np.inf
    for axis in (0, 1):
        if direction[axis] == 0.0:
            if not low[axis] <= base[axis] <= high[axis]:
                return None
            continue
        t = sorted(((low[axis] - base[axis]) / direction[axis], (high[axis] - base[axis]) / direction[axis]))
        first, last = max(first, t[0]), min(last, t[1])
    return np.array([base + first * direction, base + last * direction]) if first < last else None
