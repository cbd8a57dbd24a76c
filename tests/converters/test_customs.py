"""Full sheets with the customs of many workshops at once (helpers_customs), each through a DXF file of its own."""

from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from droptrail.converters.drawings.drawing import Drawing
from droptrail.converters.drawings.dxf.read_dxf import read_dxf
from droptrail.converters.drawings.sideview.recognise import recognise
from helpers_customs import Customs, custom_sheet
from helpers_habits import DrawnFrame
from test_workshop_sheets import off, outcome, true_items, warnings

FIRST = 5000
COUNT = 100


def custom(number: int, folder: Path) -> tuple[DrawnFrame, Customs, Drawing]:
    frame, how, placed = custom_sheet(np.random.default_rng((91, number)))
    path = placed.dxf("R2000").write(folder / "sheet.dxf", encoding="utf-8")
    return frame, how, read_dxf(path)


@pytest.mark.slow
def test_random_customs(tmp_path):
    """What lacks a part may be refused, nothing is silently wrong; whole frames are read right, nineteen in twenty."""
    seen: Counter[str] = Counter()
    for number in range(FIRST, FIRST + COUNT):
        frame, how, drawing = custom(number, tmp_path)
        result = outcome(frame, drawing)
        assert not result.startswith("silent"), f"{number} {how}: {result}"
        if not how.missing:
            seen[result.partition(":")[0]] += 1
    assert seen["right"] + seen["right after a hint"] >= 0.95 * sum(seen.values()), seen


@pytest.mark.parametrize(
    ("number", "what"),
    [
        (8, "two top tubes side by side, one edge of which could be one as well"),
        (20, "the cones of a jig beyond both ends of the head tube's centre-line"),
        (87, "a line across above the upper end of a fork that is drawn as one line"),
        (202, "cups in line with the head tube, each closed for itself"),
        (236, "one side of a steerer in pieces, running on beyond the head tube"),
    ],
)
def test_customs_that_were_misread(number, what, tmp_path):
    frame, _, drawing = custom(number, tmp_path)
    assert off(recognise(drawing), true_items(frame)) == [], what


def test_a_spoke_through_the_axle_is_no_seatstay(tmp_path):
    frame, how, drawing = custom(22, tmp_path)
    assert how.missing == "seatstay"
    view = recognise(drawing)
    assert off(view, true_items(frame)) == []
    assert view.dimensions.seatstay_below_top_tube is None
    assert "side-member-missing" in warnings(view)


@pytest.mark.parametrize("number", [10, 18])
def test_a_hole_of_the_dropout_does_not_mark_the_axle(number, tmp_path):
    """A hole of 4.5 mm radius 34 mm from the axle: its circle does not hold the axle."""
    frame, how, drawing = custom(number, tmp_path)
    assert "dropouts" in how.things
    view = recognise(drawing)
    assert off(view, true_items(frame)) == []
    assert "side-node-disagrees" not in warnings(view)


def test_the_comparison_can_fail(tmp_path):
    frame, _, drawing = custom(20, tmp_path)
    wrong = true_items(frame) | {"head_tube": frame.dimensions.head_tube + 18.0}
    assert off(recognise(drawing), wrong)
