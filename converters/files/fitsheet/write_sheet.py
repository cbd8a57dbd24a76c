"""Writes fit sheets: any bicycle as CSV or XLSX that reads back to the same numbers."""

import csv
import io
from collections.abc import Iterator, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

from ....model.assumption import Assumed, stands_in
from ....model.errors import FrameError, InputError
from ....model.frame.bicycle import BICYCLE_TYPES, Bicycle, Fittings, Loads
from ....model.frame.dropouts import Dropout
from ....model.frame.hubs import Hub
from ....model.frame.parts import Part
from ....model.frame.suspension import TYPICAL
from ....model.geometry.statements import FIELDS, label
from ....model.tubes.known_plans import DIAMOND
from ....model.tubes.materials import Material, find_material
from ....model.tubes.plan import FramePlan
from ....model.tubes.tube import Tube
from ....model.words import spoken
from ..writing import save_workbook, write_bytes
from .bicycle import plain_words
from .items import ITEMS
from .own_plan import OWN_COLUMNS, own_cells
from .table import clean, guard
from .wheels import KNOWN_BEAD_SEATS, wheel_radius

Cell = str | float
Rows = Iterator[Sequence[Cell]]

# the columns that are written; more are understood when a sheet is read
ITEM_HEADER = ("item", "value", "unit", "note")
_TUBE_HEADER = ("tube", "outside diameter", "wall", "butts", "material", "note")
_MATERIAL_HEADER = (
    "material",
    "E (MPa)",
    "G (MPa)",
    "density (kg/m3)",
    "yield (MPa)",
    "ultimate (MPa)",
    "endurance (MPa)",
    "note",
)


def write_fit_sheet(bicycle: Bicycle, path: str | Path, force: bool = False) -> None:
    """Write a bicycle as a .csv or .xlsx fit sheet; reading it gives the same numbers back.

    What the bicycle does not hold, and what had been assumed for it, stands in comment rows only.

    Raises
    ------
    InputError
        For another ending, an existing file without `force`, or a place that cannot be written.
    """
    save(sheet_rows(bicycle), Path(path), force)


# --- rows -----------------------------------------------------------------------------------------------------
def sheet_rows(bicycle: Bicycle) -> Rows:
    """All rows of a bicycle's fit sheet."""
    yield ITEM_HEADER
    if bicycle.name:
        yield "name", guard(bicycle.name), "", ""
    # the usual type is not written: a sheet that says nothing means it
    if bicycle.bicycle_type != BICYCLE_TYPES[0]:
        yield (
            *ITEMS["bicycle_type"].names[:1],
            bicycle.bicycle_type,
            "",
            "sets the peak loads of ISO 4210",
        )
    yield from plan_row(bicycle.plan)
    if kind := _whole_joining(bicycle):
        yield *ITEMS["joining"].names[:1], kind, "", "how the tubes are joined"
    for name in FIELDS:
        value = getattr(bicycle.dimensions, name)
        if name.startswith("wheel_radius"):
            yield from _wheel(name.removeprefix("wheel_radius_"), value, bicycle.tyre_widths)
        else:
            # a comment row: the reader must not take it for a value
            yield (f"# {label(name)} is not known",) if value is None else item_row(name, value)
    yield from settings_rows(bicycle.fittings, bicycle.assumed)
    yield from settings_rows(bicycle.loads, bicycle.assumed)
    yield from (item_row(key, value) for key, value in bicycle.placing.items())
    yield from (item_row(key, value) for key, value in bicycle.riding.items())
    yield from suspension_rows(bicycle)
    yield from tube_tables(bicycle)
    yield from (
        (f"# assumed when this sheet was written: {clean(str(one))}",) for one in bicycle.assumed
    )


def plan_row(plan: FramePlan) -> Rows:
    # a sheet that says nothing means the diamond
    if plan.name != DIAMOND.name:
        yield *ITEMS["plan"].names[:1], plan.name.replace("_", " "), "", plan.label
    for rack in plan.racks:
        yield ITEMS[rack.name].names[0], "bolted" if rack.bolted else "built in", "", rack.label


def _wheel(side: str, radius: float, widths: tuple[float | None, float | None]) -> Rows:
    """A wheel as rim and tyre where the tyre is known and makes this radius, else as its radius."""
    width = widths[0 if side == "front" else 1]
    if width is None:
        bead_seat = 0
    else:
        # back from the radius: only a whole rim size of the trade is one
        bead_seat = round(2 * (radius - wheel_radius(0, width)))
    if (
        width is None
        or bead_seat not in KNOWN_BEAD_SEATS
        # to the last digit: a sheet that reads back to another radius is a fault
        or wheel_radius(bead_seat, width) != radius
    ):
        yield item_row(f"wheel_radius_{side}", radius)
    else:
        yield from (item_row(f"bead_seat_{side}", bead_seat), item_row(f"tyre_width_{side}", width))


def item_row(key: str, value: Cell) -> Sequence[Cell]:
    """A row under the item's first name, which leaves no convention open."""
    item = ITEMS[key]
    return item.names[0], value, item.unit, item.note


def settings_rows(part: Fittings | Loads, assumed: Sequence[Assumed] = ()) -> Rows:
    # Nobody said it, so no sheet is to say it: read without it, it is assumed again, and listed again.
    for key in part.__dataclass_fields__:
        value = getattr(part, key)
        if not stands_in(assumed, key, value):
            yield item_row(key, value)


def _whole_joining(bicycle: Bicycle) -> str:
    """The kind of joint that every tube has; nothing where they differ, or nobody said."""
    kinds = {bicycle.joints.get(name, "") for name in bicycle.tubes}
    if len(kinds) == 1:
        return kinds.pop()
    return ""


def suspension_rows(bicycle: Bicycle) -> Rows:
    """A suspension fork, as far as it was stated."""
    fork = bicycle.suspension
    if fork is None:
        return
    yield ITEMS["fork_type"].names[0], "suspension", "", "a given part: length, stiffness, sag"
    if fork.at_sag or not stands_in(bicycle.assumed, "suspension_state", "with the fork extended"):
        state = "at sag" if fork.at_sag else "fork extended"
        yield ITEMS["suspension_state"].names[0], state, "", ""
    yield from (
        item_row(f"suspension_{key}", getattr(fork, key)) for key in TYPICAL if key in fork.stated
    )


def tube_tables(bicycle: Bicycle) -> Rows:
    yield ()
    several = bool(bicycle.joints) and not _whole_joining(bicycle)
    rectangular = any(tube.corner is not None for tube in bicycle.tubes.values())
    placed = {member: own_cells(bicycle.plan, member) for member in bicycle.tubes}
    # columns that most frames do without stand before the note
    # placed: member -> cells by column
    filled = set().union(*placed.values())
    own = [column for column in OWN_COLUMNS if column in filled]
    if several:
        own.append("joint")
    if rectangular:
        own.append("corner radius")
    yield (*_TUBE_HEADER[:-1], *own, _TUBE_HEADER[-1])
    for member, tube in bicycle.tubes.items():
        # a plain tube that was assumed must not come back as one that was stated
        if stands_in(bicycle.assumed, member, plain_words(tube)):
            continue
        name = spoken(member)
        material = guard(tube.material.name)
        cells = {
            **dict.fromkeys(OWN_COLUMNS, ""),
            **placed[member],
            "joint": bicycle.joints.get(member, ""),
            "corner radius": "" if tube.corner is None else number(tube.corner),
        }
        more = (cells[column] for column in own)
        yield name, _diameters(tube), _series(tube.walls), _butts(tube), material, *more, ""
    yield from _part_rows(bicycle, len(_TUBE_HEADER) + len(own))
    if materials := _own_materials(bicycle):
        yield ()
        yield _MATERIAL_HEADER
        yield from map(_material, materials)


def _part_rows(bicycle: Bicycle, columns: int) -> Rows:
    """The parts that are stated, below the tubes."""
    for name, part in bicycle.parts.items():
        if isinstance(part, Hub):
            cells = [spoken(name), part.name, "", "", ""]
        elif isinstance(part, Dropout):
            sizes = "x".join(map(number, (part.height, part.thickness, part.length)))
            cells = [spoken(name), sizes, "", "", guard(part.material.name)]
        else:
            wall = "solid" if part.solid else number(part.wall)
            cells = [spoken(name), _diameters(part.tube), wall, "", guard(part.stuff.name)]
        yield (*cells, *("" for _ in range(columns - len(cells))))


def _diameters(tube: Tube) -> str:
    return _sizes(tube) + _after(tube)


def _sizes(tube: Tube) -> str:
    start = number(tube.od_start)
    end = number(tube.od_end)
    # an oval that changes its width needs both ends written
    if tube.oval_width != tube.width_end and tube.oval_width and tube.width_end:
        return f"{start}x{number(tube.oval_width)}-{end}x{number(tube.width_end)}"
    if tube.oval_width is None:
        width = ""
    else:
        width = f"x{number(tube.oval_width)}"
    if start == end:
        return start + width
    return f"{start}-{end}{width}"


def _after(tube: Tube) -> str:
    """Where the taper begins and ends, to all digits; '' where it takes the whole length."""
    if not tube.after:
        return ""
    if tube.straight[1]:
        return f" after {_series(tube.straight)}"
    return f" after {number(tube.straight[0])}"


def _series(values: Sequence[float]) -> str:
    return "/".join(map(number, values))


def _butts(tube: Tube) -> str:
    if not tube.tapers:
        return _series(tube.butts)
    return "/".join(
        f"{number(b)}+{number(t)}" for b, t in zip(tube.butts, tube.tapers, strict=True)
    )


def _own_materials(bicycle: Bicycle) -> list[Material]:
    """Materials that the built-in table does not hold with the same values."""
    used = {tube.material for tube in bicycle.tubes.values()}
    used |= {part.stuff for part in bicycle.parts.values() if isinstance(part, Part)}
    used |= {part.material for part in bicycle.parts.values() if isinstance(part, Dropout)}
    # two materials of one name could not be told apart by whoever reads it
    names = sorted(material.name for material in used)
    doubled = [name for name in names if names.count(name) > 1]
    if doubled:
        raise InputError(
            f"two different materials are both called '{doubled[0]}'; a fit sheet needs different names"
        )
    return [material for material in sorted(used, key=lambda m: m.name) if not _built_in(material)]


def _built_in(material: Material) -> bool:
    try:
        return find_material(material.name) == material
    except FrameError:
        return False


def _material(material: Material) -> Sequence[Cell]:
    strengths = (material.yield_strength, material.ultimate, material.endurance)
    return (
        guard(material.name),
        material.E,
        material.G,
        # exactly: 7.85 g/cm3 must not come back as 7.849999
        float(Fraction(material.rho) * 10**12),
        *("" if value is None else value for value in strengths),
        guard(material.source),
    )


def number(value: float) -> str:
    """Shortest text that reads back to the same number."""
    return repr(float(value)).removesuffix(".0")


# --- files ----------------------------------------------------------------------------------------------------
def save(rows: Rows, path: Path, force: bool) -> None:
    ending = path.suffix.lower()
    if ending not in (".csv", ".xlsx"):
        raise InputError(
            f"{path.name}: a fit sheet is written as .csv or .xlsx; choose one of these endings"
        )
    if ending == ".csv":
        # the mark tells spreadsheets that it is UTF-8
        write_bytes(path, csv_text(rows).encode("utf-8-sig"), force)
    else:
        save_workbook(_workbook(rows), path, force)


def csv_text(rows: Rows) -> str:
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    for row in rows:
        # numbers as short as they can be and still read back as the same ones
        cells = [number(cell) if isinstance(cell, float) else cell for cell in row]
        writer.writerow(cells)
    return text.getvalue()


def _workbook(rows: Rows) -> Any:
    import openpyxl
    from openpyxl.styles import Font

    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "fit sheet"
    for row in rows:
        sheet.append([None if cell == "" else cell for cell in row])
        if row[:2] in (ITEM_HEADER[:2], _TUBE_HEADER[:2], _MATERIAL_HEADER[:2]):
            for cell in sheet[sheet.max_row]:
                cell.font = Font(bold=True)
    for column, width in zip("ABCDEF", (34, 18, 14, 18, 14, 60), strict=True):
        sheet.column_dimensions[column].width = width
    return book
