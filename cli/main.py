"""The `droptrail` command: finds the subcommand, turns every refusal into one line and an exit code.

Exit codes: 0 fine; 1 findings or a check out of tolerance; 2 wrong usage; 3 input that cannot be read.
"""

import sys
from importlib import import_module

import click

from model.errors import FrameError, InputError
from model.version import VERSION

# Subcommand -> module that holds it; loaded only when asked for, so that each command starts fast.
COMMANDS = {
    "new": "cli.new", "read": "cli.read", "geometry": "cli.geometry", "draw": "cli.draw", "mitre": "cli.mitre",
    "model": "cli.model_file", "solve": "cli.solve", "check": "cli.check", "audit": "cli.audit",
    "compare": "cli.compare", "search": "cli.search", "modes": "cli.modes", "shimmy": "cli.shimmy",
    "report": "cli.report", "serve": "cli.serve", "picture": "cli.picture", "export": "cli.export",
}


class LazyCommands(click.Group):
    """A click group that imports a subcommand's module when it is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        if name not in COMMANDS:
            return None
        command = import_module(COMMANDS[name]).command
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
    try:
        result = commands.main(args=argv, prog_name="droptrail", standalone_mode=False)
    except click.ClickException as error:
        error.show()
        return 2
    except (click.Abort, KeyboardInterrupt):
        return _say("stopped", 130)
    except InputError as error:
        return _say(str(error), 3)
    except FrameError as error:
        return _say(str(error), 1)
    except BrokenPipeError:
        return _quiet_pipe()
    except OSError as error:
        return _say(f"{error.filename or 'file'}: {error.strerror or error}", 3)
    except Exception as error:
        return _say(f"droptrail met something it does not know ({type(error).__name__}: {error}). "
                    "This is a fault of the program, not of your work; please report it with the input file", 3)
    return result if isinstance(result, int) else 0


def _quiet_pipe() -> int:
    """The reader of our output went away (such as `head`); keep Python from complaining at exit."""
    sys.stdout = None
    return 0


def _say(message: str, code: int) -> int:
    print(f"droptrail: {' '.join(message.split())}", file=sys.stderr)
    return code


if __name__ == "__main__":
    sys.exit(main())
