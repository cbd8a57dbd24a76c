"""How much a drawing may hold before droptrail refuses it, and the counter that watches over it.

A side view of a bicycle frame needs a few hundred objects. The limits leave three orders of magnitude above that, so
that floor tiles or a scanned outline beside the frame still read, while a file made to exhaust the machine is refused
in one sentence, within seconds and half a gigabyte.
"""

import math
from dataclasses import dataclass

from ....model.errors import InputError

MAX_BYTES = 64_000_000  # size of the file
MAX_GROUPS = 2_000_000  # pairs of lines (group code, value) in the file
MAX_ENTITIES = 200_000  # drawn objects after every block has been unfolded
MAX_VERTICES = 2_000_000  # points of all flattened curves together
MAX_DEPTH = 32  # blocks within blocks
MAX_COORDINATE = 1e12  # drawing units; beyond it doubles no longer resolve a drawing

# Flattening. A step of 1 degree keeps the chord within 3.8e-5 of the radius (1 - cos 0.5 degree): 0.013 mm on a wheel
# of 348 mm. Drawings with more round objects than MANY_ROUND get the coarser step (chord within 9.5e-4 of the radius).
# Vertices, ends and the stated centre and radius of arcs and circles are exact whatever the step.
ARC_STEP = math.radians(1.0)
COARSE_ARC_STEP = math.radians(5.0)
MANY_ROUND = 4_000

LESS = "Save only the side view into a new file and export that."


@dataclass
class Budget:
    """Counts vertices while curves are made; refuses once there are too many."""

    vertices: int = 0

    def spend(self, vertices: int) -> None:
        self.vertices += vertices
        check_vertices(self.vertices)


def check_vertices(count: int) -> None:
    """Refuse curves of more than MAX_VERTICES points, before they are made."""
    if count > MAX_VERTICES:
        raise InputError(
            f"its curves need more than {MAX_VERTICES:,} points, far more than a frame drawing. {LESS}"
        )


def check_entities(count: int) -> None:
    """Refuse a drawing with more than MAX_ENTITIES objects (blocks unfolded)."""
    if count > MAX_ENTITIES:
        if count < 10**9:
            amount = f"{count:,}"
        else:
            amount = f"more than 10^{len(str(count)) - 1}"
        raise InputError(
            f"unfolding its blocks gives {amount} objects, more than the {MAX_ENTITIES:,} allowed. {LESS}"
        )
