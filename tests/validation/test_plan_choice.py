"""Comparison, search, shelf and report of the served page for frames that are no diamond, and for two riders."""

from pathlib import Path

import pytest
from droptrail.cli.main import main
from droptrail.validation.workbench import Upload, open_files
from droptrail.validation.workbench_choice import compared, searched, tried_page
from droptrail.validation.workbench_shelf import Shelf

FOLDER = Path(__file__).parent.parent.parent / "sample_drawings"
# sheet or plan, lines to compare, lines to search, a tube that a diamond does not have
FRAMES = {
    "mixte_700c.csv": (
        ("lateral: 16, 19", "fork offset: 48"),
        ("lateral: 14x0.8, 16x0.8, 19x0.8", "down tube: catalogue 28.6-34.9"),
        "lateral",
    ),
    "step_through_26.csv": (
        ("brace: 19, 22.2", "chainstay: 455"),
        ("down tube: catalogue 31.8-38.1",),
        "brace",
    ),
    "tandem": (
        ("boom tube: 34.9, 38.1", "chainstay: 455"),
        ("down tube: catalogue 34.9-44.5",),
        "boom_tube",
    ),
}


@pytest.fixture(scope="module", params=FRAMES)
def frame(request, tmp_path_factory):
    """The bench with the frame on it, and what is tried."""
    path = FOLDER / request.param
    if not path.exists():
        path = tmp_path_factory.mktemp("plan") / "sheet.csv"
        assert main(["new", str(path), "--plan", request.param]) == 0
    bench = open_files(None, Upload(path.name, path.read_bytes()))
    assert bench.check is not None
    return bench, *FRAMES[request.param]


def test_a_plans_tube_and_an_item_are_compared_and_each_row_can_be_put_on_the_bench(frame):
    bench, lines, _, tube = frame
    bicycle = bench.reading.need_bicycle()
    tried = compared(bench, lines)
    page = tried_page(tried, bicycle)
    # every combination of two tubes or the one as it is with the other item or without
    assert 3 <= len(page["rows"]) - 1 <= 5
    named = [row for row in page["rows"] if tube.replace("_", " ") in row["name"]]
    assert named
    for row in named:
        assert row["use"]["tubes"][tube]["outside_diameter"] in row["name"]
    keys = [column["key"] for column in page["columns"]]
    assert keys[0] == "mass"
    assert "side_push.head_sideways" in keys
    assert "geometry.trail" in keys
    # every figure of every row is a number
    assert all(None not in row["values"] for row in page["rows"])
    heavier = max(page["rows"][1:], key=lambda row: row["values"][0])
    assert heavier["values"][0] != page["rows"][0]["values"][0]


def test_a_search_finds_a_front_that_is_solved_in_full(frame):
    bench, _, lines, _ = frame
    tried = searched(bench, lines, False)
    page = tried_page(tried, bench.reading.need_bicycle())
    assert len(page["rows"]) > 1
    assert "of the front, each solved in full" in page["words"]
    at = [column["key"] for column in page["columns"]].index("side_push.head_sideways")
    # the front's stiffness, found on the fast path, is the full solver's
    rows = tried.comparison.rows
    assert all(row.values[0] > 0 for row in rows)
    stiffest = max(row["values"][at] for row in page["rows"])
    assert stiffest >= page["rows"][0]["values"][at]


def test_it_is_kept_on_the_shelf_and_put_beside_itself(frame, tmp_path):
    bench, _, _, tube = frame
    shelf = Shelf(tmp_path)
    name = shelf.keep(bench, "kept")
    shown = shelf.beside(bench, [name])
    assert tube.replace("_", " ") in shown
    # all tubes of the plan are drawn in both looks, more than the eight of a diamond
    assert shown.count('class="beside frame-1"') == shown.count('class="beside frame-2"') > 9
