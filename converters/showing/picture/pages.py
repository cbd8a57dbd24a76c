"""Pages of a PDF with the side view above and tables below: the jig sheet, the customer's sheet."""

from collections.abc import Iterator, Sequence
from textwrap import wrap
from typing import TYPE_CHECKING

from ....model.findings import Finding
from ....model.frame.bicycle import Bicycle
from ...files.drafting.frame import side_view
from ..table import Table
from .paper import PicturePaper
from .style import GREY, INK, PAPER, one_line

if TYPE_CHECKING:
    from matplotlib.figure import Figure

INCH = 25.4
EDGE = 14.0  # mm, margins of the page
LINE = 4.6  # mm from row to row
TITLE = 7.0  # mm a table's title takes
GAP = 5.0
DRAWING = 78.0  # mm of the first page
LETTERS = 7.5  # points
HEADING = 9.0
# measured on broad letters, so that no line runs off the page
LETTERS_A_MM = 0.72  # of running text in `LETTERS`, on the broad side


class Pages:
    """Puts one table below another and begins a new page where the next does not fit."""

    def __init__(self, title: str, small_print: str, size: tuple[float, float]) -> None:
        self.title = title
        self.small_print = small_print
        self.width, self.height = size
        self.made: list[Figure] = []
        self.y = 0.0  # mm from the lower edge, where the next table begins

    def first(self, bicycle: Bicycle) -> list[Finding]:
        """The first page with the side view; returns what it leaves out."""
        self._begin()
        figure = self.made[-1]
        self.y -= DRAWING
        box = (
            EDGE / self.width,
            self.y / self.height,
            1 - 2 * EDGE / self.width,
            DRAWING / self.height,
        )
        found = side_view(PicturePaper(figure.add_axes(box)), bicycle, (None, None))
        self.y -= GAP
        return [f for f in found if f.severity != "info"]

    def put(self, table: Table) -> None:
        """One table over the whole width, on this page or the next."""
        self._room_for(self._height(table))
        self.y = self._drawn(table, EDGE, self.width - 2 * EDGE)

    def pair(self, left: Table, right: Table) -> None:
        """Two tables beside one another."""
        self._room_for(max(self._height(left), self._height(right)))
        half = (self.width - 2 * EDGE - GAP) / 2
        below_left = self._drawn(left, EDGE, half)
        below_right = self._drawn(right, EDGE + half + GAP, half)
        self.y = min(below_left, below_right)

    def _height(self, table: Table) -> float:
        notes = 1 if table.notes else 0
        return TITLE + LINE * (len(table.rows) + 1 + notes) + GAP

    def _room_for(self, height: float) -> None:
        # the gap below a table may fall off the page, the table may not
        if self.y - height + GAP < EDGE:
            self._begin()

    def _drawn(self, table: Table, left: float, width: float) -> float:
        """Draws a table from `left` on; returns where the next may begin."""
        places = self._places(table, left, width)
        y = self.y
        self._say(left, y, table.title, HEADING, weight="bold")
        y -= TITLE
        for heading, x, align in places:
            self._say(x, y, heading, LETTERS, align, GREY)
        y -= LINE
        for row in table.rows:
            for cell, column, (_, x, align) in zip(row, table.columns, places, strict=True):
                self._say(x, y, column.text(cell), LETTERS, align)
            y -= LINE
        if table.notes:
            self._say(left, y, table.notes, LETTERS - 1, colour=GREY)
            y -= LINE
        return y - GAP

    def words(self, title: str, lines: Sequence[str]) -> None:
        """Running text under a title, whole."""
        letters = int((self.width - 2 * EDGE) * LETTERS_A_MM)
        # whole lines first: how high the words are is known before they are written
        broken = [part for line in lines for part in wrap(line, letters)]
        self._room_for(TITLE + LINE * len(broken) + GAP)
        self._say(EDGE, self.y, title, HEADING, weight="bold")
        self.y -= TITLE
        for line in broken:
            self._say(EDGE, self.y, line, LETTERS)
            self.y -= LINE
        self.y -= GAP

    def figures(self) -> "Iterator[Figure]":
        """The pages with their numbers."""
        # only at the end: a page does not know how many follow
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
        self._say(EDGE, self.y, one_line(self.title, 70), HEADING + 3, weight="bold")
        figure.text(
            EDGE / self.width,
            (EDGE - 6) / self.height,
            self.small_print,
            fontsize=LETTERS - 2.5,
            color=GREY,
        )
        self.y -= TITLE + 3

    def _places(self, table: Table, left: float, width: float) -> list[tuple[str, float, str]]:
        """(heading, mm from the left, alignment) of each column: the first takes two shares, the others one."""
        count = len(table.columns)
        if count == 2:  # words and one figure: the words need the room
            share = width / 4
            begins = [0.0, 3 * share]
        else:
            share = width / (count + 1)
            begins = [0.0, *(share * (k + 1) for k in range(1, count))]
        found: list[tuple[str, float, str]] = []
        for begin, column in zip(begins, table.columns, strict=True):
            x = left + begin
            if column.align == "right":
                # a share of the column, not of the page: numbers stand under their headings
                x += 0.95 * share
            found.append((column.title, x, column.align))
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
