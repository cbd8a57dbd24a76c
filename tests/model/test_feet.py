"""Room for heels and chain: tubes that run level and parallel, where a gap is a sum by hand."""

from dataclasses import replace
from math import cos, hypot, radians, sin

import numpy as np
import pytest
from droptrail.model.frame.bicycle import Bicycle
from droptrail.model.frame.clearance import clearance_findings, clearances
from droptrail.model.tubes.known_plans import PLANS
from droptrail.model.tubes.places import read_place
from droptrail.model.tubes.plan import TubeRole
from droptrail.model.tubes.tube import Tube
from helpers_bicycle import STEEL, tourer
from helpers_plans import BICYCLES

ROD = 12.0  # mm across
FIT = replace(tourer().fittings, chainring_radius=60.0, sprocket_radius=60.0)


def with_rods(start: str, end: str) -> Bicycle:
    """The tourer with a pair of rods between two places, chainring and sprocket of one size."""
    bicycle = replace(tourer(), fittings=FIT)
    ends = (read_place(start, bicycle.plan.names), read_place(end, bicycle.plan.names))
    role = TubeRole("rod", ends, paired=True, region="rear triangle", tyres=())
    tubes = {**bicycle.tubes, "rod": Tube(STEEL, ROD, ROD, (1.0,))}
    return replace(bicycle, plan=bicycle.plan.with_roles(role), tubes=tubes)


def gaps(bicycle: Bicycle) -> dict[str, float]:
    return {one.name: one.gap for one in clearances(bicycle)}


@pytest.mark.parametrize(
    ("above", "apart"), [(75.0, 90.0), (60.0, 118.0), (90.0, 110.0), (-72.0, 84.0)]
)
def test_beside_a_chain_that_runs_parallel_it_is_pythagoras(above: float, apart: float) -> None:
    """Across the chain they lie (above -+ 60) cos(slope), and sideways apart / 2 less the chainline."""
    bicycle = with_rods(
        f"bottom_bracket + 0 {above} apart {apart}", f"rear_axle + 0 {above} apart {apart}"
    )
    axle = bicycle.dimensions.rear_axle
    level = abs(axle.x) / hypot(*axle)
    across = min(abs(above - 60.0), abs(above + 60.0)) * level
    off = hypot(across, apart / 2 - FIT.chainline)
    assert gaps(bicycle)["chain to rods"] == pytest.approx(off - ROD / 2 - 4.5, abs=1e-6)


def test_a_rod_in_the_chain_is_told_and_one_far_off_is_not_listed() -> None:
    inside = with_rods("bottom_bracket + 0 62 apart 88", "rear_axle + 0 62 apart 88")
    told = [f for f in clearance_findings(inside) if "chain to rods" in f.message]
    assert [(f.code, f.severity) for f in told] == [("clearance-none", "warning")]
    far = with_rods("bottom_bracket + 0 140 apart 30", "rear_axle + 0 140 apart 30")
    assert "chain to rods" not in gaps(far)


@pytest.mark.parametrize("apart", [165.0, 180.0, 200.0])
def test_beside_a_heel_it_is_a_sum_of_widths(apart: float) -> None:
    """A level rod at 40 mm above the bracket: pedal's offset, less the heel's half and the rod, wherever along it."""
    bicycle = with_rods(
        f"bottom_bracket + -100 40 apart {apart}", f"bottom_bracket + -300 40 apart {apart}"
    )
    gap = FIT.pedal_offset - 35.0 - apart / 2 - ROD / 2
    assert gaps(bicycle)["heel to rods"] == pytest.approx(gap, abs=1e-9)


def test_where_no_heel_comes_by_nothing_is_told() -> None:
    """Farther back than crank and shoe reach, or above what the ankle reaches with the pedal up."""
    reach = FIT.crank_length + 200.0
    behind = with_rods(
        f"bottom_bracket + -{reach + 1:g} 40 apart 170", "bottom_bracket + -440 40 apart 170"
    )
    assert "heel to rods" not in gaps(behind)
    high = FIT.crank_length + 80.0
    above = with_rods(
        f"bottom_bracket + -100 {high + 1:g} apart 170",
        f"bottom_bracket + -300 {high + 1:g} apart 170",
    )
    assert "heel to rods" not in gaps(above)
    just = with_rods(
        f"bottom_bracket + -{reach - 1:g} 40 apart 170", "bottom_bracket + -440 40 apart 170"
    )
    assert "heel to rods" in gaps(just)


def test_the_heel_goes_round_with_the_pedal() -> None:
    """Sought by hand, the pedal put at every degree: a short rod low behind the bracket."""
    bicycle = with_rods(
        "bottom_bracket + -310 -60 apart 190", "bottom_bracket + -330 -60 apart 190"
    )
    seen = False
    for degree in range(360):
        pedal = FIT.crank_length * np.array([cos(radians(degree)), sin(radians(degree))])
        behind = np.array([-320.0, -60.0]) - pedal
        seen |= bool(-200 <= behind[0] <= -100 and 0 <= behind[1] <= 80)
    assert seen == ("heel to rods" in gaps(bicycle))


@pytest.mark.parametrize("plan", PLANS)
def test_of_a_plain_diamonds_tubes_neither_is_asked_and_of_others_each_by_its_name(
    plan: str,
) -> None:
    bicycle = BICYCLES[plan]
    listed = [name for name in gaps(bicycle) if name.startswith(("heel to", "chain to"))]
    labels = {role.label for role in bicycle.roles}
    assert all(name.split(" to ")[1] in labels for name in listed)
    asked = {
        "mixte": "laterals", "mixte_single": "lateral stays", "stays_on_top_tube": "seatstays",
        "split_seatstays": "upper stays", "raised_chainstays": "chainstays",
    }  # fmt: skip
    if plan in asked:
        assert f"chain to {asked[plan]}" in listed
    if plan in ("diamond", "twin_top_tubes", "seat_mast", "truss_fork"):
        assert listed == []


def test_low_raised_chainstays_run_through_the_chain() -> None:
    raised = BICYCLES["raised_chainstays"]
    low = replace(raised, placing={**raised.placing, "chainstay_on_seat_tube": 140.0})
    told = [
        f.message for f in clearance_findings(low) if f.message.startswith("chain to chainstays")
    ]
    assert len(told) == 1
    assert not [f for f in clearance_findings(raised) if "chain" in f.message]
