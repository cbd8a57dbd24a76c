"""One statement does one thing: no packed lines, whichever room they stand in."""

import ast

import pytest
from test_structure import LAYERS, ROOT, modules

COMPREHENSIONS = (ast.ListComp, ast.SetComp, ast.DictComp, ast.GeneratorExp)
BLOCKS = ("body", "orelse", "finalbody", "handlers", "cases")


def packed(source: str) -> list[int]:
    """Lines of statements that do too much at once: two comprehensions, or a tuple assigned item by item."""
    lines = []
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.stmt) or isinstance(node, ast.FunctionDef | ast.ClassDef):
            continue
        parts = [value for name, value in ast.iter_fields(node) if name not in BLOCKS]
        flat = [v for part in parts for v in (part if isinstance(part, list) else [part])]
        inner = [n for part in flat if isinstance(part, ast.AST) for n in ast.walk(part)]
        several = sum(isinstance(n, COMPREHENSIONS) for n in inner) > 1
        pair = isinstance(node, ast.Assign) and isinstance(node.value, ast.Tuple)
        if pair and isinstance(node.targets[0], ast.Tuple):
            taken = {ast.unparse(name) for name in node.targets[0].elts}
            # a swap, or one that takes from what it gives, cannot be written otherwise
            pair = not taken & {
                ast.unparse(n) for n in ast.walk(node.value) if isinstance(n, ast.Name)
            }
        else:
            pair = False
        if several or pair:
            lines.append(node.lineno)
    return lines


def test_a_statement_does_one_thing():
    found = {
        str(path.relative_to(ROOT)): lines
        for layer in LAYERS
        for path in modules(layer)
        if (lines := packed(path.read_text(encoding="utf-8")))
    }
    assert found == {}, "name what stands between, or write one line for each"


@pytest.mark.parametrize(
    "source",
    [
        "a, b = x, y",
        "m = [[f(v) for v in row] for row in rows]",
        "return_(any(a for a in b), [c for c in d])",
    ],
)
def test_a_packed_statement_is_seen(source):
    assert packed(source) == [1]


def test_a_swap_and_a_single_comprehension_are_not():
    assert packed("a, b = b, a\nc, s = -s, c\nx, y = place(at)\nm = [f(v) for v in row]") == []
