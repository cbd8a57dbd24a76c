"""Supports, rigid links and equal dofs as one linear map u = T q from free to all displacements.

Every condition is one equation sum(c . u) = 0. Equations are eliminated one by one, each removing one
dof in favour of the others, so that chains of links and supports on linked nodes need no special case.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from ..arrays import Array, lower_places
from ..errors import ModelError
from .assembly import Entries, StiffParts, summed_at
from .frame_model import DOFS, EqualDofs, FrameModel, RigidLink

Equation = dict[
    int, Any
]  # dof -> its factor: a number, or an array with one for each of several models
_ZERO = 1e-12  # a coefficient this small against the equation's largest is rounding


@dataclass(frozen=True, eq=False)
class LinearMap:
    """All displacements as sums of free ones, u = T q.

    columns, coefficients : (6n, w) each displacement as a sum of at most w free ones: their numbers and factors. Where
    fewer are needed the factor is nought and the number that of no free displacement, which is their count.
    dofs : (free,) dof number of each free displacement.
    """

    columns: NDArray[np.intp]
    coefficients: Array
    dofs: NDArray[np.intp]

    @classmethod
    def without(cls, dofs: int, eliminated: Mapping[int, Equation]) -> "LinearMap":
        """The map in which some dofs are combinations of those that stay."""
        stays = np.ones(dofs, dtype=bool)
        stays[list(eliminated)] = False
        free = np.flatnonzero(stays)
        number = np.full(dofs, len(free), dtype=np.intp)
        number[free] = np.arange(len(free))
        width = max((len(row) for row in eliminated.values()), default=1)
        columns = np.full((dofs, max(1, width)), len(free), dtype=np.intp)
        coefficients = np.zeros(columns.shape)
        columns[free, 0] = number[free]
        coefficients[free, 0] = 1.0
        terms: list[tuple[int, int, int, float]] = []
        for dof, row in eliminated.items():
            terms += [(dof, k, *term) for k, term in enumerate(row.items())]
        if terms:
            dofs_of, places, targets, factors = zip(*terms, strict=True)
            columns[dofs_of, places] = number[list(targets)]
            coefficients[dofs_of, places] = factors
        return cls(columns, coefficients, free)

    def row(self, dof: int) -> Equation:
        """One displacement as a combination of free ones: number -> factor."""
        found = np.flatnonzero(self.coefficients[dof])
        numbers = self.columns[dof, found].tolist()
        return dict(zip(numbers, self.coefficients[dof, found].tolist(), strict=True))

    def then(self, eliminated: Mapping[int, Equation]) -> "LinearMap":
        """The map in which some of the free displacements are combinations of the others after all."""
        inner = LinearMap.without(self.free, eliminated)
        # Most of what goes is held, and leaves nothing behind.
        number = np.append(inner.columns[:, 0], inner.free)
        factor = np.append(inner.coefficients[:, 0], 0.0)
        columns = number[self.columns]
        coefficients = self.coefficients * factor[self.columns]
        through = np.append(inner.coefficients[:, 1:].any(axis=1), False)
        anew = np.flatnonzero(through[self.columns].any(axis=1)).tolist()
        rows = []
        for dof in anew:
            row = self.row(dof)
            rows.append(_substitute(row, {n: inner.row(n) for n in row}))
        wide = max((len(row) for row in rows), default=0) - columns.shape[1]
        if wide > 0:
            columns = np.pad(columns, ((0, 0), (0, wide)), constant_values=inner.free)
            coefficients = np.pad(coefficients, ((0, 0), (0, wide)))
        for dof, row in zip(anew, rows, strict=True):
            columns[dof] = inner.free
            coefficients[dof] = 0.0
            columns[dof, : len(row)] = list(row)
            coefficients[dof, : len(row)] = list(row.values())
        return LinearMap(columns, coefficients, self.dofs[inner.dofs])

    @property
    def free(self) -> int:
        """How many displacements are free."""
        return len(self.dofs)

    @cached_property
    def T(self) -> sparse.csr_matrix:
        """(6n, free) sparse map from the free displacements to all."""
        dof, number, factor = self._terms
        return sparse.csr_matrix(
            (factor[:, 0], (dof, number)), shape=(len(self.columns), self.free)
        )

    def moved(self, q: Array) -> Array:
        """(6n, k) all displacements T q from the free ones (free, k)."""
        dof, number, factor = self._terms
        return summed_at(dof, factor * q[number], len(self.columns))

    def gathered(self, forces: Array) -> Array:
        """(free, k) forces Tᵀ f on the free displacements of forces (6n, k)."""
        dof, number, factor = self._terms
        return summed_at(number, factor * forces[dof], self.free)

    @cached_property
    def _terms(self) -> tuple[NDArray[np.intp], NDArray[np.intp], Array]:
        """Displacement, number of the free one, factor (terms, 1) of every term."""
        dof, place = np.nonzero(self.coefficients)
        return dof, self.columns[dof, place], self.coefficients[dof, place, None]

    @cached_property
    def _several(self) -> NDArray[np.intp]:
        """Displacements that are sums of more than one free one."""
        return np.flatnonzero(self.coefficients[:, 1:].any(axis=1))

    def reduced(self, pieces: StiffParts) -> Entries:
        """Tᵀ K T of what is stiff, not yet added up; unknowns of one node lie together."""
        several = np.zeros(len(self.columns), dtype=bool)
        several[self._several] = True
        linked = np.asarray(several[pieces.dofs].any(axis=1))
        # Few pieces end on a linked node; only those need every term of T.
        parts = [(~linked, 1)]
        if linked.any():
            parts.append((linked, self.columns.shape[1]))
        found = [self._turned(pieces, chosen, terms) for chosen, terms in parts]
        rows, columns, values, pairs = zip(*found, strict=True)
        touching = np.concatenate(pairs, axis=1)
        return Entries(
            self.free,
            np.concatenate(rows),
            np.concatenate(columns),
            np.concatenate(values),
            self.dofs // 6,
            (touching[0], touching[1]),
        )

    def _turned(
        self, pieces: StiffParts, chosen: NDArray[np.bool_], terms: int
    ) -> tuple[NDArray[np.intp], NDArray[np.intp], Array, NDArray[np.intp]]:
        """Rows, columns, values of some pieces in the free displacements, and the pairs (2, k) of nodes that meet."""
        dofs = pieces.dofs[chosen]
        k = pieces.matrices[chosen]
        size = 12 * terms
        unknowns = self.columns[dofs, :terms].reshape(-1, size)
        factors = self.coefficients[dofs, :terms]
        if terms > 1:
            # Every term of a displacement feels the stiffness that the displacement feels.
            k = np.repeat(np.repeat(k, terms, axis=1), terms, axis=2)
        factors = factors.reshape(-1, size)
        # Each pair of places once, for the matrix is symmetric.
        first, second = lower_places(size)
        row = unknowns[:, first]
        column = unknowns[:, second]
        value = k[:, first, second] * factors[:, first] * factors[:, second]
        # Two places that are one unknown stand on the diagonal, where both of the pair count.
        value[(row == column) & (first != second)] *= 2
        # Held unknowns leave nought, and motion in the frame's plane does not feel that across it: half of all.
        felt = np.flatnonzero(value)
        return row.ravel()[felt], column.ravel()[felt], value.ravel()[felt], self._meeting(unknowns)

    def _meeting(self, unknowns: NDArray[np.intp]) -> NDArray[np.intp]:
        """(2, k) pairs of nodes that one piece joins; `unknowns` (p, m) of each piece."""
        node = np.append(self.dofs // 6, -1)[unknowns]
        node.sort(axis=1)
        # Each node of a piece once.
        node[:, 1:][node[:, 1:] == node[:, :-1]] = -1
        piece, a, b = np.nonzero((node >= 0)[:, :, None] & (node >= 0)[:, None, :])
        return np.stack([node[piece, a], node[piece, b]])


@dataclass(frozen=True, eq=False)
class Constraints(LinearMap):
    """The reduction of one model under one set of supports.

    links : the map that rigid links and equal dofs alone leave. supported : dof numbers that the supports hold, one for
    each that is not held already by the others. held : these supports as equations between the links' free ones.
    """

    links: LinearMap
    supported: NDArray[np.intp]
    held: tuple[Equation, ...]

    @classmethod
    def of(cls, model: FrameModel, supports: Mapping[str, Iterable[int]]) -> "Constraints":
        parts = (model.rigid_links, model.equal_dofs, model.node_index)
        conditions = link_equations(*parts, model.xyz)
        links = LinearMap.without(model.dofs, eliminate(conditions)[0])
        # Links first: a support on a linked node is then put in terms of what the link left.
        dofs = _support_dofs(model, supports)
        equations = [links.row(dof) for dof in dofs]
        eliminated, kept = eliminate(equations)
        whole = links.then(eliminated)
        supported = np.array([dofs[k] for k in kept], dtype=np.intp)
        held = tuple(equations[k] for k in kept)
        return cls(whole.columns, whole.coefficients, whole.dofs, links, supported, held)

    def support_forces(self, unbalanced: Array) -> Array:
        """(6n, k) forces of the supports on the structure from K u - f (6n, k), link forces taken out.

        On the links' free displacements links exert nothing: there K u - f = Aᵀ λ with the supports A alone. A support
        on a dof of its own takes what it finds; where several share linked dofs, λ is found by least squares.
        """
        forces = np.zeros(unbalanced.shape)
        found = self.links.gathered(unbalanced)
        alone = [k for k, row in enumerate(self.held) if len(row) == 1]
        if len(alone) == len(self.held):
            numbers = [next(iter(row)) for row in self.held]
            factors = np.array([row[n] for row, n in zip(self.held, numbers, strict=True)])
            forces[self.supported] = found[numbers] / factors.reshape(-1, 1)
            return forces
        forces[self.supported] = self._multipliers(found)
        return forces

    def _multipliers(self, found: Array) -> Array:
        involved = sorted({number for row in self.held for number in row})
        place = {number: k for k, number in enumerate(involved)}
        matrix = np.zeros((len(involved), len(self.held)))
        for k, row in enumerate(self.held):
            for number, factor in row.items():
                matrix[place[number], k] = factor
        # An arm of a metre would otherwise outweigh a support a thousandfold.
        size = np.linalg.norm(matrix, axis=0)
        return np.asarray(
            np.linalg.lstsq(matrix / size, found[involved], rcond=None)[0] / size[:, None]
        )


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


def link_equations(
    links: Sequence[RigidLink], ties: Sequence[EqualDofs], index: Mapping[str, int], xyz: Array
) -> list[Equation]:
    """What rigid links and equal dofs demand. xyz : (n, 3), or (n, models, 3) for models that share all but places.

    Of several models a coefficient is an array with one number for each.
    """
    equations: list[Equation] = []
    for link in links:
        m = 6 * index[link.master]
        s = 6 * index[link.slave]
        arm = xyz[s // 6] - xyz[m // 6]
        # Plain numbers for one model: the elimination takes them one at a time.
        if arm.ndim == 1:
            rx, ry, rz = arm.tolist()
            says: Callable[[Any], bool] = bool
        else:
            rx, ry, rz = np.moveaxis(arm, -1, 0)
            says = np.any
        # u_s - u_m - theta_m x r = 0
        arms = ({4: rz, 5: -ry}, {3: -rz, 5: rx}, {3: ry, 4: -rx})
        for k in range(3):
            turns = {m + dof: -one for dof, one in arms[k].items() if says(one)}
            equations.append({s + k: 1.0, m + k: -1.0, **turns})
        equations += [{s + k: 1.0, m + k: -1.0} for k in (3, 4, 5)]
    for tie in ties:
        m = 6 * index[tie.master]
        s = 6 * index[tie.slave]
        equations += [{s + k: 1.0, m + k: -1.0} for k in tie.dofs]
    return equations


def eliminate(
    equations: Sequence[Equation],
    largest_of: Callable[[Any], float] = abs,
    least_of: Callable[[Any], float] = abs,
) -> tuple[dict[int, Equation], list[int]]:
    """Gaussian elimination on sparse rows: eliminated dof -> combination of the remaining ones.

    The first dof named in an equation (the slave's) is preferred as the one to go. Also returns the numbers
    of the equations that were not redundant. Where coefficients are arrays, one number for each model, the largest and
    the least size in them decide for all.
    """
    eliminated: dict[int, Equation] = {}
    # dof -> eliminated dofs that were expressed by it
    users: defaultdict[int, set[int]] = defaultdict(set)
    kept = []
    for number, equation in enumerate(equations):
        # In terms of what is still there; a condition said twice becomes 0 = 0.
        alone = eliminated.keys().isdisjoint(equation)
        row = dict(equation)
        if not alone:
            row = _substitute(equation, eliminated, largest_of)
        largest = max(map(largest_of, row.values()), default=0.0)
        # Redundant: dropping it loses nothing. What nothing was put into is not, unless it says nothing.
        if not largest or (
            not alone and largest <= _ZERO * max(map(largest_of, equation.values()))
        ):
            continue
        # The slave's own dof, unless what is left of it is too small to divide by.
        first = next(iter(equation))
        if least_of(row.get(first, 0.0)) > 1e-6 * largest:
            pivot = first
        else:
            pivot = max(row, key=lambda dof: largest_of(row[dof]))
        scale = row.pop(pivot)
        solved = {dof: -c / scale for dof, c in row.items() if largest_of(c) > _ZERO * largest}
        # Whoever was expressed by the dof that goes is expressed anew.
        for dof in users.pop(pivot, ()):
            if pivot in eliminated[dof]:
                eliminated[dof] = _substitute(eliminated[dof], {pivot: solved}, largest_of)
                for target in eliminated[dof]:
                    users[target].add(dof)
        eliminated[pivot] = solved
        for target in solved:
            users[target].add(pivot)
        kept.append(number)
    return eliminated, kept


def _substitute(
    row: Equation, eliminated: Mapping[int, Equation], largest_of: Callable[[Any], float] = abs
) -> Equation:
    if eliminated.keys().isdisjoint(row):
        return dict(row)
    out: Equation = {}
    sizes: dict[int, float] = {}
    for dof, coefficient in row.items():
        for target, factor in eliminated.get(dof, {dof: 1.0}).items():
            term = coefficient * factor
            out[target] = out.get(target, 0.0) + term
            sizes[target] = max(sizes.get(target, 0.0), largest_of(term))
    # What cancels leaves rounding, which would pass for a condition of its own.
    return {dof: c for dof, c in out.items() if largest_of(c) > _ZERO * sizes[dof]}
