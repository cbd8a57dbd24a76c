"""One stiffness against another with the mass as colour: variants of a comparison or the front of a search."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING, Any

from ....model.choice.compare import Comparison
from ....model.choice.figures import find_figure
from ....model.findings import Finding
from .style import DPI, FAINT, GREY, INK, PRINT, scale_of_colours, write_picture

if TYPE_CHECKING:
    from matplotlib.figure import Figure

# what the plot shows unless told otherwise
LATERAL = "side_push.head_sideways"
VERTICAL = "saddle_push.saddle_vertical"
LABELS = 40  # more would cover the points


@dataclass(frozen=True)
class PlotPoint:
    """A variant in the plot. `mark`: the reference is drawn as a ring with cross hairs."""

    x: float
    y: float
    mass: float
    label: str = ""
    mark: bool = False


@dataclass(frozen=True)
class ComparePlot:
    """What is drawn: axis titles with units, title, a note below, points. `faint` points are drawn grey behind, limits
    on either axis as dotted lines."""

    title: str
    x_title: str
    y_title: str
    points: Sequence[PlotPoint]
    note: str = ""
    faint: Sequence[PlotPoint] = ()
    x_limits: Sequence[float] = ()
    y_limits: Sequence[float] = ()


def comparison_plot(comparison: Comparison, across: str, up: str) -> ComparePlot:
    """Two figures of a comparison against one another. Raises ModelError for a figure that is not in it."""
    # an unknown figure is refused here, before a library of pictures is loaded
    x, y = (find_figure(comparison.figures, key) for key in (across, up))
    points = [
        PlotPoint(
            # the first value of every row is the mass of the tubes
            row.values[x],
            row.values[y],
            row.values[0],
            row.name,
            row is comparison.reference,
        )
        for row in comparison.rows
    ]
    figures = comparison.figures
    note = "; ".join(f"{f.title}: {f.load}" for f in (figures[x], figures[y]))
    return ComparePlot(
        comparison.reference.bicycle.name or "Variants",
        figures[x].heading,
        figures[y].heading,
        points,
        note,
    )


def save_plot(plot: ComparePlot, path: str | Path, force: bool = False) -> tuple[Finding, ...]:
    """Draw to a .png, .svg or .pdf file; raises InputError as `write_picture` does."""
    return write_picture(lambda: _figure(plot), path, force)


def _figure(plot: ComparePlot) -> "Figure":
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    # the canvas is needed, because labels are set by their size in pixels
    figure = Figure(figsize=(8.6, 6.2), dpi=DPI, layout="constrained")
    FigureCanvasAgg(figure)
    axes = figure.subplots()
    axes.set_title(plot.title, loc="left", color=INK)
    axes.set_xlabel(plot.x_title)
    axes.set_ylabel(plot.y_title)
    axes.grid(color=FAINT, linewidth=0.6, alpha=0.5)
    # points over the grid, which else runs across them
    axes.set_axisbelow(True)
    # room round the outermost points, where labels go
    axes.margins(0.12)
    if plot.faint:
        # the cloud reaches far beyond the front, and would press it into a corner
        axes.set_xlim(*_window([p.x for p in plot.points], plot.x_limits))
        axes.set_ylim(*_window([p.y for p in plot.points], plot.y_limits))
        faint_x = [point.x for point in plot.faint]
        faint_y = [point.y for point in plot.faint]
        axes.scatter(faint_x, faint_y, s=5, color=FAINT, linewidths=0)
    across = [point.x for point in plot.points]
    up = [point.y for point in plot.points]
    dots = axes.scatter(
        across,
        up,
        c=[point.mass for point in plot.points],
        cmap=scale_of_colours(),
        s=70,
        edgecolors=INK,
        linewidths=0.6,
        # above the grid and the cloud, below the labels
        zorder=3,
    )
    figure.colorbar(dots, ax=axes, label="mass of the tubes [g]")
    # the reference, which every other point is compared with by eye
    marked = [point for point in plot.points if point.mark]
    marked_rows = [point.y for point in marked]
    marked_columns = [point.x for point in marked]
    for style, rows, columns in (
        ("--", marked_rows, marked_columns),
        (":", plot.y_limits, plot.x_limits),
    ):
        for y in rows:
            axes.axhline(
                y, color=GREY if style == "--" else INK, linewidth=0.8, linestyle=style, zorder=2
            )
        for x in columns:
            axes.axvline(
                x, color=GREY if style == "--" else INK, linewidth=0.8, linestyle=style, zorder=2
            )
    if plot.note:
        figure.supxlabel(fill(plot.note, 150), fontsize=PRINT, color=GREY, x=0.01, ha="left")
    # named points only, and not more than the plot can hold
    _label(figure, axes, [p for p in plot.points if p.label][:LABELS], plot.points)
    return figure


def _window(values: Sequence[float], limits: Sequence[float]) -> tuple[float, float]:
    """Axis range round the points and limits, wide enough to see some of the cloud behind, which may reach further."""
    low = min(*values, *limits, values[0])
    high = max(*values, *limits, values[0])
    # half a range on every side: enough of the cloud to see where the front lies in it
    room = 0.5 * (high - low) or 0.05 * abs(high) or 1.0
    return low - room, high + room


# Offsets in points; none far away: a label that may belong to another point is worse than none.
_SPOTS = (
    (7, 5, "left"),
    (7, -11, "left"),
    (-7, 5, "right"),
    (-7, -11, "right"),
    (0, 11, "center"),
    (0, -17, "center"),
)


def _label(
    figure: Any, axes: Any, points: Sequence[PlotPoint], others: Sequence[PlotPoint]
) -> None:
    """Write each label on the first spot round its point where it covers no point and no other label."""
    # drawn once, because a text has no size before
    figure.canvas.draw()
    renderer = figure.canvas.get_renderer()
    taken = [_around(axes, point) for point in others]
    inside = axes.get_window_extent(renderer)
    for point in points:
        for dx, dy, side in _SPOTS:
            text = axes.annotate(
                point.label,
                (point.x, point.y),
                (dx, dy),
                textcoords="offset points",
                ha=side,
                fontsize=PRINT,
                color=INK,
                zorder=4,
            )
            box = text.get_window_extent(renderer)
            # a label that runs off the plot is no better than one on another point
            if (
                inside.x0 < box.x0
                and box.x1 < inside.x1
                and not any(box.overlaps(other) for other in taken)
            ):
                taken.append(box)
                break
            # no spot is free: the point stays, its name does not
            text.remove()


def _around(axes: Any, point: PlotPoint, radius: float = 9.0) -> Any:
    from matplotlib.transforms import Bbox

    # in pixels, as the boxes of the labels are
    x, y = axes.transData.transform((point.x, point.y))
    return Bbox.from_extents(x - radius, y - radius, x + radius, y + radius)
