"""The Campbell diagram: the pushes of pedalling rising with cadence, the modes as level lines."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from ....model.findings import Finding
from ....model.vibration.cadence import Campbell, campbell
from ....model.vibration.mode_words import ModeWords
from ..table import HZ_DIGITS
from .style import BEHIND, BLUE, GREY, INK, PRINT, SMALL, VERMILION, write_picture

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_PUSH = {"sideways": VERMILION, "up and down": BLUE}
_MODE = {"sideways": (VERMILION, "--"), "in plane": (BLUE, "-"), "mixed": (GREY, "-.")}


def draw_campbell(
    words: Sequence[ModeWords], cadence: tuple[float, float], path: str | Path, force: bool = False
) -> tuple[Finding, ...]:
    """Write the diagram to a .png, .svg or .pdf file; raises InputError as `write_picture` does."""
    return write_picture(lambda: _figure(campbell(words, cadence)), path, force)


def _figure(diagram: Campbell) -> "Figure":
    from matplotlib.figure import Figure

    figure = Figure(figsize=(8.2, 5.2), layout="constrained")
    axes = figure.add_subplot()
    # room above the highest push, so that its words stay on the sheet
    top = 1.15 * max(float(line.max()) for line in diagram.lines.values())
    for order, line in diagram.lines.items():
        # odd orders push sideways, even ones up and down: left and right leg take turns
        if order % 2:
            push = "sideways"
        else:
            push = "up and down"
        axes.plot(diagram.cadences, line, color=_PUSH[push], linewidth=2.4)
        axes.annotate(
            f"{order} per turn, {push}",
            # at the right end, where the lines lie farthest apart
            (diagram.cadences[-1], line[-1]),
            xytext=(-6, 6),
            ha="right",
            textcoords="offset points",
            color=_PUSH[push],
            fontsize=SMALL,
            weight="bold",
            bbox=BEHIND,
        )
    # a mode above the highest push meets none of them within this cadence
    for word in (w for w in diagram.levels if w.hz <= 0.93 * top):
        colour, style = _MODE[word.plane]
        axes.axhline(word.hz, color=colour, linestyle=style, linewidth=1)
        axes.annotate(
            f"{word.hz:.{HZ_DIGITS}f} Hz {word.title}",
            (diagram.cadences[0], word.hz),
            xytext=(4, 3),
            textcoords="offset points",
            fontsize=PRINT,
            color=INK,
            bbox=BEHIND,
        )
    # where a push meets a mode: what the diagram is looked at for
    for gap in diagram.crossings:
        axes.plot(gap.meets_rpm, gap.hz, "o", color=INK, markersize=6)
    axes.set(
        xlabel="cadence, rpm",
        ylabel="frequency, Hz",
        xlim=(diagram.cadences[0], diagram.cadences[-1]),
        ylim=(0, top),
        title="Pushes of pedalling (rising) against modes (level); dots: they meet",
    )
    axes.title.set_fontsize(11)
    return figure
