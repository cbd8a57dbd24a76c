"""Tables: every sheet read back by openpyxl and csv, numbers as numbers, sums that must come out, no formula."""

import csv
import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import openpyxl
import pytest
from droptrail.converters.analysis import analyse, vibrating
from droptrail.converters.files.model_file.write_model import save_model
from droptrail.converters.inputs import read_input
from droptrail.converters.showing.frame_tables import frame_tables, mode_tables
from droptrail.converters.showing.spreadsheet import MOST_ROWS, as_csv, write_tables
from droptrail.converters.showing.table import Column, Kind, Table
from droptrail.converters.showing.terminal import lines
from droptrail.model.errors import InputError
from droptrail.model.vibration.modes import modes
from helpers_frames import space_frame_a

SHEET = Path(__file__).parents[2] / "sample_drawings" / "tourer_700c.csv"
DIGITS = 2e-15  # openpyxl writes 16 digits
EVIL = [
    '=HYPERLINK("http://x","y")',
    "+1",
    "-1+cmd|' /C calc'!A0",
    "@SUM(A1)",
    "\tx",
    "\r=1",
    " =1",
    "#comment",
]


@pytest.fixture(scope="module")
def solved():
    reading = read_input(SHEET)
    return reading, analyse(reading, ("seated", "climb", "side_push"))


@pytest.fixture(scope="module")
def book(solved, tmp_path_factory):
    path = tmp_path_factory.mktemp("tables") / "t.xlsx"
    write_tables(frame_tables(*solved), path)
    return openpyxl.load_workbook(path)


def rows(sheet) -> list[dict]:
    heads, *rest = sheet.values
    return [dict(zip(heads, row, strict=True)) for row in rest]


def test_every_table_has_its_sheet_and_a_head_with_units(solved, book):
    tables = frame_tables(*solved)
    assert book.sheetnames == [table.name for table in tables]
    assert set(book.sheetnames) >= {
        "stiffness",
        "geometry",
        "joints",
        "closure",
        "tubes",
        "loads",
        "supports",
        "displacements",
        "reactions",
        "end forces",
        "nominal stress",
        "strain energy",
        "nodes",
        "elements",
        "masses",
        "findings",
        "assumed",
        "provenance",
    }
    for table in tables:
        assert all(len(row) == len(table.columns) for row in table.rows), table.name
    for name in ("displacements", "reactions", "end forces", "nodes", "joints"):
        numbers = [
            head for head, value in rows(book[name])[0].items() if isinstance(value, int | float)
        ]
        assert numbers
        assert all("[" in head for head in numbers), name


def test_numbers_are_numbers_to_full_precision(solved, book):
    _, analysis = solved
    result = analysis.results["climb"]
    found = [r for r in rows(book["displacements"]) if r["load case"] == "climb"]
    assert [r["node"] for r in found] == list(result.model.nodes)
    read = [
        [r[f"{d} [{'mm' if d[0] == 'u' else 'rad'}]"] for d in ("ux", "uy", "uz", "rx")]
        for r in found
    ]
    np.testing.assert_allclose(read, result.u[:, :4], rtol=DIGITS)
    ends = [r for r in rows(book["end forces"]) if r["load case"] == "climb" and r["end"] == "j"]
    np.testing.assert_allclose(
        [[r["N [N]"], r["T [N·mm]"]] for r in ends], result.end_forces[:, [6, 9]], rtol=DIGITS
    )


def test_a_stiffness_stands_beside_the_load_and_supports_that_make_it(solved, book):
    row = next(r for r in rows(book["stiffness"]) if r["measure"] == "head_sideways")
    result = solved[1].results["side_push"]
    assert row["stiffness"] == pytest.approx(result.stiffness["head_sideways"], rel=DIGITS)
    assert (row["under"], row["under unit"]) == (200, "N")
    assert (row["stiffness unit"], row["moves unit"]) == ("N/mm", "mm")
    assert row["stiffness"] == pytest.approx(200 / row["moves"])
    assert "200 N to the right" in row["loads and supports"]


def test_reactions_and_loads_of_the_workbook_balance(book):
    """Newton's third law, from the cells alone."""
    for case in ("seated", "climb", "side_push"):
        for axis in ("Fx", "Fy", "Fz"):
            loads = [r[f"{axis} [N, N/mm]"] for r in rows(book["loads"]) if r["load case"] == case]
            reactions = [
                r[f"{axis} [N]"] for r in rows(book["reactions"]) if r["load case"] == case
            ]
            assert sum(loads) + sum(reactions) == pytest.approx(0, abs=1e-6)


def test_shares_of_energy_add_up_to_the_whole(book):
    for case in ("seated", "climb", "side_push"):
        assert sum(
            r["together [%]"] for r in rows(book["strain energy"]) if r["load case"] == case
        ) == pytest.approx(100)


def test_masses_add_up(solved, book):
    found = {r["member"]: r["mass [kg]"] for r in rows(book["masses"])}
    sums = {r["member"] for r in rows(book["masses"]) if r["tube"] == "sum"}
    assert sums == {"frame tubes", "fork", "all with parts"}
    assert sum(mass for member, mass in found.items() if member not in sums) == pytest.approx(
        found["all with parts"]
    )
    # A steel touring frame and fork of plain and butted tubes: 2 to 4 kg (common practice, no source).
    assert 2.0 < found["frame tubes"] + found["fork"] < 4.0


def test_geometry_keeps_the_keys_of_the_json(solved, book):
    found = {r["key"]: (r["value"], r["unit"]) for r in rows(book["geometry"])}
    d = solved[0].dimensions
    assert found["bb_drop"] == (76, "mm")
    assert found["head_angle"] == (71.8, "deg")
    assert found["top_tube_slope_deg"][1] == "deg"
    assert found["trail"] == (pytest.approx(d.trail, rel=DIGITS), "mm")


def test_provenance_is_there(solved, book):
    facts = {r["what"]: r["said"] or r["value"] for r in rows(book["provenance"])}
    assert facts["input_sha256"] == solved[0].sha256
    assert facts["elements"] == len(solved[1].model.elements)
    assert "ISO 4210" in facts["caution"]
    assert facts["climb: residual"] == pytest.approx(
        solved[1].results["climb"].residual, rel=DIGITS
    )


def test_csv_of_every_table_comes_back(solved, tmp_path):
    tables = frame_tables(*solved)
    files = write_tables(tables, tmp_path / "f.csv")
    assert len(files) == len(tables)
    for file, table in zip(files, tables, strict=True):
        text = file.read_text(encoding="utf-8-sig")
        assert len(list(csv.reader(io.StringIO(text)))) == len(table.rows) + 1
    held = list(
        csv.DictReader(io.StringIO((tmp_path / "f-reactions.csv").read_text(encoding="utf-8-sig")))
    )
    first = next(iter(solved[1].results.values()))
    node = held[0]["node"]
    assert float(held[0]["Fy [N]"]) == first.reactions[node][1]


def test_one_table_alone(solved, tmp_path):
    tables = frame_tables(*solved)
    assert write_tables(tables, tmp_path / "m.csv", "masses") == (tmp_path / "m.csv",)
    write_tables(tables, tmp_path / "m.xlsx", "masses")
    assert openpyxl.load_workbook(tmp_path / "m.xlsx").sheetnames == ["masses"]
    with pytest.raises(InputError, match="end forces"):
        write_tables(tables, tmp_path / "x.csv", "mass")


@pytest.mark.parametrize("evil", EVIL)
def test_no_text_runs_as_a_formula(evil, tmp_path):
    table = Table("t", "", (Column("a", evil), Column("b", "b", Kind.NUMBER)), [(evil, -1.5)])
    write_tables([table], tmp_path / "t.xlsx")
    for row in openpyxl.load_workbook(tmp_path / "t.xlsx")["t"].iter_rows():
        for cell in row:
            assert cell.data_type != "f"
            if isinstance(cell.value, str):
                assert not cell.value.lstrip("\t\r\n ").startswith(("=", "+", "-", "@"))
    for row in csv.reader(io.StringIO(as_csv(table))):
        assert not row[0].startswith(("=", "+", "-", "@", "\t", "\r", " "))
    assert list(csv.reader(io.StringIO(as_csv(table))))[1][1] == "-1.5"


def test_what_is_no_number_stays_empty(tmp_path):
    numbers = [Column(key, key, Kind.NUMBER) for key in "abc"]
    columns = (*numbers, Column("d", "d", Kind.VERDICT))
    table = Table("t", "", columns, [(float("inf"), float("nan"), None, True)])
    write_tables([table], tmp_path / "t.xlsx")
    assert list(openpyxl.load_workbook(tmp_path / "t.xlsx")["t"].values)[1] == (
        None,
        None,
        None,
        "yes",
    )
    assert as_csv(table).splitlines()[1] == ",,,yes"


def test_the_same_tables_give_the_same_bytes(solved, tmp_path):
    for name in ("a.xlsx", "b.xlsx"):
        write_tables(frame_tables(*solved), tmp_path / name)
    assert (tmp_path / "a.xlsx").read_bytes() == (tmp_path / "b.xlsx").read_bytes()


def test_nothing_is_written_over_or_half(solved, tmp_path):
    (tmp_path / "f-masses.csv").write_text("mine")
    with pytest.raises(InputError, match=r"f-masses\.csv exists"):
        write_tables(frame_tables(*solved), tmp_path / "f.csv")
    assert [p.name for p in tmp_path.iterdir()] == ["f-masses.csv"]
    with pytest.raises(InputError, match=r"\.xlsx or \.csv or \.md"):
        write_tables(frame_tables(*solved), tmp_path / "f.ods")


def test_a_table_longer_than_a_worksheet_is_refused(tmp_path):
    class Long(list):
        def __len__(self) -> int:
            return MOST_ROWS + 1

    with pytest.raises(InputError, match="fewer load cases"):
        write_tables([Table("t", "", (Column("a", "a"),), Long())], tmp_path / "t.xlsx")
    assert not list(tmp_path.iterdir())


def test_a_model_file_gets_no_units_it_does_not_state(tmp_path):
    model, case = space_frame_a()
    save_model(tmp_path / "m.json", model, (replace(case, name="=ride"),))
    reading = read_input(tmp_path / "m.json")
    tables = {table.name: table for table in frame_tables(reading, analyse(reading))}
    assert tables["displacements"].headings[2:] == ("ux", "uy", "uz", "rx", "ry", "rz")
    assert "geometry" not in tables
    assert not tables["findings"].rows, (
        "it does not say what touches, so its supports are not judged"
    )
    assert "[kg]" not in " ".join(tables["masses"].headings)
    total = sum(
        e.section.A
        * np.linalg.norm(np.subtract(model.nodes[e.j], model.nodes[e.i]))
        * e.material.rho
        for e in model.elements
    )
    assert tables["masses"].rows[-1][2] == pytest.approx(total)
    assert as_csv(tables["loads"]).splitlines()[1].startswith("'=ride")


def test_modes_as_tables():
    model, case = vibrating(read_input(SHEET))
    found = modes(model, case.supports, case.springs, 4)
    listed, shapes = mode_tables(found, case.notes)
    assert [row[1] for row in listed.rows] == list(found.frequencies_hz)
    for row in listed.rows:
        assert sum(row[4:9]) == pytest.approx(1, abs=1e-5)
    assert len(shapes.rows) == 4 * len(model.nodes)
    assert shapes.rows[0][2:] == tuple(found.shapes[0, 0])


def test_a_worksheet_is_named_without_the_signs_none_may_hold(tmp_path):
    from openpyxl import load_workbook

    table = Table("a/b: [c]*?\\", "Title", (Column("x", "x"),), [("y",)])
    write_tables([table], tmp_path / "t.xlsx")
    assert load_workbook(tmp_path / "t.xlsx").sheetnames == ["a-b- -c----"]


def test_a_heading_takes_a_second_line_before_any_cell_does():
    """A cell on two lines costs one line for every row, a heading on two lines one for the table."""
    names = (
        "fork offset 45 mm, chainstay length 440 mm",
        "fork offset 50 mm, chainstay length 450 mm",
    )
    columns = [Column("variant", "variant")]
    for key in ("one", "two"):
        columns.append(Column(key, "share of the weight on the front wheel", Kind.NUMBER, "%"))
    table = Table("t", "t", columns, [(name, 40.1, 40.5) for name in names])
    for width in (140, 100, 72):
        told = lines(table, width)
        assert [line.split("  ")[0].strip() for line in told[-2:]] == list(names)
        assert all(len(line) <= width for line in told)
    # where the room is for neither, the cells fold too, and no word is broken
    assert len(lines(table, 48)) > len(lines(table, 72))
