"""Bytes -> groups -> records: the lowest floor of the DXF reader.

Vocabulary: a GROUP is a group code and its value, two lines of a text DXF; a RECORD is the run of groups from one
group code 0 to the next (a LINE, a VERTEX, a LAYER ...); a SECTION is what stands between SECTION and ENDSEC.

ezdxf's document layer is deliberately not used to read files: it refuses a whole drawing for one missing subclass
marker or SEQEND, and its recovery mode answers an empty document for a file cut off in the middle, cuts "1,5" to 1.0
and deletes dimensions, each without an error. Here nothing is guessed: a number is read exactly or the place is named.
"""

import math
import re
import struct
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

from ....model.errors import InputError
from .budget import LESS, MAX_GROUPS
from .sniff import BINARY_SENTINEL, decode_utf16

# the group codes the format defines
MIN_CODE = -5
MAX_CODE = 1071
BLANK_LINES = 1000  # beyond two a group, as some programs leave at a file's end
EMBEDDED_OBJECT = 101  # from here on the groups of a record belong to another object
RECORD_NAME = re.compile(rb"[A-Z][A-Z0-9_]*")
CUT = "the file ends in the middle of a group"
DAMAGED = "The file is damaged: export it again."


@dataclass(frozen=True, eq=False)
class Tags:
    """The groups of a file, in order, up to EOF.

    eof : the file says itself that it is complete. fault : why reading stopped before that, empty when it did not.
    line : line number of the first group (0 for a binary DXF). strays : for each line left out because it belongs to
        no group, the index of the group it stood before.
    """

    codes: list[int]
    values: list[bytes]
    eof: bool
    fault: str = ""
    line: int = 1
    strays: tuple[int, ...] = ()

    def place(self, index: int) -> str:
        if not self.line:
            return f"group {index + 1}"
        return f"line {self.line + 2 * index + bisect_right(self.strays, index)}"


@dataclass(frozen=True, eq=False)
class Record:
    """The groups start..stop of a file, beginning with group code 0.

    ordinal counts records within their section; kind is the value of group 0: LINE, VERTEX, LAYER ...
    """

    tags: Tags
    start: int
    stop: int
    ordinal: int
    kind: str
    children: tuple["Record", ...] = ()

    @cached_property
    def first(self) -> dict[int, bytes]:
        """First value of each group code."""
        tags = self.tags
        codes = tags.codes[self.start : self.stop]
        values = tags.values[self.start : self.stop]
        # behind it the codes are another object's and would overwrite this one's meaning
        if EMBEDDED_OBJECT in codes:
            end = codes.index(EMBEDDED_OBJECT)
            codes = codes[:end]
            values = values[:end]
        # reversed, so that of several values the first one stays
        return dict(zip(reversed(codes), reversed(values), strict=True))

    def groups(self) -> Iterator[tuple[int, bytes]]:
        tags = self.tags
        return zip(
            tags.codes[self.start : self.stop], tags.values[self.start : self.stop], strict=True
        )

    def all(self, code: int) -> list[float]:
        """Every number under a group code, in order."""
        return self.numbers([value for c, value in self.groups() if c == code])

    def numbers(self, values: list[bytes]) -> list[float]:
        """Exact, finite numbers; raises InputError naming the object and the offending text."""
        try:
            result = [float(value) for value in values]
        except ValueError:
            result = [math.nan]
        if not all(map(math.isfinite, result)):
            raise InputError(self._bad_number(values))
        return result

    def number(self, code: int, default: float | None = None) -> float:
        """The first number under a group code; a missing one without default is damage."""
        value = self.first.get(code)
        if value is None:
            if default is None:
                raise InputError(f"{self.place()} lacks group {code}. {DAMAGED}")
            return default
        try:
            number = float(value)
        except ValueError:
            number = math.nan
        if not math.isfinite(number):
            raise InputError(self._bad_number([value]))
        return number

    def integer(self, code: int, default: int = 0) -> int:
        # asked of every object for codes that few of them hold
        if code not in self.first:
            return default
        return int(self.number(code))

    def point(self, code: int) -> tuple[float, float, float]:
        """The point on group codes code, code + 10, code + 20 (z 0 when absent)."""
        return self.number(code), self.number(code + 10), self.number(code + 20, 0.0)

    def place(self) -> str:
        """For messages: which object, in words a CAD user can follow."""
        handle = self.first.get(5, b"").decode("ascii", "replace").strip()
        layer = self.first.get(8, b"").decode("latin-1").strip()
        details = [f"handle {handle}"] * bool(handle) + [f"layer {layer}"] * bool(layer)
        return (
            f"{self.kind} no. {self.ordinal} ({', '.join([*details, self.tags.place(self.start)])})"
        )

    def _bad_number(self, values: list[bytes]) -> str:
        bad = next(v for v in values if not _is_finite(v)).decode("latin-1").strip()
        if "," in bad:
            return f'{self.place()} has a decimal comma: "{bad}". Set the CAD program to decimal points, export again.'
        return f'{self.place()} holds "{bad}", not a finite number. Delete or redraw the object, or export again.'


def _is_finite(value: bytes) -> bool:
    return _is_number(value) and math.isfinite(float(value))


def _is_number(value: bytes) -> bool:
    try:
        float(value)
    except ValueError:
        return False
    return True


def read_tags(data: bytes) -> Tags:
    """Groups of a text or binary DXF, up to EOF. Raises InputError at the first line that cannot be one."""
    if data.startswith(BINARY_SENTINEL):
        tags = _binary_tags(data)
    else:
        tags = _text_tags(data)
    if len(tags.codes) > MAX_GROUPS:
        raise InputError(
            f"holds {len(tags.codes):,} groups, more than the {MAX_GROUPS:,} allowed. {LESS}"
        )
    return tags


def _text_tags(data: bytes) -> Tags:
    text = decode_utf16(data).removeprefix(b"\xef\xbb\xbf")
    body = text.lstrip()
    line = 1 + text[: len(text) - len(body)].count(b"\n")
    # old Macintosh files end their lines with a carriage return alone
    if b"\n" in body:
        end = b"\n"
    else:
        end = b"\r"
    # counted before splitting, which would take many times the file's memory
    if body.count(end) > 2 * MAX_GROUPS + BLANK_LINES:
        raise InputError(
            f"holds {body.count(end) // 2:,} groups, more than the {MAX_GROUPS:,} allowed. {LESS}"
        )
    lines = body.split(end)
    if not lines[-1].strip():
        lines.pop()
    return _group(lines, line)


def _group(lines: list[bytes], line: int) -> Tags:
    """Groups of a text DXF; a stray line is looked for only when the plain way fails."""
    tags = _paired(lines, line)
    if tags.eof or not tags.fault.startswith("line"):
        return tags
    kept, strays = _without_strays(lines)
    if strays:
        return replace(_paired(kept, line), strays=tuple(strays))
    return tags


def _without_strays(lines: list[bytes]) -> tuple[list[bytes], list[int]]:
    """The lines that make groups, and before which groups a line was dropped.

    A stray is a line that some writer let slip between two objects (a plotter command, say): neither a group code nor
    a number nor the name of an object, with the next object, or a comment before it, right behind.
    """
    kept: list[bytes] = []
    strays: list[int] = []
    at = 0
    while at < len(lines):
        if not _is_code(lines[at]) and _is_stray(lines[at : at + 3]):
            strays.append(len(kept) // 2)
            at += 1
        kept += lines[at : at + 2]
        at += 2
    return kept, strays


def _is_stray(lines: list[bytes]) -> bool:
    found, *behind = [line.strip() for line in lines]
    if len(behind) < 2 or RECORD_NAME.fullmatch(found) or _is_number(found):
        return False
    return behind[0] == b"999" or (
        behind[0] == b"0" and RECORD_NAME.fullmatch(behind[1]) is not None
    )


def _paired(lines: list[bytes], line: int) -> Tags:
    # blanks inside texts count, also at their ends
    values = [value.rstrip(b"\r") for value in lines[1::2]]
    code_lines = lines[0 : 2 * len(values) : 2]
    codes, bad = _group_codes(code_lines)
    for i, code in enumerate(codes):
        # names of objects may be padded; texts must keep their blanks
        if code == 0:
            values[i] = values[i].strip()
    eof = next((i for i, code in enumerate(codes) if code == 0 and values[i] == b"EOF"), None)
    if eof is not None:
        return Tags(codes[:eof], values[:eof], True, "", line)
    if len(lines) % 2:
        fault = CUT
    else:
        fault = ""
    if bad is not None:
        found = code_lines[bad][:40].decode("latin-1").strip()
        fault = f'line {line + 2 * bad} should hold a group code but holds "{found}"'
    return Tags(codes, values[: len(codes)], False, fault, line)


def _group_codes(lines: list[bytes]) -> tuple[list[int], int | None]:
    """Codes up to the first line that is none, and where that is (None when all are)."""
    try:
        # the fast way for sound files; line by line only when this fails
        codes = list(map(int, lines))
        if not codes or (min(codes) >= MIN_CODE and max(codes) <= MAX_CODE):
            return codes, None
    except ValueError:
        pass
    bad = next(i for i, text in enumerate(lines) if not _is_code(text))
    return [int(text) for text in lines[:bad]], bad


def _is_code(text: bytes) -> bool:
    try:
        return MIN_CODE <= int(text) <= MAX_CODE
    except ValueError:
        return False


def _binary_tags(data: bytes) -> Tags:
    """Groups of a binary DXF through ezdxf's loader, values turned to text (repr keeps every bit of a double)."""
    from ezdxf.lldxf.const import DXFError
    from ezdxf.lldxf.tagger import binary_tags_loader

    codes: list[int] = []
    values: list[bytes] = []
    try:
        for tag in binary_tags_loader(data):
            if tag.code == 0 and tag.value == "EOF":
                return Tags(codes, values, True, "", 0)
            codes.append(tag.code)
            values.append(_as_text(tag.value))
            if len(codes) > MAX_GROUPS:
                break
    except (IndexError, struct.error, ValueError, LookupError, DXFError):
        return Tags(codes, values, False, CUT, 0)
    return Tags(codes, values, False, "", 0)


def _as_text(value: object) -> bytes:
    if isinstance(value, bytes):
        return value.hex().encode()
    return str(value).encode("utf-8", "surrogateescape")
