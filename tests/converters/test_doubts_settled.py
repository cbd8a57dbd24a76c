"""What a refusal in doubt proposes: picks with what each gives, a word of the sheet's, layers and colours by name."""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from droptrail.converters.drawings.drawing import Drawing
from droptrail.converters.drawings.labelling.doubt import InDoubtError, _told
from droptrail.converters.drawings.sideview.recognise import recognise
from droptrail.converters.inputs import ReadOptions, _sheets_word, read_input
from droptrail.model.errors import InputError
from helpers_habits import Habit, draw, place, random_drawn_frame

SAMPLES = Path(__file__).parents[2] / "sample_drawings"


def two_top_tubes() -> Drawing:
    """A centre-line frame with a second top tube, 20 mm farther down on both tubes that it joins."""
    frame = random_drawn_frame(np.random.default_rng(3))
    sheet = draw(frame, Habit(), np.random.default_rng(1))
    d = frame.dimensions
    low = d.seat_tube_top_tube_node.along(d.seat_up, -20.0)
    sheet.line(low, d.top_tube_head_node.along(d.axis_up, -20.0), "top_tube")
    return place(sheet).drawing()


def refusal(drawing: Drawing) -> InDoubtError:
    with pytest.raises(InDoubtError) as refused:
        recognise(drawing)
    return refused.value


def test_each_proposed_pick_says_what_it_gives():
    drawing = two_top_tubes()
    doubt = refusal(drawing)
    told = re.findall(
        r"--pick top_tube=(\w+) -> trail ([\d.]+), stack (\d+), (.+?) ([\d.]+)(?: or|$)", str(doubt)
    )
    assert len(told) == 2
    for handle, trail, stack, name, value in told:
        d = recognise(drawing, pick={"top_tube": handle}).dimensions
        assert (float(trail), float(stack)) == pytest.approx((d.trail, d.stack), abs=0.51)
        assert name == "top tube on seat tube"
        assert float(value) == pytest.approx(d.top_tube_on_seat_tube, abs=0.06)


def test_lines_are_left_out_by_colour_and_by_layer():
    drawing = two_top_tubes()
    second = len(drawing.curves) - 1
    coloured = [replace(c, colour=1) if i == second else c for i, c in enumerate(drawing.curves)]
    view = recognise(replace(drawing, curves=tuple(coloured)), layers={"colour 1": "ignore"})
    red = recognise(replace(drawing, curves=tuple(coloured)), layers={"Color Red": "ignore"})
    assert red.dimensions == view.dimensions
    layered = [replace(c, layer="OLD") if i == second else c for i, c in enumerate(drawing.curves)]
    other = recognise(replace(drawing, curves=tuple(layered)), layers={"old": "ignore"})
    assert view.dimensions == other.dimensions
    frame = random_drawn_frame(np.random.default_rng(3))
    assert view.dimensions.top_tube_on_seat_tube == pytest.approx(
        frame.dimensions.top_tube_on_seat_tube, abs=1e-6
    )


def test_a_colour_that_nothing_has_is_refused_with_those_that_are_there():
    with pytest.raises(InputError, match="colours: 7, each as 'colour 1'"):
        recognise(two_top_tubes(), layers={"colour 3": "ignore"})


def test_the_sheet_says_which_reading_it_agrees_with_and_never_decides():
    sheet = SAMPLES / "tourer_700c.csv"
    d = read_input(sheet).dimensions
    other = replace(d, head_tube=d.head_tube + 12.0)
    readings = [("--pick head_tube=1", d), ("--pick head_tube=2", other)]
    said = _sheets_word(readings, sheet, ReadOptions())
    assert "agrees with --pick head_tube=1 (--pick head_tube=2 differs in head tube length)" in said
    assert _sheets_word([readings[0], ("--pick head_tube=3", d)], sheet, ReadOptions()) == ""
    assert _sheets_word(readings, None, ReadOptions()) == ""
    longer = [("--pick head_tube=4", replace(d, head_tube=d.head_tube + 20.0)), readings[1]]
    none = _sheets_word(longer, sheet, ReadOptions())
    assert "agrees with neither (--pick head_tube=4 differs in head tube length; " in none
    assert "--pick head_tube=2 differs in head tube length" in none


def test_readings_that_differ_in_a_tubes_thickness_alone_are_told():
    d = read_input(SAMPLES / "tourer_700c.csv").dimensions
    thicker = replace(d, given=d.given._replace(top_tube_half=d.given.top_tube_half + 3.0))
    assert _told(d, [d, thicker]) == f"trail {d.trail:.1f}, stack {d.stack:.0f}"
