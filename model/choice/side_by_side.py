"""Bicycles side by side: what each is and what each gives, line by line, the last against the first in percent.

Nothing here says which is better. A bicycle whose tubes are not known (a drawing alone) has lines of geometry only.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from math import isfinite

import numpy as np

from ..errors import FrameError
from ..frame.bicycle import Bicycle
from ..frame.clearance import clearances
from ..frame.layout import lay_out
from ..frame.mesh import MeshOptions
from ..geometry.dimensions import FrameDimensions
from ..geometry.statements import label, quantities, unit
from ..reanalysis.fast_options import CaseMaker
from ..stability.hands import SetUp
from ..stability.shimmy_setup import HANDS_OFF
from ..stability.speed_map import speed_map
from ..vibration.mode_words import describe
from ..vibration.modes import modes
from ..vibration.setup import vibration_model
from ..words import spoken
from .figures import MASSES, Figure, figures
from .figures import values as measured_values
from .sights import front_share, front_weight
from .together import solved
from .variants import described

Value = float | str | None
SPEEDS = (3.0, 20.0, 35)  # m/s from, to, and how many, as `droptrail shimmy` looks
OWN_LOADS = "Deflections are under each bicycle's own loads; stiffnesses do not depend on them. "
_GEOMETRY = (
    "trail",
    "bb_drop",
    "fork_offset",
    "head_angle",
    "seat_angle",
    "stack",
    "reach",
    "chainstay",
    "wheelbase",
    "front_center",
    "bb_height",
    "wheel_flop",
    "head_tube",
    "axle_to_crown_straight",
    "effective_top_tube",
    "seat_tube",
    "standover",
    "wheel_radius_front",
    "wheel_radius_rear",
)


@dataclass(frozen=True)
class SideBicycle:
    """One bicycle of several: its name, its side view, and the bicycle where its tubes are known."""

    name: str
    dimensions: FrameDimensions
    bicycle: Bicycle | None
    cases_of: CaseMaker


@dataclass(frozen=True)
class SideLine:
    """One figure of every bicycle; None where it is not known. `key` is stable."""

    group: str
    key: str
    words: str
    unit: str
    values: tuple[Value, ...]
    note: str = ""

    @property
    def percent(self) -> float | None:
        """Change of the last against the first; None for words, and where there is nothing to take percents of."""
        first = self.values[0]
        last = self.values[-1]
        if not isinstance(first, float) or not isinstance(last, float):
            return None
        # Of nothing, or of less than nothing, there are no percents.
        if first <= 0 or not isfinite(first) or not isfinite(last):
            return None
        return 100.0 * (last / first - 1.0)


def side_by_side(
    beside: Sequence[SideBicycle], options: MeshOptions | None = None, count: int = 0
) -> tuple[SideLine, ...]:
    """Every line: geometry, fit, room, tubes, masses, stiffness, `count` natural frequencies, wobble."""
    held = [_known(one.dimensions) for one in beside]
    geometry = []
    for name in _GEOMETRY:
        row = tuple(values[name] for values in held)
        geometry.append(SideLine("Geometry", name, label(name), unit(name), row))
    return (
        *geometry,
        *_placing(beside),
        *_fit(beside),
        *_room(beside),
        *_tubes(beside),
        *_statics(beside, options),
        *(_frequencies(beside, count, options) if count else ()),
        *_wobble(beside),
    )


def _known(dimensions: FrameDimensions) -> dict[str, float | None]:
    """Every quantity; no standover where no top tube is known, as the centre-line's would mislead."""
    held = quantities(dimensions)
    if not dimensions.given.top_tube_half:
        held["standover"] = None
    return held


def _placing(beside: Sequence[SideBicycle]) -> Iterator[SideLine]:
    """The lengths that place the tubes of a plan, such as a boom between two brackets."""
    items = {}
    for one in beside:
        if one.bicycle is not None:
            items.update({item.key: item for item in one.bicycle.plan.items if item.unit == "mm"})
    for key, item in items.items():
        values = []
        for one in beside:
            known = one.bicycle is not None and key in one.bicycle.plan.item_keys
            values.append(one.bicycle.placed[key] if one.bicycle is not None and known else None)
        yield SideLine("Geometry", key, item.label, item.unit, tuple(values))


def _each(beside: Sequence[SideBicycle], of: Callable[[Bicycle], Value]) -> tuple[Value, ...]:
    """A figure of every bicycle; None where the tubes are not known or it cannot be had."""
    found: list[Value] = []
    for one in beside:
        value: Value = None
        if one.bicycle is not None:
            try:
                value = of(one.bicycle)
            # A bicycle without the figure leaves the line of the others standing.
            except FrameError:
                value = None
        found.append(value)
    return tuple(found)


def _fit(beside: Sequence[SideBicycle]) -> list[SideLine]:
    """Where saddle and bar are, from the bottom bracket; their heights above one another; weight on the front wheel."""

    def at(node: str, axis: int) -> Callable[[Bicycle], Value]:
        return lambda bicycle: float(lay_out(bicycle).joints[node][axis])

    def drop(bicycle: Bicycle) -> Value:
        joints = lay_out(bicycle).joints
        return float(joints["saddle"][1] - joints["bar_centre"][1])

    def behind(bicycle: Bicycle) -> Value:
        return -float(lay_out(bicycle).joints["saddle"][0])

    lines: tuple[tuple[str, str, str, Callable[[Bicycle], Value]], ...] = (
        ("saddle_behind", "saddle clamp behind the bottom bracket", "mm", behind),
        ("saddle_above", "saddle clamp above the bottom bracket", "mm", at("saddle", 1)),
        ("bar_before", "bar centre before the bottom bracket", "mm", at("bar_centre", 0)),
        ("bar_above", "bar centre above the bottom bracket", "mm", at("bar_centre", 1)),
        ("saddle_over_bar", "saddle clamp above the bar centre", "mm", drop),
        ("front_weight", "weight on the front wheel, rider seated", "N", front_weight),
        ("front_share", "share of the weight on the front wheel", "%", front_share),
    )
    return [SideLine("Fit", key, words, u, _each(beside, of)) for key, words, u, of in lines]


def fit_lines(bicycle: Bicycle) -> list[SideLine]:
    """Where saddle and bar of one bicycle are, and what rests on its front wheel."""
    return _fit([SideBicycle(bicycle.name, bicycle.dimensions, bicycle, lambda *_: ())])


def _room(beside: Sequence[SideBicycle]) -> list[SideLine]:
    gaps: list[dict[str, float]] = []
    for one in beside:
        held: dict[str, float] = {}
        if one.bicycle is not None:
            held = {gap.name: gap.gap for gap in clearances(one.bicycle)}
        gaps.append(held)
    # Every gap that any of them has, in the order in which they first come.
    names = dict.fromkeys(name for room in gaps for name in room)
    lines = []
    for name in names:
        row = tuple(room.get(name) for room in gaps)
        lines.append(SideLine("Room", _key(name), name, "mm", row))
    return lines


def _tubes(beside: Sequence[SideBicycle]) -> list[SideLine]:
    lines = []
    held = [one.bicycle.tubes if one.bicycle is not None else {} for one in beside]
    # In the order of the plans, each tube once.
    plans = [one.bicycle.plan for one in beside if one.bicycle is not None]
    for member in dict.fromkeys(name for plan in plans for name in plan.names):
        texts = tuple(described(tubes[member]) if member in tubes else None for tubes in held)
        if any(texts):
            lines.append(SideLine("Tubes", member, spoken(member), "", texts))
    return lines


def _statics(beside: Sequence[SideBicycle], options: MeshOptions | None) -> list[SideLine]:
    """Masses and every stiffness; a load case is the same for all, its loads each bicycle's own."""
    found: list[dict[str, float]] = []
    known: dict[str, Figure] = {}
    for one in beside:
        values: dict[str, float] = {}
        if one.bicycle is not None:
            masses, results = solved(one.bicycle, one.cases_of, options)
            all_of = (*MASSES, *figures([result.case for result in results.values()]))
            known |= {figure.key: figure for figure in all_of}
            figured = [*masses, *measured_values(results)]
            values = dict(zip((f.key for f in all_of), figured, strict=True))
        found.append(values)
    lines = []
    for key, figure in known.items():
        group = figure.group or "Mass"
        words = figure.words
        held = tuple(values.get(key) for values in found)
        load = ""
        if figure.reference is not None:
            # A stiffness does not hang on the size of its load, a movement does.
            load = f"{words}: {figure.load}. "
        elif figure.case:
            load = OWN_LOADS
        lines.append(SideLine(group, key, words, figure.unit, held, load))
    return lines


def _frequencies(
    beside: Sequence[SideBicycle], count: int, options: MeshOptions | None
) -> list[SideLine]:
    """The lowest natural frequencies by rank, each with what moves: frames differ too much to follow one shape."""
    hertz: list[list[float]] = []
    moves: list[list[str]] = []
    for one in beside:
        if one.bicycle is None:
            hertz.append([])
            moves.append([])
            continue
        model, case = vibration_model(one.bicycle, "tyres", options=options)
        # Up to six rigid motions may stand before the first mode.
        found = modes(model, case.supports, case.springs, count + 6)
        words = describe(found)
        picked = range(found.rigid, min(found.rigid + count, len(found)))
        hertz.append([float(found.frequencies_hz[k]) for k in picked])
        moves.append([words[k].title for k in picked])
    lines = []
    for k in range(count):
        # One bicycle may have fewer modes than another.
        values = tuple(h[k] if k < len(h) else None for h in hertz)
        said = tuple(m[k] if k < len(m) else None for m in moves)
        lines.append(
            SideLine("Modes on tyre springs", f"mode_{k + 1}", f"mode {k + 1}", "Hz", values)
        )
        lines.append(
            SideLine(
                "Modes on tyre springs", f"mode_{k + 1}_moves", f"mode {k + 1} moves", "", said
            )
        )
    return lines


def _wobbling(bicycle: Bicycle) -> tuple[float | None, float | None, float | None]:
    """Least damping hands off, its Hz, and what the hands must supply; None where the bicycle has no such motion."""
    low, high, number = SPEEDS
    speeds = np.linspace(low, high, number)
    try:
        usual = SetUp.of(bicycle)
        need = usual.need(speeds).most
        seen = speed_map(usual.model(bicycle.riding, HANDS_OFF), speeds)
    except FrameError:
        return None, None, None
    if np.all(np.isnan(seen.damping_ratio)):
        return None, None, need
    k = int(np.nanargmin(seen.damping_ratio))
    return float(seen.damping_ratio[k]), float(seen.frequency_hz[k]), need


def _wobble(beside: Sequence[SideBicycle]) -> list[SideLine]:
    """What the hands must supply; least damping of the wobble hands off, and its frequency there."""
    worst: list[tuple[float | None, float | None]] = []
    needed: list[float | None] = []
    for one in beside:
        if one.bicycle is None:
            worst.append((None, None))
            needed.append(None)
            continue
        *least, need = _wobbling(one.bicycle)
        worst.append((least[0], least[1]))
        needed.append(need)
    note = "Negative damping: a disturbance grows. Rests on assumed tyres and rider: for comparing only."
    group = f"Wobble, hands off, {SPEEDS[0]:g} to {SPEEDS[1]:g} m/s"
    hands = (
        "Damping that the hands must supply at the speed where most is needed; below zero: to spare. "
        "Rests on assumed tyres and rider: for comparing only."
    )
    damping = tuple(ratio for ratio, _ in worst)
    hertz = tuple(frequency for _, frequency in worst)
    return [
        SideLine(
            "Wobble, hands on the bar",
            "hands_need",
            "hands must supply",
            "N·m·s/rad",
            tuple(needed),
            hands,
        ),
        SideLine(group, "wobble_damping", "least damping ratio", "", damping, note),
        SideLine(group, "wobble_hz", "frequency there", "Hz", hertz, note),
    ]


def _key(name: str) -> str:
    return name.replace(",", "").replace(" ", "_")
