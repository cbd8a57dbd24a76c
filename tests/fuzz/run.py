"""Coverage-guided fuzzing of every door, for a bounded time: `python tests/fuzz/run.py [--seconds 60] [TARGET ...]`.

Each target runs in a process of its own under atheris (`pip install atheris`); where that has no wheel the same
inputs are made without coverage feedback, and the run says so. A fault is filed once per place where it was raised,
in FOLDER/TARGET/found, and the run goes on; the exit code is 1 when anything was filed. Copy a filed input to
tests/data/crashes/TARGET and it is a test from then on.
"""

import argparse
import os
import random
import shutil
import subprocess
import sys
import time
import traceback
from contextlib import suppress
from hashlib import sha256
from importlib.util import find_spec
from pathlib import Path

HERE = Path(__file__).resolve().parent
HANG = 60  # seconds for one input under the instrumented interpreter
AFRESH = 0.4  # share of inputs bent from a good file: the corpus drifts towards files that are refused early


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("targets", nargs="*", help="default: all")
    parser.add_argument("--seconds", type=int, default=60, help="for each target")
    parser.add_argument(
        "--folder", type=Path, default=Path(".fuzz"), help="where inputs worth keeping are kept"
    )
    parser.add_argument("--child", action="store_true", help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.child:
        return child(args.targets[0], args.seconds, args.folder)
    names = args.targets or known()
    if not find_spec("atheris"):
        print(
            "atheris is not installed: inputs are made without coverage feedback", file=sys.stderr
        )
    faults = [parent(name, args) for name in names]  # all of them, also after the first fault
    return int(any(faults))


def known() -> list[str]:
    sys.path.insert(0, str(HERE))
    from targets import TARGETS

    return list(TARGETS)


def parent(name: str, args: argparse.Namespace) -> bool:
    """Run one target in a child; True when a fault was filed."""
    folder = args.folder.resolve() / name
    found = folder / "found"
    found.mkdir(parents=True, exist_ok=True)
    call = [
        sys.executable,
        __file__,
        "--child",
        "--seconds",
        str(args.seconds),
        "--folder",
        str(folder),
        name,
    ]
    with (folder / "log.txt").open("ab") as log:
        code = subprocess.run(call, stdout=log, stderr=log, check=False).returncode
    faults = sorted(found.glob("*.txt"))
    stopped = (
        sorted(found.glob("timeout-*"))
        + sorted(found.glob("oom-*"))
        + sorted(found.glob("crash-*"))
    )
    count = (folder / "count.txt").read_text().strip() if (folder / "count.txt").exists() else "?"
    print(
        f"{name}: {count}, {len(faults) + len(stopped)} faults{'' if code == 0 else f', exit {code}'}",
        flush=True,
    )
    for fault in faults:
        print(f"  {fault.with_suffix('')}: {fault.read_text().strip().splitlines()[-1][:200]}")
    for path in stopped:
        print(f"  {path}: too slow, too large or killed")
    return bool(faults or stopped or code)


class Filed:
    """Counts inputs, files each fault once."""

    def __init__(self, name: str, folder: Path) -> None:
        from targets import TARGETS, keep

        self.target, self.keep, self.folder = TARGETS[name], keep, folder
        self.inputs = self.results = 0
        self.start = time.monotonic()

    def __call__(self, data: bytes) -> None:
        self.inputs += 1
        try:
            self.results += self.keep(self.target, data, limited=True) == "result"
        except Exception as error:
            self._file(data, error)
        if self.inputs % 100 == 0:
            self.count()

    def count(self) -> None:
        minutes = (time.monotonic() - self.start) / 60
        text = f"{self.inputs} inputs, {self.results} ended in a result, {minutes:.1f} min\n"
        (self.folder / "count.txt").write_text(text)

    def _file(self, data: bytes, error: Exception) -> None:
        cause = (
            error.__context__ or error
        )  # of a message that is no line: where the message was made
        frames = traceback.extract_tb(cause.__traceback__)
        inside = [f for f in frames if f"{os.sep}site-packages{os.sep}" not in f.filename]
        at = (inside or frames)[-1]
        what = str(error)[:8] if error is cause else ""
        name = sha256(
            f"{type(error).__name__} {at.filename} {at.name} {at.line} {what}".encode()
        ).hexdigest()[:12]
        path = self.folder / "found" / name
        if not path.exists() or path.stat().st_size > len(data):
            path.write_bytes(data)
            path.with_suffix(".txt").write_text(
                "".join(traceback.format_exception(error)), errors="replace"
            )


def child(name: str, seconds: int, folder: Path) -> int:
    sys.path.insert(0, str(HERE))
    corpus = folder / "corpus"
    corpus.mkdir(exist_ok=True)
    if find_spec("atheris"):
        return guided(name, seconds, folder, corpus)
    from targets import FOLDER, TARGETS

    target, rng, run = TARGETS[name], random.Random(time.time_ns()), Filed(name, folder)
    seeds = list(target.seeds())
    while time.monotonic() < run.start + seconds:
        run(target.bend(rng.choice(seeds), rng, lambda data: flipped(data, rng))[: target.largest])
    run.count()
    shutil.rmtree(FOLDER, ignore_errors=True)
    return 0


def flipped(data: bytes, rng: random.Random) -> bytes:
    """A byte changed, a piece left away or doubled."""
    if not data:
        return bytes([rng.randrange(256)])
    at, count = rng.randrange(len(data)), rng.randrange(1, 9)
    return (
        data[:at]
        + rng.choice((bytes([rng.randrange(256)]), b"", 2 * data[at : at + count]))
        + data[at + count :]
    )


def guided(name: str, seconds: int, folder: Path, corpus: Path) -> int:
    import atheris

    with atheris.instrument_imports(include=["droptrail", "tomllib"]):
        from targets import FOLDER, TARGETS

        target, run = TARGETS[name], Filed(name, folder)
        seeds = [seed for seed in target.seeds() if len(seed) <= target.largest]
        for seed in seeds:
            with suppress(
                Exception
            ):  # imports, and so instruments, what the target imports while it runs: slow
                run.keep(target, seed)
            run(seed)
            (corpus / sha256(seed).hexdigest()[:16]).write_bytes(seed)

    def bend(data: bytes, max_size: int, seed: int) -> bytes:
        rng = random.Random(seed)
        if rng.random() < AFRESH:
            data = rng.choice(seeds)
        return target.bend(data, rng, lambda part: atheris.Mutate(part, max(len(part) + 64, 64)))[
            :max_size
        ]

    atheris.Setup(
        [
            sys.argv[0],
            str(corpus),
            f"-max_total_time={seconds}",
            f"-timeout={HANG}",
            "-rss_limit_mb=2500",
            f"-max_len={target.largest}",
            f"-artifact_prefix={folder / 'found'}{os.sep}",
            "-len_control=0",
            "-print_final_stats=1",
        ],
        run,
        custom_mutator=bend,
    )
    try:
        atheris.Fuzz()
    finally:
        shutil.rmtree(FOLDER, ignore_errors=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
