"""Open formats read back by the libraries others use: meshio, pyvista, openpyxl, jsonschema."""

import json
from pathlib import Path

import numpy as np
import pytest

from cli.main import main
from converters.analysis import analyse
from converters.inputs import read_input
from converters.model_json_write import write_model
from converters.report import resource
from converters.tables import Table, tables_of, write_tables
from converters.vtu import member_ids, write_vtu
from model.errors import InputError

ROOT = Path(__file__).parents[2]
SHEET = ROOT / "sample_drawings" / "tourer_700c.csv"
CASES = json.loads((ROOT / "tests" / "data" / "frame_cases.json").read_text(encoding="utf-8"))["cases"]
MODELS = {f"{case['id']}-{name}": model for case in CASES for name, model in case["models"].items()}


@pytest.fixture(scope="module")
def solved():
    reading = read_input(SHEET)
    return reading, analyse(reading)


# --- VTU ------------------------------------------------------------------------------------------------------
def test_vtu_read_back_by_meshio(solved, tmp_path):
    meshio = pytest.importorskip("meshio")
    _, analysis = solved
    found = write_vtu(analysis.model, tmp_path / "f.vtu", analysis.results)
    grid = meshio.read(tmp_path / "f.vtu")
    np.testing.assert_allclose(grid.points, analysis.model.xyz)
    np.testing.assert_array_equal(grid.cells_dict["line"], analysis.model.ends)
    result = analysis.results["climb"]
    np.testing.assert_allclose(grid.point_data["displacement_climb"], result.u[:, :3])
    np.testing.assert_allclose(grid.point_data["rotation_climb"], result.u[:, 3:])
    np.testing.assert_allclose(grid.cell_data["moment_j_climb"][0], result.end_forces[:, 9:])
    np.testing.assert_allclose(grid.cell_data["J"][0], analysis.model.properties["J"])
    assert {f.code for f in found} == {"vtu-names", "vtu-links"}
    assert all(f"{number} {name}" in found[0].message for name, number in member_ids(analysis.model).items())


def test_vtu_surface_read_back_by_pyvista(solved, tmp_path):
    pyvista = pytest.importorskip("pyvista")
    _, analysis = solved
    write_vtu(analysis.model, tmp_path / "s.vtu", analysis.results, surface=True)
    grid = pyvista.read(tmp_path / "s.vtu")
    assert grid.n_cells == 16 * len(analysis.model.elements)
    axis = analysis.model.xyz[analysis.model.ends]
    length = np.linalg.norm(axis[:, 1] - axis[:, 0], axis=1)
    outside = np.array([2 * e.section.cy for e in analysis.model.elements])
    # Area of a 16-sided prism: 16 L d sin(pi/16), Euclid; within it for every element.
    assert grid.compute_cell_sizes()["Area"].sum() == pytest.approx(16 * np.sin(np.pi / 16) * (length * outside).sum())
    assert grid["displacement_seated"].shape == (grid.n_points, 3)


def test_an_existing_file_stays(solved, tmp_path):
    _, analysis = solved
    path = tmp_path / "f.vtu"
    path.write_text("mine")
    with pytest.raises(InputError, match="--force"):
        write_vtu(analysis.model, path)
    assert path.read_text() == "mine"


# --- tables ---------------------------------------------------------------------------------------------------
def test_workbook_holds_every_table_with_numbers_as_numbers(solved, tmp_path):
    openpyxl = pytest.importorskip("openpyxl")
    tables = tables_of(*solved)
    write_tables(tables, tmp_path / "t.xlsx")
    book = openpyxl.load_workbook(tmp_path / "t.xlsx")
    assert book.sheetnames == [table.name for table in tables]
    rows = list(book["stiffness"].values)
    result = solved[1].results["side_push"]
    row = next(r for r in rows if r[0] == "side_push" and r[6] is not None)
    assert row[6] == pytest.approx(result.stiffness["head_sideways"])
    assert row[4:6] == (200, "N")
    assert any(r[0] == "input_sha256" and len(r[1]) == 64 for r in book["provenance"].values)


def test_hostile_text_is_no_formula(tmp_path):
    openpyxl = pytest.importorskip("openpyxl")
    evil = '=HYPERLINK("http://x","y")'
    write_tables([Table("t", ("a",), [(evil,), ("+1",), (-1.5,)])], tmp_path / "t.xlsx")
    cells = [cell for row in openpyxl.load_workbook(tmp_path / "t.xlsx")["t"].iter_rows() for cell in row]
    assert all(cell.data_type != "f" for cell in cells)
    assert cells[-1].value == -1.5
    write_tables([Table("t", ("a",), [(evil,)])], tmp_path / "t.csv", "t")
    assert not (tmp_path / "t.csv").read_text(encoding="utf-8").splitlines()[1].lstrip('"').startswith("=")


def test_csv_needs_a_table_and_names_them(solved, tmp_path):
    with pytest.raises(InputError, match="end forces"):
        write_tables(tables_of(*solved), tmp_path / "t.csv")


@pytest.mark.parametrize(("arguments", "code"), [
    (["-o", "x.vtu"], 0), (["-o", "x.xlsx"], 0), (["-o", "x.json"], 0), (["-o", "x.csv", "--table", "masses"], 0),
    (["-o", "m.vtu", "--modes", "4"], 0), (["-o", "x.csv"], 3), (["-o", "x.stl"], 3),
    (["-o", "m.xlsx", "--modes", "4"], 3),
])
def test_export_command(arguments, code, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(["export", str(SHEET), *arguments]) == code
    assert len(list(tmp_path.iterdir())) == (code == 0)
    assert "Traceback" not in capsys.readouterr().err


@pytest.mark.parametrize("view", ["side", "iso", "deflected", "mode"])
def test_pictures_are_drawn_and_the_same_twice(view, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for name in ("a.svg", "b.svg"):
        assert main(["picture", str(SHEET), "-o", name, "--view", view]) == 0
    first, second = ((tmp_path / name).read_bytes() for name in ("a.svg", "b.svg"))
    assert first == second
    assert len(first) > 20_000


# --- schema ---------------------------------------------------------------------------------------------------
@pytest.fixture(scope="module")
def schema():
    jsonschema = pytest.importorskip("jsonschema")
    rules = json.loads(resource("model.schema.json"))
    jsonschema.Draft202012Validator.check_schema(rules)
    return jsonschema.Draft202012Validator(rules)


def test_schema_takes_every_published_model(schema):
    assert len(MODELS) > 30
    assert {name: [e.message for e in schema.iter_errors(model)] for name, model in MODELS.items()
            if not schema.is_valid(model)} == {}


def test_schema_takes_what_we_write(schema, solved):
    _, analysis = solved
    schema.validate(json.loads(json.dumps(write_model(analysis.model, analysis.cases))))


@pytest.mark.parametrize("break_it", [
    lambda m: m.pop("nodes"), lambda m: m["nodes"].update(x=[1, 2]), lambda m: m["elements"][0].pop("vxy"),
    lambda m: m["sections"][next(iter(m["sections"]))].update(A=-1), lambda m: m.update(supports={"1": [1, 0]}),
    lambda m: m["loads"].update(bad={"nodal": {"1": [1, 2, 3]}}),
])
def test_schema_refuses_what_is_broken(schema, break_it):
    model = json.loads(json.dumps(MODELS["S01-euler"]))
    break_it(model)
    assert not schema.is_valid(model)
