"""Every entity type through plain DXF text, R12 and R2000, checked against exact mathematics."""

from math import atan, cos, hypot, pi, radians, sin, sqrt, tan

import numpy as np
import pytest
from droptrail.converters.drawings.dxf.budget import ARC_STEP
from droptrail.converters.drawings.dxf.read_dxf import read_dxf
from droptrail.converters.drawings.dxf.shapes import bulge_points
from droptrail.model.errors import InputError
from helpers_dxf import DxfText, tag
from hypothesis import given, settings
from hypothesis import strategies as st

numbers = st.floats(-1e6, 1e6, allow_nan=False)
awkward = (0.1 + 0.2, 1.0 / 3.0)


@pytest.fixture
def read(tmp_path):
    """Draw into a DxfText with a function, write, read back."""

    def go(draw, version="R2000", **options):
        dxf = DxfText(version, **options)
        draw(dxf)
        return read_dxf(dxf.write(tmp_path / "drawing.dxf"))

    return go


def only(drawing):
    (curve,) = drawing.curves
    return curve


def codes(drawing):
    return [finding.code for finding in drawing.findings]


both = pytest.mark.parametrize("version", ["R12", "R2000"])


# -- lines -------------------------------------------------------------------------------------------


@both
def test_line_ends_come_out_bit_for_bit(read, version):
    curve = only(
        read(
            lambda d: d.line(awkward, (-1e-7, 123456.789012345), layer="A", linetype="HIDDEN"),
            version,
        )
    )
    assert curve.points.tolist() == [list(awkward), [-1e-7, 123456.789012345]]
    assert (curve.kind, curve.entity, curve.layer, curve.linetype) == (
        "line",
        "LINE",
        "A",
        "HIDDEN",
    )
    assert curve.centre is curve.radius is None
    assert not curve.closed


@settings(deadline=None, max_examples=30)
@given(x=numbers, y=numbers)
def test_any_number_survives_the_text(tmp_path_factory, x, y):
    dxf = DxfText()
    dxf.line((x, y), (y, x + 1.0))
    curve = only(read_dxf(dxf.write(tmp_path_factory.mktemp("n") / "n.dxf")))
    assert curve.points.tolist() == [[x, y], [y, x + 1.0]]


def test_zero_length_line_stays(read):
    """The recogniser judges it: a head tube of length zero is a fault to be named, not to be lost."""
    assert only(read(lambda d: d.line((1, 2), (1, 2)))).points.tolist() == [[1, 2], [1, 2]]


def test_line_with_xxyy_order_of_groups(read):
    """Some old programs write x1, x2, y1, y2."""
    text = tag(0, "LINE") + tag(8, "0") + tag(10, 1.0) + tag(11, 3.0) + tag(20, 2.0) + tag(21, 4.0)
    assert only(read(lambda d: d.raw(text))).points.tolist() == [[1, 2], [3, 4]]


def test_line_ignores_its_extrusion(read):
    """DXF reference: LINE is in world coordinates; only its thickness follows the extrusion."""
    assert only(read(lambda d: d.line((1, 2), (3, 4), extrusion=(0, 0, -1)))).points.tolist() == [
        [1, 2],
        [3, 4],
    ]


# -- round -------------------------------------------------------------------------------------------


@both
def test_circle(read, version):
    curve = only(read(lambda d: d.circle(awkward, 348.125), version))
    assert (curve.kind, curve.centre, curve.radius, curve.closed) == (
        "circle",
        awkward,
        348.125,
        True,
    )
    assert (curve.points[0] == curve.points[-1]).all()
    off = np.hypot(*(curve.points - awkward).T) - 348.125
    assert abs(off).max() < 1e-12 * 348.125 * 10


def test_chord_error_is_the_stated_one(read):
    """r (1 - cos(step / 2)); the documented 3.8e-5 of the radius."""
    points = only(read(lambda d: d.circle((0, 0), 1.0))).points
    middles = (points[1:] + points[:-1]) / 2
    worst = 1.0 - np.hypot(*middles.T).min()
    assert worst == pytest.approx(1.0 - cos(ARC_STEP / 2), rel=1e-6)
    assert worst < 3.9e-5


@both
@pytest.mark.parametrize(
    ("start", "end"), [(0, 90), (350, 10), (90, 0), (-45, 45), (10.5, 370.25), (180, 180.001)]
)
def test_arc_runs_counter_clockwise_from_start_to_end(read, version, start, end):
    curve = only(read(lambda d: d.arc((1, 2), 10, start, end), version))
    sweep = (end - start) % 360
    assert (curve.kind, curve.centre, curve.radius, curve.closed) == ("arc", (1, 2), 10, False)
    for point, angle in ((curve.points[0], start), (curve.points[-1], end)):
        assert point == pytest.approx(
            (1 + 10 * cos(radians(angle)), 2 + 10 * sin(radians(angle))), abs=1e-12
        )
    legs = np.diff(curve.points, axis=0)
    assert np.hypot(*legs.T).sum() == pytest.approx(10 * radians(sweep), rel=2e-5)


@pytest.mark.parametrize(("start", "end"), [(0, 360), (0, 0), (90, 450), (30, 30)])
def test_arc_over_the_whole_turn_is_a_circle(read, start, end):
    curve = only(read(lambda d: d.arc((1, 2), 10, start, end)))
    assert (curve.kind, curve.closed, curve.centre, curve.radius) == ("circle", True, (1, 2), 10)


@pytest.mark.parametrize("radius", [0.0, -5.0])
def test_circle_without_radius_is_left_out_with_a_finding(read, radius):
    drawing = read(lambda d: (d.circle((0, 0), radius), d.line((0, 0), (1, 1))))
    assert [c.kind for c in drawing.curves] == ["line"]
    assert "dxf-draws-nothing" in codes(drawing)


def test_ellipse(read):
    curve = only(read(lambda d: d.ellipse((10, 20), (3, 4), 0.5)))
    x, y = (curve.points - [10, 20]).T
    along, across = (3 * x + 4 * y) / 5, (-4 * x + 3 * y) / 5
    assert curve.kind == "ellipse"
    assert curve.closed
    assert (along / 5) ** 2 + (across / 2.5) ** 2 == pytest.approx(np.ones(len(x)), abs=1e-12)


def test_part_of_an_ellipse_runs_from_parameter_to_parameter(read):
    curve = only(read(lambda d: d.ellipse((0, 0), (2, 0), 0.5, pi / 2, pi)))
    assert curve.points[0] == pytest.approx((0, 1), abs=1e-12)
    assert curve.points[-1] == pytest.approx((-2, 0), abs=1e-12)
    assert not curve.closed


def test_ellipse_of_ratio_one_is_a_circle(read):
    curve = only(read(lambda d: d.ellipse((1, 2), (0, 7), 1.0)))
    assert (curve.kind, curve.centre, curve.radius, curve.entity) == (
        "circle",
        (1, 2),
        7,
        "ELLIPSE",
    )


@pytest.mark.parametrize("end", [6.28319, 6.283185, 2 * pi])
def test_ellipse_written_with_few_digits_closes(read, end):
    assert only(read(lambda d: d.ellipse((1, 2), (5, 0), 0.3, 0.0, end))).closed


# -- polylines ---------------------------------------------------------------------------------------


def draw_polyline(dxf, version, vertices, closed=False, **common):
    (dxf.polyline if version == "R12" else dxf.lwpolyline)(vertices, closed, **common)


@both
def test_polyline_vertices_come_out_bit_for_bit(read, version):
    vertices = [(0, 0), awkward, (1e-7, -5.5)]
    curve = only(read(lambda d: draw_polyline(d, version, vertices, layer="P"), version))
    assert curve.points.tolist() == [list(map(float, v)) for v in vertices]
    assert (curve.kind, curve.layer, curve.closed) == ("polyline", "P", False)


@both
def test_closed_polyline_repeats_its_first_point(read, version):
    curve = only(
        read(lambda d: draw_polyline(d, version, [(0, 0), (1, 0), (1, 1)], closed=True), version)
    )
    assert curve.points.tolist() == [[0, 0], [1, 0], [1, 1], [0, 0]]
    assert curve.closed


@both
@pytest.mark.parametrize("bulge", [1.0, -1.0, tan(pi / 8), -0.1, 3.0])
def test_bulge_is_the_tangent_of_a_quarter_of_the_sweep(read, version, bulge):
    """Radius = chord (1 + b^2) / (4 |b|); a positive bulge lies to the right of the way from start to end."""
    curve = only(read(lambda d: draw_polyline(d, version, [(1, 1, bulge), (5, 4)]), version))
    chord, sweep = 5.0, 4 * atan(bulge)
    radius = chord * (1 + bulge**2) / (4 * abs(bulge))
    assert curve.points[[0, -1]].tolist() == [[1, 1], [5, 4]]
    length = np.hypot(*np.diff(curve.points, axis=0).T).sum()
    assert length == pytest.approx(radius * abs(sweep), rel=2e-5)
    normal = np.array([3.0, -4.0]) / 5.0  # to the right of the chord (4, 3)
    reach = ((curve.points - [1, 1]) @ normal) * (1 if bulge > 0 else -1)
    assert reach.max() == pytest.approx(abs(bulge) * chord / 2, abs=4e-5 * radius)  # the sagitta


def test_two_bulges_of_one_make_a_circle(read):
    curve = only(read(lambda d: d.lwpolyline([(-5, 0, 1), (5, 0, 1)], closed=True)))
    assert np.hypot(*curve.points.T) == pytest.approx(np.full(len(curve.points), 5.0), abs=1e-12)
    assert curve.kind == "polyline"  # whether that is a wheel is for the recogniser to say
    assert curve.closed


vertices = st.lists(st.tuples(numbers, numbers, st.floats(-20, 20)), min_size=2, max_size=8)


@settings(deadline=None, max_examples=50)
@given(vertices=vertices, closed=st.booleans())
def test_flattened_bulges_lie_on_their_circles(vertices, closed):
    xy, bulges = np.array([v[:2] for v in vertices]), np.array([v[2] for v in vertices])
    points = bulge_points(xy, bulges, closed, ARC_STEP)
    ends = [*xy[1:], xy[0]] if closed else xy[1:]
    at = 0
    for start, end, bulge in zip(xy, ends, bulges, strict=False):
        count = max(int(np.ceil(abs(4 * atan(bulge)) / ARC_STEP - 1e-9)), 1)
        piece, at = points[at : at + count], at + count
        assert (piece[0] == start).all()
        chord = hypot(*(end - start))
        if count > 1 and chord > 1e-3:
            radius = chord * (1 + bulge**2) / (4 * abs(bulge))
            middle, normal = (
                (start + end) / 2,
                np.array([-(end - start)[1], (end - start)[0]]) / chord,
            )
            centre = middle + normal * (1 - bulge**2) / (4 * bulge) * chord
            assert np.hypot(*(piece - centre).T) == pytest.approx(
                np.full(count, radius), rel=1e-9, abs=1e-6
            )
    assert at == len(points) - 1
    assert (points[-1] == ends[-1]).all()


def test_polyline_without_seqend(read):
    drawing = read(
        lambda d: (d.polyline([(0, 0), (1, 1)], seqend=False), d.line((0, 0), (2, 2))), "R12"
    )
    assert [c.points.tolist() for c in drawing.curves] == [[[0, 0], [1, 1]], [[0, 0], [2, 2]]]


def test_control_frame_of_a_fitted_polyline_is_not_drawn(read):
    """Flag 16: the frame of a curve fitted in R12; flag 8: the points of the curve itself."""

    def draw(d):
        d.polyline([(0, 0)], seqend=False, flags=4)
        for x, flag in ((50.0, 16), (1.0, 8), (2.0, 8)):
            d.raw(
                tag(0, "VERTEX")
                + tag(8, "0")
                + tag(10, x)
                + tag(20, 0.0)
                + tag(30, 0.0)
                + tag(70, flag)
            )
        d.raw(tag(0, "SEQEND"))

    assert only(read(draw, "R12")).points.tolist() == [[0, 0], [1, 0], [2, 0]]


def test_vertex_without_polyline_is_damage(read):
    with pytest.raises(
        InputError, match=r"VERTEX no\. 1 .*stands without the object it belongs to"
    ):
        read(lambda d: d.raw(tag(0, "VERTEX") + tag(8, "0") + tag(10, 1.0) + tag(20, 2.0)))


def test_polyline_of_one_vertex_draws_nothing(read):
    drawing = read(lambda d: (d.lwpolyline([(0, 0)]), d.line((0, 0), (1, 1))))
    assert len(drawing.curves) == 1
    assert "dxf-draws-nothing" in codes(drawing)


def test_lost_vertex_is_noticed(read):
    """Group 90 says how many vertices there were."""

    def draw(d):
        d.lwpolyline([(0, 0), (5, 5), (9, 0)], handle="2A")
        d.entities[-1] = d.entities[-1].replace(tag(10, 5.0) + tag(20, 5.0), "")

    (finding,) = read(draw).findings
    assert (finding.code, finding.severity) == ("dxf-vertex-count", "warning")
    assert "handle 2A" in finding.message


# -- splines -----------------------------------------------------------------------------------------


def test_bezier_spline_against_bernstein(read):
    poles = np.array([(0, 0), (10, 30), (40, 30), (50, 0)], dtype=float)
    points = only(read(lambda d: d.spline(poles))).points
    t = np.linspace(0, 1, len(points))
    bernstein = np.column_stack([(1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3])
    assert points == pytest.approx(bernstein @ poles, abs=1e-12)
    assert points[[0, -1]].tolist() == poles[[0, -1]].tolist()


def test_rational_spline_makes_an_exact_circle(read):
    """Nine poles with weights 1 and 1/sqrt 2 (Piegl and Tiller, The NURBS Book, example 7.2)."""
    poles = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)]
    weights = [1, sqrt(0.5)] * 4 + [1]
    knots = [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4]
    curve = only(read(lambda d: d.spline(poles, 2, knots, weights)))
    assert np.hypot(*curve.points.T) == pytest.approx(np.ones(len(curve.points)), abs=1e-12)
    assert (curve.kind, curve.closed) == ("spline", True)
    assert len(curve.points) > 300


def test_unclamped_spline_is_drawn_on_its_own_range_only(read):
    """Uniform knots: the curve runs from u_p to u_n, where it starts at (P0 + 4 P1 + P2) / 6."""
    poles = np.array([(0, 0), (6, 6), (12, 0), (18, 6), (24, 0)], dtype=float)
    points = only(read(lambda d: d.spline(poles, 3, list(range(9)), flags=0))).points
    assert points[0] == pytest.approx((poles[0] + 4 * poles[1] + poles[2]) / 6, abs=1e-12)
    assert points[-1] == pytest.approx((poles[2] + 4 * poles[3] + poles[4]) / 6, abs=1e-12)


def test_periodic_spline_closes(read):
    """Wrapped poles on uniform knots, as programs write closed splines: smooth and closed, inside the poles' hull."""
    poles = [(0, 0), (10, 0), (10, 10), (5, 15), (0, 10), (-5, 5)]
    curve = only(read(lambda d: d.spline(poles + poles[:3], 3, list(range(13)), flags=3)))
    assert curve.points[0] == pytest.approx(curve.points[-1], abs=1e-12)
    assert curve.points.min() > -5
    assert curve.points.max() < 15


def test_spline_by_fit_points_goes_through_them(read):
    angles = np.radians(np.arange(0, 181, 15))
    fit = 100.0 * np.column_stack([np.cos(angles), np.sin(angles)])
    drawing = read(lambda d: d.spline(fit=fit))
    points = only(drawing).points
    for point in fit:
        assert np.hypot(*(points - point).T).min() < 1e-9
    # Natural ends flatten the first and last piece; that fades by 2 - sqrt 3 = 0.27 per piece inwards (spline theory).
    ends, inside = (
        abs(np.hypot(*points.T) - 100.0).max(),
        abs(np.hypot(*points[60:-60].T) - 100.0).max(),
    )
    assert ends < 0.5
    assert inside < ends * 0.27**2
    assert "dxf-fit-points" in codes(drawing)


def test_two_fit_points_are_a_straight_line(read):
    assert only(read(lambda d: d.spline(fit=[(0, 0), (3, 4)]))).points.tolist() == [[0, 0], [3, 4]]


@pytest.mark.parametrize(("change", "says"), [
    ({"knots": [0, 0, 0, 1, 1, 1]}, "6 knots instead of 8"),
    ({"knots": [0, 0, 0, 0, 2, 1, 1, 1]}, "8 knots instead of 8 rising"),
    ({"knots": [0] * 8}, "zero length"),
    ({"degree": 7, "knots": [0] * 12}, "degree 7 with 4 control points"),
    ({"weights": [1, 1]}, "weights"),
    ({"weights": [1, 0, 1, 1]}, "weights"),
])  # fmt: skip
def test_spline_whose_numbers_do_not_fit_is_refused(read, change, says):
    with pytest.raises(InputError, match=says):
        read(lambda d: d.spline([(0, 0), (1, 1), (2, 1), (3, 0)], **change))


# -- the rest ----------------------------------------------------------------------------------------


def test_construction_lines_are_cut_to_the_drawing(read):
    def draw(d):
        d.line((0, 0), (100, 0))
        d.line((100, 0), (100, 75))
        d.xline((50, 10), (0, 1))
        d.ray((50, 10), (1, 0))
        d.xline((500, 500), (0, 1))  # passes outside: nothing of it is seen

    lines = [c for c in read(draw).curves if c.construction]
    margin = 0.05 * 125.0
    assert [c.points.tolist() for c in lines] == [
        [[50, -margin], [50, 75 + margin]],
        [[50, 10], [100 + margin, 10]],
    ]


def test_points_and_hatches_are_counted_not_drawn(read):
    drawing = read(
        lambda d: (d.point((1, 1)), d.raw(tag(0, "HATCH") + tag(8, "0")), d.line((0, 0), (1, 1)))
    )
    assert len(drawing.curves) == 1
    said = {f.code: f.message for f in drawing.findings}
    assert said["dxf-no-line-work"].startswith("1 POINT left out")
    assert said["dxf-filled"].startswith("1 HATCH left out")


@pytest.mark.parametrize("kind", ["ACAD_PROXY_ENTITY", "3DSOLID", "SOMETHING_OF_ITS_OWN"])
def test_objects_of_a_program_are_to_be_exploded_first(read, kind):
    drawing = read(lambda d: (d.raw(tag(0, kind) + tag(8, "0")), d.line((0, 0), (1, 1))))
    (finding,) = drawing.findings
    assert (finding.code, finding.severity) == ("dxf-explode-first", "warning")
    assert f"1 {kind}" in finding.message
    assert "Explode" in finding.message
    with pytest.raises(InputError, match=rf"no readable line work\. 1 {kind}.*Explode"):
        read(lambda d: d.raw(tag(0, kind) + tag(8, "0")))


def test_mesh_polyline_is_no_curve(read):
    drawing = read(
        lambda d: (d.polyline([(0, 0), (1, 1)], flags=64), d.line((0, 0), (1, 1))), "R12"
    )
    assert [c.entity for c in drawing.curves] == ["LINE"]
    assert "dxf-explode-first" in codes(drawing)


@both
def test_text(read, version):
    drawing = read(
        lambda d: (d.line((0, 0), (1, 1)), d.text("72%%d  1:10", (5, 6), 3.5, layer="T")), version
    )
    (note,) = drawing.notes
    assert (note.text, note.at, note.height, note.layer) == ("72°  1:10", (5, 6), 3.5, "T")


def test_mtext_in_pieces_and_with_formatting(read):
    long = r"{\fArial|b0;Alle Ma\U+00DFe}\Pin mm "
    text = (
        tag(0, "MTEXT")
        + tag(8, "0")
        + tag(10, 1.0)
        + tag(20, 2.0)
        + tag(40, 2.5)
        + tag(3, long)
        + tag(1, "1:5")
    )
    drawing = read(lambda d: (d.line((0, 0), (1, 1)), d.raw(text)))
    assert drawing.notes[0].text == "Alle Maße\nin mm 1:5"


def test_damaged_text_does_no_harm_to_the_geometry(read):
    text = tag(0, "TEXT") + tag(8, "0") + tag(10, "x") + tag(20, 2.0) + tag(1, "hello")
    drawing = read(lambda d: (d.line((0, 0), (1, 1)), d.raw(text)))
    assert (len(drawing.curves), drawing.notes, codes(drawing)) == (1, (), ["dxf-damaged-note"])


@pytest.mark.parametrize(("kind", "points", "angle", "measured"), [
    ("linear", {13: (0, 0), 14: (30, 40)}, 0, 30),
    ("linear", {13: (0, 0), 14: (30, 40)}, 90, 40),
    ("linear", {13: (0, 0), 14: (30, 40)}, 45, 70 / sqrt(2)),
    ("aligned", {13: (0, 0), 14: (30, 40)}, 0, 50),
    ("diameter", {10: (-5, 0), 15: (5, 0)}, 0, 10),
    ("radius", {10: (0, 0), 15: (3, 4)}, 0, 5),
    ("ordinate", {10: (1, 1), 13: (5, 9)}, 0, 8),
    ("angular", {13: (0, 0), 14: (1, 0), 15: (0, 0), 10: (1, 1), 16: (9, 3)}, 0, 45),
    ("angular", {13: (0, 0), 14: (1, 0), 15: (0, 0), 10: (1, 1), 16: (-1, 9)}, 0, 135),
    ("angular", {13: (5, 0), 14: (9, 0), 15: (0, 5), 10: (0, 9), 16: (3, 3)}, 0, 90),  # lines that do not touch
    ("angular3", {15: (0, 0), 13: (1, 0), 14: (0, 1), 10: (2, 2)}, 0, 90),
    ("angular3", {15: (0, 0), 13: (1, 0), 14: (0, 1), 10: (-2, -2)}, 0, 270),
])  # fmt: skip
@both
def test_dimension_is_measured_from_its_definition_points(
    read, version, kind, points, angle, measured
):
    def draw(d):
        d.line((0, 0), (1, 1))
        d.dimension(kind, points, text="<>", angle=angle)

    (dimension,) = read(draw, version).dimensions
    assert dimension.measured == pytest.approx(measured, abs=1e-12)
    assert dimension.kind == kind.removesuffix("3")
    assert dimension.text == "<>"


def test_dimension_factor_comes_from_override_then_style_then_header(read):
    def draw(d):
        d.dimstyle("TEN", 10.0)
        d.dimstyle("PLAIN")
        d.line((0, 0), (1, 1))
        for style, own in (("TEN", 5.0), ("TEN", None), ("PLAIN", None), ("TEN", -2.0)):
            d.dimension("linear", {13: (0, 0), 14: (5, 0)}, style=style, dimlfac=own)

    drawing = read(draw, header={"$DIMLFAC": (40, 25.4)})
    # A negative DIMLFAC acts in layouts only (DXF reference), so in the model space it counts as 1.
    assert [d.factor for d in drawing.dimensions] == [5.0, 10.0, 25.4, 1.0]


def test_dimension_keeps_its_typed_text(read):
    ends = {13: (0, 0), 14: (5, 0)}
    drawing = read(
        lambda d: (d.line((0, 0), (1, 1)), d.dimension("linear", ends, text="{\\H2;430} mm"))
    )
    assert drawing.dimensions[0].text == "430 mm"


# -- space, layers, planes ---------------------------------------------------------------------------


def test_paper_space_counts_only_when_the_model_space_is_empty(read):
    drawing = read(lambda d: (d.line((0, 0), (1, 1)), d.line((0, 0), (9, 9), paper=True)))
    assert [c.points[1].tolist() for c in drawing.curves] == [[1, 1]]
    assert "dxf-paper-space" not in codes(drawing)
    drawing = read(lambda d: d.line((0, 0), (9, 9), paper=True))
    assert [c.points[1].tolist() for c in drawing.curves] == [[9, 9]]
    assert "dxf-paper-space" in codes(drawing)


def test_other_layouts_live_in_blocks(read):
    drawing = read(lambda d: d.block("*Paper_Space0").line((0, 0), (9, 9)))
    assert [c.points[1].tolist() for c in drawing.curves] == [[9, 9]]
    assert "dxf-paper-space" in codes(drawing)


@both
def test_hidden_layers_and_objects_are_left_out_and_counted(read, version):
    def draw(d):
        d.layer("OFF", colour=-7)
        d.layer("FROZEN", flags=1)
        d.layer("LOCKED", flags=4)
        d.line((0, 0), (1, 1), layer="off")  # names know no case
        d.line((0, 0), (2, 2), layer="FROZEN")
        d.line((0, 0), (3, 3), layer="LOCKED")
        d.line((0, 0), (4, 4), invisible=True)

    drawing = read(draw, version)
    assert [c.points[1].tolist() for c in drawing.curves] == [[3, 3]]
    (finding,) = drawing.findings
    assert finding.code == "dxf-hidden"
    assert finding.message.startswith("3 objects are hidden")


def test_drawing_with_everything_hidden_says_so(read):
    def draw(d):
        d.layer("OFF", colour=-7)
        d.line((0, 0), (1, 1), layer="OFF")

    with pytest.raises(
        InputError, match=r"all 1 objects are hidden\. Switch their layers on \(OFF\)"
    ):
        read(draw)


def test_linetype_by_layer(read):
    def draw(d):
        d.layer("AXIS", linetype="CENTER")
        d.line((0, 0), (1, 1), layer="AXIS", linetype="ByLayer")

    assert only(read(draw)).linetype == "CENTER"


@both
def test_extrusion_downwards_mirrors_x(read, version):
    """Arbitrary axis algorithm (DXF reference): for (0, 0, -1) the object's x axis is the world's -x."""

    def draw(d):
        down = {"extrusion": (0, 0, -1)}
        d.circle((10, 5), 3, **down)
        d.arc((10, 5), 3, 0, 90, **down)
        draw_polyline(d, version, [(1, 2, 0.5), (3, 4)], **down)
        d.text("x", (7, 8), **down)

    drawing = read(draw, version)
    circle, arc, polyline = drawing.curves
    assert (circle.centre, circle.radius) == ((-10, 5), 3)
    assert arc.points[0] == pytest.approx((-13, 5))
    assert arc.points[-1] == pytest.approx((-10, 8))
    assert polyline.points[[0, -1]].tolist() == [[-1, 2], [-3, 4]]
    assert drawing.notes[0].at == (-7, 8)


@pytest.mark.parametrize("draw", [
    lambda d: d.line((0, 0, 0), (100, 0, 60)),
    lambda d: d.circle((0, 0), 10, extrusion=(1, 0, 0)),
    lambda d: d.lwpolyline([(0, 0), (10, 0), (10, 10)], extrusion=(0, -1, 0)),
    lambda d: d.polyline([(0, 0, 0), (1, 0, 5)], flags=8),
    lambda d: d.insert("B", (0, 0), extrusion=(0, 1, 0)),
])  # fmt: skip
def test_tilted_curves_are_refused(read, draw):
    def whole(d):
        d.block("B").arc((0, 0), 5, 10, 80)
        d.line((0, 0), (20, 5))
        draw(d)

    with pytest.raises(InputError, match=r"is not in the XY plane: 1 of 2 curves rise in z"):
        read(whole)


def test_whole_frame_in_the_xz_plane_is_refused(read):
    with pytest.raises(InputError, match="not in the XY plane: 2 of 2"):
        read(lambda d: (d.line((0, 0, 0), (10, 0, 60)), d.line((0, 0, 0), (0, 0, 70))))


def test_level_curves_at_other_heights_are_projected_with_a_finding(read):
    drawing = read(lambda d: (d.line((0, 0, 0), (100, 0, 0)), d.circle((0, 0, 30), 10)))
    (finding,) = drawing.findings
    assert finding.code == "dxf-heights"
    assert "from 0 to 30" in finding.message


def test_same_height_everywhere_is_no_matter(read):
    assert read(lambda d: (d.line((0, 0, 7), (100, 0, 7)), d.circle((0, 0, 7), 10))).findings == ()


def test_markers_may_be_missing(read):
    """R2000 without subclass markers, as careless writers do: the group codes say enough."""

    def draw(d):
        d.line((0, 0), (1, 1))
        d.lwpolyline([(0, 0), (1, 1)])
        d.spline([(0, 0), (1, 1), (2, 0), (3, 0)])
        d.mtext("hello", (0, 0))
        d.dimension("aligned", {13: (0, 0), 14: (5, 0)})

    drawing = read(draw, markers=False)
    assert [c.kind for c in drawing.curves] == ["line", "polyline", "spline"]
    assert (len(drawing.notes), len(drawing.dimensions)) == (1, 1)


@pytest.mark.parametrize(
    ("insunits", "mm"),
    [(0, None), (None, None), (1, 25.4), (4, 1.0), (5, 10.0), (6, 1e3), (99, None)],
)
def test_header_unit(read, insunits, mm):
    assert read(lambda d: d.line((0, 0), (1, 1)), insunits=insunits).header_unit == mm


def test_multi_line_is_read_as_its_lines(read):
    """Two elements 20 mm apart: each vertex moved along its mitre (group 13) by the element's first parameter."""
    groups = tag(0, "MLINE") + tag(8, "0") + tag(71, 1) + tag(72, 2) + tag(73, 2)
    for x in (0.0, 100.0):
        groups += tag(11, x) + tag(21, 5.0) + tag(12, 1.0) + tag(22, 0.0)
        groups += tag(13, 0.0) + tag(23, 1.0)
        for offset in (10.0, -10.0):
            groups += tag(74, 2) + tag(41, offset) + tag(41, 0.0) + tag(75, 0)
    drawing = read(lambda d: d.raw(groups))
    ends = sorted(c.points.tolist() for c in drawing.curves)
    assert ends == [[[0.0, -5.0], [100.0, -5.0]], [[0.0, 15.0], [100.0, 15.0]]]


def test_a_polyline_drawn_as_a_band_has_two_edges(read):
    """A ring of radius 100 drawn 10 wide: the tyre's outside is 105."""
    drawing = read(
        lambda d: d.raw(
            tag(0, "LWPOLYLINE") + tag(8, "0") + tag(90, 2) + tag(70, 1) + tag(43, 10.0)
            + tag(10, -100.0) + tag(20, 0.0) + tag(42, 1.0)
            + tag(10, 100.0) + tag(20, 0.0) + tag(42, 1.0)
        )
    )  # fmt: skip
    radii = sorted(float(np.hypot(*c.points.T).mean()) for c in drawing.curves)
    assert radii == pytest.approx([95.0, 105.0], abs=0.01)


def test_a_pen_stroke_stays_one_line(read):
    drawing = read(
        lambda d: d.raw(
            tag(0, "LWPOLYLINE") + tag(8, "0") + tag(90, 2) + tag(70, 0) + tag(43, 0.5)
            + tag(10, 0.0) + tag(20, 0.0) + tag(10, 150.0) + tag(20, 0.0)
        )
    )  # fmt: skip
    assert [len(c.points) for c in drawing.curves] == [2]
