"""The item that a name of the trade means, with what the note beside it makes of it; names that mean two things."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import cache

from .conventions import AGREES, conventions, other_conventions
from .items import ITEMS, SheetItem
from .names import AMBIGUOUS as _AMBIGUOUS
from .names import split_names
from .table import bare, spellings


@dataclass(frozen=True)
class Match:
    """An item found by name.

    assumption : how the item is taken, where its name leaves a convention open. turned : the note made another item
    of the name. unused : a convention in the note that the item does not have.
    """

    item: SheetItem
    assumption: str = ""
    turned: bool = False
    unused: str = ""


# Names that mean two different things, with what to write instead.
AMBIGUOUS = {
    spelled: hint
    for hint, names in _AMBIGUOUS.items()
    for name in split_names(names)
    for spelled in spellings(name)
}


def all_names() -> Iterator[tuple[str, Match]]:
    """Every name with what it means."""
    for item in ITEMS.values():
        # names that leave nothing open first: for a name in both lists they win
        yield from ((name, Match(item)) for name in item.names)
        yield from ((name, Match(item, item.taken)) for name in item.loose)
        yield (
            item.label,
            Match(item, item.taken if bare(item.label) in map(bare, item.loose) else ""),
        )


@cache
def _by_name() -> dict[str, Match]:
    """Bare name -> match, over all items."""
    table: dict[str, Match] = {}
    for name, match in all_names():
        for spelled in spellings(name):
            table.setdefault(spelled, match)
    return table


def find_item(name: str, note: str = "") -> Match | None:
    """The item of that name, None when it is not known or its note makes an ambiguous name of it.

    A note that makes another item's name of it turns the name into that item (``chainstay`` with ``horizontal``); a
    note whose convention no item has stands in the match as `unused`.
    """
    table = _by_name()
    plain = table.get(bare(name))
    if not note:
        return plain
    words = (name, *_alike(name, plain))
    # a name of another language may be whole with the note where this one is not
    joined = (table.get(bare(word) + bare(note)) for word in words)
    # a note can complete a name: chainstay with 'horizontal' is another item
    whole = next((match for match in joined if match is not None), None)
    if whole is not None:
        return replace(whole, turned=_turns(plain, whole))
    if plain is None:
        return None
    return _by_convention(name, note, plain)


def _by_convention(name: str, note: str, plain: Match) -> Match | None:
    """What the conventions in a free note make of a known name."""
    table = _by_name()
    other = other_conventions(_plain_key(plain.item), note)
    for convention in other:
        for word in (name, *plain.item.names, *plain.item.loose):
            for spelled in (bare(f"{convention} {word}"), bare(f"{word} {convention}")):
                found = table.get(spelled)
                if found is not None and found.item is not plain.item:
                    return replace(found, turned=_turns(plain, found))
                # turned into a name with two meanings, it means neither
                if spelled in AMBIGUOUS:
                    return None
    # named, and nothing could be made of it: the row is read, and that is said
    if other:
        return replace(plain, unused=other[0])
    # the note says what would else be taken for granted, so nothing is assumed
    if plain.assumption and _settles(plain.item, note):
        return Match(plain.item)
    return plain


def ambiguous(name: str, note: str = "") -> str:
    """What to write instead of a name that means two things, alone or with its note; '' for any other name."""
    spelled = [bare(name)]
    spelled += [bare(f"{convention} {name}") for convention in conventions(note)]
    hints = (AMBIGUOUS.get(one, "") for one in spelled)
    return next((hint for hint in hints if hint), "")


def _turns(plain: Match | None, found: Match) -> bool:
    """Whether the note made another item of a name that is complete without it."""
    return plain is not None and not plain.assumption and found.item is not plain.item


def _plain_key(item: SheetItem) -> str:
    """The key without its side: ``wheel_radius`` of ``wheel_radius_front``."""
    if item.group != "wheel":
        return item.key
    return item.key.rpartition("_")[0]


def _settles(item: SheetItem, note: str) -> bool:
    """Whether the note names the convention that would else be taken for granted."""
    agrees = AGREES.get(item.key, ())
    return any(convention in agrees for convention in conventions(note))


def _alike(name: str, plain: Match | None) -> Sequence[str]:
    """Other names, in any language, that leave the same open: with the note one of them may be a whole name."""
    if plain is not None and plain.assumption:
        return plain.item.loose
    # the other names of the same open thing: with the note one of them may be clear
    hint = AMBIGUOUS.get(bare(name))
    return () if hint is None else split_names(_AMBIGUOUS[hint])


def nearest_item(name: str) -> str:
    """The known name closest to an unknown one, '' when none is near."""
    # 0.6 finds swapped and missing letters, and leaves words that are merely short alone
    near = get_close_matches(bare(name), list(_by_name()), n=1, cutoff=0.6)
    if near:
        return _by_name()[near[0]].item.label
    return ""
