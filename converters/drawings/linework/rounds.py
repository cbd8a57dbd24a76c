"""Circles of a drawing, however drawn: as circle, arcs, splines, a polygon or many short lines.

Vocabulary: a ROUND is one full or nearly full circle; its ERROR is the greatest distance of the drawn
vertices from it; its COVERAGE is the drawn share of the full turn.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import exp, floor, hypot, log, sqrt

import numpy as np

from ....model.arrays import Array
from ..drawing import Curve
from .places import places
from .plane import Vec
from .walks import joined, vertices_along, walks

FIT = 0.006  # greatest error over radius for something to be called round (a 20-gon's vertices fit exactly)
THROUGH = 1e-3  # the same for points a spline was laid through
# greatest distance over radius of such a spline from their circle, between the points
BULGING = 0.03
# the same for a whole circle drawn by hand over a scan, of at least so many vertices
TRACED = 0.012
TRACED_VERTICES = 20  # least, for a circle drawn by hand
LEAST_TRACED = 4.0  # radius of a traced circle over the wobble
STRAY = 5e-4  # error over radius of both wheels from which a drawing was traced by hand
FULL = 0.97  # coverage of a closed circle
OPEN = 0.2  # of the radius between an arc's ends; a circle's gap of 1 - FULL is 0.19 wide
LEAST_COVERAGE = 0.5  # arcs that together show less than half a circle are no wheel
# the same where no frame is found otherwise: only arcs as such, whose radius is exact
SHORT_COVERAGE = 0.15
LEAST_VERTICES = 8  # of a polyline that is fitted: fewer lie near a circle by chance
SAME = 1e-4  # centre and radius agree within this share of the radius: the same circle drawn twice
ARCS_TOGETHER = 4e-3  # the same for arcs that make up one circle
LEAST_FIT_POINTS = 5  # of a spline laid through them; three lie on a circle whatever they are
LEAST_ARC = 0.04  # coverage, some 15 degrees, below which a fitted arc says nothing of its centre
SLACK_WOBBLE = 1.2  # times the wheels' own error: shorter lines stray a little more
LEAST_CELL = 1e-9  # drawing units; a speck of no size has a cell too
HALF_CELLS = (0.0, 0.5)  # a cell and its neighbour on the nearer side
ARC_BUDGET = 600  # partial arcs looked at, largest first; a wheel is among the largest


@dataclass(frozen=True)
class Round:
    """centre, radius, error in drawing units; curves: indices it is drawn with; copies: drawn again by these;
    inside: how far the sides of a polygon lie inside the circle through its corners."""

    centre: Vec
    radius: float
    error: float
    coverage: float
    curves: tuple[int, ...]
    copies: tuple[int, ...] = ()
    inside: float = 0.0


@dataclass(frozen=True, eq=False)
class _Arc:
    centre: Vec
    radius: float
    error: float
    coverage: float
    points: Array
    curves: tuple[int, ...]


def find_rounds(curves: Sequence[Curve], least: float = LEAST_COVERAGE) -> list[Round]:
    """Every circle in the drawing, largest first. `least` : share of a circle that arcs must show together."""
    arcs = [arc for i in _looked_at(curves) if (arc := _arc_of(i, curves[i])) is not None]
    arcs += _arcs_of_short_lines(curves)
    full = [arc for arc in arcs if arc.coverage >= FULL]
    partial = sorted((arc for arc in arcs if arc.coverage < FULL), key=lambda arc: -arc.radius)[
        :ARC_BUDGET
    ]
    rounds = [Round(a.centre, a.radius, a.error, 1.0, a.curves, inside=_inside(a)) for a in full]
    rounds += _gathered(partial, least)
    return _without_copies(sorted(rounds, key=lambda r: -r.radius))


def _looked_at(curves: Sequence[Curve]) -> list[int]:
    """Every curve but open arcs; of thousands of these the largest, as no more are put together to circles anyway."""
    arcs = [i for i, curve in enumerate(curves) if curve.kind == "arc" and curve.radius]
    radius = np.array([curves[i].radius for i in arcs], float)
    at = places([curves[i] for i in arcs])
    # ends so far apart that the arc shows no whole circle
    wide = np.hypot(*(at[:, 2] - at[:, 0]).T) > OPEN * radius
    open_arcs = np.array(arcs, np.int64)[wide]
    largest = np.argsort(-radius[wide], kind="stable")
    passed = set(open_arcs[largest[ARC_BUDGET:]].tolist())
    return [i for i in range(len(curves)) if i not in passed]


def _arc_of(index: int, curve: Curve) -> _Arc | None:
    if curve.kind == "circle" and curve.centre and curve.radius:
        return _Arc(curve.centre, curve.radius, 0.0, 1.0, curve.points, (index,))
    if curve.kind == "arc" and curve.centre and curve.radius:
        share = coverage(curve.points, curve.centre)
        return _Arc(curve.centre, curve.radius, 0.0, share, curve.points, (index,))
    if curve.construction or len(curve.points) < LEAST_VERTICES:
        return None
    arc = _fitted(curve.points, (index,), by_hand=curve.kind == "polyline")
    if arc is not None and curve.closed and arc.coverage < FULL:
        return None  # a band along an arc, as a mudguard's: its loop is no circle
    return arc or _laid_through(index, curve)


def _laid_through(index: int, curve: Curve) -> _Arc | None:
    """The circle a spline was laid through, where between its fit points it does not quite follow it."""
    if curve.fit is None or len(np.unique(curve.fit, axis=0)) < LEAST_FIT_POINTS:
        return None
    centre, radius, error = fit_circle(curve.fit)
    off = np.abs(np.hypot(*(curve.points - centre).T) - radius).max()
    if not radius > 0 or error > THROUGH * radius or off > BULGING * radius:
        return None
    return _Arc(centre, radius, float(off), coverage(curve.points, centre), curve.points, (index,))


def _fitted(points: Array, owners: tuple[int, ...], by_hand: bool = False) -> _Arc | None:
    centre, radius, error = fit_circle(points)
    if not radius > 0 or error > TRACED * radius:
        return None
    share = coverage(points, centre)
    traced = by_hand and len(points) >= TRACED_VERTICES and share >= FULL
    if error > FIT * radius and not traced:
        return None
    if share >= LEAST_ARC:
        return _Arc(centre, radius, error, share, points, owners)
    return None


def wobble(rounds: Sequence[Round]) -> float:
    """How far hand-drawn lines stray, from the two largest circles drawn with vertices; 0 for a clean drawing."""
    largest = [r for r in rounds if r.coverage >= FULL and len(r.curves) == 1][:2]
    if len(largest) < 2 or any(r.error < STRAY * r.radius for r in largest):
        return 0.0
    return SLACK_WOBBLE * max(r.error for r in largest)


def with_traced(curves: Sequence[Curve], rounds: list[Round], wobble: float) -> list[Round]:
    """The circles and those small ones that a traced drawing shows as loops straying by no more than its `wobble`."""
    if not wobble:
        return rounds
    held = {i for r in rounds for i in (*r.curves, *r.copies)}
    more = []
    for index, curve in enumerate(curves):
        if index in held or not curve.closed or len(curve.points) < LEAST_VERTICES:
            continue
        centre, radius, error = fit_circle(curve.points)
        whole = radius > 0 and coverage(curve.points, centre) >= FULL
        if whole and error <= wobble and radius >= LEAST_TRACED * wobble:
            more.append(Round(centre, radius, error, 1.0, (index,)))
    return sorted([*rounds, *more], key=lambda r: -r.radius)


def fit_circle(points: Array) -> tuple[Vec, float, float]:
    """Least-squares circle through vertices (Kåsa's start, two Gauss-Newton steps): centre, radius, error."""
    mean = points.mean(axis=0)
    rel = points - mean
    size = float(np.abs(rel).max()) or 1.0
    # scaled to about 1, or the squares of large coordinates would swamp the fit
    rel = rel / size
    system = np.column_stack((2 * rel, np.ones(len(rel))))
    solution = np.linalg.lstsq(system, (rel**2).sum(axis=1), rcond=None)[0]
    centre = solution[:2]
    radius = float(np.sqrt(max(solution[2] + (solution[:2] ** 2).sum(), 0.0)))
    for _ in range(2):
        to = rel - centre
        distance = np.hypot(*to.T)
        if not radius > 0 or not (distance > 0).all():
            return (0.0, 0.0), 0.0, np.inf
        jacobian = np.column_stack((-to / distance[:, None], -np.ones(len(rel))))
        step = np.linalg.lstsq(jacobian, radius - distance, rcond=None)[0]
        centre = centre + step[:2]
        radius = radius + float(step[2])
    error = float(np.abs(np.hypot(*(rel - centre).T) - radius).max())
    at = centre * size + mean
    return (float(at[0]), float(at[1])), radius * size, error * size


def _inside(arc: _Arc) -> float:
    """Greatest sagitta of the sides; 0 for what the file holds as a circle or a smooth curve."""
    if arc.error == 0.0:
        return 0.0
    side = float(np.hypot(*np.diff(arc.points, axis=0).T).max())
    return arc.radius - sqrt(max(arc.radius**2 - side**2 / 4, 0.0))


def coverage(points: Array, centre: Vec) -> float:
    """Share of the full turn the vertices go round the centre, 0 to 1."""
    # unwrapped, or an arc across 180 degrees would seem to go all round
    angle = np.unwrap(np.arctan2(points[:, 1] - centre[1], points[:, 0] - centre[0]))
    return min(float(np.ptp(angle)) / (2 * np.pi), 1.0)


def _gathered(arcs: list[_Arc], least: float) -> list[Round]:
    """Arcs with one centre and radius put together; kept when they show enough of the circle."""
    rounds: list[Round] = []
    free = list(arcs)
    while free:
        lead = free[0]
        tolerance = ARCS_TOGETHER * lead.radius
        near = [
            a
            for a in free
            if lead.radius - a.radius <= tolerance and _apart(a.centre, lead.centre) <= tolerance
        ]
        # by identity: the same arc drawn twice is two curves, and both belong to the circle
        gathered = {id(a) for a in near}
        free = [a for a in free if id(a) not in gathered]
        share = sum(a.coverage for a in near)
        exact = all(a.error == 0.0 for a in near)
        if share >= LEAST_COVERAGE or (share >= least and exact):
            rounds.append(_together(near, share))
    return rounds


def _together(arcs: list[_Arc], share: float) -> Round:
    owners = tuple(dict.fromkeys(i for a in arcs for i in a.curves))
    exact = all(
        _apart(a.centre, arcs[0].centre) + abs(a.radius - arcs[0].radius) <= SAME * a.radius
        for a in arcs
    )
    if exact and all(a.error == 0.0 for a in arcs):
        return Round(arcs[0].centre, arcs[0].radius, 0.0, min(share, 1.0), owners)
    # Ends lie on the circle even where a spline only approximates it between (a cubic quarter: 0.027 %).
    ends = np.vstack([a.points[[0, len(a.points) // 2, -1]] for a in arcs])
    centre, radius, error = fit_circle(ends)
    return Round(centre, radius, error, min(share, 1.0), owners)


def _without_copies(rounds: list[Round]) -> list[Round]:
    """Circles drawn twice become one that remembers its copies. `rounds` is sorted by radius."""
    kept: list[Round] = []
    shelf: dict[tuple[int, int, int], int] = {}
    for r in rounds:
        keys = _shelf_keys(r)
        twin = next((shelf[k] for k in keys if k in shelf and _same(kept[shelf[k]], r)), None)
        if twin is None:
            shelf.update(dict.fromkeys(keys, len(kept)))
            kept.append(r)
        else:
            k = kept[twin]
            kept[twin] = replace(k, copies=k.copies + r.curves)
    return kept


def _shelf_keys(r: Round) -> list[tuple[int, int, int]]:
    """Grid cells a circle may share with its copy: the cell it is in and the nearer neighbours."""
    step = 4 * SAME
    size = floor(log(r.radius) / step)
    keys = []
    for shelf in (size, size + 1):
        # one cell for all sizes of a shelf, or far from the origin copies a little smaller would miss it
        cell = max(step * exp(shelf * step), LEAST_CELL)
        x = r.centre[0] / cell
        y = r.centre[1] / cell
        keys += [(shelf, floor(x + i), floor(y + j)) for i in HALF_CELLS for j in HALF_CELLS]
    return keys


def _same(a: Round, b: Round) -> bool:
    return (
        abs(a.radius - b.radius) <= SAME * a.radius
        and _apart(a.centre, b.centre) <= SAME * a.radius
    )


def _apart(p: Vec, q: Vec) -> float:
    return hypot(p[0] - q[0], p[1] - q[1])


# --- circles of many short lines -----------------------------------------------------------------------


def _arcs_of_short_lines(curves: Sequence[Curve]) -> Iterable[_Arc]:
    """Chains of short lines that touch end to end and together follow one circle."""
    index = [
        i
        for i, c in enumerate(curves)
        if len(c.points) < LEAST_VERTICES
        and not c.closed
        and not c.construction
        and c.kind in ("line", "polyline", "arc")
    ]
    if len(index) < 2:
        return []
    node = joined(places([curves[i] for i in index])[:, [0, 2]])
    arcs = []
    for walk in walks(node):
        runs = [curves[index[k]].points for k in walk]
        if len(runs) > 1 and sum(len(run) - 1 for run in runs) >= LEAST_VERTICES - 2:
            points = vertices_along(runs)
            # a line drawn there and back adds none
            enough = len(np.unique(points, axis=0)) >= LEAST_VERTICES - 1
            if enough:
                arc = _fitted(points, tuple(index[k] for k in walk))
            else:
                arc = None
            if arc is not None:
                arcs.append(arc)
    return arcs
