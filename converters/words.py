"""Numbers and sentences for people: sensible digits, the caution that goes with every result."""

from math import isfinite

CAUTION = ("Not a strength certificate: have the frame tested to ISO 4210 and approved by qualified people; "
           "local codes prevail.")


def number(value: float | None) -> str:
    """Four significant digits, at least whole units, never an exponent for workshop sizes; a dash for none.

    Below 1e-9 of any unit shown here a value is rounding and printed as nought.
    """
    if value is None or not isfinite(value):
        return "-"
    size = abs(value)
    if size < 1e-9:
        return "0.000"
    if size < 1e-4 or size >= 1e7:
        return f"{value:.1e}"
    decimals = 0 if size >= 1000 else 1 if size >= 100 else 2 if size >= 10 else 3
    return f"{value:.{decimals}f}"


def signed(value: float | None, decimals: int = 2) -> str:
    """A difference with its sign and fixed decimals; a dash for none."""
    return "-" if value is None or not isfinite(value) else f"{round(value, decimals) + 0.0:+.{decimals}f}"
