"""The house keeps its order: arrows point down, heavy libraries stay out of the way, sizes stay readable."""

import ast
import subprocess
import sys
from graphlib import CycleError, TopologicalSorter
from pathlib import Path
from statistics import median

import pytest

ROOT = Path(__file__).parent.parent
LAYERS = ("model", "converters", "validation", "cli")  # each may import itself and what stands before it
HEAVY = ("ezdxf", "matplotlib", "plotly", "openseespy", "openpyxl", "shapely", "meshio", "pyarrow", "dask", "starlette")
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "converters", "model", "validation", "tests",
             "sample_drawings", "cli", ".ci", "benchmarks", "Makefile", "LICENSE", "CHANGELOG.md", ".gitignore",
             "constraints.txt"}


def modules(layer: str) -> list[Path]:
    return sorted((ROOT / layer).rglob("*.py"))


def imported_layers(source: str) -> set[str]:
    """Top-level packages of this project that a module's imports name (relative imports stay in the layer)."""
    found = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            found.add(node.module.split(".")[0])
    return found & set(LAYERS)


def upward(layer: str, source: str) -> set[str]:
    return imported_layers(source) - set(LAYERS[: LAYERS.index(layer) + 1])


@pytest.mark.parametrize("layer", LAYERS)
def test_arrows_point_down(layer):
    offenders = {str(path.relative_to(ROOT)): up for path in modules(layer)
                 if (up := upward(layer, path.read_text(encoding="utf-8")))}
    assert not offenders


def test_the_arrow_check_can_fail():
    assert upward("model", "from converters.drawing import Curve") == {"converters"}
    assert upward("converters", "def f():\n    import cli.main") == {"cli"}
    assert upward("cli", "import model") == set()


def rooms(layer: str) -> dict[str, set[str]]:
    """Package (or single module) inside a layer -> the others of the layer that it imports, wherever in its code."""
    found: dict[str, set[str]] = {}
    for path in modules(layer):
        parts = path.relative_to(ROOT).with_suffix("").parts
        room = ".".join(parts[:2])
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and len(parts) > 1 and parts[1] != "__init__":
                names = [node.module] if node.module else [alias.name for alias in node.names]
                start = parts[: len(parts) - node.level] if node.level else ()
                imported = [".".join((*start, name)).split(".") for name in names]
                found.setdefault(room, set()).update(".".join(i[:2]) for i in imported if i[0] == layer)
    return {room: others - {room, layer} for room, others in found.items()}


@pytest.mark.parametrize("layer", LAYERS)
def test_no_arrow_runs_round_inside_a_layer(layer):
    assert len(list(TopologicalSorter(rooms(layer)).static_order())) >= 8


def test_an_arrow_that_runs_round_is_seen():
    with pytest.raises(CycleError):
        list(TopologicalSorter({**rooms("model"), "model.tubes": {"model.frame"}}).static_order())


@pytest.mark.parametrize("package", ["model", "converters", "validation", "cli.main"])
def test_import_stays_cheap(package):
    code = f"import sys, {package}; print(*[m for m in {HEAVY!r} if m in sys.modules])"
    out = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert out.stdout.split() == []


def functions() -> list[tuple[str, int]]:
    found = []
    for layer in LAYERS:
        for path in modules(layer):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.FunctionDef):
                    found.append((f"{path.relative_to(ROOT)}:{node.name}", node.end_lineno - node.lineno + 1))
    return found


def test_functions_fit_on_a_screen():
    found = functions()
    assert len(found) > 100
    assert median(length for _, length in found) <= 10
    assert [name for name, length in found if length > 60] == []


def test_modules_stay_readable():
    long = {str(p.relative_to(ROOT)): n for layer in LAYERS for p in modules(layer)
            if (n := len(p.read_text(encoding="utf-8").splitlines())) > 400}
    assert long == {}


def test_top_level_holds_only_what_the_design_names():
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False).stdout
    tops = {line.split("/")[0] for line in listed.splitlines()}
    if not tops:
        pytest.skip("not a git checkout")
    assert tops <= TOP_LEVEL
