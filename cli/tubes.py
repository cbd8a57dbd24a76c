"""`droptrail tubes`: where the frame gives, which tube is worth changing, how the walls are stressed."""

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from . import show
from .options import case_options, input_argument, json_option, mesh_options, read, reading_options

if TYPE_CHECKING:
    from ..model.choice.held_tubes import HeldRanking
    from ..model.frame.mesh import MeshOptions
    from ..model.postprocess.sensitivity import Sensitivity

LISTED = 8  # tubes shown per case; --json holds them all


@click.command("tubes")
@input_argument
@reading_options
@case_options
@mesh_options
@json_option
def command(
    source: Path, as_json: bool, names: tuple[str, ...], mesh: "MeshOptions", **how: Any
) -> int:
    """For each load case of INPUT: energy per tube, percent stiffness per 10 g, nominal stress, fatigue range."""
    from ..converters.analysis import analyse
    from ..converters.showing.choice.held_table import held_rankings_json, held_rankings_table
    from ..converters.showing.result_json import as_dicts, stamped
    from ..converters.showing.tables.frame import tube_mass_table
    from ..converters.showing.tables.results import (
        case_words,
        energy_table,
        fatigue_rows,
        largest_rows,
        stress_rows,
    )
    from ..model.choice.held_tubes import held_rankings
    from ..model.frame.layout import lay_out
    from ..model.frame.tube_mass import mass_table
    from ..model.mechanics.energy import energy_shares
    from ..model.postprocess.fatigue import fatigue_tables
    from ..model.postprocess.sensitivity import sensitivities
    from ..model.postprocess.stress import stress_table

    reading = read(source, **how)
    bicycle = reading.need_bicycle()
    layout = lay_out(bicycle)
    analysis = analyse(reading, names, mesh)
    energies = {name: energy_shares(result) for name, result in analysis.results.items()}
    stresses = {
        name: stress_table(result, bicycle, layout) for name, result in analysis.results.items()
    }
    # annotated, because an empty tuple alone does not tell what it would hold
    ranked: tuple[Sensitivity, ...]
    held: tuple[HeldRanking, ...]
    # zones change with the diameters, which the derivatives leave out
    if mesh.rigid_zones:
        ranked = ()
        held = ()
    else:
        ranked = sensitivities(bicycle, analysis.cases, mesh)
        held = held_rankings(bicycle, analysis.cases, mesh)
    # the same ranking under every way to hold the case is no news
    turned = (found for one in held if (found := one.finding()) is not None)
    findings = (*analysis.findings, *turned)
    masses = mass_table(analysis.model, layout)
    fatigue = fatigue_tables(analysis.results, bicycle, layout)
    if as_json:
        by_member = {name: table.shares for name, table in energies.items()}
        by_tube = {name: table.kinds_of_tubes for name, table in energies.items()}
        joints = {name: table.joints for name, table in energies.items()}
        # percent_per_10g is a property, which asdict leaves out
        gains = [{**asdict(row), "percent_per_10g": row.percent_per_10g} for row in ranked]
        peaks = {name: as_dicts(table.rows) for name, table in stresses.items()}
        body = {
            "source": reading.source,
            "masses_kg": {tube: m.kg for tube, m in masses.by_tube.items()},
            "energy": by_member,
            "energy_by_tube": by_tube,
            "joint_energy": joints,
            "sensitivities": gains,
            "held_how": held_rankings_json(held),
            "stress": peaks,
            "fatigue": as_dicts(fatigue),
        }
        show.print_json(stamped(reading, body, findings, analysis.assumed, analysis.model))
        return int(show.serious(findings))
    table = tube_mass_table(masses)
    show.shown(table)
    show.paragraph(table.notes)
    print()
    for name, result in analysis.results.items():
        show.shown(largest_rows(energy_table(result, energies[name]), LISTED))
        stress = stress_rows(result, stresses[name])
        show.shown(largest_rows(stress, LISTED))
        show.paragraph(stress.notes)
        show.paragraph(case_words(result))
        print()
    _print_ranking(ranked)
    show.noted(held_rankings_table(one) for one in held)
    for swing in fatigue:
        table = fatigue_rows(swing)
        show.shown(largest_rows(table, LISTED))
        show.paragraph(table.notes)
    show.findings(findings)
    show.assumed(analysis.assumed)
    show.caution()
    return int(show.serious(findings))


def _print_ranking(rows: "tuple[Sensitivity, ...]") -> None:
    """Per measured figure the three best uses of 10 g."""
    from ..model.postprocess.sensitivity import ranking
    from ..model.words import signed, spoken

    # dict.fromkeys keeps the order of the cases
    keys = list(dict.fromkeys((row.case, row.measure, row.title) for row in rows))
    lines = []
    for case, measure, title in keys:
        best = [
            f"{spoken(row.tube)} {row.parameter} {signed(row.percent_per_10g, 2)} %"
            # three are what a builder can weigh; --json holds them all
            for row in ranking(rows, case, measure)[:3]
        ]
        lines.append((case, title, *best))
    if lines:
        show.table(
            "Which tube to change: stiffness for 10 g more, the three best",
            ("case", "measured", "first", "second", "third"),
            lines,
        )
