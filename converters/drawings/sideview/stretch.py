"""A drawing stretched in one direction: both wheels are then the same slight ellipse.

Scans, exports fitted to a page and blocks inserted with two scales do that. A circle of radius r whose one direction
is drawn e too long is an ellipse with axes r and r (1 + e): about its fitted circle it strays by e r / 2 cos 2 (t - u)
to first order in e, with u the long direction.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, cos, degrees, hypot, radians, sin

import numpy as np

from ....model.geometry.dimensions import FrameDimensions, trail_of
from ..drawing import Drawing
from ..linework.pose import Site
from ..linework.rounds import Round

LEAST = 2e-4  # share; less is 0.07 mm on a wheel of 700 mm and 0.006 degrees
ALIKE = 0.25  # share of the stretch by which the two wheels may differ in it
REST = 0.5  # share of the ellipse's straying that may be left about it
LEAST_VERTICES = 12  # of a wheel: five fix an ellipse, the others tell whether it is one
SECOND_ORDER = 1.02  # what a stretch of 2 % leaves out of the first order
WIDE_TURN = 0.75  # of a circle, least, that tells an ellipse from a wrong centre


@dataclass(frozen=True)
class Stretch:
    """share: how much one direction is too long against the other; direction: of the long one, degrees in the drawing,
    -90 to 90; rough: what the wheels stray from the ellipse, drawing units."""

    share: float
    direction: float
    rough: float

    def trail(self, d: FrameDimensions) -> float:
        """How far trail may be off, mm: every length by the share, the head angle by what the share turns it."""
        # a line at angle a turns by e / 2 sin 2 a when one axis is e longer
        turned = degrees(self.share * abs(sin(2 * radians(d.head_angle))) / 2)
        there = trail_of(d.head_angle, d.fork_offset, d.wheel_radius_front)
        by_angle = trail_of(d.head_angle + turned, d.fork_offset, d.wheel_radius_front) - there
        head = radians(d.head_angle)
        # trail is (radius cos a - offset) / sin a; the worst case adds both lengths
        across = d.wheel_radius_front * cos(head) + abs(d.fork_offset)
        return abs(by_angle) + self.share * across / sin(head)

    @property
    def angle(self) -> float:
        """Most that an angle is off, degrees: half the share, for a line at 45 degrees to the long direction."""
        return degrees(self.share / 2)


def stretch_of(drawing: Drawing, wheels: Sequence[Site]) -> Stretch | None:
    """The stretch that both wheels show alike; None where they are round, or stray otherwise."""
    shown = [_ellipse(drawing, site.tyre) for site in wheels]
    waves = [s for s in shown if s is not None]
    if len(waves) < len(wheels):
        return None
    a, rest_a = waves[0]
    b, rest_b = waves[-1]
    # as complex numbers: size and direction of both wheels' stretch are averaged at once
    mean = (a + b) / 2
    # the second wave has half the stretch as its height
    share = 2 * abs(mean)
    rest = max(rest_a, rest_b)
    if share < LEAST or abs(a - b) > ALIKE * abs(mean) or rest > REST * abs(mean):
        return None
    # the wave runs at twice the angle
    direction = degrees(atan2(mean.imag, mean.real)) / 2
    return Stretch(share, direction, rest * max(site.tyre.radius for site in wheels))


def _ellipse(drawing: Drawing, tyre: Round) -> tuple[complex, float] | None:
    """Amplitude of the second wave about the circle as a share of its radius, as a complex number, and what is left."""
    if tyre.error == 0.0 or tyre.coverage < WIDE_TURN:
        return None
    points = np.vstack([drawing.curves[i].points for i in tyre.curves])
    if len(points) < LEAST_VERTICES:
        return None
    x, y = (points - np.array(tyre.centre)).T
    turn = np.arctan2(y, x)
    off = np.hypot(x, y) / tyre.radius - 1.0
    # first wave: a centre a little off; constant: a radius a little off; neither is a stretch
    waves = np.column_stack(
        [np.cos(2 * turn), np.sin(2 * turn), np.cos(turn), np.sin(turn), np.ones_like(turn)]
    )
    found = np.linalg.lstsq(waves, off, rcond=None)[0]
    rest = float(np.abs(off - waves @ found).max())
    return complex(found[0], found[1]), rest


def drop_error(stretch: Stretch, d: FrameDimensions) -> float:
    """How far the drop may be off, mm: its own share, the chainstay turned where the long way lies askew, and the
    ground that unequal wheels lay."""
    askew = abs(sin(2 * radians(stretch.direction))) * hypot(d.chainstay, d.bb_drop) / 2
    unequal = abs(d.wheel_radius_front - d.wheel_radius_rear)
    return SECOND_ORDER * stretch.share * (abs(d.bb_drop) + askew + unequal)
