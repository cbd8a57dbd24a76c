"""The whole study of what the hands must supply: the need, how far it can be told, and what moves it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..arrays import Array
from ..errors import ModelError
from ..frame.bicycle import Bicycle
from .hands import SPEEDS, Band, Need, SetUp, draws, tube_steps, variations

WORTH_PERCENT = 0.1  # N*m*s/rad, a need below which percents of it say nothing


@dataclass(frozen=True)
class Change:
    """One change against the bicycle as given: its need, and the share of the draws in which it needs less."""

    name: str
    need: Need
    lower: float | None
    grams: float | None = None


@dataclass(frozen=True)
class HandsStudy:
    """The need as given, its band over the draws, what moves it, and every tube one trade size larger.

    steady : share of the draws in which the arms of the same draw damp enough. Without draws band and steady are None.
    """

    need: Need
    band: Band | None
    steady: float | None
    changes: tuple[Change, ...]
    tubes: tuple[Change, ...]
    draws: int

    def percent(self, change: Change) -> float | None:
        """The need's change in percent of the need as given; None where next to nothing is needed."""
        # Percents of next to nothing would look like large changes.
        if self.need.most < WORTH_PERCENT:
            return None
        return 100 * (change.need.most / self.need.most - 1)

    def per_10g(self, change: Change) -> float:
        """The need's change, N*m*s/rad, for 10 g more of the tube."""
        return 10 * (change.need.most - self.need.most) / (change.grams or np.nan)


def hands_study(
    bicycle: Bicycle, speeds: Sequence[float] | Array = SPEEDS, count: int = 40
) -> HandsStudy:
    """Everything `droptrail shimmy` leads with. count : draws of what nobody stated, 0 for none.

    Raises
    ------
    ModelError
        Without a rider, and as `hands_need` does.
    """
    if not bicycle.loads.rider_mass:
        raise ModelError(
            "nobody rides this bicycle: state the rider's mass, then what his hands must do is found"
        )
    usual = SetUp.of(bicycle)
    need = usual.need(speeds)
    sets = draws(bicycle.riding, count)
    band = None
    steady = None
    if count:
        band = usual.band(sets)
        arms = np.array([values["arms_damping"] for values in sets])
        steady = float(np.mean(band.samples <= arms))

    def compared(name: str, other: SetUp, grams: float | None = None) -> Change:
        lower = None
        if band is not None:
            lower = other.band(sets).lower_than(band)
        return Change(name, other.need(speeds), lower, grams)

    changes = tuple(compared(name, other) for name, other in variations(usual).items())
    tubes = tuple(compared(step.tube, step.setup, step.grams) for step in tube_steps(usual))
    return HandsStudy(need, band, steady, changes, tubes, count)
