"""Which joints are studied: seeded, space-filling designs over the chord's mid-surface diameter D."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, log


@dataclass(frozen=True)
class DesignRange:
    """One parameter of a design."""

    low: float
    high: float
    by_ratio: bool = False

    def at(self, share: float) -> float:
        """The value at a share of the range."""
        if self.by_ratio:
            # Evenly in ratios: from 10 to 20 walls changes as much as from 30 to 60.
            return exp(log(self.low) + share * (log(self.high) - log(self.low)))
        return self.low + share * (self.high - self.low)


Ranges = dict[str, DesignRange]
Place = dict[str, float]

# Lengths over D, walls over the chord's wall; past_foot from the weld line to the chord's near end.
WIDE: Ranges = {
    "branch_over_chord": DesignRange(0.4, 0.985),
    "chord_over_wall": DesignRange(10.0, 60.0, by_ratio=True),
    "branch_over_wall": DesignRange(12.0, 65.0, by_ratio=True),
    "angle_deg": DesignRange(40.0, 140.0),
    "past_foot": DesignRange(0.12, 2.5, by_ratio=True),
    "fillet_radius": DesignRange(0.08, 0.35, by_ratio=True),
    "sleeve_length": DesignRange(0.15, 0.8, by_ratio=True),
    "sleeve_wall": DesignRange(0.7, 2.0, by_ratio=True),
}
# Joints whose walls do not go together are left out of the wide design.
WALL_RATIO = DesignRange(0.25, 2.5)
FRAME_LIKE: Ranges = {
    "branch_over_chord": DesignRange(0.70, 0.985),
    "chord_over_wall": DesignRange(18.0, 62.0, by_ratio=True),
    "wall_ratio": DesignRange(0.45, 1.7, by_ratio=True),
    "angle_deg": DesignRange(52.0, 112.0),
    "past_foot": DesignRange(0.2, 1.8, by_ratio=True),
}
LUGGED: Ranges = FRAME_LIKE | {"chord_over_wall": DesignRange(24.0, 62.0, by_ratio=True)}
EVEN: Ranges = FRAME_LIKE | {"branch_over_chord": DesignRange(0.93, 0.996)}
FULL_SIZES = (0.985, 0.985, 0.985, 0.97)
FILLER_AND_LUG: Ranges = {
    "fillet_radius": DesignRange(0.08, 0.30, by_ratio=True),
    "sleeve_length": DesignRange(0.2, 0.8, by_ratio=True),
    "sleeve_wall": DesignRange(0.7, 1.8, by_ratio=True),
}


def spread_places(ranges: Ranges, count: int, seed: int) -> list[Place]:
    """So many places of a scrambled Sobol sequence; the first ones stay when more are asked for."""
    from scipy.stats.qmc import Sobol

    # A Sobol sequence is balanced only over whole powers of two.
    whole = Sobol(len(ranges), seed=seed).random_base2((count - 1).bit_length())
    places = []
    for row in whole[:count].tolist():
        pairs = zip(ranges.items(), row, strict=True)
        places.append({name: wanted.at(share) for (name, wanted), share in pairs})
    return places


def wide_places(count: int) -> list[Place]:
    """The first `count` places of the wide design whose walls go together."""
    kept: list[Place] = []
    # How many places fall out is not known beforehand: twice as many until enough remain.
    tried = 64
    while len(kept) < count:
        kept = [place for place in map(_with_wall_ratio, spread_places(WIDE, tried, 20)) if place]
        tried *= 2
    return kept[:count]


def _with_wall_ratio(place: Place) -> Place:
    """The place with its ratio of walls, or nothing where that leaves the range."""
    ratio = place["branch_over_chord"] * place["chord_over_wall"] / place.pop("branch_over_wall")
    if not WALL_RATIO.low <= ratio <= WALL_RATIO.high:
        return {}
    return place | {"wall_ratio": ratio}


def frame_like_places(count: int) -> list[Place]:
    """Joints of the proportions that bicycle frames have."""
    shapes = spread_places(FRAME_LIKE, count, 20)
    fillers = spread_places(FILLER_AND_LUG, count, 22)
    return [shape | filler for shape, filler in zip(shapes, fillers, strict=True)]


def full_size_places(count: int) -> list[Place]:
    """Branches as large as their chord, or as good as: a top tube on a seat tube of its own size."""
    others = {name: wanted for name, wanted in FRAME_LIKE.items() if name != "branch_over_chord"}
    # Other seeds than the frame design's, or both would share their angles and walls.
    places = spread_places(others, count, 21)
    fillers = spread_places(FILLER_AND_LUG, count, 23)
    sizes = [FULL_SIZES[number % len(FULL_SIZES)] for number in range(count)]
    rows = zip(sizes, places, fillers, strict=True)
    return [{"branch_over_chord": size} | place | filler for size, place, filler in rows]


def lugged_places(count: int) -> list[Place]:
    """Frame-like joints on chords so thin that a lug still leaves something to give."""
    shapes = spread_places(LUGGED, count, 24)
    sleeves = spread_places(FILLER_AND_LUG, count, 25)
    return [shape | sleeve for shape, sleeve in zip(shapes, sleeves, strict=True)]


def even_places(count: int) -> list[Place]:
    """Bare joints of tubes of nearly one size, up to what can still be meshed: there the walls' give falls fast."""
    return spread_places(EVEN, count, 26)


@dataclass(frozen=True)
class Design:
    """A design by name: its places, the number of its first joint, the file it is written to, its ranges.

    fewest : a family with fewer joints is not written: a law fitted to a handful believes itself too much.
    """

    name: str
    places: Callable[[int], list[Place]]
    first: int
    file: str
    ranges: Ranges
    fewest: int = 1


DESIGNS = {
    design.name: design
    for design in (
        Design("wide", wide_places, 0, "study.csv", WIDE),
        Design(
            "frame", frame_like_places, 1000, "frame_joints.csv", FRAME_LIKE | FILLER_AND_LUG, 30
        ),
        Design("lugged", lugged_places, 2000, "lugged_joints.csv", LUGGED | FILLER_AND_LUG),
        Design("even", even_places, 2500, "even_joints.csv", EVEN),
        Design("full", full_size_places, 1100, "frame_joints.csv", FRAME_LIKE | FILLER_AND_LUG, 30),
    )
}
