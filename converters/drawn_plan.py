"""The kind of frame that a drawing shows: said by its sheet or by hand, and what follows for the reading of it."""

from dataclasses import replace
from math import hypot
from pathlib import Path
from typing import TYPE_CHECKING

from ..model.errors import FrameError, InputError
from ..model.findings import Finding
from ..model.frame.bicycle import Bicycle
from ..model.frame.layout import joints_in_space
from ..model.geometry.statements import FIELDS
from ..model.tubes.known_plans import further_ones, plan_named
from ..model.tubes.places import Free
from ..model.tubes.plan import FramePlan
from ..model.words import spoken

# drawings are slow to import; a command on a sheet must not pay for them
if TYPE_CHECKING:
    from .drawings.sideview.side_view import SideView
    from .files.fitsheet.statements import FitSheet

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
    from .files.fitsheet.write_sheet import plan_starter

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


def drawn_elsewhere(bicycle: Bicycle, view: "SideView") -> list[Finding]:
    """Joints that the sheet's plan places itself, and the drawing shows at another place."""
    points = bicycle.dimensions.points().items()
    drawn = {joint: (at,) for joint, at in points if at is not None}
    placed = joints_in_space(bicycle)
    # a tube held against its place by itself is told with its joints
    told = {found.where for found in view.findings if found.code.startswith("drawing-tube")}
    held: set[str] = set()
    for role in bicycle.roles:
        if role.name in told and not further_ones([role]):
            held |= role.named_joints
    found = []
    for joint, _ in bicycle.plan.joints:
        if joint in held:
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


def of_no_tube(found: Finding, bicycle: Bicycle) -> bool:
    """Whether a finding of the drawing is about a tube that the sheet's plan does not have, or has elsewhere."""
    from .files.fitsheet.bicycle import PLACES, used_nodes

    if found.code == "side-unusual":
        return found.where in PLACES and PLACES[found.where] not in used_nodes(bicycle.plan)
    return found.code == "side-member-missing" and bicycle.plan.get(found.where) is None
