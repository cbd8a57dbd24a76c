"""Tables for the customer: how one sits, what the bicycle measures, its tubes and what they weigh."""

from ....model.choice.side_by_side import fit_lines
from ....model.frame.bicycle import G_ACCEL, Bicycle
from ....model.frame.tube_mass import MassTable
from ....model.geometry.statements import label, quantities, unit
from ....model.words import spoken
from ..table import Amount, Column, Kind, Row, Table
from .frame import GRAMS

_MEASURES = (
    "stack",
    "reach",
    "effective_top_tube",
    "head_angle",
    "seat_angle",
    "trail",
    "wheelbase",
    "chainstay",
    "bb_height",
    "standover",
)
_FIGURE = (
    Column("figure", "measure"),
    Column("value", "value", Kind.NUMBER, digits=1, varying=True),
)


def customer_tables(bicycle: Bicycle, masses: MassTable) -> tuple[Table, ...]:
    """What a customer asks, in that order; the first two stand beside one another."""
    return (_sitting(bicycle), _sizes(bicycle), _tubes(bicycle, masses))


def _sitting(bicycle: Bicycle) -> Table:
    f = bicycle.fittings
    rows: list[Row] = [
        (
            "saddle height along the seat tube",
            Amount(f.saddle_height, "mm"),
        ),
        ("stem", Amount(f.stem_length, "mm")),
        ("handlebar width", Amount(f.bar_width, "mm")),
        ("crank length", Amount(f.crank_length, "mm")),
    ]
    # the same figures as in the comparison, worked out in one place
    for line in fit_lines(bicycle):
        value = line.values[0]
        if isinstance(value, float):
            rows.append((line.words, _as_weight(value, line.unit)))
    return Table("sitting", "How you sit", _FIGURE, rows)


def _as_weight(value: float, unit: str) -> Amount:
    """A wheel load as a weight: no customer weighs in newtons."""
    if unit == "N":
        return Amount(value / G_ACCEL, "kg")
    return Amount(value, unit)


def _sizes(bicycle: Bicycle) -> Table:
    held = quantities(bicycle.dimensions)
    rows: list[Row] = []
    for name in _MEASURES:
        value = held[name]
        # a figure that the sheet does not fix is left out: a dash helps no customer
        if value is None:
            continue
        rows.append((label(name), Amount(value, unit(name))))
    # a width that nobody stated is not made up
    for side, width in zip(("front", "rear"), bicycle.tyre_widths, strict=True):
        if width is not None:
            rows.append((f"{side} tyre, width", Amount(width, "mm")))
    return Table("sizes", "Your bicycle", _FIGURE, rows)


def _tubes(bicycle: Bicycle, masses: MassTable) -> Table:
    columns = (
        Column("tube", "tube"),
        Column("size", "outside x wall, mm"),
        Column("material", "material"),
        Column("mass", "weight", Kind.NUMBER, "g", digits=0),
    )
    # by tube and not by side: a customer buys a pair
    weights = {tube: GRAMS * mass.kg for tube, mass in masses.by_tube.items()}
    rows: list[Row] = [
        (spoken(name), tube.label, tube.material.name, weights.get(name))
        for name, tube in bicycle.tubes.items()
    ]
    rows.append(("frame tubes together", "", "", GRAMS * masses.frame.kg))
    rows.append(("fork tubes together", "", "", GRAMS * masses.fork.kg))
    if masses.racks.kg:
        rows.append(("rack tubes together", "", "", GRAMS * masses.racks.kg))
    notes = "Bare tubes with their mitres, left and right together; lugs, dropouts, paint and parts come on top."
    return Table("customer tubes", "Tubes and their weights", columns, rows, notes)
