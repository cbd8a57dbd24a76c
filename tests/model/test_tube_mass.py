"""Tube masses against handbook masses per metre, closed forms and the space frame of the tutorial."""

from math import pi

import numpy as np
import pytest
from droptrail.model.choice.figures import summed_masses
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import MeshOptions, mesh
from droptrail.model.frame.tube_mass import mass_table
from droptrail.model.tubes.sections import round_tube
from droptrail.model.tubes.tube import Tube
from helpers_bicycle import STEEL, tourer
from helpers_frames import cantilever, space_frame_a

BIKE = tourer()
LAYOUT = lay_out(BIKE)
TABLE = mass_table(mesh(BIKE, layout=LAYOUT), LAYOUT)


@pytest.mark.parametrize(
    ("od", "wall", "kg_per_m", "digits"),
    [
        # steel pipe mass table (docstoc 109231677), printed figures
        (17.2, 2.0, 0.75, 0.005),
        (21.3, 2.0, 0.952, 0.0005),
        (26.9, 2.0, 1.23, 0.005),
        (33.7, 2.3, 1.78, 0.005),
    ],
)
def test_steel_pipes_weigh_what_the_handbook_prints(od, wall, kg_per_m, digits):
    table = mass_table(cantilever(round_tube(od, wall, 0.29), STEEL, 1000.0, pieces=7))
    assert table.total.kg == pytest.approx(kg_per_m, abs=digits)
    assert table.total.centre == pytest.approx((500.0, 0.0, 0.0))


def test_space_frame_a_weighs_what_an_independent_code_found():
    assert mass_table(space_frame_a()[0]).total.kg == pytest.approx(0.9663, abs=5e-5)


def test_a_butted_tube_is_the_sum_of_its_walls():
    """75 + 412.xx + 75 mm of the top tube with abrupt steps: rho pi (D t - t^2) L by hand."""
    bike = tourer(top_tube=Tube(STEEL, 28.6, 28.6, (0.8, 0.5, 0.8), (75.0, 75.0)))
    length = next(m.length for m in LAYOUT.members if m.name == "top_tube")

    def mass(wall, run):
        return 7.85e-6 * pi * (28.6 * wall - wall**2) * run

    expected = mass(0.8, 150.0) + mass(0.5, length - 150.0)
    assert mass_table(mesh(bike), LAYOUT).by_tube["top_tube"].kg == pytest.approx(
        expected, rel=1e-9
    )


def test_a_conical_tube_with_constant_wall_is_exact_and_its_centre_lies_towards_the_thick_end():
    """Volume pi t (D0 + D1)/2 - pi t^2 times L; every chainstay element takes its middle diameter."""
    stay = TABLE.members["chainstay_right"]
    length = next(m.length for m in LAYOUT.members if m.name == "chainstay_right")
    assert stay.kg == pytest.approx(7.85e-6 * pi * (18.1 * 0.8 - 0.64) * length, rel=1e-9)
    start, end = (
        np.array(LAYOUT.joints[j]) for j in ("chainstay_shell_right", "rear_dropout_right")
    )
    along = float((np.array(stay.centre) - start) @ (end - start)) / length**2
    assert along == pytest.approx(
        0.5 - 4.1 / (6 * (18.1 - 0.8)), abs=2e-3
    )  # centroid of A linear in x


def test_groups_add_up_and_pairs_are_symmetric():
    assert TABLE.frame.kg + TABLE.fork.kg + sum(
        m.kg for m in TABLE.parts.values()
    ) == pytest.approx(TABLE.total.kg)
    assert TABLE.members["seatstay_right"].kg == pytest.approx(
        TABLE.members["seatstay_left"].kg, rel=1e-12
    )
    assert TABLE.total.centre[2] == pytest.approx(0.0, abs=1e-9)
    assert set(TABLE.parts) == {
        "bb_shell",
        "rear_hub",
        "front_hub",
        "fork_crown_piece",
        "seat_post",
        "stem",
        "bar",
        "chainstay_bridge",
        "seatstay_bridge",
    }
    assert 1.2 < TABLE.frame.kg < 2.2  # a light steel frame's tubes: common practice, no source


def test_the_figures_of_the_search_are_the_same_masses():
    grams = summed_masses({tube: 1000 * mass.kg for tube, mass in TABLE.by_tube.items()}, BIKE.plan)
    assert grams == pytest.approx(
        (1000 * (TABLE.frame.kg + TABLE.fork.kg), 1000 * TABLE.frame.kg), rel=1e-12
    )


def test_a_finer_mesh_weighs_the_same_to_a_tenth_of_a_gram():
    fine = mass_table(mesh(BIKE, MeshOptions().refined(4), LAYOUT), LAYOUT)
    assert fine.total.kg == pytest.approx(TABLE.total.kg, abs=1e-4)
    assert fine.frame.kg != TABLE.frame.kg  # wall tapers are only as fine as the mesh
