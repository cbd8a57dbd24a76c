"""Shakes every figure that is worked out by a relative 1e-11, as another processor's linear algebra would.

Which digits of a solution come out last depends on the kernel that the library picks for the processor. Choosing
one in a test would prove something about that one; shaking the figures at random proves it for all of them. What is
shaken is named in `DOORS`: each is the one place that every figure of its kind comes through.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest
from droptrail.model.geometry.dimensions import FrameDimensions
from droptrail.model.mechanics.assembly import Factor
from droptrail.model.mechanics.beam import Beams
from droptrail.model.reanalysis.fast_grid import FastGrid
from droptrail.model.vibration import modes

SHAKE = 1e-11  # a hundred times what kernels differ by, a hundredth of what `decide` allows


@dataclass
class Shaker:
    """Random factors close to one; counts how often each door was used, so that a test can see that it was."""

    rng: np.random.Generator
    size: float = SHAKE
    used: dict[str, int] | None = None

    def factors(self, door: str, shape: tuple[int, ...] = ()) -> Any:
        if self.used is not None:
            self.used[door] = self.used.get(door, 0) + 1
        return 1 + self.size * self.rng.uniform(-1, 1, shape)


def _beams(shaker: Shaker, of: Callable[..., Beams]) -> Callable[..., Beams]:
    """Each element a little stiffer or softer: left and right of a pair are then never quite equal."""

    def shaken(model: Any) -> Beams:
        beams = of(model)
        factors = shaker.factors("element", (len(beams.k_full), 1, 1))
        return replace(beams, k_full=beams.k_full * factors)

    return shaken


def _factor(shaker: Shaker, solve: Callable[..., Any]) -> Callable[..., Any]:
    """A whole solution at once: single unknowns shaken alone would put the frame out of balance by its stiffness."""

    def shaken(self: Factor, right: Any) -> Any:
        return solve(self, right) * shaker.factors("solution", right.shape[1:])

    return shaken


def _figures(shaker: Shaker, worked: Callable[..., Any]) -> Callable[..., Any]:
    def shaken(self: FastGrid, *args: Any) -> Any:
        values = worked(self, *args)
        return values * shaker.factors("search", values.shape)

    return shaken


def _roots(shaker: Shaker, pairs: Callable[..., Any]) -> Callable[..., Any]:
    def shaken(*args: Any) -> Any:
        roots, vectors, rigid = pairs(*args)
        return np.sort(roots * shaker.factors("root", roots.shape)), vectors, rigid

    return shaken


def _derived(shaker: Shaker, derived: Callable[..., Any]) -> Callable[..., Any]:
    def shaken(self: FrameDimensions) -> dict[str, float | None]:
        values = {}
        for name, value in derived(self).items():
            values[name] = value
            if value is not None:
                values[name] = value * float(shaker.factors("dimension"))
        return values

    return shaken


DOORS = ("element", "solution", "search", "root", "dimension")


@contextmanager
def shaken(seed: int, size: float = SHAKE) -> Iterator[dict[str, int]]:
    """Everything worked out inside is shaken; gives how often each of `DOORS` was used."""
    used: dict[str, int] = {}
    shaker = Shaker(np.random.default_rng(seed), size, used)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Beams, "of", staticmethod(_beams(shaker, Beams.of)))
        patch.setattr(Factor, "solve", _factor(shaker, Factor.solve))
        for name in ("measured", "measured_list"):
            patch.setattr(FastGrid, name, _figures(shaker, getattr(FastGrid, name)))
        patch.setattr(modes, "lowest_pairs", _roots(shaker, modes.lowest_pairs))
        patch.setattr(FrameDimensions, "derived", _derived(shaker, FrameDimensions.derived))
        yield used
