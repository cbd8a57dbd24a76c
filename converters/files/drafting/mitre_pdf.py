"""All mitre templates as one PDF at 1:1, tiled over the sheets of the paper that a printer takes."""

import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING

from ..writing import write_bytes
from .template import CAPITAL, FONT, MARGIN, RULER, SMALL, STYLES, Picture, Xy

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INCH = 25.4
POINT = INCH / 72
EDGE = 8.0  # mm that a printer may not reach
OVERLAP = 12.0  # mm that neighbouring sheets share, to glue them
CROSS = 4.0  # mm, arms of the marks that are laid on one another


@dataclass(frozen=True)
class PaperSheet:
    """A window of a template that one sheet of paper shows; `left`, `low` in mm on the template."""

    left: float
    low: float
    number: int
    count: int


def tiles(picture: Picture, paper: Xy) -> list[PaperSheet]:
    """The sheets a template takes, row by row from the top left; one where it fits the paper."""
    # a rounding more than the paper is still one sheet
    if picture.width <= paper[0] + 1e-9 and picture.height <= paper[1] + 1e-9:
        # the template's top left comes to the paper's top left
        return [PaperSheet(0.0, picture.height - paper[1], 1, 1)]
    # neighbours share a strip, and neither prints into the printer's edge
    step = [side - 2 * EDGE - OVERLAP for side in paper]
    across = ceil((picture.width - 2 * EDGE - OVERLAP) / step[0])
    down = ceil((picture.height - 2 * EDGE - OVERLAP) / step[1])
    found: list[PaperSheet] = []
    for row in range(down):
        for column in range(across):
            # y runs up the page, so the first row is the highest
            low = picture.height - paper[1] - row * step[1]
            found.append(PaperSheet(column * step[0], low, len(found) + 1, across * down))
    return found


def write_pdf(pictures: Sequence[Picture], path: Path, paper: Xy, force: bool = False) -> None:
    """Write every template at 1:1, letters embedded. Raises InputError as `write_bytes` does."""
    from matplotlib import rc_context
    from matplotlib.backends.backend_pdf import PdfPages

    # into memory: the file appears whole or not at all
    held = io.BytesIO()
    # None leaves the dates out, so that the same templates give the same bytes
    undated = {"CreationDate": None, "ModDate": None, "Title": "Mitre templates"}
    # 42 embeds the letters as TrueType, whatever fonts the printer's machine has
    with rc_context({"pdf.fonttype": 42}), PdfPages(held, metadata=undated) as pages:
        for picture in pictures:
            sheets = tiles(picture, paper)
            for tile in sheets:
                pages.savefig(_sheet(picture, tile, sheets, paper))
    write_bytes(path, held.getvalue(), force)


def _sheet(picture: Picture, tile: PaperSheet, sheets: Sequence[PaperSheet], paper: Xy) -> "Figure":
    """One sheet of paper; its axes are mm of the template."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(paper[0] / INCH, paper[1] / INCH))
    axes = figure.add_axes((0, 0, 1, 1))
    # axes of the template's own mm over the whole sheet: what is drawn is 1:1
    axes.set(xlim=(tile.left, tile.left + paper[0]), ylim=(tile.low, tile.low + paper[1]))
    axes.axis("off")
    for stroke in picture.strokes:
        _, colour, width, dashes = STYLES[stroke.style]
        axes.plot(
            stroke.points[:, 0],
            stroke.points[:, 1],
            color=colour,
            linewidth=width / POINT,
            linestyle=_dashes(dashes, width),
        )
    for words in picture.words:
        axes.text(
            *words.at,
            words.text,
            # as in SVG: the capitals are what is asked for, the size is the em's
            fontsize=words.height / CAPITAL / POINT,
            fontfamily=FONT,
            rotation=words.rotation,
            # turned about its own beginning, as the SVG does
            rotation_mode="anchor",
            ha="center" if words.centred else "left",
            va="baseline",
            # words may not run over the edge onto the next sheet's strip
            clip_on=True,
        )
    # a single sheet has its own ruler and needs no crosses
    if tile.count > 1:
        _join(axes, picture, tile, sheets, paper)
    return figure


def _dashes(pattern: str, width: float) -> "str | tuple[float, tuple[float, ...]]":
    """Millimetres on paper as matplotlib counts them, in widths of the line."""
    if not pattern:
        return "solid"
    return 0.0, tuple(float(mm) / width for mm in pattern.split())


def _join(
    axes: "Axes", picture: Picture, tile: PaperSheet, sheets: Sequence[PaperSheet], paper: Xy
) -> None:
    """What a template on several sheets needs: which sheet this is, marks to lay on one another, a ruler on each."""
    small = SMALL / CAPITAL / POINT
    foot = tile.low + EDGE
    axes.text(
        tile.left + EDGE,
        foot,
        f"{picture.title} - sheet {tile.number} of {tile.count}: lay the crosses on one another, then glue",
        fontsize=small,
    )
    for x, y in _crosses(sheets, paper):
        for dx, dy in ((CROSS, 0.0), (0.0, CROSS)):
            axes.plot((x - dx, x + dx), (y - dy, y + dy), color="#c00000", linewidth=0.5)
    # on every sheet: one may come out of the printer scaled when the next does not
    start = tile.left + paper[0] - MARGIN - RULER
    axes.plot((start, start + RULER), (foot + 5, foot + 5), color="black", linewidth=0.7)
    for end in (start, start + RULER):
        axes.plot((end, end), (foot + 3.5, foot + 6.5), color="black", linewidth=0.7)
    axes.text(start + 2, foot + 6, "100 mm", fontsize=small)


def _crosses(sheets: Sequence[PaperSheet], paper: Xy) -> Iterator[Xy]:
    """In the middle of each strip that two sheets share."""
    inner = [side - 2 * EDGE - OVERLAP for side in paper]
    # sets: sheets of one row share their edges
    across = {tile.left for tile in sheets}
    down = {tile.low for tile in sheets}
    for left in across:
        for low in down:
            yield left + EDGE + OVERLAP / 2, low + paper[1] - EDGE - OVERLAP / 2
            yield left + EDGE + inner[0] + OVERLAP / 2, low + EDGE + OVERLAP / 2
