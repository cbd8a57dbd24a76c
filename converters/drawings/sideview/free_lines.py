"""Lines that no member of the diamond is drawn with, brought together to tubes: edges, centre-line, pieces of both."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ....model.arrays import Array
from ..labelling.choice import Choice
from ..labelling.measure import Measured
from ..linework.evidence import Evidence
from ..linework.lines import Candidate
from ..linework.plane import Vec
from ..linework.words import NO_PART
from .leftovers import used_bents, used_strokes

LEAST_LENGTH = 30.0  # mm; shorter lines are caps, mitres and slots
TUBE = (8.0, 65.0)  # mm between the outermost lines of a tube
PARALLEL = 0.05  # rad between the lines of one tube; the edges of a tapered stay close in so
MIDDLE = 1.5  # mm from the middle of two edges in which a line is their centre-line
REACH = 80.0  # mm that a tube's line is run on to its host's axis
HUB = 60.0  # mm from an axle in which spokes begin, at a large flange or a drum
RIM = (0.7, 1.0)  # of a wheel's radius, where spokes end
LEAST_SPOKES = 12  # lines that make a wheel; stays that end there by chance are fewer
PIECE = 0.1  # of a tube's longest line; what is shorter is a cap or a mitre of another
FARTHEST = 300.0  # mm of it for a tube that meets its host at a flat angle
OPENING = 110.0  # mm between pieces of one line: another tube runs into it there


@dataclass(frozen=True, eq=False)
class FreeLines:
    """ends : (n, 2, 2) mm from the bottom bracket. drawn : the same in drawing units. curves : of each line, the
    curves of the drawing it is made of."""

    ends: Array
    drawn: Array
    curves: tuple[tuple[int, ...], ...]

    def only(self, which: NDArray[np.bool_]) -> "FreeLines":
        """Those of a mask (n,)."""
        rows = np.flatnonzero(which).tolist()
        return FreeLines(self.ends[which], self.drawn[which], tuple(self.curves[k] for k in rows))


NO_LINES = FreeLines(np.zeros((0, 2, 2)), np.zeros((0, 2, 2)), ())


@dataclass(frozen=True, eq=False)
class FreeTube:
    """line : its middle, mm from the bottom bracket; `line.diameter` None where no two edges are drawn. drawn : the
    middle in drawing units. curves : of the drawing; middle : those of them that are the centre-line."""

    line: Candidate
    drawn: tuple[tuple[float, float], tuple[float, float]]
    curves: tuple[int, ...]
    middle: tuple[int, ...]


def free_lines(choice: Choice, m: Measured, evidence: Evidence) -> FreeLines:
    """Straight and curved lines that are no member's, not dashed and not of a layer for other things."""
    pieces = choice.pieces
    straight = len(choice.strokes.ends)
    drawn = np.concatenate((choice.strokes.ends.reshape(-1, 2, 2), pieces.tips))
    ends = m.labelled.pose.apply_all(drawn) - np.array(m.bb.at)
    free = np.hypot(*(ends[:, 1] - ends[:, 0]).T) >= LEAST_LENGTH
    free[sorted(used_strokes(m))] = False
    free[[straight + k for k in sorted(used_bents(m))]] = False
    allowed = may_be_tube(evidence)
    rows = []
    curves = []
    for k in np.flatnonzero(free).tolist():
        if k < straight:
            owners = tuple(dict.fromkeys(m.labelled.reading.view.curves_of((k,))))
        else:
            owners = pieces.bents[k - straight].owners
        if all(allowed[i] for i in owners):
            rows.append(k)
            curves.append(owners)
    found = FreeLines(ends[rows], drawn[rows], tuple(curves))
    return found.only(~_spokes(found.ends, m))


def _spokes(ends: Array, m: Measured) -> NDArray[np.bool_]:
    """Lines that are a wheel's spokes: many that run from its hub to its rim."""
    spokes = np.zeros(len(ends), bool)
    d = m.dimensions
    for axle, radius in ((m.rear.at, d.wheel_radius_rear), (m.front.at, d.wheel_radius_front)):
        away = np.hypot(*(ends - (np.array(axle) - np.array(m.bb.at))).transpose(2, 0, 1))
        these = away.min(axis=1) <= HUB
        these &= (away.max(axis=1) >= RIM[0] * radius) & (away.max(axis=1) <= RIM[1] * radius)
        if np.count_nonzero(these) >= LEAST_SPOKES:
            spokes |= these
    return spokes


def may_be_tube(evidence: Evidence) -> list[bool]:
    """Of every curve whether it may be a line of a tube."""
    others = {layer for layer in evidence.layers if evidence.word(layer) in NO_PART}
    may_be = []
    for i, curve in enumerate(evidence.curves):
        # a closed outline is a bag, a bottle or a plate
        no_tube = curve.closed or curve.layer in others
        may_be.append(not (no_tube or evidence.is_dashed(i) or evidence.ignored(i)))
    return may_be


def tubes_of(lines: FreeLines) -> Iterator[FreeTube]:
    """The tubes that some lines make, longest first; a line that has no partner is a tube without a width."""
    length = np.hypot(*(lines.ends[:, 1] - lines.ends[:, 0]).T)
    left = np.argsort(-length).tolist()
    while left:
        first = left[0]
        beside = [k for k in left if length[k] >= PIECE * length[first]]
        together = [
            k for k in beside if k == first or of_one_tube(lines.ends[first], lines.ends[k])
        ]
        left = [k for k in left if k not in together]
        yield _tube(lines, together)


def of_one_tube(one: Array, other: Array) -> bool:
    """Whether two lines run along with each other as edges, centre-line or pieces of one tube do."""
    line = Candidate(tuple(one[0]), tuple(one[1]))
    across = [line.lateral(tuple(end)) for end in other]
    along = sorted(line.along(tuple(end)) for end in other)
    slanted = abs(across[1] - across[0]) > PARALLEL * (along[1] - along[0])
    apart = max(along[0] - line.length, -along[1])
    return not slanted and max(map(abs, across)) <= TUBE[1] and apart <= OPENING


def _tube(lines: FreeLines, rows: Sequence[int]) -> FreeTube:
    first = lines.ends[rows[0]]
    line = Candidate(tuple(first[0]), tuple(first[1]))
    rel = lines.ends[list(rows)] - first[0]
    across = (line.u[0] * rel[..., 1] - line.u[1] * rel[..., 0]).mean(axis=1)
    width = float(np.ptp(across))
    off = np.abs(across - (across.min() + across.max()) / 2)
    middle = [k for k, far in zip(rows, off.tolist(), strict=True) if far <= MIDDLE]
    outlined = TUBE[0] <= width <= TUBE[1]
    # a drawn centre-line says best where the tube runs; of edges alone it is the mean of the outermost two
    if middle:
        sides = [middle]
    else:
        lowest = _rows_at(rows, across, across.min())
        highest = _rows_at(rows, across, across.max())
        sides = [lowest, highest]
    ends = _mean([_whole(lines.ends, side, line) for side in sides])
    drawn = _mean([_whole(lines.drawn, side, line, lines.ends) for side in sides])
    curves = dict.fromkeys(i for k in rows for i in lines.curves[k])
    centre = dict.fromkeys(i for k in middle for i in lines.curves[k])
    diameter = width if outlined else None
    return FreeTube(
        Candidate(tuple(ends[0]), tuple(ends[1]), diameter=diameter),
        ((float(drawn[0, 0]), float(drawn[0, 1])), (float(drawn[1, 0]), float(drawn[1, 1]))),
        tuple(curves),
        tuple(centre),
    )


def _rows_at(rows: Sequence[int], across: Array, side: float) -> list[int]:
    """The rows whose lines lie at one side, mm across."""
    return [k for k, at in zip(rows, across.tolist(), strict=True) if abs(at - side) <= MIDDLE]


def _whole(places: Array, rows: Sequence[int], line: Candidate, ends: Array | None = None) -> Array:
    """The first and the last of the places of some pieces along a line; `ends` : where they lie in mm, if not there."""
    measured = places if ends is None else ends
    along = (measured[list(rows)] - np.array(line.p)).reshape(-1, 2) @ np.array(line.u)
    points = places[list(rows)].reshape(-1, 2)
    both: Array = points[[int(along.argmin()), int(along.argmax())]]
    return both


def _mean(ends: Sequence[Array]) -> Array:
    """The mean of lines that run the same way."""
    mean: Array = np.mean(ends, axis=0)
    return mean


def where_on(path: Array, line: Candidate, at: Vec) -> float:
    """How far along a host's path (k, 2) a tube's line runs into it, mm: at the crossing nearest to `at`, or, where
    the two do not meet within reach, at the foot of the line's own end nearest to `at`."""
    import shapely

    host = shapely.LineString(path)
    here = shapely.Point(at)
    own = min((shapely.Point(line.p), shapely.Point(line.q)), key=here.distance)
    # a flat tube meets the axis far beyond its drawn end
    for reach in (REACH, FARTHEST):
        run = shapely.LineString((line.at(-reach), line.at(line.length + reach)))
        met = shapely.get_parts(shapely.intersection(run, host))
        points = [p for p in met if isinstance(p, shapely.Point) and not p.is_empty]
        if points:
            return float(shapely.line_locate_point(host, min(points, key=own.distance)))
    return float(shapely.line_locate_point(host, own))
