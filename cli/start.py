"""Where the program begins: answers Ctrl-C in one line from the first moment, before the libraries are loaded."""

import os
import sys

TYPE_CHECKING = False  # typing itself would load a dozen modules before Ctrl-C is heeded
if TYPE_CHECKING:
    from types import FrameType
    from typing import NoReturn

STOPPED = 130  # what a shell expects of a program that was ended by Ctrl-C


def main() -> int:
    """Run `droptrail` as a program; returns the exit code."""
    # even this import takes a moment in which Ctrl-C may come
    try:
        import signal
    except KeyboardInterrupt:
        _stop()
    # Inherited as "ignored" (nohup, a job in the background) it stays ignored.
    heeded = signal.getsignal(signal.SIGINT) is signal.default_int_handler
    if heeded:
        signal.signal(signal.SIGINT, _stop)
    from ..model.threads import THREADS

    # what a user has set stays; searches spread over processes instead
    for name in THREADS:
        os.environ.setdefault(name, "1")  # read once, when the library is loaded
    # loads the libraries, the longest part of a start
    from .main import main as run_command

    if heeded:
        signal.signal(signal.SIGINT, signal.default_int_handler)
    code = run_command()
    if heeded:  # everything is said: clearing up may be cut short
        signal.signal(signal.SIGINT, _stop)
    return code


def _stop(number: int = 0, frame: "FrameType | None" = None) -> "NoReturn":
    """Nothing is loaded that could be cleaned up, so the process may end here and now."""
    # written without buffers: print may be in the middle of something
    os.write(2, b"\ndroptrail: stopped\n")
    # no exit handlers: they would begin to load what was just broken off
    os._exit(STOPPED)


if __name__ == "__main__":
    sys.exit(main())
