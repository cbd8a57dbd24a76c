"""Strain energy: closed forms, an independent code's shares, and energy = half the work of the loads."""

from dataclasses import replace

import numpy as np
import pytest
from droptrail.model.cases.library import load_cases
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.mechanics.energy import energy_shares
from droptrail.model.mechanics.frame_model import MemberLoad
from droptrail.model.mechanics.solve import solve
from droptrail.model.tubes.sections import round_tube
from helpers_bicycle import tourer
from helpers_frames import (
    cantilever,
    no_shear,
    random_frame,
    space_frame_a,
    tip_load,
    tube_material,
)

L = 500.0
SECTION = round_tube(25.0, 2.0, 0.33)
MATERIAL = tube_material(70e3, 0.33)


def one(model, case):
    return solve(model, [case])[case.name]


@pytest.mark.parametrize(
    ("kind", "load", "energy"),
    [
        # U = F^2 L^3 / 6EI, M^2 L / 2EI, T^2 L / 2GJ, N^2 L / 2EA: any mechanics textbook
        ("bending", (0, 0, 0, 0, 0, 5000), 5000**2 * L / (2 * 70e3 * SECTION.Iz)),
        ("bending", (0, 0, 0, 0, 4000, 3000), 5000**2 * L / (2 * 70e3 * SECTION.Iz)),
        ("torsion", (0, 0, 0, 5000, 0, 0), 5000**2 * L / (2 * MATERIAL.G * SECTION.J)),
        ("axial", (900, 0, 0, 0, 0, 0), 900**2 * L / (2 * 70e3 * SECTION.A)),
    ],
)
def test_pure_actions_store_their_own_kind_only(kind, load, energy):
    model = cantilever(SECTION, MATERIAL, L, pieces=3)
    table = energy_shares(one(model, tip_load(model, *load)))
    assert table.total == pytest.approx(energy, rel=1e-10)
    assert table.shares["beam"][kind] == pytest.approx(1.0, abs=1e-10)


def test_a_tip_force_bends_and_shears():
    model = cantilever(SECTION, MATERIAL, L)
    row = energy_shares(one(model, tip_load(model, 0, 60, 80, 0, 0, 0))).members["beam"]
    assert row["bending"] == pytest.approx(100**2 * L**3 / (6 * 70e3 * SECTION.Iz), rel=1e-10)
    assert row["shear"] == pytest.approx(100**2 * L / (2 * MATERIAL.G * SECTION.Asy), rel=1e-10)


@pytest.mark.parametrize("pieces", [1, 4])
def test_a_uniform_load_stores_the_textbook_energy_on_any_mesh(pieces):
    """w^2 L^5 / 40EI in bending and w^2 L^3 / 6GAs in shear; the work over the element's own sag is counted."""
    model = cantilever(SECTION, MATERIAL, L, pieces)
    loads = tuple(MemberLoad(e.id, (0.0, 0.0, -2.0)) for e in model.elements)
    table = energy_shares(one(model, replace(tip_load(model, *[0.0] * 6), member_loads=loads)))
    assert table.members["beam"]["bending"] == pytest.approx(
        4 * L**5 / (40 * 70e3 * SECTION.Iy), rel=1e-10
    )
    assert table.members["beam"]["shear"] == pytest.approx(
        4 * L**3 / (6 * MATERIAL.G * SECTION.Asz), rel=1e-10
    )
    assert table.imbalance < 1e-10


def test_shares_of_a_published_bicycle_frame_agree_with_an_independent_code():
    """Space frame A; shares computed by two other codes (no published figure), printed to 0.01 %."""
    model, case = space_frame_a()
    table = energy_shares(one(model, case))
    assert table.total == pytest.approx(74.2498, abs=6e-5)
    shares = [100 * sum(row.values()) for row in table.shares.values()]
    assert shares == pytest.approx([4.51, 28.00, 3.73, 33.95, 1.43, 1.43, 13.47, 13.47], abs=0.0051)


@pytest.mark.parametrize("seed", range(6))
def test_energy_is_half_the_work_of_the_loads(seed):
    model, case = random_frame(seed)
    case = replace(
        case,
        member_loads=(MemberLoad("e1", (0.3, -0.2, 0.5)), MemberLoad("e2", (1.0, 0.1, 0), "local")),
    )
    table = energy_shares(one(model, case))
    assert table.imbalance < 1e-9
    assert table.springs["ground"] > 0
    assert table.springs["hinge"] > 0


def test_the_balance_notices_a_missing_spring():
    result = one(*random_frame(1))
    table = energy_shares(result)
    missing = sum(table.springs.values())
    assert replace(table, springs={}).imbalance == pytest.approx(
        missing / (table.total - missing), rel=1e-6
    )


def test_releases_store_nothing():
    model = cantilever(no_shear(SECTION), MATERIAL, L, pieces=2)
    released = replace(model.elements[1], releases=(5,))
    model = replace(model, elements=(model.elements[0], released))
    case = tip_load(model, 0, 0, 0, 0, 0, 0)
    supports = {**case.supports, "2": (0, 1, 1, 1, 1, 0)}
    table = energy_shares(
        one(model, replace(case, nodal={"1": (0, 100.0, 0, 0, 0, 0)}, supports=supports))
    )
    assert table.imbalance < 1e-10


def test_tourer_tubes_add_up_to_one():
    bicycle = tourer()
    layout = lay_out(bicycle)
    results = solve(mesh(bicycle, layout=layout), load_cases(bicycle, layout))
    for result in results.values():
        table = energy_shares(result)
        rest = sum(table.springs.values()) / table.total
        assert sum(table.tubes.values()) + rest == pytest.approx(1.0, abs=1e-12)
        assert table.imbalance < 1e-9
        assert list(table.tubes.values()) == sorted(table.tubes.values(), reverse=True)
        assert np.all(table.elements >= 0)
