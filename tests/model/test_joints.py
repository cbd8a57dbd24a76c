"""Joints that give: the spring of full compliance, the law of the study, and what uses them."""

from dataclasses import replace
from functools import partial
from math import inf

import numpy as np
import pytest
from droptrail.converters.files.model_file.read_model import read_model
from droptrail.converters.files.model_file.write_model import write_model
from droptrail.model.cases.library import load_cases
from droptrail.model.choice.compare import compare
from droptrail.model.choice.joint_turns import joint_turns
from droptrail.model.choice.variants import Reshaped, Variant
from droptrail.model.errors import InputError, ModelError
from droptrail.model.frame.joint_findings import joint_findings
from droptrail.model.frame.joint_places import tube_joints
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import MeshOptions, mesh
from droptrail.model.frame.rigid_zones import refuse_swallowed
from droptrail.model.frame.tube_mass import mass_table
from droptrail.model.joints import law, stretch, surface
from droptrail.model.joints.law import joint_compliance
from droptrail.model.joints.shape import JointShape
from droptrail.model.mechanics.energy import energy_shares
from droptrail.model.mechanics.frame_model import Element, FrameModel, LoadCase, soft_joint
from droptrail.model.mechanics.solve import solve
from droptrail.model.postprocess.sensitivity import gradients
from droptrail.model.reanalysis.fast_base import build_base
from droptrail.model.reanalysis.fast_grid import FastGrid
from droptrail.model.reanalysis.fast_options import condense_options
from droptrail.model.tubes.materials import Material, find_material
from droptrail.model.tubes.sections import Section, round_tube
from droptrail.model.vibration.modes import modes
from droptrail.model.vibration.setup import vibration_model
from droptrail.validation.opensees import available, cross_check, modes_opensees
from helpers_bicycle import grown, tourer
from helpers_plans import SHEETS, sample
from helpers_search import chosen_in_full
from hypothesis import given, settings
from hypothesis import strategies as st

STEEL = Material("steel", 205000.0, 205000.0 / 2.6, 7.85e-9)
CASES = ("side_push", "frame_torsion", "saddle_push")
BARE = tourer().joined("bare")
LAYOUT = lay_out(BARE)
needs_opensees = pytest.mark.skipif(available() is not None, reason=str(available()))


def random_compliance(seed=3):
    half = np.random.default_rng(seed).normal(size=(6, 6))
    units = np.array([1e-3, 1e-3, 1e-3, 1e-5, 1e-5, 1e-5])
    return (half @ half.T + np.eye(6)) * np.outer(units, units)


def bicycle_results(bicycle, names=CASES):
    layout = lay_out(bicycle)
    return solve(mesh(bicycle, layout=layout), load_cases(bicycle, layout, names))


# --- the spring ------------------------------------------------------------------------------------------------
def jointed_cantilever(compliance, axes=((1.0, 0.0, 0.0), (0.0, 1.0, 0.0))):
    """A bar of 300 mm along x, held at a node that it meets through a joint."""
    nodes = {"wall": (0.0, 0.0, 0.0), "root": (0.0, 0.0, 0.0), "tip": (300.0, 0.0, 0.0)}
    section = Section(100.0, 2000.0, 3000.0, 4000.0, inf, inf)
    bar = Element("bar", "root", "tip", section, STEEL, (0.0, 1.0, 0.0))
    return FrameModel(nodes, (bar,), (soft_joint("joint", "wall", "root", compliance, *axes),))


def test_a_joint_adds_its_compliance_carried_to_the_tip():
    """u_tip = bar + Hᵀ C H f, H carrying a force from tip to root: statics (Przemieniecki 1968 ch. 7, from memory);
    the bar's own by the handbook's PL³/3EI, PL²/2EI, ML/EI."""
    c = random_compliance()
    load = np.array([30.0, -20.0, 10.0, 4e3, -2e3, 5e3])
    case = LoadCase("tip", {"tip": tuple(load)}, supports={"wall": (1,) * 6})
    result = solve(jointed_cantilever(c), [case])["tip"]
    carry = np.eye(6)
    length = 300.0
    carry[4, 2], carry[5, 1] = -length, length
    e, g = STEEL.E, STEEL.G
    moved = [length / e / 100, length**3 / 3 / e / 3000, length**3 / 3 / e / 2000]
    turned = [length / g / 4000, length / e / 2000, length / e / 3000]
    bar = np.diag([*moved, *turned])
    bar[1, 5] = bar[5, 1] = length**2 / 2 / e / 3000
    bar[2, 4] = bar[4, 2] = -(length**2) / 2 / e / 2000
    expected = (bar + carry.T @ c @ carry) @ load
    assert result.displacement("tip") == pytest.approx(expected, rel=1e-9)


def test_a_joint_in_turned_axes_gives_the_turned_answer():
    c = random_compliance()
    axes = ((0.6, 0.0, 0.8), (0.0, 1.0, 0.0))
    z = np.cross(*axes)
    turn = np.kron(np.eye(2), np.array([*axes, z]))
    case = LoadCase("tip", {"tip": (3.0, 2.0, 1.0, 40.0, 50.0, 60.0)}, supports={"wall": (1,) * 6})
    turned = solve(jointed_cantilever(c, axes), [case])["tip"]
    plain = solve(jointed_cantilever(turn.T @ c @ turn), [case])["tip"]
    assert turned.u == pytest.approx(plain.u, rel=1e-9)


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda c: c[:5], "six by six"),
        (lambda c: c * np.nan, "finite"),
        (lambda c: c + np.triu(c, 1), "not symmetric"),
        (lambda c: c - np.diag([0, 0, 0, 0, 2 * c[4, 4], 0]), "above zero"),
        (lambda c: np.outer(np.sqrt(np.diag(c)), np.sqrt(np.diag(c))), "not positive definite"),
    ],
)
def test_a_joint_that_cannot_be_is_refused(spoil, says):
    with pytest.raises(ModelError, match=says):
        soft_joint("j", "a", "b", spoil(random_compliance()))


def test_the_model_file_carries_joints():
    model = mesh(BARE)
    cases = load_cases(BARE, LAYOUT, CASES)
    written = write_model(model, cases)
    again, read = read_model(written)
    assert again.springs == model.springs
    assert any(spring.compliance for spring in again.springs)
    first = solve(model, cases)
    second = solve(again, read)
    for name, result in first.items():
        assert second[name].u == pytest.approx(result.u, rel=1e-12)


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda row: row["compliance"].pop(), "six rows"),
        (lambda row: row["compliance"][1].__setitem__(1, -1.0), "above zero"),
        (lambda row: row.__setitem__("j", None), "second one"),
    ],
)
def test_a_joint_in_a_file_that_cannot_be_is_refused_by_its_place(spoil, says):
    written = write_model(mesh(BARE), load_cases(BARE, LAYOUT, CASES))
    spoil(written["spring_elements"][0])
    with pytest.raises(InputError, match=rf"spring_elements\[0\].*{says}"):
        read_model(written)


# --- OpenSees ----------------------------------------------------------------------------------------------------
@needs_opensees
def test_opensees_gives_the_same_with_the_same_matrices():
    for check in cross_check(bicycle_results(BARE)).values():
        assert check.ok, check.summary


@needs_opensees
def test_opensees_takes_a_joint_whose_directions_feel_one_another():
    axes = ((0.6, 0.0, 0.8), (0.0, 1.0, 0.0))
    case = LoadCase("tip", {"tip": (3.0, 2.0, 1.0, 40.0, 50.0, 60.0)}, supports={"wall": (1,) * 6})
    results = solve(jointed_cantilever(random_compliance(), axes), [case])
    assert cross_check(results)["tip"].largest < 1e-10


@needs_opensees
def test_frequencies_with_joints_are_those_of_opensees():
    # Tubes alone: a blade is rigid down to its crown's lower side, which raises a frequency.
    welded = replace(tourer(), joints={"top_tube": "bare", "down_tube": "bare"})
    model, case = vibration_model(welded, "tyres")
    ours = modes(model, case.supports, case.springs, 10).frequencies_hz
    theirs = modes_opensees(model, case.supports, 10, case.springs)
    assert ours == pytest.approx(theirs, rel=1e-8)
    rigid_model, rigid_case = vibration_model(tourer(), "tyres")
    rigid = modes(rigid_model, rigid_case.supports, rigid_case.springs, 10).frequencies_hz
    # Rayleigh: nothing that gives can raise a frequency
    assert np.all(ours < rigid)


# --- the law -------------------------------------------------------------------------------------------------------
SHAPES = st.builds(
    JointShape,
    branch_diameter=st.floats(8, 80),
    branch_wall=st.floats(0.3, 3.5),
    chord_diameter=st.floats(10, 90),
    chord_wall=st.floats(0.3, 4.5),
    angle_deg=st.floats(15, 165),
    to_end=st.floats(0, 400),
    ring=st.booleans(),
    inserted=st.booleans(),
    kind=st.sampled_from(["bare", "fillet", "lug"]),
    fillet_radius=st.floats(0, 20),
    sleeve_length=st.floats(0, 60),
    sleeve_wall=st.floats(0, 4),
)


LENGTHS = (
    "branch_diameter",
    "branch_wall",
    "chord_diameter",
    "chord_wall",
    "to_end",
    "fillet_radius",
    "sleeve_length",
    "sleeve_wall",
)


@settings(deadline=None)  # the first example reads the study
@given(SHAPES)
def test_whatever_the_shape_the_compliance_is_positive_definite(shape):
    matrix = joint_compliance(shape, STEEL).matrix
    soft_joint("j", "a", "b", matrix)


@settings(deadline=None)
@given(SHAPES)
def test_more_metal_never_gives_more(shape):
    """Under no load whatever: a fillet, a sleeve or a filled chord adds to the energy of every movement (principle of
    least potential energy). A surface of its own promised 75 % more give of a saddle on lugs than on bare welds."""
    bare = joint_compliance(replace(shape, kind="bare", inserted=False), STEEL).matrix
    more = joint_compliance(shape, STEEL).matrix
    root = np.linalg.inv(np.linalg.cholesky(bare))
    assert np.linalg.eigvalsh(root @ more @ root.T)[-1] < 1 + 1e-9


@settings(deadline=None)
@given(SHAPES)
def test_what_a_lug_leaves_lies_within_what_lugs_left_in_shells(shape):
    """Whatever the bound by bare welds does: what is said of a force beside the moment, some lug of the study has."""
    rows = law.study("lug")
    changes = np.array([row.numbers - row.bare for row in rows])[:, :, 3:]
    family = law._change("lug")
    told = family.at(family.inside(law._ratios(shape)))[:, 3:]
    assert np.all(told <= changes.max(axis=0))
    assert np.all(told >= changes.min(axis=0))


@settings(deadline=None)
@given(st.integers(1, 6), st.integers(0, 10_000))
def test_the_nearest_that_gives_no_more(size, seed):
    """By the definition: below the bound under every load, unchanged where it is below it already."""
    rng = np.random.default_rng(seed)
    one, other = (half @ half.T + np.eye(size) for half in rng.normal(size=(2, size, size)))
    held = law.no_more_than(one, other)
    assert held == pytest.approx(held.T)
    assert np.linalg.eigvalsh(other - held)[0] > -1e-9 * np.linalg.norm(other)
    assert np.linalg.eigvalsh(held)[0] > 0
    assert law.no_more_than(held, other) == pytest.approx(held, rel=1e-7, abs=1e-9)
    assert law.no_more_than(one, one + other) == pytest.approx(one, rel=1e-7, abs=1e-9)


@settings(deadline=None)
@given(SHAPES, st.floats(0.2, 5), st.floats(0.1, 3))
def test_size_and_modulus_scale_it_as_similar_bodies_scale(shape, size, stiffer):
    """Similar linear bodies: turn by moment 1/(E D³), movement by force 1/(E D); identity of dimensions."""
    lengths = {name: size * getattr(shape, name) for name in LENGTHS}
    other = joint_compliance(
        replace(shape, **lengths), replace(STEEL, E=stiffer * STEEL.E, G=stiffer * STEEL.G)
    ).matrix
    powers = np.array([0.5, 0.5, 0.5, 1.5, 1.5, 1.5])
    expected = (
        joint_compliance(shape, STEEL).matrix / stiffer / size ** np.add.outer(powers, powers)
    )
    assert other == pytest.approx(expected, rel=1e-6)


def test_a_thicker_chord_gives_less():
    """Common practice, and every row of the published single joints."""
    thin = JointShape(28.6, 0.8, 36.0, 1.1, 78.3, 34.0, ring=True)
    one = joint_compliance(thin, STEEL).matrix.diagonal()
    other = joint_compliance(replace(thin, chord_wall=1.6), STEEL).matrix.diagonal()
    assert other[3] < 0.6 * one[3]
    assert other[5] < 0.6 * one[5]


def test_beyond_the_study_the_nearest_is_taken_and_said():
    inside = JointShape(28.6, 0.8, 36.0, 1.1, 78.3, 34.0, ring=True)
    assert joint_compliance(inside, STEEL).findings == ()
    thick = joint_compliance(replace(inside, chord_wall=9.0), STEEL)
    assert {finding.code for finding in thick.findings} == {"joint-outside-study"}
    assert any("chord diameter over wall 3.0" in finding.message for finding in thick.findings)
    for kind, sizes, item in (
        ("fillet", {"fillet_radius": 20.0}, "fillet radius over chord diameter 0.57"),
        ("lug", {"sleeve_length": 60.0, "sleeve_wall": 1.2}, "sleeve length over chord diameter"),
    ):
        found = joint_compliance(replace(inside, kind=kind, **sizes), STEEL).findings
        assert [finding.code for finding in found] == ["joint-outside-study"]
        assert item in found[0].message
        assert "the nearest studied joint is taken" in found[0].message


def test_a_rigid_joint_gives_nothing():
    shape = JointShape(28.6, 0.8, 36.0, 1.1, 78.3, 34.0, kind="rigid")
    assert not joint_compliance(shape, STEEL).matrix.any()


def test_the_error_bar_is_within_ten_per_cent():
    """Leave-one-out, over every joint that the law of bare joints is fitted to."""
    assert 0.01 < law._bare().doubt <= 0.025
    assert len(law.study("bare")) > 100


@pytest.mark.parametrize("family", ["bare", "fillet", "lug", "inserted"])
def test_the_smoothest_surfaces_are_those_told(family):
    """What a command takes for granted of how smooth the surfaces are, looked for anew among all that are tried."""
    told = law.fitted(family, law.study(family))
    found = law.fitted(family, law.study(family), anew=True)
    for one, other in ((told.turned, found.turned), (told.beside, found.beside)):
        assert (one.reach, one.scatter) == (other.reach, other.scatter)
        assert one.error == other.error


def test_the_error_bar_is_that_of_fitting_without_each_row():
    """Dubrule's short way against what it stands for: as many surfaces as rows, each without one."""
    rows = law.study("bare")[::4]
    features = law._features(np.array([row.ratios for row in rows]), "bare")
    targets = np.array([row.numbers for row in rows])
    made = surface.fit(features, targets, surface.relative)
    alike = surface._covariance(
        made.standard, made.standard, made.columns, made.columns, made.reach
    )
    alike = alike + 0.02**2 * np.eye(len(rows))
    centred = targets - made.level
    weights, missed = surface.left_out(alike, centred)
    for k in range(0, len(rows), 5):
        rest = np.delete(np.arange(len(rows)), k)
        known = np.linalg.solve(alike[np.ix_(rest, rest)], centred[rest].reshape(len(rest), -1))
        told = (alike[k, rest] @ known).reshape(centred[k].shape)
        assert missed[k] == pytest.approx(centred[k] - told, rel=1e-6, abs=1e-9)
    whole = np.linalg.solve(alike, centred.reshape(len(rows), -1))
    assert weights.reshape(whole.shape) == pytest.approx(whole, rel=1e-6, abs=1e-9)


def test_the_surface_goes_through_what_it_was_made_from():
    """Squares are met where no joint stands too, and what is no square at the joints."""
    rng = np.random.default_rng(7)
    features = rng.uniform(-1, 1, size=(60, 3))
    x, y, z = features.T
    targets = np.stack([1 + x - y + 0.5 * z**2, np.sin(3 * x) * y], axis=1)[:, :, None]
    made = surface.fit(features, targets, lambda missed: float(np.abs(missed).mean()))
    other = np.array([0.3, -0.2, 0.4])
    assert made.at(other)[0, 0] == pytest.approx(1 + 0.3 + 0.2 + 0.08, abs=0.01)
    for row, wanted in zip(features[:10], targets[:10], strict=True):
        assert made.at(row) == pytest.approx(wanted, abs=0.05)


def test_a_beam_inside_the_chord_gives_as_a_cantilever():
    """At 90 degrees, branch along e2: a force along it stretches L/A, a moment about e3 bends L/I, and a force along e1
    bends it as a cantilever held at the wall does, L^3/3I + L/(G As) (handbook), for E = 1."""
    wide, over_wall, wall_ratio = 0.8, 30.0, 0.7
    inside = stretch.beam_inside(wide, over_wall, wall_ratio, 90.0)
    section = round_tube(wide + wall_ratio / over_wall, wall_ratio / over_wall, 0.3)
    g = 1 / 2.6
    assert inside[1, 1] == pytest.approx(0.5 / section.A)
    assert inside[4, 4] == pytest.approx(0.5 / (g * section.J))
    assert inside[5, 5] == pytest.approx(0.5 / section.Iz)
    assert inside[0, 0] == pytest.approx(0.5**3 / 3 / section.Iz + 0.5 / (g * section.Asy))
    assert np.linalg.eigvalsh(inside)[0] > 0


def test_a_sleeve_saves_its_tubes_as_much_as_beams_of_twice_the_wall_would():
    """At 90 degrees, near end free, walls as thick as the sleeve: half of what the covered stretches turn, L/I each
    (handbook), E = 1: on the chord from the axes' meeting to the far side of the weld and the sleeve's length on, on
    the branch along the sleeve. With both ends held and covered all along the chord, its whole turn is halved: a beam
    held at both ends turns under M in its middle by M L / 16 E I."""
    wide, over_wall, tau, length = 0.8, 30.0, 1.0, 0.3
    ratios = np.array([wide, over_wall, tau, 90.0, 3.0, 3.0, 0.0, 0.0, length, 1.0])
    chord = round_tube(1 + 1 / over_wall, 1 / over_wall, 0.3).Iz
    branch = round_tube(wide + 1 / over_wall, 1 / over_wall, 0.3).Iz
    turn = 0.5 * (wide / 2 + length) / chord + 0.5 * length / branch
    assert stretch.relief_of(ratios, "lug")[5, 5] == pytest.approx(turn)
    assert not stretch.relief_of(ratios, "fillet").any()
    long = ratios + np.array([0, 0, 0, 0, 97.0, 97.0, 1.0, 0, 200.0, 0])
    on_branch = 0.5 * (200.0 + length) / branch
    both = 0.5 * 2 * (wide / 2 + 100.0) / 16 / chord
    # Shear across the chord, which that formula leaves out, is next to nothing on a long one.
    assert stretch.relief_of(long, "lug")[5, 5] - on_branch == pytest.approx(both, rel=1e-3)


@pytest.mark.parametrize("kind", ["fillet", "lug", "inserted"])
def test_families_are_known_within_ten_per_cent_too(kind):
    """Leave-one-out. Before the beams under a sleeve were told apart from the wall, lugs and inserts were at 9 to 12 on
    these joints."""
    assert 0.01 < law._change(kind).doubt <= 0.07
    assert len(law.study(kind)) > 40


def test_the_studys_own_joints_come_back():
    """No row by which the law was fitted is missed by much more than what is said of rows it has not seen."""
    bare = law._bare()
    missed = []
    for row in law.study("bare"):
        numbers = bare.at(row.ratios)
        missed.append(np.expm1(np.abs(numbers[:, 0] - row.numbers[:, 0])).max())
    assert np.sqrt(np.mean(np.square(missed))) < 1.5 * bare.doubt


def as_shape(ratios, kind, inserted):
    """A joint of the study on a chord whose mid-surface is 30 mm across."""
    wide, over_wall, wall_ratio, angle, to_end, to_far_end, ring, fillet, sleeve, sleeve_wall = (
        ratios
    )
    chord = 30.0
    wall = chord / over_wall
    half = 0.5 * wide / np.sin(np.radians(angle))
    lean = 0.5 / np.tan(np.radians(angle))
    return JointShape(
        wide * chord + wall_ratio * wall,
        wall_ratio * wall,
        chord + wall,
        wall,
        angle,
        chord * (to_end + half + lean),
        bool(ring),
        inserted,
        kind,
        chord * fillet,
        chord * sleeve,
        wall * sleeve_wall,
        to_far_end=chord * (to_far_end + half - lean),
    )


@pytest.mark.parametrize("family", ["bare", "fillet", "lug", "inserted"])
def test_a_joint_of_the_study_gives_what_its_shells_gave(family):
    """By its diameters, walls, angle and distances in mm; both turns of every joint that gives, in MPa and mm."""
    kind = "bare" if family == "inserted" else family
    off = []
    for row in law.study(family):
        if not row.gives and family != "bare":
            continue
        shape = as_shape(row.ratios, kind, family == "inserted")
        shells = (
            (row.compliance + stretch.beam_inside(*row.ratios[:4])) / law.scale_of(30.0) / STEEL.E
        )
        told = joint_compliance(shape, STEEL).matrix
        off.append([told[k, k] / shells[k, k] - 1 for k in (3, 5)])
    assert np.sqrt(np.mean(np.square(off), axis=0)).max() < 0.10
    assert np.abs(np.median(off, axis=0)).max() < 0.02


def test_the_studys_own_matrices_come_back():
    """As the shells gave them, entry by entry: each direction by itself, and how the turns go with what they move. Only
    what the law leaves out (u1 with u2, u3 with the twist) may be missing."""
    bare = law._bare()
    off = []
    beside = []
    for row in law.study("bare"):
        told = law.in_place(law.blocks_of(bare.at(row.ratios)))
        shells = row.compliance + stretch.beam_inside(*row.ratios[:4])
        root = np.sqrt(np.diag(shells))
        off.append(np.abs(np.diag(told) / np.diag(shells) - 1))
        beside.append(np.abs(told - shells) / np.outer(root, root))
    assert np.median(off, axis=0).max() < 0.05
    assert np.median(off, axis=0)[[3, 5]].max() < 0.01
    coupled = np.median(beside, axis=0)
    # r3 with u1 and u2, r1 with u3 and with r2, over the root of both.
    for turn, moved in ((5, 0), (5, 1), (3, 2), (3, 4)):
        assert coupled[turn, moved] < 0.02
        assert coupled[moved, turn] < 0.02


def test_a_relief_larger_than_the_joint_leaves_a_share_of_it():
    block = law.blocks_of(np.array([[4.0, 0.3, -0.2, -2.0, -1.0]] * 2))
    left = law._relieved(block, 5.0 * law.in_place(block))
    assert left[:, 0, 0] == pytest.approx(law._REMAINS * block[:, 0, 0])
    assert np.linalg.eigvalsh(left).min() > 0


@pytest.mark.parametrize("field", ["branch_diameter", "chord_wall"])
def test_a_shape_that_cannot_be_is_refused(field):
    with pytest.raises(ModelError, match=field.replace("_", " ")):
        JointShape(**{**good(), field: 0.0})


def good():
    return {
        "branch_diameter": 28.6,
        "branch_wall": 0.8,
        "chord_diameter": 36.0,
        "chord_wall": 1.1,
        "angle_deg": 70.0,
        "to_end": 30.0,
    }


# --- in the frame ------------------------------------------------------------------------------------------------
def test_where_joints_stand_and_which_way():
    """Angles from the layout of the published front triangle: 78.3, 59.4 and 100.9 degrees to the near end."""
    between = (joint for joint in tube_joints(BARE, LAYOUT) if isinstance(joint.shape, JointShape))
    found = {joint.name: joint for joint in between}
    angles = {name.removeprefix("joint_of_the_"): j.shape.angle_deg for name, j in found.items()}
    assert angles == {
        "top_tube_at_the_seat_tube": pytest.approx(100.923, abs=1e-3),
        "top_tube_at_the_head_tube": pytest.approx(78.277, abs=1e-3),
        "down_tube_at_the_head_tube": pytest.approx(59.399, abs=1e-3),
    }
    seat = found["joint_of_the_top_tube_at_the_seat_tube"].shape
    assert (seat.to_end, seat.inserted, seat.ring) == (pytest.approx(28.0), False, False)
    # the thick end of a butted tube stands in the joint
    assert seat.branch_wall == 0.8
    # stays 16 mm below the top tube, beside the seat tube: three quarters of a diameter farther off
    assert seat.to_far_end == pytest.approx(16.0 + 0.75 * 28.6)
    assert tube_joints(tourer(), LAYOUT) == ()
    # A cup keeps the head tube's ends round, and the nearer one counts; the other is past the other branch's foot.
    for tube, to_end in (("top_tube", 34.0), ("down_tube", 36.0)):
        head = found[f"joint_of_the_{tube}_at_the_head_tube"].shape
        assert (head.ring, head.to_end) == (True, pytest.approx(to_end))
        assert head.to_far_end == pytest.approx(158.0 - 34.0 - 36.0)


def test_walls_and_diameters_are_those_at_the_joint():
    """By the tube table: butted walls of three, a tapered chord; 522 of 550 mm up the seat tube, 130 + 30 mm thick."""
    t = tourer().tubes
    bicycle = tourer(
        top_tube=replace(t["top_tube"], walls=(0.7, 0.5, 0.9)),
        down_tube=replace(t["down_tube"], od_start=30.0, od_end=35.0),
        seat_tube=replace(t["seat_tube"], od_start=27.5, od_end=33.0),
        head_tube=replace(t["head_tube"], od_start=34.0, od_end=44.0),
    ).joined("bare")
    shapes = {j.name.removeprefix("joint_of_the_"): j.shape for j in tube_joints(bicycle, LAYOUT)}
    seat = shapes["top_tube_at_the_seat_tube"]
    head = shapes["top_tube_at_the_head_tube"]
    down = shapes["down_tube_at_the_head_tube"]
    assert (seat.branch_wall, head.branch_wall) == (0.7, 0.9)
    assert seat.chord_wall == 0.6
    assert seat.chord_diameter == pytest.approx(27.5 + 5.5 * 522 / 550)
    assert down.branch_diameter == 35.0
    assert head.chord_diameter == pytest.approx(34.0 + 10.0 * 34 / 158)
    assert down.chord_diameter == pytest.approx(34.0 + 10.0 * (158 - 36) / 158)


def test_the_chords_stuff_gives_and_not_the_branchs():
    """An aluminium top tube on a steel head tube gives as a steel one, but for E of the chord; and the other way."""
    soft = find_material("6061-T6")
    t = tourer().tubes

    def first(**tubes):
        joints = tube_joints(tourer(**tubes).joined("bare"), LAYOUT)
        named = {joint.name: joint for joint in joints}
        return named["joint_of_the_top_tube_at_the_head_tube"].compliance.matrix

    plain = first()
    assert first(top_tube=replace(t["top_tube"], material=soft)) == pytest.approx(plain, rel=1e-12)
    chord = first(head_tube=replace(t["head_tube"], material=soft))
    ratio = t["head_tube"].material.E / soft.E
    assert chord == pytest.approx(ratio * plain, rel=1e-9)


def test_stays_beside_the_seat_tube_are_said_to_be_rigid():
    told = joint_findings(BARE, LAYOUT)
    assert "joint-not-studied" in {finding.code for finding in told}
    assert joint_findings(tourer(), LAYOUT) == ()


def test_branches_that_crowd_on_a_short_head_tube_are_told():
    """Feet by hand: lean D/2/tan + and - half d/2/sin; the tourer's stand 69 mm apart, as in the triangle in shells."""
    down, top = (
        next(j for j in tube_joints(BARE, LAYOUT) if (j.tube, j.chord) == (tube, "head_tube"))
        for tube in ("down_tube", "top_tube")
    )
    top_low = 34 - 18 / np.tan(np.radians(78.277)) + 14.3 / np.sin(np.radians(78.277))
    down_high = 158 - 36 + 18 / np.tan(np.radians(59.399)) - 15.9 / np.sin(np.radians(59.399))
    assert top.foot[1] == pytest.approx(top_low, abs=0.01)
    assert down.foot[0] == pytest.approx(down_high, abs=0.01)
    assert "joint-branches-near" not in {f.code for f in joint_findings(BARE, LAYOUT)}
    low = replace(BARE.dimensions, top_tube_below_head_top=92.0)
    short = replace(BARE, dimensions=low)
    assert "joint-branches-near" in {f.code for f in joint_findings(short, lay_out(short))}


@pytest.mark.parametrize("sheet", SHEETS)
def test_lugs_and_fillets_give_no_more_than_bare_welds(sheet):
    """Every sample, by the energy of the loads; the seated rider's figures were far off with lugs alone."""
    bicycle = sample(sheet)
    bare, fillet, lug = (bicycle_results(bicycle.joined(k)) for k in ("bare", "fillet", "lug"))
    for name in CASES:
        most = energy_shares(bare[name]).total
        for other in (fillet, lug):
            assert energy_shares(other[name]).total < most * (1 + 1e-9)
    soft = energy_shares(lug["saddle_push"])
    # a sleeve as thick again as the wall leaves a saddle on its post what little tubes and wall give
    assert sum(soft.joints.values()) < 0.1


def test_one_joint_alone():
    """Each joint softens the frame, and all of them more than any."""
    whole = bicycle_results(BARE)["side_push"].measured["head_sideways"]
    rigid = bicycle_results(tourer())["side_push"].measured["head_sideways"]
    for tube in ("top_tube", "down_tube"):
        one = replace(tourer(), joints={tube: "bare"})
        alone = bicycle_results(one)["side_push"].measured["head_sideways"]
        assert rigid < alone < whole


def test_a_branch_begins_at_the_chords_wall():
    """By hand: 36 x 1.1 at 78.277 degrees, so 17.45 mm / sin from the axis; what lies inside gives nothing and weighs
    what it weighed."""
    model = mesh(BARE, layout=LAYOUT)
    twin, wall = "top_tube:end_in_joint", "top_tube:end_in_joint_at_the_wall"
    reach = np.linalg.norm(np.subtract(model.nodes[wall], model.nodes[twin]))
    assert reach == pytest.approx(17.45 / np.sin(np.radians(78.277)), rel=1e-5)
    assert (twin, wall) in {(link.master, link.slave) for link in model.rigid_links}
    result = bicycle_results(BARE)["side_push"]
    table = energy_shares(result)
    inside = [k for k, e in enumerate(model.elements) if e.j == twin]
    assert len(inside) == 1
    assert table.elements[inside[0]].sum() < 1e-12 * table.total
    rigid = mesh(tourer(), layout=LAYOUT)
    masses = [mass_table(one, LAYOUT).grams["top_tube"] for one in (model, rigid)]
    assert masses[0] == pytest.approx(masses[1], rel=1e-12)


def test_a_tube_lost_in_the_tubes_it_is_joined_to_is_refused():
    """A brace of 40 mm from axis to axis between a head tube and another lies within them for most of it."""
    shape = JointShape(20.0, 0.8, 36.0, 1.1, 60.0, 30.0)
    assert shape.inside == pytest.approx(17.45 / np.sin(np.radians(60)))
    member = next(m for m in LAYOUT.members if m.name == "top_tube")
    refuse_swallowed(member, 300.0, {"a": 0.0, "b": 300.0}, 20.0, 25.0)
    with pytest.raises(ModelError, match="takes in the joint gusset on top tube"):
        refuse_swallowed(member, 300.0, {"gusset_on_top_tube": 12.0}, 20.0, 25.0)
    with pytest.raises(ModelError, match="takes in the whole tube"):
        refuse_swallowed(member, 40.0, {}, 20.0, 25.0)


def test_joints_and_rigid_zones_contradict_each_other():
    with pytest.raises(ModelError, match="contradict"):
        mesh(BARE, MeshOptions(rigid_zones=True))


def test_the_energy_is_all_there_and_names_the_joints():
    for result in bicycle_results(BARE).values():
        table = energy_shares(result)
        assert table.imbalance < 1e-8
        assert set(table.joints) == {joint.name for joint in tube_joints(BARE, LAYOUT)}
    from droptrail.validation.report.facts import _energy_chart

    pushed = bicycle_results(BARE)["side_push"]
    bars = _energy_chart(pushed, energy_shares(pushed), ()).bars
    assert sum(bar.total for bar in bars) == pytest.approx(100, abs=6)
    assert any(bar.joint > 1 and "joint of the" in bar.member for bar in bars)
    side = energy_shares(bicycle_results(BARE)["side_push"]).joints
    assert side["joint_of_the_top_tube_at_the_head_tube"] > 0.01


@pytest.mark.parametrize(
    ("tube", "parameter"), [("head_tube", "wall"), ("seat_tube", "diameter"), ("top_tube", "wall")]
)
def test_derivatives_hold_what_the_joints_do(tube, parameter):
    """Against central differences of full solves, with the law's own change in it."""
    rows = gradients(BARE, ("side_push",)).rows
    row = next(
        r for r in rows if (r.measure, r.tube, r.parameter) == ("head_sideways", tube, parameter)
    )
    step = 2e-3

    def moved(h):
        bicycle = grown(BARE, tube, **{parameter: h})
        return bicycle_results(bicycle)["side_push"].measured["head_sideways"]

    assert row.per_mm == pytest.approx((moved(step) - moved(-step)) / (2 * step), rel=1e-3)


def test_the_fast_search_is_the_full_solver_with_joints_too():
    """Head and seat tube are chords of others' joints; the down tube, not exchanged, changes with the head tube."""
    t = BARE.tubes
    choices = {
        "top_tube": [replace(t["top_tube"], od_start=d, od_end=d) for d in (28.6, 31.8)],
        "head_tube": [replace(t["head_tube"], walls=(w,)) for w in (1.1, 1.6)],
        "seat_tube": [replace(t["seat_tube"], od_start=d, od_end=d) for d in (28.6, 31.8, 34.9)],
    }
    cases_of = partial(load_cases, names=CASES)
    options = condense_options(BARE, choices, cases_of)
    grid = FastGrid(build_base(options))
    quick = grid.measured(0, grid.size)
    picks = grid.choices(np.arange(grid.size))
    assert np.allclose(grid.measured_list(picks), quick, rtol=1e-12)
    assert np.array_equal(grid.measured(3, grid.size - 2), quick[:, 3:-2])
    for number in (0, 4, 7, grid.size - 1):
        full = chosen_in_full(
            options,
            picks[number],
            lambda tubes: bicycle_results(replace(BARE, tubes={**t, **tubes})),
        )
        assert quick[:, number] == pytest.approx(full, rel=1e-8)


def test_another_geometry_is_compared_with_joints_of_the_same_kind():
    """A variant with dimensions of its own carries its joints: it must take the other kind along, or its own joints
    would be told as its gain."""
    bicycle = tourer()
    layout = lay_out(bicycle)
    cases_of = partial(load_cases, names=("side_push",))
    longer = replace(bicycle.dimensions, fork_offset=bicycle.dimensions.fork_offset + 0.5)
    hardly = Reshaped("hardly other", "fork offset", replace(bicycle, dimensions=longer))
    assert layout.joints["front_axle"] != lay_out(hardly.bicycle).joints["front_axle"]
    assert joint_turns(compare(bicycle, [hardly], cases_of), [hardly], cases_of) == ()


def test_compare_says_where_the_kind_of_joint_turns_the_choice():
    """The two decisions of the front triangle in shells, on a whole frame."""
    bicycle = tourer(
        seat_tube=replace(tourer().tubes["seat_tube"], walls=(0.9,), butts=(), tapers=())
    )
    t = bicycle.tubes
    head = Variant("thicker head tube", {"head_tube": replace(t["head_tube"], walls=(1.6,))})
    down = Variant(
        "larger down tube", {"down_tube": replace(t["down_tube"], od_start=34.9, od_end=34.9)}
    )
    cases_of = partial(load_cases, names=("frame_torsion",))
    found = joint_turns(compare(bicycle, [head, down], cases_of), [head, down], cases_of)
    assert [finding.code for finding in found] == ["joint-turns-choice"]
    assert "thicker head tube" in found[0].message
    # a variant that no joint touches is not talked about
    stay = Variant("thicker stays", {"chainstay": replace(t["chainstay"], walls=(1.0,))})
    assert joint_turns(compare(bicycle, [stay], cases_of), [stay], cases_of) == ()
