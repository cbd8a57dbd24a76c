"""`droptrail new`: a commented starter fit sheet."""

from pathlib import Path

import click

from .options import force_option


@click.command("new")
@click.argument("sheet", type=click.Path(path_type=Path), required=False)
@click.option(
    "--plan",
    metavar="NAME",
    default="diamond",
    show_default=True,
    help="Kind of frame: such as mixte or step_through; 'list' prints all there are.",
)
@force_option
def command(sheet: Path | None, plan: str, force: bool) -> int:
    """Write a filled, commented fit sheet to SHEET (.csv or .xlsx) to put your own numbers into."""
    from ..converters.files.fitsheet.write_sheet import write_starter_sheet
    from ..model.errors import ModelError
    from ..model.tubes.known_plans import PLANS, plan_named

    if plan == "list":
        for known in PLANS.values():
            print(f"{known.name:20} {known.label}")
        print(
            "Several go together, such as: droptrail new SHEET.csv --plan 'mixte + unicrown fork'"
        )
        return 0
    if sheet is None:
        raise click.UsageError("name the sheet to write, such as: droptrail new my_frame.csv")
    try:
        wanted = plan_named(plan)
    except ModelError as error:  # a name mistyped on the command line
        raise click.UsageError(str(error)) from error
    write_starter_sheet(sheet, force, wanted)
    # the next step stands beside it: a new user has nothing but this line
    print(f"{sheet} written. Put your own numbers in, then run: droptrail geometry {sheet}")
    return 0
