"""Findings on the wheels and on how the bicycle lies on the sheet: radii, rims, tilt, a drawn ground line."""

from collections.abc import Iterator
from math import hypot

import numpy as np
from numpy.typing import NDArray

from ....model.arrays import Array
from ....model.errors import InputError
from ....model.findings import Finding
from ..drawing import Curve, Drawing
from ..labelling.choice import Choice
from ..labelling.measure import Measured
from ..linework.plane import Vec
from ..linework.pose import RIM, Site
from ..linework.rounds import FULL, LEAST_COVERAGE, Round
from ..linework.words import is_ground, meaning
from .say import find
from .stretch import Stretch

# ISO 5775, mm
BEAD_SEATS = (
    305,
    349,
    355,
    369,
    406,
    451,
    507,
    520,
    540,
    559,
    571,
    584,
    590,
    597,
    622,
    630,
    635,
)
NARROWEST_TYRE = 0.952  # rim's bead seat over tyre outside; no tyre is lower than this on its rim
GUARD_OUTSIDE = (
    0.07  # of the tyre's radius; a mudguard or a rim's edge farther from it is not mistaken for it
)
RIM_MATCH = 0.15  # mm; a wheel circle this near half a bead seat diameter is a rim's
# mm; fitted circles: worth saying, worth a warning
ROUND_ERROR = 0.02
ROUGH_ERROR = 0.8
# degrees, share of the radius: wheels that differ in a drawing that leans are doubtful
LEAN = 10.0
UNEQUAL = 0.01
QUARTER = 90.0  # degrees between the sheet's axes
TURNED_OVER = 135.0  # degrees; nearer to upside down than to a quarter turn
HAIR = 2e-4  # slope of a line that is level
LEAST_SQUARE = 3  # lines level or upright with the ground that say that the sheet was turned
MOST_SQUARE = 20_000  # lines looked at
HUB = 40.0  # mm; a spoke's line passes its axle no farther off
LARGEST_WHEEL = 480.0  # mm of radius, a 36 inch tyre
DEGREES_PER_RADIAN = 57.3  # rounded: a tilt is told with three digits
SIZES_APART = 0.3  # mm of radius between the wheels; less is a matter of drawing, not of two tyres
RIM_INSIDE = 0.99  # of the tyre's radius; a circle outside this is the tyre once more
COPY = 1e-3  # share of a radius; circles nearer than this are one drawn twice
# of a tyre's radius from which another circle about its axle may be its rim or guard
MAY_BE_RIM = 0.7
UNLIKE = 0.012  # share by which wheels differ that are not of one size
# share of a radius within which one wheel's outside is a circle of the other wheel
SAME_CIRCLE = 2e-3
GROUND_SPANS = 0.9  # of the wheelbase: shorter level lines are something else
# Slope, and mm from the tangent, up to which a line counts as the ground: where it spans the wheelbase ...
GROUND_LINE = (0.02, 15.0)
GROUND_LAYER = (0.2, 200.0)  # ... and where its layer says that it is
GROUND_OFF = 0.3  # mm from the tangent under both wheels that are worth a warning
TILT = (0.01, 1.5)  # degrees off the sheet's axes that look like a mistake rather than a rotation


def _turned_as_a_whole(m: Measured) -> bool:
    """More lines are level or upright with the ground under the wheels than with the sheet: all of it was turned."""
    view = m.labelled.reading.view
    lines = view.pieces.reshape(-1, 2, 2)[:MOST_SQUARE]
    placed = m.labelled.pose.apply_all(lines)
    # four spokes of one wheel are square to each other however it stands
    other = ~(_spokes(placed, m.rear.at) | _spokes(placed, m.front.at))
    with_ground = _square(placed[other])
    return with_ground >= LEAST_SQUARE and with_ground > _square(lines[other])


def _spokes(lines: Array, axle: Vec) -> NDArray[np.bool_]:
    """Lines (n, 2, 2) that point at an axle, from no farther than a wheel is large."""
    rel = lines - np.array(axle)
    along = lines[:, 1] - lines[:, 0]
    length = np.hypot(*along.T)
    across = np.abs(rel[:, 0, 0] * along[:, 1] - rel[:, 0, 1] * along[:, 0])
    near = np.hypot(rel[..., 0], rel[..., 1]).max(axis=1) <= LARGEST_WHEEL
    spokes: NDArray[np.bool_] = near & (across <= HUB * length)
    return spokes


def _square(lines: Array) -> int:
    """How many lines are level or upright to a hair."""
    run = np.abs(lines[:, 1] - lines[:, 0])
    return int((run.min(axis=1) <= HAIR * run.max(axis=1)).sum())


def pose_findings(m: Measured) -> Iterator[Finding]:
    """How the drawing was turned; a small tilt is a mistake to look for."""
    pose = m.labelled.pose
    turn = pose.rotation_deg
    if pose.mirrored and abs(turn) > QUARTER:
        yield find(
            "facing-left",
            "info",
            "the bicycle faces left; read mirrored, so that front is to the right",
        )
    elif pose.mirrored:
        yield find(
            "upside-down",
            "info",
            "the bicycle stands on its head (the ground is above it, as in files with y "
            "downwards); read flipped, so that the wheels are below",
        )
    elif abs(turn) > TURNED_OVER:
        yield find(
            "turned-over", "info", f"the drawing is turned by {turn:.4g} degrees; read upright"
        )
    # from the nearest axis of the sheet: a view turned by a quarter is no tilt
    off = (turn + QUARTER / 2) % QUARTER - QUARTER / 2
    # what the tilt lifts one wheel by, mm
    high = abs(off) * (m.front.at[0] - m.rear.at[0]) / DEGREES_PER_RADIAN
    # a small tilt is seldom meant, a large one is; below the noise it shows nothing
    whole = _turned_as_a_whole(m)
    if TILT[0] <= abs(off) <= TILT[1] and high > 4 * m.noise and not whole:
        yield find(
            "tilted",
            "warning",
            f"the ground under both wheels is {abs(off):.3g} degrees off the sheet's axes: "
            f"drawn tilted, or one wheel is {high:.3g} mm too high or has the wrong radius; check the wheels",
        )
    elif TILT[1] < abs(off) <= LEAN and _unequal(m) > UNEQUAL and not whole:
        yield find(
            "tilted",
            "warning",
            f"the wheels differ in radius and the ground under both is {abs(off):.3g} "
            "degrees off the sheet's axes: either the drawing is rotated, or a wheel's circle is wrong; check "
            "both wheels",
        )
    elif abs(off) > TILT[1] or (whole and abs(off) >= TILT[0]):
        yield find(
            "rotated",
            "info",
            f"the drawing is rotated by {turn:.4g} degrees; levelled by the ground under "
            "both wheels",
        )


def _unequal(m: Measured) -> float:
    """Difference of the wheels' radii as a share of the rear one."""
    d = m.dimensions
    return abs(d.wheel_radius_front - d.wheel_radius_rear) / d.wheel_radius_rear


def wheel_findings(drawing: Drawing, m: Measured, stretch: Stretch | None) -> Iterator[Finding]:
    """Circles that were fitted, partly drawn, rims without tyre, tyres in doubt, unequal wheels, a stretched sheet."""
    if stretch is not None:
        yield _stretched(m, stretch)
    reading = m.labelled.reading
    scale = m.labelled.pose.scale
    for name, site in (("rear", reading.rear), ("front", reading.front)):
        yield from _fitted(name, site, scale, stretch)
        other = reading.front if name == "rear" else reading.rear
        yield from _rim_only(drawing, name, site, other, scale)
        if reading.view.evidence.unlikely(site.tyre):
            yield find(
                "tyre-doubt",
                "warning",
                f"the {name} wheel's outermost circle, radius "
                f"{site.tyre.radius * scale:.5g} mm, is dashed or on a layer for other things; if it is a "
                "mudguard or clearance, the tyre is missing: draw it",
            )
    yield from _tyre_doubts(drawing, m)
    yield from _arc_doubts(drawing, m)
    a = m.dimensions.wheel_radius_front
    b = m.dimensions.wheel_radius_rear
    if abs(a - b) > SIZES_APART:
        yield find(
            "unequal-wheels",
            "info",
            f"wheel radii differ: front {a:.5g} mm, rear {b:.5g} mm; the ground under "
            "both is taken as level",
        )


def _stretched(m: Measured, stretch: Stretch) -> Finding:
    """Both wheels are one ellipse: which of its axes is true nobody can see."""
    radius = m.dimensions.wheel_radius_front
    # the fitted circle lies half-way between the two half axes
    axes = (radius * (1 - stretch.share / 2), radius * (1 + stretch.share / 2))
    return find(
        "stretched",
        "warning",
        f"both wheels are ellipses, the front one with half axes of {axes[0]:.5g} and {axes[1]:.5g} mm: the drawing is "
        f"stretched by {stretch.share:.2%} at {stretch.direction:.0f} degrees to its x axis; angles are off by up to "
        f"{stretch.angle:.2g} degrees, lengths by {stretch.share:.2%}; scale it back in that direction",
    )


def _fitted(name: str, site: Site, scale: float, stretch: Stretch | None) -> Iterator[Finding]:
    tyre = site.tyre
    error = site.tyre.error * scale
    if stretch is not None:
        # straying that the ellipse explains is told as stretch, not as a rough wheel
        error = stretch.rough * scale
    if error > ROUND_ERROR or (error and len(tyre.curves) > 1):
        yield find(
            "wheel-fitted",
            "info",
            f"the {name} wheel is drawn with {len(tyre.curves)} piece(s), not as a "
            f"circle; fitted radius {tyre.radius * scale:.5g} mm, error {error:.2g} mm",
        )
    if tyre.inside * scale > ROUGH_ERROR:
        yield find(
            "wheel-coarse",
            "warning",
            f"the {name} wheel is a polygon; its corners lie on radius "
            f"{tyre.radius * scale:.5g} mm, its sides up to {tyre.inside * scale:.2g} mm inside; if the sides "
            "should touch the tyre, draw it as a circle",
        )
    if error > ROUGH_ERROR:
        yield find(
            "wheel-rough",
            "warning",
            f"the {name} wheel's pieces miss one common circle by up to {error:.2g} "
            "mm; trail depends on its radius: draw it as a circle",
        )
    if tyre.coverage < LEAST_COVERAGE:
        yield find(
            "wheel-part",
            "warning",
            f"only {tyre.coverage:.0%} of the {name} wheel's circle is drawn, an arc of radius "
            f"{tyre.radius * scale:.5g} mm; if it is a mudguard's or a rim's, trail and heights are wrong: draw the "
            "tyre's whole circle",
        )
    elif tyre.coverage < FULL:
        yield find(
            "wheel-part", "info", f"only {tyre.coverage:.0%} of the {name} wheel's circle is drawn"
        )


def _bead_seat(site: Site, scale: float) -> int | None:
    """Diameter of the bead seat that a wheel's one large circle has, mm; None where it has none or a rim inside it."""
    radius = site.tyre.radius * scale
    inner = [r for r in site.rounds[1:] if RIM * radius <= r.radius * scale < RIM_INSIDE * radius]
    # bead seats are diameters, the circle is known by its radius; with a rim inside it the circle is the tyre
    return next((d for d in BEAD_SEATS if not inner and abs(d / 2 - radius) <= RIM_MATCH), None)


def _rim_only(
    drawing: Drawing, name: str, site: Site, other: Site, scale: float
) -> Iterator[Finding]:
    radius = site.tyre.radius * scale
    by_layer = meaning(drawing.curves[site.tyre.curves[0]].layer) == "rim"
    bead = _bead_seat(site, scale)
    # two wheels are drawn alike: where the other's one circle is no rim's, this one's has its size by chance
    alone = len(_large(site)) == len(_large(other)) == 1
    chance = alone and _bead_seat(other, scale) is None
    if by_layer or (bead is not None and not chance):
        if bead:
            which = f"that of a {bead} mm bead seat"
        else:
            which = "on a layer for rims"
        yield find(
            "rim-only",
            "warning",
            f"the {name} wheel's only circle has radius {radius:.5g} mm, {which}: the "
            "rim, it seems, without the tyre; trail and heights need the tyre's outside: draw it",
        )


def _large(site: Site) -> list[Round]:
    """A wheel's circles that are tyre or rim."""
    return [r for r in site.rounds if r.radius >= RIM * site.tyre.radius and r.coverage >= FULL]


def _tyre_doubts(drawing: Drawing, m: Measured) -> Iterator[Finding]:
    """Two circles so near in size that one may be the tyre and the other its clearance or mudguard.

    Where both wheels are so drawn the picks are for both: one wheel's tyre alone would contradict the other's.
    """
    reading = m.labelled.reading
    scale = m.labelled.pose.scale
    found = {}
    for name, site in (("rear", reading.rear), ("front", reading.front)):
        tyre = site.tyre.radius
        near = [
            r
            for r in site.rounds[1:]
            if r.radius > NARROWEST_TYRE * tyre
            and abs(r.radius - tyre) > COPY * tyre
            and (r.coverage >= FULL or site.tyre.coverage < FULL)
        ]
        told = site.tyre.coverage < FULL and _arcs_beside(drawing, site)
        if near and not told and not reading.view.evidence.claimed(f"wheel_{name}"):
            found[name] = (tyre, near[0])
    picks = " ".join(
        f"--pick wheel_{name}={drawing.curves[other.curves[0]].handle}"
        for name, (_, other) in found.items()
    )
    for name, (tyre, other) in found.items():
        yield find(
            "tyre-doubt",
            "warning",
            f"the {name} wheel has two outer circles, radius {tyre * scale:.5g} and "
            f"{other.radius * scale:.5g} mm; the first is taken as the tyre. If it is a mudguard or clearance, "
            f"use {picks}",
        )


def _arc_doubts(drawing: Drawing, m: Measured) -> Iterator[Finding]:
    """Wheels of which a part is drawn, with further arcs about the same axle: tyre, mudguard and rim look alike."""
    reading = m.labelled.reading
    scale = m.labelled.pose.scale
    found = {}
    for name, site in (("rear", reading.rear), ("front", reading.front)):
        beside = _arcs_beside(drawing, site)
        if (
            site.tyre.coverage < FULL
            and beside
            and not reading.view.evidence.claimed(f"wheel_{name}")
        ):
            found[name] = (site.tyre.radius, beside[0])
    picks = " ".join(f"--pick wheel_{name}={other.handle}" for name, (_, other) in found.items())
    for name, (tyre, other) in found.items():
        yield find(
            "tyre-doubt",
            "warning",
            f"of the {name} wheel only arcs are drawn, of radius {tyre * scale:.5g} and "
            f"{(other.radius or 0.0) * scale:.5g} mm; the first is taken as the tyre. If that is a mudguard or a rim, "
            f"use {picks}, or draw the tyre's whole circle",
        )


def _arcs_beside(drawing: Drawing, site: Site) -> list[Curve]:
    """Arcs about a wheel's axle, inside of the one that was taken, that could be its tyre; the likeliest first."""
    tyre = site.tyre.radius
    arcs = []
    for curve in drawing.curves:
        if curve.kind != "arc" or curve.centre is None or curve.radius is None:
            continue
        apart = hypot(curve.centre[0] - site.centre[0], curve.centre[1] - site.centre[1])
        off = tyre - curve.radius
        if apart <= COPY * tyre and COPY * tyre < off <= GUARD_OUTSIDE * tyre:
            arcs.append(curve)
    # a mudguard has two lines: of all inside it the innermost is the tyre
    return sorted(arcs, key=lambda c: c.radius or 0.0)


def refuse_missing_tyre(m: Measured) -> None:
    """One wheel's outer circle is the other's rim or mudguard: its tyre is missing. Raises InputError."""
    front = m.labelled.reading.front
    rear = m.labelled.reading.rear
    scale = m.labelled.pose.scale
    for name, small, large in (("front", front, rear), ("rear", rear, front)):
        other = [
            r.radius
            for r in large.rounds[1:]
            if r.radius > MAY_BE_RIM * large.tyre.radius
            and (r.coverage >= FULL or large.tyre.coverage < FULL)
        ]
        # wheels of one size hide no missing tyre
        unequal = abs(small.tyre.radius - large.tyre.radius) > UNLIKE * large.tyre.radius
        if unequal and any(abs(r - small.tyre.radius) < SAME_CIRCLE * r for r in other):
            if small.tyre.radius < large.tyre.radius:
                what = "rim"
            else:
                what = "mudguard"
            raise InputError(
                f"the {name} tyre is missing: its wheel's outer circle (radius {small.tyre.radius * scale:.5g} mm) is "
                f"what the other wheel has as its {what}, beside a tyre of {large.tyre.radius * scale:.5g} mm; draw "
                "the tyre"
            )


def ground_findings(drawing: Drawing, choice: Choice, m: Measured) -> Iterator[Finding]:
    """A drawn ground line that is not the tangent under both wheels; one on a layer for it counts however far off."""
    pose = m.labelled.pose
    ends = pose.apply_all(choice.strokes.ends.reshape(-1, 2, 2))
    ground = -m.dimensions.wheel_radius_rear + m.rear.at[1]
    long = abs(ends[:, 0, 0] - ends[:, 1, 0]) >= GROUND_SPANS * (m.front.at[0] - m.rear.at[0])
    named = [
        curve.points[[0, -1]]
        for curve in drawing.curves
        if curve.kind == "line" and is_ground(curve.layer)
    ]
    said = pose.apply_all(np.array(named).reshape(-1, 2, 2))
    # a line that its layer names is held to the ground from farther off than an unnamed one
    for lines, slope, most in ((ends[long], *GROUND_LINE), (said, *GROUND_LAYER)):
        off = np.abs(lines[..., 1] - ground).max(axis=1)
        step = np.abs(lines[:, 1] - lines[:, 0])
        level = step[:, 1] <= slope * step[:, 0]
        wrong = off[level & (off > max(GROUND_OFF, 4 * m.noise)) & (off <= most)]
        if len(wrong):
            yield find(
                "ground-off",
                "warning",
                f"the drawn ground line is {wrong[0]:.2g} mm off the tangent under both "
                "wheels; a wheel's radius or place, or the line, is wrong",
            )
            return
