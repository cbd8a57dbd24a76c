"""The wheel on a stranger's machine: built from this checkout, installed into a clean environment elsewhere, run from
another folder with an empty home. `python tests/wheel_test.py`; any Python from 3.11 on runs it, with nothing
installed.

With --without-openseespy the cross-check's library is taken away again: everything else must work, and the check must
say what is missing.
"""

import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
import venv
import zipfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
SAMPLES = ROOT / "sample_drawings"
NEEDED = (
    "droptrail/converters/showing/data/report.html.j2",
    "droptrail/converters/files/data/tubes.csv",
    "droptrail/cli/py.typed",
    "droptrail/converters/py.typed",
    "droptrail/model/py.typed",
    "droptrail/validation/py.typed",
)


def main() -> int:
    start = time.monotonic()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        wheel = built(folder)
        print(f"{wheel.name}: {wheel.stat().st_size / 1000:.0f} kB, complete")
        python = installed(folder, wheel)
        used(folder, python)
        has_opensees = checked(folder, python)
        if has_opensees and "--without-openseespy" in sys.argv:
            call(python, "-m", "pip", "uninstall", "-y", "--quiet", "openseespy", "openseespylinux")
            assert not checked(folder, python)
    print(f"Python {sys.version.split()[0]}: the wheel works, {time.monotonic() - start:.0f} s")
    return 0


def built(folder: Path) -> Path:
    """The wheel, with every data file of the checkout in it and nothing that does not belong there."""
    source = folder / "source"
    shutil.copytree(
        ROOT,
        source,
        ignore=shutil.ignore_patterns(".*", "build", "*.egg-info", "__pycache__", "tests"),
    )
    shutil.copytree(
        ROOT / "tests", source / "tests", ignore=shutil.ignore_patterns("data", "__pycache__")
    )
    call(
        sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--wheel-dir", folder, source
    )
    (wheel,) = folder.glob("droptrail-*.whl")
    names = set(zipfile.ZipFile(wheel).namelist())
    layers = ("cli", "converters", "model", "validation")
    wanted = {
        f"droptrail/{path.relative_to(ROOT).as_posix()}"
        for layer in layers
        for path in (ROOT / layer).rglob("*")
        if path.is_file() and path.suffix not in (".pyc", ".md")
    }
    assert wanted <= names, f"not in the wheel: {sorted(wanted - names)}"
    assert set(NEEDED) <= names
    top = {name.split("/")[0] for name in names}
    # one package: nothing that a user's own model.py or cli.py could be mistaken for
    assert top == {"droptrail", wheel.name.split("-py3")[0] + ".dist-info"}, top
    return wheel


def installed(folder: Path, wheel: Path) -> Path:
    venv.create(folder / "clean", with_pip=True)
    python = folder / "clean" / ("Scripts" if os.name == "nt" else "bin") / "python"
    call(python, "-m", "pip", "install", "--quiet", "--disable-pip-version-check", wheel)
    return python


def environment(folder: Path) -> dict[str, str]:
    """Of a user who has just come: an empty home, no settings but the search path."""
    home = folder / "home"
    home.mkdir(exist_ok=True)
    kept = {
        key: value
        for key, value in os.environ.items()
        if key in ("SYSTEMROOT", "TEMP", "TMP", "LANG")
    }
    return {**kept, "PATH": os.defpath, "HOME": str(home), "USERPROFILE": str(home)}


def call(
    *command: object,
    cwd: Path | None = None,
    env: dict[str, str] | None = None,
    codes: tuple[int, ...] = (0,),
) -> str:
    done = subprocess.run(
        [str(word) for word in command],
        cwd=cwd,
        env=env,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    if done.returncode not in codes or "Traceback" in done.stderr:
        raise SystemExit(
            f"{' '.join(map(str, command))}: exit code {done.returncode}\n{done.stdout}\n{done.stderr}"
        )
    return done.stdout


def droptrail(folder: Path, python: Path, *argv: object, codes: tuple[int, ...] = (0,)) -> str:
    work = folder / "work"
    work.mkdir(exist_ok=True)
    program = python.with_name("droptrail.exe" if os.name == "nt" else "droptrail")
    return call(program, *argv, cwd=work, env=environment(folder), codes=codes)


def used(folder: Path, python: Path) -> None:
    """One of everything, from a folder that holds nothing but copied samples."""
    work = folder / "work"
    work.mkdir()
    for name in ("tourer_700c.dxf", "tourer_700c.csv"):
        shutil.copy(SAMPLES / name, work)
    assert droptrail(folder, python, "--version").startswith("droptrail")
    droptrail(folder, python, "new", "mine.xlsx")
    for command in (
        ["geometry", "mine.xlsx"],
        ["read", "tourer_700c.dxf", "-o", "o.svg"],
        ["draw", "mine.xlsx", "-o", "d.dxf"],
        ["mitre", "mine.xlsx", "-o", "m"],
        ["model", "mine.xlsx", "-o", "m.json"],
        ["solve", "m.json"],
        ["compare", "mine.xlsx", "--option", "top_tube=31.8", "-o", "c.xlsx"],
        ["search", "mine.xlsx", "--option", "top_tube=25.4,31.8", "-o", "s.svg"],
        ["modes", "mine.xlsx", "--count", "4"],
        ["shimmy", "mine.xlsx", "--draws", "2"],
        ["audit", "mine.xlsx"],
        ["picture", "mine.xlsx", "-o", "p.png"],
        ["report", "mine.xlsx", "-o", "r.html"],
        ["serve", "--help"],
    ):
        droptrail(folder, python, *command, codes=(0, 1, 4))
    assert (work / "r.html").stat().st_size > 100_000
    print(f"commands work from {work.name}/ with an empty home")


def checked(folder: Path, python: Path) -> bool:
    """Run the check; True when it was cross-checked. Without OpenSees it must still give every other number."""
    text = droptrail(
        folder,
        python,
        "check",
        "tourer_700c.dxf",
        "--sheet",
        "tourer_700c.csv",
        "--json",
        codes=(0, 1, 4),
    )
    said = json.loads(text)
    assert said["dimensions"][0]["item"] == "trail"
    crossed = all(value is not None for value in said["cross_check"].values())
    missing = [f["message"] for f in said["findings"] if "OpenSees" in f["message"]]
    assert crossed or missing, "no cross-check, and no word about it"
    print("cross-checked with OpenSees" if crossed else f"not cross-checked: {missing[0]}")
    return crossed


if __name__ == "__main__":
    sys.exit(main())
