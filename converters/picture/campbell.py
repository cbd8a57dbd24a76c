"""The Campbell diagram: the pushes of pedalling rising with cadence, the modes as level lines."""

from collections.abc import Sequence
from pathlib import Path

from converters.files import save_figure
from model.errors import InputError
from model.vibration.cadence import campbell
from model.vibration.mode_words import ModeWords

_PUSH = {"sideways": "#b5651d", "up and down": "#2f5d7c"}
_PAPER = {"facecolor": "white", "edgecolor": "none", "pad": 0.8, "alpha": 0.85}
_MODE = {"sideways": ("#b5651d", "--"), "in plane": ("#2f5d7c", "-"), "mixed": ("#555555", "-.")}


def draw_campbell(words: Sequence[ModeWords], cadence: tuple[float, float], path: str | Path,
                  force: bool = False) -> None:
    """Write the diagram. Raises InputError for an ending matplotlib does not know or a file that exists."""
    if Path(path).suffix.lower() not in (".png", ".svg", ".pdf"):
        raise InputError(f"{path}: the picture must end in .png, .svg or .pdf")
    from matplotlib.figure import Figure

    diagram = campbell(words, cadence)
    figure = Figure(figsize=(8.2, 5.2), layout="constrained")
    axes = figure.add_subplot()
    top = 1.15 * max(float(line.max()) for line in diagram.lines.values())
    for order, line in diagram.lines.items():
        push = "sideways" if order % 2 else "up and down"
        axes.plot(diagram.cadences, line, color=_PUSH[push], linewidth=2.4)
        axes.annotate(f"{order} per turn, {push}", (diagram.cadences[-1], line[-1]), xytext=(-6, 6), ha="right",
                      textcoords="offset points", color=_PUSH[push], fontsize=9, weight="bold", bbox=_PAPER)
    for word in (w for w in diagram.levels if w.hz <= 0.93 * top):
        colour, style = _MODE[word.plane]
        axes.axhline(word.hz, color=colour, linestyle=style, linewidth=1)
        axes.annotate(f"{word.hz:.1f} Hz {word.title}", (diagram.cadences[0], word.hz), xytext=(4, 3),
                      textcoords="offset points", fontsize=8, color="#333333", bbox=_PAPER)
    for gap in diagram.crossings:
        axes.plot(gap.meets_rpm, gap.hz, "o", color="#222222", markersize=6)
    axes.set(xlabel="cadence, rpm", ylabel="frequency, Hz", xlim=(diagram.cadences[0], diagram.cadences[-1]),
             ylim=(0, top), title="Pushes of pedalling (rising) against modes (level); dots: they meet")
    axes.title.set_fontsize(11)
    save_figure(figure, path, force)
