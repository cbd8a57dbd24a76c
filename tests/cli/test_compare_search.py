"""`droptrail compare` and `droptrail search` from the command line: tables, files, stop and resume, cluster."""

import csv
import io
import json
import os
import re
import signal
import subprocess
import sys
import time
from contextlib import redirect_stdout
from functools import partial
from math import isfinite, nan
from pathlib import Path

import numpy as np
import pytest
from droptrail.cli.main import main
from droptrail.converters.files.choice.option_text import bound, objective, tube_options
from droptrail.converters.files.choice.search_store import open_store
from droptrail.converters.files.choice.variants_table import choices, read_variants
from droptrail.converters.showing.picture.compare import ComparePlot, PlotPoint, save_plot
from droptrail.model.choice.figures import FRAME_MASS, MASS, Figure
from droptrail.model.choice.search import run
from droptrail.model.errors import InputError
from helpers_bicycle import tourer
from helpers_search import small_search

ROOT = Path(__file__).parents[2]
SHEET = str(ROOT / "sample_drawings" / "tourer_700c.csv")
GRID = ("--option", "top tube=27,28.6,30", "--option", "down tube=30,31.8,33,34.9", "--no-rules")
GOALS = ("--objective", "max side_push.head_sideways", "--objective", "min mass")


def droptrail(*words):
    """(exit code, stdout) of one command, in this process."""
    held = io.StringIO()
    with redirect_stdout(held):
        code = main([str(w) for w in words])
    return code, held.getvalue()


def as_json(*words):
    code, out = droptrail(*words, "--json")
    return code, json.loads(out)


# --- texts ----------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("text", "labels"),
    [
        ("top_tube=25.4,28.6x0.9/0.6/0.9", ["25.4 x 0.8/0.5/0.8", "28.6 x 0.9/0.6/0.9"]),
        ("Top Tube = 25,4 ; 28,6x0,9", ["25.4 x 0.8/0.5/0.8", "28.6 x 0.9"]),
        ('down tubes=31.8 or 1 3/8"', ["31.8 x 0.9/0.6/0.9", "34.925 x 0.9/0.6/0.9"]),
        ("chainstay=22-16x0.9,x0.7,present", ["22-16 x 0.9", "22.2-14 x 0.7", "22.2-14 x 0.8"]),
    ],
)
def test_options_as_a_workshop_writes_them(text, labels):
    assert [tube.label for tube in tube_options(text, tourer())[1]] == labels


def test_ends_ovals_and_material_of_an_option():
    (tube,) = tube_options("seatstay=20x14x0.9:stainless", tourer())[1]
    assert (tube.od_start, tube.oval_width, tube.walls, tube.material.name) == (
        20.0,
        14.0,
        (0.9,),
        "stainless",
    )
    (tube,) = tube_options("top_tube=31.8x0.8/0.5/0.8@90+40/80+30", tourer())[1]
    assert (tube.butts, tube.tapers) == ((90.0, 80.0), (40.0, 30.0))


def test_options_from_a_catalogue(tmp_path):
    path = tmp_path / "mine.csv"
    path.write_text(
        "name,outside diameter,wall,butts,material,use\n"
        "thin,28.6,0.8/0.5/0.8,75/75,4130,top tube\nwide,31.8,0.9,,4130,top tube/down tube\n"
        "light,34.9,1.6,,6061-T6,top tube\nfork,24-13,1.0,,4130,fork blade\n",
        encoding="utf-8",
    )

    def labels(text):
        return [tube.label for tube in choices([f"top_tube={text}"], tourer(), path)["top_tube"]]

    assert labels("catalogue") == ["28.6 x 0.8/0.5/0.8", "31.8 x 0.9"]  # the present tube's metal
    assert labels("catalogue 30-35") == ["31.8 x 0.9"]
    assert labels("catalogue 28.6") == ["28.6 x 0.8/0.5/0.8"]
    assert labels("catalogue:any")[-1] == "34.9 x 1.6"
    assert labels("catalogue:alu") == ["34.9 x 1.6"]
    assert labels("Wide,25.4x0.9") == ["31.8 x 0.9", "25.4 x 0.9"]
    with pytest.raises(InputError, match="the catalogue has no such tube"):
        labels("catalogue 50-60")
    assert (
        len(choices(["top_tube=catalogue"], tourer())["top_tube"]) > 8
    )  # the generic one comes along


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("top_tube", "give it as TUBE=SIZE"),
        ("mast=28.6", "'mast' is not a tube"),
        ("top_tube=abc", "not a number"),
        ("top_tube=28.6x0.8/0.5", "need 1 butt length"),
        ("top_tube=28.6:cheese", "material 'cheese' is not known"),
        ("top_tube=28.6x20", "wall must lie above 0"),
    ],
)
def test_options_that_cannot_be(text, words):
    with pytest.raises(InputError, match=re.escape(words)):
        tube_options(text, tourer())


PUSH = Figure("head_sideways", "push", "N/mm", reference=200.0, case="side_push")
TWIST = Figure("bb_twist", "twist", "N·m/deg", reference=1e5, degrees=True, case="climb")
KNOWN = (MASS, FRAME_MASS, PUSH, TWIST)


def test_limits_and_objectives():
    one = bound("side_push.head_sideways >= +10%", KNOWN)
    assert (one.at_least, one.value, one.percent, one.text) == (
        True,
        10.0,
        True,
        "side_push.head_sideways >= +10 %",
    )
    assert bound("mass<=1.9 kg", KNOWN).value == pytest.approx(1900.0)
    assert bound("climb.bb_twist >= 80 Nm/degree", KNOWN).text == "climb.bb_twist >= 80 N·m/deg"
    assert objective("max side_push.head_sideways", KNOWN).greatest
    assert not objective("minimise mass", KNOWN).greatest
    for text, words in (
        ("mass", "give it as FIGURE"),
        ("mass <= 3 mm", "measured in g"),
        ("nose <= 3", "known: mass"),
    ):
        with pytest.raises(InputError, match=words):
            bound(text, KNOWN)
    with pytest.raises(InputError, match="max FIGURE"):
        objective("mass", KNOWN)


# --- variants from files --------------------------------------------------------------------------------------
TABLE = [
    ("variant", "tube", "outside diameter", "wall", "butts", "material"),
    ("wide top", "top tube", "31.8", "", "", ""),
    ("", "down tube", "34.9", "0.8/0.5/0.8", "90/80", ""),
    ("rustless", "top tube", "", "", "", "stainless"),
]


def written_table(path):
    if path.suffix == ".xlsx":
        from openpyxl import Workbook

        book = Workbook()
        for row in TABLE:
            book.active.append(row)
        book.save(path)
    elif path.suffix == ".toml":
        path.write_text(
            '["wide top"]\ntop_tube = "31.8"\ndown_tube = "34.9x0.8/0.5/0.8@90/80"\n'
            '["rustless"]\n"top tube" = ":stainless"\n',
            encoding="utf-8",
        )
    else:
        separator = ";" if "semi" in path.name else ","
        path.write_text("\n".join(separator.join(row) for row in TABLE), encoding="utf-8")
    return path


@pytest.mark.parametrize("name", ["v.csv", "semi.csv", "v.xlsx", "v.toml"])
def test_variants_from_a_table(tmp_path, name):
    wide, rustless = read_variants(written_table(tmp_path / name), tourer())
    assert (wide.name, rustless.name) == ("wide top", "rustless")
    assert wide.tubes["top_tube"].label == "31.8 x 0.8/0.5/0.8"
    assert (wide.tubes["down_tube"].label, wide.tubes["down_tube"].butts) == (
        "34.9 x 0.8/0.5/0.8",
        (90.0, 80.0),
    )
    assert rustless.tubes["top_tube"].material.name == "stainless"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("variant,tube,wall\nA,mast,0.9\n", "row 2, column tube: 'mast' is not a tube"),
        ("variant,tube,wall\nA,top tube,thin\n", "row 2, column wall"),
        ("a,b\n1,2\n", "row 1: the header was not recognised"),
        ("variant,tube,wall\n", "it holds no variant"),
        ("variant,tube,wall\n,top tube,0.9\n", "the first row needs a name"),
        ("variant,tube,wall\nA,top tube,0.9\nA,top tube,0.8\n", "changes the top tube twice"),
    ],
)
def test_bad_tables_name_the_cell(tmp_path, text, words):
    path = tmp_path / "v.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=words):
        read_variants(path, tourer())


# --- compare --------------------------------------------------------------------------------------------------
def test_compare_prints_loads_and_supports_beside_the_numbers():
    code, out = droptrail("compare", SHEET, "--option", "top tube=28.6,31.8")
    assert code in (0, 1)
    assert "top tube 31.8" in out
    assert "200 N" in out
    assert "front axle on a ball" in out
    assert "Not a strength certificate" in out


def test_compare_json_has_its_keys_and_agrees_with_solve():
    _, held = as_json("compare", SHEET, "--option", "top tube=28.6,31.8")
    _, solved = as_json("solve", SHEET)
    assert set(held) >= {"source", "input_sha256", "figures", "variants", "findings", "assumed"}
    reference, wide = held["variants"]
    stiffness = solved["load_cases"]["side_push"]["stiffness"]["head_sideways"]
    stiffness = stiffness["value"] if isinstance(stiffness, dict) else stiffness
    assert reference["values"]["side_push.head_sideways"] == pytest.approx(stiffness)
    change = 100 * (wide["values"]["mass"] / reference["values"]["mass"] - 1)
    assert wide["change_percent"]["mass"] == pytest.approx(change)
    assert {f["key"] for f in held["figures"]} == set(wide["values"])


def test_compare_names_the_workshop_rules_that_a_variant_breaks():
    code, held = as_json("compare", SHEET, "--option", "top tube=28.6,31.8")
    assert code == 1
    found = [f for f in held["findings"] if f["code"] == "rule-neighbour-size"]
    assert found[0]["message"].startswith("top tube 31.8: top tube 31.8 x")
    code, held = as_json("compare", SHEET, "--option", "top tube=28.6x0.9/0.6/0.9")
    assert not [f for f in held["findings"] if f["code"].startswith("rule-")]


def evaluated(sheet, formula):
    """The value of one of our formulas, worked out from the cells: IF, OR, NOT, ABS, ISNUMBER and arithmetic."""

    def value(match):
        cell = sheet[match[0].replace("$", "")].value
        return repr(float(cell)) if isinstance(cell, int | float) else "nan"

    text = re.sub(r"\$?[A-Z]{1,3}\$?\d+", value, formula.removeprefix("="))
    known = {
        "IF": lambda test, yes, no: yes if test else no,
        "OR": lambda *a: any(a),
        "NOT": lambda a: not a,
        "ABS": abs,
        "ISNUMBER": isfinite,
        "nan": nan,
    }
    try:
        return eval(text, {"__builtins__": {}}, known)
    except ZeroDivisionError:
        return ""


def test_xlsx_percentages_are_live_formulas_with_the_right_value(tmp_path):
    from openpyxl import load_workbook

    path, other = tmp_path / "c.xlsx", tmp_path / "c.csv"
    droptrail(
        "compare",
        SHEET,
        "--option",
        "top tube=28.6,31.8",
        "--option",
        "down tube=31.8,34.9",
        "-o",
        path,
        "-o",
        other,
    )
    sheet = load_workbook(path)["compare"]
    rows = list(csv.reader(other.read_text(encoding="utf-8-sig").splitlines()))
    assert [c.value for c in sheet[1]] == rows[0]
    formulas = 0
    for k, row in enumerate(rows[1:5], start=4):
        for column, text in enumerate(row[2:], start=3):
            cell = sheet.cell(k, column).value
            percent = 1.0
            if isinstance(cell, str):
                assert cell.startswith("=IF(")
                cell, percent, formulas = evaluated(sheet, cell), 100.0, formulas + 1
            if text:
                assert percent * cell == pytest.approx(float(text), rel=1e-9, abs=1e-9)
            else:
                assert cell == ""
    shares = [heading for heading in rows[0] if heading.startswith(("change %", "% per 10 g"))]
    assert (
        len(shares) == 2 + 2 * 18
    )  # two masses; 18 measures of six cases, as the sheet states luggage
    assert formulas == 4 * len(shares)
    sheet["C6"] = sheet["C4"].value * 1.5  # a changed mass must be followed by its percentage
    assert evaluated(sheet, sheet["D6"].value) == pytest.approx(0.5)
    assert load_workbook(path)["loads and supports"]["D4"].value is not None


def test_names_cannot_become_formulas(tmp_path):
    path = tmp_path / "evil.toml"
    path.write_text('["=1+1"]\ntop_tube = "31.8"\n', encoding="utf-8")
    droptrail(
        "compare", SHEET, "--variants", path, "-o", tmp_path / "c.xlsx", "-o", tmp_path / "c.csv"
    )
    from openpyxl import load_workbook

    cell = load_workbook(tmp_path / "c.xlsx")["compare"]["A5"]
    assert (cell.value, cell.data_type) == ("'=1+1", "s")
    assert "\n'=1+1," in (tmp_path / "c.csv").read_text(encoding="utf-8-sig")


def test_compare_refuses_in_one_line(tmp_path, capsys):
    assert droptrail("compare", SHEET)[0] == 3
    assert "nothing to compare" in capsys.readouterr().err
    path = tmp_path / "there.csv"
    path.write_text("keep", encoding="utf-8")
    assert droptrail("compare", SHEET, "--option", "top tube=31.8", "-o", path)[0] == 3
    assert "--force" in capsys.readouterr().err
    assert path.read_text(encoding="utf-8") == "keep"
    assert (
        droptrail("compare", SHEET, "--option", "top tube=31.8", "-o", tmp_path / "c.doc")[0] == 3
    )


def test_plot_is_drawn_with_every_label_clear(tmp_path):
    points = [
        PlotPoint(100 + 3 * (k % 4), 50 + 2 * (k // 4), 1800 + 20 * k, f"variant {k}", k == 0)
        for k in range(12)
    ]
    plot = ComparePlot("tourer", "vertical [N/mm]", "sideways [N/mm]", points, "note")
    for ending in ("png", "svg", "pdf"):
        save_plot(plot, tmp_path / f"p.{ending}")
        assert (tmp_path / f"p.{ending}").stat().st_size > 5000
    text = (tmp_path / "p.svg").read_text(encoding="utf-8")
    assert (
        "mass of the tubes [g]" in text or text.count("<use") > 200
    )  # text may be drawn as outlines
    with pytest.raises(InputError, match=r"\.png, \.svg, \.pdf"):
        save_plot(plot, tmp_path / "p.gif")


# --- search ---------------------------------------------------------------------------------------------------
def test_search_finds_the_same_as_comparing_every_variant():
    code, found = as_json("search", SHEET, *GRID, *GOALS)
    _, compared = as_json("compare", SHEET, *GRID[:4])
    assert code in (0, 1)
    assert (found["variants"], found["seen"], found["within"], found["finished"]) == (
        12,
        12,
        12,
        True,
    )
    pushes = [v["values"]["side_push.head_sideways"] for v in compared["variants"]]
    assert found["best"][0]["values"]["side_push.head_sideways"] == pytest.approx(
        max(pushes), rel=1e-9
    )
    assert found["largest_difference_to_full_solver"] < 1e-9


def test_search_says_what_binds_and_fails_when_nothing_is_left(capsys):
    push = "side_push.head_sideways >="
    code, out = droptrail(
        "search", SHEET, *GRID, "--limit", "mass <= 100 g", "--limit", f"{push} +1%"
    )
    assert code == 1
    assert "No combination keeps all limits" in out
    assert re.search(r"mass <= 100 g +12", out)
    code, out = droptrail(
        "search", SHEET, *GRID, "--limit", f"{push} +2%", "--objective", "min mass"
    )
    assert re.search(r"head_sideways >= \+2 % .*binds", out)
    assert "The best by min mass" in out


def test_search_writes_front_and_plot(tmp_path):
    droptrail(
        "search", SHEET, *GRID, *GOALS, "-o", tmp_path / "front.csv", "-o", tmp_path / "front.svg"
    )
    rows = list(csv.reader((tmp_path / "front.csv").read_text(encoding="utf-8-sig").splitlines()))
    assert rows[1][0] == "reference"
    assert (tmp_path / "front.svg").stat().st_size > 5000


@pytest.mark.parametrize("kind", ["csv", "parquet"])
def test_store_holds_every_variant_within_the_limits(tmp_path, kind):
    if kind == "parquet":
        pytest.importorskip("pyarrow")
    folder = tmp_path / "found"
    droptrail("search", SHEET, *GRID, "--store", folder, "--chunk", "5", "--format", kind)
    parts = sorted(folder.glob(f"part-*.{kind}"))
    assert len(parts) == 3
    if kind == "csv":
        rows = [row for part in parts for row in csv.DictReader(part.open(encoding="utf-8"))]
    else:
        import pyarrow.parquet as pq

        rows = [row for part in parts for row in pq.read_table(part).to_pylist()]
    assert [int(row["variant"]) for row in rows] == list(range(12))
    assert {row["top_tube"].split(" x")[0] for row in rows} == {"27", "28.6", "30"}
    search = small_search(("top_tube",))
    assert set(rows[0]) >= {"variant", "down_tube", *(f.key for f in search.figures)}


def test_resume_goes_on_where_it_stopped_and_refuses_other_inputs(tmp_path, capsys):
    folder = tmp_path / "found"
    words = (
        "search",
        SHEET,
        *GRID,
        "--objective",
        "max side_push.head_sideways",
        "--store",
        folder,
        "--chunk",
        "4",
        "--format",
        "csv",
    )
    _, whole = as_json(*words)
    (folder / "chunk-000001.npz").unlink()  # as if it had been stopped before this chunk
    before = {p.name: p.stat().st_mtime_ns for p in folder.iterdir()}
    _, again = as_json(*words, "--resume")
    after = {p.name: p.stat().st_mtime_ns for p in folder.iterdir()}
    assert again["best"] == whole["best"]
    assert (again["seen"], again["front"]) == (12, whole["front"])
    assert {name for name in after if before.get(name) != after[name]} == {
        "chunk-000001.npz",
        "part-000001.csv",
    }
    assert droptrail(*words)[0] == 3
    assert "add --resume" in capsys.readouterr().err
    assert droptrail(*words, "--resume", "--set", "side_push=250")[0] == 3
    assert "other inputs" in capsys.readouterr().err
    (folder / "chunk-000000.npz").write_bytes(b"not a summary")
    assert droptrail(*words, "--resume")[0] == 3
    assert "delete the file and resume" in capsys.readouterr().err


def test_without_pyarrow_the_store_is_csv_and_parquet_is_refused(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(
        "droptrail.converters.files.choice.search_store.find_spec", lambda name: None
    )
    droptrail("search", SHEET, *GRID, "--store", tmp_path / "found")
    assert list((tmp_path / "found").glob("part-*.csv"))
    assert (
        droptrail("search", SHEET, *GRID, "--store", tmp_path / "other", "--format", "parquet")[0]
        == 3
    )
    assert "pip install pyarrow" in capsys.readouterr().err


def test_a_foreign_folder_is_left_alone(tmp_path, capsys):
    (tmp_path / "letters.txt").write_text("keep", encoding="utf-8")
    assert droptrail("search", SHEET, *GRID, "--store", tmp_path)[0] == 3
    assert "holds no search" in capsys.readouterr().err
    assert [p.name for p in tmp_path.iterdir()] == ["letters.txt"]


def test_ideal_sizes_and_frequencies_of_the_front():
    words = (
        "search",
        SHEET,
        *GRID,
        "--limit",
        "side_push.head_sideways >= +1%",
        "--objective",
        "min mass",
        "--objective",
        "max side_push.head_sideways",
    )
    # a limit in the middle of the front, so that some keep it and some do not
    _, first = as_json(*words, "--modes", "2")
    ratios = [
        v["values"]["mode_1"] / first["modes"]["reference"]["mode_1"]
        for v in first["modes"]["variants"]
    ]
    percent = round(50 * (min(ratios) + max(ratios)) - 100, 2)
    limit = f"mode_1 >= {percent:+}%"
    _, found = as_json(*words, "--ideal", "--modes", "2", "--limit", limit)
    ideal, modes = found["ideal"], found["modes"]
    assert ideal["limits_kept"]
    assert ideal["values"]["mass"] <= found["best"][0]["values"]["mass"] + 1e-6
    assert set(ideal["nearest"]) == {"top_tube", "down_tube"}
    assert modes["variants"][0]["variant"] == found["best"][0]["variant"]
    reference = modes["reference"]["mode_1"]
    kept = [v["keeps_limits"] for v in modes["variants"]]
    assert kept == [
        v["values"]["mode_1"] >= (1 + percent / 100) * reference for v in modes["variants"]
    ]
    assert {True, False} == set(kept)
    _, out = droptrail(*words, "--ideal", "--modes", "2")
    assert "A guide, not a choice" in out
    assert "for the Pareto front only" in out


def test_a_limit_on_a_mode_needs_modes(capsys):
    assert droptrail("search", SHEET, *GRID, "--limit", "mode_1 >= 3 Hz")[0] == 2
    assert "needs --modes" in capsys.readouterr().err


LARGE = tuple(
    w
    for tube in ("top tube", "down tube", "seat tube")
    for w in ("--option", f"{tube}={','.join(f'{28 + 0.05 * k:.2f}x0.9' for k in range(60))}")
)
CHUNKS = -(-(60**3) // 7200)


def _interrupted(folder, words) -> tuple[int, str, int]:
    """A search stopped by Ctrl-C after its first chunk: exit code, standard error, finished chunks."""
    command = [sys.executable, "-m", "droptrail.cli.main", *words, "--store", str(folder)]
    heard = partial(
        signal.signal, signal.SIGINT, signal.SIG_DFL
    )  # a test run in the background is deaf to Ctrl-C
    with subprocess.Popen(
        command,
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=heard,
    ) as process:
        deadline = time.monotonic() + 60
        while not list(folder.glob("chunk-*.npz")) and time.monotonic() < deadline:
            time.sleep(0.005)
        process.send_signal(signal.SIGINT)
        _, errors = process.communicate(timeout=60)
    return process.returncode, errors, len(list(folder.glob("chunk-*.npz")))


@pytest.mark.slow
def test_interrupted_then_resumed_equals_one_run(tmp_path):
    """Ctrl-C in a real process: what is finished stays, resume does the rest, the result is the same."""
    words = [
        "search",
        SHEET,
        *LARGE,
        "--no-rules",
        "--chunk",
        "7200",
        "--limit",
        "side_push.head_sideways >= +5%",
        "--objective",
        "min mass",
    ]
    for attempt in range(
        6
    ):  # on a busy machine the search may be through before this process gets its turn
        folder = tmp_path / f"found{attempt}"
        code, errors, done = _interrupted(folder, words)
        if done < CHUNKS:
            break
    assert 1 <= done < CHUNKS
    assert code == 1
    assert "go on with --resume" in errors
    assert "Traceback" not in errors
    _, resumed = as_json(*words, "--store", folder, "--resume")
    _, straight = as_json(*words)
    for key in ("seen", "within", "best", "front", "limits"):
        assert resumed[key] == straight[key]


@pytest.mark.slow
def test_two_processes_give_the_same():
    words = ("search", SHEET, *GRID, "--chunk", "4", "--objective", "min mass")
    assert as_json(*words, "--jobs", "2")[1] == as_json(*words)[1]


@pytest.mark.slow
def test_dask_cluster_with_a_worker_killed_loses_nothing(tmp_path):
    """Two real worker processes; one is killed while chunks are under way."""
    distributed = pytest.importorskip("distributed")
    search = small_search(diameters=np.linspace(-2, 2, 40))
    expected = {r.number: r.summary.within for r in run(search, chunk=4000)}
    with distributed.LocalCluster(
        2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as cluster:
        from droptrail.converters.files.choice.executors import executor

        with executor(scheduler=cluster.scheduler_address) as pool:
            store = open_store(tmp_path / "found", search, 4000)
            got, victim = {}, 0
            for result in run(search, pool, chunk=4000, ahead=6):
                store.add(result)
                got[result.number] = result.summary.within
                if not victim:
                    victim = next(iter(cluster.workers.values())).process.process.pid
                    os.kill(victim, signal.SIGKILL)
            with pytest.raises(ProcessLookupError):
                os.kill(victim, 0)
    assert got == expected
    assert len(list((tmp_path / "found").glob("chunk-*.npz"))) == len(expected) == 16


def test_no_scheduler_is_said_plainly(capsys):
    pytest.importorskip("distributed")
    from droptrail.converters.files.choice.executors import executor

    with (
        pytest.raises(InputError, match="no Dask scheduler answers"),
        executor(scheduler="nonsense://nowhere:1"),
    ):
        pass


# --- doubts about tables -------------------------------------------------------------------------------------
UNITS = (
    "variant;tube;outside diameter [mm];wall (mm);butts [cm]\nwide;Oberrohr;31,8;0,9/0,6/0,9;8/8\n"
)


def written(folder, text, name="v.csv"):
    path = folder / name
    path.write_bytes(text.encode("cp1252"))
    return path


def test_units_in_the_headers_of_variants_are_understood(tmp_path):
    found = []
    (wide,) = read_variants(written(tmp_path, UNITS), tourer(), found)
    assert (wide.tubes["top_tube"].label, wide.tubes["top_tube"].butts) == (
        "31.8 x 0.9/0.6/0.9",
        (80.0, 80.0),
    )
    assert found == []


@pytest.mark.parametrize(
    ("column", "hint"), [("wal", "did you mean 'wall'?"), ("thick", "known: ")]
)
def test_a_column_that_is_not_known_is_a_warning(tmp_path, column, hint):
    """Left out in silence it kept the present wall, and the change was +0.0 %."""
    table = written(tmp_path, f"variant,tube,{column}\nthin,top tube,0.5\n")
    found = []
    read_variants(table, tourer(), found)
    assert [(f.code, f.severity, f.where) for f in found] == [
        ("sheet-unknown-column", "warning", "v.csv, row 1")
    ]
    assert hint in found[0].message
    code, out = droptrail("compare", SHEET, "--variants", str(table))
    assert code == 1
    assert f"column '{column}' is not known" in " ".join(out.split())


def test_what_is_guessed_about_a_variants_file_is_told(tmp_path):
    found = []
    read_variants(
        written(tmp_path, "variant,tube,wall\nDünn,top tube,0.5/0.4/0.5\n"), tourer(), found
    )
    assert [f.code for f in found] == ["sheet-encoding"]


def test_a_quotation_mark_left_open_is_refused_in_every_table(tmp_path):
    for name, read_it in (
        ("v.csv", lambda path: read_variants(path, tourer())),
        ("c.csv", lambda path: choices(["top_tube=catalogue"], tourer(), path)),
    ):
        head = (
            "variant,tube,wall\n"
            if name == "v.csv"
            else "name,outside diameter,wall,use,material\n"
        )
        with pytest.raises(InputError, match=r"line \d+: not readable as CSV .*quotation mark"):
            read_it(written(tmp_path, head + 'A,"top tube,0.5\nB,down tube,0.6\n', name))


def test_a_catalogue_is_read_once_and_its_doubts_are_passed_on(tmp_path, monkeypatch):
    from droptrail.converters.files.choice import catalogue

    path = written(
        tmp_path,
        "name,outside diameter,wall,use,material,butst\n"
        "thin,28.6,0.8,top tube,4130,80/80\nwide,31.8,0.9,top tube,4130,80/80\n",
        "c.csv",
    )
    read = []
    monkeypatch.setattr(catalogue, "file_bytes", lambda p: read.append(p) or p.read_bytes())
    found = []
    held = choices(["top_tube=catalogue", "top_tube=thin", "top_tube=wide"], tourer(), path, found)
    assert len(held["top_tube"]) == 2
    assert read == [path]
    assert [f.code for f in found] == ["sheet-unknown-column"]
    assert "did you mean 'butts'" in found[0].message
    _, out = droptrail("compare", SHEET, "--option", "top_tube=catalogue", "--catalogue", str(path))
    assert "'butst' is not known" in " ".join(out.split())


# --- variants of any item ----------------------------------------------------------------------------------------
ITEMS = """variant,item,value
long fork,fork offset,55
,Radstand,1060
heavy,rider mass,110 kg
"""
MIXED = """variant,tube,outside diameter,item,value
both,top tube,31.8,fork offset,45
tube alone,down tube,34.9,,
"""
TOML_ITEMS = """["long fork"]
fork_offset = 55
wheelbase = "1060 mm"
["both"]
top_tube = "31.8"
fork_offset = 45
"""


def file_of(tmp_path, name, text):
    (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path / name


@pytest.mark.parametrize(("name", "text"), [("v.csv", ITEMS), ("v.toml", TOML_ITEMS)])
def test_a_variants_table_varies_any_item(tmp_path, name, text):
    bicycle = tourer()
    first = read_variants(file_of(tmp_path, name, text), bicycle)[0]
    made = first.of(bicycle)
    assert made.dimensions.fork_offset == 55
    assert made.dimensions.derived()["wheelbase"] == pytest.approx(1060)
    assert "fork offset 55 mm" in first.changes


def test_tubes_and_items_in_one_table(tmp_path):
    bicycle = tourer()
    both, alone = read_variants(file_of(tmp_path, "v.csv", MIXED), bicycle)
    assert both.of(bicycle).tubes["top_tube"].od_start == 31.8
    assert both.of(bicycle).dimensions.fork_offset == 45
    assert alone.of(bicycle).dimensions == bicycle.dimensions
    assert alone.of(bicycle).tubes["down_tube"].od_start == 34.9


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("variant,item,value\na,spokes,32\n", "row 2.*spokes"),
        ("variant,item,value\na,fork offset,abc\n", "row 2.*abc"),
        ("variant,item,value\na,head angle,7\n", "variant a: head angle is 7"),
        ("variant,item\na,fork offset\n", "header"),
    ],
)
def test_an_item_that_cannot_be_is_named_with_its_row(tmp_path, text, words):
    with pytest.raises(InputError, match=words):
        read_variants(file_of(tmp_path, "v.csv", text), tourer())


def test_compare_takes_the_table(tmp_path, capsys):
    path = file_of(tmp_path, "v.csv", ITEMS)
    sheet = str(ROOT / "sample_drawings" / "tourer_700c.csv")
    assert main(["compare", sheet, "--variants", str(path), "--case", "side_push", "--json"]) in (
        0,
        1,
    )
    told = json.loads(capsys.readouterr().out)
    assert [row["name"] for row in told["variants"]][-2:] == ["long fork", "heavy"]
