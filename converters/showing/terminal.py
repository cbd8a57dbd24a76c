"""A table as lines of a terminal: as wide as the window, no word and no number broken where it can be helped."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import zip_longest
from textwrap import wrap

from .table import Table

GAP = 3  # characters between two columns
MARGIN = " "  # before every line


@dataclass(frozen=True)
class _Span:
    """Widths of one column, characters: as narrow as its longest word allows, as wide as its longest cell asks, and
    `body`, below which a cell of the rows takes a second line and not the heading alone."""

    narrow: int
    body: int
    wide: int


def lines(table: Table, width: int) -> list[str]:
    """Headings, a rule, and the rows; words wrap inside their column, at spaces only.

    In a width that cannot hold the longest words the lines run over: a broken number could be read as another one.
    """
    read = table.for_reading()
    texts = read.texts()
    spans = [_span(read, texts, k) for k in range(len(read.columns))]
    gaps = GAP * (len(spans) - 1)
    # the margin and the gaps are never given up
    widths = fitted(spans, width - len(MARGIN) - gaps)
    aligns = [column.align for column in read.columns]
    body = [line for row in texts for line in _wrapped(row, widths, aligns)]
    rule = "─" * (sum(widths) + gaps)
    return [MARGIN + line for line in (*_wrapped(read.headings, widths, aligns), rule, *body)]


def _span(table: Table, texts: Sequence[Sequence[str]], k: int) -> _Span:
    column = table.columns[k]
    cells = [row[k] for row in texts]
    # a heading breaks at spaces too, and its longest word sets the least width
    heading = max((len(word) for word in column.title.split()), default=0)
    widest = max((len(cell) for cell in cells), default=0)
    if column.align == "right":
        # a number and its unit stay on one line
        narrow = max(heading, widest)
        return _Span(narrow, narrow, max(narrow, len(column.title)))
    longest = max((len(word) for cell in cells for word in cell.split()), default=0)
    narrow = max(heading, longest)
    return _Span(narrow, max(narrow, widest), max(len(column.title), widest))


def fitted(spans: Sequence[_Span], room: int) -> list[int]:
    """Widths within `room` where the words allow it: the widest column gives way first, and headings before cells.

    A heading on two lines costs one line of the table, a cell on two lines one for every row like it.
    """
    widths = [span.wide for span in spans]
    _give_way(widths, [span.body for span in spans], room)
    # what is still too wide then runs over, and stays whole
    _give_way(widths, [span.narrow for span in spans], room)
    return widths


def _give_way(widths: list[int], least: Sequence[int], room: int) -> None:
    """Narrow the widest down to what each needs at least, until all fit."""
    # one character at a time, so that equal columns give way alike
    while sum(widths) > room:
        able = [k for k, needed in enumerate(least) if widths[k] > needed]
        if not able:
            break
        widths[max(able, key=lambda k: widths[k])] -= 1


def _wrapped(cells: Sequence[str], widths: Sequence[int], aligns: Sequence[str]) -> list[str]:
    """One row as lines."""
    parts = [_folded(cell, width) for cell, width in zip(cells, widths, strict=True)]
    out = []
    for texts in zip_longest(*parts, fillvalue=""):
        set_flush = map(_flush, texts, widths, aligns)
        out.append((" " * GAP).join(set_flush).rstrip())
    return out


def _flush(text: str, width: int, align: str) -> str:
    if align == "right":
        return text.rjust(width)
    return text.ljust(width)


def _folded(text: str, width: int) -> list[str]:
    # hyphens stay together: they stand in codes and tube names
    return wrap(text, width, break_long_words=False, break_on_hyphens=False) or [""]
