"""How many threads the linear-algebra libraries take.

The systems solved here are small: threads cost more than they bring, many times more beside other work on the same
cores. The command sets the number before the libraries are loaded; whoever imports the model into another program
finds the solver on one thread and the rest of the program as it was.
"""

import importlib
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from typing import Any

# Names of the settings, read once when such a library is loaded.
THREADS = (
    "OPENBLAS_NUM_THREADS",
    "OMP_NUM_THREADS",
    "MKL_NUM_THREADS",
    "BLIS_NUM_THREADS",
    "VECLIB_MAXIMUM_THREADS",
)


@contextmanager
def one_thread() -> Iterator[None]:
    """Linear algebra on one thread meanwhile; where threadpoolctl is missing, on as many as before."""
    libraries = _libraries()
    if libraries is None or all(one.num_threads == 1 for one in libraries.lib_controllers):
        yield
        return
    with libraries.limit(limits=1):
        yield


@cache
def _libraries() -> Any:
    """What sets the threads of the libraries that are loaded; looked for once, as it searches the whole process."""
    try:
        return importlib.import_module("threadpoolctl").ThreadpoolController()
    except ImportError:
        return None
