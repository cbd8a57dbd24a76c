"""One cell changed is one cell changed: every other byte of a sheet stays, in every dialect of CSV and in workbooks."""

import csv
import io
import zipfile

import openpyxl
import pytest
from droptrail.converters.files.fitsheet.patch import CellAt, csv_spans, patched, with_rows
from droptrail.converters.files.fitsheet.table import text_grid
from droptrail.model.errors import InputError
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl.comments import Comment
from openpyxl.styles import Font

SIGNS = (",", ";", "\t")
HEADER = ("item", "value", "unit", "note")
texts = st.text(st.sampled_from("ab7,;\t\"# ='.äß€\n\r-"), max_size=8)
bodies = st.lists(st.lists(texts, max_size=6), max_size=8)


def written(rows, sign, line_end, quoting):
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=sign, lineterminator=line_end, quoting=quoting)
    writer.writerows([HEADER, *rows])
    return out.getvalue()


def cells(data):
    return [[str(cell) for cell in row] for row in text_grid(data, "sheet.csv", [])]


def differing(before, after):
    """Places whose texts differ, over rows padded to one length."""
    assert len(before) == len(after)
    found = []
    for number, (old, new) in enumerate(zip(before, after, strict=True), start=1):
        width = max(len(old), len(new))
        padded = zip(
            [*old, *[""] * (width - len(old))], [*new, *[""] * (width - len(new))], strict=True
        )
        found += [(number, k) for k, (a, b) in enumerate(padded) if a != b]
    return found


@settings(deadline=None)
@given(
    rows=bodies,
    sign=st.sampled_from(SIGNS),
    line_end=st.sampled_from(["\n", "\r\n", "\r"]),
    quoting=st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]),
)
def test_fields_are_divided_as_the_library_divides_them(rows, sign, line_end, quoting):
    text = written(rows, sign, line_end, quoting)
    read = list(csv.reader(io.StringIO(text, newline=""), delimiter=sign, strict=True))
    ours = [[text[s.start : s.end] for s in record] for record in csv_spans(text, sign)]
    plain = [
        [f[1:-1].replace('""', '"') if f.startswith('"') else f for f in record] for record in ours
    ]
    assert plain == [row or [""] for row in read]


@settings(deadline=None)
@given(
    rows=bodies,
    sign=st.sampled_from(SIGNS),
    line_end=st.sampled_from(["\n", "\r\n", "\r"]),
    quoting=st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]),
    mark_codec=st.sampled_from(
        [
            (b"", "utf-8"),
            (b"\xef\xbb\xbf", "utf-8"),
            (b"\xff\xfe", "utf-16-le"),
            (b"\xfe\xff", "utf-16-be"),
            (b"", "cp1252"),
        ]
    ),
    new=texts,
    lot=st.randoms(use_true_random=False),
)
def test_a_sheet_saved_after_one_edit_differs_in_one_cell(
    rows, sign, line_end, quoting, mark_codec, new, lot
):
    mark, codec = mark_codec
    data = mark + written(rows, sign, line_end, quoting).encode(codec)
    before = cells(data)
    row = lot.randrange(1, len(before) + 1)
    place = CellAt(row, lot.randrange(0, len(before[row - 1]) + 2))
    after = patched(data, {place: new})
    assert set(differing(before, cells(after))) <= {place}
    # byte for byte: what stands before and behind the one field is the file's own
    common = len(_shared(data, after)) + len(_shared(data[::-1], after[::-1]))
    assert common >= min(len(data), len(after)) - 40


def _shared(a, b):
    """The longest common beginning."""
    n = next((k for k, (x, y) in enumerate(zip(a, b, strict=False)) if x != y), min(len(a), len(b)))
    return a[:n]


@given(rows=bodies, sign=st.sampled_from(SIGNS))
def test_no_change_gives_the_same_bytes(rows, sign):
    data = written(rows, sign, "\r\n", csv.QUOTE_ALL).encode()
    assert patched(data, {}) == data


WORKSHOP = (
    "# my own comment; keep it\r\n"
    "\r\n"
    "Maß;Wert;Einheit;Notiz\r\n"
    'Stack;592,40;mm;"gemessen; zweimal"\r\n'
    "Lenkwinkel;  71,8 ;deg\r\n"
    "\r\n"
)


def test_a_workshop_sheet_keeps_commas_blanks_comments_and_line_ends():
    data = WORKSHOP.encode("cp1252")
    after = patched(data, {CellAt(4, 1): "593,00", CellAt(5, 1): "72,1", CellAt(5, 3): "neu"})
    wanted = WORKSHOP.replace("592,40", "593,00").replace("  71,8 ;deg", "  72,1 ;deg;neu")
    assert after.decode("cp1252") == wanted


def test_a_decimal_comma_between_commas_is_quoted():
    data = b"item,value\nreach,379\n"
    assert patched(data, {CellAt(2, 1): "379,5"}) == b'item,value\nreach,"379,5"\n'


def test_a_row_is_added_below_the_table_in_the_files_own_manner():
    data = WORKSHOP.encode("cp1252")
    after = with_rows(data, 5, [("Reach", "379,5", "mm")]).decode("cp1252")
    assert after == WORKSHOP.replace("71,8 ;deg\r\n", "71,8 ;deg\r\nReach;379,5;mm\r\n")


def test_what_cannot_be_written_is_refused():
    with pytest.raises(InputError, match="no row 9"):
        patched(b"item,value\nreach,1\n", {CellAt(9, 1): "2"})
    with pytest.raises(InputError, match="encoding of this file"):
        patched("item,value\nmaß,1\n".encode("cp1252"), {CellAt(2, 1): "→"})
    with pytest.raises(InputError, match="two cells are missing"):
        patched(b"item,value\nreach\n", {CellAt(2, 1): "1", CellAt(2, 2): "2"})


# --- workbooks ----------------------------------------------------------------------------------------------------
def workbook(formula=False):
    """A workbook with what builders put into them."""
    book = openpyxl.Workbook()
    book.active.title = "cover"
    book.active.sheet_state = "hidden"
    sheet = book.create_sheet("frame")
    for row in (HEADER, ("reach", 379, "mm", "wanted"), (), ("stack", "592,4", None, None)):
        sheet.append(row)
    sheet["B2"].font = Font(bold=True, color="FF0000")
    sheet["B2"].number_format = "0.00"
    sheet["B2"].comment = Comment("measured twice", "builder")
    sheet["A6"] = "head angle"
    sheet["B6"] = 71.8
    sheet.column_dimensions["A"].width = 41
    if formula:
        sheet["C6"] = "=B6*2"
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def parts(data):
    archive = zipfile.ZipFile(io.BytesIO(data))
    return {info.filename: archive.read(info) for info in archive.infolist()}


@pytest.mark.parametrize(
    ("place", "new"),
    [
        (CellAt(2, 1), "381.5"),
        (CellAt(4, 1), "593,4"),
        (CellAt(4, 3), "new <note> & more"),
        (CellAt(3, 0), "drop"),
        (CellAt(5, 2), "mm"),
        (CellAt(6, 1), ""),
        (CellAt(9, 1), "12"),
    ],
)
def test_one_cell_of_a_workbook_changes_and_every_other_part_keeps_its_bytes(place, new):
    before = workbook()
    after = patched(before, {place: new})
    old, now = parts(before), parts(after)
    assert [name for name in old if old[name] != now[name]] == ["xl/worksheets/sheet2.xml"]
    assert list(old) == list(now)
    grids = [cells(before), cells(after)]
    length = max(map(len, grids))
    grids = [[*grid, *[[]] * (length - len(grid))] for grid in grids]
    assert differing(*grids) == [place]
    assert grids[1][place.row - 1][place.column] == new
    book = openpyxl.load_workbook(io.BytesIO(after))
    cell = book["frame"]["B2"]
    assert cell.comment.text == "measured twice"
    assert (cell.font.bold, cell.number_format) == (True, "0.00")
    assert book["frame"].column_dimensions["A"].width == 41


def test_a_number_stays_a_number_and_a_text_a_text():
    after = patched(workbook(), {CellAt(2, 1): "381,5", CellAt(4, 1): "600"})
    sheet = openpyxl.load_workbook(io.BytesIO(after))["frame"]
    assert sheet["B2"].value == 381.5
    assert sheet["B4"].value == "600"


def test_results_that_may_rest_on_the_change_are_worked_out_anew_and_formulas_are_not_overwritten():
    data = workbook(formula=True)
    with pytest.raises(InputError, match="cell C6 holds a formula"):
        patched(data, {CellAt(6, 2): "5"})
    after = patched(data, {CellAt(6, 1): "72"})
    assert openpyxl.load_workbook(io.BytesIO(after))["frame"]["C6"].value == "=B6*2"
    assert b'fullCalcOnLoad="1"' in parts(after)["xl/workbook.xml"]


def test_a_prefixed_workbook_is_changed_too():
    """Some programs write every element with a prefix of the name space."""
    data = workbook()
    archive = parts(data)
    name = "xl/worksheets/sheet2.xml"
    xml = archive[name].decode()
    main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    xml = xml.replace("<", "<x:").replace("<x:/", "</x:").replace("<x:?", "<?")
    archive[name] = xml.replace(f'xmlns="{main}"', f'xmlns:x="{main}"').encode()
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as made:
        for part, content in archive.items():
            made.writestr(part, content)
    after = patched(out.getvalue(), {CellAt(2, 1): "381.5", CellAt(4, 3): "x"})
    assert cells(after)[1][1] == "381.5"
    assert cells(after)[3][3] == "x"
