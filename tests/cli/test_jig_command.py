"""`droptrail jig`: what is printed is what is written, in every form."""

import csv
import json
import re
from pathlib import Path

import pytest
from droptrail.cli.main import main

SHEET = str(Path(__file__).parents[2] / "sample_drawings" / "tourer_700c.csv")


def test_the_terminal_shows_every_table(capsys):
    assert main(["jig", SHEET]) == 0
    said = capsys.readouterr().out
    for words in (
        "From the bottom bracket's centre",
        "Tubes from the horizontal",
        "Tube to tube",
        "Joints along the tubes",
        "Across the frame",
        "Cut lengths of mitred tubes",
        "Sawn square",
    ):
        assert words in said
    assert max(map(len, said.splitlines())) <= 118


def test_json_holds_the_same_numbers(capsys):
    assert main(["jig", SHEET, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    axle = next(s for s in told["settings"] if s["point"] == "rear_axle")
    assert axle["y"] == pytest.approx(76.0)
    assert main(["jig", SHEET]) == 0
    assert re.search(rf"rear axle +{axle['x']:.1f} +76\.0", capsys.readouterr().out)


def test_files_hold_the_same_numbers(tmp_path, capsys):
    assert main(["jig", SHEET, "-o", str(tmp_path / "jig.csv")]) == 0
    with (tmp_path / "jig-settings.csv").open(encoding="utf-8-sig", newline="") as held:
        rows = {row["point"]: row for row in csv.DictReader(held)}
    assert float(rows["rear axle"]["up [mm]"]) == pytest.approx(76.0)
    assert main(["jig", SHEET, "-o", str(tmp_path / "jig.pdf"), "--paper", "Letter"]) == 0
    data = (tmp_path / "jig.pdf").read_bytes()
    assert data.startswith(b"%PDF")
    assert len(re.findall(rb"/Type /Page\b", data)) == 2
    (box,) = {b.split()[2] for b in re.findall(rb"/MediaBox \[([^]]*)\]", data)}
    assert float(box) == pytest.approx(612.0, abs=0.1)


def test_another_ending_is_refused_before_anything_is_read(capsys):
    assert main(["jig", "nowhere.csv", "-o", "jig.doc"]) == 2
    assert ".pdf" in capsys.readouterr().err
