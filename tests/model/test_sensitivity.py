"""Exact derivatives against central differences of full solutions, a closed form, and the ranking."""

import itertools
from dataclasses import replace

import pytest
from droptrail.model.cases.library import load_cases
from droptrail.model.errors import ModelError
from droptrail.model.frame.bicycle import Fittings
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import MeshOptions, mesh
from droptrail.model.frame.tube_mass import mass_table
from droptrail.model.mechanics.frame_model import MemberLoad
from droptrail.model.mechanics.solve import solve
from droptrail.model.postprocess.sensitivity import PARAMETERS, gradients, ranking, sensitivities
from droptrail.model.tubes.tube import Tube
from helpers_bicycle import STEEL, grown, tourer

BIKE = tourer(
    fittings=Fittings(blade_straight=200.0, stay_curve=8.0),
    top_tube=Tube(STEEL, 32.0, 28.0, (0.8, 0.5, 0.8), (75.0, 75.0), (30.0, 30.0), oval_width=26.0),
    chainstay=Tube(STEEL, 24.0, 14.0, (0.9,), oval_width=18.0),
)
ROUNDING = (
    4e-9  # of a full solution: condition number 3e7 x 1e-16; a difference divides it by the step
)
CASES = ("seated", "climb", "side_push", "iso_pedalling_left")


def figures(bike, options, cases):
    """(case, measure) -> value by a full solution."""
    results = solve(mesh(bike, options), cases)
    return {
        (name, measure): value
        for name, r in results.items()
        for measure, value in r.measured.items()
    }


def difference(function, step=0.02):
    """Central difference of sixth order of a function that returns a dict."""
    at = {k: function(k * step) for k in (-3, -2, -1, 1, 2, 3)}
    weights = {1: 45, 2: -9, 3: 1}
    return {
        key: sum(w * (at[k][key] - at[-k][key]) for k, w in weights.items()) / (60 * step)
        for key in at[1]
    }


@pytest.mark.parametrize(
    ("options", "tubes"),
    [
        (MeshOptions(), ("top_tube", "down_tube", "chainstay", "fork_blade")),
        (MeshOptions(element_length=200.0, shear=False), ("seatstay", "chainstay")),
    ],
)
def test_derivatives_agree_with_central_differences(options, tubes):
    layout = lay_out(BIKE)
    cases = list(load_cases(BIKE, layout, CASES))
    model = mesh(BIKE, options, layout)
    loaded = next(e.id for e in model.elements if e.member == "down_tube")
    cases[0] = replace(cases[0], member_loads=(MemberLoad(loaded, (0.4, -0.8, 0.3)),))
    rows = sensitivities(BIKE, cases, options)
    now = figures(BIKE, options, cases)
    for tube in tubes:
        for parameter in PARAMETERS:
            step = 0.25 if parameter == "diameter" else 0.015
            slopes = difference(
                lambda d, t=tube, p=parameter: figures(grown(BIKE, t, **{p: d}), options, cases),
                step,
            )
            for r in (r for r in rows if (r.tube, r.parameter) == (tube, parameter)):
                key = r.case, r.measure
                noise = ROUNDING * abs(r.value) / step
                assert r.per_mm == pytest.approx(slopes[key], rel=1e-6, abs=noise), (
                    r.tube,
                    r.measure,
                )
                assert r.value == pytest.approx(now[key], rel=1e-12)


def test_mass_derivatives_agree_with_central_differences():
    rows, layout = gradients(BIKE).mass, lay_out(BIKE)
    assert len(rows) == 16
    for tube, parameter in itertools.product(("top_tube", "chainstay", "steerer"), PARAMETERS):

        def mass(d, t=tube, p=parameter):
            return {
                "kg": mass_table(mesh(grown(BIKE, t, **{p: d}), layout=layout), layout)
                .by_tube[t]
                .kg
            }

        assert rows[tube, parameter] == pytest.approx(difference(mass)["kg"], rel=1e-9)


def test_the_comparison_can_fail():
    """The same derivative with the tube's own wall 1 % off is noticed at 1e-6."""
    options, cases = MeshOptions(), load_cases(BIKE, lay_out(BIKE), ("side_push",))
    other = grown(BIKE, "top_tube", wall=0.008)
    a, b = (
        next(
            r
            for r in sensitivities(bike, cases, options)
            if (r.tube, r.parameter) == ("top_tube", "diameter")
        )
        for bike in (BIKE, other)
    )
    assert abs(a.per_mm / b.per_mm - 1) > 1e-4


def test_ranking_puts_the_best_use_of_weight_first():
    """Common practice, no source: against a sideways push the top tube's diameter is worth more than its wall and more
    than the down tube; for the bottom bracket against the head it is the down tube."""
    rows = sensitivities(tourer())
    side = [(r.tube, r.parameter) for r in ranking(rows, "side_push", "head_sideways")]
    climb = [(r.tube, r.parameter) for r in ranking(rows, "climb", "bb_against_head")]
    assert len(side) == 16
    assert side.index(("top_tube", "diameter")) < side.index(("down_tube", "diameter"))
    assert side.index(("top_tube", "diameter")) < side.index(("top_tube", "wall"))
    assert climb[0] == ("down_tube", "diameter")


def test_percent_per_ten_grams_is_what_ten_grams_do():
    bike = tourer()
    row = next(
        r
        for r in sensitivities(bike, ("side_push",))
        if (r.tube, r.parameter) == ("top_tube", "diameter")
    )
    grow = 0.01 / row.mass_per_mm / 100  # a tenth of a gram's worth of diameter
    before, after = (
        solve(mesh(b), load_cases(b, lay_out(b), ("side_push",)))["side_push"].stiffness[
            "head_sideways"
        ]
        for b in (bike, grown(bike, "top_tube", diameter=grow))
    )
    assert 100 * 100 * (after / before - 1) == pytest.approx(row.percent_per_10g, rel=1e-2)


def test_rigid_zones_are_refused():
    with pytest.raises(ModelError, match="rigid zones change with the diameters"):
        sensitivities(BIKE, (), MeshOptions(rigid_zones=True))


def test_a_case_that_measures_nothing_is_solved_all_the_same():
    case = replace(load_cases(BIKE, lay_out(BIKE), ("side_push",))[0], measures=())
    found = gradients(BIKE, (case,))
    assert found.rows == ()
    assert found.results["side_push"].residual < 1e-9
    assert set(found.mass) == {(tube, parameter) for tube in BIKE.tubes for parameter in PARAMETERS}
