"""A search over all combinations of allowed tubes: set it up, run it in chunks on any executor, check it.

The full solver gives the reference and checks random samples; the fast path does the rest.
"""

from collections import deque
from collections.abc import Collection, Generator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from dataclasses import dataclass, replace
from hashlib import sha256

import numpy as np

from ..arrays import Array
from ..cases.view import all_idle_supports
from ..errors import ModelError
from ..findings import Finding
from ..frame.bicycle import Bicycle
from ..frame.layout import lay_out
from ..frame.mesh import MeshOptions
from ..reanalysis.fast_base import build_base
from ..reanalysis.fast_grid import FastGrid, shares
from ..reanalysis.fast_options import CaseMaker, condense_options
from ..threads import one_thread
from ..tubes.tube import Tube
from ..version import VERSION
from ..words import spoken
from .figures import MASSES, Figure, figures, find_figure, summed_masses, values
from .search_chunk import Goal, Kernel, Limits, Summary, Variants
from .search_rules import apply_rules
from .together import solved
from .workshop_rules import Rules

AGREEMENT = 1e-9  # relative difference allowed between fast path and full solver
SAMPLES = 5
CHUNK = 100_000
LARGEST = 10**9


@dataclass(frozen=True)
class Bound:
    """A limit as stated: at least or at most; in the figure's unit, or in percent of change against the reference."""

    key: str
    at_least: bool
    value: float
    percent: bool = False
    unit: str = ""

    @property
    def text(self) -> str:
        # Percent of change keeps its sign in the text: +3 % is a demand, 3 would be read as a size.
        if self.percent:
            number = f"{self.value:+g} %"
        else:
            number = f"{self.value:g} {self.unit}".strip()
        return f"{self.key} {'>=' if self.at_least else '<='} {number}"


@dataclass(frozen=True)
class Objective:
    """A figure to be made as great or as small as possible."""

    key: str
    greatest: bool

    @property
    def text(self) -> str:
        return f"{'max' if self.greatest else 'min'} {self.key}"


@dataclass(frozen=True, eq=False)
class Search:
    """A search ready to run. `tubes` and `options` are in the kernel's order (outermost first).

    reference : (f,) figures of the bicycle as it stands, by the full solver. dropped : options that the workshop
    rules took out before the search. findings : on how the load cases hold the bicycle as it stands.
    """

    bicycle: Bicycle
    cases_of: CaseMaker
    mesh_options: MeshOptions
    tubes: tuple[str, ...]
    options: tuple[tuple[Tube, ...], ...]
    reference: Array
    bounds: tuple[Bound, ...]
    objectives: tuple[Objective, ...]
    kernel: Kernel
    dropped: tuple[Finding, ...] = ()
    findings: tuple[Finding, ...] = ()

    @property
    def limit_texts(self) -> tuple[str, ...]:
        """What each limit of the summary is, in words: the bounds, then the excluding pairs of tubes."""
        pairs = tuple(
            f"workshop rules: {spoken(self.tubes[a])} with {spoken(self.tubes[b])}"
            for a, b, _ in self.kernel.excluded
        )
        return (*(bound.text for bound in self.bounds), *pairs)

    @property
    def objective_texts(self) -> tuple[str, ...]:
        return tuple(objective.text for objective in self.objectives)

    @property
    def size(self) -> int:
        return self.kernel.grid.size

    @property
    def figures(self) -> tuple[Figure, ...]:
        return self.kernel.figures

    def chosen(self, number: int) -> dict[str, Tube]:
        """Tube -> option of one variant."""
        picks = self.kernel.grid.choices(np.array([number]))[0]
        return {
            tube: options[k]
            for tube, options, k in zip(self.tubes, self.options, picks, strict=True)
        }

    def variant(self, number: int) -> Bicycle:
        """The bicycle of one variant."""
        return replace(self.bicycle, tubes={**self.bicycle.tubes, **self.chosen(number)})

    def in_full(self, number: int) -> Array:
        """(f,) figures of one variant by the full solver."""
        masses, results = solved(self.variant(number), self.cases_of, self.mesh_options)
        return np.array([*masses, *values(results)])

    def disagreement(self, numbers: Sequence[int]) -> float:
        """Largest relative difference of any figure between the fast path and the full solver.

        Raises
        ------
        ModelError
            Above `AGREEMENT`: then no figure of this search may be used.
        """
        # The same arithmetic in another order: only rounding may differ.
        quick = self.kernel.figures_of_list(np.asarray(numbers, dtype=np.int64)).T
        worst = 0.0
        for number, row in zip(numbers, quick, strict=True):
            full = self.in_full(int(number))
            difference = _relative(row, full)
            if not difference <= AGREEMENT:
                raise ModelError(
                    f"variant {number}: the fast path differs from the full solver by {difference:.1e}, "
                    f"allowed {AGREEMENT:.0e}; do not use this search, and report it"
                )
            worst = max(worst, difference)
        return worst

    def samples(self, count: int = SAMPLES, seed: int = 0) -> list[int]:
        """Random variant numbers, always with the first and the last."""
        # The corners of the grid hold the extreme tubes, where the fast path would fail first.
        numbers = np.random.default_rng(seed).integers(self.size, size=max(0, count - 2))
        return sorted({0, self.size - 1, *(int(n) for n in numbers)})

    def fingerprint(self, chunk: int) -> str:
        """SHA-256 over everything that decides the numbers: frame, options, cases, limits, mesh, chunks, version."""
        # A store that was made with anything else must not be continued.
        cases = self.cases_of(self.bicycle, lay_out(self.bicycle))
        pairs = [(a, b, excluded.tolist()) for a, b, excluded in self.kernel.excluded]
        held = (
            VERSION,
            chunk,
            self.bicycle,
            self.mesh_options,
            self.tubes,
            self.options,
            cases,
            self.bounds,
            self.objectives,
            pairs,
        )
        return sha256(repr(held).encode()).hexdigest()


def _relative(quick: Array, full: Array) -> float:
    """Largest difference relative to the figure; figures that are nothing beside the others count as absolute."""
    # A stiffness of something that does not move is infinite, in both or in neither.
    finite = np.isfinite(full)
    if not np.array_equal(finite, np.isfinite(quick)):
        return float("inf")
    # Beside figures of 1 to 1000, what is below a millionth is not motion but rounding.
    scale = np.maximum(np.abs(full[finite]), 1e-6)
    return float(np.max(np.abs(quick[finite] - full[finite]) / scale, initial=0.0))


@one_thread()
def set_up(
    bicycle: Bicycle,
    choices: Mapping[str, Sequence[Tube]],
    cases_of: CaseMaker,
    bounds: Sequence[Bound] = (),
    objectives: Sequence[Objective] = (),
    rules: Rules | None = None,
    options: MeshOptions | None = None,
) -> Search:
    """Condense all options and put limits, workshop rules and objectives on them.

    Raises
    ------
    ModelError
        For an empty or too large grid, an unknown figure, or what `condense_options` refuses.
    """
    options = options or MeshOptions()
    allowed = apply_rules(bicycle, choices, rules)
    _check_size(allowed.choices)
    # The bicycle as it stands, by the full solver: percent limits refer to it.
    masses, results = solved(bicycle, cases_of, options)
    known = (*MASSES, *figures([result.case for result in results.values()]))
    reference = np.array([*masses, *values(results)])
    condensed = condense_options(bicycle, allowed.choices, cases_of, options)
    families = condensed.families
    # Without a wish the lightest that keeps all limits is the useful answer.
    objectives = tuple(objectives) or (Objective("mass", greatest=False),)
    place = {family.tube: k for k, family in enumerate(families)}
    limits = tuple(_limits(bound, known, reference) for bound in bounds)
    goals = tuple(_goal(objective, known, reference) for objective in objectives)
    # The rules speak of tubes, the kernel of places in its own order.
    excluded = tuple((place[a], place[b], pairs) for (a, b), pairs in allowed.excluded.items())
    masses_of = tuple(family.masses for family in families)
    in_fork = tuple(family.tube in bicycle.plan.beside_the_frame for family in families)
    kernel = Kernel(
        FastGrid(build_base(condensed)),
        masses_of,
        summed_masses(condensed.fixed_masses, bicycle.plan),
        in_fork,
        known,
        limits,
        goals,
        excluded,
    )
    tubes = tuple(family.tube for family in families)
    tube_options = tuple(family.options for family in families)
    return Search(
        bicycle,
        cases_of,
        options,
        tubes,
        tube_options,
        reference,
        tuple(bounds),
        objectives,
        kernel,
        allowed.dropped,
        all_idle_supports(results),
    )


def _check_size(choices: Mapping[str, Sequence[Tube]]) -> None:
    if not choices:
        raise ModelError("no tube has options; name some, such as top_tube=25.4,28.6")
    size = 1
    for tube, tubes in choices.items():
        if not tubes:
            raise ModelError(f"{spoken(tube)}: no option is given")
        # Counted before anything is condensed: a mistyped catalogue must not fill the memory.
        size *= len(tubes)
    if size > LARGEST:
        raise ModelError(
            f"{size:.1e} combinations are more than {LARGEST:.0e}; leave some options out"
        )


def _limits(bound: Bound, known: Sequence[Figure], reference: Array) -> Limits:
    number = find_figure(known, bound.key)
    # Relative to the present figure, so that the limit does not depend on its unit.
    if bound.percent:
        value = reference[number] * (1 + bound.value / 100)
    else:
        value = bound.value
    if bound.at_least:
        low = value
        high = float("inf")
    else:
        low = -float("inf")
        high = value
    # An infinite stiffness has no size to measure rounding by.
    scale = float(reference[number])
    if not np.isfinite(scale):
        scale = 0.0
    return Limits(number, float(low), float(high), bound.text, scale)


def _goal(objective: Objective, known: Sequence[Figure], reference: Array) -> Goal:
    number = find_figure(known, objective.key)
    # Objectives of different units are compared in parts of the present figure.
    scale = abs(float(reference[number]))
    return Goal(
        number,
        -1.0 if objective.greatest else 1.0,
        scale if np.isfinite(scale) and scale > 0 else 1.0,
    )


@dataclass(frozen=True, eq=False)
class ChunkResult:
    """One finished chunk: its number, what it held, and its variants within the limits."""

    number: int
    summary: Summary
    within: Variants


def run(
    search: Search,
    executor: Executor | None = None,
    done: Collection[int] = (),
    chunk: int = CHUNK,
    ahead: int = 4,
) -> Generator[ChunkResult, None, None]:
    """Work out every chunk that is not done, yielding each as it is ready; without an executor one after another.

    At most `ahead` chunks are under way, so memory stays bounded. Closing the iterator drops what has not begun.
    """
    # Chunks follow the outermost tube, so that a chunk shares as much work as it can.
    todo = deque(
        (k, span)
        for k, span in enumerate(shares(search.kernel.grid.base.counts, chunk))
        if k not in done
    )
    # Without processes the order is that of the grid.
    if executor is None:
        for number, (start, stop) in todo:
            yield ChunkResult(number, *search.kernel.run(start, stop))
        return
    waiting: dict[Future[tuple[Summary, Variants]], int] = {}
    try:
        while todo or waiting:
            # A bounded number under way: memory does not grow with the search.
            while todo and len(waiting) < ahead:
                number, (start, stop) = todo.popleft()
                waiting[executor.submit(search.kernel.run, start, stop)] = number
            for future in wait(waiting, return_when=FIRST_COMPLETED).done:
                yield ChunkResult(waiting.pop(future), *future.result())
    finally:
        for future in waiting:
            future.cancel()
