"""Parts that move against each other where nothing bends: the mechanisms among the modes of 0 Hz.

A model that nothing holds has six motions as one piece. A hinge, a pin too many or a free steering adds motions of its
own, which look the same in a list of frequencies.
"""

import numpy as np

from ..arrays import Array
from ..mechanics.beam import Beams
from ..mechanics.frame_model import FrameModel
from ..mechanics.mechanism import name_motions
from .modes import Modes

_NOTHING = 1e-6  # of the largest movement; less is rounding


def loose_parts(modes: Modes) -> tuple[str, ...]:
    """What moves against the heaviest body while nothing bends, one phrase for each such motion; none, none."""
    if not modes.rigid:
        return ()
    model = modes.model
    body = _bodies(model)
    if body.max() == 0:
        return ()
    motions = modes.shapes[: modes.rigid]
    against = motions - _as_one(model, motions, body == _heaviest(model, body))
    columns = against.reshape(modes.rigid, -1).T
    basis, sizes, _ = np.linalg.svd(columns, full_matrices=False)
    # Whatever moves as one piece with the heaviest body is gone by now.
    rank = int(np.sum(sizes > _NOTHING * np.linalg.norm(motions)))
    if not rank:
        return ()
    return tuple(name_motions(model, basis[:, :rank]))


def _bodies(model: FrameModel) -> np.ndarray:
    """(n,) number of the body each node belongs to; an element that does not carry all at an end joins nothing."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    index = model.node_index
    pairs = [(index[e.i], index[e.j]) for e in model.elements if not e.releases]
    pairs += [(index[link.master], index[link.slave]) for link in model.rigid_links]
    n = len(model.nodes)
    if not pairs:
        return np.arange(n)
    rows, columns = np.array(pairs).T
    graph = coo_matrix((np.ones(len(rows)), (rows, columns)), shape=(n, n))
    return np.asarray(connected_components(graph, directed=False)[1])


def _heaviest(model: FrameModel, body: np.ndarray) -> int:
    """Number of the body with most mass of elements."""
    beams = Beams.of(model)
    mass = model.properties["rho"] * model.properties["A"] * beams.length
    at = [model.node_index[e.j] for e in model.elements]
    return int(np.argmax(np.bincount(body[at], weights=mass, minlength=int(body.max()) + 1)))


def _as_one(model: FrameModel, motions: Array, part: Array) -> Array:
    """(k, n, 6) the whole model moving along as one piece with a part of it."""
    turn = motions[:, part, 3:].mean(axis=1)
    centre = model.xyz[part].mean(axis=0)
    shift = motions[:, part, :3].mean(axis=1)
    out = np.zeros_like(motions)
    arms = model.xyz - centre
    out[..., :3] = shift[:, None, :] + np.cross(turn[:, None, :], arms[None, :, :])
    out[..., 3:] = turn[:, None, :]
    return out
