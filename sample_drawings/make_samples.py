"""Writes the drawings of this folder, each in another builder's habit, and the one sheet kept as XLSX too.

The CSV fit sheets beside them are typed by hand, as a builder's would be; nothing here writes them but the XLSX copy.
Frames that are no diamond are drawn by the product from their sheets. Every bicycle is invented. Run from the checkout:
``python sample_drawings/make_samples.py``.
"""

import csv
import sys
from dataclasses import replace
from math import sqrt
from pathlib import Path

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent))

from droptrail.converters.files.drafting.frame import draw_frame  # noqa: E402
from droptrail.converters.files.fitsheet.bicycle import bicycle_from_sheet, read_fit_sheet  # noqa: E402
from droptrail.model.frame.layout import side_paths  # noqa: E402
from droptrail.model.geometry.dimensions import FrameDimensions, Point  # noqa: E402

INCH = 25.4

TOURER = FrameDimensions(
    reach=379,
    head_angle=71.8,
    seat_angle=72.6,
    bb_drop=76,
    chainstay=452,
    head_tube=158,
    lower_stack=13,
    fork_length=389,
    fork_offset=50,
    wheel_radius_front=348,
    wheel_radius_rear=348,
    seat_tube=550,
    top_tube_on_seat_tube=522,
    top_tube_below_head_top=34,
    down_tube_above_head_bottom=36,
    seatstay_below_top_tube=16,
)
GRAVEL = FrameDimensions(
    reach=388,
    head_angle=70.75,
    seat_angle=73.4,
    bb_drop=78,
    chainstay=432,
    head_tube=147,
    lower_stack=12.5,
    fork_length=sqrt(395**2 - 49**2),
    fork_offset=49,
    wheel_radius_front=353,
    wheel_radius_rear=353,
    seat_tube=530,
    top_tube_on_seat_tube=492,
    top_tube_below_head_top=38,
    down_tube_above_head_bottom=40,
    seatstay_below_top_tube=22,
)
SMALL = FrameDimensions(
    reach=352,
    head_angle=70.9,
    seat_angle=74.2,
    bb_drop=62,
    chainstay=420,
    head_tube=104,
    lower_stack=12,
    fork_length=372,
    fork_offset=51,
    wheel_radius_front=334,
    wheel_radius_rear=334,
    seat_tube=450,
    top_tube_on_seat_tube=421,
    top_tube_below_head_top=30,
    down_tube_above_head_bottom=33,
    seatstay_below_top_tube=14,
)
TREKKING = FrameDimensions(
    reach=15.25 * INCH,
    head_angle=71.25,
    seat_angle=72.25,
    bb_drop=1.5 * INCH,
    chainstay=17.5 * INCH,
    head_tube=6.25 * INCH,
    lower_stack=0.5 * INCH,
    fork_length=15.5 * INCH,
    fork_offset=1.75 * INCH,
    wheel_radius_front=329.5,
    wheel_radius_rear=329.5,
    seat_tube=20.5 * INCH,
    top_tube_on_seat_tube=19 * INCH,
    top_tube_below_head_top=1.5 * INCH,
    down_tube_above_head_bottom=1.625 * INCH,
    seatstay_below_top_tube=0.75 * INCH,
)
NO_DIAMONDS = ("mixte_700c", "step_through_26", "tandem_700c")
TRAIL = FrameDimensions(
    reach=408,
    head_angle=68.2,
    seat_angle=73.6,
    bb_drop=48,
    chainstay=448,
    head_tube=110,
    lower_stack=12,
    fork_length=sqrt(495**2 - 46**2),
    fork_offset=46,
    wheel_radius_front=346,
    wheel_radius_rear=346,
    seat_tube=450,
    top_tube_on_seat_tube=418,
    top_tube_below_head_top=36,
    down_tube_above_head_bottom=38,
    seatstay_below_top_tube=16,
)
LADEN = replace(TOURER, head_angle=71.4, bb_drop=73, chainstay=462, fork_length=392, reach=383)
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


class Habit:
    """How one builder draws: scale, direction, place on the sheet and layers."""

    def __init__(
        self,
        unit: float = 1.0,
        insunits: int = 4,
        facing: int = 1,
        at: tuple[float, float] = (0, 0),
        layers: dict[str, str] | None = None,
    ) -> None:
        """`unit` mm make one drawing unit; `layers` maps a part to its layer, the part's own name by default."""
        import ezdxf

        self.doc = ezdxf.new("R2010", units=insunits)
        self.unit, self.facing, self.at, self.layers = unit, facing, at, layers or {}

    def on(self, part: str) -> dict[str, str]:
        layer = self.layers.get(part, self.layers.get("*", part))
        if layer not in self.doc.layers:
            self.doc.layers.add(layer)
        return {"layer": layer}

    def place(self, point: tuple[float, float]) -> tuple[float, float]:
        return (self.at[0] + self.facing * point[0] / self.unit, self.at[1] + point[1] / self.unit)

    def line(self, part: str, start: tuple[float, float], end: tuple[float, float]) -> None:
        self.doc.modelspace().add_line(self.place(start), self.place(end), dxfattribs=self.on(part))

    def circle(self, part: str, centre: tuple[float, float], radius: float) -> None:
        self.doc.modelspace().add_circle(
            self.place(centre), radius / self.unit, dxfattribs=self.on(part)
        )

    def text(self, part: str, words: str, at: tuple[float, float]) -> None:
        self.doc.modelspace().add_text(
            words, height=20 / self.unit, dxfattribs=self.on(part)
        ).set_placement(self.place(at))

    def frame(self, d: FrameDimensions, path: Path, without: tuple[str, ...] = ()) -> None:
        """Centre-lines, wheels, axle marks and shell, saved; without some parts that are drawn otherwise."""
        for part, (start, end) in centre_lines(d).items():
            if part not in without:
                self.line(part, start, end)
        for axle, radius in (
            (d.rear_axle, d.wheel_radius_rear),
            (d.front_axle, d.wheel_radius_front),
        ):
            self.circle("WHEELS", axle, radius)
            self.circle("WHEELS", axle, 5)
        self.circle("BB_SHELL", d.bottom_bracket, 20)
        self.doc.saveas(path)


def tourer(folder: Path) -> None:
    """One layer per part, named in the trade's words."""
    Habit().frame(TOURER, folder / "tourer_700c.dxf")


def gravel(folder: Path) -> None:
    """As `droptrail draw` makes it from the sheet, outlines, dimensions and all; here from exact dimensions."""
    sheet = bicycle_from_sheet(read_fit_sheet(HERE / "gravel_700c.csv")).bicycle
    draw_frame(
        replace(sheet, dimensions=GRAVEL),
        folder / "gravel_700c.dxf",
        bead_seats=(622, 622),
        force=True,
    )


def small(folder: Path) -> None:
    """Facing left, away from the origin, all centre-lines on one layer, in a German drawing office."""
    habit = Habit(
        facing=-1,
        at=(1400, 900),
        layers={"*": "MITTELLINIEN", "WHEELS": "LAUFRAEDER", "NOTES": "TEXT", "GROUND": "BODEN"},
    )
    habit.line("GROUND", (-800, SMALL.ground_y), (950, SMALL.ground_y))
    habit.text("NOTES", "Rahmen 650B, Titan, M 1:1, Masse in mm", (0, SMALL.ground_y - 80))
    habit.frame(SMALL, folder / "small_650b.dxf")


def trekking(folder: Path) -> None:
    """Drawn in inches, with the steering axis as a construction line down to the ground."""
    d = TREKKING
    habit = Habit(unit=INCH, insunits=1)
    habit.line("CONSTRUCTION", d.head_tube_top, (d.front_axle.x + d.trail, d.ground_y))
    habit.line("CONSTRUCTION", d.fork_offset_foot, d.front_axle)
    habit.frame(d, folder / "trekking_26.dxf")


def trail(folder: Path) -> None:
    """A suspension fork as its legs show from the side: beside the steering axis, below a crown across it."""
    d = TRAIL
    habit = Habit()

    def at(down: float, forward: float) -> tuple[float, float]:
        """So far down the steering axis from the crown race, and forward of it, mm."""
        on_axis = d.fork_crown.along(d.axis_up, -down)
        return on_axis.along(d.axis_forward, forward)

    habit.line("FORK", at(0, -21), at(0, 21))
    habit.line("FORK", at(0, 21), at(34, 54))
    habit.line("FORK", at(0, -21), at(34, 14))
    habit.line("FORK", at(34, 14), at(34, 54))
    for forward in (14, 54):
        habit.line("FORK", at(34, forward), at(d.fork_length - 22, forward))
    habit.frame(d, folder / "trail_27.dxf", without=("FORK",))


def laden(folder: Path) -> None:
    """Racks drawn too, front and rear, on a layer of their own."""
    habit = Habit()
    carrying = bicycle_from_sheet(read_fit_sheet(HERE / "laden_700c.csv")).bicycle
    paths = side_paths(replace(carrying, dimensions=LADEN))
    for role in carrying.roles:
        path = paths[role.name]
        # what runs across is a point from the side
        if role.region == "rack" and path is not None and path[0][:2] != path[-1][:2]:
            habit.line("RACK", path[0][:2], path[-1][:2])
    habit.frame(LADEN, folder / "laden_700c.dxf")


def disagreeing(folder: Path) -> None:
    """The tourer once more, everything on layer 0, beside a sheet that was changed since."""
    Habit(layers={"*": "0"}).frame(TOURER, folder / "disagree_tourer.dxf")


def by_its_sheet(name: str, folder: Path) -> None:
    """The side view of a frame that is no diamond, as `droptrail draw` makes it of the sheet."""
    bicycle = bicycle_from_sheet(read_fit_sheet(HERE / f"{name}.csv")).bicycle
    draw_frame(bicycle, folder / f"{name}.dxf", ("side",), force=True)


def as_xlsx(name: str, folder: Path) -> None:
    """The CSV sheet's rows, cell for cell, in a workbook; numbers become number cells."""
    from openpyxl import Workbook

    book = Workbook()
    page = book.active
    assert page is not None
    page.title = "fit sheet"
    for row in csv.reader((HERE / f"{name}.csv").open(encoding="utf-8", newline="")):
        page.append([_cell(text) for text in row] or [None])
    book.save(folder / f"{name}.xlsx")


def _cell(text: str) -> str | float | None:
    try:
        return float(text)
    except ValueError:
        return text or None


def main(folder: Path = HERE) -> None:
    import ezdxf

    ezdxf.options.write_fixed_meta_data_for_testing = (
        True  # the same file every time, so that git shows real changes
    )
    for draw in (tourer, gravel, small, trekking, trail, laden, disagreeing):
        draw(folder)
    for name in NO_DIAMONDS:
        by_its_sheet(name, folder)
    as_xlsx("gravel_700c", folder)


if __name__ == "__main__":
    main()
