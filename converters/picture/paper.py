"""The strokes of the DXF drawing put on a matplotlib figure: the same calls, the look of a workshop print."""

from collections.abc import Iterable
from math import atan2, cos, degrees, hypot, radians, sin
from typing import TYPE_CHECKING, Any

import numpy as np

from converters.draw.paper import LEFT, RIGHT, Xy

from .style import BLUE, FAINT, GREY, INK, PAPER, SMALL

if TYPE_CHECKING:
    from matplotlib.axes import Axes

THIN, MIDDLE, THICK = 0.6, 0.9, 1.5
DASH_DOT = (0, (9, 2.5, 1.5, 2.5))
DASHED = (0, (4, 3))
WIDER = 1.3  # dimension lines along tubes stand that much farther off than in the DXF, whose letters are smaller
NARROW = 120.0  # mm; an upright dimension shorter than this has its words beside it
LIFT = 2.5  # points between a dimension line and its words
GAP = 8.0  # mm between an object and the extension line of its dimension
BEYOND = 7.0  # mm by which an extension line passes the dimension line


def _style(layer: str) -> tuple[str, float, Any]:
    """Colour, width and dashes of a layer."""
    if layer.endswith("_OUTLINE") or layer in ("BB_SHELL", "HEADSET", "DROPOUT", "AXLE"):
        return INK, THICK if layer.endswith("_OUTLINE") else MIDDLE, "-"
    if layer.startswith("WHEEL") or layer == "GROUND":
        return GREY, MIDDLE, "-"
    if layer in ("RIM", "CONSTRUCTION"):
        return GREY if layer == "RIM" else BLUE, THIN, "-" if layer == "RIM" else DASHED
    return GREY, THIN, DASH_DOT


class PicturePaper:
    """Draws on matplotlib axes in mm. Same methods as `paper.Paper`."""

    def __init__(self, axes: "Axes") -> None:
        self.axes = axes
        axes.set_aspect("equal")
        axes.axis("off")

    def line(self, layer: str, start: Xy, end: Xy) -> None:
        self.polyline(layer, (start, end))

    def polyline(self, layer: str, points: Iterable[Xy], closed: bool = False) -> None:
        flat = [(float(p[0]), float(p[1])) for p in points]
        xy = np.array([*flat, flat[0]] if closed else flat)
        colour, width, dashes = _style(layer)
        self.axes.plot(xy[:, 0], xy[:, 1], color=colour, linewidth=width, linestyle=dashes,
                       solid_capstyle="round", solid_joinstyle="round")

    def circle(self, layer: str, centre: Xy, radius: float) -> None:
        self.arc(layer, centre, radius, 0.0, 360.0)

    def arc(self, layer: str, centre: Xy, radius: float, start_angle: float, end_angle: float) -> None:
        """Counter-clockwise from start to end angle, degrees."""
        span = (end_angle - start_angle) % 360 or 360.0
        turn = np.radians(np.linspace(start_angle, start_angle + span, 181))
        self.polyline(layer, np.column_stack([centre[0] + radius * np.cos(turn), centre[1] + radius * np.sin(turn)]))

    def text(self, layer: str, words: str, at: Xy, height: float = 0.0, align: str = LEFT,
             rotation: float = 0.0) -> None:
        side = {LEFT: "left", RIGHT: "right"}.get(align, "center")
        self.axes.text(at[0], at[1], words, ha=side, va="center", rotation=rotation, fontsize=SMALL, color=INK)

    # --- dimensions: `words` carries <> where the measured value goes ------------------------------------
    def distance(self, layer: str, words: str, p1: Xy, p2: Xy, base: Xy, angle: float, shift: float = 0.0) -> None:
        """A linear dimension measured along `angle` degrees (0 or 90), its line running through `base`."""
        ends = ((base[0], p1[1]), (base[0], p2[1])) if angle == 90 else ((p1[0], base[1]), (p2[0], base[1]))
        self._dimension(words, (p1, p2), ends, shift)

    def aligned(self, layer: str, words: str, p1: Xy, p2: Xy, aside: float, shift: float = 0.0) -> None:
        """A dimension along p1-p2, `aside` mm to the left of it (negative: right)."""
        scale = WIDER * aside / hypot(p2[0] - p1[0], p2[1] - p1[1])
        x, y = -(p2[1] - p1[1]) * scale, (p2[0] - p1[0]) * scale
        self._dimension(words, (p1, p2), ((p1[0] + x, p1[1] + y), (p2[0] + x, p2[1] + y)), shift)

    def angle(self, layer: str, words: str, vertex: Xy, radius: float, start: float, end: float) -> None:
        """An angular dimension, counter-clockwise from `start` to `end` degrees."""
        turn = np.radians(np.linspace(start, end, 40))
        x, y = vertex[0] + radius * np.cos(turn), vertex[1] + radius * np.sin(turn)
        self.axes.plot(x, y, color=BLUE, linewidth=THIN)
        for limit in (start, end):
            way = cos(radians(limit)), sin(radians(limit))
            self._stroke([(vertex[0] + r * way[0], vertex[1] + r * way[1]) for r in (0.0, radius + BEYOND)])
        middle = radians((start + end) / 2)
        self._words(words.replace("<>", f"{end - start:.1f}°"), (vertex[0] + (radius + 12) * cos(middle),
                                                                vertex[1] + (radius + 12) * sin(middle)), 0.0, "right")

    def _dimension(self, words: str, points: tuple[Xy, Xy], ends: tuple[Xy, Xy], shift: float) -> None:
        (x1, y1), (x2, y2) = ends
        length = hypot(x2 - x1, y2 - y1)
        for point, end in zip(points, ends, strict=True):
            self._extension(point, end)
        self.axes.annotate("", (x2, y2), (x1, y1), annotation_clip=False, arrowprops={
            "arrowstyle": "<|-|>,head_length=0.5,head_width=0.16", "color": BLUE, "linewidth": THIN, "shrinkA": 0,
            "shrinkB": 0, "mutation_scale": 10})
        turn = degrees(atan2(y2 - y1, x2 - x1))
        words = words.replace("<>", f"{length:.1f}")
        if abs(abs(turn) - 90) < 1 and length < NARROW:
            self._words(words, (x1 - BEYOND, (y1 + y2) / 2), 0.0, "right", "center")
            self.axes.plot(x1 - 1.5 * NARROW, y1, alpha=0.0)  # room for them on the sheet
            return
        sign = -1.0 if turn > 90 + 1e-9 or turn <= -90 + 1e-9 else 1.0  # read from below or from the right
        reach = sign * shift / length
        at = (x1 + x2) / 2 + reach * (x2 - x1), (y1 + y2) / 2 + reach * (y2 - y1)
        if abs(shift) > length / 2:
            self._stroke([((x1 + x2) / 2, (y1 + y2) / 2), at])
        self._words(words, at, turn if sign > 0 else turn - 180)

    def _extension(self, point: Xy, end: Xy) -> None:
        reach = hypot(end[0] - point[0], end[1] - point[1])
        if reach > GAP:
            way = (end[0] - point[0]) / reach, (end[1] - point[1]) / reach
            self._stroke([(point[0] + r * way[0], point[1] + r * way[1]) for r in (GAP, reach + BEYOND)])

    def _stroke(self, points: Iterable[Xy]) -> None:
        xy = np.array([(float(p[0]), float(p[1])) for p in points])
        self.axes.plot(xy[:, 0], xy[:, 1], color=FAINT, linewidth=THIN)

    def _words(self, words: str, at: Xy, turn: float, side: str = "center", level: str = "bottom") -> None:
        lift = LIFT if level == "bottom" else 0.0
        self.axes.annotate(words, (at[0], at[1]), (-lift * sin(radians(turn)), lift * cos(radians(turn))),
                           textcoords="offset points", rotation=turn, rotation_mode="anchor", ha=side, va=level,
                           fontsize=SMALL, color=BLUE, annotation_clip=False, zorder=5,
                           bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.3, "alpha": 0.8})
