"""The beam element itself: identities of its stiffness, closed forms, releases, local axes and what it refuses.

Outside facts: the cantilever and clamped-beam formulas of any handbook (Roark 7th ed. 2002, Table 8.1, from memory)
with the shear term of a shear-flexible beam, delta = P L³ / 3 EI + P L / G As, by the unit-load method.
"""

from dataclasses import replace

import numpy as np
import pytest
from droptrail.model.errors import ModelError
from droptrail.model.mechanics.beam import (
    Beams,
    local_axes,
    shear_parameter,
    to_global,
    uniform_load_forces,
)
from droptrail.model.mechanics.frame_model import Element, FrameModel, LoadCase, MemberLoad
from droptrail.model.mechanics.solve import solve
from droptrail.model.tubes.sections import Section
from helpers_frames import ALL_SIX, cantilever, chain, tube_material
from hypothesis import assume, given, settings
from hypothesis import strategies as st

STEEL = tube_material(205e3, 0.29, 7.85e-9)
UNEVEN = Section(78.0, 7.1e3, 4.3e3, 9.9e3, 40.0, 55.0)  # Iy, Iz, Asy, Asz all different
RIGID_IN_SHEAR = replace(UNEVEN, Asy=np.inf, Asz=np.inf)
LENGTH = 400.0
numbers = st.floats(-1.0, 1.0, allow_subnormal=False)
vectors = st.tuples(numbers, numbers, numbers)


def beams(section: Section = UNEVEN, axis=(LENGTH, 0.0, 0.0), vxy=(0.0, 1.0, 0.0), **more) -> Beams:
    return Beams.of(
        FrameModel(
            {"a": (0.0, 0.0, 0.0), "b": tuple(axis)},
            (Element("e", "a", "b", section, STEEL, vxy, **more),),
        )
    )


def flexibility(section: Section, length: float) -> np.ndarray:
    """(6, 6) motion of the free end j of a cantilever under unit end loads, by the unit-load method."""
    e, g = STEEL.E, STEEL.G
    f = np.diag(
        [
            length / (e * section.A),
            length**3 / (3 * e * section.Iz) + length / (g * section.Asy),
            length**3 / (3 * e * section.Iy) + length / (g * section.Asz),
            length / (g * section.J),
            length / (e * section.Iy),
            length / (e * section.Iz),
        ]
    )
    f[1, 5] = f[5, 1] = length**2 / (2 * e * section.Iz)
    f[2, 4] = f[4, 2] = -(length**2) / (
        2 * e * section.Iy
    )  # a push along z turns the end the other way round about y
    return f


# --- stiffness ----------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("section", [UNEVEN, RIGID_IN_SHEAR], ids=["shear", "euler"])
def test_clamped_at_i_the_end_gives_as_the_unit_load_method_says(section):
    k = beams(section).k_local[0]
    np.testing.assert_allclose(
        np.linalg.inv(k[6:, 6:]), flexibility(section, LENGTH), rtol=1e-9, atol=1e-16
    )


@pytest.mark.parametrize("section", [UNEVEN, RIGID_IN_SHEAR], ids=["shear", "euler"])
def test_clamped_at_j_the_other_end_mirrors_it(section):
    """Turned round about y, forces and motions along x and z, and turns about them, change sign."""
    turned = np.diag([-1.0, 1, -1, -1, 1, -1])
    k = beams(section).k_local[0]
    np.testing.assert_allclose(
        np.linalg.inv(k[:6, :6]),
        turned @ flexibility(section, LENGTH) @ turned,
        rtol=1e-9,
        atol=1e-16,
    )


def rigid_motions(xyz: np.ndarray) -> np.ndarray:
    """(12, 6) unit slides and turns about the origin of two end nodes."""
    out = np.zeros((12, 6))
    for end in range(2):
        out[6 * end : 6 * end + 3, :3] = out[6 * end + 3 : 6 * end + 6, 3:] = np.eye(3)
        for axis in range(3):
            out[6 * end : 6 * end + 3, 3 + axis] = np.cross(np.eye(3)[axis], xyz[end])
    return out


@settings(deadline=None, max_examples=40)
@given(axis=vectors.filter(lambda v: np.linalg.norm(v) > 0.1), vxy=vectors, start=vectors)
def test_symmetric_no_force_under_rigid_motion_and_stiff_in_all_the_rest(axis, vxy, start):
    assume(np.linalg.norm(np.cross(axis, vxy)) > 0.05)
    nodes = {
        "a": tuple(100 * np.array(start)),
        "b": tuple(100 * np.array(start) + 500 * np.array(axis)),
    }
    model = FrameModel(nodes, (Element("e", "a", "b", UNEVEN, STEEL, tuple(vxy)),))
    k = Beams.of(model).k_global[0]
    scale = np.sqrt(np.outer(k.diagonal(), k.diagonal()))
    assert np.abs(k - k.T).max() <= 1e-12 * np.abs(k).max()
    moved = rigid_motions(model.xyz)
    assert np.abs(k @ moved).max() <= 1e-9 * (np.abs(k) @ np.abs(moved)).max()
    values = np.linalg.eigvalsh(k / scale)
    assert (np.abs(values) < 1e-9).sum() == 6
    assert values.min() > -1e-9


def test_the_identities_notice_one_wrong_entry():
    k = beams().k_global[0]
    moved = rigid_motions(np.array([[0, 0, 0], [LENGTH, 0, 0]]))
    k[1, 5] *= 1.001
    assert np.abs(k @ moved).max() > 1e-9 * (np.abs(k) @ np.abs(moved)).max()


def test_shear_parameter():
    """Φ = 12 EI / (G As L²); none without shear flexibility."""
    assert shear_parameter(np.array([2.0]), np.array([3.0]), np.array([4.0]))[0] == pytest.approx(
        12 * 2 / (3 * 16)
    )
    assert shear_parameter(np.array([2.0]), np.array([np.inf]), np.array([4.0]))[0] == 0.0


def test_turning_all_matrices_is_the_plain_product():
    rng = np.random.default_rng(1)
    k = rng.normal(size=(5, 12, 12))
    k += k.transpose(0, 2, 1)
    turns = np.array([np.linalg.qr(rng.normal(size=(3, 3)))[0] for _ in range(5)])
    for one, turn, found in zip(k, turns, to_global(k, turns), strict=True):
        whole = np.kron(np.eye(4), turn)
        np.testing.assert_allclose(found, whole.T @ one @ whole, rtol=0, atol=1e-13)


# --- axes ---------------------------------------------------------------------------------------------------------
@settings(deadline=None, max_examples=40)
@given(axis=vectors, vxy=vectors)
def test_local_axes_are_right_handed_and_y_leans_to_the_orientation_vector(axis, vxy):
    assume(np.linalg.norm(np.cross(axis, vxy)) > 1e-3)
    length, (turn,) = local_axes(np.array([axis]), np.array([vxy]), ["e"])
    x, y, z = turn
    assert length[0] == pytest.approx(np.linalg.norm(axis))
    np.testing.assert_allclose(x * length[0], axis, atol=1e-12)
    np.testing.assert_allclose(turn @ turn.T, np.eye(3), atol=1e-12)
    np.testing.assert_allclose(np.cross(x, y), z, atol=1e-12)
    assert y @ np.array(vxy) > 0  # +y on the side of the vector ...
    assert z @ np.array(vxy) == pytest.approx(0, abs=1e-12)  # ... which lies in the local x-y plane


@pytest.mark.parametrize(
    ("axis", "vxy", "words"),
    [
        (
            (1.0, 0, 0),
            (0.0, 0.0, 0.0),
            "element second has an orientation vector that is missing or parallel",
        ),
        (
            (1.0, 0, 0),
            (-3.0, 0.0, 0.0),
            "element second has an orientation vector that is missing or parallel",
        ),
        (
            (1.0, 0, 0),
            (1.0, 1e-12, 0.0),
            "element second has an orientation vector that is missing or parallel",
        ),
        ((0.0, 0, 0), (0.0, 1.0, 0.0), "element second has no length"),
    ],
)
@pytest.mark.filterwarnings("ignore:invalid value")
def test_axes_that_cannot_be_are_refused_by_name(axis, vxy, words):
    with pytest.raises(ModelError, match=words):
        local_axes(
            np.array([(0.0, 1.0, 0.0), axis]), np.array([(1.0, 0.0, 0.0), vxy]), ["first", "second"]
        )


def test_a_small_orientation_vector_will_do():
    _, (turn,) = local_axes(np.array([(500.0, 0, 0)]), np.array([(0.0, 0.0, 1e-7)]), ["e"])
    np.testing.assert_allclose(turn, [[1, 0, 0], [0, 0, 1], [0, -1, 0]], atol=1e-15)


def test_turning_end_vectors_there_and_back():
    b = beams(axis=(100.0, 200.0, -50.0), vxy=(0.3, 1.0, 0.2))
    v = np.arange(12.0)[None]
    local = b.turn(v, to_local=True)
    np.testing.assert_allclose(local[0, 3:6], b.rotation[0] @ v[0, 3:6], rtol=1e-14)
    np.testing.assert_allclose(b.turn(local, to_local=False), v, atol=1e-13)


def test_dof_numbers_follow_the_nodes():
    model = FrameModel(
        {"a": (0.0, 0, 0), "b": (1.0, 0, 0), "c": (2.0, 0, 0)},
        (Element("e", "c", "a", UNEVEN, STEEL, (0.0, 1.0, 0.0)),),
    )
    assert Beams.of(model).dofs.tolist() == [[12, 13, 14, 15, 16, 17, 0, 1, 2, 3, 4, 5]]


# --- uniform loads ------------------------------------------------------------------------------------------------
def test_uniform_load_is_the_integral_of_the_cubic_shapes():
    """Nodal forces that replace a load do the same work on the Hermite cubics and on the linear stretch."""
    length, w = 3.0, np.array([2.0, 5.0, 7.0])
    s = np.polynomial.legendre.leggauss(6)
    x, weight = length * (1 + s[0]) / 2, length * s[1] / 2
    t = x / length
    near, near_turn = 1 - 3 * t**2 + 2 * t**3, x * (1 - t) ** 2
    far, far_turn = 3 * t**2 - 2 * t**3, x * (t**2 - t)

    def work(shape):
        return float(weight @ shape)

    expected = [
        w[0] * work(1 - t),
        w[1] * work(near),
        w[2] * work(near),
        0.0,
        -w[2] * work(near_turn),
        w[1] * work(near_turn),
        w[0] * work(t),
        w[1] * work(far),
        w[2] * work(far),
        0.0,
        -w[2] * work(far_turn),
        w[1] * work(far_turn),
    ]
    np.testing.assert_allclose(uniform_load_forces(w, length), expected, rtol=1e-12, atol=1e-12)


@pytest.mark.parametrize("frame", ["local", "global"])
def test_a_load_in_the_global_frame_is_turned(frame):
    """An upright element: global x is across it, along local -y with this orientation."""
    b = beams(axis=(0.0, LENGTH, 0.0), vxy=(-1.0, 0.0, 0.0))
    w = (3.0, 0.0, 0.0) if frame == "global" else (0.0, -3.0, 0.0)
    forces = b.load_forces((MemberLoad("e", w, frame),))[0]
    assert forces[[1, 5, 7, 11]] == pytest.approx(
        [-600, -3 * LENGTH**2 / 12, -600, 3 * LENGTH**2 / 12]
    )
    assert np.count_nonzero(np.abs(forces) > 1e-9) == 4


def test_loads_on_one_element_add_up():
    b = beams()
    one, two = MemberLoad("e", (0.0, 1.0, 0.0)), MemberLoad("e", (0.0, 2.0, 0.0))
    np.testing.assert_allclose(b.load_forces((one, two)), 3 * b.load_forces((one,)), rtol=1e-14)


def test_a_load_on_an_element_that_is_not_there_is_refused():
    with pytest.raises(ModelError, match="a load names element 'f', which the model does not have"):
        beams().load_forces((MemberLoad("f", (0.0, 1.0, 0.0)),))


# --- releases -----------------------------------------------------------------------------------------------------
def test_released_ends_carry_nothing_and_the_rest_is_the_shorter_list_of_flexibilities():
    """Released at j in bending about z, i clamped: what is left resists as 3 EI / L³ with shear in series."""
    k = beams(releases=(11,)).k_local[0]
    assert np.abs(k[11]).max() < 1e-6
    assert np.abs(k[:, 11]).max() < 1e-6
    expected = 1 / (LENGTH**3 / (3 * STEEL.E * UNEVEN.Iz) + LENGTH / (STEEL.G * UNEVEN.Asy))
    assert k[7, 7] == pytest.approx(expected, rel=1e-12)
    assert k[8, 8] == beams().k_local[0][8, 8]  # the other plane is untouched


def test_a_propped_beam_made_by_a_release_carries_three_and_five_eighths():
    """Clamped and pinned beam under uniform load, 5/8 and 3/8 of it and w L² / 8 (Roark, Table 8.1 case 2c)."""
    b = beams(RIGID_IN_SHEAR, releases=(11,))
    forces = b.load_forces((MemberLoad("e", (0.0, -2.0, 0.0), "local"),))[0]
    assert forces[[1, 5, 7, 11]] == pytest.approx(
        [-2 * LENGTH * 5 / 8, -2 * LENGTH**2 / 8, -2 * LENGTH * 3 / 8, 0.0]
    )


def test_unreleased_models_share_one_matrix_and_released_ones_do_not_change_it():
    plain, released = beams(), beams(releases=(5, 11))
    assert plain.k_local is plain.k_full
    assert np.array_equal(plain.k_full, released.k_full)
    assert released.released == {0: (5, 11)}
    assert plain.released == {}


def test_releases_that_leave_nothing_are_refused_by_name():
    with pytest.raises(
        ModelError, match="element e: with these end releases it cannot carry anything"
    ):
        _ = beams(releases=(3, 9)).k_local  # torsion let go at both ends


def test_a_pinned_truss_bar_still_pulls():
    b = beams(releases=(4, 5, 10, 11))
    k = b.k_local[0]
    assert k[0, 0] == pytest.approx(STEEL.E * UNEVEN.A / LENGTH)
    assert np.abs(k[[1, 2]]).max() < 1e-6


# --- in a frame ---------------------------------------------------------------------------------------------------
def test_one_element_or_twenty_the_end_loaded_beam_is_the_same():
    """Nodal exactness: end loads need no mesh."""
    load = LoadCase("all", {"tip": (700.0, 300.0, -200.0, 4e3, 5e3, -6e3)}, supports={"0": ALL_SIX})
    results = []
    for pieces in (1, 20):
        model = cantilever(UNEVEN, STEEL, LENGTH, pieces)
        case = replace(load, nodal={str(pieces): load.nodal["tip"]})
        results.append(solve(model, [case])["all"].displacement(str(pieces)))
    np.testing.assert_allclose(results[0], results[1], rtol=1e-9)
    np.testing.assert_allclose(
        results[0], flexibility(UNEVEN, LENGTH) @ load.nodal["tip"], rtol=1e-9
    )


def test_patch_a_bent_chain_of_uneven_pieces_under_pure_bending_turns_evenly():
    """Constant curvature: every element has the same end moment, whatever its length."""
    cuts = [0.0, 30.0, 170.0, 180.0, 400.0]
    model = chain([(x, 0.0, 0.0) for x in cuts], UNEVEN, STEEL)
    result = solve(model, [LoadCase("m", {"4": (0, 0, 0, 0, 0, 1e4)}, supports={"0": ALL_SIX})])[
        "m"
    ]
    np.testing.assert_allclose(result.end_forces[:, 11], 1e4, rtol=1e-9)
    np.testing.assert_allclose(result.end_forces[:, 5], -1e4, rtol=1e-9)
    np.testing.assert_allclose(
        result.u[:, 5], 1e4 * np.array(cuts) / (STEEL.E * UNEVEN.Iz), rtol=1e-9, atol=1e-15
    )
    np.testing.assert_allclose(
        result.u[:, 1], 1e4 * np.array(cuts) ** 2 / (2 * STEEL.E * UNEVEN.Iz), rtol=1e-9, atol=1e-15
    )


# --- numbers that overflow ----------------------------------------------------------------------------------------
def three(**second) -> FrameModel:
    model = chain([(100.0 * k, 0.0, 0.0) for k in range(4)], UNEVEN, STEEL)
    a, b, c = model.elements
    return replace(model, elements=(a, replace(b, **second), c))


def test_an_element_stiffer_than_any_number_is_named():
    with pytest.raises(
        ModelError,
        match=r"element beam\.2 is stiffer than any number that can be worked with; check",
    ):
        Beams.of(three(material=replace(STEEL, E=1e110, G=4e109)))
    assert Beams.of(three(material=replace(STEEL, E=1e80, G=4e79))).k_full.max() > 1e79


def test_an_element_longer_than_any_number_is_named():
    far = three()
    with pytest.raises(
        ModelError,
        match=r"element beam\.3 is longer than any number that can be worked with; check",
    ):
        Beams.of(replace(far, nodes={**far.nodes, "3": (1e120, 0.0, 0.0)}))
