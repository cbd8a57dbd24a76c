"""Writing files so that nothing is ever lost: to a temporary file first, then renamed; never over an existing one."""

import io
import os
import platform
import re
import shutil
import stat
import tempfile
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from secrets import token_hex
from typing import Any

from ...model.errors import InputError


def refuse_existing(
    paths: Iterable[str | Path], force: bool = False, inputs: Iterable[str | Path | None] = ()
) -> None:
    """Refuse outputs that may not be written, before anything is worked out or half of them is there.

    Raises
    ------
    InputError
        When one exists and `force` is not given, is write-protected, is not a plain file, or is an input.
    """
    read = [Path(path) for path in inputs if path is not None]
    for path in map(Path, paths):
        # the same file by another name or link too: the input would be gone before it was read
        if any(path.exists() and other.exists() and path.samefile(other) for other in read):
            raise InputError(
                f"{path} is read by this same command; choose another name for the output"
            )
        _refuse(path, force)


def _refuse(path: Path, force: bool) -> None:
    # lexists sees a broken link too, which would else be followed to a place nobody named
    if not os.path.lexists(path):
        return
    if path.exists():
        mode = path.stat().st_mode
    else:
        mode = stat.S_IFLNK
    if stat.S_ISDIR(mode):
        # asked before --force counts: no flag makes a folder or a device a place for a file
        raise InputError(f"{path} is a folder; give the name of a file")
    if not stat.S_ISREG(mode):
        raise InputError(
            f"{path} is a device or a broken link, not a file that could be replaced; choose another name"
        )
    if not force:
        raise InputError(f"{path} exists already; choose another name or add --force to replace it")
    # --force replaces a file, it does not lift a protection the builder has set
    if not mode & 0o222 or not os.access(path, os.W_OK):
        raise InputError(f"{path} is write-protected and was left alone; choose another name")


@contextmanager
def new_file(path: str | Path, force: bool = False) -> Iterator[Path]:
    """A temporary path beside `path` to write to; renamed onto it when the block ends well.

    Whatever ends the block - an error, a full disk, Ctrl-C - the old file stays whole and the temporary one goes.

    Raises
    ------
    InputError
        When the file exists and `force` is not given, or cannot be written.
    """
    path = Path(path)
    _refuse(path, force)
    path = Path(os.path.realpath(path))  # through a link to the file itself
    _sweep(path.parent)
    # in the same folder: only there is the renaming one step that cannot stop half-way
    # the ending stays: libraries that write tell the format by it
    temporary = path.with_name(f".{path.stem[:40]}{_owner_mark()}{path.suffix}")
    try:
        # O_EXCL: never through a link or file that somebody put there in advance
        # 0o666 less the umask: a temporary file's usual 0600 would lock out who shares the folder
        os.close(os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666))
    except (OSError, ValueError) as error:
        raise InputError(f"{path}: cannot write into that folder ({_reason(error)})") from error
    try:
        yield temporary
        # a full disk is often only noticed here, while the old file still stands
        _onto_disk(temporary)
        _refuse(path, force)  # another program may have been here meanwhile
        if path.exists():
            # a replaced file keeps who may read it
            os.chmod(temporary, stat.S_IMODE(path.stat().st_mode))
        os.replace(temporary, path)
    except OSError as error:
        raise InputError(
            f"{path}: could not be written ({_reason(error)}); nothing was changed"
        ) from error
    finally:
        # after a good rename there is nothing left to remove, which is no error
        with suppress(OSError):
            temporary.unlink(missing_ok=True)


@contextmanager
def working_folder() -> Iterator[Path]:
    """A folder for files that live only while a command works, outside the builder's own; it goes at the end."""
    _sweep(Path(tempfile.gettempdir()))
    # the mark in the name lets a later run clear up what a kill left here
    with tempfile.TemporaryDirectory(prefix=_FOLDER, suffix=_owner_mark()) as folder:
        yield Path(folder)


# --- what a killed run left behind ----------------------------------------------------------------------------------
# A process that is killed outright cannot clear up; the next one does, in the folders it writes to itself. The name
# says whose file it is: machine (a folder may be shared by several), process, and a number of its own.
_FOLDER = "droptrail-"
_MARK = re.compile(r"~(?P<machine>[0-9a-f]{8})-(?P<process>\d+)-[0-9a-f]{8}(?=\.[^.]*$|$)")


def _owner_mark() -> str:
    # the random part keeps two outputs of one process apart
    return f"~{_this_machine()}-{os.getpid()}-{token_hex(4)}"


def _this_machine() -> str:
    # hashed: the machine's name should not stand in a file that may be passed on
    return f"{zlib.crc32(platform.node().encode()):08x}"


def _sweep(folder: Path) -> None:
    """Remove what a run that no longer lives left here. Never a reason to stop: somebody else may be at it as well."""
    with suppress(OSError):
        for entry in os.scandir(folder):
            if entry.name.startswith((".", _FOLDER)) and _is_orphan(entry.name):
                _remove(entry)


def _is_orphan(name: str) -> bool:
    mark = _MARK.search(name)
    return (
        # a process number means nothing on another machine, whose run may still be at work
        mark is not None and mark["machine"] == _this_machine() and not _lives(int(mark["process"]))
    )


def _lives(process: int) -> bool:
    """Whether a process of that number runs here. Where the system has no harmless way to ask: yes."""
    # on other systems signal 0 may end the process instead of asking after it
    if os.name != "posix":
        return True
    try:
        # signal 0 asks only, nothing is sent
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):
        # not allowed to ask means that somebody else's process has that number: it lives
        return True
    return True


def _remove(entry: os.DirEntry[str]) -> None:
    with suppress(OSError):
        # a link to a folder is removed as a link; what it points to is not ours
        if entry.is_dir(follow_symlinks=False):
            shutil.rmtree(entry.path, ignore_errors=True)
        else:
            os.unlink(entry.path)


def _reason(error: Exception) -> str:
    if isinstance(error, OSError) and error.errno is None:  # numpy counts what it could not write
        return f"the disk may be full: {error}"
    return getattr(error, "strerror", None) or str(error)


def _onto_disk(path: Path) -> None:
    """A full disk or a lost share often speaks up only when the system must really write."""
    with path.open("rb+") as held:
        # flushing the file is not enough: the system may hold the bytes back until later
        os.fsync(held.fileno())


def write_text(path: str | Path, text: str, force: bool = False) -> None:
    """Write a UTF-8 text file, atomically."""
    write_bytes(path, text.encode("utf-8"), force)


def write_bytes(path: str | Path, data: bytes, force: bool = False) -> None:
    """Write a file, atomically."""
    with new_file(path, force) as temporary:
        temporary.write_bytes(data)


# --- the same bytes every time ------------------------------------------------------------------------------------
_DATES = re.compile(rb"<dcterms:(created|modified)\b.*?</dcterms:\1>", re.DOTALL)


def save_workbook(book: Any, path: str | Path, force: bool = False) -> None:
    """Write an openpyxl workbook, atomically, without any date in it."""
    with new_file(path, force) as temporary:  # openpyxl writes to a disk of its own choice too
        temporary.write_bytes(_workbook_bytes(book))


def _workbook_bytes(book: Any) -> bytes:
    raw = io.BytesIO()
    out = io.BytesIO()
    book.save(raw)
    with zipfile.ZipFile(raw) as made, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as plain:
        # rewritten part by part, since the library offers no way to leave the dates out
        for name in made.namelist():
            part = made.read(name)
            entry = zipfile.ZipInfo(name)  # dated 1980-01-01, the first date a ZIP knows
            entry.compress_type = zipfile.ZIP_DEFLATED
            # the document's dates stand only in this part
            plain.writestr(entry, _DATES.sub(b"", part) if name == "docProps/core.xml" else part)
    return out.getvalue()
