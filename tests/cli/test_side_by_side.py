"""`droptrail compare A B C`: the columns are each bicycle's own answers, the last column the last against the first."""

import json
import shutil
from pathlib import Path

import pytest
from droptrail.cli.main import main
from droptrail.converters.files.fitsheet.bicycle import bicycle_from_sheet, read_fit_sheet
from droptrail.model.choice.side_by_side import SideLine

SAMPLES = Path(__file__).parents[2] / "sample_drawings"
TOURER, GRAVEL = (str(SAMPLES / f"{name}.csv") for name in ("tourer_700c", "gravel_700c"))
CASE = ("--case", "side_push")


def told(capsys, *words):
    code = main([str(w) for w in words])
    out = capsys.readouterr()
    return code, out.out, out.err


def as_json(capsys, *words):
    return json.loads(told(capsys, *words, "--json")[1])


def by_key(held):
    return {line["key"]: line for line in held["lines"]}


def test_every_column_is_what_the_bicycle_gives_alone(capsys):
    held = by_key(as_json(capsys, "compare", TOURER, GRAVEL, *CASE))
    for k, sheet in enumerate((TOURER, GRAVEL)):
        bicycle = bicycle_from_sheet(read_fit_sheet(sheet)).bicycle
        assert held["trail"]["values"][k] == pytest.approx(bicycle.dimensions.trail)
        solved = as_json(capsys, "solve", sheet, *CASE)["load_cases"]["side_push"]["stiffness"]
        key = "side_push.head_sideways"
        assert held[key]["values"][k] == pytest.approx(solved["head_sideways"]["value"], rel=1e-9)
    first, last = held["trail"]["values"]
    assert held["trail"]["change_percent"] == pytest.approx(100 * (last / first - 1))
    assert {"mass", "saddle_behind", "bar_above", "wobble_damping", "top_tube"} <= set(held)
    assert held["top_tube"]["change_percent"] is None


def test_a_bicycle_beside_itself_differs_in_nothing(capsys):
    held = as_json(capsys, "compare", TOURER, TOURER, *CASE, "--modes", "2")
    assert {line["change_percent"] for line in held["lines"]} <= {0.0, None}
    assert all(line["values"][0] == line["values"][1] for line in held["lines"])
    assert by_key(held)["mode_1"]["values"][0] > 0


def test_a_drawing_goes_with_the_sheet_of_its_name_or_shows_its_geometry_only(capsys, tmp_path):
    held = as_json(capsys, "compare", TOURER, SAMPLES / "small_650b.dxf", *CASE)
    found = [f["message"] for f in held["findings"] if f["code"] == "compare-sheet-beside"]
    assert found == ["small_650b.dxf was read with the fit sheet beside it, small_650b.csv"]
    assert by_key(held)["mass"]["values"][1] is not None
    shutil.copy(SAMPLES / "small_650b.dxf", tmp_path / "alone.dxf")
    lone = as_json(capsys, "compare", TOURER, tmp_path / "alone.dxf", *CASE)
    assert by_key(lone)["mass"]["values"][1] is None
    assert by_key(lone)["trail"]["values"][1] == by_key(held)["trail"]["values"][1]
    assert any("geometry only" in f["message"] for f in lone["findings"])


def test_the_tables_fit_80_columns_and_are_written(capsys, tmp_path, monkeypatch):
    files = [tmp_path / name for name in ("a.xlsx", "a.svg", "a.png")]
    outputs = [word for path in files for word in ("-o", str(path))]
    monkeypatch.setattr("droptrail.cli.show.PIPED", 80)
    _, out, _ = told(capsys, "compare", TOURER, GRAVEL, SAMPLES / "small_650b.dxf", *CASE, *outputs)
    rules = [line for line in out.splitlines() if "──" in line]
    assert len(rules) >= 6
    assert max(map(len, rules)) <= 80
    assert all(path.stat().st_size > 1000 for path in files)
    assert "small_650b.dxf" in (tmp_path / "a.svg").read_text()


def test_no_input_is_overwritten_not_even_a_sheet_that_was_not_named(capsys, tmp_path):
    for name in ("small_650b.dxf", "small_650b.csv", "tourer_700c.csv"):
        shutil.copy(SAMPLES / name, tmp_path / name)
    inputs = (tmp_path / "tourer_700c.csv", tmp_path / "small_650b.dxf")
    for name in ("tourer_700c.csv", "small_650b.csv"):
        code, _, err = told(capsys, "compare", *inputs, *CASE, "-o", tmp_path / name, "--force")
        assert code == 3
        assert "read by this same command" in err
        assert (tmp_path / name).read_bytes() == (SAMPLES / name).read_bytes()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((TOURER, GRAVEL, "--option", "fork_offset=45"), "are for one INPUT"),
        ((TOURER, GRAVEL, "--sheet", TOURER), "sheet of its own name"),
        ((TOURER,) * 7, "at most 6"),
        ((), "INPUT"),
    ],
)
def test_what_does_not_go_together_is_refused(capsys, words, said):
    code, _, err = told(capsys, "compare", *words)
    assert code in (2, 3)
    assert said in err


@pytest.mark.parametrize(
    ("values", "percent"),
    [
        ((50.0, 55.0), 10.0),
        ((0.0, 5.0), None),
        ((-2.0, 5.0), None),
        (("a", "b"), None),
        ((50.0, None), None),
        ((50.0, 70.0, 60.0), 20.0),
    ],
)
def test_percents_are_taken_only_where_they_mean_something(values, percent):
    got = SideLine("g", "k", "w", "mm", values).percent
    assert got == (None if percent is None else pytest.approx(percent))
