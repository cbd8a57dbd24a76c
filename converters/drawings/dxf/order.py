"""Draw order: which object lies over which, where it is not the order in the file.

A SORTENTSTABLE gives objects another handle to be drawn by: each on group 331, its sort handle on group 5 behind it;
all others are drawn by their own (DXF reference, OBJECTS section). The lowest handle is drawn first.
"""

from collections.abc import Iterable, Mapping, Sequence

from .tags import Record

TABLE = "SORTENTSTABLE"
DRAWN = 331  # an object that is drawn by another handle
BY = 5  # that handle
SORTED = 16 | 32  # bits of $SORTENTS: when a drawing is regenerated, when it is plotted
ALL_SORTED = 127  # $SORTENTS where the file does not state it


def sort_handles(objects: Iterable[Record], header: Mapping[str, bytes]) -> dict[int, int]:
    """Object's handle -> the handle it is drawn by; empty where the drawing switches sorting off."""
    stated = header.get("$SORTENTS", b"").strip()
    if stated.isdigit() and not int(stated) & SORTED:
        return {}
    found: dict[int, int] = {}
    for record in objects:
        if record.kind != TABLE:
            continue
        drawn: int | None = None
        for code, value in record.groups():
            if code == DRAWN:
                drawn = _handle(value)
            elif code == BY and drawn is not None:
                by = _handle(value)
                found[drawn] = drawn if by is None else by
                drawn = None
    return found


def in_draw_order(records: Sequence[Record], by: Mapping[int, int]) -> tuple[Record, ...]:
    """Records as they lie over one another, the lowest first; as they stand where no table names one of them."""
    own = [_handle(record.first.get(BY, b"")) for record in records]
    if not any(handle in by for handle in own):
        return tuple(records)
    keys = []
    last = 0
    for handle in own:
        # one without a handle stays behind its neighbour
        if handle is not None:
            last = by.get(handle, handle)
        keys.append(last)
    order = sorted(range(len(keys)), key=keys.__getitem__)
    return tuple(records[k] for k in order)


def _handle(value: bytes) -> int | None:
    try:
        return int(value, 16)
    except ValueError:
        return None
