"""The side view as a figure: what the drawing holds, what was recognised in it, and the dimensions of the trade.

Everything is shown in the bicycle's own axes, upright and facing right, however the drawing lies on its sheet.
"""

from collections.abc import Iterator, Mapping
from math import atan2, cos, degrees, hypot, radians, sin
from typing import TYPE_CHECKING

import numpy as np

from ....model.arrays import Array
from ....model.frame.bicycle import Bicycle
from ....model.geometry.dimensions import FrameDimensions
from ....model.words import spoken
from ...files.drafting.dimensions import ROW, dimension_side_view
from ...files.drafting.frame import side_view
from ...files.drafting.paper import Flat
from ...files.drafting.projection import readable
from .page import PageFigure
from .paper import SvgPaper
from .svg import circle, path, picture, text

if TYPE_CHECKING:
    from ...drawings.sideview.side_view import SideView

MOST_POINTS = 20_000  # of a drawing's curves; a drawing with more is thinned for the picture
_PLAIN = 12.0  # mm, width of the band over a member whose tube is not known


def side_view_figure(
    dimensions: FrameDimensions, view: "SideView | None", bicycle: Bicycle | None
) -> PageFigure:
    """The side view with members and dimensions; over the drawing's own lines where there is a drawing."""
    paper = SvgPaper()
    if view is not None:
        words = _over_the_drawing(paper, view, dimensions, bicycle)
    else:
        words = "Side view from the fit sheet, seen from the drive side. Lengths in mm."
        if bicycle is not None:
            side_view(paper, bicycle, (None, None))
    # the same dimensions as in the DXF, so that page and drawing cannot differ
    dimension_side_view(paper, dimensions, bicycle)
    low, high = _box(dimensions)
    return PageFigure(
        picture(paper.shapes, low, high, f"Side view of the frame with its dimensions. {words}"),
        words,
    )


def _over_the_drawing(
    paper: SvgPaper, view: "SideView", d: FrameDimensions, bicycle: Bicycle | None
) -> str:
    """Bands over the recognised members, below the drawing's own lines; returns what the picture shows."""
    # the drawing lies anyhow on its sheet: everything is turned into the bicycle's own axes
    turn = _turn(view, d)
    members = {}
    for name, points in view.lines.items():
        upright = _turned(np.array(points), turn)
        members[spoken(name)] = [(float(x), float(y)) for x, y in upright]
    drawn, every = _curves(view, d, turn)
    # bands below, the drawing's own lines above them: a mistake then shows beside the line
    paper.shapes += [*_bands(members, bicycle), *drawn, *_joints(d)]
    used = sum(bool(label.member) for label in view.labels)
    left = len(view.labels) - used
    if left:
        aside = f", {left} left aside"
    else:
        aside = ""
    words = (
        f"Thin lines: your drawing, {used} of {len(view.labels)} lines used{aside}. "
        "Blue bands: what each line was taken as. Lengths in mm."
    )
    # thinning is said: somebody might miss a detail of his drawing
    return words + (f" Every {every}th point of the drawing is shown." if every > 1 else "")


# --- the drawing's own lines ----------------------------------------------------------------------------------
def _curves(view: "SideView", d: FrameDimensions, turn: Array) -> tuple[list[str], int]:
    """The drawing's curves near the bicycle, and how far they were thinned."""
    low, high = _box(d)
    every = max(1, -(-sum(len(curve.points) for curve in view.drawing.curves) // MOST_POINTS))
    shapes = []
    for curve, label in zip(view.drawing.curves, view.labels, strict=True):
        points = _turned(curve.points, turn)
        # notes and frames of the sheet lie elsewhere and would shrink the bicycle
        near = ((points > low) & (points < high)).all(axis=1)
        if not curve.construction and near.any() and np.isfinite(points).all():
            # the last point always: a thinned line must still end where it ends
            kept = [*points[:-1:every], points[-1]]
            doubted = label.how.startswith("second line")
            if label.member:
                kind = "drawn"
            elif doubted:
                kind = "doubted"
            else:
                kind = "aside"
            shapes.append(path([(float(x), float(y)) for x, y in kept], kind))
    return shapes, every


def _turn(view: "SideView", d: FrameDimensions) -> Array:
    """(3, 2) map of drawing units to the bicycle's axes, from the joints that both know."""
    # unit, turn, mirror and place in one map, whatever the drawing's own axes are
    here = {
        name: point
        for name, point in d.points().items()
        if point is not None and name in view.points
    }
    drawn = np.array([[*view.points[name], 1.0] for name in here])
    there = np.array([[point.x, point.y] for point in here.values()])
    # least squares: each joint was read by itself, so they do not fit to the last digit
    return np.asarray(np.linalg.lstsq(drawn, there, rcond=None)[0])


def _turned(points: Array, turn: Array) -> Array:
    return np.asarray(np.column_stack([points, np.ones(len(points))]) @ turn)


# --- members ----------------------------------------------------------------------------------------------------
def _bands(members: Mapping[str, list[Flat]], bicycle: Bicycle | None) -> Iterator[str]:
    for name, points in members.items():
        yield path(points, "member", _width(name, bicycle))
    # names above all bands, so that none covers one
    for name, points in members.items():
        yield _name_along(name, points)


def _width(name: str, bicycle: Bicycle | None) -> float:
    """Mean outside diameter of the sheet's tube, mm."""
    key = {"fork": "fork_blade"}.get(name, name.replace(" ", "_"))
    if bicycle is None or key not in bicycle.tubes:
        return _PLAIN
    tube = bicycle.tubes[key]
    return (tube.od_start + tube.od_end) / 2  # one line has one width


def _name_along(name: str, points: list[Flat]) -> str:
    """The member's name above its line near one end, running along it and never on its head."""
    x0, y0 = points[0]
    x1, y1 = points[-1]
    turn = readable(degrees(atan2(y1 - y0, x1 - x0)))
    # on a short member only the middle is free of joints
    if hypot(x1 - x0, y1 - y0) < 250:
        at = 0.5
    else:
        at = 0.62
    x = x0 + at * (x1 - x0)
    y = y0 + at * (y1 - y0)
    aside = 22.0
    return text(
        (x - aside * sin(radians(turn)), y + aside * cos(radians(turn))), name, "name", turn=turn
    )


def _joints(d: FrameDimensions) -> Iterator[str]:
    for point in d.points().values():
        # only what the drawing places: a joint at the origin would be a false one
        if point is not None:
            yield circle((point.x, point.y), 6, "node")


def _box(d: FrameDimensions) -> tuple[Flat, Flat]:
    """Lower left and upper right corner: bicycle, dimension lines, words."""
    rear = d.rear_axle
    front = d.front_axle
    tops = [point.y for point in d.points().values() if point is not None]
    return (
        # room for the dimension lines, which stand in rows outside the bicycle
        (rear.x - d.wheel_radius_rear - 2.7 * ROW, d.ground_y - 2.6 * ROW),
        (front.x + d.wheel_radius_front + 1.6 * ROW, max(tops) + 3.4 * ROW),
    )
