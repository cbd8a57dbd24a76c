"""Ways to bend a good file so that most of it stays readable: numbers, words, lines, JSON trees, workbook parts.

Each takes the bytes, a `random.Random` and the plain byte mutator of the fuzzer, and returns bytes; nothing here knows
what is tested.
"""

import io
import json
import random
import re
import zipfile
from collections.abc import Callable, Sequence
from copy import deepcopy
from typing import Any

Bytes = Callable[[bytes], bytes]

NUMBERS = (
    "0",
    "-0.0",
    "1",
    "-1",
    "7",
    "0.5",
    "1e-12",
    "1e-300",
    "1e12",
    "1e308",
    "1e400",
    "-1e400",
    "nan",
    "inf",
    "-Infinity",
    "999999999999999999999",
    "9" * 5000,
    "2147483648",
    "1.5.5",
    "1,5",
    "0x10",
    "1_000",
    "",
    "٣",
    "1/0",
    "1 1/8",
    "90",
    "89.9999",
    "180",
    "360",
    "-90",
    "45",
)
WORDS = (
    "",
    "x",
    "=1+1",
    "@SUM(A1)",
    "../../etc/passwd",
    "/etc/passwd",
    "file:///etc/passwd",
    "\u202e",
    "\ud7ff",
    "\x7f",
    "é" * 30,
    "{0}",
    "%s",
    "[b]",
    "null",
    "true",
    "nan",
    "a\tb",
    '"',
    "'",
    "#",
    "#REF!",
    "None",
    "__class__",
    "A" * 2000,
)
_NUMBER = re.compile(rb"[+-]?\d[\d.]*(?:[eE][+-]?\d+)?")
_WORD = re.compile(rb"[A-Za-z_][A-Za-z_ ]*")


def text(stride: int, words: Sequence[str]) -> Callable[[bytes, random.Random, Bytes], bytes]:
    """A bender of line-wise text whose lines belong together in groups of `stride` (2 in DXF)."""

    def bend(data: bytes, rng: random.Random, plain: Bytes) -> bytes:
        for _ in range(rng.choice((1, 1, 1, 2, 3, 6))):
            way = rng.randrange(8)
            if way == 0:
                data = plain(data)
            elif way <= 2:
                data = _replaced(data, _NUMBER, rng, NUMBERS)
            elif way == 3:
                data = _nudged(data, rng)
            elif way == 4:
                data = _replaced(data, _WORD, rng, (*words, *WORDS))
            else:
                data = _lines(data, stride, rng)
        return data

    return bend


def _replaced(
    data: bytes, pattern: re.Pattern[bytes], rng: random.Random, choices: Sequence[str]
) -> bytes:
    found = list(pattern.finditer(data))
    if not found:
        return data
    match = rng.choice(found)
    return (
        data[: match.start()]
        + rng.choice(choices).encode("utf-8", "surrogatepass")
        + data[match.end() :]
    )


def _nudged(data: bytes, rng: random.Random) -> bytes:
    """One number a little or a lot larger or smaller, the rest as it was."""
    found = list(_NUMBER.finditer(data))
    if not found:
        return data
    match = rng.choice(found)
    try:
        value = float(match[0]) * rng.choice(
            (0.5, 0.9, 0.99, 1.01, 1.1, 2.0, 10.0, -1.0)
        ) + rng.choice((0, 0, 1, -1))
    except (ValueError, OverflowError):
        return data
    return data[: match.start()] + f"{value:.6g}".encode() + data[match.end() :]


def _lines(data: bytes, stride: int, rng: random.Random) -> bytes:
    """Groups of lines left away, doubled, moved, or everything after one cut off."""
    lines = data.split(b"\n")
    groups = [lines[k : k + stride] for k in range(0, len(lines), stride)]
    at, count = rng.randrange(len(groups)), rng.choice((1, 1, 2, 5, 20))
    part, rest = groups[at : at + count], groups[:at] + groups[at + count :]
    to = rng.randrange(len(rest) + 1)
    way = rng.randrange(5)
    if way == 0:
        groups = rest
    elif way == 1:
        groups = groups[:at] + part * rng.choice((1, 1, 3, 200)) + groups[at:]
    elif way <= 3:
        groups = rest[:to] + part + rest[to:]
    else:
        groups = groups[:at]
    return b"\n".join(b"\n".join(group) for group in groups)


def tree(data: bytes, rng: random.Random, plain: Bytes) -> bytes:
    """A bender of JSON: values replaced, left away, doubled or exchanged for others of the same file."""
    try:
        root = json.loads(data)
    except (ValueError, RecursionError):
        return plain(data)
    if rng.random() < 0.1:
        return plain(data)
    for _ in range(rng.choice((1, 1, 1, 2, 4))):
        places = _places(root)
        if places:
            _bend_place(*rng.choice(places), rng.choice(places), rng)
    return json.dumps(root).encode("utf-8", "surrogatepass")


def _places(root: Any) -> list[tuple[Any, Any]]:
    """(container, key) of every value."""
    places, todo = [], [root]
    while todo and len(places) < 20_000:
        held = todo.pop()
        keys = (
            list(held)
            if isinstance(held, dict)
            else range(len(held))
            if isinstance(held, list)
            else ()
        )
        places += [(held, key) for key in keys]
        todo += [held[key] for key in keys]
    return places


_VALUES = (
    0,
    1,
    -1,
    0.5,
    1e-300,
    1e308,
    -1e308,
    10**400,
    float("nan"),
    float("inf"),
    None,
    True,
    "",
    "x",
    "1",
    [],
    {},
    [0, 0, 0],
    [1, 1, 1, 1, 1, 1],
    [[]],
    {"a": 1},
    "../x",
    1e12,
    1e-12,
    -0.0,
    2**63,
)


def _bend_place(held: Any, key: Any, other: tuple[Any, Any], rng: random.Random) -> None:
    way = rng.randrange(6)
    if way == 0:
        held[key] = deepcopy(rng.choice(_VALUES))
    elif way == 1:
        del held[key]
    elif way == 2:
        held[key] = deepcopy(
            other[0].get(other[1]) if isinstance(other[0], dict) else other[0][other[1]]
        )
    elif way == 3 and isinstance(held, list):
        held.insert(key, deepcopy(held[key]))
    elif way == 3:
        held[f"{key}{rng.choice('x_2 ')}"] = deepcopy(held[key])
    elif (
        isinstance(held[key], int | float)
        and not isinstance(held[key], bool)
        and abs(held[key]) < 1e300
    ):
        held[key] = held[key] * rng.choice(
            (0.0, 0.5, -1.0, 1.001, 2.0, 1e3, 1e-3, 1e9, 1e-9)
        ) + rng.choice((0, 0, 1))


def workbook(words: Sequence[str]) -> Callable[[bytes, random.Random, Bytes], bytes]:
    """A bender of XLSX: one part of the archive is bent as text or bytes and packed again."""
    inside = text(1, words)

    def bend(data: bytes, rng: random.Random, plain: Bytes) -> bytes:
        try:
            archive = zipfile.ZipFile(io.BytesIO(data))
            parts = {info.filename: archive.read(info) for info in archive.infolist()[:60]}
        except Exception:
            return plain(data)
        if not parts or rng.random() < 0.05:
            return plain(data)
        sheets = [name for name in parts if "sheet" in name or "shared" in name]
        name = rng.choice(sheets if sheets and rng.random() < 0.7 else list(parts))
        way = rng.randrange(12)
        if way == 0:
            del parts[name]
        elif way == 1:
            parts[name] = parts[rng.choice(list(parts))]
        else:
            parts[name] = inside(parts[name].replace(b"><", b">\n<"), rng, plain)
        return packed(parts)

    return bend


def packed(parts: dict[str, bytes]) -> bytes:
    """The parts as one archive, without dates."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, part in parts.items():
            archive.writestr(zipfile.ZipInfo(name), part)
    return out.getvalue()
