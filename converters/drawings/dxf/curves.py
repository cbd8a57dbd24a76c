"""Placed records -> plain curves, notes and dimensions; what draws no line is counted, what cannot be read is named."""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from ....model.errors import InputError
from ....model.findings import Finding, Severity
from ..drawing import Curve, DimensionNote, Kind, Note
from .areas import AREA_BUDGET, COVER, FILLED, cover_of, outlines_of, shown_beside
from .budget import ARC_STEP, COARSE_ARC_STEP, MANY_ROUND, Budget
from .clip import shown_runs
from .document import Document
from .notes import NOTES, dimension_of, moved, note_of
from .place import Placed, linetype, scale_of
from .plane import Spatial, cut_endless
from .regions import REGION, edges_of, handle_of
from .shapes import MAKERS, EmptyShape, Shape, is_mesh, multi_line, outlines, shape_of
from .tags import Record

ROUND = ("CIRCLE", "ARC", "ELLIPSE")
# Objects that are no line work: fillings, symbols, annotation, pictures, windows of a layout.
NO_LINES = frozenset(
    (
        "POINT",
        "SHAPE",
        "LEADER",
        "MULTILEADER",
        "MLEADER",
        "TOLERANCE",
        "ATTDEF",
        "ACAD_TABLE",
        "ARC_DIMENSION",
        "LARGE_RADIAL_DIMENSION",
        "IMAGE",
        "VIEWPORT",
        "OLEFRAME",
        "OLE2FRAME",
        "PDFUNDERLAY",
        "DWFUNDERLAY",
        "DGNUNDERLAY",
        "LIGHT",
        "SUN",
        "CAMERA",
        "SECTION",
        "SECTIONOBJECT",
        "GEOPOSITIONMARKER",
        "SEQEND",
    )
)


@dataclass
class Collector:
    """Gathers what the placed records of one drawing amount to."""

    document: Document
    step: float = ARC_STEP
    curves: list[Curve] = field(default_factory=list)
    endless: list[tuple[Curve, str]] = field(default_factory=list)
    filled: list[Placed] = field(default_factory=list)
    covers: list[tuple[int, NDArray[np.float64]]] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)
    dimensions: list[DimensionNote] = field(default_factory=list)
    spatial: Spatial = field(default_factory=Spatial)
    left_out: dict[str, Counter[str]] = field(
        default_factory=lambda: {name: Counter() for name in LEFT_OUT}
    )
    fitted: int = 0
    clipped: int = 0
    miscounted: list[str] = field(default_factory=list)
    budget: Budget = field(default_factory=Budget)
    shapes: dict[int, Shape] = field(default_factory=dict)

    def take(self, placed: Iterable[Placed]) -> None:
        """Read everything. Raises InputError for damage, for numbers out of range and when a budget is spent."""
        items = list(placed)
        # thousands of round objects would spend the whole vertex budget at the fine step
        if sum(item.record.kind in ROUND for item in items) > MANY_ROUND:
            self.step = COARSE_ARC_STEP
        for item in items:
            self._take_one(item)
        # before the covers: cutting with numbers out of range would give nonsense, not an error
        self.spatial.check_range()
        self._cover()

    def _take_one(self, item: Placed) -> None:
        kind = item.record.kind
        # an MLINE is several lines, while a maker gives one shape
        if kind == "MLINE" or (kind in MAKERS and not is_mesh(item.record)):
            self._take_curve(item)
        elif kind in NOTES or kind == "DIMENSION":
            self._take_note(item)
        elif kind == REGION:
            self._take_region(item)
        elif kind in FILLED:
            self.filled.append(item)
        elif kind == COVER:
            self._take_cover(item)
        else:
            self.left_out["dxf-no-line-work" if kind in NO_LINES else "dxf-explode-first"][
                kind
            ] += 1

    def _take_region(self, item: Placed) -> None:
        """A region shows as its edges; one that cannot be read is named, as every solid is."""
        body = self.document.bodies.get(handle_of(item.record))
        try:
            shapes = edges_of(item.record, body, self.step)
        except InputError:
            self.left_out["dxf-explode-first"][REGION] += 1
            return
        for shape in shapes:
            self._take_shape(item, shape)

    def _take_cover(self, item: Placed) -> None:
        """What it hides is what was drawn before it."""
        try:
            corners = moved(cover_of(item.record), item.matrix)[:, :2]
        except InputError:
            self.left_out["dxf-no-line-work"][COVER] += 1
            return
        if len(corners) >= 3:
            # the count marks the drawing order: later curves lie on top of the area and stay
            self.covers.append((len(self.curves), corners))

    def _cover(self) -> None:
        """Cut away what areas drawn later hide."""
        if not self.covers:
            return
        kept: list[Curve] = []
        # each curve once, by all areas above it: cut area by area, the counts of the others would no longer fit
        for index, curve in enumerate(self.curves):
            above = [corners for count, corners in self.covers if count > index]
            runs = shown_beside(curve.points, above)
            # by its points, not by how many: a line cut at one end has two again
            whole = len(runs) == 1 and np.array_equal(runs[0], curve.points)
            # a curve missed by the areas stays the exact circle or arc it is
            self.clipped += not whole
            if whole:
                kept.append(curve)
            else:
                kept += [_part(curve, run) for run in runs]
        self.curves[:] = kept

    def outlines(self) -> list[Curve]:
        """The outlines of filled areas as closed curves; made only when asked for."""
        found = []
        for item in self.filled[:AREA_BUDGET]:
            try:
                loops = outlines_of(item.record)
            # a damaged filling is annotation here, no reason to refuse the drawing
            except InputError:
                continue
            for loop in loops:
                points = moved(loop, item.matrix)
                self.budget.spend(len(points))
                found.append(self._curve(item, Shape("polyline", loop, closed=True), points))
        return found

    def _take_curve(self, item: Placed) -> None:
        try:
            shapes = self._shapes(item)
        except EmptyShape:
            self.left_out["dxf-draws-nothing"][item.record.kind] += 1
            return
        for shape in shapes:
            self._take_shape(item, shape)
        # without control points (group 10) the curve between fit points is only interpolated
        self.fitted += item.record.kind == "SPLINE" and 10 not in item.record.first
        self.miscounted += [item.record.place()] * _miscounted(item.record)

    def _take_shape(self, item: Placed, shape: Shape) -> None:
        points = moved(shape.points, item.matrix)
        # an endless line has no extent yet that could be clipped
        if item.clips and not shape.endless:
            runs = shown_runs(points, item.clips)
            # by its points, not by how many: a line cut at one end has two again
            if len(runs) != 1 or not np.array_equal(runs[0], points):
                self.clipped += 1
                for run in runs:
                    self._keep(item, _clipped(shape, run), run)
                return
        self._keep(item, shape, points)

    def _keep(self, item: Placed, shape: Shape, points: NDArray[np.float64]) -> None:
        self.budget.spend(len(points))
        # after clipping: what is hidden may be tilted or far away without harm
        self.spatial.add(points, item.record, level=not shape.endless)
        curve = self._curve(item, shape, points)
        if shape.endless:
            self.endless.append((curve, shape.endless))
            return
        self.curves.append(curve)

    def _shapes(self, item: Placed) -> list[Shape]:
        if item.record.kind == "MLINE":
            return multi_line(item.record)
        return outlines(item.record, self._shape(item))

    def _shape(self, item: Placed) -> Shape:
        """The record's own shape; made once for a block however often it is inserted."""
        # outside blocks each record comes once; keeping its shape would only cost memory
        if item.matrix is None:
            return shape_of(item.record, self.step)
        # the document keeps every record alive, so an id is never used twice
        known = self.shapes.get(id(item.record))
        if known is None:
            known = self.shapes[id(item.record)] = shape_of(item.record, self.step)
        return known

    def _curve(self, item: Placed, shape: Shape, points: NDArray[np.float64]) -> Curve:
        centre = shape.centre
        radius = shape.radius
        kind = shape.kind
        if item.matrix is not None and centre is not None and radius is not None:
            scale = scale_of(item.matrix)
            x, y, z = moved(np.array([centre]), item.matrix)[0]
            centre = (float(x), float(y), float(z))
            radius = radius * (scale or 0.0)
            # two scales make a circle an ellipse, which has no one radius for a wheel
            if scale is None:
                kind = "ellipse"
                centre = None
                radius = None
        record = item.record
        return Curve(
            kind,
            np.ascontiguousarray(points[:, :2]),
            item.layer.name,
            linetype(self.document, record, item.layer),
            # group 5 is the handle that --pick takes
            record.first.get(5, b"").decode("ascii", "replace").strip() or self._number(),
            record.kind,
            centre[:2] if centre else None,
            radius,
            shape.closed,
            bool(shape.endless),
            None
            if shape.fit is None
            else np.ascontiguousarray(moved(shape.fit, item.matrix)[:, :2]),
            _colour(record, item),
            item.layer.plotted,
        )

    def _number(self) -> str:
        """What an object is called in a file without handles (R12 and older): its number among those drawn."""
        return f"#{len(self.curves) + len(self.endless) + 1}"

    def _take_note(self, item: Placed) -> None:
        """A damaged text does no harm to the geometry: it is left out with a finding."""
        try:
            if item.record.kind == "DIMENSION":
                self.dimensions.append(dimension_of(self.document, item))
            else:
                self.notes.append(note_of(self.document, item))
        except InputError:
            self.left_out["dxf-damaged-note"][item.record.kind] += 1

    # -- afterwards ----------------------------------------------------------------------------------

    def all_curves(self) -> tuple[Curve, ...]:
        """The curves, with construction lines cut to the extent of the others."""
        return (*self.curves, *cut_endless(self.endless, self.curves))

    def findings(self) -> Iterator[Finding]:
        """What was left out or is doubtful. Raises InputError when the drawing is not in the XY plane."""
        for code, (severity, text) in LEFT_OUT.items():
            if self.left_out[code]:
                kinds = ", ".join(
                    f"{count} {kind}" for kind, count in sorted(self.left_out[code].items())
                )
                yield Finding(code, severity, text.format(kinds=kinds))
        if self.clipped:
            text = (
                f"{self.clipped} objects are hidden in whole or part by a block's clipping or a covering area and "
                "were left out as far."
            )
            yield Finding("dxf-clipped", "info", text)
        if self.filled:
            found = Counter(item.record.kind for item in self.filled)
            named = ", ".join(f"{count} {kind}" for kind, count in sorted(found.items()))
            text = f"{named} left out: filled areas count only where lines alone make no bicycle."
            yield Finding("dxf-filled", "info", text)
        if self.fitted:
            text = f"{self.fitted} splines are given by fit points only; between the points they are interpolated."
            yield Finding("dxf-fit-points", "info", text)
        if self.miscounted:
            text = f"{len(self.miscounted)} polylines hold more or fewer vertices than they state, {self.miscounted[0]}"
            yield Finding(
                "dxf-vertex-count", "warning", f"{text} first. Vertices may be lost: export again."
            )
        yield from self.spatial.check_heights()


def _clipped(shape: Shape, run: NDArray[np.float64]) -> Shape:
    if shape.kind in ("circle", "arc"):
        return replace(shape, kind="arc", points=run, closed=False)
    return Shape("polyline" if len(run) > 2 else "line", run)


def _part(curve: Curve, run: NDArray[np.float64]) -> Curve:
    """A stretch of a curve; of a circle or arc it stays an arc."""
    kind: Kind = "arc" if curve.kind in ("circle", "arc") else curve.kind
    if kind not in ("arc", "line"):
        kind = "polyline"
    return replace(curve, kind=kind, points=run, closed=False, fit=None)


BY_LAYER_COLOUR = 256  # value of group 62 for "as its layer"


def _colour(record: Record, item: Placed) -> int:
    """The object's own colour, or that of the layer it shows on."""
    # 0 means by block: the layer stands in for it, as the block reference is no longer at hand
    own = record.integer(62, BY_LAYER_COLOUR)
    return own if 0 < own < BY_LAYER_COLOUR else item.layer.colour


def _miscounted(record: Record) -> bool:
    """A LWPOLYLINE states on group 90 how many vertices follow."""
    if record.kind != "LWPOLYLINE" or 90 not in record.first:
        return False
    return record.integer(90) != record.tags.codes[record.start : record.stop].count(10)


LEFT_OUT: dict[str, tuple[Severity, str]] = {
    "dxf-explode-first": (
        "warning",
        "{kinds} cannot be read: 3-D, multi-line or program-owned (proxy) objects. "
        "Explode them in the CAD program and export again; line work inside them is missing here.",
    ),
    "dxf-draws-nothing": (
        "info",
        "{kinds} left out: radius 0, no length or fewer than two points.",
    ),
    "dxf-damaged-note": ("warning", "{kinds} left out: their numbers cannot be read."),
    "dxf-no-line-work": (
        "info",
        "{kinds} left out: fillings, points and annotation are no line work.",
    ),
}
