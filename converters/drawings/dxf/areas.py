"""Areas: what a filled area's outline is (HATCH, SOLID, TRACE, 3DFACE), and what an opaque one covers (WIPEOUT).

The objects themselves are understood by ezdxf, handed one at a time; numbers have been checked by then.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ....model.errors import InputError
from .budget import MAX_COORDINATE
from .tags import Record

Points = NDArray[np.float64]
FILLED = ("HATCH", "MPOLYGON", "SOLID", "TRACE", "3DFACE")
COVER = "WIPEOUT"
CHORD = 2e-5  # of an area's size: how far a flattened outline may lie from a round one
AREA_BUDGET = 300  # areas looked at; a frame has a few dozen
SPECK = 1e-9  # of an area's size: an outline smaller than this shows nothing


def outlines_of(record: Record) -> list[Points]:
    """Closed outlines (k, 3) of a filled area, in its own coordinates. Raises InputError when it is damaged."""
    with understood(record):
        entity = entity_of(record)
        if record.kind in ("HATCH", "MPOLYGON"):
            loops = list(_loops(entity))
        else:
            loops = [np.array([tuple(v) for v in entity.wcs_vertices()], float)]
    _check_finite(record, loops)
    return [_closed(loop) for loop in loops if len(loop) >= 3 and np.ptp(loop, axis=0).max() > 0]


def cover_of(record: Record) -> Points:
    """The polygon (k, 3) that an opaque area hides of what was drawn before it."""
    with understood(record):
        corners: Points = np.array([tuple(v) for v in entity_of(record).boundary_path_wcs()], float)
    corners = corners.reshape(-1, 3)
    _check_finite(record, [corners])
    return corners


def _loops(hatch: Any) -> Iterator[Points]:
    from ezdxf import path

    for loop in path.from_hatch(hatch):
        corners = np.array([tuple(v) for v in loop.control_vertices()], float)
        size = float(np.ptp(corners, axis=0).max(initial=0.0))
        # an outline of no size cannot be flattened to a share of its size
        if size > 0.0:
            yield np.array([tuple(v) for v in loop.flattening(CHORD * size)], float)


def _closed(loop: Points) -> Points:
    step = np.hypot(*np.diff(loop[:, :2], axis=0).T)
    kept = np.append(True, step > SPECK * np.ptp(loop, axis=0).max())
    # points on top of each other would be edges without a direction
    loop = loop[kept]
    if (loop[0] == loop[-1]).all():
        return loop
    return np.vstack([loop, loop[:1]])


def entity_of(record: Record) -> Any:
    """The record as ezdxf's object. Raises whatever ezdxf makes of a damaged one."""
    from ezdxf.entities import factory
    from ezdxf.lldxf.extendedtags import ExtendedTags

    # latin-1 maps every byte to a character and back, whatever the file's code page
    text = "".join(f"{code}\n{value.decode('latin-1')}\n" for code, value in record.groups())
    return factory.load(ExtendedTags.from_text(text), None)


@contextmanager
def understood(record: Record) -> Iterator[None]:
    """What ezdxf makes of a damaged object, whatever it is, is an InputError that names it."""
    from ezdxf.lldxf.const import DXFError

    try:
        yield
    except (DXFError, ArithmeticError, AttributeError, LookupError, TypeError, ValueError) as error:
        raise InputError(f"{record.place()} cannot be read") from error


def _check_finite(record: Record, loops: Sequence[Points]) -> None:
    if not all(np.isfinite(loop).all() and (np.abs(loop) < MAX_COORDINATE).all() for loop in loops):
        raise InputError(f"{record.place()} holds numbers out of range")


def shown_beside(points: Points, polygons: Sequence[Points]) -> list[Points]:
    """The stretches of a chain (k, 2) that lie outside all polygons (k, 2)."""
    from shapely import LineString, MultiLineString, Polygon, unary_union

    line = LineString(points)
    # a buffer of 0 mends an outline that crosses itself, which shapely would refuse
    near = [Polygon(p).buffer(0.0) for p in polygons if _overlap(p, points)]
    if not near:
        return [points]
    left = line.difference(unary_union(near))
    parts = left.geoms if isinstance(left, MultiLineString) else [left]
    return [np.array(part.coords) for part in parts if not part.is_empty]


def _overlap(a: Points, b: Points) -> bool:
    low = np.maximum(a.min(axis=0), b.min(axis=0))
    high = np.minimum(a.max(axis=0), b.max(axis=0))
    return bool((low <= high).all())
