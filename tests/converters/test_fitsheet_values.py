"""Numbers as a workshop writes them."""

import pytest
from droptrail.converters.files.fitsheet.values import Outside, butts, outside, quantity, series
from droptrail.model.errors import InputError
from hypothesis import given
from hypothesis import strategies as st


@pytest.mark.parametrize(
    ("text", "unit", "kind", "value"),
    [
        ("28.6", "mm", "length", 28.6),
        ("28,6", "", "length", 28.6),
        ("54.8 cm", "", "length", 548.0),
        ("1.0557", "m", "length", 1055.7),
        ("1.055,7", "mm", "length", 1055.7),
        ("1,055.7", "mm", "length", 1055.7),
        ('1 1/8"', "", "length", 28.575),
        ("1 1/8", "in", "length", 28.575),
        ("1-1/8″", "", "length", 28.575),
        ("1⅛ in", "", "length", 28.575),
        ('7/8"', "", "length", 22.225),
        ("1.25 inch", "", "length", 31.75),
        ("-12", "mm", "length", -12.0),
        ("−12", "mm", "length", -12.0),
        ("71.5°", "", "angle", 71.5),
        ("71.5", "degrees", "angle", 71.5),
        ("8 %", "", "slope", 8.0),
        ("55 %", "", "share", 0.55),
        ("0.55", "", "share", 0.55),
        ("180", "lb", "mass", 81.6466266),
        ("1.2", "kN", "force", 1200.0),
        ("100", "lbf", "force", 444.82216152605),
        ("205", "GPa", "stress", 205e3),
        ("7.85", "g/cm3", "density", 7.85e-9),
        ("7850", "kg/m³", "density", 7.85e-9),
    ],
)
def test_quantities(text: str, unit: str, kind: str, value: float) -> None:
    assert quantity(text, unit, kind)[0] == value


@pytest.mark.parametrize(
    ("text", "unit", "kind", "message"),
    [
        ("58o", "mm", "length", "unit 'o' is not understood"),
        ("", "mm", "length", "'' is not a number"),
        ("=1+1", "mm", "length", "not a number"),
        ("nan", "mm", "length", "not a number"),
        ("inf", "mm", "length", "not a number"),
        ("1.2.3", "mm", "length", "not a number"),
        ('1/0"', "", "length", "divides by zero"),
        ("22 in", "mm", "length", "another unit than its unit column"),
        ("8 %", "deg", "slope", "another unit"),
        ("5", "kg", "length", "unit 'kg' is not understood here; expected mm"),
        ("1e999999", "mm", "length", "larger than any number"),
        ("1e999", "mm", "length", "larger than any number"),
        ("9" * 500, "mm", "length", "'9{40}' is larger than any number"),
        ("12 34", "mm", "length", "unit '34'"),
    ],
)
def test_refused_quantities(text: str, unit: str, kind: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        quantity(text, unit, kind)


@given(st.floats(-1e6, 1e6, allow_nan=False))
def test_every_number_written_in_full_reads_back(value: float) -> None:
    assert quantity(repr(value), "mm", "length")[0] == value
    assert quantity(repr(value).replace(".", ","), "mm", "length")[0] == value


@pytest.mark.parametrize(
    ("text", "unit", "values"),
    [
        ("0.8/0.5/0.8", "", (0.8, 0.5, 0.8)),
        ("0,8/0,5/0,8", "", (0.8, 0.5, 0.8)),
        (".8-.5-.8", "", (0.8, 0.5, 0.8)),
        ("0.8 / 0.5 / 0.8 mm", "", (0.8, 0.5, 0.8)),
        ('0.035"', "", (0.889,)),
        ("0.035/0.028", "in", (0.889, 0.7112)),
        ('7/8"-5/8"', "", (22.225, 15.875)),
        ("7/8-5/8", "in", (22.225, 15.875)),
        ("22.2mm-14mm", "", (22.2, 14.0)),
    ],
)
def test_series(text: str, unit: str, values: tuple[float, ...]) -> None:
    assert series(text, unit) == values


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("28.6", Outside(28.6, 28.6)),
        ('1 1/8"', Outside(28.575, 28.575)),
        ("22-14", Outside(22.0, 14.0)),
        ("22/14", Outside(22.0, 14.0)),
        ("22–14", Outside(22.0, 14.0)),
        ("30x16", Outside(30.0, 30.0, 16.0)),
        ("30 × 16", Outside(30.0, 30.0, 16.0)),
        ("30-14x16", Outside(30.0, 14.0, 16.0)),
        ("30x17-14", Outside(30.0, 14.0, 17.0, 14.0)),
        ("30x17-14x12", Outside(30.0, 14.0, 17.0, 12.0)),
        ("30-14x17-12", Outside(30.0, 14.0, 17.0, 12.0)),
        ("30x17-14x17", Outside(30.0, 14.0, 17.0)),
        ("24-13 after 180", Outside(24.0, 13.0, straight=(180.0, 0.0))),
        ("24-13 After 180/40", Outside(24.0, 13.0, straight=(180.0, 40.0))),
        ("28x20-12 after 60", Outside(28.0, 12.0, 20.0, 12.0, (60.0, 0.0))),
        ('1"-1/2" after 7"', Outside(25.4, 12.7, straight=(177.8, 0.0))),
    ],
)
def test_outside(text: str, expected: Outside) -> None:
    assert outside(text) == expected


def test_a_straight_length_takes_the_unit_of_its_column() -> None:
    assert outside("2.4-1.3 after 18", "cm") == Outside(24.0, 13.0, straight=(180.0, 0.0))


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("22-14-3", "'22-14-3' is not understood; expected a diameter such as 28.6"),
        ("30x16x2", "'30x16x2' is not understood"),
        ("30x", "'' is not a number"),
        ("thick", "'thick' is not a number"),
        ("22-", "unit '-'"),
        (
            "28.6 after 180",
            "does not taper, so nothing comes after; write both ends, such as 24-13",
        ),
        ("24-13 after 180/40/20", "expected the straight length at the start, such as 180"),
        ("24-13 after", "'' is not a number"),
        ("30x17-14x12-11", "is not understood; expected a diameter such as 28.6"),
    ],
)
def test_refused_outside(text: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        outside(text)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", ((), ())),
        ("100", ((100.0,), ())),
        ("100/60", ((100.0, 60.0), ())),
        ("100+30/60+30", ((100.0, 60.0), (30.0, 30.0))),
        ("100+30/60", ((100.0, 60.0), (30.0, 0.0))),
        ("10/6 cm", ((10.0, 60.0), ())),
    ],
)
def test_butts(text: str, expected: object) -> None:
    assert butts(text) == expected
