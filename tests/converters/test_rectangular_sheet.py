"""Rectangular tubes in a fit sheet: a column for the corner radius, written back and read again, refused by row."""

import pytest
from droptrail.converters.files.choice.catalogue import load_catalogue
from droptrail.converters.files.fitsheet.write_sheet import write_fit_sheet
from droptrail.converters.inputs import read_input
from droptrail.model.errors import InputError
from droptrail.model.tubes.tube import Tube
from helpers_bicycle import STEEL, tourer

STAY = Tube(STEEL, 26.0, 20.0, (1.0,), oval_width=16.0, corner=4.0)


@pytest.mark.parametrize("ending", [".csv", ".xlsx"])
def test_a_rectangular_stay_survives_writing_and_reading(tmp_path, ending):
    path = tmp_path / f"sheet{ending}"
    write_fit_sheet(tourer(chainstay=STAY), path)
    tubes = read_input(path).need_bicycle().tubes
    assert tubes["chainstay"] == STAY
    assert tubes["seatstay"].corner is None


def test_a_sheet_without_rectangular_tubes_has_no_such_column(tmp_path):
    path = tmp_path / "sheet.csv"
    write_fit_sheet(tourer(), path)
    header = next(
        line for line in path.read_text(encoding="utf-8").splitlines() if line.startswith("tube,")
    )
    assert "corner" not in header


@pytest.mark.parametrize(
    ("corner", "words"),
    [
        (
            "9",
            r"sheet.csv, row \d+, chainstay: corner radius 9.0 mm: it must lie between the wall, 1.0 mm, and half the"
            r".*; a rectangular tube is written height x width",
        ),
        ("sharp", r"^sheet.csv, row \d+, column corner: 'sharp' is not a number$"),
    ],
)
def test_an_impossible_corner_is_refused_with_its_row(tmp_path, corner, words):
    path = tmp_path / "sheet.csv"
    write_fit_sheet(tourer(chainstay=STAY), path)
    text = path.read_text(encoding="utf-8")
    assert ",4130,4," in text
    path.write_text(text.replace(",4130,4,", f",4130,{corner},"), encoding="utf-8")
    with pytest.raises(InputError, match=words):
        read_input(path)


def test_a_catalogue_may_hold_them(tmp_path):
    path = tmp_path / "own.csv"
    path.write_text(
        "name,outside diameter,wall,corner radius,material,use\n"
        "box stay,26-20x16,1.0,4,4130,chainstay\n",
        encoding="utf-8",
    )
    assert load_catalogue(path).find("box stay").tube == STAY
