"""What is to be said of a frame's joints: how well each is known, what is near it, and where one is taken as rigid."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np

from ..findings import Finding
from ..joints.crown import CrownShape
from ..words import spoken
from .bicycle import Bicycle
from .joint_places import CROWN, TubeJoint, axes_meet, joined_ends, tube_joints
from .layout import FrameLayout

_TAKEN = {
    "fillet": "fillets of 6 mm radius are taken",
    "lug": "lugs that reach 18 mm from the joint, of 1.2 mm wall, are taken",
}
# Chord diameters between two branches; front triangles in shells hold pairs that far apart and are met.
APART = 0.4
_FELT = 1.5  # chord diameters to what stands beside: farther off it holds nothing that counts
OPEN_ENDS = "two to four times"  # fourteen crowns of the study without their lids


def joint_findings(bicycle: Bicycle, layout: FrameLayout) -> tuple[Finding, ...]:
    """What is to be known of a frame's joints, each with its name; left and right of a pair together."""
    found: dict[str, Finding] = {}
    joints = tube_joints(bicycle, layout)
    if any(joint.compliance.doubt for joint in joints):
        found["bar"] = _error_bar(joints)
    for joint in joints:
        where = f"joint of the {spoken(joint.tube)} at the {spoken(joint.chord)}"
        for finding in (*joint.compliance.findings, *_not_round(joint)):
            told = replace(finding, message=f"{where}: {finding.message}", where=joint.tube)
            # By its words, so that left and right of a pair are told once.
            found.setdefault(told.message, told)
    for told in (*_crowded(joints), *_held_by_stays(joints), *_crown_ends(joints)):
        found.setdefault(told.message, told)
    standing = {(joint.member, joint.end) for joint in joints}
    for member, end, chord, _ in joined_ends(bicycle, layout):
        if not axes_meet(member, end, chord):
            told = _beside_it(bicycle.plan.role(member.tube).label, spoken(chord.tube), member.tube)
            found.setdefault(told.message, told)
        elif (member.name, end) not in standing:
            told = _within(spoken(member.tube), spoken(chord.tube), member.tube)
            found.setdefault(told.message, told)
    for member in layout.members:
        # Blades that rise to the steerer themselves, or the shoulders of a segmented fork.
        if member.start == "fork_crown" and bicycle.joints.get(member.tube, "rigid") != "rigid":
            told = _on_the_steerer(bicycle.plan.role(member.tube).label, member.tube)
            found.setdefault(told.message, told)
    return tuple(found.values())


def _crowded(joints: Sequence[TubeJoint]) -> Iterator[Finding]:
    """Branches so near one another on one chord that the wall between them is not that of a joint alone."""
    # Blades and steerer on a crown were studied together.
    alone = [joint for joint in joints if joint.chord != CROWN]
    for one, other in combinations(alone, 2):
        # Below 0 where the two feet overlap.
        gap = max(one.foot[0], other.foot[0]) - min(one.foot[1], other.foot[1])
        wanted = APART * one.chord_diameter
        # Right and left of a pair stand on opposite sides of it.
        opposite = one.tube == other.tube and one.member != other.member
        if one.host == other.host and not opposite and gap < wanted:
            if gap < 0:
                how = f"overlap by {-gap:.0f} mm"
            else:
                how = f"stand {gap:.0f} mm apart"
            yield Finding(
                "joint-branches-near",
                "info",
                f"{spoken(one.tube)} and {spoken(other.tube)} {how} on the {spoken(one.chord)}; "
                f"joints were studied alone, and a pair {wanted:.0f} mm apart was found to behave so",
                one.chord,
            )


def _held_by_stays(joints: Sequence[TubeJoint]) -> Iterator[Finding]:
    """Joints whose chord is held by what stands beside it, which is less sure than the law."""
    for joint in joints:
        if joint.spot is None or isinstance(joint.shape, CrownShape):
            continue
        held = min((gap for gap, beside in joint.spot.beyond if beside), default=np.inf)
        if held < _FELT * joint.chord_diameter:
            yield Finding(
                "joint-stays-beside",
                "info",
                f"{spoken(joint.tube)} at the {spoken(joint.chord)}: what stands beside it {held:.0f} mm along holds "
                "its wall; how firmly is known from few frames, to a third of what this joint gives: in the sample "
                "frames up to 2 % of the sideways stiffness",
                joint.tube,
            )


def _crown_ends(joints: Sequence[TubeJoint]) -> Iterator[Finding]:
    for joint in joints:
        shape = joint.shape
        if isinstance(shape, CrownShape) and shape.part == "blade" and not shape.solid:
            yield Finding(
                "joint-crown-ends",
                "info",
                "the ends of the fork crown are taken as closed by lids; left open they let each blade's joint give "
                f"{OPEN_ENDS} as much ('droptrail tubes' lists what share of the give that joint has now)",
                CROWN,
            )


def _error_bar(joints: Sequence[TubeJoint]) -> Finding:
    # The least sure joint speaks for all of them; a solid crown, which hardly gives, is of no law.
    bar = 100 * max(joint.compliance.doubt for joint in joints)
    kinds = {joint.shape.kind for joint in joints}
    taken = [words for kind, words in _TAKEN.items() if kind in kinds]
    return Finding(
        "joint-error-bar",
        "info",
        f"what the joints give is known to ±{bar:.0f} % of it, the error of the law on joints it has not seen"
        + "".join(f"; {words} (common practice, no source)" for words in taken),
    )


def _not_round(joint: TubeJoint) -> Iterator[Finding]:
    if not joint.round_tubes:
        yield Finding(
            "joint-outside-study",
            "warning",
            "one of both tubes is not round there, and only round tubes were studied; taken as round by its height",
        )


def _beside_it(tubes: str, chord: str, where: str) -> Finding:
    if where == "seatstay" and chord.endswith("seat tube"):
        worth = (
            "whole frames in shells are met so within 5 %, for beams that run on to the bottom bracket's axis give "
            "as much"
        )
    else:
        worth = "no joint like it has been studied, so it gives less here than it does"
    return Finding(
        "joint-not-studied",
        "info",
        f"the {tubes} stand beside the {chord}; their joint is taken as rigid: {worth}",
        where,
    )


def _within(tube: str, chord: str, where: str) -> Finding:
    return Finding(
        "joint-not-studied",
        "info",
        f"the {tube} runs along the {chord}, or lies within the tubes it ends on; its joint at the {chord} is taken as "
        "rigid: check where it is placed",
        where,
    )


def _on_the_steerer(tubes: str, where: str) -> Finding:
    return Finding(
        "joint-not-studied",
        "info",
        f"the {tubes} meet at the steerer without a crown; their joints are taken as rigid: no joint like it has been "
        "studied, so it gives less here than it does",
        where,
    )
