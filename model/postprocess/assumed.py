"""How much of a figure rests on parts that nobody entered: hubs, stem, bar, seat post, crown piece, shell, bridges.

Where one load makes a movement, its give is twice the strain energy over the load, so a part's share of the energy
is its share of the give (Clapeyron). Parts have sizes of common practice unless stated.
"""

from ..frame.parts import assumed_members
from ..mechanics.energy import energy_shares
from ..mechanics.result import Result


def assumed_share(result: Result) -> float | None:
    """Share of the strain energy in the assumed parts, 0 to 1; None for a model that has none, or no energy.

    A model that does not say which are assumed, such as one from a file, is taken to have stated none of them.
    """
    told = result.model.assumed_members
    parts = assumed_members(()) if told is None else told
    table = energy_shares(result)
    held = [sum(kinds.values()) for member, kinds in table.members.items() if member in parts]
    if not table.total or (told is None and not held):
        return None
    return sum(held) / table.total
