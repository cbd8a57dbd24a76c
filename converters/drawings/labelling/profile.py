"""What is drawn along the steering axis: lines square across it and walls beside it, on either side.

A STATION is a place on the axis where one of these begins or ends; a STAGE is what joins two stations on both sides.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ....model.arrays import Array
from ..linework.evidence import Evidence
from ..linework.lines import Candidate
from .members import Labelled

# mm along the axis: stations nearer than this are one; a wall that runs on by less does not cover a station
SAME = 0.45
TOUCH = 1.5
OPEN = 2.5  # mm; walls that stop on both sides for longer than this end the tube
SQUARE = 0.012  # a line this near square (rise over width) is a cap
OFF_AXIS = 4.0  # mm; a cap's middle lies nearer to the axis
NARROW = 8.0  # mm; a cap reaches at least so far to either side
WIDE = 52.0
SLOPE = 0.16  # a wall leaves the axis by less than this (a cone from 44 to 56 mm has 0.06)
WALL = (0.5, 1.6)  # a wall's distance from the axis over half the head tube's width
FAR = 95.0  # mm beyond the head tube's ends that are looked at
FACE = 0.6  # of half the tube's width that a cap reaches, at least: the narrow end of a cone
JOINED = 0.85  # share of a stage that has a wall on either side
FARTHER = 12.0  # mm; what lies farther outside a wall than this is another thing
INSIDE = 0.25  # share of a wall that has others outside it: then it is an inner one
ALIKE = 0.1  # mm; slanting lines whose rise and width agree so far repeat each other
SLANTING = 0.15  # rise over width, and width over rise, of a line that is neither a face nor a wall
PATTERN = 6  # such lines; shoulders and cones come in twos and fours
WITHIN_WALL = 2.0  # mm; a wall so much nearer to the axis than one that ends stands inside the tube
IMAGE = 2.5  # mm by which the distances of a wall and its image on the other side may differ
MIRRORED = 1.0  # mm by which they do, at most, where the two are one tube's
THICK = 0.5  # mm outside a wall from which another line is not its double
# times WIDE beside the axis; what stands farther out is no wall of a head tube or crown
LOOKED_AT = 1.6
LEVEL = 0.2  # mm of rise that any line across may have
UPRIGHT = 0.3  # mm by which any line along the axis may lean
SHOULDER = 45.0  # mm along the axis of a short slope: the crown of a fork is 42 at the most
SHOULDER_WIDE = 30.0  # mm across it
# of half the tube's width from which a slope, or a round crown's side, is an outside
SHOULDER_OFF = 0.3
WAISTED = (0.5, 12.0)  # share of its length, and mm, by which a curved wall may lean in
MOST_ROUND = 60.0  # mm along the axis of a curve that crosses it: a crown, not a mudguard or a tyre


@dataclass(frozen=True)
class Cap:
    """A line square across the axis: where, how far it reaches to either side of its middle, by which curve, and how
    far its middle lies beside the axis (to the left seen upwards), mm."""

    at: float
    half: float
    owner: int
    beside: float = 0.0


@dataclass(frozen=True)
class Wall:
    """A piece beside the axis, on one side of it (+1 left, -1 right), and its distance at the middle."""

    low: float
    high: float
    side: int
    off: float
    owner: int


@dataclass(frozen=True)
class Stage:
    """What is drawn between two stations."""

    low: float
    high: float
    half: float
    owners: tuple[int, ...]

    @property
    def height(self) -> float:
        return self.high - self.low


@dataclass(frozen=True, eq=False)
class Profile:
    caps: tuple[Cap, ...]
    walls: tuple[Wall, ...]
    layers: Sequence[str]

    def covered(self, at: float, side: int) -> bool:
        """Whether a wall on one side runs on over a place; one inside of another that ends there is a steerer's."""
        # of either side: one may be open where another tube joins
        ending = [w.off for w in self.walls if min(abs(w.low - at), abs(w.high - at)) <= SAME]
        least = max(ending, default=0.0) - WITHIN_WALL
        own = [w for w in self.walls if w.side == side and w.off >= least]
        return any(w.low < at - SAME and w.high > at + SAME for w in own)

    def crossed(self, at: float) -> bool:
        """Whether any line across lies at a place."""
        return any(abs(c.at - at) <= SAME for c in self.caps)

    def edges_end(self, at: float) -> bool:
        """Whether edges end at a place on both sides of the axis."""
        near = [w for w in self.walls if min(abs(w.low - at), abs(w.high - at)) <= SAME]
        return len({w.side for w in near}) == 2

    def reached(self, at: float, upwards: bool) -> bool:
        """Whether edges come up (or down) to a place on both sides of the axis."""
        near = [w for w in self.walls if abs((w.high if upwards else w.low) - at) <= SAME]
        return len({w.side for w in near}) == 2

    def capped(self, at: float, half: float) -> bool:
        return any(abs(c.at - at) <= SAME and c.half >= FACE * half for c in self.caps)

    def open_beyond(self, at: float, up: bool) -> bool:
        """Neither wall goes on within OPEN beyond a station."""
        step = OPEN if up else -OPEN
        near = (min(at, at + step) + SAME, max(at, at + step) - SAME)
        return not any(w.low < near[1] and w.high > near[0] for w in self.walls)

    def stage(self, low: float, high: float) -> Stage | None:
        """What joins two stations on both sides; None where nothing is drawn between them."""
        owners: list[int] = []
        offs: list[float] = []
        for side in (1, -1):
            held = [
                w
                for w in self.walls
                if w.side == side and w.low >= low - TOUCH and w.high <= high + TOUCH
            ]
            inked = sum(min(w.high, high) - max(w.low, low) for w in held)
            if inked < JOINED * (high - low):
                return None
            owners += [w.owner for w in held]
            offs += [w.off for w in held]
        return Stage(low, high, max(offs), tuple(dict.fromkeys(owners)))


def profile_of(
    lab: Labelled, axis: Candidate, half: float, low: float, high: float, crown: float
) -> Profile:
    """Caps and walls from below the race to above the head tube, without what is hidden or on other layers."""
    view = lab.reading.view
    curves = view.evidence.curves
    reach = (min(low, crown) - FAR, high + FAR)
    ends = lab.pose.apply_all(view.pieces.reshape(-1, 2, 2))
    rel = ends - np.array(axis.p)
    along = axis.u[0] * rel[..., 0] + axis.u[1] * rel[..., 1]
    side = axis.u[0] * rel[..., 1] - axis.u[1] * rel[..., 0]
    near = (np.abs(side).max(axis=1) <= LOOKED_AT * WIDE) & (along.max(axis=1) >= reach[0])
    near &= along.min(axis=1) <= reach[1]
    caps: list[Cap] = []
    walls: list[Wall] = []
    pattern = _patterned(along, side, near)
    for k in np.flatnonzero(near & ~pattern).tolist():
        owner = int(view.owner[k])
        if not _unseen(view.evidence, owner):
            _sorted_in(along[k], side[k], owner, half, caps, walls)
    tips = lab.pose.apply_all(view.drawn.tips) - np.array(axis.p)
    up = axis.u[0] * tips[..., 0] + axis.u[1] * tips[..., 1]
    off = np.abs(axis.u[0] * tips[..., 1] - axis.u[1] * tips[..., 0])
    # by their ends first: a drawing may hold thousands
    able = (up.max(axis=1) >= reach[0] - FAR) & (up.min(axis=1) <= reach[1] + FAR)
    able &= off.min(axis=1) <= LOOKED_AT * WIDE
    for bent in (view.bents[k] for k in np.flatnonzero(able).tolist()):
        if not _unseen(view.evidence, bent.owner):
            _curved_in(lab, axis, bent.points, bent.owner, half, reach, caps, walls)
    return Profile(tuple(caps), _outer(walls), [c.layer for c in curves])


def _unseen(evidence: Evidence, curve: int) -> bool:
    """What lies behind, and what is no part of the steering."""
    other = evidence.word(evidence.curves[curve].layer) == "other"
    return other or evidence.ignored(curve) or evidence.is_dashed(curve)


def _patterned(along: Array, side: Array, near: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Lines of one length and direction, many of them: section lines, a thread, knurling, no wall and no face."""
    rise = along[:, 1] - along[:, 0]
    width = side[:, 1] - side[:, 0]
    # drawn from either end
    turn = np.where(rise < 0.0, -1.0, 1.0)
    alike = np.round(np.column_stack((rise * turn, width * turn)) / ALIKE).astype(np.int64)
    # square ones are the faces of spacers
    slanting = (
        near & (np.abs(rise) > SLANTING * np.abs(width)) & (np.abs(width) > SLANTING * np.abs(rise))
    )
    _, kind, count = np.unique(alike[slanting], axis=0, return_inverse=True, return_counts=True)
    out = np.zeros(len(along), bool)
    out[np.flatnonzero(slanting)] = count[kind.reshape(-1)] >= PATTERN
    return out


def _outer(walls: list[Wall]) -> tuple[Wall, ...]:
    """Without those inside others on both sides: a steerer, an inner wall. What lies outside on one side alone, such
    as the side of a bag, makes no inner wall, and is none itself where others are alike on both sides."""
    walls = _two_sided(walls)
    covered = []
    for w in walls:
        outside = [
            min(o.high, w.high) - max(o.low, w.low)
            for o in walls
            if o.side == w.side
            and w.off + THICK < o.off <= w.off + FARTHER
            and o.high > w.low
            and o.low < w.high
        ]
        if sum(outside) >= INSIDE * (w.high - w.low):
            covered.append(w)
    inner = {id(w) for w in covered}
    shown = []
    for w in walls:
        images = [o for o in walls if _mirrored(w, o)]
        if id(w) not in inner or any(id(o) not in inner for o in images):
            shown.append(w)
    return tuple(shown)


def _two_sided(walls: list[Wall]) -> list[Wall]:
    """Without what stands beside the axis on one side alone, where others stand on both."""
    paired = [w.off for w in walls if _has_image(w, walls)]
    if not paired:
        return walls
    # a piece of a wall may have no image of its own height, yet stand where paired ones do
    offs = np.array(paired)
    return [w for w in walls if (np.abs(w.off - offs) <= IMAGE).any()]


def _has_image(w: Wall, walls: list[Wall]) -> bool:
    """Another wall as far off on the other side, at some of the same heights."""
    return any(
        o.side != w.side and abs(o.off - w.off) <= IMAGE and min(o.high, w.high) > max(o.low, w.low)
        for o in walls
    )


def _mirrored(a: Wall, b: Wall) -> bool:
    return (
        a.side != b.side
        and abs(a.off - b.off) <= MIRRORED
        and abs(a.low - b.low) <= TOUCH
        and abs(a.high - b.high) <= TOUCH
    )


def _sorted_in(
    along: Array, side: Array, owner: int, half: float, caps: list[Cap], walls: list[Wall]
) -> None:
    """One straight piece: a cap, a wall, or neither."""
    a0, a1 = along.tolist()
    s0, s1 = side.tolist()
    width = abs(s1 - s0)
    rise = abs(a1 - a0)
    if rise <= max(LEVEL, SQUARE * width) and min(s0, s1) <= -NARROW and max(s0, s1) >= NARROW:
        if abs(s0 + s1) / 2 <= OFF_AXIS and width <= 2 * WIDE:
            caps.append(Cap((a0 + a1) / 2, width / 2, owner, (s0 + s1) / 2))
    elif s0 * s1 > 0 and width <= max(SLOPE * rise, UPRIGHT):
        off = abs(s0 + s1) / 2
        if WALL[0] * half <= off <= WALL[1] * half:
            walls.append(Wall(min(a0, a1), max(a0, a1), 1 if s0 > 0 else -1, off, owner))
    elif (
        s0 * s1 > 0
        and rise <= SHOULDER
        and min(abs(s0), abs(s1)) >= SHOULDER_OFF * half
        and width <= SHOULDER_WIDE
    ):
        # a short slope: the shoulder of a stepped tube, the side of a sloping crown
        off = max(abs(s0), abs(s1))
        if off > WALL[1] * half:
            return
        walls.append(Wall(min(a0, a1), max(a0, a1), 1 if s0 > 0 else -1, off, owner))


def _curved_in(
    lab: Labelled,
    axis: Candidate,
    points: Array,
    owner: int,
    half: float,
    reach: tuple[float, float],
    caps: list[Cap],
    walls: list[Wall],
) -> None:
    """A curved run: the waisted wall of a head tube, the rounded side or top of a crown."""
    rel = lab.pose.apply_all(points) - np.array(axis.p)
    along = rel @ np.array(axis.u)
    side = axis.u[0] * rel[:, 1] - axis.u[1] * rel[:, 0]
    size = float(np.ptp(along))
    if along.max() < reach[0] or along.min() > reach[1] or np.abs(side).max() > LOOKED_AT * WIDE:
        return
    if (side > 0).all() or (side < 0).all():
        off = float(np.abs(side).mean())
        leans = float(np.ptp(side))
        if WALL[0] * half <= off <= WALL[1] * half and leans <= max(WAISTED[0] * size, WAISTED[1]):
            low = float(along.min())
            walls.append(Wall(low, low + size, 1 if side[0] > 0 else -1, off, owner))
        return
    if size > MOST_ROUND:
        return
    for mark in (1, -1):
        own = along[mark * side > SHOULDER_OFF * half]
        if len(own) > 1:
            walls.append(Wall(float(own.min()), float(own.max()), mark, half, owner))
    # one that crosses the axis and is highest there
    top = int(along.argmax())
    if abs(side[top]) <= OFF_AXIS and 0 < top < len(along) - 1:
        caps.append(Cap(float(along[top]), float(np.ptp(side)) / 2, owner))
