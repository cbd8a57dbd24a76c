"""A fit sheet becomes a bicycle: geometry solved with its closure, gaps filled by listed defaults, never silently."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, fields, replace
from math import hypot

from ....model.assumption import COMMON_PRACTICE, Assumed, Subject
from ....model.errors import FrameError, InputError
from ....model.findings import Finding
from ....model.frame.bicycle import (
    BICYCLE_TYPES,
    DEFAULT_SOURCES,
    Bicycle,
    Fittings,
    Loads,
    given_by,
    placed_by,
)
from ....model.frame.layout import unplaceable
from ....model.frame.slips import bicycle_slips, geometry_slips
from ....model.frame.suspension import fork_findings
from ....model.geometry.closure import Closure, ClosureRow, solve_dimensions
from ....model.geometry.dimensions import FrameDimensions
from ....model.geometry.statements import FIELDS, by_unit, label, unit
from ....model.joints.shape import JointKind
from ....model.tubes.materials import find_material
from ....model.tubes.plan import FramePlan, TubeRole
from ....model.tubes.tube import Tube
from ....model.words import spoken
from .items import ITEMS
from .sheet_rows import Statement
from .statements import FitSheet, duplicates, first_of, not_understood, read_fit_sheet
from .tubes import DEFAULT_MATERIAL

__all__ = ["FitSheet", "SheetReading", "bicycle_from_sheet", "read_fit_sheet"]


# Where the tubes meet when the sheet does not say, best first; used only where nothing else fixes it.
JOINT_DEFAULTS = {
    "top_tube_below_head_top": 35.0,
    "down_tube_above_head_bottom": 40.0,
    "seat_tube_extension": 30.0,
    "seatstay_below_top_tube": 15.0,
    "top_tube_slope_deg": 0.0,
}


# The joint that each item places.
PLACES = {
    "top_tube_below_head_top": "top_tube_head_node",
    "top_tube_on_seat_tube": "seat_tube_top_tube_node",
    "down_tube_above_head_bottom": "down_tube_head_node",
    "seat_tube_extension": "seat_tube_top_tube_node",
    "seatstay_below_top_tube": "seat_tube_seatstay_node",
    "top_tube_slope_deg": "seat_tube_top_tube_node",
}


def joint_defaults(plan: FramePlan) -> dict[str, float]:
    """What is taken where the sheet does not say where the tubes of this plan meet."""
    used = used_nodes(plan)
    return {name: value for name, value in JOINT_DEFAULTS.items() if PLACES[name] in used}


def used_nodes(plan: FramePlan) -> frozenset[str]:
    """The joints of the side view that a frame of this plan needs."""
    used = plan.used_joints
    # The seatstays' joint is counted from the top tube's, so with it comes that.
    if "seat_tube_seatstay_node" in used:
        return used | {"seat_tube_top_tube_node"}
    return used


# Derived figure -> the joint of the side view without which it says nothing.
_FIGURES = {
    "top_tube_cc": "seat_tube_top_tube_node",
    "standover": "seat_tube_top_tube_node",
    "seatstay_cc": "seat_tube_seatstay_node",
    "down_tube_cc": "down_tube_head_node",
}


def figures_of_no_tube(plan: FramePlan) -> frozenset[str]:
    """Items and derived figures of the side view that say nothing on a frame of this plan: a mixte has no top tube."""
    used = used_nodes(plan)
    return frozenset(name for name, joint in {**PLACES, **_FIGURES}.items() if joint not in used)


@dataclass(frozen=True)
class SheetReading:
    """A bicycle from a fit sheet, with everything that was compared, found and assumed on the way.

    statements : item -> stated value, mm or degrees (the first, where an item is given twice). closure : every
    redundant statement; empty when the geometry came from a drawing. not_stated : names in
    `model.geometry.statements.PREFERENCE` whose value rests on a default. tubes_stated : members with a row
    in the tube table. `assumed` is also `bicycle.assumed`.
    """

    bicycle: Bicycle
    statements: Mapping[str, float]
    closure: tuple[ClosureRow, ...]
    findings: tuple[Finding, ...]
    assumed: tuple[Assumed, ...]
    source: str
    sha256: str
    not_stated: frozenset[str] = frozenset()
    tubes_stated: frozenset[str] = frozenset()


def bicycle_from_sheet(
    sheet: FitSheet,
    tolerance_mm: float = 1.0,
    tolerance_deg: float = 0.1,
    dimensions: FrameDimensions | None = None,
) -> SheetReading:
    """The bicycle a sheet describes; with `dimensions`, the drawing's geometry and the sheet's everything else.

    Raises
    ------
    InputError
        When the sheet does not fix the frame (the message says what would complete it) or holds a value that
        cannot be together with the others.
    """
    # the first of two statements counts; the later one is held against it below
    stated = {item: s.value for item, s in first_of(sheet.statements).items()}
    defaults = joint_defaults(sheet.plan)
    plan = _plan(sheet)
    tubes = {
        # a plain steel tube keeps a sheet without tubes usable, and is listed as assumed
        role.name: sheet.tubes.get(role.name) or plain_tube(role)
        for role in plan.present(sheet.tubes)
    }
    try:
        # Fittings and Loads refuse what cannot be together, so they are made inside the try
        fittings = Fittings(**sheet.fittings)
        given = given_by(plan, tubes, placed_by(plan, fittings, sheet.placing))
        if dimensions is None:
            # without a drawing the sheet alone must fix the frame, and says what is missing
            closure = solve_dimensions(stated, tolerance_mm, tolerance_deg, defaults, given)
        else:
            drawn = {
                # the drawing's numbers are stated ones here; the sheet only fills what is not drawn
                name: value
                for name in FIELDS
                if (value := getattr(dimensions, name)) is not None
            }
            closure = solve_dimensions(
                drawn,
                defaults=stated
                | {name: value for name, value in defaults.items() if name not in stated},
                given=given,
            )
        loads = Loads(**sheet.loads)
    except FrameError as error:
        raise InputError(
            f"{sheet.source}: {error}{_half_wheels(sheet)}{not_understood(sheet)}"
        ) from error
    assumed = (
        *_assumed_geometry(sheet, closure, dimensions is not None),
        *sheet.assumed,
        *_assumed_rest(sheet, fittings, loads, tubes),
    )
    rows: tuple[ClosureRow, ...]
    # a drawing's geometry is held against the sheet elsewhere, number by number
    if dimensions is not None:
        rows = ()
    else:
        # what the sheet says twice in so many words is closure too
        rows = (*closure.rows, *_double_rows(sheet, tolerance_mm, tolerance_deg))
    findings = (
        *sheet.findings,
        *(
            # over a drawing only what the sheet filled in; its own doubts are told by itself
            _filled_from_sheet(sheet, closure)
            if dimensions is not None
            else _closure_findings(sheet, closure, tolerance_mm, tolerance_deg)
        ),
        *(geometry_slips(closure.dimensions, plan) if dimensions is None else ()),
        *(_fork_question(sheet, stated, closure) if dimensions is None else ()),
        *_of_the_suspension(sheet, plan, closure.dimensions),
    )
    bicycle = Bicycle(
        closure.dimensions,
        tubes,
        fittings,
        loads,
        sheet.name,
        assumed,
        sheet.bicycle_type or BICYCLE_TYPES[0],
        sheet.tyre_widths,
        sheet.riding,
        _joints(sheet, tubes),
        sheet.parts,
        plan,
        sheet.placing,
        sheet.suspension,
    )
    _refuse_unplaceable(sheet, bicycle)
    return SheetReading(
        bicycle,
        stated,
        rows,
        (*findings, *_placed(bicycle_slips(bicycle), sheet.source)),
        assumed,
        sheet.source,
        sheet.sha256,
        closure.by_default,
        frozenset(sheet.tubes),
    )


def _refuse_unplaceable(sheet: FitSheet, bicycle: Bicycle) -> None:
    """Raises InputError with the row of a tube whose ends or bend cannot be."""
    for tube, refused in unplaceable(bicycle, sheet.placed_by):
        raise sheet.placed_by[tube].refusal(str(refused)) from refused


def _joints(sheet: FitSheet, tubes: Mapping[str, Tube]) -> dict[str, JointKind]:
    """Tube -> how it is joined: its own cell, else what the sheet says of the whole frame."""
    if sheet.joining is None:
        return dict(sheet.joints)
    return {**dict.fromkeys(tubes, sheet.joining), **sheet.joints}


def _plan(sheet: FitSheet) -> FramePlan:
    """The sheet's plan; a fork that is a given part leaves no blades to buy."""
    if sheet.suspension is None:
        return sheet.plan
    try:
        return sheet.plan.without_fork()
    except FrameError as error:
        raise InputError(
            f"{sheet.source}: {error}; a suspension fork carries nothing bolted to its legs here: leave that row out"
        ) from error


def _of_the_suspension(
    sheet: FitSheet, plan: FramePlan, dimensions: FrameDimensions
) -> Iterator[Finding]:
    if sheet.suspension is None:
        return
    try:
        yield from fork_findings(sheet.suspension, dimensions)
    except FrameError as error:
        raise InputError(f"{sheet.source}: {error}") from error
    for tube in sheet.plan.names:
        if tube in sheet.tubes and plan.get(tube) is None:
            yield Finding(
                "sheet-unknown-tube",
                "warning",
                f"the {spoken(tube)} was not used, because the fork is a suspension fork; leave its row out, or write "
                "'fork type, rigid'",
                sheet.source,
            )


def plain_tube(role: TubeRole) -> Tube:
    """The plain steel tube that stands in for one without a row in the tube table."""
    start, end, wall = role.plain
    return Tube(find_material(DEFAULT_MATERIAL), start, end, (wall,))


def _placed(findings: Iterable[Finding], source: str) -> list[Finding]:
    """The findings with the sheet's name before what they are about."""
    return [replace(f, where=f"{source}, {spoken(f.where)}") for f in findings]


def _fork_question(
    sheet: FitSheet, stated: Mapping[str, float], closure: Closure
) -> Iterator[Finding]:
    """A fork length of no named convention is taken along the steering axis: what the other reading would make."""
    row = first_of(sheet.statements).get("fork_length")
    # a name that says how the fork was measured leaves nothing to ask
    if row is None or not row.assumption:
        return
    along = closure.dimensions
    other = {item: value for item, value in stated.items() if item != "fork_length"}
    # the same number read the other way: only then is it seen what hangs on it
    other["axle_to_crown_straight"] = row.value
    try:
        straight = solve_dimensions(
            other, defaults=joint_defaults(sheet.plan), given=along.given
        ).dimensions
    # the other reading may make no frame at all, and that is an answer
    except FrameError:
        second = "as axle to crown, straight to the race, the sheet makes no frame"
    else:
        second = f"as axle to crown, straight to the race, {_fork_makes(straight)}"
    yield Finding(
        "fork-length-convention",
        "warning",
        f"'{row.text}' for the fork's length: measured along the steering axis, as taken here, {_fork_makes(along)}; "
        f"{second}. Which is it? Write 'axle to crown' or 'fork length along axis'",
        row.where,
    )


def _fork_makes(dimensions: FrameDimensions) -> str:
    """What hangs on the fork's length."""
    # a builder measures straight from axle to race, whatever the sheet calls it
    straight = hypot(dimensions.fork_length, dimensions.fork_offset)
    return (
        f"it makes axle to crown {straight:.1f} mm, trail {dimensions.trail:.2f} mm, stack {dimensions.stack:.1f} mm "
        f"and head angle {dimensions.head_angle:.2f} degrees"
    )


def _half_wheels(sheet: FitSheet) -> str:
    half = [f.message for f in sheet.findings if f.code == "sheet-wheel-incomplete"]
    if half:
        return f" ({'; '.join(half)})"
    return ""


# --- closure --------------------------------------------------------------------------------------------------
def _double_rows(sheet: FitSheet, mm: float, deg: float) -> list[ClosureRow]:
    """An item stated twice is a closure of its own: the later statement against the first."""
    return [
        ClosureRow(s.item, s.value, first.value, by_unit(s.item, mm, deg), (s.item,))
        for first, s in duplicates(sheet.statements)
    ]


def _closure_findings(sheet: FitSheet, closure: Closure, mm: float, deg: float) -> list[Finding]:
    # a contradiction is shown where its first item stands in the sheet
    places = {
        f"closure-{item.replace('_', '-')}": s.where
        for item, s in first_of(sheet.statements).items()
    }
    found = [
        replace(finding, where=places.get(finding.code, sheet.source))
        for finding in closure.findings
    ]
    return found + [
        _stated_twice(first, s)
        for first, s in duplicates(sheet.statements)
        # within the tolerance the two statements agree, and there is nothing to say
        if abs(s.value - first.value) > by_unit(s.item, mm, deg)
    ]


def _stated_twice(first: Statement, later: Statement) -> Finding:
    message = (
        f"{label(first.item)} is stated twice: {first.value:.1f} ('{first.text}', {first.where}) is used, "
        f"{later.value:.1f} {unit(first.item)} ('{later.text}') is not; leave one out"
    )
    return Finding("sheet-duplicate-item", "warning", message, later.where)


def _filled_from_sheet(sheet: FitSheet, closure: Closure) -> list[Finding]:
    """What the drawing leaves open and the sheet says."""
    stated = first_of(sheet.statements)
    return [
        Finding(
            "sheet-fills-drawing",
            "info",
            f"{label(name)} is not in the drawing; the sheet's "
            f"{stated[name].value:g} {unit(name)} is used",
            stated[name].where,
        )
        for name in closure.defaults
        # a default that nobody stated is told as assumed, not as filled in
        if name in stated
    ]


# --- what was assumed -------------------------------------------------------------------------------------------
def _assumed_geometry(sheet: FitSheet, closure: Closure, drawn: bool) -> list[Assumed]:
    stated = {s.item for s in sheet.statements}
    conventions = dict.fromkeys(
        # over a drawing the sheet's lengths are not used, nor what they left open
        s.assumption
        for s in sheet.statements
        if s.assumption is not None and not drawn
    )
    return [
        *conventions,
        *(
            Assumed("geometry", name, label(name), JOINT_DEFAULTS[name], unit(name))
            for name in closure.defaults
            if name not in stated
        ),
    ]


def _assumed_rest(
    sheet: FitSheet, fittings: Fittings, loads: Loads, tubes: Mapping[str, Tube]
) -> list[Assumed]:
    plain = [
        Assumed("tubes", member, spoken(member), plain_words(tube))
        for member, tube in tubes.items()
        if member not in sheet.tubes
    ]
    build = [
        *_assumed_settings("build", fittings, sheet.fittings),
        *(
            Assumed("build", item.key, item.label, item.usual, item.unit)
            for item in sheet.plan.items
            if item.key not in sheet.placing
        ),
    ]
    carried = _assumed_settings("loads", loads, sheet.loads)
    return [*plain, *build, *carried]


def _assumed_settings(
    subject: Subject, part: Fittings | Loads, stated: Mapping[str, float]
) -> Iterator[Assumed]:
    for f in fields(part):
        # what the sheet states, even as the usual value, is not an assumption
        if f.name not in stated:
            item = ITEMS[f.name]
            yield Assumed(
                subject,
                f.name,
                item.label,
                getattr(part, f.name),
                item.unit,
                DEFAULT_SOURCES.get(f.name, COMMON_PRACTICE),
            )


def plain_words(tube: Tube) -> str:
    """A plain tube as the list of what was assumed says it."""
    return f"{tube.label} mm, plain {tube.material.name}"
