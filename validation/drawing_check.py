"""Holds a drawing against its fit sheet, dimension by dimension, trail and drop first."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from ..converters.drawn_plan import drawn_items
from ..converters.files.fitsheet.bicycle import figures_of_no_tube
from ..converters.inputs import Reading
from ..model.decide import within
from ..model.frame.bicycle import Bicycle
from ..model.geometry.dimensions import FrameDimensions
from ..model.geometry.statements import by_unit, unit
from ..model.tubes.tube import Tube

# The order is the builder's: the two numbers that decide, then the rest.
_ITEMS = (
    "trail",
    "bb_drop",
    "fork_offset",
    "head_angle",
    "seat_angle",
    "stack",
    "reach",
    "chainstay",
    "head_tube",
    "lower_stack",
    "axle_to_crown_straight",
    "fork_length",
    "wheel_radius_front",
    "wheel_radius_rear",
    "wheelbase",
    "front_center",
    "effective_top_tube",
    "seat_tube",
    "top_tube_on_seat_tube",
    "top_tube_below_head_top",
    "down_tube_above_head_bottom",
    "seatstay_below_top_tube",
)

DIAMETER_TOLERANCE = 0.5  # mm: tubes are sold in steps of some 3 mm, an outline is drawn to a tenth


@dataclass(frozen=True)
class DimensionRow:
    """One item of the drawing beside the sheet's; `ok` is None where the drawing or the sheet does not hold it."""

    item: str
    drawing: float | None
    sheet: float | None
    difference: float | None
    tolerance: float
    unit: str
    ok: bool | None

    @property
    def said(self) -> bool:
        """Whether the drawing or the sheet holds it."""
        return self.drawing is not None or self.sheet is not None


def against_sheet(
    reading: Reading, tolerance_mm: float = 1.0, tolerance_deg: float = 0.1
) -> tuple[DimensionRow, ...]:
    """A drawing read with its sheet: dimensions, then diameters; empty where one of the two does not fix a frame."""
    if reading.view is None or reading.sheet is None or reading.stated is None:
        return ()
    of_no_tube = figures_of_no_tube(reading.sheet.bicycle.plan)
    rows = compare_dimensions(
        reading.view.dimensions,
        reading.stated,
        reading.sheet.not_stated,
        tolerance_mm,
        tolerance_deg,
    )
    return (
        *(row for row in rows if row.said or row.item not in of_no_tube),
        *compare_places(drawn_items(reading.view), reading.sheet.bicycle, tolerance_mm),
        *compare_diameters(
            reading.view.diameters, reading.sheet.bicycle.tubes, reading.sheet.tubes_stated
        ),
    )


def compare_dimensions(
    drawing: FrameDimensions,
    sheet: FrameDimensions,
    not_stated: frozenset[str] = frozenset(),
    tolerance_mm: float = 1.0,
    tolerance_deg: float = 0.1,
) -> tuple[DimensionRow, ...]:
    """Rows for every item that a drawing and a sheet can disagree on.

    not_stated : items the sheet does not say (filled in by default); they are shown, never judged.
    """
    drawn = _values(drawing)
    stated = _values(sheet)
    return tuple(
        _row(
            item,
            drawn[item],
            # a default against a drawing would be our guess against the builder's line
            None if item in not_stated else stated[item],
            by_unit(item, tolerance_mm, tolerance_deg),
            unit(item),
        )
        for item in _ITEMS
    )


def compare_places(
    drawn: Mapping[str, float], sheet: Bicycle, tolerance_mm: float
) -> tuple[DimensionRow, ...]:
    """Rows for the plan's items that a drawing is measured by, such as a boom between two brackets."""
    return tuple(
        _row(item, value, sheet.placing.get(item), tolerance_mm, "mm")
        for item, value in drawn.items()
    )


def compare_diameters(
    drawn: Mapping[str, float | None], tubes: Mapping[str, Tube], stated: Collection[str]
) -> tuple[DimensionRow, ...]:
    """Rows for every tube whose outline is drawn and whose diameter the sheet states.

    Tapered and oval tubes, which show another width at every place, are left out.
    """
    rows = []
    for tube, od in drawn.items():
        of = tubes.get(tube)
        # a taper or an oval shows another width at every place: there is no one number to compare
        if (
            od is not None
            and of is not None
            and tube in stated
            and not of.is_tapered
            and not of.oval_width
        ):
            rows.append(_row(f"{tube}_diameter", od, of.od_start, DIAMETER_TOLERANCE, "mm"))
    return tuple(rows)


def _values(d: FrameDimensions) -> Mapping[str, float | None]:
    derived = d.derived()
    # Trail and its like follow from the dimensions and have no field of their own.
    return {item: derived[item] if item in derived else getattr(d, item) for item in _ITEMS}


def _row(
    item: str, drawn: float | None, stated: float | None, tolerance: float, unit: str
) -> DimensionRow:
    if drawn is None or stated is None:
        return DimensionRow(item, drawn, stated, None, tolerance, unit, None)
    difference = drawn - stated
    # with the size, because a difference of exactly the tolerance must not fail by rounding
    ok = within(difference, tolerance, max(abs(drawn), abs(stated)))
    return DimensionRow(item, drawn, stated, difference, tolerance, unit, ok)
