"""Writes the drawings of this folder. The fit sheets beside them are typed by hand, as a builder's would be.

Every bicycle here is invented. Run from the checkout: ``python sample_drawings/make_samples.py``.
"""

import sys
from collections.abc import Callable
from pathlib import Path

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent))

from model.dimensions import FrameDimensions, Point  # noqa: E402

TOURER = FrameDimensions(
    reach=379, head_angle=71.8, seat_angle=72.6, bb_drop=76, chainstay=452, head_tube=158, lower_stack=13,
    fork_length=389, fork_offset=50, wheel_radius_front=348, wheel_radius_rear=348, seat_tube=550,
    top_tube_on_seat_tube=522, top_tube_below_head_top=34, down_tube_above_head_bottom=36,
    seatstay_below_top_tube=16,
)

Lines = dict[str, tuple[Point, Point]]


def centre_lines(d: FrameDimensions) -> Lines:
    """The side view's centre-lines by trade name; the fork is drawn crown race to axle."""
    ends = {
        "SEAT_TUBE": (d.bottom_bracket, d.seat_tube_top),
        "TOP_TUBE": (d.seat_tube_top_tube_node, d.top_tube_head_node),
        "DOWN_TUBE": (d.bottom_bracket, d.down_tube_head_node),
        "HEAD_TUBE": (d.head_tube_top, d.head_tube_bottom),
        "CHAINSTAY": (d.bottom_bracket, d.rear_axle),
        "SEATSTAY": (d.rear_axle, d.seat_tube_seatstay_node),
        "FORK": (d.fork_crown, d.front_axle),
    }
    return {name: (start, end) for name, (start, end) in ends.items() if start and end}


def draw_by_trade_words(d: FrameDimensions, path: Path) -> None:
    """One layer per part, centre-lines only, mm."""
    import ezdxf

    doc = ezdxf.new("R2010", units=4)
    msp = doc.modelspace()
    for layer, (start, end) in centre_lines(d).items():
        doc.layers.add(layer)
        msp.add_line(start, end, dxfattribs={"layer": layer})
    doc.layers.add("WHEELS")
    for axle, radius in ((d.rear_axle, d.wheel_radius_rear), (d.front_axle, d.wheel_radius_front)):
        msp.add_circle(axle, radius, dxfattribs={"layer": "WHEELS"})
        msp.add_circle(axle, 5, dxfattribs={"layer": "WHEELS"})
    doc.layers.add("BB_SHELL")
    msp.add_circle(d.bottom_bracket, 20, dxfattribs={"layer": "BB_SHELL"})
    doc.saveas(path)


SAMPLES: dict[str, Callable[[], None]] = {
    "tourer_700c": lambda: draw_by_trade_words(TOURER, HERE / "tourer_700c.dxf"),
}


def main() -> None:
    for make in SAMPLES.values():
        make()


if __name__ == "__main__":
    main()
