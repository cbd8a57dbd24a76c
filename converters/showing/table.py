"""A table: what every form shows - terminal, page, worksheet, CSV, markdown. The columns know how a cell is said.

Cells are values (a number, a share, a verdict), never texts made of them; a form asks the column for the text or for
the number format. So no heading decides how a number looks, and nothing has to be read back out of a text.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from math import isfinite
from typing import Literal

from ...model.words import DASH, ROUNDING, decimals, given, number, signed

__all__ = ["Amount", "Cell", "Column", "Kind", "Row", "Table", "Value", "stacked"]

GENERAL = "General"  # a worksheet's own choice of digits
SIDE_VIEW_DIGITS = 2  # lengths and angles of the side view: 0.1 degree counts as much as 1 mm
HZ_DIGITS = 2  # a natural frequency, wherever it is told
GAP_DIGITS = 1  # room, and where the rider sits


class Kind(Enum):
    """What the cells of a column are."""

    TEXT = "text"
    NUMBER = "number"  # `digits` decimals, or four significant digits
    GIVEN = "given"  # a number that somebody set: no more digits than it needs
    FACT = "fact"  # as GIVEN, or words where the fact is not a number
    ERROR = "error"  # a relative error: one digit and its power of ten
    PERCENT = "percent"  # a share such as 0.37, shown as 37
    VERDICT = "verdict"  # True: fine, False: not; a text says why there is no verdict


@dataclass(frozen=True)
class Amount:
    """A number with a unit of its own, where the rows of a column measure different things (mm, deg)."""

    value: float | None
    unit: str


Value = str | bool | int | float | None
Cell = Value | Amount
Row = Sequence[Cell]


@dataclass(frozen=True)
class Column:
    """One column of a table.

    key : stable name, letters and underscores. heading : what people read. unit : of every cell; stands in the
    heading. digits : decimals; None for four significant digits. signed : differences carry their sign. varying :
    each cell is an `Amount`. missing : what stands where there is no value. files_only : for those who calculate on,
    in worksheets and CSV but not where people read.
    """

    key: str
    heading: str
    kind: Kind = Kind.TEXT
    unit: str = ""
    digits: int | None = None
    signed: bool = False
    varying: bool = False
    missing: str = DASH
    files_only: bool = False

    @property
    def title(self) -> str:
        """The heading with its unit: ``mass [g]``."""
        # shares stay shares inside, so that files and JSON can be calculated with
        if self.kind is Kind.PERCENT:
            return f"{self.heading} [%]".lstrip()
        if self.unit:
            return f"{self.heading} [{self.unit}]".lstrip()
        return self.heading

    @property
    def align(self) -> Literal["left", "right"]:
        """Numbers flush right, so that their sizes can be compared; words flush left."""
        if self.kind in (Kind.TEXT, Kind.VERDICT, Kind.FACT):
            return "left"
        return "right"

    def text(self, cell: Cell) -> str:
        """A cell as people read it, the same in every form."""
        # value and unit are told together, and a missing value takes its unit with it
        if isinstance(cell, Amount):
            said = self.text(cell.value)
            if said == self.missing:
                return said
            return f"{said} {cell.unit}".rstrip()
        if isinstance(cell, str):
            # an empty text is a missing one
            return cell or self.missing
        if isinstance(cell, bool):
            # capitals, because it must be seen where there is no colour
            if cell:
                return "yes"
            return "NO"
        # nan and infinity are what a computation leaves where there is nothing to tell
        if cell is None or not isfinite(cell):
            return self.missing
        return self._number(self.scaled(cell))

    def scaled(self, value: float) -> float:
        """The number that is shown: a share in percent, everything else as it is."""
        if self.kind is Kind.PERCENT:
            return 100 * value
        return value

    def _number(self, value: float) -> str:
        if self.kind is Kind.ERROR:
            # one digit: an error's size is all that is of use
            return f"{value:.0e}"
        if self.kind in (Kind.GIVEN, Kind.FACT):
            # nothing beyond what was typed: 0.8 stays 0.8
            return given(value)
        if self.digits is None:
            if self.signed and value >= ROUNDING:
                return f"+{number(value)}"
            return number(value)
        if self.signed:
            return signed(value, self.digits)
        # adding nought turns -0.0 into 0.0
        return f"{round(value, self.digits) + 0.0:.{self.digits}f}"

    def number_format(self, value: float) -> str:
        """The worksheet's number format that shows `value` (as `scaled`) with the digits of `text`."""
        # "General" shows what was typed, as `given` does
        if self.kind in (Kind.GIVEN, Kind.FACT):
            return GENERAL
        if self.kind is Kind.ERROR:
            return "0E+00"
        if self.digits is None:
            digits = decimals(value)
        else:
            digits = self.digits
        if digits is None:
            return "0.0E+00"
        if digits:
            form = "0." + "0" * digits
        else:
            form = "0"
        if round(value, digits) == 0:
            # three parts, none with a sign: -0.04 to one decimal is nothing, not a minus nothing
            return f"{form};{form};{form}"
        if self.signed:
            # three parts: plus, minus, and nothing, which has no direction
            return f"+{form};-{form};{form}"
        return form

    def holds(self, cell: Cell) -> bool:
        """Whether a cell is of the column's kind."""
        if self.varying:
            return isinstance(cell, Amount) or cell is None
        if cell is None:
            return True
        if self.kind is Kind.TEXT:
            return isinstance(cell, str)
        if self.kind is Kind.VERDICT:
            # a text in a verdict's column says why there is none
            return isinstance(cell, bool | str)
        number = isinstance(cell, int | float) and not isinstance(cell, bool)
        return number or (self.kind is Kind.FACT and isinstance(cell, str))


@dataclass(frozen=True)
class Table:
    """A table to be shown in any form.

    name : short (a worksheet has 31 characters), stable, says which table it is. title : heading for people.
    notes : what one must know to read it, whole sentences.

    Raises
    ------
    ValueError
        For a row of another length than the columns, and for a cell that is not of its column's kind.
    """

    name: str
    title: str
    columns: Sequence[Column]
    rows: Sequence[Row]
    notes: str = ""

    def __post_init__(self) -> None:
        for row in self.rows:
            # strict: a row too short would push its cells under the wrong headings
            for column, cell in zip(self.columns, row, strict=True):
                if not column.holds(cell):
                    raise ValueError(
                        f"table '{self.name}', column '{column.key}': {cell!r} is no {column.kind.value}"
                    )

    @property
    def headings(self) -> tuple[str, ...]:
        """Headings with units, in order."""
        return tuple(column.title for column in self.columns)

    def for_reading(self) -> "Table":
        """Without the columns that only files carry."""
        kept = [k for k, column in enumerate(self.columns) if not column.files_only]
        rows = []
        for row in self.rows:
            rows.append([row[k] for k in kept])
        return replace(self, columns=[self.columns[k] for k in kept], rows=rows)

    def texts(self) -> list[list[str]]:
        """Every cell as people read it."""
        out = []
        for row in self.rows:
            cells = zip(self.columns, row, strict=True)
            out.append([column.text(cell) for column, cell in cells])
        return out

    def verdict(self, row: Row) -> bool | None:
        """Whether a row is fine: False where any of its verdicts is; None where none was given."""
        # a text in a verdict's column says why there is none, and judges nothing
        said = [cell for cell in row if isinstance(cell, bool)]
        if not said:
            return None
        return all(said)


def stacked(
    name: str,
    title: str,
    first: Column,
    tables: Mapping[str, Table],
    notes: Column | None = None,
) -> Table:
    """Tables of equal columns below each other, `first` naming the one that a row comes from.

    notes : a last column with each table's notes, so that a number keeps the load and supports that made it.

    Raises ValueError when the columns differ.
    """
    if not tables:
        # nothing stacked is a table without rows, not an error
        return Table(name, title, (first,), ())
    columns = tuple(next(iter(tables.values())).columns)
    rows: list[Row] = []
    for key, table in tables.items():
        # columns that differ would put one number under the heading of another
        if tuple(table.columns) != columns:
            raise ValueError(f"table '{name}': the columns of '{key}' differ from the first one's")
        for row in table.rows:
            if notes is None:
                rows.append((key, *row))
            else:
                rows.append((key, *row, table.notes))
    if notes is None:
        return Table(name, title, (first, *columns), rows)
    return Table(name, title, (first, *columns, notes), rows)
