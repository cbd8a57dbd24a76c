"""The sheets of a frame in space: tubes in proportion, a load case moved and marked, nominal stress, natural modes."""

from collections.abc import Sequence
from math import ceil, isnan
from textwrap import fill
from typing import TYPE_CHECKING

import numpy as np

from ....model.arrays import Array
from ....model.cases.view import case_picture
from ....model.frame.bicycle import Bicycle
from ....model.frame.layout import lay_out
from ....model.mechanics.frame_model import FrameModel
from ....model.mechanics.result import Result
from ....model.postprocess.stress import StressTable
from ....model.vibration.mode_words import ModeWords
from ....model.vibration.modes import Modes
from ....model.words import spoken
from ...files.drafting.projection import magnification
from ..table import HZ_DIGITS
from ..tables.results import measure_title, said_load
from ..words import number
from .marks import Labels, along, draw_marks
from .scene import FLATTER, ISOMETRIC, bare, draw_at_rest, draw_tubes, draw_wheels
from .style import GREY, INK, NORMAL, SMALL, STEEL, new_figure, scale_of_colours

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MODE_MOTION = (
    0.07  # of the frame's size: how far a mode, which has no size of its own, is drawn to move
)
LEGEND = (
    "Thin lines: at rest. Red: loads. Blue: what the supports give back. Two heads: a moment about that line, "
    "right-hand rule."
)


# --- the frame as built -------------------------------------------------------------------------------------------
def iso_picture(model: FrameModel, bicycle: Bicycle | None, title: str) -> "Figure":
    """The frame in isometric projection, tube diameters in proportion, each tube named with its size."""
    figure = new_figure(
        title,
        "isometric from the front right, outside diameters in proportion",
        ""
        if bicycle is None
        else "Tubes with outside diameter x wall in mm. Stem, bars, seat post, "
        "hubs, shell and bridges are simple stand-ins.",
    )
    axes = bare(figure.add_axes((0.03, 0.05, 0.94, 0.86)))
    if bicycle is not None:
        draw_wheels(axes, ISOMETRIC, bicycle.dimensions)
    draw_tubes(axes, ISOMETRIC, model)
    if bicycle is not None:
        _tube_labels(axes, model, bicycle)
    return figure


def _tube_labels(axes: "Axes", model: FrameModel, bicycle: Bicycle) -> None:
    """Each tube's name and size beside its middle; of a pair the right one."""
    labels = Labels(axes, along(ISOMETRIC.flat(model.xyz)[model.ends], 15.0))
    for member in lay_out(bicycle).members:
        tube = bicycle.tubes.get(member.tube)
        if tube is not None and not member.name.endswith("_left"):
            path = ISOMETRIC.flat(np.array(member.path))
            # a tube inside another shows only at its end, so its name stands there
            shares = np.array(
                [0.0] if bicycle.plan.role(member.tube).inside else [0.5, 0.4, 0.6, 0.3, 0.7]
            )
            at = path[0] + shares[:, None] * (path[-1] - path[0])
            labels.put(f"{spoken(member.tube)} {tube.label}", at)


# --- a load case --------------------------------------------------------------------------------------------------
def deflected_picture(
    result: Result, title: str, times: float | None = None, units: bool = True
) -> "Figure":
    """A load case: the moved shape over the one at rest, loads, reactions, supports, and what was measured.

    times : how much larger movement is drawn, None chooses a round factor; stated on the sheet either way.
    units : the model is in N and mm.
    """
    model = result.model
    case = result.case
    motion = np.linalg.norm(result.u[:, :3], axis=1)
    # chosen from the largest movement, so that every case fills the sheet alike
    factor = times or magnification(model.span, float(motion.max()))
    figure = new_figure(
        title, f"{case.title or case.name}; movement drawn {factor:,.6g} times as large", LEGEND
    )
    axes = bare(figure.add_axes((0.02, 0.13, 0.66, 0.76)))
    draw_at_rest(axes, FLATTER, model)
    xyz = model.xyz + factor * result.u[:, :3]
    _coloured_tubes(
        axes,
        model,
        xyz,
        # an element takes the mean of its ends: it has one colour
        motion[model.ends].mean(axis=1),
        float(motion.max()),
        "moves, mm" if units else "moves, unit of the file",
    )
    clear = along(FLATTER.flat(xyz)[model.ends], 15.0)
    held, _ = draw_marks(
        axes,
        FLATTER,
        case_picture(model, case, result),
        dict(zip(model.nodes, xyz, strict=True)),
        model.span,
        units,
        clear,
    )
    column = WordColumn(figure)
    _measured(column, result)
    for line in held:
        column.add(line, INK)
    column.space()
    column.add(case.notes)
    column.add(f"Source: {case.source}" if case.source else "")
    return figure


def _coloured_tubes(
    axes: "Axes", model: FrameModel, xyz: Array, values: Array, top: float, words: str
) -> None:
    """Tubes coloured by one value per element (NaN: bare steel), with the scale below."""
    from matplotlib.cm import ScalarMappable
    from matplotlib.colors import Normalize, to_rgba

    # from zero, so that the same colour is the same share in every picture
    scale = ScalarMappable(Normalize(0, top or 1.0), scale_of_colours())
    colours = scale.to_rgba(np.nan_to_num(values))
    # what has no value is bare steel, and not the palest colour of the scale
    colours[np.isnan(values)] = to_rgba(STEEL)
    draw_tubes(axes, FLATTER, model, xyz, colours[:, :3])
    bar = axes.figure.colorbar(
        scale, cax=axes.figure.add_axes((0.06, 0.115, 0.2, 0.014)), orientation="horizontal"
    )
    bar.set_label(words, fontsize=SMALL, color=INK)
    bar.ax.tick_params(labelsize=SMALL, colors=INK)


def _measured(column: "WordColumn", result: Result) -> None:
    """Each measure with its stiffness large and, small, the motion and the load behind it."""
    for measure in result.case.measures:
        value = result.measured[measure.name]
        stiffness = result.stiffness[measure.name]
        moved = f"{number(value)} {measure.unit}"
        column.add(measure_title(measure))
        # a movement without a load of its own has no stiffness, and is told as it is
        if stiffness is None:
            column.add(moved, INK, NORMAL + 1)
        else:
            column.add(f"{number(stiffness)} {measure.stiffness_unit}", INK, NORMAL + 1)
            column.add(f"moves {moved} under {said_load(measure)}")
        column.space()
    if not result.case.measures:
        node, size = result.largest_movement
        column.add(f"largest movement {number(size)}, node {node}")
        column.space()


class WordColumn:
    """The words to the right of a picture, one paragraph below another."""

    def __init__(self, figure: "Figure", left: float = 0.70, top: float = 0.87) -> None:
        self.figure = figure
        self.left = left
        self.y = top

    def add(self, words: str, colour: str = GREY, size: float = SMALL) -> None:
        # the column ends above the small print
        if not words or self.y < 0.1:
            return
        # fewer letters a line where they are larger
        text = fill(words, int(46 * SMALL / size))
        self.figure.text(
            self.left,
            self.y,
            text,
            fontsize=size,
            color=colour,
            ha="left",
            va="top",
            linespacing=1.25,
        )
        self.y -= (text.count("\n") + 1) * size * 1.36 / 72 / self.figure.get_figheight() + 0.004

    def space(self) -> None:
        self.y -= 0.014


def stress_picture(result: Result, table: StressTable, title: str, units: bool = True) -> "Figure":
    """Nominal stress of a load case: elements coloured by their peak, the peak of every tube listed."""
    if units:
        unit = "MPa"
    else:
        unit = "unit of the file"
    figure = new_figure(
        title,
        f"{result.case.title or result.case.name}; nominal stress in the tube walls, von Mises",
        table.caution,
    )
    axes = bare(figure.add_axes((0.02, 0.13, 0.66, 0.76)))
    peaks = table.von_mises.max(axis=1)
    # a model file may know no outline at all
    if not np.isnan(peaks).all():
        top = float(np.nanmax(peaks))
    else:
        top = 0.0
    _coloured_tubes(axes, result.model, result.model.xyz, peaks, top, f"nominal stress, {unit}")
    column = WordColumn(figure)
    for row in table.rows:
        # no yield strength, no share of it
        if row.utilisation is None or isnan(row.utilisation):
            share = ""
        else:
            share = f", {row.utilisation:.0%} of yield"
        column.add(f"{spoken(row.place.member)}, {row.place.words}")
        column.add(f"{number(row.von_mises)} {unit}{share}", INK, NORMAL)
        column.space()
    return figure


# --- modes --------------------------------------------------------------------------------------------------------
def modes_picture(modes: Modes, words: Sequence[ModeWords], title: str, notes: str) -> "Figure":
    """Mode shapes as a sheet of small pictures with frequency and words; `words` picks the modes that are shown."""
    figure = new_figure(
        title, "natural modes over the frame at rest; a mode has a shape but no size", notes
    )
    # three across is what stays readable on A4
    columns = min(3, len(words))
    rows = ceil(len(words) / columns)
    width = 0.96 / columns
    height = 0.78 / rows
    for place, word in enumerate(words):
        row, column = divmod(place, columns)
        left = 0.02 + column * width
        top = 0.885 - row * height
        figure.text(
            left + width / 2,
            top,
            f"{word.number}: {word.hz:.{HZ_DIGITS}f} Hz",
            fontsize=NORMAL,
            color=INK,
            ha="center",
            va="top",
            weight="bold",
        )
        figure.text(
            left + width / 2,
            top - 0.026,
            fill(word.title, 150 // columns),
            fontsize=SMALL,
            color=GREY,
            ha="center",
            va="top",
        )
        _mode(
            bare(figure.add_axes((left, top - 0.95 * height, width, 0.95 * height - 0.06))),
            modes,
            word.number - 1,
        )
    return figure


def _mode(axes: "Axes", modes: Modes, k: int) -> None:
    shape = modes.shapes[k][:, :3]
    model = modes.model
    # a mode has a shape and no size, so all are drawn alike
    largest = float(np.linalg.norm(shape, axis=1).max()) or 1.0
    draw_at_rest(axes, FLATTER, model)
    draw_tubes(axes, FLATTER, model, model.xyz + MODE_MOTION * model.span / largest * shape)
