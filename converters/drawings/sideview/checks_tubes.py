"""Findings on the tubes: outlines that do not add up, the fork, the seat tube's top, values no usual frame has."""

from collections.abc import Iterator

import numpy as np

from ....model.findings import Finding
from ....model.geometry.quantities import QUANTITIES
from ....model.geometry.statements import quantities
from ....model.words import spoken
from ..labelling.measure import AT_JUNCTION, LEVEL, Measured, tube_end
from ..linework.lines import Candidate
from ..linework.plane import Vec
from .bows import STRAIGHT, bend_cell, bow_words, bows_at, greatest_bow
from .gaps import gaps
from .member_lines import member_paths
from .say import find

MAIN = ("head_tube", "seat_tube", "top_tube", "down_tube")
ALL_SMALL = 5  # items beyond usual values to one side: a child's bicycle, not a fault
OFF_CENTRE = 0.1  # mm between a drawn centre-line and the middle of its two edges
TAPERS = 0.5  # mm by which the width of a main tube may differ from end to end
# of the way from a tube's middle to its nearer edge that a line across its end covers
CAP_REACHES = 0.8
GOES_ON = 8.0  # mm of the seat tube's line above its end that are worth a word
JUST_BEYOND = 0.15  # share of a usual range's width beyond it that is worth no warning
ENDS_BELOW = 1.0  # mm below its junction from which a seat tube lacks a piece
LONG_STUB = 140.0  # mm of seat tube above its highest junction

_WITHOUT = {
    "chainstay": "its length is taken between bottom bracket and rear axle",
    "seatstay": "where it meets the seat tube is not known",
    "top_tube": "where it meets the seat and head tube is not known",
    "down_tube": "where it meets the head tube is not known",
}


def missing_findings(m: Measured) -> Iterator[Finding]:
    """Members the measuring can do without."""
    for name, consequence in _WITHOUT.items():
        if name not in m.labelled.members:
            yield find(
                "member-missing",
                "warning",
                f"no {spoken(name)} found; {consequence}. Draw it, or name a line "
                f"that runs near its place with --pick {name}=HANDLE",
                name,
            )


# --- outlines ---------------------------------------------------------------------------------------------


def outline_findings(m: Measured) -> Iterator[Finding]:
    """Edges and centre-lines of one tube held against each other, and outlines against single lines."""
    members = m.labelled.members
    tubes = [name for name in members if members[name].tube is not None]
    # main tubes are counted apart: two of them outlined tell how the others were meant
    main = sum(t in MAIN for t in tubes)
    for name, member in members.items():
        said = spoken(name)
        if member.tube is None:
            others = main >= 2 if name in MAIN else len(tubes) >= 3
            if others and not _through_node(m, name):
                yield find(
                    "edge-missing",
                    "warning",
                    f"the {said} is a single line while other tubes have two edges; "
                    "if it is one edge of an outline, everything measured from it is off: draw the other",
                )
            continue
        if not member.drawn and name in MAIN and main < 2 and not _faced(m, name):
            yield find(
                "outline-odd",
                "warning",
                f"the {said} is read as two edges {member.diameter:.4g} mm apart "
                "while the other tubes are single lines; if one of the two is no edge, delete it or use "
                f"--pick {name}=HANDLE with the right one",
            )
        # three rounded lines share in it: the centre-line and the two edges
        if member.off > max(OFF_CENTRE, 3 * m.resolution):
            yield find(
                "outline-off-centre",
                "warning",
                f"the {said}'s centre-line and the middle of its two edges are "
                f"{member.off:.2g} mm apart; one of the three lines is wrong",
            )
        # stays taper and bent tubes have edges of unlike length; both are meant
        if name in MAIN and not member.tube.bents and not member.tube.links:
            yield from _edges_even(m, name, member.tube)


def _through_node(m: Measured, name: str) -> bool:
    """A line that meets its nodes to a hair is the middle of its tube: an edge passes them at half its width."""
    nodes = ("rear axle", "bottom bracket")
    held = [g for g in gaps(m) if g.member == name and g.node in nodes]
    straight = not m.labelled.members[name].line.bents
    return straight and bool(held) and all(g.across <= OFF_CENTRE + 3 * m.noise for g in held)


def _faced(m: Measured, name: str) -> bool:
    """An outline with a line across at both its ends."""
    tube = m.labelled.members[name].tube
    return tube is not None and all(_capped(m, tube, upper) for upper in (False, True))


def bend_findings(m: Measured) -> Iterator[Finding]:
    """Tubes drawn with a bend."""
    paths = member_paths(m)
    for name, member in m.labelled.members.items():
        if name not in paths or not (member.line.links or member.line.bents):
            continue
        bow = bows_at(paths[name])
        share = greatest_bow(bow)
        if abs(bow(share)) > STRAIGHT:
            yield find(
                "tube-bent",
                "info",
                f"the {spoken(name)} is drawn with a bend, {bow_words(bow(share), share, paths[name])}; where it joins "
                "is measured on its ends as drawn, while the model of the frame takes it as straight unless the column "
                f"bend of the sheet says otherwise, such as '{bend_cell(bow(share), share)}'",
                name,
            )


def _edges_even(m: Measured, name: str, tube: Candidate) -> Iterator[Finding]:
    """Edges of a main tube are parallel; the head tube's ends are level, and so is the seat tube's top."""
    (a0, a1), (b0, b1) = tube.edges
    # a cone between two square faces is meant
    wide = [abs(tube.lateral(a)) + abs(tube.lateral(b)) for a, b in ((a0, b0), (a1, b1))]
    faced = name == "head_tube" and all(_capped(m, tube, upper) for upper in (False, True))
    if abs(wide[0] - wide[1]) > TAPERS and not faced:
        yield find(
            "outline-tapers",
            "warning",
            f"the {spoken(name)}'s edges are {wide[0]:.4g} mm apart at one end and "
            f"{wide[1]:.4g} mm at the other; if the tube is not tapered, one edge is wrong",
        )
    ends = {
        "head_tube": (("upper", a1, b1), ("lower", a0, b0)),
        "seat_tube": (("upper", a1, b1),),
    }.get(name, ())
    for end, p, q in ends:
        uneven = abs(tube.along(p) - tube.along(q))
        if name == "seat_tube" and _ends_at_its_face(m, tube):
            continue
        short = min(p, q, key=lambda at: abs(tube.along(at) - tube.length / 2))
        if uneven > LEVEL and not _capped(m, tube, end == "upper") and not _joined_at(m, short):
            yield find(
                "outline-uneven",
                "warning",
                f"the {spoken(name)}'s two edges do not end level at its {end} end "
                f"({uneven:.3g} mm apart along the tube); the end of the longer one is taken",
            )


def _joined_at(m: Measured, at: Vec) -> bool:
    """Another tube's edge ends where this edge does: it is open there for that tube."""
    view = m.labelled.reading.view
    strokes = [
        k
        for name in ("top_tube", "down_tube", "seatstay")
        if name in m.labelled.members
        for k in m.labelled.members[name].strokes
    ]
    if not strokes:
        return False
    ends = m.labelled.pose.apply_all(view.strokes.ends[strokes].reshape(-1, 2))
    return bool(np.hypot(*(ends - np.array(at)).T).min() <= LEVEL)


def _ends_at_its_face(m: Measured, tube: Candidate) -> bool:
    """A seat tube whose edges run on in a seatpost's, and which was measured to the line across it."""
    line = m.labelled.members["seat_tube"].line
    drawn = tube_end(tube, line, upper=True) - line.along(m.bb.at)
    return m.dimensions.seat_tube is not None and drawn - m.dimensions.seat_tube > LEVEL


def _capped(m: Measured, tube: Candidate, upper: bool) -> bool:
    """A line square across the tube at its longer edge's end: the tube does end there."""
    at = tube_end(tube, tube, upper)
    wide = min(abs(tube.lateral(e[upper])) for e in tube.edges)
    ends = m.labelled.pose.apply_all(m.labelled.reading.view.strokes.ends.reshape(-1, 2, 2))
    rel = ends - np.array(tube.p)
    along = np.abs(tube.u[0] * rel[..., 0] + tube.u[1] * rel[..., 1] - at).max(axis=1)
    side = np.sort(tube.u[0] * rel[..., 1] - tube.u[1] * rel[..., 0], axis=1)
    reach = CAP_REACHES * wide
    return bool(((along <= LEVEL) & (side[:, 0] <= -reach) & (side[:, 1] >= reach)).any())


# --- fork ---------------------------------------------------------------------------------------------------


# --- values ---------------------------------------------------------------------------------------------------


def unusual_findings(m: Measured) -> Iterator[Finding]:
    """Values no usual frame has: possible, but worth a look."""
    odd = [
        (name, QUANTITIES[name], value)
        for name, value in quantities(m.dimensions).items()
        if value is not None and not QUANTITIES[name].is_usual(value)
    ]
    # all to one side points to the rider's size or to the unit, not to wrong lines
    small = sum(value < row.usual[0] for _, row, value in odd)
    if small == len(odd) >= ALL_SMALL or len(odd) - small == len(odd) >= ALL_SMALL:
        size = "small" if small else "large"
        said = ", ".join(f"{row.label} {value:.4g} {row.unit_words}" for _, row, value in odd[:4])
        yield find(
            "unusual",
            "info",
            f"a {size} bicycle: {len(odd)} items are beyond what is usual, all to the same side ({said} ...); "
            "check the unit if that is not meant",
        )
        return
    for name, row, value in odd:
        low, high = row.usual
        beyond = max(low - value, value - high)
        yield find(
            "unusual",
            # the edge of what is usual is no sharp one
            "info" if beyond <= JUST_BEYOND * (high - low) else "warning",
            f"{row.label} is {value:.4g} {row.unit_words}, usual is {low:g} to {high:g}; "
            "check that the right lines were taken",
            name,
        )


def _runs_on(m: Measured) -> Iterator[Finding]:
    """A centre-line of the seat tube that goes on above its end: where it was cut it may be drawn in pieces only."""
    seat = m.labelled.members["seat_tube"]
    if seat.tube is not None or seat.line.bents or m.dimensions.seat_tube is None:
        return
    line = seat.line
    end = line.along(m.bb.at) + m.dimensions.seat_tube
    view = m.labelled.reading.view
    pieces = [k for stroke in line.strokes for k in view.strokes.pieces[stroke]]
    middles = m.labelled.pose.apply_all(view.pieces[pieces].reshape(-1, 2, 2).mean(axis=1))
    along = (middles - np.array(line.p)) @ np.array(line.u)
    curves = view.evidence.curves
    owners = [curves[int(view.owner[k])] for k in pieces]
    beyond = [c for c, at in zip(owners, along.tolist(), strict=True) if at > end + AT_JUNCTION]
    below = {c.layer for c, at in zip(owners, along.tolist(), strict=True) if at < end}
    if not beyond or line.length - end < GOES_ON:
        return
    handles = ", ".join(dict.fromkeys(c.handle for c in beyond))
    yield find(
        "seat-top",
        # a seatpost is seldom drawn on the seat tube's own layer
        "warning" if below & {c.layer for c in beyond} else "info",
        f"the seat tube is taken to end {m.dimensions.seat_tube:.1f} mm from the bottom bracket, where a piece of its "
        f"line ends; the line goes on for {line.length - end:.0f} mm (handle {handles}), as a seatpost would: if that "
        "is seat tube, draw it as one line, or state its length with --pick seat_tube=520mm",
    )


def seat_top_findings(m: Measured) -> Iterator[Finding]:
    """A seat tube that ends below or just at its junctions: its upper piece may be missing."""
    yield from _runs_on(m)
    d = m.dimensions
    if d.seat_tube is None or d.top_tube_on_seat_tube is None:
        return
    stay = d.top_tube_on_seat_tube - (d.seatstay_below_top_tube or 0.0)
    if stay <= d.top_tube_on_seat_tube:
        junction = "top tube"
    else:
        junction = "seatstay"
    stub = d.seat_tube - max(d.top_tube_on_seat_tube, stay)
    pieces = m.labelled.reading.view.strokes.pieces
    # where the tube is drawn in pieces, its last one may have been forgotten
    cut_up = any(len(pieces[k]) > 1 for k in m.labelled.members["seat_tube"].line.strokes)
    if stub < -ENDS_BELOW:
        yield find(
            "seat-top",
            "warning",
            f"the seat tube ends {-stub:.3g} mm below the {junction}'s centre-line; an "
            "upper piece of it may be missing",
        )
    elif stub < AT_JUNCTION:
        yield find(
            "seat-top",
            "warning" if cut_up else "info",
            f"the seat tube ends at the {junction}'s centre-line; "
            "if it stands above it, that piece is missing in the drawing",
        )
    elif stub > LONG_STUB:
        tube = m.labelled.members["seat_tube"].tube
        # a line across its end marks it
        faced = tube is not None and not tube.bents and _capped(m, tube, upper=True)
        yield find(
            "seat-top",
            "warning" if cut_up and not faced else "info",
            f"the seat tube stands {stub:.3g} mm above the "
            f"{junction}; if that is the seatpost, the seat tube's own end is not marked",
        )
