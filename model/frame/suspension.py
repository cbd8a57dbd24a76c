"""A suspension fork: a given part between crown race and front axle, known by its length, its stiffness and its sag.

Stiffness is that of the fork held at its crown, at the front axle: fore-and-aft and sideways square to the steering
axis, and twist about it. In the model it is one beam along the steering axis that gives just that, with the dropouts
carried stiffly at its foot; along the legs it is locked, so that nothing here bounces.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import inf, pi
from typing import Any

from ..assumption import COMMON_PRACTICE, Assumed
from ..columns import hypot
from ..errors import ModelError
from ..findings import Finding
from ..geometry.dimensions import FrameDimensions
from ..geometry.sag import sunk
from ..mechanics.frame_model import Element
from ..tubes.materials import Material
from ..tubes.sections import Section

MEMBER = "suspension_fork"
FOOT = "suspension_fork_foot"  # node on the steering axis beside the front axle
# Of the beam that stands for it; only its products with the section count.
_E = 70e3  # MPa
_G = 26e3
_LOCKED = 500.0  # mm² of leg: as two legs of 34 x 2.5 mm whose spring is locked
_ACROSS = 65.0  # mm, from the middle to a leg: for its inertia about its own axis
_TURN = 180_000.0 / pi  # N·m/deg to N·mm/rad


@dataclass(frozen=True)
class Typical:
    """A value taken where nobody states one: its range, unit and where it comes from."""

    key: str
    label: str
    unit: str
    usual: float
    low: float
    high: float
    source: str


_ESTIMATE = (
    "estimate: two legs of aluminium 34 x 2.5 mm, 480 mm long, held at the crown; common practice, "
    "no source"
)
TYPICAL = {
    value.key: value
    for value in (
        Typical("fore_aft", "suspension fork stiffness fore-aft", "N/mm", 100, 50, 180, _ESTIMATE),
        Typical("sideways", "suspension fork stiffness sideways", "N/mm", 60, 25, 120, _ESTIMATE),
        Typical("twist", "suspension fork twist stiffness", "N·m/deg", 25, 10, 60, _ESTIMATE),
        Typical("mass", "suspension fork mass", "kg", 1.9, 1.3, 3.0, COMMON_PRACTICE),
        Typical("sag", "suspension fork sag", "mm", 20, 10, 45, COMMON_PRACTICE),
    )
}


@dataclass(frozen=True)
class SuspensionFork:
    """fore_aft, sideways : N/mm at the axle. twist : N·m/degree. mass : kg, without the steerer, which is a tube of the
    table. sag : mm along the steering axis, rider aboard. at_sag : whether the bicycle's dimensions hold with the rider
    aboard (True) or with the fork extended. stated : keys of `TYPICAL` that were stated.
    """

    fore_aft: float = TYPICAL["fore_aft"].usual
    sideways: float = TYPICAL["sideways"].usual
    twist: float = TYPICAL["twist"].usual
    mass: float = TYPICAL["mass"].usual
    sag: float = TYPICAL["sag"].usual
    at_sag: bool = False
    stated: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        for key, value in TYPICAL.items():
            given = getattr(self, key)
            if not 0 < given < inf and not (key == "sag" and given == 0):
                raise ModelError(f"{value.label} is {given}, it must be above 0 {value.unit}")

    def having(self, values: Mapping[str, float]) -> "SuspensionFork":
        """With these values stated."""
        changes: dict[str, Any] = dict(values)
        return replace(self, **changes, stated=self.stated | set(values))

    def assumed(self) -> tuple[Assumed, ...]:
        """What nobody stated."""
        return tuple(
            Assumed(
                "parts",
                f"suspension_{key}",
                value.label,
                value.usual,
                value.unit,
                f"{value.low:g} to {value.high:g}, {value.source}",
            )
            for key, value in TYPICAL.items()
            if key not in self.stated
        )

    @property
    def is_assumed(self) -> bool:
        """Whether one of its stiffnesses is a typical one."""
        return not {"fore_aft", "sideways", "twist"} <= self.stated


def extended_and_sunk(
    fork: SuspensionFork, d: FrameDimensions
) -> tuple[FrameDimensions, FrameDimensions]:
    """The dimensions with the fork extended, and with the rider aboard."""
    if fork.at_sag:
        return sunk(d, -fork.sag), d
    return d, sunk(d, fork.sag)


def of_fork(fork: SuspensionFork | None, assumed: frozenset[str]) -> frozenset[str]:
    """Members of the mesh whose sizes nobody stated, with a suspension fork in the place of the crown."""
    if fork is None:
        return assumed
    own = {MEMBER} if fork.is_assumed else set()
    return (assumed - {"fork_crown_piece"}) | own


def fork_beam(fork: SuspensionFork, d: FrameDimensions, vxy: tuple[float, float, float]) -> Element:
    """The beam from the crown to `FOOT` that gives as the fork does.

    At the tip of a cantilever F L³/3EI and T L/GJ; a sideways force at the axle, which stands `fork_offset` beside the
    axis, twists it as well, and that share is taken off first.

    Raises
    ------
    ModelError
        When the twist alone would give more than the stated sideways stiffness allows.
    """
    length = d.fork_length
    turn = fork.twist * _TURN
    bending = 1 / fork.sideways - d.fork_offset**2 / turn
    if bending <= 0:
        least = turn / d.fork_offset**2
        raise ModelError(
            f"suspension fork: sideways {fork.sideways:g} N/mm and twist {fork.twist:g} N·m/deg contradict each other: "
            f"with {d.fork_offset:g} mm offset the twist alone leaves less than {least:.0f} N/mm sideways; check both"
        )
    cube = length**3 / (3 * _E)
    across = cube / bending
    along = cube * fork.fore_aft
    torsion = turn * length / _G
    section = Section(_LOCKED, across, along, torsion, Ip=_LOCKED * _ACROSS**2)
    density = fork.mass / 1000 / (_LOCKED * length)
    stuff = Material("suspension fork", _E, _G, density, source="stands for the fork's stiffness")
    return Element(f"{MEMBER}.1", "fork_crown", FOOT, section, stuff, vxy, MEMBER)


def fork_findings(fork: SuspensionFork, d: FrameDimensions) -> tuple[Finding, ...]:
    """What is to be known of a bicycle with a suspension fork."""
    straight = hypot(d.fork_length, d.fork_offset)
    free, laden = extended_and_sunk(fork, d)
    typical = [
        f"{value.label.removeprefix('suspension fork ')} {value.usual:g} {value.unit} "
        f"({value.low:g} to {value.high:g})"
        for key, value in TYPICAL.items()
        if key not in fork.stated
    ]
    taken = f"; taken as typical: {', '.join(typical)}" if typical else ""
    held = "with the rider aboard" if fork.at_sag else "with the fork extended"
    return (
        Finding(
            "suspension-fork",
            "info",
            f"the suspension fork is taken as a given part, {straight:.1f} mm from axle to crown {held}{taken}; its "
            "spring counts as locked, so nothing here bounces on it; it is not mitred, weighed or searched as tubes, "
            f"and its room for the tyre stands in its own papers. Trail is {free.trail:.1f} mm extended and "
            f"{laden.trail:.1f} mm at {fork.sag:g} mm sag: load cases are solved as the sheet or drawing has it, modes "
            "and wobble at sag",
            MEMBER,
        ),
    )
