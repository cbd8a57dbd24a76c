"""Drawings laid out on paper: what a window shows, at which scale, and that the model underneath is untouched."""

from itertools import combinations

import ezdxf
import pytest
from droptrail.converters.drawings.sideview.read import read_side_view
from droptrail.converters.files.drafting.frame import draw_frame
from droptrail.converters.files.drafting.plot import LEGIBLE, SCALES, SHEETS
from droptrail.model.errors import InputError
from ezdxf import bbox
from helpers_drawn import BICYCLE


def drawn(tmp_path, size, **how):
    path = tmp_path / "plot.dxf"
    found = draw_frame(BICYCLE, path, plot=size, force=True, **how)
    return ezdxf.readfile(path), found


def sheets(doc):
    return [layout for layout in doc.layouts if layout.name != "Model"]


def windows(layout):
    """The windows a builder sees; the first viewport of a layout is the paper itself."""
    return [v for v in layout.query("VIEWPORT") if v.dxf.id != 1]


@pytest.mark.parametrize("size", SHEETS)
def test_every_view_is_shown_once_at_a_scale_of_the_standard(tmp_path, size):
    doc, found = drawn(tmp_path, size)
    every = [window for layout in sheets(doc) for window in windows(layout)]
    assert len(every) == 4  # side view, list, fork, stays
    scales = {round(w.dxf.view_height / w.dxf.height, 6) for w in every}
    (scale,) = scales
    assert scale in SCALES
    small = 14.0 / scale < LEGIBLE
    assert [f.code for f in found if f.severity == "warning"] == ["plot-small-letters"] * small
    for layout in sheets(doc):
        boxes = []
        for w in windows(layout):
            x, y = w.dxf.center.x, w.dxf.center.y
            boxes.append(
                (
                    x - w.dxf.width / 2,
                    y - w.dxf.height / 2,
                    x + w.dxf.width / 2,
                    y + w.dxf.height / 2,
                )
            )
        for left, low, right, high in boxes:
            assert left >= 6
            assert low >= 14
            assert right <= SHEETS[size][0] - 6
            assert high <= SHEETS[size][1] - 6
        for a, b in combinations(boxes, 2):
            assert a[2] < b[0] or b[2] < a[0] or a[3] < b[1] or b[3] < a[1]


def test_the_windows_together_show_all_that_is_drawn(tmp_path):
    doc, _ = drawn(tmp_path, "A3")
    seen = []
    for layout in sheets(doc):
        for w in windows(layout):
            x, y = w.dxf.view_center_point.x, w.dxf.view_center_point.y
            high = w.dxf.view_height / 2
            wide = high * w.dxf.width / w.dxf.height
            seen.append((x - wide, y - high, x + wide, y + high))
    for entity in doc.modelspace():
        extent = bbox.extents([entity], fast=True)
        low, high = extent.extmin, extent.extmax
        assert any(
            a <= low.x + 1e-3 and b <= low.y + 1e-3 and c >= high.x - 1e-3 and d >= high.y - 1e-3
            for a, b, c, d in seen
        ), entity


@pytest.mark.parametrize(("size", "scale"), [("A3", 5), ("A2", 4), ("A1", 2.5)])
def test_a_larger_sheet_is_drawn_larger_and_its_letters_are_legible(tmp_path, size, scale):
    """Letters of 2.5 mm and more (ISO 3098-1, from memory); the next larger scale would not fit the side view."""
    doc, found = drawn(tmp_path, size)
    assert not [f for f in found if f.code == "plot-small-letters"]
    assert f"   1:{scale:g} on {size}, mm" in "".join(
        t.dxf.text for t in sheets(doc)[0].query("TEXT")
    )
    assert "scale 1:1" not in "".join(t.dxf.text for t in doc.modelspace().query("TEXT"))
    larger = SCALES[SCALES.index(scale) - 1]
    every = [w for layout in sheets(doc) for w in windows(layout)]
    widest = max(w.dxf.width * scale / larger for w in every)
    highest = max(w.dxf.height * scale / larger for w in every)
    assert widest > SHEETS[size][0] - 14 or highest > SHEETS[size][1] - 23
    assert len(sheets(doc)) <= 2


def test_the_drawing_reads_back_as_before(tmp_path):
    draw_frame(BICYCLE, tmp_path / "plain.dxf")
    draw_frame(BICYCLE, tmp_path / "plot.dxf", plot="A3")
    assert (
        read_side_view(tmp_path / "plot.dxf").dimensions
        == read_side_view(tmp_path / "plain.dxf").dimensions
    )


def test_r12_has_no_sheets(tmp_path, capsys):
    with pytest.raises(InputError, match="R12"):
        drawn(tmp_path, "A3", version="R12")
    assert not list(tmp_path.iterdir())
