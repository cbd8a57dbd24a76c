"""Invented bicycles for tests of drawings and mitres: the tourer, and as many random ones as wanted."""

from dataclasses import replace

import numpy as np
from droptrail.model.errors import ModelError
from droptrail.model.frame.bicycle import Bicycle, Fittings
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mitre import Mitre
from droptrail.model.geometry.dimensions import FrameDimensions
from helpers_bicycle import tourer, tourer_tubes

TUBES = tourer_tubes()
BICYCLE = tourer()

RANGES = {
    "reach": (330, 480),
    "head_angle": (64, 76),
    "seat_angle": (68, 78),
    "bb_drop": (-15, 85),
    "chainstay": (395, 520),
    "head_tube": (90, 240),
    "lower_stack": (0, 35),
    "fork_length": (340, 520),
    "fork_offset": (25, 75),
    "wheel_radius_front": (230, 370),
    "wheel_radius_rear": (230, 370),
    "seat_tube": (420, 640),
    "top_tube_on_seat_tube": (380, 415),
    "top_tube_below_head_top": (18, 45),
    "down_tube_above_head_bottom": (18, 45),
    "seatstay_below_top_tube": (-5, 60),
}


def random_bicycle(rng: np.random.Generator) -> Bicycle:
    """A frame with every dimension drawn anew, half of them with equal wheels, some with curved blades and stays."""
    while True:
        values = {name: float(rng.uniform(*limits)) for name, limits in RANGES.items()}
        if rng.random() < 0.5:
            values["wheel_radius_front"] = values["wheel_radius_rear"]
        fittings = Fittings(
            blade_straight=float(rng.choice([0, 0, 190, 240])), stay_curve=float(rng.choice([0, 8]))
        )
        try:
            return replace(BICYCLE, dimensions=FrameDimensions(**values), fittings=fittings)
        except ModelError:
            continue


# --- mitres wrapped back on their tubes, from the layout's joints alone ------------------------------------


def wrapped_back(
    bicycle: Bicycle, mitre: Mitre, phi: np.ndarray, distance: np.ndarray
) -> np.ndarray:
    """(k, 3) points on the outside of the tube at template angles and distances from the joint."""
    member = next(m for m in lay_out(bicycle).members if m.name == mitre.member)
    path = np.array(member.path if mitre.at_end == "start" else member.path[::-1])
    into = (path[0] - path[1]) / np.linalg.norm(path[0] - path[1])
    wanted = np.array({"top": (0, 1, 0), "front": (1, 0, 0)}[mitre.marks[0]])
    zero = wanted - np.dot(wanted, into) * into
    zero /= np.linalg.norm(zero)
    radius = mitre.radius + mitre.taper * distance
    outward = np.cos(phi)[:, None] * zero + np.sin(phi)[:, None] * np.cross(into, zero)
    return path[0] - distance[:, None] * into + radius[:, None] * outward


def neighbour_of(bicycle: Bicycle, name: str) -> tuple[np.ndarray, np.ndarray, float]:
    """A point on the neighbour's axis, its direction, its radius."""
    if name == "bb_shell":
        return np.zeros(3), np.array([0, 0, 1.0]), 20.0
    member = next(m for m in lay_out(bicycle).members if m.name == name)
    start, end = np.array(member.path[0]), np.array(member.path[-1])
    return start, (end - start) / np.linalg.norm(end - start), bicycle.tubes[name].od_start / 2


def off_axis(points: np.ndarray, direction: np.ndarray) -> np.ndarray:
    """Distances of points from an axis through the origin."""
    return np.linalg.norm(np.cross(points, direction), axis=-1)
