"""`droptrail new`: a commented starter fit sheet."""

from pathlib import Path

import click

from .options import force_option


@click.command("new")
@click.argument("sheet", type=click.Path(path_type=Path))
@force_option
def command(sheet: Path, force: bool) -> int:
    """Write a filled, commented fit sheet to SHEET (.csv or .xlsx) to put your own numbers into."""
    from ..converters.files.fitsheet.write_sheet import write_starter_sheet

    write_starter_sheet(sheet, force)
    # the next step stands beside it: a new user has nothing but this line
    print(f"{sheet} written. Put your own numbers in, then run: droptrail geometry {sheet}")
    return 0
