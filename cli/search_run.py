"""A search set up and driven: progress on stderr, every chunk stored, Ctrl-C answered, guides beside the grid."""

import os
import sys
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ..converters.files.choice.search_store import Format, Store
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


def set_up_search(
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


def run_search(search: "Search", wanted: Wanted, work: Work, guides: Guides, quiet: bool) -> Found:
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
