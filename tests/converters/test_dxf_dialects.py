"""The same drawing through many writers: ezdxf in every version, text and binary, encodings, line ends, sloppy files.

Outside oracle: ezdxf's own document reader and flattening, which share no code with this reader's parsing.
"""

import io
import random
from math import pi

import ezdxf
import ezdxf.math
import numpy as np
import pytest
import shapely
from droptrail.converters.drawings.dxf.read_dxf import read_dxf
from droptrail.converters.drawings.dxf.spline import spline_points
from droptrail.converters.drawings.dxf.tags import Record, read_tags
from droptrail.model.errors import InputError
from helpers_dxf import DxfText, tag
from shapely import LineString, STRtree

VERSIONS = ["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"]

EZDXF_CHORD = 0.01
# Greatest radius: chord 850 and |bulge| from 0.3 to 2 give 850 (1 + b^2) / (4 b) = 772; chord error 3.8e-5 of that.
TOGETHER = 772 * 3.81e-5 + EZDXF_CHORD


def populate(doc, seed):
    """Random entities of every kind the version knows, some inside nested, distorted blocks."""
    rng = random.Random(seed)

    def number():
        return rng.uniform(-300, 300)

    def bulge():
        return rng.choice((-1, 1)) * rng.uniform(0.3, 2)

    def fill(space):
        down = {"extrusion": (0, 0, -1)} if rng.random() < 0.4 else {}
        space.add_line((number(), number()), (number(), number()))
        space.add_circle((number(), number()), rng.uniform(5, 90), dxfattribs=down)
        start, end = rng.uniform(0, 360), rng.uniform(0, 360)
        space.add_arc((number(), number()), rng.uniform(5, 90), start, end, dxfattribs=down)
        space.add_polyline2d(
            [(number(), number(), 0, 0, bulge()) for _ in range(4)], format="xyseb", dxfattribs=down
        )
        space.add_polyline3d([(number(), number(), 0) for _ in range(3)])
        if doc.dxfversion > "AC1009":
            space.add_lwpolyline(
                [(number(), number(), bulge()) for _ in range(5)], format="xyb", close=True
            )
            space.add_ellipse(
                (number(), number()),
                (number(), number()),
                rng.uniform(0.1, 1),
                rng.uniform(0, 3),
                4,
            )
            space.add_open_spline([(number(), number()) for _ in range(7)])
            space.add_rational_spline(
                [(number(), number()) for _ in range(6)], [1, 2, 0.5, 1, 3, 1]
            )

    fill(doc.modelspace())
    inner, outer = (
        doc.blocks.new("INNER", base_point=(3, 4)),
        doc.blocks.new("OUTER", base_point=(-9, 2)),
    )
    fill(inner)
    for sx, sy in ((-1.5, 1.5), (2, 0.7)):
        outer.add_blockref(
            "INNER",
            (number(), number()),
            {"xscale": sx, "yscale": sy, "rotation": rng.uniform(0, 360)},
        )
    doc.modelspace().add_blockref(
        "OUTER", (number(), number()), {"rotation": 30, "xscale": 0.5, "yscale": 0.5}
    )


def flattened_by_ezdxf(entities):
    for entity in entities:
        if entity.dxftype() in ("INSERT", "POLYLINE", "LWPOLYLINE"):
            yield from flattened_by_ezdxf(entity.virtual_entities())
        else:
            yield LineString([(p.x, p.y) for p in points_by_ezdxf(entity)])


def points_by_ezdxf(entity):
    if entity.dxftype() == "LINE":
        return entity.dxf.start, entity.dxf.end
    if (
        entity.dxftype() == "SPLINE"
    ):  # enough segments that its subdivision is not fooled by a turning point
        return entity.flattening(EZDXF_CHORD, segments=32)
    return entity.flattening(EZDXF_CHORD)


def farthest(lines, others):
    """Greatest distance of a vertex of the lines from the others."""
    ends = [
        segment
        for line in others
        for segment in zip(line.coords[:-1], line.coords[1:], strict=True)
    ]
    points = shapely.points(np.vstack([shapely.get_coordinates(line) for line in lines]))
    return STRtree(shapely.linestrings(ends)).query_nearest(points, return_distance=True)[1].max()


def apart(drawing, doc):
    """Greatest distance between what this reader and what ezdxf finds drawn, both ways."""
    ours = [LineString(curve.points) for curve in drawing.curves]
    theirs = list(flattened_by_ezdxf(doc.modelspace()))
    return max(farthest(ours, theirs), farthest(theirs, ours))


@pytest.mark.parametrize("fmt", ["asc", "bin"])
@pytest.mark.parametrize("version", VERSIONS)
def test_random_drawing_reads_as_ezdxf_reads_it(tmp_path, version, fmt):
    doc = ezdxf.new(version)
    populate(doc, f"{version} {fmt}")
    doc.saveas(tmp_path / "random.dxf", fmt=fmt)
    drawing = read_dxf(tmp_path / "random.dxf")
    places = 1 + 2  # of fill(): the model space and two inserts
    assert len(drawing.curves) == places * (5 if version == "R12" else 9)
    assert apart(drawing, doc) < TOGETHER


@pytest.mark.parametrize("version", VERSIONS)
def test_text_and_binary_give_the_same_bits(tmp_path, version):
    doc = ezdxf.new(version)
    populate(doc, 7)
    doc.saveas(tmp_path / "a.dxf", fmt="asc")
    doc.saveas(tmp_path / "b.dxf", fmt="bin")
    text, binary = read_dxf(tmp_path / "a.dxf"), read_dxf(tmp_path / "b.dxf")
    for a, b in zip(text.curves, binary.curves, strict=True):
        assert (a.points == b.points).all()
        assert (a.kind, a.layer, a.centre, a.radius) == (b.kind, b.layer, b.centre, b.radius)


def test_the_oracle_would_notice(tmp_path):
    """Move one end by 0.1 unit: the comparison above must see it."""
    doc = ezdxf.new("R2000")
    populate(doc, 3)
    doc.saveas(tmp_path / "a.dxf")
    drawing = read_dxf(tmp_path / "a.dxf")
    drawing.curves[0].points[0] += 0.1
    assert apart(drawing, doc) > TOGETHER


def test_fit_points_give_the_spline_cad_programs_draw():
    """ezdxf's fit_points_to_cad_cv reproduces the common CAD programs (its documentation); also with end tangents."""
    rng = random.Random(5)
    for tangents in (None, [(1, 0, 0), (0, 1, 0)]):
        fit = [(rng.uniform(0, 100), rng.uniform(0, 100), 0.0) for _ in range(7)]
        dxf = DxfText()
        dxf.spline(fit=fit)
        text = dxf.entities[0]
        for code, tangent in zip((12, 13), tangents or (), strict=False):
            text += "".join(
                tag(code + 10 * axis, float(value)) for axis, value in enumerate(tangent)
            )
        tags = read_tags(text.encode())
        ours = spline_points(Record(tags, 0, len(tags.codes), 1, "SPLINE"), pi / 180)[:, :2]
        spline = ezdxf.math.fit_points_to_cad_cv(fit, tangents=tangents)
        theirs = [(p.x, p.y) for p in spline.flattening(0.001, segments=16)]
        assert LineString(ours).hausdorff_distance(LineString(theirs)) < 0.02


# -- bytes -------------------------------------------------------------------------------------------


def sample():
    dxf = DxfText("R2000", insunits=4)
    dxf.layer("Räder")
    dxf.circle((1.5, 2.5), 348.0, layer="Räder")
    dxf.text("Maßstab 1:5", (0, 0), layer="Räder")
    return dxf


def check(drawing):
    (curve,) = drawing.curves
    assert (curve.layer, curve.centre, curve.radius) == ("Räder", (1.5, 2.5), 348.0)
    assert drawing.notes[0].text == "Maßstab 1:5"
    assert drawing.header_unit == 1.0


@pytest.mark.parametrize("eol", ["\n", "\r\n", "\r", "\r\r\n"])
@pytest.mark.parametrize(("encoding", "bom"), [
    ("cp1252", b""), ("utf-8", b""), ("utf-8", b"\xef\xbb\xbf"), ("utf-16-le", b"\xff\xfe"), ("utf-16-be", b"\xfe\xff"),
])  # fmt: skip
def test_line_ends_and_encodings(tmp_path, eol, encoding, bom):
    check(read_dxf(sample().write(tmp_path / "a.dxf", encoding, eol, bom)))


def test_code_page_and_escapes(tmp_path):
    dxf = DxfText("R2000", codepage="ANSI_1251")
    dxf.line((0, 0), (1, 1), layer="Рама")
    dxf.line((0, 0), (1, 1), layer="R\\U+00E4der")
    first, second = read_dxf(dxf.write(tmp_path / "a.dxf", "cp1251")).curves
    assert (first.layer, second.layer) == ("Рама", "Räder")


def test_bytes_that_no_code_page_knows(tmp_path):
    path = sample().write(tmp_path / "a.dxf", "cp1252")
    path.write_bytes(path.read_bytes().replace(b"R\xe4der", b"R\x81\xe4der"))
    (curve,) = read_dxf(path).curves
    assert curve.layer == "R\ufffdäder"
    assert curve.radius == 348.0


def test_leading_blanks_comments_and_rest_behind_the_end(tmp_path):
    path = tmp_path / "a.dxf"
    path.write_bytes(
        b"\n\n"
        + (tag(999, "made by hand") + sample().dumps()).encode("cp1252")
        + b"\x1a\x00garbage\n\n1"
    )
    check(read_dxf(path))


def slipped_in(*, behind: str, text: str) -> str:
    """A sound drawing into which a writer let a line slip."""
    dxf = DxfText("R12")
    dxf.line((0, 0), (100, 50))
    dxf.circle((10, 20), 30)
    dxf.line((100, 50), (200, 0))
    return dxf.dumps().replace(behind, behind + text, 1)


def test_a_line_that_belongs_to_no_object_is_left_out(tmp_path):
    """As fig2dev 3.2.8 does before each change of line type: a plotter command, then a comment."""
    path = tmp_path / "stray.dxf"
    radius = tag(40, 30.0)
    for text in ("LT1,0.0534;\n999\n comment\n", "LT1,0.0534;\n"):
        path.write_text(slipped_in(behind=radius, text=text), newline="")
        drawing = read_dxf(path)
        assert [c.kind for c in drawing.curves] == ["line", "circle", "line"]
        (finding,) = drawing.findings
        lines = path.read_text().split("\n")
        assert (finding.code, finding.severity) == ("dxf-stray-line", "warning")
        assert f"line {lines.index('LT1,0.0534;') + 1} first" in finding.message


def test_a_place_behind_a_stray_line_is_counted_in_the_file(tmp_path):
    text = slipped_in(behind=tag(40, 30.0), text="LT;\n").replace("200.0", "20,0", 1)
    (path := tmp_path / "stray.dxf").write_text(text, newline="")
    starts = [n for n, line in enumerate(text.split("\n"), 1) if line == "LINE"]
    with pytest.raises(InputError, match=rf"line {starts[1] - 1}\) has a decimal comma"):
        read_dxf(path)


@pytest.mark.parametrize("text", ["0.5\n", "LINE\n", "LT;\nLT;\n"])
def test_other_damage_is_no_stray_line(tmp_path, text):
    """A number or a name may be half of a lost group: refused, as before."""
    (path := tmp_path / "bad.dxf").write_text(
        slipped_in(behind=tag(40, 30.0), text=text), newline=""
    )
    with pytest.raises(InputError, match="should hold a group code"):
        read_dxf(path)


def test_a_drawing_of_points_only_is_not_called_empty(tmp_path):
    dxf = DxfText()
    dxf.point((0, 0))
    with pytest.raises(InputError, match=r"no readable line work\. 1 POINT left out"):
        read_dxf(dxf.write(tmp_path / "points.dxf"))


def test_entities_section_alone_is_enough(tmp_path):
    path = tmp_path / "a.dxf"
    path.write_text(
        "0\nSECTION\n2\nENTITIES\n0\nLINE\n10\n0\n20\n0\n11\n3\n21\n4\n0\nENDSEC\n0\nEOF\n"
    )
    drawing = read_dxf(path)
    assert drawing.curves[0].points.tolist() == [[0, 0], [3, 4]]
    assert (drawing.header_unit, drawing.version) == (None, "")


def test_missing_eof_and_missing_endsec_are_found_and_read(tmp_path):
    text = sample().dumps()
    for name, cut, code in (
        ("eof", text.removesuffix("  0\nEOF\n"), "dxf-missing-eof"),
        ("half", text.removesuffix("OF\n"), "dxf-missing-eof"),
        ("endsec", text.replace("  0\nENDSEC\n  0\nEOF\n", "  0\nEOF\n"), "dxf-section-not-closed"),
    ):
        path = tmp_path / f"{name}.dxf"
        path.write_bytes(cut.encode("cp1252"))
        drawing = read_dxf(path)
        check(drawing)
        assert [(f.code, f.severity) for f in drawing.findings] == [(code, "warning")]


def test_file_cut_off_behind_the_entities_is_complete(tmp_path):
    stream = io.StringIO()
    doc = ezdxf.new("R2000")
    doc.modelspace().add_line((0, 0), (3, 4))
    doc.write(stream)
    text = stream.getvalue()
    path = tmp_path / "a.dxf"
    path.write_text(text[: text.index("OBJECTS") + 500])
    drawing = read_dxf(path)
    assert drawing.curves[0].points.tolist() == [[0, 0], [3, 4]]
    assert [f.code for f in drawing.findings] == ["dxf-cut-off-behind-entities"]


def test_hash_and_source(tmp_path):
    import hashlib

    path = sample().write(tmp_path / "a.dxf")
    drawing = read_dxf(str(path))
    assert drawing.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert drawing.source == str(path)
    assert drawing.version == "AC1015"


def test_shapes_are_plain_arrays(tmp_path):
    (curve,) = read_dxf(sample().write(tmp_path / "a.dxf")).curves
    assert curve.points.dtype == np.float64
    assert curve.points.flags.c_contiguous
