"""A tube as it is bought: outside diameter, wall with butts, taper, oval, material.

A tube has a START and an END; butts are given in that order:
seat tube and down tube from the bottom bracket up, top tube from the seat tube forward, head tube and
steerer from the top down, chainstay from the bottom bracket back, seatstay from the seat tube down,
fork blade from the crown down.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import isfinite

import numpy as np

from ..arrays import Array
from ..errors import ModelError
from .materials import Material
from .sections import Section, box_tube, oval_tube


@dataclass(frozen=True)
class Tube:
    """One tube of the set, cut to any length.

    od_start, od_end : outside diameter at both ends, mm; equal for a cylindrical tube, the diameter runs
        linearly in between, see `straight`. For an oval tube this is the height, in the plane of the frame.
    walls : 1 value (plain), 2 (single butted: start, rest) or 3 (start, middle, end), mm.
    butts : lengths of the thick ends, mm: () plain, (start,) or (start, end).
    tapers : lengths over which the wall changes, behind each butt, mm; () means abrupt steps.
    oval_width : outside width across the plane of the frame at the start, mm; None for round.
    oval_end : the same at the end; None as at the start. Equal to `od_end`: oval at the start, round at the end.
    straight : lengths at start and end over which the outside keeps its size, mm; the taper lies between them.
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
    oval_end: float | None = None
    straight: tuple[float, float] = (0.0, 0.0)

    def __post_init__(self) -> None:
        # Against every outside size: an oval's narrow side is the first that a wall fills.
        for od in self._outside_sizes():
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
        self._check_outside()
        self._check_corner()

    def _outside_sizes(self) -> Iterator[float]:
        yield from (self.od_start, self.od_end)
        yield from (width for width in (self.oval_width, self.oval_end) if width is not None)

    def _check_outside(self) -> None:
        if any(not (isfinite(v) and v >= 0) for v in self.straight):
            raise ModelError(
                f"straight lengths {self.straight} mm: they must be 0 mm or more, at start and end"
            )
        if self.oval_end is not None and self.oval_width is None:
            raise ModelError(
                f"width {self.oval_end} mm at the end of a round tube: state the width at both ends, such as "
                "24x24-12x16"
            )

    def _check_corner(self) -> None:
        if self.corner is None:
            return
        if self.oval_width is None:
            raise ModelError(
                f"corner radius {self.corner} mm without a width: a rectangular tube needs height and "
                "width, such as 30x16"
            )
        smallest = min(self._outside_sizes())
        # With a smaller radius than the wall the inside corner would turn inside out.
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
        """Outside diameter, both where they differ: ``28.6``, ``22-14``, ``24-13 after 180``."""
        if self.od_end == self.od_start:
            return f"{self.od_start:g}{self.after}"
        return f"{self.od_start:g}-{self.od_end:g}{self.after}"

    @property
    def after(self) -> str:
        """Where the taper begins and ends, as it is written: `` after 180``; '' where it takes the whole length."""
        if not any(self.straight) or not self.is_tapered:
            return ""
        kept = [f"{length:g}" for length in self.straight]
        if not self.straight[1]:
            kept = kept[:1]
        return f" after {'/'.join(kept)}"

    @property
    def width_end(self) -> float | None:
        """Outside width across the plane of the frame at the end, mm; None for round."""
        if self.oval_end is None:
            return self.oval_width
        return self.oval_end

    @property
    def is_tapered(self) -> bool:
        """Whether the outside changes between the ends."""
        return self.od_start != self.od_end or self.oval_width != self.width_end

    def kinks(self, length: float) -> tuple[float, ...]:
        """Distances from the start at which the outside begins and ends to taper, mm; none of a cylindrical tube."""
        if not self.is_tapered:
            return ()
        # A taper that begins or ends with the tube has no kink inside it.
        return tuple(s for s in (self.straight[0], length - self.straight[1]) if 0 < s < length)

    def heights(self, length: float, s: Array | float) -> Array:
        """Outside diameters (heights of an oval) of a tube of this length at distances s from its start, mm."""
        return np.asarray(self.od_start + (self.od_end - self.od_start) * self._share(length, s))

    def widths(self, length: float, s: Array | float) -> Array:
        """Outside widths across the plane of the frame at distances s; of a round tube its diameters."""
        if self.oval_width is None or self.width_end is None:
            return self.heights(length, s)
        grown = self.width_end - self.oval_width
        return np.asarray(self.oval_width + grown * self._share(length, s))

    def growth(self, length: float, end: int) -> float:
        """Growth of the outside diameter (height) per mm along the tube, at its start (0) or end (1)."""
        # Where the outside keeps its size at an end nothing grows there.
        if self.straight[end]:
            return 0.0
        return (self.od_end - self.od_start) / (length - sum(self.straight))

    def _share(self, length: float, s: Array | float) -> Array:
        """How much of the taper lies before s, 0 to 1."""
        self.check_length(length)
        first, last = self.straight
        # Before the taper nothing of it, behind it all: there the size stays.
        return np.clip((np.asarray(s, dtype=float) - first) / (length - first - last), 0.0, 1.0)

    def check_length(self, length: float) -> None:
        """Raises ModelError when butts, tapers or straight lengths do not fit the length."""
        kept = sum(self.straight)
        if kept and kept >= length:
            raise ModelError(
                f"tube {self.label}: it keeps its size over {kept:.1f} mm, the tube is {length:.1f} mm long, which "
                "leaves nothing for the taper; shorten the straight length"
            )
        used = sum(self.butts) + sum(self.tapers)
        if used > length + 1e-9:
            raise ModelError(
                f"tube {self.label}: butts and tapers take {used:.1f} mm, "
                f"the tube is {length:.1f} mm long"
            )

    @cached_property
    def profile(self) -> tuple[tuple[float, float, float], ...]:
        """Wall against place for a tube of any length: (d, 0, wall) d mm from the start, (-d, 1, wall) before the end.

        The wall is linear in between; two points at one place are a step.
        """
        # Without tapers the wall steps: two points of the profile at one distance.
        tapers = self.tapers or (0.0,) * len(self.butts)
        points = [(0.0, 0.0, self.walls[0])]
        if len(self.walls) > 1:
            points += [
                (self.butts[0], 0.0, self.walls[0]),
                (self.butts[0] + tapers[0], 0.0, self.walls[1]),
            ]
        if len(self.walls) == 3:
            points += [
                (-self.butts[1] - tapers[1], 1.0, self.walls[1]),
                (-self.butts[1], 1.0, self.walls[2]),
            ]
        return (*points, (0.0, 1.0, self.walls[-1]))

    def wall_profile(self, length: float) -> tuple[tuple[float, float], ...]:
        """Wall against distance from the start as a piecewise linear function: ((distance, wall), ...).

        Two points at one distance are a step. Raises ModelError when butts or straight lengths do not fit the length.
        """
        self.check_length(length)
        return tuple((d + share * length, wall) for d, share, wall in self.profile)

    def section(self, od: float, wall: float, width: float | None = None) -> Section:
        """The section where the outside diameter (height) is `od`; `width` of an oval, mm (None: as at the start)."""
        # A round tube is as wide as it is high.
        across = width or self.oval_width or od
        if self.corner is not None:
            return box_tube(across, od, wall, self.corner, self.material.nu)
        return oval_tube(across, od, wall, self.material.nu)

    def scaled(self, diameter: float = 0.0, wall: float = 0.0) -> "Tube":
        """The same tube with all diameters and walls grown by so many mm; corners keep their radius."""
        # A round tube has no width to grow.
        oval, oval_end = (
            None if width is None else width + diameter
            for width in (self.oval_width, self.oval_end)
        )
        return replace(
            self,
            od_start=self.od_start + diameter,
            od_end=self.od_end + diameter,
            walls=tuple(w + wall for w in self.walls),
            oval_width=oval,
            oval_end=oval_end,
        )


def size_at(tube: Tube, length: float, s: float) -> tuple[float, float, float]:
    """Outside diameter (height), wall and width of a tube of this length at distance s from its start, mm."""
    return sizes_at(tube, length, [s])[0]


def sizes_at(
    tube: Tube, length: float, places: Sequence[float] | Array
) -> list[tuple[float, float, float]]:
    """Outside diameter (height), wall and width at several distances from the start, mm."""
    at, walls = np.array(tube.wall_profile(length)).T
    found = (
        tube.heights(length, np.array(places)),
        np.interp(places, at, walls),
        tube.widths(length, np.array(places)),
    )
    return list(zip(*(values.tolist() for values in found), strict=True))
