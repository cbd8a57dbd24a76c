"""Where a search runs: in this process, on this machine's cores, or on a Dask cluster. All are standard Executors."""

import os
import signal
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from importlib import import_module
from multiprocessing.context import SpawnContext, SpawnProcess
from typing import Any

from ....model.errors import InputError
from ....model.threads import THREADS

# Each worker works alone on its core: its linear-algebra library must not start threads of its own. And a worker's
# interpreter must not look into the working directory, or a pickle.py beside the drawing would be run.
IN_WORKERS = (*THREADS, "PYTHONSAFEPATH")


@contextmanager
def executor(jobs: int = 1, scheduler: str | None = None) -> Iterator[Executor | None]:
    """An executor, or None for `jobs` = 1 without a scheduler.

    Raises InputError when the cluster cannot be reached or its library is missing.
    """
    if scheduler is not None:
        with _cluster(scheduler) as cluster:
            yield cluster
    elif jobs <= 1:
        # one process needs no pool: a small search is over before one has started
        yield None
    else:
        with _environment_of_workers():
            # spawned on every system: a fork would carry over the threads of numerical libraries
            pool = ProcessPoolExecutor(jobs, mp_context=_Spawn(), initializer=_leave_interrupts)
            try:
                yield pool
            finally:
                # not waited for: what has not begun is dropped, or Ctrl-C would seem not to work
                pool.shutdown(wait=False, cancel_futures=True)


class _DeafProcess(SpawnProcess):
    """A worker that Ctrl-C does not reach while its interpreter starts: a blocked signal stays blocked in a child."""

    def start(self) -> None:
        # Windows has no signal masks
        if not hasattr(signal, "pthread_sigmask"):
            return super().start()
        before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
        try:
            super().start()
        finally:
            # as it was before, and not simply unblocked: a caller may have blocked it himself
            signal.pthread_sigmask(signal.SIG_SETMASK, before)


class _Spawn(SpawnContext):
    Process = _DeafProcess


def _leave_interrupts() -> None:
    """Ctrl-C reaches every process of the terminal; only the parent answers it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


@contextmanager
def _environment_of_workers() -> Iterator[None]:
    """Set `IN_WORKERS` to 1 for processes started inside; restored afterwards."""
    # read before writing: what the user has set must come back
    before = {name: os.environ.get(name) for name in IN_WORKERS}
    os.environ.update(dict.fromkeys(IN_WORKERS, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            # a name that was not set must not be left behind as an empty one
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


@contextmanager
def _cluster(scheduler: str) -> Iterator[Executor]:
    try:
        # a large library that few need, so it is not among the requirements
        distributed: Any = import_module("distributed")
    except ImportError as error:
        raise InputError(
            "a cluster needs the library distributed: pip install 'dask[distributed]'"
        ) from error
    try:
        # short: a wrong address should be told, not waited for
        client = distributed.Client(scheduler, timeout="10s")
    except (OSError, ValueError, TimeoutError) as error:
        raise InputError(
            f"no Dask scheduler answers at {scheduler} ({error}); start it and its workers first"
        ) from error
    # the client is closed when the search ends; the cluster is the builder's own
    with client:
        yield client.get_executor()
