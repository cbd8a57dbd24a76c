"""The load cases of a ride and of the workshop bench: loads AND supports AND what is measured."""

from dataclasses import replace
from math import cos, radians

import numpy as np

from ..errors import ModelError
from ..frame.bicycle import G_ACCEL, LUGGAGE_WORDS, Bicycle, luggage_lumps
from ..frame.layout import SIDES, FrameLayout
from ..mechanics.frame_model import LoadCase, Measure
from .tools import (
    CLAMPED,
    FRONT_ROLLS,
    FRONT_UPRIGHT,
    HELD,
    PRACTICE,
    REAR_HELD,
    TOUCHING,
    NodalLoad,
    added,
    along,
    at_the_load,
    force,
    moved,
    pedal_stroke,
    steering_lock,
    twist,
)

USUAL_LUGGAGE = (6.0, 14.0)  # kg front and rear, taken where none is stated
HEAD_TORQUE = 1e5  # N*mm
# kg, mm below the head tube: frame test named in `bench_head`
BENCH_MASS = 21.6
BENCH_BELOW = 230.0


# --- seated ---------------------------------------------------------------------------------------------------
def seated(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """Rider seated, weight shared over saddle, bars and pedals."""
    return LoadCase(
        "seated",
        added(_rider(bicycle)),
        supports={"rear_axle": REAR_HELD, "front_axle": FRONT_ROLLS},
        springs=(steering_lock(bicycle, layout),),
        measures=_vertical_measures(bicycle, layout),
        title="Seated rider",
        touching=TOUCHING,
        source=PRACTICE,
        notes=f"{_rider_words(bicycle)}; {HELD}",
    )


def seated_luggage(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """Seated rider with luggage where `luggage_lumps` hangs it; the usual luggage where none is stated."""
    loads = bicycle.loads
    words = ""
    if not (loads.front_luggage or loads.rear_luggage):
        loads = replace(loads, front_luggage=USUAL_LUGGAGE[0], rear_luggage=USUAL_LUGGAGE[1])
        words = " (none is stated, so this is taken)"
    nodal = [*_rider(bicycle), *(force(node, y=-kg * G_ACCEL) for node, kg in luggage_lumps(loads))]
    return LoadCase(
        "seated_luggage",
        added(nodal),
        supports={"rear_axle": REAR_HELD, "front_axle": FRONT_ROLLS},
        springs=(steering_lock(bicycle, layout),),
        measures=_vertical_measures(bicycle, layout),
        title="Seated rider with luggage",
        touching=TOUCHING,
        source=PRACTICE,
        notes=f"{_rider_words(bicycle)}; luggage {loads.front_luggage:g} kg front, {loads.rear_luggage:g} kg rear"
        f"{words}: {LUGGAGE_WORDS}; {HELD}",
    )


def _rider(bicycle: Bicycle) -> list[NodalLoad]:
    loads = bicycle.loads
    weight = loads.rider_mass * G_ACCEL
    bars = weight * loads.bar_share
    return [
        force("saddle", y=-weight * loads.saddle_share),
        force("bottom_bracket", y=-weight * loads.pedal_share),
        force("bar_right", y=-bars / 2),
        force("bar_left", y=-bars / 2),
    ]


def _rider_words(bicycle: Bicycle) -> str:
    loads = bicycle.loads
    weight = loads.rider_mass * G_ACCEL
    return (
        f"{weight:.0f} N rider: saddle {weight * loads.saddle_share:.0f} N, bars {weight * loads.bar_share:.0f} N, "
        f"pedals {weight * loads.pedal_share:.0f} N, all at once; stiffness of saddle and "
        "bars: the part that stands on them over how far they go down under all of it"
    )


def _vertical_measures(bicycle: Bicycle, layout: FrameLayout) -> tuple[Measure, ...]:
    loads = bicycle.loads
    weight = loads.rider_mass * G_ACCEL
    return (
        along(
            "saddle",
            1,
            "saddle_vertical",
            -weight * loads.saddle_share,
            "saddle, downwards, rider aboard",
        ),
        along(
            "bar_centre",
            1,
            "bar_vertical",
            -weight * loads.bar_share,
            "bars, downwards, rider aboard",
        ),
        along(
            layout.node("head_tube_top"),
            1,
            "head_vertical",
            -weight,
            "head tube top, downwards, total weight",
        ),
        along(
            "bottom_bracket", 1, "bb_vertical", -weight, "bottom bracket, downwards, total weight"
        ),
    )


# --- pedalling ------------------------------------------------------------------------------------------------
def climb(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """Out of the saddle: weight on the right pedal, the bars pulled up on that side and pushed on the other."""
    return _climb(bicycle, layout, "right", 1.0)


def climb_left(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """The same on the left pedal; the chain stays on the right."""
    return _climb(bicycle, layout, "left", -1.0)


def _climb(bicycle: Bicycle, layout: FrameLayout, side: str, sign: float) -> LoadCase:
    loads = bicycle.loads
    fit = bicycle.fittings
    if cos(radians(loads.crank_angle)) < -1e-9:
        raise ModelError(
            f"crank angle {loads.crank_angle:g} degrees: a foot pushing down there would turn the cranks "
            "backwards and the chain would be slack; give 270 (top) to 360, or 0 (level forward) to 90 "
            "(bottom)"
        )
    nodal = pedal_stroke(bicycle, layout, loads.pedal_force, loads.crank_angle, sign)
    nodal += [
        force("bar_right", y=sign * loads.bar_pull),
        force("bar_left", y=-sign * loads.bar_pull),
    ]
    roll = sign * loads.pedal_force * fit.pedal_offset
    if side == "right":
        other = "left"
    else:
        other = "right"
    return LoadCase(
        "climb" if sign > 0 else "climb_left",
        added(nodal),
        supports={"rear_axle": REAR_HELD, "front_axle": FRONT_ROLLS},
        springs=(steering_lock(bicycle, layout),),
        measures=(
            twist(
                "bottom_bracket",
                "rear_axle",
                3,
                "bb_twist",
                roll,
                "bottom bracket against rear axle, lean, pedal torque",
            ),
            twist(
                "bottom_bracket",
                layout.node("head_tube_bottom"),
                3,
                "bb_against_head",
                roll,
                "bottom bracket against head tube, lean, pedal torque",
            ),
            along("bottom_bracket", 2, "bb_sideways", None, "bottom bracket, sideways"),
        ),
        title=f"Out of the saddle, climbing{'' if sign > 0 else ', left pedal'}",
        touching=TOUCHING,
        source=PRACTICE,
        notes=f"{loads.pedal_force:.0f} N down on the {side} pedal, {fit.pedal_offset:g} mm out, "
        f"{_crank_words(loads.crank_angle)}, chain pull to match; {loads.bar_pull:.0f} N up on "
        f"the {side} and down on the {other} end of the bar; {HELD}",
    )


def _crank_words(angle: float) -> str:
    if angle == 0:
        return "crank level, pointing forward"
    return f"crank {angle:g} degrees below level forward"


# --- sideways and torsion -------------------------------------------------------------------------------------
def side_push(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """A sideways push at the top of the head tube, the stiffness tied to shimmy."""
    push = bicycle.loads.side_push
    top = layout.node("head_tube_top")
    return LoadCase(
        "side_push",
        added([force(top, z=push)]),
        supports={"rear_axle": REAR_HELD, "front_axle": FRONT_UPRIGHT},
        springs=(steering_lock(bicycle, layout),),
        measures=(
            along(top, 2, "head_sideways", push, "head tube top, sideways"),
            along("bottom_bracket", 2, "bb_sideways", None, "bottom bracket, sideways"),
        ),
        title="Sideways push at the head tube",
        touching=TOUCHING,
        source=PRACTICE,
        notes=f"{push:.0f} N to the right at the top of the head tube; {_UPRIGHT}",
    )


_UPRIGHT = (
    "both wheels kept upright, front axle held up-and-down and sideways, free to roll; steering locked by the "
    "hands; nothing held at the saddle"
)


def bb_push(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """A sideways push at the bottom bracket, wheels upright."""
    push = bicycle.loads.side_push
    return LoadCase(
        "bb_push",
        added([force("bottom_bracket", z=push)]),
        supports={"rear_axle": REAR_HELD, "front_axle": FRONT_UPRIGHT},
        springs=(steering_lock(bicycle, layout),),
        measures=(along("bottom_bracket", 2, "bb_sideways", push, "bottom bracket, sideways"),),
        title="Sideways push at the bottom bracket",
        touching=TOUCHING,
        source=PRACTICE,
        notes=f"{push:.0f} N to the right at the middle of the bottom bracket; {_UPRIGHT}",
    )


def head_torsion(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """The head tube twisted about a fore-and-aft axis against a clamped rear axle."""
    top = layout.node("head_tube_top")
    bottom = layout.node("head_tube_bottom")
    half = (0.0, 0.0, 0.0, HEAD_TORQUE / 2, 0.0, 0.0)
    mean = tuple((node, (0.0, 0.0, 0.0, 0.5, 0.0, 0.0)) for node in (top, bottom))
    return LoadCase(
        "head_torsion",
        added([(top, half), (bottom, half)]),
        supports={"rear_axle": CLAMPED},
        springs=(steering_lock(bicycle, layout),),
        measures=(
            Measure("head_twist", mean, "deg", HEAD_TORQUE, "head tube against rear axle, lean"),
        ),
        title="Torsion of the head tube against the rear axle",
        touching={"rear_axle": "clamped on the bench"},
        source=PRACTICE,
        notes=f"{HEAD_TORQUE / 1000:g} N·m about a fore-and-aft axis, half at each end of the head tube; rear axle "
        "clamped, nothing else held; fork fastened in the head tube and hanging free",
    )


def rear_sideways(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """The rear end pushed sideways at the axle, the bottom bracket clamped."""
    push = bicycle.loads.side_push
    return LoadCase(
        "rear_sideways",
        added([force("rear_axle", z=push)]),
        supports={"bottom_bracket": CLAMPED},
        springs=(steering_lock(bicycle, layout),),
        measures=(along("rear_axle", 2, "rear_sideways", push, "rear axle, sideways"),),
        title="Rear end sideways",
        touching={"bottom_bracket": "shell clamped on the bench"},
        source=PRACTICE,
        notes=f"{push:.0f} N to the right at the middle of the rear axle; bottom bracket shell clamped, nothing else "
        "held; fork fastened in the head tube and hanging free",
    )


def bench_head(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """A weight on a bar through the head tube, the bottom bracket shell clamped on a table."""
    bottom = layout.joints["head_tube_bottom"]
    weight = BENCH_MASS * G_ACCEL
    hook = np.subtract(bottom, (*(BENCH_BELOW * v for v in bicycle.dimensions.axis_up), 0.0))
    nodal = added([(layout.node("head_tube_bottom"), moved((0.0, 0.0, weight), hook, bottom))])
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
        "rigid); bottom bracket shell clamped, frame level, nothing else held",
    )


# --- braking --------------------------------------------------------------------------------------------------
BRAKING = 0.5  # of g: firm braking on a dry road
RIDER_ABOVE_SADDLE = 150.0  # mm, rider's centre of mass above the saddle clamp
PADS_INSIDE = 40.0  # mm from the tyre's outside to the rim brake's pads
# mm: middle of the caliper's grip; disc inside the left dropout
DISC_RADIUS = 72.0
DISC_INSIDE = 10.0


def brake_front_rim(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """Front rim brake, its pads held at the fork crown."""
    push = _brake_force(bicycle)
    radius = bicycle.dimensions.wheel_radius_front
    axle = np.array(layout.joints["front_axle"])
    crown = np.array(layout.joints["fork_crown"])
    up = (crown - axle) / np.linalg.norm(crown - axle)
    grip = push * radius / (radius - PADS_INSIDE)
    # along the rim, the way it runs past the pads: forward
    drag = grip * np.array([up[1], -up[0], 0.0])
    pads = [
        ("fork_crown", moved(drag, axle + (radius - PADS_INSIDE) * up, crown)),
        ("front_axle", moved(-drag, axle, axle)),
    ]
    return _brake(
        bicycle,
        layout,
        "brake_front_rim",
        "Braking, front rim brake",
        pads,
        f"pads at the crown take {grip:.0f} N along the rim",
    )


def brake_front_disc(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """Front hub or disc brake: the caliper behind the left blade is dragged up, the axle pushed down."""
    push = _brake_force(bicycle)
    radius = bicycle.dimensions.wheel_radius_front
    axle = np.array(layout.joints["front_axle"])
    dropout = np.array(layout.joints["front_dropout_left"])
    disc = axle + np.array([0.0, 0.0, DISC_INSIDE - bicycle.fittings.front_hub_spacing / 2])
    drag = np.array([0.0, push * radius / DISC_RADIUS, 0.0])
    grip = [
        ("front_dropout_left", moved(drag, disc - (DISC_RADIUS, 0.0, 0.0), dropout)),
        ("front_axle", moved(-drag, disc, axle)),
    ]
    return _brake(
        bicycle,
        layout,
        "brake_front_disc",
        "Braking, front disc or hub brake",
        grip,
        f"caliper at the left dropout, {DISC_RADIUS:g} mm behind the axle, is dragged up by {drag[1]:.0f} N",
    )


def _brake_force(bicycle: Bicycle) -> float:
    """Brake force at the front tyre, N."""
    loads = bicycle.loads
    return BRAKING * G_ACCEL * (loads.rider_mass + loads.front_luggage + loads.rear_luggage)


def _brake(
    bicycle: Bicycle, layout: FrameLayout, name: str, title: str, grip: list[NodalLoad], words: str
) -> LoadCase:
    """The road pushes the front wheel back; the rider, braced on the bars, pushes forward by as much."""
    push = _brake_force(bicycle)
    shift = _weight_shift(bicycle, layout)
    nodal = [*_rider(bicycle), *grip, force("front_axle", x=-push), force("saddle", y=shift)]
    for side, _ in SIDES:
        nodal.append(force(f"bar_{side}", x=push / 2, y=-shift / 2))
    return LoadCase(
        name,
        added(nodal),
        supports={"rear_axle": REAR_HELD, "front_axle": FRONT_ROLLS},
        springs=(steering_lock(bicycle, layout),),
        measures=(
            along("front_axle", 0, "axle_back", -push, "front axle, backwards"),
            along(layout.node("head_tube_top"), 1, "head_vertical", None, "head tube top, upwards"),
        ),
        title=title,
        touching=TOUCHING,
        source=PRACTICE,
        notes=f"braking at {BRAKING:g} g: {push:.0f} N backwards at the front tyre, {words}; the rider is braced on "
        f"the bars, which take {push:.0f} N forward and {shift:.0f} N of weight from the saddle; before braking: "
        f"{_rider_words(bicycle)}; {HELD}",
    )


def _weight_shift(bicycle: Bicycle, layout: FrameLayout) -> float:
    """Weight the rider moves from the saddle to the bars so that braking does not topple him, N."""
    push = _brake_force(bicycle)
    saddle = layout.joints["saddle"]
    bar = layout.joints["bar_centre"]
    shift = push * (saddle[1] + RIDER_ABOVE_SADDLE - bar[1]) / (bar[0] - saddle[0])
    most = bicycle.loads.rider_mass * G_ACCEL * bicycle.loads.saddle_share
    return float(min(max(shift, 0.0), most))
