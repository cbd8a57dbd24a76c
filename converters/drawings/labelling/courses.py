"""The course of a curved member: its drawn runs walked from end to end, or the middle between two curved edges, and
where it meets the axis of the tube it ends on."""

from collections.abc import Sequence
from math import hypot, isinf

import numpy as np

from ....model.arrays import Array, run_of
from ..linework.lines import Candidate
from ..linework.plane import Vec
from ..linework.pose import Pose
from ..linework.view import View

ENDED = 1.0  # mm from the end of an edge at which its walk is over
# mm of the course's end that tell how it goes on: the longest that one parabola follows
TELLING = (150.0, 75.0, 37.0)
FOLLOWED = 0.05  # mm by which the parabola may miss the drawn points
GOES_ON = 80.0  # mm that a course is followed beyond what is drawn
STEP = 0.5  # mm between points of what it is followed by
LEAST_POINTS = 4  # of a run that a spline can go through
CLOSE = 5.0  # mm between the points of a smoothed run
AXIS = 2000.0  # mm that an axis is run on; no member is longer


def course(view: View, pose: Pose, line: Candidate) -> Array:
    """The middle of a curved member from its first to its last end, (k, 2) in the axes of `pose`."""
    if line.edges:
        return _between(*_edges(view, pose, line))
    return walked(line.p, _runs(view, pose, line), line.q)


def width(view: View, pose: Pose, tube: Candidate) -> float | None:
    """The most that the two edges of a curved tube stand apart, square to them; None where they lie nowhere beside
    each other. Their ends, which a mitre cuts aslant, say nothing of it."""
    apart = beside(*_edges(view, pose, tube))
    if isinf(apart):
        return None
    return apart


def _edges(view: View, pose: Pose, tube: Candidate) -> tuple[Array, Array]:
    runs = _runs(view, pose, tube)
    (a, a_end), (b, b_end) = tube.edges
    return walked(a, runs, a_end, stop=True), walked(b, runs, b_end, stop=True)


def _runs(view: View, pose: Pose, line: Candidate) -> list[Array]:
    """What a member is drawn with, each run in the axes of `pose`."""
    straight = [pose.apply_all(view.strokes.ends[k].reshape(2, 2)) for k in line.strokes]
    return straight + [_smooth(pose.apply_all(view.bents[k].points)) for k in line.bents]


def _smooth(run: Array) -> Array:
    """A curved run with points close together: its own may be chords of an arc, which lie beside it."""
    from scipy.interpolate import CubicSpline

    at = run_of(run)
    if len(run) < LEAST_POINTS or not np.all(np.diff(at) > 0.0):
        return run
    places = np.union1d(at, np.linspace(0.0, at[-1], int(at[-1] / CLOSE) + 2))
    return np.asarray(CubicSpline(at, run)(places))


def walked(start: Vec, runs: Sequence[Array], end: Vec, stop: bool = False) -> Array:
    """Runs joined end to start, each turned to begin where the walk stands. `stop` : only as many as lead to `end`."""
    here = np.array(start)
    goal = np.array(end)
    left = list(runs)
    path: list[Array] = []
    while left and not (stop and path and _apart(here, goal) <= ENDED):
        ends = [min(_apart(here, run[0]), _apart(here, run[-1])) for run in left]
        run = left.pop(int(np.argmin(ends)))
        if _apart(here, run[-1]) < _apart(here, run[0]):
            run = run[::-1]
        path.append(run)
        here = run[-1]
    points = np.concatenate(path)
    # where runs touch, a point stands twice
    new = np.ones(len(points), bool)
    new[1:] = np.hypot(*np.diff(points, axis=0).T) > FOLLOWED
    return np.asarray(points[new])


def _apart(a: Array, b: Array) -> float:
    return hypot(a[0] - b[0], a[1] - b[1])


def _between(one: Array, other: Array) -> Array:
    """Midway between two edges, where one lies beside the other."""
    import shapely

    edge = shapely.LineString(other)
    at = shapely.line_locate_point(edge, shapely.points(one))
    beside = (at > 0.0) & (at < edge.length)
    # edges that lie nowhere side by side have their ends alone in common
    if np.count_nonzero(beside) < 2:
        return np.asarray((one[[0, -1]] + other[[0, -1]]) / 2)
    feet = shapely.get_coordinates(shapely.line_interpolate_point(edge, at[beside]))
    return np.asarray((one[beside] + feet) / 2)


def beside(path: Array, other: Array) -> float:
    """How far another course lies from this one at most, mm, where it runs beside it; endless where it does not."""
    import shapely

    mine = shapely.LineString(path)
    points = shapely.points(other)
    at = shapely.line_locate_point(mine, points)
    along = (at > 0.0) & (at < mine.length)
    if not along.any():
        return np.inf
    return float(shapely.distance(points[along], mine).max())


def end_on(path: Array, axis: Candidate) -> Vec | None:
    """Where a course meets an axis at its last end, followed beyond what is drawn; None where it passes it by."""
    import shapely

    whole = np.vstack((path, _onward(path)))
    line = shapely.LineString((axis.at(-AXIS), axis.at(axis.length + AXIS)))
    met = shapely.get_coordinates(shapely.intersection(shapely.LineString(whole), line))
    # of several crossings the one at this end
    near = [
        point
        for point in met.tolist()
        if hypot(point[0] - path[-1][0], point[1] - path[-1][1]) <= GOES_ON
    ]
    if not near:
        return None
    x, y = near[-1]
    return (x, y)


def _onward(path: Array) -> Array:
    """How a course goes on beyond its last point: along the parabola through its end."""
    run = run_of(path)
    for telling in TELLING:
        last = path[run >= run[-1] - min(telling, run[-1] / 2)]
        # a straight end has its two points alone
        if len(last) < 3:
            last = path[-2:]
        u = last[-1] - last[0]
        u = u / np.hypot(*u)
        rel = last - last[-1]
        along = rel @ u
        across = rel @ np.array([-u[1], u[0]])
        fit = np.polyfit(along, across, min(2, len(last) - 1))
        if np.abs(np.polyval(fit, along) - across).max() <= FOLLOWED:
            break
    ahead = np.arange(STEP, GOES_ON, STEP)
    beside = np.polyval(fit, ahead)
    return np.asarray(last[-1] + ahead[:, None] * u + beside[:, None] * np.array([-u[1], u[0]]))
