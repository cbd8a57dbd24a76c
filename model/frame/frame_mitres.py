"""Which tube ends of a frame are mitred to which neighbours, what to saw, and what to look at before cutting."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import acos, atan2, degrees, pi, radians, sin

import numpy as np

from ..arrays import Array, run_of
from ..errors import ModelError
from ..findings import Finding, Severity
from ..tubes.places import EACH, AtJoint
from ..tubes.plan import SHELL, End, FramePlan, TubeRole, without_side
from ..tubes.racks import RACKS
from ..tubes.tube import Tube
from ..words import spoken
from .bicycle import Bicycle
from .layout import FrameLayout, Member, lay_out
from .mitre import LEAST_ANGLE, STEPS, Cut, Mitre
from .slips import past_the_shell, width_at_shell

STANDS = 0.87  # sine of 60 degrees to the ground: on a steeper tube nobody finds the top side
SHELLS = (25.0, 80.0)  # mm, believable outside diameters of a bottom bracket shell
OPPOSITE = {"top": "bottom", "front": "back"}


@dataclass(frozen=True)
class Axis:
    """A neighbour's axis: a point on it where it begins (or any point), unit direction, radius."""

    point: Array
    direction: Array
    radius: float
    ends: bool  # True: the neighbour begins at `point`; False: it runs through


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
    for cut in _cut_ends(bicycle, shell_diameter):
        # A tube that runs almost alongside gives no line to cut to; it is told.
        axes = [(n, axis) for n, axis in cut.axes if not cut.alongside(axis)]
        if axes and axes[0][0] == cut.axes[0][0]:
            role = bicycle.plan.role(cut.member.tube)
            mitres.append(_mitre(cut.member, role, bicycle.tubes[role.name], cut.end, axes))
    return tuple(mitres)


@dataclass(frozen=True)
class _CutEnd:
    """A tube end and the axes of what it is cut to: the first runs through, those struck on the way begin there."""

    member: Member
    end: End
    axes: list[tuple[str, Axis]]

    @property
    def path(self) -> Array:
        """The centre-line from this end on."""
        return np.array(self.member.path if self.end == "start" else self.member.path[::-1])

    def alongside(self, axis: Axis) -> bool:
        """Whether the neighbour's axis is less than `LEAST_ANGLE` off the tube's own."""
        away = self.member.tangent(0 if self.end == "start" else -1)
        return bool(np.linalg.norm(np.cross(away, axis.direction)) < sin(radians(LEAST_ANGLE)))


def _cut_ends(bicycle: Bicycle, shell_diameter: float) -> Iterator[_CutEnd]:
    """Every round tube end that is cut to a round neighbour."""
    layout = lay_out(bicycle)
    for member in layout.members:
        tube = _tube(bicycle, member.tube)
        side = member.name.removeprefix(f"{member.tube}_")
        for end, neighbours in bicycle.plan.role(member.tube).mitred.items():
            round_ones = [n for n in neighbours if _is_round(bicycle, n)]
            # Without its first neighbour an end has nothing to be cut to.
            if tube.oval_width is None and neighbours[0] in round_ones:
                joint = np.array(member.path[0 if end == "start" else -1])
                axes = [
                    (n, _axis(n, side, layout, bicycle, shell_diameter, joint, n != neighbours[0]))
                    for n in round_ones
                ]
                yield _CutEnd(member, end, axes)


def _is_round(bicycle: Bicycle, neighbour: str) -> bool:
    return neighbour == SHELL or _tube(bicycle, neighbour).oval_width is None


def _tube(bicycle: Bicycle, name: str) -> Tube:
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
    """The neighbour's axis, with its radius where the joint is (a tapered head tube is taken as round there); of a bent
    neighbour the tangent there. side : of the cut tube, for a neighbour that is a pair."""
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
    radius = float(tube.heights(member.length, at)) / 2
    # a neighbour that ends here is met from its nearer end
    whole = np.array(member.path)
    if ends and np.linalg.norm(joint - whole[-1]) < np.linalg.norm(joint - whole[0]):
        start = whole[-1]
        direction = -direction
    elif ends:
        start = whole[0]
    return Axis(start, direction, radius, ends)


def _mitre(
    member: Member, role: TubeRole, tube: Tube, end: End, axes: list[tuple[str, Axis]]
) -> Mitre:
    path = np.array(member.path if end == "start" else member.path[::-1])
    into = (path[0] - path[1]) / np.linalg.norm(path[0] - path[1])
    if role.bend is not None:
        into = -member.tangent(0 if end == "start" else -1)
    # a mark that a builder can find on the tube, and not an angle of the drawing
    zero, marks = _reference(role, into)
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


def _reference(role: TubeRole, into: Array) -> tuple[Array, tuple[str, str, str, str]]:
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
    # a neighbour that runs through has no direction of its own: the acute side keeps angles below
    # 90
    if not axis.ends and away @ u < 0:
        u = -u
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
        axis.radius,
        degrees(angle),
        float(e),
        roll,
        float(f),
        -float(g) if axis.ends else None,
    )


# --- what to saw, and what to look at -----------------------------------------------------------------------


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


def mitre_findings(bicycle: Bicycle, mitres: tuple[Mitre, ...]) -> tuple[Finding, ...]:
    """What a builder should look at before cutting."""
    found = [f for mitre in mitres for f in (*_contact(mitre), *_butt(mitre), *_second(mitre))]
    found += _past_the_shell(bicycle)
    for cut_end in _cut_ends(bicycle, bicycle.part("bb_shell").od):
        found += [*_alongside(cut_end), *_bent(bicycle, cut_end, mitres)]
    found += _of_racks(bicycle)
    joined = _joined_by_mitres(bicycle)
    ovals = [name for name in joined if _tube(bicycle, name).oval_width is not None]
    for mitre, cut in ((m, c) for m in mitres for c in m.cuts if c.neighbour != "bb_shell"):
        tube = _tube(bicycle, cut.neighbour)
        if tube.is_tapered:
            found.append(
                Finding(
                    "mitre-tapered-neighbour",
                    "warning",
                    f"{mitre.title}: the {spoken(cut.neighbour)} "
                    f"is tapered; the template takes it as round, {2 * cut.neighbour_radius:.1f} mm as at "
                    "the joint, so leave a little to file",
                    mitre.member,
                )
            )
    return (
        *found,
        *(
            Finding(
                "mitre-oval",
                "warning",
                f"the {spoken(name)} is not round; templates are worked out "
                "for round tube only, so its ends and tubes that end on it have none",
                name,
            )
            for name in ovals
        ),
    )


def _of_racks(bicycle: Bicycle) -> list[Finding]:
    """What no template shows of a rack's tubes."""
    plan = bicycle.plan
    told = []
    for rack in plan.racks:
        rods = RACKS[rack.name].in_region("rack")
        held = ", ".join(
            role.label for role in bicycle.roles if role.name in rods and _on_frame(plan, role)
        )
        ends = "flattened or tipped for their bolts" if rack.bolted else "fitted by file"
        told.append(
            Finding(
                "mitre-rack",
                "info",
                f"{rack.label}: legs, struts and cross pieces are cut to the side of a rail at its very end, so leave "
                f"the rails some 10 mm longer; ends on the frame ({held}) have no template: they are {ends}",
                rack.name,
            )
        )
    return told


def _on_frame(plan: FramePlan, rod: TubeRole) -> bool:
    """Whether one of a rod's ends lies on the frame or fork itself."""
    own = {*dict(plan.joints), *plan.in_region("rack")}
    for place in rod.ends:
        named = place.name if isinstance(place, AtJoint) else getattr(place, "tube", "")
        if named and without_side(named.removesuffix("_" + EACH)) not in own:
            return True
    return False


def _alongside(cut: _CutEnd) -> list[Finding]:
    """Neighbours that the tube meets so flat that no line can be cut."""
    found = []
    for name, axis in cut.axes:
        if not cut.alongside(axis):
            continue
        if name == cut.axes[0][0]:
            what = "so this end has no template; fit it by hand, or move one of its ends"
        else:
            what = "so its template is not cut to it; if they touch there, fit by hand or set the joints apart"
        found.append(
            Finding(
                "mitre-alongside",
                "warning",
                f"the {spoken(cut.member.name)} runs within {LEAST_ANGLE:g} degrees of the {spoken(name)} at its "
                f"{cut.end}, {what}",
                cut.member.name,
            )
        )
    return found


def _bent(bicycle: Bicycle, cut: _CutEnd, mitres: tuple[Mitre, ...]) -> list[Finding]:
    """How far the template of a bent tube is off, which follows the tangent at its end."""
    if bicycle.plan.role(cut.member.tube).bend is None:
        return []
    reach = [m.short_point for m in mitres if (m.member, m.at_end) == (cut.member.name, cut.end)]
    if not reach or not np.isfinite(reach[0]):
        return []
    path = cut.path
    run = run_of(path)
    at = np.array([np.interp(reach[0], run, path[:, k]) for k in range(3)])
    tangent = cut.member.tangent(0 if cut.end == "start" else -1)
    off = float(np.linalg.norm(np.cross(at - path[0], tangent)))
    if off < 0.05:
        return []
    return [
        Finding(
            "mitre-bent",
            "info",
            f"the {spoken(cut.member.name)} is bent: its template follows the tangent at its {cut.end} and is off by "
            f"up to {off:.1f} mm at the throat; leave that much to file",
            cut.member.name,
        )
    ]


def _joined_by_mitres(bicycle: Bicycle) -> list[str]:
    """The frame's mitred tubes, then the tubes they are mitred to that have no mitre themselves."""
    roles = [role for role in bicycle.roles if role.mitred]
    met = [role.name for role in roles]
    for role in roles:
        for neighbours in role.mitred.values():
            met += [name for name in neighbours if name != SHELL]
    return list(dict.fromkeys(met))


def _past_the_shell(bicycle: Bicycle) -> list[Finding]:
    """Chainstays set so wide that they overhang the shell."""
    over = past_the_shell(bicycle)
    if over <= 1e-9:
        return []
    f = bicycle.fittings
    od = width_at_shell(_tube(bicycle, "chainstay"))
    return [
        Finding(
            "mitre-past-shell",
            "warning",
            f"the chainstays ({od:.1f} mm, {f.chainstay_spacing:.1f} mm apart) "
            f"reach {over:.1f} mm past the ends of the {f.bb_shell_width:.1f} mm shell, where they meet "
            f"nothing; set them {f.bb_shell_width - od:.1f} mm apart or less, or squeeze their ends oval",
            "chainstay",
        )
    ]


def _contact(mitre: Mitre) -> list[Finding]:
    if mitre.coverage == 1.0:
        return []
    first = mitre.cuts[0]
    # two reasons, two remedies: too large, or beside the axis
    if mitre.radius > first.neighbour_radius:
        why = (
            f"it is larger ({mitre.od:.1f} mm) than its neighbour ({2 * first.neighbour_radius:.1f} mm), so its "
            "sides pass by; take a larger neighbour, or squeeze the end oval first"
        )
    else:
        why = (
            f"its axis runs {abs(first.offset):.1f} mm beside the neighbour's; the template shows the touching part "
            "only, close the rest with a cap"
        )
    # the usual capped seatstay
    touches_beside = mitre.coverage > 0 and mitre.radius <= first.neighbour_radius
    if mitre.coverage:
        share = f"only {100 * mitre.coverage:.0f} % of the {mitre.title} meets it"
    else:
        share = f"the {mitre.title} does not touch it"
    if touches_beside:
        severity: Severity = "info"
    else:
        severity = "warning"
    return [Finding("mitre-partial", severity, f"{share}: {why}", mitre.member)]


def _butt(mitre: Mitre) -> list[Finding]:
    if not mitre.tube.butts or not mitre.coverage:
        return []
    if mitre.at_end == "end" and len(mitre.tube.butts) < 2:
        return []  # single butted: the thin end has no butt to fall short
    butt = mitre.tube.butts[0 if mitre.at_end == "start" else -1]
    if butt > mitre.depth:
        return []
    return [
        Finding(
            "mitre-butt-short",
            "warning",
            f"{mitre.title}: the thick end is {butt:.0f} mm long, the mitre "
            f"takes {mitre.depth:.1f} mm, so the throat is cut in the thin wall; take a longer butt",
            mitre.member,
        )
    ]


def _second(mitre: Mitre) -> list[Finding]:
    if len(mitre.cuts) < 2:
        return []
    other = " and the ".join(spoken(cut.neighbour) for cut in mitre.cuts[1:])
    return [
        Finding(
            "mitre-two-neighbours",
            "info",
            f"the {spoken(mitre.member)} strikes the {other} before it is "
            f"home on the {spoken(mitre.cuts[0].neighbour)}; its template is cut to both, so fit the {other} "
            "first",
            mitre.member,
        )
    ]
