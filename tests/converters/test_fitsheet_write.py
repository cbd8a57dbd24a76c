"""Written sheets read back to the same bicycle; no text in them runs as a formula."""

import csv
import io
from dataclasses import replace
from math import isclose
from pathlib import Path

import pytest
from droptrail.converters.files.fitsheet.bicycle import (
    SheetReading,
    bicycle_from_sheet,
    read_fit_sheet,
)
from droptrail.converters.files.fitsheet.items import ITEMS
from droptrail.converters.files.fitsheet.starter import (
    starter_bicycle,
    starter_sheet,
    write_starter_sheet,
)
from droptrail.converters.files.fitsheet.table import clean, guard, unguard
from droptrail.converters.files.fitsheet.write_sheet import write_fit_sheet
from droptrail.model.assumption import Assumed
from droptrail.model.errors import InputError
from droptrail.model.frame.bicycle import Bicycle, Fittings, Loads
from droptrail.model.geometry.dimensions import FrameDimensions
from droptrail.model.tubes.materials import Material, find_material
from droptrail.model.tubes.tube import Tube
from helpers_bicycle import tourer
from helpers_side_view import frames
from hypothesis import given, settings
from hypothesis import strategies as st

ENDINGS = (".csv", ".xlsx")
ALLOY = Material(
    "=cmd|'/C calc'!A0", 71234.5, 26789.1, 2.7123e-9, 301.5, None, 95.25, "-mill sheet, 2 mm"
)


def there_and_back(bicycle: Bicycle, path: Path) -> SheetReading:
    write_fit_sheet(bicycle, path, force=True)
    return bicycle_from_sheet(read_fit_sheet(path))


def assert_same_numbers(found: object, wanted: object, where: str = "bicycle") -> None:
    """Equal in every number to 1e-9, and in everything else exactly."""
    if isinstance(wanted, float):
        assert isclose(found, wanted, rel_tol=1e-12, abs_tol=1e-9 if abs(wanted) > 1e-6 else 0.0), (
            where
        )  # type: ignore[arg-type]
    elif isinstance(wanted, tuple):
        assert len(found) == len(wanted), where  # type: ignore[arg-type]
        for i, value in enumerate(wanted):
            assert_same_numbers(found[i], value, f"{where}[{i}]")  # type: ignore[index]
    elif hasattr(wanted, "__dataclass_fields__"):
        for name in wanted.__dataclass_fields__:
            assert_same_numbers(getattr(found, name), getattr(wanted, name), f"{where}.{name}")
    elif hasattr(wanted, "items"):
        assert list(found) == list(wanted), where  # type: ignore[call-overload]
        for key, value in wanted.items():
            assert_same_numbers(found[key], value, f"{where}.{key}")  # type: ignore[index]
    else:
        assert found == wanted, where


# --- the starter --------------------------------------------------------------------------------------------
@pytest.mark.parametrize("ending", ENDINGS)
def test_starter_reads_back_without_anything_to_complain(ending: str, tmp_path: Path) -> None:
    path = tmp_path / f"starter{ending}"
    write_starter_sheet(path)
    reading = bicycle_from_sheet(read_fit_sheet(path))
    assert reading.findings == ()
    assert replace(reading.bicycle, assumed=()) == starter_bicycle()
    assert len(reading.closure) == 6
    assert all(row.ok for row in reading.closure)
    assert [one.item for one in reading.assumed] == [
        "front wheel radius",
        "rear wheel radius",
    ]


def test_starter_shows_every_fitting_and_load_and_says_what_it_is() -> None:
    rows = list(csv.reader(io.StringIO(starter_sheet())))
    stated = {row[0] for row in rows if len(row) == 4}
    for key, item in ITEMS.items():
        if item.group in ("fittings", "loads"):
            assert item.names[0] in stated, key
    assert sum(row[0].startswith("#") for row in rows if row) >= 8


@pytest.mark.parametrize("ending", ENDINGS)
def test_an_existing_file_is_left_alone(ending: str, tmp_path: Path) -> None:
    path = tmp_path / f"starter{ending}"
    path.write_text("mine")
    with pytest.raises(InputError, match=r"exists already.*--force"):
        write_starter_sheet(path)
    assert path.read_text() == "mine"
    write_starter_sheet(path, force=True)
    assert path.read_bytes() != b"mine"


def test_other_endings_and_places_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"sheet.ods: a fit sheet is written as .csv or .xlsx"):
        write_starter_sheet(tmp_path / "sheet.ods")
    with pytest.raises(InputError, match=r"sheet.csv: cannot write into that folder .No such file"):
        write_starter_sheet(tmp_path / "nowhere" / "sheet.csv")


# --- round trip ---------------------------------------------------------------------------------------------
def awkward() -> Bicycle:
    """Decimals that end nowhere, every shape of tube, a material of its own, names that look like formulas."""
    third, steel = 1 / 3, find_material("4130")
    bicycle = tourer(
        Loads(rider_mass=80 + third, saddle_share=0.5, bar_share=0.2, pedal_share=0.3),
        Fittings(saddle_height=700 + third, blade_straight=123.4, stay_curve=7.7),
        top_tube=Tube(
            ALLOY, 30 + third, 30 + third, (0.8, 0.5, 0.8), (75 + third, 70), (0.0, 20.5)
        ),
        chainstay=Tube(ALLOY, 30.0, 14 + third, (0.9,), oval_width=16.1),
        seatstay=Tube(steel, 16.0, 16.0, (0.7 + third,), oval_width=20.0),
        seat_tube=Tube(replace(steel, name="4130"), 28.6, 28.6, (0.9, 0.6), (130.0,)),
    )
    dimensions = replace(
        bicycle.dimensions, reach=379 + third, head_angle=71 + third, bb_drop=-12.1 - third
    )
    return replace(
        bicycle,
        dimensions=dimensions,
        name='=HYPERLINK("x"), Größe M',
        assumed=(Assumed("build", "", "saddle", 720, "mm", ""),),
    )


@pytest.mark.parametrize("ending", ENDINGS)
def test_awkward_bicycle_reads_back(ending: str, tmp_path: Path) -> None:
    bicycle = awkward()
    reading = there_and_back(bicycle, tmp_path / f"sheet{ending}")
    assert_same_numbers(replace(reading.bicycle, assumed=()), replace(bicycle, assumed=()))
    assert reading.assumed == ()
    assert reading.findings == ()
    assert reading.closure == ()


def test_the_comparison_can_fail() -> None:
    bicycle = awkward()
    other = replace(
        bicycle,
        dimensions=replace(bicycle.dimensions, fork_offset=bicycle.dimensions.fork_offset + 1e-6),
    )
    with pytest.raises(AssertionError, match="fork_offset"):
        assert_same_numbers(other, bicycle)


@settings(deadline=None, max_examples=25)
@given(
    frame=frames, wall=st.floats(0.3, 2.0), od=st.floats(20.0, 60.0), mass=st.floats(40.0, 150.0)
)
def test_random_bicycles_read_back(
    tmp_path_factory: pytest.TempPathFactory,
    frame: FrameDimensions,
    wall: float,
    od: float,
    mass: float,
) -> None:
    tube = Tube(
        find_material("6061-T6"), od, od * 0.7, (wall, wall * 0.8, wall), (od, od), (wall, wall)
    )
    bicycle = replace(tourer(Loads(rider_mass=mass), down_tube=tube), dimensions=frame)
    path = tmp_path_factory.mktemp("sheets") / "sheet.csv"
    assert_same_numbers(there_and_back(bicycle, path).bicycle, bicycle)


def test_what_is_not_held_and_what_was_assumed_stand_in_comments(tmp_path: Path) -> None:
    bicycle = replace(
        awkward(), dimensions=replace(awkward().dimensions, seatstay_below_top_tube=None)
    )
    reading = there_and_back(bicycle, tmp_path / "sheet.csv")
    text = (tmp_path / "sheet.csv").read_text(encoding="utf-8-sig")
    assert "# seatstay below top tube is not known" in text
    assert "# assumed when this sheet was written: saddle 720 mm" in text
    assert tuple(map(str, reading.assumed)) == (
        "seatstay below top tube 15 mm (common practice, no source)",
    )


def test_two_materials_of_one_name_are_refused(tmp_path: Path) -> None:
    steel = find_material("4130")
    bicycle = tourer(steerer=Tube(replace(steel, E=200e3), 28.6, 28.6, (1.6,)))
    with pytest.raises(InputError, match="two different materials are both called '4130'"):
        write_fit_sheet(bicycle, tmp_path / "sheet.csv")


# --- formulas -----------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    "text", ["=1+1", "+49 30", "-x", "@SUM(A1)", "\t=1", " \r=1", "#N/A", "'=1"]
)
def test_guarded_text_is_no_formula(text: str) -> None:
    assert guard(text).startswith("'")


@pytest.mark.parametrize("ending", ENDINGS)
def test_no_text_cell_starts_like_a_formula(ending: str, tmp_path: Path) -> None:
    path = tmp_path / f"sheet{ending}"
    write_fit_sheet(awkward(), path)
    for text in _texts(path):
        assert text[:1] not in ("=", "+", "@", "\t", "\r"), text
        assert not text.startswith("-") or text[1:].replace(".", "").isdigit(), text
    assert any(text.startswith("'=cmd") for text in _texts(path))


def _texts(path: Path) -> list[str]:
    if path.suffix == ".csv":
        return [
            cell
            for row in csv.reader(io.StringIO(path.read_text(encoding="utf-8-sig")))
            for cell in row
        ]
    import openpyxl

    cells = [cell for row in openpyxl.load_workbook(path).active.iter_rows() for cell in row]
    assert all(cell.data_type != "f" for cell in cells)
    return [cell.value for cell in cells if isinstance(cell.value, str)]


@given(st.one_of(st.text(max_size=40), st.text("=+-@#' \tx", max_size=6)))
def test_any_name_survives_the_guard(text: str) -> None:
    assert unguard(guard(text)) == clean(text)
    assert not guard(text).startswith(("=", "+", "-", "@", "#", " ", "\t"))
