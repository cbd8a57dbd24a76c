"""Unfold the blocks of a drawing: every visible record with where it goes and the layer it shows on.

INSERT places a block by base point, scale, rotation and extrusion, in rows and columns (MINSERT), blocks within blocks.
The number of objects is worked out before anything is unfolded, so that a bomb costs nothing.
"""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from ....model.errors import InputError
from ....model.findings import Finding
from .budget import MAX_DEPTH, check_entities
from .clip import Clip, dictionary_of
from .document import Document, Layer, key
from .shapes import extrusion
from .tags import Record

Matrix = NDArray[np.float64]
SAME_SCALE = 1e-9  # relative: a circle scaled so stays a circle
BY_LAYER = ("", "bylayer", "byblock")


@dataclass(frozen=True, eq=False)
class Placed:
    """A record to draw: matrix (4, 4) from its own coordinates to the drawing's, None when they are the same; clips:
    boundaries outside of which it is hidden."""

    record: Record
    layer: Layer
    matrix: Matrix | None = None
    clips: tuple[Clip, ...] = ()


@dataclass
class Unfolder:
    """Walks the entities of a document; afterwards `hidden` and `findings` tell what was left out."""

    document: Document
    hidden: Counter[str] = field(default_factory=Counter)
    lost: Counter[tuple[str, str]] = field(default_factory=Counter)
    sizes: dict[str, int] = field(default_factory=dict)

    def unfold(self, entities: Iterable[Record]) -> Iterator[Placed]:
        """Every visible record of entities and of the blocks they insert.

        Raises InputError for a block within itself, blocks nested too deep, too many objects.
        """
        entities = tuple(entities)
        check_entities(self._size(entities, ()))
        yield from self._walk(entities, None, None)

    # -- counting ahead ------------------------------------------------------------------------------

    def _size(self, entities: Iterable[Record], path: tuple[str, ...]) -> int:
        return sum(self._insert_size(e, path) if e.kind == "INSERT" else 1 for e in entities)

    def _insert_size(self, insert: Record, path: tuple[str, ...]) -> int:
        columns, rows = _grid(insert)
        return columns * rows * max(self._block_size(self._name(insert), path), 1) + len(
            insert.children
        )

    def _block_size(self, name: str, path: tuple[str, ...]) -> int:
        # checked while counting, before anything is unfolded without end
        if key(name) in path:
            raise InputError(
                f'block "{name}" contains itself. Redefine or explode it in the CAD program and export.'
            )
        if len(path) >= MAX_DEPTH:
            raise InputError(
                f'block "{name}" lies more than {MAX_DEPTH} blocks deep. Explode the blocks and export.'
            )
        block = self.document.block(name)
        if block and key(name) not in self.sizes:
            self.sizes[key(name)] = self._size(block.entities, (*path, key(name)))
        return self.sizes.get(key(name), 0)

    # -- unfolding -----------------------------------------------------------------------------------

    def _walk(
        self, entities: Iterable[Record], matrix: Matrix | None, owner: Layer | None
    ) -> Iterator[Placed]:
        for record in entities:
            layer = self._layer(record, owner)
            # an INSERT on a layer that is off still shows its content, on a frozen one it does not
            if record.kind == "INSERT":
                if layer.frozen or _invisible(record):
                    self.hidden[layer.name] += 1
                else:
                    yield from self._insert(record, layer, matrix)
            elif layer.frozen or layer.off or _invisible(record):
                self.hidden[layer.name] += 1
            else:
                yield Placed(record, layer, matrix)

    def _insert(self, insert: Record, layer: Layer, matrix: Matrix | None) -> Iterator[Placed]:
        # attributes are stored placed already, so the block's own matrix is not applied
        yield from self._walk(insert.children, matrix, layer)
        block = self.document.block(self._name(insert))
        if block is None or block.xref:
            self.lost["dxf-xref" if block else "dxf-block-missing", self._name(insert)] += 1
            return
        # a block squashed to a line would show its tubes in one
        if 0.0 in (insert.number(41, 1.0), insert.number(42, 1.0)):
            self.lost["dxf-block-scale-zero", block.name] += 1
            return
        clip = self.document.clips.get(dictionary_of(insert)) if self.document.clips else None
        for own in _matrices(insert, block.base):
            whole = own if matrix is None else matrix @ own
            for placed in self._walk(block.entities, whole, layer):
                if clip is None:
                    yield placed
                else:
                    yield replace(placed, clips=(*placed.clips, clip.placed(whole)))

    def _layer(self, record: Record, owner: Layer | None) -> Layer:
        """Objects of a block on layer 0 show on the layer of the INSERT."""
        name = self.document.name(record.first.get(8, b"0"))
        if owner and name == "0":
            return owner
        return self.document.layer(name)

    def _name(self, insert: Record) -> str:
        return self.document.name(insert.first.get(2, b""))

    # -- what was left out ---------------------------------------------------------------------------

    def findings(self) -> Iterator[Finding]:
        if self.hidden:
            layers = ", ".join(sorted(self.hidden))
            count = sum(self.hidden.values())
            text = f"{count} objects are hidden (layer off or frozen, or object invisible) and were left out: {layers}."
            yield Finding("dxf-hidden", "info", text, f"layers {layers}")
        for (code, name), count in sorted(self.lost.items()):
            yield Finding(
                code, "warning", LOST[code].format(name=name, count=count), f"block {name}"
            )


LOST = {
    "dxf-xref": 'block "{name}" lives in another file, its objects are missing here. Bind it, then export again.',
    "dxf-block-missing": 'block "{name}" is inserted {count} times but not defined: its objects are missing here.',
    "dxf-block-scale-zero": 'block "{name}" is inserted with scale 0 and draws nothing.',
}


def _invisible(record: Record) -> bool:
    """Group 60 on any object; an attribute also by its own flag."""
    return record.integer(60) == 1 or (record.kind == "ATTRIB" and bool(record.integer(70) & 1))


def linetype(document: Document, record: Record, layer: Layer) -> str:
    """The record's line type, or its layer's."""
    own = document.name(record.first.get(6, b""))
    if own.casefold() in BY_LAYER:
        return layer.linetype
    return own


def _grid(insert: Record) -> tuple[int, int]:
    return max(insert.integer(70, 1), 1), max(insert.integer(71, 1), 1)


def _matrices(insert: Record, base: tuple[float, float, float]) -> Iterator[Matrix]:
    """One matrix per column and row: extrusion . insertion point . rotation . offset . scale . minus base point."""
    columns, rows = _grid(insert)
    frame = _axes(insert) @ _shift(*insert.point(10)) @ _rotation(insert.number(50, 0.0))
    scaled = np.diag([insert.number(41, 1.0), insert.number(42, 1.0), insert.number(43, 1.0), 1.0])
    inner = scaled @ _shift(*(-b for b in base))
    dx = insert.number(44, 0.0)
    dy = insert.number(45, 0.0)
    for row in range(rows):
        for column in range(columns):
            yield frame @ _shift(column * dx, row * dy, 0.0) @ inner


def _shift(x: float, y: float, z: float) -> Matrix:
    matrix = np.eye(4)
    matrix[:3, 3] = x, y, z
    return matrix


def _rotation(degrees: float) -> Matrix:
    """About z; multiples of 90 degrees are exact."""
    matrix = np.eye(4)
    quarter, rest = divmod(degrees % 360.0, 90.0)
    # cos 90 degrees is 6e-17 in floats, enough to tilt a level line
    if rest == 0.0:
        c = 1.0
        s = 0.0
    else:
        c = float(np.cos(np.radians(rest)))
        s = float(np.sin(np.radians(rest)))
    for _ in range(int(quarter)):
        c, s = -s, c
    matrix[:2, :2] = [[c, -s], [s, c]]
    return matrix


def _axes(insert: Record) -> Matrix:
    normal = extrusion(insert)
    matrix = np.eye(4)
    if normal != (0.0, 0.0, 1.0):
        from ezdxf.math import OCS

        ocs = OCS(normal)
        matrix[:3, :3] = np.column_stack([tuple(axis) for axis in (ocs.ux, ocs.uy, ocs.uz)])
    return matrix


def scale_of(matrix: Matrix) -> float | None:
    """The scale in the XY plane if the matrix keeps circles round there (mirroring allowed), else None."""
    a = matrix[:2, 0]
    b = matrix[:2, 1]
    size = float(np.hypot(*a))
    other = float(np.hypot(*b))
    if (
        size == 0.0
        or abs(size - other) > SAME_SCALE * size
        or abs(float(a @ b)) > SAME_SCALE * size * size
    ):
        return None
    return size
