"""A further tube is one row of one table: two invented ones are added to a copy of the product, and every part asked.

The copy differs from the product in `model/tubes/plans.toml` alone, so whatever handles the tubes below reads the
table, and whatever does not has to say so.
"""

import json
from pathlib import Path
from typing import Any

import pytest
from droptrail.model.tubes.known_plans import PLANS
from droptrail.model.tubes.places import Along
from droptrail.model.tubes.plan import SHELL, FramePlan
from helpers_plan_copy import answers as said_by_copy

ROOT = Path(__file__).parent.parent
SHEET = ROOT / "sample_drawings" / "tourer_700c.csv"
DRAWING = ROOT / "sample_drawings" / "tourer_700c.dxf"
# A brace between two points of two tubes, and a pair from beside the head tube to the dropouts.
INVENTED = """
[diamond.tubes.cross_brace]
from = "seat_tube 0.45"
to = "down_tube 0.5"
plain = [19.0, 19.0, 0.8]
optional = true
mitred_start = ["seat_tube"]
mitred_end = ["down_tube"]
narrower_than = ["seat_tube", "down_tube"]

[diamond.tubes.lateral]
from = "head_tube 0.5 apart 16"
to = "rear_dropout"
plain = [14.0, 14.0, 0.8]
optional = true
mitred_start = ["head_tube"]
region = "rear triangle"
"""
NAMES = ("cross_brace", "lateral")
# A whole plan, of tubes that no other has: a bent boom in the place of the top tube, and a strut on it.
FURTHER = """
[lowboom]
label = "low boom"
like = "diamond"
without = ["top_tube"]
items.boom_sagitta = { label = "boom sagitta", usual = -40.0, limits = [-200.0, 200.0] }
joints.seat_tube_seatstay_node = "seat_tube 30 mm from end"
tubes.head_tube.via = ["down_tube_head_node"]
tubes.seat_tube.via = ["seat_tube_seatstay_node"]
tubes.down_tube.mitred_end = ["head_tube"]

[lowboom.tubes.boom]
from = "seat_tube 0.45"
to = "head_tube 0.35"
bend = "sagitta {boom_sagitta}"
plain = [31.8, 31.8, 0.9]
mitred_start = ["seat_tube"]
mitred_end = ["head_tube"]
narrower_than = ["head_tube"]

[lowboom.tubes.boom_strut]
from = "boom 0.5"
to = "bottom_bracket"
mitred_start = ["boom"]
mitred_end = ["bb_shell"]
"""

RUN = """
from dataclasses import replace

from droptrail.converters.files.fitsheet.write_sheet import write_fit_sheet
from droptrail.converters.inputs import read_input
from droptrail.model.choice.workshop_rules import Rules, frame_faults
from droptrail.model.tubes.known_plans import DIAMOND
from droptrail.model.tubes.tube import Tube
from droptrail.validation.workbench import Upload, open_files, tube_texts
from droptrail.validation.workbench_knobs import knobs_of

sheet, drawing = given
bicycle = read_input(sheet).bicycle
write_fit_sheet(replace(bicycle, assumed=()), "plain.csv")
steel = bicycle.tubes["top_tube"].material
further = {
    role.name: Tube(steel, *role.plain[:2], role.plain[2:]) for role in DIAMOND.roles if role.optional
}
more = replace(bicycle, tubes={**bicycle.tubes, **further}, assumed=())
write_fit_sheet(more, "more.csv")
answers = {"tubes back": read_input("more.csv").bicycle.tubes == more.tubes}
answers["lugged"] = [f.where for f in frame_faults(Rules("lugged"), more) if f.code == "rule-lug-size"]
for name in ("plain", "more"):
    file = f"{name}.csv"
    for command in ("geometry", "solve"):
        answers[f"{command} {name}"] = said(command, file, "--json")
    answers[f"mitre {name}"] = said("mitre", file, "-o", f"{name} mitres", "--json")
    answers[f"draw {name}"] = said("draw", file, "-o", f"{name}.dxf")
if further:
    answers["check more"] = said("check", drawing, "--sheet", "more.csv", "--json")
    answers["zones more"] = said("solve", "more.csv", "--rigid-zones", "--json")
    for command in ("tubes", "modes", "audit"):
        answers[f"{command} more"] = said(command, "more.csv", "--json")
    answers["compare more"] = said("compare", "more.csv", "--option", "lateral=14,16", "--json")
    answers["bare"] = said("export", "more.csv", "--joints", "bare", "-o", "bare.json")
    answers["search more"] = said("search", "more.csv", "--option", "cross brace=16,19,31.8", "--json")
    answers["picture more"] = said("picture", "more.csv", "--view", "iso", "-o", "iso.svg")
    answers["side more"] = said("picture", "more.csv", "--view", "side", "-o", "side.svg")
    answers["export more"] = said("export", "more.csv", "-o", "more.md")
    answers["report more"] = said("report", "more.csv", "-o", "more.html")
if further:
    said("new", "low.csv", "--plan", "low boom")
    low = read_input("low.csv").bicycle
    answers["low plan"] = low.plan.name
    answers["draw low"] = said("draw", "low.csv", "-o", "low.dxf")
    answers["check low"] = said("check", "low.dxf", "--sheet", "low.csv", "--json")
    answers["mitre low"] = said("mitre", "low.csv", "-o", "low mitres", "--json")
    for command in ("geometry", "tubes", "modes"):
        answers[f"{command} low"] = said(command, "low.csv", "--json")
    answers["compare low"] = said("compare", "low.csv", "--option", "boom sagitta=-80,0", "--json")
    answers["search low"] = said("search", "low.csv", "--option", "boom=28.6,31.8", "--json")
    answers["jig low"] = said("jig", "low.csv", "--json")
    answers["picture low"] = said("picture", "low.csv", "--view", "iso", "-o", "low.svg")
    answers["export low"] = said("export", "low.csv", "-o", "low.vtu")
    answers["report low"] = said("report", "low.csv", "-o", "low.html")
    answers["codes low"] = {
        words[0]: code(*words)
        for words in (
            ("solve", "low.csv"), ("audit", "low.csv"), ("shimmy", "low.csv"), ("sweep", "low.csv", "--steps", "3"),
            ("customer", "low.csv", "-o", "low.pdf"), ("model", "low.csv", "-o", "low.json"),
            ("check", "low.dxf", "--sheet", "low.csv"), ("draw", "low.csv", "-o", "plot.dxf", "--plot", "A2"),
            ("search", "low.csv", "--option", "boom strut=16,19"),
        )
    }
    answers["model low"] = code("solve", "low.json")
    bench = open_files(None, Upload("low.csv", open("low.csv", "rb").read()))
    on_it = bench.reading.need_bicycle()
    answers["bench low"] = [*tube_texts(on_it), *(knob.name for knob in knobs_of(on_it))]
json.dump(answers, open("answers.json", "w"))
"""


def answers(folder: Path, rows: str) -> dict[str, Any]:
    """What a copy of the product with these rows added says."""
    return said_by_copy(folder, rows, RUN, (str(SHEET), str(DRAWING)))


@pytest.fixture(scope="module")
def with_rows(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, Any]]:
    folder = tmp_path_factory.mktemp("with_rows")
    return folder, answers(folder, INVENTED + FURTHER)


@pytest.mark.parametrize("plan", PLANS.values(), ids=lambda plan: plan.name)
def test_the_table_holds_together(plan: FramePlan) -> None:
    assert len(set(plan.names)) == len(plan.roles)
    for role in plan.roles:
        neighbours = [n for met in role.mitred.values() for n in met if n != SHELL]
        for place in role.ends:
            if isinstance(place, Along):
                neighbours.append(place.tube)
                assert role.paired or not place.apart
        assert set(neighbours) <= set(plan.names)
        # widths are worked out against one tube of the middle plane
        assert not any(plan.role(name).paired for name in role.narrower_than)
        assert role.paired == any(place.pair for place in role.ends)


def test_an_optional_tube_without_a_row_leaves_no_trace(
    with_rows: tuple[Path, dict[str, Any]], tmp_path: Path
) -> None:
    here = answers(tmp_path, "")
    there = with_rows[1]
    for key in (key for key in here if key.endswith(" plain")):
        assert there[key] == here[key], key
    assert not any(name in json.dumps(here) for name in NAMES)


def test_sheet_and_places(with_rows: tuple[Path, dict[str, Any]]) -> None:
    said = with_rows[1]
    assert said["tubes back"]
    joints = json.loads(said["geometry more"])["joints"]
    seat = joints["seat_tube_top"]
    assert joints["cross_brace_on_seat_tube"] == pytest.approx([0.45 * x for x in seat])
    right, left = (joints[f"lateral_on_head_tube_{side}"] for side in ("right", "left"))
    assert (right[2], left[2]) == (8.0, -8.0)
    assert right[:2] == joints["lateral_on_head_tube"][:2]


def test_mesh_both_solvers_and_the_reader_of_drawings(
    with_rows: tuple[Path, dict[str, Any]],
) -> None:
    said = json.loads(with_rows[1]["check more"])
    assert said["cross_check"]
    assert max(said["cross_check"].values()) < 1e-8
    # the drawing is of the plain diamond, so neither tube is on it
    unread = [f["where"] for f in said["findings"] if f["code"] == "drawing-tube-missing"]
    assert unread == list(NAMES)
    text = json.dumps(said)
    for gap in ("rear tyre to cross brace", "front tyre to cross brace", "rear tyre to laterals"):
        assert gap in text


def external_work(case: dict[str, Any]) -> float:
    total = 0.0
    for node, load in case["loads"]["nodal"].items():
        total += sum(p * u for p, u in zip(load, case["displacements"][node], strict=True))
    return total


def test_a_further_tube_never_softens(with_rows: tuple[Path, dict[str, Any]]) -> None:
    """Rayleigh: with the same loads and supports the work of the loads falls when anything is added."""
    before = json.loads(with_rows[1]["solve plain"])["load_cases"]
    after = json.loads(with_rows[1]["solve more"])["load_cases"]
    stiffer = 0
    for name, case in before.items():
        assert case["loads"] == after[name]["loads"]
        was, now = external_work(case), external_work(after[name])
        assert now <= was * (1 + 1e-9), name
        stiffer += now < 0.99 * was
    assert stiffer
    assert "load_cases" in json.loads(with_rows[1]["zones more"])


def test_mitres_and_drawing(with_rows: tuple[Path, dict[str, Any]]) -> None:
    folder, said = with_rows
    templates = {path.stem for path in (folder / "more mitres").iterdir()}
    assert {
        "cross_brace_at_seat_tube",
        "cross_brace_at_down_tube",
        "lateral_right_at_head_tube",
        "lateral_left_at_head_tube",
    } <= templates
    drawn = (folder / "more.dxf").read_text(encoding="utf-8")
    for layer in ("CROSS_BRACE", "CROSS_BRACE_OUTLINE", "LATERAL", "LATERAL_OUTLINE"):
        assert f"\n{layer}\n" in drawn
    words = " ".join(said["draw more"].split())
    # of a tube in the middle plane the side view tells all
    assert "front and top views do not show" not in words
    # a pair that ends at the rear dropouts is shown in its plane
    assert "Laterals in their plane" in drawn


def test_thin_tubes_that_end_on_others_get_joints_that_give(
    with_rows: tuple[Path, dict[str, Any]],
) -> None:
    """Both ends of the brace, whose axes meet its neighbours'; not the laterals, which stand beside the head tube."""
    folder, _ = with_rows
    model = json.loads((folder / "bare.json").read_text(encoding="utf-8"))
    soft = {spring["id"] for spring in model["spring_elements"] if "compliance" in spring}
    of_the_brace = {name for name in soft if "cross_brace" in name}
    assert of_the_brace == {
        "joint_of_the_cross_brace_at_the_seat_tube",
        "joint_of_the_cross_brace_at_the_down_tube",
    }
    assert not any("lateral" in name for name in soft)
    walls = {link["slave"] for link in model["rigid_links"]}
    assert "cross_brace:start_in_joint_at_the_wall" in walls


def test_rules_and_choice(with_rows: tuple[Path, dict[str, Any]]) -> None:
    said = with_rows[1]
    assert set(NAMES) <= set(said["lugged"])
    assert "lateral" in said["compare more"]
    found = said["search more"]
    assert "31.8" in found  # wider than the tubes it is mitred to, so it was dropped and said
    assert "rule-neighbour-size" in found


@pytest.mark.parametrize("command", ["tubes", "modes", "audit"])
def test_commands_answer(with_rows: tuple[Path, dict[str, Any]], command: str) -> None:
    assert json.loads(with_rows[1][f"{command} more"])


def test_tables_and_pages_name_it(with_rows: tuple[Path, dict[str, Any]]) -> None:
    folder, said = with_rows
    assert "cross_brace" in said["tubes more"]
    assert (folder / "side.svg").stat().st_size
    for file in ("iso.svg", "more.md", "more.html"):
        text = (folder / file).read_text(encoding="utf-8").replace("_", " ").casefold()
        assert "cross brace" in text, said
        assert "lateral" in text


# --- a whole further plan -------------------------------------------------------------------------------------
def test_a_further_plan_is_known_by_its_starter_sheet(
    with_rows: tuple[Path, dict[str, Any]],
) -> None:
    folder, said = with_rows
    assert said["low plan"] == "lowboom"
    assert "boom sagitta,-40,mm" in (folder / "low.csv").read_text(encoding="utf-8-sig")
    joints = json.loads(said["geometry low"])["joints"]
    assert joints["boom_on_seat_tube"] == pytest.approx([0.45 * x for x in joints["seat_tube_top"]])
    # 40 mm below the middle of the straight line
    ends = zip(joints["boom_on_seat_tube"], joints["boom_on_head_tube"], strict=True)
    middle = [(a + b) / 2 for a, b in ends]
    off = [a - b for a, b in zip(joints["boom_strut_on_boom"], middle, strict=True)]
    assert sum(x * x for x in off) == pytest.approx(1600.0)
    assert off[1] < 0


def test_a_further_plan_is_solved_twice_and_made(with_rows: tuple[Path, dict[str, Any]]) -> None:
    folder, said = with_rows
    checked = json.loads(said["check low"])
    assert checked["cross_check"]
    assert max(checked["cross_check"].values()) < 1e-8
    templates = {path.stem for path in (folder / "low mitres").iterdir()}
    wanted = {"boom_at_seat_tube", "boom_at_head_tube", "boom_strut_at_boom"}
    assert wanted <= templates
    drawn = (folder / "low.dxf").read_text(encoding="utf-8")
    for layer in ("BOOM", "BOOM_OUTLINE", "BOOM_STRUT", "BOOM_STRUT_OUTLINE"):
        assert f"\n{layer}\n" in drawn
    assert "TOP_TUBE" not in drawn


@pytest.mark.parametrize("command", ["tubes", "modes", "compare", "search", "jig", "geometry"])
def test_commands_name_the_tubes_of_a_further_plan(
    with_rows: tuple[Path, dict[str, Any]], command: str
) -> None:
    answer = with_rows[1][f"{command} low"]
    assert isinstance(json.loads(answer), dict)
    assert "boom" in answer


def test_every_command_is_content_with_a_further_plan(
    with_rows: tuple[Path, dict[str, Any]],
) -> None:
    """Exit code 0: nothing to act on, the drawing of its own included; 4 where the second solver is missing."""
    said = with_rows[1]
    assert len(said["codes low"]) == 9
    assert set(said["codes low"].values()) <= {0, 4}, said["codes low"]
    assert said["model low"] in (0, 4)
    # the served page's bench tries its tubes and its item
    assert {"boom", "boom_strut", "boom_sagitta"} <= set(said["bench low"])


def test_pages_and_pictures_show_a_further_plan(with_rows: tuple[Path, dict[str, Any]]) -> None:
    folder = with_rows[0]
    for file in ("low.svg", "low.vtu", "low.html"):
        text = (folder / file).read_text(encoding="utf-8").replace("_", " ").casefold()
        assert "boom" in text, file
