"""Findings: everything in the drawing that contradicts, weakens or merely explains the labelling.

Rule: no wrong geometry without a finding. Each check holds one thing the drawing says against another it says.
"""

from collections.abc import Iterator, Sequence
from itertools import chain
from math import hypot

import numpy as np

from model.errors import InputError
from model.findings import Finding, Severity

from .drawing import Drawing
from .recognise_choice import Choice, share
from .recognise_fork import Fork
from .recognise_gaps import Gap, gaps
from .recognise_leftovers import second_lines, used_strokes
from .recognise_lines import Candidate
from .recognise_measure import AT_JUNCTION, LEVEL, Measured, tube_end
from .recognise_nodes import Node
from .recognise_pose import Site
from .recognise_words import meaning

BEAD_SEATS = (305, 349, 355, 369, 406, 451, 507, 520, 540, 559, 571, 584, 590, 597, 622, 630, 635)  # ISO 5775, mm
NARROWEST_TYRE = 0.952  # rim's bead seat over tyre outside; no tyre is lower than this on its rim
RIM_MATCH = 0.15  # mm; a wheel circle this near half a bead seat diameter is a rim's
SNAP_INFO, SNAP_WARN = 0.02, 0.5  # mm; ends moved by less than the first are not worth a word
OVERRUN = 4.0  # mm; centre-lines that run on past their nodes by more do so on purpose
ROUND_ERROR = 0.02  # mm
MAIN = ("head_tube", "seat_tube", "top_tube", "down_tube")


def findings(drawing: Drawing, choice: Choice, m: Measured) -> tuple[Finding, ...]:
    """All findings of the recognition, in the order a builder would ask."""
    every = gaps(m)
    return tuple(chain(
        _pose(m), _wheels(drawing, m), _missing(m), *(_node(drawing, n) for n in (m.rear, m.front, m.bb)),
        _misses(m, every), _snapped(m, every), _outlines(m), _head_ends(m, every), _fork(m), _seconds(drawing, choice, m),
        _rival(drawing, choice),        _clashes(drawing, choice, m), _ground(choice, m), _unusual(m), _seat_top(m), _score(choice), _single(m),
    ))


def _find(code: str, severity: Severity, message: str, where: str = "") -> Finding:
    return Finding(f"side-{code}", severity, message, where)


def _name(member: str) -> str:
    return member.replace("_", " ")


# --- placement and wheels --------------------------------------------------------------------------------


def _pose(m: Measured) -> Iterator[Finding]:
    pose = m.labelled.pose
    turn = pose.rotation_deg
    off = (turn + 45.0) % 90.0 - 45.0
    if pose.mirrored and abs(turn) > 90.0:
        yield _find("facing-left", "info", "the bicycle faces left; read mirrored, so that front is to the right")
    elif pose.mirrored:
        yield _find("upside-down", "info", "the bicycle stands on its head (the ground is above it, as in files with y "
                    "downwards); read flipped, so that the wheels are below")
    elif abs(turn) > 135.0:
        yield _find("turned-over", "info", f"the drawing is turned by {turn:.4g} degrees; read upright")
    wheelbase = m.front.at[0] - m.rear.at[0]
    if 0.01 <= abs(off) <= 1.5 and abs(off) * wheelbase / 57.3 > 4 * m.noise:
        yield _find("tilted", "warning", f"the ground under both wheels is {abs(off):.3g} degrees off the sheet's axes: the "
                    f"bicycle is drawn tilted, or one wheel is too high by {abs(off) * wheelbase / 57.3:.3g} mm or has the "
                    "wrong radius; check the wheels")
    elif abs(off) > 1.5:
        yield _find("rotated", "info", f"the drawing is rotated by {turn:.4g} degrees; levelled by the ground under both wheels")


def _wheels(drawing: Drawing, m: Measured) -> Iterator[Finding]:
    reading, scale = m.labelled.reading, m.labelled.pose.scale
    for name, site in (("rear", reading.rear), ("front", reading.front)):
        tyre = site.tyre
        if tyre.error * scale > ROUND_ERROR or (tyre.error and len(tyre.curves) > 1):
            yield _find("wheel-fitted", "info", f"the {name} wheel is drawn with {len(tyre.curves)} piece(s), not as a circle; "
                        f"fitted radius {tyre.radius * scale:.5g} mm, error {tyre.error * scale:.2g} mm")
        if tyre.error * scale > 0.8:
            yield _find("wheel-rough", "warning", f"the {name} wheel's pieces miss one common circle by up to "
                        f"{tyre.error * scale:.2g} mm; trail depends on its radius: draw it as a circle")
        if tyre.coverage < 0.97:
            yield _find("wheel-part", "info", f"only {tyre.coverage:.0%} of the {name} wheel's circle is drawn")
        yield from _rim_only(drawing, name, site, scale)
        yield from _tyre_doubt(name, site, scale)
    a, b = m.dimensions.wheel_radius_front, m.dimensions.wheel_radius_rear
    if abs(a - b) > 0.3:
        yield _find("unequal-wheels", "info", f"wheel radii differ: front {a:.5g} mm, rear {b:.5g} mm; the ground under both "
                    "is taken as level")


def _rim_only(drawing: Drawing, name: str, site: Site, scale: float) -> Iterator[Finding]:
    radius = site.tyre.radius * scale
    by_layer = meaning(drawing.curves[site.tyre.curves[0]].layer) == "rim"
    bead = next((d for d in BEAD_SEATS if abs(d / 2 - radius) <= RIM_MATCH), None)
    inner = [r.radius * scale for r in site.rounds[1:] if 0.72 * radius <= r.radius * scale < 0.99 * radius]
    if by_layer or (bead is not None and not inner):
        which = f"that of a {bead} mm bead seat" if bead else "on a layer for rims"
        yield _find("rim-only", "warning", f"the {name} wheel's only circle has radius {radius:.5g} mm, {which}: the rim, it "
                    "seems, without the tyre; trail and heights need the tyre's outside: draw it or state the tyre")


def _tyre_doubt(name: str, site: Site, scale: float) -> Iterator[Finding]:
    """Two circles so near in size that one may be the tyre and the other its clearance or mudguard."""
    tyre = site.tyre.radius
    near = [r.radius * scale for r in site.rounds[1:] if NARROWEST_TYRE * tyre < r.radius and abs(r.radius - tyre) > 1e-3 * tyre]
    if near:
        yield _find("tyre-doubt", "warning", f"the {name} wheel has two outer circles, radius {tyre * scale:.5g} and {near[0]:.5g} mm; the "
                    f"first is taken as the tyre. If it is a mudguard or clearance, use --pick wheel_{name}=HANDLE")


def refuse_missing_tyre(m: Measured) -> None:
    """One wheel shows only the rim the other has inside its tyre: the tyre is missing. Raises InputError."""
    front, rear = m.labelled.reading.front, m.labelled.reading.rear
    for name, small, large in (("front", front, rear), ("rear", rear, front)):
        inner = [r.radius for r in large.rounds[1:] if r.radius > 0.7 * large.tyre.radius]
        if small.tyre.radius < 0.985 * large.tyre.radius and any(abs(r - small.tyre.radius) < 2e-3 * r for r in inner):
            scale = m.labelled.pose.scale
            raise InputError(
                f"the {name} tyre is missing: the {name} wheel's outer circle (radius {small.tyre.radius * scale:.5g} mm) is "
                f"what the other wheel has as its rim, inside a tyre of {large.tyre.radius * scale:.5g} mm; draw the tyre")


# --- nodes ------------------------------------------------------------------------------------------------

_WITHOUT = {
    "chainstay": "its length is taken between bottom bracket and rear axle",
    "seatstay": "where it meets the seat tube is not known",
    "top_tube": "where it meets the seat and head tube is not known",
    "down_tube": "where it meets the head tube is not known",
}


def _missing(m: Measured) -> Iterator[Finding]:
    for name, consequence in _WITHOUT.items():
        if name not in m.labelled.members:
            yield _find("member-missing", "warning", f"no {_name(name)} found; {consequence}. Draw it, or name it with "
                        f"--pick {name}=HANDLE")


def _node(drawing: Drawing, node: Node) -> Iterator[Finding]:
    """Witnesses that contradict where a node was placed."""
    astray = sorted(((w, miss) for w, miss in node.astray if miss > max(node.within, 0.05)), key=lambda a: -a[1])
    if not astray:
        return
    by = " and ".join(dict.fromkeys(w.name for w in node.agreeing)) or "nothing"
    off = ", ".join(f"{w.name} is off by {miss:.3g} mm" for w, miss in astray[:4])
    handles = [drawing.curves[i].handle for w, _ in astray for i in w.curves if drawing.curves[i].handle]
    doubt = "" if node.confirmed else "; nothing settles which is right"
    yield _find("node-disagrees", "warning", f"the {node.name} is taken from {by}, but {off}{doubt}; correct the drawing",
                f"handle {', '.join(handles)}" if handles else "")


def _misses(m: Measured, every: Sequence[Gap]) -> Iterator[Finding]:
    """Lines that pass beside their node, though little enough to be counted as agreeing."""
    off = [g for g in every if g.across > max(0.05, 2 * m.resolution)]
    if off:
        said = ", ".join(f"the {_name(g.member)} passes the {g.node} at {g.across:.2g} mm"
                         for g in sorted(off, key=lambda g: -g.across)[:5])
        yield _find("beside-node", "warning", f"lines do not go through their nodes: {said}; the result is only as good as that")


def _snapped(m: Measured, every: Sequence[Gap]) -> Iterator[Finding]:
    purpose = _overruns(every)
    moved = [g for g in every if g.sharp and abs(g.along) > max(SNAP_INFO, 2 * m.resolution) and g not in purpose]
    if not moved:
        return
    moved.sort(key=lambda g: -abs(g.along))
    said = ", ".join(f"{_name(g.member)} {'short of' if g.along > 0 else 'past'} the {g.node} by {abs(g.along):.2g} mm"
                     for g in moved[:6])
    worst = abs(moved[0].along)
    yield _find("snapped", "warning" if worst > SNAP_WARN else "info",
                f"{len(moved)} end(s) were extended or cut to their nodes: {said}")


def _overruns(every: Sequence[Gap]) -> list[Gap]:
    """Centre-line ends that run on past their nodes on purpose: it is a habit, so most of them do."""
    sharp = [g for g in every if g.sharp]
    over = [g for g in sharp if g.along < -OVERRUN]
    return over if len(over) >= max(3, len(sharp) // 2) else []


def _head_ends(m: Measured, every: Sequence[Gap]) -> Iterator[Finding]:
    over = _overruns(every)
    if not over:
        return
    least, most = min(-g.along for g in over), max(-g.along for g in over)
    yield _find("overrun", "info", f"{len(over)} centre-line ends run on past their nodes by {least:.3g} to {most:.3g} mm; cut there")
    for name, what in (("head_tube", "length"), ("seat_tube", "top")):
        if m.labelled.members[name].tube is None:
            yield _find("ends-doubtful", "warning", f"the {_name(name)}'s {what} is taken from a centre-line's ends, but centre-"
                        "lines run on past their nodes in this drawing; draw its outline, or end the line where the tube ends")


# --- outlines ---------------------------------------------------------------------------------------------


def _outlines(m: Measured) -> Iterator[Finding]:
    members = m.labelled.members
    tubes = [name for name in members if members[name].tube is not None]
    for name, member in members.items():
        if member.tube is None:
            if len(tubes) >= 3 or (name in MAIN and sum(t in MAIN for t in tubes) >= 2):
                yield _find("edge-missing", "warning", f"the {_name(name)} is a single line while other tubes are drawn with two "
                            "edges; if it is one edge of an outline, everything measured from it is off: draw the other")
            continue
        if not member.drawn and name in MAIN and sum(t in MAIN for t in tubes) < 2:
            yield _find("outline-odd", "warning", f"the {_name(name)} is read as two edges {member.diameter:.4g} mm apart while the "
                        "other tubes are single lines; if one of the two is no edge, delete it or use --pick "
                        f"{name}=HANDLE with the right one")
        if member.off > max(0.1, 3 * m.resolution):
            yield _find("outline-off-centre", "warning", f"the {_name(name)}'s centre-line and the middle of its two edges are "
                        f"{member.off:.2g} mm apart; one of the three lines is wrong")
        if name in MAIN and not member.tube.bents:
            yield from _edges_even(m, name)


def _edges_even(m: Measured, name: str) -> Iterator[Finding]:
    """Edges of a main tube are parallel; the head tube's end at one height, and so does the seat tube's top."""
    tube = m.labelled.members[name].tube
    assert tube is not None
    (a0, a1), (b0, b1) = tube.edges
    wide = [abs(tube.lateral(a)) + abs(tube.lateral(b)) for a, b in ((a0, b0), (a1, b1))]
    if abs(wide[0] - wide[1]) > 0.5:
        yield _find("outline-tapers", "warning", f"the {_name(name)}'s edges are {wide[0]:.4g} mm apart at one end and {wide[1]:.4g} "
                    "mm at the other; if the tube is not tapered, one edge is wrong")
    if name not in ("head_tube", "seat_tube"):
        return
    for end, p, q in (("upper", a1, b1), ("lower", a0, b0))[: 2 if name == "head_tube" else 1]:
        uneven = abs(tube.along(p) - tube.along(q))
        if uneven > LEVEL and not _capped(m, tube, end == "upper"):
            yield _find("outline-uneven", "warning", f"the {_name(name)}'s two edges do not end level at its {end} end "
                        f"({uneven:.3g} mm apart along the tube); the end of the longer one is taken")


def _capped(m: Measured, tube: Candidate, upper: bool) -> bool:
    """A line square across the tube at its longer edge's end: the tube does end there."""
    at = tube_end(tube, tube, upper)
    wide = (tube.diameter or 0.0) / 2
    ends = m.labelled.pose.apply_all(m.labelled.reading.view.strokes.ends.reshape(-1, 2, 2))
    rel = ends - np.array(tube.p)
    along = np.abs(tube.u[0] * rel[..., 0] + tube.u[1] * rel[..., 1] - at).max(axis=1)
    side = np.sort(tube.u[0] * rel[..., 1] - tube.u[1] * rel[..., 0], axis=1)
    return bool(((along <= LEVEL) & (side[:, 0] <= -0.8 * wide) & (side[:, 1] >= 0.8 * wide)).any())


# --- fork ---------------------------------------------------------------------------------------------------


def _fork(m: Measured) -> Iterator[Finding]:
    fork = m.labelled.fork
    assert fork is not None
    if fork.kind in ("axis", "edges"):
        yield _find("fork-open", "info" if fork.kind == "edges" else "warning", "no line of the fork was followed down to the "
                    "front axle; the axle is the wheel's centre")
    if m.flush > max(SNAP_INFO, 3 * m.noise):
        yield _find("fork-flush", "warning" if m.flush > SNAP_WARN else "info", f"the fork starts {m.flush:.2g} mm above the head "
                    "tube's lower end; taken as starting at it (no lower stack)")
    if m.crown_by.startswith("where") and abs(m.crown_gap) > SNAP_INFO:
        yield _find("crown-by-crossing", "info", f"the crown is {m.crown_by}; they meet at a flat angle, so an error of 0.1 mm "
                    "across moves the crown by about 1 mm")
    if fork.kind == "tube" and fork.line is not None:
        (_, a), (_, b) = fork.line.edges
        off = abs(m.axis.lateral(((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)))
        if off > 0.3:
            yield _find("crown-off-axis", "warning", f"the blade's upper ends lie {off:.2g} mm off the head tube's middle line; an "
                        "edge of the head tube or of the fork is wrong, and with it the offset and the trail")
    yield from _offset_square(m, fork)
    yield from _crowns_differ(m, fork)


def _offset_square(m: Measured, fork: Fork) -> Iterator[Finding]:
    """A fork drawn as axis and offset line: the offset line leaves the axis square, at the foot of the axle."""
    if fork.kind != "path" or len(fork.strokes) < 2 or fork.bents:
        return
    pose, strokes = m.labelled.pose, m.labelled.reading.view.strokes
    ends = [pose.apply_all(strokes.ends[k].reshape(2, 2)).tolist() for k in fork.strokes]
    on_axis = [e for e in ends if all(abs(m.axis.lateral((x, y))) < 1.0 for x, y in e)]
    if not on_axis:
        return
    foot = m.axis.along(m.front.at)
    lowest = min(m.axis.along((x, y)) for e in on_axis for x, y in e)
    across = abs(m.dimensions.fork_offset)
    if max(0.1, 3 * m.noise) < abs(lowest - foot) < 0.3 * across:
        yield _find("offset-not-square", "warning", f"the offset line leaves the steering axis {abs(lowest - foot):.2g} mm from the "
                    "foot of the front axle, so it is not square to the axis; the offset is measured square")


def _crowns_differ(m: Measured, fork: Fork) -> Iterator[Finding]:
    scale = m.labelled.pose.scale / m.labelled.reading.view.pose.scale
    other = {"tube": "line", "line": "tube"}.get(fork.kind)
    crowns = [f.crown for f in m.labelled.reading.forks if f.kind == other and f.points > 1.2
              and abs(f.crown - fork.crown) * scale < 40.0]
    apart = min((abs(c - fork.crown) * scale for c in crowns), default=0.0)
    if apart > max(0.5, 10 * m.noise):
        yield _find("crown-doubtful", "warning", f"the fork's outline and centre-line put the crown {apart:.2g} mm apart on the "
                    f"steering axis; {m.crown_by} was taken")


# --- what was left out, and what stands alone ---------------------------------------------------------------


def _seconds(drawing: Drawing, choice: Choice, m: Measured) -> Iterator[Finding]:
    for second in second_lines(choice, m)[:8]:
        view = m.labelled.reading.view
        index = (view.curves_of(second.strokes) or [choice.pieces.bents[k].owner for k in second.bents])[0]
        curve = drawing.curves[index]
        yield _find("second-line", "warning", f"a second line runs {abs(second.apart):.3g} mm beside the {_name(second.member)} "
                    f"(handle {curve.handle or 'none'}, layer {curve.layer}) and was left out; if it is the right one, use "
                    f"--pick {second.member}={curve.handle or 'HANDLE'}", f"handle {curve.handle}")


def _rival(drawing: Drawing, choice: Choice) -> Iterator[Finding]:
    close = choice.close_rival
    if close is not None:
        member, line, reading = close
        curve = drawing.curves[reading.view.curves_of(line.strokes)[0]]
        yield _find("runner-up", "warning", f"another line could nearly as well be the {_name(member)} (handle "
                    f"{curve.handle or 'none'}, layer {curve.layer}; score {share(reading):.1%} against {choice.score:.1%}); if it is "
                    f"the right one, use --pick {member}={curve.handle or 'HANDLE'}", f"handle {curve.handle}")


def _clashes(drawing: Drawing, choice: Choice, m: Measured) -> Iterator[Finding]:
    used = used_strokes(m)
    for stroke, (i, j, shift) in choice.strokes.clashes.items():
        if stroke in used:
            a, b = (drawing.curves[int(choice.pieces.owner[k])] for k in (i, j))
            yield _find("drawn-twice", "warning", f"one line is drawn twice, pushed along itself by {shift * m.labelled.pose.scale:.3g} "
                        f"mm (handles {a.handle} and {b.handle}); its ends are in doubt: delete one")


def _ground(choice: Choice, m: Measured) -> Iterator[Finding]:
    """A drawn ground line that is not the tangent under both wheels."""
    ends = m.labelled.pose.apply_all(choice.strokes.ends.reshape(-1, 2, 2))
    ground = -m.dimensions.wheel_radius_rear + m.rear.at[1]
    wheelbase = m.front.at[0] - m.rear.at[0]
    for p, q in ends[abs(ends[:, 0, 0] - ends[:, 1, 0]) >= 0.9 * wheelbase].tolist():
        off = max(abs(p[1] - ground), abs(q[1] - ground))
        if abs(p[1] - q[1]) <= 0.02 * abs(p[0] - q[0]) and max(0.3, 4 * m.noise) < off <= 15.0:
            yield _find("ground-off", "warning", f"the drawn ground line is {off:.2g} mm off the tangent under both wheels; a wheel's "
                        "radius or place, or the line, is wrong")
            return


_USUAL = {
    "head_angle": (62.0, 80.0), "seat_angle": (62.0, 82.0), "bb_drop": (-35.0, 105.0), "fork_offset": (5.0, 110.0),
    "lower_stack": (0.0, 45.0), "head_tube": (60.0, 300.0), "trail": (5.0, 140.0), "top_tube_below_head_top": (4.0, 120.0),
    "down_tube_above_head_bottom": (4.0, 140.0), "seatstay_below_top_tube": (-120.0, 200.0),
}


def _unusual(m: Measured) -> Iterator[Finding]:
    """Values no usual frame has (common practice, no source): possible, but worth a look."""
    for name, (low, high) in _USUAL.items():
        value = m.dimensions.trail if name == "trail" else getattr(m.dimensions, name)
        if value is not None and not low <= value <= high:
            unit = "degrees" if "angle" in name else "mm"
            yield _find("unusual", "warning", f"{_name(name)} is {value:.4g} {unit}, usual is {low:g} to {high:g}; check that the "
                        "right lines were taken")


def _seat_top(m: Measured) -> Iterator[Finding]:
    """A seat tube that ends below or just at its junctions: its upper piece may be missing."""
    d = m.dimensions
    if d.seat_tube is None or d.top_tube_on_seat_tube is None:
        return
    stay = d.top_tube_on_seat_tube - (d.seatstay_below_top_tube or 0.0)
    junction = "top tube" if stay <= d.top_tube_on_seat_tube else "seatstay"
    stub = d.seat_tube - max(d.top_tube_on_seat_tube, stay)
    in_pieces = sum(len(m.labelled.reading.view.strokes.pieces[k]) for k in m.labelled.members["seat_tube"].line.strokes) > 1
    if stub < -1.0:
        yield _find("seat-top", "warning", f"the seat tube ends {-stub:.3g} mm below the {junction}'s centre-line; an upper piece of "
                    "it may be missing")
    elif stub < AT_JUNCTION:
        yield _find("seat-top", "warning" if in_pieces else "info", f"the seat tube ends at the {junction}'s centre-line; if it "
                    "stands above it, that piece is missing in the drawing")
    elif stub > 140.0:
        yield _find("seat-top", "warning" if in_pieces else "info", f"the seat tube stands {stub:.3g} mm above the {junction}; if "
                    "that is the seatpost, the seat tube's own end is not marked")


def _score(choice: Choice) -> Iterator[Finding]:
    if choice.score < 0.75:
        yield _find("doubtful", "warning", f"the drawing fits a bicycle frame only to {choice.score:.0%}; look at the overlay picture")


def _single(m: Measured) -> Iterator[Finding]:
    """What rests on one line alone: a mistake there cannot be seen in the drawing, only against the sheet."""
    alone = [f"the {n.name} ({' and '.join(w.name for w in n.agreeing) or 'no line'})"
             for n in (m.rear, m.front, m.bb) if not n.confirmed and not n.astray]
    members, fork = m.labelled.members, m.labelled.fork
    if members["head_tube"].tube is None:
        alone.append("the head tube's ends along the steering axis (head tube, lower stack, reach, stack)")
    if members["seat_tube"].tube is None:
        alone.append("the seat tube's top")
    if "top_tube" in members:
        alone.append("the top tube's height")
    if fork is not None and fork.kind != "path":
        alone.append("the fork's crown along the steering axis")
    if alone:
        yield _find("single-source", "info", "known from one line alone, nothing else in the drawing confirms: "
                    + "; ".join(alone) + "; check these against the sheet")


def site_offset(site: Site, index: int) -> float:
    """Distance of one of a site's circles from its outermost, drawing units."""
    a, b = site.rounds[0].centre, site.rounds[index].centre
    return hypot(a[0] - b[0], a[1] - b[1])
