"""The joint study's shells: element, solver, published joints, front triangle, and the data file they made.

Sources: closed forms of a thin tube (any textbook of the strength of materials; shear factor Cowper 1966); the
obstacle cases of MacNeal and Harder (1985), from memory; single joints and front triangle published with the project,
computed by a general six-node shell; OpenSees' own flat triangle on the same mesh.
"""

import json
from dataclasses import asdict
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from droptrail.model.errors import ModelError
from droptrail.model.joints import stretch
from droptrail.model.mechanics.frame_model import (
    Element,
    FrameModel,
    LoadCase,
    RigidLink,
    soft_joint,
)
from droptrail.model.mechanics.solve import solve
from droptrail.model.tubes.materials import Material
from droptrail.model.tubes.sections import round_tube
from droptrail.validation.joints import crown_study, study
from droptrail.validation.joints.beside_shells import (
    CHOSEN_BY,
    PAIRS,
    SUPPORTS,
    ShellsAndBeams,
    changes,
    invented_beside,
)
from droptrail.validation.joints.designs import CROWN, FRAME, THICK, crown_places, frame_places
from droptrail.validation.joints.front_triangle import (
    Triangle,
    head_flexibility,
    quantities,
    seat_held,
    triangle_mesh,
)
from droptrail.validation.joints.invented_triangles import DRAWN
from droptrail.validation.joints.meshing import Pipe, TubeMesh, mesh_pipes
from droptrail.validation.joints.obstacles import (
    pinched_cylinder,
    pinched_hemisphere,
    scordelis_lo_roof,
    straight_tube,
    tube_mesh,
)
from droptrail.validation.joints.published_joints import (
    AS_SOLID,
    PUBLISHED,
    stiffness_by_law,
    stiffness_of,
    walls_off,
)
from droptrail.validation.joints.results import RESULTS
from droptrail.validation.joints.second_opinion import opensees_displacements
from droptrail.validation.joints.shell import ShellMesh, ShellSolver, TubeRing, rigid_motion
from droptrail.validation.joints.single import (
    SingleJoint,
    TubeSection,
    beam_flexibility,
    compliance_on,
    faceted_section,
    fillet_thickness,
    inside_flexibility,
)
from droptrail.validation.joints.study import (
    extrapolated,
    read_data_file,
)
from droptrail.validation.joints.triangle import (
    membrane_stiffness,
    plate_stiffness,
    shell_stiffness,
)
from droptrail.validation.opensees import available
from helpers_gmsh import needs_gmsh

DATA = Path(__file__).parents[1] / "data"
PLANE_STRESS = np.array([[1.0, 0.3, 0.0], [0.3, 1.0, 0.0], [0.0, 0.0, 0.35]]) / 0.91
SKEW = np.array([[[0.0, 0.0], [1.3, 0.0], [0.4, 0.9]]])
SKEW_AREA = 0.585
needs_opensees = pytest.mark.skipif(available() is not None, reason=str(available()))


# --- the triangle -------------------------------------------------------------------------------------------------
def test_triangles_in_space_resist_nothing_rigid_and_everything_else():
    corners = np.random.default_rng(1).normal(size=(6, 3, 3))
    stiffness = shell_stiffness(corners, np.full(6, 0.1), 1.0, 0.3)
    for matrix, places in zip(stiffness, corners, strict=True):
        assert np.abs(matrix @ rigid_motion(places)).max() < 1e-12
        values = np.linalg.eigvalsh(matrix)
        assert values[6] > 1e-6 * values[-1]


def test_membrane_holds_the_energy_of_a_constant_strain():
    strain = np.array([0.3, -0.2, 0.5])
    x, y = SKEW[0].T
    moved = np.column_stack(
        [strain[0] * x + strain[2] / 2 * y, strain[1] * y + strain[2] / 2 * x, 0 * x]
    ).ravel()
    matrix = membrane_stiffness(SKEW, np.array([0.1]), PLANE_STRESS, 0.3)[0]
    energy = 0.1 * SKEW_AREA * strain @ PLANE_STRESS @ strain
    assert moved @ matrix @ moved == pytest.approx(energy, rel=1e-12)


@pytest.mark.parametrize("aspect", [1.0, 4.0, 10.0])
def test_two_membranes_bend_a_rectangle_exactly(aspect):
    """What the free parameters were chosen for (Felippa 2003): the energy of pure bending, whatever the shape."""
    corners = np.array([[-aspect, -1.0], [aspect, -1.0], [aspect, 1.0], [-aspect, 1.0]]) / 2
    triangles = np.array([[0, 1, 2], [0, 2, 3]])
    parts = membrane_stiffness(corners[triangles], np.ones(2), PLANE_STRESS, 0.3)
    x, y = corners.T
    moved = np.column_stack([-x * y, x**2 / 2 + 0.3 * y**2 / 2, x])
    energy = sum(
        moved[part].ravel() @ matrix @ moved[part].ravel()
        for part, matrix in zip(triangles, parts, strict=True)
    )
    assert energy == pytest.approx(aspect / 12.0, rel=1e-9)


def test_plate_holds_the_energy_of_a_constant_curvature():
    a, b, c = 0.3, -0.2, 0.5
    x, y = SKEW[0].T
    deflection = a * x**2 / 2 + b * y**2 / 2 + c * x * y
    moved = np.column_stack([deflection, b * y + c * x, -(a * x + c * y)]).ravel()
    matrix = plate_stiffness(SKEW, np.array([0.1]), PLANE_STRESS)[0]
    curvature = np.array([a, b, 2 * c])
    energy = SKEW_AREA * 0.1**3 / 12 * curvature @ PLANE_STRESS @ curvature
    assert moved @ matrix @ moved == pytest.approx(energy, rel=1e-12)


# --- tube and obstacle cases ---------------------------------------------------------------------------------------
def test_a_straight_tube_is_met_by_the_limit_of_two_meshes():
    """Held end 150 mm from the load: what it holds of the wall's own narrowing is 0.2 % of the stretch."""
    coarse, fine = straight_tube(24), straight_tube(48)
    limit = {name: fine[name] + (fine[name] - coarse[name]) / 3.0 for name in fine}
    assert limit == pytest.approx(
        {"stretch": 1.0, "twist": 1.0, "bend": 1.0, "turn": 1.0}, abs=0.006
    )
    assert abs(coarse["bend"] - 1.0) > 2 * abs(fine["bend"] - 1.0)


@pytest.mark.parametrize(
    ("case", "published", "divisions", "within"),
    [
        (scordelis_lo_roof, 0.3024, 16, 0.01),
        (pinched_cylinder, 1.8248e-5, 32, 0.015),
        (pinched_hemisphere, 0.0940, 32, 0.015),
    ],
)
def test_the_obstacle_cases_are_met(case, published, divisions, within):
    assert case(divisions) == pytest.approx(published, rel=within)


def test_the_hemisphere_closes_in_on_its_value_from_below():
    """A known habit of flat triangles: far too stiff on eight divisions, right on thirty-two."""
    ratios = [pinched_hemisphere(divisions) / 0.0940 for divisions in (8, 16, 32)]
    assert ratios == sorted(ratios)
    assert ratios[0] < 0.6
    assert ratios[1] > 0.9


# --- single joints ------------------------------------------------------------------------------------------------
@cache
def stored_mesh(number: int) -> TubeMesh:
    """The second published joint, meshed by gmsh and kept."""
    with np.load(DATA / "joint_meshes.npz") as kept:
        owner = kept[f"pipe_of_{number}"].astype(np.int64)
        walls = np.where(owner == 0, 1.1, 0.8)
        triangles = kept[f"triangles_{number}"].astype(np.int64)
        mesh = ShellMesh(kept[f"points_{number}"], triangles, walls)
        return TubeMesh(mesh, owner, kept[f"weld_points_{number}"].astype(np.int64))


@cache
def stored_limit() -> np.ndarray:
    meshes = [stored_mesh(number) for number in range(2)]
    matrices = [compliance_on(PUBLISHED[1].joint, tubes) for tubes in meshes]
    return extrapolated(matrices, [len(tubes.mesh.points) for tubes in meshes])


def test_a_published_joint_is_met():
    """28.6 x 0.8 on 36 x 1.1, 34 mm below the end: 554 and 164 N m/degree, whose own mesh change is 1.8 %."""
    case = PUBLISHED[1]
    in_plane, out_of_plane = stiffness_of(stored_limit(), case.joint)
    assert in_plane == pytest.approx(case.in_plane, rel=0.02)
    assert out_of_plane == pytest.approx(case.out_of_plane, rel=0.025)


def test_the_law_meets_the_published_joints_it_was_not_made_from():
    """Sixteen stiffnesses, none of them in the study; 5 % are wanted, the published mesh has 1.8 % of its own. The one
    that is further off, 31.8 x 0.9 on 36 x 1.6 in plane, lies between the published value and that of solids, as the
    study's own does."""
    off = {}
    for number, case in enumerate(PUBLISHED):
        if case.in_plane is not None:
            told = (case.in_plane, case.out_of_plane)
            pairs = zip(stiffness_by_law(case), told, strict=True)
            for plane, (ours, published) in enumerate(pairs):
                off[number, plane] = ours / published - 1
            assert abs(walls_off(case)) < 0.03
    assert len(off) == 16
    beyond = {place for place, value in off.items() if abs(value) > 0.05}
    assert beyond <= {(6, 0)}
    assert np.sqrt(np.mean(np.square([*off.values()]))) < 0.025
    solid = next(one for one in AS_SOLID if one.number == 6).solid[0]
    assert PUBLISHED[6].in_plane < stiffness_by_law(PUBLISHED[6])[0] < solid


@pytest.mark.parametrize("one", AS_SOLID, ids=lambda one: str(one.number))
def test_the_study_lies_between_published_shells_and_solids(one):
    """Walls of a twelfth to a twentieth of the diameter: what shells without shear across the wall make too stiff, a
    branch that runs on to the mid-surface makes too soft, so that they come nearer to solids than shells with shear."""
    kept = json.loads(RESULTS.read_text(encoding="utf-8"))["published"][one.number]["ours"]
    for shells, ours, solid in zip(one.shells, kept, one.solid, strict=True):
        if solid is not None:
            assert shells < ours < solid
            assert solid - ours < 0.07 * solid


def test_facets_of_a_branch_are_taken_off_as_facets():
    """A regular polygon of n sides on a circle: area n sin(pi/n)/pi of the circle's, second moment by hand."""
    around = 24
    tube = straight_mesh(around)
    pipe = Pipe(np.zeros(3), np.array([0.0, 0.0, 150.0]), 27.8, 0.8)
    section = faceted_section(pipe, tube, 0)
    whole = TubeSection.of(pipe)
    narrow = np.sin(np.pi / around) / (np.pi / around)
    assert section.area / whole.area == pytest.approx(narrow, rel=1e-9)
    squared = (1.0 + 2.0 * np.cos(np.pi / around) ** 2) / 3.0
    assert section.second / whole.second == pytest.approx(narrow * squared, rel=1e-9)


def straight_mesh(around: int) -> TubeMesh:
    """A tube without a joint: a weld line is feigned at its start."""
    mesh = tube_mesh(around, 20, 13.9, 150.0, 0.8)
    return TubeMesh(mesh, np.zeros(len(mesh.triangles), dtype=np.int64), np.arange(around))


def test_symmetry_about_the_plane_of_both_axes_parts_the_compliance():
    matrix = stored_limit()
    across = np.ix_((0, 1, 5), (2, 3, 4))
    size = np.sqrt(np.abs(np.outer(matrix.diagonal(), matrix.diagonal())))
    assert np.abs(matrix[across] / size[across]).max() < 0.02


def test_beams_of_a_joint_are_those_of_a_frame_by_hand():
    """A chord held at both ends turns under M by M L / (16 E I) at its middle, a branch adds M l / (E I)."""
    joint = SingleJoint(20.0, 0.02, 30.0, 0.03, 90.0, 200.0, 200.0, 300.0)
    chord = np.pi / 8 * 30.0**3 * 0.03
    branch = np.pi / 8 * 20.0**3 * 0.02
    chord_pipe, branch_pipe = joint.pipes()
    sections = (TubeSection.of(chord_pipe), TubeSection.of(branch_pipe))
    turn = beam_flexibility(joint, sections)[5, 5]
    # Shear of the chord, L / (k G A) over its length squared, adds under a moment: held by the general formula below.
    shear = (2 * 1.3 / (4 + 3 * 0.3)) / 2.6 * np.pi * 30.0 * 0.03
    lateral = 12 * chord / (200.0**2 * shear)
    stiffness = 2 * (4 + lateral) / (1 + lateral) * chord / 200.0
    assert turn == pytest.approx(1 / stiffness + 300.0 / branch, rel=1e-4)


def test_chord_walls_and_branch_from_the_wall_on_are_the_shells():
    """The definition of the model's joint, whatever the walls give: beams of the chord, the walls' spring, a rigid arm
    to the wall and the branch from there, solved by the product, move as the study's centre-line beams with what the
    study would store of such walls beside them."""
    joint = PUBLISHED[1].joint
    chord, branch = joint.pipes()
    steel = Material("study", 1.0, 1.0 / 2.6, 0.0)
    sections = [round_tube(p.diameter + p.wall, p.wall, 0.3) for p in (chord, branch)]
    half = np.random.default_rng(5).normal(size=(6, 6)) * np.array([1.0] * 3 + [0.05] * 3)[:, None]
    walls = half @ half.T
    reach = joint.chord_diameter / 2 / np.sin(np.radians(joint.angle))
    nodes = {
        "far": tuple(chord.start),
        "near": tuple(chord.end),
        "foot": (0.0, 0.0, 0.0),
        "twin": (0.0, 0.0, 0.0),
        "wall": tuple(reach * joint.branch_axis),
        "tip": tuple(branch.end),
    }
    across = (0.0, 0.0, 1.0)
    elements = (
        Element("a", "far", "foot", sections[0], steel, across),
        Element("b", "foot", "near", sections[0], steel, across),
        Element("c", "wall", "tip", sections[1], steel, across),
    )
    spring = soft_joint("joint", "foot", "twin", walls)
    model = FrameModel(nodes, elements, (spring,), rigid_links=(RigidLink("twin", "wall"),))
    held = {"far": (1,) * 6, "near": (1,) * 6}
    cases = [
        LoadCase(f"{k}", {"tip": tuple(load)}, supports=held)
        for k, load in enumerate(np.eye(6).tolist())
    ]
    ours = np.array([result.displacement("tip") for result in solve(model, cases).values()]).T
    stored = walls - inside_flexibility(joint)
    carry = rigid_motion(branch.end[None])
    whole = (TubeSection.of(chord), TubeSection.of(branch))
    shells = beam_flexibility(joint, whole) + carry @ stored @ carry.T
    size = np.sqrt(np.outer(shells.diagonal(), shells.diagonal()))
    assert np.abs((ours - shells) / size).max() < 1e-9


def test_what_a_branch_gives_inside_its_chord_is_the_same_in_study_and_law():
    joint = PUBLISHED[1].joint
    wall = joint.chord_wall / joint.chord_diameter
    diameter = joint.chord_diameter
    scale = np.diag([1.0] * 3 + [diameter] * 3)
    dimensionless = diameter * scale @ inside_flexibility(joint) @ scale
    wide = joint.branch_diameter / joint.chord_diameter
    given = stretch.beam_inside(wide, 1 / wall, 0.8 / 1.1, joint.angle)
    assert given == pytest.approx(dimensionless, rel=1e-9, abs=1e-9)


@needs_opensees
def test_opensees_gives_the_same_on_the_same_mesh():
    """Its triangle has another membrane: half a percent on this coarse mesh, a tenth of that between the two limits."""
    tubes = stored_mesh(0)
    joint = PUBLISHED[1].joint
    chord, branch = joint.pipes()
    points = tubes.mesh.points
    held = [chord.ring_at(points, chord.start), chord.ring_at(points, chord.end)]
    tip = TubeRing(branch.ring_at(points, branch.end), branch.end, rigid=False)
    solver = ShellSolver(tubes.mesh, held, [tip])
    loads = solver.ring_loads()[:, 3:]
    theirs = loads.T @ opensees_displacements(tubes.mesh, held, loads, 1.0, 0.3)
    ours = solver.ring_flexibility()[3:, 3:]
    assert np.diag(theirs) == pytest.approx(np.diag(ours), rel=0.005)


def test_a_fillet_is_a_quarter_round_that_runs_out_at_its_radius():
    height = fillet_thickness(np.array([0.0, 2.0, 5.0, 8.0, 11.0]), 8.0)
    assert height[0] == 4.0  # both walls share the filler: half the radius each
    assert height[2] == pytest.approx(8.0 - np.sqrt(64.0 - 9.0))
    assert height[3:].tolist() == [0.0, 0.0]


# --- the front triangle -------------------------------------------------------------------------------------------
@needs_gmsh
def test_a_branch_as_wide_as_its_chord_is_refused():
    joint = SingleJoint(35.0, 0.9, 35.0, 1.1, 80.0, 40.0, 100.0, 150.0)
    with pytest.raises(ModelError, match=r"35 on a chord of 35 .* at most 0\.997"):
        mesh_pipes(joint.pipes(), 4.0, 6.0)


@pytest.mark.slow
@needs_gmsh
def test_the_published_front_triangle_is_met():
    """All 32 movements of the base geometry, ends of the head tube round: 0.5 % after extrapolation."""
    data = json.loads((DATA / "front_triangle.json").read_text(encoding="utf-8"))
    triangle = Triangle.from_data(data["geometries"]["base"])
    meshes = [triangle_mesh(triangle, size, 1.2 * size) for size in (4.5, 3.2)]
    matrices = [head_flexibility(triangle, tubes, data["E_MPa"]) for tubes in meshes]
    limit = extrapolated(matrices, [len(tubes.mesh.points) for tubes in meshes])
    ours = {"A": quantities(limit, 158.0), "B": quantities(seat_held(limit), 158.0)}
    wanted = [
        case
        for case in data["cases"]
        if case["geometry"] == "base" and case["head_rings"] == "rigid"
    ]
    assert len(wanted) == 32
    for case in wanted:
        got = ours[case["support"]][case["quantity"]]
        assert got == pytest.approx(case["shell"], rel=0.005), case["quantity"]


def test_the_kept_results_meet_the_published_front_triangle():
    """160 movements; those off by more than 0.5 % stand beside a published mesh that was not refined further."""
    data = json.loads((DATA / "front_triangle.json").read_text(encoding="utf-8"))
    kept = json.loads(RESULTS.read_text(encoding="utf-8"))["front_triangle"]
    assert len(kept) == len(data["cases"]) == 160
    for case, ours in zip(_sorted(data["cases"]), _sorted(kept), strict=True):
        assert _name(case) == _name(ours)
        allowed = 0.005 if case["mesh_mm"][0] < 2.0 else 0.006
        assert ours["limit"] == pytest.approx(case["shell"], rel=allowed)


def test_other_triangles_are_met_by_beams_with_joints_that_give():
    """Invented, crowded on a short head tube, and drawn at random, in our shells: 5 % of every movement, 1.5 points of
    every percent change; rigid joints miss by three times that and more."""
    kept = json.loads(RESULTS.read_text(encoding="utf-8"))
    others = invented_beside(kept["invented"] + kept["drawn"])
    assert len(others) >= 22
    for one in others:
        assert max(map(abs, one.errors(giving=True))) < 5.0, one.name
    gains = changes(others)
    # Ten of each pair: two ways to hold it, five movements that a builder chooses by.
    assert len(gains) == 10 * len(PAIRS)
    # What is the same to rounding would be the shells' own, and no beam's.
    assert max(abs(gain.giving - gain.shells) for gain in gains) > 0.1
    assert max(abs(gain.giving - gain.shells) for gain in gains) < 1.25
    assert max(max(map(abs, one.errors(giving=False))) for one in others) > 15.0
    assert max(abs(gain.rigid - gain.shells) for gain in gains) > 4.5


def test_what_a_tube_brings_is_a_stiffness_of_either_kind_over_the_one_before():
    """Movements made up: halved in shells, so 100 % stiffer; three quarters rigid, five quarters giving."""
    found = []
    for before, after in PAIRS:
        for one, factors in ((before, (1.0, 1.0, 1.0)), (after, (0.5, 0.75, 1.25))):
            keys = [(support, quantity) for support in SUPPORTS for quantity in CHOSEN_BY]
            columns = [
                {key: factor * (3.0 + k) for k, key in enumerate(keys)} for factor in factors
            ]
            found.append(ShellsAndBeams(one.name, *columns))
    for gain in changes(found):
        told = (gain.shells, gain.rigid, gain.giving)
        assert told == pytest.approx((100.0, 100 / 3, -20.0))


@pytest.mark.slow
@needs_gmsh
def test_a_triangle_drawn_at_random_is_worked_out_as_it_was_kept():
    one = DRAWN[0][0]
    kept = json.loads(RESULTS.read_text(encoding="utf-8"))["drawn"]
    row = next(r for r in kept if (r["triangle"], r["support"]) == (one.name, "A"))
    tubes = triangle_mesh(one.triangle, 3.2, 3.84)
    ours = quantities(head_flexibility(one.triangle, tubes, 205e3), one.head_tube)
    assert ours[row["quantity"]] == pytest.approx(row["shell"], rel=0.015)


def _name(case: dict) -> tuple[str, str, str, str]:
    return case["geometry"], case["head_rings"], case["support"], case["quantity"]


def _sorted(cases: list[dict]) -> list[dict]:
    return sorted(cases, key=_name)


# --- the data files -----------------------------------------------------------------------------------------------
FILES = [
    (study.FILE, FRAME, ("branch_over_chord", "chord_over_wall", "wall_ratio", "angle_deg"), 190),
    (crown_study.FILE, CROWN, tuple(CROWN), 60),
]


@pytest.mark.parametrize(("file", "ranges", "columns", "fewest"), FILES)
def test_a_data_file_keeps_to_its_ranges(file, ranges, columns, fewest):
    """The thick chords, from number 2000 on, have ranges of their own."""
    rows = read_data_file(file)
    assert len(rows) >= fewest
    for row in rows:
        thick = 2000 <= row["number"] < 3000
        for column in columns:
            wanted = (THICK if thick else ranges)[column]
            slack = 1e-5 * abs(wanted.high)
            assert wanted.low - slack <= row[column] <= wanted.high + slack


def bare_pairs() -> list[tuple[dict, dict]]:
    """Joints alike but for the near end, held round and free."""
    rows = [row for row in read_data_file(study.FILE) if row["family"] == "bare"]
    found = {(row["number"], row["ring"]): row for row in rows}
    numbers = sorted({number for number, _ in found})
    return [(found[number, 1], found[number, 0]) for number in numbers]


def test_an_open_end_gives_more_than_a_round_one():
    """Rayleigh: nothing that is let go can make the joint's turn smaller; in thin chords with a near end it is seen."""
    pairs = bare_pairs()
    assert len(pairs) >= 80
    for held, free in pairs:
        assert free["c_r1r1"] > 0.99 * held["c_r1r1"]
    softer = [free["c_r1r1"] > 1.05 * held["c_r1r1"] for held, free in pairs]
    assert np.mean(softer) > 0.5


def test_joints_of_the_file_are_close_to_the_limit_of_their_meshes():
    """Coarser meshes once left a tenth to a fifth open where a joint gives little more than its branch."""
    off = [max(row["mesh_in"], row["mesh_out"]) for row in read_data_file(study.FILE)]
    assert np.median(off) < 0.05


def test_a_handful_of_joints_leaves_the_laws_file_alone(tmp_path, monkeypatch):
    """A family is written from `FEWEST` joints on."""
    file = tmp_path / "frame_joints.csv"
    monkeypatch.setattr(study, "FILE", file)
    file.write_text("as it was", encoding="utf-8")
    kept = tmp_path / "kept.jsonl"
    matrix = np.eye(6).tolist()
    sample = asdict(study.Sample(0, "bare", True, frame_places(1)[0]))
    record = {"key": "a", "sample": sample, "matrix": matrix, "fine": matrix, "points": [1, 2]}
    kept.write_text(json.dumps(record) + "\n", encoding="utf-8")
    monkeypatch.setattr(study, "mesher_version", lambda: "4.15.2")
    assert study.write_data_file(kept) == 0
    assert file.read_text(encoding="utf-8") == "as it was"
    monkeypatch.setattr(study, "FEWEST", 1)
    assert study.write_data_file(kept) == 1
    (row,) = read_data_file(file)
    assert (row["family"], row["ring"], row["c_u1u1"], row["c_u1u2"]) == ("bare", 1.0, 1.0, 0.0)


@pytest.mark.parametrize("family", ["fillet", "lug", "inserted"])
def test_filler_lug_and_sleeve_stiffen(family):
    """About the chord's axis, where a bare joint gives most."""
    rows = read_data_file(study.FILE)
    bare = {(r["number"], r["ring"]): r["c_r1r1"] for r in rows if r["family"] == "bare"}
    changed = [row for row in rows if row["family"] == family]
    assert len(changed) >= 40
    for row in changed:
        assert row["c_r1r1"] < bare[row["number"], row["ring"]]


def test_a_hole_under_the_branch_softens():
    rows = read_data_file(study.FILE)
    bare = {(r["number"], r["ring"]): r["c_r1r1"] for r in rows if r["family"] == "bare"}
    holes = [row for row in rows if row["family"] == "hole"]
    assert len(holes) >= 16
    for row in holes:
        assert row["c_r1r1"] > bare[row["number"], row["ring"]]


@pytest.mark.parametrize("places", [frame_places, crown_places])
def test_a_design_is_the_same_every_time_and_spreads(places):
    assert places(48)[:32] == places(32)
    table = np.array([list(place.values()) for place in places(64)])
    assert len(np.unique(table, axis=0)) == 64
    for column in table.T:
        halves = column > (column.min() + column.max()) / 2
        assert 5 <= halves.sum() <= 59
