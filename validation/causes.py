"""Which few items explain every difference between a drawing and its sheet.

A drawing that differs in seven numbers rarely has seven mistakes: another offset alone moves trail, wheelbase, stack
and front centre. The smallest set of dimensions is looked for which, taken from the drawing into the sheet's frame,
leaves no difference beyond the tolerances.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from ..model.errors import ModelError
from ..model.geometry.dimensions import FrameDimensions
from ..model.geometry.statements import FIELDS, by_unit, label, unit
from ..model.words import signed
from .drawing_check import compare_dimensions

MOST = 4  # items that count as few; more are told one by one
CANDIDATES = 12  # dimensions that are tried; their subsets stay below a thousand
NOISE = 0.05  # of the tolerance: a drawing's own rounding is not a cause


@dataclass(frozen=True)
class Cause:
    """One dimension that differs by itself: drawing minus sheet."""

    item: str
    difference: float

    def __str__(self) -> str:
        return f"{label(self.item)} {signed(self.difference, 1)} {unit(self.item)}"


def causes(
    drawing: FrameDimensions,
    sheet: FrameDimensions,
    not_stated: frozenset[str] = frozenset(),
    tolerance_mm: float = 1.0,
    tolerance_deg: float = 0.1,
) -> tuple[Cause, ...]:
    """The smallest set that explains all differences, of equal ones the one that leaves least; () where none differs or
    no set of `MOST` does."""

    def left(frame: FrameDimensions) -> float | None:
        """The largest remaining difference in tolerances; None where one is beyond."""
        rows = compare_dimensions(drawing, frame, not_stated, tolerance_mm, tolerance_deg)
        judged = [row for row in rows if row.ok is not None]
        if not all(row.ok for row in judged):
            return None
        # Without a tolerance an item has no share of it.
        shares = (abs(row.difference or 0.0) / row.tolerance for row in judged if row.tolerance)
        return max(shares, default=0.0)

    if left(sheet) is not None:
        return ()
    differing = _differing(drawing, sheet, tolerance_mm, tolerance_deg)
    # Small sets first: the first size that explains all is the answer.
    for size in range(1, MOST + 1):
        found: list[tuple[float, tuple[Cause, ...]]] = []
        for picked in combinations(differing, size):
            try:
                # A few of the drawing's items in the sheet's frame may be no frame at all.
                frame = replace(sheet, **{one.item: getattr(drawing, one.item) for one in picked})
            except ModelError:
                continue
            rest = left(frame)
            if rest is not None:
                found.append((rest, picked))
        if found:
            return min(found, key=lambda pair: pair[0])[1]
    return ()


def _differing(
    drawing: FrameDimensions, sheet: FrameDimensions, mm: float, deg: float
) -> Sequence[Cause]:
    """Dimensions that differ by more than noise, the largest first."""
    found = []
    for name in FIELDS:
        drawn = getattr(drawing, name)
        stated = getattr(sheet, name)
        if drawn is None or stated is None:
            continue
        tolerance = by_unit(name, mm, deg)
        if abs(drawn - stated) > NOISE * tolerance:
            # Where no tolerance is allowed, by the difference itself.
            found.append((abs(drawn - stated) / (tolerance or 1.0), Cause(name, drawn - stated)))
    found.sort(key=lambda pair: -pair[0])
    return [cause for _, cause in found[:CANDIDATES]]


def causes_words(found: Sequence[Cause], differences: int) -> str:
    """``fork offset +5.0 mm and bottom bracket drop +6.0 mm explain all 7 differences``."""
    if not found:
        return f"no {MOST} items or fewer explain the {differences} differences: see the table"
    names = [str(cause) for cause in found]
    if len(names) == 1:
        listed = names[0]
        verb = "explains"
    else:
        listed = f"{', '.join(names[:-1])} and {names[-1]}"
        verb = "explain"
    if differences == 1:
        return f"{listed} {verb} the difference"
    return f"{listed} {verb} all {differences} differences"
