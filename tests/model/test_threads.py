"""Solver, modes and the set-up of a search keep to one thread of the linear-algebra libraries and give back what they
found (threadpoolctl's own count of them is the witness)."""

import os
import subprocess
import sys

import pytest

pytest.importorskip("threadpoolctl")

PROGRAM = """
import sys
from functools import partial
from threadpoolctl import threadpool_info

sys.path.insert(0, sys.argv[1])
import droptrail.model.choice.search as searching
import droptrail.model.mechanics.solve as solving
import droptrail.model.vibration.modes as vibrating
from droptrail.model.cases.library import load_cases
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from helpers_bicycle import tourer


def threads():
    return {one["num_threads"] for one in threadpool_info() if one["user_api"] == "blas"}


seen = []


def watch(owner, name):
    inner = getattr(owner, name)

    def watched(*args, **options):
        seen.append(threads())
        return inner(*args, **options)

    setattr(owner, name, watched)


bicycle = tourer()
layout = lay_out(bicycle)
model = mesh(bicycle, None, layout)
cases_of = partial(load_cases, names=("seated",))
before = threads()
if sys.argv[2] == "solve":
    watch(solving.Restrained, "results")
    solving.solve(model, cases_of(bicycle, layout))
elif sys.argv[2] == "modes":
    watch(vibrating, "lowest_pairs")
    vibrating.modes(model, {"rear_axle": (1,) * 6}, (), 3)
else:
    watch(searching, "condense_options")
    tube = bicycle.tubes["top_tube"]
    mass = searching.Objective("mass", False)
    searching.set_up(bicycle, {"top_tube": [tube, tube.scaled(1.0, 0.0)]}, cases_of, (), (mass,))
print(before == {1}, seen == [{1}], threads() == before)
"""


@pytest.mark.parametrize("work", ["solve", "modes", "search"])
def test_a_program_that_imports_the_model_keeps_its_threads_and_the_work_takes_one(work):
    setting = dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "2")
    here = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, here, work],
        capture_output=True,
        text=True,
        check=True,
        env=os.environ | setting,
    )
    already_one, on_one, given_back = done.stdout.split()
    if already_one == "True":
        pytest.skip("this machine has one core")
    assert (on_one, given_back) == ("True", "True")
