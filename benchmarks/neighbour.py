"""Commands beside a busy neighbour: with nothing set, so on the one thread that the command takes for itself, against
the linear-algebra library's own choice of threads.

    python benchmarks/neighbour.py [--repeats 5] [--write]

Each row holds two ways of the same command, measured in turns in one run: least CPU and wall seconds, and their ratios.
--write puts the table into benchmarks/NEIGHBOUR.md; no figure there is typed by hand.
"""

import argparse
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).parent.parent
SHEET = str(ROOT / "sample_drawings" / "tourer_700c.csv")
TUBES = ("top_tube", "down_tube", "seat_tube")
COMMANDS = {
    "check": ("check", SHEET),
    "modes": ("modes", SHEET),
    "compare, 60 geometries": (
        "compare",
        SHEET,
        "--option",
        f"fork_offset={','.join(str(40 + k) for k in range(12))}",
        "--option",
        "chainstay=440,445,450,455,460",
    ),
    "search": (
        "search",
        SHEET,
        *(word for tube in TUBES for word in ("--option", f"{tube}=catalogue")),
        "--jobs",
        "1",
    ),
}
ALL_CORES = os.cpu_count() or 1


def spent(words: tuple[str, ...], threads: int | None) -> tuple[float, float]:
    """(CPU, wall) seconds of one run. threads : None leaves all settings to the command."""
    environment = {k: v for k, v in os.environ.items() if not k.endswith("_NUM_THREADS")}
    environment["PYTHONPATH"] = str(ROOT)
    if threads is not None:
        environment["OPENBLAS_NUM_THREADS"] = str(threads)
    begun = time.perf_counter()
    run = subprocess.Popen(
        [sys.executable, "-m", "droptrail.cli.start", *words],
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    _, _, usage = os.wait4(run.pid, 0)
    return usage.ru_utime + usage.ru_stime, time.perf_counter() - begun


@contextmanager
def neighbour(busy: bool) -> Iterator[None]:
    """As many processes that never rest as there are cores, while the block runs."""
    idle = [
        subprocess.Popen([sys.executable, "-c", "while True: pass"])
        for _ in range(ALL_CORES if busy else 0)
    ]
    try:
        yield
    finally:
        for process in idle:
            process.kill()
            process.wait()


HEADS = ("command", "neighbour", "CPU s", "wall s", "CPU s", "wall s", "CPU", "wall")
INTRO = """# Beside a busy neighbour

Made by `python benchmarks/neighbour.py --write`; no figure is typed by hand. Whole commands, start included, on {cores}
cores: with nothing set, when the command keeps the linear-algebra library to one thread, and with the library's own
choice of {cores} threads. Busy: as many processes that never rest as there are cores. Least of {repeats} runs in turns;
the last two columns are the library's choice over ours. Load average when it began: {load:.1f}.

{table}
"""


def rows(repeats: int) -> list[tuple[str, ...]]:
    """One for each command, alone and beside the neighbour."""
    found = []
    for name, words in COMMANDS.items():
        for busy in (False, True):
            with neighbour(busy):
                turns = [(spent(words, None), spent(words, ALL_CORES)) for _ in range(repeats)]
            ours = [min(turn[0][k] for turn in turns) for k in (0, 1)]
            theirs = [min(turn[1][k] for turn in turns) for k in (0, 1)]
            ratios = [b / a for a, b in zip(ours, theirs, strict=True)]
            numbers = (f"{value:.2f}" for value in (*ours, *theirs, *ratios))
            found.append((name, "busy" if busy else "none", *numbers))
            print(*found[-1], sep="  ", flush=True)
    return found


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--repeats", type=int, default=5)
    parser.add_argument("--write", action="store_true", help="write benchmarks/NEIGHBOUR.md")
    wanted = parser.parse_args()
    load = os.getloadavg()[0]
    lines = [HEADS, tuple("---:" for _ in HEADS), *rows(wanted.repeats)]
    table = "\n".join(f"| {' | '.join(line)} |" for line in lines)
    if wanted.write:
        page = INTRO.format(cores=ALL_CORES, repeats=wanted.repeats, load=load, table=table)
        (ROOT / "benchmarks" / "NEIGHBOUR.md").write_text(page, encoding="utf-8")


if __name__ == "__main__":
    main()
