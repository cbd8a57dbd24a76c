"""From the drawing's axes to the bicycle's: wheel pairs, which is front, which side is the ground.

Vocabulary: a SITE is a place with one or more circles about (nearly) one centre; its TYRE is the outermost.
A POSE maps drawing units to the bicycle's axes: rear axle at the origin, x forward, y up, the ground (the
common tangent under both wheels) level. With unequal wheels the ground, not the line of axles, is level.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from math import asin, atan2, cos, degrees, hypot, sin, sqrt

import numpy as np

from ....model.arrays import Array
from .plane import Vec
from .rounds import FULL, Round

SITE_BUDGET = 40  # largest circles considered as wheels
NEAR = 0.12  # circles this near (share of the tyre radius) belong to one site, concentric or not
CLEARANCE = 0.85  # tyre over mudguard or clearance circle, least
MOST_OF_A_TYRE = 0.75  # coverage; a shorter arc outside a full circle is a mudguard
RIM = 0.72  # rim over tyre, least
RATIO = 0.5  # smaller over larger wheel radius, least
APART = (1.0, 2.7)  # wheelbase over the sum of the radii
FAR_APART = (2.7, 3.6)  # of a long frame for several riders
NOMINAL_WHEELBASE = 1020.0  # mm; gives the rough scale used until the units are settled


@dataclass(frozen=True)
class Site:
    """Circles about one place, outermost first."""

    rounds: tuple[Round, ...]

    @property
    def tyre(self) -> Round:
        return self.rounds[0]

    @property
    def centre(self) -> Vec:
        return self.rounds[0].centre


@dataclass(frozen=True)
class Pose:
    """bike = scale * turn * (drawing - origin); turn has determinant -1 when the drawing is mirrored."""

    origin: Vec
    xx: float
    xy: float
    yx: float
    yy: float

    @property
    def scale(self) -> float:
        return sqrt(abs(self.xx * self.yy - self.xy * self.yx))

    @property
    def mirrored(self) -> bool:
        return self.xx * self.yy - self.xy * self.yx < 0

    @property
    def rotation_deg(self) -> float:
        """Angle of the bicycle's forward direction in the drawing, degrees."""
        return degrees(atan2(self.xy, self.xx))

    def apply(self, p: Vec) -> Vec:
        x = p[0] - self.origin[0]
        y = p[1] - self.origin[1]
        return (self.xx * x + self.xy * y, self.yx * x + self.yy * y)

    def apply_all(self, points: Array) -> Array:
        """(..., 2) drawing units -> the bicycle's axes."""
        turn = np.array([[self.xx, self.xy], [self.yx, self.yy]])
        moved: Array = (points - np.array(self.origin)) @ turn.T
        return moved

    def back(self, p: Vec) -> Vec:
        """From the bicycle's axes to drawing units."""
        det = self.xx * self.yy - self.xy * self.yx
        x = (self.yy * p[0] - self.xy * p[1]) / det
        y = (self.xx * p[1] - self.yx * p[0]) / det
        return (x + self.origin[0], y + self.origin[1])

    def scaled(self, factor: float) -> "Pose":
        return Pose(self.origin, *(factor * v for v in (self.xx, self.xy, self.yx, self.yy)))


def pose_of(
    rear: Vec, front: Vec, radius_rear: float, radius_front: float, mirrored: bool, scale: float
) -> Pose:
    """The pose that puts the rear axle at the origin and the common tangent below level.

    With y up the front axle stands higher by the difference of the radii, so the line of axles rises at
    asin((radius_front - radius_rear) / distance) from the ground.
    """
    dx = front[0] - rear[0]
    dy = front[1] - rear[1]
    if mirrored:
        sign = -1.0
    else:
        sign = 1.0
    # clamped: circles inside one another would ask for a sine beyond 1
    rise = asin(max(-1.0, min(1.0, (radius_front - radius_rear) / hypot(dx, dy))))
    turn = rise - atan2(sign * dy, dx)
    c = scale * cos(turn)
    s = scale * sin(turn)
    return Pose(rear, c, -s * sign, s, c * sign)


def find_sites(
    rounds: Sequence[Round], unlikely: Callable[[Round], bool] = lambda r: False
) -> list[Site]:
    """Circles gathered by place. `rounds` is sorted by radius, largest first; `unlikely` ones (dashed, or on a
    layer for other things) are no tyre as long as another circle of nearly that size is there."""
    groups: list[list[Round]] = []
    for r in rounds:
        # largest first, so a group's first circle is the one that others lie about
        home = next((g for g in groups if _apart(g[0], r) <= NEAR * g[0].radius), None)
        if home is not None:
            home.append(r)
        elif len(groups) < SITE_BUDGET:
            groups.append([r])
    return [Site(tuple(_tyre_first(g, unlikely))) for g in groups]


def _tyre_first(group: list[Round], unlikely: Callable[[Round], bool]) -> list[Round]:
    likely = [r for r in group if not unlikely(r)]
    if not likely or likely[0].radius < CLEARANCE * group[0].radius:
        return _full_first(group)
    return _full_first(likely) + [r for r in group if unlikely(r)]


def _full_first(group: list[Round]) -> list[Round]:
    """A full circle beats an arc outside it: a mudguard's. A tyre hidden in part has its rim inside, nothing more."""
    lead = group[0]
    if lead.coverage >= FULL:
        return group
    full = [r for r in group if r.coverage >= FULL and CLEARANCE * lead.radius <= r.radius]
    if not full:
        return group
    # a rim beside the full circle makes that one a tyre, and the arc outside a mudguard
    rims = [r for r in group if r.coverage >= FULL and RIM * full[0].radius <= r.radius]
    if lead.coverage >= MOST_OF_A_TYRE and len(rims) < 2:
        return group
    return [full[0], *(r for r in group if r is not full[0])]


def _apart(a: Round, b: Round) -> float:
    return hypot(a.centre[0] - b.centre[0], a.centre[1] - b.centre[1])


def wheel_pairs(
    sites: Sequence[Site], wheelbase: tuple[float, float] = APART
) -> list[tuple[Site, Site]]:
    """Pairs that could be the two wheels of one bicycle, largest wheels first."""
    pairs = []
    for k, a in enumerate(sites):
        for b in sites[k + 1 :]:
            apart = _apart(a.tyre, b.tyre) / (a.tyre.radius + b.tyre.radius)
            if b.tyre.radius >= RATIO * a.tyre.radius and wheelbase[0] <= apart <= wheelbase[1]:
                pairs.append((a, b))
    return sorted(pairs, key=lambda p: -p[0].tyre.radius - p[1].tyre.radius)


def poses(pair: tuple[Site, Site]) -> Iterator[tuple[Site, Site, Pose]]:
    """The four ways to stand a bicycle on two wheels: which is front, and which side is up."""
    scale = NOMINAL_WHEELBASE / _apart(pair[0].tyre, pair[1].tyre)
    # nothing in two circles tells them apart, so the frame between them has to
    for rear, front in (pair, pair[::-1]):
        for mirrored in (False, True):
            yield (
                rear,
                front,
                pose_of(
                    rear.centre, front.centre, rear.tyre.radius, front.tyre.radius, mirrored, scale
                ),
            )
