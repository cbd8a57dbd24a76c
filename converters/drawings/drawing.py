"""A drawing reduced to plain curves: what a DXF reader hands to the recogniser, whatever the file was.

Vocabulary: a CURVE is one piece of drawn line work in drawing units; a NOTE is a text; a DIMENSION is
a dimension entity with its measured length and printed text. Nothing here knows about bicycles or DXF.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ...model.findings import Finding

Kind = Literal["line", "arc", "circle", "polyline", "spline", "ellipse"]

WHITE = 7  # number of the colour of what states none: black on white paper


# compared by identity: equality of arrays is an array, and two equal curves are still two
@dataclass(frozen=True, eq=False)
class Curve:
    """One drawn curve.

    points : (k, 2) vertices in drawing units; curved pieces are flattened finely enough that the chord error
        is negligible (see the reader's constant). A line has 2 points; a closed curve repeats its first point.
    centre, radius : set for arcs and circles (exact values from the file), None otherwise.
    layer, linetype, handle, entity : where it came from; `entity` is the file's own type name; `handle` is "#12" for
        the twelfth drawn object of a file that gives none.
    construction : endless helper lines (XLINE, RAY), cut to the drawing's extent.
    fit : (k, 2) points a spline was laid through, where the file states them.
    colour : the colour's number in the file (1 red, 7 black or white), its own or its layer's.
    plotted : False on a layer that is on the screen only, or that no viewport of the sheet shows.
    """

    kind: Kind
    points: NDArray[np.float64]
    layer: str = "0"
    linetype: str = ""
    handle: str = ""
    entity: str = ""
    centre: tuple[float, float] | None = None
    radius: float | None = None
    closed: bool = False
    construction: bool = False
    fit: NDArray[np.float64] | None = None
    colour: int = WHITE
    plotted: bool = True


@dataclass(frozen=True)
class Note:
    """A text: its words, insertion point and height in drawing units."""

    text: str
    at: tuple[float, float]
    height: float = 0.0
    layer: str = "0"
    handle: str = ""


@dataclass(frozen=True)
class DimensionNote:
    """A dimension entity. `measured`: between its definition points, drawing units (degrees when angular);
    `text`: the typed override ('' or '<>' when none); `factor`: DIMLFAC, the factor the program prints with."""

    kind: Literal["linear", "aligned", "angular", "radius", "diameter", "ordinate"]
    measured: float
    text: str = ""
    factor: float = 1.0
    points: tuple[tuple[float, float], ...] = ()
    layer: str = "0"
    handle: str = ""


@dataclass(frozen=True, eq=False)
class Drawing:
    """Everything read from one file, still in drawing units.

    header_unit : mm per drawing unit that the header claims, None when it claims nothing; a hint only.
    others : what else the file can be taken for, each made when it is asked for: with the outlines of filled areas,
        with lines that are not plotted.
    """

    curves: tuple[Curve, ...]
    notes: tuple[Note, ...] = ()
    dimensions: tuple[DimensionNote, ...] = ()
    # many programs write a default unit whatever was drawn, so it is never taken on its own word
    header_unit: float | None = None
    source: str = ""
    sha256: str = ""
    version: str = ""
    findings: tuple[Finding, ...] = ()
    # made on demand: most drawings are read without them, and outlines cost time
    others: "tuple[Callable[[], Drawing], ...]" = ()
