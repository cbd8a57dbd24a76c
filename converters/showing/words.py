"""Numbers and sentences for people: differences with their sign, the caution that goes with every result."""

from ...model.words import DASH, load_words, number, signed

__all__ = ["CAUTION", "DASH", "load_words", "number", "signed"]

CAUTION = (
    "Not a strength certificate: have the frame tested to ISO 4210 and approved by qualified people; "
    "local codes prevail."
)
