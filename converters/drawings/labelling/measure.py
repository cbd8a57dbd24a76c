"""Dimensions measured on a labelled side view: nodes settled, ground levelled, tubes cut with one another.

Definitions as in model.geometry.dimensions: the steering axis is the head tube's centre-line; every
junction is where two centre-lines cross, so that gaps, overruns and mitres do not matter; the fork
begins at its crown on the axis.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import atan2, degrees, hypot

import numpy as np

from ....model.geometry.dimensions import FrameDimensions
from ..linework.lines import Candidate, crossing
from ..linework.plane import Vec
from ..linework.pose import pose_of
from ..linework.rounds import Round
from .fork import cut_by
from .members import Labelled
from .nodes import Node
from .steering import Ends, settle_ends
from .witnesses import axle, bottom_bracket, lateral_noise

TOLERANCE = 0.05  # mm; things drawn nearer than this are drawn in the same place
COARSEST = 0.5  # mm; even a drawing in whole millimetres is not read more loosely
ON_AXIS = 0.002  # mm; an end this near the steering axis is on it, however clean the drawing
OVERRUN = 9.0  # mm; a blade's centre-line that runs on past the axis by more does so on purpose
AT_JUNCTION = 1.5  # mm; a piece of the seat tube that ends this near a junction is merely cut there
FLUSH = 2.6  # mm by which a fork may start above the head tube's lower end and still be meant to start there
WITHIN_STEPS = 1.5  # steps of the drawing's digits by which an end may miss the axis and lie on it
ROUNDED_BELOW = 0.02  # mm below nought that are rounding in the tidiest drawing
NO_JUNCTION = 150.0  # mm up the seat tube from which its end is looked for where no tube joins it
# mm below the seat tube's end, where a tube joins it at no place that can be told
SHORT_OF_END = 1.0


@dataclass(frozen=True, eq=False)
class Measured:
    """Everything measured, mm, in the final pose.

    noise: how far the drawing disagrees with itself; crown_by: how the crown was found; crown_miss: distance of
    the fork's drawn start from the axis; crown_gap: what was added or cut along the fork to reach the axis;
    flush: by how much the fork starts above the head tube's lower end (then taken as starting there); ends: how
    what is drawn along the steering axis was shared out.
    """

    labelled: Labelled
    rear: Node
    front: Node
    bb: Node
    axis: Candidate
    head_bottom: float
    head_top: float
    crown: float
    crown_by: str
    crown_miss: float
    crown_gap: float
    flush: float
    noise: float
    resolution: float
    ends: Ends
    dimensions: FrameDimensions


def measure(labelled: Labelled, rounds: Sequence[Round], resolution: float) -> Measured:
    """Settle the nodes, level the ground again if that moved an axle, and measure. Raises ModelError for a
    dimension no bicycle has (see model.geometry.dimensions.LIMITS). `resolution`: step of the drawing's digits, mm."""
    tolerance = min(max(TOLERANCE, 3 * resolution), COARSEST)
    rear = axle("rear axle", labelled, tolerance)
    front = axle("front axle", labelled, tolerance)
    pose = labelled.pose
    level = pose_of(
        pose.back(rear.at),
        pose.back(front.at),
        labelled.reading.rear.tyre.radius,
        labelled.reading.front.tyre.radius,
        pose.mirrored,
        pose.scale,
    )
    # the ground hangs on both axles, so a settled axle may tilt all the rest
    moved = labelled.moved(level)
    rear = axle("rear axle", moved, tolerance)
    front = axle("front axle", moved, tolerance)
    bb = bottom_bracket(moved, rounds, tolerance)
    noise = max(resolution, rear.spread, front.spread, bb.spread, *lateral_noise(rear, bb))
    return _measured(moved, rear, front, bb, noise, resolution)


# --- the steering axis and what lies on it --------------------------------------------------------------


def on_axis(noise: float, resolution: float) -> float:
    """How near the axis an end must lie to be taken as drawn on it."""
    return max(ON_AXIS, 3 * noise, WITHIN_STEPS * resolution)


def _steering_axis(lab: Labelled, near: float) -> Candidate:
    """Line through the head tube's ends and every fork end drawn on it (least squares across)."""
    points = [lab.axis.p, lab.axis.q]
    fork = lab.fork
    if fork is not None and fork.start is not None and abs(lab.axis.lateral(fork.start)) <= near:
        points.append(fork.start)
    if fork is not None and fork.kind in ("path", "axis"):
        view = lab.reading.view
        pose = lab.pose
        for k in fork.strokes:
            ends = pose.apply_all(view.strokes.ends[k].reshape(2, 2)).tolist()
            if all(abs(lab.axis.lateral((x, y))) <= near for x, y in ends):
                points += [(x, y) for x, y in ends]
    if len(points) == 2:
        return lab.axis
    table = np.array(points)
    centre = table.mean(axis=0)
    direction = np.linalg.svd(table - centre)[2][0]
    if direction @ np.array(lab.axis.u) > 0:
        direction = direction
    else:
        direction = -direction
    along = (table - centre) @ direction
    px, py = (centre + along.min() * direction).tolist()
    qx, qy = (centre + along.max() * direction).tolist()
    return Candidate((px, py), (qx, qy), lab.axis.strokes)


def head_ends(lab: Labelled, axis: Candidate) -> tuple[float, float]:
    """Lower and upper end of the head tube along the axis."""
    tube = lab.members["head_tube"].tube
    picked = lab.reading.view.evidence.named("head_tube")
    if tube is not None and picked:
        return _picked_ends(lab, axis, picked)
    if tube is None:
        return axis.along(lab.head_bottom), axis.along(lab.head_top)
    return tube_end(tube, axis, upper=False), tube_end(tube, axis, upper=True)


def _picked_ends(lab: Labelled, axis: Candidate, picked: set[int]) -> tuple[float, float]:
    """The ends of the picked lines themselves, whatever goes on beyond them."""
    view = lab.reading.view
    held = [k for k in range(len(view.owner)) if int(view.owner[k]) in picked]
    ends = lab.pose.apply_all(view.pieces[held].reshape(-1, 2)).tolist()
    bents = [b.points[[0, -1]] for b in view.bents if b.owner in picked]
    for pair in bents:
        ends += lab.pose.apply_all(pair).tolist()
    at = [axis.along((x, y)) for x, y in ends]
    return min(at), max(at)


NEAR_SHELL = 45.0  # mm from the bottom bracket in which a piece of the seat tube begins
LEVEL = 0.3  # mm; edges that end this level are cut square together


def tube_end(tube: Candidate, axis: Candidate, upper: bool) -> float:
    """Where an outline's end cuts its axis. Edges end level; where one is open for another tube that joins at
    the very end, the longer one shows the end."""
    if upper:
        side = 1
    else:
        side = 0
    ends = [axis.along(e[side]) for e in tube.edges]
    if abs(ends[0] - ends[1]) <= LEVEL:
        at = cut_by(axis, tuple(e[side] for e in tube.edges))
        if at is not None:
            return at
        return sum(ends) / 2
    if upper:
        return max(ends)
    return min(ends)


def _crown(lab: Labelled, axis: Candidate, near: float) -> tuple[float, str, float, float]:
    """Where the fork begins on the axis: (distance along it, how found, miss across, gap along the fork).

    A straight blade meets the axis at only some 7 degrees: its crossing multiplies any error across by eight, so
    the drawn end is preferred as long as it lies on the axis within what the drawing is good for.
    """
    fork = lab.fork
    crown = lab.crown
    assert fork is not None
    assert crown is not None
    if fork.kind == "tube" and fork.line is not None:
        at = cut_by(axis, tuple(e[1] for e in fork.line.edges))
        if at is not None:
            return at, "the blade's upper ends", abs(axis.lateral(fork.line.q)), 0.0
    if fork.start is not None and fork.kind != "line":
        miss = abs(axis.lateral(fork.start))
        if miss <= near or fork.line is None:
            return axis.along(fork.start), "the fork's upper end", miss, 0.0
    if fork.line is None:
        at_crossing = None
    else:
        at_crossing = crossing(axis, fork.line)
    if at_crossing is not None and fork.line is not None:
        gap = fork.line.along(at_crossing) - fork.line.length
        if fork.start is None or abs(gap) <= FLUSH or gap < -OVERRUN:
            return axis.along(at_crossing), "where the fork's line crosses the axis", 0.0, gap
        return axis.along(fork.start), "the fork's upper end", abs(axis.lateral(fork.start)), 0.0
    return (
        axis.along(crown),
        "the fork's upper edges" if fork.kind == "edges" else "the fork's upper end",
        0.0,
        0.0,
    )


# --- dimensions -----------------------------------------------------------------------------------------


def _measured(
    lab: Labelled, rear: Node, front: Node, bb: Node, noise: float, resolution: float
) -> Measured:
    axis = _steering_axis(lab, on_axis(noise, resolution))
    low, high = head_ends(lab, axis)
    crown, crown_by, miss, gap = _crown(lab, axis, on_axis(noise, resolution))
    ends = settle_ends(lab, axis, low, high, crown, _nodes_on(lab, axis))
    low = ends.low
    high = ends.high
    if ends.crown != crown:
        crown = ends.crown
        crown_by = "the crown's upper face"
        miss = 0.0
        gap = 0.0
    if low < crown <= low + FLUSH:
        flush = crown - low
    else:
        flush = 0.0
    # a fork cannot start inside the head tube
    if flush:
        crown = min(crown, low)
    else:
        crown = crown
    low, high = _as_stated(lab.reading.view.evidence.lengths, low, high, crown)
    foot = axis.along(front.at)
    top = axis.at(high)
    seat = lab.members["seat_tube"]
    on_seat = _SeatTube(seat.line, bb.at)
    top_tube = lab.members.get("top_tube")
    down_tube = lab.members.get("down_tube")
    stay = None if "seatstay" in lab.loose else lab.members.get("seatstay")
    if top_tube is None:
        top_on_seat = None
    else:
        top_on_seat = on_seat.junction(top_tube.line.reversed())
    if stay is None:
        stay_on_seat = None
    else:
        stay_on_seat = on_seat.junction(stay.line)
    if top_tube is None:
        top_on_head = None
    else:
        top_on_head = junction(top_tube.line, axis)
    if down_tube is None:
        down_on_head = None
    else:
        down_on_head = junction(down_tube.line, axis)
    scale = lab.pose.scale
    dimensions = FrameDimensions(
        reach=top[0] - bb.at[0],
        head_angle=degrees(atan2(axis.u[1], -axis.u[0])),
        seat_angle=degrees(atan2(seat.line.u[1], -seat.line.u[0])),
        bb_drop=rear.at[1] - bb.at[1],
        chainstay=hypot(rear.at[0] - bb.at[0], rear.at[1] - bb.at[1]),
        head_tube=high - low,
        lower_stack=low - crown,
        fork_length=crown - foot,
        fork_offset=-axis.lateral(front.at),
        wheel_radius_front=lab.reading.front.tyre.radius * scale,
        wheel_radius_rear=lab.reading.rear.tyre.radius * scale,
        seat_tube=lab.reading.view.evidence.lengths.get("seat_tube") or on_seat.top(lab),
        top_tube_on_seat_tube=top_on_seat,
        top_tube_below_head_top=None if top_on_head is None else tidy(high - top_on_head, noise),
        down_tube_above_head_bottom=None
        if down_on_head is None
        else tidy(down_on_head - low, noise),
        seatstay_below_top_tube=None
        if top_on_seat is None or stay_on_seat is None
        else top_on_seat - stay_on_seat,
    )
    return Measured(
        lab,
        rear,
        front,
        bb,
        axis,
        low,
        high,
        crown,
        crown_by,
        miss,
        gap,
        flush,
        noise,
        resolution,
        ends,
        dimensions,
    )


def _as_stated(
    lengths: Mapping[str, float], low: float, high: float, crown: float
) -> tuple[float, float]:
    """The head tube's ends with the lengths that the builder states: the lower stack counts from the crown; the head
    tube from there where both are stated, else from its upper end down."""
    stack = lengths.get("lower_stack")
    head = lengths.get("head_tube")
    if stack is not None:
        low = crown + stack
    if head is None:
        return low, high
    if stack is None:
        return high - head, high
    return low, low + head


def _nodes_on(lab: Labelled, axis: Candidate) -> list[float]:
    """Where top tube and down tube cross the steering axis."""
    tubes = [lab.members[name].line for name in ("top_tube", "down_tube") if name in lab.members]
    return [at for line in tubes if (at := junction(line, axis)) is not None]


def tidy(value: float, noise: float) -> float:
    """A distance that cannot be negative, when it is so only by the drawing's own noise."""
    if -max(3 * noise, ROUNDED_BELOW) <= value < 0.0:
        return 0.0
    return value


def junction(tube: Candidate, onto: Candidate) -> float | None:
    """Where a tube meets another, as distance along the other: crossing of the lines, or a curved tube's end."""
    if tube.bents:
        return onto.along(tube.q)
    at = crossing(tube.last, onto)
    if at is None:
        return None
    return onto.along(at)


class _SeatTube:
    """Distances up the seat tube from the foot of the bottom bracket on its line."""

    def __init__(self, line: Candidate, bb: Vec) -> None:
        self.line = line
        self.start = line.along(bb)

    def junction(self, tube: Candidate) -> float | None:
        at = junction(tube, self.line)
        if at is None:
            return None
        return at - self.start

    def top(self, lab: Labelled) -> float:
        member = lab.members["seat_tube"]
        if member.tube is not None and not member.tube.bents:
            end = tube_end(member.tube, self.line, upper=True)
            return self._face(lab, member.tube, end) - self.start
        return seat_top(lab, self.line, self.start) - self.start

    def _face(self, lab: Labelled, tube: Candidate, end: float) -> float:
        """The tube's own face where its edges run on in a seatpost's: a line across where a piece of each edge ends."""
        above = max((at for at in _junctions(lab, self.line) if at is not None), default=end)
        view = lab.reading.view
        rel = lab.pose.apply_all(view.pieces.reshape(-1, 2, 2)) - np.array(self.line.p)
        along = self.line.u[0] * rel[..., 0] + self.line.u[1] * rel[..., 1]
        side = self.line.u[0] * rel[..., 1] - self.line.u[1] * rel[..., 0]
        half = (tube.diameter or 0.0) / 2
        across = np.abs(along[:, 0] - along[:, 1]) <= LEVEL
        across &= (side.min(axis=1) <= LEVEL - half) & (side.max(axis=1) >= half - LEVEL)
        across &= np.abs(side).max(axis=1) <= half + LEVEL
        faces = along[across].mean(axis=1)
        held = [k for stroke in tube.strokes for k in view.strokes.pieces[stroke]]
        for at in sorted(
            faces[(faces > above + AT_JUNCTION) & (faces < end - AT_JUNCTION)].tolist()
        ):
            ending = np.abs(along[held] - at).min(axis=1) <= LEVEL
            if len(set(np.sign(side[held].mean(axis=1))[ending])) == 2:
                return float(at)
        return end


def seat_top(lab: Labelled, line: Candidate, start: float) -> float:
    """Upper end of the seat tube along its line: the first natural end above the junctions (a seatpost drawn
    as the next piece of the same line is not seat tube)."""
    if len(line.strokes) != 1 or line.bents:
        return line.along(line.q)
    above = max(
        (line.along(line.q) - SHORT_OF_END if at is None else at for at in _junctions(lab, line)),
        default=start + NO_JUNCTION,
    )
    view = lab.reading.view
    (stroke,) = line.strokes
    x, y = lab.pose.apply(
        (float(view.strokes.ends[stroke, 0]), float(view.strokes.ends[stroke, 1]))
    )
    base = line.along((x, y))
    if base < line.length / 2:
        turn = 1.0
    else:
        turn = -1.0
    whole = [s for s in view.strokes.spans(stroke) if s.whole]
    spans = base + turn * lab.pose.scale * np.array([(s.start, s.end) for s in whole]).reshape(
        -1, 2
    )
    spans.sort(axis=1)
    # what lies within another piece was drawn twice there and ends nothing, if that one begins at the junctions, or if
    # it begins itself where nothing does: a tube begins at the bracket or at a junction, a line through it anywhere
    low = spans[:, 0]
    own = (low <= start + NEAR_SHELL) | (low >= above - AT_JUNCTION)
    covering = (spans[:, None, 0] >= low - LEVEL) & (spans[:, None, 1] < spans[:, 1] - LEVEL)
    covered = covering & ((low >= above - AT_JUNCTION) | ~own[:, None])
    ends = np.sort(spans[~covered.any(axis=1), 1])
    return next((float(e) for e in ends if e > above + AT_JUNCTION), line.along(line.q))


def _junctions(lab: Labelled, seat: Candidate) -> list[float | None]:
    out = []
    if "top_tube" in lab.members:
        out.append(junction(lab.members["top_tube"].line.reversed(), seat))
    if "seatstay" in lab.members and "seatstay" not in lab.loose:
        out.append(junction(lab.members["seatstay"].line, seat))
    return out
