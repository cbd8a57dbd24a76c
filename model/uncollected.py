"""Python's search for garbage, put off where very many objects are made that all stay."""

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def uncollected() -> Iterator[None]:
    """No search for unreachable rings of objects meanwhile: a batch of bicycles and a drawing make them by the ten
    thousand and no rings, and looking through all that the program holds takes a fifth to a quarter of the time.

    With several threads the search resumes with whichever began first.
    """
    searched = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if searched:
            gc.enable()
