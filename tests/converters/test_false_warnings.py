"""Sheets that are read right are warned of nothing; what lacks a part is refused. Each was a false word once."""

import numpy as np
import pytest
from droptrail.converters.drawings.labelling.choice import choose
from droptrail.converters.drawings.linework.evidence import settled
from droptrail.converters.drawings.linework.pieces import cut
from droptrail.converters.drawings.linework.rounds import find_rounds
from droptrail.converters.drawings.sideview.recognise import recognise
from droptrail.model.errors import InputError
from test_customs import custom
from test_workshop_sheets import off, sheet_of, true_items, warnings

UNUSUAL = {"side-unusual"}  # a frame that is no usual one is so however it is drawn


@pytest.mark.parametrize(
    ("number", "what"),
    [
        (50018, "an older top tube in dashes within and beside a bent one"),
        (50031, "a bent top tube in pieces, which is no curve for that"),
        (50184, "one edge of a bent tube in six pieces, the other in one"),
        (50122, "a level chainstay, an axle's cross and a dimension's line that touch one another"),
        (50142, "a bag's side along the top tube, on the layer for bags"),
        (50006, "a line of the rider's fit along the seat tube, which ends 0.15 mm past the shell"),
        (50009, "the line that shows the stack"),
        (50088, "a chain, from chainring to sprocket"),
        (50106, "one edge of a second top tube"),
        (50123, "an axis that runs along a tube, 190 mm farther"),
        (50154, "a bag's side and an older line about a centre-line"),
        (50064, "a small front wheel, and a tyre that has the size of a bead seat"),
        (51002, "a sheet turned by half a degree, with all that is on it"),
        (51042, "a line of a jig half a millimetre below the crown of a bare fork"),
        (
            51086,
            "the rider's fit and the stack lead from axle to head tube by way of the shell, as no fork does",
        ),
        (50173, "rings whose edges end half a millimetre apart"),
    ],
)
def test_a_sheet_read_right_is_warned_of_nothing(number, what, tmp_path):
    frame, _, drawing = custom(number, tmp_path)
    view = recognise(drawing)
    assert off(view, true_items(frame)) == [], what
    assert warnings(view) - UNUSUAL == set(), what


@pytest.mark.parametrize("number", [6032, 50191])
def test_spokes_below_the_cone_of_a_jig_are_no_fork(number, tmp_path):
    _, how, drawing = custom(number, tmp_path)
    assert how.missing == "fork"
    with pytest.raises(InputError):
        recognise(drawing)


@pytest.mark.parametrize(("number", "what"), [(10139, "blade"), (14144, "bag")])
def test_a_head_tube_is_read_although_a_steerer_is_drawn_in_it(number, what):
    """A blade's edges in line with the steerer's; a bent down tube that the side of a bag crosses."""
    frame, _, drawing = sheet_of(number)
    assert off(recognise(drawing), true_items(frame)) == [], what


def test_a_blade_in_line_with_a_hidden_steerer_leaves_the_head_tube_its_fork(tmp_path):
    frame, _, drawing = custom(6186, tmp_path)
    assert off(recognise(drawing), true_items(frame)) == []


def test_two_lines_that_a_short_one_joins_stay_two(tmp_path):
    """The chainstay falls 4.6 mm from axle to shell; the dimension's line through the axle is level to the last bit."""
    frame, _, drawing = custom(50122, tmp_path)
    rounds = find_rounds(drawing.curves)
    taken = frozenset(i for r in rounds for i in (*r.curves, *r.copies))
    evidence = settled(drawing.curves, None, None)
    choice = choose(drawing, rounds, cut(drawing.curves, taken), evidence)
    line = choice.reading.members["chainstay"]
    assert line is not None
    fall = np.degrees(np.arctan2(line.u[1], line.u[0]))
    d = frame.dimensions
    assert fall == pytest.approx(-np.degrees(np.arcsin(d.bb_drop / d.chainstay)), abs=0.02)
