"""What is drawn along the steering axis against the ends that were taken there.

Whatever is turned is as wide on one side of its axis as on the other, and what a line crosses begins or ends there.
Each check holds the ends against one such fact; none of them changes a number, they are told.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from ..linework.words import meaning
from .profile import SAME, Profile

MOST_OF_IT = (
    0.6  # share of a stage along which a wall of it runs; shorter ones are fillets and bosses
)
NO_FACE = ("headset", "other", "wheel", "lug")  # layers of lines that end no head tube
FACE_MATCH = 0.15  # mm by which half a face's width differs from the tube's
CUT_SHORT = (
    3.0  # mm by which half a face's width is less than the tube's where another tube lies over it
)
LOOSE_FACE = (
    40.0  # mm beyond an end within which a line across that nothing joins may be the tube's face
)
MISPLACED = 6.0  # mm from the tube's end within which such a face was meant for it

Taken = tuple[float, float, float]  # the head tube's ends and the race, mm along the axis


@dataclass(frozen=True)
class Contradictions:
    """What speaks against the ends, mm; 0 where nothing does.

    stray: from the lower and upper end of the head tube's body inwards to a line across it that looks like its missing
    face; uneven: by which a part of head tube or headset stands farther from the axis on one side than on the other;
    beside: by which every line across at an end that was taken lies beside the axis; loose: lengths of the head tube if
    it ended at a line across beyond its end that nothing joins to it; misplaced: by which a line across misses the step
    of the edges it was meant for; race: by which the line taken as the race misses the end of the crown's sides.
    """

    stray: tuple[float, float] = (0.0, 0.0)
    uneven: float = 0.0
    beside: float = 0.0
    loose: tuple[float, ...] = ()
    misplaced: float = 0.0
    race: float = 0.0


def contradictions(
    profile: Profile,
    half: float,
    body: tuple[float, float],
    stations: Sequence[float],
    taken: Taken,
) -> Contradictions:
    """Every check. `half`: half the head tube's width, mm; `body`: the ends of its walls; `stations`: in order."""
    low, high, crown = taken
    return Contradictions(
        _stray(profile, body),
        _uneven(profile, stations),
        _beside(profile, half, taken),
        _loose(profile, half, taken),
        _misplaced(profile, low, high),
        _race(profile, crown),
    )


def no_part(layer: str) -> bool:
    """A layer of lines that are no part of the steering at all: lugs, wheels, other things."""
    return meaning(layer) in NO_FACE[1:]


def _stray(profile: Profile, body: tuple[float, float]) -> tuple[float, float]:
    """How far inside (or outside, negative) the body's lower and upper end a line as wide as the body crosses it,
    where none does at the end itself."""
    low, high = body
    middle = (low + high) / 2
    half = max((w.off for w in profile.walls if w.low < middle < w.high), default=0.0)
    found = [0.0, 0.0]
    for n, (at, up) in enumerate(((low, 1.0), (high, -1.0))):
        faces = [up * (c.at - at) for c in profile.caps if abs(c.half - half) <= 2 * FACE_MATCH]
        own = any(abs(face) <= SAME for face in faces)
        near = [face for face in faces if SAME < abs(face) <= MISPLACED]
        if near and not own:
            found[n] = min(near, key=abs)
    return found[0], found[1]


def _uneven(profile: Profile, stations: Sequence[float]) -> float:
    """The greatest difference between the two sides of one stage."""
    worst = 0.0
    for low, high in itertools.pairwise(stations):
        stage = [
            w
            for w in profile.walls
            if w.low >= low - SAME
            and w.high <= high + SAME
            and w.high - w.low >= MOST_OF_IT * (high - low)
        ]
        left = max((w.off for w in stage if w.side == 1), default=0.0)
        right = max((w.off for w in stage if w.side == -1), default=0.0)
        # a stage drawn on one side only is no unevenness
        if min(left, right) > 0.0:
            worst = max(worst, abs(left - right))
    return worst


def _beside(profile: Profile, half: float, taken: Taken) -> float:
    """How far the lines across at the ends lie beside the axis: the greatest of the ends' best. A face that a joining
    tube cuts short is none."""
    worst = 0.0
    for at in taken:
        faces = [
            abs(c.beside)
            for c in profile.caps
            if abs(c.at - at) <= SAME
            and c.half >= half - CUT_SHORT
            and not no_part(profile.layers[c.owner])
        ]
        worst = max(worst, min(faces, default=0.0))
    return worst


def _loose(profile: Profile, half: float, taken: Taken) -> tuple[float, ...]:
    """Lengths up to lines across beyond an end, as wide as the head tube or wider, to which no pair of edges leads."""
    low, high, crown = taken
    lengths = []
    for c in profile.caps:
        word = meaning(profile.layers[c.owner])
        alike = any(abs(c.half - w.off) <= 2 * FACE_MATCH for w in profile.walls)
        if not alike or c.half < half - SAME or word in NO_FACE:
            continue
        above = high + SAME < c.at <= high + LOOSE_FACE
        below = max(crown, low - LOOSE_FACE) + SAME < c.at < low - SAME
        if above and not profile.reached(c.at, upwards=True):
            lengths.append(c.at - low)
        elif below and not profile.reached(c.at, upwards=False):
            lengths.append(high - c.at)
    apart = {round(length, 1) for length in lengths}
    return tuple(sorted(apart)[:2])


def _misplaced(profile: Profile, low: float, high: float) -> float:
    """How far a line across lies from a step on both sides that has none: then no ring is seen to end there."""
    caps = [c for c in profile.caps if low - SAME < c.at < high + SAME]
    bare = [
        w
        for w in profile.walls
        for at in (w.low, w.high)
        if low + SAME < at < high - SAME and profile.edges_end(at) and not profile.crossed(at)
    ]
    return max(
        (
            min(abs(c.at - w.low), abs(c.at - w.high))
            for c in caps
            for w in bare
            if abs(c.half - w.off) <= 2 * FACE_MATCH
            and SAME < min(abs(c.at - w.low), abs(c.at - w.high)) <= MISPLACED
            and not profile.edges_end(c.at)
        ),
        default=0.0,
    )


def _race(profile: Profile, crown: float) -> float:
    """How far from the race the sides below it end, where they end at no line across and none of them at the race."""
    if profile.edges_end(crown):
        return 0.0
    ends = [at for w in profile.walls for at in (w.low, w.high) if abs(at - crown) <= MISPLACED]
    bare = [at for at in ends if profile.edges_end(at) and not profile.crossed(at)]
    return max((abs(at - crown) for at in bare), default=0.0)
