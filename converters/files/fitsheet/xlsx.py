"""An XLSX workbook -> the same grid of texts that a CSV file gives."""

import io
import re
import zipfile
from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from itertools import zip_longest
from typing import Any

from ....model.errors import InputError
from ....model.findings import Finding

# Budgets: far above any fit sheet, low enough that a wrong or hostile file is refused at once.
MAX_ROWS = 2_000
MAX_COLUMNS = 60
MAX_UNPACKED = 40_000_000  # bytes of all parts together; a fit sheet has some ten thousand
MAX_PARTS = 500
MAX_CELL_TAGS = (
    600_000  # of a worksheet or of the shared texts; 2,000 rows of 60 cells have some 500,000
)
MAX_OTHER_TAGS = 60_000  # of styles, theme and the rest
_CELLS = re.compile(r"worksheets/[^/]*\.xml$|sharedStrings\.xml$", re.IGNORECASE)


def xlsx_grid(data: bytes, source: str, findings: list[Finding]) -> list[Sequence[str]]:
    """Rows of the first worksheet as texts; other worksheets are named in a finding.

    Raises
    ------
    InputError
        For a damaged or oversized workbook, a formula whose result was never saved, an error value or a date.
    """
    # before the library unpacks anything
    _check_size(data, source)
    try:
        return _grid(data, source, findings)
    except InputError:
        raise
    except (
        Exception
    ) as error:  # openpyxl lets many kinds through: KeyError, ParseError, TypeError, ...
        raise InputError(
            f"{source}: not a readable XLSX workbook; save it again as .xlsx or .csv"
        ) from error


def _grid(data: bytes, source: str, findings: list[Finding]) -> list[Sequence[str]]:
    """The texts, from the saved results and, beside them, the formulas as typed."""
    import openpyxl

    books = [
        # twice: with results for the numbers, with formulas to see which results were never saved
        openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=results)
        for results in (True, False)
    ]
    sheets = [book.worksheets[_read_one(book)] for book in books]
    others = ", ".join(
        f"'{sheet.title}'{'' if sheet.sheet_state == 'visible' else ' (hidden)'}"
        for sheet in books[0].worksheets
        if sheet.title != sheets[0].title
    )
    if others:
        findings.append(
            Finding(
                "sheet-other-worksheets",
                "info",
                f"only worksheet '{sheets[0].title}' was read; not read: {others}",
                source,
            )
        )
    for sheet in sheets:
        # the size a workbook claims can be wrong, and then rows would be missing
        sheet.reset_dimensions()
    rows = [sheet.iter_rows(max_row=MAX_ROWS + 1, max_col=MAX_COLUMNS + 1) for sheet in sheets]
    grid: list[Sequence[str]] = []
    for number, (row, typed) in enumerate(zip_longest(*rows, fillvalue=()), start=1):
        where = f"{source}, worksheet '{sheets[0].title}', row {number}, column"
        grid.append(
            [
                _text(cell, formula, f"{where} {i}")
                for i, (cell, formula) in enumerate(zip_longest(row, typed), start=1)
            ]
        )
    return grid


def _read_one(book: Any) -> int:
    """Which worksheet is read: the first visible one."""
    seen = [k for k, sheet in enumerate(book.worksheets) if sheet.sheet_state == "visible"]
    if seen:
        return seen[0]
    # a workbook of hidden sheets alone still has its first one
    return 0


def read_worksheet_path(data: bytes) -> str:
    """The part of the workbook that holds the worksheet which is read."""
    import openpyxl

    book = openpyxl.load_workbook(io.BytesIO(data), read_only=True)
    # openpyxl has no public name for it; a test holds it
    return str(book.worksheets[_read_one(book)]._worksheet_path).lstrip("/")


def _check_size(data: bytes, source: str) -> None:
    """Refuse a decompression bomb by the sizes its directory declares (zipfile reads no more than these), then one
    that is small but costs the parser minutes, by its count of tags."""
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
        parts = archive.infolist()
        unpacked = sum(part.file_size for part in parts)
        if len(parts) > MAX_PARTS or unpacked > MAX_UNPACKED:
            raise InputError(
                f"{source}: the workbook unpacks to {unpacked} bytes in {len(parts)} parts; a fit sheet "
                f"stays below {MAX_UNPACKED} bytes in {MAX_PARTS} parts"
            )
        for part in parts:
            tags = _tags(archive, part)
            if _CELLS.search(part.filename):
                most = MAX_CELL_TAGS
            else:
                most = MAX_OTHER_TAGS
            if tags > most:
                raise InputError(
                    f"{source}: its part {part.filename} holds {tags} tags, a fit sheet below {most}; "
                    "copy the table into a new workbook, or save it as .csv"
                )
    except InputError:
        raise
    except (
        Exception
    ) as error:  # zipfile lets many kinds through: BadZipFile, zlib.error, RuntimeError, ...
        raise InputError(
            f"{source}: a damaged workbook ({error}); save it again as .xlsx or .csv"
        ) from error


def _tags(archive: zipfile.ZipFile, part: zipfile.ZipInfo) -> int:
    if part.filename.lower().endswith((".xml", ".rels", ".vml")):
        # the count of signs is enough, and does not parse anything
        return archive.read(part).count(b"<")
    return 0


def _text(cell: Any, typed: Any, where: str) -> str:
    if cell is None:
        value = None
    else:
        value = cell.value
    if typed is None:
        formula = None
    else:
        formula = typed.value
    # a formula without a result has no number to read
    if value is None and isinstance(formula, str) and formula.startswith("="):
        raise InputError(
            f"{where}: the formula {formula} was saved without its result; open the workbook in a "
            "spreadsheet and save it, or type the number"
        )
    # 28.6 typed in some countries becomes the 28th of June: the number is gone for good
    if isinstance(value, date | datetime | time | timedelta):
        raise InputError(
            f"{where}: the spreadsheet has made a date of this cell ({value}); format the cell as text "
            "and type the value again"
        )
    if value is None:
        return ""
    if isinstance(value, str):
        if value in ("#DIV/0!", "#N/A", "#NAME?", "#NULL!", "#NUM!", "#REF!", "#VALUE!"):
            raise InputError(f"{where}: the cell holds the error {value}; correct its formula")
        return value
    # a spreadsheet keeps 5 % as 0.05 and shows it otherwise
    if isinstance(value, float | int) and "%" in str(cell.number_format):
        return f"{value * 100!r}%"
    return repr(value)
