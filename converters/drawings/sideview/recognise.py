"""A drawing's curves become a side view: members recognised, dimensions measured, doubts named.

Stages, each a module: curves -> pieces and rounds (pieces, rounds) -> strokes -> poses ->
candidates per member -> search -> choice -> members in mm -> nodes and dimensions -> checks and labels.
"""

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import replace
from math import hypot

from ....model.errors import InputError, ModelError
from ....model.geometry.dimensions import FrameDimensions
from ....model.uncollected import uncollected
from ..drawing import Drawing
from ..labelling.choice import Choice, choose
from ..labelling.doubt import InDoubtError
from ..labelling.measure import Measured, measure
from ..labelling.members import label
from ..labelling.other_kinds import BY_POINTS
from ..labelling.refuse import left_out, refuse_unheeded
from ..labelling.witnesses import SHELL_SIZE
from ..linework.evidence import Evidence, settled
from ..linework.lines import Candidate
from ..linework.pieces import cut
from ..linework.plane import Vec
from ..linework.pose import RIM, Site
from ..linework.rounds import (
    FULL,
    LEAST_COVERAGE,
    SHORT_COVERAGE,
    find_rounds,
    with_traced,
    wobble,
)
from .checks import findings
from .checks_wheels import BEAD_SEATS, QUARTER, RIM_INSIDE, refuse_missing_tyre
from .free_lines import free_lines
from .further_tubes import further_findings, off_members
from .gaps import gaps
from .labels import labels
from .leftovers import second_lines
from .member_lines import member_extents, member_lines, member_paths, node_points
from .open_ends import refuse_open_ends
from .pivots import refuse_pivots
from .precision import grid, precision, precision_findings, resolution
from .side_view import SideView, Told, Transform
from .stretch import stretch_of
from .units import ScaleDecision, decide_scale
from .written import written_findings

ABOUT_BB = 1.0  # mm from the bottom bracket to the centre of a circle that is its shell
DIAMETERS = (
    "head_tube",
    "top_tube",
    "down_tube",
    "seat_tube",
    "chainstay",
    "seatstay",
    "fork_blade",
    "bb_shell",
)


def recognise(
    drawing: Drawing,
    units: str | None = None,
    scale: float | None = None,
    layers: Mapping[str, str] | None = None,
    pick: Mapping[str, str] | None = None,
    loose: frozenset[str] = frozenset(),
) -> SideView:
    """Find the diamond frame in a drawing and measure it.

    Parameters
    ----------
    units, scale : unit of the drawing ("mm", "inch" ...) and N of a scale 1:N, when the user states them.
    layers : layer name -> member. pick : member -> handle[,handle]. Both settle a doubt by hand. loose : members whose
    upper end joins a tube that is not among the drawing's lines.

    Raises
    ------
    InputError
        When no frame, more than one, or no wheel is found, or the unit is in doubt; one line with the next step, and
        what of the file was left out.
    """
    return recognise_told(drawing, Told(units, scale, layers, pick, loose))


@uncollected()
def recognise_told(drawing: Drawing, told: Told) -> SideView:
    """The same with what the user says as one value."""
    try:
        return _by_its_tyres(_recognise(drawing, LEAST_COVERAGE, told), told)
    except InDoubtError as error:
        readings = _measured_options(error, drawing, told)
        raise error.again(error.said + left_out(drawing), readings) from None
    # short arcs as wheels only after that: taken at once they would compete with true wheels
    except InputError as error:
        found = _otherwise(drawing, told)
        if found is None:
            raise InputError(
                f"{error}{left_out(drawing)}", lines=error.lines, option=error.option
            ) from None
        return found


def _by_its_tyres(view: SideView, told: Told) -> SideView:
    """The same with short arcs as wheels, where the arcs taken lie on a layer for mudguards and others do not."""
    if not (view.tyres_unlikely and _has_short_arcs(view.drawing)):
        return view
    with suppress(InputError):
        other = _recognise(view.drawing, SHORT_COVERAGE, told)
        if not other.tyres_unlikely:
            return other
    return view


def _measured_options(
    doubt: InDoubtError, drawing: Drawing, told: Told
) -> list[tuple[str, FrameDimensions]]:
    """What each way to settle a doubt gives, so that the builder sees what hangs on it."""
    readings = []
    for words, picks in doubt.options:
        # an option that is refused when tried is only left without its numbers
        with suppress(InputError):
            # the option comes last: it answers what the builder's own picks left open
            wanted = {**(told.pick or {}), **picks}
            view = _recognise(drawing, LEAST_COVERAGE, replace(told, pick=wanted))
            readings.append((words, view.dimensions))
    return readings


def _otherwise(drawing: Drawing, told: Told) -> SideView | None:
    """What was refused, with short arcs as wheels, then as what else the file can be taken for; None: refused again."""
    # without an arc the second try would give the same refusal again
    if _has_short_arcs(drawing):
        with suppress(InputError):
            return _recognise(drawing, SHORT_COVERAGE, told)
    for other in drawing.others:
        taken = other()
        for least in (LEAST_COVERAGE, SHORT_COVERAGE)[: 1 + _has_short_arcs(taken)]:
            with suppress(InputError):
                return _recognise(taken, least, told)
    return None


def _has_short_arcs(drawing: Drawing) -> bool:
    return any(curve.kind == "arc" for curve in drawing.curves)


def _recognise(drawing: Drawing, least: float, told: Told) -> SideView:
    """`least`: share of a wheel's circle that must be drawn."""
    evidence = settled(drawing.curves, told.layers, told.pick)
    shown = [
        # kept as a construction line, so that the indices of all other curves stay
        c if not evidence.ignored(i) else replace(c, construction=True, radius=None, kind="line")
        for i, c in enumerate(drawing.curves)
    ]
    rounds = find_rounds(shown, least)
    # measured on the two largest circles, then allowed to the smaller ones
    stray = wobble(rounds)
    rounds = with_traced(shown, rounds, stray)
    # wheels would otherwise turn up once more among the straight and curved runs
    round_curves = frozenset(i for r in rounds for i in (*r.curves, *r.copies))
    choice = choose(drawing, rounds, cut(shown, round_curves, stray), evidence)
    # a pick that had no effect must not pass unseen
    refuse_unheeded(choice.reading, told.pick or ())
    decision = _scale(drawing, choice, told)
    labelled = label(
        choice.reading, choice.rivals, dict(choice.slots), decision.mm_per_unit, told.loose
    )
    try:
        step = _resolution(drawing, choice, decision.mm_per_unit)
        measured = measure(labelled, rounds, step * decision.mm_per_unit)
    except ModelError as error:
        raise InputError(
            f"what was recognised is no bicycle: {error}; look at how the lines were taken, or name the "
            f"right ones with --pick MEMBER=HANDLE. If they are right: {BY_POINTS}",
            option="--pick",
        ) from None
    # a rim taken as tyre gives a wrong trail that looks right
    refuse_missing_tyre(measured)
    refuse_open_ends(measured, drawing)
    return _side_view(drawing, choice, measured, decision, evidence, stray)


def _resolution(drawing: Drawing, choice: Choice, mm_per_unit: float) -> float:
    """Step of the digits, or of the grid, of the curves taken as members."""
    view = choice.reading.view
    strokes = [s for c in choice.reading.members.values() if c is not None for s in c.strokes]
    taken = [drawing.curves[i] for i in dict.fromkeys(view.curves_of(strokes))]
    return max(resolution(taken), grid(taken, mm_per_unit))


def _scale(drawing: Drawing, choice: Choice, told: Told) -> ScaleDecision:
    reading = choice.reading
    # the rear axle is the origin of a reading's axes
    stay = hypot(*reading.bb) / reading.view.pose.scale
    wheels = [2 * site.tyre.radius for site in (reading.rear, reading.front)]
    return decide_scale(drawing, wheels, stay, told.units, told.scale)


def _side_view(
    drawing: Drawing,
    choice: Choice,
    m: Measured,
    decision: ScaleDecision,
    evidence: Evidence,
    stray: float,
) -> SideView:
    # found once: findings and labels must tell of the same lines
    seconds = second_lines(choice, m)
    stretch = stretch_of(drawing, (choice.reading.rear, choice.reading.front))
    known = precision(
        m,
        [g for g in gaps(m) if g.sharp],
        stretch,
        # a stretch explains the straying of the wheels; counted twice it would be doubled
        0.0 if stretch else stray * m.labelled.pose.scale,
    )
    diameters = _diameters(choice, m)
    free = free_lines(choice, m, evidence)
    refuse_pivots(m, choice.rounds, free)
    # Drawn by its edges, the top tube shows where its upper side is.
    half = (diameters["top_tube"] or 0.0) / 2
    dimensions = replace(m.dimensions, given=m.dimensions.given._replace(top_tube_half=half))
    return SideView(
        dimensions=dimensions,
        diameters=diameters,
        rim_radii={
            "front": _rim(m.labelled.reading.front, m),
            "rear": _rim(m.labelled.reading.rear, m),
        },
        labels=labels(drawing, choice, m, evidence, seconds),
        lines=member_lines(m),
        points=node_points(m),
        transform=_transform(m),
        unit=decision.unit if decision.scale == 1 else f"{decision.unit} at 1:{decision.scale:g}",
        score=choice.score,
        runner_up=choice.runner_up_score,
        precision=known,
        findings=(
            *drawing.findings,
            *decision.findings,
            *findings(drawing, choice, m, seconds, stretch),
            *further_findings(drawing, m, free),
            *precision_findings(known, dimensions),
            *written_findings(drawing, dimensions, decision.mm_per_unit, known.step),
        ),
        drawing=drawing,
        free=off_members(free, m),
        paths=member_paths(m),
        extents=member_extents(m),
        crown_height=m.ends.crown_height,
        lower_race=m.ends.lower_race,
        tyres_unlikely=any(
            site.tyre.coverage < FULL and evidence.unlikely(site.tyre)
            for site in (choice.reading.rear, choice.reading.front)
        ),
    )


def _transform(m: Measured) -> Transform:
    pose = m.labelled.pose
    turn = pose.rotation_deg
    # mirrored but hardly turned: y ran downwards in the file, so the bicycle stood on its head
    flipped = pose.mirrored and abs(turn) <= QUARTER
    mirrored = pose.mirrored and not flipped
    if mirrored:
        if turn > 0:
            turn = turn - 180.0
        else:
            turn = turn + 180.0
    return Transform(pose.scale, turn, mirrored, flipped, pose.back(m.bb.at))


def _diameters(choice: Choice, m: Measured) -> dict[str, float | None]:
    out: dict[str, float | None] = dict.fromkeys(DIAMETERS)
    for name, member in m.labelled.members.items():
        out[name] = member.diameter
    fork = m.labelled.fork
    # blades taper, so their width is stated where the crown is
    if fork is not None and fork.line is not None and fork.kind == "tube":
        out["fork_blade"] = _width_at(fork.line, m.axis.at(m.crown))
    pose = m.labelled.pose
    shells = [
        2 * r.radius * pose.scale
        for r in choice.rounds
        if SHELL_SIZE[0] <= r.radius * pose.scale <= SHELL_SIZE[1]
        and hypot(pose.apply(r.centre)[0] - m.bb.at[0], pose.apply(r.centre)[1] - m.bb.at[1])
        <= ABOUT_BB
    ]
    out["bb_shell"] = max(shells, default=None)
    return out


def _width_at(tube: Candidate, at: Vec) -> float:
    """Distance between a tube's edges, across its middle line, at a place along it."""
    t = tube.along(at)
    out = 0.0
    for a, b in tube.edges:
        share = (t - tube.along(a)) / (tube.along(b) - tube.along(a))
        out += abs(tube.lateral(a) + share * (tube.lateral(b) - tube.lateral(a)))
    return out


def _rim(site: Site, m: Measured) -> float | None:
    """The circle inside the tyre that is the rim: the only one, or the one nearest a bead seat radius."""
    scale = m.labelled.pose.scale
    tyre = site.tyre.radius
    inner = [
        r.radius * scale for r in site.rounds[1:] if RIM * tyre <= r.radius < RIM_INSIDE * tyre
    ]
    return min(inner, key=lambda r: min(abs(r - d / 2) for d in BEAD_SEATS), default=None)
