"""Mutation testing of model/ with cosmic-ray: small faults are put into the modules, and the tests must notice.

    python tests/mutation.py                         the usual modules
    python tests/mutation.py model/mechanics/beam.py           one of them

cosmic-ray changes files in place, so it works on a copy. Each fault runs the tests of `TESTS`, or those named after
the module. What survives is printed as a diff: kill it with a test, or say why it cannot matter.
Exit code 1 when something survives.
"""

import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from contextlib import closing
from pathlib import Path

ROOT = Path(__file__).parent.parent
# Module -> the tests in tests/model that speak for it: few, because each fault runs them. The first are the usual ones.
TESTS = {
    "model/geometry/dimensions.py": ("core_dimensions",),
    "model/mechanics/beam.py": ("core_beam", "core_solve"),
    "model/mechanics/constraints.py": ("core_constraints",),
    "model/mechanics/assembly.py": ("core_solve",),
    "model/mechanics/solve.py": ("core_solve", "load_cases"),
    "model/mechanics/mechanism.py": ("core_solve", "hidden_mechanism"),
    "model/frame/layout.py": ("core_mesh",),
    "model/frame/mesh.py": ("core_mesh",),
    "model/mechanics/frame_model.py": ("core_mesh",),
    "model/tubes/sections.py": ("core_values",),
    "model/tubes/tube.py": ("core_values",),
    "model/mechanics/result.py": ("core_solve",),
}
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
OUTCOMES = "SELECT worker_outcome, test_outcome, count(*) FROM work_results GROUP BY 1, 2"


def tests_for(module: str) -> str:
    names = TESTS.get(module, (Path(module).stem,))
    found = [
        str(p.relative_to(ROOT))
        for name in names
        for p in (ROOT / "tests/model").glob(f"test_{name}.py")
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


def run(module: str, folder: Path) -> list[tuple[str, int, str]]:
    """Survivors as (module, line, diff) of a run on a copy of the project in `folder`."""
    folder = folder / "droptrail"  # the name it is imported by
    folder.mkdir()
    for name in COPIED:
        copy = shutil.copytree if (ROOT / name).is_dir() else shutil.copy
        copy(ROOT / name, folder / name)
    # The copy comes before the installed checkout.
    environment = {**os.environ, "PYTHONPATH": str(folder.parent)}
    (folder / "config.toml").write_text(configuration(module), encoding="utf-8")
    for tool in (
        ["cosmic_ray.cli", "init", "config.toml", "session.sqlite"],
        ["cosmic_ray.tools.filters.operators_filter", "session.sqlite", "config.toml"],
        ["cosmic_ray.cli", "baseline", "config.toml"],
        ["cosmic_ray.cli", "exec", "config.toml", "session.sqlite"],
    ):
        subprocess.run([sys.executable, "-m", *tool], cwd=folder, env=environment, check=True)
    with closing(sqlite3.connect(folder / "session.sqlite")) as session:
        counts = ", ".join(
            f"{count} {(outcome or worker).lower()}"
            for worker, outcome, count in session.execute(OUTCOMES)
        )
        print(f"{module}: {counts}", flush=True)
        return list(session.execute(SURVIVORS))


def main(arguments: list[str]) -> int:
    alive = 0
    for module in arguments or USUAL:
        if not (ROOT / module).is_file():
            raise SystemExit(f"{module} is not a file of the project")
        with tempfile.TemporaryDirectory() as folder:
            survivors = run(module, Path(folder))
        for name, line, diff in survivors:
            print(f"\n{name}:{line}\n{diff}")
        alive += len(survivors)
    return 1 if alive else 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
