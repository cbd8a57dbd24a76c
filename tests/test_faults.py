"""Nothing is lost: whatever stops a command - an existing file, Ctrl-C, a full disk - old files stay whole, no half
file is left behind, and one line says why. And the same command gives the same bytes."""

import errno
import json
import os
import re
import signal
import subprocess
import sys
import time
import tomllib
from pathlib import Path

import click
import droptrail.converters.files.writing as files
import pytest
from droptrail.cli.main import COMMANDS, main
from droptrail.converters.files.choice.executors import executor
from droptrail.converters.files.choice.search_store import open_store
from droptrail.model.errors import InputError
from helpers_bicycle import tourer

ROOT = Path(__file__).parent.parent
SHEET = str(ROOT / "sample_drawings" / "tourer_700c.csv")
READINGS = str(ROOT / "sample_drawings" / "tourer_700c_readings.csv")
DRAWING = str(ROOT / "sample_drawings" / "tourer_700c.dxf")
OLD = b"the builder's own file\n"

# Every command that writes, once per format: the file it writes, and the command with OUT for that file.
WRITES = {
    "new.csv": ["new", "OUT"],
    "new.xlsx": ["new", "OUT"],
    "read.svg": ["read", DRAWING, "-o", "OUT"],
    "draw.dxf": ["draw", SHEET, "-o", "OUT"],
    "jig.pdf": ["jig", SHEET, "-o", "OUT"],
    "customer.pdf": ["customer", SHEET, "--why", "a longer wheelbase for the bags", "-o", "OUT"],
    "jig.xlsx": ["jig", SHEET, "-o", "OUT"],
    "model.json": ["model", SHEET, "-o", "OUT"],
    "compare.csv": ["compare", SHEET, "--option", "top_tube=25.4,31.8", "-o", "OUT"],
    "compare.xlsx": ["compare", SHEET, "--option", "top_tube=25.4,31.8", "-o", "OUT"],
    "compare.svg": ["compare", SHEET, "--option", "top_tube=25.4,31.8", "-o", "OUT"],
    "compare.pdf": ["compare", SHEET, "--option", "top_tube=25.4,31.8", "-o", "OUT"],
    "measured.csv": ["measured", SHEET, READINGS, "-o", "OUT"],
    "sweep.svg": ["sweep", SHEET, "--steps", "3", "--case", "side_push", "-o", "OUT"],
    "sweep.csv": ["sweep", SHEET, "--steps", "3", "--case", "side_push", "-o", "OUT"],
    "search.csv": [
        "search",
        SHEET,
        "--option",
        "top_tube=25.4,28.6,31.8",
        "--jobs",
        "1",
        "-o",
        "OUT",
    ],
    "search.png": [
        "search",
        SHEET,
        "--option",
        "top_tube=25.4,28.6,31.8",
        "--jobs",
        "1",
        "-o",
        "OUT",
    ],
    "modes.svg": ["modes", SHEET, "--count", "4", "-o", "OUT"],
    "picture.svg": ["picture", SHEET, "-o", "OUT"],
    "picture.pdf": ["picture", SHEET, "-o", "OUT"],
    "export.json": ["export", SHEET, "-o", "OUT"],
    "export.xlsx": ["export", SHEET, "-o", "OUT"],
    "export.vtu": ["export", SHEET, "-o", "OUT"],
    "export.stl": ["export", SHEET, "-o", "OUT"],
    "report.html": ["report", SHEET, "-o", "OUT"],
}
TEMPLATE = "top_tube_at_seat_tube.svg"  # one of the files `mitre` writes into its folder
MITRE = ["mitre", SHEET, "--format", "svg", "-o"]
QUICK = (
    "new.csv",
    "new.xlsx",
    "draw.dxf",
    "model.json",
    "compare.xlsx",
    "compare.svg",
)  # one per kind of writer


def run(argv, out):
    return main([str(out) if word == "OUT" else word for word in argv])


def told(capsys):
    """The one line a refusal is."""
    text = capsys.readouterr().err.removeprefix("\n")  # after ^C the line begins anew
    assert text.startswith("droptrail: ")
    assert text.count("\n") == 1
    assert "Traceback" not in text
    assert "does not know" not in text
    return text


def test_every_command_with_an_output_is_tested_here():
    """A new command that writes must be entered above."""
    context = click.Context(click.Command("droptrail"))
    known = {argv[0] for argv in WRITES.values()} | {"mitre"}
    for name in COMMANDS:
        from importlib import import_module

        command = import_module(COMMANDS[name], "droptrail.cli").command
        options = {parameter.name for parameter in command.get_params(context)}
        if options & {"output", "outputs", "force"}:
            assert name in known
            assert "force" in options


@pytest.mark.parametrize("name", WRITES)
def test_an_existing_file_is_left_alone_without_force(tmp_path, capsys, name):
    out = tmp_path / name
    out.write_bytes(OLD)
    assert run(WRITES[name], out) == 3
    assert "exists already" in told(capsys)
    assert out.read_bytes() == OLD
    assert os.listdir(tmp_path) == [name]


@pytest.mark.parametrize("name", QUICK)
def test_force_replaces_it(tmp_path, name):
    out = tmp_path / name
    out.write_bytes(OLD)
    assert run([*WRITES[name], "--force"], out) in (0, 1)
    assert out.read_bytes() != OLD
    assert os.listdir(tmp_path) == [name]


def test_mitre_checks_all_its_files_before_it_writes_the_first(tmp_path, capsys):
    (tmp_path / TEMPLATE).write_bytes(OLD)
    assert main([*MITRE, str(tmp_path)]) == 3
    assert TEMPLATE in told(capsys)
    assert os.listdir(tmp_path) == [TEMPLATE]
    assert main([*MITRE, str(tmp_path), "--force"]) in (0, 1)
    assert (tmp_path / TEMPLATE).read_bytes() != OLD


def test_work_does_not_begin_when_its_output_cannot_be_written(tmp_path, monkeypatch):
    """An hour of search must not end in `exists already`."""
    (tmp_path / "old.csv").write_bytes(OLD)
    monkeypatch.setattr(
        "droptrail.cli.search.read", lambda *_, **__: pytest.fail("it began to work")
    )
    assert run(WRITES["search.csv"], tmp_path / "old.csv") == 3
    with pytest.raises(pytest.fail.Exception):  # the check above can fail
        run(WRITES["search.csv"], tmp_path / "new.csv")


def test_an_input_is_never_overwritten(tmp_path, capsys):
    sheet = tmp_path / "mine.csv"
    sheet.write_bytes(Path(SHEET).read_bytes())
    (tmp_path / "other_name.csv").symlink_to(sheet)
    for out in (sheet, tmp_path / "." / "mine.csv", tmp_path / "other_name.csv"):
        assert (
            main(["compare", str(sheet), "--option", "top_tube=31.8", "-o", str(out), "--force"])
            == 3
        )
        assert "read by this same command" in told(capsys)
    assert sheet.read_bytes() == Path(SHEET).read_bytes()


@pytest.mark.parametrize("name", QUICK)
@pytest.mark.parametrize(
    ("stop", "code", "word"),
    [
        (KeyboardInterrupt(), 130, "stopped"),
        (OSError(errno.ENOSPC, "No space left on device"), 3, "No space left"),
        (OSError(errno.EIO, "Input/output error"), 3, "Input/output error"),
    ],
)
def test_stopped_in_the_middle(tmp_path, monkeypatch, capsys, name, stop, code, word):
    """Just before the new file would take the old one's place: the latest moment at which something can go wrong."""

    def stopped(path):
        assert path.stat().st_size > 0  # it was written, beside the old one
        raise stop

    out = tmp_path / name
    out.write_bytes(OLD)
    monkeypatch.setattr(files, "_onto_disk", stopped)
    assert run([*WRITES[name], "--force"], out) == code
    assert word in told(capsys)
    assert out.read_bytes() == OLD
    assert os.listdir(tmp_path) == [name]


def test_stopped_while_the_writer_writes(tmp_path):
    class Stop(BaseException):
        pass

    (tmp_path / "old.txt").write_bytes(OLD)

    def write():
        with files.new_file(tmp_path / "old.txt", force=True) as path:
            path.write_bytes(b"half")
            raise Stop

    with pytest.raises(Stop):
        write()
    assert (tmp_path / "old.txt").read_bytes() == OLD
    assert os.listdir(tmp_path) == ["old.txt"]


@pytest.mark.skipif(not hasattr(os, "fork"), reason="limits of a process need a Unix system")
@pytest.mark.parametrize(
    "name",
    [
        "new.csv",
        "draw.dxf",
        "compare.xlsx",
        "compare.svg",
        "report.html",
        "picture.pdf",
        "export.vtu",
        "export.stl",
    ],
)
def test_a_disk_that_is_really_full(tmp_path, name):
    """The system itself refuses to write on: the largest file of the process is 300 bytes."""
    out = tmp_path / name
    out.write_bytes(OLD)
    limited = (
        "import resource, sys; from droptrail.cli.main import main; "
        "resource.setrlimit(resource.RLIMIT_FSIZE, (300, 300)); sys.exit(main())"
    )
    argv = [str(out) if word == "OUT" else word for word in WRITES[name]]
    done = subprocess.run(
        [sys.executable, "-c", limited, *argv, "--force"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 3
    assert re.fullmatch(
        r"droptrail: .*could not be written \((File too large|the disk may be full: .*)\); "
        r"nothing was changed\n",
        done.stderr,
    )
    assert out.read_bytes() == OLD
    assert os.listdir(tmp_path) == [name]


# --- what a killed run leaves behind is swept by the next ---------------------------------------------------------
NEVER = (
    2**22 + 1
)  # above the highest process number a Linux system gives; on others higher than any in use


def named(folder, mark, stem=".frame", ending=".csv"):
    path = folder / f"{stem}{mark}{ending}"
    path.write_bytes(b"half")
    return path


@pytest.mark.skipif(os.name != "posix", reason="only there a process can be asked after")
def test_what_a_killed_run_left_is_swept_and_nothing_else(tmp_path):
    here = files._this_machine()
    dead = named(tmp_path, f"~{here}-{NEVER}-0123abcd")
    alive = named(tmp_path, f"~{here}-{os.getpid()}-0123abcd")
    elsewhere = named(tmp_path, f"~{'0' * 8}-{NEVER}-0123abcd")
    builders_own = [
        named(tmp_path, ""),
        named(tmp_path, f"~{here}-{NEVER}-0123abcd", stem="frame"),  # not hidden: not ours
        named(tmp_path, f"~{here}-{NEVER}"),
    ]
    files.write_text(tmp_path / "new.csv", "x")
    assert not dead.exists()
    assert all(path.exists() for path in (alive, elsewhere, *builders_own))


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="killing outright needs a Unix system")
def test_a_run_that_is_killed_while_it_writes(tmp_path):
    """A real process, killed outright between writing and renaming; the next run clears its file and its folder."""
    killed = (
        "import os, signal, sys, tempfile; from pathlib import Path\n"
        "import droptrail.converters.files.writing as files\n"
        "tempfile.tempdir = sys.argv[1]\n"
        "files._onto_disk = lambda path: os.kill(os.getpid(), signal.SIGKILL)\n"
        "with files.working_folder() as folder:\n"
        "    (folder / 'upload.csv').write_text('x')\n"
        "    files.write_text(Path(sys.argv[1]) / 'frame.csv', 'x')\n"
    )
    done = subprocess.run([sys.executable, "-c", killed, str(tmp_path)], cwd=ROOT, check=False)
    assert done.returncode == -signal.SIGKILL
    assert len(os.listdir(tmp_path)) == 2  # the half file, and the folder
    files.write_text(tmp_path / "frame.csv", "x")
    assert os.listdir(tmp_path) == ["frame.csv"]


# --- Ctrl-C before the program can answer for itself ---------------------------------------------------------------
EARLY = """
import os, signal, sys
signal.signal(signal.SIGINT, signal.default_int_handler)

class Press:  # Ctrl-C at the moment a library begins to load
    @staticmethod
    def find_spec(name, path=None, target=None):
        if name == {library!r}:
            os.kill(os.getpid(), signal.SIGINT)

sys.meta_path.insert(0, Press)
from {module} import main
sys.exit(main())
"""


def pressed(library, module):
    return subprocess.run(
        [sys.executable, "-c", EARLY.format(library=library, module=module), "geometry", SHEET],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.skipif(os.name != "posix", reason="signals of a Unix system")
@pytest.mark.parametrize("library", ["droptrail.cli.main", "click", "droptrail.cli.geometry"])
def test_stopped_while_the_libraries_load(library):
    done = pressed(library, "droptrail.cli.start")
    assert (done.returncode, done.stderr.strip()) == (130, "droptrail: stopped")


@pytest.mark.skipif(os.name != "posix", reason="signals of a Unix system")
def test_the_program_begins_where_that_is_heeded():
    assert "Traceback" in pressed("click", "droptrail.cli.main").stderr  # the test above can fail
    with (ROOT / "pyproject.toml").open("rb") as held:
        scripts = tomllib.load(held)["project"]["scripts"]
    assert scripts == {"droptrail": "droptrail.cli.start:main"}


@pytest.mark.parametrize("wish", [None, "3"])
def test_the_command_solves_on_one_thread_unless_the_user_has_set_another_number(wish):
    """The libraries read it once, when they are loaded: so it is set before, and start loads nothing itself."""
    ask = (
        "import os, sys; from droptrail.cli.start import main\n"
        "print('numpy' in sys.modules)\n"
        "sys.argv[1:] = ['--version']\n"
        "main()\n"
        "print(os.environ['OPENBLAS_NUM_THREADS'], os.environ['MKL_NUM_THREADS'])\n"
    )
    environment = {k: v for k, v in os.environ.items() if not k.endswith("_NUM_THREADS")}
    if wish is not None:
        environment["OPENBLAS_NUM_THREADS"] = wish
    done = subprocess.run(
        [sys.executable, "-c", ask],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        check=True,
    )
    lines = done.stdout.splitlines()
    assert (lines[0], lines[-1]) == ("False", f"{wish or 1} 1")


def blocked():
    return signal.SIGINT in signal.pthread_sigmask(signal.SIG_BLOCK, ())


@pytest.mark.skipif(not hasattr(signal, "pthread_sigmask"), reason="masks of a Unix system")
def test_workers_are_deaf_from_their_first_moment():
    """Ctrl-C goes to every process of the terminal; a worker whose interpreter just starts would show a traceback."""
    with executor(jobs=2) as pool:
        assert pool.submit(blocked).result(timeout=60)
    assert not blocked()


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="needs /dev/full")
@pytest.mark.parametrize("argv", [["--version"], ["geometry", SHEET], ["solve", SHEET, "--json"]])
def test_output_to_a_full_disk_says_so(argv):
    with open("/dev/full", "w", encoding="utf-8") as full:
        done = subprocess.run(
            [sys.executable, "-m", "droptrail.cli.main", *argv],
            cwd=ROOT,
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert done.returncode == 3
    assert done.stderr == "droptrail: output: No space left on device\n"


def test_a_reader_that_goes_away_gets_no_complaint():
    with subprocess.Popen(
        [sys.executable, "-m", "droptrail.cli.main", "solve", SHEET, "--json"],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as child:
        assert child.stdout.read(10)
        child.stdout.close()
        assert child.stderr.read() == b""
    assert child.returncode in (0, 1)


def unwritable(tmp_path):
    """A folder this user cannot write into, even as root."""
    if os.name == "posix" and os.geteuid() == 0:
        return Path("/sys") if os.path.isdir("/sys") else pytest.skip("root writes everywhere here")
    folder = tmp_path / "locked"
    folder.mkdir()
    folder.chmod(0o500)
    return folder


@pytest.mark.parametrize("name", QUICK)
def test_a_folder_that_cannot_be_written(tmp_path, capsys, name):
    folder = unwritable(tmp_path)
    assert run(WRITES[name], folder / name) == 3
    assert re.search(
        r"cannot write into that folder \(.*(denied|permitted|Read-only)", told(capsys)
    )
    assert run(WRITES[name], tmp_path / "nowhere" / name) == 3
    assert "No such file" in told(capsys)


@pytest.mark.parametrize("name", ["new.csv", "draw.dxf"])
def test_a_write_protected_file_stays_even_with_force(tmp_path, capsys, name):
    out = tmp_path / name
    out.write_bytes(OLD)
    out.chmod(0o444)
    assert run([*WRITES[name], "--force"], out) == 3
    assert "write-protected" in told(capsys)
    assert out.read_bytes() == OLD


@pytest.mark.skipif(os.name != "posix", reason="links and devices of a Unix system")
def test_devices_folders_and_links(tmp_path):
    with pytest.raises(InputError, match="is a device"):
        files.write_text("/dev/null", "x", force=True)
    with pytest.raises(InputError, match="is a folder"):
        files.write_text(tmp_path, "x", force=True)
    (tmp_path / "broken").symlink_to(tmp_path / "nothing")
    with pytest.raises(InputError, match="broken link"):
        files.write_text(tmp_path / "broken", "x", force=True)
    (tmp_path / "real").write_bytes(OLD)
    (tmp_path / "link").symlink_to(tmp_path / "real")
    with pytest.raises(InputError, match="exists already"):
        files.write_text(tmp_path / "link", "x")
    files.write_text(tmp_path / "link", "new", force=True)
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "real").read_text() == "new"


@pytest.mark.skipif(os.name != "posix", reason="permissions of a Unix system")
def test_permissions_of_a_replaced_file_are_kept(tmp_path):
    out = tmp_path / "private.txt"
    out.write_bytes(OLD)
    out.chmod(0o600)
    files.write_text(out, "new", force=True)
    assert out.stat().st_mode & 0o777 == 0o600
    held = os.umask(0o027)
    try:
        files.write_text(tmp_path / "fresh.txt", "new")
    finally:
        os.umask(held)
    assert (tmp_path / "fresh.txt").stat().st_mode & 0o777 == 0o640


def test_another_program_that_comes_first_is_not_overwritten(tmp_path):
    def write():
        with files.new_file(tmp_path / "a.txt") as path:
            path.write_bytes(b"ours")
            (tmp_path / "a.txt").write_bytes(OLD)

    with pytest.raises(InputError, match="exists already"):
        write()
    assert (tmp_path / "a.txt").read_bytes() == OLD


# --- a search on disk ---------------------------------------------------------------------------------------------
def searched(store, *more):
    return main(
        [
            "search",
            SHEET,
            "--option",
            "top_tube=25.4,28.6,31.8",
            "--option",
            "down_tube=31.8,34.9",
            "--jobs",
            "1",
            "--chunk",
            "2",
            "--format",
            "csv",
            "--store",
            str(store),
            *more,
        ]
    )


@pytest.mark.parametrize("damage", [b"", b"PK\x03\x04 cut off", b"\x80\x04K\x01."])
def test_a_damaged_summary_is_named(tmp_path, capsys, damage):
    store = tmp_path / "store"
    assert searched(store) in (0, 1)
    capsys.readouterr()
    summaries = sorted(store.glob("chunk-*.npz"))
    assert len(summaries) >= 2
    summaries[1].write_bytes(damage)
    assert searched(store, "--resume") == 3
    assert re.search(
        r"chunk-000001.npz: this summary is damaged .*delete the file and resume", told(capsys)
    )
    summaries[1].unlink()
    assert searched(store, "--resume") in (0, 1)


def test_a_search_that_is_there_is_not_begun_anew(tmp_path, capsys):
    (tmp_path / "notes.txt").write_bytes(OLD)
    assert searched(tmp_path) == 3
    assert "is not empty" in told(capsys)
    assert os.listdir(tmp_path) == ["notes.txt"]
    assert open_store  # the door the command goes through


# --- the same bytes -----------------------------------------------------------------------------------------------
RUNNER = """
import json, sys
from droptrail.cli.main import main
for argv in json.loads(sys.argv[1]):
    main(argv)
"""


def everything(folder: Path, seed: str) -> dict[str, bytes]:
    """All outputs, and the JSON of the commands that print, by a process of its own."""
    folder.mkdir()
    jobs = [
        [str(folder / name) if word == "OUT" else word for word in argv]
        for name, argv in WRITES.items()
    ]
    jobs += [
        [*MITRE[:2], "-o", str(folder)],
        ["solve", SHEET, "--json"],
        ["check", DRAWING, "--sheet", SHEET, "--json"],
        ["modes", SHEET, "--count", "6", "--json"],
    ]
    done = subprocess.run(
        [sys.executable, "-c", RUNNER, json.dumps(jobs)],
        cwd=ROOT,
        capture_output=True,
        check=False,
        env={**os.environ, "PYTHONHASHSEED": seed},
    )
    found = {path.name: path.read_bytes() for path in folder.iterdir()}
    return {**found, "stdout": done.stdout.replace(str(folder).encode(), b"FOLDER")}


@pytest.mark.slow
def test_the_same_command_gives_the_same_bytes(tmp_path):
    """Two processes, two hash seeds, two moments: a date or an unordered set anywhere would show."""
    first = everything(tmp_path / "a", "1")
    time.sleep(2.1)  # ZIP archives date to two seconds
    second = everything(tmp_path / "b", "2")
    assert {*WRITES, TEMPLATE, TEMPLATE.replace(".svg", ".dxf")} <= set(first)
    assert first.keys() == second.keys()
    assert [name for name in first if first[name] != second[name]] == []


def test_the_bytes_hold_no_time(tmp_path):
    from droptrail.converters.files.fitsheet.write_sheet import write_fit_sheet

    write_fit_sheet(tourer(), tmp_path / "a.xlsx")
    data = (tmp_path / "a.xlsx").read_bytes()
    assert time.strftime("%Y-%m").encode() not in data
    from droptrail.converters.files.fitsheet.bicycle import bicycle_from_sheet, read_fit_sheet

    assert (
        bicycle_from_sheet(read_fit_sheet(tmp_path / "a.xlsx")).bicycle.tubes.keys()
        == tourer().tubes.keys()
    )


@pytest.mark.skipif(os.name != "posix", reason="pipes of a Unix system")
def test_a_reader_that_goes_away_is_no_finding():
    """`droptrail geometry ... | head -1` is not a check out of tolerance."""
    command = [
        sys.executable,
        "-m",
        "droptrail.cli.main",
        "geometry",
        str(ROOT / "sample_drawings" / "tourer_700c.csv"),
    ]
    with subprocess.Popen(
        command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as process:
        process.stdout.close()
        errors = process.stderr.read()
    assert (process.returncode, errors) == (0, b"")
