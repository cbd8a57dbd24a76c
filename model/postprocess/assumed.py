"""How much of a figure rests on parts that nobody entered: hubs, stem, bar, seat post, crown piece, shell, bridges.

Where one load makes a movement, its give is twice the strain energy over the load, so a part's share of the energy
is its share of the give (Clapeyron). Parts have sizes of common practice unless stated.
"""

from collections.abc import Collection

from ..frame.parts import PARTS
from ..mechanics.energy import energy_shares
from ..mechanics.result import Result

BRIDGES = ("chainstay_bridge", "seatstay_bridge")
ASSUMED_PARTS = frozenset((*PARTS, *BRIDGES))


def assumed_share(result: Result, parts: Collection[str] = ASSUMED_PARTS) -> float | None:
    """Share of the strain energy in the assumed parts, 0 to 1; None for a model that has none, or no energy."""
    table = energy_shares(result)
    held = [sum(kinds.values()) for member, kinds in table.members.items() if member in parts]
    if not held or not table.total:
        return None
    return sum(held) / table.total
