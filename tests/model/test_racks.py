"""Bags that sway on their racks: against the textbook's spring and mass, limits, and eigenvalues.

The trade says that a heavy load low in front makes a wobble worse (common practice, no source). A traveller's notes
(read: "Carrying loads", brucebike.blogspot.com) say instead that not the height decides but how rigidly the load is
held: that is what comes out here, on every sample.
"""

from dataclasses import replace
from math import pi, sqrt
from pathlib import Path

import numpy as np
import pytest
from droptrail.converters.inputs import read_input
from droptrail.model.errors import ModelError
from droptrail.model.frame.bicycle import Loads
from droptrail.model.frame.riding import settled_riding
from droptrail.model.stability.hands import (
    BAND_SPEEDS,
    FIRM,
    GIVES,
    SOFT,
    SPARE,
    SetUp,
    _refuse_growth,
    hands_need,
    rack_limit,
    sway_hz,
    with_front_bags,
)
from droptrail.model.stability.shimmy import Rack, ShimmyBicycle
from droptrail.model.stability.whipple import RigidBody
from droptrail.validation.wobble import found_again
from helpers_bicycle import tourer

SAMPLES = Path(__file__).parents[2] / "sample_drawings"

LADEN = SetUp.of(tourer(loads=Loads(rider_mass=82, front_luggage=8, rear_luggage=16)))
USUAL = settled_riding({})


@pytest.mark.parametrize(("give", "hz"), [(1.0, 15.76), (4.0, 7.88), (15.0, 4.07), (25.0, 3.15)])
def test_sway_follows_from_the_give_under_the_bags_own_weight(give: float, hz: float) -> None:
    """f = 15.76 / sqrt(static deflection in mm) Hz, the rule of every vibration handbook (from memory)."""
    assert sway_hz(give) == pytest.approx(hz, rel=1e-3)
    rack = Rack("bags", (("saddle", RigidBody(3.0, 0.0, -0.5, 0, 0)),), give / 1000, 0.05)
    stiffness, damping = rack.spring(9.81)
    assert sqrt(stiffness / 3.0) / (2 * pi) == pytest.approx(hz, rel=1e-3)
    assert damping / (2 * sqrt(stiffness * 3.0)) == pytest.approx(0.05, rel=1e-12)


def test_bags_on_a_bicycle_too_heavy_to_move_sway_at_their_own_frequency() -> None:
    heavy = replace(LADEN.model(USUAL).rigid.rear_body, mass=1e9, Ixx=1e9, Izz=1e9, Ixz=0.0)
    made = LADEN.model({**USUAL, "rear_rack_give": 9.0, "rack_damping": 0.04})
    made = replace(made, rigid=replace(made.rigid, rear_body=heavy), head=None)
    omega = 2 * pi * sway_hz(9.0)
    expected = omega * (-0.04 + 1j * sqrt(1 - 0.04**2))
    values = made.eigenvalues(6.0)
    assert np.min(np.abs(values - expected)) < 1e-5 * omega


def test_a_rack_that_hardly_gives_is_bags_bolted_on() -> None:
    """Error falls tenfold for a tenth of the give."""
    made = LADEN.model(USUAL)
    bags = [piece for rack in made.racks for piece in rack.bodies]
    bolted = replace(made, racks=(), pieces=(*made.pieces, *bags)).eigenvalues(8.0)
    slow = bolted[np.abs(bolted) < 60]
    errors = []
    for give in (1e-6, 1e-7):
        racks = tuple(replace(rack, give=give) for rack in made.racks)
        values = replace(made, racks=racks).eigenvalues(8.0)
        errors.append(max(np.min(np.abs(values - one)) for one in slow))
    assert errors[0] / errors[1] == pytest.approx(10.0, rel=0.05)
    assert errors[1] < 1e-3


@pytest.mark.parametrize("name", ["tourer_700c", "gravel_700c", "small_650b", "trekking_26"])
def test_front_bags_calm_on_a_firm_rack_and_harm_on_a_soft_one(name: str) -> None:
    bicycle = read_input(SAMPLES / f"{name}.csv").need_bicycle()
    usual = SetUp.of(bicycle)
    found = rack_limit(usual, 8.0)
    assert found.firm < found.none - 0.2
    give, need = found.worst
    assert give > 12
    assert need > found.none + 1
    assert found.limit is not None
    assert 5 < found.limit < 20
    # at the limit bags ask for just what none ask for, seen in the eigenvalues of the whole system
    made = with_front_bags(usual, 8.0, found.limit).model(settled_riding(bicycle.riding))
    again = found_again(made, hands_need(made, BAND_SPEEDS))
    assert again == pytest.approx(found.none, abs=0.02)


def test_the_limit_lies_where_the_bags_sway_as_fast_as_the_bicycle_wobbles() -> None:
    """Of a heavy load it is near the wobble's own frequency, a little above it."""
    found = rack_limit(LADEN)
    assert found.mass == 8.0
    assert found.limit is not None
    wobble = hands_need(with_front_bags(LADEN, 8.0, FIRM).model(USUAL), BAND_SPEEDS)
    assert 1.0 < sway_hz(found.limit) / wobble.hz[wobble.worst] < 1.4


def test_bags_above_the_wheel_harm_where_bags_beside_it_calm() -> None:
    """In the middle plane they lack the inertia that calms: the distance from the wheel decides, too."""
    above = rack_limit(replace(LADEN, fixed={"bags_aside": 0.0}))
    beside = rack_limit(replace(LADEN, fixed={"bags_aside": 160.0}))
    assert above.firm > above.none + 0.1
    assert above.limit == 0.0
    assert beside.firm < beside.none - 0.25


def test_the_gives_looked_at_hold_the_firm_and_the_soft_rack() -> None:
    assert GIVES[0] == FIRM
    assert FIRM < SOFT < GIVES[-1]
    assert list(GIVES) == sorted(GIVES)


def test_a_rack_that_gives_nothing_is_said() -> None:
    with pytest.raises(ModelError, match="gives nothing"):
        Rack("front bags", (), 0.0, 0.05)


def test_more_to_spare_than_is_told_apart_stops_no_study() -> None:
    """Arms so stiff that the bar hardly turns: what little it does dies at once; beyond that it is a fault."""
    made = replace(SetUp.of(tourer()).model(USUAL), steering_stiffness=2000.0)
    need = hands_need(made, BAND_SPEEDS)
    np.testing.assert_array_equal(need.damping, SPARE)
    assert np.all(np.isnan(need.hz))
    assert growth(replace(made, steering_damping=SPARE), 8.0) < 0
    wedged = replace(made, steering_stiffness=1e9)
    with pytest.raises(ModelError, match="no motion that hands could damp"):
        hands_need(wedged, (4.0,))
    assert hands_need(wedged, (4.0,), strict=False).most == SPARE


def test_what_no_hands_can_stop_is_said() -> None:
    """Every root moved by 3/s to the growing side."""
    made = LADEN.model(USUAL)
    states = made.model.tyre_states((8.0,), made.tyres or ())
    with pytest.raises(ModelError, match="swings ever farther whatever the hands damp"):
        _refuse_growth(states[0] + 3.0 * np.eye(states.shape[1]), 8.0)
    _refuse_growth(states[0] - 3.0 * np.eye(states.shape[1]), 8.0)


def growth(made: ShimmyBicycle, v: float) -> float:
    """Largest growth rate 1/s in the wobble's band."""
    values = made.eigenvalues(v)
    return float(values.real[(values.imag > 5 * pi) & (values.imag < 30 * pi)].max())
