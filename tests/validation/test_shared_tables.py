"""Tables that terminal, report and spreadsheets share: the same rows, whoever shows them, none judged unasked."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from droptrail.cli.main import main
from droptrail.converters.inputs import read_input
from droptrail.model.vibration.cadence import FrequencyGap
from droptrail.validation.check import check
from droptrail.validation.drawing_check import DimensionRow
from droptrail.validation.opensees.agreement import CrossCheck
from droptrail.validation.report.facts import report_facts
from droptrail.validation.tables import (
    cross_table,
    dimension_table,
    gap_words,
    nearest_pushes,
    response_table,
)
from droptrail.validation.vibration import vibrate

SAMPLES = Path(__file__).parents[2] / "sample_drawings"


def squeezed(text: str) -> str:
    return " ".join(text.split())


def test_terminal_and_report_show_the_same_dimension_rows(capsys):
    files = SAMPLES / "tourer_700c.dxf", SAMPLES / "tourer_700c.csv"
    facts = report_facts(check(read_input(*files)))
    main(["check", str(files[0]), "--sheet", str(files[1]), "--full"])
    told = squeezed(capsys.readouterr().out)
    for table in facts.drawing.tables:
        assert len(table.rows) > 3
        for row in table.texts():
            assert squeezed(" ".join(row)) in told


ROWS = (
    DimensionRow("trail", 61.78, 60.0, 1.78, 1.0, "mm", False),
    DimensionRow("reach", 380.0, None, None, 1.0, "mm", None),
    DimensionRow("head_angle", 71.8, 71.8, 0.0, 0.1, "deg", True),
)


def test_an_item_the_sheet_does_not_state_is_not_judged():
    table = dimension_table(ROWS)
    said = table.texts()
    assert said[0] == ["trail", "61.78", "60.00", "+1.78", "1", "mm", "NO"]
    assert [row[-1] for row in said] == ["NO", "not stated", "yes"]
    assert said[1][2:4] == ["-", "-"]
    assert [table.verdict(row) for row in table.rows] == [False, None, True]
    words = [column.key for column in table.columns if column.align == "left"]
    assert words == ["item", "unit", "within"]


def test_numbers_of_a_shared_table_stay_numbers():
    assert dimension_table(ROWS).rows[0][1:4] == (61.78, 60.0, 1.78)


def test_a_case_that_was_not_compared_says_why():
    table = cross_table({"seated": CrossCheck("seated", "too large")}, {"seated": "Seated rider"})
    assert table.rows == [("Seated rider", None, None, None, "not compared: too large")]
    assert table.texts() == [["Seated rider", "-", "-", "-", "not compared: too large"]]
    assert table.verdict(table.rows[0]) is None


def test_the_nearest_push_of_a_mode_is_told_and_where_it_is_met():
    far, near = (
        FrequencyGap(3, 5.6, 1, "sideways", -40.0, 110.0),
        FrequencyGap(3, 5.6, 4, "up and down", 0.0, 84.7),
    )
    assert nearest_pushes([far, near]) == nearest_pushes([near, far]) == {3: near}
    assert gap_words(near) == ("up and down, 4 per turn, at 85 rpm", "meets it")
    assert gap_words(far) == ("sideways, 1 per turn", "-40 %")
    assert gap_words(None) == ("-", "-")


def test_the_largest_swing_is_the_largest_over_the_cadences():
    moved = vibrate(read_input(SAMPLES / "tourer_700c.csv"), count=6).response
    rows = {row[0]: row[1:] for row in response_table(moved).rows}
    for place, amplitude in moved.amplitude.items():
        swing, rpm, more = rows[f"{place}, sideways"]
        assert swing == pytest.approx(np.max(amplitude[:, 2]))
        worst = int(np.argmin(np.abs(moved.cadences - rpm)))
        assert amplitude[worst, 2] == pytest.approx(swing)
        assert more == pytest.approx(moved.amplification[place][worst, 2])
    unmoved = replace(moved, static={place: 0 * still for place, still in moved.static.items()})
    assert all(row[-1] is None for row in response_table(unmoved).rows), (
        "no ratio to a motion that vanishes"
    )
