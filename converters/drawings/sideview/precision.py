"""What the drawing's own digits and disagreements leave of the two numbers a builder checks first: trail and drop."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import floor, hypot, log10

import numpy as np

from ....model.findings import Finding
from ....model.geometry.dimensions import FrameDimensions, trail_of
from ..drawing import Curve
from ..labelling.measure import Measured
from .gaps import EndGap
from .say import find
from .stretch import Stretch, drop_error
from .unit_evidence import UNITS

SAMPLE = 400  # curves looked at for the number of digits
INCH = UNITS["inch"]  # mm
GRIDS = sorted([5.0, 2.0, 1.0, 0.5, *(INCH / n for n in (4, 8, 16, 32, 64))], reverse=True)  # mm
LEAST_SHOWN = 0.001  # mm; a smaller ± is never shown: no workshop measures it
FEW_VERTICES = 8  # curves of more are worked out by the program, not typed or snapped
DECIMALS = 6  # fixed decimals looked for: 0 to 5; with more a number is as good as a full float
DIGITS = range(4, 8)  # significant digits looked for; a float of four bytes has seven
# share of the numbers that have to lie on a step: a few are worked out, not typed
NEARLY_ALL = 0.95
# of a number of steps by which a written multiple may miss, from the arithmetic ...
MULTIPLE = 1e-9
MULTIPLE_LEAST = 1e-7  # ... and of one step
NOUGHT = 1e-9  # mm; zeros lie on every grid and would vouch for a wrong one
LEAST_ERROR = 1e-6  # mm; keeps the error of an exact drawing from ever being nothing
AT_ODDS = 1e-3  # mm of noise from which a drawing disagrees with itself, not merely in its digits
# mm of a stray witness that the drop's ± holds; what strays farther is told as a fault
MOST_ASTRAY = 3.0
WHOLE_PARTS = 1e-6  # by which a number of parts of an inch may differ from a whole one
ON_GRID = 2e-3  # of a step: a writer's rounding; by chance one number in 250 lies so near
COARSE = 0.35  # mm; half of it at each end of a head tube of 150 mm turns the axis by a tenth of a degree
# a line through a few vertices strays by this share of the largest stray of a wheel's many
FITTED = 0.6
LEAST_ON_GRID = 4  # curves
# mm; a longer miss is an overrun drawn on purpose, not a doubt about where the line lies
SLOPPY = 3.0
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

    @property
    def step(self) -> float:
        """Up to where two figures of this drawing are the same, mm."""
        return 2 * max(self.resolution, self.noise, self.fit)

    def says(self, d: FrameDimensions) -> str:
        """Trail and drop with what the drawing leaves of them, for every place that shows them."""
        return (
            f"Trail {d.trail:.2f} ± {max(self.trail, LEAST_SHOWN):.2g} mm, bottom bracket drop {d.bb_drop:.2f} ± "
            f"{max(self.drop, LEAST_SHOWN):.2g} mm"
        )


def resolution(curves: Sequence[Curve]) -> float:
    """Step between neighbouring numbers as the program wrote them, drawing units; 0 when they are full floats."""
    ends = [
        c.points[[0, -1]].ravel()
        for c in curves[:SAMPLE]
        if c.kind in ("line", "polyline") and len(c.points) <= FEW_VERTICES
    ]
    if not ends:
        return 0.0
    numbers = np.concatenate(ends)
    greatest = float(np.abs(numbers).max())
    if greatest == 0.0:
        return 0.0
    # programs either write a fixed number of decimals ...
    decimals = next(
        (10.0**-k for k in range(DECIMALS) if _multiples(numbers, np.full(len(numbers), 10.0**-k))),
        0.0,
    )
    # ... or of significant digits, whose step grows with the number
    sizes = 10.0 ** np.floor(np.log10(np.maximum(np.abs(numbers), 1e-300)))
    digits = next((n for n in DIGITS if _multiples(numbers, sizes * 10.0 ** (1 - n))), None)
    if digits is None:
        by_digits = 0.0
    else:
        by_digits = 10.0 ** (floor(log10(greatest)) + 1 - digits)
    return max(decimals, by_digits)


def grid(curves: Sequence[Curve], mm_per_unit: float) -> float:
    """Step of a workshop's grid that all ends lie on, drawing units; 0 when there is none.

    Looked for are 5, 2, 1 and 0.5 mm and 1/4 to 1/64 inch, wherever the grid begins.
    """
    ends = [c.points[[0, -1]] for c in curves[:SAMPLE] if len(c.points) <= FEW_VERTICES]
    if len(ends) < LEAST_ON_GRID:
        return 0.0
    points = np.vstack(ends)
    # differences, since a drawing pushed about keeps its grid but not its origin
    numbers = (points - points[0]).ravel() * mm_per_unit
    numbers = numbers[np.abs(numbers) > NOUGHT]
    on = (step for step in GRIDS if (_misfit(numbers / step) < ON_GRID).mean() >= NEARLY_ALL)
    return next(on, 0.0) / mm_per_unit


def _misfit(ratio: np.ndarray) -> np.ndarray:
    off: np.ndarray = np.abs(ratio - np.round(ratio))
    return off


def _multiples(numbers: np.ndarray, step: np.ndarray) -> bool:
    ratio = numbers / step
    return bool(
        (
            np.abs(ratio - np.round(ratio))
            < MULTIPLE * np.maximum(1.0, np.abs(ratio)) + MULTIPLE_LEAST
        ).mean()
        >= NEARLY_ALL
    )


def precision(
    m: Measured, gaps: Sequence[EndGap], stretch: Stretch | None = None, wobble: float = 0.0
) -> Precision:
    """Worst case: each end known to `error`, the axis's direction to error over its drawn length; a fork that misses
    the head tube's axis, or its own next piece, leaves the axis in doubt by as much. A stretched drawing adds what
    its stretch makes; a traced one is
    fitted through vertices, its lines are known to FITTED times the `wobble` (mm) of the single ones."""
    fit = (
        max(r.error for r in (m.labelled.reading.rear.tyre, m.labelled.reading.front.tyre))
        * m.labelled.pose.scale
    )
    # rounding moves a number by half a step at most; the floor keeps it from ever being 0
    error = max(m.noise, m.resolution / 2, FITTED * wobble, LEAST_ERROR)
    if m.front.astray:
        axle = max(error, *(miss for _, miss in m.front.astray), 0.0)
    else:
        axle = error
    baseline = m.axis.length
    # a line in doubt turns about its middle, so the axle's lever is counted from there
    middle = baseline / 2 - m.axis.along(m.front.at)
    if baseline:
        turned = 2 * error / baseline
    else:
        turned = 0.0
    # misses of a drawing at odds with itself add as squares; mere rounding at its worst, as a sum
    if m.noise > AT_ODDS:
        offset = error + hypot(axle, turned * middle)
    else:
        offset = error + turned * middle
    offset += max(
        (abs(g.along) for g in gaps if g.node in _AXIS_GAPS and abs(g.along) < SLOPPY), default=0.0
    )
    d = m.dimensions
    # by difference, as trail is not linear in the angle
    there = trail_of(d.head_angle, d.fork_offset, d.wheel_radius_front)
    angle = abs(
        trail_of(d.head_angle + np.degrees(turned), d.fork_offset, d.wheel_radius_front) - there
    )
    radius = abs(
        trail_of(d.head_angle, d.fork_offset, d.wheel_radius_front + fit + m.resolution) - there
    )
    slope = abs(trail_of(d.head_angle, d.fork_offset + offset, d.wheel_radius_front) - there)
    drop = 2 * error + max(
        (min(miss, MOST_ASTRAY) for n in (m.rear, m.bb) for _, miss in n.astray), default=0.0
    )
    trail = slope + angle + radius
    if stretch is not None:
        trail += stretch.trail(d)
        drop += drop_error(stretch, d)
    return Precision(
        trail=trail,
        drop=drop,
        resolution=m.resolution,
        noise=m.noise,
        fit=fit,
        snapped=max((abs(g.along) for g in gaps), default=0.0),
    )


def precision_findings(p: Precision, d: FrameDimensions) -> Iterator[Finding]:
    """A grid or rounding so coarse that it decides trail or drop to no better than a workshop measures."""
    if p.resolution >= COARSE:
        yield find(
            "coarse",
            "warning",
            f"all ends lie on a grid of {p.resolution:.4g} mm{_inch(p.resolution)}: trail is known to {p.trail:.2g} mm "
            f"({d.trail:.1f}), drop to {p.drop:.2g} mm ({d.bb_drop:.1f}); draw with the snap to the grid switched off",
        )


def _inch(step: float) -> str:
    parts = INCH / step
    return f" (1/{round(parts)} inch)" if abs(parts - round(parts)) < WHOLE_PARTS else ""
