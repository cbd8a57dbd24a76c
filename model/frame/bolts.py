"""A tube's end on one bolt: it shares the node's place and turns freely there.

A HINGE is the bolt of a rack: it lies across the frame, and the end turns about it alone. A PIN is for frames of which
nothing is known but points: the end turns freely about both axes across the tube, and about the tube's own axis it is
held, so that a tube on two bolts does not spin. Play and friction are left out (common practice, no source).
"""

from dataclasses import dataclass

import numpy as np

from ..arrays import Array, Xyz
from ..mechanics.frame_model import EqualDofs, Spring

# N*mm/rad about the tube's own axis: stiff against any tube, soft enough not to spoil the numbers.
PIN_TWIST = 1e9


@dataclass(frozen=True)
class Pin:
    """The end of a member on one bolt: a point of its own at the node's place, and what holds it there."""

    node: str
    twin: str
    bolt: EqualDofs
    twist: Spring


def pin(member: str, end: int, node: str, axis: Array, vxy: Xyz) -> Pin:
    """The pin at the start (0) or end (1) of a member that leaves `node` along `axis`; vxy : across it.

    Written with ties and a spring instead of releases of an element, because the second solver knows those in any
    direction.
    """
    twin = f"{member}:{('start', 'end')[end]}_on_bolt"
    x, y, z = (float(v) for v in axis / np.linalg.norm(axis))
    twist = Spring(twin, node, twin, (0.0, 0.0, 0.0, PIN_TWIST, 0.0, 0.0), (x, y, z), vxy)
    return Pin(node, twin, EqualDofs(node, twin, (0, 1, 2)), twist)


ACROSS = (0, 1, 2, 3, 4)  # all but the turn about the axis across the frame


def hinge(member: str, end: int, node: str) -> EqualDofs:
    """The bolt across the frame at the start (0) or end (1) of a member; its slave is a node of its own."""
    return EqualDofs(node, f"{member}:{('start', 'end')[end]}_on_bolt", ACROSS)
