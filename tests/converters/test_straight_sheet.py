"""Straight-and-tapered tubes and ovals that end round in a fit sheet: written, read again, options, refused by row."""

import pytest
from droptrail.converters.files.choice.catalogue import load_catalogue
from droptrail.converters.files.choice.option_text import tube_options
from droptrail.converters.files.choice.variants_table import read_variants
from droptrail.converters.files.fitsheet.write_sheet import write_fit_sheet
from droptrail.converters.inputs import read_input
from droptrail.model.errors import InputError
from droptrail.model.tubes.tube import Tube
from helpers_bicycle import STEEL, tourer

BLADE = Tube(STEEL, 24.0, 13.0, (1.0,), straight=(180.0, 0.0))
OVAL = Tube(STEEL, 30.0, 14.0, (0.8,), oval_width=17.0, oval_end=14.0, straight=(80.5, 20.0))
SQUEEZED = Tube(STEEL, 16.0, 18.0, (0.8,), oval_width=16.0, oval_end=12.0)
SHEET = """item,value,unit,note
reach,379,mm,
head angle,71.8,deg,
seat angle,72.6,deg,
bottom bracket drop,76,mm,
chainstay length,452,mm,
head tube length,158,mm,
lower headset stack,13,mm,
fork length along axis,389,mm,
fork offset,50,mm,
front wheel radius,348,mm,
rear wheel radius,348,mm,
seat tube centre to top,550,mm,

{header}
{row}
"""
HEADER = "tube,outside diameter,wall,material"


def read(tmp_path, row, header=HEADER):
    path = tmp_path / "sheet.csv"
    path.write_text(SHEET.format(header=header, row=row), encoding="utf-8")
    return read_input(path).need_bicycle().tubes


@pytest.mark.parametrize("ending", [".csv", ".xlsx"])
def test_they_survive_writing_and_reading(tmp_path, ending):
    path = tmp_path / f"sheet{ending}"
    written = tourer(fork_blade=BLADE, chainstay=OVAL, seatstay=SQUEEZED)
    write_fit_sheet(written, path)
    tubes = read_input(path).need_bicycle().tubes
    assert tubes == written.tubes


@pytest.mark.parametrize(
    ("row", "header"),
    [
        ("fork blade,24-13 after 180,1,4130", HEADER),
        ("fork blade,24-13,180,1,4130", "tube,outside diameter,straight,wall,material"),
        ("fork blade,24-13,18,1,4130", "tube,outside diameter,straight length (cm),wall,material"),
        ("Gabelscheide,24-13,180,1,4130", "Rohr,Außendurchmesser,zylindrisch,Wandstärke,Werkstoff"),
    ],
)
def test_the_straight_length_stands_behind_after_or_in_its_column(tmp_path, row, header):
    assert read(tmp_path, row, header)["fork_blade"] == BLADE


def test_the_width_may_have_its_own_column_with_both_ends(tmp_path):
    header = "tube,outside diameter,oval width,straight,wall,material"
    tube = read(tmp_path, "chainstay,30-14,17-14,80.5/20,0.8,4130", header)["chainstay"]
    assert tube == OVAL


@pytest.mark.parametrize(
    ("row", "header", "words"),
    [
        (
            "fork blade,24 after 180,1,4130",
            HEADER,
            r"row 16, column outside diameter: '24 after 180' does not taper, so nothing comes after",
        ),
        (
            "fork blade,24-13 after 1800,1,4130",
            HEADER,
            r"'24-13 after 1800' is 1800 mm, expected 0 to 700 mm; check the value and its unit",
        ),
        (
            "fork blade,24-13 after 180,180,1,4130",
            "tube,outside diameter,straight,wall,material",
            r"column straight: '180': the outside diameter '24-13 after 180' states a straight length too",
        ),
        (
            "fork blade,24,180,1,4130",
            "tube,outside diameter,straight,wall,material",
            r"column straight: '180': the outside diameter '24' does not taper; write both ends",
        ),
        (
            "fork blade,24-13,long,1,4130",
            "tube,outside diameter,straight,wall,material",
            r"row 16, column straight: 'long' is not a number",
        ),
        (
            "chainstay,30-14,17-16-14,0.8,4130",
            "tube,outside diameter,oval width,wall,material",
            r"column oval width: '17-16-14': expected the width across, or the widths at both ends",
        ),
    ],
)
def test_what_cannot_be_is_refused_with_row_and_column(tmp_path, row, header, words):
    with pytest.raises(InputError, match=words):
        read(tmp_path, row, header)


def test_options_catalogues_and_variants_know_them(tmp_path):
    bicycle = tourer()
    _, options = tube_options("fork_blade=24-13 after 180x1,30x17-14x0.8", bicycle)
    assert options[0] == BLADE
    assert options[1] == Tube(STEEL, 30.0, 14.0, (0.8,), oval_width=17.0, oval_end=14.0)
    stock = tmp_path / "own.csv"
    stock.write_text(
        "name,outside diameter,straight,wall,material,use\nlong blade,24-13,180,1.0,4130,fork blade\n",
        encoding="utf-8",
    )
    assert load_catalogue(stock).find("long blade").tube == BLADE
    table = tmp_path / "variants.csv"
    table.write_text(
        "variant,tube,outside diameter,straight\nlong,fork blade,24-13,180\nshort,fork blade,,60\n",
        encoding="utf-8",
    )
    first, second = read_variants(table, bicycle)
    assert first.tubes["fork_blade"] == BLADE
    assert second.tubes["fork_blade"].straight == (60.0, 0.0)
