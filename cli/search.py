"""`droptrail search`: every combination of allowed tubes, within limits, the best and the Pareto front."""

import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
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
    input_argument,
    json_option,
    mesh_options,
    read,
    reading_options,
)

if TYPE_CHECKING:
    from ..converters.files.choice.search_store import Store
    from ..model.choice.search import Search
    from ..model.choice.search_chunk import Summary
    from ..model.frame.mesh import MeshOptions


LARGE = 2_000_000  # variants from which more processes repay their start


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
            "--chunk", default=100_000, show_default=True, help="Variants per chunk of work."
        ),
        click.option("--scheduler", metavar="tcp://HOST:PORT", help="Run on a Dask cluster."),
        click.option(
            "--jobs",
            type=int,
            help="Processes on this machine; default one, or all cores for a large grid.",
        ),
        click.option(
            "--format",
            "file_format",
            type=click.Choice(["parquet", "csv"]),
            help="File format of the variants kept in the store; default Parquet where pyarrow is installed.",
        ),
        click.option("--resume", is_flag=True, help="Go on with the search in the store."),
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
@click.option(
    "--supports",
    type=click.Choice(["rigid", "tyres", "free"]),
    default="tyres",
    show_default=True,
    help="What holds the bicycle when it vibrates.",
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
def command(
    source: Path,
    as_json: bool,
    names: tuple[str, ...],
    mesh: "MeshOptions",
    options: tuple[str, ...],
    catalogue: Path | None,
    limits: tuple[str, ...],
    objectives: tuple[str, ...],
    rules: bool,
    joining: Any,
    skip: tuple[str, ...],
    store: Path | None,
    resume: bool,
    file_format: Any,
    jobs: int | None,
    scheduler: str | None,
    chunk: int,
    outputs: tuple[Path, ...],
    wants_ideal: bool,
    mode_count: int,
    supports: Any,
    across: str | None,
    up: str | None,
    force: bool,
    **how: Any,
) -> int:
    """Search all combinations of tube options of INPUT. Ctrl-C keeps what is done."""
    from ..converters.analysis import assumptions, case_maker
    from ..converters.files.choice.variants_table import choices
    from ..converters.showing.result_json import stamped
    from ..model.choice.workshop_rules import Rules
    from ..model.findings import Finding

    if resume and store is None:
        raise click.UsageError("--resume needs --store FOLDER")
    reading = read(source, **how)
    if rules:
        workshop = Rules(joining=joining, skip=frozenset(skip))
    else:
        workshop = None
    on_modes = tuple(text for text in limits if text.strip().startswith("mode_"))
    if on_modes and not mode_count:
        raise click.UsageError(f"--limit '{on_modes[0]}' needs --modes N")
    bicycle = reading.need_bicycle()
    doubts: list[Finding] = []
    search = _set_up(
        bicycle,
        case_maker(reading, names, mesh),
        mesh,
        choices(options, bicycle, catalogue, doubts),
        [text for text in limits if text not in on_modes],
        objectives,
        workshop,
    )
    difference = search.disagreement(search.samples())
    kept = _open(store, search, chunk, file_format, resume)
    summary, finished = Running(search, kept, chunk, quiet=as_json).run(jobs, scheduler)
    if len(summary.best):
        difference = max(difference, search.disagreement([int(n) for n in summary.best.numbers]))
    if wants_ideal:
        ideal = _ideal(search, workshop)
    else:
        ideal = None
    if mode_count:
        vibration = _vibration(search, summary, mode_count, supports, on_modes)
    else:
        vibration = None
    drawn = _write(search, summary, outputs, across, up, force)
    findings = (*reading.findings, *doubts, *search.findings, *drawn)
    assumed = assumptions(reading)
    if as_json:
        from ..converters.showing.choice.search_table import search_json

        body = {
            "source": reading.source,
            "input_sha256": reading.sha256,
            **search_json(search, summary, difference, finished),
            **_guides_json(ideal, vibration),
        }
        show.print_json(stamped(reading, body, findings, assumed))
    else:
        print_search(search, summary, difference, finished)
        print_guides(search, summary, ideal, vibration)
        print(
            "".join(f"{path} written.\n" for path in (*outputs, *((store,) if store else ()))),
            end="",
        )
        show.findings(findings)
        show.assumed(assumed)
        print(show.CAUTION)
    return int(show.serious(findings) or not finished or not len(summary.best))


def _set_up(
    bicycle: Any,
    cases_of: Any,
    mesh: Any,
    options: Any,
    limits: Sequence[str],
    objectives: tuple[str, ...],
    rules: Any,
) -> "Search":
    from ..converters.files.choice.option_text import bound, objective
    from ..model.choice.figures import MASSES, figures
    from ..model.choice.search import set_up
    from ..model.frame.layout import lay_out

    known = (*MASSES, *figures(cases_of(bicycle, lay_out(bicycle))))
    return set_up(
        bicycle,
        options,
        cases_of,
        [bound(text, known) for text in limits],
        [objective(text, known) for text in objectives],
        rules,
        mesh,
    )


def _open(
    folder: Path | None, search: "Search", chunk: int, file_format: Any, resume: bool
) -> "Store | None":
    from ..converters.files.choice.search_store import open_store

    if folder is None:
        return None
    return open_store(folder, search, chunk, file_format, resume)


@dataclass
class Running:
    """Drives a search: progress on stderr, every finished chunk merged and stored, Ctrl-C answered."""

    search: "Search"
    store: "Store | None"
    chunk: int
    quiet: bool = False

    def run(self, jobs: int | None, scheduler: str | None) -> "tuple[Summary, bool]":
        """(summary of all that is done, whether that is everything)."""
        from ..converters.files.choice.executors import executor
        from ..model.choice.search import run

        kernel = self.search.kernel
        store = self.store
        if store:
            summary = store.summary()
        else:
            summary = kernel.nothing
        if store:
            done = store.done
        else:
            done = frozenset()
        if jobs is None:
            if self.search.size < LARGE:
                jobs = 1
            else:
                jobs = os.cpu_count() or 1
        try:
            with (
                executor(jobs, scheduler) as pool,
                self._progress(summary.seen) as advance,
                closing(run(self.search, pool, done, self.chunk)) as results,
            ):
                for result in results:
                    if store:
                        store.add(result)
                    summary = kernel.merged(summary, result.summary)
                    advance(result.summary.seen)
        except KeyboardInterrupt:
            print(
                f"\nStopped after {summary.seen} of {self.search.size} variants"
                + ("; go on with --resume" if store else "; with --store it could be resumed"),
                file=sys.stderr,
            )
        return summary, summary.seen == self.search.size

    @contextmanager
    def _progress(self, seen: int) -> Iterator[Any]:
        from rich.console import Console
        from rich.progress import (
            BarColumn,
            MofNCompleteColumn,
            Progress,
            TextColumn,
            TimeRemainingColumn,
        )

        hidden = self.quiet or not sys.stderr.isatty()
        with Progress(
            TextColumn("variants"),
            BarColumn(),
            MofNCompleteColumn(),
            TextColumn("{task.fields[rate]}"),
            TimeRemainingColumn(),
            console=Console(stderr=True),
            disable=hidden,
        ) as bar:
            task = bar.add_task("", total=self.search.size, completed=seen, rate="")

            def advance(count: int) -> None:
                bar.advance(task, count)
                speed = bar.tasks[0].speed
                bar.update(task, rate=f"{speed:,.0f} per s" if speed else "")

            yield advance


def _write(
    search: Any,
    summary: Any,
    outputs: tuple[Path, ...],
    across: str | None,
    up: str | None,
    force: bool,
) -> list[Finding]:
    from ..converters.showing.choice.compare_table import write_comparison
    from ..converters.showing.choice.search_table import comparison_of, front_plot
    from ..converters.showing.picture.compare import save_plot
    from ..converters.showing.picture.style import ENDINGS

    found: list[Finding] = []
    for path in outputs:
        if path.suffix.lower() in ENDINGS:
            found += save_plot(front_plot(search, summary, across, up), path, force)
        else:
            write_comparison(comparison_of(search, summary.front), path, force)
    return found


def _ideal(search: Any, rules: Any) -> Any:
    from ..converters.showing.choice.ideal_table import ideal_of

    return ideal_of(search, rules)


def _vibration(
    search: Any, summary: Any, count: int, supports: Any, limits: tuple[str, ...]
) -> Any:
    from ..converters.showing.choice.search_modes import front_frequencies

    return front_frequencies(search, summary, count, supports, limits)


def _guides_json(ideal: Any, vibration: Any) -> dict[str, Any]:
    from ..converters.showing.choice.ideal_table import ideal_json
    from ..converters.showing.choice.search_modes import modes_json

    return {
        "ideal": None if ideal is None else ideal_json(ideal),
        "modes": None if vibration is None else modes_json(vibration),
    }


def print_guides(search: Any, summary: Any, ideal: Any, vibration: Any) -> None:
    """The continuous optimum beside the real tubes, and the front's frequencies."""
    from ..converters.showing.choice import ideal_table, search_modes

    if ideal is not None:
        print()
        show.table(
            f"Ideal sizes for {search.objectives[0].text}",
            *ideal_table.rows(ideal, search, summary),
        )
        show.paragraph(ideal_table.words(ideal))
    if vibration is not None:
        print()
        show.table("Natural frequencies of the front", *search_modes.rows(vibration))
        show.paragraph(search_modes.words(vibration))


def print_search(search: Any, summary: Any, difference: float, finished: bool) -> None:
    """What was searched, what binds, the best, the front."""
    from ..converters.showing.choice.search_table import SHOWN, binding, listing

    counts = [
        f"{len(options)} for the {spoken(tube)}"
        for tube, options in zip(search.tubes, search.options, strict=True)
    ]
    print(f"{search.size} combinations: {', '.join(counts)}")
    show.findings(search.dropped)
    if finished:
        stopped = ""
    else:
        stopped = " (STOPPED, not all)"
    print(f"{summary.seen} worked out{stopped}, {summary.within} within all limits.\n")
    if search.limit_texts:
        show.table("What binds", *binding(search, summary))
    if not len(summary.best):
        print("No combination keeps all limits; see above which limit to give way on.")
        return
    goals = "; ".join(objective.text for objective in search.objectives)
    show.table(
        f"The best by {search.objectives[0].text}",
        *listing(search, summary.best, len(summary.best)),
    )
    show.table(
        f"Pareto front: {len(summary.front)} that no other beats in every objective ({goals})"
        + (f", the first {SHOWN}" if len(summary.front) > SHOWN else ""),
        *listing(search, search.kernel.first(summary.front, SHOWN), SHOWN),
    )
    for figure in {
        search.figures[n].case: search.figures[n]
        for n in (g.figure for g in (*search.kernel.goals, *search.kernel.limits))
    }.values():
        show.paragraph(f"{figure.title}: {figure.load or 'tubes only'}; {figure.supports}")
    print(
        f"\nFast path against full solver, on random samples and on the best: at most {difference:.0e} apart."
    )
