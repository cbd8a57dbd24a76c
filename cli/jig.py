"""`droptrail jig`: what is set on the jig and sawn, from the bottom bracket."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from . import show
from .options import (
    force_option,
    input_argument,
    json_option,
    paper_option,
    paths_in,
    read,
    reading_options,
    shell_option,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ..converters.inputs import Reading
    from ..converters.showing.table import Table
    from ..model.findings import Finding

SHEETS = (".pdf", ".xlsx", ".csv", ".md")


@click.command("jig")
@input_argument
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    help="Also write it: .pdf to print, .xlsx, .csv or .md.",
)
@paper_option
@shell_option
@force_option
@reading_options
@json_option
def command(
    source: Path,
    output: Path | None,
    paper: str,
    shell: float,
    force: bool,
    as_json: bool,
    **how: Any,
) -> int:
    """Settings for the jig from INPUT: points, angles, distances, widths and cut lengths."""
    from dataclasses import asdict

    from ..converters.showing.result_json import stamped
    from ..converters.showing.tables.jig import jig_tables
    from ..model.frame.frame_mitres import frame_mitres
    from ..model.frame.jig import jig_sheet
    from ..model.frame.mitre_findings import mitre_findings

    # tested first: the ending decides who writes, and the work would be lost
    if output is not None and output.suffix.lower() not in SHEETS:
        raise click.UsageError(f"-o {output.name}: give a name that ends in {', '.join(SHEETS)}")
    reading = read(source, **how)
    bicycle = reading.need_bicycle()
    mitres = frame_mitres(bicycle, shell)
    sheet = jig_sheet(bicycle, mitres)
    tables = jig_tables(sheet)
    # a jig sheet holds cut lengths, so what is doubtful about the mitres belongs on it
    found = [*reading.findings, *mitre_findings(bicycle, mitres)]
    if output is not None:
        found += _write(reading, tables, output, paper, force, paths_in(source, how))
    if as_json:
        body = {"source": reading.source, **asdict(sheet)}
        show.print_json(stamped(reading, body, found, reading.assumed))
        return int(show.serious(found))
    for table in tables:
        show.shown(table)
        if table.notes:
            show.paragraph(table.notes)
            print()
    # told last of the output, after the tables that scroll by
    if output is not None:
        print(f"{output} written.")
    show.findings(found)
    show.assumed(reading.assumed)
    return int(show.serious(found))


def _write(
    reading: "Reading",
    tables: "Sequence[Table]",
    output: Path,
    paper: str,
    force: bool,
    inputs: "Sequence[Path]",
) -> "tuple[Finding, ...]":
    # a page to print is drawn; the other formats are the same tables as cells
    if output.suffix.lower() == ".pdf":
        from ..converters.showing.picture.jig import write_jig_sheet

        return write_jig_sheet(reading, tables, output, paper, force)
    from ..converters.showing.spreadsheet import write_tables

    write_tables(tables, output, force=force, inputs=inputs)
    return ()
