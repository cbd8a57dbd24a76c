"""Where the tubes of each role lie in the trade, and what a size outside it most likely is: the slips of a hand.

All bands are common practice, no source; they are wide enough for a child's bicycle and a loaded cargo bicycle. What
lies outside is said and never changed. A size that no metal tube can have is an error.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from ..decide import at_least, at_most
from ..findings import Finding
from ..words import spoken
from .materials import Material, metal
from .tube import Tube

Range = tuple[float, float]
End = Literal["start", "end"]


@dataclass(frozen=True)
class UsualTube:
    """The sizes of one role, mm.

    larger, smaller : outside diameter at the wider and at the narrower end. wall : in steel and titanium.
    widest : the end that a tapered tube is wider at; None where both ways are built. thick : the end that a single
    butt belongs to; None where either may be. part : bolted or brazed on, may be a solid bar and of any diameter.
    """

    larger: Range
    smaller: Range
    wall: Range
    widest: End | None = None
    thick: End | None = None
    part: bool = False


USUAL_TUBES = {
    "head_tube": UsualTube((29, 62), (29, 56), (0.7, 2.5), widest="end"),
    "top_tube": UsualTube((22, 51), (19, 51), (0.4, 1.6)),
    "down_tube": UsualTube((25, 66), (25, 66), (0.4, 1.8)),
    "seat_tube": UsualTube((25, 41), (24, 41), (0.4, 2.0), thick="start"),
    "chainstay": UsualTube((15, 41), (9, 32), (0.5, 1.6), widest="start"),
    "seatstay": UsualTube((9.5, 26), (7.5, 22), (0.4, 1.5), widest="start"),
    "fork_blade": UsualTube((18, 46), (9, 34), (0.5, 2.0), widest="start"),
    "steerer": UsualTube((25, 40), (25, 36), (1.0, 3.0), widest="end", thick="end"),
    "bb_shell": UsualTube((36, 60), (36, 60), (1.5, 6.0), part=True),
    "rear_hub": UsualTube((9, 26), (9, 26), (1.0, 5.0), part=True),
    "front_hub": UsualTube((9, 26), (9, 26), (1.0, 5.0), part=True),
    "fork_crown_piece": UsualTube((18, 50), (18, 50), (1.5, 12.0), part=True),
    "bridge": UsualTube((9, 25), (9, 25), (0.5, 3.0), part=True),
    "seat_post": UsualTube((21, 36), (21, 36), (1.0, 4.0), part=True),
    "stem": UsualTube((18, 50), (18, 50), (1.0, 6.0), part=True),
    "bar": UsualTube((19, 36), (19, 36), (0.8, 4.0), part=True),
}
ALUMINIUM_WALLS = 2.2  # an aluminium wall is up to so many times a steel one
LEAST_RATIO = 4.5  # diameter over wall below this is a bar with a bore, no frame tube: an error
BUTTS = (35.0, 350.0)  # mm, length of a thick end; 0 stands for none
TAPERS = (5.0, 150.0)  # mm, over which the wall changes; 0: a step
STRAIGHTS = (15.0, 450.0)  # mm, over which a tapered tube is cylindrical; 0: not at all
LINE_MASS = (0.1, 3.0)  # kg per m
SPECIFIC_STIFFNESS = (
    12.0,
    130.0,
)  # E / density, 10^6 m2/s2; steel, titanium and aluminium: 24 to 27 (from memory)
# Diameters that tubes and steerers are drawn to, mm; compared to 0.15 mm, as 31.7 and 31.8 are one size.
TRADE = (
    12.7, 14.0, 15.9, 17.5, 19.0, 22.2, 24.0, 25.4, 28.6, 31.8, 34.9, 36.0, 36.4, 38.1, 40.0, 41.3, 42.0, 44.0,
    44.5, 46.0, 50.8, 54.0, 56.0,
)  # fmt: skip
# The few that nearly every straight tube has: only one of these can give an inside diameter away.
COMMON = (25.4, 28.6, 31.8, 34.9, 36.0, 38.1, 44.0)
SAME_SIZE = 0.15
# What a wrong size may be: factor to the right one, in words. Tried in this order.
WALL_SLIPS = ((0.1, "a slipped point"), (10.0, "a slipped point"), (25.4, "inches"))
SIZE_SLIPS = (
    (2.0, "a radius"),
    (25.4, "inches"),
    (10.0, "cm, or a slipped point"),
    (0.1, "a slipped point"),
    (0.5, "twice the size"),
)


def likely(value: float, usual: Range, slips: Sequence[tuple[float, str]], unit: str = "mm") -> str:
    """The question behind a value outside `usual`: ``0.8 mm, a slipped point?``; '' when no slip explains it."""
    low, high = usual
    for factor, reason in slips:
        right = value * factor
        if low <= right <= high:
            return f"{right:.4g} {unit}".strip() + f", {reason}?"
    return ""


def tube_slips(name: str, tube: Tube) -> list[Finding]:
    """What is hard to believe about one tube of the frame: sizes, proportions, the way it tapers, butts, mass.

    name : member, see `MEMBERS`; a tube of another role is held against physical sense only.
    """
    usual = USUAL_TUBES.get(name)
    if usual is not None and usual.part:
        return [
            *_material(name, tube.material),
            *_sizes(name, tube, usual),
            *_part_walls(name, tube, usual),
        ]
    found = [*_proportion(name, tube), *_material(name, tube.material)]
    if usual is None:
        return found
    return [
        *found,
        *_sizes(name, tube, usual),
        *_walls(name, tube, usual),
        *_direction(name, tube, usual),
        *_butts(name, tube, usual),
        *_inside(name, tube),
        *_mass(name, tube),
    ]


def _proportion(name: str, tube: Tube) -> Iterator[Finding]:
    """Bored bars: no tube of a bicycle is drawn so, whatever its role."""
    wall = max(tube.walls)
    ratio = max(tube.od_start, tube.od_end) / wall
    if at_least(ratio, LEAST_RATIO):
        return
    guess = likely(wall, (0.4, 3.0), WALL_SLIPS)
    yield Finding(
        "tube-no-tube",
        "error",
        f"{spoken(name)} {tube.label}: a wall of {wall:g} mm makes a bored bar of it (diameter over wall {ratio:.1f}, "
        f"tubes have {LEAST_RATIO:g} and more); {guess or 'check diameter and wall'}",
        name,
    )


def _sizes(name: str, tube: Tube, usual: UsualTube) -> Iterator[Finding]:
    larger = max(tube.od_start, tube.od_end)
    smaller = min(tube.od_start, tube.od_end)
    sizes = [(larger, usual.larger)]
    if smaller != larger:
        sizes.append((smaller, usual.smaller))
    # Once, where both ends are as wide.
    for width in dict.fromkeys((tube.oval_width, tube.oval_end)):
        if width is not None:
            # an oval is squeezed out of a round tube: its width may lie below the round one's by a third
            low, high = usual.smaller
            sizes.append((width, (low / 1.5, high * 1.5)))
    for size, (low, high) in sizes:
        if low <= size <= high:
            continue
        guess = likely(size, (low, high), SIZE_SLIPS)
        yield Finding(
            "tube-size-unusual",
            "warning",
            f"{spoken(name)} {tube.label}: outside diameter {size:g} mm, usual is {low:g} to {high:g} mm; "
            f"{guess or 'check the value and its unit'}",
            name,
        )


def _walls(name: str, tube: Tube, usual: UsualTube) -> Iterator[Finding]:
    low, high = usual.wall
    if metal(tube.material) == "aluminium":
        high *= ALUMINIUM_WALLS
    odd = [wall for wall in dict.fromkeys(tube.walls) if not low <= wall <= high]
    for wall in odd:
        guess = likely(wall, (low, high), WALL_SLIPS)
        yield Finding(
            "tube-wall-unusual",
            "warning",
            f"{spoken(name)} {tube.label}: wall {wall:g} mm, usual is {low:g} to {high:.3g} mm; "
            f"{guess or 'check the value and its unit'}",
            name,
        )


def _part_walls(name: str, tube: Tube, usual: UsualTube) -> Iterator[Finding]:
    """A part may be a solid bar; its wall is half the diameter then."""
    if tube.walls[0] != tube.od_start / 2:
        yield from _walls(name, tube, usual)


def _direction(name: str, tube: Tube, usual: UsualTube) -> Iterator[Finding]:
    start = tube.od_start
    end = tube.od_end
    if usual.widest is None or start == end:
        return
    if usual.widest == "start":
        right = start > end
    else:
        right = end > start
    if not right:
        yield Finding(
            "tube-taper-reversed",
            "warning",
            f"{spoken(name)} {tube.label}: it is read from {_from_to(name)}, and so it is the narrow end that meets "
            f"the {_wide_at(name)}; {end:g}-{start:g}?",
            name,
        )


def _from_to(name: str) -> str:
    """How a sheet's row runs along the tube."""
    return {
        "head_tube": "the top down",
        "steerer": "the top down",
        "chainstay": "the bottom bracket to the dropout",
        "seatstay": "the seat tube to the dropout",
        "fork_blade": "the crown to the dropout",
        "seat_tube": "the bottom bracket up",
    }.get(name, "one end to the other")


def _wide_at(name: str) -> str:
    return {
        "head_tube": "fork",
        "steerer": "crown",
        "chainstay": "bottom bracket",
        "seatstay": "seat tube",
        "fork_blade": "crown",
    }.get(name, "wide end's joint")


def _butts(name: str, tube: Tube, usual: UsualTube) -> Iterator[Finding]:
    """Thick ends where the joint is; lengths that are neither a butt nor a taper."""
    thin_ends = len(tube.walls) == 3 and tube.walls[1] > max(tube.walls[0], tube.walls[2])
    if thin_ends:
        yield Finding(
            "tube-butts-reversed",
            "warning",
            f"{spoken(name)} {tube.label}: thick in the middle and thin at the ends, where the joints are; "
            f"{tube.walls[1]:g}/{min(tube.walls):g}/{tube.walls[1]:g}?",
            name,
        )
    if len(tube.walls) == 2 and usual.thick is not None:
        first, rest = tube.walls
        if (first > rest) != (usual.thick == "start") and first != rest:
            yield Finding(
                "tube-butts-reversed",
                "warning",
                f"{spoken(name)} {tube.label}: it is read from {_from_to(name)}, and so the thick end lies at its far "
                f"end; {rest:g}/{first:g}? If it is meant so (butted outside for the post), nothing need be done",
                name,
            )
    held = (
        (tube.butts, BUTTS, "butt", "a taper stands behind its butt, 100+30"),
        (tube.tapers, TAPERS, "taper", "a taper stands behind its butt, 100+30"),
        (tube.straight, STRAIGHTS, "straight part", "it is measured from the tube's end, mm"),
    )
    for lengths, (low, high), what, meant in held:
        for length in dict.fromkeys(lengths):
            # 0 says that there is none of it.
            if length == 0 or low <= length <= high:
                continue
            guess = likely(
                length, (low, high), ((10.0, "cm"), (25.4, "inches"), (0.1, "a slipped point"))
            )
            yield Finding(
                "tube-butt-length-unusual",
                "warning",
                f"{spoken(name)} {tube.label}: {what} {length:g} mm long, usual is {low:g} to {high:g} mm; "
                f"{guess or 'check the value; ' + meant}",
                name,
            )


def _inside(name: str, tube: Tube) -> Iterator[Finding]:
    """A diameter no tube is sold in, which is just what a common tube of these walls measures inside."""
    size = tube.od_start
    # A taper or an oval has no one diameter to be taken for an inside.
    cylindrical = tube.od_start == tube.od_end and tube.oval_width is None
    if not cylindrical or _near(size, TRADE, SAME_SIZE):
        return
    for wall in dict.fromkeys((tube.walls[0], tube.walls[-1], min(tube.walls))):
        outside = _near(size + 2 * wall, COMMON, 0.051)
        if outside:
            yield Finding(
                "tube-inside-diameter",
                "warning",
                f"{spoken(name)} {tube.label}: {size:g} mm is what a tube of {outside:g} x {wall:g} mm measures "
                f"inside, and no usual outside diameter; {outside:g} mm?",
                name,
            )
            return


def _near(size: float, sizes: Sequence[float], apart: float) -> float | None:
    # Sizes stand farther apart than this, so the first one found is the only one.
    for known in sizes:
        if abs(known - size) <= apart:
            return known
    return None


def _mass(name: str, tube: Tube) -> Iterator[Finding]:
    """kg per m at the heavier end, from the section of a round tube: only the order of size counts here."""
    wall = max(tube.walls)
    size = max(tube.od_start, tube.od_end)
    # The area of a round tube, exactly.
    line = 3.14159 * wall * (size - wall) * tube.material.rho * 1e6  # t/mm to kg/m
    low, high = LINE_MASS
    if low <= line <= high:
        return
    yield Finding(
        "tube-mass-unusual",
        "warning",
        f"{spoken(name)} {tube.label} in {tube.material.name} weighs {line:.3g} kg per m, usual is {low:g} to "
        f"{high:g}; check diameter, wall and the density of the material",
        name,
    )


def _material(name: str, material: Material) -> Iterator[Finding]:
    if material.rho == 0:
        return  # made for statics only
    ratio = material.E / material.rho * 1e-12  # 10^6 m2/s2
    low, high = SPECIFIC_STIFFNESS
    if not (at_least(ratio, low) and at_most(ratio, high)):
        yield Finding(
            "material-unusual",
            "warning",
            f"{spoken(name)}: material {material.name} has E {material.E / 1000:.4g} GPa at a density of "
            f"{material.rho * 1e12:.4g} kg/m3; no metal of the trade has this ratio (steel 207 GPa at 7850, "
            "aluminium 69 at 2700); check both and their units",
            name,
        )
    strongest = material.ultimate
    if (
        material.yield_strength is not None
        and strongest is not None
        and material.yield_strength > strongest
    ):
        yield Finding(
            "material-unusual",
            "warning",
            f"{spoken(name)}: material {material.name} yields at {material.yield_strength:g} MPa, above its tensile "
            f"strength {strongest:g} MPa; the two are swapped?",
            name,
        )
