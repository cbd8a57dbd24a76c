"""What the recognition refuses, what it says about doubtful drawings, and how a doubt is settled by hand."""

import re
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from droptrail.converters.drawings.drawing import Drawing
from droptrail.converters.drawings.sideview.recognise import recognise
from droptrail.converters.drawings.sideview.side_view import SideView
from droptrail.model.errors import InputError
from droptrail.model.geometry.dimensions import FrameDimensions
from droptrail.model.geometry.statements import FIELDS
from helpers_habits import DrawnFrame, Habit, Item, Sheet, draw, place, random_drawn_frame

TOURER = FrameDimensions(
    reach=385.0,
    head_angle=71.0,
    seat_angle=72.5,
    bb_drop=72.0,
    chainstay=445.0,
    head_tube=150.0,
    lower_stack=12.0,
    fork_length=390.0,
    fork_offset=50.0,
    wheel_radius_front=346.0,
    wheel_radius_rear=346.0,
    seat_tube=540.0,
    top_tube_on_seat_tube=505.0,
    top_tube_below_head_top=34.0,
    down_tube_above_head_bottom=36.0,
    seatstay_below_top_tube=16.0,
)
DIAMETERS = {
    "head_tube": 36.0,
    "top_tube": 28.6,
    "down_tube": 31.8,
    "seat_tube": 28.6,
    "chainstay": 19.0,
    "seatstay": 16.0,
    "fork_blade": 26.0,
    "bb_shell": 40.0,
}
FRAME = DrawnFrame(TOURER, DIAMETERS, (311.0, 311.0))


def sheet(**habit: object) -> Sheet:
    return draw(FRAME, Habit(**habit), np.random.default_rng(1))


def without(items: Sheet, gone: Callable[[Item], bool]) -> Drawing:
    return place(Sheet([i for i in items.items if not gone(i)])).drawing()


def codes(view: SideView) -> dict[str, str]:
    """Warnings and errors: code -> message."""
    return {f.code: f.message for f in view.findings if f.severity != "info"}


def refused(drawing: Drawing, **how: object) -> str:
    with pytest.raises(InputError) as refusal:
        recognise(drawing, **how)
    text = str(refusal.value)
    assert "\n" not in text
    return text


def test_the_tourer_itself_is_clean():
    view = recognise(place(sheet()).drawing())
    assert codes(view) == {}
    assert view.score == pytest.approx(1.0)
    assert view.dimensions.trail == pytest.approx(TOURER.trail, abs=1e-9)


# --- missing parts ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("part", "words"),
    [
        ("head_tube", "no head tube found"),
        ("seat_tube", "no seat tube found"),
        ("fork", "no fork found"),
        ("wheel_front", "no front wheel found"),
        ("wheel_rear", "no rear wheel found"),
    ],
)
def test_what_cannot_be_done_without_is_refused_by_name(part, words):
    assert words in refused(without(sheet(), lambda i: i.part == part))


@pytest.mark.parametrize(
    ("part", "item"),
    [
        ("down_tube", "down_tube_above_head_bottom"),
        ("top_tube", "top_tube_on_seat_tube"),
        ("seatstay", "seatstay_below_top_tube"),
        ("chainstay", None),
    ],
)
def test_a_missing_member_is_never_replaced_by_another(part, item):
    view = recognise(without(sheet(), lambda i: i.part == part))
    assert part.replace("_", " ") in codes(view)["side-member-missing"]
    assert item is None or getattr(view.dimensions, item) is None
    assert view.dimensions.trail == pytest.approx(TOURER.trail, abs=1e-6)


def test_no_circle_and_no_line():
    assert "no circle" in refused(without(sheet(), lambda i: i.kind == "circle"))
    assert "no head tube and no seat tube" in refused(
        without(sheet(), lambda i: i.kind != "circle")
    )


def test_a_tyre_missing_on_one_wheel_is_refused():
    """The front rim alone would be taken for a smaller wheel, and tilt the ground."""
    drawing = without(sheet(rims=True), lambda i: i.part == "wheel_front" and i.radius == 346.0)
    assert "front tyre is missing" in refused(drawing)


def test_rims_alone_are_told():
    drawing = without(sheet(rims=True), lambda i: i.radius == 346.0)
    assert "622 mm bead seat" in codes(recognise(drawing))["side-rim-only"]


def test_a_steering_axis_in_one_piece_is_refused():
    """Nothing says where the head tube ends and the fork begins."""
    d = TOURER
    one = Sheet([i for i in sheet().items if i.part not in ("head_tube", "fork")])
    one.line(d.head_tube_top, d.fork_offset_foot, "fork")
    one.line(d.fork_offset_foot, d.front_axle, "fork")
    assert "one line" in refused(place(one).drawing())


# --- two of everything --------------------------------------------------------------------------------------


def moved(items: list[Item], x: float, y: float = 0.0, scale: float = 1.0) -> list[Item]:
    return [
        replace(
            i,
            points=tuple((scale * px + x, scale * py + y) for px, py in i.points),
            radius=i.radius * scale,
        )
        for i in items
    ]


@pytest.mark.parametrize(("x", "y", "scale"), [(2500.0, 0.0, 1.0), (0.0, 1800.0, 1.0)])
def test_two_bicycles_are_refused(x, y, scale):
    two = sheet()
    two.items += moved(two.items, x, y, scale)
    text = refused(place(two).drawing())
    assert "two bicycles" in text
    assert "--pick wheel_front=" in text


def test_a_reduced_view_is_told_and_the_full_one_read():
    two = sheet()
    two.items += moved(two.items, 1500.0, 600.0, 0.2)
    view = recognise(place(two).drawing())
    assert view.dimensions.trail == pytest.approx(TOURER.trail, abs=1e-6)
    (told,) = [f.message for f in view.findings if f.code == "side-reduced-view"]
    assert "--pick wheel_front=" in told


def test_two_front_ends_are_refused_and_settled_by_hand():
    """A second head tube, fork and tubes to it: both fit, so the builder is asked, by handle."""
    other = draw(
        replace(FRAME, dimensions=replace(TOURER, head_angle=72.5)),
        Habit(),
        np.random.default_rng(1),
    )
    both = sheet()
    first = len(both.items)
    both.items += [
        i for i in other.items if i.part in ("head_tube", "fork", "top_tube", "down_tube")
    ]
    drawing = place(both).drawing()
    text = refused(drawing)
    assert "two readings of the head tube" in text
    handle = next(
        c.handle
        for c, i in zip(drawing.curves[first:], both.items[first:], strict=True)
        if i.part == "head_tube"
    )
    assert handle in text
    view = recognise(drawing, pick={"head_tube": handle})
    assert view.dimensions.head_angle == pytest.approx(72.5, abs=1e-6)


def test_the_same_head_tube_pushed_along_itself_is_refused():
    d, twice = TOURER, sheet()
    twice.line(
        d.head_tube_bottom.along(d.axis_up, 9.0), d.head_tube_top.along(d.axis_up, 9.0), "head_tube"
    )
    assert "two readings of the head tube" in refused(place(twice).drawing())


def test_two_top_tubes_are_refused():
    """With seat and head tube parallel a second top tube, 20 mm lower, meets both exactly as well."""
    d = replace(TOURER, seat_angle=71.0)
    twice = draw(replace(FRAME, dimensions=d), Habit(), np.random.default_rng(1))
    low, front = (
        d.seat_tube_top_tube_node.along(d.seat_up, -20.0),
        d.top_tube_head_node.along(d.axis_up, -20.0),
    )
    twice.line(low, front, "top_tube")
    drawing = place(twice).drawing()
    assert "could equally well be the top tube" in refused(drawing)
    view = recognise(drawing, pick={"top_tube": drawing.curves[-1].handle})
    assert view.dimensions.top_tube_on_seat_tube == pytest.approx(485.0)


def test_a_second_line_beside_a_member_is_told():
    d, twice = TOURER, sheet()
    twice.line(
        d.head_tube_bottom.along(d.axis_forward, 5.0),
        d.head_tube_top.along(d.axis_forward, 5.0),
        "head_tube",
    )
    view = recognise(place(twice).drawing())
    assert "5 mm beside the head tube" in codes(view)["side-second-line"]
    assert view.dimensions.trail == pytest.approx(TOURER.trail, abs=1e-6)


@pytest.mark.parametrize(
    ("shifts", "told"),
    [
        (((12.0, 12.0), (-12.0, -12.0)), False),
        (((12.0, 12.0),), True),
        (((0.0, 12.0),), True),
        (((12.0, 12.0), (-12.0, -16.0), (-20.0, -20.0)), True),
        (((0.0, 12.0), (0.0, -15.0)), True),
    ],
)
def test_edges_of_a_curved_blade_are_no_second_blade(shifts, told):
    """Both edges beside the blade's centre-line are its outline; one curve alone, or two unlike ones, are not."""
    both = sheet(fork="curve")
    (blade,) = [i for i in both.items if i.part == "fork"]
    side = TOURER.axis_forward
    for top, tip in shifts:
        across = np.interp(range(4), (0, 3), (top, tip))
        points = [
            (x + a * side[0], y + a * side[1])
            for (x, y), a in zip(blade.points, across, strict=True)
        ]
        both.spline(points, "fork")
    try:
        found = "side-second-line" in codes(recognise(place(both).drawing()))
    except InputError:
        found = True
    assert found is told


# --- contradictions -----------------------------------------------------------------------------------------


def pushed(items: Sheet, which: Callable[[Item], bool], by: tuple[float, float]) -> Drawing:
    changed = [moved([i], *by)[0] if which(i) else i for i in items.items]
    return place(Sheet(changed)).drawing()


@pytest.mark.parametrize(
    ("which", "by", "words"),
    [
        (lambda i: i.part == "wheel_front" and i.radius > 100, (4.0, 0.0), "front axle"),
        (lambda i: i.part == "wheel_front" and i.radius == 5.0, (0.0, 3.0), "front axle"),
        (lambda i: i.part == "bb_shell", (2.0, 1.0), "bottom bracket"),
        (lambda i: i.part == "chainstay", (0.0, 5.0), "rear axle"),
    ],
)
def test_the_odd_one_out_is_named_and_outvoted(which, by, words):
    view = recognise(pushed(sheet(), which, by))
    assert any(words in f.message for f in view.findings if f.code == "side-node-disagrees")
    assert view.dimensions.trail == pytest.approx(TOURER.trail, abs=1e-6)
    assert view.dimensions.bb_drop == pytest.approx(TOURER.bb_drop, abs=1e-6)


@pytest.mark.parametrize(
    ("which", "by", "code"),
    [
        (lambda i: i.part == "head_tube", (3.0, 0.0), "side-snapped"),
        (lambda i: i.part == "seat_tube", (-8.0, 25.0), "side-snapped"),
    ],
)
def test_lines_off_their_nodes_are_told(which, by, code):
    assert code in codes(recognise(pushed(sheet(), which, by)))


@pytest.mark.parametrize("edge", [0, 1])
def test_an_edge_that_moved_is_told(edge):
    """The head tube's edges are the first two of its lines; one of them 8 mm forward."""
    edges = sheet(lines="outline")
    k = [n for n, i in enumerate(edges.items) if i.part == "head_tube"][edge]
    edges.items[k] = moved([edges.items[k]], *(8.0 * u for u in TOURER.axis_forward))[0]
    try:
        told = codes(recognise(place(edges).drawing()))
    except InputError as refusal:
        told = {"refused": str(refusal)}
    assert any("head tube" in text for text in told.values())


def test_ground_line_and_mudguard_are_held_against_the_wheels():
    ground = sheet(extras=("construction",))
    low = [
        moved([i], 0.0, -4.0)[0] if i.part == "construction" and i.points[0][0] == -900.0 else i
        for i in ground.items
    ]
    assert (
        "4 mm off the tangent" in codes(recognise(place(Sheet(low)).drawing()))["side-ground-off"]
    )
    assert (
        "two outer circles"
        in codes(recognise(place(sheet(extras=("clearance",))).drawing()))["side-tyre-doubt"]
    )


def test_what_rests_on_one_line_is_said():
    single = {
        f.code: f.message for f in recognise(place(sheet(axle_marks="none")).drawing()).findings
    }
    assert "the head tube's ends" in single["side-single-source"]
    bare = without(
        sheet(axle_marks="none"), lambda i: i.part in ("bb_shell", "down_tube", "chainstay")
    )
    text = {f.code: f.message for f in recognise(place(Sheet([*sheet().items])).drawing()).findings}
    assert "bottom bracket" not in text["side-single-source"]
    assert "no bottom bracket found" in refused(bare)


# --- by hand ------------------------------------------------------------------------------------------------


def test_layers_say_what_is_what():
    named = place(sheet(), layers="members").drawing()
    by_name = recognise(
        named, layers={"head_tube": "head_tube", "FORK": "fork", "wheel_front": "wheel_front"}
    )
    assert by_name.dimensions == recognise(named).dimensions
    assert "no fork found" in refused(named, layers={"fork": "ignore"})


@pytest.mark.parametrize(
    ("how", "words"),
    [
        ({"layers": {"nowhere": "fork"}}, "holds no line"),
        ({"layers": {"0": "boom"}}, "no member"),
        ({"pick": {"fork": "ZZZ"}}, "no line has this handle"),
        ({"pick": {"boom": "10"}}, "no member"),
        ({"pick": {"fork": ""}}, "no line has this handle"),
    ],
)
def test_wrong_hints_are_refused(how, words):
    assert words in refused(place(sheet()).drawing(), **how)


def test_a_pick_on_the_wrong_line_does_not_pass_silently():
    """The top tube named as head tube: nothing fits, and that is said."""
    drawing = place(sheet()).drawing()
    top = next(
        c.handle for c, i in zip(drawing.curves, sheet().items, strict=True) if i.part == "top_tube"
    )
    assert re.search("no head tube|no frame|no fork", refused(drawing, pick={"head_tube": top}))


def test_picked_wheels_choose_between_two_bicycles():
    two = sheet()
    count = len(two.items)
    two.items += moved(two.items, 2500.0)
    drawing = place(two).drawing()
    tyres = {
        i.part: c.handle
        for c, i in zip(drawing.curves[count:], two.items[count:], strict=True)
        if i.radius == 346.0
    }
    view = recognise(drawing, pick=tyres)
    assert view.transform.offset[0] == pytest.approx(2500.0)


# --- damage -------------------------------------------------------------------------------------------------


def mutated(drawing: Drawing, rng: np.random.Generator) -> tuple[Drawing, str]:
    curves, k = list(drawing.curves), int(rng.integers(len(drawing.curves)))
    kind = ("delete", "shift", "copy")[int(rng.integers(3))]
    turn = rng.uniform(0, 2 * np.pi)
    by = rng.uniform(1, 30) * np.array([np.cos(turn), np.sin(turn)])
    old = curves[k]
    centre = None if old.centre is None else (old.centre[0] + by[0], old.centre[1] + by[1])
    new = replace(old, points=old.points + by, centre=centre, handle="NEW")
    curves[k : k + 1] = {"delete": [], "shift": [new], "copy": [old, new]}[kind]
    return replace(drawing, curves=tuple(curves)), f"{kind} {k} {by}"


# What a finding "known from one line alone" covers, by the words in it.
ALONE = {
    "the head tube's ends": {
        "reach",
        "head_tube",
        "lower_stack",
        "fork_length",
        "top_tube_below_head_top",
        "down_tube_above_head_bottom",
    },
    "the top tube's height": {
        "top_tube_on_seat_tube",
        "top_tube_below_head_top",
        "seatstay_below_top_tube",
    },
    "the seat tube's top": {"seat_tube"},
    "the fork's crown": {"lower_stack", "fork_length"},
    "the front axle (": {
        "fork_length",
        "fork_offset",
        "reach",
        "head_angle",
        "seat_angle",
        "bb_drop",
        "trail",
    },
}


def silent(view: SideView, frame: DrawnFrame, known: set[str]) -> set[str]:
    """Wrong dimensions that no new finding warns of and no finding calls unconfirmed."""
    truth, got = frame.dimensions, view.dimensions
    wrong = {
        name
        for name in FIELDS
        if (value := getattr(truth, name)) is not None
        and getattr(got, name) is not None
        and abs(getattr(got, name) - value) > (0.04 if "angle" in name else 0.12)
    }
    if any(
        f.message not in known
        for f in view.findings
        if f.severity != "info" or f.code == "side-seat-top"
    ):
        return set()
    alone = next((f.message for f in view.findings if f.code == "side-single-source"), "")
    return wrong - {name for words, names in ALONE.items() if words in alone for name in names}


MUTATED = [
    Habit(),
    Habit(lines="outline"),
    Habit(lines="outline", fork="raked", axle_marks="none"),
    Habit(lines="pieces"),
    Habit(lines="both", overrun=20.0),
    Habit(fork="axis_offset"),
    Habit(fork="raked", stays="arc"),
    Habit(lines="chain", rims=True),
    Habit(lines="boxes"),
    Habit(lines="loop"),
    Habit(axle_marks="none"),
    Habit(lines="outline", broken_edges=True),
    Habit(extras=("clearance", "rings")),
]


def test_no_wrong_geometry_without_a_finding():
    """650 damaged drawings of 26 generated frames, each with its own habit: right, refused, or told."""
    rng = np.random.default_rng(2)
    sound = []
    for habit in 2 * MUTATED:
        frame = random_drawn_frame(rng)
        drawing = place(draw(frame, habit, rng), turn=rng.uniform(-180, 180)).drawing()
        sound.append(
            (frame, drawing, {f.message for f in recognise(drawing, units="mm").findings}, habit)
        )
    outcome = {"refused": 0, "read": 0}
    for k in range(650):
        frame, drawing, known, habit = sound[k % len(sound)]
        damaged, what = mutated(drawing, rng)
        try:
            view = recognise(damaged, units="mm")
        except InputError:
            outcome["refused"] += 1
            continue
        outcome["read"] += 1
        assert silent(view, frame, known) == set(), (habit, what)
    assert min(outcome.values()) > 50


def test_the_damage_check_can_fail():
    view = recognise(place(sheet()).drawing())
    wrong = replace(FRAME, dimensions=replace(TOURER, fork_offset=55.0))
    assert silent(view, wrong, {f.message for f in view.findings}) == {"fork_offset"}
