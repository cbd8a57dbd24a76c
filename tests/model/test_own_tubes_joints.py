"""Joints of tubes of the builder's own: on one of a pair, across a pair, coming back to the same tube, pairs on pairs.

The population is drawn over the plans that have the tubes they stand on; held by statics (energy, differences of full
solves), by the exhaustive solver and by the mirror.
"""

import json
from dataclasses import replace
from functools import partial
from types import SimpleNamespace

import pytest
from droptrail.converters.files.fitsheet.own_plan import own_tube
from droptrail.converters.files.fitsheet.starter import plan_starter
from droptrail.converters.files.model_file.read_model import read_model
from droptrail.converters.files.model_file.write_model import write_model
from droptrail.model.cases.library import load_cases
from droptrail.model.choice.compare import compare
from droptrail.model.choice.joint_turns import joint_turns
from droptrail.model.choice.variants import Variant
from droptrail.model.errors import ModelError
from droptrail.model.frame.bicycle import Bicycle
from droptrail.model.frame.joint_findings import joint_findings
from droptrail.model.frame.joint_places import TubeJoint, tube_joints
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.frame.slips import bicycle_slips
from droptrail.model.joints.shape import KINDS
from droptrail.model.mechanics.energy import energy_shares
from droptrail.model.mechanics.solve import solve
from droptrail.model.postprocess.sensitivity import gradients
from droptrail.model.reanalysis.fast_options import _chords_first, condense_options
from droptrail.model.tubes.bends import read_bend
from droptrail.model.tubes.known_plans import PLANS
from droptrail.model.tubes.places import read_place
from droptrail.model.tubes.tube import Tube
from droptrail.validation.opensees import available, cross_check
from helpers_bicycle import STEEL, grown, tourer
from helpers_plans import BICYCLES
from helpers_search import quick_and_full
from hypothesis import given, settings
from hypothesis import strategies as st

CASES = ("side_push", "frame_torsion")
THIN = Tube(STEEL, 12.0, 12.0, (0.8,))
# name of the tube, where from, where to, how it is bent
TUBES = {
    "pair on pairs": ("brace", "seatstay 0.5", "chainstay 0.5", ""),
    "across a pair": ("cross", "chainstay left 0.4", "chainstay right 0.4", ""),
    "on one of a pair": ("strut", "seat_tube 0.4", "seatstay right 0.5", ""),
    "between two of one side": ("strut", "chainstay left 0.5", "seatstay left 0.5", ""),
    "back to the same tube": ("loop", "seat_tube 0.25", "seat_tube 0.65", "via 0.5 up -60"),
    "single on single": ("strut", "seat_tube 0.5", "down_tube 0.5", ""),
}
needs_opensees = pytest.mark.skipif(available() is not None, reason=str(available()))
every = pytest.mark.parametrize("kind", TUBES)


def with_tube(kind: str, bicycle: Bicycle, joint: str = "bare") -> Bicycle:
    """The bicycle with one more tube, all of it joined in one way."""
    name, start, end, bend = TUBES[kind]
    plan = bicycle.plan
    pairs = [*plan.pair_joints, *(role.name for role in plan.roles if role.paired)]
    ends = [read_place(text, plan.names, pairs) for text in (start, end)]
    role = own_tube(plan, name, *ends)
    if bend:
        role = replace(role, bend=read_bend(bend))
    tubes = {**bicycle.tubes, name: THIN}
    return replace(bicycle, plan=plan.with_roles(role), tubes=tubes).joined(joint)


def own_joints(kind: str, bicycle: Bicycle) -> list[TubeJoint]:
    name = TUBES[kind][0]
    return [joint for joint in tube_joints(bicycle, lay_out(bicycle)) if joint.tube == name]


def solved(bicycle: Bicycle) -> dict:
    layout = lay_out(bicycle)
    return solve(mesh(bicycle, layout=layout), load_cases(bicycle, layout, CASES))


@pytest.mark.parametrize(
    ("kind", "names"),
    [
        (
            "pair on pairs",
            {
                "brace_right_at_the_seatstay",
                "brace_left_at_the_seatstay",
                "brace_right_at_the_chainstay",
                "brace_left_at_the_chainstay",
            },
        ),
        ("across a pair", {"cross_at_the_chainstay_left", "cross_at_the_chainstay_right"}),
        ("on one of a pair", {"strut_at_the_seat_tube", "strut_at_the_seatstay_right"}),
        (
            "between two of one side",
            {"strut_at_the_chainstay_left", "strut_at_the_seatstay_left"},
        ),
        ("back to the same tube", {"loop_start_at_the_seat_tube", "loop_end_at_the_seat_tube"}),
        ("single on single", {"strut_at_the_seat_tube", "strut_at_the_down_tube"}),
    ],
)
def test_every_end_has_its_joint_and_a_name_of_its_own(kind: str, names: set[str]) -> None:
    """Two joints of one name were one spring to energy shares and derivatives, which lost what the other gave."""
    bicycle = with_tube(kind, tourer())
    found = own_joints(kind, bicycle)
    # With other tubes it is the same joint.
    layout = lay_out(bicycle)
    assert [one.resized(bicycle, layout).name for one in found] == [one.name for one in found]
    assert {joint.name.removeprefix("joint_of_the_") for joint in found} == names
    assert len(found) == len(names)


@every
@pytest.mark.parametrize("plan", ["diamond", "second_top_tube", "mono_stay", "seat_mast"])
def test_nothing_of_the_energy_is_lost(kind: str, plan: str) -> None:
    bicycle = with_tube(kind, plan_starter(PLANS[plan]))
    layout = lay_out(bicycle)
    for result in solved(bicycle).values():
        table = energy_shares(result)
        assert table.imbalance < 1e-8
        assert set(table.joints) == {joint.name for joint in tube_joints(bicycle, layout)}
        assert sum(table.tubes.values()) + sum(table.joints.values()) <= 1 + 1e-8


@every
def test_an_end_that_gives_softens_the_frame(kind: str) -> None:
    """Each joint by itself: a joint that is lost on the way changes nothing (unit-load theorem: the energy of the loads
    is that of a frame with one part more that gives)."""
    bicycle = with_tube(kind, tourer(), "rigid")
    name = TUBES[kind][0]
    soft = replace(bicycle, joints={name: "bare"})
    # Thin walls under it, so that what the walls give is more than the beam inside them.
    walls = {
        tube: replace(bicycle.tubes[tube], walls=(0.6,), butts=(), tapers=()) for tube in soft.tubes
    }
    rigid = solved(replace(bicycle, tubes=walls))
    gives = solved(replace(soft, tubes=walls))
    more = [energy_shares(gives[case]).total / energy_shares(rigid[case]).total for case in CASES]
    assert max(more) > 1 + 1e-6
    assert sum(sum(energy_shares(gives[case]).joints.values()) for case in CASES) > 1e-6


@every
def test_derivatives_are_those_of_full_solves(kind: str) -> None:
    """Central differences, for the branch and for every tube that it stands on."""
    bicycle = with_tube(kind, tourer())
    rows = gradients(bicycle, CASES).rows
    step = 2e-3
    touched = {joint.tube for joint in own_joints(kind, bicycle)}
    touched |= {joint.chord for joint in own_joints(kind, bicycle)}
    for tube in sorted(touched):
        for parameter in ("diameter", "wall"):
            more, less = (solved(grown(bicycle, tube, **{parameter: h})) for h in (step, -step))
            for row in rows:
                if (row.tube, row.parameter) == (tube, parameter):
                    ends = [one[row.case].measured[row.measure] for one in (more, less)]
                    slope = (ends[0] - ends[1]) / (2 * step)
                    largest = max(abs(one.per_mm) for one in rows if one.measure == row.measure)
                    assert row.per_mm == pytest.approx(slope, rel=1e-3, abs=1e-5 * largest)


@every
def test_the_search_is_the_full_solver(kind: str) -> None:
    """With the branch and what it stands on exchanged. A strut on one of a pair cuts that one alone, so that right and
    left have other pieces: the search ended in a traceback."""
    bicycle = with_tube(kind, tourer())
    joints = own_joints(kind, bicycle)
    tubes = {joint.tube for joint in joints} | {joint.chord for joint in joints}
    choices = {
        tube: [bicycle.tubes[tube], bicycle.tubes[tube].scaled(0.5, 0.1)] for tube in sorted(tubes)
    }
    options = condense_options(bicycle, choices, partial(load_cases, names=CASES))

    def results_with(tubes):
        return solved(replace(bicycle, tubes={**bicycle.tubes, **tubes}))

    for quick, full in quick_and_full(options, results_with):
        assert quick == pytest.approx(full, rel=1e-8, abs=1e-10)


@needs_opensees
@every
def test_opensees_gives_the_same(kind: str) -> None:
    for check in cross_check(solved(with_tube(kind, tourer()))).values():
        assert check.ok, check.summary


@settings(max_examples=20, deadline=None)
@given(st.sampled_from(sorted(BICYCLES)), st.data())
def test_any_mixture_of_joints_on_any_plan(name: str, data: st.DataObject) -> None:
    """Each tube joined its own way: no energy lost, names of their own, softer by bare welds than by any mixture, and
    the written model gives the same (Rayleigh; the file's own numbers)."""
    bicycle = BICYCLES[name]
    kinds = {tube: data.draw(st.sampled_from(KINDS), label=tube) for tube in bicycle.tubes}
    mixed = replace(bicycle, joints=kinds)
    layout = lay_out(mixed)
    joints = tube_joints(mixed, layout)
    assert len({joint.name for joint in joints}) == len(joints)
    assert {joint.tube for joint in joints} <= {tube for tube in kinds if kinds[tube] != "rigid"}
    model = mesh(mixed, layout=layout)
    cases = load_cases(mixed, layout, CASES)
    results = solve(model, cases)
    # Rigid ones are beams to the axis and may give more than a joint: those that give are held against bare welds.
    welds = {tube: "rigid" if kind == "rigid" else "bare" for tube, kind in kinds.items()}
    bare = solved(replace(bicycle, joints=welds))
    again = solve(*read_model(json.loads(json.dumps(write_model(model, cases)))))
    for case, result in results.items():
        table = energy_shares(result)
        assert table.imbalance < 1e-8
        assert set(table.joints) == {joint.name for joint in joints}
        assert min(table.joints.values(), default=0.0) >= 0
        assert table.total <= energy_shares(bare[case]).total * (1 + 1e-9)
        assert again[case].u == pytest.approx(result.u, rel=1e-9, abs=1e-12)


def test_a_pair_on_pairs_is_its_own_mirror() -> None:
    """Right and left of a pair that stands on pairs: same shape, e1 and e2 mirrored, e3 the other way."""
    found = {
        joint.name: joint
        for joint in own_joints("pair on pairs", with_tube("pair on pairs", tourer()))
    }
    for chord in ("seatstay", "chainstay"):
        right = found[f"joint_of_the_brace_right_at_the_{chord}"]
        left = found[f"joint_of_the_brace_left_at_the_{chord}"]
        assert right.host == f"{chord}_right"
        assert left.host == f"{chord}_left"
        assert left.compliance.matrix == pytest.approx(right.compliance.matrix, rel=1e-9)
        for one, other in ((right.e1, left.e1), (right.e2, left.e2)):
            assert other == pytest.approx((one[0], one[1], -one[2]), abs=1e-9)


def test_a_chord_is_chosen_before_what_stands_on_it() -> None:
    """Whatever their ranks: the matrix of a branch hangs on the option of its chord."""
    families = [
        SimpleNamespace(tube=tube, chords=dict.fromkeys(chords, 2))
        for tube, chords in (("brace", ["stay"]), ("stay", ["seat_tube"]), ("seat_tube", []))
    ]
    assert [one.tube for one in _chords_first(families)] == ["seat_tube", "stay", "brace"]
    alone = [SimpleNamespace(tube=tube, chords={}) for tube in ("b", "a")]
    assert [one.tube for one in _chords_first(alone)] == ["b", "a"]


def test_tubes_on_right_and_left_do_not_crowd_one_another() -> None:
    """A strut on the left stay and another on the right one at the same place are a wheel apart."""
    bicycle = with_tube("between two of one side", tourer())
    plan = bicycle.plan
    pairs = [*plan.pair_joints, *(role.name for role in plan.roles if role.paired)]
    for side, wanted in (("right", False), ("left", True)):
        ends = [
            read_place(text, plan.names, pairs)
            for text in (f"chainstay {side} 0.51", f"seatstay {side} 0.6")
        ]
        more = replace(
            bicycle,
            plan=plan.with_roles(own_tube(plan, "other", *ends)),
            tubes={**bicycle.tubes, "other": THIN},
        ).joined("bare")
        told = [f for f in joint_findings(more, lay_out(more)) if f.code == "joint-branches-near"]
        assert any("strut and other" in f.message for f in told) == wanted


def test_a_bent_tube_that_leaves_its_tube_does_not_run_inside_it() -> None:
    """Both its ends stand on one tube, and only the line between them lies in it."""
    bicycle = with_tube("back to the same tube", tourer())
    assert "tube-in-tube" not in {finding.code for finding in bicycle_slips(bicycle)}
    role = replace(bicycle.plan.role("loop"), bend=read_bend("via 0.5 up -2"))
    within = replace(bicycle, plan=bicycle.plan.with_roles(role))
    assert "tube-in-tube" in {finding.code for finding in bicycle_slips(within)}


def brace_between(start: str, end: str) -> Bicycle:
    bicycle = tourer()
    ends = [read_place(text, bicycle.plan.names) for text in (start, end)]
    plan = bicycle.plan.with_roles(own_tube(bicycle.plan, "brace", *ends))
    return replace(bicycle, plan=plan, tubes={**bicycle.tubes, "brace": THIN})


@pytest.mark.parametrize(
    ("start", "end"),
    [("seat_tube 0.2", "seat_tube 0.8"), ("down_tube 0.02", "seat_tube 0.02")],
    ids=["along another", "lost within two"],
)
def test_a_tube_that_no_wall_carries_is_rigid_and_told(start: str, end: str) -> None:
    """It stopped `compare` and `audit` of a frame of which nobody said how it is joined, for both look at the other
    kind of joint; `check` said nothing of joints at all."""
    made = brace_between(start, end)
    bare = made.joined("bare")
    found = tube_joints(bare, lay_out(bare))
    assert {joint.tube for joint in found} == {"top_tube", "down_tube", "fork_blade"}
    told = [f.message for f in joint_findings(bare, lay_out(bare)) if f.where == "brace"]
    assert any("lies within the tubes it ends on" in text for text in told)
    for result in solved(bare).values():
        assert energy_shares(result).imbalance < 1e-8
    cases_of = partial(load_cases, names=("side_push",))
    thick = Variant("thick", {"head_tube": replace(made.tubes["head_tube"], walls=(1.6,))})
    compared = compare(made, [thick], cases_of, held_otherwise=False)
    assert len(joint_turns(compared, [thick], cases_of)) == 1


def test_two_springs_of_one_name_are_refused() -> None:
    """Whoever looks one up by its name would lose the other."""
    model = mesh(tourer().joined("bare"))
    twice = replace(model.springs[0], id=model.springs[1].id)
    with pytest.raises(ModelError, match=r"1 spring id\(s\) are used twice"):
        replace(model, springs=(twice, *model.springs[1:]))
