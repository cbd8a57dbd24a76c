"""Values that are possible and yet hard to believe: where frames of the trade lie, and which slip a stray one may be.

A FINDING is made of each, naming value, usual range and the likely slip; no value is ever changed. The bands are common
practice, no source. Limits beyond which a value cannot be at all stand where it is read.
"""

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields, replace
from itertools import pairwise

import numpy as np

from ..decide import at_least, at_most
from ..errors import ModelError
from ..findings import Finding, Severity
from ..geometry.dimensions import FrameDimensions
from ..geometry.quantities import QUANTITIES, Quantity, Range
from ..geometry.statements import quantities
from ..tubes.known_plans import DIAMOND, further_ones
from ..tubes.places import AtJoint
from ..tubes.plan import SHELL, FramePlan
from ..tubes.tube import Tube
from ..tubes.usual import likely, tube_slips
from ..words import spoken
from .bicycle import Bicycle
from .dropouts import Dropout
from .layout import Member, side_paths
from .parts import Part
from .struck import overlap_findings
from .tyres import told_twice

LOOKED_AT = 9  # places along a tube at which its way in another is looked at
STANDOVER_ALIKE = 2.0  # mm that a bend of the top tube may change it by without a word
# Fitting or load -> (least, greatest, unit); nought stands for "none of it" where it is listed in `_MAY_BE_NOUGHT`.
USUAL: Mapping[str, tuple[float, float, str]] = {
    "rear_hub_spacing": (110, 200, "mm"),
    "front_hub_spacing": (70, 152, "mm"),
    "bb_shell_width": (60, 125, "mm"),
    "chainstay_spacing": (28, 100, "mm"),
    "seatstay_spacing": (12, 115, "mm"),
    "blade_spacing": (42, 135, "mm"),
    "blade_straight": (20, 520, "mm"),
    "stay_curve": (1, 60, "mm"),
    "saddle_height": (400, 920, "mm"),
    "seat_post_insertion": (50, 350, "mm"),
    "upper_stack": (5, 160, "mm"),
    "stem_length": (25, 160, "mm"),
    "bar_width": (330, 900, "mm"),
    "crank_length": (110, 205, "mm"),
    "pedal_offset": (112, 165, "mm"),
    "chainline": (35, 90, "mm"),
    "chainring_radius": (35, 125, "mm"),
    "sprocket_radius": (18, 85, "mm"),
    "rider_mass": (25, 150, "kg"),
    "saddle_share": (0.25, 1.0, ""),
    "bar_share": (0.02, 0.5, ""),
    "pedal_share": (0.02, 0.6, ""),
    "side_push": (50, 600, "N"),
    "pedal_force": (250, 3500, "N"),
    "bar_pull": (50, 1500, "N"),
    "front_luggage": (1, 30, "kg"),
    "rear_luggage": (1, 60, "kg"),
    "wheel_mass_front": (0.6, 4.0, "kg"),
    "wheel_mass_rear": (0.8, 7.0, "kg"),
    "tyre_stiffness": (40, 400, "N/mm"),
    "tyre_side_stiffness": (20, 400, "N/mm"),
    "wheel_side_stiffness": (30, 300, "N/mm"),
}
_MAY_BE_NOUGHT = {
    "blade_straight", "stay_curve", "seat_post_insertion", "upper_stack", "stem_length", "bar_share", "pedal_share",
    "bar_pull", "front_luggage", "rear_luggage",
}  # fmt: skip
_LENGTH_SLIPS = (
    (10.0, "cm, or a slipped point"),
    (0.1, "a slipped point"),
    (25.4, "inches"),
)
# Across the frame a half is easily measured for the whole: from the middle plane to one side.
_ACROSS_SLIPS = (*_LENGTH_SLIPS, (2.0, "half of it"), (0.5, "the whole for the half"))
_OTHER_SLIPS = ((0.1, "a slipped point"), (10.0, "a slipped point"))
_POUNDS = 0.45359237
_MASS_SLIPS = ((_POUNDS, "pounds"), (0.001, "grams"), *_OTHER_SLIPS)
_SIDE_SLIPS = ((-1.0, "the other sign"), *_LENGTH_SLIPS)
_ANGLE_SLIPS = ((-1.0, "the other sign"), *_OTHER_SLIPS)
USUAL_PLATE: Mapping[str, Range] = {"height": (14, 55), "thickness": (4, 13), "length": (12, 80)}
POST_PLAY = (-0.3, 0.6)  # mm, bore less post; a tight bore is reamed
# Share of a chainstay's width that may stand past the shell without a word; a bridge or a dent makes good for less.
STAY_OVERHANG = 0.25
WHEELS_APART = 12.0  # mm of radius; more than tyres of different width make on one rim


def bicycle_slips(bicycle: Bicycle) -> tuple[Finding, ...]:
    """Everything hard to believe about tubes, fittings and loads."""
    # Stated parts are held against usual sizes of their own.
    parts = {name: part.tube for name, part in bicycle.parts.items() if isinstance(part, Part)}
    sizes = {**bicycle.tubes, **parts}
    tubes = (found for name, tube in sizes.items() for found in tube_slips(name, tube))
    plates = [part for part in bicycle.parts.values() if isinstance(part, Dropout)]
    return (
        *tubes,
        *_plates(plates),
        *_post_fit(bicycle),
        *_saddle(bicycle),
        *_hubs(bicycle),
        *_stays_at_shell(bicycle),
        *_riders(bicycle),
        *_forces(bicycle),
        *_settings(bicycle),
        *told_twice(bicycle),
        *_bent_top_tube(bicycle),
        *_inside_another(bicycle),
        *_overlaps(bicycle),
        *_stiff_arms(bicycle),
    )


def _inside_another(bicycle: Bicycle) -> Iterator[Finding]:
    """Further tubes that lie within another tube all along: counted twice over."""
    further = [role for role in further_ones(bicycle.roles) if role.name in bicycle.tubes]
    if not further:
        return
    try:
        paths = side_paths(bicycle)
    except ModelError:
        # What cannot be placed is refused by whoever lays the frame out.
        return
    for role in further:
        own = paths.get(role.name)
        for host in bicycle.roles:
            other = paths.get(host.name)
            if own is None or other is None or host is role or host.name not in bicycle.tubes:
                continue
            line = Member(host.name, host.name, "", "", other)
            # Piece by piece: a bent tube may leave the other and come back to it.
            pieces = [np.linspace(a, b, LOOKED_AT) for a, b in pairwise(own)]
            off = max(line.distance_from(point) for point in np.concatenate(pieces))
            if off < max(bicycle.tubes[host.name].od_start, bicycle.tubes[host.name].od_end) / 2:
                yield Finding(
                    "tube-in-tube",
                    "warning",
                    f"the {role.label} runs inside the {spoken(host.name)} all along (its axis {off:.1f} mm from the "
                    "other's at most) and stiffens it like a second tube beside it; move one of its ends, or leave its "
                    f"row out and give the {spoken(host.name)} the wall that it has there",
                    role.name,
                )


def _overlaps(bicycle: Bicycle) -> tuple[Finding, ...]:
    """Tubes that run through one another."""
    try:
        return overlap_findings(bicycle)
    except ModelError:
        # What cannot be placed is refused by whoever lays the frame out.
        return ()


def _stiff_arms(bicycle: Bicycle) -> Iterator[Finding]:
    """Pairs that stand apart from a tube's axis: what carries them is no tube of the frame."""
    for role in bicycle.roles:
        carried = [
            role.tied_to(end).replace(f"{role.name}_on_", "")
            for end, place in enumerate(role.ends)
            if role.tied_to(end) and not isinstance(place, AtJoint)
        ]
        if carried:
            where = " and ".join(map(spoken, carried))
            yield Finding(
                "pair-held-stiffly",
                "info",
                f"the {role.label}: what holds right and left apart at the {where} (lug, plate or wishbone) is taken "
                "as stiff, so its own give is in no figure; where it is slender, add it as a tube with columns from "
                "and to",
                role.name,
            )


def _bent_top_tube(bicycle: Bicycle) -> Iterator[Finding]:
    """Standover follows an arc; of a top tube bent through points it is counted to the straight line."""
    role = bicycle.plan.get("top_tube")
    standover = bicycle.dimensions.derived()["standover"]
    if role is None or role.bend is None or not role.bend.via or standover is None:
        return
    try:
        path = side_paths(bicycle)["top_tube"]
    except ModelError:
        # A bend that cannot be is refused by whoever lays the frame out.
        return
    if path is None:
        return
    along = np.array(path)
    middle = (along[0] + along[-1]) / 2
    # Straight below or above the middle, where standover is counted.
    off = float(np.interp(middle[0], along[:, 0], along[:, 1]) - middle[1])
    # Higher than told is what hurts.
    severity: Severity = "info"
    if off > 0:
        severity = "warning"
    if abs(off) > STANDOVER_ALIKE:
        yield Finding(
            "standover-bent",
            severity,
            f"standover {standover:.0f} mm is counted to the straight line between the top tube's joints; the bent "
            f"tube's middle lies {abs(off):.0f} mm {'higher' if off > 0 else 'lower'}",
            "top_tube",
        )


def geometry_slips(dimensions: FrameDimensions, plan: FramePlan = DIAMOND) -> tuple[Finding, ...]:
    """Stated and derived figures of the side view outside the usual: trail, drop, stack, wheelbase, standover ..."""
    found = [
        _unusual(row, value)
        for row, value in _measured(dimensions, dict(plan.usual))
        if not row.is_usual(value)
    ]
    return (*found, *_unequal_wheels(dimensions))


def _measured(
    dimensions: FrameDimensions, usual: Mapping[str, Range]
) -> Iterator[tuple[Quantity, float]]:
    """Every figure that is known, with what is usual on frames of the plan."""
    for name, value in quantities(dimensions).items():
        if value is not None:
            row = QUANTITIES[name]
            yield replace(row, usual=usual.get(name, row.usual)), value


def new_slips(before: Bicycle, after: Bicycle) -> tuple[Finding, ...]:
    """What a change has made hard to believe."""
    # By all that is said: the same finding is the same slip.
    known = set(bicycle_slips(before))
    return tuple(found for found in bicycle_slips(after) if found not in known)


def _unusual(row: Quantity, value: float) -> Finding:
    low, high = row.usual
    if row.is_angle:
        slips: Iterable[tuple[float, str]] = _ANGLE_SLIPS
    else:
        slips = _SIDE_SLIPS
    guess = likely(value, row.usual, tuple(slips), row.unit)
    return Finding(
        f"frame-{row.name.replace('_', '-')}-unusual",
        "warning",
        f"{row.label} is {value:.4g} {row.unit_words}, usual is {low:g} to {high:g}; "
        f"{guess or 'check it, and what it is worked out from'}",
    )


def _unequal_wheels(dimensions: FrameDimensions) -> Iterator[Finding]:
    front = dimensions.wheel_radius_front
    rear = dimensions.wheel_radius_rear
    if abs(front - rear) > WHEELS_APART:
        yield Finding(
            "frame-wheels-unequal",
            "info",
            f"the wheels are of different size, radius {front:g} mm in front and {rear:g} mm behind; if that is not "
            "meant, check wheel and tyre of both: the front one makes the trail",
        )


def _plates(plates: Iterable[Dropout]) -> Iterator[Finding]:
    for plate in plates:
        for size, usual in USUAL_PLATE.items():
            value = getattr(plate, size)
            if usual[0] <= value <= usual[1]:
                continue
            guess = likely(value, usual, _LENGTH_SLIPS)
            yield Finding(
                "tube-size-unusual",
                "warning",
                f"{spoken(plate.name)} {plate.sizes}: {size} {value:g} mm, usual is {usual[0]:g} to {usual[1]:g} mm; "
                f"{guess or 'check the value; height x thickness x length from the axle, such as 30x6x26'}",
                plate.name,
            )


def _post_fit(bicycle: Bicycle) -> Iterator[Finding]:
    """A stated seat post that the top of the seat tube does not take."""
    seat_tube = bicycle.tubes.get("seat_tube")
    # A post that nobody stated is taken to fit.
    if "seat_post" not in bicycle.parts or seat_tube is None:
        return
    post = bicycle.part("seat_post").od
    # The seat tube's row runs from the bottom bracket up: its end is the top.
    bore = seat_tube.od_end - 2 * seat_tube.walls[-1]
    low, high = POST_PLAY
    play = bore - post
    if at_least(play, low, bore) and at_most(play, high, bore):
        return
    yield Finding(
        "seat-post-fit",
        "warning",
        f"seat post {post:g} mm: the seat tube's bore at its top is {bore:.1f} mm, so the post has "
        f"{play:.1f} mm play, usual is {low:g} to {high:g} mm; check post, tube, wall, or reckon a sleeve",
        "seat_post",
    )


def _saddle(bicycle: Bicycle) -> Iterator[Finding]:
    """A saddle clamp inside the seat tube: the post would have no length, and the saddle's stiffness no meaning."""
    top = bicycle.dimensions.seat_tube
    height = bicycle.fittings.saddle_height
    if top is None or at_least(height, top):
        return
    yield Finding(
        "saddle-below-seat-tube",
        "warning",
        f"saddle height is {height:g} mm, below the seat tube's top at {top:g} mm, both from the bottom bracket along "
        "the seat tube; check both values",
        "saddle height",
    )


def _hubs(bicycle: Bicycle) -> Iterator[Finding]:
    front = bicycle.fittings.front_hub_spacing
    rear = bicycle.fittings.rear_hub_spacing
    # The sprockets make the rear hub the wider one as a rule (common practice, no source).
    if front > rear:
        yield Finding(
            "hub-spacings-swapped",
            "warning",
            f"the front hub ({front:g} mm) is wider than the rear one ({rear:g} mm); are the two swapped?",
            "hub spacing",
        )


def width_at_shell(chainstay: Tube) -> float:
    """Width across the frame, mm: of a squeezed stay the width counts and not the height."""
    return chainstay.oval_width or chainstay.od_start


def past_the_shell(bicycle: Bicycle) -> float:
    """How far each chainstay reaches past the end of the shell it is mitred to, mm; negative where it does not.

    Minus infinity where the plan's chainstays, if any, have nothing to do with the shell.
    """
    role = bicycle.plan.get("chainstay")
    tube = bicycle.tubes.get("chainstay")
    if role is None or tube is None or role.mitred_start[:1] != (SHELL,):
        return -math.inf
    f = bicycle.fittings
    return (f.chainstay_spacing + width_at_shell(tube) - f.bb_shell_width) / 2


def _stays_at_shell(bicycle: Bicycle) -> Iterator[Finding]:
    """Chainstays so far apart that they would hang beside the shell: such as the crown's spacing in their row."""
    over = past_the_shell(bicycle)
    if over <= 0 or over <= STAY_OVERHANG * width_at_shell(bicycle.tubes["chainstay"]):
        return
    f = bicycle.fittings
    asked = "check both values"
    if f.blade_spacing < f.chainstay_spacing:
        asked = f"the blades are {f.blade_spacing:g} mm apart, are the two swapped?"
    yield Finding(
        "setting-unusual",
        "warning",
        f"chainstay spacing is {f.chainstay_spacing:g} mm between centre-lines: the stays would reach "
        f"{over:.1f} mm past each end of the {f.bb_shell_width:g} mm shell; {asked}",
        "chainstay spacing",
    )


def _riders(bicycle: Bicycle) -> Iterator[Finding]:
    """What is not worked out where somebody rides behind, and what is meant by climbing."""
    if bicycle.plan.followers:
        yield Finding(
            "riders-several",
            "info",
            f"{len(bicycle.plan.riders)} riders: ISO 4210 holds for one (part 2, scope, from memory) and its loads are "
            "not worked out; no published measurement holds the wobble of several; "
            "climbing means all of them pedalling in step, on one side; each one's stroke alone and cranks set apart "
            "are load cases of their own",
            "plan",
        )


def _forces(bicycle: Bicycle) -> Iterator[Finding]:
    loads = bicycle.loads
    if loads.bar_pull > loads.pedal_force:
        yield Finding(
            "setting-unusual",
            "warning",
            f"the pull on the bar ({loads.bar_pull:g} N) is larger than the force on the pedal "
            f"({loads.pedal_force:g} N) that it holds; are the two swapped?",
            "bar pull",
        )


def _settings(bicycle: Bicycle) -> Iterator[Finding]:
    for part in (bicycle.fittings, bicycle.loads):
        for field in fields(part):
            name = field.name
            value = getattr(part, name)
            if name not in USUAL or (value == 0 and name in _MAY_BE_NOUGHT):
                continue
            low, high, unit = USUAL[name]
            if not low <= value <= high:
                yield _unusual_setting(name, value, (low, high), unit)


def _unusual_setting(name: str, value: float, usual: Range, unit: str) -> Finding:
    # By unit, as the slip of a hand depends on what was measured.
    slips = {"mm": _ACROSS_SLIPS, "kg": _MASS_SLIPS}.get(unit, _OTHER_SLIPS)
    guess = likely(value, usual, slips, unit)
    return Finding(
        "setting-unusual",
        "warning",
        f"{spoken(name)} is {f'{value:g} {unit}'.strip()}, usual is {usual[0]:g} to {usual[1]:g}; "
        f"{guess or 'check the value and its unit'}",
        spoken(name),
    )
