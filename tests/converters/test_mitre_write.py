"""Templates read back from the files, wrapped round the tube again, and held against the neighbour in space."""

import re
from dataclasses import replace
from itertools import pairwise
from math import pi
from xml.etree import ElementTree

import ezdxf
import numpy as np
import pytest
from droptrail.converters.files.drafting.mitre import ALL_IN_ONE, svg_text, write_mitres
from droptrail.converters.files.drafting.mitre_pdf import EDGE, OVERLAP, _sheet, tiles
from droptrail.converters.files.drafting.template import A4, PAPERS, base_distance, template
from droptrail.model.errors import InputError
from droptrail.model.frame.bicycle import Fittings
from droptrail.model.frame.frame_mitres import cut_lengths, frame_mitres
from helpers_drawn import BICYCLE, TUBES, neighbour_of, off_axis, wrapped_back

SVG = "{http://www.w3.org/2000/svg}"
MITRES = {f"{m.member}_at_{m.cuts[0].neighbour}": m for m in frame_mitres(BICYCLE)}


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    place = tmp_path_factory.mktemp("mitres") / "new"
    paths, _ = write_mitres(BICYCLE, place)
    assert {p.name for p in paths} == {
        *(f"{name}.{kind}" for name in MITRES for kind in ("svg", "dxf")),
        ALL_IN_ONE,
    }
    return place


def lines_in_svg(path, style):
    """Polylines of a class in mm, y up, from the lower left corner of the page."""
    root = ElementTree.parse(path).getroot()
    height = float(root.get("height").removesuffix("mm"))
    found = [
        np.array([[float(v) for v in pair.split(",")] for pair in e.get("points").split()])
        for e in root.iter(f"{SVG}polyline")
        if e.get("class") == style
    ]
    return [points * (1, -1) + (0, height) for points in found]


def words_in_svg(root):
    """Text -> where its outline is put."""
    groups = [e for e in root.iter(f"{SVG}g") if e.get("class") == "words"]
    return {e.find(f"{SVG}title").text: e.get("transform") for e in groups}


def sleeve(path):
    """(left, right, base) of the sleeve's outline."""
    outline = lines_in_svg(path, "paper")[0]
    return outline[:, 0].min(), outline[:, 0].max(), outline[:, 1].min()


@pytest.mark.parametrize("name", MITRES)
def test_cut_line_wrapped_round_the_tube_lies_on_the_neighbour(folder, name):
    """Printed side out: right on the paper x up on the paper points out of the tube."""
    mitre, (left, _, base) = MITRES[name], sleeve(folder / f"{name}.svg")
    for points in lines_in_svg(folder / f"{name}.svg", "cut"):
        phi = (points[:, 0] - left) / mitre.radius
        distance = base_distance(mitre) - (points[:, 1] - base)
        gaps = []
        for cut in mitre.cuts:
            at, direction, radius = neighbour_of(BICYCLE, cut.neighbour)
            gaps.append(
                abs(off_axis(wrapped_back(BICYCLE, mitre, phi, distance) - at, direction) - radius)
            )
        assert np.min(gaps, axis=0).max() < 5e-4  # coordinates are written to 0.1 micrometre
        step = 1e-4
        here, right, up = (
            wrapped_back(BICYCLE, mitre, phi[:1] + a, distance[:1] - b)
            for a, b in ((0, 0), (step, 0), (0, step))
        )
        outward = here - wrapped_back(BICYCLE, mitre, phi[:1] + pi, distance[:1])
        assert float((np.cross(right - here, up - here) @ outward.T).item()) > 0


@pytest.mark.parametrize("name", MITRES)
def test_page_is_in_mm_and_the_sleeve_goes_round_once(folder, name):
    root = ElementTree.parse(folder / f"{name}.svg").getroot()
    assert (root.get("width"), root.get("height")) == ("210mm", "297mm")
    assert root.get("viewBox") == "0 0 210 297"
    left, right, _ = sleeve(folder / f"{name}.svg")
    assert right - left == pytest.approx(pi * MITRES[name].od, abs=2e-4)
    ruler = max(lines_in_svg(folder / f"{name}.svg", "note"), key=lambda line: np.ptp(line[:, 0]))
    assert np.ptp(ruler[:, 0]) == pytest.approx(100.0, abs=1e-9)


@pytest.mark.parametrize("name", MITRES)
def test_dxf_holds_the_same_lines_in_mm(folder, name):
    doc = ezdxf.readfile(folder / f"{name}.dxf")
    assert doc.header["$INSUNITS"] == 4
    for layer, style in (("CUT_LINE", "cut"), ("BORE_LINE", "bore")):
        drawn = [
            np.array([p[:2] for p in e.get_points()])
            for e in doc.modelspace().query(f'LWPOLYLINE[layer=="{layer}"]')
        ]
        printed = lines_in_svg(folder / f"{name}.svg", style)
        assert len(drawn) == len(printed) > 0
        for a, b in zip(drawn, printed, strict=True):
            np.testing.assert_allclose(a, b, atol=1e-4)


def test_quarter_marks_carry_their_names(folder):
    root = ElementTree.parse(folder / "top_tube_at_head_tube.svg").getroot()
    mitre, (left, _, _) = (
        MITRES["top_tube_at_head_tube"],
        sleeve(folder / "top_tube_at_head_tube.svg"),
    )
    marks = {
        text: float(place.split("(")[1].split()[0])
        for text, place in words_in_svg(root).items()
        if text.split()[0] in ("90", "180", "270")
    }
    quarter = pi * mitre.od / 4
    assert marks == pytest.approx(
        {
            "90 drive side": left + quarter - 1,
            "180 bottom": left + 2 * quarter - 1,
            "270 left side": left + 3 * quarter - 1,
        },
        abs=1e-3,
    )


def test_notes_say_what_to_set_and_saw(folder):
    root = ElementTree.parse(folder / "top_tube_at_head_tube.svg").getroot()
    words = " ".join(words_in_svg(root))
    length = next(c for c in cut_lengths(tuple(MITRES.values())) if c.member == "top_tube")
    angle = MITRES["top_tube_at_head_tube"].cuts[0].acute
    for expected in (
        "28.60 mm",
        f"at {angle:.2f} degrees",
        f"saw it {length.longest:.1f} mm",
        "Print at 100 %",
        f"{length.centre_to_centre:.1f} mm centre to centre",
    ):
        assert expected in words


def test_words_and_lines_stay_on_the_page():
    fat = replace(
        BICYCLE,
        tubes={**TUBES, "down_tube": replace(TUBES["down_tube"], od_start=60.0, od_end=60.0)},
    )
    for bicycle in (BICYCLE, fat):
        mitres = frame_mitres(bicycle)
        lengths = {c.member: c for c in cut_lengths(mitres)}
        for mitre in mitres:
            page = template(mitre, lengths[mitre.member], bicycle.name)
            assert page.width >= A4[0]
            for stroke in page.strokes:
                assert stroke.points.min() >= 10
                assert (stroke.points.max(axis=0) <= (page.width - 10, page.height - 10)).all()
            # a letter is 0.58 of the capitals' height wide on average, measured on a rendered page
            for words in page.words:
                assert (
                    words.at[0] + (0 if words.rotation else 0.6 * words.height * len(words.text))
                    < page.width - 8
                )


def test_letters_are_outlines(folder):
    """No viewer's own font: the width of each text is that of its outline, and it ends on the page."""
    for name in MITRES:
        root = ElementTree.parse(folder / f"{name}.svg").getroot()
        assert not list(root.iter(f"{SVG}text"))
        for text, place in words_in_svg(root).items():
            outline = next(
                e.find(f"{SVG}path").get("d")
                for e in root.iter(f"{SVG}g")
                if e.get("class") == "words" and e.find(f"{SVG}title").text == text
            )
            along = [
                float(pair.split(",")[0]) for pair in re.findall(r"-?[\d.]+,-?[\d.]+", outline)
            ]
            if "rotate" not in place:
                assert float(place.split("(")[1].split()[0]) + max(along) < 200


FAT = replace(
    BICYCLE,
    tubes={**TUBES, "down_tube": replace(TUBES["down_tube"], od_start=70.0, od_end=70.0)},
)


@pytest.mark.parametrize("paper", PAPERS)
def test_one_pdf_holds_every_template_on_the_paper_asked_for(tmp_path, paper):
    (path,), _ = write_mitres(FAT, tmp_path, ("pdf",), paper=paper)
    data = path.read_bytes()
    mitres = [m for m in frame_mitres(FAT) if m.coverage]
    wide = [m for m in mitres if m.wrap_length > 170]
    assert len(wide) == 2
    assert len(re.findall(rb"/Type /Page\b", data)) == len(mitres) + len(wide)  # two sheets each
    boxes = {tuple(map(float, box.split())) for box in re.findall(rb"/MediaBox \[([^]]*)\]", data)}
    (box,) = boxes
    assert box[2:] == pytest.approx([side / 25.4 * 72 for side in PAPERS[paper]], abs=0.01)
    assert b"/FontFile2" in data  # the letters travel with it


@pytest.mark.parametrize("paper", PAPERS)
def test_tiles_cover_the_template_and_share_a_strip(paper):
    sheet = PAPERS[paper]
    mitre = next(m for m in frame_mitres(FAT) if m.member == "down_tube")
    picture = template(mitre, cut_lengths((mitre,))[0], "fat", sheet)
    found = tiles(picture, sheet)
    assert len(found) > 1
    reach = [(t.left + EDGE, t.left + sheet[0] - EDGE) for t in found]
    for (_, end), (start, _) in pairwise(reach):
        assert end - start == pytest.approx(OVERLAP)
    assert reach[-1][1] >= picture.width - EDGE
    for stroke in picture.strokes:  # every stroke stands whole or in part on some sheet
        x = stroke.points[:, 0]
        assert any(((x >= low) & (x <= high)).any() for low, high in reach)


def test_a_millimetre_of_the_template_is_a_millimetre_of_paper():
    mitre = MITRES["top_tube_at_head_tube"]
    picture = template(mitre, cut_lengths((mitre,))[0], "", A4)
    (tile,) = tiles(picture, A4)
    figure = _sheet(picture, tile, [tile], A4)
    (axes,) = figure.axes
    to_paper = axes.transData + figure.dpi_scale_trans.inverted()
    ends = to_paper.transform([(0.0, 0.0), (100.0, 200.0)])
    assert (ends[1] - ends[0]) * 25.4 == pytest.approx([100.0, 200.0], abs=1e-6)


def test_stay_that_touches_in_part_has_a_broken_line(folder):
    (line,) = lines_in_svg(folder / "seatstay_right_at_seat_tube.svg", "cut")
    left, right, _ = sleeve(folder / "seatstay_right_at_seat_tube.svg")
    assert left + 1 < line[:, 0].min()
    assert line[:, 0].max() < right - 1


def test_end_that_meets_nothing_is_a_finding_and_no_page(tmp_path):
    wide = replace(BICYCLE, fittings=Fittings(seatstay_spacing=60.0))
    paths, findings = write_mitres(wide, tmp_path, ("svg",))
    assert not [p for p in paths if "seatstay" in p.name]
    assert len([p for p in paths if "chainstay" in p.name]) == 2
    assert [f.where for f in findings if "does not touch" in f.message] == [
        "seatstay_right",
        "seatstay_left",
    ]


def test_text_with_signs_of_its_own_stays_well_formed():
    mitre = MITRES["top_tube_at_head_tube"]
    length = next(c for c in cut_lengths((mitre,)))
    text = svg_text(template(mitre, length, 'A & B <"no 1">'))
    assert (
        ElementTree.fromstring(text).find(f"{SVG}title").text.startswith('A & B <"no 1">: top tube')
    )


def test_existing_templates_are_kept_without_force(tmp_path):
    kept = tmp_path / "top_tube_at_seat_tube.svg"
    kept.write_text("kept")
    with pytest.raises(InputError, match="exists already"):
        write_mitres(BICYCLE, tmp_path)
    assert kept.read_text() == "kept"
    write_mitres(BICYCLE, tmp_path, force=True)
    assert "<svg" in kept.read_text()


def test_folder_that_cannot_be_made_is_named(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(InputError, match="cannot be made"):
        write_mitres(BICYCLE, tmp_path / "file" / "below")
