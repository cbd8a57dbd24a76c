"""Reading a fit sheet: the same table in every dialect, trade names, and refusals that name the cell."""

import codecs
import contextlib
import hashlib
import io
import zipfile
from dataclasses import fields
from datetime import date
from pathlib import Path

import pytest
from droptrail.converters.files.fitsheet.bicycle import bicycle_from_sheet, read_fit_sheet
from droptrail.converters.files.fitsheet.find_item import all_names, find_item, nearest_item
from droptrail.converters.files.fitsheet.items import ITEMS
from droptrail.converters.files.fitsheet.table import MAX_BYTES, MAX_ROWS, bare
from droptrail.converters.files.fitsheet.wheels import KNOWN_BEAD_SEATS, wheel_radius
from droptrail.converters.files.fitsheet.xlsx import MAX_UNPACKED
from droptrail.model.errors import InputError
from droptrail.model.frame.bicycle import Fittings, Loads
from droptrail.model.geometry.statements import PREFERENCE
from helpers_fitsheet import DIALECTS, TABLE, as_csv, as_xlsx, changed, read_table, without
from hypothesis import given, settings
from hypothesis import strategies as st


def read_bytes(data: bytes, folder: Path, name: str = "sheet.csv"):  # type: ignore[no-untyped-def]
    path = folder / name
    path.write_bytes(data)
    return bicycle_from_sheet(read_fit_sheet(path))


# --- the same table everywhere ------------------------------------------------------------------------------
@pytest.mark.parametrize("dialect", DIALECTS)
def test_every_dialect_gives_the_same_bicycle(dialect: str, tmp_path: Path) -> None:
    reference = read_table(TABLE, tmp_path)
    reading = read_bytes(DIALECTS[dialect], tmp_path, "other.csv")
    assert reading.bicycle == reference.bicycle
    assert reading.closure == reference.closure
    assert reading.statements == reference.statements
    assert reading.sha256 == hashlib.sha256(DIALECTS[dialect]).hexdigest()


def test_workbook_gives_the_same_bicycle(tmp_path: Path) -> None:
    reference = read_table(TABLE, tmp_path)
    reading = bicycle_from_sheet(read_fit_sheet(as_xlsx(TABLE, tmp_path / "sheet.xlsx")))
    assert reading.bicycle == reference.bicycle
    assert reading.closure == reference.closure


def test_windows_1252_is_said(tmp_path: Path) -> None:
    reading = read_bytes(DIALECTS["semicolon, decimal comma, Windows-1252"], tmp_path)
    assert [f.code for f in reading.findings] == ["sheet-encoding"]


def test_the_numbers_themselves(tmp_path: Path) -> None:
    bicycle = read_table(TABLE, tmp_path).bicycle
    d = bicycle.dimensions
    assert (d.reach, d.head_angle, d.seat_angle, d.bb_drop, d.chainstay) == (
        381.0,
        71.5,
        72.5,
        74.0,
        455.0,
    )
    assert (d.fork_length, d.fork_offset, d.wheel_radius_front, d.wheel_radius_rear) == (
        392.0,
        52.0,
        348.0,
        348.0,
    )
    assert bicycle.name == "Wegwarte tourer"
    assert bicycle.loads.rider_mass == 82.5
    top, down, stay = (
        bicycle.tubes["top_tube"],
        bicycle.tubes["down_tube"],
        bicycle.tubes["chainstay"],
    )
    assert (top.od_start, top.walls, top.butts, top.tapers) == (
        28.575,
        (0.8, 0.5, 0.8),
        (75.0, 75.0),
        (),
    )
    assert (down.butts, down.tapers) == ((100.0, 80.0), (30.0, 30.0))
    assert (stay.od_start, stay.od_end, stay.oval_width) == (30.0, 14.0, 16.0)
    assert bicycle.tubes["seat_tube"].material.name == "4130"


def test_order_of_rows_and_columns_does_not_matter(tmp_path: Path) -> None:
    reference = read_table(TABLE, tmp_path)
    split = TABLE.index([])
    items, tubes = TABLE[:split], TABLE[split + 1 :]
    turned = [[row[i] for i in (3, 1, 0, 2)] for row in (items[0], *reversed(items[1:]))]
    crossed = [[row[i] for i in (5, 2, 0, 4, 1, 3)] for row in (tubes[0], *reversed(tubes[1:]))]
    reading = read_table([*crossed, [], *turned], tmp_path)
    assert reading.bicycle.dimensions == reference.bicycle.dimensions
    assert reading.bicycle.tubes == reference.bicycle.tubes
    assert reading.bicycle.loads == reference.bicycle.loads


def test_units_in_headers(tmp_path: Path) -> None:
    table = [
        ["item", "value (cm)", "note"],
        *([r[0], r[1], r[3]] for r in TABLE[1:2]),
        ["stack [mm]", "584.8", ""],
        ["chainstay", "45.5", ""],
        ["head angle", "71.5", ""],
    ]
    sheet_path = tmp_path / "s.csv"
    sheet_path.write_text(
        as_csv([*table, [], ["tube", "OD (in)", "wall (mm)"], ["top tube", "1 1/8", "0.8"]])
    )
    sheet = read_fit_sheet(sheet_path)
    assert {s.item: s.value for s in sheet.statements} == {
        "stack": 584.8,
        "chainstay": 455.0,
        "head_angle": 71.5,
    }
    assert sheet.tubes["top_tube"].od_start == 28.575
    assert str(sheet.assumed[0]) == "rows without a unit read as mm, degrees, kg or N: head angle"


# --- names --------------------------------------------------------------------------------------------------
def test_no_name_means_two_things() -> None:
    meanings: dict[str, set[str]] = {}
    for name, match in all_names():
        meanings.setdefault(bare(name), set()).add(match.item.key)
    assert {name: keys for name, keys in meanings.items() if len(keys) > 1} == {}


def test_every_field_can_be_stated() -> None:
    assert set(PREFERENCE) <= set(ITEMS)
    for part, group in ((Fittings, "fittings"), (Loads, "loads")):
        assert {f.name for f in fields(part)} == {
            k for k, item in ITEMS.items() if item.group == group
        }
        for f in fields(part):
            low, high = ITEMS[f.name].limits
            assert low <= f.default <= high, f.name


@pytest.mark.parametrize(
    ("name", "item"),
    [
        ("HTA", "head_angle"),
        ("Head Tube Angle", "head_angle"),
        ("head-angle", "head_angle"),
        ("Rake", "fork_offset"),
        ("A-C", "axle_to_crown_straight"),
        ("CS", "chainstay"),
        ("chain stay length", "chainstay"),
        ("BB drop", "bb_drop"),
        ("B.B. height", "bb_height"),
        ("ETT", "effective_top_tube"),
        ("front-centre", "front_center"),
        ("FC", "front_center"),
        ("WB", "wheelbase"),
        ("wheel base", "wheelbase"),
        ("Radstand", "wheelbase"),
        ("Tretlagerhöhe", "bb_height"),
        ("Lenkwinkel", "head_angle"),
        ("Nachlauf", "trail"),
        ("Stack", "stack"),
        ("tire front", "tyre_width_front"),
        ("wheel_rear", "bead_seat_rear"),
        ("stand-over height", "standover"),
        ("OLN rear", "rear_hub_spacing"),
        ("Überstandshöhe", "standover"),
        ("rider weight", "rider_mass"),
    ],
)
def test_trade_names(name: str, item: str) -> None:
    match = find_item(name)
    assert match is not None
    assert match.item.key == item


@pytest.mark.parametrize(
    ("name", "note", "item", "open_"),
    [
        ("fork length", "", "fork_length", True),
        ("fork length", "along axis", "fork_length", False),
        ("fork length", "straight", "axle_to_crown_straight", False),
        ("A-C", "steel fork", "axle_to_crown_straight", False),
        ("fork length (straight)", "", "axle_to_crown_straight", False),
        ("seat tube length", "c-t", "seat_tube", False),
        ("seat tube length", "c-c", "top_tube_on_seat_tube", False),
        ("front centre", "horizontal", "front_center_horizontal", False),
    ],
)
def test_conventions_by_name_or_note(name: str, note: str, item: str, open_: bool) -> None:
    match = find_item(name, note)
    assert match is not None
    assert (match.item.key, bool(match.assumption)) == (item, open_)


@pytest.mark.parametrize(
    ("name", "hint"),
    [
        ("stak", "did you mean 'stack'"),
        ("fork ofset", "did you mean 'fork offset'"),
        ("bb dorp", "bottom bracket drop"),
        ("top tube length", "'effective top tube' (horizontal) or 'top tube centre to centre'"),
    ],
)
def test_unknown_item_is_a_finding_with_the_nearest_name(
    name: str, hint: str, tmp_path: Path
) -> None:
    reading = read_table([TABLE[0], [name, "500", "mm", ""], *TABLE[1:]], tmp_path)
    (finding,) = reading.findings
    assert finding.code == "sheet-unknown-item"
    assert finding.where == "sheet.csv, row 2"
    assert hint in finding.message


def test_nothing_near() -> None:
    assert nearest_item("zzzzqqq") == ""


def test_unknown_tube_and_column_and_rows_without_value(tmp_path: Path) -> None:
    table = [
        ["My sheet"],
        [*TABLE[0], "colour"],
        ["Geometry", "", "", ""],
        *TABLE[1:],
        ["dwn tube", "31.8", "0.9"],
    ]
    found = {f.code: f for f in read_table(table, tmp_path).findings}
    assert set(found) == {"sheet-row-ignored", "sheet-unknown-column", "sheet-unknown-tube"}
    assert "'colour'" in found["sheet-unknown-column"].message
    assert "did you mean 'down tube'" in found["sheet-unknown-tube"].message.lower()


# --- wheels -------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("wheel", "tyre", "unit", "radius"),
    [
        ("622", "37", "mm", 348.0),
        ("700C", "37", "mm", 348.0),
        ("622", "25", "mm", 338.5),
        ("622", "27.9", "mm", 341.4),
        ("622", "28", "mm", 339.0),
        ("650B", "47", "mm", 339.0),
        ('26"', "54", "mm", 333.5),
        ("26", "2.1", "in", 332.84),
        ("622", "40-622", "", 351.0),
        ("27.5", "47-584", "", 339.0),
    ],
)
def test_wheel_radius_from_bead_seat_and_tyre(
    wheel: str, tyre: str, unit: str, radius: float, tmp_path: Path
) -> None:
    """ISO 5775 as quoted at https://en-academic.com/dic.nsf/enwiki/884038: 25-622 338.5 mm with the < 28 rule,
    28-622 339, 40-622 351, 47-584 339, 54-559 333.5 mm."""
    table = changed("front tyre", tyre, unit)
    table = [["wheel", wheel, "", ""] if row[:1] == ["wheel"] else row for row in table]
    reading = read_table(
        [row for row in table if row[:1] != ["rear tyre"]]
        + [TABLE[0], ["rear wheel radius", "340"]],
        tmp_path,
    )
    assert reading.bicycle.dimensions.wheel_radius_front == pytest.approx(radius, abs=1e-9)
    assert any(
        f"front wheel radius {radius:g} mm" in a and "ISO 5775" in a
        for a in map(str, reading.assumed)
    )


def test_radius_rule_of_thin_tyres() -> None:
    assert wheel_radius(622, 27.99) - wheel_radius(622, 28.0) == pytest.approx(2.49)
    assert {622, 584, 571, 559, 507, 406} <= set(KNOWN_BEAD_SEATS)


def test_stated_radius_against_rim_and_tyre_is_a_closure(tmp_path: Path) -> None:
    reading = read_table(
        [*TABLE[:2], ["front wheel radius", "340", "mm", "measured"], *TABLE[2:]], tmp_path
    )
    assert reading.bicycle.dimensions.wheel_radius_front == 340.0
    (row,) = [row for row in reading.closure if row.item == "wheel_radius_front"]
    assert (row.stated, row.implied, row.ok) == (348.0, 340.0, False)
    assert "sheet-duplicate-item" in [f.code for f in reading.findings]


@pytest.mark.parametrize(
    ("item", "cells", "message"),
    [
        (
            "wheel",
            ("600",),
            r"row 12, .*'600' is not a known wheel .did you mean 597..; expected a bead seat.*622",
        ),
        ("wheel", ("622", "in"), "is not a known wheel"),
        (
            "front tyre",
            ("37-584",),
            r"row 13, column value: tyre '37-584' does not fit the front wheel's bead seat.*622",
        ),
        (
            "front tyre",
            ("370",),
            r"row 13, column value: tyre width '370' is 370 mm, expected 15 to 130 mm",
        ),
    ],
)
def test_refused_wheels(item: str, cells: tuple[str, ...], message: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=message):
        read_table(changed(item, *cells), tmp_path)


def test_wheel_without_tyre_says_what_is_missing(tmp_path: Path) -> None:
    table = without("front tyre", "stack", "wheelbase", "slope")
    with pytest.raises(
        InputError, match=r"front wheel radius.*front wheel's tyre width is not stated"
    ):
        read_table(table, tmp_path)


# --- refusals name the cell ---------------------------------------------------------------------------------
def test_a_message_stays_one_printable_line(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="'a b \\[31m c' is not a number") as refusal:
        read_table(changed("HTA", "a\nb\x1b[31m\tc"), tmp_path)
    assert str(refusal.value).isprintable()


@pytest.mark.parametrize(
    ("item", "cells", "message"),
    [
        (
            "HTA",
            ("715",),
            r"sheet.csv, row 3, column value: head angle '715' is 715 deg, expected 50 to 85 deg; check",
        ),
        (
            "HTA",
            ("71.5o",),
            r"row 3, column value: '71.5o': unit 'o' is not understood here; expected deg",
        ),
        (
            "reach",
            ("38.1", "mm"),
            r"row 5, column value: reach '38.1' is 38.1 mm, expected 150 to 700 mm",
        ),
        (
            "BB drop",
            ("74", "kg"),
            r"row 6, column value: '74': unit 'kg' is not understood here; expected mm",
        ),
        ("BB drop", ("seventy",), r"row 6, column value: 'seventy' is not a number"),
        ("BB drop", ("=A1+1",), r"row 6, column value: '=A1\+1' is not a number"),
        (
            "rider mass",
            ("8250",),
            r"row 21, column value: rider mass '8250' is 8250 kg, expected 10 to 300 kg",
        ),
        (
            "rake",
            ("52", "cm"),
            r"row 11, column value: fork offset '52' is 520 mm, expected -30 to 150 mm",
        ),
        (
            "down tube",
            ("318",),
            r"row 27, column outside diameter: '318' is 318 mm, expected 5 to 120 mm",
        ),
        ("down tube", ("31.8", "9/6/9x"), r"row 27, column wall: '9/6/9x': unit 'x'"),
        (
            "down tube",
            ("31.8", "0.9/0.06/0.9"),
            r"row 27, column wall: '0.9/0.06/0.9' is 0.06 mm, expected 0.2 to 12 mm",
        ),
        (
            "down tube",
            ("31.8", "0.9/0.6/0.9", "100"),
            r"row 27, down tube: the wall '0.9/0.6/0.9' has 3 thick.*2 ends .*"
            r"'butts', such as 100/60; only '100' is given",
        ),
        (
            "down tube",
            ("31.8", "0.9/0.6/0.9", "100/1000"),
            r"row 27, column butts: '100/1000' is 1000 mm, expected 0",
        ),
        (
            "down tube",
            ("31.8", "0.9", "", "unobtainium"),
            r"row 27, column material: .*'unobtainium' is not known",
        ),
        ("steerer", ("6", "4"), r"row 34, steerer: tube 6.0 x 4.0 mm"),
    ],
)
def test_errors_name_file_row_column_value_and_range(
    item: str, cells: tuple[str, ...], message: str, tmp_path: Path
) -> None:
    with pytest.raises(InputError, match=message) as refusal:
        read_table(changed(item, *cells), tmp_path)
    assert "\n" not in str(refusal.value)
    assert str(refusal.value).startswith("sheet.csv")


def test_unquoted_decimal_comma_is_noticed(tmp_path: Path) -> None:
    text = as_csv(TABLE).replace("stack,584.8,mm,", "stack,584,8,mm,")
    with pytest.raises(
        InputError, match=r"row 22, column value: '584': unit '8' is not understood"
    ):
        read_bytes(text.encode(), tmp_path)
    text = as_csv(TABLE).replace("stack,584.8,mm,", "stack,584,8,mm,note")
    with pytest.raises(
        InputError, match=r"row 22: 'note' stands in a column without a header; is a decimal comma"
    ):
        read_bytes(text.encode(), tmp_path)


def test_tube_twice(tmp_path: Path) -> None:
    with pytest.raises(
        InputError, match=r"row 35, column tube: 'HT' is given twice with different values"
    ):
        read_table([*TABLE, ["HT", "37", "1.1", "", "4130", ""]], tmp_path)
    assert read_table([*TABLE, ["HT", "36", "1.1", "", "4130", ""]], tmp_path).findings == ()


def test_shares_have_to_add_up(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"sheet.csv: saddle, bar and pedal shares add up to 1.05"):
        read_table([TABLE[0], ["saddle share", "60", "%", ""], *TABLE[1:]], tmp_path)


_CELLS = st.one_of(st.text(max_size=20), st.from_regex(r"[-+0-9.,/x %\"eE]{1,12}", fullmatch=True))


@settings(deadline=None, max_examples=150)
@given(row=st.integers(0, len(TABLE) - 1), column=st.integers(0, 5), text=_CELLS)
def test_no_cell_text_brings_anything_but_a_refusal(
    tmp_path_factory: pytest.TempPathFactory, row: int, column: int, text: str
) -> None:
    table = [list(cells) for cells in TABLE]
    table[row][column : column + 1] = [text]
    try:
        read_table(table, tmp_path_factory.mktemp("fuzz"))
    except InputError as refusal:
        if not str(refusal).isprintable() or not str(refusal).startswith("sheet.csv"):
            raise AssertionError(repr(str(refusal))) from refusal


@settings(deadline=None, max_examples=100)
@given(data=st.binary(max_size=200), whole=st.booleans())
def test_no_bytes_bring_anything_but_a_refusal(
    tmp_path_factory: pytest.TempPathFactory, data: bytes, whole: bool
) -> None:
    content = data if whole else as_csv(TABLE).encode()[:100] + data
    with contextlib.suppress(InputError):
        read_bytes(content, tmp_path_factory.mktemp("fuzz"))


# --- files that are no fit sheet ----------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "the file is empty"),
        (b"  \n ", "the file is empty"),
        (b"hello\nworld\n", "no table with the header"),
        (b"item,value,unit,note\n", "no table with the header"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\r\xff\xfe", "neither a CSV"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1", "old .xls"),
        (b"PK\x03\x04 broken", "damaged workbook"),
        (codecs.BOM_UTF16_LE + b"abc", "neither a CSV"),
        (b'item,value\nstack,"580\nreach,390\n', "quotation mark"),
        (b"item,value,value\nstack,580,590\n", "column 'value' is given twice"),
        (b"item,value\n" + b"stack," + b"5" * 5000, "a cell holds 5000 characters"),
        (b"item,value\n" * (MAX_ROWS + 2), f"more than {MAX_ROWS} rows"),
        (b"x" * (MAX_BYTES + 1), "bytes"),
        (b"item,value\nstack,580" + b",1" * 100, "columns"),
    ],
)
def test_other_files_are_refused(data: bytes, message: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=message) as refusal:
        read_bytes(data, tmp_path)
    assert str(refusal.value).startswith("sheet.csv")
    assert "\n" not in str(refusal.value)


def test_missing_file_and_folder(tmp_path: Path) -> None:
    for path in (tmp_path / "none.csv", tmp_path):
        with pytest.raises(InputError, match=path.name):
            read_fit_sheet(path)


def _workbook(tmp_path: Path, stack: object, title: str = "Blatt") -> Path:
    import openpyxl

    path = as_xlsx(TABLE, tmp_path / "book.xlsx")
    book = openpyxl.load_workbook(path)
    book.active.title = title
    book.active["B22"] = stack
    assert book.active["A22"].value == "stack"
    book.save(path)
    return path


@pytest.mark.parametrize(
    ("cell", "message"),
    [
        (
            "=500+84.8",
            r"worksheet 'Blatt', row 22, column 2: the formula =500\+84.8 was saved without its result",
        ),
        (date(2024, 1, 2), r"row 22, column 2: the spreadsheet has made a date of this cell"),
        ("#DIV/0!", r"row 22, column 2: the cell holds the error #DIV/0!"),
    ],
)
def test_cells_a_workbook_can_spoil(cell: object, message: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=message):
        read_fit_sheet(_workbook(tmp_path, cell))


def test_percent_cell_and_second_worksheet(tmp_path: Path) -> None:
    import openpyxl

    path = _workbook(tmp_path, 584.8)
    book = openpyxl.load_workbook(path)
    book.active["B24"], book.active["C24"] = 0.1087, None
    book.active["B24"].number_format = "0.00%"
    book.create_sheet("scratch")["A1"] = "item"
    book.save(path)
    reading = bicycle_from_sheet(read_fit_sheet(path))
    assert reading.statements["top_tube_slope_deg"] == pytest.approx(6.2036, abs=1e-4)
    assert [f.code for f in reading.findings] == ["sheet-other-worksheets"]


def test_decompression_bomb_is_refused(tmp_path: Path) -> None:
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED) as bomb:
        bomb.writestr("xl/worksheets/sheet1.xml", b"0" * (MAX_UNPACKED + 1))
    assert len(data.getvalue()) < MAX_BYTES
    with pytest.raises(InputError, match="unpacks to"):
        read_bytes(data.getvalue(), tmp_path, "bomb.xlsx")


def test_truncated_and_foreign_workbooks(tmp_path: Path) -> None:
    whole = as_xlsx(TABLE, tmp_path / "sheet.xlsx").read_bytes()
    for cut in (30, len(whole) // 2, len(whole) - 30):
        with pytest.raises(InputError, match=r"cut.xlsx: "):
            read_bytes(whole[:cut], tmp_path, "cut.xlsx")
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w") as other:
        other.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
    with pytest.raises(InputError, match="OpenDocument spreadsheet, which is not read"):
        read_bytes(data.getvalue(), tmp_path, "other.ods")


def test_workbook_with_broken_sheet_xml(tmp_path: Path) -> None:
    source = zipfile.ZipFile(as_xlsx(TABLE, tmp_path / "sheet.xlsx"))
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w") as broken:
        for name in source.namelist():
            part = source.read(name)
            broken.writestr(name, part[: len(part) // 2] if name.endswith("sheet1.xml") else part)
    with pytest.raises(InputError, match="not a readable XLSX workbook"):
        read_bytes(data.getvalue(), tmp_path, "broken.xlsx")
