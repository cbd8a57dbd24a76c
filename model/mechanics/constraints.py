"""Supports, rigid links and equal dofs as one linear map u = T q from free to all displacements.

Every condition is one equation sum(c . u) = 0. Equations are eliminated one by one, each removing one
dof in favour of the others, so that chains of links and supports on linked nodes need no special case.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from scipy import sparse

from ..arrays import Array
from ..errors import ModelError
from .frame_model import DOFS, FrameModel

Equation = dict[int, float]
_ZERO = 1e-12  # a coefficient this small against the equation's largest is rounding


@dataclass(frozen=True, eq=False)
class Constraints:
    """The reduction of one model under one set of supports.

    T : (6n, free) sparse map. rows : (equations, 6n) sparse matrix C of the kept equations, C u = 0.
    supported : dof number of each kept equation that is a support, -1 for a link equation.
    """

    T: sparse.csr_matrix
    rows: sparse.csr_matrix
    supported: np.ndarray
    linked: bool

    @classmethod
    def of(cls, model: FrameModel, supports: Mapping[str, Iterable[int]]) -> "Constraints":
        # Links first: a support on a linked node is then put in terms of what the link left.
        links = [*_rigid_link_equations(model), *_equal_dof_equations(model)]
        held = _support_dofs(model, supports)
        # The usual frame of a model file: rows of the unit matrix, nothing to eliminate.
        if not links:
            return cls._supports_only(model.dofs, held)
        equations = links + [{dof: 1.0} for dof in held]
        owner = [-1] * len(links) + held
        eliminated, kept = _eliminate(equations)
        rows = _matrix([equations[k] for k in kept], model.dofs)
        supported = np.array([owner[k] for k in kept], dtype=int)
        return cls(_map_matrix(model.dofs, eliminated), rows, supported, linked=True)

    @classmethod
    def _supports_only(cls, dofs: int, held: list[int]) -> "Constraints":
        # T picks the free displacements; the held ones stay zero.
        free = np.setdiff1d(np.arange(dofs), held)
        T = sparse.csr_matrix(
            (np.ones(len(free)), (free, np.arange(len(free)))), shape=(dofs, len(free))
        )
        rows = sparse.csr_matrix(
            (np.ones(len(held)), (np.arange(len(held)), held)), shape=(len(held), dofs)
        )
        return cls(T, rows, np.array(held, dtype=int), False)

    def support_forces(self, unbalanced: Array) -> Array:
        """(6n,) forces of the supports on the structure from K u - f, link forces taken out.

        K u - f = Cᵀ λ; with links the multipliers λ are found by least squares over the dofs involved, from the
        sparse system [I Cᵀ; C 0] (Golub & Van Loan, Matrix Computations, 4th ed., 5.3.7) with each equation at
        unit size and one step of refinement.
        """
        forces = np.zeros(len(unbalanced))
        is_support = self.supported >= 0
        # Without links the imbalance at a held dof is the support's force itself.
        if not self.linked:
            forces[self.supported] = unbalanced[self.supported]
            return forces
        forces[self.supported[is_support]] = self._multipliers(unbalanced)[is_support]
        return forces

    def _multipliers(self, unbalanced: Array) -> Array:
        matrix, factor, involved, size = self._saddle
        right = np.concatenate([unbalanced[involved], np.zeros(len(size))])
        x = factor.solve(right)
        # One step of refinement: long chains of arms lose half the digits without it.
        x += factor.solve(right - matrix @ x)
        return np.asarray(x[len(involved) :] / size)

    @cached_property
    def _saddle(self) -> tuple[sparse.csc_matrix, Any, np.ndarray, Array]:
        """[I Cᵀ; C 0] over the dofs that some equation names, its factor, these dofs, and each equation's size."""
        from scipy.sparse.linalg import splu

        count = self.rows.shape[0]
        equation = np.repeat(np.arange(count), np.diff(self.rows.indptr))
        # An arm of a metre would otherwise outweigh a support a thousandfold.
        size = np.sqrt(np.bincount(equation, self.rows.data**2, count))
        unit = self.rows.data / size[equation]
        # Only dofs that some equation names can feel a multiplier.
        involved, dof = np.unique(self.rows.indices, return_inverse=True)
        # Put together by hand: the library's block matrix takes longer than all solving.
        below = len(involved) + equation
        own = np.arange(len(involved))
        row = np.concatenate([own, dof, below])
        column = np.concatenate([own, below, dof])
        value = np.concatenate([np.ones(len(involved)), unit, unit])
        whole = sparse.csc_matrix((value, (row, column)), shape=(len(involved) + count,) * 2)
        return whole, splu(whole), involved, size


def _support_dofs(model: FrameModel, supports: Mapping[str, Iterable[int]]) -> list[int]:
    held = []
    for node, flags in supports.items():
        if node not in model.node_index:
            raise ModelError(f"a support names node '{node}', which the model does not have")
        flags = tuple(flags)
        if len(flags) != 6 or any(flag not in (0, 1) for flag in flags):
            raise ModelError(
                f"support at {node}: six flags 0 or 1 ({' '.join(DOFS)}) are needed, got {flags}"
            )
        held += [6 * model.node_index[node] + k for k, flag in enumerate(flags) if flag]
    return held


def _rigid_link_equations(model: FrameModel) -> list[Equation]:
    equations: list[Equation] = []
    for link in model.rigid_links:
        m = 6 * model.node_index[link.master]
        s = 6 * model.node_index[link.slave]
        rx, ry, rz = np.subtract(model.nodes[link.slave], model.nodes[link.master])
        # u_s - u_m - theta_m x r = 0
        arms = ({4: rz, 5: -ry}, {3: -rz, 5: rx}, {3: ry, 4: -rx})
        for k in range(3):
            equations.append(
                {s + k: 1.0, m + k: -1.0, **{m + dof: -arm for dof, arm in arms[k].items() if arm}}
            )
        equations += [{s + k: 1.0, m + k: -1.0} for k in (3, 4, 5)]
    return equations


def _equal_dof_equations(model: FrameModel) -> list[Equation]:
    return [
        {6 * model.node_index[e.slave] + k: 1.0, 6 * model.node_index[e.master] + k: -1.0}
        for e in model.equal_dofs
        for k in e.dofs
    ]


def _eliminate(equations: list[Equation]) -> tuple[dict[int, Equation], list[int]]:
    """Gaussian elimination on sparse rows: eliminated dof -> combination of the remaining ones.

    The first dof named in an equation (the slave's) is preferred as the one to go. Also returns the numbers
    of the equations that were not redundant.
    """
    eliminated: dict[int, Equation] = {}
    # dof -> eliminated dofs that were expressed by it
    users: defaultdict[int, set[int]] = defaultdict(set)
    kept = []
    for number, equation in enumerate(equations):
        # In terms of what is still there; a condition said twice becomes 0 = 0.
        row = _substitute(equation, eliminated)
        largest = max((abs(c) for c in row.values()), default=0.0)
        # Redundant: dropping it loses nothing.
        if largest <= _ZERO * max(abs(c) for c in equation.values()):
            continue
        # The slave's own dof, unless what is left of it is too small to divide by.
        first = next(iter(equation))
        if abs(row.get(first, 0.0)) > 1e-6 * largest:
            pivot = first
        else:
            pivot = max(row, key=lambda dof: abs(row[dof]))
        scale = row.pop(pivot)
        solved = {dof: -c / scale for dof, c in row.items() if abs(c) > _ZERO * largest}
        # Whoever was expressed by the dof that goes is expressed anew.
        for dof in users.pop(pivot, ()):
            if pivot in eliminated[dof]:
                eliminated[dof] = _substitute(eliminated[dof], {pivot: solved})
                for target in eliminated[dof]:
                    users[target].add(dof)
        eliminated[pivot] = solved
        for target in solved:
            users[target].add(pivot)
        kept.append(number)
    return eliminated, kept


def _substitute(row: Equation, eliminated: Mapping[int, Equation]) -> Equation:
    out: Equation = {}
    for dof, coefficient in row.items():
        for target, factor in eliminated.get(dof, {dof: 1.0}).items():
            out[target] = out.get(target, 0.0) + coefficient * factor
    return out


def _map_matrix(dofs: int, eliminated: Mapping[int, Equation]) -> sparse.csr_matrix:
    free = [dof for dof in range(dofs) if dof not in eliminated]
    column = {dof: k for k, dof in enumerate(free)}
    entries = [(dof, column[dof], 1.0) for dof in free]
    entries += [
        (dof, column[target], c) for dof, row in eliminated.items() for target, c in row.items()
    ]
    if entries:
        i, j, v = zip(*entries, strict=True)
    else:
        i = ()
        j = ()
        v = ()
    return sparse.csr_matrix((v, (i, j)), shape=(dofs, len(free)))


def _matrix(equations: list[Equation], dofs: int) -> sparse.csr_matrix:
    entries = [(k, dof, c) for k, row in enumerate(equations) for dof, c in row.items()]
    if entries:
        i, j, v = zip(*entries, strict=True)
    else:
        i = ()
        j = ()
        v = ()
    return sparse.csr_matrix((v, (i, j)), shape=(len(equations), dofs))
