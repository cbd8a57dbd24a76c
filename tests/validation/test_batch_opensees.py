"""A random bicycle out of a batch, of every sample and plan, against OpenSees on its whole mesh: 1e-8."""

import random
import zlib
from functools import partial

import numpy as np
import pytest
from droptrail.model.cases.library import MAIN_CASES, load_cases
from droptrail.model.frame.bicycle import Fittings
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.reanalysis.batch import worked_out
from droptrail.validation.opensees import TOLERANCE, available, solve_opensees
from helpers_bicycle import tourer
from helpers_plans import otherwise, samples_and_plans

pytestmark = pytest.mark.skipif(available() is not None, reason=str(available()))
CASES = partial(load_cases, names=MAIN_CASES)


ALL = {
    **samples_and_plans(),
    "bare welds": tourer().joined("bare"),
    "curved": tourer(fittings=Fittings(stay_curve=12.0, blade_straight=150.0)),
}


@pytest.mark.parametrize("name", ALL)
def test_opensees_has_the_figures_of_a_random_bicycle_of_the_batch(name):
    seed = zlib.crc32(name.encode())
    made = otherwise(ALL[name], seed, 9)
    done = worked_out(made, CASES)
    picked = random.Random(seed).choice([k for k, one in enumerate(done) if one is not None])
    worked = done[picked]
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
