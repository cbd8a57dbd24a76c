"""The continuous optimum: exact slopes, a known one-tube answer, and never worse than a fine grid."""

import numpy as np
import pytest
from droptrail.model.choice import optimum as optimum_module
from droptrail.model.choice.optimum import Range, nearest, optimum
from droptrail.model.choice.search import Bound, Objective, run, set_up
from droptrail.model.choice.together import solved
from droptrail.model.errors import ModelError
from droptrail.model.frame.mesh import MeshOptions
from helpers_bicycle import grown, tourer
from helpers_search import THREE

MASS = Objective("mass", greatest=False)
PUSH = Bound("side_push.head_sideways", True, 4.0, percent=True)
WIDE = Range((25.4, 34.9), (0.45, 0.8))


BOUNDS = (PUSH, Bound("climb.bb_sideways", False, 5.0, percent=True))


def problem():
    shape = optimum_module._Shape({"top_tube": 70.0}, {"top_tube": ("seat_tube", "down_tube")})
    ranges = {tube: Range((24.0, 30.0), (0.45, 1.2)) for tube in ("top_tube", "fork_blade")}
    return optimum_module._Problem(tourer(), ranges, THREE, MASS, BOUNDS, shape, MeshOptions())


def test_slopes_equal_finite_differences():
    """Five-point differences: their own error is about step^4, the solver's rounding about 1e-11 / step."""
    held, x, step = problem(), np.array([0.4, 0.3, 0.6, 0.5]), 1e-2
    for value, slope in (
        (lambda z: np.array([held.cost(z)]), held.cost_slope(x)[None]),
        (held.room, held.room_slope(x)),
    ):
        for k in range(len(x)):
            move = step * np.eye(len(x))[k]
            near, far = (value(x + n * move) - value(x - n * move) for n in (1, 2))
            assert np.allclose(slope[:, k], (8 * near - far) / (12 * step), rtol=1e-6, atol=1e-7)


def test_one_tube_s_diameter_against_bisection():
    """With the wall fixed the lightest top tube is the one that just keeps the push limit: found by bisection."""

    def gain(growth):
        return solved(grown(tourer(), "top_tube", growth), THREE)[1]["side_push"].stiffness[
            "head_sideways"
        ]

    low, high, goal = 0.0, 6.0, 1.04 * gain(0.0)
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if gain(middle) < goal else (low, middle)
    found = optimum(tourer(), {"top_tube": Range((25.0, 38.0), (0.5, 0.5))}, THREE, MASS, (PUSH,))
    assert found.converged
    assert found.kept
    assert found.bicycle.tubes["top_tube"].od_start == pytest.approx(28.6 + low, abs=1e-4)
    assert found.active == (PUSH.text,)


def test_no_worse_than_a_fine_grid_and_near_its_best():
    bicycle, tubes = tourer(), ("top_tube", "down_tube")
    ranges, bounds = (
        dict.fromkeys(tubes, WIDE),
        (PUSH, Bound("climb.bb_twist", False, 0.0, percent=True)),
    )
    found = optimum(bicycle, ranges, THREE, MASS, bounds, dict.fromkeys(tubes, 70.0))
    assert found.kept
    choices = {
        t: [
            bicycle.tubes[t].scaled(d - bicycle.tubes[t].od_start, w - min(bicycle.tubes[t].walls))
            for d in np.linspace(*WIDE.diameter, 20)
            for w in np.linspace(*WIDE.wall, 8)
            if d / w <= 70
        ]
        for t in tubes
    }
    search = set_up(bicycle, choices, THREE, bounds, (MASS,))
    best = search.kernel.nothing
    for result in run(search):
        best = search.kernel.merged(best, result.summary)
    assert found.values[0] <= best.best.figures[0, 0]
    assert found.values[0] == pytest.approx(best.best.figures[0, 0], rel=1e-2)
    near = nearest(found, choices, ranges, 2)["top_tube"]
    assert abs(near[0].od_start - found.bicycle.tubes["top_tube"].od_start) < 0.6
    assert len(near) == 2


def test_greatest_stiffness_for_a_given_mass():
    start = solved(tourer(), THREE)[0][0]
    found = optimum(
        tourer(),
        {"top_tube": WIDE},
        THREE,
        Objective("side_push.head_sideways", True),
        (Bound("mass", False, start),),
    )
    number = [f.key for f in found.figures].index("side_push.head_sideways")
    assert (
        found.values[number]
        > 1.03 * solved(tourer(), THREE)[1]["side_push"].stiffness["head_sideways"]
    )
    assert found.values[0] <= start * 1.001


def test_limits_out_of_reach_are_said():
    found = optimum(
        tourer(),
        {"top_tube": WIDE},
        THREE,
        MASS,
        (Bound("side_push.head_sideways", True, 80.0, True),),
    )
    assert not found.kept


def test_nothing_free_is_refused():
    with pytest.raises(ModelError, match="leave nothing free"):
        optimum(tourer(), {"top_tube": Range((28.6, 28.6), (0.5, 0.5))}, THREE, MASS)
