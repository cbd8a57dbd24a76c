"""From a read sheet to a bicycle: closure in the sheet's own words, defaults that are listed, drawings merged."""

from dataclasses import replace
from math import radians, tan
from pathlib import Path

import pytest
from droptrail.converters.files.fitsheet.bicycle import JOINT_DEFAULTS, SheetReading
from droptrail.model.errors import InputError
from droptrail.model.frame.bicycle import DEFAULT_SOURCES, Fittings, Loads
from droptrail.model.geometry.closure import solve_dimensions
from droptrail.model.geometry.statements import CORE
from droptrail.model.tubes.known_plans import DIAMOND
from helpers_fitsheet import TABLE, changed, read_table, without
from helpers_side_view import truth_dimensions

HEADER = ["item", "value", "unit", "note"]
CORE_ROWS = [
    HEADER,
    ["HTA", "71.5", "deg", ""],
    ["STA", "72.5", "deg", ""],
    ["reach", "381", "mm", ""],
    ["BB drop", "74", "mm", ""],
    ["CS", "455", "mm", ""],
    ["head tube", "152", "mm", ""],
    ["fork length", "392", "mm", "along axis"],
    ["rake", "52", "mm", ""],
    ["wheel radius", "348", "mm", ""],
]


def rows_of(reading: SheetReading) -> dict[str, object]:
    return {row.item: row for row in reading.closure}


# --- closure ------------------------------------------------------------------------------------------------
def test_closure_of_the_tourer(tmp_path: Path) -> None:
    """The sheet's rounded repetitions of an independently computed frame close to their rounding."""
    reading = read_table(TABLE, tmp_path)
    assert set(rows_of(reading)) == {"stack", "wheelbase", "top_tube_slope_deg"}
    assert all(abs(row.difference) <= 0.051 for row in reading.closure)
    assert reading.findings == ()
    assert reading.not_stated == frozenset()


@pytest.mark.parametrize(
    ("item", "value", "statement"),
    [
        ("stack", "589.8", "stack"),
        ("wheelbase", "1050.7", "wheelbase"),
    ],
)
def test_five_millimetres_in_a_row_are_found(
    item: str, value: str, statement: str, tmp_path: Path
) -> None:
    reading = read_table(changed(item, value), tmp_path)
    row = rows_of(reading)[statement]
    assert abs(row.difference) == pytest.approx(5, abs=0.1)  # the sheet rounds to 0.1 mm
    assert not row.ok
    finding = reading.findings[0]
    assert finding.code == f"closure-{statement}"
    assert finding.where.startswith("sheet.csv, row 2")
    assert "the rest implies" in finding.message
    assert "cannot be known" in finding.message
    assert {f.code for f in reading.findings} == {finding.code, "closure-suspects"}


def test_tolerance_reaches_the_closure(tmp_path: Path) -> None:
    assert not rows_of(read_table(changed("stack", "589.8"), tmp_path))["stack"].ok
    assert rows_of(read_table(changed("stack", "589.8"), tmp_path, tolerance_mm=6.0))["stack"].ok
    assert not rows_of(read_table(changed("slope", "11.5"), tmp_path))["top_tube_slope_deg"].ok
    assert rows_of(read_table(changed("slope", "11.5"), tmp_path, tolerance_deg=0.5))[
        "top_tube_slope_deg"
    ].ok


def test_item_stated_twice_and_differently(tmp_path: Path) -> None:
    reading = read_table([*TABLE[:24], ["fork rake", "47", "mm", ""], *TABLE[24:]], tmp_path)
    assert reading.bicycle.dimensions.fork_offset == 52.0
    (row,) = [row for row in reading.closure if row.item == "fork_offset"]
    assert (row.stated, row.implied, row.ok) == (47.0, 52.0, False)
    (finding,) = reading.findings
    assert finding.code == "sheet-duplicate-item"
    assert "row 11" in finding.message
    assert finding.where == "sheet.csv, row 25"


def test_item_stated_twice_alike_closes(tmp_path: Path) -> None:
    reading = read_table([*TABLE[:24], ["fork rake", "5.2", "cm", ""], *TABLE[24:]], tmp_path)
    assert [row.ok for row in reading.closure if row.item == "fork_offset"] == [True]
    assert reading.findings == ()


def test_setting_stated_twice_is_a_finding(tmp_path: Path) -> None:
    reading = read_table([*TABLE[:24], ["rider weight", "90", "kg", ""], *TABLE[24:]], tmp_path)
    assert reading.bicycle.loads.rider_mass == 82.5
    (finding,) = reading.findings
    assert (finding.code, finding.where) == ("sheet-duplicate-item", "sheet.csv, row 25")


# --- the fork's two conventions -----------------------------------------------------------------------------
@pytest.mark.parametrize(
    "rows",
    [
        [["fork length", "395.433939", "mm", "straight"]],
        [["fork length straight", "395.433939", "mm", ""]],
        [["A-C", "395.433939", "mm", ""], ["fork length convention", "straight", "", ""]],
    ],
)
def test_straight_fork_length(rows: list[list[str]], tmp_path: Path) -> None:
    table = [row for row in CORE_ROWS if row[0] != "fork length"]
    reading = read_table([*table, *rows, ["lower headset stack", "12", "mm", ""]], tmp_path)
    assert reading.bicycle.dimensions.fork_length == pytest.approx(392, abs=1e-6)
    assert not any("fork length taken" in sentence for sentence in map(str, reading.assumed))


def test_plain_fork_length_is_taken_along_the_axis_and_said(tmp_path: Path) -> None:
    table = [
        row if row[0] != "fork length" else ["fork length", "392", "mm", "unicrown"]
        for row in CORE_ROWS
    ]
    reading = read_table([*table, ["lower headset stack", "12", "mm", ""]], tmp_path)
    assert reading.bicycle.dimensions.fork_length == 392.0
    assert "fork length taken along the steering axis (the sheet names no convention)" in map(
        str, reading.assumed
    )


def test_both_fork_lengths_are_a_closure(tmp_path: Path) -> None:
    reading = read_table(
        [*TABLE[:24], ["fork length", "400.4", "mm", "straight"], *TABLE[24:]], tmp_path
    )
    row = rows_of(reading)["axle_to_crown_straight"]
    assert row.implied == pytest.approx(395.433939, abs=1e-6)
    assert not row.ok


def test_unknown_convention_is_refused(tmp_path: Path) -> None:
    with pytest.raises(
        InputError,
        match=r"row 11, column value: fork length convention 'diagonal', expected 'along",
    ):
        read_table([*CORE_ROWS, ["fork length convention", "diagonal", "", ""]], tmp_path)


# --- what is missing and what is assumed --------------------------------------------------------------------
def test_neither_stack_nor_headset_is_asked_for(tmp_path: Path) -> None:
    with pytest.raises(
        InputError,
        match=r"sheet.csv: .* not fixed yet: state one of: lower headset stack, stack, eff",
    ):
        read_table(CORE_ROWS, tmp_path)


def test_stack_gives_the_lower_headset_stack(tmp_path: Path) -> None:
    reading = read_table([*CORE_ROWS, ["stack", "584.76811", "mm", ""]], tmp_path)
    assert reading.bicycle.dimensions.lower_stack == pytest.approx(12, abs=1e-6)
    assert reading.closure == ()


def test_geometry_alone_takes_listed_defaults_for_all_the_rest(tmp_path: Path) -> None:
    reading = read_table(
        [*CORE_ROWS, ["stack", "584.8", "mm", ""], ["seat tube c-t", "545", "mm", ""]], tmp_path
    )
    d = reading.bicycle.dimensions
    assert (
        d.top_tube_below_head_top,
        d.down_tube_above_head_bottom,
        d.seatstay_below_top_tube,
    ) == (35.0, 40.0, 15.0)
    assert d.top_tube_on_seat_tube == pytest.approx(515, abs=1e-9)
    assert "top tube below head tube top 35 mm (common practice, no source)" in map(
        str, reading.assumed
    )
    assert "seat tube top above top tube 30 mm (common practice, no source)" in map(
        str, reading.assumed
    )
    assert not any("slope" in sentence for sentence in map(str, reading.assumed))
    assert {
        "top_tube_on_seat_tube",
        "top_tube_slope_deg",
        "down_tube_above_head_bottom",
    } <= reading.not_stated
    assert not {"seat_tube", "stack", "trail", "wheelbase"} & reading.not_stated
    assert set(reading.bicycle.tubes) == set(DIAMOND.names)
    assert (reading.bicycle.fittings, reading.bicycle.loads) == (Fittings(), Loads())
    assert reading.bicycle.assumed == reading.assumed


def test_every_default_used_is_listed_once(tmp_path: Path) -> None:
    """4 joints (no slope: the seat tube gives it), 8 tubes, and every fitting and load; some name a source."""
    reading = read_table(
        [*CORE_ROWS, ["stack", "584.8", "mm", ""], ["seat tube c-t", "545", "mm", ""]], tmp_path
    )
    sources = tuple(f"({words})" for words in DEFAULT_SOURCES.values())
    defaults = [
        sentence
        for sentence in map(str, reading.assumed)
        if sentence.endswith(("(common practice, no source)", *sources))
    ]
    settings = len(Fittings.__dataclass_fields__) + len(Loads.__dataclass_fields__)
    assert len(defaults) == len(set(defaults)) == 4 + len(DIAMOND.names) + settings


def test_a_stated_value_is_never_listed_as_assumed(tmp_path: Path) -> None:
    rest = " ".join(map(str, read_table(TABLE, tmp_path).assumed))
    for words in ("rider mass", "rear hub", "down tube", "top tube", "seatstay below"):
        assert words not in rest
    assert "front hub spacing 100 mm" in rest


def test_without_any_seat_tube_the_top_tube_is_level(tmp_path: Path) -> None:
    reading = read_table([*CORE_ROWS, ["stack", "584.8", "mm", ""]], tmp_path)
    assert reading.bicycle.dimensions.derived()["top_tube_slope_deg"] == pytest.approx(0, abs=1e-9)
    assert "top tube slope 0 deg (common practice, no source)" in map(str, reading.assumed)
    assert list(JOINT_DEFAULTS)[-1] == "top_tube_slope_deg"


def test_missing_unit_is_listed(tmp_path: Path) -> None:
    assert not any(
        "without a unit" in sentence for sentence in map(str, read_table(TABLE, tmp_path).assumed)
    )
    reading = read_table(changed("stack", "584.8", ""), tmp_path)
    assert "rows without a unit read as mm, degrees, kg or N: stack" in map(str, reading.assumed)


def test_missing_material_is_listed(tmp_path: Path) -> None:
    reading = read_table(changed("steerer", '1 1/8"', "1.6", "", ""), tmp_path)
    assert "steerer: material steel (its row in the tube table names none)" in map(
        str, reading.assumed
    )
    assert reading.bicycle.tubes["steerer"].material.name == "steel"


@pytest.mark.parametrize(
    ("value", "unit", "degrees"),
    [
        ("10.8657", "%", 6.2013),
        ("6.2", "deg", 6.2),
        ("6,2°", "", 6.2),
    ],
)
def test_slope_in_percent_or_degrees(value: str, unit: str, degrees: float, tmp_path: Path) -> None:
    table = [row for row in changed("slope", value, unit) if row[:1] != ["top tube on seat tube"]]
    reading = read_table(table, tmp_path)
    assert reading.bicycle.dimensions.derived()["top_tube_slope_deg"] == pytest.approx(
        degrees, abs=1e-4
    )
    assert tan(radians(6.2013)) == pytest.approx(0.108657, abs=1e-5)


# --- own materials ------------------------------------------------------------------------------------------
MATERIAL_HEADER = ["material", "E", "G", "nu", "density", "yield", "note"]


@pytest.mark.parametrize(
    ("cells", "e", "g", "rho"),
    [
        (["210", "81", "", "7.85"], 210e3, 81e3, 7.85e-9),
        (["210000 MPa", "", "0.3", "7850"], 210e3, 210e3 / 2.6, 7.85e-9),
        (["68.9 GPa", "26 GPa", "0.33", "2700 kg/m3"], 68.9e3, 26e3, 2.7e-9),
    ],
)
def test_own_material(cells: list[str], e: float, g: float, rho: float, tmp_path: Path) -> None:
    row = ["my-alloy", *cells, "600", "mill"]
    table = [*changed("steerer", '1 1/8"', "1.6", "", "My alloy"), [], MATERIAL_HEADER, row]
    reading = read_table(table, tmp_path)
    material = reading.bicycle.tubes["steerer"].material
    assert (material.E, material.G, material.rho) == pytest.approx((e, g, rho), rel=1e-12)
    assert (material.yield_strength, material.ultimate, material.source) == (600.0, None, "mill")
    assert reading.findings == ()


def test_own_material_that_contradicts_itself(tmp_path: Path) -> None:
    """Ti-3Al-2.5V as some data sheets print it: G 44 GPa does not follow from E 100 GPa and nu 0.30."""
    table = [*TABLE, [], MATERIAL_HEADER, ["Ti", "100", "44", "0.3", "4.48", "", ""]]
    assert "material-e-g-nu" in [f.code for f in read_table(table, tmp_path).findings]


@pytest.mark.parametrize(
    ("cells", "message"),
    [
        (["210", "", "", "7.85"], "row 37: material 'X' needs G or nu"),
        (
            ["2.1", "81", "", "7.85"],
            r"row 37, column E: '2.1' is 2100 MPa, expected 5000 to 1e\+06 MPa",
        ),
        (
            ["210", "81", "", "78.5"],
            r"row 37, column density: '78.5' is 78500 kg/m3, expected 500 to 20000 kg/m3",
        ),
        (["210", "81", "0.9", "7.85"], r"row 37, column nu: '0.9' is 0.9, expected 0 to 0.5"),
        (["210 psi", "81", "", "7.85"], r"row 37, column E: '210 psi': unit 'psi'"),
    ],
)
def test_refused_materials(cells: list[str], message: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=message):
        read_table([*TABLE, [], MATERIAL_HEADER, ["X", *cells, "", ""]], tmp_path)


# --- with a drawing -----------------------------------------------------------------------------------------
def test_geometry_from_the_drawing_the_rest_from_the_sheet(tmp_path: Path) -> None:
    drawn = truth_dimensions("02")
    reading = read_table(TABLE, tmp_path, dimensions=drawn)
    assert reading.bicycle.dimensions == drawn
    assert reading.bicycle.tubes["down_tube"].label == "31.8 x 0.9/0.6/0.9"
    assert reading.bicycle.loads.rider_mass == 82.5
    assert reading.closure == ()
    assert reading.findings == ()
    assert not any("wheel radius" in sentence for sentence in map(str, reading.assumed))


def test_what_the_drawing_leaves_open_comes_from_the_sheet(tmp_path: Path) -> None:
    drawn = replace(
        truth_dimensions("01"),
        seat_tube=None,
        seatstay_below_top_tube=None,
        down_tube_above_head_bottom=None,
    )
    reading = read_table(without("seatstay below top tube"), tmp_path, dimensions=drawn)
    d = reading.bicycle.dimensions
    assert (d.seat_tube, d.down_tube_above_head_bottom, d.seatstay_below_top_tube) == (
        545.0,
        38.0,
        15.0,
    )
    assert [f.code for f in reading.findings] == ["sheet-fills-drawing"] * 2
    assert "seatstay below top tube 15 mm (common practice, no source)" in map(str, reading.assumed)


def test_tubes_alone_suffice_beside_a_drawing(tmp_path: Path) -> None:
    table = [HEADER, ["rider mass", "75", "kg", ""], *TABLE[TABLE.index([]) :]]
    with pytest.raises(InputError, match="not fixed yet"):
        read_table(table, tmp_path)
    reading = read_table(table, tmp_path, dimensions=truth_dimensions("01"))
    assert reading.bicycle.loads.rider_mass == 75.0


def test_sheet_agrees_with_the_closure_it_is_built_on(tmp_path: Path) -> None:
    reading = read_table(TABLE, tmp_path)
    alone = solve_dimensions(dict(reading.statements))
    assert alone.dimensions == reading.bicycle.dimensions
    assert set(CORE) - {"wheel_radius_front", "wheel_radius_rear"} <= set(reading.statements)
