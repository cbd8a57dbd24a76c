"""The Pareto front: what no other variant beats in every objective at once."""

import numpy as np

from ..arrays import Array


def front(costs: Array) -> np.ndarray:
    """Row numbers, ascending, of the non-dominated rows of (n, k) costs, all to be small.

    A row is dominated when another is nowhere worse and somewhere better; equal rows do not dominate one
    another, so variants that tie are all kept. Rows with a cost that is not finite are left out.
    """
    rows = np.flatnonzero(np.isfinite(costs).all(axis=1))
    if costs.shape[1] == 2:
        kept = _two(costs[rows])
    else:
        kept = _many(costs[rows])
    return np.sort(rows[kept])


def _two(costs: Array) -> np.ndarray:
    """Two objectives: along the sorted first, the second must fall below everything before it."""
    order = np.lexsort((costs[:, 1], costs[:, 0]))
    first = costs[order, 0]
    second = costs[order, 1]
    best_before = np.concatenate([[np.inf], np.minimum.accumulate(second)[:-1]])
    leads = second < best_before
    # The latest leader before each row: a row that equals it ties and is kept.
    leader = np.maximum.accumulate(np.where(leads, np.arange(len(order)), 0))
    if len(order):
        ties = (first == first[leader]) & (second == second[leader])
    else:
        ties = leads
    return np.asarray(order[leads | ties])


def _many(costs: Array) -> np.ndarray:
    """Take the row with the least sum - nothing left can dominate it - and drop all it dominates; repeat.

    Sums round monotonically, and ties of sums are broken by the columns, so that the order is safe.
    """
    # Objectives of different size: otherwise the largest alone would decide the sum.
    scale = np.abs(costs).max(axis=0, initial=0.0)
    scaled = costs / np.where(scale > 0, scale, 1.0)
    left = np.lexsort((*costs.T[::-1], scaled.sum(axis=1)))
    kept = []
    while len(left):
        leader = costs[left[0]]
        equal = (costs[left] == leader).all(axis=1)
        kept.append(left[equal])
        # What is nowhere below the leader is dominated by it, or equal and kept already.
        left = left[(costs[left] < leader).any(axis=1)]
    if kept:
        return np.concatenate(kept)
    return left
