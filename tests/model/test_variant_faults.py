"""What a variant breaks is told once with the variants' names, gaps among it; what the bicycle has already is not."""

from dataclasses import replace
from pathlib import Path

import pytest
from droptrail.converters.inputs import read_input
from droptrail.model.choice.variant_faults import variant_faults
from droptrail.model.choice.workshop_rules import Rules

SAMPLES = Path(__file__).parents[2] / "sample_drawings"


@pytest.fixture(scope="module")
def tourer():
    return read_input(SAMPLES / "tourer_700c.csv").need_bicycle()


def wider(bicycle, diameter):
    """The same with a wider top tube."""
    tube = bicycle.tubes["top_tube"]
    return replace(
        bicycle,
        tubes={
            **bicycle.tubes,
            "top_tube": replace(tube, od_start=diameter, od_end=diameter),
        },
    )


def shorter(bicycle, chainstay):
    return replace(bicycle, dimensions=replace(bicycle.dimensions, chainstay=chainstay))


def test_one_fault_of_many_variants_is_told_once_with_three_names(tourer):
    several = [(f"variant {k}", wider(tourer, 31.8)) for k in range(1, 6)]
    (found,) = variant_faults(Rules(), tourer, several)
    assert found.code == "rule-neighbour-size"
    assert found.message.startswith("5 variants (variant 1; variant 2; variant 3; and 2 more): ")
    assert "31.8" in found.message
    (alone,) = variant_faults(Rules(), tourer, several[:1])
    assert alone.message.startswith("variant 1: top tube 31.8")


def test_a_tyre_without_room_in_a_variant_is_a_warning_with_its_gap(tourer):
    """6 mm between tyre and frame: ISO 4210-2, from memory; the sample has 6.2 mm beside its chainstays."""
    found = variant_faults(Rules(), tourer, [("short", shorter(tourer, 440.0))])
    (gap,) = [f for f in found if f.where == "rear tyre to chainstays"]
    assert (gap.code, gap.severity) == ("clearance-small", "warning")
    assert gap.message.startswith("short: rear tyre to chainstays: ")
    assert "6 mm are wanted" in gap.message


def test_what_the_bicycle_has_already_is_not_told_again(tourer):
    short = shorter(wider(tourer, 31.8), 440.0)
    assert variant_faults(Rules(), short, [("same", short)]) == []
    # and the other way round something is told, so that nothing is no accident
    assert len(variant_faults(Rules(), tourer, [("both", short)])) >= 2
