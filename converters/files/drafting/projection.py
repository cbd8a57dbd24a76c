"""How a frame in space comes onto a flat page: where the eye is, how much larger movement is drawn, how words run.

Used alike by the pictures and by the report, so that both show one case the same way.
"""

from dataclasses import dataclass
from math import floor, log10

import numpy as np

from ....model.arrays import Array
from ....model.geometry.dimensions import FrameDimensions

LARGEST_MOTION = 0.05  # of the frame's size: how far a drawn movement goes at most


@dataclass(frozen=True, eq=False)
class Camera:
    """A parallel projection: unit vectors to the right and up on the page, and out of the page to the eye."""

    right: Array
    up: Array
    out: Array

    @classmethod
    def at(cls, x: float, y: float, z: float) -> "Camera":
        """Seen from the direction (x, y, z), the bicycle's up drawn upwards."""
        out = np.array([x, y, z]) / np.linalg.norm([x, y, z])
        # the page's up is the bicycle's: only the direction of looking is free
        right = np.cross((0.0, 1.0, 0.0), out)
        right /= np.linalg.norm(right)
        return cls(right, np.cross(out, right), out)

    def flat(self, points: Array) -> Array:
        """(n, 2) places on the page of (n, 3) points, (2,) of one."""
        return np.asarray(points @ np.column_stack([self.right, self.up]))


FROM_SIDE = Camera.at(0.0, 0.0, 1.0)
# the front to the right, the rider's right towards the reader
FROM_ABOVE = Camera(
    np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, -1.0]), np.array([0.0, 1.0, 0.0])
)


def wheels(d: FrameDimensions) -> list[tuple[float, float, float]]:
    """Centre and radius of both tyres in the frame's plane, rear and front, mm."""
    return [
        (axle.x, axle.y, radius)
        for axle, radius in (
            (d.rear_axle, d.wheel_radius_rear),
            (d.front_axle, d.wheel_radius_front),
        )
    ]


def wheel_ring(x: float, y: float, radius: float, *, sides: int = 120) -> Array:
    """(sides + 1, 3) points round a tyre in the frame's plane."""
    turn = np.linspace(0, 2 * np.pi, sides + 1)
    return np.column_stack([x + radius * np.cos(turn), y + radius * np.sin(turn), 0 * turn])


def magnification(size: float, largest: float) -> float:
    """How many times larger movement is drawn: 1, 2 or 5 times a power of ten, so that it is plain to see.

    size : of the frame. largest : movement, in the same unit; without any the factor is 1.
    """
    # nothing moves: any factor would be as good, and 1 is no surprise
    if largest <= 0:
        return 1.0
    wanted = LARGEST_MOTION * size / largest
    ten = 10.0 ** floor(log10(wanted))
    return max(step * ten for step in (1, 2, 5) if step * ten <= wanted * (1 + 1e-7))


def readable(turn: float) -> float:
    """The angle, degrees, at which words along a line can be read from below or from the right (ISO 129-1)."""
    # into the half circle first, whatever turn the caller worked out
    turn = (turn + 180.0) % 360.0 - 180.0
    # exactly upright stays, and is read from the right
    if turn > 90.0 + 1e-9:
        return turn - 180.0
    if turn <= -90.0 + 1e-9:
        return turn + 180.0
    return turn
