"""Mitres: the line on which a round tube meets another round tube, unwrapped, in closed form.

Vocabulary: the CUT TUBE ends on the NEIGHBOUR. The FOOT is the point of the cut tube's axis nearest to the
neighbour's axis. A GENERATOR is a straight line along the cut tube's surface at one angle round it. The
LONG POINT is where the cut tube reaches furthest towards the neighbour, the SHORT POINT (throat) least.
Distances run along the cut tube's axis away from the neighbour, mm; angles round it run right-handed about
the direction INTO the neighbour, so that a paper template printed side out runs left to right.
"""

from dataclasses import dataclass
from functools import cached_property
from math import cos, pi, radians, sin

import numpy as np

from ..arrays import Array
from ..errors import ModelError
from ..tubes.plan import End
from ..tubes.tube import Tube
from ..words import spoken

STEPS = 1440  # generators used to find long and short points: a quarter of a degree each
LEAST_ANGLE = 10.0  # degrees between the axes below which a mitre has no end worth cutting


def mitre_line(
    radius: float,
    neighbour_radius: float,
    angle: float,
    phi: Array,
    offset: float = 0.0,
    taper: float = 0.0,
    neighbour_taper: float = 0.0,
) -> Array:
    """Distance from the foot at which each generator of a round tube meets the surface of a round neighbour.

    Parameters
    ----------
    radius : of the cut tube's surface at the foot, mm (outside or inside). With `taper` it is
        ``radius + taper * distance``, a cone.
    angle : degrees between the cut tube's direction away from the neighbour and the neighbour's axis.
    phi : radians round the cut tube, from the side towards which the neighbour's axis leans (in the plane
        of both directions), right-handed about the direction into the neighbour.
    offset : distance of the neighbour's axis from the cut tube's, towards phi = 90 degrees, mm.
    neighbour_taper : growth of the neighbour's radius per mm along its axis; `neighbour_radius` is the one at the foot.

    Returns
    -------
    Distances, the shape of `phi`, mm; NaN where the generator passes the neighbour without meeting it.

    Raises
    ------
    ModelError
        For axes less than `LEAST_ANGLE` apart.

    Notes
    -----
    Without taper this is the textbook development of two cylinders,
    ``s = (r cos phi cos a + sqrt(R^2 - (r sin phi - e)^2)) / sin a`` (descriptive geometry; e.g. Wellman 1957,
    Technical Descriptive Geometry, ch. 9, from memory). It follows from putting the generator, a straight
    line in s, into the neighbour's x^2 + y^2 = R^2; the larger root is the side the tube comes from. Of a conical
    neighbour R grows along its axis, which leaves a square in s as before.
    """
    a = radians(angle)
    c = np.cos(phi)
    s = np.sin(phi)
    if abs(sin(a)) < sin(radians(LEAST_ANGLE)):
        raise ModelError(
            f"the tubes meet at {angle:.1f} degrees; a mitre needs {LEAST_ANGLE:g} or more between axes"
        )
    # seen along the neighbour, at the foot ...
    across = np.stack([radius * c * cos(a), radius * s - offset])
    # ... and its change per mm along the generator
    step = np.stack([taper * c * cos(a) - sin(a), taper * s])
    # the neighbour's radius where the generator passes the foot, and its change per mm along the generator
    there = neighbour_radius + neighbour_taper * radius * c * sin(a)
    grows = neighbour_taper * (cos(a) + taper * c * sin(a))
    square = (step**2).sum(0) - grows**2
    half = (across * step).sum(0) - there * grows
    rest = (across**2).sum(0) - there**2
    inside = half**2 - square * rest
    # equal tubes touch along a line; rounding must not lose it
    touches = inside >= -1e-12 * neighbour_radius**2
    return np.asarray(
        (np.sqrt(np.where(touches, np.maximum(inside, 0), np.nan)) - half) / square, dtype=float
    )


@dataclass(frozen=True)
class Cut:
    """One neighbour of a tube end.

    angle : degrees between the cut tube (away from the neighbour) and the neighbour's direction.
    offset : between the axes, mm. foot : distance of the foot from the cut tube's joint, along it, mm.
    roll : template angle, degrees, of the side towards which the neighbour leans.
    begins : place on the neighbour's axis, mm from the foot along its direction, where it starts; None when
        it runs through on both sides. neighbour_radius, neighbour_taper : its radius at the foot, and the growth of it
        per mm along its direction.
    """

    neighbour: str
    neighbour_radius: float
    angle: float
    offset: float
    roll: float
    foot: float
    begins: float | None = None
    neighbour_taper: float = 0.0

    @property
    def acute(self) -> float:
        """The angle as a builder reads it off, 0 to 90 degrees."""
        return min(self.angle, 180 - self.angle)

    def line(self, radius: float, phi: Array, taper: float = 0.0) -> Array:
        """Distance from the joint at which the neighbour is met; `phi` is the template angle, radians."""
        turn = phi - radians(self.roll)
        # A cone has another radius at the foot than at the joint.
        at_foot = radius + taper * self.foot
        s = mitre_line(
            at_foot,
            self.neighbour_radius,
            self.angle,
            turn,
            self.offset,
            taper,
            self.neighbour_taper,
        )
        if self.begins is not None:
            a = radians(self.angle)
            # Where on the neighbour's axis it is met: before the neighbour begins there is nothing.
            place = s * cos(a) + (at_foot + taper * s) * np.cos(turn) * sin(a)
            s = np.where(place >= self.begins, s, np.nan)
        return self.foot + s


@dataclass(frozen=True)
class Mitre:
    """One tube end cut to its neighbours.

    member : such as ``top_tube`` or ``chainstay_right``. at_end : which end of it. length : centre to centre
    (joint to joint), mm. radius, wall : of the cut tube at this end, mm. taper : growth of the radius per mm
    away from this end. cuts : the neighbours; with several, each generator ends at the first it meets.
    marks : names of the sides at template angles 0, 90, 180 and 270 degrees.

    Which line to use: `outer` is where the joint shows on the outside, `inner` where the bore ends. Cut to
    the outer line and bevel the bore until it sits, and the outside edge touches all round. Between the
    long and the short point the bore of a tube sawn SQUARE to its wall strikes first, even on thin
    tube: it must be sawn to the line that takes more away, and leaves the gap `bevel` outside.
    """

    member: str
    tube: Tube
    at_end: End
    length: float
    taper: float
    cuts: tuple[Cut, ...]
    marks: tuple[str, str, str, str]

    @property
    def radius(self) -> float:
        return (self.tube.od_start if self.at_end == "start" else self.tube.od_end) / 2

    @property
    def wall(self) -> float:
        return self.tube.walls[0 if self.at_end == "start" else -1]

    @property
    def od(self) -> float:
        return 2 * self.radius

    @property
    def wrap_length(self) -> float:
        """Width of the template: the tube's outside circumference, mm."""
        return pi * self.od

    @property
    def neighbours(self) -> str:
        """Such as ``bottom bracket shell and seat tube``."""
        return " and ".join(spoken(cut.neighbour) for cut in self.cuts)

    def _line(self, radius: float, phi: Array) -> Array:
        lines = [cut.line(radius, phi, self.taper) for cut in self.cuts]
        # The neighbour struck first is the one farthest from the joint; NaN loses to a number.
        return np.asarray(np.fmax.reduce(lines), dtype=float)

    def outer(self, phi: Array) -> Array:
        """Distance of the joint line on the outside surface from the joint, along the axis, mm; NaN: no contact."""
        return self._line(self.radius, phi)

    def inner(self, phi: Array) -> Array:
        """The same on the bore."""
        return self._line(self.radius - self.wall, phi)

    @cached_property
    def _sampled(self) -> Array:
        return self.outer(np.linspace(0, 2 * pi, STEPS, endpoint=False))

    @property
    def coverage(self) -> float:
        """Share of the circumference that meets a neighbour, 0 to 1."""
        return float(np.isfinite(self._sampled).mean())

    @property
    def long_point(self) -> float:
        """Least distance of the outside line from the joint, mm; NaN when nothing meets."""
        if self.coverage:
            return float(np.nanmin(self._sampled))
        return float("nan")

    @property
    def short_point(self) -> float:
        """Greatest distance of the outside line from the joint (the throat), mm."""
        if self.coverage:
            return float(np.nanmax(self._sampled))
        return float("nan")

    @property
    def depth(self) -> float:
        """How much of the end the mitre takes: short point less long point, mm."""
        return self.short_point - self.long_point

    @property
    def bevel(self) -> float:
        """Most that outside and bore line differ, mm: the gap left by a cut square to the wall."""
        phi = np.linspace(0, 2 * pi, STEPS, endpoint=False)
        gap = np.abs(self.outer(phi) - self.inner(phi))
        if np.isfinite(gap).any():
            return float(np.nanmax(gap))
        return float("nan")

    @property
    def title(self) -> str:
        """Such as ``top tube at the seat tube``."""
        return f"{spoken(self.member)} at the {self.neighbours}"
