"""Static load cases and natural frequencies by OpenSees, read back in our conventions."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ...model.arrays import Array
from ...model.errors import ModelError
from ...model.mechanics.frame_model import FrameModel, LoadCase
from ...model.mechanics.solve import same_restraints
from .build import Build
from .child import in_child
from .engine import OpenSeesError, session

# Out-of-balance left on dofs that nothing holds, relative to the largest force: above it the answer is refused.
_UNBALANCE_LIMIT = 1e-6


@dataclass(frozen=True, eq=False)
class OpenSeesResult:
    """One load case as OpenSees sees it, in the conventions of `model.mechanics.result.Result`.

    u : (n, 6). reactions : node -> (6,) force of the support on the structure. end_forces : (m, 12) on the element
    ends, local axes, N Vy Vz T My Mz at i then j. unbalance : what is left on free dofs, relative.
    """

    u: Array
    reactions: Mapping[str, Array]
    end_forces: Array
    unbalance: float


def solve_opensees(model: FrameModel, case: LoadCase) -> OpenSeesResult:
    """Solve one load case; see `solve_opensees_cases`."""
    return solve_opensees_cases(model, [case])[case.name]


def solve_opensees_cases(
    model: FrameModel, cases: Sequence[LoadCase], isolated: bool = False
) -> dict[str, OpenSeesResult]:
    """Solve load cases; those with the same supports and springs share one hand-over of the model.

    Runs in this process, except that a model with links upon links goes to a process of its own, because there
    OpenSees has been seen to end the process. `isolated` sends everything there.

    Raises
    ------
    OpenSeesError
        When OpenSees is not available, cannot represent the model, or cannot solve it.
    """
    results: dict[str, OpenSeesResult] = {}
    for group in same_restraints(cases):
        if isolated:
            answer = None
        else:
            answer = solve_here(model, group)
        results |= in_child(model, group) if answer is None else answer
    return {case.name: results[case.name] for case in cases}


def solve_here(
    model: FrameModel, cases: Sequence[LoadCase], risky: bool = False
) -> dict[str, OpenSeesResult] | None:
    """Solve load cases that all have the same supports and springs, in this process.

    None, without an attempt, when only Lagrange multipliers could take the links and `risky` does not allow them.
    """
    with session() as ops:
        build = Build(ops, model, cases[0].supports, cases[0].springs)
        if build.chained and not risky:
            return None
        _set_up_statics(ops, build.chained)
        return {case.name: _one_case(build, case) for case in cases}


def _set_up_statics(ops: Any, chained: bool) -> None:
    ops.timeSeries("Constant", 1)
    ops.constraints("Lagrange" if chained else "Transformation")
    ops.numberer("RCM")
    # the fastest of its solvers on our meshes, and it takes the indefinite Lagrange system too
    ops.system("UmfPack")
    ops.integrator("LoadControl", 1.0)
    # Two iterations: the second solves for what rounding has left over, one step of iterative refinement. It must be
    # an iteration, for a second step loses the displacement of nodes linked to a node with a support.
    ops.test("FixedNumIter", 2)
    ops.algorithm("ModifiedNewton")
    ops.analysis("Static")


def _one_case(build: Build, case: LoadCase) -> OpenSeesResult:
    ops = build.ops
    model = build.model
    ops.reset()
    ops.pattern("Plain", 1, 1)
    for node, load in case.nodal.items():
        ops.load(build.tag(node), *map(float, load))
    _member_loads(build, case)
    if ops.analyze(1) != 0:
        raise OpenSeesError(
            f"load case {case.name}: OpenSees cannot solve it; the model is a mechanism or its links "
            "and supports contradict each other"
        )
    ops.reactions()
    n = len(model.nodes)
    u = np.array([ops.nodeDisp(tag) for tag in range(1, n + 1)])
    forces = _nodal_forces(build, n)
    ends = np.array(
        [ops.eleResponse(tag, "localForces") for tag in range(1, len(model.elements) + 1)]
    )
    # The next case must not carry the loads of this one.
    ops.remove("loadPattern", 1)
    if not np.all(np.isfinite(u)):
        raise OpenSeesError(
            f"load case {case.name}: OpenSees gave displacements that are not finite"
        )
    reactions, left = support_forces(model, case.supports, forces)
    applied = np.array(list(case.nodal.values()), dtype=float).reshape(-1, 6)
    unbalance = _relative(model, left, np.vstack([ends.reshape(-1, 6), forces, applied]))
    if unbalance > _UNBALANCE_LIMIT:
        raise OpenSeesError(
            f"load case {case.name}: OpenSees left {unbalance:.1e} of the load out of balance"
        )
    return OpenSeesResult(u, reactions, ends.reshape(-1, 12), unbalance)


def _nodal_forces(build: Build, n: int) -> Array:
    """(n, 6) forces of supports and links on the nodes; what an element hands over through its twin included."""
    forces = np.array([build.ops.nodeReaction(tag) for tag in range(1, n + 1)])
    for node, twin, shared in build.twins:
        columns = [dof - 1 for dof in shared]
        forces[node - 1, columns] += np.array(build.ops.nodeReaction(twin))[columns]
    return forces


def _member_loads(build: Build, case: LoadCase) -> None:
    index = build.model.element_index
    for load in case.member_loads:
        if load.element not in index:
            raise ModelError(
                f"a load names element '{load.element}', which the model does not have"
            )
        number = index[load.element]
        w = np.asarray(load.w, dtype=float)
        wx, wy, wz = (build.axes[number] @ w if load.frame == "global" else w).tolist()
        # OpenSees wants the loads across the beam first, the one along it last.
        build.ops.eleLoad("-ele", 1 + number, "-type", "-beamUniform", wy, wz, wx)


# --- supports behind links ------------------------------------------------------------------------------------------
def support_forces(
    model: FrameModel, supports: Mapping[str, Iterable[int]], forces: Array
) -> tuple[dict[str, Array], Array]:
    """Support reactions from the nodal forces (n, 6) that OpenSees reports, and what they leave unexplained (n, 6).

    OpenSees' nodal force holds what the support AND the links do to a node. Both are constraints C u = 0, so the
    forces are Cᵀ λ, and the λ of the support rows are the reactions. The rest must vanish: it is the balance of
    every free node.
    """
    flat = forces.ravel()
    rows, owners = _constraint_rows(model, supports)
    if not len(rows):
        return {}, forces
    # Freedoms that no constraint touches would only make the fit larger.
    used = np.flatnonzero(np.any(rows != 0, axis=0))
    # Each row is then one freedom, and what is found there is its reaction.
    only_supports = bool(np.all(owners >= 0))
    if only_supports:
        multipliers = flat[owners]
    else:
        multipliers = np.linalg.lstsq(rows[:, used].T, flat[used], rcond=None)[0]
    held = np.zeros_like(flat)
    held[owners[owners >= 0]] = multipliers[owners >= 0]
    nodes = [node for node, flags in supports.items() if any(flags)]
    reactions = {node: held.reshape(-1, 6)[model.node_index[node]] for node in nodes}
    return reactions, (flat - rows.T @ multipliers).reshape(-1, 6)


def _constraint_rows(
    model: FrameModel, supports: Mapping[str, Iterable[int]]
) -> tuple[Array, np.ndarray]:
    """(c, 6n) rows of C and, for each, its dof when it is a support, else -1."""
    index = model.node_index
    held = [
        6 * index[node] + k
        for node, flags in supports.items()
        for k, flag in enumerate(flags)
        if flag
    ]
    links = [
        row for link in model.rigid_links for row in _rigid_rows(model, link.master, link.slave)
    ]
    links += [
        {6 * index[e.slave] + d: 1.0, 6 * index[e.master] + d: -1.0}
        for e in model.equal_dofs
        for d in e.dofs
    ]
    entries = [{dof: 1.0} for dof in held] + links
    rows = np.zeros((len(entries), model.dofs))
    for number, row in enumerate(entries):
        rows[number, list(row)] = list(row.values())
    return rows, np.array(held + [-1] * len(links), dtype=int)


def _rigid_rows(model: FrameModel, master: str, slave: str) -> list[dict[int, float]]:
    m = 6 * model.node_index[master]
    s = 6 * model.node_index[slave]
    arm = np.subtract(model.nodes[slave], model.nodes[master])
    # theta x arm
    cross = np.array([[0, arm[2], -arm[1]], [-arm[2], 0, arm[0]], [arm[1], -arm[0], 0]])
    moves = []
    for k in range(3):
        row = {s + k: 1.0, m + k: -1.0}
        for c in range(3):
            if cross[k, c]:
                row[m + 3 + c] = -cross[k, c]
        moves.append(row)
    return moves + [{s + k: 1.0, m + k: -1.0} for k in (3, 4, 5)]


def _relative(model: FrameModel, left: Array, forces: Array) -> float:
    """Largest of `left` (k, 6) relative to the largest of `forces`, moments counted over the model's size."""
    size = float(np.ptp(model.xyz, axis=0).max()) or 1.0
    weights = np.array([1.0] * 3 + [1 / size] * 3)
    scale = float(np.abs(forces * weights).max())
    if scale:
        return float(np.abs(left * weights).max()) / scale
    return 0.0
