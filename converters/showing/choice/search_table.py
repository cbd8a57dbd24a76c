"""What a search found, for reading: the best, the front, what binds; and the same as JSON."""

from collections.abc import Sequence
from math import isfinite
from typing import Any

import numpy as np

from ....model.choice.compare import ComparedRow, Comparison
from ....model.choice.figures import find_figure
from ....model.choice.held import Contender, Held, study
from ....model.choice.search import Search
from ....model.choice.search_chunk import Summary, Variants
from ....model.choice.variants import described, short_names
from ....model.frame.bicycle import Bicycle
from ....model.frame.layout import FrameLayout
from ....model.mechanics.frame_model import LoadCase
from ....model.tubes.tube import Tube
from ....model.words import signed, spoken
from ..picture.compare import LATERAL, VERTICAL, ComparePlot, PlotPoint
from ..words import number as number_text
from .compare_table import cell, short

CLOUD = 1500  # random variants drawn grey behind the front
HELD = 4  # variants of the best and of the front that are solved under every way to hold them
SHOWN = 15  # rows of the front on the screen; files hold all


def comparison_of(search: Search, variants: Variants) -> Comparison:
    """Found variants beside the reference, as a comparison. Figures are the search's own."""
    reference = ComparedRow(
        "reference", "", tuple(float(v) for v in search.reference), search.bicycle
    )
    names = _option_names(search)
    rows = [
        _row(search, int(number), figures.tolist(), names)
        for number, figures in zip(variants.numbers, variants.figures, strict=True)
    ]
    return Comparison(search.figures, (reference, *rows))


def _option_names(search: Search) -> dict[str, dict[Tube, str]]:
    return {
        tube: dict(zip(options, short_names(options), strict=True))
        for tube, options in zip(search.tubes, search.options, strict=True)
    }


def _row(
    search: Search, number: int, figures: Sequence[float], names: dict[str, dict[Tube, str]]
) -> ComparedRow:
    chosen = search.chosen(number)
    name = ", ".join(f"{spoken(tube)} {names[tube][option]}" for tube, option in chosen.items())
    # an option that is the present tube is no change
    changed = {t: o for t, o in chosen.items() if o != search.bicycle.tubes.get(t)}
    changes = ", ".join(f"{spoken(tube)} {described(option)}" for tube, option in changed.items())
    return ComparedRow(
        name, changes or "the bicycle as it stands", tuple(figures), search.variant(number)
    )


def held_best(search: Search, summary: Summary) -> tuple[Held, ...]:
    """The first of the best and of the front under every way to hold the cases that goals and limits speak of."""
    names = _option_names(search)
    spoken_of = {search.figures[n].case for n in _spoken_of(search)}
    numbers = [*summary.best.numbers[:HELD], *search.kernel.first(summary.front, HELD).numbers]
    contenders = [Contender("as it stands", search.bicycle, float(search.reference[0]), 0)]
    # the best is often on the front as well, and is solved once
    for number in dict.fromkeys(int(n) for n in numbers):
        # the fast path knows the mass of a variant without building it
        grams = float(search.kernel.figures_of_list(np.array([number])).T[0][0])
        name = _changed(search, number, names).replace("; ", " + ")
        contenders.append(Contender(name, search.variant(number), grams, 1))

    def cases_of(bicycle: Bicycle, layout: FrameLayout) -> tuple[LoadCase, ...]:
        every = search.cases_of(bicycle, layout)
        # no goal speaks of a case: then all of them are meant
        return tuple(case for case in every if case.name in spoken_of) or every

    return study(contenders, cases_of, search.mesh_options)


def changed_tubes(search: Search, number: int) -> str:
    """What a variant has unlike the bicycle as it stands, in words; ``none`` where it is that bicycle."""
    return _changed(search, number, _option_names(search))


def _changed(search: Search, number: int, names: dict[str, dict[Tube, str]]) -> str:
    """The tubes of a variant that differ from the bicycle as it stands."""
    changed = [
        f"{spoken(tube)} {names[tube][option].replace(' x ', 'x')}"
        for tube, option in search.chosen(number).items()
        if option != search.bicycle.tubes.get(tube)
    ]
    return "; ".join(changed) or "none"


def listing(search: Search, variants: Variants, count: int) -> tuple[list[str], list[list[object]]]:
    """(heads, rows): number, the tubes that change, then mass and every figure with an objective or a limit."""
    comparison = comparison_of(search, variants)
    names = _option_names(search)
    picked = _spoken_of(search)
    heads = ["no.", "tubes that change", *(_head(search, n) for n in picked)]
    rows: list[list[object]] = [["-", "as it stands", *_cells(comparison, 0, picked)]]
    for k, number in enumerate(variants.numbers[:count], start=1):
        changed = _changed(search, int(number), names)
        rows.append([str(k), changed, *_cells(comparison, k, picked)])
    return heads, rows


def _spoken_of(search: Search) -> list[int]:
    """Mass, and every figure that an objective or a limit speaks of."""
    wanted = [goal.figure for goal in search.kernel.goals]
    wanted += [limit.figure for limit in search.kernel.limits]
    # 0 is the mass, which is always asked for
    return list(dict.fromkeys([0, *wanted]))


def _head(search: Search, number: int) -> str:
    figure = search.figures[number]
    if figure.case:
        return f"{spoken(figure.case)}: {short(figure)} [{figure.unit}] (%)"
    return f"{short(figure)} [{figure.unit}] (%)"


def _cells(comparison: Comparison, row: int, picked: Sequence[int]) -> list[object]:
    one = comparison.rows[row]
    return [
        f"{number_text(cell(comparison, one, (n, 'value')))}"
        # the reference is not compared with itself
        + ("" if row == 0 else f" ({signed(comparison.change(one, n), 1)})")
        for n in picked
    ]


def binding(search: Search, summary: Summary) -> tuple[list[str], list[list[object]]]:
    """(heads, rows) of the limits: how many variants break each, how many only that one, and what it costs."""
    goal = search.kernel.goals[0]
    figure = search.figures[goal.figure]
    if len(summary.best):
        best = float(summary.best.figures[0, goal.figure])
    else:
        # no variant keeps all limits: whatever turns up without one of them is better
        best = None
    rows: list[list[object]] = []
    for text, broken, alone, without in zip(
        search.limit_texts, summary.broken, summary.alone, summary.without, strict=True
    ):
        if len(without):
            relaxed = float(without.figures[0, goal.figure])
        else:
            relaxed = None
        # only a limit whose going would bring something better binds
        better = relaxed is not None and (best is None or goal.sign * relaxed < goal.sign * best)
        rows.append(
            [text, int(broken), int(alone), "binds" if better else "-", relaxed if better else None]
        )
    return [
        "limit",
        "breaks it",
        "breaks only it",
        "",
        f"best {short(figure)} without it [{figure.unit}]",
    ], rows


def front_plot(search: Search, summary: Summary, across: str | None, up: str | None) -> ComparePlot:
    """The front in two figures with the mass as colour, the best numbered, the reference marked, other variants grey.

    Unless named, the figures are those that objectives and limits speak of, other than mass, then sideways and
    vertical stiffness where measured.
    """
    figures = search.figures
    measured = [figure.key for figure in figures[2:]]
    wanted = [figures[n].key for n in _spoken_of(search)]
    wanted += [LATERAL, VERTICAL, *measured]
    known = {figure.key for figure in figures} - {"mass"}
    keys = [key for key in dict.fromkeys(wanted) if key in known]
    # with one figure it stands on both axes; nothing else can be shown
    x, y = (find_figure(figures, key) for key in (across or keys[1 % len(keys)], up or keys[0]))
    if len(summary.front):
        ordered = search.kernel.first(summary.front, len(summary.front))
    else:
        ordered = summary.front
    points = [
        PlotPoint(
            row.values[x],
            row.values[y],
            row.values[0],
            "as it stands" if k == 0 else _rank(k),
            k == 0,
        )
        for k, row in enumerate(comparison_of(search, ordered).rows)
        if isfinite(row.values[x]) and isfinite(row.values[y])
    ]
    # seeded: the same search gives the same picture
    grey = search.kernel.figures_of_list(np.random.default_rng(0).integers(search.size, size=CLOUD))
    note = (
        f"{len(summary.front)} variants of {search.size} that no other beats in every objective "
        f"({'; '.join(o.text for o in search.objectives)}) within {len(search.limit_texts)} limits, "
        f"numbered by {search.objectives[0].text}; grey: a random {CLOUD} of all; dotted: limits"
    )
    return ComparePlot(
        search.bicycle.name or "Search",
        figures[x].heading,
        figures[y].heading,
        points,
        note,
        tuple(
            PlotPoint(float(a), float(b), float(m))
            for a, b, m in zip(grey[x], grey[y], grey[0], strict=True)
        ),
        _edges(search, x),
        _edges(search, y),
    )


def _edges(search: Search, figure: int) -> tuple[float, ...]:
    """The finite limits of one figure."""
    return tuple(
        edge
        for limit in search.kernel.limits
        if limit.figure == figure
        # a limit may be open on one side
        for edge in (limit.low, limit.high)
        if isfinite(edge)
    )


def _rank(k: int) -> str:
    if k <= SHOWN:
        # more numbers would cover the points
        return str(k)
    return ""


def search_json(
    search: Search, summary: Summary, disagreement: float, finished: bool
) -> dict[str, Any]:
    """Stable keys: variants, seen, within, limits, best, front, dropped options, check against the full solver."""

    def listed(variants: Variants) -> list[dict[str, Any]]:
        keys = [figure.key for figure in search.figures]
        rows = []
        for number, figures in zip(variants.numbers, variants.figures, strict=True):
            chosen = search.chosen(int(number))
            tubes = {tube: described(option) for tube, option in chosen.items()}
            values = dict(zip(keys, map(float, figures), strict=True))
            rows.append({"variant": int(number), "tubes": tubes, "values": values})
        return rows

    reference = {
        figure.key: float(value)
        for figure, value in zip(search.figures, search.reference, strict=True)
    }
    limits = [
        {"limit": text, "broken": int(broken), "only": int(alone), "without_it": listed(without)}
        for text, broken, alone, without in zip(
            search.limit_texts, summary.broken, summary.alone, summary.without, strict=True
        )
    ]
    dropped = [finding.as_dict() for finding in search.dropped]
    return {
        "variants": search.size,
        "seen": summary.seen,
        "within": summary.within,
        "finished": finished,
        "largest_difference_to_full_solver": disagreement,
        "reference": reference,
        "figures": [figure.as_dict() for figure in search.figures],
        "objectives": list(search.objective_texts),
        "limits": limits,
        "dropped": dropped,
        "best": listed(summary.best),
        "front": listed(summary.front),
    }
