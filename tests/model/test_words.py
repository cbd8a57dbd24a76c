"""One way to say a number and a load: four digits, the unit, a dash for none."""

import re
from pathlib import Path

import pytest
from droptrail.model.words import DASH, give_or_take, load_words, number, signed
from hypothesis import given, settings
from hypothesis import strategies as st


@pytest.mark.parametrize(
    ("size", "turning", "units", "said"),
    [
        (442.4, False, True, "442 N"),
        (200.0, False, True, "200 N"),
        (-200.0, False, True, "200 N"),
        (150_000.0, True, True, "150 N·m"),
        (80.4375, False, True, "80.4 N"),
        (1851.3, False, True, "1851 N"),
        (12_000.0, False, True, "12000 N"),
        (150_000.0, True, False, "150000"),
        (600.0, False, False, "600"),
        (0.0, False, True, "0 N"),
        (None, False, True, DASH),
        (None, True, False, DASH),
    ],
)
def test_a_load_is_said_with_its_unit_and_without_idle_noughts(size, turning, units, said):
    assert load_words(size, turning, units) == said


@given(st.floats(1e-6, 1e9), st.booleans())
@settings(deadline=None, max_examples=80)
def test_the_words_hold_the_load_to_half_a_newton_or_half_a_unit_in_the_third_digit(size, turning):
    value, unit = load_words(size, turning).split(" ")
    assert unit == ("N·m" if turning else "N")
    shown = size / 1000 if turning else size
    half = 0.501
    if shown < 100:
        half = max(5.1e-3 * shown, 5.1e-4)
    # a great number is written with four digits as every other
    assert float(value) == pytest.approx(shown, rel=0.051 if "e" in value else 5.1e-4, abs=half)


def test_no_value_is_one_dash():
    assert number(None) == number(float("nan")) == load_words(None) == DASH


@pytest.mark.parametrize(
    ("value", "digits", "said"),
    [
        (8.24, 1, "+8.2"),
        (-8.24, 1, "-8.2"),
        (0.04, 1, "0.0"),
        (-0.04, 1, "0.0"),
        (-0.0, 2, "0.00"),
        (1.4e-13, 2, "0.00"),
        (-0.6, 0, "-1"),
        (-0.4, 0, "0"),
        (None, 2, DASH),
        (float("nan"), 2, DASH),
    ],
)
def test_a_difference_carries_its_sign_and_nought_carries_none(value, digits, said):
    assert signed(value, digits) == said


def test_no_other_place_writes_a_sign_by_itself():
    """A bare ``:+.1f`` would print -0.0 or +0.0 for what rounds to nothing."""
    root = Path(__file__).parents[2]
    found = []
    for layer in ("cli", "validation", "converters", "model"):
        for path in (root / layer).rglob("*.py"):
            if re.search(r":\+[.{]", path.read_text(encoding="utf-8")):
                found.append(path.relative_to(root).as_posix())
    assert sorted(found) == ["model/words.py"]


def test_a_doubt_is_never_nought():
    assert give_or_take(0.0234, 2) == "± 0.02"
    assert give_or_take(0.004, 2) == "± less than 0.01"
    assert give_or_take(0.0, 0) == "± less than 1"


def test_a_small_negative_number_has_no_sign():
    assert number(-0.0004) == number(0.0004) == "0.000"
