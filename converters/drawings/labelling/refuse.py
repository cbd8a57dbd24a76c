"""Refusals in the builder's words: no wheels, one wheel, wheels without a frame. One line each, with what to do."""

from collections.abc import Iterable, Sequence
from math import hypot

from ....model.errors import InputError
from ....model.tubes.known_plans import for_riders
from ....model.words import spoken
from ..drawing import Drawing
from ..linework.pieces import NO_LENGTH, Pieces
from ..linework.pose import Site
from .other_kinds import BY_POINTS
from .score import exactness
from .search import BRACING, REQUIRED, Labelling, LabelSearch, share
from .seat_tubes import seat_tubes


def no_wheels(drawing: Drawing, sites: Sequence[Site], pieces: Pieces) -> str:
    """Why no pair of wheels was found, and what to draw; names the one wheel that is there."""
    count = len(drawing.curves)
    wheel = _lone_wheel(sites, pieces)
    if wheel is not None:
        site, missing = wheel
        x, y = site.centre
        return (
            f"no {missing} wheel found: the drawing has one wheel only, radius {site.tyre.radius:.5g} at ({x:.5g}, "
            f"{y:.5g}); draw the {missing} tyre as a circle about its axle. If there is none: {BY_POINTS}"
        )
    if sites:
        largest = sites[0].tyre.radius
        return (
            f"no pair of wheels found among {len(sites)} circles (largest radius {largest:.5g}); draw both tyres "
            "as circles about their axles"
        )
    return (
        f"nothing that is a bicycle frame: no circle among {count} lines and curves could be a wheel; "
        "draw both tyres as circles about their axles"
    )


# A lone wheel: which of the largest circles are looked at, and what about them makes a wheel of one.
MOST_LONE = 4
AT_AXLE = 0.12  # wheel radii from its centre within which a line ends at the axle
ABOUT = 4.0  # wheel radii from its centre within which a frame would lie
# line ends between wheel and there; about a circle of something else there are fewer
LEAST_ABOUT = 4

LEFT_OUT = (
    "dxf-hidden",
    "dxf-not-plotted",
    "dxf-clipped",
    "dxf-filled",
    "dxf-xref",
    "dxf-block-missing",
    "dxf-block-scale-zero",
    "dxf-explode-first",
    "dxf-draws-nothing",
    "dxf-no-line-work",
)


def left_out(drawing: Drawing) -> str:
    """What of the file was not looked at, for the end of a refusal; '' when everything was."""
    said = [f.message.rstrip(".") for f in drawing.findings if f.code in LEFT_OUT]
    return f". Besides: {'; '.join(said)}" if said else ""


def _lone_wheel(sites: Sequence[Site], pieces: Pieces) -> tuple[Site, str] | None:
    """The one wheel there is, and which one is missing: stays run together at the rear axle, one fork at the front."""
    if not len(pieces.ends):
        return None
    ends = pieces.ends.reshape(-1, 2)
    bent_ends = [p for b in pieces.bents for p in (b.points[0], b.points[-1])]
    every_end = [*ends.tolist(), *(p.tolist() for p in bent_ends)]
    for site in sites[:MOST_LONE]:
        radius = site.tyre.radius
        near = sum(
            hypot(x - site.centre[0], y - site.centre[1]) <= AT_AXLE * radius for x, y in every_end
        )
        around = sum(
            radius < hypot(x - site.centre[0], y - site.centre[1]) < ABOUT * radius
            for x, y in ends.tolist()
        )
        if near and around >= LEAST_ABOUT:
            return site, "front" if near >= 2 else "rear"
    return None


def _promise(search: LabelSearch) -> tuple[float, int]:
    """How much of a bicycle a pose shows: a head tube with its fork, stays through the rear axle, lines at all."""
    forks = [f.points for _, _, readings in search.axes() for f in readings[:1]]
    stays = []
    for name in ("chainstay", "seatstay"):
        # the rear axle is the origin of a pose
        exact = (exactness(c.lateral((0.0, 0.0))) for c in search.slots[name])
        stays.append(max(exact, default=0.0))
    lines = sum(len(c) for c in search.slots.values())
    return max(forks, default=0.0) + sum(stays), lines


_WANTED = {
    "seat_tube": "seat tube",
    "head_tube": "head tube",
    "fork": "fork",
    "down_tube": "down tube",
    "top_tube": "top tube",
    "chainstay": "chainstay",
    "seatstay": "seatstay",
}


def no_frame(
    drawing: Drawing,
    found: Sequence[tuple[Labelling, LabelSearch]],
    searches: Sequence[LabelSearch],
    pieces: Pieces,
) -> str:
    """Wheels, but no frame between them: name what is missing in the best attempt."""
    dead = [drawing.curves[i].handle for i, why in pieces.dropped.items() if why == NO_LENGTH]
    named = ", ".join(handle for handle in dead[:3] if handle)
    if dead:
        hint = f" ({len(dead)} line(s) without length{', handle ' + named if named else ''})"
    else:
        hint = ""
    if found:
        best = max((r for r, _ in found), key=lambda r: r.score)
        missing = [_WANTED[n] for n in BRACING if best.members[n] is None]
        if best.fork is None:
            if best.view.evidence.claimed("fork"):
                return _picked_in_vain("fork")
            return (
                f"no fork found between the head tube and the front axle{hint}; draw it from its crown on the "
                "steering axis to the axle"
            )
        lacking = ", ".join(missing) or "nothing"
        return (
            f"no frame recognised (best reading {share(best):.0%}): missing {lacking}{hint}; complete the drawing. If "
            f"nothing is missing: {BY_POINTS}"
        )
    search = max(searches, key=_promise, default=None)
    held = {
        "head_tube": search is not None and bool(search.axes() or search.undivided),
        "seat_tube": search is not None and bool(search.slots["seat_tube"]),
    }
    missing = [_WANTED[n] for n in REQUIRED if not held[n]]
    in_vain = [
        n for n in missing if searches and searches[0].v.evidence.claimed(n.replace(" ", "_"))
    ]
    if in_vain:
        return _picked_in_vain(in_vain[0])
    if len(missing) == len(REQUIRED):
        return (
            f"nothing that is a bicycle frame between the wheels: no head tube and no seat tube{hint}; draw the "
            f"tubes' centre-lines or outlines. If there are none: {BY_POINTS}"
        )
    if not missing and search is not None and search.undivided is not None:
        handle = drawing.curves[search.v.curves_of(search.undivided.strokes)[0]].handle
        return (
            f"the steering axis is one line (handle {handle}) without an end where the head tube ends; draw the "
            "head tube as a line of its own, from its lower to its upper end"
        )
    if not missing:
        return (
            f"no bottom bracket found where the seat tube meets other tubes{hint}; draw its circle, the down tube "
            "or the chainstay"
        )
    return f"no {missing[0]} found{hint}; draw its centre-line or both its edges. If there is none: {BY_POINTS}"


def frameless_lines(
    drawing: Drawing,
    found: Sequence[tuple[Labelling, LabelSearch]],
    searches: Sequence[LabelSearch],
    pieces: Pieces,
) -> list[str]:
    """Handles of what `no_frame` names: lines without length; where nothing is found, a steering axis in one piece."""
    curves = [i for i, why in pieces.dropped.items() if why == NO_LENGTH]
    search = max(searches, key=_promise, default=None)
    if not found and search is not None and search.undivided is not None:
        curves += search.v.curves_of(search.undivided.strokes)
    return [drawing.curves[i].handle for i in curves]


def _picked_in_vain(what: str) -> str:
    return (
        f"no {what} found: the line named as {what} cannot be one by its place, length or direction; name another "
        "line, or leave it to the recognition"
    )


def refuse_unheeded(reading: Labelling, picked: Iterable[str]) -> None:
    """A member the user picked that was not taken. Raises InputError."""
    for name in picked:
        if name in BRACING and reading.members[name] is None:
            raise InputError(_picked_in_vain(spoken(name)))


def refuse_several(drawing: Drawing, searches: Sequence[LabelSearch]) -> None:
    """Seat tubes one behind the other with tubes between their feet. Raises InputError."""
    for search in searches:
        links = seat_tubes(search.v, search.front)
        if not links:
            continue
        behind = [link.rear for link in links]
        booms = [link.boom for link in links]
        tubes = (links[0].front, *behind, *booms)
        handles = [drawing.curves[search.v.curves_of((k,))[0]].handle for k in tubes]
        said = [handle or "no handle" for handle in handles]
        count = len(links) + 1
        plans = " or ".join(plan.name for plan in for_riders(count))
        do = "no plan for so many is known; give the frame as points and tubes ('droptrail new --plan points')"
        if plans:
            do = (
                f"to have it read give its fit sheet with a row 'plan' ({plans}; 'droptrail new --plan NAME'), or "
                "without a sheet say --plan NAME"
            )
        raise InputError(
            f"this drawing describes a frame for {count} riders (seat tubes, handles {_listed(said[:count])}, joined "
            f"at their feet by {_listed(said[count:])}); {do}",
            lines=handles,
        )


def _listed(words: Sequence[str]) -> str:
    """Words with commas, the last one behind an 'and'."""
    *most, last = words
    return f"{', '.join(most)} and {last}" if most else last
