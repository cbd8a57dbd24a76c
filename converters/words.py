"""Numbers and sentences for people: sensible digits, the caution that goes with every result."""

from math import isfinite

CAUTION = ("Not a strength certificate: have the frame tested to ISO 4210 and approved by qualified people; "
           "local codes prevail.")


def number(value: float | None) -> str:
    """Four significant digits, at least whole units, never an exponent for workshop sizes; a dash for none."""
    if value is None or not isfinite(value):
        return "-"
    size = abs(value)
    if size != 0 and (size < 1e-4 or size >= 1e7):
        return f"{value:.1e}"
    decimals = 0 if size >= 1000 else 1 if size >= 100 else 2 if size >= 10 else 3
    return f"{value:.{decimals}f}"
