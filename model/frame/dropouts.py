"""Dropouts as plates: the last stretch of stays and blades before the axle, where they are stated."""

from dataclasses import dataclass

from ..errors import ModelError
from ..tubes.materials import Material, find_material
from ..tubes.sections import Section, flat_bar
from ..words import spoken

DROPOUTS = ("rear_dropout", "front_dropout")
DEFAULT_MATERIAL = "4130"
# mm, what no dropout of a bicycle exceeds: height, thickness, length.
LIMITS = {"height": (8.0, 80.0), "thickness": (2.0, 25.0), "length": (5.0, 150.0)}


@dataclass(frozen=True)
class Dropout:
    """A flat bar on the tube's axis: height in the plane of the frame, thickness across it, length from the axle's
    centre to where the tube ends, mm."""

    name: str
    height: float
    thickness: float
    length: float
    material: Material

    def __post_init__(self) -> None:
        for size, (low, high) in LIMITS.items():
            value = getattr(self, size)
            if not low <= value <= high:
                raise ModelError(
                    f"{spoken(self.name)}: {size} {value:g} mm, expected {low:g} to {high:g} mm; write height x "
                    "thickness x length from the axle, such as 30x6x26"
                )

    @property
    def section(self) -> Section:
        return flat_bar(self.height, self.thickness)

    @property
    def sizes(self) -> str:
        """As it is written: ``30x6x26``."""
        return f"{self.height:g}x{self.thickness:g}x{self.length:g}"

    @property
    def words(self) -> str:
        return f"{self.sizes} mm, {self.material.name}"


def usual_dropout_material() -> Material:
    """What a dropout is made of where nobody says."""
    return find_material(DEFAULT_MATERIAL)
