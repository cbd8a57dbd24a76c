"""Why the wobble of a racing bicycle lies where it does: every assumption moved, one at a time and all together.

Published studies of wobble print hardly any inputs, so that their figures can be held against ours only as bands. This
finds which assumption would move ours out of the band, and how studies that hold the rider otherwise come to theirs.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from ..model.arrays import Array
from ..model.frame.bicycle import Bicycle
from ..model.frame.riding import RIDING, settled_riding, unstated
from ..model.stability.flexibility import Flexibility
from ..model.stability.hands import SetUp, draws
from ..model.stability.shimmy import ShimmyBicycle
from ..model.stability.shimmy_flex import head_flex
from ..model.stability.shimmy_setup import HANDS_OFF, RELAXED
from ..model.stability.speed_map import wobble_root
from ..model.words import signed
from .audit_wobble import only

SPEEDS = (4.0, 8.0, 12.0, 16.0, 20.0)
PUBLISHED_HZ = (6.0, 9.0)  # hands off, a racing bicycle from 0 to 20 m/s; `wobble_tables.STUDIES`
DRAWS = 200
HEADS = ("changed", "Hz at 4 m/s", "Hz at 20 m/s", "spread, %", "least damping ratio", "at m/s")


@dataclass(frozen=True)
class Shifted:
    """The wobble of a bicycle over `SPEEDS`; roots (k,) 1/s, NaN where there is none."""

    what: str
    roots: Array

    @classmethod
    def of(cls, what: str, bicycle: ShimmyBicycle) -> "Shifted":
        return cls(what, np.array([wobble_root(bicycle, v) for v in SPEEDS]))

    @property
    def hz(self) -> Array:
        return np.asarray(self.roots.imag / (2 * np.pi))

    @property
    def damping(self) -> Array:
        return np.asarray(-self.roots.real / np.abs(self.roots))

    @property
    def spread(self) -> float:
        """Largest less smallest frequency, over their mean."""
        return float(np.ptp(self.hz) / np.mean(self.hz))

    @property
    def row(self) -> tuple[str, ...]:
        k = int(np.argmin(self.damping))
        return (
            self.what,
            f"{self.hz[0]:.1f}",
            f"{self.hz[-1]:.1f}",
            f"{100 * self.spread:.0f}",
            signed(float(self.damping[k]), 3),
            f"{SPEEDS[k]:g}",
        )


def held_as_published(made: ShimmyBicycle, bicycle: Bicycle) -> ShimmyBicycle:
    """The rider's seat and feet one with the rear frame and wheel, his shoulders square to them; it gives at the head.

    So do the published models of the racing bicycle (Plöchl et al. 2012, from memory). The beam model's own give at the
    head, seen from the clamped rear axle.
    """
    return replace(square(made), head=head_flex(bicycle))


def square(made: ShimmyBicycle) -> ShimmyBicycle:
    """With shoulders that keep square to the saddle, so that frame and post twist against the whole trunk."""
    assert made.rider is not None
    return replace(made, rider=replace(made.rider, twist=None))


def moved(bicycle: Bicycle) -> Iterator[Shifted]:
    """One assumption at a time, hands off where nothing is said."""
    usual = SetUp.of(bicycle)
    values = settled_riding(bicycle.riding)
    made = usual.model(values, HANDS_OFF)
    yield Shifted.of("as it stands, hands off", made)
    yield Shifted.of("hands resting on the bar", usual.model(values, RELAXED))
    yield Shifted.of("shoulders square to the saddle", square(made))
    at_head = replace(square(made), head=only(usual.head, "head"))
    yield Shifted.of("the same, and the frame gives at the head alone", at_head)
    yield Shifted.of("held as the published models hold it", held_as_published(made, bicycle))
    light = usual.model({**values, "hands_share": RIDING["hands_share"].low}, RELAXED)
    yield Shifted.of("held so, light hands on the bar", held_as_published(light, bicycle))
    for what, change in _changes(made, usual):
        yield Shifted.of(what, change)
    for assumed in unstated(bicycle.riding, (0.0, 0.0)):
        value = RIDING[assumed.key]
        hold = HANDS_OFF
        said = ""
        if value.key.startswith("arms"):
            hold = RELAXED
            said = ", hands on"
        for end in (value.low, value.high):
            one = usual.model({**values, value.key: end}, hold)
            yield Shifted.of(f"{value.words} {end:g} {value.unit}".rstrip() + said, one)


def _changes(made: ShimmyBicycle, usual: SetUp) -> Iterator[tuple[str, ShimmyBicycle]]:
    rigid = made.rigid
    head = usual.head
    assert isinstance(head, Flexibility)
    for words, factor in (("half", 0.5), ("twice", 2.0)):
        yield f"frame {words} as stiff", replace(made, head=head.scaled(factor))
    yield "fork rigid", replace(made, fork=None)
    yield "wheels that do not tilt", replace(made, wheel_tilt=(None, None))
    wheel = rigid.front_wheel
    for factor in (0.6, 1.5):
        lighter = replace(
            wheel, mass=factor * wheel.mass, Ixx=factor * wheel.Ixx, Iyy=factor * wheel.Iyy
        )
        yield (
            f"front wheel {factor:g} times as heavy",
            replace(made, rigid=replace(rigid, front_wheel=lighter)),
        )
    still = replace(wheel, Iyy=1e-9)
    yield (
        "front wheel without spin, its mass kept",
        replace(made, rigid=replace(rigid, front_wheel=still)),
    )
    front = rigid.front_assembly
    turned = replace(front, Izz=front.Izz + 0.04)
    yield (
        "0.04 kg·m² more about the bar",
        replace(made, rigid=replace(rigid, front_assembly=turned)),
    )
    for millimetres in (-10, 10):
        longer = replace(rigid, trail=rigid.trail + millimetres / 1000)
        yield f"trail {millimetres:+d} mm", replace(made, rigid=longer)


@dataclass(frozen=True)
class Drawn:
    """Frequencies over draws of everything that nobody stated, (draws, speeds) Hz, and the share that grows."""

    what: str
    hz: Array
    grows: float

    @property
    def row(self) -> tuple[str, ...]:
        low, middle, high = np.nanquantile(self.hz, (0.05, 0.5, 0.95))
        inside = np.mean((self.hz >= PUBLISHED_HZ[0]) & (self.hz <= PUBLISHED_HZ[1]))
        spread = np.ptp(self.hz, axis=1) / np.mean(self.hz, axis=1)
        return (
            self.what,
            f"{low:.1f}",
            f"{middle:.1f}",
            f"{high:.1f}",
            f"{100 * inside:.0f}",
            f"{100 * float(np.nanmedian(spread)):.0f}",
            f"{100 * self.grows:.0f}",
        )


DRAWN_HEADS = (
    "hands off, over the draws and speeds",
    "5 % lie below, Hz",
    "middle",
    "5 % lie above",
    f"in {PUBLISHED_HZ[0]:g} to {PUBLISHED_HZ[1]:g} Hz, %",
    "spread over speed, middle, %",
    "grows at some speed, % of the draws",
)


def drawn(bicycle: Bicycle, count: int = DRAWS) -> Iterator[Drawn]:
    """All unstated values at once, for each way to hold the rider."""
    usual = SetUp.of(bicycle)
    sets = draws(bicycle.riding, count)
    ways: Mapping[str, Callable[[ShimmyBicycle], ShimmyBicycle]] = {
        "spine that twists": lambda made: made,
        "shoulders square to the saddle": square,
        "held as the published models hold it": lambda made: held_as_published(made, bicycle),
    }
    for what, change in ways.items():
        made = [Shifted.of(what, change(usual.model(values, HANDS_OFF))) for values in sets]
        hz = np.array([one.hz for one in made])
        grows = [bool(np.nanmin(one.damping) < 0) for one in made]
        yield Drawn(what, hz, float(np.mean(grows)))
