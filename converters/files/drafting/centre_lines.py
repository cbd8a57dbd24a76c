"""A side view as plain centre-lines, to be laid over another: the tubes of its plan, or the diamond of a drawing."""

import numpy as np

from ....model.arrays import Array
from ....model.frame.bicycle import Bicycle
from ....model.frame.layout import side_paths
from ....model.geometry.dimensions import FrameDimensions, Point

# What a drawing alone tells of: where its tubes are not known, neither is their plan.
DIAMOND = (
    ("bottom_bracket", "seat_tube_top"),
    ("seat_tube_top_tube_node", "top_tube_head_node"),
    ("bottom_bracket", "down_tube_head_node"),
    ("head_tube_bottom", "head_tube_top"),
    ("rear_axle", "bottom_bracket"),
    ("rear_axle", "seat_tube_seatstay_node"),
    ("head_tube_bottom", "fork_crown"),
    ("fork_crown", "front_axle"),
)


def centre_lines(dimensions: FrameDimensions, bicycle: Bicycle | None, on: str) -> list[Array]:
    """Runs of points, shape (n, 2) in mm, x forward and y up from the point `on`.

    on : ``bottom_bracket`` or ``rear_axle``; a side view without that point is laid on the bottom bracket.
    """
    points = dimensions.points()
    # the bottom bracket is the origin anyway
    origin = points[on] or Point(0.0, 0.0)
    if bicycle is None:
        ends = [(points[a], points[b]) for a, b in DIAMOND]
        runs = [np.array([[a.x, a.y], [b.x, b.y]]) for a, b in ends if a and b]
    else:
        placed = [path for path in side_paths(bicycle).values() if path is not None]
        runs = [np.array(path)[:, :2] for path in placed]
    return [run - (origin.x, origin.y) for run in runs]


def wheel_circles(dimensions: FrameDimensions, on: str) -> list[tuple[Array, float]]:
    """(centre, radius) of both wheels in mm, from the same point."""
    origin = dimensions.points()[on] or Point(0.0, 0.0)
    wheels = (
        (dimensions.rear_axle, dimensions.wheel_radius_rear),
        (dimensions.front_axle, dimensions.wheel_radius_front),
    )
    return [(np.array([axle.x - origin.x, axle.y - origin.y]), r) for axle, r in wheels]
