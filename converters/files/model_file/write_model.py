"""The analysis model as a JSON object; see `converters.files.model_file.read_model` for the format."""

import json
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

from ....model.errors import ModelError
from ....model.mechanics.frame_model import Element, FrameModel, LoadCase, Measure, Spring
from ....model.tubes.materials import Material
from ..writing import write_text
from .fields import GLOBAL_AXES, form_of, keys_of, write_by_node, write_fields

SUPPORTS_ONLY = "supports only"


def write_model(model: FrameModel, cases: Sequence[LoadCase]) -> dict[str, Any]:
    """The JSON object of a model and its load cases; only finite numbers, keys in a fixed order.

    Raises
    ------
    ModelError
        When two load cases have the same name: one would overwrite the other.
    """
    names = [case.name for case in cases]
    # names are keys in the file, and the later would replace the earlier
    if len(set(names)) < len(names):
        raise ModelError(f"load case names must differ, got {', '.join(names)}")
    # materials by name, sections by number: a section has no name of its own
    materials = _keyed((e.material for e in model.elements), lambda m, _: m.name)
    sections = _keyed((e.section for e in model.elements), lambda _, number: f"s{number}")
    # shared supports are written once, at the top
    if cases and all(c.supports == cases[0].supports for c in cases):
        # where other programs look for supports; cases that differ keep their own
        shared = cases[0].supports
    else:
        shared = None
    elements = [
        _row("elements", e, material=materials[e.material], section=sections[e.section])
        for e in model.elements
    ]
    releases = [release for e in model.elements for release in _releases(e)]
    stuffs = {key: _material(material, key) for material, key in materials.items()}
    profiles = {key: _row("sections", section) for section, key in sections.items()}
    loads = {}
    # a case made only to carry the supports of a file is not written as a load
    if not _supports_only(cases):
        loads = {case.name: _load(case, shared is None) for case in cases}
    parts = {
        "name": model.name,
        "units": "N, mm, MPa, s, tonne",
        "nodes": write_by_node(model.nodes, "model", "nodes"),
        "materials": stuffs,
        "sections": profiles,
        "elements": elements,
        "releases": releases,
        "supports": write_by_node(shared or {}, "model", "supports"),
        **_springs(model.springs),
        "rigid_links": _rows("rigid_links", model.rigid_links),
        "equal_dofs": _rows("equal_dofs", model.equal_dofs),
        "masses": _rows("masses", model.masses),
        "mass_model": write_fields({"rotary": model.rotary}, "mass_model"),
        "loads": loads,
    }
    # None is "not known", an empty set "nothing assumed": only the first is left out
    if model.assumed_members is not None:
        parts["assumed_members"] = form_of("model", "assumed_members").write(model.assumed_members)
    # every list stands there even when it is empty: other programs look for it
    return {key: parts[key] for key in keys_of("model") if key in parts}


def save_model(
    path: str | Path, model: FrameModel, cases: Sequence[LoadCase], force: bool = False
) -> None:
    """Write the JSON object to a file: UTF-8, strict JSON (no NaN or infinity).

    Raises
    ------
    InputError
        When the file exists and `force` is not given, or cannot be written.
    """
    # allow_nan: a NaN that slipped in must fail here, not in somebody's solver
    text = json.dumps(write_model(model, cases), indent=1, allow_nan=False, ensure_ascii=False)
    write_text(path, text + "\n", force)


def ground_id(node: str) -> str:
    """Id of a plain grounded spring that was given none."""
    return f"ground:{node}"


def _row(kind: str, thing: Any, **instead: Any) -> dict[str, Any]:
    """The object of a value of the model; `instead` : what stands in the file for some of its fields."""
    # `instead` wins: in the file names stand for what the model holds as objects
    return write_fields({**vars(thing), **instead}, kind)


def _keyed(things: Iterable[Any], name: Callable[[Any, int], str]) -> dict[Any, str]:
    """Each different thing -> its key; a key that is taken gets a number behind it."""
    keys: dict[Any, str] = {}
    for thing in things:
        # by value: equal sections of many elements become one entry
        if thing in keys:
            continue
        # an empty key would be legal JSON and of no use to anybody
        wanted = name(thing, len(keys) + 1) or "unnamed"
        key = wanted
        number = 2
        while key in keys.values():
            key = f"{wanted} #{number}"
            number = number + 1
        keys[thing] = key
    return keys


def _rows(kind: str, things: Iterable[Any]) -> list[dict[str, Any]]:
    return [_row(kind, thing) for thing in things]


def _material(material: Material, key: str) -> dict[str, Any]:
    # a name that is the key already need not be said twice
    name = material.name
    if name == key:
        name = ""
    return _row("materials", material, name=name)


def _releases(element: Element) -> list[dict[str, Any]]:
    """One row for each end that is released."""
    out = []
    for end, first in (("i", 0), ("j", 6)):
        # the file counts components per end, the model over both
        dofs = [dof - first for dof in element.releases if first <= dof < first + 6]
        if dofs:
            out.append(write_fields({"element": element.id, "end": end, "dofs": dofs}, "releases"))
    return out


def _springs(springs: Iterable[Spring]) -> dict[str, Any]:
    plain = []
    local = []
    for spring in springs:
        # local axes that are the global ones make it a plain spring, which all programs read
        to_ground = spring.j is None and (spring.x_axis, spring.vxy) == GLOBAL_AXES
        if to_ground:
            # the id that reading would make up is left out
            ident = spring.id
            if ident == ground_id(spring.i):
                ident = ""
            plain.append(_row("springs", spring, node=spring.i, id=ident))
        else:
            local.append(_row("spring_elements", spring))
    return {"springs": plain, "spring_elements": local}


def _load(case: LoadCase, own_supports: bool) -> dict[str, Any]:
    supports = {}
    if own_supports:
        # unless they stand at the top already
        supports = write_by_node(case.supports, "loads", "supports")
    return _row(
        "loads",
        case,
        nodal=write_by_node(case.nodal, "loads", "nodal"),
        udl=_rows("udl", case.member_loads),
        supports=supports,
        **_springs(case.springs),
        measures=[_measure(measure) for measure in case.measures],
        touching=write_by_node(case.touching, "loads", "touching"),
    )


def _measure(measure: Measure) -> dict[str, Any]:
    weights = [write_fields({"node": node, "w": w}, "weights") for node, w in measure.weights]
    return _row("measures", measure, weights=weights)


def _supports_only(cases: Sequence[LoadCase]) -> bool:
    # compared as a whole: a builder's case of that name with loads is a real one
    return len(cases) == 1 and cases[0] == LoadCase(SUPPORTS_ONLY, supports=cases[0].supports)
