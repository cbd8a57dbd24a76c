"""Results as plain objects with stable keys: what `--json` prints and the report embeds."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from ...model.assumption import Assumed
from ...model.choice.workshop_rules import bench_words
from ...model.findings import Finding
from ...model.frame.bicycle import Bicycle
from ...model.frame.clearance import clearance_findings
from ...model.frame.layout import joints_in_space
from ...model.frame.parts import PARTS
from ...model.frame.suspension import extended_and_sunk
from ...model.geometry.statements import quantities
from ...model.version import VERSION
from ..inputs import Reading

if TYPE_CHECKING:
    from ...model.mechanics.frame_model import FrameModel, LoadCase, Spring
    from ...model.mechanics.result import Result
    from ..analysis import Analysis

_UNITS = {"length": "mm", "force": "N", "moment": "N*mm", "rotation": "rad", "mass": "tonne"}
_FILE_UNITS = {"all": "as in the model file, any consistent set"}
_ENDS = ("N", "Vy", "Vz", "T", "My", "Mz")


def geometry_json(reading: Reading) -> dict[str, Any]:
    """Dimensions, derived numbers, joints. What the input does not hold is null."""
    d = reading.dimensions
    derived = d.derived()
    # stack is derived and yet the first number asked for, so it stands with the stated ones
    dimensions = {"stack": derived.pop("stack"), **asdict(d)}
    dimensions |= dimensions.pop("given")._asdict()
    if reading.view is not None:
        dimensions["outside_diameters"] = dict(reading.view.diameters)
    # how exactly a drawing can be read hangs on the drawing alone
    known = None if reading.view is None else asdict(reading.view.precision)
    return {
        "source": reading.source,
        "units": {"length": "mm", "angle": "deg"},
        "dimensions": dimensions,
        "derived": derived,
        "joints": _joints(reading),
        "parts": _parts(reading),
        **_at_sag(reading),
        "precision": known,
        "findings": [finding.as_dict() for finding in geometry_findings(reading)],
        **assumed_json(reading.assumed),
    }


def _at_sag(reading: Reading) -> dict[str, Any]:
    """The side view with the suspension fork extended and with the rider aboard, where there is such a fork."""
    bicycle = reading.bicycle
    if bicycle is None or bicycle.suspension is None:
        return {}
    free, laden = extended_and_sunk(bicycle.suspension, bicycle.dimensions)
    return {"extended": quantities(free), "rider_aboard": quantities(laden)}


def _parts(reading: Reading) -> dict[str, dict[str, Any]] | None:
    """Part -> its size in words and whether the input states it; null for a drawing alone."""
    if reading.bicycle is None:
        return None
    stated = reading.bicycle.parts
    # those not stated too, as the stand-ins that are reckoned with
    every = {**PARTS, **stated}
    return {name: {"size": part.words, "stated": name in stated} for name, part in every.items()}


def geometry_findings(reading: Reading) -> tuple[Finding, ...]:
    """Those of the reading, the gaps that are too small, the rules of the workshop that are broken."""
    bicycle = reading.bicycle
    if bicycle is None:
        return reading.findings
    # findings that need a bicycle: a drawing alone has neither tyres nor pedals
    return (*reading.findings, *clearance_findings(bicycle), *bench_words(bicycle))


def _joints(reading: Reading) -> dict[str, list[float] | None]:
    """Joints in space; from a drawing alone only those in its plane, because it does not show the sizes across."""
    if reading.bicycle is not None:
        joints = joints_in_space(reading.bicycle)
        return {name: None if xyz is None else list(xyz) for name, xyz in joints.items()}
    flat = reading.dimensions.points()
    # the usual fittings: only the names of the joints are needed here
    names = joints_in_space(Bicycle(reading.dimensions, {}))
    # z is 0 because the side view lies in the frame's plane, not because it is measured
    return {name: [flat[name].x, flat[name].y, 0.0] if flat.get(name) else None for name in names}  # type: ignore[union-attr]


def provenance(reading: Reading, model: "FrameModel | None" = None) -> dict[str, Any]:
    """What made a number: input hash, version, units, size of the mesh where there is one."""
    # what was not meshed has no size to state
    if model is None:
        size = {}
    else:
        size = {"elements": len(model.elements), "nodes": len(model.nodes), "dofs": model.dofs}
    return {
        "source": reading.source,
        "input_sha256": reading.sha256,
        "version": VERSION,
        # a model file states no units, and none may be made up
        "units": _FILE_UNITS if reading.own_units else _UNITS,
        **size,
    }


def stamped(
    reading: Reading,
    results: Mapping[str, Any],
    findings: Sequence[Finding],
    assumed: Sequence[Assumed],
    model: "FrameModel | None" = None,
) -> dict[str, Any]:
    """Results with what every answer carries: where from, made by what, what was found, what was assumed."""
    # the stamp comes last, so that no key of the results can take its place
    return {
        **results,
        "provenance": provenance(reading, model),
        "findings": [finding.as_dict() for finding in findings],
        **assumed_json(assumed),
    }


def as_dicts(rows: Iterable[Any]) -> list[dict[str, Any]]:
    """Rows that are frozen values, each as an object with its fields for keys."""
    return [asdict(row) for row in rows]


def assumed_json(assumed: Sequence[Assumed]) -> dict[str, Any]:
    """What was assumed: `assumed` as texts for people, `assumptions` as values to calculate with."""
    return {"assumed": list(map(str, assumed)), "assumptions": as_dicts(assumed)}


def solve_json(analysis: "Analysis") -> dict[str, Any]:
    """Every load case with loads, supports, displacements, reactions, end forces, stiffness and its evidence."""
    cases = {name: result_json(result) for name, result in analysis.results.items()}
    return stamped(
        analysis.reading, {"load_cases": cases}, analysis.findings, analysis.assumed, analysis.model
    )


def result_json(result: "Result") -> dict[str, Any]:
    """One load case."""
    # the solver's libraries: geometry is told without them
    from ...model.postprocess.assumed import assumed_share

    model = result.model
    case = result.case
    displacements = {
        node: list(map(float, u)) for node, u in zip(model.nodes, result.u, strict=True)
    }
    end_forces = {
        e.id: {"i": list(map(float, f[:6])), "j": list(map(float, f[6:]))}
        for e, f in zip(model.elements, result.end_forces, strict=True)
    }
    # with the load it stands against: a figure without it says nothing
    measured = {
        m.name: {
            "title": m.title,
            "value": result.measured[m.name],
            "unit": m.unit,
            "reference_load": m.reference,
        }
        for m in case.measures
    }
    reactions = {node: list(map(float, r)) for node, r in result.reactions.items()}
    return {
        "title": case.title,
        "notes": case.notes,
        "source": case.source,
        "loads": loads_json(case),
        "supports": _lists(case.supports),
        "springs": [_spring_json(spring) for spring in case.springs],
        "displacements": displacements,
        "reactions": reactions,
        "end_forces": end_forces,
        # the order of the six numbers above, so that nobody has to look it up
        "end_force_components": list(_ENDS),
        "measured": measured,
        "stiffness": stiffness_json(result),
        "share_in_assumed_parts": assumed_share(result),
        "residual": result.residual,
        "force_balance": result.force_balance,
        "moment_balance": result.moment_balance,
        "condition": result.condition,
    }


def stiffness_json(result: "Result") -> dict[str, Any]:
    """Measure -> stiffness, null where other loads make the movement too, and its unit."""
    return {
        measure.name: {
            "value": result.stiffness[measure.name],
            "unit": measure.stiffness_unit,
        }
        for measure in result.case.measures
    }


def _spring_json(spring: "Spring") -> dict[str, Any]:
    return {
        "id": spring.id,
        "i": spring.i,
        "j": spring.j,
        "k": list(spring.k),
        "x_axis": list(spring.x_axis),
        "vxy": list(spring.vxy),
    }


def _lists(held: Mapping[str, Sequence[float]]) -> dict[str, list[float]]:
    return {node: list(numbers) for node, numbers in held.items()}


def loads_json(case: "LoadCase") -> dict[str, Any]:
    """Nodal and member loads of a case."""
    return {"nodal": _lists(case.nodal), "udl": as_dicts(case.member_loads)}
