"""Where tubes are cut into prismatic pieces, and how large each piece is: any number of tubes at once.

Nodes must stand at joints, at the ends of butts and tapers and at the points of a curve; between them a tube is cut
evenly. One bicycle has a dozen tubes, a thousand variants of it twelve thousand: the work is done in columns of an
array, so that both take the same few steps.
"""

import itertools
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import nan

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array, Xyz
from ..columns import dist, points_of, tuples_of
from ..errors import ModelError
from ..tubes.tube import Tube
from .centre_lines import distance_along, point_at
from .dropouts import Dropout
from .layout import Member

SHARED = 1e-6  # mm; closer positions on one tube are one node
NEAR = 0.1  # mm; what is no joint gets no node of its own so close to another

ELEMENT_LENGTHS = (0.1, 500.0)  # mm, shortest and longest that may be asked for


@dataclass(frozen=True)
class MeshOptions:
    """element_length : longest element, mm. taper_pieces : least number of elements over a wall taper.
    cone_pieces : least number over the taper of a conical tube. shear : Timoshenko (True) or Euler-Bernoulli.
    rigid_zones : tube ends inside the neighbouring tube's radius move with the joint as a rigid body.
    bridges : chainstay and seatstay bridges behind the tyre. Raises ModelError for a length that makes no sense."""

    element_length: float = 60.0
    taper_pieces: int = 4
    cone_pieces: int = 12
    shear: bool = True
    rigid_zones: bool = False
    bridges: bool = True

    def __post_init__(self) -> None:
        low, high = ELEMENT_LENGTHS
        if not low <= self.element_length <= high:
            raise ModelError(
                f"element length {self.element_length:g} mm: give {low:g} to {high:g} mm"
            )

    def refined(self, factor: int) -> "MeshOptions":
        """The same options with every element cut into `factor` pieces."""
        return replace(
            self,
            element_length=self.element_length / factor,
            taper_pieces=self.taper_pieces * factor,
            cone_pieces=self.cone_pieces * factor,
        )


@dataclass(frozen=True)
class MemberPath:
    """Arc length along a member's centre-line."""

    points: tuple[Xyz, ...]
    run: tuple[float, ...]

    @classmethod
    def of(cls, member: Member) -> "MemberPath":
        steps = itertools.starmap(dist, itertools.pairwise(member.path))
        return cls(member.path, (0.0, *itertools.accumulate(steps)))

    @property
    def length(self) -> float:
        return self.run[-1]

    def distance(self, point: Xyz) -> float:
        """How far from the start a point of the centre-line lies."""
        return distance_along(self.points, point)

    def at(self, s: Sequence[float]) -> tuple[Xyz, ...]:
        """Points at distances s from the start."""
        if len(self.points) > 2:
            run, places = (points_of([numbers])[..., 0, :] for numbers in (self.run, s))
            return tuples_of(point_at(points_of(self.points), run, places))
        (x, y, z), end = self.points
        placed = []
        for place in s:
            share = place / self.length
            placed.append(
                (x + (end[0] - x) * share, y + (end[1] - y) * share, z + (end[2] - z) * share)
            )
        return tuple(placed)


@dataclass(frozen=True, eq=False)
class TubeLine:
    """One tube before it is cut. stops : nodes and joints along it, mm from its start. low, high : where the tube
    proper begins and ends. plate : the dropout at its end, where it is stated."""

    member: Member
    tube: Tube
    path: MemberPath
    stops: Mapping[str, float]
    low: float
    high: float
    plate: Dropout | None = None

    @property
    def curve(self) -> tuple[float, ...]:
        """Distances of the points of a bent tube."""
        if self.member.bent:
            return self.path.run
        return ()

    @property
    def tube_ends(self) -> float:
        """Where the tube ends and a stated dropout begins."""
        if self.plate is None:
            return self.path.length
        return self.path.length - self.plate.length


@dataclass(frozen=True, eq=False)
class Passed:
    """A tube with the nodes it passes and their distances from its start, both in order."""

    line: TubeLine
    nodes: tuple[str, ...]
    places: tuple[float, ...]


@dataclass(frozen=True, eq=False)
class CutPieces:
    """The pieces of many tubes, one after the other, each tube from start to end.

    row : which tube. start, end : mm from the tube's start. height, wall, width : of the middle, mm, which makes a
    prismatic piece converge with order two.
    """

    row: NDArray[np.intp]
    start: Array
    end: Array
    height: Array
    wall: Array
    width: Array

    @property
    def middle(self) -> Array:
        return (self.start + self.end) / 2


@dataclass(frozen=True, eq=False)
class Uncut:
    """Tubes before they are cut, one row for each. stops, curve : (tubes, most) mm from the start at which nodes stand
    and at which a bent tube has points, nan where a tube has fewer. low, high : where the tube proper begins and ends.
    """

    tubes: Sequence[Tube]
    length: Array
    stops: Array
    curve: Array
    low: Array
    high: Array

    @classmethod
    def of(cls, lines: Sequence[TubeLine]) -> "Uncut":
        ends = np.array([(line.path.length, line.low, line.high) for line in lines])
        length, low, high = ends.reshape(-1, 3).T
        stops = padded([line.stops.values() for line in lines])
        curve = padded([line.curve for line in lines])
        return cls([line.tube for line in lines], length, stops, curve, low, high)


def cut(uncut: Uncut, options: MeshOptions) -> CutPieces:
    """Cut tubes at every node they need and evenly in between.

    Raises
    ------
    ModelError
        When butts, tapers or straight lengths do not fit a tube's length.
    """
    tubes = _Profiles.of(uncut)
    fixed = _fixed(uncut, tubes)
    a = fixed[:, :-1]
    b = fixed[:, 1:]
    # A tube proper lies between its rigid zones; those have no pieces.
    there = np.isfinite(b) & (a >= uncut.low[:, None]) & (b <= uncut.high[:, None])
    row, column = np.nonzero(there)
    first = a[row, column]
    last = b[row, column]
    count = tubes.pieces(row, first, last, options)
    # One piece after the other: number k of n in its stretch.
    stretch = np.repeat(np.arange(len(count)), count)
    k = np.arange(len(stretch)) - np.repeat(np.cumsum(count) - count, count)
    n = count[stretch]
    begin = first[stretch]
    whole = last[stretch] - begin
    start = begin + whole * k / n
    end = np.where(k + 1 == n, last[stretch], begin + whole * (k + 1) / n)
    return CutPieces(row[stretch], start, end, *tubes.sizes(row[stretch], (start + end) / 2))


def _fixed(uncut: Uncut, tubes: "_Profiles") -> Array:
    """(tubes, most) rising distances at which nodes must stand, infinite where a tube has fewer."""
    # Joints are kept exactly, other stops that close to one are dropped.
    places = np.concatenate([uncut.stops, tubes.changes(), tubes.kinks(), uncut.curve], axis=1)
    gaps = np.where(np.arange(places.shape[1]) < uncut.stops.shape[1], SHARED, NEAR)
    kept = ~np.isnan(places)
    near = np.abs(places[:, :, None] - places[:, None, :]) < gaps[:, None]
    near &= np.tri(places.shape[1], k=-1, dtype=bool)
    # Few tubes have places near one another.
    row, later = np.nonzero(near.any(axis=2))
    for k in np.unique(later).tolist():
        some = row[later == k]
        kept[some, k] &= ~(near[some, k] & kept[some]).any(axis=1)
    return np.sort(np.where(kept, places, np.inf), axis=1)


def alike(tubes: Sequence[Tube]) -> tuple[list[Tube], NDArray[np.intp]]:
    """The different tubes, and which of them each is: variants share most of their tubes."""
    # Most are the very same object, which is told at once.
    ids = list(map(id, tubes))
    known: dict[int, int] = {}
    different: dict[Tube, int] = {}
    for name, tube in dict(zip(ids, tubes, strict=True)).items():
        known[name] = different.setdefault(tube, len(different))
    return list(different), np.fromiter(map(known.__getitem__, ids), np.intp, len(ids))


def padded(rows: Sequence[Collection[float]]) -> Array:
    """Rows of unequal length as one array, filled up with nan."""
    lengths = np.fromiter(map(len, rows), np.intp, len(rows))
    out = np.full((len(rows), lengths.max(initial=0)), nan)
    there = np.arange(out.shape[1]) < lengths[:, None]
    out[there] = np.fromiter(itertools.chain.from_iterable(rows), dtype=float)
    return out


@dataclass(frozen=True, eq=False)
class _Profiles:
    """What a tube is where: one row for each. at, walls : (tubes, points) wall against distance, the last repeated."""

    length: Array
    at: Array
    walls: Array
    outside: Array  # (tubes, 6): height at start and end, width at start and end, straight at start and end

    @classmethod
    def of(cls, uncut: Uncut) -> "_Profiles":
        length = uncut.length
        tubes, kind = alike(uncut.tubes)
        needed = np.array([_needed(tube) for tube in tubes])[kind]
        # The tube itself says what does not fit.
        for k in np.flatnonzero(needed > length - 1e-6).tolist():
            uncut.tubes[k].check_length(float(length[k]))
        profiles = [tube.profile for tube in tubes]
        most = max(map(len, profiles), default=1)
        points = np.array([(*p, *(p[-1],) * (most - len(p))) for p in profiles])[kind]
        # From the start, or back from the end.
        at = points[:, :, 0] + points[:, :, 1] * length[:, None]
        outside = np.array([_outside(tube) for tube in tubes])[kind]
        return cls(length, at, points[:, :, 2], outside)

    def changes(self) -> Array:
        """(tubes, points) where the wall changes, nan where a point stands for the one before."""
        again = np.zeros(self.at.shape, dtype=bool)
        again[:, 1:] = self.at[:, 1:] == self.at[:, :-1]
        return np.where(again, nan, self.at)

    def kinks(self) -> Array:
        """(tubes, 2) where the outside begins and ends to taper inside a tube, nan where it does not."""
        ends = np.stack([self.outside[:, 4], self.length - self.outside[:, 5]], axis=1)
        inside = (ends > 0) & (ends < self.length[:, None]) & self._tapered[:, None]
        return np.where(inside, ends, nan)

    @property
    def _tapered(self) -> NDArray[np.bool_]:
        grows = (self.outside[:, 0] != self.outside[:, 1]) | (
            self.outside[:, 2] != self.outside[:, 3]
        )
        return np.asarray(grows)

    def pieces(
        self, row: NDArray[np.intp], a: Array, b: Array, options: MeshOptions
    ) -> NDArray[np.intp]:
        """Into how many pieces the stretches from a to b of some tubes are cut."""
        # A whole number of pieces must not become one more by rounding.
        count = np.ceil((b - a) / options.element_length - 1e-9)
        # Just inside: at a step two walls stand at one distance.
        inside = 1e-6 * (b - a)
        changes = self._wall(row, a + inside).round(9) != self._wall(row, b - inside).round(9)
        count = np.where(changes, np.maximum(count, options.taper_pieces), count)
        first = self.outside[row, 4]
        last = self.outside[row, 5]
        length = self.length[row]
        middle = (a + b) / 2
        cone = self._tapered[row] & (first < middle) & (middle < length - last)
        share = (b - a) / (length - first - last)
        finer = np.maximum(count, np.ceil(options.cone_pieces * share - 1e-9))
        return np.where(cone, finer, count).astype(np.intp)

    def _wall(self, row: NDArray[np.intp], s: Array) -> Array:
        """Wall at distances s of some tubes: linear between the points of the profile."""
        at = self.at[row]
        k = np.clip((at <= s[:, None]).sum(axis=1) - 1, 0, at.shape[1] - 2)
        low = self.at[row, k]
        high = self.at[row, k + 1]
        # Behind the last point nothing changes any more.
        share = np.clip((s - low) / np.where(high > low, high - low, 1.0), 0.0, 1.0)
        wall = self.walls[row, k]
        return np.asarray(wall + share * (self.walls[row, k + 1] - wall))

    def sizes(self, row: NDArray[np.intp], s: Array) -> tuple[Array, Array, Array]:
        """Height, wall and width at distances s of some tubes."""
        height, high_end, width, wide_end, first, last = self.outside[row].T
        share = np.clip((s - first) / (self.length[row] - first - last), 0.0, 1.0)
        return (
            height + (high_end - height) * share,
            self._wall(row, s),
            width + (wide_end - width) * share,
        )


def _needed(tube: Tube) -> float:
    """The least length that butts, tapers and straight lengths may need, mm."""
    return max(sum(tube.straight), sum(tube.butts) + sum(tube.tapers))


def _outside(tube: Tube) -> tuple[float, ...]:
    start = tube.od_start if tube.oval_width is None else tube.oval_width
    end = tube.od_end if tube.width_end is None else tube.width_end
    return (tube.od_start, tube.od_end, start, end, *tube.straight)


def apart(places: Iterable[float]) -> list[float]:
    """Rising distances of the places that are not one with an earlier one."""
    kept: list[float] = []
    for s in places:
        for t in kept:
            if abs(s - t) < SHARED:
                break
        else:
            kept.append(s)
    kept.sort()
    return kept


@dataclass(frozen=True, eq=False)
class Division:
    """One tube cut. breaks : mm from its start, where pieces meet and at both ends. sizes : of each piece between two
    of them its height, wall and width, mm."""

    breaks: list[float]
    sizes: list[tuple[float, float, float]]


def divisions(lines: Sequence[TubeLine], options: MeshOptions) -> list[Division]:
    """Each tube cut. Raises as `cut` does."""
    pieces = cut(Uncut.of(lines), options)
    start = pieces.start.tolist()
    end = pieces.end.tolist()
    columns = (pieces.height.tolist(), pieces.wall.tolist(), pieces.width.tolist())
    sizes = list(zip(*columns, strict=True))
    bounds = np.searchsorted(pieces.row, np.arange(len(lines) + 1)).tolist()
    return [
        Division([*start[first:last], end[last - 1]], sizes[first:last])
        for first, last in itertools.pairwise(bounds)
    ]
