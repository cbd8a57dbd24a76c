"""Rectangular stays: section in closed form, limits, refusals; stiffness, derivatives and stress follow the section."""

from dataclasses import replace

import numpy as np
import pytest
from droptrail.model.cases.library import load_cases
from droptrail.model.choice.variants import TubeChange, described
from droptrail.model.errors import ModelError
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.mechanics.solve import solve
from droptrail.model.postprocess.sensitivity import sensitivities
from droptrail.model.postprocess.stress import stress_table
from droptrail.model.postprocess.walls import Walls
from droptrail.model.reanalysis.tube_flexibility import tube_flexibilities
from droptrail.model.tubes.sections import box_tube, round_tube, section_values
from droptrail.model.tubes.tube import Tube
from helpers_bicycle import STEEL, grown, tourer
from helpers_frames import cantilever, tip_load, tube_material

STAY = Tube(STEEL, 26.0, 20.0, (1.0,), oval_width=16.0, corner=4.0)
BOX = box_tube(16.0, 30.0, 1.0, 4.0, 0.3)


def test_rounded_off_it_is_the_round_tube():
    box, tube = box_tube(28.6, 28.6, 0.9, 14.3, 0.29), round_tube(28.6, 0.9, 0.29)
    for name in ("A", "Iy", "Iz", "J", "Asy", "Asz"):
        assert getattr(box, name) == pytest.approx(getattr(tube, name), rel=1e-12)


def test_nearly_sharp_corners_come_to_the_textbook_box():
    """A = bh - b'h', I = (b h³ - b' h'³)/12, J = 4 Am² t / s (Bredt), with corners as small as the wall allows."""
    box = box_tube(40.0, 60.0, 0.05, 0.05, 0.0)
    assert pytest.approx(40 * 60 - 39.9 * 59.9, rel=1e-3) == box.A
    assert pytest.approx((40 * 60**3 - 39.9 * 59.9**3) / 12, rel=1e-3) == box.Iz
    assert pytest.approx(4 * (39.95 * 59.95) ** 2 * 0.05 / (2 * (39.95 + 59.95)), rel=1e-3) == box.J


def test_turned_on_its_side_it_swaps_its_axes():
    side = box_tube(30.0, 16.0, 1.0, 4.0, 0.3)
    assert (side.A, side.Iy, side.Iz, side.J, side.Asy, side.Asz) == pytest.approx(
        (BOX.A, BOX.Iz, BOX.Iy, BOX.J, BOX.Asz, BOX.Asy)
    )


def test_many_at_once_and_by_a_complex_step():
    walls = np.array([0.8, 1.0, 1.2])
    together = np.array(section_values(16.0, 30.0, walls, 0.3, True, 4.0))
    assert together[:, 1] == pytest.approx([BOX.A, BOX.Iy, BOX.Iz, BOX.J, BOX.Asy, BOX.Asz])
    step = np.array(section_values(16.0, 30.0, walls + 1e-30j, 0.3, True, 4.0)).imag / 1e-30
    up, down = (
        np.array(section_values(16.0, 30.0, walls + h, 0.3, True, 4.0)) for h in (1e-5, -1e-5)
    )
    assert step == pytest.approx((up - down) / 2e-5, rel=1e-6)


@pytest.mark.parametrize("corner", [0.5, 8.5, float("nan")])
def test_impossible_corners_are_refused(corner):
    with pytest.raises(ModelError, match="it must lie between the wall and half the smaller side"):
        box_tube(16.0, 30.0, 1.0, corner, 0.3)
    with pytest.raises(
        ModelError, match=r"must lie between the wall, 1.0 mm, and half the smallest side, 8.0 mm"
    ):
        replace(STAY, corner=corner)


def test_a_corner_without_a_width_is_refused():
    with pytest.raises(ModelError, match="without a width"):
        Tube(STEEL, 26.0, 20.0, (1.0,), corner=4.0)


def test_its_section_its_flexibility_and_its_words():
    section = STAY.section(23.0, 1.0)
    assert section == box_tube(16.0, 23.0, 1.0, 4.0, STEEL.nu)
    plain = replace(STAY, od_start=23.0, od_end=23.0)
    flexibility = tube_flexibilities([plain], 400.0, shear=False)[0]
    assert flexibility[1, 1] == pytest.approx(400**3 / (3 * STEEL.E * section.Iz))
    assert flexibility[2, 2] == pytest.approx(400**3 / (3 * STEEL.E * section.Iy))
    assert described(STAY) == "26-20 x 1 rectangular (corners 4) 16 wide 4130"
    assert STAY.scaled(2.0, 0.1) == replace(
        STAY, od_start=28.0, od_end=22.0, oval_width=18.0, walls=(1.1,)
    )


def test_a_change_of_wall_keeps_the_shape_and_a_new_size_does_not():
    assert TubeChange(walls=(0.9,)).of(STAY) == replace(STAY, walls=(0.9,))
    assert TubeChange(diameters=(19.0, 14.0)).of(STAY) == Tube(STEEL, 19.0, 14.0, (1.0,))


@pytest.mark.parametrize(
    ("load", "stress"),
    [
        ((0, 0, 0, 0, 0, 5e4), 5e4 * 15 / BOX.Iz),
        ((0, 0, 0, 0, 5e4, 0), 5e4 * 8 / BOX.Iy),
        ((900, 0, 0, 0, 0, 0), 900 / BOX.A),
    ],
)
def test_faces_and_ends_by_hand(load, stress):
    assert peak(*load).von_mises == pytest.approx(stress, rel=1e-9)


def test_bent_both_ways_the_corner_is_worst():
    """Between the sharp corner (too much) and the larger of the two faces (too little), exactly on the rounding."""
    my, mz = 3e4, 4e4
    angle = np.linspace(0, np.pi / 2, 20001)
    y, z = 15 - 4 + 4 * np.cos(angle), 8 - 4 + 4 * np.sin(angle)
    expected = (mz * y / BOX.Iz + my * z / BOX.Iy).max()
    assert peak(0, 0, 0, 0, my, mz).von_mises == pytest.approx(expected, rel=1e-7)
    assert expected < mz * 15 / BOX.Iz + my * 8 / BOX.Iy


def test_torsion_after_bredt():
    mid = 15.0 * 29.0 - (4 - np.pi) * 3.5**2
    assert peak(0, 0, 0, 1e4, 0, 0).shear == pytest.approx(1e4 / (2 * mid * 1.0), rel=1e-9)


def peak(*load):
    """Peak at the clamp of a cantilever of the box, its outline known from a tube."""
    material = tube_material(70e3, 0.3)
    model = cantilever(BOX, material, 500.0)
    result = solve(model, [tip_load(model, *load)])["tip"]
    walls = replace(
        Walls.of(model),
        **{
            name: np.full((1, 2), v)
            for name, v in {"a": 15.0, "b": 8.0, "t": 1.0, "corner": 4.0}.items()
        },
    )
    return stress_table(result, walls=walls).rows[0]


def test_a_section_alone_does_not_tell_a_rectangle_so_it_gets_no_stress():
    model = cantilever(BOX, STEEL, 500.0)
    assert stress_table(solve(model, [tip_load(model, 0, 9.0, 0, 0, 0, 0)])["tip"]).rows == ()


def test_a_bicycle_with_rectangular_chainstays():
    bike = tourer(chainstay=STAY)
    layout = lay_out(bike)
    cases = load_cases(bike, layout, ("climb",))
    result = solve(mesh(bike, layout=layout), cases)["climb"]
    rows = {r.place.member: r for r in stress_table(result, bike, layout).rows}
    assert rows["chainstay_right"].von_mises > 10
    row = next(
        r
        for r in sensitivities(bike, cases)
        if (r.tube, r.parameter, r.measure) == ("chainstay", "diameter", "bb_twist")
    )
    values = [
        solve(mesh(grown(bike, "chainstay", d), layout=layout), cases)["climb"].measured["bb_twist"]
        for d in (0.02, -0.02)
    ]
    assert row.per_mm == pytest.approx((values[0] - values[1]) / 0.04, rel=1e-4)
