"""Pictures: what is projected and drawn, the same bytes every time, stated magnification, names of any kind."""

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from droptrail.converters.analysis import analyse
from droptrail.converters.files.drafting.projection import (
    LARGEST_MOTION,
    Camera,
    magnification,
    readable,
)
from droptrail.converters.files.fitsheet.starter import plan_starter
from droptrail.converters.files.model_file.write_model import save_model
from droptrail.converters.inputs import Reading, read_input
from droptrail.converters.showing.picture.campbell import draw_campbell
from droptrail.converters.showing.picture.compare import ComparePlot, PlotPoint, save_plot
from droptrail.converters.showing.picture.energy import by_tube
from droptrail.converters.showing.picture.marks import Labels
from droptrail.converters.showing.picture.overlay import write_overlay
from droptrail.converters.showing.picture.paper import PicturePaper
from droptrail.converters.showing.picture.scene import ISOMETRIC, draw_tubes
from droptrail.converters.showing.picture.side import side_picture
from droptrail.converters.showing.picture.style import ENDINGS, house_style, new_figure
from droptrail.converters.showing.picture.views import deflected_picture
from droptrail.converters.showing.picture.write_picture import VIEWS, PictureOptions, write_pictures
from droptrail.converters.showing.report.paper import SvgPaper
from droptrail.converters.showing.report.scene import case_json
from droptrail.converters.showing.report.stills import still_words
from droptrail.model.errors import InputError
from droptrail.model.mechanics.energy import energy_shares
from droptrail.model.mechanics.frame_model import Element, FrameModel
from droptrail.model.mechanics.solve import solve
from droptrail.model.tubes.known_plans import PLANS
from droptrail.model.tubes.sections import oval_tube, round_tube
from droptrail.model.vibration.mode_words import ModeWords
from helpers_frames import space_frame_a, tube_material
from hypothesis import given, settings
from hypothesis import strategies as st

SAMPLES = Path(__file__).parents[2] / "sample_drawings"
SHEET = SAMPLES / "tourer_700c.csv"


@pytest.fixture(scope="module")
def tourer():
    return read_input(SAMPLES / "tourer_700c.dxf", SHEET)


@pytest.fixture(scope="module")
def sheet():
    return read_input(SHEET)


def words(figure) -> str:
    """Every text of a figure, its axes included."""
    from matplotlib.text import Text

    return "\n".join(text.get_text() for text in figure.findobj(Text))


# --- projection -------------------------------------------------------------------------------------------------
def test_isometric_shortens_all_three_axes_alike():
    """Isometric projection: equal angles of 120 degrees, each axis sqrt(2/3) of its length (ISO 5456-3)."""
    axes = ISOMETRIC.flat(np.eye(3))
    np.testing.assert_allclose(np.linalg.norm(axes, axis=1), np.sqrt(2 / 3))
    np.testing.assert_allclose(axes @ axes.T, np.eye(3) - 1 / 3, atol=1e-12)
    assert axes[0, 0] > 0 > axes[2, 0], "forward goes to the right, the drive side is nearer"
    assert axes[1, 0] == pytest.approx(0)
    assert axes[1, 1] > 0


def test_seen_from_the_drive_side_the_front_is_right():
    np.testing.assert_allclose(
        Camera.at(0, 0, 1).flat(np.array([[3.0, 4.0, 5.0]])), [[3.0, 4.0]], atol=1e-12
    )


@given(st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda v: abs(v[0]) + abs(v[2]) > 0.1))
@settings(deadline=None, max_examples=40)
def test_a_camera_is_a_right_handed_set_of_unit_vectors(eye):
    camera = Camera.at(*eye)
    frame = np.array([camera.right, camera.up, camera.out])
    np.testing.assert_allclose(frame @ frame.T, np.eye(3), atol=1e-9)
    assert np.linalg.det(frame) == pytest.approx(1)


def silhouette(section, eye) -> float:
    """Width across a tube along x as drawn, data units."""
    model = FrameModel(
        {"a": (0.0, 0.0, 0.0), "b": (100.0, 0.0, 0.0)},
        (Element("e", "a", "b", section, tube_material(2e5, 0.3), (0.0, 1.0, 0.0)),),
    )
    axes = new_figure("", "").add_axes((0, 0, 1, 1))
    draw_tubes(axes, Camera.at(*eye), model)
    (drawn,) = axes.collections
    return float(np.ptp(np.vstack([path.vertices for path in drawn.get_paths()])[:, 1]))


def test_tubes_are_as_thick_as_they_are():
    assert silhouette(round_tube(30.0, 1.0, 0.3), (0, 0, 1)) == pytest.approx(30.0)
    assert silhouette(round_tube(30.0, 1.0, 0.3), (0, 1, 1)) == pytest.approx(30.0)
    oval = oval_tube(20.0, 40.0, 1.0, 0.3)  # 40 high in the plane of the frame, 20 wide across it
    assert silhouette(oval, (0, 0, 1)) == pytest.approx(40.0)
    # Support function of an ellipse with half axes a, b at 45 degrees: sqrt((a² + b²) / 2).
    assert silhouette(oval, (0, 1, 1)) == pytest.approx(2 * np.sqrt((20**2 + 10**2) / 2))


def test_a_nearer_tube_is_painted_over_a_farther_one():
    section, steel = round_tube(30.0, 1.0, 0.3), tube_material(2e5, 0.3)
    nodes = {
        "a": (0.0, 0.0, 50.0),
        "b": (100.0, 0.0, 50.0),
        "c": (50.0, -50.0, 0.0),
        "d": (50.0, 50.0, 0.0),
    }
    model = FrameModel(
        nodes,
        (
            Element("near", "a", "b", section, steel, (0.0, 1.0, 0.0)),
            Element("far", "c", "d", section, steel, (1.0, 0.0, 0.0)),
        ),
    )
    figure = new_figure("", "")
    axes = figure.add_axes((0, 0, 1, 1))
    draw_tubes(axes, Camera.at(0, 0, 1), model, colours=["red", "blue"])
    axes.set_axis_off()
    figure.canvas.draw()
    x, y = axes.transData.transform((50.0, 0.0))
    red, _, blue, _ = np.asarray(figure.canvas.buffer_rgba())[-int(y), int(x)]
    assert red > 100 > blue


@given(st.floats(-720, 720))
@settings(deadline=None, max_examples=80)
def test_words_can_be_read_from_below_or_from_the_right(turn):
    """ISO 129-1: reading direction from the bottom or the right-hand side of the drawing."""
    read = readable(turn)
    assert -90 < read <= 90 + 1e-6
    assert abs((turn - read + 90) % 180 - 90) < 1e-6, "words still run along the line"


def test_upright_words_read_from_the_right_whichever_way_the_line_was_drawn():
    assert readable(90) == readable(-90) == readable(270) == 90
    assert readable(90 + 1e-10) == pytest.approx(90), "rounding does not stand them on their head"


# --- magnification -------------------------------------------------------------------------------------------------
@given(st.floats(1e-6, 1e3))
@settings(deadline=None, max_examples=60)
def test_the_magnification_is_round_and_shows_the_movement(largest):
    model, _ = space_frame_a()
    factor = magnification(model.span, largest)
    assert float(f"{factor:.0e}") == pytest.approx(factor, rel=1e-12)
    assert f"{factor:.0e}"[0] in "125"
    share = factor * largest / np.linalg.norm(np.ptp(model.xyz, axis=0))
    assert LARGEST_MOTION / 2.5 * (1 - 1e-6) <= share <= LARGEST_MOTION * (1 + 1e-6)


def test_nothing_that_moves_is_drawn_at_its_true_size():
    assert magnification(1500.0, 0.0) == 1.0


def test_picture_and_report_state_one_magnification(sheet):
    for name in ("seated", "climb", "side_push", "head_torsion"):
        result = analyse(sheet, (name,)).results[name]
        case = case_json(result, {})
        said = words(deflected_picture(result, "Tourer"))
        assert f"drawn {case['times']:,.6g} times" in said
        assert f"drawn {case['times']:,.6g} times" in still_words(case)


def test_a_deflected_sheet_says_what_a_reader_must_know(sheet):
    result = analyse(sheet, ("side_push",)).results["side_push"]
    said = words(deflected_picture(result, "Tourer", 12.5))
    assert "drawn 12.5 times as large" in said
    assert "200 N" in said
    assert "3  steerer upper: lean (steering lock)" in said
    assert f"{result.stiffness['head_sideways']:.2f} N/mm" in said
    assert result.case.notes.split(";")[0][:30] in said
    # whole from a hundred newtons up, three digits below
    for node, reaction in result.reactions.items():
        force = np.linalg.norm(reaction[:3])
        assert (f"{force:.0f} N" if force >= 100 else f"{force:.3g} N") in said, node


def test_a_model_file_gets_no_units_it_does_not_state():
    model, case = space_frame_a()
    result = solve(model, (case,))["ride"]
    said = words(deflected_picture(result, "A", units=False))
    assert "unit of the file" in said
    assert "600" in said
    assert "600 N" not in said
    assert " mm" not in said
    assert "600 N" in words(deflected_picture(result, "A", units=True))


def test_rounding_is_no_reaction(sheet):
    """Nothing pushes sideways on a seated rider: the moments that keep the wheel upright are rounding."""
    said = words(deflected_picture(analyse(sheet, ("seated",)).results["seated"], "Tourer"))
    assert "0.000" not in said
    assert " N·m" not in said.split("Source")[0].replace("N·m/deg", "")


@pytest.mark.parametrize(
    "name", ["side_push", "climb", "seated", "brake_front_disc", "head_torsion"]
)
def test_all_words_stand_on_the_sheet(sheet, name):
    from matplotlib.text import Text

    figure = deflected_picture(analyse(sheet, (name,)).results[name], "Tourer")
    figure.canvas.draw()
    width, height = figure.canvas.get_width_height()
    for text in figure.findobj(Text):
        box = text.get_window_extent()
        inside = box.x0 >= 0 and box.y0 >= 0 and box.x1 <= width and box.y1 <= height
        assert inside or not text.get_text() or not text.get_visible(), text.get_text()


@pytest.mark.parametrize("name", PLANS)
def test_words_of_a_side_view_keep_off_the_edge(name):
    """Every plan's starter; 1.5 % of the width is what a printer leaves white."""
    figure, _ = side_picture(Reading(name, "", bicycle=plan_starter(PLANS[name])), name)
    figure.canvas.draw()
    width, _ = figure.canvas.get_width_height()
    for text in figure.axes[0].texts:
        box = text.get_window_extent()
        inside = 0.015 * width <= box.x0 and box.x1 <= 0.985 * width
        assert inside or not text.get_text(), text.get_text()


def test_labels_keep_apart_and_off_the_tubes():
    from matplotlib.transforms import Bbox

    figure = new_figure("", "")
    axes = figure.add_axes((0.1, 0.1, 0.8, 0.8))
    axes.set_xlim(0, 1), axes.set_ylim(0, 1)
    labels = Labels(axes, [np.array([0.5, 0.5])])
    for k in range(6):
        labels.put(f"tube {k}", np.array([0.5, 0.5]))
    boxes = [text.get_window_extent() for text in axes.texts if text.get_text()]
    boxes.append(Bbox([labels.taken[0, :2], labels.taken[0, 2:]]))
    assert len(boxes) == 7
    assert not any(a.overlaps(b) for k, a in enumerate(boxes) for b in boxes[:k])


# --- the side view --------------------------------------------------------------------------------------------------
def test_side_view_prints_the_trade_numbers(tourer, tmp_path):
    d = tourer.dimensions
    from droptrail.converters.showing.picture.side import side_picture

    figure, _ = side_picture(tourer, "Tourer")
    said = words(figure)
    for name, value in (
        ("trail", d.trail),
        ("bottom bracket drop", d.bb_drop),
        ("stack", d.stack),
        ("chainstay", d.chainstay),
        ("wheelbase", d.derived()["wheelbase"]),
        ("offset", d.fork_offset),
    ):
        assert f"{name} {value:.1f}" in said
    assert f"head angle {d.head_angle:.1f}°" in said


def sketched(paper: type) -> tuple:
    """A paper of either kind and a function that gives the points of its last stroke."""
    if paper is SvgPaper:
        svg = SvgPaper()
        return svg, lambda: np.array(
            [
                [float(x), -float(y)]
                for x, y in (
                    point.split()
                    for point in re.search(r' d="M([^"Z]+)', svg.shapes[-1])[1].split("L")
                )
            ]
        )
    axes = new_figure("", "").add_axes((0, 0, 1, 1))
    return PicturePaper(axes), lambda: axes.lines[-1].get_xydata()


@pytest.mark.parametrize("paper", [PicturePaper, SvgPaper])
@pytest.mark.parametrize(
    ("start", "end", "swept"),
    [(-90, 0, 90), (-180, 0, 180), (90, 450, 360), (350, 10, 20), (0, 360, 360), (-30, -30, 360)],
)
def test_an_arc_runs_counter_clockwise_from_start_to_end(paper, start, end, swept):
    """As the ARC of the DXF reference: always counter-clockwise, equal angles a whole turn."""
    drawn, last = sketched(paper)
    drawn.arc("WHEEL_REAR", (0.0, 0.0), 1000.0, start, end)
    points = last()
    np.testing.assert_allclose(np.hypot(*points.T), 1000.0, atol=0.1)
    turns = np.diff(np.unwrap(np.arctan2(points[:, 1], points[:, 0])))
    assert (turns > 0).all()
    assert np.degrees(turns.sum()) == pytest.approx(swept, abs=0.02)
    np.testing.assert_allclose(
        points[0], [1000 * np.cos(np.radians(start)), 1000 * np.sin(np.radians(start))], atol=0.1
    )


def test_dimension_lines_end_where_they_measure():
    axes = new_figure("", "").add_axes((0, 0, 1, 1))
    PicturePaper(axes).aligned("DIMENSIONS", "head tube <>", (0.0, 0.0), (300.0, 400.0), 50.0)
    (arrow,) = [a for a in axes.texts if a.arrow_patch is not None]
    assert np.hypot(*np.subtract(arrow.xy, arrow.xyann)) == pytest.approx(500.0)
    assert "head tube 500.0" in {a.get_text() for a in axes.texts}


# --- files ----------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("view", VIEWS)
def test_every_view_is_drawn_the_same_twice(tourer, tmp_path, view):
    for name in ("a.svg", "b.svg"):
        write_pictures(tourer, tmp_path / name, (view,))
    first, second = ((tmp_path / name).read_bytes() for name in ("a.svg", "b.svg"))
    assert first == second
    assert len(first) > 20_000
    assert b"<dc:date>" not in first


def test_several_views_are_pages_or_files(tourer, tmp_path):
    options = PictureOptions(("climb", "side_push"))
    files, _ = write_pictures(tourer, tmp_path / "f.pdf", ("side", "energy"), options)
    data = files[0].read_bytes()
    assert len(files) == 1
    assert b"/Count 3" in data
    assert b"CreationDate" not in data
    files, _ = write_pictures(tourer, tmp_path / "f.svg", ("energy", "side"), options)
    assert [f.name for f in files] == ["f-energy-climb.svg", "f-energy-side_push.svg", "f-side.svg"]


def test_a_png_is_not_blank_and_holds_the_accent_colours(sheet, tmp_path):
    from matplotlib.image import imread

    (file,), _ = write_pictures(
        sheet, tmp_path / "f.png", ("deflected",), PictureOptions(("side_push",))
    )
    pixels = imread(file)[:, :, :3]
    assert pixels.shape[:2] == (1240, 1753)  # A4 across at 150 dpi
    assert 0.02 < np.mean(pixels.min(axis=2) < 0.95) < 0.5
    vermilion = np.array([0xD5, 0x5E, 0x00]) / 255
    assert np.any(np.abs(pixels - vermilion).max(axis=2) < 0.02)


def test_one_of_several_files_that_exists_stops_all(sheet, tmp_path):
    (tmp_path / "f-side.svg").write_text("mine")
    with pytest.raises(InputError, match=r"f-side\.svg exists"):
        write_pictures(sheet, tmp_path / "f.svg", ("iso", "side"))
    assert [p.name for p in tmp_path.iterdir()] == ["f-side.svg"]
    write_pictures(sheet, tmp_path / "f.svg", ("iso", "side"), force=True)
    assert (tmp_path / "f-side.svg").read_text(encoding="utf-8").startswith("<?xml")


@pytest.mark.parametrize(
    ("name", "missing"),
    [
        ("$ 500 special_{x", False),
        ("山 1", True),
        ("Bjørn Čermák", False),
        ("long " * 40, False),
        ("for $\\frac{$ or $_^$", False),
    ],
)
def test_any_name_can_stand_on_a_picture(sheet, tmp_path, name, missing):
    named = replace(sheet, bicycle=replace(sheet.bicycle, name=name))
    _, found = write_pictures(named, tmp_path / "f.svg")
    assert ("picture-letters-missing" in {f.code for f in found}) == missing


def a_comparison(path, title="$ 500 special_{x"):
    points = [
        PlotPoint(100.0, 50.0, 1800.0, "reference", True),
        PlotPoint(110.0, 52.0, 1850.0, "$ 20 more"),
    ]
    return save_plot(ComparePlot(title, "vertical [N/mm]", "sideways [N/mm]", points, "note"), path)


def a_campbell_diagram(path):
    words = [
        ModeWords(3, 5.6, "pitch on the tyres", "in plane", {}, {}, {}),
        ModeWords(4, 2.1, "front end sideways", "sideways", {}, {}, {}),
    ]
    return draw_campbell(words, (60.0, 110.0), path)


def every_kind_of_picture(tourer):
    return {
        "sheet": lambda path: write_pictures(tourer, path)[1],
        "comparison": a_comparison,
        "campbell": a_campbell_diagram,
        "overlay": lambda path: write_overlay(tourer.view, path),
    }


@pytest.mark.parametrize("kind", ["sheet", "comparison", "campbell", "overlay"])
def test_a_users_matplotlib_settings_change_nothing(tourer, tmp_path, kind):
    import matplotlib

    write = every_kind_of_picture(tourer)[kind]
    write(tmp_path / "a.svg")
    with matplotlib.rc_context(
        {"lines.linewidth": 9, "font.size": 30, "axes.facecolor": "red", "savefig.dpi": 50}
    ):
        write(tmp_path / "b.svg")
        assert matplotlib.rcParams["font.size"] == 30
    assert (tmp_path / "a.svg").read_bytes() == (tmp_path / "b.svg").read_bytes()


@pytest.mark.parametrize("kind", ["sheet", "comparison", "campbell", "overlay"])
def test_every_kind_of_picture_has_the_same_endings(tourer, tmp_path, kind):
    write = every_kind_of_picture(tourer)[kind]
    for ending in ENDINGS:
        write(tmp_path / f"a{ending.upper()}")
        assert (tmp_path / f"a{ending.upper()}").stat().st_size > 5_000
    with pytest.raises(InputError, match=r"f\.gif: a picture is written as \.png, \.svg, \.pdf"):
        write(tmp_path / "f.gif")
    with pytest.raises(InputError, match="exists already"):
        write(tmp_path / "a.SVG")


def test_letters_a_comparison_cannot_show_are_told(tmp_path):
    assert {f.code for f in a_comparison(tmp_path / "a.svg", "山 1")} == {"picture-letters-missing"}
    assert a_comparison(tmp_path / "b.svg", "Bjørn") == ()


def test_a_drawing_alone_gives_its_side_view_and_no_warning(tmp_path):
    reading = read_input(SAMPLES / "trekking_26.dxf")
    _, found = write_pictures(reading, tmp_path / "f.svg")
    assert all(f.severity == "info" for f in found if f.code == "draw-no-diameter")
    with pytest.raises(InputError, match="--sheet"):
        write_pictures(reading, tmp_path / "g.svg", ("deflected",))
    assert not (tmp_path / "g.svg").exists()


def test_a_model_file_shows_all_but_dimensions(tmp_path):
    model, case = space_frame_a()
    save_model(tmp_path / "m.json", model, (case,))
    reading = read_input(tmp_path / "m.json")
    files, _ = write_pictures(
        reading, tmp_path / "f.svg", ("iso", "deflected", "stress", "energy", "mode")
    )
    assert len(files) == 5
    for view in ("side", "overlay"):
        with pytest.raises(InputError, match=r"m\.json"):
            write_pictures(reading, tmp_path / "g.svg", (view,))


def test_guessed_thicknesses_are_told(tmp_path):
    model, case = space_frame_a()
    save_model(tmp_path / "m.json", model, (case,))
    data = json.loads((tmp_path / "m.json").read_text(encoding="utf-8"))
    for section in data["sections"].values():
        del section["cy"], section["cz"]
    (tmp_path / "n.json").write_text(json.dumps(data), encoding="utf-8")
    _, found = write_pictures(read_input(tmp_path / "n.json"), tmp_path / "f.svg")
    assert "outside-size-guessed" in {f.code for f in found}


def test_energy_bars_add_up(sheet):
    table = energy_shares(analyse(sheet, ("climb",)).results["climb"])
    shares = by_tube(table)
    springs = sum(table.springs.values()) / table.total
    assert sum(sum(row.values()) for row in shares.values()) == pytest.approx(1 - springs)
    assert list(shares)[-1] == "the rest"
    assert "chainstay" in shares
    assert "chainstay right" not in shares


def test_house_style_passes_errors_on():
    with pytest.raises(ZeroDivisionError), house_style([]):
        1 / 0  # noqa: B018
