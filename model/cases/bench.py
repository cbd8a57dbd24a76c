"""Rigs of the workshop bench: what is clamped, what pushes, where the dial gauge stands.

Each is described so that it can be built, holds what its words name and no more, and measures the load's own
movement: stiffness = load / that movement, so no tube made stiffer can lower it (Rayleigh; W = F u / 2 falls as
the stiffness rises).
"""

import numpy as np

from ..frame.bicycle import G_ACCEL, Bicycle
from ..frame.layout import FrameLayout
from ..mechanics.frame_model import LoadCase, Measure
from ..mechanics.inertia import REFERENCE
from .tools import (
    CLAMPED,
    FRONT_ROLLS,
    PRACTICE,
    REAR_STANDS,
    added,
    along,
    at_the_load,
    force,
    moved,
    over,
    steering_lock,
)

TORQUE = 1e5  # N*mm
# kg, mm below the head tube: frame test named in `bench_head`
BENCH_MASS = 21.6
BENCH_BELOW = 230.0
_STAND = {
    "rear_axle": "bolted to a post on a turntable",
    "front_axle": "resting on a ball, tied down",
}
_STAND_WORDS = (
    "frame with fork on a stand, wheels out: rear axle bolted to a post that holds it in place and upright and "
    "stands on a turntable, so the axle may swivel, and turn about itself; front axle on a ball on a second "
    "post, held up-and-down and sideways, free to roll, lean and swivel; headset wedged so that nothing "
    "steers; reactions follow from equilibrium alone"
)


def side_push(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """A sideways push at the top of the head tube, the stiffness tied to shimmy."""
    return _pushed_on_the_stand(
        bicycle,
        layout,
        "side_push",
        "Sideways push at the head tube",
        # By its node: with a headset of no height two joints are one point.
        layout.node("head_tube_top"),
        ("head_sideways", "head tube top, sideways", "at the top of the head tube"),
        (along("bottom_bracket", 2, "bb_sideways", None, "bottom bracket, sideways"),),
    )


def bb_push(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """A sideways push at the bottom bracket on the same stand."""
    return _pushed_on_the_stand(
        bicycle,
        layout,
        "bb_push",
        "Sideways push at the bottom bracket",
        "bottom_bracket",
        ("bb_sideways", "bottom bracket, sideways", "at the middle of the bottom bracket"),
    )


def _pushed_on_the_stand(
    bicycle: Bicycle,
    layout: FrameLayout,
    name: str,
    title: str,
    node: str,
    words: tuple[str, str, str],
    more: tuple[Measure, ...] = (),
) -> LoadCase:
    push = bicycle.loads.side_push
    figure, said, where = words
    return LoadCase(
        name,
        added([force(node, z=push)]),
        supports={"rear_axle": REAR_STANDS, "front_axle": FRONT_ROLLS},
        springs=(steering_lock(bicycle, layout),),
        measures=(along(node, 2, figure, push, said), *more),
        title=title,
        touching=_STAND,
        source=PRACTICE,
        notes=f"{push:.0f} N to the right {where}, dial gauge on the floor against the same place; {_STAND_WORDS}",
        held=_STAND_WORDS,
    )


def frame_torsion(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """Equal and opposite torques at head tube and bottom bracket: in balance by themselves, so nothing holds."""
    top = layout.node("head_tube_top")
    bottom = layout.node("head_tube_bottom")
    half = (0.0, 0.0, 0.0, TORQUE / 2, 0.0, 0.0)
    back = (0.0, 0.0, 0.0, -TORQUE, 0.0, 0.0)
    nodal = added([(top, half), (bottom, half), ("bottom_bracket", back)])
    # Load over torque: by virtual work the measure is the turn that this torque alone makes.
    weights = over(nodal, TORQUE)
    held = (
        "the two balance, so nothing else holds the frame and how it lies changes nothing (rear axle: reference "
        "only); a level on each arm, their difference counts; fork hanging free"
    )
    return LoadCase(
        "frame_torsion",
        nodal,
        # In balance by itself, so six reference holds carry nothing and may sit anywhere.
        supports={"rear_axle": CLAMPED},
        springs=(steering_lock(bicycle, layout),),
        measures=(
            Measure(
                "frame_twist", weights, "deg", TORQUE, "head tube against bottom bracket, lean"
            ),
        ),
        title="Torsion between head tube and bottom bracket",
        touching={"rear_axle": REFERENCE},
        source=PRACTICE,
        notes=f"{TORQUE / 1000:g} N·m about a fore-and-aft axis on an arm clamped in the head tube (half at each end), "
        f"as much the other way on an arm at the bottom bracket shell; {held}",
        held=held,
    )


def saddle_push(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """The rider's weight on the saddle alone, the hubs free to roll apart: vertical stiffness."""
    weight = bicycle.loads.rider_mass * G_ACCEL
    held = (
        "wheels out, rear axle bolted to a post, free to turn about itself, front axle on a trolley that rolls fore "
        "and aft, so the hubs may move apart; steering wedged; nothing held at the saddle"
    )
    return LoadCase(
        "saddle_push",
        added([force("saddle", y=-weight)]),
        supports={"rear_axle": REAR_STANDS, "front_axle": FRONT_ROLLS},
        springs=(steering_lock(bicycle, layout),),
        measures=(along("saddle", 1, "saddle_vertical", -weight, "saddle clamp, downwards"),),
        title="Weight at the saddle",
        touching={
            "rear_axle": "bolted to a post, free to turn about itself",
            "front_axle": "on a trolley, free to roll",
        },
        source=PRACTICE,
        notes=f"{weight:.0f} N hung on the saddle clamp, dial gauge on the floor below it; {held}",
        held=held,
    )


def crank_axle_pull(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """The crank axle pulled sideways, the dropouts of frame and fork held fast."""
    push = bicycle.loads.side_push
    held = (
        "dropouts of frame and fork on dummy axles clamped to the table, neither can move or turn; headset wedged; "
        "nothing else held"
    )
    return LoadCase(
        "crank_axle_pull",
        added([force("bottom_bracket", z=push)]),
        supports={"rear_axle": CLAMPED, "front_axle": CLAMPED},
        springs=(steering_lock(bicycle, layout),),
        measures=(along("bottom_bracket", 2, "axle_sideways", push, "crank axle, sideways"),),
        title="Crank axle pulled sideways",
        touching={
            "rear_axle": "dummy axle clamped to the table",
            "front_axle": "dummy axle clamped to the table",
        },
        source=PRACTICE,
        notes=f"{push:.0f} N to the right along the crank axle, dial gauge on the table against its left end; {held}",
        held=held,
    )


def head_torsion(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """The head tube twisted about a fore-and-aft axis against a clamped rear axle."""
    top = layout.node("head_tube_top")
    bottom = layout.node("head_tube_bottom")
    half = (0.0, 0.0, 0.0, TORQUE / 2, 0.0, 0.0)
    # Half the torque acts at each end: the mean of both turns is the load's own movement.
    mean = tuple((node, (0.0, 0.0, 0.0, 0.5, 0.0, 0.0)) for node in (top, bottom))
    held = "rear axle clamped, nothing else held; fork fastened in the head tube and hanging free"
    return LoadCase(
        "head_torsion",
        added([(top, half), (bottom, half)]),
        supports={"rear_axle": CLAMPED},
        springs=(steering_lock(bicycle, layout),),
        measures=(Measure("head_twist", mean, "deg", TORQUE, "head tube against rear axle, lean"),),
        title="Torsion of the head tube against the rear axle",
        touching={"rear_axle": "clamped on the bench"},
        source=PRACTICE,
        notes=f"{TORQUE / 1000:g} N·m about a fore-and-aft axis, half at each end of the head tube, a level on the arm "
        f"that brings it; {held}",
        held=held,
    )


def rear_sideways(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """The rear end pushed sideways at the axle, the bottom bracket clamped."""
    push = bicycle.loads.side_push
    held = "bottom bracket shell clamped, nothing else held; fork fastened in the head tube and hanging free"
    return LoadCase(
        "rear_sideways",
        added([force("rear_axle", z=push)]),
        supports={"bottom_bracket": CLAMPED},
        springs=(steering_lock(bicycle, layout),),
        measures=(along("rear_axle", 2, "rear_sideways", push, "rear axle, sideways"),),
        title="Rear end sideways",
        touching={"bottom_bracket": "shell clamped on the bench"},
        source=PRACTICE,
        notes=f"{push:.0f} N to the right at the middle of the rear axle, dial gauge on the bench against it; {held}",
        held=held,
    )


def bench_head(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """A weight on a bar through the head tube, the bottom bracket shell clamped on a table."""
    bottom = layout.joints["head_tube_bottom"]
    weight = BENCH_MASS * G_ACCEL
    # Down along the steering axis, as the bar goes on where the head tube ends.
    hook = np.subtract(bottom, (*(BENCH_BELOW * v for v in bicycle.dimensions.axis_up), 0.0))
    nodal = added([(layout.node("head_tube_bottom"), moved((0.0, 0.0, weight), hook, bottom))])
    held = "bottom bracket shell clamped, frame level, nothing else held"
    return LoadCase(
        "bench_head",
        nodal,
        supports={"bottom_bracket": CLAMPED},
        springs=(steering_lock(bicycle, layout),),
        measures=(
            at_the_load(
                nodal, weight, "weight_sinks", "where the weight hangs, the bar taken as rigid"
            ),
        ),
        title="Frame lying on the bench, weight at the head",
        touching={"bottom_bracket": "shell clamped on the table"},
        source="frame test of the 1990s, sheldonbrown.com/rinard/rinard_frametest.html",
        notes=f"{BENCH_MASS:g} kg hung sideways {BENCH_BELOW:g} mm below the head tube on a bar through it (taken as "
        f"rigid); {held}",
        held=held,
    )
