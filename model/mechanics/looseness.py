"""Whether a model is loose whatever its tubes are made of: bodies, and what holds them.

A factorisation that breaks down does not say why. Beams that meet rigidly make one body however slender they are, so
looseness is a question about a handful of bodies; a held model that cannot be factored is too stiff to resolve.
"""

from collections.abc import Sequence

import numpy as np

from ..arrays import Array
from .frame_model import FrameModel, LoadCase, Spring

MOST_BODIES = 500  # beyond it the dense rank would take minutes
_RANK = 1e-9  # relative singular value below which a hold is none


def is_loose(model: FrameModel, case: LoadCase) -> bool | None:
    """Whether some body can move under the case's supports; None where releases or too many bodies leave it open."""
    if any(element.releases for element in model.elements):
        return None
    body = _bodies(model)
    count = int(body.max()) + 1
    if count > MOST_BODIES:
        return None
    holds = _Holds(model, body, count)
    for node, flags in case.supports.items():
        holds.fix(node, [k for k, flag in enumerate(flags) if flag])
    for tie in model.equal_dofs:
        holds.tie(tie.master, tie.slave, tie.dofs)
    for spring in (*model.springs, *case.springs):
        holds.spring(spring)
    return holds.rank() < 6 * count


def describe_too_stiff(model: FrameModel, case: str) -> str:
    """One sentence for a model that is held and yet cannot be factored: its stiffnesses lie too far apart."""
    lengths = [
        float(np.linalg.norm(np.subtract(model.nodes[e.j], model.nodes[e.i])))
        for e in model.elements
    ]
    shortest = int(np.argmin(lengths))
    longest = max(lengths)
    return (
        f"load case {case}: the supports hold the model, but it is too stiff to resolve: numbers of 16 digits cannot "
        f"tell the give of {len(lengths)} elements from {lengths[shortest]:.3g} mm (element "
        f"'{model.elements[shortest].id}') to {longest:.3g} mm apart. Join the nodes of very short elements, or use "
        "fewer elements"
    )


def _bodies(model: FrameModel) -> np.ndarray:
    """(n,) number of the rigid body each node belongs to."""
    from scipy import sparse
    from scipy.sparse.csgraph import connected_components

    index = model.node_index
    pairs = [(index[e.i], index[e.j]) for e in model.elements]
    pairs += [(index[link.master], index[link.slave]) for link in model.rigid_links]
    n = len(model.nodes)
    if not pairs:
        return np.arange(n)
    rows, columns = np.array(pairs).T
    graph = sparse.coo_matrix((np.ones(len(rows)), (rows, columns)), shape=(n, n))
    return np.asarray(connected_components(graph, directed=False)[1])


class _Holds:
    """Rows of what resists the bodies' rigid motions, lengths measured in the size of the model."""

    def __init__(self, model: FrameModel, body: np.ndarray, count: int) -> None:
        self.index = model.node_index
        self.body = body
        self.count = count
        xyz = np.asarray(model.xyz, dtype=float)
        size = float(np.ptp(xyz, axis=0).max()) or 1.0
        self.xyz = (xyz - xyz.mean(axis=0)) / size
        self.rows: list[Array] = []

    def motion(self, node: str) -> Array:
        """(6, 6 * bodies) motion of a node per unit motion of the bodies."""
        k = self.index[node]
        x, y, z = self.xyz[k]
        rows = np.zeros((6, 6 * self.count))
        own = np.eye(6)
        own[:3, 3:] = [[0, z, -y], [-z, 0, x], [y, -x, 0]]
        start = 6 * int(self.body[k])
        rows[:, start : start + 6] = own
        return rows

    def fix(self, node: str, dofs: Sequence[int]) -> None:
        self.rows.extend(self.motion(node)[list(dofs)])

    def tie(self, one: str, other: str, dofs: Sequence[int]) -> None:
        self.rows.extend((self.motion(one) - self.motion(other))[list(dofs)])

    def spring(self, spring: Spring) -> None:
        """Its stiff directions, in its own axes."""
        motion = self.motion(spring.i)
        if spring.j is not None:
            motion = motion - self.motion(spring.j)
        x = np.array(spring.x_axis) / np.linalg.norm(spring.x_axis)
        z = np.cross(x, spring.vxy)
        z = z / np.linalg.norm(z)
        axes = np.array([x, np.cross(z, x), z])
        local = np.vstack([axes @ motion[:3], axes @ motion[3:]])
        self.rows.extend(local[[k for k, stiffness in enumerate(spring.k) if stiffness]])

    def rank(self) -> int:
        if not self.rows:
            return 0
        values = np.linalg.svd(np.array(self.rows), compute_uv=False)
        return int((values > _RANK * values[0]).sum())
