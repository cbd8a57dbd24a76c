"""How every curve of the drawing was taken, and why the rest was left out."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..drawing import Drawing
from ..labelling.choice import Choice
from ..labelling.measure import Measured
from ..labelling.witnesses import BB_SITE, CHAINRING, SHELL_SIZE
from ..linework.evidence import Evidence
from ..linework.places import places
from ..linework.pose import RIM, Site
from ..linework.words import NO_PART, meaning
from .leftovers import SecondLine, blade_centre_lines

AXLE_MARK = 0.035  # tyre radii; a smaller circle about the axle marks it
PAST_WHEELS = 1.1  # wheel radii behind, before and below the axles to which the bicycle reaches
RIDER_HIGH = 4.0  # wheel radii above the rear axle: the rider's head


@dataclass(frozen=True)
class TextLabel:
    """One curve of the drawing: index and handle, what it was taken as ("" when left out), and in what way or why."""

    index: int
    handle: str
    layer: str
    kind: str
    member: str
    how: str


def labels(
    drawing: Drawing, choice: Choice, m: Measured, evidence: Evidence, seconds: Sequence[SecondLine]
) -> tuple[TextLabel, ...]:
    """A label for every curve, in the order of the file."""
    taken: dict[int, tuple[str, str]] = {}
    # the first label of a curve stays, so wheels come before what may lie on their circles
    _wheel_labels(taken, "wheel_rear", m.labelled.reading.rear, m)
    _wheel_labels(taken, "wheel_front", m.labelled.reading.front, m)
    _bb_labels(taken, choice, m)
    _member_labels(taken, choice, m)
    left = _left_out(drawing, choice, m, evidence, seconds)
    about = _about_the_bicycle(drawing, m)
    out = []
    for i, curve in enumerate(drawing.curves):
        member, how = taken.get(i, ("", left.get(i, "")))
        how = how or _elsewhere(curve.layer, about[i])
        out.append(TextLabel(i, curve.handle, curve.layer, curve.kind, member, how))
    return tuple(out)


def _wheel_labels(taken: dict[int, tuple[str, str]], name: str, site: Site, m: Measured) -> None:
    scale = m.labelled.pose.scale
    for k, r in enumerate(site.rounds):
        share = r.radius / site.tyre.radius
        # rounds stand tyre first, not always largest first: a mudguard may be larger
        if k == 0:
            how = "tyre"
        elif share > 1.0:
            how = "outside the tyre: mudguard or clearance"
        elif share > RIM:
            how = "rim"
        elif share < AXLE_MARK:
            how = "axle mark"
        else:
            how = "circle about the axle"
        for i in r.curves:
            taken.setdefault(i, (name, f"{how}, radius {r.radius * scale:.5g} mm"))
        for i in r.copies:
            taken.setdefault(i, ("", f"{name.replace('_', ' ')}: the same circle once more"))


def _bb_labels(taken: dict[int, tuple[str, str]], choice: Choice, m: Measured) -> None:
    pose = m.labelled.pose
    for r in choice.rounds:
        x, y = pose.apply(r.centre)
        size = r.radius * pose.scale
        if size <= CHAINRING and np.hypot(x - m.bb.at[0], y - m.bb.at[1]) <= BB_SITE:
            if SHELL_SIZE[0] <= size <= SHELL_SIZE[1]:
                how = "shell"
            else:
                how = "circle about the bottom bracket"
            for i in r.curves:
                taken.setdefault(i, ("bb_shell", f"{how}, radius {size:.5g} mm"))
            # a copy is named, so that a doubled line is not searched for among the unexplained
            for i in r.copies:
                taken.setdefault(i, ("", "bottom bracket: the same circle once more"))


def _member_labels(taken: dict[int, tuple[str, str]], choice: Choice, m: Measured) -> None:
    bents = choice.pieces.bents
    reading = m.labelled.reading
    for name, member in m.labelled.members.items():
        if member.drawn:
            # the steering axis may be drawn in one line that runs on beyond the head tube
            if name == "head_tube" and not reading.axis.is_tube:
                span = reading.span.pieces
            else:
                span = ()
            span = span or _below_top(choice, m, name)
            _straight_labels(taken, choice, name, member.line.strokes, "centre-line", span)
        if member.tube is not None:
            _straight_labels(taken, choice, name, member.tube.strokes, "edge")
        for k in member.bents:
            taken.update({i: (name, "curved") for i in bents[k].owners if i not in taken})
    fork = m.labelled.fork
    if fork is not None:
        how = {"tube": "edge", "edges": "edge", "legs": "edge", "axis": "on the steering axis"}.get(
            fork.kind, "centre-line"
        )
        _straight_labels(taken, choice, "fork", fork.strokes, how, fork.pieces)
        for k in fork.bents:
            taken.update({i: ("fork", "curved") for i in bents[k].owners if i not in taken})
        for k in blade_centre_lines(choice, m):
            _straight_labels(taken, choice, "fork", (k,), "centre-line")


def _below_top(choice: Choice, m: Measured, name: str) -> tuple[int, ...]:
    """Pieces of the seat tube's line that are seat tube; a seatpost on the same line is not."""
    line = m.labelled.members[name].line
    if name != "seat_tube" or len(line.strokes) != 1 or m.dimensions.seat_tube is None:
        return ()
    pieces = choice.strokes.pieces[line.strokes[0]]
    # the seat tube's length counts from the bottom bracket, the line may begin elsewhere
    top = line.along(m.bb.at) + m.dimensions.seat_tube
    ends = m.labelled.pose.apply_all(choice.pieces.ends[list(pieces)].reshape(-1, 2, 2))
    low = ((ends - np.array(line.p)) @ np.array(line.u)).min(axis=1)
    return tuple(k for k, start in zip(pieces, low, strict=True) if start < top - 1.0)


def _straight_labels(
    taken: dict[int, tuple[str, str]],
    choice: Choice,
    name: str,
    strokes: Sequence[int],
    how: str,
    span: Sequence[int] = (),
) -> None:
    """Labels for the pieces of a member's strokes; `span` narrows a stroke that holds more than the member."""
    for stroke in strokes:
        pieces = choice.strokes.pieces[stroke]
        # a span may belong to another of the member's strokes; then all of this one counts
        narrowed = [k for k in pieces if k in span] or list(pieces)
        for owner in dict.fromkeys(int(choice.pieces.owner[k]) for k in narrowed):
            known = taken.get(owner)
            if known is None:
                taken[owner] = (name, how)
            # one curve may be two members, such as a head tube and fork drawn in one line
            elif known[0] and name not in known[0].split(" + "):
                taken[owner] = (f"{known[0]} + {name}", known[1])
        for k in pieces:
            beyond = f"on the line of the {name.replace('_', ' ')}, but no part of it"
            taken.setdefault(int(choice.pieces.owner[k]), ("", beyond))


def _left_out(
    drawing: Drawing, choice: Choice, m: Measured, evidence: Evidence, seconds: Sequence[SecondLine]
) -> dict[int, str]:
    left = dict(choice.pieces.dropped)
    left.update(
        {i: "left out by the user" for i in range(len(drawing.curves)) if evidence.ignored(i)}
    )
    view = m.labelled.reading.view
    for second in seconds:
        owners = view.curves_of(second.strokes) + [
            i for k in second.bents for i in choice.pieces.bents[k].owners
        ]
        for i in owners:
            left.setdefault(
                i,
                f"second line {abs(second.apart):.3g} mm beside the {second.member.replace('_', ' ')}",
            )
    return left


def _about_the_bicycle(drawing: Drawing, m: Measured) -> list[bool]:
    """Of each curve whether its first, middle or last vertex lies about the bicycle."""
    points = m.labelled.pose.apply_all(places(drawing.curves))
    radius = max(m.dimensions.wheel_radius_front, m.dimensions.wheel_radius_rear)
    wheel = PAST_WHEELS * radius
    inside = (points[..., 0] > -wheel) & (points[..., 0] < m.front.at[0] + wheel)
    inside &= (points[..., 1] > -wheel) & (points[..., 1] < RIDER_HIGH * radius)
    return [bool(one) for one in inside.max(axis=1).tolist()]


def _elsewhere(layer: str, about: bool) -> str:
    """Why a curve that is nothing in particular was left out."""
    # said first: the builder knows the layer, its place would have to be looked up
    if meaning(layer) in NO_PART:
        return "no member of a frame, and its layer says so"
    if about:
        return "no member of a frame by its place"
    return "outside the bicycle"
