"""How well a line fits a place, as points between 0 and 1. Everything in rough millimetres."""

from math import log

EXACT = 0.05  # mm; two things this near coincide
LOOSE = 30.0  # mm; beyond this a line has nothing to do with the place
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
    """An end's gap to its node along the line: full marks within 2.5 mm, none from 130 mm on; either sign."""
    g = abs(gap)
    if g <= 2.5:
        return 1.0
    if g >= 130.0:
        return 0.0
    return 1.0 - (g - 2.5) / 127.5


def usual(value: float, lowest: float, low: float, high: float, highest: float) -> float:
    """1 for what the trade usually has, falling to 0 at what it never has."""
    if value <= lowest or value >= highest:
        return 0.0
    if value < low:
        return (value - lowest) / (low - lowest)
    if value <= high:
        return 1.0
    return (highest - value) / (highest - high)
