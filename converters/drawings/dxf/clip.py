"""Clipped block references (XCLIP): what a boundary hides of a block is not drawn, so it is not read.

The boundary is a SPATIAL_FILTER object that the INSERT holds in its extension dictionary: a polygon (two points: a
rectangle), the inverse of the block's placement when it was clipped, and the way from there to the polygon's plane.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ....model.errors import InputError
from .tags import Record

Matrix = NDArray[np.float64]
Points = NDArray[np.float64]
MATRIX = 12  # numbers of a matrix of three rows
FLATTENED = 1e-12  # determinant of a block flattened to nothing: no way back to its own coordinates
DEPTH = 4  # dictionaries between an INSERT and its filter; there are two


@dataclass(frozen=True, eq=False)
class Clip:
    """polygon (n, 2); matrix (4, 4) from the block's own coordinates to the polygon's plane."""

    polygon: Points
    matrix: Matrix

    def placed(self, block: Matrix) -> "Clip":
        """The same from the drawing's coordinates, for a block placed by `block`."""
        return Clip(self.polygon, self.matrix @ np.linalg.inv(block))

    def inside(self, points: Points) -> NDArray[np.bool_]:
        """Whether points (k, 3) lie within the polygon (ray casting)."""
        return self.holds(self.flat(points))

    def flat(self, points: Points) -> Points:
        """Points (k, 3) of the drawing in the polygon's plane, (k, 2)."""
        ones = np.ones((len(points), 1))
        plane: Points = (np.hstack((points, ones)) @ self.matrix.T)[:, :2]
        return plane

    def holds(self, flat: Points) -> NDArray[np.bool_]:
        """Whether points (k, 2) of the plane lie within the polygon (ray casting)."""
        result = np.zeros(len(flat), bool)
        for (x0, y0), (x1, y1) in zip(self.polygon, np.roll(self.polygon, -1, axis=0), strict=True):
            # half open, so that a corner at a point's height counts once and not twice
            across = (flat[:, 1] < y0) != (flat[:, 1] < y1)
            if y0 != y1:
                at = x0 + (flat[:, 1] - y0) / (y1 - y0) * (x1 - x0)
                result ^= across & (flat[:, 0] < at)
        return result


def clips_by_handle(objects: Iterable[Record]) -> dict[str, Clip]:
    """Every readable boundary by its own handle and by those of the dictionaries that lead to it."""
    held: dict[str, list[str]] = {}
    found: dict[str, Clip] = {}
    for record in objects:
        handle = _text(record.first.get(5, b""))
        if record.kind == "DICTIONARY":
            held[handle] = [_text(v) for code, v in record.groups() if code in (350, 360)]
        elif record.kind == "SPATIAL_FILTER":
            # an unreadable boundary hides nothing: a line too many is seen, a lost one is not
            clip = _clip(record)
            if clip is not None:
                found[handle] = clip
    # a dictionary may stand before what it leads to, so handles are followed in rounds
    for _ in range(DEPTH):
        for handle, entries in held.items():
            clips = [found[e] for e in entries if e in found]
            if clips:
                found.setdefault(handle, clips[0])
    return found


def dictionary_of(record: Record) -> str:
    """Handle of an object's extension dictionary, '' when it has none."""
    inside = False
    for code, value in record.groups():
        # group 102 opens and closes an application group; a 360 elsewhere is no such dictionary
        if code == 102:
            inside = value.strip() == b"{ACAD_XDICTIONARY"
        elif code == 360 and inside:
            return _text(value)
    return ""


def _text(value: bytes) -> str:
    return value.decode("ascii", "replace").strip().upper()


def _clip(record: Record) -> Clip | None:
    try:
        polygon = np.column_stack((record.all(10), record.all(20)))
        # from the end: a front clip distance on the same group code may come first
        numbers = record.all(40)[-2 * MATRIX :]
    except (InputError, ValueError):
        return None
    if len(numbers) != 2 * MATRIX or len(polygon) < 2:
        return None
    # two points are opposite corners of a rectangle
    if len(polygon) == 2:
        (x0, y0), (x1, y1) = polygon
        polygon = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
    inverse, onto = (_matrix(numbers[k : k + MATRIX]) for k in (0, MATRIX))
    if abs(np.linalg.det(inverse)) < FLATTENED:
        return None
    return Clip(polygon, onto @ np.linalg.inv(inverse))


def _matrix(numbers: list[float]) -> Matrix:
    """Twelve numbers, three rows of four."""
    matrix = np.eye(4)
    matrix[:3] = np.reshape(numbers, (3, 4))
    return matrix


def shown_runs(points: Points, clips: Iterable[Clip]) -> list[Points]:
    """The stretches of a chain (k, 3) that no clip hides; the chain itself where nothing is hidden."""
    runs = [points]
    for clip in clips:
        runs = [part for run in runs for part in _cut(run, clip)]
    return runs


def _cut(points: Points, clip: Clip) -> list[Points]:
    flat = clip.flat(points)
    if not _meet(flat, clip.polygon):
        return []
    runs: list[list[NDArray[np.float64]]] = []
    for k in range(len(points) - 1):
        step = points[k + 1] - points[k]
        for low, high in _spans(flat[k], flat[k + 1], clip):
            # the chain's own points exactly as they are, so that an unhidden chain comes back unchanged
            a = points[k] if low == 0.0 else points[k] + low * step
            b = points[k + 1] if high == 1.0 else points[k] + high * step
            # the stretch goes on where the last one ended
            if runs and low == 0.0 and (runs[-1][-1] == a).all():
                runs[-1].append(b)
            else:
                runs.append([a, b])
    return [np.array(run) for run in runs]


def _meet(flat: Points, polygon: Points) -> bool:
    """Whether the extents of a chain and of the boundary have anything in common."""
    low = np.maximum(flat.min(axis=0), polygon.min(axis=0))
    high = np.minimum(flat.max(axis=0), polygon.max(axis=0))
    return bool((low <= high).all())


def _spans(a: Points, b: Points, clip: Clip) -> list[tuple[float, float]]:
    """The shares (from, to) of the segment a-b, (2,) each, that lie within the boundary, in order."""
    start = clip.polygon
    edge = np.roll(start, -1, axis=0) - start
    step = b - a
    away = start - a
    # a + t step = start + s edge
    across = step[0] * edge[:, 1] - step[1] * edge[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        t = (away[:, 0] * edge[:, 1] - away[:, 1] * edge[:, 0]) / across
        s = (away[:, 0] * step[1] - away[:, 1] * step[0]) / across
    # an edge that runs along the segment gives no number: its neighbours cross instead
    hits = t[np.isfinite(t) & np.isfinite(s) & (s >= 0) & (s <= 1) & (t > 0) & (t < 1)]
    cuts = np.unique(np.concatenate(([0.0], hits, [1.0])))
    middles = (cuts[:-1] + cuts[1:]) / 2
    inside = clip.holds(a + middles[:, None] * step)
    spans: list[tuple[float, float]] = []
    for low, high, shown in zip(cuts[:-1], cuts[1:], inside, strict=True):
        if not shown:
            continue
        # through a corner of the boundary the line goes on
        if spans and spans[-1][1] == low:
            spans[-1] = (spans[-1][0], float(high))
        else:
            spans.append((float(low), float(high)))
    return spans
