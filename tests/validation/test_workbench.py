"""What the served page works on: corrections equal a sheet written with them, and leave nothing behind."""

import re
import tempfile
from pathlib import Path

import pytest
from droptrail.converters.files.fitsheet.patch import CellAt
from droptrail.converters.files.fitsheet.patch import patched as amend_patched
from droptrail.converters.files.fitsheet.table import text_grid
from droptrail.model.errors import InputError
from droptrail.validation.workbench import (
    TubeError,
    Upload,
    differences,
    file_stem,
    open_files,
    sheet_file,
    tube_texts,
    with_tubes,
)
from droptrail.validation.workbench_page import page

SAMPLES = Path(__file__).parents[2] / "sample_drawings"


def upload(name: str) -> Upload:
    return Upload(name, (SAMPLES / name).read_bytes())


@pytest.fixture(scope="module")
def bench():
    return open_files(upload("tourer_700c.dxf"), upload("tourer_700c.csv"))


def changed(bench, **cells):
    """Texts of the tube table with one cell changed, such as top_tube__wall='0.9'."""
    texts = tube_texts(bench.reading.bicycle)
    for key, text in cells.items():
        member, field = key.split("__")
        texts[member] = texts[member] | {field: text}
    return texts


def stiffnesses(bench):
    return {
        (name, measure): value
        for name, result in bench.check.analysis.results.items()
        for measure, value in result.stiffness.items()
        if value is not None
    }


def test_the_table_as_read_changes_nothing(bench):
    assert with_tubes(bench, tube_texts(bench.reading.bicycle)) is bench


def test_the_differences_of_drawing_and_sheet_are_told_and_written_only_when_asked():
    sheet = upload("disagree_tourer.csv")
    held = open_files(upload("disagree_tourer.dxf"), sheet)
    told = {found.item: (found.held, found.drawn) for found in differences(held)}
    assert set(told) == {"bb_drop", "fork_offset", "trail"}
    assert sheet_file(held) == sheet.data
    saved = sheet_file(held, from_drawing=["bb_drop", "trail"])
    wanted = sheet.data.replace(b"drop,70,", b"drop,76,").replace(b"trail,67.0,", b"trail,61.8,")
    assert saved == wanted
    assert len(differences(open_files(upload("disagree_tourer.dxf"), Upload("s.csv", saved)))) == 1


def test_a_workbook_comes_back_with_one_cell_changed():
    sheet = upload("gravel_700c.xlsx")
    held = open_files(None, sheet)
    saved = sheet_file(with_tubes(held, changed(held, top_tube__outside_diameter="34.9")))
    old, new = (list(text_grid(data, "s.xlsx", [])) for data in (sheet.data, saved))
    pairs = [(a, b) for r, s in zip(old, new, strict=True) for a, b in zip(r, s, strict=True)]
    assert [b for a, b in pairs if a != b] == ["34.9"]


def test_a_sheet_of_a_drawing_alone_says_nothing_that_was_assumed():
    plain = open_files(upload("disagree_tourer.dxf"), None, plain=True)
    saved = sheet_file(with_tubes(plain, changed(plain, top_tube__outside_diameter="31.8")))
    said = [
        line for line in saved.decode("utf-8-sig").splitlines() if not line.startswith(("#", '"#'))
    ]
    assert [line for line in said if line.startswith("top tube,")] == ["top tube,31.8,0.8,,steel,"]
    assert not [line for line in said if line.startswith(("down tube,", "rider mass", "saddle"))]
    assert "bottom bracket drop,76,mm" in saved.decode()  # not 75.99999999999999
    again = open_files(None, Upload("s.csv", saved))
    assert again.reading.bicycle.tubes["top_tube"].od_start == 31.8


WORKSHOP = """# Rahmen für Anna; nicht ändern

Maß;Wert;Einheit;Notiz
Reach;379,0;mm;
Lenkwinkel;71,8;°;
Sitzwinkel;72,6;°;
Tretlagerabsenkung;7,6;cm;"vom Gespräch; sicher"
Kettenstrebe;452;mm;
Steuerrohr;158;mm;
Steuersatz unten;13;mm;
A-C;392,2;mm;
Gabelvorbiegung;50,00;mm;
Laufrad;622;mm;
Reifen;37;mm;

Rohr;Durchmesser;Wand;Butts;Übergang;Werkstoff
Oberrohr;28,6;0,8/0,5/0,8;75/75;30/30;4130
Unterrohr;31,8;0,9;;;4130
"""


@pytest.mark.parametrize(
    ("cells", "old", "new"),
    [
        ({"top_tube__outside_diameter": "31.8"}, "Oberrohr;28,6", "Oberrohr;31,8"),
        ({"top_tube__butts": "80+30/75+30"}, ";75/75;30/30;", ";80/75;30/30;"),
        ({"top_tube__wall": "0.9/0.6/0.9"}, "0,8/0,5/0,8", "0,9/0,6/0,9"),
        (
            {"seat_tube__wall": "0.9"},
            "Unterrohr;31,8;0,9;;;4130\r\n",
            "Unterrohr;31,8;0,9;;;4130\r\nseat tube;28,6;0,9;;;steel\r\n",
        ),
    ],
)
def test_an_edit_is_written_in_the_sheets_own_manner(cells, old, new):
    text = WORKSHOP.replace("\n", "\r\n")
    held = open_files(None, Upload("anna.csv", text.encode("cp1252")))
    saved = sheet_file(with_tubes(held, changed(held, **cells))).decode("cp1252")
    assert saved == text.replace(old, new)
    assert saved != text


def test_an_edit_that_the_sheet_could_not_say_rightly_is_refused_and_nothing_written():
    text = WORKSHOP.replace(";Butts;Übergang;", ";Butts (inch);Übergang;").replace(
        "75/75;30/30;", "3/3;30 mm/30 mm;"
    )
    held = open_files(None, Upload("anna.csv", text.encode()))
    with pytest.raises(InputError, match="carries another unit than its unit column"):
        sheet_file(with_tubes(held, changed(held, top_tube__butts="80+30/75+30")))
    no_walls = WORKSHOP.replace(";Butts;Übergang;Werkstoff", "").replace(
        "0,8/0,5/0,8;75/75;30/30;4130", "0,8"
    )
    held = open_files(None, Upload("anna.csv", no_walls.replace("0,9;;;4130", "0,9").encode()))
    with pytest.raises(InputError, match="no column 'material'; add it in the sheet"):
        sheet_file(with_tubes(held, changed(held, top_tube__material="stainless")))


def test_a_sheet_that_would_say_something_else_is_not_written(monkeypatch):
    """The last guard: were a wrong cell changed, reading it back shows it."""
    held = open_files(None, Upload("anna.csv", WORKSHOP.encode()))

    def wrong_cell(data, changes, source):
        return amend_patched(data, {CellAt(5, 1): "72,8"}, source)

    monkeypatch.setattr("droptrail.converters.files.fitsheet.amend.patched", wrong_cell)
    with pytest.raises(InputError, match=r"\(top tube, head angle\); nothing was written"):
        sheet_file(with_tubes(held, changed(held, top_tube__wall="0.9/0.6/0.9")))


def test_a_drawn_number_is_written_in_the_rows_unit_and_digits():
    text = WORKSHOP.replace("7,6;cm", "7,0;cm").replace("50,00;mm", "45,00;mm").encode("cp1252")
    held = open_files(upload("disagree_tourer.dxf"), Upload("anna.csv", text))
    assert {"bb_drop", "fork_offset"} <= {found.item for found in differences(held)}
    saved = sheet_file(held, from_drawing=["bb_drop", "fork_offset"]).decode("cp1252")
    assert saved == WORKSHOP


@pytest.mark.parametrize(
    "cells",
    [
        {"top_tube__outside_diameter": "31.8"},
        {"down_tube__wall": "0.8", "down_tube__butts": ""},
        {"seatstay__outside_diameter": "16-14", "chainstay__material": "stainless"},
        {"top_tube__outside_diameter": '1 1/8"', "top_tube__butts": "80+25/80+25"},
        {"down_tube__outside_diameter": "36x30"},
    ],
)
def test_a_correction_gives_what_the_saved_sheet_gives(bench, cells):
    """Two ways to the same frame: changed on the page, or saved, and read again with the drawing."""
    quick = with_tubes(bench, changed(bench, **cells))
    saved = Upload("saved.csv", sheet_file(quick, ".csv"))
    again = open_files(upload("tourer_700c.dxf"), saved)
    assert again.reading.bicycle.tubes == quick.reading.bicycle.tubes
    assert stiffnesses(again) == pytest.approx(stiffnesses(quick), rel=1e-12)
    assert stiffnesses(quick) != stiffnesses(bench)


def test_a_quick_answer_says_that_it_is_not_cross_checked_and_a_full_one_crosses(bench):
    texts = changed(bench, top_tube__wall="0.9/0.6/0.9")
    quick, full = with_tubes(bench, texts), with_tubes(bench, texts, quick=False)
    assert quick.check.cross == {}
    assert "just changed" in page(quick, bench, False)["sections"]["verdict"]
    assert set(full.check.cross) == set(full.check.analysis.results) or full.check.not_crossed
    assert stiffnesses(quick) == pytest.approx(stiffnesses(full), rel=1e-12)


def test_what_changed_is_said_where_the_input_is_named(bench):
    quick = with_tubes(bench, changed(bench, top_tube__wall="0.9/0.6/0.9"))
    assert (
        quick.reading.source == "tourer_700c.dxf + tourer_700c.csv, changed on the page: top tube"
    )


def test_a_rule_of_the_workshop_that_is_broken_is_a_finding(bench):
    quick = with_tubes(bench, changed(bench, top_tube__wall="0.3", top_tube__butts=""))
    new = [finding for finding in quick.check.findings if finding not in bench.check.findings]
    assert any("top tube" in finding.message for finding in new)


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ({"top_tube__wall": "thick"}, "top tube, column wall: 'thick' is not a number"),
        ({"top_tube__wall": "0"}, "expected 0.2 to 12 mm"),
        ({"steerer__outside_diameter": "280"}, "expected 5 to 120 mm"),
        ({"chainstay__material": "cheese"}, "material 'cheese' is not known"),
        ({"seat_tube__butts": "130/20"}, "butt"),
    ],
)
def test_a_tube_that_cannot_be_is_refused_by_name(bench, cells, words):
    with pytest.raises(TubeError, match=re.escape(words)) as refusal:
        with_tubes(bench, changed(bench, **cells))
    assert refusal.value.member == next(iter(cells)).split("__")[0]


def test_butts_longer_than_the_tube_are_refused(bench):
    with pytest.raises(ValueError, match="butts and tapers take"):
        with_tubes(bench, changed(bench, top_tube__butts="300+30/300+30"))


def test_nothing_stays_behind_and_no_given_name_becomes_a_path(tmp_path, monkeypatch):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    sheet = Upload("../../evil.csv", (SAMPLES / "tourer_700c.csv").read_bytes())
    held = open_files(upload("tourer_700c.dxf"), sheet)
    sheet_file(held, ".xlsx")
    assert list(tmp_path.rglob("*")) == []
    assert not (tmp_path.parent.parent / "evil.csv").exists()


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("Anna's frame.csv", "Anna_s frame.csv, row 2, column value: 'abc' is not a number"),
        ("../../etc/passwd", "_.._etc_passwd.csv, row 2, column value: 'abc' is not a number"),
        ("CON|a:b*.csv", "CON_a_b_.csv, row 2"),
        (
            "\N{CJK UNIFIED IDEOGRAPH-9AD4}" * 80 + ".csv",
            "\N{CJK UNIFIED IDEOGRAPH-9AD4}.csv, row 2",
        ),
    ],
)
def test_a_refusal_names_the_builders_own_file(name, said):
    sheet = Upload(name, b"item,value,unit,note\nstack,abc,mm,\n")
    with pytest.raises(InputError) as refused:
        open_files(None, sheet)
    assert said in str(refused.value)
    assert (refused.value.row, refused.value.column, refused.value.value) == (2, "value", "abc")


def test_a_corrected_cell_is_named_by_fields(bench):
    with pytest.raises(TubeError) as refused:
        with_tubes(bench, changed(bench, top_tube__wall="abc"))
    error = refused.value
    assert (error.member, error.field, error.value) == ("top_tube", "wall", "abc")
    assert str(error) == "top tube, column wall: 'abc' is not a number"


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("C:\\frames\\tourer.dxf", "tourer.dxf"),
        ("../../etc/passwd", "passwd"),
        ("a\nb\x1b[31m.csv", "a b [31m.csv"),
        ("", "file"),
        ("x" * 500, "x" * 80),
        ("dir/", "file"),
    ],
)
def test_names_are_shown_without_folders_and_control_characters(name, shown):
    assert Upload.of({"name": name, "data": ""}, 100).name == shown


def test_uploads_over_the_limit_or_damaged_are_refused():
    with pytest.raises(InputError, match=r"big\.dxf: larger than"):
        Upload.of({"name": "big.dxf", "data": "A" * 200}, 100)
    with pytest.raises(InputError, match="arrived damaged"):
        Upload.of({"name": "a.dxf", "data": "%%%"}, 100)
    assert Upload.of({"name": "a.dxf", "data": "AAAA"}, 3).data == b"\0\0\0"


def test_a_drawing_alone_is_shown_and_goes_on_with_plain_tubes_only_when_asked():
    alone = open_files(upload("tourer_700c.dxf"), None)
    assert alone.check is None
    shown = page(alone, alone, True)
    assert shown["tubes"] is None
    assert "61.78" in shown["sections"]["drawing"]  # trail of the sample
    for finding in alone.reading.findings:
        assert finding.code in shown["sections"]["verdict"]
    assert alone.reading.findings
    plain = open_files(upload("tourer_700c.dxf"), None, plain=True)
    assert plain.check.verdict == "pass"
    assert any(
        str(one).startswith("top tube 28.6 x 0.8 mm, plain steel") for one in plain.reading.assumed
    )
    stated = with_tubes(plain, changed(plain, top_tube__outside_diameter="31.8"))
    assert not any(one.key == "top_tube" for one in stated.reading.assumed)
    assert any(one.key == "down_tube" for one in stated.reading.assumed)


def test_the_page_names_every_change_in_percent(bench):
    quick = with_tubes(bench, changed(bench, top_tube__outside_diameter="31.8"))
    now, before = (
        stiffnesses(quick)["side_push", "head_sideways"],
        stiffnesses(bench)["side_push", "head_sideways"],
    )
    said = page(quick, bench, False)["changes"]
    assert f"<td>{100 * (now / before - 1):+.1f}</td>" in said
    assert re.search(r"<th[^>]*>[^<]*\[%\]</th>", said)


def test_file_names_are_harmless(bench):
    assert file_stem(bench) == "lindenhof-tourer-700c"
