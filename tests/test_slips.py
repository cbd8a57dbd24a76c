"""No slip of a hand without a word, and no word where nothing slipped."""

from dataclasses import replace
from pathlib import Path

import pytest
from droptrail.converters.inputs import ReadOptions, read_input
from helpers_slips import (
    SAMPLE,
    TWICE,
    believable,
    item_slips,
    note_slips,
    said,
    sample,
    swaps,
    tube_slips,
)

# What nobody can know from the sheet: both values are those of ordinary frames, and nothing else says them.
BELIEVABLE_ALL_THE_SAME = {
    "seatstay below top tube / 10",
    "seatstay below top tube in inches",
    "seatstay below top tube with the other sign",
    "rear luggage / 10",
    "top tube below head tube top and down tube above head tube bottom swapped",
    "down tube above head tube bottom and seatstay below top tube swapped",
    "front luggage and rear luggage swapped",
    "seatstay spacing and upper stack swapped",
    "sprocket radius and seatstay spacing swapped",
    "chainstay spacing and seatstay spacing swapped",
    "front wheel mass and rear wheel mass swapped",
}
ONCE = sample().without(*TWICE)
SLIPS = dict(
    [*item_slips(ONCE), *tube_slips(ONCE), *swaps(sample()), *note_slips(sample())],
)


def test_there_are_enough_of_them():
    assert len(SLIPS) > 250
    assert set(SLIPS) > BELIEVABLE_ALL_THE_SAME


@pytest.mark.parametrize("slip", sorted(set(SLIPS) - BELIEVABLE_ALL_THE_SAME))
def test_no_slip_without_a_word(slip, tmp_path):
    assert said(SLIPS[slip], tmp_path) != []


def test_what_cannot_be_known_is_the_only_silence(tmp_path):
    """Keeps the list above honest: whatever learns to speak leaves it."""
    silent = {slip for slip in BELIEVABLE_ALL_THE_SAME if said(SLIPS[slip], tmp_path) == []}
    assert silent == BELIEVABLE_ALL_THE_SAME


def test_no_word_where_nothing_slipped(tmp_path):
    assert said(sample(), tmp_path) == []
    assert said(ONCE, tmp_path) == []


@pytest.mark.parametrize("block", range(10))
def test_believable_frames_are_believed(block, tmp_path):
    """500 random frames of the trade: city, road, touring, mountain, folding, small and large."""
    for seed in range(50 * block, 50 * block + 50):
        assert said(believable(seed), tmp_path) == [], believable(seed).text()


@pytest.mark.parametrize(
    ("slip", "words"),
    [
        ("top tube: wall x 10", ["wall 8 mm", "0.8 mm, a slipped point?"]),
        ("top tube: radius for diameter", ["14.3 mm, usual is", "28.6 mm, a radius?"]),
        ("seatstay: wall x 10", ["refused", "half the outside diameter"]),
        ("fork blade: tapered the wrong way", ["24-13?"]),
        ("down tube: butts reversed", ["thin at the ends", "0.9/0.6/0.9?"]),
        ("top tube: inside diameter", ["27 mm", "28.6 mm?"]),
        ("rear hub spacing and front hub spacing swapped", ["are the two swapped?"]),
        (
            "blade spacing and chainstay spacing swapped",
            ["10.1 mm past each end", "are the two swapped?"],
        ),
        ("rider in pounds", ["181 kg", "82.1 kg, pounds?"]),
        ("bottom bracket drop with the other sign", ["-76 mm", "76 mm, the other sign?"]),
        ("fork offset / 10", ["5 mm", "50 mm, cm, or a slipped point?"]),
    ],
)
def test_the_word_names_value_and_likely_slip(slip, words, tmp_path):
    told = " ".join(said(SLIPS[slip], tmp_path))
    for word in words:
        assert word in told


def test_a_wall_typed_without_its_leading_nought(tmp_path):
    assert "0.8 mm, a slipped point?" in " ".join(
        said(sample().with_tube("top tube", 1, "8/5/08"), tmp_path)
    )


def test_a_bored_bar_fails_the_check(tmp_path):
    path = tmp_path / "sheet.csv"
    path.write_text(sample().with_tube("steerer", 1, "12").text(), encoding="utf-8")
    found = [f for f in read_input(path).findings if f.code == "tube-no-tube"]
    assert [f.severity for f in found] == ["error"]
    assert "1.2 mm, a slipped point?" in found[0].message


# --- notes ------------------------------------------------------------------------------------------------------
def test_a_note_that_makes_another_item_is_used_and_said(tmp_path):
    path = tmp_path / "sheet.csv"
    text = ONCE.with_item("chainstay", "445.6", note="horizontal").text()
    path.write_text(text, encoding="utf-8")
    reading = read_input(path)
    stay = reading.dimensions.chainstay
    assert stay == pytest.approx((445.6**2 + 76**2) ** 0.5, abs=1e-6)
    assert any(
        f.code == "sheet-note-used" and "horizontal chainstay" in f.message
        for f in reading.findings
    )


def test_an_effective_seat_angle_is_not_taken_for_the_tubes(tmp_path):
    sheet = sample().with_item("seat angle", "74", note="effective")
    told = " ".join(said(sheet, tmp_path))
    assert "'seat angle' with the note 'effective'" in told


def test_the_starter_sheets_own_notes_are_silent(tmp_path):
    from droptrail.converters.files.fitsheet.starter import starter_sheet

    path = tmp_path / "starter.csv"
    path.write_text(starter_sheet(), encoding="utf-8")
    assert [f for f in read_input(path).findings if f.severity != "info"] == []


# --- axle to crown ----------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    "name", ["axle to crown", "A-C", "ATC", "a2c", "Einbaulänge", "crown to axle"]
)
def test_axle_to_crown_is_the_straight_distance(name, tmp_path):
    sheet = ONCE.without("stack")
    items = {(name if k == "fork length" else k): list(v) for k, v in sheet.items.items()}
    items[name][2] = ""
    path = tmp_path / "sheet.csv"
    path.write_text(type(sheet)(items, sheet.tubes).text(), encoding="utf-8")
    reading = read_input(path)
    d = reading.dimensions
    assert (d.fork_length**2 + d.fork_offset**2) ** 0.5 == pytest.approx(389, abs=1e-9)
    assert not any(f.code == "fork-length-convention" for f in reading.findings)


def test_a_fork_length_of_no_convention_is_a_question_with_both_trails(tmp_path):
    sheet = ONCE.without("head angle").with_item("fork length", "389", note="")
    told = " ".join(said(sheet, tmp_path))
    assert "fork-length-convention" in told
    assert told.count("trail") >= 2
    assert "Which is it?" in told
    assert said(ONCE.with_item("fork length", "389", note="along axis"), tmp_path) == []


# --- nothing twice ----------------------------------------------------------------------------------------------
def test_a_sheet_that_says_nothing_twice_says_so(tmp_path):
    path = tmp_path / "sheet.csv"
    path.write_text(ONCE.without("stack").text(), encoding="utf-8")
    words = [f.message for f in read_input(path).findings if f.code == "sheet-nothing-twice"]
    assert len(words) == 1
    assert "none of them said twice: nothing could be compared" in words[0]
    assert not any(f.code == "sheet-nothing-twice" for f in read_input(SAMPLE).findings)


def test_a_setting_is_held_against_the_same_bands(tmp_path):
    options = ReadOptions(settings=("rider_mass=181",))
    told = [f.message for f in read_input(SAMPLE, options=options).findings]
    assert any("181 kg" in message and "pounds?" in message for message in told)


def test_the_rules_of_the_workshop_speak_in_geometry_too(tmp_path):
    from droptrail.converters.showing.result_json import geometry_findings

    path = Path(tmp_path / "sheet.csv")
    path.write_text(sample().with_tube("top tube", 1, "0.5/0.4/0.5").text(), encoding="utf-8")
    assert any(f.code == "rule-end-wall" for f in geometry_findings(read_input(path)))


@pytest.mark.parametrize(("spacing", "said_so"), [("45.5", False), ("56", False), ("58", True)])
def test_stays_may_overhang_the_shell_by_a_quarter_of_their_width(tmp_path, spacing, said_so):
    """68 mm of shell, stays of 22.2: 5.55 mm over at 56.9 apart; a bridge or a dent makes good for less."""
    told = " ".join(said(sample().with_item("chainstay spacing", spacing), tmp_path))
    assert ("past each end of the 68 mm shell" in told) == said_so
    assert "swapped" not in told


def test_a_saddle_inside_the_seat_tube_is_said(tmp_path):
    told = " ".join(said(sample().with_item("saddle height", "500"), tmp_path))
    assert "saddle height is 500 mm, below the seat tube's top at 550 mm" in told


@pytest.mark.parametrize(("post", "silent"), [("26.8", True), ("26.7", False), ("27.7", True)])
def test_the_last_bit_of_a_post_s_play_decides_nothing(tmp_path, post, silent):
    """The bore of 28.6 less twice 0.6 and a post of 26.8 leave 0.6 mm, which is usual (common practice, no source)."""
    tubes = {**sample().tubes, "seat post": [post, "2.2", "", "6061-T6", ""]}
    told = " ".join(said(replace(sample(), tubes=tubes), tmp_path))
    assert ("play" not in told) == silent
