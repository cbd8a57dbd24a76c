"""A frame that no plan holds: points and the tubes between them, as the builder lists them, made an analysis model.

Every member is divided like a tube of a bicycle (`cutting.divisions`). An end is rigid, or on a bolt (`bolts.pin`).
Local y lies in the plane of the frame (`mesh.in_plane_normal`), z across it.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import dist, sqrt

import numpy as np

from ..arrays import Array, Xyz
from ..errors import ModelError
from ..findings import Finding
from ..mechanics.frame_model import Element, FrameModel, NodeMass
from ..tubes.materials import Material
from ..tubes.sections import Section
from ..tubes.tube import Tube, size_at
from ..words import spoken
from .bolts import Pin, pin
from .cutting import MemberPath, MeshOptions, TubeLine, divisions
from .layout import Member
from .mesh import in_plane_normal

ONE_PLACE = 0.05  # mm; points typed or worked out no farther apart were meant to be one
BESIDE = 1.0  # mm; a point this near a member's axis was most likely meant to be on it


@dataclass(frozen=True)
class HandMember:
    """One member between two nodes: a tube, or a bar of known section; `pinned` at its start, at its end."""

    name: str
    start: str
    end: str
    stuff: Tube | tuple[Section, Material]
    pinned: tuple[bool, bool] = (False, False)


def hand_model(
    nodes: Mapping[str, Xyz],
    members: Sequence[HandMember],
    masses: Sequence[NodeMass] = (),
    name: str = "",
    options: MeshOptions | None = None,
    kept_from_turning: Collection[str] = (),
) -> FrameModel:
    """The analysis model; it weighs its members with the rotary inertia of their sections.

    kept_from_turning : nodes that a support turns a moment into. Anywhere else, where all members end on one bolt, the
    bolt turns with the first of them, since nothing else says how it turns.

    Raises
    ------
    ModelError
        For a member between a node and itself, for two nodes at one place, and for a node that no member joins; the
        message names member or nodes.
    """
    options = options or MeshOptions()
    for member in members:
        _refuse_no_length(nodes, member)
    _refuse_twice(nodes)
    # a loose node would be a mechanism, told far from the row to mend
    _refuse_loose_nodes(nodes, members)
    points: dict[str, Xyz] = dict(nodes)
    elements: list[Element] = []
    pins: list[Pin] = []
    with_bolt = _turning_with_the_bolt(members, kept_from_turning)
    for member in members:
        between = (member.start, member.end)
        ends = list(between)
        for at, pinned in enumerate(member.pinned):
            # the one that turns with the bolt is joined to it as if rigidly
            if pinned and (member.name, at) not in with_bolt:
                axis = np.subtract(nodes[between[1 - at]], nodes[between[at]])
                bolt = pin(
                    member.name, at, between[at], axis, in_plane_normal(tuple(axis.tolist()))
                )
                pins.append(bolt)
                ends[at] = bolt.twin
                # at the same place: a spring or tie across a gap would not balance moments
                points[bolt.twin] = nodes[bolt.node]
        inside, pieces = _divided(points, member, ends, options)
        points |= inside
        elements += pieces
    twists = tuple(one.twist for one in pins)
    bolts = tuple(one.bolt for one in pins)
    return FrameModel(
        points,
        tuple(elements),
        springs=twists,
        equal_dofs=bolts,
        masses=tuple(masses),
        rotary=True,
        name=name,
    )


def pinned_alone(members: Sequence[HandMember]) -> dict[str, tuple[str, int]]:
    """Node at which every member is pinned -> the first of them and which of its ends."""
    first: dict[str, tuple[str, int]] = {}
    rigid: set[str] = set()
    for member in members:
        for at, node in enumerate((member.start, member.end)):
            if member.pinned[at]:
                first.setdefault(node, (member.name, at))
            else:
                rigid.add(node)
    # a rigid end holds the bolt already; without one nothing would say how the bolt turns
    return {node: end for node, end in first.items() if node not in rigid}


def _turning_with_the_bolt(
    members: Sequence[HandMember], kept_from_turning: Collection[str]
) -> set[tuple[str, int]]:
    alone = pinned_alone(members)
    return {end for node, end in alone.items() if node not in kept_from_turning}


def _refuse_loose_nodes(nodes: Mapping[str, Xyz], members: Sequence[HandMember]) -> None:
    joined = {node for member in members for node in (member.start, member.end)}
    loose = [node for node in nodes if node not in joined]
    if loose:
        listed = ", ".join(map(spoken, loose[:5]))
        raise ModelError(
            f"no member starts or ends at {listed}: a point that nothing joins carries nothing; add a member, or "
            "leave the point out"
        )


def _refuse_no_length(nodes: Mapping[str, Xyz], member: HandMember) -> None:
    if member.start == member.end:
        raise ModelError(
            f"{spoken(member.name)} runs from {spoken(member.start)} to itself; name two nodes"
        )
    if dist(nodes[member.start], nodes[member.end]) < ONE_PLACE:
        raise ModelError(
            f"{spoken(member.name)}: {spoken(member.start)} and {spoken(member.end)} lie at one place, so it has no "
            "length; correct one of the points"
        )


def _refuse_twice(nodes: Mapping[str, Xyz]) -> None:
    """Two nodes at one place are not joined, whatever the builder sees."""
    # along one axis, so that only neighbours are compared
    order = sorted(nodes, key=lambda node: nodes[node])
    for k, one in enumerate(order):
        for other in order[k + 1 :]:
            if nodes[other][0] - nodes[one][0] >= ONE_PLACE:
                break
            apart = dist(nodes[one], nodes[other])
            if apart < ONE_PLACE:
                raise ModelError(
                    f"{spoken(one)} and {spoken(other)} lie {apart:.2g} mm apart and are two nodes, so that members on "
                    "one are not joined to members on the other; give them one name, or move one of them"
                )


def _divided(
    nodes: Mapping[str, Xyz], member: HandMember, ends: Sequence[str], options: MeshOptions
) -> tuple[dict[str, Xyz], list[Element]]:
    """The points inside a member between its two ends, and its pieces."""
    start, end = (nodes[name] for name in ends)
    uncut = Member(member.name, member.name, member.start, member.end, (start, end))
    path = MemberPath.of(uncut)
    at = _cuts(member, uncut, path, options)
    names = [ends[0], *(f"{member.name}:{k}" for k in range(1, len(at) - 1)), ends[1]]
    inside: dict[str, Xyz] = {}
    for name, (x, y, z) in zip(names[1:-1], path.at(at[1:-1]), strict=True):
        inside[name] = (x, y, z)
    x, y, z = np.subtract(end, start).tolist()
    normal = in_plane_normal((x, y, z))
    pieces = []
    for k, (a, b) in enumerate(pairwise(at), 1):
        section, material = _section(member.stuff, path.length, (a + b) / 2)
        piece = Element(
            f"{member.name}.{k}", names[k - 1], names[k], section, material, normal, member.name
        )
        pieces.append(piece)
    return inside, pieces


def _cuts(member: HandMember, uncut: Member, path: MemberPath, options: MeshOptions) -> list[float]:
    if isinstance(member.stuff, Tube):
        stops = {member.start: 0.0, member.end: path.length}
        line = TubeLine(uncut, member.stuff, path, stops, 0.0, path.length)
        return divisions([line], options)[0].breaks
    # a bar has one size, so nothing but the length of an element divides it; rounding must not add one
    count = max(1, int(np.ceil(path.length / options.element_length - 1e-9)))
    return [path.length * k / count for k in range(count + 1)]


def _section(
    stuff: Tube | tuple[Section, Material], length: float, s: float
) -> tuple[Section, Material]:
    if isinstance(stuff, Tube):
        return stuff.section(*size_at(stuff, length, s)), stuff.material
    return stuff


def beside_findings(nodes: Mapping[str, Xyz], members: Sequence[HandMember]) -> Iterator[Finding]:
    """Nodes that lie on a member which does not stop there: members that cross do not hold one another."""
    for member in members:
        a = np.array(nodes[member.start])
        axis = np.array(nodes[member.end]) - a
        length = float(np.linalg.norm(axis))
        for node, xyz in nodes.items():
            if node in (member.start, member.end):
                continue
            along = float((np.array(xyz) - a) @ axis) / length
            # beyond its ends a member runs past nothing
            if not 0.0 < along < length:
                continue
            off = float(np.linalg.norm(np.array(xyz) - a - axis * along / length))
            if off < BESIDE:
                yield Finding(
                    "node-beside-member",
                    "warning",
                    f"{spoken(node)} lies on {spoken(member.name)} ({off:.1f} mm off its axis), which runs past it "
                    f"without being joined; divide {spoken(member.name)} there if they meet",
                    node,
                )


def crossing_findings(nodes: Mapping[str, Xyz], members: Sequence[HandMember]) -> Iterator[Finding]:
    """Members that run into one another between their ends, where nothing joins them."""
    for k, one in enumerate(members):
        for other in members[:k]:
            if {one.start, one.end} & {other.start, other.end}:
                continue
            apart = _apart(
                *(np.array(nodes[n]) for n in (one.start, one.end, other.start, other.end))
            )
            # a bar of which only the section is known has no outside: told where the axes meet
            touching = max(_half(one) + _half(other), BESIDE)
            if apart is not None and apart < touching:
                yield Finding(
                    "members-cross",
                    "warning",
                    f"{spoken(one.name)} and {spoken(other.name)} cross with their axes {apart:.1f} mm apart, which is "
                    "less than both take up, and are not joined there; give them a point in common, or lead one past "
                    "the other",
                    one.name,
                )


def _half(member: HandMember) -> float:
    if isinstance(member.stuff, Tube):
        return min(member.stuff.od_start, member.stuff.od_end) / 2
    return 0.0


def _apart(a: Array, b: Array, c: Array, d: Array) -> float | None:
    """Distance between two lines where both are met between their ends; None elsewhere, and of parallel ones."""
    one = b - a
    other = d - c
    across = np.cross(one, other)
    square = float(across @ across)
    if square < 1e-12 * float(one @ one) * float(other @ other):
        return None
    shares = [float(np.cross(c - a, line) @ across) / square for line in (other, one)]
    if not all(0.0 < share < 1.0 for share in shares):
        return None
    return abs(float((c - a) @ across)) / sqrt(square)
