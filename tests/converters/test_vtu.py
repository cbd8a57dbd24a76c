"""VTU, STL and PLY read back by meshio and by pyvista (VTK), and held against geometry that is known otherwise."""

import itertools
import json
from dataclasses import replace
from pathlib import Path

import meshio
import numpy as np
import pytest
from droptrail.converters.analysis import analyse, vibrating
from droptrail.converters.files.surfaces import SIDES, moved, quads, tube_corners, write_surfaces
from droptrail.converters.files.vtu import Contents, write_vtu
from droptrail.converters.inputs import read_input
from droptrail.model.errors import InputError
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.mechanics.beam import Beams
from droptrail.model.mechanics.frame_model import LoadCase
from droptrail.model.mechanics.solve import solve
from droptrail.model.postprocess.stress import stress_table
from droptrail.model.postprocess.walls import Walls
from droptrail.model.tubes.sections import oval_tube, round_tube
from droptrail.model.vibration.modes import modes
from helpers_frames import ALL_SIX, cantilever, random_frame, tip_load, tube_material

SHEET = Path(__file__).parents[2] / "sample_drawings" / "tourer_700c.csv"


@pytest.fixture(scope="module")
def pyvista():
    return pytest.importorskip("pyvista")


@pytest.fixture(scope="module")
def tourer():
    reading = read_input(SHEET)
    solved = analyse(reading)
    return Contents(
        solved.model, solved.results, solved.stresses(), about={"provenance": {"source": "Müller"}}
    )


@pytest.fixture(scope="module")
def lines(tourer, tmp_path_factory):
    path = tmp_path_factory.mktemp("vtu") / "lines.vtu"
    found = write_vtu(tourer, path)
    return path, found


def about(grid) -> dict:
    return json.loads(bytes(np.asarray(grid.field_data["about_json"], dtype=np.uint8)))


def read_by(library: str, path: Path):
    """(points, lines, point arrays, cell arrays, texts) as one library reads them."""
    if library == "meshio":
        grid = meshio.read(path)
        return (
            grid.points,
            grid.cells_dict["line"],
            grid.point_data,
            {k: v[0] for k, v in grid.cell_data.items()},
            about(grid),
        )
    grid = pytest.importorskip("pyvista").read(path)
    return (
        grid.points,
        grid.cells.reshape(-1, 3)[:, 1:],
        grid.point_data,
        grid.cell_data,
        about(grid),
    )


@pytest.mark.parametrize("library", ["meshio", "pyvista"])
def test_lines_come_back_whole(tourer, lines, library):
    points, ends, at_points, at_cells, told = read_by(library, lines[0])
    model = tourer.model
    np.testing.assert_array_equal(points, model.xyz)
    np.testing.assert_array_equal(ends, model.ends)
    for name, result in tourer.results.items():
        np.testing.assert_array_equal(at_points[f"displacement_{name}_mm"], result.u[:, :3])
        np.testing.assert_array_equal(at_points[f"rotation_{name}_rad"], result.u[:, 3:])
        for k, end in ((0, "i"), (6, "j")):
            np.testing.assert_array_equal(
                at_cells[f"end_force_{end}_{name}_N"], result.end_forces[:, k : k + 3]
            )
            np.testing.assert_array_equal(
                at_cells[f"end_moment_{end}_{name}_Nmm"], result.end_forces[:, k + 3 : k + 6]
            )
        np.testing.assert_array_equal(
            at_cells[f"nominal_stress_{name}_MPa"], tourer.stresses[name].von_mises.max(axis=1)
        )
        assert told["load_cases"][name]["loads and supports"] == result.case.notes
    for key, unit in (("A", "mm2"), ("Iy", "mm4"), ("Iz", "mm4"), ("J", "mm4")):
        np.testing.assert_array_equal(at_cells[f"{key}_{unit}"], model.properties[key])
    assert [told["members"][k] for k in at_cells["member_id"]] == [e.member for e in model.elements]
    assert told["nodes"] == list(model.nodes)
    assert told["elements"] == [e.id for e in model.elements]
    assert told["provenance"] == {"source": "Müller"}
    assert "lugs" in told["stress_caution"]


def test_reactions_balance_the_loads_in_the_file_alone(tourer, lines):
    """Newton: the forces read back from the file add up to nothing, and so do their moments about the origin."""
    grid = meshio.read(lines[0])
    for name in tourer.results:
        forces = (
            grid.point_data[f"load_force_{name}_N"] + grid.point_data[f"reaction_force_{name}_N"]
        )
        moments = (
            grid.point_data[f"load_moment_{name}_Nmm"]
            + grid.point_data[f"reaction_moment_{name}_Nmm"]
        )
        # a pair of torques has no forces: its size is that of the moments over a metre
        size = max(np.abs(forces).max(), np.abs(moments).max() / 1000)
        np.testing.assert_allclose(forces.sum(axis=0), 0, atol=1e-6 * size)
        np.testing.assert_allclose(
            (np.cross(grid.points, forces) + moments).sum(axis=0), 0, atol=1e-3 * size
        )
        held = grid.point_data[f"held_{name}"].astype(bool)
        assert not np.any(grid.point_data[f"displacement_{name}_mm"][held[:, :3]])


def test_the_fields_are_a_legend(tourer, lines):
    legend = {
        int(value[0]): name
        for name, value in meshio.read(lines[0]).field_data.items()
        if name[:7] == "member_"
    }
    assert legend == {k: f"member_{k}_{name}" for name, k in tourer.members.items()}


def test_every_loss_is_told(tourer, lines):
    assert {f.code for f in lines[1]} == {"vtu-names", "vtu-links"}
    model = cantilever(round_tube(30, 1, 0.3), tube_material(2e5, 0.3), 500)
    thin = replace(model.elements[0].section, cy=0.0, cz=0.0)
    bare = replace(model, elements=tuple(replace(e, section=thin) for e in model.elements))
    found = write_vtu(Contents(bare), lines[0].with_name("b.vtu"))
    assert {f.code for f in found} == {"vtu-names", "outside-size-guessed"}


def test_case_names_of_any_kind(pyvista, tmp_path):
    """Names from a model file may hold anything, and two may look alike; no array may be lost."""
    model, case = random_frame(1)
    names = ['a<b>&"c"', "a b", "a-b", "é", "", "a_b"]
    results = solve(model, [replace(case, name=name) for name in names])
    write_vtu(Contents(model, results, units=False), tmp_path / "f.vtu")
    for grid in (meshio.read(tmp_path / "f.vtu"), pyvista.read(tmp_path / "f.vtu")):
        told = about(grid)["load_cases"]
        assert [case["name"] for case in told.values()] == names
        assert all(f"displacement_{label}" in grid.point_data for label in told)
        assert about(grid)["units"] == "as in the model file, any consistent set"
        assert not any(name.endswith(("_mm", "_N", "_MPa")) for name in grid.point_data)


def test_modes_come_back_with_their_frequencies(tmp_path):
    model, case = vibrating(read_input(SHEET))
    found = modes(model, case.supports, case.springs, 5)
    write_vtu(Contents(model, modes=found), tmp_path / "m.vtu")
    grid = meshio.read(tmp_path / "m.vtu")
    for k, hz in enumerate(found.frequencies_hz):
        np.testing.assert_array_equal(
            grid.point_data[f"mode_{k + 1}_{hz:.3f}_Hz"], found.shapes[k, :, :3]
        )
        np.testing.assert_array_equal(
            grid.point_data[f"mode_{k + 1}_rotation"], found.shapes[k, :, 3:]
        )
        assert grid.field_data[f"mode_{k + 1}_Hz"] == hz


def test_the_file_is_the_same_twice(tourer, lines):
    write_vtu(tourer, lines[0].with_name("again.vtu"))
    assert lines[0].with_name("again.vtu").read_bytes() == lines[0].read_bytes()


def test_an_existing_file_stays(tourer, tmp_path):
    for write, name in ((write_vtu, "f.vtu"), (write_surfaces, "g.vtu"), (write_surfaces, "h.stl")):
        (tmp_path / name).write_text("mine")
        with pytest.raises(InputError, match="--force"):
            write(tourer, tmp_path / name)
        assert (tmp_path / name).read_text() == "mine"
        write(tourer, tmp_path / name, force=True)
        assert (tmp_path / name).stat().st_size > 10_000
    assert len(list(tmp_path.iterdir())) == 3


# --- surfaces -------------------------------------------------------------------------------------------------------
def tube(section, length=600.0, pieces=1):
    return cantilever(section, tube_material(2e5, 0.3), length, pieces)


def test_area_and_outside_of_a_round_tube(pyvista, tmp_path):
    """A prism inscribed in a cylinder: perimeter 2 n r sin(pi/n), Euclid; all corners at the outside radius."""
    write_surfaces(Contents(tube(round_tube(40.0, 1.0, 0.3))), tmp_path / "t.vtu")
    grid = pyvista.read(tmp_path / "t.vtu")
    assert grid.compute_cell_sizes()["Area"].sum() == pytest.approx(
        600 * 2 * SIDES * 20 * np.sin(np.pi / SIDES)
    )
    np.testing.assert_allclose(np.hypot(grid.points[:, 1], grid.points[:, 2]), 20.0)
    assert set(grid.points[:, 0]) == {0.0, 600.0}


def test_an_oval_stands_upright(pyvista, tmp_path):
    """Height along local y (here global y), width along z."""
    write_surfaces(Contents(tube(oval_tube(20.0, 50.0, 1.0, 0.3))), tmp_path / "t.stl")
    bounds = pyvista.read(tmp_path / "t.stl").bounds
    assert tuple(bounds) == pytest.approx((0, 600, -25, 25, -10, 10))


@pytest.mark.parametrize("ending", ["vtu", "stl", "ply"])
def test_sides_look_outwards(pyvista, tmp_path, ending):
    write_surfaces(Contents(tube(round_tube(40.0, 1.0, 0.3))), tmp_path / f"t.{ending}")
    surface = pyvista.read(tmp_path / f"t.{ending}")
    if ending == "vtu":
        try:
            surface = surface.extract_surface(algorithm="dataset_surface")
        except TypeError:  # releases before 0.47 know one way only
            surface = surface.extract_surface()
    surface = surface.compute_normals(
        auto_orient_normals=False, consistent_normals=False, point_normals=False
    )
    outwards = surface.cell_centers().points * (0, 1, 1)
    assert np.all(np.einsum("ij,ij->i", surface.cell_normals, outwards) > 0)


def test_every_element_has_its_sides_and_arrays(pyvista, tourer, tmp_path):
    found = write_surfaces(tourer, tmp_path / "s.vtu")
    grid = pyvista.read(tmp_path / "s.vtu")
    count = len(tourer.model.elements)
    assert (grid.n_cells, grid.n_points) == (SIDES * count, 2 * SIDES * count)
    np.testing.assert_array_equal(
        grid["member_id"].reshape(count, SIDES)[:, 0],
        [tourer.members[e.member] for e in tourer.model.elements],
    )
    assert {f.code for f in found} == {"vtu-names", "vtu-links", "vtu-surface"}


def test_the_wall_moves_with_the_cross_section():
    """A small rigid rotation moves every corner by theta x (corner - centre of rotation), translation and all."""
    model, _ = random_frame(2)
    corners, offsets = tube_corners(model)
    theta, shift = np.array([2e-3, -1e-3, 3e-3]), np.array([0.5, -0.2, 0.1])
    u = np.hstack([shift + np.cross(theta, model.xyz), np.tile(theta, (len(model.xyz), 1))])
    np.testing.assert_allclose(
        moved(model, offsets, u), shift + np.cross(theta, corners), atol=1e-12
    )


def test_twist_and_bending_of_a_cantilever_on_its_wall(pyvista, tmp_path):
    """Closed forms (Roark, table 8.1 case 1a, and ch. 10): tip wall moves T L r / GJ round, F L³/3EI down."""
    section, steel = round_tube(40.0, 1.0, 0.3), tube_material(2e5, 0.3)
    section = replace(section, Asy=np.inf, Asz=np.inf)
    model = cantilever(section, steel, 600.0)
    results = solve(
        model,
        [
            replace(tip_load(model, 0, 0, 0, 1e5, 0, 0), name="twist"),
            replace(tip_load(model, 0, -100.0, 0, 0, 0, 0), name="bend"),
        ],
    )
    write_surfaces(Contents(model, results), tmp_path / "t.vtu")
    grid = pyvista.read(tmp_path / "t.vtu")
    tip = grid.points[:, 0] == 600
    round_ = np.linalg.norm(grid["displacement_twist_mm"][tip], axis=1)
    np.testing.assert_allclose(round_, 1e5 * 600 * 20 / (steel.G * section.J), rtol=1e-9)
    down = -100 * 600**3 / (3 * steel.E * section.Iz)
    np.testing.assert_allclose(grid["displacement_bend_mm"][tip][:, 1], down, rtol=1e-9)


def test_stress_round_the_wall_of_a_cantilever(pyvista, tmp_path):
    """Navier: sigma = -M y / I at the root, largest at the top; the file's stress follows the corner's height."""
    model = tube(round_tube(40.0, 1.0, 0.3))
    result = solve(model, [replace(tip_load(model, 0, -100.0, 0, 0, 0, 0), name="bend")])
    write_surfaces(
        Contents(model, result, {"bend": stress_table(result["bend"])}), tmp_path / "t.vtu"
    )
    grid = pyvista.read(tmp_path / "t.vtu")
    root = grid.points[:, 0] == 0
    np.testing.assert_allclose(
        grid["normal_stress_bend_MPa"][root],
        100 * 600 * grid.points[root][:, 1] / model.elements[0].section.Iz,
        atol=1e-9,
    )
    np.testing.assert_allclose(grid["normal_stress_bend_MPa"][~root], 0, atol=1e-9)
    assert grid["von_mises_bend_MPa"].min() >= 0


def test_no_corner_exceeds_the_peak_that_is_listed(pyvista, tourer, tmp_path):
    """The list looks every 5 degrees: von Mises squared goes with twice the angle, so it misses 1 - cos 5 at most."""
    write_surfaces(tourer, tmp_path / "s.vtu")
    grid = pyvista.read(tmp_path / "s.vtu")
    for name, table in tourer.stresses.items():
        at_corners = grid[f"von_mises_{name}_MPa"].reshape(-1, 2, SIDES).max(axis=2)
        assert np.nanmax(at_corners / table.von_mises) <= 1 / np.cos(np.radians(5))
        assert (
            np.nanmin(at_corners[table.von_mises > 1] / table.von_mises[table.von_mises > 1]) > 0.98
        )


def test_moved_surfaces_lie_where_they_say(pyvista, tourer, tmp_path):
    found = write_surfaces(tourer, tmp_path / "d.vtu", deflected=("climb", 8.0))
    write_surfaces(tourer, tmp_path / "s.vtu")
    there, here = (pyvista.read(tmp_path / f"{name}.vtu") for name in "ds")
    np.testing.assert_allclose(
        there.points, here.points + 8 * here["displacement_climb_mm"], atol=1e-9
    )
    assert about(there)["drawn"] == "8 times as far as climb moves"
    assert "surface-moved" in {f.code for f in found}


def test_mode_shapes_on_the_wall(pyvista, tmp_path):
    model = tube(round_tube(40.0, 1.0, 0.3), pieces=4)
    steel = tube_material(2e5, 0.3, 7.85e-9)
    model = replace(model, elements=tuple(replace(e, material=steel) for e in model.elements))
    found = modes(model, {"0": ALL_SIX}, count=3)
    write_surfaces(Contents(model, modes=found), tmp_path / "m.vtu")
    grid = pyvista.read(tmp_path / "m.vtu")
    name = next(n for n in grid.point_data if n.startswith("mode_1_") and n.endswith("Hz"))
    _, offsets = tube_corners(model)
    np.testing.assert_allclose(grid[name], moved(model, offsets, found.shapes[0]).reshape(-1, 3))


def test_corner_numbers_of_two_elements():
    sides = quads(2)
    assert sides.shape == (2 * SIDES, 4)
    assert set(sides[:SIDES].ravel()) == set(range(2 * SIDES))
    assert sides[SIDES:].min() == 2 * SIDES


def test_a_cone_is_smooth_and_as_wide_as_the_sheet_says(pyvista, tmp_path):
    """The chainstay runs from 22.2 to 14 mm: no steps between its elements, and the stated sizes at its ends."""
    reading = read_input(SHEET)
    solved = analyse(reading, ("climb",))
    walls = Walls.of(solved.model, reading.bicycle, lay_out(reading.bicycle))
    corners, _ = tube_corners(solved.model, walls)
    stay = [k for k, e in enumerate(solved.model.elements) if e.member == "chainstay_right"]
    for one, following in itertools.pairwise(stay):
        np.testing.assert_allclose(corners[one, 1], corners[following, 0], atol=1e-3)
    ends = corners[stay[0], 0], corners[stay[-1], 1]
    across = [np.linalg.norm(ring[0] - ring[SIDES // 2]) for ring in ends]
    assert across == pytest.approx([22.2, 14.0], abs=1e-3)


def test_a_rectangular_stay_has_corners(tmp_path):
    """30 x 16 mm with 4 mm corners: flat sides as far out as they are, and no corner of the ellipse within."""
    bicycle = read_input(SHEET).bicycle
    box = replace(
        bicycle.tubes["chainstay"], od_start=30.0, od_end=30.0, oval_width=16.0, corner=4.0
    )
    bicycle = replace(bicycle, tubes={**bicycle.tubes, "chainstay": box})
    model, layout = mesh(bicycle), lay_out(bicycle)
    _, offsets = tube_corners(model, Walls.of(model, bicycle, layout))
    k = next(k for k, e in enumerate(model.elements) if e.member == "chainstay_right")
    y, z = (offsets[k, 0] @ Beams.of(model).rotation[k, axis] for axis in (1, 2))
    assert (np.ptp(y), np.ptp(z)) == (pytest.approx(30.0), pytest.approx(16.0))
    # The point at 45 degrees of a rounded corner: half side less radius plus r / sqrt 2.
    corner = np.array([15 - 4 + 4 / np.sqrt(2), 8 - 4 + 4 / np.sqrt(2)])
    assert np.hypot(y - corner[0], z - corner[1]).min() < 1e-9


def test_a_case_without_results_is_a_model_alone(tmp_path):
    model = tube(round_tube(40.0, 1.0, 0.3))
    result = solve(model, [LoadCase("idle", {}, supports={"0": ALL_SIX})])
    write_vtu(Contents(model, result), tmp_path / "f.vtu")
    grid = meshio.read(tmp_path / "f.vtu")
    assert not grid.point_data["displacement_idle_mm"].any()
    assert not grid.cell_data["energy_share_idle"][0].any()
