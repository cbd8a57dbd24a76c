"""The validation page says what the programs give now: worked out anew and compared, rounding aside."""

import re
import shutil

import pytest
from droptrail.validation import page as pages
from droptrail.validation.opensees import available
from droptrail.validation.page import PAGE, error, number, page
from droptrail.validation.published import (
    Line,
    bicycle_lines,
    drawing_lines,
    mitre_lines,
    section_lines,
)

needs_opensees = pytest.mark.skipif(available() is not None, reason=str(available()))
NUMBER = re.compile(r"(?:< )?(?<![\w.])-?\d+(?:\.\d+)?(?:e[+-]\d+)?(?![\w.])")
SMALL = 1e-6  # an error below it is rounding, which differs from machine to machine


def differences(shown: str, fresh: str) -> list[tuple[str, str]]:
    """Lines that differ in words, or in a figure by more than its last digits."""
    pairs = zip(shown.splitlines(), fresh.splitlines(), strict=False)
    off = [(a, b) for a, b in pairs if not _alike(a, b)]
    return off + [("lines", "lines")] * (len(shown.splitlines()) != len(fresh.splitlines()))


def _alike(a: str, b: str) -> bool:
    if NUMBER.sub("#", a) != NUMBER.sub("#", b):
        return False
    return all(_close(x, y) for x, y in zip(NUMBER.findall(a), NUMBER.findall(b), strict=True))


def _close(x: str, y: str) -> bool:
    p, q = (float(v.removeprefix("< ")) for v in (x, y))
    return max(abs(p), abs(q)) < SMALL or abs(p - q) <= (0.06 if "e" in x else 3e-6) * abs(p)


@needs_opensees
def test_the_page_is_up_to_date():
    """If this fails after a change that is meant: `make docs`."""
    assert differences(PAGE.read_text(encoding="utf-8"), page()) == []


def test_every_figure_of_the_page_is_met():
    text = PAGE.read_text(encoding="utf-8")
    assert text.count("| yes |") > 380
    assert "| NO |" not in text
    assert "none found" not in text


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("306 | 306", "306 | 305"),
        ("| yes |", "| NO |"),
        ("0.108094", "0.108095"),
        ("-1.07225", "-1.0723"),
        ("closed-form", "published"),
        ("5.9e-05", "6.9e-05"),
        ("**read**", "**from memory**"),
        ("\n## Mitres\n", ""),
    ],
)
def test_a_page_that_says_something_else_is_noticed(old, new):
    text = PAGE.read_text(encoding="utf-8")
    assert old in text
    assert differences(text, text.replace(old, new, 1)) != []
    assert differences(text, text) == []


def test_rounding_is_no_difference():
    assert differences("| 1 | < 1e-09 | yes |", "| 1 | 2.1e-09 | yes |") == []
    assert differences("| 5.94e-05 |", "| 5.91e-05 |") == []


@pytest.mark.parametrize("lines", [bicycle_lines, section_lines, mitre_lines])
def test_each_line_can_fail(lines):
    for line in lines():
        assert line.ok
        off = 2 * line.tolerance * (1 if line.got <= line.expected else -1)
        assert not Line(line.what, line.source, line.expected + off, line.got, line.tolerance).ok
        assert not Line(line.what, line.source, line.expected, float("nan"), line.tolerance).ok


def test_a_drawing_off_its_truth_is_noticed(tmp_path):
    """The gravel drawing held against the touring truth."""
    data = tmp_path / "data"
    (data / "dxf_good").mkdir(parents=True)
    for name in ("side_view_truth.json", "dxf_good/drawn.json"):
        shutil.copy(pages.DATA / name, data / name)
    gravel = next((pages.DATA / "dxf_good").glob("02*.dxf"))
    shutil.copy(gravel, data / "dxf_good" / "01_freecad_r14_layers_touring.dxf")
    (line,) = drawing_lines(data)
    assert not line.ok
    assert line.mm > 1.0


def test_numbers_and_errors_as_they_are_shown():
    assert number(0.1080942) == "0.108094"
    assert error(2.0, 2.0000000001) == "< 1e-09"
    assert error(2.0, 2.002) == "1.0e-03"
    assert error(0.0, 0.5) == "5.0e-01"
    assert error(2.0, float("nan")) == "none found"


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        (
            "available",
            lambda: "no wheel for this Python",
            "needs OpenSees beside our solver: no wheel",
        ),
        ("DATA", pages.ROOT / "nowhere", "written from a checkout"),
    ],
)
def test_without_what_it_needs_nothing_is_written(name, value, words, monkeypatch):
    before = PAGE.read_bytes()
    monkeypatch.setattr(pages, name, value)
    with pytest.raises(SystemExit, match=words):
        pages.main()
    assert PAGE.read_bytes() == before
