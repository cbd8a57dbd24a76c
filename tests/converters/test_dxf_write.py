"""The drawing written, read back with ezdxf alone and measured as a builder would with dividers and protractor."""

from dataclasses import replace
from math import atan2, cos, degrees, hypot, pi, radians, sin

import ezdxf
import ezdxf.bbox
import numpy as np
import pytest
from droptrail.converters.files.drafting.dxf_paper import VERSIONS, DxfPaper
from droptrail.converters.files.drafting.frame import draw_frame, side_view
from droptrail.converters.files.drafting.outline import Silhouette, Stop, edges
from droptrail.model.errors import InputError
from droptrail.model.frame.bicycle import Fittings
from droptrail.model.frame.frame_mitres import frame_mitres
from droptrail.model.geometry.statements import FIELDS
from ezdxf.lldxf.const import DXFStructureError
from helpers_drawn import BICYCLE, TUBES, random_bicycle

MEMBERS = ("HEAD_TUBE", "TOP_TUBE", "DOWN_TUBE", "SEAT_TUBE", "CHAINSTAY", "SEATSTAY", "FORK")


def drawn(path, **options):
    findings = draw_frame(options.pop("bicycle", BICYCLE), path, **options)
    return ezdxf.readfile(path), findings


def lines_by_layer(entities):
    return {
        e.dxf.layer: (np.array(e.dxf.start.vec2), np.array(e.dxf.end.vec2))
        for e in entities
        if e.dxftype() == "LINE" and e.dxf.layer in MEMBERS
    }


def circles(entities, layer):
    return [
        (np.array(e.dxf.center.vec2), e.dxf.radius)
        for e in entities
        if e.dxftype() == "CIRCLE" and e.dxf.layer == layer
    ]


def crown_and_axle(entities):
    """Ends of the FORK line work: a line, or a line and an arc."""
    front, _ = circles(entities, "WHEEL_FRONT")[0]
    return lines_by_layer(entities)["FORK"][0], front


def measured(entities):
    """All dimensions of the side view, from the lines in the file only. The bottom bracket is at the origin."""
    lines = lines_by_layer(entities)
    (front, r_front), (rear, r_rear) = (
        circles(entities, "WHEEL_FRONT")[0],
        circles(entities, "WHEEL_REAR")[0],
    )
    top, bottom = lines["HEAD_TUBE"]
    up = (top - bottom) / hypot(*(top - bottom))
    crown, _ = crown_and_axle(entities)
    foot = (front - bottom) @ up
    seat = lines["SEAT_TUBE"][1]
    seat_up = seat / hypot(*seat)
    node = lines["TOP_TUBE"][0] @ seat_up
    return {
        "reach": top[0],
        "head_angle": degrees(atan2(up[1], -up[0])),
        "seat_angle": degrees(atan2(seat[1], -seat[0])),
        "bb_drop": rear[1],
        "chainstay": hypot(*rear),
        "head_tube": hypot(*(top - bottom)),
        "lower_stack": (bottom - crown) @ up,
        "fork_length": (crown - bottom) @ up - foot,
        "fork_offset": float(np.cross([*up, 0], [*(bottom - front), 0])[2]),
        "wheel_radius_front": r_front,
        "wheel_radius_rear": r_rear,
        "seat_tube": hypot(*seat),
        "top_tube_on_seat_tube": node,
        "top_tube_below_head_top": (top - lines["TOP_TUBE"][1]) @ up,
        "down_tube_above_head_bottom": (lines["DOWN_TUBE"][1] - bottom) @ up,
        "seatstay_below_top_tube": node - lines["SEATSTAY"][0] @ seat_up,
    }


def assert_same(dimensions, entities):
    found = measured(entities)
    assert set(found) == set(FIELDS)
    for name, value in found.items():
        assert value == pytest.approx(getattr(dimensions, name), abs=1e-6, rel=0), name


def test_round_trip_of_2000_random_frames(tmp_path):
    """Many side views to a file, to spend the time on frames and not on headers; outlines on one in ten."""
    rng = np.random.default_rng(2024)
    for chunk in range(20):
        paper, bicycles, bounds = DxfPaper(), [random_bicycle(rng) for _ in range(100)], [0]
        for k, bicycle in enumerate(bicycles):
            side_view(paper, bicycle if k % 10 == 0 else replace(bicycle, tubes={}), (None, None))
            bounds.append(len(paper.msp))
        paper.save(tmp_path / f"{chunk}.dxf")
        entities = list(ezdxf.readfile(tmp_path / f"{chunk}.dxf").modelspace())
        assert len(entities) == bounds[-1]
        for bicycle, begin, end in zip(bicycles, bounds, bounds[1:], strict=False):
            assert_same(bicycle.dimensions, entities[begin:end])


def test_measuring_notices_a_line_moved_by_a_hundred_thousandth(tmp_path):
    doc, _ = drawn(tmp_path / "a.dxf")
    entities = list(doc.modelspace())
    next(e for e in entities if e.dxf.layer == "SEATSTAY").dxf.start += (0, 1e-5, 0)
    with pytest.raises(AssertionError, match="seatstay_below_top_tube"):
        assert_same(BICYCLE.dimensions, entities)


@pytest.mark.parametrize("version", VERSIONS)
def test_every_version_holds_the_whole_drawing(tmp_path, caplog, version):
    doc, _ = drawn(tmp_path / "a.dxf", version=version)
    assert caplog.records == []
    assert doc.acad_release == version
    audit = doc.audit()
    assert (audit.errors, audit.fixes) == ([], [])
    assert_same(BICYCLE.dimensions, doc.modelspace())
    if version != "R12":
        assert (doc.header["$INSUNITS"], doc.header["$MEASUREMENT"]) == (4, 1)


def test_dimensions_measure_what_their_words_say(tmp_path):
    d = BICYCLE.dimensions
    doc, _ = drawn(tmp_path / "a.dxf", views=("side",))
    found = {e.dxf.text.replace(" <>", ""): e for e in doc.modelspace().query("DIMENSION")}
    n = d.derived()
    expected = {
        "stack": d.stack,
        "reach": d.reach,
        "head angle": d.head_angle,
        "seat angle": d.seat_angle,
        "bottom bracket drop": d.bb_drop,
        "offset": d.fork_offset,
        "trail": d.trail,
        "chainstay": d.chainstay,
        "front centre": n["front_center"],
        "wheelbase": n["wheelbase"],
        "head tube": d.head_tube,
        "seat tube": d.seat_tube,
        "bottom bracket height": n["bb_height"],
        "fork length on axis": d.fork_length,
        "effective top tube": n["effective_top_tube"],
        "top tube": n["top_tube_cc"],
        "top tube on seat tube": d.top_tube_on_seat_tube,
    }
    assert {k: found[k].get_measurement() for k in expected} == pytest.approx(expected, abs=1e-6)
    assert set(found) == set(expected)
    for name, dimension in found.items():  # every one carries its picture, with the number printed
        digits = f"{expected[name]:.2f}" if "angle" in name else f"{expected[name]:.1f}"
        printed = [e.text for e in dimension.virtual_entities() if e.dxftype() == "MTEXT"]
        assert [name in words and digits in words for words in printed] == [True], (name, printed)


def test_negative_trail_and_no_drop_are_said(tmp_path):
    odd = replace(BICYCLE, dimensions=replace(BICYCLE.dimensions, fork_offset=140, bb_drop=0))
    assert odd.dimensions.trail < 0
    doc, _ = drawn(tmp_path / "a.dxf", bicycle=odd, views=("side",))
    words = {e.dxf.text for e in doc.modelspace().query("DIMENSION")}
    assert "trail -<>" in words
    assert not any("drop" in w for w in words)


def test_frame_without_drop_offset_or_trail_has_no_empty_dimension(tmp_path):
    no_trail = 348 * cos(radians(71.8))
    for change in (
        {"bb_drop": 0.0, "fork_offset": 0.0},
        {"fork_offset": no_trail},
        {"lower_stack": 0.0},
    ):
        odd = replace(BICYCLE, dimensions=replace(BICYCLE.dimensions, **change))
        doc, _ = drawn(tmp_path / f"{len(list(tmp_path.iterdir()))}.dxf", bicycle=odd)
        assert not doc.audit().fixes
        assert all(e.get_measurement() > 1e-6 for e in doc.modelspace().query("DIMENSION"))
        assert all(e.dxf.start.distance(e.dxf.end) > 1e-6 for e in doc.modelspace().query("LINE"))


@pytest.mark.parametrize(
    ("version", "name"), [("R12", "Größe 54 – A & B"), ("R2010", "Größe 54 – 車")]
)
def test_name_with_signs_and_line_breaks_is_written_on_one_line(tmp_path, version, name):
    doc, _ = drawn(
        tmp_path / "a.dxf", bicycle=replace(BICYCLE, name=f"{name}\n0\nEOF"), version=version
    )
    assert f"{name} 0 EOF" in {e.plain_text() for e in doc.modelspace().query("TEXT")}
    assert len(doc.modelspace().query("DIMENSION")) > 20


def test_curved_blade_leaves_the_axis_smoothly_and_ends_at_the_axle(tmp_path):
    for offset in (50.0, -20.0):
        curved = replace(
            BICYCLE,
            dimensions=replace(BICYCLE.dimensions, fork_offset=offset),
            fittings=Fittings(blade_straight=220.0),
        )
        doc, _ = drawn(tmp_path / f"{offset}.dxf", bicycle=curved, views=("side",))
        line, arc = (e for e in doc.modelspace() if e.dxf.layer == "FORK")
        crown, bend = np.array(line.dxf.start.vec2), np.array(line.dxf.end.vec2)
        axle = np.array(curved.dimensions.front_axle)
        centre, ends = (
            np.array(arc.dxf.center.vec2),
            [np.array(p.vec2) for p in (arc.start_point, arc.end_point)],
        )
        assert min(hypot(*(p - bend)) for p in ends) < 1e-9
        assert min(hypot(*(p - axle)) for p in ends) < 1e-9
        assert hypot(*(bend - crown)) == pytest.approx(220.0)
        assert (centre - bend) @ (bend - crown) == pytest.approx(0, abs=1e-6)  # tangent
        assert (arc.dxf.end_angle - arc.dxf.start_angle) % 360 < 90


# --- outlines -------------------------------------------------------------------------------------------------


def test_edges_end_where_the_mitre_puts_them(tmp_path):
    """The side view's trimming is found by crossing lines, the mitre in closed form: two ways to one number."""
    doc, _ = drawn(tmp_path / "a.dxf", views=("side",))
    outlines = doc.modelspace().query(
        'LINE[layer=="TOP_TUBE_OUTLINE" | layer=="DOWN_TUBE_OUTLINE"]'
    )
    ends = [np.array(p.vec2) for e in outlines for p in (e.dxf.start, e.dxf.end)]
    d = BICYCLE.dimensions
    paths = {
        "top_tube": (d.seat_tube_top_tube_node, d.top_tube_head_node),
        "down_tube": (d.bottom_bracket, d.down_tube_head_node),
    }
    checked = 0
    for mitre in frame_mitres(BICYCLE):
        if mitre.member in paths:
            joint, other = (
                np.array(p) for p in paths[mitre.member][:: 1 if mitre.at_end == "start" else -1]
            )
            away = (other - joint) / hypot(*(other - joint))
            upward = np.array([-away[1], away[0]]) * np.sign(away[0])
            for phi in (0.0, pi):
                point = (
                    joint
                    + mitre.outer(np.array([phi]))[0] * away
                    + mitre.radius * cos(phi) * upward
                )
                assert min(hypot(*(point - end)) for end in ends) < 1e-9, mitre.title
                checked += 1
    assert checked == 8 == len(ends)


def test_outline_is_as_wide_as_the_tube(tmp_path):
    doc, _ = drawn(tmp_path / "a.dxf", views=("side",))
    d, (a, b) = BICYCLE.dimensions, doc.modelspace().query('LINE[layer=="DOWN_TUBE_OUTLINE"]')
    direction = np.array(d.down_tube_head_node) / hypot(*d.down_tube_head_node)
    aside = [float(np.cross([*direction, 0], [*np.array(e.dxf.start.vec2), 0])[2]) for e in (a, b)]
    assert sorted(aside) == pytest.approx(
        [-TUBES["down_tube"].od_start / 2, TUBES["down_tube"].od_start / 2]
    )


def test_tapered_edge_and_plain_stop():
    tube = Silhouette((0.0, 0.0), (100.0, 0.0), 10.0, 6.0)
    found = edges(tube, Stop(shell=20.0), Stop(distance=25.0))
    begin, finish = found[1]
    assert hypot(*begin) == pytest.approx(20.0)
    assert finish == pytest.approx([75.0, 7.0])
    assert found[-1][1] == pytest.approx([75.0, -7.0])


def test_trimming_takes_the_edge_nearer_to_the_tube():
    tube = Silhouette((0.0, 0.0), (300.0, 0.0), 10.0, 10.0)
    upright = Silhouette((0.0, -100.0), (0.0, 100.0), 15.0, 15.0)
    leaning = Silhouette((0.0, 0.0), (-100 * cos(radians(70)), 100 * sin(radians(70))), 15.0, 15.0)
    assert Stop((upright,)).at(tube, 1) == pytest.approx(15.0)
    assert Stop((leaning,)).at(tube, 1) == pytest.approx(
        (15 - 10 * cos(radians(70))) / sin(radians(70))
    )
    assert Stop((leaning,)).at(tube, -1) == pytest.approx(
        (15 + 10 * cos(radians(70))) / sin(radians(70))
    )


# --- what is left out, and files ------------------------------------------------------------------------------


def test_missing_tube_and_place_are_findings_and_the_rest_is_drawn(tmp_path):
    bare = replace(
        BICYCLE,
        tubes={k: v for k, v in TUBES.items() if k != "seatstay"},
        dimensions=replace(BICYCLE.dimensions, down_tube_above_head_bottom=None),
    )
    doc, findings = drawn(tmp_path / "a.dxf", bicycle=bare)
    assert {(f.code, f.where) for f in findings if f.severity == "warning"} == {
        ("draw-tube-not-placed", "DOWN_TUBE"),
        ("draw-no-diameter", "SEATSTAY"),
        ("draw-view-left-out", "front"),
        ("draw-view-left-out", "top"),
    }
    assert set(lines_by_layer(doc.modelspace())) == set(MEMBERS) - {"DOWN_TUBE"}
    assert not doc.modelspace().query('*[layer=="SEATSTAY_OUTLINE"]')
    assert doc.modelspace().query('*[layer=="SEAT_TUBE_OUTLINE"]')


def test_rims_are_drawn_where_they_are_known(tmp_path):
    doc, _ = drawn(tmp_path / "a.dxf", bead_seats=(622.0, None))
    assert [r for _, r in circles(doc.modelspace(), "RIM")] == [311.0]


def test_other_views_stand_apart_and_true_to_length(tmp_path):
    f, d = BICYCLE.fittings, BICYCLE.dimensions
    doc, _ = drawn(tmp_path / "a.dxf")
    side = ezdxf.bbox.extents(
        doc.modelspace().query('CIRCLE[layer=="WHEEL_REAR" | layer=="WHEEL_FRONT"]')
    )
    for layer in ("FRONT_VIEW_CENTRE_LINES", "STAYS_VIEW_CENTRE_LINES"):
        box = ezdxf.bbox.extents(doc.modelspace().query(f'*[layer=="{layer}"]'))
        assert box.extmin.x > side.extmax.x + 300 or box.extmax.y < side.extmin.y - 300
    measures = {
        e.dxf.text.replace(" <>", ""): e.get_measurement()
        for e in doc.modelspace().query("DIMENSION")
        if e.dxf.layer in ("FRONT_VIEW_DIMENSIONS", "STAYS_VIEW_DIMENSIONS")
    }
    assert measures == pytest.approx(
        {
            "front hub": f.front_hub_spacing,
            "blades": f.blade_spacing,
            "fork length on axis": d.fork_length,
            "shell": f.bb_shell_width,
            "rear hub": f.rear_hub_spacing,
            "spacing": f.seatstay_spacing,
            "chainstay": d.chainstay,
            "seatstay": d.derived()["seatstay_cc"],
        },
        abs=1e-6,
    )


def test_drive_side_is_on_the_left_from_the_front_and_below_from_above(tmp_path):
    doc, _ = drawn(tmp_path / "a.dxf")
    blades = list(doc.modelspace().query('LINE[layer=="FRONT_VIEW_CENTRE_LINES"]'))[:2]
    stays = list(doc.modelspace().query('LINE[layer=="STAYS_VIEW_CENTRE_LINES"]'))[:2]
    assert blades[0].dxf.start.x < blades[1].dxf.start.x  # right first, as the layout lists them
    assert stays[0].dxf.start.y < stays[1].dxf.start.y


def test_existing_file_stays_whole_without_force(tmp_path):
    path = tmp_path / "a.dxf"
    path.write_text("kept")
    with pytest.raises(InputError, match="exists already"):
        draw_frame(BICYCLE, path)
    assert path.read_text() == "kept"
    draw_frame(BICYCLE, path, force=True)
    assert ezdxf.readfile(path).modelspace()
    assert [p.name for p in tmp_path.iterdir()] == ["a.dxf"]  # no temporary file left behind


def test_unknown_version_and_folder_are_refused_in_words(tmp_path):
    with pytest.raises(InputError, match="R12, R2000"):
        draw_frame(BICYCLE, tmp_path / "a.dxf", version="R9")
    with pytest.raises(InputError, match="cannot write"):
        draw_frame(BICYCLE, tmp_path / "none" / "a.dxf")


def test_reader_of_this_test_refuses_rubbish(tmp_path):
    (tmp_path / "a.dxf").write_text("0\nSECTION\n2\nENT")
    with pytest.raises((DXFStructureError, OSError)):
        ezdxf.readfile(tmp_path / "a.dxf")


def test_classes_stand_in_one_order(tmp_path):
    """The library keeps them in a set, whose order is another in every process; the bytes must not be."""
    document, _ = drawn(tmp_path / "f.dxf")
    names = [(c.dxf.name, c.dxf.cpp_class_name) for c in document.classes]
    assert len(names) > 5
    assert names == sorted(names)


def test_lettering_along_a_tube_is_never_past_upright(tmp_path):
    """Read from below or from the right, as ISO 129-1 has it."""
    from droptrail.converters.files.drafting.projection import readable

    path = tmp_path / "frame.dxf"
    draw_frame(BICYCLE, path)
    turns = []
    for dimension in ezdxf.readfile(path).query("DIMENSION"):
        turns += [
            text.dxf.get("rotation", 0.0) for text in dimension.get_geometry_block().query("MTEXT")
        ]
    assert len(turns) > 10
    assert [turn for turn in turns if readable(turn) != pytest.approx(turn)] == []
