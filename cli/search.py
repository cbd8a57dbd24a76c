"""`droptrail search`: every combination of allowed tubes, within limits, the best and the Pareto front."""

import os
import sys
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
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
    gathered,
    input_argument,
    json_option,
    mesh_options,
    read,
    reading_options,
    supports_option,
)

if TYPE_CHECKING:
    from ..converters.files.choice.search_store import Format, Store
    from ..converters.inputs import Reading
    from ..model.assumption import Assumed
    from ..model.choice.figures import Figure
    from ..model.choice.held import Held
    from ..model.choice.search import Search
    from ..model.choice.search_chunk import Summary
    from ..model.choice.wobble import BandRow
    from ..model.choice.workshop_rules import Joining, Rules
    from ..model.frame.bicycle import Bicycle
    from ..model.frame.mesh import MeshOptions
    from ..model.reanalysis.fast_options import CaseMaker
    from ..model.tubes.tube import Tube
    from ..model.vibration.setup import Supports


LARGE = 2_000_000  # variants from which more processes repay their start


@dataclass(frozen=True)
class Wanted:
    """What is searched: options per tube, limits, objectives, rules of the workshop."""

    options: tuple[str, ...]
    catalogue: Path | None
    limits: tuple[str, ...]
    objectives: tuple[str, ...]
    rules: bool
    joining: "Joining"
    skip: tuple[str, ...]

    @property
    def workshop(self) -> "Rules | None":
        from ..model.choice.workshop_rules import Rules

        if not self.rules:
            return None
        return Rules(joining=self.joining, skip=frozenset(self.skip))

    @property
    def limits_on_modes(self) -> tuple[str, ...]:
        # the text's first word is all that tells the two kinds of limit apart
        """Those that choose among the front: frequencies and wobble are too dear for every variant."""
        return tuple(text for text in self.limits if text.strip().startswith(("mode_", "wobble.")))

    @property
    def limits_on_figures(self) -> tuple[str, ...]:
        """Those that every variant is held against."""
        return tuple(text for text in self.limits if text not in self.limits_on_modes)


@dataclass(frozen=True)
class Work:
    """Where the search runs, and the store of what it finds."""

    store: Path | None
    resume: bool
    file_format: "Format | None"
    jobs: int | None
    scheduler: str | None
    chunk: int


@dataclass(frozen=True)
class Guides:
    """What is worked out beside the grid: ideal sizes, frequencies and wobble of the front."""

    wants_ideal: bool
    mode_count: int
    wobble: bool
    supports: "Supports"


@dataclass(frozen=True)
class Written:
    """Files that are written of the front, and the axes of its plot."""

    outputs: tuple[Path, ...]
    across: str | None
    up: str | None
    force: bool


@dataclass(frozen=True)
class Found:
    """What a search came to. difference : between fast path and full solver. finished : whether all was worked out.
    held : the best under every way to hold the cases. bands : the front's wobble over what nobody stated."""

    search: "Search"
    summary: "Summary"
    difference: float
    finished: bool
    ideal: Any
    vibration: Any
    held: "tuple[Held, ...]"
    bands: "tuple[BandRow, ...]" = ()


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
    search = _set_up(bicycle, case_maker(reading, names, mesh), mesh, options, wanted)
    found = _run(search, wanted, work, guides, quiet=as_json)
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


def _set_up(
    bicycle: "Bicycle",
    cases_of: "CaseMaker",
    mesh: "MeshOptions",
    options: "Mapping[str, Sequence[Tube]]",
    wanted: Wanted,
) -> "Search":
    from ..converters.files.choice.option_text import bound, objective
    from ..model.choice.figures import MASSES, figures
    from ..model.choice.search import set_up
    from ..model.frame.layout import lay_out

    # names of figures hang on the load cases, so those are set up before texts are read
    known = (*MASSES, *figures(cases_of(bicycle, lay_out(bicycle))))
    bounds = [bound(text, known) for text in wanted.limits_on_figures]
    objectives = [objective(text, known) for text in wanted.objectives]
    return set_up(bicycle, options, cases_of, bounds, objectives, wanted.workshop, mesh)


def _run(search: "Search", wanted: Wanted, work: Work, guides: Guides, quiet: bool) -> Found:
    """The search worked out, its best solved in full, and the guides beside it."""
    from ..converters.showing.choice.ideal_table import ideal_of
    from ..converters.showing.choice.search_modes import front_frequencies
    from ..converters.showing.choice.search_table import held_best
    from ..model.choice.frequencies import frequencies
    from ..model.choice.sights import both
    from ..model.choice.wobble import hands_bands, hands_figure

    # limits on modes wait for the front: they are too dear for every variant
    # samples first: a fast path that is wrong must not run for hours
    difference = search.disagreement(search.samples())
    running = Running(search, _open(search, work), work.chunk, quiet)
    summary, finished = running.run(work.jobs, work.scheduler)
    # an empty best has no variant to solve in full
    if len(summary.best):
        best = [int(number) for number in summary.best.numbers]
        # the larger of the two: the best may lie where the samples did not
        difference = max(difference, search.disagreement(best))
    ideal = None
    if guides.wants_ideal:
        ideal = ideal_of(search, wanted.workshop)
    vibration = None
    extra = None
    if guides.mode_count:
        extra = frequencies(search.bicycle, guides.mode_count, guides.supports, search.mesh_options)
    if guides.wobble:
        extra = both(extra, hands_figure())
    if extra is not None:
        # limits on modes choose among the front only, and the table says so
        vibration = front_frequencies(search, summary, extra, wanted.limits_on_modes)
    bands: tuple[BandRow, ...] = ()
    if guides.wobble and vibration is not None:
        front = [(f"no. {k}", search.variant(n)) for k, n in enumerate(vibration.numbers, 1)]
        bands = hands_bands([("as it stands", search.bicycle), *front])
    held = held_best(search, summary)
    return Found(search, summary, difference, finished, ideal, vibration, held, bands)


def _open(search: "Search", work: Work) -> "Store | None":
    from ..converters.files.choice.search_store import open_store

    if work.store is None:
        return None
    return open_store(work.store, search, work.chunk, work.file_format, work.resume)


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
        summary = kernel.nothing
        done: Collection[int] = frozenset()
        # what an earlier run finished is not worked out again
        if store:
            summary = store.summary()
            done = store.done
        if jobs is None:
            jobs = 1
            # starting a process costs seconds, which a small grid never wins back
            if self.search.size >= LARGE:
                jobs = os.cpu_count() or 1
        try:
            with (
                executor(jobs, scheduler) as pool,
                self._progress(summary.seen) as advance,
                # closed even when stopped, so that chunks not begun are dropped
                closing(run(self.search, pool, done, self.chunk)) as results,
            ):
                for result in results:
                    if store:
                        # stored before it is counted: what is counted must survive a stop
                        store.add(result)
                    summary = kernel.merged(summary, result.summary)
                    advance(result.summary.seen)
        # caught here and not at the top: what is done so far is still shown
        except KeyboardInterrupt:
            onward = "with --store it could be resumed"
            if store:
                onward = "go on with --resume"
            stopped = f"Stopped after {summary.seen} of {self.search.size} variants"
            # stderr: the table that follows may go into a file
            print(f"\n{stopped}; {onward}", file=sys.stderr)
        # compared by count: a resumed search may have been finished before it began
        return summary, summary.seen == self.search.size

    @contextmanager
    def _progress(self, seen: int) -> Iterator[Any]:
        # a bar drawn into a log file is a page of control characters
        if self.quiet or not sys.stderr.isatty():
            yield lambda count: None
            return
        from rich.console import Console
        from rich.progress import (
            BarColumn,
            MofNCompleteColumn,
            Progress,
            TextColumn,
            TimeRemainingColumn,
        )

        with Progress(
            TextColumn("variants"),
            BarColumn(),
            MofNCompleteColumn(),
            TextColumn("{task.fields[rate]}"),
            TimeRemainingColumn(),
            console=Console(stderr=True),
        ) as bar:
            # a resumed search starts where it stopped, else its bar would never fill
            task = bar.add_task("", total=self.search.size, completed=seen, rate="")

            def advance(count: int) -> None:
                bar.advance(task, count)
                speed = bar.tasks[0].speed
                # no speed is known before there are two readings to tell it from
                bar.update(task, rate=f"{speed:,.0f} per s" if speed else "")

            yield advance


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
