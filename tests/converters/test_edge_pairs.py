"""Two edges become one tube: the figures behind it, on lines whose middle, width and openings are known beforehand.

Lengths are mm in the bicycle's axes; the tubes are made up. The limits stand here once more as what they are meant to
be (common practice, no source), so that a slipped one is noticed.
"""

from math import cos, radians, sin

import numpy as np
import pytest
from droptrail.converters.drawings.drawing import Curve
from droptrail.converters.drawings.linework import edges
from droptrail.converters.drawings.linework.evidence import settled
from droptrail.converters.drawings.linework.lines import Candidate
from droptrail.converters.drawings.linework.pieces import cut
from droptrail.converters.drawings.linework.pose import Pose
from droptrail.converters.drawings.linework.strokes import gather
from droptrail.converters.drawings.linework.view import View, view

LEVEL = Pose((0.0, 0.0), 1.0, 0.0, 0.0, 1.0)
WIDE = 30.0


def seen(*curves: Curve) -> View:
    """A drawing in millimetres that lies level."""
    pieces = cut(curves)
    return view(LEVEL, gather(pieces, 1.0), pieces, settled(curves, None, None), (1000.0, 0.0))


def line(*points, layer: str = "0", linetype: str = "") -> Curve:
    return Curve("line", np.array(points, float), layer=layer, linetype=linetype)


def level(y: float, low: float = 0.0, high: float = 500.0, **how) -> Curve:
    return line((low, y), (high, y), **how)


def anchors(v: View) -> list[Candidate]:
    """Every stroke of 100 mm and more as a line to the right, as `slot_candidates` hands them on."""
    found = []
    for k, (x0, y0, x1, y1) in enumerate(v.ends.tolist()):
        if abs(x1 - x0) >= 100.0:
            p, q = sorted([(x0, y0), (x1, y1)])
            found.append(Candidate(p, q, (k,)))
    return found


def tubes(*curves: Curve, slot: str = "top_tube") -> list[Candidate]:
    v = seen(*curves)
    return edges.edge_pairs(v, anchors(v), slot)


def bonus(*beside: Curve, slot: str = "top_tube", wide: float = WIDE) -> float:
    """Points of the pair at 0 and `wide` with other lines drawn along with it."""
    held = [t for t in tubes(level(0.0), level(wide), *beside, slot=slot) if t.diameter == wide]
    (tube,) = [t for t in held if t.p[1] == wide / 2]
    return tube.bonus


# --- the middle -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(4))
def test_every_point_of_the_middle_is_as_far_from_one_edge_as_from_the_other(seed):
    rng = np.random.default_rng(seed)
    turn = rng.uniform(0.0, 360.0)
    taper = rng.uniform(0.5, 3.0)
    a = Candidate((3.0, -7.0), (3.0 + 400 * cos(radians(turn)), -7.0 + 400 * sin(radians(turn))))
    start = (a.p[0] - 25.0 * a.u[1] + 60.0 * a.u[0], a.p[1] + 25.0 * a.u[0] + 60.0 * a.u[1])
    down = radians(turn - taper)
    b = Candidate(start, (start[0] + 370 * cos(down), start[1] + 370 * sin(down)))
    p, q = edges._middle((a.p, a.q), (b.p, b.q))
    for at in (p, q):
        assert abs(a.lateral(at)) == pytest.approx(abs(b.lateral(at)), rel=1e-9)
        assert a.lateral(at) * b.lateral(at) < 0
    middle = Candidate(p, q)
    along = [middle.along(at) for at in (a.p, a.q, b.p, b.q)]
    assert (min(along), max(along)) == pytest.approx((0.0, middle.length), abs=1e-9)


@pytest.mark.parametrize(("apart", "has_middle"), [(119.0, True), (121.0, False)])
def test_edges_that_point_apart_have_no_middle(apart, has_middle):
    other = ((0.0, 10.0), (100 * cos(radians(apart)), 10.0 + 100 * sin(radians(apart))))
    assert (edges._middle(((0.0, 0.0), (100.0, 0.0)), other) is not None) is has_middle
    assert edges._middle(((0.0, 0.0), (0.0, 0.0)), other) is None
    assert edges._middle(other, ((5.0, 5.0), (5.0, 5.0))) is None


@pytest.mark.parametrize("swapped", [False, True])
def test_a_stub_gives_no_direction_of_its_own(swapped):
    """The longer edge is level; the stub leans, and is less than half as long."""
    whole = edges.Edge((0.0, 0.0), (400.0, 0.0), (1,), 400.0)
    stub = edges.Edge((10.0, 30.0), (190.0, 30.2), (2,), 180.0)
    pair = (stub, whole) if swapped else (whole, stub)
    tube = edges._tube(*pair, -WIDE if swapped else WIDE, 0.2)
    assert (tube.p, tube.q) == (pytest.approx((0.0, 15.0)), pytest.approx((400.0, 15.0)))
    assert (tube.diameter, tube.bonus) == (WIDE, 0.2)
    longer = edges.Edge((10.0, 30.0), (230.0, 30.2), (2,), 220.0)
    assert edges._tube(whole, longer, WIDE, 0.0).u[1] > 0.0


# --- which edges belong together --------------------------------------------------------------------------


@pytest.mark.parametrize(("wide", "is_tube"), [(8.9, 0), (9.0, 1), (80.0, 1), (80.1, 0)])
def test_a_tube_is_as_wide_as_tubes_are(wide, is_tube):
    found = tubes(level(0.0), level(wide))
    assert [t.diameter for t in found] == pytest.approx([wide] * is_tube)


def test_a_pair_is_found_once_with_its_middle_and_no_points():
    (tube,) = tubes(level(0.0), level(WIDE))
    assert (tube.p, tube.q) == ((0.0, 15.0), (500.0, 15.0))
    assert tube.bonus == 0.0
    (_, low, high, _) = box = [(0.0, 0.0), (500.0, 0.0), (500.0, WIDE), (0.0, WIDE)]
    assert low[0] == high[0]
    closed = Curve("polyline", np.array([*box, box[0]]), closed=True)
    assert max(t.bonus for t in tubes(closed)) == pytest.approx(0.1)


@pytest.mark.parametrize(("rise", "parallel"), [(0.2, True), (0.3, False)])
def test_edges_may_diverge_by_a_quarter_of_a_millimetre(rise, parallel):
    found = tubes(level(0.0), line((0.0, WIDE), (500.0, WIDE + rise)))
    assert [t.bonus for t in found] == pytest.approx([0.0 if parallel else -0.15])


@pytest.mark.parametrize(("slot", "steepest"), [("seatstay", 0.065), ("head_tube", 0.15)])
@pytest.mark.parametrize("share", [0.97, 1.03])
def test_edges_converge_as_a_stay_s_or_a_tapered_head_tube_s_do(slot, steepest, share):
    lean = share * steepest
    a = Candidate((0.0, 0.0), (300.0, 0.0), (1,), bonus=0.3)
    tip = (300.0 * cos(lean), 50.0 - 300.0 * sin(lean))
    b = Candidate((0.0, 50.0), tip, (2,))
    found = edges._tapered(a, b, steepest)
    assert (found is not None) is (share < 1.0)
    if found is not None:
        assert found.diameter == pytest.approx(50.0)
        assert (found.bonus, found.strokes) == (0.3, (1, 2))


@pytest.mark.parametrize(
    ("start", "end", "is_tube"),
    [
        ((0.0, 20.0), (300.0, 4.1), True),
        ((0.0, 20.0), (300.0, 3.9), False),  # a crossing has no tip
        ((0.0, 8.0), (300.0, 5.0), False),
        ((0.0, 9.1), (300.0, 5.0), True),
        ((0.0, 81.0), (300.0, 65.0), False),
        ((120.0, 20.0), (300.0, 10.0), True),
        ((122.0, 20.0), (300.0, 10.0), False),  # side by side along 0.6 of the longer one
        ((-5.0, -20.0), (300.0, 10.0), False),
        ((300.0, 20.0), (0.0, 10.0), False),
        ((0.0, 20.3), (300.0, 20.1), False),  # parallel: told otherwise
    ],
)
def test_what_is_no_tapered_tube(start, end, is_tube):
    a = Candidate((0.0, 0.0), (300.0, 0.0), (1,))
    assert (edges._tapered(a, Candidate(start, end, (2,)), 0.065) is not None) is is_tube


# --- openings and strokes -----------------------------------------------------------------------------------


@pytest.mark.parametrize(("opening", "one"), [(109.0, True), (111.0, False)])
def test_an_edge_goes_on_across_an_opening_as_wide_as_a_tube_s(opening, one):
    below = level(0.0, 0.0, 700.0)
    found = tubes(below, level(WIDE, 0.0, 300.0), level(WIDE, 300.0 + opening, 700.0))
    pairs = [t for t in found if t.diameter == WIDE]
    upper = [e for t in pairs for e in t.edges if e[0][1] == WIDE]
    assert max(q[0] - p[0] for p, q in upper) == (700.0 if one else 300.0)
    v = seen(level(0.0, 0.0, 300.0), level(0.0, 300.0 + opening, 700.0))
    own = edges._edge(v, Candidate((0.0, 0.0), (300.0, 0.0), (0,)))
    assert own.length == pytest.approx(700.0 if one else 300.0)
    assert own.ink == pytest.approx(700.0 - opening if one else 300.0)
    # and as well from the upper part
    upper = edges._edge(v, Candidate((300.0 + opening, 0.0), (700.0, 0.0), (1,)))
    assert upper.length == pytest.approx(700.0 if one else 400.0 - opening)


@pytest.mark.parametrize(("off", "one"), [(0.1, True), (0.2, False)])
def test_strokes_nearly_on_one_line_are_one_edge(off, one):
    v = seen(level(0.0, 0.0, 300.0), level(off, 340.0, 500.0))
    own = edges._edge(v, Candidate((0.0, 0.0), (300.0, 0.0), (0,)))
    assert own.length == pytest.approx(500.0 if one else 300.0)


@pytest.mark.parametrize(("short", "counts"), [(2.4, False), (2.6, True)])
def test_specks_are_no_part_of_an_edge(short, counts):
    v = seen(level(0.0, 0.0, 300.0), level(0.0, 340.0, 340.0 + short))
    own = edges._edge(v, Candidate((0.0, 0.0), (300.0, 0.0), (0,)))
    assert (own.length > 300.0) is counts


@pytest.mark.parametrize(("drawn", "is_edge"), [(126.0, True), (124.0, False)])
def test_a_quarter_of_the_other_edge_has_to_be_drawn(drawn, is_edge):
    v = seen(level(0.0), level(WIDE, 200.0, 200.0 + drawn))
    anchor = edges.Edge((0.0, 0.0), (500.0, 0.0), (0,), 500.0)
    assert bool(edges._beside(v, anchor)) is is_edge


@pytest.mark.parametrize(
    ("low", "high", "reach"),
    [
        (485.0, 510.0, (0.0, 510.0)),
        (520.0, 540.0, (0.0, 540.0)),
        (521.0, 540.0, (0.0, 450.0)),
        (-40.0, -20.0, (-40.0, 450.0)),
        (-40.0, -21.0, (0.0, 450.0)),
    ],
)
def test_the_other_edge_may_run_on_a_little_past_the_ends(low, high, reach):
    v = seen(level(0.0), level(WIDE, 0.0, 450.0), level(WIDE, low, high))
    ((other, _),) = edges._beside(v, edges.Edge((0.0, 0.0), (500.0, 0.0), (0,), 500.0))
    assert (other.p[0], other.q[0]) == reach


def test_or_pieces_of_it_from_end_to_end():
    anchor = edges.Edge((0.0, 0.0), (200.0, 0.0), (0,), 200.0)
    for far, is_edge in ((121.0, True), (119.0, False)):
        v = seen(level(0.0, 0.0, 200.0), level(WIDE, 0.0, 15.0), level(WIDE, far - 15.0, far))
        (found,) = edges._beside(v, anchor) or [None]
        assert (found is not None) is is_edge
    assert edges._beside(seen(level(0.0, 0.0, 200.0), level(-WIDE, 0.0, 200.0)), anchor)[0][1] == (
        pytest.approx(-WIDE)
    )


# --- square ends alone --------------------------------------------------------------------------------------


def test_the_other_side_of_an_open_tube_is_where_its_end_lines_say():
    ends = line((40.0, 7.0), (40.0, 7.0 + WIDE)), line((540.0, 7.0 + WIDE), (540.0, 7.0))
    v = seen(level(7.0, 40.0, 540.0), *ends)
    anchor = edges.Edge((40.0, 7.0), (540.0, 7.0), (0,), 500.0)
    ((other, shift),) = edges._capped(v, anchor)
    assert shift == pytest.approx(WIDE)
    assert (other.p, other.q, other.ink) == ((40.0, 37.0), (540.0, 37.0), 0.0)


def test_of_many_end_lines_a_few_tubes_are_made():
    """Three at either end would make nine; four are looked at."""
    ends = [line((x + by, 0.0), (x + by, WIDE)) for x in (0.0, 500.0) for by in (-0.2, 0.0, 0.2)]
    found = edges._capped(
        seen(level(0.0), *ends), edges.Edge((0.0, 0.0), (500.0, 0.0), (0,), 500.0)
    )
    assert len(found) == 4


@pytest.mark.parametrize(
    ("one", "two"),
    [
        (((0.0, 0.0), (0.0, WIDE)), ((500.0, 0.0), (500.0, WIDE + 0.4))),  # unlike
        (((0.0, 0.0), (0.4, WIDE)), ((500.0, 0.0), (500.0, WIDE))),  # not square
        (((0.0, 0.4), (0.0, WIDE)), ((500.0, 0.0), (500.0, WIDE))),  # does not touch
        (((0.0, 0.0), (0.0, WIDE)), ((499.0, 0.0), (499.0, WIDE))),  # not at the end
        (((1.0, 0.0), (1.0, WIDE)), ((500.0, 0.0), (500.0, WIDE))),
        (((0.0, 0.0), (0.0, 8.0)), ((500.0, 0.0), (500.0, 8.0))),  # no tube
        (((0.0, 0.0), (0.0, 81.0)), ((500.0, 0.0), (500.0, 81.0))),
    ],
)
def test_end_lines_that_say_nothing(one, two):
    anchor = edges.Edge((0.0, 0.0), (500.0, 0.0), (0,), 500.0)
    assert edges._capped(seen(level(0.0), line(*one), line(*two)), anchor) == []


@pytest.mark.parametrize("turn", [38.0, 90.0, 205.0])
def test_edges_are_found_however_they_lie(turn):
    """An edge with an opening, the one beside it, and end lines at both ends, turned about and moved."""
    a = radians(turn)

    def moved(x, y):
        return (70.0 + x * cos(a) - y * sin(a), -30.0 + x * sin(a) + y * cos(a))

    def drawn(p, q) -> Curve:
        return line(moved(*p), moved(*q))

    v = seen(
        drawn((0.0, 0.0), (300.0, 0.0)),
        drawn((340.0, 0.0), (500.0, 0.0)),
        drawn((20.0, WIDE), (480.0, WIDE)),
        drawn((0.0, 0.0), (0.0, 20.0)),
        drawn((500.0, 20.0), (500.0, 0.0)),
    )
    own = edges._edge(v, Candidate(moved(0.0, 0.0), moved(300.0, 0.0), (0,)))
    assert (own.p, own.q) == (pytest.approx(moved(0.0, 0.0)), pytest.approx(moved(500.0, 0.0)))
    ((other, distance),) = edges._beside(v, own)
    assert distance == pytest.approx(WIDE)
    assert (other.p, other.q) == (
        pytest.approx(moved(20.0, WIDE)),
        pytest.approx(moved(480.0, WIDE)),
    )
    ((capped, shift),) = edges._capped(v, own)
    assert shift == pytest.approx(20.0)
    assert (capped.p, capped.q) == (
        pytest.approx(moved(0.0, 20.0)),
        pytest.approx(moved(500.0, 20.0)),
    )
    whole = Candidate(moved(0.0, 15.0), moved(500.0, 15.0), (0, 1), diameter=WIDE)
    assert edges._against(v, whole, "top_tube") == 0.0
    lone = Candidate(moved(0.0, 25.0), moved(500.0, 25.0), (0, 1), diameter=50.0)
    assert edges._against(v, lone, "top_tube") == pytest.approx(-0.3)


# --- points against a pair ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("beside", "points"),
    [
        ((12.0,), -0.3),  # another edge between the two
        ((15.5,), 0.0),  # its own centre-line
        ((16.4,), -0.3),
        ((3.0,), 0.0),  # the inner line of its own wall
        ((4.5,), 0.0),  # of one 4.5 mm thick at the most
        ((4.6,), -0.3),
        ((10.0, 20.0), -0.3),  # no steerer in a top tube
        ((33.0,), -0.35),  # it is the inner line of a wall
        ((30.28,), 0.0),  # and the same line drawn twice says nothing
        ((34.4,), -0.35),
        ((34.5,), -0.35),
        ((34.6,), 0.0),
        ((-30.0, 60.0), -0.3),  # the gap between two tubes as wide as itself
        ((-30.0, 63.9), -0.3),
        ((-30.0, 64.1), 0.0),
        ((-60.0, 90.0), -0.3),
        ((-61.0, 91.0), 0.0),
        ((-8.0, 38.0), 0.0),
    ],
)
def test_lines_along_with_a_pair_speak_against_it(beside, points):
    assert bonus(*(level(y) for y in beside)) == pytest.approx(points)


def test_a_steerer_stands_inside_a_head_tube_and_a_post_in_a_seat_tube():
    inner = (level(10.0), level(20.0))
    v = seen(level(0.0), level(WIDE), *inner)
    (tube,) = [t for t in edges.edge_pairs(v, anchors(v), "down_tube") if t.diameter == WIDE]
    plain = Candidate(tube.p, tube.q, tube.strokes, diameter=WIDE, edges=tube.edges)
    for slot, points in (("head_tube", 0.0), ("seat_tube", 0.0), ("down_tube", -0.3)):
        assert edges._against(v, plain, slot) == pytest.approx(points)


@pytest.mark.parametrize(("length", "counts"), [(255.0, True), (245.0, False)])
def test_only_what_runs_along_half_of_it_speaks_against_a_pair(length, counts):
    assert bonus(level(12.0, 0.0, length)) == pytest.approx(-0.3 if counts else 0.0)
    assert bonus(level(12.0, 500.0 - length, 700.0)) == pytest.approx(-0.3 if counts else 0.0)
    assert bonus(level(12.0, -80.0, 249.5)) == bonus(level(12.0, 250.5, 580.0)) == 0.0


def test_hidden_and_slanting_lines_do_not():
    assert bonus(level(12.0, linetype="HIDDEN")) == 0.0
    assert bonus(line((0.0, 5.0), (500.0, 16.0))) == 0.0
    assert bonus(line((0.0, 6.0), (500.0, 15.0))) == pytest.approx(-0.3)  # within 1 in 50


@pytest.mark.parametrize(("count", "points"), [(4, -0.3), (5, 0.0)])
def test_lines_of_light_and_shade_are_no_other_edge(count, points):
    shade = [level(5.0 + k) for k in range(count)]
    assert bonus(*shade) == pytest.approx(points)


# --- layers -------------------------------------------------------------------------------------------------


def test_the_worse_of_two_edges_layers_counts():
    """0.3 points for a layer of the name, and as much against one of another member's."""
    filler = [level(-900.0 - 40 * k, 0.0, 90.0) for k in range(9)]

    def points(one: str, other: str) -> float:
        drawn = (level(0.0, layer=one), level(WIDE, layer=other), *filler)
        v = seen(*drawn)
        weighed = [
            Candidate(c.p, c.q, c.strokes, bonus=v.evidence.bonus("top_tube", [k]))
            for k, c in enumerate(anchors(v))
        ]
        (tube,) = edges.edge_pairs(v, weighed, "top_tube")
        return tube.bonus

    assert points("top tube", "top tube") == pytest.approx(0.3)
    assert points("top tube", "plain") == pytest.approx(0.0)
    assert points("plain", "top tube") == pytest.approx(0.0)
    assert points("top tube", "seat tube") == pytest.approx(-0.3)
