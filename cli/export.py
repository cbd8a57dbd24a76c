"""`droptrail export`: model and results in open formats that other programs open."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from converters.analysis import analyse
from model.errors import InputError

from . import show
from .options import force_option, input_argument, read, reading_options
from .solve import mesh_options

if TYPE_CHECKING:
    from converters.analysis import Analysis
    from converters.inputs import Reading
    from model.findings import Finding

ENDINGS = (".vtu", ".xlsx", ".csv", ".json")


@click.command("export")
@input_argument
@click.option("-o", "--output", required=True, type=click.Path(path_type=Path),
              help="File to write: .vtu (3-D viewers), .xlsx (all tables), .csv (one --table), .json (analysis model).")
@click.option("--table", metavar="NAME", help="Which table goes into a .csv file.")
@click.option("--surface", is_flag=True, help="VTU: tubes as surfaces instead of centre-lines.")
@click.option("--modes", "count", default=0, metavar="N", type=click.IntRange(0, 60),
              help="VTU: also the N lowest natural modes, on tyres (then without static results).")
@force_option
@reading_options
@mesh_options
def command(source: Path, output: Path, table: str | None, surface: bool, count: int, force: bool,
            names: tuple[str, ...], euler: bool, element_length: float, rigid_zones: bool, **how: Any) -> int:
    """Write the model of INPUT with its results in an open format."""
    if output.suffix.lower() not in ENDINGS:
        raise InputError(f"{output.name}: give a name that ends in {', '.join(ENDINGS)}")
    reading = read(source, **how)
    if count:
        found = _write_modes(reading, output, count, surface, force)
    else:
        analysis = analyse(reading, names, shear=not euler, element_length=element_length, rigid_zones=rigid_zones)
        found = _write(reading, analysis, output, table, surface, force)
    print(f"{output} written.")
    every = (*reading.findings, *found)
    show.findings(every)
    return int(show.serious(every))


def _write(reading: "Reading", analysis: "Analysis", output: Path, table: str | None, surface: bool,
           force: bool) -> "tuple[Finding, ...]":
    ending = output.suffix.lower()
    if ending == ".vtu":
        from converters.vtu import write_vtu

        return write_vtu(analysis.model, output, analysis.results, surface=surface, force=force)
    if ending == ".json":
        from converters.model_json_write import save_model

        save_model(output, analysis.model, analysis.cases, force)
        return ()
    from converters.tables import tables_of, write_tables

    write_tables(tables_of(reading, analysis), output, table, force)
    return ()


def _write_modes(reading: "Reading", output: Path, count: int, surface: bool, force: bool) -> "tuple[Finding, ...]":
    from converters.vtu import write_vtu
    from validation.vibration import vibrate

    if output.suffix.lower() != ".vtu":
        raise InputError(f"{output.name}: modes are exported as .vtu; droptrail modes --json prints them as numbers")
    done = vibrate(reading, "tyres", count)
    return write_vtu(done.model, output, modes=done.modes, surface=surface, force=force)
