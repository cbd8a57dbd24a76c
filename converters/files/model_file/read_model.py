"""The analysis model as a JSON object that any other program can solve, in and out.

The object is that of one published benchmark model: nodes, elements with an orientation vector `vxy`, sections,
materials, supports, grounded springs, releases, equal dofs, rigid links, masses, mass model, loads. The
table in `fields` names every key. Our extensions, all optional, so that a restraint can belong to its load:

* a load may carry its own `supports` (node -> six flags; for a node named there they REPLACE the model's
  flags, all other nodes keep theirs), `springs`, `spring_elements`, `measures`, `touching`, `title`, `notes`, `held`,
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

from ....model.errors import InputError, ModelError
from ....model.findings import Finding
from ....model.mechanics.frame_model import (
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
from .fields import KINDS, MAX_ELEMENTS, MAX_NODES, Names, keys_of, read_by_node, read_fields

# handed on, so that one module is the door of the format
from .write_model import SUPPORTS_ONLY, ground_id, save_model, write_model

__all__ = [
    "SUPPORTS_ONLY",
    "ModelFile",
    "read_model",
    "read_model_file",
    "save_model",
    "write_model",
]

Direction = tuple[float, float, float]
# Rigid links and equal dofs each; a chain of them in the worst order takes seconds.
MAX_LINKS = 1_000


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
    # an object in memory has no bytes to take a digest of
    if isinstance(source, Mapping):
        return _read(dict(source), "model", "")
    path = Path(source)
    text, digest = read_text(path)
    return _read(parse_object(text, path.name), path.name, digest)


def _read(data: dict[str, Any], name: str, digest: str) -> ModelFile:
    # a collection of models looks like one at first sight, so it is told by name
    if "nodes" not in data and isinstance(data.get("models"), Mapping):
        raise InputError(
            f"{name}: holds several models ({', '.join(data['models'])}); put one of them into a file "
            "of its own"
        )
    root = JsonItem(data, name)
    try:
        names = _names(root)
        model = _model(root, names)
        cases = _cases(root, names)
    except InputError as error:
        # a key misspelt may be the very one that is missing, so both stand in one message
        mistyped = [f.message for f in _unknown_keys(root) if f.severity == "warning"]
        raise InputError(f"{'. '.join([*mistyped, str(error)])}") from error
    except ModelError as error:  # what only the model's own checks can see, such as an end release that leaves nothing
        raise InputError(f"{name}: {error}") from error
    return ModelFile(model, cases, tuple(_unknown_keys(root)), digest)


def _names(root: JsonItem) -> Names:
    """What the file may refer to; its sizes are held against the limits before anything is worked out."""
    # counted as they stand, before a single value is read
    nodes = root.need("nodes").entries()
    elements = root.need("elements").rows()
    for what, count, limit in (
        ("nodes", len(nodes), MAX_NODES),
        ("elements", len(elements), MAX_ELEMENTS),
    ):
        # counted before a number is read: a file made to fill the memory must not get there
        if not 0 < count <= limit:
            raise InputError(f"{root.path}.{what}: {count} of them; 1 to {limit} can be read")
    # links are eliminated one by one, in an order that a file can make slow
    for what in ("rigid_links", "equal_dofs"):
        if (count := len(root.rows_of(what))) > MAX_LINKS:
            raise InputError(
                f"{root.path}.{what}: {count} of them; at most {MAX_LINKS} can be read"
            )
    ids: dict[str, str] = {}
    for row in elements:
        name = row.need("id").word()
        # forces and stresses are told by element: two of one id would be one in every table
        if ids.setdefault(name, row.path) != row.path:
            row.need("id").refuse(f"this id is taken by {ids[name]}")
    sections = root.need("sections").entries()
    materials = root.need("materials").entries()
    return Names(
        # read in the file's order, which results and tables keep
        {node: at.vector() for node, at in nodes.items()},
        frozenset(ids),
        dict(zip(sections, map(_section, sections.values()), strict=True)),
        dict(zip(materials, map(_material, materials.values(), materials), strict=True)),
    )


# --- the model ------------------------------------------------------------------------------------------------
def _section(item: JsonItem) -> Section:
    # what only physics forbids, such as a negative area, the model refuses itself
    try:
        return Section(**read_fields(item, "sections"))
    except ModelError as error:
        raise InputError(f"{item.path}: {error}") from error


def _material(item: JsonItem, key: str) -> Material:
    values = read_fields(item, "materials")
    try:
        # the key is the name unless the file states another one
        return Material(**{**values, "name": values["name"] or key})
    except ModelError as error:
        raise InputError(f"{item.path}: {error}") from error


def _model(root: JsonItem, names: Names) -> FrameModel:
    # before the elements, which carry their releases
    releases = _releases(root, names)
    elements = [_element(row, names, releases) for row in root.need("elements").rows()]
    # springs of the model stand in every load case; those of a case come on top
    springs = _springs(root, names)
    rigid_links = [RigidLink(**_pair(row, names)) for row in root.rows_of("rigid_links")]
    equal_dofs = [
        EqualDofs(**_pair(row, names, "equal_dofs")) for row in root.rows_of("equal_dofs")
    ]
    masses = [NodeMass(**read_fields(row, "masses", names)) for row in root.rows_of("masses")]
    own = read_fields(root, "model")
    mass_model = root.maybe("mass_model")
    # a file without a mass model is static, and nothing hangs on it
    rotary = False
    if mass_model is not None:
        rotary = read_fields(mass_model, "mass_model")["rotary"]
    return FrameModel(
        names.nodes,
        tuple(elements),
        springs,
        tuple(rigid_links),
        tuple(equal_dofs),
        tuple(masses),
        rotary,
        own["name"],
        own["assumed_members"],
    )


def _element(row: JsonItem, names: Names, releases: Mapping[str, tuple[int, ...]]) -> Element:
    values = read_fields(row, "elements", names)
    i = names.nodes[values["i"]]
    j = names.nodes[values["j"]]
    # equal coordinates, not equal names: two nodes may lie on one point
    if i == j:
        ends = f"{values['i']} and {values['j']}"
        row.need("j").refuse(f"both ends lie on one point ({ends}); an element needs a length")
    if _parallel(tuple(b - a for a, b in zip(i, j, strict=True)), values["vxy"]):
        row.need("vxy").refuse("the orientation vector must not run along the element")
    return Element(**values, releases=releases.get(values["id"], ()))


def _parallel(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    # without numpy: called once an element, where an array costs more than it saves
    """Whether two vectors are parallel to one part in 1e9."""
    cross = (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])
    return _squared(cross) <= 1e-18 * _squared(a) * _squared(b)


def _squared(vector: tuple[float, ...]) -> float:
    return sum(component * component for component in vector)


def _releases(root: JsonItem, names: Names) -> dict[str, tuple[int, ...]]:
    """Element -> released components of both ends, 0 to 11; several rows for one element add up."""
    out: dict[str, tuple[int, ...]] = {}
    for row in root.rows_of("releases"):
        values = read_fields(row, "releases", names)
        # components 0 to 5 are those of end i, 6 to 11 those of end j
        first = 6 * (values["end"] == "j")
        element = values["element"]
        # a row may name components that another has named already
        dofs = (*out.get(element, ()), *(first + dof for dof in values["dofs"]))
        out[element] = tuple(sorted(set(dofs)))
    return out


def _pair(row: JsonItem, names: Names, kind: str = "rigid_links") -> dict[str, Any]:
    values = read_fields(row, kind, names)
    # tied to itself it ties nothing, so another node was meant
    if values["master"] == values["slave"]:
        row.need("slave").refuse("a node cannot be joined to itself")
    return values


# --- springs, supports and loads ----------------------------------------------------------------------------------
def _springs(holder: JsonItem, names: Names) -> tuple[Spring, ...]:
    plain = [_ground_spring(row, names) for row in holder.rows_of("springs")]
    return (*plain, *(_spring_element(row, names) for row in holder.rows_of("spring_elements")))


def _ground_spring(row: JsonItem, names: Names) -> Spring:
    values = read_fields(row, "springs", names)
    node = values["node"]
    # the id must differ from node to node, since results are told by it
    return Spring(values["id"] or ground_id(node), node, None, values["k"])


def _spring_element(row: JsonItem, names: Names) -> Spring:
    values = read_fields(row, "spring_elements", names)
    if values["i"] == values["j"]:
        row.need("j").refuse("a spring cannot join a node to itself")
    # parallel axes span no plane, so local y would be undefined
    if _parallel(values["x_axis"], values["vxy"]):
        row.refuse("x_axis and vxy must not be parallel")
    # popped: a Spring holds stiffness only, and a compliance becomes one below
    compliance = values.pop("compliance")
    if compliance is not None:
        return _joint(row, values, compliance)
    # one of the two must be there, and no compliance was given
    row.need("k")
    return Spring(**values)


def _joint(row: JsonItem, values: Mapping[str, Any], compliance: Any) -> Spring:
    # the ground does not move, so there is no give between two of its points
    if values["j"] is None:
        row.refuse("a compliance joins two nodes; name the second one in 'j'")
    axes: tuple[Direction, Direction] = (values["x_axis"], values["vxy"])
    try:
        return soft_joint(values["id"], values["i"], values["j"], compliance, *axes)
    except ModelError as error:
        raise InputError(f"{row.need('compliance').path}: {error}") from error


def _cases(root: JsonItem, names: Names) -> tuple[LoadCase, ...]:
    supports = read_by_node(root, "model", "supports", names)
    loads = root.entries_of("loads")
    if not loads:
        # supports without loads are still worth having, for modes
        return (LoadCase(SUPPORTS_ONLY, supports=supports),)
    return tuple(_case(name, item, supports, names) for name, item in loads.items())


def _case(
    name: str, item: JsonItem, shared: Mapping[str, tuple[int, ...]], names: Names
) -> LoadCase:
    uniform = [MemberLoad(**read_fields(row, "udl", names)) for row in item.rows_of("udl")]
    measures = [_measure(row, names) for row in item.rows_of("measures")]
    return LoadCase(
        name,
        read_by_node(item, "loads", "nodal", names),
        tuple(uniform),
        # a load's own flags replace the model's at that node, all others keep theirs
        {**shared, **read_by_node(item, "loads", "supports", names)},
        _springs(item, names),
        tuple(measures),
        touching=read_by_node(item, "loads", "touching", names),
        # title, notes, held and source; what is listed by node came above
        **read_fields(item, "loads", names),
    )


def _measure(row: JsonItem, names: Names) -> Measure:
    weights = []
    for weight in row.rows_of("weights"):
        values = read_fields(weight, "weights", names)
        weights.append((values["node"], values["w"]))
    return Measure(weights=tuple(weights), **read_fields(row, "measures", names))


# --- findings -----------------------------------------------------------------------------------------------------
def _unknown_keys(item: JsonItem, kind: str = "model") -> list[Finding]:
    """One finding per kind of key that is not used, so that nothing is dropped in silence."""
    seen: dict[str, Finding] = {}
    for place, holder in _holders(item, kind):
        # known by kind: "k" is a key of a spring and not of an element
        known = keys_of(place)
        for key, value in holder.entries().items():
            if key not in known:
                # the first place stands for all: thousands of elements would repeat it
                seen.setdefault(f"{place}.{key}", _unknown_key(key, known, value.path))
    return list(seen.values())


def _unknown_key(key: str, known: tuple[str, ...], path: str) -> Finding:
    """A word in passing for a key of somebody's own; a warning where it is nearly one that is read."""
    # stricter than for items of a sheet: keys of one's own are short and often alike
    near = get_close_matches(key, known, n=1, cutoff=0.75)
    words = f"'{key}' is not a key of the model format and is not used"
    # two letters are near to half of the keys
    if near and len(key) > 2:
        return Finding("model-unknown-key", "warning", f"{words}; '{near[0]}' is meant?", path)
    return Finding("model-unknown-key", "info", words, path)


def _holders(item: JsonItem, kind: str) -> list[tuple[str, JsonItem]]:
    """Every object of the file with the kind of object it is."""
    out = [(kind, item)]
    for field in KINDS[kind]:
        value = item.maybe(field.key)
        # what has a form is a value and holds no keys
        if value is None or field.form is not None:
            continue
        if field.holds == "named":
            children = list(value.entries().values())
        elif field.holds == "one":
            children = [value]
        else:
            children = value.rows()
        for child in children:
            out += _holders(child, field.key)
    return out
