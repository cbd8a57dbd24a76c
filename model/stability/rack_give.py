"""How far a rack of tubes gives sideways under the weight of its bags, its bolts held: what `shimmy` needs of it.

Worked out on the mesh with everything that the rack stands on clamped, so that the frame's own give, which the wobble
model holds apart, is not counted twice. Hooks and seams of the bags give more; a stated value wins.
"""

import numpy as np

from ..cases.library import steering_lock
from ..cases.tools import CLAMPED
from ..frame.bicycle import G_ACCEL, Bicycle, hangs_of
from ..frame.layout import lay_out
from ..frame.mesh import mesh
from ..mechanics.frame_model import LoadCase
from ..mechanics.solve import solve
from ..tubes.plan import Wheel


def rack_gives(bicycle: Bicycle) -> dict[str, float]:
    """Riding value -> mm, of every loaded rack of tubes whose give nobody stated."""
    ends: tuple[Wheel, ...] = ("front", "rear")
    found = {}
    for end in ends:
        key = f"{end}_rack_give"
        loaded = getattr(bicycle.loads, f"{end}_luggage") > 0
        if loaded and bicycle.plan.rack(end) is not None and key not in bicycle.riding:
            found[key] = rack_give(bicycle, end)
    return found


def rack_give(bicycle: Bicycle, end: Wheel) -> float:
    """Mean sideways movement of the bags of one end under their own weight laid sideways, mm."""
    layout = lay_out(bicycle)
    racks = bicycle.plan.in_region("rack")
    on_frame = {
        joint
        for member in layout.members
        if member.tube not in racks
        for joint in (member.start, *member.joints, member.end)
    }
    stands = {
        layout.node(joint)
        for member in layout.members
        if member.tube in racks
        for joint in (member.start, member.end)
        if joint in on_frame
    }
    shares = hangs_of(bicycle.plan, end)
    weight = G_ACCEL * getattr(bicycle.loads, f"{end}_luggage")
    case = LoadCase(
        f"{end}_rack_sideways",
        {joint: (0.0, 0.0, weight * share, 0.0, 0.0, 0.0) for joint, share in shares.items()},
        supports=dict.fromkeys(sorted(stands), CLAMPED),
        # The steering would be loose where the racks hold the frame behind it alone.
        springs=(steering_lock(bicycle, layout),),
    )
    result = solve(mesh(bicycle, layout=layout), [case])[case.name]
    moved = [share * result.displacement(joint)[2] for joint, share in shares.items()]
    return float(np.sum(moved))
