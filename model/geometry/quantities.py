"""One row per quantity of the side view: its unit, its name in words, and the ranges it is held against.

Everything the program says about a head angle or a trail, apart from its formula (`dimensions`) and the names a
sheet may call it by (`converters.files.fitsheet.names`), stands in its row here and nowhere else.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import isfinite
from typing import Literal

Unit = Literal["mm", "deg"]
Range = tuple[float, float]

UNIT_WORDS = {"mm": "mm", "deg": "degrees"}


@dataclass(frozen=True)
class Quantity:
    """What is known about one quantity, whatever the frame.

    name : key in JSON, field of `FrameDimensions` or key of its `derived()`.
    unit : ``mm`` or ``deg``; it alone says whether the quantity is an angle.
    label : its one name in every message, table, page and drawing.
    believable : beyond it the number is a slip of unit or sign: an error. Wide on purpose, from a child's 12-inch
        bicycle to a long-john.
    usual : outside it a frame is possible but rare: a warning. Common practice, no source.
    typical : where the search for an unstated field starts, an ordinary 700C tourer; None for derived numbers.
    """

    name: str
    unit: Unit
    label: str
    believable: Range
    usual: Range
    typical: float | None = None

    @property
    def is_angle(self) -> bool:
        return self.unit == "deg"

    @property
    def unit_words(self) -> str:
        """The unit in a sentence."""
        return UNIT_WORDS[self.unit]

    def believes(self, value: float) -> bool:
        """Whether physical sense allows the value; never for NaN or infinity."""
        low, high = self.believable
        return isfinite(value) and low <= value <= high

    def is_usual(self, value: float) -> bool:
        """Whether the value lies where frames of the trade lie."""
        low, high = self.usual
        return low <= value <= high

    def expected(self) -> str:
        """The believable range in words: ``expected 50 to 85 degrees``."""
        low, high = self.believable
        return f"expected {low:g} to {high:g} {self.unit_words}"


def _fields() -> Iterator[Quantity]:
    """The fields of `FrameDimensions`, in its order."""
    length = _lengths
    angle = _angles
    yield length("reach", "reach", (150, 700), (250, 560), 385.0)
    yield angle("head_angle", "head angle", (50, 85), (62, 80), 72.0)
    yield angle("seat_angle", "seat angle", (50, 88), (62, 82), 73.0)
    yield length("bb_drop", "bottom bracket drop", (-120, 150), (-35, 105), 70.0)
    yield length("chainstay", "chainstay length", (250, 700), (330, 520), 440.0)
    yield length("head_tube", "head tube length", (50, 400), (60, 300), 150.0)
    yield length("lower_stack", "lower headset stack", (0, 80), (0, 45), 12.0)
    yield length("fork_length", "fork length along the axis", (200, 650), (215, 600), 390.0)
    yield length("fork_offset", "fork offset", (-30, 150), (18, 100), 48.0)
    yield length("wheel_radius_front", "front wheel radius", (120, 420), (170, 395), 343.0)
    yield length("wheel_radius_rear", "rear wheel radius", (120, 420), (170, 395), 343.0)
    yield length("seat_tube", "seat tube length", (150, 800), (250, 680), 540.0)
    yield length("top_tube_on_seat_tube", "top tube on seat tube", (120, 800), (180, 660), 510.0)
    yield length(
        "top_tube_below_head_top", "top tube below head tube top", (0, 300), (4, 120), 35.0
    )
    yield length(
        "down_tube_above_head_bottom",
        "down tube above head tube bottom",
        (0, 300),
        (4, 140),
        40.0,
    )
    yield length(
        "seatstay_below_top_tube", "seatstay below top tube", (-450, 400), (-350, 130), 15.0
    )


def _derived() -> Iterator[Quantity]:
    """Derived numbers that may be stated instead of a field, the most direct measure of one first."""
    length = _lengths
    angle = _angles
    yield length("stack", "stack", (250, 900), (400, 720))
    yield length("bb_height", "bottom bracket height", (100, 450), (190, 380))
    yield length("trail", "trail", (-60, 300), (12, 135))
    yield length("axle_to_crown_straight", "axle to crown", (200, 660), (218, 605))
    yield length("effective_top_tube", "effective top tube", (300, 900), (400, 700))
    yield length("wheelbase", "wheelbase", (500, 2500), (800, 1350))
    yield length("front_center_horizontal", "horizontal front centre", (250, 2000), (470, 900))
    yield length("front_center", "front centre", (250, 2000), (470, 900))
    yield length("seat_tube_extension", "seat tube top above top tube", (-20, 480), (0, 380))
    yield angle("top_tube_slope_deg", "top tube slope", (-30, 50), (-12, 35))
    yield length("standover", "standover at the middle of the top tube", (250, 1100), (400, 920))
    yield length("top_tube_cc", "top tube centre to centre", (200, 900), (380, 700))
    yield length("chainstay_horizontal", "horizontal chainstay", (200, 700), (320, 515))
    yield length("mechanical_trail", "mechanical trail", (-60, 300), (11, 130))
    yield length("wheel_flop", "wheel flop", (-30, 120), (0, 60))
    yield length("down_tube_cc", "down tube centre to centre", (250, 1000), (400, 850))
    yield length("seatstay_cc", "seatstay centre to centre", (150, 900), (260, 700))


def _lengths(
    name: str,
    label: str,
    believable: Range,
    usual: Range,
    typical: float | None = None,
) -> Quantity:
    return Quantity(name, "mm", label, believable, usual, typical)


def _angles(
    name: str, label: str, believable: Range, usual: Range, typical: float | None = None
) -> Quantity:
    # 0.1 degree of head angle moves the trail by 0.7 mm: tenths would hide what a builder looks for
    return Quantity(name, "deg", label, believable, usual, typical)


# Every quantity a sheet may state, in the order in which statements are trusted to define a frame.
STATED = {row.name: row for row in (*_fields(), *_derived())}

# Shown, never stated: where the ground is follows from the rear wheel.
_GROUND = _lengths(
    "ground_y", "ground, from the bottom bracket centre upwards", (-450, -100), (-380, -190)
)

QUANTITIES = STATED | {_GROUND.name: _GROUND}
