"""`droptrail shimmy`, and what the hands must supply as figure and limit of `compare` and `search`."""

import json
import re
from pathlib import Path

import numpy as np
import pytest
from droptrail.cli.main import main
from droptrail.converters.files.fitsheet.bicycle import bicycle_from_sheet, read_fit_sheet
from droptrail.converters.files.fitsheet.items import ITEMS
from droptrail.converters.files.fitsheet.write_sheet import write_fit_sheet
from droptrail.converters.showing.choice.wobble_table import band_table
from droptrail.model.choice.wobble import BandRow
from droptrail.model.frame.riding import RIDING
from droptrail.model.stability.hands import BAND_SPEEDS, Band, SetUp, draws

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
    assert "need not damp anything: the bicycle has 0.7" in first
    assert "6 draws" in first
    assert "top tube" in first
    assert "lower in % of the draws" in out
    assert "no promise" in out
    _, out, _ = told(capsys, "shimmy", TOURER, "--draws", 0, "--set", "tyre_cornering=0.3")
    assert "the hands must supply most at 11.0 m/s (40 km/h): 2." in " ".join(out.split())[:200]


def test_bands_stand_beside_the_published_ones_and_what_they_take_for_granted(capsys):
    _, out, _ = told(capsys, "shimmy", SAMPLES / "gravel_700c.csv", "--draws", 0)
    said = " ".join(out.split())
    assert re.search(
        r"Hands off the bar the wobble has 7\.\d to 8\.\d Hz and dies out at every", said
    )
    assert "Published of racing bicycles: 6 to 9 Hz hands off" in said
    assert "twists on its spine" in said
    assert "stiffness of the spine against twisting 60 N·m/rad (range 15 to 250" in said
    loose = ("--set", "twist_damping=1", "--set", "tyre_cornering=0.35")
    _, out, _ = told(capsys, "shimmy", SAMPLES / "gravel_700c.csv", "--draws", 0, *loose)
    grown = re.search(
        r"grows by itself from (\d+) to (\d+) m/s \((\d+) to (\d+) km/h\)", " ".join(out.split())
    )
    assert grown is not None
    slow, fast, slow_kmh, fast_kmh = map(int, grown.groups())
    assert 3 < slow < fast
    assert abs(slow_kmh - 3.6 * slow) <= 2
    assert abs(fast_kmh - 3.6 * fast) <= 2


def test_a_bar_that_hardly_turns_has_no_frequency_and_no_nan(capsys):
    _, out, _ = told(
        capsys, "shimmy", SAMPLES / "gravel_700c.csv", "--draws", 0, "--set", "arms_stiffness=300"
    )
    assert "nan" not in out


def test_km_h_stand_beside_every_speed_and_nothing_has_no_direction(capsys):
    """1 m/s is 3.6 km/h; a change that rounds to nothing is 0.00."""
    lines = told(capsys, "shimmy", TOURER, "--draws", 6)[1].splitlines()
    rows = [line.split() for line in lines if re.match(r" \d+\.0 ", line)]
    assert len(rows) == 9
    for row in rows:
        assert row[1] == f"{3.6 * float(row[0]):.0f}"
    (given,) = [line.split() for line in lines if line.startswith(" as given")]
    assert given[-2:] == ["12.0", "43"]
    assert not re.search(r"[+-]0\.0+\b", "\n".join(lines))


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
    limit = ("--limit", "wobble.hands_need <= -0.6")
    out = held(capsys, "search", TOURER, *grid, *aims, "--no-rules", "--wobble", *limit)
    kept = {
        one["values"]["wobble.hands_need"] <= -0.6: one["keeps_limits"]
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


def test_compare_says_how_surely_one_needs_less(capsys):
    words = ("compare", TOURER, "--option", "top_tube=25.4,31.8", "--wobble", "--case", "side_push")
    bands = held(capsys, *words)["hands_bands"]
    assert [one["bicycle"] for one in bands] == ["reference", "top tube 25.4", "top tube 31.8"]
    assert bands[0]["lower_share"] is None
    assert bands[1]["lower_share"] < 0.2
    assert bands[2]["lower_share"] > 0.8
    # the same draws and the same shares as a study of the two by hand
    bicycle = bicycle_from_sheet(read_fit_sheet(TOURER)).bicycle
    usual = SetUp.of(bicycle)
    assert bands[0]["middle"] == usual.band(draws(bicycle.riding, 40)).middle
    _, out, _ = told(capsys, *words)
    said = " ".join(out.split())
    assert "top tube 31.8: needs less of the hands than the first in " in said
    assert "top tube 25.4: needs more of the hands than the first in " in said


def test_search_and_bicycles_side_by_side_say_it_too(capsys):
    grid = ("--option", "top_tube=25.4,31.8", "--case", "side_push", "--no-rules", "--wobble")
    found = held(capsys, "search", TOURER, *grid, "--objective", "max side_push.head_sideways")
    assert [one["bicycle"] for one in found["hands_bands"]] == ["as it stands", "no. 1"]
    assert found["hands_bands"][1]["lower_share"] > 0.8
    small = str(Path(TOURER).with_name("small_650b.csv"))
    two = held(capsys, "compare", TOURER, small, "--case", "side_push")["hands_bands"]
    assert two[1]["lower_share"] > 0.75
    assert two[1]["high"] < two[0]["high"]


def test_a_doubtful_share_is_called_so():
    def row(name, samples, lower):
        return BandRow(name, Band(np.array(samples)), lower)

    first = row("first", [1.0, 2.0, 3.0], None)
    table = band_table(
        (first, row("even", [1.0, 2.5, 2.9], 0.6), row("worse", [2.0, 3.0, 4.0], 0.0))
    )
    assert (
        "even: needs less of the hands than the first in 60 % of what nobody stated; that decides nothing."
        in table.notes
    )
    assert "worse: needs more of the hands than the first in 100 %" in table.notes
    assert table.rows[0][-1] is None
