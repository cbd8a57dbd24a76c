"""A mode shape in workshop words: what moves, which tubes take it, and how.

From the mode's own figures only: the share of strain energy per named member and kind, the share of kinetic
energy per direction and mirror half, and the motion of named joints. A frame that is its own mirror image about
its plane has modes of two kinds: left and right move alike (in plane) or as mirror images reversed (sideways).
Members and joints are those of `mesh`; any other model gets a plainer sentence.
"""

from dataclasses import dataclass

import numpy as np
from scipy import sparse

from ..arrays import Array
from ..decide import settled
from ..mechanics.beam import Beams
from ..mechanics.frame_model import FrameModel
from ..tubes.known_plans import parts_like, region_tubes
from ..tubes.plan import without_side
from ..tubes.racks import rack_tubes
from .mass import mass_matrix
from .modes import Modes

PLACES = {
    "bars": (*parts_like("bar", "stem"), *region_tubes("bars")),
    "fork": (*region_tubes("fork"), "fork_crown_piece", "front_hub", "front_dropout"),
    "main triangle": (*region_tubes("main triangle"), *parts_like("bb_shell")),
    "rear triangle": (
        *region_tubes("rear triangle"),
        "chainstay_bridge",
        "seatstay_bridge",
        "rear_hub",
        "rear_dropout",
    ),
    "racks": rack_tubes(),
    "seat post": parts_like("seat_post"),
    "tyres": ("rear_tyre", "front_tyre"),
}
# What opens and closes where no hub holds the ends together.
TINES = {"rear triangle": "rear dropouts", "fork": "fork tips"}
KINDS = ("axial", "shear", "torsion", "bending")
_COLUMNS = ((0,), (1, 2), (3,), (4, 5))
PURE = 0.9  # share of the kinetic energy from which on a mode counts as of one kind
TWIST_LEVER = (
    250.0  # mm: half a frame's height, turns lean of the head tube into sideways motion to compare
)


@dataclass(frozen=True)
class ModeWords:
    """One mode described. `plane`: "in plane", "sideways" or "mixed"; shares run from 0 to 1.

    members : member or spring -> share of the strain energy, left and right added, the largest first.
    kinds : axial, shear, torsion, bending and springs. moving : share of the kinetic energy along
    x, y, z, translations and rotations of each plane apart: fore-aft, up-down, sideways, pitch, lean and yaw.
    """

    number: int
    hz: float
    title: str
    plane: str
    members: dict[str, float]
    kinds: dict[str, float]
    moving: dict[str, float]

    @property
    def sentence(self) -> str:
        """For a table: title, then the three members that take most of it."""
        if not self.members:
            return self.title
        top = ", ".join(
            f"{name.replace('_', ' ')} {share:.0%}"
            for name, share in list(self.members.items())[:3]
        )
        return f"{self.title} ({top} of the energy)"


def describe(modes: Modes) -> tuple[ModeWords, ...]:
    """Words for every mode, the lowest first."""
    # The mass tells what moves, the strain energy what bends.
    mass = mass_matrix(Beams.of(modes.model))
    kinetic = _kinetic(modes.shapes, mass)
    alike = _alike(modes, mass)
    return tuple(_describe_one(modes, k, kinetic[k], float(alike[k])) for k in range(len(modes)))


def _describe_one(modes: Modes, k: int, kinetic: Array, alike: float) -> ModeWords:
    members, kinds = _strain(modes, k)
    moving = {
        "fore-aft": kinetic[0],
        "up-down": kinetic[1],
        "sideways": kinetic[2],
        "pitch": kinetic[5],
        "lean and yaw": kinetic[3] + kinetic[4],
    }
    if alike >= PURE:
        plane = "in plane"
    elif alike <= 1 - PURE:
        plane = "sideways"
    else:
        plane = "mixed"
    hz = float(modes.frequencies_hz[k])
    if k < modes.rigid:
        title = "rigid motion, nothing bends"
    else:
        title = _title(modes, k, plane, members, kinds, moving)
    return ModeWords(
        k + 1, hz, title, plane, members, kinds, {name: float(v) for name, v in moving.items()}
    )


def _strain(modes: Modes, k: int) -> tuple[dict[str, float], dict[str, float]]:
    sums: dict[str, float] = {}
    energy = modes.element_energy[k]
    for element, row in zip(modes.model.elements, energy, strict=True):
        # A pair of stays is one part to the builder.
        name = without_side(element.member) or element.id
        sums[name] = sums.get(name, 0.0) + float(row.sum())
    springs = {name: float(shares[k]) for name, shares in modes.spring_energy.items()}
    members = {
        n: v
        for n, v in sorted({**sums, **springs}.items(), key=lambda item: -settled(item[1]))
        if v > 1e-6
    }
    kinds = {
        kind: float(energy[:, columns].sum()) for kind, columns in zip(KINDS, _COLUMNS, strict=True)
    }
    return members, kinds | {"springs": sum(springs.values())}


def _kinetic(shapes: Array, mass: sparse.csr_matrix) -> Array:
    """(k, 6) share of each mode's kinetic energy in ux, uy, uz, rx, ry, rz."""
    flat = shapes.reshape(len(shapes), -1)
    return np.asarray((flat * (mass @ flat.T).T).reshape(len(shapes), -1, 6).sum(axis=1))


def _alike(modes: Modes, mass: sparse.csr_matrix) -> Array:
    """(k,) share of the kinetic energy in the half of the motion that is the same left and right of z = 0.

    A model that is not its own mirror image: the share in ux, uy and rz instead.
    """
    # A motion is its mirror-image half and the rest; the half that is alike left and right is in
    # plane.
    partner = _mirrored(modes.model)
    if partner is None:
        return np.asarray(_kinetic(modes.shapes, mass)[:, [0, 1, 5]].sum(axis=1))
    half = (modes.shapes + modes.shapes[:, partner] * (1, 1, -1, -1, -1, 1)) / 2
    return np.asarray(_kinetic(half, mass).sum(axis=1))


def _mirrored(model: FrameModel) -> np.ndarray | None:
    """(n,) node at each node's mirror image in z = 0, same-named member aside; None where one has none."""
    # + 0.0 turns -0.0 into 0.0, which is another key.
    key = np.round(model.xyz, 6) + 0.0
    at: dict[tuple[float, ...], list[int]] = {}
    for k, xyz in enumerate(key):
        at.setdefault(tuple(xyz), []).append(k)
    out = np.empty(len(key), dtype=int)
    for k, (x, y, z) in enumerate(key):
        # Bearings stand at one point, so several nodes share a key: the first answers the first.
        twins = at.get((x, y, 0.0 - z), [])
        place = at[tuple(key[k])].index(k)
        if place >= len(twins):
            return None
        out[k] = twins[place]
    return out


def _title(
    modes: Modes,
    k: int,
    plane: str,
    members: dict[str, float],
    kinds: dict[str, float],
    moving: dict[str, float],
) -> str:
    places = dict.fromkeys(PLACES, 0.0)
    for place, names in PLACES.items():
        # Of a mesh its plan tells where a tube belongs; a model file is known by the usual names.
        own = [tube for tube, region in modes.model.regions.items() if region == place]
        places[place] = sum(members.get(name, 0.0) for name in dict.fromkeys((*names, *own)))
    # The part that takes most of the energy names the mode.
    place = max(places, key=lambda p: settled(places[p]))
    if sum(places.values()) < 0.5 or "head_tube_top" not in modes.model.node_index:
        kind = max(kinds, key=lambda n: settled(kinds[n]))
        way = max(moving, key=lambda n: settled(moving[n]))
        return f"{kind} of {next(iter(members), 'the springs').replace('_', ' ')}, moving {way}"
    if plane == "mixed":
        return f"{place} in and across the frame's plane at once"
    if plane == "in plane":
        # Left and right move alike as mirror images do: sideways, apart and together.
        if place in TINES and moving["sideways"] > 0.5:
            return f"{TINES[place]} spreading and closing like the tines of a tuning fork"
        return _in_plane(modes, k, place, members)
    return _sideways(modes, k, place, kinds)


def _in_plane(modes: Modes, k: int, place: str, members: dict[str, float]) -> str:
    if place == "tyres":
        rear = modes.shape(k, "rear_axle")[1]
        front = modes.shape(k, "front_axle")[1]
        if rear * front > 0:
            return "bounce on the tyres"
        return "pitch on the tyres"
    if place == "bars":
        return "bars nodding up and down"
    if place == "fork":
        return "fork bending fore and aft (vertical fork bending)"
    if place == "rear triangle":
        return "rear triangle bending up and down"
    if "saddle" in modes.model.node_index:
        saddle = modes.shape(k, "saddle")
    else:
        saddle = np.zeros(6)
    if place == "seat post" or members.get("seat_tube", 0) == max(members.values()):
        if abs(saddle[0]) > abs(saddle[1]):
            return "saddle rocking fore and aft on seat tube and post"
        return "saddle moving up and down on seat tube and post"
    return "main triangle bending up and down"


def _sideways(modes: Modes, k: int, place: str, kinds: dict[str, float]) -> str:
    if place == "tyres":
        return "swaying sideways on the tyres"
    if place == "fork":
        twisting = kinds["torsion"] > kinds["bending"]
        if twisting:
            return "front wheel twisting in the fork"
        return "fork bending sideways"
    if place == "bars":
        return "bars and steerer swaying sideways"
    if place == "rear triangle":
        return "rear triangle sideways"
    if place == "seat post":
        return "saddle sideways on its post"
    # Sideways the three ends of the frame compete: head, saddle, bottom bracket.
    head = modes.shape(k, "head_tube_top")
    if "saddle" in modes.model.node_index and abs(modes.shape(k, "saddle")[2]) > 1.5 * abs(head[2]):
        return "saddle end sideways"
    # A bare frame has no axle between its dropouts; either of them leans as the rear end does.
    rear = "rear_axle"
    rear_words = "rear axle"
    if rear not in modes.model.node_index:
        rear = "rear_dropout_right"
        rear_words = "rear end"
    twist = TWIST_LEVER * abs(head[3] - modes.shape(k, rear)[3])
    across = abs(head[2] - modes.shape(k, "bottom_bracket")[2])
    if twist > across:
        return f"frame torsion, head tube leaning against the {rear_words}"
    return "front end sideways"
