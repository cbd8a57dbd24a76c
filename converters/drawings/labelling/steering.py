"""Where the head tube ends and where the fork begins, once the steering axis is known.

On a full sheet the axis carries more than head tube and fork: headset cups, spacers, reinforcing rings, a crown. Each
is a STAGE between two STATIONS, which are lines square across the axis or ends of walls on both sides. The first
stage about the tubes' junctions is the head tube's body; every further one is a ring of it, a part of the headset or
the fork's crown. All ways to share them out are weighed together, and a way nearly as good is a DOUBT that is told.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from ..linework.lines import Candidate
from ..linework.words import meaning
from .contradictions import FACE_MATCH, Contradictions, contradictions, no_part
from .members import Labelled
from .profile import FACE, OPEN, SAME, TOUCH, Profile, Stage, profile_of
from .score import usual

ONE_STATION = (
    0.8  # mm; ends set by eye at one place: a slip of the draughtsman is told from 1 mm on
)
SHOULDER = 25.0  # mm of ring or shoulder beyond the walls that were taken as the head tube
MOST_BESIDE = 65.0  # mm of rings and cups beyond the body

# Points of one way to share the stages out. A stage's own layer outweighs what is usual in the trade.
BY_LAYER = 1.5  # the layer's word names the part
BY_SAME_LAYER = 0.6  # drawn on the layer of the head tube's walls alone, or of the blades alone
CUP = 0.7  # a headset's lower part of usual height (8 to 20 mm)
INTEGRATED = 2.6  # mm; with less between head tube and race the headset is inside the tube
NO_STACK = 0.2  # an integrated headset: nothing between head tube and crown
CROWN = 0.5  # a crown of usual height (10 to 42 mm)
RING = 0.25  # a ring at the head tube's end of usual height (5 to 20 mm)
PAIRED = 0.9  # rings of one height and width at both ends
WIDER = 0.2  # a cup is wider than the head tube
HANGING = -0.4  # a headset's part below a gap to the head tube: more likely the crown
FLOATING = -0.2  # a headset's part above a gap to the race: more likely a ring of the head tube
BARE = -0.6  # a line across above the blades that nothing joins to them
OWN_FACE = 0.5  # a face as wide as the body where something wider begins: the body ends there
ONE_LOOP = 1.0  # the head tube is drawn as one closed loop
CENTRE_LINE = 1.2  # the head tube's own centre-line ends there
DOUBTFUL = 0.2  # a way worse by less than this is told
OUT_OF_REACH = 0.5  # a way better by this is told although a tube would join beyond the head tube
MAY_BE_CUPS = 0.5  # share of PAIRED where the lower ring stands on the blades: it may be a cup
UNPAIRED = (
    -0.3
)  # share of PAIRED, against a ring at the upper end alone: rings come in pairs, spacers do not

# Usual heights in mm, as `usual` reads them (common practice, no source).
RING_HEIGHT = (2.0, 5.0, 20.0, 40.0)
CUP_HEIGHT = (0.0, 5.0, 20.0, 42.0)
CROWN_HEIGHT = (42.0, 70.0)  # the usual most, and the most
LEAST_CROWN = 8.0  # mm that a crown usually has at least
LEAST_INTEGRATED = 20.0  # mm of it where it meets the head tube: lower ones there are cups
LOWEST_CROWN = 0.3  # share of that least height from which a crown earns anything

HALF = 20.0  # mm; half of a head tube's width where only its centre-line is drawn
RINGS_ALIKE = 0.1  # share by which the heights of two rings may differ and still be a pair
RINGS_WIDE = 0.2  # mm by which half their widths may
PAIR_ALIKE = 0.05  # the same share where being a pair earns points
PAIR_WIDE = 0.5  # mm of half width there
CUP_WIDER = 0.5  # mm of half width by which a cup stands out to be wider
ROUNDING = 1e-9  # points; sums of the same points in another order

STEERER = 14.8  # mm; half the width up to which a head tube may be a steerer
RACE = (3.0, 45.0)  # mm below the fork's upper end that another line across may be the race
# share of a stage along which a wall of it runs; shorter ones are fillets and bosses
WHOLE = 0.9  # share of the head tube's length along which its walls run
STANDS_FLUSH = 0.3  # mm; a part whose edges are in line with the head tube's stands for no ring
STANDS_OUT = 2.0  # mm to either side that a face is wider than the walls taken
LEAST_HEAD = 50.0  # mm between two such faces


@dataclass(frozen=True)
class OtherWay:
    """What else could be meant, in words with its numbers, and the curves to pick for it: member -> curves. lower : mm
    by which the race alone would lie lower; 0 where something else would change too."""

    said: str
    picks: Mapping[str, tuple[int, ...]]
    lower: float = 0.0


@dataclass(frozen=True)
class Ends:
    """low, high: the head tube's ends along the axis; crown: the race; parts: what the stages beside it were taken
    as; doubts: what else could be meant; against: what on the axis contradicts these ends."""

    low: float
    high: float
    crown: float
    parts: tuple[tuple[Stage, str], ...] = ()
    doubts: tuple[OtherWay, ...] = ()
    against: Contradictions = field(default_factory=Contradictions)

    @property
    def crown_height(self) -> float:
        """Of the crown between the blades' upper ends and the race; 0 when none is drawn."""
        return sum(stage.height for stage, part in self.parts if part == "fork")

    @property
    def lower_race(self) -> float:
        """How far below the race another line across may be it, mm; 0 where none may."""
        return max((way.lower for way in self.doubts), default=0.0)


def settle_ends(
    lab: Labelled, axis: Candidate, low: float, high: float, crown: float, nodes: Sequence[float]
) -> Ends:
    """The head tube's ends and the race, from `low`, `high` and the blades' `crown` as they were found first.

    `nodes`: where top tube and down tube cross the axis; the head tube holds them.
    """
    tube = lab.members["head_tube"].tube
    evidence = lab.reading.view.evidence
    if tube is None or tube.diameter is None:
        half = HALF
    else:
        half = tube.diameter / 2
    picked = evidence.named("crown")
    if picked:
        return Ends(low, high, min(_top_of(lab, axis, picked), low))
    profile = profile_of(lab, axis, half, low, high, crown)
    if tube is not None and not evidence.claimed("head_tube"):
        held = (max(low - SHOULDER, crown + TOUCH), high + SHOULDER)
        core = [t for t in nodes if held[0] <= t <= held[1]] or [(low + high) / 2]
        reach = (min(core) + TOUCH, max(core) - TOUCH)
        middle = (min(core) + max(core)) / 2
        uppers = _ends(profile, middle, half, True)
        lowers = _ends(profile, middle, half, False)
    else:
        reach = (low, high)
        uppers = [high]
        lowers = [low]
    uppers = [t for t in uppers if t <= uppers[0] + MOST_BESIDE]
    lowers = [t for t in lowers if t >= max(crown - TOUCH, lowers[0] - MOST_BESIDE)]
    if not uppers or not lowers:
        return Ends(low, high, crown)
    return _Shares(lab, profile, half, uppers, lowers, reach, crown, _centre_line(lab, axis)).best()


def _top_of(lab: Labelled, axis: Candidate, picked: set[int]) -> float:
    """The upper end of the picked curves along the axis."""
    curves = lab.reading.view.evidence.curves
    points = np.vstack([curves[i].points for i in picked])
    along = (lab.pose.apply_all(points) - np.array(axis.p)) @ np.array(axis.u)
    return float(along.max())


def _ends(profile: Profile, start: float, half: float, up: bool) -> list[float]:
    """Natural ends of a tube from `start` on, nearest first, until nothing goes on."""
    at = {c.at for c in profile.caps}
    at |= {w.high if up else w.low for w in profile.walls}
    found: list[float] = []
    for t in sorted((t for t in at if (t >= start if up else t <= start)), reverse=not up):
        if found and abs(t - found[-1]) <= ONE_STATION:
            continue
        if profile.covered(t, 1) or profile.covered(t, -1):
            continue
        over = profile.open_beyond(t, up)
        if over or profile.capped(t, half):
            found.append(t)
        if over:
            break
    return found


def _centre_line(lab: Labelled, axis: Candidate) -> tuple[float, float] | None:
    """The head tube's drawn centre-line beside its outline: where it ends."""
    head = lab.members["head_tube"]
    if head.tube is None or not head.drawn:
        return None
    return axis.along(lab.axis.p), axis.along(lab.axis.q)


# --- sharing the stages out -----------------------------------------------------------------------------------


class _Shares:
    """All ways to share the stages out between head tube, headset and crown."""

    def __init__(
        self,
        lab: Labelled,
        profile: Profile,
        half: float,
        uppers: list[float],
        lowers: list[float],
        reach: tuple[float, float],
        blades: float,
        line: tuple[float, float] | None,
    ) -> None:
        self.lab = lab
        self.profile = profile
        self.half = half
        self.uppers = uppers[:4]
        self.lowers = lowers[:4]
        self.reach = reach
        self.blades = blades
        self.line = line
        body = [
            w.owner
            for w in profile.walls
            if w.low >= self.lowers[0] - TOUCH and w.high <= self.uppers[0] + TOUCH
        ]
        self.frame_layers = {profile.layers[i] for i in body}
        view = lab.reading.view
        fork = lab.fork
        self.fork_line = fork is not None and fork.kind in ("path", "line", "axis")
        owners = view.curves_of(fork.strokes) if fork is not None else []
        if fork is not None:
            owners += [i for k in fork.bents for i in view.bents[k].owners]
        self.fork_layers = {profile.layers[i] for i in owners}

    def best(self) -> Ends:
        ways = sorted(self._ways(), key=lambda w: -w[0])
        if not ways:
            return Ends(self.lowers[0], self.uppers[0], self.blades)
        points, low, high, crown, parts = ways[0]
        taken = (low, high, crown)
        others = self._rings_or_cups(low, high) + self._wider(low, high)
        others += [(low, high, at) for at in self._lower_races()]
        others += [w[1:4] for w in ways[1:] if w[0] >= points - DOUBTFUL - ROUNDING]
        freely = max(self._ways(freely=True), key=lambda w: w[0])
        if freely[0] > points + OUT_OF_REACH:
            others.append(freely[1:4])
        doubts: dict[str, OtherWay] = {}
        for other in others:
            said = _other_way(taken, other)
            if said:
                lower = taken[2] - other[2] if taken[:2] == other[:2] else 0.0
                doubts.setdefault(said, OtherWay(said, self._picks(taken, other), lower))
        told = tuple(doubts.values())[:2]
        body = (self.lowers[0], self.uppers[0])
        stations = sorted([*self.lowers, *self.uppers])
        return Ends(
            low,
            high,
            crown,
            parts,
            told,
            contradictions(self.profile, self.half, body, stations, taken),
        )

    def _picks(
        self, taken: tuple[float, float, float], other: tuple[float, float, float]
    ) -> dict[str, tuple[int, ...]]:
        """The curves to name for another way: the head tube's walls, the line of the race."""
        low, high, crown = other
        picks: dict[str, tuple[int, ...]] = {}
        if abs(low - taken[0]) > SAME or abs(high - taken[1]) > SAME:
            walls = [
                w.owner
                for w in self.profile.walls
                if w.low >= low - TOUCH and w.high <= high + TOUCH
            ]
            picks["head_tube"] = tuple(dict.fromkeys(walls))
        caps = [c.owner for c in self.profile.caps if abs(c.at - crown) <= SAME]
        if abs(crown - taken[2]) > SAME and caps:
            picks["crown"] = (caps[-1],)
        return picks

    def _wider(self, low: float, high: float) -> list[tuple[float, float, float]]:
        """Faces that stand out on both sides between the ends: the walls are a steerer's, the tube is about it."""
        # the head tube's own centre-line says where it ends
        if self.line is not None or self.lab.members["head_tube"].tube is None:
            return []
        least = WHOLE * (high - low)
        half = max(
            (w.off for w in self.profile.walls if min(w.high, high) - max(w.low, low) >= least),
            default=0.0,
        )
        if not half or half > STEERER:
            return []
        out = sorted(
            c.at
            for c in self.profile.caps
            if low + TOUCH < c.at < high - TOUCH
            and c.half > half + STANDS_OUT
            and not no_part(self.profile.layers[c.owner])
        )
        if len(out) < 2 or out[-1] - out[0] < LEAST_HEAD:
            return []
        return [(out[0], out[-1], min(out[0], self.blades))]

    def _lower_races(self) -> list[float]:
        """Lines across below the fork's upper end that could be the race: the blades may be no blades above them."""
        found = {
            round(c.at, 1): c.at
            for c in self.profile.caps
            if RACE[0] <= self.blades - c.at <= RACE[1]
            and c.half >= FACE * self.half
            and not no_part(self.profile.layers[c.owner])
        }
        return sorted(found.values(), reverse=True)[:1]

    def _rings_or_cups(self, low: float, high: float) -> list[tuple[float, float, float]]:
        """Cups of one height and width at both ends: they may as well be rings of the head tube."""
        if low != self.lowers[0] or high != self.uppers[0] or len(self.uppers) < 2:
            return []
        if len(self.lowers) < 2 or self.line is not None:
            return []
        # a part that is closed for itself ends where the next begins
        if self._one_loop(low, high) or (
            self._own_face(self.lowers) and self._own_face(self.uppers)
        ):
            return []
        lower = self.profile.stage(self.lowers[1], low)
        upper = self.profile.stage(high, self.uppers[1])
        if lower is None or upper is None:
            return []
        alike = abs(lower.height - upper.height) <= RINGS_ALIKE * upper.height
        named = {meaning(self.profile.layers[i]) for i in (*lower.owners, *upper.owners)}
        if not alike or abs(lower.half - upper.half) > RINGS_WIDE or "headset" in named:
            return []
        return [(self.lowers[1], self.uppers[1], min(self.lowers[1], self.blades))]

    def _ways(
        self, freely: bool = False
    ) -> Iterator[tuple[float, float, float, float, tuple[tuple[Stage, str], ...]]]:
        """`freely`: also those in which a tube would join beyond the head tube's ends."""
        stations = self._stations()
        own_low = self._own_face(self.lowers)
        own_high = self._own_face(self.uppers)
        for n, low in enumerate(self.lowers):
            if not freely and low > self.reach[0] + SAME and n + 1 < len(self.lowers):
                continue  # a tube joins below
            for crown in stations:
                if crown > low + TOUCH:
                    continue
                below = self._below(n, low, crown)
                if below is None:
                    continue
                points, parts = below
                for m, high in enumerate(self.uppers):
                    beyond = high < self.reach[1] - SAME and m + 1 < len(self.uppers)
                    if beyond and not freely:
                        continue
                    above, upper_parts = self._above(m, n, low - crown > INTEGRATED)
                    on_line = 0.0
                    if self.line is not None:
                        on_line = CENTRE_LINE * (
                            (abs(self.line[0] - low) <= TOUCH) + (abs(self.line[1] - high) <= TOUCH)
                        )
                    on_line += ONE_LOOP * self._one_loop(low, high)
                    on_line += OWN_FACE * ((n == 0) * own_low + (m == 0) * own_high)
                    yield points + above + on_line, low, high, crown, parts + upper_parts

    def _own_face(self, ends: Sequence[float]) -> bool:
        """Whether the body has a face of its own width at its end, although something wider follows there."""
        if len(ends) < 2:
            return False
        following = self.profile.stage(min(ends[:2]), max(ends[:2]))
        if following is None or following.half <= self.half + 2 * FACE_MATCH:
            return False
        return any(
            abs(c.at - ends[0]) <= SAME and abs(c.half - self.half) <= FACE_MATCH
            for c in self.profile.caps
        )

    def _one_loop(self, low: float, high: float) -> bool:
        """Both faces are sides of one curve that runs all round the tube."""
        lower = {c.owner for c in self.profile.caps if abs(c.at - low) <= SAME}
        upper = {c.owner for c in self.profile.caps if abs(c.at - high) <= SAME}
        walls = {
            w.owner for w in self.profile.walls if w.low > low - TOUCH and w.high < high + TOUCH
        }
        return bool(lower & upper & walls)

    def _stations(self) -> list[float]:
        """Where the race may be: the blades' tops, and every cap from there up to the head tube."""
        caps = [
            c.at
            for c in self.profile.caps
            if self.blades - (0.0 if self.fork_line else TOUCH) <= c.at <= self.lowers[0] + SAME
            and not no_part(self.profile.layers[c.owner])
        ]
        found = [self.blades]
        for at in sorted(caps):
            if all(abs(at - f) > SAME for f in found):
                found.append(at)
        return found

    def _below(
        self, n: int, low: float, crown: float
    ) -> tuple[float, tuple[tuple[Stage, str], ...]] | None:
        points = 0.0
        parts: list[tuple[Stage, str]] = []
        for a, b in zip(self.lowers[1 : n + 1], self.lowers[:n], strict=True):
            stage = self.profile.stage(a, b)
            if stage is None:
                return None
            points += self._as(stage, "head_tube") + self._ring(stage)
            parts.append((stage, "head_tube"))
        stack = low - crown
        cuts = [t for t in self._stations() if crown < t < low] + [low]
        start = crown
        for cut in cuts:
            stage = self.profile.stage(start, cut) if cut - start > SAME else None
            if stage is not None:
                points += HANGING * (cut < low - OPEN and self.profile.open_beyond(cut, True))
                points += FLOATING * (
                    start > crown + OPEN and self.profile.open_beyond(start, False)
                )
                points += self._as(stage, "headset")
                points += WIDER * (self.half + CUP_WIDER < stage.half)
                parts.append((stage, "headset"))
            start = cut
        if stack <= INTEGRATED:
            points += NO_STACK
        else:
            points += CUP * usual(stack, *CUP_HEIGHT)
        if crown - self.blades > SAME:
            stage = self.profile.stage(self.blades, crown)
            if stage is None and low - crown <= SAME:
                return None  # the head tube's own face, not the crown's
            if stage is None and self.fork_line:
                return None  # a fork drawn as one line ends where its line does
            # the crown's sides end where its upper face is; a line that crosses them is another thing's
            if stage is None or not self.profile.edges_end(crown):
                points += BARE
            if stage is None:
                stage = Stage(self.blades, crown, self.half, self._capping(crown))
            points += self._as(stage, "fork")
            least = LEAST_INTEGRATED if stack <= INTEGRATED else LEAST_CROWN
            points += CROWN * usual(stage.height, LOWEST_CROWN * least, least, *CROWN_HEIGHT)
            parts.append((stage, "fork"))
        return points, tuple(parts)

    def _capping(self, at: float) -> tuple[int, ...]:
        return tuple(c.owner for c in self.profile.caps if abs(c.at - at) <= SAME)

    def _above(self, m: int, n: int, apart: bool) -> tuple[float, tuple[tuple[Stage, str], ...]]:
        points = 0.0
        parts: list[tuple[Stage, str]] = []
        for k, (a, b) in enumerate(zip(self.uppers, self.uppers[1:], strict=False)):
            stage = self.profile.stage(a, b)
            if stage is None:
                if k < m:
                    points -= BY_LAYER  # nothing joins what lies beyond
                continue
            if k < m:
                points += self._as(stage, "head_tube")
                if k == 0:  # what stands on a ring is a headset's spacer
                    points += self._ring(stage)
                    points += PAIRED * self._paired(stage, n, apart)
                parts.append((stage, "head_tube"))
            else:
                points += self._as(stage, "headset") + RING
                points += WIDER * (self.half + CUP_WIDER < stage.half)
                parts.append((stage, "headset"))
        return points, tuple(parts)

    def _ring(self, stage: Stage) -> float:
        """A ring of usual height; what is as wide as the tube itself is none."""
        if abs(stage.half - self.half) <= STANDS_FLUSH:
            return 0.0
        return RING * usual(stage.height, *RING_HEIGHT)

    def _paired(self, stage: Stage, n: int, apart: bool) -> float:
        """Whether the lower end has a ring as this one at the upper end."""
        if n != 1:
            return UNPAIRED
        if not self._ring(stage):
            return 0.0
        ring = self.profile.stage(self.lowers[1], self.lowers[0])
        alike = (
            ring is not None
            and abs(ring.height - stage.height) <= PAIR_ALIKE * stage.height
            and abs(ring.half - stage.half) <= PAIR_WIDE
        )
        if not alike:
            return 0.0
        # rings that stand on the blades may as well be cups
        return 1.0 if apart else MAY_BE_CUPS

    def _as(self, stage: Stage, part: str) -> float:
        """What a stage's layer says for and against a part."""
        points = 0.0
        layers = {self.profile.layers[i] for i in stage.owners}
        words = {meaning(layer) for layer in layers} - {None}
        if words:
            named = {"head_tube": {"head_tube", "frame"}, "headset": {"headset"}, "fork": {"fork"}}
            known = words & {"head_tube", "headset", "fork"}
            if words & named[part]:
                points += BY_LAYER if known else 0.0
            elif known:
                points -= BY_LAYER
        if layers and self.frame_layers != self.fork_layers:
            if part == "head_tube":
                same = layers <= self.frame_layers
            elif part == "fork":
                same = layers <= self.fork_layers
            else:
                same = not layers & (self.frame_layers | self.fork_layers)
            points += BY_SAME_LAYER * same
        elif layers and not layers & self.frame_layers:
            points += BY_SAME_LAYER if part == "headset" else -BY_SAME_LAYER
        return points


def _other_way(taken: tuple[float, float, float], other: tuple[float, float, float]) -> str:
    """What would come out the other way; '' when it is the same."""
    said = []
    length = taken[1] - taken[0]
    length2 = other[1] - other[0]
    if abs(length - length2) > SAME or abs(taken[0] - other[0]) > SAME:
        said.append(f"the head tube {length2:.4g} mm long instead of {length:.4g}")
    if abs(taken[2] - other[2]) > SAME:
        longer = other[2] - taken[2]
        said.append(f"the fork {abs(longer):.3g} mm {'longer' if longer > 0 else 'shorter'}")
    return " and ".join(said)
