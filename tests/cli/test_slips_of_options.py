"""Options that say two things, or nothing, are refused; each kind of end has its own exit code."""

from pathlib import Path

import pytest
from droptrail.cli import show
from droptrail.cli.main import main
from droptrail.model.findings import Finding

SAMPLES = Path(__file__).parents[2] / "sample_drawings"
SHEET = str(SAMPLES / "tourer_700c.csv")
DRAWING = str(SAMPLES / "tourer_700c.dxf")


@pytest.mark.parametrize(
    ("scale", "words"),
    [
        ("5", "1:5 or 5:1?"),
        ("1:1e-300", "from 1:1000 to 1000:1"),
        ("0:1", "give it as"),
        ("1:", "give it as"),
    ],
)
def test_a_scale_says_which_way(scale, words, capsys):
    assert main(["read", DRAWING, "--scale", scale]) == 2
    assert words in capsys.readouterr().err


def test_an_unknown_case_is_wrong_usage(capsys):
    assert main(["solve", SHEET, "--case", "climbing"]) == 2
    assert "did you mean 'climb'?" in capsys.readouterr().err


def test_a_drawing_is_written_as_dxf(tmp_path, capsys):
    assert main(["draw", SHEET, "-o", str(tmp_path / "a.dwg")]) == 2
    assert list(tmp_path.iterdir()) == []
    assert ".dxf" in capsys.readouterr().err


def test_supports_of_a_model_file_are_its_own(tmp_path, capsys):
    model = tmp_path / "m.json"
    assert main(["model", SHEET, "-o", str(model)]) in (0, 1)
    capsys.readouterr()
    assert main(["modes", str(model), "--supports", "free"]) == 2
    assert "does nothing" in capsys.readouterr().err


@pytest.mark.parametrize("stack", ["lower headset stack", "upper stack"])
def test_a_headset_of_no_height_solves(stack, tmp_path, capsys):
    text = Path(SHEET).read_text(encoding="utf-8").replace("stack,592.4,mm,\n", "")
    text = text.replace(
        "lower headset stack,13,mm,", "lower headset stack,13,mm,\nupper stack,35,mm,"
    )
    rows = [f"{stack},0,mm," if row.startswith(f"{stack},") else row for row in text.split("\n")]
    near = [
        f"{stack},0.001,mm," if row.startswith(f"{stack},") else row for row in text.split("\n")
    ]
    said = []
    for k, lines in enumerate((rows, near)):
        path = tmp_path / f"{k}.csv"
        path.write_text("\n".join(lines), encoding="utf-8")
        assert main(["solve", str(path), "--case", "side_push"]) in (0, 1)
        said.append([line for line in capsys.readouterr().out.splitlines() if " N/mm" in line])
    assert said[0]
    assert said[0] == said[1]


def test_a_mistyped_key_is_named_before_the_refusal(tmp_path, capsys):
    import json

    model = tmp_path / "m.json"
    assert main(["model", SHEET, "-o", str(model)]) in (0, 1)
    held = json.loads(model.read_text(encoding="utf-8"))
    for load in held["loads"].values():
        load["suports"] = load.pop("supports", {})
    held["suports"] = held.pop("supports", {})
    model.write_text(json.dumps(held), encoding="utf-8")
    capsys.readouterr()
    assert main(["solve", str(model)]) in (1, 3)
    told = capsys.readouterr()
    assert "'supports' is meant?" in told.err + told.out


@pytest.mark.parametrize(
    ("found", "failed", "crossed", "code"),
    [
        ([], False, True, 0),
        ([Finding("x", "info", "said")], False, True, 0),
        ([Finding("x", "warning", "said")], False, False, 1),
        ([], True, True, 1),
        ([Finding("no-cross-check", "warning", "said")], False, False, 4),
    ],
)
def test_exit_codes_tell_apart(found, failed, crossed, code):
    assert show.exit_code(found, failed, crossed) == code


def test_a_check_without_the_second_solver_is_complete_and_says_so(monkeypatch, capsys):
    from droptrail.validation import check as checks

    monkeypatch.setattr(checks, "available", lambda: "no wheel for this machine")
    assert main(["check", DRAWING, "--sheet", SHEET]) == 4
    said = capsys.readouterr().out
    assert "Verdict: PASS; complete but for the cross-check" in said
