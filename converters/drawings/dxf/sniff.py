"""What kind of file is this? Anything but a DXF is refused here, named for what it is, with the way out."""

import re
from pathlib import Path

from ....model.errors import InputError
from .budget import LESS, MAX_BYTES

BINARY_SENTINEL = b"AutoCAD Binary DXF\r\n\x1a\x00"
MEGABYTE = 1e6  # bytes
HEAD = 2000  # bytes looked at to tell what a file is
FIRST_PRINTED = 32  # ASCII; smaller ones are control characters
MOST_CONTROL = 20  # one control character in so many bytes, and it is no text
LAST_CODE = 1071  # the highest group code of DXF
IGES_SECTION = slice(
    72, 73
)  # columns of the letter of the section, S in the first line of a file ...
IGES_NUMBER = slice(73, 80)  # ... and of the line's number in it (ASME Y14.26M, from memory)
EXPORT = "Export the drawing as DXF (R12 to 2018) and give that file."

# First bytes -> what it is and what to do.
MAGIC: tuple[tuple[bytes, str], ...] = (
    (b"%PDF", f"is a PDF. {EXPORT} A PDF holds no exact geometry."),
    (b"\x89PNG", f"is a PNG picture. {EXPORT}"),
    (b"\xff\xd8\xff", f"is a JPEG picture. {EXPORT}"),
    (b"GIF8", f"is a GIF picture. {EXPORT}"),
    (b"BM", f"is a bitmap picture. {EXPORT}"),
    (b"II*\x00", f"is a TIFF picture. {EXPORT}"),
    (b"MM\x00*", f"is a TIFF picture. {EXPORT}"),
    (b"%!PS", f"is a PostScript file. {EXPORT}"),
    (b"ISO-10303-21", f"is a STEP file (3-D model). {EXPORT} Use a side view of the model."),
    (b"solid ", f"is an STL mesh. {EXPORT}"),
    (b"\x1f\x8b", "is packed with gzip. Unpack it and give the DXF inside."),
    (b"7z\xbc\xaf", "is a 7-Zip archive. Unpack it and give the DXF inside."),
    (b"Rar!", "is a RAR archive. Unpack it and give the DXF inside."),
    (b"AutoCAD DXB", f"is a DXB file. {EXPORT}"),
    (
        b"\xd0\xcf\x11\xe0",
        "is an old Office file (XLS or DOC). A fit sheet goes in with --sheet, as CSV or XLSX.",
    ),
)


def load_bytes(path: Path) -> bytes:
    """The file's bytes. Raises InputError for whatever is not an ordinary file of sensible size."""
    try:
        if path.is_dir():
            raise InputError("is a folder, not a drawing. Name the DXF file in it.")
        if not path.exists():
            raise InputError("there is no such file. Check the name and the folder.")
        if not path.is_file():
            raise InputError("is not an ordinary file. Name a DXF file.")
        if path.stat().st_size > MAX_BYTES:
            size = path.stat().st_size / MEGABYTE
            raise InputError(
                f"is {size:.0f} MB, more than the {MAX_BYTES / MEGABYTE:.0f} MB allowed. {LESS}"
            )
        return path.read_bytes()
    except (OSError, ValueError) as error:
        if isinstance(error, InputError):
            raise
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(f"cannot be opened ({reason}). Check the name and the rights.") from None


def check_is_dxf(data: bytes) -> None:
    """Pass for text or binary DXF; otherwise raise InputError naming what the file is."""
    if data.startswith(BINARY_SENTINEL):
        return
    for says in (_empty, _dwg, _zip, _magic, _markup, _no_text, _other_text):
        message = says(data)
        if message:
            raise InputError(message)


def _empty(data: bytes) -> str:
    if not data:
        return "is empty (0 bytes). Export the drawing again."
    if data.strip(b"\x00 \t\r\n\x1a"):
        return ""
    return "holds nothing but blanks. Export the drawing again."


def _dwg(data: bytes) -> str:
    if re.match(rb"AC\d\d\d\d|AC\d\.\d\d|MC0\.0", data):
        return f"is a DWG file whatever its name says. {EXPORT}"
    return ""


def _zip(data: bytes) -> str:
    if not data.startswith(b"PK\x03\x04"):
        return ""
    if b"xl/" in data:
        return "is an Excel workbook (XLSX), not a drawing. A fit sheet goes in with --sheet."
    return "is a ZIP archive. Unpack it and give the DXF inside."


def _magic(data: bytes) -> str:
    return next((message for start, message in MAGIC if data.startswith(start)), "")


def _markup(data: bytes) -> str:
    head = data[:HEAD].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if not head.startswith(b"<"):
        return ""
    if b"<html" in head or b"<!doctype html" in head:
        return "is a web page, not a drawing (a failed download?). Fetch the DXF file again."
    if b"<svg" in head:
        return f"is an SVG picture. {EXPORT}"
    return f"is an XML file, not a drawing. {EXPORT}"


def _no_text(data: bytes) -> str:
    """Many control characters: a binary format of its own, or noise."""
    head = decode_utf16(data[: 2 * HEAD])[:HEAD]
    control = sum(byte < FIRST_PRINTED and byte not in b"\t\n\r\x0c\x1a" for byte in head)
    if control > len(head) // MOST_CONTROL:
        return (
            f"is neither text nor a binary DXF: damaged, or the file of another program. {EXPORT}"
        )
    return ""


def _other_text(data: bytes) -> str:
    head = text_start(data)
    first = head.split(b"\n", 1)[0].strip()
    if re.fullmatch(rb"\d{1,4}", first) and int(first) <= LAST_CODE:
        return ""
    if head[IGES_SECTION] == b"S" and head[IGES_NUMBER].strip() == b"1":
        return f"is an IGES file. {EXPORT}"
    if _looks_like_table(head):
        return "is a table, not a drawing. A fit sheet goes in with --sheet."
    return f"is not a DXF: it does not begin with a group code (a line holding 0). {EXPORT}"


def text_start(data: bytes) -> bytes:
    """The first HEAD bytes of a text file without byte order mark and leading blank lines."""
    return (
        decode_utf16(data[: 2 * HEAD])[:HEAD]
        .removeprefix(b"\xef\xbb\xbf")
        .lstrip()
        .replace(b"\r", b"\n")
    )


def decode_utf16(data: bytes) -> bytes:
    """UTF-16 text (told by its byte order mark) as UTF-8; anything else unchanged."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16", errors="replace").encode("utf-8")
    return data


def _looks_like_table(head: bytes) -> bool:
    first = head.split(b"\n", 1)[0]
    printable = all(byte >= FIRST_PRINTED or byte in b"\t\n\r" for byte in head)
    return printable and any(first.count(mark) >= 2 for mark in (b",", b";", b"\t"))
