"""Drawings of every plan beside their sheets: right at once or after one proposed pick, and a slip is told.

The truth is where the tests' draughtsman put the tubes (tests/helpers_plan_sheets.py). More of them, a hundred of each
kind, are drawn with another seed outside of the suite.
"""

import re
from dataclasses import replace
from pathlib import Path

import pytest
from droptrail.converters.drawings.labelling.doubt import InDoubtError
from droptrail.converters.drawings.sideview.say import LOWER_RACE
from droptrail.converters.files.drafting.frame import draw_frame
from droptrail.converters.files.fitsheet.starter import plan_starter
from droptrail.converters.files.fitsheet.write_sheet import write_fit_sheet
from droptrail.converters.inputs import ReadOptions, read_input
from droptrail.model.errors import InputError
from droptrail.model.tubes.known_plans import PLANS
from helpers_plan_readings import drawn_tubes, read_beside, wrong
from helpers_plan_sheets import KINDS, LINES, plan_sheet

EACH = len(LINES)  # one of every way to draw lines
SLIP = 15.0  # mm
SHOWN = (
    "mixte_single", "stays_on_top_tube", "split_seatstays", "raised_chainstays", "segmented_fork", "truss_fork",
    "step_through",
)  # fmt: skip
BENT = ("curved_top_tube", "curved_down_tube", "bent_seatstays", "dropped_chainstays")


@pytest.mark.parametrize("kind", KINDS)
def test_a_plan_is_read_right_at_once_or_after_one_pick(kind: str, tmp_path: Path) -> None:
    came = [read_beside(plan_sheet(kind, k), tmp_path) for k in range(EACH)]
    assert "silent" not in came
    assert came.count("right") + came.count("hint") >= EACH - 1, came


@pytest.mark.parametrize("kind", SHOWN)
def test_a_slip_in_the_sheet_is_told_with_what_is_drawn(kind: str, tmp_path: Path) -> None:
    told = 0
    for k in range(EACH):
        drawn = plan_sheet(kind, k)
        for label in drawn.told.seen:
            drawing, sheet = drawn.write(tmp_path, {label: SLIP})
            try:
                said = drawn_tubes(read_input(drawing, sheet))
            except InputError:
                # refused or in doubt, which is no wrong number
                continue
            message = " ".join(said[tube] for tube in drawn.tubes)
            assert (
                "as in the sheet" not in message.partition("column bend")[0] or len(drawn.tubes) > 1
            )
            assert "correct the drawing or the" in message or "Draw it" in message
            truth = abs(drawn.told.items[label])
            told += any(abs(float(n) - truth) <= 1.0 for n in re.findall(r"(\d+\.\d) mm", message))
    assert told >= EACH - 2


@pytest.mark.parametrize("kind", BENT)
def test_a_bend_of_the_drawing_that_the_sheet_leaves_out_is_told(kind: str, tmp_path: Path) -> None:
    for k in range(EACH):
        drawn = plan_sheet(kind, k)
        drawn.told.bends.clear()
        (tube,) = drawn.tubes
        reading = read_input(*drawn.write(tmp_path))
        message = drawn_tubes(reading)[tube]
        assert "column bend" in message
        assert "0.0 mm" in message
        assert not wrong(reading, drawn)


# --- a drawing alone ---------------------------------------------------------------------------------------------
TOLD_ALONE = {
    "mixte_single": {"side-further-tube"},
    "step_through": {"side-tube-bent"},
    "curved_top_tube": {"side-tube-bent"},
    "curved_down_tube": {"side-tube-bent"},
    "bent_seatstays": {"side-tube-bent"},
    "dropped_chainstays": {"side-tube-bent"},
    "stays_on_top_tube": {"side-stays-run-on", "side-further-tube"},
    "split_seatstays": {"side-further-tube"},
    "raised_chainstays": {"side-further-tube"},
    "truss_fork": {"side-further-tube"},
}


@pytest.mark.parametrize(("kind", "codes"), TOLD_ALONE.items())
def test_a_drawing_alone_tells_what_is_no_diamond(
    kind: str, codes: set[str], tmp_path: Path
) -> None:
    proposed = 0
    for k in range(EACH):
        drawn = plan_sheet(kind, k)
        try:
            reading = read_input(drawn.write(tmp_path)[0])
        except InDoubtError:
            continue
        told = {f.code: str(f.message) for f in reading.findings}
        assert codes & set(told), (kind, k)
        proposed += f"--plan {drawn.plan}" in " ".join(told[code] for code in codes & set(told))
    assert proposed >= EACH - 2 or "side-tube-bent" in codes


@pytest.mark.parametrize("kind", SHOWN)
def test_a_drawing_alone_and_its_plan_give_the_rows_of_a_sheet(kind: str, tmp_path: Path) -> None:
    keys = {item.label: item.key for item in PLANS[KINDS[kind].plan].items}
    measured = 0
    for k in range(EACH):
        drawn = plan_sheet(kind, k)
        try:
            reading = read_input(drawn.write(tmp_path)[0], options=ReadOptions(plan=drawn.plan))
        except InDoubtError:
            continue
        assert reading.view is not None
        (said,) = [f.message for f in reading.findings if f.code == "drawing-plan-measured"]
        for label in drawn.told.seen:
            value = reading.view.placing.get(keys[label])
            if value is None:
                # said as what the sheet has to tell
                assert label in str(said).partition("not to be seen here")[2]
                continue
            assert value == pytest.approx(drawn.told.items[label], abs=0.5)
            assert f"'{label}, {value:.1f}'" in str(said)
            measured += 1
    assert measured >= EACH - 1


def test_a_plan_that_is_not_drawn_is_told(tmp_path: Path) -> None:
    drawing, sheet = plan_sheet("tapered_head", 1).write(tmp_path)
    reading = read_input(drawing, options=ReadOptions(plan="mixte"))
    missing = {f.where for f in reading.findings if f.code == "drawing-tube-missing"}
    assert missing == {"lateral"}
    with pytest.raises(InputError, match="plan 'penny farthing' is not known"):
        read_input(drawing, options=ReadOptions(plan="penny farthing"))
    with pytest.raises(
        InputError, match="--plan says mixte with twin laterals and the sheet diamond"
    ):
        read_input(drawing, sheet, ReadOptions(plan="mixte"))
    with pytest.raises(InputError, match="--plan would do nothing here"):
        read_input(sheet, options=ReadOptions(plan="mixte"))


@pytest.mark.parametrize("plan", ["mixte", "mixte_single", "step_through"])
def test_seatstays_drawn_elsewhere_than_the_sheet_places_them_are_told(
    plan: str, tmp_path: Path
) -> None:
    bicycle = plan_starter(PLANS[plan])
    drawing = tmp_path / "f.dxf"
    sheet = tmp_path / "f.csv"
    draw_frame(bicycle, drawing)
    item = "seatstay_below_seat_tube_top"
    lower = {**bicycle.placing, item: bicycle.placing[item] + SLIP}
    write_fit_sheet(replace(bicycle, placing=lower), sheet)
    (said,) = [f for f in read_input(drawing, sheet).findings if f.code == "drawing-plan-differs"]
    assert said.where == "seat_tube_seatstay_node"
    assert f"{SLIP:.1f} mm from where" in str(said.message)


@pytest.mark.parametrize("up", [200.0, 270.0])
def test_a_seat_tube_far_above_a_low_top_tube_is_no_warning(up: float, tmp_path: Path) -> None:
    starter = plan_starter(PLANS["step_through"])
    top = starter.dimensions.top_tube_on_seat_tube
    assert top is not None
    bicycle = replace(starter, dimensions=replace(starter.dimensions, seat_tube=top + up))
    drawing = tmp_path / "f.dxf"
    draw_frame(bicycle, drawing)
    findings = read_input(drawing).findings
    assert [f for f in findings if f.severity != "info"] == []


def test_a_line_across_where_a_segmented_forks_shoulder_ends_is_no_other_race(
    tmp_path: Path,
) -> None:
    """Eight drawings whose blades begin at the crown race, with a line across at the shoulder's end."""
    answered = 0
    for k in range(EACH):
        drawn = plan_sheet("segmented_fork", k)
        drawing, sheet = drawn.write(tmp_path)
        alone = read_input(drawing)
        doubts = [
            f for f in alone.findings if (f.code, f.where) == ("side-steering-doubt", LOWER_RACE)
        ]
        beside = read_input(drawing, sheet)
        assert not [f for f in beside.findings if f.code == "side-steering-doubt"]
        answered += bool(doubts)
    assert answered
