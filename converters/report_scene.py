"""The frame as a scene to draw: nodes, tubes with their diameters, and per load case what moved, under what.

Plain lists only, rounded to what a screen can show, so that the page stays small.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from model.dimensions import FrameDimensions
from model.frame_model import Array, FrameModel, LoadCase
from model.result import Result

_DOF_WORDS = ("fore-aft", "up-down", "sideways", "lean", "yaw", "pitch")


def scene_json(model: FrameModel, dimensions: FrameDimensions | None = None) -> dict[str, Any]:
    """Nodes (mm) and elements (end numbers, outside diameter, member) of the undeflected frame, and its wheels."""
    members = list(dict.fromkeys(e.member or e.id for e in model.elements))
    number = {name: k for k, name in enumerate(members)}
    return {
        "nodes": _rounded(model.xyz, 2),
        "elements": [[int(i), int(j), round(2 * e.section.cy, 2), number[e.member or e.id]]
                     for e, (i, j) in zip(model.elements, model.ends, strict=True)],
        "members": [name.replace("_", " ") for name in members],
        "wheels": [] if dimensions is None else _wheels(dimensions),
    }


def _wheels(d: FrameDimensions) -> list[list[float]]:
    """Centre and radius of both tyres in the side view, mm."""
    pairs = ((d.rear_axle, d.wheel_radius_rear), (d.front_axle, d.wheel_radius_front))
    return [[round(axle.x, 1), round(axle.y, 1), round(radius, 1)] for axle, radius in pairs]


def case_json(result: Result, colours: Mapping[str, Sequence[float]] | None = None) -> dict[str, Any]:
    """One solved case: displacements (mm), arrows, supports, and named values per element to colour by."""
    case, model = result.case, result.model
    return {
        "name": case.name, "title": case.title or case.name, "notes": case.notes,
        "u": _rounded(result.u[:, :3], 5),
        "largest": float(np.linalg.norm(result.u[:, :3], axis=1).max()),
        "arrows": arrows(model, case), "supports": supports(model, case),
        "colours": {name: [round(float(v), 4) for v in values] for name, values in (colours or {}).items()},
    }


def arrows(model: FrameModel, case: LoadCase) -> list[dict[str, Any]]:
    """Forces and moments of a case: point, direction and words such as ``432 N``."""
    drawn = []
    for node, load in case.nodal.items():
        at = [round(v, 2) for v in model.nodes[node]]
        for kind, vector in (("force", np.array(load[:3])), ("moment", np.array(load[3:]))):
            size = float(np.linalg.norm(vector))
            if size > 1e-9:
                words = f"{size:.0f} N" if kind == "force" else f"{size / 1000:.0f} N·m"
                drawn.append({"kind": kind, "at": at, "direction": _rounded(vector / size, 4), "words": words})
    return drawn


def supports(model: FrameModel, case: LoadCase) -> list[dict[str, Any]]:
    """Held nodes with the held directions in words, and grounded springs of the case."""
    held = [{"at": [round(v, 2) for v in model.nodes[node]], "words": _held_words(node, flags)}
            for node, flags in case.supports.items() if any(flags)]
    sprung = [{"at": [round(v, 2) for v in model.nodes[s.i]], "words": s.id.replace("_", " ")} for s in case.springs]
    return held + sprung


def _held_words(node: str, flags: Sequence[int]) -> str:
    held = [word for word, flag in zip(_DOF_WORDS, flags, strict=True) if flag]
    return f"{node.replace('_', ' ')}: {', '.join(held)} held"


def _rounded(values: Array, digits: int) -> list[Any]:
    return np.round(values, digits).tolist()  # type: ignore[no-any-return]
