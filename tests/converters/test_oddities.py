"""Further ways of drawing (helpers_oddities), each through a DXF file: read right, warned of nothing but what is so."""

from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from droptrail.converters.drawings.dxf.read_dxf import read_dxf
from droptrail.converters.drawings.sideview.recognise import recognise
from helpers_oddities import ODDITIES, odd_sheet
from test_workshop_sheets import off, outcome, true_items, warnings

# A face of the head tube that the top tube lies over is known on one side only.
TOLD = {"silhouette": {"side-steering-doubt"}, "brakes": {"side-second-line"}}
ALWAYS = {"side-unusual", "side-tilted"}  # said of the frame or of how it lies, however it is drawn
EACH = 6


def drawn(name: str, number: int, folder: Path):
    rng = np.random.default_rng((137, list(ODDITIES).index(name), number))
    frame, placed = odd_sheet(name, rng)
    path = placed.dxf(str(rng.choice(["R12", "R2000"]))).write(folder / "odd.dxf", encoding="utf-8")
    return frame, read_dxf(path)


@pytest.mark.parametrize("name", ODDITIES)
def test_an_odd_way_of_drawing_is_read_right(name, tmp_path):
    for number in range(2):
        frame, drawing = drawn(name, number, tmp_path)
        view = recognise(drawing)
        if name == "two sizes":
            # edges of either may be taken for one tube; that is told by the lines left over
            assert off(view, true_items(frame)) == [] or "side-second-line" in warnings(view)
            continue
        assert off(view, true_items(frame)) == [], number
        assert warnings(view) - ALWAYS <= TOLD.get(name, set()), number


@pytest.mark.slow
@pytest.mark.parametrize("name", ODDITIES)
def test_odd_ways_at_random(name, tmp_path):
    """Nothing silently wrong; of a habit's sheets all but one are right or right after a hint."""
    seen: Counter[str] = Counter()
    for number in range(100, 100 + EACH):
        frame, drawing = drawn(name, number, tmp_path)
        result = outcome(frame, drawing)
        assert not result.startswith("silent"), f"{number}: {result}"
        seen[result.partition(":")[0]] += 1
    assert seen["right"] + seen["right after a hint"] >= EACH - 1, seen


def test_the_comparison_can_fail(tmp_path):
    frame, drawing = drawn("sketch", 0, tmp_path)
    wrong = true_items(frame) | {"trail": frame.dimensions.trail + 1.0}
    assert off(recognise(drawing), wrong)
