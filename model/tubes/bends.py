"""Bent tubes: an arc by sagitta or radius, or a smooth run through given points; as text and as a centre-line.

``sagitta 30`` bows 30 mm up in the middle (forward on a tube that stands, outwards with ``out``), ``radius 1200`` is
the same arc told by its radius; a minus turns it down, back or inwards. ``via 0.4 up -25, 0.8 out 6`` runs smoothly
through points beside the straight line from end to end: dropped and S-bent stays.
"""

import itertools
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import ceil

import numpy as np

from ..arrays import Xyz
from ..columns import atan, degrees, dist, hypot, points_of, sin, sqrt, tuples_of
from ..errors import ModelError
from .places import Amount, amount_words, read_amount

ARC_STEP = 1.5  # degrees of arc for one straight piece, at most
LEAST_PIECES = 24
VIA_PIECES = 48
_NUMBER = r"(?:-?\d+(?:[.,]\d+)?|\{\w+\})"
_ARC = re.compile(
    rf"(?P<kind>sagitta|radius)\s+(?P<size>{_NUMBER})(?:\s*mm)?(?:\s+(?P<way>up|out))?"
)
_VIA = re.compile(rf"(?P<share>\d*[.,]?\d+)(?P<offs>(?:\s+(?:up|out)\s+{_NUMBER}(?:\s*mm)?)+)")
_OFF = re.compile(rf"(up|out)\s+({_NUMBER})")
HINT = "write 'sagitta 30', 'radius 1200', 'sagitta 8 out', or 'via 0.4 up -25, 0.8 out 6'"


@dataclass(frozen=True)
class Via:
    """A point the tube runs through: share of the straight way from start to end; mm up and out from there."""

    share: float
    up: Amount = 0.0
    out: Amount = 0.0


@dataclass(frozen=True)
class Bend:
    """How a tube is bent: by `sagitta` or `radius`, mm (one of both), or `via` points. outwards : the arc lies in the
    plane across the frame. Raises ModelError for via points that do not run from start to end."""

    sagitta: Amount = 0.0
    radius: Amount = 0.0
    outwards: bool = False
    via: tuple[Via, ...] = ()

    def __post_init__(self) -> None:
        shares = [0.0, *(point.share for point in self.via), 1.0]
        if any(a >= b for a, b in itertools.pairwise(shares)):
            raise ModelError(
                "the points that a tube runs through stand at rising shares between 0 and 1; "
                + HINT
            )

    @property
    def words(self) -> str:
        """The text that `read_bend` reads back."""
        if self.via:
            return "via " + ", ".join(map(_via_words, self.via))
        way = " out" if self.outwards else ""
        if self.radius:
            return f"radius {amount_words(self.radius)}{way}"
        return f"sagitta {amount_words(self.sagitta)}{way}"

    @property
    def amounts(self) -> Iterator[Amount]:
        """Every number that may be an item."""
        yield self.sagitta
        yield self.radius
        for point in self.via:
            yield point.up
            yield point.out


def read_bend(text: str) -> Bend:
    """The bend a text means. Raises ModelError, with how one is written."""
    said = text.strip().casefold()
    if said.startswith("via "):
        return Bend(via=tuple(map(_read_via, re.split(r"[;,]\s+", said.removeprefix("via ")))))
    match = _ARC.fullmatch(said)
    if match is None:
        raise ModelError(f"'{text}' is no bend; {HINT}", value=text)
    size = read_amount(match["size"])
    outwards = match["way"] == "out"
    if match["kind"] == "radius":
        if size == 0:
            raise ModelError(f"'{text}': a radius of nought bends nothing; {HINT}", value=text)
        return Bend(radius=size, outwards=outwards)
    return Bend(sagitta=size, outwards=outwards)


def _read_via(text: str) -> Via:
    match = _VIA.fullmatch(text.strip())
    if match is None:
        raise ModelError(f"'{text}' is no point to run through; {HINT}", value=text)
    off = {way: read_amount(size) for way, size in _OFF.findall(match["offs"])}
    return Via(float(match["share"].replace(",", ".")), off.get("up", 0.0), off.get("out", 0.0))


def _via_words(point: Via) -> str:
    share = repr(point.share).removesuffix(".0")
    offs = [
        f"{way} {amount_words(size)}"
        for way, size in (("up", point.up), ("out", point.out))
        if size
    ]
    return " ".join((share, *(offs or ["up 0"])))


def bent_path(
    bend: Bend, start: Xyz, end: Xyz, sign: float, size: Callable[[Amount], float]
) -> tuple[Xyz, ...]:
    """Points of the centre-line from start to end, mm.

    sign : of z outwards: 1 right, -1 left. size : what an amount is in mm. The curve runs through every point
    returned, so chords lie within it.

    Raises
    ------
    ModelError
        For an arc of more than half a turn.
    """
    chord = (end[0] - start[0], end[1] - start[1], end[2] - start[2])
    length = dist(start, end)
    if bend.via:
        return _through(bend.via, start, chord, sign, size)
    sagitta = size(bend.sagitta)
    if bend.radius:
        sagitta = _sagitta_of(size(bend.radius), length)
    if not sagitta:
        return (start, end)
    if abs(sagitta) > length / 2:
        raise ModelError(
            f"a sagitta of {sagitta:g} mm on a tube {length:.0f} mm from end to end is more than half a turn; "
            "check both"
        )
    across = _outwards(chord, sign) if bend.outwards else _upwards(chord)
    # The tangent at the end turns by this against the chord.
    half = 2 * atan(2 * abs(sagitta) / length)
    radius = length / 2 / sin(half)
    if sagitta < 0:
        radius = -radius
    pieces = max(LEAST_PIECES, ceil(degrees(2 * half) / ARC_STEP))
    offs = []
    for share in np.linspace(-1.0, 1.0, pieces + 1)[1:-1].tolist():
        turn = half * share
        # cos a - cos b as a product: nothing cancels on a flat arc
        off = 2 * radius * sin((half + turn) / 2) * sin((half - turn) / 2)
        offs.append((0.5 + abs(radius) * sin(turn) / length, off))
    between = []
    for along, off in offs:
        x, y, z = (a + along * c + off * n for a, c, n in zip(start, chord, across, strict=True))
        between.append((x, y, z))
    # The ends to the last digit, since joints are told by their places.
    return (start, *between, end)


def _sagitta_of(radius: float, length: float) -> float:
    if abs(radius) < length / 2:
        raise ModelError(
            f"a radius of {abs(radius):g} mm cannot span a tube {length:.0f} mm from end to end; give at least "
            f"{length / 2:.0f} mm"
        )
    rise = abs(radius) - sqrt(radius**2 - length**2 / 4)
    return rise if radius > 0 else -rise


def _through(
    via: tuple[Via, ...],
    start: Xyz,
    chord: Xyz,
    sign: float,
    size: Callable[[Amount], float],
) -> tuple[Xyz, ...]:
    from scipy.interpolate import PchipInterpolator

    shares = [0.0, *(point.share for point in via), 1.0]
    offs = points_of([(0.0, 0.0), *((size(p.up), size(p.out)) for p in via), (0.0, 0.0)])
    at = np.union1d(np.linspace(0, 1, VIA_PIECES + 1), shares)
    # It never swings wider than the points it runs through.
    up, out = np.moveaxis(PchipInterpolator(shares, offs, axis=-2)(at), -1, 0)[..., None]
    path = points_of([start]) + at[:, None] * points_of([chord])
    return tuples_of(
        path + up * points_of([_upwards(chord)]) + out * points_of([_outwards(chord, sign)])
    )


def _upwards(chord: Xyz) -> Xyz:
    """Square to the chord in the side view: up, or forward where the tube stands."""
    size = hypot(chord[0], chord[1])
    if size < 1e-9:
        # a crosswise tube
        return (0.0, 1.0, 0.0)
    x = -chord[1] / size
    y = chord[0] / size
    stands = abs(chord[1]) > abs(chord[0])
    if (x if stands else y) < 0:
        return (-x, -y, 0.0)
    return (x, y, 0.0)


def _outwards(chord: Xyz, sign: float) -> Xyz:
    """Square to the chord, across the frame."""
    length = hypot(*chord)
    along = (chord[0] / length, chord[1] / length, chord[2] / length)
    # What is left of the way across without its share along the chord.
    share = sign * along[2]
    across = (-share * along[0], -share * along[1], sign - share * along[2])
    size = hypot(*across)
    if size < 1e-9:
        raise ModelError("a tube that runs across the frame cannot be bent outwards")
    return (across[0] / size, across[1] / size, across[2] / size)
