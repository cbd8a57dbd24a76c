"""What is said of the builder's own tubes: inside another, almost along it, upright, without a length, held stiffly."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from droptrail.converters.files.fitsheet.starter import plan_starter
from droptrail.converters.inputs import Reading, read_input
from droptrail.model.errors import InputError
from droptrail.model.frame.frame_mitres import frame_mitres
from droptrail.model.frame.mitre_findings import mitre_findings
from droptrail.model.frame.slips import bicycle_slips
from droptrail.model.tubes.known_plans import PLANS

SHEET = """item,value,unit
reach,384,mm
head angle,71.5,deg
seat angle,72.5,deg
bottom bracket drop,75,mm
chainstay,450,mm
head tube,160,mm
lower headset stack,12,mm
fork length along axis,394,mm
fork offset,52,mm
front wheel,622,mm
front tyre,35,mm
rear wheel,622,mm
rear tyre,35,mm
seat tube,560,mm
top tube on seat tube,530,mm
top tube below head tube top,35,mm
down tube above head tube bottom,40,mm
seatstay below top tube,15,mm

tube,outside diameter,wall,from,to
"""
FIRST_TUBE = SHEET.count("\n") + 1


@pytest.fixture
def with_rows(tmp_path: Path) -> Callable[..., Reading]:
    def read(*rows: str) -> Reading:
        sheet = tmp_path / "own.csv"
        sheet.write_text(SHEET + "\n".join(rows) + "\n", encoding="utf-8")
        return read_input(sheet)

    return read


def told(reading: Reading, code: str) -> list[str]:
    return [str(f.message) for f in reading.findings if f.code == code]


def test_a_tube_inside_another_is_told(with_rows: Callable[..., Reading]) -> None:
    inside = with_rows("brace,16,0.8,seat tube 0.3,seat tube 0.6")
    (message,) = told(inside, "tube-in-tube")
    assert "runs inside the seat tube all along" in message
    # 40 mm ahead of the seat tube, and across the triangle: beside it, not in it
    for row in (
        "brace,16,0.8,bottom_bracket + 40 100,bottom_bracket + 0 250",
        "brace,16,0.8,seat tube 0.3,down tube 0.3",
    ):
        assert told(with_rows(row), "tube-in-tube") == []


def test_an_end_along_its_neighbour_leaves_the_other_templates(
    with_rows: Callable[..., Reading],
) -> None:
    plain = with_rows("brace,16,0.8,seat tube 0.3,down tube 0.3").need_bicycle()
    flat = with_rows("brace,16,0.8,seat tube 0.3,seat tube 0.6").need_bicycle()
    ends = {(m.member, m.at_end) for m in frame_mitres(plain)}
    left = frame_mitres(flat)
    assert {(m.member, m.at_end) for m in left} == ends - {("brace", "start"), ("brace", "end")}
    said = [f.message for f in mitre_findings(flat, left) if f.code == "mitre-alongside"]
    assert sum("this end has no template" in str(message) for message in said) == 2


def test_an_upright_tube_of_ones_own_is_marked_from_the_front(
    with_rows: Callable[..., Reading],
) -> None:
    """Straight up there is no top side; a template from it would be turned anyhow."""
    reading = with_rows("upright,16,0.8,down tube 0.5,top tube 0.52")
    marks = {m.member: m.marks for m in frame_mitres(reading.need_bicycle())}
    assert marks["upright"][0] == "front"
    assert marks["top_tube"][0] == "top"
    for mitre in frame_mitres(reading.need_bicycle()):
        assert np.isfinite(mitre.long_point), mitre.member


def test_a_place_that_cannot_be_is_refused_with_its_row(with_rows: Callable[..., Reading]) -> None:
    for row, why in (
        ("brace,16,0.8,seat tube 0.3,seat tube 0.3", "starts and ends at one place"),
        ("brace,16,0.8,nowhere,down tube 0.3", "there is no joint called 'nowhere'"),
    ):
        with pytest.raises(InputError, match=why) as refused:
            with_rows("down tube,31.8,0.8,,", row)
        assert f"row {FIRST_TUBE + 1}" in str(refused.value)


@pytest.mark.parametrize(
    ("plan", "tube", "where"),
    [
        ("mixte", "lateral", "head tube"),
        ("raised_chainstays", "chainstay", "seat tube"),
        ("mono_stay", "seatstay", "wishbone"),
        ("truss_fork", "truss_strut", "steerer"),
    ],
)
def test_what_holds_a_pair_apart_is_said_to_be_stiff(plan: str, tube: str, where: str) -> None:
    said = [f for f in bicycle_slips(plan_starter(PLANS[plan])) if f.code == "pair-held-stiffly"]
    assert [f.where for f in said] == [tube]
    assert f"apart at the {where} " in str(said[0].message)


def test_a_diamond_has_no_stiff_arms() -> None:
    codes = {f.code for f in bicycle_slips(plan_starter(PLANS["diamond"]))}
    assert not codes & {"pair-held-stiffly", "tube-in-tube"}


POINTS = """node,x,y,z
root,0,0,0
elbow,500,0,0
elbow too,{x},0,0
tip,500,400,0

member,from,to,outside diameter,wall
one,root,elbow,28.6,0.8
two,elbow too,tip,28.6,0.8

support,held,load case
root,x y z rx ry rz,push

load,load case,Fx,Fy,Fz
tip,push,0,-100,0
"""


def test_two_nodes_at_one_place_are_refused_by_name(tmp_path: Path) -> None:
    """They look like one and join nothing: the part beyond them would be told as loose, without a word of them."""
    sheet = tmp_path / "points.csv"
    for apart in (0.0, 0.0001, 0.04):
        sheet.write_text(POINTS.format(x=500 + apart), encoding="utf-8")
        with pytest.raises(InputError, match=r"elbow and elbow too lie .* give them one name"):
            read_input(sheet)
    # meant apart, as two members that pass one another
    sheet.write_text(POINTS.format(x=501), encoding="utf-8")
    assert read_input(sheet).model is not None
