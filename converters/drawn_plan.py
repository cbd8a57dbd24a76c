"""The kind of frame that a drawing shows: said by its sheet or by hand, and what follows for the reading of it."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from math import hypot
from pathlib import Path
from typing import TYPE_CHECKING

from ..model.errors import FrameError, InputError
from ..model.findings import Finding
from ..model.frame.bicycle import Bicycle
from ..model.frame.layout import joints_in_space
from ..model.geometry.dimensions import Point
from ..model.geometry.statements import FIELDS
from ..model.tubes.known_plans import further_ones, plan_named
from ..model.tubes.places import Along, Free
from ..model.tubes.plan import FramePlan
from ..model.words import spoken

# drawings are slow to import; a command on a sheet must not pay for them
if TYPE_CHECKING:
    from .drawings.labelling.doubt import InDoubtError
    from .drawings.sideview.side_view import SideView
    from .files.fitsheet.statements import FitSheet

# What speaks against a reading that a plan would settle.
AGAINST = {"drawing-tube-missing", "side-node-disagrees", "side-beside-node", "side-steering-doubt"}
PLACED_ALIKE = 1.0  # mm between a joint as drawn and as the plan places it


def plan_of(path: Path, table: "FitSheet | None", named: str | None) -> FramePlan | None:
    """The kind of frame that a drawing shows: the sheet's, or as the user names it; None where nobody says.

    Raises InputError where the two contradict each other.
    """
    if named is None:
        return None if table is None else table.plan
    try:
        plan = plan_named(named)
    except FrameError as error:
        raise InputError(f"--plan: {error}", option="--plan") from None
    if table is not None and table.plan != plan:
        raise InputError(
            f"{path.name}: --plan says {plan.label} and the sheet {table.plan.label}; correct the sheet's row 'plan' "
            "and leave --plan out",
            option="--plan",
        )
    return plan


def drawn_items(view: "SideView") -> dict[str, float]:
    """The plan's items that follow from where the drawing shows the brackets, mm."""
    found: dict[str, float] = {}
    plan = view.plan
    if plan is None:
        return found
    places = dict(plan.joints)
    for rider in plan.followers:
        place = places.get(rider.bracket)
        if isinstance(place, Free):
            base = view.joints.get(place.joint, ((0.0, 0.0),))[0]
            found |= plan.items_at(rider.bracket, view.joints[rider.bracket][0], base)
    return found


def with_drawn(table: "FitSheet", view: "SideView") -> "FitSheet":
    """The sheet with the brackets where the drawing shows them."""
    return replace(table, placing={**table.placing, **drawn_items(view)})


def with_usual(view: "SideView", plan: FramePlan) -> "SideView":
    """The view with the plan's tubes: its items measured, or, for several riders, looked for where they usually run."""
    from .drawings.sideview.planned_alone import as_plan
    from .drawings.sideview.planned_tubes import with_planned
    from .files.fitsheet.starter import plan_starter

    usual = plan_starter(plan)
    measured = {name: getattr(view.dimensions, name) for name in FIELDS}
    known = {name: value for name, value in measured.items() if value is not None}
    if not plan.followers:
        return as_plan(view, replace(usual, dimensions=replace(usual.dimensions, **known)))
    items: dict[str, float] = {}
    for joint, place in plan.joints:
        if joint in view.joints and isinstance(place, Free):
            base = view.joints.get(place.joint, ((0.0, 0.0),))[0]
            # where it may be at several places, on one line, the lowest: nothing runs on above it
            items |= plan.items_at(joint, min(view.joints[joint], key=lambda at: at[1]), base)
    bicycle = replace(
        usual,
        dimensions=replace(usual.dimensions, **known),
        placing={**usual.placing, **items},
    )
    return with_planned(view, bicycle, stated=False)


def written_otherwise(view: "SideView") -> tuple[Finding, ...]:
    """Sizes of the plan's own that the paper gives in figures and the lines measure otherwise."""
    from .drawings.sideview.written import written_items

    plan = view.plan
    if plan is None:
        return ()
    measured = {**view.placing, **drawn_items(view)}
    items = {i.key: (i.label, measured[i.key]) for i in plan.items if i.key in measured}
    mm = view.transform.mm_per_unit
    return tuple(written_items(view.drawing, items, mm, view.precision.step))


def settled_by_plan(
    doubt: "InDoubtError", plan: FramePlan, read: Callable[[Mapping[str, str]], "SideView"]
) -> "SideView | None":
    """The one reading of a doubtful drawing that shows every tube of its plan and contradicts itself nowhere, told
    so; None where none or several do.

    read : the drawing with picks. Of two tubes between the same two others the plan's further one is below. The numbers
    of a sheet are not asked: a drawing read by them could not be held against them.
    """
    fitting = []
    for words, picks in doubt.options:
        try:
            view = read(picks)
        except InputError:
            # an option that leads nowhere is none
            continue
        shown = with_usual(view, plan).findings
        if AGAINST.isdisjoint(found.code for found in shown):
            fitting.append((words, view))
    if len(fitting) > 1 and _below_top_tube(plan):
        highest = max(_top_tube(view) for _, view in fitting)
        fitting = [(words, view) for words, view in fitting if _top_tube(view) == highest]
    if len(fitting) != 1:
        return None
    ((words, view),) = fitting
    told = Finding(
        "drawing-settled-by-plan",
        "info",
        f"{doubt.said}; only with {words} does it show every tube of a {plan.label} frame without a contradiction, "
        "so it is read so",
    )
    return replace(view, findings=(told, *view.findings))


def _top_tube(view: "SideView") -> float:
    """How far up the seat tube the top tube was read, mm."""
    return view.dimensions.top_tube_on_seat_tube or 0.0


def _below_top_tube(plan: FramePlan) -> bool:
    """Whether a plan has a further tube that runs as the top tube does, usually below it."""
    from .files.fitsheet.starter import plan_starter

    if plan.get("top_tube") is None:
        return False
    usual = plan_starter(plan)
    top = usual.dimensions.top_tube_on_seat_tube or 0.0
    for role in further_ones(plan.roles):
        hosts = {place.tube: place for place in role.ends if isinstance(place, Along)}
        if set(hosts) == {"seat_tube", "head_tube"}:
            return usual.placing.get(str(hosts["seat_tube"].at), top) < top
    return False


def drawn_elsewhere(bicycle: Bicycle, view: "SideView") -> list[Finding]:
    """Joints that the sheet's plan places itself, and the drawing shows at another place."""
    points = bicycle.dimensions.points().items()
    drawn = {joint: (at,) for joint, at in points if at is not None}
    stay = view.paths.get("seatstay")
    if stay is not None:
        # the dimensions count it from a top tube, which a mixte has not
        x, y = stay[-1].tolist()
        drawn.setdefault("seat_tube_seatstay_node", (Point(x, y),))
    placed = joints_in_space(bicycle)
    used = frozenset[str]().union(*(role.named_joints for role in bicycle.roles))
    # a tube held against its place by itself is told with its joints
    told = {found.where for found in view.findings if found.code.startswith("drawing-tube")}
    held: set[str] = set()
    for role in bicycle.roles:
        if role.name in told and not further_ones([role]):
            held |= role.named_joints
    found = []
    for joint, _ in bicycle.plan.joints:
        if joint in held or joint not in used:
            continue
        here = placed.get(joint)
        there = view.joints.get(joint) or drawn.get(joint)
        if here is None or not there:
            continue
        off = min(hypot(here[0] - x, here[1] - y) for x, y in there)
        if off > PLACED_ALIKE:
            found.append(
                Finding(
                    "drawing-plan-differs",
                    "warning",
                    f"{spoken(joint)}: the drawing shows it {off:.1f} mm from where the sheet's items of a "
                    f"{bicycle.plan.label} frame place it, which is taken; correct one of both",
                    joint,
                )
            )
    return found


def of_no_tube(found: Finding, plan: FramePlan) -> bool:
    """Whether a finding of the drawing is about a tube that the frame's plan does not have, or has elsewhere."""
    from .files.fitsheet.bicycle import PLACES, used_nodes

    if found.code == "side-unusual":
        return found.where in PLACES and PLACES[found.where] not in used_nodes(plan)
    return found.code == "side-member-missing" and plan.get(found.where) is None
