"""What the served page works on: corrections equal a sheet written with them, and leave nothing behind."""

import re
import tempfile
from dataclasses import replace
from math import radians, sin
from pathlib import Path

import pytest
from droptrail.converters.files.fitsheet.patch import CellAt
from droptrail.converters.files.fitsheet.patch import patched as amend_patched
from droptrail.converters.files.fitsheet.starter import starter_bicycle
from droptrail.converters.files.fitsheet.table import text_grid
from droptrail.converters.inputs import with_settings
from droptrail.model.errors import InputError
from droptrail.model.geometry.statements import quantities
from droptrail.validation.workbench import (
    TubeError,
    Upload,
    differences,
    file_stem,
    open_files,
    sheet_file,
    tube_texts,
    with_changes,
)
from droptrail.validation.workbench_knobs import KnobError, Knobs, knobs_of, turn
from droptrail.validation.workbench_page import change_blocks, page

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
    assert with_changes(bench, tube_texts(bench.reading.bicycle)) is bench


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
    saved = sheet_file(with_changes(held, changed(held, top_tube__outside_diameter="34.9")))
    old, new = (list(text_grid(data, "s.xlsx", [])) for data in (sheet.data, saved))
    pairs = [(a, b) for r, s in zip(old, new, strict=True) for a, b in zip(r, s, strict=True)]
    assert [b for a, b in pairs if a != b] == ["34.9"]


def test_a_sheet_of_a_drawing_alone_says_nothing_that_was_assumed():
    plain = open_files(upload("disagree_tourer.dxf"), None, plain=True)
    saved = sheet_file(with_changes(plain, changed(plain, top_tube__outside_diameter="31.8")))
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
    saved = sheet_file(with_changes(held, changed(held, **cells))).decode("cp1252")
    assert saved == text.replace(old, new)
    assert saved != text


SHAPED = (
    WORKSHOP.partition("Rohr;")[0]
    + """Rohr;Durchmesser;Breite;zylindrisch;Wand;Werkstoff
Gabelscheide;24-13;;180;1;4130
Kettenstrebe;30-14;17-14;;0,8;4130
Sitzstrebe;16-12 after 90;;;0,8;4130
seat post;27,2;;;2,2;6061-T6
"""
)


@pytest.mark.parametrize(
    ("member", "edit", "old", "new"),
    [
        ("fork_blade", "26-14 after 150", "24-13;;180;", "26-14;;150;"),
        ("fork_blade", "26-14", "24-13;;180;", "26-14;;;"),
        ("chainstay", "28x16-12", "30-14;17-14;", "28-12;16-12;"),
        ("chainstay", "30-14x16", "30-14;17-14;", "30-14;16;"),
        ("seatstay", "18-12 after 60/30", "16-12 after 90;", "18-12 after 60/30;"),
    ],
)
def test_a_shape_is_written_into_the_columns_that_state_it(member, edit, old, new):
    text = SHAPED.replace("\n", "\r\n")
    held = open_files(None, Upload("anna.csv", text.encode("cp1252")))
    cells = {f"{member}__outside_diameter": edit}
    saved = sheet_file(with_changes(held, changed(held, **cells))).decode("cp1252")
    assert saved == text.replace(old, new)
    assert saved != text


def test_an_edit_that_the_sheet_could_not_say_rightly_is_refused_and_nothing_written():
    text = WORKSHOP.replace(";Butts;Übergang;", ";Butts (inch);Übergang;").replace(
        "75/75;30/30;", "3/3;30 mm/30 mm;"
    )
    held = open_files(None, Upload("anna.csv", text.encode()))
    with pytest.raises(InputError, match="carries another unit than its unit column"):
        sheet_file(with_changes(held, changed(held, top_tube__butts="80+30/75+30")))
    no_walls = WORKSHOP.replace(";Butts;Übergang;Werkstoff", "").replace(
        "0,8/0,5/0,8;75/75;30/30;4130", "0,8"
    )
    held = open_files(None, Upload("anna.csv", no_walls.replace("0,9;;;4130", "0,9").encode()))
    with pytest.raises(InputError, match="no column 'material'; add it in the sheet"):
        sheet_file(with_changes(held, changed(held, top_tube__material="stainless")))


def test_a_sheet_that_would_say_something_else_is_not_written(monkeypatch):
    """The last guard: were a wrong cell changed, reading it back shows it."""
    held = open_files(None, Upload("anna.csv", WORKSHOP.encode()))

    def wrong_cell(data, changes, source):
        return amend_patched(data, {CellAt(5, 1): "72,8"}, source)

    monkeypatch.setattr("droptrail.converters.files.fitsheet.amend.patched", wrong_cell)
    with pytest.raises(InputError, match=r"\(top tube, head angle\); nothing was written"):
        sheet_file(with_changes(held, changed(held, top_tube__wall="0.9/0.6/0.9")))


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
    quick = with_changes(bench, changed(bench, **cells))
    saved = Upload("saved.csv", sheet_file(quick, ".csv"))
    again = open_files(upload("tourer_700c.dxf"), saved)
    assert again.reading.bicycle.tubes == quick.reading.bicycle.tubes
    assert stiffnesses(again) == pytest.approx(stiffnesses(quick), rel=1e-12)
    assert stiffnesses(quick) != stiffnesses(bench)


def test_a_quick_answer_says_that_it_is_not_cross_checked_and_a_full_one_crosses(bench):
    texts = changed(bench, top_tube__wall="0.9/0.6/0.9")
    quick, full = with_changes(bench, texts), with_changes(bench, texts, quick=False)
    assert quick.check.cross == {}
    assert "just changed" in page(quick, bench, False)["sections"]["verdict"]
    assert set(full.check.cross) == set(full.check.analysis.results) or full.check.not_crossed
    assert stiffnesses(quick) == pytest.approx(stiffnesses(full), rel=1e-12)


def test_what_changed_is_said_where_the_input_is_named(bench):
    quick = with_changes(bench, changed(bench, top_tube__wall="0.9/0.6/0.9"))
    assert (
        quick.reading.source == "tourer_700c.dxf + tourer_700c.csv, changed on the page: top tube"
    )


def test_a_rule_of_the_workshop_that_is_broken_is_a_finding(bench):
    quick = with_changes(bench, changed(bench, top_tube__wall="0.3", top_tube__butts=""))
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
        with_changes(bench, changed(bench, **cells))
    assert refusal.value.member == next(iter(cells)).split("__")[0]


def test_butts_longer_than_the_tube_are_refused(bench):
    with pytest.raises(ValueError, match="butts and tapers take"):
        with_changes(bench, changed(bench, top_tube__butts="300+30/300+30"))


def test_nothing_stays_behind_and_no_given_name_becomes_a_path(tmp_path, monkeypatch):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    sheet = Upload("../../evil.csv", (SAMPLES / "tourer_700c.csv").read_bytes())
    held = open_files(upload("tourer_700c.dxf"), sheet)
    sheet_file(held, ".xlsx")
    assert list(tmp_path.rglob("*")) == []
    assert not (tmp_path.parent.parent / "evil.csv").exists()


def test_a_sheet_with_further_columns_in_its_tube_table_opens():
    bicycle = starter_bicycle()
    plain = tube_texts(bicycle)
    jointed = replace(bicycle, joints=dict.fromkeys(bicycle.tubes, "bare"))
    assert tube_texts(jointed) == plain
    assert plain["top_tube"]["outside_diameter"] == "28.6"


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
        with_changes(bench, changed(bench, top_tube__wall="abc"))
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
    stated = with_changes(plain, changed(plain, top_tube__outside_diameter="31.8"))
    assert not any(one.key == "top_tube" for one in stated.reading.assumed)
    assert any(one.key == "down_tube" for one in stated.reading.assumed)


def test_the_page_names_every_change_in_percent(bench):
    quick = with_changes(bench, changed(bench, top_tube__outside_diameter="31.8"))
    now, before = (
        stiffnesses(quick)["side_push", "head_sideways"],
        stiffnesses(bench)["side_push", "head_sideways"],
    )
    said = page(quick, bench, False)["changes"]
    assert f"<td>{100 * (now / before - 1):+.1f}</td>" in said
    assert re.search(r"<th[^>]*>[^<]*\[%\]</th>", said)


def test_file_names_are_harmless(bench):
    assert file_stem(bench) == "lindenhof-tourer-700c"


# --- every other item as a knob ------------------------------------------------------------------------------------
def turned(held, keep=(), **items):
    return with_changes(held, {}, Knobs(items, tuple(keep)))


def test_a_turned_knob_equals_the_command_line(bench):
    now = turned(bench, fork_offset="55")
    wanted = with_settings(bench.reading.bicycle, ("fork_offset=55",))
    assert now.reading.bicycle.dimensions == wanted.dimensions
    assert stiffnesses(now) != stiffnesses(bench)
    shown = {knob.name: knob.value for knob in knobs_of(now.reading.bicycle)}
    assert shown["fork_offset"] == "55"
    assert float(shown["trail"]) == pytest.approx(61.78 - 5 / sin(radians(71.8)), abs=0.01)
    assert "fork offset 55 mm" in now.reading.source


def test_what_is_kept_stays_and_the_page_says_what_moved(bench):
    now = turned(bench, keep=["trail"], head_angle="72.8")
    held = quantities(now.reading.bicycle.dimensions)
    assert held["trail"] == pytest.approx(quantities(bench.reading.bicycle.dimensions)["trail"])
    assert held["fork_offset"] < 50
    moved = next(
        block for block in change_blocks(now.check, bench.check) if block.title == "Side view"
    )
    rows = {row[0]: row for row in moved.rows}
    assert rows["trail"][3] == pytest.approx(0.0, abs=1e-9)
    assert rows["wheelbase"][3] != 0
    assert any(f.code == "item-set" for f in now.check.findings)


def test_room_follows_a_wider_tyre(bench):
    gaps = {gap.name: gap.gap for gap in bench.check.clearances}
    wide = turned(bench, tyre_width_rear="45")
    after = {gap.name: gap.gap for gap in wide.check.clearances}
    assert after["rear tyre to chainstays"] < gaps["rear tyre to chainstays"] - 3
    assert any(f.code.startswith("clearance") for f in wide.check.findings)


def test_every_knob_of_the_page_can_be_turned(bench):
    for knob in knobs_of(bench.reading.bicycle):
        if not knob.value:
            continue
        text = f"{float(knob.value) + 0.25:g}"
        if knob.name.endswith("_share"):
            continue  # the three add up to 1
        assert turn(bench.reading.bicycle, Knobs({knob.name: text})).words


def test_rider_and_parts_are_knobs_too(bench):
    heavy = turned(bench, rider_mass="110 kg", saddle_height="745")
    assert heavy.reading.bicycle.loads.rider_mass == 110
    assert heavy.reading.bicycle.fittings.saddle_height == 745


@pytest.mark.parametrize(
    ("items", "item", "words"),
    [
        ({"fork_offset": "abc"}, "fork_offset", "abc"),
        ({"head_angle": "7"}, "head_angle", "head angle"),
        ({"nonsense": "7"}, "nonsense", "not known"),
        ({"saddle_share": "0.9"}, "saddle_share", "add up"),
    ],
)
def test_a_value_that_cannot_be_names_its_knob(bench, items, item, words):
    with pytest.raises(KnobError, match=words) as refused:
        turned(bench, **items)
    assert refused.value.item == item


def test_a_saved_sheet_holds_the_turned_knob_and_what_it_says_twice():
    """Offset and the trail that the sheet states beside it; nothing else."""
    sheet = upload("disagree_tourer.csv")
    held = open_files(None, sheet)
    was = quantities(held.reading.bicycle.dimensions)
    saved = sheet_file(turned(held, fork_offset="48"))
    old, new = sheet.data.decode().splitlines(), saved.decode().splitlines()
    assert len(old) == len(new)
    changes = [(a.split(",")[0], b) for a, b in zip(old, new, strict=True) if a != b]
    assert "fork offset" in [name for name, _ in changes]
    assert "trail" in [name for name, _ in changes]
    again = open_files(None, Upload("again.csv", saved))
    now = quantities(again.reading.bicycle.dimensions)
    assert now["fork_offset"] == 48
    assert now["trail"] == pytest.approx(
        was["trail"] + (was["fork_offset"] - 48) / sin(radians(was["head_angle"])), abs=0.06
    )
    assert again.check.verdict == held.check.verdict


def test_what_the_sheet_did_not_say_gets_a_row():
    text = WORKSHOP.replace("\n", "\r\n")
    held = open_files(None, Upload("anna.csv", text.encode("cp1252")))
    saved = sheet_file(turned(held, rider_mass="92,5", fork_offset="46")).decode("cp1252")
    # the straight length from axle to crown stands in the sheet too, and another offset makes it another
    wanted = text.replace("Gabelvorbiegung;50,00;", "Gabelvorbiegung;46,00;")
    assert saved.startswith(wanted.replace("A-C;392,2;", "A-C;391,7;"))
    assert "rider mass;92,5;kg" in saved
    again = open_files(None, Upload("anna.csv", saved.encode("cp1252")))
    assert again.reading.bicycle.loads.rider_mass == 92.5


def test_a_tyre_is_left_to_the_builders_own_hand(bench):
    with pytest.raises(InputError, match="tyre into the sheet by hand"):
        sheet_file(turned(bench, tyre_width_front="40"))


def test_the_drawing_does_not_vouch_for_what_was_changed_since(bench):
    assert "The drawing gives the sheet" in page(bench, bench, False)["sections"]["verdict"]
    changed_since = page(turned(bench, fork_offset="55"), bench, False)["sections"]["verdict"]
    assert "The drawing gives" not in changed_since
    assert "no longer what was drawn" in changed_since
