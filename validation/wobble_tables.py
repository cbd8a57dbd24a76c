"""The wobble model beside published studies and what the trade says, as tables of the validation page."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..model.frame.bicycle import Bicycle
from ..model.frame.riding import RIDING, settled_riding
from ..model.stability.hands import (
    FIRM,
    GIVES,
    SOFT,
    SetUp,
    rack_limit,
    variations,
    with_front_bags,
)
from ..model.stability.shimmy import SpeedMap, speed_map
from ..model.stability.shimmy_setup import HANDS_OFF, RELAXED
from ..model.words import signed
from .wobble import SPEED

STUDIED = tuple(np.arange(4.0, 16.01, 1.0))


@dataclass(frozen=True)
class Study:
    """What a published study says, and how it was met with; `ours` names the figure of `sample_figures` beside it."""

    source: str
    access: str
    says: str
    ours: str


STUDIES = (
    Study(
        "Plöchl, Edelmann, Angrosch & Ott 2012, Vehicle System Dynamics 50",
        "read in notes on it (moorepants.github.io)",
        "hands off 6 to 9 Hz from 0 to 20 m/s, growing from about 4 to 20 m/s",
        "hands off",
    ),
    Study(
        "the same",
        "read in notes on it",
        "steering 3 to 5 times as large as lean",
        "steering over lean",
    ),
    Study(
        "Tomiati, Magnani, Scaglioni & Ferretti, Model based analysis of shimmy in a racing bicycle",
        "abstract read (documents.pub)",
        "5 to 10 Hz; frame's sideways give and the tyres decide",
        "hands off",
    ),
    Study(
        "Tomiati, Colombo & Magnani 2019, A nonlinear model of bicycle shimmy",
        "abstract read (re.public.polimi.it)",
        "frequency hardly depends on speed",
        "spread of the frequency",
    ),
    Study(
        "the same",
        "abstract read",
        "onset most sensitive to the frame's torsional stiffness; a steering damper that prevents it can be stated",
        "frame 20 % softer",
    ),
    Study(
        "Tomiati's thesis",
        "abstract read (politesi.polimi.it)",
        "6 to 10 Hz, from above 50 km/h with hands on",
        "hands on",
    ),
    Study(
        "Wikipedia's article on speed wobble and its sources",
        "read (copies)",
        "4 to 10 Hz",
        "hands off",
    ),
)


def sample_figures(bicycle: Bicycle) -> Mapping[str, str]:
    """One bicycle's figures that `STUDIES` ask for, in words. Carries nothing, as the bicycles of the studies did."""
    empty = replace(bicycle, loads=replace(bicycle.loads, front_luggage=0.0, rear_luggage=0.0))
    usual = SetUp.of(empty)
    values = settled_riding(empty.riding)
    off = speed_map(usual.model(values, HANDS_OFF), STUDIED)
    on = speed_map(usual.model(values, RELAXED), STUDIED)
    need = usual.need(STUDIED)
    softer = variations(usual)["frame 20 % softer"].need(STUDIED)
    spread = 100 * np.ptp(off.frequency_hz) / np.mean(off.frequency_hz)
    return {
        "hands off": f"{_band(off)} Hz, {_grows(off)}",
        "hands on": f"{_band(on)} Hz, {_grows(on)}",
        "steering over lean": f"{_steer_over_lean(off):.1f}",
        "spread of the frequency": f"{spread:.0f} % over 4 to 16 m/s",
        "frame 20 % softer": f"need {signed(need.most, 2)} to {signed(softer.most, 2)} N·m·s/rad",
    }


def _band(seen: SpeedMap) -> str:
    return f"{np.min(seen.frequency_hz):.1f} to {np.max(seen.frequency_hz):.1f}"


def _grows(seen: SpeedMap) -> str:
    if seen.growing is None:
        return "never grows"
    return f"grows {seen.growing[0]:g} to {seen.growing[1]:g} m/s"


def _steer_over_lean(seen: SpeedMap) -> float:
    bicycle = seen.bicycle
    values, shapes = np.linalg.eig(bicycle.state_matrix(SPEED))
    k = np.argmin(np.abs(values - seen.wobble[list(seen.speeds).index(SPEED)]))
    names = bicycle.model.names[2:]
    steer, lean = (abs(shapes[names.index(name), k]) for name in ("steer", "lean"))
    return float(steer / lean)


# --- the trade -----------------------------------------------------------------------------------------------------
BAGS = 8.0  # kg in front
SHOWN_GIVES = (FIRM, 6.0, 12.0, 16.0, 25.0)
TRADE_HEADS = (
    "bicycle",
    "as given",
    "frame 20 % softer",
    "no front bags",
    f"{BAGS:g} kg in front, rack gives {FIRM:g} mm",
    f"rack gives {SOFT:g} mm",
    "hands on: damping ratio",
    "light hands",
    "hands off",
)


def trade_row(name: str, bicycle: Bicycle) -> tuple[str, ...]:
    """What the trade says makes it worse, on one bicycle: needs, and damping ratios with fewer and fewer hands."""
    usual = SetUp.of(bicycle)
    values = settled_riding(bicycle.riding)
    need = usual.need(STUDIED)
    softer = variations(usual)["frame 20 % softer"].need(STUDIED)
    bags = [
        with_front_bags(usual, mass, give)
        for mass, give in ((0.0, FIRM), (BAGS, FIRM), (BAGS, SOFT))
    ]
    light = {**values, "arms_damping": RIDING["arms_damping"].low}
    v = (need.at,)
    ratios = [
        speed_map(usual.model(values, RELAXED), v),
        speed_map(usual.model(light, RELAXED), v),
        speed_map(usual.model(values, HANDS_OFF), v),
    ]
    needs = [need, softer, *(one.need(STUDIED) for one in bags)]
    cells = [name]
    for one in needs:
        cells.append(signed(one.most, 2))
    for seen in ratios:
        cells.append(signed(float(seen.damping_ratio[0]), 3))
    return tuple(cells)


RACK_HEADS = (
    "bicycle",
    "no front bags",
    *(f"gives {give:g} mm" for give in SHOWN_GIVES),
    "more than none from, mm",
)


def rack_row(name: str, bicycle: Bicycle) -> tuple[str, ...]:
    """What `BAGS` kg in front ask for on racks of different give."""
    found = rack_limit(SetUp.of(bicycle), BAGS)
    needs = dict(zip(GIVES, found.needs, strict=True))
    if found.limit is None:
        limit = "never"
    else:
        limit = f"{found.limit:.1f}"
    return (
        name,
        signed(found.none, 2),
        *(signed(needs[give], 2) for give in SHOWN_GIVES),
        limit,
    )


def study_rows(figures: Sequence[Mapping[str, str]]) -> list[tuple[str, ...]]:
    """One row per statement of a study, with each sample's figure beside it."""
    rows = []
    for study in STUDIES:
        ours = [figure[study.ours] for figure in figures]
        rows.append((study.source, study.access, study.says, *ours))
    return rows


CHAPTER = """\
Solved on the spot for the sample tourer at {speed:g} m/s where nothing else is said. Each check was broken once on
purpose (`tests/validation/test_wobble_chapter.py`).
"""
STUDIES_HEAD = """\
### Published studies

Nobody's inputs are in hand, so these are bands for plausibility and no check of digits; a band that is not met is seen
as such. Our wobble lies about 1 Hz lower than that of the racing bicycles measured, and with usual arms on the bar it
does not grow by itself: what the hands must supply is asked for instead. The samples carry nothing here.
"""
TRADE_HEAD = """\
### What the trade says

A low heavy front load, a soft head, light hands make it worse (common practice, no source). Needs at the worst speed
in N·m·s/rad, less is better; damping ratios at that speed, more is better; light hands: arms that damp {light:g} in
place of {usual:g} N·m·s/rad.
"""
RACK_HEAD = """\
### Front bags and the rack under them

What {bags:g} kg in front ask for, by how far the rack gives sideways under the bags' own weight, N·m·s/rad. Why, stands
in `model/METHODS.md`, section 19; for any bicycle: `droptrail shimmy`.
"""


def heads() -> tuple[str, str, str, str]:
    """The words over the chapter's four parts."""
    arms = RIDING["arms_damping"]
    return (
        CHAPTER.format(speed=SPEED),
        STUDIES_HEAD,
        TRADE_HEAD.format(light=arms.low, usual=arms.usual),
        RACK_HEAD.format(bags=BAGS),
    )
