"""Pictures for papers and mails: PNG, SVG or PDF by matplotlib, each view one sheet of A4 across."""

from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from model.bicycle import Bicycle
from model.findings import Finding

from .picture_style import footer, headline, new_figure, save

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def side_picture(bicycle: Bicycle, title: str = "") -> "tuple[Figure, tuple[Finding, ...]]":
    """The side view with the trade's dimensions, and what it leaves out."""
    from .dxf_write import side_view
    from .dxf_write_dimensions import dimension_side_view
    from .picture_paper import PicturePaper

    figure = new_figure()
    paper = cast(Any, PicturePaper(figure.add_axes((0.02, 0.05, 0.96, 0.86))))
    found = side_view(paper, bicycle, (None, None))
    dimension_side_view(paper, bicycle.dimensions)
    headline(figure, title or bicycle.name or "Bicycle frame", "side view from the drive side, lengths in mm")
    footer(figure, "Not to scale. Check before cutting.")
    return figure, tuple(found)


def save_picture(figure: "Figure", path: str | Path, force: bool = False) -> None:
    """Write a .png, .svg or .pdf. Raises InputError for another ending or an existing file without `force`."""
    save(figure, Path(path), force)
