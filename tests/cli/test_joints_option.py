"""How the builder says how tubes are joined: the sheet's column, `--joints`, and what comes of it in every command."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from droptrail.cli.main import main
from droptrail.converters.files.fitsheet.bicycle import bicycle_from_sheet, read_fit_sheet
from droptrail.converters.files.fitsheet.write_sheet import write_fit_sheet
from droptrail.model.errors import InputError
from helpers_bicycle import tourer

SHEET = Path(__file__).parents[2] / "sample_drawings" / "tourer_700c.csv"
JOINED = {"top_tube": "fillet", "down_tube": "bare", "seat_tube": "rigid"}


def told(capsys, *argv):
    code = main([str(word) for word in argv])
    out = capsys.readouterr()
    return code, out.out + out.err


def answer(capsys, *argv):
    code, out = told(capsys, *argv, "--json")
    return code, json.loads(out)


@pytest.mark.parametrize("ending", [".csv", ".xlsx"])
def test_the_column_comes_back(tmp_path, ending):
    path = tmp_path / f"sheet{ending}"
    write_fit_sheet(replace(tourer(), joints=JOINED), path)
    assert read_fit_sheet(path).joints == JOINED
    write_fit_sheet(tourer(), path, force=True)
    assert read_fit_sheet(path).joints == {}
    if ending == ".csv":
        assert "joint" not in path.read_text(encoding="utf-8-sig")


@pytest.mark.parametrize(
    ("word", "kind"),
    [("TIG welded", "bare"), ("Fillet brazed", "fillet"), ("lugged", "lug"), ("rigid", "rigid")],
)
def test_words_of_the_workshop(tmp_path, word, kind):
    path = tmp_path / "sheet.csv"
    write_fit_sheet(replace(tourer(), joints={"top_tube": "bare"}), path)
    path.write_text(path.read_text(encoding="utf-8").replace("bare", word), encoding="utf-8")
    assert bicycle_from_sheet(read_fit_sheet(path)).bicycle.joints == {"top_tube": kind}


def test_another_word_is_refused_by_its_place(tmp_path):
    path = tmp_path / "sheet.csv"
    write_fit_sheet(replace(tourer(), joints={"top_tube": "bare"}), path)
    path.write_text(path.read_text(encoding="utf-8").replace("bare", "glued"), encoding="utf-8")
    with pytest.raises(InputError, match="column joint: 'glued' is no kind of joint; write rigid"):
        read_fit_sheet(path)


def stiffness(body):
    return body["load_cases"]["side_push"]["stiffness"]["head_sideways"]["value"]


def test_the_option_goes_before_the_column(capsys, tmp_path):
    path = tmp_path / "sheet.csv"
    write_fit_sheet(replace(tourer(), joints=dict.fromkeys(tourer().tubes, "bare")), path)
    _, by_sheet = answer(capsys, "solve", path, "--case", "side_push")
    _, bare = answer(capsys, "solve", path, "--case", "side_push", "--joints", "bare")
    _, rigid = answer(capsys, "solve", path, "--case", "side_push", "--joints", "rigid")
    assert stiffness(by_sheet) == stiffness(bare) < stiffness(rigid)
    codes = {finding["code"] for finding in bare["findings"]}
    assert {"joint-not-studied", "joint-error-bar"} <= codes
    assert not {"joint-not-studied", "joint-error-bar"} & {f["code"] for f in rigid["findings"]}


@pytest.mark.parametrize(
    ("command", "key"),
    [("modes", "frequencies_hz"), ("shimmy", "head_stiffness"), ("check", "stiffness")],
)
def test_modes_wobble_and_check_feel_the_joints(capsys, command, key):
    _, rigid = answer(capsys, command, SHEET)
    _, bare = answer(capsys, command, SHEET, "--joints", "bare")
    assert rigid[key] != bare[key]


def test_where_there_is_nothing_to_join_the_option_is_refused(capsys, tmp_path):
    model = tmp_path / "model.json"
    assert told(capsys, "model", SHEET, "-o", model, "--joints", "bare")[0] in (0, 1)
    held = json.loads(model.read_text(encoding="utf-8"))
    assert sum("compliance" in spring for spring in held["spring_elements"]) == 3
    code, out = told(capsys, "solve", model, "--joints", "bare")
    assert code == 3
    assert "--joints would do nothing here" in out
    code, out = told(capsys, "solve", SHEET.with_suffix(".dxf"), "--joints", "bare")
    assert code == 3
    assert "--joints would do nothing" in out


def test_tubes_names_the_joints_where_the_frame_gives(capsys):
    _code, out = told(capsys, "tubes", SHEET, "--case", "side_push", "--joints", "bare")
    assert "joint of the top tube at the head tube" in out
    _, body = answer(capsys, "tubes", SHEET, "--case", "side_push", "--joints", "bare")
    share = body["joint_energy"]["side_push"]["joint_of_the_top_tube_at_the_head_tube"]
    assert 0.01 < share < 0.2


def test_compare_tells_what_the_kind_of_joint_turns(capsys):
    _code, out = told(
        capsys, "compare", SHEET, "--case", "frame_torsion", "--option", "head_tube=36x1.1,36x1.6"
    )
    assert "joint-turns-choice" in out
    assert "with rigid joints and" in " ".join(out.split())


def test_search_works_with_joints(capsys):
    code, body = answer(
        capsys,
        "search",
        SHEET,
        "--case",
        "side_push",
        "--joints",
        "bare",
        "--option",
        "head_tube=36x1.1,36x1.6",
        "--option",
        "top_tube=25.4x0.8,28.6x0.8",
    )
    assert code in (0, 1), body
    assert body["variants"] == 4
    assert body["largest_difference_to_full_solver"] < 1e-9
