"""One light steel tourer, built by hand, for tests of the mechanics (the first sample's dimensions and tubes)."""

from dataclasses import replace
from typing import Any

from droptrail.model.frame.bicycle import Bicycle, Fittings, Loads
from droptrail.model.geometry.dimensions import FrameDimensions
from droptrail.model.tubes.materials import find_material
from droptrail.model.tubes.tube import Tube

STEEL = find_material("4130")


def tourer_dimensions() -> FrameDimensions:
    return FrameDimensions(
        reach=379.0,
        head_angle=71.8,
        seat_angle=72.6,
        bb_drop=76.0,
        chainstay=452.0,
        head_tube=158.0,
        lower_stack=13.0,
        fork_length=389.0,
        fork_offset=50.0,
        wheel_radius_front=348.0,
        wheel_radius_rear=348.0,
        seat_tube=550.0,
        top_tube_on_seat_tube=522.0,
        top_tube_below_head_top=34.0,
        down_tube_above_head_bottom=36.0,
        seatstay_below_top_tube=16.0,
    )


def tourer_tubes() -> dict[str, Tube]:
    return {
        "head_tube": Tube(STEEL, 36.0, 36.0, (1.1,)),
        "top_tube": Tube(STEEL, 28.6, 28.6, (0.8, 0.5, 0.8), (75.0, 75.0), (30.0, 30.0)),
        "down_tube": Tube(STEEL, 31.8, 31.8, (0.9, 0.6, 0.9), (100.0, 75.0), (30.0, 30.0)),
        "seat_tube": Tube(STEEL, 28.6, 28.6, (0.9, 0.6), (130.0,), (30.0,)),
        "chainstay": Tube(STEEL, 22.2, 14.0, (0.8,)),
        "seatstay": Tube(STEEL, 16.0, 12.5, (0.8,)),
        "fork_blade": Tube(STEEL, 24.0, 13.0, (1.0,)),
        "steerer": Tube(STEEL, 25.4, 25.4, (1.6,)),
    }


def tourer(loads: Loads | None = None, fittings: Fittings | None = None, **tubes: Any) -> Bicycle:
    """The tourer; keyword arguments replace tubes by name."""
    return Bicycle(
        tourer_dimensions(),
        tourer_tubes() | tubes,
        fittings or Fittings(),
        loads or Loads(),
        "tourer",
    )


def grown(bicycle: Bicycle, name: str, diameter: float = 0.0, wall: float = 0.0) -> Bicycle:
    """The same bicycle with one tube's diameter and walls grown by so many mm."""
    return replace(
        bicycle, tubes=dict(bicycle.tubes) | {name: bicycle.tubes[name].scaled(diameter, wall)}
    )
