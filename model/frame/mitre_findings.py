"""What a builder should look at before cutting to the templates of a frame."""

from math import pi

import numpy as np

from ..arrays import Array, run_of
from ..findings import Finding, Severity
from ..tubes.places import EACH, AtJoint
from ..tubes.plan import SHELL, FramePlan, TubeRole, without_side
from ..tubes.racks import RACKS
from ..words import spoken
from .bicycle import Bicycle
from .centre_lines import distance_along, point_at
from .frame_mitres import Axis, CutEnd, cut_ends, reference, tube_of
from .layout import FrameLayout, lay_out
from .mitre import LEAST_ANGLE, Mitre
from .slips import past_the_shell, width_at_shell
from .struck import strikes


def mitre_findings(bicycle: Bicycle, mitres: tuple[Mitre, ...]) -> tuple[Finding, ...]:
    """What a builder should look at before cutting."""
    found = [f for mitre in mitres for f in (*_contact(mitre), *_butt(mitre), *_second(mitre))]
    found += _past_the_shell(bicycle)
    layout = lay_out(bicycle)
    for cut_end in cut_ends(bicycle, bicycle.part("bb_shell").od):
        found += [
            *_alongside(bicycle, layout, cut_end),
            *_bent(bicycle, cut_end, mitres),
            *_on_bent(bicycle, cut_end, mitres),
            *_kinked(bicycle, cut_end, mitres),
        ]
    found += _of_racks(bicycle)
    joined = _joined_by_mitres(bicycle)
    ovals = [name for name in joined if tube_of(bicycle, name).oval_width is not None]
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


def _alongside(bicycle: Bicycle, layout: FrameLayout, cut: CutEnd) -> list[Finding]:
    """Neighbours that the tube meets so flat that no line can be cut."""
    found = []
    for name, axis in cut.axes:
        if not cut.alongside(axis):
            continue
        if name == cut.axes[0][0]:
            what = "so this end has no template; fit it by hand, or move one of its ends"
        elif strikes(bicycle, layout, cut.member.name, name):
            what = "so its template is not cut to it; they touch there, so fit by hand or set the joints apart"
        else:
            continue
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


def _kinked(bicycle: Bicycle, cut: CutEnd, mitres: tuple[Mitre, ...]) -> list[Finding]:
    """Neighbours that begin or end to taper where the tube meets them: its template knows the one cone only."""
    found = []
    for name, axis in cut.kept(mitres):
        if axis.kink < cut.reach(axis, bicycle.tubes[cut.member.tube]):
            found.append(
                Finding(
                    "mitre-tapered-neighbour",
                    "warning",
                    f"{spoken(cut.member.name)} at the {spoken(name)}: the {spoken(name)} begins or ends to taper "
                    f"{axis.kink:.0f} mm from the joint, and the template takes it as the one cone that it is at the "
                    "joint; leave a little to file",
                    cut.member.name,
                )
            )
    return found


def _bent(bicycle: Bicycle, cut: CutEnd, mitres: tuple[Mitre, ...]) -> list[Finding]:
    """How far the template of a bent tube is off, which follows the tangent at its end."""
    role = bicycle.plan.role(cut.member.tube)
    mine = [m for m in mitres if (m.member, m.at_end) == (cut.member.name, cut.end) and m.coverage]
    if role.bend is None or not mine:
        return []
    off = _off_the_bend(cut, role, mine[0], [axis for _, axis in cut.kept(mitres)])
    if off < 0.05:
        return []
    return [
        Finding(
            "mitre-bent",
            "info",
            f"the {spoken(cut.member.name)} is bent: its template follows the tangent at its {cut.end} and is off by "
            f"up to {off:.1f} mm; leave that much to file",
            cut.member.name,
        )
    ]


def _off_the_bend(cut: CutEnd, role: TubeRole, mitre: Mitre, axes: list[Axis]) -> float:
    """Most that the line of the tangent differs from where the bent surface strikes, mm along the tube: by one step of
    Newton from the line, the tube being an arc of the curvature that it has at its end."""
    first = 0 if cut.end == "start" else -1
    away = cut.member.tangent(first)
    zero, _ = reference(role, -away)
    steps = np.diff(cut.path[:3], axis=0)
    lengths = np.linalg.norm(steps, axis=1)
    curving = (steps[1] / lengths[1] - steps[0] / lengths[0]) / (lengths.sum() / 2)
    phi = np.linspace(0, 2 * pi, 72, endpoint=False)
    line = mitre.outer(phi)
    phi = phi[np.isfinite(line)]
    line = line[np.isfinite(line)]

    def outside(s: Array) -> Array:
        """How far the bent tube's surface is from the neighbour that it is nearest to."""
        along = away + s[:, None] * curving
        along /= np.linalg.norm(along, axis=1)[:, None]
        up = zero - (along @ zero)[:, None] * along
        up /= np.linalg.norm(up, axis=1)[:, None]
        across = np.cos(phi)[:, None] * up - np.sin(phi)[:, None] * np.cross(along, up)
        middle = cut.path[0] + s[:, None] * away + (s**2 / 2)[:, None] * curving
        points = middle + (mitre.radius + mitre.taper * s)[:, None] * across
        return np.asarray(np.min([_off_surface(axis, points) for axis in axes], axis=0))

    slope = outside(line + 0.5) - outside(line - 0.5)
    return float(np.abs(outside(line) / slope).max())


def _off_surface(axis: Axis, points: Array) -> Array:
    """Distance of points from a neighbour's surface, mm; below zero inside."""
    off = points - axis.point
    radius = axis.radius + axis.taper * (off @ axis.direction)
    return np.asarray(np.linalg.norm(np.cross(off, axis.direction), axis=1) - radius)


def _on_bent(bicycle: Bicycle, cut: CutEnd, mitres: tuple[Mitre, ...]) -> list[Finding]:
    """How far the template is off where the neighbour is bent, which it takes as straight along its tangent."""
    found = []
    for name, axis in cut.kept(mitres):
        if not axis.path:
            continue
        path = np.array(axis.path)
        run = run_of(path)
        at = distance_along(axis.path, cut.member.path[0 if cut.end == "start" else -1])
        reach = cut.reach(axis, bicycle.tubes[cut.member.tube])
        places = np.clip([at - reach, at, at + reach], 0.0, run[-1])
        ends = point_at(path, run, places)
        off = np.linalg.norm(np.cross(ends - ends[1], axis.direction), axis=1).max()
        if off >= 0.05:
            found.append(
                Finding(
                    "mitre-bent",
                    "info",
                    f"the {spoken(name)} is bent where the {spoken(cut.member.name)} meets it: the template takes it "
                    f"as straight there and is off by up to {off:.1f} mm; leave that much to file",
                    cut.member.name,
                )
            )
    return found


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
    od = width_at_shell(tube_of(bicycle, "chainstay"))
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
    if not mitre.coverage:
        short = abs(first.offset) - mitre.radius - first.neighbour_radius
        why = (
            f"its axis runs {abs(first.offset):.1f} mm beside the neighbour's, {short:.1f} mm too far; set the pair "
            "closer together, or carry it by a plate or lug"
        )
    elif mitre.radius > first.neighbour_radius:
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
