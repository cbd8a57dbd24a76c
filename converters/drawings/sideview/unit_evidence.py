"""What a drawing says about its own unit and scale: header, dimensions, scale notes, unit notes. No judgement here.

Vocabulary: a drawing length times mm_per_unit is the bicycle's length in mm. mm_per_unit = UNIT x SCALE: the unit the
numbers are in (mm per unit) and how many times smaller the bicycle is drawn (10 for 1:10). Each piece of evidence may
speak of the unit, of the scale, or of their product.
"""

import re
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

from ..drawing import DimensionNote, Drawing

UNITS: dict[str, float] = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "inch": 25.4}
LENGTHS = ("linear", "aligned", "radius", "diameter")
SAME = 5e-3  # relative: two factors that say the same thing
ROUNDING = 0.6  # of the last printed digit: how far a typed number may lie from the drawing
# of the number: a typed dimension closer than this to the drawing is no contradiction
LEAST_TYPED = 0.002
MOST_QUOTED = 60  # letters of a note that a finding quotes
FOOT = 12.0  # inches
ANGLE_SLACK = 0.1  # degrees

# What drawings are scaled down by (ISO 5455, and the halves and quarters of inch drawings; from memory).
_SCALES = (1.0, 2.0, 2.5, 3.0, 4.0, 5.0, 8.0, 10.0, 15.0, 16.0, 20.0, 25.0, 50.0)
_DRAWN = (*_SCALES, *(1.0 / scale for scale in _SCALES[1:]), 100.0, 1000.0, 0.01, 0.001)
_INCHES_AS_MM = tuple(UNITS["inch"] * scale for scale in _DRAWN)
_MM_AS_INCHES = tuple(scale / UNITS["inch"] for scale in _DRAWN)
_INCHES = (*_INCHES_AS_MM, *_MM_AS_INCHES)
# What typed numbers over drawn lengths can mean; other ratios are corrections typed over a drawing.
# scales between these and 1 are no drawing scale: a slip, or a stretched print
NEAR_FULL = (0.5, 2.0)
NOMINAL = tuple(
    ratio
    for ratio in (*_DRAWN, *_INCHES)
    if ratio == 1.0 or not NEAR_FULL[0] < ratio < NEAR_FULL[1]
)

_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")
_SCALE = re.compile(r"(?<![\d.,:/])(\d{1,3}(?:[.,]\d+)?)\s*:\s*(\d{1,3}(?:[.,]\d+)?)(?![\d:/])")
_SCALE_WORD = re.compile(
    r"\b(?:scale|ma(?:ß|ss|s)stab|échelle|echelle|escala|scala|m)\b\W{0,3}(\d{1,3})\s*/\s*(\d{1,3})\b",
    re.I,
)
# 3" = 1'-0": inches drawn for feet and inches meant
_FEET_SCALE = re.compile(
    r"(\d+(?:\s+\d+/\d+|/\d+|[.,]\d+)?)\s*(?:\"|''|”|in(?:ch)?\b)\s*=\s*(\d+)\s*(?:'|’|ft\b|feet\b|foot\b)"
    r"(?:\s*-?\s*(\d+)\s*(?:\"|''|”|in\b))?",
    re.I,
)
_SHARE_WORD = re.compile(
    r"\b(?:(\d{1,2})\s*/\s*(\d{1,2})|(half|quarter|full|halbe|natürliche|demi|mitad|metà))"
    r"\W{0,2}(?:scale|size|größe|groesse|grandeur|tama[nñ]o|grandezza)\b",
    re.I,
)
_SHARES = {
    "half": 2.0,
    "halbe": 2.0,
    "demi": 2.0,
    "mitad": 2.0,
    "metà": 2.0,
    "quarter": 4.0,
    "full": 1.0,
    "natürliche": 1.0,
}
_NOT_TO_SCALE = re.compile(
    r"\b(?:not to scale|nts|(?:nicht |un)ma(?:ß|ss)st(?:ä|ae|a)blich)\b", re.I
)
_UNIT_NOTE = re.compile(
    r"\b(?:dimensions?|ma(?:ß|ss)e|abmessungen|units?|einheit(?:en)?|cotes|medidas|cotas|quote|misure|lengths?)\b"
    r"[^.;]{0,30}?\b(mm|millimet\w+|cm|centimet\w+|zentimeter|inch(?:es)?|zoll|pouces|pulgadas|pollici)\b",
    re.I,
)
# by the first two letters; the rest is inch
_UNIT_WORDS = {
    "mi": "mm",
    "mm": "mm",
    "cm": "cm",
    "ce": "cm",
    "ze": "cm",
}
_PRINTED_UNIT = re.compile(r"(mm|cm|inch|in\b|\"|”|'')", re.I)

Source = Literal[
    "header",
    "typed",
    "dimlfac",
    "odd-dimlfac",
    "measured",
    "scale-note",
    "unit-note",
    "not-to-scale",
]


@dataclass(frozen=True)
class ScaleEvidence:
    """One statement: of the unit (mm), the scale (10 for 1:10), or mm per drawing unit when both are in one number."""

    source: Source
    says: str
    unit: float | None = None
    scale: float | None = None
    mm_per_unit: float | None = None


@dataclass(frozen=True)
class TypedDimension:
    """A dimension with a number typed over it: what it prints, in which unit if it says so, and what was drawn."""

    note: DimensionNote
    number: float
    digit: float  # value of the last printed digit
    unit: float | None

    @property
    def slack(self) -> float:
        return max(ROUNDING * self.digit, LEAST_TYPED * self.number)


def unit_evidence(drawing: Drawing) -> tuple[ScaleEvidence, ...]:
    """Everything the drawing states about its unit and scale, in the order header, dimensions, notes."""
    return (*_header(drawing), *_dimensions(drawing), *_notes(drawing))


def unit_name(mm: float) -> str:
    """'inch' for 25.4; '304.8 mm' for a unit without a name here."""
    return next((name for name, value in UNITS.items() if value == mm), f"{mm:g} mm")


def scale_name(scale: float) -> str:
    if scale >= 1.0:
        return f"1:{scale:g}"
    return f"{1.0 / scale:g}:1"


def _header(drawing: Drawing) -> Iterator[ScaleEvidence]:
    if drawing.header_unit is not None:
        text = f"the file header says 1 unit = {unit_name(drawing.header_unit)}"
        yield ScaleEvidence("header", text, unit=drawing.header_unit)


# -- dimensions --------------------------------------------------------------------------------------


def typed_dimensions(drawing: Drawing) -> Iterator[TypedDimension]:
    """Dimensions whose text was typed: their one number, when there is exactly one."""
    for note in drawing.dimensions:
        numbers = _NUMBER.findall(note.text)
        # <> stands for the measured length: such a text prints the drawing, nobody typed it
        if "<>" in note.text or len(numbers) != 1 or note.measured <= 0.0:
            continue
        text = numbers[0].replace(",", ".")
        # a number typed with fewer decimals is rounded, not at odds with the drawing
        digit = 10.0 ** -len(text.partition(".")[2])
        found = _PRINTED_UNIT.search(note.text)
        if found is None:
            unit = None
        else:
            # the inch has many marks, the other units one
            unit = UNITS.get(found[0].lower(), UNITS["inch"])
        yield TypedDimension(note, float(text), digit, unit)


def _dimensions(drawing: Drawing) -> Iterator[ScaleEvidence]:
    """Typed numbers against drawn lengths, and the factor (DIMLFAC) the others print with."""
    typed = [t for t in typed_dimensions(drawing) if t.note.kind in LENGTHS]
    bare = [t.number / t.note.measured for t in typed if t.unit is None]
    printed = [
        d.factor for d in drawing.dimensions if d.kind in LENGTHS and ("<>" in d.text or not d.text)
    ]
    outvoted = max((count for _, count in _clusters(printed)), default=0)
    for ratio, count in _clusters(_nominal(value) for value in bare):
        if (
            count < outvoted
        ):  # a mistyped number does not rescale a drawing whose other dimensions print
            continue
        text = f"{_dimensions_say(count)} a typed number {ratio:g} times the drawn length"
        yield ScaleEvidence("typed", text, scale=ratio)
    named = [t.number * t.unit / t.note.measured for t in typed if t.unit is not None]
    for ratio, count in _clusters(_nominal(value) for value in named):
        text = f"{_dimensions_say(count)} a typed length that makes 1 unit = {ratio:g} mm"
        yield ScaleEvidence("typed", text, mm_per_unit=ratio)
    for factor, count in _clusters(printed):
        text = f"{_dimensions_say(count)} {factor:g} times the drawn length (DIMLFAC)"
        # nobody draws at such a scale, but what is printed with it is not what is drawn
        if is_odd(factor):
            yield ScaleEvidence("odd-dimlfac", text)
        else:
            yield ScaleEvidence("measured" if factor == 1.0 else "dimlfac", text, scale=factor)


def _dimensions_say(count: int) -> str:
    if count == 1:
        return "1 dimension prints"
    return f"{count} dimensions print"


def _nominal(ratio: float) -> float:
    """The common scale or unit factor a ratio means, 0 when none: a number typed to suit the builder is no scale."""
    return next((nominal for nominal in NOMINAL if same(nominal, ratio)), 0.0)


def is_odd(scale: float) -> bool:
    """Between 1:2 and 2:1 nobody draws to scale: such a factor is worth a word, but no way to read a drawing."""
    return scale != 1.0 and NEAR_FULL[0] < scale < NEAR_FULL[1]


def same(a: float, b: float) -> bool:
    """Two factors that say the same thing."""
    return abs(a - b) <= SAME * max(a, b)


def _clusters(values: Iterable[float]) -> list[tuple[float, int]]:
    """Each distinct positive value and how often it occurs, most frequent first."""
    return Counter(value for value in values if value > 0.0).most_common()


# -- notes -------------------------------------------------------------------------------------------


def _notes(drawing: Drawing) -> Iterator[ScaleEvidence]:
    seen: set[tuple[str, float]] = set()
    for note in drawing.notes:
        for evidence in _from_words(note.text):
            # a note repeated in every view is one statement
            mark = (evidence.source, evidence.scale or evidence.unit or 0.0)
            if mark not in seen:
                seen.add(mark)
                yield evidence


def _from_words(text: str) -> Iterator[ScaleEvidence]:
    short = " ".join(text.split())[:MOST_QUOTED]
    for match in (*_SCALE.finditer(text), *_SCALE_WORD.finditer(text)):
        drawn, real = (float(part.replace(",", ".")) for part in match.groups())
        # 2:3 or 10:30 are gear ratios, dates or sizes, hardly ever scales
        if drawn > 0.0 and real > 0.0 and 1.0 in (drawn, real) and not is_odd(real / drawn):
            yield ScaleEvidence("scale-note", f'a note says "{short}"', scale=real / drawn)
    for scale in (*_feet_scales(text), *_share_scales(text)):
        if scale == 1.0 or not is_odd(scale):
            yield ScaleEvidence("scale-note", f'a note says "{short}"', scale=scale)
    unit = _UNIT_NOTE.search(text)
    if unit:
        name = _UNIT_WORDS.get(unit[1][:2].lower(), "inch")
        yield ScaleEvidence("unit-note", f'a note says "{short}"', unit=UNITS[name])
    if _NOT_TO_SCALE.search(text):
        yield ScaleEvidence("not-to-scale", f'a note says "{short}"')


def _feet_scales(text: str) -> Iterator[float]:
    for match in _FEET_SCALE.finditer(text):
        drawn = sum(_inches(part) for part in match[1].replace(",", ".").split())
        real = FOOT * float(match[2]) + float(match[3] or 0.0)
        if drawn > 0.0 and real > 0.0:
            yield real / drawn


def _inches(number: str) -> float:
    whole, _, below = number.partition("/")
    if not below:
        return float(whole)
    if float(below) == 0.0:
        return 0.0
    return float(whole) / float(below)


def _share_scales(text: str) -> Iterator[float]:
    for match in _SHARE_WORD.finditer(text):
        if match[3]:
            yield _SHARES[match[3].lower()]
        elif float(match[1]) > 0.0 and float(match[2]) > 0.0:
            yield float(match[2]) / float(match[1])
