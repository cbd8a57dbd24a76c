"""A tube as it is bought: outside diameter, wall with butts, taper, oval, material.

A tube has a START and an END; butts are given in that order:
seat tube and down tube from the bottom bracket up, top tube from the seat tube forward, head tube and
steerer from the top down, chainstay from the bottom bracket back, seatstay from the seat tube down,
fork blade from the crown down.
"""

from dataclasses import dataclass, replace
from math import isfinite

from ..errors import ModelError
from .materials import Material
from .sections import Section, box_tube, oval_tube


@dataclass(frozen=True)
class Tube:
    """One tube of the set, cut to any length.

    od_start, od_end : outside diameter at both ends, mm; equal for a cylindrical tube, the diameter runs
        linearly in between. For an oval tube this is the height, in the plane of the frame.
    walls : 1 value (plain), 2 (single butted: start, rest) or 3 (start, middle, end), mm.
    butts : lengths of the thick ends, mm: () plain, (start,) or (start, end).
    tapers : lengths over which the wall changes, behind each butt, mm; () means abrupt steps.
    oval_width : outside width across the plane of the frame, mm; None for round.
    corner : outside corner radius of a rectangular tube of height `od` and width `oval_width`, mm; None for an oval.
    """

    material: Material
    od_start: float
    od_end: float
    walls: tuple[float, ...]
    butts: tuple[float, ...] = ()
    tapers: tuple[float, ...] = ()
    oval_width: float | None = None
    corner: float | None = None

    def __post_init__(self) -> None:
        for od in (
            self.od_start,
            self.od_end,
            *(() if self.oval_width is None else (self.oval_width,)),
        ):
            for wall in self.walls:
                if not (isfinite(od) and od > 0 and isfinite(wall) and 0 < wall <= od / 2):
                    raise ModelError(
                        f"tube {od} x {wall} mm: the wall must lie above 0 and not exceed half "
                        "the outside diameter"
                    )
        if len(self.walls) not in (1, 2, 3):
            raise ModelError(
                f"walls {self.walls}: one, two or three wall thicknesses are understood"
            )
        if len(self.butts) != len(self.walls) - 1:
            raise ModelError(
                f"{len(self.walls)} walls need {len(self.walls) - 1} butt lengths, got {self.butts}"
            )
        if self.tapers and len(self.tapers) != len(self.butts):
            raise ModelError(
                f"{len(self.butts)} butts need as many taper lengths, got {self.tapers}"
            )
        if any(not (isfinite(v) and v >= 0) for v in (*self.butts, *self.tapers)):
            raise ModelError(
                f"butt {self.butts} and taper {self.tapers} lengths must not be negative"
            )
        self._check_corner()

    def _check_corner(self) -> None:
        if self.corner is None:
            return
        if self.oval_width is None:
            raise ModelError(
                f"corner radius {self.corner} mm without a width: a rectangular tube needs height and "
                "width, such as 30x16"
            )
        smallest = min(self.od_start, self.od_end, self.oval_width)
        if not max(self.walls) <= self.corner <= smallest / 2:
            raise ModelError(
                f"corner radius {self.corner} mm: it must lie between the wall, {max(self.walls)} mm, and "
                f"half the smallest side, {smallest / 2} mm"
            )

    @property
    def label(self) -> str:
        """Short workshop form, such as ``28.6 x 0.8/0.5/0.8``."""
        return f"{self.diameters} x {'/'.join(f'{w:g}' for w in self.walls)}"

    @property
    def diameters(self) -> str:
        """Outside diameter, both where they differ: ``28.6``, ``22-14``."""
        if self.od_end == self.od_start:
            return f"{self.od_start:g}"
        return f"{self.od_start:g}-{self.od_end:g}"

    def wall_profile(self, length: float) -> tuple[tuple[float, float], ...]:
        """Wall against distance from the start as a piecewise linear function: ((distance, wall), ...).

        Two points at one distance are a step. Raises ModelError when the butts do not fit the length.
        """
        tapers = self.tapers or (0.0,) * len(self.butts)
        used = sum(self.butts) + sum(tapers)
        if used > length + 1e-9:
            raise ModelError(
                f"tube {self.label}: butts and tapers take {used:.1f} mm, "
                f"the tube is {length:.1f} mm long"
            )
        if len(self.walls) == 1:
            return ((0.0, self.walls[0]), (length, self.walls[0]))
        points = [
            (0.0, self.walls[0]),
            (self.butts[0], self.walls[0]),
            (self.butts[0] + tapers[0], self.walls[1]),
        ]
        if len(self.walls) == 3:
            points += [
                (length - self.butts[1] - tapers[1], self.walls[1]),
                (length - self.butts[1], self.walls[2]),
            ]
        points.append((length, self.walls[-1]))
        return tuple(points)

    def section(self, od: float, wall: float) -> Section:
        """The section where the outside diameter (height) is `od`, mm; oval and rectangular tubes keep their width."""
        if self.corner is not None and self.oval_width is not None:
            return box_tube(self.oval_width, od, wall, self.corner, self.material.nu)
        return oval_tube(
            od if self.oval_width is None else self.oval_width, od, wall, self.material.nu
        )

    def scaled(self, diameter: float = 0.0, wall: float = 0.0) -> "Tube":
        """The same tube with all diameters and walls grown by so many mm; corners keep their radius."""
        if self.oval_width is None:
            oval = None
        else:
            oval = self.oval_width + diameter
        return replace(
            self,
            od_start=self.od_start + diameter,
            od_end=self.od_end + diameter,
            walls=tuple(w + wall for w in self.walls),
            oval_width=oval,
        )
