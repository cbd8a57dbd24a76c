"""Held how: rankings by hand, and the sample tourer against figures of an independent beam program."""

from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from droptrail.converters.inputs import read_input
from droptrail.converters.showing.choice.held_table import (
    held_audit_table,
    held_json,
    held_lines,
    held_rankings_table,
    held_table,
)
from droptrail.model.cases.held import held_cases, holdings
from droptrail.model.cases.library import load_cases
from droptrail.model.choice import together
from droptrail.model.choice.compare import compare
from droptrail.model.choice.figures import Figure
from droptrail.model.choice.held import Contender, Held, held_findings, study
from droptrail.model.choice.held_tubes import held_rankings
from droptrail.model.choice.variants import Variant
from droptrail.model.errors import ModelError
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.mechanics.solve import solve
from droptrail.model.postprocess.sensitivity import ranking, sensitivities
from droptrail.model.words import spoken
from helpers_bicycle import grown, tourer
from helpers_plans import otherwise

FOLDER = Path(__file__).parents[2] / "sample_drawings"
SAMPLE = read_input(FOLDER / "tourer_700c.csv").bicycle
BIKE = tourer()
WAYS = holdings("saddle_push")
STIFFNESS = Figure("saddle_push.saddle_vertical", "Weight: saddle", "N/mm", reference=100.0)
MOVEMENT = Figure("seated.saddle_vertical", "Seated: saddle", "mm")


def pushes(bicycle, layout):
    return load_cases(bicycle, layout, ("side_push", "iso_vertical"))


def contenders(*grams):
    """The bicycle as it stands (1000 g), then one for each mass, each changing one tube."""
    others = [Contender(f"tube {k}", BIKE, g, 1) for k, g in enumerate(grams, 1)]
    return (Contender("as it stands", BIKE, 1000.0, 0), *others)


def held(values, *grams, figure=STIFFNESS):
    return Held("saddle_push", figure, WAYS, contenders(*grams), values)


# --- ranking by hand ------------------------------------------------------------------------------------------------
def test_two_that_change_places_are_told_with_the_ways():
    one = held(((100.0,) * 3, (110.0, 104.0, 101.0), (105.0, 108.0, 103.0)), 1020.0, 1020.0)
    (by_change, by_price) = one.turns()
    assert by_change.words == "tube 1 before tube 2 in 1 of 3 ways to hold it (as told)"
    assert [way.name for way in by_change.behind] == ["hubs_fixed", "on_wheels"]
    assert by_price.by == "per_10_g"
    assert one.undecided() == ("change", "per_10_g")
    finding = one.finding()
    assert finding.code == "depends-on-holding"
    assert "tube 1 before tube 2 in 1 of 3 ways" in finding.message
    assert finding.where == "saddle_push"


def test_the_price_may_turn_where_the_change_does_not():
    """By hand: 110, 108 for 40 g are +2.5 and +2.0 % for 10 g; 106, 104 for 20 g are +3.0 and +2.0; 100.5 and 100.4."""
    values = ((100.0,) * 3, (110.0, 108.0, 110.0), (106.0, 103.8, 104.8))
    one = held(values, 1040.0, 1020.0)
    assert one.gain(1, 0, "per_10_g") == pytest.approx(2.5)
    assert one.gain(2, 0, "per_10_g") == pytest.approx(3.0)
    assert one.undecided() == ("per_10_g",)
    first, *rest = one.sentences()
    assert first.startswith("for 10 g: tube 1 before tube 2 in 2 of 3 ways")
    assert rest == ["by the change as entered the best stays the best in all 3 ways to hold it"]


def test_less_movement_is_stiffer():
    one = held(((2.0,) * 3, (1.9,) * 3, (1.8, 1.8, 1.95)), 1020.0, 1020.0, figure=MOVEMENT)
    assert one.change(1, 0) == pytest.approx(-5.0)
    assert one.gain(1, 0) == pytest.approx(5.0)
    assert one.gain(2, 0) > one.gain(1, 0) > 0
    assert "tube 1 before tube 2 in 1 of 3" in one.sentences()[0]


def test_level_ones_do_not_change_places():
    one = held(((100.0,) * 3, (110.0, 108.0, 104.0), (110.03, 107.98, 104.0)), 1020.0, 1020.0)
    assert one.turns() == ()
    assert one.undecided() == ()
    assert one.finding() is None


def test_two_tubes_are_not_ranked_with_one():
    both = Contender("both", BIKE, 1040.0, 2)
    values = ((100.0,) * 3, (110.0, 104.0, 101.0), (105.0, 108.0, 103.0))
    one = Held("saddle_push", STIFFNESS, WAYS, (*contenders(1020.0)[:2], both), values)
    assert one.groups("change") == []
    assert one.sentences() == ()


def test_a_lighter_tube_has_no_price():
    one = held(((100.0,) * 3, (99.0,) * 3, (98.0,) * 3), 990.0, 1000.2)
    assert one.groups("per_10_g") == []
    assert one.undecided() == ()


# --- against another program ----------------------------------------------------------------------------------------
def test_the_sample_tourer_as_an_independent_beam_program_has_it():
    """Head sideways, N/mm, of the same frame in a beam program of another house (three digits): as told, rear gripped,
    front upright, both; and what a larger top or down tube gains in percent, as told and with both gripped."""
    variants = (
        Variant("top", {"top_tube": _larger("top_tube", 30.0)}),
        Variant("down", {"down_tube": _larger("down_tube", 34.9)}),
    )
    # That program's frame had these two settings.
    fittings = replace(SAMPLE.fittings, chainstay_spacing=44.0, blade_spacing=62.0)
    comparison = compare(replace(SAMPLE, fittings=fittings), variants, pushes)
    (one,) = comparison.held
    at = {way.name: number for number, way in enumerate(one.ways)}
    told = [one.values[0][at[name]] for name in _FOUR]
    assert told == pytest.approx([19.6, 25.5, 40.4, 52.2], abs=0.06)
    assert one.change(1, at["as_told"]) == pytest.approx(4.6, abs=0.06)
    assert one.change(2, at["as_told"]) == pytest.approx(8.2, abs=0.06)
    assert one.change(1, at["both_gripped"]) == pytest.approx(2.9, abs=0.06)
    assert one.change(2, at["both_gripped"]) == pytest.approx(1.2, abs=0.06)
    assert [f.code for f in held_findings(comparison.held)] == ["depends-on-holding"]
    assert "depends-on-holding" in [f.code for f in comparison.findings]
    assert one.sentences()[0].startswith("by the change as entered: top before down in 2 of 6 ways")


_FOUR = ("as_told", "rear_gripped", "front_upright", "both_gripped")


def _larger(tube, diameter):
    present = SAMPLE.tubes[tube]
    return present.scaled(diameter - present.od_start, 0.0)


def test_a_study_solves_what_the_case_says_and_nothing_that_has_one_way():
    """Each value is the full solver's own, way by way; a case that names its rig is not studied."""
    layout = lay_out(BIKE)
    larger = grown(BIKE, "top_tube", diameter=3.2)
    rows = (*contenders()[:1], Contender("larger", larger, 1010.0, 1))
    (one,) = study(rows, pushes)
    case = pushes(BIKE, layout)[0]
    for number, (way, changed) in enumerate(held_cases(case, BIKE, layout)):
        assert one.ways[number].name == way.name
        for row, bicycle in enumerate((BIKE, larger)):
            result = solve(mesh(bicycle, layout=layout), [changed])[changed.name]
            expected = result.stiffness["head_sideways"]
            assert one.values[row][number] == pytest.approx(expected, rel=1e-12)


# --- tubes ----------------------------------------------------------------------------------------------------------
def test_the_best_use_of_10_g_under_every_way():
    layout = lay_out(BIKE)
    cases = load_cases(BIKE, layout, ("side_push", "iso_vertical"))
    (one,) = held_rankings(BIKE, cases)
    firsts = []
    for _, held_so in held_cases(cases[0], BIKE, layout):
        best = ranking(sensitivities(BIKE, [held_so]), held_so.name, "head_sideways")[0]
        firsts.append(f"{spoken(best.tube)} {best.parameter}")
    assert one.firsts == Counter(firsts)
    gripped = dict(zip((way.name for way in one.ways), one.best, strict=True))["both_gripped"]
    changed = next(c for way, c in held_cases(cases[0], BIKE, layout) if way.name == "both_gripped")
    alone = ranking(sensitivities(BIKE, [changed]), changed.name, "head_sideways")
    assert [row.tube for row in gripped] == [row.tube for row in alone[:3]]
    assert (one.finding() is None) == (len(one.firsts) == 1)
    assert held_rankings(BIKE, cases[1:]) == ()
    table = held_rankings_table(one)
    assert len(table.rows) == len(one.ways)
    assert one.sentence.lower() in table.notes.lower()


# --- tables ---------------------------------------------------------------------------------------------------------
def test_a_table_shows_change_and_price_and_the_words():
    one = held(((100.0,) * 3, (110.0, 104.0, 101.0), (105.0, 108.0, 103.0)), 1020.0, 990.0)
    table = held_table(one)
    assert table.rows[0] == ["as told", 100.0, "+10.0 (+5.0)", "+5.0"]
    assert table.headings == ("held how", "saddle vertical [N/mm]", "tube 1", "tube 2")
    assert "tube 1 before tube 2 in 1 of 3 ways" in table.notes
    assert all(way.words in table.notes for way in WAYS[1:])


def test_of_many_variants_the_stiffest_are_shown_and_json_holds_all():
    values = ((100.0,) * 3, *(((101.0 + k),) * 3 for k in range(6)))
    one = held(values, *(1010.0,) * 6)
    table = held_table(one)
    assert [column.heading for column in table.columns[2:]] == [f"tube {k}" for k in (3, 4, 5, 6)]
    assert "4 stiffest as told of 6" in table.notes
    (told,) = held_json([one])
    assert [one["name"] for one in told["ways"][0]["variants"]][-1] == "tube 6"
    assert told["ways"][1]["variants"][-1]["value"] == 106.0
    assert told["ways"][1]["variants"][-1]["change_percent"] == pytest.approx(6.0)
    assert told["ways"][1]["variants"][-1]["stiffer_percent_per_10_g"] == pytest.approx(6.0)
    assert ["saddle_push.saddle_vertical", "N/mm", "hubs fixed", "tube 6", 106.0] in held_lines(
        [one]
    )


def test_the_audit_sets_every_way_against_the_one_told():
    one = held(((100.0, 150.0, 50.0),))
    table = held_audit_table([one])
    assert [row[3] for row in table.rows] == [None, pytest.approx(50.0), pytest.approx(-50.0)]


def several_ways(bicycle, layout):
    return load_cases(bicycle, layout, ("side_push", "saddle_push", "climb"))


def test_contenders_are_solved_in_one_batch_and_have_the_figures_of_each_alone(monkeypatch):
    """Fewer than four are solved in full: one by one is the reference."""
    frames = [BIKE, *otherwise(BIKE, 12, 5)]
    every = [Contender(f"frame {k}", frame, 1000.0, k) for k, frame in enumerate(frames)]
    alone = [study([one], several_ways) for one in every]
    full = []
    in_full = together.figures_of_one

    def counted(*args):
        full.append(args)
        return in_full(*args)

    monkeypatch.setattr(together, "figures_of_one", counted)
    studied = study(every, several_ways)
    # the witness alone
    assert len(full) == 1
    assert [one.case for one in studied] == ["side_push", "saddle_push", "climb"]
    for place, one in enumerate(studied):
        assert len(one.ways) > 1
        for row, values in enumerate(one.values):
            np.testing.assert_allclose(values, alone[row][place].values[0], rtol=3e-9)
    # and of each case in its own place: solved here way by way
    layout = lay_out(BIKE)
    for one, case in zip(studied, several_ways(BIKE, layout), strict=True):
        for value, (_, changed) in zip(one.values[0], held_cases(case, BIKE, layout), strict=True):
            result = solve(mesh(BIKE, layout=layout), [changed])[changed.name]
            name = changed.measures[0].name
            expected = result.stiffness[name] or result.measured[name]
            assert value == pytest.approx(expected, rel=3e-9)


def test_a_contender_that_cannot_be_solved_is_refused_in_its_words():
    broken = replace(BIKE, dimensions=replace(BIKE.dimensions, top_tube_on_seat_tube=700.0))
    every = [Contender("as it stands", BIKE, 1000.0, 0), Contender("broken", broken, 1000.0, 1)]
    with pytest.raises(ModelError, match="the top tube joins the seat tube"):
        study(every, several_ways)
