"""The solver keeps to one thread of the linear-algebra libraries and gives back what it found (threadpoolctl's own
count of them is the witness)."""

import os
import subprocess
import sys

import pytest

pytest.importorskip("threadpoolctl")

PROGRAM = """
import sys
from pathlib import Path
from threadpoolctl import threadpool_info, threadpool_limits

sys.path.insert(0, sys.argv[1])
import droptrail.model.mechanics.solve as solving
from droptrail.model.cases.library import load_cases
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from helpers_bicycle import tourer


def threads():
    return {one["num_threads"] for one in threadpool_info() if one["user_api"] == "blas"}


seen = []
factored = solving.Restrained.results


def watched(self, cases):
    seen.append(threads())
    return factored(self, cases)


solving.Restrained.results = watched
bicycle = tourer()
layout = lay_out(bicycle)
model = mesh(bicycle, None, layout)
cases = load_cases(bicycle, layout, ("seated",))
before = threads()
solving.solve(model, cases)
print(before == {1}, seen == [{1}], threads() == before)
"""


def test_a_program_that_imports_the_model_keeps_its_threads_and_the_solver_takes_one():
    setting = dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "2")
    here = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, here],
        capture_output=True,
        text=True,
        check=True,
        env=os.environ | setting,
    )
    already_one, on_one, given_back = done.stdout.split()
    if already_one == "True":
        pytest.skip("this machine has one core")
    assert (on_one, given_back) == ("True", "True")
