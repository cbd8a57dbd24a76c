"""What the joints of the rear triangle would be worth that the product takes as rigid, measured node by node in shells.

A node with everything that is welded to it is cut out of a whole frame of `whole_frame`: the seat tube with the pair of
stays on its sides, or the bottom bracket shell with seat tube, down tube and chainstays. In shells, its chord's ends
held and its branches loaded, less the product's own beams of the same piece, it gives what all branches together move
beyond beams. That is put between chord and branches in the beams of the whole frame, so that no law and no formula
stands between; what it leaves beside the whole frame in shells is not the joint's fault.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np

from ...model.arrays import Array, Xyz
from ...model.frame.bicycle import Bicycle
from ...model.frame.layout import FrameLayout, lay_out
from ...model.frame.mesh import mesh
from ...model.mechanics.assembly import spring_stiffness, stiffness_matrix
from ...model.mechanics.beam import Beams
from ...model.mechanics.constraints import Constraints
from ...model.mechanics.frame_model import Element, FrameModel, LoadCase, RigidLink
from ...model.mechanics.solve import measure_weights, nodal_forces, solve
from ...model.tubes.sections import round_tube
from . import whole_frame
from .meshing import Pipe, mesh_pipes
from .shell import ShellSolver, TubeRing, rigid_motion
from .single import POISSON
from .study import extrapolated
from .whole_frame import OPTIONS, STEEL, Figures, frame_body

Names = tuple[str, ...]
NAMES = (whole_frame.TOURER, whole_frame.SEAT_CHANGED, "gravel")
STAYS: Names = ("seatstay_right", "seatstay_left")
BRACKET: Names = ("seat_tube", "down_tube", "chainstay_right", "chainstay_left")
_PIPES = {
    "seat_tube": 2,
    "down_tube": 3,
    "chainstay_right": 5,
    "chainstay_left": 6,
    "seatstay_right": 7,
    "seatstay_left": 8,
}
_SIZES = (1.7, 1.25)  # mm along the weld, half as much again and more away from it
_COARSENING = 1.9
_STUB = 110.0  # mm of a branch: four diameters and more
_STATIONS = 24  # beams along a branch, so that a cone is met


@dataclass(frozen=True)
class CutOut:
    """A chord and its branches, cut off.

    names : of the branches, members of the frame. feet : (3,) where each one's beam begins, a rigid arm from the
    chord's axis.
    """

    names: Names
    chord: Pipe
    branches: tuple[Pipe, ...]
    feet: tuple[Array, ...]


def stays_node(bicycle: Bicycle, layout: FrameLayout) -> CutOut:
    """The seat tube with the pair of stays on its sides."""
    pipes = frame_body(bicycle, layout).pipes
    chord = replace(pipes[_PIPES["seat_tube"]], chords=())
    branches = [replace(_stub(pipes[_PIPES[name]]), chords=(0,)) for name in STAYS]
    return CutOut(STAYS, chord, tuple(branches), _feet(layout, STAYS))


def bracket_node(bicycle: Bicycle, layout: FrameLayout) -> CutOut:
    """The bottom bracket shell with all that stands on it."""
    pipes = frame_body(bicycle, layout).pipes
    branches = []
    for name in BRACKET:
        pipe = _stub(pipes[_PIPES[name]])
        tube = name.removesuffix("_right").removesuffix("_left")
        # Butted tubes stand on the shell with their first wall; in the node the seat tube is number 1.
        beside = (1,) if name == "down_tube" else ()
        wall = bicycle.tubes[tube].walls[0]
        branches.append(replace(pipe, wall=wall, chords=(0,), beside=beside))
    return CutOut(BRACKET, pipes[0], tuple(branches), _feet(layout, BRACKET))


def _stub(pipe: Pipe) -> Pipe:
    whole = float(np.linalg.norm(pipe.end - pipe.start))
    cone = pipe.end_diameter
    if cone is not None:
        cone = pipe.diameter + (cone - pipe.diameter) * _STUB / whole
    return replace(pipe, end=pipe.start + _STUB * pipe.axis, end_diameter=cone)


def _feet(layout: FrameLayout, names: Sequence[str]) -> tuple[Array, ...]:
    members = {member.name: member for member in layout.members}
    return tuple(np.array(members[name].path[0]) for name in names)


def beyond_beams(node: CutOut) -> Array:
    """(6 b, 6 b) movements of the branches' feet beyond beams under unit loads there; mm, rad, N. Not positive: a
    branch begins at the chord's wall, its beam on the axis."""
    matrices = []
    points = []
    for size in _SIZES:
        tubes = mesh_pipes((node.chord, *node.branches), size, _COARSENING * size)
        places = tubes.mesh.points
        held = [node.chord.ring_at(places, end) for end in (node.chord.start, node.chord.end)]
        tips = [TubeRing(p.ring_at(places, p.end), p.end, rigid=False) for p in node.branches]
        matrices.append(ShellSolver(tubes.mesh, held, tips).ring_flexibility() / STEEL.E)
        points.append(len(places))
    beyond = extrapolated(matrices, points) - _of_beams(node)
    carried = np.zeros_like(beyond)
    for k, (branch, foot) in enumerate(zip(node.branches, node.feet, strict=True)):
        own = slice(6 * k, 6 * k + 6)
        carried[own, own] = np.linalg.inv(rigid_motion((branch.end - foot)[None]))
    return np.asarray(carried @ beyond @ carried.T)


def _of_beams(node: CutOut) -> Array:
    """The same flexibility of the branches' tips by the product's beams."""
    chord = node.chord
    along = [float((foot - chord.start) @ chord.axis) for foot in node.feet]
    nodes = {"start": chord.start, "end": chord.end}
    elements = []
    links = []
    stops = sorted({round(place, 6) for place in along})
    names = [f"axis {place}" for place in stops]
    nodes |= {
        name: chord.start + place * chord.axis for name, place in zip(names, stops, strict=True)
    }
    line = ["start", *names, "end"]
    for one, other in pairwise(line):
        elements.append(_beam(one, other, chord.diameter, chord.wall))
    tips = []
    for name, branch, foot, place in zip(node.names, node.branches, node.feet, along, strict=True):
        nodes[name] = foot
        links.append(RigidLink(f"axis {round(place, 6)}", name))
        whole = branch.end - foot
        last = name
        for station in range(_STATIONS):
            tip = f"{name} {station}"
            nodes[tip] = foot + whole * (station + 1) / _STATIONS
            middle = foot + whole * (station + 0.5) / _STATIONS
            elements.append(_beam(last, tip, _diameter_at(branch, middle), branch.wall))
            last = tip
        tips.append(last)
    placed = {name: _xyz(place) for name, place in nodes.items()}
    model = FrameModel(placed, tuple(elements), (), rigid_links=tuple(links))
    held = {"start": (1,) * 6, "end": (1,) * 6}
    cases = [
        LoadCase(f"{tip} {k}", {tip: tuple(load)}, supports=held)
        for tip in tips
        for k, load in enumerate(np.eye(6).tolist())
    ]
    columns = []
    for moved in solve(model, cases).values():
        columns.append(np.concatenate([moved.displacement(tip) for tip in tips]))
    return np.array(columns).T


def _xyz(place: Array) -> Xyz:
    x, y, z = (float(value) for value in place)
    return (x, y, z)


def _beam(one: str, other: str, diameter: float, wall: float) -> Element:
    section = round_tube(diameter + wall, wall, POISSON)
    # Round: any direction square to the tube is as good as another; none of a frame's runs along this one.
    return Element(f"{one} {other}", one, other, section, STEEL, (0.31, 0.17, 0.94))


def _diameter_at(pipe: Pipe, place: Array) -> float:
    if pipe.end_diameter is None:
        return pipe.diameter
    share = float((place - pipe.start) @ pipe.axis / np.linalg.norm(pipe.end - pipe.start))
    return pipe.diameter + share * (pipe.end_diameter - pipe.diameter)


# --- in the whole frame ---------------------------------------------------------------------------------------------
Cuts = Mapping[
    tuple[str, ...], Array
]  # members cut at their first end -> (6 b, 6 b) what stands in the cuts


def figures_with_cuts(bicycle: Bicycle, cuts: Cuts) -> Figures:
    """`whole_frame.figures_of_beams` with compliances of any sign between tubes and where they begin.

    The forces across the cuts are unknowns of their own, since such a compliance has no stiffness to add.
    """
    bicycle = replace(bicycle, joints={**bicycle.joints, "fork_blade": "rigid"})
    layout = lay_out(bicycle)
    names = [name for members in cuts for name in members]
    model, pairs = _cut(mesh(bicycle, OPTIONS, layout), layout, names)
    whole = stiffness_matrix(Beams.of(model))
    jump = np.zeros((6 * len(pairs), model.dofs))
    given = np.zeros((6 * len(pairs), 6 * len(pairs)))
    for k, (kept, twin) in enumerate(pairs):
        own = slice(6 * k, 6 * k + 6)
        for node, sign in ((twin, 1.0), (kept, -1.0)):
            first = 6 * model.node_index[node]
            jump[own, first : first + 6] += sign * np.eye(6)
    filled = 0
    for matrix in cuts.values():
        own = slice(filled, filled + len(matrix))
        given[own, own] = matrix
        filled += len(matrix)
    found = {}
    for case in whole_frame.cases_of(bicycle, layout):
        held = Constraints.of(model, case.supports)
        stiff = held.T.T @ (whole + spring_stiffness(model, case.springs)) @ held.T
        across = np.asarray(held.T.T @ jump.T).T
        both = np.block([[stiff.toarray(), across.T], [across, -given]])
        load = held.gathered(nodal_forces(model, case)[:, None])
        moved = np.linalg.solve(both, np.vstack([load, np.zeros((len(given), 1))]))
        all_moved = held.moved(moved[: stiff.shape[0]])[:, 0]
        for measure in case.measures:
            weights = measure_weights(model, measure)
            found[f"{case.name}.{measure.name}"] = float(all_moved @ weights)
    return found


def _cut(
    model: FrameModel, layout: FrameLayout, names: Sequence[str]
) -> tuple[FrameModel, list[tuple[str, str]]]:
    """The model with these members' first nodes doubled, and each such node with its twin on the member."""
    members = {member.name: member for member in layout.members}
    nodes = dict(model.nodes)
    elements = {element.id: element for element in model.elements}
    pairs = []
    for name in names:
        foot = np.array(members[name].path[0])
        twin = f"{name} cut"
        at_foot = {node for node, xyz in model.nodes.items() if np.allclose(xyz, foot)}
        for element in model.elements:
            if element.member != name or not at_foot & {element.i, element.j}:
                continue
            if element.i in at_foot:
                kept = element.i
                elements[element.id] = replace(element, i=twin)
            else:
                kept = element.j
                elements[element.id] = replace(element, j=twin)
            nodes[twin] = model.nodes[kept]
            pairs.append((kept, twin))
    return replace(model, nodes=nodes, elements=tuple(elements.values())), pairs


def rear_results() -> list[dict[str, Any]]:
    """Of each frame both nodes' compliances."""
    rows = []
    for name in NAMES:
        bicycle = whole_frame.frames()[name]
        layout = lay_out(bicycle)
        for place, node in (
            ("stays", stays_node(bicycle, layout)),
            ("bracket", bracket_node(bicycle, layout)),
        ):
            rows.append({"frame": name, "node": place, "compliance": _short(beyond_beams(node))})
            print(name, place, flush=True)
    return rows


def _short(matrix: Array) -> list[list[float]]:
    """To six figures, as shells have no more."""
    kept = np.zeros_like(matrix)
    for place, value in np.ndenumerate(matrix):
        kept[place] = f"{value:.6g}"
    listed: list[list[float]] = kept.tolist()
    return listed


@dataclass(frozen=True)
class RearBeside:
    """Figures of one frame with bare joints by the law and, of the rear triangle: nothing more, the measured stays, the
    measured bracket, both; percent off the shells."""

    name: str
    off: Mapping[str, tuple[float, float, float, float]]

    @property
    def worst(self) -> tuple[float, ...]:
        """The largest of each column, without its sign."""
        return tuple(max(map(abs, column)) for column in zip(*self.off.values(), strict=True))


def rear_beside(
    kept: Sequence[Mapping[str, Any]], shells: Mapping[str, Mapping[str, float]]
) -> list[RearBeside]:
    """Worked out now from the kept compliances and the kept figures in shells, by frame and figure."""
    found = []
    for name in NAMES:
        bare = whole_frame.frames()[name].joined("bare")
        of_frame = {
            row["node"]: np.array(row["compliance"]) for row in kept if row["frame"] == name
        }
        stays: Cuts = {STAYS: of_frame["stays"]}
        bracket: Cuts = {BRACKET: of_frame["bracket"]}
        every: tuple[Cuts, ...] = ({}, stays, bracket, {**stays, **bracket})
        answers = [figures_with_cuts(bare, cuts) for cuts in every]
        off = {}
        for figure, value in shells[name].items():
            none, one, other, both = (100.0 * (ours[figure] / value - 1.0) for ours in answers)
            off[figure] = (none, one, other, both)
        found.append(RearBeside(name, off))
    return found
