"""Which tube ends of a frame are mitred to which neighbours, and what to saw."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import acos, atan2, degrees, inf, pi, radians, sin

import numpy as np

from ..arrays import Array, Xyz
from ..errors import ModelError
from ..tubes.plan import SHELL, End, TubeRole, without_side
from ..tubes.tube import Tube
from ..words import spoken
from .bicycle import Bicycle
from .layout import FrameLayout, Member, lay_out
from .mitre import LEAST_ANGLE, STEPS, Cut, Mitre
from .struck import struck

STANDS = 0.87  # sine of 60 degrees to the ground: on a steeper tube nobody finds the top side
ENDS_HERE = (
    120.0  # mm from a joint to the end of a neighbour that is fitted there and does not pass
)
SHELLS = (25.0, 80.0)  # mm, believable outside diameters of a bottom bracket shell
OPPOSITE = {"top": "bottom", "front": "back"}


@dataclass(frozen=True)
class Axis:
    """A neighbour's axis: a point on it where it begins (or any point), unit direction, radius at that point, growth of
    the radius per mm along the direction. kink : mm from the joint to where it begins or ends to taper. path : the
    centre-line of a bent one."""

    point: Array
    direction: Array
    radius: float
    ends: bool  # True: the neighbour begins at `point`; False: it runs through
    taper: float = 0.0
    kink: float = inf
    path: tuple[Xyz, ...] = ()


def frame_mitres(bicycle: Bicycle, shell_diameter: float | None = None) -> tuple[Mitre, ...]:
    """Every tube end of the frame that is cut to another round tube. Oval tubes and ends that run almost along their
    neighbour are left out (see `mitre_findings`); fork blades, dropouts and lugs are not tube-to-tube joints. Without
    a diameter the shell is the bicycle's own.

    Raises
    ------
    ModelError
        When the bicycle does not place all tubes, a tube is missing in the table, or the shell cannot be.
    """
    if shell_diameter is None:
        shell_diameter = bicycle.part("bb_shell").od
    if not SHELLS[0] <= shell_diameter <= SHELLS[1]:
        raise ModelError(
            f"bottom bracket shell {shell_diameter:g} mm across, expected {SHELLS[0]:g} to {SHELLS[1]:g}; "
            "measure its outside diameter"
        )
    mitres = []
    for cut in cut_ends(bicycle, shell_diameter):
        # A tube that runs almost alongside gives no line to cut to; it is told.
        axes = [(n, axis) for n, axis in cut.axes if not cut.alongside(axis)]
        if axes and axes[0][0] == cut.axes[0][0]:
            role = bicycle.plan.role(cut.member.tube)
            mitres.append(_mitre(cut.member, role, bicycle.tubes[role.name], cut.end, axes))
    return tuple(mitres)


@dataclass(frozen=True)
class CutEnd:
    """A tube end and the axes of what it is cut to: the first runs through, those struck on the way begin there."""

    member: Member
    end: End
    axes: list[tuple[str, Axis]]

    @property
    def path(self) -> Array:
        """The centre-line from this end on."""
        return np.array(self.member.path if self.end == "start" else self.member.path[::-1])

    def kept(self, mitres: tuple[Mitre, ...]) -> list[tuple[str, Axis]]:
        """The neighbours that its template is cut to."""
        mine = (m for m in mitres if (m.member, m.at_end) == (self.member.name, self.end))
        names = {cut.neighbour for mitre in mine for cut in mitre.cuts}
        return [(name, axis) for name, axis in self.axes if name in names]

    def reach(self, axis: Axis, tube: Tube) -> float:
        """Half the length of the joint along the neighbour, mm, at the most."""
        away = self.member.tangent(0 if self.end == "start" else -1)
        steep = float(np.linalg.norm(np.cross(away, axis.direction)))
        return (max(tube.od_start, tube.od_end) / 2 + axis.radius) / max(steep, 0.1)

    def alongside(self, axis: Axis) -> bool:
        """Whether the neighbour's axis is less than `LEAST_ANGLE` off the tube's own."""
        away = self.member.tangent(0 if self.end == "start" else -1)
        return bool(np.linalg.norm(np.cross(away, axis.direction)) < sin(radians(LEAST_ANGLE)))


def cut_ends(bicycle: Bicycle, shell_diameter: float) -> Iterator[CutEnd]:
    """Every round tube end that is cut to a round neighbour."""
    layout = lay_out(bicycle)
    struck_too = _struck_too(bicycle, layout)
    for member in layout.members:
        tube = tube_of(bicycle, member.tube)
        side = member.name.removeprefix(f"{member.tube}_")
        for end, named in bicycle.plan.role(member.tube).mitred.items():
            met = [(n, side) for n in named]
            met += [
                (without_side(other), other.rpartition("_")[2])
                for other in struck_too.get((member.name, end), ())
            ]
            round_ones = [(n, of) for n, of in met if _is_round(bicycle, n)]
            # Without its first neighbour an end has nothing to be cut to.
            if tube.oval_width is None and met[0] in round_ones:
                joint = np.array(member.path[0 if end == "start" else -1])
                axes = [
                    (n, _axis(n, of, layout, bicycle, shell_diameter, joint, n != named[0]))
                    for n, of in round_ones
                ]
                yield CutEnd(member, end, axes)


def _struck_too(bicycle: Bicycle, layout: FrameLayout) -> dict[tuple[str, End], list[str]]:
    """(member, end) -> tubes that it strikes there on its way, though the plan does not name them."""
    found: dict[tuple[str, End], list[str]] = {}
    for one in struck(bicycle, layout):
        if one.end is not None:
            found.setdefault((one.member, one.end), []).append(one.other)
    return found


def _is_round(bicycle: Bicycle, neighbour: str) -> bool:
    return neighbour == SHELL or tube_of(bicycle, neighbour).oval_width is None


def tube_of(bicycle: Bicycle, name: str) -> Tube:
    if name not in bicycle.tubes:
        raise ModelError(
            f"the tube table has no {spoken(name)}; add its row to work out the mitres"
        )
    return bicycle.tubes[name]


def _axis(
    name: str,
    side: str,
    layout: FrameLayout,
    bicycle: Bicycle,
    shell_diameter: float,
    joint: Array,
    ends: bool,
) -> Axis:
    """The neighbour's axis, with the cone that it is where the joint is; of a bent neighbour the tangent there.

    side : right or left, of a neighbour that is a pair. ends : whether one that ends near the joint begins there.
    """
    if name == "bb_shell":
        # A frame for two has two shells: the one that the tube runs to.
        foot = np.array([joint[0], joint[1], 0.0])
        return Axis(foot, np.array([0.0, 0.0, 1.0]), shell_diameter / 2, False)
    member = layout.standing_at(name, side, joint)
    start, end, run = member.piece_at(joint)
    length = np.linalg.norm(end - start) if member.bent else member.length
    direction = (end - start) / length
    tube = bicycle.tubes[name]
    # a joint a hair beyond the end is met at the end
    at = float(np.clip(run + (joint - start) @ direction, 0, member.length))
    low, high = _cone_about(tube, member.length, at)
    taper = _growth(tube, member.length, low, high) / 2
    kink = min((abs(place - at) for place in tube.kinks(member.length)), default=inf)
    bent = member.path if member.bent else ()
    # What it would be at the start of the piece if the cone ran on to there.
    radius = float(tube.heights(member.length, low)) / 2 + taper * (run - low)
    # a neighbour that ends here is met from its nearer end; one that passes by runs through
    whole = np.array(member.path)
    ends = ends and float(np.linalg.norm(joint - whole[[0, -1]], axis=1).min()) < ENDS_HERE
    if ends and np.linalg.norm(joint - whole[-1]) < np.linalg.norm(joint - whole[0]):
        radius += taper * float(direction @ (whole[-1] - start))
        return Axis(whole[-1], -direction, radius, ends, -taper, kink, bent)
    if ends:
        radius += taper * float(direction @ (whole[0] - start))
        start = whole[0]
    return Axis(start, direction, radius, ends, taper, kink, bent)


def _cone_about(tube: Tube, length: float, at: float) -> tuple[float, float]:
    """From where to where along a tube its outside grows evenly about a place, mm from its start."""
    kinks = (0.0, *tube.kinks(length))
    low = max(kink for kink in kinks if kink <= at)
    high = min((kink for kink in kinks if kink > low), default=length)
    return low, high


def _growth(tube: Tube, length: float, low: float, high: float) -> float:
    """Growth of the diameter per mm between two places."""
    first, last = tube.heights(length, np.array([low, high]))
    return float(last - first) / (high - low)


def _mitre(
    member: Member, role: TubeRole, tube: Tube, end: End, axes: list[tuple[str, Axis]]
) -> Mitre:
    path = np.array(member.path if end == "start" else member.path[::-1])
    into = (path[0] - path[1]) / np.linalg.norm(path[0] - path[1])
    if role.bend is not None:
        into = -member.tangent(0 if end == "start" else -1)
    # a mark that a builder can find on the tube, and not an angle of the drawing
    zero, marks = reference(role, into)
    # Of the radius per mm away from this end, so seen from the far end it is reversed.
    if end == "start":
        growth = tube.growth(member.length, 0) / 2
    else:
        growth = -tube.growth(member.length, 1) / 2
    cuts = [cut_between(path[0], into, zero, name, axis) for name, axis in axes]
    mitre = Mitre(member.name, tube, end, member.length, growth, tuple(cuts[:1]), marks)
    phi = np.linspace(0, 2 * pi, STEPS, endpoint=False)
    for cut in cuts[1:]:  # a tube struck first; kept only where it takes something away
        first = cut.line(mitre.radius, phi, growth)
        if np.nanmax(np.where(np.isfinite(first), first - mitre.outer(phi), -1.0)) > 1e-6:
            mitre = Mitre(member.name, tube, end, member.length, growth, (*mitre.cuts, cut), marks)
    return mitre


def reference(role: TubeRole, into: Array) -> tuple[Array, tuple[str, str, str, str]]:
    """The direction of template angle 0 and the four sides' names."""
    name = role.template_from
    if abs(into[1]) > STANDS:
        name = "front"
    # top, or front for a tube that stands upright: there top would be its own direction
    wanted = np.array([0.0, 1.0, 0.0] if name == "top" else [1.0, 0.0, 0.0])
    zero = wanted - (wanted @ into) * into
    zero /= np.linalg.norm(zero)
    quarter = np.cross(into, zero)
    # Angles run right-handed about the way into the neighbour; z is the drive side.
    if quarter[2] > 0:
        sides = ("drive side", "left side")
    else:
        sides = ("left side", "drive side")
    return zero, (name, sides[0], OPPOSITE[name], sides[1])


def cut_between(joint: Array, into: Array, zero: Array, name: str, axis: Axis) -> Cut:
    """The cut of a tube that ends at `joint`, running along `into`, against a neighbour.

    `zero` is the unit direction of template angle 0, square to `into`. The neighbour's direction is turned
    to the acute side when it runs through.

    Raises
    ------
    ModelError
        For a tube that runs within `LEAST_ANGLE` of the neighbour's own direction.
    """
    away = -into
    u = axis.direction
    taper = axis.taper
    # a neighbour that runs through has no direction of its own: the acute side keeps angles below
    # 90
    if not axis.ends and away @ u < 0:
        u = -u
        taper = -taper
    angle = acos(float(np.clip(away @ u, -1, 1)))
    lean = u - (u @ away) * away
    if np.linalg.norm(lean) < sin(radians(LEAST_ANGLE)):
        raise ModelError(
            f"the tube runs within {LEAST_ANGLE:g} degrees of the {spoken(name)}: no mitre can be cut"
        )
    # where the neighbour leans to: the template's low point lies there
    lean = lean / np.linalg.norm(lean)
    side = np.cross(into, lean)
    between = axis.point - joint
    # Feet of the common perpendicular: solve joint + f away + e side = point + g u for f, e, g.
    f, e, g = np.linalg.solve(np.column_stack([away, side, -u]), between)
    roll = degrees(atan2(float(np.cross(into, zero) @ lean), float(zero @ lean)))
    return Cut(
        name,
        axis.radius + taper * float(g),
        degrees(angle),
        float(e),
        roll,
        float(f),
        -float(g) if axis.ends else None,
        taper,
    )


# --- what to saw -----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class CutLength:
    """Lengths of one tube with its mitres cut, mm.

    longest : long point to long point, the length to saw first. shortest : throat to throat, at one generator each.
    A free end (seat tube top, dropout) counts to its joint: take the dropout off.
    """

    member: str
    centre_to_centre: float
    longest: float
    shortest: float


def cut_lengths(mitres: tuple[Mitre, ...]) -> tuple[CutLength, ...]:
    """One line per tube that has a mitre."""
    # A tube that passes its neighbour by has no cut there.
    touching = [m for m in mitres if m.coverage]
    ends: dict[str, list[Mitre]] = {}
    for mitre in touching:
        ends.setdefault(mitre.member, []).append(mitre)
    return tuple(map(_cut_length, ends.values()))


def _cut_length(ends: list[Mitre]) -> CutLength:
    length = ends[0].length
    long_points = sum(m.long_point for m in ends)
    short_points = sum(m.short_point for m in ends)
    # The long point is the least distance from a joint: taken off, it leaves the most tube.
    return CutLength(ends[0].member, length, length - long_points, length - short_points)


def square_lengths(bicycle: Bicycle) -> dict[str, float]:
    """Tube -> length along its centre-line, mm, of those without a mitre; of a pair one.

    Head tube, blades from the crown race's level to the axle's centre, steerer from there to the middle of the stem.
    """
    members = {member.name: member for member in lay_out(bicycle).members}
    lengths = {}
    for role in bicycle.roles:
        if not role.mitred:
            name = f"{role.name}_right" if role.paired else role.name
            lengths[role.name] = members[name].length
    return lengths
