"""JSON read without mercy: every refusal names the place in the file, the value found and what is expected."""

import json
from collections.abc import Iterable, Mapping
from hashlib import sha256
from math import isfinite
from pathlib import Path
from typing import Any, NoReturn

from ...model.errors import InputError

MAX_BYTES = 16_000_000  # twice a model of the most nodes and elements that are read


def read_text(path: Path) -> tuple[str, str]:
    """Text and SHA-256 of a UTF-8 file within the size budget; InputError for anything else."""
    try:
        if path.stat().st_size > MAX_BYTES:
            raise InputError(
                f"{path.name}: {path.stat().st_size / 1e6:.0f} MB; a JSON file of at most "
                f"{MAX_BYTES / 1e6:.0f} MB is read"
            )
        data = path.read_bytes()
        # utf-8-sig: Windows editors put a mark before the text that JSON does not allow
        return data.decode("utf-8-sig"), sha256(data).hexdigest()
    except OSError as error:
        raise InputError(f"{path}: cannot be read ({error.strerror or error})") from error
    except UnicodeDecodeError as error:
        raise InputError(f"{path.name}: is not UTF-8 text; save it as plain JSON") from error


def parse_object(text: str, name: str) -> dict[str, Any]:
    """The top-level object of strict JSON: no NaN, no infinity, no key twice in one object."""

    # the standard reader keeps the last of two equal keys: the first would be lost without a word
    def once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        out: dict[str, Any] = {}
        for key, value in pairs:
            if key in out:
                raise InputError(
                    f"{name}: key '{key}' is given twice in one object; give each item its own name"
                )
            out[key] = value
        return out

    # json takes NaN and Infinity, which the format does not have, and no result survives them
    def constant(word: str) -> NoReturn:
        raise InputError(f"{name}: holds {word}, which is not a number; every value must be finite")

    try:
        data = json.loads(text, object_pairs_hook=once, parse_constant=constant)
    # our own refusals are ValueErrors too and already say what is wrong
    except InputError:
        raise
    except json.JSONDecodeError as error:
        raise InputError(
            f"{name}: line {error.lineno}, column {error.colno}: not JSON ({error.msg})"
        ) from error
    # Python refuses integers of thousands of digits with a plain ValueError
    except (ValueError, RecursionError) as error:
        raise InputError(
            f"{name}: not readable as JSON (a number too long, or nested too deeply)"
        ) from error
    if not isinstance(data, dict):
        raise InputError(f"{name}: the top level must be an object {{ }}")
    return data


class JsonItem:
    """A value and its place in the file; every access checks, every refusal is an InputError naming the place."""

    object_wanted = "an object { } is expected"
    list_wanted = "a list [ ] is expected"

    def __init__(self, value: Any, path: str) -> None:
        self.value = value
        self.path = path

    def refuse(self, expected: str) -> NoReturn:
        shown = self.shown()
        raise InputError(
            # a whole list in a refusal would bury what is expected
            f"{self.path}: {shown if len(shown) < 60 else shown[:57] + '...'} - {expected}"
        )

    def shown(self) -> str:
        """The value as it stands in a refusal."""
        return repr(self.value)

    def entries(self) -> "dict[str, JsonItem]":
        if not isinstance(self.value, Mapping):
            self.refuse(self.object_wanted)
        # children are of the same class, so that a TOML file is refused in TOML's words throughout
        return {str(k): type(self)(v, f"{self.path}.{k}") for k, v in self.value.items()}

    def rows(self) -> "list[JsonItem]":
        if not isinstance(self.value, list | tuple):
            self.refuse(self.list_wanted)
        return [type(self)(v, f"{self.path}[{k}]") for k, v in enumerate(self.value)]

    def need(self, key: str) -> "JsonItem":
        """The value under a key that must be there."""
        found = self.maybe(key)
        if found is None:
            raise InputError(f"{self.path}: '{key}' is missing")
        return found

    def maybe(self, key: str) -> "JsonItem | None":
        if not isinstance(self.value, Mapping):
            self.refuse(self.object_wanted)
        if key in self.value:
            return type(self)(self.value[key], f"{self.path}.{key}")
        return None

    def rows_of(self, key: str) -> "list[JsonItem]":
        """The list under a key, empty where the key is absent."""
        found = self.maybe(key)
        if found is None:
            return []
        return found.rows()

    def entries_of(self, key: str) -> "dict[str, JsonItem]":
        """The object under a key, empty where the key is absent."""
        found = self.maybe(key)
        if found is None:
            return {}
        return found.entries()

    def number(self, at_least: float | None = None) -> float:
        # in Python True is a number; in a file it is a slip
        if isinstance(self.value, bool) or not isinstance(self.value, int | float):
            self.refuse("a number is expected")
        try:
            value = float(self.value)
        # an integer of 400 digits is valid JSON and no float
        except OverflowError:
            self.refuse("the number is too large")
        if not isfinite(value):
            self.refuse("a finite number is expected")
        if at_least is not None and value < at_least:
            self.refuse(f"a number of {at_least:g} or more is expected")
        return value

    def numbers(self, count: int, at_least: float | None = None) -> tuple[float, ...]:
        rows = self.rows()
        # counted first: "3 numbers expected" helps more than a refusal of the fourth
        if len(rows) != count:
            self.refuse(f"{count} numbers are expected, got {len(rows)}")
        return tuple(row.number(at_least) for row in rows)

    def vector(self) -> tuple[float, float, float]:
        x, y, z = self.numbers(3)
        return x, y, z

    def direction(self) -> tuple[float, float, float]:
        vector = self.vector()
        if not any(vector):
            self.refuse("a direction must not be zero")
        if not 1e-100 < max(map(abs, vector)) < 1e100:  # its square would be zero or infinite
            self.refuse("a direction's numbers are out of range; give it as [0, 1, 0]")
        return vector

    def flag(self) -> bool:
        # 1.0 and 0.0 pass too, since other programs write flags as numbers
        if self.value not in (0, 1):
            self.refuse("0 or 1 (true or false) is expected")
        return bool(self.value)

    def word(self) -> str:
        # node numbers of other programs are integers; as names they become text
        if isinstance(self.value, bool) or not isinstance(self.value, str | int):
            self.refuse("a name is expected")
        return str(self.value)

    def one_of(self, allowed: Iterable[str], what: str) -> str:
        word = self.word()
        if word not in allowed:
            self.refuse(what)
        return word
