"""REGION objects: frames and wheels drawn as flat bodies, as text (SAT) and as bytes (SAB), through files of ezdxf."""

from pathlib import Path

import ezdxf
import numpy as np
import pytest
from droptrail.converters.drawings.drawing import Curve
from droptrail.converters.drawings.dxf.read_dxf import read_dxf
from droptrail.converters.drawings.sideview.read import read_side_view
from droptrail.model.errors import InputError
from helpers_habits import DrawnFrame, Habit, Item, draw, random_drawn_frame
from helpers_regions import Drawn, Flat
from test_workshop_sheets import off, true_items

# file version, and the version of its bodies; None: bytes
FILES = [("R2000", 400), ("R2000", 700), ("R2010", 700), ("R2013", None), ("R2018", None)]


def ring(item: Item) -> list[Drawn]:
    """A whole circle: one edge from one vertex to itself."""
    (x, y), r = item.points[0], item.radius
    return [Drawn((x + r, y), (x + r, y), (x, y), (r, 0.0))]


def walls(item: Item) -> list[Drawn]:
    corners = item.points
    return [Drawn(a, b) for a, b in zip(corners, (*corners[1:], corners[0]), strict=True)]


def file_of(flats: list[Flat], version: str, kernel: int | None, path: Path) -> Path:
    doc = ezdxf.new(version, units=4)
    doc.modelspace().add_line((0, -900), (10, -900))
    for flat in flats:
        region = doc.modelspace().add_region()
        if kernel is None:
            region.sab = flat.sab()
        else:
            region.sat = flat.sat(kernel)
    doc.saveas(path)
    return path


def frame_of_regions() -> tuple[DrawnFrame, list[Flat]]:
    rng = np.random.default_rng(12)
    frame = random_drawn_frame(rng)
    sheet = draw(frame, Habit(lines="boxes"), rng)
    flats = []
    for item in sheet.items:
        edges = ring(item) if item.kind == "circle" else walls(item)
        flats.append(Flat().loop(edges))
    return frame, flats


@pytest.mark.parametrize(("version", "kernel"), FILES)
def test_a_frame_of_regions_is_read_to_the_micrometre(version, kernel, tmp_path):
    frame, flats = frame_of_regions()
    view = read_side_view(file_of(flats, version, kernel, tmp_path / "regions.dxf"))
    d = view.dimensions
    got = {**vars(d), **d.derived(), "stack": d.stack}
    for name, value in true_items(frame).items():
        assert got[name] == pytest.approx(value, abs=1e-6), name


def curves(edges: list[Drawn], path: Path) -> tuple[Curve, ...]:
    flat = Flat().loop(edges)
    return read_dxf(file_of([flat], "R2010", 700, path)).curves[1:]


@pytest.mark.parametrize("turning", [1.0, -1.0])
@pytest.mark.parametrize("backwards", [False, True])
def test_which_part_of_a_circle_an_edge_takes(turning, backwards, tmp_path):
    """From (10, 0) to (0, 10): the quarter with the curve's own turn, the other three against it."""
    edge = Drawn((10.0, 0.0), (0.0, 10.0), (0.0, 0.0), (10.0, 0.0), 1.0, turning, backwards)
    (arc,) = curves([edge], tmp_path / "arc.dxf")
    quarter = (turning > 0.0) != backwards
    assert arc.kind == "arc"
    assert (arc.points[:, 0].min() < -9.9) != quarter
    assert np.hypot(*arc.points.T) == pytest.approx(10.0)
    ends = sorted(map(tuple, arc.points[[0, -1]].round(9).tolist()))
    assert ends == [(0.0, 10.0), (10.0, 0.0)]


def test_an_ellipse_has_the_half_axes_it_states(tmp_path):
    edge = Drawn((30.0, 5.0), (30.0, 5.0), (10.0, 5.0), (20.0, 0.0), 0.4)
    (ellipse,) = curves([edge], tmp_path / "ellipse.dxf")
    x, y = (ellipse.points - (10.0, 5.0)).T
    assert (x / 20.0) ** 2 + (y / 8.0) ** 2 == pytest.approx(1.0)
    assert ellipse.kind == "ellipse"


@pytest.mark.parametrize("kernel", [400, 700])
def test_a_body_placed_by_a_matrix_of_its_own(kernel, tmp_path):
    flat = Flat().loop([Drawn((3.0, 0.0), (3.0, 0.0), (0.0, 0.0), (3.0, 0.0))], (100.0, 50.0), 2.0)
    found = read_dxf(file_of([flat], "R2000", kernel, tmp_path / "placed.dxf")).curves
    (circle,) = [c for c in found if c.kind == "circle"]
    assert circle.centre == pytest.approx((100.0, 50.0))
    assert circle.radius == pytest.approx(6.0)


def test_a_region_with_a_spline_is_named_and_in_every_refusal(tmp_path):
    frame, flats = frame_of_regions()
    odd = Flat().loop([Drawn((0.0, 0.0), (9.0, 0.0), spline=True), Drawn((9.0, 0.0), (0.0, 0.0))])
    path = file_of([*flats, odd], "R2010", 700, tmp_path / "odd.dxf")
    view = read_side_view(path)
    assert off(view, true_items(frame)) == []
    (told,) = [f for f in view.findings if f.code == "dxf-explode-first"]
    assert "1 REGION" in told.message
    lone = file_of([*flats[:2], odd], "R2010", 700, tmp_path / "lone.dxf")
    with pytest.raises(InputError, match="REGION"):
        read_side_view(lone)


@pytest.mark.parametrize(
    "damage", [b"no body", b"ACIS BinaryFile", b"ACIS BinaryFile" + b"\x00" * 40]
)
def test_damaged_bytes_are_named_not_a_crash(damage, tmp_path):
    doc = ezdxf.new("R2013", units=4)
    doc.modelspace().add_line((0, 0), (10, 0))
    region = doc.modelspace().add_region()
    region.sab = damage
    doc.saveas(tmp_path / "damaged.dxf")
    drawing = read_dxf(tmp_path / "damaged.dxf")
    assert any("1 REGION" in f.message for f in drawing.findings)
    assert len(drawing.curves) == 1


def test_the_helper_writes_what_ezdxf_reads():
    """The same flat square by ezdxf's own reader of bodies: four corners."""
    from ezdxf.acis import api

    square = [(0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0)]
    edges = [Drawn(a, b) for a, b in zip(square, [*square[1:], square[0]], strict=True)]
    for data in (Flat().loop(edges).sat(700), Flat().loop(edges).sab()):
        (body,) = api.load(data)
        corners = {tuple(v.xy.round(6)) for v in api.vertices_from_body(body)}
        assert {(round(x, 6), round(y, 6)) for x, y, *_ in corners} == set(square)
