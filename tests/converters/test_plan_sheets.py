"""Plans in a fit sheet: the starter of every known plan, tubes of the builder's own, moved ends, bends, refusals."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from droptrail.converters.files.drafting.frame import draw_frame
from droptrail.converters.files.fitsheet.amend import Edits, amended
from droptrail.converters.files.fitsheet.bicycle import SheetReading, bicycle_from_sheet
from droptrail.converters.files.fitsheet.knobs import plain_values, setting, turned
from droptrail.converters.files.fitsheet.starter import plan_starter, write_starter_sheet
from droptrail.converters.files.fitsheet.statements import read_fit_sheet
from droptrail.converters.files.fitsheet.write_sheet import write_fit_sheet
from droptrail.model.errors import FrameError, InputError
from droptrail.model.frame.bicycle import Bicycle
from droptrail.model.frame.clearance import clearances
from droptrail.model.frame.frame_mitres import frame_mitres
from droptrail.model.frame.jig import jig_sheet
from droptrail.model.frame.joint_places import tube_joints
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mitre_findings import mitre_findings
from droptrail.model.tubes.bends import Bend, read_bend
from droptrail.model.tubes.known_plans import DIAMOND, PLANS, plan_named, plans_from
from droptrail.model.tubes.places import Along, AtJoint, Between, Free, read_place
from droptrail.model.tubes.plan import FramePlan

SAMPLE = Path(__file__).parent.parent.parent / "sample_drawings" / "tourer_700c.csv"
HEADER = "tube,from,to,bend,outside diameter,wall,material\n"
SHEET_TUBES = (
    "head tube,,,,36,1.1,4130",
    "top tube,,,,28.6,0.8,4130",
    "down tube,,,,31.8,0.8,4130",
    "seat tube,,,,28.6,0.8,4130",
    "chainstay,,,,22,0.8,4130",
    "seatstay,,,,16,0.8,4130",
    "fork blade,,,,24,1,4130",
    "steerer,,,,28.6,1.6,4130",
)
plans = pytest.mark.parametrize("plan", PLANS.values(), ids=lambda plan: plan.name)


def read(path: Path) -> SheetReading:
    return bicycle_from_sheet(read_fit_sheet(path))


def sheet(folder: Path, *rows: str, items: str = "") -> SheetReading:
    """The sample's items with these rows of tubes."""
    head, _, _ = SAMPLE.read_text(encoding="utf-8").partition("\ntube,")
    path = folder / "own.csv"
    path.write_text(f"{head}{items}\n\n{HEADER}" + "\n".join(rows) + "\n", encoding="utf-8")
    return read(path)


# --- the known plans ------------------------------------------------------------------------------------------
@plans
def test_the_starter_of_a_plan_reads_as_that_plan_and_comes_back(
    plan: FramePlan, tmp_path: Path
) -> None:
    write_starter_sheet(tmp_path / "start.csv", plan=plan)
    first = read(tmp_path / "start.csv")
    assert first.bicycle.plan == plan
    assert set(first.bicycle.tubes) == {role.name for role in plan.roles if not role.optional}
    # everything a starter says is known and agrees with the rest
    assert [str(f.message) for f in first.findings if f.severity != "info"] == []
    members = lay_out(first.bicycle).members
    assert {m.tube for m in members} == set(first.bicycle.tubes)
    write_fit_sheet(first.bicycle, tmp_path / "back.csv")
    again = read(tmp_path / "back.csv").bicycle
    # names of values that were assumed aside
    assert replace(again, assumed=()) == replace(first.bicycle, assumed=())


@plans
def test_a_starter_has_room_for_its_tyres(plan: FramePlan) -> None:
    assert [gap.name for gap in clearances(plan_starter(plan)) if not gap.enough] == []


def test_pairs_that_no_view_shows_are_told(tmp_path: Path) -> None:
    """Cross pieces run across; laterals are shown in their plane, and a single tube by the side view."""
    told = {}
    for name in ("mixte", "mixte_single", "truss_fork"):
        found = draw_frame(plan_starter(PLANS[name]), tmp_path / f"{name}.dxf")
        told[name] = [f.where for f in found if f.code == "tube-not-handled"]
    assert told == {"mixte": ["cross_piece"], "mixte_single": [], "truss_fork": []}


@plans
def test_one_item_means_one_thing_in_every_plan(plan: FramePlan) -> None:
    for item in plan.items:
        assert item.limits[0] <= item.usual <= item.limits[1]
        for other in PLANS.values():
            same = {one.key: one for one in other.items}.get(item.key)
            assert same is None or (same.label, same.limits) == (item.label, item.limits)


def test_an_unstated_item_is_taken_as_usual_and_listed(tmp_path: Path) -> None:
    write_starter_sheet(tmp_path / "m.csv", plan=PLANS["mixte"])
    text = (tmp_path / "m.csv").read_text(encoding="utf-8-sig")
    rows = [row for row in text.splitlines() if not row.startswith("lateral spacing")]
    (tmp_path / "m.csv").write_text("\n".join(rows), encoding="utf-8")
    bicycle = read(tmp_path / "m.csv").bicycle
    assert "lateral_spacing" not in bicycle.placing
    listed = {one.key: one.value for one in bicycle.assumed}
    assert listed["lateral_spacing"] == bicycle.placed["lateral_spacing"]


def test_what_no_tube_of_the_plan_needs_is_not_taken_for_granted(tmp_path: Path) -> None:
    """A mixte has no top tube, so nobody places one by a default."""
    write_starter_sheet(tmp_path / "m.csv", plan=PLANS["mixte"])
    dimensions = read(tmp_path / "m.csv").bicycle.dimensions
    assert dimensions.top_tube_on_seat_tube is None
    assert dimensions.top_tube_below_head_top is None
    assert dimensions.down_tube_above_head_bottom == 40.0


# --- the builder's own ----------------------------------------------------------------------------------------
OWN = (
    "brace,seat_tube 0.45,down tube 50 %,,19,0.8,4130",
    "gusset,top tube 80 mm from end,down tube 90 mm from end,,12.7,0.9,4130",
    "Rohr nach hinten,brace 0.5,rear dropout,,12.7,0.9,4130",
    "Sitzstreben,top tube 60 mm apart 30,,,14,0.8,4130",
    "top tube,,,radius 2500,28.6,0.8,4130",
    'chainstays,,,"via 0.3 up -20, 0.8 out 4",19,0.8,4130',
)


def test_own_tubes_moved_ends_and_bends(tmp_path: Path) -> None:
    bicycle = sheet(tmp_path, *OWN).bicycle
    plan = bicycle.plan
    assert plan.role("brace").ends == (Along("seat_tube", 0.45), Along("down_tube", 0.5))
    assert plan.role("brace").mitred == {"start": ("seat_tube",), "end": ("down_tube",)}
    assert plan.role("rohr_nach_hinten").paired
    assert plan.role("rohr_nach_hinten").region == "rear triangle"
    assert plan.role("seatstay").mitred_start == ("top_tube",)
    assert plan.role("top_tube").bend == Bend(radius=2500.0)
    joints = lay_out(bicycle).joints
    seat = np.array(joints["seat_tube_top"])
    assert joints["brace_on_seat_tube"] == pytest.approx(0.45 * seat)
    gusset = np.array(joints["gusset_on_down_tube"])
    end = np.array(joints["down_tube_head_node"])
    assert np.linalg.norm(end - gusset) == pytest.approx(90.0)
    # 60 mm of arc from the seat tube, and 15 mm to each side
    right = np.array(joints["seatstay_on_top_tube_right"])
    assert right[2] == 15.0
    assert np.linalg.norm(
        right[:2] - np.array(joints["seat_tube_top_tube_node"])[:2]
    ) == pytest.approx(60.0, abs=0.01)
    write_fit_sheet(bicycle, tmp_path / "back.csv")
    again = read(tmp_path / "back.csv").bicycle
    assert (again.plan, again.tubes) == (plan, bicycle.tubes)


def test_own_tubes_leave_the_known_plan_alone(tmp_path: Path) -> None:
    assert sheet(tmp_path, *OWN).bicycle.plan != DIAMOND
    assert "brace" not in DIAMOND.names
    assert sheet(tmp_path, "top tube,,,,28.6,0.8,4130").bicycle.plan == DIAMOND


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("brace,seat tube 0.45,bottle cage 0.5,,19,0.8,4130", "no place on a tube of this frame"),
        ("brace,seat tube,down tube 0.5,,19,0.8,4130", "seat tube 0.45"),
        ("brace right,seat tube 0.4,down tube 0.5,,19,0.8,4130", "does not end with right or left"),
        ("top tube,,,wavy,28.6,0.8,4130", "sagitta 30"),
        ("top tube,,,via 0.8 up 3 0.2 up 3,28.6,0.8,4130", "sagitta 30"),
    ],
)
def test_what_is_not_understood_is_refused_with_row_and_hint(
    row: str, words: str, tmp_path: Path
) -> None:
    with pytest.raises(InputError, match=words) as refused:
        sheet(tmp_path, row)
    assert "row" in str(refused.value)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("top tube,,,sagitta 400,28.6,0.8,4130", "more than half a turn"),
        ("top tube,,,radius 100,28.6,0.8,4130", "cannot span"),
        ("brace,seat tube 900 mm,down tube 0.5,,19,0.8,4130", "beyond the end of the seat tube"),
        ("brace,seat tube -20 mm,down tube 0.5,,19,0.8,4130", "20.0 mm before the start"),
        ("brace,seat tube 1.5,down tube 0.5,,19,0.8,4130", "neither a share"),
        ("brace,seat tube 5 cm,down tube 0.5,,19,0.8,4130", "the brace: there is no joint"),
        ("brace,seat tube right 0.5,down tube 0.5,,19,0.8,4130", "there is one seat tube only"),
        ("brace,seat tube 0.5 apart 3000,down tube 0.5,,19,0.8,4130", "0 to 1000 mm"),
        ("brace,seat tube 0.5 apart -30,down tube 0.5,,19,0.8,4130", "0 to 1000 mm"),
        ("brace,bottom bracket + 99999 5,down tube 0.5,,19,0.8,4130", "-5000 to 5000 mm"),
        ("brace,seat tube {nonsense},down tube 0.5,,19,0.8,4130", "is no size that places"),
        ("brace,seat tube 0.5,seat tube 0.5,,19,0.8,4130", "brace starts and ends at one place"),
        ("brace,between rear axle and rear axle 0.5,seat tube 0.5,,19,0.8,4130", "one place"),
        ("brace,brace 0.2,seat tube 0.5,,19,0.8,4130", "'brace' stands on itself"),
        ("brace,fork blade right 0.5,down tube 0.5,,24,0.8,4130", "nothing could steer"),
        ("brace,crown,down tube 0.5,,24,0.8,4130", "nothing could steer"),
        ("fork blade,down tube 0.5,,,24,0.8,4130", "nothing could steer"),
        ("steerer,,,sagitta 5,28.6,1.6,4130", "the steerer is straight"),
        ("head tube,seat tube top,,,36,1.1,4130", "the head tube is straight"),
        ("top tube,,,radius 0,28.6,0.8,4130", "radius of nought"),
        ("!,seat tube 0.5,down tube 0.5,,19,0.8,4130", "needs letters or digits"),
        ("brace,no such joint,down tube 0.5,,19,0.8,4130", "no joint called 'no such joint'"),
    ],
)
def test_what_cannot_be_built_is_refused_in_words(row: str, words: str, tmp_path: Path) -> None:
    with pytest.raises(FrameError, match=words):
        lay_out(sheet(tmp_path, row).bicycle)


def test_places_that_hang_on_one_another_are_refused(tmp_path: Path) -> None:
    rows = ("brace,seat tube 0.4,down tube 0.5,,19,0.8,4130", "seat tube,,brace 0.5,,28.6,0.8,4130")
    with pytest.raises(FrameError, match="depend on one another"):
        lay_out(sheet(tmp_path, *rows).bicycle)


def test_tubes_and_items_of_another_plan_are_told(tmp_path: Path) -> None:
    reading = sheet(
        tmp_path, "lateral,,,,16,0.8,4130", items="lateral spacing at the head tube,40,mm,"
    )
    codes = [finding.code for finding in reading.findings]
    assert "sheet-tube-not-in-plan" in codes
    assert "sheet-item-not-in-plan" in codes
    assert "lateral" not in reading.bicycle.tubes


@pytest.mark.parametrize(
    "name",
    ["mixte + unicrown fork", "step through + mono stay + truss fork", "second_top_tube+seat-mast"],
)
def test_several_plans_are_one(name: str, tmp_path: Path) -> None:
    plan = plan_named(name)
    write_starter_sheet(tmp_path / "start.csv", plan=plan)
    bicycle = read(tmp_path / "start.csv").bicycle
    assert bicycle.plan == plan
    assert {member.tube for member in lay_out(bicycle).members} == set(plan.names)
    for part in name.split("+"):
        changed = [role for role in plan_named(part).roles if role != DIAMOND.get(role.name)]
        assert all(plan.role(role.name) == role for role in changed)
    write_fit_sheet(bicycle, tmp_path / "back.csv")
    assert read(tmp_path / "back.csv").bicycle.plan == plan


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("mixte + mixte single", "both say how the lateral runs"),
        ("twin top tubes + step through", "both say how the top tube runs"),
        ("mixte + split seatstays", "meets a top tube, which the plan does not have"),
    ],
)
def test_plans_that_do_not_go_together_are_refused(name: str, words: str) -> None:
    with pytest.raises(FrameError, match=words):
        plan_named(name)


def test_a_plan_nobody_knows_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"plan 'penny farthing' is not known; known: .*mixte"):
        sheet(tmp_path, items="plan,penny farthing,,")


# --- the notation ---------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("rear dropout", AtJoint("rear_dropout_{side}")),
        ("bottom_bracket", AtJoint("bottom_bracket")),
        ("seat tube 0,45", Along("seat_tube", 0.45)),
        ("seat_tube 180", Along("seat_tube", 180.0, "mm")),
        ("head tube {x} from end apart {y}", Along("head_tube", "x", "mm", True, apart="y")),
        ("chainstay 0.3", Along("chainstay", 0.3, side="{side}")),
        ("chainstay left 0.3", Along("chainstay", 0.3, side="left")),
        ("chainstay at seat_tube", Along("chainstay", crossing="seat_tube", side="{side}")),
        ("between rear_axle and saddle 30 %", Between("rear_axle", "saddle", 0.3)),
        ("bottom_bracket + 690 -12.5", Free("bottom_bracket", 690.0, -12.5)),
        ("fork_crown apart 50", Free("fork_crown", apart=50.0)),
        ("seatstay_top tied to saddle", AtJoint("seatstay_top_{side}", "saddle")),
    ],
)
def test_places_mean_what_they_say_and_are_written_back(text: str, place: object) -> None:
    pairs = (*DIAMOND.pair_joints, "chainstay", "seatstay", "fork_blade")
    found = read_place(text, DIAMOND.names, pairs)
    assert found == place
    assert read_place(found.words, DIAMOND.names, pairs) == place


@pytest.mark.parametrize(
    "text", ["sagitta -30", "radius 1200 out", "via 0.4 up -25, 0.8 up 3 out 6", "sagitta {rise}"]
)
def test_bends_are_written_back(text: str) -> None:
    assert read_bend(text).words == text


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[odd]\nlabel = 'odd'\nlike = 'diamond'\nwithout = ['top_tube']", "meets a top tube"),
        ("[odd]\nlabel = 'odd'\n[odd.tubes.mast]\nfrom = 'saddle'\nto = 'x'\nwal = 3", "'wal'"),
        ("[odd]\nlabel = 'odd'\n[odd.tubes.mast]\nfrom = 'saddle'\nto = 'must 0.5'", "must 0.5"),
    ],
)
def test_a_slip_in_the_table_of_plans_is_named(text: str, words: str) -> None:
    diamond = "[diamond]\nlabel = 'd'\n[diamond.tubes.top_tube]\nfrom = 'a'\nto = 'b'\n"
    diamond += "[diamond.tubes.down_tube]\nfrom = 'a'\nto = 'b'\nmitred_end = ['top_tube']\n"
    with pytest.raises(FrameError, match=f"plan odd.*{words}"):
        plans_from(diamond + text)


# --- what is told -----------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("bend", "severity", "words"),
    [("via 0.5 up -40", "info", "40 mm lower"), ("via 0.5 up 40", "warning", "40 mm higher")],
)
def test_standover_says_that_the_top_tube_is_bent(
    bend: str, severity: str, words: str, tmp_path: Path
) -> None:
    """A tube bowed up takes room that the figure promises, so that is a warning."""
    found = sheet(tmp_path, f"top tube,,,{bend},28.6,0.8,4130").findings
    told = [finding for finding in found if finding.code == "standover-bent"]
    assert [finding.severity for finding in told] == [severity]
    assert words in told[0].message
    straight = sheet(tmp_path, "top tube,,,,28.6,0.8,4130").findings
    assert "standover-bent" not in [finding.code for finding in straight]


def widths_of(bicycle: Bicycle) -> dict[str, float]:
    return dict(jig_sheet(bicycle, frame_mitres(bicycle)).widths)


def test_the_jig_gives_the_widths_of_the_plan() -> None:
    """Raised chainstays do not stand at the shell, and are as far apart as their own item says."""
    bicycle = plan_starter(PLANS["raised_chainstays"])
    widths = widths_of(bicycle)
    assert widths["chainstays at the seat tube, centre to centre"] == 30.0
    assert "chainstays at the shell, centre to centre" not in widths
    assert widths_of(plan_starter(DIAMOND))["chainstays at the shell, centre to centre"] == 44.0


def test_mitres_of_a_plan_are_told_as_they_are() -> None:
    """A raised chainstay cannot overhang the shell; a tube that runs alongside another is not cut to it, and said."""
    raised = plan_starter(PLANS["raised_chainstays"])
    wide = replace(raised, fittings=replace(raised.fittings, chainstay_spacing=90.0))
    codes = [f.code for f in mitre_findings(wide, frame_mitres(wide))]
    assert "mitre-past-shell" not in codes
    low = plan_starter(PLANS["step_through"])
    near = replace(
        low,
        placing={**low.placing, "top_tube_sagitta": -60.0},
        dimensions=replace(low.dimensions, top_tube_below_head_top=92.0),
    )
    told = {f.code: f.message for f in mitre_findings(near, frame_mitres(near))}
    assert "runs within 10 degrees of the top tube at its end" in told["mitre-alongside"]
    # bent by a radius of some 1.3 m: a throat 20 mm in is 0.2 mm off its tangent, and more at a flat angle
    assert "follows the tangent" in told["mitre-bent"]


def test_a_template_of_a_bent_tube_follows_its_tangent() -> None:
    """The angle at the seat tube of an arc turns by the arc's half angle, 2 atan(2 s / c), against the chord's."""
    low = plan_starter(PLANS["step_through"])
    straight = replace(low, placing={"top_tube_sagitta": 0.0})
    # up, so that the angle does not pass 90 degrees
    bent = replace(low, placing={"top_tube_sagitta": 30.0})
    angles = []
    for bicycle in (straight, bent):
        mitre = next(
            m for m in frame_mitres(bicycle) if (m.member, m.at_end) == ("top_tube", "start")
        )
        angles.append(mitre.cuts[0].angle)
    joints = lay_out(low).joints
    chord = np.linalg.norm(
        np.subtract(joints["top_tube_head_node"], joints["seat_tube_top_tube_node"])
    )
    turned = np.degrees(2 * np.arctan(2 * 30.0 / chord))
    assert angles[0] - angles[1] == pytest.approx(turned, abs=0.01)


# --- items of a plan as knobs -----------------------------------------------------------------------------------
def test_an_item_of_the_plan_is_turned_like_any_other() -> None:
    bicycle = plan_starter(PLANS["mixte"])
    made = turned(bicycle, [setting("lateral spacing at the head tube=52")]).bicycle
    joints = lay_out(made).joints
    assert joints["lateral_on_head_tube_right"][2] == 26.0
    assert plain_values(bicycle)["lateral_spacing"] == 40.0
    with pytest.raises(FrameError, match="says nothing on a diamond frame"):
        turned(plan_starter(DIAMOND), [setting("lateral spacing at the head tube=52")])


def test_a_saved_sheet_holds_the_turned_item_and_nothing_else(tmp_path: Path) -> None:
    write_starter_sheet(tmp_path / "m.csv", plan=PLANS["mixte"])
    data = (tmp_path / "m.csv").read_bytes()
    saved = amended(data, "m.csv", Edits(parts={"lateral_spacing": 52.0}))
    before = data.decode("utf-8-sig").splitlines()
    after = saved.decode("utf-8-sig").splitlines()
    changed = [(a, b) for a, b in zip(before, after, strict=True) if a != b]
    assert [b.split(",")[:2] for _, b in changed] == [["lateral spacing at the head tube", "52"]]


# --- tubes of one's own: order, one side, across the frame ------------------------------------------------------
BRACE = "brace,seat tube 0.5,down tube 0.5,,19,0.8,4130"
GUSSET = "gusset,brace 0.5,top tube 0.5,,16,0.8,4130"


def test_rows_of_own_tubes_stand_in_any_order(tmp_path: Path) -> None:
    ordered = lay_out(sheet(tmp_path, *SHEET_TUBES, BRACE, GUSSET).bicycle).joints
    turned_round = lay_out(sheet(tmp_path, *SHEET_TUBES, GUSSET, BRACE).bicycle).joints
    assert turned_round["gusset_on_brace"] == ordered["gusset_on_brace"]


def test_the_row_that_is_wrong_is_told_and_not_the_one_that_stands_on_it(tmp_path: Path) -> None:
    wrong = BRACE.replace("seat tube", "set tube")
    with pytest.raises(InputError, match=r"column from: 'set tube 0.5' is no place") as told:
        sheet(tmp_path, *SHEET_TUBES, GUSSET, wrong)
    # a cell is named once
    assert str(told.value).count("'set tube 0.5'") == 1


def test_a_pair_is_not_opened_once_more(tmp_path: Path) -> None:
    """A brace 20 mm apart on tubes that are a pair themselves ended in the words of the mesher."""
    apart = "brace,chainstay 0.5 apart 20,seatstay 0.5,,12,0.8,4130"
    with pytest.raises(InputError, match=r"chainstay is a pair, right and left.*leave out 'apart'"):
        sheet(tmp_path, *SHEET_TUBES, apart)


def test_own_tubes_that_stand_on_one_another_are_refused_by_name(tmp_path: Path) -> None:
    ring = BRACE.replace("seat tube 0.5", "gusset 0.5")
    with pytest.raises(InputError, match=r"stands on it \(brace, gusset\)"):
        sheet(tmp_path, *SHEET_TUBES, ring, GUSSET)


def test_a_cut_that_cannot_be_is_told_with_its_tube(tmp_path: Path) -> None:
    alongside = "brace,seat tube 0.1,seat tube 0.9,,19,0.8,4130"
    bicycle = sheet(tmp_path, *SHEET_TUBES, alongside).bicycle
    cut = frame_mitres(bicycle)
    assert cut
    assert not any(mitre.member == "brace" for mitre in cut)
    said = [f.message for f in mitre_findings(bicycle, cut) if f.code == "mitre-alongside"]
    assert [
        f"brace runs within 10 degrees of the seat tube at its {end}" in " ".join(said)
        for end in ("start", "end")
    ] == [True, True]


def test_one_name_for_two_tubes_is_refused(tmp_path: Path) -> None:
    other = BRACE.replace("seat tube 0.5", "seat tube 0.2")
    with pytest.raises(InputError, match=r"stands in two rows, 'seat tube 0\.5' there"):
        sheet(tmp_path, *SHEET_TUBES, BRACE, other)


def test_a_tube_on_the_left_stay_is_cut_to_the_left_one(tmp_path: Path) -> None:
    strut = "strut,chainstay left 0.5,seatstay left 0.5,,14,0.8,4130"
    bicycle = sheet(tmp_path, *SHEET_TUBES, strut).bicycle
    [first, _] = [m.cuts[0] for m in frame_mitres(bicycle) if m.member == "strut"]
    # Both axes meet in the joint, so that nothing is offset; the right stay stands 90 mm beside it.
    assert first.offset == pytest.approx(0, abs=1e-6)
    paths = {m.name: np.array(m.path) for m in lay_out(bicycle).members}
    way = paths["strut"][1] - paths["strut"][0]
    stay = paths["chainstay_left"][-1] - paths["chainstay_left"][0]
    between = np.degrees(np.arccos(way @ stay / np.linalg.norm(way) / np.linalg.norm(stay)))
    assert first.acute == pytest.approx(min(between, 180 - between), abs=1e-6)


@pytest.mark.parametrize("side", ["left", "right"])
def test_a_strut_on_one_stay_of_a_pair_has_its_joints(tmp_path: Path, side: str) -> None:
    strut = f"strut,chainstay {side} 0.5,seatstay {side} 0.5,,14,0.8,4130"
    bicycle = sheet(tmp_path, *SHEET_TUBES, strut).bicycle
    bare = replace(bicycle, joints=dict.fromkeys(bicycle.tubes, "bare"))
    joints = [j for j in tube_joints(bare, lay_out(bare)) if j.tube == "strut"]
    assert [j.chord for j in joints] == ["chainstay", "seatstay"]
    [path] = [m.path for m in lay_out(bare).members if m.name == "strut"]
    assert (path[0][2] > 0) == (side == "right")
    assert all(j.resized(bare, lay_out(bare)).shape == j.shape for j in joints)


def test_a_tube_across_the_frame_is_held_against_the_wheel_where_it_passes_it(
    tmp_path: Path,
) -> None:
    across = "cross,chainstay right 0.9,chainstay left 0.9,,14,0.8,4130"
    bicycle = sheet(tmp_path, *SHEET_TUBES, across).bicycle
    gap = {g.name: g.gap for g in clearances(bicycle)}["rear tyre to cross"]
    # By hand: it passes the plane at a tenth of the chainstay from the axle, inside the wheel.
    assert gap == pytest.approx(0.1 * 452.0 - 348.0 - 7.0, abs=0.5)


def test_a_tube_beside_the_wheel_is_not_taken_for_one_in_its_plane(tmp_path: Path) -> None:
    strut = "strut,chainstay right 0.7,seatstay right 0.7,,14,0.8,4130"
    gaps = {g.name: g.gap for g in clearances(sheet(tmp_path, *SHEET_TUBES, strut).bicycle)}
    # Between stays that have their room, in the plane it would stand some 200 mm inside the wheel.
    assert gaps["rear tyre to strut"] > 0


@pytest.mark.parametrize(
    ("item", "first", "second"),
    [
        ("joined", "TIG welded", "lugged"),
        ("bicycle type", "mountain", "racing"),
        ("plan", "mixte", "step through"),
        ("rear rack", "bolted", "built in"),
    ],
)
def test_an_item_in_words_given_twice_is_told(
    item: str, first: str, second: str, tmp_path: Path
) -> None:
    rows = f"{item},{first},,\n{item},{second},,"
    told = sheet(tmp_path, *SHEET_TUBES, items=rows).findings
    texts = [str(f.message) for f in told if f.code == "sheet-duplicate-item"]
    assert [text for text in texts if f"'{second}' is not" in text]
