"""What of the road gets through: lumps against apparent mass, the measured rider, the slow road.

Published: ISO 5982 (normalised apparent mass of the seated body, z axis: largest about 1.3 to 1.6 near 4 to 5 Hz, then
falling below 1 by 8 to 9 Hz; from memory) and Fairley & Griffin 1989 (read in a handbook, see the module).
"""

from collections.abc import Sequence
from dataclasses import replace
from math import pi

import numpy as np
import pytest
from droptrail.converters.files.fitsheet.starter import plan_starter
from droptrail.model.arrays import Array
from droptrail.model.errors import ModelError
from droptrail.model.frame.bicycle import Bicycle, Loads, PartMasses
from droptrail.model.tubes.known_plans import PLANS
from droptrail.model.tubes.plan import PlanItem, Rider
from droptrail.model.vibration import transmissibility as module
from droptrail.model.vibration.harmonic import direct_response
from droptrail.model.vibration.modes import Dynamics
from droptrail.model.vibration.setup import VibrationParts, vibration_model
from droptrail.model.vibration.transmissibility import (
    THIRDS,
    Transmissibility,
    apparent_mass,
    transmissibility,
)
from helpers_bicycle import tourer
from scipy import sparse

BICYCLE = tourer()


def shaken(bicycle: Bicycle, hz: Sequence[float] = THIRDS) -> Transmissibility:
    """What reaches the one rider."""
    (one,) = transmissibility(bicycle, hz).values()
    return one


def test_the_rider_is_the_measured_one() -> None:
    hz = np.arange(0.01, 20, 0.01)
    curve = np.abs(apparent_mass(1.0, hz))
    assert curve[0] == pytest.approx(1.0, abs=1e-4)
    assert 1.3 < curve.max() < 1.6
    assert 4.0 < hz[np.argmax(curve)] < 5.5
    assert np.all(curve[hz > 9] < 1.0)
    # the spring-borne part alone turns its phase most at its own 5 Hz
    at = np.argmin(np.abs(hz - 31.4 / (2 * pi)))
    spring = (apparent_mass(1.0, hz) - module.RIDER_FIXED) / (1 - module.RIDER_FIXED)
    r = 1.0
    exact = (1 + 0.95j * r) / (0.95j * r)
    assert spring[at] == pytest.approx(exact, rel=2e-3)


def test_a_slow_road_carries_the_bicycle_with_it() -> None:
    """At 0.05 Hz nothing is left to shake: every ratio is 1."""
    slow = shaken(BICYCLE, (0.05,))
    for ratio in (slow.saddle_axle, slow.bars_axle, slow.saddle_road, slow.bars_road):
        assert ratio[0] == pytest.approx(1.0, abs=2e-3)


def test_a_rigid_rider_is_the_same_as_lumps_in_the_mesh(monkeypatch: pytest.MonkeyPatch) -> None:
    """Apparent mass made constant, then solved directly with his mass among the mesh's own, up and down only.

    Receptance coupling and modes on one side, one assembled matrix and a direct solution on the other.
    """
    monkeypatch.setattr(module, "apparent_mass", lambda m, hz: np.full(len(hz), m, dtype=complex))
    hz = np.array([3.0, 7.0, 12.0, 19.0])
    coupled = shaken(BICYCLE, hz)
    empty = VibrationParts(tyre_vertical=BICYCLE.loads.tyre_stiffness, rider=0.0)
    model, case = vibration_model(BICYCLE, "tyres", empty)
    dynamics = Dynamics.of(model, case.supports, case.springs)
    loads = BICYCLE.loads
    shares = {
        "saddle": loads.saddle_share,
        "bar_left": loads.bar_share / 2,
        "bar_right": loads.bar_share / 2,
        "bottom_bracket": loads.pedal_share,
    }
    lumps = np.zeros(model.dofs)
    for node, share in shares.items():
        lumps[6 * model.node_index[node] + 1] = share * loads.rider_mass / 1000
    laden = replace(
        dynamics, m=(dynamics.m + dynamics.T.T @ sparse.diags(lumps) @ dynamics.T).tocsr()
    )
    road = np.zeros(model.dofs, dtype=complex)
    for end in ("rear", "front"):
        road[6 * model.node_index[f"{end}_contact"] + 1] = empty.tyre_vertical
    road *= 1 + 2j * module.STRUCTURE_DAMPING
    direct = direct_response(laden, road, hz, module.STRUCTURE_DAMPING)
    np.testing.assert_allclose(coupled.saddle_road, np.abs(direct.at("saddle")[:, 1]), rtol=1e-3)
    bars = np.abs(direct.at("bar_left")[:, 1] + direct.at("bar_right")[:, 1]) / 2
    np.testing.assert_allclose(coupled.bars_road, bars, rtol=1e-3)
    np.testing.assert_allclose(
        coupled.saddle_axle,
        np.abs(direct.at("saddle")[:, 1] / direct.at("rear_axle")[:, 1]),
        rtol=1e-3,
    )


def test_softer_tyres_let_less_of_a_rough_road_through() -> None:
    """PLAUSIBILITY: above the bounce a softer tyre isolates (mass on a spring)."""
    soft, hard = (shaken(replace(BICYCLE, loads=Loads(tyre_stiffness=k))) for k in (60.0, 200.0))
    rough = np.array(THIRDS) >= 12.0
    assert soft.saddle_road[rough].mean() < 0.6 * hard.saddle_road[rough].mean()
    assert soft.bars_road[rough].mean() < 0.8 * hard.bars_road[rough].mean()


def test_the_measured_rider_calms_what_dead_weight_would_not(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    alive = shaken(BICYCLE)
    monkeypatch.setattr(module, "apparent_mass", lambda m, hz: np.full(len(hz), m, dtype=complex))
    dead = shaken(BICYCLE)
    low = np.array(THIRDS) < 10
    assert alive.saddle_road[low].max() < 0.6 * dead.saddle_road[low].max()


def test_nobody_aboard_is_said() -> None:
    with pytest.raises(ModelError, match="nobody rides"):
        shaken(replace(BICYCLE, loads=Loads(rider_mass=0.0)))


# --- several riders -------------------------------------------------------------------------------------------------


def ratios(one: Transmissibility) -> Array:
    return np.array([one.saddle_axle, one.bars_axle, one.saddle_road, one.bars_road])


def test_two_of_half_the_mass_in_one_place_are_one_rider() -> None:
    """Their apparent masses add up; two saddles and drivetrains of half the weight are one."""
    item = PlanItem("second_mass", "second mass", 40.0, (0.0, 200.0), "kg")
    riders = (Rider(), Rider("second", mass="second_mass"))
    plan = replace(BICYCLE.plan, items=(*BICYCLE.plan.items, item), riders=riders)
    half = BICYCLE.loads.rider_mass / 2
    loads = replace(BICYCLE.loads, rider_mass=half)
    two = replace(BICYCLE, plan=plan, loads=loads, placing={**BICYCLE.placing, "second_mass": half})
    whole = PartMasses()
    halved = replace(whole, saddle=whole.saddle / 2, drivetrain=whole.drivetrain / 2)
    tyre = BICYCLE.loads.tyre_stiffness
    parts = [VibrationParts(tyre_vertical=tyre, masses=masses) for masses in (whole, halved)]
    (one,) = transmissibility(BICYCLE, parts=parts[0]).values()
    for rider in transmissibility(two, parts=parts[1]).values():
        np.testing.assert_allclose(ratios(rider), ratios(one), rtol=1e-9)


def test_each_rider_of_a_tandem_is_shaken_on_his_own_saddle() -> None:
    tandem = plan_starter(PLANS["tandem"])
    both = transmissibility(tandem)
    assert list(both) == ["captain", "stoker"]
    slow = transmissibility(tandem, (0.05,))
    for one in slow.values():
        np.testing.assert_allclose(ratios(one), 1.0, atol=2e-3)
    # between the wheels and over the rear one they are shaken differently
    assert np.abs(ratios(both["captain"]) / ratios(both["stoker"]) - 1).max() > 0.2
    alone = transmissibility(replace(tandem, placing={**tandem.placing, "stoker_mass": 0.0}))
    light = transmissibility(replace(tandem, placing={**tandem.placing, "stoker_mass": 1e-6}))
    assert list(alone) == ["captain"]
    np.testing.assert_allclose(ratios(light["captain"]), ratios(alone["captain"]), rtol=1e-5)
