"""Frames over one another: the centre-lines of several side views, laid on the bottom bracket or on the rear axle."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from ....model.findings import Finding
from ....model.frame.bicycle import Bicycle
from ....model.geometry.dimensions import FrameDimensions
from ...files.drafting.centre_lines import centre_lines, wheel_circles
from .style import new_figure, write_picture

if TYPE_CHECKING:
    from matplotlib.figure import Figure

# told apart without colour too, by their dashes
COLOURS = ("#1f5fa8", "#c1440e", "#2f7d32", "#7a3e9d", "#8a6d00", "#00747c")
DASHES = ("-", (0, (6, 2)), (0, (2, 1.5)), (0, (8, 2, 2, 2)), (0, (4, 1)), (0, (1, 1)))
Frame = tuple[str, FrameDimensions, Bicycle | None]


def write_beside(
    frames: Sequence[Frame], on: str, path: str | Path, force: bool = False
) -> tuple[Finding, ...]:
    """Draw to a .png, .svg or .pdf file. on : the point laid over one another, bottom_bracket or rear_axle."""
    return write_picture(lambda: beside_figure(frames, on), path, force)


def beside_figure(frames: Sequence[Frame], on: str) -> "Figure":
    """Every frame in its own colour and dashes; wheels thin."""
    figure = new_figure(
        "Side by side",
        f"centre-lines, laid over one another on the {on.replace('_', ' ')}; mm",
        "Not to scale.",
    )
    axes = figure.add_axes((0.05, 0.13, 0.93, 0.74))
    # every two degrees: no corner of a wheel shows at this size
    turn = np.linspace(0, 2 * np.pi, 181)
    for k, (name, dimensions, bicycle) in enumerate(frames):
        colour = COLOURS[k % len(COLOURS)]
        dashes: Any = DASHES[k % len(DASHES)]
        # once a frame: every line of it under the same name would fill the legend
        said: str | None = name
        for run in centre_lines(dimensions, bicycle, on):
            axes.plot(
                run[:, 0], run[:, 1], label=said, linewidth=1.8, color=colour, linestyle=dashes
            )
            said = None
        for centre, radius in wheel_circles(dimensions, on):
            axes.plot(
                centre[0] + radius * np.cos(turn),
                centre[1] + radius * np.sin(turn),
                linewidth=0.7,
                color=colour,
                linestyle=dashes,
            )
    # equal scales, or angles of the two frames could not be compared
    axes.set_aspect("equal")
    axes.legend(loc="upper center", bbox_to_anchor=(0.5, -0.07), ncols=3, frameon=False, fontsize=8)
    return figure
