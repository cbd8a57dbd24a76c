"""The side view on a paper to look at: the geometry of strokes and dimensions, drawn by three strokes of the pen.

A kind of paper says how a stroke, a dimension line and its words look; where they go is worked out here. The DXF
drawing has dimensions of its own (`dxf_paper`).
"""

from abc import ABC, abstractmethod
from collections.abc import Iterable
from math import atan2, cos, degrees, hypot, radians, sin

import numpy as np

from .paper import Flat, Xy, flat
from .projection import readable

STEP = 3.0  # degrees between the corners of a drawn arc
GAP = 8.0  # mm between an object and the extension line of its dimension
BEYOND = 7.0  # mm by which an extension line passes the dimension line


def kind_of(layer: str) -> str:
    """What a layer's strokes show: outline, part, wheel, rim, axis or centre."""
    if layer.endswith("_OUTLINE"):
        return "outline"
    if layer in ("BB_SHELL", "HEADSET", "DROPOUT", "AXLE"):
        return "part"
    if layer.startswith("WHEEL") or layer == "GROUND":
        return "wheel"
    return {"RIM": "rim", "CONSTRUCTION": "axis"}.get(layer, "centre")


class Sketch(ABC):
    """A paper of straight strokes and words; same methods as `Paper`.

    wider : dimension lines along tubes stand so many times farther off than in the DXF. narrow : mm; an upright
    dimension shorter than this has its words beside it.
    """

    wider = 1.0
    narrow = 0.0

    # --- the pen --------------------------------------------------------------------------------------------
    @abstractmethod
    def stroke(self, kind: str, points: list[Flat]) -> None:
        """A run of straight pieces: a kind of `kind_of`, ``dim`` for a dimension's arc, ``help`` for its thin lines."""

    @abstractmethod
    def arrow(self, start: Flat, end: Flat) -> None:
        """A dimension line with a head at both ends."""

    @abstractmethod
    def words(self, words: str, at: Flat, turn: float = 0.0, beside: bool = False) -> None:
        """Words above the point, turned by so many degrees; `beside`: ending at the point."""

    # --- strokes --------------------------------------------------------------------------------------------
    def line(self, layer: str, start: Xy, end: Xy) -> None:
        self.polyline(layer, (start, end))

    def polyline(self, layer: str, points: Iterable[Xy], closed: bool = False) -> None:
        run = [flat(p) for p in points]
        # closed by its first point again, since a stroke is an open run
        self.stroke(kind_of(layer), [*run, run[0]] if closed else run)

    def circle(self, layer: str, centre: Xy, radius: float) -> None:
        self.arc(layer, centre, radius, 0.0, 360.0)

    def arc(
        self, layer: str, centre: Xy, radius: float, start_angle: float, end_angle: float
    ) -> None:
        # equal angles are a whole turn, not nothing
        span = (end_angle - start_angle) % 360 or 360.0
        self.stroke(kind_of(layer), _arc(centre, radius, start_angle, start_angle + span))

    # --- dimensions -----------------------------------------------------------------------------------------
    def distance(
        self, layer: str, words: str, p1: Xy, p2: Xy, base: Xy, angle: float, shift: float = 0.0
    ) -> None:
        x1, y1 = flat(p1)
        x2, y2 = flat(p2)
        x, y = flat(base)
        # 0 and 90 only: an oblique one is `aligned`
        if angle == 90:
            ends = ((x, y1), (x, y2))
        else:
            ends = ((x1, y), (x2, y))
        self._dimension(words, ((x1, y1), (x2, y2)), ends, shift)

    def aligned(
        self, layer: str, words: str, p1: Xy, p2: Xy, aside: float, shift: float = 0.0
    ) -> None:
        x1, y1 = flat(p1)
        x2, y2 = flat(p2)
        # to the left of p1 -> p2, as the other papers count it
        scale = self.wider * aside / hypot(x2 - x1, y2 - y1)
        x = -(y2 - y1) * scale
        y = (x2 - x1) * scale
        self._dimension(words, ((x1, y1), (x2, y2)), ((x1 + x, y1 + y), (x2 + x, y2 + y)), shift)

    def angle(
        self, layer: str, words: str, vertex: Xy, radius: float, start: float, end: float
    ) -> None:
        self.stroke("dim", _arc(vertex, radius, start, end))
        # the extension lines run a little beyond the arc that they end at
        for limit in (start, end):
            self.stroke("help", [flat(vertex), _round(vertex, radius + BEYOND, limit)])
        at = _round(vertex, radius + 12, (start + end) / 2)
        self.words(words.replace("<>", f"{end - start:.1f}°"), at, beside=True)

    def _dimension(
        self, words: str, points: tuple[Flat, Flat], ends: tuple[Flat, Flat], shift: float
    ) -> None:
        (x1, y1), (x2, y2) = ends
        length = hypot(x2 - x1, y2 - y1)
        middle = ((x1 + x2) / 2, (y1 + y2) / 2)
        # the measured value is worked out here: this paper has no dimension of its own
        words = words.replace("<>", f"{length:.1f}")
        for point, end in zip(points, ends, strict=True):
            self._extension(point, end)
        self.arrow(*ends)
        turn = readable(degrees(atan2(y2 - y1, x2 - x1)))
        # an upright dimension shorter than its own words would be run over by them
        if abs(abs(turn) - 90) < 1 and length < self.narrow:
            self.words(words, (middle[0] - BEYOND, middle[1]), beside=True)
            return
        at = _round(middle, shift, turn)
        # drawn out to words that were shifted off the line
        if abs(shift) > length / 2:
            self.stroke("help", [middle, at])
        self.words(words, at, turn)

    def _extension(self, point: Flat, end: Flat) -> None:
        reach = hypot(end[0] - point[0], end[1] - point[1])
        # an object as near as this has no extension line to draw
        if reach > GAP:
            turn = degrees(atan2(end[1] - point[1], end[0] - point[0]))
            self.stroke("help", [_round(point, r, turn) for r in (GAP, reach + BEYOND)])


def _arc(centre: Xy, radius: float, start: float, end: float) -> list[Flat]:
    return [
        _round(centre, radius, float(turn))
        # two points at least, so that a very short arc is still a line
        for turn in np.linspace(start, end, 2 + int((end - start) / STEP))
    ]


def _round(centre: Xy, radius: float, turn: float) -> Flat:
    """The point that far from the centre in the direction of `turn` degrees."""
    return float(centre[0]) + radius * cos(radians(turn)), float(centre[1]) + radius * sin(
        radians(turn)
    )
