"""Sheet -> drawing -> the tool's own reader -> the same bicycle: all sixteen dimensions to 1e-6 mm and degree."""

from dataclasses import replace

import numpy as np
import pytest
from droptrail.converters.drawings.sideview.read import read_side_view
from droptrail.converters.files.drafting.dxf_paper import DxfPaper
from droptrail.converters.files.drafting.frame import draw_frame, side_view
from droptrail.converters.files.fitsheet.bicycle import bicycle_from_sheet, read_fit_sheet
from droptrail.converters.files.fitsheet.write_sheet import write_fit_sheet
from droptrail.model.geometry.dimensions import FrameDimensions
from droptrail.model.geometry.statements import FIELDS
from helpers_drawn import BICYCLE, TUBES, random_bicycle


def assert_same(found: FrameDimensions, expected: FrameDimensions) -> None:
    for name in FIELDS:
        value = getattr(found, name)
        assert value is not None, name
        assert value == pytest.approx(getattr(expected, name), abs=1e-6, rel=0), name


def test_200_random_frames_drawn_and_recognised(tmp_path):
    """Centre-lines and wheels only, for speed."""
    rng = np.random.default_rng(77)
    for k in range(200):
        bicycle, paper, path = (
            replace(random_bicycle(rng), tubes={}),
            DxfPaper(),
            tmp_path / f"{k}.dxf",
        )
        side_view(paper, bicycle, (None, None))
        paper.save(path)
        assert_same(read_side_view(path).dimensions, bicycle.dimensions)


def test_20_random_frames_with_outlines_dimensions_and_other_views(tmp_path):
    rng = np.random.default_rng(78)
    for k in range(20):
        bicycle, path = random_bicycle(rng), tmp_path / f"{k}.dxf"
        draw_frame(
            bicycle,
            path,
            version=("R12", "R2000", "R2010", "R2018")[k % 4],
            bead_seats=(None, None),
        )
        assert_same(read_side_view(path).dimensions, bicycle.dimensions)


def test_sheet_to_drawing_to_geometry(tmp_path):
    write_fit_sheet(BICYCLE, tmp_path / "a.csv")
    bicycle = bicycle_from_sheet(read_fit_sheet(tmp_path / "a.csv")).bicycle
    draw_frame(bicycle, tmp_path / "a.dxf", bead_seats=(622.0, 622.0))
    view = read_side_view(tmp_path / "a.dxf")
    assert_same(view.dimensions, BICYCLE.dimensions)
    for name in ("head_tube", "top_tube", "down_tube", "seat_tube"):
        assert view.diameters[name] == pytest.approx(TUBES[name].od_start, abs=1e-6), name
    assert view.rim_radii == pytest.approx({"front": 311.0, "rear": 311.0})
    assert view.transform.mm_per_unit == 1.0
    assert not [f for f in view.findings if f.severity != "info"]


def test_comparison_notices_a_micrometre(tmp_path):
    draw_frame(BICYCLE, tmp_path / "a.dxf")
    moved = replace(
        BICYCLE.dimensions,
        seatstay_below_top_tube=BICYCLE.dimensions.seatstay_below_top_tube + 1e-3,
    )
    with pytest.raises(AssertionError, match="seatstay_below_top_tube"):
        assert_same(read_side_view(tmp_path / "a.dxf").dimensions, moved)
