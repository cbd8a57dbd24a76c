"""Bicycles side by side as tables, one a group, the last against the first in percent in the last column."""

from collections.abc import Sequence
from typing import Any

from ....model.choice.side_by_side import SideLine
from ....model.words import number
from ..table import Column, Kind, Row, Table


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
    # gaps are laid out from lengths that nobody builds to a hundredth
    digits = 1 if group == "Room" else None
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
            cells = [number(v) if isinstance(v, float) else v or "" for v in cells]
        figure = line.words
        if line.unit:
            figure = f"{line.words} [{line.unit}]"
        rows.append((figure, *cells, line.percent))
    notes = "".join(dict.fromkeys(line.note for line in lines if line.note))
    # a worksheet's name holds 31 characters
    return Table(group[:28].lower(), group, columns, rows, notes.strip())


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
