"""The methods page keeps up with the code: every module and load case is in it, every constant is the code's own."""

import importlib
import re
from pathlib import Path

import pytest
from droptrail.model.cases.iso import PEAK_LOADS
from droptrail.model.cases.library import CASES

ROOT = Path(__file__).parent.parent
PAGE = (ROOT / "model" / "METHODS.md").read_text(encoding="utf-8")
WITHOUT_PHYSICS = {
    "__init__",
    "arrays",
    "errors",
    "findings",
    "version",
    "words",
    "bicycle",
    "frame_model",
}
CONSTANTS = re.findall(r"^\| `([\w.]+)\.([A-Z_]+)` \| ([\d.e+-]+) \|", PAGE, re.M)


def named(page: str) -> set[str]:
    """Words in back quotes, in prose and tables."""
    return {
        word
        for quoted in re.findall(r"`([^`\n]+)`", page)
        for word in (*re.findall(r"[\w.]+", quoted), *re.findall(r"\w+", quoted))
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
    rows = re.findall(r"^\| ([a-z ]+) \| (\d+) \| (\d+) \| (\d+) \| (\d+) \|$", PAGE, re.M)
    assert {kind: tuple(float(v) for v in values) for kind, *values in rows} == dict(PEAK_LOADS)


def test_every_line_of_contents_leads_somewhere():
    """Anchors as the usual renderers make them from headings."""
    headings = re.findall(r"^## (.+)$", PAGE, re.M)
    anchors = {re.sub(r"[^\w\- ]", "", h.lower()).replace(" ", "-") for h in headings}
    links = re.findall(r"\]\(#([^)]+)\)", PAGE)
    assert len(links) == len(headings)
    assert set(links) == anchors
