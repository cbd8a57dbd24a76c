"""The report's part on wobble: roots over speed, the shape at each speed for the animation, and the table to print."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import log
from typing import Any

import numpy as np

from ...converters.showing.table import Column, Kind, Row, Table
from ...model.arrays import Array
from ...model.errors import ModelError
from ...model.frame.bicycle import Bicycle
from ...model.frame.riding import settled_riding
from ...model.mechanics.frame_model import FrameModel
from ...model.stability.hands import Need, SetUp
from ...model.stability.shimmy import ShimmyBicycle
from ...model.stability.shimmy_setup import HANDS_OFF, RELAXED, Hold
from ...model.stability.speed_map import CAUTION, SpeedMap, speed_map
from ...model.stability.wobble_shape import (
    Moving,
    followed,
    moving_frame,
    moving_riders,
    moving_wheels,
)
from ...model.words import signed

SPEEDS = tuple(np.arange(3.0, 16.01, 0.5))
START = 8.0  # m/s, where the slider stands to begin with
KM_H = 3.6  # per m/s
DRAWN = 0.12  # rad of steering that suits the eye, 7 degrees
HOLDS: Mapping[str, Hold] = {"hands off the bar": HANDS_OFF, "hands resting on the bar": RELAXED}
_SHOWN_HZ = (0.3, 12.0)  # of the roots in the picture
_SHOWN_GROWTH = -12.0  # 1/s; what dies faster is not seen on the road


@dataclass(frozen=True)
class Wobble:
    """A bicycle's wobble over `SPEEDS`, with each way to hold the bar.

    need : what the hands must supply; None where it cannot be found.
    """

    bicycle: Bicycle
    maps: Mapping[str, SpeedMap]
    need: Need | None

    @classmethod
    def of(cls, bicycle: Bicycle) -> "Wobble":
        usual = SetUp.of(bicycle)
        values = settled_riding(bicycle.riding)
        maps = {name: speed_map(usual.model(values, hold), SPEEDS) for name, hold in HOLDS.items()}
        try:
            need = usual.need(SPEEDS)
        except ModelError:
            # A bar that cannot move, say: the roots can be shown all the same.
            need = None
        return cls(bicycle, maps, need)

    @cached_property
    def made(self) -> ShimmyBicycle:
        """The model whose joints every shape is in; its joints are the same however the bar is held."""
        return next(iter(self.maps.values())).bicycle

    def words(self, name: str, k: int) -> str:
        """What a rider would see at one speed."""
        seen = self.maps[name]
        v = seen.speeds[k]
        said = f"{v:g} m/s ({KM_H * v:.0f} km/h), {name}: "
        root = seen.wobble[k]
        if np.isnan(root):
            return f"{said}no wobble; every disturbance dies without swinging."
        said += f"{seen.frequency_hz[k]:.1f} Hz, damping ratio {signed(seen.damping_ratio[k], 3)}; "
        if root.real > 0:
            said += f"it grows, to twice its size in {log(2) / root.real:.1f} s."
        else:
            said += f"it dies, to half its size in {log(2) / max(-root.real, 1e-9):.1f} s."
        if self.need is not None:
            said += f" The hands must supply {signed(self.need.damping[k], 2)} N·m·s/rad here."
        return said


def wobble_scene(wobble: Wobble, model: FrameModel) -> dict[str, Any]:
    """What the page draws: roots, shapes as amounts of joints, and how each place moves with each joint.

    by : joint -> x, y, z of every node of the static model in turn, mm for 1 rad or 1 m. A shape is, per joint, its
    real and its imaginary part, for 1 rad of steering. times : rad of steering to draw to begin with.
    """
    made = wobble.made
    bicycle = wobble.bicycle
    lines = [_line("wheel", moving) for moving in moving_wheels(bicycle, made)]
    for rider in moving_riders(bicycle, made):
        lines += [_line("rider", stroke) for stroke in (rider.trunk, rider.shoulders, rider.head)]
        lines += [_line("arm", arm) for arm in rider.arms]
    return {
        "speeds": list(SPEEDS),
        "start": SPEEDS.index(START),
        "times": DRAWN,
        "by": _flat(moving_frame(bicycle, model, made).by),
        "lines": lines,
        "holds": [_hold(wobble, name) for name in wobble.maps],
        "caution": CAUTION,
    }


def _hold(wobble: Wobble, name: str) -> dict[str, Any]:
    seen = wobble.maps[name]
    shapes: list[list[Any] | None] = []
    for shape in followed(seen):
        if shape is None:
            shapes.append(None)
        else:
            shapes.append(_rounded(np.column_stack([shape.real, shape.imag]), 5))
    # the page's slider takes one of each at every speed
    words = [wobble.words(name, k) for k in range(len(SPEEDS))]
    return {
        "name": name,
        "arms": HOLDS[name].arms,
        "followed": list(map(_pair, seen.wobble)),
        "roots": list(map(_near, seen.eigenvalues)),
        "shapes": shapes,
        "words": words,
    }


def _pair(root: complex) -> list[float] | None:
    """Growth 1/s and Hz; None where there is no such oscillation."""
    if np.isnan(root):
        return None
    return [round(float(root.real), 4), round(float(abs(root.imag)) / (2 * np.pi), 4)]


def _near(values: Sequence[complex]) -> list[list[float]]:
    """The swinging roots that a picture of the wobble has room for."""
    low, high = _SHOWN_HZ
    pairs = [_pair(value) for value in values if value.imag > 0]
    return [p for p in pairs if p is not None and low < p[1] < high and p[0] > _SHOWN_GROWTH]


def _line(kind: str, moving: Moving) -> dict[str, Any]:
    return {"kind": kind, "places": _rounded(moving.places, 1), "by": _flat(moving.by)}


def _flat(by: Array) -> list[list[float]]:
    return [_rounded(places.ravel(), 1) for places in by]


def _rounded(values: Array, digits: int) -> list[Any]:
    return (np.round(values, digits) + 0.0).tolist()  # type: ignore[no-any-return]


_COLUMNS = (
    Column("speed", "speed", Kind.NUMBER, "m/s", digits=1),
    Column("km_h", "speed", Kind.NUMBER, "km/h", digits=0),
    Column("need", "hands must supply", Kind.NUMBER, "N·m·s/rad", digits=2, signed=True),
    Column("hz", "wobble, hands off", Kind.NUMBER, "Hz", digits=2),
    Column("off", "damping ratio, hands off", Kind.NUMBER, digits=3, signed=True),
    Column("on", "damping ratio, hands on", Kind.NUMBER, digits=3, signed=True),
)


def wobble_table(wobble: Wobble) -> Table:
    """Every 2 m/s, for those who print."""
    off, on = wobble.maps.values()
    rows: list[Row] = []
    for k in range(2, len(SPEEDS), 4):
        need = None
        if wobble.need is not None:
            need = float(wobble.need.damping[k])
        rows.append(
            (
                SPEEDS[k],
                KM_H * SPEEDS[k],
                need,
                _known(off.frequency_hz[k]),
                _known(off.damping_ratio[k]),
                _known(on.damping_ratio[k]),
            )
        )
    notes = (
        "Hands below zero: that much to spare; a damping ratio below zero: it grows. Published of racing bicycles: "
        "6 to 9 Hz hands off, 6 to 12 Hz hands on. Taken for granted: a rider who sits firmly, whose trunk leans at "
        "the hip and twists on its spine. Draws of what nobody stated, what moves it and which tube helps: droptrail "
        f"shimmy. {CAUTION}"
    )
    return Table("wobble", "Wobble over speed", _COLUMNS, rows, notes)


def _known(value: float) -> float | None:
    if np.isnan(value):
        return None
    return float(value)
