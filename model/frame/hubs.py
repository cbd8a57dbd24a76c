"""Hubs by the standard of their axle: an axle that dropouts clamp, and a shell that stands on it in two bearings.

The wheel stands on the shell. Bearings carry across and along, and tilt freely, so the shell holds the axle straight
between them and passes no bending on; the axle is one piece from dropout to dropout. A thru axle is taken together with
the sleeve that it clamps. All dimensions: common practice, from memory.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from re import findall
from typing import Literal

from ..errors import ModelError
from ..tubes.materials import find_material
from ..tubes.tube import Tube
from ..words import spoken

HubName = Literal["rear_hub", "front_hub"]
HUB_NAMES: tuple[HubName, ...] = ("rear_hub", "front_hub")
SOURCE = "common practice, from memory"


@dataclass(frozen=True)
class Hub:
    """One standard. spacing : between the dropouts' faces; inset : from such a face to the bearing's middle, mm."""

    name: str
    spacing: float
    axle: Tube
    shell: Tube
    inset: float

    @property
    def words(self) -> str:
        """``QR 100: axle 9 x 2 mm, 4130; shell 30 x 3 mm, 6061-T6``"""
        sizes = [f"{tube.label} mm, {tube.material.name}" for tube in (self.axle, self.shell)]
        return f"{self.name}: axle {sizes[0]}; shell {sizes[1]}"


def _hub(
    name: str, spacing: float, axle: tuple[float, float], metal: str, shell: float, inset: float
) -> Hub:
    """axle : outside diameter and bore, mm; shell : outside diameter of an aluminium shell with a wall of 3 mm."""
    outside, bore = axle
    tube = Tube(find_material(metal), outside, outside, ((outside - bore) / 2,))
    return Hub(name, spacing, tube, Tube(find_material("6061-T6"), shell, shell, (3.0,)), inset)


def _named(*hubs: Hub) -> Mapping[str, Hub]:
    return {hub.name: hub for hub in hubs}


# End -> standard -> hub. Quick release: a hollow steel axle with a bore of 5 mm for the skewer. Thru axle: aluminium,
# hollow, within a sleeve of 1.5 mm. Nutted: solid steel.
HUBS: Mapping[HubName, Mapping[str, Hub]] = {
    "front_hub": _named(
        _hub("QR 100", 100.0, (9.0, 5.0), "4130", 30.0, 14.0),
        _hub("nutted 100", 100.0, (9.0, 0.0), "4130", 30.0, 14.0),
        _hub("12x100", 100.0, (15.0, 8.0), "6061-T6", 32.0, 12.0),
        _hub("15x100", 100.0, (18.0, 11.0), "6061-T6", 34.0, 12.0),
        _hub("15x110", 110.0, (18.0, 11.0), "6061-T6", 34.0, 12.0),
        _hub("20x110", 110.0, (23.0, 16.0), "6061-T6", 40.0, 12.0),
    ),
    "rear_hub": _named(
        _hub("QR 135", 135.0, (10.0, 5.0), "4130", 34.0, 20.0),
        _hub("nutted 120", 120.0, (10.0, 0.0), "4130", 32.0, 18.0),
        _hub("QR 126", 126.0, (10.0, 5.0), "4130", 34.0, 20.0),
        _hub("QR 130", 130.0, (10.0, 5.0), "4130", 34.0, 20.0),
        _hub("12x142", 142.0, (15.0, 8.0), "6061-T6", 36.0, 16.0),
        _hub("12x148", 148.0, (15.0, 8.0), "6061-T6", 36.0, 16.0),
        _hub("12x157", 157.0, (15.0, 8.0), "6061-T6", 36.0, 16.0),
    ),
}
# The axle's diameter by which some call a quick release.
_QUICK = {"front_hub": 9, "rear_hub": 10}
_SOLID = ("nutted", "bolted", "solid", "track")
_NUMBERS = r"\d+"


def is_standard(text: str) -> bool:
    """Whether a text names an axle standard and no size of a bar: ``QR 100``, ``12x142``, ``15x110 boost``."""
    words = text.lower()
    numbers = [int(number) for number in findall(_NUMBERS, words)]
    named = any(word in words for word in ("qr", "quick", "thru", "through", "boost", *_SOLID))
    # A second number of 90 or more is a spacing; no bar has such a wall.
    crossed = "x" in words and len(numbers) == 2 and numbers[1] >= 90
    return bool(numbers) and (named or crossed) and max(numbers) >= 90


def find_hub(end: HubName, text: str) -> Hub:
    """The hub of an axle standard as people write it. Raises ModelError that lists those known for this end."""
    known = HUBS[end]
    words = text.lower()
    numbers = [int(number) for number in findall(_NUMBERS, words)]
    # The spacing is written last, an axle's diameter before it.
    spacing = numbers[-1] if numbers else 0
    axle = numbers[0] if len(numbers) > 1 else 0
    # Asked first: a nutted axle may be as thick as that of a quick release.
    if any(word in words for word in _SOLID):
        name = f"nutted {spacing}"
    elif "qr" in words or "quick" in words or axle == _QUICK[end]:
        name = f"QR {spacing}"
    else:
        name = f"{axle}x{spacing}"
    if name not in known:
        raise ModelError(
            f"{spoken(end)} '{text}': known axle standards are {', '.join(known)}; or state the axle as a bar in the "
            "tube table, outside diameter and wall"
        )
    return known[name]
