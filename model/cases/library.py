"""The library of load cases by name: each one frozen value with loads AND supports AND what is measured."""

from collections.abc import Callable, Mapping
from difflib import get_close_matches
from typing import NoReturn

from ..errors import ModelError, UnknownNameError
from ..frame.bicycle import Bicycle
from ..frame.layout import FrameLayout
from ..mechanics.frame_model import LoadCase
from ..tubes.plan import FramePlan
from . import bench, fork, iso, motion, ride
from .tools import AXLE_GRIPPED, FRONT_ROLLS, pedal_stroke, steering_lock

__all__ = [
    "AXLE_GRIPPED",
    "CASES",
    "FATIGUE_PAIRS",
    "FRONT_ROLLS",
    "MAIN_CASES",
    "ROAD_CASES",
    "SEVERAL_RIDERS",
    "cases_for",
    "cases_of",
    "fatigue_pairs",
    "load_cases",
    "pedal_stroke",
    "steering_lock",
    "usual_cases",
]

CaseBuilder = Callable[[Bicycle, FrameLayout], LoadCase]
MAIN_CASES = ("seated", "climb", "side_push", "frame_torsion", "saddle_push")
WITH_BAGS = "seated_luggage"

# Keyed by the builder's own name, so that a case cannot be listed under another.
CASES: Mapping[str, CaseBuilder] = {
    builder.__name__: builder
    for builder in (
        ride.seated,
        ride.climb,
        bench.side_push,
        bench.frame_torsion,
        bench.saddle_push,
        ride.seated_luggage,
        ride.climb_left,
        ride.strokes_opposed,
        ride.strokes_quarter_apart,
        ride.brake_front_rim,
        ride.brake_front_disc,
        bench.bb_push,
        bench.crank_axle_pull,
        bench.head_torsion,
        bench.rear_sideways,
        bench.bench_head,
        motion.head_push_as_ridden,
        iso.iso_pedalling_right,
        iso.iso_pedalling_left,
        iso.iso_horizontal_forward,
        iso.iso_horizontal_rearward,
        iso.iso_vertical,
        iso.stiffness_pedal_right,
        iso.stiffness_pedal_left,
        iso.stiffness_lateral,
        fork.iso_fork_forward,
        fork.iso_fork_rearward,
        fork.iso_fork_bending,
        fork.iso_steerer_torque,
    )
}

# Cases of a ride: what the road, the hands and the rider can hold, so statically determinate as a whole.
ROAD_CASES = (
    "seated",
    "seated_luggage",
    "climb",
    "climb_left",
    "brake_front_rim",
    "brake_front_disc",
)

# Cases in which several riders do not push alike; each one's stroke alone is named after him, see `cases_for`.
SEVERAL_RIDERS = frozenset(("strokes_opposed", "strokes_quarter_apart"))

# Loads of standards, which hold for one rider.
ONE_RIDER = frozenset(name for name in CASES if name.startswith(("iso_", "stiffness_")))

# Cases between which a load goes to and fro; for several riders see `fatigue_pairs`.
FATIGUE_PAIRS = (
    ("climb", "climb_left"),
    ("iso_pedalling_right", "iso_pedalling_left"),
    ("iso_horizontal_forward", "iso_horizontal_rearward"),
    ("iso_fork_forward", "iso_fork_rearward"),
)


def fatigue_pairs(plan: FramePlan) -> tuple[tuple[str, str], ...]:
    """Pairs of cases of a plan between which a load goes to and fro."""
    if not plan.followers:
        return FATIGUE_PAIRS
    return (*FATIGUE_PAIRS, *ride.stroke_names(plan))


def usual_cases(bicycle: Bicycle) -> tuple[str, ...]:
    """The main cases, with the rider seated among bags where the sheet states luggage."""
    loads = bicycle.loads
    if not (loads.front_luggage or loads.rear_luggage):
        return MAIN_CASES
    return (MAIN_CASES[0], WITH_BAGS, *MAIN_CASES[1:])


def cases_for(plan: FramePlan) -> Mapping[str, CaseBuilder]:
    """Name -> case, of every case that is known for as many riders as the plan has."""
    other = ONE_RIDER if plan.followers else SEVERAL_RIDERS
    known = {name: builder for name, builder in CASES.items() if name not in other}
    return {**known, **ride.single_strokes(plan)}


def cases_of(bicycle: Bicycle) -> tuple[str, ...]:
    """Every case that is known for as many riders as the bicycle carries."""
    return tuple(cases_for(bicycle.plan))


def load_cases(
    bicycle: Bicycle, layout: FrameLayout, names: tuple[str, ...] = ()
) -> tuple[LoadCase, ...]:
    """The named load cases of a bicycle, none: the usual ones. Raises UnknownNameError for an unknown name, listing
    the known ones."""
    known = cases_for(bicycle.plan)
    names = names or usual_cases(bicycle)
    for name in names:
        if name not in known:
            _refuse_case(name, bicycle)
    return tuple(known[name](bicycle, layout) for name in names)


def _refuse_case(name: str, bicycle: Bicycle) -> NoReturn:
    """Why a case is none of this bicycle's."""
    plan = bicycle.plan
    if name in ONE_RIDER and plan.followers:
        raise ModelError(
            f"load case '{name}': ISO 4210 holds for bicycles with one rider and leaves those for several out (part 2, "
            f"scope, from memory), and this {plan.label} carries {len(plan.riders)}; agree the loads with the test "
            "house and give them as load cases of your own ('droptrail solve --cases FILE.toml')"
        )
    if not plan.followers and (
        name in SEVERAL_RIDERS or name.removesuffix("_left").endswith(ride.ALONE)
    ):
        raise ModelError(
            f"load case '{name}' is for several riders, and this {plan.label} carries one; take climb"
        )
    # A slip of the keys is near; below half alike the hint would be a guess.
    near = get_close_matches(name, cases_of(bicycle), n=1, cutoff=0.5)
    hint = "".join(f" (did you mean '{one}'?)" for one in near)
    raise UnknownNameError(
        f"load case '{name}' is not known{hint}; known: {', '.join(cases_of(bicycle))}"
    )
