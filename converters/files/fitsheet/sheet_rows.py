"""The rows of a fit sheet as they go by: known ones by item, each value with its unit, what is to be said of it."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from math import atan, degrees

from ....model.assumption import Assumed
from ....model.findings import Finding
from ....model.frame.hubs import HubName, is_standard
from .find_item import Match, ambiguous, find_item, nearest_item
from .items import ITEMS, SheetItem
from .parts import SPACINGS
from .table import SheetRow, without_unit
from .values import UNITS, is_percent, quantity


@dataclass(frozen=True)
class Statement:
    """One stated dimension, mm or degrees: where it stands, as written, and what its name left open."""

    item: str
    value: float
    source: str
    row: int
    text: str
    assumption: Assumed | None = None

    @property
    def where(self) -> str:
        return f"{self.source}, row {self.row}"


@dataclass
class SheetReader:
    """Collects while the rows go by: every known row by item key, first one first."""

    rows: dict[str, list[tuple[SheetRow, Match]]] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)
    assumed: list[Assumed] = field(default_factory=list)
    unitless: list[str] = field(default_factory=list)
    unknown: list[tuple[str, int]] = field(default_factory=list)

    def add(self, row: SheetRow) -> None:
        match = find_item(without_unit(row["item"])[0], row["note"])
        if match is None:
            self.findings.append(_unknown(row))
            if row["value"]:
                # kept by itself: a refusal ends with the rows that it may come from
                self.unknown.append((row["item"], row.number))
        elif row["value"]:
            # a hub's row may hold an axle standard, and is then another item
            key = _axle_standard(row, match.item.key)
            self.rows.setdefault(key, []).append((row, match))
            self.findings.extend(_note_findings(row, match))

    def first(self, key: str) -> SheetRow | None:
        """The first row of an item that may stand once; a different second one becomes a finding."""
        rows = [row for row, _ in self.rows.get(key, [])]
        for other in rows[1:]:
            if (other["value"], other["unit"]) != (rows[0]["value"], rows[0]["unit"]):
                self.findings.append(
                    Finding(
                        "sheet-duplicate-item",
                        "warning",
                        f"{ITEMS[key].label} is given twice: '{rows[0]['value']}' in row "
                        f"{rows[0].number} is used, '{other['value']}' is not; leave one out",
                        other.where,
                    )
                )
        if rows:
            return rows[0]
        return None

    def value(self, row: SheetRow, item: SheetItem) -> float:
        """The number in mm, degrees, kg, N or as a share of 1, checked against the item's range."""
        # the row's own unit, the one behind its name, then the header's, in this order
        unit = row["unit"].strip("- ") or without_unit(row["item"])[1] or _header_unit(row, item)
        with row.at("value"):
            value, unit = quantity(row["value"], unit, item.kind)
        if not unit and item.unit:
            self.unitless.append(item.label)
        # some write the slope of a top tube in percent, the frame is worked out in degrees
        if item.kind == "slope" and is_percent(unit):
            value = degrees(atan(value / 100))
        if not item.limits[0] <= value <= item.limits[1]:
            low, high = item.limits
            reads = f"{value:g} {item.unit}".strip()
            expected = f"{low:g} to {high:g} {item.unit}".strip()
            # from where to where: a length between two other points is out of range as often as a wrong unit
            measured = f"; it is measured {item.note}" if " to " in item.note else ""
            raise row.refusal(
                f"{item.label} '{row['value']}' is {reads}, expected {expected}; check the value and its "
                f"unit{measured}",
                "value",
            )
        return value


def _header_unit(row: SheetRow, item: SheetItem) -> str:
    """The unit in the header ``value (mm)``, which holds for the items it can hold for."""
    # only a unit of this item's kind: the column holds all of them
    unit = row.units.get("value", "")
    if unit.lower() in UNITS[item.kind]:
        return unit
    return ""


def _unknown(row: SheetRow) -> Finding:
    name = row["item"]
    if not row["value"]:
        return Finding(
            "sheet-row-ignored", "info", f"'{name}' has no value and was not read", row.where
        )
    near = nearest_item(without_unit(name)[0])
    # a name with two meanings gets advice, an unknown one the nearest
    hint = ambiguous(name, row["note"]) or (
        f"did you mean '{near}'?" if near else "see a starter sheet for the names"
    )
    if ambiguous(name) or not ambiguous(name, row["note"]):
        what = f"item '{name}' is not known and was not used"
    else:
        what = f"'{name}' with the note '{row['note']}' is another thing and was not used"
    return Finding("sheet-unknown-item", "warning", f"{what}; {hint}", row.where)


def _note_findings(row: SheetRow, match: Match) -> Iterator[Finding]:
    """What a note did to its row, and a convention in it that nothing could be made of."""
    name = row["item"]
    note = row["note"]
    item = match.item
    if match.turned:
        yield Finding(
            "sheet-note-used",
            "info",
            f"'{name}' with the note '{note}' is read as {item.label}",
            row.where,
        )
    if match.unused:
        meaning = item.note or item.label
        yield Finding(
            "sheet-note-not-used",
            "warning",
            f"'{name}' has the note '{note}', and nothing could be made of '{match.unused}': it was read as {meaning}; "
            "if it was measured otherwise, convert it or name the item that was measured",
            row.where,
        )


def _axle_standard(row: SheetRow, key: str) -> str:
    """The item that a row means: ``front hub`` may hold a width, or the standard of its axle."""
    for name, spacing in SPACINGS.items():
        if key == spacing and is_standard(row["value"]):
            return axle_item(name)
    return key


def axle_item(hub: HubName) -> str:
    return f"{hub.partition('_')[0]}_axle_standard"
