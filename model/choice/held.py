"""Held how: the headline figure of each case under every credible way to hold it, and whether the ranking survives.

A stiffness is for its supports, and so is the better of two tubes. Variants are compared with variants that change as
many tubes: two tubes exchanged nearly always beat one.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import chain, combinations
from math import isfinite, nan
from typing import Literal

from ..cases.held import Holding, held_cases
from ..errors import FrameError
from ..findings import Finding
from ..frame.bicycle import Bicycle
from ..frame.layout import FrameLayout, lay_out
from ..frame.mesh import MeshOptions
from ..mechanics.frame_model import LoadCase
from ..reanalysis.fast_options import CaseMaker
from .figures import MASSES, Figure, figure
from .together import figures_together

By = Literal["change", "per_10_g"]
BY: tuple[By, ...] = ("change", "per_10_g")
SAME = 0.05  # points of percent; closer variants are told apart by no table
SAME_MASS = 0.5  # g; below this a change per 10 g says nothing
TOLD = 3  # turns told of one figure


@dataclass(frozen=True)
class Contender:
    """A bicycle to be ranked: its name, mass of the tubes in g, and how many tubes or items it changes (0: none)."""

    name: str
    bicycle: Bicycle
    grams: float
    changes: int


@dataclass(frozen=True)
class Turn:
    """Two variants that change places: the ways in which `first` stands before `second`, and where behind."""

    first: str
    second: str
    before: tuple[Holding, ...]
    behind: tuple[Holding, ...]
    ways: int
    by: By

    @property
    def words(self) -> str:
        """``top tube 30 before down tube 34.9 in 2 of 6 ways to hold it (both gripped, as ridden)``."""
        where = ", ".join(way.short for way in self.before)
        return f"{self.first} before {self.second} in {len(self.before)} of {self.ways} ways to hold it ({where})"


def _by_words(by: By) -> str:
    if by == "change":
        return "by the change as entered"
    return "for 10 g"


@dataclass(frozen=True)
class Held:
    """One case's headline figure under every way to hold it.

    contenders : the bicycle as it stands first. values : (contender, way), in the figure's unit.
    """

    case: str
    figure: Figure
    ways: tuple[Holding, ...]
    contenders: tuple[Contender, ...]
    values: tuple[tuple[float, ...], ...]

    def change(self, row: int, way: int) -> float:
        """Change of the figure against the bicycle as it stands, held the same way, percent."""
        base = self.values[0][way]
        # A figure of nothing has no percents.
        if not base:
            return nan
        return 100.0 * (self.values[row][way] / base - 1.0)

    def against_told(self, row: int, way: int) -> float:
        """Change of the figure against the same bicycle held as the case tells, percent."""
        told = self.values[row][0]
        if not told:
            return nan
        return 100.0 * (self.values[row][way] / told - 1.0)

    def gain(self, row: int, way: int, by: By = "change") -> float:
        """Percent stiffer (of a movement: less of it), as entered or for 10 g more; nan where no gram is added."""
        gain = self.change(row, way)
        # Less movement is stiffer.
        if self.figure.reference is None:
            gain = -gain
        if by == "change":
            return gain
        grams = self.contenders[row].grams - self.contenders[0].grams
        # No heavier than before: there is no gain for 10 g more.
        if grams < SAME_MASS:
            return nan
        return 10.0 * gain / grams

    def groups(self, by: By) -> list[list[int]]:
        """Contenders that change as many tubes and have a gain to be ranked by, two or more in a group."""
        found: dict[int, list[int]] = {}
        for row, one in enumerate(self.contenders):
            # Row 0 is the bicycle as it stands and is not ranked.
            if row and isfinite(self.gain(row, 0, by)):
                found.setdefault(one.changes, []).append(row)
        return [group for group in found.values() if len(group) > 1]

    def turns(self) -> tuple[Turn, ...]:
        """Pairs of a group that clearly change places from one way to another, the clearest first."""
        found = [
            pair
            for by in BY
            for group in self.groups(by)
            for one, other in combinations(group, 2)
            if (pair := self._turn(one, other, by)) is not None
        ]
        found.sort(key=lambda pair: -pair[0])
        return tuple(turn for _, turn in found[:TOLD])

    def _turn(self, one: int, other: int, by: By) -> tuple[float, Turn] | None:
        """How clearly two change places, in points of percent, and where; None where one stays before the other."""
        ahead = [
            self.gain(one, way, by) - self.gain(other, way, by) for way in range(len(self.ways))
        ]
        # As clear as the weaker of its two sides.
        clear = min(max(ahead), -min(ahead))
        if not clear > SAME:
            return None
        # One bicycle entered twice cannot change places with itself.
        if self.contenders[one].name == self.contenders[other].name:
            return None
        before = tuple(way for way, lead in zip(self.ways, ahead, strict=True) if lead > SAME)
        behind = tuple(way for way, lead in zip(self.ways, ahead, strict=True) if lead < -SAME)
        names = self.contenders[one].name, self.contenders[other].name
        return clear, Turn(*names, before, behind, len(self.ways), by)

    def undecided(self) -> tuple[By, ...]:
        """By which count some group has no variant that is best, or level with the best, in every way to hold it."""
        open_ = []
        for by in BY:
            if not all(self._steady(group, by) for group in self.groups(by)):
                open_.append(by)
        return tuple(open_)

    def _steady(self, group: list[int], by: By) -> set[int]:
        """The members of a group that no way to hold it puts behind another."""
        best = set(group)
        for way in range(len(self.ways)):
            gains = {row: self.gain(row, way, by) for row in group}
            most = max(gains.values())
            best &= {row for row, gain in gains.items() if gain >= most - SAME}
        return best

    def sentences(self) -> tuple[str, ...]:
        """What the ways to hold it do to the ranking, in words; nothing where nothing is ranked."""
        ranked = [by for by in BY if self.groups(by)]
        if not ranked or len(self.ways) < 2:
            return ()
        told = [f"{_by_words(turn.by)}: {turn.words}" for turn in self.turns()]
        turning = {turn.by for turn in self.turns()}
        steady = [by for by in ranked if by not in turning and by not in self.undecided()]
        if steady:
            how = " and ".join(_by_words(by) for by in steady)
            told.append(f"{how} the best stays the best in all {len(self.ways)} ways to hold it")
        return tuple(told)

    def finding(self) -> Finding | None:
        """What to know where the best choice depends on how the bicycle is held."""
        undecided = self.undecided()
        if not undecided:
            return None
        # the clearest alone: every one of them stands with the figures
        told = [turn.words for turn in self.turns() if turn.by in undecided][:1]
        how = " and ".join(_by_words(by) for by in undecided)
        return Finding(
            "depends-on-holding",
            "info",
            f"{self.figure.title}: which variant is best {how} depends on how the bicycle is held"
            f"{': ' if told else ''}{''.join(told)}; choose for the way your frame will be used, "
            "or what stays ahead in all of them",
            self.case,
        )


def study(
    contenders: Sequence[Contender],
    cases_of: CaseMaker,
    options: MeshOptions | None = None,
) -> tuple[Held, ...]:
    """The first measure of every case that has several ways to be held, for every contender.

    Raises as meshing and solving do.
    """
    first = contenders[0].bicycle
    several = _held_otherwise(first, lay_out(first), cases_of)

    def held(bicycle: Bicycle, layout: FrameLayout) -> tuple[LoadCase, ...]:
        ways = chain.from_iterable(_held_otherwise(bicycle, layout, cases_of))
        # All that is asked of each is its headline.
        return tuple(replace(case, measures=case.measures[:1]) for _, case in ways)

    # In one go: cases with the same supports share a factorisation, bicycles of one build all but their numbers.
    solved = figures_together([one.bicycle for one in contenders], held, options)
    rows = []
    for figures in solved:
        if isinstance(figures, FrameError):
            raise figures
        rows.append(figures[len(MASSES) :])
    found = []
    place = 0
    for pairs in several:
        told = pairs[0][1]
        ways = tuple(way for way, _ in pairs)
        values = tuple(row[place : place + len(ways)] for row in rows)
        known = figure(told, told.measures[0])
        found.append(Held(told.name, known, ways, tuple(contenders), values))
        place += len(ways)
    return tuple(found)


def _held_otherwise(
    bicycle: Bicycle, layout: FrameLayout, cases_of: CaseMaker
) -> list[tuple[tuple[Holding, LoadCase], ...]]:
    """Every case that can be held in several ways, under each of them. Held in one way, or with nothing measured, there
    is no ranking that could turn."""
    every = [held_cases(case, bicycle, layout) for case in cases_of(bicycle, layout)]
    return [pairs for pairs in every if len(pairs) > 1 and pairs[0][1].measures]


def held_findings(studied: Sequence[Held]) -> tuple[Finding, ...]:
    """`depends-on-holding` of every figure that it is to be said of."""
    return tuple(found for held in studied if (found := held.finding()) is not None)
