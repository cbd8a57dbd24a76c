"""The shape of one joint: a branch tube that ends on a chord tube, and how the two are joined.

Axes of a joint, where the branch's axis meets the chord's: e1 along the chord towards its nearer end, e3 square to
both tubes (sideways in a frame), e2 = e3 x e1. Order of a joint's six directions: u1 u2 u3 r1 r2 r3.
"""

from dataclasses import dataclass
from math import inf, isfinite, radians, sin
from typing import Literal

from ..errors import ModelError

JointKind = Literal["rigid", "bare", "fillet", "lug"]
KINDS: tuple[JointKind, ...] = ("rigid", "bare", "fillet", "lug")


@dataclass(frozen=True)
class JointShape:
    """One joint, lengths in mm.

    angle_deg : between the chord's axis towards its nearer end and the branch, 0 to 180. to_end : from the branch's
    axis to that end, along the chord; to_far_end to the other one, which is held. ring : that end is kept round, as by
    a headset cup. inserted : something fills the chord under the branch, as a seat post does. fillet_radius : of a
    brazed fillet. sleeve_length, sleeve_wall : of a lug, along the branch from the chord's wall.
    """

    branch_diameter: float
    branch_wall: float
    chord_diameter: float
    chord_wall: float
    angle_deg: float
    to_end: float
    ring: bool = False
    inserted: bool = False
    kind: JointKind = "bare"
    fillet_radius: float = 0.0
    sleeve_length: float = 0.0
    sleeve_wall: float = 0.0
    to_far_end: float = inf

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise ModelError(f"joint '{self.kind}' is not known; known: {', '.join(KINDS)}")
        for name in ("branch_diameter", "branch_wall", "chord_diameter", "chord_wall"):
            value = getattr(self, name)
            if not (isfinite(value) and value > 0):
                raise ModelError(
                    f"a joint's {name.replace('_', ' ')} is {value} mm; it must be > 0"
                )
        if not 0 < self.angle_deg < 180:
            raise ModelError(
                f"a joint's angle is {self.angle_deg:g} degrees; it must lie between 0 and 180, for "
                "tubes that run along each other do not meet"
            )
        if not (isfinite(self.to_end) and self.to_end >= 0):
            raise ModelError(
                f"a joint lies {self.to_end} mm from the chord's end; it must be 0 or more"
            )

    @property
    def inside(self) -> float:
        """Length of the branch's axis inside the chord, from the chord's axis to the mid-surface of its wall, mm."""
        radius = (self.chord_diameter - self.chord_wall) / 2
        return radius / sin(radians(self.angle_deg))
