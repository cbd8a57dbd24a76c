"""From elements and springs to the system matrix, and its banded Cholesky factor.

A frame has a few hundred unknowns: for so few the bookkeeping of general sparse matrices takes ten times as long as
the arithmetic. So matrices stay lists of numbers with their places until they are added up, once, into the band that
LAPACK works on. `assemble` makes a sparse matrix for those who need one.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.linalg.blas import dsbmv
from scipy.linalg.lapack import dpbtrf, dpbtrs
from scipy.sparse.csgraph import reverse_cuthill_mckee

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


def summed_at(places: np.ndarray, values: Array, size: int) -> Array:
    """(size, k) sums of the rows of values (m, k) that share a place; `places` (m,) are row numbers."""
    wide = values.shape[1]
    flat = (wide * places[:, None] + np.arange(wide)).ravel()
    return np.asarray(np.bincount(flat, values.ravel(), size * wide).reshape(size, wide))


@dataclass(frozen=True, eq=False)
class StiffParts:
    """What is stiff: elements and springs alike, as matrices (p, 12, 12) in global axes and their dofs (p, 12).

    A spring to ground acts on one node: it is named twice, and the second time nothing is there.
    """

    dofs: NDArray[np.intp]
    matrices: Array

    def __add__(self, other: "StiffParts") -> "StiffParts":
        dofs = np.concatenate([self.dofs, other.dofs])
        return StiffParts(dofs, np.concatenate([self.matrices, other.matrices]))

    def times(self, u: Array) -> Array:
        """(6n, k) forces K u of displacements u (6n, k)."""
        forces = self.matrices @ u[self.dofs]
        return summed_at(self.dofs.ravel(), forces.reshape(-1, u.shape[1]), len(u))

    def matrix(self, size: int) -> sparse.csr_matrix:
        """The sum of all as a sparse matrix."""
        return assemble(self.dofs, self.matrices, size)


def element_pieces(beams: Beams) -> StiffParts:
    """All elements and the model's own springs."""
    elements = StiffParts(beams.dofs, beams.k_global)
    if beams.model.springs:
        return elements + spring_pieces(beams.model, beams.model.springs)
    return elements


def spring_pieces(model: FrameModel, springs: Sequence[Spring]) -> StiffParts:
    """Springs between nodes and to ground."""
    index = model.node_index
    ends = np.array([(index[s.i], index[s.j or s.i]) for s in springs], dtype=np.intp).reshape(
        -1, 2
    )
    dofs = (6 * ends[:, :, None] + np.arange(6)).reshape(-1, 12)
    matrices = np.zeros((len(springs), 2, 6, 2, 6))
    for k, spring in enumerate(springs):
        matrix = spring_matrix(spring)
        matrices[k, 0, :, 0] = matrix
        if spring.j is not None:
            matrices[k, 1, :, 1] = matrix
            matrices[k, 0, :, 1] = matrices[k, 1, :, 0] = -matrix
    return StiffParts(dofs, matrices.reshape(-1, 12, 12))


def spring_stiffness(model: FrameModel, springs: Sequence[Spring]) -> sparse.csr_matrix:
    """(6n, 6n) stiffness of springs between nodes and to ground."""
    return spring_pieces(model, springs).matrix(model.dofs)


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
    turn = np.zeros((6, 6))
    turn[:3, :3] = turn[3:, 3:] = rotation
    if spring.compliance is None:
        stiffness = np.diag(spring.k)
    else:
        stiffness = spd_inverse(np.array(spring.compliance))
    return np.asarray(turn.T @ stiffness @ turn)


def stiffness_matrix(beams: Beams) -> sparse.csr_matrix:
    """(6n, 6n) stiffness of all elements and of the model's own springs."""
    return element_pieces(beams).matrix(beams.model.dofs)


@dataclass(frozen=True, eq=False)
class Entries:
    """A symmetric matrix (size, size) before it is added up, each pair of unknowns once: places may repeat.

    row, column, value : in either triangle, values of nought left out.
    block : (size,) number of the node each unknown belongs to. touching : pairs of blocks that meet somewhere;
    unknowns of one block stay together in every order.
    """

    size: int
    row: NDArray[np.intp]
    column: NDArray[np.intp]
    value: Array
    block: NDArray[np.intp]
    touching: tuple[NDArray[np.intp], NDArray[np.intp]]

    @classmethod
    def of(cls, matrix: sparse.csr_matrix) -> "Entries":
        whole = matrix.tocoo()
        lower = whole.row >= whole.col
        row, column = (places[lower].astype(np.intp) for places in (whole.row, whole.col))
        blocks = np.arange(matrix.shape[0])
        return cls(matrix.shape[0], row, column, whole.data[lower], blocks, (whole.row, whole.col))

    def matrix(self) -> sparse.csr_matrix:
        """The sum as a sparse matrix."""
        places = (self.row, self.column)
        one_side = sparse.csr_matrix((self.value, places), shape=(self.size, self.size))
        return (one_side + one_side.T - sparse.diags(one_side.diagonal())).tocsr()

    def diagonal(self) -> Array:
        """(size,) the sums on the diagonal."""
        on = np.flatnonzero(self.row == self.column)
        return np.asarray(np.bincount(self.row[on], self.value[on], self.size), dtype=float)

    def order(self) -> NDArray[np.intp]:
        """Reverse Cuthill-McKee: the unknowns in an order that keeps the band narrow."""
        blocks = int(self.block.max()) + 1
        first, second = self.touching
        # Each pair once, row by row, as the sparse matrix keeps them: it would take longer to find that out.
        met = np.sort(first * blocks + second)
        met = met[np.flatnonzero(np.diff(met, prepend=-1))]
        rows = np.searchsorted(met, blocks * np.arange(blocks + 1))
        kept = (np.ones(len(met), dtype=np.int8), met % blocks, rows)
        graph = sparse.csr_matrix(kept, shape=(blocks, blocks))
        place = np.empty(blocks, dtype=np.intp)
        place[reverse_cuthill_mckee(graph, symmetric_mode=True)] = np.arange(blocks)
        in_place: NDArray[np.intp] = np.argsort(place[self.block], kind="stable")
        return in_place


@dataclass(frozen=True, eq=False)
class Factor:
    """Cholesky factor of a symmetric positive definite matrix, scaled to unit diagonal, in band form.

    Unit scaling makes the pivots comparable although mm and rad are mixed; reverse Cuthill-McKee keeps
    the band narrow. band : the factor. unit : the scaled matrix itself. Both in the order of `order`, lower.
    """

    band: Array
    unit: Array
    order: np.ndarray
    scale: Array

    @classmethod
    def of(cls, matrix: "Entries | sparse.csr_matrix") -> "Factor":
        """Raises MechanismError (without words for the motion) when a pivot vanishes, ModelError over BAND_LIMIT."""
        entries = matrix if isinstance(matrix, Entries) else Entries.of(matrix)
        if entries.size == 0:
            nothing = np.zeros((1, 0))
            return cls(nothing, nothing, np.zeros(0, int), np.zeros(0))
        diagonal = entries.diagonal()
        if not np.all(diagonal > 0):
            raise MechanismError("the model has a free motion")
        scale = 1 / np.sqrt(diagonal)
        order = entries.order()
        unit = _lower_band(entries, order, scale)
        band, failed = dpbtrf(unit, lower=1)
        if failed or float(band[0].min()) < PIVOT_LIMIT:
            raise MechanismError("the model has a free motion")
        return cls(band, unit, order, scale)

    def solve(self, right: Array) -> Array:
        """Solve for (n,) or (n, k) right-hand sides, with one step of iterative refinement."""
        if not len(self.order):
            return np.zeros_like(right)
        scale = self.scale[self.order]
        b = (scale * right[self.order].T).T
        x = self._solve_scaled(b)
        x += self._solve_scaled(b - _band_times(self.unit, x))
        u = np.empty_like(x)
        u[self.order] = (scale * x.T).T
        return u

    def sizes(self, u: Array) -> Array:
        """(n, k) |K| |u|: the sizes that are added up in K u, of (n, k)."""
        if not len(self.order):
            return np.zeros_like(u)
        scale = self.scale[self.order, None]
        out = np.empty_like(u)
        out[self.order] = _band_times(self._magnitudes, np.abs(u[self.order]) / scale) / scale
        return out

    @property
    def condition(self) -> float:
        """Estimated 1-norm condition number of the unit-scaled matrix (Higham & Tisseur's estimator)."""
        if not len(self.order):
            return 1.0
        column_sums = _band_times(self._magnitudes, np.ones(len(self.order)))
        return float(column_sums.max()) * self._inverse_norm()

    @cached_property
    def _magnitudes(self) -> Array:
        return np.abs(self.unit)

    def _inverse_norm(self) -> float:
        """1-norm of the inverse of the factored matrix, estimated from a few solutions: Hager's method, in the steps of
        scipy's `onenormest`, which takes longer to set up than all that a small frame needs."""
        size = len(self.order)
        start = np.full(size, 1 / size)
        found = 0.0
        signs = np.zeros(size)
        at = -1
        for turn in range(_NORM_TURNS + 1):
            answer = self._solve_scaled(start)
            before = found
            found = max(found, float(np.abs(answer).sum()))
            own = np.where(answer < 0, -1.0, 1.0)
            if turn == _NORM_TURNS or (turn and found == before) or abs(own @ signs) == size:
                break
            signs = own
            # The matrix is symmetric, and so is its inverse: what a gradient points to is tried next.
            slope = np.abs(self._solve_scaled(signs))
            if turn and slope.max() == slope[at]:
                break
            at = int(slope.argmax())
            start = np.zeros(size)
            start[at] = 1.0
        return found

    def _solve_scaled(self, right: Array) -> Array:
        return np.asarray(dpbtrs(self.band, right, lower=1)[0]).reshape(right.shape)


# Smallest Cholesky pivot (square root of the unit-scaled Schur complement) that still counts as held. Rounding
# leaves about 1e-8 on a true mechanism; a legitimate chain of 100 elements leaves about 1e-4.
PIVOT_LIMIT = 3e-7
_NORM_TURNS = 5  # of Hager's method at most; two or three are usual
BAND_LIMIT = 30_000_000  # numbers in the factor, 240 MB; a frame of 150 elements has some 30,000


def _lower_band(entries: Entries, order: np.ndarray, scale: Array) -> Array:
    size = entries.size
    position = np.empty(size, dtype=np.intp)
    position[order] = np.arange(size)
    row = position[entries.row]
    column = position[entries.column]
    offset = np.abs(row - column)
    width = int(offset.max()) + 1
    if width * size > BAND_LIMIT:
        raise ModelError(
            f"{size} unknowns that hang together this closely (each with up to {width - 1} "
            "others) need more memory than a frame ever does; use a coarser mesh or a part of the model"
        )
    value = entries.value * scale[entries.row] * scale[entries.column]
    first = np.minimum(row, column)
    # column after column, as LAPACK wants it: it copies anything else
    flat = np.bincount(first * width + offset, value, width * size)
    return np.asarray(flat.reshape(size, width).T)


def _band_times(band: Array, x: Array) -> Array:
    """A symmetric matrix from its lower band (w, n) times (n,) or (n, k)."""
    columns = [
        dsbmv(len(band) - 1, 1.0, band, column, lower=1) for column in x.reshape(len(x), -1).T
    ]
    return np.stack(columns, axis=1).reshape(x.shape) if columns else np.zeros_like(x)
