"""Tubes meeting, meshed on their mid-surfaces by gmsh, finer along the weld lines."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import lazy_loader
import numpy as np

from ...model.arrays import Array
from ...model.errors import ModelError
from .shell import Ints, ShellMesh

gmsh = lazy_loader.load("gmsh")

_NEAR_REACH = 0.35  # of the largest diameter: as far from a weld line the mesh stays fine
_FAR_REACH = 1.6  # of the largest diameter: from there on it is coarse
_LARGEST_BRANCH = 0.997  # of the chord it ends on


@dataclass(frozen=True)
class Pipe:
    """A round tube by its mid-surface.

    start, end : (3,) arrays, mm
        Ends of its axis. A branch starts on the axis of its chord; what lies inside a chord is cut away.
    diameter : float, mm
        Of the mid-surface: outside diameter less one wall; of a cone at its start.
    wall : float, mm
    chords : tuple of int
        Numbers of the pipes whose walls it ends on; each must be wider than the branch.
    beside : tuple of int
        Numbers of further pipes that cut its foot.
    open_to : tuple of int
        Numbers of the pipes whose wall has a hole under this branch.
    end_diameter : float, mm
        Of a cone at its end; None for a straight tube. A chord of others is straight.
    """

    start: Array
    end: Array
    diameter: float
    wall: float
    chords: tuple[int, ...] = ()
    beside: tuple[int, ...] = ()
    open_to: tuple[int, ...] = ()
    end_diameter: float | None = None

    @property
    def axis(self) -> Array:
        along = self.end - self.start
        return np.asarray(along / np.linalg.norm(along))

    def distance_from_axis(self, points: Array) -> Array:
        """Distance of points (n, 3) from the axis without ends, mm."""
        arms = points - self.start
        along = arms @ self.axis
        return np.asarray(np.linalg.norm(arms - along[:, None] * self.axis, axis=1))

    def ring_at(self, points: Array, place: Array) -> Ints:
        """Numbers of the points on the edge of the mid-surface around a place on the axis."""
        off_plane = np.abs((points - place) @ self.axis)
        off_surface = np.abs(self.distance_from_axis(points) - self._diameter_at(place) / 2.0)
        return np.nonzero((off_plane < 1e-4) & (off_surface < 1e-2))[0]

    def _diameter_at(self, place: Array) -> float:
        if self.end_diameter is None:
            return self.diameter
        whole = self.end - self.start
        share = float((place - self.start) @ whole / (whole @ whole))
        return self.diameter + share * (self.end_diameter - self.diameter)


@dataclass(frozen=True)
class TubeMesh:
    """A mesh and the pipe that each triangle belongs to."""

    mesh: ShellMesh
    pipe_of: Ints
    weld_points: Ints


def mesher_version() -> str:
    """Version of gmsh, for the head of the data file."""
    with _session():
        return str(gmsh.option.getString("General.Version"))


def mesh_pipes(pipes: Sequence[Pipe], near: float, far: float) -> TubeMesh:
    """Mesh of the pipes as one welded surface.

    Parameters
    ----------
    pipes : sequence of Pipe
    near, far : float, mm
        Size of the triangles along the weld lines and away from them.

    Raises
    ------
    ModelError
        When a branch is as wide as a chord of its: the curves where they meet come apart, and slivers remain.
    """
    for pipe in pipes:
        for chord in pipe.chords:
            if pipe.diameter > _LARGEST_BRANCH * pipes[chord].diameter:
                raise ModelError(
                    f"a branch of {pipe.diameter:g} on a chord of {pipes[chord].diameter:g} (mid-surfaces) cannot be "
                    f"meshed; at most {_LARGEST_BRANCH:g} of the chord's diameter"
                )
    with _session():
        owners = _pieces(pipes)
        welds = _weld_curves(owners)
        _grade(welds, near, far, max(pipe.diameter for pipe in pipes))
        gmsh.model.mesh.generate(2)
        return _read_mesh(pipes, owners, welds)


@contextmanager
def _session() -> Iterator[None]:
    # Otherwise gmsh sets a handler for Ctrl-C, which Python allows in the main thread alone.
    gmsh.initialize(interruptible=False)
    try:
        gmsh.option.setNumber("General.Terminal", 0)
        # One thread and one seed: the same tubes give the same mesh again.
        gmsh.option.setNumber("General.NumThreads", 1)
        gmsh.option.setNumber("Mesh.RandomSeed", 1)
        gmsh.model.add("joint")
        yield
    finally:
        gmsh.finalize()


def _pieces(pipes: Sequence[Pipe]) -> dict[int, int]:
    """Surfaces that remain, each with the number of its pipe: cut along each other, insides thrown away."""
    whole = [_lateral_surface(pipe) for pipe in pipes]
    # A tube by itself has nothing to be cut by.
    if len(whole) == 1:
        return {whole[0]: 0}
    faces = [(2, tag) for tag in whole]
    _, parts_of = gmsh.model.occ.fragment(faces[:1], faces[1:])
    gmsh.model.occ.synchronize()
    owners = {}
    # Pieces come back in the order of the faces that were cut.
    for number, parts in enumerate(parts_of):
        for _, tag in parts:
            if _stays(tag, number, pipes):
                owners[tag] = number
            else:
                gmsh.model.removeEntities([(2, tag)])
    return owners


def _lateral_surface(pipe: Pipe) -> int:
    """A cylinder's or cone's side alone, its seam turned away from the joints."""
    along = pipe.end - pipe.start
    if pipe.end_diameter is None:
        solid = gmsh.model.occ.addCylinder(*pipe.start, *along, pipe.diameter / 2.0)
    else:
        radii = (pipe.diameter / 2.0, pipe.end_diameter / 2.0)
        solid = gmsh.model.occ.addCone(*pipe.start, *along, *radii)
    gmsh.model.occ.synchronize()
    sides = gmsh.model.getBoundary([(3, solid)], oriented=False)
    kinds = {tag: gmsh.model.getType(2, tag) for _, tag in sides}
    side = next(tag for tag, kind in kinds.items() if kind in ("Cylinder", "Cone"))
    # The solid and its discs go without their boundary: only the side is a wall.
    gmsh.model.occ.remove([(3, solid)])
    discs = [(2, tag) for tag in kinds if tag != side]
    gmsh.model.occ.remove(discs)
    gmsh.model.occ.synchronize()
    return int(side)


def _stays(tag: int, number: int, pipes: Sequence[Pipe]) -> bool:
    pipe = pipes[number]
    place = _inner_point(tag)
    for chord in (*pipe.chords, *pipe.beside):
        if pipes[chord].distance_from_axis(place)[0] < pipes[chord].diameter / 2.0:
            return False
    for branch in pipes:
        hole = number in branch.open_to
        if hole and branch.distance_from_axis(place)[0] < branch.diameter / 2.0:
            # The branch's cylinder would pierce the wall behind it too; that wall stays.
            return bool((place[0] - branch.start) @ branch.axis < 0.0)
    return True


def _inner_point(tag: int) -> Array:
    """A point well inside a surface, (1, 3): the one of a grid of parameters farthest from the outline."""
    low, high = gmsh.model.getParametrizationBounds(2, tag)
    u, v = np.meshgrid(np.linspace(low[0], high[0], 21), np.linspace(low[1], high[1], 21))
    grid = np.column_stack([u.ravel(), v.ravel()])
    # A trimmed surface fills only a part of its box of parameters.
    inside = [gmsh.model.isInside(2, tag, pair, True) > 0 for pair in grid.tolist()]
    places = np.reshape(gmsh.model.getValue(2, tag, grid[inside].ravel().tolist()), (-1, 3))
    outline = [
        np.reshape(gmsh.model.getValue(1, abs(curve), _parameters(abs(curve))), (-1, 3))
        for _, curve in gmsh.model.getBoundary([(2, tag)])
    ]
    gaps = np.linalg.norm(places[:, None] - np.concatenate(outline)[None], axis=2).min(axis=1)
    return places[[int(np.argmax(gaps))]]


def _parameters(curve: int) -> list[float]:
    low, high = gmsh.model.getParametrizationBounds(1, curve)
    inner: list[float] = np.linspace(low[0], high[0], 41).tolist()
    return inner


def _weld_curves(owners: dict[int, int]) -> list[int]:
    """Curves where surfaces of two pipes meet."""
    touching: dict[int, set[int]] = {}
    for tag, pipe in owners.items():
        for _, curve in gmsh.model.getBoundary([(2, tag)], oriented=False):
            touching.setdefault(curve, set()).add(pipe)
    return [curve for curve, pipes in touching.items() if len(pipes) > 1]


def _grade(welds: Sequence[int], near: float, far: float, diameter: float) -> None:
    # Size by the field alone: left on, these would refine elsewhere too.
    for name in ("MeshSizeExtendFromBoundary", "MeshSizeFromPoints", "MeshSizeFromCurvature"):
        gmsh.option.setNumber(f"Mesh.{name}", 0)
    field = gmsh.model.mesh.field
    distance = field.add("Distance")
    field.setNumbers(distance, "CurvesList", list(welds))
    field.setNumber(distance, "Sampling", 200)
    size = field.add("Threshold")
    field.setNumber(size, "InField", distance)
    field.setNumber(size, "SizeMin", near)
    field.setNumber(size, "SizeMax", far)
    field.setNumber(size, "DistMin", _NEAR_REACH * diameter)
    field.setNumber(size, "DistMax", _FAR_REACH * diameter)
    field.setAsBackgroundMesh(size)
    gmsh.option.setNumber("Mesh.Algorithm", 6)  # frontal Delaunay: even triangles


def _read_mesh(pipes: Sequence[Pipe], owners: dict[int, int], welds: Sequence[int]) -> TubeMesh:
    tags, places, _ = gmsh.model.mesh.getNodes()
    # Tags of gmsh have gaps: a table leads from tag to row.
    number_of = np.zeros(int(tags.max()) + 1, dtype=np.int64)
    number_of[tags.astype(np.int64)] = np.arange(len(tags))
    points = np.reshape(places, (-1, 3))
    triangles = []
    pipe_of = []
    for surface, pipe in owners.items():
        _, nodes = gmsh.model.mesh.getElementsByType(2, surface)
        corners = number_of[nodes.astype(np.int64)].reshape(-1, 3)
        triangles.append(corners)
        pipe_of.append(np.full(len(corners), pipe))
    weld_tags: list[Any] = [gmsh.model.mesh.getNodes(1, curve, True)[0] for curve in welds]
    weld_points = (
        number_of[np.concatenate(weld_tags).astype(np.int64)] if welds else np.array([], int)
    )
    corners = np.concatenate(triangles)
    # Points of surfaces that were cut away are still there and would have no stiffness.
    used, numbered = np.unique(corners, return_inverse=True)
    renumber = np.full(len(points), -1)
    renumber[used] = np.arange(len(used))
    owner = np.concatenate(pipe_of)
    walls = np.array([pipe.wall for pipe in pipes])[owner]
    mesh = ShellMesh(points[used], numbered.reshape(-1, 3), walls)
    return TubeMesh(mesh, owner, np.unique(renumber[weld_points]))
