"""The analysis model as a JSON object that any other program can solve, in and out.

The object is that of one published benchmark model: nodes, elements with an orientation vector `vxy`, sections,
materials, supports, grounded springs, releases, equal dofs, rigid links, masses, mass model, loads. `SCHEMA`
names every key that is read. Our extensions, all optional, so that a restraint can belong to its load:

* a load may carry its own `supports` (node -> six flags; for a node named there they REPLACE the model's
  flags, all other nodes keep theirs), `springs`, `spring_elements`, `measures`, `touching`, `title`, `notes`,
  `source`;
* `spring_elements` hold springs between two nodes, or to ground in local axes: {id, i, j or null, k[6],
  x_axis, vxy}; one between two nodes may carry the `compliance` of a joint instead, six rows of six in these axes
  (mm/N, rad/N, rad/(N mm)), and `k` is then not read; plain `springs` stay what they are, six global stiffnesses
  to ground;
* an element may name its `member`, a section its outer fibre distances `cy`, `cz`, a material its strengths.

Supports shared by all load cases are written at the top, where other programs look for them. A model without
loads is read as one case named `SUPPORTS_ONLY`, because its supports must not get lost. Reading never repairs:
whatever is missing, unknown, doubled or not finite is refused by its place, such as ``elements[3].j``.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any

import numpy as np

from ....model.errors import InputError, ModelError
from ....model.findings import Finding
from ....model.mechanics.frame_model import (
    DOFS,
    Element,
    EqualDofs,
    FrameModel,
    LoadCase,
    Measure,
    MemberLoad,
    NodeMass,
    RigidLink,
    Spring,
    soft_joint,
)
from ....model.tubes.materials import Material
from ....model.tubes.sections import Section
from ..strict_json import JsonItem, parse_object, read_text
from .write_model import GLOBAL_AXES, STRENGTHS, SUPPORTS_ONLY, ground_id, save_model, write_model

__all__ = [
    "SCHEMA",
    "SUPPORTS_ONLY",
    "ModelFile",
    "read_model",
    "read_model_file",
    "save_model",
    "write_model",
]

Direction = tuple[float, float, float]
MAX_NODES = 20_000
MAX_ELEMENTS = 40_000
MAX_LINKS = (
    1_000  # rigid links and equal dofs each; a chain of them in the worst order takes seconds
)

SCHEMA: dict[str, tuple[str, ...]] = {
    "model": (
        "name",
        "units",
        "nodes",
        "materials",
        "sections",
        "elements",
        "releases",
        "supports",
        "springs",
        "spring_elements",
        "rigid_links",
        "equal_dofs",
        "masses",
        "mass_model",
        "loads",
        "shift_hz",
    ),
    "materials": ("E", "G", "rho", "name", "source", *STRENGTHS),
    "sections": ("A", "Iy", "Iz", "J", "Asy", "Asz", "Ip", "cy", "cz"),
    "elements": ("id", "i", "j", "mat", "sec", "vxy", "member"),
    "releases": ("element", "end", "dofs"),
    "springs": ("node", "k", "id"),
    "spring_elements": ("id", "i", "j", "k", "x_axis", "vxy", "compliance"),
    "rigid_links": ("master", "slave"),
    "equal_dofs": ("master", "slave", "dofs"),
    "masses": ("node", "m", "J"),
    "mass_model": ("type", "rotary"),
    "loads": (
        "nodal",
        "udl",
        "supports",
        "springs",
        "spring_elements",
        "measures",
        "touching",
        "title",
        "notes",
        "source",
    ),
    "udl": ("element", "w", "frame"),
    "measures": ("name", "weights", "unit", "reference", "title"),
    "weights": ("node", "w"),
}


@dataclass(frozen=True)
class ModelFile:
    """What a model file holds."""

    model: FrameModel
    cases: tuple[LoadCase, ...]
    findings: tuple[Finding, ...] = ()
    sha256: str = ""


def read_model(source: str | Path | Mapping[str, Any]) -> tuple[FrameModel, tuple[LoadCase, ...]]:
    """The model and its load cases from a file or an object already read.

    Raises
    ------
    InputError
        Naming the file and the place in it, the value found and what is expected.
    """
    file = read_model_file(source)
    return file.model, file.cases


def read_model_file(source: str | Path | Mapping[str, Any]) -> ModelFile:
    """Like `read_model`, with findings (keys that are not used) and the file's SHA-256."""
    if isinstance(source, Mapping):
        return _read(dict(source), "model", "")
    path = Path(source)
    text, digest = read_text(path)
    return _read(parse_object(text, path.name), path.name, digest)


def _read(data: dict[str, Any], name: str, digest: str) -> ModelFile:
    if "nodes" not in data and isinstance(data.get("models"), Mapping):
        raise InputError(
            f"{name}: holds several models ({', '.join(data['models'])}); put one of them into a file "
            "of its own"
        )
    root = JsonItem(data, name)
    try:
        names = _Names.of(root)
        model = _model(root, names)
        cases = _cases(root, names)
    except InputError as error:
        mistyped = [f.message for f in _unknown_keys(root) if f.severity == "warning"]
        raise InputError(f"{'. '.join([*mistyped, str(error)])}") from error
    except ModelError as error:  # what only the model's own checks can see, such as an end release that leaves nothing
        raise InputError(f"{name}: {error}") from error
    if (shift := root.maybe("shift_hz")) is not None:
        shift.number(0.0)  # a hint for other eigenvalue solvers; ours needs none
    return ModelFile(model, cases, tuple(_unknown_keys(root)), digest)


@dataclass(frozen=True)
class _Names:
    """What may be referred to: node ids, element ids, sections and materials."""

    nodes: Mapping[str, tuple[float, float, float]]
    elements: frozenset[str]
    sections: Mapping[str, Section]
    materials: Mapping[str, Material]

    @classmethod
    def of(cls, root: JsonItem) -> "_Names":
        nodes = root.need("nodes").entries()
        elements = root.need("elements").rows()
        for what, count, limit in (
            ("nodes", len(nodes), MAX_NODES),
            ("elements", len(elements), MAX_ELEMENTS),
        ):
            if not 0 < count <= limit:
                raise InputError(f"{root.path}.{what}: {count} of them; 1 to {limit} can be read")
        for what in ("rigid_links", "equal_dofs"):
            if (count := len(root.rows_of(what))) > MAX_LINKS:
                raise InputError(
                    f"{root.path}.{what}: {count} of them; at most {MAX_LINKS} can be read"
                )
        ids: dict[str, str] = {}
        for row in elements:
            name = row.need("id").word()
            if ids.setdefault(name, row.path) != row.path:
                row.need("id").refuse(f"this id is taken by {ids[name]}")
        return cls(
            {node: at.vector() for node, at in nodes.items()},
            frozenset(ids),
            {key: _section(item) for key, item in root.need("sections").entries().items()},
            {key: _material(item, key) for key, item in root.need("materials").entries().items()},
        )

    def node(self, item: JsonItem) -> str:
        return item.one_of(self.nodes, "names a node that the model does not have")

    def element(self, item: JsonItem) -> str:
        return item.one_of(self.elements, "names an element that the model does not have")


# --- the model ------------------------------------------------------------------------------------------------
def _section(item: JsonItem) -> Section:
    optional = {
        key: value.number()
        for key in ("Asy", "Asz", "Ip", "cy", "cz")
        if (value := item.maybe(key)) is not None
    }
    try:
        return Section(*(item.need(key).number() for key in ("A", "Iy", "Iz", "J")), **optional)
    except ModelError as error:
        raise InputError(f"{item.path}: {error}") from error


def _material(item: JsonItem, key: str) -> Material:
    strengths = {
        field: value.number(0.0) for field in STRENGTHS if (value := item.maybe(field)) is not None
    }
    rho = item.maybe("rho")
    name = item.maybe("name")
    source = item.maybe("source")
    try:
        return Material(
            key if name is None else name.word(),
            item.need("E").number(),
            item.need("G").number(),
            0.0 if rho is None else rho.number(),
            source="" if source is None else source.word(),
            **strengths,
        )
    except ModelError as error:
        raise InputError(f"{item.path}: {error}") from error


def _model(root: JsonItem, names: _Names) -> FrameModel:
    releases = _releases(root, names)
    mass_model = root.maybe("mass_model")
    name = root.maybe("name")
    return FrameModel(
        names.nodes,
        tuple(_element(row, names, releases) for row in root.need("elements").rows()),
        _springs(root, names),
        tuple(RigidLink(*_pair(row, names)) for row in root.rows_of("rigid_links")),
        tuple(
            EqualDofs(*_pair(row, names), _dofs(row.need("dofs")))
            for row in root.rows_of("equal_dofs")
        ),
        tuple(_mass(row, names) for row in root.rows_of("masses")),
        False if mass_model is None else _rotary(mass_model),
        "" if name is None else name.word(),
    )


def _element(row: JsonItem, names: _Names, releases: Mapping[str, tuple[int, ...]]) -> Element:
    material = row.need("mat")
    section = row.need("sec")
    member = row.maybe("member")
    i = names.node(row.need("i"))
    j = names.node(row.need("j"))
    if names.nodes[i] == names.nodes[j]:
        row.need("j").refuse(f"both ends lie on one point ({i} and {j}); an element needs a length")
    ident = row.need("id").word()
    return Element(
        ident,
        i,
        j,
        names.sections[section.one_of(names.sections, "names a section that is not listed")],
        names.materials[material.one_of(names.materials, "names a material that is not listed")],
        _orientation(row.need("vxy"), names.nodes[i], names.nodes[j]),
        "" if member is None else member.word(),
        releases.get(ident, ()),
    )


def _orientation(
    item: JsonItem, i: tuple[float, ...], j: tuple[float, ...]
) -> tuple[float, float, float]:
    vxy = item.direction()
    if _parallel(tuple(b - a for a, b in zip(i, j, strict=True)), vxy):
        item.refuse("the orientation vector must not run along the element")
    return vxy


def _parallel(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    cross = (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])
    return sum(c * c for c in cross) <= 1e-18 * sum(v * v for v in a) * sum(v * v for v in b)


def _releases(root: JsonItem, names: _Names) -> dict[str, tuple[int, ...]]:
    out: dict[str, tuple[int, ...]] = {}
    for row in root.rows_of("releases"):
        element = names.element(row.need("element"))
        first = 6 * (row.need("end").one_of(("i", "j"), "'i' or 'j' is expected") == "j")
        dofs = (*out.get(element, ()), *(first + d for d in _dofs(row.need("dofs"))))
        out[element] = tuple(sorted(set(dofs)))
    return out


def _dofs(item: JsonItem) -> tuple[int, ...]:
    return tuple(
        DOFS.index(row.one_of(DOFS, f"one of {' '.join(DOFS)} is expected")) for row in item.rows()
    )


def _pair(row: JsonItem, names: _Names) -> tuple[str, str]:
    master = names.node(row.need("master"))
    slave = names.node(row.need("slave"))
    if master == slave:
        row.need("slave").refuse("a node cannot be joined to itself")
    return master, slave


def _mass(row: JsonItem, names: _Names) -> NodeMass:
    inertia = row.maybe("J")
    if inertia is None:
        jx = 0.0
        jy = 0.0
        jz = 0.0
    else:
        jx, jy, jz = inertia.numbers(3, 0.0)
    return NodeMass(names.node(row.need("node")), row.need("m").number(0.0), (jx, jy, jz))


def _rotary(item: JsonItem) -> bool:
    kind = item.maybe("type")
    rotary = item.maybe("rotary")
    if kind is not None:
        kind.one_of(("consistent",), "only the consistent mass matrix is known")
    return rotary is not None and rotary.flag()


# --- springs, supports and loads ----------------------------------------------------------------------------------
def _springs(holder: JsonItem, names: _Names) -> tuple[Spring, ...]:
    plain = [_ground_spring(row, names) for row in holder.rows_of("springs")]
    return (*plain, *(_spring_element(row, names) for row in holder.rows_of("spring_elements")))


def _ground_spring(row: JsonItem, names: _Names) -> Spring:
    node = names.node(row.need("node"))
    ident = row.maybe("id")
    return Spring(
        ground_id(node) if ident is None else ident.word(),
        node,
        None,
        row.need("k").numbers(6, 0.0),
    )


def _spring_element(row: JsonItem, names: _Names) -> Spring:
    other = row.maybe("j")
    i = names.node(row.need("i"))
    if other is None or other.value is None:
        j = None
    else:
        j = names.node(other)
    if i == j:
        row.need("j").refuse("a spring cannot join a node to itself")
    if row.maybe("x_axis"):
        x_axis = row.need("x_axis").direction()
    else:
        x_axis = GLOBAL_AXES[0]
    if row.maybe("vxy"):
        vxy = row.need("vxy").direction()
    else:
        vxy = GLOBAL_AXES[1]
    if _parallel(x_axis, vxy):
        row.refuse("x_axis and vxy must not be parallel")
    ident = row.need("id").word()
    compliance = row.maybe("compliance")
    if compliance is None:
        return Spring(ident, i, j, row.need("k").numbers(6, 0.0), x_axis, vxy)
    if j is None:
        row.refuse("a compliance joins two nodes; name the second one in 'j'")
    return _joint(ident, i, j, compliance, (x_axis, vxy))


def _joint(ident: str, i: str, j: str, item: JsonItem, axes: tuple[Direction, Direction]) -> Spring:
    rows = item.rows()
    if len(rows) != 6:
        item.refuse("six rows of six numbers are expected")
    matrix = np.array([row.numbers(6) for row in rows])
    try:
        return soft_joint(ident, i, j, matrix, *axes)
    except ModelError as error:
        raise InputError(f"{item.path}: {error}") from error


def _supports(holder: JsonItem, names: _Names) -> dict[str, tuple[int, ...]]:
    out = {}
    for node, item in holder.entries_of("supports").items():
        names.node(JsonItem(node, item.path))
        flags = item.rows()
        if len(flags) != 6:
            item.refuse(f"six flags ({' '.join(DOFS)}) are expected")
        out[node] = tuple(int(flag.flag()) for flag in flags)
    return out


def _cases(root: JsonItem, names: _Names) -> tuple[LoadCase, ...]:
    supports = _supports(root, names)
    loads = root.entries_of("loads")
    if not loads:
        return (LoadCase(SUPPORTS_ONLY, supports=supports),)
    return tuple(_case(name, item, supports, names) for name, item in loads.items())


def _case(
    name: str, item: JsonItem, shared: Mapping[str, tuple[int, ...]], names: _Names
) -> LoadCase:
    nodal = {
        names.node(JsonItem(node, load.path)): load.numbers(6)
        for node, load in item.entries_of("nodal").items()
    }
    words = {
        key: value.word()
        for key in ("title", "notes", "source")
        if (value := item.maybe(key)) is not None
    }
    return LoadCase(
        name,
        nodal,
        tuple(_member_load(row, names) for row in item.rows_of("udl")),
        {**shared, **_supports(item, names)},
        _springs(item, names),
        tuple(_measure(row, names) for row in item.rows_of("measures")),
        touching={
            names.node(JsonItem(n, t.path)): t.word()
            for n, t in item.entries_of("touching").items()
        },
        **words,
    )


def _member_load(row: JsonItem, names: _Names) -> MemberLoad:
    frame = row.maybe("frame")
    return MemberLoad(
        names.element(row.need("element")),
        row.need("w").vector(),
        "global"
        if frame is None
        else frame.one_of(("local", "global"), "local or global is expected"),
    )


def _measure(row: JsonItem, names: _Names) -> Measure:
    weights = tuple(
        (names.node(w.need("node")), w.need("w").numbers(6)) for w in row.rows_of("weights")
    )
    unit = row.maybe("unit")
    reference = row.maybe("reference")
    title = row.maybe("title")
    return Measure(
        row.need("name").word(),
        weights,
        "mm" if unit is None else unit.one_of(("mm", "deg", "J"), "mm, deg or J is expected"),
        None if reference is None or reference.value is None else reference.number(),
        "" if title is None else title.word(),
    )


# --- findings -----------------------------------------------------------------------------------------------------
_NAMED_ENTRIES = ("materials", "sections", "loads")


def _unknown_keys(item: JsonItem, kind: str = "model") -> list[Finding]:
    """One finding per kind of key that is not used, so that nothing is dropped in silence."""
    seen: dict[str, Finding] = {}
    for place, holder in _holders(item, kind):
        for key, value in holder.entries().items():
            if key not in SCHEMA[place]:
                seen.setdefault(f"{place}.{key}", _unknown_key(key, place, value.path))
    return list(seen.values())


def _unknown_key(key: str, place: str, path: str) -> Finding:
    """A word in passing for a key of somebody's own; a warning where it is nearly one that is read."""
    near = get_close_matches(key, SCHEMA[place], n=1, cutoff=0.75)
    words = f"'{key}' is not a key of the model format and is not used"
    if near and len(key) > 2:
        return Finding("model-unknown-key", "warning", f"{words}; '{near[0]}' is meant?", path)
    return Finding("model-unknown-key", "info", words, path)


def _holders(item: JsonItem, kind: str) -> list[tuple[str, JsonItem]]:
    """Every object of the file with the kind of object it is."""
    out = [(kind, item)]
    for key, value in item.entries().items():
        if key not in SCHEMA or key not in SCHEMA[kind]:
            continue
        if key in _NAMED_ENTRIES:
            children = list(value.entries().values())
        elif key == "mass_model":
            children = [value]
        else:
            children = value.rows()
        for child in children:
            out += _holders(child, key)
    return out
