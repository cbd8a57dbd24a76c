"""`droptrail tubes`: where the frame gives, which tube is worth changing, how the walls are stressed."""

from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..model.decide import settled
from ..model.words import spoken
from . import show
from .options import case_options, input_argument, json_option, mesh_options, read, reading_options

if TYPE_CHECKING:
    from ..model.frame.mesh import MeshOptions
    from ..model.mechanics.energy import EnergyTable
    from ..model.postprocess.fatigue import FatigueTable
    from ..model.postprocess.sensitivity import Sensitivity
    from ..model.postprocess.stress import StressTable

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
    from ..converters.showing.result_json import stamped
    from ..model.frame.layout import lay_out
    from ..model.frame.tube_mass import MASS_WORDS, mass_table
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
    ranked: tuple[Sensitivity, ...]
    if mesh.rigid_zones:
        ranked = ()
    else:
        ranked = sensitivities(bicycle, analysis.cases, mesh)
    masses = mass_table(analysis.model, layout)
    fatigue = fatigue_tables(analysis.results, bicycle, layout)
    if as_json:
        show.print_json(
            stamped(
                reading,
                {
                    "source": reading.source,
                    "masses_kg": {tube: m.kg for tube, m in masses.by_tube.items()},
                    "energy": {name: table.shares for name, table in energies.items()},
                    "sensitivities": [
                        {**asdict(row), "percent_per_10g": row.percent_per_10g} for row in ranked
                    ],
                    "stress": {
                        name: [asdict(row) for row in table.rows]
                        for name, table in stresses.items()
                    },
                    "fatigue": [asdict(table) for table in fatigue],
                },
                analysis.findings,
                analysis.assumed,
                analysis.model,
            )
        )
        return int(show.serious(analysis.findings))
    show.table(
        "Mass of the tubes",
        ("tube", "g"),
        [(spoken(tube), 1000 * m.kg) for tube, m in masses.by_tube.items()]
        + [("frame", 1000 * masses.frame.kg), ("fork", 1000 * masses.fork.kg)],
    )
    show.paragraph(f"{MASS_WORDS[0].upper()}{MASS_WORDS[1:]}.")
    print()
    for name, result in analysis.results.items():
        _print_case(result.case.title or name, energies[name], stresses[name])
        show.paragraph(f"Loads and supports: {result.case.notes}. Source: {result.case.source}.")
        print()
    _print_ranking(ranked)
    for table in fatigue:
        _print_fatigue(table)
    show.findings(analysis.findings)
    show.assumed(analysis.assumed)
    print(show.CAUTION)
    return int(show.serious(analysis.findings))


def _print_case(title: str, energy: "EnergyTable", stress: "StressTable") -> None:
    shares: Mapping[str, Mapping[str, float]] = energy.shares
    longest = sorted(shares.items(), key=lambda item: -settled(sum(item[1].values())))[:LISTED]
    show.table(
        f"{title}: where it gives, percent of the strain energy",
        ("member", "bending", "torsion", "along", "shear", "together"),
        [
            (
                spoken(member),
                *(f"{100 * kinds[k]:.1f}" for k in ("bending", "torsion", "axial", "shear")),
                f"{100 * sum(kinds.values()):.1f}",
            )
            for member, kinds in longest
        ],
    )
    show.table(
        f"{title}: highest nominal stress in the wall",
        ("tube", "von Mises MPa", "where", "of yield"),
        [
            (
                spoken(row.place.member),
                f"{row.von_mises:.0f}",
                row.place.words,
                "-" if row.utilisation is None else f"{100 * row.utilisation:.0f} %",
            )
            for row in stress.rows[:LISTED]
        ],
    )
    show.paragraph(stress.caution)


def _print_ranking(rows: "tuple[Sensitivity, ...]") -> None:
    """Per measured figure the three best uses of 10 g."""
    from ..model.postprocess.sensitivity import ranking

    keys = list(dict.fromkeys((row.case, row.measure, row.title) for row in rows))
    lines = [
        (
            case,
            title,
            *(f"{r.tube.replace('_', ' ')} {r.parameter} {r.percent_per_10g:+.2f} %" for r in best),
        )
        for case, measure, title in keys
        for best in [ranking(rows, case, measure)[:3]]
    ]
    if lines:
        show.table(
            "Which tube to change: stiffness for 10 g more, the three best",
            ("case", "measured", "first", "second", "third"),
            lines,
        )


def _print_fatigue(table: "FatigueTable") -> None:
    show.table(
        f"To and fro between {table.cases[0]} and {table.cases[1]}: nominal normal stress",
        ("tube", "amplitude MPa", "mean MPa", "of endurance and ultimate"),
        [
            (
                spoken(row.place.member),
                f"{row.amplitude:.0f}",
                f"{row.mean:.0f}",
                "-" if row.utilisation is None else f"{100 * row.utilisation:.0f} %",
            )
            for row in table.rows[:LISTED]
        ],
    )
    show.paragraph(table.caution)
