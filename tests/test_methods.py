"""The methods page keeps up with the code: every module and load case is in it, every constant is the code's own."""

import importlib
import re
from itertools import pairwise
from pathlib import Path

import pytest
from droptrail.model.cases.iso import PEAK_LOADS
from droptrail.model.cases.library import CASES
from markdown_it import MarkdownIt
from markdown_it.token import Token

ROOT = Path(__file__).parent.parent
PAGE = (ROOT / "model" / "METHODS.md").read_text(encoding="utf-8")
WITHOUT_PHYSICS = {
    "decide",
    "__init__",
    "arrays",
    "assumption",
    "errors",
    "public",
    "findings",
    "version",
    "words",
    "bicycle",
    "frame_model",
}


def parsed(page: str) -> tuple[Token, ...]:
    """The page as a renderer reads it: an unclosed fence swallows what follows, here as on the screen."""
    return tuple(MarkdownIt("commonmark").enable("table").parse(page))


def headings(page: str) -> list[str]:
    """Texts of the sections, `## 1. ...`."""
    tokens = parsed(page)
    after = pairwise(tokens)
    return [
        text.content for token, text in after if token.type == "heading_open" and token.tag == "h2"
    ]


def table_rows(page: str) -> list[tuple[str, ...]]:
    """Cells of every row of every table, back quotes and all."""
    rows: list[list[str]] = []
    in_cell = False
    for token in parsed(page):
        if token.type == "tr_open":
            rows.append([])
        if token.type == "inline" and in_cell:
            rows[-1].append(token.content)
        in_cell = token.type in ("td_open", "th_open")
    return [tuple(row) for row in rows]


CONSTANT = re.compile(r"`([\w.]+)\.([A-Z_]+)`")
CONSTANTS = [
    (*match.groups(), row[1]) for row in table_rows(PAGE) if (match := CONSTANT.fullmatch(row[0]))
]


def named(page: str) -> set[str]:
    """Words in back quotes, in prose and tables; what stands in a code block is not prose."""
    inline = [token for token in parsed(page) if token.type == "inline"]
    quoted = [c.content for token in inline for c in token.children if c.type == "code_inline"]
    return {word for text in quoted for word in re.findall(r"[\w.]+|\w+", text)} | {
        word for text in quoted for word in re.findall(r"\w+", text)
    }


def missing(wanted: set[str], page: str = PAGE) -> set[str]:
    return wanted - named(page)


def test_every_module_of_the_mechanics_is_described():
    files = [
        path.relative_to(ROOT / "model").with_suffix("") for path in (ROOT / "model").rglob("*.py")
    ]
    modules = {".".join(file.parts) for file in files if file.name not in WITHOUT_PHYSICS}
    assert len(modules) > 50
    assert missing(modules) == set()


def test_every_load_case_is_described():
    assert missing(set(CASES)) == set()


def test_a_module_or_case_left_out_is_noticed():
    assert missing({"buckling", "sprint"}, PAGE) == {"sprint"}


@pytest.mark.parametrize(
    ("module", "name", "value"), CONSTANTS, ids=[f"{m}.{n}" for m, n, _ in CONSTANTS]
)
def test_constants_are_the_codes_own(module, name, value):
    assert getattr(importlib.import_module(f"droptrail.model.{module}"), name) == float(value)


def test_the_constants_are_there():
    assert len(CONSTANTS) >= 15


def test_peak_loads_are_the_codes_own():
    numbers = re.compile(r"\d+")
    rows = [
        row for row in table_rows(PAGE) if len(row) == 5 and all(map(numbers.fullmatch, row[1:]))
    ]
    assert {kind: tuple(float(v) for v in values) for kind, *values in rows} == dict(PEAK_LOADS)


def test_every_line_of_contents_leads_somewhere():
    """Anchors as the usual renderers make them from headings."""
    titles = headings(PAGE)
    anchors = {re.sub(r"[^\w\- ]", "", title.lower()).replace(" ", "-") for title in titles}
    links = re.findall(r"\]\(#([^)]+)\)", PAGE)
    assert len(titles) > 20
    assert len(links) == len(titles)
    assert set(links) == anchors


def test_an_unclosed_code_block_is_noticed():
    section = PAGE.index("## 13.")
    broken = PAGE[:section] + PAGE[section:].replace("\n```\n", " ```\n", 1)
    assert len(headings(broken)) < len(headings(PAGE))
    assert "buckling" not in named(broken)


def test_no_line_of_the_page_hides_a_fence():
    """Three back quotes anywhere but at a line's start end nothing and begin nothing."""
    assert re.findall(r"^[^`\n]+```", PAGE, re.M) == []
