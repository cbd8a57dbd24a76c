"""Documents say what is true: shown output is what the command prints, named paths exist."""

import re
from pathlib import Path

import pytest
from helpers_docs import FOLDER, ROOT, blocks, documents, fresh, place, typed, without_noise

TEXTS = {path: path.read_text(encoding="utf-8") for path in documents()}
CASES = [
    (path, match)
    for path, text in TEXTS.items()
    if not FOLDER.search(text)
    for match in blocks(path)
]
STORIES = [
    path for path, text in TEXTS.items() if FOLDER.search(text)
]  # commands that build on one another
PAGES = sorted({*ROOT.glob("*.md"), *ROOT.glob("*/*.md")} - {*ROOT.glob(".venv/*.md")})


@pytest.mark.parametrize(
    ("document", "match"), CASES, ids=[f"{p.name}-{m['command'][10:50]}" for p, m in CASES]
)
def test_shown_output_is_what_the_command_prints(document, match, monkeypatch):
    monkeypatch.chdir(ROOT)
    assert without_noise(fresh(match, story=False)) == without_noise(match["shown"])


@pytest.mark.slow
@pytest.mark.parametrize("document", STORIES, ids=[p.name for p in STORIES])
def test_a_story_told_from_an_empty_folder_comes_out_as_shown(document):
    with place(TEXTS[document]):
        for match in blocks(document):
            assert without_noise(fresh(match, story=True)) == without_noise(match["shown"])


def test_long_commands_are_carried_on_before_an_option():
    command = "droptrail check a.dxf --sheet b.csv --set rider_mass=-1 " + "--case seated " * 6
    shown = typed(command.strip())
    assert shown.startswith("$ droptrail check a.dxf --sheet b.csv")
    assert all(len(line) < 104 for line in shown.splitlines())
    assert shown.replace(" \\\n   ", "").removeprefix("$ ").strip() == command.strip()


def test_the_readme_and_the_tutorial_show_generated_output():
    assert any(path.name == "README.md" for path, _ in CASES)
    assert [path.name for path in STORIES] == ["TUTORIAL.md"]


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_every_named_path_exists(page: Path):
    """Paths in back quotes that start with a folder of the project, and relative links."""
    text = page.read_text(encoding="utf-8")
    folders = "model|converters|validation|cli|tests|sample_drawings|benchmarks"
    named = re.findall(rf"`((?:{folders})/[\w./-]+)`", text)
    missing = [name for name in named if not (ROOT / name).exists()]
    links = re.findall(r"\]\((?!https?:|#)([^)#\s]+)", text)
    missing += [link for link in links if not (page.parent / link).exists()]
    assert missing == []


# --- the map of the code --------------------------------------------------------------------------------------
ROOMS = ("model", "converters", "validation", "cli", "tests", "benchmarks")


def names_that_lead_nowhere(text: str) -> set[str]:
    """Modules by the end of their path, and functions, that a page names in backquotes and that no room has."""
    files = [path for room in ROOMS for path in (ROOT / room).rglob("*.py")]
    ends = tuple(f"/{path.relative_to(ROOT).as_posix()}" for path in files)
    known: set[str] = set()
    for path in files:
        if path.parts[-2] != "tests":
            known |= set(re.findall(r"\w+", path.read_text(encoding="utf-8")))
    modules = set(re.findall(r"`([\w/]+\.py)`", text))
    functions = set(re.findall(r"`([a-z]+(?:_[a-z]+)+)`", text))
    absent = {name for name in modules if not any(end.endswith(f"/{name}") for end in ends)}
    return absent | (functions - known)


def test_the_map_names_only_what_is_there():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert len(re.findall(r"`[\w/]+\.py`", text)) > 60
    assert names_that_lead_nowhere(text) == set()


def test_a_name_that_leads_nowhere_is_noticed():
    text = "`linework/strokes.py` and `linework/brush.py`, `read_input` and `read_entrails`"
    assert names_that_lead_nowhere(text) == {"linework/brush.py", "read_entrails"}
