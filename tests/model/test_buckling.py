"""Linear buckling against closed forms; the Euler columns of the published cases are in tests/validation."""

from dataclasses import replace
from math import inf, pi

import numpy as np
import pytest
from droptrail.model.cases.library import load_cases
from droptrail.model.errors import MechanismError
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.mechanics import buckling
from droptrail.model.mechanics.beam import Beams
from droptrail.model.mechanics.buckling import buckling_factors, geometric_matrix, local_geometric
from droptrail.model.mechanics.frame_model import Element, FrameModel, LoadCase
from droptrail.model.tubes.sections import Section
from helpers_bicycle import tourer
from helpers_frames import ALL_SIX, cantilever, tube_material

MATERIAL = tube_material(200e3, 0.3)
SECTION = Section(120.0, 4e3, 9e3, 1.3e4)
PINNED = {"0": (1, 1, 1, 1, 0, 0)}


def column(section, pieces=12, length=900.0, force=-1000.0):
    model = cantilever(section, MATERIAL, length, pieces)
    top = str(pieces)
    return model, LoadCase(
        "press", {top: (force, 0, 0, 0, 0, 0)}, supports=PINNED | {top: (0, 1, 1, 0, 0, 0)}
    )


def euler(second, length=900.0):
    return pi**2 * MATERIAL.E * second / length**2


def test_both_planes_of_a_pinned_column_in_ascending_order():
    """Euler; the weak plane buckles first, then its second mode and the strong plane."""
    expected = sorted([euler(4e3), 4 * euler(4e3), 9 * euler(4e3), euler(9e3), 4 * euler(9e3)])[:4]
    assert buckling_factors(*column(SECTION, 24), 4) == pytest.approx(
        np.array(expected) / 1000, rel=2e-4
    )


@pytest.mark.parametrize("stiff", [0.02, 0.2, 1.0])
def test_shear_flexible_column_is_engessers(stiff):
    """P = Pe / (1 + Pe / G As), Engesser 1891; Timoshenko & Gere 1961, art. 2.17. Pe / G As up to 1."""
    shear_area = euler(4e3) / MATERIAL.G / stiff
    section = replace(SECTION, Asy=shear_area, Asz=shear_area)
    expected = euler(4e3) / (1 + stiff) / 1000
    assert buckling_factors(*column(section, 24))[0] == pytest.approx(expected, rel=5e-4)


def test_convergence_is_of_fourth_order():
    errors = [buckling_factors(*column(SECTION, n))[0] / (euler(4e3) / 1000) - 1 for n in (2, 4, 8)]
    assert all(e > 0 for e in errors)
    assert np.log2(errors[0] / errors[1]) == pytest.approx(4, abs=0.3)
    assert np.log2(errors[1] / errors[2]) == pytest.approx(4, abs=0.3)


def test_dense_and_sparse_solution_agree(monkeypatch):
    model, case = column(SECTION, 30)
    dense = []
    for limit in (1000, 1):
        monkeypatch.setattr(buckling, "_DENSE", limit)
        dense.append(buckling_factors(model, case, 3))
    assert dense[0] == pytest.approx(dense[1], rel=1e-8)


def test_nothing_in_compression_gives_no_factor():
    assert buckling_factors(*column(SECTION, force=1000.0), 2).size == 0


def test_factor_scales_with_the_load():
    model, case = column(SECTION)
    half = replace(case, nodal={n: tuple(v / 2 for v in f) for n, f in case.nodal.items()})
    assert buckling_factors(model, half) == pytest.approx(
        2 * buckling_factors(model, case), rel=1e-9
    )


def test_hinged_strut_buckles_alone():
    """A strut with ball joints at both ends between clamped stubs: Euler's pinned column of its own length.

    Torsion stays joined at one end, or the strut could spin.
    """
    pieces = 12
    nodes = {str(k): (900.0 * k / pieces, 0.0, 0.0) for k in range(pieces + 1)} | {
        "left": (-100.0, 0.0, 0.0),
        "right": (1000.0, 0.0, 0.0),
    }
    stub = Section(5e3, 1e7, 1e7, 2e7)
    strut = [
        Element(f"s{k}", str(k), str(k + 1), SECTION, MATERIAL, (0.0, 1.0, 0.0))
        for k in range(pieces)
    ]
    strut[0] = replace(strut[0], releases=(4, 5))
    strut[-1] = replace(strut[-1], releases=(10, 11))
    ends = [
        Element("l", "left", "0", stub, MATERIAL, (0.0, 1.0, 0.0)),
        Element("r", str(pieces), "right", stub, MATERIAL, (0.0, 1.0, 0.0)),
    ]
    case = LoadCase(
        "press",
        {"right": (-1000.0, 0, 0, 0, 0, 0)},
        supports={"left": ALL_SIX, "right": (0, 1, 1, 1, 1, 1)},
    )
    factor = buckling_factors(FrameModel(nodes, (*strut, *ends)), case)[0]
    assert factor == pytest.approx(euler(4e3) / 1000, rel=2e-3)


@pytest.mark.parametrize("shear_area", [inf, 40.0])
def test_element_matrix_is_the_integral_of_slope_squared(shear_area):
    """Kg = N ∫ v'ᵀ v' dx by Gauss quadrature, v from the exact static shape of the shear-flexible beam: the slope is
    that of a cubic with constant shear strain V / G As (Przemieniecki 1968, ch. 15; own derivation)."""
    length, second = 250.0, 9e3
    section = replace(SECTION, Asy=shear_area, Asz=shear_area)
    beams = Beams.of(cantilever(section, MATERIAL, length))
    points, weights = np.polynomial.legendre.leggauss(6)
    slopes = []
    for k in range(4):
        ends = np.zeros(12)
        ends[[1, 5, 7, 11][k]] = 1.0
        force = beams.k_local[0] @ ends
        x = length * (points + 1) / 2
        # theta' = M / EI with M = -Mz_i + V x, v' = theta + V / G As in our sign of end forces
        bending = ends[5] + (-force[5] * x + force[1] * x**2 / 2) / (MATERIAL.E * second)
        slopes.append(bending - force[1] / (MATERIAL.G * shear_area))
    expected = np.array([[np.sum(weights * a * b) * length / 2 for b in slopes] for a in slopes])
    kg = local_geometric(beams.model.properties, beams.length, np.array([1.0]))[0]
    assert kg[np.ix_([1, 5, 7, 11], [1, 5, 7, 11])] == pytest.approx(expected, rel=1e-9)


def test_matrix_is_symmetric_and_a_rigid_turn_costs_what_statics_says():
    """Turning a member under tension N by a small angle a lifts its ends against N: forces N a, no end moment."""
    beams = Beams.of(cantilever(SECTION, MATERIAL, 400.0))
    kg = geometric_matrix(beams, np.array([700.0])).toarray()
    assert np.allclose(kg, kg.T)
    turn = np.zeros(12)
    turn[[5, 11]], turn[7] = 1.0, 400.0
    forces = kg @ turn
    assert forces[[1, 7]] == pytest.approx([-700.0, 700.0])
    assert forces[[5, 11]] == pytest.approx([0.0, 0.0], abs=1e-9)


def test_a_bicycle_frame_is_far_from_buckling_under_its_rider():
    """Plausibility, common practice without a source: brazed steel frames do not buckle as a frame when ridden."""
    bicycle = tourer()
    cases = load_cases(bicycle, lay_out(bicycle))
    factors = buckling_factors(mesh(bicycle), cases[0], 3)
    assert len(factors) == 3
    assert factors[0] > 10
    assert np.all(np.diff(factors) >= 0)


def test_a_mechanism_has_no_buckling_load():
    model, case = column(SECTION)
    with pytest.raises(MechanismError):
        buckling_factors(model, replace(case, supports={}))
