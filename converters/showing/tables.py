"""Tables for spreadsheets: one XLSX workbook with a sheet for each, or CSV files; which tables: `frame_tables`.

Numbers stay numbers, units stand in the heads, and no text can run as a formula.
"""

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from pathlib import Path

from ...model.errors import InputError
from ..files.fitsheet.table import guard
from ..files.writing import refuse_existing, save_workbook, write_text

Cell = str | float | int | bool | None
MOST_ROWS = 1_048_575  # of a worksheet, below its head
WIDEST = 60  # characters; wider columns wrap


@dataclass(frozen=True)
class Table:
    """One table: a name short enough for a worksheet (31 characters), heads with units, rows."""

    name: str
    heads: Sequence[str]
    rows: Sequence[Sequence[Cell]]


def write_tables(
    tables: Sequence[Table], path: str | Path, name: str | None = None, force: bool = False
) -> tuple[Path, ...]:
    """Write the tables to an .xlsx, or to .csv: the one called `name` to `path`, else each to ``path-TABLE.csv``.

    Returns the files written. Raises InputError for another ending, an unknown name (listing the known ones), a
    table too long for a worksheet, or an existing file without `force`; then nothing is written.
    """
    path = Path(path)
    known = {table.name: table for table in tables}
    if name is not None and name not in known:
        raise InputError(f"no table '{name}'; known: {', '.join(known)}")
    if name is None:
        picked = tables
    else:
        picked = (known[name],)
    if path.suffix.lower() == ".xlsx":
        _write_xlsx(picked, path, force)
        return (path,)
    if path.suffix.lower() != ".csv":
        raise InputError(
            f"{path.name}: tables are written as .xlsx or .csv; choose one of these endings"
        )
    files = tuple(
        path if name is not None else path.with_stem(f"{path.stem}-{table.name.replace(' ', '_')}")
        for table in picked
    )
    refuse_existing(files, force)
    for file, table in zip(files, picked, strict=True):
        # the mark tells spreadsheets that it is UTF-8
        write_text(file, "\ufeff" + as_csv(table), force)
    return files


def as_csv(table: Table) -> str:
    """The table as comma-separated text, numbers to full precision with a decimal point."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    for row in (table.heads, *table.rows):
        writer.writerow(
            [repr(cell) if isinstance(cell := _shown(held), int | float) else cell for held in row]
        )
    return text.getvalue()


def _shown(cell: Cell) -> str | float | int | None:
    """What stands in the file: no truth values, no infinity, no formula."""
    if isinstance(cell, bool):
        if cell:
            return "yes"
        return "no"
    if isinstance(cell, str):
        return guard(cell)
    if cell is not None and isfinite(cell):
        return cell
    return None


def _write_xlsx(tables: Sequence[Table], path: Path, force: bool) -> None:
    from openpyxl import Workbook

    for table in tables:
        if len(table.rows) > MOST_ROWS:
            raise InputError(
                f"{path.name}: table '{table.name}' has {len(table.rows)} rows, a worksheet holds "
                f"{MOST_ROWS}; name fewer load cases with --case, or write .csv"
            )
    book = Workbook()
    if book.active is not None:
        book.remove(book.active)
    for table in tables:
        _fill(book.create_sheet(table.name[:31]), table)
    save_workbook(book, path, force)


def _fill(sheet: "object", table: Table) -> None:
    from openpyxl.styles import Alignment, Font
    from openpyxl.utils import get_column_letter
    from openpyxl.worksheet.worksheet import Worksheet

    assert isinstance(sheet, Worksheet)
    for row in (table.heads, *table.rows):
        sheet.append([_shown(cell) for cell in row])
    for cell in sheet[1]:
        cell.font, cell.alignment = Font(bold=True), Alignment(wrap_text=True, vertical="top")
    for k, head in enumerate(table.heads):
        words = max((len(row[k]) for row in table.rows if isinstance(row[k], str)), default=0)  # type: ignore[arg-type]
        sheet.column_dimensions[get_column_letter(k + 1)].width = min(
            WIDEST, max(11, words + 2, len(head) // 2 + 2)
        )
    sheet.freeze_panes = "A2"
