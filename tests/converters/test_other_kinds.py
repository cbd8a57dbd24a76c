"""Recumbents and cargo bicycles are refused for what they are; invented side views, proportions are common practice."""

import itertools
from math import cos, radians, sin

import pytest
from droptrail.converters.drawings.drawing import Drawing
from droptrail.converters.drawings.linework.plane import Vec
from droptrail.converters.drawings.sideview.recognise import recognise
from droptrail.model.errors import InputError
from helpers_habits import Sheet, place


def chain(sheet: Sheet, *points: Vec) -> None:
    for p, q in itertools.pairwise(points):
        sheet.line(p, q, "frame")


def wheels_and_cranks(sheet: Sheet, rear: float, front: tuple[Vec, float], cranks: Vec) -> None:
    sheet.circle((0.0, 0.0), rear, "wheel_rear")
    sheet.circle(*front, "wheel_front")
    sheet.circle(cranks, 20.0, "bb_shell")
    sheet.circle(cranks, 90.0, "crank")


def cargo(sheet: Sheet) -> None:
    """The load between head tube and a small front wheel that rods steer."""
    bb = (440.0, -60.0)
    wheels_and_cranks(sheet, 340.0, ((1950.0, -85.0), 255.0), bb)
    top = (bb[0] - 540.0 * cos(radians(73.0)), bb[1] + 540.0 * sin(radians(73.0)))
    chain(sheet, (0.0, 0.0), bb, top)
    chain(sheet, (0.0, 0.0), (top[0] + 25.0, top[1] - 85.0))
    chain(sheet, (930.0, 480.0), (975.0, 335.0))
    chain(sheet, (top[0] + 20.0, top[1] - 60.0), (935.0, 460.0))
    chain(sheet, bb, (965.0, 365.0))
    chain(sheet, (970.0, 345.0), (1050.0, -150.0), (1650.0, -150.0), (1720.0, 300.0))
    chain(sheet, (1720.0, 300.0), (1760.0, 160.0), (1950.0, -85.0))


def short_recumbent(sheet: Sheet) -> None:
    bb = (1400.0, 250.0)
    wheels_and_cranks(sheet, 310.0, ((1050.0, -75.0), 235.0), bb)
    chain(sheet, bb, (900.0, 150.0), (350.0, 100.0), (0.0, 0.0))
    chain(sheet, (980.0, 330.0), (1010.0, 210.0), (1050.0, -75.0))
    chain(sheet, (350.0, 100.0), (150.0, 500.0))
    chain(sheet, (0.0, 0.0), (250.0, 300.0))


def long_recumbent(sheet: Sheet) -> None:
    bb = (1300.0, 120.0)
    wheels_and_cranks(sheet, 310.0, ((1650.0, -75.0), 235.0), bb)
    chain(sheet, (0.0, 0.0), (500.0, 50.0), (1450.0, 150.0))
    chain(sheet, (1440.0, 330.0), (1480.0, 180.0), (1650.0, -75.0))
    chain(sheet, (500.0, 50.0), (350.0, 450.0))
    chain(sheet, (0.0, 0.0), (360.0, 350.0))


KINDS = [
    (cargo, "a cargo bicycle"),
    (short_recumbent, "a recumbent .*ahead of the wheel"),
    (long_recumbent, "a recumbent .*high above"),
]


def drawn(what, mirrored: bool = False, scale: float = 1.0) -> Drawing:
    sheet = Sheet()
    what(sheet)
    return place(sheet, mirrored=mirrored, scale=scale).drawing()


@pytest.mark.parametrize(("what", "named"), KINDS)
@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("scale", [1.0, 0.1])
def test_it_is_refused_for_what_it_is(what, named, mirrored, scale):
    with pytest.raises(InputError, match=f"this drawing describes {named}"):
        recognise(drawn(what, mirrored, scale))


def test_a_drawing_without_cranks_is_no_recumbent():
    def bare(sheet: Sheet) -> None:
        short_recumbent(sheet)
        sheet.items[:] = [i for i in sheet.items if i.part not in ("bb_shell", "crank")]

    with pytest.raises(InputError) as refused:
        recognise(drawn(bare))
    assert "recumbent" not in str(refused.value)
