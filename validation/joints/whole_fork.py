"""Whole forks in shells - crown tube, steerer and tapered blades - beside the product's beams, rigid and with joints.

The steerer is held 120 mm above the crown race. Forces stand at the blades' lower ends: both forwards as in braking,
both sideways, one forwards and one back as the handlebar twists the fork, both upwards. The blades are straight cones
in the steerer's plane; everything is one steel.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import atan2, degrees
from typing import Any

import numpy as np

from ...model.arrays import Array
from ...model.joints.crown import CrownPart, CrownShape, crown_compliance
from ...model.mechanics.frame_model import (
    Element,
    FrameModel,
    LoadCase,
    RigidLink,
    Spring,
    soft_joint,
)
from ...model.mechanics.solve import solve
from ...model.tubes.sections import round_tube
from .meshing import Pipe, TubeMesh, mesh_pipes
from .shell import ShellSolver, TubeRing
from .study import extrapolated
from .whole_frame import STEEL

HELD_ABOVE = 120.0  # mm above the crown race
SIZES = (3.2, 2.3)  # mm, of the triangles
_PAST_BLADE = 2.5  # mm of crown beyond the blade
_PIECES = 24  # prismatic pieces of a blade
_FORWARDS = 2
# Movement, for each force of 1 N on the right and on the left blade's end: (component, left's sign).
LOADS: Mapping[str, tuple[int, float]] = {
    "both forwards": (_FORWARDS, 1.0),
    "both sideways": (0, 1.0),
    "one forwards, one back": (_FORWARDS, -1.0),
    "both upwards": (1, 1.0),
}


@dataclass(frozen=True)
class InventedFork:
    """Outside diameters and walls, mm: of the blade at its top and its lower end. length : from the crown race down to
    the blades' ends, along the steerer's axis. spacing, hub : between the blades there and at their lower ends."""

    name: str
    crown: tuple[float, float]
    steerer: tuple[float, float]
    blade: tuple[float, float, float]
    length: float
    spacing: float
    hub: float

    @property
    def lean(self) -> float:
        """Degrees by which a blade leaves the steerer's direction."""
        return degrees(atan2((self.hub - self.spacing) / 2.0, self.length - self.below))

    @property
    def below(self) -> float:
        """Of the crown's axis below the race."""
        return self.crown[0] / 2.0

    def tip(self, side: float) -> Array:
        """Of a blade's lower end, from the race: across, up, forwards."""
        return np.array([side * self.hub / 2.0, -self.length, 0.0])

    def shape(self, part: CrownPart) -> CrownShape:
        top, _, wall = self.blade
        return CrownShape(
            part, *self.crown, top, wall, *self.steerer, self.lean, self.spacing / 2.0
        )


# Invented: the sizes of the trade, a thin and a thick crown, a narrow and a wide fork.
FORKS = (
    InventedFork(
        "crown 31.8 x 2, blades 24 x 1", (31.8, 2.0), (28.6, 1.6), (24.0, 14.0, 1.0), 350, 64, 96
    ),
    InventedFork(
        "crown 38.1 x 1.6, blades 28.6 x 1",
        (38.1, 1.6),
        (28.6, 1.8),
        (28.6, 16.0, 1.0),
        360,
        76,
        98,
    ),
    InventedFork(
        "crown 34.9 x 3, blades 25.4 x 1.2",
        (34.9, 3.0),
        (28.6, 2.0),
        (25.4, 18.0, 1.2),
        380,
        70,
        98,
    ),
)


# --- shells -----------------------------------------------------------------------------------------------------------
def fork_pipes(fork: InventedFork) -> list[Pipe]:
    """Crown, steerer, right and left blade; the race at the origin, across x, up y."""
    axis = np.array([0.0, -fork.below, 0.0])
    crown, wall = fork.crown
    top, bottom, blade_wall = fork.blade
    reach = fork.spacing / 2.0 + top / 2.0 + crown / 2.0 * np.tan(np.radians(fork.lean))
    end = np.array([reach + _PAST_BLADE, 0.0, 0.0])
    through = np.array([0.0, -crown - _PAST_BLADE, 0.0])
    held = np.array([0.0, HELD_ABOVE, 0.0])
    pipes = [
        Pipe(axis - end, axis + end, crown - wall, wall),
        Pipe(through, held, fork.steerer[0] - fork.steerer[1], fork.steerer[1], open_to=(0,)),
    ]
    for side in (1.0, -1.0):
        start = axis + np.array([side * fork.spacing / 2.0, 0.0, 0.0])
        cone = (top - blade_wall, bottom - blade_wall)
        tip = fork.tip(side)
        pipes.append(Pipe(start, tip, cone[0], blade_wall, chords=(0,), end_diameter=cone[1]))
    return pipes


def moved_in_shells(fork: InventedFork, tubes: TubeMesh) -> Array:
    """(12, 12) movements of the right and the left blade's end under unit loads there, per N and N mm."""
    crown, steerer, *blades = fork_pipes(fork)
    points = tubes.mesh.points
    held = [steerer.ring_at(points, steerer.end)]
    rings = [TubeRing(one.ring_at(points, one.end), one.end) for one in blades]
    rings += [TubeRing(crown.ring_at(points, end), end) for end in (crown.start, crown.end)]
    return ShellSolver(tubes.mesh, held, rings).ring_flexibility()[:12, :12] / STEEL.E


def forks_in_shells() -> list[dict[str, Any]]:
    """Movements of each fork under each load, on both meshes and in their limit."""
    rows = []
    for fork in FORKS:
        meshes = [mesh_pipes(fork_pipes(fork), size, size) for size in SIZES]
        points = [len(tubes.mesh.points) for tubes in meshes]
        moved = [moved_in_shells(fork, tubes) for tubes in meshes]
        limit = extrapolated(moved, points)
        for load in LOADS:
            row = {"fork": fork.name, "load": load, "fine": under(moved[-1], load)}
            rows.append(row | {"limit": under(limit, load), "points": points[-1]})
        print(fork.name, points, flush=True)
    return rows


def under(moved: Array, load: str) -> float:
    """Movement of the right blade's end along its force, mm, under the load."""
    component, left = LOADS[load]
    return float(moved[component, component] + left * moved[component, 6 + component])


# --- beams ------------------------------------------------------------------------------------------------------------
def moved_by_beams(fork: InventedFork, give: bool) -> Array:
    """As `moved_in_shells`, by beams as the product places them: crown and blades' tops at the race's level."""
    nodes: dict[str, tuple[float, float, float]] = {
        "held": (0.0, HELD_ABOVE, 0.0),
        "race": (0.0, 0.0, 0.0),
    }
    links: list[RigidLink] = []
    springs: list[Spring] = []
    stem = "race"
    if give:
        stem = "steerer*"
        nodes[stem] = nodes["race"]
        matrix = crown_compliance(fork.shape("steerer"), STEEL).matrix
        springs.append(soft_joint("steerer", "race", stem, matrix, (1, 0, 0), (0, 1, 0)))
    elements = [_bar("steerer", stem, "held", fork.steerer, nodes)]
    for name, side in (("right", 1.0), ("left", -1.0)):
        top = np.array([side * fork.spacing / 2.0, 0.0, 0.0])
        nodes[name] = _xyz(top)
        elements.append(_bar(f"crown_{name}", "race", name, fork.crown, nodes))
        tip = fork.tip(side)
        run = tip - top
        length = float(np.linalg.norm(run))
        first = 0.0
        begins = name
        if give:
            shape = fork.shape("blade")
            first = shape.inside
            begins = f"{name}_wall"
            twin = f"{name}*"
            nodes[twin] = nodes[name]
            nodes[begins] = _xyz(top + first / length * run)
            links.append(RigidLink(twin, begins))
            matrix = crown_compliance(shape, STEEL).matrix
            axes = ((side, 0.0, 0.0), (0.0, -1.0, 0.0))
            springs.append(soft_joint(name, name, twin, matrix, *axes))
        places = np.linspace(first, length, _PIECES + 1)
        from_node = begins
        for k in range(_PIECES):
            to_node = f"{name}_tip" if k == _PIECES - 1 else f"{name}:{k}"
            nodes[to_node] = _xyz(top + places[k + 1] / length * run)
            middle = (places[k] + places[k + 1]) / 2.0 / length
            upper, lower, wall = fork.blade
            size = (upper + middle * (lower - upper), wall)
            elements.append(_bar(f"{name}.{k}", from_node, to_node, size, nodes))
            from_node = to_node
    model = FrameModel(nodes, tuple(elements), tuple(springs), rigid_links=tuple(links))
    return _flexibility(model, ("right_tip", "left_tip"))


def _bar(
    name: str,
    i: str,
    j: str,
    size: tuple[float, float],
    nodes: Mapping[str, tuple[float, float, float]],
) -> Element:
    return Element(name, i, j, round_tube(*size, STEEL.nu), STEEL, (0.0, 0.0, 1.0), name)


def _flexibility(model: FrameModel, tips: tuple[str, str]) -> Array:
    cases = []
    for node in tips:
        for component in range(6):
            load = [0.0] * 6
            load[component] = 1.0
            name = f"{node}{component}"
            cases.append(LoadCase(name, {node: tuple(load)}, supports={"held": (1,) * 6}))
    results = solve(model, cases)
    columns = []
    for result in results.values():
        columns.append(np.concatenate([result.displacement(node) for node in tips]))
    return np.column_stack(columns)


def _xyz(point: Array) -> tuple[float, float, float]:
    x, y, z = (float(value) for value in point)
    return (x, y, z)


# --- beside one another -----------------------------------------------------------------------------------------------
def forks_beside(rows: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """The kept movements, with by how much beams are off them, percent, joints rigid and giving."""
    forks = {fork.name: fork for fork in FORKS}
    moved = {
        (name, give): moved_by_beams(fork, give)
        for name, fork in forks.items()
        for give in (False, True)
    }
    found = []
    for row in rows:
        off = {}
        for key, give in (("rigid", False), ("giving", True)):
            beams = under(moved[row["fork"], give], row["load"])
            off[key] = 100.0 * (beams / row["limit"] - 1.0)
        found.append(dict(row) | off)
    return found
