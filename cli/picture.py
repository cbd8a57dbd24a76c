"""`droptrail picture`: the frame as PNG, SVG or PDF for papers and mails."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..converters.showing.picture.style import check_ending
from ..converters.showing.picture.write_picture import VIEWS, PictureOptions, write_pictures
from . import show
from .options import (
    case_options,
    force_option,
    input_argument,
    mesh_options,
    read,
    reading_options,
    supports_option,
)

if TYPE_CHECKING:
    from ..model.frame.mesh import MeshOptions


@click.command("picture")
@input_argument
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(path_type=Path),
    help=".png, .svg or .pdf to write.",
)
@click.option(
    "--view",
    "views",
    multiple=True,
    type=click.Choice(VIEWS),
    help="side (usual): dimensioned; iso: tubes in proportion; rig: what a --case holds, pushes and "
    "measures; deflected, stress, energy: under a --case; "
    "mode: natural modes; overlay: a drawing as read. Several: pages of a .pdf, else a file each.",
)
@click.option(
    "--mode",
    "number",
    type=click.IntRange(1, 60),
    help="Only this mode; without it the lowest six.",
)
@supports_option
@click.option(
    "--times",
    type=click.FloatRange(1e-6, 1e9),
    help="Magnification of the movement; by default a round one that shows it well.",
)
@force_option
@reading_options
@case_options
@mesh_options
def command(
    source: Path,
    output: Path,
    views: tuple[Any, ...],
    number: int | None,
    supports: Any,
    times: float | None,
    force: bool,
    names: tuple[str, ...],
    mesh: "MeshOptions",
    **how: Any,
) -> int:
    """Draw INPUT as a picture. The plot of a comparison: droptrail compare INPUT -o PLOT.png."""
    # before the input is read: a wrong ending should not cost a solve
    check_ending(output)
    reading = read(source, **how)
    options = PictureOptions(names, times, number, supports, mesh)
    files, found = write_pictures(reading, output, views, options, force)
    print("".join(f"{path} written.\n" for path in files), end="")
    every = (*reading.findings, *found)
    show.findings(every)
    return int(show.serious(every))
