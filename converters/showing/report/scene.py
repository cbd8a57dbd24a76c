"""The frame as a scene to draw: nodes, tubes with their diameters, and per load case or mode what moved, under what.

Plain lists only, rounded to what a screen can show, so that the page stays small. The page's script draws them in
3-D, `stills` draws the same ones flat.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import floor, log10
from typing import Any

import numpy as np

from ....model.arrays import Array
from ....model.cases.view import Arrow, SupportMark, case_picture, sum_words
from ....model.geometry.dimensions import FrameDimensions
from ....model.mechanics.beam import Beams
from ....model.mechanics.frame_model import FrameModel, LoadCase
from ....model.mechanics.result import Result
from ....model.words import spoken
from ...files.drafting.projection import magnification, wheels
from ...files.outside import half_sizes

# From small to large, one order by day and by night: cool to warm, which colour-blind eyes tell apart, and ever darker,
# for grey print. Every step stands out 3 to 1 from the white and from the dark card (WCAG 2.1, 1.4.11, from memory).
SCALE = (
    "#4d96d7",
    "#6c8ece",
    "#8286c6",
    "#947dbd",
    "#a275ac",
    "#ae6c9b",
    "#b96289",
    "#c15a6d",
    "#c84f4e",
    "#cf4225",
)

CORNER = (0.5, 0.3, 0.75)  # where the eye is when the view opens: ahead, above, on the drive side
_TOWARDS = 0.7  # cosine of the angle to the eye from which on an arrow points at the reader


@dataclass(frozen=True)
class Colours:
    """Values to colour the elements by, (m,) each in the order of the model; what they are, and their unit."""

    title: str
    unit: str
    values: Sequence[float]


def scene_json(model: FrameModel, dimensions: FrameDimensions | None = None) -> dict[str, Any]:
    """Nodes (mm), elements and wheels of the undeflected frame.

    An element is [first node, last node, half height, half width, x, y, z of the height's direction, member].
    """
    members = list(dict.fromkeys(e.member or e.id for e in model.elements))
    # members by number: the page would else carry the same words thousands of times
    order = {name: k for k, name in enumerate(members)}
    # hundredths of a millimetre: finer than a screen, and much smaller than a double
    sizes = _rounded(half_sizes(model), 2)
    local_y = _rounded(Beams.of(model).rotation[:, 1], 3)
    elements = [
        [int(i), int(j), *size, *y, order[e.member or e.id]]
        for e, (i, j), size, y in zip(model.elements, model.ends, sizes, local_y, strict=True)
    ]
    return {
        "nodes": _rounded(model.xyz, 2),
        "elements": elements,
        "members": [spoken(name) for name in members],
        "wheels": [] if dimensions is None else _rounded(np.array(wheels(dimensions)), 1),
        "length_unit": "" if dimensions is None else "mm",
        "span": round(model.span, 2),
        "scale": SCALE,
    }


def case_json(result: Result, colours: Mapping[str, Colours], units: bool = True) -> dict[str, Any]:
    """One solved case: displacements (mm), arrows, supports, and named values per element to colour by.

    `times` is how much larger movement is drawn to begin with. units : whether lengths are mm and forces N; a model
    file may be in any consistent set.
    """
    case = result.case
    model = result.model
    largest = result.largest_movement[1]
    return {
        "name": case.name,
        "title": case.title or case.name,
        "notes": case.notes,
        "u": _rounded(result.u[:, :3], _digits(largest)),
        "times": magnification(model.span, largest),
        **arrows(model, case, units),
        "supports": supports(model, case),
        "colours": _colours(colours),
    }


def _digits(largest: float) -> int:
    """Decimals that keep four digits of the largest movement, whatever unit a model file is in; five at least."""
    if largest > 0:
        return max(5, 3 - floor(log10(largest)))
    return 5


def mode_json(
    hz: float, words: str, shape: Array, colours: Mapping[str, Colours], span: float
) -> dict[str, Any]:
    """One mode: its shape (n, 3) on the scene's nodes, scaled to a largest movement of 1. span : of the model."""
    largest = float(np.linalg.norm(shape, axis=1).max()) or 1.0
    return {
        "hz": round(hz, 3),
        "title": words,
        "u": _rounded(shape / largest, 4),
        "colours": _colours(colours),
        "times": magnification(span, 1.0),
    }


def _colours(colours: Mapping[str, Colours]) -> dict[str, dict[str, Any]]:
    out = {}
    for name, c in colours.items():
        # the page shows three digits; more would only make it larger
        values = [round(float(value), 3) for value in c.values]
        out[name] = {"title": c.title, "unit": c.unit, "values": values}
    return out


# --- loads and supports ---------------------------------------------------------------------------------------
def arrows(
    model: FrameModel, case: LoadCase, units: bool = True
) -> dict[str, list[dict[str, Any]]]:
    """`arrows` of a case with tail and tip, one of them on the tube at `node`, and `labels` such as ``442 N``.

    An arrow pushes with its tip on the tube; one that points at the reader pulls with its tail on it, so that the
    frame never hides it. Equal loads left and right of the frame share one label, their sum.
    """
    radius = _radii(model)
    length = model.span / 9
    drawn = []
    ends: dict[tuple[object, ...], list[_End]] = {}
    for load in case_picture(model, case).arrows:
        size = float(np.linalg.norm(load.vector))
        way = np.array(load.vector) / size
        if way @ CORNER > _TOWARDS * np.linalg.norm(CORNER):
            side = 1.0
        else:
            side = -1.0
        # drawn on the tube's outside and not on its centre-line
        near = np.array(load.at) + side * way * radius.get(load.node, 0.0)
        far = near + side * way * length
        if side > 0:
            tail = near
            tip = far
        else:
            tail = far
            tip = near
        node = model.node_index.get(load.node, -1)
        drawn.append(
            {"kind": load.kind, "tail": _rounded(tail, 1), "tip": _rounded(tip, 1), "node": node}
        )
        # one label for both sides, or for all elements that a load is spread over
        ends.setdefault(load.alike, []).append(_End(far, side * way, node, load))
    return {"arrows": drawn, "labels": [_label(alike, units) for alike in ends.values()]}


@dataclass(frozen=True)
class _End:
    """The free end of an arrow, the way on from there, the node it rides on, and the load."""

    at: Array
    way: Array
    node: int
    load: Arrow


def _label(ends: Sequence[_End], units: bool) -> dict[str, Any]:
    """A label at the free end of its arrows, `way` pointing on from there; `node` is what it moves with."""
    words = sum_words([end.load for end in ends], units)
    # at the mean of the ends, so that the label stands between them
    at = np.mean([end.at for end in ends], axis=0)
    way = np.mean([end.way for end in ends], axis=0)
    return {"at": _rounded(at, 1), "way": _rounded(way, 3), "node": ends[0].node, "words": words}


def _radii(model: FrameModel) -> dict[str, float]:
    """Node -> half the largest outside diameter of the tubes that end there."""
    radius: dict[str, float] = {}
    # the widest tube at a node hides the others
    for element, size in zip(model.elements, half_sizes(model).max(axis=1), strict=True):
        for node in (element.i, element.j):
            radius[node] = max(radius.get(node, 0.0), float(size))
    return radius


def supports(model: FrameModel, case: LoadCase) -> list[dict[str, Any]]:
    """Held points of the case and its own springs, with words for what is held."""
    shown = case_picture(model, case)
    held = [(mark, "held") for mark in shown.supports if mark.held]
    sprung = [(mark, "sprung") for mark in shown.springs if mark.held]
    out = []
    for mark, how in held + sprung:
        at = [round(value, 2) for value in mark.at]
        out.append({"at": at, "words": _held_words(mark, how)})
    return out


def _held_words(mark: SupportMark, how: str) -> str:
    if mark.touching:
        by = f" ({mark.touching})"
    else:
        by = ""
    return f"{spoken(mark.node)}{by}: {mark.ways} {how}"


def _rounded(values: Array, digits: int) -> list[Any]:
    return (np.round(values, digits) + 0.0).tolist()  # type: ignore[no-any-return]
