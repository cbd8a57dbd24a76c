"""What the search for a labelling gives for what it sees: whole drawings, and single lines on either side of a limit.

The lines are made up, in rough millimetres about a rear axle at (0, 0); the limits stand here once more as what the
trade builds (common practice, no source), so that a slipped weight is noticed.
"""

from math import cos, radians, sin
from types import SimpleNamespace

import numpy as np
import pytest
from droptrail.converters.drawings.labelling import points as earned
from droptrail.converters.drawings.labelling import search
from droptrail.converters.drawings.labelling import weights as w
from droptrail.converters.drawings.labelling.points import StrokeSpan
from droptrail.converters.drawings.labelling.score import (
    EXACT,
    exactness,
    reaching,
    usual,
)
from droptrail.converters.drawings.linework.lines import Candidate
from droptrail.converters.drawings.linework.rounds import Round
from droptrail.converters.drawings.sideview import recognise as door
from droptrail.model.geometry.quantities import QUANTITIES
from helpers_habits import Habit, draw, place, random_drawn_frame

BB = (440.0, -70.0)


def line(at, degrees, length, **more) -> Candidate:
    """From `at` in a direction from forward."""
    tip = (at[0] + length * cos(radians(degrees)), at[1] + length * sin(radians(degrees)))
    return Candidate(at, tip, **more)


def tube(at, degrees, length, wide=30.0, **more) -> Candidate:
    """The same as an outline."""
    middle = line(at, degrees, length)
    off = (-middle.u[1] * wide / 2, middle.u[0] * wide / 2)
    edges = tuple(
        tuple((p[0] + s * off[0], p[1] + s * off[1]) for p in (middle.p, middle.q)) for s in (1, -1)
    )
    return Candidate(middle.p, middle.q, (1, 2), diameter=wide, edges=edges, **more)


SEAT = line(BB, 106.0, 540.0, strokes=(11,))
AXIS = line((900.0, 60.0), 108.0, 700.0, strokes=(12,))


def span(low: float, high: float, whole: bool = True) -> StrokeSpan:
    return StrokeSpan(low, high, whole, ())


# --- whole drawings -----------------------------------------------------------------------------------------


def best_reading(seed: int, monkeypatch):
    """The reading of a clean drawing in centre-lines, and the frame that was drawn."""
    taken = []

    def choose(*given):
        taken.append(chosen(*given))
        return taken[-1]

    chosen = door.choose
    monkeypatch.setattr(door, "choose", choose)
    rng = np.random.default_rng(seed)
    frame = random_drawn_frame(rng, "700C")
    view = door.recognise(place(draw(frame, Habit(), rng)).drawing())
    return taken[-1].reading, view.dimensions


@pytest.mark.parametrize("seed", [0, 2, 3])
def test_a_complete_clean_drawing_earns_all_points(seed, monkeypatch):
    """The seeds are of frames with nothing unusual about them; each member's share is said, so that none makes up for
    another."""
    reading, _ = best_reading(seed, monkeypatch)
    assert reading.score == pytest.approx(w.BEST_POINTS, abs=1e-6)
    assert {name: round(points, 6) for name, points in reading.points.items()} == {
        "bottom_bracket": 1.0,
        "seat_tube": 2.5,
        "chainstay": 2.0,
        "seatstay": 1.7,
        "top_tube": 1.9,
        "down_tube": 3.0,
        "head_tube": 1.6,
        "fork": 2.6,
    }


# --- how exact, how near ------------------------------------------------------------------------------------


def test_each_factor_of_ten_costs_the_same():
    drop = exactness(0.1) - exactness(1.0)
    assert exactness(1.0) - exactness(10.0) == pytest.approx(drop, rel=1e-12)
    assert exactness(-3.0) == exactness(3.0)
    assert exactness(EXACT) == 1.0
    assert exactness(0.051) < 1.0
    assert exactness(29.9) > 0.0
    assert exactness(30.0) == exactness(1e6) == 0.0


def test_an_end_reaches_its_node_or_does_not():
    assert reaching(-2.5) == reaching(2.5) == 1.0
    assert reaching(2.6) < 1.0
    assert reaching(66.25) == pytest.approx(0.5)
    assert reaching(129.0) > 0.0
    assert reaching(130.0) == reaching(-1e6) == 0.0


def test_usual_rises_stays_and_falls():
    assert [usual(x, 2, 4, 8, 10) for x in (2, 3, 4, 6, 8, 9, 10)] == [0, 0.5, 1, 1, 1, 0.5, 0]


@pytest.mark.parametrize(
    ("row", "name"),
    [
        (w.SEAT_ANGLE, "seat_angle"),
        (w.HEAD_ANGLE, "head_angle"),
        (w.HEAD_LENGTH, "head_tube"),
        (w.OFFSET, "fork_offset"),
        (w.STACK, "lower_stack"),
        (w.INSIDE, "top_tube_below_head_top"),
        (w.INSIDE, "down_tube_above_head_bottom"),
    ],
)
def test_what_is_usual_for_a_sheet_earns_points_in_a_drawing(row, name):
    """The typical value all of them, the ends of the usual range some; nothing is given for what cannot be."""
    quantity = QUANTITIES[name]
    assert list(row) == sorted(row)
    assert usual(quantity.typical, *row) == 1.0
    assert all(usual(end, *row) > 0.0 for end in quantity.usual)
    assert usual(quantity.believable[1] + 60.0, *row) == 0.0


# --- single members -----------------------------------------------------------------------------------------


def test_a_seat_tube_may_lean_as_seat_tubes_do():
    points = [earned.seat_points(line(BB, 180.0 - lean, 540.0), BB) for lean in (52, 67, 78, 88)]
    assert points == pytest.approx([2.0, 2.5, 2.5, 2.0])
    assert earned.seat_points(line(BB, 180.0 - 66.5, 540.0), BB) < 2.5
    beside = line((BB[0] + 31.0, BB[1]), 106.0, 540.0)
    assert earned.seat_points(beside, BB) == pytest.approx(1.0, abs=0.05)


def test_one_edge_of_an_outline_is_no_centre_line():
    head = tube((900.0, 60.0), 108.0, 160.0)
    assert earned.edge_alone(SEAT, head, {11}) == pytest.approx(-1.4)  # outweighs an exact node
    assert earned.edge_alone(SEAT, head, {99}) == 0.0
    assert earned.edge_alone(SEAT, AXIS, {11}) == 0.0


@pytest.mark.parametrize(("up", "joins"), [(101.0, True), (99.4, False)])
def test_a_top_tube_joins_the_seat_tube_a_hand_above_its_foot(up, joins):
    back = SEAT.at(up)
    ahead = AXIS.at(500.0)
    top = Candidate(back, ahead, (13,))
    assert (earned.top_points(top, SEAT, AXIS) > 0.0) is joins
    stay = Candidate((0.0, 0.0), back, (14,))
    assert (earned.stay_points(stay, SEAT) > 0.0) is joins


def test_a_down_tube_that_passes_the_bottom_bracket_far_off_is_none():
    assert earned.down_points(line(BB, 45.0, 600.0), BB) == pytest.approx(1.5)
    assert earned.down_points(line((BB[0], BB[1] + 43.0), 45.0, 600.0), BB) == 0.0


def test_a_chainstay_ends_at_both_nodes():
    whole = Candidate((0.0, 0.0), BB, (15,))
    assert earned.chain_points(whole, BB) == pytest.approx(2.0)
    short = Candidate((0.0, 0.0), whole.at(whole.length - 131.0), (15,))
    assert earned.chain_points(short, BB) == 0.0
    bent = Candidate((0.0, 0.0), BB, (), (3,))
    assert earned.chain_points(bent, BB) == pytest.approx(1.9)
    missed = Candidate((0.0, 0.0), (BB[0], BB[1] + 31.0), (), (3,))
    assert earned.chain_points(missed, BB) == 0.0


# --- where ends meet ----------------------------------------------------------------------------------------


def meeting(past: float, outlined: bool = False, up: float = 350.0) -> float:
    """What a level line earns that ends `past` mm beyond the seat tube's line, `up` mm along it."""
    node = SEAT.at(up)
    made = tube if outlined else line
    return earned.meeting(made((node[0] - 300.0, node[1]), 0.0, 300.0 + past), SEAT)


def test_a_line_meets_best_at_its_node():
    assert meeting(0.0) == pytest.approx(1.0)
    # within a slip it is judged by how far it is off, beyond by reach alone: drawn so on purpose
    assert meeting(3.9) < 0.85
    assert meeting(10.0) == pytest.approx(0.8 * reaching(10.0))
    assert meeting(-20.0) == pytest.approx(meeting(20.0))
    assert meeting(69.0) == pytest.approx(0.8 * reaching(69.0))
    assert meeting(71.0) == pytest.approx(0.5 * reaching(71.0))


def test_an_outline_never_ends_beyond_the_middle():
    assert meeting(-14.0, outlined=True) == pytest.approx(0.85 * reaching(14.0))
    assert meeting(2.9, outlined=True) > 0.8
    assert meeting(3.1, outlined=True) < 0.3


def test_a_meeting_off_the_other_tube_s_end_counts_for_less():
    whole = meeting(0.0)
    assert meeting(0.0, up=SEAT.length + 14.0) == pytest.approx(whole)
    assert meeting(0.0, up=SEAT.length + 16.0) < whole
    assert meeting(0.0, up=SEAT.length + 141.0) == pytest.approx(0.3)


# --- centre-lines and outlines that confirm each other --------------------------------------------------------


@pytest.mark.parametrize(("beside", "confirmed"), [(0.25, True), (0.4, False)])
def test_a_centre_line_confirms_an_outline_about_it(beside, confirmed):
    outline = tube(BB, 106.0, 540.0)
    own = line((BB[0] + beside, BB[1]), 106.0, 540.0, strokes=(9,))
    bonuses = [c.bonus for c in search.with_partners([own, outline])]
    assert bonuses == pytest.approx([0.35, 0.35] if confirmed else [0.0, 0.0])


def test_a_short_line_confirms_nothing_and_a_doubted_outline_is_not_confirmed():
    outline = tube(BB, 106.0, 540.0)
    short = line(BB, 106.0, 265.0, strokes=(9,))
    assert [c.bonus for c in search.with_partners([short, outline])] == [0.0, 0.0]
    own = line(BB, 106.0, 540.0, strokes=(9,))
    gap = tube(BB, 106.0, 540.0, bonus=-0.3)
    assert [c.bonus for c in search.with_partners([own, gap])] == pytest.approx([0.0, -0.3])


# --- head tube ----------------------------------------------------------------------------------------------


def inside(distance: float, upper: bool = True) -> float:
    """Points of a tube that joins so far inside the head tube's upper or lower end."""
    held = span(400.0, 560.0)
    at = AXIS.at(560.0 - distance if upper else 400.0 + distance)
    return earned.junction_points(Candidate((400.0, 200.0), at, (16,)), AXIS, held, upper)


@pytest.mark.parametrize("upper", [True, False])
def test_main_tubes_join_inside_the_head_tube(upper):
    assert [inside(x, upper) for x in (6.0, 40.0, 75.0)] == pytest.approx([0.7] * 3)
    assert inside(-11.5, upper) > 0.0
    assert inside(-12.5, upper) == 0.0
    assert inside(74.5, upper) == pytest.approx(0.7)
    assert 0.0 < inside(100.0, upper) < 0.7
    assert earned.junction_points(None, AXIS, span(0.0, 1.0), upper) == 0.0


def test_a_tube_that_joins_beyond_the_head_tube_is_told_from_one_that_does_not():
    held = span(400.0, 560.0)
    for axis, most in ((AXIS, 12.0), (tube(AXIS.p, 108.0, 700.0), 32.0)):
        near, far = (
            Candidate((400.0, 200.0), axis.at(560.0 + most + d), (16,)) for d in (-0.5, 0.5)
        )
        assert not earned.joins_outside(near, axis, held)
        assert earned.joins_outside(far, axis, held)
    assert not earned.joins_outside(None, AXIS, held)


def test_a_head_tube_earns_by_angle_length_and_offset():
    front = AXIS.at(0.0)
    ahead = (front[0] + 48.0 * AXIS.u[1], front[1] - 48.0 * AXIS.u[0])
    assert earned.head_points(AXIS, span(400.0, 550.0), ahead) == pytest.approx(1.6)
    assert earned.head_points(AXIS, span(400.0, 550.0, whole=False), ahead) == pytest.approx(1.4)
    assert earned.head_points(AXIS, span(400.0, 434.0), ahead) == pytest.approx(1.2)
    assert earned.head_points(AXIS, span(300.0, 720.5), ahead) == pytest.approx(1.2)
    behind = (front[0] - 36.0 * AXIS.u[1], front[1] + 36.0 * AXIS.u[0])
    assert earned.head_points(AXIS, span(400.0, 550.0), behind) == pytest.approx(1.1)
    wide = tube(AXIS.p, 108.0, 700.0, wide=44.0)
    assert earned.head_points(wide, span(400.0, 550.0), ahead) == pytest.approx(1.9)


def test_the_lower_headset_is_none_at_all_or_as_high_as_they_are_made():
    assert [earned.stack_points(x) for x in (0.0, 12.0, 25.0)] == pytest.approx([0.6] * 3)
    assert earned.stack_points(-2.9) > 0.0
    assert earned.stack_points(-3.1) == 0.0
    assert earned.stack_points(94.5) > 0.0
    assert earned.stack_points(95.0) == 0.0


# --- what is tried at all -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("offset", "tried"), [(-70.4, 0), (-69.6, 1), (189.6, 1), (190.4, 0)], ids=str
)
def test_an_axis_is_tried_where_a_fork_may_join_it_to_the_axle(offset, tried, monkeypatch):
    monkeypatch.setattr(search, "_head_spans", lambda *_: [span(400.0, 560.0)])
    monkeypatch.setattr(search, "_head_sized", lambda *_: True)
    monkeypatch.setattr(search, "_as_picked", lambda _, spans: spans)
    monkeypatch.setattr(search, "ForkLinks", lambda _: None)
    monkeypatch.setattr(search, "forks", lambda *_: [])
    upright = Candidate((1000.0, 0.0), (1000.0, 700.0), (12,))
    evidence = SimpleNamespace(named=lambda _: set())
    seen = SimpleNamespace(front=(1000.0 + offset, 0.0), evidence=evidence, owner=np.zeros(1, int))
    asked = SimpleNamespace(v=seen, slots={"head_tube": [upright]}, undivided=None)
    assert len(search.LabelSearch.axes(asked)) == tried


@pytest.mark.parametrize(
    ("radius", "is_shell"), [(12.6, False), (13.0, True), (36.0, True), (36.4, False)]
)
def test_a_shell_is_as_large_as_shells_roughly_are(radius, is_shell, monkeypatch):
    monkeypatch.setattr(search, "_in_bb_box", lambda *_: True)
    pose = SimpleNamespace(scale=2.0, apply=lambda at: at)
    seen = SimpleNamespace(pose=pose, evidence=SimpleNamespace(bonus=lambda *_: 0.0))
    asked = SimpleNamespace(v=seen)
    found = search.LabelSearch._bb_rounds(asked, [Round(BB, radius / 2, 0.0, 1.0, (3,))])
    assert (found, asked.sizes) == ([BB], [is_shell])


@pytest.mark.parametrize(("apart", "told"), [(0.9, False), (1.1, True)])
def test_another_top_tube_meets_the_seat_tube_elsewhere(apart, told):
    """A millimetre along it: nearer, the one is the other drawn again."""
    taken = Candidate(SEAT.at(500.0), AXIS.at(520.0), (13,))
    other = Candidate(SEAT.at(500.0 + apart), AXIS.at(520.0 + apart), (14,))
    members = {"seat_tube": SEAT, "top_tube": taken}
    reading = SimpleNamespace(members=members, axis=AXIS)
    asked = SimpleNamespace(slots={"top_tube": [taken, other]})
    found = search.LabelSearch.other_top_tube(asked, reading)
    assert found is (other if told else None)
