"""Frames over one another: the centre-lines of several side views, laid on the bottom bracket or on the rear axle."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from ....model.findings import Finding
from ....model.geometry.dimensions import FrameDimensions, Point
from .style import new_figure, write_picture

if TYPE_CHECKING:
    from matplotlib.figure import Figure

# told apart without colour too, by their dashes
COLOURS = ("#1f5fa8", "#c1440e", "#2f7d32", "#7a3e9d", "#8a6d00", "#00747c")
DASHES = ("-", (0, (6, 2)), (0, (2, 1.5)), (0, (8, 2, 2, 2)), (0, (4, 1)), (0, (1, 1)))
LINES = (
    ("bottom_bracket", "seat_tube_top"),
    ("seat_tube_top_tube_node", "top_tube_head_node"),
    ("bottom_bracket", "down_tube_head_node"),
    ("head_tube_bottom", "head_tube_top"),
    ("rear_axle", "bottom_bracket"),
    ("rear_axle", "seat_tube_seatstay_node"),
    ("head_tube_bottom", "fork_crown"),
    ("fork_crown", "front_axle"),
)


def write_beside(
    frames: Sequence[tuple[str, FrameDimensions]], on: str, path: str | Path, force: bool = False
) -> tuple[Finding, ...]:
    """Draw to a .png, .svg or .pdf file. on : the point laid over one another, bottom_bracket or rear_axle."""
    return write_picture(lambda: beside_figure(frames, on), path, force)


def beside_figure(frames: Sequence[tuple[str, FrameDimensions]], on: str) -> "Figure":
    """Every frame in its own colour and dashes; wheels thin."""
    figure = new_figure(
        "Side by side",
        f"centre-lines, laid over one another on the {on.replace('_', ' ')}; mm",
        "Not to scale.",
    )
    axes = figure.add_axes((0.05, 0.13, 0.93, 0.74))
    for k, (name, dimensions) in enumerate(frames):
        points = dimensions.points()
        # a side view without that point is laid on the bottom bracket, which is the origin anyway
        origin = points[on] or Point(0.0, 0.0)
        colour = COLOURS[k % len(COLOURS)]
        dashes: Any = DASHES[k % len(DASHES)]
        # once a frame: every line of it under the same name would fill the legend
        said: str | None = name
        for start, end in LINES:
            a = points[start]
            b = points[end]
            if a is None or b is None:
                continue
            axes.plot(
                [a.x - origin.x, b.x - origin.x],
                [a.y - origin.y, b.y - origin.y],
                label=said,
                linewidth=1.8,
                color=colour,
                linestyle=dashes,
            )
            said = None
        # every two degrees: no corner of a wheel shows at this size
        turn = np.linspace(0, 2 * np.pi, 181)
        for axle, radius in (
            (dimensions.rear_axle, dimensions.wheel_radius_rear),
            (dimensions.front_axle, dimensions.wheel_radius_front),
        ):
            axes.plot(
                axle.x - origin.x + radius * np.cos(turn),
                axle.y - origin.y + radius * np.sin(turn),
                linewidth=0.7,
                color=colour,
                linestyle=dashes,
            )
    # equal scales, or angles of the two frames could not be compared
    axes.set_aspect("equal")
    axes.legend(loc="upper center", bbox_to_anchor=(0.5, -0.07), ncols=3, frameon=False, fontsize=8)
    return figure
