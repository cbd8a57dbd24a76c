"""Rear suspensions told from stiff frames: stays that end at a pivot instead of a tube.

Where the limits lie is common practice, no source.
"""

from collections.abc import Iterator, Sequence
from math import hypot

import numpy as np

from ....model.errors import InputError
from ..labelling.measure import Measured
from ..labelling.other_kinds import BY_POINTS
from ..linework.lines import Candidate
from ..linework.plane import Vec
from ..linework.rounds import FULL, Round
from .free_lines import FreeLines, tubes_of
from .member_lines import member_extents

SIZE = (4.5, 16.0)  # mm radius of a pivot's bearing or axle
AT_AXLE = 85.0  # mm about the rear axle in which a stay begins, or its own pivot lies
BESIDE_SHELL = 24.0  # mm about the bottom bracket: the shell's own circles
WITHIN = 14.0  # mm by which a stay's drawn end may miss the middle of its pivot
EDGE = 40.0  # mm by which an edge of the stay may
ON_LINE = 1.5  # mm by which its line may
MAIN = 160.0  # mm about the bottom bracket in which the lower stays have their pivot
CAP = 6.0  # mm beside the seat tube's axis: the cap of a seatstay, seen from the side
LEAST = 2  # pivots that make a suspension: a single one may be a hole


def refuse_pivots(m: Measured, rounds: Sequence[Round], free: FreeLines) -> None:
    """Raises InputError where lines from the rear axle end at circles that lie on no end of a diamond's stays."""
    pivots = _pivots(m, rounds)
    if len(pivots) < LEAST or min(hypot(*at) for at in pivots) > MAIN:
        return
    stays = list(_stays(m, _near(free, m, pivots)))
    found = [at for at in pivots if _ends_any(stays, at)]
    if len(found) < LEAST or min(hypot(*at) for at in found) > MAIN:
        return
    places = " and ".join(f"({x:.0f}, {y:.0f})" for x, y in found[:2])
    raise InputError(
        f"this drawing describes a frame with a rear suspension: lines from the rear axle end at circles {places} mm "
        "from the bottom bracket, as at pivots, and every plan is of a stiff frame. If the circles are no pivots, "
        f"leave them out with --pick ignore=HANDLE; {BY_POINTS}"
    )


def _near(free: FreeLines, m: Measured, pivots: Sequence[Vec]) -> FreeLines:
    """Free lines from about the rear axle to about a pivot: of a full sheet a few."""
    rear = np.array(m.rear.at) - np.array(m.bb.at)
    from_rear = np.hypot(*(free.ends - rear).transpose(2, 0, 1))
    away = np.hypot(*(free.ends[:, :, None] - np.array(pivots)).transpose(3, 0, 1, 2)).min(axis=2)
    near = (from_rear[:, 0] <= AT_AXLE) & (away[:, 1] <= EDGE)
    near |= (from_rear[:, 1] <= AT_AXLE) & (away[:, 0] <= EDGE)
    return free.only(near)


def _stays(m: Measured, free: FreeLines) -> Iterator[Candidate]:
    """Lines that begin about the rear axle, from there, mm from the bottom bracket."""
    rear = np.array(m.rear.at) - np.array(m.bb.at)
    lines = [tube.line for tube in tubes_of(free)]
    extents = member_extents(m)
    for name in ("chainstay", "seatstay"):
        if name in extents:
            p, q = extents[name].tolist()
            lines.append(Candidate(tuple(p), tuple(q)))
    for line in lines:
        for p, q in ((line.p, line.q), (line.q, line.p)):
            if hypot(*(np.array(p) - rear)) <= AT_AXLE < hypot(*(np.array(q) - rear)):
                yield Candidate(p, q)


def _pivots(m: Measured, rounds: Sequence[Round]) -> list[Vec]:
    """Circles that may be pivots: off the axles and the bracket, and no caps of stays on the seat tube."""
    seat = m.labelled.members["seat_tube"].line
    pose = m.labelled.pose
    places = []
    for r in rounds:
        if r.coverage < FULL or not SIZE[0] <= r.radius * pose.scale <= SIZE[1]:
            continue
        here = pose.apply(r.centre)
        x, y = np.array(here) - np.array(m.bb.at)
        from_rear = hypot(x - m.rear.at[0] + m.bb.at[0], y - m.rear.at[1] + m.bb.at[1])
        cap = hypot(x, y) > MAIN and abs(seat.lateral(here)) <= CAP
        if from_rear > AT_AXLE and hypot(x, y) > BESIDE_SHELL and not cap:
            places.append((float(x), float(y)))
    return places


def _ends_any(lines: Sequence[Candidate], at: Vec) -> bool:
    return any(_ends_at(line, at) for line in lines)


def _ends_at(line: Candidate, at: Vec) -> bool:
    past = line.along(at) - line.length
    return abs(line.lateral(at)) <= ON_LINE and abs(past) <= WITHIN
