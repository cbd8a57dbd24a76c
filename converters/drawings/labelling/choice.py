"""From all readings to one: the best, its runner-up, and a refusal when two are too close or none is a frame.

Every refusal is one line: what was looked for, what was found instead, what to do.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from ....model.errors import InputError
from ..drawing import Drawing
from ..dxf.budget import LESS
from ..linework.evidence import Evidence
from ..linework.lines import Candidate, crossing
from ..linework.pieces import Pieces
from ..linework.pose import FAR_APART, Site, find_sites, poses, wheel_pairs
from ..linework.rounds import Round
from ..linework.strokes import Strokes, gather
from ..linework.view import view
from .doubt import (
    Doubt,
    Picks,
    at_once,
    curves_of,
    listed,
    taken_as,
    with_picks,
)
from .other_kinds import cargo, recumbent
from .points import joins_outside
from .refuse import frameless_lines, no_frame, no_wheels, refuse_several
from .rivals import (
    DIFFERENT,
    OTHER_BICYCLE,
    STEERER_THINNER,
    concentric,
    differs,
    disputed,
    part_of,
    second,
    stack_below,
)
from .search import BRACING, REQUIRED, Labelling, LabelSearch, share
from .symmetry import balanced
from .weights import PARTNERED

POSES = 4  # ways to stand a bicycle on two wheels
PAIR_BUDGET = 40  # wheel pairs tried, largest wheels first
MOST_RUNS = 8_000_000  # curved runs over all poses, a quarter of a gigabyte; a frame drawing has some hundred
WORTH_SAYING = 2.0  # points within which another head or seat tube is at least mentioned
LEAST_SHARE = 0.50  # share of a complete clean drawing's points below which nothing is recognised
LIKELY = 8  # searches looked through for several seat tubes where no frame was found
REDUCED = 0.62  # wheels smaller than this share of the others': a reduced view of the bicycle
TWINS = 110.0  # mm between the middles of two top tubes side by side
TWINS_LEAN = 0.02  # sine of the angle between them, at most
TWINS_ALIKE = 0.6  # mm by which their diameters may differ
# mm between their middles however thin they are; two nearer lines are one corrected
LEAST_TWIN = 12.0
LONGER = 10.0  # mm by which a steerer stands out of its head tube, at least
SAME_SCORE = 0.15  # points; the head tube without the lower headset's line may be worse by this
# ratio of two rough scales that share their strokes: gaps are judged a fifth too coarse
ONE_SCALE = (0.8, 1.25)


@dataclass(frozen=True, eq=False)
class Choice:
    """The chosen reading, every reading in its pose, its candidates, and the best reading that differs.

    twin: the lower one of two top tubes side by side; smaller: the same bicycle once more at a smaller scale.
    """

    reading: Labelling
    rivals: Sequence[Labelling]
    slots: Mapping[str, list[Candidate]]
    runner_up: Labelling | None
    pieces: Pieces
    strokes: Strokes
    rounds: Sequence[Round]
    twin: Candidate | None = None
    smaller: Labelling | None = None

    @property
    def score(self) -> float:
        """Share of what a complete, clean drawing earns, 0 to 1."""
        return share(self.reading)

    @property
    def close_rival(self) -> tuple[str, Candidate, Labelling] | None:
        """Another line that could nearly as well be the seat or head tube: (member, that line, its reading)."""
        other = self.runner_up
        if (
            other is None
            or other.view is not self.reading.view
            or other.score < self.reading.score - WORTH_SAYING
        ):
            return None
        member, mine, theirs = disputed(self.reading, other)
        same_line = max(abs(mine.lateral(theirs.p)), abs(mine.lateral(theirs.q))) <= DIFFERENT
        shared = set(mine.strokes) & set(theirs.strokes)
        hidden = (
            self.reading.view.evidence.all_dashed(taken_as(other, member))
            if member != "bb_shell"
            else False
        )
        if member == "bb_shell" or shared or same_line or hidden:
            return None
        return (member, theirs, other)

    @property
    def runner_up_score(self) -> float | None:
        if self.runner_up is None:
            return None
        return share(self.runner_up)


def choose(drawing: Drawing, rounds: Sequence[Round], pieces: Pieces, evidence: Evidence) -> Choice:
    """The one reading of the drawing. Raises InputError when there is none or more than one."""
    choice, doubt = _decided(drawing, rounds, pieces, evidence)
    if doubt is None:
        return choice

    def settles(picks: Picks) -> bool:
        """Whether the drawing read with these picks takes what they name, whatever else is then still in doubt."""
        try:
            settled, still = _decided(drawing, rounds, pieces, with_picks(evidence, picks))
        except InputError:
            return False
        same = all(
            set(taken_as(settled.reading, name)) == set(held)
            for name, held in picks.items()
            if name != "bb_shell"
        )
        return same and (still is None or still.said != doubt.said)

    raise doubt.refusal(drawing.curves, settles)


def _decided(
    drawing: Drawing, rounds: Sequence[Round], pieces: Pieces, evidence: Evidence
) -> tuple[Choice, Doubt | None]:
    """The best reading, and what it is in doubt with. Raises InputError when there is none."""
    sites = find_sites(rounds, evidence.unlikely)
    _refuse(recumbent(sites, rounds))
    pairs = _allowed_pairs(sites, evidence)
    if not pairs:
        refuse_several(
            drawing, _searches(wheel_pairs(sites, FAR_APART)[:1], rounds, pieces, evidence)
        )
        _refuse(cargo(sites, rounds))
        raise InputError(no_wheels(drawing, sites, pieces))
    searches = _searches(pairs, rounds, pieces, evidence)
    found = [(r, search) for search in searches for r in search.readings()]
    if found:
        likely = [max(found, key=lambda f: f[0].score)[1]]
    else:
        likely = searches[:LIKELY]
    refuse_several(drawing, likely)
    complete = [f for f in found if is_frame(f[0])]
    if not complete:
        _refuse(cargo(sites, rounds))
        raise InputError(
            no_frame(drawing, found, searches, pieces),
            lines=frameless_lines(drawing, found, searches, pieces),
        )
    complete = _by_their_layers(complete)
    best, search = max(complete, key=lambda f: f[0].score)
    best, search, smaller = _full_size(best, search, complete)
    complete = [f for f in complete if not _much_smaller(f[0], best)]
    same_pose = [r for r, s in complete if s is search]
    best = _own_line(_whole_tube(best, same_pose), same_pose)
    best = _outermost(balanced(best, same_pose), same_pose)
    best = _without_lower_stack(best, same_pose)
    best, twin = _upper_twin(best, search)
    others = [r for r, _ in complete if differs(best, r)]
    choice = Choice(
        best,
        [r for r, s in found if s is search],
        search.slots,
        max(others, key=lambda r: r.score, default=None),
        pieces,
        search.v.strokes,
        rounds,
        twin,
        smaller,
    )
    return choice, at_once(second(best, others, rounds), _second_top_tube(best, search))


def _refuse(kind: str) -> None:
    if kind:
        raise InputError(kind)


def _by_their_layers(
    complete: list[tuple[Labelling, LabelSearch]],
) -> list[tuple[Labelling, LabelSearch]]:
    """Without readings whose head or seat tube lies on a layer for other things or is dashed, where one nearly as good
    has none."""
    own = [f for f in complete if not _meant_otherwise(f[0])]
    most = max(reading.score for reading, _ in complete)
    return own if any(r.score >= most - WORTH_SAYING for r, _ in own) else complete


def _meant_otherwise(reading: Labelling) -> bool:
    """A steerer on the headset's layer taken as the head tube, a post on the saddle's or a hidden line as the seat
    tube."""
    evidence = reading.view.evidence
    for name in REQUIRED:
        curves = taken_as(reading, name)
        words = {evidence.word(evidence.curves[i].layer) for i in curves}
        elsewhere = bool(words) and not words & {None, "frame", name}
        if (elsewhere or evidence.all_dashed(curves)) and not evidence.claimed(name):
            return True
    return False


def _searches(
    pairs: Sequence[tuple[Site, Site]], rounds: Sequence[Round], pieces: Pieces, evidence: Evidence
) -> list[LabelSearch]:
    """A search for every pair of wheels in every pose. Raises InputError for far too many curves."""
    gathered: dict[float, Strokes] = {}
    if len(pieces.bents) * POSES * min(len(pairs), PAIR_BUDGET) > MOST_RUNS:
        raise InputError(
            f"its {len(pieces.bents):,} curves are too many beside {len(pairs):,} pairs of circles that could be "
            f"wheels. {LESS}"
        )
    return [
        LabelSearch(
            view(
                pose, _strokes(gathered, pieces, 1.0 / pose.scale), pieces, evidence, front.centre
            ),
            rear,
            front,
            rounds,
        )
        for pair in pairs[:PAIR_BUDGET]
        for rear, front, pose in poses(pair)
        if _roles_allow(rear, front, evidence)
    ]


def _much_smaller(reading: Labelling, than: Labelling) -> bool:
    """Another bicycle on wheels far smaller: a reduced view on the same sheet."""
    own = max(reading.front.tyre.radius, reading.rear.tyre.radius)
    other = max(than.front.tyre.radius, than.rear.tyre.radius)
    return own < REDUCED * other


def _full_size(
    best: Labelling, search: LabelSearch, complete: Sequence[tuple[Labelling, LabelSearch]]
) -> tuple[Labelling, LabelSearch, Labelling | None]:
    """Of two bicycles of very different size the larger one: the other is a reduced view."""
    larger = [
        f
        for f in complete
        if _much_smaller(best, f[0]) and f[0].score >= OTHER_BICYCLE * best.score
    ]
    if larger:
        smaller = best
        best, search = max(larger, key=lambda f: f[0].score)
        return best, search, smaller
    reduced = [r for r, _ in complete if _much_smaller(r, best)]
    reduced = [r for r in reduced if r.score >= OTHER_BICYCLE * best.score]
    return best, search, max(reduced, key=lambda r: r.score, default=None)


def _upper_twin(best: Labelling, search: LabelSearch) -> tuple[Labelling, Candidate | None]:
    """Two top tubes side by side, alike: the upper one counts."""
    top = best.members["top_tube"]
    rival = search.other_top_tube(best)
    seat = best.members["seat_tube"]
    if top is None or rival is None or seat is None or not _twins(top, rival):
        return best, None
    here = crossing(top.first, seat)
    there = crossing(rival.first, seat)
    if here is None or there is None or seat.along(here) >= seat.along(there):
        return best, rival
    return replace(best, members={**best.members, "top_tube": rival}), top


def _twins(a: Candidate, b: Candidate) -> bool:
    """Parallel outlines of one width, nearer than TWINS and not into one another; a second line may be a correction."""
    apart = abs(a.lateral(b.at(b.length / 2)))
    wide = a.diameter or 0.0
    return (
        abs(a.u[0] * b.u[1] - a.u[1] * b.u[0]) <= TWINS_LEAN
        and a.is_tube
        and b.is_tube
        and abs(wide - (b.diameter or 0.0)) <= TWINS_ALIKE
        and max(wide, LEAST_TWIN) < apart <= TWINS
        and not set(a.strokes) & set(b.strokes)
    )


def _second_top_tube(best: Labelling, search: LabelSearch) -> Doubt | None:
    rival = search.other_top_tube(best)
    top = best.members["top_tube"]
    if rival is None or top is None or _twins(top, rival):
        return None
    # one edge of the same outline
    if set(rival.strokes) & set(top.strokes):
        return None
    held = [curves_of(best, line) for line in (top, rival)]
    names = " and ".join(listed(best.view.evidence.curves, curves) for curves in held)
    return Doubt(
        f"two lines could equally well be the top tube: {names}",
        "delete the one not meant",
        tuple({"top_tube": curves} for curves in held),
    )


def _whole_tube(best: Labelling, readings: Sequence[Labelling]) -> Labelling:
    """Both edges of the seat tube instead of one of them, where another reading takes both."""
    edge = best.members["seat_tube"]
    if edge is None or edge.is_tube or edge.bonus >= PARTNERED:
        return best  # a centre-line between two edges is none of them
    whole = [
        r
        for r in readings
        if r.score >= best.score - WORTH_SAYING
        and r.axis.is_tube
        and part_of(edge, r.members["seat_tube"] or edge)
    ]
    return max(whole, key=lambda r: r.score, default=best)


def _own_line(best: Labelling, readings: Sequence[Labelling]) -> Labelling:
    """In a drawing of centre-lines two lines beside the head tube's own are a steerer's, longer than it."""
    tubes = [best.members[name] for name in ("seat_tube", "top_tube", "down_tube")]
    if not best.axis.is_tube or any(t is not None and t.is_tube for t in tubes):
        return best
    lines = [
        r
        for r in readings
        if not r.axis.is_tube
        # between mere vertices of one polyline nothing ends
        and r.span.whole
        and r.score >= best.score - WORTH_SAYING
        and max(abs(best.axis.lateral(r.axis.p)), abs(best.axis.lateral(r.axis.q))) <= DIFFERENT
        and r.span.high - r.span.low < best.span.high - best.span.low - LONGER
    ]
    return max(lines, key=lambda r: r.score, default=best)


def _without_lower_stack(best: Labelling, readings: Sequence[Labelling]) -> Labelling:
    """A short line of its own between head tube and crown is the lower headset, not a piece of the head tube."""
    shorter = [
        r
        for r in readings
        if r.axis is best.axis
        and r.bb == best.bb
        and stack_below(r, best)
        and r.members["seat_tube"] is best.members["seat_tube"]
        and r.score >= best.score - SAME_SCORE
    ]
    return max(shorter, key=lambda r: r.span.low, default=best)


def _outermost(best: Labelling, readings: Sequence[Labelling]) -> Labelling:
    """Of two outlines about one axis the outer one is the head tube, the inner one a steerer inside it."""
    wide = (best.axis.diameter or 0.0) + STEERER_THINNER
    outer = [
        r
        for r in readings
        if concentric(best, r)
        and _holds_tubes(r, best)
        and (r.axis.diameter or 0.0) > wide
        and r.score >= best.score - WORTH_SAYING
    ]
    return max(outer, key=lambda r: r.score, default=best)


def _holds_tubes(reading: Labelling, best: Labelling) -> bool:
    """The tubes that meet the axis in the best reading do so here as well, within the head tube: cups hold none."""
    for name in ("top_tube", "down_tube"):
        tube = reading.members[name]
        lost = tube is None and best.members[name] is not None
        if lost or joins_outside(tube, reading.axis, reading.span):
            return False
    return True


def _strokes(gathered: dict[float, Strokes], pieces: Pieces, mm: float) -> Strokes:
    """Strokes for a rough scale; scales within a fifth of each other share them."""
    for known, strokes in gathered.items():
        if ONE_SCALE[0] <= known / mm <= ONE_SCALE[1]:
            return strokes
    gathered[mm] = gather(pieces, mm)
    return gathered[mm]


def is_frame(reading: Labelling) -> bool:
    """Seat tube, head tube and fork, two of the bracing members at least, and points enough."""
    bracing = sum(reading.members[name] is not None for name in BRACING)
    return reading.fork is not None and bracing >= 2 and share(reading) >= LEAST_SHARE


# --- wheels the user allows ------------------------------------------------------------------------------


def _allowed_pairs(sites: Sequence[Site], evidence: Evidence) -> list[tuple[Site, Site]]:
    return wheel_pairs(
        [
            s
            for s in sites
            if evidence.wheel_allowed("wheel_front", s.tyre)
            or evidence.wheel_allowed("wheel_rear", s.tyre)
        ]
    )


def _roles_allow(rear: Site, front: Site, evidence: Evidence) -> bool:
    return evidence.wheel_allowed("wheel_rear", rear.tyre) and evidence.wheel_allowed(
        "wheel_front", front.tyre
    )
