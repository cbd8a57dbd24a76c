"""Getting hold of OpenSees, quietly, or saying plainly why it cannot be had.

OpenSees is one global model in one process. `session` hands it out empty, to one caller at a time, and empties it
again; whatever a user had built in it by hand in the same process is gone.
"""

import atexit
import ctypes
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from threading import Lock
from typing import Any

from ...model.errors import ModelError

# The Linux wheel brings its own BLAS but its LAPACK does not find it; loaded first, in this order, it does.
# of releases 3.7 and 3.8; each carries one of the two gfortrans
_PRELOAD = (
    "libquadmath.so.0",
    "libgfortran.so.4",
    "libgfortran.so.5",
    "libgomp.so.1",
    "libblas.so.3",
    "liblapack.so.3",
)
_lock = Lock()


class OpenSeesError(ModelError):
    """OpenSees cannot be had, cannot represent the model, or gave no answer; the message says which and why."""


@cache
def available() -> str | None:
    """None when OpenSees can be used here, otherwise the reason in one sentence."""
    try:
        _load()
    except (
        Exception
    ) as error:  # the wheel raises RuntimeError, ImportError or OSError, depending on the platform
        python = f"Python {sys.version_info.major}.{sys.version_info.minor} on {sys.platform}"
        return (
            f"OpenSees cannot be used with {python} ({error}); 'pip install openseespy' where there is a wheel. "
            "Everything but this cross-check works without it"
        )
    return None


@contextmanager
def session() -> Iterator[Any]:
    """The OpenSees module with an empty 3-D model of six dofs per node; emptied again afterwards.

    Raises
    ------
    OpenSeesError
        When it is not available here, or when it stops inside the block.
    """
    reason = available()
    if reason is not None:
        raise OpenSeesError(reason)
    ops = _load()
    with _lock:
        # its state is global to the process: what an earlier model left would be solved along
        ops.wipe()
        ops.model("basic", "-ndm", 3, "-ndf", 6)
        try:
            yield ops
        except ops.OpenSeesError as error:
            raise OpenSeesError(
                "OpenSees refused a command while the model was handed over"
            ) from error
        finally:
            ops.wipe()


@cache
def _load() -> Any:
    _preload()
    import openseespy.opensees as ops

    # its warnings; failures are told by the return values and put in our words
    ops.logFile(os.devnull, "-noEcho")
    atexit.register(_silence)
    return ops


def _preload() -> None:
    if sys.platform.startswith("linux"):
        spec = find_spec("openseespylinux")
    else:
        spec = None
    if spec is None or not spec.submodule_search_locations:
        return
    lib = Path(next(iter(spec.submodule_search_locations))) / "lib"
    for name in _PRELOAD:
        if (lib / name).exists():
            # global symbols, or the solver's library does not find the LAPACK beside it
            ctypes.CDLL(str(lib / name), ctypes.RTLD_GLOBAL)


def _silence() -> None:
    """OpenSees prints a farewell when the process ends, after Python's own output; send it nowhere."""
    for stream, number in ((sys.stdout, 1), (sys.stderr, 2)):
        try:
            if stream is not None:
                stream.flush()
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, number)
            os.close(nowhere)
        except (OSError, ValueError):  # already closed: nothing will be printed there
            pass
