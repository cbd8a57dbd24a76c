"""Wheels as the trade names them: bead seat diameter, tyre width, and the radius they make.

Section height = section width, with 2.5 mm added for tyres under 28 mm, overall diameter = bead seat diameter
+ 2 x section height: ISO 5775, as quoted at https://en-academic.com/dic.nsf/enwiki/884038. Tyre sag under load
is not in it.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from model.errors import InputError

from .values import plain, quantity

# Trade name -> bead seat diameter, mm. 622, 559, 507, 457, 406, 355, 305: read in
# https://nicecurmudgeon.com/how-much-to-swing-26-inch-bicycle-wheels/ ; the others are from memory (ISO 5775).
BEAD_SEATS: Mapping[str, int] = {
    "700c": 622, "700": 622, "28": 622, "29": 622, "29er": 622, "28 x 1 1/2": 635, "27": 630, "650a": 590,
    "26 x 1 3/8": 590, "650b": 584, "27.5": 584, "650c": 571, "26": 559, "24": 507, "22": 457, "20 x 1 1/8": 451,
    "20": 406, "18": 355, "16": 305,
}
KNOWN_BEAD_SEATS = tuple(sorted({*BEAD_SEATS.values(), 349, 520, 540, 547, 597}))


@dataclass(frozen=True)
class Label:
    """What one wheel or tyre cell says, mm; `named` when a trade name was translated."""

    bead_seat: int | None = None
    width: float | None = None
    named: bool = False


def wheel_label(text: str, unit: str = "") -> Label:
    """Read ``622``, ``700C``, ``26"``, or an ISO 5775 label ``37-622``.

    Raises InputError for a diameter or name that is not in the list.
    """
    if iso := _iso_label(text):
        return iso
    bare = re.sub(r"\s*(mm|\"|''|inches|inch|in|zoll)$", "", plain(text).lower().replace(",", ".")).strip()
    if bare in map(str, KNOWN_BEAD_SEATS) and unit.strip().lower() in ("", "mm"):
        return Label(int(bare))
    if bare in BEAD_SEATS:
        return Label(BEAD_SEATS[bare], named=True)
    raise InputError(f"'{text}' is not a known wheel; expected a bead seat diameter in mm "
                     f"({', '.join(map(str, KNOWN_BEAD_SEATS))}), a name ({', '.join(BEAD_SEATS)}) or 37-622")


def tyre_label(text: str, unit: str = "") -> Label:
    """Read ``37``, ``2.1 in`` or ``37-622``."""
    return _iso_label(text) or Label(width=quantity(text, unit, "length")[0])


def _iso_label(text: str) -> Label | None:
    match = re.fullmatch(r"(\d{2,3})\s*[-x]\s*(\d{3})", plain(text).lower())
    if match is None or int(match[2]) not in KNOWN_BEAD_SEATS:
        return None
    return Label(int(match[2]), float(match[1]))


def wheel_radius(bead_seat: float, width: float) -> float:
    """Radius over the tyre, mm, after ISO 5775 (see the module's head)."""
    return bead_seat / 2 + width + (2.5 if width < 28 else 0.0)
