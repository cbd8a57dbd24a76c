"""Whole commands as a builder runs them: CPU seconds of the process, medians, and the ratio to reading a sheet.

    python benchmarks/commands.py [--repeats 5] [COMMAND ...]
    python benchmarks/commands.py --start [--beside FOLDER/droptrail]

`--start` times what every command waits for: `--version`, and the import of `check`; `--beside` another checkout in the
same rounds. The commands take turns within each round, so that a busy machine slows all of them alike. A report of a
sample is meant to stay below three seconds on a quiet machine.
"""

import argparse
import os
import resource
import subprocess
import sys
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

ROOT = Path(__file__).resolve().parents[1]
DRAWN = (
    str(ROOT / "sample_drawings/tourer_700c.dxf"),
    "--sheet",
    str(ROOT / "sample_drawings/tourer_700c.csv"),
)
COMMANDS = {
    "geometry": ("geometry", DRAWN[2]),
    "read": ("read", DRAWN[0]),
    "solve": ("solve", *DRAWN),
    "check": ("check", *DRAWN),
    "tubes": ("tubes", *DRAWN),
    "modes": ("modes", *DRAWN),
    "audit": ("audit", *DRAWN),
    "report": ("report", *DRAWN, "-o", "page.html", "--force"),
}


STARTS = {
    "python alone": ("-c", "pass"),
    "--version": ("-m", "droptrail.cli.main", "--version"),
    "import check": ("-c", "import droptrail.cli.check"),
}


def spent(words: tuple[str, ...], folder: str, checkout: Path = ROOT) -> float:
    """CPU seconds of one run of Python."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(
        [sys.executable, *words],
        cwd=folder,
        check=False,
        stdout=subprocess.DEVNULL,
        # the name it is imported by is the folder's
        env={**os.environ, "PYTHONPATH": str(checkout.parent)},
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def starts(folder: str, repeats: int, beside: Path | None) -> None:
    """Prints the medians, and how much more each takes here than in the checkout beside."""
    checkouts = [ROOT] if beside is None else [ROOT, beside]
    rounds = [
        {(name, at): spent(words, folder, at) for name, words in STARTS.items() for at in checkouts}
        for _ in range(repeats)
    ]
    for name in STARTS:
        line = f"{name:14} {median(one[name, ROOT] for one in rounds):7.4f} s"
        if beside is not None:
            # paired: what slows the machine slows both of one round
            more = median(one[name, ROOT] - one[name, beside] for one in rounds)
            line += f" {more:+8.4f} s against {median(one[name, beside] for one in rounds):7.4f} s beside"
        print(line)


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("names", nargs="*", default=list(COMMANDS), metavar="COMMAND")
    parser.add_argument("--repeats", type=int, default=5)
    parser.add_argument("--start", action="store_true")
    parser.add_argument("--beside", type=Path, metavar="FOLDER/droptrail")
    options = parser.parse_args()
    if options.start:
        with TemporaryDirectory() as folder:
            starts(folder, options.repeats, options.beside and options.beside.resolve())
        return
    names = list(dict.fromkeys(("geometry", *options.names)))
    with TemporaryDirectory() as folder:
        rounds = [
            {name: spent(("-m", "droptrail.cli.main", *COMMANDS[name]), folder) for name in names}
            for _ in range(options.repeats)
        ]
    base = median(one["geometry"] for one in rounds)
    for name in names:
        seconds = median(one[name] for one in rounds)
        print(f"{name:10} {seconds:6.2f} s {seconds / base:6.1f} times geometry")


if __name__ == "__main__":
    main()
