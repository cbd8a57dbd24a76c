"""The type of bicycle, which sets the peak loads of ISO 4210: from the sheet, from --set, refused when unknown."""

import pytest
from droptrail.converters.files.fitsheet.write_sheet import write_fit_sheet
from droptrail.converters.inputs import ReadOptions, read_input
from droptrail.model.cases.iso import PEAK_LOADS
from droptrail.model.errors import FrameError, InputError
from droptrail.model.frame.bicycle import BICYCLE_TYPES
from helpers_bicycle import tourer


@pytest.fixture
def sheet(tmp_path):
    path = tmp_path / "sheet.csv"
    write_fit_sheet(tourer(), path)
    return path


def with_row(sheet, value):
    lines = sheet.read_text(encoding="utf-8").splitlines()
    sheet.write_text(
        "\n".join([lines[0], f"type of bicycle,{value},,", *lines[1:]]), encoding="utf-8"
    )
    return sheet


def test_every_type_has_its_loads():
    assert tuple(PEAK_LOADS) == BICYCLE_TYPES


def test_city_where_nothing_is_said(sheet):
    assert read_input(sheet).need_bicycle().bicycle_type == "city"


@pytest.mark.parametrize(
    ("written", "kind"),
    [
        ("racing", "racing"),
        ("Young Adult", "young adult"),
        ("young_adult", "young adult"),
        ("Mountain", "mountain"),
    ],
)
def test_from_the_sheet_and_from_a_setting(sheet, written, kind):
    assert (
        read_input(
            sheet, None, ReadOptions(settings=(f"bicycle_type={written}",))
        ).bicycle.bicycle_type
        == kind
    )
    bicycle = read_input(with_row(sheet, written)).need_bicycle()
    assert bicycle.bicycle_type == kind
    write_fit_sheet(bicycle, sheet, force=True)
    assert read_input(sheet).need_bicycle().bicycle_type == kind


def test_unknown_types_are_refused(sheet):
    with pytest.raises(
        FrameError, match="bicycle type 'tandem' is not known; known: city, young adult"
    ):
        read_input(sheet, None, ReadOptions(settings=("bicycle_type=tandem",)))
    with pytest.raises(
        InputError, match=r"row 2, column value: bicycle type 'recumbent', expected one of: city"
    ):
        read_input(with_row(sheet, "recumbent"))
