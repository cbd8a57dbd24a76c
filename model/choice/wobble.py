"""What the hands must supply against wobble, as a figure of a comparison or a search: less is better."""

from ..frame.bicycle import Bicycle
from ..stability.hands import BAND_SPEEDS, SetUp
from .compare import Extra
from .figures import WOBBLE, Figure

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
