"""REGION: the edges of a flat body of the ACIS kernel, where they are straight lines, circles or ellipses.

The body is a net of records that point at each other: EDGE -> VERTEX -> POINT for its ends, EDGE -> CURVE for its
course. Up to R2010 it stands in the object as shifted text (SAT), from R2013 on as bytes (SAB) in a section of their
own; ezdxf takes both apart. What an entry means is told by the kind of record it points at, not by its place, because
the place changed from version to version. Records: as ezdxf's `acis` documents them.
"""

import struct
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ....model.errors import InputError
from .areas import entity_of, understood
from .budget import MAX_COORDINATE, check_vertices
from .shapes import FULL_TURN, SAME_ANGLE, Shape, round_shape
from .tags import Record

Points = NDArray[np.float64]
REGION = "REGION"
OWNER = 320  # group of a data record: the handle of the object that its bytes belong to
CHUNK = 310  # group of a data record: bytes
MOST_RECORDS = 200_000  # of one body; the regions of a frame have some hundreds


def handle_of(record: Record, group: int = 5) -> str:
    """The record's own handle, or the one that it names on another group; '' where there is none."""
    return record.first.get(group, b"").decode("ascii", "replace").strip().upper()


def bodies_by_handle(records: Iterable[Record]) -> dict[str, bytes]:
    """The bytes of every body, by the handle of its object, from the records of section ACDSDATA."""
    found: dict[str, bytes] = {}
    for record in records:
        chunks = [value for code, value in record.groups() if code == CHUNK]
        handle = handle_of(record, OWNER)
        if record.kind == "ACDSRECORD" and handle and chunks:
            found[handle] = b"".join(_raw(chunk) for chunk in chunks)
    return found


def _raw(chunk: bytes) -> bytes:
    """Bytes stand as digits in a text file and as themselves in a binary one."""
    try:
        return bytes.fromhex(chunk.decode("ascii"))
    except ValueError:
        return chunk


def edges_of(record: Record, body: bytes | None, step: float) -> list[Shape]:
    """The edges of a REGION in its own coordinates, round ones in steps of at most `step` radians.

    Raises InputError when the body cannot be read or has an edge that is no line, circle or ellipse.
    """
    with understood(record):
        nodes = _nodes(record, body)
        edges = [node for node in nodes if _kind(node) == "edge"]
        placing = _placing([node for node in nodes if node.name == "transform"])
        shapes = [_moved(_shape(edge, step), placing) for edge in edges]
    if not shapes:
        raise InputError(f"{record.place()} holds no edge")
    for shape in shapes:
        if not (np.isfinite(shape.points).all() and (np.abs(shape.points) < MAX_COORDINATE).all()):
            raise InputError(f"{record.place()} holds numbers out of range")
    return shapes


# -- records -------------------------------------------------------------------------------------------


def _nodes(record: Record, body: bytes | None) -> list[Any]:
    from ezdxf.acis import sab, sat
    from ezdxf.acis.const import AcisException

    try:
        if body is not None:
            built: Any = sab.parse_sab(body)
        else:
            built = sat.parse_sat(entity_of(record).sat)
    # bytes that end too soon, and text that is none of the kernel's
    except (AcisException, AssertionError, struct.error) as error:
        raise ValueError(str(error)) from error
    nodes = list(built.entities)
    if len(nodes) > MOST_RECORDS:
        raise ValueError("too many records")
    return nodes


def _kind(node: Any) -> str:
    """`edge` of an `edge` or a `tedge-edge`: the last word is the general kind."""
    return str(node.name).rsplit("-", 1)[-1]


def _entries(node: Any) -> Iterator[Any]:
    """What a record holds, the bytes' tags taken off and vectors spread out."""
    for entry in node.data:
        # a tag of the bytes holds its value; a text's entry is the value, or the record pointed at
        value = getattr(entry, "value", entry)
        if isinstance(value, tuple | list):
            yield from value
        else:
            yield value


def _pointed(node: Any, kind: str) -> list[Any]:
    return [entry for entry in _entries(node) if hasattr(entry, "data") and _kind(entry) == kind]


def _numbers(node: Any) -> list[float]:
    """The numbers behind the last pointer: those before it count references, and not in every version."""
    found: list[float] = []
    for entry in _entries(node):
        if hasattr(entry, "data"):
            found = []
        # a sense; words such as `forward` are skipped below
        elif not isinstance(entry, bool):
            found += _floats(str(entry).split())
    return found


def _floats(words: Iterable[str]) -> list[float]:
    found = []
    for word in words:
        try:
            found.append(float(word))
        except ValueError:
            continue
    return found


# -- geometry ------------------------------------------------------------------------------------------


def _shape(edge: Any, step: float) -> Shape:
    ends = [_place(vertex) for vertex in _pointed(edge, "vertex")[:2]]
    (curve,) = _pointed(edge, "curve")[:1]
    if curve.name == "straight-curve":
        return Shape("line", np.array(ends))
    if curve.name != "ellipse-curve":
        raise ValueError(f"an edge along a {curve.name}")
    return _round_edge(curve, ends, _backwards(edge, curve), step)


def _place(vertex: Any) -> Points:
    (point,) = _pointed(vertex, "point")[:1]
    return np.array(_numbers(point)[-3:])


def _backwards(edge: Any, curve: Any) -> bool:
    """Whether an edge runs against its curve: the first sense after the curve's pointer."""
    entries = list(_entries(edge))
    for entry in entries[entries.index(curve) + 1 :]:
        if isinstance(entry, bool):
            return entry
        if entry in ("forward", "reversed"):
            return bool(entry == "reversed")
    return False


def _round_edge(curve: Any, ends: Sequence[Points], backwards: bool, step: float) -> Shape:
    """Centre, normal, major axis and ratio of an ellipse; where the edge lies on it follows from its ends."""
    numbers = np.array(_numbers(curve)[:10])
    centre = numbers[:3]
    normal = numbers[3:6]
    major = numbers[6:9]
    ratio = float(numbers[9])
    minor = ratio * np.cross(normal / np.linalg.norm(normal), major)
    start, end = (_angle(point - centre, major, minor) for point in (ends[0], ends[-1]))
    if backwards:
        start, end = end, start
    sweep = (end - start) % FULL_TURN
    # one vertex, or none, for a whole turn
    if sweep < SAME_ANGLE or FULL_TURN - sweep < SAME_ANGLE:
        sweep = FULL_TURN
    check_vertices(int(sweep / step))
    return round_shape(centre, major, minor, (start, sweep), step)


def _angle(away: Points, major: Points, minor: Points) -> float:
    return float(np.arctan2(away @ minor / (minor @ minor), away @ major / (major @ major)))


def _placing(transforms: Sequence[Any]) -> Points | None:
    """Rows of the matrix, the shift and the scale of the body's own placing; None where it has none."""
    if not transforms:
        return None
    numbers = np.array(_numbers(transforms[0])[:13])
    matrix = np.zeros((4, 3))
    matrix[:3] = numbers[:9].reshape(3, 3) * numbers[12]
    matrix[3] = numbers[9:12]
    return matrix


def _moved(shape: Shape, placing: Points | None) -> Shape:
    if placing is None or np.array_equal(placing, np.eye(4, 3)):
        return shape
    points = shape.points @ placing[:3] + placing[3]
    if shape.centre is None or shape.radius is None:
        return Shape(shape.kind, points, closed=shape.closed)
    x, y, z = (np.array(shape.centre) @ placing[:3] + placing[3]).tolist()
    radius = float(np.hypot(*(points[0] - (x, y, z))[:2]))
    return Shape(shape.kind, points, (x, y, z), radius, shape.closed)
