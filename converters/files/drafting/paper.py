"""What the side view is drawn on, whatever it is made of: a DXF file, a picture, the report page.

The drawing names layers of the trade; each paper gives them its own look. Coordinates are mm, y up.
"""

from collections.abc import Iterable, Sequence
from typing import Protocol

from ....model.arrays import Array
from ....model.tubes.plan import TubeRole

Xy = Sequence[float] | Array
Flat = tuple[float, float]
OUTLINE = "_OUTLINE"  # ends the name of a tube's second layer


class Paper(Protocol):
    """The strokes and dimensions of a workshop drawing.

    `words` of a dimension carry <> where the measured value goes; `shift` moves them that far along the dimension
    line, out of the way of other line work.
    """

    def line(self, layer: str, start: Xy, end: Xy) -> None:
        """A straight line."""

    def polyline(self, layer: str, points: Iterable[Xy], closed: bool = False) -> None:
        """Straight lines from point to point."""

    def circle(self, layer: str, centre: Xy, radius: float) -> None:
        """A whole circle."""

    def arc(
        self, layer: str, centre: Xy, radius: float, start_angle: float, end_angle: float
    ) -> None:
        """Counter-clockwise from start to end angle, degrees; equal angles are a whole turn."""

    def distance(
        self, layer: str, words: str, p1: Xy, p2: Xy, base: Xy, angle: float, shift: float = 0.0
    ) -> None:
        """A linear dimension measured along `angle` degrees (0 or 90), its line running through `base`."""

    def aligned(
        self, layer: str, words: str, p1: Xy, p2: Xy, aside: float, shift: float = 0.0
    ) -> None:
        """A dimension along p1-p2, `aside` mm to the left of it (negative: right)."""

    def angle(
        self, layer: str, words: str, vertex: Xy, radius: float, start: float, end: float
    ) -> None:
        """An angular dimension, counter-clockwise from `start` to `end` degrees."""


def flat(point: Xy) -> Flat:
    """A point as two plain numbers."""
    return float(point[0]), float(point[1])


def layer_of(role: TubeRole) -> str:
    """The layer of a tube's centre-line; its outline lies on the same name with _OUTLINE."""
    if role.name == "fork_blade":
        return "FORK"
    return role.name.upper()
