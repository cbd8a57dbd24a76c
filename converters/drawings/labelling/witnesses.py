"""What speaks for where a node is: circles about it, crosses at it, ends and lines of the members that meet there."""

from collections.abc import Sequence
from math import hypot

import numpy as np

from ....model.arrays import Array
from ..linework.lines import Candidate
from ..linework.plane import Vec
from ..linework.pose import Pose, Site
from ..linework.rounds import FULL, Round
from .members import Labelled
from .nodes import CIRCLE, CROSS, LINE_END, SURE, Node, Witness, settle

MARK = (6.0, 120.0)  # mm: a line of a cross that marks an axle
MARK_REACH = 8.0  # mm from the wheel's centre to the cross's
MOST_MARKS = 40  # such lines looked at about one axle
SQUARE = 0.02  # sine by which a cross's lines may miss a right angle; share of their length their middles may
BESIDE_AXLE = 2.0  # mm; a small circle farther from the wheel's centre stands beside the axle
# mm radius of a bottom bracket shell; from an old cottered one to a fat bicycle's
SHELL_SIZE = (15.0, 32.0)
# mm radius; the largest circle that speaks for the bottom bracket (60 teeth have 121)
CHAINRING = 140.0
SLOPPY = 1.5  # mm; a member that passes its node farther off misses it on purpose, or is told by another check
BB_SITE = 34.0  # mm about the rough bottom bracket in which circles speak for it
EYELET = 4.0  # mm radius; smaller circles beside an axle are eyelets and bolts, not axle marks


def site_witnesses(site: Site, pose: Pose) -> list[Witness]:
    """Circles about one wheel: the tyre first, then rim, rotor, axle mark ..."""
    out = []
    for k, r in enumerate(site.rounds):
        if k and r.coverage < FULL <= site.tyre.coverage and r.radius > site.tyre.radius:
            continue  # a mudguard's arc
        size = r.radius * pose.scale
        at = pose.apply(r.centre)
        centre = pose.apply(site.centre)
        beside = hypot(at[0] - centre[0], at[1] - centre[1])
        # an eyelet, a bolt, a hole of the dropout: a circle that does not hold the axle is no mark of it
        if not (beside > BESIDE_AXLE and size < EYELET) and beside <= size:
            if k == 0:
                name = "the wheel's circle"
                rank = SURE
            else:
                name = f"the circle of radius {size:.4g} mm"
                rank = CIRCLE
            out.append(Witness(name, at, rank=rank, curves=r.curves))
    return out


def axle(name: str, lab: Labelled, tolerance: float) -> Node:
    is_rear = name == "rear axle"
    if is_rear:
        site = lab.reading.rear
    else:
        site = lab.reading.front
    witnesses = [*site_witnesses(site, lab.pose), *_cross_at(lab, site)]
    if is_rear:
        witnesses += [
            _line_witness(lab, member, start=True)
            for member in ("chainstay", "seatstay")
            if member in lab.members and not _curved_outline(lab, member)
        ]
    elif lab.fork is not None:
        witnesses += _fork_witness(lab)
    node = settle(name, witnesses, tolerance)
    assert node is not None  # the wheel's circle is always there
    return node


def _cross_at(lab: Labelled, site: Site) -> list[Witness]:
    """A cross of two short lines that marks an axle: square to each other, each other's middle."""
    view = lab.reading.view
    centre = np.array(lab.pose.apply(site.centre))
    ends = lab.pose.apply_all(view.strokes.ends.reshape(-1, 2, 2))
    middle = ends.mean(axis=1)
    step = ends[:, 1] - ends[:, 0]
    length = np.hypot(step[:, 0], step[:, 1])
    near = (length >= MARK[0]) & (length <= MARK[1])
    near &= np.hypot(*(middle - centre).T) <= MARK_REACH
    index = np.flatnonzero(near)[:MOST_MARKS].tolist()
    for n, a in enumerate(index):
        for b in index[n + 1 :]:
            apart = float(np.hypot(*(middle[a] - middle[b])))
            square = abs(float(step[a] @ step[b])) <= SQUARE * length[a] * length[b]
            if square and apart <= SQUARE * (length[a] + length[b]):
                # where the two cross: their ends may be set by eye
                x, y = _crossing_of(ends[a], step[b], ends[b])
                curves = tuple(view.curves_of((a, b)))
                return [Witness("the axle's cross", (x, y), rank=CROSS, curves=curves)]
    return []


def _crossing_of(one: Array, along_other: Array, other: Array) -> Vec:
    """Where two lines that are square to each other cross: the foot on one of a point of the other."""
    u = along_other / np.hypot(*along_other)
    x, y = (other[0] + ((one[0] - other[0]) @ u) * u).tolist()
    return x, y


def bottom_bracket(lab: Labelled, rounds: Sequence[Round], tolerance: float) -> Node:
    witnesses = []
    for r in rounds:
        at = lab.pose.apply(r.centre)
        size = r.radius * lab.pose.scale
        apart = hypot(at[0] - lab.bb[0], at[1] - lab.bb[1])
        # the rough place may be off, so a shell's circle counts from farther away than a bolt's
        if apart <= min(BB_SITE, max(size, SHELL_SIZE[0])) and EYELET <= size <= CHAINRING:
            if SHELL_SIZE[0] <= size <= SHELL_SIZE[1]:
                name = "the bottom bracket circle"
                rank = SURE
            else:
                name = f"the circle of radius {size:.4g} mm"
                rank = CIRCLE
            witnesses.append(Witness(name, at, rank=rank, curves=r.curves))
    for member, start in (("seat_tube", True), ("down_tube", True), ("chainstay", False)):
        if member in lab.members and not _curved_outline(lab, member):
            witnesses.append(_line_witness(lab, member, start))
    node = settle("bottom bracket", witnesses, tolerance)
    if node is not None:
        return node
    return Node("bottom bracket", lab.bb, (), (), 0.0)


def _line_witness(lab: Labelled, member: str, start: bool) -> Witness:
    """A member's end, or its line where only the line is known (an outline's middle ends somewhere in the mitre)."""
    m = lab.members[member]
    name = f"the {member.replace('_', ' ')}"
    if start:
        line = m.line.first
        end = line.p
    else:
        line = m.line.last
        end = line.q
    curves = _drawn_by(lab, m.line, end)
    if m.line.bents:
        return Witness(name + "'s end", end, rank=LINE_END, curves=curves)
    if start:
        out = (-line.u[0], -line.u[1])
    else:
        out = line.u
    return Witness(name, end, out, ended=m.drawn, rank=LINE_END, curves=curves)


def _curved_outline(lab: Labelled, member: str) -> bool:
    """Curved edges end at the dropout or the shell: they mark no node."""
    m = lab.members[member]
    return bool(m.line.bents) and not m.drawn


def _drawn_by(lab: Labelled, line: Candidate, end: Vec) -> tuple[int, ...]:
    """The curve that draws a line's end."""
    view = lab.reading.view
    if line.bents:
        return (view.bents[line.bents[0]].owner,)
    if len(line.strokes) != 1:
        return tuple(sorted(view.curves_of(line.strokes)))
    pieces = list(view.strokes.pieces[line.strokes[0]])
    ends = lab.pose.apply_all(view.pieces[pieces].reshape(-1, 2, 2))
    nearest = int(np.hypot(ends[..., 0] - end[0], ends[..., 1] - end[1]).min(axis=1).argmin())
    return (int(view.owner[pieces[nearest]]),)


def _fork_witness(lab: Labelled) -> list[Witness]:
    fork = lab.fork
    assert fork is not None
    if fork.line is not None:
        u = fork.line.u
        return [
            Witness(
                "the fork", fork.line.p, (-u[0], -u[1]), ended=fork.kind != "tube", rank=LINE_END
            )
        ]
    if fork.end is None:
        return []
    return [Witness("the fork's end", fork.end, rank=LINE_END)]


def lateral_noise(rear: Node, bb: Node) -> list[float]:
    """How far straight members pass their nodes, where that is within a drawing's sloppiness."""
    misses: list[float] = []
    for node in (rear, bb):
        witnesses = [*node.agreeing, *(a for a, _ in node.astray)]
        misses += [w.miss(node.at) for w in witnesses if w.direction is not None]
    return [m for m in misses if m <= SLOPPY]
