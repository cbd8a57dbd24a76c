"""Standover to the upper side of the top tube: met with the edge of the tube drawn in vectors, stated and sought."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from droptrail.converters.files.fitsheet.bicycle import bicycle_from_sheet, read_fit_sheet
from droptrail.model.frame.layout import side_paths
from droptrail.model.geometry.closure import solve_dimensions
from droptrail.model.geometry.dimensions import FrameDimensions
from droptrail.model.geometry.knobs import moved
from droptrail.model.geometry.statements import FIELDS, quantities
from droptrail.model.tubes.bends import read_bend
from droptrail.model.tubes.tube import Tube
from helpers_bicycle import STEEL, tourer
from helpers_side_view import frames
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import CubicSpline

SAMPLE = Path(__file__).parents[2] / "sample_drawings" / "tourer_700c.csv"
BIKE = tourer()


def edge_above_the_middle(d: FrameDimensions, half: float) -> float:
    """Where a plumb line through the middle of the centre-line meets the tube's upper edge, above the ground."""
    seat = np.array(d.seat_tube_top_tube_node)
    head = np.array(d.top_tube_head_node)
    along = (head - seat) / np.linalg.norm(head - seat)
    square = np.array([-along[1], along[0]])
    edge = seat + half * square * np.sign(square[1])
    # the edge runs beside the centre-line; how far along it the plumb line stands
    share = ((seat + head)[0] / 2 - edge[0]) / along[0]
    return (edge + share * along)[1] - d.ground_y


@given(frames, st.floats(5.0, 40.0))
@settings(max_examples=60)
def test_it_is_where_the_upper_edge_is(d, half):
    if d.seat_tube_top_tube_node is None or d.top_tube_head_node is None:
        return
    with_tube = replace(d, given=d.given._replace(top_tube_half=half))
    assert with_tube.derived()["standover"] == pytest.approx(edge_above_the_middle(d, half))
    assert with_tube == d  # the tube is no dimension of the centre-lines


@pytest.mark.parametrize("bend", ["sagitta -60", "sagitta 45", "radius 1500", "radius -900"])
def test_of_a_top_tube_bent_to_an_arc_it_is_the_upper_side_of_the_arc(bend):
    """The centre-line as it is laid out, thickened square to itself, and a plumb line through the chord's middle."""
    role = replace(BIKE.plan.role("top_tube"), bend=read_bend(bend))
    bicycle = replace(BIKE, plan=BIKE.plan.with_roles(role))
    path = np.array(side_paths(bicycle)["top_tube"])[:, :2]
    half = bicycle.dimensions.given.top_tube_half
    assert half > 10
    # pieces of 2.5 degrees, so a spline through their corners lies on the arc to a hundredth
    run = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    line = CubicSpline(run, path)
    along = np.linspace(0, run[-1], 4001)
    tangent = line(along, 1) / np.linalg.norm(line(along, 1), axis=1)[:, None]
    upper = line(along) + half * np.column_stack([-tangent[:, 1], tangent[:, 0]])
    middle = (path[0, 0] + path[-1, 0]) / 2
    height = np.interp(middle, upper[:, 0], upper[:, 1]) - bicycle.dimensions.ground_y
    assert bicycle.dimensions.derived()["standover"] == pytest.approx(height, abs=0.03)
    straight = BIKE.dimensions.derived()["standover"]
    assert abs(height - straight) > 25


def test_a_stated_standover_is_met_on_the_arc_too():
    role = replace(BIKE.plan.role("top_tube"), bend=read_bend("sagitta -60"))
    bent = replace(BIKE, plan=BIKE.plan.with_roles(role)).dimensions
    found = moved(bent, {"standover": 700.0}).dimensions
    assert found.derived()["standover"] == pytest.approx(700.0)
    assert found.top_tube_on_seat_tube != pytest.approx(bent.top_tube_on_seat_tube)


@pytest.mark.parametrize(
    ("tube", "height"),
    [
        (Tube(STEEL, 28.6, 28.6, (0.8,)), 28.6),
        (Tube(STEEL, 34.0, 28.0, (0.8,)), 31.0),  # tapered: midway
        (Tube(STEEL, 25.0, 25.0, (0.8,), oval_width=40.0), 25.0),  # a flat oval: its height
    ],
)
def test_of_a_bicycle_it_is_to_its_own_tube(tube, height):
    bicycle = replace(BIKE, tubes={**BIKE.tubes, "top_tube": tube})
    assert quantities(bicycle.dimensions)["standover"] == pytest.approx(
        edge_above_the_middle(BIKE.dimensions, height / 2)
    )


def test_a_stated_standover_is_to_the_upper_side_and_solves_for_the_frame():
    truth = BIKE.dimensions
    held = quantities(truth)
    stated = {name: held[name] for name in FIELDS if name != "top_tube_on_seat_tube"}
    stated["standover"] = held["standover"]
    found = solve_dimensions(stated, given=truth.given)
    assert found.dimensions.top_tube_on_seat_tube == pytest.approx(truth.top_tube_on_seat_tube)
    # said twice it closes; said to the centre-line it does not
    twice = {**stated, "top_tube_on_seat_tube": truth.top_tube_on_seat_tube}
    assert solve_dimensions(twice, given=truth.given).ok
    assert not solve_dimensions(twice).ok


def test_a_wanted_standover_is_had_at_the_upper_side():
    frame = moved(BIKE.dimensions, {"standover": 790.0}).dimensions
    assert edge_above_the_middle(frame, BIKE.dimensions.given.top_tube_half) == pytest.approx(790.0)


def test_a_sheet_is_held_against_the_upper_side_of_its_own_tube(tmp_path):
    plain = bicycle_from_sheet(read_fit_sheet(SAMPLE)).bicycle.dimensions
    over = edge_above_the_middle(plain, 28.6 / 2)
    text = SAMPLE.read_text(encoding="utf-8").replace(
        "reach,", f"standover,{over:.1f},mm,\nreach,", 1
    )
    path = tmp_path / "sheet.csv"
    path.write_text(text, encoding="utf-8")
    row = next(
        row for row in bicycle_from_sheet(read_fit_sheet(path)).closure if row.item == "standover"
    )
    assert abs(row.difference) <= 0.05
