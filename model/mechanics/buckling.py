"""Linear buckling: by what factor a load case may grow before slender tubes buckle sideways.

(K + λ Kg) φ = 0 with Kg from the axial forces of the case. Kg of one bending plane after Przemieniecki, Theory of
Matrix Structural Analysis (1968), ch. 15, extended by the shear parameter Φ (the same ∫ v'² with the shear-flexible
shape functions; it gives Engesser's column, Timoshenko & Gere 1961, art. 2.17). Only axial forces act: twisting
under end moments and buckling in torsion are left out, and so is everything local to a thin wall.
"""

import numpy as np
from scipy import sparse
from scipy.linalg import eigh
from scipy.sparse.linalg import LinearOperator, eigsh

from ..arrays import Array
from .assembly import assemble
from .beam import Beams, fill_plane, shear_parameter, to_global
from .frame_model import FrameModel, LoadCase
from .solve import Restrained

_DENSE = 120  # below this many free dofs a full eigenvalue solution is quicker and always works


def buckling_factors(model: FrameModel, case: LoadCase, count: int = 1) -> Array:
    """The lowest `count` positive factors on the loads of a case, ascending; fewer where fewer exist.

    Empty when nothing is in compression: then the loads may grow without buckling in this sense.

    Raises
    ------
    MechanismError, ModelError
        When the case itself cannot be solved.
    """
    beams = Beams.of(model)
    system = Restrained(beams, case)
    # The checked solution of the case gives the axial forces that soften or stiffen.
    ends = system.result(case).end_forces
    T = system.constraints.T
    geometric = (T.T @ geometric_matrix(beams, (ends[:, 6] - ends[:, 0]) / 2) @ T).tocsr()
    # μ = 1/λ: the largest softening is the lowest factor, and the positive definite K stands on the
    # right.
    softening = _largest(-geometric, system, count)
    # Tension only gives μ of rounding size, which is not a buckling factor.
    felt = np.abs(geometric.diagonal()) / system.reduced.diagonal()
    return np.asarray(1 / softening[softening > _ROUNDING * felt.max(initial=0.0)])


_ROUNDING = 1e-10  # of what a single dof feels of the axial forces; below it there is no softening, only rounding


def _largest(softening: sparse.csr_matrix, system: Restrained, count: int) -> Array:
    """The largest `count` μ of (-Kg) φ = μ K φ, descending; μ = 1/λ."""
    n = softening.shape[0]
    if n <= max(_DENSE, 3 * count):
        values = eigh(softening.toarray(), system.reduced.toarray(), eigvals_only=True)
        return np.asarray(values[::-1][:count])
    inverse = LinearOperator((n, n), matvec=system.factor.solve)
    # The start vector is fixed, so that results repeat.
    values = eigsh(
        softening,
        k=count,
        M=system.reduced,
        Minv=inverse,
        which="LA",
        v0=np.ones(n),
        return_eigenvectors=False,
    )
    return np.asarray(np.sort(values)[::-1])


def local_geometric(p: dict[str, Array], length: Array, tension: Array) -> Array:
    """(m, 12, 12) geometric stiffness in local axes for axial forces (m,), tension positive."""
    kg = np.zeros((len(length), 12, 12))
    for dofs, sign, second, shear in (
        ((1, 5, 7, 11), 1.0, "Iz", "Asy"),
        ((2, 4, 8, 10), -1.0, "Iy", "Asz"),
    ):
        phi = shear_parameter(p["E"] * p[second], p["G"] * p[shear], length)
        _fill_bending(kg, dofs, sign, tension, phi, length)
    return kg


def _fill_bending(
    kg: Array,
    dofs: tuple[int, int, int, int],
    sign: float,
    tension: Array,
    phi: Array,
    length: Array,
) -> None:
    common = tension / (length * (1 + phi) ** 2)
    shear = (6 / 5 + 2 * phi + phi**2) * common
    moment = sign * length / 10 * common
    near = (2 / 15 + phi / 6 + phi**2 / 12) * length**2 * common
    far = -(1 / 30 + phi / 6 + phi**2 / 12) * length**2 * common
    fill_plane(kg, dofs, shear, moment, near, far)


def geometric_matrix(beams: Beams, tension: Array) -> sparse.csr_matrix:
    """(6n, 6n) geometric stiffness for axial forces (m,), global axes; released ends follow their elements."""
    local = local_geometric(beams.model.properties, beams.length, tension)
    for number, dofs in beams.released.items():
        # Released ends take the shape that the element lets them take.
        follow = np.eye(12)
        follow[list(dofs)] -= beams.release_matrix(number)
        local[number] = follow.T @ local[number] @ follow
    return assemble(beams.dofs, to_global(local, beams.rotation), beams.model.dofs)
