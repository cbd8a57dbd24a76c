"""No false digits in what the commands print: no signed nought, no idle exponent, one quantity with the same digits."""

import re
from html import unescape
from pathlib import Path

import openpyxl
import pytest
from droptrail.cli.main import main

SAMPLES = Path(__file__).parents[1] / "sample_drawings"
SHEETS = ("tourer_700c.csv", "mixte_700c.csv", "tandem_nodes.csv", "trekking_26.csv")
COMMANDS = (
    ("geometry",),
    ("check", "--full"),
    ("solve",),
    ("tubes",),
    ("modes",),
    ("jig",),
    ("compare", "--option", "fork_offset=45,50", "--modes", "2"),
    ("compare", "--option", "down_tube=31.8,34.9"),
    ("sweep", "--steps", "3"),
    ("search", "--option", "down_tube=31.8,34.9"),
    ("shimmy", "--draws", "4"),
)
FALSE = {
    "a nought with a sign": r"(?<![\w.,])[-+−]0(?:\.0+)?(?![\d.])",
    "a doubt of nought": r"±\s*0(?:\.0+)?(?![\d.])",
    # a relative error is told by one digit and its power of ten; everything else is of workshop size
    "an exponent with decimals": r"\d\.\d+e[-+]\d+",
    "more digits than anybody measures": r"\d\.\d{5,}|\d{3,}\.\d{3,}",
}
# what is not a number that was worked out: names of files and codes, thread and tube names
LEFT_OUT = re.compile(r"sha256.*|\b\d+\.\d+\.\d+\b")


def printed(capsys, *words):
    """What a command says, its refusals too, which are held to the same."""
    assert main([str(word) for word in words]) in (0, 1, 3, 4)
    told = capsys.readouterr()
    return LEFT_OUT.sub("", told.out + told.err)


def false_digits(text):
    found = []
    for name, pattern in FALSE.items():
        for hit in re.finditer(pattern, text):
            found.append((name, text[max(0, hit.start() - 50) : hit.end() + 20]))
    return found


@pytest.mark.parametrize("sheet", SHEETS)
def test_no_command_prints_false_digits(capsys, sheet):
    said = 0
    for command, *options in COMMANDS:
        text = printed(capsys, command, SAMPLES / sheet, *options)
        said += len(text)
        assert false_digits(text) == [], (command, options)
    assert said > 3000


@pytest.mark.parametrize("name", ["tourer_700c", "gravel_700c", "laden_700c", "trail_27"])
def test_no_reading_of_a_drawing_prints_false_digits(capsys, name):
    text = printed(capsys, "read", SAMPLES / f"{name}.dxf")
    text += printed(
        capsys, "check", SAMPLES / f"{name}.dxf", "--sheet", SAMPLES / f"{name}.csv", "--full"
    )
    assert "bottom bracket at (" in text
    assert false_digits(text) == []


def test_the_search_for_false_digits_finds_them():
    for text in ("-0.00 mm", "+0.0 %", "± 0.00", "1.42109e-14", "75.99999999999999", "1046.9712"):
        assert false_digits(text), text
    for text in ("0.00", "-0.01", "+0.1", "4e-11", "1046.97", "28.6x0.8/0.5/0.8", "12-0.8"):
        assert not false_digits(text), text


def test_page_and_worksheet_tell_a_mode_and_a_trail_with_the_digits_of_the_terminal(
    capsys, tmp_path
):
    sheet = SAMPLES / "tourer_700c.csv"
    page = tmp_path / "page.html"
    assert main(["report", str(sheet), "-o", str(page), "--no-audit", "--modes", "3"]) in (0, 1, 4)
    html = page.read_text(encoding="utf-8")
    shown = unescape(
        re.sub(r"<[^>]+>", " ", re.sub(r"<(script|style).*?</\1>", "", html, flags=re.S))
    )
    assert false_digits(shown) == []
    modes = printed(capsys, "modes", sheet, "--count", "3")
    first = re.search(r"^ +1 +(\d+\.\d+) ", modes, re.M).group(1)
    beside = tmp_path / "beside.xlsx"
    side = printed(
        capsys, "compare", sheet, SAMPLES / "gravel_700c.csv", "--modes", "3", "-o", beside
    )
    tried = printed(capsys, "compare", sheet, "--option", "fork_offset=45", "--modes", "3")
    # one mode, one way to say it
    assert re.fullmatch(r"\d+\.\d\d", first)
    for text in (shown, side, tried):
        assert first in text
        assert not re.search(rf"(?<![\d.]){first}\d", text)
    trail = re.search(r"^ trail +(\d+\.\d+) ", printed(capsys, "geometry", sheet), re.M).group(1)
    assert trail == "61.78"
    # stack and wheelbase to the same two decimals in the geometry, the check and side by side
    checked = printed(capsys, "check", sheet, "--full")
    geometry = printed(capsys, "geometry", sheet)
    for item, value in (("stack", "592.37"), ("wheelbase", "1046.97"), ("head angle", "71.80")):
        assert re.search(rf"^ {item} .*{value}", side, re.M), item
        assert re.search(rf"^ {item} +{value} ", geometry, re.M), item
    assert "592.37" in checked
    for text in (shown, side, tried):
        assert trail in text
        assert not re.search(r"(?<![\d.])61\.[789]\d*(?<!61\.78)(?![\d.]) *mm", text)
    assert false_digits(side) == false_digits(tried) == []
    book = openpyxl.load_workbook(beside)
    formats = {
        cell.value: cell.number_format
        for row in book["geometry"].iter_rows(min_row=2)
        for cell in row
        if isinstance(cell.value, float)
    }
    assert formats
    assert "General" not in formats.values()
