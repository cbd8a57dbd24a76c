"""The house keeps its order: arrows point down, heavy libraries stay out of the way, sizes stay readable."""

import ast
import subprocess
import sys
from graphlib import CycleError, TopologicalSorter
from pathlib import Path
from statistics import median

import pytest
from droptrail.model.tubes.known_plans import PLANS

ROOT = Path(__file__).parent.parent
LAYERS = (
    "model",
    "converters",
    "validation",
    "cli",
)  # each may import itself and what stands before it
HEAVY = (
    "ezdxf",
    "matplotlib",
    "plotly",
    "openseespy",
    "openpyxl",
    "shapely",
    "meshio",
    "pyarrow",
    "dask",
    "starlette",
)
TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "converters",
    "model",
    "validation",
    "tests",
    "sample_drawings",
    "cli",
    ".ci",
    "benchmarks",
    "Makefile",
    "LICENSE",
    "CHANGELOG.md",
    ".gitignore",
    "constraints.txt",
    "__init__.py",
}


def modules(layer: str) -> list[Path]:
    return sorted((ROOT / layer).rglob("*.py"))


def package_of(path: Path) -> tuple[str, ...]:
    """The package that a module's relative imports start from, without the leading `droptrail`."""
    return path.relative_to(ROOT).parent.parts


def imported(source: str, package: tuple[str, ...]) -> set[str]:
    """Modules of this project that a module imports, anywhere in its code, as `model.frame.mesh`."""
    found = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found |= {
                alias.name.removeprefix("droptrail.")
                for alias in node.names
                if alias.name.startswith("droptrail.")
            }
        if not isinstance(node, ast.ImportFrom):
            continue
        if node.level:
            start = package[: len(package) - node.level + 1]
        elif node.module and node.module.split(".")[0] == "droptrail":
            start = ()
        else:
            continue
        module = (node.module or "").removeprefix("droptrail").strip(".")
        at = ".".join((*start, module)) if module else ".".join(start)
        found |= {f"{at}.{alias.name}".strip(".") for alias in node.names}
    return found


def upward(layer: str, source: str, package: tuple[str, ...]) -> set[str]:
    """Layers above its own that a module imports."""
    return {name.split(".")[0] for name in imported(source, package)} - set(
        LAYERS[: LAYERS.index(layer) + 1]
    )


@pytest.mark.parametrize("layer", LAYERS)
def test_arrows_point_down(layer):
    offenders = {
        str(path.relative_to(ROOT)): up
        for path in modules(layer)
        if (up := upward(layer, path.read_text(encoding="utf-8"), package_of(path)))
    }
    assert not offenders


def test_the_arrow_check_can_fail():
    assert upward(
        "model", "from ...converters.drawings.drawing import Curve", ("model", "frame")
    ) == {"converters"}
    assert upward("model", "from .. import converters", ("model",)) == {"converters"}
    assert upward("converters", "def f():\n    import droptrail.cli.main", ("converters",)) == {
        "cli"
    }
    assert upward("cli", "from ..model.frame import mesh", ("cli",)) == set()
    assert imported("from ..model.frame import mesh", ("cli",)) == {"model.frame.mesh"}


def rooms(folder: str) -> dict[str, set[str]]:
    """Package (or single module) inside a folder -> the others of the folder that it imports, wherever in its code."""
    inside = tuple(folder.split("/"))
    depth = len(inside) + 1
    found: dict[str, set[str]] = {}
    for path in modules(folder):
        parts = path.relative_to(ROOT).with_suffix("").parts
        if parts[-1] == "__init__" and len(parts) == depth:
            continue
        names = (
            name.split(".") for name in imported(path.read_text(encoding="utf-8"), package_of(path))
        )
        found.setdefault(".".join(parts[:depth]), set()).update(
            ".".join(name[:depth]) for name in names if tuple(name[: depth - 1]) == inside
        )
    return {room: others - {room, ".".join(inside)} for room, others in found.items()}


@pytest.mark.parametrize(
    ("folder", "fewest"),
    [
        ("model", 8),
        ("converters", 5),
        ("converters/drawings", 5),
        ("converters/files", 8),
        ("converters/showing", 5),
        ("validation", 8),
        ("cli", 8),
    ],
)
def test_no_arrow_runs_round_inside_a_folder(folder, fewest):
    assert len(list(TopologicalSorter(rooms(folder)).static_order())) >= fewest


def test_an_arrow_that_runs_round_is_seen():
    with pytest.raises(CycleError):
        list(TopologicalSorter({**rooms("model"), "model.tubes": {"model.frame"}}).static_order())


def files() -> dict[str, set[str]]:
    """Module of the product -> the others that it imports, wherever in its code."""
    paths = {
        ".".join(path.relative_to(ROOT).with_suffix("").parts): path
        for layer in LAYERS
        for path in modules(layer)
        if path.name != "__init__.py"
    }
    found = {}
    for name, path in paths.items():
        asked = imported(path.read_text(encoding="utf-8"), package_of(path))
        # `from .plan import FramePlan` is told as plan.FramePlan: the module is what stands before
        asked |= {other.rpartition(".")[0] for other in asked}
        found[name] = asked & paths.keys() - {name}
    return found


def test_no_two_files_name_each_other_in_a_circle():
    assert len(list(TopologicalSorter(files()).static_order())) > 350


def test_a_circle_of_files_is_seen():
    graph = files()
    lower = "converters.drawings.sideview.side_view"
    assert lower in graph["converters.drawings.sideview.recognise"]
    graph[lower] = graph[lower] | {"converters.drawings.sideview.read"}
    with pytest.raises(CycleError):
        list(TopologicalSorter(graph).static_order())


def test_the_reader_of_drawings_needs_nothing_else_of_converters():
    for path in modules("converters/drawings"):
        names = imported(path.read_text(encoding="utf-8"), package_of(path))
        assert {
            name
            for name in names
            if name.startswith("converters.") and not name.startswith("converters.drawings.")
        } == set(), path


def test_no_room_holds_more_than_a_third_of_the_product():
    """Folders with modules of their own inside: 30 % at the most, so that each can be learned by itself."""
    lines = {
        path: len(path.read_text(encoding="utf-8").splitlines())
        for layer in LAYERS
        for path in modules(layer)
    }
    total = sum(lines.values())
    flat: dict[str, int] = {}
    for path, count in lines.items():
        parts = path.relative_to(ROOT).parts
        room = "/".join(parts[:2]) if len(parts) > 2 else parts[0]
        flat[room] = flat.get(room, 0) + count
    assert {room: count / total for room, count in flat.items() if count > 0.30 * total} == {}


def test_one_name_one_class():
    """A reader who finds a class name must know which thing it is."""
    homes: dict[str, list[str]] = {}
    for layer in LAYERS:
        for path in modules(layer):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.ClassDef):
                    homes.setdefault(node.name, []).append(str(path.relative_to(ROOT)))
    assert len(homes) > 150
    assert {name: found for name, found in homes.items() if len(found) > 1} == {}


def test_no_code_knows_who_rides():
    """Frames for several riders are rows of `model/tubes/plans.toml`: no module names them, their riders or tubes."""
    words = {word for plan in PLANS.values() for word in plan.words}
    for plan in PLANS.values():
        if plan.followers:
            words |= {plan.name, *(rider.name for rider in plan.riders)}
    assert len(words) > 3
    told = {}
    for layer in LAYERS:
        for path in modules(layer):
            text = path.read_text(encoding="utf-8").casefold()
            told[str(path.relative_to(ROOT))] = sorted(word for word in words if word in text)
    assert {path: found for path, found in told.items() if found} == {}


@pytest.mark.parametrize("package", ["model", "converters", "validation", "cli.main"])
def test_import_stays_cheap(package):
    code = f"import sys, droptrail.{package}; print(*[m for m in {HEAVY!r} if m in sys.modules])"
    out = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert out.stdout.split() == []


@pytest.mark.parametrize("command", ["check", "geometry", "read", "new"])
def test_a_command_starts_without_the_solvers_libraries(command):
    """Half a second that a typing error, --help or the geometry would wait for."""
    code = f"import sys, droptrail.cli.{command}; print(*[m for m in ('scipy', *{HEAVY!r}) if m in sys.modules])"
    out = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert out.stdout.split() == []


@pytest.mark.parametrize("command", ["check", "new"])
def test_help_and_typing_errors_do_not_wait_for_numbers(command):
    """numpy and the readers behind it are more than half of what a command takes to start."""
    code = f"import sys, droptrail.cli.{command}; print('numpy' in sys.modules, 'lazy_loader' in sys.modules)"
    out = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert out.stdout.split() == ["False", "False"]


def functions() -> list[tuple[str, int]]:
    found = []
    for layer in LAYERS:
        for path in modules(layer):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.FunctionDef):
                    found.append(
                        (f"{path.relative_to(ROOT)}:{node.name}", node.end_lineno - node.lineno + 1)
                    )
    return found


def test_functions_fit_on_a_screen():
    found = functions()
    assert len(found) > 100
    assert median(length for _, length in found) <= 10
    assert [name for name, length in found if length > 100] == []


def test_modules_stay_readable():
    long = {
        str(p.relative_to(ROOT)): n
        for layer in LAYERS
        for p in modules(layer)
        if (n := len(p.read_text(encoding="utf-8").splitlines())) > 600
    }
    assert long == {}


def test_top_level_holds_only_what_the_design_names():
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    ).stdout
    tops = {line.split("/")[0] for line in listed.splitlines()}
    if not tops:
        pytest.skip("not a git checkout")
    assert tops <= TOP_LEVEL
