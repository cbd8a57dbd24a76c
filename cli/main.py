"""The `droptrail` command: finds the subcommand, turns every refusal into one line and an exit code.

Exit codes: 0 fine; 1 findings or a check out of tolerance; 2 wrong usage; 3 input that cannot be read; 4 everything is
fine but nothing was cross-checked, because the second solver is not available.
"""

import io
import os
import sys
import warnings
from importlib import import_module

import click

from ..model.errors import FrameError, InputError, UnknownNameError
from ..model.version import VERSION

# Subcommand -> module that holds it; loaded only when asked for, so that each command starts fast.
COMMANDS = {
    "new": ".new",
    "read": ".read",
    "geometry": ".geometry",
    "draw": ".draw",
    "mitre": ".mitre",
    "jig": ".jig",
    "model": ".model_file",
    "cases": ".cases",
    "solve": ".solve",
    "check": ".check",
    "audit": ".audit",
    "tubes": ".tubes",
    "compare": ".compare",
    "sweep": ".sweep",
    "search": ".search",
    "modes": ".modes",
    "shimmy": ".shimmy",
    "measured": ".measured",
    "report": ".report",
    "customer": ".customer",
    "serve": ".serve",
    "picture": ".picture",
    "export": ".export",
}


class LazyCommands(click.Group):
    """A click group that imports a subcommand's module when it is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        if name not in COMMANDS:
            return None
        # each module calls its command by the same name, so this table is all there is to register
        command = import_module(COMMANDS[name], __package__).command
        assert isinstance(command, click.Command)
        return command


@click.group(cls=LazyCommands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(VERSION, prog_name="droptrail")
def commands() -> None:
    """Checks a bicycle-frame drawing against its fit sheet, and works out what the frame will do.

    Not a strength certificate: test to ISO 4210, let qualified people approve, local codes prevail.
    """


def main(argv: list[str] | None = None) -> int:
    """Run one command; returns the exit code and never lets a traceback out."""
    if argv is None:  # as a program, and not called by one
        # what a library's clean-up meets after a refusal is not news
        sys.unraisablehook = lambda _: None
    try:
        # before anything is said: even a refusal may hold letters that the terminal has not
        _prepare_streams()
        with warnings.catch_warnings():
            if not sys.warnoptions:  # a library's warnings are for developers: python -W default
                warnings.simplefilter("ignore")
            # not standalone: click would end the process and choose the exit code itself
            result = commands.main(args=argv, prog_name="droptrail", standalone_mode=False)
        # here, where a full disk or a closed pipe can still be answered
        sys.stdout.flush()
    except click.ClickException as error:
        error.show()
        # click's own words and code for wrong usage
        return 2
    except (click.Abort, KeyboardInterrupt):
        # 130 is 128 + SIGINT, as shells report a stop by Ctrl-C
        return _say("stopped", 130)
    # before its parents: a name mistyped on the command line is wrong usage, not a bad file
    except UnknownNameError as error:
        return _say(str(error), 2)
    except InputError as error:
        # 3 is kept for input: a script can tell a bad file from a bad frame
        return _say(str(error), 3)
    except FrameError as error:
        # the frame itself is at fault, such as a mechanism; counts as a finding
        return _say(str(error), 1)
    except (
        BrokenPipeError,
        SystemExit,
    ):  # click makes a broken pipe its own exit with 1, which means findings here
        return _quiet_pipe()
    except OSError as error:
        # a closed pipe is no error of ours and comes back as 0
        return _say(f"{error.filename or 'output'}: {error.strerror or error}", _quiet_pipe() or 3)
    except MemoryError:
        return _say(
            "this machine has not enough memory for that; use a coarser mesh, fewer variants or a part of the "
            "drawing",
            3,
        )
    # libraries load where they are used, so one that is missing shows only here
    except ModuleNotFoundError as error:
        return _say(
            f"this needs the library {error.name}, which is not installed: pip install {error.name}",
            3,
        )
    # the last net: a traceback would tell a builder nothing
    except Exception as error:
        return _say(
            f"droptrail met something it does not know ({type(error).__name__}: {error}). "
            "This is a fault of the program, not of your work; please report it with the input file",
            3,
        )
    if isinstance(result, int):
        return result
    return 0


def _prepare_streams() -> None:
    """UTF-8 into files and pipes on every system; a question mark where a terminal has no such letter."""
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:  # closed by the shell
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115 - stays open until the end
        elif isinstance(stream, io.TextIOWrapper):
            # a terminal keeps its own encoding; files and pipes should not hang on the machine's
            stream.reconfigure(encoding=None if stream.isatty() else "utf-8", errors="replace")


def _quiet_pipe() -> int:
    """The reader of our output went away (`head`), or its disk is full; keep Python from complaining at exit."""
    sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115 - stays open until the end
    return 0


def _say(message: str, code: int) -> int:
    # one line whatever the message holds: the caller may be a script that reads by line
    print(f"droptrail: {' '.join(message.split())}", file=sys.stderr)
    return code


if __name__ == "__main__":
    sys.exit(main())
