"""How results are printed: short tables with units, findings, the verdict last; or one JSON object."""

import json
import sys
from collections.abc import Iterable, Sequence
from math import isfinite
from shutil import get_terminal_size
from textwrap import fill
from typing import TYPE_CHECKING, Any

import click

from ..converters.showing.words import CAUTION, number, signed
from ..model.findings import Finding

if TYPE_CHECKING:
    from ..converters.showing.table import Table
    from ..model.assumption import Assumed

__all__ = [
    "CAUTION",
    "assumed",
    "exit_code",
    "findings",
    "noted",
    "number",
    "paragraph",
    "print_json",
    "serious",
    "shown",
    "signed",
    "table",
]

LEAST = (
    80  # columns a table gets: in a narrower window lines run over, but no number is broken in two
)
PIPED = 118  # columns into a file, as running text


def print_json(value: dict[str, Any]) -> None:
    """One JSON object on stdout; NaN and infinity become null."""
    print(json.dumps(_strict(value), indent=1, ensure_ascii=False))


def _strict(value: Any) -> Any:
    if isinstance(value, float):
        # JSON knows neither, and a reader would stop at the word NaN
        if isfinite(value):
            return value
        return None
    # keys may be numbers, such as modes; in JSON they are texts
    if isinstance(value, dict):
        return {str(k): _strict(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_strict(v) for v in value]
    # numpy's numbers and arrays are not JSON's
    if hasattr(value, "tolist"):
        return _strict(value.tolist())
    return value


def table(title: str, columns: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """A plain table; the first column is text, the others are set flush right when they hold numbers."""
    from rich import box
    from rich.console import Console
    from rich.table import Table as Drawn
    from rich.text import Text

    # texts first: a column is flush right only if all of its cells are numbers
    cells = [list(map(text_of, row)) for row in rows]
    drawn = Drawn(box=box.SIMPLE_HEAD, pad_edge=False)
    for k, name in enumerate(columns):
        # the first column holds names, also where they happen to be numbers
        numbers = k > 0 and all(_numeric(row[k]) for row in cells)
        drawn.add_column(
            Text(name),
            justify="right" if numbers else "left",
            # folded, not cut: a name may run over, but nothing of it may go missing
            overflow="fold",
            # a number broken over two lines reads as two numbers
            min_width=max(len(row[k]) for row in cells) if numbers and cells else None,
        )
    for row in cells:
        # as Text: brackets in a name would be taken for markup
        drawn.add_row(*(Text(cell) for cell in row))
    console = Console(
        file=sys.stdout,
        soft_wrap=False,
        # the library would else colour what it takes for numbers and paths
        highlight=False,
        width=max(LEAST, get_terminal_size().columns) if sys.stdout.isatty() else 132,
    )
    console.print(Text(title, style="bold"))
    console.print(drawn)


def shown(table: "Table", title: str = "") -> None:
    """A typed table under its title, or under another one; its notes are left to the caller."""
    from ..converters.showing.terminal import lines

    heading = title or table.title
    # into a file there is no window, and the width must not hang on the machine's
    if sys.stdout.isatty():
        columns = max(LEAST, get_terminal_size().columns)
        print(click.style(heading, bold=True))
    else:
        columns = PIPED
        print(heading)
    print()
    for line in lines(table, columns):
        print(line)
    print()


def text_of(cell: object) -> str:
    """A cell as text: numbers to sensible digits, None as a dash."""
    if cell is None:
        return "-"
    # before float and int: True is one of them
    if isinstance(cell, bool):
        if cell:
            return "yes"
        # in capitals, since it is what the eye should stop at
        return "NO"
    if isinstance(cell, float):
        return number(cell)
    return str(cell)


def _numeric(cell: str) -> bool:
    return (
        cell == "-"
        # signs and exponents are no digits and are taken off before the test
        or cell.lstrip("+-").replace(".", "", 1).replace("e-", "", 1).replace("e+", "", 1).isdigit()
    )


def findings(found: Iterable[Finding]) -> None:
    """Findings, the gravest first, one line each."""
    order = {"error": 0, "warning": 1, "info": 2}
    # sorted keeps the order within one severity, which is that of the work
    for finding in sorted(found, key=lambda f: order[f.severity]):
        if finding.where:
            place = f" [{finding.where}]"
        else:
            place = ""
        paragraph(f"{finding.severity}: {finding.message}{place} ({finding.code})")


def assumed(values: Sequence["Assumed"]) -> None:
    """Everything the input did not say and droptrail filled in, by subject."""
    from ..converters.showing.tables.assumed import ASSUMED, assumed_lines

    # nothing assumed, nothing said: an empty heading would only raise a question
    if values:
        print(f"{ASSUMED} (common practice, no source, unless another is named):")
    for line in assumed_lines(values):
        print(fill(line, width(), initial_indent="  - ", subsequent_indent="    "))


def noted(tables: "Iterable[Table]") -> None:
    """Typed tables one after the other, each with its notes below."""
    for one in tables:
        shown(one)
        if one.notes:
            paragraph(one.notes)
            print()


def paragraph(text: str) -> None:
    """A longer sentence, indented and wrapped."""
    print(fill(text, width(), initial_indent="  ", subsequent_indent="    "))


def caution() -> None:
    """What no figure here is, wrapped so that a narrow terminal does not break it within a word."""
    print(fill(CAUTION, width()))


def width() -> int:
    """Columns for running text: the terminal's, at most 118; 118 into a file."""
    if sys.stdout.isatty():
        # one column less: a full line makes some terminals break it twice
        return min(118, max(40, get_terminal_size().columns - 1))
    return 118


NOT_CROSSED = 4  # complete and fine, but for the second solver
ONLY_UNCROSSED = "complete but for the cross-check, which this machine cannot make"


def exit_code(found: Iterable[Finding], failed: bool, crossed: bool) -> int:
    """1 where something asks the builder to act, 4 where all is fine but nothing was cross-checked, 0 else."""
    # a second solver that is missing has an exit code of its own
    others = [finding for finding in found if finding.code != "no-cross-check"]
    if failed or serious(others):
        # told by the second solver's own sentence, and it must not count as a warning here
        return 1
    if not crossed:
        return NOT_CROSSED
    return 0


def serious(found: Iterable[Finding]) -> bool:
    """Whether any finding asks the builder to act."""
    # a warning counts: what was found must not pass as fine in a script
    return any(finding.severity != "info" for finding in found)
