"""Tables for spreadsheets: one XLSX workbook with a sheet for each, or CSV files; or one page of markdown.

Numbers stay numbers to full precision, a worksheet shows them with the digits of their column, units stand in the
headings, and no text can run as a formula.
"""

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import replace
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING

from ...model.errors import InputError
from ..files.fitsheet.table import guard
from ..files.writing import refuse_existing, save_workbook, write_text
from .markdown import as_markdown
from .table import GENERAL, Amount, Column, Kind, Table, Value

if TYPE_CHECKING:
    from openpyxl.cell import Cell as Box
    from openpyxl.worksheet.worksheet import Worksheet

MOST_ROWS = 1_048_575  # of a worksheet, below its head
NARROWEST = 11  # characters
WIDEST = 60  # characters; wider columns wrap
LONGEST_NAME = 31  # characters of a worksheet's name
UTF8_MARK = "\ufeff"  # tells spreadsheets that a CSV file is UTF-8


def write_tables(
    tables: Sequence[Table],
    path: str | Path,
    name: str | None = None,
    force: bool = False,
    inputs: Iterable[str | Path | None] = (),
) -> tuple[Path, ...]:
    """Write the tables to an .xlsx, to an .md, or to .csv: the one called `name` to `path`, else each to
    ``path-TABLE.csv``.

    inputs : files that the tables came from; none of them is ever written over, `force` or not.

    Returns the files written. Raises InputError for another ending, an unknown name (listing the known ones), a
    table too long for a worksheet, an input, or an existing file without `force`; then nothing is written.
    """
    path = Path(path)
    ending = path.suffix.lower()
    # an unknown name is refused before any file is touched
    picked = _picked(tables, name)
    if ending == ".xlsx":
        _write_xlsx(picked, path, force)
        return (path,)
    if ending == ".md":
        write_text(path, "\n".join(as_markdown(table) for table in picked), force)
        return (path,)
    if ending != ".csv":
        raise InputError(
            f"{path.name}: tables are written as .xlsx or .csv or .md; choose one of these endings"
        )
    # one table to the very path; several beside it, each under its own name
    if name is not None:
        files = [path]
    else:
        files = [_beside(path, table) for table in picked]
    # before the first is written: either all files or none
    refuse_existing(files, force, inputs)
    for file, table in zip(files, picked, strict=True):
        write_text(file, UTF8_MARK + as_csv(table), force)
    return tuple(files)


def _picked(tables: Sequence[Table], name: str | None) -> Sequence[Table]:
    known = {table.name: table for table in tables}
    if name is None:
        return tables
    if name not in known:
        raise InputError(f"no table '{name}'; known: {', '.join(known)}")
    return (known[name],)


def _beside(path: Path, table: Table) -> Path:
    return path.with_stem(f"{path.stem}-{table.name.replace(' ', '_')}")


def as_csv(table: Table) -> str:
    """The table as comma-separated text, numbers to full precision with a decimal point."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    flat = spread(table)
    writer.writerow([guard(heading) for heading in flat.headings])
    for row in flat.rows:
        cells = [filed(column, cell) for column, cell in zip(flat.columns, row, strict=True)]
        # repr keeps every digit of a number
        writer.writerow([cell if isinstance(cell, str | None) else repr(cell) for cell in cells])
    return text.getvalue()


def spread(table: Table) -> Table:
    """The table with each amount in two columns, number and unit: a cell that is calculated with holds no words."""
    columns: list[Column] = []
    for column in table.columns:
        if column.varying:
            columns.append(replace(column, varying=False))
            # a column of units: a cell with a word in it cannot be summed
            columns.append(Column(f"{column.key}_unit", f"{column.heading} unit", missing=""))
        else:
            columns.append(column)
    rows = []
    for row in table.rows:
        cells: list[Value] = []
        for column, cell in zip(table.columns, row, strict=True):
            if isinstance(cell, Amount):
                cells += [cell.value, cell.unit]
            elif column.varying:
                cells += [None, None]
            else:
                cells.append(cell)
        rows.append(cells)
    return replace(table, columns=columns, rows=rows)


def filed(column: Column, cell: object) -> str | float | int | None:
    """What stands in the file: no truth values, no infinity, no formula."""
    # spreadsheets count TRUE as 1, and a sum over verdicts means nothing
    if isinstance(cell, bool):
        return column.text(cell)
    if isinstance(cell, str):
        return guard(cell)
    # infinite or not a number: an empty cell, since neither can be summed
    if isinstance(cell, int | float) and isfinite(cell):
        return column.scaled(cell)
    return None


def _write_xlsx(tables: Sequence[Table], path: Path, force: bool) -> None:
    from openpyxl import Workbook

    # all lengths first: a workbook that breaks off half-way would look complete
    for table in tables:
        if len(table.rows) > MOST_ROWS:
            raise InputError(
                f"{path.name}: table '{table.name}' has {len(table.rows)} rows, a worksheet holds "
                f"{MOST_ROWS}; name fewer load cases with --case, or write .csv"
            )
    book = Workbook()
    # the workbook comes with one empty sheet, which no table is
    if book.active is not None:
        book.remove(book.active)
    for table in tables:
        fill(book.create_sheet(_sheet_title(table)), table)
    save_workbook(book, path, force)


def _sheet_title(table: Table) -> str:
    """The table's name without the signs that no worksheet's name may hold."""
    plain = "".join("-" if sign in "[]:*?/\\" else sign for sign in table.name)
    return plain[:LONGEST_NAME]


def fill(sheet: "Worksheet", table: Table) -> None:
    """Put a table into an empty worksheet: bold headings that stay in sight, numbers with their columns' formats."""
    from openpyxl.styles import Alignment, Font
    from openpyxl.utils import get_column_letter

    flat = spread(table)
    sheet.append([guard(heading) for heading in flat.headings])
    for row in flat.rows:
        sheet.append([filed(column, cell) for column, cell in zip(flat.columns, row, strict=True)])
    for box in sheet[1]:
        box.font = Font(bold=True)
        box.alignment = Alignment(wrap_text=True, vertical="top")
    for k, column in enumerate(flat.columns, start=1):
        texts = [row[k - 1] for row in flat.rows]
        sheet.column_dimensions[get_column_letter(k)].width = _width(column, texts)
        for (box,) in sheet.iter_rows(min_row=2, min_col=k, max_col=k):
            _format(box, column)
    sheet.freeze_panes = "A2"


def _width(column: Column, cells: Sequence[object]) -> int:
    """In characters: as wide as its words need, headings on two lines."""
    # only words: a number is as wide as its format, not as its digits
    words = max((len(cell) for cell in cells if isinstance(cell, str)), default=0)
    return min(WIDEST, max(NARROWEST, words + 2, len(column.title) // 2 + 2))


def _format(box: "Box", column: Column) -> None:
    # the format hides digits, the cell keeps them all
    if isinstance(box.value, int | float):
        form = column.number_format(box.value)
        if form != GENERAL:
            box.number_format = form
    elif column.kind is Kind.VERDICT:
        from openpyxl.styles import Alignment

        box.alignment = Alignment(horizontal="center")
