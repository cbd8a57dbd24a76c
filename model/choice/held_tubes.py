"""Which tube is worth 10 g, under every way to hold the case: a ranking that turns belongs to the way."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from ..cases.held import Holding, held_cases
from ..findings import Finding
from ..frame.bicycle import Bicycle
from ..frame.layout import lay_out
from ..frame.mesh import MeshOptions
from ..mechanics.frame_model import LoadCase
from ..postprocess.sensitivity import Sensitivity, ranking, sensitivities
from ..words import spoken
from .figures import Figure, figure

BEST = 3


@dataclass(frozen=True)
class HeldRanking:
    """The best uses of 10 g for a case's first measure. best : a row for each way, the best use first."""

    case: str
    figure: Figure
    ways: tuple[Holding, ...]
    best: tuple[tuple[Sensitivity, ...], ...]

    @property
    def firsts(self) -> Counter[str]:
        """What stands first, with the number of ways in which it does."""
        return Counter(f"{spoken(row[0].tube)} {row[0].parameter}" for row in self.best)

    @property
    def sentence(self) -> str:
        """``top tube diameter first in 4 of 6 ways to hold it, seat tube diameter in 2``."""
        ways = len(self.ways)
        (first, count), *others = self.firsts.most_common()
        if not others:
            return f"{first} stays first in all {ways} ways to hold it"
        rest = ", ".join(f"{name} in {times}" for name, times in others)
        return f"{first} first in {count} of {ways} ways to hold it, {rest}"

    def finding(self) -> Finding | None:
        """What to know where another tube is the best use of weight when the bicycle is held otherwise."""
        if len(self.firsts) < 2:
            return None
        return Finding(
            "depends-on-holding",
            "info",
            f"{self.figure.title}: which tube is worth 10 g most depends on how the bicycle is held: {self.sentence}; "
            "choose for the way your frame will be used",
            self.case,
        )


def held_rankings(
    bicycle: Bicycle, cases: Sequence[LoadCase], options: MeshOptions | None = None
) -> tuple[HeldRanking, ...]:
    """One for each case that has several ways to be held. Raises ModelError as `sensitivities` does."""
    layout = lay_out(bicycle)
    every = [held_cases(case, bicycle, layout) for case in cases if case.measures]
    # Held in one way only there is no ranking that could turn.
    several = [pairs for pairs in every if len(pairs) > 1]
    if not several:
        return ()
    # All ways of all cases in one call, so that the frame is meshed once.
    rows = sensitivities(bicycle, [case for pairs in several for _, case in pairs], options)
    found = []
    for pairs in several:
        told = pairs[0][1]
        headline = told.measures[0]
        best = [tuple(ranking(rows, case.name, headline.name)[:BEST]) for _, case in pairs]
        ways = tuple(way for way, _ in pairs)
        found.append(HeldRanking(told.name, figure(told, headline), ways, tuple(best)))
    return tuple(found)
