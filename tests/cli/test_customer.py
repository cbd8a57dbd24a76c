"""The customer's sheet: one page, the numbers of the geometry, no word of solvers."""

import re
from pathlib import Path

import pytest
from droptrail.cli.main import main
from droptrail.converters.inputs import read_input
from droptrail.converters.showing.tables.customer import customer_tables
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.frame.tube_mass import mass_table

SHEET = Path(__file__).parents[2] / "sample_drawings" / "tourer_700c.csv"


@pytest.fixture(scope="module")
def tables():
    bicycle = read_input(SHEET).need_bicycle()
    return {
        table.name: table
        for table in customer_tables(bicycle, mass_table(mesh(bicycle), lay_out(bicycle)))
    }


def said(table):
    return {row[0]: table.columns[1].text(row[1]) for row in table.rows}


def test_it_tells_how_one_sits_and_what_the_bicycle_measures(tables):
    bicycle = read_input(SHEET).need_bicycle()
    sizes = said(tables["sizes"])
    assert sizes["stack"] == "592.4 mm"
    assert sizes["head angle"] == "71.8 deg"
    assert sizes["front tyre, width"] == "37.0 mm"
    sitting = said(tables["sitting"])
    above = lay_out(bicycle).joints["saddle"][1] - lay_out(bicycle).joints["bar_centre"][1]
    assert sitting["saddle clamp above the bar centre"] == f"{above:.1f} mm"
    # in kg, as a customer weighs: 40 % of an 82 kg rider and his bags at rest come on it, and no newtons
    assert sitting["weight on the front wheel, rider seated"].endswith(" kg")
    assert 25 < float(sitting["weight on the front wheel, rider seated"].split()[0]) < 60


def test_no_word_of_solvers_and_one_page(tables, tmp_path):
    words = " ".join(
        str(cell) for table in tables.values() for row in table.rows for cell in row
    ) + " ".join(f"{table.title} {table.notes}" for table in tables.values())
    assert not re.search(r"solve|OpenSees|mesh|element|residual|stiffness", words, re.I)
    out = tmp_path / "page.pdf"
    assert main(["customer", str(SHEET), "-o", str(out), "--why", "It carries bags. " * 20]) == 0
    assert len(re.findall(rb"/Type /Page\b", out.read_bytes())) == 1


def test_only_pdf(capsys):
    assert main(["customer", str(SHEET), "-o", "page.html"]) == 2
    assert ".pdf" in capsys.readouterr().err
