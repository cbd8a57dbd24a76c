"""Changes single cells of a table file and leaves every other byte of it as it is: `(bytes, {place: text}) -> bytes`.

Order, notes, comments, blank rows, separators, quotation marks, line ends and encoding of a CSV stay; of a workbook
`patch_xlsx` changes cells of the worksheet that is read and keeps everything else.
"""

import re
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

from ....model.errors import InputError
from .patch_xlsx import CellAt, patched_workbook
from .table import codec_of, delimiter_of

__all__ = ["CellAt", "FieldSpan", "csv_spans", "patched", "with_rows"]


class FieldSpan(NamedTuple):
    """Where the text of a field begins and ends, quotation marks included."""

    start: int
    end: int


def patched(data: bytes, changes: Mapping[CellAt, str], source: str = "the sheet") -> bytes:
    """The file with these cells' texts.

    A cell of a short row is added with the separators it needs.

    Raises
    ------
    InputError
        For a row the file does not have, a text its encoding cannot write, a workbook cell that holds a formula.
    """
    if not changes:
        return data
    # a ZIP is a workbook, whatever its ending says
    if data.startswith(b"PK\x03\x04"):
        return patched_workbook(data, changes, source)
    mark, codec = codec_of(data)
    # without the mark: it is put back at the end as it was
    text = data[len(mark) :].decode(codec)
    sign = delimiter_of(text)
    records = csv_spans(text, sign)
    pieces: list[tuple[FieldSpan, str]] = []
    # in the file's own order, so that two pieces can be seen to touch
    for place, new in sorted(changes.items()):
        if not 1 <= place.row <= len(records):
            raise InputError(f"{source}: there is no row {place.row} to change")
        pieces.append(_piece(text, records[place.row - 1], place.column, new, sign))
    return mark + _encoded(_replaced(text, pieces), codec, source)


def with_rows(
    data: bytes, after: int, rows: Sequence[Sequence[str]], source: str = "the sheet"
) -> bytes:
    """The file with rows added below row `after`; in a workbook the rows there must be empty."""
    if data.startswith(b"PK\x03\x04"):
        # an empty text is no cell; written, it would change what stands there
        cells = {
            CellAt(after + 1 + k, column): text
            for k, row in enumerate(rows)
            for column, text in enumerate(row)
            if text
        }
        return patched_workbook(data, cells, source)
    mark, codec = codec_of(data)
    text = data[len(mark) :].decode(codec)
    sign = delimiter_of(text)
    records = csv_spans(text, sign)
    if not 1 <= after <= len(records):
        raise InputError(f"{source}: there is no row {after} to add a row below")
    # before the row's line end, which then ends the last new row
    end = records[after - 1][-1].end
    line_end = _line_end(text)
    added = ""
    for row in rows:
        fields = [_field("", cell, sign) for cell in row]
        added += line_end + sign.join(fields)
    return mark + _encoded(text[:end] + added + text[end:], codec, source)


def csv_spans(text: str, sign: str) -> list[list[FieldSpan]]:
    """Record by record the spans of its fields, as the csv module of the library divides them."""
    # written out, because the library's csv reader does not tell where a field stood
    field = re.compile(rf'"(?:[^"]|"")*"|[^{re.escape(sign)}\r\n]*')
    line_end = re.compile(r"\r\n|\r|\n")
    records: list[list[FieldSpan]] = []
    at = 0
    while at < len(text):
        record: list[FieldSpan] = []
        while True:
            found = field.match(text, at)
            assert found is not None  # the pattern also takes nothing
            record.append(FieldSpan(*found.span()))
            at = found.end()
            if not text.startswith(sign, at):
                break
            at += 1
        records.append(record)
        ended = line_end.match(text, at)
        if ended is None and at < len(text):
            # quotes inside an unquoted field have no one reading, and must not be guessed
            raise InputError("a quotation mark stands inside a field; save the sheet anew as CSV")
        if ended is not None:
            at = ended.end()
    return records


def _piece(
    text: str, record: Sequence[FieldSpan], column: int, new: str, sign: str
) -> tuple[FieldSpan, str]:
    if column < len(record):
        span = record[column]
        return span, _field(text[span.start : span.end], new, sign)
    end = record[-1].end
    # as many separators as the row is short
    return FieldSpan(end, end), sign * (column - len(record) + 1) + _field("", new, sign)


def _field(old: str, new: str, sign: str) -> str:
    """The new text between the blanks of the old one; in quotation marks where the old one or the text needs them."""
    # a quoted cell stays quoted: the builder's file is to differ in the changed cells alone
    if old.startswith('"') or any(c in new for c in (sign, '"', "\r", "\n")):
        # doubled, as CSV writes a quotation mark in a quoted field
        doubled = new.replace('"', '""')
        return f'"{doubled}"'
    # blanks that line the columns up in a text editor stay
    before = old[: len(old) - len(old.lstrip())]
    after = old[len(before) :][len(old.strip()) :]
    return before + new + after


def _replaced(text: str, pieces: Sequence[tuple[FieldSpan, str]]) -> str:
    """Two cells added to one short row would count their separators from the same end, which is refused."""
    for (first, _), (second, _) in pairwise(pieces):
        if second.start < first.end or first == second:
            raise InputError("two cells are missing in one row; fill that row in the sheet itself")
    # from the end, so that the spans before it still hold
    for span, new in reversed(pieces):
        text = text[: span.start] + new + text[span.end :]
    return text


def _line_end(text: str) -> str:
    """The first line's end; of a file with a single line, the plain one."""
    found = re.search(r"\r\n|\r|\n", text)
    if found is None:
        return "\n"
    return found[0]


def _encoded(text: str, codec: str, source: str) -> bytes:
    try:
        return text.encode(codec)
    except UnicodeEncodeError as error:
        raise InputError(
            f"{source}: '{text[error.start : error.end]}' cannot be written in the encoding of this file; save the "
            "sheet as UTF-8"
        ) from error
