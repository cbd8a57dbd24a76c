"""Springs in series: tyres, wheels, fork, frame and parts, and the share of each."""

from dataclasses import replace

import pytest
from droptrail.model.cases.library import load_cases
from droptrail.model.errors import ModelError
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.mechanics.solve import solve
from droptrail.model.postprocess.ride_feel import ride_feel
from helpers_bicycle import grown, tourer

BIKE = tourer()
LAYOUT = lay_out(BIKE)
MODEL = mesh(BIKE, layout=LAYOUT)
SEATED = solve(MODEL, load_cases(BIKE, LAYOUT, ("seated",)))["seated"]
FEEL = ride_feel(SEATED, LAYOUT)


def give(feel, component):
    return next(g for g in feel.gives if g.component == component)


def test_shares_add_up_and_tyres_lead():
    """Common practice, no source: the tyres give several times more than frame and fork together."""
    assert sum(g.share for g in FEEL.gives) == pytest.approx(1.0)
    assert sum(g.sink for g in FEEL.gives) == pytest.approx(FEEL.total)
    assert give(FEEL, "tyres").share > 0.6
    assert give(FEEL, "frame").share < 0.1


def test_the_structures_part_is_the_load_weighted_sink_of_its_loads():
    """sum(F u) / W over the loads of the solved case, which holds fork, frame and parts only."""
    work = sum(f[1] * SEATED.displacement(node)[1] for node, f in SEATED.case.nodal.items())
    structure = sum(g.sink for g in FEEL.gives if g.component not in ("tyres", "wheels"))
    assert structure == pytest.approx(
        work / FEEL.weight, rel=1e-5
    )  # the steering lock holds the rest


def test_equal_tyre_sag_at_both_ends_is_the_riders_sink_on_tyres():
    assert give(FEEL, "tyres").sink == pytest.approx(4.5)
    assert give(ride_feel(SEATED, LAYOUT, tyre_sag=4.0), "tyres").sink == pytest.approx(4.0)


def test_the_tyres_sag_implies_springs_as_they_are_known():
    """100-200 N/mm for a road tyre (from memory, medium confidence) at higher load; touring tyres are softer."""
    front, rear = (
        SEATED.reactions[axle][1] / FEEL.tyre_sag for axle in ("front_axle", "rear_axle")
    )
    assert 40 < front < rear < 200


def test_the_front_end_sinks_less_than_its_tyre():
    assert FEEL.front_end == pytest.approx(SEATED.measured["head_vertical"], rel=1e-9)
    assert FEEL.front_end < FEEL.tyre_sag


def test_a_tyre_spring_and_a_wheel_in_a_row_are_springs_in_series():
    """With all the load on one axle the mean sink is P/k1 + P/k2 + the structure's own."""
    case = replace(SEATED.case, nodal={"rear_axle": (0.0, -500.0, 0, 0, 0, 0)})
    feel = ride_feel(solve(MODEL, [case])["seated"], LAYOUT, tyre_sag=5.0, wheel_stiffness=2000.0)
    assert feel.total == pytest.approx(5.0 + 500 / 2000, abs=1e-6)


def test_a_stiffer_fork_takes_from_the_forks_share_only():
    stiff = grown(BIKE, "fork_blade", wall=1.0)
    feel = ride_feel(solve(mesh(stiff, layout=LAYOUT), [SEATED.case])["seated"], LAYOUT)
    assert give(feel, "fork").sink < 0.9 * give(FEEL, "fork").sink
    assert give(feel, "frame").sink == pytest.approx(give(FEEL, "frame").sink, rel=0.02)
    assert give(feel, "tyres").sink == pytest.approx(give(FEEL, "tyres").sink, rel=1e-9)


def test_wrong_case_and_values_are_refused():
    bench = solve(MODEL, load_cases(BIKE, LAYOUT, ("bench_head",)))["bench_head"]
    with pytest.raises(ModelError, match="does not stand on both axles"):
        ride_feel(bench, LAYOUT)
    with pytest.raises(ModelError, match="tyre sag 0: it must be positive"):
        ride_feel(SEATED, LAYOUT, tyre_sag=0.0)
