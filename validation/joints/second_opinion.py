"""The same mesh solved by OpenSees' flat shell triangle, for the study's own element to be held against."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from ...model.arrays import Array
from ..opensees.engine import session
from .shell import Ints, ShellMesh


def opensees_displacements(
    mesh: ShellMesh, held: Sequence[Ints], loads: Array, modulus: float, poisson: float
) -> Array:
    """All freedoms (6 n, k) under k load vectors by ShellDKGT: discrete Kirchhoff plate, membrane with drilling.

    Raises
    ------
    OpenSeesError
        When OpenSees is not available here.
    """
    moved = np.zeros_like(loads)
    with session() as ops:
        # OpenSees' tags count from 1, the mesh's points from 0.
        for number, point in enumerate(mesh.points, start=1):
            ops.node(number, *point.tolist())
        # Sections are shared by wall: a mesh has few walls and many triangles.
        walls: dict[float, int] = {}
        for wall in np.unique(mesh.wall).tolist():
            walls[wall] = len(walls) + 1
            ops.section("ElasticMembranePlateSection", walls[wall], modulus, poisson, wall, 0.0)
        shells = zip(mesh.triangles.tolist(), mesh.wall.tolist(), strict=True)
        for number, (corners, wall) in enumerate(shells, start=1):
            tags = [corner + 1 for corner in corners]
            ops.element("ShellDKGT", number, *tags, walls[wall])
        for point in np.concatenate(list(held)).tolist():
            ops.fix(point + 1, 1, 1, 1, 1, 1, 1)
        # Plain is enough: points are held, none is tied to another.
        ops.constraints("Plain")
        ops.numberer("AMD")
        ops.system("UmfPack")
        ops.integrator("LoadControl", 1.0)
        ops.algorithm("Linear")
        ops.analysis("Static", "-noWarnings")
        for case in range(loads.shape[1]):
            _load(ops, case + 1, loads[:, case].reshape(-1, 6))
            ops.analyze(1)
            answer = [ops.nodeDisp(number + 1) for number in range(len(mesh.points))]
            moved[:, case] = np.ravel(answer)
            # Without this the next load vector would stand on top of this one.
            ops.remove("loadPattern", case + 1)
            ops.reset()
    return moved


def _load(ops: Any, pattern: int, loads: Array) -> None:
    ops.timeSeries("Linear", pattern)
    ops.pattern("Plain", pattern, pattern)
    for point in np.nonzero(np.any(loads, axis=1))[0].tolist():
        ops.load(point + 1, *loads[point].tolist())
