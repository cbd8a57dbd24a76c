"""Writing files so that nothing is ever lost: to a temporary file first, then renamed; never over an existing one."""

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from model.errors import InputError


@contextmanager
def new_file(path: str | Path, force: bool = False) -> Iterator[Path]:
    """A temporary path beside `path` to write to; renamed onto it when the block ends well.

    Raises
    ------
    InputError
        When the file exists and `force` is not given, or the folder cannot be written; old files stay whole.
    """
    path = Path(path)
    if path.exists() and not force:
        raise InputError(f"{path} exists already; choose another name or add --force to replace it")
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.stem}-", suffix=path.suffix, dir=path.parent)
        os.close(handle)
    except OSError as error:
        raise InputError(f"{path}: cannot write into that folder ({error.strerror or error})") from error
    temporary = Path(name)
    try:
        yield temporary
        os.chmod(temporary, 0o666 & ~_umask())
        os.replace(temporary, path)
    except OSError as error:
        raise InputError(f"{path}: could not be written ({error.strerror or error}); nothing was changed") from error
    finally:
        with suppress(OSError):
            temporary.unlink(missing_ok=True)


def write_text(path: str | Path, text: str, force: bool = False) -> None:
    """Write a UTF-8 text file, atomically."""
    with new_file(path, force) as temporary:
        temporary.write_text(text, encoding="utf-8", newline="\n")


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
