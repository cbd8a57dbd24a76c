"""Invented bicycles for tests of drawings and mitres: the tourer, and as many random ones as wanted."""

from dataclasses import replace

import numpy as np
from helpers_bicycle import tourer, tourer_tubes

from model.bicycle import Bicycle, Fittings
from model.dimensions import FrameDimensions
from model.errors import ModelError

TUBES = tourer_tubes()
BICYCLE = tourer()

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
