"""Where a node really is when several things in the drawing mark it: the place most of them agree on.

A WITNESS is one drawn thing that marks a node: a circle's centre or a line that ends there (two statements:
where along and where across), or a line that only passes through (one statement). A node is CONFIRMED when more
statements agree than the two any place needs; otherwise it rests on one witness and nothing can contradict it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot

from ..linework.plane import Vec

LADDER = (0.04, 0.2, 1.0, 3.0, 10.0, 40.0)  # multiples of the tolerance tried until witnesses agree
MOST_APART = 3.0  # mm; witnesses farther apart than this never agree
FLAT = 0.15  # sine of the angle, 9 degrees, between two lines; flatter, their crossing says little

# Ranks, without unit: of witnesses that agree the exact place of the lowest is used. Smaller numbers were drawn with
# the node in mind, larger ones for something else that ends there.
SURE = 1  # the wheel's own circle, the bottom bracket's shell
CIRCLE = 2  # any other circle about the place
CROSS = 3  # a cross of two short lines
LINE_END = 5  # where a member ends
CROSSING = 8  # where two members cross: nothing is drawn there


@dataclass(frozen=True)
class Witness:
    """Something that marks a node.

    at: its centre, its end, or (not ended) any point of its line; direction: unit vector of a line, None for a
    point; rank orders witnesses that agree: the exact place of the first is used; curves: what draws it (two
    witnesses drawn by one curve are one).
    """

    name: str
    at: Vec
    direction: Vec | None = None
    ended: bool = True
    rank: int = LINE_END
    curves: tuple[int, ...] = ()

    def miss(self, place: Vec) -> float:
        """Distance from a point, distance across from a line."""
        dx = place[0] - self.at[0]
        dy = place[1] - self.at[1]
        if self.direction is None:
            return hypot(dx, dy)
        return abs(self.direction[0] * dy - self.direction[1] * dx)

    def gap(self, place: Vec) -> float:
        """Distance along a line from its end to the place, positive when the line stops short."""
        if self.direction is None or not self.ended:
            return 0.0
        return self.direction[0] * (place[0] - self.at[0]) + self.direction[1] * (
            place[1] - self.at[1]
        )

    def statements(self, place: Vec, within: float) -> int:
        """How much it says in favour of a place."""
        if self.miss(place) > within:
            return 0
        if self.direction is None or (self.ended and abs(self.gap(place)) <= within):
            return 2
        return 1


@dataclass(frozen=True)
class Node:
    """The place, the witnesses that agree within `within` mm, those that do not (with their miss)."""

    name: str
    at: Vec
    agreeing: tuple[Witness, ...]
    astray: tuple[tuple[Witness, float], ...]
    within: float

    @property
    def confirmed(self) -> bool:
        return _statements(self.agreeing, self.at, self.within) > 2

    @property
    def spread(self) -> float:
        """Greatest miss among the witnesses that agree, mm."""
        return max((w.miss(self.at) for w in self.agreeing), default=0.0)


def settle(name: str, witnesses: Sequence[Witness], tolerance: float) -> Node | None:
    """The node most statements agree on, at the tightest tolerance at which any agreement exists.

    Returns None when nothing marks a place (no point, no two lines that cross).
    """
    # drawn places come before crossings, whose rank is last
    places = [(w.at, w.rank) for w in witnesses if w.direction is None or w.ended]
    places += [
        (at, CROSSING)
        for n, a in enumerate(witnesses)
        for b in witnesses[n + 1 :]
        if (at := _cross(a, b)) is not None
    ]
    if not places:
        return None
    for step in LADDER:
        within = min(step * tolerance, MOST_APART)
        at, count = _most_agreed(places, witnesses, within)
        # two statements fix any place, so only a third one is agreement
        if count > 2:
            break
    else:
        at = min(places, key=lambda p: p[1])[0]
    agreeing = tuple(w for w in witnesses if w.miss(at) <= within)
    astray = tuple((w, w.miss(at)) for w in witnesses if w.miss(at) > within)
    return Node(name, at, agreeing, astray, within)


def _most_agreed(
    places: Sequence[tuple[Vec, int]], witnesses: Sequence[Witness], within: float
) -> tuple[Vec, int]:
    best: tuple[int, int, float, Vec] | None = None
    for at, rank in places:
        count = _statements(witnesses, at, within)
        total = sum(m for w in witnesses if (m := w.miss(at)) <= within)
        key = (-count, rank, total, at)
        if best is None or key < best:
            best = key
    assert best is not None
    return best[3], -best[0]


def _statements(witnesses: Sequence[Witness], at: Vec, within: float) -> int:
    """Statements in favour of a place; several lines of one polyline speak with one voice."""
    voices: dict[tuple[int, ...], int] = {}
    for k, w in enumerate(witnesses):
        # a witness without curves speaks for itself alone
        voice = w.curves or (-1 - k,)
        voices[voice] = max(voices.get(voice, 0), w.statements(at, within))
    return sum(voices.values())


def _cross(a: Witness, b: Witness) -> Vec | None:
    if a.direction is None or b.direction is None:
        return None
    det = a.direction[0] * b.direction[1] - a.direction[1] * b.direction[0]
    if abs(det) < FLAT:
        return None
    dx = b.at[0] - a.at[0]
    dy = b.at[1] - a.at[1]
    t = (dx * b.direction[1] - dy * b.direction[0]) / det
    return (a.at[0] + t * a.direction[0], a.at[1] + t * a.direction[1])
