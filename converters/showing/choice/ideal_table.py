"""The continuous optimum beside the real tubes nearest to it, for reading and as JSON."""

from dataclasses import dataclass
from typing import Any

from ....model.choice.optimum import Optimum, Range, nearest, optimum
from ....model.choice.search import Search, run, set_up
from ....model.choice.search_chunk import Summary
from ....model.choice.variants import described
from ....model.choice.workshop_rules import Rules
from ....model.tubes.materials import metal
from ....model.words import spoken


@dataclass(frozen=True)
class Ideal:
    """The optimum, and the search over the options nearest to it per tube."""

    best: Optimum
    near: Search
    summary: Summary


def ideal_of(search: Search, rules: Rules | None) -> Ideal:
    """The ideal sizes within the span of a search's options, for its first objective and its bounds."""
    choices = dict(zip(search.tubes, search.options, strict=True))
    # only between the options that were given: a builder has no others
    ranges = {tube: Range.spanned(options) for tube, options in choices.items()}
    if rules is None:
        # without rules of the workshop the sizes are bound by the options alone
        slender = {}
        narrower = {}
    else:
        slender = {
            tube: rules.most_diameters[metal(search.bicycle.tubes[tube].material)]
            for tube in choices
        }
        narrower = {role.name: role.narrower_than for role in search.bicycle.roles}
    best = optimum(
        search.bicycle,
        ranges,
        search.cases_of,
        search.objectives[0],
        search.bounds,
        slender,
        narrower,
        search.mesh_options,
    )
    # tubes that can be bought, around the optimum: the point of it all
    near = set_up(
        search.bicycle,
        nearest(best, choices, ranges),
        search.cases_of,
        search.bounds,
        search.objectives,
        rules,
        search.mesh_options,
    )
    summary = near.kernel.nothing
    # few combinations, so the search of them runs here and now
    for result in run(near):
        summary = near.kernel.merged(summary, result.summary)
    return Ideal(best, near, summary)


def rows(ideal: Ideal, search: Search, found: Summary) -> tuple[list[str], list[list[object]]]:
    """(heads, rows): per tube the ideal sizes, the best near them, the best of the whole search."""
    # the options near it may all break a limit
    if len(ideal.summary.best):
        near = ideal.near.chosen(int(ideal.summary.best.numbers[0]))
    else:
        near = {}
    if len(found.best):
        whole = search.chosen(int(found.best.numbers[0]))
    else:
        whole = {}
    out: list[list[object]] = []
    for tube in search.tubes:
        held = ideal.best.bicycle.tubes[tube]
        out.append(
            [
                spoken(tube),
                f"{held.od_start:.1f}",
                # the thinnest: butts are as they are, and the belly is what was sought
                f"{min(held.walls):.2f}",
                *(described(picked[tube]) if picked else "-" for picked in (near, whole)),
            ]
        )
    number = search.kernel.goals[0].figure
    figure = search.figures[number]
    out.append(
        [
            f"{figure.key} [{figure.unit}]",
            f"{ideal.best.values[number]:.1f}",
            "",
            *(
                f"{float(s.best.figures[0, number]):.1f}" if len(s.best) else "-"
                for s in (ideal.summary, found)
            ),
        ]
    )
    return [
        "tube",
        "ideal diameter mm",
        "thinnest wall mm",
        "best of the options nearest to it",
        "best found",
    ], out


def words(ideal: Ideal) -> str:
    """What holds the optimum back, and whether it may be trusted."""
    best = ideal.best
    # an optimum that was not reached must not be read as one
    if best.converged:
        state = f"found in {best.steps} steps"
    else:
        state = f"NOT converged ({best.message})"
    if best.kept:
        kept = ""
    else:
        kept = "; no sizes in the range keep all limits, these come nearest"
    return (
        f"A guide, not a choice: sizes between the options, butts as they are; {state}{kept}. Held by: "
        f"{'; '.join(best.active) or 'nothing'}."
    )


def ideal_json(ideal: Ideal) -> dict[str, Any]:
    """Stable keys: sizes per tube, values, active limits, whether kept and converged, nearest combination."""
    best = ideal.best
    near = ideal.summary.best
    tubes = {}
    for name in best.tubes:
        tube = best.bicycle.tubes[name]
        tubes[name] = {"outside_diameter": tube.od_start, "thinnest_wall": min(tube.walls)}
    nearest = None
    if len(near):
        chosen = ideal.near.chosen(int(near.numbers[0]))
        nearest = {name: described(option) for name, option in chosen.items()}
    return {
        "tubes": tubes,
        "values": {f.key: v for f, v in zip(best.figures, best.values, strict=True)},
        "active": list(best.active),
        "limits_kept": best.kept,
        "converged": best.converged,
        "steps": best.steps,
        "nearest": nearest,
    }
