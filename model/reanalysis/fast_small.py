"""The innermost loop: small symmetric systems factored for many variants at once.

Arrays carry the variant as their last axes and the matrix entries as Python loops, so that every floating-point
operation runs over thousands of variants and no interpreter time is left per variant. L D Lᵀ without pivoting is
safe here: the matrices are sums of positive definite ones.
"""

from collections.abc import Callable, Sequence

import numpy as np

from ..arrays import Array


def last_update(
    states: Array,
    added: Array,
    loads: int,
    pairs: Sequence[tuple[int, int, int]],
    out: Array,
    chords: np.ndarray,
) -> None:
    """Add to `out[output]` what the outer tubes changed (in the states) and what each option of the last tube changes.

    states : (m, size, size) compliance, rows: the tube's r deformations, then loads, then measures.
    added : (choices of the chords, n, r, r) per option. out : (outputs, m, n), changed in place. chords : (m,) the
    choice that each state was made with.
    """
    rank = added.shape[2]
    work = np.empty((len(states), added.shape[1]))
    lower, inverse = _factor(states, _entries(added, chords), work, rank)
    # Each load and each measure is solved once, however many figures it stands in.
    load_columns = {rank + load for load, _, _ in pairs}
    measure_columns = {rank + loads + measure for _, measure, _ in pairs}
    columns = sorted(load_columns | measure_columns)
    solved = {column: _forward(states[:, :rank, column], lower, work) for column in columns}
    scaled: dict[int, list[Array]] = {}
    for load, measure, output in pairs:
        left = rank + load
        out[output] += states[:, left, rank + loads + measure, None]
        if left not in scaled:
            scaled[left] = [z * d for z, d in zip(solved[left], inverse, strict=True)]
        for a, b in zip(scaled[left], solved[rank + loads + measure], strict=True):
            np.multiply(a, b, out=work)
            out[output] -= work


def _entries(added: Array, chords: np.ndarray) -> Callable[[int, int], Array]:
    """Entry (i, j) of what is added, for each state (or one for all) and each option."""
    # One entry of all matrices in one piece of memory, so that a state's row is fetched in one go.
    table = np.ascontiguousarray(np.moveaxis(added, (2, 3), (0, 1)))
    if len(added) == 1:
        return lambda i, j: table[i, j]
    return lambda i, j: table[i, j][chords]


def _factor(
    states: Array, added: Callable[[int, int], Array], work: Array, rank: int
) -> tuple[list[list[Array]], list[Array]]:
    """Rows of the unit lower factor (strictly below the diagonal) and the inverse pivots, arrays over variants."""
    # Python loops over the rank (at most a dozen), arrays over the variants: one entry of all matrices at a time.
    s: list[list[Array]] = []
    for i in range(rank):
        s.append([states[:, i, j, None] + added(i, j) for j in range(i + 1)])
    inverse = []
    for j in range(rank):
        inverse.append(1.0 / s[j][j])
        below = [s[i][j] * inverse[j] for i in range(j + 1, rank)]
        for i in range(j + 1, rank):
            for k in range(j + 1, i + 1):
                np.multiply(s[i][j], below[k - j - 1], out=work)
                s[i][k] -= work
        for i in range(j + 1, rank):
            s[i][j] = below[i - j - 1]
    return [row[:-1] for row in s], inverse


def _forward(column: Array, lower: list[list[Array]], work: Array) -> list[Array]:
    """L⁻¹ times a right-hand side that does not depend on the option: (m, r) -> r arrays (m, n)."""
    z: list[Array] = []
    for i, row in enumerate(lower):
        value = np.broadcast_to(column[:, i, None], work.shape, subok=True)
        if i:
            value = value.copy()
        for factor, known in zip(row, z, strict=True):
            np.multiply(factor, known, out=work)
            value -= work
        z.append(value)
    return z


def last_update_operations(rank: int, loads: int, measures: int, pairs: int) -> int:
    """Floating-point operations per variant of `last_update`, counted as the loops above run."""
    sums = rank * (rank + 1) // 2
    # reciprocals, scaled columns, multiply-subtracts
    factor = rank + sum(k + k * (k + 1) for k in range(rank))
    forward = rank * (rank - 1) * (loads + measures)
    return sums + factor + forward + rank * loads + (2 * rank + 1) * pairs
