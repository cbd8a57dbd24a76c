"""A catalogue answers for a member or a name, or says what it holds; tubes next to one another get names apart."""

from dataclasses import replace

import pytest
from droptrail.model.choice.optimum import Range
from droptrail.model.choice.search import set_up
from droptrail.model.choice.variants import grid
from droptrail.model.errors import ModelError
from droptrail.model.reanalysis.fast_options import condense_options
from droptrail.model.tubes.catalogue import Catalogue, StockTube
from droptrail.model.tubes.tube import Tube
from helpers_bicycle import STEEL, tourer

THICK, THIN = (
    Tube(STEEL, 31.8, 31.8, (0.9,)),
    Tube(STEEL, 28.6, 28.6, (0.8, 0.5, 0.8), (75.0, 75.0), (30.0, 30.0)),
)
SHELF = Catalogue(
    (StockTube("Thick", THICK, ("down_tube",)), StockTube("Thin", THIN, ("top_tube", "down_tube"))),
    "shelf.csv",
)


def no_cases(bicycle, layout):
    return ()


def test_the_tubes_meant_for_a_member_in_the_order_of_the_shelf():
    assert [stock.name for stock in SHELF.for_member("down_tube")] == ["Thick", "Thin"]
    assert SHELF.find(" thin ").tube is THIN


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (lambda: SHELF.for_member("seatpost"), "there is no tube 'seatpost'; known: head_tube"),
        (
            lambda: SHELF.for_member("chainstay"),
            "shelf.csv holds no chainstay; it holds: down tube, top tube",
        ),
        (lambda: Catalogue((), "empty.csv").for_member("top_tube"), "it holds: nothing"),
        (lambda: SHELF.find("Thickest"), "shelf.csv holds no tube named 'Thickest'"),
    ],
)
def test_what_is_not_on_the_shelf_is_said(ask, words):
    with pytest.raises(ModelError, match=words):
        ask()


def test_options_that_differ_in_their_butts_only_are_told_apart():
    short, long = (replace(THIN, butts=(a, a), tapers=(30.0, 30.0)) for a in (60.0, 90.0))
    names = [variant.name for variant in grid(tourer(), {"top_tube": (short, long)})]
    assert len(set(names)) == 2
    assert [butts in name for name, butts in zip(names, ("60", "90"), strict=True)] == [True, True]


def test_a_range_spans_the_options_by_their_thinnest_wall():
    assert Range.spanned((THICK, THIN)) == Range((28.6, 31.8), (0.5, 0.9))


def test_a_search_without_options_or_for_a_tube_that_is_not_there_is_refused():
    with pytest.raises(ModelError, match="no tube has options; name some"):
        set_up(tourer(), {}, no_cases)
    with pytest.raises(ModelError, match="the frame has no spare tube to exchange"):
        condense_options(tourer(), {"spare_tube": (THIN,)}, no_cases)
