"""Wheels and tyres as springs on the road, in place of axles that are held as by a rock."""

from dataclasses import replace

from ..frame.bicycle import Bicycle
from ..frame.tyres import side_stiffness
from ..mechanics.frame_model import LoadCase, Spring
from ..mechanics.inertia import REFERENCE
from .tools import ON_GROUND

ENDS = ("rear", "front")
_UP = 1
_ACROSS = 2


def on_wheels(case: LoadCase, bicycle: Bicycle) -> LoadCase:
    """The case with each axle that is held up-and-down or sideways standing on its wheel instead.

    The tyre gives up-and-down, tyre and wheel one after the other sideways, both where the tyre meets the road
    (the wheel a rigid arm down to it). Whatever else is held stays held: fore and aft, lean, swivel.
    A case in which no axle carries anything is changed in its words alone.
    """
    supports = dict(case.supports)
    touching = dict(case.touching)
    springs = []
    for end in ENDS:
        axle = f"{end}_axle"
        held = list(supports.get(axle, (0,) * 6))
        # A reference holds nothing up, so no wheel stands there.
        carries = touching.get(axle) != REFERENCE
        if not (carries and (held[_UP] or held[_ACROSS])):
            continue
        springs.append(_wheel(end, held, bicycle))
        # Fore and aft and the turns stay held: tyre and wheel are not springs in those.
        held[_UP] = held[_ACROSS] = 0
        supports[axle] = tuple(held)
        if not any(held):
            del supports[axle]
        # Whoever holds the rest at the axle is the wheel, unless the case names it.
        touching.setdefault(axle, f"{end} wheel")
        touching[f"{end}_contact"] = f"{end} wheel {ON_GROUND}"
    if not springs:
        words = "no wheel carries anything here, none is a spring"
        return replace(case, notes=f"{case.notes}; {words}", held=f"{case.held}; {words}")
    return replace(
        case,
        supports=supports,
        springs=(*case.springs, *springs),
        touching=touching,
        notes=f"{case.notes}; {wheel_words(bicycle)}",
        held=f"{case.held}; {wheel_words(bicycle)}",
    )


def _wheel(end: str, held: list[int], bicycle: Bicycle) -> Spring:
    up = bicycle.loads.tyre_stiffness * held[_UP]
    across = sideways_stiffness(bicycle) * held[_ACROSS]
    return Spring(f"{end}_wheel", f"{end}_contact", None, (0.0, up, across, 0.0, 0.0, 0.0))


def sideways_stiffness(bicycle: Bicycle) -> float:
    """Tyre and wheel one after the other, sideways where the tyre meets the road, N/mm."""
    # One after the other: the softer of both decides.
    return 1 / (1 / side_stiffness(bicycle) + 1 / bicycle.loads.wheel_side_stiffness)


def wheel_words(bicycle: Bicycle) -> str:
    """What stands in place of the axles' holds, in words."""
    loads = bicycle.loads
    return (
        "but standing on wheels and tyres as springs, in place of axles held up-and-down and sideways: each tyre "
        f"{loads.tyre_stiffness:g} N/mm up-and-down, sideways tyre {side_stiffness(bicycle):.4g} and wheel "
        f"{loads.wheel_side_stiffness:g} N/mm one after the other ({sideways_stiffness(bicycle):.0f} N/mm), where "
        "the tyre meets the road"
    )
