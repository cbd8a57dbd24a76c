"""Places on a frame as text and as values: where a tube begins and ends, where a plan puts a joint of its own.

One notation serves the table of plans and the cells of a sheet:

=====================================  ==================================================================
``rear_dropout``                       a named joint; right and left where it has both
``seat_tube 0.45``, ``seat_tube 45 %``  a share of a tube's length from its start
``down_tube 180 mm``, ``... from end``  a distance along it, mm; a bare number from 10 on is mm
``lateral at seat_tube``               where two tubes cross in the side view, on the first
``lateral right 0.5``                  on one of a pair
``between rear_axle and saddle 0.2``   on the line from joint to joint
``bottom_bracket + 690 12``            x and y from a joint, mm
``... apart 28``                       right and left that far apart, the place itself in their middle
=====================================  ==================================================================

A number may be the name of an item in braces, ``{seatstay_spacing}``, or less it, ``-{boom_length}``.
"""

import re
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from ..errors import ModelError

Amount = (
    float | str
)  # a number, or the name of the item that holds it, behind a minus where it counts backwards
Unit = Literal["share", "mm"]
SIDES = ("right", "left")
WIDEST = 1000.0  # mm between right and left
FARTHEST = 5000.0  # mm from a joint, as the points of a table of nodes
LEAST_BARE = 10.0  # a number without a unit from here on can only be mm; between it and 1 a share may be mistyped
EACH = "{side}"  # right and left, each on its own side
# Joints that the layout places right and left.
PAIRS = (
    "shell",
    "chainstay_shell",
    "rear_dropout",
    "seatstay_top",
    "crown",
    "front_dropout",
    "bar",
)
_NUMBER = r"(?:-?\d+(?:[.,]\d+)?|-?\{\w+\})"
_PLACE = re.compile(
    rf"""\s*(?P<host>.+?)
    (?:\s+(?P<side>right|left))?
    (?:\s+at\s+(?P<crossing>.+?)
       |\s+(?P<at>{_NUMBER})\s*(?P<unit>%|mm)?(?P<from_end>\s+from\s+end)?)?
    (?:\s*\+\s*(?P<x>{_NUMBER})\s+(?P<y>{_NUMBER}))?
    (?:\s+apart\s+(?P<apart>{_NUMBER})(?:\s*mm)?)?
    (?:\s+tied\s+to\s+(?P<tied>.+))?\s*""",
    re.VERBOSE,
)
_BETWEEN = re.compile(r"between\s+(?P<first>.+?)\s+and\s+(?P<second>.+)")


@dataclass(frozen=True)
class AtJoint:
    """A named joint; ``{side}`` in the name stands for right and left of a paired tube.

    tied_to : the joint on a neighbour's axis that carries it stiffly, where it stands beside that neighbour.
    """

    name: str
    tied_to: str = ""

    @property
    def pair(self) -> bool:
        """Whether it is two places, right and left."""
        return EACH in self.name

    @property
    def words(self) -> str:
        tied = f" tied to {self.tied_to}" if self.tied_to else ""
        return self.name.removesuffix("_" + EACH) + tied


@dataclass(frozen=True)
class Along:
    """A point on the axis of a tube, at a share of its length or at a distance from its start or end, mm.

    crossing : the tube that it meets there in the side view, instead of a distance. side : right or left, where the
    tube is a pair and one of both is meant; ``{side}`` where each side's own is. apart : between right and left, mm;
    both are carried stiffly by the point on the axis.
    """

    tube: str
    at: Amount = 0.0
    unit: Unit = "share"
    from_end: bool = False
    crossing: str = ""
    side: str = ""
    apart: Amount = 0.0

    @property
    def pair(self) -> bool:
        """Whether it is two places, right and left."""
        return bool(self.apart) or self.side == EACH

    @property
    def host(self) -> str:
        """The member it lies on; ``{side}`` in the name stands for right and left."""
        return f"{self.tube}_{self.side}" if self.side else self.tube

    @property
    def words(self) -> str:
        side = f" {self.side}" if self.side in SIDES else ""
        where = f" at {self.crossing}" if self.crossing else f" {_distance(self)}"
        return f"{self.tube}{side}{where}{_apart(self.apart)}"


@dataclass(frozen=True)
class Between:
    """A point on the straight line from joint to joint."""

    first: str
    second: str
    at: Amount
    unit: Unit = "share"
    from_end: bool = False
    apart: Amount = 0.0

    @property
    def pair(self) -> bool:
        """Whether it is two places, right and left."""
        return bool(self.apart)

    @property
    def words(self) -> str:
        return f"between {self.first} and {self.second} {_distance(self)}{_apart(self.apart)}"


@dataclass(frozen=True)
class Free:
    """A point at x (forward) and y (up) from a joint, mm; `apart` as in `Along`."""

    joint: str
    x: Amount = 0.0
    y: Amount = 0.0
    apart: Amount = 0.0

    @property
    def pair(self) -> bool:
        """Whether it is two places, right and left."""
        return bool(self.apart)

    @property
    def words(self) -> str:
        off = f" + {_amount(self.x)} {_amount(self.y)}" if self.x or self.y else ""
        return f"{self.joint}{off}{_apart(self.apart)}"


Place = AtJoint | Along | Between | Free


def read_place(
    text: str,
    tubes: Collection[str],
    pairs: Collection[str] = PAIRS,
    named: Callable[[str], str | None] = lambda _: None,
) -> Place:
    """The place a text means. tubes : names of the tubes it may lie on. pairs : joints and tubes that stand right and
    left. named : trade name of a tube -> its own name.

    Raises
    ------
    ModelError
        For a text that says no place; the message shows how one is written.
    """
    match = _PLACE.fullmatch(text)
    if match is None:
        raise ModelError(
            f"'{text}' is no place; write a joint, or such as 'seat tube 0.45'", value=text
        )
    apart = _read(match["apart"])
    _refuse_sizes(text, match)
    distance = match["at"] is not None
    between = _BETWEEN.fullmatch(match["host"])
    if between is not None:
        if not distance:
            raise ModelError(
                f"'{text}' does not say how far; write 'between rear axle and saddle 0.2'",
                value=text,
            )
        return Between(_key(between["first"]), _key(between["second"]), *_at(match), apart)
    tube = _tube(match["host"], tubes, named)
    if tube and match["side"] and tube not in pairs:
        raise ModelError(
            f"'{text}': there is one {match['host']} only; leave out '{match['side']}'", value=text
        )
    side = match["side"] or (EACH if tube in pairs else "")
    if tube and apart and side:
        raise ModelError(
            f"'{text}': {match['host']} is a pair, right and left, each with a place of its own; leave out 'apart'",
            value=text,
        )
    if tube and match["crossing"]:
        crossing = _tube(match["crossing"], tubes, named)
        if not crossing:
            raise ModelError(f"'{text}': there is no tube '{match['crossing']}'", value=text)
        return Along(tube, crossing=crossing, side=side, apart=apart)
    if tube and distance:
        at, unit, from_end = _at(match)
        return Along(tube, at, unit, from_end, "", side, apart)
    joint = _key(match["host"])
    if match["side"]:
        joint = f"{joint}_{match['side']}"
    if distance or match["crossing"] or joint in tubes:
        known = ", ".join(name.replace("_", " ") for name in tubes)
        raise ModelError(
            f"'{text}' is no place on a tube of this frame; write such as 'seat tube 0.45', 'down tube 180 mm' or "
            f"'top tube 60 mm from end'; tubes: {known}",
            value=text,
        )
    if match["x"] is not None or apart:
        return Free(joint, _read(match["x"]), _read(match["y"]), apart)
    if joint in pairs:
        joint += "_" + EACH
    return AtJoint(joint, _key(match["tied"] or ""))


def _refuse_sizes(text: str, match: re.Match[str]) -> None:
    """Raises ModelError for numbers that nobody can mean."""
    apart = _read(match["apart"])
    if isinstance(apart, float) and not 0 <= apart <= WIDEST:
        raise ModelError(
            f"'{text}': right and left cannot stand {apart:g} mm apart, expected 0 to {WIDEST:g} mm",
            value=text,
        )
    for off in (_read(match["x"]), _read(match["y"])):
        if isinstance(off, float) and abs(off) > FARTHEST:
            raise ModelError(
                f"'{text}': {off:g} mm from a joint, expected {-FARTHEST:g} to {FARTHEST:g} mm; check the number",
                value=text,
            )
    if match["at"] is None or match["unit"]:
        return
    bare = read_amount(match["at"])
    if isinstance(bare, float) and 1 < bare < LEAST_BARE:
        raise ModelError(
            f"'{text}': {bare:g} is neither a share, expected 0 to 1, nor clearly mm; write '{bare:g} mm' or "
            f"'{bare:g} %'",
            value=text,
        )


def sized(amount: Amount, sizes: Mapping[str, float]) -> float:
    """A number of a place in mm, or as a share. Raises KeyError for an item that is none of the sizes."""
    if not isinstance(amount, str):
        return amount
    if amount.startswith("-"):
        return -sizes[amount[1:]]
    return sizes[amount]


def amounts(place: Place) -> Iterator[Amount]:
    """Every number of a place."""
    for name in ("at", "x", "y", "apart"):
        if hasattr(place, name):
            yield getattr(place, name)


def _tube(text: str, tubes: Collection[str], named: Callable[[str], str | None]) -> str:
    key = _key(text)
    if key in tubes:
        return key
    found = named(text)
    if found in tubes:
        return found or ""
    # "seatstays" and "seatstay": both are said
    single = key.removesuffix("s")
    return single if single in tubes else ""


def _key(text: str) -> str:
    return "_".join(text.split()).casefold()


def read_amount(text: str) -> Amount:
    """A number, with point or comma, or the name of an item in braces."""
    if text.endswith("}"):
        return text.replace("{", "").strip("}")
    return float(text.replace(",", "."))


def _read(text: str | None) -> Amount:
    return 0.0 if text is None else read_amount(text)


def _at(match: re.Match[str]) -> tuple[Amount, Unit, bool]:
    value = read_amount(match["at"])
    from_end = match["from_end"] is not None
    if match["unit"] == "%" and isinstance(value, float):
        return value / 100, "share", from_end
    # Items hold mm; a bare number up to 1 can only be a share.
    if match["unit"] == "mm" or isinstance(value, str) or value > 1:
        return value, "mm", from_end
    return value, "share", from_end


def _amount(value: Amount) -> str:
    if isinstance(value, str):
        sign = "-" if value.startswith("-") else ""
        return f"{sign}{{{value.removeprefix('-')}}}"
    return repr(float(value)).removesuffix(".0")


def _distance(place: Along | Between) -> str:
    unit = " mm" if place.unit == "mm" else ""
    return f"{_amount(place.at)}{unit}{' from end' if place.from_end else ''}"


def _apart(apart: Amount) -> str:
    return f" apart {_amount(apart)}" if apart else ""


def amount_words(value: Amount) -> str:
    """As it is written in a place."""
    return _amount(value)
