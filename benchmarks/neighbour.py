"""Commands beside a busy neighbour: on one thread, as the command sets it, against the library's own choice of threads.

    python benchmarks/neighbour.py --repeats 3

Each row holds two ways of the same command, measured in turns in one run: CPU and wall seconds, and their ratios.
"""

import argparse
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from statistics import median

ROOT = Path(__file__).parent.parent
SHEET = str(ROOT / "sample_drawings" / "tourer_700c.csv")
TUBES = ("top_tube", "down_tube", "seat_tube")
COMMANDS = {
    "check": ("check", SHEET),
    "search": (
        "search",
        SHEET,
        *(word for tube in TUBES for word in ("--option", f"{tube}=catalogue")),
        "--jobs",
        "1",
    ),
}
ALL_CORES = os.cpu_count() or 1


def spent(words: tuple[str, ...], threads: int) -> tuple[float, float]:
    """(CPU, wall) seconds of one run."""
    environment = {k: v for k, v in os.environ.items() if not k.endswith("_NUM_THREADS")}
    environment |= {"OPENBLAS_NUM_THREADS": str(threads), "PYTHONPATH": str(ROOT)}
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


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--repeats", type=int, default=3)
    repeats = parser.parse_args().repeats
    print(f"{'command':8} {'neighbour':9} {'threads':>7} {'CPU s':>7} {'wall s':>7}")
    for name, words in COMMANDS.items():
        for busy in (False, True):
            with neighbour(busy):
                turns = [(spent(words, 1), spent(words, ALL_CORES)) for _ in range(repeats)]
            one = [median(turn[0][k] for turn in turns) for k in (0, 1)]
            more = [median(turn[1][k] for turn in turns) for k in (0, 1)]
            said = "busy" if busy else "none"
            print(f"{name:8} {said:9} {1:7} {one[0]:7.2f} {one[1]:7.2f}")
            print(
                f"{name:8} {said:9} {ALL_CORES:7} {more[0]:7.2f} {more[1]:7.2f}   ratios "
                f"{more[0] / one[0]:.2f} and {more[1] / one[1]:.2f}"
            )


if __name__ == "__main__":
    main()
