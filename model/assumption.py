"""What nobody stated and the program filled in: a value with its unit and source, put into words only when shown."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Literal

Subject = Literal[
    "reading the sheet", "geometry", "wheels", "tubes", "build", "loads", "parts", "masses", "rider"
]
COMMON_PRACTICE = "common practice, no source"


@dataclass(frozen=True)
class Assumed:
    """One value that the input does not state.

    subject : what it belongs to. key : the item, tube or part it stands in for; stating that one ends the assumption.
    item : what people call it. value : a number in `unit`, or words. source : where the value comes from, or why it
    had to be assumed.
    """

    subject: Subject
    key: str
    item: str
    value: float | str
    unit: str = ""
    source: str = COMMON_PRACTICE

    @property
    def amount(self) -> str:
        """Value and unit: ``720 mm``."""
        if isinstance(self.value, str):
            value = self.value
        else:
            value = f"{self.value:g}"
        return f"{value} {self.unit}".rstrip()

    @property
    def short(self) -> str:
        """Without its source: ``saddle height 720 mm``."""
        return f"{self.item} {self.amount}"

    def __str__(self) -> str:
        if self.source:
            return f"{self.short} ({self.source})"
        return self.short

    def as_dict(self) -> dict[str, float | str]:
        return dict(vars(self))


def still_assumed(assumed: Iterable[Assumed], stated: Collection[str]) -> tuple[Assumed, ...]:
    """Those that stand in for none of the items, tubes or parts now `stated`."""
    # by key and not by words: one item's name may begin with another's
    return tuple(one for one in assumed if one.key not in stated)


def stands_in(assumed: Iterable[Assumed], key: str, value: float | str) -> bool:
    """Whether this very value of `key` was assumed: changed by hand since, it counts as stated."""
    return any(one.key == key and one.value == value for one in assumed)
