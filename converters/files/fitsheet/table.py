"""Bytes of a fit sheet -> its tables as text rows; knows CSV dialects, encodings and headers, no bicycles.

A sheet holds an item table, a tube table and, where special material is used, a material table. A frame that no plan
holds is a table of nodes and one of members instead, with supports and loads. Each begins
with its header row and ends at the next one; blank rows, and rows whose first cell begins with ``#``, are
skipped. Columns are found by their header, in any order.
"""

import csv
import io
import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from difflib import get_close_matches
from hashlib import sha256
from pathlib import Path

from ....model.errors import FrameError, InputError, ModelError
from ....model.findings import Finding, Severity
from .endings import OTHER_PROGRAMS
from .names import COLUMN_NAMES, split_names
from .values import is_unit
from .xlsx import MAX_COLUMNS, MAX_ROWS, xlsx_grid

# Budgets: far above any fit sheet, low enough that a wrong or hostile file is refused at once.
MAX_BYTES = 4_000_000
MAX_CELL = 1_000

_NEEDED = {
    "items": ("item", "value"),
    "tubes": ("tube", "outside_diameter", "wall"),
    "materials": ("material", "E", "density"),
    "nodes": ("node", "x", "y", "z"),
    "members": ("member", "from", "to"),
    "supports": ("support", "held"),
    "loads": ("load", "Fx", "Fy", "Fz"),
}
# a keyboard without umlauts writes ae, oe, ue
_UMLAUTS = {0xE4: "ae", 0xF6: "oe", 0xFC: "ue"}
# a spreadsheet runs the first four, a reader takes # for a comment, and ' is the guard itself
_GUARDED = ("=", "+", "-", "@", "#", "'")
_BRACKET = re.compile(r"[(\[]([^)\]]*)[)\]]")


@dataclass(frozen=True)
class SheetRow:
    """One row below a header: cell texts by column, with where it stands, the units its headers carry, the headers of
    the columns that are not known, and the position of every known column, from 0."""

    source: str
    number: int
    cells: Mapping[str, str]
    units: Mapping[str, str] = field(default_factory=dict)
    unknown: tuple[str, ...] = ()
    places: Mapping[str, int] = field(default_factory=dict)

    def __getitem__(self, column: str) -> str:
        return self.cells.get(column, "")

    @property
    def where(self) -> str:
        return f"{self.source}, row {self.number}"

    @contextmanager
    def at(self, column: str) -> Iterator[None]:
        """Whatever is refused inside is refused with file, row, column and the cell as written in front."""
        try:
            yield
        except FrameError as error:
            # the error may name the cell already
            if isinstance(error, InputError | ModelError) and error.value == self[column]:
                reason = str(error)
            else:
                reason = f"'{self[column]}': {error}"
            raise self.refusal(reason, column) from error

    def refusal(self, reason: str, column: str = "", item: str = "") -> InputError:
        """An error about this row, about what `item` names in it, or about one cell of it."""
        return InputError(
            reason,
            source=self.source,
            row=self.number,
            item=item,
            column=column,
            value=self[column],
        )

    def in_range(
        self, column: str, values: Iterable[float], limits: tuple[float, float], unit: str = "mm"
    ) -> None:
        """Refuse values outside the limits, naming file, row, column, the cell as written and the range."""
        low, high = limits
        for value in values:
            if not low <= value <= high:
                reads = f"{value:g} {unit}".strip()
                expected = f"{low:g} to {high:g} {unit}".strip()
                raise self.refusal(
                    f"'{self[column]}' is {reads}, expected {expected}; check the value and its unit",
                    column,
                )


def bare(text: str) -> str:
    """Lower case, accents and everything but letters and digits away: ``A-C`` -> ac, ``Maß`` -> mass."""
    # NFKD parts letter and accent, so that the accent can be dropped
    folded = unicodedata.normalize("NFKD", text.casefold())
    return "".join(c for c in folded if c.isalnum() and not unicodedata.combining(c))


def spellings(name: str) -> tuple[str, ...]:
    """The name bare, and bare with its umlauts written ae, oe, ue."""
    folded = name.casefold()
    written = folded.translate(_UMLAUTS)
    if written == folded:
        return (bare(name),)
    return (bare(name), bare(written))


def _spelled(names: str) -> tuple[str, ...]:
    return tuple(spelled for name in split_names(names) for spelled in spellings(name))


def _columns(columns: Mapping[str, str]) -> Mapping[str, tuple[str, ...]]:
    return {column: _spelled(names) for column, names in columns.items()}


def _by_word(columns: Mapping[str, tuple[str, ...]]) -> Mapping[str, str]:
    return {word: column for column, words in columns.items() for word in words}


# Table -> column -> header words that mean it, bare; the first column and the needed ones must be there.
COLUMNS = {kind: _columns(columns) for kind, columns in COLUMN_NAMES.items()}
_WORDS = {kind: _by_word(columns) for kind, columns in COLUMNS.items()}
_HEADER_WORDS = frozenset(
    {word for words in _WORDS.values() for word in words}
    | {"variant", "variants", "variante", "name", "use"}
)


@dataclass(frozen=True)
class SheetTables:
    """The tables of one file; `nodes` to `loads` are those of a frame given point by point, empty for any other."""

    source: str
    sha256: str
    items: tuple[SheetRow, ...]
    tubes: tuple[SheetRow, ...]
    materials: tuple[SheetRow, ...]
    findings: tuple[Finding, ...]
    nodes: tuple[SheetRow, ...] = ()
    members: tuple[SheetRow, ...] = ()
    supports: tuple[SheetRow, ...] = ()
    loads: tuple[SheetRow, ...] = ()

    @property
    def by_hand(self) -> bool:
        """Whether the frame is given point by point."""
        return bool(self.nodes or self.members)


def clean(text: str) -> str:
    """One line of printable characters with single blanks; so a cell can stand in any message."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def guard(text: str) -> str:
    """The text as a cell no spreadsheet runs as a formula, and no reader takes for a comment row."""
    # an apostrophe is how spreadsheets themselves keep a text a text
    if clean(text).startswith(_GUARDED):
        return f"'{clean(text)}"
    return clean(text)


def unguard(text: str) -> str:
    """Take the apostrophe of `guard` away again."""
    # only what `guard` put there: an apostrophe of the builder's own stays
    if text[:1] == "'" and text[1:].startswith(_GUARDED):
        return text[1:]
    return text


def read_tables(path: str | Path) -> SheetTables:
    """Read a CSV or XLSX fit sheet into text rows.

    Raises
    ------
    InputError
        When the file is missing, over budget, of another kind, or holds no table with the header
        ``item, value, unit, note``; the message names file, row and column.
    """
    path = Path(path)
    return tables_of(file_bytes(path), path.name)


def tables_of(data: bytes, source: str) -> SheetTables:
    """The tables of a file's bytes; raises as `read_tables` does."""
    findings: list[Finding] = []
    tables = _tables(text_grid(data, source, findings), source, findings)
    # a file of tubes alone is a catalogue, and an empty one a slip: neither fixes a frame
    if not tables["items"] and not (tables["nodes"] or tables["members"]):
        raise InputError(
            f"{source}: no table with the header 'item, value, unit, note' was found, or it is empty; "
            "make a starter sheet with: droptrail new SHEET.csv"
        )
    return SheetTables(
        source,
        sha256(data).hexdigest(),
        findings=tuple(findings),
        **{kind: tuple(rows) for kind, rows in tables.items()},
    )


def file_bytes(path: Path) -> bytes:
    """A table file's bytes; InputError when it is missing, empty, over budget or another program's workbook."""
    try:
        # before reading: a file made to fill the memory must not get there
        if path.stat().st_size > MAX_BYTES:
            raise InputError(
                f"{path.name}: {path.stat().st_size} bytes; a fit sheet is expected to stay below "
                f"{MAX_BYTES} bytes"
            )
        data = path.read_bytes()
    except OSError as error:
        raise InputError(f"{path.name}: {error.strerror or error}") from error
    if not data.strip():
        raise InputError(f"{path.name}: the file is empty")
    other = OTHER_PROGRAMS.get(path.suffix.lower())
    if other is not None:
        raise InputError(
            f"{path.name}: {other}, which is not read; open it in your spreadsheet and save it as .xlsx or .csv, "
            "then give that file"
        )
    # the mark of a compound document, which old workbooks and encrypted new ones are
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        raise InputError(
            f"{path.name}: an old .xls or a password-protected workbook; save it as .xlsx or .csv"
        )
    return data


# --- texts ------------------------------------------------------------------------------------------------
def text_grid(data: bytes, source: str, findings: list[Finding]) -> Iterable[Sequence[str]]:
    """Rows of texts of a table file, CSV or XLSX; what was guessed or not read becomes a finding.

    Raises InputError where it is neither, or a quotation mark is not closed.
    """
    # by its first bytes: endings are often wrong, a zip archive's mark never is
    if data.startswith(b"PK\x03\x04"):
        return xlsx_grid(data, source, findings)
    return _csv_rows(text_of_bytes(data, source, findings), source)


def text_of_bytes(data: bytes, source: str, findings: list[Finding]) -> str:
    """UTF-8, UTF-16 or Windows-1252 text; the last is noted as a finding."""
    mark, codec = codec_of(data)
    if codec == "cp1252":
        findings.append(
            Finding(
                "sheet-encoding",
                "info",
                "the file is not UTF-8 and was read as Windows-1252; check the special letters",
                source,
            )
        )
    return _strictly(data[len(mark) :], codec, source)


def codec_of(data: bytes) -> tuple[bytes, str]:
    """(byte order mark or nothing, codec of what follows): the mark and the encoded text give the bytes again."""
    for mark, codec in (
        (b"\xef\xbb\xbf", "utf-8"),
        (b"\xff\xfe", "utf-16-le"),
        (b"\xfe\xff", "utf-16-be"),
    ):
        if data.startswith(mark):
            return mark, codec
    # no text in one-byte letters holds a nought: UTF-16 without its mark
    if b"\0" in data:
        return b"", "utf-16-le" if data[1::2].count(0) > data[::2].count(0) else "utf-16-be"
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return b"", "cp1252"
    return b"", "utf-8"


def _strictly(data: bytes, encoding: str, source: str) -> str:
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as error:
        raise InputError(f"{source}: neither a CSV text nor an XLSX workbook") from error
    # a picture or program renamed to .csv decodes, but is no text
    if "\0" in text:
        raise InputError(f"{source}: neither a CSV text nor an XLSX workbook")
    return text


def _csv_rows(text: str, source: str) -> Iterator[Sequence[str]]:
    # strict, because an open quotation mark would swallow the rest of the sheet in silence
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter_of(text), strict=True)
    try:
        yield from reader
    except csv.Error as error:
        raise InputError(
            f"{source}, line {reader.line_num}: not readable as CSV ({error}); is a quotation mark not "
            "closed?"
        ) from error


def delimiter_of(text: str) -> str:
    """The sign that separates the words of the first header; a comma where there is none."""
    for line in text.splitlines()[:MAX_ROWS]:
        known = {}
        # the header's words tell the sign: a comma may be a decimal sign below
        for sign in ",;\t":
            headers = [_plain_header(cell)[0] for cell in line.split(sign)]
            known[sign] = sum(header in _HEADER_WORDS for header in headers)
        best = max(known, key=lambda sign: known[sign])
        # one word alone may be a title that happens to be called 'name'
        if known[best] >= 2:
            return best
    return ","


def _plain_header(cell: str) -> tuple[str, str]:
    """(a header cell bare, the unit it carries)."""
    text, unit = without_unit(cell.strip('" '))
    return bare(text), unit


# --- tables out of a grid of texts --------------------------------------------------------------------------
def without_unit(text: str) -> tuple[str, str]:
    """(header or item text without a bracketed unit, the unit or '')."""
    match = _BRACKET.search(text)
    if match is None or not is_unit(match[1]):
        return text, ""
    return text[: match.start()] + text[match.end() :], match[1]


def known_columns(words: Mapping[str, str], cells: Sequence[str]) -> dict[int, str]:
    """Position -> column for the header cells that are known, with or without a unit behind them."""
    named = {i: words.get(_plain_header(cell)[0]) for i, cell in enumerate(cells)}
    return {i: column for i, column in named.items() if column is not None}


def _header_kind(cells: Sequence[str]) -> str:
    """Which table this row is the header of; '' when it is none."""
    names = {_plain_header(cell)[0] for cell in cells}
    # items last: its few words are the ones that other headers may hold too
    for kind in ("nodes", "members", "supports", "loads", "tubes", "materials", "items"):
        if set(_NEEDED[kind]) <= set(map(_WORDS[kind].get, names)):
            return kind
    return ""


def _tables(
    grid: Iterable[Sequence[str]], source: str, findings: list[Finding]
) -> dict[str, list[SheetRow]]:
    tables: dict[str, list[SheetRow]] = {kind: [] for kind in _NEEDED}
    kind = ""
    header = Header((), {}, {})
    for number, raw in enumerate(grid, start=1):
        # row by row, because the rows come one at a time and may never end
        _within_budget(number, raw, source)
        cells = [clean(cell) for cell in raw]
        # an empty row parts the tables, a comment is the builder's own
        if not any(cells) or cells[0].startswith("#"):
            continue
        if new := _header_kind(cells):
            kind = new
            header = header_of(cells, _WORDS[new], f"{source}, row {number}", findings)
        elif kind:
            tables[kind].append(_row(number, cells, header, source))
        else:
            findings.append(
                Finding(
                    "sheet-row-ignored",
                    "info",
                    f"'{cells[0]}' stands above the first table and was not read",
                    f"{source}, row {number}",
                )
            )
    return tables


def _within_budget(number: int, cells: Sequence[str], source: str) -> None:
    if number > MAX_ROWS:
        raise InputError(f"{source}: more than {MAX_ROWS} rows; a fit sheet has fewer")
    if len(cells) > MAX_COLUMNS and any(cells[MAX_COLUMNS:]):
        raise InputError(
            f"{source}, row {number}: {len(cells)} columns; a fit sheet has at most {MAX_COLUMNS}"
        )
    longest = max(map(len, cells), default=0)
    if longest > MAX_CELL:
        raise InputError(
            f"{source}, row {number}: a cell holds {longest} characters; at most {MAX_CELL} are read"
        )


@dataclass(frozen=True)
class Header:
    """Header texts as they stand, position -> column, column -> unit in the header, texts that are not known."""

    texts: Sequence[str]
    columns: Mapping[int, str]
    units: Mapping[str, str]
    unknown: tuple[str, ...] = ()


def header_of(
    cells: Sequence[str],
    words: Mapping[str, str],
    where: str,
    findings: list[Finding],
    unread: Severity = "info",
) -> Header:
    """The columns of a header row; each that is not known becomes a finding of the severity `unread`, a warning where
    a known one is so near that it was meant.

    Raises InputError when a column is given twice.
    """
    columns = known_columns(words, cells)
    # which of two columns counts cannot be known, and the wrong one would be a wrong frame
    doubled = [column for column in columns.values() if list(columns.values()).count(column) > 1]
    if doubled:
        raise InputError(
            f"{where}: the column '{doubled[0].replace('_', ' ')}' is given twice; leave one out"
        )
    # an unknown column is said, since what it holds is missing from the frame
    unknown = tuple(cell for i, cell in enumerate(cells) if cell and i not in columns)
    known = ", ".join(dict.fromkeys(words.values())).replace("_", " ")
    for cell in unknown:
        near = get_close_matches(_plain_header(cell)[0], words, n=1, cutoff=0.75)
        if near:
            hint = f"; did you mean '{words[near[0]].replace('_', ' ')}'?"
        else:
            hint = f"; known: {known}"
        findings.append(
            Finding(
                "sheet-unknown-column",
                "warning" if near else unread,
                f"column '{cell}' is not known and was not read{hint}",
                where,
            )
        )
    return Header(
        cells,
        columns,
        {column: _plain_header(cells[i])[1] for i, column in columns.items()},
        unknown,
    )


def _row(number: int, cells: Sequence[str], header: Header, source: str) -> SheetRow:
    # 28,6 unquoted in a comma table becomes 28 and 6: read on, it would be a 28 mm tube
    extra = [cell for cell in cells[len(header.texts) :] if cell]
    if extra:
        raise InputError(
            f"{source}, row {number}: '{extra[0]}' stands in a column without a header; is a decimal "
            "comma not in quotation marks? Quote the value, or separate the columns by semicolons"
        )
    return row_below(header, number, cells, source)


def row_below(header: Header, number: int, cells: Sequence[str], source: str) -> SheetRow:
    """The row's cells by column."""
    # the apostrophe is the guard's and no part of the text
    held = {column: unguard(cells[i]) for i, column in header.columns.items() if i < len(cells)}
    places = {column: i for i, column in header.columns.items()}
    return SheetRow(source, number, held, header.units, header.unknown, places)
