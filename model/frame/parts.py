"""The simple parts bolted or brazed to the tubes: enough to carry loads in where they really act.

Sizes are generic workshop values without a source; every result lists them as assumptions.
"""

from dataclasses import dataclass

from ..assumption import Assumed
from ..tubes.materials import Material, find_material
from ..tubes.sections import Section, round_tube
from ..words import spoken


@dataclass(frozen=True)
class Part:
    """A part of one round section: outside diameter and wall in mm (wall = od/2: solid)."""

    name: str
    od: float
    wall: float
    material: str

    @property
    def stuff(self) -> Material:
        return find_material(self.material)

    @property
    def section(self) -> Section:
        return round_tube(self.od, self.wall, self.stuff.nu)

    @property
    def assumed(self) -> Assumed:
        """The part as it is listed where nobody stated it."""
        if self.wall == self.od / 2:
            size = f"solid {self.od:g} mm"
        else:
            size = f"{self.od:g} x {self.wall:g} mm"
        return Assumed("parts", self.name, spoken(self.name), f"{size}, {self.material}")


PARTS = {
    part.name: part
    for part in (
        Part("bb_shell", 40.0, 3.0, "4130"),
        Part("rear_hub", 17.0, 8.5, "4130"),
        Part("front_hub", 15.0, 7.5, "4130"),
        Part("fork_crown_piece", 28.0, 14.0, "4130"),
        Part("bridge", 16.0, 1.0, "4130"),
        Part("seat_post", 27.2, 2.2, "6061-T6"),
        Part("stem", 31.8, 2.8, "6061-T6"),
        Part("bar", 31.8, 2.2, "6061-T6"),
    )
}
BRIDGE_CLEARANCE = 12.0  # mm between tyre and bridge


def assumed_parts() -> tuple[Assumed, ...]:
    """What is assumed about the parts."""
    return tuple(part.assumed for part in PARTS.values())
