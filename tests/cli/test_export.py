"""`droptrail export` and `droptrail picture` as a builder meets them: files, exit codes, one-line refusals."""

import csv
import json
from pathlib import Path

import meshio
import openpyxl
import pytest
from droptrail.cli.main import main

SAMPLES = Path(__file__).parents[2] / "sample_drawings"
SHEET = str(SAMPLES / "tourer_700c.csv")
DRAWN = [str(SAMPLES / "tourer_700c.dxf"), "--sheet", SHEET]


@pytest.fixture
def told(tmp_path, monkeypatch, capsys):
    """Runs a command in an empty folder: (exit code, stdout, stderr, names of the files there)."""
    monkeypatch.chdir(tmp_path)

    def run(*argv: str) -> tuple[int, str, str, list[str]]:
        code = main(list(argv))
        out = capsys.readouterr()
        assert "Traceback" not in out.out + out.err
        return code, out.out, out.err, sorted(path.name for path in tmp_path.iterdir())

    return run


@pytest.mark.parametrize(
    ("arguments", "files"),
    [
        (["export", SHEET, "-o", "f.vtu"], ["f.vtu"]),
        (
            ["export", SHEET, "-o", "f.vtu", "--surface", "--case", "climb", "--deflected", "10"],
            ["f.vtu"],
        ),
        (["export", SHEET, "-o", "F.STL", "--case", "climb"], ["F.STL"]),
        (["export", SHEET, "-o", "f.ply", "--case", "climb"], ["f.ply"]),
        (["export", SHEET, "-o", "f.vtu", "--modes", "3", "--supports", "rigid"], ["f.vtu"]),
        (["export", SHEET, "-o", "f.json"], ["f.json"]),
        (["export", SHEET, "-o", "f.csv", "--table", "masses"], ["f.csv"]),
        (["export", *DRAWN, "-o", "f.xlsx", "--modes", "3"], ["f.xlsx"]),
        (["picture", SHEET, "-o", "f.png"], ["f.png"]),
        (
            [
                "picture",
                *DRAWN,
                "-o",
                "f.pdf",
                "--view",
                "overlay",
                "--view",
                "mode",
                "--mode",
                "2",
            ],
            ["f.pdf"],
        ),
        (
            [
                "picture",
                SHEET,
                "-o",
                "f.svg",
                "--view",
                "iso",
                "--view",
                "deflected",
                "--case",
                "climb",
                "--times",
                "30",
            ],
            ["f-deflected-climb.svg", "f-iso.svg"],
        ),
    ],
)
def test_files_are_written_and_named(told, arguments, files):
    code, out, err, there = told(*arguments)
    assert (code, err, there) == (0, "", files)
    assert all(f"{name} written." in out for name in files)


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["export", SHEET, "-o", "f.step"], 3, ".vtu"),
        (["export", SHEET, "-o", "f.csv", "--table", "mass"], 3, "masses"),
        (["export", SHEET, "-o", "f.xlsx", "--surface"], 2, "--surface goes with .vtu"),
        (["export", SHEET, "-o", "f.json", "--modes", "3"], 2, "--modes goes with"),
        (["export", SHEET, "-o", "f.vtu", "--table", "masses"], 2, "--table goes with .xlsx, .csv"),
        (["export", SHEET, "-o", "f.vtu", "--deflected", "5", "--case", "climb"], 2, "--surface"),
        (["export", SHEET, "-o", "f.stl", "--deflected", "5"], 2, "--case"),
        (["export", SHEET, "-o", "f.vtu", "--surface", "--deflected", "0"], 2, "--deflected"),
        (["export", SHEET, "-o", "f.vtu", "--case", "climbing"], 2, "climb_left"),
        (["export", DRAWN[0], "-o", "f.vtu"], 3, "--sheet"),
        (["export", "missing.csv", "-o", "f.vtu"], 3, "missing.csv"),
        (["export", SHEET, "-o", "no/such/folder/f.vtu", "--case", "climb"], 3, "folder"),
        (["export", SHEET], 2, "-o"),
        (["picture", SHEET, "-o", "f.gif"], 3, ".png, .svg, .pdf"),
        (["picture", SHEET, "-o", "f.png", "--view", "overlay"], 3, "DXF"),
        (["picture", SHEET, "-o", "f.png", "--view", "front"], 2, "overlay"),
        (["picture", SHEET, "-o", "f.png", "--view", "deflected", "--times", "-1"], 2, "--times"),
        (
            ["picture", SHEET, "-o", "f.png", "--view", "deflected", "--case", "climbing"],
            2,
            "climb_left",
        ),
        (["picture", DRAWN[0], "-o", "f.png", "--view", "iso"], 3, "--sheet"),
        (
            ["picture", SHEET, "-o", "f.png", "--view", "iso", "--element-length", "0"],
            2,
            "element-length",
        ),
    ],
)
def test_refusals_are_one_line_and_leave_nothing_behind(told, arguments, code, words):
    got, out, err, there = told(*arguments)
    assert (got, out, there) == (code, "", [])
    assert words in " ".join(err.split())
    if code != 2:
        assert len(err.strip().splitlines()) == 1


@pytest.mark.parametrize(
    "arguments",
    [
        ["export", SHEET, "-o", "f.xlsx"],
        ["export", SHEET, "-o", "f.vtu"],
        ["picture", SHEET, "-o", "f.png"],
    ],
)
def test_an_existing_file_needs_force(told, arguments):
    Path(arguments[3]).write_text("mine")
    code, _, err, _ = told(*arguments)
    assert code == 3
    assert "--force" in err
    assert Path(arguments[3]).read_text() == "mine"
    assert told(*arguments, "--force")[0] == 0
    assert Path(arguments[3]).stat().st_size > 10_000


def test_an_input_is_never_written_over(told, tmp_path):
    (tmp_path / "mine.csv").write_bytes(Path(SHEET).read_bytes())
    code, _, err, _ = told("export", "mine.csv", "-o", "mine.csv", "--table", "masses", "--force")
    assert code == 3
    assert "read by this same command" in err
    assert (tmp_path / "mine.csv").read_bytes() == Path(SHEET).read_bytes()


def test_the_exported_model_solves_to_the_exported_numbers(told, tmp_path):
    """Through three formats: the JSON model, solved anew and exported, gives the workbook's displacements in VTU."""
    case = ["--case", "side_push"]
    told("export", SHEET, "-o", "m.json", *case)
    told("export", SHEET, "-o", "t.xlsx", "--table", "displacements", *case)
    assert told("export", "m.json", "-o", "f.vtu")[0] == 0
    moved = meshio.read(tmp_path / "f.vtu").point_data["displacement_side_push"]
    rows = list(openpyxl.load_workbook(tmp_path / "t.xlsx")["displacements"].values)[1:]
    assert [row[2:5] for row in rows] == [
        pytest.approx(tuple(u), rel=1e-9, abs=1e-12) for u in moved
    ]


def test_a_model_file_is_not_blamed_for_supports_it_cannot_explain(told, tmp_path):
    """It need not say what touches the bicycle, so nothing can be wrong with that."""
    told("export", SHEET, "-o", "m.json", "--case", "climb")
    model = json.loads((tmp_path / "m.json").read_text())
    del model["loads"]["climb"]["touching"]
    (tmp_path / "n.json").write_text(json.dumps(model))
    for argv in (
        ["export", "n.json", "-o", "f.vtu"],
        ["export", "n.json", "-o", "f.xlsx"],
        ["picture", "n.json", "-o", "f.png", "--view", "deflected"],
    ):
        code, out, _, _ = told(*argv)
        assert code == 0
        assert "support-untouched" not in out


def test_mesh_options_reach_the_file(told, tmp_path):
    counts = []
    for length in ("60", "20"):
        told("export", SHEET, "-o", f"{length}.vtu", "--modes", "2", "--element-length", length)
        counts.append(len(meshio.read(tmp_path / f"{length}.vtu").cells_dict["line"]))
    assert counts[1] > 1.5 * counts[0]


def test_the_drawing_stands_against_its_sheet(told, tmp_path):
    off = [str(SAMPLES / "disagree_tourer.dxf"), "--sheet", str(SAMPLES / "disagree_tourer.csv")]
    told("export", *off, "-o", "f.csv", "--table", "drawing against sheet")
    rows = list(csv.DictReader((tmp_path / "f.csv").read_text(encoding="utf-8-sig").splitlines()))
    assert {row["item"] for row in rows if row["within"] == "NO"} >= {
        "trail",
        "bottom bracket drop",
        "fork offset",
    }
    trail = next(row for row in rows if row["item"] == "trail")
    assert float(trail["difference"]) == pytest.approx(
        float(trail["drawing"]) - float(trail["sheet"])
    )


def test_a_csv_for_every_table(told):
    code, out, _, there = told("export", SHEET, "-o", "f.csv", "--case", "climb", "--modes", "2")
    assert code == 0
    assert {"f-stiffness.csv", "f-end_forces.csv", "f-mode_shapes.csv", "f-provenance.csv"} <= set(
        there
    )
    assert out.count("written.") == len(there)


def test_exported_json_is_the_analysis_model(told, tmp_path):
    told("export", SHEET, "-o", "a.json")
    told("model", SHEET, "-o", "b.json")
    assert json.loads((tmp_path / "a.json").read_text()) == json.loads(
        (tmp_path / "b.json").read_text()
    )


def test_losses_are_told(told):
    _, out, _, _ = told("export", SHEET, "-o", "f.stl", "--case", "climb", "--deflected", "5")
    for code in ("surface-plain", "vtu-surface", "surface-moved"):
        assert f"({code})" in " ".join(out.split()).replace("- ", "-")


@pytest.mark.parametrize("command", ["export", "jig"])
def test_no_table_is_written_over_an_input(command, tmp_path, capsys):
    """Several tables go to PATH-TABLE.csv; --force replaces such a file, but never the sheet that is read."""
    first = tmp_path / "first"
    first.mkdir()
    sheet = str(SAMPLES / "tourer_700c.csv")
    assert main([command, sheet, "-o", str(first / "frame.csv")]) in (0, 1)
    name = min(path.name for path in first.iterdir())
    own = tmp_path / name
    text = (SAMPLES / "tourer_700c.csv").read_bytes()
    own.write_bytes(text)
    capsys.readouterr()
    assert main([command, str(own), "-o", str(tmp_path / "frame.csv"), "--force"]) == 3
    assert "is read by this same command" in capsys.readouterr().err
    assert own.read_bytes() == text
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == [name]
