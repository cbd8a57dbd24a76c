"""Options of items for a comparison: ``fork_offset=45,50,55``, ``tyre=37,42``; alone, or crossed with tubes.

Some names are a tube's and a dimension's (chainstay, head tube, seat tube): a plain number from LEAST_LENGTH mm on is
the dimension, everything else the tube (no tube of a frame is that wide).
"""

import itertools
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from ....model.choice.sights import find_sight, seek
from ....model.choice.variants import GRID_LIMIT, Reshaped, Variant
from ....model.errors import FrameError, InputError
from ....model.frame.bicycle import Bicycle
from ..fitsheet.knobs import (
    Setting,
    item_named,
    part_item,
    present_value,
    setting_value,
    turned,
)
from ..fitsheet.tubes import member_named
from ..fitsheet.values import plain

LEAST_LENGTH = 60.0  # mm
# digits with at most a unit: "28.6x0.8" or "31.8-28.6" is a tube whatever its size
_PLAIN = re.compile(r"\d+(?:[.,]\d+)?(?: ?mm)?")


@dataclass(frozen=True)
class Stays:
    """What stays and what follows when the side view changes; see `model.geometry.knobs`."""

    keep: tuple[str, ...] = ()
    follow: tuple[str, ...] = ()


@dataclass(frozen=True)
class ItemOptions:
    """Item -> the values to try."""

    values: Mapping[str, tuple[Setting, ...]] = field(default_factory=dict)

    def combinations(self) -> Iterator[tuple[Setting, ...]]:
        return itertools.product(*self.values.values())


def is_item_option(text: str) -> bool:
    """Whether an option text is about an item of the sheet and not about a tube."""
    # a part such as a hub is known by its text, and is no tube
    name, _, rest = text.partition("=")
    if part_item(name, rest) is not None:
        return True
    if item_named(name) is None:
        return False
    # a name that no tube has can only be an item
    if member_named(name) is None:
        return True
    parts = _parts(rest)
    lengths = [part for part in parts if _PLAIN.fullmatch(part) and _number(part) >= LEAST_LENGTH]
    # half of each: no reading of it could be right for all values
    if lengths and len(lengths) < len(parts):
        raise InputError(
            f"option '{text}': some values are lengths of the {name.strip()}, others sizes of its tube; give two "
            "options"
        )
    return bool(lengths)


def _number(text: str) -> float:
    return float(text.removesuffix("mm").strip().replace(",", "."))


def _parts(rest: str) -> list[str]:
    # a semicolon between values frees the comma for decimals
    sign = r"\s*;\s*" if ";" in rest else r"\s*,\s*"
    return [part for part in re.split(rf"{sign}|\s+or\s+", plain(rest)) if part]


def item_options(texts: Sequence[str]) -> ItemOptions:
    """The values of option texts; several for one item add up. Raises InputError naming the option."""
    held: dict[str, tuple[Setting, ...]] = {}
    for text in texts:
        # a part and an item may share a name; the text decides, as with --set
        name, _, rest = text.partition("=")
        item = part_item(name, rest) or item_named(name)
        parts = _parts(rest)
        if item is None or not parts:
            raise InputError(
                f"option '{text}': give it as ITEM=VALUE,VALUE such as fork_offset=45,50"
            )
        settings = [Setting(item, setting_value(item, part, f"option '{text}'")) for part in parts]
        # the same value twice would be the same bicycle twice in the table
        held[item.key] = tuple(dict.fromkeys((*held.get(item.key, ()), *settings)))
    return ItemOptions(held)


def item_variants(
    bicycle: Bicycle, options: ItemOptions, tubes: Sequence[Variant], stays: Stays
) -> list[Reshaped]:
    """Every combination of the items' values, each with every tube variant and with the tubes as they are.

    Raises InputError for more than `GRID_LIMIT`, or a combination that cannot be; the message names it.
    """
    # counted before any is made: each may need a solve of the side view
    count = (1 + len(tubes)) * len(list(options.combinations()))
    if count > GRID_LIMIT:
        raise InputError(
            f"{count} combinations are too many to compare one by one (at most {GRID_LIMIT}); leave some values out"
        )
    out = []
    for settings in options.combinations():
        words = ", ".join(one.words for one in settings)
        made, followed = _made(bicycle, settings, stays, words)
        said = words + (f"; {followed}" if followed else "")
        # the values the bicycle has already make no variant; with other tubes they do
        if made != bicycle:
            out.append(Reshaped(words, said, made))
        out += [Reshaped(f"{words}, {v.name}", f"{said}, {v.changes}", v.of(made)) for v in tubes]
    return out


def _made(
    bicycle: Bicycle, settings: Sequence[Setting], stays: Stays, words: str
) -> tuple[Bicycle, str]:
    try:
        result = turned(bicycle, settings, stays.keep, stays.follow)
    # which of many combinations cannot be is the first thing to know
    except FrameError as error:
        raise InputError(f"{words}: {error}") from error
    return result.bicycle, result.followed


def sought(bicycle: Bicycle, text: str, stays: Stays) -> Reshaped:
    """The bicycle of a goal such as ``fork_offset:trail=60``: the value of the item that makes the figure so.

    Raises InputError for what is not known, and for a goal that no value of the item reaches, with what it reaches.
    """
    name, colon, goal = text.partition(":")
    key, sign, value = goal.partition("=")
    item = item_named(name)
    if (
        item is None
        # a rim's or tyre's size comes in steps, so no value between can be sought
        or item.group not in ("geometry", "fittings", "loads", "riding")
        or not colon
        or not sign
    ):
        raise InputError(
            f"--seek {text}: give it as ITEM:FIGURE=VALUE, such as fork_offset:trail=60 or head_angle:toe_gap=100"
        )
    try:
        # before the seeking, which works the bicycle out many times
        wanted = float(value.strip().replace(",", "."))
        sight = find_sight(bicycle, key)
    except (ValueError, FrameError) as error:
        raise InputError(f"--seek {text}: {error}") from error

    def make(x: float) -> Bicycle:
        return turned(bicycle, [Setting(item, x)], stays.keep, stays.follow).bicycle

    # begun from the present value: the nearest of several answers is the one that is meant
    found, (least, most) = seek(make, sight.of, wanted, item.limits, present_value(bicycle, item))
    if found is None:
        raise InputError(
            f"--seek {text}: no {item.label} from {item.limits[0]:g} to {f'{item.limits[1]:g} {item.unit}'.strip()} "
            f"gives {sight.words} {wanted:g} {sight.unit}; it reaches {least:.1f} to {most:.1f} {sight.unit}"
        )
    one = Setting(item, found)
    # made anew rather than kept from the search, to have what followed in words
    made, followed = _made(bicycle, [one], stays, one.words)
    # two decimals in the name; the bicycle itself has all of them
    words = f"{Setting(item, round(found, 2)).words} for {sight.words} {wanted:g} {sight.unit}"
    return Reshaped(words, words + (f"; {followed}" if followed else ""), made)
