"""The answer of a check: few causes for many differences, eight lines, nothing wrong left out of the verdict."""

from dataclasses import replace
from pathlib import Path

import pytest
from droptrail.cli.check import verdict_words
from droptrail.cli.main import main
from droptrail.converters.inputs import ReadOptions, read_input
from droptrail.model.errors import ModelError
from droptrail.model.geometry.statements import FIELDS, by_unit
from droptrail.validation.answer_block import COLUMNS, LINES, answer_block
from droptrail.validation.causes import Cause, causes, causes_words
from droptrail.validation.check import check
from droptrail.validation.drawing_check import compare_dimensions
from droptrail.validation.report.facts import report_facts
from helpers_bicycle import tourer
from helpers_side_view import frames
from hypothesis import assume, given, settings
from hypothesis import strategies as st

SAMPLES = Path(__file__).parents[2] / "sample_drawings"
NAMES = ("tourer_700c", "gravel_700c", "small_650b", "trekking_26", "disagree_tourer")
TIGHT = (
    Path(__file__).parents[1] / "data" / "tight_tourer.csv"
)  # the tourer, stays and blades too close
FRAME = tourer().dimensions


@pytest.mark.parametrize(
    "planted",
    [
        {"fork_offset": 5.0},
        {"fork_offset": 5.0, "bb_drop": 6.0},
        {"head_angle": 1.5, "chainstay": -8.0},
        {"head_tube": 12.0, "reach": 4.0, "seat_angle": -0.8},
    ],
)
def test_planted_changes_are_found_and_nothing_else(planted):
    drawn = replace(FRAME, **{name: getattr(FRAME, name) + by for name, by in planted.items()})
    found = {cause.item: cause.difference for cause in causes(drawn, FRAME)}
    assert found == pytest.approx(planted)


@settings(deadline=None, max_examples=30)
@given(
    frame=frames,
    picked=st.lists(st.sampled_from(FIELDS[:11]), min_size=1, max_size=3, unique=True),
    sizes=st.lists(st.floats(2.0, 6.0), min_size=3, max_size=3),
)
def test_whatever_is_named_explains_every_difference(frame, picked, sizes):
    """And no more items than were planted are named."""
    moved = {
        name: getattr(frame, name) + by * by_unit(name, 1.0, 0.1)
        for name, by in zip(picked, sizes, strict=False)
    }
    try:
        drawn = replace(frame, **moved)
    except ModelError:
        assume(False)
    found = causes(drawn, frame)
    assert 1 <= len(found) <= len(picked)
    explained = replace(frame, **{cause.item: getattr(drawn, cause.item) for cause in found})
    assert all(row.ok is not False for row in compare_dimensions(drawn, explained))


def test_of_sets_of_one_size_the_one_that_leaves_least_is_named():
    """0.95 and 0.6 mm, each within tolerance, are too much for the wheelbase together."""
    drawn = replace(FRAME, chainstay=FRAME.chainstay + 0.95, reach=FRAME.reach + 0.6)
    assert [cause.item for cause in causes(drawn, FRAME)] == ["chainstay"]


def test_no_difference_has_no_cause_and_many_have_no_few():
    assert causes(FRAME, FRAME) == ()
    drawn = replace(
        FRAME, reach=395, head_angle=73, seat_angle=74, bb_drop=66, chainstay=431, head_tube=140
    )
    assert causes(drawn, FRAME) == ()
    assert "no 4 items or fewer explain the 9" in causes_words((), 9)


def test_the_words():
    one, two = Cause("fork_offset", 5.0), Cause("bb_drop", 6.04)
    assert (
        causes_words((one, two), 7)
        == "fork offset +5.0 mm and bottom bracket drop +6.0 mm explain all 7 differences"
    )
    assert causes_words((one,), 1) == "fork offset +5.0 mm explains the difference"


def done_of(name, **options):
    sheet = SAMPLES / f"{name}.csv"
    return check(read_input(SAMPLES / f"{name}.dxf", sheet, ReadOptions(**options)))


@pytest.mark.parametrize("name", NAMES)
def test_the_block_has_eight_lines_of_80_columns_and_nothing_is_cut(name):
    done = done_of(name)
    block = answer_block(done, verdict_words(done))
    assert len(block) <= LINES
    assert max(map(len, block)) <= COLUMNS
    assert not any(line.endswith("...") for line in block)
    text = " ".join(line.strip() for line in block)
    for words in ("Verdict: ", "Trail ", "drop ", "Mass", "Stiffness: head sideways", "--full"):
        assert words in text
    assert [gap for gap in done.clearances if not gap.enough] == []
    assert "smaller than wanted" not in text


def test_tyres_without_their_room_stand_in_the_verdict_of_terminal_and_page(capsys, tmp_path):
    """6 mm between tyre and frame (ISO 4210-2, from memory); a pass that does not say so is no pass."""
    words = ["check", str(SAMPLES / "tourer_700c.dxf"), "--sheet", str(TIGHT)]
    assert main(words) == 1
    lines = capsys.readouterr().out.splitlines()
    block = lines[lines.index("") + 1 :]
    assert block[0] == "Verdict: PASS, but 2 gaps are smaller than wanted"
    assert "Too tight: front tyre to fork blades 4.4 of 6 mm and 1 more" in block
    assert sum(line.startswith("  warning: ") for line in lines) == 2
    done = check(read_input(SAMPLES / "tourer_700c.dxf", TIGHT))
    facts = report_facts(done)
    assert (
        facts.verdict_words
        == "The drawing gives the sheet's numbers, but 2 gaps are smaller than wanted"
    )
    assert [words for words in facts.warnings if "front tyre to fork blades: 4.4 mm" in words]
    page = tmp_path / "tight.html"
    main(["report", *words[1:], "-o", str(page), "--no-audit"])
    assert capsys.readouterr().out.strip().endswith(block[0])


def test_the_pair_that_disagrees_is_explained():
    done = done_of("disagree_tourer")
    text = " ".join(line.strip() for line in answer_block(done, verdict_words(done)))
    assert text.startswith("Verdict: FAIL")
    assert "Trail 61.78 mm (wanted 67.05: OFF), drop 76.00 mm (wanted 70.00: OFF)" in text
    assert "drop +6.0 mm and fork offset +5.0 mm explain all 7 differences" in text


def test_a_long_answer_is_cut_at_a_word_and_says_so():
    done = done_of("disagree_tourer")
    for length in range(1, 12):
        block = answer_block(done, "FAIL" + f", {'w' * length}" * 60)
        assert len(block) <= LINES
        assert max(map(len, block)) <= COLUMNS
        assert any(line.endswith(" ...") for line in block)


@pytest.mark.parametrize("name", NAMES)
def test_the_short_check_fits_80_columns_and_full_says_the_rest(name, capsys, monkeypatch):
    monkeypatch.setattr("droptrail.cli.show.PIPED", 80)
    words = ["check", str(SAMPLES / f"{name}.dxf"), "--sheet", str(SAMPLES / f"{name}.csv")]
    code = main(words)
    short = capsys.readouterr().out
    assert main([*words, "--full"]) == code
    full = capsys.readouterr().out
    assert len(short.splitlines()) < 35 < 90 < len(full.splitlines())
    assert short.splitlines()[-1] == full.splitlines()[-1]
    rules = [line for line in full.splitlines() if "──" in line]
    assert len(rules) >= 6
    assert max(map(len, rules)) <= 80
    assert "Assumed, because the input does not say" in full


def test_the_caution_fits_a_narrow_terminal(capsys, monkeypatch):
    """It stands in every short check, and was 116 columns wide on a terminal of 80."""
    monkeypatch.setattr("droptrail.cli.show.width", lambda: 79)
    main(["check", str(SAMPLES / "small_650b.dxf"), "--sheet", str(SAMPLES / "small_650b.csv")])
    lines = capsys.readouterr().out.splitlines()
    start = next(k for k, line in enumerate(lines) if line.startswith("Not a strength certificate"))
    assert max(map(len, lines[start : lines.index("", start)])) <= 79
    assert " ".join(lines[start : lines.index("", start)]).endswith("local codes prevail.")
