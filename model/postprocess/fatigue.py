"""Stress that goes to and fro: amplitude and mean between two load cases, set against the endurance of the material.

At every point of the wall the stress changes between the two cases; amplitude and mean of normal and shear stress
are combined after von Mises and judged by Goodman's line, amplitude/endurance + mean/ultimate (Shigley's Mechanical
Engineering Design, from memory). Mean compression is not credited. See FATIGUE_CAUTION, which belongs beside it.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ..arrays import Array
from ..cases.library import fatigue_pairs
from ..decide import first_largest, settled
from ..errors import ModelError
from ..frame.bicycle import Bicycle
from ..frame.layout import FrameLayout
from ..mechanics.result import Result
from .stress import JOINT_CAUTION, angles, end_section_forces, highest, wall_stress
from .walls import Place, Walls, member_elements

FATIGUE_CAUTION = (
    "The endurance is that of smooth, polished, unwelded material; brazing, welding, scratches, rust "
    "and holes lower it, often to a half or less. " + JOINT_CAUTION
)


@dataclass(frozen=True)
class FatigueRow:
    """Where one tube suffers most between two cases, MPa; endurance and ultimate None where not in hand."""

    place: Place
    amplitude: float
    mean: float
    endurance: float | None
    ultimate: float | None

    @property
    def utilisation(self) -> float | None:
        """Goodman: 1 is the endurance of smooth material; None without the material's figures."""
        if self.endurance is None or self.ultimate is None:
            return None
        return self.amplitude / self.endurance + self.mean / self.ultimate


@dataclass(frozen=True)
class FatigueTable:
    """Rows of every tube between two cases, the highest utilisation first."""

    cases: tuple[str, str]
    rows: tuple[FatigueRow, ...]
    caution: str = FATIGUE_CAUTION


def fatigue_table(
    first: Result, second: Result, bicycle: Bicycle | None = None, layout: FrameLayout | None = None
) -> FatigueTable:
    """Amplitude and mean between two solved cases of one model.

    Raises
    ------
    ModelError
        When the two results are of different models.
    """
    if first.model is not second.model:
        raise ModelError(
            f"load cases {first.case.name} and {second.case.name} were solved on different models; solve "
            "both on one"
        )
    # One outline for both cases: the tube does not change between two strokes.
    walls = Walls.of(first.model, bicycle, layout)
    amplitude, mean = _amplitude_and_mean(
        walls, end_section_forces(first), end_section_forces(second)
    )
    rows = [
        _row(walls, amplitude, mean, member_elements(first.model)[name]) for name in walls.members
    ]
    kept = sorted(
        (row for row in rows if row is not None),
        key=lambda row: (-settled(row.utilisation or 0.0), -settled(row.amplitude)),
    )
    return FatigueTable((first.case.name, second.case.name), tuple(kept))


def fatigue_tables(
    results: Mapping[str, Result], bicycle: Bicycle, layout: FrameLayout
) -> tuple[FatigueTable, ...]:
    """A table for every pair of alternating cases of the library that was solved."""
    return tuple(
        fatigue_table(results[a], results[b], bicycle, layout)
        for a, b in fatigue_pairs(bicycle.plan)
        if a in results and b in results
    )


def _amplitude_and_mean(walls: Walls, a: Array, b: Array) -> tuple[Array, Array]:
    """(m, 2, k) equivalent amplitude and mean at every angle."""
    # The range is largest where the difference bends most, the mean where each case does: look at
    # all of them.
    where = angles(walls, a - b, a, b, -a, -b)
    (normal_a, shear_a), (normal_b, shear_b) = (
        wall_stress(walls, forces, where) for forces in (a, b)
    )
    # Stress components first, equivalent afterwards: the sign of a range is lost in von Mises.
    amplitude = np.sqrt((normal_a - normal_b) ** 2 + 3 * (shear_a - shear_b) ** 2) / 2
    # Compression closes a crack, but how much of it may be credited is not known here.
    mean = np.sqrt(np.maximum(normal_a + normal_b, 0.0) ** 2 + 3 * (shear_a + shear_b) ** 2) / 2
    return np.asarray(amplitude), np.asarray(mean)


def _row(walls: Walls, amplitude: Array, mean: Array, numbers: list[int]) -> FatigueRow | None:
    """The point of a tube that Goodman finds worst; by amplitude where the material's figures are not in hand."""
    # An outline that is not known gives no row, and never a zero.
    if np.isnan(amplitude[numbers]).any():
        return None
    material = walls.model.elements[numbers[0]].material
    endurance = material.endurance
    ultimate = material.ultimate
    if endurance is None or ultimate is None:
        damage = amplitude
    else:
        damage = amplitude / endurance + mean / ultimate
    angle = first_largest(damage, axis=2)
    k, end = highest(damage.max(axis=2), numbers)
    at = k, end, int(angle[k, end])
    return FatigueRow(
        walls.place(k, end), float(amplitude[at]), float(mean[at]), endurance, ultimate
    )
