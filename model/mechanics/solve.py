"""Solve load cases. Every solve is verified; there is no switch to turn that off.

Load cases with the same supports and springs share one factorisation.
"""

from collections.abc import Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from ..arrays import Array, crossed
from ..errors import MechanismError, ModelError
from ..threads import one_thread
from .assembly import Factor, StiffParts, element_pieces, spring_pieces
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
    results: dict[str, Result] = {}
    with one_thread():
        # Elements are worked out once for all cases; only supports and springs differ.
        beams = Beams.of(model)
        for group in same_restraints(cases):
            results |= Restrained(beams, group[0]).results(group)
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

    def __init__(self, beams: Beams, case: LoadCase) -> None:
        self.beams = beams
        self.model = beams.model
        _check_springs(self.model, case)
        self.pieces = element_pieces(beams)
        if case.springs:
            self.pieces = self.pieces + spring_pieces(self.model, case.springs)
        self.constraints = Constraints.of(self.model, case.supports)
        # Links and supports are eliminated, so the matrix stays positive definite.
        self.entries = self.constraints.reduced(self.pieces)
        try:
            self.factor = Factor.of(self.entries)
            self.condition = self.factor.condition
            # A mechanism can slip past the pivots with a value of rounding size.
            if not self.condition < CONDITION_LIMIT:  # a pivot that rounding kept from vanishing
                raise MechanismError("the model has a free motion")
        except MechanismError as error:
            if is_loose(self.model, case) is False:
                raise ModelError(describe_too_stiff(self.model, case.name)) from error
            raise MechanismError(
                describe_free_motion(self.model, self.reduced, self.constraints.T, case.name)
            ) from error

    @cached_property
    def reduced(self) -> sparse.csr_matrix:
        """(free, free) stiffness of the free displacements."""
        return self.entries.matrix()

    def displacements(self, forces: Array) -> Array:
        """Displacements (6n,) or (6n, k) for nodal forces of the same shape."""
        columns = forces.reshape(len(forces), -1)
        q = self.factor.solve(self.constraints.gathered(columns))
        return self.constraints.moved(q).reshape(forces.shape)

    def result(self, case: LoadCase) -> Result:
        """Solve one case that has these supports and springs, and check it."""
        return self.results([case])[case.name]

    def results(self, cases: Sequence[LoadCase]) -> dict[str, Result]:
        """Solve cases that have these supports and springs, and check each."""
        # Loads along elements act through the forces that clamped ends would need.
        members = [self.beams.load_forces(case.member_loads) for case in cases]
        forces = np.stack([self._forces(c, m) for c, m in zip(cases, members, strict=True)], axis=1)
        # Refined once; what is left is judged below, not assumed.
        u = self.displacements(forces)
        unbalanced = self.pieces.times(u) - forces
        reactions = self.constraints.support_forces(unbalanced)
        evidence = self._evidence(u, unbalanced, forces, reactions)
        # End forces are those of the moved ends, less what the element's own load brought in.
        local = self.beams.turn(u[self.beams.dofs], to_local=True)
        ends = self.beams.k_local @ local
        nodes = list(self.model.nodes)
        # Reactions at supports only: a link's force is inside the frame.
        held = sorted({int(dof) // 6 for dof in self.constraints.supported})
        results = {}
        for k, case in enumerate(cases):
            _refuse_bad(case, u[:, k], *evidence[k], self.condition)
            own = {nodes[n]: reactions[6 * n : 6 * n + 6, k] for n in held}
            moved = u[:, k].reshape(-1, 6)
            end_forces = ends[:, :, k] - members[k]
            results[case.name] = Result(
                self.model, case, moved, own, end_forces, *evidence[k], self.condition
            )
        return results

    def _forces(self, case: LoadCase, member: Array) -> Array:
        """(6n,) all loads of a case; `member` (m, 12) are those along elements, at their ends, local axes."""
        forces = nodal_forces(self.model, case)
        if case.member_loads:
            turned = self.beams.turn(member, to_local=False)
            np.add.at(forces, self.beams.dofs.ravel(), turned.ravel())
        return forces

    def _evidence(
        self, u: Array, unbalanced: Array, forces: Array, reactions: Array
    ) -> list[tuple[float, float, float]]:
        """Residual, force and moment balance of each solution (6n, k)."""
        # A spring to ground carries load out of the frame as a support does.
        ground = self._on_the_ground.times(-u)
        vectors = (forces, reactions, ground)
        acts = np.any([vector.any(axis=1) for vector in vectors], axis=0)
        # A load case acts on a few nodes; where nothing acts there is none to leave out.
        at = np.flatnonzero(acts.reshape(-1, 6).any(axis=1))
        if not len(at):
            at = np.arange(len(self.model.nodes))
        dofs = (6 * at[:, None] + np.arange(6)).ravel()
        balances = balance(self.model.xyz, [vector[dofs] for vector in vectors], at)
        residuals = self._residuals(u, unbalanced, forces)
        return [
            (float(r), float(f), float(m)) for r, f, m in zip(residuals, *balances, strict=True)
        ]

    def _residuals(self, u: Array, unbalanced: Array, forces: Array) -> Array:
        """|Tᵀ(K u - f)| relative to |TᵀKT||q| + |Tᵀ f|, per solution: what is left on the free dofs."""
        gathered = self.constraints.gathered
        # Against the sizes that were added up, not their sum: a stiff frame hardly loaded must not
        # look inexact.
        size = np.linalg.norm(self.factor.sizes(u[self.constraints.dofs]), axis=0)
        size += np.linalg.norm(gathered(forces), axis=0)
        left = np.linalg.norm(gathered(unbalanced), axis=0)
        return np.asarray(left / np.where(size > 0, size, 1.0))

    @cached_property
    def _on_the_ground(self) -> StiffParts:
        """The springs that stand on the ground: those named twice at one node."""
        grounded = (self.pieces.dofs[:, :6] == self.pieces.dofs[:, 6:]).all(axis=1)
        return StiffParts(self.pieces.dofs[grounded], self.pieces.matrices[grounded])


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
        if len(load) != 6 or not all(abs(v) < LARGEST for v in load):
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


def balance(
    xyz: Array, vectors: Sequence[Array], at: Sequence[int] | NDArray[np.intp] | None = None
) -> tuple[Array, Array]:
    """Relative force and moment imbalance (k,) each of nodal force vectors (6n, k) about the centroid of the nodes.

    Relative to the sum of the forces' sizes, or of the moments' sizes over the model's radius where that is
    more (and the other way round): under a pure couple the forces are rounding, and must not be held against
    themselves. Several models at once stand along a first axis of places (models, n, 3) and vectors.
    at : the only nodes that forces act on, where that is known; vectors then have these alone.
    """
    # About the middle of the frame: a far origin would drown the moments in rounding.
    arms = xyz - xyz.mean(axis=-2, keepdims=True)
    radius = np.linalg.norm(arms, axis=-1).max(axis=-1)[..., None]
    if at is not None:
        arms = arms[..., at, :]
    # (vectors, ..., k, n, 6)
    six = np.stack([v.reshape(*arms.shape[:-1], 6, -1) for v in vectors])
    six = np.moveaxis(six, -1, -3)
    f = six[..., :3]
    m = six[..., 3:]
    turned = crossed(arms[..., None, :, :], f)
    force = np.linalg.norm(f.sum(axis=(0, -2)), axis=-1)
    moment = np.linalg.norm((m + turned).sum(axis=(0, -2)), axis=-1)
    force_size = np.abs(f).sum(axis=(0, -2, -1))
    moment_size = (np.abs(m) + np.abs(turned)).sum(axis=(0, -2, -1))
    size = np.maximum(force_size, moment_size / np.where(radius > 0, radius, np.inf))
    lever = np.maximum(moment_size, force_size * radius)
    return (
        np.asarray(force / np.where(size > 0, size, 1.0)),
        np.asarray(moment / np.where(lever > 0, lever, 1.0)),
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
