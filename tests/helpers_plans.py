"""A bicycle of every known plan, and one with tubes of the builder's own; and any of them in other shapes."""

import random
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from droptrail.converters.files.fitsheet.starter import plan_starter
from droptrail.converters.inputs import read_input
from droptrail.model.frame.bicycle import Bicycle
from droptrail.model.tubes.bends import read_bend
from droptrail.model.tubes.known_plans import PLANS
from droptrail.model.tubes.materials import find_material
from droptrail.model.tubes.places import read_place
from droptrail.model.tubes.plan import TubeRole
from droptrail.model.tubes.tube import Tube

STEEL = find_material("4130")
DRAWINGS = Path(__file__).parents[1] / "sample_drawings"
SHEETS = (
    "gravel_700c",
    "laden_700c",
    "mixte_700c",
    "small_650b",
    "step_through_26",
    "tourer_700c",
    "trail_27",
    "trekking_26",
)


def with_own_tubes() -> Bicycle:
    """A brace, a strut on it, stays moved to the top tube, a bent top tube and dropped chainstays, all at once."""
    bicycle = plan_starter(PLANS["diamond"])
    plan = bicycle.plan
    names = (*plan.names, "brace")

    def place(text: str):
        return read_place(text, names)

    stay = replace(
        plan.role("seatstay"),
        ends=(place("top_tube 60 mm apart 30"), place("rear_dropout")),
        mitred_start=("top_tube",),
    )
    plan = plan.with_roles(
        TubeRole("brace", (place("seat_tube 0.45"), place("down_tube 180 mm from end"))),
        stay,
        replace(plan.role("top_tube"), bend=read_bend("sagitta 35")),
        replace(plan.role("chainstay"), bend=read_bend("via 0.3 up -20, 0.8 out 4")),
    )
    plan = plan.with_roles(TubeRole("strut", (place("brace 0.5"), place("bottom_bracket"))))
    thin = Tube(STEEL, 16.0, 16.0, (0.8,))
    return replace(bicycle, plan=plan, tubes={**bicycle.tubes, "brace": thin, "strut": thin})


BICYCLES = {**{name: plan_starter(plan) for name, plan in PLANS.items()}, "own": with_own_tubes()}


def sample(sheet: str) -> Bicycle:
    """The bicycle of a sample sheet."""
    bicycle = read_input(DRAWINGS / f"{sheet}.csv").bicycle
    assert bicycle is not None
    return bicycle


def samples_and_plans() -> Mapping[str, Bicycle]:
    """Every sample bicycle and every plan."""
    return {**{sheet: sample(sheet) for sheet in SHEETS}, **BICYCLES}


def otherwise(bicycle: Bicycle, seed: int, count: int = 6) -> list[Bicycle]:
    """The bicycle with other angles, lengths, tubes, rider and fit, drawn at random."""
    rng = random.Random(seed)
    made = []
    for _ in range(count):
        d = bicycle.dimensions
        fit = bicycle.fittings
        tubes = ["top_tube", "down_tube", "seat_tube", "head_tube"]
        tube = rng.choice([name for name in tubes if name in bicycle.tubes])
        grown = bicycle.tubes[tube].scaled(rng.uniform(0, 3), rng.uniform(0, 0.2))
        made.append(
            replace(
                bicycle,
                dimensions=replace(
                    d,
                    head_angle=d.head_angle + rng.uniform(-1.5, 1.5),
                    fork_offset=d.fork_offset + rng.uniform(-6, 6),
                    chainstay=d.chainstay + rng.uniform(-8, 15),
                    reach=d.reach + rng.uniform(-15, 15),
                    bb_drop=d.bb_drop + rng.uniform(-6, 6),
                    seat_angle=d.seat_angle + rng.uniform(-1, 1),
                ),
                tubes={**bicycle.tubes, tube: grown},
                loads=replace(
                    bicycle.loads,
                    rider_mass=bicycle.loads.rider_mass + rng.uniform(-20, 20),
                    side_push=rng.uniform(100, 300),
                ),
                fittings=replace(
                    fit,
                    stem_length=rng.uniform(70, 120),
                    crank_length=fit.crank_length + rng.uniform(-5, 5),
                    chainline=fit.chainline + rng.uniform(-3, 3),
                    rear_hub_spacing=fit.rear_hub_spacing + rng.uniform(-3, 3),
                    # straight ones stay straight: nought times anything
                    stay_curve=fit.stay_curve * rng.uniform(0.7, 1.3),
                    blade_straight=fit.blade_straight * rng.uniform(0.9, 1.1),
                ),
            )
        )
    return made
