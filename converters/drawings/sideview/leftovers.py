"""What the labelling left out but which lies so near a member that it could have been meant instead."""

from dataclasses import dataclass
from math import hypot

import numpy as np
from numpy.typing import NDArray

from ....model.arrays import Array
from ..labelling.choice import Choice
from ..labelling.measure import Measured
from ..linework.lines import Candidate
from ..linework.words import NO_PART

BESIDE = 45.0  # mm; a line of like length and direction nearer than this competes with a member
CORRECTED = 12.0  # mm outside an outlined tube: farther out no edge of it was meant
SLANT = 0.044  # rad (2.5 degrees) between the two
SLANT_HEAD = 0.12  # rad (7 degrees): a head tube tried at another angle
SYMMETRIC = 0.3  # mm; a pair this symmetric about a centre-line is its wall, steerer or seatpost
LEAST_HALF = 3.0  # mm from the middle to the edge of a thin tube
LIKE_LENGTH = (0.85, 1.25)  # of the member's line or an edge; a spoke beside a stay is shorter
LIKE_EDGE = (0.97, 1.03)  # of an edge: where both edges are drawn only a copy of one competes
SAME_ENDS = 20.0  # mm along the tube between the ends of an edge and of another try at it
SHARED = 0.5  # of a member's length along which a second try runs beside it; a stem or seatpost lies farther along
BLADE_SHARED = 0.8  # of a blade's length along which its own centre-line runs
LIKE_HEAD = (0.5, 2.0)  # a head tube drawn to another length still competes
Offsets = NDArray[np.float64]  # of a run's two ends from those of a member, (2, 2)


@dataclass(frozen=True)
class SecondLine:
    """A line left out: beside which member, how far (mm), by which stroke or bent."""

    member: str
    apart: float
    strokes: tuple[int, ...] = ()
    bents: tuple[int, ...] = ()


def used_strokes(m: Measured) -> set[int]:
    lab = m.labelled
    used = {k for member in lab.members.values() for k in member.strokes}
    return used | set(lab.fork.strokes if lab.fork is not None else ())


def used_bents(m: Measured) -> set[int]:
    lab = m.labelled
    used = {k for member in lab.members.values() for k in member.bents}
    return used | set(lab.fork.bents if lab.fork is not None else ())


def second_lines(choice: Choice, m: Measured) -> list[SecondLine]:
    """Lines beside members, nearest first, each told once."""
    lines = {name: member.line for name, member in m.labelled.members.items()}
    fork = m.labelled.fork
    if fork is not None and fork.line is not None:
        lines["fork"] = fork.line
    free = used_strokes(m)
    # the lower of two top tubes has a finding of its own
    if choice.twin is not None:
        free |= set(choice.twin.strokes)
    found: dict[int, SecondLine] = {}
    for name, line in lines.items():
        # beside a bent line there is no one direction to compare with
        if not line.bents and not line.links:
            for second in _beside(choice, m, name, line, free):
                (stroke,) = second.strokes
                (owner, *_) = m.labelled.reading.view.curves_of(second.strokes)
                hidden = m.labelled.reading.view.evidence.is_dashed(owner)
                if hidden or _no_part(m, owner) or _of_a_loop(m, owner):
                    continue
                # a line between two members is told once, of the nearer one
                if stroke not in found or abs(second.apart) < abs(found[stroke].apart):
                    found[stroke] = second
    return sorted([*found.values(), *_second_bents(choice, m)], key=lambda s: abs(s.apart))


def _no_part(m: Measured, curve: int) -> bool:
    """A curve on a layer that is named for something else than a frame."""
    evidence = m.labelled.reading.view.evidence
    return evidence.word(evidence.curves[curve].layer) in NO_PART


def _of_a_loop(m: Measured, curve: int) -> bool:
    """A side of a closed outline that no part of the frame is drawn with: a bag, a bottle."""
    view = m.labelled.reading.view
    return view.evidence.curves[curve].closed and curve not in view.curves_of(
        sorted(used_strokes(m))
    )


def _beside(
    choice: Choice, m: Measured, name: str, line: Candidate, used: set[int]
) -> list[SecondLine]:
    ends = m.labelled.pose.apply_all(choice.strokes.ends.reshape(-1, 2, 2))
    rel = ends - np.array(line.p)
    side = line.u[0] * rel[..., 1] - line.u[1] * rel[..., 0]
    along = line.u[0] * rel[..., 0] + line.u[1] * rel[..., 1]
    length = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    if name == "head_tube":
        slant = SLANT_HEAD
    else:
        slant = SLANT
    # slant by the difference of the ends' distances, so no angle needs to be worked out
    fits = (np.abs(side).max(axis=1) <= BESIDE) & (
        np.abs(side[:, 0] - side[:, 1]) <= slant * length
    )
    outline = _edge_lengths(m, name)
    tube = _tube(m, name)
    if tube is not None and tube.diameter is not None:
        # an outlined tube is known by two edges, so a rival lies near one of them
        fits &= np.abs(side).min(axis=1) <= tube.diameter / 2 + CORRECTED
    if outline and name != "fork":
        low, high = LIKE_EDGE
    elif name == "head_tube":
        low, high = LIKE_HEAD
    else:
        low, high = LIKE_LENGTH
    # an edge is shorter or longer than its middle line where the tube is cut at a slant
    sizes = np.array([line.length, *outline])
    ratio = length[:, None] / sizes[None, :]
    fits &= ((ratio >= low) & (ratio <= high)).any(axis=1)
    shared = np.minimum(along.max(axis=1), line.length) - np.maximum(along.min(axis=1), 0.0)
    fits &= shared >= SHARED * line.length
    if tube is not None and name != "fork":
        # a cable along the tube ends elsewhere than its edges do
        reach = np.sort(along, axis=1)
        edges = np.sort([[line.along(p), line.along(q)] for p, q in tube.edges], axis=1)
        fits &= np.abs(reach[:, None] - edges).max(axis=2).min(axis=1) <= SAME_ENDS
    left = [(k, float(side[k].mean())) for k in np.flatnonzero(fits).tolist() if k not in used]
    # a symmetric pair is the member's own wall, steerer or seatpost, and no rival
    paired = {k for k, a in left for j, b in left if k != j and abs(a + b) <= SYMMETRIC}
    if name == "fork":
        own = blade_centre_lines(choice, m)
    else:
        own = []
    return [SecondLine(name, apart, (k,)) for k, apart in left if k not in paired and k not in own]


def _tube(m: Measured, name: str) -> Candidate | None:
    """The outline of a member; None where only a line is drawn."""
    if name != "fork":
        return m.labelled.members[name].tube
    fork = m.labelled.fork
    return None if fork is None else fork.line


def _edge_lengths(m: Measured, name: str) -> list[float]:
    tube = _tube(m, name)
    if tube is None:
        return []
    return [hypot(q[0] - p[0], q[1] - p[1]) for p, q in tube.edges]


def blade_centre_lines(choice: Choice, m: Measured) -> list[int]:
    """Strokes in the middle of a blade that is read by its two edges: its own centre-line."""
    fork = m.labelled.fork
    if fork is None or fork.kind != "tube" or fork.line is None:
        return []
    line = fork.line
    rel = m.labelled.pose.apply_all(choice.strokes.ends.reshape(-1, 2, 2)) - np.array(line.p)
    side = np.abs(line.u[0] * rel[..., 1] - line.u[1] * rel[..., 0]).max(axis=1)
    along = line.u[0] * rel[..., 0] + line.u[1] * rel[..., 1]
    shared = np.minimum(along.max(axis=1), line.length) - np.maximum(along.min(axis=1), 0.0)
    return np.flatnonzero((side <= SYMMETRIC) & (shared >= BLADE_SHARED * line.length)).tolist()


def _second_bents(choice: Choice, m: Measured) -> list[SecondLine]:
    """Curved runs whose two ends lie near those of a curved member or of the fork's curved part, but not its edges."""
    used = used_bents(m)
    ends = m.labelled.pose.apply_all(choice.pieces.tips)
    names = {k: name for name, member in m.labelled.members.items() for k in member.bents}
    beside: dict[int, tuple[int, Offsets]] = {}
    for mine in sorted(used):
        # a run may be drawn from either end
        onward = ends - ends[mine]
        turned = ends[:, ::-1] - ends[mine]
        nearer = np.minimum(_farther(onward), _farther(turned))
        for k in np.flatnonzero(nearer <= BESIDE).tolist():
            if k not in used:
                off = turned[k] if _farther(turned[k]) < _farther(onward[k]) else onward[k]
                beside.setdefault(k, (mine, off))
    seconds = []
    for k, (mine, off) in sorted(beside.items(), key=lambda run: run[0]):
        rivals = [across for other, across in beside.values() if other == mine]
        if not any(_mirrored(off, across) for across in rivals):
            apart = float(_farther(off))
            seconds.append(SecondLine(names.get(mine, "fork"), apart, bents=(k,)))
    return seconds


def _farther(off: Offsets) -> Array:
    """The greater distance of two ends from a member's, mm; of many runs (n, 2, 2) that of each, (n,)."""
    greater: Array = np.hypot(off[..., 0], off[..., 1]).max(axis=-1)
    return greater


def _mirrored(off: Offsets, across: Offsets) -> bool:
    """Is an end of one run as far to one side of a member's as that of the other to the other: edges of its tube?"""
    wide = np.hypot(*off.T) >= LEAST_HALF
    return bool((wide & (np.hypot(*(off + across).T) <= SYMMETRIC)).any())
