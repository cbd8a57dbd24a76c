"""A catalogue of tubes: generic ones in trade sizes, or the builder's own stock."""

from dataclasses import dataclass

from ..errors import ModelError
from ..findings import Finding
from ..words import spoken
from .known_plans import known_tubes
from .tube import Tube


@dataclass(frozen=True)
class StockTube:
    """One tube on the shelf. `use` names the members it is meant for; `note` where its numbers come from."""

    name: str
    tube: Tube
    use: tuple[str, ...]
    note: str = ""


@dataclass(frozen=True)
class Catalogue:
    """All tubes of one catalogue file, in its order. findings : such as elastic constants that disagree."""

    tubes: tuple[StockTube, ...]
    source: str
    findings: tuple[Finding, ...] = ()

    def for_member(self, member: str) -> tuple[StockTube, ...]:
        """The tubes meant for a member such as ``top_tube``.

        Raises
        ------
        ModelError
            For a member there is none of, or that is unknown; the message says what the catalogue holds.
        """
        found = tuple(stock for stock in self.tubes if member in stock.use)
        known = known_tubes()
        if not found and member not in known:
            raise ModelError(f"there is no tube '{member}'; known: {', '.join(known)}")
        if not found:
            # Once each, in the order of the catalogue.
            held = ", ".join(dict.fromkeys(spoken(m) for stock in self.tubes for m in stock.use))
            raise ModelError(
                f"{self.source} holds no {member.replace('_', ' ')}; it holds: {held or 'nothing'}; "
                f"write sizes instead, such as {member}=19x0.8,22.2x0.8"
            )
        return found

    def find(self, name: str) -> StockTube:
        """The tube of that name, case ignored; ModelError when there is none."""
        for stock in self.tubes:
            if stock.name.casefold() == name.strip().casefold():
                return stock
        raise ModelError(f"{self.source} holds no tube named '{name}'")
