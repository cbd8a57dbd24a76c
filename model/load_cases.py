"""The library of load cases by name: each one frozen value with loads AND supports AND what is measured."""

from collections.abc import Callable, Mapping

from . import cases_iso, cases_ride
from .bicycle import Bicycle
from .case_tools import FRONT_ROLLS, REAR_HELD, pedal_stroke, steering_lock
from .errors import ModelError
from .frame_model import LoadCase
from .layout import FrameLayout

__all__ = ["CASES", "FATIGUE_PAIRS", "FRONT_ROLLS", "MAIN_CASES", "REAR_HELD", "load_cases", "pedal_stroke",
           "steering_lock"]

CaseBuilder = Callable[[Bicycle, FrameLayout], LoadCase]
MAIN_CASES = ("seated", "climb", "side_push")

CASES: Mapping[str, CaseBuilder] = {builder.__name__: builder for builder in (
    cases_ride.seated, cases_ride.climb, cases_ride.side_push,
    cases_ride.seated_luggage, cases_ride.climb_left, cases_ride.bb_push,
    cases_ride.brake_front_rim, cases_ride.brake_front_disc,
    cases_ride.head_torsion, cases_ride.rear_sideways, cases_ride.bench_head,
    cases_iso.iso_pedalling_right, cases_iso.iso_pedalling_left,
    cases_iso.iso_horizontal_forward, cases_iso.iso_horizontal_rearward, cases_iso.iso_vertical,
    cases_iso.stiffness_pedal_right, cases_iso.stiffness_pedal_left, cases_iso.stiffness_lateral,
)}

# Cases between which a load goes to and fro.
FATIGUE_PAIRS = (("climb", "climb_left"), ("iso_pedalling_right", "iso_pedalling_left"),
                 ("iso_horizontal_forward", "iso_horizontal_rearward"))


def load_cases(bicycle: Bicycle, layout: FrameLayout, names: tuple[str, ...] = MAIN_CASES) -> tuple[LoadCase, ...]:
    """The named load cases of a bicycle. Raises ModelError for an unknown name, listing the known ones."""
    unknown = [name for name in names if name not in CASES]
    if unknown:
        raise ModelError(f"load case '{unknown[0]}' is not known; known: {', '.join(CASES)}")
    return tuple(CASES[name](bicycle, layout) for name in names)
