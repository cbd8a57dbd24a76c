"""Frame tests of ISO 4210-6 as static load cases: the peak load once, not the cycles.

Set-ups as in TBIS 4210-6:2019, the Taiwan edition that follows ISO 4210-6; what could only be recalled is marked
FROM MEMORY in the source of the case. The real fork stands where the standard has a dummy fork.

The rear link of the pedalling tests is stiff, holds the axle upright and ends in a ball joint on the floor. The
model has it as the node `rear_contact`, rigid with the rear axle and held there up-and-down and sideways: the
link may swing fore and aft and turn about itself, which leaves that node free to move fore and aft.
"""

from collections.abc import Mapping

from ..arrays import Xyz
from ..columns import cos, radians, sin
from ..frame.bicycle import Bicycle
from ..frame.layout import FrameLayout
from ..mechanics.frame_model import LoadCase, Measure
from .tools import AXLE_GRIPPED, added, along, at_the_load, driven, force, moved, steering_lock

# Type of bicycle -> pedalling force F1, forward F2, rearward F3, vertical force, N.
PEAK_LOADS: Mapping[str, tuple[float, float, float, float]] = {
    "city": (1000.0, 450.0, 450.0, 1000.0),
    "young adult": (1000.0, 450.0, 450.0, 500.0),
    "mountain": (1200.0, 1200.0, 600.0, 1200.0),
    "racing": (1100.0, 600.0, 600.0, 1200.0),
}
# mm, degrees: as `_pedal` uses them
ARM = 175.0
ARM_ANGLE = 45.0
OFFSET = 150.0
TILT = 7.5
RADIUS = 75.0
EXTENSION_BACK = 70.0  # mm behind the seat tube's axis
PEDAL_STIFFNESS_LOAD = 800.0
PEDAL_STIFFNESS_LEAN = 10.0
LATERAL_STIFFNESS_LOAD = 300.0
_TBIS = "TBIS 4210-6:2019, which follows ISO 4210-6"
_LINK = {
    "front_axle": "rigid mount, hub free to turn",
    "rear_contact": "ball joint under the rear link",
}
_LINK_WORDS = (
    "front axle on a rigid mount, free to turn about itself; rear axle on a stiff upright link with a ball "
    "joint at the floor, free to turn about itself; steering free; both arms 45 degrees forward and down, "
    "their torque taken by a tie rod from a 75 mm arm at the chainline to the rear axle (rod's place FROM "
    "MEMORY)"
)


def peak_loads(bicycle: Bicycle) -> tuple[float, float, float, float]:
    """F1, F2, F3 and the vertical force for the bicycle's type."""
    return PEAK_LOADS[bicycle.bicycle_type]


# --- pedalling ------------------------------------------------------------------------------------------------
def iso_pedalling_right(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """Pedalling force on the right pedal."""
    return _pedalling(bicycle, layout, "right", 1.0)


def iso_pedalling_left(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """Pedalling force on the left pedal."""
    return _pedalling(bicycle, layout, "left", -1.0)


def _pedalling(bicycle: Bicycle, layout: FrameLayout, side: str, sign: float) -> LoadCase:
    load = peak_loads(bicycle)[0]
    return _pedal(
        bicycle,
        layout,
        f"iso_pedalling_{side}",
        f"ISO pedalling force, {side} pedal",
        sign,
        load,
        TILT,
        f"{load:.0f} N ({bicycle.bicycle_type} bicycle) on the {side} pedal axle, {OFFSET:g} mm out, {TILT:g} degrees "
        "from the vertical, taken inwards (the more severe way)",
        f"ISO 4210-6, 4.3, set-up as in {_TBIS} (p. 15); F1 FROM MEMORY",
    )


def stiffness_pedal_right(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """Pedalling stiffness, right pedal."""
    return _stiffness_pedal(bicycle, layout, "right", 1.0)


def stiffness_pedal_left(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """Pedalling stiffness, left pedal."""
    return _stiffness_pedal(bicycle, layout, "left", -1.0)


def _stiffness_pedal(bicycle: Bicycle, layout: FrameLayout, side: str, sign: float) -> LoadCase:
    return _pedal(
        bicycle,
        layout,
        f"stiffness_pedal_{side}",
        f"Pedalling stiffness test, {side} pedal",
        sign,
        PEDAL_STIFFNESS_LOAD,
        PEDAL_STIFFNESS_LEAN,
        f"{PEDAL_STIFFNESS_LOAD:.0f} N vertical on the {side} pedal axle, {OFFSET:g} mm out, frame leaned "
        f"{PEDAL_STIFFNESS_LEAN:g} degrees with its supports, taken away from the loaded pedal (not stated)",
        "TBIS 4210-6:2019, annex E2 (p. 37)",
    )


def _pedal(
    bicycle: Bicycle,
    layout: FrameLayout,
    name: str,
    title: str,
    sign: float,
    load: float,
    tilt: float,
    words: str,
    source: str,
) -> LoadCase:
    """A force on a pedal axle in the transverse plane, its torque about the spindle taken by the tie rod."""
    arm = radians(ARM_ANGLE)
    lean = radians(tilt)
    # Loaded arm forward and down; z is the rider's right, so `sign` chooses the pedal.
    pedal = (ARM * cos(arm), -ARM * sin(arm), sign * OFFSET)
    # Tilted inwards: towards the middle plane, whichever pedal is loaded.
    push = (0.0, -load * cos(lean), -load * sign * sin(lean))
    nodal = added(driven(pedal, push, *_tie_rod(bicycle, layout))[0])
    return LoadCase(
        name,
        nodal,
        # The ball joint under the link: up-and-down and sideways, as the module's head says.
        supports={"front_axle": AXLE_GRIPPED, "rear_contact": (0, 1, 1, 0, 0, 0)},
        measures=(
            at_the_load(
                nodal, load, "pedal", "pedal axle, along the force, arms and tie rod taken as rigid"
            ),
        ),
        title=title,
        notes=f"{words}; {_LINK_WORDS}",
        held=_LINK_WORDS,
        source=source,
        touching=_LINK,
    )


def _tie_rod(bicycle: Bicycle, layout: FrameLayout) -> tuple[Xyz, Xyz, Xyz]:
    axle = layout.joints["rear_axle"]
    chainline = bicycle.fittings.chainline
    # The rod's arm stands straight up at the chainline; its place is recalled, not read.
    return (0.0, RADIUS, chainline), (axle[0], axle[1], axle[2] + chainline), axle


# --- horizontal and vertical ----------------------------------------------------------------------------------
def iso_horizontal_forward(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """Horizontal force at the front dropouts, forwards."""
    return _horizontal(bicycle, "forward", peak_loads(bicycle)[1], "F2")


def iso_horizontal_rearward(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """Horizontal force at the front dropouts, backwards."""
    return _horizontal(bicycle, "rearward", -peak_loads(bicycle)[2], "F3")


def _horizontal(bicycle: Bicycle, way: str, load: float, symbol: str) -> LoadCase:
    held = (
        "rear dropouts held at the axle, free to turn about it; front dropouts held up-and-down and guided sideways, "
        "free fore and aft"
    )
    return LoadCase(
        f"iso_horizontal_{way}",
        added([force("front_axle", x=load)]),
        supports={"rear_axle": AXLE_GRIPPED, "front_axle": (0, 1, 1, 0, 0, 0)},
        measures=(along("front_axle", 0, "axle", load, f"front axle, {way}"),),
        title=f"ISO horizontal force, {way}",
        touching={
            "rear_axle": "held at the axle, free to turn about it",
            "front_axle": "guide, free fore and aft",
        },
        source=f"ISO 4210-6, 4.4 (clause number FROM MEMORY), set-up as in {_TBIS} (p. 17); {symbol} FROM MEMORY",
        notes=f"{abs(load):.0f} N {way} at the front dropouts ({bicycle.bicycle_type} bicycle); {held}",
        held=held,
    )


def iso_vertical(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """Vertical force on an extension at saddle height."""
    load = peak_loads(bicycle)[3]
    saddle = layout.joints["saddle"]
    # The saddle stands on the seat tube's axis here: so far behind it, at its height.
    point = (saddle[0] - EXTENSION_BACK, saddle[1], 0.0)
    nodal = added([("saddle", moved((0.0, -load, 0.0), point, saddle))])
    # Only the mountain bicycle's vertical force was read.
    if bicycle.bicycle_type == "mountain":
        read = ""
    else:
        read = " FROM MEMORY"
    held = "rear axle pivoted, front axle on a roller and guided sideways"
    return LoadCase(
        "iso_vertical",
        nodal,
        supports={"rear_axle": AXLE_GRIPPED, "front_axle": (0, 1, 1, 0, 0, 0)},
        measures=(
            at_the_load(
                nodal,
                load,
                "extension",
                "end of the extension, downwards, extension taken as rigid",
            ),
        ),
        title="ISO vertical force",
        touching={"rear_axle": "pivot", "front_axle": "roller"},
        source=f"ISO 4210-6, 4.5 (clause number FROM MEMORY), set-up as in TBIS 79010 (p. 37); force{read}",
        notes=f"{load:.0f} N down ({bicycle.bicycle_type} bicycle) at the end of a rearward extension, "
        f"{EXTENSION_BACK:g} mm behind the seat tube's axis at saddle height, on the bicycle's "
        f"seat post where the test has a steel bar 75 mm deep in the seat tube; {held}",
        held=held,
    )


# --- lateral stiffness ----------------------------------------------------------------------------------------
def stiffness_lateral(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """Lateral stiffness: a sideways force along the front axle, the rear axle held upright."""
    load = LATERAL_STIFFNESS_LOAD
    # Between the axles along the road: the turn is the sideways movement over it.
    reach = layout.joints["front_axle"][0] - layout.joints["rear_axle"][0]
    turn = Measure(
        "front_turn",
        (("front_axle", (0.0, 0.0, 1 / reach, 0.0, 0.0, 0.0)),),
        "deg",
        load * reach,
        "front axle about the rear axle, sideways movement over the distance of the axles",
    )
    held = (
        "rear axle held upright, free to turn about itself; fork fastened in the head tube and front axle resting "
        "up-and-down (not stated, without it the frame would drop)"
    )
    return LoadCase(
        "stiffness_lateral",
        added([force("front_axle", z=load)]),
        supports={"rear_axle": AXLE_GRIPPED, "front_axle": (0, 1, 0, 0, 0, 0)},
        springs=(steering_lock(bicycle, layout),),
        measures=(
            along("front_axle", 2, "front_sideways", load, "front axle, along the force"),
            turn,
        ),
        title="Front lateral stiffness test",
        source="TBIS 4210-6:2019, annex E3 (p. 38)",
        touching={
            "rear_axle": "held, free to turn about itself",
            "front_axle": "rest, free sideways",
        },
        notes=f"{load:.0f} N to the right along the front axle; {held}; N·m/degree taken as force x "
        "distance of the axles over the angle that the movement means",
        held=held,
    )
