"""A drawing in doubt as a picture for the page: its lines thin, those to choose between as groups that take a click."""

from collections.abc import Iterable, Sequence

import numpy as np

from ....model.arrays import Array
from ...drawings.drawing import Curve, Drawing
from .svg import path, picture

WIDTH = 1000.0  # units of the picture's own: a drawing may be in metres, and the page's numbers have one decimal
MARGIN = 20.0
MOST = 6000  # curves; more would make the page slow, and the lines in doubt are drawn in any case


def doubt_picture(
    drawing: Drawing, options: Sequence[Iterable[str]], doubtful: Iterable[str] = ()
) -> str:
    """Inline SVG. options : for each way to settle it, the handles of its lines, joined by commas where several, or a
    length that no line shows. doubtful : handles of the lines in doubt; those of no option stand out as well.

    Group k carries ``data-option="k"``; that of a length is empty and takes no click.
    """
    points = np.vstack([curve.points for curve in drawing.curves])
    low = points.min(axis=0)
    size = np.maximum(np.ptp(points, axis=0), 1e-9)
    scale = (WIDTH - 2 * MARGIN) / float(size.max())

    def drawn(curve: Curve, kind: str) -> str:
        placed: Array = MARGIN + (curve.points - low) * scale
        return path([(float(x), float(y)) for x, y in placed], kind)

    wanted = [set(",".join(handles).split(",")) for handles in options]
    shapes = [drawn(curve, "thin") for curve in drawing.curves[:MOST]]
    bare = set(doubtful).difference(*wanted)
    shapes += [drawn(curve, "doubtful") for curve in drawing.curves if curve.handle in bare]
    for number, own in enumerate(wanted):
        held = [curve for curve in drawing.curves if curve.handle in own]
        if not held:
            shapes.append(f'<g class="option" data-option="{number}"></g>')
            continue
        # the wide line that does not show takes the click: a finger is wider than a pencil
        lines = [drawn(curve, kind) for kind in ("hit", "line") for curve in held]
        shapes.append(
            f'<g class="option" data-option="{number}" role="button" tabindex="0" '
            f'aria-label="take this one, choice {number + 1}">{"".join(lines)}</g>'
        )
    width, height = size * scale + 2 * MARGIN
    words = "The drawing; the lines to choose between stand out."
    return picture(shapes, (0.0, 0.0), (float(width), float(height)), words)
