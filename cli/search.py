"""`droptrail search`: every combination of allowed tubes, within limits, the best and the Pareto front."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..model.findings import Finding
from ..model.words import spoken
from . import show
from .options import (
    case_options,
    force_option,
    gathered,
    input_argument,
    json_option,
    mesh_options,
    read,
    reading_options,
    supports_option,
)
from .search_run import Found, Guides, Wanted, Work, run_search, set_up_search

if TYPE_CHECKING:
    from ..converters.inputs import Reading
    from ..model.assumption import Assumed
    from ..model.choice.figures import Figure
    from ..model.choice.search import Search
    from ..model.frame.mesh import MeshOptions


@dataclass(frozen=True)
class Written:
    """Files that are written of the front, and the axes of its plot."""

    outputs: tuple[Path, ...]
    across: str | None
    up: str | None
    force: bool


def grid_options(command: Any) -> Any:
    """What is searched: options per tube, limits, objectives, workshop rules."""
    for option in (
        click.option(
            "--skip-rule",
            "skip",
            multiple=True,
            metavar="CODE",
            help="Leave one workshop rule out.",
        ),
        click.option(
            "--joining",
            type=click.Choice(["brazed", "welded", "lugged"]),
            default="brazed",
            # decorators stack from below: the list runs from the last shown to the first
            show_default=True,
            help="How the frame is joined; decides walls and lug sizes.",
        ),
        click.option(
            "--rules/--no-rules",
            default=True,
            show_default=True,
            help="Apply the rules of the workshop.",
        ),
        click.option(
            "--objective",
            "objectives",
            multiple=True,
            metavar="'max FIGURE'",
            help="What to make great or small, such as 'min mass'; the first one ranks the best.",
        ),
        click.option(
            "--limit",
            "limits",
            multiple=True,
            metavar="'FIGURE >= VALUE'",
            help="Limit on a figure, such as 'side_push.head_sideways >= +10%' or 'mass <= 1900 g'.",
        ),
        click.option(
            "--option",
            "options",
            multiple=True,
            required=True,
            metavar="TUBE=SIZE,SIZE",
            help="Options of one tube, such as top_tube=25.4,28.6x0.8/0.5/0.8, or top_tube=catalogue.",
        ),
        click.option(
            "--catalogue",
            type=click.Path(path_type=Path),
            help="Your own tubes (CSV or XLSX) instead of the generic ones.",
        ),
    ):
        command = option(command)
    return command


def running_options(command: Any) -> Any:
    """Where it runs and what is kept."""
    for option in (
        click.option(
            "--chunk",
            default=100_000,
            show_default=True,
            type=click.IntRange(1, 10_000_000),
            help="Variants per chunk of work.",
        ),
        click.option("--scheduler", metavar="tcp://HOST:PORT", help="Run on a Dask cluster."),
        click.option(
            "--jobs",
            type=click.IntRange(1, 1024),
            help="Processes on this machine; default one, or all cores for a large grid.",
        ),
        click.option(
            "--format",
            "file_format",
            type=click.Choice(["parquet", "csv"]),
            help="File format of the variants kept in the store; default Parquet where pyarrow is installed.",
        ),
        click.option("--resume", is_flag=True, help="Continue the search in the store."),
        click.option(
            "--store",
            type=click.Path(path_type=Path),
            help="Folder for every variant within the limits; a stopped search can be resumed from it.",
        ),
    ):
        command = option(command)
    return command


@click.command("search")
@input_argument
@grid_options
@running_options
@click.option(
    "-o",
    "--output",
    "outputs",
    multiple=True,
    type=click.Path(path_type=Path),
    help="Write the front as .xlsx or .csv, its plot as .png, .svg or .pdf; may be repeated.",
)
@click.option(
    "--ideal",
    "wants_ideal",
    is_flag=True,
    help="Also find ideal sizes between the options, and the best of the options nearest to them.",
)
@click.option(
    "--modes",
    "mode_count",
    default=0,
    metavar="N",
    help="Work out the N lowest frequencies of the front; limits such as 'mode_1 >= 3 Hz' choose among it.",
)
@supports_option
@click.option(
    "--wobble",
    is_flag=True,
    help="Work out what the hands must supply against wobble for the front; limits such as "
    "'wobble.hands_need <= 0.8' choose among it.",
)
@click.option(
    "--across", help="Figure on the plot's horizontal axis; default the second objective."
)
@click.option("--up", help="Figure on the plot's vertical axis; default the first objective.")
@force_option
@reading_options
@case_options
@mesh_options
@json_option
# next to the function, or the options above could not find their own names
@gathered(wanted=Wanted, work=Work, guides=Guides, written=Written)
def command(
    source: Path,
    as_json: bool,
    names: tuple[str, ...],
    mesh: "MeshOptions",
    wanted: Wanted,
    work: Work,
    guides: Guides,
    written: Written,
    **how: Any,
) -> int:
    """Search all combinations of tube options of INPUT. Ctrl-C keeps what is done."""
    from ..converters.analysis import assumptions, case_maker
    from ..converters.files.choice.variants_table import choices
    from ..model.choice.held import held_findings

    # before the reading: contradictions need no file to be seen
    _refuse_contradictions(wanted, work, guides)
    reading = read(source, **how)
    bicycle = reading.need_bicycle()
    doubts: list[Finding] = []
    options = choices(wanted.options, bicycle, wanted.catalogue, doubts)
    search = set_up_search(bicycle, case_maker(reading, names, mesh), mesh, options, wanted)
    found = run_search(search, wanted, work, guides, quiet=as_json)
    drawn = _write(found, written)
    turned = held_findings(found.held)
    findings = (*reading.findings, *doubts, *search.findings, *turned, *drawn)
    assumed = assumptions(reading)
    # progress runs on stderr, so stdout holds only the object
    if as_json:
        show.print_json(_json(reading, found, findings, assumed))
    else:
        print_search(found)
        print_held(found)
        print_guides(found)
        # the store was written all along; it is named with the other files, as a place to look
        for path in (*written.outputs, work.store):
            if path is not None:
                print(f"{path} written.")
        show.findings(findings)
        show.assumed(assumed)
        show.caution()
    # no best at all is a result to act on, like a finding
    return int(show.serious(findings) or not found.finished or not len(found.summary.best))


def _refuse_contradictions(wanted: Wanted, work: Work, guides: Guides) -> None:
    if work.resume and work.store is None:
        # without a folder there is nothing to go on from
        raise click.UsageError("--resume needs --store FOLDER")
    for text in wanted.limits_on_modes:
        # a limit on what is not worked out would be kept by every variant
        if text.strip().startswith("wobble.") and not guides.wobble:
            raise click.UsageError(f"--limit '{text}' needs --wobble")
        if text.strip().startswith("mode_") and not guides.mode_count:
            raise click.UsageError(f"--limit '{text}' needs --modes N")


def _write(found: Found, written: Written) -> list[Finding]:
    from ..converters.showing.choice.compare_table import write_comparison
    from ..converters.showing.choice.search_table import comparison_of, front_plot
    from ..converters.showing.picture.compare import save_plot
    from ..converters.showing.picture.style import ENDINGS

    findings: list[Finding] = []
    for path in written.outputs:
        if path.suffix.lower() in ENDINGS:
            plot = front_plot(found.search, found.summary, written.across, written.up)
            findings += save_plot(plot, path, written.force)
        else:
            front = comparison_of(found.search, found.summary.front)
            write_comparison(front, path, written.force)
    return findings


def _json(
    reading: "Reading", found: Found, findings: Sequence[Finding], assumed: Sequence["Assumed"]
) -> dict[str, Any]:
    from ..converters.showing.choice.held_table import held_json
    from ..converters.showing.choice.ideal_table import ideal_json
    from ..converters.showing.choice.search_modes import modes_json
    from ..converters.showing.choice.search_table import search_json
    from ..converters.showing.choice.wobble_table import bands_json
    from ..converters.showing.result_json import stamped

    body = {
        "source": reading.source,
        "input_sha256": reading.sha256,
        **search_json(found.search, found.summary, found.difference, found.finished),
        "held_how": held_json(found.held),
        "ideal": None,
        "modes": None,
    }
    if found.ideal is not None:
        body["ideal"] = ideal_json(found.ideal)
    if found.vibration is not None:
        body["modes"] = modes_json(found.vibration)
    if found.bands:
        body["hands_bands"] = bands_json(found.bands)
    return stamped(reading, body, findings, assumed)


def print_held(found: Found) -> None:
    """What becomes of the best where the bicycle is held otherwise."""
    from ..converters.showing.choice.held_table import held_table

    if len(found.summary.best):
        print()
        show.noted(held_table(one) for one in found.held)


def print_guides(found: Found) -> None:
    """The continuous optimum beside the real tubes, and the front's frequencies."""
    from ..converters.showing.choice import ideal_table, search_modes

    search = found.search
    if found.ideal is not None:
        print()
        rows = ideal_table.rows(found.ideal, search, found.summary)
        show.table(f"Ideal sizes for {search.objectives[0].text}", *rows)
        show.paragraph(ideal_table.words(found.ideal))
    if found.vibration is not None:
        print()
        show.table("Frequencies and wobble of the front", *search_modes.rows(found.vibration))
        show.paragraph(search_modes.words(found.vibration))
    if found.bands:
        from ..converters.showing.choice.wobble_table import band_table

        print()
        show.noted([band_table(found.bands)])


def print_search(found: Found) -> None:
    """What was searched, what binds, the best, the front."""
    from ..converters.showing.choice.search_table import SHOWN, binding, listing

    search = found.search
    summary = found.summary
    counts = [
        f"{len(options)} for the {spoken(tube)}"
        for tube, options in zip(search.tubes, search.options, strict=True)
    ]
    print(f"{search.size} combinations: {', '.join(counts)}")
    show.findings(search.dropped)
    stopped = ""
    if not found.finished:
        stopped = " (STOPPED, not all)"
    print(f"{summary.seen} worked out{stopped}, {summary.within} within all limits.\n")
    if search.limit_texts:
        show.table("What binds", *binding(search, summary))
    if not len(summary.best):
        print("No combination keeps all limits; see above which limit to give way on.")
        return
    best = listing(search, summary.best, len(summary.best))
    show.table(f"The best by {search.objectives[0].text}", *best)
    goals = "; ".join(objective.text for objective in search.objectives)
    front = f"Pareto front: {len(summary.front)} that no other beats in every objective ({goals})"
    if len(summary.front) > SHOWN:
        front += f", the first {SHOWN}"
    show.table(front, *listing(search, search.kernel.first(summary.front, SHOWN), SHOWN))
    for figure in _spoken_of(search):
        show.paragraph(f"{figure.title}: {figure.load or 'tubes only'}; {figure.supports}")
    print(
        "\nFast path against full solver, on random samples and on the best: at most "
        f"{found.difference:.0e} apart."
    )


def _spoken_of(search: "Search") -> "Iterable[Figure]":
    """One figure for each load case that an objective or a limit speaks of: its load and supports are to be said."""
    by_case = {}
    # by case and not by figure: load and supports are the same for all of its figures
    numbers = [goal.figure for goal in search.kernel.goals]
    numbers += [limit.figure for limit in search.kernel.limits]
    for number in numbers:
        figure = search.figures[number]
        by_case[figure.case] = figure
    return by_case.values()
