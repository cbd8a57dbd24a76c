"""What would stop a builder at the bench fails the check or stands beside its verdict."""

import csv
from pathlib import Path

import pytest
from droptrail.cli.main import main
from droptrail.converters.inputs import read_input
from droptrail.validation.check import check

SAMPLES = Path(__file__).parents[2] / "sample_drawings"
DRAWING, SHEET = SAMPLES / "tourer_700c.dxf", SAMPLES / "tourer_700c.csv"


GRAVEL = SAMPLES / "gravel_700c.dxf"  # drawn with outlines


def changed(tmp_path, sheet=SHEET, **values) -> Path:
    """A sample sheet with the first number cell of some rows changed."""
    rows = list(csv.reader(sheet.open(encoding="utf-8", newline="")))
    left = dict(values)
    for row in rows:
        if row and (name := row[0].lower().replace(" ", "_")) in left:
            row[1] = left.pop(name)
    assert not left
    path = tmp_path / "changed.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)
    return path


def test_a_tube_drawn_with_another_diameter_fails_the_check(tmp_path):
    done = check(read_input(GRAVEL, changed(tmp_path, GRAVEL.with_suffix(".csv"), tt="28.6")))
    off = [row for row in done.dimensions if row.ok is False]
    assert [row.item for row in off] == ["top_tube_diameter"]
    assert (off[0].drawing, off[0].sheet) == (pytest.approx(31.8), 28.6)
    assert done.verdict == "fail"
    assert "top tube diameter" in done.reasons[0]


def test_the_sample_s_own_diameters_agree():
    done = check(read_input(GRAVEL, GRAVEL.with_suffix(".csv")))
    rows = [row for row in done.dimensions if row.item.endswith("_diameter")]
    assert len(rows) >= 3
    assert all(row.ok for row in rows)


def test_tyres_that_run_into_the_frame_fail_the_check(tmp_path):
    done = check(read_input(changed(tmp_path, chainstay="365")))
    assert done.verdict == "fail"
    assert any("seat tube" in reason for reason in done.reasons)


def test_a_pass_with_warnings_says_so(tmp_path, capsys):
    path = changed(tmp_path, head_tube="36")
    path.write_text(
        path.read_text(encoding="utf-8").replace("stack", "stapel", 1), encoding="utf-8"
    )
    code = main(["check", str(DRAWING), "--sheet", str(path)])
    said = capsys.readouterr().out
    assert code == 1
    assert "\nVerdict: PASS, but " in said
    assert "read before you cut" in said


@pytest.mark.parametrize("name", ["tourer_700c", "small_650b", "trekking_26", "gravel_700c"])
def test_a_tyre_width_survives_the_sheet_that_is_written(tmp_path, name):
    from droptrail.converters.files.fitsheet.write_sheet import write_fit_sheet

    bicycle = read_input(SAMPLES / f"{name}.csv").bicycle
    assert None not in bicycle.tyre_widths
    write_fit_sheet(bicycle, tmp_path / "again.csv")
    again = read_input(tmp_path / "again.csv").bicycle
    assert again.tyre_widths == bicycle.tyre_widths
    assert again.dimensions == bicycle.dimensions
