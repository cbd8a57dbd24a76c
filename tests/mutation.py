"""Mutation testing with cosmic-ray: small faults are put into the modules, and the tests must notice.

    python tests/mutation.py                         the usual modules
    python tests/mutation.py model/mechanics/beam.py           one of them
    python tests/mutation.py --reader --sample 20 --seed 3      the reader of drawings, 20 faults a module by chance

cosmic-ray changes files in place, so it works on a copy. Each fault runs the tests of `TESTS`, or those named after
the module. What survives is printed as a diff: kill it with a test, or say why it cannot matter.
Exit code 1 when something survives.
"""

import argparse
import os
import random
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

ROOT = Path(__file__).parent.parent
# What speaks for the reader of drawings: what takes least first, then real exports with known truth.
_READ = ("search_points", "sideview_truth", "recognise_picks", "wheels_in_doubt")
_LINES = ("recognise_parts", "sideview_truth", "recognise_picks", "wheels_in_doubt")
_MEASURED = ("nodes", "measured_marks", "sideview_truth")
_SHARED_OUT = (
    "stages",
    "sideview_truth",
    "workshop_sheets",
)  # what is drawn along the steering axis
_TOLD = ("sideview_truth", "recognise_refusals")
_UNITS = ("drawing_units", "written_numbers")
# Module -> the tests that speak for it: few, because each fault runs them.
TESTS = {
    "model/geometry/dimensions.py": ("core_dimensions",),
    "model/mechanics/beam.py": ("core_beam", "core_solve"),
    "model/mechanics/constraints.py": ("core_constraints",),
    "model/mechanics/assembly.py": ("core_solve",),
    "model/mechanics/solve.py": ("core_solve", "load_cases"),
    "model/mechanics/mechanism.py": ("core_solve", "hidden_mechanism"),
    "model/frame/layout.py": ("core_mesh",),
    "model/frame/mesh.py": ("core_mesh",),
    "model/frame/rigid_zones.py": ("core_mesh",),
    "model/mechanics/frame_model.py": ("core_mesh",),
    "model/tubes/sections.py": ("core_values",),
    "model/tubes/tube.py": ("core_values",),
    "model/mechanics/result.py": ("core_solve",),
    "converters/drawings/linework/edges.py": ("edge_pairs", *_LINES),
    "converters/drawings/linework/evidence.py": ("evidence", *_LINES),
    "converters/drawings/linework/pieces.py": ("pieces", *_LINES),
    "converters/drawings/linework/rounds.py": ("rounds", *_LINES),
    "converters/drawings/linework/strokes.py": _LINES,
    "converters/drawings/labelling/candidates.py": _READ,
    "converters/drawings/labelling/choice.py": _READ,
    "converters/drawings/labelling/fork.py": ("fork_ways", *_READ),
    "converters/drawings/labelling/measure.py": _MEASURED,
    "converters/drawings/labelling/nodes.py": _MEASURED,
    "converters/drawings/labelling/points.py": _READ,
    "converters/drawings/labelling/profile.py": ("profile", *_SHARED_OUT),
    "converters/drawings/labelling/rivals.py": _READ,
    "converters/drawings/labelling/score.py": _READ,
    "converters/drawings/labelling/search.py": _READ,
    "converters/drawings/labelling/steering.py": _SHARED_OUT,
    "converters/drawings/labelling/weights.py": _READ,
    "converters/drawings/labelling/witnesses.py": _MEASURED,
    "converters/drawings/sideview/checks.py": _TOLD,
    "converters/drawings/sideview/precision.py": ("precision_of_ends", "sideview_truth"),
    "converters/drawings/sideview/units.py": _UNITS,
    "converters/drawings/sideview/unit_evidence.py": _UNITS,
}
READER = tuple(module for module in TESTS if module.startswith("converters/drawings/"))
USUAL = (
    "model/geometry/dimensions.py",
    "model/mechanics/beam.py",
    "model/mechanics/constraints.py",
)
COPIED = (
    "model",
    "converters",
    "validation",
    "cli",
    "tests",
    "sample_drawings",
    "pyproject.toml",
    "__init__.py",
)
SECONDS = 120.0  # per fault; a fault that makes a loop endless counts as noticed
# One replacement per operator is enough: + and -, * and /, ** and *, < and <=, and so on. | stands in type hints only.
LEFT_OUT = (
    r"core/ReplaceBinaryOperator_(?!(Add_Sub|Sub_Add|Mul_Div|Div_Mul|Pow_Mul|BitAnd_BitOr)$).*",
    r"core/ReplaceComparisonOperator_(?!(Lt_LtE|LtE_Lt|Gt_GtE|GtE_Gt|Lt_GtE|LtE_Gt|Gt_LtE|GtE_Lt|Eq_NotEq|NotEq_Eq"
    r"|Is_IsNot|IsNot_Is|In_NotIn|NotIn_In)$).*",
    r"core/ReplaceUnaryOperator_(?!USub_UAdd$).*",
    r"core/RemoveDecorator",
    r"core/AddNot",
)
SURVIVORS = """
    SELECT m.module_path, m.start_pos_row, r.diff FROM work_results r JOIN mutation_specs m ON r.job_id = m.job_id
    WHERE r.test_outcome = 'SURVIVED' ORDER BY m.module_path, m.start_pos_row"""
PENDING = """
    SELECT w.job_id, m.module_path, m.operator_name, m.occurrence FROM work_items w
    JOIN mutation_specs m ON w.job_id = m.job_id WHERE w.job_id NOT IN (SELECT job_id FROM work_results)"""
OUTCOMES = "SELECT worker_outcome, test_outcome, count(*) FROM work_results GROUP BY 1, 2"


def tests_for(module: str) -> str:
    names = TESTS.get(module, (Path(module).stem,))
    found = [
        str(p.relative_to(ROOT))
        for name in names
        for p in sorted((ROOT / "tests").rglob(f"test_{name}.py"))
    ]
    if not found:
        raise SystemExit(f"{module}: no tests are named after it; add its line to TESTS")
    return " ".join(found)


def configuration(module: str) -> str:
    command = f"{sys.executable} -m pytest -x -q -p no:cacheprovider {tests_for(module)}"
    return (
        f"[cosmic-ray]\nmodule-path = '{module}'\ntimeout = {SECONDS}\nexcluded-modules = []\n"
        f"test-command = '{command}'\n[cosmic-ray.distributor]\nname = 'local'\n"
        f"[cosmic-ray.filters.operators-filter]\nexclude-operators = {list(LEFT_OUT)!r}\n"
    )


def left_out(jobs: Sequence[str], sample: int, seed: int) -> list[str]:
    """All jobs but `sample` of them by chance; the same ones for the same seed. 0 takes all."""
    if not sample or sample >= len(jobs):
        return []
    taken = set(random.Random(seed).sample(sorted(jobs), sample))
    return [job for job in jobs if job not in taken]


def thin_out(session: Path, sample: int, seed: int) -> None:
    """Only a sample of the faults that are left after the filter stays in the session."""
    with closing(sqlite3.connect(session)) as held, held:
        # by what the fault is: the jobs' own names are new in every session
        rows = held.execute(PENDING).fetchall()
        names = {"/".join(map(str, fault)): job for job, *fault in rows}
        for name in left_out(list(names), sample, seed):
            for table in ("mutation_specs", "work_items"):
                held.execute(f"DELETE FROM {table} WHERE job_id = ?", (names[name],))


def run(module: str, folder: Path, sample: int = 0, seed: int = 0) -> list[tuple[str, int, str]]:
    """Survivors as (module, line, diff) of a run on a copy of the project in `folder`."""
    folder = folder / "droptrail"  # the name it is imported by
    folder.mkdir()
    for name in COPIED:
        copy = shutil.copytree if (ROOT / name).is_dir() else shutil.copy
        copy(ROOT / name, folder / name)
    # The copy comes before the installed checkout.
    known = os.environ.get("PYTHONPATH", "")
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join((str(folder.parent), known))}
    (folder / "config.toml").write_text(configuration(module), encoding="utf-8")
    for tool in (
        ["cosmic_ray.cli", "init", "config.toml", "session.sqlite"],
        ["cosmic_ray.tools.filters.operators_filter", "session.sqlite", "config.toml"],
        ["cosmic_ray.cli", "baseline", "config.toml"],
        ["cosmic_ray.cli", "exec", "config.toml", "session.sqlite"],
    ):
        if tool[1] == "exec":
            thin_out(folder / "session.sqlite", sample, seed)
        subprocess.run([sys.executable, "-m", *tool], cwd=folder, env=environment, check=True)
    with closing(sqlite3.connect(folder / "session.sqlite")) as session:
        counts = ", ".join(
            f"{count} {(outcome or worker).lower()}"
            for worker, outcome, count in session.execute(OUTCOMES)
        )
        print(f"{module}: {counts}", flush=True)
        return list(session.execute(SURVIVORS))


def main(arguments: list[str]) -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("modules", nargs="*", metavar="MODULE")
    parser.add_argument("--reader", action="store_true", help="every module of READER")
    parser.add_argument("--sample", type=int, default=0, help="faults a module; 0 for all")
    parser.add_argument("--seed", type=int, default=0)
    options = parser.parse_args(arguments)
    alive = 0
    for module in options.modules or (READER if options.reader else USUAL):
        if not (ROOT / module).is_file():
            raise SystemExit(f"{module} is not a file of the project")
        with tempfile.TemporaryDirectory() as folder:
            survivors = run(module, Path(folder), options.sample, options.seed)
        for name, line, diff in survivors:
            print(f"\n{name}:{line}\n{diff}")
        alive += len(survivors)
    return 1 if alive else 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
