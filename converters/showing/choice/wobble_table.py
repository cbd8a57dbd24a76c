"""What the hands must supply over all that nobody stated, bicycle beside bicycle, and how surely one needs less."""

from collections.abc import Sequence
from typing import Any

from ....model.choice.wobble import BandRow
from ..table import Column, Kind, Row, Table

_UNIT = "N·m·s/rad"
_COLUMNS = (
    Column("bicycle", "bicycle"),
    Column("low", "hands, one in ten below", Kind.NUMBER, _UNIT, digits=2, signed=True),
    Column("middle", "middle", Kind.NUMBER, _UNIT, digits=2, signed=True),
    Column("high", "one in ten above", Kind.NUMBER, _UNIT, digits=2, signed=True),
    Column("lower", "less than the first in", Kind.PERCENT, digits=0),
)
SURE = 0.9  # share of the draws from which on it is said without doubt


def band_table(rows: Sequence[BandRow]) -> Table:
    """One row a bicycle, under the same draws."""
    shown: list[Row] = []
    for row in rows:
        band = row.band
        shown.append((row.name, band.low, band.middle, band.high, row.lower))
    count = len(rows[0].band.samples)
    said = " ".join(map(_said, rows[1:]))
    notes = (
        f"{said} All under the same {count} draws of tyres, frame as built, rider and racks; below zero: that much to "
        "spare."
    )
    return Table("wobble_bands", "Wobble over what nobody stated", _COLUMNS, shown, notes.strip())


def _said(row: BandRow) -> str:
    """``top tube 31.8: needs less of the hands than the first in 93 % of what nobody stated.``"""
    share = row.lower or 0.0
    if share <= 1 - SURE:
        return f"{row.name}: needs more of the hands than the first in {100 * (1 - share):.0f} % of what nobody stated."
    doubt = ""
    if share < SURE:
        doubt = "; that decides nothing"
    return f"{row.name}: needs less of the hands than the first in {100 * share:.0f} % of what nobody stated{doubt}."


def bands_json(rows: Sequence[BandRow]) -> list[dict[str, Any]]:
    """Stable keys."""
    return [
        {
            "bicycle": row.name,
            "low": row.band.low,
            "middle": row.band.middle,
            "high": row.band.high,
            "lower_share": row.lower,
        }
        for row in rows
    ]
