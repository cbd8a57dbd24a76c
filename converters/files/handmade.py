"""Tables of nodes, members, supports and loads in a sheet -> an analysis model with its load cases.

For frames that no plan holds. Read like a fit sheet (CSV or XLSX, any delimiter, mm, inches, fractions); names of nodes
may be written with blanks. A table of loads, or an item row ``load cases`` with names of the library where the frame
has the points they push and hold, or both.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches

import numpy as np

from ...model.assumption import Assumed
from ...model.cases import bench
from ...model.cases.library import CaseBuilder
from ...model.cases.tools import swallowed
from ...model.errors import InputError, ModelError
from ...model.findings import Finding
from ...model.frame.bicycle import Bicycle, Loads
from ...model.frame.handmade import (
    HandMember,
    beside_findings,
    crossing_findings,
    hand_model,
    pinned_alone,
)
from ...model.frame.layout import FrameLayout
from ...model.geometry.dimensions import FrameDimensions
from ...model.mechanics.frame_model import DOFS, FrameModel, LoadCase, Measure, NodeMass
from ...model.tubes.materials import Material, find_material
from ...model.tubes.sections import Section
from ...model.tubes.tube import Tube
from ...model.words import DOF_WORDS, spoken
from .fitsheet.find_item import find_item
from .fitsheet.table import SheetRow, SheetTables, bare
from .fitsheet.tubes import DEFAULT_MATERIAL, read_materials, tube_of
from .fitsheet.values import quantity
from .model_file.write_model import SUPPORTS_ONLY

FARTHEST = 5000.0  # mm from the origin
HEAVIEST = 300.0  # kg at one node
STRONGEST = {"force": 1e5, "moment": 1e5}  # N, N·m
SECTIONS = {"A": (1.0, 1e5), "Iy": (1.0, 1e9), "Iz": (1.0, 1e9), "J": (1.0, 1e9)}  # mm², mm⁴
_RIGID = ("rigid", "welded", "brazed", "bare", "fillet", "lug", "fest")
_PINNED = ("pin", "pinned", "bolt", "bolted", "hinge", "gelenk", "schraube")
_WHOLE = {"all": (1,) * 6, "fixed": (1,) * 6, "clamped": (1,) * 6, "place": (1, 1, 1, 0, 0, 0)}
_WORDS = {**dict(zip("xyz", (0, 1, 2), strict=True)), **{dof: k for k, dof in enumerate(DOFS)}}
# Cases that need points and loads, and nothing else of a bicycle: name -> points they push or hold.
BY_NAMED_NODES: Mapping[str, tuple[CaseBuilder, tuple[str, ...]]] = {
    case.__name__: (case, points)
    for case, points in (
        (bench.side_push, ("head_tube_top", "bottom_bracket", "rear_axle", "front_axle")),
        (bench.bb_push, ("bottom_bracket", "rear_axle", "front_axle")),
        (bench.saddle_push, ("saddle", "rear_axle", "front_axle")),
        (
            bench.frame_torsion,
            ("head_tube_top", "head_tube_bottom", "bottom_bracket", "rear_axle"),
        ),
        (bench.head_torsion, ("head_tube_top", "head_tube_bottom", "rear_axle")),
        (bench.crank_axle_pull, ("bottom_bracket", "rear_axle", "front_axle")),
        (bench.rear_sideways, ("bottom_bracket", "rear_axle")),
    )
}
# A library's case asks a bicycle for its loads, and for a steering axis that a frame of plain members does not have.
_ANY_DIMENSIONS = FrameDimensions(
    380.0, 72.0, 73.0, 70.0, 440.0, 150.0, 12.0, 385.0, 45.0, 340.0, 340.0
)


@dataclass(frozen=True)
class HandFrame:
    """What the tables hold."""

    model: FrameModel
    cases: tuple[LoadCase, ...]
    findings: tuple[Finding, ...]
    assumed: tuple[Assumed, ...]


def hand_frame(tables: SheetTables) -> HandFrame:
    """The model and the load cases of a sheet of nodes and members.

    Raises
    ------
    InputError
        Naming file, row, column, value and what is expected.
    """
    findings = list(tables.findings)
    assumed: list[Assumed] = []
    for kind in ("nodes", "members"):
        if not getattr(tables, kind):
            header = {
                "nodes": "node, x, y, z",
                "members": "member, from, to, outside diameter, wall",
            }
            raise InputError(
                f"{tables.source}: no table of {kind}; add one with the header '{header[kind]}'"
            )
    nodes = _nodes(tables)
    materials = read_materials(tables.materials, findings)
    members = [
        _member(row, nodes, materials, assumed) for row in _told_once(tables.members, "member")
    ]
    cases = (*_own_cases(tables, nodes), *_named_cases(tables, nodes))
    if not cases:
        held = _supports(tables, nodes, "")
        cases = (LoadCase(SUPPORTS_ONLY, supports=held[0], touching=held[1]),)
    _refuse_turned_bolts(tables, members, cases)
    cases = tuple(_bolts_held(members, cases))
    kept = {node for case in cases for node, flags in case.supports.items() if any(flags[3:])}
    name = _text_of(tables, "name")
    try:
        model = hand_model(nodes, members, _masses(tables), name, kept_from_turning=kept)
    except ModelError as error:
        raise InputError(f"{tables.source}: {error}") from error
    findings += beside_findings(nodes, members)
    findings += crossing_findings(nodes, members)
    findings += _unread(tables)
    return HandFrame(model, cases, tuple(findings), tuple(assumed))


def _bolts_held(members: Sequence[HandMember], cases: Sequence[LoadCase]) -> Iterator[LoadCase]:
    """Bolts that every load case holds in place, and on which all members turn, do not turn themselves.

    Nothing else says how such a bolt turns, and in a frame of bars on bolts alone all of them would turn as one.
    """
    bolts = set(pinned_alone(members))
    for case in cases:
        bolts &= {node for node, flags in case.supports.items() if all(flags[:3])}
    for case in cases:
        held = {
            node: (*flags[:3], True, True, True) if node in bolts else flags
            for node, flags in case.supports.items()
        }
        yield replace(case, supports=held)


# --- nodes and members ----------------------------------------------------------------------------------------------
def node_key(text: str) -> str:
    """``Rear axle`` as nodes are named: rear_axle."""
    return "_".join(text.lower().split())


def _told_once(rows: Sequence[SheetRow], column: str) -> Iterator[SheetRow]:
    seen: dict[str, SheetRow] = {}
    for row in rows:
        key = node_key(row[column])
        if not key:
            raise row.refusal(f"the {column} has no name; give it one", column)
        if ":" in key:
            raise row.refusal(f"'{row[column]}': a name must not hold a colon", column)
        if key in seen:
            raise row.refusal(
                f"'{row[column]}' stands in row {seen[key].number} already; give one of them another name",
                column,
            )
        seen[key] = row
        yield row


def _nodes(tables: SheetTables) -> dict[str, tuple[float, float, float]]:
    found = {}
    for row in _told_once(tables.nodes, "node"):
        x, y, z = (_length(row, axis) for axis in "xyz")
        found[node_key(row["node"])] = (x, y, z)
    return found


def _length(row: SheetRow, column: str) -> float:
    # An empty z is the middle plane, where most points of a bicycle lie.
    if column == "z" and not row[column]:
        return 0.0
    return _number(row, column, "length", (-FARTHEST, FARTHEST), "mm")


def _number(row: SheetRow, column: str, kind: str, limits: tuple[float, float], unit: str) -> float:
    with row.at(column):
        value = quantity(row[column], row.units.get(column, ""), kind)[0]
    row.in_range(column, (value,), limits, unit)
    return value


def _masses(tables: SheetTables) -> list[NodeMass]:
    found = []
    for row in tables.nodes:
        if row["mass"]:
            kg = _number(row, "mass", "mass", (0.0, HEAVIEST), "kg")
            found.append(NodeMass(node_key(row["node"]), kg / 1000))
    return found


def _node(row: SheetRow, column: str, nodes: Mapping[str, object]) -> str:
    key = node_key(row[column])
    if key in nodes:
        return key
    near = get_close_matches(key, list(nodes), n=1)
    hint = f"; did you mean '{spoken(near[0])}'?" if near else "."
    raise row.refusal(
        f"there is no node '{row[column]}'{hint} The table of nodes has: {', '.join(map(spoken, nodes))}",
        column,
    )


def _member(
    row: SheetRow,
    nodes: Mapping[str, object],
    materials: Mapping[str, Material],
    assumed: list[Assumed],
) -> HandMember:
    name = node_key(row["member"])
    start = _node(row, "from", nodes)
    end = _node(row, "to", nodes)
    material = _material(row, name, materials, assumed)
    if row["outside_diameter"]:
        if any(row[column] for column in SECTIONS):
            raise row.refusal(
                f"{spoken(name)} states a tube and section values; leave one of the two out"
            )
        stuff: Tube | tuple[Section, Material] = tube_of(row, spoken(name), material)
    else:
        stuff = (_section(row, name, assumed), material)
    return HandMember(name, start, end, stuff, _pins(row))


def _material(
    row: SheetRow, name: str, materials: Mapping[str, Material], assumed: list[Assumed]
) -> Material:
    if not row["material"]:
        why = "its row names none"
        item = f"{spoken(name)}: material"
        assumed.append(Assumed("tubes", name, item, DEFAULT_MATERIAL, source=why))
        return find_material(DEFAULT_MATERIAL)
    if bare(row["material"]) in materials:
        return materials[bare(row["material"])]
    with row.at("material"):
        return find_material(row["material"])


def _section(row: SheetRow, name: str, assumed: list[Assumed]) -> Section:
    missing = [column for column in SECTIONS if not row[column]]
    if missing:
        raise row.refusal(
            f"{spoken(name)}: state outside diameter and wall, or the section by A in mm² and Iy, Iz, J in mm⁴; "
            f"missing: {', '.join(missing)}"
        )
    values = {}
    for column, limits in SECTIONS.items():
        unit = "mm²" if column == "A" else "mm⁴"
        values[column] = _number(row, column, "number", limits, unit)
    stiff = "a section stated by its values gives nothing in shear"
    assumed.append(Assumed("tubes", name, f"{spoken(name)}: shear", "rigid", source=stiff))
    return Section(**values)


def _pins(row: SheetRow) -> tuple[bool, bool]:
    """``rigid``, ``pin``, or both ends apart: ``pin/rigid``."""
    if not row["joint"]:
        return False, False
    words = [bare(word) for word in row["joint"].split("/")]
    unknown = [word for word in words if word not in (*_RIGID, *_PINNED)]
    if unknown or len(words) > 2:
        raise row.refusal(
            f"'{row['joint']}' is no kind of joint; write rigid, pin (one bolt), or both ends such as pin/rigid",
            "joint",
        )
    return words[0] in _PINNED, words[-1] in _PINNED


def _refuse_turned_bolts(
    tables: SheetTables, members: Sequence[HandMember], cases: Sequence[LoadCase]
) -> None:
    """A moment where every member turns freely on the bolt."""
    alone = pinned_alone(members)
    for case in cases:
        for node, load in case.nodal.items():
            if node in alone and any(load[3:]):
                raise InputError(
                    f"{tables.source}: load case {spoken(case.name)} turns {spoken(node)}, where every member is "
                    "pinned: a bolt takes no moment; put it on a member's other end, or make a joint rigid"
                )


# --- supports and loads ---------------------------------------------------------------------------------------------
def _supports(
    tables: SheetTables, nodes: Mapping[str, object], case: str
) -> tuple[dict[str, tuple[int, ...]], dict[str, str]]:
    """Node -> what is held in this load case, and what touches it there."""
    held: dict[str, tuple[int, ...]] = {}
    touching: dict[str, str] = {}
    for row in tables.supports:
        if node_key(row["load_case"]) not in ("", case):
            continue
        node = _node(row, "support", nodes)
        if node in held:
            raise row.refusal(
                f"'{row['support']}' is held twice; put all directions into one row", "support"
            )
        held[node] = _flags(row)
        touching[node] = row["touching"] or "support"
    return held, touching


def _flags(row: SheetRow) -> tuple[int, ...]:
    text = row["held"].lower().replace(",", " ").strip()
    if text in _WHOLE:
        return _WHOLE[text]
    words = text.split()
    unknown = [word for word in words if word not in _WORDS]
    if unknown or not words:
        raise row.refusal(
            f"'{row['held']}': write the directions held, such as x y z rx, or all, or place (x y z)",
            "held",
        )
    held = {_WORDS[word] for word in words}
    return tuple(int(k in held) for k in range(6))


def _own_cases(tables: SheetTables, nodes: Mapping[str, object]) -> Iterator[LoadCase]:
    names = dict.fromkeys(node_key(row["load_case"]) or "load" for row in tables.loads)
    _refuse_idle_supports(tables, names)
    for name in names:
        rows = [row for row in tables.loads if (node_key(row["load_case"]) or "load") == name]
        nodal: dict[str, tuple[float, ...]] = {}
        for row in rows:
            node = _node(row, "load", nodes)
            load = np.add(nodal.get(node, np.zeros(6)), _load(row))
            nodal[node] = tuple(load.tolist())
        supports, touching = _supports(tables, nodes, name)
        if not supports:
            raise InputError(
                f"{tables.source}: nothing holds load case {spoken(name)}; add a table with the header "
                "'support, held', such as the row: rear axle, x y z rx"
            )
        yield LoadCase(
            name,
            nodal,
            supports=supports,
            measures=_measures(nodal),
            title=spoken(name).capitalize(),
            notes=_notes(nodal, supports),
            source=f"the loads of {tables.source}",
            touching=touching,
        )


def _refuse_idle_supports(tables: SheetTables, cases: Mapping[str, object]) -> None:
    """A support of a load case that has no load: a name was mistyped."""
    for row in tables.supports:
        name = node_key(row["load_case"])
        if name and name not in cases:
            listed = ", ".join(map(spoken, cases)) or "none"
            raise row.refusal(
                f"no load is of load case '{row['load_case']}'; there are: {listed}", "load_case"
            )


def _load(row: SheetRow) -> list[float]:
    values = []
    for column in ("Fx", "Fy", "Fz"):
        values.append(_component(row, column, "force", "N"))
    for column in ("Mx", "My", "Mz"):
        # Written in N·m, used in N·mm.
        values.append(1000 * _component(row, column, "moment", "N·m"))
    if not any(values):
        raise row.refusal(
            f"the load at '{row['load']}' is nought; state Fx, Fy, Fz in N or Mx, My, Mz in N·m"
        )
    return values


def _component(row: SheetRow, column: str, what: str, unit: str) -> float:
    if not row[column]:
        return 0.0
    kind = "force" if what == "force" else "number"
    return _number(row, column, kind, (-STRONGEST[what], STRONGEST[what]), unit)


def _measures(nodal: Mapping[str, tuple[float, ...]]) -> tuple[Measure, ...]:
    """Where each load goes, its own way; a stiffness where it is the only load."""
    found = []
    for node, load in nodal.items():
        for part, unit in ((slice(0, 3), "mm"), (slice(3, 6), "deg")):
            size = float(np.linalg.norm(load[part]))
            if not size:
                continue
            weight = np.zeros(6)
            weight[part] = np.array(load[part]) / size
            alone = len(nodal) == 1 and not (any(load[:3]) and any(load[3:]))
            what = "moves" if unit == "mm" else "turns"
            found.append(
                Measure(
                    f"{node}_{what}",
                    ((node, tuple(weight.tolist())),),
                    unit,
                    size if alone else None,
                    f"{spoken(node)}, the way it is {'pushed' if unit == 'mm' else 'turned'}",
                )
            )
    return (*found, swallowed(nodal, "energy swallowed"))


def _notes(nodal: Mapping[str, tuple[float, ...]], supports: Mapping[str, tuple[int, ...]]) -> str:
    acts = []
    for node, load in nodal.items():
        named = zip(
            ("Fx", "Fy", "Fz", "Mx", "My", "Mz"), load, ("N",) * 3 + ("N·m",) * 3, strict=True
        )
        parts = [
            f"{name} {value / (1000 if unit == 'N·m' else 1):g} {unit}"
            for name, value, unit in named
            if value
        ]
        acts.append(f"{' '.join(parts)} at {spoken(node)}")
    holds = []
    for node, flags in supports.items():
        held = ", ".join(DOF_WORDS[dof] for dof, flag in zip(DOFS, flags, strict=True) if flag)
        holds.append(f"{spoken(node)} held {held}")
    return f"{', '.join(acts)}; {', '.join(holds)}"


# --- load cases of the library --------------------------------------------------------------------------------------
def _named_cases(
    tables: SheetTables, nodes: Mapping[str, tuple[float, float, float]]
) -> Iterator[LoadCase]:
    row = _item(tables, "load cases")
    if row is None:
        return
    loads = _loads(tables)
    for word in row["value"].replace(",", " ").replace(";", " ").split():
        if word not in BY_NAMED_NODES:
            raise row.refusal(
                f"load case '{word}' is not one that named nodes can have; there are: {', '.join(BY_NAMED_NODES)}",
                "value",
            )
        build, needed = BY_NAMED_NODES[word]
        missing = [node for node in needed if node not in nodes]
        if missing:
            raise row.refusal(
                f"load case {word} pushes and holds {', '.join(map(spoken, needed))}; the table of nodes has no "
                f"{' and no '.join(map(spoken, missing))}",
                "value",
            )
        case = build(Bicycle(_ANY_DIMENSIONS, {}, loads=loads), FrameLayout(nodes, (), {}))
        # Members meet rigidly or by pins: there is no headset to lock.
        yield replace(case, springs=())


def _loads(tables: SheetTables) -> Loads:
    """The magnitudes of the sheet's items; the usual ones where it is silent."""
    stated = {}
    for row in tables.items:
        match = find_item(row["item"], row["note"])
        if match is not None and match.item.group == "loads" and row["value"]:
            item = match.item
            stated[item.key] = _number_of(row, item.kind, item.limits, item.unit)
    return Loads(**stated)


def _number_of(row: SheetRow, kind: str, limits: tuple[float, float], unit: str) -> float:
    with row.at("value"):
        value = quantity(row["value"], row["unit"].strip("- "), kind)[0]
    row.in_range("value", (value,), limits, unit)
    return value


def _item(tables: SheetTables, name: str) -> SheetRow | None:
    return next(
        (row for row in tables.items if bare(row["item"]) in (bare(name), bare(name)[:-1])), None
    )


def _text_of(tables: SheetTables, key: str) -> str:
    for row in tables.items:
        match = find_item(row["item"])
        if match is not None and match.item.key == key:
            return row["value"]
    return ""


def _unread(tables: SheetTables) -> Iterator[Finding]:
    """Rows that say something of a bicycle, which a frame of nodes and members has no use for."""
    for row in tables.items:
        match = find_item(row["item"], row["note"])
        used = match is not None and (match.item.group == "loads" or match.item.key == "name")
        if not used and row is not _item(tables, "load cases"):
            yield Finding(
                "sheet-unknown-item",
                "warning",
                f"'{row['item']}' says nothing about a frame of nodes and members and was not used; it knows: name, "
                "load cases, rider mass, side push",
                row.where,
            )
    for row in tables.tubes:
        yield Finding(
            "sheet-unknown-tube",
            "warning",
            f"tube '{row['tube']}' was not used: the table of members says what the frame is made of",
            row.where,
        )
