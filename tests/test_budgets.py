"""Files made to exhaust the machine, and files with traps in them: each ends in seconds in a result or one line."""

import ast
import io
import json
import re
import struct
import sys
import time
import zipfile
from itertools import pairwise
from math import cos, sin
from pathlib import Path

import pytest
from droptrail.converters.analysis import analyse
from droptrail.converters.drawings.sideview.read import read_side_view
from droptrail.converters.files.strict_toml import read_toml
from droptrail.converters.inputs import read_input
from droptrail.model.errors import FrameError, InputError
from droptrail.model.mechanics.solve import solve

ROOT = Path(__file__).parent.parent
SAMPLES = ROOT / "sample_drawings"
SHEET = (SAMPLES / "tourer_700c.csv").read_bytes()
SECONDS = 20.0  # far above what any of these takes, far below what they took before their budget


@pytest.fixture
def refused(tmp_path):
    """Reads bytes as a file of an ending; returns the refusal, and watches the clock."""

    def read(data: bytes, ending: str) -> str:
        path = tmp_path / f"input{ending}"
        path.write_bytes(data)
        start = time.monotonic()
        with pytest.raises(FrameError) as refusal:
            read_input(path)
        assert time.monotonic() - start < SECONDS
        assert str(refusal.value).isprintable()
        return str(refusal.value)

    return read


# --- workbooks ----------------------------------------------------------------------------------------------------
HEAD = b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
TAIL = b"</sheetData></worksheet>"
FIRST = "xl/worksheets/sheet1.xml"


def workbook(**changed: bytes) -> bytes:
    """The sample workbook with parts replaced: sheet, strings, styles, or any other by its path."""
    names = {"sheet": FIRST, "strings": "xl/sharedStrings.xml", "styles": "xl/styles.xml"}
    with zipfile.ZipFile(SAMPLES / "gravel_700c.xlsx") as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    parts |= {names.get(name, name): data for name, data in changed.items()}
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return out.getvalue()


def lying(data: bytes) -> bytes:
    """The archive with every size in its directory set to 1,000."""
    out, at = bytearray(data), data.find(b"PK\x01\x02")
    while at >= 0:
        out[at + 24 : at + 28] = struct.pack("<I", 1000)
        at = out.find(b"PK\x01\x02", at + 4)
    return bytes(out)


def cells(rows: int, cell: bytes) -> bytes:
    return HEAD + b"".join(b'<row r="%d">' % (k + 1) + cell + b"</row>" for k in range(rows)) + TAIL


INLINE = b'<c t="inlineStr"><is><t>%s</t></is></c>'
ENTITIES = b"".join(
    b'<!ENTITY a%d "%s">' % (k, b"&a%d;" % (k - 1) * 10 if k else b"x" * 100) for k in range(9)
)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (lambda: workbook(sheet=b" " * 60_000_000), "unpacks to 600"),
        (lambda: lying(workbook(sheet=b"<a>" + b" " * 1_000_000)), "damaged workbook"),
        (lambda: workbook(**{f"part{k}": b"" for k in range(600)}), "in 609 parts"),
        (lambda: workbook(sheet=cells(1, b"<c><v>1</v></c>" * 300_000)), "1200006 tags"),
        (
            lambda: workbook(styles=b"<styleSheet>" + b"<font/>" * 100_000 + b"</styleSheet>"),
            "styles.xml holds 100002",
        ),
        (
            lambda: workbook(strings=b"<sst>" + b"<si/>" * 700_000 + b"</sst>"),
            "sharedStrings.xml holds 700002",
        ),
        (lambda: workbook(sheet=cells(2_100, b'<c t="n"><v>1</v></c>')), "more than 2000 rows"),
        (lambda: workbook(sheet=cells(1, b'<c t="n"><v>1</v></c>' * 70)), "61 columns"),
        (
            lambda: workbook(
                sheet=HEAD + b'<row r="1000000000"><c r="A1000000000"><v>1</v></c></row>' + TAIL
            ),
            "2000 rows",
        ),
        (lambda: workbook(sheet=cells(2, b"<c><f>1+1</f></c>")), "saved without its result"),
        (
            lambda: workbook(
                sheet=b"<!DOCTYPE l [" + ENTITIES + b"]>" + cells(1, INLINE % b"&a8;")
            ),
            "not a readable XLSX",
        ),
        (
            lambda: workbook(
                sheet=b'<!DOCTYPE l [<!ENTITY a SYSTEM "file:///etc/passwd">]>'
                + cells(1, INLINE % b"&a;")
            ),
            "not a readable XLSX",
        ),
    ],
)
def test_workbooks_that_explode(refused, data, words):
    assert words in refused(data(), ".xlsx")


def test_formulas_with_results_are_read_by_their_results(tmp_path):
    """2,000 formulas are no bomb: what was saved is read, nothing is worked out."""
    sheet = workbook(sheet=cells(1_900, b"<c><f>SUM(A1:A9)</f><v>1</v></c>" * 20))
    path = tmp_path / "formulas.xlsx"
    path.write_bytes(sheet)
    with pytest.raises(InputError, match="no table with the header"):
        read_input(path)


# --- CSV ----------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"item,value,unit,note" + b",x" * 1_000_000 + b"\nstack,500\n", "1000004 columns"),
        (b"item,value,unit,note\nstack,500" + b",x" * 1_000_000 + b"\n", "1000002 columns"),
        (b"item,value,unit,note\n" + b"stack,1\n" * 400_000, "more than 2000 rows"),
        (b"item,value,unit,note\n" + b"\n" * 3_900_000, "more than 2000 rows"),
        (b'item,value,unit,note\n"' + b"x" * 3_900_000 + b'"\n', "not readable as CSV"),
        (b"x" * 4_100_000, "4100000 bytes"),
    ],
)
def test_tables_that_are_too_large(refused, data, words):
    assert words in refused(data, ".csv")


@pytest.mark.parametrize(
    "text",
    [
        "nan",
        "inf",
        "-Infinity",
        "1e400",
        "1e999999",
        "9" * 900,
        "-0",
        "1e-400",
        "0x48",
        "7_2",
        "=71.8+0",
        "1/0",
        "=cmd|' /C calc'!A0",
    ],
)
def test_numbers_that_are_none(refused, text):
    words = refused(SHEET.replace(b"head angle,71.8", b"head angle," + text.encode()), ".csv")
    assert "row 5, column value" in words
    assert text[:20] in words


# --- JSON and TOML --------------------------------------------------------------------------------------------------
MODEL = {
    "nodes": {"a": [0, 0, 0], "b": [100, 0, 0]},
    "materials": {"m": {"E": 2e5, "G": 8e4, "rho": 8e-9}},
    "sections": {"s": {"A": 100, "Iy": 1000, "Iz": 1000, "J": 2000}},
    "elements": [{"id": "1", "i": "a", "j": "b", "mat": "m", "sec": "s", "vxy": [0, 1, 0]}],
    "supports": {"a": [1, 1, 1, 1, 1, 1]},
    "loads": {"push": {"nodal": {"b": [0, 1, 0, 0, 0, 0]}}},
}
TEXT = json.dumps(MODEL)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b'{"nodes":' + b"[" * 1_000_000, "nested too deeply"),
        (b'{"a":' * 100_000 + b"1" + b"}" * 100_000, "nested too deeply"),
        (b" " * 16_100_000, "16 MB"),
        (b'{"nodes": [' + b"{}," * 2_000_000 + b"{}]}", "an object { } is expected"),
        (TEXT.replace("100, 0, 0", "9" * 5_000 + ", 0, 0").encode(), "number too long"),
        (TEXT.replace("100, 0, 0", "NaN, 0, 0").encode(), "holds NaN"),
        (TEXT.replace("100, 0, 0", "-Infinity, 0, 0").encode(), "holds -Infinity"),
        (TEXT.replace("100, 0, 0", "1e400, 0, 0").encode(), "a finite number is expected"),
        (TEXT.replace("100, 0, 0", "9" * 400 + ", 0, 0").encode(), "too large"),
        (TEXT.replace('"A": 100,', '"A": 100, "A": 200,').encode(), "is given twice"),
        (
            TEXT.replace('"a"', '"\\u001b[31m\\u202e"')
            .replace("[0, 1, 0, 0, 0, 0]", "[]")
            .encode(),
            "6 numbers",
        ),
    ],
)
def test_json_with_traps(refused, data, words):
    assert words in refused(data, ".json")


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"a = " + b"[" * 1_900, "nested too deeply"),
        (b"a = " + b"{a=" * 600, "nested too deeply"),
        (b"a." * 40_000 + b"a = 1", "more than 2000 characters"),
        (b"a = " + b"9" * 1_990, "nothing"),
        (b"a = 1\n" * 20_000, "120000 bytes"),
        (b"\xff", "not UTF-8"),
        (b"a = ", "not a readable TOML"),
    ],
)
def test_toml_with_traps(tmp_path, data, words):
    path = tmp_path / "cases.toml"
    path.write_bytes(data)
    if words == "nothing":
        assert read_toml(path)["a"] > 0  # long, but a number
        return
    with pytest.raises(InputError, match=words):
        read_toml(path)


# --- models that are large or turn in circles -------------------------------------------------------------------------
def chain(nodes: int, every: int = 10, links: int = 0, backwards: bool = False) -> dict:
    """A straight row of elements, every so many nodes held, with rigid links to loose nodes beside it or along it."""
    names = [str(k) for k in range(nodes)]
    pairs = zip(names[1:], names, strict=False) if backwards else ((n, f"s{n}") for n in names)
    beside = {} if backwards else {f"s{n}": [10.0 * k, 5, 0] for k, n in enumerate(names[:links])}
    return {
        **MODEL,
        "nodes": {n: [10.0 * k, 0, 0] for k, n in enumerate(names)} | beside,
        "elements": [{**MODEL["elements"][0], "id": a, "i": a, "j": b} for a, b in pairwise(names)],
        "supports": {n: [1] * 6 for n in names[::every]} if every else {},
        "rigid_links": [{"master": m, "slave": s} for m, s in list(pairs)[:links]],
        "loads": {"push": {"nodal": {names[5]: [0, 1, 0, 0, 0, 0]}}},
    }


def solved(data: dict):
    from droptrail.converters.files.model_file.read_model import read_model

    start = time.monotonic()
    try:
        return solve(*read_model(data))
    finally:
        assert time.monotonic() - start < SECONDS


def test_large_models_are_solved():
    assert solved(chain(20_000))["push"].residual < 1e-9
    assert solved(chain(3_000, links=1_000))["push"].residual < 1e-9


def test_a_hundred_thousand_nodes_are_refused():
    with pytest.raises(InputError, match="nodes: 100000 of them; 1 to 20000 can be read"):
        solved(chain(100_000))
    with pytest.raises(InputError, match="rigid_links: 1001 of them"):
        solved(chain(3_000, links=1_001))


def test_a_large_loose_model_names_what_moves():
    with pytest.raises(
        FrameError, match=r"for one, node \d+ is free to (move|turn) in .*Hold that motion"
    ):
        solved(chain(20_000, every=0))


def test_a_model_that_hangs_together_too_closely_is_refused():
    import random

    rng, data = random.Random(1), chain(4_000)
    pairs = [rng.sample(sorted(data["nodes"]), 2) for _ in range(8_000)]
    data["elements"] += [
        {**MODEL["elements"][0], "id": f"x{k}", "i": i, "j": j, "vxy": [0, 1, 0]}
        for k, (i, j) in enumerate(pairs)
    ]
    with pytest.raises(FrameError, match="need more memory than a frame ever does"):
        solved(data)


def test_rigid_links_in_a_circle_and_in_the_worst_order():
    """A ring of links says the same thing twice, no more; the row of links behaves as one rigid body."""
    data = chain(300, links=299, backwards=True)
    data["supports"] = {"299": [1] * 6}
    row = solved(data)["push"].u
    data["rigid_links"].append({"master": "0", "slave": "299"})
    assert abs(solved(data)["push"].u - row).max() <= 1e-12
    assert abs(row).max() <= 1e-12  # held at its end, a rigid body does not move


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('"Iz": 1000', '"Iz": 1e308', "stiffer than any number"),
        ('"E": 200000.0', '"E": 1e300', "stiffer than any number"),
        ('"rho": 8e-09', '"rho": 1e300', "rho is 1e.300, it must be zero"),
        ("100, 0, 0", "1e150, 0, 0", "longer than any number"),
        ("[0, 1, 0, 0, 0, 0]", "[0, 1e200, 0, 0, 0, 0]", "below 1e"),
    ],
)
def test_numbers_that_would_overflow(tmp_path, old, new, words):
    path = tmp_path / "model.json"
    path.write_text(TEXT.replace(old, new), encoding="utf-8")
    with pytest.raises(FrameError, match=words):
        analyse(read_input(path))
    path.write_text(TEXT, encoding="utf-8")  # the same model without the trap
    assert analyse(read_input(path)).results["push"].residual < 1e-12


# --- drawings ---------------------------------------------------------------------------------------------------------
DRAWING = (SAMPLES / "tourer_700c.dxf").read_text(encoding="utf-8")


def drawn_over(lines: list[tuple[float, float, float, float]]) -> bytes:
    """The sample drawing with lines (x, y, x, y) on a layer of their own."""
    before, entities, after = DRAWING.partition("ENTITIES\n")
    more = "".join(f"0\nLINE\n8\nX\n10\n{a}\n20\n{b}\n11\n{c}\n21\n{d}\n" for a, b, c, d in lines)
    return (before + entities + more + after).encode()


TILES = [(-3000, k, 3000, k) for k in range(1_500)] + [(k, -3000, k, 3000) for k in range(1_500)]


@pytest.mark.parametrize(
    "lines", [TILES, [(0, 0, 600, 13)] * 20_000], ids=["tiles", "copies of one line"]
)
def test_drawings_full_of_lines_are_refused(refused, monkeypatch, lines):
    """What filled gigabytes before the pairs of lines were counted; a tenth of it, to be quick."""
    monkeypatch.setattr("droptrail.converters.drawings.linework.pairs.MOST_PAIRS", 3_000_000)
    assert "lie on or across each other more than" in refused(drawn_over(lines), ".dxf")


def test_thousands_of_curves_among_many_wheels(tmp_path):
    """Every pair of circles that could be wheels turned all curves once more: gigabytes, before those were sifted."""
    arcs = "".join(
        f"0\nARC\n8\nX\n10\n{7 * k}\n20\n{k % 90}\n40\n30\n50\n0\n51\n{90 + k % 90}\n"
        for k in range(6_000)
    )
    wheels = "".join(f"0\nCIRCLE\n8\nX\n10\n{90 * k}\n20\n0\n40\n340\n" for k in range(60))
    before, entities, after = DRAWING.partition("ENTITIES\n")
    path = tmp_path / "many.dxf"
    path.write_text(before + entities + arcs + wheels + after, encoding="ascii")
    alone = tmp_path / "alone.dxf"
    alone.write_text(DRAWING, encoding="ascii")
    assert read_side_view(path).dimensions == read_side_view(alone).dimensions


def test_thousands_of_lines_through_one_point(refused):
    fan = [(0, 0, round(600 * cos(k / 400), 4), round(600 * sin(k / 400), 4)) for k in range(2_500)]
    assert "head tube" in refused(drawn_over(fan), ".dxf")


# --- nothing in a file is followed or run ----------------------------------------------------------------------------
@pytest.fixture
def opened():
    """Every file, connection and program this process asks for while the fixture is on, but Python's own."""
    asked: list[str] = []
    watching = True  # an audit hook cannot be taken away again

    def hook(event: str, args: tuple[object, ...]) -> None:
        if watching and event in ("open", "socket.connect", "subprocess.Popen", "os.open"):
            asked.append(str(args[0]))

    sys.addaudithook(hook)
    yield asked
    watching = False


def outside(asked: list[str], *own: Path) -> list[str]:
    known = (*map(str, own), str(ROOT), sys.prefix, sys.base_prefix)
    return [name for name in asked if not name.startswith(known) and not name.isdigit()]


def test_paths_in_a_sheet_are_words(tmp_path, opened):
    """A sheet full of paths and addresses opens no file but itself."""
    path = tmp_path / "sheet.csv"
    path.write_bytes(
        SHEET.replace(b"4130", b"/etc/passwd").replace(
            b"item,value,unit,note",
            (
                b"item,value,unit,note\nname,../../etc/passwd\nfront tyre,file:///etc/passwd\n\\\\server\\share,1,mm,x"
            ),
        )
    )
    with pytest.raises(FrameError, match="/etc/passwd"):
        read_input(path)
    assert str(path) in opened
    assert outside(opened, path) == []


def test_paths_in_a_drawing_and_a_model_are_words(tmp_path, opened):
    """An external reference is left out and named, an image is left out; a model's texts are texts."""
    drawing, data = tmp_path / "drawing.dxf", tmp_path / "model.json"
    block = "0\nBLOCK\n8\n0\n2\nOTHER\n70\n4\n10\n0\n20\n0\n1\n/etc/passwd\n0\nENDBLK\n8\n0\n"
    insert = "0\nINSERT\n8\n0\n2\nOTHER\n10\n0\n20\n0\n0\nIMAGE\n8\n0\n10\n0\n20\n0\n"
    text = DRAWING.replace("ENTITIES\n", "ENTITIES\n" + insert, 1).replace(
        "BLOCKS\n", "BLOCKS\n" + block, 1
    )
    drawing.write_text(text, encoding="utf-8")
    assert "dxf-xref" in {finding.code for finding in read_input(drawing).findings}
    data.write_text(
        TEXT.replace(
            '"rho": 8e-09', '"rho": 8e-09, "source": "/etc/passwd", "name": "file:///etc/passwd"'
        ),
        encoding="utf-8",
    )
    assert read_input(data).model.elements[0].material.name == "file:///etc/passwd"
    assert {str(drawing), str(data)} <= set(opened)
    assert outside(opened, drawing, data) == []


def test_a_file_that_is_followed_would_be_noticed(tmp_path, opened):
    (tmp_path / "a").write_bytes(b"")
    open(tmp_path / "a", "rb").close()
    assert outside(opened) == [str(tmp_path / "a")] * 2


# --- nothing that is written is run by a spreadsheet ------------------------------------------------------------------
EVIL = '=HYPERLINK("http://x")'
OWN_FORMULA = re.compile(r"=IF\([A-Z(].*\)")


def text_cells(path: Path) -> list[str]:
    if path.suffix == ".csv":
        import csv

        return [
            cell
            for row in csv.reader(path.read_text(encoding="utf-8-sig").splitlines())
            for cell in row
        ]
    import openpyxl

    book = openpyxl.load_workbook(path)
    return [
        cell.value
        for sheet in book
        for row in sheet.iter_rows()
        for cell in row
        if isinstance(cell.value, str)
    ]


def runs(cell: str) -> bool:
    """Whether a spreadsheet would take the cell for a formula (OWASP, CSV Injection: = + - @ tab return)."""
    try:
        float(cell)
    except ValueError:
        return cell[:1] in tuple("=+-@\t\r") and not OWN_FORMULA.fullmatch(cell)
    return False


@pytest.mark.parametrize(
    "argv",
    [
        ["compare", "SHEET", "--variants", "VARIANTS", "-o", "out.csv"],
        ["compare", "SHEET", "--variants", "VARIANTS", "-o", "out.xlsx"],
        ["search", "SHEET", "--option", "top_tube=25.4,31.8", "-o", "out.csv"],
        ["export", "SHEET", "-o", "out.xlsx"],
    ],
)
def test_what_is_written_holds_no_formula_of_a_stranger(tmp_path, argv):
    from droptrail.cli.main import main

    sheet, variants, out = tmp_path / "sheet.csv", tmp_path / "variants.csv", tmp_path / argv[-1]
    evil = EVIL.replace('"', '""')
    sheet.write_bytes(
        SHEET.replace(
            b"item,value,unit,note\n", f'item,value,unit,note\nname,"{evil}"\n'.encode(), 1
        )
    )
    variants.write_text(
        f'variant,tube,outside diameter,wall\n"{evil}",top tube,31.8,0.8\n', encoding="utf-8"
    )
    words = {"SHEET": str(sheet), "VARIANTS": str(variants), argv[-1]: str(out)}
    assert main([words.get(word, word) for word in argv]) in (0, 1)
    cells = text_cells(out)
    assert len(cells) > 20
    assert [cell for cell in cells if runs(cell)] == []


def test_a_sheet_written_again_holds_none_either(tmp_path):
    from dataclasses import replace

    from droptrail.converters import starter_bicycle, write_fit_sheet

    bicycle = replace(starter_bicycle(), name=EVIL)
    for name in ("a.csv", "a.xlsx"):
        write_fit_sheet(bicycle, tmp_path / name)
        assert any(EVIL in cell for cell in text_cells(tmp_path / name))
        assert [cell for cell in text_cells(tmp_path / name) if runs(cell)] == []
        assert read_input(tmp_path / name).bicycle.name == EVIL
    assert runs(EVIL)
    assert runs("@SUM(A1)")
    assert runs("-2+3")
    assert not runs("-2.5")


FORBIDDEN = {"eval", "exec", "compile", "__import__"}
UNSAFE_MODULES = {"pickle", "cPickle", "shelve", "marshal", "dill", "cloudpickle", "yaml"}


def unsafe(source: str) -> list[str]:
    """Calls that run what a file says, and modules that do, by name and line."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Name)
            and node.func.id in FORBIDDEN
        ):
            found.append(f"{node.func.id} in line {node.lineno}")
        if isinstance(node, ast.Import | ast.ImportFrom):
            names = (
                [alias.name for alias in node.names]
                if isinstance(node, ast.Import)
                else [node.module or ""]
            )
            found += [
                f"{name} in line {node.lineno}"
                for name in names
                if name.split(".")[0] in UNSAFE_MODULES
            ]
        if isinstance(node, ast.keyword) and (node.arg, getattr(node.value, "value", None)) in (
            ("allow_pickle", True),
            ("shell", True),
        ):
            found.append(f"{node.arg} in line {node.value.lineno}")
        if isinstance(node, ast.Attribute) and (getattr(node.value, "id", ""), node.attr) in (
            ("os", "system"),
            ("os", "popen"),
        ):
            found.append(f"os.{node.attr} in line {node.lineno}")
    return found


# The one exception talks through a pipe to a child it has started itself; nothing of it is a file's. Its two ends:
OWN_CHILD = ("validation/opensees/child.py", "validation/opensees/worker.py")


def test_nothing_a_file_says_is_run():
    sources = {
        path: path.read_text(encoding="utf-8")
        for layer in ("cli", "converters", "model", "validation")
        for path in (ROOT / layer).rglob("*.py")
    }
    assert len(sources) > 100
    found = {path.relative_to(ROOT).as_posix(): unsafe(text) for path, text in sources.items()}
    for end in OWN_CHILD:
        assert all(what.startswith("pickle") for what in found.pop(end))
    assert {name: what for name, what in found.items() if what} == {}


@pytest.mark.parametrize(
    "text",
    [
        "eval(x)",
        "import pickle",
        "from pickle import load",
        "np.load(p, allow_pickle=True)",
        "os.system(x)",
        "run(x, shell=True)",
        "exec(compile(x, '', 'exec'))",
    ],
)
def test_the_search_for_unsafe_calls_can_fail(text):
    assert unsafe(text)


def test_loading_an_array_file_never_unpickles():
    """Every np.load states it; its default could change."""
    for path in (ROOT / "converters").rglob("*.py"):
        for call in re.findall(r"np\.load\([^)]*\)", path.read_text(encoding="utf-8")):
            assert "allow_pickle=False" in call
