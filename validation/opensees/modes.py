"""Natural frequencies by OpenSees, with our mass model.

OpenSees has no eigenvalue solver that can be trusted blindly. ARPACK has no shift: on a structure that is free to
move it factors a singular matrix, which may or may not go well. The full LAPACK solver does not use symmetry and
can return large negative squares (a free ring of 120 elements does it). So the one is tried, then the other, and an
answer counts only when no square is negative and there are at least as many rigid-body modes as the supports
leave.
"""

from collections.abc import Iterable, Mapping, Sequence
from math import pi

import numpy as np

from ...model.arrays import Array
from ...model.mechanics.frame_model import FrameModel, Spring
from .build import Build
from .engine import OpenSeesError, session

_FULL_SOLVER_DOFS = 800  # the full solver takes seconds beyond it
_ZERO = 1e-8  # a squared frequency this small against the largest asked for is a rigid-body mode's rounding


def modes_opensees(
    model: FrameModel,
    supports: Mapping[str, Iterable[int]],
    count: int,
    springs: Sequence[Spring] = (),
) -> Array:
    """The lowest natural frequencies, Hz, ascending; rigid-body modes count, as (nearly) zero.

    Parameters
    ----------
    supports, springs : node -> six flags, and springs of the load case beside the model's own.

    Raises
    ------
    OpenSeesError
        When OpenSees is not available, cannot represent the model (rotary inertia left out of a shear beam,
        links upon links), or gives no answer that stands up to its checks.
    """
    held = {node: tuple(flags) for node, flags in supports.items()}
    if not any(e.material.rho for e in model.elements) and not model.masses:
        raise OpenSeesError("the model has no mass, so it has no natural frequencies")
    free = 6 - _rigid_motions_held(model, held, springs)
    # Rigid modes are recognised against elastic ones, so some of these must be among the answer.
    wanted = min(max(count, 8), _independent_dofs(model, held))
    if wanted < 1:
        raise OpenSeesError(
            "links and supports say the same thing more than once, so that nothing is left for "
            "OpenSees to move; the modes are not cross-checked"
        )
    solvers = ["-genBandArpack"] + ["-fullGenLapack"] * (model.dofs <= _FULL_SOLVER_DOFS)
    for solver in solvers:
        squares = _squares(model, held, springs, wanted, solver)
        if _credible(squares, wanted, free):
            # Rounding may leave the square of a rigid motion below 0.
            return np.asarray(np.sqrt(np.maximum(squares[:count], 0.0)) / (2 * pi))
    raise OpenSeesError(
        f"OpenSees gave no credible natural frequencies ({' and '.join(solvers)} tried): negative "
        f"squares, or fewer rigid-body modes than the {free} that the supports leave"
    )


def _independent_dofs(model: FrameModel, held: Mapping[str, tuple[int, ...]]) -> int:
    tied = 6 * len(model.rigid_links) + sum(len(e.dofs) for e in model.equal_dofs)
    return model.dofs - sum(map(sum, held.values())) - tied


def _squares(
    model: FrameModel,
    held: Mapping[str, tuple[int, ...]],
    springs: Sequence[Spring],
    count: int,
    solver: str,
) -> Array:
    """Squared circular frequencies, ascending, as OpenSees gives them; empty when it gives none."""
    with session() as ops:
        build = Build(ops, model, held, springs, masses=True)
        if build.chained:
            raise OpenSeesError(
                "OpenSees cannot find modes of a model with links upon links or supports on linked "
                "nodes; its modes are not cross-checked"
            )
        ops.constraints("Transformation")
        ops.numberer("RCM")
        try:
            values = ops.eigen(solver, count)
        except ops.OpenSeesError:
            return np.zeros(0)
    return np.sort(np.atleast_1d(np.array(values, dtype=float)))


def _credible(squares: Array, count: int, free: int) -> bool:
    if len(squares) < count or not np.all(np.isfinite(squares)):
        return False
    zero = _ZERO * float(np.abs(squares).max())
    return bool(squares.min() > -zero) and int((squares < zero).sum()) >= min(free, count)


def _rigid_motions_held(
    model: FrameModel, held: Mapping[str, tuple[int, ...]], springs: Sequence[Spring]
) -> int:
    """How many of the six rigid motions supports and ground springs resist: the rank of what they do to them."""
    size = float(np.ptp(model.xyz, axis=0).max()) or 1.0
    grounded = [s.i for s in (*model.springs, *springs) if s.j is None and any(s.k)]
    rows = [
        row
        for node, flags in held.items()
        for row, flag in zip(_rigid_rows(model, node, size), flags, strict=True)
        if flag
    ]
    # Taken as holding all six: then fewer rigid modes are demanded of the answer, never more.
    rows += [row for node in grounded for row in _rigid_rows(model, node, size)]
    if rows:
        return int(np.linalg.matrix_rank(np.array(rows), tol=1e-9))
    return 0


def _rigid_rows(model: FrameModel, node: str, size: float) -> Array:
    """(6, 6) motion of a node under unit rigid motions of the whole, lengths over the model's size."""
    x, y, z = (np.array(model.nodes[node]) - model.xyz.mean(axis=0)) / size
    rows = np.eye(6)
    rows[:3, 3:] = [[0, z, -y], [-z, 0, x], [y, -x, 0]]
    return rows
