"""Groups -> sections, and the judgement whether the file is whole.

A file that stops inside a part that matters is refused, never read as a smaller drawing; what only a sloppy writer left
out (EOF, ENDSEC) becomes a finding.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from ....model.errors import InputError
from ....model.findings import Finding
from .tags import DAMAGED, Record, Tags

NEEDED = ("HEADER", "TABLES", "BLOCKS", "ENTITIES")


@dataclass(frozen=True, eq=False)
class DxfSection:
    """One section: its head (the SECTION record, which also holds the variables of HEADER) and its records."""

    head: Record
    records: tuple[Record, ...]
    closed: bool

    @property
    def name(self) -> str:
        return self.head.first.get(2, b"").decode("ascii", "replace").strip().upper()


def read_sections(tags: Tags) -> tuple[list[DxfSection], list[Finding]]:
    """All sections, with findings on what is missing at their ends.

    Raises InputError when HEADER, TABLES, BLOCKS or ENTITIES is cut off or damaged, or when there is no ENTITIES.
    """
    sections = list(_split(tags))
    entities = [section for section in sections if section.name == "ENTITIES"]
    for section in sections:
        if not section.closed and not _harmless(section, tags, sections):
            raise InputError(_cut_off(tags, section, sections))
    if not entities:
        raise InputError(_no_entities(tags, sections))
    return sections, list(_sloppy_ends(tags, sections))


def _split(tags: Tags) -> Iterator[DxfSection]:
    starts = [i for i, code in enumerate(tags.codes) if code == 0]
    head: Record | None = None
    records: list[Record] = []
    kinds: dict[bytes, str] = {}
    for i, stop in zip(starts, [*starts, len(tags.codes)][1:], strict=True):
        word = tags.values[i]
        if word in (b"SECTION", b"ENDSEC"):
            if head:
                yield DxfSection(head, tuple(records), closed=word == b"ENDSEC")
            if word == b"SECTION":
                head = Record(tags, i, stop, 0, "SECTION")
            else:
                head = None
            records = []
        elif head:
            # very many records are of few kinds; each word is decoded once
            kind = kinds.get(word) or kinds.setdefault(
                word, word.decode("ascii", "replace").upper()
            )
            records.append(Record(tags, i, stop, len(records) + 1, kind))
    if head:
        yield DxfSection(head, tuple(records), closed=False)


def _harmless(section: DxfSection, tags: Tags, sections: list[DxfSection]) -> bool:
    """Open at the end of the file, and either the end mark is there or the drawn objects were complete before it."""
    # another section begins inside it: a piece in the middle of the file is gone
    if section is not sections[-1]:
        return False
    return tags.eof or (section.name not in NEEDED and any(s.name == "ENTITIES" for s in sections))


def _cut_off(tags: Tags, section: DxfSection, sections: list[DxfSection]) -> str:
    if section.name:
        where = f"section {section.name}"
    else:
        where = "the head of a section"
    if section.records:
        where = f"{section.records[-1].place()} of {where}"
    if section is not sections[-1]:
        return f"a piece is missing: {where} is not finished where the next section begins. Export the file again."
    if tags.fault.startswith("line"):
        return f"{tags.fault}, inside {where}. {DAMAGED}"
    return (
        f"is cut off in the middle: the file ends inside {where}. Export it again or copy it again."
    )


def _no_entities(tags: Tags, sections: list[DxfSection]) -> str:
    if tags.eof:
        return "has no ENTITIES section, so nothing is drawn in it. Export the drawing again."
    if sections:
        after = f"after section {sections[-1].name}"
    else:
        after = "before its first section"
    if tags.fault:
        fault = f" ({tags.fault})"
    else:
        fault = ""
    return f"is cut off {after}{fault}, or is not a DXF: there is no ENTITIES section. Export it again."


def _sloppy_ends(tags: Tags, sections: list[DxfSection]) -> Iterator[Finding]:
    last = sections[-1]
    check = "Check that nothing is missing from the drawing."
    if tags.strays:
        # two lines to a group
        first = tags.line + 2 * tags.strays[0]
        text = f"{len(tags.strays)} lines of the file, line {first} first, belong to no object and were left out."
        yield Finding("dxf-stray-line", "warning", f"{text} {check}")
    if not last.closed and tags.eof:
        text = f"section {last.name} is not closed (ENDSEC missing) before the end mark. {check}"
        yield Finding("dxf-section-not-closed", "warning", text)
    elif tags.fault or not last.closed:
        text = f"the file stops in or behind section {last.name} ({tags.fault or 'no end mark'}); the drawn objects"
        text += " before it are complete. Better export it again."
        yield Finding("dxf-cut-off-behind-entities", "warning", text)
    elif not tags.eof:
        text = f"the end mark (EOF) is missing, but every section is closed. {check}"
        yield Finding("dxf-missing-eof", "warning", text)
