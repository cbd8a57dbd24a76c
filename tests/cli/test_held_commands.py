"""The load cases told, held otherwise, and on wheels, as a builder asks for them."""

import json
from pathlib import Path

import pytest
from droptrail.cli.main import main
from droptrail.model.cases.held import holdings
from droptrail.model.cases.library import CASES, MAIN_CASES, SEVERAL_RIDERS

SHEET = str(Path(__file__).parents[2] / "sample_drawings" / "tourer_700c.csv")
TOP = ("--option", "top_tube=28.6x0.8/0.5/0.8,30x0.8/0.5/0.8")
DOWN = ("--option", "down_tube=31.8x0.9/0.6/0.9,34.9x0.9/0.6/0.9")
PUSH = ("--case", "side_push")


@pytest.fixture
def run(capsys):
    """Runs a command; returns its exit code and what it printed."""

    def told(*argv: str) -> tuple[int, str]:
        code = main(list(argv))
        printed = capsys.readouterr()
        return code, printed.out + printed.err

    return told


def one_line(text):
    """Wrapped lines joined."""
    return " ".join(text.split())


# --- cases ----------------------------------------------------------------------------------------------------------
def test_every_case_is_listed_with_what_a_reader_needs(run):
    code, out = run("cases", "--json")
    told = json.loads(out)["cases"]
    assert code == 0
    assert [case["name"] for case in told] == [name for name in CASES if name not in SEVERAL_RIDERS]
    for case in told:
        assert case["title"], case["name"]
        assert case["loads_and_supports"], case["name"]
        assert case["source"], case["name"]
        assert case["loads"], case["name"]
        assert case["supports"], case["name"]
        assert case["measures"], case["name"]
        assert [way["name"] for way in case["held_how"]] == [w.name for w in holdings(case["name"])]
    assert {case["name"] for case in told if case["usual"]} == set(MAIN_CASES)


def test_a_case_is_told_with_its_ways(run):
    code, out = run("cases", "side_push")
    assert code == 0
    assert "200 N to the right at the top of the head tube" in one_line(out)
    assert "bolted to a post on a turntable" in out
    for way in holdings("side_push"):
        assert way.short in out
    code, out = run("cases")
    assert code == 0
    assert all(name in out for name in CASES if name not in SEVERAL_RIDERS)


def test_the_words_are_of_the_bicycle_that_is_named(run):
    _, out = run("cases", "seated_luggage", "--of", SHEET)
    assert "luggage 8 kg front, 16 kg rear" in one_line(out)
    _, out = run("cases", "side_push", "--of", SHEET, "--set", "side_push=150")
    assert "150 N to the right" in one_line(out)
    listed = json.loads(run("cases", "--of", SHEET, "--json")[1])["cases"]
    assert next(c for c in listed if c["name"] == "seated_luggage")["usual"]


def test_what_makes_no_sense_is_refused_in_one_line(run):
    code, out = run("cases", "sidepush")
    assert code == 2
    assert "did you mean 'side_push'" in out
    code, out = run("cases", "--set", "side_push=150")
    assert code == 2
    assert "--of INPUT" in out


# --- held how -------------------------------------------------------------------------------------------------------
def test_compare_says_in_words_whether_the_ranking_survives(run):
    code, out = run("compare", SHEET, *PUSH, *TOP, *DOWN)
    text = one_line(out)
    assert code == 1  # the larger top tube is wider than its seat tube
    assert "Held how: Sideways push at the head tube" in text
    assert "down tube 34.9 before top tube 30 in 4 of 6 ways to hold it" in text
    assert "for 10 g the best stays the best in all 6 ways" in text.lower()
    assert "(depends-on-holding)" in text


def test_the_worksheet_of_every_way_shows_four_digits_and_holds_all(run, tmp_path):
    from openpyxl import load_workbook

    run("compare", SHEET, *PUSH, *TOP, "-o", str(tmp_path / "c.xlsx"))
    values = [row[4] for row in load_workbook(tmp_path / "c.xlsx")["held how"].iter_rows(min_row=2)]
    numbers = [cell for cell in values if isinstance(cell.value, float)]
    assert len(numbers) == 2 * 6
    for cell in numbers:
        shown = f"{cell.value:.{len(cell.number_format.partition('.')[2])}f}"
        assert len(shown.replace(".", "").lstrip("0")) == 4, (cell.value, cell.number_format)


def test_search_and_tubes_and_audit_show_every_way(run):
    got = json.loads(run("search", SHEET, *TOP, *DOWN, "--no-rules", *PUSH, "--json")[1])
    (push,) = got["held_how"]
    assert [way["name"] for way in push["ways"]] == [way.name for way in holdings("side_push")]
    best = got["best"][0]["values"]["side_push.head_sideways"]
    told = [one["value"] for one in push["ways"][0]["variants"][1:]]
    assert pytest.approx(best, rel=1e-8) in told
    got = json.loads(run("tubes", SHEET, *PUSH, "--json")[1])
    assert len(got["held_how"][0]["ways"]) == 6
    assert "first in 4 of 6 ways" in got["held_how"][0]["ranking"]
    got = json.loads(run("audit", SHEET, *PUSH, "--json")[1])
    values = [way["variants"][0]["value"] for way in got["held_how"][0]["ways"]]
    assert values[0] == pytest.approx(got["figures"][0]["value"], rel=1e-12)
    assert max(values) > 5 * min(values)


# --- on wheels ------------------------------------------------------------------------------------------------------
def solved(run, *argv):
    code, out = run("solve", SHEET, *PUSH, "--json", *argv)
    assert code == 0, out
    return json.loads(out)["load_cases"]["side_push"]


def test_wheels_as_springs_are_those_of_the_sheet(run):
    rigid = solved(run)["stiffness"]["head_sideways"]["value"]
    soft = solved(run, "--wheels", "springs")
    firm = solved(run, "--wheels", "springs", "--set", "tyre_side_stiffness=400 N/mm")
    assert "where the tyre meets the road" in soft["notes"]
    figures = [case["stiffness"]["head_sideways"]["value"] for case in (soft, firm)]
    assert figures[0] < figures[1] < rigid


def test_a_stiffness_that_cannot_be_is_refused(run):
    code, out = run("solve", SHEET, "--set", "tyre_stiffness=0")
    assert code == 1
    assert "tyre stiffness is 0 N/mm: a spring of nothing holds nothing" in out


def test_a_model_file_has_no_wheels_to_put_springs_under(run, tmp_path):
    path = tmp_path / "m.json"
    run("model", SHEET, "-o", str(path))
    code, out = run("solve", str(path), "--wheels", "springs")
    assert code == 3
    assert "--wheels would do nothing here" in out


def test_on_wheels_the_way_on_wheels_is_not_said_twice(run):
    got = json.loads(run("audit", SHEET, *PUSH, "--wheels", "springs", "--json")[1])
    ways = [way["name"] for way in got["held_how"][0]["ways"]]
    assert "on_wheels" not in ways
    assert ways[0] == "as_told"
