"""Every input that once broke the contract of a door, run through that door again; see tests/fuzz/targets.py.

A new one: copy what `make fuzz` filed to tests/data/crashes/TARGET/ under a name that says what it is.
"""

import random
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE / "fuzz"))

import run as fuzzing  # noqa: E402 - found by the line above
import targets  # noqa: E402

CRASHES = sorted((HERE / "data" / "crashes").glob("*/*"))


@pytest.mark.parametrize(
    "path", CRASHES, ids=[f"{path.parent.name}-{path.stem}" for path in CRASHES]
)
def test_it_ends_in_a_result_or_one_line(path):
    assert targets.keep(targets.TARGETS[path.parent.name], path.read_bytes())


def test_there_are_crashes_to_replay():
    assert len(CRASHES) >= 8


@pytest.mark.parametrize("name", targets.TARGETS)
def test_each_harness_reads_its_seeds(name):
    """A harness whose good files are refused would fuzz a closed door."""
    target = targets.TARGETS[name]
    said = [targets.keep(target, seed) for _, seed in zip(range(6), target.seeds(), strict=False)]
    assert "result" in said


@pytest.mark.parametrize("name", ["dxf", "sheet", "model", "variants", "cases", "workbook"])
def test_bent_files_keep_the_contract(name):
    """A few of the inputs that `make fuzz` makes, the same ones every time."""
    target, rng = targets.TARGETS[name], random.Random(name)
    seeds = [seed for seed in target.seeds() if len(seed) < 30_000]
    for _ in range(25):
        bent = target.bend(rng.choice(seeds), rng, lambda data: fuzzing.flipped(data, rng))
        assert targets.keep(target, bent[: target.largest])


# --- the contract itself can be broken ------------------------------------------------------------------------------
def broken(run, match, limited=False):
    from droptrail.model.errors import InputError

    target = targets.Target(
        lambda data: run(InputError), lambda: iter(()), lambda data, rng, plain: data
    )
    with pytest.raises(targets.Broken, match=match):
        targets.keep(target, b"", limited)


def test_what_breaks_the_contract_is_noticed(monkeypatch):
    from droptrail.model.errors import FrameError

    def refuse(text):
        def run(error):
            raise error(text)

        return run

    monkeypatch.setattr(
        FrameError, "__str__", Exception.__str__
    )  # which makes every text one printable line
    broken(refuse("two\nlines"), "one printable line")
    broken(refuse(""), "one printable line")
    broken(refuse("x" * 5_000), "5000 characters")
    broken(lambda _: targets.check_finite({"a": [1.0, float("nan")]}), r"a\[1\] is nan")
    monkeypatch.setattr(targets, "TIME", -1.0)
    broken(lambda _: None, "took", limited=True)
    monkeypatch.setattr(targets, "TIME", 20.0)
    monkeypatch.setattr(targets, "MEMORY", 10_000_000)
    broken(lambda _: bytearray(800_000_000), "MB", limited=True)


def test_other_exceptions_come_through():
    target = targets.Target(lambda data: 1 / 0, lambda: iter(()), lambda data, rng, plain: data)
    with pytest.raises(ZeroDivisionError):
        targets.keep(target, b"")
