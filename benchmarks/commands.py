"""Whole commands as a builder runs them: CPU seconds of the process, medians, and the ratio to reading a sheet.

    python benchmarks/commands.py [--repeats 5] [COMMAND ...]

The commands take turns within each round, so that a busy machine slows all of them alike. A report of a sample is meant
to stay below three seconds on a quiet machine.
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


def spent(words: tuple[str, ...], folder: str) -> float:
    """CPU seconds of one run."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(
        [sys.executable, "-m", "droptrail.cli.main", *words],
        cwd=folder,
        check=False,
        stdout=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("names", nargs="*", default=list(COMMANDS), metavar="COMMAND")
    parser.add_argument("--repeats", type=int, default=5)
    options = parser.parse_args()
    names = list(dict.fromkeys(("geometry", *options.names)))
    with TemporaryDirectory() as folder:
        rounds = [
            {name: spent(COMMANDS[name], folder) for name in names} for _ in range(options.repeats)
        ]
    base = median(one["geometry"] for one in rounds)
    for name in names:
        seconds = median(one[name] for one in rounds)
        print(f"{name:10} {seconds:6.2f} s {seconds / base:6.1f} times geometry")


if __name__ == "__main__":
    main()
