"""Nominal stress in the tube walls: over the length of every tube, round its circumference, against yield.

Beam theory at the outside of the wall: sigma = N/A - Mz y/Iz + My z/Iy; shear from torsion (T r/J in round tubes,
Bredt's T/(2 Am t) in oval and rectangular ones) and from the transverse forces as in a thin ring, twice the mean at
the neutral axis; von Mises = sqrt(sigma² + 3 tau²). Joints are points where centre-lines meet, so every figure is
nominal: see JOINT_CAUTION, which belongs beside it.
"""

from dataclasses import dataclass
from math import pi

import numpy as np

from ..arrays import Array
from ..decide import first_largest, settled
from ..frame.bicycle import Bicycle
from ..frame.layout import FrameLayout
from ..mechanics.beam import Beams
from ..mechanics.energy import section_forces, uniform_loads
from ..mechanics.result import Result
from .walls import Place, Walls, member_elements

JOINT_CAUTION = (
    "Nominal stress of tubes meeting at their centre-lines: local stress at lugs, fillets, heat-affected zones and "
    "braze-ons is NOT in it, and is often the higher one. Not a strength certificate: test physically to ISO 4210 and "
    "leave approval to qualified people."
)
_ANGLES = np.linspace(0.0, 2 * pi, 72, endpoint=False)


@dataclass(frozen=True)
class TubeStress:
    """Peak of one tube in one case, MPa. normal and shear are those at the peak; `yield_strength` None: not in hand."""

    place: Place
    von_mises: float
    normal: float
    shear: float
    yield_strength: float | None

    @property
    def utilisation(self) -> float | None:
        """Share of the yield strength, 1: yields."""
        if self.yield_strength is None:
            return None
        return self.von_mises / self.yield_strength


@dataclass(frozen=True, eq=False)
class StressTable:
    """Stress of one solved case. von_mises : (m, 2) largest round the wall at both ends of each element, MPa, NaN
    where the section's outline is not known. rows : the peak of every tube, the highest utilisation first."""

    case: str
    walls: Walls
    von_mises: Array
    rows: tuple[TubeStress, ...]
    caution: str = JOINT_CAUTION


def stress_table(
    result: Result,
    bicycle: Bicycle | None = None,
    layout: FrameLayout | None = None,
    walls: Walls | None = None,
) -> StressTable:
    """Stress of a solved case at both ends of every element, and the peak of every tube.

    With the bicycle and its layout the wall is exact at the ends of cones and tapers and only frame tubes are
    listed; without, every member whose section tells its outline (Section.cy, cz). `walls` states the outlines
    instead.
    """
    walls = walls or Walls.of(result.model, bicycle, layout)
    forces = end_section_forces(result)
    normal, shear = wall_stress(walls, forces, angles(walls, forces))
    size = np.sqrt(normal**2 + 3 * shear**2)
    # Normal and shear stress are shown at the same point as the peak they make.
    worst = first_largest(size, axis=2)
    pick = np.take_along_axis
    peak, peak_normal, peak_shear = (
        pick(v, worst[:, :, None], axis=2)[:, :, 0] for v in (size, normal, shear)
    )
    rows = []
    for numbers in (member_elements(result.model)[name] for name in walls.members):
        # No outline, no stress: the tube is left out and not shown as unstressed.
        if np.isnan(peak[numbers]).any():
            continue
        k, end = highest(peak, numbers)
        strength = result.model.elements[k].material.yield_strength
        rows.append(
            TubeStress(
                walls.place(k, end),
                float(peak[k, end]),
                float(peak_normal[k, end]),
                float(peak_shear[k, end]),
                strength,
            )
        )
    # Left and right of a pair under a load in the frame's plane are equal but for rounding.
    rows.sort(key=lambda row: (-settled(row.utilisation or 0.0), -settled(row.von_mises)))
    return StressTable(result.case.name, walls, peak, tuple(rows))


def highest(values: Array, numbers: list[int]) -> tuple[int, int]:
    """Element and end of the largest of (m, 2) values among some elements; of equal ones the first."""
    k, end = np.unravel_index(int(first_largest(values[numbers])), (len(numbers), 2))
    return numbers[int(k)], int(end)


def end_section_forces(result: Result) -> Array:
    """(m, 2, 6) section forces N Vy Vz T My Mz at both ends, tension positive."""
    beams = Beams.of(result.model)
    # A load along the element changes the moments between its ends.
    w = uniform_loads(beams, result.case)
    return np.stack(
        [
            section_forces(result.end_forces, np.zeros(len(w)), w),
            section_forces(result.end_forces, beams.length, w),
        ],
        axis=1,
    )


def angles(walls: Walls, *states: Array) -> Array:
    """(m, 2, k) angles round the wall to look at: every 5 degrees, and exactly where each state bends most."""
    # The grid is turned to each state's own peak, so that 5 degrees cost nothing there.
    grid = np.broadcast_to(_ANGLES, (*walls.a.shape, len(_ANGLES)))
    return np.concatenate(
        [grid + _steepest(walls, states[0]), *(_steepest(walls, state) for state in states[1:])],
        axis=2,
    )


def _steepest(walls: Walls, forces: Array) -> Array:
    """(m, 2, 1) where bending is largest; the grid starts there, so the opposite side is on it as well."""
    return walls.steepest(forces[:, :, 4], forces[:, :, 5])[:, :, None]


def wall_stress(walls: Walls, forces: Array, angle: Array) -> tuple[Array, Array]:
    """Normal and shear stress (m, 2, k), MPa, at the given angles of `Walls.points`."""
    n, vy, vz, t, my, mz = (forces[:, :, k, None] for k in range(6))
    area, iy, iz, twisted = (
        v[:, :, None] for v in (walls.area, walls.iy, walls.iz, walls.torsion_stress)
    )
    y, z = walls.points(angle)
    normal = n / area - mz * y / iz + my * z / iy
    # Thin ring: the shear flow of a transverse force is twice its mean at the neutral axis.
    shear = t * twisted + 2 / area * (vz * np.cos(angle) - vy * np.sin(angle))
    return np.asarray(normal), np.asarray(shear)
