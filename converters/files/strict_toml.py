"""TOML files of the builder's own - layer maps, variants, load cases - within a budget, refused in one line."""

import tomllib
from pathlib import Path
from typing import Any

from ...model.errors import InputError

MAX_BYTES = 100_000  # far above what makes sense
MAX_LINE = (
    2_000  # characters; a key of dotted parts costs the parser more than the square of its length
)


def read_toml(path: Path) -> dict[str, Any]:
    """The tables of a TOML file.

    Raises
    ------
    InputError
        When it is missing, over budget, no UTF-8 text or no TOML; the message names the file and the place.
    """
    try:
        # asked before reading, so that a wrong file of gigabytes costs nothing
        size = path.stat().st_size
        if size > MAX_BYTES:
            raise InputError(
                f"{path.name}: {size} bytes; a TOML file of at most {MAX_BYTES} bytes is read"
            )
        text = path.read_bytes().decode("utf-8-sig")
        if not text.strip():
            raise InputError(f"{path.name}: the file is empty")
        long = [k for k, line in enumerate(text.splitlines(), 1) if len(line) > MAX_LINE]
        # checked before parsing: it is the parser that such a line would keep busy
        if long:
            raise InputError(
                f"{path.name}: line {long[0]} has more than {MAX_LINE} characters; break it up"
            )
        return tomllib.loads(text)
    # our own refusals already say what is wrong
    except InputError:
        raise
    except OSError as error:
        raise InputError(f"{path.name}: {error.strerror or error}") from error
    except UnicodeDecodeError as error:
        raise InputError(f"{path.name}: is not UTF-8 text; save it as plain text") from error
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{path.name}: not a readable TOML file ({error})") from error
    # a TOMLDecodeError is a ValueError too, so it must be caught before this
    except (ValueError, RecursionError) as error:
        raise InputError(
            f"{path.name}: not a readable TOML file (a number too long, or nested too deeply)"
        ) from error
