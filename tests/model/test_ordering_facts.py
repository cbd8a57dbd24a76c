"""Ordering facts of the trade (common practice, no source) and invariances of the whole solver.

The facts are for a light butted steel tourer: what a larger top tube does, what a larger down tube does. Where the
model departs from a saying, the test says why.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from droptrail.converters.inputs import read_input
from droptrail.model.cases.library import load_cases
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.mechanics.frame_model import Element
from droptrail.model.mechanics.solve import solve
from helpers_frames import random_frame

SHEET = Path(__file__).parents[2] / "sample_drawings" / "tourer_700c.csv"


@pytest.fixture(scope="module")
def gains():
    """Percent change of every stiffness for a top tube, a down tube, and both, 3.2 mm larger."""
    bicycle = read_input(SHEET).bicycle

    def stiffness(*tubes: str) -> dict[tuple[str, str], float]:
        larger = {name: bicycle.tubes[name].scaled(diameter=3.2) for name in tubes}
        changed = replace(bicycle, tubes={**bicycle.tubes, **larger})
        layout = lay_out(changed)
        results = solve(mesh(changed, layout=layout), load_cases(changed, layout))
        return {
            (n, m): v for n, r in results.items() for m, v in r.stiffness.items() if v is not None
        }

    base = stiffness()
    sets = {"top": ("top_tube",), "down": ("down_tube",), "both": ("top_tube", "down_tube")}
    return {
        name: {key: 100 * (v / base[key] - 1) for key, v in stiffness(*tubes).items()}
        for name, tubes in sets.items()
    }


SIDE, TWIST = ("side_push", "head_sideways"), ("frame_torsion", "frame_twist")


def test_both_tubes_stiffen_the_head_sideways_in_like_measure(gains):
    """On the determinate stand the down tube matters as much as the top tube; which of them leads depends on what
    is larger already."""
    assert 0.4 < gains["top"][SIDE] / gains["down"][SIDE] < 2.5
    assert gains["down"][SIDE] > 3


def test_larger_down_tube_stiffens_the_bottom_bracket_in_torsion_more(gains):
    assert gains["down"][TWIST] > 2 * gains["top"][TWIST] > 0


@pytest.mark.parametrize("figure", [SIDE, TWIST])
def test_both_together_roughly_add_up(gains, figure):
    assert gains["both"][figure] == pytest.approx(
        gains["top"][figure] + gains["down"][figure], rel=0.15
    )


def test_vertical_stiffness_changes_by_a_few_percent_only(gains):
    vertical = [
        v for tubes in gains.values() for (case, _), v in tubes.items() if case == "saddle_push"
    ]
    assert len(vertical) == 3
    assert all(0 < v < 7 for v in vertical)


# --- invariances ------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("seed", range(8))
def test_members_turned_end_for_end_change_nothing(seed):
    model, case = random_frame(seed)
    turned = replace(model, elements=tuple(_reversed(e) for e in model.elements))
    a, b = solve(model, [case])[case.name], solve(turned, [case])[case.name]
    np.testing.assert_allclose(b.u, a.u, rtol=1e-8, atol=1e-10 * np.abs(a.u).max())


def _reversed(e: Element) -> Element:
    """The same beam from j to i: x and z turn round, y stays; released components go with their ends."""
    return replace(e, i=e.j, j=e.i, releases=tuple(sorted((r + 6) % 12 for r in e.releases)))


@pytest.mark.parametrize("seed", range(8))
def test_nodes_renumbered_change_nothing(seed):
    model, case = random_frame(seed)
    order = list(model.nodes)
    np.random.default_rng(seed).shuffle(order)
    shuffled = replace(
        model, nodes={name: model.nodes[name] for name in order}, elements=model.elements[::-1]
    )
    a, b = solve(model, [case])[case.name], solve(shuffled, [case])[case.name]
    for node in model.nodes:
        np.testing.assert_allclose(
            b.displacement(node), a.displacement(node), rtol=1e-8, atol=1e-10 * np.abs(a.u).max()
        )


@pytest.mark.parametrize("factor", [1e-3, 25.4])
def test_another_unit_of_length_gives_the_scaled_answer(factor):
    """Lengths in metres or in 1/25.4 mm: displacements scale with the unit, rotations and forces stay."""
    model, case = random_frame(3, links=False)
    scaled = replace(
        model,
        nodes={n: tuple(factor * v for v in xyz) for n, xyz in model.nodes.items()},
        elements=tuple(_scaled(e, factor) for e in model.elements),
        springs=(),
        masses=(),
    )
    plain = replace(model, springs=(), masses=())
    loads = {n: (*f[:3], *(factor * m for m in f[3:])) for n, f in case.nodal.items()}
    bare = replace(case, springs=(), member_loads=(), measures=())
    a = solve(plain, [bare])[case.name]
    b = solve(scaled, [replace(bare, nodal=loads)])[case.name]
    size = np.abs(a.u[:, :3]).max()
    np.testing.assert_allclose(b.u[:, :3] / factor, a.u[:, :3], rtol=1e-7, atol=1e-9 * size)
    np.testing.assert_allclose(
        b.u[:, 3:], a.u[:, 3:], rtol=1e-7, atol=1e-9 * np.abs(a.u[:, 3:]).max()
    )


def _scaled(e: Element, factor: float) -> Element:
    s, m = e.section, e.material
    section = replace(
        s,
        A=s.A * factor**2,
        Iy=s.Iy * factor**4,
        Iz=s.Iz * factor**4,
        J=s.J * factor**4,
        Asy=s.Asy * factor**2,
        Asz=s.Asz * factor**2,
    )
    return replace(e, section=section, material=replace(m, E=m.E / factor**2, G=m.G / factor**2))
