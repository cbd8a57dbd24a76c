"""What the drawing's own digits and disagreements leave of the two numbers a builder checks first: trail and drop."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor, hypot, log10

import numpy as np

from ....model.geometry.dimensions import trail_of
from ..drawing import Curve
from ..labelling.measure import Measured
from .gaps import EndGap

SAMPLE = 400  # curves looked at for the number of digits
SLOPPY = (
    3.0  # mm; a longer miss is an overrun drawn on purpose, not a doubt about where the line lies
)
_AXIS_GAPS = ("head tube's axis", "its own next piece")


@dataclass(frozen=True)
class Precision:
    """± mm of trail and drop; resolution: step of the drawing's digits; noise: how far lines miss their nodes;
    fit: error of circles fitted to vertices; snapped: the longest gap or overrun closed. All mm."""

    trail: float
    drop: float
    resolution: float
    noise: float
    fit: float
    snapped: float


def resolution(curves: Sequence[Curve]) -> float:
    """Step between neighbouring numbers as the program wrote them, drawing units; 0 when they are full floats."""
    ends = [
        c.points[[0, -1]].ravel()
        for c in curves[:SAMPLE]
        if c.kind in ("line", "polyline") and len(c.points) <= 8
    ]
    if not ends:
        return 0.0
    numbers = np.concatenate(ends)
    greatest = float(np.abs(numbers).max())
    if greatest == 0.0:
        return 0.0
    decimals = next(
        (10.0**-k for k in range(6) if _multiples(numbers, np.full(len(numbers), 10.0**-k))), 0.0
    )
    sizes = 10.0 ** np.floor(np.log10(np.maximum(np.abs(numbers), 1e-300)))
    digits = next((n for n in range(4, 8) if _multiples(numbers, sizes * 10.0 ** (1 - n))), None)
    if digits is None:
        by_digits = 0.0
    else:
        by_digits = 10.0 ** (floor(log10(greatest)) + 1 - digits)
    return max(decimals, by_digits)


def _multiples(numbers: np.ndarray, step: np.ndarray) -> bool:
    ratio = numbers / step
    return bool(
        (
            np.abs(ratio - np.round(ratio)) < 1e-6 * np.maximum(1.0, np.abs(ratio)) * 1e-3 + 1e-7
        ).mean()
        >= 0.95
    )


def precision(m: Measured, gaps: Sequence[EndGap]) -> Precision:
    """Worst case: each end known to `error`, the axis's direction to error over its drawn length; a fork that misses
    the head tube's axis, or its own next piece, leaves the axis in doubt by as much."""
    fit = (
        max(r.error for r in (m.labelled.reading.rear.tyre, m.labelled.reading.front.tyre))
        * m.labelled.pose.scale
    )
    error = max(m.noise, m.resolution / 2, 1e-6)
    if m.front.astray:
        axle = max(error, *(miss for _, miss in m.front.astray), 0.0)
    else:
        axle = error
    baseline = m.axis.length
    middle = baseline / 2 - m.axis.along(m.front.at)
    if baseline:
        turned = 2 * error / baseline
    else:
        turned = 0.0
    if m.noise > 1e-3:
        offset = error + hypot(axle, turned * middle)
    else:
        offset = error + turned * middle
    offset += max(
        (abs(g.along) for g in gaps if g.node in _AXIS_GAPS and abs(g.along) < SLOPPY), default=0.0
    )
    d = m.dimensions
    there = trail_of(d.head_angle, d.fork_offset, d.wheel_radius_front)
    angle = abs(
        trail_of(d.head_angle + np.degrees(turned), d.fork_offset, d.wheel_radius_front) - there
    )
    radius = abs(
        trail_of(d.head_angle, d.fork_offset, d.wheel_radius_front + fit + m.resolution) - there
    )
    slope = abs(trail_of(d.head_angle, d.fork_offset + offset, d.wheel_radius_front) - there)
    drop = 2 * error + max(
        (min(miss, 3.0) for n in (m.rear, m.bb) for _, miss in n.astray), default=0.0
    )
    return Precision(
        trail=slope + angle + radius,
        drop=drop,
        resolution=m.resolution,
        noise=m.noise,
        fit=fit,
        snapped=max((abs(g.along) for g in gaps), default=0.0),
    )
