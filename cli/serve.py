"""`droptrail serve`: the report as a page on this machine, where tubes can be changed and results follow at once."""

import os
import socket
from importlib import import_module
from pathlib import Path
from secrets import token_urlsafe
from threading import Thread
from typing import TYPE_CHECKING

import click

from ..model.errors import FrameError

if TYPE_CHECKING:
    from ..validation.workbench_shelf import Shelf

# never 0.0.0.0: drawings are the builder's own, and no other machine should see them
HOST = "127.0.0.1"
PACKAGES = ("starlette", "uvicorn")


@click.command("serve")
@click.option(
    "--port",
    default=8177,
    show_default=True,
    type=click.IntRange(0, 65535),
    help="Port on 127.0.0.1; 0 takes any free one.",
)
@click.option(
    "--shelf",
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder in which the page keeps bicycles as fit sheets; made where it does not exist.",
)
@click.option("--open", "show", is_flag=True, help="Open the page in the browser.")
def command(port: int, shelf: Path | None, show: bool) -> int:
    """Serve a page on this machine only: drop a drawing and a sheet, correct a tube, see what it does."""
    try:
        # asked by name first, so that the refusal can tell a missing package from a fault of ours
        for name in PACKAGES:
            import_module(name)
        from .serve_app import application, server, warm_up
    except ModuleNotFoundError as error:
        if error.name not in PACKAGES:
            # a missing module of our own is a fault and must not be told as a missing package
            raise
        raise FrameError(
            f"the page needs the package {error.name}, which is not installed; install it with: "
            f"pip install {' '.join(PACKAGES)}"
        ) from error
    with _listening(port) as listener:
        # asked of the socket: with --port 0 only the system knows the number
        address = f"http://{HOST}:{listener.getsockname()[1]}/"
        # a new token at every start: a page of an earlier one cannot go on posting
        page = server(application(listener.getsockname()[1], token_urlsafe(24), _shelf(shelf)))
        print(
            f"droptrail is at {address}\nOnly this machine can reach it. Stop it with Ctrl-C.",
            # flushed: in a pipe the address would else appear only when the server ends
            flush=True,
        )
        # a daemon, so that Ctrl-C does not wait for the warm-up
        Thread(target=warm_up, daemon=True).start()
        if show:
            import webbrowser

            webbrowser.open(address)
        try:
            page.run(sockets=[listener])
        # the usual way to end it, so no error
        except KeyboardInterrupt:
            print("Stopped.")
    return 0


def _shelf(folder: Path | None) -> "Shelf":
    """The shelf in a folder, which is made; none without a folder."""
    from ..validation.workbench_shelf import Shelf

    if folder is not None:
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise FrameError(
                f"{folder}: this folder cannot be made ({error.strerror or error})"
            ) from error
    return Shelf(folder)


def _listening(port: int) -> socket.socket:
    """A socket on this machine's own address, or a refusal that says what to do."""
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    # the port of a server that was just stopped would else stay taken for a minute
    if os.name == "posix":  # elsewhere it would let two programs share the port
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((HOST, port))
        listener.listen(64)
    except OSError as error:
        # the socket is open already, and nobody else would close it
        listener.close()
        raise FrameError(
            f"port {port} cannot be used ({error.strerror or error}); is droptrail serve running already? "
            "Choose another with --port, or 0 for any free one"
        ) from error
    return listener
