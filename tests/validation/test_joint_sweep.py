"""The sweep of the joint study as anybody runs it: stopped and gone on with, in parts, and once more from nothing."""

import json
import os
import signal
import subprocess
import sys
from dataclasses import asdict

import numpy as np
import pytest
from droptrail.validation.joints import study
from droptrail.validation.joints.designs import frame_places
from droptrail.validation.joints.study import (
    Sample,
    read_data_file,
    read_kept,
    text_rows,
)
from helpers_gmsh import needs_gmsh

# Three joints that are solved at once, then one that never is: where Ctrl-C finds it.
_SWEEP = """
import sys
from dataclasses import dataclass
from pathlib import Path
from threading import Event
from droptrail.validation.joints.study import run

@dataclass(frozen=True)
class Quick:
    key: str
    ends: bool
    def solve(self):
        if not self.ends:
            Event().wait()
        return {"key": self.key}

if __name__ == "__main__":
    wanted = [Quick("a", True), Quick("b", True), Quick("c", True)]
    if sys.argv[2] == "stuck":
        wanted.append(Quick("d", False))
    run(wanted, 2, Path(sys.argv[1]))
"""


def sweep(tmp_path, how):
    script = tmp_path / "sweep.py"
    script.write_text(_SWEEP, encoding="utf-8")
    command = [sys.executable, str(script), str(tmp_path / "kept.jsonl"), how]
    return subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True
    )


def test_a_stopped_sweep_says_so_and_goes_on_from_what_is_kept(tmp_path):
    """Ctrl-C as a terminal sends it, to the whole group; no traceback, and nothing is solved twice."""
    first = sweep(tmp_path, "stuck")
    said = [first.stdout.readline() for _ in range(4)]
    assert said[0].startswith("4 wanted, 0 of them kept")
    assert "about 1 min, each process (here 2)" in said[0]
    assert "3 of 4, about 1 min to go" in said[3]
    os.killpg(first.pid, signal.SIGINT)
    _, complaint = first.communicate(timeout=60)
    assert first.returncode == 1
    assert complaint.startswith("stopped; the same command goes on from what is kept in")
    assert "Traceback" not in complaint
    again, complaint = sweep(tmp_path, "all").communicate(timeout=60)
    assert again.splitlines() == [again.strip()]
    assert again.startswith("3 wanted, 3 of them kept")
    assert sorted(r["key"] for r in read_kept(tmp_path / "kept.jsonl")) == ["a", "b", "c"]


def test_a_line_cut_short_is_worked_out_again(tmp_path):
    kept = tmp_path / "kept.jsonl"
    kept.write_text('{"key": "a"}\n{"key": "b", "matr', encoding="utf-8")
    assert [record["key"] for record in read_kept(kept)] == ["a"]
    # The next line must not stand behind the piece.
    assert kept.read_text(encoding="utf-8") == '{"key": "a"}\n'


def record_of(sample, value):
    matrix = np.diag([value] * 6).tolist()
    return {
        "key": sample.key,
        "sample": asdict(sample),
        "matrix": matrix,
        "fine": matrix,
        "points": [1, 2],
    }


def keep(path, samples, value):
    lines = [json.dumps(record_of(sample, value)) + "\n" for sample in samples]
    path.write_text("".join(lines), encoding="utf-8")
    return path


@pytest.fixture
def file(tmp_path, monkeypatch):
    """A data file of twenty-four bare joints, each of compliance 1."""
    found = tmp_path / "frame_joints.csv"
    monkeypatch.setattr(study, "FILE", found)
    monkeypatch.setattr(study, "mesher_version", lambda: "4.15.2")
    places = enumerate(frame_places(24))
    samples = [Sample(number, "bare", True, place) for number, place in places]
    assert study.write_data_file(keep(tmp_path / "all.jsonl", samples, 1.0)) == 24
    return found


def test_a_part_of_the_study_changes_that_part_of_the_file_alone(file, tmp_path):
    before = text_rows(file)
    part = [Sample(3, "bare", True, frame_places(24)[3])]
    assert study.write_data_file(keep(tmp_path / "part.jsonl", part, 2.0)) == 24
    after = text_rows(file)
    changed = [a["number"] for b, a in zip(before, after, strict=True) if a != b]
    assert changed == ["3"]
    assert float(after[3]["c_u1u1"]) == 2.0


def test_rows_of_another_mesher_are_not_mixed_with_new_ones(file, tmp_path, monkeypatch):
    """The head names one mesher for the whole file."""
    before = file.read_text(encoding="utf-8")
    monkeypatch.setattr(study, "mesher_version", lambda: "5.0.0")
    part = [Sample(3, "bare", True, frame_places(24)[3])]
    with pytest.raises(SystemExit, match="23 of its joints were not worked out again"):
        study.write_data_file(keep(tmp_path / "part.jsonl", part, 2.0))
    assert file.read_text(encoding="utf-8") == before
    places = enumerate(frame_places(24))
    whole = [Sample(number, "bare", True, place) for number, place in places]
    assert study.write_data_file(keep(tmp_path / "whole.jsonl", whole, 2.0)) == 24
    assert "gmsh 5.0.0" in file.read_text(encoding="utf-8")


def test_the_file_holds_the_design_and_nothing_else():
    """Every joint of the design but those that the mesher refused; the head says how many."""
    wanted = {(s.family, s.number, s.ring) for s in study.samples(study.DEFAULT_COUNTS)}
    rows = read_data_file(study.FILE)
    found = {(row["family"], int(row["number"]), bool(row["ring"])) for row in rows}
    assert found <= wanted
    assert len(found) == len(rows) > 0.97 * len(wanted)
    head = study.FILE.read_text(encoding="utf-8").splitlines()[0]
    assert head.startswith(f"# {len(rows)} joints")


@pytest.mark.slow
@needs_gmsh
@pytest.mark.parametrize("key", ["frame-bare-ring-11", "frame-lug-open-12"])
def test_a_joint_of_the_file_is_worked_out_as_it_was_kept(key, tmp_path, monkeypatch):
    """From nothing, by the same design: the row comes out the same, in its last figure where the mesher is the same and
    within a percent where it is another."""
    sample = next(s for s in study.samples(study.DEFAULT_COUNTS) if s.key == key)
    wanted = study._order({**asdict(sample), "ring": int(sample.ring)})
    there = next(row for row in text_rows(study.FILE) if study._order(row) == wanted)
    row = study._row(sample.solve())
    for name, value in there.items():
        if name.startswith("c_"):
            size = abs(float(there["c_r1r1"])) if "u" not in name else abs(float(there["c_u3u3"]))
            assert float(row[name]) == pytest.approx(float(value), rel=0.01, abs=1e-3 * size)
