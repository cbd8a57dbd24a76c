"""The ranges of a sweep as typed: ``fork_offset=40:60``, and the bicycles of its grid."""

from collections.abc import Callable

import numpy as np

from ....model.choice.sweep import SweptItem
from ....model.errors import InputError
from ....model.frame.bicycle import Bicycle
from ..fitsheet.items import SheetItem
from ..fitsheet.knobs import Setting, item_named, present_value, setting_value, turned
from .item_options import Stays

# rims and tyres come in sizes, which make no even range
GROUPS = ("geometry", "fittings", "loads")


def swept_item(bicycle: Bicycle, text: str, steps: int, option: str) -> tuple[SheetItem, SweptItem]:
    """The item of ``NAME=FROM:TO`` and its values in equal steps. Raises InputError with what is expected."""
    name, _, spread = text.partition("=")
    low, colon, high = spread.partition(":")
    item = item_named(name)
    if item is None or item.group not in GROUPS or not colon:
        raise InputError(
            f"{option} {text}: give an item of the sheet and its range, such as fork_offset=40:60 or head_angle=70:74"
        )
    ends = [setting_value(item, end, f"{option} {text}") for end in (low, high)]
    numbers = [float(end) for end in ends]
    # equal ends would give a picture of no width
    if numbers[0] >= numbers[1]:
        raise InputError(f"{option} {text}: the first value must be the smaller one")
    values = tuple(float(v) for v in np.linspace(numbers[0], numbers[1], steps))
    # the present value goes along, to be marked in the picture
    return item, SweptItem(item.key, item.label, item.unit, values, present_value(bicycle, item))


def maker(
    bicycle: Bicycle, across: SheetItem, up: SheetItem, stays: Stays
) -> Callable[[float, float], Bicycle]:
    """(value across, value up) -> the bicycle with both set; what is to stay stays."""

    def make(x: float, y: float) -> Bicycle:
        # both at once: one after the other, what follows the second could undo the first
        settings = [Setting(across, x), Setting(up, y)]
        return turned(bicycle, settings, stays.keep, stays.follow).bicycle

    return make
