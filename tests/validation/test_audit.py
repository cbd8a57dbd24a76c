"""The audit audited: its error bars are right where the answer is known, and each of its checks can fail."""

import math
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np
import pytest
from droptrail.converters.inputs import read_input
from droptrail.model.cases.library import MAIN_CASES, load_cases
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import MeshOptions, mesh
from droptrail.model.geometry.statements import FIELDS
from droptrail.model.mechanics.solve import Restrained, solve
from droptrail.validation import audit as audit_module
from droptrail.validation.audit import audit, mesh_error, reciprocity
from droptrail.validation.ladder import Rung, ladder

SHEET = Path(__file__).parents[2] / "sample_drawings" / "tourer_700c.csv"
USUAL = partial(load_cases, names=MAIN_CASES)
SIDE = partial(load_cases, names=("side_push",))


@pytest.fixture(scope="module")
def tourer():
    return read_input(SHEET).bicycle


@pytest.fixture(scope="module")
def done(tourer):
    return audit(tourer, USUAL)


@pytest.mark.parametrize("order", [1.0, 2.0, 4.0])
def test_richardson_finds_order_and_limit(order):
    """v(h) = 10 + 0.3 h^p: the bar of v(1) is exactly 0.3 (Roache 1998, from memory)."""
    v1, v2, v4 = (10 + 0.3 * h**order for h in (1, 0.5, 0.25))
    got, bar = mesh_error(v1, v2, v4)
    assert got == pytest.approx(order)
    assert bar == pytest.approx(0.3 / v4)


def test_unsteady_refinement_gets_a_wide_bar_and_no_order():
    order, bar = mesh_error(10.0, 10.2, 10.1)
    assert order is None
    assert bar == pytest.approx(2 * 0.2 / 10.1)


def test_an_exact_mesh_is_called_exact():
    assert mesh_error(5.0, 5.0 * (1 + 1e-13), 5.0) == (None, pytest.approx(0, abs=1e-12))


def test_every_rung_of_the_ladder_holds_and_can_fail():
    rungs = ladder()
    assert len(rungs) == 5
    for rung in rungs:
        assert rung.ok, rung
        assert not replace(rung, expected=rung.expected * (1 + 3 * rung.tolerance + 1e-8)).ok


def test_rung_error_is_relative():
    assert Rung("", "", 2.0, 2.1, "mm", 0.01).error == pytest.approx(0.05)


def test_error_bar_covers_a_much_finer_mesh(tourer, done):
    layout = lay_out(tourer)
    fine = solve(mesh(tourer, MeshOptions().refined(12), layout), load_cases(tourer, layout))
    for row in done.figures:
        if row.order is not None and abs(row.order - 2) < 0.3:
            result = fine[row.case]
            true = result.stiffness[row.measure] or result.measured[row.measure]
            assert abs(row.value / true - 1) * 100 <= 1.25 * row.mesh_error
            assert abs(row.value / true - 1) * 100 >= 0.5 * row.mesh_error


def test_the_tourer_passes_with_evidence(done):
    assert done.ok
    assert {e.case for e in done.evidence} == {
        "seated",
        "climb",
        "side_push",
        "frame_torsion",
        "saddle_push",
    }
    assert all(
        e.residual < 1e-12 and e.reciprocity < 1e-9 and 1 < e.condition < 1e12
        for e in done.evidence
    )


def test_shear_and_rigid_zones_move_the_figures_the_way_they_must(done):
    """Leaving out a flexibility, or stiffening the joints, can only stiffen a loaded point (energy theorems)."""
    loaded = [row for row in done.figures if row.unit == "N/mm"]
    assert loaded
    assert all(row.without_shear > 0 and row.rigid_zones > 0 for row in loaded)


def test_a_frame_too_small_for_rigid_zones_is_audited_without(tourer):
    """The seatstays meet the seat tube inside the bottom bracket shell."""
    low = replace(tourer.dimensions, top_tube_on_seat_tube=140.0, seatstay_below_top_tube=125.0)
    done = audit(replace(tourer, dimensions=low), SIDE, count=0)
    assert all(
        math.isnan(row.rigid_zones) and math.isfinite(row.mesh_error) for row in done.figures
    )


def test_the_many_solves_of_an_audit_are_the_small_ones(monkeypatch):
    """What an audit costs, counted: five meshes and one a kind of joint to compare, then two coarse ones a dimension
    and one a lot."""
    sizes, true = [], audit_module.solve
    monkeypatch.setattr(
        audit_module, "solve", lambda m, cases: sizes.append(len(m.elements)) or true(m, cases)
    )
    bicycle = read_input(SHEET.with_name("small_650b.csv")).bicycle
    audit(bicycle, SIDE, count=7)
    stated = [name for name in FIELDS if getattr(bicycle.dimensions, name) is not None]
    first = 5 + len(audit_module.joint_kinds(bicycle))
    compared, drawn = sizes[:first], sizes[first:]
    assert len(drawn) == (1 + 2 * len(stated)) + (1 + 7)
    assert max(drawn) < 0.6 * compared[0]


def test_linear_propagation_and_lots_agree(done):
    for row in done.figures:
        assert row.drawing_lots == pytest.approx(row.drawing_linear, rel=0.35, abs=0.02)


def test_tolerance_doubled_doubles_the_drawing_bar(tourer, monkeypatch):
    once = audit(tourer, SIDE, count=0)
    monkeypatch.setattr(audit_module, "LENGTH_TOLERANCE", 1.0)
    monkeypatch.setattr(audit_module, "ANGLE_TOLERANCE", 0.2)
    twice = audit(tourer, SIDE, count=0)
    assert [row.drawing_linear for row in twice.figures] == pytest.approx(
        [2 * row.drawing_linear for row in once.figures], rel=1e-2
    )
    assert all(row.drawing_lots is None for row in twice.figures)


def test_reciprocity_notices_an_unsymmetric_solver(tourer, monkeypatch):
    layout = lay_out(tourer)
    case = load_cases(tourer, layout)[0]
    model = mesh(tourer)
    assert reciprocity(model, case) < 1e-9
    true = Restrained.displacements
    monkeypatch.setattr(
        Restrained, "displacements", lambda self, f: true(self, f) * np.array([1.0, 1.001])
    )
    assert reciprocity(model, case) > 1e-6


def test_the_verdict_needs_every_part(done):
    assert not replace(done, rungs=(replace(done.rungs[0], got=math.nan),)).ok
    assert not replace(done, evidence=(replace(done.evidence[0], opensees=1e-6),)).ok
    assert not replace(done, evidence=(replace(done.evidence[0], reciprocity=1e-3),)).ok
    assert replace(done, evidence=(replace(done.evidence[0], opensees=None),)).ok


def test_every_kind_of_joint_stands_beside_the_frames_own(done):
    """Rayleigh: what gives more lowers a stiffness. Rigid joints are the frame's own here, so they are not repeated."""
    for row in done.figures:
        assert "bare" in row.joints
        assert "rigid" not in row.joints
        assert set(row.ranking) == {audit_module.AS_IT_IS, *row.joints}
        assert all(len(best) == audit_module.RANKED for best in row.ranking.values())
    pushed = next(row for row in done.figures if row.unit == "N/mm")
    assert pushed.joints["bare"] < -1


def test_a_frame_with_joints_is_held_against_rigid_ones():
    bicycle = read_input(SHEET.with_name("small_650b.csv")).bicycle
    welded = audit(bicycle.joined("bare"), SIDE, count=0).figures[0]
    rigid = audit(bicycle, SIDE, count=0).figures[0]
    assert welded.joints["rigid"] == pytest.approx(100 * (rigid.value / welded.value - 1))
