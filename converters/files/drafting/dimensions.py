"""The trade's dimensions on the side view, and the title block with every number in a table."""

from collections.abc import Mapping, Sequence
from itertools import pairwise
from math import radians, tan

from ....model.frame.bicycle import Bicycle
from ....model.frame.rider_room import brackets, lengths_behind
from ....model.geometry.dimensions import FrameDimensions, Point
from ....model.geometry.quantities import QUANTITIES
from ....model.geometry.statements import label, quantities
from ....model.words import spoken
from .dxf_paper import RIGHT, TEXT_HEIGHT, DxfPaper
from .paper import Paper

LAYER = "DIMENSIONS"
ROW = 60.0  # mm between dimension lines outside the bicycle
ASIDE = 45.0  # mm from a tube's centre-line to the dimension line along it
ZERO = 1e-6  # mm; a length below it gets no dimension
TITLE_DROP = 260.0  # mm from the ground to the top of the title block
CAUTION = "Check before cutting: measure the drawing against one dimension after printing."


def dimension_side_view(paper: Paper, d: FrameDimensions, bicycle: Bicycle | None = None) -> None:
    """All dimensions of the side view, outside the frame where there is room. bicycle : without it brackets between the
    first and the last are not known."""
    at: Sequence[Point] = (d.bottom_bracket, d.rear_bracket)
    if bicycle is not None:
        at = brackets(bicycle)
    _steering_axis(paper, d)
    _overall(paper, d)
    _along_tubes(paper, d, at)
    _fork(paper, d)
    _angles(paper, d)


def axis_on_ground(d: FrameDimensions) -> Point:
    """Where the steering axis meets the ground."""
    return Point(d.front_axle.x + d.trail, d.ground_y)


def _steering_axis(paper: Paper, d: FrameDimensions) -> None:
    # 70 mm beyond the head tube, so that the axis shows as one
    paper.line("CONSTRUCTION", d.head_tube_top.along(d.axis_up, 70.0), axis_on_ground(d))
    # without offset the two points are one
    if abs(d.fork_offset) > ZERO:
        paper.line("CONSTRUCTION", d.fork_offset_foot, d.front_axle)


def _overall(paper: Paper, d: FrameDimensions) -> None:
    bb = d.bottom_bracket
    head = d.head_tube_top
    rear = d.rear_axle
    front = d.front_axle
    # the higher of head tube and seat tube, so that no dimension runs through the frame
    top = max(head.y, 0.0 if d.seat_tube_top is None else d.seat_tube_top.y)
    right = front.x + d.wheel_radius_front
    left = rear.x - d.wheel_radius_rear
    # where a level top tube would meet the seat tube's axis
    virtual = Point(-d.stack / tan(radians(d.seat_angle)), d.stack)
    paper.line("CONSTRUCTION", virtual, head)
    # a sloping frame's seat tube ends below that point: the axis is drawn on up to it
    if d.seat_tube_top is not None and d.seat_tube_top.y < virtual.y:
        paper.line("CONSTRUCTION", d.seat_tube_top, virtual)
    paper.distance(LAYER, "reach <>", bb, head, (0, top + 1.7 * ROW), 0)
    paper.distance(LAYER, "effective top tube <>", virtual, head, (0, top + 2.7 * ROW), 0)
    paper.distance(LAYER, "stack <>", bb, head, (right + ROW, 0), 90)
    paper.distance(LAYER, f"{label('bb_height')} <>", (bb.x, d.ground_y), bb, (left - ROW, 0), 90)
    # a dimension of nothing cannot be drawn
    if abs(d.bb_drop) > ZERO:
        if d.bb_drop > 0:
            words = f"{label('bb_drop')} <>"
        else:
            # a dimension shows no sign, so a drop below zero is said in words
            words = "bottom bracket above axle <>"
        paper.distance(LAYER, words, bb, rear, (left - 2 * ROW, 0), 90)
    if abs(d.trail) > ZERO:
        if d.trail > 0:
            words = "trail <>"
        else:
            # likewise: the measured length is positive, the trail is not
            words = "trail -<>"
        paper.distance(
            LAYER,
            words,
            (front.x, d.ground_y),
            axis_on_ground(d),
            (0, d.ground_y - ROW),
            0,
            # a trail is short: its words stand beside it, clear of the two arrows
            shift=abs(d.trail) / 2 + 65,
        )
    paper.distance(LAYER, "wheelbase <>", rear, front, (0, d.ground_y - 2 * ROW), 0)


def _along_tubes(paper: Paper, d: FrameDimensions, shells: Sequence[Point]) -> None:
    bb = d.bottom_bracket
    paper.aligned(LAYER, "chainstay <>", d.rear_axle, d.rear_bracket, -1.7 * ROW)
    for fore, back in pairwise(shells):
        if fore != back:
            paper.aligned(LAYER, "bracket to bracket <>", back, fore, -1.2 * ROW)
    paper.aligned(LAYER, "front centre <>", bb, d.front_axle, -1.7 * ROW, shift=-120)
    paper.aligned(LAYER, "head tube <>", d.head_tube_top, d.head_tube_bottom, ROW)
    if d.seat_tube_top is not None:
        paper.aligned(
            LAYER,
            "seat tube <>",
            bb,
            d.seat_tube_top,
            ASIDE,
            shift=d.seat_tube_top.distance(bb) / 9,
        )
    if d.seat_tube_top_tube_node is not None:
        paper.aligned(
            LAYER, f"{label('top_tube_on_seat_tube')} <>", bb, d.seat_tube_top_tube_node, -ASIDE
        )
    if d.seat_tube_top_tube_node is not None and d.top_tube_head_node is not None:
        paper.aligned(LAYER, "top tube <>", d.seat_tube_top_tube_node, d.top_tube_head_node, -ASIDE)


def _fork(paper: Paper, d: FrameDimensions) -> None:
    paper.aligned(LAYER, "fork length on axis <>", d.fork_offset_foot, d.fork_crown, ROW)
    if abs(d.fork_offset) > ZERO:
        if d.fork_offset > 0:
            words = "offset <>"
        else:
            words = "offset -<>"
        paper.aligned(
            LAYER,
            words,
            d.fork_offset_foot,
            d.front_axle,
            -1.5 * ROW,
            shift=abs(d.fork_offset) / 2 + 65,
        )


def _angles(paper: Paper, d: FrameDimensions) -> None:
    # measured at the rear, as the trade gives both angles
    paper.angle(LAYER, "head angle <>", axis_on_ground(d), 160.0, 180 - d.head_angle, 180)
    paper.angle(LAYER, "seat angle <>", d.bottom_bracket, 200.0, 180 - d.seat_angle, 180)


# --- title block --------------------------------------------------------------------------------------------


def title_block(paper: DxfPaper, bicycle: Bicycle, scale: str = "scale 1:1") -> None:
    """Name, scale, caution, and the numbers of the frame in three columns below the side view."""
    d = bicycle.dimensions
    left = d.rear_axle.x - d.wheel_radius_rear
    top = d.ground_y - TITLE_DROP
    width = d.front_axle.x + d.wheel_radius_front - left
    line = 1.8 * TEXT_HEIGHT
    rows = _table(bicycle)
    deep = -(-len(rows) // 3)
    # four lines more, for name, caution and the rule below them
    height = (deep + 4) * line
    paper.polyline(
        "NOTES",
        [(left, top), (left + width, top), (left + width, top - height), (left, top - height)],
        closed=True,
    )
    paper.text(
        "NOTES", bicycle.name or "Bicycle frame", (left + line, top - 1.8 * line), 2 * TEXT_HEIGHT
    )
    paper.text(
        "NOTES",
        f"{scale}, lengths in mm, seen from the drive side",
        (left + width - line, top - 1.3 * line),
        align=RIGHT,
    )
    paper.text("NOTES", CAUTION, (left + width - line, top - 2.3 * line), align=RIGHT)
    paper.line("NOTES", (left, top - 3 * line), (left + width, top - 3 * line))
    column = (width - 2 * line) / 3
    for k, (item, value) in enumerate(rows):
        x = left + line + column * (k // deep)
        y = top - (4.2 + k % deep) * line
        paper.text("NOTES", item, (x, y))
        paper.text("NOTES", value, (x + column - 2 * line, y), align=RIGHT)


# What a frame's drawing lists beside the picture, in the order in which a builder sets up the jig.
_NOTED = (
    "head_angle",
    "seat_angle",
    "stack",
    "reach",
    "effective_top_tube",
    "head_tube",
    "lower_stack",
    "axle_to_crown_straight",
    "fork_length",
    "fork_offset",
    "trail",
    "mechanical_trail",
    "bb_drop",
    "bb_height",
    "chainstay",
    "front_center",
    "wheelbase",
    "top_tube_cc",
    "down_tube_cc",
    "standover",
    "wheel_radius_front",
    "wheel_radius_rear",
)


def _table(bicycle: Bicycle) -> list[tuple[str, str]]:
    d = bicycle.dimensions
    f = bicycle.fittings
    values = quantities(d)
    own = {item.label: bicycle.placed[item.key] for item in bicycle.plan.items if item.unit == "mm"}
    fittings = {
        **own,
        **lengths_behind(bicycle),
        "rear hub": f.rear_hub_spacing,
        "front hub": f.front_hub_spacing,
        "bottom bracket shell width": f.bb_shell_width,
    }
    tubes = [
        (spoken(name), f"{tube.label} {tube.material.name}") for name, tube in bicycle.tubes.items()
    ]
    return [
        *_listed(values),
        *((item, f"{value:.1f} mm") for item, value in fittings.items()),
        *tubes,
    ]


def _listed(values: Mapping[str, float | None]) -> list[tuple[str, str]]:
    lines = []
    for name in _NOTED:
        value = values[name]
        row = QUANTITIES[name]
        if value is None:
            continue
        if row.is_angle:
            lines.append((row.label, f"{value:.2f} deg"))
        else:
            lines.append((row.label, f"{value:.1f} mm"))
    return lines
