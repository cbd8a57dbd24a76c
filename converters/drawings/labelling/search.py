"""The search for the best labelling: a diamond frame's nodes and members laid over the candidates.

Template: rear axle, bottom bracket, seat tube, steering axis with head tube, front axle are the nodes; chainstay,
seatstay, top tube, down tube and fork join them. A READING names what was taken as what. The bottom bracket and
the steering axis are tried out; given these, every other member is the best candidate on its own, so the search
is a product of three short lists and not of seven.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import hypot

from ..linework.lines import Candidate, crossing
from ..linework.plane import Vec
from ..linework.pose import Site
from ..linework.rounds import Round
from ..linework.view import View
from . import points as earned
from . import weights as w
from .candidates import SLOTS, slot_candidates
from .fork import Fork, ForkLinks, forks
from .points import StrokeSpan
from .score import exactness, usual

Scored = tuple[float, Candidate | None]

REQUIRED = ("head_tube", "seat_tube")
BRACING = ("chainstay", "seatstay", "top_tube", "down_tube")
BB_BOX = (0.18, 0.72, -220.0, 220.0)  # x in wheelbases, y in mm above the rear axle
BB_RADIUS = (7.0, 140.0)  # mm; from a spindle's to a chainring's circle
# how many of each are tried, best first; a clean drawing has its own among the first two
MOST_BB = 14
MOST_SEAT = 3
MOST_AXES = 24
MOST_DOWN = 6
AT_SHELL = 36.0  # mm; lines that cross so near a shell's circle are meant for its centre
SHELL = (13.0, 36.0)  # rough mm, radius
SAME_BB = 0.2  # mm; guesses of the bottom bracket nearer than this are one


@dataclass(frozen=True, eq=False)
class Labelling:
    """One labelling. members: name -> candidate or None; points: name -> points; bb_round: circle about the shell."""

    view: View
    rear: Site
    front: Site
    bb: Vec
    axis: Candidate
    span: StrokeSpan
    members: dict[str, Candidate | None]
    fork: Fork | None
    points: dict[str, float]
    forks: tuple[Fork, ...] = ()

    @property
    def score(self) -> float:
        return sum(self.points.values())


def share(reading: Labelling) -> float:
    """A reading's points as a share of what a complete, clean drawing earns, 0 to 1."""
    return max(0.0, min(reading.score / w.BEST_POINTS, 1.0))


class LabelSearch:
    """All readings in one pose."""

    def __init__(self, v: View, rear: Site, front: Site, rounds: Sequence[Round]) -> None:
        self.v = v
        self.rear = rear
        self.front = front
        # The head and seat tube first: a pose without them is dropped before the rest is looked at.
        self.slots: dict[str, list[Candidate]] = {}
        for slot in sorted(
            SLOTS, key=lambda s: REQUIRED.index(s.name) if s.name in REQUIRED else len(REQUIRED)
        ):
            dead = any(not self.slots[name] for name in REQUIRED if name in self.slots)
            if dead:
                self.slots[slot.name] = []
            else:
                self.slots[slot.name] = with_partners(slot_candidates(v, slot))
        seats = self.slots["seat_tube"]
        middles = {k for c in seats if not c.is_tube and c.bonus >= w.PARTNERED for k in c.strokes}
        self.seat_edges = {k for c in seats if c.is_tube for k in c.strokes} - middles
        self.small = self._bb_rounds(rounds)
        # One that the user named is taken however badly it fits; the misfit is told.
        self.least = {name: 0.0 if v.evidence.claimed(name) else w.LEAST_POINTS for name in BRACING}
        self.memo: dict[tuple[str, int, int], Scored] = {}
        self.undivided: Candidate | None = None  # a steering axis in one piece, from stem to axle

    def readings(self) -> Iterator[Labelling]:
        """The best reading for each bottom bracket, seat tube, steering axis and head tube span."""
        if not self.slots["head_tube"] or not self.slots["seat_tube"]:
            return
        axes = self.axes()
        if not axes:
            return
        for bb in self._bb_guesses():
            near_bb = exactness(
                min((hypot(bb[0] - c[0], bb[1] - c[1]) for c in self.small), default=w.NO_CIRCLE)
            )
            seats = _top(
                ((earned.seat_points(s, bb), s) for s in self.slots["seat_tube"]), MOST_SEAT
            )
            downs = _top(
                ((earned.down_points(d, bb), d) for d in self.slots["down_tube"]), MOST_DOWN
            )
            chain = _best(
                ((earned.chain_points(c, bb), c) for c in self.slots["chainstay"]),
                self.least["chainstay"],
            )
            for (seat_points, seat), (axis, spans, readings) in product(seats, axes):
                if seat_points <= w.LEAST_SEAT:
                    continue
                yield from self._completed(
                    bb, near_bb, seat_points, seat, downs, chain, axis, spans, readings
                )

    # --- lists to try -----------------------------------------------------------------------------------
    def _bb_rounds(self, rounds: Sequence[Round]) -> list[Vec]:
        out = []
        self.sizes: list[bool] = []  # of each: whether it is as large as a shell
        for r in rounds:
            size = r.radius * self.v.pose.scale
            at = self.v.pose.apply(r.centre)
            if (
                BB_RADIUS[0] <= size <= BB_RADIUS[1]
                and _in_bb_box(self.v, at)
                and (self.v.evidence.bonus("bb_shell", r.curves) is not None)
            ):
                out.append(at)
                self.sizes.append(SHELL[0] <= size <= SHELL[1])
        self.sizes = self.sizes[: w.MOST_CIRCLES]
        return out[: w.MOST_CIRCLES]

    def _bb_guesses(self) -> list[Vec]:
        """Centres of small circles, and crossings of seat tube lines with down tube and chainstay lines."""
        guesses = list(self.small)
        if self.v.evidence.claimed("bb_shell"):
            return guesses[:MOST_BB]
        seats = self.slots["seat_tube"]
        straight = [c.first for c in self.slots["down_tube"] if not c.bents]
        straight += [c.last for c in self.slots["chainstay"] if not c.bents]
        for seat in seats:
            guesses += [
                at
                for other in straight
                if (at := crossing(seat, other)) is not None and _in_bb_box(self.v, at)
            ]
        guesses += [c.q for c in self.slots["chainstay"] if c.bents and _in_bb_box(self.v, c.q)]
        shells = [(x, y) for (x, y), size in zip(self.small, self.sizes, strict=True) if size]
        crossings = guesses[len(self.small) :]
        for x, y in shells:
            crossings = [at for at in crossings if hypot(at[0] - x, at[1] - y) > AT_SHELL]
        guesses = self.small + crossings
        lines = [c for c in seats + straight if not c.bents]
        counted: dict[tuple[int, int], tuple[float, Vec]] = {}
        for at in guesses:
            key = (round(at[0] / SAME_BB), round(at[1] / SAME_BB))
            if key not in counted:
                support = sum(
                    exactness(c.lateral(at))
                    for c in lines
                    if -w.LINE_PAST < c.along(at) < c.length + w.LINE_PAST
                )
                support += sum(
                    w.CIRCLE * exactness(hypot(at[0] - c[0], at[1] - c[1])) for c in self.small
                )
                counted[key] = (support, at)
        return [at for _, at in sorted(counted.values(), key=lambda g: -g[0])[:MOST_BB]]

    def axes(self) -> list[tuple[Candidate, list[StrokeSpan], list[Fork]]]:
        """Steering axes with the stretches of them that could be the head tube and the forks that fit."""
        links = ForkLinks(self.v)
        out = []
        for axis in self.slots["head_tube"]:
            offset = -axis.lateral(self.v.front)  # forward of the axis is to the right of upwards
            if not w.OFFSET_WINDOW[0] <= offset <= w.OFFSET_WINDOW[1]:
                continue
            forked = self.v.evidence.named("fork")
            sized = [s for s in _head_spans(self.v, axis) if _head_sized(self.v, axis, s)]
            # a stretch that holds a line named as the fork's is no head tube
            own = [s for s in sized if not forked & set(self.v.owner[list(s.pieces)].tolist())]
            spans = _as_picked(self.v, own)
            if spans:
                out.append((axis, spans, forks(self.v, axis, links)))
            elif axis.length > w.HEAD_WINDOW[1] and self.undivided is None:
                self.undivided = axis
        weight = {
            id(a): (f[0].points if f else 0.0) + usual(-a.lateral(self.v.front), *w.AXIS_OFFSET)
            for a, _, f in out
        }
        return sorted(out, key=lambda o: -weight[id(o[0])])[:MOST_AXES]

    def other_top_tube(self, reading: Labelling) -> Candidate | None:
        """Another line as good as the top tube that meets the seat tube elsewhere; None when there is none."""
        seat = reading.members["seat_tube"]
        axis = reading.axis
        taken = reading.members["top_tube"]
        if seat is None or taken is None or taken.bents:
            return None
        styled = _Style(seat, axis)
        scored = {
            id(t): (earned.top_points(t, seat, axis) + styled.points(t), t)
            for t in self.slots["top_tube"]
        }
        least = scored[id(taken)][0] - w.SAME_TOP_TUBE
        at = crossing(taken.first, seat)
        for points, t in scored.values():
            if t.bents:
                other = None
            else:
                other = crossing(t.first, seat)
            if (
                points >= least
                and at
                and other
                and abs(seat.along(other) - seat.along(at)) > w.MOVED
            ):
                return t
        return None

    def _remembered(
        self, name: str, key: Candidate, other: Candidate | None, best: Iterator[Scored]
    ) -> Scored:
        at = (name, id(key), id(other))
        if at not in self.memo:
            self.memo[at] = _best(best, self.least[name.split()[0]])
        return self.memo[at]

    def _meets(self, name: str, c: Candidate, tube: Candidate) -> bool:
        """Whether a line meets the tube that it should join at all, as a spoke does not; a picked one may."""
        return self.v.evidence.claimed(name) or bool(c.bents) or earned.meeting(c, tube) > 0.0

    # --- one combination --------------------------------------------------------------------------------
    def _completed(
        self,
        bb: Vec,
        near_bb: float,
        seat_points: float,
        seat: Candidate,
        downs: list[tuple[float, Candidate]],
        chain: Scored,
        axis: Candidate,
        spans: list[StrokeSpan],
        fork_readings: list[Fork],
    ) -> Iterator[Labelling]:
        styled = _Style(seat, axis)
        top = self._remembered(
            "top_tube",
            seat,
            axis,
            (
                (earned.top_points(t, seat, axis) + styled.points(t), t)
                for t in self.slots["top_tube"]
                if not set(t.strokes) & set(seat.strokes + axis.strokes)
            ),
        )
        stay = self._remembered(
            f"seatstay {styled.tubes}",
            seat,
            None,
            (
                (earned.stay_points(k, seat) + styled.points(k), k)
                for k in self.slots["seatstay"]
                if not set(k.strokes) & set(seat.strokes) and self._meets("seatstay", k, seat)
            ),
        )
        down = _best(
            (
                (p + w.DOWN_MEETS * earned.meeting(d, axis) + styled.points(d), d)
                for p, d in downs
                if p > 0.0
                and not set(d.strokes) & set(seat.strokes + axis.strokes)
                and self._meets("down_tube", d, axis)
            ),
            self.least["down_tube"],
        )
        for span in spans:
            fork = max(
                (
                    (f.points + earned.stack_points(span.low - f.crown), f)
                    for f in fork_readings
                    if w.STACK_WINDOW[0] <= span.low - f.crown <= w.STACK_WINDOW[1]
                ),
                key=lambda f: f[0],
                default=None,
            )
            points = {
                "bottom_bracket": near_bb,
                "seat_tube": seat_points + earned.edge_alone(seat, axis, self.seat_edges),
                "chainstay": chain[0],
                "seatstay": stay[0],
                "top_tube": top[0] + earned.junction_points(top[1], axis, span, upper=True),
                "down_tube": down[0] + earned.junction_points(down[1], axis, span, upper=False),
                "head_tube": earned.head_points(axis, span, self.v.front)
                + axis.bonus
                + (
                    w.STYLE
                    if axis.is_tube and seat.bonus < w.PARTNERED and not seat.is_tube
                    else 0.0
                )
                + w.OUTSIDE * sum(earned.joins_outside(t, axis, span) for t in (top[1], down[1])),
                "fork": 0.0 if fork is None else fork[0],
            }
            members = {
                "seat_tube": seat,
                "chainstay": chain[1],
                "seatstay": stay[1],
                "top_tube": top[1],
                "down_tube": down[1],
                "head_tube": axis,
            }
            yield Labelling(
                self.v,
                self.rear,
                self.front,
                bb,
                axis,
                span,
                members,
                None if fork is None else fork[1],
                points,
                tuple(fork_readings),
            )


# --- where the nodes may be -----------------------------------------------------------------------------
def _in_bb_box(v: View, at: Vec) -> bool:
    x = at[0] / v.front[0]
    return BB_BOX[0] <= x <= BB_BOX[1] and BB_BOX[2] <= at[1] <= BB_BOX[3]


def _as_picked(v: View, spans: list[StrokeSpan]) -> list[StrokeSpan]:
    """Of the stretches with a line picked as head tube those of picked lines only, and of the most of them."""
    picked = v.evidence.named("head_tube")
    held = []
    for s in spans:
        held.append((s, {int(v.owner[k]) for k in s.pieces}))
    if not picked or any(not own for _, own in held):  # an outline was sifted by its edges
        return spans
    most = max((len(own) for _, own in held if own <= picked), default=0)
    whole = [s for s, own in held if own <= picked and len(own) == most]
    return whole or [s for s, own in held if own & picked]


def _head_sized(v: View, axis: Candidate, span: StrokeSpan) -> bool:
    x, y = axis.at((span.low + span.high) / 2)
    return (
        w.HEAD_WINDOW[0] <= span.high - span.low <= w.HEAD_WINDOW[1]
        and span.low - axis.along(v.front) >= w.LEAST_FORK
        and w.HEAD_X[0] < x / v.front[0] < w.HEAD_X[1]
        and w.HEAD_Y[0] < y < w.HEAD_Y[1]
    )


def _head_spans(v: View, axis: Candidate) -> list[StrokeSpan]:
    if axis.is_tube:
        low = [axis.along(e[0]) for e in axis.edges]
        high = [axis.along(e[1]) for e in axis.edges]
        return [StrokeSpan(sum(low) / 2, sum(high) / 2, True, ())]
    (stroke,) = axis.strokes
    x0, y0 = v.ends[stroke, :2].tolist()
    base = axis.along((x0, y0))
    scale = v.pose.scale
    if base < axis.length / 2:
        turn = 1.0
    else:
        turn = -1.0
    spans = []
    for s in v.strokes.spans(stroke):
        a, b = sorted((base + turn * scale * s.start, base + turn * scale * s.end))
        spans.append(StrokeSpan(a, b, s.whole, s.pieces))
    return spans


# --- of several ---------------------------------------------------------------------------------------------


class _Style:
    """Outline or centre-lines: what the seat and head tube are drawn as, the others are expected to be too."""

    def __init__(self, seat: Candidate, axis: Candidate) -> None:
        self.tubes: bool | None
        if seat.is_tube == axis.is_tube:
            self.tubes = seat.is_tube
        else:
            self.tubes = None

    def points(self, c: Candidate) -> float:
        if self.tubes is not None and c.is_tube != self.tubes:
            return w.STYLE
        return 0.0


def _best(scored: Iterator[Scored] | Sequence[Scored], least: float) -> Scored:
    best: Scored = (0.0, None)
    for points, candidate in scored:
        if points > best[0]:
            best = (points, candidate)
    if best[0] > least:
        return best
    return (0.0, None)


def with_partners(candidates: list[Candidate]) -> list[Candidate]:
    """Lines and tubes that confirm each other earn points, so that no edge and centre-line pass for a thin tube."""
    straight = [c for c in candidates if not c.bents and not c.links]
    lines = [c for c in straight if not c.is_tube]
    tubes = [c for c in straight if c.is_tube]
    confirmed: set[int] = set()
    for tube in tubes:
        for line in lines:
            if (
                max(abs(line.lateral(tube.p)), abs(line.lateral(tube.q))) <= w.MIDDLE
                and line.length >= w.CONFIRMING * tube.length
                and tube.bonus > line.bonus + w.DOUBTED  # no gap between tubes, no shading
                and not set(line.strokes) & set(tube.strokes)
            ):
                confirmed |= {id(tube), id(line)}
    return [
        replace(c, bonus=c.bonus + w.PARTNERED) if id(c) in confirmed else c for c in candidates
    ]


def _top(scored: Iterator[tuple[float, Candidate]], count: int) -> list[tuple[float, Candidate]]:
    return sorted(scored, key=lambda s: -s[0])[:count]
