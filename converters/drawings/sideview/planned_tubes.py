"""Further tubes of the plan that a sheet names, looked for in the drawing near where plan and sheet place them."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain

import numpy as np

from ....model.arrays import Array
from ....model.errors import ModelError
from ....model.findings import Finding, Severity
from ....model.frame.bicycle import Bicycle
from ....model.frame.layout import side_paths
from ....model.tubes.known_plans import further_ones
from ....model.tubes.places import Along, Place
from ....model.tubes.plan import TubeRole, not_handled
from ....model.words import spoken
from ..linework.lines import Candidate
from ..linework.plane import Vec
from .free_lines import LEAST_LENGTH, OPENING, FreeLines, FreeTube, tubes_of, where_on
from .labels import TextLabel
from .recognise import SideView

SEEK = 80.0  # mm beside its place in which a tube is looked for
SLANT = 0.15  # sine of the angle to it
COVERED = 0.5  # of its length that must be drawn
ALIKE = 1.0  # mm between a tube as drawn and as placed
PAST_JOINT = 3.0  # mm by which the line of a tube may miss the joint it ends at


@dataclass(frozen=True, eq=False)
class _Sought:
    """A tube of the plan: its ends in the side view, mm from the bottom bracket."""

    role: TubeRole
    line: Candidate


def with_planned(view: SideView, bicycle: Bicycle, stated: bool = True) -> SideView:
    """The view with the further tubes of the bicycle's plan labelled, and a finding for each of them.

    stated : whether a sheet says where they run; else the bicycle's places are the usual ones, and each tube found is
    told with where it is drawn.

    A tube found is compared with where plan and sheet place it; one that is not is told by name. What the drawing
    alone told of a tube that the plan knows is taken back.
    """
    roles = further_ones(bicycle.roles)
    if not roles:
        return view
    try:
        paths = side_paths(bicycle)
    except ModelError:
        # what does not let the frame be laid out is told by whoever lays it out
        paths = {}
    found: dict[str, FreeTube] = {}
    findings: list[Finding] = []
    for role in roles:
        path = paths.get(role.name)
        if path is None:
            findings.append(not_handled(role, "the sheet does not place, and the reader passes"))
            continue
        line = Candidate((path[0][0], path[0][1]), (path[-1][0], path[-1][1]))
        if line.length < LEAST_LENGTH:
            findings.append(not_handled(role, "the side view shows from the end, and leaves out,"))
            continue
        tube = _nearest(view.free, line, found.values())
        if tube is None:
            findings.append(_missing(role, stated))
            continue
        found[role.name] = tube
        if stated:
            findings.append(_compared(view, bicycle, _Sought(role, line), tube, paths))
        else:
            findings.append(_shown(view, bicycle, _Sought(role, line), tube, paths))
    return _labelled(view, found, findings)


def _nearest(lines: FreeLines, line: Candidate, taken: Iterable[FreeTube]) -> FreeTube | None:
    """The tube among free lines that runs most nearly along a line."""
    if not len(lines.ends):
        return None
    used = set(chain.from_iterable(t.curves for t in taken))
    rel = lines.ends - np.array(line.p)
    across = line.u[0] * rel[..., 1] - line.u[1] * rel[..., 0]
    along = rel @ np.array(line.u)
    run = np.abs(along[:, 1] - along[:, 0])
    near = (np.abs(across).max(axis=1) <= SEEK) & (np.abs(np.diff(across)[:, 0]) <= SLANT * run)
    near &= (along.min(axis=1) >= -OPENING) & (along.max(axis=1) <= line.length + OPENING)
    near &= [not used & set(curves) for curves in lines.curves]
    tubes = [t for t in tubes_of(lines.only(near)) if t.line.length >= COVERED * line.length]
    return min(tubes, key=lambda t: _away(line, t), default=None)


def _away(line: Candidate, tube: FreeTube) -> float:
    return abs(line.lateral(tube.line.p)) + abs(line.lateral(tube.line.q))


# --- in words -----------------------------------------------------------------------------------------------
def _severity(role: TubeRole) -> Severity:
    """A frame is right without its rack, and few drawings show one."""
    return "info" if role.region == "rack" else "warning"


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
    view: SideView,
    bicycle: Bicycle,
    sought: _Sought,
    tube: FreeTube,
    paths: Mapping[str, Sequence[Sequence[float]] | None],
) -> Finding:
    """Where a tube is drawn that no sheet places."""
    words = []
    for place, at in zip(sought.role.ends, (sought.line.p, sought.line.q), strict=True):
        path = paths.get(place.tube) if isinstance(place, Along) else None
        if isinstance(place, Along) and path is not None:
            drawn, _ = _measured_on(np.array(path)[:, :2], place, sought.line, tube, at)
            words.append(f"{_label(bicycle, place)} {drawn:.1f} mm")
    names = ", ".join(view.drawing.curves[i].handle for i in tube.curves)
    where = f": {'; '.join(words)}" if words else ""
    return Finding(
        "drawing-tube-found",
        "info",
        f"{sought.role.label} (handles {names}){where}",
        sought.role.name,
    )


def _compared(
    view: SideView,
    bicycle: Bicycle,
    sought: _Sought,
    tube: FreeTube,
    paths: Mapping[str, Sequence[Sequence[float]] | None],
) -> Finding:
    """What a tube found says of each of its ends."""
    words = []
    differs = False
    for place, at in zip(sought.role.ends, (sought.line.p, sought.line.q), strict=True):
        said, off = _end(bicycle, place, at, sought.line, tube, paths)
        words.append(said)
        differs |= off
    names = ", ".join(view.drawing.curves[i].handle for i in tube.curves)
    what = f"{sought.role.label} (handles {names}): {'; '.join(words)}"
    if differs:
        return Finding(
            "drawing-tube-differs",
            _severity(sought.role),
            f"{what}. The sheet's place is taken: correct the drawing or the sheet",
            sought.role.name,
        )
    return Finding("drawing-tube-found", "info", f"{what}, as in the sheet", sought.role.name)


def _end(
    bicycle: Bicycle,
    place: Place,
    at: Vec,
    sought: Candidate,
    tube: FreeTube,
    paths: Mapping[str, Sequence[Sequence[float]] | None],
) -> tuple[str, bool]:
    """One end in words, and whether it is drawn elsewhere than the sheet places it."""
    path = paths.get(place.tube) if isinstance(place, Along) else None
    if path is None or not isinstance(place, Along):
        miss = abs(tube.line.lateral(at))
        joint = spoken(place.words.partition(" ")[0])
        return f"its line passes the {joint} at {miss:.1f} mm", miss > PAST_JOINT
    drawn, placed = _measured_on(np.array(path)[:, :2], place, sought, tube, at)
    label = _label(bicycle, place)
    off = abs(drawn - placed) > ALIKE
    return f"{label} {drawn:.1f} mm on the drawing, {placed:.1f} mm in the sheet", off


def _measured_on(
    host: Array, place: Along, sought: Candidate, tube: FreeTube, at: Vec
) -> tuple[float, float]:
    """How far along its host a tube's end is drawn and placed, mm, counted as the place counts."""
    drawn = where_on(host, tube.line, at)
    placed = where_on(host, sought, at)
    if not place.from_end:
        return drawn, placed
    length = float(np.hypot(*np.diff(host, axis=0).T).sum())
    return length - drawn, length - placed


def _label(bicycle: Bicycle, place: Along) -> str:
    """The item that places a tube's end, or the tube on which it lies."""
    key = str(place.at).strip("{}")
    labels = {item.key: item.label for item in bicycle.plan.items}
    if place.from_end:
        start = "end"
    else:
        start = "start"
    return labels.get(key, f"on the {spoken(place.tube)} from its {start}")


def _labelled(
    view: SideView, found: Mapping[str, FreeTube], findings: Sequence[Finding]
) -> SideView:
    names = {i: name for name, tube in found.items() for i in tube.curves}
    middle = {i for tube in found.values() for i in tube.middle}
    known = {f"handle {view.drawing.curves[i].handle}" for i in names}
    kept = [f for f in view.findings if not (f.code == "side-further-tube" and f.where in known)]
    drawn = {name: tube.drawn for name, tube in found.items()}
    return replace(
        view,
        labels=tuple(_named(label, names, middle) for label in view.labels),
        lines={**view.lines, **drawn},
        findings=(*kept, *findings),
    )


def _named(label: TextLabel, names: Mapping[int, str], middle: set[int]) -> TextLabel:
    name = names.get(label.index)
    if name is None:
        return label
    if label.index in middle:
        how = "centre-line"
    else:
        how = "edge"
    return replace(label, member=name, how=how)
