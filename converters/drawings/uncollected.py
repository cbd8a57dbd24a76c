"""Python's search for garbage, put off while a drawing is read."""

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def uncollected() -> Iterator[None]:
    """No search for garbage meanwhile: a reading makes hundreds of thousands of objects that all stay, and looking
    through them again and again takes a quarter of its time. With several threads the search resumes with whichever
    began first."""
    searched = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if searched:
            gc.enable()
