"""The plan of one sheet: the known plan it names, with its own further tubes, moved ends and bends.

The tube table may have the columns from, to and bend. A tube that the plan does not know becomes one of this bicycle's
own where both ends are said; of one that it knows they move the ends and bend the tube.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

from ....model.errors import InputError, ModelError
from ....model.findings import Finding
from ....model.tubes.bends import Bend, read_bend
from ....model.tubes.known_plans import DIAMOND, PLANS, plan_named, with_ends
from ....model.tubes.places import Along, AtJoint, Free, Place, read_place
from ....model.tubes.plan import SHELL, FramePlan, TubeRole
from ....model.tubes.racks import RACKS, with_rack, with_racks
from ....model.words import spoken
from .table import SheetRow, bare
from .tubes import member_named

STEERING = ("head_tube", "steerer")
# Beginnings of the joints that turn with it.
_OF_THE_FORK = ("crown", "front_", "fork_", "stem_", "bar_", "steerer_")
_SIDES = re.compile(r"(^|_)(right|left)$")
ENDS = ("from", "to")
# The row of a rack, bare.
_BOLTED = ("bolted", "boltedon", "bolts", "yes", "screwed", "geschraubt", "boulonne", "avvitato")
_BUILT_IN = (
    "builtin",
    "brazed",
    "brazedon",
    "welded",
    "rigid",
    "fixed",
    "gelotet",
    "brase",
    "saldato",
)
_NO_RACK = ("none", "no", "without", "ohne", "sans")
OWN_COLUMNS = (*ENDS, "bend")


def plan_of(
    named: SheetRow | None,
    racks: Mapping[str, SheetRow | None],
    rows: Sequence[SheetRow],
    findings: list[Finding],
) -> FramePlan:
    """The plan of a sheet: of the row that names one, else the diamond, with its racks, and of the rows of its tube
    table.

    Raises
    ------
    InputError
        For a plan, a place or a bend that is not understood, with row and column.
    """
    plan = DIAMOND
    if named is not None:
        with named.at("value"):
            plan = plan_named(named["value"])
    for rack, said in racks.items():
        if said is not None:
            plan = _with_rack(plan, rack, said)
    return _with_rows(plan, rows, findings)


def _with_rows(plan: FramePlan, rows: Sequence[SheetRow], findings: list[Finding]) -> FramePlan:
    """The plan with every row of the tube table, whatever their order: a tube may stand on one of a later row."""
    said: dict[str, SheetRow] = {}
    while rows:
        later: list[SheetRow] = []
        refusals: list[InputError] = []
        for row in rows:
            try:
                _refuse_other_ends(said, row)
                plan = _with_row(plan, row, findings)
            except InputError as error:
                later.append(row)
                refusals.append(error)
        if len(later) == len(rows):
            raise _first_cause(later, refusals)
        rows = later
    return plan


def _first_cause(rows: Sequence[SheetRow], refusals: Sequence[InputError]) -> InputError:
    """Of rows that are all refused: why the first is that stands on none of the others."""
    names = [bare(row["tube"]) for row in rows]
    for row, refusal in zip(rows, refusals, strict=True):
        hosts = bare(row["from"] + " " + row["to"])
        if not any(name and name in hosts for name in names):
            return refusal
    listed = ", ".join(row["tube"] for row in rows)
    return rows[0].refusal(
        f"'{rows[0]['tube']}' stands on itself, or on a tube that stands on it ({listed}); place one of them on a tube "
        "of the frame or by a joint",
        "tube",
    )


def _refuse_other_ends(said: dict[str, SheetRow], row: SheetRow) -> None:
    """Raises InputError for a tube of two rows that run or bend it otherwise."""
    if not any(row[column] for column in OWN_COLUMNS):
        return
    first = said.setdefault(bare(row["tube"]), row)
    for column in OWN_COLUMNS:
        if row[column] != first[column]:
            raise row.refusal(
                f"'{row['tube']}' stands in two rows, '{first[column]}' there and '{row[column]}' here; give each tube "
                "a name of its own, or leave one row out",
                column,
            )


def _with_rack(plan: FramePlan, rack: str, row: SheetRow) -> FramePlan:
    """The plan with a rack as the row says: bolted on, built in, or none."""
    said = bare(row["value"])
    if said in _NO_RACK:
        return plan
    if said not in (*_BOLTED, *_BUILT_IN):
        raise row.refusal(
            f"{RACKS[rack].label} '{row['value']}', expected 'bolted', 'built in' or 'none'",
            "value",
        )
    with row.at("value"):
        return with_rack(plan, rack, said in _BOLTED)


def _with_row(plan: FramePlan, row: SheetRow, findings: list[Finding]) -> FramePlan:
    said = {column: row[column] for column in (*ENDS, "bend") if row[column]}
    member = member_named(row["tube"], plan)
    if said and member in STEERING:
        raise row.refusal(
            f"the {spoken(member or '')} is straight and placed by its items (head angle, head tube, stack and reach); "
            "leave 'from', 'to' and 'bend' empty",
            next(iter(said)),
        )
    if not said:
        if member is not None and plan.get(member) is None:
            findings.append(_of_another_plan(plan, row, member))
        return plan
    if member is None or plan.get(member) is None:
        if not all(row[end] for end in ENDS):
            # A name that nobody knows is told with the other rows.
            return plan
        member = own_name(row)
    ends = {end: _place(plan, row, end) for end in ENDS if row[end]}
    bend = _bend(row) if row["bend"] else None
    known = plan.get(member)
    if known is None:
        role = replace(own_tube(plan, member, ends["from"], ends["to"]), bend=bend)
    else:
        role = moved(plan, known, ends, bend)
    with row.at("from" if "from" in said else next(iter(said))):
        if ends:
            _refuse_locked_steering(plan, role)
        return plan.with_roles(role)


def _refuse_locked_steering(plan: FramePlan, role: TubeRole) -> None:
    """Raises ModelError for a tube from the fork to the frame."""
    steers = [_steers(plan, place) for place in role.ends]
    if any(steers) and not all(steers):
        raise ModelError(
            f"the {role.label} would join the fork to the frame, so that nothing could steer; place both ends on "
            "the fork, or both on the frame"
        )


def _steers(plan: FramePlan, place: Place) -> bool:
    """Whether a place turns with the fork."""
    if isinstance(place, Along):
        return plan.role(place.tube).region in ("fork", "bars")
    if isinstance(place, AtJoint):
        return place.name.startswith(_OF_THE_FORK)
    if isinstance(place, Free):
        return place.joint.startswith(_OF_THE_FORK)
    return place.first.startswith(_OF_THE_FORK) or place.second.startswith(_OF_THE_FORK)


def placing_rows(rows: Sequence[SheetRow], plan: FramePlan) -> dict[str, SheetRow]:
    """Tube -> the row that says where it runs or how it is bent."""
    found: dict[str, SheetRow] = {}
    for row in rows:
        if any(row[column] for column in OWN_COLUMNS):
            tube = member_named(row["tube"], plan) or own_name(row)
            if plan.get(tube) is not None:
                found.setdefault(tube, row)
    return found


def own_tube(plan: FramePlan, name: str, start: Place, end: Place) -> TubeRole:
    """A tube that the plan does not know: cut to the tubes it stands on, and of their part of the bicycle."""
    hosts = [place.tube for place in (start, end) if isinstance(place, Along)]
    single = tuple(dict.fromkeys(host for host in hosts if not plan.role(host).paired))
    return TubeRole(
        name,
        (start, end),
        paired=start.pair or end.pair,
        optional=True,
        mitred_start=_cut_to(start),
        mitred_end=_cut_to(end),
        narrower_than=single,
        region=_region(plan, start, end),
        tyres=("rear", "front"),
    )


def moved(
    plan: FramePlan, role: TubeRole, ends: Mapping[str, Place], bend: Bend | None
) -> TubeRole:
    """A tube of the plan with ends placed anew, cut to what they now stand on, and bent."""
    changes: dict[str, object] = {}
    for end, mitred in (("from", "mitred_start"), ("to", "mitred_end")):
        if end in ends:
            changes[mitred] = _cut_to(ends[end])
    if bend is not None:
        changes["bend"] = bend
    met = {*changes.get("mitred_start", ()), *changes.get("mitred_end", ())}  # type: ignore[misc]
    if met:
        wider = (*role.narrower_than, *met)
        single = (n for n in wider if n != SHELL and not plan.role(str(n)).paired)
        changes["narrower_than"] = tuple(dict.fromkeys(single))
    return with_ends(role, ends, changes)


def _cut_to(place: Place) -> tuple[str, ...]:
    if place == AtJoint("bottom_bracket"):
        return (SHELL,)
    return (place.tube,) if isinstance(place, Along) else ()


def _region(plan: FramePlan, *places: Place) -> str:
    """The fork's where one end moves with it, the rear triangle's where one is at the rear axle, else the front's."""
    regions = [plan.role(place.tube).region for place in places if isinstance(place, Along)]
    joints = [place.name for place in places if isinstance(place, AtJoint)]
    if "fork" in regions or any(joint.startswith(_OF_THE_FORK) for joint in joints):
        return "fork"
    if any(joint.startswith("rear_") for joint in joints):
        return "rear triangle"
    if regions and all(region == "rear triangle" for region in regions):
        return "rear triangle"
    return "main triangle"


def own_name(row: SheetRow) -> str:
    """The name of a tube of the builder's own. Raises InputError for one that says a side."""
    name = "_".join(re.findall(r"\w+", row["tube"].casefold()))
    if not name:
        raise row.refusal(
            f"'{row['tube']}': a tube's name needs letters or digits, such as brace", "tube"
        )
    if _SIDES.search(name):
        raise row.refusal(
            f"'{row['tube']}': a pair has one row, so a tube's name does not end with right or left; name it by what "
            "it is, and say its sides in 'from' and 'to'",
            "tube",
        )
    return name


def _place(plan: FramePlan, row: SheetRow, end: str) -> Place:
    pairs = [*plan.pair_joints, *(role.name for role in plan.roles if role.paired)]
    with row.at(end):
        return read_place(row[end], plan.names, pairs, lambda text: member_named(text, plan))


def _bend(row: SheetRow) -> Bend:
    with row.at("bend"):
        return read_bend(row["bend"])


def _of_another_plan(plan: FramePlan, row: SheetRow, member: str) -> Finding:
    others = [other.name.replace("_", " ") for other in PLANS.values() if other.get(member)]
    for name, rack in RACKS.items():
        # Every rack is written like a plan, over the diamond.
        if not others and rack.get(member) is not None:
            said = name.replace("_", " ")
            return Finding(
                "sheet-tube-not-in-plan",
                "warning",
                f"'{row['tube']}' belongs to a {rack.label}, which the sheet does not have, and was not used; write "
                f"'{said}, bolted' or '{said}, built in' as an item",
                row.where,
            )
    return Finding(
        "sheet-tube-not-in-plan",
        "warning",
        f"'{row['tube']}' is no tube of a {plan.label} frame and was not used; it belongs to: {', '.join(others)}. "
        "Write the plan as an item, such as 'plan, "
        + others[0]
        + "', or say in columns 'from' and 'to' where it runs",
        row.where,
    )


# --- written back ---------------------------------------------------------------------------------------------
def own_cells(plan: FramePlan, tube: str) -> dict[str, str]:
    """Column -> text, of what a tube of this plan has otherwise than the known plan of its name."""
    base = with_racks(plan_named(plan.name), plan.racks).get(tube)
    role = plan.role(tube)
    cells = {}
    for k, end in enumerate(ENDS):
        if base is None or base.ends[k] != role.ends[k]:
            cells[end] = _spaced(role.ends[k].words)
    if role.bend is not None and (base is None or base.bend != role.bend):
        cells["bend"] = role.bend.words
    return cells


def _spaced(words: str) -> str:
    """As a builder writes it; names of items in braces keep their underscores."""
    parts = re.split(r"(\{\w+\})", words)
    return "".join(part if part.startswith("{") else part.replace("_", " ") for part in parts)
