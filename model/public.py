"""The public names of a package, attached when one of them is first asked for.

Commands import modules and none of these names: a stub that is read at import is time that every command waits for.
"""

from collections.abc import Callable
from functools import cache
from typing import Any


def public_names(package: str, file: str) -> tuple[Callable[[str], Any], Callable[[], list[str]]]:
    """``__getattr__`` and ``__dir__`` of a package whose names stand once, in the stub beside its `file`."""

    @cache
    def attached() -> tuple[Callable[[str], Any], Callable[[], list[str]], list[str]]:
        import lazy_loader

        attach, listed, names = lazy_loader.attach_stub(package, file)
        return attach, listed, names

    def get(name: str) -> Any:
        attach, _, names = attached()
        # `from package import *` asks for the list by this name
        if name == "__all__":
            return names
        return attach(name)

    return get, lambda: attached()[1]()
