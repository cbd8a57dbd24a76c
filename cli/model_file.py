"""`droptrail model`: the whole analysis model as JSON, so that any other program can solve it."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..converters.analysis import model_and_cases
from . import show
from .options import (
    case_options,
    force_option,
    input_argument,
    json_option,
    mesh_options,
    read,
    reading_options,
)

if TYPE_CHECKING:
    from ..model.frame.mesh import MeshOptions


@click.command("model")
@input_argument
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    help="File to write; without it, print to the screen.",
)
@force_option
@reading_options
@case_options
@mesh_options
@json_option
def command(
    source: Path,
    output: Path | None,
    force: bool,
    as_json: bool,
    names: tuple[str, ...],
    mesh: "MeshOptions",
    **how: Any,
) -> int:
    """Write nodes, elements, springs, supports, masses and load cases of INPUT as an analysis model.

    Each load case carries its own supports. With a single --case the supports also stand at the top level.
    """
    from ..converters.files.model_file.write_model import save_model, write_model

    reading = read(source, **how)
    model, cases = model_and_cases(reading, names, mesh)
    if output is None:
        # printed, the output is the model itself and nothing else, so that it can be piped
        show.print_json(write_model(model, cases))
        return int(show.serious(reading.findings))
    # JSON after -o is a short word on what was written, not the model again
    save_model(output, model, cases, force)
    summary = {
        "written": str(output),
        "nodes": len(model.nodes),
        "elements": len(model.elements),
        "load_cases": [case.name for case in cases],
    }
    if as_json:
        show.print_json(summary)
    else:
        print(
            f"{output}: {summary['nodes']} nodes, {summary['elements']} elements, "
            f"load cases {', '.join(case.name for case in cases)}"
        )
        # not beside --json, whose only output is the object
        show.findings(reading.findings)
    return int(show.serious(reading.findings))
