"""`droptrail customer`: one page for the customer, without a word about solvers."""

from pathlib import Path
from typing import Any

import click

from . import show
from .options import force_option, input_argument, paper_option, read, reading_options


@click.command("customer")
@input_argument
@click.option(
    "-o", "--output", required=True, type=click.Path(path_type=Path), help=".pdf to write."
)
@click.option(
    "--why",
    multiple=True,
    metavar="TEXT",
    help="What was chosen and why, in your words; repeatable, one paragraph each.",
)
@paper_option
@force_option
@reading_options
def command(
    source: Path, output: Path, why: tuple[str, ...], paper: str, force: bool, **how: Any
) -> int:
    """One page of INPUT for the customer: drawing, fit, sizes, tubes, weights, what was chosen and why."""
    from ..converters.showing.picture.customer import write_customer_sheet
    from ..converters.showing.tables.customer import customer_tables
    from ..model.frame.layout import lay_out
    from ..model.frame.mesh import mesh
    from ..model.frame.tube_mass import mass_table

    # one page for print: other endings are refused before the frame is worked out
    if output.suffix.lower() != ".pdf":
        raise click.UsageError(f"-o {output.name}: the customer's sheet is written as .pdf")
    reading = read(source, **how)
    bicycle = reading.need_bicycle()
    # weights come from the mesh, so that they agree with those in every other table
    masses = mass_table(mesh(bicycle), lay_out(bicycle))
    tables = customer_tables(bicycle, masses)
    drawn = write_customer_sheet(reading, tables, why, output, paper, force)
    print(f"{output} written.")
    found = (*reading.findings, *drawn)
    show.findings(found)
    # a warning counts here as well: the page goes to somebody who cannot see it
    return int(show.serious(found))
