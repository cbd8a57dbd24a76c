"""One row per quantity: consistent in itself, and the only name the program gives it."""

import re
from dataclasses import replace
from math import inf, nan
from pathlib import Path

import pytest
from droptrail.model.geometry.quantities import QUANTITIES, STATED, Quantity
from droptrail.model.geometry.statements import CORE, FIELDS, by_unit, label, quantities

from tests.helpers_bicycle import tourer_dimensions

ROOT = Path(__file__).parents[2]
ROOMS = ("model", "converters", "validation", "cli")
# Second names that were once shown beside the one in the row; a sheet may still use them for its own items.
SECOND_NAMES = re.compile(
    r"\b(bb drop|bb height|bb shell|front[ -]center|rear center)\b", re.IGNORECASE
)
# Modules that hold what drawings and sheets may say: there a second name is a word understood, not one shown.
READS_THE_TRADE = (
    "fitsheet/names.py",
    "fitsheet/items.py",
    "linework/words.py",
    "sideview/written.py",
)


def faults(row: Quantity) -> list[str]:
    """What is wrong with a row in itself."""
    found = []
    low, high = row.believable
    usual_low, usual_high = row.usual
    if not low <= usual_low < usual_high <= high:
        found.append(f"{row.name}: the usual range is not inside the believable one")
    if row.typical is not None and not row.is_usual(row.typical):
        found.append(f"{row.name}: the typical value is not usual")
    if row.unit not in ("mm", "deg"):
        found.append(f"{row.name}: unit {row.unit}")
    return found


def test_every_row_is_sound_and_no_two_share_a_label():
    assert [fault for row in QUANTITIES.values() for fault in faults(row)] == []
    assert len({row.label for row in QUANTITIES.values()}) == len(QUANTITIES)


def test_an_unsound_row_is_noticed():
    row = QUANTITIES["head_angle"]
    assert faults(replace(row, usual=(40.0, 80.0)))
    assert faults(replace(row, typical=61.0))
    assert faults(replace(row, unit="rad"))


def test_the_rows_are_the_fields_and_everything_derived():
    held = tourer_dimensions()
    assert tuple(STATED)[: len(FIELDS)] == FIELDS
    assert {name for name, row in QUANTITIES.items() if row.typical is not None} == set(FIELDS)
    assert set(CORE) <= set(FIELDS)
    assert set(quantities(held)) == set(STATED)
    # the fork length along the axis is a field, and stands among the derived for the JSON contract only
    assert set(held.derived()) - set(QUANTITIES) == {"fork_length_along_axis"}


@pytest.mark.parametrize("name", QUANTITIES)
def test_the_unit_alone_says_what_is_an_angle(name):
    row = QUANTITIES[name]
    assert by_unit(name, mm=1.0, deg=0.1) == (0.1 if row.unit == "deg" else 1.0)
    assert row.is_angle == (row.unit_words == "degrees")


def test_no_number_that_cannot_be_is_believed():
    row = QUANTITIES["trail"]
    assert not any(row.believes(value) for value in (nan, inf, -inf, 301.0, -61.0))
    assert row.believes(-60.0)
    assert row.believes(300.0)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("trail", 56.0),
        ("wheelbase", 1000.0),
        ("stack", 560.0),
        ("reach", 385.0),
        ("bb_drop", 70.0),
        ("standover", 780.0),
        ("front_center", 600.0),
    ],
)
def test_an_ordinary_road_frame_is_usual(name, value):
    """Values of an ordinary 700C frame (common practice, no source)."""
    assert QUANTITIES[name].is_usual(value)


def second_names(text: str) -> list[str]:
    """Second names of quantities in a text that is shown, with its line."""
    return [line.strip() for line in text.splitlines() if SECOND_NAMES.search(line)]


def test_a_quantity_has_one_name_in_every_room():
    assert label("bb_drop") == "bottom bracket drop"
    assert label("front_center") == "front centre"
    files = [
        path
        for room in ROOMS
        for path in sorted((ROOT / room).rglob("*.py"))
        if not path.as_posix().endswith(READS_THE_TRADE)
    ]
    found = {str(p.relative_to(ROOT)): second_names(p.read_text("utf-8")) for p in files}
    assert {name: lines for name, lines in found.items() if lines} == {}


def test_a_second_name_is_noticed():
    assert second_names('words = "BB drop <>"')
    assert second_names('title = "Front center"')
    assert not second_names('key = "front_center"')
