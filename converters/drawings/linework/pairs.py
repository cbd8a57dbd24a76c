"""Which boxes of a drawing overlap: counted and in small portions, so that tiles or a scan cannot fill the memory."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from ....model.arrays import Array
from ....model.errors import InputError
from ..dxf.budget import LESS

Index = NDArray[np.int64]

# boxes looked up at a time, pairs handed out at a time
BOXES = 64
PORTION = 500_000
MOST_PAIRS = 10_000_000  # of boxes; some two seconds. A full shop drawing has some ten thousand
MOST_TOGETHER = 2_000_000  # of pieces that lie on one line


def overlapping(low: Array, high: Array, grown_by: Array | float) -> Iterator[tuple[Index, Index]]:
    """(i, j) portion by portion: box j touches box i when that is grown on all sides. Boxes (n, 2) by two corners.

    Raises InputError when there are more pairs than any frame drawing has.
    """
    import shapely

    # Without a predicate the tree compares envelopes; a diagonal has its box's envelope and is made faster.
    tree = shapely.STRtree(shapely.linestrings(np.stack((low, high), axis=1)))
    grown = shapely.linestrings(np.stack((low - grown_by, high + grown_by), axis=1))
    count = 0
    waiting = 0
    held = []
    for start in range(0, len(grown), BOXES):
        i, j = tree.query(grown[start : start + BOXES])
        held.append((i + start, j))
        count += len(i)
        waiting += len(i)
        # in each portion, so that a drawing past the limit is refused before it is worked through
        check_count(count, MOST_PAIRS, len(low))
        if waiting > PORTION or start + BOXES >= len(grown):
            i, j = (np.concatenate(part) for part in zip(*held, strict=True))
            held = []
            waiting = 0
            yield from ((i[k : k + PORTION], j[k : k + PORTION]) for k in range(0, len(i), PORTION))


def check_count(pairs: int, most: int, lines: int) -> None:
    """Refuse a drawing whose lines meet more often than that."""
    if pairs > most:
        raise InputError(
            f"its {lines:,} lines lie on or across each other more than {most:,} times, far beyond any "
            f"frame drawing. {LESS}"
        )
