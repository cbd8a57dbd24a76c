"""Solve load cases. Every solve is verified; there is no switch to turn that off.

Load cases with the same supports and springs share one factorisation.
"""

from collections.abc import Sequence
from functools import cached_property

import numpy as np
from scipy import sparse

from ..arrays import Array
from ..errors import MechanismError, ModelError
from .assembly import Factor, spring_stiffness, stiffness_matrix
from .beam import LARGEST, Beams
from .constraints import Constraints
from .frame_model import FrameModel, LoadCase, Measure
from .looseness import describe_too_stiff, is_loose
from .mechanism import describe_free_motion
from .result import Result

RESIDUAL_LIMIT = 1e-9
BALANCE_LIMIT = 1e-7
# Mechanisms come out above 1e16, the worst of the published models (90 slender pieces in a row) at 2e9.
CONDITION_LIMIT = 1e14


def solve(model: FrameModel, cases: Sequence[LoadCase]) -> dict[str, Result]:
    """Solve every load case; case name -> Result.

    Raises
    ------
    MechanismError
        When the supports of a case leave a free motion; the message names it.
    ModelError
        When a case names what the model does not have, or a result fails its own checks.
    """
    # Elements are worked out once for all cases; only supports and springs differ.
    beams = Beams.of(model)
    stiffness = stiffness_matrix(beams)
    results: dict[str, Result] = {}
    for group in same_restraints(cases):
        system = Restrained(beams, stiffness, group[0])
        results.update({case.name: system.result(case) for case in group})
    return {case.name: results[case.name] for case in cases}


def same_restraints(cases: Sequence[LoadCase]) -> list[list[LoadCase]]:
    """The cases in groups that share supports and springs, and so one factorisation; both in order of appearance."""
    groups: dict[object, list[LoadCase]] = {}
    for case in cases:
        # What decides the matrix, and nothing else: loads and measures may differ.
        key = (tuple(sorted((n, tuple(f)) for n, f in case.supports.items())), case.springs)
        groups.setdefault(key, []).append(case)
    return list(groups.values())


class Restrained:
    """A model under one set of supports and case springs, factored and ready for right-hand sides."""

    def __init__(self, beams: Beams, stiffness: sparse.csr_matrix, case: LoadCase) -> None:
        self.beams = beams
        self.model = beams.model
        _check_springs(self.model, case)
        if case.springs:
            self.stiffness = stiffness + spring_stiffness(self.model, case.springs)
        else:
            self.stiffness = stiffness
        self.constraints = Constraints.of(self.model, case.supports)
        # Links and supports are eliminated, so the matrix stays positive definite.
        T = self.constraints.T
        self.reduced = (T.T @ self.stiffness @ T).tocsr()
        try:
            self.factor = Factor.of(self.reduced)
            self.condition = self.factor.condition
            # A mechanism can slip past the pivots with a value of rounding size.
            if not self.condition < CONDITION_LIMIT:  # a pivot that rounding kept from vanishing
                raise MechanismError("the model has a free motion")
        except MechanismError as error:
            if is_loose(self.model, case) is False:
                raise ModelError(describe_too_stiff(self.model, case.name)) from error
            raise MechanismError(
                describe_free_motion(self.model, self.reduced, T, case.name)
            ) from error

    def displacements(self, forces: Array) -> Array:
        """Displacements (6n,) or (6n, k) for nodal forces of the same shape."""
        T = self.constraints.T
        return np.asarray(T @ self.factor.solve(np.asarray(T.T @ forces)))

    def result(self, case: LoadCase) -> Result:
        """Solve one case that has these supports and springs, and check it."""
        # Loads along elements act through the forces that clamped ends would need.
        member = self.beams.load_forces(case.member_loads)
        forces = nodal_forces(self.model, case)
        np.add.at(forces, self.beams.dofs.ravel(), self.beams.turn(member, to_local=False).ravel())
        # Refined once; what is left is judged below, not assumed.
        u = self.displacements(forces)
        unbalanced = self.stiffness @ u - forces
        reactions = self.constraints.support_forces(unbalanced)
        residual = self._residual(u, unbalanced, forces)
        force_balance, moment_balance = self._balance(case, u, forces, reactions)
        _refuse_bad(case, u, residual, force_balance, moment_balance, self.condition)
        # End forces are those of the moved ends, less what the element's own load brought in.
        local = self.beams.turn(u[self.beams.dofs], to_local=True)
        ends = np.einsum("mij,mj->mi", self.beams.k_local, local) - member
        # Reactions at supports only: a link's force is inside the frame.
        nodes = list(self.model.nodes)
        held = {
            nodes[dof // 6]: reactions[6 * (dof // 6) : 6 * (dof // 6) + 6]
            for dof in sorted(self.constraints.supported)
            if dof >= 0
        }
        return Result(
            self.model,
            case,
            u.reshape(-1, 6),
            held,
            ends,
            residual,
            force_balance,
            moment_balance,
            self.condition,
        )

    def _residual(self, u: Array, unbalanced: Array, forces: Array) -> float:
        """|Tᵀ(K u - f)| relative to |Tᵀ|K||u|| + |Tᵀ f|: what is left on the free dofs."""
        T = self.constraints.T
        # Against the sizes that were added up, not their sum: a stiff frame hardly loaded must not
        # look inexact.
        pulled = self._sizes[1] @ (self._sizes[0] @ np.abs(u))
        scale = np.linalg.norm(pulled) + np.linalg.norm(T.T @ forces)
        if scale > 0:
            return float(np.linalg.norm(T.T @ unbalanced) / scale)
        return 0.0

    @cached_property
    def _sizes(self) -> tuple[sparse.csr_matrix, sparse.csr_matrix]:
        """|K| and |Tᵀ|"""
        return abs(self.stiffness), abs(self.constraints.T).T.tocsr()

    def _balance(
        self, case: LoadCase, u: Array, forces: Array, reactions: Array
    ) -> tuple[float, float]:
        """Sum of loads, reactions and ground springs, relative to the sum of their sizes; forces, then moments."""
        # A spring to ground carries load out of the frame as a support does.
        grounded = [s for s in (*self.model.springs, *case.springs) if s.j is None]
        if grounded:
            ground = -(spring_stiffness(self.model, grounded) @ u)
        else:
            ground = np.zeros(len(u))
        return balance(self.model.xyz, [forces, reactions, ground])


def _check_springs(model: FrameModel, case: LoadCase) -> None:
    for spring in case.springs:
        for node in (spring.i, spring.j):
            if node is not None and node not in model.node_index:
                raise ModelError(
                    f"load case {case.name}: a spring names node '{node}', which the model does not have"
                )


def nodal_forces(model: FrameModel, case: LoadCase) -> Array:
    """(6n,) nodal loads of a case, without member loads.

    Raises
    ------
    ModelError
        For a node that the model does not have, or a load that is not six numbers below `LARGEST`.
    """
    forces = np.zeros(model.dofs)
    for node, load in case.nodal.items():
        if node not in model.node_index:
            raise ModelError(
                f"load case {case.name}: a load names node '{node}', which the model does not have"
            )
        if len(load) != 6 or not np.all(np.abs(load) < LARGEST):
            raise ModelError(
                f"load case {case.name}, node {node}: six components below {LARGEST:g} are needed, got "
                f"{tuple(load)}"
            )
        k = 6 * model.node_index[node]
        forces[k : k + 6] += load
    return forces


def measure_weights(model: FrameModel, measure: Measure) -> Array:
    """(6n,) weights of a measure on a model's displacements."""
    weights = np.zeros(model.dofs)
    for node, six in measure.weights:
        at = 6 * model.node_index[node]
        weights[at : at + 6] += six
    return weights


def balance(xyz: Array, vectors: Sequence[Array]) -> tuple[float, float]:
    """Relative force and moment imbalance of nodal force vectors (6n,) about the centroid of the nodes.

    Relative to the sum of the forces' sizes, or of the moments' sizes over the model's radius where that is
    more (and the other way round): under a pure couple the forces are rounding, and must not be held against
    themselves.
    """
    # About the middle of the frame: a far origin would drown the moments in rounding.
    arms = xyz - xyz.mean(axis=0)
    radius = float(np.linalg.norm(arms, axis=1).max())
    force = np.zeros(3)
    moment = np.zeros(3)
    force_size = 0.0
    moment_size = 0.0
    for vector in vectors:
        f = vector.reshape(-1, 6)[:, :3]
        m = vector.reshape(-1, 6)[:, 3:]
        turned = np.cross(arms, f)
        force += f.sum(axis=0)
        moment += (m + turned).sum(axis=0)
        force_size += float(np.abs(f).sum())
        moment_size += float(np.abs(m).sum() + np.abs(turned).sum())
    size = max(force_size, moment_size / radius if radius else 0.0)
    lever = max(moment_size, force_size * radius)
    return (
        float(np.linalg.norm(force)) / size if size else 0.0,
        float(np.linalg.norm(moment)) / lever if lever else 0.0,
    )


def _refuse_bad(
    case: LoadCase, u: Array, residual: float, force: float, moment: float, condition: float
) -> None:
    """A result that fails its own checks must never exist."""
    if not np.all(np.isfinite(u)):
        raise ModelError(
            f"load case {case.name}: the solution is not finite (condition number {condition:.1e})"
        )
    for what, value, limit in (
        ("relative residual", residual, RESIDUAL_LIMIT),
        ("force balance", force, BALANCE_LIMIT),
        ("moment balance", moment, BALANCE_LIMIT),
    ):
        if not value <= limit:
            raise ModelError(
                f"load case {case.name}: {what} {value:.1e} exceeds {limit:.0e} "
                f"(condition number {condition:.1e}); the model is too badly scaled to trust"
            )
