"""Numbers as a workshop writes them: decimal commas, inch fractions, units, walls, butts, tapers, ovals.

Every function raises InputError with the value in the message; the caller adds file, row and column.
Arithmetic is exact (fractions) until the last step, so ``7/8 in`` and ``22.225 mm`` are the same number.
"""

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from ....model.errors import InputError

# Kind -> unit word -> exact factor to the base unit of that kind.
_INCH = dict.fromkeys(('"', "''", "in", "inch", "inches", "zoll"), Fraction("25.4"))
_PERCENT = ("%", "percent", "prozent")
_MM = {"mm": Fraction(1), "millimetre": Fraction(1), "millimeter": Fraction(1)}
_DEGREE = dict.fromkeys(("deg", "degree", "degrees", "°", "grad"), Fraction(1))
UNITS: Mapping[str, Mapping[str, Fraction]] = {
    "length": {**_MM, "cm": Fraction(10), "m": Fraction(1000), **_INCH},
    "angle": _DEGREE,
    "slope": {**_DEGREE, **dict.fromkeys(_PERCENT, Fraction(1))},
    "mass": {
        "kg": Fraction(1),
        "g": Fraction("0.001"),
        "lb": Fraction("0.45359237"),
        "lbs": Fraction("0.45359237"),
    },
    "force": {"n": Fraction(1), "kn": Fraction(1000), "lbf": Fraction("4.4482216152605")},
    "share": dict.fromkeys(_PERCENT, Fraction("0.01")),
    "stiffness": {"n/mm": Fraction(1), "kn/m": Fraction(1), "n/m": Fraction("0.001")},
    "turn stiffness": dict.fromkeys(("n·m/rad", "nm/rad", "n m/rad"), Fraction(1)),
    "twist stiffness": dict.fromkeys(
        ("n·m/deg", "nm/deg", "n m/deg", "n·m/°", "nm/°"), Fraction(1)
    ),
    "turn damping": dict.fromkeys(("n·m·s/rad", "nms/rad", "n m s/rad"), Fraction(1)),
    "stress": {
        "mpa": Fraction(1),
        "n/mm2": Fraction(1),
        "n/mm²": Fraction(1),
        "gpa": Fraction(1000),
    },
    "density": {
        **dict.fromkeys(("kg/m3", "kg/m³"), Fraction("1e-12")),
        **dict.fromkeys(("g/cm3", "g/cm³"), Fraction("1e-9")),
    },
    "number": {},
}
BASE_UNIT = {
    "length": "mm",
    "angle": "deg",
    "slope": "deg",
    "mass": "kg",
    "force": "N",
    "share": "",
    "stiffness": "N/mm",
    "turn stiffness": "N·m/rad",
    "twist stiffness": "N·m/deg",
    "turn damping": "N·m·s/rad",
    "number": "",
}

LARGEST = 10**12
_NUMBER = r"[+-]?(?:\d[\d.,]*|[.,]\d+)(?:[eE][+-]?\d{1,3})?"
_FRACTION = r"(?<![\d.,/])(?:(\d+)[ -]+)?(\d+)/(\d+)(?![\d.,/])"
# thousands set apart by blanks or apostrophes: 1 047.0, 1'047.0
_GROUPED = r"[+-]?\d{1,3}(?:(?: \d{3})+|(?:'\d{3})+)(?:[.,]\d+)?(?![\d/])"
_MINUTES = r"([+-]?\d+)\s*°\s*(\d+(?:[.,]\d+)?)\s*'(?:\s*(\d+(?:[.,]\d+)?)\s*(?:\"|''))?\s*$"
_INCH_MARK = r"\s*(?:\"|''|inches|inch|in|zoll)(?![a-z])"


def plain(text: str) -> str:
    """The text with typographic signs made plain: non-breaking blanks, minus, dashes, times, primes, 1/8 signs."""
    text = "".join(
        f" {unicodedata.normalize('NFKC', c)}"
        if "VULGAR FRACTION" in unicodedata.name(c, "")
        else c
        for c in text
    )
    # signs that word processors put in the place of plain ones
    table = {
        0xA0: " ",
        0x202F: " ",
        0x2212: "-",
        0x2013: "-",
        0x2014: "-",
        0xD7: "x",
        0x2044: "/",
        0x2033: '"',
        0x201D: '"',
        0x201C: '"',
        0x2032: "'",
        0x2019: "'",
    }
    return text.translate(table).strip()


def _decimal(text: str) -> Fraction:
    """A decimal number with a point or a comma; with both, the last one is the decimal sign."""
    digits = text.replace(" ", "")
    if "," in digits and "." in digits:
        # 1,047.5 and 1.047,5: the sign further right is the decimal one in every country
        if digits.rfind(".") > digits.rfind(","):
            thousands = ","
        else:
            thousands = "."
        if re.fullmatch(rf"[+-]?\d{{1,3}}(\{thousands}\d{{3}})+[.,]\d*", digits):
            digits = digits.replace(thousands, "")
    if not re.fullmatch(_NUMBER, digits) or digits.count(".") + digits.count(",") > 1:
        raise InputError(f"'{text}' is not a number", value=text)
    # exact, so that 28.6 and 1 1/8 inch are the very numbers that were meant
    return Fraction(digits.replace(",", "."))


def _split(text: str) -> tuple[Fraction, str]:
    """Number and trailing unit of ``28,6``, ``71.5°``, ``1 1/8"`` or ``7/8 in``."""
    value, unit = _leading_number(text)
    # a number that large would cost time to convert, and means nothing
    if abs(value) > LARGEST:
        raise InputError(f"'{text[:40]}' is larger than any number of a fit sheet", value=text[:40])
    return value, unit


def _leading_number(text: str) -> tuple[Fraction, str]:
    bare = plain(text)
    # fractions first: 1 1/8 would else be read as 1 with the unit '1/8'
    if (match := re.match(rf"(-?){_FRACTION}\s*", bare)) is not None:
        whole, top, bottom = (int(group or 0) for group in match.groups()[1:])
        if bottom == 0:
            raise InputError(f"'{text}' divides by zero", value=text)
        value = whole + Fraction(top, bottom)
        return (-value if match[1] else value), bare[match.end() :]
    if (match := re.match(_GROUPED, bare)) is not None:
        return _decimal(re.sub(r"[ ']", "", match[0])), bare[match.end() :]
    if (match := re.match(_MINUTES, bare)) is not None:
        degrees, minutes, seconds = (_decimal(group or "0") for group in match.groups())
        # -0° 30' is negative although its degrees are nought: the sign is taken from the text
        turned = abs(degrees) + minutes / 60 + seconds / 3600
        if bare.startswith("-"):
            return -turned, "°"
        return turned, "°"
    if (match := re.match(_NUMBER, bare)) is None:
        raise InputError(f"'{text}' is not a number", value=text)
    return _decimal(match[0]), bare[match.end() :]


def quantity(text: str, unit: str, kind: str) -> tuple[float, str]:
    """(value in the base unit of `kind`, the unit it was read in: '' where the sheet gives none).

    `unit` is the unit column; the value may carry its own (``1 1/8"``, ``71.5°``); both must then agree.
    A slope in percent stays in percent, see the unit returned.

    Raises
    ------
    InputError
        For text that is not a number, a unit that is not of this kind, or two units that differ.
    """
    value, own = _split(text)
    known = UNITS[kind]
    # the unit column and the value may each name a unit
    words = [word for word in (_unit_word(own), _unit_word(unit)) if word]
    for word in words:
        if word not in known:
            listed = ", ".join(known) or "no unit"
            raise InputError(f"unit '{word}' is not understood here; expected {listed}")
    # factors are compared, not words: in and inch do not contradict each other
    if len({(known[word], word in _PERCENT) for word in words}) > 1:
        raise InputError(
            f"'{text}' carries another unit than its unit column, '{unit}'; leave one out",
            value=text,
        )
    return float(value * (known[words[0]] if words else 1)), words[0] if words else ""


def is_percent(unit: str) -> bool:
    """Whether the unit word means percent."""
    return _unit_word(unit) in _PERCENT


def is_unit(text: str) -> bool:
    """Whether the text is a unit of any kind, as in a header ``outside diameter (mm)``."""
    return any(_unit_word(text) in words for words in UNITS.values())


def _unit_word(text: str) -> str:
    return plain(text).lower().rstrip(".")


def series(text: str, unit: str = "") -> tuple[float, ...]:
    """Lengths in mm separated by ``/`` or ``-``: walls, or the diameters at both ends.

    A unit at the end holds for all. Inch fractions (``7/8"-5/8"``, or without the mark where `unit` is inch)
    are recognised first, so their stroke does not separate.
    """
    if _unit_word(unit) in _INCH:
        mark = "(?:" + _INCH_MARK + ")?"
    else:
        mark = _INCH_MARK
    decimals = re.sub(_FRACTION + mark, _fraction_in_mm, plain(text), flags=re.IGNORECASE)
    parts = [_split(part) for part in re.split(r"\s*/\s*|(?<=[\dm\"])\s*-\s*(?=[\d.,])", decimals)]
    # the last unit holds for all: 0.8/0.5/0.8 mm is written once
    last = next((own for _, own in reversed(parts) if own.strip()), unit)
    return tuple(float(value * _length_factor(own.strip() or last)) for value, own in parts)


def _fraction_in_mm(match: re.Match[str]) -> str:
    whole, top, bottom = (int(group or 0) for group in match.groups())
    if bottom == 0:
        raise InputError(f"'{match[0]}' divides by zero")
    # repr, so that nothing is lost on the way back through text
    return f"{float((whole + Fraction(top, bottom)) * _INCH['in'])!r}mm"


def _length_factor(unit: str) -> Fraction:
    word = _unit_word(unit)
    known = UNITS["length"]
    if word and word not in known:
        raise InputError(f"unit '{word}' is not understood here; expected {', '.join(known)}")
    return known[word or "mm"]


@dataclass(frozen=True)
class Outside:
    """The outside of a tube as a cell states it, mm: diameters (heights) at start and end, widths across at both (None:
    round; at the end None: as at the start), lengths at start and end that keep their size."""

    start: float
    end: float
    width: float | None = None
    width_end: float | None = None
    straight: tuple[float, float] = (0.0, 0.0)

    @property
    def sizes(self) -> tuple[float, ...]:
        """All diameters and widths that are stated."""
        widths = (width for width in (self.width, self.width_end) if width is not None)
        return (self.start, self.end, *widths)


def outside(text: str, unit: str = "") -> Outside:
    """The outside of ``28.6``, ``22-14``, ``30x16``, ``30-14x16``, ``30x17-14``, ``30x17-14x12``, ``24-13 after 180``.

    In ``30x16`` the first figure is the height, in the plane of the frame, the second the width across it;
    ``30-14x16`` keeps its width. ``30x17-14`` is oval at the start and round at the end. Behind `after` stands how far
    from the start the tube is cylindrical before it tapers, and behind a stroke how far from the end: ``after 180/40``.

    Raises
    ------
    InputError
        For any other form, and as `quantity` does.
    """
    sizes, after, lengths = plain(text).lower().partition("after")
    start, end, width, width_end = _sizes(text, sizes.strip(), unit)
    # None says: as at the start
    if width_end == width:
        width_end = None
    if not after:
        return Outside(start, end, width, width_end)
    if start == end and width_end is None:
        raise InputError(
            f"'{text}' does not taper, so nothing comes after; write both ends, such as 24-13 after 180",
            value=text,
        )
    return Outside(start, end, width, width_end, straight(lengths.strip(), unit))


def straight(text: str, unit: str = "") -> tuple[float, float]:
    """Lengths at start and end that keep their size, of ``180`` or ``180/40``. Raises InputError for any other form."""
    lengths = series(text, unit)
    if len(lengths) > 2:
        raise InputError(
            f"'{text}' is not understood; expected the straight length at the start, such as 180, or at both ends, "
            "such as 180/40",
            value=text,
        )
    return lengths[0], lengths[1] if len(lengths) == 2 else 0.0


def _sizes(text: str, sizes: str, unit: str) -> tuple[float, float, float | None, float | None]:
    """Height at start and end, width at start and end."""
    parts = [series(part, unit) for part in sizes.split("x")]
    match [len(part) for part in parts]:
        case [1] | [2]:
            return parts[0][0], parts[0][-1], None, None
        case [1, 1] | [2, 1]:
            return parts[0][0], parts[0][-1], parts[1][0], None
        case [1, 2]:
            return parts[0][0], parts[1][1], parts[1][0], parts[1][1]
        case [2, 2]:
            return parts[0][0], parts[0][1], parts[1][0], parts[1][1]
        case [1, 2, 1]:
            return parts[0][0], parts[1][1], parts[1][0], parts[2][0]
    raise InputError(
        f"'{text}' is not understood; expected a diameter such as 28.6, both ends such as 22-14 (straight at "
        "first: 24-13 after 180), height x width such as 30x16, or an oval that ends round, 30x17-14",
        value=text,
    )


def butts(text: str, unit: str = "") -> tuple[tuple[float, ...], tuple[float, ...]]:
    """(butt lengths, taper lengths) of ``100/60`` or ``100+30/60+30``; tapers are () when none is given.

    Raises
    ------
    InputError
        For any other form, and as `quantity` does.
    """
    if text.strip():
        pairs = [part.split("+") for part in plain(text).split("/")]
    else:
        pairs = []
    if any(len(pair) > 2 for pair in pairs):
        raise InputError(
            f"'{text}' is not understood; expected butt lengths such as 100/60 or 100+30/60+30",
            value=text,
        )
    lengths = tuple(quantity(pair[0], unit, "length")[0] for pair in pairs)
    tapers = tuple(
        quantity(pair[1], unit, "length")[0] if len(pair) == 2 else 0.0 for pair in pairs
    )
    return lengths, tapers if any(len(pair) == 2 for pair in pairs) else ()
