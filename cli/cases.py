"""`droptrail cases`: every load case with its loads, supports, measures and source."""

from pathlib import Path
from typing import Any

import click

from . import show
from .options import json_option, read, reading_options


@click.command("cases")
@click.argument("names", metavar="[NAME]...", nargs=-1)
@click.option(
    "--of",
    "source",
    type=click.Path(path_type=Path),
    metavar="INPUT",
    help="The bicycle whose numbers stand in the words; without it the starter sheet's.",
)
@reading_options
@json_option
def command(names: tuple[str, ...], source: Path | None, as_json: bool, **how: Any) -> int:
    """List every load case; with NAME tell how it is loaded, what holds it, what is measured, where it comes from."""
    from ..converters.files.fitsheet.starter import starter_bicycle
    from ..converters.showing.case_list import case_json, case_list, case_tables, wanted_cases
    from ..model.cases.library import cases_of

    # loads hang on the bicycle's numbers, so without an input the starter's are told
    if source is None:
        # accepted and dropped, they would make believe that the words below had changed
        given = [name for name, value in how.items() if name in ("settings", "sheet") and value]
        if given:
            raise click.UsageError("--set and --sheet change a bicycle; name it with --of INPUT")
        bicycle = starter_bicycle()
    else:
        bicycle = read(source, **how).need_bicycle()
    # load cases of a name not known are refused there, with the known ones
    cases = wanted_cases(bicycle, names or cases_of(bicycle))
    if as_json:
        show.print_json({"cases": [case_json(bicycle, case) for case in cases]})
        return 0
    # without names an overview of one line a case; its details would be pages
    if not names:
        table = case_list(bicycle, cases)
        show.shown(table)
        show.paragraph(table.notes)
        return 0
    for case in cases:
        print(f"{case.title} ({case.name})\n")
        show.paragraph(f"Loads and supports: {case.notes}.")
        show.paragraph(f"Source: {case.source}.")
        print()
        for table in case_tables(case):
            show.shown(table)
    return 0
