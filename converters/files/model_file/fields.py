"""The format of the model file as one table: every kind of object with its keys.

Reader, writer, JSON Schema and the search for unknown keys all follow `KINDS`; a key that is added here is read,
written, described and known. A FORM is what one value looks like: its rule in the schema, how it is read and how
it is written. A FIELD is a key with its form, or with the kind of object that stands under it.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from math import inf
from typing import Any, Literal

import numpy as np

from ....model.mechanics.frame_model import DOFS
from ....model.tubes.materials import Material
from ....model.tubes.sections import Section
from ..strict_json import JsonItem

# the default of springs, which other programs write without axes
GLOBAL_AXES = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0))
STRENGTHS = ("yield_strength", "ultimate", "endurance")
# bounds on work, far above a bicycle: a file is solved by whoever is handed it
MAX_NODES = 20_000
MAX_ELEMENTS = 40_000

Rule = Mapping[str, Any]


@dataclass(frozen=True)
class Names:
    """What may be referred to: node ids, element ids, sections and materials."""

    nodes: Mapping[str, tuple[float, float, float]]
    elements: frozenset[str]
    sections: Mapping[str, Section]
    materials: Mapping[str, Material]

    def node(self, item: JsonItem) -> str:
        return item.one_of(self.nodes, "names a node that the model does not have")

    def element(self, item: JsonItem) -> str:
        return item.one_of(self.elements, "names an element that the model does not have")

    def section(self, item: JsonItem) -> Section:
        return self.sections[item.one_of(self.sections, "names a section that is not listed")]

    def material(self, item: JsonItem) -> Material:
        return self.materials[item.one_of(self.materials, "names a material that is not listed")]


# What is read before any name is known: the nodes, sections and materials themselves.
NOBODY = Names({}, frozenset(), {}, {})


@dataclass(frozen=True)
class Form:
    """One value: its rule in the schema, how it is read (refused by its place), how it is written."""

    rule: Rule
    read: Callable[[JsonItem, Names], Any]
    write: Callable[[Any], Any] = lambda value: value


@dataclass(frozen=True)
class Field:
    """One key of an object.

    form : of its value. holds : one such value, or such values by node; or without a form objects of the kind that is
    called like the key: one of them, a list, or some by name. needed : refused without it. absent : what is taken
    without it; the writer leaves the key out where the value is that, unless `always`. attribute : its name in the
    model, the key itself where empty. words, more : for the schema.
    """

    key: str
    form: Form | None = None
    needed: bool = False
    absent: Any = None
    always: bool = False
    attribute: str = ""
    holds: Literal["value", "by_node", "one", "list", "named"] = "value"
    words: str = ""
    more: Rule = field(default_factory=dict)

    @property
    def name(self) -> str:
        return self.attribute or self.key


def _shared(name: str) -> Rule:
    # Literal: mypy then finds a misspelt way of holding
    return {"$ref": f"#/$defs/{name}"}


def _floats(values: Iterable[float]) -> list[float]:
    return [float(value) for value in values]


def _rows(matrix: Iterable[Iterable[float]]) -> list[list[float]]:
    return [_floats(row) for row in matrix]


def _dof_names(dofs: Iterable[int]) -> list[str]:
    return [DOFS[dof] for dof in dofs]


def _read_dofs(item: JsonItem, _: Names) -> tuple[int, ...]:
    words = f"one of {' '.join(DOFS)} is expected"
    return tuple(DOFS.index(row.one_of(DOFS, words)) for row in item.rows())


def _read_flags(item: JsonItem, _: Names) -> tuple[int, ...]:
    flags = item.rows()
    # told by their order: "six" alone would leave the builder to guess which
    if len(flags) != 6:
        item.refuse(f"six flags ({' '.join(DOFS)}) are expected")
    return tuple(int(flag.flag()) for flag in flags)


def _read_matrix(item: JsonItem, _: Names) -> np.ndarray:
    rows = item.rows()
    if len(rows) != 6:
        item.refuse("six rows of six numbers are expected")
    # an array at once: the model checks that it is symmetric and can be inverted
    return np.array([row.numbers(6) for row in rows])


def _numbers(count: int, entry: Rule) -> Rule:
    return {"type": "array", "items": entry, "minItems": count, "maxItems": count}


def _choice(values: tuple[str, ...], refused: str) -> Form:
    return Form({"enum": list(values)}, lambda item, _: item.one_of(values, refused))


def _or_null(kind: Rule, read: Callable[[JsonItem, Names], Any], write: Any) -> Form:
    """A value that may be null, which reads as None."""
    return Form(
        kind,
        # null is a value here (ground, or no reference), not a missing one
        lambda item, names: None if item.value is None else read(item, names),
        lambda value: None if value is None else write(value),
    )


# --- forms ----------------------------------------------------------------------------------------------------
ANYTHING = Form({}, lambda item, _: item.value)
# a node or element may be called by a number, as other programs do
WORD = Form(_shared("word"), lambda item, _: item.word())
# sorted, so that the same model gives the same bytes
WORDS = Form(
    {"type": "array", "items": _shared("word")},
    lambda item, _: frozenset(row.word() for row in item.rows()),
    sorted,
)
NUMBER = Form({"type": "number"}, lambda item, _: item.number(), float)
# Above zero is the model's own demand: its refusal names the quantity.
POSITIVE = Form(_shared("positive"), lambda item, _: item.number(), float)
# a density of zero is a part without mass, and allowed
NOT_NEGATIVE = Form(_shared("not_negative"), lambda item, _: item.number(0.0), float)
FLAG = Form(_shared("flag"), lambda item, _: item.flag(), bool)
VECTOR3 = Form(_shared("vector3"), lambda item, _: item.vector(), _floats)
VECTOR6 = Form(_shared("vector6"), lambda item, _: item.numbers(6), _floats)
INERTIA3 = Form(_numbers(3, _shared("not_negative")), lambda item, _: item.numbers(3, 0.0), _floats)
DIRECTION = Form(_shared("direction"), lambda item, _: item.direction(), _floats)
STIFFNESS6 = Form(_shared("stiffness6"), lambda item, _: item.numbers(6, 0.0), _floats)
COMPLIANCE = Form(_numbers(6, _shared("vector6")), _read_matrix, _rows)
# written as 0 and 1, the form of the published models
SIX_FLAGS = Form(_numbers(6, _shared("flag")), _read_flags, lambda flags: [int(f) for f in flags])
DOF_NAMES = Form(_shared("dofs"), _read_dofs, _dof_names)
NODE = Form(_shared("word"), lambda item, names: names.node(item))
ELEMENT = Form(_shared("word"), lambda item, names: names.element(item))
SECTION = Form(_shared("word"), lambda item, names: names.section(item))
MATERIAL = Form(_shared("word"), lambda item, names: names.material(item))
# strings as this program writes them, integers as others do
NODE_OR_GROUND = _or_null(
    {"type": ["string", "integer", "null"]}, lambda item, names: names.node(item), str
)
NUMBER_OR_NULL = _or_null({"type": ["number", "null"]}, lambda item, _: item.number(), float)
END = _choice(("i", "j"), "'i' or 'j' is expected")
AXES = _choice(("local", "global"), "local or global is expected")
UNIT = _choice(("mm", "deg", "J"), "mm, deg or J is expected")
CONSISTENT = Form(
    {"const": "consistent"},
    lambda item, _: item.one_of(("consistent",), "only the consistent mass matrix is known"),
)


# Simple rules that several keys share.
SHARED_RULES: Mapping[str, Rule] = {
    "word": {"type": ["string", "integer"]},
    "positive": {"type": "number", "exclusiveMinimum": 0},
    "not_negative": {"type": "number", "minimum": 0},
    "flag": {"enum": [0, 1, False, True]},
    "vector3": _numbers(3, {"type": "number"}),
    "vector6": _numbers(6, {"type": "number"}),
    # not all zero, as far as a schema can say it
    "direction": {**_numbers(3, {"type": "number"}), "contains": {"not": {"const": 0}}},
    "dofs": {"type": "array", "items": {"enum": list(DOFS)}},
    "stiffness6": _numbers(6, _shared("not_negative")),
}

# --- the table ------------------------------------------------------------------------------------------------
_SPRINGS = (
    Field("springs", holds="list", words="to ground, global axes"),
    Field("spring_elements", holds="list", words="between two nodes or to ground, local axes"),
)
_TEXTS = tuple(Field(key, WORD, absent="") for key in ("title", "notes", "held", "source"))
KINDS: Mapping[str, tuple[Field, ...]] = {
    "model": (
        Field("name", WORD, absent="", always=True),
        # any consistent set is solved, so the text is for people
        Field("units", ANYTHING, words="in words, for people; not read"),
        Field(
            "nodes",
            VECTOR3,
            holds="by_node",
            needed=True,
            words="id -> [x, y, z], global right-handed axes",
            more={"minProperties": 1, "maxProperties": MAX_NODES},
        ),
        Field("materials", holds="named", needed=True),
        Field("sections", holds="named", needed=True),
        Field(
            "elements", holds="list", needed=True, more={"minItems": 1, "maxItems": MAX_ELEMENTS}
        ),
        Field("releases", holds="list", words="local end components that carry nothing"),
        # flags and not a list of names: the form of the published models
        Field(
            "supports",
            SIX_FLAGS,
            # these replace the flags of a node; springs and loads of a case are added
            holds="by_node",
            words="node -> six flags ux uy uz rx ry rz, 1: held",
        ),
        *_SPRINGS,
        Field("rigid_links", holds="list"),
        Field("equal_dofs", holds="list"),
        Field("masses", holds="list"),
        Field("mass_model", holds="one"),
        Field(
            "assumed_members",
            WORDS,
            words="members whose sizes nobody stated; absent: not known",
        ),
        Field("loads", holds="named", words="load case -> loads, and supports of its own"),
        Field(
            "shift_hz",
            # a hint that other programs leave; our own solver does without it
            NOT_NEGATIVE,
            words="hint for eigenvalue solvers that need a regular stiffness matrix",
        ),
    ),
    "materials": (
        Field("E", POSITIVE, needed=True),
        Field("G", POSITIVE, needed=True),
        # zero where absent: a static model need not state a density
        Field("rho", NOT_NEGATIVE, absent=0.0, always=True, words="mass density"),
        *(Field(key, NOT_NEGATIVE) for key in STRENGTHS),
        Field("name", WORD, absent="", words="where it is not the key"),
        Field("source", WORD, absent=""),
    ),
    "sections": (
        Field("A", POSITIVE, needed=True),
        Field("Iy", POSITIVE, needed=True, words="second moment about local y"),
        Field(
            "Iz",
            POSITIVE,
            needed=True,
            words="second moment about local z, bends in the local x-y plane",
        ),
        Field("J", POSITIVE, needed=True, words="St Venant torsion constant"),
        Field(
            "Asy",
            # absent means rigid in shear, as the plain Bernoulli beam is
            POSITIVE,
            absent=inf,
            words="shear area along local y; absent: no shear flexibility",
        ),
        Field(
            "Asz",
            POSITIVE,
            absent=inf,
            words="shear area along local z; absent: no shear flexibility",
        ),
        # differs from J for everything but a round section
        Field("Ip", NUMBER, words="polar second moment for torsional mass; absent: Iy + Iz"),
        Field(
            "cy",
            NUMBER,
            absent=0.0,
            words="outer fibre distance along local y, for stress and pictures",
        ),
        Field("cz", NUMBER, absent=0.0, words="outer fibre distance along local z"),
    ),
    "elements": (
        Field("id", WORD, needed=True),
        Field("i", NODE, needed=True),
        Field("j", NODE, needed=True),
        Field("mat", MATERIAL, needed=True, attribute="material"),
        Field("sec", SECTION, needed=True, attribute="section"),
        Field(
            "vxy",
            DIRECTION,
            needed=True,
            # a vector and no angle: it stays right when an element is turned round
            words="any vector in the local x-y half-plane that holds +y: z = x cross vxy, y = z cross x",
        ),
        Field("member", WORD, absent="", words="the tube or part it belongs to"),
    ),
    "releases": (
        Field("element", ELEMENT, needed=True),
        Field("end", END, needed=True),
        Field("dofs", DOF_NAMES, needed=True),
    ),
    "springs": (
        Field("node", NODE, needed=True),
        Field("k", STIFFNESS6, needed=True),
        Field("id", WORD, absent=""),
    ),
    "spring_elements": (
        Field("id", WORD, needed=True),
        Field("i", NODE, needed=True),
        Field("j", NODE_OR_GROUND, always=True, words="null: ground"),
        Field("k", STIFFNESS6, words="not read where a compliance is given"),
        Field("x_axis", DIRECTION, absent=GLOBAL_AXES[0], always=True),
        Field("vxy", DIRECTION, absent=GLOBAL_AXES[1], always=True),
        Field(
            "compliance",
            COMPLIANCE,
            words="of a joint between two nodes, in the local axes, where the directions feel one another",
        ),
    ),
    "rigid_links": (Field("master", NODE, needed=True), Field("slave", NODE, needed=True)),
    "equal_dofs": (
        Field("master", NODE, needed=True),
        Field("slave", NODE, needed=True),
        Field("dofs", DOF_NAMES, needed=True),
    ),
    "masses": (
        Field("node", NODE, needed=True),
        Field("m", NOT_NEGATIVE, needed=True),
        # about the global axes, without products of inertia
        Field("J", INERTIA3, absent=(0.0, 0.0, 0.0), always=True),
    ),
    "mass_model": (
        # a lumped matrix is refused rather than taken for the consistent one
        Field("type", CONSISTENT, absent="consistent", always=True),
        Field("rotary", FLAG, absent=False, always=True),
    ),
    "loads": (
        Field(
            "nodal",
            VECTOR6,
            holds="by_node",
            always=True,
            words="node -> [Fx, Fy, Fz, Mx, My, Mz], global axes",
        ),
        Field("udl", holds="list", always=True, words="force per length of element"),
        Field(
            "supports",
            SIX_FLAGS,
            holds="by_node",
            words="for a node named here they replace the model's flags",
        ),
        *_SPRINGS,
        Field("measures", holds="list"),
        Field(
            "touching",
            WORD,
            holds="by_node",
            words="support node -> what touches the bicycle there",
        ),
        *_TEXTS,
    ),
    "udl": (
        Field("element", ELEMENT, needed=True),
        Field("w", VECTOR3, needed=True),
        # the model's own w is global too, so plain files need not say it
        Field("frame", AXES, absent="global", always=True),
    ),
    "measures": (
        Field("name", WORD, needed=True),
        Field("weights", holds="list", always=True),
        Field("unit", UNIT, absent="mm", always=True),
        # null: a movement without a load to set it against, which gives no stiffness
        Field("reference", NUMBER_OR_NULL, always=True),
        Field("title", WORD, absent="", always=True),
    ),
    "weights": (Field("node", NODE, needed=True), Field("w", VECTOR6, needed=True)),
}
# Keys of which one must be there: the other says the same, or more.
EITHER: Mapping[str, tuple[str, ...]] = {"spring_elements": ("k", "compliance")}


def keys_of(kind: str) -> tuple[str, ...]:
    """Every key that an object of this kind may have."""
    return tuple(field.key for field in KINDS[kind])


def read_fields(item: JsonItem, kind: str, names: Names = NOBODY) -> dict[str, Any]:
    """Attribute -> value of an object's own values, those that are absent as the table says.

    What stands under a key as objects of a further kind is not in it, nor what is listed by node.

    Raises InputError naming the place for a key that is missing and a value that cannot be.
    """
    found = {}
    for one in KINDS[kind]:
        if one.form is None or one.holds != "value":
            # what is listed by node or stands in objects is read where its names are known
            continue
        if one.needed:
            held: JsonItem | None = item.need(one.key)
        else:
            held = item.maybe(one.key)
        if held is None:
            # not read through the form: the default has the model's own type already
            found[one.name] = one.absent
        else:
            found[one.name] = one.form.read(held, names)
    return found


def read_by_node(item: JsonItem, kind: str, key: str, names: Names) -> dict[str, Any]:
    """Node -> value of a key that lists values by node; empty where it is absent."""
    form = form_of(kind, key)
    out = {}
    for node, held in item.entries_of(key).items():
        # a node's name is checked like any reference, by the same words
        out[names.node(JsonItem(node, held.path))] = form.read(held, names)
    return out


def write_fields(values: Mapping[str, Any], kind: str) -> dict[str, Any]:
    """The object of these attributes, keys in the order of the table; what the table says without it is left out.

    Lists, objects of a further kind and values by node come as they are to stand in the file.
    """
    out = {}
    for one in KINDS[kind]:
        value = values.get(one.name, one.absent)
        if one.holds != "value" or one.form is None:
            # empty lists are left out unless other programs look for the key
            if value or one.always:
                out[one.key] = value
        elif one.needed or one.always or value != one.absent:
            out[one.key] = one.form.write(value)
    return out


def write_by_node(held: Mapping[str, Any], kind: str, key: str) -> dict[str, Any]:
    """The object of a key that lists values by node."""
    form = form_of(kind, key)
    return {node: form.write(value) for node, value in held.items()}


def form_of(kind: str, key: str) -> Form:
    """The form of a key's values."""
    # one and only one: a key that stands twice in the table would fail here
    (form,) = (one.form for one in KINDS[kind] if one.key == key)
    assert form is not None
    return form
