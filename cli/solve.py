"""`droptrail solve`: displacements and stiffness of every load case."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..converters.analysis import Analysis, analyse
from ..converters.showing.result_json import solve_json
from ..model.words import load_words
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
    analysis = analyse(read(source, **how), names, mesh)
    if as_json:
        show.print_json(solve_json(analysis))
    else:
        print_results(analysis)
        show.findings(analysis.findings)
        show.assumed(analysis.assumed)
        print(show.CAUTION)
    return int(show.serious(analysis.findings))


def print_results(analysis: Analysis) -> None:
    """One table a case: what was measured, under which load and restraints."""
    for result in analysis.results.values():
        case = result.case
        rows = [
            (
                m.title or m.name,
                result.measured[m.name],
                m.unit,
                load_words(m.reference, m.unit == "deg"),
                result.stiffness[m.name],
                m.stiffness_unit if result.stiffness[m.name] is not None else "",
            )
            for m in case.measures
        ] or largest_motion(result)
        show.table(
            case.title or f"Load case {case.name}",
            ("measured", "moves", "unit", "under", "stiffness", "unit"),
            rows,
        )
        if case.notes:
            show.paragraph(
                f"Loads and supports: {case.notes}. Source: {case.source or 'not stated'}."
            )
        show.paragraph(
            f"Checked: forces balance to {result.force_balance:.0e}, moments to "
            f"{result.moment_balance:.0e}, "
            f"equations solved to {result.residual:.0e}; {len(result.model.elements)} elements."
        )
        print()


def largest_motion(result: Any) -> list[tuple[object, ...]]:
    """For a model file without named measures: where it moves most."""
    node, size = result.largest_movement
    return [(f"largest movement, node {node}", size, "", "-", None, "")]
