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
        for problem in self.base.problems:
            states = self._states(problem, first, end)
            step = max(1, LANES // last)
            for at in range(0, end - first, step):
                cut = slice(at, at + step)
                last_update(
                    states[cut], problem.added[-1], problem.loads, problem.pairs, out[:, cut]
                )
        flat = out.reshape(len(out), -1)
        return flat[:, start - first * last : stop - first * last]

    def _states(self, problem: FastProblem, first: int, end: int) -> Array:
        """(end - first, size, size) compliance after every tube but the last, for a range of prefixes."""
        states = problem.compliance[None]
        low = 0
        last = self.base.counts[-1]
        for rank, added, stride, count in zip(
            problem.ranks[:-1],
            problem.added[:-1],
            self.strides[:-1],
            self.base.counts[:-1],
            strict=True,
        ):
            prefixes = stride // last
            children = np.arange(first // prefixes, -(-end // prefixes))
            states = _updated(states, children // count - low, added, children % count, rank)
            low = first // prefixes
        return states

    def measured_list(self, choices: np.ndarray) -> Array:
        """(outputs, n) measures of single variants given by their (n, families) option numbers."""
        out = np.repeat(self.base.constant[:, None], len(choices), axis=1)
        for problem in self.base.problems:
            for at in range(0, len(choices), STACK):
                _all_at_once(problem, choices[at : at + STACK], out[:, at : at + STACK])
        return out

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
    states: Array, parents: np.ndarray, added: Array, option: np.ndarray, rank: int
) -> Array:
    """Each parent state with one option of the next tube built in; the tube's own rows are gone afterwards."""
    if not rank:
        return np.asarray(states[parents])
    out = np.empty((len(parents), states.shape[1] - rank, states.shape[1] - rank))
    for at in range(0, len(parents), STACK):
        cut = slice(at, at + STACK)
        state = states[parents[cut]]
        own = state[:, :rank, :rank] + added[option[cut]]
        rest = state[:, :rank, rank:]
        out[cut] = state[:, rank:, rank:] - np.swapaxes(rest, 1, 2) @ np.linalg.solve(own, rest)
    return out


def _all_at_once(problem: FastProblem, choices: np.ndarray, out: Array) -> None:
    """Every tube of each variant in one system: batched Cholesky of [[S, R], [Rᵀ, c]].

    The lower rows of the factor are Rᵀ L⁻ᵀ, so that one LAPACK call factors and substitutes; c (`Problem.border`)
    only keeps the bordered matrix positive definite.
    """
    tubes = sum(problem.ranks)
    bordered = np.repeat(problem.compliance[None], len(choices), axis=0)
    at = 0
    for k, (rank, added) in enumerate(zip(problem.ranks, problem.added, strict=True)):
        bordered[:, at : at + rank, at : at + rank] += added[choices[:, k]]
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
