"""A table as markdown, for pages that stand in a repository or go into a letter."""

from collections.abc import Iterable, Sequence

from .table import Column, Table


def as_markdown(table: Table, title: bool = True) -> str:
    """The table with its title above and its notes below; numbers flush right.

    title : whether to write the heading; a page that has its own leaves it out.
    """
    # columns that only files carry would be noise on a page
    read = table.for_reading()
    lines = []
    if title and table.title:
        lines += [f"## {_plain(table.title)}", ""]
    lines.append(_line([column.title for column in read.columns]))
    # the rule is markdown itself: escaped, it would be read as text
    lines.append(_line([_rule(column) for column in read.columns], escape=False))
    lines += [_line(row) for row in read.texts()]
    if table.notes:
        lines += ["", _plain(table.notes)]
    return "\n".join(lines) + "\n"


def plain_table(heads: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """A table of cells that are said already, for pages that hold marks of their own."""
    said = []
    for line in (heads, ["---"] * len(heads), *rows):
        # a bar inside a cell would end it
        cells = [str(cell).replace("|", "\\|") for cell in line]
        said.append(f"| {' | '.join(cells)} |")
    return "\n".join(said)


def _rule(column: Column) -> str:
    if column.align == "right":
        return "---:"
    return "---"


def _line(cells: list[str], escape: bool = True) -> str:
    if escape:
        cells = [_plain(cell) for cell in cells]
    return f"| {' | '.join(cells)} |"


def _plain(text: str) -> str:
    """No text of a file can end a cell, begin a tag or break the line."""
    one_line = " ".join(text.split())
    # a backslash first, or it would undo the escaping that comes after
    return one_line.replace("\\", "\\\\").replace("|", "\\|").replace("<", "&lt;")
