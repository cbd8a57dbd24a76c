"""Several bicycles tried on the served page: the numbers are those of the commands, and a row makes its bicycle."""

from pathlib import Path

import pytest
from droptrail.converters.analysis import case_maker
from droptrail.model.choice.figures import values
from droptrail.model.choice.together import solved
from droptrail.model.errors import InputError
from droptrail.model.geometry.statements import FIELDS
from droptrail.validation.workbench import Upload, open_files, with_changes
from droptrail.validation.workbench_choice import MOST, compared, searched, tried_page
from droptrail.validation.workbench_knobs import Knobs

SHEET = Path(__file__).parents[2] / "sample_drawings" / "tourer_700c.csv"


@pytest.fixture(scope="module")
def bench():
    return open_files(None, Upload("tourer_700c.csv", SHEET.read_bytes()))


@pytest.fixture(scope="module")
def tried(bench):
    return compared(bench, ["top tube: 25.4, 31.8", "", "fork_offset=45, 55"])


def test_all_combinations_are_solved_in_full(bench, tried):
    rows = tried.comparison.rows
    assert len(rows) == 1 + 3 * 3 - 1
    for row in rows[::4]:
        masses, results = solved(row.bicycle, case_maker(bench.reading, ()), None)
        wanted = [*masses, *values(results)]
        # to what the batch is held against the full solver; bicycles worked out together are not solved one by one
        assert list(row.values[: len(wanted)]) == pytest.approx(wanted, rel=1e-9)


def test_a_row_put_on_the_bench_is_its_bicycle(bench, tried):
    page = tried_page(tried, bench.reading.bicycle)
    for row, said in zip(tried.comparison.rows, page["rows"], strict=True):
        made = with_changes(bench, said["use"]["tubes"], Knobs(said["use"]["items"]))
        now = made.reading.bicycle
        assert now.tubes == row.bicycle.tubes
        for name in FIELDS:
            value = getattr(row.bicycle.dimensions, name)
            assert getattr(now.dimensions, name) == (
                value if value is None else pytest.approx(value, abs=1e-5)
            )


def test_a_wider_tyre_and_a_heavier_rider_come_along(bench):
    page = tried_page(compared(bench, ["tyre: 42", "rider mass: 95"]), bench.reading.bicycle)
    both = page["rows"][-1]["use"]
    made = with_changes(bench, both["tubes"], Knobs(both["items"])).reading.bicycle
    assert made.loads.rider_mass == 95
    assert made.tyre_widths == (42, 42)
    assert made.dimensions.wheel_radius_front == pytest.approx(
        bench.reading.bicycle.dimensions.wheel_radius_front + 5
    )


def test_what_was_turned_before_is_the_reference(bench):
    heavy = with_changes(bench, {}, Knobs({"rider_mass": "95"}))
    page = tried_page(compared(heavy, ["top tube: 31.8"]), bench.reading.bicycle)
    assert page["rows"][0]["use"]["items"] == {"rider_mass": "95"}
    assert page["rows"][1]["use"]["items"] == {"rider_mass": "95"}


def test_the_front_of_a_search_is_no_softer_and_no_row_beats_another(bench):
    tried = searched(bench, ["top tube: 28.6, 31.8", "down tube: catalogue 31.8-34.9"], firm=True)
    page = tried_page(tried, bench.reading.bicycle)
    stiff = [k for k, c in enumerate(page["columns"]) if c["unit"] not in ("g",)]
    first = page["rows"][0]["values"]
    assert len(page["rows"]) > 2
    for row in page["rows"][1:]:
        assert all(row["values"][k] >= first[k] * (1 - 1e-9) for k in stiff)
    goals = [
        0,
        *(
            k
            for k, c in enumerate(page["columns"])
            if "sideways" in c["words"] or "lean" in c["words"]
        ),
    ]
    costs = [
        [row["values"][k] if k == 0 else -row["values"][k] for k in goals]
        for row in page["rows"][1:]
    ]
    for a in costs:
        assert not any(b != a and all(y <= x for x, y in zip(a, b, strict=True)) for b in costs)
    soft = searched(bench, ["top tube: 25.4, 28.6", "down tube: 28.6, 31.8"], firm=False)
    assert any(row.values[0] < soft.comparison.reference.values[0] for row in soft.comparison.rows)


@pytest.mark.parametrize(
    ("lines", "search", "words"),
    [
        ([], False, "one line for each"),
        (["hello"], False, "write what is to be tried"),
        (["spoke: 3, 4"], False, "spoke"),
        (["top tube: abc"], False, "abc"),
        (["fork offset: 45"], True, "a search exchanges tubes"),
        ([f"fork offset: {', '.join(map(str, range(20, 20 + MOST + 2)))}"], False, "name fewer"),
        (["top tube: 25.4"], True, "no combination keeps"),
    ],
)
def test_what_cannot_be_tried_is_said(bench, lines, search, words):
    with pytest.raises(InputError, match=words):
        searched(bench, lines, True) if search else compared(bench, lines)


def test_the_check_of_the_front_can_fail(bench, monkeypatch):
    """A fast path that is wrong shows nothing."""
    from droptrail.model.choice.search import Search
    from droptrail.model.errors import ModelError

    in_full = Search.in_full
    monkeypatch.setattr(Search, "in_full", lambda self, n: in_full(self, n) * 1.001)
    with pytest.raises(ModelError, match="do not use this search"):
        searched(bench, ["top tube: 28.6, 31.8"], True)


def test_the_page_says_whether_the_ranking_survives_every_way_to_hold_it(bench):
    """The same words as in the terminal, beside what was tried."""
    tried = compared(
        bench,
        [
            "top tube: 28.6x0.8/0.5/0.8, 30x0.8/0.5/0.8",
            "down tube: 31.8x0.9/0.6/0.9, 34.9x0.9/0.6/0.9",
        ],
    )
    words = " ".join(tried_page(tried, bench.reading.bicycle)["findings"].split())
    (push,) = (held for held in tried.comparison.held if held.case == "side_push")
    assert "Held how: Sideways push at the head tube" in words
    assert push.turns()[0].words in words
    assert "depends-on-holding" in words
