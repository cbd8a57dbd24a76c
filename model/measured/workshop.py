"""A workshop's own correction: measured over predicted, rig by rig, over the frames it has measured.

It is kept apart from every prediction and shown beside it; nothing is multiplied in silence.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..words import give_or_take
from .explain import Compared


@dataclass(frozen=True)
class Correction:
    """BenchReading over predicted of one rig's reading: frames behind it, mean ratio, standard deviation of the ratios.

    spread : NaN with a single frame, which tells no spread.
    """

    key: str
    frames: int
    ratio: float
    spread: float

    @property
    def words(self) -> str:
        """``measured is 0.94 of predicted, ±0.03, on 4 frames``."""
        if self.frames < 2:
            return f"measured is {self.ratio:.3f} of predicted, on one frame: no spread is known"
        spread = give_or_take(self.spread, 3)
        return f"measured is {self.ratio:.3f} of predicted, {spread}, on {self.frames} frames"


def corrections(frames: Sequence[Iterable[Compared]]) -> tuple[Correction, ...]:
    """One correction per rig and place over several frames; several readings of one frame count as their mean."""
    ratios: dict[str, list[float]] = {}
    for rows in frames:
        of_frame: dict[str, list[float]] = {}
        for row in rows:
            of_frame.setdefault(row.reading.key, []).append(row.ratio)
        for key, values in of_frame.items():
            ratios.setdefault(key, []).append(float(np.mean(values)))
    found = []
    for key, values in ratios.items():
        spread = float(np.std(values, ddof=1)) if len(values) > 1 else float("nan")
        found.append(Correction(key, len(values), float(np.mean(values)), spread))
    return tuple(found)


def by_key(known: Iterable[Correction]) -> Mapping[str, Correction]:
    """The corrections by what they are for."""
    return {one.key: one for one in known}
