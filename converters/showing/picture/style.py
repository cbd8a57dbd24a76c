"""How every picture looks and how it is written: white paper, dark ink, colours that colour-blind eyes tell apart.

Colours after Okabe & Ito (2008), "Color Universal Design": blue, vermilion, orange and bluish green stay apart
for every common kind of colour blindness; line widths, hatching and words repeat what a colour says.
"""

import io
import warnings
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from textwrap import fill, shorten
from typing import TYPE_CHECKING, Any

from ....model.errors import InputError
from ....model.findings import Finding
from ...files.writing import write_bytes

if TYPE_CHECKING:
    from matplotlib.colors import Colormap
    from matplotlib.figure import Figure

ENDINGS = (".png", ".svg", ".pdf")
A4 = (11.69, 8.27)  # landscape, inch
DPI = 150  # 1750 pixels across: sharp on A4, small enough for a mail
INK = "#222222"
GREY = "#6e6e6e"
FAINT = "#b4b4b4"
PAPER = "#ffffff"
BLUE = "#0072b2"
VERMILION = "#d55e00"
ORANGE = "#e69f00"
GREEN = "#009e73"
STEEL = "#b9c2c9"  # a bare tube
# words that cover what is below them
BEHIND = {
    "facecolor": PAPER,
    "edgecolor": "none",
    "pad": 0.8,
    "alpha": 0.85,
}
# points; 7.5 is 2.6 mm on the paper
PRINT = 7.5
SMALL = 8.5
NORMAL = 10.0
TITLE = 15.0

# Set on purpose, so that a matplotlibrc of the user changes nothing and every file comes out byte for byte the same.
# No mathematics in texts: a bicycle may be called "$ 500 special".
_RC: Any = {
    "font.family": "DejaVu Sans",
    "svg.hashsalt": "droptrail",
    "svg.fonttype": "path",
    "pdf.fonttype": 42,
    "text.parse_math": False,
    "hatch.linewidth": 1.0,
}
# a date would make two runs of the same command differ
UNDATED: dict[str, dict[str, Any]] = {".svg": {"Date": None}, ".pdf": {"CreationDate": None}}


@contextmanager
def house_style(findings: list[Finding]) -> Iterator[None]:
    """Whatever is drawn and saved inside looks the same on every machine; letters the font lacks become a finding."""
    import matplotlib

    with matplotlib.rc_context(), warnings.catch_warnings(record=True) as told:
        # first the library's own, then ours: a user's settings change nothing
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(_RC)
        # "always": the warning of a missing letter would else come once and then be silent
        warnings.simplefilter("always")
        yield
    # by the words of the library's warning, which has no class of its own for it
    if any("missing from" in str(warning.message) for warning in told):
        findings.append(
            Finding(
                "picture-letters-missing",
                "info",
                "some letters of a name are not in the picture's "
                "font and show as boxes; use Latin, Greek or Cyrillic letters for a clean picture",
            )
        )


def check_ending(path: str | Path) -> None:
    """Raises InputError for an ending no picture is written as."""
    path = Path(path)
    if path.suffix.lower() not in ENDINGS:
        raise InputError(
            f"{path.name}: a picture is written as {', '.join(ENDINGS)}; choose one of these endings"
        )


def write_picture(
    draw: Callable[[], "Figure"], path: str | Path, force: bool = False
) -> tuple[Finding, ...]:
    """Draw one figure in the house style and write it; returns what there is to say about it.

    Raises InputError for another ending, or an existing file without `force`.
    """
    check_ending(path)
    findings: list[Finding] = []
    with house_style(findings):
        save_figure(draw(), path, force)
    return tuple(findings)


def save_figure(figure: "Figure", path: str | Path, force: bool = False) -> None:
    """Write a figure in the format of the ending, atomically, with fixed ids and no date; within `house_style`.

    Raises InputError as `write_picture` does.
    """
    check_ending(path)
    ending = Path(path).suffix.lower()
    drawn = (
        io.BytesIO()
    )  # in memory first: no library of pictures then has to cope with a full disk
    figure.savefig(drawn, format=ending[1:], dpi=DPI, metadata=UNDATED.get(ending))
    write_bytes(path, drawn.getvalue(), force)


def save_pages(figures: "Iterable[Figure]", path: str | Path, force: bool = False) -> None:
    """Write figures as the pages of one PDF, atomically, without a date; within `house_style`."""
    from matplotlib.backends.backend_pdf import PdfPages

    drawn = io.BytesIO()
    with PdfPages(drawn, metadata=UNDATED[".pdf"]) as pages:
        for figure in figures:
            pages.savefig(figure, dpi=DPI)
    write_bytes(path, drawn.getvalue(), force)


def new_figure(title: str, words: str, small_print: str = "") -> "Figure":
    """A sheet of A4 across with a title, one line below it, and small print along the lower edge."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=A4, dpi=DPI, facecolor=PAPER)
    FigureCanvasAgg(figure)
    figure.text(
        0.035,
        0.965,
        one_line(title, 64),
        fontsize=TITLE,
        color=INK,
        ha="left",
        va="top",
        weight="bold",
    )
    figure.text(
        0.035, 0.918, one_line(words, 130), fontsize=NORMAL, color=GREY, ha="left", va="top"
    )
    figure.text(
        0.035, 0.022, fill(small_print, 185), fontsize=PRINT, color=GREY, ha="left", va="bottom"
    )
    return figure


def one_line(words: str, width: int) -> str:
    """Words on one line, cut with an ellipsis where they would run off the sheet."""
    if " " in words:
        return shorten(words, width, placeholder=" …")
    return words[:width]


def scale_of_colours() -> "Colormap":
    """Little is pale, much is dark: cividis, even for colour-blind eyes and in grey print, without its darkest end."""
    from matplotlib import colormaps
    from matplotlib.colors import ListedColormap

    return ListedColormap(colormaps["cividis_r"]([k / 255 * 0.88 for k in range(256)]))
