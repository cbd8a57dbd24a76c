"""`droptrail picture`: the frame as PNG, SVG or PDF for papers and mails."""

from pathlib import Path
from typing import Any

import click

from . import show
from .options import force_option, input_argument, read, reading_options


@click.command("picture")
@input_argument
@click.option("-o", "--output", required=True, type=click.Path(path_type=Path), help=".png, .svg or .pdf to write.")
@force_option
@reading_options
def command(source: Path, output: Path, force: bool, **how: Any) -> int:
    """Draw INPUT as a picture: a side view with the trade's dimensions."""
    from converters.picture import save_picture, side_picture

    reading = read(source, **how)
    figure, found = side_picture(reading.need_bicycle())
    save_picture(figure, output, force)
    print(f"{output} written.")
    every = (*reading.findings, *found)
    show.findings(every)
    return int(show.serious(every))
