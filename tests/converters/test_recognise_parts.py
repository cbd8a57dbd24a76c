"""The stages of the recognition one by one: circles, pieces, strokes, edges, nodes, words; and pictures and rows."""

from itertools import pairwise
from math import cos, pi, sin

import numpy as np
import pytest
from droptrail.converters.drawings.drawing import Curve
from droptrail.converters.drawings.labelling.nodes import Witness, settle
from droptrail.converters.drawings.linework.edges import edge_pairs
from droptrail.converters.drawings.linework.evidence import settled
from droptrail.converters.drawings.linework.lines import Candidate, crossing
from droptrail.converters.drawings.linework.pieces import cut
from droptrail.converters.drawings.linework.pose import pose_of
from droptrail.converters.drawings.linework.rounds import find_rounds, fit_circle
from droptrail.converters.drawings.linework.strokes import gather
from droptrail.converters.drawings.linework.view import view
from droptrail.converters.drawings.linework.words import meaning
from droptrail.converters.drawings.sideview.explain import explain, left_out_summary
from droptrail.converters.drawings.sideview.recognise import recognise
from droptrail.converters.showing.picture.overlay import overlay_figure, write_overlay
from droptrail.model.errors import InputError
from helpers_habits import Habit, Sheet, draw, place, random_drawn_frame
from helpers_work import calls


def polyline(*points: tuple[float, float], closed: bool = False) -> Curve:
    return Curve(
        "polyline", np.array(points + points[:1] if closed else points, float), closed=closed
    )


def line(*points: tuple[float, float]) -> Curve:
    return Curve("line", np.array(points, float))


def ring(n: int, r: float = 100.0, squash: float = 1.0) -> list[tuple[float, float]]:
    return [(30 + r * cos(2 * pi * k / n), -7 + squash * r * sin(2 * pi * k / n)) for k in range(n)]


# --- circles ------------------------------------------------------------------------------------------------


def test_circle_through_exact_and_displaced_vertices():
    """Exact vertices give the circle; one vertex pushed out by 1 shows as an error of nearly 1."""
    centre, radius, error = fit_circle(np.array(ring(24)))
    assert (centre, radius) == (pytest.approx((30.0, -7.0)), pytest.approx(100.0))
    assert error < 1e-9
    pushed = np.array(ring(24))
    pushed[0, 0] += 1.0
    assert 0.7 < fit_circle(pushed)[2] < 1.0


@pytest.mark.parametrize(
    ("n", "squash", "found"), [(8, 1.0, 1), (6, 1.0, 0), (64, 1.0, 1), (64, 0.97, 0)]
)
def test_polygons_are_round_or_not(n, squash, found):
    """Eight corners are the least; a nut is no wheel, an ellipse 3 % flat is none."""
    rounds = find_rounds([polyline(*ring(n, squash=squash), closed=True)])
    assert len(rounds) == found
    if found:
        assert rounds[0].inside == pytest.approx(100 * (1 - cos(pi / n)), rel=1e-6)


def test_a_line_back_to_its_start_ends_no_walk():
    """A box left open in the file but drawn back to its start, where two lines of a loop meet, is walked past."""
    box = polyline((0, 0), (40, 0), (40, 20), (0, 20), (0, 0))
    loop = [line((0, 0), (-30, 10)), line((-30, 10), (-30, -10)), line((-30, -10), (0, 0))]
    assert find_rounds([box, *loop]) == []
    wheel = ring(24, 300.0)
    sides = [line(a, b) for a, b in zip(wheel, wheel[1:] + wheel[:1], strict=True)]
    assert [r.radius for r in find_rounds([box, *loop, *sides])] == [pytest.approx(300.0)]


def test_a_wheel_in_quarters_of_few_corners():
    """Four polylines of six corners each make the circle; a line there and back again makes none of three corners."""
    corners = ring(20)
    quarters = [polyline(*(corners + corners[:1])[k : k + 6]) for k in (0, 5, 10, 15)]
    (found,) = find_rounds(quarters)
    assert (found.radius, found.curves) == (pytest.approx(100.0), (0, 1, 2, 3))
    a, b, c = ring(3)
    assert find_rounds([polyline(a, b, a), polyline(b, c, b), polyline(c, a, c)]) == []


def test_a_spline_laid_through_points_of_a_circle():
    """Inkscape's splines pass exactly through points of the circle and leave it by 1.3 % at the seam."""
    turn = np.linspace(0.0, 2 * pi, 361)
    bulge = 100.0 - 1.3 * np.exp(-(((np.minimum(turn, 2 * pi - turn) - 0.26) / 0.1) ** 2))
    points = np.column_stack((bulge * np.cos(turn), bulge * np.sin(turn)))
    fit = np.array(ring(12)) - (30.0, -7.0)
    assert find_rounds([Curve("spline", points, closed=True)]) == []
    (found,) = find_rounds([Curve("spline", points, closed=True, fit=fit)])
    assert (found.centre, found.radius) == (
        pytest.approx((0.0, 0.0), abs=1e-9),
        pytest.approx(100.0),
    )
    assert found.error == pytest.approx(1.3, abs=0.01)  # told to the builder as a rough wheel
    off_by_half_a_percent = fit * np.where(np.arange(12) == 3, 1.005, 1.0)[:, None]
    assert find_rounds([Curve("spline", points, closed=True, fit=off_by_half_a_percent)]) == []


def lines_along(points: list[tuple[float, float]]) -> list[Curve]:
    return [line(a, b) for a, b in pairwise(points)]


def test_short_lines_end_to_end_are_one_curve():
    """A bend in eight lines is a curve; the long line it continues, a straight line in pieces and corners are not."""
    bend = [(100 * sin(k * 0.1), 100 - 100 * cos(k * 0.1)) for k in range(9)]
    pieces = cut(lines_along([(-300.0, 0.0), *bend]))
    assert [b.owners for b in pieces.bents] == [tuple(range(1, 9))]
    assert pieces.bents[0].points == pytest.approx(np.array(bend))
    assert pieces.owner.tolist() == [0]
    assert cut(lines_along(bend[:6])).bents == ()  # five lines may be anything
    assert cut(lines_along([(50.0 * k, 0.01 * (k % 2)) for k in range(12)])).bents == ()
    assert cut(lines_along([(50.0 * k, 30.0 * (k % 2)) for k in range(12)])).bents == ()


def test_circle_of_short_lines_beside_other_lines():
    corners = ring(40)
    lines = [line(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True)]
    rounds = find_rounds(
        [*lines[::2], line((0, 0), (500, 300)), *lines[1::2], line((0, 9), (40, 300))]
    )
    assert [r.radius for r in rounds] == [pytest.approx(100.0)]
    assert len(rounds[0].curves) == 40


def test_the_same_circle_twice_is_one():
    c = Curve("circle", np.array(ring(32)), centre=(30.0, -7.0), radius=100.0, closed=True)
    off = Curve("circle", np.array(ring(32)), centre=(31.0, -7.0), radius=100.0, closed=True)
    assert [r.copies for r in find_rounds([c, c])] == [(1,)]
    assert len(find_rounds([c, off])) == 2


# --- pieces and strokes -------------------------------------------------------------------------------------


def test_a_raked_blade_is_cut_into_straight_and_curve():
    arc = [(200 + 100 * sin(t), 100 - 100 * cos(t)) for t in np.linspace(0, 0.6, 40)]
    pieces = cut([polyline((0.0, 0.0), *arc)])
    assert pieces.ends.tolist() == [[0.0, 0.0, 200.0, 0.0]]
    assert [len(b.points) for b in pieces.bents] == [40]


def test_corners_cut_and_lines_without_length_drop_out():
    pieces = cut(
        [
            polyline((0, 0), (100, 0), (100, 80)),
            line((5, 5), (5, 5)),
            Curve("line", np.array([(0, 0), (1e6, 0)], float), construction=True),
        ]
    )
    assert pieces.ends.tolist() == [[0, 0, 100, 0], [100, 0, 100, 80]]
    assert set(pieces.dropped) == {1, 2}


def spans(*curves: Curve) -> tuple[int, set[tuple[float, float]], int]:
    strokes = gather(cut(curves), 1.0)
    return (
        len(strokes.ends),
        {(round(s.start, 6), round(s.end, 6)) for s in strokes.spans(0) if s.whole},
        len(strokes.clashes),
    )


def test_pieces_end_to_end_are_one_stroke_with_natural_spans():
    count, found, clashes = spans(
        line((0, 0), (100, 0)), line((101, 0), (200, 0)), line((0, 40), (100, 40))
    )
    assert (count, clashes) == (2, 0)
    assert found == {(0, 100), (101, 200), (0, 200)}


def test_vertices_on_a_line_are_weaker_ends_of_its_stretches():
    """A line that runs on past a member's end, with a vertex where the member ends."""
    pieces = cut([polyline((10, 5), (40, 45), (70, 85))])
    strokes = gather(pieces, 1.0)
    assert len(strokes.ends) == 1
    weak = {(round(s.start, 6), round(s.end, 6)) for s in strokes.spans(0) if not s.whole}
    assert weak == {(0.0, 50.0), (50.0, 100.0)}


def test_a_copy_pushed_along_itself_is_a_clash_but_a_part_is_not():
    assert spans(line((0, 0), (100, 0)), line((9, 0), (109, 0)))[2] == 1
    assert spans(line((0, 0), (100, 0)), line((0, 0), (60, 0)))[2] == 0
    assert spans(line((0, 0), (100, 0)), line((0, 0.3), (100, 0.3)))[0] == 2


def test_dashes_are_one_line():
    dashes = [line((30 * k, 3 * k), (30 * k + 20, 3 * k + 2)) for k in range(12)]
    assert spans(*dashes)[0] == 1
    assert spans(*dashes[:3])[0] == 3


# --- edges --------------------------------------------------------------------------------------------------


def tubes(*curves: Curve) -> list[Candidate]:
    pieces = cut(curves)
    v = view(
        pose_of((0, 0), (1020, 0), 340, 340, False, 1.0),
        gather(pieces, 1.0),
        pieces,
        settled(curves, None, None),
        (1020.0, 0.0),
    )
    lines = [Candidate(tuple(e[:2]), tuple(e[2:]), (k,)) for k, e in enumerate(v.ends.tolist())]
    return edge_pairs(v, lines, "seat_tube")


def test_two_edges_give_middle_line_and_diameter():
    (tube,) = tubes(line((0, 300), (300, 300)), line((10, 330), (290, 330)))
    assert tube.diameter == pytest.approx(30.0)
    assert [p[1] for p in (tube.p, tube.q)] == pytest.approx([315.0, 315.0])
    assert sorted((tube.p[0], tube.q[0])) == pytest.approx([0.0, 300.0])


def test_an_edge_with_an_opening_is_one_edge():
    (tube,) = tubes(
        line((0, 300), (300, 300)), line((0, 330), (120, 330)), line((160, 330), (300, 330))
    )
    assert tube.diameter == pytest.approx(30.0)
    assert tube.length == pytest.approx(300.0)


def test_tapered_edges_are_halved_in_angle():
    """Edges from 15 and -15 mm to 7 and -7 mm: the middle is the axis, exactly."""
    (tube,) = tubes(line((0, 315), (380, 307)), line((0, 285), (380, 293)))
    assert abs(tube.lateral((0.0, 300.0))) < 1e-9
    assert abs(tube.lateral((380.0, 300.0))) < 1e-9


def test_lines_too_far_apart_are_no_tube():
    assert tubes(line((0, 300), (300, 300)), line((0, 390), (300, 390))) == []


def test_crossing():
    a, b = Candidate((0, 0), (10, 0)), Candidate((4, -3), (4, -1))
    assert crossing(a, b) == pytest.approx((4.0, 0.0))
    assert crossing(a, Candidate((0, 1), (10, 1.01))) is None


# --- nodes --------------------------------------------------------------------------------------------------


def test_three_lines_outvote_a_circle():
    lines = [
        Witness(name, (0.0, 0.0), (cos(t), sin(t)), curves=(k,))
        for k, (name, t) in enumerate((("seat tube", 1.9), ("down tube", 0.8), ("chainstay", 3.3)))
    ]
    node = settle(
        "bottom bracket", [Witness("circle", (3.0, 1.0), rank=1, curves=(9,)), *lines], 0.05
    )
    assert node is not None
    assert node.at == pytest.approx((0.0, 0.0))
    assert node.confirmed
    assert [w.name for w, _ in node.astray] == ["circle"]


def test_one_witness_confirms_nothing_and_one_polyline_has_one_voice():
    alone = settle("axle", [Witness("circle", (3.0, 1.0), rank=1)], 0.05)
    assert alone is not None
    assert not alone.confirmed
    chain = [
        Witness("down tube", (0.0, 0.0), (1.0, 0.0), curves=(4,)),
        Witness("chainstay", (0.0, 0.0), (0.0, 1.0), curves=(4,)),
    ]
    node = settle("bottom bracket", chain, 0.05)
    assert node is not None
    assert not node.confirmed


def test_no_place_without_a_point_or_crossing():
    passing = [
        Witness("a", (0.0, 0.0), (1.0, 0.0), ended=False),
        Witness("b", (0.0, 5.0), (1.0, 0.0), ended=False),
    ]
    assert settle("nowhere", passing, 0.05) is None


# --- words --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("layer", "member"),
    [
        ("SeatTube", "seat_tube"),
        ("Steuerrohr", "head_tube"),
        ("TUBE_DIAGONAL", "down_tube"),
        ("01-Oberrohr", "top_tube"),
        ("Räder", "wheel"),
        ("Laufraeder", "wheel"),
        ("Tretlagergehäuse", "bb_shell"),
        ("haubans", "seatstay"),
        ("vainas", "chainstay"),
        ("forcella", "fork"),
        ("Bemaßung", "other"),
        ("tubo de dirección", "head_tube"),
        ("Längsträger", None),
        ("0", None),
        ("Layer 12", None),
        ("CENTER", "frame"),
        ("Felge", "rim"),
    ],
)
def test_trade_words_in_layer_names(layer, member):
    assert meaning(layer) == member


# --- rows and pictures --------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def told():
    rng = np.random.default_rng(3)
    frame = random_drawn_frame(rng, "700C")
    habit = Habit(
        lines="both",
        overrun=20.0,
        fork="raked",
        rims=True,
        repeated=True,
        extras=("rings", "title", "second_view"),
    )
    return recognise(place(draw(frame, habit, rng)).drawing())


def test_every_line_is_accounted_for(told):
    rows = explain(told)
    assert len(rows) == len(told.drawing.curves)
    assert all(row.how for row in rows)
    taken = {name for row in rows for name in row.taken_as.split(" + ")}
    assert {
        "wheel rear",
        "wheel front",
        "bottom bracket shell",
        "head tube",
        "top tube",
        "down tube",
        "seat tube",
        "chainstay",
        "seatstay",
        "fork",
        "left out",
    } <= taken
    assert rows[-1].taken_as == "left out"
    assert sum(count for _, count in left_out_summary(told)) == sum(
        row.taken_as == "left out" for row in rows
    )


def test_overlay_as_svg_names_the_members(told, tmp_path):
    write_overlay(told, tmp_path / "overlay.svg")
    text = (tmp_path / "overlay.svg").read_text(encoding="utf-8")
    for colour in ("#0072b2", "#d55e00", "#009e73"):
        assert colour in text
    assert text.count("<path") > 50


def test_overlay_shows_head_tube_and_crown_enlarged_with_their_lengths(told):
    """The window of the inset holds both ends and the crown, at several times the main view's scale."""
    whole, steering = overlay_figure(told).axes
    d = told.dimensions
    said = steering.get_xlabel()
    assert f"head tube {d.head_tube:.1f} mm" in said
    assert f"fork {d.fork_length:.1f} mm along the axis" in said
    for name in ("head_tube_top", "head_tube_bottom", "fork_crown"):
        x, y = told.points[name]
        assert steering.get_xlim()[0] < x < steering.get_xlim()[1]
        assert steering.get_ylim()[0] < y < steering.get_ylim()[1]
    assert np.ptp(whole.get_ylim()) > 2.5 * np.ptp(steering.get_ylim())


def test_the_legend_names_everything_that_is_drawn(told):
    (legend,) = overlay_figure(told).legends
    words = " ".join(text.get_text() for text in legend.get_texts())
    for name in (*told.lines, "tyre", "steering axis", "as drawn"):
        assert name.replace("_", " ") in words


def test_overlay_as_png_is_a_picture(told, tmp_path):
    write_overlay(told, tmp_path / "overlay.png")
    data = (tmp_path / "overlay.png").read_bytes()
    assert data.startswith(b"\x89PNG")
    assert int.from_bytes(data[16:20], "big") > 1500
    with pytest.raises(InputError, match=r"\.png, \.svg, \.pdf"):
        write_overlay(told, tmp_path / "overlay.gif")


def test_the_picture_states_trail_and_drop_in_the_readings_own_words(told):
    """± 0.00 mm, its own rounding once, claimed what no drawing gives."""
    title = overlay_figure(told).axes[0].get_title()
    assert told.precision.says(told.dimensions) in title
    assert "± 0 " not in title
    assert "± 0.00 " not in title


def test_member_lines_run_from_node_to_node(told):
    ends = {"fork": ("fork_crown", "front_axle"), "chainstay": ("rear_axle", "bottom_bracket")}
    for name, (start, end) in ends.items():
        assert told.lines[name][0] == pytest.approx(told.points[start])
        assert told.lines[name][-1] == pytest.approx(told.points[end])
    assert len(told.lines["fork"]) > 5  # the raked blade is followed, not cut short


# --- size ---------------------------------------------------------------------------------------------------


def test_50000_unrelated_lines_do_not_drown_the_frame():
    """A frame on a floor of 50,000 strokes: same numbers, at some hundred calls a stroke (regression)."""
    rng = np.random.default_rng(6)
    frame = random_drawn_frame(rng, "700C")
    sheet: Sheet = draw(frame, Habit(), rng)
    for x, y, t in zip(
        rng.uniform(-800, 1300, 50_000),
        rng.uniform(-400, 1100, 50_000),
        rng.uniform(0, 7, 50_000),
        strict=True,
    ):
        sheet.line((x, y), (x + 9 * cos(t), y + 9 * sin(t)), "floor")
    drawing = place(sheet).drawing()
    found = []
    assert calls(lambda: found.append(recognise(drawing))) < 200 * 50_000
    assert found[0].dimensions.trail == pytest.approx(frame.dimensions.trail, abs=0.05)
