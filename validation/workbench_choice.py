"""Several bicycles tried at once on the served page: a comparison of what was typed, or the front of a search.

Both come as one table of the same columns, each variant solved in full, with what has to be put into the page's cells
to make it the bicycle on the bench.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ..converters.analysis import case_maker
from ..converters.files.choice.item_options import Stays, is_item_option
from ..converters.files.choice.variants_table import choices, wanted_variants
from ..converters.files.fitsheet.knobs import plain_values
from ..converters.showing.choice.compare_table import sight_digits
from ..converters.showing.choice.held_table import held_table
from ..converters.showing.choice.search_table import changed_tubes
from ..converters.showing.report.page import render_part
from ..converters.showing.table import Column, Kind
from ..model.choice.compare import Comparison, compare
from ..model.choice.figures import MASSES, figures
from ..model.choice.search import Bound, Objective, Search, run, set_up
from ..model.choice.sights import sighted
from ..model.choice.variants import Reshaped, Variant
from ..model.choice.workshop_rules import Rules
from ..model.errors import InputError
from ..model.findings import Finding
from ..model.frame.bicycle import Bicycle
from ..model.frame.layout import lay_out
from ..model.geometry.statements import FIELDS as FRAME_FIELDS
from ..model.words import tenths
from .report.choices import rule_faults
from .report.facts import gravity
from .workbench import Bench, tube_texts

MOST = 40  # variants that are solved in full while somebody waits
LARGEST = 300_000  # combinations a page searches; more is for the command line
FRONT = 24  # of a front are shown, evenly spread
LINES = 20
HEADLINE = (
    "side_push",
    "frame_torsion",
)  # cases whose stiffness a search from the page weighs against mass
SEEN = ("trail", "wheelbase", "front_weight", "toe_gap")


@dataclass(frozen=True)
class Tried:
    """What was tried. search : the search whose front it is, None for a comparison. within : variants in its limits."""

    comparison: Comparison
    findings: tuple[Finding, ...] = ()
    search: Search | None = None
    within: int = 0


def compared(bench: Bench, lines: Sequence[str], keep: Sequence[str] = ()) -> Tried:
    """Every combination of the options, one line each as on the command line, solved in full.

    Raises InputError for a line that cannot be understood, or more than `MOST` variants.
    """
    bicycle = bench.reading.need_bicycle()
    found: list[Finding] = []
    variants = wanted_variants(None, _options(lines), bicycle, None, found, Stays(tuple(keep)))
    if len(variants) > MOST:
        raise InputError(
            f"{len(variants)} combinations; the page compares up to {MOST}: search them instead, or name fewer"
        )
    return _tried(bench, variants, found)


def searched(bench: Bench, lines: Sequence[str], firm: bool) -> Tried:
    """The front of all combinations of tubes: lightest against stiffest sideways and in torsion.

    firm : nothing of what is stiff may become softer than it is now.

    Raises InputError for a line that is no tube, or too many combinations.
    """
    options = _options(lines)
    items = [text for text in options if is_item_option(text)]
    if items:
        raise InputError(
            f"'{items[0]}': a search exchanges tubes; compare other items, they are solved one by one"
        )
    bicycle = bench.reading.need_bicycle()
    found: list[Finding] = []
    allowed = choices(options, bicycle, None, found)
    cases_of = case_maker(bench.reading, ())
    known = figures(cases_of(bicycle, lay_out(bicycle)))
    stiff = [figure for figure in known if figure.reference is not None]
    # 0 percent: nothing below what the bicycle has now.
    bounds = [Bound(figure.key, True, 0.0, percent=True) for figure in stiff if firm]
    # Where neither of the two cases is solved, every stiffness is weighed.
    headline = [f for f in stiff if f.case in HEADLINE] or stiff
    goals = [
        Objective(MASSES[0].key, False),
        *(Objective(figure.key, True) for figure in headline),
    ]
    search = set_up(bicycle, allowed, cases_of, bounds, goals, Rules())
    # Told before the combinations are worked out.
    if search.size > LARGEST:
        raise InputError(
            f"{search.size} combinations; the page searches up to {LARGEST}: name fewer, or use droptrail search"
        )
    search.disagreement(search.samples())
    summary = search.kernel.nothing
    for result in run(search):
        summary = search.kernel.merged(summary, result.summary)
    if not len(summary.front):
        raise InputError(
            "no combination keeps all limits and the rules of the workshop; allow more sizes, or let some be softer"
        )
    order = search.kernel.first(summary.front, len(summary.front)).numbers
    # Rounding may pick a place of a short front twice.
    picks = np.unique(np.linspace(0, len(order) - 1, min(FRONT, len(order))).round().astype(int))
    variants = [_variant(search, int(order[k])) for k in picks]
    tried = _tried(bench, variants, [*found, *search.findings])
    return replace(tried, search=search, within=summary.within)


def _options(lines: Sequence[str]) -> list[str]:
    """``top tube: 25.4, 28.6`` as ``top_tube=25.4,28.6``; empty lines are none."""
    options = []
    for line in lines[:LINES]:
        text = " ".join(line.split())[:400]
        if not text:
            continue
        name, sign, values = text.partition("=" if "=" in text else ":")
        if not sign or not values.strip():
            raise InputError(
                f"'{text}': write what is to be tried and its values, such as top tube: 25.4, 28.6"
            )
        options.append(f"{name.strip().replace(' ', '_')}={values.strip()}")
    if not options:
        raise InputError("write one line for each thing to try, such as top tube: 25.4, 28.6, 31.8")
    return options


def _variant(search: Search, number: int) -> Variant:
    tubes = search.chosen(number)
    # Tubes left alone stay those of the bicycle, and out of the row's name.
    changed = {name: tube for name, tube in tubes.items() if tube != search.bicycle.tubes.get(name)}
    return Variant(changed_tubes(search, number), changed)


def _tried(bench: Bench, variants: Sequence[Variant | Reshaped], found: list[Finding]) -> Tried:
    bicycle = bench.reading.need_bicycle()
    extra = None
    if any(isinstance(variant, Reshaped) for variant in variants):
        extra = sighted(bicycle)
    comparison = compare(bicycle, variants, case_maker(bench.reading, ()), None, extra)
    return Tried(comparison, (*found, *comparison.findings, *rule_faults(comparison)))


# --- for the page -----------------------------------------------------------------------------------------------
def tried_page(tried: Tried, original: Bicycle) -> dict[str, Any]:
    """The table, the numbers behind it, and for each row the cells that make it: tubes, and items unlike `original`."""
    comparison = tried.comparison
    numbers = _shown(comparison)
    columns = [comparison.figures[n] for n in numbers]
    heads = [{"key": f.key, "words": f.words, "group": f.group, "unit": f.unit} for f in columns]
    rows = []
    for row in comparison.rows:
        cells = [_cell(comparison, row, n) for n in numbers]
        values = [row.values[n] for n in numbers]
        rows.append(
            {
                "name": row.name,
                "changes": row.changes,
                "cells": cells,
                # JSON knows no NaN.
                "values": [v if v == v else None for v in values],  # noqa: PLR0124 - not a number
                "use": {
                    "tubes": tube_texts(row.bicycle),
                    "items": _unlike(row.bicycle, original),
                },
            }
        )
    found = [finding.as_dict() for finding in sorted(tried.findings, key=gravity)]
    # Whether the ranking survives where the bicycle is held otherwise: the findings say it, the figures stand behind.
    held = [render_part("closed", held_table(one)) for one in comparison.held]
    return {
        "columns": heads,
        "rows": rows,
        "words": _words(tried),
        "findings": render_part("findings", found) + "".join(held),
    }


def _shown(comparison: Comparison) -> list[int]:
    """Mass, every stiffness, and of what is seen without solving the few that a builder asks first."""
    return [
        n
        for n, figure in enumerate(comparison.figures)
        if figure.key == MASSES[0].key
        or figure.reference is not None
        or (figure.is_sight and figure.name in SEEN)
    ]


def _cell(comparison: Comparison, row: Any, number: int) -> str:
    """``21.2 (+8.2 %)``; a trail or a weight without percent."""
    figure = comparison.figures[number]
    digits = sight_digits(figure) if figure.is_sight else None
    said = Column(figure.key, "", Kind.NUMBER, digits=digits).text(row.values[number])
    if row is comparison.reference or figure.is_sight:
        return said
    change = comparison.change(row, number)
    if change != change:  # noqa: PLR0124 - not a number: nothing to take percents of
        return said
    # the percents may stand on a line of their own, but are never torn apart
    return f"{said} ({tenths(change)}\u00a0%)"


def _unlike(bicycle: Bicycle, original: Bicycle) -> dict[str, str]:
    """Items as `Knobs` take them that make this bicycle of the one that was read."""
    items: dict[str, float] = {}
    for name in FRAME_FIELDS:
        items |= _other(name, getattr(bicycle.dimensions, name), getattr(original.dimensions, name))
    for k, side in enumerate(("front", "rear")):
        width = _other(f"tyre_width_{side}", bicycle.tyre_widths[k], original.tyre_widths[k])
        if width:  # the radius follows the tyre
            items.pop(f"wheel_radius_{side}", None)
            items |= width
    was = plain_values(original)
    for name, value in plain_values(bicycle).items():
        items |= _other(name, value, was[name])
    # As many digits as bring the row's own bicycle back.
    return {name: f"{value:.9g}" for name, value in items.items()}


def _other(name: str, now: float | None, was: float | None) -> dict[str, float]:
    if now is None or now == was:
        return {}
    return {name: now}


def _words(tried: Tried) -> str:
    count = len(tried.comparison.rows) - 1
    if tried.search is None:
        return f"{count} variants, each solved in full."
    return (
        f"{tried.search.size} combinations, {tried.within} within the limits and the rules of the workshop; "
        f"{count} of the front, each solved in full."
    )
