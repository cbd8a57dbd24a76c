"""Inertia relief: a free body under loads that no support balances, in steady acceleration.

The loads f move the body as a whole with the accelerations a = (RᵀMR)⁻¹Rᵀf, R its six rigid motions; what is left,
f - M R a = P f, balances itself and bends it. A movement is measured against the body's own mean motion (its
mass-weighted mean axes): the weights w of a measure become P w. Six restraints anywhere then serve as a reference
and carry nothing. A standard method of structural dynamics (from memory; derived here from d'Alembert's principle).
Because load and measure are relieved alike, a load over its own movement stays one, and with masses that do not
depend on the tubes no stronger tube lowers it (Rayleigh).
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from scipy import sparse

from ..arrays import Array, Xyz
from ..errors import ModelError
from .frame_model import LoadCase, Measure, NodeMass

REFERENCE = "reference of the readings, carries nothing"  # in `touching`
DUST = 1e-16  # of the largest component: what rounding leaves of components that cancel
Loads = Mapping[str, tuple[float, ...]]


def rigid_motions(xyz: Array) -> Array:
    """(6n, 6) unit motions of a rigid body: along x, y, z and about the axes through the origin."""
    n = len(xyz)
    out = np.zeros((n, 6, 6))
    out[:, range(6), range(6)] = 1.0
    for axis, unit in enumerate(np.eye(3)):
        out[:, :3, 3 + axis] = np.cross(unit, xyz)
    return out.reshape(6 * n, 6)


def relieved(vectors: Array, mass: Array | sparse.csr_matrix, motions: Array) -> Array:
    """P f of nodal vectors (6n,) or (6n, k): less the inertia of the rigid acceleration that they cause.

    mass : (6n, 6n), tonne and tonne mm². motions : (6n, 6) of `rigid_motions`, best about the centre of mass.
    """
    carried = mass @ motions
    pull = np.linalg.solve(motions.T @ carried, motions.T @ vectors)
    return np.asarray(vectors - carried @ pull)


class Lumps:
    """Lumped masses at places in space, against which loads and measures of a case are relieved."""

    def __init__(self, places: Mapping[str, Xyz], masses: Sequence[NodeMass]) -> None:
        """places : every node that carries mass or load. Raises ModelError where nothing has mass."""
        self.nodes = tuple(places)
        at = {node: 6 * k for k, node in enumerate(self.nodes)}
        diagonal = np.zeros(6 * len(self.nodes))
        for lump in masses:
            start = at[lump.node]
            diagonal[start : start + 6] += (lump.m, lump.m, lump.m, *lump.J)
        xyz = np.array([places[node] for node in self.nodes])
        weights = diagonal[::6]
        if not weights.sum() > 0:
            raise ModelError("nothing has mass, so nothing resists the push by its inertia")
        self.mass = sparse.diags(diagonal).tocsr()
        self.motions = rigid_motions(xyz - weights @ xyz / weights.sum())

    def relieve(self, loads: Loads) -> dict[str, tuple[float, ...]]:
        """Node -> six components with the inertia of all lumps; nodes that carry nothing are left out."""
        nothing = (0.0,) * 6
        vector = np.array([loads.get(node, nothing) for node in self.nodes]).ravel()
        six = relieved(vector, self.mass, self.motions).reshape(-1, 6)
        six[np.abs(six) < DUST * np.abs(six).max()] = 0.0
        return {
            node: tuple(map(float, row))
            for node, row in zip(self.nodes, six, strict=True)
            if np.any(row)
        }


def as_free(
    case: LoadCase, places: Mapping[str, Xyz], masses: Sequence[NodeMass], reference: str
) -> LoadCase:
    """The case with nothing holding it: loads and measures relieved, the six restraints at `reference` carry nothing.

    Raises
    ------
    ModelError
        For loads along elements, which have no node of their own.
    """
    if case.member_loads:
        raise ModelError(
            f"load case {case.name} loads tubes along their length; give its loads at joints to see it in motion"
        )
    measured = [node for measure in case.measures for node, _ in measure.weights]
    wanted = dict.fromkeys([*case.nodal, *measured, *(lump.node for lump in masses)])
    lumps = Lumps({node: places[node] for node in wanted}, masses)
    return replace(
        case,
        nodal=lumps.relieve(case.nodal),
        supports={reference: (1,) * 6},
        measures=tuple(_relieved(measure, lumps) for measure in case.measures),
        touching={reference: REFERENCE},
    )


def _relieved(measure: Measure, lumps: Lumps) -> Measure:
    weights: dict[str, tuple[float, ...]] = {}
    for node, six in measure.weights:
        before = weights.get(node, (0.0,) * 6)
        weights[node] = tuple(a + b for a, b in zip(before, six, strict=True))
    return replace(measure, weights=tuple(lumps.relieve(weights).items()))
