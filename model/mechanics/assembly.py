"""From elements and springs to the sparse system matrix, and its banded Cholesky factor."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.linalg import cho_solve_banded, cholesky_banded
from scipy.sparse.csgraph import reverse_cuthill_mckee
from scipy.sparse.linalg import LinearOperator, onenormest

from ..arrays import Array
from ..errors import MechanismError, ModelError
from .beam import LARGEST, Beams, local_axes, spd_inverse
from .frame_model import FrameModel, Spring


def assemble(dofs: np.ndarray, matrices: Array, size: int) -> sparse.csr_matrix:
    """Add (m, k, k) matrices into a (size, size) sparse matrix at the (m, k) dof numbers."""
    width = dofs.shape[1]
    rows = np.repeat(dofs, width, axis=1).ravel()
    columns = np.tile(dofs, (1, width)).ravel()
    return sparse.csr_matrix((matrices.ravel(), (rows, columns)), shape=(size, size))


def spring_stiffness(model: FrameModel, springs: Sequence[Spring]) -> sparse.csr_matrix:
    """(6n, 6n) stiffness of springs between nodes and to ground."""
    size = model.dofs
    index = model.node_index
    total = sparse.csr_matrix((size, size))
    for grounded in (True, False):
        group = [s for s in springs if (s.j is None) == grounded]
        if group:
            if grounded:
                pattern = np.ones((1, 1))
            else:
                pattern = np.array([[1.0, -1.0], [-1.0, 1.0]])
            if grounded:
                ends = np.array([[index[s.i]] for s in group])
            else:
                ends = np.array([[index[s.i], index[s.j or s.i]] for s in group])
            dofs = (6 * ends[:, :, None] + np.arange(6)).reshape(len(group), -1)
            total = total + assemble(
                dofs, np.array([np.kron(pattern, spring_matrix(s)) for s in group]), size
            )
    return total


def spring_matrix(spring: Spring) -> Array:
    """(6, 6) stiffness of one spring in global axes.

    Raises
    ------
    ModelError
        For a stiffness of `LARGEST` or more, or axes that are parallel.
    """
    if not max(spring.k) < LARGEST:
        raise ModelError(
            f"spring {spring.id}: a stiffness of {max(spring.k):.0e} is out of range; check its unit"
        )
    axes = np.array([spring.x_axis], dtype=float), np.array([spring.vxy], dtype=float)
    rotation = local_axes(*axes, [f"spring {spring.id}"])[1][0]
    turn = np.kron(np.eye(2), rotation)
    if spring.compliance is None:
        stiffness = np.diag(spring.k)
    else:
        stiffness = spd_inverse(np.array(spring.compliance))
    return np.asarray(turn.T @ stiffness @ turn)


def stiffness_matrix(beams: Beams) -> sparse.csr_matrix:
    """(6n, 6n) stiffness of all elements and of the model's own springs."""
    model = beams.model
    elements = assemble(beams.dofs, beams.k_global, model.dofs)
    if model.springs:
        return elements + spring_stiffness(model, model.springs)
    return elements


@dataclass(frozen=True, eq=False)
class Factor:
    """Cholesky factor of a symmetric positive definite sparse matrix, scaled to unit diagonal, in band form.

    Unit scaling makes the pivots comparable although mm and rad are mixed; reverse Cuthill-McKee keeps
    the band narrow.
    """

    band: Array
    order: np.ndarray
    scale: Array
    matrix: sparse.csr_matrix

    @classmethod
    def of(cls, matrix: sparse.csr_matrix) -> "Factor":
        """Raises MechanismError (without words for the motion) when a pivot vanishes, ModelError over BAND_LIMIT."""
        diagonal = matrix.diagonal()
        if matrix.shape[0] == 0:
            return cls(np.zeros((1, 0)), np.zeros(0, int), np.zeros(0), matrix)
        if not np.all(diagonal > 0):
            raise MechanismError("the model has a free motion")
        scale = 1 / np.sqrt(diagonal)
        order = np.asarray(reverse_cuthill_mckee(matrix, symmetric_mode=True))
        band = _lower_band(matrix, order, scale)
        try:
            band = cholesky_banded(band, lower=True, overwrite_ab=True, check_finite=False)
        except np.linalg.LinAlgError as error:
            raise MechanismError("the model has a free motion") from error
        if float(band[0].min()) < PIVOT_LIMIT:
            raise MechanismError("the model has a free motion")
        return cls(band, order, scale, matrix)

    def solve(self, right: Array) -> Array:
        """Solve for (n,) or (n, k) right-hand sides, with one step of iterative refinement."""
        if not len(self.order):
            return np.zeros_like(right)
        u = self._once(right)
        return np.asarray(u + self._once(right - self.matrix @ u))

    def _once(self, right: Array) -> Array:
        if right.ndim == 1:
            scale = self.scale[self.order]
        else:
            scale = self.scale[self.order][:, None]
        out = np.empty_like(right)
        out[self.order] = scale * cho_solve_banded(
            (self.band, True), scale * right[self.order], check_finite=False
        )
        return out

    @property
    def condition(self) -> float:
        """Estimated 1-norm condition number of the unit-scaled matrix (Higham & Tisseur's estimator)."""
        if not len(self.order):
            return 1.0
        matrix = self.matrix
        row = np.repeat(np.arange(len(self.scale)), np.diff(matrix.indptr))
        column = matrix.indices
        sizes = np.abs(matrix.data) * self.scale[row] * self.scale[column]
        norm = float(np.bincount(column, sizes).max())
        return norm * self._inverse_norm()

    def _inverse_norm(self) -> float:
        """1-norm of the inverse of the factored matrix, estimated from a few solutions."""
        size = len(self.order)
        inverse = LinearOperator(
            (size, size),
            dtype=float,
            # The matrix is symmetric, and so is its inverse.
            matvec=self._solve_scaled,
            rmatvec=self._solve_scaled,
            matmat=self._solve_scaled,
            rmatmat=self._solve_scaled,
        )
        # One column is Hager's method: it draws no random numbers, so the same model gives the same figure.
        return float(onenormest(inverse, t=1))

    def _solve_scaled(self, right: Array) -> Array:
        return np.asarray(cho_solve_banded((self.band, True), right, check_finite=False))


# Smallest Cholesky pivot (square root of the unit-scaled Schur complement) that still counts as held. Rounding
# leaves about 1e-8 on a true mechanism; a legitimate chain of 100 elements leaves about 1e-4.
PIVOT_LIMIT = 3e-7
BAND_LIMIT = 30_000_000  # numbers in the factor, 240 MB; a frame of 150 elements has some 30,000


def _lower_band(matrix: sparse.csr_matrix, order: np.ndarray, scale: Array) -> Array:
    position = np.empty(len(order), dtype=int)
    position[order] = np.arange(len(order))
    coo = matrix.tocoo()
    row = position[coo.row]
    column = position[coo.col]
    lower = row >= column
    offset = (row - column)[lower]
    if (int(offset.max()) + 1) * len(order) > BAND_LIMIT:
        raise ModelError(
            f"{len(order)} unknowns that hang together this closely (each with up to {int(offset.max())} "
            "others) need more memory than a frame ever does; use a coarser mesh or a part of the model"
        )
    # as LAPACK wants it: it copies anything else
    band = np.zeros((int(offset.max()) + 1, len(order)), order="F")
    np.add.at(band, (offset, column[lower]), (coo.data * scale[coo.row] * scale[coo.col])[lower])
    return band
