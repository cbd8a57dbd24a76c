"""A drawing of several riders folded up: what lies between their seat tubes taken out, the rear end moved forward."""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from math import atan2, cos, sin, sqrt

import numpy as np

from ....model.arrays import Array
from ..drawing import Curve, Drawing
from ..labelling.seat_tubes import Row
from ..linework.lines import Candidate, crossing
from ..linework.plane import Vec
from ..linework.pose import Pose, pose_of
from .free_lines import FreeLines, FreeTube, tubes_of

# wheel radii from a seat tube's axis
EITHER = 0.1  # what ends so near may belong to either side
BEHIND = 0.14  # what begins there and reaches so far behind belongs to the rear end
OUTSIDE = 0.07  # behind the tube's own edge: a short piece that is no part of the tube
# A tube that runs on before the first seat tube, rough mm by a wheel of `MM` radius.
MM = 340.0
LONG = 0.5  # wheel radii that it and the one behind reach
LEAST_HIGH = 80.0  # above the bracket
MET = 14.0  # between where the two meet the seat tube
# sine of the slope up to which a line that runs past all seat tubes is the ground and stays
LEVEL = 0.05


@dataclass(frozen=True, eq=False)
class Fold:
    """The drawing folded up. rear : curves that were moved; between : those taken out; parts : number of a further
    curve of the folded drawing -> the curve that it is a part of. turn, shift : moved = turn @ drawn + shift."""

    drawing: Drawing
    rear: frozenset[int]
    between: frozenset[int]
    parts: Mapping[int, int]
    turn: Array
    shift: Array

    def back(self, points: Array) -> Array:
        """Where moved points (..., 2) were drawn."""
        drawn: Array = (points - self.shift) @ self.turn
        return drawn


def fold(drawing: Drawing, row: Row, aside: Collection[int] = ()) -> Fold:
    """The drawing as a single bicycle. aside : curves before the first seat tube that are no single bicycle's."""
    pose = pose_of_row(row)
    turn, shift = _motion(row, pose)
    curves = list(drawing.curves)
    rear: set[int] = set()
    between: set[int] = set()
    parts: dict[int, int] = {}
    for i, curve in enumerate(drawing.curves):
        for k, (side, part) in enumerate(_sides(curve, row, pose)):
            at = i
            if k:
                at = len(curves)
                parts[at] = i
                curves.append(part)
            if side > 0:
                rear.add(at)
                curves[at] = _moved(part, turn, shift)
            elif side == 0 or i in aside:
                between.add(at)
                # kept as a construction line, so that the numbers of all other curves stay
                curves[at] = replace(part, construction=True, radius=None, kind="line")
            else:
                curves[at] = part
    folded = replace(drawing, curves=tuple(curves), others=())
    return Fold(folded, frozenset(rear), frozenset(between), parts, turn, shift)


def pose_of_row(row: Row, scale: float = 1.0) -> Pose:
    return pose_of(row.rear, row.front, *row.radii, row.mirrored, scale)


def _motion(row: Row, pose: Pose) -> tuple[Array, Array]:
    """The rigid motion of the rear end: turn (2, 2) and shift (2,), in drawing units."""
    first, last, axle = (
        np.array(pose.apply(p)) for p in (row.brackets[0], row.brackets[-1], row.rear)
    )
    chainstay = float(np.hypot(*(axle - last)))
    rise = float(axle[1] - first[1])
    to = first + np.array([-sqrt(max(chainstay**2 - rise**2, 0.0)), rise])
    before = axle - last
    after = to - first
    angle = atan2(after[1], after[0]) - atan2(before[1], before[0])
    # mirrored axes turn the other way round
    if pose.mirrored:
        angle = -angle
    turn = np.array([[cos(angle), -sin(angle)], [sin(angle), cos(angle)]])
    shift = np.array(row.brackets[0]) - turn @ np.array(row.brackets[-1])
    return turn, shift


def _moved(curve: Curve, turn: Array, shift: Array) -> Curve:
    centre = curve.centre
    if centre is not None:
        x, y = (turn @ np.array(centre) + shift).tolist()
        centre = (x, y)
    fit = None if curve.fit is None else curve.fit @ turn.T + shift
    return replace(curve, points=curve.points @ turn.T + shift, centre=centre, fit=fit)


def _sides(curve: Curve, row: Row, pose: Pose) -> Iterator[tuple[int, Curve]]:
    """The curve, or what it is made of, with its side: 1 behind the last seat tube, 0 between, -1 before."""
    radius = row.radii[1]
    if curve.centre is not None:
        points = pose.apply_all(np.array([curve.centre, curve.centre]))
    else:
        points = pose.apply_all(curve.points)
    behind = _behind(points, pose, row.brackets[-1], row.ups[-1]) / radius
    before = -_behind(points, pose, row.brackets[0], row.ups[0]) / radius
    if _is_ground(points, behind, before):
        yield -1, curve
        return
    # of each run between two vertices
    rear = np.minimum(behind[:-1], behind[1:]) >= -EITHER
    rear &= np.maximum(behind[:-1], behind[1:]) >= BEHIND
    rear |= np.minimum(behind[:-1], behind[1:]) >= OUTSIDE
    fore = np.minimum(before[:-1], before[1:]) >= -EITHER
    side = np.where(rear, 1, np.where(fore, -1, 0))
    if curve.centre is not None or len(curve.points) == 2 or len(set(side.tolist())) == 1:
        yield int(side[0]), curve
        return
    starts = [0, *(np.flatnonzero(np.diff(side)) + 1).tolist(), len(side)]
    for first, last in pairwise(starts):
        part = replace(curve, points=curve.points[first : last + 1], closed=False, fit=None)
        yield int(side[first]), part


def going_on(row: Row, lines: FreeLines) -> frozenset[int]:
    """Curves of tubes that run on before the first seat tube from where one behind it ends, below the top tube.

    lines : with their ends in drawing units.
    """
    pose = pose_of_row(row, MM / row.radii[1])
    ends = pose.apply_all(lines.drawn)
    foot = np.array(pose.apply(row.brackets[0]))
    behind = _behind(ends.reshape(-1, 2), pose, row.brackets[0], row.ups[0]).reshape(-1, 2) / MM
    level = FreeLines(ends - foot, lines.drawn, lines.curves)
    on = np.abs(behind).min(axis=1) <= EITHER
    fore = _ending(level.only(on & (behind.min(axis=1) <= -LONG)), row, pose)
    rear = _ending(level.only(on & (behind.max(axis=1) >= LONG)), row, pose)
    highest = max((high for high, _ in fore), default=0.0)
    found: set[int] = set()
    for high, tube in fore:
        met = min((abs(high - other) for other, _ in rear), default=np.inf)
        if high < highest and met <= MET:
            found |= {*tube.curves}
    return frozenset(found)


def _ending(lines: FreeLines, row: Row, pose: Pose) -> list[tuple[float, FreeTube]]:
    """Tubes with how high up the first seat tube they end, rough mm, those at its bracket left out."""
    bracket = row.brackets[0]
    up = row.ups[0]
    foot = pose.apply(bracket)
    top = pose.apply((bracket[0] + up[0], bracket[1] + up[1]))
    seat = Candidate((0.0, 0.0), (top[0] - foot[0], top[1] - foot[1]))
    found = []
    for tube in tubes_of(lines):
        at = crossing(tube.line, seat)
        if at is not None and seat.along(at) > LEAST_HIGH:
            found.append((seat.along(at), tube))
    return found


def _behind(points: Array, pose: Pose, foot: Vec, up: Vec) -> Array:
    """How far points (n, 2) in the pose's axes lie behind a seat tube's axis."""
    at = np.array(pose.apply(foot))
    u = np.array(pose.apply((foot[0] + up[0], foot[1] + up[1]))) - at
    rel = points - at
    behind: Array = (u[0] * rel[:, 1] - u[1] * rel[:, 0]) / np.hypot(*u)
    return behind


def _is_ground(points: Array, behind: Array, before: Array) -> bool:
    """A level line below the wheels that runs past the first and the last seat tube."""
    if behind.max() < BEHIND or before.max() < BEHIND:
        return False
    rise = abs(points[-1, 1] - points[0, 1])
    return bool(rise <= LEVEL * abs(points[-1, 0] - points[0, 0]) and points[:, 1].max() < 0)
