"""Tube catalogues: the generic one, a builder's own in CSV and XLSX, warnings and refusals with their place."""

import re

import numpy as np
import pytest
from droptrail.converters.files.choice.catalogue import GENERIC, load_catalogue
from droptrail.model.errors import InputError, ModelError
from droptrail.model.reanalysis.tube_flexibility import tube_flexibilities
from droptrail.model.tubes.known_plans import DIAMOND
from openpyxl import Workbook

OWN = """\
# my shelf
name;outside diameter (mm);wall (mm);butts;taper;oval width;material;use;note
long butt;28,6;0,8/0,5/0,8;120/80;40/30;;4130;top tube/down tube;cut from the middle
inch;1 1/8 in;0.035 in;;;;steel;seat tube;
oval stay;30-16;0,8;;;16;house alloy;chainstay;
material;E;G;nu;density;yield
house alloy;70;50;0,33;2,7;250
"""


def written(tmp_path, text, name="own.csv"):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


def test_the_generic_catalogue_serves_every_member():
    stock = load_catalogue()
    assert stock.findings == ()
    for member in DIAMOND.names:
        assert len(stock.for_member(member)) >= 3
    assert len({s.name for s in stock.tubes}) == len(stock.tubes) > 50
    assert {s.tube.material.name for s in stock.tubes} == {
        "4130",
        "stainless",
        "6061-T6",
        "Ti-3Al-2.5V",
    }


def test_generic_tubes_fit_a_usual_length_and_have_a_stiffness():
    usual = {
        "head_tube": 130,
        "top_tube": 500,
        "down_tube": 560,
        "seat_tube": 480,
        "chainstay": 400,
        "seatstay": 400,
        "fork_blade": 370,
        "steerer": 200,
    }
    for stock in load_catalogue().tubes:
        for member in stock.use:
            flexibility = tube_flexibilities([stock.tube], usual[member])[0]
            assert np.linalg.eigvalsh(flexibility).min() > 0


def test_the_steerers_thick_end_is_at_the_crown():
    tube = load_catalogue().find("steel 28.6 x 1.6/2.3 STEERER").tube
    assert tube.wall_profile(200.0)[-1] == (200.0, 2.3)
    assert tube.wall_profile(200.0)[0] == (0.0, 1.6)


def test_generic_tubes_are_generic():
    """No brand or model names: only material, size and member words."""
    words = {word for s in load_catalogue().tubes for word in re.findall(r"[a-z]+", s.name)}
    assert words <= {
        "steel",
        "stainless",
        "aluminium",
        "titanium",
        "plain",
        "seat",
        "head",
        "chainstay",
        "seatstay",
        "blade",
        "steerer",
        "x",
        "wide",
    }
    assert "without a source" in GENERIC.read_text(encoding="utf-8")


def test_a_builders_own_catalogue_replaces_it(tmp_path):
    stock = load_catalogue(written(tmp_path, OWN))
    assert [s.name for s in stock.tubes] == ["long butt", "inch", "oval stay"]
    butted = stock.find("Long Butt")
    assert butted.tube.walls == (0.8, 0.5, 0.8)
    assert (butted.tube.butts, butted.tube.tapers) == ((120.0, 80.0), (40.0, 30.0))
    assert butted.use == ("top_tube", "down_tube")
    assert butted.note == "cut from the middle"
    inch = stock.find("inch").tube
    assert (inch.od_start, *inch.walls) == pytest.approx((28.575, 0.889))
    oval = stock.find("oval stay").tube
    assert (oval.od_start, oval.od_end, oval.oval_width) == (30.0, 16.0, 16.0)
    assert (oval.material.E, oval.material.rho) == pytest.approx((70e3, 2.7e-9))


def test_disagreeing_constants_are_a_warning(tmp_path):
    (finding,) = load_catalogue(written(tmp_path, OWN)).findings
    assert (finding.code, finding.severity) == ("material-e-g-nu", "warning")
    assert "50000 MPa does not follow" in finding.message
    assert load_catalogue(written(tmp_path, OWN.replace("70;50;", "70;26,3;"))).findings == ()


def test_an_end_column_and_a_workbook(tmp_path):
    book = Workbook()
    for row in (
        ["name", "od", "od end", "wall", "material", "use"],
        ["stay", 22.2, 14, 0.8, "4130", "chainstay"],
    ):
        book.active.append(row)
    book.save(tmp_path / "own.xlsx")
    (stay,) = load_catalogue(tmp_path / "own.xlsx").for_member("chainstay")
    assert (stay.tube.od_start, stay.tube.od_end) == (22.2, 14.0)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            "28,6;0,8",
            "286;0,8",
            r"own.csv, row 3, column outside diameter: '286' is 286 mm, expected 5 to 120 mm",
        ),
        ("0,8/0,5/0,8", "15/5/8", r"own.csv, row 3, column wall: .*15 mm, expected 0.2 to 12 mm"),
        (
            "120/80",
            "120",
            r"own.csv, row 3, long butt: the wall .* has 3 thicknesses, so the length of the 2 ends",
        ),
        (
            ";4130;",
            ";unobtainium;",
            r"own.csv, row 3, column material: .*'unobtainium' is not known; known: 4130",
        ),
        (";4130;", ";;", r"own.csv, row 3, column material: .*no material is named"),
        (
            "top tube/down tube",
            "middle tube",
            r"own.csv, row 3, column use: .*'middle tube' is not a tube; known: head tube",
        ),
        ("top tube/down tube", "", r"own.csv, row 3, column use: name the members"),
        ("long butt", "", r"own.csv, row 3, column name: a tube without a name"),
        (
            "inch;",
            "Long Butt;",
            r"own.csv, row 4: a tube named 'Long Butt' stands at own.csv, row 3 already",
        ),
        (
            "name;",
            "what;",
            r"own.csv, row 3: the header was not recognised|own.csv, row 2: the header",
        ),
        ("wall (mm)", "wand (mm)", None),
    ],
)
def test_refusals_name_file_row_column_and_what_is_expected(tmp_path, old, new, message):
    assert old in OWN
    path = written(tmp_path, OWN.replace(old, new, 1))
    if message is None:
        assert len(load_catalogue(path).tubes) == 3
        return
    with pytest.raises(InputError, match=message):
        load_catalogue(path)


def test_an_empty_or_missing_file_is_refused(tmp_path):
    with pytest.raises(InputError, match="holds no tube"):
        load_catalogue(written(tmp_path, "name,outside diameter,wall,use\n"))
    with pytest.raises(InputError, match=r"none\.csv"):
        load_catalogue(tmp_path / "none.csv")


def test_a_member_without_tubes_is_named(tmp_path):
    stock = load_catalogue(written(tmp_path, OWN))
    with pytest.raises(
        ModelError, match=r"own.csv holds no steerer; it holds: top tube, down tube, seat tube, ch"
    ):
        stock.for_member("steerer")
    with pytest.raises(ModelError, match="no tube 'saddle'"):
        stock.for_member("saddle")
    with pytest.raises(ModelError, match="no tube named 'nothing'"):
        stock.find("nothing")
