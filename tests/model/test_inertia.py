"""Inertia relief: closed forms of free bodies, the reference that carries nothing, the head pushed in motion."""

from dataclasses import replace
from math import cos, pi, sin

import numpy as np
import pytest
from droptrail.model.cases.bench import side_push
from droptrail.model.cases.library import load_cases
from droptrail.model.cases.motion import as_ridden
from droptrail.model.cases.tools import own_load
from droptrail.model.cases.view import idle_supports
from droptrail.model.errors import ModelError
from droptrail.model.frame.bicycle import PartMasses
from droptrail.model.frame.carried import ridden_masses
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.mechanics.assembly import spring_stiffness, stiffness_matrix
from droptrail.model.mechanics.beam import Beams
from droptrail.model.mechanics.constraints import Constraints
from droptrail.model.mechanics.frame_model import (
    Element,
    FrameModel,
    LoadCase,
    Measure,
    MemberLoad,
    NodeMass,
)
from droptrail.model.mechanics.inertia import as_free, relieved, rigid_motions
from droptrail.model.mechanics.solve import nodal_forces, solve
from droptrail.model.tubes.materials import Material
from droptrail.model.tubes.sections import Section
from droptrail.model.vibration.mass import mass_matrix
from droptrail.model.vibration.setup import vibration_model
from helpers_bicycle import grown, tourer

FORCE = 100.0
STEEL = Material("steel", 205e3, 80e3, 7.85e-9)
SLENDER = Section(50.0, 4000.0, 4000.0, 8000.0)  # no shear areas: Euler-Bernoulli
BIKE = tourer()
THICK = Section(5e4, 4000.0, 4000.0, 8000.0)  # so much area that the hoop does not stretch
LAYOUT = lay_out(BIKE)
MODEL = mesh(BIKE, layout=LAYOUT)
HELD = (1, 1, 1, 1, 1, 1)


def relieved_case(model, forces, reference):
    """A case with consistent inertia loads at every node, held at one node for reference."""
    mass = mass_matrix(Beams.of(model))
    motions = rigid_motions(model.xyz - model.xyz.mean(axis=0))
    left = relieved(forces, mass, motions).reshape(-1, 6)
    loads = {node: tuple(row) for node, row in zip(model.nodes, left, strict=True)}
    return LoadCase("free", loads, supports={reference: HELD})


# --- closed forms ---------------------------------------------------------------------------------------------------
def beam(pieces):
    nodes = {f"n{k}": (1000.0 * k / pieces, 0.0, 0.0) for k in range(pieces + 1)}
    elements = tuple(
        Element(f"e{k}", f"n{k}", f"n{k + 1}", SLENDER, STEEL, (0.0, 1.0, 0.0))
        for k in range(pieces)
    )
    return FrameModel(nodes, elements)


@pytest.mark.parametrize("pieces", [2, 10])
@pytest.mark.parametrize("reference", ["n0", "n1"])
def test_a_free_beam_pushed_in_the_middle(pieces, reference):
    """Its own inertia is a uniform load F/L: each half a cantilever under w = F/L, end against middle w a^4 / 8EI
    (Roark's Formulas, 7th ed., Table 8.1, case 2a, from memory), so F L^3 / 128 EI."""
    model = beam(pieces)
    forces = np.zeros((pieces + 1, 6))
    forces[pieces // 2, 1] = FORCE
    result = solve(model, [relieved_case(model, forces.ravel(), reference)])["free"]
    line = result.u[:, 1]
    stiff = STEEL.E * SLENDER.Iz
    middle = line[pieces // 2]
    ends = (line[0] + line[-1]) / 2
    assert middle - ends == pytest.approx(FORCE * 1000.0**3 / (128 * stiff), rel=1e-9)


@pytest.mark.parametrize("pieces", [10, 20])
def test_its_middle_against_the_mean_of_the_whole_beam(pieces):
    """The cantilever's line w s^2 (6 a^2 - 4 a s + s^2) / 24 EI (same source) integrated: F L^3 / 320 EI. Cubic
    elements follow that line of fourth order to h^4."""
    model = beam(pieces)
    forces = np.zeros((pieces + 1, 6))
    forces[pieces // 2, 1] = FORCE
    loads = relieved_case(model, forces.ravel(), "n3")
    weights = tuple((n, tuple(np.array(six) / FORCE)) for n, six in loads.nodal.items())
    case = replace(loads, measures=(Measure("middle", weights),))
    moved = solve(model, [case])["free"].measured["middle"]
    expected = FORCE * 1000.0**3 / (320 * STEEL.E * SLENDER.Iz)
    assert moved == pytest.approx(expected, rel=0.5 / pieces**4)


def ring(pieces=144, radius=300.0):
    nodes = {
        f"n{k}": (
            radius * cos(2 * pi * k / pieces),
            radius * sin(2 * pi * k / pieces),
            0.0,
        )
        for k in range(pieces)
    }
    elements = tuple(
        Element(f"e{k}", f"n{k}", f"n{(k + 1) % pieces}", THICK, STEEL, (0.0, 0.0, 1.0))
        for k in range(pieces)
    )
    return FrameModel(nodes, elements)


def diameters(result, pieces=144):
    """Change of the diameters across and along the push."""
    u = result.u
    quarter = pieces // 4
    across = u[0, 0] - u[2 * quarter, 0]
    along = u[quarter, 1] - u[3 * quarter, 1]
    return across, along


@pytest.mark.parametrize("reference", ["n0", "n17"])
def test_a_free_ring_pushed_on_one_side(reference):
    """The inertia of a ring pushed by one force is its own weight upside down: Roark's Formulas, 7th ed., Table 9.2,
    the ring supported at its lowest point under its own weight (from memory): diameters -0.4674 w R^4/EI along and
    +0.4292 w R^4/EI across, exactly 2 - pi^2/4 and 2 - pi/2. The ring has 144 straight pieces, so 0.05 %."""
    model = ring()
    forces = np.zeros((144, 6))
    forces[108, 1] = FORCE
    result = solve(model, [relieved_case(model, forces.ravel(), reference)])["free"]
    across, along = diameters(result)
    unit = FORCE / (2 * pi * 300.0) * 300.0**4 / (STEEL.E * THICK.Iy)
    assert across == pytest.approx((2 - pi / 2) * unit, rel=5e-4)
    assert along == pytest.approx((2 - pi**2 / 4) * unit, rel=5e-4)


def test_a_free_ring_under_two_opposite_forces_feels_no_inertia():
    """Roark's Formulas, 7th ed., Table 9.2, case 1 (from memory): pi/4 - 2/pi and 2/pi - 1/2 times F R^3 / EI."""
    model = ring()
    forces = np.zeros((144, 6))
    forces[36, 1] = -FORCE
    forces[108, 1] = FORCE
    case = relieved_case(model, forces.ravel(), "n5")
    assert np.array(list(case.nodal.values())).ravel() == pytest.approx(forces.ravel(), abs=1e-9)
    across, along = diameters(solve(model, [case])["free"])
    unit = FORCE * 300.0**3 / (STEEL.E * THICK.Iy)
    assert along == pytest.approx(-(pi / 4 - 2 / pi) * unit, rel=5e-4)
    assert across == pytest.approx((2 / pi - 1 / 2) * unit, rel=5e-4)


def test_two_lumps_on_a_line_share_a_push_by_their_mass():
    """Newton: masses 1 and 3 pushed at the first along the line; three quarters of the push go through the bar."""
    places = {"a": (0.0, 0.0, 0.0), "b": (100.0, 0.0, 0.0)}
    masses = [NodeMass("a", 1e-3, (1, 1, 1)), NodeMass("b", 3e-3, (1, 1, 1))]
    case = as_free(LoadCase("x", {"a": (8.0, 0, 0, 0, 0, 0)}), places, masses, "a")
    assert case.nodal["a"] == pytest.approx((6.0, 0, 0, 0, 0, 0))
    assert case.nodal["b"] == pytest.approx((-6.0, 0, 0, 0, 0, 0))


# --- the bicycle in motion ------------------------------------------------------------------------------------------
def ridden(reference="rear_axle"):
    case = load_cases(BIKE, LAYOUT, ("head_push_as_ridden",))[0]
    return replace(case, supports={reference: HELD})


@pytest.mark.parametrize("node", ["front_axle", "saddle", "bar_left", "bottom_bracket"])
def test_it_does_not_matter_where_the_six_reference_restraints_sit(node):
    """1e-9; spread over three places too."""
    three = {"saddle": (1, 1, 1, 0, 0, 0), "front_axle": (0, 1, 1, 0, 0, 0), "bar_left": (0,) * 6}
    three["bottom_bracket"] = (0, 0, 1, 0, 0, 0)
    cases = [ridden(), replace(ridden(node), name="other"), replace(ridden(), supports=three)]
    cases[2] = replace(cases[2], name="three")
    results = solve(MODEL, cases)
    first = results["head_push_as_ridden"]
    for name in ("other", "three"):
        for measure, value in first.measured.items():
            assert results[name].measured[measure] == pytest.approx(value, rel=1e-9)
        for reaction in results[name].reactions.values():
            assert np.abs(reaction[:3]).max() < 1e-8
            assert np.abs(reaction[3:]).max() < 1e-5


def test_the_stiffness_is_that_of_the_free_frame_by_another_road():
    """The free frame's compliance by a dense pseudo-inverse, no support at all: w P K+ P f."""
    case = ridden()
    beams = Beams.of(MODEL)
    held = Constraints.of(MODEL, {}).T
    stiffness = held.T @ (stiffness_matrix(beams) + spring_stiffness(MODEL, case.springs)) @ held
    forces = np.asarray(held.T @ nodal_forces(MODEL, case))
    scale = 1 / np.sqrt(stiffness.diagonal())
    scaled = np.linalg.pinv(stiffness.toarray() * np.outer(scale, scale), rcond=1e-12)
    moved = scale * (scaled @ (scale * forces))
    sideways = forces @ moved / BIKE.loads.side_push  # weights are the loads over the push
    result = solve(MODEL, [case])["head_push_as_ridden"]
    assert result.measured["head_sideways"] == pytest.approx(sideways, rel=1e-6)


def test_lumps_at_joints_stand_for_the_meshed_mass():
    """Against the consistent mass of the whole mesh with its lumps: frame and fork are lighter there, so 2 %."""
    model, _ = vibration_model(BIKE, "free")
    mass = mass_matrix(Beams.of(model))
    about = rigid_motions(model.xyz)
    whole = about.T @ mass @ about
    motions = rigid_motions(model.xyz - [whole[1, 5] / whole[0, 0], -whole[0, 5] / whole[0, 0], 0])
    push = np.zeros((model.dofs, 1))
    push[6 * model.node_index["head_tube_top"] + 2] = BIKE.loads.side_push
    left = relieved(push, mass, motions)
    loads = dict(zip(model.nodes, map(tuple, left.reshape(-1, 6)), strict=True))
    case = replace(ridden(), nodal=loads, measures=())
    result = solve(model, [case])["head_push_as_ridden"]
    moved = float(left[:, 0] @ result.u.ravel()) / BIKE.loads.side_push
    lumped = solve(MODEL, [ridden()])["head_push_as_ridden"].measured["head_sideways"]
    assert lumped == pytest.approx(moved, rel=0.02)


def test_it_is_a_load_over_its_own_movement_and_no_stronger_tube_lowers_it():
    case = ridden()
    assert own_load(case, case.measures[0]) == pytest.approx(BIKE.loads.side_push, rel=1e-9)
    before = solve(MODEL, [case])["head_push_as_ridden"].stiffness["head_sideways"]
    for tube in BIKE.tubes:
        stiffer = grown(BIKE, tube, wall=0.5)
        model = mesh(stiffer, layout=LAYOUT)
        same = load_cases(stiffer, LAYOUT, ("head_push_as_ridden",))[0]
        assert same.nodal == case.nodal
        after = solve(model, [same])["head_push_as_ridden"].stiffness["head_sideways"]
        assert after >= before * (1 - 1e-9), tube


def test_the_whole_ridden_bicycle_is_weighed():
    loads = BIKE.loads
    parts = PartMasses()
    on_it = (
        loads.rider_mass + loads.front_luggage + loads.rear_luggage,
        loads.wheel_mass_front + loads.wheel_mass_rear,
        parts.frame + parts.fork + parts.drivetrain + parts.saddle_with_post,
        parts.bars_complete,
    )
    weighed = sum(lump.m for lump in ridden_masses(BIKE, LAYOUT))
    assert weighed == pytest.approx(sum(on_it) / 1000, rel=1e-12)


def test_a_reference_that_carries_is_told():
    """The same supports under loads that do not balance, such as a case of one's own made like this one."""
    case = ridden()
    assert idle_supports(solve(MODEL, [case])[case.name]) == ()
    bare = replace(case, nodal={"saddle": (0.0, 0.0, 50.0, 0.0, 0.0, 0.0)})
    (found,) = idle_supports(solve(MODEL, [bare])[case.name])
    assert found.code == "support-untouched"
    assert "the loads do not balance" in found.message


def test_loads_along_tubes_and_bodies_without_mass_are_refused():
    case = side_push(BIKE, LAYOUT)
    along = replace(case, member_loads=(MemberLoad(MODEL.elements[0].id, (0.0, 0.0, 1.0)),))
    with pytest.raises(ModelError, match="along their length"):
        as_ridden(along, BIKE, LAYOUT)
    with pytest.raises(ModelError, match="nothing has mass"):
        as_free(case, LAYOUT.joints, [], "rear_axle")


def test_measures_are_taken_against_the_mean_motion():
    """A rigid shift of everything is no movement."""
    case = ridden()
    motions = rigid_motions(MODEL.xyz)
    for measure in case.measures:
        weights = np.zeros((len(MODEL.nodes), 6))
        for node, six in measure.weights:
            weights[MODEL.node_index[node]] += six
        lever = np.array([1.0, 1.0, 1.0, 1000.0, 1000.0, 1000.0])
        assert np.abs(weights.ravel() @ motions / lever).max() < 1e-12
    assert isinstance(case.measures[0], Measure)
