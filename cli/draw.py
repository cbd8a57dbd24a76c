"""`droptrail draw`: a dimensioned side view, fork and stays at 1:1 from a fit sheet."""

from pathlib import Path
from typing import Any

import click

from . import show
from .options import force_option, input_argument, read, reading_options


@click.command("draw")
@input_argument
@click.option(
    "-o", "--output", required=True, type=click.Path(path_type=Path), help="DXF file to write."
)
@click.option(
    "--view",
    "views",
    multiple=True,
    type=click.Choice(["side", "front", "top"]),
    help="Only this view; may be given several times.",
)
@click.option(
    "--dxf-version",
    default="R2010",
    show_default=True,
    help="R12, R2000, R2004, R2007, R2010 ... R2018.",
)
@click.option(
    "--plot",
    type=click.Choice(["A4", "A3", "A2", "A1", "Letter", "Tabloid"]),
    help="Also lay the views out on sheets of that size, ready to plot.",
)
@force_option
@reading_options
def command(
    source: Path,
    output: Path,
    views: tuple[Any, ...],
    dxf_version: str,
    plot: str | None,
    force: bool,
    **how: Any,
) -> int:
    """Draw INPUT as DXF in mm at 1:1: centre-lines, outlines, wheels, the trade's dimensions."""
    from ..converters.files.drafting.frame import draw_frame

    # only DXF keeps 1:1 with layers and dimensions that can still be edited
    if output.suffix.lower() != ".dxf":
        raise click.UsageError(
            f"-o {output.name}: a drawing is written as .dxf; your CAD program saves it as "
            f"'{output.suffix or 'what it likes'}'"
        )
    reading = read(source, **how)
    found = draw_frame(
        reading.need_bicycle(),
        output,
        views or ("side", "front", "top"),
        version=dxf_version,
        plot=plot,
        force=force,
    )
    print(f"{output} written, 1:1 in mm, origin at the bottom bracket.")
    every = (*reading.findings, *found)
    show.findings(every)
    show.assumed(reading.assumed)
    # a drawing with a warning is written all the same, and the exit code says so
    return int(show.serious(every))
