"""From stated dimensions to a frame, and what every further statement disagrees by.

Vocabulary: a STATEMENT is one stated number (``stack`` 580); a DEFINING statement is one the frame is
computed from; a REDUNDANT statement is one the defining ones already imply - the CLOSURE compares both.
A DEFAULT is a value used only where no statement fixes the thing. A SUSPECT is a statement whose change
alone would make everything close.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass

import numpy as np

from ..decide import within
from ..errors import ModelError
from ..findings import Finding
from ..words import signed
from .closure_search import (
    BARELY,
    NEGLIGIBLE,
    WELL,
    ClosureProblem,
    as_point,
    free_fields,
    independent,
    sensitivities,
)
from .dimensions import NOTHING_GIVEN, FrameDimensions, Given
from .joints import joints_outside
from .quantities import QUANTITIES, STATED
from .statements import CORE, FIELDS, PREFERENCE, by_unit, label, quantities, unit

WEAK_GAIN = 4.0  # a field that moves by more than this per mm of a defining statement is reported


@dataclass(frozen=True)
class ClosureRow:
    """One redundant statement held against the rest; `against` names the defining statements it depends on."""

    item: str
    stated: float
    implied: float
    tolerance: float
    against: tuple[str, ...] = ()

    @property
    def difference(self) -> float:
        """Stated minus implied."""
        return self.stated - self.implied

    @property
    def ok(self) -> bool:
        return within(self.difference, self.tolerance, max(abs(self.stated), abs(self.implied)))

    @property
    def unit(self) -> str:
        return unit(self.item)

    def as_dict(self) -> dict[str, object]:
        return asdict(self) | {"difference": self.difference, "unit": self.unit, "ok": self.ok}

    def __str__(self) -> str:
        return (
            f"{label(self.item)}: stated {self.stated:.1f}, the rest implies {self.implied:.1f}, "
            f"difference {signed(self.difference, 1)} {self.unit}"
        )


@dataclass(frozen=True)
class Suspect:
    """A statement that, changed alone to `would_be`, makes everything close."""

    item: str
    stated: float
    would_be: float

    def __str__(self) -> str:
        return (
            f"{label(self.item)} {self.would_be:.1f} {unit(self.item)} instead of {self.stated:.1f}"
        )


@dataclass(frozen=True)
class Closure:
    """A frame found from statements.

    defining : statements the dimensions were computed from. defaults : names of the defaults that had to be
    used. rows : every redundant statement. suspects : empty when all rows close, or when no single statement
    explains them. weak : field -> how many mm (or tenths of a degree) it moves per mm (tenth of a degree) of
    a defining statement, where the statements fix it poorly. unused : statements about parts of the frame
    that the rest leaves open. by_default : names in `PREFERENCE` whose value rests on a default.
    """

    dimensions: FrameDimensions
    defining: tuple[str, ...]
    defaults: tuple[str, ...] = ()
    rows: tuple[ClosureRow, ...] = ()
    suspects: tuple[Suspect, ...] = ()
    weak: tuple[tuple[str, float], ...] = ()
    unused: tuple[str, ...] = ()
    by_default: frozenset[str] = frozenset()

    @property
    def ok(self) -> bool:
        return all(row.ok for row in self.rows)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """``closure-<item>`` for each row out of tolerance, ``closure-suspects``, ``-weak``, ``-unused``,
        ``-joint-outside``."""
        off = [row for row in self.rows if not row.ok]
        found = []
        for row in off:
            item = row.item.replace("_", "-")
            found.append(Finding(f"closure-{item}", "warning", _contradiction(row)))
        if off:
            found.append(Finding("closure-suspects", "warning", _suspicion(self.suspects)))
        for weak in self.weak:
            found.append(Finding("closure-weak", "warning", _weakness(*weak)))
        for words in joints_outside(self.dimensions):
            found.append(Finding("closure-joint-outside", "error", words))
        for name in self.unused:
            words = (
                f"{label(name)} is stated but could not be used: the rest does not say where the tubes it refers to "
                "are joined"
            )
            found.append(Finding("closure-unused", "warning", words))
        return tuple(found)


def _contradiction(row: ClosureRow) -> str:
    # every item of the contradiction is named: the one that looks odd need not be the wrong one
    group = ", ".join(map(label, (row.item, *row.against)))
    return (
        f"{row} (tolerance {row.tolerance:g} {row.unit}); at least one of these is wrong, which one cannot be "
        f"known from this alone: {group}"
    )


def _suspicion(suspects: Sequence[Suspect]) -> str:
    if not suspects:
        return (
            "no single item explains the contradictions, so at least two are wrong or the tolerance is tight; "
            "compare each with where it was measured"
        )
    if len(suspects) == 1:
        return f"everything would close with {suspects[0]}; look there first, though the sheet cannot prove it"
    listed = "; ".join(map(str, suspects))
    return f"which item is wrong cannot be known from the sheet; any one of these would close it: {listed}"


def _weakness(name: str, gain: float) -> str:
    if QUANTITIES[name].is_angle:
        step = "tenths of a degree"
    else:
        step = "mm"
    return (
        f"{label(name)} is fixed only weakly by what is stated: 1 mm of error there moves it by {gain:.0f} {step}; "
        f"state {label(name)} itself"
    )


def solve_dimensions(
    statements: Mapping[str, float],
    tolerance_mm: float = 1.0,
    tolerance_deg: float = 0.1,
    defaults: Mapping[str, float] | None = None,
    given: Given = NOTHING_GIVEN,
) -> Closure:
    """The frame that the statements define, with the closure of all redundant ones.

    Parameters
    ----------
    statements : name in `model.geometry.statements.PREFERENCE` -> mm or degrees; any sufficient set, in any order.
    tolerance_mm, tolerance_deg : what a redundant statement may differ by.
    defaults : further values, best first, used only to place tubes that no statement places, never compared.
    given : as `FrameDimensions` has it; a stated standover is to the top tube's upper side, a stated chainstay from the
        bracket whose chain drives the wheel.

    Raises
    ------
    ModelError
        When the statements do not suffice (the message says which items would complete them), name something
        unknown, fit no frame or two different ones, or give a value outside the believable range.
    """
    defaults = defaults or {}
    _check((*statements.items(), *defaults.items()))
    # a default may place a tube, but never stand in for the frame itself
    stated = ClosureProblem(statements, {}, given)
    missing = [name for name in CORE if name in stated.free]
    if missing:
        raise ModelError(_missing(stated, missing))
    if defaults:
        problem = ClosureProblem(statements, defaults, given)
    else:
        problem = stated
    dimensions = problem.the_frame()
    rows = _closure_rows(problem, dimensions, tolerance_mm, tolerance_deg)
    # suspects cost one solve per statement, so they are only looked for where something is off
    contradiction = not all(row.ok for row in rows)
    held = quantities(dimensions)
    taken = tuple(name for name in problem.names if name in statements)
    filled = tuple(name for name in problem.names if name not in statements)
    unused = tuple(name for name in statements if held[name] is None)
    suspects: tuple[Suspect, ...] = ()
    if contradiction:
        suspects = _suspects(problem, dimensions, defaults, tolerance_mm, tolerance_deg)
    return Closure(
        dimensions,
        taken,
        filled,
        rows,
        suspects,
        _weak(problem, dimensions),
        unused,
        _by_default(problem, dimensions),
    )


def _check(items: Iterable[tuple[str, float]]) -> None:
    for name, value in items:
        row = STATED.get(name)
        if row is None:
            raise ModelError(f"'{name}' is not a dimension; known: {', '.join(PREFERENCE)}")
        if not row.believes(value):
            raise ModelError(
                f"{row.label} is {value:g} {row.unit_words}, {row.expected()}; check the value and its unit"
            )


def _closure_rows(
    problem: ClosureProblem, dimensions: FrameDimensions, mm: float, deg: float
) -> tuple[ClosureRow, ...]:
    implied = quantities(dimensions)
    slopes = sensitivities(as_point(dimensions), problem.given)
    # how each item would move if one of the chosen statements did: what a difference rests on
    gains = slopes @ np.linalg.pinv(slopes[problem.chosen])
    rows = []
    for name, stated in problem.statements.items():
        value = implied[name]
        # a statement that was used to solve agrees with itself, which would prove nothing
        if name not in problem.names and value is not None:
            behind = zip(problem.names, gains[PREFERENCE.index(name)], strict=True)
            against = tuple(n for n, gain in behind if abs(gain) > NEGLIGIBLE)
            rows.append(ClosureRow(name, stated, value, by_unit(name, mm, deg), against))
    return tuple(rows)


def _suspects(
    problem: ClosureProblem,
    dimensions: FrameDimensions,
    defaults: Mapping[str, float],
    mm: float,
    deg: float,
) -> tuple[Suspect, ...]:
    """Statements that can be left out so that all the others close, with the value they would need."""
    # leaving a statement out must not call in a default or free a field: then it was needed
    spare = set(problem.names) - set(problem.statements)
    found = []
    for name, stated in problem.statements.items():
        others = {n: v for n, v in problem.statements.items() if n != name}
        rest = ClosureProblem(others, defaults, problem.given)
        if set(rest.names) - set(rest.statements) != spare or rest.free != problem.free:
            continue  # nothing else says what it says, so the rest closing without it would prove nothing
        try:
            # started from the frame found, because only a frame near it answers which item is off
            other = rest.the_frame(as_point(dimensions))
        except ModelError:
            continue
        would_be = quantities(other)[name]
        if would_be is not None and all(row.ok for row in _closure_rows(rest, other, mm, deg)):
            found.append(Suspect(name, stated, would_be))
    return tuple(found)


def _weak(problem: ClosureProblem, dimensions: FrameDimensions) -> tuple[tuple[str, float], ...]:
    # weighed gains: 1 mm stands beside a tenth of a degree
    gains = np.abs(problem.gains(as_point(dimensions))).max(axis=1)
    # a stated field cannot be weak, and a free one is not claimed at all
    worked_out = [k for k in problem.unknown if FIELDS[k] not in problem.free]
    return tuple((FIELDS[k], float(gains[k])) for k in worked_out if gains[k] > WEAK_GAIN)


def _by_default(problem: ClosureProblem, dimensions: FrameDimensions) -> frozenset[str]:
    point = as_point(dimensions)
    # what a default would move is not stated, however it was worked out
    spare = [j for j, name in enumerate(problem.names) if name not in problem.statements]
    moved = np.abs(sensitivities(point, problem.given) @ problem.gains(point)[:, spare]).max(
        axis=1, initial=0.0
    )
    return frozenset(
        name for name, gain in zip(PREFERENCE, moved, strict=True) if gain > NEGLIGIBLE
    )


# --- what is missing ------------------------------------------------------------------------------------
def _completes(problem: ClosureProblem, extra: Sequence[str]) -> bool:
    """Whether stating these as well would fix every core field, and well."""
    rows = independent(
        problem.rows, [(problem.chosen, BARELY), ([PREFERENCE.index(n) for n in extra], WELL)]
    )
    return not set(free_fields(problem.rows[rows])) & set(CORE)


def completing_items(problem: ClosureProblem, missing: Sequence[str]) -> list[list[str]]:
    """One list for each number still to be stated: the usual item first, then what may stand in for it."""
    needed = list(missing)
    for name in missing:  # several fields may hang on one missing number
        others = [n for n in needed if n != name]
        # one missing statement may leave several fields free; asking for each would ask too much
        if others and _completes(problem, others):
            needed = others
    candidates = [name for name in PREFERENCE if name not in problem.values and name not in needed]
    choices = []
    for name in needed:
        others = [other for other in needed if other != name]
        instead = [c for c in candidates if _completes(problem, [*others, c])]
        choices.append([name, *instead])
    return choices


def _missing(problem: ClosureProblem, missing: Sequence[str]) -> str:
    groups = completing_items(problem, missing)
    # a list of alternatives for each of many items would fill the screen and help nobody
    if len(groups) > 3:
        return (
            f"the frame is not fixed yet: still needed are {', '.join(label(g[0]) for g in groups)} (others such "
            "as stack, trail, wheelbase or effective top tube may stand in for some of them)"
        )
    words = [
        "one of: " + ", ".join(map(label, group[:6])) if len(group) > 1 else label(group[0])
        for group in groups
    ]
    return f"the frame is not fixed yet: state {'; and '.join(words)}"
