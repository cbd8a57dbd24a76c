"""Invented bicycles for tests of drawings and mitres: one fixed, and as many random ones as wanted."""

from dataclasses import replace

import numpy as np

from model.bicycle import Bicycle, Fittings
from model.dimensions import FrameDimensions
from model.errors import ModelError
from model.materials import find_material
from model.tubes import Tube

STEEL = find_material("4130")
TUBES = {
    "head_tube": Tube(STEEL, 36, 36, (1.1,)),
    "top_tube": Tube(STEEL, 28.6, 28.6, (0.8, 0.5, 0.8), (75, 75)),
    "down_tube": Tube(STEEL, 31.8, 31.8, (0.9, 0.6, 0.9), (100, 75)),
    "seat_tube": Tube(STEEL, 28.6, 28.6, (0.9, 0.6), (130,)),
    "chainstay": Tube(STEEL, 22.2, 14, (0.8,)),
    "seatstay": Tube(STEEL, 16, 12.5, (0.8,)),
    "fork_blade": Tube(STEEL, 24, 13, (1.0,)),
    "steerer": Tube(STEEL, 25.4, 25.4, (1.6,)),
}
DIMENSIONS = FrameDimensions(
    reach=383.7, head_angle=72.3, seat_angle=73.1, bb_drop=71.9, chainstay=438.6, head_tube=141.3, lower_stack=12.4,
    fork_length=384.2, fork_offset=46.7, wheel_radius_front=341.3, wheel_radius_rear=341.3, seat_tube=541.2,
    top_tube_on_seat_tube=511.7, top_tube_below_head_top=34.4, down_tube_above_head_bottom=37.6,
    seatstay_below_top_tube=18.3,
)
BICYCLE = Bicycle(DIMENSIONS, TUBES, name="Test")

RANGES = {
    "reach": (330, 480), "head_angle": (64, 76), "seat_angle": (68, 78), "bb_drop": (-15, 85), "chainstay": (395, 520),
    "head_tube": (90, 240), "lower_stack": (0, 35), "fork_length": (340, 520), "fork_offset": (25, 75),
    "wheel_radius_front": (230, 370), "wheel_radius_rear": (230, 370), "seat_tube": (420, 640),
    "top_tube_on_seat_tube": (380, 415), "top_tube_below_head_top": (18, 45), "down_tube_above_head_bottom": (18, 45),
    "seatstay_below_top_tube": (-5, 60),
}


def random_bicycle(rng: np.random.Generator) -> Bicycle:
    """A frame with every dimension drawn anew, half of them with equal wheels, some with curved blades and stays."""
    while True:
        values = {name: float(rng.uniform(*limits)) for name, limits in RANGES.items()}
        if rng.random() < 0.5:
            values["wheel_radius_front"] = values["wheel_radius_rear"]
        fittings = Fittings(blade_straight=float(rng.choice([0, 0, 190, 240])), stay_curve=float(rng.choice([0, 8])))
        try:
            return replace(BICYCLE, dimensions=FrameDimensions(**values), fittings=fittings)
        except ModelError:
            continue
