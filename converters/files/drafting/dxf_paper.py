"""The drawing as a DXF document with the trade's layers, line types and dimension style.

Every DXF file goes through `DxfPaper`, so that one place knows what an old DXF version cannot hold.
Drawing units are mm at 1:1.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from math import atan2, degrees
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from ....model.errors import InputError
from ..writing import new_file
from .paper import OUTLINE, Xy, flat
from .projection import readable

if TYPE_CHECKING:
    from ezdxf.layouts.layout import Modelspace

Version = Literal["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"]
VERSIONS: tuple[Version, ...] = ("R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018")

RED = 1
BLUE = 5
BLACK = 7
GREY = 8
Look = tuple[int, str, int]  # colour index, line type, line weight in 1/100 mm
CENTRE_LINE: Look = (RED, "CENTER", 18)
TUBE_OUTLINE: Look = (BLACK, "CONTINUOUS", 50)
# Every other layer is a tube's.
LAYERS: dict[str, Look] = {
    "BB_SHELL": (BLACK, "CONTINUOUS", 50),
    "HEADSET": (BLACK, "CONTINUOUS", 35),
    "DROPOUT": (BLACK, "CONTINUOUS", 35),
    "AXLE": (BLACK, "CONTINUOUS", 35),
    "WHEEL_REAR": (GREY, "CONTINUOUS", 35),
    "WHEEL_FRONT": (GREY, "CONTINUOUS", 35),
    "RIM": (GREY, "CONTINUOUS", 25),
    "GROUND": (BLACK, "CONTINUOUS", 35),
    "CONSTRUCTION": (GREY, "DASHED", 13),
    "DIMENSIONS": (BLUE, "CONTINUOUS", 18),
    "NOTES": (BLACK, "CONTINUOUS", 25),
    "FRONT_VIEW": (BLACK, "CONTINUOUS", 35),
    "FRONT_VIEW_CENTRE_LINES": (RED, "CENTER", 18),
    "FRONT_VIEW_DIMENSIONS": (BLUE, "CONTINUOUS", 18),
    "STAYS_VIEW": (BLACK, "CONTINUOUS", 35),
    "STAYS_VIEW_CENTRE_LINES": (RED, "CENTER", 18),
    "STAYS_VIEW_DIMENSIONS": (BLUE, "CONTINUOUS", 18),
    "CUT_LINE": (BLACK, "CONTINUOUS", 35),
    "BORE_LINE": (BLUE, "DASHED", 18),
    "TEMPLATE": (GREY, "CONTINUOUS", 18),
}
STYLE = "FRAME"
TEXT_HEIGHT = 14.0  # readable when an A0 sheet is looked at whole, and when it is pinned up at 1:1
_DIMSTYLE = {
    "dimtxt": TEXT_HEIGHT,
    "dimasz": 9.0,
    "dimexo": 4.0,
    "dimexe": 4.0,
    "dimgap": 3.0,
    "dimdec": 1,
    # two decimals of an angle: 0.1 degree counts for as much as 1 mm
    "dimadec": 2,
    # words above the line, and turned with it
    "dimtad": 1,
    "dimtih": 0,
    "dimtoh": 0,
    # zeros stay, so that every length has the same decimals
    "dimzin": 0,
    "dimazin": 0,
    # the model is 1:1 in mm, so neither size nor length is scaled
    "dimscale": 1.0,
    "dimlfac": 1.0,
    # the code of a full stop: a comma would hang on the machine's language
    "dimdsep": 46,
    # the line between the arrows is drawn even where the words stand outside
    "dimtofl": 1,
    "dimclrd": GREY,
    "dimclre": GREY,
    "dimclrt": BLUE,
}
LEFT = "LEFT"
CENTRE = "CENTER"
RIGHT = "RIGHT"


class DxfPaper:
    """An empty drawing in mm, a `Paper`; layers appear as they are used. `dashes` scales the line types' patterns."""

    def __init__(self, version: str = "R2010", dashes: float = 15.0) -> None:
        # imported here: the library is slow to load
        from ezdxf.document import Drawing
        from ezdxf.lldxf.const import DXFAttributeError
        from ezdxf.tools.standards import setup_drawing

        if version not in VERSIONS:
            raise InputError(
                f"DXF version {version} cannot be written; choose one of {', '.join(VERSIONS)}"
            )
        self.old = version == "R12"  # knows neither units nor light polylines
        with _undated():
            self.doc = Drawing.new(version)
        setup_drawing(self.doc, ["linetypes"])
        if not self.old:
            # 4 is mm in $INSUNITS
            self.doc.units = 4
        self.msp: Modelspace = self.doc.modelspace()
        # 1: metric line types and hatches
        self.doc.header["$MEASUREMENT"] = 1
        self.doc.header["$LTSCALE"] = dashes
        style = self.doc.dimstyles.new(STYLE)
        for key, value in _DIMSTYLE.items():
            with suppress(DXFAttributeError):  # R12 does not know the newer ones
                style.set_dxf_attrib(key, value)

    def _on(self, layer: str) -> dict[str, Any]:
        # only used layers are made, so that a sheet's list of them stays short
        if layer not in self.doc.layers:
            tube = TUBE_OUTLINE if layer.endswith(OUTLINE) else CENTRE_LINE
            colour, linetype, weight = LAYERS.get(layer, tube)
            entry = self.doc.layers.add(layer, color=colour, linetype=linetype)
            # R12 has no line weights
            if not self.old:
                entry.dxf.lineweight = weight
        return {"layer": layer}

    def line(self, layer: str, start: Xy, end: Xy) -> None:
        self.msp.add_line(flat(start), flat(end), dxfattribs=self._on(layer))

    def circle(self, layer: str, centre: Xy, radius: float) -> None:
        self.msp.add_circle(flat(centre), radius, dxfattribs=self._on(layer))

    def arc(
        self, layer: str, centre: Xy, radius: float, start_angle: float, end_angle: float
    ) -> None:
        self.msp.add_arc(flat(centre), radius, start_angle, end_angle, dxfattribs=self._on(layer))

    def polyline(self, layer: str, points: Iterable[Xy], closed: bool = False) -> None:
        run = [flat(p) for p in points]
        # R12 has only the heavy polyline
        if self.old:
            self.msp.add_polyline2d(run, close=closed, dxfattribs=self._on(layer))
        else:
            self.msp.add_lwpolyline(run, close=closed, dxfattribs=self._on(layer))

    def text(
        self,
        layer: str,
        words: str,
        at: Xy,
        height: float = TEXT_HEIGHT,
        align: str = LEFT,
        rotation: float = 0.0,
    ) -> None:
        """One line of text; line breaks would break the file and become blanks."""
        from ezdxf.enums import TextEntityAlignment

        # a line break in a text would end its group and the file with it
        entity = self.msp.add_text(
            " ".join(words.split()), height=height, rotation=rotation, dxfattribs=self._on(layer)
        )
        entity.set_placement(flat(at), align=TextEntityAlignment[align])

    # --- dimensions -----------------------------------------------------------------------------------------
    def distance(
        self, layer: str, words: str, p1: Xy, p2: Xy, base: Xy, angle: float, shift: float = 0.0
    ) -> None:
        dimension = self.msp.add_linear_dim(
            flat(base),
            flat(p1),
            flat(p2),
            angle=angle,
            text=words,
            dimstyle=STYLE,
            dxfattribs=self._on(layer),
        )
        # before rendering: the block of the dimension is drawn from what stands here
        dimension.shift_text(shift, 0.0)
        dimension.render()

    def aligned(
        self, layer: str, words: str, p1: Xy, p2: Xy, aside: float, shift: float = 0.0
    ) -> None:
        x1, y1 = flat(p1)
        x2, y2 = flat(p2)
        # the library's own rule lets words lean past upright
        upright = readable(degrees(atan2(y2 - y1, x2 - x1)))
        dimension = self.msp.add_aligned_dim(
            flat(p1),
            flat(p2),
            aside,
            text=words,
            dimstyle=STYLE,
            dxfattribs={**self._on(layer), "text_rotation": upright},
        )
        dimension.shift_text(shift, 0.0)
        dimension.render()

    def angle(
        self, layer: str, words: str, vertex: Xy, radius: float, start: float, end: float
    ) -> None:
        self.msp.add_angular_dim_cra(
            flat(vertex),
            # extension lines begin at 0.6 of the radius, the arc lies at the whole of it
            radius * 0.6,
            start,
            end,
            radius * 0.4,
            text=words,
            dimstyle=STYLE,
            dxfattribs=self._on(layer),
        ).render()

    def save(self, path: str | Path, force: bool = False) -> None:
        """Write the file atomically; see `files.new_file` for what is refused."""
        classes = self.doc.classes
        # from a set: without order, other bytes in another process
        classes.add_required_classes(self.doc.dxfversion)
        classes.classes = dict(sorted(classes.classes.items()))
        # undated here too: the time is written when the file is saved
        with new_file(path, force) as temporary, _undated():
            self.doc.saveas(temporary)


@contextmanager
def _undated() -> Iterator[None]:
    """No time of day and no random ids, so that the same drawing gives the same bytes; the date reads 2000-01-01."""
    from ezdxf import options  # type: ignore[attr-defined] # documented, but not re-exported for type checkers

    held = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = held
