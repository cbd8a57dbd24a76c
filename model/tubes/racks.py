"""Racks as tubes that a frame of any plan can carry, read from ``racks.toml``: bolted on or built in."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from ..errors import ModelError
from .known_plans import DIAMOND, PLANS, plans_from
from .plan import Carrier, FramePlan

FILE = Path(__file__).with_name("racks.toml")
# As plans that are like the diamond: what each has over the diamond is the rack.
_OVERLAYS = plans_from(FILE.read_text(encoding="utf-8"), PLANS)
RACKS: Mapping[str, FramePlan] = _OVERLAYS


def with_rack(plan: FramePlan, name: str, bolted: bool = True) -> FramePlan:
    """The plan with a rack on it: its tubes, where they run, and where the luggage hangs.

    Raises
    ------
    ModelError
        For a rack that is not known, or one that stands on a tube which the plan does not have.
    """
    if name not in RACKS:
        raise ModelError(f"rack '{name}' is not known; known: {', '.join(RACKS)}")
    overlay = RACKS[name]
    rack = replace(overlay.racks[0], bolted=bolted)
    roles = [role for role in overlay.roles if DIAMOND.get(role.name) is None]
    if not bolted:
        roles = [replace(role, pinned=()) for role in roles]
    try:
        return replace(
            plan,
            roles=(*plan.roles, *roles),
            items=(*plan.items, *overlay.items),
            joints=(*plan.joints, *overlay.joints),
            racks=(*plan.racks, rack),
        )
    except ModelError as error:
        raise ModelError(f"{overlay.label}: {error}") from error


def with_racks(plan: FramePlan, racks: tuple[Carrier, ...]) -> FramePlan:
    """The plan with these racks on it."""
    for rack in racks:
        plan = with_rack(plan, rack.name, rack.bolted)
    return plan


def rack_tubes() -> tuple[str, ...]:
    """The tubes of every known rack."""
    return tuple(name for plan in RACKS.values() for name in plan.in_region("rack"))
