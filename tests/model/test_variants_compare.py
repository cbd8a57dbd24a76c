"""Variants, workshop rules and the comparison by the full solver."""

from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from droptrail.model.cases.library import load_cases
from droptrail.model.choice.compare import compare
from droptrail.model.choice.frequencies import frequencies
from droptrail.model.choice.search_rules import apply_rules
from droptrail.model.choice.together import solved
from droptrail.model.choice.variants import Reshaped, TubeChange, Variant, grid
from droptrail.model.choice.workshop_rules import (
    RULES,
    Rules,
    frame_faults,
    metal,
    mitre_depths,
    tube_faults,
)
from droptrail.model.errors import ModelError
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.tubes.known_plans import DIAMOND
from droptrail.model.tubes.materials import find_material
from droptrail.model.tubes.tube import Tube
from droptrail.model.vibration.modes import modes
from droptrail.model.vibration.setup import vibration_model
from helpers_bicycle import grown, tourer, tourer_tubes
from helpers_search import THREE, options, small_search

TOP = tourer_tubes()["top_tube"]


# --- changes and grids ----------------------------------------------------------------------------------------
def test_a_change_keeps_what_it_does_not_state():
    assert TubeChange((31.8, 31.8)).of(TOP) == replace(TOP, od_start=31.8, od_end=31.8)
    assert TubeChange(walls=(0.9, 0.6, 0.9)).of(TOP).butts == TOP.butts
    assert TubeChange(walls=(0.9,)).of(TOP).butts == ()
    assert TubeChange(butts=(90.0, 80.0)).of(TOP).tapers == ()  # old tapers need not fit new butts
    assert TubeChange(material=find_material("ti")).of(TOP).material.name == "Ti-3Al-2.5V"


def test_missing_butts_are_asked_for():
    with pytest.raises(ModelError, match=r"need 1 butt length\(s\).*28.6x0.9/0.6@75"):
        TubeChange(walls=(0.9, 0.6)).of(TOP)


def test_grid_names_only_what_differs_and_leaves_out_the_present_frame():
    bicycle = tourer()
    made = grid(bicycle, options(("top_tube", "down_tube"), diameters=(0.0, 3.2)))
    assert [v.name for v in made] == [
        "down tube 35",
        "top tube 31.8",
        "top tube 31.8, down tube 35",
    ]
    assert made[0].of(bicycle).tubes["down_tube"].od_start == 35.0
    with pytest.raises(ModelError, match="use droptrail search"):
        grid(bicycle, options(("top_tube", "down_tube"), diameters=np.linspace(0, 3, 15)))


def test_a_variant_of_an_unknown_tube_is_refused():
    with pytest.raises(ModelError, match="no tube 'mast'"):
        Variant("odd", {"mast": TOP}).of(tourer())


# --- comparison -----------------------------------------------------------------------------------------------
def test_comparison_carries_the_solver_s_figures_and_changes():
    bicycle = tourer()
    wide = Variant("wide top tube", {"top_tube": TOP.scaled(3.2)})
    done = compare(bicycle, [wide], THREE)
    (mass, frame_mass), results = solved(wide.of(bicycle), THREE)
    row = done.rows[1]
    assert row.values[:2] == (mass, frame_mass)
    number = [f.key for f in done.figures].index("side_push.head_sideways")
    assert row.values[number] == results["side_push"].stiffness["head_sideways"]
    gain = row.values[number] / done.reference.values[number]
    assert done.change(row, number) == pytest.approx(100 * (gain - 1))
    grams = mass - done.reference.values[0]
    assert done.per_10_g(row, number) == pytest.approx(100 * (gain - 1) / grams * 10)
    assert done.per_10_g(done.reference, number) is None
    assert "200 N" in done.figures[number].load
    assert "front axle on a ball" in done.figures[number].supports


def test_mass_is_the_tubes_own():
    """Plain tube: rho pi (R^2 - r^2) L; both blades and both stays count; the fork is apart."""
    bicycle = tourer(
        **{name: Tube(t.material, 25.0, 25.0, (1.0,)) for name, t in tourer_tubes().items()}
    )
    (mass, frame), _ = solved(bicycle, THREE)
    area, rho = np.pi / 4 * (25.0**2 - 23.0**2), 7.85e-9
    lengths = {}
    for member in lay_out(bicycle).members:
        lengths[member.tube] = lengths.get(member.tube, 0.0) + member.length
    assert mass == pytest.approx(rho * area * sum(lengths.values()) * 1e6)
    assert mass - frame == pytest.approx(
        rho * area * sum(lengths[t] for t in DIAMOND.fork_tubes) * 1e6
    )


def test_two_variants_of_one_name_are_refused():
    with pytest.raises(ModelError, match="two variants are called 'A'"):
        compare(tourer(), [Variant("A", {}), Variant("A", {})], THREE)


def test_a_variant_that_cannot_be_is_named():
    long_butts = Tube(TOP.material, 28.6, 28.6, (0.8, 0.5, 0.8), (300.0, 300.0))
    with pytest.raises(ModelError, match=r"variant butts: tube 28\.6"):
        compare(tourer(), [Variant("butts", {"top_tube": long_butts})], THREE)


def test_frequencies_are_figures_and_the_reference_s_modes_are_followed():
    bicycle = tourer()
    extra = frequencies(bicycle, 3)
    done = compare(
        bicycle,
        [
            Variant(
                "stiff",
                {"top_tube": TOP.scaled(6.0), "down_tube": tourer_tubes()["down_tube"].scaled(6.0)},
            )
        ],
        THREE,
        extra=extra,
    )
    keys = [f.key for f in done.figures][-3:]
    assert keys == ["mode_1", "mode_2", "mode_3"]
    assert all(
        b > a for a, b in zip(done.rows[0].values[-3:], done.rows[1].values[-3:], strict=True)
    )


def test_trade_rule_a_wider_top_tube_helps_the_head_more_than_a_wider_down_tube():
    """Common practice, no source: for a light steel tourer under a sideways push at the head tube."""
    bicycle = tourer()
    top, down = (
        compare(bicycle, [Variant("v", {t: grown(bicycle, t, 3.2).tubes[t]})], THREE)
        for t in ("top_tube", "down_tube")
    )
    number = [f.key for f in top.figures].index("side_push.head_sideways")
    assert top.change(top.rows[1], number) > down.change(down.rows[1], number) > 0


# --- workshop rules -------------------------------------------------------------------------------------------
def codes(rules, name, tube):
    return [fault.code for fault in tube_faults(rules, DIAMOND.role(name), tube)]


def test_every_rule_has_its_words_and_source():
    assert all(
        asks and (source.startswith("common practice") or "from memory" in source)
        for asks, source in RULES.values()
    )


@pytest.mark.parametrize(
    ("rules", "name", "tube", "expected"),
    [
        (Rules(), "top_tube", TOP, []),
        (Rules(), "top_tube", replace(TOP, walls=(0.5, 0.45, 0.8)), ["rule-end-wall"]),
        (
            Rules(joining="welded"),
            "top_tube",
            replace(TOP, walls=(0.7, 0.5, 0.8)),
            ["rule-end-wall"],
        ),
        (
            Rules(),
            "down_tube",
            Tube(TOP.material, 38.1, 38.1, (0.8, 0.5, 0.8), (80.0, 80.0)),
            ["rule-denting"],
        ),
        (
            Rules(),
            "top_tube",
            Tube(find_material("ti"), 44.0, 44.0, (0.9, 0.7, 0.9), (80.0, 80.0)),
            ["rule-denting", "rule-local-buckling"],
        ),
        (Rules(joining="lugged"), "top_tube", TOP.scaled(3.2), ["rule-lug-size"]),
        (Rules(joining="lugged"), "top_tube", TOP, []),
        (
            Rules(skip=frozenset({"rule-end-wall"})),
            "top_tube",
            replace(TOP, walls=(0.5, 0.45, 0.8)),
            [],
        ),
    ],
)
def test_rules_for_one_tube(rules, name, tube, expected):
    assert codes(rules, name, tube) == expected


def test_local_buckling_limit_is_the_standard_s():
    """AISC 360-16 Table B4.1b: 0.31 E / Fy; 4130 at 435 MPa allows 146 diameters."""
    rules = Rules(
        most_diameters={"steel": 1e9, "titanium": 1e9, "aluminium": 1e9},
        least_wall={"steel": 0.0, "titanium": 0.0, "aluminium": 0.0},
    )
    limit = 0.31 * 205e3 / 435
    for od, expected in ((0.2 * limit - 0.1, []), (0.2 * limit + 0.1, ["rule-local-buckling"])):
        assert codes(rules, "top_tube", Tube(TOP.material, od, od, (0.2,))) == expected


def test_short_butts_and_wide_neighbours_are_found():
    depths = mitre_depths(tourer())
    short = replace(TOP, butts=(depths["top_tube", "start"] + 9.0, 75.0), tapers=())
    found = [f.code for f in frame_faults(Rules(), tourer(top_tube=short))]
    assert "rule-butt-mitre" in found
    longer = replace(short, butts=(depths["top_tube", "start"] + 11.0, 75.0))
    assert "rule-butt-mitre" not in [f.code for f in frame_faults(Rules(), tourer(top_tube=longer))]
    wide = [
        f
        for f in frame_faults(Rules(), tourer(top_tube=TOP.scaled(4.0)))
        if f.code == "rule-neighbour-size"
    ]
    assert "wide, the seat tube it is mitred to only 28.6 mm" in wide[0].message


def test_metals_are_told_by_stiffness():
    names = ("4130", "304", "ti", "6061")
    assert [metal(find_material(n)) for n in names] == ["steel", "steel", "titanium", "aluminium"]


def test_unknown_rule_is_refused():
    with pytest.raises(ModelError, match="rule 'rule-luck' is not known"):
        Rules(skip=frozenset({"rule-luck"}))


def test_rules_drop_options_and_exclude_pairs():
    choices = options(("top_tube", "seat_tube"), diameters=(0.0, 3.2))
    choices["top_tube"].append(replace(TOP, walls=(0.5, 0.4, 0.5)))
    allowed = apply_rules(tourer(), choices, Rules())
    assert len(allowed.choices["top_tube"]) == 2
    assert [f.code for f in allowed.dropped] == ["rule-end-wall"]
    assert allowed.excluded["top_tube", "seat_tube"].tolist() == [[False, False], [True, False]]
    fixed_seat = apply_rules(tourer(), {"top_tube": choices["top_tube"]}, Rules())
    assert [t.od_start for t in fixed_seat.choices["top_tube"]] == [28.6]


def test_excluded_pairs_are_not_within():
    search = small_search(("top_tube", "seat_tube"), diameters=(0.0, 3.2), rules=Rules())
    summary, within = search.kernel.run(0, search.size)
    assert search.limit_texts == ("workshop rules: top tube with seat tube",)
    assert (summary.within, summary.broken.tolist()) == (3, [1])
    for number in within.numbers:
        chosen = search.chosen(int(number))
        assert chosen["top_tube"].od_start <= chosen["seat_tube"].od_start


def test_options_that_do_not_fit_the_tube_are_dropped_even_without_rules():
    long_butts = Tube(TOP.material, 28.6, 28.6, (0.8, 0.5, 0.8), (300.0, 300.0))
    allowed = apply_rules(tourer(), {"top_tube": [TOP, long_butts]}, None)
    assert (len(allowed.choices["top_tube"]), allowed.dropped[0].code) == (1, "option-too-short")
    with pytest.raises(ModelError, match="no option is left"):
        apply_rules(tourer(), {"top_tube": [long_butts]}, None)


def test_modes_are_followed_through_geometries_of_other_meshes():
    """A longer front makes two nodes more; each frequency is one of the variant's own, found by shape."""
    reference = tourer()
    longer = replace(
        reference, dimensions=replace(reference.dimensions, reach=reference.dimensions.reach + 60.0)
    )
    assert len(mesh(longer).nodes) != len(mesh(reference).nodes)
    done = compare(
        reference,
        [Reshaped("longer", "reach + 60 mm", longer)],
        partial(load_cases, names=("side_push",)),
        extra=frequencies(reference, 4),
        held_otherwise=False,
    )
    model, case = vibration_model(longer, "tyres")
    own = modes(model, case.supports, case.springs, 14).frequencies_hz
    for value, before in zip(done.rows[1].values[-4:], done.rows[0].values[-4:], strict=True):
        assert np.abs(own / value - 1).min() < 1e-9
        # 60 mm of reach move none of the first four by as much as one is from the next.
        assert value == pytest.approx(before, rel=0.1)
        assert value != before
