"""A wheel whose circle is wrong moves trail and drop by centimetres: it must be told, however large the mistake."""

import re

import pytest
from droptrail.converters.files.drafting.frame import draw_frame
from droptrail.converters.inputs import read_input
from helpers_drawn import BICYCLE

TRUE = BICYCLE.dimensions


@pytest.fixture(scope="module")
def drawing(tmp_path_factory):
    path = tmp_path_factory.mktemp("drawn") / "frame.dxf"
    draw_frame(BICYCLE, path, ("side",))
    return path.read_text(encoding="utf-8")


def resized(text: str, wheels: tuple[str, ...], by: float) -> str:
    """The drawing with the circles on the layers of these wheels larger by so many mm."""
    for layer in wheels:
        pattern = re.compile(rf"(\nCIRCLE\n(?:.*\n)*?  8\n{layer}\n(?:.*\n)*? 40\n)([\d.]+)(\n)")
        text, count = pattern.subn(lambda m: f"{m[1]}{float(m[2]) + by}{m[3]}", text)
        assert count
    return text


@pytest.mark.parametrize("by", [-60.0, -30.0, -20.0, -5.0, 5.0, 20.0, 30.0])
@pytest.mark.parametrize(
    "wheels", [("WHEEL_FRONT",), ("WHEEL_REAR",), ("WHEEL_FRONT", "WHEEL_REAR")]
)
def test_a_wrong_wheel_is_told(tmp_path, drawing, wheels, by):
    path = tmp_path / "wrong.dxf"
    path.write_text(resized(drawing, wheels, by), encoding="utf-8")
    view = read_input(path).view
    wrong = max(
        abs(view.dimensions.trail - TRUE.trail), abs(view.dimensions.bb_drop - TRUE.bb_drop)
    )
    assert wrong > 1.0
    assert {"side-tilted", "side-ground-off", "side-rim-only"} & {
        f.code for f in view.findings if f.severity == "warning"
    }


def test_the_drawing_as_it_is_is_right_and_without_warning(tmp_path, drawing):
    path = tmp_path / "right.dxf"
    path.write_text(drawing, encoding="utf-8")
    view = read_input(path).view
    assert view.dimensions.trail == pytest.approx(TRUE.trail, abs=1e-6)
    assert [f.message for f in view.findings if f.severity == "warning"] == []


def test_one_mistyped_dimension_does_not_rescale_the_drawing(tmp_path, drawing):
    assert "wheelbase <>" in drawing
    path = tmp_path / "typed.dxf"
    path.write_text(drawing.replace("wheelbase <>", "wheelbase 70"), encoding="utf-8")
    view = read_input(path).view
    assert view.dimensions.trail == pytest.approx(TRUE.trail, abs=1e-6)
    assert "dimension-text-differs" in {f.code for f in view.findings if f.severity == "warning"}
