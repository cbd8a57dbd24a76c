"""A hidden worksheet is an old revision more often than not: the first visible one is read."""

from pathlib import Path

import openpyxl
from droptrail.converters.inputs import read_input

SAMPLE = Path(__file__).parents[2] / "sample_drawings" / "gravel_700c.xlsx"


def test_the_first_visible_worksheet_is_read(tmp_path):
    book = openpyxl.load_workbook(SAMPLE)
    old = book.copy_worksheet(book.worksheets[0])
    old.title, old.sheet_state = "old", "hidden"
    for row in old.iter_rows(max_col=2):
        if str(row[0].value).lower().startswith(("bb drop", "drop", "bottom bracket drop")):
            row[1].value = 40
    book.move_sheet(old, -len(book.worksheets))
    book.active = 1
    book.save(tmp_path / "two.xlsx")
    assert openpyxl.load_workbook(tmp_path / "two.xlsx").worksheets[0].title == "old"
    reading, alone = read_input(tmp_path / "two.xlsx"), read_input(SAMPLE)
    assert reading.bicycle.dimensions == alone.bicycle.dimensions
    assert any("'old' (hidden)" in finding.message for finding in reading.findings)
