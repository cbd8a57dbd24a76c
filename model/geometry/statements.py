"""What can be stated about a side view: the names, their order of trust and their values in a frame.

A STATEMENT is one stated number, such as ``stack`` 580. The names are those of the JSON contract: the
fields of `FrameDimensions` and the derived numbers it gives; what else is known of each stands in `quantities`.
"""

from dataclasses import fields

from ..words import spoken
from .dimensions import FrameDimensions
from .quantities import QUANTITIES, STATED

# What takes no part in comparing two frames is no statement about one.
FIELDS = tuple(f.name for f in fields(FrameDimensions) if f.compare)
CORE = tuple(f.name for f in fields(FrameDimensions) if f.compare and f.default is not None)

# Statements that define a frame, best first: the fields, then what measures one of them most directly.
PREFERENCE = tuple(STATED)


def label(item: str) -> str:
    """The item's one name in every output: ``bb_drop`` is the bottom bracket drop; other names as `spoken`."""
    row = QUANTITIES.get(item)
    if row is None:
        return spoken(item)
    return row.label


def unit(item: str) -> str:
    """``deg`` for angles, ``mm`` for lengths."""
    return QUANTITIES[item].unit


def by_unit(item: str, mm: float, deg: float) -> float:
    """The one of two numbers, such as tolerances, that goes with the item's unit."""
    if QUANTITIES[item].is_angle:
        return deg
    return mm


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
