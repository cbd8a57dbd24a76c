"""A random bicycle out of a batch against OpenSees on its whole mesh: every figure within 1e-8."""

import random
from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from droptrail.model.cases.library import load_cases
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.reanalysis.batch import worked_out
from droptrail.validation.opensees import TOLERANCE, available, solve_opensees
from helpers_bicycle import tourer

pytestmark = pytest.mark.skipif(available() is not None, reason=str(available()))
CASES = partial(load_cases, names=("seated", "climb", "side_push"))


@pytest.mark.parametrize("joints", ["rigid", "bare"])
def test_opensees_has_the_figures_of_a_random_bicycle_of_the_batch(joints):
    rng = random.Random(17)
    made = []
    for _ in range(9):
        bicycle = tourer().joined(joints)
        d = bicycle.dimensions
        other = replace(
            d,
            head_angle=d.head_angle + rng.uniform(-1.5, 1.5),
            fork_offset=d.fork_offset + rng.uniform(-5, 5),
            chainstay=d.chainstay + rng.uniform(-8, 12),
            reach=d.reach + rng.uniform(-10, 10),
        )
        made.append(replace(bicycle, dimensions=other))
    picked = rng.randrange(9)
    worked = worked_out(made, CASES)[picked]
    assert worked is not None
    bicycle = made[picked]
    layout = lay_out(bicycle)
    model = mesh(bicycle, layout=layout)
    theirs = []
    for case in CASES(bicycle, layout):
        u = solve_opensees(model, case).u
        for measure in case.measures:
            value = sum(np.dot(w, u[model.node_index[node]]) for node, w in measure.weights)
            if measure.unit == "deg":
                value = np.degrees(value)
            if measure.reference is not None:
                value = measure.reference / value / (1000.0 if measure.unit == "deg" else 1.0)
            theirs.append(value)
    np.testing.assert_allclose(worked.values, theirs, rtol=TOLERANCE)
