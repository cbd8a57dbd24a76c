"""Joints of the rear triangle, measured in shells and put into the beams of whole frames: the way there, and what was
kept."""

import json
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.mechanics.frame_model import soft_joint
from droptrail.validation.joints import rear_joints, whole_frame
from droptrail.validation.joints.rear_joints import NAMES, STAYS, figures_with_cuts
from droptrail.validation.joints.results import RESULTS
from helpers_gmsh import needs_gmsh

pytestmark = pytest.mark.slow


@cache
def bare():
    return whole_frame.frames()[whole_frame.TOURER].joined("bare")


@cache
def beside():
    kept = json.loads(RESULTS.read_text(encoding="utf-8"))
    shells = {}
    for row in kept["whole_frame"]:
        shells.setdefault(row["frame"], {})[row["figure"]] = row["limit"]
    found = rear_joints.rear_beside(kept["rear_joints"], shells)
    return {one.name: one for one in found}


def test_nothing_in_the_cuts_gives_the_figures_of_beams():
    nothing = {STAYS: np.zeros((12, 12))}
    expected = whole_frame.figures_of_beams(bare())
    assert figures_with_cuts(bare(), nothing) == pytest.approx(expected, rel=1e-6)


def test_a_compliance_in_a_cut_counts_as_a_spring_there():
    """Positive ones can be springs of the product too: the same figures by its own way."""
    half = np.random.default_rng(4).normal(size=(6, 6))
    units = np.array([1e-2] * 3 + [1e-3] * 3)
    given = (half @ half.T + np.eye(6)) * np.outer(units, units)
    both = np.kron(np.eye(2), given)
    rigid_blades = replace(bare(), joints={**bare().joints, "fork_blade": "rigid"})
    layout = lay_out(rigid_blades)
    model, pairs = rear_joints._cut(mesh(rigid_blades, whole_frame.OPTIONS, layout), layout, STAYS)
    springs = [soft_joint(twin, kept, twin, given) for kept, twin in pairs]
    sprung = replace(model, springs=(*model.springs, *springs))
    expected = whole_frame._figures(sprung, whole_frame.cases_of(rigid_blades, layout), [])
    assert figures_with_cuts(bare(), {STAYS: both}) == pytest.approx(expected, rel=1e-6)
    assert (
        expected["rear_sideways.rear_sideways"]
        > 1.02 * whole_frame.figures_of_beams(bare())["rear_sideways.rear_sideways"]
    )


@pytest.mark.parametrize("name", NAMES)
def test_rigid_stays_and_the_brackets_beams_offset_each_other(name):
    """Why the rear triangle's joints stay rigid: measured ones alone make a frame worse, together no better."""
    none, stays, bracket, both = beside()[name].worst
    assert none < 5.0
    assert min(stays, bracket, both) > none
    alone = beside()[name].off["rear_sideways.rear_sideways"]
    assert abs(alone[0]) < 1.5
    assert alone[1] > 5.0
    assert alone[2] < -4.0
    assert abs(alone[3]) < 1.0


def test_measured_rear_joints_tell_what_a_larger_seat_tube_takes():
    """Of the bracket's stiffness sideways under a push on the head, 3.6 % in shells: one point more of it than with the
    rear triangle's joints taken as rigid."""
    before, after = beside()[whole_frame.TOURER], beside()[whole_frame.SEAT_CHANGED]
    figure = "side_push.bb_sideways"
    ratios = [
        (100 + a) / (100 + b) for a, b in zip(before.off[figure], after.off[figure], strict=True)
    ]
    # How far the change of stiffness is told wrong, in percent: rigid, and with stays and bracket measured.
    assert abs(ratios[3] - 1) < abs(ratios[0] - 1) - 0.007


@pytest.mark.slow
@needs_gmsh
def test_a_node_is_measured_as_it_was_kept():
    bicycle = whole_frame.frames()["gravel"]
    layout = lay_out(bicycle)
    made = rear_joints.beyond_beams(rear_joints.stays_node(bicycle, layout))
    kept = json.loads(RESULTS.read_text(encoding="utf-8"))["rear_joints"]
    told = np.array(
        next(r for r in kept if (r["frame"], r["node"]) == ("gravel", "stays"))["compliance"]
    )
    size = np.sqrt(np.abs(np.outer(told.diagonal(), told.diagonal())))
    assert np.abs((made - told) / size).max() < 0.02
