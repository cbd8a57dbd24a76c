"""SVG text by hand: the few shapes the report's pictures need, in page colours, with every text escaped.

Shapes carry class names; the page's style sheet gives them their colours, so that they follow light, dark and print.
Coordinates are mm with y up, as in the model; `picture` turns y down.
"""

from collections.abc import Iterable, Sequence
from math import hypot

from markupsafe import escape

from ...files.drafting.paper import Flat


def picture(shapes: Iterable[str], low: Flat, high: Flat, words: str) -> str:
    """An inline SVG over the box low..high; `words` say what it shows to those who cannot see it."""
    width = high[0] - low[0]
    height = high[1] - low[1]
    return (
        # y turned: the model's runs up, the page's down
        f'<svg viewBox="{low[0]:.0f} {-high[1]:.0f} {width:.0f} {height:.0f}" role="img" '
        f'aria-label="{escape(words)}">{"".join(shapes)}</svg>'
    )


def line(a: Flat, b: Flat, kind: str, width: float | None = None, colour: str = "") -> str:
    return path((a, b), kind, width, colour)


def path(points: Sequence[Flat], kind: str, width: float | None = None, colour: str = "") -> str:
    """A polyline; `width` in mm, else the style sheet's."""
    d = "L".join(f"{_short(x)} {_short(-y)}" for x, y in points)
    style = ("" if width is None else f' stroke-width="{_short(width)}"') + (
        f' stroke="{colour}"' if colour else ""
    )
    return f'<path class="{kind}" d="M{d}"{style}/>'


def group(shapes: str, shift: Sequence[float]) -> str:
    """Shapes in another place on the page."""
    if not (shift[0] or shift[1]):
        return shapes
    return f'<g transform="translate({_short(shift[0])} {_short(-shift[1])})">{shapes}</g>'


def circle(centre: Flat, radius: float, kind: str) -> str:
    return f'<circle class="{kind}" cx="{_short(centre[0])}" cy="{_short(-centre[1])}" r="{_short(radius)}"/>'


def text(at: Flat, words: str, kind: str = "", anchor: str = "middle", turn: float = 0.0) -> str:
    """Words centred on (or beginning or ending at) a point, turned anticlockwise by so many degrees."""
    x = _short(at[0])
    y = _short(-at[1])
    if turn:
        turned = f' transform="rotate({-turn:.1f} {x} {y})"'
    else:
        turned = ""
    # escaped here, where every text passes: a name could hold mark-up
    return f'<text class="{kind}" x="{x}" y="{y}" text-anchor="{anchor}"{turned}>{escape(words)}</text>'


def arrow(tail: Flat, tip: Flat, kind: str, head: float) -> str:
    """A line with a filled head of the given length at `tip`; nothing when seen end on."""
    length = hypot(tip[0] - tail[0], tip[1] - tail[1])
    # shorter than its own head, an arrow is a dot
    if length < head / 4:
        return circle(tip, head / 3, f"{kind} head")
    ux = (tip[0] - tail[0]) / length
    uy = (tip[1] - tail[1]) / length
    foot = (tip[0] - head * ux, tip[1] - head * uy)
    # a triangle of its own: an SVG marker would not take the colour of its line
    corners = (
        (tip[0], tip[1]),
        (foot[0] - uy * head / 3, foot[1] + ux * head / 3),
        (foot[0] + uy * head / 3, foot[1] - ux * head / 3),
    )
    d = "L".join(f"{_short(x)} {_short(-y)}" for x, y in corners)
    return line(tail, foot, kind) + f'<path class="{kind} head" d="M{d}Z"/>'


def _short(value: float) -> str:
    """One decimal of a millimetre: finer than any screen shows."""
    return f"{value + 0.0:.1f}".removesuffix(".0")
