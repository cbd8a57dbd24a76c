"""`droptrail shimmy`, and what the hands must supply as figure and limit of `compare` and `search`."""

import json
from pathlib import Path

import pytest
from droptrail.cli.main import main
from droptrail.converters.files.fitsheet.bicycle import bicycle_from_sheet, read_fit_sheet
from droptrail.converters.files.fitsheet.items import ITEMS
from droptrail.converters.files.fitsheet.write_sheet import write_fit_sheet
from droptrail.model.frame.riding import RIDING
from droptrail.model.stability.hands import BAND_SPEEDS, SetUp

SAMPLES = Path(__file__).parents[2] / "sample_drawings"
TOURER = str(SAMPLES / "tourer_700c.csv")


def told(capsys, *words):
    code = main([str(word) for word in words])
    out = capsys.readouterr()
    return code, out.out, out.err


def held(capsys, *words):
    return json.loads(told(capsys, *words, "--json")[1])


def test_shimmy_leads_with_what_the_hands_must_supply(capsys):
    code, out, _ = told(capsys, "shimmy", TOURER, "--draws", 6)
    first = " ".join(out.split())[:500]
    assert code == 0
    assert "the hands must supply most at 8.0 m/s (29 km/h): 0.7" in first
    assert "6 draws" in first
    assert "top tube" in first
    assert "lower in % of the draws" in out
    assert "no promise" in out


def test_a_stated_value_moves_the_need_and_is_no_longer_assumed(capsys):
    plain = held(capsys, "shimmy", TOURER, "--draws", 0)
    soft = held(capsys, "shimmy", TOURER, "--draws", 0, "--set", "tyre_cornering=0.15")
    assert soft["hands"]["most"] < plain["hands"]["most"] - 0.1
    assert plain["hands"]["band"] is None
    keys = [{a["key"] for a in one["assumptions"]} for one in (plain, soft)]
    assert keys[0] - keys[1] == {"tyre_cornering"}
    assert set(RIDING) <= keys[0]


def test_json_holds_need_over_speed_and_every_change(capsys):
    hands = held(capsys, "shimmy", TOURER, "--draws", 4, "--speeds", "4-12")["hands"]
    assert len(hands["need"]) == len(hands["speeds_m_s"]) == len(hands["need_hz"])
    assert hands["most"] == max(hands["need"])
    assert 0 <= hands["steady_share"] <= 1
    assert hands["band"]["low"] <= hands["band"]["middle"] <= hands["band"]["high"]
    tubes = {one["name"]: one for one in hands["tubes"]}
    assert tubes["top_tube"]["grams"] > 10
    assert tubes["top_tube"]["change"] < 0
    assert all(one["change"] == one["most"] - hands["most"] for one in hands["changes"])


def test_every_riding_value_can_stand_in_a_sheet_and_comes_back(tmp_path):
    bicycle = bicycle_from_sheet(read_fit_sheet(TOURER)).bicycle
    stated = {key: value.low for key, value in RIDING.items() if value.low}
    path = tmp_path / "ridden.csv"
    from dataclasses import replace

    write_fit_sheet(replace(bicycle, riding=stated), path)
    again = bicycle_from_sheet(read_fit_sheet(path)).bicycle
    assert dict(again.riding) == stated
    assert {key for key, item in ITEMS.items() if item.group == "riding"} == set(RIDING)


@pytest.mark.parametrize(
    ("value", "words"),
    [("tyre_loss=5", "not between 0 and 1"), ("leaning_share=0.99", "leave no rider")],
)
def test_a_value_that_cannot_be_ridden_is_said_in_words(capsys, value, words):
    code, _, err = told(capsys, "shimmy", TOURER, "--draws", 0, "--set", value)
    assert code == 1
    assert words in " ".join(err.split())


def test_compare_takes_it_as_a_figure(capsys):
    out = held(
        capsys,
        "compare",
        TOURER,
        "--option",
        "top_tube=28.6,31.8",
        "--wobble",
        "--case",
        "side_push",
    )
    figures = [figure["key"] for figure in out["figures"]]
    assert "wobble.hands_need" in figures
    bicycle = bicycle_from_sheet(read_fit_sheet(TOURER)).bicycle
    alone = SetUp.of(bicycle).need(BAND_SPEEDS).most
    reference, larger = (one["values"]["wobble.hands_need"] for one in out["variants"][:2])
    assert reference == pytest.approx(alone, rel=1e-9)
    assert larger < reference


def test_search_takes_it_as_a_limit_on_the_front(capsys):
    grid = ("--option", "top_tube=25.4,28.6,31.8", "--case", "side_push")
    aims = ("--objective", "max side_push.head_sideways", "--objective", "min mass")
    limit = ("--limit", "wobble.hands_need <= 0.9")
    out = held(capsys, "search", TOURER, *grid, *aims, "--no-rules", "--wobble", *limit)
    kept = {
        one["values"]["wobble.hands_need"] <= 0.9: one["keeps_limits"]
        for one in out["modes"]["variants"]
    }
    assert kept == {True: True, False: False}
    code, _, err = told(capsys, "search", TOURER, *grid, *aims, *limit)
    assert code == 2
    assert "needs --wobble" in err


def test_front_bags_on_a_soft_rack_are_warned_of(capsys):
    plain = held(capsys, "shimmy", TOURER, "--draws", 0)
    assert 0 < plain["front_bags"]["limit_mm"] < 20
    assert len(plain["front_bags"]["needs"]) == len(plain["front_bags"]["rack_gives_mm"])
    assert "front-bags-sway" not in {one["code"] for one in plain["findings"]}
    code, out, _ = told(capsys, "shimmy", TOURER, "--draws", 0, "--set", "front_rack_give=18 mm")
    assert code == 1
    assert "brace the rack" in " ".join(out.split())
    assert "front-bags-sway" in out


def test_two_descriptions_of_one_tyre_are_held_against_each_other(capsys):
    both = ("--set", "tyre_relaxation=100 mm", "--set")
    _, out, _ = told(capsys, "geometry", TOURER, *both, "tyre_side_stiffness=300 N/mm")
    assert "tyre-told-twice" in out
    assert "these are two tyres" in " ".join(out.split())
    _, out, _ = told(capsys, "geometry", TOURER, *both, "tyre_side_stiffness=61 N/mm")
    assert "tyre-told-twice" not in out
