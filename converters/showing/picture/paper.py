"""The strokes of the DXF drawing put on a matplotlib figure: the look of a workshop print."""

from math import cos, radians, sin
from typing import TYPE_CHECKING, Any

from ...files.drafting.paper import Flat
from ...files.drafting.sketch import Sketch
from .style import BLUE, FAINT, GREY, INK, PAPER, SMALL

if TYPE_CHECKING:
    from matplotlib.axes import Axes

THIN = 0.6
MIDDLE = 0.9
THICK = 1.5
DASH_DOT = (0, (9, 2.5, 1.5, 2.5))
DASHED = (0, (4, 3))
EDGE = 0.02  # of the picture's width that no words reach into
LIFT = 2.5  # points between a dimension line and its words
# Kind of stroke -> colour, width and dashes.
STROKES: dict[str, tuple[str, float, Any]] = {
    "outline": (INK, THICK, "-"),
    "part": (INK, MIDDLE, "-"),
    "wheel": (GREY, MIDDLE, "-"),
    "rim": (GREY, THIN, "-"),
    "axis": (BLUE, THIN, DASHED),
    "centre": (GREY, THIN, DASH_DOT),
    "dim": (BLUE, THIN, "-"),
    "help": (FAINT, THIN, "-"),
}


class PicturePaper(Sketch):
    """Draws on matplotlib axes in mm."""

    wider = 1.3  # the letters of the DXF are larger
    narrow = 120.0

    def __init__(self, axes: "Axes") -> None:
        self.axes = axes
        # equal scales: a drawing pressed to one side would lie about its angles
        axes.set_aspect("equal")
        axes.axis("off")

    def stroke(self, kind: str, points: list[Flat]) -> None:
        colour, width, dashes = STROKES[kind]
        self.axes.plot(
            *zip(*points, strict=True),
            color=colour,
            linewidth=width,
            linestyle=dashes,
            solid_capstyle="round",
            solid_joinstyle="round",
        )

    def make_room(self) -> None:
        """Widen the view where words stick out of it: on a long bicycle letters are large beside the drawing."""
        axes = self.axes
        # words keep their size when the scale shrinks, so once is not quite enough
        for _ in range(3):
            axes.figure.canvas.draw()
            boxes = [text.get_window_extent() for text in axes.texts if text.get_text()]
            room = axes.figure.bbox.padded(-EDGE * axes.figure.bbox.width)
            outside = [box for box in boxes if box.x0 < room.x0 or box.x1 > room.x1]
            if not outside:
                return
            to_mm = axes.transData.inverted()
            for box in outside:
                axes.update_datalim(to_mm.transform(box.get_points()))
            axes.autoscale_view()

    def arrow(self, start: Flat, end: Flat) -> None:
        self.axes.annotate(
            "",
            end,
            start,
            annotation_clip=False,
            arrowprops={
                "arrowstyle": "<|-|>,head_length=0.5,head_width=0.16",
                "color": BLUE,
                "linewidth": THIN,
                "shrinkA": 0,
                "shrinkB": 0,
                "mutation_scale": 10,
            },
        )

    def words(self, words: str, at: Flat, turn: float = 0.0, beside: bool = False) -> None:
        if beside:
            lift = 0.0
        else:
            lift = LIFT
        if beside:
            # room for them on the sheet
            self.axes.plot(at[0] - 1.5 * self.narrow, at[1], alpha=0.0)
        self.axes.annotate(
            words,
            at,
            (-lift * sin(radians(turn)), lift * cos(radians(turn))),
            # lifted across the line as it runs, so that the words stand on it
            textcoords="offset points",
            rotation=turn,
            rotation_mode="anchor",
            ha="right" if beside else "center",
            va="center" if beside else "bottom",
            fontsize=SMALL,
            color=BLUE,
            annotation_clip=False,
            zorder=5,
            bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.3, "alpha": 0.8},
        )
