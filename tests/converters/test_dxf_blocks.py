"""Blocks unfold to the right place: checked against plain affine arithmetic written out here, nested and distorted."""

from math import cos, radians, sin

import numpy as np
import pytest
from droptrail.converters.drawings.dxf.budget import MAX_DEPTH
from droptrail.converters.drawings.dxf.read_dxf import read_dxf
from droptrail.model.errors import InputError
from helpers_dxf import DxfText, tag
from hypothesis import given, settings
from hypothesis import strategies as st

coordinates = st.floats(-500, 500)
sizes = st.floats(0.1, 10) | st.floats(-10, -0.1)


@st.composite
def placements(draw, uniform=False):
    sx = draw(sizes)
    return {
        "base": (draw(coordinates), draw(coordinates)),
        "at": (draw(coordinates), draw(coordinates)),
        "scale": (sx, sx if uniform else draw(sizes)),
        "rotation": draw(st.sampled_from([0.0, 90.0, 180.0, 270.0]) | st.floats(0, 360)),
        "down": draw(st.booleans()),
    }


def put(placement, points):
    """at + R S (p - base); an INSERT with extrusion (0, 0, -1) is that with x mirrored in the end."""
    a = radians(placement["rotation"])
    turned = np.array([[cos(a), -sin(a)], [sin(a), cos(a)]]) @ np.diag(placement["scale"])
    points = (np.atleast_2d(points) - placement["base"]) @ turned.T + placement["at"]
    return points * [-1, 1] if placement["down"] else points


def nested(chain, draw):
    """A drawing whose block B0 holds what draw() draws, B1 inserts B0, ... and which inserts the last."""
    dxf = DxfText("R2000")
    draw(dxf.block("B0", chain[0]["base"]))
    for level, placement in enumerate(chain):
        last = level == len(chain) - 1
        target = dxf if last else dxf.block(f"B{level + 1}", chain[level + 1]["base"])
        options = {"extrusion": (0, 0, -1)} if placement["down"] else {}
        target.insert(
            f"B{level}", placement["at"], placement["scale"], placement["rotation"], **options
        )
    return dxf


def through(chain, points):
    for placement in chain:
        points = put(placement, points)
    return points


@pytest.fixture
def read(tmp_path):
    return lambda dxf: read_dxf(dxf.write(tmp_path / "blocks.dxf"))


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("blocks")


LINE = [(1.5, -2.5), (30, 40)]


@settings(deadline=None, max_examples=60)
@given(chain=st.lists(placements(), min_size=1, max_size=4))
def test_nested_inserts_with_any_scale_rotation_base_point_and_extrusion(folder, chain):
    def draw(block):
        block.line(*LINE)
        block.lwpolyline([(0, 0, 0.5), (10, 5), (20, -5)])
        block.circle((3, 4), 7)

    dxf = nested(chain, draw)
    line, polyline, ring = read_dxf(dxf.write(folder / "nested.dxf")).curves
    reach = np.abs(through(chain, LINE)).max() + 10.0 ** len(chain) * 1e3
    assert line.points == pytest.approx(through(chain, LINE), abs=1e-12 * reach)
    assert polyline.points[[0, -2, -1]] == pytest.approx(
        through(chain, [(0, 0), (10, 5), (20, -5)]), abs=1e-12 * reach
    )
    angles = np.radians(np.arange(361))
    circle = np.column_stack([3 + 7 * np.cos(angles), 4 + 7 * np.sin(angles)])
    assert ring.points == pytest.approx(through(chain, circle), abs=1e-12 * reach)


@settings(deadline=None, max_examples=40)
@given(chain=st.lists(placements(uniform=True), min_size=1, max_size=3))
def test_a_circle_scaled_evenly_stays_one_with_exact_centre_and_radius(folder, chain):
    dxf = nested(chain, lambda block: (block.circle((3, 4), 7), block.arc((3, 4), 7, 20, 100)))
    circle, arc = read_dxf(dxf.write(folder / "even.dxf")).curves
    scale = np.prod([abs(p["scale"][0]) for p in chain])
    centre = through(chain, [(3, 4)])[0]
    assert (circle.kind, arc.kind) == ("circle", "arc")
    for curve in (circle, arc):
        assert curve.radius == pytest.approx(7 * scale, rel=1e-12)
        assert curve.centre == pytest.approx(tuple(centre), rel=1e-11, abs=1e-8)
        off = np.hypot(*(curve.points - curve.centre).T) - curve.radius
        assert abs(off).max() < 1e-8 * curve.radius


def test_a_circle_scaled_unevenly_is_an_ellipse(read):
    dxf = DxfText("R2000")
    dxf.block("B").circle((0, 0), 10)
    dxf.insert("B", (5, 5), scale=(2, 1))
    (curve,) = read(dxf).curves
    assert (curve.kind, curve.centre, curve.radius) == ("ellipse", None, None)
    x, y = ((curve.points - 5) / [20, 10]).T
    assert x**2 + y**2 == pytest.approx(np.ones(len(x)), abs=1e-12)


def test_z_scale_of_zero_is_harmless(read):
    """LibreCAD writes INSERT with z scale 0."""
    dxf = DxfText("R2000")
    dxf.block("B").circle((0, 0), 10)
    dxf.insert("B", (5, 5), scale=(2, 2, 0))
    (curve,) = read(dxf).curves
    assert (curve.kind, curve.centre, curve.radius) == ("circle", (5, 5), 20)


def test_rows_and_columns_turn_with_the_insert_but_do_not_scale(read):
    dxf = DxfText("R2000")
    dxf.block("B").line((0, 0), (1, 0))
    dxf.insert("B", (100, 200), scale=(2, 2), rotation=90, columns=3, rows=2, spacing=(10, 50))
    starts = [tuple(curve.points[0]) for curve in read(dxf).curves]
    assert starts == [
        (100 - row * 50, 200 + column * 10) for row in range(2) for column in range(3)
    ]


def test_names_know_no_case_and_layer_0_takes_the_layer_of_the_insert(read):
    dxf = DxfText("R2000")
    block = dxf.block("Rad")
    block.line((0, 0), (1, 0))
    block.line((0, 0), (2, 0), layer="OWN")
    dxf.insert("RAD", (0, 0), layer="WHEELS")
    assert [curve.layer for curve in read(dxf).curves] == ["WHEELS", "OWN"]


def test_hidden_inserts(read):
    """A frozen INSERT hides all of its block; one switched off only what takes its layer (AutoCAD's own rule)."""
    dxf = DxfText("R2000")
    dxf.layer("OFF", colour=-1)
    dxf.layer("FROZEN", flags=1)
    block = dxf.block("B")
    block.line((0, 0), (1, 0))
    block.line((0, 0), (2, 0), layer="OWN")
    dxf.insert("B", (0, 0), layer="FROZEN")
    dxf.insert("B", (0, 0), layer="OFF")
    drawing = read(dxf)
    assert [curve.layer for curve in drawing.curves] == ["OWN"]
    assert "2 objects are hidden" in drawing.findings[0].message


def test_attributes_become_notes(read):
    dxf = DxfText("R2000")
    dxf.block("TITLE").line((0, 0), (1, 0))
    dxf.insert("TITLE", (0, 0), attributes=[("SCALE", "1:5", (7, 8))])
    dxf.insert("TITLE", (0, 0), attributes=[("DATE", "today", (9, 9))], layer="0")
    drawing = read(dxf)
    assert [(note.text, note.at) for note in drawing.notes] == [("1:5", (7, 8)), ("today", (9, 9))]


def test_embedded_object_of_a_newer_attribute_is_not_mistaken_for_it(read):
    """R2018 appends an MTEXT (behind group 101) with groups of its own to an ATTRIB."""
    dxf = DxfText("R2018")
    dxf.block("TITLE").line((0, 0), (1, 0))
    dxf.insert("TITLE", (0, 0), attributes=[("SCALE", "1:5", (7, 8))])
    dxf.entities[-2] += (
        tag(101, "Embedded Object") + tag(11, 1.0) + tag(21, 0.0) + tag(72, 1) + tag(60, 1)
    )
    (note,) = read(dxf).notes
    assert (note.text, note.at) == ("1:5", (7, 8))


def test_invisible_attribute_is_left_out(read):
    dxf = DxfText("R2000")
    dxf.block("TITLE").line((0, 0), (1, 0))
    dxf.insert("TITLE", (0, 0), attributes=[("SCALE", "1:5", (7, 8))])
    dxf.entities[-2] = dxf.entities[-2].replace(" 70\n0\n", " 70\n1\n")
    assert read(dxf).notes == ()


def test_text_and_dimension_inside_a_scaled_block(read):
    dxf = DxfText("R2000")
    block = dxf.block("DETAIL")
    block.line((0, 0), (10, 0))
    block.text("M 1:1", (1, 1), 2.0)
    block.dimension("linear", {13: (0, 0), 14: (10, 0)})
    dxf.insert("DETAIL", (100, 0), scale=(3, 3))
    drawing = read(dxf)
    assert drawing.notes[0].at == (103, 3)
    assert drawing.notes[0].height == pytest.approx(6.0)
    (dimension,) = drawing.dimensions
    assert dimension.measured == pytest.approx(30.0)
    assert dimension.measured * dimension.factor == pytest.approx(
        10.0
    )  # it still prints what it did in the block


@pytest.mark.parametrize(("flags", "scale", "name", "code"), [
    (4, (1, 1), "B", "dxf-xref"), (0, (0, 1), "B", "dxf-block-scale-zero"), (0, (1, 1), "GONE", "dxf-block-missing"),
])  # fmt: skip
def test_blocks_that_draw_nothing_are_named(read, flags, scale, name, code):
    dxf = DxfText("R2000")
    dxf.block("B", flags=flags).line((0, 0), (1, 0))
    if flags:
        dxf.blocks[0][3].entities.clear()
    dxf.insert(name, (0, 0), scale=scale)
    dxf.line((0, 0), (5, 5))
    text = dxf.dumps().replace("  1\n\n", "  1\nframe.dwg\n") if flags else dxf.dumps()
    dxf.dumps = lambda eof=True: text
    (finding,) = read(dxf).findings
    assert (finding.code, finding.severity) == (code, "warning")
    assert f'"{name}"' in finding.message


# -- bombs -------------------------------------------------------------------------------------------


def test_block_that_inserts_itself_through_others(read):
    dxf = DxfText("R2000")
    for name, inner in (("A", "B"), ("B", "C"), ("C", "a")):
        dxf.block(name).insert(inner, (0, 0))
    dxf.insert("A", (0, 0))
    with pytest.raises(InputError, match=r'block "a" contains itself'):
        read(dxf)


def test_block_that_inserts_itself_but_is_not_drawn_is_no_matter(read):
    dxf = DxfText("R2000")
    dxf.block("A").insert("A", (0, 0))
    dxf.line((0, 0), (1, 1))
    assert len(read(dxf).curves) == 1


def test_nested_bomb_is_counted_before_it_is_unfolded(read):
    dxf = DxfText("R2000")
    dxf.block("B0").line((0, 0), (1, 1))
    for level in range(1, 20):
        block = dxf.block(f"B{level}")
        for _ in range(10):
            block.insert(f"B{level - 1}", (0, 0))
    dxf.insert("B19", (0, 0))
    with pytest.raises(
        InputError, match=r"gives more than 10\^19 objects, more than the 200,000 allowed"
    ):
        read(dxf)


@pytest.mark.parametrize("empty", [False, True])
def test_minsert_bomb(read, empty):
    dxf = DxfText("R2000")
    block = dxf.block("B")
    if not empty:
        block.line((0, 0), (1, 1))
    dxf.insert("B", (0, 0), columns=32767, rows=32767, spacing=(1, 1))
    with pytest.raises(InputError, match=r"more than 10\^9 objects"):
        read(dxf)


def test_many_vertices_by_many_inserts(read):
    dxf = DxfText("R2000")
    dxf.block("B").lwpolyline([(x, x % 7) for x in range(5000)])
    dxf.insert("B", (0, 0), columns=500, spacing=(1, 1))
    with pytest.raises(InputError, match="more than 2,000,000 points"):
        read(dxf)


def test_blocks_nested_too_deep(read):
    dxf = DxfText("R2000")
    dxf.block("B0").line((0, 0), (1, 1))
    for level in range(1, MAX_DEPTH + 1):
        dxf.block(f"B{level}").insert(f"B{level - 1}", (0, 0))
    dxf.insert(f"B{MAX_DEPTH - 1}", (0, 0))
    assert len(read(dxf).curves) == 1
    dxf.entities.clear()
    dxf.insert(f"B{MAX_DEPTH}", (0, 0))
    with pytest.raises(InputError, match=f"more than {MAX_DEPTH} blocks deep"):
        read(dxf)
