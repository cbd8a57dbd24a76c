"""The strokes of the DXF drawing put into the page's SVG: the page's colours by class names."""

from math import cos, hypot, radians, sin

from ...files.drafting.paper import Flat
from ...files.drafting.sketch import Sketch
from .svg import arrow, path, text

HEAD = 16.0  # mm, arrow heads
ABOVE = 8.0  # mm: words above their line
_CLASSES = {"part": "outline", "rim": "wheel"}  # kinds that look like another on the page


class SvgPaper(Sketch):
    """Collects SVG shapes, mm with y up; what a stroke shows becomes its class."""

    def __init__(self) -> None:
        self.shapes: list[str] = []

    def stroke(self, kind: str, points: list[Flat]) -> None:
        self.shapes.append(path(points, _CLASSES.get(kind, kind)))

    def arrow(self, start: Flat, end: Flat) -> None:
        x1, y1 = start
        x2, y2 = end
        middle = ((x1 + x2) / 2, (y1 + y2) / 2)
        head = min(HEAD, hypot(x2 - x1, y2 - y1) / 3)
        # two arrows from the middle: SVG has no double head of its own
        self.shapes += [arrow(middle, tip, "dim", head) for tip in (start, end)]

    def words(self, words: str, at: Flat, turn: float = 0.0, beside: bool = False) -> None:
        if beside:
            above = 0.0
        else:
            above = ABOVE
        raised = at[0] - above * sin(radians(turn)), at[1] + above * cos(radians(turn))
        self.shapes.append(text(raised, words, "dim-words", "end" if beside else "middle", turn))
