"""A sweep as lines of equal value over the two items, one panel a figure; the present bicycle as a ring."""

from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING

import numpy as np

from ....model.choice.sweep import Sweep, SweptItem
from ....model.findings import Finding
from .style import BLUE, DPI, FAINT, GREY, INK, PRINT, SMALL, VERMILION, write_picture

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

PANEL = 4.6  # inches
LEVELS = 9


def save_sweep(sweep: Sweep, title: str, path: Path, force: bool = False) -> tuple[Finding, ...]:
    """Draw to a .png, .svg or .pdf file; raises InputError as `write_picture` does."""
    return write_picture(lambda: _figure(sweep, title), path, force)


def _figure(sweep: Sweep, title: str) -> "Figure":
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    count = len(sweep.figures)
    figure = Figure(figsize=(PANEL * count + 0.6, PANEL + 0.5), dpi=DPI, layout="constrained")
    FigureCanvasAgg(figure)
    figure.suptitle(title, x=0.01, ha="left", color=INK)
    panels = figure.subplots(1, count, squeeze=False)[0]
    for number, axes in enumerate(panels):
        _panel(axes, sweep, number)
    loads = dict.fromkeys(f"{f.title}: {f.load}" for f in sweep.figures if f.load)
    note = "; ".join(["ring: as it is now", *loads])
    figure.supxlabel(fill(note, 60 * count), fontsize=PRINT, color=GREY, x=0.01, ha="left")
    return figure


def _panel(axes: "Axes", sweep: Sweep, number: int) -> None:
    # a place without a bicycle has no value, and the lines end there
    values = np.ma.masked_invalid(sweep.values[number])
    figure = sweep.figures[number]
    axes.set_title(
        fill(f"{figure.words} [{figure.unit}]", 38), loc="left", fontsize=SMALL, color=INK
    )
    colour = VERMILION
    if figure.is_sight:
        colour = BLUE
    # a figure that does not change has no lines, and contour would warn of it
    if np.ptp(values.compressed()) > 1e-9 * abs(values).max():
        lines = axes.contour(
            sweep.across.values,
            sweep.up.values,
            values,
            levels=LEVELS,
            colors=colour,
            linewidths=1.1,
        )
        axes.clabel(lines, fontsize=PRINT, colors=INK)
    else:
        level = f"{float(values.mean()):.4g} everywhere"
        axes.text(0.5, 0.5, level, transform=axes.transAxes, ha="center", color=INK)
    _rule(axes, sweep.across, sweep.up)


def _rule(axes: "Axes", across: SweptItem, up: SweptItem) -> None:
    axes.set_xlabel(f"{across.words} [{across.unit}]")
    axes.set_ylabel(f"{up.words} [{up.unit}]")
    axes.grid(color=FAINT, linewidth=0.6, alpha=0.5)
    axes.set_xlim(across.values[0], across.values[-1])
    axes.set_ylim(up.values[0], up.values[-1])
    axes.plot(
        [across.present],
        [up.present],
        marker="o",
        markersize=9,
        markerfacecolor="none",
        markeredgecolor=INK,
        markeredgewidth=1.6,
        linestyle="none",
    )
