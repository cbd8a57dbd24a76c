"""What joints that give cost a search: the same grids with rigid, bare, fillet and lug joints, side by side in one run.

    python benchmarks/joints.py [--repeats 5] [--most 100000] [--write]

The joint's matrix depends on both tubes, so the options of a branch are condensed once for each option of its chord;
per variant nothing more is done. CPU time of this process, one thread, least of repeats in turns. --write puts the
table into benchmarks/JOINTS.md; no figure there is typed by hand.
"""

import argparse
import os
import platform
import sys
import time
from functools import partial
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy
ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT), str(ROOT / "tests"), str(ROOT / "benchmarks")]

from droptrail.model.cases.library import load_cases  # noqa: E402  (after the thread setting)
from droptrail.model.choice.search import Bound, Objective, Search, set_up  # noqa: E402
from helpers_bicycle import tourer  # noqa: E402
from speed import CASES, TUBES, whole_search  # noqa: E402

KINDS = ("rigid", "bare", "fillet", "lug")
PAGE = Path(__file__).with_name("JOINTS.md")
OPTIONS = 10
HEAD = (
    "| variants | tubes exchanged | joints | set-up ms | search ms | µs per variant | over rigid "
    "| with set-up over rigid |\n| ---: | --- | --- | ---: | ---: | ---: | ---: | ---: |"
)
INTRO = """# What joints that give cost a search

Made by `python benchmarks/joints.py --write`; no figure is typed by hand. {machine}. Ten options per tube, two
limits, two objectives, three load cases; least CPU time of {repeats} repeats in turns, one thread. Set-up, once for
a search, condenses every option and works out the joint of every pair of tubes.

{table}
"""


def made(tubes: int, kind: str) -> Search:
    """The search of `speed` with one kind of joint; seat tube and down tube are exchanged with the top tube."""
    bicycle = tourer().joined(kind)
    choices = {
        tube: [bicycle.tubes[tube].scaled(0.35 * k, 0.01 * (k % 4)) for k in range(OPTIONS)]
        for tube in TUBES[:tubes]
    }
    bounds = (
        Bound("side_push.head_sideways", True, 5.0, percent=True),
        Bound("mass", False, 2300.0),
    )
    goals = (Objective("side_push.head_sideways", True), Objective("mass", False))
    return set_up(bicycle, choices, partial(load_cases, names=CASES), bounds, goals, None, None)


def table(repeats: int, most: int) -> str:
    """Rows of all sizes and kinds."""
    rows = [HEAD]
    for tubes in range(2, len(TUBES) + 1):
        size = OPTIONS**tubes
        if size > most:
            break
        spent = dict.fromkeys(KINDS, (float("inf"), float("inf")))
        # In turns, so that a busy machine is busy for all kinds.
        for _ in range(repeats):
            for kind in KINDS:
                start = time.process_time()
                search = made(tubes, kind)
                ready = time.process_time() - start
                ran = whole_search(search)
                least = spent[kind]
                spent[kind] = (min(least[0], ready), min(least[1], ran))
        ready_rigid, ran_rigid = spent["rigid"]
        for kind, (ready, ran) in spent.items():
            whole = (ready + ran) / (ready_rigid + ran_rigid)
            names = ", ".join(TUBES[:tubes]).replace("_", " ")
            rows.append(
                f"| {size:,} | {names} | {kind} | {1e3 * ready:.0f} | {1e3 * ran:.1f} "
                f"| {1e6 * ran / size:.2f} | {ran / ran_rigid:.2f} | {whole:.2f} |"
            )
    return "\n".join(rows)


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--repeats", type=int, default=5)
    parser.add_argument("--most", type=int, default=10**5, help="largest grid")
    parser.add_argument("--write", action="store_true", help="write benchmarks/JOINTS.md")
    wanted = parser.parse_args()
    machine = f"{platform.machine()}, Python {platform.python_version()}"
    text = INTRO.format(
        machine=machine, repeats=wanted.repeats, table=table(wanted.repeats, wanted.most)
    )
    print(text)
    if wanted.write:
        PAGE.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
