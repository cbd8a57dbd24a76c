"""Figures of one bicycle over two of its items at once: a grid of geometries, solved together."""

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from math import nan

import numpy as np

from ..arrays import Array
from ..errors import FrameError, ModelError
from ..frame.bicycle import Bicycle
from ..frame.layout import lay_out
from ..frame.mesh import MeshOptions
from ..reanalysis.fast_options import CaseMaker
from .figures import MASSES, Figure, figures, find_figure
from .sights import sighted
from .together import figures_together

MOST = 441  # places of a grid, 21 x 21


@dataclass(frozen=True)
class SweptItem:
    """One item that is varied: stable name, words, unit, its values in rising order, and what it is at present."""

    name: str
    words: str
    unit: str
    values: tuple[float, ...]
    present: float


@dataclass(frozen=True, eq=False)
class Sweep:
    """What came out. values : (figures, up, across); nan where such a bicycle cannot be. impossible : how many."""

    across: SweptItem
    up: SweptItem
    figures: tuple[Figure, ...]
    values: Array
    impossible: int


def sweep(
    bicycle: Bicycle,
    across: SweptItem,
    up: SweptItem,
    make: Callable[[float, float], Bicycle],
    keys: Sequence[str],
    cases_of: CaseMaker,
    options: MeshOptions | None = None,
) -> Sweep:
    """Solve every combination of the two items.

    Parameters
    ----------
    make : (value across, value up) -> bicycle. keys : of figures, such as ``geometry.trail`` or
        ``side_push.head_sideways``; in this order.

    Raises
    ------
    ModelError
        For an unknown figure (the known are listed), too fine a grid, or a grid of which nothing can be built.
    """
    count = len(across.values) * len(up.values)
    if count > MOST:
        raise ModelError(
            f"{count} places are too many for a sweep (at most {MOST}); take wider steps"
        )
    seen = sighted(bicycle)
    known = (*MASSES, *figures(cases_of(bicycle, lay_out(bicycle))), *seen.figures)
    picked = [find_figure(known, key) for key in keys]
    # Geometry alone is seen at once; a grid of it needs no solving.
    needs_solving = any(not known[n].is_sight for n in picked)

    built = _built(make, across, up)
    # Places of the solved figures, empty where none of them is asked for.
    solved: Sequence[tuple[float, ...] | FrameError]
    solved = [(nan,) * (len(known) - len(seen.figures))] * len(built)
    if needs_solving:
        solved = figures_together([one for _, one in built], cases_of, options)
    values = np.full((len(picked), len(up.values), len(across.values)), nan)
    for ((row, column), one), held in zip(built, solved, strict=True):
        # No such bicycle can be: its place stays empty.
        if not isinstance(held, FrameError):
            with suppress(FrameError):
                every = [*held, *seen.values(one)]
                values[:, row, column] = [every[n] for n in picked]
    # Empty in every figure: a place where one figure alone is undefined was built all the same.
    impossible = int(np.isnan(values).all(axis=0).sum())
    if impossible == count:
        raise ModelError(
            f"no bicycle can be built anywhere on the grid of {across.words} and {up.words}; check the ranges"
        )
    return Sweep(across, up, tuple(known[n] for n in picked), values, impossible)


def _built(
    make: Callable[[float, float], Bicycle], across: SweptItem, up: SweptItem
) -> list[tuple[tuple[int, int], Bicycle]]:
    """Place (up, across) and bicycle of every combination that can be built."""
    built = []
    for row, y in enumerate(up.values):
        for column, x in enumerate(across.values):
            with suppress(FrameError):
                built.append(((row, column), make(x, y)))
    return built
