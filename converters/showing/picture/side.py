"""The side view as a picture, with the trade's dimensions: the strokes of the DXF drawing on another paper."""

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from ....model.findings import Finding
from ....model.frame.bicycle import Bicycle
from ....model.tubes.materials import find_material
from ....model.tubes.tube import Tube
from ...files.drafting.dimensions import dimension_side_view
from ...files.drafting.frame import side_view
from ...inputs import Reading
from .paper import PicturePaper
from .style import new_figure

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def side_picture(reading: Reading, title: str) -> "tuple[Figure, tuple[Finding, ...]]":
    """The dimensioned side view, and what it leaves out. Raises InputError for an analysis model."""
    figure = new_figure(
        title,
        "side view from the drive side; lengths in mm, angles in degrees",
        "Not to scale. Check before cutting: droptrail draw writes the drawing at 1:1.",
    )
    paper = PicturePaper(figure.add_axes((0.01, 0.05, 0.98, 0.86)))
    found = side_view(paper, reading.bicycle or _silhouette(reading), (None, None))
    dimension_side_view(paper, reading.dimensions, reading.bicycle)
    paper.make_room()
    if reading.bicycle is None:  # a drawing need not show diameters, and nobody has asked for tubes
        found = [replace(f, severity="info") if f.code == "draw-no-diameter" else f for f in found]
    return figure, tuple(found)


def _silhouette(reading: Reading) -> Bicycle:
    """A drawing's dimensions with tubes of the drawn diameters, good for outlines and nothing else."""
    drawn: Mapping[str, float | None]
    if reading.view is None:
        drawn = {}
    else:
        drawn = reading.view.diameters
    # solid, since the drawing tells no wall
    solid = {
        name: Tube(find_material("4130"), od, od, (od / 2,)) for name, od in drawn.items() if od
    }
    return Bicycle(reading.dimensions, solid)
