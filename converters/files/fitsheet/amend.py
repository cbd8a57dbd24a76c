"""Edits of a bicycle put into its fit sheet: which cells change, in the sheet's own units, digits and decimal signs.

What comes out is read again and held against the edits: a sheet that would say anything else is not written.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from math import ceil, log10, radians, tan

from ....model.errors import InputError
from ....model.tubes.tube import Tube
from ....model.words import spoken
from .find_item import find_item
from .items import ITEMS
from .patch import CellAt, patched, with_rows
from .patch_xlsx import holds_formulas
from .sheet_rows import Statement
from .statements import FitSheet, first_of, fit_sheet
from .table import SheetRow, SheetTables, guard, tables_of, text_grid, without_unit
from .tubes import member_named

# a new row holds a name, a value and the unit that value is in: nothing the reader has to guess
from .values import UNITS, is_percent, quantity

# only what the page edits; a new table needs no further columns
_ITEM_HEADER = ("item", "value", "unit")
_HEADER = ("tube", "outside diameter", "wall", "butts", "material")
_FIELDS = ("outside_diameter", "wall", "butts", "material")
_COMMA = re.compile(r"\d,\d")
_POINT = re.compile(r"\d\.\d")


@dataclass(frozen=True)
class Edits:
    """What was changed, and only that.

    tubes : member -> field -> the new text as the tube table takes it, mm. made : member -> the tube those texts make.
    items : statement -> mm or degrees, for what a drawing says otherwise than the sheet, or a changed side view.
    parts : field of `Fittings` or `Loads` -> mm, kg, N or share. An item or part that the sheet does not state yet gets
    a row of its own.
    """

    tubes: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    made: Mapping[str, Tube] = field(default_factory=dict)
    items: Mapping[str, float] = field(default_factory=dict)
    parts: Mapping[str, float] = field(default_factory=dict)


def amended(data: bytes, source: str, edits: Edits) -> bytes:
    """The sheet's bytes with the edits: every cell that was not edited stays as it is.

    Raises
    ------
    InputError
        Where an edit has no cell in the sheet, or the sheet would afterwards not say exactly what was edited.
    """
    tables = tables_of(data, source)
    # the sheet as it is, to hold the saved one against
    before = _read(data, source)
    comma = _decimal_comma(tables)
    changes: dict[CellAt, str] = {}
    added: list[str] = []
    for member, fields in edits.tubes.items():
        # by what the name means: the sheet may call the tube by another language's word
        rows = [row for row in tables.tubes if member_named(row["tube"], before.plan) == member]
        # a tube given twice is changed in both rows, else the first would go on winning
        for row in rows:
            changes |= _tube_cells(row, fields, comma)
        if not rows:
            added.append(member)
    first = first_of(before.statements)
    new_rows: dict[str, float] = {}
    for item, value in edits.items.items():
        # an item counts by its first statement, so that is the cell to change
        if item in first:
            changes |= _item_cell(tables, first, item, value, comma)
        else:
            new_rows[item] = value
    for part, value in edits.parts.items():
        stated = _row_of(tables, part)
        if stated is None:
            new_rows[part] = value
        else:
            cell = CellAt(stated.number, stated.places["value"])
            changes[cell] = item_text(stated, part, value, comma)
    # cells first: rows added before would shift the numbers the changes are keyed by
    saved = patched(data, changes, source)
    if added:
        saved = _with_tubes(saved, source, tables, {m: edits.tubes[m] for m in added}, comma)
    if new_rows:
        below = [_new_row(name, value, comma) for name, value in new_rows.items()]
        # an empty row and a header of its own: whatever table stands last, this begins a new one
        saved = with_rows(saved, _last_row(saved, source), [(), _ITEM_HEADER, *below], source)
    if changes or added or new_rows:
        # nothing to hold a sheet against that was not touched
        _hold(before, _reread(data, saved, source), edits)
    return saved


def _row_of(tables: SheetTables, key: str) -> SheetRow | None:
    """The row that states a part or a load; None where none does."""
    for row in tables.items:
        found = find_item(without_unit(row["item"])[0], row["note"])
        # an empty row states nothing, though its name is there
        if found is not None and found.item.key == key and row["value"]:
            return row
    return None


def _new_row(name: str, value: float, comma: bool) -> tuple[str, str, str]:
    """A row for an item that the sheet did not state."""
    # four digits at most: rounding noise of a computed value has no place in a sheet
    text = f"{round(value, 4):g}"
    if comma:
        text = text.replace(".", ",")
    return ITEMS[name].label, text, ITEMS[name].unit


def place_of(tables: SheetTables, statement: Statement) -> CellAt | None:
    """The value cell a statement came from; None where it was worked out from others, as a radius from rim and tyre."""
    # several statements may come from one row, such as both wheels
    row = next((row for row in tables.items if row.number == statement.row), None)
    # the cell must still hold the words the value was read from, else it came from elsewhere
    if row is None or row["value"] != statement.text:
        return None
    return CellAt(row.number, row.places["value"])


# --- the drawing's numbers ----------------------------------------------------------------------------------------
def _item_cell(
    tables: SheetTables, first: Mapping[str, Statement], item: str, value: float, comma: bool
) -> dict[CellAt, str]:
    statement = first.get(item)
    place = None
    if statement is not None:
        place = place_of(tables, statement)
    # a radius worked out from rim and tyre has no cell that could say another number
    if place is None:
        raise InputError(
            f"{tables.source}: {ITEMS[item].label} has no cell of its own in the sheet; change it there by hand"
        )
    row = next(row for row in tables.items if row.number == place.row)
    return {place: item_text(row, item, value, comma)}


def item_text(row: SheetRow, item: str, value: float, comma: bool = False) -> str:
    """A number in mm or degrees as this row would write it: its unit, its decimal sign, at least its digits."""
    kind = ITEMS[item].kind
    # the unit may stand in the column, behind the name, or in the column's header, in this order
    unit = row["unit"].strip("- ") or without_unit(row["item"])[1] or row.units.get("value", "")
    if unit.lower() not in UNITS[kind]:
        # a unit of another kind is a note, not a unit: the number is then in the usual one
        unit = ""
    # read only for the unit written behind the number itself
    _, word = quantity(row["value"], unit, kind)
    factor = float(UNITS[kind].get(word, 1))
    number = value / factor
    if is_percent(word):
        # a slope in per cent is 100 tan of its angle
        number = 100 * tan(radians(value))
    found = find_item(without_unit(row["item"])[0], row["note"])
    # held as a radius inside, stated as a diameter here
    if found is not None and found.item.key.startswith("wheel_diameter"):
        number *= 2
    # decimals as the builder wrote them: 73.0 stays a number with one decimal
    digits = len("".join(re.findall(r"^\D*\d+[.,](\d+)", row["value"])))
    most = max(digits, 1)
    if factor > 1:  # a tenth of a millimetre is a hundredth of a centimetre
        most = max(digits, 1 + ceil(log10(factor)))
    text = f"{number:.{most}f}"
    # further digits only where the value has them
    while len(text.partition(".")[2]) > digits and text.endswith("0"):
        text = text[:-1]
    text = text.removesuffix(".")
    # what stands behind the number, such as a unit, stays as it was
    suffix = str(re.findall(r"\D*$", row["value"])[0])
    # the row's own sign decides; only a row without one follows the sheet
    if _COMMA.search(row["value"]) or (comma and not _POINT.search(row["value"])):
        text = text.replace(".", ",")
    return text + suffix


# --- tubes --------------------------------------------------------------------------------------------------------
def _tube_cells(row: SheetRow, fields: Mapping[str, str], comma: bool) -> dict[CellAt, str]:
    """The cells of a tube's row for the edited fields; what stands in a column of its own goes there."""
    texts: dict[str, str] = {}
    for name, text in fields.items():
        texts[name] = text
        if name == "outside_diameter":
            texts |= _outside_cells(row, text)
        # one text "100+30" for both where the table has one column, split where it has two
        if name == "butts" and row["taper"]:
            pairs = [part.partition("+") for part in text.split("/")]
            texts[name] = "/".join(pair[0] for pair in pairs)
            texts["taper"] = "/".join(pair[2] for pair in pairs if pair[2])
    changes = {}
    for column, text in texts.items():
        # a new column would have to be put into every row of somebody's table
        if column not in row.places:
            raise row.refusal(
                f"the tube table has no column '{spoken(column)}'; add it in the sheet, then drop the sheet again"
            )
        changes[CellAt(row.number, row.places[column])] = _written(
            text, column, row.units.get(column, ""), comma
        )
    return changes


def _outside_cells(row: SheetRow, text: str) -> dict[str, str]:
    """The outside of a tube in the columns in which the row states it."""
    sizes, after, lengths = text.partition(" after ")
    cells = {"outside_diameter": text}
    # the row keeps the way it was stated in: lengths in a column of their own, or behind "after"
    if row["straight"]:
        cells = {"outside_diameter": sizes, "straight": lengths}
        after = lengths = ""
    # height and width likewise: 24x18 in one cell, or in two columns
    if row["oval_width"]:
        ends = [end.partition("x") for end in sizes.split("-")]
        cells["outside_diameter"] = "-".join(height for height, _, _ in ends) + after + lengths
        widths = [width for _, _, width in ends]
        if widths[0] and not widths[-1]:  # oval at the start, round at the end
            widths[-1] = ends[-1][0]
        cells["oval_width"] = "-".join(width for width in widths if width)
    return cells


def _written(text: str, column: str, unit: str, comma: bool) -> str:
    """A text in mm as this column takes it."""
    if column == "material":
        return guard(text)
    # a column headed in another unit would read a bare number as that unit
    if unit.lower() not in ("", "mm") and text[-1:].isdigit():
        # bare numbers only: what already has a unit behind it is left
        text = re.sub(r"(?<=\d)(?=x| after|$)", "mm", text)
    if comma:
        return re.sub(r"(?<=\d)\.(?=\d)", ",", text)
    return text


def _with_tubes(
    data: bytes,
    source: str,
    tables: SheetTables,
    tubes: Mapping[str, Mapping[str, str]],
    comma: bool,
) -> bytes:
    """Rows for tubes that the sheet did not state, below its tube table or in a new one at the end."""
    if not tables.tubes:
        rows = []
        # without a table the new one gets a header with just these columns
        for member, texts in tubes.items():
            written = [_written(texts[name], name, "", comma) for name in _FIELDS]
            rows.append((spoken(member), *written))
        return with_rows(data, _last_row(data, source), [(), _HEADER, *rows], source)
    # the last row's columns are the table's: new tubes go right below it
    model = tables.tubes[-1]
    below = []
    for member, texts in tubes.items():
        cells = {"tube": spoken(member)}
        for name in _FIELDS:
            cells[name] = _written(texts[name], name, model.units.get(name, ""), comma)
        # a text without a column to stand in would be lost; empty ones need none
        lacking = [name for name, text in cells.items() if text and name not in model.places]
        if lacking:
            raise InputError(
                f"{source}: the tube table has no column '{lacking[0].replace('_', ' ')}' for the {spoken(member)}; "
                "add it in the sheet, then drop the sheet again"
            )
        width = 1 + max(model.places.values())
        by_place = {place: cells.get(column, "") for column, place in model.places.items()}
        below.append([by_place.get(k, "") for k in range(width)])
    return with_rows(data, model.number, below, source)


def _last_row(data: bytes, source: str) -> int:
    return sum(1 for _ in text_grid(data, source, []))


def _decimal_comma(tables: SheetTables) -> bool:
    """Whether the sheet writes decimal commas and no decimal points."""
    texts = [row["value"] for row in tables.items]
    texts += [row[name] for row in tables.tubes for name in ("outside_diameter", "wall", "butts")]
    # both signs in one sheet: no telling, so points are kept
    return any(map(_COMMA.search, texts)) and not any(map(_POINT.search, texts))


# --- what was written, held against what was wanted -----------------------------------------------------------------
def _read(data: bytes, source: str) -> FitSheet:
    # through the same reader as any sheet, so that it is held to what a builder will get
    """A sheet from bytes under the name it came with."""
    return fit_sheet(tables_of(data, source))


def _reread(data: bytes, saved: bytes, source: str) -> FitSheet | None:
    """The saved sheet as it reads; None for a workbook whose formulas have to be worked out first."""
    # the file keeps results of formulas as they were before the change
    if holds_formulas(data):
        return None
    return _read(saved, source)


def _hold(before: FitSheet, after: FitSheet | None, edits: Edits) -> None:
    """Refuse a sheet that would say anything but the edits."""
    if after is None:
        return
    # everything is compared, edited or not: a wrong row changed shows as well as a right one missed
    tubes = {**before.tubes, **edits.made}
    wrong = [spoken(member) for member in tubes if after.tubes.get(member) != tubes[member]]
    wrong += _other_items(before.statements, after.statements, edits.items)
    wrong += _other_parts(before.fittings, after.fittings, edits.parts)
    wrong += _other_parts(before.loads, after.loads, edits.parts)
    wrong += _other_parts(before.riding, after.riding, edits.parts)
    wrong += _other_parts(before.placing, after.placing, edits.parts)
    # these the page does not edit, so they must be the same
    for name in ("name", "bicycle_type", "tyre_widths", "plan", "joining", "joints"):
        if getattr(before, name) != getattr(after, name):
            wrong.append(spoken(name))
    if wrong:
        raise InputError(
            f"{before.source}: the change cannot be put into this sheet so that it reads back rightly "
            f"({', '.join(wrong)}); nothing was written. Change it in the sheet itself"
        )


def _other_parts(
    before: Mapping[str, float], after: Mapping[str, float], wanted: Mapping[str, float]
) -> list[str]:
    """Parts and loads that do not say what they should, to the digits a row was written with."""
    # compared exactly: what was not edited went through the same reader twice
    wrong = [name for name in before if name not in wanted and after.get(name) != before[name]]
    wrong += [name for name in after if name not in wanted and name not in before]
    for name, value in wanted.items():
        # one decimal in mm is the coarsest a row is written with, so half of that and a hair
        if name in after and abs(after[name] - value) > 0.0501:
            wrong.append(name)
    return [ITEMS[name].label for name in wrong]


def _other_items(
    before: Iterable[Statement], after: Iterable[Statement], wanted: Mapping[str, float]
) -> list[str]:
    """Items that do not say what they should: the drawing's number to half a tenth, else what they said."""
    firsts = first_of(list(after))
    old = first_of(list(before))
    # a row that vanished must be reported too, hence no get
    wrong = [item for item in old if item not in wanted and old[item].value != firsts[item].value]
    for item, value in wanted.items():
        if item not in firsts or abs(firsts[item].value - value) > 0.0501:
            wrong.append(item)
    return [ITEMS[item].label for item in wrong]
