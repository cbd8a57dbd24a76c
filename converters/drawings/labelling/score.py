"""How well a line fits a place, as points between 0 and 1. Everything in rough millimetres."""

from math import log

EXACT = 0.05  # mm; two things this near coincide
LOOSE = 30.0  # mm; beyond this a line has nothing to do with the place
FULLY_REACHED = 2.5  # mm along the line; an end this near its node was drawn for it
# mm along the line; a centre-line may stop at a tube's surface or lug, not farther off
NEVER_REACHED = 130.0
_SPAN = log(LOOSE / EXACT)


def exactness(distance: float) -> float:
    """1 up to EXACT, 0 from LOOSE on, by the logarithm between: each factor of ten costs the same."""
    d = abs(distance)
    if d <= EXACT:
        return 1.0
    if d >= LOOSE:
        return 0.0
    return 1.0 - log(d / EXACT) / _SPAN


def reaching(gap: float) -> float:
    """An end's gap to its node along the line: 1 within FULLY_REACHED, 0 from NEVER_REACHED on; either sign."""
    g = abs(gap)
    if g <= FULLY_REACHED:
        return 1.0
    if g >= NEVER_REACHED:
        return 0.0
    return 1.0 - (g - FULLY_REACHED) / (NEVER_REACHED - FULLY_REACHED)


def usual(value: float, lowest: float, low: float, high: float, highest: float) -> float:
    """1 for what the trade usually has, falling to 0 at what it never has."""
    if value <= lowest or value >= highest:
        return 0.0
    if value < low:
        return (value - lowest) / (low - lowest)
    if value <= high:
        return 1.0
    return (highest - value) / (highest - high)
