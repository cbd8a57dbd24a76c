"""Bicycles side by side as tables, one a group, the last against the first in percent in the last column."""

from collections.abc import Sequence
from typing import Any

from ....model.choice.side_by_side import SideLine
from ..table import GAP_DIGITS, HZ_DIGITS, SIDE_VIEW_DIGITS, Column, Kind, Row, Table

# a group not named here shows four significant digits
_DIGITS = {
    "Geometry": SIDE_VIEW_DIGITS,
    "Fit": GAP_DIGITS,
    "Room": GAP_DIGITS,
    "Modes on tyre springs": HZ_DIGITS,
}
LEAST_TOLD = 0.05  # percent; less shows as nought


def side_tables(names: Sequence[str], lines: Sequence[SideLine]) -> list[Table]:
    """One table for each group of lines."""
    groups: dict[str, list[SideLine]] = {}
    for line in lines:
        groups.setdefault(line.group, []).append(line)
    return [_table(names, group, held) for group, held in groups.items()]


def _table(names: Sequence[str], group: str, lines: Sequence[SideLine]) -> Table:
    # a group of sizes in words, such as tubes, cannot hold numbers as numbers
    words = any(isinstance(value, str) for line in lines for value in line.values)
    columns = [Column("figure", "figure")]
    digits = _DIGITS.get(group)
    for k, name in enumerate(names, start=1):
        # words and numbers may stand in one column, so each is said here
        columns.append(
            Column(f"bicycle_{k}", name, Kind.TEXT if words else Kind.NUMBER, digits=digits)
        )
    columns.append(Column("change", "change", Kind.NUMBER, "%", 1, signed=True))
    rows: list[Row] = []
    for line in lines:
        # a copy: the line's own values stay numbers for JSON
        cells = list(line.values)
        if words:
            said = Column("", "", Kind.NUMBER, digits=digits)
            cells = [said.text(v) if isinstance(v, float) else v or "" for v in cells]
        figure = line.words
        if line.unit:
            figure = f"{line.words} [{line.unit}]"
        rows.append((figure, *cells, _told(line.percent)))
    notes = "".join(dict.fromkeys(line.note for line in lines if line.note))
    # a worksheet's name holds 31 characters
    return Table(group[:28].lower(), group, columns, rows, notes.strip())


def _told(percent: float | None) -> float | None:
    """A change as it is told: lines that are alike have none, so that those that differ are seen."""
    if percent is not None and abs(percent) < LEAST_TOLD:
        return None
    return percent


def side_json(lines: Sequence[SideLine]) -> list[dict[str, Any]]:
    """Every line with stable keys."""
    return [
        {
            "group": line.group,
            "key": line.key,
            "figure": line.words,
            "unit": line.unit,
            "values": list(line.values),
            "change_percent": line.percent,
        }
        for line in lines
    ]
