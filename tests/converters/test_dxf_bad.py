"""Whatever is put in front of the reader, out comes a Drawing or one sentence: the fault, and what to do next."""

import os
import random
import subprocess
import sys
import tracemalloc
import zipfile
from collections import Counter
from pathlib import Path

import pytest
from droptrail.converters.drawings.drawing import Drawing
from droptrail.converters.drawings.dxf.budget import MAX_BYTES, MAX_ENTITIES, MAX_GROUPS
from droptrail.converters.drawings.dxf.read_dxf import read_dxf
from droptrail.converters.drawings.dxf.sniff import BINARY_SENTINEL
from droptrail.model.errors import InputError
from helpers_dxf import DxfText, tag
from helpers_work import calls

DATA = Path(__file__).parent.parent / "data"
BAD, GOOD = DATA / "dxf_bad", DATA / "dxf_good"
SECONDS, MEGABYTES = 5.0, 500.0

REFUSED = {
    "b01_truncated_mid_entity": r"is cut off in the middle: the file ends inside LINE no\. 5 \(handle 56, layer "
    r"CENTRELINE, line 2853\) of section ENTITIES\. Export it again",
    "b02_binary_junk": r"is neither text nor a binary DXF",
    "b02c_html_error_page": r"is a web page, not a drawing",
    "b03_empty_modelspace_librecad": r"is empty: no line, circle or curve",
    "b08_nonfinite_nan_inf": r'LINE no\. 1 \(layer FRAME, line 151\) holds "nan", not a finite number',
    "b11_block_inserts_itself": r'block "FRAME" contains itself',
}
READ = {  # how many curves, which findings
    "b04_only_title_block": ({"line": 7, "polyline": 2}, []),
    "b06_front_wheel_missing": ({"line": 7, "circle": 3}, []),
    "b07_absurd_scale_kilometres": ({"line": 7, "circle": 5}, []),
    "b13_umlaut_cp1252_r2000": ({"line": 7, "circle": 5}, []),
    "b14_missing_eof_crlf": ({"line": 7, "circle": 5}, ["dxf-missing-eof"]),
    "b15_zero_length_head_tube": ({"line": 7, "circle": 5}, []),
    "b18_frame_only_in_paperspace": ({"line": 7, "circle": 5}, ["dxf-paper-space"]),
}


def refusal(path):
    """The message; checks what every message must be."""
    with pytest.raises(InputError) as caught:
        read_dxf(path)
    message = str(caught.value)
    assert message.startswith(f"{Path(path).name}: ")
    assert len(message.splitlines()) == 1
    assert message.endswith((".", "--sheet."))
    assert caught.value.__cause__ is None
    return message


def test_the_folder_is_covered():
    assert {path.stem for path in BAD.glob("*.dxf")} == {*REFUSED, *READ}


@pytest.mark.parametrize("name", REFUSED)
def test_refused_with_fault_and_next_step(name, capfd):
    import re

    assert re.search(REFUSED[name], refusal(BAD / f"{name}.dxf"))
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("name", READ)
def test_readable_all_the_same(name):
    drawing = read_dxf(BAD / f"{name}.dxf")
    assert (
        dict(Counter(curve.kind for curve in drawing.curves)),
        [f.code for f in drawing.findings],
    ) == READ[name]


def test_umlauts_in_cp1252():
    layers = {curve.layer for curve in read_dxf(BAD / "b13_umlaut_cp1252_r2000.dxf").curves}
    assert layers == {"Längsträger", "Räder", "Tretlagergehäuse"}


# -- not a DXF at all --------------------------------------------------------------------------------


def workbook():
    import io

    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("[Content_Types].xml", "<Types/>")
        archive.writestr("xl/workbook.xml", "<workbook/>")
    return stream.getvalue()


FOREIGN = {
    "dwg": (
        b"AC1027\x00\x00\x00\x00\x00" + bytes(range(256)),
        "is a DWG file whatever its name says",
    ),
    "pdf": (b"%PDF-1.7\n1 0 obj\n", "is a PDF"),
    "zip": (b"PK\x03\x04" + bytes(60), "is a ZIP archive"),
    "xlsx": (workbook(), "is an Excel workbook"),
    "xls": (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), "is an old Office file"),
    "svg": (
        b'<?xml version="1.0"?>\n<svg xmlns="http://www.w3.org/2000/svg"/>',
        "is an SVG picture",
    ),
    "xml": (b'<?xml version="1.0"?>\n<plist/>', "is an XML file"),
    "html": (b"\n<!DOCTYPE html><html></html>", "is a web page"),
    "step": (b"ISO-10303-21;\nHEADER;\n", "is a STEP file"),
    "iges": (b"frame".ljust(72) + b"S      1\n", "is an IGES file"),
    "stl": (b"solid frame\n facet normal 0 0 1\n", "is an STL mesh"),
    "jpeg": (b"\xff\xd8\xff\xe0\x00\x10JFIF" + bytes(50), "is a JPEG picture"),
    "png": (b"\x89PNG\r\n\x1a\n" + bytes(50), "is a PNG picture"),
    "gz": (b"\x1f\x8b\x08\x00" + bytes(50), "is packed with gzip"),
    "dxb": (b"AutoCAD DXB 1.0\r\n\x1a\x00", "is a DXB file"),
    "nothing": (b"", "is empty"),
    "blanks": (b"\n \n\x00\x00", "nothing but blanks"),
    "sheet": (b"item,value,unit,note\nstack,570,mm,\n", "is a table, not a drawing"),
    "text": (b"Dear builder, here is the drawing.\n", "is not a DXF"),
    "noise": (random.Random(1).randbytes(5000), "neither text nor a binary DXF"),
    "zeros": (b"0\n" * 500, "there is no ENTITIES section"),
    "numbers": (b"1\n2\n3\n", "there is no ENTITIES section"),
    "binary": (BINARY_SENTINEL, "there is no ENTITIES section"),
    "half binary": (BINARY_SENTINEL + b"\x00SECTION\x00\x02HEA", "is cut off in the middle"),
    "header only": (b"0\nSECTION\n2\nHEADER\n0\nENDSEC\n0\nEOF\n", "has no ENTITIES section"),
}


@pytest.mark.parametrize("name", FOREIGN)
def test_other_files_are_named_for_what_they_are(tmp_path, name, capfd):
    content, says = FOREIGN[name]
    path = tmp_path / "frame.dxf"
    path.write_bytes(content)
    assert says in refusal(path)
    assert capfd.readouterr() == ("", "")


def test_folder_and_missing_file(tmp_path):
    assert "is a folder" in refusal(tmp_path)
    assert "there is no such file" in refusal(tmp_path / "gone.dxf")
    assert "cannot be opened" in refusal(tmp_path / ("long" * 100 + ".dxf"))


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_pipe_is_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "pipe.dxf")
    assert "is not an ordinary file" in refusal(tmp_path / "pipe.dxf")


def test_file_too_large_is_not_even_read(tmp_path):
    path = tmp_path / "huge.dxf"
    with path.open("wb") as stream:
        stream.truncate(MAX_BYTES + 1)  # sparse: takes no room
    tracemalloc.start()
    assert "is 64 MB, more than the 64 MB allowed" in refusal(path)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < MAX_BYTES / 10


# -- damage ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("old", "new", "says"), [
    ("1.25\n", "1,25\n", r'LINE no\. 1 .*decimal comma: "1,25"'),
    ("1.25\n", "1e400\n", r'LINE no\. 1 .*holds "1e400", not a finite number'),
    ("1.25\n", "abc\n", r'holds "abc"'),
    (" 21\n4.5\n", "", r"LINE no\. 1 \(handle 1F, layer FRAME, line \d+\) lacks group 21"),
    (" 40\n9.5\n", "", r"CIRCLE no\. 2 .*lacks group 40"),
    (" 40\n9.5\n", "x\n9.5\n", r'line \d+ should hold a group code but holds "x", inside CIRCLE no\. 2'),
    ("9.5\n", "1e13\n", r"CIRCLE no\. 2 .*lies beyond 1e\+12 drawing units"),
    ("  0\nENDSEC\n  0\nSECTION\n  2\nENT", "  0\nSECTION\n  2\nENT", r"a piece is missing: section HEADER"),
    ("  0\nENDBLK\n", "", r"BLOCK no\. 1 .*is not finished \(ENDBLK missing\)"),
    (" 20\n0.25\n", " 20\ninf\n", r'LWPOLYLINE no\. 3 .*holds "inf", not a finite number'),
    (" 20\n0.25\n", "", r"LWPOLYLINE no\. 3 .*has 2 x but 1 y values"),
])  # fmt: skip
def test_damage_is_located(tmp_path, old, new, says):
    import re

    dxf = DxfText("R2000")
    if "ENDBLK" in old:
        dxf.block("B").line((0, 0), (1, 1))
    dxf.line((1.25, 2), (3, 4.5), layer="FRAME", handle="1F")
    dxf.circle((0, 0), 9.5)
    dxf.lwpolyline([(0, 0.25), (1, 1)])
    text = dxf.dumps()
    assert old in text
    path = tmp_path / "damaged.dxf"
    path.write_text(text.replace(old, new, 1))
    assert re.search(says, refusal(path))


@pytest.mark.parametrize(
    "name", ["b06_front_wheel_missing", "b14_missing_eof_crlf", "b18_frame_only_in_paperspace"]
)
def test_cut_off_anywhere_is_never_a_smaller_drawing(tmp_path, name):
    """Any length of a real file: refused, or all curves there and a finding that says the end is missing."""
    whole = (BAD / f"{name}.dxf").read_bytes()
    curves = len(read_dxf(BAD / f"{name}.dxf").curves)
    path, read = tmp_path / "cut.dxf", 0
    end = len(whole.rstrip())
    for length in [*range(0, end - 300, 7), *range(end - 300, end - 1)]:
        path.write_bytes(whole[:length])
        try:
            drawing = read_dxf(path)
        except InputError:
            continue
        read += 1
        assert len(drawing.curves) == curves
        assert {f.code for f in drawing.findings} & {
            "dxf-missing-eof",
            "dxf-cut-off-behind-entities",
        }
    assert read <= 12


@pytest.mark.parametrize("name", ["02_librecad_2007_layers_gravel", "03_inkscape_r14_small650b"])
def test_real_exports_cut_off(tmp_path, name):
    whole = (GOOD / f"{name}.dxf").read_bytes()
    curves = len(read_dxf(GOOD / f"{name}.dxf").curves)
    path = tmp_path / "cut.dxf"
    for length in range(0, len(whole) - 4, 61):
        path.write_bytes(whole[:length])
        try:
            drawing = read_dxf(path)
        except InputError:
            continue
        assert len(drawing.curves) == curves
        assert {f.code for f in drawing.findings} & {
            "dxf-missing-eof",
            "dxf-cut-off-behind-entities",
        }


def test_binary_file_cut_off_anywhere(tmp_path):
    import ezdxf

    doc = ezdxf.new("R2000")
    for x in range(5):
        doc.modelspace().add_line((x, 0), (3, 4))
    doc.saveas(tmp_path / "whole.dxf", fmt="bin")
    whole = (tmp_path / "whole.dxf").read_bytes()
    for length in range(0, len(whole) - 4, 41):
        (tmp_path / "cut.dxf").write_bytes(whole[:length])
        try:
            drawing = read_dxf(tmp_path / "cut.dxf")
        except InputError:
            continue
        assert len(drawing.curves) == 5
        assert drawing.findings


# -- mutations ---------------------------------------------------------------------------------------


def mutate(data, rng):
    """One to four random injuries: bytes changed, pieces cut out, doubled or moved, numbers made wild."""
    for _ in range(rng.randint(1, 4)):
        data = injure(data, rng) or b"0"
    return data


def injure(data, rng):
    at = rng.randrange(len(data))
    to = min(at + rng.choice((1, 5, 40, 400)), len(data))
    before, piece, after = data[:at], data[at:to], data[to:]
    kind = rng.randrange(7)
    if kind == 5:
        return swap_lines(data, rng)
    if kind == 6:
        return replace_line(data, rng)
    return (
        before + rng.randbytes(len(piece)) + after,
        before + after,
        before + piece + piece + after,
        before + after + piece,
        before + rng.choice(WILD) + after,
    )[kind]


WILD = (
    b"1e308", b"-1e308", b"nan", b"-0", b"99999999999999999999", b"\x00", b"\n", b"\r", b"  0\nSECTION\n", b"0\nEOF\n",
    b"1e-320", b"0\nINSERT\n", b"0\nPOLYLINE\n", b"0\nENDSEC\n", b"\xff\xfe", b"0\nSPLINE\n71\n3\n", b"1e9",
)  # fmt: skip


def swap_lines(data, rng):
    lines = data.split(b"\n")
    a, b = rng.randrange(len(lines)), rng.randrange(len(lines))
    lines[a], lines[b] = lines[b], lines[a]
    return b"\n".join(lines)


def replace_line(data, rng):
    lines = data.split(b"\n")
    lines[rng.randrange(len(lines))] = rng.choice(WILD)
    return b"\n".join(lines)


def sources():
    for path in sorted([*BAD.glob("*.dxf"), *GOOD.glob("*.dxf")]):
        if path.stat().st_size < 20_000:
            yield path.read_bytes()
    dxf = DxfText("R2000", insunits=4)
    block = dxf.block("B", base=(1, 1))
    block.polyline([(0, 0, 1), (1, 1)])
    block.dimension(
        "angular", {13: (0, 0), 14: (1, 0), 15: (0, 0), 10: (1, 1), 16: (2, 1)}, text="45"
    )
    dxf.insert(
        "B", (5, 5), (2, 3), 30, 3, 2, (10, 10), [("A", "1:10", (0, 0))], extrusion=(0, 0, -1)
    )
    dxf.spline([(0, 0), (1, 1), (2, 1), (3, 0)], weights=[1, 2, 1, 1])
    dxf.spline(fit=[(0, 0), (1, 1), (2, 1), (3, 0)])
    dxf.ellipse((0, 0), (1, 2), 0.4, 1, 5)
    dxf.xline((0, 0), (1, 2))
    dxf.mtext(r"{\H2;a\Pb}", (1, 1))
    yield dxf.dumps().encode()


@pytest.mark.filterwarnings("error")
def test_random_mutations_give_a_drawing_or_a_sentence(tmp_path, capfd):
    rng, files = random.Random(20), list(sources())
    path, read = tmp_path / "mutated.dxf", 0
    for _ in range(700):
        path.write_bytes(mutate(rng.choice(files), rng))
        outcome = drawing_or_message(path)
        if isinstance(outcome, Drawing):
            assert all(
                curve.points.shape[1] == 2 and len(curve.points) >= 2 for curve in outcome.curves
            )
            read += 1
        else:
            assert len(outcome.splitlines()) == 1
    assert 50 < read < 650  # both ways out were taken often
    assert capfd.readouterr() == ("", "")


def drawing_or_message(path):
    try:
        return read_dxf(path)
    except InputError as error:
        return str(error)


# -- size --------------------------------------------------------------------------------------------


def fifty_thousand_lines():
    """A frame's worth of lines on a tiled floor, R12."""
    dxf = DxfText("R12")
    for i in range(50_000):
        dxf.line((i % 250, i // 250), (i % 250 + 0.9, i // 250))
    return dxf.dumps()


def quarter_million_vertices():
    dxf = DxfText("R2000")
    dxf.lwpolyline([(i * 0.01, (i * 7919 % 1000) * 0.001) for i in range(250_000)])
    return dxf.dumps()


def too_many_groups():
    return "0\nSECTION\n2\nENTITIES\n" + "0\nLINE\n" * (MAX_GROUPS + 10)


def too_many_entities():
    return "0\nSECTION\n2\nENTITIES\n" + "0\nPOINT\n" * (MAX_ENTITIES + 10) + "0\nENDSEC\n0\nEOF\n"


def vertex_bomb():
    dxf = DxfText("R2000")
    dxf.lwpolyline([(i % 100, i % 7, 1.0) for i in range(100_000)])
    return dxf.dumps()


def zigzag_spline():
    dxf = DxfText("R2000")
    dxf.spline([(i % 2 * 100.0, i * 0.01) for i in range(100_000)], degree=10)
    return dxf.dumps()


MEASURE = r"""
import re, resource, sys, time
from pathlib import Path
from droptrail.converters.drawings.dxf.read_dxf import read_dxf
from droptrail.model.errors import InputError
started = time.process_time()
try:
    result = len(read_dxf(sys.argv[1]).curves)
except InputError as error:
    result = error
used = time.process_time() - started
status = Path("/proc/self/status")  # getrusage counts what the parent held when it started this process
peak = re.search(r"VmHWM:\s*(\d+)", status.read_text())[1] if status.exists() else \
    resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
print(used, int(peak) / 1024, result)
"""


@pytest.mark.parametrize(("make", "says"), [
    (fifty_thousand_lines, "50000"), (quarter_million_vertices, "1"), (zigzag_spline, "1"),
    (too_many_groups, "more than the 2,000,000 allowed"), (too_many_entities, "more than the 200,000 allowed"),
    (vertex_bomb, "more than 2,000,000 points"),
])  # fmt: skip
def test_large_files_in_time_and_memory(tmp_path, make, says):
    path = tmp_path / "large.dxf"
    path.write_text(make())
    command = [sys.executable, "-c", MEASURE, str(path)]
    run = subprocess.run(
        command, capture_output=True, text=True, check=True, cwd=DATA.parent.parent
    )
    seconds, megabytes, result = run.stdout.split(maxsplit=2)
    assert says in result
    assert float(seconds) < SECONDS
    assert float(megabytes) < MEGABYTES
    assert run.stderr == ""


def test_the_work_of_reading_grows_with_the_size_not_its_square():
    """Four times the lines take four times the work, counted in calls (regression)."""
    from droptrail.converters.drawings.dxf.document import read_document

    def work(count):
        lines = (tag(0, "LINE") + tag(10, 1.0) + tag(20, 2.0)) * count
        text = "0\nSECTION\n2\nENTITIES\n" + lines + "0\nENDSEC\n0\nEOF\n"
        return calls(lambda: read_document(text.encode()))

    assert work(40_000) < 4.1 * work(10_000)
