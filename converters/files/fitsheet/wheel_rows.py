"""The wheels of a fit sheet: radii as stated, and from bead seat and tyre."""

from collections.abc import Callable

from ....model.assumption import Assumed
from ....model.findings import Finding
from .items import ITEMS
from .sheet_rows import SheetReader, Statement
from .table import SheetRow
from .wheels import WheelLabel, tyre_label, wheel_label, wheel_radius


def wheel_statements(reader: SheetReader) -> list[Statement]:
    """Radius statements of both wheels: as stated, and from bead seat and tyre."""
    return [
        statement
        for side in ("front", "rear")
        for statement in (*_stated_radii(reader, side), *_radius_from_tyre(reader, side))
    ]


def _side_row(reader: SheetReader, key: str, side: str) -> SheetRow | None:
    """The row for this side, or the one that holds for both wheels."""
    return reader.first(f"{key}_{side}") or reader.first(f"{key}_both")


def _stated_radii(reader: SheetReader, side: str) -> list[Statement]:
    found = []
    for key, divisor in (("wheel_radius", 1), ("wheel_diameter", 2)):
        if (row := _side_row(reader, key, side)) is not None:
            value = reader.value(row, ITEMS[f"{key}_{side}"]) / divisor
            found.append(
                Statement(f"wheel_radius_{side}", value, row.source, row.number, row["value"])
            )
    return found


def _radius_from_tyre(reader: SheetReader, side: str) -> list[Statement]:
    wheel = _side_row(reader, "bead_seat", side)
    tyre = _side_row(reader, "tyre_width", side)
    rim = _label(wheel, wheel_label)
    rubber = _label(tyre, tyre_label)
    if tyre and rubber.bead_seat and rim.bead_seat not in (None, rubber.bead_seat):
        raise tyre.refusal(
            f"tyre '{tyre['value']}' does not fit the {side} wheel's bead seat diameter {rim.bead_seat} mm",
            "value",
        )
    # a tyre's size such as 37-622 names the rim too
    bead_seat = rim.bead_seat or rubber.bead_seat
    # the tyre's own width wins over one in the wheel's name
    width = rubber.width or rim.width
    if bead_seat is None or width is None:
        if wheel or tyre:
            reader.findings.append(
                _half_a_wheel(side, wheel or tyre, "tyre width" if bead_seat else "bead seat")
            )
        return []
    row: SheetRow | None
    # the row that gave the width, so that a refusal names the right cell
    if tyre is not None and rubber.width:
        row = tyre
    else:
        row = wheel
    assert row is not None  # the width came from one of them
    low, high = ITEMS["tyre_width_both"].limits
    # a width in inches or a whole diameter in the wrong row makes a wheel that nobody rides
    if not low <= width <= high:
        raise row.refusal(
            f"tyre width '{row['value']}' is {width:g} mm, expected {low:g} to {high:g} mm; check the value and its "
            "unit",
            "value",
        )
    # a trade name was translated; the source of the radius says so
    if rim.bead_seat and rim.named:
        named = wheel
    elif not rim.bead_seat and rubber.named:
        named = tyre
    else:
        named = None
    return [_radius_statement(side, bead_seat, width, row, named["value"] if named else "")]


def tyre_width(reader: SheetReader, side: str) -> float | None:
    return (
        _label(_side_row(reader, "tyre_width", side), tyre_label).width
        or _label(_side_row(reader, "bead_seat", side), wheel_label).width
    )


def _label(row: SheetRow | None, read: Callable[[str, str], WheelLabel]) -> WheelLabel:
    if row is None:
        return WheelLabel()
    with row.at("value"):
        return read(row["value"], row["unit"])


def _half_a_wheel(side: str, row: SheetRow | None, lacking: str) -> Finding:
    return Finding(
        "sheet-wheel-incomplete",
        "warning",
        f"the {side} wheel's {lacking} is not stated, so its radius is not known",
        row.where if row else "",
    )


def _radius_statement(
    side: str, bead_seat: int, width: float, row: SheetRow, named: str
) -> Statement:
    radius = wheel_radius(bead_seat, width)
    source = f"ISO 5775: half of {bead_seat} mm and a tyre as high as its width {width:g} mm"
    if named:
        source = f"{named} is bead seat {bead_seat} mm; {source}"
    if width < 28:
        source += ", 2.5 mm more under 28 mm"
    source += "; no sag under load"
    key = f"wheel_radius_{side}"
    assumption = Assumed("wheels", key, f"{side} wheel radius", radius, "mm", source)
    text = f"{bead_seat} + {width:g}"
    return Statement(key, radius, row.source, row.number, text, assumption)
