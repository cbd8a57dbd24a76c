"""What layers, line types and the user's word say for and against taking a line as a member: points, one by one.

0.3 points for a layer of the member's name, as many against another member's, 0.6 against what is no member.
"""

import numpy as np
import pytest
from droptrail.converters.drawings.drawing import Curve
from droptrail.converters.drawings.linework.evidence import Evidence, settled
from droptrail.converters.drawings.linework.rounds import Round
from droptrail.model.errors import InputError

LAYERS = ("0", "top tube", "seat tube", "dimensions", "frame", "fork", "front wheel")


def curves(*layers: str, linetype: str = "", **how) -> list[Curve]:
    points = np.array([(0.0, 0.0), (1.0, 0.0)])
    return [
        Curve("line", points, layer=layer, linetype=linetype, handle=f"a{k}", **how)
        for k, layer in enumerate(layers)
    ]


def plain(roles=None, **how) -> Evidence:
    return Evidence(curves(*LAYERS, **how), roles or {})


def circle(index: int) -> Round:
    return Round((0.0, 0.0), 340.0, 0.0, 1.0, (index,))


# --- layers and line types --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("layer", "points"),
    [("0", 0.0), ("top tube", 0.3), ("seat tube", -0.3), ("dimensions", -0.6), ("frame", 0.0)],
)
@pytest.mark.parametrize("dashed", [False, True])
def test_points_for_a_top_tube(layer, points, dashed):
    held = plain(linetype="Dashed2" if dashed else "CENTER")
    assert held.points("top_tube", LAYERS.index(layer)) == pytest.approx(points - 0.6 * dashed)
    assert held.is_dashed(LAYERS.index(layer)) is dashed


@pytest.mark.parametrize(
    "name", ["HIDDEN", "hidden2", "DASHED", "Phantom", "DOT", "gestrichelt", "VERDECKT"]
)
def test_names_of_dashed_lines(name):
    assert plain(linetype=name).is_dashed(0)
    assert not plain(linetype="X" + name).is_dashed(0)
    assert plain(linetype=name).all_dashed([0, 1])
    assert not plain(linetype=name).all_dashed([])
    mixed = Evidence([*curves("0", linetype=name), *curves("0")], {})
    assert not mixed.all_dashed([0, 1])


def test_the_best_of_several_curves_speaks():
    assert plain().bonus("top_tube", [2, 3]) == pytest.approx(-0.3)
    assert plain().bonus("top_tube", [3, 1, 0]) == pytest.approx(0.3)


@pytest.mark.parametrize(("count", "says"), [(6, True), (7, False)])
def test_a_layer_that_holds_most_of_the_drawing_says_nothing(count, says):
    """More than six in ten: drawn without changing layers."""
    held = Evidence(curves(*["chainstay"] * count, *["0"] * (10 - count)), {})
    assert held.word("chainstay") == ("chainstay" if says else None)
    assert (held.points("chainstay", 0) > 0.0) is says
    assert held.main_layer == (None if says else "chainstay")
    assert Evidence([], {}).main_layer is None


# --- the user's word --------------------------------------------------------------------------------------


def test_a_role_forbids_everything_else():
    held = plain({0: "top_tube", 1: "ignore", 2: "frame", 3: "crown", 4: "wheel_front"})
    assert held.bonus("top_tube", [0]) == 0.0
    assert held.bonus("seat_tube", [0]) is None
    assert held.bonus("top_tube", [0, 1]) is None
    assert held.bonus("seat_tube", [2]) == pytest.approx(0.3)  # "frame" is any member
    assert held.bonus("bb_shell", [2]) is None
    assert held.bonus("fork", [3]) == pytest.approx(-0.6)  # the crown is a part of the fork
    assert held.bonus("seat_tube", [3]) is None
    # where one is named, no other may have the place
    assert held.bonus("top_tube", [5]) is None
    assert held.bonus("top_tube", [0, 5]) == 0.0
    assert held.bonus("down_tube", [5]) == pytest.approx(-0.3)
    assert held.claimed("top_tube")
    assert not held.claimed("down_tube")
    assert (held.named("crown"), held.named("down_tube")) == ({3}, set())
    assert [held.ignored(k) for k in (0, 1, 5)] == [False, True, False]


def test_which_circles_are_unlikely_to_be_wheels():
    assert [plain().unlikely(circle(k)) for k in (0, 3, 6)] == [False, True, False]
    assert plain(linetype="HIDDEN").unlikely(circle(0))
    named = plain({0: "wheel_front", 3: "wheel", 5: "fork"})
    assert [named.unlikely(circle(k)) for k in (0, 1, 3, 5)] == [False, True, False, True]


def test_which_circle_may_be_which_wheel():
    held = plain({0: "wheel_front", 1: "wheel", 2: "ignore"})
    front = [held.wheel_allowed("wheel_front", circle(k)) for k in range(4)]
    rear = [held.wheel_allowed("wheel_rear", circle(k)) for k in range(4)]
    assert front == [True, True, False, False]
    assert rear == [False, True, False, True]


def test_roles_by_layer_colour_and_handle():
    drawn = curves(*LAYERS, colour=3)
    held = settled(drawn, {"TOP TUBE": "down_tube", "colour 3": "frame"}, {"fork": "A1, a5"})
    assert held.roles == {**dict.fromkeys(range(7), "frame"), 1: "fork", 5: "fork"}
    assert settled(drawn, {"Top Tube": "ignore"}, None).roles == {1: "ignore"}
    assert settled(drawn, {"color 3": "wheel"}, None).roles == dict.fromkeys(range(7), "wheel")
    assert settled(drawn, None, None).roles == {}


@pytest.mark.parametrize(
    ("layers", "pick", "option", "says"),
    [
        ({"nowhere": "fork"}, None, "--layers", "colours: 7, each"),
        ({"colour 8": "fork"}, None, "--layers", "0, dimensions, fork, frame"),
        ({"colour 1234": "fork"}, None, "--layers", "holds no line"),
        ({"0": "saddle"}, None, "--layers", "'saddle' is no member"),
        (None, {"saddle": "a1"}, "--pick", "'saddle' is no member"),
        (None, {"fork": "a1,"}, "--pick", "fork=: no line has this handle"),
        (None, {"fork": "b1"}, "--pick", "fork=b1: no line has this handle"),
    ],
)
def test_words_that_name_nothing_are_refused(layers, pick, option, says):
    with pytest.raises(InputError, match=says) as told:
        settled(curves(*LAYERS), layers, pick)
    assert told.value.option == option


def test_a_refusal_names_a_line_or_two_of_layers_and_colours():
    drawn = [
        Curve("line", np.zeros((2, 2)), layer=f"l{k:02}", handle=str(k), colour=k + 1)
        for k in range(20)
    ]
    with pytest.raises(InputError) as told:
        settled(drawn, {"x": "fork"}, None)
    assert "l07" in str(told.value)
    assert "l08" not in str(told.value)
    assert "11, 12, each" in str(told.value)
