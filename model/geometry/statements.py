"""What can be stated about a side view: the names, their words, units, believable ranges and order of trust.

A STATEMENT is one stated number, such as ``stack`` 580. The names are those of the JSON contract: the
fields of `FrameDimensions` and the derived numbers it gives.
"""

from dataclasses import fields

from ..words import spoken
from .dimensions import LIMITS, FrameDimensions

FIELDS = tuple(f.name for f in fields(FrameDimensions))
CORE = tuple(f.name for f in fields(FrameDimensions) if f.default is not None)

# Statements that define a frame, best first: the fields, then what measures one of them most directly.
PREFERENCE = (
    *FIELDS,
    "stack",
    "bb_height",
    "trail",
    "axle_to_crown_straight",
    "effective_top_tube",
    "wheelbase",
    "front_center_horizontal",
    "front_center",
    "seat_tube_extension",
    "top_tube_slope_deg",
    "standover",
    "top_tube_cc",
    "chainstay_horizontal",
    "mechanical_trail",
    "wheel_flop",
    "down_tube_cc",
    "seatstay_cc",
)
ANGLES = frozenset({"head_angle", "seat_angle", "top_tube_slope_deg"})
LABELS = {
    "bb_drop": "bottom bracket drop",
    "bb_height": "bottom bracket height",
    "lower_stack": "lower headset stack",
    "chainstay": "chainstay length",
    "head_tube": "head tube length",
    "seat_tube": "seat tube length",
    "fork_length": "fork length along the axis",
    "axle_to_crown_straight": "fork length straight axle to crown",
    "wheel_radius_front": "front wheel radius",
    "wheel_radius_rear": "rear wheel radius",
    "front_center": "front centre",
    "front_center_horizontal": "horizontal front centre",
    "chainstay_horizontal": "horizontal chainstay",
    "top_tube_slope_deg": "top tube slope",
    "top_tube_below_head_top": "top tube below head tube top",
    "down_tube_above_head_bottom": "down tube above head tube bottom",
    "seat_tube_extension": "seat tube top above top tube",
    "top_tube_cc": "top tube centre to centre",
    "down_tube_cc": "down tube centre to centre",
    "seatstay_cc": "seatstay centre to centre",
}

# Believable range of every statement, wide on purpose, like the fields' own LIMITS.
STATEMENT_LIMITS = LIMITS | {
    "stack": (250.0, 900.0),
    "bb_height": (100.0, 450.0),
    "trail": (-60.0, 300.0),
    "axle_to_crown_straight": (200.0, 660.0),
    "effective_top_tube": (300.0, 900.0),
    "wheelbase": (500.0, 2500.0),
    "front_center_horizontal": (250.0, 2000.0),
    "front_center": (250.0, 2000.0),
    "seat_tube_extension": (-20.0, 300.0),
    "top_tube_slope_deg": (-30.0, 50.0),
    "standover": (250.0, 1100.0),
    "top_tube_cc": (200.0, 900.0),
    "chainstay_horizontal": (200.0, 700.0),
    "mechanical_trail": (-60.0, 300.0),
    "wheel_flop": (-30.0, 120.0),
    "down_tube_cc": (250.0, 1000.0),
    "seatstay_cc": (150.0, 900.0),
}


def label(item: str) -> str:
    """The item's name in workshop words: ``bb_drop`` is the bottom bracket drop."""
    return LABELS.get(item, spoken(item))


def unit(item: str) -> str:
    """``deg`` for angles, ``mm`` for everything else."""
    if item in ANGLES:
        return "deg"
    return "mm"


def quantities(dimensions: FrameDimensions) -> dict[str, float | None]:
    """Everything that can be stated about the frame, in `PREFERENCE` order; None where it is not held."""
    values = {**dimensions.derived(), **{name: getattr(dimensions, name) for name in FIELDS}}
    top = dimensions.seat_tube
    joint = dimensions.top_tube_on_seat_tube
    if top is None or joint is None:
        values["seat_tube_extension"] = None
    else:
        values["seat_tube_extension"] = top - joint
    return {name: values[name] for name in PREFERENCE}
