"""Where the head tube ends and where the fork begins, once the steering axis is known.

On a full sheet the axis carries more than head tube and fork: headset cups, spacers, reinforcing rings, a crown. Each
is a STAGE between two STATIONS, which are lines square across the axis or ends of walls on both sides. The first
stage about the tubes' junctions is the head tube's body; every further one is a ring of it, a part of the headset or
the fork's crown. All ways to share them out are weighed together, and a way nearly as good is a DOUBT that is told.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ....model.arrays import Array
from ..linework.lines import Candidate
from ..linework.words import meaning
from .members import Labelled
from .score import usual

# mm along the axis: stations nearer than this are one; a wall that runs on by less does not cover a station
SAME = 0.45
TOUCH = 1.5
OPEN = 2.5  # mm; walls that stop on both sides for longer than this end the tube
SQUARE = 0.012  # a line this near square (rise over width) is a cap
OFF_AXIS = 4.0  # mm; a cap's middle lies nearer to the axis
NARROW = 8.0  # mm; a cap reaches at least so far to either side
WIDE = 52.0
SLOPE = 0.16  # a wall leaves the axis by less than this (a cone from 44 to 56 mm has 0.06)
WALL = (0.5, 1.6)  # a wall's distance from the axis over half the head tube's width
SHOULDER = 25.0  # mm of ring or shoulder beyond the walls that were taken as the head tube
MOST_BESIDE = 65.0  # mm of rings and cups beyond the body
FAR = 95.0  # mm beyond the head tube's ends that are looked at
FACE = 0.6  # of half the tube's width that a cap reaches, at least: the narrow end of a cone
JOINED = 0.85  # share of a stage that has a wall on either side
FARTHER = 12.0  # mm; what lies farther outside a wall than this is another thing
INSIDE = 0.3  # share of a wall that has others outside it: then it is an inner one

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
ONE_LOOP = 1.0  # the head tube is drawn as one closed loop
CENTRE_LINE = 1.2  # the head tube's own centre-line ends there
DOUBTFUL = 0.2  # a way worse by less than this is told


@dataclass(frozen=True)
class Cap:
    """A line square across the axis: where, how far it reaches to either side, by which curve."""

    at: float
    half: float
    owner: int


@dataclass(frozen=True)
class Wall:
    """A piece beside the axis, on one side of it (+1 left, -1 right), and its distance at the middle."""

    low: float
    high: float
    side: int
    off: float
    owner: int


@dataclass(frozen=True)
class Stage:
    """What is drawn between two stations."""

    low: float
    high: float
    half: float
    owners: tuple[int, ...]

    @property
    def height(self) -> float:
        return self.high - self.low


@dataclass(frozen=True)
class Ends:
    """low, high: the head tube's ends along the axis; crown: the race; parts: what the stages beside it were taken
    as; doubts: sentences of what else could be meant, with its numbers."""

    low: float
    high: float
    crown: float
    parts: tuple[tuple[Stage, str], ...] = ()
    doubts: tuple[str, ...] = ()

    @property
    def crown_height(self) -> float:
        """Of the crown between the blades' upper ends and the race; 0 when none is drawn."""
        return sum(stage.height for stage, part in self.parts if part == "fork")


@dataclass(frozen=True, eq=False)
class _Profile:
    caps: tuple[Cap, ...]
    walls: tuple[Wall, ...]
    layers: Sequence[str]

    def covered(self, at: float, side: int) -> bool:
        return any(w.side == side and w.low < at - SAME and w.high > at + SAME for w in self.walls)

    def capped(self, at: float, half: float) -> bool:
        return any(abs(c.at - at) <= SAME and c.half >= FACE * half for c in self.caps)

    def open_beyond(self, at: float, up: bool) -> bool:
        """Neither wall goes on within OPEN beyond a station."""
        step = OPEN if up else -OPEN
        near = (min(at, at + step) + SAME, max(at, at + step) - SAME)
        return not any(w.low < near[1] and w.high > near[0] for w in self.walls)

    def stage(self, low: float, high: float) -> Stage | None:
        """What joins two stations on both sides; None where nothing is drawn between them."""
        owners: list[int] = []
        offs: list[float] = []
        for side in (1, -1):
            held = [
                w
                for w in self.walls
                if w.side == side and w.low >= low - TOUCH and w.high <= high + TOUCH
            ]
            inked = sum(min(w.high, high) - max(w.low, low) for w in held)
            if inked < JOINED * (high - low):
                return None
            owners += [w.owner for w in held]
            offs += [w.off for w in held]
        return Stage(low, high, max(offs), tuple(dict.fromkeys(owners)))


def settle_ends(
    lab: Labelled, axis: Candidate, low: float, high: float, crown: float, nodes: Sequence[float]
) -> Ends:
    """The head tube's ends and the race, from `low`, `high` and the blades' `crown` as they were found first.

    `nodes`: where top tube and down tube cross the axis; the head tube holds them.
    """
    tube = lab.members["head_tube"].tube
    evidence = lab.reading.view.evidence
    if tube is None or tube.diameter is None:
        half = 20.0
    else:
        half = tube.diameter / 2
    picked = evidence.named("crown")
    if picked:
        return Ends(low, high, min(_top_of(lab, axis, picked), low))
    profile = _profile(lab, axis, half, low, high, crown)
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


# --- what is drawn along the axis ----------------------------------------------------------------------------


def _profile(
    lab: Labelled, axis: Candidate, half: float, low: float, high: float, crown: float
) -> _Profile:
    view = lab.reading.view
    curves = view.evidence.curves
    unseen = {
        i
        for i, c in enumerate(curves)
        if view.evidence.ignored(i)
        or view.evidence.is_dashed(i)
        or view.evidence.word(c.layer) == "other"
    }
    reach = (min(low, crown) - FAR, high + FAR)
    ends = lab.pose.apply_all(view.pieces.reshape(-1, 2, 2))
    rel = ends - np.array(axis.p)
    along = axis.u[0] * rel[..., 0] + axis.u[1] * rel[..., 1]
    side = axis.u[0] * rel[..., 1] - axis.u[1] * rel[..., 0]
    near = (np.abs(side).max(axis=1) <= 1.6 * WIDE) & (along.max(axis=1) >= reach[0])
    near &= along.min(axis=1) <= reach[1]
    caps: list[Cap] = []
    walls: list[Wall] = []
    for k in np.flatnonzero(near).tolist():
        owner = int(view.owner[k])
        if owner not in unseen:
            _sorted_in(along[k], side[k], owner, half, caps, walls)
    for bent in view.bents:
        if bent.owner not in unseen:
            _curved_in(lab, axis, bent.points, bent.owner, half, reach, caps, walls)
    return _Profile(tuple(caps), _outer(walls), [c.layer for c in curves])


def _outer(walls: list[Wall]) -> tuple[Wall, ...]:
    """Without those inside others, and without their mirror images: a steerer, an inner wall."""
    inner = []
    for w in walls:
        outside = [
            min(o.high, w.high) - max(o.low, w.low)
            for o in walls
            if o.side == w.side
            and w.off + 0.5 < o.off <= w.off + FARTHER
            and o.high > w.low
            and o.low < w.high
        ]
        if sum(outside) >= INSIDE * (w.high - w.low):
            inner.append(w)
    return tuple(w for w in walls if not any(w is i or _mirrored(w, i) for i in inner))


def _mirrored(a: Wall, b: Wall) -> bool:
    return (
        a.side != b.side
        and abs(a.off - b.off) <= 1.0
        and abs(a.low - b.low) <= TOUCH
        and abs(a.high - b.high) <= TOUCH
    )


def _sorted_in(
    along: Array, side: Array, owner: int, half: float, caps: list[Cap], walls: list[Wall]
) -> None:
    """One straight piece: a cap, a wall, or neither."""
    (a0, a1), (s0, s1) = along.tolist(), side.tolist()
    width = abs(s1 - s0)
    rise = abs(a1 - a0)
    if rise <= max(0.2, SQUARE * width) and min(s0, s1) <= -NARROW and max(s0, s1) >= NARROW:
        if abs(s0 + s1) / 2 <= OFF_AXIS and width <= 2 * WIDE:
            caps.append(Cap((a0 + a1) / 2, width / 2, owner))
    elif s0 * s1 > 0 and width <= max(SLOPE * rise, 0.3):
        off = abs(s0 + s1) / 2
        if WALL[0] * half <= off <= WALL[1] * half:
            walls.append(Wall(min(a0, a1), max(a0, a1), 1 if s0 > 0 else -1, off, owner))
    elif s0 * s1 > 0 and rise <= 45.0 and min(abs(s0), abs(s1)) >= 0.3 * half and width <= 30.0:
        # a short slope: the shoulder of a stepped tube, the side of a sloping crown
        off = max(abs(s0), abs(s1))
        if off > WALL[1] * half:
            return
        walls.append(Wall(min(a0, a1), max(a0, a1), 1 if s0 > 0 else -1, off, owner))


def _curved_in(
    lab: Labelled,
    axis: Candidate,
    points: Array,
    owner: int,
    half: float,
    reach: tuple[float, float],
    caps: list[Cap],
    walls: list[Wall],
) -> None:
    """A curved run: the waisted wall of a head tube, the rounded side or top of a crown."""
    rel = lab.pose.apply_all(points) - np.array(axis.p)
    along = rel @ np.array(axis.u)
    side = axis.u[0] * rel[:, 1] - axis.u[1] * rel[:, 0]
    size = float(np.ptp(along))
    if along.max() < reach[0] or along.min() > reach[1] or np.abs(side).max() > 1.6 * WIDE:
        return
    if (side > 0).all() or (side < 0).all():
        off = float(np.abs(side).mean())
        if WALL[0] * half <= off <= WALL[1] * half and np.ptp(side) <= max(0.5 * size, 12.0):
            low = float(along.min())
            walls.append(Wall(low, low + size, 1 if side[0] > 0 else -1, off, owner))
        return
    if size > 60.0:
        return
    for mark in (1, -1):
        own = along[mark * side > 0.3 * half]
        if len(own) > 1:
            walls.append(Wall(float(own.min()), float(own.max()), mark, half, owner))
    # one that crosses the axis and is highest there
    top = int(along.argmax())
    if abs(side[top]) <= OFF_AXIS and 0 < top < len(along) - 1:
        caps.append(Cap(float(along[top]), float(np.ptp(side)) / 2, owner))


def _ends(profile: _Profile, start: float, half: float, up: bool) -> list[float]:
    """Natural ends of a tube from `start` on, nearest first, until nothing goes on."""
    at = {w.high if up else w.low for w in profile.walls} | {c.at for c in profile.caps}
    found: list[float] = []
    for t in sorted((t for t in at if (t >= start if up else t <= start)), reverse=not up):
        if found and abs(t - found[-1]) <= SAME:
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
        profile: _Profile,
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
        owners = view.curves_of(fork.strokes) if fork is not None else []
        if fork is not None:
            owners += [i for k in fork.bents for i in view.bents[k].owners]
        self.fork_layers = {profile.layers[i] for i in owners}

    def best(self) -> Ends:
        ways = sorted(self._ways(), key=lambda w: -w[0])
        if not ways:
            return Ends(self.lowers[0], self.uppers[0], self.blades)
        points, low, high, crown, parts = ways[0]
        doubts = self._rings_or_cups(low, high)
        for other, low2, high2, crown2, _ in ways[1:]:
            if other < points - DOUBTFUL:
                break
            said = _other_way((low, high, crown), (low2, high2, crown2))
            if said and said not in doubts:
                doubts.append(said)
        return Ends(low, high, crown, parts, tuple(doubts[:2]))

    def _rings_or_cups(self, low: float, high: float) -> list[str]:
        """Cups of one height and width at both ends: they may as well be rings of the head tube."""
        if low != self.lowers[0] or high != self.uppers[0] or len(self.uppers) < 2:
            return []
        if len(self.lowers) < 2 or self.line is not None:
            return []
        lower = self.profile.stage(self.lowers[1], low)
        upper = self.profile.stage(high, self.uppers[1])
        if lower is None or upper is None:
            return []
        alike = abs(lower.height - upper.height) <= 0.1 * upper.height
        named = {meaning(self.profile.layers[i]) for i in (*lower.owners, *upper.owners)}
        if not alike or abs(lower.half - upper.half) > 0.2 or "headset" in named:
            return []
        return [
            f"the head tube {self.uppers[1] - self.lowers[1]:.4g} mm long instead of {high - low:.4g}"
        ]

    def _ways(
        self,
    ) -> Iterator[tuple[float, float, float, float, tuple[tuple[Stage, str], ...]]]:
        stations = self._stations()
        for n, low in enumerate(self.lowers):
            if low > self.reach[0] + SAME and n + 1 < len(self.lowers):
                continue  # a tube joins below
            for crown in stations:
                if crown > low + TOUCH:
                    continue
                below = self._below(n, low, crown)
                if below is None:
                    continue
                points, parts = below
                for m, high in enumerate(self.uppers):
                    if high < self.reach[1] - SAME and m + 1 < len(self.uppers):
                        continue
                    above, upper_parts = self._above(m, n, low - crown > INTEGRATED)
                    on_line = 0.0
                    if self.line is not None:
                        on_line = CENTRE_LINE * (
                            (abs(self.line[0] - low) <= TOUCH) + (abs(self.line[1] - high) <= TOUCH)
                        )
                    on_line += ONE_LOOP * self._one_loop(low, high)
                    yield points + above + on_line, low, high, crown, parts + upper_parts

    def _one_loop(self, low: float, high: float) -> bool:
        """Both faces are sides of one curve that runs all round the tube."""
        ends = [
            {c.owner for c in self.profile.caps if abs(c.at - at) <= SAME} for at in (low, high)
        ]
        walls = {
            w.owner for w in self.profile.walls if w.low > low - TOUCH and w.high < high + TOUCH
        }
        return bool(ends[0] & ends[1] & walls)

    def _stations(self) -> list[float]:
        """Where the race may be: the blades' tops, and every cap from there up to the head tube."""
        caps = [
            c.at
            for c in self.profile.caps
            if self.blades - TOUCH <= c.at <= self.lowers[0] + SAME
            and not self._lug(self.profile.layers[c.owner])
        ]
        found = [self.blades]
        for at in sorted(caps):
            if all(abs(at - f) > SAME for f in found):
                found.append(at)
        return found

    def _lug(self, layer: str) -> bool:
        return meaning(layer) in ("other", "wheel", "lug")

    def _below(
        self, n: int, low: float, crown: float
    ) -> tuple[float, tuple[tuple[Stage, str], ...]] | None:
        points = 0.0
        parts: list[tuple[Stage, str]] = []
        for a, b in zip(self.lowers[1 : n + 1], self.lowers[:n], strict=True):
            stage = self.profile.stage(a, b)
            if stage is None:
                return None
            points += self._as(stage, "head_tube") + RING * usual(stage.height, 2, 5, 20, 40)
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
                points += WIDER * (self.half + 0.5 < stage.half)
                parts.append((stage, "headset"))
            start = cut
        if stack <= INTEGRATED:
            points += NO_STACK
        else:
            points += CUP * usual(stack, 0.0, 5.0, 20.0, 42.0)
        if crown - self.blades > SAME:
            stage = self.profile.stage(self.blades, crown)
            if stage is None and low - crown <= SAME:
                return None  # the head tube's own face, not the crown's
            if stage is None:
                points += BARE
                stage = Stage(self.blades, crown, self.half, self._capping(crown))
            points += self._as(stage, "fork")
            least = 20.0 if stack <= INTEGRATED else 8.0  # lower ones up to the head tube are cups
            points += CROWN * usual(stage.height, 0.3 * least, least, 42.0, 70.0)
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
                points += self._as(stage, "head_tube") + RING * usual(stage.height, 2, 5, 20, 40)
                if k == 0:
                    points += PAIRED * self._paired(stage, n, apart)
                parts.append((stage, "head_tube"))
            else:
                points += self._as(stage, "headset") + RING
                points += WIDER * (self.half + 0.5 < stage.half)
                parts.append((stage, "headset"))
        return points, tuple(parts)

    def _paired(self, stage: Stage, n: int, apart: bool) -> float:
        """Whether the lower end has a ring as this one at the upper end."""
        if n != 1:
            return -0.3
        ring = self.profile.stage(self.lowers[1], self.lowers[0])
        alike = (
            ring is not None
            and abs(ring.height - stage.height) <= 0.05 * stage.height
            and abs(ring.half - stage.half) <= 0.5
        )
        if not alike:
            return 0.0
        # rings that stand on the blades may as well be cups
        return 1.0 if apart else 0.5

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
