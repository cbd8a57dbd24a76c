"""`droptrail geometry`: dimensions, derived numbers and joints of a drawing or a fit sheet."""

from pathlib import Path
from typing import Any

import click

from ..converters.files.fitsheet.bicycle import figures_of_no_tube, used_nodes
from ..converters.showing.result_json import geometry_findings, geometry_json
from ..converters.showing.table import SIDE_VIEW_DIGITS
from ..converters.showing.tables.frame import room_table, sag_table
from ..model.frame.clearance import clearances
from ..model.geometry.dimensions import FrameDimensions
from ..model.geometry.quantities import QUANTITIES, Quantity
from ..model.words import DASH, spoken
from . import show
from .options import input_argument, json_option, read, reading_options

# Trail and drop first: the two numbers a builder checks first.
_FIRST = ("trail", "bb_drop")


@click.command("geometry")
@input_argument
@reading_options
@json_option
def command(source: Path, as_json: bool, **how: Any) -> int:
    """Dimensions, derived numbers (trail, wheelbase, ...) and 3-D joints of INPUT."""
    reading = read(source, **how)
    found = geometry_findings(reading)
    if as_json:
        show.print_json(geometry_json(reading))
        return int(show.serious(found))
    facts = geometry_json(reading)
    # shown in a table of their own: they are measured on the drawing, not derived
    diameters = facts["dimensions"].pop("outside_diameters", {})
    values = {**facts["dimensions"], **facts["derived"]}
    of_no_tube: frozenset[str] = frozenset()
    joints = facts["joints"]
    if reading.bicycle is not None:
        plan = reading.bicycle.plan
        of_no_tube = frozenset(
            name for name in figures_of_no_tube(plan) if values.get(name) is None
        )
        used = used_nodes(plan)
        joints = {name: xyz for name, xyz in joints.items() if xyz is not None or name in used}
    order = [*_FIRST, *(name for name in values if name in QUANTITIES and name not in _FIRST)]
    # what a builder measures stands before what is worked out from it
    order.remove("axle_to_crown_straight")
    order.insert(order.index("fork_length"), "axle_to_crown_straight")
    show.table(
        f"Geometry of {reading.source}",
        ("item", "value", "unit"),
        [_row(QUANTITIES[name], values[name]) for name in order if name not in of_no_tube],
    )
    if "standover" not in of_no_tube:
        show.paragraph(_standover_words(reading.dimensions))
    # the drawing's precision says nothing of numbers that --set has changed
    if reading.view is not None and not reading.is_changed:
        told = reading.view.precision.says(reading.dimensions)
        show.paragraph(f"{told}, as far as the drawing's lines and digits agree.")
    # a sheet alone, or a drawing of centre-lines, has no outside to measure
    if any(diameters.values()):
        show.table(
            "Outside diameters drawn",
            ("tube", "diameter", "unit"),
            [(spoken(name), f"{value:.1f}", "mm") for name, value in diameters.items() if value],
        )
    rows = []
    for name, xyz in joints.items():
        place = ["-"] * 3
        if xyz is not None:
            place = [f"{value:.1f}" for value in xyz]
        rows.append((spoken(name), *place))
    show.table(
        "Joints (origin bottom bracket, x forward, y up, z right; mm)",
        ("joint", "x", "y", "z"),
        rows,
    )
    if reading.bicycle is not None and reading.bicycle.suspension is not None:
        show.shown(sag_table(reading.bicycle.suspension, reading.bicycle.dimensions))
    # room needs tyres and tubes, which a drawing alone does not have
    if reading.bicycle is not None:
        show.shown(room_table(clearances(reading.bicycle)))
    show.findings(found)
    show.assumed(reading.assumed)
    return int(show.serious(found))


def _standover_words(dimensions: FrameDimensions) -> str:
    """What the standover is counted to."""
    if dimensions.given.top_tube_half:
        across = 2 * dimensions.given.top_tube_half
        return (
            f"Standover is to the upper side of the top tube, {across:.1f} mm high at its middle."
        )
    return (
        "Standover is to the top tube's centre-line: no tube is known here, the upper side is higher by half its "
        "diameter."
    )


def _row(quantity: Quantity, value: float | None) -> tuple[str, str, str]:
    # a value that the input does not hold is a dash, never a zero
    if value is None:
        shown = DASH
    else:
        shown = f"{value:.{SIDE_VIEW_DIGITS}f}"
    return (quantity.label, shown, quantity.unit)
