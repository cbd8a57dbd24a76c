"""What looks wrong about the fork of a side view: its crown, its blades, how it meets the steering axis."""

from collections.abc import Iterator, Mapping

from ....model.findings import Finding
from ..labelling.fork import Fork
from ..labelling.measure import Measured
from .say import LOWER_RACE, find

# mm; ends moved by less than the first are not worth a word
SNAP_INFO = 0.02
SNAP_WARN = 0.5
OFF_AXIS = 0.3  # mm between the middle of a blade's edges and the head tube's
UNEVEN = 0.4  # mm between the two sides of what is turned
LOW_CROWN = 5.0  # mm; no crown is as low, it is a line that misses the blades
NEAR_AXIS = 1.0  # mm; a fork's line this near the steering axis was drawn as it
ASKEW = 0.1  # mm from the axle's foot to where the offset line leaves the axis
ASKEW_SHARE = 0.3  # of the fork offset; farther off the line was drawn for something else
SURE_FORK = 1.2  # points of a fork that counts as drawn (see labelling.fork)
# mm between two crowns that contradict each other; farther apart they are two things
CROWNS_APART = (0.5, 40.0)
# times the drawing's noise: a blade crosses the axis so flat that it is multiplied by eight
CROWN_NOISE = 10


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
