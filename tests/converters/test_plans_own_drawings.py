"""What droptrail draws of a plan it reads as that plan: the same figures, and no warning that its sheet does not have.

Every known plan, alone and with each extra of a starter sheet, and every two plans that go together.
"""

from itertools import combinations
from pathlib import Path

import pytest
from droptrail.converters.files.drafting.frame import draw_frame
from droptrail.converters.files.fitsheet.starter import EXTRAS, plan_starter, with_extras
from droptrail.converters.files.fitsheet.write_sheet import write_fit_sheet
from droptrail.converters.inputs import Reading, ReadOptions, read_input
from droptrail.model.errors import ModelError
from droptrail.model.frame.bicycle import Bicycle
from droptrail.model.geometry.statements import FIELDS
from droptrail.model.tubes.known_plans import DIAMOND, PLANS, plan_named
from droptrail.validation.drawing_check import against_sheet

pytestmark = pytest.mark.slow

# Two pairs of stays that end 20 mm apart on the top tube lie on one another in the side view.
ALIKE = {"stays_on_top_tube + split_seatstays"}
# Of two tubes from seat tube to head tube, the upper one bent or neither a top tube, one is taken with a warning.
WARNED = {
    f"{one} + second_top_tube" for one in ("mixte_single", "step_through", "step_through_twin")
}


def _pairs() -> list[object]:
    """Two plans as one, where they go together."""
    named: list[object] = []
    for one, other in combinations([name for name in PLANS if name != DIAMOND.name], 2):
        text = f"{one} + {other}"
        try:
            plan_named(text)
        except ModelError:
            continue
        if text in WARNED:
            named.append(pytest.param(text, marks=pytest.mark.xfail(strict=True)))
        elif text not in ALIKE:
            named.append(text)
    return named


def _files(bicycle: Bicycle, folder: Path) -> tuple[Path, Path]:
    sheet = folder / "frame.csv"
    drawing = folder / "frame.dxf"
    write_fit_sheet(bicycle, sheet)
    draw_frame(bicycle, drawing)
    return drawing, sheet


def _told(reading: Reading) -> set[tuple[str, str]]:
    return {(f.code, f.where) for f in reading.findings if f.severity != "info"}


def _assert_read_as_drawn(bicycle: Bicycle, folder: Path) -> None:
    drawing, sheet = _files(bicycle, folder)
    beside = read_input(drawing, sheet)
    assert _told(beside) <= _told(read_input(sheet))
    assert beside.view is not None
    assert [row.item for row in against_sheet(beside, 0.05) if row.ok is False] == []
    for name in FIELDS:
        drawn = getattr(beside.view.dimensions, name)
        stated = getattr(bicycle.dimensions, name)
        if drawn is not None and stated is not None:
            assert drawn == pytest.approx(stated, abs=0.05), name


@pytest.mark.parametrize("extra", [None, *EXTRAS])
@pytest.mark.parametrize("name", PLANS)
def test_the_own_drawing_of_a_plan_is_read_as_drawn(
    name: str, extra: str | None, tmp_path: Path
) -> None:
    bicycle = plan_starter(PLANS[name])
    try:
        bicycle = with_extras(bicycle, [extra] if extra else [])
    except ModelError:
        pytest.skip("a fork of its own, so no given one")
    _assert_read_as_drawn(bicycle, tmp_path)


@pytest.mark.parametrize("plan", _pairs())
def test_the_own_drawing_of_two_plans_as_one_is_read_as_drawn(plan: str, tmp_path: Path) -> None:
    _assert_read_as_drawn(plan_starter(plan_named(plan)), tmp_path)


@pytest.mark.parametrize("name", PLANS)
def test_the_own_drawing_with_its_plan_named_gives_the_items_of_its_sheet(
    name: str, tmp_path: Path
) -> None:
    bicycle = plan_starter(PLANS[name])
    drawing, _ = _files(bicycle, tmp_path)
    alone = read_input(drawing, options=ReadOptions(plan=name))
    assert _told(alone) == set()
    assert alone.view is not None
    for key, value in alone.view.placing.items():
        assert value == pytest.approx(bicycle.placing[key], abs=0.5), key
