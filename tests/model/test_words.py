"""One way to say a number and a load: four digits, the unit, a dash for none."""

import pytest
from droptrail.model.words import DASH, load_words, number
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
