"""What the shell triangle is proven on: a straight tube against closed form, and the three usual obstacle cases.

The obstacle cases and their values: R. H. MacNeal, R. L. Harder, "A proposed standard set of problems to test finite
element accuracy", Finite Elements in Analysis and Design 1 (1985) 3-20, and T. Belytschko et al., "Stress projection
for membrane and shear locking in shell finite elements", Comput. Methods Appl. Mech. Engrg. 51 (1985) 221-258. Sizes
and values are from memory. Any consistent units.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import pi, radians

import numpy as np

from ...model.arrays import Array
from .shell import Ints, ShellMesh, ShellSolver, TubeRing


@dataclass(frozen=True)
class Obstacle:
    """One case: its published value, and what a mesh of so many divisions a side gives."""

    name: str
    published: float
    solve: Callable[[int], float]


def patch(
    surface: Callable[[Array, Array], Array], across: int, along: int, wall: float
) -> ShellMesh:
    """A surface over the unit square as triangles, the diagonals turned from cell to cell."""
    s, t = np.meshgrid(np.linspace(0, 1, across + 1), np.linspace(0, 1, along + 1))
    points = surface(s.ravel(), t.ravel())
    number = np.arange((across + 1) * (along + 1)).reshape(along + 1, across + 1)
    triangles = []
    for row in range(along):
        for column in range(across):
            a, b = number[row, column : column + 2]
            d, c = number[row + 1, column : column + 2]
            # One slope of diagonals everywhere would make the patch stiffer one way than the other.
            if (row + column) % 2:
                triangles += [(a, b, c), (a, c, d)]
            else:
                triangles += [(a, b, d), (b, c, d)]
    return ShellMesh(points, np.array(triangles), np.full(len(triangles), wall))


def _freedoms(points: Ints, components: tuple[int, ...]) -> Ints:
    return np.asarray((6 * points[:, None] + np.array(components)).ravel())


def _edge(values: Array, value: float) -> Ints:
    # Within a share of the span: cosines of a right angle leave 1e-14 where a plane of symmetry is.
    close = np.abs(values - value) < 1e-9 * (1.0 + np.ptp(values))
    return np.asarray(np.nonzero(close)[0])


def _answer(
    mesh: ShellMesh, modulus: float, poisson: float, fixed: list[Ints], loads: Array
) -> Array:
    stiffness = mesh.stiffness_for(modulus, poisson)
    solver = ShellSolver(mesh, [], [], stiffness, np.concatenate(fixed))
    return solver.displacements(loads[:, None])[:, 0].reshape(-1, 6)


def scordelis_lo_roof(divisions: int) -> float:
    """Sinking of the free edge's middle under own weight, a quarter of the roof."""
    radius = 25.0
    half_length = 25.0
    half_angle = radians(40.0)

    def surface(s: Array, t: Array) -> Array:
        angle = s * half_angle
        return np.column_stack([radius * np.sin(angle), t * half_length, radius * np.cos(angle)])

    mesh = patch(surface, divisions, divisions, 0.25)
    x, y, z = mesh.points.T
    fixed = [
        _freedoms(_edge(y, half_length), (0, 2)),  # diaphragm
        # Planes of symmetry: no movement across, no turn about the axes that lie in them.
        _freedoms(_edge(y, 0.0), (1, 3, 5)),
        _freedoms(_edge(x, 0.0), (0, 4, 5)),
    ]
    corners = mesh.points[mesh.triangles]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    # 90 is a weight per area of roof, so the wall does not enter.
    weight = 90.0 * np.linalg.norm(normal, axis=1) / 2.0
    loads = np.zeros(6 * len(mesh.points))
    np.add.at(loads, 6 * mesh.triangles + 2, -np.repeat(weight[:, None] / 3.0, 3, axis=1))
    moved = _answer(mesh, 4.32e8, 0.0, fixed, loads)
    edge = np.argmin(z + y)
    return float(-moved[edge, 2])


def pinched_cylinder(divisions: int) -> float:
    """Movement under one of two opposite unit forces, ends on diaphragms; an eighth of the cylinder."""
    radius = 300.0
    half_length = 300.0

    def surface(s: Array, t: Array) -> Array:
        angle = s * pi / 2.0
        return np.column_stack([radius * np.sin(angle), t * half_length, radius * np.cos(angle)])

    mesh = patch(surface, divisions, divisions, 3.0)
    x, y, z = mesh.points.T
    fixed = [
        _freedoms(_edge(y, half_length), (0, 2)),
        _freedoms(_edge(y, 0.0), (1, 3, 5)),
        _freedoms(_edge(x, 0.0), (0, 4, 5)),
        # The eighth has a third plane of symmetry, at half height.
        _freedoms(_edge(z, 0.0), (2, 3, 4)),
    ]
    loads = np.zeros(6 * len(mesh.points))
    loaded = int(np.argmax(z - y))
    # Four of the eighths meet under the unit force; each carries a quarter.
    loads[6 * loaded + 2] = -0.25
    return float(-_answer(mesh, 3e6, 0.3, fixed, loads)[loaded, 2])


def pinched_hemisphere(divisions: int) -> float:
    """Movement under one of two pairs of forces on the equator of a hemisphere open at 18 degrees; a quarter."""
    radius = 10.0

    def surface(s: Array, t: Array) -> Array:
        around = s * pi / 2.0
        height = t * radians(72.0)
        level = radius * np.cos(height)
        return np.column_stack(
            [level * np.cos(around), level * np.sin(around), radius * np.sin(height)]
        )

    mesh = patch(surface, divisions, divisions, 0.04)
    x, y, _ = mesh.points.T
    pulled = int(np.argmax(x))
    pushed = int(np.argmax(y))
    fixed = [
        _freedoms(_edge(y, 0.0), (1, 3, 5)),
        _freedoms(_edge(x, 0.0), (0, 4, 5)),
        # Both edges are free, which leaves the body loose along z: one point holds it.
        np.array([6 * pulled + 2]),
    ]
    loads = np.zeros(6 * len(mesh.points))
    # Half of a force of 2: each stands on a plane of symmetry.
    loads[6 * pulled] = 1.0
    loads[6 * pushed + 1] = -1.0
    return float(_answer(mesh, 6.825e7, 0.3, fixed, loads)[pulled, 0])


OBSTACLES = (
    Obstacle("Scordelis-Lo roof, free edge", 0.3024, scordelis_lo_roof),
    Obstacle("pinched cylinder with diaphragms", 1.8248e-5, pinched_cylinder),
    Obstacle("pinched hemisphere, 18 degree hole", 0.0940, pinched_hemisphere),
)


def tube_mesh(around: int, along: int, radius: float, length: float, wall: float) -> ShellMesh:
    """A straight tube along z from the origin; its rings follow one another in the numbers of its points."""

    def surface(s: Array, t: Array) -> Array:
        angle = 2.0 * pi * s
        return np.column_stack([radius * np.cos(angle), radius * np.sin(angle), length * t])

    return _closed(patch(surface, around, along, wall), around)


def straight_tube(around: int) -> dict[str, float]:
    """End movements of a cantilever tube 28.6 x 0.8 x 150 mm over the closed forms: stretch, twist, bend, bend turn."""
    radius = 13.9
    length = 150.0
    wall = 0.8
    # As many rows as make the triangles about as long as wide, like those of the study.
    along = round(length * around / (2.0 * pi * radius))
    mesh = tube_mesh(around, along, radius, length, wall)
    last = np.arange(around) + along * around
    tip = TubeRing(last, np.array([0.0, 0.0, length]), rigid=False)
    flexibility = ShellSolver(mesh, [np.arange(around)], [tip]).ring_flexibility()
    # Thin-walled forms by the mid-surface, as the shell knows nothing else.
    area = 2.0 * pi * radius * wall
    second = pi * radius**3 * wall
    # E = 1 and Poisson's ratio 0.3, as in the mesh's own stiffness.
    shear_modulus = 1.0 / 2.6
    factor = 2.0 * 1.3 / (4.0 + 3.0 * 0.3)  # Cowper (1966), thin round tube
    bend = length**3 / (3.0 * second) + length / (factor * shear_modulus * area)
    return {
        "stretch": flexibility[2, 2] / (length / area),
        "twist": flexibility[5, 5] / (length / (2.0 * shear_modulus * second)),
        "bend": flexibility[0, 0] / bend,
        "turn": flexibility[3, 3] / (length / second),
    }


def _closed(mesh: ShellMesh, around: int) -> ShellMesh:
    """A patch whose first and last columns fall together, joined there."""
    # The patch has one column more than the tube: its last column lies on its first.
    column = np.arange(len(mesh.points)) % (around + 1)
    row = np.arange(len(mesh.points)) // (around + 1)
    joined = row * around + column % around
    return ShellMesh(mesh.points[column < around], joined[mesh.triangles], mesh.wall)
