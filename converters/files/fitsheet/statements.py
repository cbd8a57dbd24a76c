"""Text rows of a fit sheet -> `FitSheet`: every number with its unit, checked against its range, and its place.

Nothing is filled in here; what a name or a missing unit leaves open is written down beside the number.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from ....model.assumption import Assumed
from ....model.errors import FrameError, InputError
from ....model.findings import Finding
from ....model.frame.bicycle import BICYCLE_TYPES
from ....model.frame.hubs import find_hub
from ....model.frame.suspension import SuspensionFork
from ....model.joints.shape import JointKind
from ....model.tubes.known_plans import DIAMOND, PLANS, plan_named
from ....model.tubes.plan import FramePlan
from ....model.tubes.racks import RACKS
from ....model.tubes.tube import Tube
from ....model.words import spoken
from .find_item import Match, find_item
from .items import ITEMS
from .own_plan import placing_rows, plan_of
from .parts import SPACINGS, AnyPart, StatedPart, part_named, read_parts, spacings
from .sheet_rows import SheetReader, Statement, axle_item
from .suspension import suspension_fork
from .table import SheetRow, SheetTables, bare, read_tables
from .tubes import (
    JOINT_WORDS_SAID,
    joint_kind,
    joint_words_wanted,
    read_joints,
    read_materials,
    read_tubes,
    unused_joints,
)
from .wheel_rows import tyre_width, wheel_statements

MOST_NAMED = 6  # rows named in a refusal
# as the convention row itself may be written, bare
_ALONG = ("alongaxis", "alongtheaxis", "alongsteeringaxis", "alongthesteeringaxis", "axis")
_STRAIGHT = ("straight", "straightaxletocrown", "straightaxletocrownrace", "direct", "axletocrown")


@dataclass(frozen=True)
class FitSheet:
    """A fit sheet as read.

    statements : geometry, by names in `model.geometry.statements.PREFERENCE`, in the order of the sheet; an item stated
        twice stands here twice. fittings, loads : fields of `model.frame.bicycle.Fittings` and `Loads`, only those
        stated. bicycle_type : '' where not stated. tyre_widths : front, rear, mm, None where not
        stated. tubes : member -> tube, joints : tube -> kind of joint, parts : part -> part, only those stated.
        joining : how the whole frame is joined, None where not stated. plan : which tubes there are; placing : the
        stated ones of its items. suspension : the suspension fork, if any. unknown : name and row of the
        items that are not known. riding : values of `model.frame.riding.RIDING`, only those stated. placed_by : tube ->
        the row that says where it runs.
    """

    source: str
    sha256: str
    name: str
    statements: tuple[Statement, ...]
    fittings: Mapping[str, float]
    loads: Mapping[str, float]
    tubes: Mapping[str, Tube]
    findings: tuple[Finding, ...] = ()
    assumed: tuple[Assumed, ...] = ()
    bicycle_type: str = ""
    tyre_widths: tuple[float | None, float | None] = (None, None)
    unknown: tuple[tuple[str, int], ...] = ()
    riding: Mapping[str, float] = field(default_factory=dict)
    joints: Mapping[str, JointKind] = field(default_factory=dict)
    parts: Mapping[str, AnyPart] = field(default_factory=dict)
    plan: FramePlan = DIAMOND
    placing: Mapping[str, float] = field(default_factory=dict)
    joining: JointKind | None = None
    suspension: SuspensionFork | None = None
    placed_by: Mapping[str, SheetRow] = field(default_factory=dict)


def read_fit_sheet(path: str | Path) -> FitSheet:
    """Read a CSV or XLSX fit sheet.

    Raises
    ------
    InputError
        One line naming file, row, column, value and the range expected.
    """
    return fit_sheet(read_tables(path))


def fit_sheet(tables: SheetTables) -> FitSheet:
    """The fit sheet that the tables of a file say; raises as `read_fit_sheet` does."""
    if tables.by_hand:
        raise InputError(
            f"{tables.source}: a frame given as nodes and members is a model by itself and no fit sheet; give it "
            "alone, to solve, modes, audit, report, picture, export, model or check"
        )
    # before any number is read: what is missing on another plan would be told as a slip
    named = _words_named(tables.items)
    for plan in PLANS.values():
        _refuse_unnamed(tables, plan, named)
    reader = SheetReader(findings=list(tables.findings))
    for row in tables.items:
        reader.add(row)
    materials = read_materials(tables.materials, reader.findings)
    # parts stand in the same table and are read by rules of their own
    tube_rows = [row for row in tables.tubes if part_named(row["tube"]) is None]
    racks = {rack: reader.first(rack) for rack in RACKS}
    plan = plan_of(reader.first("plan"), racks, tube_rows, reader.findings)
    tubes = read_tubes(tube_rows, plan, materials, reader.findings, reader.assumed)
    parts = _parts(reader, read_parts(tables.tubes, materials, reader.assumed))
    name = reader.first("name")
    statements = (*_geometry(reader), *wheel_statements(reader))
    # only what is stated: a default is filled in later and listed as assumed
    fittings = _settings(reader, "fittings")
    loads = _settings(reader, "loads")
    riding = _settings(reader, "riding")
    placing = _placing(reader, plan)
    # after the parts: an axle standard means a spacing
    reader.findings.extend(spacings(parts, fittings))
    values = _settings(reader, "suspension")
    rows = (reader.first("fork_type"), reader.first("suspension_state"))
    suspension = suspension_fork(*rows, values, reader.assumed)
    bicycle_type = _bicycle_type(reader)
    tyres = (tyre_width(reader, "front"), tyre_width(reader, "rear"))
    joining = _joining(reader)
    joints = read_joints(tube_rows, plan)
    reader.findings.extend(unused_joints(joints, joining, tube_rows, plan))
    # From here on nothing is read, so that every finding is in the list.
    if reader.unitless:
        items = ", ".join(dict.fromkeys(reader.unitless))
        # one line for all of them: a sheet in mm would else fill the list with its every row
        read_as = f"read as mm, degrees, kg or N: {items}"
        without = Assumed("reading the sheet", "", "rows without a unit", read_as, source="")
        reader.assumed.insert(0, without)
    return FitSheet(
        tables.source,
        tables.sha256,
        name["value"] if name else "",
        statements,
        fittings,
        loads,
        tubes,
        # one cell may be reported twice, by two rules; once is enough
        tuple(dict.fromkeys(reader.findings)),
        tuple(reader.assumed),
        bicycle_type,
        tyres,
        tuple(reader.unknown),
        riding,
        joints,
        {name: stated.part for name, stated in parts.items()},
        plan,
        placing,
        joining=joining,
        suspension=suspension,
        placed_by=placing_rows(tube_rows, plan),
    )


def _words_named(rows: Sequence[SheetRow]) -> frozenset[str]:
    """The words of the plan that the sheet names."""
    for row in rows:
        match = find_item(row["item"])
        if match is None or match.item.key != "plan":
            continue
        try:
            return frozenset(plan_named(row["value"]).words)
        except FrameError:
            # Said again where the plan is read, with its row.
            return frozenset()
    return frozenset()


def _refuse_unnamed(tables: SheetTables, plan: FramePlan, named: Collection[str]) -> None:
    """A row that only a sheet of this plan has. named : words of the plan that the sheet names. Raises InputError."""
    words = [word for word in plan.words if word not in named]
    rows = [
        (row, row[column])
        for column, rows in (("item", tables.items), ("tube", tables.tubes))
        for row in rows
    ]
    rows += [
        (row, row["value"])
        for row in tables.items
        if (match := find_item(row["item"])) and match.item.key == "bicycle_type"
    ]
    told = []
    for row, text in rows:
        # anywhere in the name, in bare letters: 'Mixterahmen' counts too
        if any(word in bare(text) for word in words):
            told.append((row, text))
    if told:
        listed = ", ".join(f"row {row.number} '{text}'" for row, text in told[:3])
        raise InputError(
            f"{tables.source}: this sheet describes a {plan.label} ({listed}) and has no row 'plan, {plan.name}'; add "
            f"it, begin with 'droptrail new --plan {plan.name}', or give the frame as points and tubes ('droptrail new "
            "--plan points')"
        )


def _bicycle_type(reader: SheetReader) -> str:
    """The type as ISO 4210 names it, '' where the sheet does not say."""
    row = reader.first("bicycle_type")
    if row is None:
        return ""
    # the type sets the peak loads of ISO 4210, so a type that is nearly one is not guessed
    known = {bare(name): name for name in BICYCLE_TYPES}
    if bare(row["value"]) not in known:
        expected = ", ".join(BICYCLE_TYPES)
        raise row.refusal(f"bicycle type '{row['value']}', expected one of: {expected}", "value")
    return known[bare(row["value"])]


def _joining(reader: SheetReader) -> JointKind | None:
    """How the whole frame is joined, None where the sheet does not say; the tubes' own column goes before it."""
    row = reader.first("joining")
    if row is None:
        return None
    kind = joint_kind(row["value"])
    if kind is None:
        wanted = f"expected one of: {JOINT_WORDS_SAID}{joint_words_wanted(row['value'])}"
        raise row.refusal(f"joined '{row['value']}', {wanted}", "value")
    return kind


def _settings(reader: SheetReader, group: str) -> dict[str, float]:
    found = {}
    for key in [key for key in reader.rows if ITEMS[key].group == group]:
        if (row := reader.first(key)) is not None:
            found[key] = reader.value(row, ITEMS[key])
    return found


def _placing(reader: SheetReader, plan: FramePlan) -> dict[str, float]:
    """The plan's items that are stated; those of another plan become findings."""
    stated = _settings(reader, "placing")
    for key in [key for key in stated if key not in plan.item_keys]:
        del stated[key]
        row = reader.rows[key][0][0]
        reader.findings.append(
            Finding(
                "sheet-item-not-in-plan",
                "warning",
                f"'{row['item']}' says nothing on a {plan.label} frame and was not used; write the plan or the rack "
                "as an item, such as 'plan, mixte' or 'rear rack, bolted', or leave the row out",
                row.where,
            )
        )
    return stated


def _parts(reader: SheetReader, parts: dict[str, StatedPart]) -> dict[str, StatedPart]:
    """The parts of the tube table, and hubs by the axle standards among the items."""
    for name in SPACINGS:
        row = reader.first(axle_item(name))
        if row is None:
            continue
        with row.at("value"):
            hub = find_hub(name, row["value"])
        if parts.setdefault(name, StatedPart(hub, row.where)).part != hub:
            raise row.refusal(
                f"the {spoken(name)} stands in the tube table too, with other values; leave one row out",
                "value",
            )
    return parts


# --- geometry -------------------------------------------------------------------------------------------------
def _geometry(reader: SheetReader) -> list[Statement]:
    convention = _fork_convention(reader)
    statements = []
    for key, rows in reader.rows.items():
        for row, match in rows if ITEMS[key].group == "geometry" else ():
            item = match.item
            assumption = _convention(match)
            # the sheet's own row on how forks are measured settles what this name leaves open
            if convention and _leaves_fork_open(row, match):
                item = ITEMS[convention]
                assumption = None
            statements.append(
                Statement(
                    item.key,
                    reader.value(row, item),
                    row.source,
                    row.number,
                    row["value"],
                    assumption,
                )
            )
    return statements


def _convention(match: Match) -> Assumed | None:
    """How an item is taken whose name leaves that open."""
    if not match.assumption:
        return None
    key = match.item.key
    name = match.item.loose[0]
    return Assumed("geometry", key, name, match.assumption, source="the sheet names no convention")


def _leaves_fork_open(row: SheetRow, match: Match) -> bool:
    """Whether a row of its own may say how this fork length was measured: ``fork length``, and ``A-C`` without more."""
    if match.item.key == "fork_length":
        return bool(match.assumption)
    # words that settle it in the row itself, whatever the row on conventions says
    said = bare(f"{row['item']} {row['note']}")
    return match.item.key == "axle_to_crown_straight" and not any(
        word in said for word in ("straight", "direct", "gerade")
    )


def _fork_convention(reader: SheetReader) -> str:
    """The statement that a plain ``fork length`` row means by the sheet's own convention row; '' without one."""
    row = reader.first("fork_convention")
    if row is None:
        return ""
    if bare(row["value"]) not in (*_ALONG, *_STRAIGHT):
        raise row.refusal(
            f"fork length convention '{row['value']}', expected 'along axis' or 'straight'", "value"
        )
    if bare(row["value"]) in _ALONG:
        return "fork_length"
    return "axle_to_crown_straight"


def not_understood(sheet: FitSheet) -> str:
    """The rows whose item is not known, for the end of a refusal that they may be the cause of; '' without any."""
    rows = [f"'{name}' (row {number})" for name, number in sheet.unknown]
    if len(rows) > MOST_NAMED:
        more = f" and {len(rows) - MOST_NAMED} more"
    else:
        more = ""
    if rows:
        return f"; not understood in the sheet: {', '.join(rows[:MOST_NAMED])}{more}"
    return ""


def first_of(statements: Sequence[Statement]) -> dict[str, Statement]:
    """Item -> its first statement, in the order of the sheet."""
    first: dict[str, Statement] = {}
    for statement in statements:
        first.setdefault(statement.item, statement)
    return first


def duplicates(statements: Sequence[Statement]) -> list[tuple[Statement, Statement]]:
    """(first, later) for each statement of an item stated before."""
    first = first_of(statements)
    return [(first[s.item], s) for s in statements if first[s.item] is not s]
