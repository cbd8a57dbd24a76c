"""Nothing that lies beside a drawing is ever executed: not by the command, not by a process it starts."""

import json
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from shutil import copy

import pytest
from droptrail.cli.main import COMMANDS
from droptrail.converters.files.model_file.write_model import write_model
from droptrail.model.mechanics.frame_model import LoadCase, RigidLink
from droptrail.model.tubes.sections import round_tube
from droptrail.validation.opensees.links import arrange
from helpers_frames import cantilever, tube_material

ROOT = Path(__file__).parent.parent
# The house's own rooms, libraries it uses, and what a new interpreter imports before anything of ours.
PLANTED = ("model", "cli", "converters", "validation", "numpy", "click")
EARLY = ("pickle", "struct", "multiprocessing", "runpy", "encodings", "sitecustomize")
TRAP = "import pathlib, sys\npathlib.Path(__file__).with_suffix('.ran').write_text(' '.join(sys.argv))\n"
# What pip writes as the command `droptrail`; it stands in a folder of its own, as there.
PROGRAM = "import sys\nfrom droptrail.cli.main import main\nif __name__ == '__main__':\n    sys.exit(main())\n"
OPTIONS = "top_tube=25.4x0.8/0.5/0.8,28.6x0.8/0.5/0.8"
RUNS = {
    "new": ["new", "mine.csv"],
    "read": ["read", "t.dxf"],
    "geometry": ["geometry", "t.csv"],
    "draw": ["draw", "t.csv", "-o", "d.dxf"],
    "mitre": ["mitre", "t.csv", "-o", "mitres"],
    "jig": ["jig", "t.csv"],
    "cases": ["cases"],
    "customer": ["customer", "t.csv", "-o", "c.pdf"],
    "model": ["model", "t.csv", "-o", "made.json"],
    "solve": ["solve", "links.json"],
    "check": ["check", "links.json"],
    "audit": ["audit", "t.csv", "--case", "side_push"],
    "tubes": ["tubes", "t.csv", "--case", "side_push"],
    "compare": ["compare", "t.csv", "--case", "side_push", "--option", OPTIONS],
    "sweep": ["sweep", "t.csv", "--steps", "3", "--case", "side_push"],
    "search": ["search", "t.csv", "--case", "side_push", "--option", OPTIONS, "--jobs", "2"],
    "modes": ["modes", "t.csv", "--count", "2"],
    "shimmy": ["shimmy", "t.csv", "--draws", "2"],
    "measured": ["measured", "t.csv", str(ROOT / "sample_drawings/tourer_700c_readings.csv")],
    "report": ["report", "t.csv", "-o", "r.html"],
    "serve": ["serve", "--help"],
    "picture": ["picture", "t.csv", "-o", "p.png"],
    "export": ["export", "t.csv", "-o", "e.vtu"],
}


def contested():
    """Two nodes of one rigid body are both supported: OpenSees solves that in a process of its own."""
    model = cantilever(round_tube(28.6, 0.8, 0.29), tube_material(205e3, 0.29, 7.85e-9), 300.0, 2)
    linked = replace(
        model,
        nodes={**model.nodes, "arm": (0.0, -50.0, 0.0)},
        rigid_links=(RigidLink("0", "arm"),),
    )
    held = {"0": (1, 1, 1, 0, 1, 1), "arm": (0, 0, 1, 0, 0, 0)}
    return linked, LoadCase("contested", {"2": (0.0, 100.0, 0.0, 0.0, 0.0, 0.0)}, supports=held)


@pytest.fixture
def folder(tmp_path):
    work = tmp_path / "work"
    work.mkdir()
    (tmp_path / "program").write_text(PROGRAM, encoding="utf-8")
    for ending in ("csv", "dxf"):
        copy(ROOT / f"sample_drawings/tourer_700c.{ending}", work / f"t.{ending}")
    model, case = contested()
    (work / "links.json").write_text(json.dumps(write_model(model, [case])), encoding="utf-8")
    for name in PLANTED + EARLY:
        (work / f"{name}.py").write_text(TRAP, encoding="utf-8")
    return work


def executed(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.rglob("*.ran"))


def run(folder: Path, words: list[str]) -> subprocess.CompletedProcess:
    """The installed program, as a user starts it; PYTHONSAFEPATH would hide what is looked for here."""
    kept = {k: v for k, v in os.environ.items() if k not in ("PYTHONSAFEPATH", "PYTHONPATH")}
    return subprocess.run(
        [sys.executable, folder.parent / "program", *words],
        cwd=folder,
        env=kept,
        capture_output=True,
        text=True,
        check=False,
    )


def test_every_command_is_run():
    assert set(RUNS) == set(COMMANDS)


@pytest.mark.slow
@pytest.mark.parametrize("name", RUNS)
def test_files_planted_beside_the_drawing_are_not_executed(folder, name):
    done = run(folder, RUNS[name])
    assert executed(folder) == []
    assert done.returncode in (0, 1), done.stderr
    assert "Traceback" not in done.stderr


def test_the_model_is_one_that_opensees_solves_in_a_child(folder):
    model, case = contested()
    assert arrange(model, case.supports, ()).chained
    done = run(folder, ["check", "links.json", "--json"])
    assert executed(folder) == []
    assert json.loads(done.stdout)["cross_check"]["contested"] < 1e-8


def test_the_trap_snaps(folder):
    """A child started without -P does execute what lies there."""
    command = [sys.executable, "-m", "droptrail.validation.opensees.worker"]
    subprocess.run(command, cwd=folder, input=b"", capture_output=True, check=False)
    assert executed(folder)
