"""The figures a comparison or search speaks of: every measured stiffness, and the mass of the tubes.

A figure has a stable key (``side_push.head_sideways``, ``mass``), a unit, and the load and supports that make it.
Stiffness is taken where a measure has a reference load, else its displacement.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import pi

import numpy as np

from ..arrays import Array
from ..errors import ModelError
from ..frame.layout import FrameLayout
from ..frame.tube_mass import mass_table
from ..mechanics.frame_model import FrameModel, LoadCase, Measure
from ..mechanics.result import Result
from ..tubes.plan import FramePlan

MASS_NOTE = (
    "tubes of the table only, centre to centre as meshed: no lugs, dropouts, shell or other parts"
)


SEEN = "geometry"  # stands in the place of a load case for what is seen without solving
WOBBLE = "wobble"  # the same for what is asked of the hands


@dataclass(frozen=True)
class Figure:
    """One figure.

    name : stable, within its case. words : what it is. case, group : the load case that it comes from, stable name and
    title; '' for a mass or a frequency. reference : the force (N) or torque (N mm) of a stiffness, None for a plain
    displacement or a mass. degrees : whether the measure is a rotation.
    """

    name: str
    words: str
    unit: str
    load: str = ""
    supports: str = ""
    reference: float | None = None
    degrees: bool = False
    case: str = ""
    group: str = ""

    @property
    def key(self) -> str:
        """``side_push.head_sideways``, ``mass``"""
        if self.case:
            return f"{self.case}.{self.name}"
        return self.name

    @property
    def title(self) -> str:
        """Words with the group in front."""
        if self.group:
            return f"{self.group}: {self.words}"
        return self.words

    def as_dict(self) -> dict[str, str]:
        """Key, title, unit, load and supports, as JSON and the store of a search hold them."""
        return {
            "key": self.key,
            "title": self.title,
            "unit": self.unit,
            "load": self.load,
            "supports": self.supports,
        }

    @property
    def is_sight(self) -> bool:
        """Whether it is seen without solving: geometry, room, weight on a wheel."""
        return self.case == SEEN

    @property
    def is_signed(self) -> bool:
        """Whether it may well be below zero, where a percentage of it says nothing."""
        return self.case in (SEEN, WOBBLE)

    def of(self, displacement: Array) -> Array:
        """The figure from measured displacements in mm or rad, any shape."""
        if self.degrees:
            value = displacement * (180 / pi)
        else:
            value = displacement
        if self.reference is None:
            return value
        # What does not move at all is infinitely stiff, and no fault of the division.
        with np.errstate(divide="ignore"):
            # A turning stiffness is told in N·m, a reference torque held in N*mm.
            return self.reference / value / (1000.0 if self.degrees else 1.0)

    @property
    def heading(self) -> str:
        return f"{self.title}{', stiffness' if self.reference is not None else ''} [{self.unit}]"


MASS = Figure("mass", "all tubes, mass", "g", supports=MASS_NOTE)
FRAME_MASS = Figure("frame_mass", "tubes of the frame without fork, mass", "g", supports=MASS_NOTE)
MASSES = (MASS, FRAME_MASS)


def figure(case: LoadCase, measure: Measure) -> Figure:
    """The figure that a measure of a load case gives."""
    turning = measure.unit == "deg"
    if measure.reference is None:
        unit = measure.unit
    else:
        unit = measure.stiffness_unit
    load = "all loads of the case"
    if measure.reference is not None:
        if turning:
            load = f"{measure.reference / 1000:.4g} N·m"
        else:
            load = f"{measure.reference:.4g} N"
    return Figure(
        measure.name,
        measure.title or measure.name,
        unit,
        load,
        case.notes,
        measure.reference,
        turning,
        case.name,
        case.title or case.name,
    )


def figures(cases: Sequence[LoadCase]) -> tuple[Figure, ...]:
    """The figures of all measures of all cases, in order, without the masses."""
    return tuple(figure(case, measure) for case in cases for measure in case.measures)


def find_figure(known: Sequence[Figure], key: str) -> int:
    """Number of the figure with that key; ModelError lists the known ones."""
    for number, one in enumerate(known):
        if one.key == key:
            return number
    raise ModelError(
        f"figure '{key}' is not measured here; known: {', '.join(f.key for f in known)}"
    )


def values(results: Mapping[str, Result]) -> list[float]:
    """The values of `figures`, in the same order, from full solutions."""
    return [
        r.measured[m.name] if m.reference is None else _number(r.stiffness[m.name])
        for r in results.values()
        for m in r.case.measures
    ]


def _number(value: float | None) -> float:
    # As `Figure.of` has it for what does not move.
    if value is None:
        return float("inf")
    return value


def tube_masses(model: FrameModel, layout: FrameLayout) -> tuple[float, float]:
    """(mass, frame_mass) in g of a meshed bicycle."""
    return summed_masses(mass_table(model, layout).grams, layout.plan)


def summed_masses(masses: Mapping[str, float], plan: FramePlan) -> tuple[float, float]:
    """(mass, frame_mass) of tube -> mass, in its unit."""
    beside = sum(masses.get(tube, 0.0) for tube in plan.beside_the_frame)
    total = sum(masses.values())
    return total, total - beside
