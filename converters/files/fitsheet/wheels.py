"""Wheels as the trade names them: bead seat diameter, tyre width, and the radius they make.

Section height = section width, with 2.5 mm added for tyres under 28 mm, overall diameter = bead seat diameter
+ 2 x section height: ISO 5775, as quoted at https://en-academic.com/dic.nsf/enwiki/884038. Tyre sag under load
is not in it.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches

from ....model.errors import InputError
from .values import plain, quantity

# Trade name -> bead seat diameter, mm. 622, 559, 507, 457, 406, 355, 305: read in
# https://nicecurmudgeon.com/how-much-to-swing-26-inch-bicycle-wheels/ ; the others are from memory (ISO 5775).
BEAD_SEATS: Mapping[str, int] = {
    "700c": 622,
    "700": 622,
    "28": 622,
    "29": 622,
    "29er": 622,
    "28 x 1 1/2": 635,
    "27": 630,
    "650a": 590,
    "26 x 1 3/8": 590,
    "650b": 584,
    "27.5": 584,
    "650c": 571,
    "26": 559,
    "24": 507,
    "22": 457,
    "20 x 1 1/8": 451,
    "20": 406,
    "18": 355,
    "16": 305,
}
INCHES_BELOW = 6.0  # a tyre's width below this is in inches
KNOWN_BEAD_SEATS = tuple(sorted({*BEAD_SEATS.values(), 349, 520, 540, 547, 597}))

# Wheel item -> (kind, least, greatest, names without a side, note). Each exists for front, rear and both.
WHEEL_ITEMS = {
    "bead_seat": (
        "wheel",
        0,
        0,
        "wheel, wheel size, bead seat diameter, bead seat, BSD, ETRTO, rim, Laufrad, Felge",
        "bead seat diameter, such as 622, or a name such as 700C",
    ),
    "tyre_width": (
        "tyre",
        15,
        130,
        "tyre, tire, tyre width, tire width, Reifen, Reifenbreite",
        "width",
    ),
    "wheel_radius": (
        "length",
        120,
        420,
        "wheel radius, tyre radius, tire radius, Laufradradius",
        "loaded, over the tyre",
    ),
    "wheel_diameter": (
        "length",
        240,
        840,
        "wheel diameter, tyre outside diameter, tire outside diameter, "
        "wheel outside diameter, Laufraddurchmesser",
        "over the tyre",
    ),
}


@dataclass(frozen=True)
class WheelLabel:
    """What one wheel or tyre cell says, mm; `named` when a trade name was translated."""

    bead_seat: int | None = None
    width: float | None = None
    named: bool = False


def wheel_label(text: str, unit: str = "") -> WheelLabel:
    """Read ``622``, ``700C``, ``26"``, a tyre's size such as ``700x38C`` or ``26 x 2.1``, or ``37-622`` (ISO 5775).

    Raises InputError for a diameter or name that is not in the list.
    """
    # a size such as 700x38C in the wheel's row tells the rim as well
    if size := _tyre_size(text):
        return size
    name = _bare_name(text)
    if name in map(str, KNOWN_BEAD_SEATS) and unit.strip().lower() in ("", "mm"):
        return WheelLabel(int(name))
    if name in BEAD_SEATS:
        return WheelLabel(BEAD_SEATS[name], named=True)
    raise InputError(
        f"'{text}' is not a known wheel{_nearest(name)}; expected a bead seat diameter in mm such as 622, "
        "a name such as 700C, 650B, 29 or 26, or a tyre's size such as 37-622 or 700x38C",
        value=text,
    )


def tyre_label(text: str, unit: str = "") -> WheelLabel:
    """Read ``37``, ``2.1 in``, ``37-622``, ``700x38C`` or ``26 x 2.1``."""
    return _tyre_size(text) or WheelLabel(width=quantity(text, unit, "length")[0])


def _bare_name(text: str) -> str:
    """``26"`` is 26, ``700 C`` 700c, ``27,5`` 27.5."""
    name = re.sub(
        r"\s*(mm|\"|''|inches|inch|in|zoll|pouces|pollici)$",
        "",
        plain(text).lower().replace(",", "."),
    )
    # "26 er" and "26er" are the same wheel
    return re.sub(r"(?<=\d)\s+(?=[abcd]$|er$)", "", name.strip())


def _nearest(name: str) -> str:
    """The known bead seat within some mm of a number that is none, or the name that is nearly spelled so."""
    if re.fullmatch(r"\d{3}", name):
        near = min(KNOWN_BEAD_SEATS, key=lambda d: abs(d - int(name)))
        # a few millimetres off is a slip, and further off no guess is made
        if abs(near - int(name)) <= 5:
            return f" (did you mean {near}?)"
        return ""
    close = get_close_matches(name, BEAD_SEATS, n=1, cutoff=0.7)
    if close:
        return f" (did you mean {close[0].upper()}?)"
    return ""


def _tyre_size(text: str) -> WheelLabel | None:
    """A tyre's size in one of the trade's three ways; None when the text is none."""
    return _iso_label(text) or _named_size(text)


def _iso_label(text: str) -> WheelLabel | None:
    match = re.fullmatch(r"(\d{2,3})\s*[-x]\s*(\d{3})", plain(text).lower())
    # a second figure that is no bead seat means something else
    if match is None or int(match[2]) not in KNOWN_BEAD_SEATS:
        return None
    return WheelLabel(int(match[2]), float(match[1]))


def _named_size(text: str) -> WheelLabel | None:
    """``700x38C``, ``700C x 38``, ``650x47B``, ``26 x 2.1``, ``26 x 1 3/8``: name of the rim, width in mm or inches.

    A width below 6 is in inches (common practice, no source); the letter may stand behind the width.
    """
    match = re.fullmatch(
        r"([\d.]+)\s*([abcd]?|er)\s*\"?\s*[x-]\s*([\d./ ]+?)\s*(mm|\"|in|inch|zoll)?\s*([abcd]?)",
        " ".join(plain(text).lower().replace(",", ".").split()),
    )
    if match is None:
        return None
    rim, letter, width, unit, late = match.groups()
    value = quantity(width, "mm", "length")[0]
    # the trade says 26 x 2.1, and nobody's tyre is two millimetres wide
    inches = unit not in (None, "mm") or (unit is None and value < INCHES_BELOW)
    bead_seat = (
        # with its fraction first: 26 x 1 3/8 is another rim than 26
        BEAD_SEATS.get(f"{rim} x {width}")
        or BEAD_SEATS.get(rim + (letter or late))
        or next((known for known in KNOWN_BEAD_SEATS if str(known) == rim), None)
    )
    if bead_seat is None:
        return None
    return WheelLabel(bead_seat, value * 25.4 if inches else value, named=True)


def wheel_radius(bead_seat: float, width: float) -> float:
    """Radius over the tyre, mm, after ISO 5775 (see the module's head)."""
    return bead_seat / 2 + width + (2.5 if width < 28 else 0.0)
