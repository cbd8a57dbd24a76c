"""One stretch of a search: figures of all its variants, what is within bounds, and a summary that can be merged.

Everything here is plain arrays, so that it travels to a worker process or another machine as it is.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from ..arrays import Array
from ..decide import at_least, at_most
from ..reanalysis.fast_grid import FastGrid
from .figures import Figure
from .pareto import front

BEST = 10  # variants kept in the list of the best
DIGITS = 9  # objectives are compared to so many decimals of the reference: finer differences are rounding


@dataclass(frozen=True)
class Limits:
    """Lower and upper limit of one figure, absolute; `text` as the user wrote it.

    scale : size of the figure in the bicycle as it stands, which rounding is measured by.
    """

    figure: int
    low: float
    high: float
    text: str = ""
    scale: float = 0.0

    def broken(self, figures: Array) -> np.ndarray:
        value = figures[self.figure]
        kept = at_least(value, self.low, self.scale) & at_most(value, self.high, self.scale)
        return np.asarray(~kept)


@dataclass(frozen=True)
class Goal:
    """One objective: which figure, sign +1 to make it small and -1 to make it great, its scale."""

    figure: int
    sign: float
    scale: float


@dataclass(frozen=True, eq=False)
class Variants:
    """Some variants: numbers (m,) in the grid and figures (m, f)."""

    numbers: np.ndarray
    figures: Array

    def __len__(self) -> int:
        return len(self.numbers)

    def pick(self, rows: np.ndarray) -> "Variants":
        return Variants(self.numbers[rows], self.figures[rows])

    @classmethod
    def joined(cls, parts: Iterable["Variants"]) -> "Variants":
        held = list(parts)
        numbers = np.concatenate([part.numbers for part in held])
        figures = np.concatenate([part.figures for part in held])
        return cls(numbers, figures)


@dataclass(frozen=True, eq=False)
class Summary:
    """What is known of the variants seen so far.

    seen, within : how many, and how many keep all limits. broken, alone : per limit, how many break it, and how
    many break nothing else. without : per limit, the variant that would be best if only that limit were dropped
    (empty where none). best : up to `BEST` by the first objective. front : non-dominated within the limits.
    """

    seen: int
    within: int
    broken: np.ndarray
    alone: np.ndarray
    without: tuple[Variants, ...]
    best: Variants
    front: Variants


@dataclass(frozen=True, eq=False)
class Kernel:
    """All that is needed to work out any stretch of a grid.

    masses : per family (options,) g. fixed : g of the unchanging tubes (all, frame only). fork : per family whether
    its mass belongs to the fork. figures : mass, frame mass, then the measured ones. excluded : (family, family,
    (options, options) true where the two do not go together), each counted as one more limit.
    """

    grid: FastGrid
    masses: tuple[Array, ...]
    fixed: tuple[float, float]
    fork: tuple[bool, ...]
    figures: tuple[Figure, ...]
    limits: tuple[Limits, ...]
    goals: tuple[Goal, ...]
    excluded: tuple[tuple[int, int, np.ndarray], ...] = ()

    def figures_of(self, start: int, stop: int) -> Array:
        """(f, stop - start) figures of a range of variants."""
        return self._figures(self.grid.measured(start, stop), np.arange(start, stop))

    def figures_of_list(self, numbers: np.ndarray) -> Array:
        """(f, n) figures of single variants."""
        return self._figures(self.grid.measured_list(self.grid.choices(numbers)), numbers)

    def _figures(self, measured: Array, numbers: np.ndarray) -> Array:
        out = np.empty((len(self.figures), len(numbers)))
        # Tubes that are not varied weigh the same in every variant.
        out[0], out[1] = self.fixed
        for picks, masses, fork in zip(
            self.grid.choices(numbers).T, self.masses, self.fork, strict=True
        ):
            grams = masses[picks]
            out[0] += grams
            # The frame's mass is what a builder weighs: without fork.
            if not fork:
                out[1] += grams
        for row, (figure, value) in enumerate(
            zip(self.figures[2:], measured, strict=True), start=2
        ):
            out[row] = figure.of(value)
        return out

    def costs(self, figures: Array) -> Array:
        """(n, goals) of (n, f) figures, all to be small, rounded to `DIGITS`."""
        columns = [
            # rounded, because two ways of summing must not make one variant beat its equal
            goal.sign * np.round(figures[:, goal.figure] / goal.scale, DIGITS)
            for goal in self.goals
        ]
        return np.stack(columns, axis=1)

    def run(self, start: int, stop: int) -> tuple[Summary, Variants]:
        """Summary of a range and its variants within the limits."""
        figures = self.figures_of(start, stop)
        broken = self._broken(figures, np.arange(start, stop))
        # how many limits each variant breaks: breaking one alone shows which limit binds
        count = broken.sum(axis=0)
        alone = broken & (count == 1)
        within = Variants(
            # numbers in the whole grid, so that chunks can be joined in any order
            start + np.flatnonzero(count == 0),
            np.ascontiguousarray(figures[:, count == 0].T),
        )
        without = tuple(self.first(_picked(start, figures, row), 1) for row in alone)
        summary = Summary(
            stop - start,
            len(within),
            broken.sum(axis=1),
            alone.sum(axis=1),
            without,
            self.first(within, BEST),
            self.not_dominated(within),
        )
        return summary, within

    def _broken(self, figures: Array, numbers: np.ndarray) -> np.ndarray:
        """(limits, n): limits on figures, then the excluding pairs."""
        rows = [limit.broken(figures) for limit in self.limits]
        if self.excluded:
            picks = self.grid.choices(numbers)
            rows += [pairs[picks[:, a], picks[:, b]] for a, b, pairs in self.excluded]
        return np.array(rows, dtype=bool).reshape(-1, len(numbers))

    def first(self, variants: Variants, count: int) -> Variants:
        """The best so many by the first objective; ties by the other objectives, then by number."""
        costs = self.costs(variants.figures)
        if len(costs) > 4 * count:  # the full sort only has to see what can win
            # ties of the last place stay in: they are settled by the other objectives below
            limit = np.partition(costs[:, 0], count - 1)[count - 1]
            variants = variants.pick(np.flatnonzero(costs[:, 0] <= limit))
            costs = self.costs(variants.figures)
        return variants.pick(np.lexsort((variants.numbers, *costs.T[::-1]))[:count])

    def not_dominated(self, variants: Variants) -> Variants:
        return variants.pick(front(self.costs(variants.figures)))

    def merged(self, one: Summary, other: Summary) -> Summary:
        """Two summaries as one; order and grouping do not matter."""
        without = tuple(
            self.first(Variants.joined(pair), 1)
            for pair in zip(one.without, other.without, strict=True)
        )
        return Summary(
            one.seen + other.seen,
            one.within + other.within,
            one.broken + other.broken,
            one.alone + other.alone,
            without,
            # the best of the whole are among the best of the parts
            self.first(Variants.joined((one.best, other.best)), BEST),
            # sorted first: the front must not depend on which process finished earlier
            self.not_dominated(_in_order(Variants.joined((one.front, other.front)))),
        )

    @property
    def nothing(self) -> Summary:
        """The summary of no variants."""
        none = Variants(np.zeros(0, dtype=np.int64), np.zeros((0, len(self.figures))))
        zeros = np.zeros(len(self.limits) + len(self.excluded), dtype=np.int64)
        return Summary(0, 0, zeros, zeros, (none,) * len(zeros), none, none)


def _picked(start: int, figures: Array, chosen: np.ndarray) -> Variants:
    rows = np.flatnonzero(chosen)
    return Variants(start + rows, figures[:, rows].T)


def _in_order(variants: Variants) -> Variants:
    return variants.pick(np.argsort(variants.numbers, kind="stable"))
