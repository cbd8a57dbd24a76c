"""From all readings to one: the best, its runner-up, and a refusal when two are too close or none is a frame.

Every refusal is one line: what was looked for, what was found instead, what to do.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import hypot

from converters.drawing import Drawing
from converters.linework.evidence import Evidence
from converters.linework.lines import Candidate
from converters.linework.pieces import Pieces
from converters.linework.pose import Site, find_sites, poses, wheel_pairs
from converters.linework.rounds import Round
from converters.linework.strokes import Strokes, gather
from converters.linework.view import view
from model.errors import InputError
from model.words import spoken

from .refuse import no_frame, no_wheels
from .search import BRACING, Reading, Search, share

PAIR_BUDGET = 40  # wheel pairs tried, largest wheels first
WORTH_SAYING = 2.0  # points within which another head or seat tube is at least mentioned
MARGIN = 0.9  # points; a different reading of the same bicycle nearer than this is a doubt to be settled by hand
OTHER_BICYCLE = 0.75  # share of the best score at which a reading on other wheels is a second bicycle
LEAST_SHARE = 0.50  # share of a complete clean drawing's points below which nothing is recognised
SAME_SHELL = 12.0  # mm; guesses of the bottom bracket nearer than this are settled by its witnesses later
DIFFERENT = 0.7  # mm; readings that agree within this are one


@dataclass(frozen=True, eq=False)
class Choice:
    """The chosen reading, every reading in its pose, its candidates, and the best reading that differs."""

    reading: Reading
    rivals: Sequence[Reading]
    slots: Mapping[str, list[Candidate]]
    runner_up: Reading | None
    pieces: Pieces
    strokes: Strokes
    rounds: Sequence[Round]

    @property
    def score(self) -> float:
        """Share of what a complete, clean drawing earns, 0 to 1."""
        return share(self.reading)

    @property
    def close_rival(self) -> tuple[str, Candidate, Reading] | None:
        """Another line that could nearly as well be the seat or head tube: (member, that line, its reading)."""
        other = self.runner_up
        if other is None or other.view is not self.reading.view or other.score < self.reading.score - WORTH_SAYING:
            return None
        member, mine, theirs = disputed(self.reading, other)
        same_line = max(abs(mine.lateral(theirs.p)), abs(mine.lateral(theirs.q))) <= DIFFERENT
        shared = set(mine.strokes) & set(theirs.strokes)
        return None if member == "bb_shell" or shared or same_line else (member, theirs, other)

    @property
    def runner_up_score(self) -> float | None:
        return None if self.runner_up is None else share(self.runner_up)


def choose(drawing: Drawing, rounds: Sequence[Round], pieces: Pieces, evidence: Evidence) -> Choice:
    """The one reading of the drawing. Raises InputError when there is none or more than one."""
    sites = find_sites(rounds, evidence.unlikely)
    pairs = _allowed_pairs(sites, evidence)
    if not pairs:
        raise InputError(no_wheels(drawing, sites, pieces))
    found: list[tuple[Reading, Search]] = []
    partial: list[Search] = []
    gathered: dict[float, Strokes] = {}
    for pair in pairs[:PAIR_BUDGET]:
        for rear, front, pose in poses(pair):
            if not _roles_allow(rear, front, evidence):
                continue
            strokes = _strokes(gathered, pieces, 1.0 / pose.scale)
            v = view(pose, strokes, pieces, evidence, front.centre)
            search = Search(v, rear, front, rounds)
            partial.append(search)
            found += [(r, search) for r in search.readings()]
    complete = [f for f in found if is_frame(f[0])]
    if not complete:
        raise InputError(no_frame(drawing, found, partial, pieces))
    best, search = max(complete, key=lambda f: f[0].score)
    best = _outermost(best, [r for r, s in complete if s is search])
    others = [r for r, _ in complete if differs(best, r)]
    runner_up = max(others, key=lambda r: r.score, default=None)
    _refuse_second(best, others, drawing)
    rival = search.other_top_tube(best)
    top = best.members["top_tube"]
    if rival is not None and top is not None:
        names = f"{_handle(best, drawing, top)} and {_handle(best, drawing, rival)}"
        raise InputError(f"two lines could equally well be the top tube: {names}; delete the one not meant, or settle "
                         "it with --pick top_tube=HANDLE")
    return Choice(best, [r for r, s in found if s is search], search.slots, runner_up, pieces,
                  search.v.strokes, rounds)


def _outermost(best: Reading, readings: Sequence[Reading]) -> Reading:
    """Of two outlines about one axis the outer one is the head tube, the inner one a steerer inside it."""
    wide = (best.axis.diameter or 0.0) + 2.0
    outer = [r for r in readings if _concentric(best, r) and (r.axis.diameter or 0.0) > wide
             and r.score >= best.score - WORTH_SAYING]
    return max(outer, key=lambda r: r.score, default=best)


def _concentric(a: Reading, b: Reading) -> bool:
    return (a.axis.is_tube and b.axis.is_tube
            and max(abs(a.axis.lateral(b.axis.p)), abs(a.axis.lateral(b.axis.q))) <= DIFFERENT)


def _strokes(gathered: dict[float, Strokes], pieces: Pieces, mm: float) -> Strokes:
    """Strokes for a rough scale; scales within a fifth of each other share them."""
    for known, strokes in gathered.items():
        if 0.8 <= known / mm <= 1.25:
            return strokes
    gathered[mm] = gather(pieces, mm)
    return gathered[mm]


def is_frame(reading: Reading) -> bool:
    """Seat tube, head tube and fork, two of the bracing members at least, and points enough."""
    bracing = sum(reading.members[name] is not None for name in BRACING)
    return reading.fork is not None and bracing >= 2 and share(reading) >= LEAST_SHARE


# --- wheels the user allows ------------------------------------------------------------------------------


def _allowed_pairs(sites: Sequence[Site], evidence: Evidence) -> list[tuple[Site, Site]]:
    return wheel_pairs([s for s in sites if evidence.wheel_allowed("wheel_front", s.tyre)
                        or evidence.wheel_allowed("wheel_rear", s.tyre)])


def _roles_allow(rear: Site, front: Site, evidence: Evidence) -> bool:
    return evidence.wheel_allowed("wheel_rear", rear.tyre) and evidence.wheel_allowed("wheel_front", front.tyre)


# --- two readings ------------------------------------------------------------------------------------------


def differs(a: Reading, b: Reading) -> bool:
    """Another bicycle, or the same one with another bottom bracket, seat tube, steering axis or head tube."""
    if a.rear is not b.rear or a.front is not b.front or a.view is not b.view:
        return True
    if not b.span.whole:
        return False  # a stretch between mere vertices of one polyline is no reading of its own
    seat_a, seat_b = a.members["seat_tube"], b.members["seat_tube"]
    assert seat_a is not None
    assert seat_b is not None
    if _part_of(seat_b, seat_a) or _part_of(b.axis, a.axis):
        return False  # one edge of the same tube
    if hypot(a.bb[0] - b.bb[0], a.bb[1] - b.bb[1]) > SAME_SHELL:
        return True
    if max(abs(seat_a.lateral(seat_b.p)), abs(seat_a.lateral(seat_b.q))) > DIFFERENT:
        return True
    if max(abs(a.axis.lateral(b.axis.at(s))) for s in (b.span.low, b.span.high)) > DIFFERENT:
        return True
    if _concentric(a, b) and (b.axis.diameter or 0.0) < (a.axis.diameter or 0.0) - 2.0:
        return False  # a steerer inside the head tube
    if a.axis.is_tube != b.axis.is_tube:
        return False  # one head tube as outline and as centre-line: the outline says where it ends
    if a.fork is not None and set(b.span.pieces) - set(a.span.pieces) <= set(a.fork.pieces):
        return False  # head tube and fork on one line: the fork's piece is fork
    low, high = (a.axis.along(b.axis.at(s)) for s in (b.span.low, b.span.high))
    within = low >= a.span.low - DIFFERENT and high <= a.span.high + DIFFERENT
    return not within  # pieces of the head tube are not another head tube


def _part_of(part: Candidate, tube: Candidate) -> bool:
    """An edge of a tube, or an edge and the centre-line of it, read as a tube of its own."""
    if not tube.is_tube or tube.diameter is None or part.strokes == tube.strokes:
        return False
    thin = part.is_tube and (part.diameter or 0.0) < 0.75 * tube.diameter
    if not thin and not set(part.strokes) & set(tube.strokes):
        return False
    return max(abs(tube.lateral(part.p)), abs(tube.lateral(part.q))) <= 0.6 * tube.diameter


def _refuse_second(best: Reading, others: Sequence[Reading], drawing: Drawing) -> None:
    for other in sorted(others, key=lambda r: -r.score):
        same_wheels = {id(best.rear), id(best.front)} == {id(other.rear), id(other.front)}
        if not same_wheels and other.score >= OTHER_BICYCLE * best.score:
            a, b = _place(best), _place(other)
            raise InputError("two bicycles can be read in this drawing, one with its bottom bracket at "
                             f"{a}, one at {b} (scores {share(best):.0%} and {share(other):.0%}); leave one in the "
                             "file, or name the wheels of the one meant with --pick wheel_front=HANDLE and --pick "
                             "wheel_rear=HANDLE")
        if same_wheels and other.score >= best.score - MARGIN:
            raise InputError(_doubt(best, other, drawing))


def _place(reading: Reading) -> str:
    x, y = reading.view.pose.back(reading.bb)
    return f"({x:.5g}, {y:.5g})"


def _doubt(best: Reading, other: Reading, drawing: Drawing) -> str:
    """Names the member the two readings disagree on, with the handles to pick from."""
    member, a, b = disputed(best, other)
    if member == "bb_shell":
        return (f"two places of the bottom bracket are equally good: {_place(best)} and {_place(other)}; draw its "
                "circle, or name it with --pick bb_shell=HANDLE")
    names = " and ".join(dict.fromkeys(_handle(best, drawing, c) for c in (a, b)))
    what = spoken(member)
    return (f"two readings of the {what} are equally good (scores {share(best):.1%} and {share(other):.1%}): {names}; "
            f"delete the one not meant, or settle it with --pick {member}=HANDLE")


def disputed(best: Reading, other: Reading) -> tuple[str, Candidate, Candidate]:
    """The first member on which two readings differ, with the line that each takes for it."""
    seat_a, seat_b = best.members["seat_tube"], other.members["seat_tube"]
    assert seat_a is not None
    assert seat_b is not None
    if seat_a.strokes != seat_b.strokes:
        return "seat_tube", seat_a, seat_b
    if best.axis is not other.axis or best.span.pieces != other.span.pieces:
        return "head_tube", best.axis, other.axis
    return "bb_shell", best.axis, other.axis


def _handle(reading: Reading, drawing: Drawing, candidate: Candidate) -> str:
    curves = [drawing.curves[i] for i in dict.fromkeys(reading.view.curves_of(candidate.strokes))]
    return ", ".join(f"{c.handle or 'no handle'} on layer {c.layer}" for c in curves[:4])
