"""How long a drawing takes to read beside a plain one: a frame in outline among more and more lines, arcs or both.

    python benchmarks/drawings.py [--most 50000] [--repeats 3] [--write]

Every time is CPU time of one process. Ratios are what to read: `to the half` compares a drawing with one of half as
many objects (2 is linear, 2.1 is n log n), `to plain` with the frame alone. --write puts the table into
benchmarks/DRAWINGS.md; no figure there is typed by hand.
"""

import argparse
import os
import sys
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")  # before numpy: one core
HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent / "tests")]

import numpy as np  # noqa: E402  (after the thread setting)
from droptrail.converters.drawings.sideview.read import read_side_view  # noqa: E402
from helpers_dxf import DxfText  # noqa: E402
from helpers_habits import Habit, draw, place, random_drawn_frame  # noqa: E402

PAGE = HERE / "DRAWINGS.md"
SHEET = 600  # objects of a full workshop sheet
STEPS = (1, 2, 4, 8)  # --most divided by these
EXTENT = 3000.0  # mm to either side of the bottom bracket
LONGEST = 80.0  # mm of a line
LARGEST = 60.0  # mm of an arc's radius


def line(text: DxfText, rng: np.random.Generator) -> None:
    x, y = rng.uniform(-EXTENT, EXTENT, 2)
    turn, size = rng.uniform(0.0, 2 * np.pi), rng.uniform(2.0, LONGEST)
    text.line((x, y), (x + size * np.cos(turn), y + size * np.sin(turn)))


def arc(text: DxfText, rng: np.random.Generator) -> None:
    start, end = rng.uniform(0.0, 360.0, 2)
    text.arc(tuple(rng.uniform(-EXTENT, EXTENT, 2)), rng.uniform(2.0, LARGEST), start, end)


def either(text: DxfText, rng: np.random.Generator) -> None:
    (line if rng.random() < 0.5 else arc)(text, rng)


KINDS: dict[str, Callable[[DxfText, np.random.Generator], None]] = {
    "lines": line,
    "arcs": arc,
    "both": either,
}


def written(kind: str, count: int, folder: Path) -> tuple[Path, float]:
    """A frame's drawing among `count` objects of a kind, and its true trail."""
    rng = np.random.default_rng(3)
    frame = random_drawn_frame(rng)
    text = place(draw(frame, Habit(lines="outline"), rng)).dxf("R2000")
    for _ in range(count):
        KINDS[kind](text, rng)
    path = text.write(folder / f"{kind}_{count}.dxf", encoding="utf-8")
    return path, frame.dimensions.trail


def spent(path: Path, trail: float, repeats: int) -> float:
    """Median CPU seconds; what is read is held against the truth."""
    times = []
    for _ in range(repeats):
        start = time.process_time()
        view = read_side_view(path)
        times.append(time.process_time() - start)
        assert abs(view.dimensions.trail - trail) < 1e-3
    return median(times)


def table(most: int, repeats: int, folder: Path) -> list[str]:
    spent(*written("lines", 0, folder), 1)  # libraries are loaded once
    plain = spent(*written("lines", 0, folder), repeats)
    rows = [
        "| among | objects | CPU [s] | to the half | to plain |",
        "| --- | ---: | ---: | ---: | ---: |",
        f"| nothing | 0 | {plain:.2f} | - | 1.0 |",
    ]
    for kind in KINDS:
        before = 0.0
        for count in (SHEET, *(most // step for step in reversed(STEPS))):
            now = spent(*written(kind, count, folder), repeats)
            half = "-" if count == SHEET or not before else f"{now / before:.2f}"
            rows.append(f"| {kind} | {count} | {now:.2f} | {half} | {now / plain:.1f} |")
            before = 0.0 if count == SHEET else now
    return rows


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("--most", type=int, default=50_000)
    parser.add_argument("--repeats", type=int, default=3)
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args()
    with TemporaryDirectory() as folder:
        rows = table(options.most, options.repeats, Path(folder))
    print("\n".join(rows))
    if options.write:
        head = (
            f"# {__doc__.split(chr(10), 1)[0]}\n\nBy `python benchmarks/drawings.py --write`.\n\n"
        )
        PAGE.write_text(head + "\n".join(rows) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
