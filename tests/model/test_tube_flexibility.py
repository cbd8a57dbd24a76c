"""Exact tube stiffness: tapered cantilevers in closed form, the prismatic element, fine meshes with observed order."""

import json
from dataclasses import replace
from math import pi
from pathlib import Path

import numpy as np
import pytest
from droptrail.model.errors import ModelError
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import MeshOptions, mesh
from droptrail.model.mechanics.beam import Beams
from droptrail.model.mechanics.solve import solve
from droptrail.model.reanalysis.condensed import joint_nodes, segments
from droptrail.model.reanalysis.tube_flexibility import tube_flexibilities, tube_stiffnesses
from droptrail.model.tubes.tube import Tube, size_at
from helpers_bicycle import STEEL, tourer
from helpers_frames import chain, tip_load, tube_material

CASES = json.loads(
    (Path(__file__).parent.parent / "data" / "frame_cases.json").read_text(encoding="utf-8")
)["cases"]
S15 = next(case for case in CASES if case["id"] == "S15")
DOF = {"ux": 0, "uy": 1, "uz": 2, "rx": 3, "ry": 4, "rz": 5}
MATERIAL = replace(tube_material(210e3, 0.3), G=81e3)


class SolidCone(Tube):
    """No tube of the trade: its bar-thick wall is refused for the thin end, where it is thinner too."""

    def __post_init__(self):
        pass


SOLID_CONE = SolidCone(MATERIAL, 40.0, 20.0, (20.0, 10.0), (0.0,), (1000.0,))
TUBE_CONE = Tube(MATERIAL, 40.0, 25.0, (1.0,))
TUBES = {"cone": SOLID_CONE, "tube": TUBE_CONE}
BUTTED_OVAL = Tube(STEEL, 30.0, 24.0, (0.9, 0.6, 0.8), (60.0, 40.0), (25.0, 30.0), oval_width=36.0)


def flexibility(tube, length, shear=True):
    return tube_flexibilities([tube], length, shear)[0]


def tube_stiffness(tube, length, shear=True, start=0.0, end=None):
    return tube_stiffnesses([tube], length, shear, start, end)[0]


@pytest.mark.parametrize(
    "reference", S15["references"], ids=lambda r: f"{r['model']}-{r['lc']}-{r['dof']}"
)
def test_tapered_cantilevers_of_the_textbook(reference):
    """Gere & Timoshenko 1997, formulas from memory; the tube's integral by quadrature, printed to all digits."""
    model = S15["models"][reference["model"]]
    load = np.array(model["loads"][reference["lc"]]["nodal"]["65"])
    moved = flexibility(TUBES[reference["model"]], 1000.0, shear=False) @ load
    assert abs(moved[DOF[reference["dof"]]]) == pytest.approx(abs(reference["value"]), rel=1e-11)


def test_the_cone_by_its_formulas():
    """4 P L / (pi E dA dB) in tension and P L^3 / (24 E I_tip) in bending when the diameter doubles."""
    f, tip = flexibility(SOLID_CONE, 1000.0, shear=False), pi / 64 * 20.0**4
    assert f[0, 0] == pytest.approx(4 * 1000 / (pi * 210e3 * 20 * 40), rel=1e-12)
    assert f[1, 1] == pytest.approx(1000.0**3 / (24 * 210e3 * tip), rel=1e-12)
    assert f[2, 2] == pytest.approx(f[1, 1], rel=1e-12)


@pytest.mark.parametrize("shear", [True, False])
@pytest.mark.parametrize(
    "tube", [Tube(STEEL, 28.6, 28.6, (0.8,)), Tube(STEEL, 30, 30, (0.8,), oval_width=24.0)]
)
def test_a_plain_tube_is_the_beam_element(tube, shear):
    section = tube.section(tube.od_start, 0.8)
    if not shear:
        section = replace(section, Asy=float("inf"), Asz=float("inf"))
    model = chain([(0, 0, 0), (420.0, 0, 0)], section, STEEL)
    k = tube_stiffness(tube, 420.0, shear)
    assert k == pytest.approx(Beams.of(model).k_full[0], abs=1e-13 * abs(k).max())
    assert np.allclose(k, k.T, rtol=0, atol=0)


def stepped(tube, length, pieces):
    """(6, 6) tip flexibility of a chain of prismatic elements with middle sizes, from the solver."""
    at = np.linspace(0, length, pieces + 1)
    model = chain(
        [(float(s), 0.0, 0.0) for s in at], tube.section(*size_at(tube, length, 1.0)), tube.material
    )
    elements = tuple(
        replace(e, section=tube.section(*size_at(tube, length, float(s))))
        for e, s in zip(model.elements, (at[1:] + at[:-1]) / 2, strict=True)
    )
    model = replace(model, elements=elements)
    cases = [replace(tip_load(model, *load), name=str(k)) for k, load in enumerate(np.eye(6))]
    return np.array([r.displacement(str(pieces)) for r in solve(model, cases).values()]).T


@pytest.mark.parametrize(
    "tube",
    [
        TUBE_CONE,
        Tube(STEEL, 24.0, 13.0, (1.0,)),
        Tube(STEEL, 30.0, 30.0, (0.9, 0.5), (0.0,), (400.0,), oval_width=22.0),
    ],
)
def test_fine_meshes_come_to_it_with_order_two(tube):
    exact = flexibility(tube, 400.0)
    error = [abs(stepped(tube, 400.0, n) - exact).max() / abs(exact).max() for n in (8, 16, 32)]
    orders = np.log2(np.divide(error[:-1], error[1:]))
    assert orders == pytest.approx([2.0, 2.0], abs=0.02)
    assert error[-1] < 1e-3


def test_abrupt_steps_are_exact_on_a_mesh_that_meets_them():
    tube = Tube(STEEL, 28.6, 28.6, (0.8, 0.5, 0.9), (80.0, 120.0))
    assert stepped(tube, 400.0, 10) == pytest.approx(flexibility(tube, 400.0), rel=1e-9, abs=1e-15)


def test_stretches_in_a_row_are_the_whole_tube():
    """Two stretches assembled and the middle node condensed out give the stiffness of the whole."""
    length, cut = 380.0, 133.0
    k = np.zeros((18, 18))
    k[:12, :12] += tube_stiffness(BUTTED_OVAL, length, start=0.0, end=cut)
    k[6:, 6:] += tube_stiffness(BUTTED_OVAL, length, start=cut, end=length)
    ends, middle = [*range(6), *range(12, 18)], list(range(6, 12))
    whole = k[np.ix_(ends, ends)] - k[np.ix_(ends, middle)] @ np.linalg.solve(
        k[np.ix_(middle, middle)], k[np.ix_(middle, ends)]
    )
    expected = tube_stiffness(BUTTED_OVAL, length)
    assert whole == pytest.approx(expected, abs=1e-9 * abs(expected).max())


def test_variants_together_are_variants_one_by_one():
    tubes = [BUTTED_OVAL, Tube(STEEL, 28.6, 28.6, (0.8,)), SOLID_CONE]
    together = tube_stiffnesses(tubes, 1000.0)
    for tube, k in zip(tubes, together, strict=True):
        assert np.array_equal(k, tube_stiffness(tube, 1000.0))


def test_turning_the_tube_round_swaps_its_ends():
    forward = Tube(STEEL, 24.0, 13.0, (1.0, 0.7), (50.0,), (60.0,))
    back = Tube(STEEL, 13.0, 24.0, (0.7, 0.7, 1.0), (0.0, 50.0), (0.0, 60.0))
    turn = np.diag([-1.0, 1.0, -1.0] * 4)[:, [*range(6, 12), *range(6)]]
    k = tube_stiffness(forward, 350.0)
    assert turn @ tube_stiffness(back, 350.0) @ turn.T == pytest.approx(k, abs=1e-10 * abs(k).max())


@pytest.mark.parametrize("member", ["down_tube", "chainstay_right", "seat_tube", "top_tube"])
def test_the_tourers_own_mesh_is_close_and_gets_closer(member):
    """Worst: the stay, a cone of twelve steps, 0.21 % too stiff; four times less with half the element length."""
    bike = tourer()
    layout = lay_out(bike)
    tube = next(m for m in layout.members if m.name == member)
    errors = []
    for refine in (1, 2):
        model = mesh(bike, MeshOptions(bridges=False).refined(refine), layout)
        stretch = segments(Beams.of(model), member, joint_nodes(model))[0]
        end = float(np.linalg.norm(stretch.chord))
        exact = tube_flexibilities([bike.tubes[tube.tube]], tube.length, start=0.0, end=end)[0]
        errors.append(float(abs(stretch.flexibility - exact).max() / abs(exact).max()))
    assert errors[0] < 2.2e-3
    assert errors[0] / errors[1] == pytest.approx(4.0, abs=0.3)


@pytest.mark.parametrize(("start", "end"), [(-1.0, 50.0), (50.0, 50.0), (0.0, 401.0)])
def test_a_stretch_beyond_the_tube_is_refused(start, end):
    with pytest.raises(ModelError, match="does not lie on a tube of 400 mm"):
        tube_stiffness(TUBE_CONE, 400.0, start=start, end=end)


def test_butts_that_do_not_fit_are_refused():
    with pytest.raises(ModelError, match="butts and tapers take 155"):
        tube_stiffness(BUTTED_OVAL, 120.0)
