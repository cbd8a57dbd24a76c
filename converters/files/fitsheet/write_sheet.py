"""Writes fit sheets: any bicycle as CSV or XLSX that reads back to the same numbers, and the starter sheet."""

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from ....model.assumption import Assumed, stands_in
from ....model.errors import FrameError, InputError, ModelError
from ....model.frame.bicycle import BICYCLE_TYPES, Bicycle, Fittings, Loads
from ....model.frame.dropouts import DEFAULT_MATERIAL, DROPOUTS, Dropout
from ....model.frame.hubs import HUB_NAMES, HUBS, Hub
from ....model.frame.parts import PARTS, Part
from ....model.frame.suspension import TYPICAL, SuspensionFork
from ....model.geometry.dimensions import FrameDimensions
from ....model.geometry.statements import FIELDS, label, quantities
from ....model.tubes.known_plans import DIAMOND
from ....model.tubes.materials import Material, find_material
from ....model.tubes.plan import FramePlan
from ....model.tubes.racks import RACKS, with_rack
from ....model.tubes.tube import Tube
from ....model.words import spoken
from ..writing import save_workbook, write_bytes
from .bicycle import PLACES, plain_tube, plain_words, used_nodes
from .items import ITEMS
from .own_plan import OWN_COLUMNS, own_cells
from .table import clean, guard
from .wheels import KNOWN_BEAD_SEATS, wheel_radius

Cell = str | float
Rows = Iterator[Sequence[Cell]]

# the columns that are written; more are understood when a sheet is read
_ITEM_HEADER = ("item", "value", "unit", "note")
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
    _save(sheet_rows(bicycle), Path(path), force)


def write_starter_sheet(
    path: str | Path, force: bool = False, plan: FramePlan = DIAMOND, extras: Sequence[str] = ()
) -> None:
    """Write the starter sheet of a plan, with some of `EXTRAS`, as .csv or .xlsx.

    Raises like `write_fit_sheet`, and ModelError for an extra that is not known or does not go with the plan.
    """
    _save(_starter_rows(with_extras(plan_starter(plan), extras)), Path(path), force)


def write_points_starter(path: str | Path, force: bool = False) -> None:
    """Write a starter sheet of points and tubes as .csv or .xlsx; raises like `write_fit_sheet`."""
    with POINTS.open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    _save(iter(rows), Path(path), force)


def starter_sheet() -> str:
    """A filled, commented CSV fit sheet of an invented tourer, to put one's own numbers into."""
    return _csv(_starter_rows(plan_starter(DIAMOND)))


# --- rows -----------------------------------------------------------------------------------------------------
def sheet_rows(bicycle: Bicycle) -> Rows:
    """All rows of a bicycle's fit sheet."""
    yield _ITEM_HEADER
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
    yield from _plan_row(bicycle.plan)
    if kind := _whole_joining(bicycle):
        yield *ITEMS["joining"].names[:1], kind, "", "how the tubes are joined"
    for name in FIELDS:
        value = getattr(bicycle.dimensions, name)
        if name.startswith("wheel_radius"):
            yield from _wheel(name.removeprefix("wheel_radius_"), value, bicycle.tyre_widths)
        else:
            # a comment row: the reader must not take it for a value
            yield (f"# {label(name)} is not known",) if value is None else _item(name, value)
    yield from _settings(bicycle.fittings, bicycle.assumed)
    yield from _settings(bicycle.loads, bicycle.assumed)
    yield from (_item(key, value) for key, value in bicycle.placing.items())
    yield from (_item(key, value) for key, value in bicycle.riding.items())
    yield from _suspension(bicycle)
    yield from _tube_tables(bicycle)
    yield from (
        (f"# assumed when this sheet was written: {clean(str(one))}",) for one in bicycle.assumed
    )


def _plan_row(plan: FramePlan) -> Rows:
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
        yield _item(f"wheel_radius_{side}", radius)
    else:
        yield from (_item(f"bead_seat_{side}", bead_seat), _item(f"tyre_width_{side}", width))


def _item(key: str, value: Cell) -> Sequence[Cell]:
    """A row under the item's first name, which leaves no convention open."""
    item = ITEMS[key]
    return item.names[0], value, item.unit, item.note


def _settings(part: Fittings | Loads, assumed: Sequence[Assumed] = ()) -> Rows:
    # Nobody said it, so no sheet is to say it: read without it, it is assumed again, and listed again.
    for key in part.__dataclass_fields__:
        value = getattr(part, key)
        if not stands_in(assumed, key, value):
            yield _item(key, value)


def _whole_joining(bicycle: Bicycle) -> str:
    """The kind of joint that every tube has; nothing where they differ, or nobody said."""
    kinds = {bicycle.joints.get(name, "") for name in bicycle.tubes}
    if len(kinds) == 1:
        return kinds.pop()
    return ""


def _suspension(bicycle: Bicycle) -> Rows:
    """A suspension fork, as far as it was stated."""
    fork = bicycle.suspension
    if fork is None:
        return
    yield ITEMS["fork_type"].names[0], "suspension", "", "a given part: length, stiffness, sag"
    if fork.at_sag or not stands_in(bicycle.assumed, "suspension_state", "with the fork extended"):
        state = "at sag" if fork.at_sag else "fork extended"
        yield ITEMS["suspension_state"].names[0], state, "", ""
    yield from (
        _item(f"suspension_{key}", getattr(fork, key)) for key in TYPICAL if key in fork.stated
    )


def _tube_tables(bicycle: Bicycle) -> Rows:
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
            "corner radius": "" if tube.corner is None else _number(tube.corner),
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
            sizes = "x".join(map(_number, (part.height, part.thickness, part.length)))
            cells = [spoken(name), sizes, "", "", guard(part.material.name)]
        else:
            wall = "solid" if part.solid else _number(part.wall)
            cells = [spoken(name), _diameters(part.tube), wall, "", guard(part.stuff.name)]
        yield (*cells, *("" for _ in range(columns - len(cells))))


def _diameters(tube: Tube) -> str:
    return _sizes(tube) + _after(tube)


def _sizes(tube: Tube) -> str:
    start = _number(tube.od_start)
    end = _number(tube.od_end)
    # an oval that changes its width needs both ends written
    if tube.oval_width != tube.width_end and tube.oval_width and tube.width_end:
        return f"{start}x{_number(tube.oval_width)}-{end}x{_number(tube.width_end)}"
    if tube.oval_width is None:
        width = ""
    else:
        width = f"x{_number(tube.oval_width)}"
    if start == end:
        return start + width
    return f"{start}-{end}{width}"


def _after(tube: Tube) -> str:
    """Where the taper begins and ends, to all digits; '' where it takes the whole length."""
    if not tube.after:
        return ""
    if tube.straight[1]:
        return f" after {_series(tube.straight)}"
    return f" after {_number(tube.straight[0])}"


def _series(values: Sequence[float]) -> str:
    return "/".join(map(_number, values))


def _butts(tube: Tube) -> str:
    if not tube.tapers:
        return _series(tube.butts)
    return "/".join(
        f"{_number(b)}+{_number(t)}" for b, t in zip(tube.butts, tube.tapers, strict=True)
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


def _number(value: float) -> str:
    """Shortest text that reads back to the same number."""
    return repr(float(value)).removesuffix(".0")


# --- files ----------------------------------------------------------------------------------------------------
def _save(rows: Rows, path: Path, force: bool) -> None:
    ending = path.suffix.lower()
    if ending not in (".csv", ".xlsx"):
        raise InputError(
            f"{path.name}: a fit sheet is written as .csv or .xlsx; choose one of these endings"
        )
    if ending == ".csv":
        # the mark tells spreadsheets that it is UTF-8
        write_bytes(path, _csv(rows).encode("utf-8-sig"), force)
    else:
        save_workbook(_workbook(rows), path, force)


def _csv(rows: Rows) -> str:
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    for row in rows:
        # numbers as short as they can be and still read back as the same ones
        cells = [_number(cell) if isinstance(cell, float) else cell for cell in row]
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
        if row[:2] in (_ITEM_HEADER[:2], _TUBE_HEADER[:2], _MATERIAL_HEADER[:2]):
            for cell in sheet[sheet.max_row]:
                cell.font = Font(bold=True)
    for column, width in zip("ABCDEF", (34, 18, 14, 18, 14, 60), strict=True):
        sheet.column_dimensions[column].width = width
    return book


# --- the starter ------------------------------------------------------------------------------------------------
_STARTER_TYRE = 35.0  # mm
_STARTER_LUGGAGE = {"front": 8.0, "rear": 14.0}  # kg
SUSPENSION = "suspension_fork"
EXTRAS = (*RACKS, SUSPENSION)  # what a starter sheet may have besides its plan
POINTS = Path(__file__).parent.parent / "data" / "points.csv"


def starter_bicycle() -> Bicycle:
    """An invented 700C tourer: 622 wheels with 35 mm tyres, butted steel."""
    steel = find_material("4130")
    return Bicycle(
        FrameDimensions(
            reach=384.0,
            head_angle=71.5,
            seat_angle=72.5,
            bb_drop=75.0,
            chainstay=450.0,
            head_tube=160.0,
            lower_stack=12.0,
            fork_length=394.0,
            fork_offset=52.0,
            wheel_radius_front=311.0 + _STARTER_TYRE,
            wheel_radius_rear=311.0 + _STARTER_TYRE,
            seat_tube=560.0,
            top_tube_on_seat_tube=530.0,
            top_tube_below_head_top=35.0,
            down_tube_above_head_bottom=40.0,
            seatstay_below_top_tube=15.0,
        ),
        {
            "head_tube": Tube(steel, 36.0, 36.0, (1.1,)),
            "top_tube": Tube(steel, 28.6, 28.6, (0.8, 0.5, 0.8), (80.0, 80.0), (30.0, 30.0)),
            "down_tube": Tube(steel, 31.8, 31.8, (0.9, 0.6, 0.9), (100.0, 80.0), (30.0, 30.0)),
            "seat_tube": Tube(steel, 28.6, 28.6, (0.9, 0.6), (130.0,), (30.0,)),
            "chainstay": Tube(steel, 22.2, 14.0, (0.8,)),
            "seatstay": Tube(steel, 16.0, 12.5, (0.8,)),
            "fork_blade": Tube(steel, 24.0, 13.0, (1.0,)),
            "steerer": Tube(steel, 28.6, 28.6, (1.6,)),
        },
        # Room for the tyre beside stays and blades, as ISO 4210-2 wants it.
        Fittings(
            rear_hub_spacing=135.0,
            blade_spacing=64.0,
            front_hub_spacing=100.0,
            saddle_height=740.0,
        ),
        Loads(rider_mass=82.0),
        "Starter tourer (invented)",
        tyre_widths=(_STARTER_TYRE, _STARTER_TYRE),
    )


_STARTER_HEAD = (
    "# droptrail fit sheet. Rows that begin with # are not read. Put your own numbers in the value column.",
    "# Rows may stand in any order; rows you do not need can go: whatever is then assumed is listed.",
    '# Units: mm, cm, m, inch (also 1 1/8"), degrees, % for slopes, kg, N. Decimal point or comma.',
)
_STARTER_CHECKS = (
    "# The rows below say again what the rows above already fix. They are compared, and differences reported.",
    "# Any of them can also replace a row above: stack for the lower headset stack, trail for the fork offset.",
)
_STARTER_TUBES = (
    "# Tubes: outside diameter 28.6, both ends of a taper 22.2-14, or height x width of an oval 30x16.",
    "# A blade that is cylindrical for 180 mm before it tapers: 24-13 after 180; an oval that ends round: 30x17-14.",
    "# A column 'corner radius' (outside, mm) makes a tube of height x width rectangular.",
    "# A row 'joined' above, or a column 'joint' for single tubes (TIG welded, fillet brazed, lugged or rigid), says",
    "# how the tubes are joined; without it their joints are rigid, and the check says what welds would change.",
    "# Wall 0.8, or butted 0.8/0.5/0.8 with butts 80/80; with the lengths of the wall's tapers 80+30/80+30.",
    "# A butted tube begins at the bottom bracket (seat and down tube, chainstay), at the seat tube (top tube,",
    "# seatstay), at the top (head tube, steerer), at the crown (fork blade).",
)
_STARTER_PARTS = (
    "# Parts may stand below the tubes: take the # away from a row. Without a row they are assumed, and listed.",
    "# Hubs: by the standard of their axle, or as a bar of outside diameter and wall (assumed: 17 and 15 mm, solid).",
)
_STARTER_CHECKED = (
    "stack",
    "trail",
    "wheelbase",
    "front_center_horizontal",
    "effective_top_tube",
    "bb_height",
)


def plan_starter(plan: FramePlan) -> Bicycle:
    """The starter bicycle with the tubes of a plan: those it shares with the diamond as there, the others plain."""
    bicycle = starter_bicycle()
    unused = [name for name in FIELDS if name in PLACES and PLACES[name] not in used_nodes(plan)]
    own = dict(plan.starter)
    changes: dict[str, float | None] = dict.fromkeys(unused)
    changes |= {name: value for name, value in own.items() if name in FIELDS}
    tubes = {}
    for role in (role for role in plan.roles if not role.optional):
        shared = DIAMOND.get(role.name)
        # A pair in the place of one tube is of thinner ones.
        if shared is not None and shared.plain == role.plain:
            tubes[role.name] = bicycle.tubes[role.name]
        else:
            tubes[role.name] = plain_tube(role)
    fittings = {key: value for key, value in own.items() if hasattr(bicycle.fittings, key)}
    placing = {item.key: own.get(item.key, item.usual) for item in plan.items}
    return replace(
        bicycle,
        dimensions=replace(bicycle.dimensions, **changes),  # type: ignore[arg-type]
        fittings=replace(bicycle.fittings, **fittings),
        tubes=tubes,
        plan=plan,
        placing=placing,
        name="Starter tourer (invented)"
        if plan is DIAMOND
        else f"Starter, {plan.label} (invented)",
    )


def with_extras(bicycle: Bicycle, extras: Sequence[str]) -> Bicycle:
    """The starter bicycle with racks and a suspension fork.

    Raises ModelError for an extra that is not known or does not go with the bicycle.
    """
    for extra in extras:
        if extra not in EXTRAS:
            raise ModelError(
                f"'{spoken(extra)}' is no extra of a starter sheet; known: {', '.join(EXTRAS)}"
            )
    racks = [extra for extra in extras if extra in RACKS]
    for rack in racks:
        bicycle = _with_rack(bicycle, rack)
    # a rack on the fork's blades cannot stand without them, and is told so
    return _with_suspension(bicycle) if SUSPENSION in extras else bicycle


def _with_rack(bicycle: Bicycle, rack: str) -> Bicycle:
    """A bolted rack, its tubes and items as usual, and luggage to hang on it."""
    plan = with_rack(bicycle.plan, rack)
    further = [role for role in plan.roles if bicycle.plan.get(role.name) is None]
    sizes = {item.key: item.usual for item in RACKS[rack].items}
    end = RACKS[rack].racks[0].end
    return replace(
        bicycle,
        plan=plan,
        tubes={**bicycle.tubes, **{role.name: plain_tube(role) for role in further}},
        placing={**bicycle.placing, **sizes},
        loads=replace(bicycle.loads, **{f"{end}_luggage": _STARTER_LUGGAGE[end]}),
    )


def _with_suspension(bicycle: Bicycle) -> Bicycle:
    """A suspension fork with every figure of it stated as it usually is, and a head tube shorter by about as much as
    the fork is longer."""
    plan = bicycle.plan.without_fork()
    usual = {key: value.usual for key, value in TYPICAL.items()}
    return replace(
        bicycle,
        plan=plan,
        tubes={name: tube for name, tube in bicycle.tubes.items() if plan.get(name) is not None},
        dimensions=replace(bicycle.dimensions, fork_length=452.0, head_tube=110.0, reach=378.0),
        suspension=SuspensionFork().having(usual),
    )


def _starter_rows(bicycle: Bicycle) -> Rows:
    """A starter bicycle as a builder writes it: wheels by rim and tyre, some things said twice, comments."""
    plan = bicycle.plan
    held = quantities(bicycle.dimensions)
    yield from ((line,) for line in _STARTER_HEAD)
    yield _ITEM_HEADER
    yield "name", bicycle.name, "", "any text"
    yield from _plan_row(plan)
    for name in FIELDS:
        if getattr(bicycle.dimensions, name) is None:
            continue
        if name.startswith("wheel_radius"):
            side = name.rsplit("_", 1)[1]
            yield from (
                _item(f"bead_seat_{side}", "622"),
                _item(f"tyre_width_{side}", _STARTER_TYRE),
            )
        else:
            yield _item(name, getattr(bicycle.dimensions, name))
    yield from (_item(key, value) for key, value in bicycle.placing.items())
    yield from (*_settings(bicycle.fittings), *_settings(bicycle.loads))
    yield from _suspension(bicycle)
    yield from ((line,) for line in _STARTER_CHECKS)
    yield from (
        _item(key, round(value, 1)) for key in _STARTER_CHECKED if (value := held[key]) is not None
    )
    blank, *tubes = _tube_tables(bicycle)
    yield from (blank, *((line,) for line in _STARTER_TUBES), *tubes)
    yield from ((line,) for line in _STARTER_PARTS)
    yield from _starter_parts()


def _starter_parts() -> Rows:
    """The usual parts as rows that are not read yet."""
    for name, part in PARTS.items():
        end = next((hub for hub in HUB_NAMES if hub == name), None)
        if end is None:
            wall = "solid" if part.solid else _number(part.wall)
            yield f"# {spoken(name)}", _number(part.od), wall, "", part.stuff.name, ""
        else:
            usual, *others = HUBS[end]
            yield f"# {spoken(name)}", usual, "", "", "", f"or {', '.join(others)}"
    for name in DROPOUTS:
        words = "plate, height x thickness x length from the axle"
        yield f"# {spoken(name)}", "30x6x26", "", "", DEFAULT_MATERIAL, words
