"""One fit sheet as a table of texts, and the files it can come in."""

import codecs
import csv
import io
from pathlib import Path

from droptrail.converters.files.fitsheet.bicycle import (
    SheetReading,
    bicycle_from_sheet,
    read_fit_sheet,
)

# An invented tourer: every kind of number the format knows, and some things said twice.
TABLE: list[list[str]] = [
    ["item", "value", "unit", "note"],
    ["name", "Wegwarte tourer", "", "invented"],
    ["HTA", "71.5", "deg", ""],
    ["seat angle", "72.5", "°", ""],
    ["reach", "38.1", "cm", ""],
    ["BB drop", "74", "mm", "Größe M"],
    ["chainstays", "455", "mm", ""],
    ["head tube", "152", "mm", ""],
    ["lower headset stack", "12", "mm", ""],
    ["fork length", "392", "mm", "along axis"],
    ["rake", "52", "mm", ""],
    ["wheel", "700C", "", "both"],
    ["front tyre", "37", "mm", ""],
    ["rear tyre", "37", "mm", ""],
    ["seat tube length", "545", "mm", "centre to top"],
    ["top tube on seat tube", "515", "mm", ""],
    ["top tube below head tube top", "36", "mm", ""],
    ["down tube above head tube bottom", "38", "mm", ""],
    ["seatstay below top tube", "14", "mm", ""],
    ["rear hub spacing", "135", "mm", ""],
    ["rider mass", "82.5", "kg", ""],
    ["stack", "584.8", "mm", ""],
    ["wheelbase", "1055.7", "mm", ""],
    ["slope", "10.87", "%", ""],
    [],
    ["tube", "outside diameter", "wall", "butts", "material", "note"],
    ["down tube", "31.8", "0.9/0.6/0.9", "100+30/80+30", "4130", ""],
    ["top tube", '1 1/8"', "0.8/0.5/0.8", "75/75", "4130", ""],
    ["seat tube", "28.6", "0.9/0.6", "130", "CrMo", ""],
    ["head tube", "36", "1.1", "", "4130", ""],
    ["chainstay", "30-14x16", "0.8", "", "4130", "oval, tapered"],
    ["seatstay", "16/12.5", "0.8", "", "4130", ""],
    ["fork blade", "24-13", "1", "", "4130", ""],
    ["steerer", '1 1/8"', "1.6", "", "4130", ""],
]


def as_csv(table: list[list[str]], delimiter: str = ",", comma: bool = False) -> str:
    """The table as CSV text; with `comma`, decimal commas instead of points."""
    text = io.StringIO(newline="")
    numeric = [[comma and any(map(str.isdigit, cell)) for cell in row] for row in table]
    rows = [
        [
            cell.replace(".", ",") if number else cell
            for cell, number in zip(row, marks, strict=True)
        ]
        for row, marks in zip(table, numeric, strict=True)
    ]
    csv.writer(text, delimiter=delimiter).writerows(rows)
    return text.getvalue()


def as_xlsx(table: list[list[str]], path: Path) -> Path:
    """The table as a workbook, plain numbers as number cells."""
    import openpyxl

    book = openpyxl.Workbook()
    for row in table:
        book.active.append([_cell(text) for text in row])
    book.save(path)
    return path


def _cell(text: str) -> str | float | None:
    try:
        return float(text)
    except ValueError:
        return text or None


DIALECTS: dict[str, bytes] = {
    "comma, UTF-8": as_csv(TABLE).encode(),
    "comma, UTF-8 with mark": as_csv(TABLE).encode("utf-8-sig"),
    "semicolon, decimal comma, Windows-1252": as_csv(TABLE, ";", comma=True).encode("cp1252"),
    "semicolon, decimal point": as_csv(TABLE, ";").encode(),
    "tab, UTF-16": codecs.BOM_UTF16_LE + as_csv(TABLE, "\t").encode("utf-16-le"),
    "comma, quoted decimal comma": as_csv(TABLE, ",", comma=True).encode(),
    "tab, decimal comma, UTF-16 without mark": as_csv(TABLE, "\t", comma=True).encode("utf-16-be"),
}


def changed(item: str, *cells: str) -> list[list[str]]:
    """The table with the cells after the first one of that row replaced."""
    assert any(row and row[0] == item for row in TABLE), item
    return [
        [item, *cells, *row[1 + len(cells) :]] if row and row[0] == item else row for row in TABLE
    ]


def without(*items: str) -> list[list[str]]:
    return [row for row in TABLE if not (row and row[0] in items)]


def read_table(table: list[list[str]], folder: Path, **options: object) -> SheetReading:
    """Write the table as CSV and read it as a bicycle."""
    path = folder / "sheet.csv"
    path.write_text(as_csv(table), encoding="utf-8")
    return bicycle_from_sheet(read_fit_sheet(path), **options)  # type: ignore[arg-type]
