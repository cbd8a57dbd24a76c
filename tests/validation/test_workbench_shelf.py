"""The shelf of the served page: plain sheets in a folder, opened and put side by side; nothing is overwritten."""

from pathlib import Path

import pytest
from droptrail.converters.files.fitsheet.bicycle import read_fit_sheet
from droptrail.model.errors import InputError
from droptrail.validation.workbench import Upload, open_files, with_changes
from droptrail.validation.workbench_knobs import Knobs
from droptrail.validation.workbench_shelf import NO_SHELF, Shelf

SAMPLES = Path(__file__).parents[2] / "sample_drawings"


@pytest.fixture(scope="module")
def bench():
    return open_files(None, Upload("tourer.csv", (SAMPLES / "tourer_700c.csv").read_bytes()))


@pytest.fixture
def shelf(tmp_path):
    return Shelf(tmp_path)


def test_a_kept_bicycle_is_a_sheet_that_reads_back(bench, shelf, tmp_path):
    changed = with_changes(bench, {}, Knobs({"fork_offset": "55"}))
    name = shelf.keep(changed, "Anna, second try")
    assert name == "Anna- second try.csv"
    assert shelf.names() == [name]
    said = {s.item: s.value for s in read_fit_sheet(tmp_path / name).statements}
    assert said["fork_offset"] == 55
    again = open_files(None, shelf.opened(name))
    assert again.reading.bicycle.dimensions.fork_offset == 55
    assert again.check.verdict == "pass"


def test_nothing_is_overwritten(bench, shelf, tmp_path):
    (tmp_path / "mine.csv").write_text("the builder's own", encoding="utf-8")
    with pytest.raises(InputError, match="choose another name"):
        shelf.keep(bench, "mine")
    assert (tmp_path / "mine.csv").read_text(encoding="utf-8") == "the builder's own"


@pytest.mark.parametrize("name", ["", "...", "  ", "///"])
def test_a_name_of_nothing_is_refused(bench, shelf, name):
    with pytest.raises(InputError, match="letters and digits"):
        shelf.keep(bench, name)


@pytest.mark.parametrize("name", ["../out", "/etc/passwd", "a/../../b", "c:\\x"])
def test_a_name_cannot_lead_out_of_the_folder(bench, shelf, tmp_path, name):
    kept = shelf.keep(bench, name)
    assert (tmp_path / kept).is_file()
    assert list(tmp_path.parent.glob("out*")) == []
    for asked in ("../" + kept, str(tmp_path / kept), "nothing.csv", ".hidden.csv"):
        with pytest.raises(InputError, match="not on the shelf"):
            shelf.opened(asked)


def test_only_sheets_are_on_it(shelf, tmp_path):
    for name in ("b.csv", "A.xlsx", ".half.csv", "picture.png", "notes.doc"):
        (tmp_path / name).write_bytes(b"x")
    (tmp_path / "folder.csv").mkdir()
    assert shelf.names() == ["A.xlsx", "b.csv"]


def test_side_by_side_with_the_bench_last(bench, shelf, tmp_path):
    (tmp_path / "gravel.csv").write_bytes((SAMPLES / "gravel_700c.csv").read_bytes())
    shown = shelf.beside(bench, ["gravel.csv"])
    # both are drawn over one another, each in a look of its own, with its name beside a piece of its line
    for number, name in enumerate(("gravel.csv", "on the bench"), 1):
        assert shown.count(f'class="beside frame-{number}"') == 8 + 1
        assert shown.count(f'class="beside thin frame-{number}"') == 2
        assert f"</svg>{name}</span>" in shown
    for words in ("gravel.csv", "on the bench", "trail", "[%]"):
        assert words in shown
    assert ">71.37<" in shown  # the gravel bicycle's trail, to the digits of a check
    assert ">61.78<" in shown
    for names in ([], ["gravel.csv"] * 4):
        with pytest.raises(InputError, match="tick one to"):
            shelf.beside(bench, names)


def test_without_a_shelf_it_says_how_to_get_one(bench):
    assert NO_SHELF.page() == {"folder": None, "names": []}
    with pytest.raises(InputError, match="--shelf FOLDER"):
        NO_SHELF.keep(bench, "x")
    assert NO_SHELF.names() == []
