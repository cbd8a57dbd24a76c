"""Documents say what is true: shown output is what the command prints, named paths exist."""

import re
from pathlib import Path

import pytest
from helpers_docs import ROOT, blocks, documents, run, sliced, without_noise

CASES = [(path, match) for path in documents() for match in blocks(path)]
PAGES = sorted({*ROOT.glob("*.md"), *ROOT.glob("*/*.md")} - {*ROOT.glob(".venv/*.md")})


@pytest.mark.parametrize(("document", "match"), CASES, ids=[f"{p.name}-{m['command'][10:50]}" for p, m in CASES])
def test_shown_output_is_what_the_command_prints(document, match, monkeypatch):
    monkeypatch.chdir(ROOT)
    assert without_noise(sliced(run(match["command"]), match)) == without_noise(match["shown"])


def test_the_readme_shows_generated_output():
    assert any(path.name == "README.md" for path, _ in CASES)


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
