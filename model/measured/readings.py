"""Readings of a workshop: on a rig under a load, of a frame tapped on strings, of the scales."""

from dataclasses import dataclass
from math import isfinite
from typing import Literal

from ..errors import ModelError

Kind = Literal["deflection", "tap", "weight"]
SMALLEST_DOUBT = 1e-6  # of the reading; no workshop reads finer


@dataclass(frozen=True)
class BenchReading:
    """One reading.

    kind : what was measured. rig : the load case's name; the pieces that hung on the strings (``frame+fork``); '' for
    the scales. place : the measure of the case; the number of the mode, lowest first; the tube or piece weighed.
    load : N, or N*mm for a turn, None where the case's own load was used. value, doubt : mm or degrees, Hz, g; the
    doubt is what the reader would bet on, one standard deviation. where : row of the file. unit : ``mm`` or ``deg``
    as it was written, '' where none was. turning : whether the load was written as a turn, None where nobody said.
    """

    kind: Kind
    rig: str
    place: str
    load: float | None
    value: float
    doubt: float
    where: str = ""
    unit: str = ""
    turning: bool | None = None

    def __post_init__(self) -> None:
        if not (isfinite(self.value) and self.value != 0):
            raise ModelError(
                f"{self.where}: the reading is {self.value}; a number other than 0 is expected"
            )
        if not (isfinite(self.doubt) and self.doubt > 0):
            raise ModelError(
                f"{self.where}: the doubt of the reading is {self.doubt}; say how far it may be off, such as 0.05 for "
                "a dial gauge or 1 for scales"
            )
        size = abs(self.value)
        if not SMALLEST_DOUBT * size <= self.doubt < size:
            raise ModelError(
                f"{self.where}: the doubt is {self.doubt:g} of a reading of {self.value:g}, expected a small part of "
                "it; check the point, the unit and the column of both"
            )
        if self.load is not None and not (isfinite(self.load) and self.load > 0):
            raise ModelError(f"{self.where}: the load is {self.load}; a number above 0 is expected")

    @property
    def key(self) -> str:
        """What a correction is kept under: ``bench_head.weight_sinks``, ``tap frame.1``, ``weight.frame``."""
        return f"{self.rig or 'weight'}.{self.place}"
