"""Sections -> the parts of a DXF that matter: header, layers, dimension styles, blocks and the drawn entities."""

import codecs
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache

from ....model.errors import InputError
from ....model.findings import Finding
from ..drawing import WHITE
from .clip import Clip, clips_by_handle
from .order import in_draw_order, sort_handles
from .regions import bodies_by_handle
from .sections import DxfSection, read_sections
from .tags import DAMAGED, Record, read_tags

# entities followed by parts of their own, closed by SEQEND
PARTS = {
    "POLYLINE": "VERTEX",
    "INSERT": "ATTRIB",
}
FROZEN = 1  # flag on group 70 of a layer
NEVER_PLOTTED = "defpoints"
THE_PAPER = 1  # id of the viewport that is the layout's own paper
XREF = 4  # flags on group 70 of a block: drawn in another file
XREF_OVERLAY = 8  # the same, laid under this one


@dataclass(frozen=True)
class Layer:
    name: str
    frozen: bool = False
    off: bool = False
    linetype: str = ""
    plotted: bool = True
    colour: int = WHITE


@dataclass(frozen=True, eq=False)
class Block:
    """A block definition. xref: its content lives in another file."""

    name: str
    base: tuple[float, float, float]
    entities: tuple[Record, ...]
    xref: bool = False


@dataclass(frozen=True, eq=False)
class Document:
    """What a DXF file holds, entities still as records."""

    encoding: str
    header: dict[str, bytes]
    layers: dict[str, Layer]
    dimension_factors: dict[str, float]
    blocks: dict[str, Block]
    entities: tuple[Record, ...]
    findings: tuple[Finding, ...] = ()
    clips: dict[str, Clip] = field(default_factory=dict)
    bodies: dict[str, bytes] = field(default_factory=dict)

    def text(self, value: bytes) -> str:
        return decode(value, self.encoding)

    def name(self, value: bytes) -> str:
        """Text of a group that names something, fit to be printed."""
        return decode_name(value, self.encoding)

    def layer(self, name: str) -> Layer:
        return self.layers.get(key(name)) or Layer(name)

    def block(self, name: str) -> Block | None:
        return self.blocks.get(key(name))


@lru_cache(maxsize=4096)
def key(name: str) -> str:
    """Layer, style and block names are the same whatever their case."""
    return name.strip().casefold()


def read_document(data: bytes) -> Document:
    """Parse the bytes of a DXF. Raises InputError when a needed part is cut off or damaged."""
    sections, findings = read_sections(read_tags(data))
    header = dict(_header(_named(sections, "HEADER")))
    encoding = _encoding(data, header)
    tables = [record for section in _named(sections, "TABLES") for record in section.records]
    blocks = [record for section in _named(sections, "BLOCKS") for record in section.records]
    entities = [record for section in _named(sections, "ENTITIES") for record in section.records]
    unseen = _frozen_in_viewports(
        [*entities, *(r for r in blocks if r.kind == "VIEWPORT")],
    )
    objects = [record for section in _named(sections, "OBJECTS") for record in section.records]
    over = sort_handles(objects, header)
    layers = {key(layer.name): layer for layer in _layers(tables, encoding, unseen)}
    blocks_by_name = {key(block.name): block for block in _blocks(blocks, encoding, over)}
    return Document(
        encoding,
        header,
        layers=layers,
        dimension_factors=dict(_dimension_factors(tables, encoding)),
        blocks=blocks_by_name,
        entities=in_draw_order(list(_with_parts(entities)), over),
        findings=tuple(findings),
        clips=clips_by_handle(objects),
        bodies=bodies_by_handle(r for s in _named(sections, "ACDSDATA") for r in s.records),
    )


def _named(sections: Iterable[DxfSection], name: str) -> list[DxfSection]:
    return [section for section in sections if section.name == name]


# -- encoding ----------------------------------------------------------------------------------------


def _encoding(data: bytes, header: dict[str, bytes]) -> str:
    """UTF-8 if the bytes are valid UTF-8 (whatever the header says), else the header's code page."""
    # UTF-16 was turned into UTF-8 when the groups were read
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-8"
    try:
        data.decode("utf-8")
        return "utf-8"
    except UnicodeDecodeError:
        return _code_page(header.get("$DWGCODEPAGE", b"ANSI_1252").decode("ascii", "replace"))


def _code_page(name: str) -> str:
    from ezdxf.tools.codepage import toencoding

    try:
        encoding = codecs.lookup(toencoding(name)).name
    except LookupError:
        return "cp1252"
    # the bytes were tried as UTF-8 already and are none, so the header is wrong
    if encoding.startswith("utf"):
        return "cp1252"
    return encoding


def decode(value: bytes, encoding: str) -> str:
    """Text of a group with escapes such as \\U+00E4 resolved; what cannot be decoded becomes U+FFFD."""
    text = value.decode(encoding, errors="replace")
    # most texts hold no escape; loading ezdxf for them would slow every reading
    if "\\U+" not in text.upper() and "\\M+" not in text:
        return text
    from ezdxf.lldxf import encoding as escapes

    text = escapes.decode_dxf_unicode(text)
    if escapes.has_mif_encoding(text):
        return escapes.decode_mif_to_unicode(text)
    return text


@lru_cache(maxsize=4096)
def decode_name(value: bytes, encoding: str) -> str:
    """A name: some programs pad it with blanks, damage leaves control characters."""
    return printable(decode(value, encoding).strip())


def printable(text: str) -> str:
    """Control characters and line ends out, so that a message stays one line and a terminal stays itself."""
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)


# -- header, tables, blocks --------------------------------------------------------------------------


def _header(sections: Iterable[DxfSection]) -> Iterator[tuple[str, bytes]]:
    """Each header variable with its first value."""
    for section in sections:
        name = ""
        for code, value in section.head.groups():
            if code == 9:
                name = value.decode("ascii", "replace").strip().upper()
            elif name:
                yield name, value.strip()
                name = ""


def _layers(records: Iterable[Record], encoding: str, unseen: set[str]) -> Iterator[Layer]:
    """`unseen`: handles of layers that no viewport shows."""
    for record in records:
        if record.kind == "LAYER":
            name = decode_name(record.first.get(2, b""), encoding)
            linetype = decode_name(record.first.get(6, b""), encoding)
            # a negative colour number means that the layer is switched off (DXF reference)
            colour = record.integer(62, WHITE)
            plotted = (
                record.integer(290, 1) != 0
                and key(name) != NEVER_PLOTTED
                and _text(record.first.get(5, b"")) not in unseen
            )
            frozen = bool(record.integer(70) & FROZEN)
            yield Layer(name, frozen, colour < 0, linetype, plotted, abs(colour))


def _frozen_in_viewports(entities: Iterable[Record]) -> set[str]:
    """Handles of the layers that every viewport of the layouts hides (331; 341 in older files)."""
    hidden: list[set[str]] = []
    for record in entities:
        if record.kind == "VIEWPORT" and record.integer(69) != THE_PAPER:
            hidden.append({_text(v) for code, v in record.groups() if code in (331, 341)})
    # one viewport that shows a layer is enough to make it part of the sheet
    return set.intersection(*hidden) if hidden else set()


def _text(value: bytes) -> str:
    return value.decode("ascii", "replace").strip().upper()


def _dimension_factors(records: Iterable[Record], encoding: str) -> Iterator[tuple[str, float]]:
    """DIMLFAC (group 144) of every dimension style that states it."""
    for record in records:
        if record.kind == "DIMSTYLE" and 144 in record.first:
            yield key(decode_name(record.first.get(2, b""), encoding)), record.number(144)


def _blocks(records: Iterable[Record], encoding: str, over: Mapping[int, int]) -> Iterator[Block]:
    head: Record | None = None
    content: list[Record] = []
    for record in records:
        if record.kind in ("BLOCK", "ENDBLK"):
            if head:
                yield _block(head, content, encoding, over)
            if record.kind == "BLOCK":
                head = record
            else:
                head = None
            content = []
        else:
            content.append(record)
    if head:
        raise InputError(f"{head.place()} is not finished (ENDBLK missing). {DAMAGED}")


def _block(head: Record, content: list[Record], encoding: str, over: Mapping[int, int]) -> Block:
    x, y, z = (head.number(code, 0.0) for code in (10, 20, 30))
    # only with a path (group 1) does the content live in another file
    xref = bool(head.integer(70) & (XREF | XREF_OVERLAY)) and bool(head.first.get(1, b""))
    return Block(
        decode_name(head.first.get(2, b""), encoding),
        (x, y, z),
        in_draw_order(list(_with_parts(content)), over),
        xref,
    )


def _with_parts(records: Iterable[Record]) -> Iterator[Record]:
    """Records with VERTEX put into their POLYLINE and ATTRIB into their INSERT; SEQEND may be missing."""
    owner: Record | None = None
    parts: list[Record] = []
    for record in records:
        if owner and record.kind == PARTS[owner.kind]:
            parts.append(record)
            continue
        if owner:
            yield replace(owner, children=tuple(parts))
            owner = None
            parts = []
        # held back until its parts are known
        if record.kind in PARTS:
            owner = record
        # a lone vertex means that the head of its polyline was lost, so geometry is missing
        elif record.kind in PARTS.values():
            raise InputError(f"{record.place()} stands without the object it belongs to. {DAMAGED}")
        elif record.kind != "SEQEND":
            yield record
    if owner:
        yield replace(owner, children=tuple(parts))
