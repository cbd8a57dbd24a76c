"""`droptrail solve`: displacements and stiffness of every load case."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..converters.analysis import Analysis, analyse
from ..converters.showing.result_json import solve_json
from ..converters.showing.tables.results import stiffness_table
from . import show
from .options import case_options, input_argument, json_option, mesh_options, read, reading_options

if TYPE_CHECKING:
    from ..model.frame.mesh import MeshOptions


@click.command("solve")
@input_argument
@reading_options
@case_options
@mesh_options
@json_option
def command(
    source: Path, as_json: bool, names: tuple[str, ...], mesh: "MeshOptions", **how: Any
) -> int:
    """Solve INPUT (drawing with --sheet, fit sheet, or analysis model) under its load cases."""
    # all asked cases at once: those with the same supports share a factorisation
    analysis = analyse(read(source, **how), names, mesh)
    if as_json:
        show.print_json(solve_json(analysis))
    else:
        print_results(analysis)
        # those of the load cases are among them: a wheel that lifts shows only when solved
        show.findings(analysis.findings)
        show.assumed(analysis.assumed)
        show.caution()
    return int(show.serious(analysis.findings))


def print_results(analysis: Analysis) -> None:
    """One table a case: what was measured, under which load and restraints."""
    for result in analysis.results.values():
        table = stiffness_table(result)
        show.shown(table)
        if table.notes:
            show.paragraph(table.notes)
        show.paragraph(
            f"Checked: forces balance to {result.force_balance:.0e}, moments to "
            f"{result.moment_balance:.0e}, "
            f"equations solved to {result.residual:.0e}; {len(result.model.elements)} elements."
        )
        print()
