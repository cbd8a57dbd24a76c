"""`droptrail sweep`: every place of the grid is the bicycle that --set makes, and what cannot be is left empty."""

import csv
import json
from math import cos, radians, sin
from pathlib import Path

import pytest
from droptrail.cli.main import main

SHEET = str(Path(__file__).parents[2] / "sample_drawings" / "tourer_700c.csv")
GRID = ["--across", "fork_offset=40:60", "--up", "head_angle=70:74", "--steps", "3"]


def told(capsys, *argv):
    code = main([*argv, "--json"])
    out = capsys.readouterr()
    assert code == 0, out.err
    return json.loads(out.out)


def test_trail_over_offset_and_angle_is_the_closed_form(capsys):
    """Trail (R cos H - offset) / sin H: Moore 2012."""
    held = told(
        capsys,
        "sweep",
        SHEET,
        *GRID,
        "--figure",
        "geometry.trail",
        "--figure",
        "geometry.wheelbase",
    )
    assert held["across"]["values"] == [40, 50, 60]
    assert held["up"]["values"] == [70, 72, 74]
    assert held["across"]["present"] == 50
    for k, angle in enumerate(held["up"]["values"]):
        for j, offset in enumerate(held["across"]["values"]):
            h = radians(angle)
            assert held["values"]["geometry.trail"][k][j] == pytest.approx(
                (348 * cos(h) - offset) / sin(h), abs=1e-6
            )


def test_a_place_is_the_bicycle_of_set(capsys):
    held = told(capsys, "sweep", SHEET, *GRID, "--case", "side_push")
    key = "side_push.head_sideways"
    once = told(
        capsys,
        "solve",
        SHEET,
        "--case",
        "side_push",
        "--set",
        "fork_offset=60",
        "--set",
        "head_angle=70",
    )
    wanted = once["load_cases"]["side_push"]["stiffness"]["head_sideways"]["value"]
    # to what the batch is held against the full solver
    assert held["values"][key][0][2] == pytest.approx(wanted, rel=1e-9)
    assert held["values"][key][2][0] != pytest.approx(wanted, rel=1e-3)


def test_what_is_kept_stays_over_the_grid(capsys):
    held = told(
        capsys,
        "sweep",
        SHEET,
        "--across",
        "head_angle=71:73",
        "--up",
        "chainstay=440:460",
        "--steps",
        "3",
        "--keep",
        "trail",
        "--figure",
        "geometry.trail",
    )
    for row in held["values"]["geometry.trail"]:
        assert row == pytest.approx([row[0]] * 3, abs=1e-6)


def test_places_that_cannot_be_are_empty_and_said(capsys):
    held = told(
        capsys,
        "sweep",
        SHEET,
        "--across",
        "head_tube=20:300",
        "--up",
        "chainstay=440:460",
        "--steps",
        "3",
        "--figure",
        "geometry.trail",
    )
    empty = [v for row in held["values"]["geometry.trail"] for v in row if v is None]
    assert len(empty) == held["impossible"] == 3
    assert [f["code"] for f in held["findings"] if f["code"] == "sweep-gaps"] == ["sweep-gaps"]


def test_files(tmp_path, capsys):
    table = tmp_path / "s.csv"
    picture = tmp_path / "s.svg"
    argv = ["sweep", SHEET, *GRID, "--case", "side_push", "-o", str(table), "-o", str(picture)]
    assert main(argv) == 0
    with table.open(encoding="utf-8-sig", newline="") as held:
        rows = list(csv.DictReader(held))
    assert len(rows) == 9
    assert float(rows[0]["fork offset [mm]"]) == 40
    assert float(rows[0]["head angle [deg]"]) == 70
    drawn = picture.read_text(encoding="utf-8")
    assert drawn.count("<svg") == 1
    # lines of equal value, not an empty frame: a contour set for each of the two figures
    assert drawn.count('id="QuadContourSet_') == 2
    assert f"{picture} written." in capsys.readouterr().out


@pytest.mark.parametrize(
    ("argv", "code", "words"),
    [
        (["--across", "fork_offset=60:40"], 3, "first value must be the smaller"),
        (["--across", "fork_offset"], 3, "fork_offset=40:60"),
        (["--across", "nonsense=1:2"], 3, "give an item of the sheet"),
        (["--across", "head_angle=70:74"], 2, "both vary the head angle"),
        (["--figure", "geometry.beauty"], 1, "geometry.toe_gap"),
        (["--across", "chainstay=1:2"], 1, "no bicycle can be built"),
        (["-o", "x.doc"], 2, ".csv"),
    ],
)
def test_what_cannot_be_swept_is_said(capsys, argv, code, words):
    assert main(["sweep", SHEET, "--steps", "3", "--case", "side_push", *argv]) == code
    assert words in capsys.readouterr().err
