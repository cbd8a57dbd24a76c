"""Where a frame gives: the strain energy of every element and tube, split into how it is stored.

Inside a prismatic element the section forces follow from the end forces and the uniform load by statics alone;
their squares are polynomials of degree four at most, so three Gauss points integrate them exactly.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..arrays import Array
from ..decide import settled
from ..tubes.plan import without_side
from .assembly import spring_matrix
from .beam import Beams, section_stiffnesses
from .frame_model import FrameModel, LoadCase
from .result import Result

KINDS = ("bending", "torsion", "axial", "shear")
# Order of the section forces and of the stiffnesses that go with them: EA, GAsy, GAsz, GJ, EIy, EIz.
_KIND_OF = {"axial": (0,), "shear": (1, 2), "torsion": (3,), "bending": (4, 5)}
_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(3)


@dataclass(frozen=True, eq=False)
class EnergyTable:
    """Strain energy of one solved load case, N*mm.

    elements : (m, 4) energy per element in the order of `KINDS`. springs : spring id -> energy, the case's own
    springs (a steering lock) included. external : half the work of the loads over the displacements.
    """

    model: FrameModel
    elements: Array
    springs: Mapping[str, float]
    external: float

    @property
    def total(self) -> float:
        return float(self.elements.sum()) + sum(self.springs.values())

    @property
    def imbalance(self) -> float:
        """|total - external| relative to the total: evidence that nothing is missing from the table."""
        if self.total:
            return abs(self.total - self.external) / self.total
        return 0.0

    @cached_property
    def members(self) -> dict[str, dict[str, float]]:
        """Member -> kind -> energy, N*mm, in the order in which the members stand in the model."""
        table: dict[str, Array] = {}
        for element, row in zip(self.model.elements, self.elements, strict=True):
            table[element.member] = table.get(element.member, np.zeros(len(KINDS))) + row
        return {
            member: dict(zip(KINDS, map(float, row), strict=True)) for member, row in table.items()
        }

    @cached_property
    def shares(self) -> dict[str, dict[str, float]]:
        """Member -> kind -> share of the total energy, 0 to 1; left and right of a pair stay apart."""
        if self.total:
            scale = 1 / self.total
        else:
            scale = 0.0
        out = {}
        for member, row in self.members.items():
            out[member] = {kind: scale * value for kind, value in row.items()}
        return out

    @cached_property
    def joints(self) -> dict[str, float]:
        """Joint of thin tubes -> share of the total energy, in the order in which they stand in the model."""
        soft = [spring.id for spring in self.model.springs if spring.compliance is not None]
        if self.total:
            return {name: self.springs[name] / self.total for name in soft}
        return dict.fromkeys(soft, 0.0)

    @cached_property
    def tube_of_members(self) -> dict[str, str]:
        """Member -> tube: left and right of a pair are one tube."""
        return {m: without_side(m) for m in self.members}

    @cached_property
    def kinds_of_tubes(self) -> dict[str, dict[str, float]]:
        """Tube -> kind -> share of the total energy, left and right of a pair added, the largest first."""
        sums: dict[str, dict[str, float]] = {}
        for member, row in self.shares.items():
            held = sums.setdefault(self.tube_of_members[member], dict.fromkeys(KINDS, 0.0))
            for kind, share in row.items():
                held[kind] += share
        # settled: two equal tubes keep their order whatever the last bits are
        order = sorted(sums, key=lambda tube: -settled(sum(sums[tube].values())))
        return {tube: sums[tube] for tube in order}

    @property
    def tubes(self) -> dict[str, float]:
        """Tube -> share of the total energy, as `kinds_of_tubes`."""
        return {tube: sum(kinds.values()) for tube, kinds in self.kinds_of_tubes.items()}


def energy_shares(result: Result) -> EnergyTable:
    """The strain energy of a solved load case, element by element and spring by spring."""
    beams = Beams.of(result.model)
    w = uniform_loads(beams, result.case)
    energies = 0.5 * mutual_work(beams, result.end_forces, result.end_forces, w, w)
    kinds = np.column_stack([energies[:, _KIND_OF[kind]].sum(axis=1) for kind in KINDS])
    return EnergyTable(result.model, kinds, _spring_energy(result), _external(beams, result, w))


def mutual_work(
    beams: Beams,
    first: Array,
    second: Array,
    w_first: Array | None = None,
    w_second: Array | None = None,
) -> Array:
    """(m, 6) integrals of S S' / stiffness over each element, for axial, shear y, shear z, torsion, bending y, z.

    first, second : (m, 12) end forces in local axes; w_first, w_second : (m, 3) uniform loads, local axes.
    With the same state twice this is twice the strain energy; with a state and a unit state it is the share of
    each element in the displacement at the unit load (Castigliano; McGuire, Gallagher, Ziemian 2000, sec. 6).
    """
    total = np.zeros((len(beams.length), 6))
    for point, weight in zip(_POINTS, _WEIGHTS, strict=True):
        x = beams.length * (1 + point) / 2
        total += weight * section_forces(first, x, w_first) * section_forces(second, x, w_second)
    return np.asarray(total * (beams.length[:, None] / 2) / section_stiffnesses(beams.model))


def section_forces(ends: Array, x: Array, w: Array | None = None) -> Array:
    """(m, 6) section forces N Vy Vz T My Mz at distance x (m,) from end i, tension positive.

    They act on the cut face that looks towards end j, so at x = L they equal the end forces at j.
    """
    # No load along the way: forces and twist are constant, moments linear.
    if w is None:
        load = np.zeros((len(ends), 3))
    else:
        load = w
    n, vy, vz, t, my, mz = (-ends[:, k] for k in range(6))
    wx, wy, wz = load.T
    return np.column_stack(
        [
            n - wx * x,
            vy - wy * x,
            vz - wz * x,
            t,
            my + x * (vz - wz * x / 2),
            mz - x * (vy - wy * x / 2),
        ]
    )


def uniform_loads(beams: Beams, case: LoadCase) -> Array:
    """(m, 3) sum of the uniform loads on each element, local axes."""
    total = np.zeros((len(beams.length), 3))
    for load in case.member_loads:
        k = beams.model.element_index[load.element]
        w = np.asarray(load.w, dtype=float)
        total[k] += beams.rotation[k] @ w if load.frame == "global" else w
    return total


def _spring_energy(result: Result) -> dict[str, float]:
    energy = {}
    for spring in (*result.model.springs, *result.case.springs):
        # To ground when there is no second node.
        stretch = result.displacement(spring.i) - (
            0.0 if spring.j is None else result.displacement(spring.j)
        )
        energy[spring.id] = float(stretch @ spring_matrix(spring) @ stretch) / 2
    return energy


def _external(beams: Beams, result: Result, w: Array) -> float:
    """Half the work of the loads. A uniform load works on the element's own sag too: the clamped element's energy."""
    work = sum(
        float(np.dot(load, result.displacement(node))) for node, load in result.case.nodal.items()
    )
    if not result.case.member_loads:
        return work / 2
    forces = beams.load_forces(result.case.member_loads)
    local = beams.turn(result.u.ravel()[beams.dofs], to_local=True)
    work += float((forces * local).sum())
    return work / 2 + float(mutual_work(beams, -forces, -forces, w, w).sum()) / 2
