"""OpenSees in a process of its own, for the models on which it may end the process that it runs in.

OpenSees 3.7 calls exit() where it meets something it did not expect; from inside a program that is the end of the
program, without a message. Models without such a danger are solved in the caller's process, which saves the half
second a new interpreter takes.
"""

import os
import pickle
import subprocess
import sys
from collections.abc import Sequence
from typing import Any

from ...model.errors import FrameError
from ...model.mechanics.frame_model import FrameModel, LoadCase
from .engine import OpenSeesError

_SECONDS = 120
WORKER = f"{__package__}.worker"  # what runs in the other process; by name, so that nothing here needs it


def in_child(model: FrameModel, cases: Sequence[LoadCase]) -> Any:
    """What `solve.solve_here` returns for these load cases, worked out in a process of its own.

    Raises
    ------
    OpenSeesError
        The child's own refusal, or that it ended without an answer.
    """
    # Neither -m nor PYTHONPATH may bring in the working directory: a file beside the drawing is not ours to run.
    here = os.getcwd()
    path = [entry for entry in sys.path if entry and os.path.abspath(entry) != here]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(path)}
    try:
        run = subprocess.run(
            [sys.executable, "-P", "-m", WORKER],
            input=pickle.dumps((model, tuple(cases))),
            capture_output=True,
            timeout=_SECONDS,
            env=environment,
            check=False,
        )
    except subprocess.TimeoutExpired as error:
        raise OpenSeesError(
            f"OpenSees gave no answer within {_SECONDS} s and was stopped"
        ) from error
    if run.returncode != 0 or not run.stdout:
        raise OpenSeesError(
            f"OpenSees ended its process without an answer (exit code {run.returncode}); this model "
            "is not cross-checked"
        )
    answer = pickle.loads(run.stdout)
    if isinstance(answer, FrameError):
        raise answer
    return answer
