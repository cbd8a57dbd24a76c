"""The wobble index audited: each row is what it says, and each would show a fault in what it stands for."""

from dataclasses import replace
from math import sqrt
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from droptrail.converters.inputs import read_input
from droptrail.model.choice.wobble import hands_figure
from droptrail.model.frame.mesh import MeshOptions
from droptrail.model.frame.riding import settled_riding
from droptrail.model.stability.hands import BAND_SPEEDS, Band, SetUp, draws
from droptrail.validation import audit_wobble as module
from droptrail.validation.audit_wobble import (
    SHOWN_DRAWS,
    WobbleAudit,
    _band_error,
    audit_wobble,
    only,
    wobble_audit_tables,
)

SHEET = Path(__file__).parents[2] / "sample_drawings" / "tourer_700c.csv"


@pytest.fixture(scope="module")
def bicycle() -> Any:
    return read_input(SHEET).need_bicycle()


@pytest.fixture(scope="module")
def done(bicycle: Any) -> WobbleAudit:
    found = audit_wobble(bicycle)
    assert found is not None
    return found


def chosen(done: WobbleAudit, words: str) -> Any:
    return next(one for one in done.choices if one.what.startswith(words))


def test_the_index_is_the_one_of_the_study(bicycle: Any, done: WobbleAudit) -> None:
    need = SetUp.of(bicycle).need()
    assert done.need == need.most
    assert done.at == need.at


def test_mesh_speeds_and_eigenvalues_hardly_move_it(done: WobbleAudit) -> None:
    assert done.mesh_bar < 1e-3
    assert abs(chosen(done, "every element").need - done.need) < 1e-3
    assert 0 <= chosen(done, "speeds ten times").need - done.need < 0.02
    assert chosen(done, "found again").need == pytest.approx(done.need, abs=1e-4)
    assert chosen(done, "found again").need != done.need


def test_the_row_of_bands_is_what_compare_and_search_say(bicycle: Any, done: WobbleAudit) -> None:
    """Their coarser speeds miss the worst one by a little, never the other way round."""
    row = chosen(done, "the six speeds of bands")
    (said,) = hands_figure().values(bicycle)
    assert row.need == said
    speeds = SetUp.of(bicycle).need(BAND_SPEEDS)
    assert row.need == max(speeds.damping)
    assert done.need - 0.2 < row.need < done.need


def test_a_coarse_mesh_gets_a_wider_bar(bicycle: Any, done: WobbleAudit) -> None:
    coarse = audit_wobble(bicycle, MeshOptions(element_length=300.0, taper_pieces=1, cone_pieces=1))
    assert coarse is not None
    assert coarse.mesh_bar > 20 * done.mesh_bar
    assert abs(coarse.need - done.need) < 3 * coarse.mesh_bar


def test_motions_left_out_matter_and_the_frames_own_inertia_does_not(done: WobbleAudit) -> None:
    assert abs(chosen(done, "fork rigid").need - done.need) > 0.5
    assert abs(chosen(done, "frame gives at the head alone").need - done.need) > 0.1
    assert abs(chosen(done, "frame as soft as").need - done.need) < 0.02
    assert "112 Hz" in chosen(done, "frame as soft as").why


def test_held_motions_are_held_as_supports_hold(bicycle: Any) -> None:
    """Flexibility of what is left = inverse of that block of the stiffness (static condensation, textbook)."""
    head = SetUp.of(bicycle).head
    left = only(head, "head")
    assert left is not None
    assert [joint.name for joint in left.joints] == ["head slide", "head turn"]
    whole = np.linalg.inv(head.flexibility)
    np.testing.assert_allclose(left.stiffness, whole[6:, 6:], rtol=1e-6)
    assert left.flexibility[0, 0] < head.flexibility[6, 6]


def test_kinds_of_joint_stand_in_it_with_their_own_index(bicycle: Any, done: WobbleAudit) -> None:
    bare = SetUp.of(bicycle.joined("bare")).need().most
    assert chosen(done, "tubes joined bare").need == bare
    assert bare > done.need  # joints that give soften the head


def test_deciders_are_ranked_and_at_their_ranges_ends(bicycle: Any, done: WobbleAudit) -> None:
    spans = [one.span for one in done.deciders]
    assert spans == sorted(spans, reverse=True)
    first = done.deciders[0]
    assert first.words.startswith("tyre side force per degree of slip")
    values = {**settled_riding({}), "tyre_cornering": 0.35}
    high = module.hands_need(SetUp.of(bicycle).model(values), module.BAND_SPEEDS).most
    assert first.high == high
    assert not any("damping of the arms" in one.words for one in done.deciders)


def test_what_is_stated_decides_nothing(bicycle: Any) -> None:
    stated = replace(bicycle, riding={"tyre_cornering": 0.2})
    found = audit_wobble(stated)
    assert found is not None
    assert not any("per degree of slip" in one.words for one in found.deciders)


def test_sampling_error_is_that_of_medians_of_a_normal_band() -> None:
    """Standard error of a median: 1.2533 sigma / sqrt(n) for normal samples (textbook, from memory)."""
    samples = np.random.default_rng(5).normal(0.0, 2.0, 20000)
    low, middle, high = _band_error(Band(samples))
    assert middle == pytest.approx(1.2533 * 2.0 / sqrt(SHOWN_DRAWS), rel=0.15)
    assert low == pytest.approx(high, rel=0.25)
    assert low > middle


def test_error_of_the_band_is_seen_in_bands_of_other_seeds(bicycle: Any, done: WobbleAudit) -> None:
    usual = SetUp.of(bicycle)
    middles = [
        usual.band(draws(bicycle.riding, SHOWN_DRAWS, seed)).middle for seed in range(10, 18)
    ]
    assert 0.3 < np.std(middles, ddof=1) / done.band_error[1] < 3


def test_nobody_aboard_no_index(bicycle: Any) -> None:
    assert audit_wobble(replace(bicycle, loads=replace(bicycle.loads, rider_mass=0.0))) is None


def test_tables_tell_every_choice_with_its_change(done: WobbleAudit) -> None:
    choices, deciders = wobble_audit_tables(done)
    assert len(choices.rows) == 1 + len(done.choices)
    for row, one in zip(choices.rows[1:], done.choices, strict=True):
        assert row[2] == one.need - done.need
    assert f"{SHOWN_DRAWS} draws" in choices.notes
    assert deciders.rows[0][3] == done.deciders[0].span
    assert "Measure or state it first" in deciders.notes
