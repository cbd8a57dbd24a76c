"""Changes cells of a workbook in its own XML: every other part of the file, and every other cell, keeps its bytes.

Writing a workbook anew from what a library holds of it would lose what the library does not know (charts, shapes, the
saved results of formulas); here only the elements of the changed cells are replaced.
"""

import io
import re
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple
from xml.parsers import expat
from xml.sax.saxutils import escape

from ....model.errors import InputError
from .xlsx import read_worksheet_path

_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


class CellAt(NamedTuple):
    """A cell: row as findings number it, from 1; column from 0."""

    row: int
    column: int


@dataclass
class _Cell:
    """One cell element: its bytes from `start` to `end`, and where its saved result stands."""

    start: int
    end: int
    attributes: dict[str, str]
    formula: bool = False
    result: tuple[int, int] = (0, 0)


@dataclass
class _Row:
    """One row element; `inside` is where its content ends, -1 where it is written as an empty element."""

    start: int
    end: int
    inside: int
    cells: dict[int, _Cell] = field(default_factory=dict)


@dataclass
class _Worksheet:
    """The rows of a worksheet; `prefix` is the name space's, with its colon; `end` where the rows end."""

    rows: dict[int, _Row] = field(default_factory=dict)
    prefix: str = ""
    end: int = -1


def patched_workbook(data: bytes, changes: Mapping[CellAt, str], source: str) -> bytes:
    """The workbook with these texts in cells of the worksheet that is read.

    A number goes in as a number where a number or nothing stood, else as text; the style of the cell stays. Results of
    formulas are removed, because they may rest on what was changed: the spreadsheet works them out when it opens.

    Raises InputError for a cell that holds a formula, and for XML that does not say where its cells are.
    """
    # through the library, which knows where a workbook keeps what it reads
    part = read_worksheet_path(data)
    archive = zipfile.ZipFile(io.BytesIO(data))
    xml = archive.read(part)
    sheet = _parsed(xml, source)
    pieces: list[tuple[int, int, bytes]] = []
    for (row, column), text in sorted(changes.items()):
        pieces += _cell_pieces(xml, sheet, row, column, text, source)
    # every saved result may rest on a changed cell, and a wrong number must not stand there
    stale = [cell for row in sheet.rows.values() for cell in row.cells.values() if cell.formula]
    pieces += [(*cell.result, b"") for cell in stale if cell.result != (0, 0)]
    # from the end, so that the places before it still hold
    for start, end, new in sorted(pieces, key=lambda piece: piece[0], reverse=True):
        xml = xml[:start] + new + xml[end:]
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as written:
        for info in archive.infolist():
            content = archive.read(info)
            if info.filename == part:
                content = xml
            elif stale and info.filename.endswith("workbook.xml"):
                content = _worked_out_on_opening(content)
            # with the part's own name, date and packing: nothing else of the workbook changes
            written.writestr(info, content)
    return out.getvalue()


def holds_formulas(data: bytes) -> bool:
    """Whether the worksheet that is read has formulas, whose results `patched_workbook` takes away."""
    if not data.startswith(b"PK\x03\x04"):
        return False
    xml = zipfile.ZipFile(io.BytesIO(data)).read(read_worksheet_path(data))
    rows = _parsed(xml, "the workbook").rows.values()
    return any(cell.formula for row in rows for cell in row.cells.values())


def _worked_out_on_opening(workbook: bytes) -> bytes:
    """workbook.xml asking the spreadsheet to work out every formula when it opens the file."""
    # a workbook that asks for it already is left as it is
    if b"fullCalcOnLoad" in workbook:
        return workbook
    return re.sub(rb"(<(?:\w+:)?calcPr)\b", rb'\1 fullCalcOnLoad="1"', workbook, count=1)


# --- where things stand in the XML ------------------------------------------------------------------------------
def _parsed(xml: bytes, source: str) -> _Worksheet:
    """Rows and cells with the bytes they take."""
    sheet = _Worksheet()
    row: _Row | None = None
    cell: _Cell | None = None
    starts: list[int] = []
    # the one parser of the library that tells at which byte an element stands
    parser = expat.ParserCreate()

    def started(name: str, attributes: dict[str, str]) -> None:
        nonlocal row, cell
        at = parser.CurrentByteIndex
        starts.append(at)
        prefix, colon, local = name.rpartition(":")
        if local == "sheetData":
            sheet.prefix = prefix + colon
        elif local == "row":
            row = sheet.rows[_said(attributes, source, int)] = _Row(at, at, -1)
        elif local == "c" and row is not None:
            cell = row.cells[_said(attributes, source, _column)] = _Cell(at, at, attributes)
        elif local == "f" and cell is not None:
            cell.formula = True

    def ended(name: str) -> None:
        nonlocal row, cell
        start = starts.pop()
        inside, end = _ends(xml, start, parser.CurrentByteIndex)
        local = name.rpartition(":")[2]
        if local == "v" and cell is not None:
            cell.result = (start, end)
        elif local == "c" and cell is not None:
            cell.end = end
            cell = None
        elif local == "row" and row is not None:
            row.inside = inside
            row.end = end
            row = None
        elif local == "sheetData":
            sheet.end = inside

    parser.StartElementHandler = started
    parser.EndElementHandler = ended
    parser.Parse(xml, True)
    return sheet


def _ends(xml: bytes, start: int, at: int) -> tuple[int, int]:
    """(where the element's content ends, -1 where it is an empty tag; where the element ends)."""
    opened = xml.index(b">", start) + 1
    # <row .../> has no inside to put a cell into
    if xml[opened - 2 : opened - 1] == b"/":
        return -1, opened
    return at, xml.index(b">", at) + 1


def _said(attributes: Mapping[str, str], source: str, read: Callable[[str], int]) -> int:
    """The number of a row or column as the element says it."""
    said = attributes.get("r")
    if said is None:
        raise InputError(
            f"{source}: the workbook does not number its cells and cannot be changed in place; open it in a "
            "spreadsheet, save it, and try again"
        )
    return read(said)


def _column(reference: str) -> int:
    """Column from 0 of a reference such as B7."""
    number = 0
    for letter in reference.rstrip("0123456789"):
        # A to Z are 1 to 26: there is no nought among the letters
        number = 26 * number + ord(letter.upper()) - 64
    return number - 1


def _letters(column: int) -> str:
    letters = ""
    number = column + 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


# --- what is put there --------------------------------------------------------------------------------------------
def _cell_pieces(
    xml: bytes, sheet: _Worksheet, row: int, column: int, text: str, source: str
) -> list[tuple[int, int, bytes]]:
    """The one replacement or insertion that gives the cell its text."""
    where = f"{_letters(column)}{row}"
    held = sheet.rows.get(row)
    cell = None
    if held is not None:
        cell = held.cells.get(column)
    if cell is not None and cell.formula:
        raise InputError(
            f"{source}: cell {where} holds a formula; change what it is worked out from, in the spreadsheet"
        )
    if cell is not None:
        return [(cell.start, cell.end, _element(sheet, where, text, cell.attributes))]
    new = _element(sheet, where, text, {})
    p = sheet.prefix.encode()
    if held is None:
        whole = b'<%srow r="%d">%s</%srow>' % (p, row, new, p)
        # rows must stand in order, or spreadsheets call the file damaged
        later = [r.start for number, r in sheet.rows.items() if number > row]
        at = min(later, default=sheet.end)
        if at < 0:
            raise InputError(f"{source}: the worksheet is empty and cannot be changed in place")
        return [(at, at, whole)]
    if held.inside < 0:
        opened = xml[held.start : held.end].rstrip(b"/> \t\r\n") + b">"
        return [(held.start, held.end, opened + new + b"</%srow>" % p)]
    later = [c.start for number, c in held.cells.items() if number > column]
    at = min(later, default=held.inside)
    return [(at, at, new)]


def _element(sheet: _Worksheet, where: str, text: str, old: Mapping[str, str]) -> bytes:
    """The cell's XML: its style, and a number where a number or nothing stood."""
    p = sheet.prefix
    style = ""
    # the cell's look, such as a number format, is kept
    if "s" in old:
        style = f' s="{old["s"]}"'
    # an element without a value is how a cell is emptied
    if not text:
        return f'<{p}c r="{where}"{style}/>'.encode()
    number = text.replace(",", ".")
    # where a text stood, digits may be meant as text, such as 28.6 in a list of sizes
    if old.get("t", "n") == "n" and _NUMBER.fullmatch(number):
        return f'<{p}c r="{where}"{style}><{p}v>{number}</{p}v></{p}c>'.encode()
    shown = escape(text)
    return (
        f'<{p}c r="{where}"{style} t="inlineStr"><{p}is><{p}t xml:space="preserve">{shown}</{p}t></{p}is></{p}c>'
    ).encode()
