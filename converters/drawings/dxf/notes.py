"""TEXT, MTEXT, ATTRIB -> Note; DIMENSION -> DimensionNote.

A dimension is measured here from its definition points; its graphics block and the length some programs store with it
are ignored, because both go stale. What the drawing prints is measured times factor (DIMLFAC), or the typed text.
"""

import math
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..drawing import DimensionNote, Note
from .document import Document, key
from .place import Matrix, Placed
from .shapes import to_world
from .tags import Record

NOTES = ("TEXT", "MTEXT", "ATTRIB")
DimensionKind = Literal["linear", "aligned", "angular", "radius", "diameter", "ordinate"]
KINDS: tuple[DimensionKind, ...] = (
    "linear",
    "aligned",
    "angular",
    "diameter",
    "radius",
    "angular",
    "ordinate",
)
ORDINATE_X = 64  # flag on group 70: measured along x
ANGULAR_2_LINES = 2  # values of group 70: an angle between two lines ...
ANGULAR_3_POINTS = 5  # ... and one of three points
# Definition points by type number: 13, 14 measured points, 15 vertex or end, 10 and 16 where the dimension stands.
POINT_CODES = (
    (13, 14),
    (13, 14),
    (13, 14, 15, 10, 16),
    (10, 15),
    (10, 15),
    (15, 13, 14, 10),
    (10, 13),
)
PARALLEL = 1e-12  # sine of the angle below which two lines have no corner
Points = NDArray[np.float64]


def note_of(document: Document, placed: Placed) -> Note:
    """Words without formatting codes, insertion point and height in drawing units."""
    record = placed.record
    justified = (
        record.kind != "MTEXT"
        and (record.integer(72) or record.integer(73, 0))
        and 11 in record.first
    )
    # a justified text is placed by group 11; its group 10 is worked out and often stale
    point = np.array([record.point(11 if justified else 10)])
    # MTEXT stands in world coordinates, TEXT in those of its extrusion
    world = moved(point if record.kind == "MTEXT" else to_world(record, point), placed.matrix)
    height = record.number(40, 0.0) * _mean_scale(placed.matrix)
    x, y = map(float, world[0, :2])
    return Note(_words(document, record), (x, y), height, placed.layer.name, _handle(record))


def moved(points: Points, matrix: Matrix | None) -> Points:
    """Points (k, 3) under a placement; untouched, bit for bit, without one."""
    if matrix is None:
        return points
    placed: Points = points @ matrix[:3, :3].T + matrix[:3, 3]
    return placed


def _mean_scale(matrix: Matrix | None) -> float:
    if matrix is None:
        return 1.0
    return math.sqrt(abs(float(np.linalg.det(matrix[:2, :2]))))


def _handle(record: Record) -> str:
    return record.first.get(5, b"").decode("ascii", "replace").strip()


def _words(document: Document, record: Record) -> str:
    if record.kind != "MTEXT":
        return _plain(document.text(record.first.get(1, b"")))
    # long texts come in pieces of 250 bytes on group 3, the rest on group 1; joined before
    whole = b"".join(value for code, value in record.groups() if code in (1, 3))
    return _plain_mtext(document.text(whole))


def _plain(text: str) -> str:
    """Resolve %%d, %%c, %%p and friends."""
    if "%%" not in text and "^" not in text:
        return text
    from ezdxf.tools.text import plain_text

    return plain_text(text)


def _plain_mtext(text: str) -> str:
    if not any(mark in text for mark in "\\{}%^"):
        return text
    from ezdxf.tools.text import fast_plain_mtext

    return str(fast_plain_mtext(text))


# -- dimensions --------------------------------------------------------------------------------------


def dimension_of(document: Document, placed: Placed) -> DimensionNote:
    """The measured dimension. Raises InputError when a definition point is missing or no number."""
    record = placed.record
    # the lower three bits are the type, the higher ones flags
    number = record.integer(70) & 7
    kind = KINDS[min(number, 6)]
    points = _definition_points(record, number)
    points = moved(points, placed.matrix)
    measured = _measured(record, number, points, placed.matrix)
    if kind == "angular":
        factor = 1.0
    else:
        # the points are measured after placing, the number was printed for the unplaced ones
        factor = _factor(document, record) / _mean_scale(placed.matrix)
    text = _plain_mtext(document.text(record.first.get(1, b""))).strip()
    ends = tuple((float(x), float(y)) for x, y, _ in points)
    return DimensionNote(kind, measured, text, factor, ends, placed.layer.name, _handle(record))


def _definition_points(record: Record, number: int) -> Points:
    # group 16 (where the arc stands) is missing in some writers' angular dimensions
    codes = [code for code in POINT_CODES[min(number, 6)] if code != 16 or code in record.first]
    return np.array([record.point(code) for code in codes])


def _measured(record: Record, number: int, points: Points, matrix: Matrix | None) -> float:
    flat = points[:, :2]
    span = flat[1] - flat[0]
    if number == 0:
        return abs(float(span @ _direction(record, matrix)))
    if number == ANGULAR_2_LINES:
        return _angle_of_lines(flat)
    if number == ANGULAR_3_POINTS:
        return _angle_of_points(flat)
    if number == 6:
        return abs(float(span[0] if record.integer(70) & ORDINATE_X else span[1]))
    return float(np.hypot(*span))


def _direction(record: Record, matrix: Matrix | None) -> Points:
    """Unit vector along which a rotated dimension measures."""
    angle = math.radians(record.number(50, 0.0))
    along = np.array([[math.cos(angle), math.sin(angle), 0.0]])
    if matrix is None:
        turned = along
    else:
        turned = along @ matrix[:3, :3].T
    size = float(np.hypot(*turned[0, :2])) or 1.0
    direction: Points = turned[0, :2] / size
    return direction


def _angle(a: Points, b: Points) -> float:
    """Angle between two directions, degrees, 0 to 180."""
    return math.degrees(abs(math.atan2(float(a[0] * b[1] - a[1] * b[0]), float(a @ b))))


def _parallel(a: Points, b: Points) -> bool:
    return abs(float(a[0] * b[1] - a[1] * b[0])) <= PARALLEL * float(np.hypot(*a) * np.hypot(*b))


def _angle_of_lines(flat: Points) -> float:
    """The angle in that of the four sectors between two lines where the dimension arc stands (last point)."""
    first = flat[1] - flat[0]
    second = flat[3] - flat[2]
    if len(flat) < 5 or _parallel(first, second):
        return _angle(first, second)
    along = np.linalg.solve(np.column_stack([first, -second]), flat[2] - flat[0])[0]
    vertex = flat[0] + along * first
    # coordinates of the arc's place along the two lines tell which sector it is in
    signs = np.sign(np.linalg.solve(np.column_stack([first, second]), flat[4] - vertex))
    return _angle(signs[0] * first, signs[1] * second)


def _angle_of_points(flat: Points) -> float:
    """Vertex, two arms and the point where the arc stands: behind the arms the outer angle is meant."""
    first = flat[1] - flat[0]
    second = flat[2] - flat[0]
    inner = _angle(first, second)
    if _parallel(first, second):
        return inner
    # both coordinates positive: the arc stands between the arms
    sides = np.linalg.solve(np.column_stack([first, second]), flat[3] - flat[0])
    if (sides >= 0.0).all():
        return inner
    return 360.0 - inner


def _factor(document: Document, record: Record) -> float:
    """DIMLFAC of the entity's override, else of its style, else of the header; negative ones act on layouts only."""
    style = document.dimension_factors.get(key(document.name(record.first.get(3, b""))))
    factor = _override(record)
    if factor is None:
        if style is not None:
            factor = style
        else:
            factor = _header_factor(document)
    in_layout = record.integer(67) == 1
    if factor < 0.0:
        return abs(factor) if in_layout else 1.0
    return factor or 1.0


def _header_factor(document: Document) -> float:
    try:
        factor = float(document.header.get("$DIMLFAC", b"1"))
    except ValueError:
        return 1.0
    if math.isfinite(factor):
        return factor
    return 1.0


def _override(record: Record) -> float | None:
    """DIMLFAC (variable 144) in the extended data: 1000 DSTYLE, 1070 144, 1040 value."""
    inside = waiting = False
    for code, value in record.groups():
        if code == 1000 and value.strip() == b"DSTYLE":
            inside = True
        elif inside and code == 1070:
            waiting = value.strip() == b"144"
        elif inside and waiting and code == 1040:
            return record.numbers([value])[0]
    return None
