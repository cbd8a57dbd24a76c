"""A body of flat shell triangles: assembled, its rings tied or held, factorised once, loaded many times."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from ...model.arrays import Array
from .triangle import shell_stiffness

Ints = NDArray[np.int64]
_LEAF = 40  # nodes below which the dissection stops
_CHUNK = 20_000  # triangles whose matrices are held at once


@dataclass(frozen=True)
class ShellMesh:
    """Triangles in space.

    points : (n, 3) array, mm
    triangles : (m, 3) array of point numbers
    wall : (m,) array, mm
    """

    points: Array
    triangles: Ints
    wall: Array

    @cached_property
    def stiffness(self) -> Any:
        """Sparse symmetric stiffness, six freedoms a point, for E = 1 and Poisson's ratio 0.3."""
        return self.stiffness_for(1.0, 0.3)

    def stiffness_for(self, modulus: float, poisson: float) -> Any:
        """Sparse stiffness, six freedoms a point (u, v, w, rx, ry, rz)."""
        size = 6 * len(self.points)
        total = sparse.csc_matrix((size, size))
        for start in range(0, len(self.triangles), _CHUNK):
            part = self.triangles[start : start + _CHUNK]
            blocks = shell_stiffness(
                self.points[part], self.wall[start : start + _CHUNK], modulus, poisson
            )
            freedoms = (6 * part[:, :, None] + np.arange(6)).reshape(len(part), 18)
            # Row and column of each entry of the blocks; entries that fall together are added.
            rows = np.repeat(freedoms, 18, axis=1).ravel()
            columns = np.tile(freedoms, (1, 18)).ravel()
            entries = (blocks.ravel(), (rows, columns))
            total = total + sparse.coo_matrix(entries, shape=(size, size)).tocsc()
        return total


@dataclass(frozen=True)
class TubeRing:
    """Points that one reference point leads.

    rigid : the points keep their places to one another (the ring stays round); otherwise loads are
        spread over them and the reference moves as their mean does, so that the ring may go oval.
    """

    points: Ints
    reference: Array
    rigid: bool = True


class ShellSolver:
    """Factorised stiffness of a mesh with held rings and loaded rings.

    Parameters
    ----------
    mesh : ShellMesh
    held : sequence of (k,) integer arrays
        Rings whose points are clamped.
    rings : sequence of TubeRing
        Rings that carry loads and give movements; overlapping rings are not allowed.
    stiffness : sparse matrix, optional
        Instead of the mesh's own (E = 1, nu = 0.3).
    fixed_freedoms : (k,) integer array, optional
        Single freedoms (6 * point + component) held beside the rings.
    """

    def __init__(
        self,
        mesh: ShellMesh,
        held: Sequence[Ints],
        rings: Sequence[TubeRing] = (),
        stiffness: Any = None,
        fixed_freedoms: Ints | None = None,
    ) -> None:
        from scipy.sparse.linalg import splu

        self._mesh = mesh
        self._rings = tuple(rings)
        matrix = mesh.stiffness if stiffness is None else stiffness
        self._reduction = self._reduce(held, fixed_freedoms)
        reduced = (self._reduction.T @ matrix @ self._reduction).tocsc()
        # The order by nested dissection is kept by NATURAL; no pivoting, as the matrix is positive definite.
        self._factor = splu(
            reduced,
            permc_spec="NATURAL",
            diag_pivot_thresh=0.0,
            options={"SymmetricMode": True, "Equil": False},
        )

    def _reduce(self, held: Sequence[Ints], fixed_freedoms: Ints | None) -> Any:
        """Sparse map from the free unknowns to all freedoms: points first, then the rigid rings' references."""
        count = len(self._mesh.points)
        free = np.ones(6 * count, dtype=bool)
        for clamped in held:
            free[(6 * clamped[:, None] + np.arange(6)).ravel()] = False
        if fixed_freedoms is not None:
            free[fixed_freedoms] = False
        rigid = [ring for ring in self._rings if ring.rigid]
        # Points of a rigid ring have no freedoms of their own: its reference leads them.
        for ring in rigid:
            free[(6 * ring.points[:, None] + np.arange(6)).ravel()] = False
        order = nested_dissection(self._mesh.points, self._mesh.triangles)
        freedoms = (6 * order[:, None] + np.arange(6)).ravel()
        # Free ones in the order of the dissection, which the factorisation is told to keep.
        kept = freedoms[free[freedoms]]
        rows = [kept]
        columns = [np.arange(len(kept))]
        values = [np.ones(len(kept))]
        for number, ring in enumerate(rigid):
            carried = rigid_motion(self._mesh.points[ring.points] - ring.reference)
            row, column = np.nonzero(carried)
            rows.append((6 * ring.points[:, None] + np.arange(6)).ravel()[row])
            columns.append(len(kept) + 6 * number + column)
            values.append(carried[row, column])
        entries = (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns)))
        shape = (6 * count, len(kept) + 6 * len(rigid))
        return sparse.coo_matrix(entries, shape=shape).tocsc()

    def displacements(self, loads: Array) -> Array:
        """All freedoms (6 n, k) under loads on all freedoms (6 n, k)."""
        return np.asarray(self._reduction @ self._factor.solve(self._reduction.T @ loads))

    def ring_flexibility(self) -> Array:
        """Movements of the rings' references under unit loads on them, (6 r, 6 r), symmetric."""
        spread = self.ring_loads()
        return spread.T @ self.displacements(spread)

    def ring_loads(self) -> Array:
        """Nodal loads (6 n, 6 r) of unit forces and moments on the rings' references."""
        loads = np.zeros((6 * len(self._mesh.points), 6 * len(self._rings)))
        for number, ring in enumerate(self._rings):
            freedoms = (6 * ring.points[:, None] + np.arange(6)).ravel()
            arms = self._mesh.points[ring.points] - ring.reference
            loads[freedoms, 6 * number : 6 * number + 6] = spread_load(arms)
        return loads


def rigid_motion(arms: Array) -> Array:
    """Movement (6 n, 6) of points at arms (n, 3) from a reference that moves and turns by one in each freedom."""
    motion = np.zeros((len(arms), 6, 6))
    motion[:, np.arange(6), np.arange(6)] = 1.0
    # A point moves by turn x arm, which is minus arm x turn.
    motion[:, :3, 3:] = -cross_matrix(arms)
    return motion.reshape(-1, 6)


def cross_matrix(vectors: Array) -> Array:
    """(n, 3, 3) matrices with ``cross_matrix(a) @ b == a x b``."""
    crossed = np.zeros((len(vectors), 3, 3))
    x, y, z = vectors.T
    crossed[:, 0, 1] = -z
    crossed[:, 0, 2] = y
    crossed[:, 1, 0] = z
    crossed[:, 1, 2] = -x
    crossed[:, 2, 0] = -y
    crossed[:, 2, 1] = x
    return crossed


def spread_load(arms: Array) -> Array:
    """Forces on points (6 n, 6) that add up to each unit load on the reference and vary linearly over the points.

    Its transpose is the points' mean movement by least squares, so that work is the same on both sides.
    """
    # By forces alone: a moment on a single point would bend the wall where it stands.
    motion = rigid_motion(arms).reshape(-1, 6, 6)[:, :3, :]
    gathered = np.einsum("nij,nik->jk", motion, motion)
    # Singular only for points on one line, which a ring never is.
    forces = motion @ np.linalg.inv(gathered)
    loads = np.zeros((len(arms), 6, 6))
    loads[:, :3, :] = forces
    return loads.reshape(-1, 6)


def nested_dissection(points: Array, triangles: Ints) -> Ints:
    """An order of the points that keeps a factorisation sparse (A. George, SIAM J. Numer. Anal. 10 (1973) 345).

    Cut across the longest side at the middle, the cut's own points last, and so on with both halves.
    """
    sides = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    both = np.concatenate([sides, sides[:, ::-1]])
    count = len(points)
    entries = (np.ones(len(both)), (both[:, 0], both[:, 1]))
    neighbours = sparse.coo_matrix(entries, shape=(count, count)).tocsr()
    order: list[Ints] = []
    side = np.zeros(count, dtype=bool)

    def dissect(members: Ints) -> None:
        if len(members) <= _LEAF:
            order.append(members)
            return
        places = points[members]
        axis = int(np.argmax(np.ptp(places, axis=0)))
        middle = np.median(places[:, axis])
        low = places[:, axis] < middle
        # One scratch array for every level of the recursion; it must be clean again afterwards.
        side[members[low]] = True
        touching = neighbours[members[~low]] @ side > 0
        side[members[low]] = False
        high = members[~low]
        # No cut left to make: all on one level, or the cut would be the whole upper half.
        if not low.any() or touching.all():
            order.append(members)
            return
        dissect(members[low])
        dissect(high[~touching])
        # The cut comes last: until then neither half's entries fill into the other's.
        order.append(high[touching])

    dissect(np.arange(count))
    return np.concatenate(order)
