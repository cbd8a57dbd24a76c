"""The bare frame hung on strings and tapped: free-free modes of named pieces, and where each of them rings.

Nothing holds the frame and nothing hangs on it but what is named, so that the frequencies can be held against a
phone: hang the frame on two strings, hold the phone or a microphone at a joint, tap beside it.

A tap is an impulse: it gives every mode the speed phi(tap) F dt, phi being the mass-normalised shape, and the
acceleration that is heard at the same place is w phi(tap)² F dt. Beside one another at one place, modes are as loud
as w phi² (Ewins, Modal Testing, 2nd ed. 2000, ch. 2, from memory); how long they ring is damping, which no
drawing tells.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..decide import first_largest
from ..errors import ModelError
from ..frame.bicycle import Bicycle
from ..frame.layout import FrameLayout, lay_out
from ..frame.mesh import MeshOptions, mesh
from ..mechanics.frame_model import FrameModel
from ..tubes.racks import RACKS
from ..words import spoken
from .modes import Modes

# Parts that are brazed or welded to the tubes go with them; everything else is bolted on and must be named.
BRAZED = {
    "frame": ("bb_shell", "chainstay_bridge", "seatstay_bridge", "rear_dropout"),
    "fork": ("fork_crown_piece", "front_dropout"),
}
BOLTED = ("rear_hub", "front_hub", "seat_post", "stem", "bar")
PIECES = (*BRAZED, *RACKS, *BOLTED)

# Where a builder can hold a phone: the first of the nodes that the model has.
PLACES = {
    "head tube": ("head_tube_top",),
    "bottom bracket": ("bottom_bracket",),
    "seat cluster": ("seat_tube_top", "seat_tube_top_tube_node"),
    "rear dropout": ("rear_dropout_right",),
    "fork tip": ("front_dropout_right",),
}
DIRECTIONS = ("fore and aft", "up and down", "sideways")
# Shares of the loudest mode at a place: a factor of 10 in loudness is plainly heard (common practice, no source).
LOUD = 0.3
CLEAR = 0.03


@dataclass(frozen=True)
class Ring:
    """How one mode sounds at one place when tapped there.

    direction : the way to tap in which it is loudest. share : its loudness beside the loudest mode at
    this place, 0 to 1.
    """

    mode: int
    place: str
    direction: str
    share: float

    @property
    def words(self) -> str:
        """``loud``, ``clear`` or ``hardly``."""
        if self.share >= LOUD:
            return "loud"
        if self.share >= CLEAR:
            return "clear"
        return "hardly"


def pieces_of(text: str) -> tuple[str, ...]:
    """`frame+fork` as pieces.

    Raises
    ------
    ModelError
        For a piece that is not known, or none of frame and fork among them.
    """
    pieces = tuple(word.strip().lower().replace(" ", "_") for word in text.split("+"))
    unknown = [piece for piece in pieces if piece not in PIECES]
    if unknown:
        raise ModelError(
            f"'{unknown[0]}' is not a piece that can be hung up and tapped; known: {', '.join(PIECES)}, "
            "joined as in frame+fork"
        )
    if not {"frame", "fork"} & set(pieces):
        raise ModelError(f"'{text}': name the frame, the fork or both, as in frame+fork")
    return tuple(dict.fromkeys(pieces))


def bare_model(
    bicycle: Bicycle,
    pieces: Sequence[str] = ("frame",),
    options: MeshOptions | None = None,
    layout: FrameLayout | None = None,
) -> FrameModel:
    """The mesh of the named pieces alone, with the mass of their tubes and nothing else.

    The fork sits in its headset bearings and turns freely, as it does on a frame that hangs on strings.

    Raises
    ------
    ModelError
        When a named piece hangs on nothing that is named, and as `pieces_of` does for the names.
    """
    pieces = pieces_of("+".join(pieces))
    layout = layout or lay_out(bicycle)
    whole = mesh(bicycle, options, layout)
    members = _members(layout, pieces)
    elements = tuple(element for element in whole.elements if element.member in members)
    used = {node for element in elements for node in (element.i, element.j)}
    # Arms and bearings stay where both of their ends do.
    links = tuple(link for link in whole.rigid_links if {link.master, link.slave} <= used)
    bearings = tuple(tie for tie in whole.equal_dofs if {tie.master, tie.slave} <= used)
    # joints that give are springs between two tubes
    springs = tuple(s for s in whole.springs if {s.i, s.j or s.i} <= used)
    model = replace(
        whole,
        nodes={node: xyz for node, xyz in whole.nodes.items() if node in used},
        elements=elements,
        rigid_links=links,
        equal_dofs=bearings,
        springs=springs,
        masses=(),
        rotary=True,
    )
    _refuse_loose(model, pieces)
    return model


def _members(layout: FrameLayout, pieces: Iterable[str]) -> set[str]:
    named = set(pieces)
    found = {member.name for member in layout.members if _piece(layout, member.tube) in named}
    for piece, parts in BRAZED.items():
        if piece in named:
            found |= set(layout.plan.parts_like(parts))
    return found | set(layout.plan.parts_like(named & set(BOLTED)))


def _piece(layout: FrameLayout, tube: str) -> str:
    if tube in layout.plan.fork_tubes:
        return "fork"
    for rack in layout.plan.racks:
        if RACKS[rack.name].get(tube) is not None and layout.plan.role(tube).region == "rack":
            return rack.name
    return "frame"


def _refuse_loose(model: FrameModel, pieces: Sequence[str]) -> None:
    """A bar without its stem would float beside the frame and add six motions of nothing."""
    joined = {node: node for node in model.nodes}

    def root(node: str) -> str:
        while joined[node] != node:
            node = joined[node]
        return node

    for element in model.elements:
        joined[root(element.i)] = root(element.j)
    for link in model.rigid_links:
        joined[root(link.master)] = root(link.slave)
    for bearing in model.equal_dofs:
        joined[root(bearing.master)] = root(bearing.slave)
    for spring in model.springs:
        joined[root(spring.i)] = root(spring.j or spring.i)
    main = root(model.elements[0].i)
    for element in model.elements:
        if root(element.i) != main:
            raise ModelError(
                f"the {spoken(element.member)} hangs on nothing in {' + '.join(pieces)}; name what it is bolted to as "
                "well"
            )


def rings(modes: Modes) -> tuple[Ring, ...]:
    """Loudness of every elastic mode at every place the model has, mode by mode."""
    omega = 2 * np.pi * modes.frequencies_hz
    found = []
    for place, nodes in PLACES.items():
        here = [node for node in nodes if node in modes.model.node_index]
        if not here:
            continue
        motion = modes.shapes[:, modes.model.node_index[here[0]], :3]
        loudness = omega[:, None] * motion**2
        # Rigid motions make no sound: the frame swings on its strings.
        loudness[: modes.rigid] = 0.0
        loudest = float(loudness.max(initial=0.0))
        for k in range(modes.rigid, len(modes)):
            axis = int(first_largest(loudness[k]))
            share = float(loudness[k, axis] / loudest) if loudest else 0.0
            found.append(Ring(k + 1, place, DIRECTIONS[axis], share))
    return tuple(sorted(found, key=lambda ring: ring.mode))
