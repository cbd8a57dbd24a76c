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


@pytest.mark.parametrize(
    ("word", "kind"),
    [
        ("WIG geschweißt", "bare"),
        ("wig geschweisst", "bare"),
        ("bare weld", "bare"),
        ("lugged and brazed", "lug"),
        ("Brazed lugs", "lug"),
        ("bronze welded", "fillet"),
        ("fillet-brazed", "fillet"),
    ],
)
def test_more_words_of_the_workshop(tmp_path, word, kind):
    path = tmp_path / "sheet.csv"
    write_fit_sheet(tourer().joined("lug"), path)
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("joined,lug", f"joined,{word}"), encoding="utf-8")
    bicycle = bicycle_from_sheet(read_fit_sheet(path)).bicycle
    assert set(bicycle.joints.values()) == {kind}


@pytest.mark.parametrize(
    ("word", "says"),
    [
        ("filet brazed", "Did you mean 'fillet'"),
        ("luged", "Did you mean 'lug'"),
        ("TIG weldet", "Did you mean 'bare'"),
        ("carbon wrap", "glued, wrapped or laminated have not been studied: write rigid"),
        ("bonded", "have not been studied"),
    ],
)
def test_a_word_nearly_right_and_a_joint_nobody_studied_are_told(tmp_path, word, says):
    path = tmp_path / "sheet.csv"
    for bicycle, old in ((tourer().joined("fillet"), "fillet"), (one_said("bare"), "bare")):
        write_fit_sheet(bicycle, path, force=True)
        path.write_text(path.read_text(encoding="utf-8").replace(old, word), encoding="utf-8")
        with pytest.raises(InputError, match=says):
            read_fit_sheet(path)


def one_said(kind):
    return replace(tourer(), joints={"top_tube": kind})


def test_a_cell_of_a_tube_that_ends_on_no_other_is_told(tmp_path):
    """A builder writes 'lugged' beside the head tube, for its lugs: it was read and did nothing, without a word."""
    path = tmp_path / "sheet.csv"

    def told(**joints):
        write_fit_sheet(replace(tourer(), joints=joints), path, force=True)
        found = bicycle_from_sheet(read_fit_sheet(path)).findings
        return [f.message for f in found if f.code == "sheet-joint-not-used"]

    [said] = told(head_tube="lug", top_tube="bare", down_tube="bare")
    assert said.startswith("head tube: joint 'lug' says nothing here")
    assert "rows of top tube, down tube" in said
    assert len(told(head_tube="lug")) == 1
    assert told(head_tube="lug", top_tube="lug", down_tube="lug") == []
    assert told(**dict.fromkeys(tourer().tubes, "fillet")) == []
    assert told(top_tube="bare", down_tube="lug") == []


def test_another_word_is_refused_by_its_place(tmp_path):
    path = tmp_path / "sheet.csv"
    write_fit_sheet(replace(tourer(), joints={"top_tube": "bare"}), path)
    path.write_text(path.read_text(encoding="utf-8").replace("bare", "glued"), encoding="utf-8")
    with pytest.raises(InputError, match="column joint: 'glued' is no kind of joint; write rigid"):
        read_fit_sheet(path)


@pytest.mark.parametrize(
    ("name", "word", "kind"),
    [
        ("joined", "TIG welded", "bare"),
        ("frame joined", "fillet brazed", "fillet"),
        ("Fügeart", "gemufft", "lug"),
        ("joining", "rigid", "rigid"),
    ],
)
def test_a_row_says_how_the_whole_frame_is_joined(tmp_path, name, word, kind):
    """Every tube of the frame, stated or not; a tube's own cell goes before it."""
    path = tmp_path / "sheet.csv"
    write_fit_sheet(replace(tourer(), joints={"top_tube": "lug"}), path)
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("reach,", f"{name},{word},,\nreach,", 1), encoding="utf-8")
    bicycle = bicycle_from_sheet(read_fit_sheet(path)).bicycle
    expected = dict.fromkeys(bicycle.tubes, kind) | {"top_tube": "lug"}
    assert bicycle.joints == expected


def test_the_row_comes_back(tmp_path):
    path = tmp_path / "sheet.csv"
    write_fit_sheet(tourer().joined("fillet"), path)
    text = path.read_text(encoding="utf-8-sig")
    assert "joined,fillet" in text
    assert "joint," not in text
    bicycle = bicycle_from_sheet(read_fit_sheet(path)).bicycle
    assert bicycle.joints == dict.fromkeys(bicycle.tubes, "fillet")


def test_another_word_in_the_row_is_refused(tmp_path):
    path = tmp_path / "sheet.csv"
    write_fit_sheet(tourer().joined("fillet"), path)
    path.write_text(path.read_text(encoding="utf-8").replace("fillet", "glued"), encoding="utf-8")
    with pytest.raises(InputError, match="joined 'glued', expected one of: rigid, bare"):
        read_fit_sheet(path)


def test_the_default_follows_the_row_and_where_there_is_none_welds_are_told(capsys, tmp_path):
    """Rigid by silence is listed as assumed, and the finding's percentage is that of two solves."""
    _, silent = answer(capsys, "check", SHEET)
    told_of = {finding["code"]: finding["message"] for finding in silent["findings"]}
    solved = [answer(capsys, "solve", SHEET, "--joints", kind)[1] for kind in ("rigid", "bare")]
    changes = []
    for name, case in solved[0]["load_cases"].items():
        for measure, value in case["stiffness"].items():
            softer = solved[1]["load_cases"][name]["stiffness"][measure]["value"]
            # a movement without a load of its own has no stiffness
            if value["value"] is not None:
                changes.append(100 * (value["value"] / softer - 1))
    assert f"{max(changes):+.0f} %" in told_of["joints-not-said"]
    assert any("joints rigid" in words for words in silent["assumed"])
    path = tmp_path / "sheet.csv"
    write_fit_sheet(tourer().joined("lug"), path)
    _, said = answer(capsys, "check", path)
    assert "joints-not-said" not in {finding["code"] for finding in said["findings"]}
    assert "joint-error-bar" in {finding["code"] for finding in said["findings"]}
    assert not any("joints rigid" in words for words in said["assumed"])


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
    # three between tubes, and two blades at a solid crown
    assert sum("compliance" in spring for spring in held["spring_elements"]) == 5
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
