"""Lines that touch end to end, followed from one to the next: circles and curves drawn as many short lines.

Vocabulary: a NODE is where ends meet; a WALK is a run of lines through nodes where exactly two lines meet.
"""

import numpy as np
from numpy.typing import NDArray

from ....model.arrays import Array
from .pairs import overlapping

MEETS = 0.02  # share of a line's length; ends nearer than this meet


def joined(ends: Array) -> NDArray[np.int64]:
    """Node number of each line end, (n, 2): ends nearer than MEETS share a node."""
    length = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    # thousands may meet in one point
    # the middle of a fan or hatch counts once, not in pairs of all its ends
    flat, which = np.unique(ends.reshape(-1, 2), axis=0, return_inverse=True)
    reach = np.zeros(len(flat))
    np.maximum.at(reach, which.ravel(), np.repeat(MEETS * length, 2))
    node = np.arange(len(flat))
    for i, j in overlapping(flat, flat, reach[:, None]):
        node = _merged(node, i, j)
    return node[which.ravel()].reshape(-1, 2)


def _merged(
    node: NDArray[np.int64], i: NDArray[np.int64], j: NDArray[np.int64]
) -> NDArray[np.int64]:
    """Node numbers after the nodes of points i and j have become one; a number is that of one of its points."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    apart = node[i] != node[j]
    if not apart.any():
        return node
    one = node[i[apart]]
    other = node[j[apart]]
    count = len(node)
    links = coo_matrix((np.ones(len(one), np.int8), (one, other)), shape=(count, count))
    group = connected_components(links, directed=False)[1]
    first = np.full(group.max() + 1, count)
    np.minimum.at(first, group, np.arange(count))
    return np.asarray(first[group[node]], np.int64)


def walks(node: NDArray[np.int64]) -> list[list[int]]:
    """Runs of lines (rows of `node`) through nodes where exactly two lines meet, in walking order."""
    at: dict[int, list[int]] = {}
    ends = node.tolist()
    for k, (a, b) in enumerate(ends):
        if a != b:
            at.setdefault(a, []).append(k)
            at.setdefault(b, []).append(k)
    found: list[list[int]] = []
    seen: set[int] = set()
    for k, (a, b) in enumerate(ends):
        if a == b or k in seen or (len(at.get(a, ())) != 2 and len(at.get(b, ())) != 2):
            continue  # a line back to its own start is no link: it would be walked past for ever
        ahead = _follow(k, b, ends, at, seen)
        # a closed walk has come back already; the other way round would double it
        if ahead[-1:] != [k]:
            behind = _follow(k, a, ends, at, seen)
        else:
            behind = []
        found.append(behind[::-1] + [k] + [m for m in ahead if m != k])
        seen.update(found[-1])
    return found


def _follow(
    start: int, at_node: int, node: list[list[int]], at: dict[int, list[int]], seen: set[int]
) -> list[int]:
    """Lines met walking away from `start` through `at_node`; ends with `start` itself when the walk closes."""
    run: list[int] = []
    here = start
    where = at_node
    while len(at.get(where, ())) == 2:
        a, b = at[where]
        if a == here:
            following = b
        else:
            following = a
        run.append(following)
        if following == start or following in seen:
            break
        ends = node[following]
        here = following
        where = ends[1] if ends[0] == where else ends[0]
    return run


def vertices_along(runs: list[Array]) -> Array:
    """Vertices along a walk, each line turned to start where the one before ended."""
    first = runs[0]
    second = runs[1]
    gap = [_least_gap(end, second) for end in (first[0], first[-1])]
    if gap[1] <= gap[0]:
        line = first
    else:
        line = first[::-1]
    out = [line]
    for run in runs[1:]:
        end = out[-1][-1]
        if np.hypot(*(run[0] - end)) <= np.hypot(*(run[-1] - end)):
            turned = run
        else:
            turned = run[::-1]
        out.append(turned[1:])
    return np.vstack(out)


def _least_gap(end: Array, run: Array) -> float:
    return float(min(np.hypot(*(run[0] - end)), np.hypot(*(run[-1] - end))))
