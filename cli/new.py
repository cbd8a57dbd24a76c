"""`droptrail new`: a commented starter fit sheet."""

from pathlib import Path

import click

from .options import force_option

POINTS = "points"
_SHORT = {"rack": "rear_rack", "lowrider": "front_rack", "suspension": "suspension_fork"}


@click.command("new")
@click.argument("sheet", type=click.Path(path_type=Path), required=False)
@click.option(
    "--plan",
    metavar="NAME",
    default="diamond",
    show_default=True,
    help="Kind of frame: such as mixte or step_through; 'points' for a frame as points and tubes; 'list' prints all.",
)
@click.option(
    "--with",
    "extras",
    multiple=True,
    metavar="EXTRA",
    help="Also a rear rack (rack), a lowrider (front rack) or a suspension fork; may be given several times.",
)
@force_option
def command(sheet: Path | None, plan: str, extras: tuple[str, ...], force: bool) -> int:
    """Write a filled, commented fit sheet to SHEET (.csv or .xlsx) to put your own numbers into."""
    from ..converters.files.fitsheet.starter import (
        EXTRAS,
        write_points_starter,
        write_starter_sheet,
    )
    from ..model.errors import ModelError
    from ..model.tubes.known_plans import PLANS, plan_named

    if plan == "list":
        for known in PLANS.values():
            print(f"{known.name:20} {known.label}")
        print(f"{POINTS:20} a frame of no plan, as points and tubes")
        print(f"With any but {POINTS}: {', '.join(f'--with {extra}' for extra in EXTRAS)}.")
        print(
            "Several go together, such as: droptrail new SHEET.csv --plan 'mixte + unicrown fork'"
        )
        return 0
    if sheet is None:
        raise click.UsageError("name the sheet to write, such as: droptrail new my_frame.csv")
    if plan == POINTS:
        if extras:
            raise click.UsageError(
                f"--with {extras[0]}: points and tubes stand for themselves; leave it out"
            )
        write_points_starter(sheet, force)
        print(
            f"{sheet} written. Put your own points and tubes in, then run: droptrail solve {sheet}"
        )
        return 0
    try:
        write_starter_sheet(sheet, force, plan_named(plan), [_extra(name) for name in extras])
    except ModelError as error:  # a name mistyped on the command line
        raise click.UsageError(str(error)) from error
    # the next step stands beside it: a new user has nothing but this line
    print(f"{sheet} written. Put your own numbers in, then run: droptrail geometry {sheet}")
    return 0


def _extra(said: str) -> str:
    """The extra that a builder means."""
    name = "_".join(said.replace("-", " ").replace("_", " ").split()).casefold()
    return _SHORT.get(name, name)
