"""Flat bodies as records of the ACIS kernel, text or bytes, with the topology a CAD program writes.

    flat = Flat(); flat.loop([line(a, b), arc(centre, radius, b, a)]); flat.sat(700); flat.sab()

The layout of the records follows the SAT and SAB files that ezdxf's `acis` package documents (400, 700, 21800).
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from ezdxf.acis import sab
from ezdxf.acis.const import ACIS_VERSION, Tags
from ezdxf.acis.hdr import AcisHeader
from ezdxf.math import Vec3

Place = tuple[float, float]


@dataclass(frozen=True)
class Drawn:
    """One edge: straight without a centre, else on a circle, or an ellipse of this ratio."""

    start: Place
    end: Place
    centre: Place | None = None
    major: Place = (0.0, 0.0)
    ratio: float = 1.0
    turning: float = 1.0  # the curve's normal, +1 or -1 along z
    backwards: bool = False
    spline: bool = False


@dataclass
class Flat:
    """Records as (kind, entries); an entry is a number, a word, or a Link to a record."""

    records: list[tuple[str, list[Any]]] = field(default_factory=list)

    def _add(self, kind: str, *entries: Any) -> "Link":
        self.records.append((kind, list(entries)))
        return Link(len(self.records) - 1)

    def loop(self, edges: Sequence[Drawn], shift: Place = (0.0, 0.0), scale: float = 1.0) -> "Flat":
        """A body with one face of one loop; `shift` and `scale`: its own placing."""
        none = Link(-1)
        first = len(self.records)
        self._add("body", Link(first + 1), none, none)
        self._add("lump", none, Link(first + 2), Link(first))
        self._add("shell", none, none, Link(first + 3), none, Link(first + 1))
        self._add(
            "face",
            none,
            Link(first + 4),
            Link(first + 2),
            none,
            Link(first + 5),
            "forward",
            "single",
        )
        self._add("loop", none, Link(first + 6), Link(first + 3))
        axes = [Vector(v) for v in ((0.0, 0.0, 0.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0))]
        self._add("plane-surface", *axes, "forward_v", "I", "I", "I", "I")
        coedges = [first + 6 + 7 * k for k in range(len(edges))]
        for k, drawn in enumerate(edges):
            own = coedges[k]
            after, before = coedges[(k + 1) % len(edges)], coedges[k - 1]
            self._add(
                "coedge",
                Link(after),
                Link(before),
                none,
                Link(own + 1),
                "forward",
                Link(first + 4),
                Count(),
                none,
            )
            ends = [Link(own + 2), Link(own + 2 if drawn.start == drawn.end else own + 3)]
            sense = "reversed" if drawn.backwards else "forward"
            self._add(
                "edge", ends[0], 0.0, ends[1], 1.0, Link(own), Link(own + 6), sense, "unknown"
            )
            self._add("vertex", Link(own + 1), Count(), Link(own + 4))
            self._add("vertex", Link(own + 1), Count(), Link(own + 5))
            self._add("point", Vector((*drawn.start, 0.0)))
            self._add("point", Vector((*drawn.end, 0.0)))
            self._curve(drawn)
        if shift != (0.0, 0.0) or scale != 1.0:
            matrix = (
                f"1 0 0 0 1 0 0 0 1 {shift[0]} {shift[1]} 0 {scale} no_rotate no_reflect no_shear"
            )
            self.records[first][1][2] = self._add("transform", Words(matrix))
        return self

    def _curve(self, drawn: Drawn) -> None:
        if drawn.spline:
            self._add("intcurve-curve", "forward", 0.0, 1.0)
        elif drawn.centre is None:
            run = tuple(b - a for a, b in zip(drawn.start, drawn.end, strict=True))
            self._add("straight-curve", Vector((*drawn.start, 0.0)), Vector((*run, 0.0)), "I", "I")
        else:
            self._add(
                "ellipse-curve",
                Vector((*drawn.centre, 0.0)),
                Vector((0.0, 0.0, drawn.turning)),
                Vector((*drawn.major, 0.0)),
                drawn.ratio,
                "I",
                "I",
            )

    # -- as text and as bytes ------------------------------------------------------------------------

    def sat(self, version: int) -> list[str]:
        """Lines of text. Before version 500 an edge has no parameters, before 700 a record no number."""
        header = AcisHeader(n_entities=1)
        header.version = version
        header.acis_version = ACIS_VERSION[version]
        lines = header.dumps()
        for kind, entries in self.records:
            words = [kind, "$-1", *(["-1", "$-1"] if version >= 700 else [])]
            if kind == "edge" and version < 500:
                entries = [e for e in entries[:-1] if not isinstance(e, float)]
            for entry in entries:
                words += _text(entry)
            lines.append(" ".join([*words, "#"]))
        return [*lines, "End-of-ACIS-data"]

    def sab(self, version: int = 21800) -> bytes:
        header = AcisHeader(n_entities=1, flags=12)
        header.version = version
        header.acis_version = ACIS_VERSION[version]
        encoder = sab.Encoder()
        for kind, entries in self.records:
            record = [sab.Token(Tags.ENTITY_TYPE, kind)]
            record += [
                sab.Token(Tags.POINTER, -1),
                sab.Token(Tags.INT, -1),
                sab.Token(Tags.POINTER, -1),
            ]
            for entry in entries:
                record += _tokens(entry)
            encoder.write_record(record)
        return header.dumpb() + b"".join(encoder.buffer) + header.sab_end_marker()


@dataclass(frozen=True)
class Count:
    """A number that only bytes hold."""


@dataclass(frozen=True)
class Link:
    number: int


@dataclass(frozen=True)
class Vector:
    values: tuple[float, float, float]


@dataclass(frozen=True)
class Words:
    text: str


def _text(entry: Any) -> list[str]:
    if isinstance(entry, Count):
        return []
    if isinstance(entry, Link):
        return [f"${entry.number}"]
    if isinstance(entry, Vector):
        return [repr(float(v)) for v in entry.values]
    if isinstance(entry, Words):
        return entry.text.split()
    if entry == "unknown":
        return ["@7", "unknown"]
    return [entry if isinstance(entry, str) else repr(entry)]


def _tokens(entry: Any) -> list[sab.Token]:
    if isinstance(entry, Count):
        return [sab.Token(Tags.INT, 0)]
    if isinstance(entry, Link):
        return [sab.Token(Tags.POINTER, entry.number)]
    if isinstance(entry, Vector):
        return [sab.Token(Tags.LOCATION_VEC, Vec3(entry.values))]
    if isinstance(entry, Words):
        return [sab.Token(Tags.LITERAL_STR, entry.text)]
    if isinstance(entry, float):
        return [sab.Token(Tags.DOUBLE, entry)]
    if entry in ("reversed",):
        return [sab.Token(Tags.BOOL_TRUE, True)]
    if entry in ("forward", "single", "forward_v", "I"):
        return [sab.Token(Tags.BOOL_FALSE, False)]
    return [sab.Token(Tags.STR, entry)]
