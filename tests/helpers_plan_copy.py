"""A copy of the product that differs from it in `model/tubes/plans.toml` alone, and commands said to it."""

import json
import shutil
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parent.parent
# What a script begins with: the copy stands for the package, `said` gives what a command prints.
HEAD = """
import contextlib, importlib.util, io, json, os, sys

root = sys.argv[1]
given = sys.argv[2:]


class Here:
    @staticmethod
    def find_spec(name, path=None, target=None):
        if name == "droptrail":
            return importlib.util.spec_from_file_location(
                name, os.path.join(root, "__init__.py"), submodule_search_locations=[root]
            )


sys.meta_path.insert(0, Here)
from droptrail.cli.main import main


def run(*words):
    out = io.StringIO()
    sys.argv = ["droptrail", *words]
    code = 0
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
        try:
            main()
        except SystemExit as end:
            code = end.code or 0
    return code, out.getvalue()


def said(*words):
    return run(*words)[1]


def code(*words):
    return run(*words)[0]
"""


def answers(folder: Path, rows: str, script: str, given: Sequence[str] = ()) -> dict[str, Any]:
    """What a script writes as `answers.json` in a folder, run on a copy with these rows of plans added. `given` : its
    arguments."""
    tree = folder / "droptrail"
    tree.mkdir()
    shutil.copy(ROOT / "__init__.py", tree)
    for layer in ("model", "converters", "validation", "cli"):
        shutil.copytree(ROOT / layer, tree / layer, ignore=shutil.ignore_patterns("__pycache__"))
    plans = tree / "model" / "tubes" / "plans.toml"
    plans.write_text(plans.read_text(encoding="utf-8") + rows, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-c", HEAD + script, str(tree), *given],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=600,
    )
    assert done.returncode == 0, done.stderr
    found: dict[str, Any] = json.loads((folder / "answers.json").read_text())
    return found
