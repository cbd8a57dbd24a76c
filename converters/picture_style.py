"""How every picture looks: paper white, dark ink, one accent per meaning; colours that colour-blind eyes tell apart.

Colours after Okabe & Ito (2008), "Color Universal Design": blue, vermilion, orange and bluish green stay apart
for every common kind of colour blindness; line styles and words repeat what a colour says.
"""

from pathlib import Path
from typing import TYPE_CHECKING, Any

from model.errors import InputError

from .files import new_file

if TYPE_CHECKING:
    from matplotlib.figure import Figure

ENDINGS = (".png", ".svg", ".pdf")
A4 = (11.69, 8.27)  # landscape, inch
DPI = 150  # 1750 pixels across: sharp on A4, small enough for a mail
INK, GREY, FAINT, PAPER = "#222222", "#6e6e6e", "#c4c4c4", "#ffffff"
BLUE, VERMILION, ORANGE, GREEN = "#0072b2", "#d55e00", "#e69f00", "#009e73"
STEEL = "#b9c2c9"  # a bare tube
SMALL, NORMAL, TITLE = 8.5, 10.0, 15.0  # points

_RC: Any = {"font.family": "DejaVu Sans", "svg.hashsalt": "droptrail", "svg.fonttype": "path", "pdf.fonttype": 42,
       "axes.unicode_minus": True, "path.simplify": False}


def new_figure(size: tuple[float, float] = A4) -> "Figure":
    """An empty sheet of paper; no window, no global state of matplotlib."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=size, dpi=DPI, facecolor=PAPER)
    FigureCanvasAgg(figure)
    return figure


def headline(figure: "Figure", title: str, words: str = "") -> None:
    """Title and one line below it, at the upper left edge."""
    figure.text(0.035, 0.965, title, fontsize=TITLE, color=INK, ha="left", va="top", weight="bold")
    if words:
        figure.text(0.035, 0.918, words, fontsize=NORMAL, color=GREY, ha="left", va="top")


def footer(figure: "Figure", words: str) -> None:
    """Small print along the lower edge."""
    figure.text(0.035, 0.022, words, fontsize=7.5, color=GREY, ha="left", va="bottom")


def check_ending(path: Path) -> None:
    """Raises InputError for an ending no picture is written as."""
    if path.suffix.lower() not in ENDINGS:
        raise InputError(f"{path.name}: a picture is written as {', '.join(ENDINGS)}; choose one of these endings")


def save(figure: "Figure", path: Path, force: bool = False) -> None:
    """Write the figure, the same bytes every time: fixed ids, no date.

    Raises
    ------
    InputError
        For another ending, an existing file without `force`, or a folder that cannot be written.
    """
    import matplotlib

    check_ending(path)
    ending = path.suffix.lower()[1:]
    undated: dict[str, Any] = {"svg": {"Date": None}, "pdf": {"CreationDate": None}, "png": {}}
    with new_file(path, force) as temporary, matplotlib.rc_context(_RC):
        figure.savefig(temporary, format=ending, dpi=DPI, metadata=undated[ending])
