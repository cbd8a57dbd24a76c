"""A whole bicycle frame with its rear triangle and its fork's blades in shells, among the beams of everything else.

The tubes of the frame are one welded body of shells, each blade is a body of its own. A body is condensed to its rings:
head tube ends, seat tube top, the shell's ends, where stays and blades meet the dropouts. These stiffnesses replace the
tubes' beams in the product's own model, between the same nodes, so that loads, supports, hubs, dropouts, steerer and
post are alike and the figures compare one by one.

What differs from a plain sample: dropouts are stated, so that stays end before they meet; bridges are left out; the
seatstays stand lower, clear of the top tube's weld; loads on the bottom bracket stand half on each end of its shell.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import sqrt
from pathlib import Path
from typing import Any

import numpy as np
from scipy import sparse

from ...converters.files.fitsheet.bicycle import bicycle_from_sheet, read_fit_sheet
from ...model.arrays import Array
from ...model.cases.library import load_cases
from ...model.frame.bicycle import Bicycle
from ...model.frame.dropouts import Dropout
from ...model.frame.layout import FrameLayout, Member, lay_out
from ...model.frame.mesh import MeshOptions, mesh
from ...model.mechanics.assembly import Factor, spring_stiffness, stiffness_matrix
from ...model.mechanics.beam import Beams
from ...model.mechanics.constraints import Constraints
from ...model.mechanics.frame_model import FrameModel, LoadCase
from ...model.mechanics.solve import measure_weights, nodal_forces
from ...model.tubes.materials import Material
from ...model.tubes.tube import Tube
from .meshing import Pipe, TubeMesh, mesh_pipes
from .second_opinion import opensees_displacements
from .shell import ShellMesh, ShellSolver, TubeRing, rigid_motion
from .single import POISSON
from .study import extrapolated

STEEL = Material("steel", 205e3, 205e3 / 2.6, 7.85e-9)
# Height x thickness x length of the dropouts' plates.
DROPOUT = (30.0, 6.0, 40.0)
STAYS_BELOW = 42.0  # mm from the top tube's axis to the stays' on the seat tube
TOURER = "tourer"
HEAD_CHANGED = "tourer, head tube wall 1.6"
SEAT_CHANGED = "tourer, seat tube 34.9 x 0.9"
SIZES = ((3.4, 5.1), (2.4, 3.6))  # mm along the welds and away from them, two meshes
OPTIONS = MeshOptions(bridges=False)
CASES = (
    "side_push",
    "head_torsion",
    "frame_torsion",
    "rear_sideways",
    "bb_push",
    "saddle_push",
    "iso_vertical",
)
_HIGH_OVER = (
    0.15  # of the chord's diameter: so far a stay beside it runs on past the end of its weld
)
_WIDEST = 0.996  # of a chord's diameter, by mid-surfaces
_SPINDLE = ("shell_left", "shell_right")
Figures = dict[str, float]  # case.measure -> mm or rad


def frames() -> dict[str, Bicycle]:
    """The frames of the study by name: two samples, and the changes to the first whose worth thin joints decide."""
    tourer = study_frame(_sample("tourer"))
    seat = replace(
        tourer.tubes["seat_tube"], od_start=34.9, od_end=34.9, walls=(0.9,), butts=(), tapers=()
    )
    return {
        TOURER: tourer,
        HEAD_CHANGED: _with(tourer, "head_tube", replace(tourer.tubes["head_tube"], walls=(1.6,))),
        SEAT_CHANGED: _with(tourer, "seat_tube", seat),
        "gravel": study_frame(_sample("gravel")),
    }


def _sample(name: str) -> Bicycle:
    """A sample as it was when it was meshed: its sheet is kept with the results, so that both stay alike."""
    sheet = Path(__file__).with_name("data") / f"{name}.csv"
    return bicycle_from_sheet(read_fit_sheet(sheet)).bicycle


def _with(bicycle: Bicycle, name: str, tube: Tube) -> Bicycle:
    return replace(bicycle, tubes={**bicycle.tubes, name: tube})


def study_frame(bicycle: Bicycle) -> Bicycle:
    """The bicycle as it is meshed here: one steel, dropouts as plates, stays clear of the top tube."""
    tubes = {name: replace(tube, material=STEEL) for name, tube in bicycle.tubes.items()}
    plates = {name: Dropout(name, *DROPOUT, STEEL) for name in ("rear_dropout", "front_dropout")}
    dimensions = replace(bicycle.dimensions, seatstay_below_top_tube=STAYS_BELOW)
    return replace(bicycle, tubes=tubes, dimensions=dimensions, parts={**bicycle.parts, **plates})


@dataclass(frozen=True)
class Body:
    """Tubes welded to one another. rings : node of the beam model -> (pipe, its end 0 or 1, kept round)."""

    pipes: Sequence[Pipe]
    tubes: Sequence[tuple[Tube, float]]
    rings: Mapping[str, tuple[int, int, bool]]

    def meshed(self, near: float, far: float) -> TubeMesh:
        tubes = mesh_pipes(self.pipes, near, far)
        walls = _walls(self, tubes)
        return replace(tubes, mesh=ShellMesh(tubes.mesh.points, tubes.mesh.triangles, walls))

    def ring(self, tubes: TubeMesh, node: str) -> TubeRing:
        number, end, rigid = self.rings[node]
        pipe = self.pipes[number]
        place = (pipe.start, pipe.end)[end]
        return TubeRing(pipe.ring_at(tubes.mesh.points, place), place, rigid)


def _walls(body: Body, tubes: TubeMesh) -> Array:
    """Wall of each triangle by its place along a butted tube. One mesh has one radius: where the true mid-surface lies
    off it the wall is made so much thicker or thinner that the bending stiffness, r^3 t, is right."""
    middles = tubes.mesh.points[tubes.mesh.triangles].mean(axis=1)
    walls = tubes.mesh.wall.copy()
    for number, (pipe, (tube, length)) in enumerate(zip(body.pipes, body.tubes, strict=True)):
        # Cones have one wall, and a radius that the mesh follows.
        if pipe.end_diameter is None:
            own = tubes.pipe_of == number
            places, profile = np.array(tube.wall_profile(length)).T
            wall = np.interp((middles[own] - pipe.start) @ pipe.axis, places, profile)
            walls[own] = wall * ((tube.od_start - wall) / pipe.diameter) ** 3
    return walls


def frame_body(bicycle: Bicycle, layout: FrameLayout) -> Body:
    """Shell, head, seat, down and top tube, chainstays and seatstays, in this order."""
    members = {member.name: member for member in layout.members}
    shell = bicycle.part("bb_shell").tube
    ends = [np.array(layout.joints[node]) for node in _SPINDLE]
    pipes = [Pipe(ends[0], ends[1], shell.od_start - shell.walls[0], shell.walls[0])]
    tubes = [(shell, float(np.linalg.norm(ends[1] - ends[0])))]
    chords: dict[str, tuple[int, ...]] = {
        "head_tube": (),
        "seat_tube": (0,),
        "down_tube": (0, 1),
        "top_tube": (1, 2),
    }
    for name, own in chords.items():
        # The seat tube's foot cuts into the down tube's, where both stand on the shell.
        beside = (2,) if name == "down_tube" else ()
        pipes.append(_pipe(bicycle, members[name], own, beside))
        tubes.append((bicycle.tubes[name], members[name].length))
    rings = {
        "shell_left": (0, 0, True),
        "shell_right": (0, 1, True),
        "head_tube_top": (1, 0, True),
        "head_tube_bottom": (1, 1, True),
        "seat_tube_top": (2, 1, False),
    }
    for stay, chord in (("chainstay", 0), ("seatstay", 2)):
        for side in ("right", "left"):
            member = members[f"{stay}_{side}"]
            rings[f"{member.name}_dropout"] = (len(pipes), 1, True)
            pipe = _pipe(bicycle, member, (chord,), short=DROPOUT[2])
            if stay == "seatstay":
                pipe = _run_on(pipe, pipes[chord])
            pipes.append(pipe)
            tubes.append((bicycle.tubes[stay], member.length))
    return Body(_as_wide_as_can_be(pipes), tubes, rings)


def blade_body(bicycle: Bicycle, member: Member) -> Body:
    """One straight blade between crown and dropout."""
    pipe = _pipe(bicycle, member, (), short=DROPOUT[2])
    rings = {member.start: (0, 0, True), f"{member.name}_dropout": (0, 1, True)}
    return Body([pipe], [(bicycle.tubes[member.tube], member.length)], rings)


def _pipe(
    bicycle: Bicycle,
    member: Member,
    chords: tuple[int, ...],
    beside: tuple[int, ...] = (),
    short: float = 0.0,
) -> Pipe:
    """A straight member; `short` of its end the dropout's plate takes over."""
    tube = bicycle.tubes[member.tube]
    start = np.array(member.path[0])
    whole = np.array(member.path[-1]) - start
    share = 1.0 - short / member.length
    # By the wall of the end that others stand on: there the chord's radius counts.
    wall = tube.walls[-1]
    first = tube.od_start - wall
    last = first + share * (tube.od_end - tube.od_start)
    cone = None if last == first else last
    return Pipe(start, start + share * whole, first, wall, chords, beside, end_diameter=cone)


def _run_on(stay: Pipe, chord: Pipe) -> Pipe:
    """A stay beside its chord, carried on upwards until its weld line is closed."""
    across = np.cross(stay.axis, chord.axis)
    angle = float(np.linalg.norm(across))
    # Of two skew lines: how far apart they are where they pass.
    offset = abs(float((stay.start - chord.start) @ across)) / angle
    inner = max(0.0, offset - stay.diameter / 2.0)
    reach = sqrt((chord.diameter / 2.0) ** 2 - inner**2) / angle
    more = reach + _HIGH_OVER * chord.diameter
    slope = 0.0
    if stay.end_diameter is not None:
        length = float(np.linalg.norm(stay.end - stay.start))
        slope = (stay.diameter - stay.end_diameter) / length
    return replace(stay, start=stay.start - more * stay.axis, diameter=stay.diameter + slope * more)


def _as_wide_as_can_be(pipes: Sequence[Pipe]) -> list[Pipe]:
    """The pipes; those as wide as their chord are as narrow as the mesher needs them."""
    out = []
    for pipe in pipes:
        widest = min((_WIDEST * pipes[chord].diameter for chord in pipe.chords), default=np.inf)
        out.append(replace(pipe, diameter=min(pipe.diameter, float(widest))))
    return out


# --- condensed ------------------------------------------------------------------------------------------------------
def flexibility(body: Body, tubes: TubeMesh) -> Array:
    """(6 r - 6, 6 r - 6) movements of all rings but the first under unit loads on them, the first one held."""
    first, *others = body.rings
    held = [body.ring(tubes, first).points]
    rings = [body.ring(tubes, node) for node in others]
    return ShellSolver(tubes.mesh, held, rings).ring_flexibility() / STEEL.E


def stiffness(body: Body, given: Array) -> Array:
    """(6 r, 6 r) stiffness between the rings' references from their flexibility: what moves none of them costs none."""
    pipes = body.pipes
    places = [(pipes[k].start, pipes[k].end)[end] for k, end, _ in body.rings.values()]
    carried = rigid_motion(np.array(places[1:]) - places[0])
    deformed = np.hstack([-carried, np.eye(len(given))])
    return np.asarray(deformed.T @ np.linalg.inv(given) @ deformed)


@dataclass(frozen=True)
class FrameInShells:
    """Figures of one frame: on both meshes and in their limit; points of the frame's meshes."""

    meshes: tuple[Figures, Figures]
    limit: Figures
    points: tuple[int, int]


def frame_in_shells(bicycle: Bicycle) -> FrameInShells:
    """A bicycle of `study_frame` with frame and blades in shells."""
    layout = lay_out(bicycle)
    blades = [m for m in layout.members if m.tube == "fork_blade"]
    bodies = [frame_body(bicycle, layout), *(blade_body(bicycle, blade) for blade in blades)]
    given: list[list[Array]] = []
    points: list[tuple[int, int]] = []
    for body in bodies:
        meshes = [body.meshed(*sizes) for sizes in SIZES]
        points.append((len(meshes[0].mesh.points), len(meshes[1].mesh.points)))
        given.append([flexibility(body, tubes) for tubes in meshes])
    limits = [extrapolated(pair, count) for pair, count in zip(given, points, strict=True)]
    coarse, fine, limit = (
        figures_with_bodies(bicycle, _stiffnesses(bodies, matrices))
        for matrices in (*zip(*given, strict=True), limits)
    )
    return FrameInShells((coarse, fine), limit, points[0])


def _stiffnesses(bodies: Sequence[Body], given: Sequence[Array]) -> list[tuple[Body, Array]]:
    pairs = zip(bodies, given, strict=True)
    return [(body, stiffness(body, matrix)) for body, matrix in pairs]


# --- figures --------------------------------------------------------------------------------------------------------
def figures_of_beams(bicycle: Bicycle) -> Figures:
    """The library's figures by beams, joints as the bicycle has them but for the blades': here a blade in shells
    begins on the crown's axis."""
    bicycle = replace(bicycle, joints={**bicycle.joints, "fork_blade": "rigid"})
    layout = lay_out(bicycle)
    model = mesh(bicycle, OPTIONS, layout)
    return _figures(model, cases_of(bicycle, layout), [])


def figures_with_bodies(bicycle: Bicycle, bodies: Iterable[tuple[Body, Array]]) -> Figures:
    """The same with the bodies' stiffnesses in place of their tubes."""
    layout = lay_out(bicycle)
    model = _without_tubes(mesh(bicycle.joined("rigid"), OPTIONS, layout), bicycle, layout)
    return _figures(model, cases_of(bicycle, layout), list(bodies))


def _without_tubes(model: FrameModel, bicycle: Bicycle, layout: FrameLayout) -> FrameModel:
    """The model without what is in shells, and without the nodes that nothing else needs."""
    in_shells = {"bb_shell"}
    in_shells |= {m.name for m in layout.members if m.tube != "steerer"}
    elements = tuple(e for e in model.elements if e.member not in in_shells)
    needed = {node for e in elements for node in (e.i, e.j)}
    needed |= {*_SPINDLE, "head_tube_top", "head_tube_bottom", "seat_tube_top"}
    for link in model.rigid_links:
        # A contact on the ground hangs on its axle; an arm inside the frame is in the shells.
        if link.master in needed:
            needed.add(link.slave)
    links = tuple(link for link in model.rigid_links if {link.master, link.slave} <= needed)
    nodes = {name: xyz for name, xyz in model.nodes.items() if name in needed}
    return replace(model, nodes=nodes, elements=elements, rigid_links=links)


def cases_of(bicycle: Bicycle, layout: FrameLayout) -> list[LoadCase]:
    return [_on_the_spindle(case) for case in load_cases(bicycle, layout, CASES)]


def _on_the_spindle(case: LoadCase) -> LoadCase:
    """What stands on the bottom bracket's middle stands half on each end of its shell."""
    nodal = _halved(case.nodal)
    measures = []
    for measure in case.measures:
        weights = tuple(_halved(dict(measure.weights)).items())
        measures.append(replace(measure, weights=weights))
    supports = dict(case.supports)
    if "bottom_bracket" in supports:
        supports |= dict.fromkeys(_SPINDLE, supports.pop("bottom_bracket"))
    return replace(case, nodal=nodal, supports=supports, measures=tuple(measures))


def _halved(at_nodes: Mapping[str, tuple[float, ...]]) -> dict[str, tuple[float, ...]]:
    out = dict(at_nodes)
    if "bottom_bracket" in out:
        whole = out.pop("bottom_bracket")
        out |= dict.fromkeys(_SPINDLE, tuple(value / 2.0 for value in whole))
    return out


def _figures(
    model: FrameModel, cases: Sequence[LoadCase], bodies: Sequence[tuple[Body, Array]]
) -> Figures:
    beams = Beams.of(model)
    whole = stiffness_matrix(beams)
    for body, matrix in bodies:
        whole = whole + _placed(model, body, matrix)
    found = {}
    for case in cases:
        moved = _moved(model, whole + spring_stiffness(model, case.springs), case)
        for measure in case.measures:
            found[f"{case.name}.{measure.name}"] = float(moved @ measure_weights(model, measure))
    return found


def _moved(model: FrameModel, whole: sparse.csr_matrix, case: LoadCase) -> Array:
    """(6n,) displacements of one case by the product's constraints and factorisation."""
    held = Constraints.of(model, case.supports)
    factor = Factor.of((held.T.T @ whole @ held.T).tocsr())
    columns = nodal_forces(model, case)[:, None]
    return np.asarray(held.moved(factor.solve(held.gathered(columns)))[:, 0])


def _placed(model: FrameModel, body: Body, matrix: Array) -> sparse.csr_matrix:
    """A body's stiffness among all freedoms of the model."""
    numbers = np.array([model.node_index[node] for node in body.rings])
    freedoms = (6 * numbers[:, None] + np.arange(6)).ravel()
    rows = np.repeat(freedoms, len(freedoms))
    columns = np.tile(freedoms, len(freedoms))
    return sparse.coo_matrix((matrix.ravel(), (rows, columns)), (model.dofs, model.dofs)).tocsr()


def opinions(body: Body, tubes: TubeMesh) -> tuple[Array, Array]:
    """(12,) movements by our shells and by OpenSees' on one mesh, E = 1: six each of the head tube's top and of the
    right chainstay's end under unit loads there, the ends of the bottom bracket shell clamped."""
    held = [body.ring(tubes, node).points for node in _SPINDLE]
    # Spread over open rings, as loads on points are the same for both.
    nodes = ("head_tube_top", "chainstay_right_dropout")
    rings = [replace(body.ring(tubes, node), rigid=False) for node in nodes]
    solver = ShellSolver(tubes.mesh, held, rings)
    loads = solver.ring_loads()
    theirs = loads.T @ opensees_displacements(tubes.mesh, held, loads, 1.0, POISSON)
    return solver.ring_flexibility().diagonal(), theirs.diagonal()


def opinion_limits(rows: Sequence[Mapping[str, Any]]) -> Array:
    """(12,) limit of OpenSees' movements over the limit of ours, from the kept ones on two meshes."""
    points = [row["points"] for row in rows]
    limits = []
    for whose in ("theirs", "ours"):
        meshes = [np.diag(row[whose]) for row in rows]
        limits.append(extrapolated(meshes, points).diagonal())
    return np.asarray(limits[0] / limits[1])


# --- beside one another ---------------------------------------------------------------------------------------------
@dataclass(frozen=True)
class Shells:
    """One figure in shells: on the finer mesh, and in the limit of both."""

    fine: float
    limit: float


@dataclass(frozen=True)
class WholeBeside:
    """A frame's figures: in shells as kept, and by beams with joints rigid and bare."""

    name: str
    shells: Mapping[str, Shells]
    beams: tuple[Figures, Figures]

    @property
    def all(self) -> tuple[Figures, Figures, Figures]:
        """Limit of the shells, beams rigid, beams giving."""
        return ({name: one.limit for name, one in self.shells.items()}, *self.beams)


def whole_beside(rows: Iterable[Mapping[str, Any]]) -> list[WholeBeside]:
    """The kept figures of `frame_in_shells` and the beams' worked out now."""
    shells: dict[str, dict[str, Shells]] = {}
    for row in rows:
        shells.setdefault(row["frame"], {})[row["figure"]] = Shells(row["fine"], row["limit"])
    found = []
    for name, bicycle in frames().items():
        beams = tuple(figures_of_beams(bicycle.joined(kind)) for kind in ("rigid", "bare"))
        found.append(WholeBeside(name, shells[name], (beams[0], beams[1])))
    return found
