"""The benchmarks still run, and what they compare is the same thing done twice. Times are for people to read."""

import subprocess
import sys
from pathlib import Path

import pytest
from droptrail.validation.opensees.engine import available

SCRIPT = Path(__file__).parent.parent / "benchmarks" / "speed.py"


def _rows(part: str) -> list[dict[str, str]]:
    """The rows of a part's table, each by its heads."""
    cells = [line.strip("| ").split(" | ") for line in part.splitlines() if line.startswith("| ")]
    heads, _, *rows = cells
    return [dict(zip(heads, row, strict=True)) for row in rows]


@pytest.mark.slow
@pytest.mark.skipif(available() is not None, reason="OpenSees is not available here")
def test_the_fast_path_that_is_timed_agrees_with_opensees():
    out = subprocess.run(
        [sys.executable, str(SCRIPT), "--most", "1000", "--repeats", "1"],
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    frames, shapes, grids = (_rows(part) for part in out.split("\n## ")[1:])
    assert len(frames) == len(shapes) == 3
    assert max(float(row["batch against full"]) for row in shapes) < 1e-9
    assert max(float(row["fast against full"]) for row in frames) < 1e-9
    assert float(grids[-1]["peak memory MB"]) < 1000  # of the largest grid


def test_the_drawings_that_are_timed_are_read_right():
    """The script stops where a trail is wrong; a table of all its kinds and sizes comes out."""
    script = SCRIPT.with_name("drawings.py")
    out = subprocess.run(
        [sys.executable, str(script), "--most", "160", "--repeats", "1"],
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    rows = [line for line in out.splitlines() if line.startswith(("| lines", "| arcs", "| both"))]
    assert len(rows) == 15


def test_a_search_with_joints_is_timed_beside_one_without():
    """A row for every kind of joint, the same grid, ratios over the rigid one of the same run."""
    script = SCRIPT.with_name("joints.py")
    out = subprocess.run(
        [sys.executable, str(script), "--most", "100", "--repeats", "1"],
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    rows = _rows(out)
    assert [row["joints"] for row in rows] == ["rigid", "bare", "fillet", "lug"]
    assert {row["variants"] for row in rows} == {"100"}
    assert (rows[0]["over rigid"], rows[0]["with set-up over rigid"]) == ("1.00", "1.00")
    for row in rows:
        assert float(row["µs per variant"]) > 0
