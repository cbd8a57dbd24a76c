"""The sample bicycles: sheet against sheet, drawing against sheet, and every number the folder's README prints."""

import importlib.util
import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import ezdxf
import pytest
from droptrail.converters.drawings.sideview.read import read_side_view
from droptrail.converters.files.fitsheet.bicycle import bicycle_from_sheet, read_fit_sheet
from droptrail.converters.files.fitsheet.starter import starter_bicycle
from droptrail.converters.inputs import read_input
from droptrail.model.frame.clearance import clearances
from droptrail.model.frame.frame_mitres import frame_mitres
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mitre_findings import mitre_findings
from droptrail.model.geometry.dimensions import FrameDimensions
from droptrail.model.geometry.statements import FIELDS, by_unit, quantities
from droptrail.validation.drawing_check import against_sheet, compare_dimensions

FOLDER = Path(__file__).parent.parent / "sample_drawings"
README = (FOLDER / "README.md").read_text(encoding="utf-8")
PAIRS = ("tourer_700c", "gravel_700c", "small_650b", "trekking_26")
ITEMS = {"head angle": "head_angle", "drop": "bb_drop", "offset": "fork_offset"}

spec = importlib.util.spec_from_file_location("make_samples", FOLDER / "make_samples.py")
make_samples = importlib.util.module_from_spec(spec)
spec.loader.exec_module(make_samples)
DRAWN = {
    "tourer_700c": make_samples.TOURER,
    "gravel_700c": make_samples.GRAVEL,
    "small_650b": make_samples.SMALL,
    "trekking_26": make_samples.TREKKING,
    "trail_27": make_samples.TRAIL,
    "laden_700c": make_samples.LADEN,
    "disagree_tourer": make_samples.TOURER,
}


@cache
def sheet(name: str):
    path = FOLDER / name
    return bicycle_from_sheet(read_fit_sheet(path if path.suffix else path.with_suffix(".csv")))


def differences(a: FrameDimensions, b: FrameDimensions) -> dict[str, float]:
    """Every quantity of the side view in which two frames differ by more than 0.05 mm or 0.01 degree; a drawing of
    centre-lines knows no tube, so standover is held to the same one."""
    first = quantities(replace(a, given=b.given))
    second = quantities(b)
    assert set(first) == set(second)
    return {
        name: first[name] - second[name]
        for name in first
        if abs(first[name] - second[name]) > by_unit(name, mm=0.05, deg=0.01)
    }


def table(heading: str) -> dict[str, dict[str, float]]:
    """The README table whose first column is headed so."""
    lines = [line.strip("|").split("|") for line in README.splitlines() if line[:1] == "|"]
    rows = [[cell.strip(" `") for cell in line] for line in lines]
    start = next(k for k, row in enumerate(rows) if row[0] == heading)
    body = []
    for row in rows[start + 2 :]:
        if len(row) != len(rows[start]) or not re.fullmatch(r"-?[\d.]+", row[1]):
            break
        body.append(row)
    return {
        row[0]: {head: float(cell) for head, cell in zip(rows[start][1:], row[1:], strict=True)}
        for row in body
    }


# --- sheets -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", make_samples.NO_DIAMONDS)
def test_a_sheet_of_another_plan_closes_and_has_room(name):
    reading = sheet(name)
    bicycle = reading.bicycle
    assert bicycle.plan.name == name.rpartition("_")[0]
    assert [f for f in reading.findings if f.severity != "info"] == []
    assert all(row.ok for row in reading.closure)
    assert len(reading.closure) >= 2
    assert all(gap.enough for gap in clearances(bicycle))
    # every tube of the sheet is a tube in space, and in the drawing
    assert {member.tube for member in lay_out(bicycle).members} == set(bicycle.tubes)
    layers = {e.dxf.layer for e in ezdxf.readfile(FOLDER / f"{name}.dxf").modelspace()}
    seen = {role.name.upper() for role in bicycle.roles if not role.inside}
    assert seen - {"FORK_BLADE"} <= layers


@pytest.mark.parametrize("name", [n for n in make_samples.NO_DIAMONDS if n != "tandem_700c"])
def test_a_drawing_is_asked_for_no_tube_that_its_sheets_plan_does_not_have(name):
    alone = {(f.code, f.where) for f in view(name).findings}
    beside = read_input(FOLDER / f"{name}.dxf", FOLDER / f"{name}.csv")
    missed = [f.where for f in beside.findings if f.code == "side-member-missing"]
    assert missed == []
    # read as the diamond it is taken for by itself, the mixte lacks its top tube
    assert (("side-member-missing", "top_tube") in alone) == (name == "mixte_700c")
    # the drawn trail and drop are the sheet's in either case
    for item in ("trail", "bb_drop", "fork_offset"):
        drawn = quantities(view(name).dimensions)[item]
        assert drawn == pytest.approx(quantities(sheet(name).bicycle.dimensions)[item], abs=0.05)


@pytest.mark.parametrize("name", [*PAIRS, "gravel_700c.xlsx"])
def test_sheet_is_the_bicycle_that_was_drawn(name):
    reading = sheet(name)
    assert differences(reading.bicycle.dimensions, DRAWN[name.removesuffix(".xlsx")]) == {}
    assert [f for f in reading.findings if f.severity != "info"] == []
    assert len(reading.closure) >= 4
    assert all(row.ok for row in reading.closure)


@pytest.mark.parametrize("name", PAIRS)
def test_sheet_holds_a_whole_tube_set_that_fits_the_frame(name):
    reading = sheet(name)
    assert not [
        one for one in reading.assumed if one.subject == "tubes"
    ]  # no tube from the defaults
    bicycle = reading.bicycle
    for member in lay_out(bicycle).members:
        bicycle.tubes[member.tube].wall_profile(member.length)  # raises when the butts do not fit
    mitres = frame_mitres(bicycle)
    assert {f.code for f in mitre_findings(bicycle, mitres)} <= {
        "mitre-partial",
        "mitre-two-neighbours",
        "mitre-oval",  # chainstays squeezed oval for a fat tyre
    }
    assert {m.member[:8] for m in mitres if m.coverage < 1} <= {"seatstay"}


@pytest.mark.parametrize("name", [*DRAWN, "starter"])
def test_no_tyre_steerer_or_foot_is_tighter_than_the_tool_itself_wants(name):
    bicycle = starter_bicycle() if name == "starter" else sheet(name).bicycle
    room = [gap for gap in clearances(bicycle) if not gap.name.startswith(("heel to", "chain to"))]
    # Seat tube, down tube, crown; stays and blades, whose tyre widths are stated; steerer and foot.
    # A suspension fork's own room stands in its papers.
    assert len(room) == (7 if bicycle.suspension else 8)
    assert [gap for gap in room if not gap.enough] == []


def test_materials_and_conventions_are_those_the_readme_names():
    tubes = {name: {t.material.name for t in sheet(name).bicycle.tubes.values()} for name in PAIRS}
    assert tubes == {
        "tourer_700c": {"4130"},
        "gravel_700c": {"4130"},
        "small_650b": {"Ti-3Al-2.5V", "4130"},
        "trekking_26": {"6061-T6", "4130"},
    }
    assert "axle_to_crown_straight" in sheet("gravel_700c").statements
    assert sheet("gravel_700c").statements["axle_to_crown_straight"] == 395
    assert sheet("gravel_700c").bicycle.dimensions.fork_length == pytest.approx(391.9, abs=0.05)
    small = (FOLDER / "small_650b.csv").read_bytes()
    assert b";70,9;" in small
    assert "sheet-encoding" in {f.code for f in sheet("small_650b").findings}
    assert sheet("small_650b").statements["bb_height"] == 272
    assert "bb_drop" not in sheet("small_650b").statements
    assert "1 5/8" in (FOLDER / "trekking_26.csv").read_text()


def test_csv_and_xlsx_are_one_bicycle():
    assert sheet("gravel_700c.xlsx").bicycle == sheet("gravel_700c").bicycle


def test_redundant_statements_close_as_the_readme_says():
    rows = {
        name: {row.item: abs(row.stated - row.implied) for row in sheet(name).closure}
        for name in PAIRS
    }
    assert set(rows["tourer_700c"]) == {"stack", "effective_top_tube", "front_center", "wheelbase"}
    assert max(rows["tourer_700c"].values()) < 0.1
    trekking = rows["trekking_26"]
    assert max(trekking.values()) < 1.0
    assert trekking["front_center"] == pytest.approx(0.5, abs=0.05)
    assert trekking["effective_top_tube"] == pytest.approx(0.5, abs=0.05)


# --- numbers in the README ----------------------------------------------------------------------------------------


def test_readme_numbers_are_those_of_the_sheets():
    printed = table("pair")
    assert set(printed) == set(PAIRS)
    for name, row in printed.items():
        held = quantities(sheet(name).bicycle.dimensions)
        for item, value in row.items():
            places = 0.005 if item == "head angle" else 0.05
            assert held[ITEMS.get(item, item)] == pytest.approx(value, abs=places + 1e-9), (
                name,
                item,
            )


def test_disagreeing_pair_disagrees_as_the_readme_says():
    printed = table("item")
    drawn, stated = (
        quantities(make_samples.TOURER),
        quantities(sheet("disagree_tourer").bicycle.dimensions),
    )
    assert set(printed) == {"trail", "drop", "offset", "stack", "wheelbase"}
    for item, row in printed.items():
        key = ITEMS.get(item, item)
        found = {
            "drawing": drawn[key],
            "sheet": stated[key],
            "difference": drawn[key] - stated[key],
        }
        assert row == pytest.approx(found, abs=0.0501), item
    reading = sheet("disagree_tourer")
    assert all(row.ok for row in reading.closure)
    changed = {
        name
        for name in FIELDS
        if abs(getattr(reading.bicycle.dimensions, name) - getattr(make_samples.TOURER, name))
        > 1e-6
    }
    assert changed == {"fork_offset", "bb_drop"}


# --- drawings -----------------------------------------------------------------------------------------------------


def entities(path: Path) -> list[tuple]:
    found = []
    for e in ezdxf.readfile(path).modelspace().query("LINE CIRCLE"):
        numbers = (
            (*e.dxf.start, *e.dxf.end) if e.dxftype() == "LINE" else (*e.dxf.center, e.dxf.radius)
        )
        found.append((e.dxftype(), e.dxf.layer, *(round(v, 9) for v in numbers)))
    return found


def test_drawings_kept_are_those_the_script_makes(tmp_path):
    make_samples.main(tmp_path)
    drawn = (*DRAWN, *make_samples.NO_DIAMONDS)
    assert {p.name for p in tmp_path.iterdir()} == {f"{name}.dxf" for name in drawn} | {
        "gravel_700c.xlsx"
    }
    for name in drawn:
        assert entities(FOLDER / f"{name}.dxf") == entities(tmp_path / f"{name}.dxf"), name


def test_readme_names_every_file_and_nothing_else():
    kept = {p.stem for p in FOLDER.iterdir() if p.suffix in (".dxf", ".csv", ".xlsx")}
    assert kept == {
        line.removeprefix("## ") for line in README.splitlines() if line.startswith("## ")
    }


@cache
def view(name: str):
    return read_side_view(FOLDER / f"{name}.dxf")


@pytest.mark.parametrize("name", sorted({*PAIRS, *make_samples.NO_DIAMONDS}))
def test_every_figure_of_a_drawing_is_its_sheets(name):
    """Diameters and the plan's own items as well."""
    reading = read_input(FOLDER / f"{name}.dxf", FOLDER / f"{name}.csv")
    rows = against_sheet(reading, 0.05)
    assert len(rows) > 20
    assert [row.item for row in rows if row.ok is False] == []


@pytest.mark.parametrize("name", PAIRS)
def test_drawing_agrees_with_its_sheet(name):
    found = view(name)
    assert differences(found.dimensions, sheet(name).bicycle.dimensions) == {}
    assert [f for f in found.findings if f.severity != "info"] == []


def test_habits_are_found_as_the_readme_says():
    assert [name for name in DRAWN if view(name).transform.mirrored] == ["small_650b"]
    assert {
        name for name in DRAWN if "side-facing-left" in {f.code for f in view(name).findings}
    } == {"small_650b"}
    assert {name: view(name).transform.mm_per_unit for name in DRAWN} == pytest.approx(
        {name: 25.4 if name == "trekking_26" else 1.0 for name in DRAWN}, rel=1e-12
    )
    drawn = {name for name in DRAWN if view(name).diameters["down_tube"] is not None}
    assert drawn == {"gravel_700c"}
    assert view("gravel_700c").diameters["down_tube"] == pytest.approx(34.9)


def test_disagreeing_drawing_is_told_from_its_sheet():
    rows = compare_dimensions(
        view("disagree_tourer").dimensions, sheet("disagree_tourer").bicycle.dimensions
    )
    wrong = [row.item for row in rows if not row.ok]
    assert wrong[:3] == ["trail", "bb_drop", "fork_offset"]
    assert set(wrong) == {
        "trail",
        "bb_drop",
        "fork_offset",
        "stack",
        "wheelbase",
        "front_center",
        "effective_top_tube",
    }
    for name in PAIRS:
        rows = compare_dimensions(
            view(name).dimensions,
            sheet(name).bicycle.dimensions,
            tolerance_mm=0.05,
            tolerance_deg=0.01,
        )
        assert all(row.ok for row in rows), name
