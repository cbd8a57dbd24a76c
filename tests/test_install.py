"""What a stranger's machine needs: declared, packed into the wheel, and told in one line where it is missing.

The whole way - wheel built, installed elsewhere, run from another folder - is `make wheel-test`; it takes a minute.
"""

import ast
import json
import re
import subprocess
import sys
import tomllib
from fnmatch import fnmatch
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
LAYERS = ("cli", "converters", "model", "validation")
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
SHEET, DRAWING = (
    str(ROOT / "sample_drawings/tourer_700c.csv"),
    str(ROOT / "sample_drawings/tourer_700c.dxf"),
)
# Import name -> the declared package that brings it, where the two differ.
BROUGHT_BY = {"anyio": "starlette", "markupsafe": "jinja2", "openseespylinux": "openseespy"}
BROUGHT_BY |= {"mpl_toolkits": "matplotlib"}


def declared(requirements: list[str]) -> dict[str, str]:
    """Package -> version range."""
    found = (re.fullmatch(r"([A-Za-z0-9._-]+)([^;]*)(;.*)?", text.strip()) for text in requirements)
    return {match[1].lower(): match[2].strip() for match in found if match}


def imported(source: str) -> set[str]:
    """Top-level names of every absolute import outside TYPE_CHECKING's reach or not: all must be there for somebody."""
    found = set()
    for node in ast.walk(ast.parse(source, feature_version=(3, 11))):
        if isinstance(node, ast.Import):
            found |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            found.add(node.module.split(".")[0])
    return found


def sources() -> list[Path]:
    return [path for layer in LAYERS for path in (ROOT / layer).rglob("*.py")]


def test_every_library_that_is_imported_is_declared():
    names = set().union(*(imported(path.read_text(encoding="utf-8")) for path in sources()))
    outside = {
        BROUGHT_BY.get(name, name) for name in names - set(sys.stdlib_module_names) - set(LAYERS)
    }
    assert len(outside) > 8
    assert outside - set(declared(PROJECT["project"]["dependencies"])) == set()


def test_every_declared_library_is_bounded_and_pinned_for_ci():
    pins = declared(
        [
            line.split(";")[0].replace("==", " ==")
            for line in (ROOT / "constraints.txt").read_text(encoding="utf-8").splitlines()
            if line[:1] not in ("#", "")
        ]
    )
    extras = PROJECT["project"]["optional-dependencies"]
    for name, bounds in declared(PROJECT["project"]["dependencies"]).items():
        assert ">=" in bounds, name
        assert name in pins
    assert set(declared(extras["dev"])) <= set(pins)


def test_the_wheel_takes_every_data_file():
    """Packages and patterns of pyproject.toml against the files there are."""
    tool = PROJECT["tool"]["setuptools"]
    packages = {path.parent.relative_to(ROOT) for path in sources()}
    assert [p for p in packages if not (ROOT / p / "__init__.py").exists()] == []
    assert tool["package-dir"] == {"droptrail": "."}
    assert sorted(tool["packages"]) == sorted(
        ["droptrail", *(".".join(("droptrail", *p.parts)) for p in packages)]
    )
    patterns = tool["package-data"]["*"]
    files = [
        path.relative_to(ROOT)
        for layer in LAYERS
        for path in (ROOT / layer).rglob("*")
        if path.is_file() and path.suffix not in (".py", ".pyc", ".md")
    ]
    assert len(files) > 6
    for path in (
        files
    ):  # a pattern is told from the package that holds the file, or the folder `data` in it
        package = path.parent.parent if path.parent.name == "data" else path.parent
        assert any(fnmatch(path.relative_to(package).as_posix(), p) for p in patterns), path


def without(library: str, *argv: str) -> subprocess.CompletedProcess[str]:
    """A command where a library is not installed; None in sys.modules is Python's own way to say so."""
    code = f"import sys; sys.modules[{library!r}] = None; from droptrail.cli.main import main; sys.exit(main())"
    return subprocess.run(
        [sys.executable, "-c", code, *argv],
        cwd=ROOT,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )


def test_without_openseespy_everything_but_the_cross_check_works():
    done = without("openseespy", "check", DRAWING, "--sheet", SHEET, "--json")
    assert done.stderr == ""
    said = json.loads(done.stdout)
    assert said["cross_check"] == dict.fromkeys(
        said["cross_check"]
    )  # None for every case, and never a zero
    told = [f["message"] for f in said["findings"] if "OpenSees" in f["message"]]
    assert len(told) == 1
    assert "pip install openseespy" in told[0]
    assert said["stiffness"]["side_push"]["head_sideways"]["value"] > 10
    with_it = subprocess.run(
        [sys.executable, "-m", "droptrail.cli.main", "check", DRAWING, "--sheet", SHEET, "--json"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    crossed = json.loads(with_it.stdout)
    assert crossed["stiffness"] == said["stiffness"]
    assert said["verdict"] == crossed["verdict"]


@pytest.mark.parametrize(
    "argv", [["modes", SHEET, "--count", "3"], ["audit", SHEET], ["solve", SHEET]]
)
def test_without_openseespy_other_commands_work(argv):
    done = without("openseespy", *argv)
    assert done.returncode in (0, 1, 4)
    assert done.stderr == ""


@pytest.mark.parametrize(
    ("library", "argv"),
    [
        ("matplotlib", ["picture", SHEET, "-o", "never.png"]),
        ("ezdxf", ["draw", SHEET, "-o", "never.dxf"]),
        ("openpyxl", ["new", "never.xlsx"]),
        ("plotly", ["report", SHEET, "-o", "never.html"]),
    ],
)
def test_a_missing_library_is_named(library, argv):
    done = without(library, *argv)
    assert done.returncode == 3
    assert re.fullmatch(
        rf"droptrail: this needs the library {library}[\w.]*, which is not installed: "
        rf"pip install {library}[\w.]*\n",
        done.stderr,
    )
    assert not list(ROOT.glob("never*"))


def test_the_version_needs_no_library_but_the_command_line():
    for library in ("numpy", "scipy", "matplotlib", "ezdxf", "shapely", "rich"):
        assert without(library, "--version").returncode == 0


def test_an_audit_without_openseespy_is_complete_but_for_the_cross_check():
    done = without("openseespy", "audit", SHEET, "--case", "side_push")
    assert "complete but for the cross-check" in done.stdout
    assert done.returncode == 4
