"""The fork's bench cases: bending and torque held against statics and closed forms, loads by type of bicycle."""

from dataclasses import replace

import numpy as np
import pytest
from droptrail.model.cases.library import load_cases
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import MeshOptions, mesh
from droptrail.model.mechanics.solve import solve
from droptrail.model.tubes.tube import Tube
from helpers_bicycle import grown, tourer

BIKE = tourer()
BENDING = ("iso_fork_forward", "iso_fork_rearward", "iso_fork_bending")
NAMES = (*BENDING, "iso_steerer_torque")
CROWN = (28.0, 14.0)  # mm, the crown piece is a solid bar
APART = 2.0  # mm between the blades, so that crown and hub bend by nothing to speak of


def solved(bicycle, names=NAMES, options=None):
    layout = lay_out(bicycle)
    return solve(mesh(bicycle, options, layout), load_cases(bicycle, layout, names))


def straight_fork():
    """Plain blades in line with the steering axis, close beside each other: a fork to be reckoned by hand."""
    steel = BIKE.tubes["steerer"].material
    tubes = {**BIKE.tubes, "fork_blade": Tube(steel, 24.0, 24.0, (1.0,))}
    tubes["steerer"] = Tube(steel, 28.6, 28.6, (1.6,))
    return replace(
        BIKE,
        dimensions=replace(BIKE.dimensions, fork_offset=0.0),
        fittings=replace(BIKE.fittings, blade_spacing=APART, front_hub_spacing=APART),
        tubes=tubes,
    )


def second_moment(od, wall):
    return np.pi / 64 * (od**4 - (od - 2 * wall) ** 4)


@pytest.mark.parametrize(
    ("kind", "forces", "torque"),
    [
        ("city", (450, 450, 1000), 50e3),
        ("young adult", (450, 450, 1000), 50e3),
        ("mountain", (650, 650, 1500), 80e3),
        ("racing", (620, 620, 1200), 80e3),
    ],
)
def test_loads_by_type_of_bicycle(kind, forces, torque):
    """Forces of ISO 4210-6 from memory; torques as read in TBIS 4210-6:2019, table 8. Both are marked in the case."""
    bicycle = replace(BIKE, bicycle_type=kind)
    cases = load_cases(bicycle, lay_out(bicycle), NAMES)
    sizes = [np.linalg.norm(case.nodal["front_axle"][:3]) for case in cases[:3]]
    assert sizes == pytest.approx(forces)
    assert np.linalg.norm(cases[3].nodal["front_axle"][3:]) == pytest.approx(torque)
    assert all("FROM MEMORY" in case.source and kind in case.notes for case in cases)


def test_the_force_lies_in_the_plane_of_the_wheel_square_to_the_steerer():
    along = np.array([*BIKE.dimensions.axis_up, 0.0])
    forward, rearward, _, _ = load_cases(BIKE, lay_out(BIKE), NAMES)
    ahead = np.array(forward.nodal["front_axle"][:3])
    assert ahead @ along == pytest.approx(0, abs=1e-9)
    assert ahead[0] > 0 == ahead[2]
    assert rearward.nodal["front_axle"][:3] == pytest.approx(tuple(-ahead))


def test_the_head_bearings_share_the_load_as_an_overhanging_beam():
    """Statics: with the force F at c below the lower bearing, the bearings a apart, the lower one gives F (a + c) / a
    back and the upper one F c / a the other way."""
    bicycle = straight_fork()
    result = solved(bicycle)["iso_fork_forward"]
    d = bicycle.dimensions
    apart = d.head_tube
    below = d.fork_length + d.lower_stack
    ahead = np.array(result.case.nodal["front_axle"][:3]) / 450.0
    lower = float(result.reactions["head_tube_bottom"][:3] @ ahead)
    upper = float(result.reactions["head_tube_top"][:3] @ ahead)
    assert lower == pytest.approx(-450 * (apart + below) / apart, rel=1e-9)
    assert upper == pytest.approx(450 * below / apart, rel=1e-9)


def test_bending_of_a_straight_fork_is_the_closed_form():
    """Overhanging beam (Timoshenko, Strength of Materials I, from memory): the force moves by the sum of M^2 / EI over
    steerer and blades, and by the twist of the crown's two halves, which take half of the moment each."""
    bicycle = straight_fork()
    result = solved(bicycle, options=MeshOptions(shear=False))["iso_fork_bending"]
    d = bicycle.dimensions
    material = bicycle.tubes["steerer"].material
    steerer = material.E * second_moment(28.6, 1.6)
    blades = 2 * material.E * second_moment(24.0, 1.0)
    below = d.fork_length + d.lower_stack
    between = below**2 * d.head_tube / 3 / steerer
    to_the_crown = (below**3 - d.fork_length**3) / 3 / steerer
    steel = next(e for e in result.model.elements if e.member == "fork_crown_piece").material
    twist = (d.fork_length / 2) * (APART / 2) / (steel.G * 2 * second_moment(*CROWN))
    crown = d.fork_length * twist
    expected = 1000.0 * (between + to_the_crown + d.fork_length**3 / 3 / blades + crown)
    assert result.measured["fork_axle"] == pytest.approx(expected, rel=1e-7)
    assert result.stiffness["fork_axle"] == pytest.approx(1000.0 / expected, rel=1e-7)


def test_torque_twists_the_steerer_as_a_shaft():
    """Saint-Venant: the crown turns against the top of the steerer by T l / G J, and the dummy stem gives T back."""
    bicycle = straight_fork()
    result = solved(bicycle)["iso_steerer_torque"]
    along = np.array([*bicycle.dimensions.axis_up, 0.0])
    material = bicycle.tubes["steerer"].material
    joints = lay_out(bicycle).joints
    length = np.linalg.norm(np.subtract(joints["stem_clamp"], joints["fork_crown"]))
    turn = result.displacement("fork_crown")[3:] - result.displacement("stem_clamp")[3:]
    twist = 50e3 * length / (material.G * 2 * second_moment(28.6, 1.6))
    assert turn @ along == pytest.approx(twist, rel=1e-8)
    assert result.reactions["stem_clamp"][3:] @ along == pytest.approx(-50e3, rel=1e-9)
    assert result.measured["fork_twist"] > np.degrees(twist)


@pytest.mark.parametrize("tube", ["head_tube", "top_tube", "down_tube", "chainstay"])
def test_the_frame_behind_the_fork_changes_nothing(tube):
    before = solved(BIKE)
    after = solved(grown(BIKE, tube, wall=1.0))
    for name, result in before.items():
        assert after[name].measured == pytest.approx(result.measured, rel=1e-9)
    stiffer = solved(grown(BIKE, "fork_blade", wall=0.5))
    for name, result in before.items():
        measure = next(iter(result.measured))
        assert stiffer[name].measured[measure] < 0.99 * result.measured[measure]
