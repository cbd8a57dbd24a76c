"""The analysis model as a JSON object; see `converters.files.model_file.read_model` for the format."""

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from math import isfinite
from pathlib import Path
from typing import Any

from ....model.errors import ModelError
from ....model.mechanics.frame_model import DOFS, Element, FrameModel, LoadCase, Measure, Spring
from ....model.tubes.materials import Material
from ....model.tubes.sections import Section
from ..writing import write_text

SUPPORTS_ONLY = "supports only"
GLOBAL_AXES = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0))
STRENGTHS = ("yield_strength", "ultimate", "endurance")


def write_model(model: FrameModel, cases: Sequence[LoadCase]) -> dict[str, Any]:
    """The JSON object of a model and its load cases; only finite numbers, keys in a fixed order.

    Raises
    ------
    ModelError
        When two load cases have the same name: one would overwrite the other.
    """
    names = [case.name for case in cases]
    if len(set(names)) < len(names):
        raise ModelError(f"load case names must differ, got {', '.join(names)}")
    materials = _keyed((e.material for e in model.elements), lambda m, _: m.name)
    sections = _keyed((e.section for e in model.elements), lambda _, number: f"s{number}")
    if cases and all(c.supports == cases[0].supports for c in cases):
        shared = cases[0].supports
    else:
        shared = None
    return {
        "name": model.name,
        "units": "N, mm, MPa, s, tonne",
        "nodes": {node: _floats(xyz) for node, xyz in model.nodes.items()},
        "materials": {key: _material(m, key) for m, key in materials.items()},
        "sections": {key: _section(s) for s, key in sections.items()},
        "elements": [
            _element(e, materials[e.material], sections[e.section]) for e in model.elements
        ],
        "releases": [release for e in model.elements for release in _releases(e)],
        "supports": _flags(shared or {}),
        **_springs(model.springs),
        "rigid_links": [{"master": x.master, "slave": x.slave} for x in model.rigid_links],
        "equal_dofs": [
            {"master": x.master, "slave": x.slave, "dofs": [DOFS[d] for d in x.dofs]}
            for x in model.equal_dofs
        ],
        "masses": [{"node": x.node, "m": float(x.m), "J": _floats(x.J)} for x in model.masses],
        "mass_model": {"type": "consistent", "rotary": bool(model.rotary)},
        "loads": {} if _supports_only(cases) else {c.name: _load(c, shared is None) for c in cases},
    }


def save_model(
    path: str | Path, model: FrameModel, cases: Sequence[LoadCase], force: bool = False
) -> None:
    """Write the JSON object to a file: UTF-8, strict JSON (no NaN or infinity).

    Raises
    ------
    InputError
        When the file exists and `force` is not given, or cannot be written.
    """
    text = json.dumps(write_model(model, cases), indent=1, allow_nan=False, ensure_ascii=False)
    write_text(path, text + "\n", force)


def ground_id(node: str) -> str:
    """Id of a plain grounded spring that was given none."""
    return f"ground:{node}"


def _floats(values: Iterable[float]) -> list[float]:
    return [float(v) for v in values]


def _keyed(things: Iterable[Any], name: Callable[[Any, int], str]) -> dict[Any, str]:
    """Each different thing -> its key; a key that is taken gets a number behind it."""
    keys: dict[Any, str] = {}
    for thing in things:
        if thing in keys:
            continue
        wanted = name(thing, len(keys) + 1) or "unnamed"
        key = wanted
        number = 2
        while key in keys.values():
            key = f"{wanted} #{number}"
            number = number + 1
        keys[thing] = key
    return keys


def _material(m: Material, key: str) -> dict[str, Any]:
    strengths = {
        field: float(getattr(m, field)) for field in STRENGTHS if getattr(m, field) is not None
    }
    return {
        "E": float(m.E),
        "G": float(m.G),
        "rho": float(m.rho),
        **strengths,
        **({"name": m.name} if m.name != key else {}),
        **({"source": m.source} if m.source else {}),
    }


def _section(s: Section) -> dict[str, float]:
    out = {"A": s.A, "Iy": s.Iy, "Iz": s.Iz, "J": s.J}
    out |= {field: getattr(s, field) for field in ("Asy", "Asz") if isfinite(getattr(s, field))}
    out |= {} if s.Ip is None else {"Ip": s.Ip}
    out |= {field: getattr(s, field) for field in ("cy", "cz") if getattr(s, field)}
    return {key: float(value) for key, value in out.items()}


def _element(e: Element, material: str, section: str) -> dict[str, Any]:
    out = {"id": e.id, "i": e.i, "j": e.j, "mat": material, "sec": section, "vxy": _floats(e.vxy)}
    return out | ({"member": e.member} if e.member else {})


def _releases(e: Element) -> list[dict[str, Any]]:
    out = []
    for end, first in (("i", 0), ("j", 6)):
        dofs = [DOFS[d - first] for d in e.releases if first <= d < first + 6]
        if dofs:
            out.append({"element": e.id, "end": end, "dofs": dofs})
    return out


def _flags(supports: Mapping[str, Iterable[int]]) -> dict[str, list[int]]:
    return {node: [int(f) for f in flags] for node, flags in supports.items()}


def _springs(springs: Iterable[Spring]) -> dict[str, Any]:
    plain = []
    local = []
    for s in springs:
        if s.j is None and (s.x_axis, s.vxy) == GLOBAL_AXES:
            plain.append(
                {"node": s.i, "k": _floats(s.k)} | ({"id": s.id} if s.id != ground_id(s.i) else {})
            )
        else:
            local.append(
                {
                    "id": s.id,
                    "i": s.i,
                    "j": s.j,
                    "k": _floats(s.k),
                    "x_axis": _floats(s.x_axis),
                    "vxy": _floats(s.vxy),
                    **_compliance(s),
                }
            )
    return {"springs": plain, "spring_elements": local}


def _compliance(s: Spring) -> dict[str, Any]:
    if s.compliance is None:
        return {}
    return {"compliance": [_floats(row) for row in s.compliance]}


def _load(case: LoadCase, own_supports: bool) -> dict[str, Any]:
    return {
        "nodal": {node: _floats(load) for node, load in case.nodal.items()},
        "udl": [
            {"element": u.element, "w": _floats(u.w), "frame": u.frame} for u in case.member_loads
        ],
        **({"supports": _flags(case.supports)} if own_supports else {}),
        **{key: value for key, value in _springs(case.springs).items() if value},
        **({"measures": [_measure(m) for m in case.measures]} if case.measures else {}),
        **({"touching": dict(case.touching)} if case.touching else {}),
        **{key: getattr(case, key) for key in ("title", "notes", "source") if getattr(case, key)},
    }


def _measure(m: Measure) -> dict[str, Any]:
    return {
        "name": m.name,
        "weights": [{"node": node, "w": _floats(w)} for node, w in m.weights],
        "unit": m.unit,
        "reference": None if m.reference is None else float(m.reference),
        "title": m.title,
    }


def _supports_only(cases: Sequence[LoadCase]) -> bool:
    return len(cases) == 1 and cases[0] == LoadCase(SUPPORTS_ONLY, supports=cases[0].supports)
