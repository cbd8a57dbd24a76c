"""Cadence against modes, and the response to steady pedalling."""

from math import pi

import numpy as np
import pytest
from droptrail.model.cases.library import pedal_stroke
from droptrail.model.errors import MechanismError, ModelError
from droptrail.model.frame.bicycle import Loads
from droptrail.model.frame.layout import lay_out
from droptrail.model.vibration.cadence import ORDERS, campbell, gaps, pedalled, pedalling_loads
from droptrail.model.vibration.mode_words import ModeWords, describe
from droptrail.model.vibration.modes import Dynamics
from droptrail.model.vibration.setup import vibration_model
from helpers_bicycle import tourer

BICYCLE = tourer(loads=Loads(rider_mass=70.0, pedal_force=600.0))
LAYOUT = lay_out(BICYCLE)


def dynamics_of(supports: str = "tyres") -> Dynamics:
    model, case = vibration_model(BICYCLE, supports)  # type: ignore[arg-type]
    return Dynamics.of(model, case.supports, case.springs)


def word(number: int, hz: float, plane: str) -> ModeWords:
    return ModeWords(number, hz, "t", plane, {}, {}, {})


# --- gaps ------------------------------------------------------------------------------------------------------------
def test_gap_of_the_nearest_push() -> None:
    """60 to 90 rpm: order 1 is 1 to 1.5 Hz, order 2 is 2 to 3 Hz."""
    found = {
        (g.mode, g.order): g
        for g in gaps(
            [word(1, 2.0, "sideways"), word(2, 2.5, "in plane"), word(3, 4.0, "in plane")],
            (60, 90),
            (1, 2),
        )
    }
    assert set(found) == {(1, 1), (2, 2), (3, 2)}
    assert found[1, 1].percent == pytest.approx(-25)
    assert found[1, 1].meets_rpm == pytest.approx(120)
    assert found[1, 1].push == "sideways"
    assert found[2, 2].percent == 0
    assert found[2, 2].meets_rpm == pytest.approx(75)
    assert found[3, 2].percent == pytest.approx(-25)
    assert found[3, 2].push == "up and down"


def test_a_push_above_the_mode_is_counted_positive() -> None:
    (gap,) = gaps([word(1, 1.0, "in plane")], (60, 90), (2,))
    assert gap.percent == pytest.approx(100)


def test_a_mixed_mode_meets_both_pushes_and_a_rigid_one_none() -> None:
    assert [g.order for g in gaps([word(1, 3.0, "mixed")], (60, 90), (1, 2))] == [1, 2]
    assert gaps([word(1, 0.0, "mixed")], (60, 90)) == ()


def test_campbell_lines_and_crossings() -> None:
    words = [
        word(1, 0.0, "in plane"),
        word(2, 2.5, "in plane"),
        word(3, 2.5, "sideways"),
        word(4, 1.2, "sideways"),
    ]
    diagram = campbell(words, (60, 90), points=4)
    assert list(diagram.lines) == list(ORDERS)
    np.testing.assert_allclose(diagram.lines[2], 2 * np.array([60, 70, 80, 90]) / 60)
    assert [w.number for w in diagram.levels] == [2, 3, 4]
    assert [(g.mode, g.order, round(g.meets_rpm)) for g in diagram.crossings] == [
        (2, 2, 75),
        (4, 1, 72),
    ]


@pytest.mark.parametrize(
    "cadence", [(0.0, 90.0), (90.0, 60.0), (60.0, float("inf")), (float("nan"), 90.0)]
)
def test_impossible_cadences_are_refused(cadence: tuple[float, float]) -> None:
    with pytest.raises(ModelError, match="rpm"):
        gaps([], cadence)


# --- the load ---------------------------------------------------------------------------------------------------
def test_legs_lean_once_and_push_twice_per_turn() -> None:
    """Half sines (textbook Fourier series): roll moment F x offset at order 1 only; downward force of both feet
    2F/pi (1 - 2 sum (-1)^k cos(2k angle) / (4k^2 - 1)) at even orders only."""
    dynamics = dynamics_of()
    loads = pedalling_loads(BICYCLE, LAYOUT, dynamics.model)
    spindle = {
        k: f.reshape(-1, 6)[dynamics.model.node_index["bottom_bracket"]] for k, f in loads.items()
    }
    hub = {k: f.reshape(-1, 6)[dynamics.model.node_index["rear_axle"]] for k, f in loads.items()}
    offset = BICYCLE.fittings.pedal_offset
    assert abs(spindle[1][3]) == pytest.approx(600 * offset, rel=1e-3)
    assert abs(spindle[1][1]) < 1e-9 * 600
    for k in (1, 2, 3):
        down = -(spindle[2 * k][1] + hub[2 * k][1])
        assert down == pytest.approx(-4 * 600 / pi * (-1) ** k / (4 * k**2 - 1), rel=1e-2)
    assert 3 not in loads


def test_loads_are_those_of_the_static_pedal_stroke() -> None:
    """Add the harmonics and the mean up again at one angle: the pedal stroke of that angle must come out."""
    dynamics = dynamics_of()
    loads, angle = pedalling_loads(BICYCLE, LAYOUT, dynamics.model), 0.7
    swing = sum((f * np.exp(1j * k * angle)).real for k, f in loads.items()).reshape(-1, 6)
    other = sum((f * np.exp(1j * k * (angle + 0.4))).real for k, f in loads.items()).reshape(-1, 6)
    exact = {}
    for a in (angle, angle + 0.4):
        out = np.zeros((len(dynamics.model.nodes), 6))
        for node, load in pedal_stroke(BICYCLE, LAYOUT, 600 * np.cos(a), float(np.degrees(a))):
            out[dynamics.model.node_index[node]] += load
        exact[a] = out
    np.testing.assert_allclose(
        swing - other, exact[angle] - exact[angle + 0.4], atol=0.02 * np.abs(exact[angle]).max()
    )


# --- the response -----------------------------------------------------------------------------------------------
def test_modes_and_direct_solution_agree() -> None:
    dynamics, at = dynamics_of(), [50.0, 92.0]
    by_modes = pedalled(BICYCLE, LAYOUT, dynamics, at, dynamics.modes(30))
    direct = pedalled(BICYCLE, LAYOUT, dynamics, at)
    for place, moved in direct.amplitude.items():
        np.testing.assert_allclose(
            by_modes.amplitude[place], moved, rtol=0, atol=1e-5 * moved.max()
        )


def test_very_slow_pedalling_is_static() -> None:
    found = pedalled(BICYCLE, LAYOUT, dynamics_of(), [0.01], damping_ratio=0.0)
    for place, moved in found.amplitude.items():
        np.testing.assert_allclose(moved[0], found.static[place], rtol=1e-4, atol=1e-9)
        assert np.nanmax(np.abs(found.amplification[place] - 1)) < 1e-4


def test_amplification_peaks_where_a_push_meets_a_mode() -> None:
    """Order 1 sweeps through the lowest sideways mode: the saddle's sideways amplification peaks at that cadence."""
    dynamics = dynamics_of()
    found = dynamics.modes(30)
    first = next(w for w in describe(found) if w.plane == "sideways")
    meets = 60 * first.hz
    at = np.linspace(0.85, 1.15, 31) * meets
    swept = pedalled(BICYCLE, LAYOUT, dynamics, at, found)
    sideways = swept.amplitude["bars"][:, 2]
    assert abs(at[np.argmax(sideways)] / meets - 1) < 0.02
    assert sideways.max() > 3 * sideways[0]
    calmer = pedalled(BICYCLE, LAYOUT, dynamics, at, found, damping_ratio=0.2).amplitude["bars"][
        :, 2
    ]
    assert calmer.max() < 0.5 * sideways.max()


def test_force_scales_and_is_recorded() -> None:
    dynamics = dynamics_of("rigid")
    found = dynamics.modes(12)
    single = pedalled(BICYCLE, LAYOUT, dynamics, [80.0], found)
    double = pedalled(BICYCLE, LAYOUT, dynamics, [80.0], found, force=1200.0)
    assert (single.peak_force, double.peak_force) == (600.0, 1200.0)
    np.testing.assert_allclose(
        double.amplitude["saddle"], 2 * single.amplitude["saddle"], rtol=1e-9
    )


def test_refusals() -> None:
    with pytest.raises(MechanismError, match="no static deflection"):
        pedalled(BICYCLE, LAYOUT, dynamics_of("free"), [80.0])
    with pytest.raises(ModelError, match="positive numbers in rpm"):
        pedalled(BICYCLE, LAYOUT, dynamics_of(), [0.0])
