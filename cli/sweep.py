"""`droptrail sweep`: figures over two items of the sheet at once."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

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
    from ..model.choice.sweep import Sweep
    from ..model.findings import Finding
    from ..model.frame.mesh import MeshOptions

# what a builder asks first of these two items: how it steers, and how stiff the head is
FIGURES = ("geometry.trail", "side_push.head_sideways")
# endings that hold numbers; the others are drawn
LISTS = (".csv", ".xlsx")


@click.command("sweep")
@input_argument
@click.option(
    "--across",
    default="fork_offset=40:60",
    show_default=True,
    metavar="ITEM=FROM:TO",
    help="Item that is varied across the page.",
)
@click.option(
    "--up",
    default="head_angle=70:74",
    show_default=True,
    metavar="ITEM=FROM:TO",
    help="Item that is varied up the page.",
)
@click.option(
    "--figure",
    "keys",
    multiple=True,
    metavar="FIGURE",
    help="What is worked out, such as geometry.toe_gap or frame_torsion.torsion; by default trail and the head "
    "sideways.",
)
@click.option(
    "--steps", default=9, show_default=True, type=click.IntRange(3, 21), help="Values of each item."
)
@click.option(
    "-o",
    "--output",
    "outputs",
    multiple=True,
    type=click.Path(path_type=Path),
    help="Lines of equal value as .png, .svg or .pdf; every place as .csv or .xlsx; repeatable.",
)
@force_option
@reading_options
@case_options
@mesh_options
@json_option
def command(
    source: Path,
    as_json: bool,
    names: tuple[str, ...],
    mesh: "MeshOptions",
    across: str,
    up: str,
    keys: tuple[str, ...],
    steps: int,
    outputs: tuple[Path, ...],
    force: bool,
    **how: Any,
) -> int:
    """Sweep two items of INPUT: trail and stiffness over fork offset and head angle, or any others."""
    from ..converters.analysis import assumptions, case_maker
    from ..converters.files.choice.item_options import Stays
    from ..converters.files.choice.sweep_text import maker, swept_item
    from ..converters.showing.choice.sweep_table import sweep_json, sweep_tables
    from ..converters.showing.result_json import stamped
    from ..model.choice.sweep import sweep

    # before the sweep, whose work would be lost
    _check(outputs)
    reading = read(source, **how)
    bicycle = reading.need_bicycle()
    first, x = swept_item(bicycle, across, steps, "--across")
    second, y = swept_item(bicycle, up, steps, "--up")
    # one item cannot have two values
    if first.key == second.key:
        raise click.UsageError(f"--across and --up both vary the {first.label}; take two items")
    make = maker(bicycle, first, second, Stays(how["keep"], how["follow"]))
    cases_of = case_maker(reading, names, mesh)
    done = sweep(bicycle, x, y, make, keys or FIGURES, cases_of, mesh)
    found = [*reading.findings, *_gaps(done)]
    found += _write(done, bicycle.name or reading.source, outputs, force)
    if as_json:
        body = {"source": reading.source, **sweep_json(done)}
        show.print_json(stamped(reading, body, found, assumptions(reading)))
        return int(show.serious(found))
    for table in sweep_tables(done):
        show.shown(table)
        if table.notes:
            show.paragraph(f"{table.notes}.")
            print()
    print("".join(f"{path} written.\n" for path in outputs), end="")
    show.findings(found)
    show.assumed(assumptions(reading))
    show.caution()
    return int(show.serious(found))


def _check(outputs: tuple[Path, ...]) -> None:
    from ..converters.showing.picture.style import ENDINGS

    for path in outputs:
        if path.suffix.lower() not in (*ENDINGS, *LISTS):
            # the writers know one family of endings each, so the message would name only half
            raise click.UsageError(
                f"-o {path.name}: give a name that ends in {', '.join((*ENDINGS, *LISTS))}"
            )


def _gaps(done: "Sweep") -> "list[Finding]":
    from ..model.findings import Finding

    # places that cannot be built are holes in the picture, and are said
    if not done.impossible:
        return []
    return [
        Finding(
            "sweep-gaps",
            "info",
            f"{done.impossible} of {done.values[0].size} places hold no bicycle that can be built; they are left empty",
        )
    ]


def _write(done: "Sweep", title: str, outputs: tuple[Path, ...], force: bool) -> "list[Finding]":
    from ..converters.showing.choice.sweep_table import sweep_list
    from ..converters.showing.picture.sweep import save_sweep
    from ..converters.showing.spreadsheet import write_tables

    found: list[Finding] = []
    for path in outputs:
        if path.suffix.lower() in LISTS:
            write_tables([sweep_list(done)], path, "sweep", force)
        else:
            found += save_sweep(done, title, path, force)
    return found
