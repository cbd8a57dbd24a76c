"""`droptrail shimmy`: the damping that the hands must supply against wobble, over speed, and what moves it."""

from math import isnan
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..converters.showing.words import signed
from ..model.assumption import COMMON_PRACTICE
from ..model.words import spoken
from . import show
from .options import input_argument, json_option, read, reading_options

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ..model.findings import Finding
    from ..model.frame.bicycle import Bicycle
    from ..model.stability.hands import RackLimit
    from ..model.stability.hands_study import Change, HandsStudy
    from ..model.stability.speed_map import SpeedMap

# riders know km/h, the equations are in m/s
KM_H = 3.6  # per m/s
UNIT = "N·m·s/rad"


@click.command("shimmy")
@input_argument
@click.option(
    "--speeds", default="3-20", show_default=True, metavar="M/S-M/S", help="Speed range, m/s."
)
@click.option(
    "--draws",
    default=40,
    show_default=True,
    type=click.IntRange(0, 2000),
    metavar="N",
    help="Draws of what nobody stated (tyres, frame as built, rider), for the band and for 'lower in %'; 0: none.",
)
@reading_options
@json_option
def command(source: Path, speeds: str, draws: int, as_json: bool, **how: Any) -> int:
    """What the hands on the bar of INPUT must supply so that no wobble grows - to compare set-ups, not a promise."""
    import numpy as np

    from ..model.stability.hands import SetUp, rack_limit
    from ..model.stability.hands_study import hands_study
    from ..model.stability.shimmy_flex import head_flex
    from ..model.stability.shimmy_setup import HANDS_OFF, RELAXED
    from ..model.stability.speed_map import CAUTION, shimmy_study, speed_map

    reading = read(source, **how)
    bicycle = reading.need_bicycle().as_ridden
    at = np.linspace(*_range(speeds), 35)
    # every second speed: each of them solves all draws and all changes
    hands = hands_study(bicycle, at[::2], draws)
    usual = SetUp.of(bicycle)
    rack = rack_limit(usual)
    found = (*reading.findings, *_sway(rack, bicycle))
    # hands off: the usual way to compare bicycles, and what the eigenvalues of --json tell
    off = usual.model(bicycle.riding, HANDS_OFF)
    # per radian inside, per degree for a builder
    stiffness = head_flex(bicycle).turn_stiffness * np.pi / 180
    if as_json:
        from ..converters.showing.result_json import stamped

        study = shimmy_study(off, at)
        seen = study.reference
        eigenvalues = [_pairs(row) for row in seen.eigenvalues]
        fields = {
            "source": reading.source,
            "input_sha256": reading.sha256,
            "caution": study.caution,
            "head_stiffness": {"value": stiffness, "unit": "N·m/deg"},
            "hands": _hands_json(hands),
            "front_bags": _bags_json(rack),
            "speeds_m_s": seen.speeds,
            "frequency_hz": seen.frequency_hz,
            "damping_ratio": seen.damping_ratio,
            "eigenvalues": eigenvalues,
            "variants": study.rows(),
        }
        show.print_json(stamped(reading, fields, found, off.assumed))
        return int(show.serious(found))
    # hands on: the arms hang on the bar and damp it, so both are shown side by side
    on = usual.model(bicycle.riding, RELAXED)
    _lead(hands, bicycle.riding)
    maps = (speed_map(off, at[::2]), speed_map(on, at[::2]))
    show.paragraph(_band_words(*maps))
    _over_speed(reading.source, hands, *maps)
    _what_moves_it(hands)
    show.paragraph(bag_words(rack))
    show.paragraph(
        f"Head against rear axle, condensed from the frame: {stiffness:.0f} N·m/degree. {CAUTION}"
    )
    show.findings(found)
    show.assumed(off.assumed)
    return int(show.serious(found))


def _lead(hands: "HandsStudy", stated: Any) -> None:
    """The figure first: what is needed, where, how sure, and whether arms supply it."""
    from ..model.frame.riding import RIDING

    need = hands.need
    # negative need is spare damping, and is told as such
    if need.most > 0:
        said = (
            f"Against wobble the hands must supply most at {need.at:.1f} m/s ({KM_H * need.at:.0f} km/h): "
            f"{need.most:.2f} {UNIT}, at {need.hz[need.worst]:.1f} Hz."
        )
    else:
        said = (
            f"Hands resting on the bar need not damp anything: the bicycle has {-need.most:.2f} {UNIT} to spare where "
            f"it has least, at {need.at:.1f} m/s ({KM_H * need.at:.0f} km/h)."
        )
    if hands.band is not None and hands.steady is not None:
        band = hands.band
        said += (
            f" Over what nobody stated ({hands.draws} draws of tyres, frame as built, rider and racks): "
            f"{band.low:.2f} to {band.high:.2f} in eight of ten, middle {band.middle:.2f}."
        )
        arms = RIDING["arms_damping"]
        # what the sheet states is taken as it is; else the range of the trade is named
        if "arms_damping" in stated:
            held = f"The arms' stated {stated['arms_damping']:g} {UNIT}"
        else:
            held = f"Arms that damp {arms.low:g} to {arms.high:g} {UNIT} ({COMMON_PRACTICE})"
        said += f" {held} are enough in {100 * hands.steady:.0f} % of that."
    show.paragraph(said + _best_tube(hands))


def _band_words(off: "SpeedMap", on: "SpeedMap") -> str:
    """The wobble's frequencies and where it grows, beside what was published, and what the figures take for granted."""
    return (
        f"Hands off the bar {_grows(off)}. Hands resting on it {_grows(on)}. Published of racing bicycles: 6 to 9 Hz "
        "hands off, 6 to 12 Hz hands on; of bicycles in general 4 to 10 Hz (sources, and what moves it there, stand in "
        "validation/VALIDATION.md). Taken for granted: a rider who sits firmly, feet on both pedals, and whose trunk "
        "leans at the hip and twists on its spine as assumed below."
    )


def _grows(seen: "SpeedMap") -> str:
    """``the wobble has 7.3 to 8.7 Hz and grows by itself from 9 to 13 m/s (32 to 47 km/h)``."""
    import numpy as np

    if np.all(np.isnan(seen.frequency_hz)):
        return "nothing wobbles"
    said = f"the wobble has {np.nanmin(seen.frequency_hz):.1f} to {np.nanmax(seen.frequency_hz):.1f} Hz"
    if seen.growing is None:
        at, least = seen.least_damped
        return f"{said} and dies out at every speed, least at {at:.0f} m/s ({KM_H * at:.0f} km/h, ratio {least:.3f})"
    slow, fast = seen.growing
    return f"{said} and grows by itself from {slow:.0f} to {fast:.0f} m/s ({KM_H * slow:.0f} to {KM_H * fast:.0f} km/h)"


def bag_words(rack: "RackLimit") -> str:
    """Whether bags in front calm or harm, and which give of the rack decides."""
    from ..model.stability.hands import FIRM, sway_hz

    said = (
        f"{rack.mass:g} kg in bags on both sides of the front wheel: {signed(rack.firm, 2)} {UNIT} on a rack that "
        f"gives {FIRM:g} mm sideways under their weight, {signed(rack.none, 2)} without bags."
    )
    give, need = rack.worst
    # below zero it is to spare, and nothing is asked of the hands
    if rack.limit is None:
        return f"{said} On no rack looked at, up to {give:g} mm, do they ask more than no bags."
    if rack.limit:
        said += (
            f" They calm on a firm rack and harm on a soft one: from {rack.limit:.0f} mm on (a sway of "
            f"{sway_hz(rack.limit):.1f} Hz) they ask more than no bags, most at {give:g} mm: {signed(need, 2)}."
        )
    else:
        said += f" They ask more however firm the rack is, most at {give:g} mm: {signed(need, 2)}."
    return (
        f"{said} The trade's saying that a heavy load low in front makes it worse ({COMMON_PRACTICE}) holds on such a "
        "rack. To measure the give, pull the loaded bags sideways with a spring balance that shows their own weight."
    )


def _sway(rack: "RackLimit", bicycle: "Bicycle") -> "tuple[Finding, ...]":
    """A warning where the bicycle's own front bags ask more than none, on its rack as stated or as usual."""
    from ..model.findings import Finding
    from ..model.frame.riding import settled_riding
    from ..model.stability.rack_give import rack_gives

    # a rack of tubes gives what its tubes give
    gives = {**settled_riding(bicycle.riding), **rack_gives(bicycle)}
    give = gives["front_rack_give"]
    if not bicycle.loads.front_luggage or rack.limit is None or give < rack.limit:
        return ()
    return (
        Finding(
            "front-bags-sway",
            "warning",
            f"{rack.mass:g} kg in front on a rack that gives {give:.2g} mm sideways under them: from {rack.limit:.0f} "
            "mm on they make a wobble more likely than no bags; brace the rack, carry less in front, or hang the bags "
            "wider apart",
        ),
    )


def _bags_json(rack: "RackLimit") -> dict[str, Any]:
    from ..model.stability.hands import GIVES

    return {
        "mass": rack.mass,
        "need_without": rack.none,
        "rack_gives_mm": GIVES,
        "needs": rack.needs,
        "limit_mm": rack.limit,
    }


def _best_tube(hands: "HandsStudy") -> str:
    """The tube that helps most for its weight, and how surely."""
    helping = [change for change in hands.tubes if hands.per_10g(change) < 0]
    if not helping:
        return ""
    best = min(helping, key=hands.per_10g)
    said = (
        f" Of the tubes, the {spoken(best.name)} does most for its weight: {-hands.per_10g(best):.3f} {UNIT} less for "
        "10 g more"
    )
    if best.lower is not None:
        said += f", lower in {100 * best.lower:.0f} % of what nobody stated"
    return said + "."


def _over_speed(source: str, hands: "HandsStudy", off: "SpeedMap", on: "SpeedMap") -> None:
    rows = []
    # the maps were made for the same speeds as the need, so one index serves all three
    for k in range(0, len(hands.need.speeds), 2):
        rows.append(
            (
                *_speeds(hands.need.speeds[k]),
                signed(hands.need.damping[k]),
                _known(hands.need.hz[k]),
                signed(on.damping_ratio[k], 3),
                signed(off.damping_ratio[k], 3),
            )
        )
    show.table(
        f"Wobble of {source} over speed",
        (
            "speed m/s",
            "km/h",
            f"hands must supply {UNIT}",
            "frequency Hz",
            "damping ratio, hands on",
            "damping ratio, hands off",
        ),
        rows,
    )


def _what_moves_it(hands: "HandsStudy") -> None:
    show.table(
        "What moves it: the most that the hands must supply",
        ("set-up", UNIT, "change", "percent", "at m/s", "km/h", "lower in % of the draws"),
        [
            ("as given", signed(hands.need.most), "", "", *_speeds(hands.need.at), ""),
            *(_row(hands, change) for change in hands.changes),
        ],
    )
    show.table(
        "Every tube one trade size larger (3.2 mm), same walls",
        (
            "tube",
            "adds g",
            "change",
            "change per 10 g",
            "percent per 10 g",
            "lower in % of the draws",
        ),
        [_tube_row(hands, change) for change in hands.tubes],
    )


def _row(hands: "HandsStudy", change: "Change") -> tuple[object, ...]:
    most = change.need.most
    return (
        change.name,
        signed(most),
        signed(most - hands.need.most),
        _signed(hands.percent(change)),
        *_speeds(change.need.at),
        _share(change),
    )


def _tube_row(hands: "HandsStudy", change: "Change") -> tuple[object, ...]:
    percent = hands.percent(change)
    # per 10 g, as everywhere a tube's worth is told; a change without mass has no such figure
    if percent is not None and change.grams:
        percent *= 10 / change.grams
    return (
        spoken(change.name),
        signed(change.grams, 0),
        signed(change.need.most - hands.need.most),
        signed(hands.per_10g(change), 3),
        _signed(percent),
        _share(change),
    )


def _known(hz: float) -> str:
    # So much is to spare that no root is told apart.
    if isnan(hz):
        return "-"
    return f"{hz:.2f}"


def _signed(percent: float | None) -> str:
    if percent is None:
        return "-"
    return signed(percent, 1)


def _speeds(metres_per_second: float) -> tuple[str, str]:
    """A speed as the tables show it: m/s, and km/h beside it."""
    return f"{metres_per_second:.1f}", f"{KM_H * metres_per_second:.0f}"


def _share(change: "Change") -> str:
    # no draws, no share; a dash is not 0 %
    if change.lower is None:
        return "-"
    return f"{100 * change.lower:.0f}"


def _pairs(values: "Iterable[complex]") -> list[list[float]]:
    """Complex numbers as JSON can hold them: [real, imaginary]."""
    return [[value.real, value.imag] for value in values]


def _hands_json(hands: "HandsStudy") -> dict[str, Any]:
    band = None
    if hands.band is not None:
        band = {"low": hands.band.low, "middle": hands.band.middle, "high": hands.band.high}
    changes = [_change_json(hands, change) for change in hands.changes]
    tubes = [_change_json(hands, change) for change in hands.tubes]
    return {
        "unit": UNIT,
        "speeds_m_s": hands.need.speeds,
        "need": hands.need.damping,
        "need_hz": hands.need.hz,
        "most": hands.need.most,
        "at_speed_m_s": hands.need.at,
        "draws": hands.draws,
        "band": band,
        "steady_share": hands.steady,
        "changes": changes,
        "tubes": tubes,
    }


def _change_json(hands: "HandsStudy", change: "Change") -> dict[str, Any]:
    return {
        "name": change.name,
        "most": change.need.most,
        "at_speed_m_s": change.need.at,
        "change": change.need.most - hands.need.most,
        "percent": hands.percent(change),
        "lower_share": change.lower,
        "grams": change.grams,
    }


def _range(text: str) -> tuple[float, float]:
    low, _, high = text.partition("-")
    try:
        first = float(low)
        last = float(high)
    except ValueError as error:
        raise click.UsageError(f"--speeds {text}: give two speeds in m/s, such as 3-20") from error
    # 60 m/s is faster than a bicycle goes
    if not 0 < first < last <= 60:
        raise click.UsageError(f"--speeds {text}: give two rising speeds between 0 and 60 m/s")
    return first, last
