"""Numbers and sentences for people: differences with their sign, the caution that goes with every result."""

from math import isfinite

from ...model.words import DASH, load_words, number

__all__ = ["CAUTION", "DASH", "load_words", "number", "signed"]

CAUTION = (
    "Not a strength certificate: have the frame tested to ISO 4210 and approved by qualified people; "
    "local codes prevail."
)


def signed(value: float | None, decimals: int = 2) -> str:
    """A difference with its sign and fixed decimals; a dash for none."""
    if value is None or not isfinite(value):
        return DASH
    # + 0.0 turns -0.0 into 0.0: a difference that rounds to nothing has no direction
    return f"{round(value, decimals) + 0.0:+.{decimals}f}"
