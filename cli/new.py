"""`droptrail new`: a commented starter fit sheet."""

from pathlib import Path

import click

from .options import force_option


@click.command("new")
@click.argument("sheet", type=click.Path(path_type=Path))
@click.option(
    "--plan",
    metavar="NAME",
    default="diamond",
    show_default=True,
    help="Kind of frame: such as mixte or step_through; 'list' prints all there are.",
)
@force_option
def command(sheet: Path, plan: str, force: bool) -> int:
    """Write a filled, commented fit sheet to SHEET (.csv or .xlsx) to put your own numbers into."""
    from ..converters.files.fitsheet.write_sheet import write_starter_sheet
    from ..model.tubes.known_plans import PLANS, plan_named

    if plan == "list":
        for known in PLANS.values():
            print(f"{known.name:20} {known.label}")
        return 0
    write_starter_sheet(sheet, force, plan_named(plan))
    # the next step stands beside it: a new user has nothing but this line
    print(f"{sheet} written. Put your own numbers in, then run: droptrail geometry {sheet}")
    return 0
