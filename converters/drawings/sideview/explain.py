"""How a drawing was read, row by row: for the table `droptrail read` prints."""

from dataclasses import dataclass

from ....model.words import spoken
from .labels import TextLabel
from .side_view import SideView

# Members first, in the order a builder names them; what was left out comes last.
_ORDER = (
    "wheel_rear",
    "wheel_front",
    "bb_shell",
    "head_tube",
    "top_tube",
    "down_tube",
    "seat_tube",
    "chainstay",
    "seatstay",
    "fork",
    "",
)


@dataclass(frozen=True)
class LineRow:
    """One line of the drawing: where it is found in the file, what it was taken as, how or why not."""

    handle: str
    layer: str
    kind: str
    taken_as: str
    how: str


def explain(view: SideView) -> list[LineRow]:
    """A row for every curve: members first, then what was left out and why, each in the file's order."""
    return [_row(entry) for entry in sorted(view.labels, key=_rank)]


def _rank(entry: TextLabel) -> tuple[int, int]:
    # a curve that serves two members stands with the first of them
    first = entry.member.split(" + ")[0]
    return (_ORDER.index(first) if first in _ORDER else len(_ORDER), entry.index)


def _row(entry: TextLabel) -> LineRow:
    return LineRow(
        entry.handle, entry.layer, entry.kind, spoken(entry.member) or "left out", entry.how
    )


def left_out_summary(view: SideView) -> list[tuple[str, int]]:
    """Reasons for leaving lines out and how many lines each took, commonest first: for large drawings."""
    counted: dict[str, int] = {}
    for entry in view.labels:
        if not entry.member:
            counted[entry.how] = counted.get(entry.how, 0) + 1
    return sorted(counted.items(), key=lambda c: -c[1])
