"""What the reader makes of the drawings of helpers_plan_sheets, beside their truth.

    verdict = read_beside(drawn, folder)     # "right", "hint", "refused", "warned", "silent"

`right` : measured as drawn, every tube of the plan found where it is, and nothing said that is not so. `hint` : the
same after one pick that a message proposed.
"""

import re
from collections.abc import Iterator
from pathlib import Path

from droptrail.converters.drawings.labelling.doubt import InDoubtError
from droptrail.converters.inputs import Reading, ReadOptions, read_input
from droptrail.model.errors import InputError
from helpers_plan_sheets import PlanSheet

# Where a tube is curved its ends are found by following its edges on.
JOINED = (
    "top_tube_on_seat_tube",
    "top_tube_below_head_top",
    "down_tube_above_head_bottom",
    "seatstay_below_top_tube",
)
MEASURED = (
    "head_angle", "seat_angle", "bb_drop", "chainstay", "head_tube", "fork_length", "fork_offset", "reach", "seat_tube",
    *JOINED,
)  # fmt: skip


def read_beside(drawn: PlanSheet, folder: Path, sheet: bool = True) -> str:
    """How a drawing and its sheet are read."""
    drawing, table = drawn.write(folder)
    first, proposed = _read(drawn, drawing, table, None)
    if first == "right":
        return "right"
    for pick in proposed:
        again, _ = _read(drawn, drawing, table, pick)
        if again == "right":
            return "hint"
    return first


def _read(
    drawn: PlanSheet, drawing: Path, table: Path, pick: dict[str, str] | None
) -> tuple[str, list[dict[str, str]]]:
    try:
        reading = read_input(drawing, table, ReadOptions(pick=pick))
    except InDoubtError as doubt:
        return "refused", [dict(picks) for _, picks in doubt.options]
    except InputError as error:
        return "refused", list(_picks(str(error)))
    proposed = list(_picks(" ".join(str(f.message) for f in reading.findings)))
    warned = [f for f in reading.findings if f.severity != "info"]
    if wrong(reading, drawn):
        return "warned" if warned else "silent", proposed
    found = {f.where for f in reading.findings if f.code == "drawing-tube-found"}
    false = [f for f in warned if f.code.startswith(("drawing-", "side-further"))]
    if false or not found.issuperset(drawn.tubes):
        return "warned" if warned else "silent", proposed
    return "right", []


def _picks(text: str) -> Iterator[dict[str, str]]:
    for member, handles in re.findall(r"--pick (\w+)=([0-9A-F,]+)", text):
        yield {member: handles.strip(",")}


def wrong(reading: Reading, drawn: PlanSheet) -> list[str]:
    """Fields of the side view that are not as drawn."""
    assert reading.view is not None
    off = []
    for name in MEASURED:
        if name in drawn.told.skip:
            continue
        limit = 0.5 if name in JOINED else 0.1
        read = getattr(reading.view.dimensions, name)
        if read is None or abs(read - getattr(drawn.frame.dimensions, name)) > limit:
            off.append(name)
    return off


def drawn_tubes(reading: Reading) -> dict[str, str]:
    """Tube -> what is told of it beside the sheet."""
    return {f.where: str(f.message) for f in reading.findings if f.code.startswith("drawing-tube")}
