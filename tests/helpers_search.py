"""Small grids of tube options on the test tourer, and the slow way to every figure."""

from functools import partial

import numpy as np
from droptrail.model.cases.library import load_cases
from droptrail.model.choice.search import set_up
from droptrail.model.reanalysis.fast_base import build_base
from droptrail.model.reanalysis.fast_grid import FastGrid
from helpers_bicycle import tourer

THREE = partial(load_cases, names=("seated", "climb", "side_push"))


def options(names, diameters=(-2.0, 0.0, 3.0), walls=(0.0,), bicycle=None):
    """Tube -> options grown from the tourer's tube; the present tube is always among them."""
    bicycle = bicycle or tourer()
    return {
        name: [bicycle.tubes[name].scaled(d, w) for d in diameters for w in walls] for name in names
    }


def small_search(
    names=("top_tube", "down_tube", "seat_tube"),
    bounds=(),
    objectives=(),
    rules=None,
    bicycle=None,
    cases=THREE,
    **grid,
):
    bicycle = bicycle or tourer()
    return set_up(
        bicycle, options(names, bicycle=bicycle, **grid), cases, bounds, objectives, rules
    )


def brute_force(search):
    """(variants, figures) by the full solver, one after the other."""
    return np.array([search.in_full(number) for number in range(search.size)])


def chosen_in_full(options, choice, results_with):
    """Every figure of one choice by the full solver, turns in radians. results_with : tubes -> results by case."""
    chosen = {f.tube: f.options[k] for f, k in zip(options.families, choice, strict=True)}
    results = results_with(chosen)
    return [
        np.radians(value) if measure.unit == "deg" else value
        for case in options.cases
        for measure, value in zip(case.measures, results[case.name].measured.values(), strict=True)
    ]


def quick_and_full(options, results_with):
    """(figures by the fast path, the same by the full solver) of every choice of the options; results_with as above."""
    grid = FastGrid(build_base(options))
    quick = grid.measured(0, grid.size)
    picks = grid.choices(np.arange(grid.size))
    for number in range(grid.size):
        yield quick[:, number], chosen_in_full(options, picks[number], results_with)
