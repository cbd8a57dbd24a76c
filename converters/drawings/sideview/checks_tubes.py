"""Findings on the tubes: outlines that do not add up, the fork, the seat tube's top, values no usual frame has."""

from collections.abc import Iterator, Mapping

import numpy as np

from ....model.findings import Finding
from ....model.geometry.quantities import QUANTITIES
from ....model.geometry.statements import quantities
from ....model.words import spoken
from ..labelling.fork import Fork
from ..labelling.measure import AT_JUNCTION, LEVEL, Measured, tube_end
from ..linework.lines import Candidate
from ..linework.plane import Vec
from .bows import STRAIGHT, bend_cell, bow_words, bows_at, greatest_bow
from .gaps import gaps
from .member_lines import member_paths
from .say import LOWER_RACE, find

MAIN = ("head_tube", "seat_tube", "top_tube", "down_tube")
# mm; ends moved by less than the first are not worth a word
SNAP_INFO = 0.02
SNAP_WARN = 0.5
OFF_AXIS = 0.3  # mm between the middle of a blade's edges and the head tube's
UNEVEN = 0.4  # mm between the two sides of what is turned
LOW_CROWN = 5.0  # mm; no crown is as low, it is a line that misses the blades
ALL_SMALL = 5  # items beyond usual values to one side: a child's bicycle, not a fault
OFF_CENTRE = 0.1  # mm between a drawn centre-line and the middle of its two edges
TAPERS = 0.5  # mm by which the width of a main tube may differ from end to end
# of the way from a tube's middle to its nearer edge that a line across its end covers
CAP_REACHES = 0.8
NEAR_AXIS = 1.0  # mm; a fork's line this near the steering axis was drawn as it
ASKEW = 0.1  # mm from the axle's foot to where the offset line leaves the axis
ASKEW_SHARE = 0.3  # of the fork offset; farther off the line was drawn for something else
SURE_FORK = 1.2  # points of a fork that counts as drawn (see labelling.fork)
# mm between two crowns that contradict each other; farther apart they are two things
CROWNS_APART = (0.5, 40.0)
# times the drawing's noise: a blade crosses the axis so flat that it is multiplied by eight
CROWN_NOISE = 10
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


def fork_findings(m: Measured) -> Iterator[Finding]:
    """Where the crown and the front axle come from, and what contradicts them."""
    fork = m.labelled.fork
    assert fork is not None
    if fork.kind in ("axis", "edges", "legs"):
        yield find(
            "fork-open",
            "info" if fork.kind in ("edges", "legs") else "warning",
            "no line of the fork was followed down "
            "to the front axle; the axle is the wheel's centre",
        )
    if fork.kind == "legs":
        yield find(
            "fork-sprung",
            "info",
            "the fork's legs stand beside the steering axis, as a suspension fork's do; its length and offset are "
            "taken as drawn, and the sheet says whether that is extended or at sag (row 'dimensions hold')",
        )
    if m.flush > max(SNAP_INFO, 3 * m.noise):
        yield find(
            "fork-flush",
            "warning" if m.flush > SNAP_WARN else "info",
            f"the fork starts {m.flush:.2g} mm "
            "above the head tube's lower end; taken as starting at it (no lower stack)",
        )
    # only a crown found by crossing lines is that sensitive; a drawn end is not
    if m.crown_by.startswith("where") and abs(m.crown_gap) > SNAP_INFO:
        yield find(
            "crown-by-crossing",
            "info",
            f"the crown is {m.crown_by}; they meet at a flat angle, so an error of "
            "0.1 mm across moves the crown by about 1 mm",
        )
    if m.ends.crown_height > SNAP_INFO:
        yield find(
            "crown-drawn",
            "info",
            f"the fork is measured to the upper face of its crown, {m.ends.crown_height:.3g} mm above "
            "the blades' upper ends",
        )
    if fork.kind == "tube" and fork.line is not None:
        # the tube's line runs from the axle up, so the second ends are the crown's
        (_, a), (_, b) = fork.line.edges
        off = abs(m.axis.lateral(((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)))
        if off > OFF_AXIS:
            yield find(
                "crown-off-axis",
                "warning",
                f"the blade's upper ends lie {off:.2g} mm off the head tube's "
                "middle line; an edge of one of them is wrong, and with it the offset and the trail",
            )
    for other in m.ends.doubts:
        yield find(
            "steering-doubt",
            "warning",
            f"lines square across the steering axis can be shared out otherwise: {other.said}; if that is right, use "
            f"{_as_typed(m, other.picks)}",
            LOWER_RACE if other.lower > 0 else "",
        )
    if m.ends.against.uneven > max(UNEVEN, 4 * m.noise):
        yield find(
            "steering-doubt",
            "warning",
            f"a part of the head tube or headset stands {m.ends.against.uneven:.2g} mm farther from the steering axis "
            "on one side than on the other: one of its edges is wrong, or the head tube's are, and with them the axis",
        )
    yield from _beside_axis(m)
    yield from _loose_face(m)
    yield from _misplaced_step(m)
    yield from _misplaced_race(m)
    yield from _low_crown(m)
    yield from _stray_face(m)
    yield from _blade_off_axis(m, fork)
    yield from _offset_square(m, fork)
    yield from _crowns_differ(m, fork)


def _as_typed(m: Measured, picks: Mapping[str, tuple[int, ...]]) -> str:
    """``--pick head_tube=4A,4B --pick crown=51``; in general words where curves have no handle."""
    curves = m.labelled.reading.view.evidence.curves
    handles = {}
    for name, held in picks.items():
        handles[name] = [curves[i].handle for i in held]
    # a command with an empty handle would be refused when typed in
    if not handles or not all(held and all(held) for held in handles.values()):
        return "--pick head_tube=HANDLE,HANDLE with its two edges or --pick crown=HANDLE"
    return " ".join(
        f"--pick {name}={','.join(dict.fromkeys(held))}" for name, held in handles.items()
    )


def _beside_axis(m: Measured) -> Iterator[Finding]:
    """What is square across the steering axis is as wide on one side of it as on the other."""
    if m.ends.against.beside > max(OFF_AXIS, 3 * m.noise):
        yield find(
            "steering-doubt",
            "warning",
            "a line across the steering axis that ends the head tube or the fork has its middle "
            f"{m.ends.against.beside:.2g} mm beside the axis: one edge of the head tube is wrong, and with it the "
            "axis, the offset and the trail; correct the edge or the line",
        )


def _loose_face(m: Measured) -> Iterator[Finding]:
    """A line across the steering axis beyond the head tube's end that nothing joins to it."""
    if m.ends.against.loose:
        beyond = " and ".join(f"{x - m.dimensions.head_tube:.3g}" for x in m.ends.against.loose)
        lengths = " or ".join(f"{x:.4g}" for x in m.ends.against.loose)
        yield find(
            "steering-doubt",
            "warning",
            f"a line as wide as the head tube lies {beyond} mm beyond its end, and no edges on both sides join it; "
            f"if it is the end, the head tube is {lengths} mm long instead of {m.dimensions.head_tube:.4g}: correct "
            "the edges, or name them all with --pick head_tube=HANDLE,HANDLE",
        )


def _misplaced_step(m: Measured) -> Iterator[Finding]:
    """A line across the head tube beside the step of its edges where it should be."""
    if m.ends.against.misplaced:
        yield find(
            "steering-doubt",
            "warning",
            f"a line across the head tube lies {m.ends.against.misplaced:.2g} mm from the step of its edges where none "
            "is drawn; without it a ring of the head tube and a part of the headset look alike, so its length "
            f"({m.dimensions.head_tube:.4g} mm) is in doubt: correct the line",
        )


def _misplaced_race(m: Measured) -> Iterator[Finding]:
    """The crown's upper face drawn elsewhere than its sides end."""
    if m.ends.against.race:
        yield find(
            "crown-doubtful",
            "warning",
            f"the line across that is taken as the crown's upper face lies {m.ends.against.race:.2g} mm from where its "
            "sides end; one of them is wrong by that, and with it the fork's length",
        )


def _low_crown(m: Measured) -> Iterator[Finding]:
    """A line across just above the blades' upper ends, which nothing joins to them."""
    if SNAP_INFO < m.ends.crown_height < LOW_CROWN:
        yield find(
            "crown-doubtful",
            "warning",
            f"the line across that is taken as the crown's upper face lies {m.ends.crown_height:.2g} mm above the "
            "blades' upper ends; one of them is wrong by that, and with it the fork's length",
        )


def _stray_face(m: Measured) -> Iterator[Finding]:
    """A line as wide as the head tube that crosses it near its end, where its face is missing."""
    for end, off in zip(("lower", "upper"), m.ends.against.stray, strict=True):
        if off:
            yield find(
                "steering-doubt",
                "warning",
                f"a line as wide as the head tube crosses it {abs(off):.2g} mm {_side(end, off)} where "
                f"its edges end at its {end} end, and no face is drawn there; the head tube's length "
                f"({m.dimensions.head_tube:.4g} mm) may be off by that: correct the line or the edges",
            )


def _side(end: str, inwards: float) -> str:
    return "above" if (inwards > 0.0) == (end == "lower") else "below"


def _blade_off_axis(m: Measured, fork: Fork) -> Iterator[Finding]:
    """The straight edges of a raked blade lie as far from the steering axis on one side as on the other."""
    if fork.kind != "edges":
        return
    pose = m.labelled.pose
    strokes = m.labelled.reading.view.strokes
    ends = [pose.apply_all(strokes.ends[k].reshape(2, 2)).tolist() for k in fork.strokes]
    sides = []
    for one, other in ends:
        sides.append((m.axis.lateral(tuple(one)) + m.axis.lateral(tuple(other))) / 2)
    # lines on one side of the axis are not the two edges of a blade that begins on it
    if len(sides) != 2 or sides[0] * sides[1] >= 0.0:
        return
    off = abs(sum(sides)) / 2
    if off > max(OFF_AXIS, 3 * m.noise):
        yield find(
            "crown-off-axis",
            "warning",
            f"the blade's straight edges lie {off:.2g} mm off the head tube's middle line; an edge of one of them is "
            "wrong, and with it the offset and the trail",
        )


def _offset_square(m: Measured, fork: Fork) -> Iterator[Finding]:
    """A fork drawn as axis and offset line: the offset line leaves the axis square, at the foot of the axle."""
    if fork.kind != "path" or len(fork.strokes) < 2 or fork.bents:
        return
    pose = m.labelled.pose
    strokes = m.labelled.reading.view.strokes
    ends = [pose.apply_all(strokes.ends[k].reshape(2, 2)).tolist() for k in fork.strokes]
    on_axis = []
    for line in ends:
        if all(abs(m.axis.lateral((x, y))) < NEAR_AXIS for x, y in line):
            on_axis.append(line)
    if not on_axis:
        return
    lowest = min(m.axis.along((x, y)) for e in on_axis for x, y in e)
    askew = abs(lowest - m.axis.along(m.front.at))
    if max(ASKEW, 3 * m.noise) < askew < ASKEW_SHARE * abs(m.dimensions.fork_offset):
        yield find(
            "offset-not-square",
            "warning",
            f"the offset line leaves the steering axis {askew:.2g} mm from the "
            "foot of the front axle, so it is not square to the axis; the offset is measured square",
        )


def _crowns_differ(m: Measured, fork: Fork) -> Iterator[Finding]:
    # the forks were found in the view's axes, before the unit was known
    scale = m.labelled.pose.scale / m.labelled.reading.view.pose.scale
    other = {"tube": "line", "line": "tube"}.get(fork.kind)
    apart = min(
        (
            abs(f.crown - fork.crown) * scale
            for f in m.labelled.reading.forks
            if f.kind == other and f.points > SURE_FORK
        ),
        default=0.0,
    )
    if max(CROWNS_APART[0], CROWN_NOISE * m.noise) < apart < CROWNS_APART[1]:
        yield find(
            "crown-doubtful",
            "warning",
            f"the fork's outline and centre-line put the crown {apart:.2g} mm "
            f"apart on the steering axis; {m.crown_by} was taken",
        )


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
