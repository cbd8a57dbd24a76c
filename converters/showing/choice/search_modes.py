"""Frequencies and wobble of what a search found. They are worked out in full, so only for the front, not the grid."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Any

from ....model.choice.compare import Extra
from ....model.choice.search import Bound, Search
from ....model.choice.search_chunk import Summary
from ....model.decide import at_least, at_most
from ....model.words import signed
from ...files.choice.option_text import bound

MOST = 60  # variants of the front that are worked out; about a second for twenty
NOTE = (
    f"These are worked out in full for the Pareto front only (at most {MOST} variants, the best first); a "
    "limit on one of them chooses among these, and variants off the front that would keep it are not seen."
)


@dataclass(frozen=True)
class Frequencies:
    """Modes of the reference and of the front's variants, and which keep the limits on them.

    numbers : variant numbers, values : (variants, modes) Hz. limits : bounds on modes.
    """

    extra: Extra
    reference: tuple[float, ...]
    numbers: tuple[int, ...]
    values: tuple[tuple[float, ...], ...]
    kept: tuple[bool, ...]
    limits: tuple[Bound, ...]
    left_out: int


def front_frequencies(
    search: Search, summary: Summary, extra: Extra, limits: Sequence[str]
) -> Frequencies:
    """The front's further figures, best by the first objective first, held against limits such as ``mode_1 >= 3``."""
    # limits first: a figure that is not known is refused before anything is solved
    bounds = tuple(bound(text, extra.figures) for text in limits)
    reference = tuple(extra.values(search.bicycle))
    if len(summary.front):
        best = search.kernel.first(summary.front, MOST)
    else:
        best = summary.front
    numbers = tuple(int(n) for n in best.numbers)
    values = tuple(tuple(extra.values(search.variant(n))) for n in numbers)

    def keeps_all(row: Sequence[float]) -> bool:
        return all(_keeps(bound, extra, row, reference) for bound in bounds)

    kept = tuple(map(keeps_all, values))
    return Frequencies(
        extra, reference, numbers, values, kept, bounds, len(summary.front) - len(numbers)
    )


def _keeps(limit: Bound, extra: Extra, row: Sequence[float], reference: Sequence[float]) -> bool:
    """A mode that could not be followed into the variant keeps no limit."""
    k = [figure.key for figure in extra.figures].index(limit.key)
    if limit.percent:
        # a change against the bicycle as it stands, as with every limit in percent
        value = reference[k] * (1 + limit.value / 100)
    else:
        value = limit.value
    # not known is not kept: a limit must not pass because nothing was found
    if not isfinite(row[k]):
        return False
    if limit.at_least:
        return at_least(row[k], value, reference[k])
    return at_most(row[k], value, reference[k])


def rows(found: Frequencies) -> tuple[list[str], list[list[object]]]:
    """(heads, rows): number in the front, each mode with its change, whether the limits on modes are kept."""
    heads = ["no."]
    for figure in found.extra.figures:
        heads += [f"{figure.key.replace('_', ' ')} [{figure.unit}]", "change %"]
    # the bicycle as it stands has no change, but needs a cell for it
    out: list[list[object]] = [["as it stands", *(v for hz in found.reference for v in (hz, "-"))]]
    for rank, (row, kept) in enumerate(zip(found.values, found.kept, strict=True), start=1):
        out.append(
            [
                str(rank),
                *(
                    v
                    for hz, ref in zip(row, found.reference, strict=True)
                    for v in (
                        hz,
                        signed(100 * (hz / ref - 1), 1) if isfinite(hz) and ref > 0 else "-",
                    )
                ),
            ]
        )
        if found.limits:
            out[-1].append("keeps" if kept else "breaks")
    if found.limits:
        heads.append("limits kept")
        out[0].append("-")
    return heads, out


def words(found: Frequencies) -> str:
    """What was worked out and what not, and what each mode is."""
    modes = "; ".join(f.title for f in found.extra.figures)
    if found.limits:
        limits = f" Limits: {'; '.join(b.text for b in found.limits)}."
    else:
        limits = ""
    # what was left out is said, since a limit chooses only among what was seen
    if found.left_out:
        rest = f" {found.left_out} variants of the front were not worked out."
    else:
        rest = ""
    if found.extra.figures:
        held = found.extra.figures[0].supports
    else:
        held = ""
    return f"{modes}; {held}.{limits} {NOTE}{rest}"


def modes_json(found: Frequencies) -> dict[str, Any]:
    """Stable keys: figures, reference, per variant its modes by key and whether it keeps the limits on modes."""
    keys = [f.key for f in found.extra.figures]
    figures = [
        {"key": f.key, "title": f.title, "unit": f.unit, "supports": f.supports}
        for f in found.extra.figures
    ]
    variants = [
        {"variant": number, "values": dict(zip(keys, row, strict=True)), "keeps_limits": kept}
        for number, row, kept in zip(found.numbers, found.values, found.kept, strict=True)
    ]
    return {
        "figures": figures,
        "reference": dict(zip(keys, found.reference, strict=True)),
        "limits": [bound.text for bound in found.limits],
        "variants": variants,
        "not_worked_out": found.left_out,
    }
