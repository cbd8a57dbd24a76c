"""Frames over one another on a page: their centre-lines in the page's own colours, with a key of their names."""

from collections.abc import Sequence

import numpy as np
from markupsafe import escape

from ....model.frame.bicycle import Bicycle
from ....model.geometry.dimensions import FrameDimensions
from ...files.drafting.centre_lines import centre_lines, wheel_circles
from .svg import circle, path, picture

MARGIN = 20.0  # mm round the bicycles
Frame = tuple[str, FrameDimensions, Bicycle | None]


def beside_figure(frames: Sequence[Frame], on: str) -> str:
    """A figure: every frame in a colour and a dash of its own (``frame-1`` and on in the style sheet), wheels thin.

    on : the point laid over one another, ``bottom_bracket`` or ``rear_axle``.
    """
    shapes = []
    reach = []
    for number, (_, dimensions, bicycle) in enumerate(frames, 1):
        for centre, radius in wheel_circles(dimensions, on):
            at = (float(centre[0]), float(centre[1]))
            shapes.append(circle(at, radius, f"beside thin frame-{number}"))
            reach += [centre - radius, centre + radius]
        for run in centre_lines(dimensions, bicycle, on):
            points = [(float(x), float(y)) for x, y in run]
            shapes.append(path(points, f"beside frame-{number}"))
            reach += list(run)
    low = np.min(reach, axis=0) - MARGIN
    high = np.max(reach, axis=0) + MARGIN
    place = on.replace("_", " ")
    words = f"The frames over one another, {place} on {place}."
    drawn = picture(shapes, (low[0], low[1]), (high[0], high[1]), words)
    return f"<figure>{drawn}<figcaption>{words} {_key(frames)}</figcaption></figure>"


def _key(frames: Sequence[Frame]) -> str:
    """Each name behind a short piece of its line."""
    said = []
    for number, (name, _, _) in enumerate(frames, 1):
        line = path([(0.0, 0.0), (40.0, 0.0)], f"beside frame-{number}")
        sample = f'<svg viewBox="0 -4 40 8" aria-hidden="true">{line}</svg>'
        said.append(f'<span class="framed">{sample}{escape(name)}</span>')
    return "".join(said)
