"""The wobble model beside published studies and what the trade says, as tables of the validation page."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..model.frame.bicycle import Bicycle
from ..model.frame.riding import RIDING, settled_riding
from ..model.stability.hands import (
    FIRM,
    GIVES,
    SOFT,
    SetUp,
    hands_need,
    rack_limit,
    variations,
    with_front_bags,
)
from ..model.stability.lateral import Carried
from ..model.stability.shimmy_setup import HANDS_OFF, RELAXED
from ..model.stability.speed_map import SpeedMap, speed_map
from ..model.stability.whipple import RigidBody
from ..model.stability.wobble_shape import followed
from ..model.words import signed
from .wobble import SPEED, swinging
from .wobble_why import DRAWS, SPEEDS

STUDIED = tuple(np.arange(4.0, 20.01, 1.0))
FAST = 13.0  # m/s, 47 km/h; studies of racing bicycles look at downhill speeds from about here on


@dataclass(frozen=True)
class Study:
    """What a published study says, and how it was met with; `ours` names the figure of `sample_figures` beside it."""

    source: str
    access: str
    says: str
    ours: str


STUDIES = (
    Study(
        "Plöchl, Edelmann, Angrosch & Ott 2012, Vehicle System Dynamics 50; a model",
        "read in notes on it (moorepants.github.io)",
        "hands off 6 to 9 Hz from 0 to 20 m/s (that is 40 % of spread), growing from about 4 to 20 m/s; a rider who "
        "leans, his seat one with the frame",
        "hands off",
    ),
    Study(
        "Klinger, Nusime, Edelmann & Plöchl 2014, Vehicle System Dynamics 52; a model",
        "read in the same notes",
        "hands on 8 to 12 Hz from 0 to 20 m/s, no leaning",
        "hands on",
    ),
    Study(
        "both",
        "read in the same notes",
        "above 45 km/h steering 3 to 5 times the roll; whose roll is not said",
        "steering over roll",
    ),
    Study(
        "Tomiati, Magnani, Scaglioni & Ferretti, Model based analysis of shimmy in a racing bicycle",
        "abstract read (documents.pub)",
        "5 to 10 Hz; frame's sideways give and the tyres decide",
        "hands off",
    ),
    Study(
        "Tomiati, Colombo & Magnani 2019, A nonlinear model of bicycle shimmy, and rides",
        "abstract read (re.public.polimi.it)",
        "hands on, downhill at high speeds: frequency hardly depends on speed",
        "spread hands on",
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
        "Brandt, Shimmy or speed wobble, in the Bicycles FAQ 8h.5",
        "read (copies)",
        "hands off, at a preferred speed and usually not at higher ones",
        "hands off",
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
    fast = on.frequency_hz[on.speeds >= FAST]
    spread = 100 * np.ptp(fast) / np.mean(fast)
    return {
        "hands off": f"{_band(off)} Hz, {_grows(off)}",
        "hands on": f"{_band(on)} Hz, {_grows(on)}",
        "steering over roll": f"head {_steer_over_roll(off, 'head')}, saddle {_steer_over_roll(off)}",
        "spread hands on": f"{spread:.0f} % over {FAST:g} to {STUDIED[-1]:g} m/s",
        "frame 20 % softer": f"need {signed(need.most, 2)} to {signed(softer.most, 2)} N·m·s/rad",
    }


def _band(seen: SpeedMap) -> str:
    return f"{np.min(seen.frequency_hz):.1f} to {np.max(seen.frequency_hz):.1f}"


def _grows(seen: SpeedMap) -> str:
    if seen.growing is None:
        return "never grows"
    return f"grows {seen.growing[0]:g} to {seen.growing[1]:g} m/s"


def _steer_over_roll(seen: SpeedMap, *places: str) -> str:
    """Steering over the roll of what rides on the ground's joints and those of the places, from `FAST` on."""
    rolling = seen.bicycle.model
    on = tuple(name for name in rolling.names if name.split()[0] in places)
    rolls = rolling.rows(Carried(RigidBody(1.0, 0.0, 0.0, 0.0, 0.0), on)).tx
    ratios = []
    for v, shape in zip(seen.speeds, followed(seen), strict=True):
        if v >= FAST and shape is not None:
            ratios.append(1 / abs(rolls @ shape))
    return f"{min(ratios):.1f} to {max(ratios):.1f}"


# --- the trade -----------------------------------------------------------------------------------------------------
BAGS = 8.0  # kg in front
FED = 10.0  # m/s, where it is looked at what feeds the wobble
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


WHERE_HEADS = (
    "bicycle",
    "front bags, rack firm",
    "hands must supply",
    "Hz",
    "yaw over steering",
    "rear tyre swallows of what the front one feeds in, %",
)


def where_rows(name: str, bicycle: Bicycle) -> Iterator[tuple[str, ...]]:
    """What `BAGS` kg on a firm rack do to the least steady motion at `FED` m/s, by how far from the wheel they hang."""
    usual = SetUp.of(bicycle)
    for words, mass, aside in (
        ("none", 0.0, RIDING["bags_aside"].usual),
        ("beside the wheel", BAGS, RIDING["bags_aside"].usual),
        ("above the wheel", BAGS, 0.0),
    ):
        setup = with_front_bags(usual, mass, FIRM)
        made = replace(setup, fixed={**setup.fixed, "bags_aside": aside}).model(
            settled_riding(bicycle.riding)
        )
        need = hands_need(made, (FED,))
        hz = float(need.hz[0])
        swing = swinging(made, max(need.most, 0.0), FED, hz)
        rear, front = swing.tyre_powers
        yield (
            name,
            words,
            signed(need.most),
            f"{hz:.1f}",
            f"{swing.yaw:.2f}",
            f"{-100 * rear / front:.0f}",
        )


CHAPTER = """\
Solved on the spot for the sample tourer at {speed:g} m/s where nothing else is said. Each check was broken once on
purpose (`tests/validation/test_wobble_chapter.py`).
"""
STUDIES_HEAD = """\
### Published studies

Nobody's inputs are in hand, so these are bands for plausibility and no check of digits; a band that is not met is seen
as such. The racing bicycle is invented, of the kind that the studies looked at; the others are the samples, without
bags. Figures from 4 to 20 m/s. Why ours lie where they do, and what the studies hold otherwise, is the next part.
"""
WHY_HEAD = """\
### Why the wobble lies where it does

The invented racing bicycle, one assumption moved at a time, hands off where nothing else is said; a damping ratio below
zero grows. Two things move the frequency far: how stiff the frame is, and whether the rider's trunk must turn with the
saddle. Shoulders that keep square to the saddle, as this program had them before, make the trunk's inertia about the
upright swing on seat post and seat tube, which twist: that motion, and not the steering's, then sets a low frequency
that rises with speed. Published models of the racing bicycle hold the trunk square too, but nothing gives between their
saddle, bottom bracket and rear axle, so that no post can twist; held so, ours comes to their band and grows over their
speeds. A person's trunk twists on its spine (a motion of its own in De Lorenzo's rider, read in
moorepants/dissertation), far more slowly than a bicycle wobbles, so that it stays behind, and so it does here. Not met
are the 8 to 12 Hz of the model with hands on: see the rows with hands on.
"""
DRAWN_HEAD = """\
All unstated values at once, {draws} draws from their ranges, at {speeds} m/s:
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
WHERE_HEAD = """\
The same bags without and with their inertia about the steering axis, at {speed:g} m/s, nothing behind:
"""


def heads() -> tuple[str, str, str, str, str, str, str]:
    """The words over the chapter's parts."""
    arms = RIDING["arms_damping"]
    return (
        CHAPTER.format(speed=SPEED),
        STUDIES_HEAD,
        WHY_HEAD,
        DRAWN_HEAD.format(draws=DRAWS, speeds=", ".join(f"{v:g}" for v in SPEEDS)),
        TRADE_HEAD.format(light=arms.low, usual=arms.usual),
        RACK_HEAD.format(bags=BAGS),
        WHERE_HEAD.format(speed=FED),
    )
