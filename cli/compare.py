"""`droptrail compare`: variants beside the reference, what each change costs in grams."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..converters.showing.picture.compare import LATERAL, VERTICAL
from ..model.findings import Finding
from . import show
from .compare_bicycles import compare_bicycles
from .options import (
    case_options,
    force_option,
    json_option,
    mesh_options,
    read,
    reading_options,
    supports_option,
)

if TYPE_CHECKING:
    from ..model.frame.mesh import MeshOptions


@click.command("compare")
@click.argument(
    "sources", metavar="INPUT...", nargs=-1, required=True, type=click.Path(path_type=Path)
)
@click.option(
    "--variants",
    "table",
    type=click.Path(path_type=Path),
    help="Variants as CSV, XLSX or TOML: a name and the tube changes.",
)
@click.option(
    "--option",
    "options",
    multiple=True,
    metavar="NAME=VALUE,VALUE",
    help="Options of one tube, such as top_tube=25.4,28.6x0.8, or of any item of the sheet, such as "
    "fork_offset=45,50,55; several make the grid of all combinations.",
)
@click.option(
    "--seek",
    "goals",
    multiple=True,
    metavar="ITEM:FIGURE=VALUE",
    help="The value of an item that gives a figure, such as fork_offset:trail=60; repeatable.",
)
@click.option(
    "--catalogue", type=click.Path(path_type=Path), help="Your own tubes instead of generic ones."
)
@click.option(
    "-o",
    "--output",
    "outputs",
    multiple=True,
    type=click.Path(path_type=Path),
    help="Write the table as .xlsx (live formulas) or .csv, the plot as .png, .svg or .pdf; repeatable.",
)
@click.option(
    "--across", default=VERTICAL, show_default=True, help="Figure on the plot's horizontal axis."
)
@click.option(
    "--up", default=LATERAL, show_default=True, help="Figure on the plot's vertical axis."
)
@click.option(
    "--modes",
    "count",
    default=0,
    metavar="N",
    help="Also compare the N lowest natural frequencies.",
)
@supports_option
@click.option(
    "--wobble",
    is_flag=True,
    help="Also compare the damping that the hands must supply against wobble.",
)
@click.option(
    "--on",
    type=click.Choice(["bottom_bracket", "rear_axle"]),
    default="bottom_bracket",
    show_default=True,
    help="Of several inputs: the point that the overlay picture lays over one another.",
)
@click.option(
    "--joining",
    type=click.Choice(["brazed", "welded", "lugged"]),
    default="brazed",
    show_default=True,
    help="How the frame is joined, for the rules of the workshop.",
)
@force_option
@reading_options
@case_options
@mesh_options
@json_option
def command(
    sources: tuple[Path, ...],
    as_json: bool,
    names: tuple[str, ...],
    mesh: "MeshOptions",
    table: Path | None,
    options: tuple[str, ...],
    goals: tuple[str, ...],
    catalogue: Path | None,
    outputs: tuple[Path, ...],
    across: str,
    up: str,
    count: int,
    supports: Any,
    wobble: bool,
    on: str,
    joining: Any,
    force: bool,
    **how: Any,
) -> int:
    """Compare variants of INPUT, other tubes or any other item: geometry and room, weight on the front wheel, mass,
    every stiffness, the change in percent and percent per 10 g. Several INPUTs are put side by side, the last against
    the first in percent; a drawing among them goes with the fit sheet of its name beside it."""
    if len(sources) > 1:
        # several bicycles side by side show the wobble anyhow
        # they would change one bicycle of several, and the columns would no longer be the files
        if table or options or goals:
            raise click.UsageError(
                "--variants, --option and --seek are for one INPUT; several are put side by side as they are"
            )
        return compare_bicycles(sources, as_json, names, mesh, outputs, count, on, force, **how)
    # imports wait until here: several inputs need another set of modules
    source = sources[0]
    # slow to import, and --help must not pay for it
    from ..converters.analysis import assumptions, case_maker
    from ..converters.files.choice.item_options import Stays
    from ..converters.files.choice.variants_table import wanted_variants
    from ..converters.showing.choice.compare_table import compare_json
    from ..converters.showing.choice.wobble_table import band_table, bands_json
    from ..converters.showing.result_json import stamped
    from ..model.choice.compare import compare
    from ..model.choice.joint_turns import joint_turns
    from ..model.choice.variant_faults import variant_faults
    from ..model.choice.wobble import hands_bands
    from ..model.choice.workshop_rules import Rules
    from ..model.findings import Finding

    reading = read(source, **how)
    # variants are made from tubes and items, which a drawing alone or a model file does not have
    bicycle = reading.need_bicycle()
    # filled while the variants are made, so it must exist before them
    doubts: list[Finding] = []
    stays = Stays(how["keep"], how["follow"])
    variants = wanted_variants(table, options, bicycle, catalogue, doubts, stays, goals)
    extra = _extra(bicycle, variants, count, supports, mesh, wobble)
    cases_of = case_maker(reading, names, mesh)
    comparison = compare(bicycle, variants, cases_of, mesh, extra)
    bands: Any = ()
    if wobble:
        bands = hands_bands([(row.name, row.bicycle) for row in comparison.rows])
    rules = Rules(joining=joining)
    findings = [
        *reading.findings,
        *doubts,
        *comparison.findings,
        *joint_turns(comparison, variants, cases_of, mesh),
        # the reference is left out: only faults that a change brings in are news
        *variant_faults(rules, bicycle, [(row.name, row.bicycle) for row in comparison.rows[1:]]),
    ]
    # written before anything is printed, so that a full disk is met before success is told
    findings += _write(comparison, outputs, across, up, force)
    assumed = assumptions(reading)
    if as_json:
        body = {
            "source": reading.source,
            "input_sha256": reading.sha256,
            **compare_json(comparison),
        }
        if bands:
            body["hands_bands"] = bands_json(bands)
        show.print_json(stamped(reading, body, findings, assumed))
        # findings decide the exit code: a comparison has no verdict of its own
        return int(show.serious(findings))
    print_comparison(comparison)
    if bands:
        show.noted([band_table(bands)])
    print("".join(f"{path} written.\n" for path in outputs), end="")
    show.findings(findings)
    show.assumed(assumed)
    show.caution()
    return int(show.serious(findings))


def _extra(bicycle: Any, variants: Any, count: int, supports: Any, mesh: Any, wobble: bool) -> Any:
    """Figures beside statics and mass; each costs a solve of its own for every variant, so only what was asked for."""
    from ..model.choice.frequencies import frequencies
    from ..model.choice.sights import both, sighted
    from ..model.choice.variants import Reshaped
    from ..model.choice.wobble import hands_figure

    extra = None
    if count:
        extra = frequencies(bicycle, count, supports, mesh)
    if wobble:
        extra = both(extra, hands_figure())
    # only a variant that moves the side view has other geometry or room to show
    if any(isinstance(variant, Reshaped) for variant in variants):
        extra = both(sighted(bicycle), extra)
    return extra


def _write(
    comparison: Any, outputs: tuple[Path, ...], across: str, up: str, force: bool
) -> list[Finding]:
    from ..converters.showing.choice.compare_table import write_comparison
    from ..converters.showing.picture.compare import comparison_plot, save_plot
    from ..converters.showing.picture.style import ENDINGS

    found: list[Finding] = []
    for path in outputs:
        if path.suffix.lower() in ENDINGS:
            found += save_plot(comparison_plot(comparison, across, up), path, force)
        else:
            write_comparison(comparison, path, force)
    return found


def print_comparison(comparison: Any) -> None:
    """The masses, then one table per load case, each with what loads and holds it."""
    from ..converters.showing.choice.compare_table import comparison_tables

    show.noted(comparison_tables(comparison))
