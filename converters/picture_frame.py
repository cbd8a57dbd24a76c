"""The frame in space on paper: as built, moved by a load case, or swinging in a mode; tubes as thick as they are."""

from collections.abc import Mapping, Sequence
from textwrap import fill
from typing import TYPE_CHECKING

import numpy as np

from model.case_view import Arrow, case_picture
from model.frame_model import Array, FrameModel
from model.result import Result

from .outside import half_sizes
from .picture_style import BLUE, FAINT, GREEN, GREY, INK, NORMAL, SMALL, STEEL, VERMILION, footer, headline, new_figure

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

EYES: Mapping[str, tuple[float, float, float]] = {"side": (0.0, 0.0, 1.0), "iso": (0.5, 0.3, 0.75)}
_SHOWN = 0.05  # the largest movement is drawn as this share of the frame's size
_ARROW = 0.12  # length of an arrow, the same share


def frame_picture(model: FrameModel, title: str, eye: Sequence[float] = EYES["iso"]) -> "Figure":
    """The frame as built."""
    figure, axes = _paper(title, "as built, tubes with their outside diameters")
    across, up = _screen(eye)
    _tubes(axes, model, _flat(model.xyz, across, up), model.xyz @ np.array(eye), STEEL, INK)
    return figure


def deflected_picture(result: Result, title: str, eye: Sequence[float] = EYES["iso"],
                      times: float | None = None) -> "Figure":
    """Undeflected in grey, moved by the case in colour, loads as arrows, held points as diamonds."""
    model, case = result.model, result.case
    scale = magnification(model, result.u[:, :3]) if times is None else times
    figure, axes = _paper(title, f"{case.title or case.name}: movement drawn {scale:g} times larger")
    across, up = _screen(eye)
    built, moved = model.xyz, model.xyz + scale * result.u[:, :3]
    _lines(axes, model, _flat(built, across, up))
    size = np.linalg.norm(result.u[:, :3], axis=1)
    _tubes(axes, model, _flat(moved, across, up), moved @ np.array(eye), size, words="movement, mm")
    seen = case_picture(model, case)
    for arrow in seen.arrows:
        _arrow(axes, arrow, _span(model), across, up)
    for held in seen.supports:
        axes.plot(*_flat(np.array([held.at]), across, up)[0], marker="D", color=GREEN, markersize=7, zorder=9,
                  markeredgecolor=INK, markeredgewidth=0.6)
    footer(figure, fill(f"Loads and supports: {case.notes}. Not a strength certificate.", 165) if case.notes else "")
    return figure


def mode_picture(model: FrameModel, shape: Array, title: str, words: str,
                 eye: Sequence[float] = EYES["iso"]) -> "Figure":
    """One natural mode at both ends of its swing; a mode has a shape but no size."""
    figure, axes = _paper(title, words)
    across, up = _screen(eye)
    reach = magnification(model, shape) * shape
    size = np.linalg.norm(shape, axis=1)
    _lines(axes, model, _flat(model.xyz - reach, across, up), GREY)
    _lines(axes, model, _flat(model.xyz, across, up))
    moved = model.xyz + reach
    _tubes(axes, model, _flat(moved, across, up), moved @ np.array(eye), size / size.max(),
           words="relative movement")
    return figure


def magnification(model: FrameModel, u: Array) -> float:
    """1, 2 or 5 times a power of ten that makes the largest movement easy to see."""
    largest = float(np.linalg.norm(u, axis=1).max())
    if largest == 0:
        return 1.0
    wanted = _SHOWN * _span(model) / largest
    power = 10.0 ** np.floor(np.log10(wanted))
    return float(power * next(step for step in (5, 2, 1) if step * power <= wanted * 1.0000001))


def _span(model: FrameModel) -> float:
    return float(np.linalg.norm(np.ptp(model.xyz, axis=0)))


def _paper(title: str, words: str) -> "tuple[Figure, Axes]":
    figure = new_figure()
    headline(figure, title, words)
    axes = figure.add_axes((0.03, 0.1, 0.88, 0.79))
    axes.set_aspect("equal")
    axes.axis("off")
    return figure, axes


def _screen(eye: Sequence[float]) -> tuple[Array, Array]:
    """Unit vectors to the right and up on the paper, y staying up."""
    to_eye = np.array(eye) / np.linalg.norm(eye)
    across = np.cross((0.0, 1.0, 0.0), to_eye)
    across /= np.linalg.norm(across)
    return across, np.cross(to_eye, across)


def _flat(points: Array, across: Array, up: Array) -> Array:
    return np.column_stack([points @ across, points @ up])


def _lines(axes: "Axes", model: FrameModel, flat: Array, colour: str = FAINT) -> None:
    from matplotlib.collections import LineCollection

    axes.add_collection(LineCollection(list(flat[model.ends]), colors=colour, linewidths=1.0, zorder=2))


def _tubes(axes: "Axes", model: FrameModel, flat: Array, depth: Array, colour: str | Array,
           edge: str | None = None, words: str = "") -> None:
    """Every element as a strip as wide as its tube, the far ones first."""
    from matplotlib.collections import PolyCollection

    far_first = np.argsort(depth[model.ends].mean(axis=1))
    wide = half_sizes(model).max(axis=1)
    strips = [_strip(flat[model.ends[k]], wide[k]) for k in far_first]
    drawn = PolyCollection(strips, edgecolors="face" if edge is None else edge, linewidths=0.6, zorder=4)
    if isinstance(colour, str):
        drawn.set_facecolor(colour)
    else:
        drawn.set_array(colour[model.ends].mean(axis=1)[far_first])
        drawn.set_cmap("cividis_r")
        bar = axes.figure.colorbar(drawn, ax=axes, fraction=0.02, pad=0.02, shrink=0.6)
        bar.set_label(words, fontsize=SMALL, color=INK)
        bar.ax.tick_params(labelsize=SMALL)
    axes.add_collection(drawn)
    axes.autoscale_view()


def _strip(ends: Array, half: float) -> Array:
    """(4, 2) corners of a tube seen from the side; a tube seen end-on keeps a little length."""
    along = ends[1] - ends[0]
    length = float(np.linalg.norm(along)) or 1.0
    across = half * np.array([-along[1], along[0]]) / length
    return np.array([ends[0] + across, ends[1] + across, ends[1] - across, ends[0] - across])


def _arrow(axes: "Axes", arrow: Arrow, span: float, across: Array, up: Array) -> None:
    tip, size = np.array(arrow.at), float(np.linalg.norm(arrow.vector))
    tail = tip - _ARROW * span * np.array(arrow.vector) / size
    (x0, y0), (x1, y1) = _flat(np.array([tail, tip]), across, up)
    colour = VERMILION if arrow.kind == "force" else BLUE
    style = "-|>" if arrow.kind == "force" else "->"
    axes.annotate("", (x1, y1), (x0, y0), arrowprops={"arrowstyle": style, "color": colour, "linewidth": 2.0}, zorder=8)
    words = f"{size:.0f} N" if arrow.kind == "force" else f"{size / 1000:.0f} N·m"
    axes.annotate(words, (x0, y0), xytext=(4, 4), textcoords="offset points", fontsize=NORMAL, color=colour,
                  weight="bold", zorder=10)
