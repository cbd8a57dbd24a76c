"""Divide a laid-out frame into prismatic beam elements: stepped walls, finely divided tapers, steerer in bearings.

Node names: joints keep theirs; nodes inside a tube are ``tube:1``, ``tube:2`` ... Element ids are ``tube.1`` ...
"""

import itertools
from bisect import bisect
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf

from ..arrays import Xyz
from ..columns import hypot
from ..errors import ModelError
from ..mechanics.frame_model import (
    Element,
    EqualDofs,
    FrameModel,
    RigidLink,
    Spring,
    soft_joint,
)
from ..tubes.materials import Material
from ..tubes.sections import Section
from ..tubes.tube import Tube
from ..words import spoken
from .bicycle import Bicycle
from .bolts import hinge
from .cutting import (
    SHARED,
    Division,
    MemberPath,
    Passed,
    TubeLine,
    apart,
    divisions,
)
from .cutting import MeshOptions as MeshOptions  # its usual home
from .dropouts import Dropout
from .hubs import Hub, HubName
from .joint_places import TubeJoint, tube_joints
from .layout import SIDES, FrameLayout, Member, lay_out
from .parts import BRIDGE_CLEARANCE, Part, assumed_members
from .rigid_zones import refuse_lost_joints, refuse_swallowed, rigid_zone_lengths
from .suspension import FOOT, fork_beam, of_fork

_ON_THE_STEERER = ("steerer_upper", "steerer_lower", "fork_crown")
POST_END = "seat_post_end"  # node of the seat tube at which the post ends inside
LEAST_BELOW_POST = 20.0  # mm of seat tube below the post


def mesh(
    bicycle: Bicycle, options: MeshOptions | None = None, layout: FrameLayout | None = None
) -> FrameModel:
    """The analysis model of a bicycle.

    Raises
    ------
    ModelError
        When a tube of the set is missing or its butts do not fit; the message names tube and lengths.
    """
    return _Mesher(bicycle, options or MeshOptions(), layout or lay_out(bicycle)).model()


@dataclass(frozen=True, eq=False)
class Outline:
    """A bicycle before its tubes are cut: the nodes that have names, and all that `FrameModel` has beside tubes."""

    nodes: Mapping[str, Xyz]
    lines: tuple[Passed, ...]
    bars: tuple[Element, ...]
    springs: tuple[Spring, ...]
    links: tuple[RigidLink, ...]
    ties: tuple[EqualDofs, ...]


def outline(bicycle: Bicycle, options: MeshOptions, layout: FrameLayout) -> Outline:
    """What `mesh` cuts into elements. Raises as it does, but not for butts that do not fit."""
    return _Mesher(bicycle, options, layout).outline()


class _Mesher:
    """Collects nodes and elements tube by tube."""

    def __init__(self, bicycle: Bicycle, options: MeshOptions, layout: FrameLayout) -> None:
        self.bicycle = bicycle
        self.options = options
        self.layout = layout
        self.nodes: dict[str, Xyz] = {}
        self.bars: list[Element] = []
        self.links: list[RigidLink] = []
        self.bearings: list[EqualDofs] = []
        self.springs: list[Spring] = []
        self.joints: dict[tuple[str, int], TubeJoint] = {}
        for joint in tube_joints(bicycle, layout):
            self.joints[joint.member, joint.end] = joint
        if self.joints and options.rigid_zones:
            raise ModelError(
                "rigid zones and joints that give contradict each other: a joint's give is counted from the "
                "chord's axis; leave out one of the two"
            )

    def model(self) -> FrameModel:
        lines = [self._line(member) for member in self.layout.members]
        for line, division in zip(lines, divisions(lines, self.options), strict=True):
            self._divide(line, division)
        ties = self._beside_tubes()
        return FrameModel(
            self.nodes,
            tuple(self.bars),
            tuple(self.springs),
            rigid_links=tuple(self.links),
            equal_dofs=ties,
            name=self.bicycle.name,
            assumed_members=of_fork(self.bicycle.suspension, self._assumed_members()),
            regions={role.name: role.region for role in self.bicycle.roles},
        )

    def _assumed_members(self) -> frozenset[str]:
        """Members whose sizes nobody stated: a part that the plan has once more is as the first."""
        stated = self.bicycle.parts
        further = (one.name for one in self.bicycle.plan.parts if one.like not in stated)
        return assumed_members(stated) | frozenset(further)

    def outline(self) -> Outline:
        lines = tuple([self._passed(self._line(member)) for member in self.layout.members])
        ties = self._beside_tubes()
        beside = (tuple(self.bars), tuple(self.springs), tuple(self.links), ties)
        return Outline(self.nodes, lines, *beside)

    def _beside_tubes(self) -> tuple[EqualDofs, ...]:
        """Parts, wheels and what ties ends together; hands back the bearings."""
        self._parts()
        self._wheels()
        joint = self.layout.node
        for side, _ in SIDES:
            self._ends_beside(side)
        self._joints_at_one_place()
        # Two bearings that hold in place alone leave the turn about their line: the steering.
        headset = (
            EqualDofs(joint(f"head_tube_{end}"), joint(f"steerer_{name}"), (0, 1, 2))
            for end, name in (("top", "upper"), ("bottom", "lower"))
        )
        return (*headset, *self.bearings)

    def _joints_at_one_place(self) -> None:
        """With a headset of no height two joints of the steerer are one point; springs, loads and the crown's own
        pieces know it by either name."""
        for name, first in self.layout.same_as.items():
            if first in self.nodes and (name in self.nodes or name in _ON_THE_STEERER):
                self.nodes.setdefault(name, self.layout.joints[first])
                self.links.append(RigidLink(first, name))

    def _ends_beside(self, side: str) -> None:
        """Ties the ends of pairs that stand beside another tube to the point on its axis."""
        for role in self.bicycle.roles:
            if not role.paired:
                continue
            for end in (0, 1):
                if axis := role.tied_to(end):
                    self.links.append(RigidLink(self.layout.node(axis), role.joint(end, side)))

    # --- tubes --------------------------------------------------------------------------------------------
    def _line(self, member: Member) -> TubeLine:
        tube = self._tube_of(member)
        path = MemberPath.of(member)
        stops = self._joint_stops(member, path)
        zones = self._rigid_zones(member, path, stops)
        # The tube proper lies between its rigid zones; those have no elements.
        low = zones.get(f"{member.name}:start", 0.0)
        high = zones.get(f"{member.name}:end", path.length)
        return TubeLine(member, tube, path, stops | zones, low, high, self._dropout_of(member))

    def _passed(self, line: TubeLine) -> Passed:
        """The tube uncut, with the nodes that have names."""
        places = [s for s in apart(line.stops.values()) if line.low <= s <= line.high]
        stations = self._in_joints(line, places, self._name_nodes(line, places))
        distances, nodes = zip(*stations, strict=True)
        return Passed(line, nodes, distances)

    def _divide(self, line: TubeLine, division: Division) -> None:
        member = line.member
        breaks = division.breaks
        sizes = division.sizes
        stations = self._in_joints(line, breaks, self._name_nodes(line, breaks))
        # A plain stretch has one section, however many pieces it is cut into.
        sections = {size: line.tube.section(*size) for size in dict.fromkeys(sizes)}
        for k, ((a, i), (b, j)) in enumerate(itertools.pairwise(stations), 1):
            # Where a chord's wall cuts a piece both parts keep its section: the rest of the tube does not change with
            # the chord.
            piece = bisect(breaks, (a + b) / 2) - 1
            name = f"{member.name}.{k}"
            plate = line.plate
            middle = (breaks[piece] + breaks[piece + 1]) / 2
            if plate is not None and middle > line.tube_ends:
                self._add(name, i, j, plate.section, plate.material, plate.name)
            else:
                self._add(name, i, j, sections[sizes[piece]], line.tube.material, member.name)

    def _dropout_of(self, member: Member) -> Dropout | None:
        """The plate at a stay's or blade's end, where it is stated."""
        plate = self.bicycle.parts.get(member.end.rpartition("_")[0])
        if isinstance(plate, Dropout):
            return plate
        return None

    def _in_joints(
        self, line: TubeLine, breaks: Sequence[float], names: Sequence[str]
    ) -> list[tuple[float, str]]:
        """(distance, node) along a tube, its ends in the joints that give, rigid from there to the chord's wall."""
        member = line.member
        path = line.path
        stations = dict(zip(breaks, names, strict=True))
        inside = [0.0, 0.0]
        for end in (0, -1):
            joint = self.joints.get((member.name, end))
            if joint is None:
                continue
            length = inside[end] = joint.shape.inside
            place = breaks[end]
            stations[place] = twin = self._give(joint, stations[place])
            if length == 0.0:
                continue  # the steerer: no stretch of it lies inside the crown
            if end == 0:
                at = length
            else:
                at = path.length - length
            # A stop at the very place serves as well.
            at = next((s for s in breaks if abs(s - at) < SHARED), at)
            wall = stations.setdefault(at, f"{twin}_at_the_wall")
            x, y, z = path.at([at])[0]
            self.nodes.setdefault(wall, (x, y, z))
            self.links.append(RigidLink(twin, wall))
        if any(inside):
            refuse_swallowed(member, path.length, line.stops, *inside)
        ordered = sorted(stations.items())
        for pinned in self.bicycle.plan.role(line.member.tube).pinned:
            at = ("start", "end").index(pinned)
            where, node = ordered[-at]
            ordered[-at] = (where, self._bolt(line.member, at, node))
        return ordered

    def _give(self, joint: TubeJoint, node: str) -> str:
        """The end of a tube that gives against its node: a node of its own at the same place, tied by the joint."""
        twin = f"{joint.member}:{'start' if joint.end == 0 else 'end'}_in_joint"
        self.nodes[twin] = self.nodes[node]
        self.springs.append(
            soft_joint(joint.name, node, twin, joint.compliance.matrix, joint.e1, joint.e2)
        )
        return twin

    def _bolt(self, member: Member, end: int, node: str) -> str:
        """The end of a tube on a bolt: a node of its own at the same place."""
        self.bearings.append(hinge(member.name, end, node))
        self.nodes[self.bearings[-1].slave] = self.nodes[node]
        return self.bearings[-1].slave

    def _tube_of(self, member: Member) -> Tube:
        tube = self.bicycle.tubes.get(member.tube)
        if tube is None:
            raise ModelError(
                f"the tube table has no {member.tube.replace('_', ' ')}; add a row for it"
            )
        return tube

    def _joint_stops(self, member: Member, path: MemberPath) -> dict[str, float]:
        stops = {member.start: 0.0, member.end: path.length}
        for joint in (*member.joints, *self._bridge_joints(member, path)):
            if joint in self.layout.joints:
                stops[joint] = path.distance(self.layout.joints[joint])
            else:
                stops[joint] = self._bridge_distance(path)
        if plate := self._dropout_of(member):
            if plate.length > path.length / 2:
                raise ModelError(
                    f"{spoken(plate.name)} {plate.sizes}: longer than half of the {spoken(member.tube)}, which is "
                    f"{path.length:.0f} mm long; check the length"
                )
            stops[f"{member.name}_dropout"] = path.length - plate.length
        if member.tube == "seat_tube" and self.bicycle.fittings.seat_post_insertion:
            stops[POST_END] = self._post_end(path.length)
        return stops

    def _name_nodes(self, line: TubeLine, breaks: Sequence[float]) -> list[str]:
        names = []
        unplaced: dict[str, float] = {}
        nodes = self.nodes
        joints = self.layout.joints
        same_as = self.layout.same_as
        # The first name at a place is the node's; further joints there share it.
        joints_at = {at: joint for joint, at in reversed([*line.stops.items()])}
        for k, s in enumerate(breaks):
            joint = joints_at.get(s)
            # What is no stop may lie within rounding of one.
            if joint is None:
                joint = next((j for j, at in line.stops.items() if abs(at - s) < SHARED), None)
            if joint:
                name = same_as.get(joint, joint)
            else:
                name = f"{line.member.name}:{k}"
            names.append(name)
            # A joint that another tube has made already stays as it is.
            if name not in nodes:
                if name not in joints:
                    unplaced[name] = s
                nodes[name] = joints.get(name, (0.0, 0.0, 0.0))
        if unplaced:
            points = line.path.at([*unplaced.values()])
            for name, (x, y, z) in zip(unplaced, points, strict=True):
                self.nodes[name] = (x, y, z)
        return names

    def _rigid_zones(
        self, member: Member, path: MemberPath, stops: Mapping[str, float]
    ) -> dict[str, float]:
        """Where the tube proper begins and ends: node -> distance, each tied to its joint by a rigid link."""
        if not self.options.rigid_zones:
            return {}
        start, end = rigid_zone_lengths(self.layout, self.bicycle, member)
        refuse_lost_joints(member, path.length, stops, start, end)
        zones = {}
        for joint, name, zone, at in (
            (member.start, "start", start, start),
            (member.end, "end", end, path.length - end),
        ):
            if zone > 0:
                zones[f"{member.name}:{name}"] = at
                self.nodes.setdefault(
                    self.layout.node(joint), self.layout.joints[self.layout.node(joint)]
                )
                self.links.append(RigidLink(self.layout.node(joint), f"{member.name}:{name}"))
        return zones

    # --- parts ----------------------------------------------------------------------------------------------
    def _wheels(self) -> None:
        """The points on the ground, rigid with the axles, for cases that hold the bicycle there."""
        for end in ("rear", "front"):
            contact = f"{end}_contact"
            self.nodes[contact] = self.layout.joints[contact]
            self.links.append(RigidLink(f"{end}_axle", contact))

    def _parts(self) -> None:
        shell = [
            "shell_left",
            "chainstay_shell_left",
            "bottom_bracket",
            "chainstay_shell_right",
            "shell_right",
        ]
        part = self.bicycle.part
        self._chain(part("bb_shell"), shell)
        self._hub("rear_hub", "rear")
        self._hub("front_hub", "front")
        self._fork_head()
        self._chain(part("seat_post"), [*self._in_the_seat_tube(), "saddle"])
        self._chain(part("stem"), ["stem_clamp", "bar_centre"])
        self._chain(part("bar"), ["bar_left", "bar_centre", "bar_right"])
        for further in self.bicycle.plan.parts:
            along = [self.layout.node(joint) for joint in further.along]
            self._chain(part(further.like), along, further.name)
        for stay in (role.name for role in self.bicycle.roles if role.bridged):
            ends = [f"{stay}_bridge_left", f"{stay}_bridge_right"]
            # Only where both stays had room for one, and the options want bridges.
            if all(end in self.nodes for end in ends):
                self._chain(part("bridge"), ends, f"{stay}_bridge")

    def _fork_head(self) -> None:
        """The crown between the blades, or the suspension fork that stands for both."""
        fork = self.bicycle.suspension
        if fork is None:
            # Blades that rise to the steerer themselves need no crown between them.
            if "crown_left" in self.nodes:
                piece = self.bicycle.part("fork_crown_piece")
                self._chain(piece, ["crown_left", "fork_crown", "crown_right"])
            return
        joints = self.layout.joints
        self.nodes.setdefault("fork_crown", joints["fork_crown"])
        self.nodes[FOOT] = joints["fork_offset_foot"]
        normal = in_plane_normal(self._axis("fork_crown", FOOT))
        beam = fork_beam(fork, self.bicycle.dimensions, normal)
        self._add(beam.id, beam.i, beam.j, beam.section, beam.material, beam.member)
        for side, _ in SIDES:
            dropout = f"front_dropout_{side}"
            self.nodes.setdefault(dropout, joints[dropout])
            self.links.append(RigidLink(FOOT, dropout))

    def _hub(self, name: HubName, end: str) -> None:
        """An axle from dropout to dropout; where its standard is known, the wheel's shell on it in two bearings."""
        left, axle, right = (
            f"{end}_{place}" for place in ("dropout_left", "axle", "dropout_right")
        )
        hub = self.bicycle.hub(name)
        if not isinstance(hub, Hub):
            self._chain(hub, [left, axle, right])
            return
        on_axle: list[str] = []
        on_shell: list[str] = []
        for side, sign in (("left", 1.0), ("right", -1.0)):
            x, y, z = self.layout.joints[f"{end}_dropout_{side}"]
            # A bearing leaves tilting free; one of the two also keeps the shell from spinning, as no wheel here rolls.
            dofs = (0, 1, 2, 5) if side == "left" else (0, 1, 2)
            for nodes, place in ((on_axle, "axle"), (on_shell, "shell")):
                nodes.append(f"{name}:{place}_{side}")
                self.nodes[nodes[-1]] = (x, y, z + sign * hub.inset)
            self.bearings.append(EqualDofs(on_axle[-1], on_shell[-1], dofs))
        pieces = [*itertools.pairwise([left, *on_axle, right])]
        # The named axle is the shell's middle: the wheel stands on the hub's shell.
        turning = [*itertools.pairwise([on_shell[0], axle, on_shell[1]])]
        for node in (left, axle, right):
            self.nodes.setdefault(node, self.layout.joints[node])
        tubes = [(hub.axle, pair) for pair in pieces]
        tubes += [(hub.shell, pair) for pair in turning]
        for k, (tube, (a, b)) in enumerate(tubes, 1):
            section = tube.section(tube.od_start, tube.walls[0])
            self._add(f"{name}.{k}", a, b, section, tube.material, name)

    def _post_end(self, length: float) -> float:
        """Distance up the seat tube at which the post ends inside."""
        inside = self.bicycle.fittings.seat_post_insertion
        if inside > length - LEAST_BELOW_POST:
            raise ModelError(
                f"seat post insertion {inside:g} mm: the seat tube is {length:.1f} mm long, so at most "
                f"{length - LEAST_BELOW_POST:.0f} mm of the post go in; check both"
            )
        return length - inside

    def _in_the_seat_tube(self) -> list[str]:
        """Nodes that post and seat tube share, from the post's lower end up: there both bend together."""
        node = self.layout.node
        top = node("seat_tube_top")
        if not self.bicycle.fittings.seat_post_insertion:
            return [top]
        member = next(m for m in self.layout.members if m.name == "seat_tube")
        path = MemberPath.of(member)
        stops = self._joint_stops(member, path)
        end = stops[POST_END]
        shared = sorted((s, joint) for joint, s in stops.items() if s >= end)
        return list(dict.fromkeys(self._node_at(joint, stops) for _, joint in shared))

    def _node_at(self, joint: str, stops: Mapping[str, float]) -> str:
        """The node of a stop: stops at one place share the first one's."""
        first = next(name for name, s in stops.items() if abs(s - stops[joint]) < SHARED)
        return self.layout.node(first)

    def _chain(self, part: Part, joints: list[str], name: str = "") -> None:
        for joint in joints:
            if joint not in self.nodes:
                self.nodes[joint] = self.layout.joints[joint]
        member = name or part.name
        # A spacing of nought leaves no piece between two joints.
        pairs = [(a, b) for a, b in itertools.pairwise(joints) if self.nodes[a] != self.nodes[b]]
        for k, (a, b) in enumerate(pairs, 1):
            self._add(f"{member}.{k}", a, b, part.section, part.stuff, member)

    def _bridge_joints(self, member: Member, path: MemberPath) -> tuple[str, ...]:
        if not self.options.bridges or not self.bicycle.plan.role(member.tube).bridged:
            return ()
        # So near an end there is no room for a bridge between joint and tyre.
        if not 30.0 < self._bridge_distance(path) < path.length - 30.0:
            return ()
        return (f"{member.tube}_bridge_{member.name.rsplit('_', 1)[1]}",)

    def _bridge_distance(self, path: MemberPath) -> float:
        """Arc length from the stay's front or top end to its bridge, just clear of the tyre."""
        return path.length - self.bicycle.dimensions.wheel_radius_rear - BRIDGE_CLEARANCE

    def _add(
        self, name: str, i: str, j: str, section: Section, material: Material, member: str
    ) -> None:
        if not self.options.shear:
            # An area without end gives nothing in shear, and the element needs no second form.
            section = replace(section, Asy=inf, Asz=inf)
        normal = in_plane_normal(self._axis(i, j))
        self.bars.append(Element(name, i, j, section, material, normal, member))

    def _axis(self, i: str, j: str) -> Xyz:
        x, y, z = self.nodes[i]
        to = self.nodes[j]
        return (to[0] - x, to[1] - y, to[2] - z)


def in_plane_normal(axis: Xyz) -> Xyz:
    """Orientation vector of a member: across it, in the plane of the frame; straight up for a crosswise one."""
    x, y, z = axis
    across = hypot(x, y)
    if across < 1e-6 * hypot(x, y, z):
        return (0.0, 1.0, 0.0)
    return (-y / across, x / across, 0.0)
