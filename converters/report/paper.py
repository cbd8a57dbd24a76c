"""The strokes of the DXF drawing put into the page's SVG: the same calls, the page's colours."""

from collections.abc import Iterable
from math import atan2, cos, degrees, hypot, radians, sin

import numpy as np

from converters.draw.paper import LEFT, RIGHT, Xy

from .svg import Flat, arrow, line, path, text

HEAD = 16.0  # mm, arrow heads
GAP, BEYOND = 8.0, 7.0  # mm: object to extension line, extension line past the dimension line
ABOVE = 8.0  # mm: words above their line


class SvgPaper:
    """Collects SVG shapes, mm with y up. Same methods as `paper.Paper`; the layer becomes the class."""

    def __init__(self) -> None:
        self.shapes: list[str] = []

    def line(self, layer: str, start: Xy, end: Xy) -> None:
        self.polyline(layer, (start, end))

    def polyline(self, layer: str, points: Iterable[Xy], closed: bool = False) -> None:
        flat = [_flat(p) for p in points]
        self.shapes.append(path([*flat, flat[0]] if closed else flat, _kind(layer)))

    def circle(self, layer: str, centre: Xy, radius: float) -> None:
        self.arc(layer, centre, radius, 0.0, 360.0)

    def arc(self, layer: str, centre: Xy, radius: float, start_angle: float, end_angle: float) -> None:
        """Counter-clockwise from start to end angle, degrees."""
        span = (end_angle - start_angle) % 360 or 360.0
        turn = np.radians(np.linspace(start_angle, start_angle + span, 2 + int(span / 5)))
        self.polyline(layer, np.column_stack([centre[0] + radius * np.cos(turn), centre[1] + radius * np.sin(turn)]))

    def text(self, layer: str, words: str, at: Xy, height: float = 0.0, align: str = LEFT,
             rotation: float = 0.0) -> None:
        side = {LEFT: "start", RIGHT: "end"}.get(align, "middle")
        self.shapes.append(text(_flat(at), words, "dim-words", side, rotation))

    # --- dimensions: `words` carries <> where the measured value goes ------------------------------------
    def distance(self, layer: str, words: str, p1: Xy, p2: Xy, base: Xy, angle: float, shift: float = 0.0) -> None:
        """A linear dimension measured along `angle` degrees (0 or 90), its line running through `base`."""
        ends = ((base[0], p1[1]), (base[0], p2[1])) if angle == 90 else ((p1[0], base[1]), (p2[0], base[1]))
        self._dimension(words, (_flat(p1), _flat(p2)), ends, shift)

    def aligned(self, layer: str, words: str, p1: Xy, p2: Xy, aside: float, shift: float = 0.0) -> None:
        """A dimension along p1-p2, `aside` mm to the left of it (negative: right)."""
        length = hypot(p2[0] - p1[0], p2[1] - p1[1])
        x, y = -(p2[1] - p1[1]) / length * aside, (p2[0] - p1[0]) / length * aside
        self._dimension(words, (_flat(p1), _flat(p2)), ((p1[0] + x, p1[1] + y), (p2[0] + x, p2[1] + y)), shift)

    def angle(self, layer: str, words: str, vertex: Xy, radius: float, start: float, end: float) -> None:
        """An angular dimension, counter-clockwise from `start` to `end` degrees."""
        self.shapes.append(path(_round(vertex, radius, np.linspace(start, end, 24)), "dim"))
        for limit in (start, end):
            self.shapes.append(path(_round(vertex, (0.0, radius + BEYOND), np.full(2, limit)), "help"))
        (at,) = _round(vertex, radius + 14, np.array([(start + end) / 2]))
        self.shapes.append(text(at, words.replace("<>", f"{end - start:.1f}°"), "dim-words", "end"))

    def _dimension(self, words: str, points: tuple[Flat, Flat], ends: tuple[Flat, Flat], shift: float) -> None:
        (x1, y1), (x2, y2) = ends
        length = hypot(x2 - x1, y2 - y1)
        for point, end in zip(points, ends, strict=True):
            self._extension(point, end)
        middle = (x1 + x2) / 2, (y1 + y2) / 2
        self.shapes += [arrow(middle, end, "dim", min(HEAD, length / 3)) for end in ends]
        turn = degrees(atan2(y2 - y1, x2 - x1))
        readable = turn - 180 if turn > 90 + 1e-9 else turn + 180 if turn <= -90 + 1e-9 else turn
        along = cos(radians(readable)), sin(radians(readable))
        at = middle[0] + shift * along[0], middle[1] + shift * along[1]
        if abs(shift) > length / 2:
            self.shapes.append(line(middle, at, "help"))
        raised = at[0] - ABOVE * along[1], at[1] + ABOVE * along[0]
        self.shapes.append(text(raised, words.replace("<>", f"{length:.1f}"), "dim-words", turn=readable))

    def _extension(self, point: Flat, end: Flat) -> None:
        reach = hypot(end[0] - point[0], end[1] - point[1])
        if reach > GAP:
            way = (end[0] - point[0]) / reach, (end[1] - point[1]) / reach
            a, b = ((point[0] + r * way[0], point[1] + r * way[1]) for r in (GAP, reach + BEYOND))
            self.shapes.append(line(a, b, "help"))


def _kind(layer: str) -> str:
    """Class of a layer's strokes."""
    if layer.endswith("_OUTLINE") or layer in ("BB_SHELL", "HEADSET", "DROPOUT", "AXLE"):
        return "outline"
    if layer.startswith(("WHEEL", "GROUND", "RIM")):
        return "wheel"
    return "axis" if layer == "CONSTRUCTION" else "centre"


def _flat(p: Xy) -> Flat:
    return float(p[0]), float(p[1])


def _round(vertex: Xy, radius: float | tuple[float, float], turn: np.ndarray) -> list[Flat]:
    angle = np.radians(turn)
    xy = np.column_stack([vertex[0] + radius * np.cos(angle), vertex[1] + radius * np.sin(angle)])
    return [(float(x), float(y)) for x, y in xy]
