"""The unchanging part of the frame as one small compliance matrix per set of restraints.

PROBES are weighted sums of displacements: the natural deformations of the exchangeable tubes, the loads, and the
measured figures. Their compliance G = P K⁻¹ Pᵀ of the base frame (exchangeable tubes softened) is all that a
search ever needs: a tube that adds the stiffness A to its deformations changes it by

    G' = G - G_·t (A⁻¹ + G_tt)⁻¹ G_t·        (Woodbury 1950; the six end forces of a tube are its only redundants)

Deformations that do not feel each other - in the plane of a symmetric frame and across it - are found from the
numbers, not assumed, and become separate, smaller problems.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import connected_components

from ..arrays import Array
from ..mechanics.beam import Beams
from ..mechanics.frame_model import LoadCase
from ..mechanics.solve import Restrained, measure_weights, nodal_forces, same_restraints
from .fast_options import OptionSet

UNCOUPLED = (
    1e-10  # a coupling this small against the geometric mean of both compliances is rounding
)


@dataclass(frozen=True, eq=False)
class FastProblem:
    """One independent part of the response under one set of restraints.

    compliance : (size, size), rows ordered as the deformations of family 0, 1, ..., then loads, then measures.
    ranks : deformations per family (0: the family does not take part). added : per family (choices of its chords,
    options, r, r).
    loads : number of load rows. pairs : (load row, measure row, output) of each figure that this part changes.
    border : (loads + measures,) own compliance of loads and measures, enlarged: no tube can take more out of it.
    """

    compliance: Array
    ranks: tuple[int, ...]
    added: tuple[Array, ...]
    loads: int
    pairs: tuple[tuple[int, int, int], ...]
    border: Array


@dataclass(frozen=True, eq=False)
class Base:
    """All problems of one frame. constant : (outputs,) what the softened base frame measures; outputs are the
    measures of all cases in order, in mm or rad. counts : options per family. chords : per family, the families its
    joints give on, all of them before it."""

    problems: tuple[FastProblem, ...]
    constant: Array
    counts: tuple[int, ...]
    chords: tuple[tuple[int, ...], ...]


def build_base(options: OptionSet) -> Base:
    """Solve the softened frame once per set of restraints and split the compliance into independent problems."""
    beams = Beams.of(options.base)
    # Outputs are numbered over all cases, so that every group writes into the same vector.
    first_output = np.cumsum([0, *(len(case.measures) for case in options.cases)])
    constant = np.zeros(first_output[-1])
    # Natural deformations of the exchangeable tubes, as weighted displacements.
    tubes = np.vstack([family.probes(options.base) for family in options.families])
    problems: list[FastProblem] = []
    for group in same_restraints(options.cases):
        system = Restrained(beams, group[0])
        group_tables = _Group(
            options, group, [int(first_output[options.cases.index(case)]) for case in group]
        )
        # One solve with all probes as loads gives every compliance that is ever needed.
        probes = np.vstack([tubes, group_tables.loads, group_tables.measures])
        compliance = probes @ system.displacements(probes.T)
        # Reciprocity holds to rounding; half the sum makes it hold exactly.
        compliance = (compliance + compliance.T) / 2
        for load, measure, output in group_tables.pairs:
            constant[output] = compliance[len(tubes) + load, len(tubes) + len(group) + measure]
        problems += group_tables.problems(compliance)
    tubes_in_order = [family.tube for family in options.families]
    chords = tuple(tuple(map(tubes_in_order.index, f.chords)) for f in options.families)
    return Base(tuple(problems), constant, tuple(len(f.options) for f in options.families), chords)


class _Group:
    """The load cases of one set of restraints, their probes, and which figure belongs to which load."""

    def __init__(
        self, options: OptionSet, cases: Sequence[LoadCase], first_output: Sequence[int]
    ) -> None:
        model = options.base
        self.families = options.families
        self.loads = np.array([nodal_forces(model, case) for case in cases])
        self.measures = np.array(
            [measure_weights(model, m) for case in cases for m in case.measures]
        )
        self.measures = self.measures.reshape(-1, model.dofs)
        # Measures stand case by case, in the order in which they were stacked.
        rows = iter(range(len(self.measures)))
        self.pairs = [
            (load, next(rows), first + k)
            for load, (case, first) in enumerate(zip(cases, first_output, strict=True))
            for k in range(len(case.measures))
        ]

    def problems(self, compliance: Array) -> list[FastProblem]:
        tubes = sum(family.rank for family in self.families)
        scale = np.sqrt(compliance.diagonal())
        # Found from the numbers: in a symmetric frame the parts in plane and across it never meet.
        felt = np.abs(compliance) > UNCOUPLED * np.outer(scale, scale)
        parts = _independent(felt[:tubes, :tubes] | self._stiffness_coupling(tubes))
        return [
            p for part in parts if (p := self._problem(compliance, felt, part, tubes)) is not None
        ]

    def _stiffness_coupling(self, tubes: int) -> np.ndarray:
        coupled = np.zeros((tubes, tubes), dtype=bool)
        at = 0
        for family in self.families:
            k = family.stiffness.reshape(-1, family.rank, family.rank)
            # A tube's own stiffness may couple what the frame does not.
            scale = np.sqrt(np.einsum("oii->oi", k))
            block = (np.abs(k) > UNCOUPLED * scale[:, :, None] * scale[:, None, :]).any(axis=0)
            coupled[at : at + family.rank, at : at + family.rank] = block
            at += family.rank
        return coupled

    def _problem(
        self, compliance: Array, felt: np.ndarray, part: np.ndarray, tubes: int
    ) -> FastProblem | None:
        """The deformations `part` with the loads and measures that feel them; None when no figure changes."""
        feels = felt[part].any(axis=0)
        first_measure = tubes + len(self.loads)
        pairs = [p for p in self.pairs if feels[tubes + p[0]] and feels[first_measure + p[1]]]
        # Nothing measured feels these deformations: no variant changes a figure through them.
        if not pairs:
            return None
        loads = sorted({load for load, _, _ in pairs})
        measures = sorted({measure for _, measure, _ in pairs})
        load_rows = tubes + np.asarray(loads, dtype=int)
        measure_rows = first_measure + np.asarray(measures, dtype=int)
        rows = np.concatenate([part, load_rows, measure_rows]).astype(int)
        small = compliance[np.ix_(rows, rows)]
        border = 2.0 * (len(rows) - len(part)) * small.diagonal()[len(part) :]
        small[len(part) :, len(part) :] = (
            0.0  # the base frame's own figures are counted once, in `constant`
        )
        numbered = tuple((loads.index(a), measures.index(b), output) for a, b, output in pairs)
        own = self._split(part)
        added = tuple(f.added[:, :, k[:, None], k] for f, k in zip(self.families, own, strict=True))
        return FastProblem(small, tuple(len(k) for k in own), added, len(loads), numbered, border)

    def _split(self, part: np.ndarray) -> list[np.ndarray]:
        """The rows of `part` as row numbers within each family."""
        ends = np.cumsum([family.rank for family in self.families])
        return [
            part[(part >= end - f.rank) & (part < end)] - (end - f.rank)
            for f, end in zip(self.families, ends, strict=True)
        ]


def _independent(coupled: np.ndarray) -> list[np.ndarray]:
    """Sorted row numbers of each connected part of a coupling graph."""
    count, label = connected_components(csr_matrix(coupled), directed=False)
    return [np.flatnonzero(label == k) for k in range(count)]
