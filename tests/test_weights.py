"""The reader of drawings weighs with named numbers: each has a name, a unit and a reason at the head of its stage.

A bare 0.6 in a sum of points says nothing to the next who has to weigh it. Everything inside a function or a class is
looked at; what stands at the head of a module is named by standing there. Only numbers that mean the same wherever
they stand may be bare.
"""

import ast
import re
from pathlib import Path

import pytest

READER = Path(__file__).parent.parent / "converters/drawings"
HARMLESS = {
    # nothing, one, and the doubling and halving of geometry
    0.0: "nothing",
    1.0: "the whole, or a factor that changes nothing",
    2.0: "a diameter of radii, a mean of two",
    3.0: "neighbours and small counts",
    4.0: "neighbours and small counts",
    5.0: "points of a polygon and its closing one",
    # angles of geometry, in degrees
    90.0: "a right angle",
    180.0: "half a turn",
    360.0: "a full turn",
    # the decimal point
    10.0: "the base of decimal numbers",
    # floors that keep a division from nothing, and the rounding of floating-point numbers
    1e-9: "rounding",
    1e-12: "no length at all",
    1e-300: "the least that is not nothing",
}
# Of these even the harmless ones are weights where a measure is held against them or multiplied with them.
BARE = {0.0, 1.0}
FACTORS = BARE | {2.0, -1.0, 10.0, 90.0, 180.0, 360.0, 1e-9, 1e-12, 1e-300}
# Numbers of DXF itself: its groups are called by numbers, and so are the values of a flag.
CODES = "dxf"


def numbers(node: ast.AST) -> list[ast.Constant]:
    """Literals directly in an expression, signed ones too."""
    found = []
    for child in ast.iter_child_nodes(node):
        inner = child.operand if isinstance(child, ast.UnaryOp) else child
        if isinstance(inner, ast.Constant) and type(inner.value) in (int, float):
            found.append(inner)
    return found


def unnamed(source: str, codes: bool = False) -> list[tuple[int, float]]:
    """(line, number) of every bare weight. `codes`: whole numbers are group codes and not looked at."""
    found = set()
    for part in ast.parse(source).body:
        if isinstance(part, ast.Assign | ast.AnnAssign | ast.Import | ast.ImportFrom):
            continue
        for node in ast.walk(part):
            if isinstance(node, ast.Compare):
                allowed = BARE
            elif isinstance(node, ast.BinOp) and isinstance(node.op, ast.Mult | ast.Add | ast.Sub):
                allowed = FACTORS
            else:
                allowed = set(HARMLESS)
            for literal in numbers(node):
                whole = isinstance(literal.value, int)
                if (
                    whole and (codes or abs(literal.value) in HARMLESS)
                ) or literal.value in allowed:
                    continue
                found.add((literal.lineno, literal.value))
    return sorted(found)


def test_no_weight_of_the_reader_is_bare():
    bare = {}
    modules = sorted(READER.rglob("*.py"))
    for path in modules:
        found = unnamed(path.read_text(encoding="utf-8"), codes=path.parent.name == CODES)
        if found:
            bare[path.relative_to(READER).as_posix()] = found
    assert len(modules) > 50
    assert bare == {}, "give each a name, a unit and a reason at the head of its module"


def named_numbers(source: str) -> dict[str, int]:
    """Constants of a module that are numbers or ranges of them -> line."""
    found = {}
    for part in ast.parse(source).body:
        if isinstance(part, ast.Assign):
            target, value = part.targets[0], part.value
        elif isinstance(part, ast.AnnAssign) and part.value is not None:
            target, value = part.target, part.value
        else:
            continue
        inner = value.elts if isinstance(value, ast.Tuple) else [value]
        inner = [v.operand if isinstance(v, ast.UnaryOp) else v for v in inner]
        plain = inner and all(
            isinstance(v, ast.Constant) and type(v.value) in (int, float) for v in inner
        )
        if isinstance(target, ast.Name) and plain:
            found[target.id] = part.lineno
    return found


def unexplained(source: str) -> list[str]:
    """Named numbers without a word beside them, above them or above the block they stand in."""
    lines = source.splitlines()
    silent = []
    for name, number in named_numbers(source).items():
        beside = "#" in lines[number - 1] or (
            lines[number - 1].endswith("(") and "#" in lines[number]
        )
        above = number - 2
        while above >= 0 and re.match(r"[A-Z_]+\b.*=", lines[above]):
            above -= 1
        if not beside and not lines[above].startswith("#"):
            silent.append(name)
    return silent


def test_every_named_number_says_what_it_is():
    found = {
        path.relative_to(READER).as_posix(): silent
        for path in sorted(READER.rglob("*.py"))
        if (silent := unexplained(path.read_text(encoding="utf-8")))
    }
    assert found == {}, "say the unit and the reason"


@pytest.mark.parametrize(
    "source",
    [
        "def f(x):\n    return 0.6 * x",
        "def f(x):\n    return x <= 36.0",
        "def f(x):\n    return -2.0 < x",
        "def f(x):\n    return x + 0.5",
        "class A:\n    least = 0.25",
        "def f(x):\n    return usual(x, 52, 67, 78, 88)",
        "def f(x):\n    return x[:40]",
        "def f(x):\n    return 7 * x",
    ],
)
def test_a_bare_weight_is_seen(source):
    assert unnamed(source)


def test_a_silent_number_is_seen():
    assert unexplained("import x\n\nFAR = 95.0\n") == ["FAR"]
    assert unexplained("# mm\nFAR = 95.0\nNEAR = (1.0, 2)  # mm\n") == []


def test_geometry_is_no_weight():
    source = "FAR = 95.0\ndef f(x, y):\n    return (x + y) / 2, 2 * x, 180.0 - y, x > 0.0, FAR * x"
    assert unnamed(source) == []
    assert unnamed("def f(r):\n    return r.number(40)", codes=True) == []
