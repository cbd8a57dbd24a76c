"""The rig as a picture: numbers where it is held, letters where it is measured, arrows where it is pushed."""

import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from droptrail.converters.files.drafting.projection import FROM_ABOVE, FROM_SIDE
from droptrail.converters.showing.picture.rig import rig_picture
from droptrail.converters.showing.report.rig import rig
from droptrail.converters.showing.report.scene import case_json, scene_json
from droptrail.converters.showing.report.stills import BuiltFrame, still
from droptrail.model.cases.library import cases_of, load_cases
from droptrail.model.cases.view import gauges
from droptrail.model.cases.wheels import on_wheels
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.mechanics.solve import solve
from helpers_bicycle import tourer

BIKE = tourer()
LAYOUT = lay_out(BIKE)
MODEL = mesh(BIKE, layout=LAYOUT)
SCENE = scene_json(MODEL, BIKE.dimensions)


def case_of(name):
    return load_cases(BIKE, LAYOUT, (name,))[0]


def drawn(case):
    """The picture's root element and its words."""
    made = rig(MODEL, case, SCENE)
    return ET.fromstring(made.svg), made.words


def texts(root, kind):
    return [e.text for e in root.iter("text") if e.get("class") == kind]


@pytest.mark.parametrize("name", cases_of(BIKE))
def test_every_support_has_a_number_and_every_measure_a_letter_in_both_views(name):
    case = case_of(name)
    root, words = drawn(case)
    held = dict.fromkeys([*case.supports, *(s.i for s in case.springs)])
    numbers = [str(k) for k in range(1, len(held) + 1)]
    assert sorted(texts(root, "held-words")) == sorted(numbers * 2)
    places = sum(len(gauge.places) for gauge in gauges(MODEL, case))
    assert len(texts(root, "gauge-words")) == 2 * places
    for gauge in gauges(MODEL, case):
        assert gauge.words in words
    for node in case.supports:
        if case.touching.get(node):
            assert case.touching[node] in words


@pytest.mark.parametrize("name", cases_of(BIKE))
def test_everything_drawn_lies_within_the_picture(name):
    root, _ = drawn(case_of(name))
    left, top, width, height = (float(v) for v in root.get("viewBox").split())
    for element, (over, down) in _placed(root):
        for x, y in _points(element):
            assert left <= x + over <= left + width, (name, element.get("class"))
            assert top <= y + down <= top + height, (name, element.get("class"))


def _placed(root, shift=(0.0, 0.0)):
    """Every element with how far the groups round it shift it."""
    numbers = re.findall(r"-?\d+(?:\.\d+)?", root.get("transform", "")) if root.tag == "g" else []
    if numbers:
        shift = (shift[0] + float(numbers[0]), shift[1] + float(numbers[1]))
    yield root, shift
    for child in root:
        yield from _placed(child, shift)


def test_the_frame_is_drawn_once_for_all_cases_and_stands_under_its_marks_in_both_views():
    """Of either view the tubes reach from the rear axle to the stem, as the marks of the case do."""
    frame = BuiltFrame(SCENE)
    for name in ("seated", "climb"):
        made = rig(MODEL, case_of(name), SCENE, frame)
        assert made.svg == rig(MODEL, case_of(name), SCENE).svg
        root = ET.fromstring(made.svg)
        held = [e for e in root.iter("path") if e.get("class") == "support"]
        # both axles and the steering, in the view from the side and in that from above
        assert len(held) == 6
        tubes = [
            (x + over, y + down)
            for e, (over, down) in _placed(root)
            if e.get("class") == "tube"
            for x, y in _points(e)
        ]
        for mark in held:
            x, y = next(iter(_points(mark)))
            # the mark of an axle: a tube ends there or beside it
            assert min(abs(x - a) + abs(y - b) for a, b in tubes) < 70.0


def test_a_still_draws_the_frame_behind_it_once_for_all_cases():
    frame = BuiltFrame(SCENE)
    for name in ("seated", "climb"):
        case = case_json(solve(MODEL, [case_of(name)])[name], {})
        assert still(SCENE, case, built_frame=frame) == still(SCENE, case)
    assert still(SCENE, None, built_frame=frame) == still(SCENE)


def _points(element):
    if element.get("d"):
        numbers = [float(v) for v in re.findall(r"-?\d+(?:\.\d+)?", element.get("d"))]
        yield from zip(numbers[::2], numbers[1::2], strict=True)
    elif element.get("cx"):
        yield float(element.get("cx")), float(element.get("cy"))
    elif element.get("x"):
        yield float(element.get("x")), float(element.get("y"))


def test_a_push_to_the_right_is_an_arrow_from_above_and_a_dot_from_the_side():
    """The rider's right is towards the reader from above: the arrow runs down the page."""
    root, _ = drawn(case_of("side_push"))
    assert texts(root, "load-words") == ["200 N"]
    (shaft,) = [e for e in root.iter("path") if e.get("class") == "force"]
    (x0, y0), (x1, y1) = _points(shaft)
    assert x0 == pytest.approx(x1)
    assert y1 > y0  # y of an SVG grows downwards
    dots = [e for e in root.iter("circle") if e.get("class") == "force head"]
    assert len(dots) == 1
    x, y, _ = LAYOUT.joints["head_tube_top"]
    assert (float(dots[0].get("cx")), -float(dots[0].get("cy"))) == pytest.approx((x, y), abs=0.1)


def test_the_rider_s_right_comes_towards_the_reader_from_above_and_the_front_to_the_right():
    front_right = np.array([3.0, 0.0, 2.0])
    assert FROM_ABOVE.flat(front_right) == pytest.approx([3.0, -2.0])
    assert FROM_SIDE.flat(np.array([3.0, 5.0, 2.0])) == pytest.approx([3.0, 5.0])
    assert np.cross(FROM_ABOVE.right, FROM_ABOVE.up) == pytest.approx(FROM_ABOVE.out)


def test_wheels_are_drawn_where_they_stand_on_the_ground_and_not_on_a_stand():
    def wheels(case):
        return [e for e in drawn(case)[0].iter("path") if e.get("class") == "wheel"]

    assert len(wheels(case_of("seated"))) == 4
    assert wheels(case_of("side_push")) == []
    assert len(wheels(on_wheels(case_of("side_push"), BIKE))) == 4


def test_a_spring_goes_by_its_name_and_a_reference_is_hollow():
    _, words = drawn(case_of("side_push"))
    assert "steerer upper, steering lock, a spring" in words
    _, words = drawn(on_wheels(case_of("side_push"), BIKE))
    assert "rear contact, rear wheel, a spring" in words
    root, words = drawn(case_of("frame_torsion"))
    assert len([e for e in root.iter("path") if e.get("class") == "reference"]) == 2
    assert "carries nothing" in words


def test_small_inertia_loads_are_left_out_and_counted():
    root, words = drawn(case_of("head_push_as_ridden"))
    left = int(re.search(r"(\d+) smaller loads are not drawn", words).group(1))
    nodal = case_of("head_push_as_ridden").nodal.values()
    every = sum(any(six[:3]) + any(six[3:]) for six in nodal)
    shown = [e for e in root.iter() if e.get("class") in ("force head", "moment head")]
    assert every == left + len(shown) / 2


def test_the_sheet_names_what_the_page_names():
    """The matplotlib sheet: every support numbered, every measure lettered, in both views and in the words beside."""
    figure = rig_picture(MODEL, case_of("climb"), "T")
    in_views = [t.get_text() for axes in figure.axes for t in axes.texts]
    beside = " ".join(t.get_text().replace("\n", " ") for t in figure.texts)
    assert [in_views.count(number) for number in "123"] == [2, 2, 2]
    assert [in_views.count(letter) for letter in "ABC"] == [4, 4, 2]
    for gauge in gauges(MODEL, case_of("climb")):
        assert gauge.words in beside
    assert "350 N" in in_views


def test_gauges_of_a_movement_against_another_place_are_at_both():
    (twist, *_) = gauges(MODEL, case_of("climb"))
    assert twist.turning
    assert set(twist.places) == {MODEL.nodes["bottom_bracket"], MODEL.nodes["rear_axle"]}
    (sideways, _) = gauges(MODEL, case_of("head_push_as_ridden"))
    assert sideways.places == (MODEL.nodes["head_tube_top"],)
    assert not any("swallowed" in gauge.words for gauge in gauges(MODEL, case_of("seated")))
