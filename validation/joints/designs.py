"""Which joints are studied: seeded, space-filling designs over the chord's mid-surface diameter D."""

from __future__ import annotations

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

# Lengths over D, walls over the chord's wall; past_foot from the weld line to the chord's near end, past_far_foot to
# the far one, which is always held.
FRAME: Ranges = {
    "branch_over_chord": DesignRange(0.55, 0.996),
    "chord_over_wall": DesignRange(16.0, 62.0, by_ratio=True),
    "wall_ratio": DesignRange(0.45, 1.7, by_ratio=True),
    "angle_deg": DesignRange(52.0, 112.0),
    "past_foot": DesignRange(0.15, 4.0, by_ratio=True),
    "past_far_foot": DesignRange(0.25, 7.0, by_ratio=True),
}
# Branches as wide as the chord, or as good as: there the walls' give falls fast.
EVEN: Ranges = FRAME | {"branch_over_chord": DesignRange(0.965, 0.996)}
# Thin branches on chords turned from the solid: a head tube of 3 mm wall, a bottom bracket shell.
THICK: Ranges = FRAME | {
    "chord_over_wall": DesignRange(11.0, 26.0, by_ratio=True),
    "wall_ratio": DesignRange(0.25, 0.8, by_ratio=True),
}
# What most frames have at head and seat tube.
USUAL: Ranges = FRAME | {
    "branch_over_chord": DesignRange(0.78, 0.97),
    "chord_over_wall": DesignRange(20.0, 60.0, by_ratio=True),
    "wall_ratio": DesignRange(0.45, 1.5, by_ratio=True),
    "angle_deg": DesignRange(56.0, 106.0),
    "past_foot": DesignRange(0.2, 0.8, by_ratio=True),
    "past_far_foot": DesignRange(1.5, 7.0, by_ratio=True),
}
# Two blades and a steerer on a crown tube, over the crown's mid-surface diameter and wall. gap from the steerer's wall
# to the blade's.
CROWN: Ranges = {
    "blade_over_crown": DesignRange(0.58, 0.95),
    "crown_over_wall": DesignRange(8.0, 26.0, by_ratio=True),
    "wall_ratio": DesignRange(0.3, 1.1, by_ratio=True),
    "lean_deg": DesignRange(0.0, 9.0),
    "gap": DesignRange(0.06, 0.7, by_ratio=True),
    "steerer_over_crown": DesignRange(0.66, 0.93),
    "steerer_wall_ratio": DesignRange(0.5, 1.6, by_ratio=True),
}
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


def frame_places(count: int) -> list[Place]:
    """Joints of the proportions that bicycle frames have, up to what can still be meshed of tubes of one size."""
    shapes = spread_places(FRAME, count, 30)
    fillers = spread_places(FILLER_AND_LUG, count, 31)
    return [shape | filler for shape, filler in zip(shapes, fillers, strict=True)]


def even_places(count: int) -> list[Place]:
    """Bare joints of tubes of nearly one size."""
    return spread_places(EVEN, count, 33)


def thick_places(count: int) -> list[Place]:
    """Bare joints of thin branches on thick chords."""
    return spread_places(THICK, count, 34)


def usual_places(count: int) -> list[Place]:
    """Bare joints as most frames have them."""
    return spread_places(USUAL, count, 35)


def crown_places(count: int) -> list[Place]:
    """Crown tubes with their blades and steerers."""
    return spread_places(CROWN, count, 32)
