"""Rules of the workshop: what can be joined, mitred and ridden without denting, each with where it comes from.

Most limits are common practice without a source and are meant to be set to one's own (see `Rules`). A fault
is a Finding whose message names tube, value, limit and what to do; a rule never changes a number.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Literal

import numpy as np

from ..decide import at_least, at_most, within
from ..errors import ModelError
from ..findings import Finding
from ..frame.bicycle import Bicycle
from ..frame.centre_lines import tightest_bend
from ..frame.frame_mitres import frame_mitres
from ..frame.layout import lay_out
from ..tubes.known_plans import further_ones
from ..tubes.materials import Material, metal
from ..tubes.plan import TubeRole, without_side
from ..tubes.tube import Tube
from ..tubes.usual import tube_slips
from ..words import spoken

Joining = Literal["brazed", "welded", "lugged"]
Depths = Mapping[tuple[str, str], float]  # (tube, end) -> what the mitre takes, mm
PRACTICE = "common practice, no source"

# Rule code -> (what it asks, where it comes from).
RULES: Mapping[str, tuple[str, str]] = {
    "rule-end-wall": ("walls at the joints thick enough for the heat of joining", PRACTICE),
    "rule-denting": (
        "outside diameter over wall small enough that the tube does not dent in use",
        PRACTICE,
    ),
    "rule-local-buckling": (
        "diameter over wall below 0.31 E / yield, above which a round tube in bending buckles "
        "locally before it yields",
        "AISC 360-16, Table B4.1b, round hollow sections (from memory)",
    ),
    "rule-butt-mitre": (
        "thick ends longer than the mitre takes, with a rest for the heat",
        PRACTICE,
    ),
    "rule-neighbour-size": ("a tube no wider than the tube it is mitred to", PRACTICE),
    "rule-bend-radius": (
        "bends of a tube no tighter than three diameters, to its middle line",
        PRACTICE,
    ),
    "rule-lug-size": ("diameters for which lugs are made", PRACTICE),
}
# mm per metal; lugs spread the heat of brazing as a fillet does.
LEAST_WALL: Mapping[str, Mapping[str, float]] = MappingProxyType(
    {
        "brazed": {"steel": 0.6, "titanium": 0.9, "aluminium": 1.2},
        "welded": {"steel": 0.8, "titanium": 0.9, "aluminium": 1.2},
        "lugged": {"steel": 0.5, "titanium": 0.9, "aluminium": 1.2},
    }
)
MOST_DIAMETERS: Mapping[str, float] = MappingProxyType(
    {"steel": 70.0, "titanium": 50.0, "aluminium": 50.0}
)


@dataclass(frozen=True)
class Rules:
    """One workshop's limits.

    least_wall : metal -> wall at a joint, mm; None takes `LEAST_WALL` for the way of joining. most_diameters : metal
    -> largest diameter over thinnest wall. butt_rest : thick wall left behind the mitre's throat, mm. lugs : tube ->
    diameters for which there are lugs, used when `joining` is lugged; where it is silent, those of the plan. least_bend
    : radius of a bend to the middle line over the tube's diameter there.
    skip : codes of rules that do not apply.
    """

    joining: Joining = "brazed"
    least_wall: Mapping[str, float] | None = None
    most_diameters: Mapping[str, float] = field(default_factory=lambda: MOST_DIAMETERS)
    butt_rest: float = 10.0
    lugs: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    lug_play: float = 0.25
    least_bend: float = 3.0
    skip: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        unknown = sorted(self.skip - set(RULES))
        if unknown:
            raise ModelError(
                f"workshop rule '{unknown[0]}' is not known; known: {', '.join(RULES)}"
            )

    def wall_needed(self, material: Material) -> float:
        return (self.least_wall or LEAST_WALL[self.joining])[metal(material)]

    def kept(self, faults: list[Finding]) -> list[Finding]:
        return [fault for fault in faults if fault.code not in self.skip]


def tube_faults(rules: Rules, role: TubeRole, tube: Tube) -> list[Finding]:
    """Faults of one tube by itself: end wall, denting, local buckling, lug size."""
    name = role.name
    return rules.kept(
        [*_end_wall(rules, name, tube), *_slenderness(rules, name, tube), *_lug(rules, role, tube)]
    )


def pair_faults(
    rules: Rules, bicycle: Bicycle, name: str, neighbour: str, depths: Depths
) -> list[Finding]:
    """Faults of one tube of the bicycle against one neighbour: widths, and butts against the mitre."""
    tube = bicycle.tubes[name]
    return rules.kept(
        [
            *_wider(bicycle, name, neighbour),
            *_butts(rules, bicycle.plan.role(name), tube, neighbour, depths),
        ]
    )


def frame_faults(rules: Rules, bicycle: Bicycle) -> list[Finding]:
    """Every fault of a bicycle's tubes."""
    single = [
        fault
        for name, tube in bicycle.tubes.items()
        for fault in tube_faults(rules, bicycle.plan.role(name), tube)
    ]
    depths = mitre_depths(bicycle)
    return (
        single
        + rules.kept(_bends(rules, bicycle))
        + [
            f
            for name, other in paired(bicycle)
            for f in pair_faults(rules, bicycle, name, other, depths)
        ]
    )


def bench_words(bicycle: Bicycle) -> tuple[Finding, ...]:
    """The rules for a brazed frame, as a word: how it will be joined is not known where nobody chose a rule."""
    return tuple(replace(fault, severity="info") for fault in frame_faults(Rules(), bicycle))


def new_faults(rules: Rules, present: Bicycle, changed: Bicycle, name: str) -> list[Finding]:
    """Faults and slips of a variant that the present bicycle does not have already, with the variant's name."""
    # what the builder has already is his choice; only what the variant brings is news
    old = {(fault.code, fault.where) for fault in faults_and_slips(rules, present)}
    return [
        Finding(fault.code, fault.severity, f"{name}: {fault.message}", fault.where)
        for fault in faults_and_slips(rules, changed)
        if (fault.code, fault.where) not in old
    ]


def faults_and_slips(rules: Rules, bicycle: Bicycle) -> list[Finding]:
    """Every fault of a bicycle's tubes, and what looks like a slip of the pen."""
    slips = [slip for name, tube in bicycle.tubes.items() for slip in tube_slips(name, tube)]
    return [*frame_faults(rules, bicycle), *slips]


def paired(bicycle: Bicycle) -> list[tuple[str, str]]:
    """(tube, neighbour) for which `pair_faults` has something to say; the shell counts as ``bb_shell``."""
    roles = bicycle.plan.roles
    pairs = [(role.name, met[0]) for role in roles for met in role.mitred.values()]
    # a pair may stand in both lists, and is judged once
    pairs += [(role.name, other) for role in roles for other in role.narrower_than]
    return [
        (a, b)
        for a, b in dict.fromkeys(pairs)
        if a in bicycle.tubes and (b in bicycle.tubes or b == "bb_shell")
    ]


def _end_wall(rules: Rules, name: str, tube: Tube) -> list[Finding]:
    needed = rules.wall_needed(tube.material)
    # the joint's heat meets the ends, whatever the middle is
    thin = min(tube.walls[0], tube.walls[-1])
    if at_least(thin, needed):
        return []
    return [
        Finding(
            "rule-end-wall",
            "warning",
            f"{spoken(name)} {tube.label}: wall {thin:g} mm at a joint, at least "
            f"{needed:g} mm is wanted for a {rules.joining} joint in {metal(tube.material)}; take a thicker "
            "end",
            name,
        )
    ]


def _slenderness(rules: Rules, name: str, tube: Tube) -> list[Finding]:
    # the worst place of a tapered or butted tube: widest over thinnest
    ratio = max(tube.od_start, tube.od_end) / min(tube.walls)
    found = []
    most = rules.most_diameters[metal(tube.material)]
    if not at_most(ratio, most):
        found.append(
            Finding(
                "rule-denting",
                "warning",
                f"{spoken(name)} {tube.label}: diameter over wall is "
                f"{ratio:.0f}, at most {most:g} is wanted in {metal(tube.material)} against dents; take a "
                "thicker wall",
                name,
            )
        )
    strength = tube.material.yield_strength
    # without a yield strength there is no saying which of the two comes first
    if strength is not None and not at_most(ratio, 0.31 * tube.material.E / strength):
        found.append(
            Finding(
                "rule-local-buckling",
                "warning",
                f"{spoken(name)} {tube.label}: diameter over wall is "
                f"{ratio:.0f}, above {0.31 * tube.material.E / strength:.0f} the wall buckles before it "
                "yields; take a thicker wall",
                name,
            )
        )
    return found


def _bends(rules: Rules, bicycle: Bicycle) -> list[Finding]:
    """Tubes bent tighter than they can be without a buckle; blades are bought bent."""
    found = []
    for member in lay_out(bicycle).members:
        role = bicycle.plan.role(member.tube)
        tube = bicycle.tubes.get(member.tube)
        if role.bend is None or role.in_fork or tube is None or member.name.endswith("_left"):
            continue
        radius, at = tightest_bend(np.array(member.path))
        across = float(tube.heights(member.length, at))
        if not at_least(radius, rules.least_bend * across, radius):
            found.append(
                Finding(
                    "rule-bend-radius",
                    "warning",
                    f"{spoken(role.name)} {tube.label}: bent to a radius of {radius:.0f} mm, {radius / across:.1f} of "
                    f"its diameters, {at:.0f} mm from its start; at least {rules.least_bend:g} are wanted, or the wall "
                    "buckles: take a gentler bend, or a thinner tube",
                    role.name,
                )
            )
    return found


def _lug(rules: Rules, role: TubeRole, tube: Tube) -> list[Finding]:
    # only a lug has a fixed size; filler and weld follow any tube
    if rules.joining != "lugged":
        return []
    name = role.name
    made = rules.lugs.get(name, role.lugs)
    if not made:
        return _lug_unknown(role, tube)
    for od in (tube.od_start, tube.od_end):
        # a lug is reamed or filled that far
        if not any(within(od - size, rules.lug_play, od) for size in made):
            sizes = ", ".join(f"{size:g}" for size in made)
            return [
                Finding(
                    "rule-lug-size",
                    "warning",
                    f"{spoken(name)} {tube.label}: no lug for {od:g} mm; there are {sizes} mm",
                    name,
                )
            ]
    return []


def _lug_unknown(role: TubeRole, tube: Tube) -> list[Finding]:
    """Stays, blades and steerer have sockets of their own; of any further tube nobody has told which lugs there are."""
    if not further_ones([role]):
        return []
    name = role.name
    return [
        Finding(
            "rule-lug-size",
            "warning",
            f"{spoken(name)} {tube.label}: no lugs are known for this tube; braze or weld it, or leave out "
            "rule-lug-size",
            name,
        )
    ]


def _wider(bicycle: Bicycle, name: str, neighbour: str) -> list[Finding]:
    if neighbour not in bicycle.plan.role(name).narrower_than:
        return []
    tube = bicycle.tubes[name]
    other = bicycle.tubes[neighbour]
    # across the plane of the frame: that is where a wider tube would wrap round its neighbour
    width = max(_across(tube))
    room = min(_across(other))
    if at_most(width, room):
        return []
    return [
        Finding(
            "rule-neighbour-size",
            "warning",
            f"{spoken(name)} {tube.label} is {width:g} mm wide, the "
            f"{spoken(neighbour)} it is mitred to only {room:g} mm; take a narrower tube or a wider neighbour",
            name,
        )
    ]


def _across(tube: Tube) -> tuple[float, float]:
    """Width across the plane of the frame at both ends."""
    if tube.oval_width is None or tube.width_end is None:
        return tube.od_start, tube.od_end
    return tube.oval_width, tube.width_end


def _butts(
    rules: Rules, role: TubeRole, tube: Tube, neighbour: str, depths: Depths
) -> list[Finding]:
    name = role.name
    for end, neighbours in role.mitred.items():
        butt = _butt_at(tube, end)
        depth = depths.get((name, end))
        if (
            neighbours[0] == neighbour
            and butt is not None
            and depth is not None
            and not at_least(butt, depth + rules.butt_rest)
        ):
            return [
                Finding(
                    "rule-butt-mitre",
                    "warning",
                    f"{spoken(name)} {tube.label}: the thick end at the "
                    f"{spoken(neighbour)} is {butt:g} mm long, the mitre takes {depth:.0f} mm and "
                    f"{rules.butt_rest:g} mm are wanted behind it; take a longer butt",
                    name,
                )
            ]
    return []


def _butt_at(tube: Tube, end: str) -> float | None:
    """Length of the thick end there; None where the tube has none."""
    # Single butted: the one butt is at the start.
    if not tube.butts or (end == "end" and len(tube.butts) < 2):
        return None
    return tube.butts[0 if end == "start" else -1]


def mitre_depths(bicycle: Bicycle) -> Depths:
    """What each mitre takes, long point to throat, mm; only ends that meet their neighbour all round."""
    return {
        (without_side(mitre.member), mitre.at_end): mitre.depth
        for mitre in frame_mitres(bicycle)
        if mitre.coverage == 1.0
    }
