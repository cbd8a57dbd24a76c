"""Texts and tables on a sheet against what its lines measure. Terms: common practice of the trade, no source."""

import numpy as np
import pytest
from droptrail.converters.drawings.drawing import Drawing, Note
from droptrail.converters.drawings.sideview.read import read_side_view
from droptrail.converters.drawings.sideview.written import claims, written_findings
from helpers_bicycle import tourer_dimensions
from helpers_finish import Finish, plain_sheet, write
from helpers_habits import random_drawn_frame


def told(*texts: str) -> list[str]:
    """What is said against texts on a sheet of the tourer: head angle 71.8, chainstay 452, drop 76."""
    notes = tuple(Note(text, (0.0, -20.0 * k), 5.0, handle=f"{k}") for k, text in enumerate(texts))
    held = Drawing((), notes)
    return [f.message for f in written_findings(held, tourer_dimensions(), 1.0, 0.0)]


AGREES = (
    "HEAD ANGLE 71.8",
    "Head angle: 72°",
    "Lenkwinkel = 71,8°",
    "Chainstay (c-c): 452 mm",
    'CHAINSTAY 17.8"',
    "Kettenstrebenlänge 45.2 cm",
    "Tretlagerabsenkung 76",
    "Steuerrohr 71.8 Grad / Sitzrohr 72.6 Grad",
    "FORK RAKE 50",
    "angle de direction 71.8 deg",
    "Top tube 28.6 x 0.8",
    "HEAD TUBE 36",
    "headset stack 13",
    "SCALE 1:10",
)
DIFFERS = (
    ("HEAD ANGLE 73", "head angle of 71.8 degrees"),
    ("Lenkwinkel = 70,8°", "head angle of 71.8 degrees"),
    ("Chainstay: 445", "chainstay length of 452 mm"),
    ('CHAINSTAY 17.5"', "chainstay length of 452 mm"),
    ("Vorbiegung 45", "fork offset of 50 mm"),
    ("REACH 390 STACK 592.4", "reach of 379 mm"),
    ("Steuerrohr 73 Grad", "head angle of 71.8 degrees"),
    ("HEAD TUBE 180", "head tube length of 158 mm"),
)


@pytest.mark.parametrize("text", AGREES)
def test_what_agrees_or_means_something_else_is_not_told(text):
    assert told(text) == []


@pytest.mark.parametrize(("text", "measured"), DIFFERS)
def test_what_differs_is_told_with_what_the_lines_measure(text, measured):
    (said,) = told(text)
    assert measured in said


def test_a_row_of_a_table_holds_the_number_of_its_term():
    label = Note("Head angle", (0.0, 0.0), 5.0)
    row = [label, Note("70.0", (100.0, 1.0), 5.0), Note("73", (150.0, 0.0), 5.0)]
    below = Note("440", (100.0, -10.0), 5.0)
    (claim,) = claims([*row, below])
    assert claim.items == ("head_angle",)
    assert [number for number, _ in claim.numbers] == ["70.0", "73"]


def test_one_size_of_a_table_that_agrees_is_enough():
    def row(*numbers: str) -> list[Note]:
        cells = [Note(n, (100.0 + 40.0 * k, 0.0), 5.0) for k, n in enumerate(numbers)]
        return [Note("Chainstay", (0.0, 0.0), 5.0), *cells]

    d = tourer_dimensions()
    for numbers, count in ((("440", "452", "460"), 0), (("440", "446"), 1)):
        held = Drawing((), tuple(row(*numbers)))
        assert len(list(written_findings(held, d, 1.0, 0.0))) == count


@pytest.mark.parametrize("inches", [False, True])
@pytest.mark.parametrize(("words", "warned"), [("true", False), ("wrong", True)])
def test_on_whole_drawings(inches, words, warned, tmp_path):
    for number in range(4):
        rng = np.random.default_rng((5, number))
        frame = random_drawn_frame(rng)
        how = Finish(words=words, inches=inches)
        path = write(plain_sheet(frame, how, rng), frame, how, tmp_path / "a.dxf", rng)
        found = {f.code for f in read_side_view(path).findings}
        assert ("side-note-differs" in found) == warned
