"""A drawing alone whose kind of frame is named: the plan's tubes labelled, its items measured for the sheet."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from ....model.errors import ModelError
from ....model.findings import Finding
from ....model.frame.bicycle import Bicycle
from ....model.frame.layout import side_paths
from ....model.tubes.places import Along, AtJoint, Place
from ....model.tubes.plan import PlanItem, TubeRole
from ....model.words import spoken
from ..linework.lines import Candidate
from ..linework.plane import Vec
from .bows import MIDDLE, bows_at
from .free_lines import LEAST_LENGTH, OPENING, FreeTube, tubes_of
from .member_lines import STAY_NODE
from .planned_tubes import DRAWN_AS, is_otherwise, measured_on, shoulder_drawn, with_planned
from .side_view import SideView

AT_JOINT = 10.0  # mm by which the line of a tube may miss the joint it ends at
AT_HOST = 60.0  # mm short of its host's axis that a tube's line may end

Paths = Mapping[str, Sequence[Sequence[float]] | None]


def as_plan(view: SideView, starter: Bicycle) -> SideView:
    """The view with the tubes of a plan labelled and its items measured.

    starter : a bicycle of the plan with the drawing's side view; its items are taken where nothing shows them.
    """
    placing = dict(starter.placing)
    missing = []
    for role in starter.roles:
        if role.name in DRAWN_AS:
            continue
        # an item that one tube has measured places the next
        found = _measured(role, view, replace(starter, placing=placing))
        if found is None:
            missing.append(role)
        else:
            placing |= found
    placing |= _stay_joint(view, starter)
    drawn = replace(starter, placing=placing)
    measured = {key: value for key, value in placing.items() if value != starter.placing[key]}
    labelled = with_planned(view, drawn)
    kept = [f for f in labelled.findings if not f.code.startswith(("drawing-tube", "tube-not"))]
    told = (*_measured_words(starter, measured), *map(_missing, missing))
    return replace(labelled, findings=(*kept, *told), placing=measured)


def _measured(role: TubeRole, view: SideView, bicycle: Bicycle) -> dict[str, float] | None:
    """The items that a tube of the plan as drawn measures; None where the drawing must show it and does not."""
    try:
        paths: Paths = side_paths(bicycle)
    except ModelError:
        paths = {}
    items = _bow(role, view, bicycle)
    path = paths.get(role.name)
    shoulder = _shoulder(role, view, bicycle)
    if not is_otherwise(role) or path is None or _length(path) < LEAST_LENGTH:
        return items | shoulder
    if shoulder or _on_a_member(view, path):
        return items | shoulder
    found = []
    for line in _lines(role, view, bicycle):
        places = _places(role, line, bicycle, paths)
        if places is not None:
            found.append((line.length, places))
    if not found:
        return None
    _, longest = max(found, key=lambda one: one[0])
    return items | longest


def _stay_joint(view: SideView, bicycle: Bicycle) -> dict[str, float]:
    """The item by which the plan places the seatstays' joint along the seat tube."""
    stay = view.paths.get("seatstay")
    seat = view.paths.get("seat_tube")
    place = dict(bicycle.plan.joints).get(STAY_NODE)
    if stay is None or seat is None or not isinstance(place, Along) or place.tube != "seat_tube":
        return {}
    if STAY_NODE not in frozenset[str]().union(*(role.named_joints for role in bicycle.roles)):
        return {}
    line = Candidate(tuple(stay[-2]), tuple(stay[-1]))
    return {str(place.at): measured_on(seat, place, line, line.q)}


def _on_a_member(view: SideView, path: Sequence[Sequence[float]]) -> bool:
    """Whether a tube is one line with a member from the side, as a mono stay is with the stays behind it."""
    import shapely

    points = shapely.points(np.array(path)[:, :2])
    lines = (shapely.LineString(course) for course in view.paths.values())
    return any(shapely.distance(points, line).max() <= AT_JOINT / 5 for line in lines)


def _length(path: Sequence[Sequence[float]]) -> float:
    return float(np.hypot(*(np.array(path[-1])[:2] - np.array(path[0])[:2])))


def _lines(role: TubeRole, view: SideView, bicycle: Bicycle) -> Iterator[Candidate]:
    """What may be the tube: lines beyond the members, and members of its name or of none that the plan has."""
    tubes: Iterator[FreeTube] = tubes_of(view.free)
    yield from (tube.line for tube in tubes)
    own = {DRAWN_AS.get(name, name) for name in bicycle.plan.names} - {role.name}
    for name, ends in view.extents.items():
        if name not in own:
            yield Candidate(tuple(ends[0]), tuple(ends[1]))


def _places(
    role: TubeRole, line: Candidate, bicycle: Bicycle, paths: Paths
) -> dict[str, float] | None:
    """The items that a line measures where it runs as a tube does; None where it does not."""
    items: dict[str, float] = {}
    ends = _ends(role, line, bicycle, paths)
    for place, at in zip(role.ends, ends, strict=True):
        measured = _place(place, at, line, bicycle, paths)
        if measured is None:
            return None
        items |= measured
    return items


def _ends(role: TubeRole, line: Candidate, bicycle: Bicycle, paths: Paths) -> tuple[Vec, Vec]:
    """The line's ends in the order of the tube's: the nearer to where the tube begins first."""
    path = paths.get(role.name)
    ahead = (line.p, line.q)
    if path is None:
        return ahead
    way = np.array(path[-1])[:2] - np.array(path[0])[:2]
    return ahead if way @ np.array(line.u) > 0 else ahead[::-1]


def _place(
    place: Place, at: Vec, line: Candidate, bicycle: Bicycle, paths: Paths
) -> dict[str, float] | None:
    """What one end measures: nothing at a joint that the line passes, an item on a tube; None if it ends elsewhere."""
    path = paths.get(place.tube) if isinstance(place, Along) else None
    if isinstance(place, AtJoint):
        joint = bicycle.dimensions.points().get(_joint(place))
        if joint is None:
            return None
        near = np.hypot(at[0] - joint.x, at[1] - joint.y) <= OPENING
        return {} if near and abs(line.lateral((joint.x, joint.y))) <= AT_JOINT else None
    if not isinstance(place, Along) or path is None:
        return None
    import shapely

    host = np.array(path)[:, :2]
    if shapely.distance(shapely.LineString(host), shapely.Point(at)) > AT_HOST:
        return None
    items = {item.key: item for item in bicycle.plan.items}
    item = items.get(str(place.at))
    if item is None or place.crossing:
        return {}
    value = measured_on(host, place, line, at)
    low, high = item.limits
    return {item.key: value} if low <= value <= high else None


def _joint(place: AtJoint) -> str:
    """The joint of the side view that right and left of a place lie on."""
    name = place.words.partition(" ")[0]
    return {"rear_dropout": "rear_axle", "front_dropout": "front_axle"}.get(name, name)


def _bow(role: TubeRole, view: SideView, bicycle: Bicycle) -> dict[str, float]:
    """The item that a tube's bend is, measured on its course."""
    course = view.paths.get(role.name)
    if role.bend is None or course is None or role.bend.outwards:
        return {}
    key = str(role.bend.sagitta)
    if key not in bicycle.placing:
        return {}
    return {key: bows_at(course)(MIDDLE)}


def _shoulder(role: TubeRole, view: SideView, bicycle: Bicycle) -> dict[str, float]:
    """The item of a segmented fork's shoulder, by which the plan places the joint it ends at."""
    drawn = shoulder_drawn(view, role)
    end = role.ends[1]
    if not drawn or not isinstance(end, AtJoint):
        return {}
    joint = dict(bicycle.plan.joints).get(_joint(end))
    key = str(getattr(joint, "at", ""))
    return {key: drawn} if key in bicycle.placing else {}


# --- in words -----------------------------------------------------------------------------------------------
def _measured_words(starter: Bicycle, measured: Mapping[str, float]) -> Iterator[Finding]:
    """What is measured and what no side view shows, each as rows of the sheet to write."""
    plan = starter.plan
    shown = [item for item in plan.items if item.key in measured]
    hidden = [item for item in plan.items if item.key not in measured]
    words = f"read as a {plan.label} frame"
    if shown:
        words += "; rows for its sheet: " + ", ".join(_row(item, measured) for item in shown)
    if "steerer" in {
        place.tube for role in plan.roles for place in role.ends if isinstance(place, Along)
    }:
        words += (
            f" (with the stem {starter.fittings.upper_stack:g} mm above the head tube, as assumed)"
        )
    if hidden:
        words += "; not to be seen here, say it in the sheet: " + ", ".join(i.label for i in hidden)
    yield Finding("drawing-plan-measured", "info", words)


def _row(item: PlanItem, measured: Mapping[str, float]) -> str:
    return f"'{item.label}, {measured[item.key]:.1f}'"


def _missing(role: TubeRole) -> Finding:
    one, other = (spoken(place.words.partition(" ")[0]) for place in role.ends)
    return Finding(
        "drawing-tube-missing",
        "warning",
        f"{role.label}: no line found on the drawing from {one} to {other}, clear of the other tubes; draw it, or "
        "name another plan",
        role.name,
    )
