"""`droptrail export`: model and results in open formats that other programs open."""

from pathlib import Path
from typing import Any

import click

from converters.analysis import analyse

from . import show
from .options import force_option, input_argument, read, reading_options
from .solve import mesh_options


@click.command("export")
@input_argument
@click.option("-o", "--output", required=True, type=click.Path(path_type=Path), help="File to write: .json.")
@force_option
@reading_options
@mesh_options
def command(source: Path, output: Path, force: bool, names: tuple[str, ...], euler: bool, element_length: float,
            rigid_zones: bool, **how: Any) -> int:
    """Write the analysis model of INPUT in an open format."""
    from converters.model_json_write import save_model
    from model.errors import InputError

    reading = read(source, **how)
    analysis = analyse(reading, names, shear=not euler, element_length=element_length, rigid_zones=rigid_zones)
    if output.suffix.lower() != ".json":
        raise InputError(f"{output.name}: give a name that ends in .json")
    save_model(output, analysis.model, analysis.cases, force)
    print(f"{output} written.")
    show.findings(reading.findings)
    return int(show.serious(reading.findings))
