"""The catalogue of findings (converters/FINDINGS.md) names every code that the sources can raise, and no other.

Codes are read from the syntax tree: the first argument of `Finding(...)`, or of a function that puts a prefix before
it. A code that is a variable must come from one of the tables named here.
"""

import ast
import importlib
import re
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import pytest
from droptrail.model.geometry.statements import PREFERENCE

ROOT = Path(__file__).parent.parent
PAGE = ROOT / "converters" / "FINDINGS.md"
LAYERS = ("model", "converters", "validation", "cli")
SEVERITIES = {"info", "warning", "error"}
ANY = "<item>"  # stands for the changing part of a family such as closure-<item>
# Module -> table of code -> anything, where a code comes out of a table.
TABLES = {
    "converters/drawings/dxf/place.py": "LOST",
    "converters/drawings/dxf/curves.py": "LEFT_OUT",
}
WRAPPERS = {"find": "side-"}  # function -> what it puts before its code
WRAPPED_IN = "converters/drawings/sideview/say.py"  # the wrapper itself
COPIED_IN = "model/choice/workshop_rules.py"  # a finding passed on under its own code


def called(node: ast.Call) -> str:
    return node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")


def text_of(node: ast.expr) -> str | None:
    """A string as written; the changing parts of an f-string as ANY; None for a variable."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(text_of(part) or ANY for part in node.values)
    return None


def raised(source: str, name: str) -> Iterator[tuple[str, str | None]]:
    """(code, severity or None) of every finding made in one file. Raises AssertionError for a code out of nowhere."""
    for node in ast.walk(ast.parse(source)):
        if (
            not isinstance(node, ast.Call)
            or called(node) not in ("Finding", *WRAPPERS)
            or len(node.args) < 3
        ):
            continue
        code, severity = text_of(node.args[0]), text_of(node.args[1])
        if called(node) in WRAPPERS and code is not None:
            yield WRAPPERS[called(node)] + code, severity
        elif called(node) == "Finding" and name != WRAPPED_IN:
            if code is None and name == COPIED_IN:
                continue
            if code is None:
                assert name in TABLES, (
                    f"{name}:{node.lineno}: where does this code come from? Name its table in TABLES"
                )
                module = importlib.import_module(
                    "droptrail." + name.removesuffix(".py").replace("/", ".")
                )
                yield from ((key, severity) for key in getattr(module, TABLES[name]))
            else:
                yield code, severity


def in_sources() -> dict[str, set[str | None]]:
    """Code -> severities, None where that is worked out."""
    found: defaultdict[str, set[str | None]] = defaultdict(set)
    for layer in LAYERS:
        for path in sorted((ROOT / layer).rglob("*.py")):
            for code, severity in raised(
                path.read_text(encoding="utf-8"), str(path.relative_to(ROOT))
            ):
                found[code].add(severity)
    return dict(found)


def in_catalogue() -> dict[str, set[str]]:
    """Code -> severities of the rows ``| `code` | severity | what it means | what to do |``."""
    rows = re.findall(
        r"^\| `([^`]+)` \| ([^|]+) \| ([^|]+) \| ([^|]+) \|$",
        PAGE.read_text(encoding="utf-8"),
        re.M,
    )
    assert all(len(meaning) > 10 and len(remedy) > 3 for _, _, meaning, remedy in rows)
    codes = [code for code, *_ in rows]
    assert len(codes) == len(set(codes)), "a code is given twice"
    return {code: set(re.findall(r"\w+", severity)) - {"or"} for code, severity, *_ in rows}


def test_the_catalogue_names_every_code_and_no_other():
    sources, catalogue = set(in_sources()), set(in_catalogue())
    assert sources - catalogue == set(), "add these to converters/FINDINGS.md"
    assert catalogue - sources == set(), (
        "these are no longer raised; take them out of converters/FINDINGS.md"
    )
    assert len(sources) > 60


def test_severities_are_the_codes_own():
    catalogue = in_catalogue()
    for code, severities in in_sources().items():
        assert catalogue[code] <= SEVERITIES
        assert severities - {None} <= catalogue[code], code
        if None not in severities:
            assert catalogue[code] == severities, code


def test_codes_are_kebab_case():
    for code in in_sources():
        assert re.fullmatch(r"[a-z][a-z0-9]*(-([a-z0-9]+|<item>))+", code), code


def test_the_family_of_closures_lists_its_items():
    text = PAGE.read_text(encoding="utf-8")
    assert [item for item in PREFERENCE if f"`closure-{item.replace('_', '-')}`" not in text] == []


def test_the_reader_of_codes_finds_what_it_should():
    source = (
        'Finding("a-b", "info", text)\nfind("c-d", "warning", text)\nFinding(f"e-{x}", severity, text)\n'
        'findings.append(Finding("g-h", "error", text, where))'
    )
    assert set(raised(source, "x.py")) == {
        ("a-b", "info"),
        ("side-c-d", "warning"),
        ("e-<item>", None),
        ("g-h", "error"),
    }


def test_a_code_out_of_nowhere_is_noticed():
    with pytest.raises(AssertionError, match="Name its table"):
        list(raised("Finding(code, 'info', text)", "x.py"))
