"""Tubes of the plan that a sheet names, looked for in the drawing: further ones, moved ones and bent ones.

What is drawn is either a line that the reader took as no member, or one that it took as a member of a diamond. Each
tube found is compared with where plan and sheet place it, and how they bend it.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from ....model.arrays import Array
from ....model.errors import ModelError
from ....model.findings import Finding, Severity
from ....model.frame.bicycle import Bicycle
from ....model.frame.layout import side_paths
from ....model.tubes.known_plans import DIAMOND, further_ones
from ....model.tubes.places import Along, AtJoint, Free, Place
from ....model.tubes.plan import TubeRole, not_handled
from ....model.words import spoken
from ..linework.lines import Candidate
from ..linework.plane import Vec
from .bows import MIDDLE, STRAIGHT, bow_words, bows_at, greatest_bow
from .free_lines import LEAST_LENGTH, OPENING, FreeLines, FreeTube, tubes_of, where_on
from .labels import TextLabel
from .say import LOWER_RACE
from .side_view import SideView

SEEK = 80.0  # mm beside its place in which a tube is looked for
SLANT = 0.15  # sine of the angle to it
COVERED = 0.5  # of its length that must be drawn
ALIKE = 1.0  # mm between a tube as drawn and as placed
PAST_JOINT = 3.0  # mm by which the line of a tube may miss the joint it ends at
ON_LINE = 1.5  # mm from a member's line within which another tube's is drawn as one with it
TAKEN_WRONG = (
    20.0  # mm, both ends together, from its own place at which a member may be another tube
)
LONGER = 5.0  # mm by which a member is longer than a tube that is drawn as a part of its line
# The reader's name of a tube where it is another.
DRAWN_AS = {"fork_blade": "fork"}

Paths = Mapping[str, Sequence[Sequence[float]] | None]


@dataclass(frozen=True, eq=False)
class _Sought:
    """A tube of the plan: its ends in the side view, mm from the bottom bracket."""

    role: TubeRole
    line: Candidate


@dataclass(frozen=True, eq=False)
class _Drawn:
    """What was taken as a tube: a line beyond the members, or a member, by the reader's name."""

    line: Candidate
    free: FreeTube | None = None
    member: str = ""


@dataclass
class _Found:
    """What the search has come to: tube -> how it is drawn, and the findings. stated : as in `with_planned`."""

    stated: bool
    tubes: dict[str, _Drawn] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)
    # a line across below the race is the end of the fork's shoulder, where the sheet has it
    race: bool = False


def with_planned(view: SideView, bicycle: Bicycle, stated: bool = True) -> SideView:
    """The view with the tubes that the bicycle's plan has otherwise than a diamond labelled, and a finding for each.

    stated : whether a sheet says where they run; else the bicycle's places are the usual ones, and each tube found is
    told with where it is drawn.

    A tube found is compared with where plan and sheet place it; one that is not is told by name. What the drawing
    alone told of a tube that the plan knows is taken back.
    """
    try:
        paths: Paths = side_paths(bicycle)
    except ModelError:
        # what does not let the frame be laid out is told by whoever lays it out
        paths = {}
    found = _Found(stated)
    for role in bicycle.roles:
        # a view put together of several has no members to take for moved tubes
        if is_otherwise(role) and (view.paths or further_ones([role])):
            _look_for(role, view, bicycle, paths, found)
    # whose line another tube was found to be is looked for among the rest
    members = {drawn.member for drawn in found.tubes.values()}
    for role in bicycle.roles:
        if not is_otherwise(role) and role.name in members:
            _look_for(role, view, bicycle, paths, found)
    for role in bicycle.roles:
        found.findings += _bend_findings(role, view, bicycle, paths, found.tubes.get(role.name))
    return _labelled(view, bicycle, found)


def is_otherwise(role: TubeRole) -> bool:
    """Whether the side view shows the tube at another place than a diamond's."""
    if further_ones([role]):
        return True
    usual = DIAMOND.role(role.name)
    return any(_base(a) != _base(b) for a, b in zip(role.ends, usual.ends, strict=True))


def _base(place: Place) -> str:
    """A place as the side view shows it, where right and left are one."""
    if isinstance(place, Free) and not (place.x or place.y):
        return place.joint
    if isinstance(place, AtJoint):
        return place.tied_to or place.words.partition(" ")[0]
    return place.words.partition(" apart ")[0]


def _look_for(
    role: TubeRole, view: SideView, bicycle: Bicycle, paths: Paths, found: _Found
) -> None:
    path = paths.get(role.name)
    if path is None:
        found.findings.append(not_handled(role, "the sheet does not place, and the reader passes"))
        return
    if role.name in DRAWN_AS:
        # a fork is measured from its crown to the axle, however its blades begin
        return
    line = Candidate((path[0][0], path[0][1]), (path[-1][0], path[-1][1]))
    shoulder = shoulder_drawn(view, role)
    if shoulder:
        found.race = abs(shoulder - line.length) <= ALIKE
        found.findings.append(_shoulder(role, shoulder, line.length))
        return
    if line.length < LEAST_LENGTH:
        if np.linalg.norm(np.array(path[-1]) - path[0]) < LEAST_LENGTH:
            why = "too short to be told from a cap, and left out by the reader, are"
        else:
            why = "the side view shows from the end, and leaves out,"
        found.findings.append(_unseen(role, why))
        return
    one_with = _drawn_with(view, bicycle, role, np.array(path)[:, :2])
    if one_with:
        # of the tube that gave the line its name there is nothing to tell
        if one_with != DRAWN_AS.get(role.name, role.name):
            found.findings.append(_as_one(role, one_with))
        return
    drawn = _nearest(view, bicycle, _Sought(role, line), paths, found)
    if drawn is None:
        found.findings.append(_missing(role, found.stated))
        return
    found.tubes[role.name] = drawn
    tell = _compared if found.stated else _shown
    found.findings.append(tell(view, bicycle, _Sought(role, line), drawn, paths))


def shoulder_drawn(view: SideView, role: TubeRole) -> float:
    """How far a fork's shoulder is drawn down the steering axis, mm: to the blades' upper ends, to the corner of its
    line, or to a line across that could be another fork's race; 0.0 for what is no shoulder and where none is drawn."""
    if role.region != "fork" or _base(role.ends[0]) != "fork_crown":
        return 0.0
    path = view.paths.get("fork")
    if view.crown_height or path is None:
        return view.crown_height
    # the last point of the fork's line that still lies on the steering axis
    up = np.array(view.dimensions.axis_up)
    rel = path - path[0]
    on_axis = np.abs(rel[:, 0] * up[1] - rel[:, 1] * up[0]) <= ON_LINE / 3
    return float(-(rel @ up)[on_axis].min()) or view.lower_race


def _drawn_with(view: SideView, bicycle: Bicycle, role: TubeRole, path: Array) -> str:
    """The longer member on whose line a tube is drawn all along; '' for none.

    A mono stay and the stays behind it are one line from the side.
    """
    import shapely

    own = {DRAWN_AS.get(name, name) for name in bicycle.plan.names}
    length = np.hypot(*(path[-1] - path[0]))
    for name, course in view.paths.items():
        longer = np.hypot(*(course[-1] - course[0])) > length + LONGER
        if name not in own or _family(name) != role.region or not longer:
            continue
        off = shapely.distance(shapely.points(path), shapely.LineString(course))
        if off.max() <= ON_LINE:
            return name
    return ""


def _family(member: str) -> str:
    """The region of a member by the reader's name."""
    for tube, name in DRAWN_AS.items():
        if name == member:
            member = tube
    role = DIAMOND.get(member)
    return "" if role is None else role.region


def _nearest(
    view: SideView, bicycle: Bicycle, sought: _Sought, paths: Paths, found: _Found
) -> _Drawn | None:
    """What is drawn most nearly where a tube is placed."""
    role = sought.role
    line = sought.line
    taken: set[int] = set()
    for drawn in found.tubes.values():
        if drawn.free is not None:
            taken |= set(drawn.free.curves)
    lines = [_Drawn(tube.line, tube) for tube in _free_near(view.free, line, taken)]
    used = {drawn.member for drawn in found.tubes.values()}
    for name, path in view.paths.items():
        ends = Candidate(tuple(path[0]), tuple(path[-1]))
        own = paths.get(name)
        may_be = _may_be(name, role, bicycle) or _is_nearer(ends, line, own)
        if name in used or not may_be:
            continue
        if _is_near(line, ends):
            lines.append(_Drawn(ends, member=name))
    return min(lines, key=lambda drawn: _away(line, drawn.line), default=None)


def _may_be(member: str, role: TubeRole, bicycle: Bicycle) -> bool:
    """Whether what was read as a member of a diamond may be this tube: its own name, or one that the plan has not."""
    own = {DRAWN_AS.get(name, name) for name in bicycle.plan.names}
    return member == DRAWN_AS.get(role.name, role.name) or member not in own


def _is_nearer(drawn: Candidate, line: Candidate, own: Sequence[Sequence[float]] | None) -> bool:
    """Whether what was read as a member lies far from that member's own place, and nearer to this tube's: of two pairs
    of stays to the rear axle the reader takes one."""
    if own is None:
        return False
    placed = Candidate((own[0][0], own[0][1]), (own[-1][0], own[-1][1]))
    return _away(placed, drawn) > max(TAKEN_WRONG, 2 * _away(line, drawn))


def _is_near(line: Candidate, other: Candidate) -> bool:
    ends = np.array([[other.p, other.q]])
    return bool(_near(ends, line)[0]) and other.length >= COVERED * line.length


def _near(ends: Array, line: Candidate) -> NDArray[np.bool_]:
    """Of lines (n, 2, 2) those that run along a line, within reach of it."""
    rel = ends - np.array(line.p)
    across = line.u[0] * rel[..., 1] - line.u[1] * rel[..., 0]
    along = rel @ np.array(line.u)
    run = np.abs(along[:, 1] - along[:, 0])
    near: NDArray[np.bool_] = (np.abs(across).max(axis=1) <= SEEK) & (
        np.abs(np.diff(across)[:, 0]) <= SLANT * run
    )
    near &= (along.min(axis=1) >= -OPENING) & (along.max(axis=1) <= line.length + OPENING)
    return near


def _free_near(lines: FreeLines, line: Candidate, used: set[int]) -> list[FreeTube]:
    """The tubes among free lines that run along a line."""
    if not len(lines.ends):
        return []
    near = _near(lines.ends, line)
    near &= [not used & set(curves) for curves in lines.curves]
    return [t for t in tubes_of(lines.only(near)) if t.line.length >= COVERED * line.length]


def _away(line: Candidate, other: Candidate) -> float:
    return abs(line.lateral(other.p)) + abs(line.lateral(other.q))


# --- in words -----------------------------------------------------------------------------------------------
def _severity(role: TubeRole) -> Severity:
    """A frame is right without its rack, and few drawings show one."""
    return "info" if role.region == "rack" else "warning"


def _unseen(role: TubeRole, why: str) -> Finding:
    """What no side view shows is no fault of the drawing."""
    what = f"{why} the {role.label}; where the sheet places it is taken"
    return Finding("tube-not-handled", "info", what, role.name)


def _as_one(role: TubeRole, member: str) -> Finding:
    return Finding(
        "drawing-tube-found",
        "info",
        f"{role.label}: drawn as one line with the {spoken(member)}, as in the sheet; where one ends and the other "
        "begins along it is the sheet's word",
        role.name,
    )


def _shoulder(role: TubeRole, drawn: float, placed: float) -> Finding:
    said = f"{role.label}: {drawn:.1f} mm down from the crown race on the drawing, {placed:.1f} mm in the sheet"
    if abs(drawn - placed) <= ALIKE:
        return Finding("drawing-tube-found", "info", f"{said}, as in the sheet", role.name)
    return Finding(
        "drawing-tube-differs",
        "warning",
        f"{said}. The sheet's place is taken: correct the drawing or the sheet",
        role.name,
    )


def _missing(role: TubeRole, stated: bool) -> Finding:
    if stated:
        where = (
            "the sheet places it, clear of the other tubes; the sheet's place is taken. Draw it, or correct "
            "the sheet"
        )
    else:
        where = "it usually runs, clear of the other tubes. Draw it, or give the sheet that says where it runs"
    return Finding(
        "drawing-tube-missing",
        _severity(role),
        f"{role.label}: not found on the drawing within {SEEK:.0f} mm of where {where}",
        role.name,
    )


def _shown(
    view: SideView, bicycle: Bicycle, sought: _Sought, drawn: _Drawn, paths: Paths
) -> Finding:
    """Where a tube is drawn that no sheet places."""
    words = []
    for place, at in zip(sought.role.ends, (sought.line.p, sought.line.q), strict=True):
        path = paths.get(place.tube) if isinstance(place, Along) else None
        if isinstance(place, Along) and path is not None:
            at_host = measured_on(np.array(path)[:, :2], place, drawn.line, at)
            words.append(f"{_label(bicycle, place)} {at_host:.1f} mm")
    where = f": {'; '.join(words)}" if words else ""
    return Finding(
        "drawing-tube-found",
        "info",
        f"{sought.role.label} ({_named_lines(view, drawn)}){where}",
        sought.role.name,
    )


def _compared(
    view: SideView, bicycle: Bicycle, sought: _Sought, drawn: _Drawn, paths: Paths
) -> Finding:
    """What a tube found says of each of its ends."""
    words = []
    differs = False
    for place, at in zip(sought.role.ends, (sought.line.p, sought.line.q), strict=True):
        said, off = _end(bicycle, place, at, sought.line, drawn.line, paths)
        words.append(said)
        differs |= off
    what = f"{sought.role.label} ({_named_lines(view, drawn)}): {'; '.join(words)}"
    if differs:
        return Finding(
            "drawing-tube-differs",
            _severity(sought.role),
            f"{what}. The sheet's place is taken: correct the drawing or the sheet",
            sought.role.name,
        )
    return Finding("drawing-tube-found", "info", f"{what}, as in the sheet", sought.role.name)


def _named_lines(view: SideView, drawn: _Drawn) -> str:
    """The handles a tube is drawn with."""
    if drawn.free is not None:
        curves: Sequence[int] = drawn.free.curves
    else:
        curves = [label.index for label in view.labels if label.member == drawn.member]
    return "handles " + ", ".join(view.drawing.curves[i].handle for i in curves)


def _end(
    bicycle: Bicycle, place: Place, at: Vec, sought: Candidate, tube: Candidate, paths: Paths
) -> tuple[str, bool]:
    """One end in words, and whether it is drawn elsewhere than the sheet places it."""
    path = paths.get(place.tube) if isinstance(place, Along) else None
    if path is None or not isinstance(place, Along):
        miss = abs(tube.lateral(at))
        joint = spoken(place.words.partition(" ")[0])
        return f"its line passes the {joint} at {miss:.1f} mm", miss > PAST_JOINT
    host = np.array(path)[:, :2]
    drawn = measured_on(host, place, tube, at)
    placed = measured_on(host, place, sought, at)
    label = _label(bicycle, place)
    off = abs(drawn - placed) > ALIKE
    return f"{label} {drawn:.1f} mm on the drawing, {placed:.1f} mm in the sheet", off


def measured_on(host: Array, place: Along, tube: Candidate, at: Vec) -> float:
    """How far along its host a tube's end lies, mm, counted as the place counts."""
    along = where_on(host, tube, at)
    if not place.from_end:
        return along
    return float(np.hypot(*np.diff(host, axis=0).T).sum()) - along


def _label(bicycle: Bicycle, place: Along) -> str:
    """The item that places a tube's end, or the tube on which it lies."""
    key = str(place.at)
    labels = {item.key: item.label for item in bicycle.plan.items}
    if place.from_end:
        start = "end"
    else:
        start = "start"
    return labels.get(key, f"on the {spoken(place.tube)} from its {start}")


# --- bends --------------------------------------------------------------------------------------------------
def _bend_findings(
    role: TubeRole, view: SideView, bicycle: Bicycle, paths: Paths, drawn: _Drawn | None
) -> Iterator[Finding]:
    """A bent tube as drawn beside its bend in the sheet."""
    name = drawn.member if drawn is not None else DRAWN_AS.get(role.name, role.name)
    course = view.paths.get(name)
    path = paths.get(role.name)
    # the bend of a blade is the fittings', and the reader follows it by itself
    if course is None or path is None or role.shape == "raked" or role.region == "fork":
        return
    placed = np.array(path)[:, :2]
    if (placed[-1] - placed[0]) @ (course[-1] - course[0]) < 0:
        course = course[::-1]
    ours = bows_at(course)
    theirs = bows_at(placed)
    most = greatest_bow(ours)
    if role.bend is None and abs(ours(most)) <= STRAIGHT:
        return
    # a sheet that tells points says nothing of how the tube runs between them
    told = _told_shares(role)
    shares = told or [most]
    share = max(shares, key=lambda share: abs(ours(share) - theirs(share)))
    here = ours(share)
    there = theirs(share)
    what = f"{role.label} ({_named_lines(view, _Drawn(Candidate((0, 0), (1, 0)), member=name))})"
    said = f"{bow_words(here, share, placed)} on the drawing, {bow_words(there, share, placed)} in the sheet"
    if abs(here - there) <= ALIKE:
        yield Finding("drawing-tube-found", "info", f"{what}: {said}, as in the sheet", role.name)
        return
    yield Finding(
        "drawing-tube-differs",
        "warning",
        f"{what}: {said}. The sheet's bend is taken: correct the drawing or the column bend of the sheet's table of "
        "tubes",
        role.name,
    )


def _told_shares(role: TubeRole) -> list[float]:
    """Shares of its length at which the sheet says how far a tube bows in the side view."""
    if role.bend is None or role.bend.outwards:
        return []
    if role.bend.via:
        return [point.share for point in role.bend.via if point.up]
    return [MIDDLE]


# --- labels -------------------------------------------------------------------------------------------------
def _labelled(view: SideView, bicycle: Bicycle, found: _Found) -> SideView:
    names: dict[int, str] = {}
    middle: set[int] = set()
    renamed: dict[str, str] = {}
    for name, drawn in found.tubes.items():
        if drawn.free is not None:
            names |= dict.fromkeys(drawn.free.curves, name)
            middle |= set(drawn.free.middle)
        elif drawn.member != DRAWN_AS.get(name, name):
            renamed[drawn.member] = name
    known = {f"handle {view.drawing.curves[i].handle}" for i in names}
    told = {finding.where for finding in found.findings}
    kept = [f for f in view.findings if not _answered(f, known, told)]
    if found.race:
        kept = [f for f in kept if (f.code, f.where) != ("side-steering-doubt", LOWER_RACE)]
    lines = {renamed.get(name, name): line for name, line in view.lines.items()}
    paths = {renamed.get(name, name): path for name, path in view.paths.items()}
    for name, drawn in found.tubes.items():
        if drawn.free is not None:
            lines[name] = drawn.free.drawn
    return replace(
        view,
        labels=tuple(_named(label, names, middle, renamed) for label in view.labels),
        lines=lines,
        paths=paths,
        findings=(*kept, *found.findings),
    )


def _answered(finding: Finding, known: set[str], told: set[str]) -> bool:
    """Whether a finding of the drawing alone is answered by what the plan says of the same lines."""
    if finding.code == "side-further-tube":
        return finding.where in known
    if finding.code in ("side-member-missing", "side-tube-bent", "side-stays-run-on"):
        return finding.where in told
    return False


def _named(
    label: TextLabel, names: Mapping[int, str], middle: set[int], renamed: Mapping[str, str]
) -> TextLabel:
    name = names.get(label.index)
    if name is None:
        return replace(label, member=renamed.get(label.member, label.member))
    if label.index in middle:
        how = "centre-line"
    else:
        how = "edge"
    return replace(label, member=name, how=how)
