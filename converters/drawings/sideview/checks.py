"""Findings: everything in the drawing that contradicts, weakens or merely explains the labelling.

Rule: no wrong geometry without a finding. Each check holds one thing the drawing says against another it says.
Wheels and placement are in checks_wheels, tubes in checks_tubes, nodes and leftovers here.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import chain

import numpy as np

from ....model.findings import Finding, Severity
from ....model.words import spoken
from ..drawing import Drawing
from ..labelling.choice import Choice
from ..labelling.doubt import taken_as
from ..labelling.measure import Measured
from ..labelling.nodes import Node
from ..labelling.rivals import AT_CROWN
from ..labelling.search import share
from .checks_fork import SNAP_INFO, SNAP_WARN, fork_findings
from .checks_tubes import (
    bend_findings,
    missing_findings,
    outline_findings,
    seat_top_findings,
    unusual_findings,
)
from .checks_wheels import ground_findings, pose_findings, wheel_findings
from .gaps import EndGap, gaps
from .leftovers import SecondLine, used_strokes
from .open_ends import dash_findings, widest_space
from .say import find
from .stretch import Stretch

ON_AXIS = 0.3  # mm beside the steering axis within which a line is drawn on it
APART_OF_HEAD = 1.0  # mm between the head tube's end and a line that is no headset's
HIGH_STACK = 14.0  # mm of a lower headset's stack; common practice, no source
LOOSELY = 0.3  # mm between marks of one node that is worth a word: the trail follows the axle nearly one to one
SNAP_ODD = 0.1  # mm; a gap this small is worth a warning where most ends are exact
SURFACE = (5.0, 36.0)  # mm; centre-lines may end at the other tube's surface
AT_NODE = 0.5  # mm; a line that ends nearer to its node ends at it
AXIS_OVERRUN = 12.0  # mm; a line that runs on at both ends by more is an axis
MISS_TOLD = 0.05  # mm; a line that misses its node by less is drawn as well as can be asked
# Named in one finding, the worst first: more make it unreadable.
MOST_ASTRAY = 4
MOST_BESIDE = 5
MOST_SNAPPED = 6
MOST_SECONDS = 8
# share of a complete clean drawing's points below which a reading is said to be doubtful
LEAST_SCORE = 0.75
OVERRUN = 4.0  # mm; centre-lines that run on past their nodes by more do so on purpose


def findings(
    drawing: Drawing,
    choice: Choice,
    m: Measured,
    seconds: Sequence[SecondLine],
    stretch: Stretch | None = None,
) -> tuple[Finding, ...]:
    """All findings of the recognition, in the order a builder would ask."""
    every = gaps(m)
    nodes = (m.rear, m.front, m.bb)
    doubted = [node_findings(drawing, n, m.resolution) for n in nodes]
    return tuple(
        chain(
            pose_findings(m),
            wheel_findings(drawing, m, stretch),
            ground_findings(drawing, choice, m),
            missing_findings(m),
            *doubted,
            _misses(m, every),
            _snapped(m, every),
            _overrun(m, every),
            dash_findings(m),
            outline_findings(m),
            bend_findings(m),
            fork_findings(m),
            _lower_stack(drawing, choice, m),
            _seconds(drawing, choice, m, seconds),
            _rival(drawing, choice),
            _also_there(drawing, choice),
            _clashes(drawing, choice, m),
            seat_top_findings(m),
            unusual_findings(m),
            _score(choice),
            _single(m),
        )
    )


# --- nodes and gaps -----------------------------------------------------------------------------------------


def node_findings(drawing: Drawing, node: Node, resolution: float) -> Iterator[Finding]:
    """What does not agree on where a node is. resolution : step of the drawing's digits, mm."""
    yield from _node(drawing, node)
    yield from _loosely(drawing, node, resolution)


def _node(drawing: Drawing, node: Node) -> Iterator[Finding]:
    """Witnesses that contradict where a node was placed."""
    astray = sorted(
        ((w, miss) for w, miss in node.astray if miss > max(node.within, MISS_TOLD)),
        key=lambda a: -a[1],
    )
    if not astray:
        return
    by = " and ".join(dict.fromkeys(w.name for w in node.agreeing)) or "nothing"
    off = ", ".join(f"{w.name} is off by {miss:.3g} mm" for w, miss in astray[:MOST_ASTRAY])
    handles = [
        drawing.curves[i].handle for w, _ in astray for i in w.curves if drawing.curves[i].handle
    ]
    # a confirmed node has lines to spare that agree on it; else one word stands against another
    if node.confirmed:
        doubt = ""
    else:
        doubt = "; nothing settles which is right"
    yield find(
        "node-disagrees",
        "warning",
        f"the {node.name} is taken from {by}, but {off}{doubt}; correct the drawing",
        f"handle {', '.join(handles)}" if handles else "",
    )


def _loosely(drawing: Drawing, node: Node, resolution: float) -> Iterator[Finding]:
    """Marks that agree on a node only because nothing agrees better; lines are told as passing beside it."""
    off = [
        (w, w.miss(node.at))
        for w in node.agreeing
        if w.direction is None and w.miss(node.at) > max(LOOSELY, 2 * resolution)
    ]
    if off:
        said = ", ".join(f"{w.name} at {miss:.2g} mm" for w, miss in off)
        handles = [drawing.curves[i].handle for w, _ in off for i in w.curves]
        yield find(
            "node-disagrees",
            "warning",
            f"what marks the {node.name} does not agree on one place: {said} from where it is taken; nothing settles "
            "which is right: correct the drawing",
            f"handle {', '.join(h for h in handles if h)}" if any(handles) else "",
        )


def _misses(m: Measured, every: Sequence[EndGap]) -> Iterator[Finding]:
    """Lines that pass beside their node, though little enough to be counted as agreeing."""
    # twice the step: both the line and the node are rounded to the drawing's digits
    off = [g for g in every if g.across > max(MISS_TOLD, 2 * m.resolution)]
    if off:
        said = ", ".join(
            f"the {spoken(g.member)} passes the {g.node} at {g.across:.2g} mm"
            for g in sorted(off, key=lambda g: -g.across)[:MOST_BESIDE]
        )
        yield find(
            "beside-node",
            "warning",
            f"lines do not go through their nodes: {said}; the result is only as good as that",
        )


def _snapped(m: Measured, every: Sequence[EndGap]) -> Iterator[Finding]:
    """Ends that were extended or cut to their nodes."""
    # told as a habit in a finding of their own, so not once more as mistakes
    purpose = _overruns(every)
    least = max(SNAP_INFO, 2 * m.resolution)
    moved = sorted(
        (g for g in every if g.sharp and abs(g.along) > least and g not in purpose),
        key=lambda g: -abs(g.along),
    )
    if moved:
        said = ", ".join(
            f"{spoken(g.member)} {'short of' if g.along > 0 else 'past'} the {g.node} by "
            f"{abs(g.along):.2g} mm"
            for g in moved[:MOST_SNAPPED]
        )
        worst = abs(moved[0].along)
        # all others end exactly
        odd = worst > SNAP_ODD and 3 * len(moved) <= sum(g.sharp for g in every)
        # a gap of a tube's radius is how some draw, so it raises no warning
        told = [g for g in moved if not (_in_space(m, g) or _outlined(m, g))]
        one_end = _surface_at_one_end(every)
        told = [g for g in told if g.node in one_end or not _at_surface(g)]
        worst = max((abs(g.along) for g in told), default=0.0)
        odd = odd and worst > SNAP_ODD
        yield find(
            "snapped",
            "warning" if odd or worst > SNAP_WARN else "info",
            f"{len(moved)} end(s) were extended or cut to their nodes: {said}",
        )


def _in_space(m: Measured, gap: EndGap) -> bool:
    """An end of a line of single dashes that falls in a space."""
    member = m.labelled.members.get(gap.member)
    return member is not None and 0.0 < gap.along <= widest_space(m, member.line)


def _outlined(m: Measured, gap: EndGap) -> bool:
    """A line within a tube's outline, which shows by itself where the tube ends."""
    member = m.labelled.members.get(gap.member)
    return member is not None and member.tube is not None


def _surface_at_one_end(every: Sequence[EndGap]) -> set[str]:
    """The tube at which ends stop short although all those at the other tube meet it: there that tube has moved."""
    short = set()
    met = False
    for node in ("head tube", "seat tube"):
        ends = [g for g in every if g.node == node and g.sharp]
        if any(map(_at_surface, ends)):
            short.add(node)
        met = met or (bool(ends) and all(abs(g.along) <= AT_NODE for g in ends))
    return short if met else set()


def _at_surface(gap: EndGap) -> bool:
    """A centre-line drawn from tube surface to tube surface: its crossing with the other's does not move by that."""
    return gap.node in ("head tube", "seat tube") and SURFACE[0] <= gap.along <= SURFACE[1]


def _overruns(every: Sequence[EndGap]) -> list[EndGap]:
    """Centre-line ends that run on past their nodes on purpose: it is a habit, so most of them do, or both of one axis;
    where two lines cross does not move by that."""
    sharp = [g for g in every if g.sharp]
    over = [g for g in sharp if g.along < -OVERRUN]
    if len(over) >= max(3, len(sharp) // 2):
        return over
    both = [g for g in over if g.along < -AXIS_OVERRUN]
    ends = Counter(g.member for g in both)
    return [g for g in both if ends[g.member] > 1]


def _overrun(m: Measured, every: Sequence[EndGap]) -> Iterator[Finding]:
    over = _overruns(every)
    if not over:
        return
    least = min(-g.along for g in over)
    most = max(-g.along for g in over)
    yield find(
        "overrun",
        "info",
        f"{len(over)} centre-line ends run on past their nodes by {least:.3g} to {most:.3g} "
        "mm; cut there",
    )
    # one or two long lines say nothing about how the others end
    if len(over) < 3:
        return
    for name, what in (("head_tube", "length"), ("seat_tube", "top")):
        if m.labelled.members[name].tube is None:
            yield find(
                "ends-doubtful",
                "warning",
                f"the {spoken(name)}'s {what} is taken from a centre-line's ends, "
                "but centre-lines run on past their nodes in this drawing; draw its outline, or end the line "
                "where the tube ends",
            )


# --- what was left out, and what stands alone ---------------------------------------------------------------


def _seconds(
    drawing: Drawing, choice: Choice, m: Measured, seconds: Sequence[SecondLine]
) -> Iterator[Finding]:
    view = m.labelled.reading.view
    for second in seconds[:MOST_SECONDS]:
        owners = view.curves_of(second.strokes) or [
            i for k in second.bents for i in choice.pieces.bents[k].owners
        ]
        handle = _handles(drawing, owners)
        layer = drawing.curves[owners[0]].layer
        yield find(
            "second-line",
            "warning",
            f"a second line runs {abs(second.apart):.3g} mm beside the "
            f"{spoken(second.member)} (handle {handle}, layer {layer}) and was left out; if it is the right "
            f"one, use --pick {second.member}={handle}",
            f"handle {handle}",
        )


def _rival(drawing: Drawing, choice: Choice) -> Iterator[Finding]:
    close = choice.close_rival
    if close is not None:
        member, _, reading = close
        owners = taken_as(reading, member)
        handle = _handles(drawing, owners)
        layer = drawing.curves[owners[0]].layer
        yield find(
            "runner-up",
            "warning",
            f"another line could nearly as well be the {spoken(member)} (handle "
            f"{handle}, layer {layer}; score {share(reading):.1%} against {choice.score:.1%}); if it is "
            f"the right one, use --pick {member}={handle}",
            f"handle {handle}",
        )


def _handles(drawing: Drawing, curves: Sequence[int]) -> str:
    """Handles as --pick takes them: an outline needs both its edges."""
    return ",".join(dict.fromkeys(drawing.curves[i].handle or "none" for i in curves))


def _along_axis(choice: Choice) -> Iterator[tuple[int, float, float]]:
    """(piece, its lower end, its upper end) of the lines on the steering axis, rough mm along it."""
    axis = choice.reading.axis
    drawn = choice.reading.view.pose.apply_all(choice.pieces.ends.reshape(-1, 2, 2))
    rel = drawn - np.array(axis.p)
    off = np.abs(axis.u[0] * rel[..., 1] - axis.u[1] * rel[..., 0]).max(axis=1)
    along = np.sort(rel @ np.array(axis.u), axis=1)
    for k in np.flatnonzero(off <= ON_AXIS).tolist():
        yield k, float(along[k, 0]), float(along[k, 1])


def _lower_stack(drawing: Drawing, choice: Choice, m: Measured) -> Iterator[Finding]:
    """A line of its own between head tube and crown, left out of both although the user did not say so of both."""
    reading = choice.reading
    evidence = reading.view.evidence
    if not reading.span.pieces or reading.fork is None or evidence.claimed("fork"):
        return
    taken = {*reading.span.pieces, *reading.fork.pieces}
    for k, low, high in _along_axis(choice):
        below = low >= reading.fork.crown - AT_CROWN and high <= reading.span.low + AT_CROWN
        if k not in taken and below:
            head = [drawing.curves[i].handle for i in taken_as(reading, "head_tube")]
            handle = drawing.curves[int(choice.pieces.owner[k])].handle
            lines = reading.view.curves_of(reading.fork.strokes)
            blade = [
                drawing.curves[i].handle for i in lines if i not in taken_as(reading, "head_tube")
            ]
            # a headset's lower part is hardly so high and begins at the head tube; a segmented fork's shoulder does not
            own_line = high - low > HIGH_STACK or reading.span.low - high > APART_OF_HEAD
            severity: Severity = "warning" if own_line else "info"
            otherwise = f"if it is the upper part of the fork, --pick fork={','.join(dict.fromkeys([handle, *blade]))}"
            # what the head tube is has been said by hand
            if not evidence.claimed("head_tube"):
                whole = ",".join([*head, handle])
                otherwise = (
                    f"if it is part of the head tube, use --pick head_tube={whole}, {otherwise}"
                )
            yield find(
                "lower-stack",
                severity,
                f"the short line below the head tube (handle {handle}) is taken as the "
                f"lower headset stack, {m.dimensions.lower_stack:.4g} mm; {otherwise}",
                f"handle {handle}",
            )


def _also_there(drawing: Drawing, choice: Choice) -> Iterator[Finding]:
    """What was seen and left out on purpose: the lower of two top tubes, a reduced view."""
    if choice.twin is not None:
        handle = _handles(drawing, choice.reading.view.curves_of(choice.twin.strokes))
        yield find(
            "twin-top-tube",
            "info",
            f"two top tubes run side by side; the upper one is taken (the lower: handle {handle})",
            f"handle {handle}",
        )
    if choice.smaller is not None:
        wheels = " ".join(
            f"--pick {name}={_handles(drawing, taken_as(choice.smaller, name))}"
            for name in ("wheel_front", "wheel_rear")
        )
        yield find(
            "reduced-view",
            "info",
            "the bicycle is drawn once more at a smaller scale; the larger drawing is read. If the smaller one is "
            f"meant, use {wheels}",
        )


def _clashes(drawing: Drawing, choice: Choice, m: Measured) -> Iterator[Finding]:
    used = used_strokes(m)
    for stroke, (i, j, shift) in choice.strokes.clashes.items():
        one, other = (drawing.curves[int(choice.pieces.owner[k])] for k in (i, j))
        # doubled lines that no member uses do no harm; of another line type or layer they are meant
        alike = (one.layer, one.linetype) == (other.layer, other.linetype)
        if stroke in used and alike:
            yield find(
                "drawn-twice",
                "warning",
                "one line is drawn twice, pushed along itself by "
                f"{shift * m.labelled.pose.scale:.3g} mm (handles {one.handle} and {other.handle}); its ends are "
                "in doubt: delete one",
            )


def _score(choice: Choice) -> Iterator[Finding]:
    if choice.score < LEAST_SCORE:
        yield find(
            "doubtful",
            "warning",
            f"the drawing fits a bicycle frame only to {choice.score:.0%}; look at the "
            "overlay picture",
        )


def _single(m: Measured) -> Iterator[Finding]:
    """What rests on one line alone: a mistake there cannot be seen in the drawing, only against the sheet."""
    alone = []
    for n in (m.rear, m.front, m.bb):
        # a node with a line astray has its own warning
        if not n.confirmed and not n.astray:
            by = " and ".join(w.name for w in n.agreeing) or "no line"
            alone.append(f"the {n.name} ({by})")
    members = m.labelled.members
    fork = m.labelled.fork
    if members["head_tube"].tube is None:
        alone.append(
            "the head tube's ends along the steering axis (head tube, lower stack, reach, stack)"
        )
    if members["seat_tube"].tube is None:
        alone.append("the seat tube's top")
    if "top_tube" in members:
        alone.append("the top tube's height")
    if fork is not None and fork.kind != "path":
        alone.append("the fork's crown along the steering axis")
    if alone:
        yield find(
            "single-source",
            "info",
            "known from one line alone, nothing else in the drawing confirms: "
            + "; ".join(alone)
            + "; check these against the sheet",
        )
