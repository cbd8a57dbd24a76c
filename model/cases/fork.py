"""Fork tests of ISO 4210-6 as static load cases: bending in the plane of the wheel, torque between steerer and blades.

The fork is tested by itself: the head tube stands for the fixture with head bearings, and the rest of the frame hangs
on it and carries nothing. Set-ups as in TBIS 4210-6:2019, the Taiwan edition that follows ISO 4210-6; what could only
be recalled is marked FROM MEMORY in the source of the case.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ..arrays import Array
from ..frame.bicycle import Bicycle
from ..frame.layout import FrameLayout
from ..mechanics.frame_model import LoadCase, Measure
from .tools import CLAMPED, N_MM, added, at_the_load, force, steering_lock


@dataclass(frozen=True)
class ForkLoads:
    """Of one type of bicycle: to and fro and once, N; torque, N·mm."""

    fatigue: float
    static: float
    torque: float


# Forces FROM MEMORY; torques as read in TBIS 4210-6:2019, table 8 (p. 24).
FORK_LOADS: Mapping[str, ForkLoads] = {
    "city": ForkLoads(450.0, 1000.0, 50e3),
    "young adult": ForkLoads(450.0, 1000.0, 50e3),
    "mountain": ForkLoads(650.0, 1500.0, 80e3),
    "racing": ForkLoads(620.0, 1200.0, 80e3),
}
_TBIS = "TBIS 4210-6:2019, which follows ISO 4210-6"
_FIXTURE = "fixture with the two head bearings"
_FIXTURE_WORDS = (
    "fork alone, its steerer in a rigid fixture with the two head bearings at the places they have in the frame "
    "(here the head tube, held fast at both ends; the frame behind it carries nothing); a pin through the upper "
    "bearing keeps the fork from turning; dummy axle between the dropouts, nothing else held"
)


def iso_fork_forward(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """The forward half of the fork's bending fatigue test."""
    return _bending(
        bicycle,
        layout,
        "iso_fork_forward",
        "ISO fork bending to and fro, forward",
        FORK_LOADS[bicycle.bicycle_type].fatigue,
        f"fork bending fatigue, set-up as in {_TBIS} (p. 25); force FROM MEMORY",
    )


def iso_fork_rearward(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """The rearward half of the fork's bending fatigue test."""
    return _bending(
        bicycle,
        layout,
        "iso_fork_rearward",
        "ISO fork bending to and fro, rearward",
        -FORK_LOADS[bicycle.bicycle_type].fatigue,
        f"fork bending fatigue, set-up as in {_TBIS} (p. 25); force FROM MEMORY",
    )


def iso_fork_bending(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """The fork's static bending test."""
    return _bending(
        bicycle,
        layout,
        "iso_fork_bending",
        "ISO fork bending, once",
        -FORK_LOADS[bicycle.bicycle_type].static,
        "fork static bending test, set-up as in TBIS 15194 (p. 72), where 10 mm may stay; force and its way, rearward, "
        "FROM MEMORY",
    )


def _bending(
    bicycle: Bicycle, layout: FrameLayout, name: str, title: str, load: float, source: str
) -> LoadCase:
    """A force on the front axle square to the steering axis; positive `load` acts forwards."""
    ahead = _square_to_the_axis(bicycle)
    push = load * ahead
    nodal = added([force("front_axle", x=push[0], y=push[1])])
    # Forward and backward have a sign of their own; the words need it too.
    if load > 0:
        way = "forwards"
    else:
        way = "backwards"
    return LoadCase(
        name,
        nodal,
        supports=_in_the_fixture(layout),
        springs=(steering_lock(bicycle, layout),),
        measures=(at_the_load(nodal, abs(load), "fork_axle", "front axle, along the force"),),
        title=title,
        touching=dict.fromkeys(_in_the_fixture(layout), _FIXTURE),
        source=source,
        notes=f"{abs(load):.0f} N {way} on the front axle ({bicycle.bicycle_type} bicycle), in the plane of the wheel "
        "and square to the steerer, dial gauge on the bench in line with the force; "
        + _FIXTURE_WORDS,
        held=_FIXTURE_WORDS,
    )


def iso_steerer_torque(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """A torque about the steering axis on the dropouts, the top of the steerer held."""
    torque = FORK_LOADS[bicycle.bicycle_type].torque
    # A torque about the steering axis, so two components in axes of the frame.
    x, y = bicycle.dimensions.axis_up
    about = (0.0, 0.0, 0.0, x, y, 0.0)
    fixture = _in_the_fixture(layout)
    clamp = layout.node("stem_clamp")
    held = (
        "fork alone, its steerer in a rigid fixture with the two head bearings (here the head tube, held fast at both "
        "ends; the frame behind it carries nothing) and clamped at its top in a dummy stem on a post that cannot turn"
    )
    return LoadCase(
        "iso_steerer_torque",
        added([("front_axle", tuple(torque * v for v in about))]),
        supports={**fixture, clamp: CLAMPED},
        measures=(
            Measure(
                "fork_twist",
                (("front_axle", about),),
                "deg",
                torque,
                "front axle about the steering axis",
            ),
        ),
        title="ISO torque on the steerer",
        touching={**dict.fromkeys(fixture, _FIXTURE), clamp: "dummy stem on a post"},
        source=f"{_TBIS}, table 8 (p. 24): torque read; set-up FROM MEMORY",
        notes=f"{torque / N_MM:g} N·m about the steering axis ({bicycle.bicycle_type} bicycle), brought by an arm on "
        f"a dummy axle between the dropouts, a level or pointer on the arm; {held}",
        held=held,
    )


def _square_to_the_axis(bicycle: Bicycle) -> Array:
    """(2,) unit vector in the plane of the frame, square to the steering axis, forwards."""
    x, y = bicycle.dimensions.axis_up
    return np.array([y, -x])


def _in_the_fixture(layout: FrameLayout) -> dict[str, tuple[int, ...]]:
    return {layout.node(f"head_tube_{end}"): CLAMPED for end in ("top", "bottom")}
