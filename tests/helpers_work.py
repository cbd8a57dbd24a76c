"""How much work something is, without a clock: the same count on every machine and however busy it is."""

from collections.abc import Callable
from cProfile import Profile
from pstats import Stats
from typing import Any


def calls(function: Callable[[], Any]) -> int:
    """Function calls, Python's and C's, that running it takes. Blind to what one call into C does inside."""
    profile = Profile()
    profile.runcall(function)
    return int(Stats(profile).prim_calls)  # type: ignore[attr-defined]
