"""Recumbents and cargo bicycles told from a diamond frame by where their cranks and wheels stand.

All limits are in radii of the larger wheel, because neither the unit nor the wheelbase says anything here. Where the
limits lie is common practice, no source.
"""

from collections.abc import Sequence
from math import dist, hypot

from ..linework.pose import FAR_APART, Site, wheel_pairs
from ..linework.rounds import FULL, Round

BY_POINTS = "a frame that no plan holds is given as points and tubes, see droptrail new SHEET.csv --plan points"
SHELL = (0.035, 0.115)  # radius of a bottom bracket shell
RING = (0.15, 0.45)  # radius of a chainring
CONCENTRIC = 0.015  # distance between the centres of a shell and its chainring
AHEAD = (0.05, 2.2)  # how far cranks lie ahead of the nearer axle, along the line of axles
HIGH = (0.5, 2.0)  # how far above the line of axles
AT_WHEEL = 0.35  # rings nearer than this to an axle are sprockets
LEVEL = 0.04  # how far two wheels' lowest points may differ on one sheet
LONG = (FAR_APART[0], 5.0)  # wheelbase over the sum of the radii
AS_LARGE = 0.7  # of the larger wheel of such a pair: where wheels as large stand nearer, those are the bicycle
BRACKET = (0.8, 2.2)  # from the rear axle of a cargo bicycle to its cranks


def recumbent(sites: Sequence[Site], rounds: Sequence[Round]) -> str:
    """The refusal of a recumbent, else '': cranks (a shell with its chainring) ahead of a wheel or high above the
    axles, and none between the wheels."""
    for one, other in wheel_pairs(sites)[:1] or _far(sites)[:1]:
        size = max(one.tyre.radius, other.tyre.radius)
        places = [_beside(at, one, other, size) for at in _shells(rounds, (one, other), size)]
        if not places or any(_usual(*place) for place in places):
            continue
        for at in _cranks(rounds, (one, other), size):
            ahead, high = _beside(at, one, other, size)
            beyond = AHEAD[0] <= ahead <= AHEAD[1] and abs(high) <= HIGH[1]
            if beyond or (ahead < AHEAD[0] and HIGH[0] <= abs(high) <= HIGH[1]):
                where = "ahead of the wheel" if beyond else "high above the axles"
                return (
                    f"this drawing describes a recumbent (its cranks at ({at[0]:.5g}, {at[1]:.5g}) lie {where}), and "
                    f"no plan does; {BY_POINTS}"
                )
    return ""


def cargo(sites: Sequence[Site], rounds: Sequence[Round]) -> str:
    """The refusal of a cargo bicycle, else '': the front wheel too far ahead to be held by a fork in the head tube, the
    cranks near the rear one. A frame for several riders looks alike and is to be told before."""
    for one, other in _far(sites):
        size = max(one.tyre.radius, other.tyre.radius)
        for rear, front in ((one, other), (other, one)):
            for x, y in _shells(rounds, (one, other), size):
                away = hypot(x - rear.centre[0], y - rear.centre[1]) / size
                high = _beside((x, y), one, other, size)[1]
                if BRACKET[0] <= away <= BRACKET[1] and abs(high) < HIGH[0]:
                    apart = hypot(
                        front.centre[0] - rear.centre[0], front.centre[1] - rear.centre[1]
                    )
                    return (
                        f"this drawing describes a cargo bicycle (its wheels stand {apart:.5g} apart, with the load "
                        f"between head tube and front wheel), and no plan does; {BY_POINTS}"
                    )
    return ""


def _far(sites: Sequence[Site]) -> list[tuple[Site, Site]]:
    """Pairs of wheels far apart that stand on one line of the sheet, if no two as large stand nearer."""
    usual = max((max(a.tyre.radius, b.tyre.radius) for a, b in wheel_pairs(sites)), default=0.0)
    return [
        (a, b)
        for a, b in wheel_pairs(sites, LONG)
        if usual < AS_LARGE * max(a.tyre.radius, b.tyre.radius) and _level(a, b)
    ]


def _level(a: Site, b: Site) -> bool:
    """Whether the wheels stand on one line along a side of the sheet."""
    slack = LEVEL * max(a.tyre.radius, b.tyre.radius)
    return any(
        abs((a.centre[k] + s * a.tyre.radius) - (b.centre[k] + s * b.tyre.radius)) <= slack
        for k in (0, 1)
        for s in (1.0, -1.0)
    )


def _shells(
    rounds: Sequence[Round], wheels: tuple[Site, Site], size: float
) -> list[tuple[float, float]]:
    """Centres of full circles as large as a shell that are at no axle."""
    shells = [
        r.centre
        for r in rounds
        if r.coverage >= FULL and SHELL[0] * size <= r.radius <= SHELL[1] * size
    ]
    for w in wheels:
        shells = [at for at in shells if dist(at, w.centre) > AT_WHEEL * size]
    return shells


def _cranks(
    rounds: Sequence[Round], wheels: tuple[Site, Site], size: float
) -> list[tuple[float, float]]:
    """Shells with a chainring about them."""
    rings = [r.centre for r in rounds if RING[0] * size <= r.radius <= RING[1] * size]
    cranks = []
    for at in _shells(rounds, wheels, size):
        if any(dist(ring, at) <= CONCENTRIC * size for ring in rings):
            cranks.append(at)
    return cranks


def _beside(at: tuple[float, float], one: Site, other: Site, size: float) -> tuple[float, float]:
    """How far a place lies beyond the nearer axle along the line of axles (negative between them), and off it."""
    dx, dy = (b - a for a, b in zip(one.centre, other.centre, strict=True))
    apart = hypot(dx, dy)
    x = at[0] - one.centre[0]
    y = at[1] - one.centre[1]
    along = (x * dx + y * dy) / apart
    off = (dx * y - dy * x) / apart
    return max(-along, along - apart) / size, off / size


def _usual(ahead: float, high: float) -> bool:
    """Where the bottom bracket of a diamond frame lies: between the axles, near their line."""
    return ahead < -AT_WHEEL and abs(high) < HIGH[0]
