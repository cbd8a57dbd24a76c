"""The load cases of a ride: loads AND supports AND what is measured.

The road, the hands and the rider hold six directions in all, no more, so reactions follow from equilibrium. Several
loads act at once; what is shown are movements and the energy swallowed, never a stiffness, which needs one load
over its own movement (`bench` has those).
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from ..columns import cos, number, radians
from ..errors import ModelError
from ..frame.bicycle import G_ACCEL, Bicycle, Loads, luggage_lumps, luggage_words
from ..frame.layout import SIDES, FrameLayout
from ..mechanics.frame_model import LoadCase, Measure
from ..tubes.plan import FramePlan, Rider
from .tools import (
    FRONT_ROLLS,
    HELD,
    N_MM,
    PRACTICE,
    REAR_STANDS,
    TOUCHING,
    Foot,
    NodalLoad,
    added,
    along,
    force,
    moved,
    steering_lock,
    strokes,
    swallowed,
    twist,
)

_BACK = (-1.0, 0.0, 0.0, 0.0, 0.0, 0.0)
_DOWN = (0.0, -1.0, 0.0, 0.0, 0.0, 0.0)
ALONE = "_stroke"  # ends the name of a case in which one rider of several pushes alone
USUAL_LUGGAGE = (6.0, 14.0)  # kg front and rear, taken where none is stated


# --- seated ---------------------------------------------------------------------------------------------------
def seated(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """Rider seated, weight shared over saddle, bars and pedals."""
    nodal = added(_rider(bicycle))
    return LoadCase(
        "seated",
        nodal,
        supports={"rear_axle": REAR_STANDS, "front_axle": FRONT_ROLLS},
        springs=(steering_lock(bicycle, layout),),
        measures=_vertical_measures(layout, nodal),
        title="Seated rider",
        touching=TOUCHING,
        source=PRACTICE,
        notes=f"{_rider_words(bicycle)}; {HELD}",
        held=HELD,
    )


def seated_luggage(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """Seated rider with luggage where `luggage_lumps` hangs it; the usual luggage where none is stated."""
    loads = bicycle.loads
    words = ""
    # A case with bags that nobody stated would be the seated one again.
    if not (loads.front_luggage or loads.rear_luggage):
        loads = replace(loads, front_luggage=USUAL_LUGGAGE[0], rear_luggage=USUAL_LUGGAGE[1])
        words = " (none is stated, so this is taken)"
    bags = [force(node, y=-kg * G_ACCEL) for node, kg in luggage_lumps(loads, bicycle.plan)]
    nodal = added([*_rider(bicycle), *bags])
    return LoadCase(
        "seated_luggage",
        nodal,
        supports={"rear_axle": REAR_STANDS, "front_axle": FRONT_ROLLS},
        springs=(steering_lock(bicycle, layout),),
        measures=_vertical_measures(layout, nodal),
        title="Seated rider with luggage",
        touching=TOUCHING,
        source=PRACTICE,
        notes=f"{_rider_words(bicycle)}; luggage {loads.front_luggage:.3g} kg front, {loads.rear_luggage:.3g} kg rear"
        f"{words}: {luggage_words(bicycle.plan)}; {HELD}",
        held=HELD,
    )


def _rider(bicycle: Bicycle) -> list[NodalLoad]:
    """The weight of everybody aboard."""
    loads = bicycle.loads
    nodal = []
    for rider, mass in bicycle.aboard:
        weight = mass * G_ACCEL
        bars = weight * loads.bar_share
        nodal += [
            force(rider.saddle, y=-weight * loads.saddle_share),
            force(rider.bracket, y=-weight * loads.pedal_share),
            force(f"{rider.bars}_right", y=-bars / 2),
            force(f"{rider.bars}_left", y=-bars / 2),
        ]
    return nodal


def _rider_words(bicycle: Bicycle) -> str:
    said = [_one_rider(bicycle.loads, rider, mass) for rider, mass in bicycle.aboard]
    return f"{'; '.join(said)}, all at once"


def _one_rider(loads: Loads, rider: Rider, mass: float) -> str:
    weight = mass * G_ACCEL
    return (
        f"{weight:.0f} N {rider.name}: saddle {weight * loads.saddle_share:.0f} N, "
        f"bars {weight * loads.bar_share:.0f} N, pedals {weight * loads.pedal_share:.0f} N"
    )


def _vertical_measures(
    layout: FrameLayout, nodal: Mapping[str, tuple[float, ...]]
) -> tuple[Measure, ...]:
    places = (
        ("saddle", "saddle_vertical", "saddle, downwards, rider aboard"),
        ("bar_centre", "bar_vertical", "bars, downwards, rider aboard"),
        (layout.node("head_tube_top"), "head_vertical", "head tube top, downwards, rider aboard"),
        ("bottom_bracket", "bb_vertical", "bottom bracket, downwards, rider aboard"),
    )
    behind = [
        (r.saddle, f"{r.name}_saddle_vertical", f"{r.name}'s saddle, downwards, rider aboard")
        for r in layout.plan.followers
    ]
    every = (*places, *behind)
    return (
        *(Measure(name, ((node, _DOWN),), "mm", None, title) for node, name, title in every),
        swallowed(nodal, "energy swallowed when the rider sits down"),
    )


# --- pedalling ------------------------------------------------------------------------------------------------
def climb(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """Out of the saddle: weight on the right pedal, the bars pulled up on that side and pushed on the other."""
    return _in_step(bicycle, layout, "climb", 1.0)


def climb_left(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """The same on the left pedal; the chain stays on the right."""
    return _in_step(bicycle, layout, "climb_left", -1.0)


def _in_step(bicycle: Bicycle, layout: FrameLayout, name: str, side: float) -> LoadCase:
    feet = [Foot(bicycle.loads.crank_angle, side)] * len(bicycle.plan.riders)
    title = "Out of the saddle, climbing" if side > 0 else "Out of the saddle, climbing, left pedal"
    return _climb(bicycle, layout, name, title, feet)


def single_strokes(plan: FramePlan) -> dict[str, Callable[[Bicycle, FrameLayout], LoadCase]]:
    """Name -> case of one foot of one rider among several; the chains behind him pass all his torque on, those in
    front are idle. None for a single bicycle, whose stroke is `climb`."""
    found: dict[str, Callable[[Bicycle, FrameLayout], LoadCase]] = {}
    if plan.followers:
        for who, (right, left) in enumerate(stroke_names(plan)):
            found[right] = partial(_one_foot, name=right, who=who, side=1.0)
            found[left] = partial(_one_foot, name=left, who=who, side=-1.0)
    return found


def stroke_names(plan: FramePlan) -> tuple[tuple[str, str], ...]:
    """Names of the right and left stroke of each rider alone."""
    return tuple((f"{rider.name}{ALONE}", f"{rider.name}{ALONE}_left") for rider in plan.riders)


def _one_foot(bicycle: Bicycle, layout: FrameLayout, name: str, who: int, side: float) -> LoadCase:
    riders = bicycle.plan.riders
    feet: list[Foot | None] = [None] * len(riders)
    feet[who] = Foot(bicycle.loads.crank_angle, side)
    title = f"Out of the saddle, {riders[who].name} alone, {_side(side)} pedal"
    return _climb(bicycle, layout, name, title, feet)


def strokes_opposed(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """Cranks half a turn apart, rider by rider: the first on the right pedal, the next on the left."""
    angle = bicycle.loads.crank_angle
    feet = [Foot(angle, (-1.0) ** k) for k in range(len(bicycle.plan.riders))]
    title = "Out of the saddle, cranks half a turn apart"
    return _climb(bicycle, layout, "strokes_opposed", title, feet)


def strokes_quarter_apart(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """Cranks a quarter turn apart: the first rider's stroke while those behind stand on their lower pedals."""
    angle = bicycle.loads.crank_angle
    feet = [Foot(angle), *(Foot(angle + 90.0) for _ in bicycle.plan.followers)]
    title = "Out of the saddle, cranks a quarter turn apart"
    return _climb(bicycle, layout, "strokes_quarter_apart", title, feet)


def _climb(
    bicycle: Bicycle,
    layout: FrameLayout,
    name: str,
    title: str,
    feet: Sequence[Foot | None],
) -> LoadCase:
    """Each pushing rider pulls up his bar on the side of his foot, and pushes the other end down."""
    loads = bicycle.loads
    fit = bicycle.fittings
    pushing = [
        (rider, foot)
        for rider, foot in zip(bicycle.plan.riders, feet, strict=True)
        if foot is not None
    ]
    hands = []
    for rider, foot in pushing:
        _refuse_backwards(foot)
        hands += [
            force(f"{rider.bars}_right", y=foot.side * loads.bar_pull),
            force(f"{rider.bars}_left", y=-foot.side * loads.bar_pull),
        ]
    stroke = strokes(bicycle, layout, loads.pedal_force, feet)
    nodal = added([*stroke, *hands])
    sides = sum(foot.side for _, foot in pushing)
    # What rider's balance must hold: the pedal leans one way, the hands the other.
    left_over = sides * (loads.pedal_force * fit.pedal_offset - loads.bar_pull * fit.bar_width)
    roll = (sides or 1.0) * loads.pedal_force * fit.pedal_offset
    return LoadCase(
        name,
        nodal,
        supports={"rear_axle": REAR_STANDS, "front_axle": FRONT_ROLLS},
        springs=(steering_lock(bicycle, layout),),
        measures=(
            *_behind(bicycle, roll),
            twist(
                "bottom_bracket",
                "rear_axle",
                3,
                "bb_twist",
                roll,
                "bottom bracket against rear axle, lean",
            ),
            twist(
                "bottom_bracket",
                layout.node("head_tube_bottom"),
                3,
                "bb_against_head",
                roll,
                "bottom bracket against head tube, lean",
            ),
            along("bottom_bracket", 2, "bb_sideways", None, "bottom bracket, sideways"),
            swallowed(nodal, "energy swallowed in one stroke"),
        ),
        title=title,
        touching=TOUCHING,
        source=PRACTICE,
        notes=f"{_strokes_words(bicycle, pushing)}, which leaves {abs(left_over) / N_MM:.0f} N·m of lean to "
        f"{_whose_balance(bicycle)} balance; {HELD}",
        held=HELD,
    )


def _behind(bicycle: Bicycle, roll: float) -> Iterator[Measure]:
    """Movements of the brackets of those who ride behind the first, the one at the chain before all."""
    for rider in bicycle.plan.followers:
        name = rider.name
        bracket = rider.bracket
        said = f"{name}'s bracket"
        yield twist(
            bracket, "rear_axle", 3, f"{name}_bb_twist", roll, f"{said} against rear axle, lean"
        )
        between = f"{bicycle.plan.riders[0].name}'s bracket against {said}, lean"
        yield twist("bottom_bracket", bracket, 3, f"bb_against_{name}", roll, between)
        yield along(bracket, 2, f"{name}_bb_sideways", None, f"{said}, sideways")


def _refuse_backwards(foot: Foot) -> None:
    # Pushing down behind the spindle is no pedalling; upright cranks are still allowed.
    if cos(radians(foot.angle)) < -1e-9:
        raise ModelError(
            f"crank angle {foot.angle:g} degrees: a foot pushing down there would turn the cranks "
            "backwards and the chain would be slack; give 270 (top) to 360, or 0 (level forward) to 90 "
            "(bottom)"
        )


def _strokes_words(bicycle: Bicycle, pushing: Sequence[tuple[Rider, Foot]]) -> str:
    """Who pushes and pulls where."""
    loads = bicycle.loads
    offset = bicycle.fittings.pedal_offset
    if not bicycle.plan.followers:
        foot = pushing[0][1]
        return (
            f"{loads.pedal_force:.0f} N down on the {_side(foot.side)} pedal, {offset:g} mm out, "
            f"{_crank_words(foot.angle)}, chain pull to match; {loads.bar_pull:.0f} N up on "
            f"the {_side(foot.side)} and down on the {_side(-foot.side)} end of the bar"
        )
    feet = "; ".join(
        f"{rider.name}'s {_side(foot.side)} pedal, {_crank_words(foot.angle)}"
        for rider, foot in pushing
    )
    return (
        f"{loads.pedal_force:.0f} N down, {offset:g} mm out, on the {feet}; timing chain on the left and driving chain "
        f"on the right pull to match; {loads.bar_pull:.0f} N up on that side and down on the other end of the pushing "
        "rider's bar"
    )


def _whose_balance(bicycle: Bicycle) -> str:
    return "the riders'" if bicycle.plan.followers else "the rider's"


def _side(side: float) -> str:
    return "right" if side > 0 else "left"


def _crank_words(angle: float) -> str:
    if angle == 0:
        return "crank level, pointing forward"
    return f"crank {angle:g} degrees below level forward"


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
    # The wheel turns about the axle, so the pads' force has its lever from there.
    up = (crown - axle) / np.linalg.norm(crown - axle)
    # The same torque about the axle at a shorter lever is a larger force.
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
    # The left dropout is at negative z; the disc stands inside of it.
    disc = axle + np.array([0.0, 0.0, DISC_INSIDE - bicycle.fittings.front_hub_spacing / 2])
    # Behind the axle the disc runs up, so the caliper is dragged up with it.
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
    riders = sum(mass for _, mass in bicycle.aboard)
    return BRAKING * G_ACCEL * (riders + loads.front_luggage + loads.rear_luggage)


def _brake(
    bicycle: Bicycle, layout: FrameLayout, name: str, title: str, grip: list[NodalLoad], words: str
) -> LoadCase:
    """The road pushes the front wheel back; the riders, each braced on his bars, push forward by as much."""
    push = _brake_force(bicycle)
    # The torque of the road goes into the brake: the axle gets the push alone.
    nodal = [*_rider(bicycle), *grip, force("front_axle", x=-push)]
    braced = []
    for rider, own, shift in _braced(bicycle, layout):
        nodal.append(force(rider.saddle, y=shift))
        for side, _ in SIDES:
            nodal.append(force(f"{rider.bars}_{side}", x=own / 2, y=-shift / 2))
        braced.append(
            f"the {rider.name} is braced on the bars, which take {own:.0f} N forward and {shift:.0f} N of weight from "
            "the saddle"
        )
    return LoadCase(
        name,
        added(nodal),
        supports={"rear_axle": REAR_STANDS, "front_axle": FRONT_ROLLS},
        springs=(steering_lock(bicycle, layout),),
        measures=(
            Measure("axle_back", (("front_axle", _BACK),), "mm", None, "front axle, backwards"),
            along(layout.node("head_tube_top"), 1, "head_vertical", None, "head tube top, upwards"),
        ),
        title=title,
        touching=TOUCHING,
        source=PRACTICE,
        notes=f"braking at {BRAKING:g} g: {push:.0f} N backwards at the front tyre, {words}; {'; '.join(braced)}; "
        f"before braking: {_rider_words(bicycle)}; {HELD}",
        held=HELD,
    )


def _braced(bicycle: Bicycle, layout: FrameLayout) -> Iterator[tuple[Rider, float, float]]:
    """Each rider with what he pushes his bars forward by, N, and the weight he moves to them from the saddle so that
    braking does not topple him, N. The first one's bars take the luggage's push as well."""
    loads = bicycle.loads
    bags = loads.front_luggage + loads.rear_luggage
    for rider, mass in bicycle.aboard:
        push = BRAKING * G_ACCEL * (mass + bags)
        bags = 0.0
        saddle = layout.joints[rider.saddle]
        # its ends stand level with its middle
        bar = layout.joints[f"{rider.bars}_right"]
        # Inertia at the rider's centre tips him over his hands; weight moved forward holds against it.
        shift = push * (saddle[1] + RIDER_ABOVE_SADDLE - bar[1]) / (bar[0] - saddle[0])
        # No more weight can leave the saddle than sits on it.
        most = mass * G_ACCEL * loads.saddle_share
        yield rider, push, number(min(max(shift, 0.0), most))
