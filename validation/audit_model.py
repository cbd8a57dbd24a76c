"""The audit of a frame that is a model by itself: pieces halved, theory swapped, second solver, closed forms.

What a bicycle's audit asks beyond that needs its drawing, its tubes or its joints, and is left open here.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from math import inf

import numpy as np

from ..model.mechanics.frame_model import Element, FrameModel, LoadCase, MemberLoad
from ..model.mechanics.solve import solve
from .audit import Audit, FigureAudit, evidence_of, figures_of
from .ladder import ladder


def audit_model(model: FrameModel, cases: Sequence[LoadCase]) -> Audit:
    """Audit every measured figure of these load cases. Raises as solving does."""
    results = solve(model, cases)
    base = figures_of(results)
    # two refinements, because one difference alone does not tell the order
    halves = [figures_of(solve(*divided(model, cases, pieces))) for pieces in (2, 4)]
    without = figures_of(solve(without_shear(model), cases))
    rows = [
        FigureAudit.of_mesh(case, measure, base, halves, without)
        for case in cases
        for measure in case.measures
    ]
    return Audit(tuple(rows), evidence_of(model, results), ladder(), len(model.elements), 0, ())


def without_shear(model: FrameModel) -> FrameModel:
    """The same model by the beam theory that knows no shear."""
    stiff = [replace(e, section=replace(e.section, Asy=inf, Asz=inf)) for e in model.elements]
    return replace(model, elements=tuple(stiff))


def divided(
    model: FrameModel, cases: Sequence[LoadCase], pieces: int
) -> tuple[FrameModel, tuple[LoadCase, ...]]:
    """Every element cut into equal pieces; uniform loads go with them, end releases stay at the ends."""
    nodes = dict(model.nodes)
    elements: list[Element] = []
    cut: dict[str, tuple[str, ...]] = {}
    for element in model.elements:
        ends = np.array([model.nodes[element.i], model.nodes[element.j]])
        inside = [f"{element.id}|{k}" for k in range(1, pieces)]
        for k, name in enumerate(inside, 1):
            x, y, z = (ends[0] + (ends[1] - ends[0]) * k / pieces).tolist()
            nodes[name] = (x, y, z)
        chain = list(pairwise([element.i, *inside, element.j]))
        made = []
        for k, (i, j) in enumerate(chain):
            kept = [r for r in element.releases if r < 6 and k == 0]
            kept += [r for r in element.releases if r >= 6 and k == len(chain) - 1]
            made.append(
                replace(element, id=f"{element.id}|{k + 1}", i=i, j=j, releases=tuple(kept))
            )
        elements += made
        cut[element.id] = tuple(piece.id for piece in made)
    finer = replace(model, nodes=nodes, elements=tuple(elements))
    return finer, tuple(_loads_on(case, cut) for case in cases)


def _loads_on(case: LoadCase, cut: dict[str, tuple[str, ...]]) -> LoadCase:
    loads = [
        MemberLoad(piece, load.w, load.frame)
        for load in case.member_loads
        for piece in cut[load.element]
    ]
    return replace(case, member_loads=tuple(loads))
