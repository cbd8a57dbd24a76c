"""What the hands must supply against wobble, as a figure of a comparison or a search: less is better.

A figure is for every unstated value at its usual one; how surely one bicycle needs less than another is told by the
share of the draws of `stability.hands` in which it does.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from ..frame.bicycle import Bicycle
from ..stability.hands import BAND_SPEEDS, Band, SetUp, draws
from .compare import Extra
from .figures import WOBBLE, Figure

DRAWS = 40  # of a comparison; enough to tell sure from doubtful

HANDS_NEED = Figure(
    "hands_need",
    "most that the hands must supply",
    "N·m·s/rad",
    "at the speed where most is needed, every value that nobody stated at its usual one",
    "rider on the saddle, hands on the bar; below zero: that much to spare",
    case=WOBBLE,
    group="Wobble",
)


def hands_figure() -> Extra:
    """The need at its worst speed, N*m*s/rad."""

    def values(bicycle: Bicycle) -> list[float]:
        # The coarser speeds: a comparison or a search asks for many bicycles.
        return [SetUp.of(bicycle).need(BAND_SPEEDS).most]

    return Extra((HANDS_NEED,), values)


@dataclass(frozen=True)
class BandRow:
    """A bicycle's need over the draws; lower: share of the draws in which it needs less than the first bicycle."""

    name: str
    band: Band
    lower: float | None


def hands_bands(bicycles: Sequence[tuple[str, Bicycle]], count: int = DRAWS) -> tuple[BandRow, ...]:
    """Each bicycle under the same draws of what nobody stated; none where nobody rides one of them."""
    if any(not bicycle.ridden for _, bicycle in bicycles):
        return ()
    found: list[BandRow] = []
    for name, bicycle in bicycles:
        band = SetUp.of(bicycle).band(draws(bicycle.riding, count))
        lower = None
        if found:
            lower = band.lower_than(found[0].band)
        found.append(BandRow(name, band, lower))
    return tuple(found)
