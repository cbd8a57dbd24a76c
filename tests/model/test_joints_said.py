"""What is said, and what is not said, of how tubes are joined: assumptions, findings, and the words of `compare`."""

import re
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np
import pytest
from droptrail.converters.analysis import analyse
from droptrail.converters.files.fitsheet.write_sheet import write_fit_sheet
from droptrail.converters.inputs import read_input
from droptrail.model.cases.library import load_cases
from droptrail.model.choice.compare import Comparison, compare
from droptrail.model.choice.joint_turns import _apart, _first_turned, joint_turns
from droptrail.model.choice.variants import Variant
from droptrail.model.frame.bicycle import Bicycle
from droptrail.model.frame.joint_findings import joint_findings
from droptrail.model.frame.joint_places import assumed_joints, unsaid_joints
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.parts import Part
from droptrail.model.tubes.materials import find_material
from droptrail.model.tubes.tube import Tube
from droptrail.validation.check import joints_not_said
from helpers_bicycle import tourer
from helpers_plans import sample

FRAME = ("top_tube", "down_tube", "seatstay", "fork_blade", "steerer")
PLAIN_SEAT = replace(tourer().tubes["seat_tube"], walls=(0.9,), butts=(), tapers=())


def of_sheet(tmp_path: Path, bicycle: Bicycle, names: tuple[str, ...]) -> tuple:
    path = tmp_path / "sheet.csv"
    write_fit_sheet(bicycle, path)
    return joints_not_said(analyse(read_input(path), names), names)


def test_tubes_whose_joints_nobody_said_are_those_that_end_on_another():
    assert unsaid_joints(tourer()) == FRAME
    assert unsaid_joints(tourer().joined("lug")) == ()
    said = replace(tourer(), joints={"top_tube": "bare", "down_tube": "bare"})
    assert unsaid_joints(said) == FRAME[2:]


def test_what_is_said_of_some_tubes_leaves_the_others_assumed():
    """One cell in the column made all others rigid without a word."""
    [whole] = assumed_joints(tourer())
    assert whole.short == "joints rigid"
    some = replace(tourer(), joints={"top_tube": "fillet"})
    [rest] = assumed_joints(some)
    assert rest.short == "joints of down tube, seatstay, fork blade, steerer rigid"
    assert assumed_joints(tourer().joined("bare")) == ()


def test_check_tells_what_the_unsaid_ones_are_worth(tmp_path):
    """The percentage by two solves of the same frame; nothing where what is not said is hardly felt."""
    names = ("side_push",)
    some = replace(tourer(), joints={"down_tube": "bare"})
    [told] = of_sheet(tmp_path, some, names)
    assert told.message.startswith("how top tube, seatstay, fork blade, steerer are joined")
    moved = []
    for joints in (some.joints, dict.fromkeys(tourer().tubes, "bare")):
        whole = replace(tourer(), joints=joints)
        path = tmp_path / "one.csv"
        write_fit_sheet(whole, path, force=True)
        result = analyse(read_input(path), names).results["side_push"]
        moved.append(result.measured["head_sideways"])
    assert f"{100 * (moved[1] / moved[0] - 1):+.0f} %" in told.message
    hardly = replace(tourer(), joints=dict.fromkeys((*FRAME[:2], *FRAME[3:]), "bare"))
    (tmp_path / "sheet.csv").unlink()
    assert of_sheet(tmp_path, hardly, names) == ()


@pytest.mark.parametrize(
    ("material", "words"),
    [("6061-T6", "Aluminium tubes are welded"), ("Ti-3Al-2.5V", "Titanium tubes")],
)
def test_stuff_that_is_welded_as_a_rule_is_told(tmp_path, material, words):
    """Common practice, no source: titanium and aluminium frames are welded, steel ones joined in every way."""
    stuff = find_material(material)
    tubes = {name: replace(tube, material=stuff) for name, tube in tourer().tubes.items()}
    [told] = of_sheet(tmp_path, replace(tourer(), tubes=tubes), ("side_push",))
    assert words in told.message
    (tmp_path / "sheet.csv").unlink()
    [steel] = of_sheet(tmp_path, tourer(), ("side_push",))
    assert "as a rule" not in steel.message


def test_a_tube_crown_that_gives_is_said_to_have_lids():
    crown = Tube(tourer().part("fork_crown_piece").stuff, 34.9, 34.9, (2.0,))
    parts = {**tourer().parts, "fork_crown_piece": Part("fork_crown_piece", crown)}
    bicycle = replace(tourer(), parts=parts).joined("bare")
    told = joint_findings(bicycle, lay_out(bicycle))
    assert [f.where for f in told if f.code == "joint-crown-ends"] == ["fork_crown_piece"]
    assert [one.short for one in assumed_joints(bicycle)] == ["ends of the fork crown closed"]
    for other in (bicycle.joined("rigid"), tourer().joined("bare")):
        codes = {f.code for f in joint_findings(other, lay_out(other))}
        assert "joint-crown-ends" not in codes
        assert assumed_joints(other) == ()


@pytest.mark.parametrize(("below", "told"), [(16.0, True), (60.0, False)])
def test_stays_that_hold_the_wall_near_a_joint_are_told(below, told):
    """The top tube of 28.6 on the sample's seat tube; the axes' distance decides."""
    lower = replace(tourer().dimensions, seatstay_below_top_tube=below)
    bicycle = replace(tourer(), dimensions=lower).joined("bare")
    found = [f for f in joint_findings(bicycle, lay_out(bicycle)) if f.code == "joint-stays-beside"]
    assert bool(found) == told
    if told:
        assert "top tube at the seat tube" in found[0].message
        assert f"{below:.0f} mm along" in found[0].message


# --- compare --------------------------------------------------------------------------------------------------------
def turns(bicycle: Bicycle, case: str, *variants: Variant) -> tuple[list[str], Comparison]:
    cases_of = partial(load_cases, names=(case,))
    compared = compare(bicycle, variants, cases_of, held_otherwise=False)
    return [f.message for f in joint_turns(compared, variants, cases_of)], compared


def larger_seat_tube() -> Variant:
    tube = replace(PLAIN_SEAT, od_start=34.9, od_end=34.9)
    return Variant("larger seat tube", {"seat_tube": tube})


def thick_head_tube() -> Variant:
    return Variant(
        "thick head tube", {"head_tube": replace(tourer().tubes["head_tube"], walls=(1.6,))}
    )


@pytest.mark.parametrize("case", ["side_push", "frame_torsion"])
@pytest.mark.parametrize("variant", [larger_seat_tube(), thick_head_tube()], ids=lambda v: v.name)
def test_both_decisions_of_the_triangle_in_shells_are_told_on_a_whole_frame(case, variant):
    """A larger seat tube promises what the thin wall eats up, a thicker head tube is underrated, sideways and in twist:
    front triangle in shells (tests/data/front_triangle_shells.json)."""
    said, compared = turns(tourer(seat_tube=PLAIN_SEAT), case, variant)
    [message] = [text for text in said if variant.name in text]
    keys = [figure.key for figure in compared.figures]
    figure = {"side_push": "side_push.head_sideways", "frame_torsion": "frame_torsion.frame_twist"}
    rigid = compared.change(compared.rows[1], keys.index(figure[case]))
    assert f"brings {rigid:+.1f} % with rigid joints and" in message
    assert "% with bare welds; say first how the tubes are joined" in message


def test_what_to_do_hangs_on_what_is_said():
    plain = tourer(seat_tube=PLAIN_SEAT)
    [unsaid] = turns(plain, "frame_torsion", thick_head_tube())[0]
    [rigid] = turns(plain.joined("rigid"), "frame_torsion", thick_head_tube())[0]
    [bare] = turns(plain.joined("bare"), "frame_torsion", thick_head_tube())[0]
    assert "say first how the tubes are joined" in unsaid
    assert "with rigid joints, as stated" in rigid
    assert "how they are joined decides" in rigid
    assert "with the joints as stated" in bare
    assert "believe the first" in bare
    # Both numbers change places, and no other.
    numbers = [re.findall(r"[+-]\d+\.\d", text) for text in (unsaid, bare)]
    assert numbers[0] == numbers[1][::-1]


CHANGES = {
    # tube, mm of diameter, mm of wall: whether rigid beams are wrong about it
    "thicker head tube": ("head_tube", 0.0, 0.5, True),
    "wider head tube": ("head_tube", 8.0, 0.0, True),
    "wider seat tube": ("seat_tube", 6.3, 0.0, True),
    "wider top tube": ("top_tube", 3.2, 0.0, False),
    "thicker top tube": ("top_tube", 0.0, 0.2, False),
    "wider down tube": ("down_tube", 3.2, 0.0, False),
    "thicker down tube": ("down_tube", 0.0, 0.2, False),
    "wider chainstays": ("chainstay", 2.0, 0.0, False),
    "wider seatstays": ("seatstay", 2.0, 0.0, False),
    "thicker blades": ("fork_blade", 0.0, 0.2, False),
}


@pytest.mark.parametrize("sheet", ["tourer_700c", "gravel_700c", "laden_700c"])
def test_changes_that_turn_are_told_and_no_others(sheet):
    """Walls and diameters of the tubes that carry joints turn; those of branches and stays come out within points, as
    on the front triangle in shells (tests/data/front_triangle_shells.json)."""
    bicycle = sample(sheet)
    made = [
        Variant(name, {tube: bicycle.tubes[tube].scaled(diameter, wall)})
        for name, (tube, diameter, wall, _) in CHANGES.items()
    ]
    said = turns(bicycle, "side_push", *made)[0] + turns(bicycle, "frame_torsion", *made)[0]
    told = {name for name in CHANGES if any(f"'{name}' brings" in text for text in said)}
    assert told == {name for name, (*_, turned) in CHANGES.items() if turned}


@pytest.mark.parametrize(
    "variant",
    [
        Variant("stays", {"chainstay": tourer().tubes["chainstay"].scaled(0.0, 0.2)}),
        Variant("blades", {"fork_blade": tourer().tubes["fork_blade"].scaled(2.0, 0.0)}),
        Variant("down tube", {"down_tube": tourer().tubes["down_tube"].scaled(3.2, 0.0)}),
        Variant("same", {"top_tube": tourer().tubes["top_tube"].scaled(0.0, 0.01)}),
    ],
    ids=lambda v: v.name,
)
def test_no_word_where_the_kind_of_joint_turns_nothing(variant):
    """Diameters and walls that the joints hardly touch come out within points in shells too."""
    for case in ("side_push", "frame_torsion", "saddle_push"):
        assert turns(tourer(), case, variant)[0] == []


def test_what_counts_as_turned():
    """By hand: the other way by 3 points; 1.9 points apart; half as much again and 3.6 points; a third more."""
    first = np.array([1.6, 10.0, 10.0, 12.0, -0.9])
    second = np.array([-1.5, 8.1, 6.4, 9.0, 0.9])
    assert list(_apart(first, second)) == [0, 2]
    assert list(_apart(second, first)) == [0, 2]


def test_when_another_variant_is_the_stiffest():
    """Each best must be ahead by half a point with its own kind of joint."""
    assert _first_turned(np.array([5.0, 4.0, 1.0]), np.array([2.0, 3.0, 1.0])) == (0, 1)
    assert _first_turned(np.array([5.0, 4.6, 1.0]), np.array([2.0, 3.0, 1.0])) is None
    assert _first_turned(np.array([5.0, 4.0, 1.0]), np.array([2.6, 3.0, 1.0])) is None
    assert _first_turned(np.array([5.0, 4.0]), np.array([4.0, 3.0])) is None
