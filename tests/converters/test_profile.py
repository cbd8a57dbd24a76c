"""What is drawn along the steering axis, piece by piece: faces across it, walls beside it, and what is neither.

Distances are mm; the head tube is 44 mm wide. `along` runs up the axis, `side` to the left of it.
"""

from types import SimpleNamespace

import numpy as np
import pytest
from droptrail.converters.drawings.drawing import Curve
from droptrail.converters.drawings.labelling import profile as p
from droptrail.converters.drawings.labelling.profile import Cap, Profile, Wall
from droptrail.converters.drawings.linework.evidence import settled
from droptrail.converters.drawings.linework.lines import Candidate
from droptrail.converters.drawings.linework.pieces import cut
from droptrail.converters.drawings.linework.pose import Pose
from droptrail.converters.drawings.linework.strokes import gather
from droptrail.converters.drawings.linework.view import view

HALF = 22.0
POSE = Pose((0.0, 0.0), 1.0, 0.0, 0.0, 1.0)
UP = Candidate((0.0, 0.0), (0.0, 800.0), (99,))  # left of it is towards -x


def sorted_in(a0, s0, a1, s1):
    """The cap or the wall that one straight piece is."""
    caps: list[Cap] = []
    walls: list[Wall] = []
    p._sorted_in(np.array([a0, a1]), np.array([s0, s1]), 7, HALF, caps, walls)
    return caps, walls


def curved_in(points, reach=(300.0, 700.0)):
    """The same of a curve, by (along, side)."""
    caps: list[Cap] = []
    walls: list[Wall] = []
    drawn = np.array([(-side, along) for along, side in points], float)
    p._curved_in(SimpleNamespace(pose=POSE), UP, drawn, 7, HALF, reach, caps, walls)
    return caps, walls


# --- straight pieces ----------------------------------------------------------------------------------------


def test_a_line_square_across_is_a_face():
    for turn in (1.0, -1.0):
        caps, walls = sorted_in(400.0, -20.0 * turn, 400.4, 26.0 * turn)
        assert caps == [Cap(pytest.approx(400.2), 23.0, 7, 3.0 * turn)]
        assert walls == []


@pytest.mark.parametrize(
    ("piece", "is_face"),
    [
        ((400.0, -22.0, 400.52, 22.0), True),  # 0.012 of its width
        ((400.0, -22.0, 400.54, 22.0), False),
        ((400.54, -22.0, 400.0, 22.0), False),
        ((400.0, -8.0, 400.19, 8.0), True),
        ((400.0, -8.0, 400.21, 8.0), False),
        ((400.0, -7.9, 400.0, 10.0), False),  # at least 8 mm to either side
        ((400.0, -10.0, 400.0, 7.9), False),
        ((400.0, 30.0, 400.0, -22.0), True),
        ((400.0, 31.0, 400.0, -22.0), False),  # its middle 4 mm beside the axis
        ((400.0, -52.0, 400.0, 52.0), True),
        ((400.0, -52.5, 400.0, 52.0), False),
    ],
)
def test_what_is_a_face(piece, is_face):
    caps, walls = sorted_in(*piece)
    assert (len(caps), walls) == (int(is_face), [])


def test_a_line_beside_the_axis_is_a_wall_on_its_side():
    assert sorted_in(560.0, 24.0, 400.0, 22.0) == ([], [Wall(400.0, 560.0, 1, 23.0, 7)])
    assert sorted_in(400.0, -22.0, 560.0, -24.0) == ([], [Wall(400.0, 560.0, -1, 23.0, 7)])


@pytest.mark.parametrize(
    ("piece", "is_wall"),
    [
        ((400.0, 11.0, 560.0, 11.0), True),  # half the tube's
        ((400.0, 10.9, 560.0, 10.9), False),
        ((400.0, 35.2, 560.0, 35.2), True),  # 1.6 times it
        ((400.0, 35.3, 560.0, 35.3), False),
        ((400.0, 0.6, 560.0, 26.1), True),  # a slope of 0.16
        ((400.0, 0.6, 560.0, 26.3), False),
        ((400.0, 0.04, 560.0, 22.0), True),
        ((400.0, -1.0, 560.0, 24.5), False),  # across the axis
        ((400.0, 22.0, 401.0, 22.29), True),
        ((400.0, 6.7, 444.0, 36.0), False),  # as a slope its outer end would be too far out
        ((400.0, 6.7, 444.0, 35.0), True),
        ((400.0, 6.5, 444.0, 35.0), False),  # a slope begins 0.3 of the half width out
        ((400.0, 12.0, 444.9, 22.0), True),  # a shoulder
        ((400.0, 12.0, 445.1, 22.0), False),
        ((400.0, 7.0, 430.0, 35.1), True),
        ((400.0, 31.0, 403.0, 7.0), True),
    ],
)
def test_what_is_a_wall(piece, is_wall):
    caps, walls = sorted_in(*piece)
    assert (caps, len(walls)) == ([], int(is_wall))
    mirrored = sorted_in(piece[0], -piece[1], piece[2], -piece[3])[1]
    assert [w.side for w in walls] == [-w.side for w in mirrored]


def test_a_slope_is_as_wide_as_its_outer_end():
    assert sorted_in(400.0, -30.0, 412.0, -22.0)[1] == [Wall(400.0, 412.0, -1, 30.0, 7)]


# --- curves -------------------------------------------------------------------------------------------------


def waist(lean: float, size: float = 160.0, off: float = 20.0) -> list[tuple[float, float]]:
    t = np.linspace(-1.0, 1.0, 21)
    return [(480.0 + size / 2 * x, off + lean * (x * x - 1.0)) for x in t]


def test_a_waisted_wall_is_as_far_off_as_its_mean():
    """Of a parabola that leans in by 6: 20 less about two thirds of it."""
    for side in (1, -1):
        _, (wall,) = curved_in([(a, side * s) for a, s in waist(6.0)])
        assert (wall.low, wall.high, wall.side) == (400.0, 560.0, side)
        assert wall.off == pytest.approx(20.0 - 4.0, abs=0.3)


@pytest.mark.parametrize(
    ("curve", "is_wall"),
    [
        (waist(11.9, 20.0), True),
        (waist(12.1, 20.0), False),
        (waist(14.9, 30.0, 28.0), True),
        (waist(15.1, 30.0, 28.0), False),  # half its length
        (waist(0.0, off=11.0), True),
        (waist(0.1, off=10.9), False),
        (waist(0.1, off=35.1), True),
        (waist(0.1, off=35.4), False),
        ([(a + 300.0, s) for a, s in waist(1.0)], True),
        ([(a + 301.0, s) for a, s in waist(1.0)], False),  # beyond what is looked at
        ([(a - 259.0, s) for a, s in waist(1.0)], True),
        ([(a - 261.0, s) for a, s in waist(1.0)], False),
    ],
)
def test_which_curve_is_a_wall(curve, is_wall):
    caps, walls = curved_in(curve)
    assert (caps, len(walls)) == ([], int(is_wall))


def half_round(height: float, wide: float = 25.0, beside: float = 0.0, at: float = 380.0):
    t = np.linspace(0.0, np.pi, 41)
    return [(at + height * np.sin(x), beside + wide * np.cos(x)) for x in t]


def test_a_half_round_crown_has_a_top_and_sides():
    caps, walls = curved_in(half_round(20.0))
    assert caps == [Cap(pytest.approx(400.0), pytest.approx(25.0), 7)]
    assert [(w.low, w.side, w.off) for w in walls] == [(380.0, 1, HALF), (380.0, -1, HALF)]
    # the sides reach up to where they are 6.6 mm from the axis: 20 sqrt(1 - (6.6/25)^2)
    assert [w.high for w in walls] == pytest.approx([380.0 + 19.29] * 2, abs=0.4)


@pytest.mark.parametrize(
    ("curve", "faces"),
    [
        (half_round(59.0), 1),
        (half_round(61.0), 0),  # a mudguard
        (half_round(20.0, beside=3.9), 1),
        (half_round(20.0, beside=4.5), 0),
        (half_round(-20.0), 0),
        (half_round(20.0, wide=83.0), 1),
        (half_round(20.0, wide=83.3), 0),
        ([(400.0, 0.0), (390.0, 15.0), (380.0, -25.0)], 0),  # highest at its own end
        ([(390.0, 15.0), (380.0, -25.0), (400.0, 0.0)], 0),
        ([(380.0, 25.0), (400.0, 0.0), (380.0, -25.0), (381.0, -20.0)], 1),
    ],
)
def test_which_curve_has_a_top(curve, faces):
    assert len(curved_in(curve)[0]) == faces


# --- walls inside walls -------------------------------------------------------------------------------------


def both(low, high, off, owner=0, other=None) -> list[Wall]:
    return [
        Wall(low, high, 1, off, owner),
        Wall(low, high, -1, off if other is None else other, owner),
    ]


BODY = both(400.0, 560.0, 22.0)


@pytest.mark.parametrize(
    ("inner", "kept"),
    [
        (both(400.0, 560.0, 14.0, 1), False),  # a steerer
        (both(400.0, 560.0, 21.6, 1), True),  # drawn twice
        (both(400.0, 560.0, 9.9, 1), True),  # what is so far outside is another thing
        (both(400.0, 560.0, 10.1, 1), False),
        (both(200.0, 430.0, 14.0, 1), True),
        (both(400.0 - 89.0, 430.0, 14.0, 1), False),  # a quarter of it is inside
        (both(400.0 - 92.0, 430.0, 14.0, 1), True),
        (both(530.0, 560.0 + 89.0, 14.0, 1), False),
        (both(530.0, 560.0 + 92.0, 14.0, 1), True),
        (both(200.0, 399.0, 14.0, 1), True),
        (both(561.0, 700.0, 14.0, 1), True),
    ],
)
def test_what_stands_inside_another_wall_is_no_outside(inner, kept):
    shown = p._outer([*BODY, *inner])
    assert set(BODY) <= set(shown)
    assert len(shown) == (4 if kept else 2)


def test_a_wall_hidden_on_one_side_alone_is_shown_by_its_image():
    """A bag's side 8 mm outside one wall of the head tube makes no inner wall of it."""
    bag = Wall(400.0, 560.0, 1, 30.0, 5)
    image = Wall(400.0, 560.0, -1, 30.0, 6)
    assert p._outer([*BODY, bag]) == tuple(BODY)
    assert p._outer([*BODY, bag, image]) == (bag, image)
    lone = [Wall(400.0, 560.0, 1, 22.0, 0), Wall(400.0, 560.0, 1, 30.0, 5)]
    assert p._outer(lone) == tuple(lone[1:])
    for other in (
        Wall(400.0, 560.0, -1, 23.1, 0),
        Wall(401.6, 560.0, -1, 22.0, 0),
        Wall(400.0, 558.4, -1, 22.0, 0),
    ):
        assert not p._mirrored(BODY[0], other)
    assert p._mirrored(BODY[0], Wall(401.4, 558.6, -1, 22.9, 0))
    assert not p._mirrored(BODY[0], BODY[0])


def test_what_stands_on_one_side_alone_is_no_wall_where_others_stand_on_both():
    lone = Wall(420.0, 440.0, 1, 27.0, 5)
    assert p._two_sided([*BODY, lone]) == BODY
    near = Wall(420.0, 440.0, 1, 24.4, 5)
    assert p._two_sided([*BODY, near]) == [*BODY, near]
    assert p._two_sided([BODY[0], lone]) == [BODY[0], lone]
    # an image stands as far off, at some of the same heights
    for other, is_image in (
        (Wall(559.0, 600.0, -1, 24.4, 1), True),
        (Wall(560.0, 600.0, -1, 22.0, 1), False),
        (Wall(300.0, 400.0, -1, 22.0, 1), False),
        (Wall(400.0, 560.0, -1, 24.6, 1), False),
        (Wall(400.0, 560.0, -1, 19.4, 1), False),
        (Wall(400.0, 560.0, 1, 22.0, 1), False),
    ):
        assert p._has_image(BODY[0], [other]) is is_image


@pytest.mark.parametrize(
    ("count", "rise", "width", "hidden"),
    [
        (6, 5.0, 5.0, True),
        (5, 5.0, 5.0, False),
        (6, 5.0, 0.7, False),  # upright: walls
        (6, 5.0, 0.8, True),
        (6, 0.7, 5.0, False),  # level: faces of spacers
        (6, -0.8, 5.0, True),
    ],
)
def test_many_slanting_lines_alike_are_a_pattern(count, rise, width, hidden):
    along = np.array([(400.0 + 10 * k, 400.0 + 10 * k + rise) for k in range(count)])
    side = np.array([(10.0 + k, 10.0 + k + width) for k in range(count)])
    # every second one drawn from its other end
    along[::2] = along[::2, ::-1]
    side[::2] = side[::2, ::-1]
    near = np.ones(count, bool)
    assert p._patterned(along, side, near).tolist() == [hidden] * count
    near[0] = False
    assert not p._patterned(along[:6], side[:6], near[:6]).any()
    apart = along.copy()
    apart[:, 1] += 0.3 * np.arange(count)
    assert not p._patterned(apart, side, np.ones(count, bool)).any()


# --- stations -----------------------------------------------------------------------------------------------


def drawn(*walls: Wall, caps=()) -> Profile:
    return Profile(tuple(caps), walls, ("0",) * 9)


def test_which_places_a_wall_covers():
    body = drawn(*BODY)
    assert [body.covered(at, 1) for at in (400.4, 400.5, 559.5, 559.6)] == [
        False,
        True,
        True,
        False,
    ]
    assert [body.edges_end(at) for at in (399.5, 399.6, 400.4, 400.5, 480.0, 560.4)] == [
        False, True, True, False, False, True,
    ]  # fmt: skip
    assert [body.reached(at, True) for at in (559.6, 560.5, 400.0)] == [True, False, False]
    assert [body.reached(at, False) for at in (400.4, 399.5, 560.0)] == [True, False, False]
    assert not drawn(BODY[0]).edges_end(400.0)
    assert not drawn(BODY[0]).reached(400.0, False)
    # a steerer that stands inside does not cover the tube's end
    steerer = both(300.0, 560.0, 19.9, 1)
    assert not drawn(*BODY, *steerer).covered(400.0, 1)
    flush = both(300.0, 560.0, 20.1, 1)
    assert drawn(*BODY, *flush).covered(400.0, -1)


def test_what_is_open_beyond_a_station():
    body = drawn(*BODY)
    assert body.open_beyond(560.0, True)
    assert body.open_beyond(400.0, False)
    assert not body.open_beyond(480.0, True)
    assert not body.open_beyond(480.0, False)
    for gap, is_open in ((2.0, False), (2.1, True)):
        above = drawn(*BODY, Wall(560.0 + gap, 600.0, 1, 22.0, 1))
        assert above.open_beyond(560.0, True) is is_open
        below = drawn(*BODY, Wall(300.0, 400.0 - gap, 1, 22.0, 1))
        assert below.open_beyond(400.0, False) is is_open


def test_faces_at_a_station():
    body = drawn(caps=[Cap(400.0, 13.3, 1), Cap(500.0, 13.1, 1)])
    assert [body.crossed(at) for at in (399.5, 399.6, 400.4, 400.5)] == [False, True, True, False]
    assert [body.capped(at, HALF) for at in (399.5, 400.4, 500.0)] == [False, True, False]


def test_a_stage_has_walls_on_both_sides_along_most_of_it():
    stage = drawn(*both(400.0, 430.0, 25.0, 3, other=26.0)).stage(400.0, 430.0)
    assert (stage.low, stage.high, stage.height, stage.half) == (400.0, 430.0, 30.0, 26.0)
    assert stage.owners == (3,)
    for missing, is_stage in ((4.4, True), (4.6, False)):
        part = drawn(Wall(400.0 + missing, 430.0, 1, 25.0, 3), Wall(400.0, 430.0, -1, 25.0, 4))
        assert (part.stage(400.0, 430.0) is not None) is is_stage
    # what runs on past it is no part of it
    for past, is_stage in ((1.4, True), (1.6, False)):
        above = drawn(*both(400.0, 430.0 + past, 25.0))
        below = drawn(*both(400.0 - past, 430.0, 25.0))
        assert (above.stage(400.0, 430.0) is not None) is is_stage
        assert (below.stage(400.0, 430.0) is not None) is is_stage
    two = drawn(*both(400.0, 415.0, 25.0, 3), *both(415.0, 430.0, 24.0, 4))
    assert two.stage(400.0, 430.0).owners == (3, 4)


# --- a whole drawing ----------------------------------------------------------------------------------------


def test_caps_and_walls_of_a_drawing_without_what_is_hidden_or_far_off():
    def line(a, b, layer="0", linetype="") -> Curve:
        return Curve(
            "line", np.array([(-a[1], a[0]), (-b[1], b[0])]), layer=layer, linetype=linetype
        )

    def wall(low, high, off, **how) -> list[Curve]:
        return [line((low, off), (high, off), **how), line((low, -off), (high, -off), **how)]

    crown = Curve("spline", np.array([(-s, a) for a, s in half_round(18.0, at=370.0)]))
    curves = [
        *wall(400.0, 560.0, 22.0),
        line((400.0, -22.0), (400.0, 22.0)),
        line((560.0, -22.0), (560.0, 22.0)),
        *wall(300.0, 380.0, 15.0, linetype="HIDDEN"),
        *wall(300.0, 380.0, 16.0, layer="dimensions"),
        *wall(200.0, 274.0, 22.0),
        *wall(656.0, 700.0, 22.0),
        *wall(654.0, 700.0, 22.0),
        crown,
    ]
    pieces = cut(curves)
    seen = view(POSE, gather(pieces, 1.0), pieces, settled(curves, None, None), (0.0, 0.0))
    lab = SimpleNamespace(reading=SimpleNamespace(view=seen), pose=POSE)
    found = p.profile_of(lab, UP, HALF, 400.0, 560.0, 370.0)
    assert sorted(round(c.at) for c in found.caps) == [388, 400, 560]
    straight = {(w.low, w.high) for w in found.walls if w.owner != len(curves) - 1}
    assert straight == {(400.0, 560.0), (654.0, 700.0)}
    assert {w.side for w in found.walls if w.owner == len(curves) - 1} == {1, -1}
    assert found.layers == [c.layer for c in curves]
