"""Options that would do nothing with the kind of input given are refused, and say for what they are."""

import json
from pathlib import Path

import pytest
from droptrail.cli.main import main

SAMPLES = Path(__file__).parents[2] / "sample_drawings"
SHEET, DRAWING = SAMPLES / "tourer_700c.csv", SAMPLES / "tourer_700c.dxf"


@pytest.fixture(scope="module")
def model(tmp_path_factory):
    path = tmp_path_factory.mktemp("model") / "frame.json"
    assert main(["model", str(SHEET), "-o", str(path)]) in (0, 1)
    assert json.loads(path.read_text(encoding="utf-8"))
    return path


def refusal(capsys, *argv) -> str:
    capsys.readouterr()
    assert main([str(word) for word in argv]) == 3
    out = capsys.readouterr()
    assert out.out == ""
    assert out.err.count("\n") == 1
    return out.err


@pytest.mark.parametrize("command", ["check", "geometry", "solve"])
def test_a_sheet_beside_a_sheet(capsys, command):
    text = refusal(capsys, command, SHEET, "--sheet", SAMPLES / "gravel_700c.csv")
    assert "tourer_700c.csv is a fit sheet itself; --sheet belongs to a drawing" in text
    assert "droptrail check DRAWING.dxf --sheet gravel_700c.csv" in text


def test_a_sheet_beside_a_model(capsys, model):
    assert "frame.json is an analysis model; --sheet belongs to a drawing" in refusal(
        capsys, "solve", model, "--sheet", SHEET
    )


@pytest.mark.parametrize(
    "option", [("--units", "inch"), ("--scale", "1:10"), ("--pick", "head_tube=36")]
)
def test_drawing_options_with_a_sheet_or_a_model(capsys, option, model):
    for source in (SHEET, model):
        text = refusal(capsys, "geometry", source, *option)
        assert f"{option[0]} would do nothing here, only for a drawing: leave it out" in text


def test_a_layer_map_with_a_sheet(capsys, tmp_path):
    path = tmp_path / "map.toml"
    path.write_text('"FRAME" = "frame"\n', encoding="utf-8")
    assert "--layers would do nothing here" in refusal(capsys, "geometry", SHEET, "--layers", path)


def test_settings_with_a_model(capsys, model):
    text = refusal(capsys, "solve", model, "--set", "rider_mass=90")
    assert "--set would do nothing here, only for a drawing or a fit sheet" in text


def test_a_drawing_takes_them_all(capsys):
    assert main(
        [
            "geometry",
            str(DRAWING),
            "--sheet",
            str(SHEET),
            "--units",
            "mm",
            "--scale",
            "1:1",
            "--set",
            "rider_mass=90",
        ]
    ) in (0, 1)
    assert "Geometry of" in capsys.readouterr().out


@pytest.mark.parametrize(
    "option",
    [("--supports", "free"), ("--cadence", "60-110"), ("--case", "x"), ("-o", "never.png")],
)
def test_a_bare_frame_takes_no_option_of_a_ridden_one(capsys, option):
    assert main(["modes", str(SHEET), "--bare", "frame", *option]) == 2
    assert "has no meaning with --bare" in capsys.readouterr().err


def test_pieces_that_are_none_are_wrong_usage(capsys):
    assert main(["modes", str(SHEET), "--bare", "wheel"]) == 2
    assert "frame+fork" in capsys.readouterr().err


def test_the_tap_test_as_json_and_as_text(capsys):
    assert main(["modes", str(SHEET), "--bare", "frame+fork", "--count", "3", "--json"]) in (0, 1)
    said = json.loads(capsys.readouterr().out)
    assert len(said["frequencies_hz"]) == 3
    assert said["cross_check"] < 1e-6
    assert set(said["modes"][0]["heard"]) >= {"head tube", "bottom bracket", "fork tip"}
    assert main(["modes", str(SHEET), "--bare", "frame+fork", "--count", "3"]) in (0, 1)
    text = capsys.readouterr().out
    assert f"{said['frequencies_hz'][0]:.4g}" in text
    assert "Phone and tap at the head tube" in text


@pytest.mark.parametrize("option", ["--keep", "--follow"])
def test_a_mistyped_dimension_that_would_decide_nothing(capsys, option):
    assert "'trial' is not a dimension of the side view" in refusal(
        capsys, "geometry", SHEET, option, "trial"
    )


@pytest.mark.parametrize(
    ("argv", "words"),
    [
        (["search", str(SHEET), "--option", "top_tube=31.8", "--jobs", "-5"], "--jobs"),
        (["search", str(SHEET), "--option", "top_tube=31.8", "--chunk", "0"], "--chunk"),
        (["report", str(SHEET), "-o", "page.exe"], ".html"),
        (["report", str(SHEET), "-o", "page"], ".html"),
        (["modes", str(SHEET), "--cadence", "nan-100"], "--cadence"),
        (["modes", str(SHEET), "--cadence", "1e308"], "--cadence"),
    ],
)
def test_a_number_or_ending_that_means_nothing_is_wrong_usage(argv, words, capsys):
    assert main(argv) == 2
    assert words in capsys.readouterr().err
