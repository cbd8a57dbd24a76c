"""Load cases in TOML: the documented example, the same numbers as the library, and refusals naming table and key."""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from droptrail.converters.files.case_toml import read_cases
from droptrail.model.cases.library import CASES
from droptrail.model.cases.view import idle_supports
from droptrail.model.errors import InputError
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.mechanics.solve import solve
from helpers_bicycle import tourer

BIKE = tourer()
LAYOUT = lay_out(BIKE)
MODEL = mesh(BIKE, layout=LAYOUT)
PAGE = Path(__file__).parents[2] / "model" / "METHODS.md"  # where the format is told
EXAMPLE = re.search(r"```toml\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.S)[1]

SIDE = """
[my_push]
steering = "locked"
[[my_push.load]]
at = "head_tube_top"
force = [0, 0, 200]
[[my_push.support]]
at = "rear_axle"
held = ["ux", "uy", "uz", "rx"]
touching = "wheel"
[[my_push.support]]
at = "front_axle"
held = ["uy", "uz"]
touching = "wheel"
[[my_push.measure]]
name = "head_sideways"
at = "head_tube_top"
move = [0, 0, 2]
reference = 200
[[my_push.measure]]
name = "head_lean"
at = "head_tube_top"
against = "rear_axle"
turn = [1, 0, 0]
reference = 100
"""


def cases(tmp_path, text):
    path = tmp_path / "own.toml"
    path.write_text(text, encoding="utf-8")
    return read_cases(path, BIKE, LAYOUT, MODEL)


def test_the_documented_example_is_solved(tmp_path):
    """As printed it lacks a front support, which the solver names; with one it stands."""
    (case,) = cases(tmp_path, EXAMPLE)
    assert (case.name, case.title, case.source) == ("rack_test", "Weight on the rack", "own bench")
    assert case.nodal == {"saddle": (0.0, -500.0, 0.0, 0.0, 0.0, 20e3)}
    length = next(m.length for m in LAYOUT.members if m.name == "top_tube")
    result = solve(MODEL, [case])["rack_test"]
    down = result.reactions["rear_axle"][1] + result.reactions["front_axle"][1]
    assert down == pytest.approx(500 + 0.2 * length, rel=1e-9)
    assert result.measured["saddle_down"] > 0
    assert idle_supports(result) == ()


def test_the_same_case_as_the_library_gives_the_same_numbers(tmp_path):
    (case,) = cases(tmp_path, SIDE)
    own, library = (
        solve(MODEL, [case])["my_push"],
        solve(MODEL, [CASES["side_push"](BIKE, LAYOUT)])["side_push"],
    )
    assert np.array_equal(own.u, library.u)
    assert own.measured["head_sideways"] == library.measured["head_sideways"]
    assert own.stiffness["head_sideways"] == library.stiffness["head_sideways"]
    lean = np.degrees(own.displacement("head_tube_top")[3] - own.displacement("rear_axle")[3])
    assert own.measured["head_lean"] == pytest.approx(lean)
    assert "200 N at head tube top" in case.notes


def test_a_reference_that_does_not_make_the_movement_alone_gives_no_stiffness(tmp_path):
    """100 N·m stated for the lean under a push: the push makes it, so load over movement would mean nothing."""
    (case,) = cases(tmp_path, SIDE)
    result = solve(MODEL, [case])["my_push"]
    assert result.measured["head_lean"] != 0
    assert result.stiffness["head_lean"] is None
    assert "'head_lean' is shown as a movement: 100 N·m there, that way, is not all" in case.notes
    (half,) = cases(tmp_path, SIDE.replace("reference = 200", "reference = 100"))
    assert solve(MODEL, [half])["my_push"].stiffness["head_sideways"] is None


def test_like_takes_supports_steering_and_measures_from_the_library(tmp_path):
    (case,) = cases(
        tmp_path,
        '[lighter]\nlike = "side_push"\n[[lighter.load]]\nat = "head_tube_top"\nforce = [0,0,50]\n',
    )
    library = CASES["side_push"](BIKE, LAYOUT)
    assert (case.supports, case.springs) == (library.supports, library.springs)
    stiffness = [solve(MODEL, [c])[c.name].stiffness["head_sideways"] for c in (case, library)]
    assert stiffness[0] == pytest.approx(stiffness[1], rel=1e-9)  # 50 N over what 50 N do
    assert case.nodal == {"head_tube_top": (0, 0, 50, 0, 0, 0)}
    assert case.notes == f"50 N at head tube top; held as in side_push: {library.held}"
    assert case.held == library.held
    assert case.source == "the builder's own"


def test_another_case_lends_what_holds_and_none_of_its_loads(tmp_path):
    (case,) = cases(
        tmp_path,
        '[lighter]\nlike = "seated_luggage"\n[[lighter.load]]\nat = "saddle"\nforce = [0,-50,0]\n',
    )
    assert "luggage" not in case.notes.replace("seated_luggage", "")
    assert "rear axle held in place" in case.notes


def test_own_supports_are_what_holds(tmp_path):
    (case,) = cases(
        tmp_path,
        '[own]\n[[own.load]]\nat = "saddle"\nforce = [0,-50,0]\n[[own.support]]\nat = "rear_axle"\nheld = '
        '["ux","uy","uz","rx","ry","rz"]\n',
    )
    assert case.held == "rear axle held in ux uy uz rx ry rz"
    assert case.notes.endswith(case.held)


@pytest.mark.parametrize("name", CASES)
def test_every_case_says_what_holds_it_apart_from_its_loads(name):
    case = CASES[name](BIKE, LAYOUT)
    acts = case.notes.partition(case.held)[0]
    assert case.held
    assert acts.endswith("; ")
    assert " N " not in case.held  # no load among what holds


def test_a_joint_that_shares_a_node_is_found_by_either_name(tmp_path):
    shared = replace(LAYOUT, same_as={"second_name": "head_tube_top"})
    path = tmp_path / "own.toml"
    path.write_text(SIDE.replace('"head_tube_top"', '"second_name"'), encoding="utf-8")
    assert read_cases(path, BIKE, shared, MODEL)[0].nodal == {"head_tube_top": (0, 0, 200, 0, 0, 0)}


def test_a_support_without_touching_is_flagged_when_it_carries(tmp_path):
    (case,) = cases(
        tmp_path, SIDE.replace('touching = "wheel"\n[[my_push.measure]]', "[[my_push.measure]]", 1)
    )
    (finding,) = idle_supports(solve(MODEL, [case])["my_push"])
    assert finding.where == "front_axle"


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("[my_push]", "[my_push", r"own.toml: not a readable TOML file"),
        ("my_push", "side_push", r"own.toml: side_push: the library has a case of that name"),
        (
            'steering = "locked"',
            'steering = "stiff"',
            r"my_push.steering: 'stiff' - 'locked' or 'free' is expected",
        ),
        (
            'steering = "locked"',
            'stering = "locked"',
            r"my_push: 'stering' is not known; did you mean 'steering'\?",
        ),
        (
            'steering = "locked"',
            'like = "push"',
            r"my_push.like: 'push' - a case of the library is expected: seated,",
        ),
        (
            "force = [0, 0, 200]",
            "force = [0, 200]",
            r"my_push.load\[0\].force: .* - 3 numbers are expected, got 2",
        ),
        (
            "force = [0, 0, 200]",
            'force = [0, 0, "200"]',
            r"my_push.load\[0\].force\[2\]: '200' - a number is expected",
        ),
        (
            "force = [0, 0, 200]",
            "force = [0, 0, inf]",
            r"force\[2\]: inf - a finite number is expected",
        ),
        ("force = [0, 0, 200]", "", r"my_push.load\[0\]: state force = \[x, y, z\] in N"),
        ("force = [0, 0, 200]", "per_mm = [0, 0, 2]", r"my_push.load\[0\]: state force"),
        (
            "force = [0, 0, 200]",
            'along = "top_tube"\nper_mm = [0, 0, 2]',
            r"load\[0\]: a load stands either at a joint",
        ),
        (
            'at = "head_tube_top"\nforce',
            'along = "middle"\nforce',
            r"load\[0\]: a load stands either",
        ),
        (
            'at = "head_tube_top"\nforce = [0, 0, 200]',
            'along = "middle"\nper_mm = [0, 1, 0]',
            r"load\[0\].along: 'middle' - a tube or part is expected: head_tube, top_tube",
        ),
        (
            'at = "head_tube_top"\nforce',
            'at = "headtube_top"\nforce',
            r"load\[0\].at: 'headtube_top' - no such joint; did "
            r"you mean head_tube_top\?; known: ",
        ),
        ('at = "head_tube_top"\nforce', "force", r"load\[0\]: 'at' is missing"),
        (
            '"uz", "rx"',
            '"uz", "up"',
            r"my_push.support\[0\].held\[3\]: 'up' - directions are ux uy uz rx ry rz",
        ),
        ('["uy", "uz"]', "[]", r"support\[1\].held: no direction is named"),
        ('at = "front_axle"', 'at = "rear_axle"', r"support\[1\].at: 'rear_axle' is held twice"),
        ("move = [0, 0, 2]", "", r"my_push.measure\[0\]: state either move"),
        (
            "move = [0, 0, 2]",
            "move = [0, 0, 0]",
            r"measure\[0\].move: .* - a direction must not be zero",
        ),
        (
            "reference = 200",
            "reference = -200",
            r"measure\[0\].reference: -200 - a positive load is expected",
        ),
        ("move = [0, 0, 2]", "move = [0, 0, 2]\nunit = 'mm'", r"measure\[0\]: 'unit' is not known"),
    ],
)
def test_refusals_name_table_and_key(tmp_path, old, new, message):
    assert old in SIDE
    with pytest.raises(InputError, match=message):
        cases(tmp_path, SIDE.replace(old, new))


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "the file is empty"),
        ("# nothing\n", "holds no load case"),
        ("[a]\n[[a.support]]\nat='saddle'\nheld=['uy']\n", r"a: no load; add \[\[a.load\]\]"),
        ("[a]\n[[a.load]]\nat='saddle'\nforce=[0,1,0]\n", r"a: no support; add \[\[a.support\]\]"),
        (
            "a = 3\n",
            r"own.toml: 'a' stands in no load case; begin each load case with its name in brackets",
        ),
        (
            "[[case]]\nname = 'kerb stone'\n",
            r"own.toml: \[\[case\]\] is a list of tables; a load case is a table named as "
            r"the case is, in single brackets: \[kerb_stone\], with its loads below as \[\[kerb_stone.load\]\]$",
        ),
        (
            "[[load]]\nat = 'saddle'\n",
            r"\[\[load\]\] is a list of tables; .* single brackets: \[my_case\]",
        ),
        (
            "[a.load]\nat = 'saddle'\n",
            r"a.load: a table with at - a list such as .* in double brackets such as",
        ),
        ("[a]\nload = [3]\n", r"a.load\[0\]: 3 - a table is expected, begun by its name"),
    ],
)
def test_incomplete_files_are_refused(tmp_path, text, message):
    with pytest.raises(InputError, match=message):
        cases(tmp_path, text)


def test_like_a_ride_case_counts_the_energy_of_its_own_loads(tmp_path):
    text = '[heavy]\nlike = "climb"\n[[heavy.load]]\nat = "saddle"\nforce = [0, -1000, 0]\n'
    (case,) = cases(tmp_path, text)
    result = solve(MODEL, [case])["heavy"]
    sinks = -result.displacement("saddle")[1]
    assert result.measured["energy_swallowed"] == pytest.approx(1000 * sinks / 2 / 1000, rel=1e-9)
    along = text.replace('at = "saddle"', 'along = "top_tube"').replace("force", "per_mm")
    (spread,) = cases(tmp_path, along)
    assert [m.name for m in spread.measures] == ["bb_twist", "bb_against_head", "bb_sideways"]
