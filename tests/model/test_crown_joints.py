"""Blades and steerer at a fork crown, in every figure: where they stand, what they give, who holds it."""

from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from droptrail.model.cases.library import load_cases
from droptrail.model.errors import ModelError
from droptrail.model.frame.bicycle import Bicycle
from droptrail.model.frame.joint_findings import joint_findings
from droptrail.model.frame.joint_places import tube_joints
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.frame.parts import Part
from droptrail.model.joints import crown
from droptrail.model.joints.law import scale_of
from droptrail.model.mechanics.energy import energy_shares
from droptrail.model.mechanics.solve import solve
from droptrail.model.postprocess.sensitivity import gradients
from droptrail.model.reanalysis.fast_options import condense_options
from droptrail.model.tubes.known_plans import PLANS
from droptrail.model.tubes.tube import Tube
from droptrail.validation.opensees import available, cross_check
from helpers_bicycle import grown, tourer
from helpers_search import quick_and_full

CASES = ("iso_fork_forward", "iso_steerer_torque", "side_push", "brake_front_disc")
needs_opensees = pytest.mark.skipif(available() is not None, reason=str(available()))


def crowned(od: float = 34.9, wall: float = 2.0, kind: str = "bare") -> Bicycle:
    bicycle = tourer()
    tube = Tube(bicycle.part("fork_crown_piece").stuff, od, od, (wall,))
    parts = {**bicycle.parts, "fork_crown_piece": Part("fork_crown_piece", tube)}
    return replace(bicycle, parts=parts, joints={"fork_blade": kind, "steerer": kind})


def solved(bicycle: Bicycle, names: tuple[str, ...] = CASES) -> dict:
    layout = lay_out(bicycle)
    return solve(mesh(bicycle, layout=layout), load_cases(bicycle, layout, names))


def test_where_they_stand():
    """Spacing of the blades at crown and hub, so a lean by plane trigonometry; axes along the crown outwards."""
    bicycle = crowned()
    layout = lay_out(bicycle)
    found = {joint.name: joint for joint in tube_joints(bicycle, layout)}
    assert set(found) == {
        "joint_of_the_fork_blade_right_at_the_fork_crown_piece",
        "joint_of_the_fork_blade_left_at_the_fork_crown_piece",
        "joint_of_the_steerer_at_the_fork_crown_piece",
    }
    right = found["joint_of_the_fork_blade_right_at_the_fork_crown_piece"]
    spacing = bicycle.fittings.blade_spacing
    wider = (bicycle.fittings.front_hub_spacing - spacing) / 2
    lean = np.degrees(np.arctan2(wider, np.hypot(389.0, 50.0)))
    assert right.shape.lean_deg == pytest.approx(lean, abs=1e-6)
    assert right.shape.half == pytest.approx(spacing / 2)
    assert right.e1 == pytest.approx((0.0, 0.0, 1.0))
    left = found["joint_of_the_fork_blade_left_at_the_fork_crown_piece"]
    assert left.e1 == pytest.approx((0.0, 0.0, -1.0))
    assert (right.shape.blade_diameter, right.shape.steerer_diameter) == (24.0, 25.4)
    # Second axis up the steerer, at the head angle; down the blades, whose give is carried the other way.
    steerer = found["joint_of_the_steerer_at_the_fork_crown_piece"]
    head = np.radians(bicycle.dimensions.head_angle)
    assert steerer.e2 == pytest.approx((-np.cos(head), np.sin(head), 0.0))
    assert right.e2[1] < 0
    assert left.e2[1] < 0


def test_a_blade_begins_at_the_crowns_lower_wall():
    """The crown hangs below its race: 34.9 x 2, so 17.45 to its axis and 16.45 more to the middle of its wall."""
    bicycle = crowned()
    layout = lay_out(bicycle)
    model = mesh(bicycle, layout=layout)
    shape = tube_joints(bicycle, layout)[0].shape
    twin = "fork_blade_right:start_in_joint"
    reach = np.linalg.norm(np.subtract(model.nodes[f"{twin}_at_the_wall"], model.nodes[twin]))
    assert reach == pytest.approx((17.45 + 16.45) / np.cos(np.radians(shape.lean_deg)), rel=1e-6)


@pytest.mark.parametrize("part", ["blade", "steerer"])
def test_what_gives_at_the_crowns_axis_is_carried_up_to_the_race(part):
    """u at the race = u at the axis + turn x arm (rigid body): the race lies half the crown's height above its axis,
    along the steerer's second axis and against a blade's."""
    bicycle = crowned()
    joints = tube_joints(bicycle, lay_out(bicycle))
    joint = next(one for one in joints if one.shape.part == part)
    shape = joint.shape
    height = 34.9 / 2
    arm = np.array([0.0, height if part == "steerer" else -height, 0.0])
    motion = np.eye(6)
    motion[:3, 3:] = np.cross(np.eye(3), arm).T
    law = crown._law()
    at_axis = law.steerer if part == "steerer" else law.blade
    given = at_axis(crown._ratios(shape)) / joint.material.E / scale_of(34.9 - 2.0)
    expected = motion @ given @ motion.T
    assert crown.crown_compliance(shape, joint.material).matrix == pytest.approx(expected)


def test_a_thin_crown_gives_more_and_a_solid_one_hardly():
    def moved(bicycle: Bicycle) -> float:
        result = solved(bicycle, ("iso_fork_forward",))["iso_fork_forward"]
        return next(iter(result.measured.values()))

    assert moved(crowned(34.9, 1.6)) > 1.03 * moved(crowned(34.9, 3.0))
    solid = replace(tourer(), joints={"fork_blade": "bare", "steerer": "bare"})
    assert moved(solid) < 0.96 * moved(crowned(28.6, 3.0))
    shares = energy_shares(solved(solid)["iso_fork_forward"]).joints
    assert len(shares) == 2  # the steerer is rigid in it
    assert sum(shares.values()) < 0.02


@needs_opensees
def test_opensees_gives_the_same():
    for check in cross_check(solved(crowned())).values():
        assert check.ok, check.summary


def test_the_energy_is_all_there_and_names_them():
    result = solved(crowned())["iso_fork_forward"]
    table = energy_shares(result)
    assert table.imbalance < 1e-8
    assert table.joints["joint_of_the_fork_blade_left_at_the_fork_crown_piece"] > 0.02
    assert table.joints["joint_of_the_steerer_at_the_fork_crown_piece"] > 0.005


@pytest.mark.parametrize(
    ("tube", "parameter"),
    [
        ("fork_blade", "wall"),
        ("fork_blade", "diameter"),
        ("steerer", "wall"),
        ("steerer", "diameter"),
    ],
)
def test_derivatives_hold_what_they_do(tube, parameter):
    """Against central differences of full solves."""
    bicycle = crowned()
    rows = gradients(bicycle, ("iso_fork_forward",)).rows
    row = next(one for one in rows if (one.tube, one.parameter) == (tube, parameter))
    step = 2e-3

    def moved(h: float) -> float:
        results = solved(grown(bicycle, tube, **{parameter: h}), ("iso_fork_forward",))
        return results["iso_fork_forward"].measured[row.measure]

    assert row.per_mm == pytest.approx((moved(step) - moved(-step)) / (2 * step), rel=1e-3)


def test_the_fast_search_is_the_full_solver():
    bicycle = crowned()
    blade = bicycle.tubes["fork_blade"]
    steerer = bicycle.tubes["steerer"]
    choices = {
        "fork_blade": [replace(blade, walls=(wall,)) for wall in (0.9, 1.0, 1.2)],
        "steerer": [replace(steerer, walls=(wall,)) for wall in (1.6, 2.0)],
        "head_tube": [replace(bicycle.tubes["head_tube"], walls=(wall,)) for wall in (1.1, 1.6)],
    }
    names = ("side_push", "frame_torsion")
    options = condense_options(bicycle, choices, partial(load_cases, names=names))

    def results_with(tubes):
        return solved(replace(bicycle, tubes={**bicycle.tubes, **tubes}), names)

    for quick, full in quick_and_full(options, results_with):
        assert quick == pytest.approx(full, rel=1e-8)


def test_blades_without_a_crown_are_told_to_be_rigid():
    bicycle = replace(tourer(), plan=PLANS["unicrown_fork"]).joined("bare")
    layout = lay_out(bicycle)
    assert not any(joint.chord == "fork_crown_piece" for joint in tube_joints(bicycle, layout))
    told = [f.message for f in joint_findings(bicycle, layout) if f.code == "joint-not-studied"]
    assert any("fork blades meet at the steerer" in message for message in told)


def test_a_crown_too_deep_for_the_blade_is_refused():
    """A blade of 389 mm cannot begin 400 mm below the race."""
    with pytest.raises(ModelError, match="fork blade"):
        mesh(crowned(400.0, 2.0))


def test_blades_on_the_steerers_own_axis_have_no_crown_to_stand_on():
    bicycle = crowned()
    narrow = replace(bicycle, fittings=replace(bicycle.fittings, blade_spacing=0.0))
    assert tube_joints(narrow, lay_out(narrow)) == ()
