"""Where tubes of the plan end on the wall of another, and what each of these joints gives.

A joint stands at the end of every tube whose mitre is cut to a tube first: top and down tube on the head tube, top
tube on the seat tube, whatever brace the plan holds; at the blades' tops where a crown carries them, and at the foot of
the steerer where that crown is a tube. The bottom bracket shell and the dropouts stay as rigid as beams make them: what
the shell's thick wall gives is about what beams give between its axis and its wall. A pair of seatstays that stands
beside the seat tube is taken as rigid, and told in a finding: what its joint gives offsets what beams that run on to
the shell's axis give too much, and whole frames in shells are met so.
"""

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ..arrays import Array, Xyz
from ..assumption import Assumed
from ..joints.crown import CrownPart, CrownShape, crown_compliance
from ..joints.law import JointCompliance, joint_compliance
from ..joints.shape import JointKind, JointShape
from ..tubes.materials import Material
from ..tubes.places import AtJoint
from ..tubes.plan import SHELL, FramePlan
from ..tubes.tube import size_at
from ..words import spoken
from .bicycle import Bicycle
from .layout import FrameLayout, Member

# mm; sizes that no sheet states
_SIZES: Mapping[str, Mapping[str, float]] = {
    "fillet": {"fillet_radius": 6.0},
    "lug": {"sleeve_length": 18.0, "sleeve_wall": 1.2},
}
# Chord diameters by which a pair of stays beside a tube holds it as if it were farther off: taken from the tourer's
# frame in shells, and the same joints by themselves ask for 0.6 to 0.9; nearer stays ask for less, so it is told
# (`joint-stays-beside`).
BESIDE = 0.75
_NOWHERE = 1e-12  # of a vector's length: it points nowhere
_LEFT = 1.0  # mm of a tube between the walls it ends on, as the mesh asks for
_LEAST_ANGLE = 1.0  # degrees: flatter, a branch meets no wall within its length
ON_AXIS = 0.01  # mm; an end farther from the chord's axis stands beside it
CROWN = "fork_crown_piece"


@dataclass(frozen=True, eq=False)
class _Spot:
    """Where one end of a tube stands on another, whatever the sizes of both.

    along : mm from the chord's start. near_start : that end is the nearer one. beyond : of every branch towards the
    other end, mm along the chord and whether it stands beside it.
    """

    branch: Member
    end: int
    chord: Member
    along: float
    near_start: bool
    angle_deg: float
    e1: Xyz
    e2: Xyz
    beyond: tuple[tuple[float, bool], ...]

    @property
    def to_end(self) -> float:
        """To the nearer end of the chord, mm; two tubes may end in one point but for rounding."""
        if self.near_start:
            return max(0.0, self.along)
        return max(0.0, self.chord.length - self.along)

    def held_beyond(self, chord_diameter: float) -> float:
        """To where the chord is held on the far side, mm: its end, or before it another branch, which keeps the wall
        in shape as an end does; what stands beside the chord counts as farther off."""
        far = self.chord.length - self.to_end
        for gap, beside in self.beyond:
            far = min(far, gap + BESIDE * chord_diameter * beside)
        return far


@dataclass(frozen=True, eq=False)
class TubeJoint:
    """One end of a tube on the wall of another, their axes meeting.

    member, end : the branch and its end, 0 start or -1 end. tube, chord : their entries in the tube table, or the part
    that a crown is. host : the member that the chord is. again : the branch's other end stands on it too. e1, e2 :
    axes of `model.joints.shape`. round_tubes : false where one of both is oval or rectangular there. foot : the
    stretch of the chord that the branch stands on, mm from its start. spot : where it stands; None at a fork crown.
    """

    member: str
    end: int
    tube: str
    chord: str
    host: str
    again: bool
    shape: JointShape | CrownShape
    material: Material
    e1: Xyz
    e2: Xyz
    round_tubes: bool
    foot: tuple[float, float]
    spot: _Spot | None = None

    @property
    def chord_diameter(self) -> float:
        """Outside, mm."""
        if isinstance(self.shape, CrownShape):
            return self.shape.crown_diameter
        return self.shape.chord_diameter

    @property
    def changes_with(self) -> str:
        """The other tube of the table, beside its own, that it changes with; none of a steerer in a crown."""
        if not isinstance(self.shape, CrownShape):
            return self.chord
        if self.shape.part == "blade":
            return "steerer"
        return ""

    @property
    def name(self) -> str:
        """Its spring's, and no other joint's: a single tube says on which of a pair it stands, and a bent one that
        comes back to the same tube with which end."""
        branch = self.member
        if self.again:
            branch += "_start" if self.end == 0 else "_end"
        on = self.chord if self.member != self.tube else self.host
        return f"joint_of_the_{branch}_at_the_{on}"

    def resized(self, bicycle: Bicycle, layout: FrameLayout) -> "TubeJoint":
        """The same joint of the same layout, with the tubes of another bicycle."""
        if self.spot is None or isinstance(self.shape, CrownShape):
            members = {member.name: member for member in layout.members}
            part: CrownPart = "steerer" if self.end else "blade"
            return _crown_joint(bicycle, layout, members[self.member], part, self.shape.kind)
        return replace(_joint(bicycle, self.spot, self.shape.kind), again=self.again)

    def spring_in_space(self) -> Array:
        """(6, 6) compliance in global axes."""
        axes = np.array([self.e1, self.e2, np.cross(self.e1, self.e2)])
        # Movements and turns are both vectors and turned alike.
        turn = np.zeros((6, 6))
        turn[:3, :3] = turn[3:, 3:] = axes
        return np.asarray(turn.T @ self.compliance.matrix @ turn)

    @cached_property
    def compliance(self) -> JointCompliance:
        """In the joint's axes, with what is to be known of it."""
        if isinstance(self.shape, CrownShape):
            return crown_compliance(self.shape, self.material)
        return joint_compliance(self.shape, self.material)


def unsaid_joints(bicycle: Bicycle) -> tuple[str, ...]:
    """Tubes of the frame that end on another, or at the fork crown, and of which nobody said how they are joined."""
    names = (tube for tube in bicycle.tubes if tube not in bicycle.joints)
    return tuple(tube for tube in names if may_give(bicycle.plan, tube))


def may_give(plan: FramePlan, tube: str) -> bool:
    """Whether an end of a tube stands on another tube, or at the fork crown; rods of a rack are taken as rigid."""
    role = plan.get(tube)
    if role is None or role.region == "rack":
        return False
    cut_to = {*role.mitred_start[:1], *role.mitred_end[:1]} - {SHELL}
    at_crown = any(isinstance(end, AtJoint) and "crown" in end.name for end in role.ends)
    return bool(cut_to) or at_crown


def assumed_joints(bicycle: Bicycle) -> tuple[Assumed, ...]:
    """That tubes meet rigidly where nobody said how they are joined; that a tube crown which gives has lids."""
    found = []
    silent = unsaid_joints(bicycle)
    if silent:
        item = "joints"
        if bicycle.joints:
            item = f"joints of {', '.join(map(spoken, silent))}"
        why = (
            "not said how the tubes are joined; thin walls give more, --joints bare shows how much"
        )
        found.append(Assumed("tubes", "joints", item, "rigid", source=why))
    blades_give = bicycle.joints.get("fork_blade", "rigid") != "rigid"
    if blades_give and not bicycle.part(CROWN).solid:
        why = "nothing else has been studied; open ends give more"
        found.append(Assumed("parts", CROWN, "ends of the fork crown", "closed", source=why))
    return tuple(found)


def tube_joints(bicycle: Bicycle, layout: FrameLayout) -> tuple[TubeJoint, ...]:
    """The joints of a frame that are not rigid, as `Bicycle.joints` says."""
    between_tubes = _with_room(_between_tubes(bicycle, layout))
    stands = Counter((joint.member, joint.host) for joint in between_tubes)
    told_apart = (
        replace(joint, again=stands[joint.member, joint.host] > 1) for joint in between_tubes
    )
    return (*told_apart, *_crown_joints(bicycle, layout))


def _between_tubes(bicycle: Bicycle, layout: FrameLayout) -> Iterator[TubeJoint]:
    for member, end, chord, kind in joined_ends(bicycle, layout):
        if axes_meet(member, end, chord):
            spot = _spot(layout, member, end, chord)
            if _LEAST_ANGLE < spot.angle_deg < 180 - _LEAST_ANGLE:
                yield _joint(bicycle, spot, kind)


def _with_room(joints: Iterator[TubeJoint]) -> list[TubeJoint]:
    """Those of tubes that are longer than what lies within the tubes they end on."""
    found = list(joints)
    inside = dict.fromkeys((joint.member for joint in found), _LEFT)
    for joint in found:
        inside[joint.member] += joint.shape.inside
    return [
        joint
        for joint in found
        if joint.spot is not None and inside[joint.member] < joint.spot.branch.length
    ]


def _crown_joints(bicycle: Bicycle, layout: FrameLayout) -> Iterator[TubeJoint]:
    """Of the blades that begin at a crown, and of the steerer in it; a solid crown holds the steerer rigidly."""
    # Blades without a crown, or on one of no width, have no tube to stand on.
    wide = layout.joints.get("crown_right") != layout.joints.get("fork_crown")
    if not wide or not any(member.start == "crown_right" for member in layout.members):
        return
    tube_crown = not bicycle.part(CROWN).solid
    for member in layout.members:
        kind = bicycle.joints.get(member.tube, "rigid")
        if kind == "rigid":
            continue
        if member.start in ("crown_right", "crown_left"):
            yield _crown_joint(bicycle, layout, member, "blade", kind)
        elif member.end == "fork_crown" and tube_crown:
            yield _crown_joint(bicycle, layout, member, "steerer", kind)


def _crown_joint(
    bicycle: Bicycle, layout: FrameLayout, member: Member, part: CrownPart, kind: JointKind
) -> TubeJoint:
    crown = bicycle.part(CROWN)
    centre = np.array(layout.joints["fork_crown"])
    right = np.array(layout.joints["crown_right"]) - centre
    half = float(np.linalg.norm(right))
    outwards = right / half
    away = member.tangent(-1 if part == "steerer" else 0)
    if member.start == "crown_left":
        outwards = -outwards
    # Down the blade or up the steerer, square to the crown.
    second = away - (away @ outwards) * outwards
    second /= np.linalg.norm(second)
    by_tube = {one.tube: one for one in layout.members}
    blade = next(one for one in layout.members if one.start == "crown_right")
    steerer = by_tube["steerer"]
    blade_od, blade_wall, blade_width = size_at(bicycle.tubes[blade.tube], blade.length, 0.0)
    steerer_od, steerer_wall, _ = size_at(
        bicycle.tubes[steerer.tube], steerer.length, steerer.length
    )
    lean = float(np.degrees(np.arcsin(np.clip(blade.tangent(0) @ (right / half), -1.0, 1.0))))
    shape = CrownShape(
        part,
        crown.od,
        crown.wall,
        blade_od,
        blade_wall,
        steerer_od,
        steerer_wall,
        lean,
        half,
        kind,
    )
    return TubeJoint(
        member.name,
        -1 if part == "steerer" else 0,
        member.tube,
        CROWN,
        CROWN,
        False,
        shape,
        crown.stuff,
        _xyz(outwards),
        _xyz(second),
        blade_width == blade_od and crown.tube.oval_width is None,
        (0.0, 0.0),
    )


def joined_ends(
    bicycle: Bicycle, layout: FrameLayout
) -> Iterator[tuple[Member, int, Member, JointKind]]:
    """(branch, its end, chord, kind) of every tube end on another tube that is not said to be rigid."""
    members = {member.name: member for member in layout.members}
    for member in layout.members:
        kind = bicycle.joints.get(member.tube, "rigid")
        if kind != "rigid":
            for end, chord in _chords(bicycle.plan, member, members):
                yield member, end, chord, kind


def axes_meet(member: Member, end: int, chord: Member) -> bool:
    _, _, aside = _on_chord(chord, np.array(member.path[end]))
    return bool(np.linalg.norm(aside) < ON_AXIS)


def _chords(
    plan: FramePlan, member: Member, members: Mapping[str, Member]
) -> Iterator[tuple[int, Member]]:
    """(end, chord) of each end that is cut to another tube first."""
    for end, neighbours in ((0, "mitred_start"), (-1, "mitred_end")):
        role = plan.role(member.tube)
        # The law is of a frame's tubes; rods of a rack are taken as rigid where they meet.
        cut_to = () if role.region == "rack" else getattr(role, neighbours)
        # The first neighbour carries the joint; those after it are only struck on the way.
        if not cut_to or cut_to[0] == SHELL:
            continue
        chord = _chord(member, end, cut_to[0], members)
        if chord is not None:
            yield end, chord


def _spot(layout: FrameLayout, member: Member, end: int, chord: Member) -> _Spot:
    foot = np.array(member.path[end])
    next_to = np.array(member.path[1 if end == 0 else -2])
    along, line, _ = _on_chord(chord, foot)
    branch = (next_to - foot) / np.linalg.norm(next_to - foot)
    # e1 towards the nearer end of the chord
    near_start = along < chord.length / 2
    e1 = -line if near_start else line
    # Right-handed: across both tubes, and from it e2 square to the chord on the branch's side.
    sideways = np.cross(e1, branch)
    # Of tubes in one line it has no direction, and they have no joint.
    sideways /= max(float(np.linalg.norm(sideways)), _NOWHERE)
    e2 = np.cross(sideways, e1)
    return _Spot(
        member,
        end,
        chord,
        along,
        near_start,
        float(np.degrees(np.arccos(np.clip(e1 @ branch, -1.0, 1.0)))),
        _xyz(e1),
        _xyz(e2),
        tuple(_beyond(layout, chord, along, near_start)),
    )


def _on_chord(chord: Member, place: Array) -> tuple[float, Array, Array]:
    """mm from the chord's start to where a place stands on it or beside it, its direction there, and how far from its
    axis the place lies, (3,) mm."""
    start, last, run = chord.piece_at(place)
    line = (last - start) / np.linalg.norm(last - start)
    along = float((place - start) @ line)
    return run + along, line, place - start - along * line


def _joint(bicycle: Bicycle, spot: _Spot, kind: JointKind) -> TubeJoint:
    member = spot.branch
    chord = spot.chord
    chord_tube = bicycle.tubes[chord.tube]
    branch_od, branch_wall, branch_width = size_at(
        bicycle.tubes[member.tube], member.length, 0.0 if spot.end == 0 else member.length
    )
    chord_od, chord_wall, chord_width = size_at(chord_tube, chord.length, spot.along)
    sizes = _SIZES.get(kind, {})
    shape = JointShape(
        branch_od,
        branch_wall,
        chord_od,
        chord_wall,
        spot.angle_deg,
        spot.to_end,
        to_far_end=spot.held_beyond(chord_od),
        # Only the head tube's ends are held round; the seat tube's top is open.
        ring=chord.tube == "head_tube",
        kind=kind,
        fillet_radius=sizes.get("fillet_radius", 0.0),
        sleeve_length=sizes.get("sleeve_length", 0.0),
        sleeve_wall=sizes.get("sleeve_wall", 0.0),
    )
    return TubeJoint(
        member.name,
        spot.end,
        member.tube,
        chord.tube,
        chord.name,
        False,
        shape,
        # What gives is the chord's wall, so its material counts.
        chord_tube.material,
        spot.e1,
        spot.e2,
        (branch_width, chord_width) == (branch_od, chord_od),
        _foot(shape, spot.along, spot.near_start),
        spot,
    )


def _beyond(
    layout: FrameLayout, chord: Member, along: float, near_start: bool
) -> Iterator[tuple[float, bool]]:
    """(mm along the chord towards its far end, whether beside it) of every branch there."""
    members = {one.name: one for one in layout.members}
    for other in layout.members:
        for end, its_chord in _chords(layout.plan, other, members):
            if its_chord is not chord:
                continue
            place, _, aside = _on_chord(chord, np.array(other.path[end]))
            gap = place - along
            if not near_start:
                gap = -gap
            # At nought is the joint itself, below it what lies on the near side.
            if gap > ON_AXIS:
                yield gap, bool(np.linalg.norm(aside) >= ON_AXIS)


def _foot(shape: JointShape, along: float, near_start: bool) -> tuple[float, float]:
    """Where the branch's edge begins and ends on the chord's wall, mm from the chord's start."""
    angle = np.radians(shape.angle_deg)
    lean = shape.chord_diameter / 2 / np.tan(angle)
    half = shape.branch_diameter / 2 / np.sin(angle)
    # The angle is counted towards the near end: at the start, against the chord's own way.
    if near_start:
        return (float(along - lean - half), float(along - lean + half))
    return (float(along + lean - half), float(along + lean + half))


def _xyz(vector: Array) -> Xyz:
    x, y, z = (float(v) for v in vector)
    return (x, y, z)


def _chord(member: Member, end: int, tube: str, members: Mapping[str, Member]) -> Member | None:
    """The member of a tube that one end of another stands on; None where it stands on neither of a pair."""
    # On a pair the right one of the branches ends on the right one.
    side = member.name.removeprefix(member.tube)
    chord = members.get(tube) or members.get(tube + side)
    if chord is not None:
        return chord
    # A single tube may end on one of a pair.
    pair = (one for one in members.values() if one.tube == tube)
    return next((one for one in pair if axes_meet(member, end, one)), None)
