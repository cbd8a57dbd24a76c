"""Overlay picture: the drawing in grey, what was recognised on top in colour, so that a mistake is seen at once."""

from collections.abc import Mapping, Set
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from ....model.arrays import Array
from ....model.findings import Finding
from ....model.words import spoken
from ...drawings.drawing import Drawing
from ...drawings.sideview.side_view import SideView
from ...files.drafting.projection import readable
from .style import BLUE, GREEN, ORANGE, VERMILION, write_picture

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


# With the rest of Okabe and Ito's eight colours, and a brown.
COLOURS = {
    "seat_tube": BLUE,
    "down_tube": VERMILION,
    "top_tube": GREEN,
    "head_tube": "#cc79a7",
    "chainstay": ORANGE,
    "seatstay": "#56b4e9",
    "fork": "#7a5c00",
    "wheel": "#000000",
}
FURTHER = "#5b3a8c"  # tubes beyond the diamond's
GREY = "#B0B0B0"
LEFT_OUT = "#D00000"
# of a drawing that was refused without naming a line: those at least this share of the longest get their handle
LONG_LINE = 0.05
MOST_TOLD = 80
TICK = 32.0  # mm to either side of the steering axis, where the enlarged head tube and fork begin and end
ENLARGED = 75.0  # mm about head tube and crown that are shown enlarged
MARGIN = 0.06  # of the picture's width about the bicycle
_NODES = {
    "bottom_bracket": "BB",
    "rear_axle": "rear axle",
    "front_axle": "front axle",
    "fork_crown": "crown",
}


def write_overlay(view: SideView, path: str | Path, force: bool = False) -> tuple[Finding, ...]:
    """Write the picture to a .png, .svg or .pdf file; raises InputError as `write_picture` does."""
    return write_picture(lambda: overlay_figure(view), path, force)


def write_doubt(
    drawing: Drawing, named: Set[str], path: str | Path, force: bool = False
) -> tuple[Finding, ...]:
    """A drawing that was refused, the lines with the handles `named` in colour and with their handle."""
    return write_picture(lambda: doubt_figure(drawing, named), path, force)


def doubt_figure(drawing: Drawing, named: Set[str]) -> "Figure":
    """The picture of `write_doubt`; without a named line every longer one bears its handle."""
    from matplotlib.collections import LineCollection
    from matplotlib.figure import Figure

    figure = Figure(figsize=(14, 8.6), layout="constrained")
    axes = figure.add_subplot()
    axes.add_collection(
        LineCollection([c.points for c in drawing.curves], colors=GREY, linewidths=0.8, zorder=1)
    )
    extent = [float(np.ptp(c.points, axis=0).max(initial=0.0)) for c in drawing.curves]
    longest = max(extent, default=0.0)
    palette = list(COLOURS.values())
    told = 0
    for curve, size in zip(drawing.curves, extent, strict=True):
        # named lines only; without a name every long one, up to what can still be read
        if curve.handle not in named and (named or size < LONG_LINE * longest or told >= MOST_TOLD):
            continue
        colour = palette[told % len(palette)]
        axes.plot(*curve.points.T, color=colour, linewidth=2.5 if named else 1.2, zorder=3)
        # the middle of the line, where a handle cannot be taken for that of a neighbour
        middle = curve.points[len(curve.points) // 2 - 1 : len(curve.points) // 2 + 1].mean(axis=0)
        axes.annotate(
            curve.handle or "-", middle, color=colour, fontsize=11, zorder=5, path_effects=_halo()
        )
        told += 1
    axes.autoscale_view()
    axes.set_aspect("equal")
    axes.set_title(f"{Path(drawing.source).name or 'drawing'}: not read; lines bear their handles")
    axes.set_xlabel("drawing units")
    return figure


def overlay_figure(view: SideView) -> "Figure":
    """The picture as a matplotlib figure."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(16, 8.6), layout="constrained")
    whole, steering = figure.subplots(1, 2, width_ratios=(3.4, 1.0))
    _draw(whole, view)
    _draw_steering(steering, view)
    figure.legend(
        *whole.get_legend_handles_labels(), loc="outside lower center", ncols=6, fontsize=9
    )
    return figure


def _draw_steering(axes: "Axes", view: SideView) -> None:
    """Head tube and crown enlarged, with the lengths along the steering axis and where each begins and ends."""
    # second lines would enter the legend twice
    _grey(axes, view, told=False)
    for name in ("head_tube", "fork"):
        if name in view.lines:
            line = np.array(view.lines[name])
            axes.plot(*line.T, color=_colour(name), linewidth=2.5, alpha=0.6, zorder=3)
    d = view.dimensions
    # mm in drawing units: what is shown is the drawing as it came
    scale = view.transform.mm_per_unit
    top, bottom, crown = (
        np.array(view.points[name]) for name in ("head_tube_top", "head_tube_bottom", "fork_crown")
    )
    # a head tube of no length has no direction, and must not divide by zero
    along = (top - bottom) / max(float(np.hypot(*(top - bottom))), 1e-12)
    across = np.array([along[1], -along[0]])
    for at in (top, bottom, crown):
        tick = np.array([at - TICK / scale * across, at + TICK / scale * across])
        axes.plot(*tick.T, color="black", linewidth=1.2, zorder=4)
    said = [f"head tube {d.head_tube:.1f} mm"]
    # a lower stack of nothing is left out, and the crown then lies at the head tube's end
    if d.lower_stack:
        said.append(f"lower stack {d.lower_stack:.1f} mm")
    said.append(f"fork {d.fork_length:.1f} mm along the axis")
    said.append(f"{d.derived()['axle_to_crown_straight']:.1f} mm axle to crown")
    axes.set_xlabel("\n".join(said), fontsize=10)
    for name, at in (("upper end", top), ("lower end", bottom), ("crown", crown)):
        if name == "crown" and not d.lower_stack:
            continue
        x, y = (at + TICK / scale * across).tolist()
        axes.annotate(
            name,
            (x, y),
            xytext=(0, -12 if name == "crown" else 5),
            textcoords="offset points",
            fontsize=9,
            ha="center",
            zorder=5,
            path_effects=_halo(),
        )
    ends = np.array([top, bottom, crown])
    pad = ENLARGED / scale
    axes.set_xlim(ends[:, 0].min() - pad, ends[:, 0].max() + pad)
    axes.set_ylim(ends[:, 1].min() - pad, ends[:, 1].max() + pad)
    axes.set_aspect("equal")
    axes.set_title("head tube and crown", fontsize=11)
    axes.set_xticks([])
    axes.set_yticks([])
    axes.grid(visible=False)


def _draw(axes: "Axes", view: SideView) -> None:
    _grey(axes, view)
    _wheels(axes, view)
    for name, points in view.lines.items():
        line = np.array(points)
        axes.plot(
            *line.T,
            color=_colour(name),
            linewidth=4.0,
            alpha=0.85,
            solid_capstyle="round",
            zorder=3,
            label=_legend(view, name),
        )
        _name(axes, view, name, line)
    _nodes(axes, view)
    _frame(axes, view)


def _grey(axes: "Axes", view: SideView, told: bool = True) -> None:
    """What is drawn; `told`: second lines enter the legend."""
    from matplotlib.collections import LineCollection

    curves = view.drawing.curves
    doubted = {
        entry.index
        for entry in view.labels
        if not entry.member and entry.how.startswith("second line")
    }
    plain = [c.points for i, c in enumerate(curves) if i not in doubted]
    # autolim off: stray lines far away must not shrink the bicycle to a dot
    axes.add_collection(LineCollection(plain, colors=GREY, linewidths=0.8, zorder=1), autolim=False)
    if doubted:
        axes.add_collection(
            LineCollection(
                [curves[i].points for i in sorted(doubted)],
                colors=LEFT_OUT,
                linewidths=1.4,
                linestyles="dashed",
                zorder=2,
            ),
            autolim=False,
        )
        # a line of no points, only for the legend
        if told:
            axes.plot(
                [],
                [],
                color=LEFT_OUT,
                linestyle="dashed",
                label="second line beside a member, left out",
            )


def _wheels(axes: "Axes", view: SideView) -> None:
    from matplotlib.patches import Circle

    d = view.dimensions
    scale = view.transform.mm_per_unit
    for node, radius in (("rear_axle", d.wheel_radius_rear), ("front_axle", d.wheel_radius_front)):
        axes.add_patch(
            Circle(
                view.points[node],
                radius / scale,
                fill=False,
                edgecolor=COLOURS["wheel"],
                linewidth=1.6,
                linestyle=(0, (6, 3)),
                zorder=2,
            )
        )
    shown = sorted({round(d.wheel_radius_rear, 1), round(d.wheel_radius_front, 1)})
    axes.plot(
        [],
        [],
        color=COLOURS["wheel"],
        linewidth=1.6,
        linestyle=(0, (6, 3)),
        label="tyre, radius " + " and ".join(f"{r:g}" for r in shown) + " mm",
    )


def _colour(name: str) -> str:
    """A member's colour; tubes beyond the diamond share one."""
    return COLOURS.get(name, FURTHER)


def _legend(view: SideView, name: str) -> str:
    diameter = view.diameters.get("fork_blade" if name == "fork" else name)
    return spoken(name) + ("" if diameter is None else f", {diameter:.3g} mm outside")


def _name(axes: "Axes", view: SideView, name: str, line: Array) -> None:
    """The member's name beside the middle of it, along it, readable from below."""
    if len(line) > 2:
        k = len(line) // 2
    else:
        k = 1
    a = line[k - 1]
    b = line[k]
    middle = (a + b) / 2
    turn = readable(float(np.degrees(np.arctan2(b[1] - a[1], b[0] - a[0]))))
    # up from the line as it reads, not as it was drawn
    up = np.array([-np.sin(np.radians(turn)), np.cos(np.radians(turn))])
    # 24 mm of the bicycle, whatever the unit of the drawing
    shift = 24.0 / view.transform.mm_per_unit
    x, y = (middle + shift * up).tolist()
    axes.text(
        x,
        y,
        spoken(name),
        color=_colour(name),
        fontsize=11,
        fontweight="bold",
        rotation=turn,
        rotation_mode="anchor",
        ha="center",
        va="center",
        zorder=5,
        path_effects=_halo(),
    )


def _halo() -> list[Any]:
    from matplotlib.patheffects import withStroke

    return [withStroke(linewidth=3.5, foreground="white")]


def _nodes(axes: "Axes", view: SideView) -> None:
    axis = [view.points[name] for name in ("head_tube_top", "fork_offset_foot", "front_axle")]
    axes.plot(
        *zip(*axis, strict=True),
        color="black",
        linewidth=1.0,
        linestyle="dotted",
        zorder=4,
        label="steering axis and offset",
    )
    for node, at in view.points.items():
        axes.plot(*at, marker="o", markersize=5.5, color="black", markerfacecolor="white", zorder=4)
        if node in _NODES:
            axes.annotate(
                _NODES[node],
                at,
                xytext=(8, -13),
                textcoords="offset points",
                fontsize=9,
                zorder=5,
                path_effects=_halo(),
            )


def _frame(axes: "Axes", view: SideView) -> None:
    low, high = _bounds(view.points, view)
    pad = MARGIN * (high - low).max()
    axes.set_xlim(low[0] - pad, high[0] + pad)
    axes.set_ylim(low[1] - pad, high[1] + pad)
    axes.set_aspect("equal")
    axes.set_xlabel(f"drawing units (1 unit = {view.transform.mm_per_unit:g} mm, {view.unit})")
    source = Path(view.drawing.source).name or "drawing"
    axes.set_title(
        f"{source}, fit {view.score:.0%}\n{view.precision.says(view.dimensions)}", fontsize=12
    )
    axes.plot([], [], color=GREY, linewidth=0.8, label="as drawn")
    axes.grid(visible=False)


def _bounds(points: Mapping[str, tuple[float, float]], view: SideView) -> tuple[Array, Array]:
    """Corners of the bicycle with its wheels, drawing units."""
    scale = view.transform.mm_per_unit
    radius = max(view.dimensions.wheel_radius_front, view.dimensions.wheel_radius_rear) / scale
    wheels = np.array([points["rear_axle"], points["front_axle"]])
    # whole wheels are shown, not only their axles
    table = np.vstack((np.array(list(points.values())), wheels - radius, wheels + radius))
    return table.min(axis=0), table.max(axis=0)
