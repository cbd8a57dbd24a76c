"""One tyre, one description: how far it gives sideways at rest and how its side force builds up when it rolls.

A tyre that rolls builds its side force up over the relaxation length; at rest it is a spring sideways. Both are the
same carcass: relaxation = cornering stiffness / side stiffness (Pacejka 2006, from memory; read in the abstract of
Dell'Orto et al. 2023, Meccanica 58, on racing bicycle tyres, where the relaxation length is measured so). Of the two
the one that is stated decides the other; where both are stated and contradict each other `told_twice` says so.
"""

from collections.abc import Mapping
from dataclasses import fields
from math import degrees

from ..findings import Finding
from .bicycle import G_ACCEL, Bicycle, Loads, PartMasses
from .riding import settled_riding

_USUAL = {field.name: field.default for field in fields(Loads)}
APART = 2.0  # factor between the two descriptions beyond which they are of different tyres


def half_weight(bicycle: Bicycle) -> float:
    """Half of what the bicycle, its riders and its bags weigh, N: what a wheel carries, give or take a third."""
    loads = bicycle.loads
    parts = PartMasses()
    kilograms = (
        sum(mass for _, mass in bicycle.aboard)
        + loads.front_luggage
        + loads.rear_luggage
        + loads.wheel_mass_front
        + loads.wheel_mass_rear
        + parts.frame
        + parts.fork
        + parts.drivetrain
        + parts.saddle_with_post
        + parts.bars_complete
    )
    return kilograms * G_ACCEL / 2


def side_stiffness_stated(bicycle: Bicycle) -> bool:
    """Whether the tyre's side stiffness is another than the usual one."""
    return bicycle.loads.tyre_side_stiffness != _USUAL["tyre_side_stiffness"]


def side_stiffness(bicycle: Bicycle) -> float:
    """One tyre sideways at the road, N/mm: as stated, else as what is stated of the rolling tyre makes it."""
    rolling = {"tyre_cornering", "tyre_relaxation"} & set(bicycle.riding)
    if side_stiffness_stated(bicycle) or not rolling:
        return bicycle.loads.tyre_side_stiffness
    return _from_rolling(settled_riding(bicycle.riding), half_weight(bicycle))


def relaxation(bicycle: Bicycle, values: Mapping[str, float], load: float) -> float:
    """Relaxation length, mm, of the tyre under a load, N: from a stated side stiffness, else as `values` have it."""
    if side_stiffness_stated(bicycle) and "tyre_relaxation" not in bicycle.riding:
        return degrees(values["tyre_cornering"]) * load / bicycle.loads.tyre_side_stiffness
    return values["tyre_relaxation"]


def told_twice(bicycle: Bicycle) -> tuple[Finding, ...]:
    """Where side stiffness and relaxation length are both stated and belong to different tyres."""
    if not (side_stiffness_stated(bicycle) and "tyre_relaxation" in bicycle.riding):
        return ()
    values = settled_riding(bicycle.riding)
    stated = bicycle.loads.tyre_side_stiffness
    rolling = _from_rolling(values, half_weight(bicycle))
    if 1 / APART <= stated / rolling <= APART:
        return ()
    return (
        Finding(
            "tyre-told-twice",
            "warning",
            f"tyre side stiffness {stated:g} N/mm, but a side force of {values['tyre_cornering']:g} of the load per "
            f"degree of slip over a relaxation length of {values['tyre_relaxation']:g} mm makes about "
            f"{rolling:.0f} N/mm under this weight: these are two tyres; state one of the two "
            "(the static cases and modes take the side stiffness, the wobble takes the relaxation length)",
        ),
    )


def _from_rolling(values: Mapping[str, float], load: float) -> float:
    """N/mm: cornering stiffness N/rad over relaxation length mm."""
    return degrees(values["tyre_cornering"]) * load / values["tyre_relaxation"]
