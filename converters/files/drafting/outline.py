"""Tube outlines of the side view: two edges per tube, trimmed to the tubes they meet, tapered where the tube is.

An EDGE is one side of a tube as seen square to the frame's plane. In that plane the trimming is exact: an edge
of a mitred tube ends where it meets the neighbour's edge (or the shell's circle).
"""

from dataclasses import dataclass
from math import hypot

import numpy as np

from ....model.arrays import Array, run_of
from ....model.frame.bicycle import Bicycle
from ....model.tubes.tube import Tube
from .paper import Xy

TIP = 26.0  # mm before the axle where stay and blade outlines end; the dropout takes over


def shell_radius(bicycle: Bicycle) -> float:
    """Outside radius of the bottom bracket shell, mm."""
    return bicycle.part("bb_shell").od / 2


@dataclass(frozen=True)
class Silhouette:
    """A straight tube seen from the side: centre-line from start to end, radius at both, mm; lengths at both ends over
    which the radius stays."""

    start: Xy
    end: Xy
    r_start: float
    r_end: float
    straight: tuple[float, float] = (0.0, 0.0)

    @classmethod
    def of(cls, tube: Tube, start: Xy, end: Xy) -> "Silhouette":
        """The silhouette of a tube that lies between two points of the paper."""
        # lengths only mean something where the sizes differ
        kept = tube.straight if tube.is_tapered else (0.0, 0.0)
        return cls(start, end, tube.od_start / 2, tube.od_end / 2, kept)

    @property
    def length(self) -> float:
        return hypot(self.end[0] - self.start[0], self.end[1] - self.start[1])

    @property
    def along(self) -> Array:
        return np.subtract(self.end, self.start) / self.length

    @property
    def left(self) -> Array:
        """Unit vector to the left of start -> end."""
        x, y = self.along
        return np.array([-y, x])

    def edge(self, side: int, distance: float) -> Array:
        """Point of the left (+1) or right (-1) edge at a distance along the centre-line."""
        radius = self._radius(distance)
        return np.asarray(
            np.array(self.start) + distance * self.along + side * radius * self.left, dtype=float
        )

    def _radius(self, distance: float) -> float:
        if not any(self.straight):  # drawn endless: beyond the ends too
            return self.r_start + (self.r_end - self.r_start) * distance / self.length
        at = [self.straight[0], self.length - self.straight[1]]
        # held at both ends: the cylindrical part runs straight to the tube's end
        return float(np.interp(distance, at, [self.r_start, self.r_end]))

    @property
    def stations(self) -> list[float]:
        """Distances at which the edges begin, bend and end."""
        first, last = self.straight
        bends = [s for s in (first, self.length - last) if 0 < s < self.length]
        return [0.0, *(bends if any(self.straight) else ()), self.length]

    def piece_at(self, point: Xy) -> "Silhouette":
        """The stretch with straight edges that lies beside a point."""
        stations = self.stations
        along = float(np.subtract(point, self.start) @ self.along)
        # clipped: a point beyond either end belongs to the last piece
        k = int(np.clip(np.searchsorted(stations, along, side="right"), 1, len(stations) - 1))
        near = stations[k - 1]
        far = stations[k]
        ends = [tuple(map(float, np.array(self.start) + s * self.along)) for s in (near, far)]
        return Silhouette(ends[0], ends[1], self._radius(near), self._radius(far))

    def meets(self, side: int, other: "Silhouette") -> list[float]:
        """Distances at which one edge crosses the two edges of another tube, drawn endless."""
        p = self.edge(side, 0.0)
        q = self.edge(side, self.length)
        found = []
        for other_side in (1, -1):
            a = other.edge(other_side, 0.0)
            b = other.edge(other_side, other.length)
            matrix = np.column_stack([q - p, a - b])
            # the determinant of two directions is zero where they are parallel
            if abs(np.linalg.det(matrix)) > 1e-9 * self.length * other.length:
                found.append(float(np.linalg.solve(matrix, a - p)[0]) * self.length)
        return found

    def meets_circle(self, side: int, centre: Xy, radius: float) -> list[float]:
        """Distances at which one edge, drawn endless, crosses a circle."""
        p = self.edge(side, 0.0)
        q = self.edge(side, self.length)
        step = (q - p) / self.length
        to = p - np.array(centre)
        a = float(step @ step)
        b = float(step @ to)
        c = float(to @ to) - radius**2
        inside = b * b - a * c
        if inside < 0:
            # the edge passes the circle by
            return []
        return [(-b - inside**0.5) / a, (-b + inside**0.5) / a]

    def reversed(self) -> "Silhouette":
        return Silhouette(self.end, self.start, self.r_end, self.r_start, self.straight[::-1])


@dataclass(frozen=True)
class Stop:
    """What ends a tube: other tubes, a circle (the shell about `foot`), or a plain distance; the furthest rules."""

    tubes: tuple[Silhouette, ...] = ()
    shell: float = 0.0
    distance: float = 0.0
    foot: Xy = (0.0, 0.0)

    def at(self, tube: Silhouette, side: int) -> float:
        """Distance from the tube's start at which its edge ends."""
        first = tube.piece_at(tube.start)
        neighbours = [other.piece_at(tube.start) for other in self.tubes]
        # the later of the two crossings is the one on the tube's own side
        found = [max(self._met(first, side, other), default=self.distance) for other in neighbours]
        if self.shell:
            found.append(
                max(first.meets_circle(side, self.foot, self.shell), default=self.distance)
            )
        if found:
            return max([self.distance, *found])
        return self.distance

    def _met(self, tube: Silhouette, side: int, other: Silhouette) -> list[float]:
        """Where an edge crosses another tube's; of one that begins at the shell too, only from there on."""
        found = tube.meets(side, other)
        if not self.shell:
            return found
        foot = np.array(self.foot)
        away = other.along
        if (np.add(other.start, other.end) / 2 - foot) @ away < 0:
            away = -away
        return [at for at in found if (tube.edge(side, at) - foot) @ away >= 0]


def edges(tube: Silhouette, at_start: Stop, at_end: Stop) -> dict[int, list[Array]]:
    """Both trimmed edges, side -> points from start to end; an edge that the trimming eats up is left out."""
    result = {}
    for side in (1, -1):
        begin = at_start.at(tube, side)
        # the tube turned round, so that one rule serves both ends
        finish = tube.length - at_end.at(tube.reversed(), -side)
        # two neighbours may meet before anything is left of the tube
        if finish > begin:
            bends = [s for s in tube.stations if begin < s < finish]
            result[side] = [tube.edge(side, s) for s in (begin, *bends, finish)]
    return result


def path_edges(path: Array, tube: Tube, across: bool = False) -> tuple[Array, Array]:
    """Left and right edge of a stay or blade along its (k, 2) centre-line, up to where the dropout takes over.

    across : seen from the front or from above, where an oval shows its width.
    """
    # the way along the centre-line, which bends
    run = run_of(path)
    # the tube's own kinks, or a taper would be drawn straight across them
    stops = np.union1d(run, tube.kinks(run[-1]))
    # the last point is the dropout's edge, whatever the stations are
    stations = np.append(stops[stops < run[-1] - TIP], run[-1] - TIP)
    points = np.column_stack([np.interp(stations, run, path[:, k]) for k in (0, 1)])
    if across:
        radii = tube.widths(run[-1], stations) / 2
    else:
        radii = tube.heights(run[-1], stations) / 2
    return offset_path(points, radii, 1), offset_path(points, radii, -1)


def offset_path(points: Array, radii: Array, side: int) -> Array:
    """A path of (k, 2) points set off to its left (+1) or right (-1) by a radius for each point."""
    # between the neighbours of a point, so that a bend opens evenly on both sides
    tangent = np.gradient(points, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1)[:, None]
    normal = np.column_stack([-tangent[:, 1], tangent[:, 0]])
    return np.asarray(points + side * radii[:, None] * normal, dtype=float)
