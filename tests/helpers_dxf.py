"""A small writer of plain DXF text for tests, tag by tag, so that a file can be right or wrong on purpose.

    dxf = DxfText("R2000", insunits=4)
    dxf.layer("FRAME")
    dxf.line((0, 0), (100, 50), layer="FRAME")
    with_block = dxf.block("AXLE", base=(0, 0))      # a block has the same drawing methods
    with_block.circle((0, 0), 5)
    dxf.insert("AXLE", (100, 50), scale=(2, 2), rotation=30)
    dxf.write(tmp_path / "frame.dxf")

Every drawing method takes the common keywords of `_common`: layer, handle, paper, extrusion, linetype, colour,
invisible. Numbers are written with repr(), so they come back bit for bit.
"""

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

Point = Sequence[float]
ACADVER = {
    "R12": "AC1009",
    "R13": "AC1012",
    "R14": "AC1014",
    "R2000": "AC1015",
    "R2004": "AC1018",
    "R2007": "AC1021",
    "R2010": "AC1024",
    "R2013": "AC1027",
    "R2018": "AC1032",
}
MARKERS = {
    "LINE": ["AcDbLine"],
    "CIRCLE": ["AcDbCircle"],
    "ARC": ["AcDbCircle"],
    "POINT": ["AcDbPoint"],
    "LWPOLYLINE": ["AcDbPolyline"],
    "POLYLINE": ["AcDb2dPolyline"],
    "SPLINE": ["AcDbSpline"],
    "VERTEX": ["AcDbVertex", "AcDb2dVertex"],
    "ELLIPSE": ["AcDbEllipse"],
    "TEXT": ["AcDbText"],
    "INSERT": ["AcDbBlockReference"],
    "MTEXT": ["AcDbMText"],
    "ATTRIB": ["AcDbText"],
    "DIMENSION": ["AcDbDimension"],
    "XLINE": ["AcDbXline"],
    "RAY": ["AcDbRay"],
}

# In the order of the type number on group 70.
DIMENSION_KINDS = {
    "linear": "AcDbAlignedDimension",
    "aligned": "AcDbAlignedDimension",
    "angular": "AcDb2LineAngularDimension",
    "diameter": "AcDbDiametricDimension",
    "radius": "AcDbRadialDimension",
    "angular3": "AcDb3PointAngularDimension",
    "ordinate": "AcDbOrdinateDimension",
}


def tag(code: int, value: Any) -> str:
    """One group: code and value, two lines."""
    return f"{code:3d}\n{repr(float(value)) if isinstance(value, float) else value}\n"


def point(code: int, at: Point, z: bool = True) -> str:
    """A point on groups code, code+10 (and code+20 when z)."""
    x, y, *rest = at
    text = tag(code, float(x)) + tag(code + 10, float(y))
    return text + tag(code + 20, float(rest[0] if rest else 0.0)) if z else text


class Drawer:
    """Entities as DXF text; the drawing itself and each block are one."""

    def __init__(self, markers: bool) -> None:
        self.markers = markers
        self.entities: list[str] = []

    # -- the common part -------------------------------------------------------------------------

    def _start(self, kind: str, common: dict[str, Any]) -> str:
        head = tag(0, kind)
        if common.get("handle"):
            head += tag(5, common["handle"])
        if self.markers:
            head += tag(100, "AcDbEntity")
        head += tag(67, 1) if common.get("paper") else ""
        head += tag(8, common.get("layer", "0"))
        head += tag(6, common["linetype"]) if common.get("linetype") else ""
        head += tag(62, common["colour"]) if "colour" in common else ""
        head += tag(60, 1) if common.get("invisible") else ""
        return head + self._mark(kind)

    def _mark(self, kind: str) -> str:
        return "".join(tag(100, m) for m in MARKERS.get(kind, [])) if self.markers else ""

    def _add(self, kind: str, body: str, common: dict[str, Any]) -> None:
        extrusion = common.get("extrusion")
        tail = point(210, extrusion) if extrusion else ""
        self.entities.append(self._start(kind, common) + body + tail)

    def raw(self, text: str) -> None:
        """Any tags as they stand."""
        self.entities.append(text)

    # -- entities -------------------------------------------------------------------------------

    def line(self, p: Point, q: Point, **common: Any) -> None:
        self._add("LINE", point(10, p) + point(11, q), common)

    def point(self, p: Point, **common: Any) -> None:
        self._add("POINT", point(10, p), common)

    def circle(self, centre: Point, radius: float, **common: Any) -> None:
        self._add("CIRCLE", point(10, centre) + tag(40, float(radius)), common)

    def arc(self, centre: Point, radius: float, start: float, end: float, **common: Any) -> None:
        """Counter-clockwise from start to end, degrees."""
        body = point(10, centre) + tag(40, float(radius))
        body += tag(100, "AcDbArc") if self.markers else ""
        self._add("ARC", body + tag(50, float(start)) + tag(51, float(end)), common)

    def ellipse(
        self,
        centre: Point,
        major: Point,
        ratio: float,
        start: float = 0.0,
        end: float = 6.283185307179586,
        **common: Any,
    ) -> None:
        body = point(10, centre) + point(11, major) + tag(40, float(ratio))
        self._add("ELLIPSE", body + tag(41, float(start)) + tag(42, float(end)), common)

    def lwpolyline(
        self, vertices: Iterable[Point], closed: bool = False, elevation: float = 0.0, **common: Any
    ) -> None:
        """Vertices (x, y) or (x, y, bulge)."""
        vertices = list(vertices)
        body = (
            tag(90, len(vertices))
            + tag(70, int(closed))
            + (tag(38, float(elevation)) if elevation else "")
        )
        for x, y, *bulge in vertices:
            body += (
                tag(10, float(x)) + tag(20, float(y)) + (tag(42, float(bulge[0])) if bulge else "")
            )
        self._add("LWPOLYLINE", body, common)

    def polyline(
        self,
        vertices: Iterable[Point],
        closed: bool = False,
        seqend: bool = True,
        flags: int = 0,
        z: float = 0.0,
        **common: Any,
    ) -> None:
        """R12 polyline of (x, y) or (x, y, bulge); flags=8 makes a 3-D polyline of (x, y, z)."""
        self._add(
            "POLYLINE", tag(66, 1) + point(10, (0, 0, z)) + tag(70, int(closed) | flags), common
        )
        for x, y, *rest in vertices:
            height = rest[0] if flags & 8 and rest else z
            body = point(10, (x, y, height)) + (
                tag(42, float(rest[0])) if rest and not flags & 8 else ""
            )
            self._add(
                "VERTEX",
                body + (tag(70, 32) if flags & 8 else ""),
                {"layer": common.get("layer", "0")},
            )
        if seqend:
            self._add("SEQEND", "", {"layer": common.get("layer", "0")})

    def spline(
        self,
        control: Sequence[Point] = (),
        degree: int = 3,
        knots: Sequence[float] | None = None,
        weights: Sequence[float] = (),
        fit: Sequence[Point] = (),
        flags: int = 8,
        **common: Any,
    ) -> None:
        """Control points with knots (clamped uniform when None) and weights, or fit points only."""
        if knots is None:
            inner = max(len(control) - degree - 1, 0)
            knots = (
                [0.0] * (degree + 1)
                + [float(i + 1) for i in range(inner)]
                + [inner + 1.0] * (degree + 1)
            )
        knots = knots if len(control) else ()
        body = tag(70, flags | (4 if len(weights) else 0)) + tag(71, degree)
        body += tag(72, len(knots)) + tag(73, len(control)) + tag(74, len(fit))
        body += "".join(tag(40, float(k)) for k in knots) + "".join(
            tag(41, float(w)) for w in weights
        )
        body += "".join(point(10, p) for p in control) + "".join(point(11, p) for p in fit)
        self._add("SPLINE", body, common)

    def insert(
        self,
        name: str,
        at: Point,
        scale: Point = (1, 1, 1),
        rotation: float = 0.0,
        columns: int = 1,
        rows: int = 1,
        spacing: Point = (0, 0),
        attributes: Sequence[tuple[str, str, Point]] = (),
        **common: Any,
    ) -> None:
        """A block; more than one column or row makes an MINSERT. attributes: (tag, text, position)."""
        sx, sy, *sz = scale
        body = (tag(66, 1) if attributes else "") + tag(2, name) + point(10, at)
        body += tag(41, float(sx)) + tag(42, float(sy)) + tag(43, float(sz[0] if sz else 1.0))
        body += tag(50, float(rotation))
        if columns > 1 or rows > 1:
            body += (
                tag(70, columns)
                + tag(71, rows)
                + tag(44, float(spacing[0]))
                + tag(45, float(spacing[1]))
            )
        self._add("INSERT", body, common)
        for name_, text, where in attributes:
            mark = tag(100, "AcDbAttribute") if self.markers else ""
            body = (
                point(10, where) + tag(40, 2.5) + tag(1, text) + mark + tag(2, name_) + tag(70, 0)
            )
            self._add("ATTRIB", body, {"layer": common.get("layer", "0")})
        if attributes:
            self._add("SEQEND", "", {})

    def text(self, words: str, at: Point, height: float = 2.5, **common: Any) -> None:
        self._add("TEXT", point(10, at) + tag(40, float(height)) + tag(1, words), common)

    def mtext(self, words: str, at: Point, height: float = 2.5, **common: Any) -> None:
        self._add("MTEXT", point(10, at) + tag(40, float(height)) + tag(1, words), common)

    def xline(self, base: Point, direction: Point, **common: Any) -> None:
        self._add("XLINE", point(10, base) + point(11, direction), common)

    def ray(self, base: Point, direction: Point, **common: Any) -> None:
        self._add("RAY", point(10, base) + point(11, direction), common)

    def dimension(
        self,
        kind: str,
        points: dict[int, Point],
        text: str = "",
        angle: float = 0.0,
        dimlfac: float | None = None,
        style: str = "STANDARD",
        **common: Any,
    ) -> None:
        """kind: a key of DIMENSION_KINDS; points by group code (10, 13, 14, 15, 16).

        dimlfac writes an override in the entity's extended data.
        """
        number = list(DIMENSION_KINDS).index(kind)
        points = {10: (0, 0), **points}
        body = point(10, points[10]) + tag(70, number | 32) + tag(1, text) + tag(3, style)
        if self.markers:
            body += tag(100, DIMENSION_KINDS[kind])
        body += "".join(point(code, points[code]) for code in sorted(points) if code != 10)
        body += tag(50, float(angle)) if kind == "linear" else ""
        body += tag(100, "AcDbRotatedDimension") if self.markers and kind == "linear" else ""
        if dimlfac is not None:
            body += tag(1001, "ACAD") + tag(1000, "DSTYLE") + tag(1002, "{")
            body += tag(1070, 144) + tag(1040, float(dimlfac)) + tag(1002, "}")
        self._add("DIMENSION", body, common)


class DxfText(Drawer):
    """A whole DXF file.

    insunits None leaves $INSUNITS out; header adds variables as {name: (code, value)}; markers False leaves the
    subclass markers out, as careless writers do.
    """

    def __init__(
        self,
        version: str = "R2000",
        insunits: int | None = None,
        header: dict[str, tuple[int, Any]] | None = None,
        markers: bool | None = None,
        codepage: str | None = None,
    ) -> None:
        super().__init__(markers=version != "R12" if markers is None else markers)
        self.variables: dict[str, tuple[int, Any]] = {"$ACADVER": (1, ACADVER[version])}
        if codepage:
            self.variables["$DWGCODEPAGE"] = (3, codepage)
        if insunits is not None:
            self.variables["$INSUNITS"] = (70, insunits)
        self.variables |= header or {}
        self.layers: list[str] = []
        self.styles: list[str] = []
        self.blocks: list[tuple[str, Point, int, Drawer]] = []

    def layer(
        self, name: str, colour: int = 7, flags: int = 0, linetype: str = "CONTINUOUS"
    ) -> None:
        """colour < 0: off; flags 1: frozen."""
        mark = (
            tag(100, "AcDbSymbolTableRecord") + tag(100, "AcDbLayerTableRecord")
            if self.markers
            else ""
        )
        self.layers.append(
            tag(0, "LAYER")
            + mark
            + tag(2, name)
            + tag(70, flags)
            + tag(62, colour)
            + tag(6, linetype)
        )

    def dimstyle(self, name: str, dimlfac: float | None = None) -> None:
        mark = (
            tag(100, "AcDbSymbolTableRecord") + tag(100, "AcDbDimStyleTableRecord")
            if self.markers
            else ""
        )
        factor = "" if dimlfac is None else tag(144, float(dimlfac))
        self.styles.append(tag(0, "DIMSTYLE") + mark + tag(2, name) + tag(70, 0) + factor)

    def block(self, name: str, base: Point = (0, 0), flags: int = 0) -> Drawer:
        """A new block definition; draw into what comes back."""
        content = Drawer(self.markers)
        self.blocks.append((name, base, flags, content))
        return content

    # -- the file ---------------------------------------------------------------------------------

    @staticmethod
    def _section(name: str, body: str) -> str:
        return tag(0, "SECTION") + tag(2, name) + body + tag(0, "ENDSEC")

    @staticmethod
    def _table(name: str, rows: list[str]) -> str:
        return (
            tag(0, "TABLE") + tag(2, name) + tag(70, len(rows)) + "".join(rows) + tag(0, "ENDTAB")
            if rows
            else ""
        )

    def _block_text(self, name: str, base: Point, flags: int, content: Drawer) -> str:
        first = (
            tag(100, "AcDbEntity") + tag(8, "0") + tag(100, "AcDbBlockBegin")
            if self.markers
            else tag(8, "0")
        )
        last = (
            tag(100, "AcDbEntity") + tag(8, "0") + tag(100, "AcDbBlockEnd")
            if self.markers
            else tag(8, "0")
        )
        head = (
            tag(0, "BLOCK")
            + first
            + tag(2, name)
            + tag(70, flags)
            + point(10, base)
            + tag(3, name)
            + tag(1, "")
        )
        return head + "".join(content.entities) + tag(0, "ENDBLK") + last

    def dumps(self, eof: bool = True) -> str:
        header = "".join(
            tag(9, name) + tag(code, value) for name, (code, value) in self.variables.items()
        )
        tables = self._table("LAYER", self.layers) + self._table("DIMSTYLE", self.styles)
        text = self._section("HEADER", header)
        text += self._section("TABLES", tables) if tables else ""
        if self.blocks:
            text += self._section("BLOCKS", "".join(self._block_text(*b) for b in self.blocks))
        text += self._section("ENTITIES", "".join(self.entities))
        return text + (tag(0, "EOF") if eof else "")

    def write(
        self,
        path: Path,
        encoding: str = "cp1252",
        eol: str = "\n",
        bom: bytes = b"",
        eof: bool = True,
    ) -> Path:
        path.write_bytes(bom + self.dumps(eof).replace("\n", eol).encode(encoding))
        return path
