"""Plans for more riders and tandems of another layout are rows of one table: every command is asked of a copy of the
product to which `data/more_riders.toml` is added, and nothing else.

Truth: places by trigonometry from the table's numbers; both solvers; the drawing that is written and read again.
"""

import json
from math import sqrt
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from helpers_plan_copy import answers

pytestmark = pytest.mark.slow

ROWS = (Path(__file__).parent / "data" / "more_riders.toml").read_text(encoding="utf-8")
RIDERS = {
    "triplet": ("captain", "stoker", "third"),
    "open_tandem": ("captain", "stoker"),
    "direct_tandem": ("captain", "stoker"),
}
NAMES = tuple(RIDERS)
JSON = (
    "geometry",
    "solve",
    "modes",
    "tubes",
    "audit",
    "compare",
    "search",
    "mitre",
    "jig",
    "check",
)
WRITTEN = ("dxf", "svg", "vtu", "json", "html")
RUN = """
from pathlib import Path

from droptrail.converters.inputs import read_input
from droptrail.model.cases.library import cases_of, load_cases
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.mechanics.solve import solve
from droptrail.validation.opensees.agreement import cross_check
from droptrail.validation.workbench import Upload, open_files
from droptrail.validation.workbench_page import page

answers = {}
boom = ("--option", "boom tube=38.1,44.5")
for name in given:
    sheet = f"{name}.csv"
    drawing = f"{name}.dxf"
    told = {"new": said("new", sheet, "--plan", name)}
    # what takes long is asked of the longest frame alone
    longest = name == given[0]
    for command in ("geometry", "solve", "modes", "tubes", "jig", *(["audit"] if longest else [])):
        told[command] = said(command, sheet, "--json")
    told["shimmy"] = said("shimmy", sheet, "--draws", "0", "--json")
    told["draw"] = said("draw", sheet, "-o", drawing, "--plot", "A3")
    told["check"] = said("check", drawing, "--sheet", sheet, "--json")
    told["read"] = said("read", drawing, "--plan", name, "--json")
    told["unnamed"] = said("read", drawing)
    told["wrong"] = said("read", drawing, "--plan", given[int(name == given[0])])
    told["compare"] = said("compare", sheet, *boom, "--json")
    if longest:
        told["search"] = said("search", sheet, *boom, "--json")
    told["mitre"] = said("mitre", sheet, "-o", f"{name} mitres", "--json")
    told["picture"] = said("picture", sheet, "--view", "iso", "-o", f"{name}.svg")
    told["export"] = said("export", sheet, "-o", f"{name}.vtu")
    told["model"] = said("export", sheet, "-o", f"{name}.json")
    told["model again"] = said("solve", f"{name}.json", "--json")
    told["report"] = said("report", sheet, "-o", f"{name}.html")
    bench = open_files(None, Upload(sheet, Path(sheet).read_bytes()))
    told["page"] = json.dumps(page(bench, bench, False))
    bicycle = read_input(sheet).need_bicycle()
    layout = lay_out(bicycle)
    names = cases_of(bicycle)
    results = solve(mesh(bicycle, layout=layout), load_cases(bicycle, layout, names))
    told["cases"] = names
    told["differs"] = {case: one.largest for case, one in cross_check(results).items()}
    told["joints"] = layout.joints
    answers[name] = told
json.dump(answers, open("answers.json", "w"))
"""


@pytest.fixture(scope="module")
def asked(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, Any]]:
    folder = tmp_path_factory.mktemp("more riders")
    return folder, answers(folder, ROWS, RUN, NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_no_command_stumbles(asked: tuple[Path, dict[str, Any]], name: str) -> None:
    folder, told = asked
    for command, text in told[name].items():
        if isinstance(text, str):
            assert "Traceback" not in text, command
            # a pair ahead of the rear triangle is in neither the front view nor that of the stays, which is said
            if (name, command) != ("direct_tandem", "draw"):
                assert "tube-not-handled" not in text, command
    for command in {*JSON} & {*told[name]}:
        assert json.loads(told[name][command]), command
    assert {*JSON} <= {*told["triplet"]}
    for ending in WRITTEN:
        assert (folder / f"{name}.{ending}").stat().st_size > 1000


@pytest.mark.parametrize("name", NAMES)
def test_every_case_is_solved_alike_by_opensees(
    asked: tuple[Path, dict[str, Any]], name: str
) -> None:
    """Everybody's strokes are cases by his name; braking and the rest are those of any bicycle."""
    told = asked[1][name]
    strokes = {f"{rider}_stroke{side}" for rider in RIDERS[name] for side in ("", "_left")}
    assert strokes | {"seated", "climb", "brake_front_disc", "frame_torsion"} <= {*told["cases"]}
    assert {*told["differs"]} == {*told["cases"]}
    assert max(told["differs"].values()) < 1e-8
    exported = json.loads(told["model again"])["load_cases"]
    for case, figures in json.loads(told["solve"])["load_cases"].items():
        for joint, moved in figures["displacements"].items():
            assert exported[case]["displacements"][joint] == pytest.approx(
                moved, rel=1e-7, abs=1e-9
            )


def test_the_third_rider_stands_where_the_table_says(
    asked: tuple[Path, dict[str, Any]],
) -> None:
    """Booms of 690 and 670 mm, both level; chainstay 450 mm from the last bracket, the axle 75 mm higher."""
    joints = asked[1]["triplet"]["joints"]
    assert joints["third_bracket"] == pytest.approx([-1360.0, 0.0, 0.0])
    back = -1360.0 - sqrt(450.0**2 - 75.0**2)
    assert joints["rear_axle"] == pytest.approx([back, 75.0, 0.0])
    # below the stoker's seat tube top, which stands 150 behind his bracket and 477 above
    assert joints["third_bar_centre"] == pytest.approx([-690.0 - 150.0 - 60.0, 477.0 + 140.0, 0.0])


@pytest.mark.parametrize("name", NAMES)
def test_its_drawing_is_read_right(asked: tuple[Path, dict[str, Any]], name: str) -> None:
    """Every item that the drawing is measured by is the sheet's, no warning stands, every tube is found."""
    checked = json.loads(asked[1][name]["check"])
    assert checked["verdict"] == "pass"
    rows = {row["item"]: row for row in checked["dimensions"]}
    assert rows["boom_length"]["drawing"] == pytest.approx(690.0, abs=0.01)
    assert all(row["ok"] is not False for row in rows.values())
    assert [f for f in checked["findings"] if f["severity"] != "info"] == []
    if name == "triplet":
        assert rows["rear_boom_length"]["drawing"] == pytest.approx(670.0, abs=0.01)
        found = {f["where"] for f in checked["findings"] if f["code"] == "drawing-tube-found"}
        assert {"rear_boom_tube", "third_seat_tube", "third_top_tube", "lateral"} <= found


def test_another_number_of_riders_is_refused_with_the_reason(
    asked: tuple[Path, dict[str, Any]],
) -> None:
    told = asked[1]
    assert "describes a frame for 3 riders" in told["triplet"]["unnamed"]
    assert "'plan' (triplet;" in told["triplet"]["unnamed"]
    assert (
        "3 seat tubes found whose feet tubes join, and the plan 'open tandem' has 2"
        in (told["triplet"]["wrong"])
    )
    assert "describes a frame for 2 riders" in told["open_tandem"]["unnamed"]
    assert (
        "2 seat tubes found whose feet tubes join, and the plan 'triplet' has 3"
        in (told["open_tandem"]["wrong"])
    )


def test_its_tubes_and_riders_are_everywhere(asked: tuple[Path, dict[str, Any]]) -> None:
    folder, told = asked
    triplet = told["triplet"]
    names = {path.stem for path in (folder / "triplet mitres").iterdir()}
    assert {"rear_boom_tube_at_bb_shell_start", "rear_boom_tube_at_bb_shell_end"} <= names
    assert any(name.startswith("third_top_tube_at_stoker_seat_tube") for name in names)
    assert "third 10 kg heavier" in triplet["shimmy"]
    assert "rear boom length" in triplet["page"]
    assert "rear boom tube" in (folder / "triplet.html").read_text(encoding="utf-8")
    assert "third_stroke_left" in triplet["cases"]
    drawn = ezdxf.readfile(folder / "triplet.dxf").modelspace().query("DIMENSION")
    between = [one.get_measurement() for one in drawn if "bracket to" in one.dxf.text]
    assert sorted(between) == pytest.approx([670.0, 690.0])
    seated = json.loads(triplet["solve"])["load_cases"]["seated"]
    # 45 kg, 55 % of it on the saddle
    down = seated["loads"]["nodal"]["third_saddle"][1]
    assert down == pytest.approx(-45.0 * 9.81 * 0.55)
    gaps = {one["name"] for one in json.loads(triplet["check"])["clearances"]}
    assert {"stoker's bars to the captain's saddle", "third's bars to the stoker's saddle"} <= gaps
