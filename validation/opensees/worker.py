"""The other end of `child`: a process that solves by OpenSees what it is handed, and may be ended by it."""

import pickle
import sys
from typing import Any

from ...model.errors import FrameError
from .solve import solve_here


def main() -> None:
    """Read (model, cases) from standard input, write the answer or the refusal to standard output, both pickled."""
    model, cases = pickle.load(sys.stdin.buffer)
    try:
        answer: Any = solve_here(model, cases, risky=True)
    except FrameError as error:
        answer = error
    pickle.dump(answer, sys.stdout.buffer)
    sys.stdout.buffer.flush()


if __name__ == "__main__":
    main()
