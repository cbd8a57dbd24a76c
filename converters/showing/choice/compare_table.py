"""A comparison as tables: cells for the terminal and JSON, CSV, and XLSX whose percentages are live formulas."""

import csv
import io
from collections.abc import Sequence
from dataclasses import replace
from math import isfinite
from pathlib import Path
from typing import Any

from ....model.choice.compare import ComparedRow, Comparison
from ....model.choice.figures import Figure
from ....model.choice.held import SAME_MASS
from ....model.choice.sights import QUANTITIES
from ....model.errors import InputError
from ....model.words import spoken
from ...files.fitsheet.table import guard
from ...files.writing import save_workbook, write_text
from ..table import GAP_DIGITS, HZ_DIGITS, SIDE_VIEW_DIGITS, Cell, Column, Kind, Row, Table
from .held_table import held_json, held_lines, held_table

SIGHTS = 4  # columns of geometry beside one another
# Figures of all kinds in one column: each with its own four significant digits.
HELD_VALUE = Column("value", "value", Kind.NUMBER)
FIRST_ROW = 4  # XLSX: titles, units and loads stand above the reference


def columns(comparison: Comparison) -> list[tuple[int, str]]:
    """(figure number, kind) of every column after variant and changes; kind is value, change or per_10_g."""
    out = []
    for number, figure in enumerate(comparison.figures):
        out += [(number, "value"), (number, "change")]
        if _priced(figure):
            out.append((number, "per_10_g"))
    return out


def _priced(figure: Figure) -> bool:
    """Whether a change of the figure is bought with grams: a mass is not, nor is a trail."""
    return figure.unit != "g" and not figure.is_sight


def heading(comparison: Comparison, column: tuple[int, str]) -> str:
    number, kind = column
    figure = comparison.figures[number]
    return {"value": figure.heading, "change": "change %", "per_10_g": "% per 10 g"}[kind]


def cell(comparison: Comparison, row: ComparedRow, column: tuple[int, str]) -> float | None:
    """The number of one cell; None where it means nothing (no change of mass, no such mode)."""
    number, kind = column
    value: float | None
    if kind == "value":
        value = row.values[number]
    elif kind == "change":
        value = comparison.change(row, number)
    elif _priced(comparison.figures[number]):
        value = comparison.per_10_g(row, number)
    else:
        value = None
    # no change of mass, no such mode: an empty cell says so in every form
    if value is not None and isfinite(value):
        return value
    return None


def comparison_tables(comparison: Comparison) -> list[Table]:
    """The masses with what changes, then one table per load case, with what loads and holds each, and one of what
    becomes of it where it is held otherwise."""
    known = comparison.figures
    masses = [n for n, figure in enumerate(known) if figure.unit == "g"]
    groups = _by_case(known)
    weighed = _table(
        comparison, "Mass of the tubes", masses, f"{known[0].title}; {known[0].supports}."
    )
    seen: list[Table] = []
    others = []
    for title, group in groups.items():
        # geometry costs no grams, so it gets tables of its own without a price
        if known[group[0]].is_sight:
            seen += _sight_tables(comparison, title, group)
        else:
            others.append(_table(comparison, title, group, _note([known[n] for n in group])))
            # held otherwise stands right below the case it belongs to
            others += [
                held_table(h) for h in comparison.held if h.figure.key == known[group[0]].key
            ]
    # who moves the side view asks for trail and room first
    return [*seen, _with_changes(comparison, weighed), *others]


def _with_changes(comparison: Comparison, table: Table) -> Table:
    """The table with what changes next to the name that stands for it; without, where every name says it already."""
    said = [row.changes for row in comparison.rows]
    if all(row.changes == row.name for row in comparison.rows[1:]):
        return table
    columns = (table.columns[0], Column("changes", "changes"), *table.columns[1:])
    rows = [(row[0], words, *row[1:]) for row, words in zip(table.rows, said, strict=True)]
    return replace(table, columns=columns, rows=rows)


def _table(comparison: Comparison, title: str, group: Sequence[int], notes: str) -> Table:
    """Some figures of every variant: the value, its change, and what 10 g buy where any variant is heavier."""
    heavier = _heavier(comparison)
    columns = [Column("variant", "variant")]
    for number in group:
        figure = comparison.figures[number]
        digits = HZ_DIGITS if figure.unit == "Hz" else None
        columns.append(Column(figure.key, short(figure), Kind.NUMBER, figure.unit, digits))
        columns.append(Column(f"{figure.key}_change", "change", Kind.NUMBER, "%", 1, signed=True))
        if heavier and _priced(figure):
            key = f"{figure.key}_per_10_g"
            columns.append(Column(key, "per 10 g", Kind.NUMBER, "%", 1, signed=True))
    rows: list[Row] = []
    for row in comparison.rows:
        cells: list[Cell] = [row.name]
        for number in group:
            cells += _figure_cells(comparison, row, number, heavier)
        rows.append(cells)
    return Table("compare", title, columns, rows, notes)


def _sight_tables(comparison: Comparison, title: str, group: Sequence[int]) -> list[Table]:
    """What is seen without solving, a few figures a table so that a terminal of 80 columns holds it; no percents.

    What is the same in all is said once, below.
    """
    tables = []
    moved = [number for number in group if not _alike(comparison, number)]
    alike = [number for number in group if number not in moved]
    group = moved
    # four a table: what a terminal of 80 columns holds
    for start in range(0, len(group), SIGHTS):
        few = group[start : start + SIGHTS]
        columns = [Column("variant", "variant")]
        for number in few:
            figure = comparison.figures[number]
            digits = sight_digits(figure)
            columns.append(Column(figure.key, figure.words, Kind.NUMBER, figure.unit, digits))
        rows: list[Row] = []
        for row in comparison.rows:
            values = [cell(comparison, row, (number, "value")) for number in few]
            rows.append((row.name, *values))
        notes = " ".join(
            # several figures may have the same note, which is then said once
            dict.fromkeys(f.supports for n in few if (f := comparison.figures[n]).supports)
        )
        tables.append(Table("compare", title, columns, rows, notes))
    if not tables:
        # nothing moves: the sentence alone
        tables = [Table("compare", title, [Column("variant", "variant")], [])]
    if alike:
        same = _same_words(comparison, alike)
        tables[-1] = replace(tables[-1], notes=f"{tables[-1].notes} {same}".strip())
    return tables


def _alike(comparison: Comparison, number: int) -> bool:
    """Whether a figure reads the same for every variant."""
    column = Column("", "", Kind.NUMBER, digits=sight_digits(comparison.figures[number]))
    return len({column.text(row.values[number]) for row in comparison.rows}) == 1


def _same_words(comparison: Comparison, alike: Sequence[int]) -> str:
    """``The same in all: reach 384.00 mm; head angle 71.50 deg.``"""
    said = []
    for number in alike:
        figure = comparison.figures[number]
        column = Column("", "", Kind.NUMBER, digits=sight_digits(figure))
        said.append(
            f"{figure.words} {column.text(comparison.reference.values[number])} {figure.unit}"
        )
    return f"The same in all: {'; '.join(said)}."


def _heavier(comparison: Comparison) -> bool:
    """Whether any variant is heavier: else nothing is bought with grams, and no price is told."""
    return any(
        row.values[0] - comparison.reference.values[0] >= SAME_MASS for row in comparison.rows
    )


def _figure_cells(
    comparison: Comparison, row: ComparedRow, number: int, priced: bool
) -> list[Cell]:
    change = cell(comparison, row, (number, "change"))
    price = cell(comparison, row, (number, "per_10_g"))
    # the reference against itself would be a column of zeros
    if row is comparison.reference:
        change = None
    # a price in grams says nothing of a variant that costs none
    if row.values[0] <= comparison.reference.values[0]:
        price = None
    cells: list[Cell] = [cell(comparison, row, (number, "value")), change]
    if priced and _priced(comparison.figures[number]):
        cells.append(price)
    return cells


def sight_digits(figure: Figure) -> int:
    """Decimals of what is seen without solving: of the side view as `check` tells it; gaps and weights are not known to
    a hundredth."""
    if figure.name in QUANTITIES:
        return SIDE_VIEW_DIGITS
    return GAP_DIGITS


def short(figure: Figure) -> str:
    """Short heading of a figure: ``head sideways`` for ``side_push.head_sideways``."""
    return spoken(figure.name)


def _by_case(known: Sequence[Figure]) -> dict[str, list[int]]:
    """Heading -> figures: one per load case, and one for frequencies."""
    groups: dict[str, list[int]] = {}
    for number, figure in enumerate(known):
        # a figure without a case is a frequency
        if figure.unit != "g":
            groups.setdefault(figure.group or "Natural frequencies", []).append(number)
    return groups


def _note(group: Sequence[Figure]) -> str:
    """Which load makes each figure, and what holds the bicycle."""
    loads = "; ".join(f"{short(f)}: {f.words}, {f.load}" for f in group)
    return f"{loads}. Supports: {group[0].supports}."


def compare_json(comparison: Comparison) -> dict[str, Any]:
    """Figures with load and supports, then per variant values, changes in percent, and percent per 10 g by key."""
    keys = [figure.key for figure in comparison.figures]

    def by_key(row: ComparedRow, kind: str) -> dict[str, float | None]:
        # NaN and infinity have become None in `cell`, as JSON wants
        return {key: cell(comparison, row, (k, kind)) for k, key in enumerate(keys)}

    variants = [
        {
            "name": row.name,
            "changes": row.changes,
            "values": by_key(row, "value"),
            "change_percent": by_key(row, "change"),
            "percent_per_10_g": by_key(row, "per_10_g"),
        }
        for row in comparison.rows
    ]
    return {
        "figures": [figure.as_dict() for figure in comparison.figures],
        "variants": variants,
        "held_how": held_json(comparison.held),
    }


def write_comparison(comparison: Comparison, path: str | Path, force: bool = False) -> None:
    """Write a .csv (numbers) or .xlsx (live formulas for percentages). Raises InputError for another ending."""
    path = Path(path)
    if path.suffix.lower() == ".csv":
        write_text(path, "\ufeff" + _csv(comparison), force)
    elif path.suffix.lower() == ".xlsx":
        save_workbook(_workbook(comparison), path, force)
    else:
        raise InputError(
            f"{path.name}: a comparison is written as .csv or .xlsx; choose one of these endings"
        )


def _csv(comparison: Comparison) -> str:
    held = io.StringIO()
    write = csv.writer(held, lineterminator="\n").writerow
    picked = columns(comparison)
    write(["variant", "changes", *(heading(comparison, column) for column in picked)])
    for row in comparison.rows:
        cells = [cell(comparison, row, column) for column in picked]
        # repr keeps every digit: the file is for those who calculate on
        write([guard(row.name), guard(row.changes), *("" if v is None else repr(v) for v in cells)])
    # an empty line apart, or spreadsheets would take both for one table
    write([])
    for line in legend(comparison):
        write([guard(text) for text in line])
    return held.getvalue()


def legend(comparison: Comparison) -> list[Sequence[str]]:
    """Each figure with its load and supports, under a header."""
    return [
        ("figure", "key", "unit", "load", "supports"),
        *((f.title, f.key, f.unit, f.load, f.supports) for f in comparison.figures),
    ]


def _workbook(comparison: Comparison) -> Any:
    from openpyxl import Workbook
    from openpyxl.styles import Alignment, Font

    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "compare"
    picked = columns(comparison)
    # three lines above the variants: FIRST_ROW and the formulas count on them
    sheet.append(["variant", "changes", *(guard(heading(comparison, column)) for column in picked)])
    sheet.append(
        # the key beside the words: it does not change when the wording does
        ["", "key", *(comparison.figures[n].key if kind == "value" else "" for n, kind in picked)]
    )
    sheet.append(
        [
            "",
            "load",
            *(guard(comparison.figures[n].load) if kind == "value" else "" for n, kind in picked),
        ]
    )
    for k, row in enumerate(comparison.rows):
        sheet.append(
            [guard(row.name), guard(row.changes), *_cells(comparison, row, picked, FIRST_ROW + k)]
        )
    for one in sheet[1]:
        one.font = Font(bold=True)
        one.alignment = Alignment(wrap_text=True, vertical="top")
    # only the look: the cell holds the number to full precision
    for number, (_, kind) in enumerate(picked, start=3):
        for k in range(len(comparison.rows)):
            if kind == "change":
                sheet.cell(FIRST_ROW + k, number).number_format = "0.0%"
            elif kind == "per_10_g":
                sheet.cell(FIRST_ROW + k, number).number_format = "0.00%"
            else:
                sheet.cell(FIRST_ROW + k, number).number_format = "0.0"
    sheet.freeze_panes = sheet.cell(FIRST_ROW, 3)
    sheet.column_dimensions["A"].width = 28
    sheet.column_dimensions["B"].width = 40
    second = book.create_sheet("loads and supports")
    for line in legend(comparison):
        second.append([guard(text) for text in line])
    if comparison.held:
        third = book.create_sheet("held how")
        for cells in held_lines(comparison.held):
            third.append([guard(one) if isinstance(one, str) else one for one in cells])
            value = third.cell(third.max_row, len(cells))
            if isinstance(value.value, float):
                value.number_format = HELD_VALUE.number_format(value.value)
    return book


def _cells(
    comparison: Comparison, row: ComparedRow, picked: Sequence[tuple[int, str]], line: int
) -> list[object]:
    """Values as numbers; changes and changes per 10 g as formulas on the value and mass columns."""
    # imported here: the library is needed for workbooks only
    from openpyxl.utils import get_column_letter

    # the value's column is what the formulas of the other two refer to
    letter = {
        number: get_column_letter(k)
        for k, (number, kind) in enumerate(picked, start=3)
        if kind == "value"
    }
    mass = letter[0]
    first = FIRST_ROW
    out: list[object] = []
    for number, kind in picked:
        at = letter[number]
        if kind == "value":
            out.append(cell(comparison, row, (number, kind)))
        elif kind == "change":
            # ISNUMBER: an empty value must not become -100 %
            out.append(f'=IF(ISNUMBER({at}{line}),{at}{line}/{at}${first}-1,"")')
        else:
            grams = f"({mass}{line}-{mass}${first})"
            out.append(
                # a variant of the same mass has no price: grams of zero would divide
                f'=IF(OR(ABS{grams}<{SAME_MASS},NOT(ISNUMBER({at}{line}))),"",'
                f"({at}{line}/{at}${first}-1)/{grams}*10)"
            )
    return out
