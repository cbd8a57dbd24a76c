"""Facts stay values until they are shown: no code reads anything back out of a message, a note or a title."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
# Fields that hold sentences for people.
SENTENCES = {"message", "where", "notes", "title", "reason", "caution", "sentence"}
# What takes a text apart or looks for something in it.
PEELING = {
    "startswith", "endswith", "removeprefix", "removesuffix", "partition", "rpartition", "split", "rsplit", "replace",
    "find", "index", "count",
}  # fmt: skip


def sentence(node: ast.expr, errors: set[str]) -> bool:
    """Whether an expression is a sentence: a field of that name, or an exception turned into text."""
    if isinstance(node, ast.Attribute):
        return node.attr in SENTENCES
    if isinstance(node, ast.Name):
        return node.id == "message"
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "str":
        return any(isinstance(arg, ast.Name) and arg.id in errors for arg in node.args)
    return False


def peeled(source: str) -> list[int]:
    """Lines that take a sentence apart."""
    tree = ast.parse(source)
    errors = {
        node.name for node in ast.walk(tree) if isinstance(node, ast.ExceptHandler) and node.name
    }
    lines = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            # split() without a sign only evens out blanks
            even = node.func.attr == "split" and not node.args
            parts = node.func.attr in PEELING and not even and sentence(node.func.value, errors)
            pattern = isinstance(node.func.value, ast.Name) and node.func.value.id == "re"
            if parts or (pattern and any(sentence(arg, errors) for arg in node.args)):
                lines.append(node.lineno)
        if isinstance(node, ast.Compare):
            searched = [
                right
                for operator, right in zip(node.ops, node.comparators, strict=True)
                if isinstance(operator, ast.In | ast.NotIn)
            ]
            if any(sentence(right, errors) for right in searched):
                lines.append(node.lineno)
    return lines


def test_no_message_is_read_back():
    found = {}
    for room in ("model", "converters", "validation", "cli"):
        for path in (ROOT / room).rglob("*.py"):
            lines = peeled(path.read_text(encoding="utf-8"))
            if lines:
                found[path.relative_to(ROOT).as_posix()] = lines
    assert found == {}, "keep the fact as a field instead"


@pytest.mark.parametrize(
    "source",
    [
        "x = finding.message.split(':')",
        "if 'HATCH' in finding.message: pass",
        "if 'row' not in f.where: pass",
        "try: f()\nexcept E as error: g(str(error).replace('a', 'b'))",
        "try: f()\nexcept E as error:\n    if 'column' in str(error): g()",
        "m = re.search('row', statement.where)",
        "words = figure.title.partition(': ')[2]",
        "def f(message):\n    return re.findall('--pick', message)",
    ],
)
def test_every_way_of_peeling_is_noticed(source):
    assert peeled(source)


def test_texts_of_files_may_be_read():
    assert (
        peeled("x = row.text.split(',')\nif 'a' in names: pass\ny = str(path).replace('a', 'b')")
        == []
    )
