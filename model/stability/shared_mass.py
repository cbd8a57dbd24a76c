"""Where the tubes' mass moves in the wobble model: every tube of the plan as it lies, each piece with what it hangs on.

The wobble model knows four places of the frame (saddle, bottom bracket, rear axle, head), saddle and bracket of each
rider behind the first, and two places of the fork (steerer and front axle). A piece of tube moves with the one that is
nearest along the tubes: a tube from one to another is cut in its middle, whatever the plan.
"""

from collections.abc import Collection, Sequence

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..frame.bicycle import Bicycle
from ..frame.layout import FrameLayout, lay_out
from ..frame.mesh import mesh
from ..frame.suspension import MEMBER as SUSPENSION
from ..frame.tube_mass import KG, element_masses
from ..mechanics.frame_model import FrameModel
from .axes import road_axes
from .shimmy import Place
from .whipple import RigidBody, lump

Flags = NDArray[np.bool_]
# Weighed with other things: the wheels with their hubs, seat post, bar and stem.
APART = ("seat_post", "bar", "stem", "front_hub", "rear_hub")
FORK_PARTS = ("fork_crown_piece", "front_dropout", SUSPENSION)
_LINK = 1e-9  # mm; a link has no length to be far along, and nought would be no link

Pieces = tuple[tuple[Place, RigidBody], ...]


def tube_pieces(bicycle: Bicycle, model: FrameModel | None = None) -> Pieces:
    """(where it moves, body) of the tubes of frame and fork with shell, bridges and crown; no racks. kg, m.

    model : the mesh of this bicycle, where it has been made already. A suspension fork is no tubes and not in it.
    """
    layout = lay_out(bicycle)
    whole = model or mesh(bicycle, layout=layout)
    of_fork = _of_fork(whole, layout)
    beside = _beside(whole, layout)
    frame = _pieces(bicycle, whole, ~of_fork & ~beside, _frame_places(layout))
    if bicycle.suspension is not None:
        return frame
    return frame + _pieces(bicycle, whole, of_fork & ~beside, _fork_places(layout))


def _tube_of(model: FrameModel, layout: FrameLayout) -> list[str]:
    """The tube that each element belongs to, or the part where it is none."""
    tubes = {member.name: member.tube for member in layout.members}
    return [tubes.get(element.member, element.member) for element in model.elements]


def _of_fork(model: FrameModel, layout: FrameLayout) -> Flags:
    fork = layout.plan.fork_tubes
    return np.array([t in fork or t in FORK_PARTS for t in _tube_of(model, layout)])


def _beside(model: FrameModel, layout: FrameLayout) -> Flags:
    """Whether an element is weighed with other things."""
    apart = (*layout.plan.parts_like(APART), *layout.plan.in_region("rack"))
    return np.array([t in apart for t in _tube_of(model, layout)])


def _frame_places(layout: FrameLayout) -> dict[Place, tuple[str, ...]]:
    places = {
        "saddle": ("saddle",),
        "pedals": ("bottom_bracket",),
        "rear": ("rear_axle",),
        "head": (layout.node("head_tube_top"), layout.node("head_tube_bottom")),
    }
    for rider in layout.plan.followers:
        places |= {rider.saddle: (rider.saddle,), rider.bracket: (rider.bracket,)}
    return places


def _fork_places(layout: FrameLayout) -> dict[Place, tuple[str, ...]]:
    return {
        "steer": (layout.node("steerer_upper"), layout.node("steerer_lower")),
        "fork": ("front_axle",),
    }


def _pieces(
    bicycle: Bicycle, model: FrameModel, mine: Flags, places: dict[Place, tuple[str, ...]]
) -> Pieces:
    numbers = np.flatnonzero(mine)
    if not numbers.size:
        return ()
    parts = bicycle.plan.parts_like(APART)
    nearest = _nearest(model, numbers, list(places.values()), parts)
    kilograms = KG * element_masses(model)[0]
    found: list[tuple[Place, RigidBody]] = []
    for number, place in enumerate(places):
        own = numbers[nearest == number]
        if own.size:
            rods = [_rod(bicycle, model.xyz[model.ends[k]], float(kilograms[k])) for k in own]
            found.append((place, lump(*rods)))
    return tuple(found)


def _nearest(
    model: FrameModel,
    mine: NDArray[np.intp],
    places: Sequence[tuple[str, ...]],
    apart: Collection[str],
) -> Array:
    """(elements,) which place each is nearest to along the tubes; links and members that stand apart, such as posts and
    hubs, are no way at all."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import dijkstra

    index = model.node_index
    ends = model.ends
    long = np.linalg.norm(model.xyz[ends[:, 1]] - model.xyz[ends[:, 0]], axis=1)
    parts = np.array([element.member in apart for element in model.elements])
    along = np.where(parts, _LINK, np.maximum(long, _LINK))
    used = np.union1d(mine, np.flatnonzero(parts)).astype(int)
    # Tubes that meet in a joint that gives, or in a bearing, meet all the same.
    links = [(index[one.master], index[one.slave]) for one in model.rigid_links]
    links += [(index[one.master], index[one.slave]) for one in model.equal_dofs]
    links += [(index[s.i], index[s.j]) for s in model.springs if s.j is not None]
    pairs = np.vstack([ends[used], np.array(links, dtype=int).reshape(-1, 2)])
    weights = np.concatenate([along[used], np.full(len(links), _LINK)])
    size = len(model.nodes)
    graph = coo_matrix((weights, (pairs[:, 0], pairs[:, 1])), shape=(size, size)).tocsr()
    far = np.empty((len(places), size))
    for number, nodes in enumerate(places):
        start = [index[node] for node in nodes]
        far[number] = dijkstra(graph, directed=False, indices=start, min_only=True)
    # to the middle of each element, over whichever of its ends is nearer
    middles = np.minimum(far[:, ends[mine, 0]], far[:, ends[mine, 1]]) + along[mine] / 2
    return np.asarray(np.argmin(middles, axis=0))


def _rod(bicycle: Bicycle, ends: Array, mass: float) -> RigidBody:
    """A slender rod between two points (2, 3) mm of the layout; beside the middle plane it turns about that plane."""
    one, other = (road_axes(bicycle.dimensions, float(x), float(y)) for x, y, _ in ends)
    dx = other[0] - one[0]
    dz = other[1] - one[1]
    aside = ends[:, 2] / 1000
    # mass x (length squared / 12 + square of where its middle lies), sideways
    across = mass * float(np.diff(aside)[0] ** 2 / 12 + aside.mean() ** 2)
    return RigidBody(
        mass,
        (one[0] + other[0]) / 2,
        (one[1] + other[1]) / 2,
        mass * dz**2 / 12 + across,
        mass * dx**2 / 12 + across,
        # The entry of the inertia matrix: minus the product of inertia.
        -mass * dx * dz / 12,
    )
