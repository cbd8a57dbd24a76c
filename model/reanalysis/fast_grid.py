"""All combinations of tube options, solved by nested elimination: outer tubes once, the last one in a tight loop.

Variants are numbered like an odometer: the last family turns fastest. A range of numbers shares its leading
options, so each level of the nest is done once per distinct prefix; what is left per variant is one small update
of the last tube on the measured figures.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import prod

import numpy as np

from ..arrays import Array
from .fast_base import Base, FastProblem
from .fast_small import last_update, last_update_operations

LANES = (
    8192  # variants per innermost call: enough to hide the interpreter, few enough to stay in cache
)
STACK = 2048  # states per outer update


@dataclass(frozen=True, eq=False)
class FastGrid:
    """The grid of all options over one base."""

    base: Base

    @property
    def size(self) -> int:
        return prod(self.base.counts)

    @cached_property
    def strides(self) -> tuple[int, ...]:
        """Variants that share a prefix, per level."""
        counts = self.base.counts
        return tuple(prod(counts[k + 1 :]) for k in range(len(counts)))

    def choices(self, numbers: Array) -> np.ndarray:
        """(n, families) option numbers of variant numbers."""
        return np.stack(
            [
                numbers // stride % count
                for stride, count in zip(self.strides, self.base.counts, strict=True)
            ],
            axis=-1,
        )

    def measured(self, start: int, stop: int) -> Array:
        """(outputs, stop - start) measures of a range of variants, mm or rad."""
        if not 0 <= start <= stop <= self.size:
            raise IndexError(f"variants {start} to {stop} of {self.size}")
        last = self.base.counts[-1]
        first = start // last
        end = -(-stop // last)
        out = np.empty((len(self.base.constant), end - first, last))
        out[:] = self.base.constant[:, None, None]
        chords = self._chord_choices(len(self.base.counts) - 1, np.arange(first, end))
        for problem in self.base.problems:
            states = self._states(problem, first, end)
            step = max(1, LANES // last)
            for at in range(0, end - first, step):
                cut = slice(at, at + step)
                last_update(
                    states[cut],
                    problem.added[-1],
                    problem.loads,
                    problem.pairs,
                    out[:, cut],
                    chords[cut],
                )
        flat = out.reshape(len(out), -1)
        return flat[:, start - first * last : stop - first * last]

    def _states(self, problem: FastProblem, first: int, end: int) -> Array:
        """(end - first, size, size) compliance after every tube but the last, for a range of prefixes."""
        states = problem.compliance[None]
        low = 0
        last = self.base.counts[-1]
        for level in range(len(self.base.counts) - 1):
            count = self.base.counts[level]
            prefixes = self.strides[level] // last
            children = np.arange(first // prefixes, -(-end // prefixes))
            parents = children // count
            option = (self._chord_choices(level, parents), children % count)
            states = _updated(
                states, parents - low, problem.added[level], option, problem.ranks[level]
            )
            low = first // prefixes
        return states

    def _chord_choices(self, level: int, prefixes: np.ndarray) -> np.ndarray:
        """Number of the chords' choice for the family at this level; `prefixes` number the options of all families
        before it."""
        picked = np.zeros(len(prefixes), dtype=int)
        counts = self.base.counts
        for chord in self.base.chords[level]:
            option = prefixes // prod(counts[chord + 1 : level]) % counts[chord]
            picked = picked * counts[chord] + option
        return picked

    def measured_list(self, choices: np.ndarray) -> Array:
        """(outputs, n) measures of single variants given by their (n, families) option numbers."""
        out = np.repeat(self.base.constant[:, None], len(choices), axis=1)
        for problem in self.base.problems:
            for at in range(0, len(choices), STACK):
                picked = choices[at : at + STACK]
                options = [self._options(k, picked) for k in range(len(self.base.counts))]
                _all_at_once(problem, options, out[:, at : at + STACK])
        return out

    def _options(self, family: int, choices: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Number of the chords' choice and own option of one family, for (n, families) option numbers."""
        picked = np.zeros(len(choices), dtype=int)
        for chord in self.base.chords[family]:
            picked = picked * self.base.counts[chord] + choices[:, chord]
        return picked, choices[:, family]

    @property
    def operations(self) -> float:
        """Floating-point operations per variant over the whole grid, outer levels shared out."""
        return sum(self._problem_operations(problem) for problem in self.base.problems)

    def _problem_operations(self, problem: FastProblem) -> float:
        measures = len(problem.compliance) - sum(problem.ranks) - problem.loads
        total = float(
            last_update_operations(problem.ranks[-1], problem.loads, measures, len(problem.pairs))
        )
        size = len(problem.compliance)
        for rank, stride in zip(problem.ranks[:-1], self.strides[:-1], strict=True):
            size -= rank
            if rank:
                total += (
                    2 * rank**3 / 3 + 2 * rank**2 * size + 2 * rank * size**2 + rank**2
                ) / stride
        return total


def _updated(
    states: Array,
    parents: np.ndarray,
    added: Array,
    option: tuple[np.ndarray, np.ndarray],
    rank: int,
) -> Array:
    """Each parent state with one option of the next tube built in; the tube's own rows are gone afterwards."""
    if not rank:
        return np.asarray(states[parents])
    out = np.empty((len(parents), states.shape[1] - rank, states.shape[1] - rank))
    for at in range(0, len(parents), STACK):
        cut = slice(at, at + STACK)
        state = states[parents[cut]]
        own = state[:, :rank, :rank] + added[option[0][cut], option[1][cut]]
        rest = state[:, :rank, rank:]
        out[cut] = state[:, rank:, rank:] - np.swapaxes(rest, 1, 2) @ np.linalg.solve(own, rest)
    return out


def _all_at_once(
    problem: FastProblem, options: Sequence[tuple[np.ndarray, np.ndarray]], out: Array
) -> None:
    """Every tube of each variant in one system: batched Cholesky of [[S, R], [Rᵀ, c]].

    The lower rows of the factor are Rᵀ L⁻ᵀ, so that one LAPACK call factors and substitutes; c (`Problem.border`)
    only keeps the bordered matrix positive definite.
    """
    tubes = sum(problem.ranks)
    bordered = np.repeat(problem.compliance[None], out.shape[1], axis=0)
    at = 0
    for rank, added, option in zip(problem.ranks, problem.added, options, strict=True):
        bordered[:, at : at + rank, at : at + rank] += added[option]
        at += rank
    border = np.arange(tubes, bordered.shape[1])
    bordered[:, border, border] = problem.border
    factor = np.linalg.cholesky(bordered)
    rows = factor[:, tubes:, :tubes]
    for load, measure, output in problem.pairs:
        out[output] -= np.einsum("nk,nk->n", rows[:, load], rows[:, problem.loads + measure])


def shares(counts: Sequence[int], chunk: int) -> list[tuple[int, int]]:
    """Cut the grid into ranges of about `chunk` variants that start at a fresh option of the last family."""
    size = prod(counts)
    if counts:
        last = counts[-1]
    else:
        last = 1
    step = max(last, chunk // last * last)
    return [(start, min(start + step, size)) for start in range(0, size, step)]
