"""A workshop's readings as CSV or XLSX, and its own correction as a plain CSV file.

Header of readings: ``rig, where, load, reading, doubt, note``. `rig` is the name of a load case, ``tap`` with the
pieces that hung on the strings (``tap frame+fork``), or ``weight``. `where` is what the case measures, the number of
the tone from the lowest, or the tube weighed. A reading and its doubt are in mm (or degrees, as the case measures), Hz
or g, with the unit behind them if one likes; a load in N, kg or N·m.
"""

import csv
import io
import re
from collections.abc import Mapping, Sequence
from math import inf
from pathlib import Path

from ...model.errors import FrameError, InputError
from ...model.findings import Finding
from ...model.frame.bicycle import G_ACCEL
from ...model.measured.readings import BenchReading, Kind
from ...model.measured.workshop import Correction
from .fitsheet.table import SheetRow, file_bytes, header_of, known_columns, row_below, text_grid
from .fitsheet.values import quantity
from .fitsheet.xlsx import MAX_ROWS
from .writing import write_bytes

MOST_FRAMES = 1e6  # of a correction; a workshop measures fewer
READINGS = "rig, where, load, reading, doubt, note"
# keys are bare words (no blanks, no signs), so "Load case" and "plus/minus" are found too
_WORDS = {
    "rig": "rig",
    "case": "rig",
    "loadcase": "rig",
    "where": "where",
    "place": "where",
    "load": "load",
    "reading": "reading",
    "measured": "reading",
    "doubt": "doubt",
    "plusminus": "doubt",
    "note": "note",
    "notes": "note",
}
CORRECTION = ("what", "frames", "measured over predicted", "spread")
_CORRECTION_WORDS = {
    "what": "what",
    "frames": "frames",
    "measuredoverpredicted": "ratio",
    "spread": "spread",
}
_LOAD = re.compile(r"^\s*([\d.,]+)\s*(kg|n·m|nm|n m|n)?\s*$", re.IGNORECASE)
_VALUE = re.compile(r"^(.*?)\s*(mm|deg|degrees|°|hz|kg|g)?\s*$", re.IGNORECASE)
# what is left of a number behind which another unit stands: N/mm, cm, %; the letter of 1e-3 is none
_FOREIGN_UNIT = re.compile(r"\d\s*(?!e[-+]?\d)[^\W\d_]|[%°]", re.IGNORECASE)
_DEGREES = ("deg", "degrees", "°")
_READ_IN: Mapping[Kind, str] = {
    "deflection": "mm, or in degrees where it turns: the movement itself, no stiffness",
    "tap": "Hz",
    "weight": "g or kg",
}
# without a unit the number is in the kind's own one
_WANTED = {
    "deflection": ("", "mm", *_DEGREES),
    "tap": ("", "hz"),
    "weight": ("", "g", "kg"),
    # listed as they are compared: lower case
}


def read_readings(path: str | Path) -> tuple[tuple[BenchReading, ...], tuple[Finding, ...]]:
    """The readings of a file, in its order, and what is to be said about the file.

    Raises
    ------
    InputError
        Naming file, row, column and what is expected.
    """
    findings: list[Finding] = []
    # a reading without its doubt cannot be weighed, so that column is asked for
    rows = _rows(Path(path), _WORDS, {"rig", "reading", "doubt"}, READINGS, findings)
    readings = tuple(_reading(row) for row in rows)
    if not readings:
        raise InputError(f"{Path(path).name}: it holds no reading; the header is: {READINGS}")
    return readings, tuple(findings)


def _rows(
    path: Path,
    words: Mapping[str, str],
    needed: set[str],
    header: str,
    findings: list[Finding],
) -> list[SheetRow]:
    """The rows below the header; what stands before it must be comment."""
    found = None
    rows = []
    for number, raw in enumerate(text_grid(file_bytes(path), path.name, findings), start=1):
        cells = [cell.strip() for cell in raw]
        # counted before blank rows are skipped: a sheet formatted down to the last row is no table
        if number > MAX_ROWS:
            raise InputError(f"{path.name}: more than {MAX_ROWS} rows")
        if not any(cells) or cells[0].startswith("#"):
            continue
        if found is not None:
            rows.append(row_below(found, number, cells, path.name))
        # the first line that holds all needed columns is the header, in whatever order they stand
        elif needed <= set(known_columns(words, cells).values()):
            found = header_of(cells, words, f"{path.name}, row {number}", findings)
        # a line above the header that is no comment may be data under another heading: not dropped
        else:
            raise InputError(
                f"{path.name}, row {number}: the header was not recognised; it is: {header}"
            )
    return rows


def _reading(row: SheetRow) -> BenchReading:
    # one blank between words: names of rigs are compared as texts
    rig = " ".join(row["rig"].lower().split())
    kind: Kind = "deflection"
    if rig.startswith("tap"):
        kind = "tap"
        # what hung on the strings decides which mass swings; without it the tone means nothing
        if not rig.removeprefix("tap").strip():
            raise row.refusal(
                "say what hung on the strings, such as tap frame or tap frame+fork", "rig"
            )
    elif rig in ("weight", "scales"):
        kind = "weight"
        rig = ""
    else:
        # load cases are named with low lines; people write blanks
        rig = rig.replace(" ", "_")
    place = row["where"].strip()
    if kind != "deflection" and not place:
        raise row.refusal("say which mode (1, 2, 3 from the lowest) or which tube", "where")
    # a case may have a single measure, so there the place may stay empty
    load = None
    turning = None
    if row["load"]:
        if kind != "deflection":
            raise row.refusal(f"a {kind} has no load; leave the cell empty", "load")
        load, turning = _load(row)
    value, unit = _number(row, "reading", kind)
    doubt, _ = _number(row, "doubt", kind)
    try:
        return BenchReading(kind, rig, place, load, value, doubt, row.where, unit, turning)
    except FrameError as error:
        raise InputError(str(error)) from error


def _load(row: SheetRow) -> tuple[float, bool]:
    """N or N*mm, and whether it is a turn; a bare number is a force in N."""
    match = _LOAD.match(row["load"])
    if match is None:
        raise row.refusal(f"'{row['load']}' is no load; give N, kg or N·m, such as 200 N", "load")
    with row.at("load"):
        value, _ = quantity(match[1], "", "number")
    unit = (match[2] or "n").lower().replace(" ", "")
    # inside, moments are N·mm; a load in kg is a weight that hangs: 9.81 N/kg, as everywhere in the house
    newtons = value * {"kg": G_ACCEL, "n": 1.0, "nm": 1000.0, "n·m": 1000.0}[unit]
    return newtons, unit in ("nm", "n·m")


def _number(row: SheetRow, column: str, kind: Kind) -> tuple[float, str]:
    """mm, degrees, Hz or g; and mm or deg where one of them was written."""
    match = _VALUE.match(row[column])
    text, unit = (match[1], (match[2] or "").lower()) if match else (row[column], "")
    if unit not in _WANTED[kind] or _FOREIGN_UNIT.search(text):
        raise row.refusal(f"'{row[column]}': a {kind} is read in {_READ_IN[kind]}", column)
    with row.at(column):
        value, _ = quantity(text, "", "number")
    if unit == "kg":
        # weights are held in g
        return 1000 * value, ""
    if unit in _DEGREES:
        return value, "deg"
    if unit == "mm":
        return value, "mm"
    return value, ""


# --- the workshop's own correction ----------------------------------------------------------------------------------
# who opens the file must not take these ratios for factors that are put in
def write_corrections(known: Sequence[Correction], path: str | Path, force: bool = False) -> None:
    """Write a plain CSV table. Raises InputError for an existing file without `force`."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(
        [
            "# measured over predicted of this workshop's own frames; shown beside predictions, never put in"
        ]
    )
    writer.writerow(CORRECTION)
    for one in known:
        # one frame has no spread: an empty cell, not a zero that would claim certainty
        spread = "" if one.frames < 2 else f"{one.spread:.6g}"
        writer.writerow([one.key, one.frames, f"{one.ratio:.6g}", spread])
    write_bytes(Path(path), out.getvalue().encode(), force)


def read_corrections(path: str | Path) -> tuple[Correction, ...]:
    """The corrections of a file. Raises InputError naming row and column."""
    # the spread may be missing, as with a single frame
    rows = _rows(
        Path(path), _CORRECTION_WORDS, {"what", "frames", "ratio"}, ", ".join(CORRECTION), []
    )
    found = []
    for row in rows:
        values = {}
        for column in ("frames", "ratio", "spread"):
            # an empty cell becomes nan, which the test below refuses for the first two columns
            text = row[column] or "nan"
            try:
                values[column] = float(text)
            except ValueError as error:
                raise row.refusal(f"'{text}' is no number", column) from error
        # written as a negation, so that nan fails too
        if not (1 <= values["frames"] < MOST_FRAMES and 0 < values["ratio"] < inf):
            raise row.refusal("at least one frame and a ratio above 0 are expected", "ratio")
        if not values["frames"].is_integer():
            raise row.refusal(f"'{row['frames']}' is no count of frames", "frames")
        if row["spread"] and not 0 <= values["spread"] < inf:
            raise row.refusal(f"'{row['spread']}' is no spread; 0 or more is expected", "spread")
        found.append(
            Correction(row["what"], int(values["frames"]), values["ratio"], values["spread"])
        )
    return tuple(found)
