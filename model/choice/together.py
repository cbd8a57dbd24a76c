"""The figures of many bicycles: in batches where they are of one build, each by itself where not.

A batch checks residual and balance of every bicycle. On top of that the first of all is solved in full as a witness:
where the two ways differ by more than the search allows its fast path, nothing of the batch is used.
"""

from collections.abc import Sequence

import numpy as np

from ..errors import FrameError
from ..frame.bicycle import Bicycle
from ..frame.layout import lay_out
from ..frame.mesh import MeshOptions, mesh
from ..mechanics.result import Result
from ..mechanics.solve import solve
from ..reanalysis.batch import worked_out
from ..reanalysis.fast_options import CaseMaker
from .figures import summed_masses, tube_masses
from .figures import values as measured_values

AGREEMENT = 1e-9  # relative, batch against full solver


def solved(
    bicycle: Bicycle, cases_of: CaseMaker, options: MeshOptions | None = None
) -> tuple[tuple[float, float], dict[str, Result]]:
    """((mass, frame mass) in g, case name -> result) of one bicycle by the full solver."""
    layout = lay_out(bicycle)
    model = mesh(bicycle, options, layout)
    return tube_masses(model, layout), solve(model, cases_of(bicycle, layout))


def figures_of_one(
    bicycle: Bicycle, cases_of: CaseMaker, options: MeshOptions | None = None
) -> tuple[float, ...]:
    """Mass and frame mass in g, then every measured value, by the full solver."""
    masses, results = solved(bicycle, cases_of, options)
    return (*masses, *measured_values(results))


def figures_together(
    bicycles: Sequence[Bicycle], cases_of: CaseMaker, options: MeshOptions | None = None
) -> list[tuple[float, ...] | FrameError]:
    """`figures_of_one` of each, or the error that stands in its way."""
    found: list[tuple[float, ...] | None] = [
        None if one is None else (*summed_masses(one.masses, bicycle.plan), *one.values)
        for bicycle, one in zip(bicycles, worked_out(bicycles, cases_of, options), strict=True)
    ]
    first = next((k for k, figures in enumerate(found) if figures is not None), None)
    if first is not None:
        witness = figures_of_one(bicycles[first], cases_of, options)
        if not np.allclose(found[first] or (), witness, rtol=AGREEMENT, atol=0.0):
            found = [None] * len(bicycles)
        found[first] = witness
    return [
        _one_or_error(bicycle, cases_of, options) if figures is None else figures
        for bicycle, figures in zip(bicycles, found, strict=True)
    ]


def _one_or_error(
    bicycle: Bicycle, cases_of: CaseMaker, options: MeshOptions | None
) -> tuple[float, ...] | FrameError:
    try:
        return figures_of_one(bicycle, cases_of, options)
    except FrameError as error:
        return error
