"""Tubes beyond the diamond that a drawing shows: none of them is passed over in silence."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import hypot

import numpy as np
from numpy.typing import NDArray

from ....model.arrays import Array
from ....model.findings import Finding
from ..drawing import Drawing
from ..labelling.measure import Measured
from ..labelling.other_kinds import BY_POINTS
from ..linework.lines import Candidate, crossing
from ..linework.plane import Vec
from .free_lines import FreeLines, FreeTube, of_one_tube, tubes_of, where_on
from .member_lines import drawn_end, member_lines, member_paths
from .say import find

HALF = 16.0  # mm from the middle to the surface of a member that is drawn without its edges
ON = 5.0  # mm from a member's surface in which a tube ends on it
PLATE = 45.0  # mm about the rear axle: the dropout, on which a tube ends short of the axle
ABOVE = 50.0  # mm past the seat tube's end as read that still are seat tube
SHELL = 25.0  # mm about the bottom bracket
BESIDE = (
    45.0  # mm; a parallel line nearer than this to a member is a second try at it, and told as such
)
ALONG = (
    12.0  # mm outside a member's surface: whatever runs within is its cable, clip or reinforcement
)
PAST = (
    45.0  # mm; a line that ends on another member so far past this one's end is no second try at it
)
STAYS = ("chainstay", "seatstay")
PAST_STAY = 20.0  # mm, of one beside a stay
MOST_PARTNERS = 60  # longest lines compared with each other; two pairs of stays have twelve
STEM = 90.0  # mm above the head tube within which struts join the steerer or its stem
STEERER_HALF = 16.0  # mm
WITHIN = 1.0  # mm outside a member's surface: a line drawn twice, a wall, a reinforcement
SLANT = 0.1  # sine
SHARED = 0.7  # of a line's length that runs beside the member; what runs on farther is another tube
RUNS_ON = 35.0  # mm past the seat tube's axis; a stay's own line overruns it less
CUT_PAST = 8.0  # mm past it of edges that are cut at the top tube's surface
SQUARE = 0.05  # mm by which a measuring line may lean
AT_PLACE = 1.0  # mm from the place that it measures to
SPROCKET = (15.0, 80.0)  # mm radius, from 10 teeth to 52
TANGENT = 0.15  # cosine of the angle to the radius at which a line still leaves a circle along it
IN_LINE = 10.0  # mm beside the top tube's line, or one edge of it, in which another goes on in it
MOST = 300  # longest lines looked at; a frame has some thirty
NO_PLAN = 4  # tubes beyond the diamond that make a frame of no known plan
MOST_TOLD = 6  # tubes told one by one; more are a hatch or a table


@dataclass(frozen=True, eq=False)
class Host:
    """A member that a tube may end on: `path` (k, 2) mm from the bottom bracket, `half` its half width."""

    name: str
    path: Array
    half: float

    @property
    def chord(self) -> Candidate:
        """From its first to its last point."""
        return Candidate(tuple(self.path[0]), tuple(self.path[-1]))


def _fork_hosts(m: Measured) -> tuple[Host, ...]:
    """What the struts of a truss fork run between: the steerer above the head tube, and the front dropout."""
    bb = np.array(m.bb.at)
    top = np.array(m.axis.at(m.head_top)) - bb
    axle = np.array(m.front.at) - bb
    stem = top + STEM * np.array(m.axis.u)
    return (
        Host("steerer", np.array([top, stem]), STEERER_HALF),
        Host("front_axle", np.array([axle, axle + 1.0]), PLATE),
    )


def hosts_of(m: Measured) -> tuple[Host, ...]:
    """The frame's members in mm from the bottom bracket; the fork turns, so no tube of the frame ends on it."""
    bb = np.array(m.bb.at)
    lines = member_lines(m)
    if m.dimensions.seatstay_below_top_tube is None:
        # as drawn: without a top tube its joint is where two lines cross, whatever is drawn there
        lines.pop("seatstay", None)
    hosts = []
    for name, member in m.labelled.members.items():
        if name in lines:
            path = m.labelled.pose.apply_all(np.array(lines[name])) - bb
        else:
            path = np.array([member.line.p, member.line.q]) - bb
        half = member.diameter / 2 if member.diameter else HALF
        if name == "seat_tube":
            # its end is not always marked, and a tube may join it close below
            u = np.array(Candidate(tuple(path[0]), tuple(path[-1])).u)
            path = np.vstack((path, path[-1] + ABOVE * u))
        hosts.append(Host(name, path, half))
    return tuple(hosts)


def apart_from_members(lines: FreeLines, m: Measured) -> FreeLines:
    """Without what runs along a member."""
    hosts = hosts_of(m)
    on = _on(lines.ends, hosts)
    apart = ~on & ~_second_try(lines.ends, hosts)
    stays = tuple(host for host in hosts if host.name in STAYS)
    beside_stay = ~on & ~apart & _second_try(lines.ends, stays)
    return lines.only(apart | _partners(lines.ends, beside_stay, apart))


def _partners(
    ends: Array, which: NDArray[np.bool_], others: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Of the lines of a mask those that are of one tube with some of another: an edge nearest to a stay beside it."""
    length = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    longest = np.argsort(-length)
    mine = longest[which[longest]][:MOST_PARTNERS].tolist()
    theirs = longest[others[longest]][:MOST_PARTNERS].tolist()
    found = np.zeros(len(ends), bool)
    for k in mine:
        found[k] = any(of_one_tube(ends[other], ends[k]) for other in theirs)
    return found


def off_members(lines: FreeLines, m: Measured) -> FreeLines:
    """Without what lies within a member; where a tube is looked for near its place, more is not needed."""
    path = member_paths(m).get("fork")
    # blades drawn by their edges leave their centre-line over; the edges are far enough from it
    fork = () if path is None else (Host("fork", path, WITHIN),)
    return lines.only(~_on(lines.ends, (*hosts_of(m), *fork), WITHIN))


def further_tubes(lines: FreeLines, m: Measured) -> list[FreeTube]:
    """Tubes between two members of the frame, or member and dropout, which are none of the members themselves."""
    rear = np.array(m.rear.at) - np.array(m.bb.at)
    between = _between(lines.ends, hosts_of(m), rear) | _between(lines.ends, _fork_hosts(m), rear)
    return _tubes(lines, between, m)


def tubes_on(tubes: Sequence[FreeTube], lines: FreeLines, m: Measured) -> list[FreeTube]:
    """Tubes that end on those found to be further ones: of a girder, what runs from bar to bar."""
    if not tubes:
        return []
    rear = np.array(m.rear.at) - np.array(m.bb.at)
    bars = []
    for k, tube in enumerate(tubes):
        half = HALF if tube.line.diameter is None else tube.line.diameter / 2
        bars.append(Host(f"bar {k}", np.array([tube.line.p, tube.line.q]), half))
    between = _between(lines.ends, (*hosts_of(m), *bars), rear)
    between &= ~_between(lines.ends, hosts_of(m), rear) & ~_on(lines.ends, tuple(bars))
    return _tubes(lines, between, m)


def _tubes(lines: FreeLines, between: NDArray[np.bool_], m: Measured) -> list[FreeTube]:
    """The tubes that the lines of a mask make."""
    length = np.hypot(*(lines.ends[:, 1] - lines.ends[:, 0]).T)
    longest = np.zeros(len(length), bool)
    longest[np.argsort(-length)[:MOST]] = True
    no_tube = _measuring(lines.ends, m) | _chains(lines.ends, m)
    tubes = tubes_of(lines.only(between & longest & ~no_tube))
    # where most members are drawn by edges, one line is a cable, a chain or a single edge
    members = m.labelled.members.values()
    lines_are_tubes = 2 * sum(member.tube is None for member in members) > len(members)
    return [tube for tube in tubes if tube.line.diameter is not None or lines_are_tubes]


def _measuring(ends: Array, m: Measured) -> NDArray[np.bool_]:
    """Lines that show stack or reach: upright or level, from the bottom bracket or the head tube's top, or meeting
    where both measures do. A tube there is neither to a hair."""
    top = m.axis.at(m.head_top)
    reach = top[0] - m.bb.at[0]
    stack = top[1] - m.bb.at[1]
    places = np.array([(0.0, 0.0), (reach, stack), (0.0, stack), (reach, 0.0)])
    apart = np.abs(ends[:, 1] - ends[:, 0])
    square: NDArray[np.bool_] = apart.min(axis=1) <= max(SQUARE, 2 * m.resolution)
    far = np.hypot(*(ends[:, :, None] - places).transpose(3, 0, 1, 2))
    at_place: NDArray[np.bool_] = far.min(axis=(1, 2)) <= AT_PLACE
    return square & at_place


def _between(ends: Array, hosts: tuple[Host, ...], rear: Array) -> NDArray[np.bool_]:
    """Of lines (n, 2, 2) those that end on two different members."""
    import shapely

    if not len(ends):
        return np.zeros(0, bool)
    points = shapely.points(ends)
    apart = np.stack([shapely.distance(points, shapely.linestrings(h.path)) for h in hosts], -1)
    reach = np.array([h.half + ON for h in hosts])
    on: NDArray[np.bool_] = apart <= reach
    # a plate or shell belongs to every member that ends there
    for place, radius in ((rear, PLATE), (np.zeros(2), SHELL)):
        here = np.hypot(*(ends - place).transpose(2, 0, 1)) <= radius
        meeting = np.array([np.hypot(*(h.path[[0, -1]] - place).T).min() <= radius for h in hosts])
        on |= here[..., None] & meeting
    # a boolean's least is "all", its largest "any"
    joined: NDArray[np.bool_] = on.max(axis=2).min(axis=1)
    shared: NDArray[np.bool_] = (on[:, 0] & on[:, 1]).max(axis=1)
    return joined & ~shared


def _on(ends: Array, hosts: tuple[Host, ...], outside: float = ALONG) -> NDArray[np.bool_]:
    """Lines that lie on a member, or as far outside its surface, mm."""
    on = np.zeros(len(ends), bool)
    for host in hosts:
        on |= _farthest(ends, host) <= host.half + outside
    return on


def _second_try(ends: Array, hosts: tuple[Host, ...]) -> NDArray[np.bool_]:
    """Lines that run evenly beside a member."""
    beside = np.zeros(len(ends), bool)
    length = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    for host in hosts:
        across = _across(ends, host)
        even = np.abs(across[:, 1] - across[:, 0]) <= SLANT * length
        # two pairs of stays meet at the axle, so that one is nowhere far from the other
        most = PAST_STAY if host.name in STAYS else PAST
        beside |= even & (_farthest(ends, host, most) <= max(BESIDE, host.half + ALONG))
    return beside


def _across(ends: Array, host: Host) -> Array:
    """How far to the left of a member's chord the ends of lines lie, (n, 2)."""
    rel = ends - host.path[0]
    u = host.chord.u
    return np.asarray(u[0] * rel[..., 1] - u[1] * rel[..., 0])


def _farthest(ends: Array, host: Host, most: float = PAST) -> Array:
    """The greater distance of the two ends from a member's chord; endless where the line does not run along it, or
    more than `most` mm past one of its ends."""
    far = np.abs(_across(ends, host)).max(axis=1)
    length = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    run = (ends - host.path[0]) @ np.array(host.chord.u)
    along = np.clip(run, 0.0, host.chord.length)
    far[np.abs(along[:, 1] - along[:, 0]) < SHARED * length] = np.inf
    # an axis may run on past both ends; past one alone, and onto another member, runs another tube
    past = np.abs(run - along)
    far[(past.max(axis=1) > most) & (past.min(axis=1) <= ALONG)] = np.inf
    return np.asarray(far)


def _chains(ends: Array, m: Measured) -> NDArray[np.bool_]:
    """Lines that leave a sprocket's circle about the rear axle along it."""
    scale = m.labelled.pose.scale
    radii = np.array([r.radius * scale for r in m.labelled.reading.rear.rounds])
    radii = radii[(radii >= SPROCKET[0]) & (radii <= SPROCKET[1])]
    if not len(radii):
        return np.zeros(len(ends), bool)
    step = ends[:, 1] - ends[:, 0]
    u = step / np.maximum(np.hypot(*step.T), 1e-9)[:, None]
    rel = ends - (np.array(m.rear.at) - np.array(m.bb.at))
    out = np.hypot(rel[..., 0], rel[..., 1])
    on = (np.abs(out[..., None] - radii) <= AT_PLACE).max(axis=2)
    leaving: NDArray[np.bool_] = np.abs((rel * u[:, None]).sum(axis=2)) <= TANGENT * out
    found: NDArray[np.bool_] = (on & leaving).max(axis=1)
    return found


# --- in words -----------------------------------------------------------------------------------------------
@dataclass(frozen=True)
class TubeEnd:
    """Where a tube ends: on which member, in words, and as a cell of the tube table."""

    host: str
    words: str
    cell: str


def further_findings(drawing: Drawing, m: Measured, free: FreeLines) -> Iterator[Finding]:
    """Every tube beyond the diamond, with where it runs and what to write in the sheet."""
    yield from _stays_run_on(m)
    apart = apart_from_members(free, m)
    tubes = further_tubes(apart, m)
    bars = tubes_on(tubes, apart, m)
    hosts = {host.name: host for host in (*hosts_of(m), *_fork_hosts(m))}
    shown = frozenset(m.labelled.members)
    rear = (m.rear.at[0] - m.bb.at[0], m.rear.at[1] - m.bb.at[1])
    for tube in tubes[:MOST_TOLD]:
        # from front to rear, as a builder would say it
        ends = sorted((tube.line.p, tube.line.q), key=lambda end: -end[0])
        one, other = (_end(end, tube.line, hosts, rear) for end in ends)
        names = ", ".join(drawing.curves[i].handle for i in tube.curves)
        advice = _advice(one, other, shown, _in_line(tube.line, m))
        width = "" if tube.line.diameter is None else f" {tube.line.diameter:.3g} mm wide"
        yield find(
            "further-tube",
            "warning",
            f"a further tube{width} runs from {one.words} to {other.words} (handles {names}); it is no part of a "
            f"diamond frame and was left out: {advice}. If it is no tube, leave it out with "
            f"--pick ignore={names.replace(' ', '')}",
            f"handle {drawing.curves[tube.curves[0]].handle}",
        )
    if bars:
        handles = ", ".join(drawing.curves[i].handle for bar in bars for i in bar.curves)
        yield find(
            "further-tube",
            "warning",
            f"{len(bars)} more tubes end on those and were left out as well (handles {handles})",
        )
    count = len(tubes) + len(bars)
    if count >= NO_PLAN:
        yield find(
            "no-known-plan",
            "warning",
            f"{count} tubes beyond a diamond's are drawn, and no plan has so many: name each in the sheet as "
            f"told. Where they are no diamond with braces, {BY_POINTS}",
        )
    if tubes[MOST_TOLD:]:
        yield find(
            "further-tube",
            "warning",
            f"{len(tubes) - MOST_TOLD} more lines run between members of the frame as tubes do, and were left out; "
            "put what is no tube on a layer of its own",
        )


def _end(at: Vec, line: Candidate, hosts: Mapping[str, Host], rear: Vec) -> TubeEnd:
    if hypot(at[0] - rear[0], at[1] - rear[1]) <= PLATE:
        return TubeEnd("rear_axle", "the rear axle", "rear_dropout")
    if hypot(*at) <= SHELL:
        return TubeEnd("bottom_bracket", "the bottom bracket", "bottom_bracket")
    near = min(_off(at, host) for host in hosts.values())
    if hypot(*(np.array(at) - hosts["front_axle"].path[0])) <= PLATE:
        return TubeEnd("front_axle", "the front axle", "front_dropout")
    # of several members that meet there, the one it runs most squarely into
    met = [n for n, host in hosts.items() if _off(at, host) <= near + ON]
    name = max(met, key=lambda n: abs(_sine(line, hosts[n].chord)))
    along = where_on(hosts[name].path, line, at)
    spoken_name = name.replace("_", " ")
    if name == "head_tube":
        below = hosts[name].chord.length - along
        return TubeEnd(
            name, f"{below:.1f} mm below the top of the head tube", f"{name} {below:.1f} mm"
        )
    if name == "steerer":
        return TubeEnd(name, "the steerer above the head tube", f"{name} {STEM - along:.0f} mm")
    start = {
        "top_tube": "the seat tube",
        "chainstay": "the rear axle",
        "seatstay": "the rear axle",
    }.get(name, "the bottom bracket")
    # in the sheet a stay begins at the frame, in the drawing at the axle
    from_end = " from end" if name in ("chainstay", "seatstay") else ""
    return TubeEnd(
        name,
        f"the {spoken_name} {along:.1f} mm from {start}",
        f"{spoken_name} {along:.1f} mm{from_end}",
    )


def _sine(a: Candidate, b: Candidate) -> float:
    """Of the angle between two lines."""
    return a.u[0] * b.u[1] - a.u[1] * b.u[0]


def _off(at: Vec, host: Host) -> float:
    import shapely

    return float(shapely.distance(shapely.Point(at), shapely.LineString(host.path))) - host.half


def _in_line(tube: Candidate, m: Measured) -> bool:
    """Whether a tube goes on in the line of what was read as the top tube: both are the laterals of a mixte."""
    top = m.labelled.members.get("top_tube")
    if top is None:
        return False
    ends = [(x + m.bb.at[0], y + m.bb.at[1]) for x, y in (tube.p, tube.q)]
    return max(abs(top.line.lateral(end)) for end in ends) <= IN_LINE


def _advice(one: TubeEnd, other: TubeEnd, shown: frozenset[str], in_line: bool) -> str:
    """What names the tube in the sheet; `shown` : the members of a diamond that are drawn beside it; `in_line` : with
    what was read as the top tube."""
    between = {one.host, other.host}
    if in_line and "rear_axle" in between:
        return (
            "with what was read as the top tube it makes one line from the head tube to the rear axle, the laterals of "
            "a mixte: name the frame's plan in a sheet (`plan, mixte`), or here with --plan mixte"
        )
    to_seat_tube = "mixte_single" if "chainstay" in shown else "raised_chainstays"
    to_top_tube = "split_seatstays" if "seatstay" in shown else "stays_on_top_tube"
    for ends, plan in (
        ({"head_tube", "rear_axle"}, "mixte"),
        ({"seat_tube", "rear_axle"}, to_seat_tube),
        ({"top_tube", "rear_axle"}, to_top_tube),
        ({"seat_tube", "head_tube"}, "second_top_tube"),
        ({"steerer", "front_axle"}, "truss_fork"),
    ):
        if between == ends:
            return (
                f"name the frame's plan in a sheet (`plan, {plan}`), or here with --plan {plan}, see droptrail new "
                "--plan list"
            )
    return (
        f"name it in the sheet's table of tubes with the columns from and to (`brace, from {one.cell}, "
        f"to {other.cell}`)"
    )


def _stays_run_on(m: Measured) -> Iterator[Finding]:
    """Seatstays whose lines run on past the seat tube to the top tube."""
    stay = m.labelled.members.get("seatstay")
    top = m.labelled.members.get("top_tube")
    seat = m.labelled.members["seat_tube"].line
    if stay is None or top is None or stay.line.bents:
        return
    node = crossing(stay.line.last, seat)
    met = crossing(stay.line.last, top.line.first)
    if node is None or met is None:
        return
    runs_on = drawn_end(stay.extent) - stay.extent.along(node)
    ends = [edge[1] for edge in stay.extent.edges] or [stay.extent.q]
    half = HALF if top.diameter is None else top.diameter / 2
    # a line of centres may stop at the surface or run on to the axis
    away = [abs(top.line.lateral(end)) for end in ends]
    # two edges cut at the top tube's surface leave no doubt where they end
    cut_there = bool(stay.extent.edges) and max(abs(off - half) for off in away) <= AT_PLACE
    least = CUT_PAST if cut_there and top.diameter is not None else RUNS_ON
    if runs_on > least and min(away) <= half + ON:
        at = abs(top.line.along(met) - top.line.along(crossing(top.line.first, seat) or top.line.p))
        yield find(
            "stays-run-on",
            "warning",
            f"the seatstays are read as ending at the seat tube, and are drawn {runs_on:.0f} mm past it, to the "
            f"top tube {at:.1f} mm from the seat tube; if they end there, name the frame's plan in a sheet (`plan, "
            "stays_on_top_tube`), or here with --plan stays_on_top_tube",
            "seatstay",
        )
