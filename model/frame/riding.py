"""What tyres and the rider's body do while riding: a usual value, a range and a source for each.

No sheet needs to state one; what nobody stated is taken at its usual value and, where a figure is given as a band,
anywhere in its range. What was stated has no range.

"From memory": recalled, not read again. De Lorenzo's lean values are estimates of his own, read in a doctoral thesis on
bicycle and rider (moorepants/dissertation, extensions.rst, leaning rider). Tyres: a Swedish road institute's report
(trid.trb.org/View/1573760, read) and what it says of earlier work.
Shares of body mass: D. A. Winter, Biomechanics and Motor Control of Human Movement, from memory.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite
from types import MappingProxyType
from typing import Literal

from ..assumption import COMMON_PRACTICE, Assumed, Subject
from ..errors import ModelError

Kind = Literal["length", "share", "number", "turn stiffness", "turn damping"]
UNIT_OF: Mapping[Kind, str] = {
    "length": "mm",
    "share": "",
    "number": "",
    "turn stiffness": "N·m/rad",
    "turn damping": "N·m·s/rad",
}
_MEMORY = "from memory"
_RACK = f"{COMMON_PRACTICE}; 1 mm is a sway of 16 Hz, 6 mm one of 6.4 Hz, 15 mm one of 4 Hz"
_WINTER = "body segments after Winter, from memory"
_TWIST = "a motion of its own after De Lorenzo, read; value from memory: the body alone twists at 0.3 to 1.3 Hz"


@dataclass(frozen=True)
class RidingValue:
    """One value: what it is called, its usual value and range in the unit of its kind, and where they come from."""

    key: str
    subject: Subject
    words: str
    kind: Kind
    usual: float
    low: float
    high: float
    source: str

    @property
    def unit(self) -> str:
        return UNIT_OF[self.kind]

    @property
    def assumed(self) -> Assumed:
        """As it is listed where nobody stated it."""
        source = f"range {self.low:g} to {self.high:g}; {self.source}"
        return Assumed(self.subject, self.key, self.words, self.usual, self.unit, source)


RIDING: Mapping[str, RidingValue] = {
    value.key: value
    for value in (
        RidingValue(
            "tyre_cornering",
            "wheels",
            "tyre side force per degree of slip, over its load",
            "number",
            0.20,
            0.12,
            0.35,
            "a road institute's report: 0.3, earlier work two thirds of it",
        ),
        RidingValue(
            "tyre_camber",
            "wheels",
            "tyre side force per degree of lean, over its load",
            "number",
            0.010,
            0.006,
            0.015,
            "a road institute's report: 0.01",
        ),
        RidingValue(
            "tyre_relaxation",
            "wheels",
            "tyre relaxation length",
            "length",
            100.0,
            60.0,
            250.0,
            "a road institute's report: 200 to 300 mm, earlier work 100 mm",
        ),
        RidingValue(
            "tyre_pneumatic_trail",
            "wheels",
            "tyre pneumatic trail",
            "length",
            10.0,
            0.0,
            20.0,
            _MEMORY,
        ),
        RidingValue(
            "tyre_loss",
            "wheels",
            "loss factor of the tyre's carcass sideways",
            "number",
            0.10,
            0.03,
            0.20,
            f"rubber near 7 Hz, {_MEMORY}",
        ),
        RidingValue(
            "frame_damping",
            "build",
            "damping ratio of frame and fork",
            "number",
            0.01,
            0.003,
            0.02,
            _MEMORY,
        ),
        RidingValue(
            "frame_as_built",
            "build",
            "stiffness of frame and fork as built, over the one worked out",
            "number",
            1.0,
            0.85,
            1.05,
            COMMON_PRACTICE,
        ),
        RidingValue(
            "rider_above_saddle",
            "rider",
            "rider's centre of mass above the saddle clamp",
            "length",
            100.0,
            50.0,
            180.0,
            COMMON_PRACTICE,
        ),
        RidingValue(
            "leaning_share",
            "rider",
            "share of the rider that leans at the hip (head, arms, trunk)",
            "share",
            0.66,
            0.60,
            0.70,
            _WINTER,
        ),
        RidingValue(
            "feet_share",
            "rider",
            "share of the rider that rides on the pedals (shanks and feet)",
            "share",
            0.12,
            0.08,
            0.16,
            _WINTER,
        ),
        RidingValue(
            "leaning_above_saddle",
            "rider",
            "centre of the leaning body above the saddle clamp",
            "length",
            250.0,
            180.0,
            350.0,
            _WINTER,
        ),
        RidingValue(
            "hip_stiffness",
            "rider",
            "stiffness of the hip against leaning",
            "turn stiffness",
            500.0,
            128.0,
            1500.0,
            "De Lorenzo's estimate 128, read; a stiff hip from memory",
        ),
        RidingValue(
            "hip_damping",
            "rider",
            "damping of the hip against leaning",
            "turn damping",
            50.0,
            20.0,
            100.0,
            "De Lorenzo's estimate 50, read",
        ),
        RidingValue(
            "twist_stiffness",
            "rider",
            "stiffness of the spine against twisting",
            "turn stiffness",
            60.0,
            15.0,
            250.0,
            _TWIST,
        ),
        RidingValue(
            "twist_damping",
            "rider",
            "damping of the spine against twisting",
            "turn damping",
            3.0,
            1.0,
            10.0,
            _TWIST,
        ),
        RidingValue(
            "hands_share",
            "rider",
            "share of the rider that swings with the bar (hands, half the forearms)",
            "share",
            0.028,
            0.010,
            0.045,
            _WINTER,
        ),
        RidingValue(
            "arms_stiffness",
            "rider",
            "stiffness of the arms between bar and shoulders",
            "turn stiffness",
            15.0,
            0.0,
            60.0,
            COMMON_PRACTICE,
        ),
        RidingValue(
            "arms_damping",
            "rider",
            "damping of the arms between bar and shoulders",
            "turn damping",
            1.5,
            0.5,
            4.0,
            COMMON_PRACTICE,
        ),
        RidingValue(
            "bags_aside",
            "loads",
            "bags' middle from the wheel's plane",
            "length",
            160.0,
            0.0,
            200.0,
            f"{COMMON_PRACTICE}; 0: one bag or basket above the wheel",
        ),
        RidingValue(
            "front_rack_give",
            "loads",
            "sideways give of the front rack under the weight of its bags",
            "length",
            6.0,
            1.0,
            25.0,
            _RACK,
        ),
        RidingValue(
            "rear_rack_give",
            "loads",
            "sideways give of the rear rack under the weight of its bags",
            "length",
            6.0,
            1.0,
            25.0,
            _RACK,
        ),
        RidingValue(
            "rack_damping",
            "loads",
            "damping ratio of bags that sway on their racks",
            "number",
            0.05,
            0.02,
            0.12,
            _MEMORY,
        ),
    )
}


def usual() -> dict[str, float]:
    """Every value at its usual one."""
    return {key: value.usual for key, value in RIDING.items()}


def settled_riding(stated: Mapping[str, float]) -> dict[str, float]:
    """Every value: the stated ones, and the usual ones of the rest."""
    # the stated ones last: they stand in place of the usual
    return {**usual(), **stated}


def checked(stated: Mapping[str, float]) -> Mapping[str, float]:
    """The stated values, frozen. Raises ModelError for an unknown key and a number below zero or without bound."""
    for key, value in stated.items():
        if key not in RIDING:
            raise ModelError(f"'{key}' is no value of riding; known: {', '.join(RIDING)}")
        # no upper limit: what is measured may lie outside the stated range
        if not (isfinite(value) and value >= 0):
            words = RIDING[key].words
            raise ModelError(f"{words} is {value}, it must be a number of zero or more")
    return MappingProxyType(dict(stated))


def unstated(stated: Mapping[str, float], bags: tuple[float, float]) -> tuple[Assumed, ...]:
    """The assumptions: every value that nobody stated and that plays a part.

    bags : kg in front and behind; where nothing is carried racks and bags play none.
    """
    idle = set()
    if not bags[0]:
        idle.add("front_rack_give")
    if not bags[1]:
        idle.add("rear_rack_give")
    if not any(bags):
        idle |= {"bags_aside", "rack_damping"}
    asked = (value for key, value in RIDING.items() if key not in idle)
    return tuple(value.assumed for value in asked if value.key not in stated)
