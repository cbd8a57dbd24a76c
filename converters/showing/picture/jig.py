"""The jig sheet on paper: the side view above, the tables below, as pages of one PDF."""

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from ....model.findings import Finding
from ...files.drafting.frame import side_view
from ...files.drafting.mitre import PAPERS
from ...inputs import Reading
from ..table import Table
from ..words import CAUTION
from .paper import PicturePaper
from .style import GREY, INK, PAPER, house_style, one_line, save_pages

if TYPE_CHECKING:
    from matplotlib.figure import Figure

INCH = 25.4
EDGE = 14.0  # mm, margins of the page
LINE = 4.6  # mm from row to row
TITLE = 7.0  # mm a table's title takes
GAP = 6.0
DRAWING = 88.0  # mm of the first page
LETTERS = 7.5  # points
HEADING = 9.0


def write_jig_sheet(
    reading: Reading, tables: Sequence[Table], path: Path, paper: str = "A4", force: bool = False
) -> tuple[Finding, ...]:
    """Write the sheet as PDF; returns what the drawing leaves out. Raises InputError as `save_pages` does."""
    findings: list[Finding] = []
    with house_style(findings):
        pages = _Pages(reading, PAPERS[paper])
        findings += pages.first()
        for table in tables:
            pages.put(table)
        save_pages(pages.figures(), path, force)
    return tuple(findings)


class _Pages:
    """Puts one table below another and begins a new page where the next does not fit."""

    def __init__(self, reading: Reading, size: tuple[float, float]) -> None:
        self.reading = reading
        self.width, self.height = size
        self.made: list[Figure] = []
        self.y = 0.0  # mm from the lower edge, where the next table begins

    def first(self) -> list[Finding]:
        """The first page with the side view."""
        self._begin()
        figure = self.made[-1]
        self.y -= DRAWING
        box = (
            EDGE / self.width,
            self.y / self.height,
            1 - 2 * EDGE / self.width,
            DRAWING / self.height,
        )
        found = side_view(
            PicturePaper(figure.add_axes(box)), self.reading.need_bicycle(), (None, None)
        )
        self.y -= GAP
        return [f for f in found if f.severity != "info"]

    def put(self, table: Table) -> None:
        """One table, whole."""
        notes = 1 if table.notes else 0
        needed = TITLE + LINE * (len(table.rows) + 1 + notes) + GAP
        if self.y - needed < EDGE + LINE:
            self._begin()
        self._say(EDGE, self.y, table.title, HEADING, weight="bold")
        self.y -= TITLE
        for heading, x, align in self._places(table):
            self._say(x, self.y, heading, LETTERS, align, GREY)
        self.y -= LINE
        for row in table.rows:
            for cell, column, (_, x, align) in zip(
                row, table.columns, self._places(table), strict=True
            ):
                self._say(x, self.y, column.text(cell), LETTERS, align)
            self.y -= LINE
        if table.notes:
            self._say(EDGE, self.y, table.notes, LETTERS - 1, colour=GREY)
            self.y -= LINE
        self.y -= GAP

    def figures(self) -> "Iterator[Figure]":
        """The pages with their numbers."""
        for k, figure in enumerate(self.made, 1):
            figure.text(
                1 - EDGE / self.width,
                (EDGE - 6) / self.height,
                f"page {k} of {len(self.made)}",
                fontsize=LETTERS - 1,
                color=GREY,
                ha="right",
            )
            yield figure

    def _begin(self) -> None:
        from matplotlib.figure import Figure

        figure = Figure(figsize=(self.width / INCH, self.height / INCH), facecolor=PAPER)
        self.made.append(figure)
        self.y = self.height - EDGE
        name = self.reading.need_bicycle().name or self.reading.source
        self._say(EDGE, self.y, f"Jig sheet: {one_line(name, 60)}", HEADING + 3, weight="bold")
        figure.text(
            EDGE / self.width,
            (EDGE - 6) / self.height,
            f"{CAUTION} Print at any size: the numbers hold, not the drawing.",
            fontsize=LETTERS - 2.5,
            color=GREY,
        )
        self.y -= TITLE + 3

    def _places(self, table: Table) -> list[tuple[str, float, str]]:
        """(heading, mm from the left, alignment) of each column: the first takes two shares, the others one."""
        share = (self.width - 2 * EDGE) / (len(table.columns) + 1)
        found: list[tuple[str, float, str]] = []
        for k, column in enumerate(table.columns):
            left = EDGE + (share * (k + 1) if k else 0.0)
            if column.align == "right":
                left += 0.85 * share
            found.append((column.title, left, column.align))
        return found

    def _say(
        self,
        x: float,
        y: float,
        words: str,
        size: float,
        align: str = "left",
        colour: str = INK,
        weight: str = "normal",
    ) -> None:
        self.made[-1].text(
            x / self.width,
            y / self.height,
            words,
            fontsize=size,
            ha=align,
            va="top",
            color=colour,
            weight=weight,
        )
