"""Each member's line as it runs between its nodes, in drawing units: what pictures draw over the drawing."""

from collections.abc import Sequence
from math import hypot

import numpy as np

from ....model.arrays import Array
from ..labelling.courses import course
from ..labelling.measure import Measured
from ..linework.lines import Candidate, crossing
from ..linework.pieces import Bent
from ..linework.plane import Vec

STAY_NODE = "seat_tube_seatstay_node"
_ENDS = {
    "seat_tube": ("bottom_bracket", "seat_tube_top"),
    "down_tube": ("bottom_bracket", "down_tube_head_node"),
    "top_tube": ("seat_tube_top_tube_node", "top_tube_head_node"),
    "chainstay": ("rear_axle", "bottom_bracket"),
    "seatstay": ("rear_axle", STAY_NODE),
    "head_tube": ("head_tube_bottom", "head_tube_top"),
    "fork": ("fork_crown", "front_axle"),
}


def node_points(m: Measured) -> dict[str, Vec]:
    """Every named point of the side view in drawing units."""
    # named points count from the bottom bracket, the pose from the rear axle
    x, y = m.bb.at
    pose = m.labelled.pose
    named = {name: p for name, p in m.dimensions.points().items() if p is not None}
    found = {name: pose.back((p.x + x, p.y + y)) for name, p in named.items()}
    stay = m.labelled.members.get("seatstay")
    if STAY_NODE not in found and stay is not None and "seatstay" not in m.labelled.loose:
        # the dimensions count it from the top tube, which is not drawn
        met = crossing(stay.line.last, m.labelled.members["seat_tube"].line)
        if met is not None:
            found[STAY_NODE] = pose.back(met)
    return found


def member_paths(m: Measured) -> dict[str, Array]:
    """The same as `member_lines` in mm from the bottom bracket, (k, 2)."""
    bb = np.array(m.bb.at)
    pose = m.labelled.pose
    return {name: pose.apply_all(np.array(line)) - bb for name, line in member_lines(m).items()}


def drawn_end(extent: Candidate) -> float:
    """How far along itself a tube is drawn: to the mean of its edges' ends, or to its line's."""
    if not extent.edges:
        return extent.length
    return sum(extent.along(edge[1]) for edge in extent.edges) / len(extent.edges)


def member_extents(m: Measured) -> dict[str, Array]:
    """Member -> its straight line as far as it is drawn, (2, 2) mm from the bottom bracket."""
    bb = np.array(m.bb.at)
    extents = {}
    for name, member in m.labelled.members.items():
        extent = member.extent
        extents[name] = np.array([extent.p, extent.at(drawn_end(extent))]) - bb
    return extents


def member_lines(m: Measured) -> dict[str, tuple[Vec, ...]]:
    """Member -> polyline from its first to its last node; curved members follow their drawn runs."""
    nodes = node_points(m)
    members = m.labelled.members
    fork = m.labelled.fork
    view = m.labelled.reading.view
    out: dict[str, tuple[Vec, ...]] = {}
    for name, (start, end) in _ENDS.items():
        if start not in nodes or end not in nodes or (name != "fork" and name not in members):
            continue
        out[name] = (nodes[start], nodes[end])
        if name == "fork" and fork is not None and fork.kind == "path" and fork.line is None:
            runs = [
                *(_stroke(view.strokes.ends[k]) for k in fork.strokes),
                *_bents(view.bents, fork.bents),
            ]
            out[name] = _walked(nodes[start], runs, nodes[end])
        elif name in members and members[name].line.links:
            # the last link ends at the node, so it adds no corner
            corners = [m.labelled.pose.back(p) for _, p in members[name].line.links[:-1]]
            out[name] = (nodes[start], *corners, nodes[end])
        elif name in members and members[name].line.bents:
            pose = m.labelled.pose
            inner = [pose.back((x, y)) for x, y in course(view, pose, members[name].line).tolist()]
            out[name] = (nodes[start], *inner[1:-1], nodes[end])
    return out


def _stroke(ends: Sequence[float]) -> list[Vec]:
    x0, y0, x1, y1 = (float(v) for v in ends)
    return [(x0, y0), (x1, y1)]


def _bents(bents: Sequence[Bent], which: Sequence[int]) -> list[list[Vec]]:
    runs = []
    for k in which:
        runs.append([(float(x), float(y)) for x, y in bents[k].points])
    return runs


def _walked(start: Vec, runs: list[list[Vec]], end: Vec) -> tuple[Vec, ...]:
    """Runs joined end to start, each turned to begin where the walk stands; a run that begins before the start
    (head tube and fork on one line) is entered at the start."""
    walk = [start]
    left = list(runs)
    while left:
        here = walk[-1]
        run = min(left, key=lambda r: min(_apart(here, r[0]), _apart(here, r[-1])))
        left.remove(run)
        # by the walk's goal, not its start: a run may begin before the first node
        if _apart(run[-1], end) <= _apart(run[0], end):
            ahead = run
        else:
            ahead = run[::-1]
        walk += ahead[1:]
    return (*walk, end)


def _apart(a: Vec, b: Vec) -> float:
    return hypot(a[0] - b[0], a[1] - b[1])
