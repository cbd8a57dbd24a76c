"""How far drawn ends and lines miss the nodes they are meant for, and by how much each was extended or cut."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import hypot

from ..labelling.measure import Measured
from ..linework.lines import Candidate, crossing


@dataclass(frozen=True)
class EndGap:
    """One end of a member at its node. along: mm the line stops short (negative: runs on past); across: mm it
    passes beside; sharp: a drawn centre-line, whose end should be at the node."""

    member: str
    node: str
    along: float
    across: float
    sharp: bool


def gaps(m: Measured) -> list[EndGap]:
    """Every end of every member against its node."""
    return [*_at_nodes(m), *_at_tubes(m), *_fork_gaps(m)]


def _at_nodes(m: Measured) -> Iterator[EndGap]:
    nodes = {
        ("chainstay", "p"): m.rear,
        ("seatstay", "p"): m.rear,
        ("chainstay", "q"): m.bb,
        ("seat_tube", "p"): m.bb,
        ("down_tube", "p"): m.bb,
    }
    for (name, end), node in nodes.items():
        member = m.labelled.members.get(name)
        if member is None:
            continue
        line = member.line
        # a curved member has no direction to run on in: only the distance of its tip is known
        if line.bents:
            if end == "p":
                tip = line.p
            else:
                tip = line.q
            yield EndGap(
                name, node.name, hypot(tip[0] - node.at[0], tip[1] - node.at[1]), 0.0, member.drawn
            )
            continue
        line = line.first if end == "p" else line.last
        short = line.along(node.at)
        if end == "p":
            along = -short
        else:
            along = short - line.length
        yield EndGap(name, node.name, along, abs(line.lateral(node.at)), member.drawn)


def _at_tubes(m: Measured) -> Iterator[EndGap]:
    seat = m.labelled.members["seat_tube"].line
    axis = m.axis
    for name, end, onto, node in (
        ("seatstay", "q", seat, "seat tube"),
        ("top_tube", "p", seat, "seat tube"),
        ("top_tube", "q", axis, "head tube"),
        ("down_tube", "q", axis, "head tube"),
    ):
        member = m.labelled.members.get(name)
        if member is None or (end == "q" and name in m.labelled.loose):
            continue
        yield EndGap(name, node, _short_of(member.line, end, onto), 0.0, member.drawn)


def _short_of(line: Candidate, end: str, onto: Candidate) -> float:
    if end == "p":
        tip = line.p
    else:
        tip = line.q
    if line.bents:
        at = None
    else:
        line = line.first if end == "p" else line.last
        at = crossing(line, onto)
    # parallel or curved: what its tip misses the other line by
    if at is None:
        return abs(onto.lateral(tip))
    along = line.along(at)
    if end == "p":
        return -along
    return along - line.length


def _fork_gaps(m: Measured) -> Iterator[EndGap]:
    fork = m.labelled.fork
    if fork is None:
        return
    front = m.front.at
    if fork.line is not None:
        # edges of a blade end at the dropout, not at the axle
        sharp = fork.kind != "tube"
        yield EndGap(
            "fork", "front axle", -fork.line.along(front), abs(fork.line.lateral(front)), sharp
        )
    elif fork.end is not None:
        yield EndGap(
            "fork", "front axle", hypot(fork.end[0] - front[0], fork.end[1] - front[1]), 0.0, True
        )
    # a tube's crown is at the upper ends of its edges, which lie beside the axis on purpose
    if fork.start is not None and fork.kind != "tube":
        yield EndGap("fork", "head tube's axis", m.crown_gap, m.crown_miss, True)
    for joint in fork.joints if fork.kind == "path" else ():
        yield EndGap("fork", "its own next piece", joint, 0.0, True)
