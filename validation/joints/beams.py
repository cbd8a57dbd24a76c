"""A front triangle as beams, rigid at the centre-lines or with the law's joints; movements as those of the shells."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from ...model.arrays import Array, Xyz
from ...model.joints.law import joint_compliance
from ...model.joints.shape import JointShape
from ...model.mechanics.frame_model import (
    Element,
    FrameModel,
    LoadCase,
    RigidLink,
    Spring,
    soft_joint,
)
from ...model.mechanics.solve import solve
from ...model.tubes.materials import Material
from ...model.tubes.sections import round_tube
from .front_triangle import Triangle

_STEEL = Material("steel", 205e3, 205e3 / 2.6, 7.85e-9)
# The nodes along each tube; tubes that share a node are welded there.
_CHAINS = {
    "BB": ["bl", "o", "br"],
    "HT": ["top", "tt", "dt", "bot"],
    "ST": ["o", "stt", "sttop"],
    "TT": ["stt", "tt"],
    "DT": ["o", "dt"],
}
# Node of a joint: its chord, the chord's near end, its far end or the other branch before it, its branch, the branch's
# far end.
_JOINTS = {
    "tt": ("HT", "top", "dt", "TT", "stt"),
    "dt": ("HT", "bot", "tt", "DT", "o"),
    "stt": ("ST", "sttop", "o", "TT", "tt"),
}


def head_flexibility_of_beams(triangle: Triangle, give: bool, rings: bool = True) -> Array:
    """(15, 15) as `front_triangle.head_flexibility`: head tube top, bottom, the seat tube's top, support A.

    give : joints by the law, bare; otherwise rigid. rings : the head tube's ends are held round.
    """
    model = _model(triangle, give, rings)
    supports = {"bl": (1,) * 6, "br": (1,) * 6}
    cases = []
    for node, count in (("top", 6), ("bot", 6), ("sttop", 3)):
        for component in range(count):
            load = [0.0] * 6
            load[component] = 1.0
            loads = {node: tuple(load)}
            cases.append(LoadCase(f"{node}{component}", loads, supports=supports))
    results = solve(model, cases)
    columns = []
    for result in results.values():
        moved = [result.displacement(node) for node in ("top", "bot", "sttop")]
        # Of the seat tube's top the three movements alone, as in the shells.
        columns.append(np.concatenate(moved)[:15])
    return np.column_stack(columns)


def _model(triangle: Triangle, give: bool, rings: bool) -> FrameModel:
    nodes = {name: tuple(place.tolist()) for name, place in triangle.points.items()}
    chains = {tube: list(chain) for tube, chain in _CHAINS.items()}
    # The branch begins at the chord's wall, rigid with a twin of the node; its spring stands between both.
    springs: list[Spring] = []
    links: list[RigidLink] = []
    if give:
        for node, (_, _, _, branch, far) in _JOINTS.items():
            twin = f"{node}*"
            wall = f"{node}:wall"
            shape = _shape(triangle, node, rings)
            nodes[twin] = nodes[node]
            nodes[wall] = _towards(triangle.points[node], triangle.points[far], shape.inside)
            chain = chains[branch]
            chain[chain.index(node)] = wall
            links.append(RigidLink(twin, wall))
            springs.append(_spring(triangle, node, twin, shape))
    elements = []
    for tube, chain in chains.items():
        section = round_tube(*triangle.tubes[tube], _STEEL.nu)
        for a, b in pairwise(chain):
            # Tubes lie in x-y, the bracket shell along z: each gets a vector it is not parallel to.
            axis = np.subtract(nodes[b], nodes[a])
            upright = (0.0, 1.0, 0.0) if tube == "BB" else (-axis[1], axis[0], 0.0)
            elements.append(Element(f"{tube}.{a}", a, b, section, _STEEL, upright, tube))
    return FrameModel(nodes, tuple(elements), tuple(springs), rigid_links=tuple(links))


def _towards(start: Array, end: Array, distance: float) -> Xyz:
    """The place a distance from the start on the way to the end."""
    x, y, z = (start + distance * (end - start) / np.linalg.norm(end - start)).tolist()
    return (x, y, z)


def _axes(triangle: Triangle, node: str) -> tuple[Array, Array]:
    """Of a joint: along the chord to its near end, and along the branch away from it; length one."""
    _, near, _, _, far = _JOINTS[node]
    along = triangle.points[near] - triangle.points[node]
    away = triangle.points[far] - triangle.points[node]
    return along / np.linalg.norm(along), away / np.linalg.norm(away)


def _shape(triangle: Triangle, node: str, rings: bool) -> JointShape:
    chord, near, other_end, branch, _ = _JOINTS[node]
    points = triangle.points
    first, outwards = _axes(triangle, node)
    return JointShape(
        *triangle.tubes[branch],
        *triangle.tubes[chord],
        float(np.degrees(np.arccos(first @ outwards))),
        float(np.linalg.norm(points[near] - points[node])),
        to_far_end=float(np.linalg.norm(points[other_end] - points[node])),
        # The law's ring speaks of the near end: only the head tube's ends are ever held round.
        ring=rings and chord == "HT",
    )


def _spring(triangle: Triangle, node: str, twin: str, shape: JointShape) -> Spring:
    first, outwards = _axes(triangle, node)
    # The law's second axis: square to the chord, on the branch's side.
    square = outwards - (outwards @ first) * first
    second = square / np.linalg.norm(square)
    matrix = joint_compliance(shape, _STEEL).matrix
    return soft_joint(node, node, twin, matrix, tuple(first), tuple(second))
