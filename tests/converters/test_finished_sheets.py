"""Frames on paper by the habits of CAD programs (helpers_finish): filled areas, part wheels, what hides, grids."""

from collections.abc import Iterator
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from droptrail.converters.drawings.dxf.read_dxf import read_dxf
from droptrail.converters.drawings.sideview.read import read_side_view
from droptrail.converters.drawings.sideview.side_view import SideView
from droptrail.model.errors import InputError
from helpers_finish import HIDDEN, SIXTEENTH, SOLIDS, Finish, plain_sheet, random_finish, write
from helpers_habits import DrawnFrame, random_drawn_frame
from test_workshop_sheets import off, true_items, warnings

COUNT = 100


def finished(number: int, how: Finish | None, folder: Path) -> tuple[DrawnFrame, Finish, Path]:
    rng = np.random.default_rng((5, number))
    frame = random_drawn_frame(rng)
    how = how or random_finish(rng)
    path = folder / "sheet.dxf"
    return frame, how, write(plain_sheet(frame, how, rng), frame, how, path, rng)


def codes(view: SideView) -> set[str]:
    return {f.code for f in view.findings}


@pytest.mark.parametrize("tubes", [*SOLIDS, "mline", "wide"])
def test_tubes_that_are_areas_are_read_by_their_outlines(tubes, tmp_path):
    for number in range(3):
        frame, _, path = finished(number, Finish(tubes=tubes), tmp_path)
        view = read_side_view(path)
        assert off(view, true_items(frame)) == []
        assert ("dxf-filled" in codes(view)) == (tubes in SOLIDS)


@pytest.mark.parametrize("wheels", ["donut", "ring", "half", "quarter"])
def test_wheels_however_drawn(wheels, tmp_path):
    for number in range(3):
        frame, _, path = finished(number, Finish(wheels=wheels), tmp_path)
        view = read_side_view(path)
        assert off(view, true_items(frame)) == []
        assert ("side-wheel-part" in warnings(view)) == (wheels == "quarter")


@pytest.mark.parametrize("hides", HIDDEN)
def test_what_is_hidden_is_left_out_and_told(hides, tmp_path):
    """Behind a cover, on a frozen layer, off the plot: larger wheels and wider tubes over the frame's own."""
    code = {"wipeout": "dxf-clipped", "frozen": "dxf-hidden"}.get(hides, "dxf-not-plotted")
    for number in range(3):
        frame, _, path = finished(number, Finish(hides=hides), tmp_path)
        view = read_side_view(path)
        assert off(view, true_items(frame)) == []
        assert code in codes(view)


def misled(path: Path, frame: DrawnFrame) -> bool:
    try:
        return off(read_side_view(path), true_items(frame)) != []
    except InputError:
        return True


def test_what_hides_nothing_would_spoil_the_reading(tmp_path):
    """The lines that the tests above hide do mislead where nothing hides them."""
    frame, _, path = finished(0, Finish(hides="frozen"), tmp_path)
    doc = ezdxf.readfile(path)
    doc.layers.get("OTHER").thaw()
    doc.saveas(path)
    assert misled(path, frame)


def test_a_frame_on_a_layer_that_is_not_plotted_is_read_all_the_same(tmp_path):
    frame, _, path = finished(0, Finish(), tmp_path)
    doc = ezdxf.readfile(path)
    doc.layers.get("TUBES").dxf.plot = 0
    doc.saveas(path)
    assert off(read_side_view(path), true_items(frame)) == []


@pytest.mark.parametrize(
    ("how", "code"),
    [
        (Finish(stretched=0.002), "side-stretched"),
        (Finish(stretched=0.01), "side-stretched"),
        (Finish(stretched=-0.005), "side-stretched"),
        (Finish(step=SIXTEENTH), "side-coarse"),
        (Finish(step=SIXTEENTH, inches=True), "side-coarse"),
        (Finish(step=1.0), "side-coarse"),
        (Finish(wobble=0.2), ""),
        (Finish(wobble=1.0), "side-wheel-rough"),
        (Finish(wobble=2.0), "side-wheel-rough"),
    ],
)
def test_the_stated_uncertainty_holds_the_truth(how, code, tmp_path):
    for number in range(8):
        frame, _, path = finished(number, how, tmp_path)
        view = read_side_view(path)
        d = frame.dimensions
        assert abs(view.dimensions.trail - d.trail) <= view.precision.trail
        assert abs(view.dimensions.bb_drop - d.bb_drop) <= view.precision.drop
        assert not code or code in warnings(view)


def test_a_clean_drawing_is_neither_stretched_nor_coarse(tmp_path):
    for number in range(8):
        _, _, path = finished(number, Finish(), tmp_path)
        assert not {"side-stretched", "side-coarse"} & codes(read_side_view(path))


def test_the_stretch_is_measured(tmp_path):
    """The share and the direction that the sheet was stretched by stand in the message."""
    _, _, path = finished(0, Finish(stretched=0.005), tmp_path)
    (said,) = [f.message for f in read_side_view(path).findings if f.code == "side-stretched"]
    assert "stretched by 0.50% at 90 degrees" in said


def test_a_refusal_names_what_was_left_out(tmp_path):
    for name, word in _refused(tmp_path):
        with pytest.raises(InputError, match=word):
            read_side_view(name)


def _refused(folder: Path) -> Iterator[tuple[Path, str]]:
    """The wheels alone are shown; the rest is hidden, missing or of a kind that cannot be read."""
    _, _, path = finished(0, Finish(), folder)
    doc = ezdxf.readfile(path)
    doc.layers.get("TUBES").off()
    doc.saveas(folder / "off.dxf")
    yield folder / "off.dxf", "hidden .*TUBES"
    doc = ezdxf.readfile(path)
    space = doc.modelspace()
    for entity in space.query('*[layer=="TUBES"]'):
        space.delete_entity(entity)
    space.add_blockref("GONE", (0, 0))
    space.add_polymesh((3, 3))
    doc.saveas(folder / "gone.dxf")
    yield folder / "gone.dxf", '"GONE" is inserted'
    yield folder / "gone.dxf", "1 POLYLINE cannot be read"


@pytest.mark.slow
def test_everything_at_once_at_random(tmp_path):
    right = 0
    for number in range(COUNT):
        frame, how, path = finished(number, None, tmp_path)
        try:
            view = read_side_view(path)
        except InputError:
            continue
        wrong = off(view, true_items(frame))
        assert not wrong or warnings(view), f"{number} {how}: {wrong}"
        right += not wrong
    assert right >= 0.95 * COUNT


@pytest.mark.parametrize("kind", ["HATCH", "SOLID", "3DFACE", "WIPEOUT"])
def test_a_damaged_area_is_left_out_or_named(kind, tmp_path):
    """Numbers of an area turned to words, infinity or nothing at all: a reading or one sentence, no traceback."""
    frame, _, path = finished(0, Finish(tubes="hatch" if kind == "HATCH" else "solid"), tmp_path)
    text = path.read_text(encoding="utf-8")
    codes_of_an_area = (10, 20, 11, 21, 91, 92, 93, 72, 14, 24)
    body = "8\nTUBES\n" + "".join(f"{code}\n{{0}}\n" for code in codes_of_an_area)
    for number in ("1e308", "-1", "0"):
        damaged = f"  0\n{kind}\n" + body.format(number)
        start = text.index("ENTITIES\n") + len("ENTITIES\n")
        (tmp_path / "bad.dxf").write_text(text[:start] + damaged + text[start:], encoding="utf-8")
        assert not misled_unseen(tmp_path / "bad.dxf", frame)


def misled_unseen(path: Path, frame: DrawnFrame) -> bool:
    """Whether a file is read, and wrong; a refusal is none."""
    try:
        return off(read_side_view(path), true_items(frame)) != []
    except InputError:
        return False


def test_an_area_hides_what_was_drawn_before_it_whatever_other_areas_do(tmp_path):
    """DXF reference: a WIPEOUT masks what lies beneath it. A second area must not move the first one's place."""
    doc = ezdxf.new("R2010")
    msp = doc.modelspace()
    msp.add_line((100, 100), (110, 100), dxfattribs={"layer": "UNDER_SECOND"})
    msp.add_line((0, 50), (10, 50), dxfattribs={"layer": "BESIDE"})
    msp.add_line((5, -15), (5, 15), dxfattribs={"layer": "HALF_UNDER"})
    msp.add_wipeout([(-5, -5), (20, -5), (20, 20), (-5, 20)])
    msp.add_line((0, 0), (10, 10), dxfattribs={"layer": "ON_TOP"})
    msp.add_wipeout([(90, 90), (120, 90), (120, 120), (90, 120)])
    doc.saveas(tmp_path / "areas.dxf")
    drawn = {curve.layer: curve.points for curve in read_dxf(tmp_path / "areas.dxf").curves}
    assert set(drawn) == {"BESIDE", "HALF_UNDER", "ON_TOP"}
    assert drawn["ON_TOP"] == pytest.approx(np.array([(0, 0), (10, 10)]), abs=1e-6)
    assert np.ptp(drawn["HALF_UNDER"][:, 1]) == pytest.approx(10.0, abs=0.1)
