"""A front triangle in shells: head tube, top tube, down tube, seat tube and shell, welded at once.

Axes: x forward, y up, z to the side, origin at the middle of the bottom bracket. The shell's ends are held (A), or
these and the seat tube's top in its mean sideways place (B). Loads stand on the ends of the head tube.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from ...model.arrays import Array
from .meshing import Pipe, TubeMesh, mesh_pipes
from .shell import ShellSolver, TubeRing

# Fifteen freedoms: six of each end of the head tube, then x, y, z of the seat tube's top.
_SEAT_Z = 14
_LARGEST_BRANCH = (
    0.996  # over the chord, by mid-surfaces: tubes as large as the chord leave slivers
)


@dataclass(frozen=True)
class Triangle:
    """Tubes by outside diameter and wall, and the ends of their axes, mm; keys as in the reference data."""

    tubes: Mapping[str, tuple[float, float]]
    points: Mapping[str, Array]

    @classmethod
    def from_data(cls, entry: Mapping[str, Any]) -> Triangle:
        """From one geometry of front_triangle.json."""
        tubes = {name: (size[0], size[1]) for name, size in entry["tubes_od_wall_mm"].items()}
        points = {name: np.array(place) for name, place in entry["points_mm"].items()}
        return cls(tubes, points)

    def pipes(self) -> list[Pipe]:
        """Shell, head tube, seat tube, down tube, top tube."""
        places = self.points
        return [
            self._pipe("BB", places["bl"], places["br"]),
            self._pipe("HT", places["bot"], places["top"]),
            self._pipe("ST", places["o"], places["sttop"], chords=(0,)),
            # Where both stand on the shell, the seat tube's foot cuts into the down tube's.
            self._pipe("DT", places["dt"], places["o"], chords=(0, 1), beside=(2,)),
            self._pipe("TT", places["tt"], places["stt"], chords=(1, 2), within="ST"),
        ]

    def _pipe(
        self,
        name: str,
        start: Array,
        end: Array,
        chords: tuple[int, ...] = (),
        beside: tuple[int, ...] = (),
        within: str = "",
    ) -> Pipe:
        outside, wall = self.tubes[name]
        diameter = outside - wall
        if within:
            chord_outside, chord_wall = self.tubes[within]
            largest = _LARGEST_BRANCH * (chord_outside - chord_wall)
            if diameter > largest:
                # The same bending stiffness, r^3 t, in a tube that the mesher can put on the chord.
                wall *= (diameter / largest) ** 3
                diameter = largest
        return Pipe(start, end, diameter, wall, chords, beside)


def triangle_mesh(triangle: Triangle, near: float, far: float) -> TubeMesh:
    return mesh_pipes(triangle.pipes(), near, far)


def head_flexibility(
    triangle: Triangle, tubes: TubeMesh, modulus: float, rigid_rings: bool = True
) -> Array:
    """(15, 15) movements of head tube top and bottom and the seat tube's top (x, y, z) under unit loads, support A."""
    pipes = triangle.pipes()
    points = tubes.mesh.points
    bracket = pipes[0]
    head = pipes[1]
    seat = pipes[2]
    held = [bracket.ring_at(points, bracket.start), bracket.ring_at(points, bracket.end)]
    rings = [
        TubeRing(head.ring_at(points, head.end), head.end, rigid_rings),
        TubeRing(head.ring_at(points, head.start), head.start, rigid_rings),
        TubeRing(seat.ring_at(points, seat.end), seat.end, rigid=False),
    ]
    return ShellSolver(tubes.mesh, held, rings).ring_flexibility()[:15, :15] / modulus


def seat_held(flexibility: Array) -> Array:
    """The same with the seat tube's top held sideways (support B)."""
    given = flexibility[:, _SEAT_Z]
    # A force there that brings its sideways movement to 0, by the superposition of both.
    return np.asarray(flexibility - np.outer(given, given) / given[_SEAT_Z])


def quantities(flexibility: Array, head_length: float) -> dict[str, float]:
    """The movements of the reference data, mm and rad, from a flexibility in N and mm."""
    loads = _loads(head_length)
    moved = {name: flexibility @ load for name, load in loads.items()}
    twist = moved["Mx"]
    couple = moved["couple"]
    sideways = moved["Fz_top"]
    down = moved["Fy_bot"]
    return {
        "Fz_top__uz_top_mm": sideways[2],
        "Fz_top__uz_bot_mm": sideways[8],
        "Fz_top__rx_top_rad": sideways[3],
        "Fz_top__ry_top_rad": sideways[4],
        # The head tube twists between its ends: the turn of the head is their mean.
        "Mx__rx_mean_rad": (twist[3] + twist[9]) / 2.0,
        "Mx__rx_top_rad": twist[3],
        "Mx__rx_bot_rad": twist[9],
        "Mx__uz_top_mm": twist[2],
        "Mx__uz_bot_mm": twist[8],
        "Fy_bot__uy_bot_mm": down[7],
        "Fy_bot__ux_bot_mm": down[6],
        "Fy_bot__uy_top_mm": down[1],
        "Fy_bot__ux_top_mm": down[0],
        "Fy_bot__rz_bot_rad": down[11],
        "Fz_bot__uz_bot_mm": moved["Fz_bot"][8],
        "couple__rel_uz_over_L_rad": (couple[2] - couple[8]) / head_length,
    }


def _loads(head_length: float) -> dict[str, Array]:
    """Loads on the 15 freedoms, N and N mm."""
    names = ("Fz_top", "Mx", "Fy_bot", "Fz_bot", "couple")
    loads = {name: np.zeros(15) for name in names}
    loads["Fz_top"][2] = 200.0
    # Half of 100 N m at each end.
    loads["Mx"][[3, 9]] = 50e3
    loads["Fy_bot"][7] = -500.0
    loads["Fz_bot"][8] = 200.0
    # 100 N m by two opposite forces, a head tube's length apart.
    loads["couple"][2] = 100e3 / head_length
    loads["couple"][8] = -100e3 / head_length
    return loads
