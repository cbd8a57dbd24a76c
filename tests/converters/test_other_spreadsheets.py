"""Spreadsheets of other programs are named, with the format to save as, wherever a sheet can be given."""

from pathlib import Path

import pytest
from droptrail.cli.main import main
from droptrail.converters.files.fitsheet.endings import OTHER_PROGRAMS

SAMPLES = Path(__file__).parents[2] / "sample_drawings"


@pytest.mark.parametrize("ending", OTHER_PROGRAMS)
@pytest.mark.parametrize("door", ["input", "sheet", "options"])
def test_the_format_to_save_as_is_named(tmp_path, capsys, ending, door):
    held = tmp_path / f"mine{ending}"
    held.write_bytes(b"PK\x03\x04 whatever it holds")
    sheet = SAMPLES / "tourer_700c.csv"
    argv = {
        "input": ["check", str(held)],
        "sheet": ["check", str(sheet.with_suffix(".dxf")), "--sheet", str(held)],
        "options": ["compare", str(sheet), "--variants", str(held)],
    }[door]
    assert main(argv) == 3
    told = capsys.readouterr().err
    assert f"mine{ending}: a" in told
    assert "save it as .xlsx or .csv" in told
