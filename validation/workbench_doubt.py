"""A drawing in doubt on the served page: its lines with those to choose between, each way to settle it a click."""

from collections.abc import Iterable, Sequence
from html import escape
from typing import Any

import numpy as np

from ..converters.drawings.drawing import Curve, Drawing
from ..converters.drawings.dxf.read_dxf import read_dxf
from ..converters.drawings.labelling.doubt import InDoubtError
from ..converters.files.writing import working_folder
from .workbench import Upload

WIDTH = 1000.0  # units of the picture's own
MARGIN = 20.0
MOST = 6000  # curves; more would make the page slow, and the lines in doubt are drawn in any case


def doubt_page(doubt: InDoubtError, upload: Upload) -> dict[str, Any]:
    """The picture, and each proposal with its picks and the text to keep for the command line."""
    with working_folder() as folder:
        path = folder / "drawing.dxf"
        path.write_bytes(upload.data)
        drawing = read_dxf(path)
    picked = [proposal.picks.values() for proposal in doubt.proposals]
    return {
        "picture": doubt_svg(drawing, picked),
        "options": [
            {"words": one.words, "picks": dict(one.picks), "gives": one.gives}
            for one in doubt.proposals
        ],
    }


def doubt_svg(drawing: Drawing, options: Sequence[Iterable[str]]) -> str:
    """All lines thin, those of each option as a group of its own that can be clicked."""
    points = np.vstack([curve.points for curve in drawing.curves])
    low = points.min(axis=0)
    size = np.maximum(np.ptp(points, axis=0), 1e-9)
    scale = (WIDTH - 2 * MARGIN) / float(size.max())
    height = float(size[1]) * scale + 2 * MARGIN
    width = float(size[0]) * scale + 2 * MARGIN

    def drawn(curves: Iterable[Curve], kind: str) -> str:
        lines = []
        for curve in curves:
            x = MARGIN + (curve.points[:, 0] - low[0]) * scale
            # y runs down on a page
            y = height - MARGIN - (curve.points[:, 1] - low[1]) * scale
            where = " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(x, y, strict=True))
            lines.append(f'<polyline class="{kind}" points="{where}"/>')
        return "".join(lines)

    groups = []
    for number, handles in enumerate(options):
        wanted = {handle for text in handles for handle in text.split(",")}
        held = [curve for curve in drawing.curves if curve.handle in wanted]
        # the wide line that does not show takes the click: a finger is wider than a pencil
        lines = drawn(held, "hit") + drawn(held, "line")
        label = escape(f"take this one, choice {number + 1}")
        groups.append(
            f'<g class="option" data-option="{number}" role="button" tabindex="0" '
            f'aria-label="{label}">{lines}</g>'
        )
    return (
        f'<svg viewBox="0 0 {width:.0f} {height:.0f}" class="doubt">'
        f"{drawn(drawing.curves[:MOST], 'thin')}{''.join(groups)}</svg>"
    )
