"""Eleven drawings from real programs, each with the list of what was drawn: every element must come out in place.

The list (drawn.json) was written by whoever made the drawings, before any program exported them: it is independent of
this reader. Coordinates in it have six decimals; each file states its own tolerance, set by what its program keeps.
"""

import json
from math import cos, hypot, radians, sin
from pathlib import Path

import numpy as np
import pytest
from droptrail.converters.drawings.dxf.read_dxf import read_dxf
from droptrail.converters.drawings.sideview.units import decide_scale
from shapely import LineString, MultiLineString, Point

FOLDER = Path(__file__).parent.parent / "data" / "dxf_good"
TRUTH = json.loads((FOLDER / "drawn.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def drawings():
    return {name: read_dxf(FOLDER / name) for name in TRUTH}


def ink(drawing):
    """Everything drawn, as one geometry."""
    return MultiLineString(
        [LineString(curve.points) for curve in drawing.curves if not curve.construction]
    )


def points_on(element):
    """Points of the plane that must carry ink according to the list."""
    if element["kind"] == "line":
        p, q = np.array(element["p"]), np.array(element["q"])
        return [p, (p + q) / 2, q]
    if element["kind"] == "circle":
        return [on_circle(element["c"], element["r"], a) for a in range(0, 360, 30)]
    if element["kind"] == "arc":
        return [on_circle(element["c"], element["r"], element[a]) for a in ("a0", "a1")]
    if element["kind"] == "pline":
        return [np.array(p[:2]) for p in element["pts"]]
    if element["kind"] == "bez":
        return [np.array(element["pts"][0]), np.array(element["pts"][-1])]
    return []


def on_circle(centre, radius, degrees):
    return np.array(
        [centre[0] + radius * cos(radians(degrees)), centre[1] + radius * sin(radians(degrees))]
    )


@pytest.mark.parametrize("name", TRUTH)
def test_every_drawn_element_is_there(drawings, name):
    truth, lines = TRUTH[name], ink(drawings[name])
    tolerance = (truth["tolerance_mm"] + 4e-5 * max(truth["wheel_radii"])) / truth[
        "mm_per_unit"
    ]  # + chord error
    missing = [
        (element["element"], tuple(point), Point(point).distance(lines))
        for element in truth["drawn"]
        for point in points_on(element)
        if Point(point).distance(lines) > tolerance
    ]
    assert not missing
    assert sum(bool(points_on(element)) for element in truth["drawn"]) >= 9


STRAIGHT = [
    n
    for n, t in TRUTH.items()
    if {e["kind"] for e in t["drawn"]} <= {"line", "circle", "text", "dim"}
]


@pytest.mark.parametrize("name", STRAIGHT)  # of curved polylines the list gives only the poles
def test_nothing_is_drawn_that_is_not_on_the_list(drawings, name):
    truth = TRUTH[name]
    listed = MultiLineString([LineString(outline(e)) for e in truth["drawn"] if points_on(e)])
    tolerance = (truth["tolerance_mm"] + 4e-5 * max(truth["wheel_radii"])) / truth["mm_per_unit"]
    stray = [
        c.entity
        for c in drawings[name].curves
        for p in c.points
        if Point(p).distance(listed) > tolerance
    ]
    assert not stray


def outline(element):
    if element["kind"] == "circle":
        return [on_circle(element["c"], element["r"], a) for a in np.linspace(0, 360, 1441)]
    return points_on(element)


@pytest.mark.parametrize("name", TRUTH)
def test_unit_and_scale(drawings, name):
    truth = TRUTH[name]
    mm = truth["mm_per_unit"]
    wheels = [2 * radius / mm for radius in truth["wheel_radii"]]
    assert decide_scale(drawings[name], wheels, truth["chainstay"] / mm).mm_per_unit == mm


@pytest.mark.parametrize("name", TRUTH)
def test_header_unit_is_what_the_header_says(drawings, name):
    assert (
        drawings[name].header_unit
        == {4: 1.0, 1: 25.4, 0: None, None: None}[TRUTH[name]["insunits"]]
    )


@pytest.mark.parametrize(
    "name", [name for name in TRUTH if not name.startswith("13")]
)  # pstoedit loses the layer
def test_layers(drawings, name):
    layers = {curve.layer for curve in drawings[name].curves}
    assert {e["layer"] for e in TRUTH[name]["drawn"] if points_on(e)} <= layers


@pytest.mark.parametrize(
    "name", [name for name in TRUTH if name[:2] not in ("03", "13", "23")]
)  # these have none
def test_circles_keep_centre_and_radius(drawings, name):
    slack = {"01": 5e-4, "05": 1e-3}.get(
        name[:2], 2e-6
    )  # six significant digits; three decimals typed by hand
    circles = [c for c in drawings[name].curves if c.kind == "circle"]
    for element in (e for e in TRUTH[name]["drawn"] if e["kind"] == "circle"):
        apart = [
            hypot(c.centre[0] - element["c"][0], c.centre[1] - element["c"][1]) for c in circles
        ]
        assert (
            min(d + abs(c.radius - element["r"]) for d, c in zip(apart, circles, strict=True))
            < slack
        )


def test_notes_and_dimensions_of_the_shop_drawing(drawings):
    drawing = next(d for n, d in drawings.items() if n.startswith("16"))
    truth = TRUTH["16_shop_drawing_full_gravel.dxf"]["drawn"]
    words = {note.text for note in drawing.notes}
    assert {e["text"] for e in truth if e["kind"] == "text"} <= words
    assert any("Winkel in Grad" in text for text in words)  # the MTEXT, without its formatting
    measured = sorted(round(d.measured, 6) for d in drawing.dimensions if d.kind != "angular")
    # wheelbase, chainstay, reach, stack, drop, head tube, front centre, tyre: the truth file's own numbers
    assert measured == sorted(
        [1043.079629, 434.0, 388.0, 584.200166, 77.0, 150.0, 620.759008, 702.0]
    )
    angles = sorted(round(d.measured, 6) for d in drawing.dimensions if d.kind == "angular")
    assert angles == [70.75, 73.25]


def test_scale_drawing_prints_ten_times_what_is_drawn(drawings):
    drawing = next(d for n, d in drawings.items() if n.startswith("09"))
    assert [(d.text, d.factor) for d in drawing.dimensions] == [("1052", 10.0), ("", 10.0)]
    assert drawing.dimensions[1].measured == pytest.approx(43.5, abs=1e-9)


def test_construction_lines_are_marked_and_cut_to_the_drawing(drawings):
    drawing = next(d for n, d in drawings.items() if n.startswith("16"))
    endless = [c for c in drawing.curves if c.construction]
    assert [c.entity for c in endless] == ["XLINE"] * 4 + ["RAY"]
    corners = np.vstack([c.points for c in drawing.curves if not c.construction])
    size = np.hypot(*np.ptp(corners, axis=0))
    for curve in endless:
        assert (np.abs(curve.points - corners.mean(axis=0)) < size).all()
