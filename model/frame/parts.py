"""The simple parts bolted or brazed to the tubes: enough to carry loads in where they really act.

A part is stated in the tube table or taken as here. Sizes here are generic workshop values without a source; every
result lists those that nobody stated as assumptions.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cached_property

from ..assumption import Assumed
from ..errors import ModelError
from ..tubes.materials import Material, find_material
from ..tubes.sections import Section
from ..tubes.tube import Tube
from ..words import spoken


@dataclass(frozen=True)
class Part:
    """A part that is the same from end to end: outside diameter and wall in mm (wall = half the diameter: solid)."""

    name: str
    tube: Tube

    def __post_init__(self) -> None:
        if self.tube.is_tapered or len(self.tube.walls) != 1:
            raise ModelError(
                f"{spoken(self.name)} {self.tube.label}: a part is taken as the same from end to end; state one "
                "diameter and one wall, those of the stretch that bends most"
            )

    @property
    def od(self) -> float:
        return self.tube.od_start

    @property
    def wall(self) -> float:
        return self.tube.walls[0]

    @property
    def stuff(self) -> Material:
        return self.tube.material

    @property
    def solid(self) -> bool:
        """Whether it is a bar without a bore."""
        return self.wall == self.od / 2 and self.tube.oval_width is None

    @cached_property
    def section(self) -> Section:
        return self.tube.section(self.od, self.wall)

    @property
    def words(self) -> str:
        """Size and material: ``27.2 x 2.2 mm, 6061-T6``, ``solid 28 mm, 4130``."""
        across = ""
        if self.tube.oval_width is not None:
            across = f"x{self.tube.oval_width:g}"
        if self.solid:
            size = f"solid {self.od:g} mm"
        else:
            size = f"{self.od:g}{across} x {self.wall:g} mm"
        return f"{size}, {self.stuff.name}"


def _usual(name: str, od: float, wall: float, material: str) -> Part:
    return Part(name, Tube(find_material(material), od, od, (wall,)))


PARTS: Mapping[str, Part] = {
    part.name: part
    for part in (
        _usual("bb_shell", 40.0, 3.0, "4130"),
        _usual("rear_hub", 17.0, 8.5, "4130"),
        _usual("front_hub", 15.0, 7.5, "4130"),
        _usual("fork_crown_piece", 28.0, 14.0, "4130"),
        _usual("bridge", 16.0, 1.0, "4130"),
        _usual("seat_post", 27.2, 2.2, "6061-T6"),
        _usual("stem", 31.8, 2.8, "6061-T6"),
        _usual("bar", 31.8, 2.2, "6061-T6"),
    )
}
# Part -> the members that the mesh makes of it, where their names differ.
_MEMBERS = {"bridge": ("chainstay_bridge", "seatstay_bridge")}
BRIDGE_CLEARANCE = 12.0  # mm between tyre and bridge


def assumed_parts(stated: Collection[str]) -> tuple[Assumed, ...]:
    """What is assumed about the parts that nobody stated."""
    return tuple(
        Assumed("parts", name, spoken(name), part.words)
        for name, part in PARTS.items()
        if name not in stated
    )


def assumed_members(stated: Collection[str]) -> frozenset[str]:
    """Members of the mesh whose sizes nobody stated."""
    # A part may stand for several members.
    names = [_MEMBERS.get(name, (name,)) for name in PARTS if name not in stated]
    return frozenset(member for members in names for member in members)
