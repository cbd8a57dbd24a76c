"""A drawing laid out on sheets of paper: each view in a window of the paper space, at a scale of the standard.

The model stays at 1:1. Scales are those of ISO 5455, and between them 1:2.5 and 1:4, as it allows where those waste the
sheet: an A2 would else be drawn as small as an A3. Letters come out at 14 mm over the scale and are legible down to
2.5 mm (ISO 3098-1, least height; both from memory).
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ....model.errors import InputError
from ....model.findings import Finding
from .dxf_paper import TEXT_HEIGHT, DxfPaper

if TYPE_CHECKING:
    from ezdxf.layouts.layout import Paperspace

# Width and height, mm, lying down (ISO 216 and ANSI/ASME Y14.1).
SHEETS = {
    "A4": (297.0, 210.0),
    "A3": (420.0, 297.0),
    "A2": (594.0, 420.0),
    "A1": (841.0, 594.0),
    "Letter": (279.4, 215.9),
    "Tabloid": (431.8, 279.4),
}
SCALES = (1, 2, 2.5, 4, 5, 10, 20)  # ISO 5455, and two between
BORDER = 7.0  # mm, that a plotter may not reach
FOOT = 9.0  # mm, the line of words below the views
GAP = 6.0  # mm between two views
WORDS = 3.5  # mm, letters of that line
LEGIBLE = 2.5  # mm
CAUTION = "Not a strength certificate. Measure the drawing before you cut."


@dataclass(frozen=True)
class Extent:
    """A view's extent in the model, mm."""

    left: float
    low: float
    width: float
    height: float


@dataclass(frozen=True)
class PlacedView:
    """A view on a sheet: `left` and `low`, mm on the paper."""

    view: str
    box: Extent
    sheet: int
    left: float
    low: float


def lay_out_plot(paper: DxfPaper, size: str, title: str) -> tuple[Finding, ...]:
    """Add paper-space sheets that show everything drawn so far.

    Parameters
    ----------
    size : one of `SHEETS`. title : stands at the foot of each sheet, with scale, size and caution.

    Raises
    ------
    InputError
        For DXF R12, which has one sheet of paper and no windows worth the name.
    """
    if paper.old:
        raise InputError("DXF R12 holds no sheets of paper; choose R2000 or later for --plot")
    boxes = _views(paper)
    room = _room(size)
    fitting = []
    # the largest scale at which every view fits by itself; several sheets are allowed
    for reduction in SCALES:
        if all(_fits(box, reduction, room) for box in boxes.values()):
            fitting.append(reduction)
    scale = next(iter(fitting), None)
    if scale is None:
        raise InputError(
            f"the drawing does not fit {size} at 1:{SCALES[-1]}; take a larger sheet or fewer views"
        )
    placed = _placed(boxes, scale, room)
    for number in sorted({view.sheet for view in placed}):
        on_it = [view for view in placed if view.sheet == number]
        _sheet(paper, size, number, on_it, scale, title)
    paper.doc.layouts.delete("Layout1")  # the empty one that every new document has
    letters = TEXT_HEIGHT / scale
    if letters >= LEGIBLE:
        return ()
    return (
        Finding(
            "plot-small-letters",
            "warning",
            f"on {size} the drawing comes out at 1:{scale:g} and its letters {letters:.1f} mm high, expected "
            f"{LEGIBLE:g} or more; take a larger sheet, such as {_larger(size)}",
            size,
        ),
    )


def _larger(size: str) -> str:
    if size == "A4":
        return "A3"
    if size == "Letter":
        return "Tabloid"
    return "A2"


# --- what there is to show ------------------------------------------------------------------------------------
def _side(layer: str) -> bool:
    return not (_front(layer) or _stays(layer) or _notes(layer))


def _front(layer: str) -> bool:
    return layer.startswith("FRONT_VIEW")


def _stays(layer: str) -> bool:
    return layer.startswith("STAYS_VIEW")


def _notes(layer: str) -> bool:
    return layer == "NOTES"


_OF: Mapping[str, Callable[[str], bool]] = {
    "side view": _side,
    "list": _notes,
    "fork": _front,
    "stays": _stays,
}


def _views(paper: DxfPaper) -> dict[str, Extent]:
    """Where each view lies in the model, the drawn ones only."""
    # imported here: the measuring of extents is slow to load
    from ezdxf import bbox

    found = {}
    for view, belongs in _OF.items():
        drawn = [entity for entity in paper.msp if belongs(entity.dxf.layer)]
        # fast: boxes of curves are enough to place windows
        extent = bbox.extents(drawn, fast=True)
        if extent.has_data:
            low = extent.extmin
            found[view] = Extent(low.x, low.y, extent.size.x, extent.size.y)
    return found


# --- where it goes --------------------------------------------------------------------------------------------
def _room(size: str) -> tuple[float, float]:
    width, height = SHEETS[size]
    return width - 2 * BORDER, height - 2 * BORDER - FOOT


def _fits(box: Extent, scale: float, room: tuple[float, float]) -> bool:
    return box.width / scale <= room[0] and box.height / scale <= room[1]


def _placed(
    boxes: Mapping[str, Extent], scale: float, room: tuple[float, float]
) -> list[PlacedView]:
    """Each view as high and then as far left as it finds room; on a further sheet where it finds none."""
    found: list[PlacedView] = []
    for view, box in boxes.items():
        sheet = 1
        while True:
            before = [placed for placed in found if placed.sheet == sheet]
            corner = _free_corner(before, box, scale, room)
            if corner is not None:
                found.append(PlacedView(view, box, sheet, *corner))
                break
            sheet += 1
    return found


def _free_corner(
    before: list[PlacedView], box: Extent, scale: float, room: tuple[float, float]
) -> tuple[float, float] | None:
    """Lower left corner for a box beside those that lie on the sheet already, mm on the paper."""
    width = box.width / scale
    height = box.height / scale
    lefts = [BORDER] + [p.left + p.box.width / scale + GAP for p in before]
    tops = [BORDER + FOOT + room[1]] + [p.low - GAP for p in before]
    corners = [(left, top - height) for top in sorted(tops, reverse=True) for left in sorted(lefts)]
    for left, low in corners:
        # a rounding more than the room is still room
        inside = left + width <= BORDER + room[0] + 1e-9 and low >= BORDER + FOOT - 1e-9
        if inside and not any(_overlap(p, left, low, width, height, scale) for p in before):
            return left, low
    return None


def _overlap(
    placed: PlacedView, left: float, low: float, width: float, height: float, scale: float
) -> bool:
    """Whether a box comes nearer than the gap to one that is placed."""
    apart = GAP - 1e-9
    beside = (
        left >= placed.left + placed.box.width / scale + apart
        or placed.left >= left + width + apart
    )
    above = (
        low >= placed.low + placed.box.height / scale + apart or placed.low >= low + height + apart
    )
    return not (beside or above)


def _sheet(
    paper: DxfPaper, size: str, number: int, views: Iterable[PlacedView], scale: float, title: str
) -> None:
    """One sheet with its windows, its border and its line of words."""
    width, height = SHEETS[size]
    layout: Paperspace = paper.doc.layouts.new(f"{size} sheet {number}")
    layout.page_setup(size=(width, height), margins=(0, 0, 0, 0), units="mm")
    # a layer of its own, so that somebody may hide the border and keep the view
    attribs: dict[str, Any] = {"layer": "SHEET"}
    if "SHEET" not in paper.doc.layers:
        paper.doc.layers.add("SHEET", color=7, linetype="CONTINUOUS")
        windows = paper.doc.layers.add("WINDOWS", color=8, linetype="CONTINUOUS")
        windows.dxf.plot = 0  # the frames of the windows are not plotted
    inner = 0.6 * BORDER
    corners = [
        (inner, inner),
        (width - inner, inner),
        (width - inner, height - inner),
        (inner, height - inner),
    ]
    layout.add_lwpolyline(corners, close=True, dxfattribs=attribs)
    for view in views:
        box = view.box
        shown = (box.width / scale, box.height / scale)
        layout.add_viewport(
            center=(view.left + shown[0] / 2, view.low + shown[1] / 2),
            size=shown,
            view_center_point=(box.left + box.width / 2, box.low + box.height / 2),
            # the height of model that is shown sets the window's scale
            view_height=box.height,
            dxfattribs={"layer": "WINDOWS"},
        )
    words = f"{title}   1:{scale:g} on {size}, mm   {CAUTION}"
    layout.add_text(words, height=WORDS, dxfattribs=attribs).set_placement((BORDER, BORDER))
